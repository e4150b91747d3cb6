"""Rank and percentile of a value among others."""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

# Values that are equal but for rounding in the last places count as equal.
_CLOSE = 1e-9


@dataclass(frozen=True, slots=True)
class Rank:
    """Where a value stands among the references. below, equal: how many are lower, and as high; of: how many in all."""

    value: float
    percentile: float
    below: int
    equal: int
    of: int


def percentile(others: Sequence[float], value: float) -> float:
    """Return the share of the others below a value, in per cent, with those equal to it counted half.

    That is `scipy.stats.percentileofscore(others, value, kind="mean")`. 0 for no others.
    """
    return percentile_sorted(sorted(others), value)


def percentile_sorted(others: Sequence[float], value: float) -> float:
    """Return the percentile among others that go from low to high."""
    below = bisect_left(others, value - _CLOSE)
    up_to = bisect_right(others, value + _CLOSE)
    return 50 * (below + up_to) / len(others) if others else 0.0


def rank(others: Sequence[float], value: float) -> Rank:
    """Return where a value stands among others, in any order."""
    return rank_sorted(sorted(others), value)


def rank_sorted(others: Sequence[float], value: float) -> Rank:
    """Return where a value stands among others that go from low to high."""
    below = bisect_left(others, value - _CLOSE)
    equal = bisect_right(others, value + _CLOSE) - below
    return Rank(value, percentile_sorted(others, value), below, equal, len(others))
