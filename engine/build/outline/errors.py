"""What is wrong in an outline: one plain sentence per error, with its place."""

from collections.abc import Iterable
from dataclasses import dataclass

# A text with more errors than this is no outline; the rest would help nobody.
MOST: int = 500


@dataclass(frozen=True, slots=True)
class OutlineError:
    """One error of an outline. line and column count from 1 in the text as it was given.

    sentence: what is wrong, what was expected, the nearest known names. expected: the latter part alone (`a spell`).
    nearest: known names, best first; empty where none is near.
    """

    line: int
    column: int
    sentence: str
    expected: str = ""
    nearest: tuple[str, ...] = ()

    def __str__(self) -> str:
        return f"{self.line}:{self.column}: {self.sentence}"


class TooMany(Exception):
    """Raised inside the parser when a text has more than `MOST` errors; it never leaves the package."""


class Errors:
    """The errors of one text, in the order of its lines."""

    def __init__(self) -> None:
        self.found: list[OutlineError] = []

    def add(self, place: tuple[int, int], sentence: str, expected: str = "", nearest: Iterable[str] = ()) -> None:
        """Note an error; a second one at the same place is dropped, since it only follows from the first.

        Raises: TooMany.
        """
        if any((e.line, e.column) == place for e in self.found):
            return
        self.found.append(OutlineError(*place, sentence, expected, tuple(nearest)))
        if len(self.found) >= MOST:
            raise TooMany

    def in_order(self) -> list[OutlineError]:
        """Return all errors by place."""
        return sorted(self.found, key=lambda e: (e.line, e.column))


def listed(words: Iterable[str], last: str = "or") -> str:
    """Return `a, b or c`."""
    *most, end = list(words)
    return f"{', '.join(most)} {last} {end}" if most else end
