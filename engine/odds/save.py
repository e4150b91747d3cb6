"""Saving throws of one or many targets against one effect: who fails, and what it does to them."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from engine.odds import d20, words
from engine.odds.d20 import D20
from engine.odds.damage import Taken
from engine.odds.distribution import Distribution, as_text, binomial, pmf_json
from engine.odds.limits import MAX_MODIFIER, dice_or_none, first, outside
from engine.problem import Refused

MAX_TARGETS = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Save(D20):
    """A saving throw of the target, whose roll is as in `D20`, against `dc`.

    damage: dice notation, None for an effect without damage. half: a target that saves takes half (rounded
    down), else none. evasion: a target that saves takes none, one that fails half. targets: how many save,
    all alike, each with its own roll; the damage is rolled once for all. resistance, vulnerability, immunity:
    of the targets to that damage.
    """

    dc: int
    damage: str | None = None
    half: bool = False
    evasion: bool = False
    targets: int = 1
    resistance: bool = False
    vulnerability: bool = False
    immunity: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SaveAnswer:
    """The answer to a `Save`.

    fail: chance that one target fails; fraction: the same exactly or None. damage: distribution of what one
    target takes. failures: distribution of how many of the targets fail. total_mean: expected damage to all
    targets together. basis: what was counted, in words.
    """

    question: Save
    fail: float
    fraction: Fraction | None
    damage: Distribution
    failures: Distribution
    total_mean: float
    basis: str


def answer_save(question: Save) -> SaveAnswer | Refused:
    """Return who fails and what they take, or why the numbers or dice cannot be used.

    Source: SRD 5.1, Using Ability Scores, Saving Throws (no automatic 1 or 20); Combat, Damage Rolls (rolled
    once for all targets of one effect); Classes, Rogue, Evasion.
    """
    problem = first(
        outside("The save DC", question.dc, -MAX_MODIFIER, MAX_MODIFIER),
        outside("The number of targets", question.targets, 1, MAX_TARGETS),
    )
    total = problem or d20.total(question)
    if isinstance(total, Refused):
        return total
    dice = dice_or_none(question.damage)
    if isinstance(dice, Refused):
        return dice
    rolled = (dice.distribution() if dice is not None else Distribution.point(0)).at_least_zero()
    saved = total.fraction_at_least(question.dc)
    succeed: Fraction | float = saved if saved is not None else total.at_least(question.dc)
    fail = 1 - succeed
    one = _one_target(question, rolled, fail)
    return SaveAnswer(
        question=question,
        fail=float(fail),
        fraction=fail if isinstance(fail, Fraction) else None,
        damage=one,
        failures=binomial(question.targets, fail),
        total_mean=question.targets * one.mean(),
        basis=_basis(question),
    )


def as_json(answer: SaveAnswer) -> dict[str, Any]:
    """Return the answer in the form of the outside contract: fail, mean, pmf, failures, total_mean, and more."""
    return {
        "fail": answer.fail,
        "fraction": as_text(answer.fraction),
        "mean": answer.damage.mean(),
        "sd": answer.damage.sd(),
        "pmf": pmf_json(answer.damage),
        "targets": answer.question.targets,
        "failures": pmf_json(answer.failures),
        "total_mean": answer.total_mean,
        "basis": answer.basis,
        "words": words.chance(answer.fail if answer.fraction is None else answer.fraction),
    }


def _one_target(question: Save, rolled: Distribution, fail: Fraction | float) -> Distribution:
    taken = Taken(resistance=question.resistance, vulnerability=question.vulnerability, immunity=question.immunity)
    # A target halves for its save and again for its resistance, each time rounded down.
    none = Distribution.point(0)
    if question.evasion:
        on_fail, on_save = (rolled.half(), none) if question.half else (rolled, none)
    else:
        on_fail, on_save = rolled, rolled.half() if question.half else none
    return Distribution.mixture([(fail, taken.spread(on_fail)), (1 - fail, taken.spread(on_save))])


def _basis(question: Save) -> str:
    text = f"the target saves at {question.dc} or more with {d20.in_words(question)}"
    if question.damage is None or not question.damage.strip():
        return f"{text}; no damage"
    if question.evasion and question.half:
        saved = "half on a failure and none on a save (evasion)"
    else:
        saved = "half on a save, rounded down" if question.half else "none on a save"
    taken = Taken(resistance=question.resistance, vulnerability=question.vulnerability, immunity=question.immunity)
    once = ", rolled once for all targets" if question.targets > 1 else ""
    return f"{text}; damage {question.damage.strip()}{once}, {saved}{taken.in_words()}"
