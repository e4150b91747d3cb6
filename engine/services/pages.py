"""Pages of lists: one row more is read than shown, which tells whether another page follows without counting."""

from collections.abc import Sequence
from typing import TypeVar

from engine.services.views import Page

T = TypeVar("T")
LAST = 100_000


def page_number(asked: int) -> int:
    """Return a page number from 1 on, whatever was asked for."""
    return max(1, min(asked, LAST))


def paged(rows: Sequence[T], number: int, size: int) -> Page[T]:
    """Return a page of rows that were read with one more than its size."""
    return Page(tuple(rows[:size]), number, len(rows) > size)
