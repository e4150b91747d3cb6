"""Writing the right numbers into a write-up, and taking the marks off; all else stays as it is, byte for byte."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from engine.build.document import Build
from engine.publish.writeup.check import Meanings, Wrong, plus_before
from engine.publish.writeup.marks import Mark, scan
from engine.publish.writeup.values import is_right, right, written
from engine.rules.catalog import Catalog
from engine.sheet import Sheet

# What a text must not begin with at the start of a block, or it would become a list, a heading, a quotation or a rule.
_OPENS_BLOCK: Final = re.compile(
    r"(?P<number>\d{1,9})[.)](?=\s|$)|[-+*](?=\s|$)|>|#{1,6}(?=\s|$)|[=-]+\s*$|(?:[-*_]\s*){3,}$|~~~|```"
)
_LIST_NUMBER: Final = re.compile(r"\d{1,9}")


@dataclass(frozen=True, slots=True)
class Filled:
    """A text with its numbers put right. changed: how many marks got another text. broken: marks left alone."""

    text: str
    changed: int
    broken: tuple[Wrong, ...]


def fill(text: str, build: Build, catalog: Catalog, sheets: Sequence[Sheet] | None = None) -> Filled:
    """Return the text with `?` and every wrong number replaced by the right one; right ones are left as written."""
    meanings = Meanings(build, catalog, sheets)
    changes: list[tuple[int, int, str]] = []
    broken: list[Wrong] = []
    for mark in scan(text).marks:
        meant = meanings.of(mark)
        if isinstance(meant, Wrong):
            broken.append(meant)
            continue
        part = written(mark.text)
        if is_right(part, meant.number):
            continue
        new = right(part, meant.name, meant.number, after_plus=plus_before(text, mark))
        whole = part.start == 0 and part.end == len(mark.text)
        if whole or "\n" in mark.text:
            changes.append((mark.text_start, mark.text_end, new))
        else:
            changes.append((mark.text_start + part.start, mark.text_start + part.end, new))
    return Filled(_replaced(text, changes), len(changes), tuple(broken))


def strip(text: str) -> str:
    """Return the text to publish: every mark replaced by its own text, broken ones too.

    A number that would now begin a list item gets a backslash, which is not shown; nothing else is added or changed.
    """
    changes = []
    for mark in scan(text).marks:
        if mark.inline:
            inner = text[mark.text_start : mark.text_end]
            changes.append((mark.start, mark.end, _guarded(text, mark, inner)))
    return _replaced(text, changes)


def _guarded(text: str, mark: Mark, inner: str) -> str:
    before = re.split(r"[\r\n]", text[: mark.start])[-1]
    if re.sub(r"(?:[>\s]|[-+*]\s|\d{1,9}[.)]\s|\ufeff)*", "", before):
        return inner
    after = text[mark.end : mark.end + 1]
    if _LIST_NUMBER.fullmatch(inner) and after in (".", ")"):
        return f"{inner}\\"
    match = _OPENS_BLOCK.match(inner)
    if match is None:
        return inner
    at = match.end("number") if match["number"] else 0
    return f"{inner[:at]}\\{inner[at:]}"


def _replaced(text: str, changes: Sequence[tuple[int, int, str]]) -> str:
    parts = []
    done = 0
    for start, end, new in changes:
        parts += [text[done:start], new]
        done = end
    return "".join([*parts, text[done:]])
