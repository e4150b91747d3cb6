"""Exact arithmetic on counts of outcomes, without numpy.

A list of counts is one long integer with a fixed number of bytes for each value, so that multiplying two of
those integers adds two independent totals (Kronecker substitution). Every result is exact; `fits` says up to
which size this is done.
"""

from __future__ import annotations

import struct
from itertools import accumulate
from math import comb

EXACT_TOTAL = 1 << 128
"""Outcomes a distribution may have (exclusive) while its counts are kept."""

EXACT_BYTES = 16_384
"""Length of the packed counts, in bytes, up to which they are kept."""


KEEP_WORK = 10**9
"""Bound on the digit products of `keep_highest`, some five milliseconds, up to which it counts exactly."""


def slot_bytes(total: int) -> int:
    """Return the bytes one count needs when all counts together are `total`: 8 or 16."""
    return 8 if total.bit_length() <= 64 else 16


def fits(values: int, total: int) -> bool:
    """Return whether counts over `values` neighbouring integers, `total` in all, are kept exactly."""
    return total < EXACT_TOTAL and values * slot_bytes(total) <= EXACT_BYTES


def keep_fits(sides: int, kept: int, total: int) -> bool:
    """Return whether `keep_highest` of dice with `sides` values, `total` outcomes in all, is counted exactly."""
    width = kept * (sides - 1) + 1
    return fits(width, total) and (kept == 1 or kept * sides * sides * width * slot_bytes(total) ** 2 <= KEEP_WORK)


def pack(counts: tuple[int, ...], size: int) -> int:
    """Return the counts as one integer, lowest value first, `size` (8 or 16) bytes each."""
    if size == 8:
        return int.from_bytes(struct.pack(f"<{len(counts)}Q", *counts), "little")
    return int.from_bytes(b"".join(count.to_bytes(16, "little") for count in counts), "little")


def unpack(packed: int, values: int, size: int) -> tuple[int, ...]:
    """Return the `values` counts that `pack` put into one integer."""
    data = packed.to_bytes(values * size, "little")
    if size == 8:
        return struct.unpack(f"<{values}Q", data)
    words = struct.unpack(f"<{2 * values}Q", data)
    return tuple(low | high << 64 for low, high in zip(words[::2], words[1::2], strict=True))


def convolve(left: tuple[int, ...], right: tuple[int, ...], total: int) -> tuple[int, ...]:
    """Return the counts of the sum of two independent results.

    Args:
        left, right: counts over neighbouring integers, lowest first.
        total: product of the two totals; below `EXACT_TOTAL`.
    Returns: `len(left) + len(right) - 1` counts.
    """
    size = slot_bytes(total)
    return unpack(pack(left, size) * pack(right, size), len(left) + len(right) - 1, size)


def power(counts: tuple[int, ...], times: int, total: int) -> tuple[int, ...]:
    """Return the counts of the sum of `times` independent results; `total` is that of one to the power `times`."""
    size = slot_bytes(total)
    return unpack(pack(counts, size) ** times, times * (len(counts) - 1) + 1, size)


def keep_highest(counts: tuple[int, ...], dice: int, kept: int, total: int) -> tuple[int, ...]:
    """Return the counts of the sum of the `kept` highest of `dice` independent results.

    Each outcome is sorted by its lowest kept value and by how many dice lie above that; what lies above is a
    free sum, so one Horner scheme per value is enough, and no outcome is listed.

    Args:
        counts: counts of one die over neighbouring integers, lowest first.
        dice, kept: 1 <= kept <= dice.
        total: total of one die to the power `dice`; below `EXACT_TOTAL`.
    Returns: `kept * (len(counts) - 1) + 1` counts, from kept times the lowest value on.
    """
    if kept == 1:
        reached = [sum_to**dice for sum_to in accumulate(counts)]
        return tuple(upper - lower for lower, upper in zip([0, *reached], reached, strict=False))
    size = slot_bytes(total)
    packed = pack(counts, size)
    answer = 0
    below = 0
    for place, here in enumerate(counts):
        if here:
            above = packed >> 8 * size * (place + 1) << 8 * size
            scheme = 0
            for higher in range(kept - 1, -1, -1):
                rest = dice - higher
                ways = sum(comb(rest, low) * below**low * here ** (rest - low) for low in range(dice - kept + 1))
                scheme = scheme * above + comb(dice, higher) * ways
            answer += scheme << 8 * size * kept * place
        below += here
    return unpack(answer, kept * (len(counts) - 1) + 1, size)
