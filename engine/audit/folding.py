"""Folding of changed numbers for cards: one row for a run of levels, and whether the change is for the better."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

from engine.audit.amounts import worth
from engine.sheet.number import Amount

Direction = Literal["better", "worse", "neutral"]
# Counts that say what a build is or bears, not how good it is.
_NEUTRAL: Final = ("level.", "hit_dice.", "carry.weight", "attunement.used")


@dataclass(frozen=True, slots=True)
class NumberChange:
    """A number that differs at one level; None on the side where it does not apply."""

    name: str
    level: int
    before: Amount | None
    after: Amount | None


@dataclass(frozen=True, slots=True)
class FoldedChange:
    """A number with the same change at all levels from first to last.

    direction: `better` or `worse` where a higher number is known to be the better one, else `neutral`.
    """

    name: str
    first: int
    last: int
    before: Amount | None
    after: Amount | None
    direction: Direction


def folded(numbers: Iterable[NumberChange]) -> tuple[FoldedChange, ...]:
    """Return the changes with neighbouring levels of one name, before and after in one row; order is kept."""
    rows: list[FoldedChange] = []
    for change in numbers:
        last = rows[-1] if rows else None
        if (
            last is not None
            and (last.name, last.before, last.after) == (change.name, change.before, change.after)
            and last.last + 1 == change.level
        ):
            rows[-1] = FoldedChange(last.name, last.first, change.level, last.before, last.after, last.direction)
        else:
            rows.append(
                FoldedChange(change.name, change.level, change.level, change.before, change.after, direction(change))
            )
    return tuple(rows)


def direction(change: NumberChange) -> Direction:
    """Tell whether a change is for the better. A number that comes counts as better, one that goes as worse."""
    if change.name.startswith(_NEUTRAL):
        return "neutral"
    before, after = worth(change.before), worth(change.after)
    if before is None or after is None:
        return "better" if before is None else "worse"
    if before == after:
        return "neutral"
    return "better" if after > before else "worse"
