"""Death saving throws: the chance to live, and how long it takes to know."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Any

from engine.odds import d20, words
from engine.odds.d20 import D20
from engine.odds.distribution import as_text
from engine.odds.limits import outside
from engine.problem import Refused

DC = 10
NEEDED = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class DeathSaves(D20):
    """Death saving throws, whose roll is as in `D20`, from some successes and failures (0 to 2 each) on."""

    successes: int = 0
    failures: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """Chances after so many throws from now: stable, up with 1 hit point, dead, or not decided yet."""

    number: int
    stable: float
    up: float
    dead: float
    open: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DeathAnswer:
    """The answer to a `DeathSaves`.

    live: chance to live, stable or up; fraction: the same exactly, or None. stable, up, dead: where it ends.
    rounds: expected number of throws until it is decided. by_round: the chances after 1 to 5 throws. basis:
    what was counted, in words.
    """

    question: DeathSaves
    live: float
    fraction: Fraction | None
    stable: float
    up: float
    dead: float
    rounds: float
    by_round: tuple[Round, ...]
    basis: str


@dataclass(frozen=True, slots=True)
class _Throw:
    """Chances of one throw."""

    up: Fraction | float
    success: Fraction | float
    failure: Fraction | float
    two_failures: Fraction | float


def answer_death(question: DeathSaves) -> DeathAnswer | Refused:
    """Return the chance to live, or why the numbers or dice cannot be used.

    A total of 10 or more succeeds; a natural 1 is two failures and a natural 20 brings the creature up,
    whatever is added. Nobody heals or hits the creature. Source: SRD 5.1, Combat, Death Saving Throws.
    """
    problem = outside("The number of successes", question.successes, 0, NEEDED - 1) or outside(
        "The number of failures", question.failures, 0, NEEDED - 1
    )
    throw = problem or _throw(question)
    if isinstance(throw, Refused):
        return throw

    # At most five throws decide, so the chain is walked to its end exactly.
    open_states: dict[tuple[int, int], Fraction | float] = {(question.successes, question.failures): Fraction(1)}
    stable: Fraction | float = Fraction(0)
    up: Fraction | float = Fraction(0)
    dead: Fraction | float = Fraction(0)
    rounds: Fraction | float = Fraction(0)
    by_round: list[Round] = []
    while open_states:
        rounds += sum(open_states.values())
        following: dict[tuple[int, int], Fraction | float] = {}
        for (good, bad), chance in open_states.items():
            up += chance * throw.up
            for share, next_good, next_bad in (
                (throw.success, good + 1, bad),
                (throw.failure, good, bad + 1),
                (throw.two_failures, good, bad + 2),
            ):
                if next_good >= NEEDED:
                    stable += chance * share
                elif next_bad >= NEEDED:
                    dead += chance * share
                else:
                    following[next_good, next_bad] = following.get((next_good, next_bad), 0) + chance * share
        open_states = following
        by_round.append(
            Round(
                number=len(by_round) + 1,
                stable=float(stable),
                up=float(up),
                dead=float(dead),
                open=float(sum(open_states.values())),
            )
        )
    live = stable + up
    return DeathAnswer(
        question=question,
        live=float(live),
        fraction=live if isinstance(live, Fraction) else None,
        stable=float(stable),
        up=float(up),
        dead=float(dead),
        rounds=float(rounds),
        by_round=tuple(by_round),
        basis=_basis(question),
    )


def as_json(answer: DeathAnswer) -> dict[str, Any]:
    """Return the answer as plain data: live, fraction, stable, up, dead, rounds, by_round."""
    return {
        "live": answer.live,
        "fraction": as_text(answer.fraction),
        "stable": answer.stable,
        "up": answer.up,
        "dead": answer.dead,
        "rounds": answer.rounds,
        "by_round": [
            {"round": row.number, "stable": row.stable, "up": row.up, "dead": row.dead, "open": row.open}
            for row in answer.by_round
        ],
        "basis": answer.basis,
        "words": words.chance(answer.live if answer.fraction is None else answer.fraction),
    }


def _throw(question: DeathSaves) -> _Throw | Refused:
    added = d20.extra(question)
    if isinstance(added, Refused):
        return added
    faces = d20.natural(question)
    counts, total = faces.counts or (), faces.total or 1

    @lru_cache(maxsize=20)
    def reaches(face: int) -> Fraction | float:
        needed = DC - max(face, question.lowest)
        share = added.fraction_at_least(needed)
        return share if share is not None else added.at_least(needed)

    middle = [(Fraction(counts[face - 1], total), face) for face in range(2, 20)]
    success = sum((chance * reaches(face) for chance, face in middle), start=Fraction(0))
    ones, twenties = Fraction(counts[0], total), Fraction(counts[19], total)
    return _Throw(up=twenties, success=success, failure=1 - ones - twenties - success, two_failures=ones)


def _basis(question: DeathSaves) -> str:
    start = ""
    if question.successes or question.failures:
        good = words.times(question.successes, "success", "successes")
        start = f", from {good} and {words.times(question.failures, 'failure')} on"
    return f"{d20.in_words(question)} against 10{start}; a natural 1 is two failures, a natural 20 brings up; no help"
