"""A distribution over integers: what every odds question is answered from.

Counts of outcomes are kept as exact integers while they are small enough (`counts.EXACT_TOTAL`,
`counts.EXACT_BYTES`), and an exact distribution needs no numpy. Past that size the mass alone is kept, as
float64 that sums to 1 within 1e-12.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from fractions import Fraction
from itertools import accumulate, pairwise
from math import gcd, lcm, sqrt
from typing import TYPE_CHECKING, Any, final

from engine.odds import counts as exact
from engine.odds import transform

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SUM_TOLERANCE = 1e-9
"""How far given mass may be from 1 before it is an error of the caller; it is scaled to 1 exactly."""


@final
class Distribution:
    """An immutable distribution over the integers `low` .. `high`, some of which may have mass 0.

    Make one with `point`, `die`, `from_counts`, `from_mass` or `mixture`. Two that are combined are
    independent of each other.
    """

    __slots__ = ("_counts", "_low", "_mass", "_total")

    def __init__(self, low: int, counts: tuple[int, ...] | None, total: int, mass: Floats | None) -> None:
        """For this module only: nothing is checked here."""
        self._low = low
        self._counts = counts
        self._total = total
        self._mass = mass

    # Making one

    @classmethod
    def from_counts(cls, low: int, counts: Sequence[int]) -> Distribution:
        """Return the distribution where `counts[i]` of all outcomes give `low + i`.

        Counts that are too many to keep (see `exact`) leave their mass, each value rounded once.

        Raises: ValueError if a count is negative or all are 0.
        """
        if not counts or min(counts) < 0 or not any(counts):
            raise ValueError("counts must be 0 or more, and one of them above 0")
        first = next(place for place, count in enumerate(counts) if count)
        last = next(place for place in range(len(counts) - 1, -1, -1) if counts[place])
        return cls._counted(low + first, tuple(counts[first : last + 1]), sum(counts))

    @classmethod
    def from_mass(cls, low: int, mass: Iterable[float]) -> Distribution:
        """Return the distribution with chance `mass[i]` of `low + i`, scaled to sum to 1.

        Raises: ValueError if a value is negative or the sum is further from 1 than `SUM_TOLERANCE`.
        """
        import numpy as np

        values = np.array(list(mass) if not hasattr(mass, "dtype") else mass, dtype=np.float64)
        if not len(values) or float(values.min()) < 0 or abs(float(values.sum()) - 1) > SUM_TOLERANCE:
            raise ValueError("mass must be 0 or more and sum to 1")
        return cls._weighed(low, values / values.sum())

    @classmethod
    def point(cls, value: int) -> Distribution:
        """Return the distribution that is always `value`."""
        return cls(value, (1,), 1, None)

    @classmethod
    def die(cls, sides: int) -> Distribution:
        """Return a fair die with faces 1 .. `sides`. Raises: ValueError below one side."""
        if sides < 1:
            raise ValueError("a die has at least one side")
        return cls._counted(1, (1,) * sides, sides)

    @classmethod
    def mixture(cls, parts: Sequence[tuple[Fraction | int | float, Distribution]]) -> Distribution:
        """Return the distribution that is each part with the chance of its weight.

        Args:
            parts: (weight, distribution); weights of 0 or more are scaled to sum to 1. Exact weights (int,
                Fraction) of exact distributions stay exact.
        Raises: ValueError if a weight is negative or all are 0.
        """
        used = [(weight, part) for weight, part in parts if weight]
        if not used or any(weight < 0 for weight, _ in used):
            raise ValueError("weights must be 0 or more, and one of them above 0")
        low = min(part.low for _, part in used)
        width = max(part.high for _, part in used) - low + 1
        mixed = _mixed_counts(used, low, width)
        if mixed is not None:
            return cls.from_counts(low, mixed)
        import numpy as np

        mass = np.zeros(width)
        for weight, part in used:
            mass[part.low - low : part.high - low + 1] += float(weight) * part.mass
        return cls._weighed(low, mass / mass.sum())

    @classmethod
    def _counted(cls, low: int, counts: tuple[int, ...], total: int) -> Distribution:
        """Keep counts that fit, else their mass."""
        if exact.fits(len(counts), total):
            return cls(low, counts, total, None)
        import numpy as np

        return cls._weighed(low, np.array([count / total for count in counts]))

    @classmethod
    def _weighed(cls, low: int, mass: Floats) -> Distribution:
        mass.flags.writeable = False
        return cls(low, None, 0, mass)

    # What it says

    @property
    def low(self) -> int:
        """The lowest value in range."""
        return self._low

    @property
    def high(self) -> int:
        """The highest value in range."""
        return self._low + len(self) - 1

    @property
    def exact(self) -> bool:
        """Whether the counts of outcomes are kept."""
        return self._counts is not None

    @property
    def counts(self) -> tuple[int, ...] | None:
        """The outcomes that give `low`, `low + 1`, ..., or None where only the mass is kept."""
        return self._counts

    @property
    def total(self) -> int | None:
        """The number of all outcomes, or None where only the mass is kept."""
        return self._total if self._counts is not None else None

    @property
    def mass(self) -> Floats:
        """The chances of `low`, `low + 1`, ... as a read-only float64 array that sums to 1 within 1e-12."""
        if self._mass is None:
            import numpy as np

            total = self._total
            self._mass = np.array([count / total for count in self._counts or ()])
            self._mass.flags.writeable = False
        return self._mass

    @property
    def support(self) -> tuple[int, ...]:
        """The values that can come up, ascending."""
        return tuple(self.pmf())

    def pmf(self) -> dict[int, float]:
        """Return the chance of every value that can come up, ascending by value."""
        if self._counts is not None:
            total = self._total
            return {value: count / total for value, count in enumerate(self._counts, self._low) if count}
        return {value: chance for value, chance in enumerate(self.mass.tolist(), self._low) if chance}

    def chance(self, value: int) -> float:
        """Return the chance of exactly `value`."""
        place = value - self._low
        if not 0 <= place < len(self):
            return 0.0
        return self._counts[place] / self._total if self._counts is not None else float(self.mass[place])

    def at_least(self, value: int) -> float:
        """Return the chance of `value` or more."""
        share = self.fraction_at_least(value)
        if share is not None:
            return share.numerator / share.denominator
        return min(1.0, float(self.mass[max(0, value - self._low) :].sum())) if value > self._low else 1.0

    def at_most(self, value: int) -> float:
        """Return the chance of `value` or less."""
        if self._counts is not None:
            return (self._total - sum(self._counts[max(0, value + 1 - self._low) :])) / self._total
        return min(1.0, float(self.mass[: max(0, value + 1 - self._low)].sum())) if value < self.high else 1.0

    def fraction_at_least(self, value: int) -> Fraction | None:
        """Return the exact chance of `value` or more in lowest terms, or None where only the mass is kept."""
        outcomes = self.outcomes_at_least(value)
        return None if outcomes is None else Fraction(outcomes, self._total)

    def outcomes_at_least(self, value: int) -> int | None:
        """Return how many of the `total` outcomes give `value` or more, or None where only the mass is kept."""
        return None if self._counts is None else sum(self._counts[max(0, value - self._low) :])

    def tail(self) -> dict[int, float]:
        """Return the chance of at least each value from `low` to `high`."""
        if self._counts is not None:
            sums = list(accumulate(reversed(self._counts)))[::-1]
            return {value: count / self._total for value, count in enumerate(sums, self._low)}
        sums_of_mass = self.mass[::-1].cumsum()[::-1].clip(0.0, 1.0)
        return dict(enumerate(sums_of_mass.tolist(), self._low))

    def quantile(self, share: float) -> int:
        """Return the smallest value that the result does not exceed with a chance of at least `share`.

        Raises: ValueError unless 0 <= share <= 1.
        """
        if not 0 <= share <= 1:
            raise ValueError("a quantile is asked for a share from 0 to 1")
        so_far: float = 0
        # Exact counts are compared as integers; mass leaves room for its own rounding.
        wanted = Fraction(share) * self._total if self._counts is not None else share - 1e-12
        for value, weight in enumerate(self._counts if self._counts is not None else self.mass.tolist(), self._low):
            so_far += weight
            if weight and so_far >= wanted:
                return value
        return self.high

    def mean(self) -> float:
        """Return the expected value."""
        share = self.mean_fraction()
        if share is not None:
            return share.numerator / share.denominator
        import numpy as np

        return self._low + float(np.arange(len(self)) @ self.mass)

    def mean_fraction(self) -> Fraction | None:
        """Return the exact expected value, or None where only the mass is kept."""
        if self._counts is None:
            return None
        return self._low + Fraction(sum(place * count for place, count in enumerate(self._counts)), self._total)

    def sd(self) -> float:
        """Return the standard deviation (of the whole distribution, not of a sample)."""
        if self._counts is not None:
            middle = sum(place * count for place, count in enumerate(self._counts))
            square = sum(place * place * count for place, count in enumerate(self._counts))
            return sqrt(Fraction(square * self._total - middle * middle, self._total * self._total))
        import numpy as np

        away = np.arange(len(self)) - (self.mean() - self._low)
        return sqrt(float((away * away) @ self.mass))

    # Making another from it

    def shift(self, by: int) -> Distribution:
        """Return the distribution of the result plus `by`."""
        return Distribution(self._low + by, self._counts, self._total, self._mass)

    def negate(self) -> Distribution:
        """Return the distribution of minus the result."""
        counts = None if self._counts is None else self._counts[::-1]
        mass = None if self._counts is not None else self.mass[::-1]
        return Distribution(-self.high, counts, self._total, mass)

    def scale(self, factor: int) -> Distribution:
        """Return the distribution of the result times `factor`."""
        return self.map(lambda value: value * factor)

    def half(self) -> Distribution:
        """Return the distribution of half the result, rounded down. Source: SRD 5.1, Rounding Down."""
        return self.map(lambda value: value // 2)

    def at_least_zero(self) -> Distribution:
        """Return the distribution with every result below 0 counted as 0."""
        return self if self._low >= 0 else self.map(lambda value: max(0, value))

    def map(self, change: Callable[[int], int]) -> Distribution:
        """Return the distribution of `change(result)`; values that become equal are added up."""
        values = [change(value) for value in range(self._low, self.high + 1)]
        low = min(values)
        width = max(values) - low + 1
        if self._counts is not None and exact.fits(width, self._total):
            sums = [0] * width
            for value, count in zip(values, self._counts, strict=True):
                sums[value - low] += count
            return Distribution.from_counts(low, sums)
        import numpy as np

        places = np.array(values) - low
        return Distribution._weighed(low, np.bincount(places, self.mass, width).astype(np.float64))

    def plus(self, other: Distribution) -> Distribution:
        """Return the distribution of the sum with an independent result.

        Exact while the counts fit, else `transform.convolve` with its stated error below 1e-12.
        """
        low = self._low + other._low
        total = self._total * other._total
        if self._counts is not None and other._counts is not None:
            if len(other._counts) == 1 or len(self._counts) == 1:
                wide = self if len(other._counts) == 1 else other
                return Distribution(low, wide._counts, wide._total, wide._mass)
            if exact.fits(len(self) + len(other) - 1, total):
                return Distribution(low, exact.convolve(self._counts, other._counts, total), total, None)
        return Distribution._weighed(low, transform.convolve(self.mass, other.mass))

    def times(self, number: int) -> Distribution:
        """Return the distribution of the sum of `number` independent copies; 0 copies are always 0.

        Exact while the counts fit, else `transform.power` with its stated error below 1e-12.

        Raises: ValueError if `number` is negative.
        """
        if number < 0:
            raise ValueError("a result cannot be added up fewer than 0 times")
        if number == 0:
            return Distribution.point(0)
        low = self._low * number
        # The length of the total is known before the power is taken, so a large one is never computed.
        if self._counts is not None and (self._total.bit_length() - 1) * number < 128:
            total = self._total**number
            if exact.fits(number * (len(self) - 1) + 1, total):
                return Distribution(low, exact.power(self._counts, number, total), total, None)
        return Distribution._weighed(low, transform.power(self.mass, number))

    def maximum(self, other: Distribution) -> Distribution:
        """Return the distribution of the higher of two independent results."""
        low = max(self._low, other._low)
        high = max(self.high, other.high)
        total = self._total * other._total
        if self._counts is not None and other._counts is not None and exact.fits(high - low + 1, total):
            left, right = _running(self, low, high), _running(other, low, high)
            both = [a * b for a, b in zip(left, right, strict=True)]
            return Distribution.from_counts(low, [both[0], *(b - a for a, b in pairwise(both))])
        import numpy as np

        both_mass = np.ones(high - low + 1)
        for part in (self, other):
            running = np.ones(high - low + 1)
            reached = part.mass.cumsum()[max(0, low - part.low) :]
            running[: len(reached)] = reached
            both_mass *= running
        mass = np.diff(both_mass, prepend=0.0).clip(0.0)
        return Distribution._weighed(low, mass / mass.sum())

    def minimum(self, other: Distribution) -> Distribution:
        """Return the distribution of the lower of two independent results."""
        return self.negate().maximum(other.negate()).negate()

    def keep_highest(self, dice: int, kept: int) -> Distribution:
        """Return the distribution of the sum of the `kept` highest of `dice` independent copies.

        Exact while the counts of all dice fit, else `transform.keep_highest` with its stated error below
        1e-12.

        Raises: ValueError unless 1 <= kept <= dice.
        """
        if not 1 <= kept <= dice:
            raise ValueError("at least one die is kept, and no more than are rolled")
        if kept == dice or len(self) == 1:
            return self.times(kept)
        low = self._low * kept
        if self._counts is not None and (self._total.bit_length() - 1) * dice < 128:
            total = self._total**dice
            if exact.keep_fits(len(self), kept, total):
                return Distribution(low, exact.keep_highest(self._counts, dice, kept, total), total, None)
        import numpy as np

        if self._counts is not None:
            reached = np.array([count / self._total for count in accumulate(self._counts)])
        else:
            reached = self.mass.cumsum()
            reached /= reached[-1]
        return Distribution._weighed(low, transform.keep_highest(self.mass, reached, dice, kept))

    def keep_lowest(self, dice: int, kept: int) -> Distribution:
        """Return the distribution of the sum of the `kept` lowest of `dice` independent copies."""
        return self.negate().keep_highest(dice, kept).negate()

    def drop_lowest(self, dice: int, dropped: int) -> Distribution:
        """Return the distribution of the sum of `dice` copies without the `dropped` lowest."""
        return self.keep_highest(dice, dice - dropped)

    def drop_highest(self, dice: int, dropped: int) -> Distribution:
        """Return the distribution of the sum of `dice` copies without the `dropped` highest."""
        return self.keep_lowest(dice, dice - dropped)

    def reroll(self, again: Callable[[int], bool]) -> Distribution:
        """Return the distribution where a result that `again` names is rolled once more and the new one stands."""
        if self._counts is not None:
            kept = [0 if again(value) else count for value, count in enumerate(self._counts, self._low)]
            rolled_again = self._total - sum(kept)
            both = [self._total * stays + rolled_again * new for stays, new in zip(kept, self._counts, strict=True)]
            return Distribution.from_counts(self._low, _lowest_terms(both))
        import numpy as np

        stays = np.where([again(value) for value in range(self._low, self.high + 1)], 0.0, self.mass)
        return Distribution._weighed(self._low, stays + (1 - stays.sum()) * self.mass)

    def explode_once(self, critical: Callable[[int], bool]) -> Distribution:
        """Return the distribution where a result that `critical` names adds one more roll, once."""
        parts: list[tuple[Fraction | int | float, Distribution]] = []
        weights: Iterable[int | float] = self._counts if self._counts is not None else self.mass.tolist()
        for value, weight in enumerate(weights, self._low):
            parts.append((weight, self.shift(value) if critical(value) else Distribution.point(value)))
        return Distribution.mixture(parts)

    def condition(self, known: Callable[[int], bool]) -> Distribution:
        """Return the distribution of the results that `known` holds for, given that it holds.

        Raises: ValueError if it holds for no result that can come up.
        """
        if self._counts is not None:
            kept = [count if known(value) else 0 for value, count in enumerate(self._counts, self._low)]
            if not any(kept):
                raise ValueError("the condition has no chance at all")
            return Distribution.from_counts(self._low, _lowest_terms(kept))
        import numpy as np

        mass = np.where([known(value) for value in range(self._low, self.high + 1)], self.mass, 0.0)
        if not mass.any():
            raise ValueError("the condition has no chance at all")
        return Distribution._weighed(self._low, mass / mass.sum())

    # Python's own protocols

    def __len__(self) -> int:
        """Return the number of integers from `low` to `high`."""
        if self._counts is not None:
            return len(self._counts)
        return len(self.mass)

    def __add__(self, other: Distribution | int) -> Distribution:
        return self.shift(other) if isinstance(other, int) else self.plus(other)

    def __sub__(self, other: Distribution | int) -> Distribution:
        return self.shift(-other) if isinstance(other, int) else self.plus(other.negate())

    def __neg__(self) -> Distribution:
        return self.negate()

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Distribution) and self._key() == other._key()

    def __hash__(self) -> int:
        return hash(self._key())

    def __repr__(self) -> str:
        return f"Distribution({self.low} to {self.high}, {'exact' if self.exact else 'float64'})"

    def _key(self) -> tuple[Any, ...]:
        if self._counts is not None:
            return (self._low, tuple(_lowest_terms(self._counts)))
        return (self._low, self.mass.tobytes())


def pmf_json(distribution: Distribution) -> dict[str, float]:
    """Return the chances with the values as text, the form of the outside contract (design, section 9)."""
    return {str(value): chance for value, chance in distribution.pmf().items()}


def as_text(fraction: Fraction | None) -> str | None:
    """Return `a/b` in lowest terms (`1/1` and `0/1` too), or None for None."""
    return None if fraction is None else f"{fraction.numerator}/{fraction.denominator}"


def binomial(number: int, share: Fraction | float) -> Distribution:
    """Return how many of `number` independent tries succeed, each with the chance `share`."""
    return poisson_binomial([share] * number)


def poisson_binomial(shares: Sequence[Fraction | float]) -> Distribution:
    """Return how many of several independent tries succeed, each with its own chance; exact for exact chances."""
    answer = Distribution.point(0)
    common: Mapping[Fraction | float, int] = {share: shares.count(share) for share in dict.fromkeys(shares)}
    for share, number in common.items():
        one = Distribution.mixture([(1 - share, Distribution.point(0)), (share, Distribution.point(1))])
        answer = answer.plus(one.times(number))
    return answer


def _mixed_counts(
    parts: Sequence[tuple[Fraction | int | float, Distribution]], low: int, width: int
) -> list[int] | None:
    """Return the counts of a mixture in lowest terms, or None where something is not exact or does not fit."""
    weights: list[Fraction] = []
    totals: list[int] = []
    for weight, part in parts:
        if isinstance(weight, float) or part.counts is None or part.total is None:
            return None
        weights.append(Fraction(weight))
        totals.append(part.total)
    whole = sum(weights)
    shares = [weight / whole for weight in weights]
    total = lcm(*(share.denominator * count for share, count in zip(shares, totals, strict=True)))
    if not exact.fits(width, total):
        return None
    sums = [0] * width
    for share, (_, part) in zip(shares, parts, strict=True):
        factor = share.numerator * (total // (share.denominator * (part.total or 1)))
        for place, count in enumerate(part.counts or (), part.low - low):
            sums[place] += factor * count
    return _lowest_terms(sums)


def _lowest_terms(counts: Sequence[int]) -> list[int]:
    """Return the counts without the divisor they have in common."""
    common = gcd(*counts)
    return [count // common for count in counts]


def _running(part: Distribution, low: int, high: int) -> list[int]:
    """Return the outcomes that give at most `low`, ..., at most `high`."""
    sums = list(accumulate(part.counts or ()))
    return [0 if value < part.low else sums[min(value, part.high) - part.low] for value in range(low, high + 1)]
