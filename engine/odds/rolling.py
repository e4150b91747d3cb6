"""Real rolls of a dice notation: which faces came up and which of them count. The faces are drawn by the caller."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from engine.odds.notation import Changed, Dice, Expression, Node, Number, Sum, dice_text

Draw = Callable[[int], int]
"""Given a number of sides, draws one face from 1 to it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Die:
    """One die: the face that stands, whether it counts, and the face before a reroll (None if there was none)."""

    face: int
    counts: bool
    before: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RolledTerm:
    """The dice of one term, in the order rolled, and what they come to."""

    dice: str
    faces: tuple[Die, ...]
    total: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Rolled:
    """A roll: the total, and every term of dice in the order written."""

    dice: str
    total: int
    terms: tuple[RolledTerm, ...]


def roll(expression: Expression, draw: Draw) -> Rolled:
    """Return one roll of the dice.

    Args:
        expression: what `notation.parse` gave.
        draw: called once for each die, with its sides; once more for a reroll. Its faces are trusted.
    """
    terms: list[RolledTerm] = []
    total = _total(expression.node, draw, terms)
    return Rolled(dice=str(expression), total=total, terms=tuple(terms))


def _total(node: Node, draw: Draw, terms: list[RolledTerm]) -> int:
    match node:
        case Number(value):
            return value
        case Dice():
            terms.append(_term(node, draw))
            return terms[-1].total
        case Changed(inner, double):
            whole = _total(inner, draw, terms)
            return whole * 2 if double else whole // 2
        case Sum(parts):
            return sum(sign * _total(part, draw, terms) for sign, part in parts)


def _term(dice: Dice, draw: Draw) -> RolledTerm:
    rolled: list[tuple[int, int | None]] = []
    for _ in range(2 if dice.twice else dice.count):
        face = draw(dice.sides)
        rolled.append((draw(dice.sides), face) if face in dice.reroll else (face, None))
    highest = dice.twice > 0 if dice.twice else dice.highest
    order = sorted(range(len(rolled)), key=lambda place: rolled[place][0], reverse=highest)
    counting = set(order[: 1 if dice.twice else dice.keep])
    faces = tuple(
        Die(face=face, counts=place in counting, before=before) for place, (face, before) in enumerate(rolled)
    )
    return RolledTerm(dice=dice_text(dice), faces=faces, total=sum(die.face for die in faces if die.counts))
