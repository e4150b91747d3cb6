"""Merging of lists: three ways for lists whose members repeat, and the order of members that are told apart."""

from collections.abc import Hashable, Sequence
from difflib import SequenceMatcher
from typing import TypeVar

Key = TypeVar("Key", bound=Hashable)


def merge_lists(base: Sequence[str], mine: Sequence[str], theirs: Sequence[str]) -> list[str] | None:
    """Return the three-way merge of two changed lists, or None where both changed the same stretch differently."""
    found: list[str] = []
    at = 0
    last: tuple[int, int] | None = None
    # A change that both sides made stands here once. Pure insertions come before a replacement at the same place.
    for start, end, new in sorted({*_replaced(base, mine), *_replaced(base, theirs)}):
        both_insert = last == (start, end) and start == end
        if last is not None and (start < last[1] or both_insert):
            return None
        found += [*base[at:start], *new]
        at, last = end, (start, end)
    return [*found, *base[at:]]


def changes(base: Sequence[str], side: Sequence[str]) -> list[tuple[int, int, int, int]]:
    """Return the stretches that differ, as places in both lists: base[i1:i2] became side[j1:j2].

    What is alike at either end is left alone, since members repeat and any other match of them would be by chance; in
    between, lists of one length are compared place by place.
    """
    start = next((i for i, (a, b) in enumerate(zip(base, side, strict=False)) if a != b), min(len(base), len(side)))
    most = min(len(base), len(side)) - start
    end = next((i for i in range(most) if base[len(base) - 1 - i] != side[len(side) - 1 - i]), most)
    old, new = base[start : len(base) - end], side[start : len(side) - end]
    if len(old) == len(new):
        return _place_by_place(old, new, start)
    blocks = SequenceMatcher(None, old, new, autojunk=False).get_opcodes()
    return [(start + i1, start + i2, start + j1, start + j2) for tag, i1, i2, j1, j2 in blocks if tag != "equal"]


def _place_by_place(old: Sequence[str], new: Sequence[str], start: int) -> list[tuple[int, int, int, int]]:
    found: list[tuple[int, int, int, int]] = []
    for place, (a, b) in enumerate(zip(old, new, strict=True), start=start):
        if a == b:
            continue
        if found and found[-1][1] == place:
            begin = found.pop()[0]
        else:
            begin = place
        found.append((begin, place + 1, begin, place + 1))
    return found


def _replaced(base: Sequence[str], side: Sequence[str]) -> list[tuple[int, int, tuple[str, ...]]]:
    return [(i1, i2, tuple(side[j1:j2])) for i1, i2, j1, j2 in changes(base, side)]


def order_of(keys: list[Key], base: list[Key], mine: list[Key], theirs: list[Key]) -> list[Key]:
    """Return the keys in the order of the side that changed the order, the other side's additions in their places."""
    kept = [key for key in base if key in mine]
    first, second = (theirs, mine) if [key for key in mine if key in base] == kept else (mine, theirs)
    found = [key for key in first if key in keys]
    for place, key in enumerate(second):
        if key not in keys or key in found:
            continue
        before = next((k for k in reversed(second[:place]) if k in found), None)
        behind = next((k for k in second[place:] if k in found), None)
        if before is not None:
            found.insert(found.index(before) + 1, key)
        elif behind is not None:
            found.insert(found.index(behind), key)
        else:
            found.append(key)
    return found
