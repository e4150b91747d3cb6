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
    for start, end, new in sorted({*_changes(base, mine), *_changes(base, theirs)}):
        both_insert = last == (start, end) and start == end
        if last is not None and (start < last[1] or both_insert):
            return None
        found += [*base[at:start], *new]
        at, last = end, (start, end)
    return [*found, *base[at:]]


def _changes(base: Sequence[str], side: Sequence[str]) -> list[tuple[int, int, tuple[str, ...]]]:
    matcher = SequenceMatcher(None, base, side, autojunk=False)
    return [(i1, i2, tuple(side[j1:j2])) for tag, i1, i2, j1, j2 in matcher.get_opcodes() if tag != "equal"]


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
