"""A contest: two sides roll, and the higher total wins."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Literal

from engine.odds import d20, words
from engine.odds.d20 import D20
from engine.odds.distribution import as_text
from engine.problem import Refused

TieRule = Literal["nobody", "active", "other"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Contest:
    """A contest of the side that wants to change something (`active`) with the one that resists (`other`).

    ties: who wins a tie. "nobody" leaves all as it was, so the active side has not succeeded.
    """

    active: D20
    other: D20
    ties: TieRule = "nobody"


@dataclass(frozen=True, slots=True, kw_only=True)
class ContestAnswer:
    """The answer to a `Contest`.

    win: chance that the active side succeeds, ties counted by the rule. ahead, tie, behind: chances that its
    total is higher, equal, lower. fraction: `win` exactly, or None. basis: what was counted, in words.
    """

    question: Contest
    win: float
    fraction: Fraction | None
    ahead: float
    tie: float
    behind: float
    basis: str


def answer_contest(question: Contest) -> ContestAnswer | Refused:
    """Return the chances of both sides, or why their numbers or dice cannot be used.

    Source: SRD 5.1, Using Ability Scores, Contests: a tie leaves the situation as it was.
    """
    active = d20.total(question.active)
    if isinstance(active, Refused):
        return active
    other = d20.total(question.other)
    if isinstance(other, Refused):
        return other
    lead = active - other
    needed = 0 if question.ties == "active" else 1
    rule = {
        "nobody": "a tie leaves all as it was",
        "active": "a tie goes to the first side",
        "other": "a tie goes to the second side",
    }[question.ties]
    return ContestAnswer(
        question=question,
        win=lead.at_least(needed),
        fraction=lead.fraction_at_least(needed),
        ahead=lead.at_least(1),
        tie=lead.chance(0),
        behind=lead.at_most(-1),
        basis=f"{d20.in_words(question.active)} against {d20.in_words(question.other)}; {rule}",
    )


def as_json(answer: ContestAnswer) -> dict[str, Any]:
    """Return the answer as plain data: win (by the rule for ties), fraction, ahead, tie, behind, and more."""
    return {
        "win": answer.win,
        "fraction": as_text(answer.fraction),
        "ahead": answer.ahead,
        "tie": answer.tie,
        "behind": answer.behind,
        "ties": answer.question.ties,
        "basis": answer.basis,
        "words": words.chance(answer.win if answer.fraction is None else answer.fraction),
    }
