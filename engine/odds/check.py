"""The chance that an ability check reaches a difficulty class (DC)."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from engine.odds import d20, words
from engine.odds.d20 import D20
from engine.odds.distribution import Distribution, as_text
from engine.odds.limits import MAX_MODIFIER, outside
from engine.problem import Refused

TABLE = range(5, 31)
"""The DCs of the table. Source: SRD 5.1, Using Ability Scores, Typical Difficulty Classes (5 to 30)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Check(D20):
    """An ability check against `dc`; the roll as in `D20`."""

    dc: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckAnswer:
    """The answer to a `Check`.

    success: chance of a total of the DC or more; a natural 1 or 20 means nothing more. fraction: the same
    exactly, None where extra dice made the counts too many. total: distribution of the whole roll. table:
    chance by DC from 5 to 30. with_advantage, with_disadvantage: the chance if that alone held. basis: what
    was counted, in words.
    """

    question: Check
    success: float
    fraction: Fraction | None
    total: Distribution
    table: dict[int, float]
    with_advantage: float
    with_disadvantage: float
    basis: str


def answer_check(question: Check) -> CheckAnswer | Refused:
    """Return the chance of the check, or why its numbers or dice cannot be used.

    Source: SRD 5.1, Using Ability Scores, Ability Checks: the total equals or exceeds the DC.
    """
    problem = outside("The DC", question.dc, -MAX_MODIFIER, MAX_MODIFIER)
    added = problem or d20.extra(question)
    if isinstance(added, Refused):
        return added
    total, better, worse = (_total(question, edge, added) for edge in (question.edge, 1, -1))
    return CheckAnswer(
        question=question,
        success=total.at_least(question.dc),
        fraction=total.fraction_at_least(question.dc),
        total=total,
        table={dc: total.at_least(dc) for dc in TABLE},
        with_advantage=better.at_least(question.dc),
        with_disadvantage=worse.at_least(question.dc),
        basis=f"total {d20.in_words(question)}, success at {question.dc} or more",
    )


def as_json(answer: CheckAnswer) -> dict[str, Any]:
    """Return the answer in the form of the outside contract: success, fraction, and more."""
    return {
        "success": answer.success,
        "fraction": as_text(answer.fraction),
        "dc": answer.question.dc,
        "mean": answer.total.mean(),
        "lowest": answer.total.low,
        "highest": answer.total.high,
        "with_advantage": answer.with_advantage,
        "with_disadvantage": answer.with_disadvantage,
        "table": {str(dc): chance for dc, chance in answer.table.items()},
        "basis": answer.basis,
        "words": words.chance(answer.success if answer.fraction is None else answer.fraction),
    }


def _total(question: Check, edge: int, added: Distribution) -> Distribution:
    roll = D20(advantage=edge > 0, disadvantage=edge < 0, lowest=question.lowest, reroll_ones=question.reroll_ones)
    return d20.kept(roll).plus(added)
