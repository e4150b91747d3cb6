"""Checking a write-up: which marked numbers are right, which wrong and why, and which numbers bear no mark."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from engine.build.document import NUMBER_NAME, Build
from engine.publish.words import called
from engine.publish.writeup.marks import Mark, Scanned, scan
from engine.publish.writeup.unmarked import Unmarked, unmarked
from engine.publish.writeup.values import is_right, right, written
from engine.rules.catalog import Catalog
from engine.rules.names import nearest
from engine.sheet import Sheet, timeline
from engine.sheet.number import Number, Reason

_TARGET: Final = re.compile(r"(?P<level>\d{1,9})/(?P<name>.+)", re.S)
# What a member reads of a name that somebody typed; the rest would only fill the line.
_LONGEST: Final = 80
HOW: Final = "a mark looks like `[+7](num:4/skill.stealth)`: the number, then level and name"


@dataclass(frozen=True, slots=True)
class Wrong:
    """A marked number that is wrong, or a mark that cannot be read.

    line, column: from 1. written: text of the mark. right: what should stand there; None if the mark has no meaning,
    which `sentence` then explains. name, level: what the mark means, None as far as it cannot be read.
    reasons: of the right number.
    """

    line: int
    column: int
    written: str
    right: str | None
    name: str | None
    level: int | None
    sentence: str
    reasons: tuple[Reason, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Return the outside form."""
        return {
            "line": self.line,
            "written": self.written,
            "right": self.right,
            "name": self.name,
            "level": self.level,
        }


@dataclass(frozen=True, slots=True)
class Checked:
    """What a check found. right: how many marked numbers are right. wrong, unmarked: in the order of the text."""

    right: int
    wrong: tuple[Wrong, ...]
    unmarked: tuple[Unmarked, ...]

    def as_json(self) -> dict[str, Any]:
        """Return the outside form: `{"right", "wrong", "unmarked"}`."""
        return {
            "right": self.right,
            "wrong": [wrong.as_json() for wrong in self.wrong],
            "unmarked": [found.as_json() for found in self.unmarked],
        }


@dataclass(frozen=True, slots=True)
class Meant:
    """What a mark means: a number of the build at a level."""

    name: str
    level: int
    number: Number


class Meanings:
    """Marks to numbers, for one build; the sheets are made once."""

    def __init__(self, build: Build, catalog: Catalog, sheets: Sequence[Sheet] | None = None) -> None:
        """sheets: of levels 1 to the build's last, if they are at hand."""
        self.build = build
        self.catalog = catalog
        self.sheets: Sequence[Sheet] = timeline(build, catalog) if sheets is None else sheets
        self._first: Mapping[str, int] | None = None

    def of(self, mark: Mark) -> Meant | Wrong:
        """Return what a mark means, or why it means nothing."""
        if not mark.inline:
            return self._broken(mark, f"a mark must be written as one piece; {HOW}")
        target = _TARGET.fullmatch(mark.target)
        if target is None:
            return self._broken(mark, f"`num:{_short(mark.target)}` names no level and number; {HOW}")
        level, name = int(target["level"]), target["name"]
        if not 1 <= level <= len(self.sheets):
            has = f"levels 1 to {len(self.sheets)}" if self.sheets else "no levels yet"
            return self._broken(mark, f"there is no level {level} in {self.build.name}, which has {has}", name, level)
        number = self.sheets[level - 1].numbers.get(name)
        if number is None:
            return self._broken(mark, self._no_number(name, level), name, level)
        return Meant(name, level, number)

    def first_level(self, name: str) -> int | None:
        """Return the first level at which the build has a number, None if it never has."""
        if self._first is None:
            self._first = {n: sheet.level for sheet in reversed(self.sheets) for n in sheet.numbers}
        return self._first.get(name)

    def _no_number(self, name: str, level: int) -> str:
        since = self.first_level(name)
        if since is not None and since > level:
            return f"`{name}` does not exist at level {level} yet; this build has it from level {since} on"
        if since is not None:
            return f"`{name}` no longer exists at level {level}"
        if NUMBER_NAME.fullmatch(name) is None:
            return f"`{_short(name)}` cannot be the name of a number; names look like `skill.perception.passive`"
        near = nearest(name, self.sheets[level - 1].numbers)
        hint = f"; nearest: {', '.join(near)}" if near else ""
        return f"this build has no number `{_short(name)}` at level {level}{hint}"

    def _broken(self, mark: Mark, sentence: str, name: str | None = None, level: int | None = None) -> Wrong:
        return Wrong(mark.line, mark.column, mark.text, None, name, level, sentence)


def check(text: str, build: Build, catalog: Catalog, sheets: Sequence[Sheet] | None = None) -> Checked:
    """Return what is right, wrong and unmarked in a write-up of a build.

    A number is right if it is worth the same; sign, emphasis and words around it are the author's. sheets: of levels
    1 to the build's last, if they are at hand; else they are made, which is most of the cost.
    """
    return check_scanned(scan(text), Meanings(build, catalog, sheets))


def check_scanned(scanned: Scanned, meanings: Meanings) -> Checked:
    """Return the same for a text that is scanned already."""
    good = 0
    wrong: list[Wrong] = []
    for mark in scanned.marks:
        meant = meanings.of(mark)
        if isinstance(meant, Wrong):
            wrong.append(meant)
            continue
        part = written(mark.text)
        if is_right(part, meant.number):
            good += 1
            continue
        should = right(part, meant.name, meant.number, after_plus=plus_before(scanned.text, mark))
        words = called(meant.name, meanings.catalog)
        sentence = f"{words} at level {meant.level}: {should}, not {_short(mark.text) or 'empty'}"
        wrong.append(
            Wrong(mark.line, mark.column, mark.text, should, meant.name, meant.level, sentence, meant.number.reasons)
        )
    return Checked(
        good, tuple(wrong), tuple(unmarked(scanned.prose, meanings.build, meanings.catalog, meanings.sheets))
    )


def plus_before(text: str, mark: Mark) -> bool:
    """Tell whether a plus stands right before a mark, so that its number needs none."""
    return text[: mark.start].endswith("+")


def _short(text: str) -> str:
    flat = " ".join(text.split())
    return flat if len(flat) <= _LONGEST else flat[: _LONGEST - 1] + "…"
