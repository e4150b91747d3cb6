"""A named number: what it is worth and why. Reasons come from reading grants, never from a second code path."""

from collections.abc import Iterable
from fractions import Fraction
from typing import Any, NamedTuple

Amount = int | float | str


class Reason(NamedTuple):
    """One part of a number: what gives it, how much, and where the rule stands."""

    label: str
    amount: Amount
    source: str


class Number(NamedTuple):
    """A value with its reasons.

    value: the reasons' amounts added up; a string only for dice (`1d8`) and `unlimited`. unit: points, feet, dice...
    dice: what is rolled, where the number is a mean of dice (`1d8+4`). beaten: alternatives that lost.
    A number that is no sum has exactly one reason, whose label is the rule with its inputs.
    """

    value: Amount
    unit: str
    reasons: tuple[Reason, ...]
    dice: str | None = None
    beaten: tuple[Reason, ...] = ()


class SheetNote(NamedTuple):
    """What is no number: advantage, resistance, an extra die, a fact of a feature."""

    label: str
    text: str
    source: str


def total(
    reasons: Iterable[Reason], unit: str = "points", beaten: Iterable[Reason] = (), dice: str | None = None
) -> Number:
    """Return the number that the reasons add up to. Amounts must be numbers, not dice."""
    parts = tuple(reasons)
    value: int | float = 0
    for reason in parts:
        value += reason.amount  # type: ignore[operator]
    if type(value) is float:
        value = int(value) if value.is_integer() else tidy(Fraction(value).limit_denominator(1_000_000))
    return Number(value, unit, parts, dice, tuple(beaten))


def stated(
    value: Amount,
    label: str,
    source: str,
    unit: str = "points",
    dice: str | None = None,
    beaten: Iterable[Reason] = (),
) -> Number:
    """Return a number that is no sum: one reason, whose label is the rule with its inputs."""
    return Number(value, unit, (Reason(label, value, source),), dice, tuple(beaten))


def tidy(value: Fraction) -> int | float:
    """Return a fraction as a whole number where it is one, else as a float."""
    return value.numerator if value.denominator == 1 else value.numerator / value.denominator


def signed(value: int) -> str:
    """Return a modifier as the trade writes it: `+3`, `-1`, `+0`."""
    return f"+{value}" if value >= 0 else str(value)


def as_json(number: Number) -> dict[str, Any]:
    """Return the outside form: `{"value", "unit", "dice", "reasons": [...], "beaten": [...]}`."""
    return {
        "value": number.value,
        "unit": number.unit,
        "dice": number.dice,
        "reasons": [{"label": r.label, "amount": r.amount, "source": r.source} for r in number.reasons],
        "beaten": [{"label": r.label, "amount": r.amount, "source": r.source} for r in number.beaten],
    }
