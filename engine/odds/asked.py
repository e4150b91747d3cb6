"""A question as people put it: some fields by hand, some left to a build or a creature; and the way to a `Question`."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, Literal

from engine.odds.attack import Attack
from engine.odds.check import Check
from engine.odds.concentration import Concentration, hits_of
from engine.odds.contest import Contest
from engine.odds.d20 import D20
from engine.odds.death import DeathSaves
from engine.odds.dice import DiceTotal
from engine.odds.fell import Creature, Fell
from engine.odds.group import Group
from engine.odds.questions import Question
from engine.odds.save import Save
from engine.odds.scores import Need, Scores, needs_of
from engine.odds.written import creatures_of, members_of
from engine.problem import Refused

Kind = Literal[
    "check", "save", "attack", "contest", "group", "fell", "concentration", "death", "scores", "dice"
]  # fmt: skip
KINDS: Final[tuple[Kind, ...]] = (
    "check", "save", "attack", "contest", "group", "fell", "concentration", "death", "scores", "dice"
)  # fmt: skip
ROLL: Final = ("bonus", "advantage", "disadvantage", "lowest", "reroll_ones", "plus", "minus")
"""The fields of a d20 roll; the other side of a contest has them too, each with `other_` before it."""

_TAKEN = ("resistance", "vulnerability", "immunity")
FIELDS: Final[Mapping[Kind, tuple[str, ...]]] = {
    "check": (*ROLL, "dc"),
    "save": (*ROLL, "dc", "damage", "half", "evasion", "targets", *_TAKEN),
    "attack": (
        *ROLL, "ac", "damage", "attacks", "critical_from", "critical_dice", "once_per_turn", "pool", "pool_when",
        "pool_per_round", "pool_uses", *_TAKEN, "hit_points", "rounds",
    ),
    "contest": (*ROLL, *(f"other_{name}" for name in ROLL), "ties"),
    "group": ("dc", "members", "needed"),
    "fell": ("dice", "creatures"),
    "concentration": (*ROLL, "hits"),
    "death": (*ROLL, "successes", "failures", "hit", "hit_points", "temporary", "maximum"),
    "scores": ("needs", "method", "count"),
    "dice": ("dice", "at_least"),
}  # fmt: skip
"""The fields that each kind of question knows."""

_MISSING: Final[Mapping[Kind, Mapping[str, str]]] = {
    "check": {"dc": "The DC is missing; give one, or a creature whose passive Perception is the DC."},
    "save": {"dc": "The save DC is missing; give one, or a build and one of its spells."},
    "attack": {
        "ac": "The armor class is missing; give one, or a creature that has it.",
        "damage": "The damage of a hit is missing; give dice such as 1d8+4, or a build and one of its attacks.",
    },
    "contest": {},
    "group": {
        "dc": "The DC is missing; give one, or a creature whose passive Perception is the DC.",
        "members": "The members are missing; give their bonuses, such as 5, 3 with advantage, -1.",
    },
    "fell": {
        "dice": "The dice of the total are missing; give them, such as 5d8, or a spell that has them, such as Sleep.",
        "creatures": "The creatures are missing; give their hit points, such as goblin 7, goblin 7, ogre 59.",
    },
    "concentration": {"hits": "The hits are missing; give their damage, such as 22, or 3 hits of 2d6+3."},
    "death": {},
    "scores": {
        "needs": "The minimums are missing; give them, such as dex 13, wis 13, or a build with several classes."
    },
    "dice": {"dice": "The dice are missing; give them, such as 4d6 drop lowest."},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """Which number of a build a roll takes: its kind and its name as people write it (`skill`, `Stealth`)."""

    kind: Literal["skill", "save", "attack", "spell"]
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A question as it was put.

    kind: which one. fields: what was given by hand; it goes before anything that a build or creature brings.
    label: its short name in a comparison. builds: name, number or file of each build, as the front end knows it; only
    a group takes more than one. level: of the build, None for its last. states: names of states switched on. use: the
    number of the build that is rolled. slot: level of the slot of a spell, None for the lowest. creature: name of the
    target or opponent. ability: the save that the creature makes. versus: the creature's skill in a contest.
    """

    kind: Kind
    fields: Mapping[str, Any] = field(default_factory=dict)
    label: str = ""
    builds: tuple[str, ...] = ()
    level: int | None = None
    states: tuple[str, ...] = ()
    use: Use | None = None
    slot: int | None = None
    creature: str | None = None
    ability: str | None = None
    versus: str | None = None


def question_of(kind: Kind, fields: Mapping[str, Any]) -> Question | Refused:
    """Return the question of a kind with these fields; those not given keep their usual value.

    fields: names are those of `FIELDS[kind]`. Lists may come as people write them: `hits`, `needs`, `members`,
    `creatures`. Refused: a field without which there is no question is missing, or a list cannot be read.
    """
    for name, sentence in _MISSING[kind].items():
        if fields.get(name) in (None, "", ()):
            return Refused("missing", sentence)
    known = {name: fields[name] for name in FIELDS[kind] if fields.get(name) is not None}
    for name, read in _LISTS.items():
        if isinstance(known.get(name), str):
            value = read(known[name])
            if isinstance(value, Refused):
                return value
            known[name] = value
    return _make(kind, known)


_LISTS: Final[Mapping[str, Callable[[str], Any]]] = {
    "hits": hits_of,
    "needs": needs_of,
    "members": members_of,
    "creatures": creatures_of,
}


def _make(kind: Kind, known: dict[str, Any]) -> Question | Refused:
    match kind:
        case "check":
            return Check(**known)
        case "save":
            return Save(**known)
        case "attack":
            return Attack(**known)
        case "contest":
            other = {name: known.pop(f"other_{name}") for name in ROLL if f"other_{name}" in known}
            ties = known.pop("ties", "nobody")
            return Contest(active=D20(**known), other=D20(**other), ties=ties)
        case "group":
            members: tuple[D20, ...] = known.pop("members")
            return Group(members=members, **known)
        case "fell":
            creatures: tuple[Creature, ...] = known.pop("creatures")
            return Fell(creatures=creatures, **known)
        case "concentration":
            return Concentration(**known)
        case "death":
            return DeathSaves(**known)
        case "scores":
            needs: tuple[Need, ...] = known.pop("needs")
            return Scores(needs=needs, **known)
        case "dice":
            return DiceTotal(**known)
