"""The arguments of `buildmoot odds`, one subcommand a question; the same words read a question out of one line of text.

Every subcommand needs only standard modules here, so that the other file commands stay quick.
"""

from __future__ import annotations

import argparse
import re
import shlex
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, Final, NoReturn

if TYPE_CHECKING:
    from engine.odds.asked import Asked
    from engine.problem import Refused

MAX_LINE: Final = 600
_DICE = re.compile(r"^-\s*\(?\d*d?\d")
_LABEL = re.compile(r"\s*(?P<label>[^=]{1,40}?)\s*=\s*(?P<rest>[a-z]+\b(?!\s*=).*)", re.DOTALL)


class _Given(argparse.ArgumentParser):
    """A parser that lets values begin with a minus: `--bonus -1`, `--damage -1d4+3`."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.argument_default = argparse.SUPPRESS  # only what was given is in the result
        self._negative_number_matcher = _DICE

    def error(self, message: str) -> NoReturn:
        """Print one sentence and leave with 2."""
        self.exit(2, f"{self.prog}: {message}; see `{self.prog} --help`\n")


class _Unreadable(Exception):
    """What is wrong with a question in one line."""


class _Line(_Given):
    """The same parser for one line of text: its errors are raised, and it prints nothing."""

    def error(self, message: str) -> NoReturn:
        raise _Unreadable(message)

    def exit(self, status: int = 0, message: str | None = None) -> NoReturn:
        raise _Unreadable(message or "this asks for help")


def add_odds(parser: argparse.ArgumentParser) -> None:
    """Add one subcommand for each question to the parser of `buildmoot odds`."""
    questions = parser.add_subparsers(dest="question", metavar="QUESTION", required=True, parser_class=_Given)
    for name, (help_, arguments) in QUESTIONS.items():
        sub = questions.add_parser(name, help=help_, description=help_)
        arguments(sub)
        _front(sub)
    compare = questions.add_parser(
        "compare", help="two to four questions side by side", description="two to four questions side by side"
    )
    compare.add_argument(
        "asked",
        nargs="+",
        metavar="QUESTION",
        help="a question in quotes, such as 'Rapier = attack --bonus 7 --ac 15 --damage 1d8+4'",
    )
    _front(compare)


def asked_of(args: argparse.Namespace) -> Asked:
    """Return the question that parsed arguments put; `question` is not `compare`."""
    from engine.odds.asked import FIELDS, Asked, Use

    given = vars(args)
    kind = given["question"]
    use = next(
        (Use(kind=k, name=given[f"use_{k}"]) for k in ("skill", "save", "attack", "spell") if f"use_{k}" in given), None
    )
    return Asked(
        kind=kind,
        fields={name: given[name] for name in FIELDS[kind] if name in given},
        builds=tuple(given.get("builds", ())),
        level=given.get("level"),
        states=tuple(given.get("states", ())),
        use=use,
        slot=given.get("slot"),
        creature=given.get("creature"),
        ability=given.get("ability"),
        versus=given.get("versus"),
    )


def read_line(text: str) -> Asked | Refused:
    """Return the question in one line: `check bonus 7 dc 15 advantage`, `Rapier = attack --bonus 7 --ac 15 ...`.

    Names may be written `--bonus 7`, `bonus:7` or `bonus 7`; what holds blanks stands in quotes. A label may stand
    before an equals sign.
    """
    from dataclasses import replace

    from engine.problem import Refused

    if len(text) > MAX_LINE:
        return Refused("odds-line", f"The question has {len(text)} characters; write it with at most {MAX_LINE}.")
    labelled = _LABEL.fullmatch(text)
    label, rest = (labelled["label"].strip(), labelled["rest"]) if labelled else ("", text)
    try:
        words = shlex.split(rest)
    except ValueError:
        return Refused("odds-line", f"A quotation mark in “{text.strip()}” is not closed.")
    kind = words[0].lower() if words else ""
    if kind not in QUESTIONS:
        return Refused(
            "odds-line",
            f"“{text.strip()[:60]}” names no question; begin with one of {', '.join(QUESTIONS)},"
            " such as: check bonus 7 dc 15",
        )
    parser = _Line(prog=kind, add_help=False)
    QUESTIONS[kind][1](parser)
    _front(parser)
    try:
        args = parser.parse_args(_spelled(words[1:], parser))
    except _Unreadable as error:
        return Refused("odds-line", f"“{text.strip()[:60]}”: {error}.")
    args.question = kind
    return replace(asked_of(args), label=label)


def _spelled(words: Sequence[str], parser: argparse.ArgumentParser) -> list[str]:
    """Return the words with names made options: `bonus:7` and `bonus 7` become `--bonus=7` and `--bonus 7`."""
    known = {option.removeprefix("--") for action in parser._actions for option in action.option_strings}
    spelled = []
    for word in words:
        name, colon, value = word.partition(":")
        name = name.lower().replace("_", "-")
        if colon and name in known:
            # A flag takes no value, so "advantage:yes" is the flag and "advantage:no" is nothing.
            if value.lower() in ("yes", "true", "on"):
                spelled.append(f"--{name}")
            elif value.lower() not in ("no", "false", "off"):
                spelled += [f"--{name}", value]
        elif word.lower().replace("_", "-") in known:
            spelled.append(f"--{name}")
        else:
            spelled.append(word)
    return spelled


def _front(sub: argparse.ArgumentParser) -> None:
    """Add what every question has: the form of the output and where numbers come from."""
    sub.add_argument("--json", action="store_true", default=False, help="print one JSON document")
    sub.add_argument("--folio", action="append", default=[], metavar="FOLDER", help="add a folio (repeatable)")


def _source(sub: argparse.ArgumentParser, *uses: str, creature: str = "") -> None:
    """Add a build as the source of numbers, and a creature as their target."""
    more = " (repeatable)" if "members" in {action.dest for action in sub._actions} else ""
    sub.add_argument(
        "--build", dest="builds", action="append", metavar="FILE", help=f"outline of a build that brings numbers{more}"
    )
    sub.add_argument("--level", type=int, metavar="N", help="its level; without it the last")
    sub.add_argument("--while", dest="states", action="append", metavar="STATE", help="switch a state on (repeatable)")
    told = {
        "skill": "skill, ability, tool or initiative that is rolled",
        "save": "saving throw that is rolled, such as dex",
        "attack": "attack that is made, such as Rapier",
        "spell": "spell that is cast: its DC, dice and half",
    }
    for use in uses:
        sub.add_argument(f"--{use}", dest=f"use_{use}", metavar="NAME", help=told[use])
    if creature:
        sub.add_argument("--creature", metavar="NAME", help=creature)


def _roll(sub: argparse.ArgumentParser, before: str = "") -> None:
    """Add the options of a d20 roll; `before` stands before the names of the other side's."""
    field = before.replace("-", "_")

    def add(name: str, **options: Any) -> None:
        sub.add_argument(f"--{before}{name}", dest=field + name.replace("-", "_"), **options)

    add("bonus", type=int, metavar="B", help="added to the die")
    add("advantage", action="store_true", help="two dice, the higher counts")
    add("disadvantage", action="store_true", help="two dice, the lower counts")
    add("lowest", type=int, metavar="N", help="faces below N count as N")
    add("reroll-ones", action="store_true", help="a 1 is rolled once more")
    add("plus", metavar="DICE", help="dice that are added, such as 1d4")
    add("minus", metavar="DICE", help="dice that are taken off")


def _taken(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--resistance", action="store_true", help="the target takes half")
    sub.add_argument("--vulnerability", action="store_true", help="the target takes double")
    sub.add_argument("--immunity", action="store_true", help="the target takes nothing")


def _check(sub: argparse.ArgumentParser) -> None:
    _roll(sub)
    sub.add_argument("--dc", type=int, metavar="D", help="difficulty class")
    _source(sub, "skill", "save", creature="its passive Perception is the DC")


def _dice(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("dice", metavar="DICE", help="such as '4d6 drop lowest' or '2d6+3'")
    sub.add_argument("--at-least", type=int, metavar="N", help="also the chance of this total or more")


def _attack(sub: argparse.ArgumentParser) -> None:
    _roll(sub)
    sub.add_argument("--ac", type=int, metavar="A", help="armor class of the target")
    sub.add_argument("--damage", metavar="DICE", help="damage of one hit, such as 1d8+4")
    sub.add_argument("--attacks", type=int, metavar="N", help="attacks a round")
    sub.add_argument("--critical-from", type=int, metavar="N", help="lowest face that is a critical")
    sub.add_argument("--critical-dice", metavar="DICE", help="more dice on a critical, as they stand")
    sub.add_argument("--once-per-turn", metavar="DICE", help="more dice on the first hit of a round")
    sub.add_argument("--pool", metavar="DICE", help="dice that one use of a pool adds to a hit, or its name")
    sub.add_argument("--pool-when", choices=["hit", "critical"], help="spend the pool on hits or on criticals")
    sub.add_argument("--pool-per-round", type=int, metavar="N", help="uses of the pool a round")
    sub.add_argument("--pool-uses", type=int, metavar="N", help="uses of the pool in all")
    _taken(sub)
    sub.add_argument("--hit-points", type=int, metavar="N", help="of the creature to bring down")
    sub.add_argument("--rounds", type=int, metavar="N", help="for how many rounds that is told")
    _source(sub, "attack", creature="its armor class, hit points and defenses")
    sub.add_argument("--slot", type=int, metavar="N", help="level of the slots that a pool such as a smite spends")


def _save(sub: argparse.ArgumentParser) -> None:
    _roll(sub)
    sub.add_argument("--dc", type=int, metavar="D", help="save DC")
    sub.add_argument("--damage", metavar="DICE", help="damage of a failed save, such as 8d6")
    sub.add_argument("--half", action="store_true", help="half damage on a save")
    sub.add_argument("--evasion", action="store_true", help="none on a save, half on a failure")
    sub.add_argument("--targets", type=int, metavar="N", help="how many save")
    _taken(sub)
    _source(sub, "save", "spell", creature="its saving throw and defenses")
    sub.add_argument("--slot", type=int, metavar="N", help="level of the slot that the spell is cast from")
    sub.add_argument("--ability", metavar="NAME", help="ability of the save, where no spell says it")


def _scores(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--needs", metavar="LIST", help="minimums, such as 'dex 13, wis 13'")
    sub.add_argument("--method", metavar="DICE", help="dice of one score (without it 4d6 drop lowest)")
    sub.add_argument("--count", type=int, metavar="N", help="how many scores are rolled (without it 6)")
    _source(sub)


def _contest(sub: argparse.ArgumentParser) -> None:
    _roll(sub)
    _roll(sub, "other-")
    sub.add_argument("--ties", choices=["nobody", "active", "other"], help="who wins a tie")
    _source(sub, "skill", creature="its bonus is the other side's")
    sub.add_argument("--versus", metavar="NAME", help="skill or ability of the creature")


def _group(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--dc", type=int, metavar="D", help="difficulty class")
    sub.add_argument("--members", metavar="LIST", help="bonuses, such as '5, 3 with advantage, -1'")
    sub.add_argument("--needed", type=int, metavar="N", help="how many must succeed (without it half)")
    _source(sub, "skill", "save", creature="its passive Perception is the DC")


def _fell(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--dice", metavar="DICE", help="dice of the total, such as 5d8")
    sub.add_argument("--creatures", metavar="LIST", help="hit points, such as 'goblin 7, goblin 7, ogre 59'")
    _source(sub)
    sub.add_argument("--spell", dest="use_spell", metavar="NAME", help="spell whose dice they are, such as Sleep")
    sub.add_argument("--slot", type=int, metavar="N", help="level of the slot that the spell is cast from")
    sub.add_argument("--creature", metavar="NAMES", help="creatures by name, such as '3 goblin, ogre'")


def _concentration(sub: argparse.ArgumentParser) -> None:
    _roll(sub)
    sub.add_argument("--hits", metavar="LIST", help="damage, such as '22, 9' or '3 hits of 2d6+3'")
    _source(sub, creature="its Constitution save")


def _death(sub: argparse.ArgumentParser) -> None:
    _roll(sub)
    sub.add_argument("--successes", type=int, metavar="N", help="already made, 0 to 2")
    sub.add_argument("--failures", type=int, metavar="N", help="already made, 0 to 2")
    sub.add_argument("--hit", metavar="DICE", help="damage of a hit that comes first; needs a maximum")
    sub.add_argument("--maximum", type=int, metavar="N", help="hit point maximum of who is hit")
    sub.add_argument("--hit-points", type=int, metavar="N", help="what is left of them; all if left out")
    sub.add_argument("--temporary", type=int, metavar="N", help="temporary hit points on top")
    _source(sub)


QUESTIONS: Final[dict[str, tuple[str, Callable[[argparse.ArgumentParser], None]]]] = {
    "check": ("chance that a check or save reaches a DC", _check),
    "dice": ("mean, deviation and chances of any dice", _dice),
    "attack": ("hits, criticals and damage against an armor class", _attack),
    "save": ("who fails a saving throw, and the damage", _save),
    "scores": ("chance that rolled scores meet minimums", _scores),
    "contest": ("who wins a contest of two rolls", _contest),
    "group": ("chance that half of a group succeeds", _group),
    "fell": ("how many creatures a total of hit points takes", _fell),
    "concentration": ("chance to hold concentration through hits", _concentration),
    "death": ("death saving throws: chance to live", _death),
}
