"""The total of any dice: mean, deviation, chances, quantiles."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from engine.odds import words
from engine.odds.distribution import Distribution, as_text, pmf_json
from engine.odds.limits import outside
from engine.odds.notation import parse
from engine.problem import Refused

QUANTILES = (0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95)
MAX_TARGET = 10_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class DiceTotal:
    """dice: notation. at_least: a total whose chance to be reached is asked, or None."""

    dice: str
    at_least: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DiceAnswer:
    """The answer to a `DiceTotal`.

    total: the distribution. reach: chance of `at_least` or more, None if not asked; fraction: the same
    exactly, or None. quantiles: smallest total that the dice do not exceed with that chance. basis: the dice
    in plain spelling.
    """

    question: DiceTotal
    total: Distribution
    reach: float | None
    fraction: Fraction | None
    quantiles: dict[float, int]
    basis: str


def answer_dice(question: DiceTotal) -> DiceAnswer | Refused:
    """Return the distribution of the dice, or why they are not understood or too large."""
    if question.at_least is not None:
        problem = outside("The total asked for", question.at_least, -MAX_TARGET, MAX_TARGET)
        if problem is not None:
            return problem
    dice = parse(question.dice)
    if isinstance(dice, Refused):
        return dice
    total = dice.distribution()
    asked = question.at_least
    return DiceAnswer(
        question=question,
        total=total,
        reach=None if asked is None else total.at_least(asked),
        fraction=None if asked is None else total.fraction_at_least(asked),
        quantiles={share: total.quantile(share) for share in QUANTILES},
        basis=str(dice),
    )


def as_json(answer: DiceAnswer) -> dict[str, Any]:
    """Return the answer in the form of the outside contract: mean, sd, pmf, and more."""
    at_least = None
    if answer.reach is not None:
        at_least = {
            "total": answer.question.at_least,
            "chance": answer.reach,
            "fraction": as_text(answer.fraction),
            "words": words.chance(answer.reach if answer.fraction is None else answer.fraction),
        }
    return {
        "mean": answer.total.mean(),
        "sd": answer.total.sd(),
        "pmf": pmf_json(answer.total),
        "lowest": answer.total.low,
        "highest": answer.total.high,
        "exact": answer.total.exact,
        "outcomes": answer.total.total,
        "quantiles": {f"{share:g}": value for share, value in answer.quantiles.items()},
        "at_least": at_least,
        "basis": answer.basis,
    }
