"""From a text as people paste it to logical lines: plain characters, no quoting marks, fences or comments."""

import re
from bisect import bisect_right
from dataclasses import dataclass
from typing import Final

from engine.build.outline.errors import OutlineError
from engine.build.plain import plain

LONGEST: Final = 200_000
_LINE_END: Final = re.compile("\r\n|[\n\r\v\f\x85\u2028\u2029]")
_NO_TEXT: Final = re.compile("[\x00-\x08\x0e-\x1f]")
# What stands before a line without being part of it: indentation, marks nobody sees, and signs of quoting.
_BEFORE: Final = re.compile("[\\s\ufeff\u200b]*(?:>(?!=)[\\s\ufeff\u200b]*)*")
_FENCE: Final = re.compile(r"(?:`{3,}|~{3,})[ \t]*(?:[A-Za-z0-9_+-]*$)?")
_HEADER: Final = re.compile(
    r"(?:builds?|concepts?|notes?|rules?|folios?|scores?|species|races?|backgrounds?|gears?|prepared|goals?)\s*:", re.I
)


@dataclass(frozen=True, slots=True)
class _Piece:
    """Where a physical line begins in a logical one: offset there; number, text and cut of the physical line."""

    offset: int
    number: int
    line: str
    cut: int


class Logical:
    """One header or level line, joined from the physical lines it goes over."""

    __slots__ = ("_pieces", "text")

    def __init__(self, text: str, number: int, line: str, cut: int) -> None:
        self.text = text
        self._pieces = [_Piece(0, number, line, cut)]

    def go_on(self, text: str, number: int, line: str, cut: int) -> None:
        """Append a physical line."""
        self._pieces.append(_Piece(len(self.text) + 1, number, line, cut))
        self.text = f"{self.text} {text}"

    def place(self, offset: int) -> tuple[int, int]:
        """Return line and column, from 1, in the text as it was given."""
        piece = self._pieces[bisect_right([p.offset for p in self._pieces], max(offset, 0)) - 1]
        rest, wanted = piece.line[piece.cut :], max(offset, 0) - piece.offset
        if rest.isascii():
            return piece.number, piece.cut + wanted + 1
        # Characters were dropped or composed: take the first cut of the raw line that covers the wanted offset.
        low, high = 0, len(rest)
        while low < high:
            middle = (low + high) // 2
            if len(plain(f"{rest[:middle]}|")) - 1 < wanted:
                low = middle + 1
            else:
                high = middle
        return piece.number, piece.cut + low + 1


def logical_lines(text: str) -> list[Logical] | OutlineError:
    """Return the lines of an outline that say something.

    A line that ends in `,` or `;` goes on in the next one, unless that is a header again. Byte-order mark, indentation,
    leading `>`, code fences and comment lines are gone; characters are plain.
    """
    if len(text) > LONGEST:
        return OutlineError(1, 1, f"the text has {len(text):,} characters; an outline may have {LONGEST:,}")
    if no_text := _NO_TEXT.search(text):
        where = text.count("\n", 0, no_text.start()) + 1
        return OutlineError(where, 1, "this is no text but a binary file; an outline is plain text")
    found: list[Logical] = []
    fenced = goes_on = False
    for number, line in enumerate(_LINE_END.split(text), start=1):
        before = _BEFORE.match(line)
        cut = before.end() if before else 0
        if line.startswith(("```", "~~~"), cut):
            fence = _FENCE.match(line, cut)
            cut = fence.end() if fence else cut
            fenced = not fenced or cut < len(line)
        rest = plain(line[cut:])
        if fenced and rest.endswith(("```", "~~~")):
            rest = rest.rstrip("`~").rstrip()
            fenced = False
        if not rest or rest.startswith("#"):
            continue
        if goes_on and not _HEADER.match(rest):
            found[-1].go_on(rest, number, line, cut)
        else:
            found.append(Logical(rest, number, line, cut))
        goes_on = rest.endswith((",", ";"))
    return found
