"""A dice total that lays creatures low, counted against their hit points from the lowest up."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate
from typing import Any

from engine.odds import words
from engine.odds.distribution import Distribution, as_text, pmf_json
from engine.odds.limits import first, outside
from engine.odds.notation import parse
from engine.problem import Refused

MAX_CREATURES = 50
MAX_HIT_POINTS = 10_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Creature:
    """A creature in reach: what it is called and the hit points it has now (1 or more)."""

    name: str
    hit_points: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Fell:
    """dice: notation of the total. creatures: 1 to 50, in any order; equal hit points keep the order given."""

    dice: str
    creatures: tuple[Creature, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Falls:
    """One creature, the total at which it falls, and the chance of that (`fraction` exactly, or None)."""

    creature: Creature
    needs: int
    chance: float
    fraction: Fraction | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FellAnswer:
    """The answer to a `Fell`.

    falls: every creature, from the lowest hit points up. number: distribution of how many fall. total:
    distribution of the dice. basis: what was counted, in words.
    """

    question: Fell
    falls: tuple[Falls, ...]
    number: Distribution
    total: Distribution
    basis: str


def answer_fell(question: Fell) -> FellAnswer | Refused:
    """Return who falls with what chance, or why the creatures or dice cannot be used.

    A creature falls if its hit points are no more than what is left of the total, and then takes them off it.
    Source: SRD 5.1, Spellcasting, Sleep.
    """
    problem = first(
        outside("The number of creatures", len(question.creatures), 1, MAX_CREATURES),
        *(
            outside(f"Hit points of {creature.name}", creature.hit_points, 1, MAX_HIT_POINTS)
            for creature in question.creatures
        ),
    )
    dice = problem or parse(question.dice)
    if isinstance(dice, Refused):
        return dice
    total = dice.distribution()
    ordered = sorted(question.creatures, key=lambda creature: creature.hit_points)
    needs = list(accumulate(creature.hit_points for creature in ordered))
    falls = tuple(
        Falls(creature=creature, needs=need, chance=total.at_least(need), fraction=total.fraction_at_least(need))
        for creature, need in zip(ordered, needs, strict=True)
    )
    return FellAnswer(
        question=question,
        falls=falls,
        number=total.map(lambda rolled: sum(need <= rolled for need in needs)),
        total=total,
        basis=f"a total of {dice} taken off hit points from the lowest up",
    )


def as_json(answer: FellAnswer) -> dict[str, Any]:
    """Return the answer as plain data: falls (name, hit_points, needs, chance, fraction), number, mean, and more."""
    return {
        "falls": [
            {
                "name": one.creature.name,
                "hit_points": one.creature.hit_points,
                "needs": one.needs,
                "chance": one.chance,
                "fraction": as_text(one.fraction),
                "words": words.chance(one.chance if one.fraction is None else one.fraction),
            }
            for one in answer.falls
        ],
        "number": pmf_json(answer.number),
        "mean": answer.number.mean(),
        "total_mean": answer.total.mean(),
        "basis": answer.basis,
    }
