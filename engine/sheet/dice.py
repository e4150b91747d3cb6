"""Dice of damage and pools: means, and how a roll is written. Exact distributions are the odds' own."""

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

_TERM = re.compile(r"(\d+)d(\d+)|(\d+)")


@dataclass(frozen=True, slots=True)
class Roll:
    """Dice and a flat number added up. dice: (how many, sides) in the order in which they are written."""

    dice: tuple[tuple[int, int], ...] = ()
    flat: int = 0

    @staticmethod
    @lru_cache(maxsize=1024)
    def of(text: str | int) -> "Roll":
        """Return the roll of `2d6`, `1d8+1d6+3` or a plain number. Raises: ValueError for anything else."""
        if isinstance(text, int):
            return Roll((), text)
        dice: list[tuple[int, int]] = []
        flat = 0
        for term in text.replace(" ", "").split("+"):
            found = _TERM.fullmatch(term)
            if found is None:
                raise ValueError(f"`{text}` is no sum of dice and numbers such as 2d6+3")
            if found[3] is not None:
                flat += int(found[3])
            else:
                dice.append((int(found[1]), int(found[2])))
        return Roll(tuple(dice), flat)

    def plus(self, flat: int) -> "Roll":
        """Return the roll with a number more."""
        return Roll(self.dice, self.flat + flat) if flat else self

    def and_(self, other: "Roll") -> "Roll":
        """Return both rolls together."""
        return Roll((*self.dice, *other.dice), self.flat + other.flat)

    @property
    def mean(self) -> Fraction:
        """The mean of the roll."""
        return Fraction(sum(count * (sides + 1) for count, sides in self.dice) + 2 * self.flat, 2)

    @property
    def least(self) -> int:
        """The lowest total that can come up."""
        return sum(count for count, _ in self.dice) + self.flat

    def __str__(self) -> str:
        """Write it as tables do: `1d8+1d6+4`, `1d4-1`."""
        parts = "+".join(f"{count}d{sides}" for count, sides in self.dice)
        if not parts:
            return str(self.flat)
        return f"{parts}+{self.flat}" if self.flat > 0 else f"{parts}{self.flat or ''}"


def reroll_gain(roll: Roll, at_most: int) -> Fraction:
    """Return how much higher the mean is where each die that shows `at_most` or less is rolled once more."""
    gain = Fraction(0)
    for count, sides in roll.dice:
        low = min(at_most, sides)
        mean = (Fraction(sum(range(low + 1, sides + 1))) + low * Fraction(sides + 1, 2)) / sides
        gain += count * (mean - Fraction(sides + 1, 2))
    return gain


def mean_not_below_zero(roll: Roll) -> Fraction:
    """Return the mean where totals below 0 count as 0 (damage is never negative)."""
    # Only totals of the dice that the flat number takes below 0 matter, so no others are counted.
    short = min(-roll.flat, sum(count * sides for count, sides in roll.dice) + 1)
    ways = [1] + [0] * max(0, short - 1)
    whole = 1
    for count, sides in roll.dice:
        for _ in range(count):
            ways = _one_more(ways, sides)
            whole *= sides
    lift = sum((-roll.flat - value) * many for value, many in enumerate(ways) if value < -roll.flat)
    return roll.mean + Fraction(lift, whole)


def _one_more(ways: list[int], sides: int) -> list[int]:
    """Return in how many ways each total comes up with one die more: a running sum over the last `sides` totals."""
    after, window = [], 0
    for value in range(len(ways)):
        after.append(window)
        window += ways[value]
        if value >= sides:
            window -= ways[value - sides]
    return after
