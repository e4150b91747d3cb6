"""Death saving throws: the chance to live, how long it takes to know, and whether a hit leaves any to make."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Any

from engine.odds import d20, words
from engine.odds.d20 import D20
from engine.odds.distribution import as_text
from engine.odds.limits import dice_or_none, first, outside
from engine.odds.wounds import Wounds
from engine.problem import Refused

DC = 10
NEEDED = 3
MAX_HIT_POINTS = 10_000


@dataclass(frozen=True, slots=True, kw_only=True)
class DeathSaves(D20):
    """Death saving throws, whose roll is as in `D20`, from some successes and failures (0 to 2 each) on.

    hit: dice of a hit that comes first, None for none. maximum: hit point maximum of who is hit, which a hit needs.
    hit_points: what is left of them, None for all; temporary: temporary hit points on top.
    """

    successes: int = 0
    failures: int = 0
    hit: str | None = None
    hit_points: int | None = None
    temporary: int = 0
    maximum: int | None = None


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
    rounds: expected number of throws until it is decided. by_round: the chances after 1 to 5 throws. drops:
    chance that the hit leaves 0 hit points, outright: that it kills without a throw (which `drops` counts too);
    None without a hit. basis: what was counted, in words.
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
    drops: float | None = None
    outright: float | None = None


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
    struck = _struck(question)
    if isinstance(struck, Refused):
        return struck

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
        drops=struck[0] if struck is not None else None,
        outright=struck[1] if struck is not None else None,
    )


def as_json(answer: DeathAnswer) -> dict[str, Any]:
    """Return the answer as plain data: live, fraction, stable, up, dead, rounds, by_round; of a hit drops, outright."""
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
        **({"drops": answer.drops, "outright": answer.outright} if answer.drops is not None else {}),
        "basis": answer.basis,
        "words": words.chance(answer.live if answer.fraction is None else answer.fraction),
    }


def _struck(question: DeathSaves) -> tuple[float, float] | Refused | None:
    """Return the chances that the hit drops its target, and that it kills it outright; None where there is no hit."""
    dice = dice_or_none(question.hit)
    if dice is None or isinstance(dice, Refused):
        return dice
    if question.maximum is None:
        return Refused("missing", "The hit point maximum is missing; give one, or a build that has it.")
    left = question.maximum if question.hit_points is None else question.hit_points
    problem = first(
        outside("The hit point maximum", question.maximum, 1, MAX_HIT_POINTS),
        outside("The number of hit points left", left, 0, question.maximum),
        outside("The number of temporary hit points", question.temporary, 0, MAX_HIT_POINTS),
    )
    if problem is not None:
        return problem
    wounds = Wounds(hit_points=left, maximum=question.maximum, temporary=question.temporary)
    damage = dice.distribution()
    drops = damage.map(lambda points: int(wounds.after(points).hit_points == 0)).at_least(1)
    return drops, damage.map(lambda points: int(wounds.after(points).outright)).at_least(1)


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
    if question.hit is not None and question.hit.strip():
        left = question.maximum if question.hit_points is None else question.hit_points
        on_top = f" and {question.temporary} temporary" if question.temporary else ""
        start += f", after a hit of {question.hit.strip()} on {left}{on_top} of {question.maximum} hit points"
    return f"{d20.in_words(question)} against 10{start}; a natural 1 is two failures, a natural 20 brings up; no help"
