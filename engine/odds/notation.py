"""Dice notation as tables write it: `2d6+3`, `4d6 drop lowest`, `d20 with advantage`, `8d6 half`.

What is written is read by a grammar into a small tree, and the size and the work of its distribution are
bounded before any of it is computed. Words, not letters, say what happens to dice, and they are read from
left to right:

- `drop lowest`, `drop highest 2`, `keep highest 3`, `keep 2 lowest` and `reroll 1`, `reroll 2 or lower` stand
right after dice;
- `half` (rounded down), `double`, `with advantage` and `with disadvantage` take in all that stands before
them, up to an
  opening parenthesis: `8d6 + 5 half` is half of the total, `8d6 + (5d8 half)` halves the eights alone.
  Advantage rolls the one single die that stands there twice.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from engine.odds import counts as exact
from engine.odds.distribution import Distribution
from engine.problem import Refused

if TYPE_CHECKING:
    from lark import Lark

MAX_TEXT = 200
MAX_DICE = 1000
MAX_SIDES = 1000
MAX_TERMS = 20
MAX_NUMBER = 100_000
MAX_WIDTH = 20_000
MAX_WORK = 120.0
"""Estimated work of one expression, in sums of 1000d6 by numpy. The promise is 500; the estimate may err by three."""

UNIT = 150.0
"""Microseconds that numpy takes for the sum of 1000d6, by Fourier transform; only the ratio matters."""

GRAMMAR = r"""
    start: sum
    ?sum: term
        | ("+" | "plus") term
        | ("-" | "minus") term                              -> negative
        | sum ("+" | "plus") term                           -> add
        | sum ("-" | "minus") term                          -> subtract
        | sum _HALF                                         -> half
        | sum "double"                                      -> double
        | sum "with" "advantage"                            -> advantage
        | sum "with" "disadvantage"                         -> disadvantage
    ?term: NUMBER                                           -> number
        | dice
        | "(" sum ")"
    ?dice: "d" NUMBER                                       -> one_die
        | NUMBER "d" NUMBER                                 -> dice
        | dice [","] KEEP ["the"] END [NUMBER] [_DIE]       -> keep
        | dice [","] KEEP ["the"] NUMBER END [_DIE]         -> keep_number
        | dice [","] "reroll" NUMBER ("once")?              -> reroll
        | dice [","] "reroll" NUMBER ("or" | "and") NUMBER ("once")?     -> reroll_two
        | dice [","] "reroll" NUMBER "or" _LOWER ("once")?  -> reroll_lower
    KEEP: "keep" | "drop"
    END: "lowest" | "highest"
    _HALF: "halved" | "half"
    _LOWER: "lower" | "less"
    _DIE: "dice" | "die"
    NUMBER: /[0-9]+/
    %ignore /\s+/
"""

WORDS = (
    "advantage",
    "and",
    "dice",
    "die",
    "disadvantage",
    "double",
    "drop",
    "half",
    "halved",
    "highest",
    "keep",
    "less",
    "lower",
    "lowest",
    "minus",
    "once",
    "or",
    "plus",
    "reroll",
    "the",
    "with",
)

EXAMPLES = "2d6+3, 4d6 drop lowest, 3d6 keep highest 2, d20 with advantage or 8d6 half"

# Signs that keyboards and other programs put in the place of a hyphen.
_MINUS = dict.fromkeys(map(ord, "\u2010\u2011\u2012\u2013\u2014\u2212\ufe63\uff0d"), "-")


@dataclass(frozen=True, slots=True)
class Number:
    """A fixed number; never negative, since a sign belongs to the sum it stands in."""

    value: int


@dataclass(frozen=True, slots=True)
class Dice:
    """Some equal dice, of which `keep` are added up.

    keep: how many count, `count` for all of them; highest: whether those are the highest; reroll: faces that
    are rolled once more. twice: 1 = one die rolled twice and the higher face taken (advantage), -1 = the
    lower (disadvantage), 0 = neither.
    """

    count: int
    sides: int
    keep: int
    highest: bool = True
    reroll: tuple[int, ...] = ()
    twice: int = 0

    @property
    def plain(self) -> bool:
        """Whether every die counts as it falls."""
        return self.keep == self.count and not self.reroll and not self.twice


@dataclass(frozen=True, slots=True)
class Sum:
    """Independent parts that are added (sign 1) or taken away (sign -1)."""

    parts: tuple[tuple[int, Node], ...]


@dataclass(frozen=True, slots=True)
class Changed:
    """A total that is doubled, or halved and rounded down."""

    inner: Node
    double: bool


Node = Number | Dice | Sum | Changed


@dataclass(frozen=True, slots=True)
class Size:
    """Bounds known before any work: lowest and highest total, and work in sums of 1000d6."""

    low: int
    high: int
    work: float

    @property
    def width(self) -> int:
        return self.high - self.low + 1


@dataclass(frozen=True, slots=True)
class Expression:
    """Dice notation that was read and is small enough to be worked out.

    node: the tree; size: its bounds. `str` gives it back in one plain spelling, which `parse` reads as the
    same tree.
    """

    node: Node
    size: Size

    def distribution(self) -> Distribution:
        """Return the exact distribution of the total."""
        return _distribution(self.node)

    def critical(self) -> Expression | Refused:
        """Return the expression with every die rolled twice and fixed numbers left alone.

        Dice of which some are kept, and those that are rolled again, are rolled twice as a whole.
        Source: SRD 5.1, Combat, Critical Hits.
        """
        return _bounded(_doubled_dice(self.node))

    @property
    def fixed(self) -> bool:
        """Whether there is no die in it."""
        return not any(isinstance(node, Dice) for node in walk(self.node))

    def __str__(self) -> str:
        return _text(self.node)


def parse(text: str) -> Expression | Refused:
    """Return what a dice notation means, or in one sentence why it is not one or is too large.

    Case, spaces and the kind of minus sign do not matter. Limits: `MAX_TEXT` characters, `MAX_DICE` dice and
    `MAX_SIDES` sides a term, `MAX_TERMS` terms, fixed numbers up to `MAX_NUMBER`, totals spanning `MAX_WIDTH`
    values and `MAX_WORK` times the work of 1000d6. Refusals have the code `dice-notation` (not understood) or
    `dice-too-large`.
    """
    if len(text) > MAX_TEXT:
        return Refused(
            "dice-too-large",
            f"The dice are {len(text)} characters long; at most {MAX_TEXT} are read. Use fewer terms.",
        )
    return _parsed(text)


@lru_cache(maxsize=256)
def _parsed(text: str) -> Expression | Refused:
    from lark.exceptions import UnexpectedInput

    if not text.strip():
        return Refused("dice-notation", f"No dice are given; write for example {EXAMPLES}.")
    # Lower case only where that keeps the length, so that the place named in a refusal is right.
    plain = "".join(sign.lower() if len(sign.lower()) == 1 else sign for sign in text.translate(_MINUS))
    try:
        tree = _grammar().parse(plain)
    except UnexpectedInput as problem:
        ended = getattr(getattr(problem, "token", None), "type", "") == "$END"
        return _not_understood(text, plain, None if ended else problem.pos_in_stream)
    node = _built(tree)
    return node if isinstance(node, Refused) else _bounded(node)


@lru_cache(maxsize=1)
def _grammar() -> Lark:
    from lark import Lark

    return Lark(GRAMMAR, parser="lalr", maybe_placeholders=False)


def _not_understood(text: str, plain: str, position: int | None) -> Refused:
    shown = text.strip()
    if position is None or position < 0 or position >= len(plain.rstrip()):
        return Refused("dice-notation", f'The dice "{shown}" end too early; write for example {EXAMPLES}.')
    # The reader may have taken the d of a wrong word for that of a die.
    while position and plain[position - 1].isalpha() and plain[position].isalpha():
        position -= 1
    found = re.compile(r"[^\W\d_]+|\d+|\S").search(plain, position)
    word = found.group() if found else plain[position]
    near = get_close_matches(word, WORDS, 1) if word not in WORDS else []
    hint = f'did you mean "{near[0]}"?' if near else f"write for example {EXAMPLES}."
    place = position + 1
    return Refused("dice-notation", f'"{word}" at place {place} of the dice "{shown}" does not fit there; {hint}')


# From the parse tree to ours. A refusal found inside is handed up as the value.


def _built(tree: Any) -> Node | Refused:
    children: list[Any] = []
    for child in tree.children:
        if hasattr(child, "children"):
            inner = _built(child)
            if isinstance(inner, Refused):
                return inner
            children.append(inner)
        else:
            children.append(int(child) if child.type == "NUMBER" else str(child))
    match tree.data:
        case "start" | "sum":
            inner_node: Node = children[0]
            return inner_node
        case "number":
            return _number(children[0])
        case "negative":
            return _joined((), -1, children[0])
        case "add":
            return _joined(_parts(children[0]), 1, children[1])
        case "subtract":
            return _joined(_parts(children[0]), -1, children[1])
        case "half" | "double":
            return Changed(children[0], double=tree.data == "double")
        case "advantage" | "disadvantage":
            return _twice(children[0], str(tree.data))
        case "one_die":
            return _dice(1, children[0])
        case "dice":
            return _dice(children[0], children[1])
        case "keep":
            return _kept(children[0], children[1], children[2], children[3] if len(children) > 3 else 1)
        case "keep_number":
            return _kept(children[0], children[1], children[3], children[2])
        case "reroll":
            return _rerolled(children[0], (children[1],))
        case "reroll_two":
            return _rerolled(children[0], tuple(sorted({children[1], children[2]})))
        case _:
            return _rerolled(children[0], tuple(range(1, min(children[1], MAX_SIDES) + 1)))


def _number(value: int) -> Number | Refused:
    if value > MAX_NUMBER:
        return Refused(
            "dice-too-large", f"The fixed number {_short(value)} is too large; at most {MAX_NUMBER} is read."
        )
    return Number(value)


def _dice(count: int, sides: int) -> Dice | Refused:
    if not 1 <= count <= MAX_DICE:
        return Refused("dice-too-large", f"{_short(count)} dice in one term cannot be rolled; 1 to {MAX_DICE} can.")
    if not 1 <= sides <= MAX_SIDES:
        return Refused("dice-too-large", f"A die with {_short(sides)} sides is not read; 1 to {MAX_SIDES} sides are.")
    return Dice(count, sides, count)


def _kept(dice: Dice, verb: str, end: str, number: int) -> Dice | Refused:
    if dice.keep != dice.count:
        return Refused(
            "dice-notation", f"{_text(dice)} keeps or drops dice already; say it once for each kind of dice."
        )
    keep = number if verb == "keep" else dice.count - number
    if not 1 <= keep <= dice.count or (verb == "drop" and number == 0):
        verb = f"{verb} {end} {_short(number)}"
        return Refused(
            "dice-notation",
            f"{_text(dice)} cannot {verb}: at least one die is kept and one of {dice.count} named.",
        )
    return replace(dice, keep=keep, highest=(verb == "keep") == (end == "highest"))


def _rerolled(dice: Dice, faces: tuple[int, ...]) -> Dice | Refused:
    if not faces or faces[0] < 1 or faces[-1] > dice.sides:
        return Refused("dice-notation", f"{_text(dice)} can roll again only faces from 1 to {dice.sides}.")
    return replace(dice, reroll=tuple(sorted({*dice.reroll, *faces})))


def _twice(node: Node, word: str) -> Node | Refused:
    """Roll the one single die of a total twice: its only d20, or else its only single die."""
    single = [die for die in walk(node) if isinstance(die, Dice) and die.count == 1]
    chosen = [die for die in single if die.sides == 20] or single
    if len(chosen) != 1:
        why = "has no single die" if not chosen else "has more than one that it could mean"
        return Refused(
            "dice-notation",
            f'"with {word}" rolls one die twice, and {_text(node)} {why}; write for example d20 + 5 with {word}.',
        )
    if chosen[0].twice:
        return Refused(
            "dice-notation",
            f"{_text(chosen[0])} is rolled twice already; advantage and disadvantage together cancel.",
        )
    return _replaced(node, chosen[0], replace(chosen[0], twice=1 if word == "advantage" else -1))


def _replaced(node: Node, old: Dice, new: Dice) -> Node:
    match node:
        case Sum(parts):
            return Sum(tuple((sign, _replaced(part, old, new)) for sign, part in parts))
        case Changed(inner, double):
            return Changed(_replaced(inner, old, new), double)
        case _:
            return new if node == old else node


def _parts(node: Node) -> tuple[tuple[int, Node], ...]:
    return node.parts if isinstance(node, Sum) else ((1, node),)


def _joined(before: tuple[tuple[int, Node], ...], sign: int, node: Node) -> Sum:
    return Sum((*before, *((sign * inner, part) for inner, part in _parts(node))))


def _short(number: int) -> str:
    """Return a number of any length in few signs."""
    return str(number) if number < 10**9 else f"a number of {len(str(number))} digits"


# What a tree means


def walk(node: Node) -> Iterator[Node]:
    """Yield the node and all below it, in the order they are written."""
    yield node
    match node:
        case Sum(parts):
            for _, part in parts:
                yield from walk(part)
        case Changed(inner):
            yield from walk(inner)


def one_die(dice: Dice) -> Distribution:
    """Return the distribution of one of these dice, with its reroll and its advantage."""
    die = Distribution.die(dice.sides)
    if dice.reroll:
        again = frozenset(dice.reroll)
        die = die.reroll(lambda face: face in again)
    if dice.twice:
        die = die.maximum(die) if dice.twice > 0 else die.minimum(die)
    return die


def _distribution(node: Node) -> Distribution:
    match node:
        case Number(value):
            return Distribution.point(value)
        case Dice():
            die = one_die(node)
            if node.highest:
                return die.keep_highest(node.count, node.keep)
            return die.keep_lowest(node.count, node.keep)
        case Changed(inner, double):
            whole = _distribution(inner)
            return whole.scale(2) if double else whole.half()
        case Sum(parts):
            fixed = sum(sign * part.value for sign, part in parts if isinstance(part, Number))
            total = Distribution.point(fixed)
            for sign, part in parts:
                if not isinstance(part, Number):
                    one = _distribution(part)
                    total = total.plus(one if sign > 0 else one.negate())
            return total


def _doubled_dice(node: Node) -> Node:
    match node:
        case Number():
            return node
        case Dice() if node.plain:
            return replace(node, count=2 * node.count, keep=2 * node.count)
        case Dice():
            return Sum(((1, node), (1, node)))
        case Changed(inner, double):
            return Changed(_doubled_dice(inner), double)
        case Sum(parts):
            joined = Sum(())
            for sign, part in parts:
                joined = _joined(joined.parts, sign, _doubled_dice(part))
            return joined


def _text(node: Node) -> str:
    match node:
        case Number(value):
            return str(value)
        case Dice():
            return dice_text(node)
        case Changed(inner, double):
            return f"{_text(inner)} {'double' if double else 'half'}"
        case Sum(parts):
            words = []
            for place, (sign, part) in enumerate(parts):
                text = _text(part)
                loose = isinstance(part, Changed) or (isinstance(part, Dice) and part.twice)
                if loose and (place or sign < 0):
                    text = f"({text})"
                if place:
                    words.append("+" if sign > 0 else "-")
                words.append(text if place or sign > 0 else f"-{text}")
            return " ".join(words)


def dice_text(dice: Dice) -> str:
    """Return one term in its plain spelling."""
    text = f"{dice.count}d{dice.sides}"
    faces = dice.reroll
    if len(faces) > 1 and faces == tuple(range(1, faces[-1] + 1)):
        text += f" reroll {faces[-1]} or lower"
    elif faces:
        text += "".join(f" reroll {face}" for face in faces)
    dropped = dice.count - dice.keep
    if dropped == 1:
        text += f" drop {'lowest' if dice.highest else 'highest'}"
    elif dropped:
        text += f" keep {'highest' if dice.highest else 'lowest'} {dice.keep}"
    return text + {1: " with advantage", -1: " with disadvantage", 0: ""}[dice.twice]


# How large it is


def _bounded(node: Node) -> Expression | Refused:
    terms = sum(isinstance(part, Dice | Number) for part in walk(node))
    if terms > MAX_TERMS:
        return Refused(
            "dice-too-large",
            f"The dice have {terms} terms; at most {MAX_TERMS} are added up. Put equal dice together.",
        )
    size = _size(node)
    if size.width > MAX_WIDTH:
        return Refused(
            "dice-too-large",
            f"The total could be any of {size.width} numbers; at most {MAX_WIDTH} are worked out."
            " Use fewer dice or sides.",
        )
    if size.work > MAX_WORK:
        return Refused(
            "dice-too-large",
            f"This takes about {size.work:.0f} times the work of 1000d6, and at most {MAX_WORK:.0f} times is done."
            " Use fewer dice, fewer sides, or keep fewer of them.",
        )
    return Expression(node, size)


def _size(node: Node) -> Size:
    match node:
        case Number(value):
            return Size(value, value, 0.0)
        case Dice():
            return Size(node.keep, node.keep * node.sides, _dice_work(node) / UNIT)
        case Changed(inner, double):
            size = _size(inner)
            work = size.work + 0.5 * size.width / UNIT
            return Size(size.low * 2, size.high * 2, work) if double else Size(size.low // 2, size.high // 2, work)
        case Sum(parts):
            low = high = joined = 0
            work = 0.0
            for sign, part in parts:
                size = _size(part)
                low, high = (
                    low + min(sign * size.low, sign * size.high),
                    high + max(sign * size.low, sign * size.high),
                )
                if not isinstance(part, Number):
                    work += size.work + (sum_work(high - low + 1) if joined else 0)
                    joined += 1
            return Size(low, high, work)


def sum_work(width: int) -> float:
    """Return the work, in sums of 1000d6, of one sum of two results that spans `width` values."""
    return (40 + 0.2 * width) / UNIT


def _dice_work(dice: Dice) -> float:
    """Return a guess, in microseconds, of the time one term takes; a benchmark holds it against the clock."""
    sides, count, keep = dice.sides, dice.count, dice.keep
    one = sides * sides if dice.reroll or dice.twice else sides
    total = one**count if count <= 128 else exact.EXACT_TOTAL
    width = keep * (sides - 1) + 1
    work = 20 + 0.5 * width
    if keep in (1, count) or sides == 1:
        return work + 60
    if exact.keep_fits(sides, keep, total):
        size = exact.slot_bytes(total)
        return work + sides * keep * (1 + 0.3 * (count - keep) + 5e-6 * width * sides * size * size)
    return work + 100 + sides * keep * (0.02 * width + 0.02 * (count - keep)) + keep * (count - keep)
