"""A place in a logical line: what stands there, and going on from it."""

import re
from collections.abc import Iterable
from typing import Final

from engine.build.outline.errors import Errors
from engine.build.outline.text import Logical

_BLANK: Final = re.compile(r"\s*")
QUOTED: Final = re.compile(r'"((?:[^"]|"")*)"')
# Text that can stand without quotes.
_RUN: Final = re.compile(r"[^,;():\"]+")


def quoted(text: str) -> str:
    """Return text in quotes; a quote inside is doubled."""
    return '"' + text.replace('"', '""') + '"'


class Cursor:
    """Reads one logical line from left to right and notes what is wrong."""

    def __init__(self, line: Logical, errors: Errors, pos: int = 0) -> None:
        self.line = line
        self.text = line.text
        self.errors = errors
        self.pos = pos
        self.skip_blanks()

    def skip_blanks(self) -> None:
        """Go on to the next character that is no blank."""
        blank = _BLANK.match(self.text, self.pos)
        self.pos = blank.end() if blank else self.pos

    @property
    def done(self) -> bool:
        """Whether the line ends here."""
        return self.pos >= len(self.text)

    @property
    def here(self) -> str:
        """The character at the place; empty at the end."""
        return self.text[self.pos : self.pos + 1]

    def go(self, pos: int) -> None:
        """Go on to a place and past the blanks there."""
        self.pos = pos
        self.skip_blanks()

    def take(self, char: str) -> bool:
        """Go past a character if it stands here."""
        if self.here != char:
            return False
        self.go(self.pos + 1)
        return True

    def match(self, pattern: re.Pattern[str]) -> re.Match[str] | None:
        """Go past what a pattern matches here; None if it does not."""
        found = pattern.match(self.text, self.pos)
        if found is not None:
            self.go(found.end())
        return found

    def quoted(self) -> str | None:
        """Go past a text in quotes and return it without them; None, and an error, if the closing quote is missing.

        The caller has seen the opening quote.
        """
        found = self.match(QUOTED)
        if found is None:
            self.wrong("the quote that opens here is never closed; a quote inside a name is doubled", "a closing quote")
            self.pos = len(self.text)
            return None
        return found[1].replace('""', '"')

    def run(self) -> str:
        """Go past the text up to the next `, ; ( ) : "` and return it without blanks at its end."""
        found = self.match(_RUN)
        return found[0].rstrip() if found else ""

    def wrong(self, sentence: str, expected: str = "", nearest: Iterable[str] = (), at: int | None = None) -> None:
        """Note an error, here or at another place of the line."""
        near = list(nearest)
        if near:
            sentence = f"{sentence}; nearest: {', '.join(near)}"
        self.errors.add(self.line.place(self.pos if at is None else at), sentence, expected, near)

    def shown(self) -> str:
        """Return what stands here in short, for a sentence."""
        rest = self.text[self.pos :]
        return f"`{rest[:30]}…`" if len(rest) > 31 else f"`{rest}`" if rest else "the end of the line"

    def recover(self, stops: str) -> None:
        """Go on to the next of the characters outside quotes and inner parentheses, or to the end."""
        depth = 0
        while not self.done:
            char = self.here
            if depth == 0 and char in stops:
                return
            if char == '"':
                found = QUOTED.match(self.text, self.pos)
                self.pos = found.end() if found else len(self.text)
                continue
            if char == "(":
                depth += 1
            elif char == ")":
                depth = max(0, depth - 1)
            self.pos += 1
        self.pos = min(self.pos, len(self.text))
