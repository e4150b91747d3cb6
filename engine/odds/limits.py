"""What the odds questions share: limits of their numbers and dice that are read on the way."""

from __future__ import annotations

from engine.odds.notation import MAX_WORK, Expression, parse
from engine.problem import Refused

MAX_MODIFIER = 1_000


def outside(what: str, value: int, low: int, high: int) -> Refused | None:
    """Return a refusal naming the limits where a number lies outside `low` .. `high`, else None."""
    if low <= value <= high:
        return None
    return Refused("out-of-range", f"{what} is {value}; it must be a number from {low} to {high}.")


def first(*checks: Refused | None) -> Refused | None:
    """Return the first refusal, or None where there is none."""
    return next((check for check in checks if check is not None), None)


def dice_or_none(text: str | None) -> Expression | Refused | None:
    """Return the dice that a question may leave out: None for None or blank."""
    return parse(text) if text is not None and text.strip() else None


def too_much(work: float, mend: str) -> Refused | None:
    """Return a refusal where a question takes more than `MAX_WORK` sums of 1000d6; `mend` says what to lower."""
    if work <= MAX_WORK:
        return None
    return Refused(
        "too-much-work",
        f"This question takes about {work:.0f} times the work of 1000d6,"
        f" and at most {MAX_WORK:.0f} times is done. {mend}",
    )
