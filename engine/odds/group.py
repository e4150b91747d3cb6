"""A group check: the whole group succeeds if at least half of its members do."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from engine.odds import d20, words
from engine.odds.d20 import D20
from engine.odds.distribution import Distribution, as_text, pmf_json, poisson_binomial
from engine.odds.limits import MAX_MODIFIER, first, outside
from engine.problem import Refused

MAX_MEMBERS = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """A check of every member against `dc`.

    members: the roll of each, 1 to 30. needed: how many must succeed; None for half of them, rounded up.
    """

    dc: int
    members: tuple[D20, ...]
    needed: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupAnswer:
    """The answer to a `Group`.

    success: chance that `needed` or more succeed; fraction: the same exactly, or None. each: chance of every
    member, in the order given. successes: distribution of how many succeed. basis: what was counted, in
    words.
    """

    question: Group
    success: float
    fraction: Fraction | None
    needed: int
    each: tuple[float, ...]
    successes: Distribution
    basis: str


def answer_group(question: Group) -> GroupAnswer | Refused:
    """Return the chance of the group, or why its numbers or dice cannot be used.

    Source: SRD 5.1, Using Ability Scores, Group Checks.
    """
    size = len(question.members)
    needed = (size + 1) // 2 if question.needed is None else question.needed
    problem = first(
        outside("The number of members", size, 1, MAX_MEMBERS),
        outside("The DC", question.dc, -MAX_MODIFIER, MAX_MODIFIER),
        outside("The number who must succeed", needed, 1, max(size, 1)),
    )
    if problem is not None:
        return problem
    shares: list[Fraction | float] = []
    for member in question.members:
        total = d20.total(member)
        if isinstance(total, Refused):
            return total
        fraction = total.fraction_at_least(question.dc)
        shares.append(fraction if fraction is not None else total.at_least(question.dc))
    successes = poisson_binomial(shares)
    rolls = ", ".join(d20.in_words(member) for member in question.members)
    return GroupAnswer(
        question=question,
        success=successes.at_least(needed),
        fraction=successes.fraction_at_least(needed),
        needed=needed,
        each=tuple(float(share) for share in shares),
        successes=successes,
        basis=f"{needed} of {size} must reach {question.dc}: {rolls}",
    )


def as_json(answer: GroupAnswer) -> dict[str, Any]:
    """Return the answer as plain data: success, fraction, needed, each, successes, and more."""
    return {
        "success": answer.success,
        "fraction": as_text(answer.fraction),
        "needed": answer.needed,
        "each": list(answer.each),
        "successes": pmf_json(answer.successes),
        "mean": answer.successes.mean(),
        "basis": answer.basis,
        "words": words.chance(answer.success if answer.fraction is None else answer.fraction),
    }
