"""Weighing builds: standing, chances against creatures, curves. Plain functions of documents, for a worker process.

Documents go in as stored data, and what comes back can be sent between processes, so that none of this holds up the
event loop.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from statistics import median
from textwrap import shorten
from typing import Any, Final

from engine.audit.context import AuditContext
from engine.audit.unfinished import unfinished
from engine.build.document import Build
from engine.build.outline import print_level
from engine.build.reading import read_build
from engine.problem import Refused
from engine.publish.plots import Label, Panel, Plot, Series
from engine.publish.standing import Against, Standing, against, chosen, standing
from engine.publish.words import called, listed, shown
from engine.rules.catalog import Catalog
from engine.rules.names import fold, nearest
from engine.services.library import NONE, Parcel, catalog_of
from engine.sheet import Sheet, timeline

Document = Mapping[str, Any] | Parcel
MOST_BUILDS: Final = 4
MOST_NUMBERS: Final = 3
_LABELS: Final = 3
_LONGEST_LABEL: Final = 52
# Of the platform's alternative texts.
_LONGEST_ALT: Final = 1024


def opened(document: Document) -> tuple[Build, Catalog] | Refused:
    """Return the build of a stored document and its catalogue. Refused: what cannot be read, "no-such-rules".

    document: a bare one is read by what comes with the program; a parcel brings what else it needs.
    """
    plain, others = (document.document, document.others()) if isinstance(document, Parcel) else (document, NONE)
    build = read_build(dict(plain))
    if isinstance(build, Refused):
        return build
    catalog = catalog_of(build, others)
    return catalog if isinstance(catalog, Refused) else (build, catalog)


def standing_of(document: Document) -> Standing | Refused:
    """Return how a build stands among the reference builds of its release."""
    found = opened(document)
    return found if isinstance(found, Refused) else standing(*found)


def against_of(
    document: Document, level: int | None, challenges: str | None, kind: str | None, name: str | None
) -> Against | Refused:
    """Return a build's chances against creatures at a level (None: its last). Refused: "no-such-level", as `chosen`."""
    found = opened(document)
    if isinstance(found, Refused):
        return found
    build, catalog = found
    at = build.top if level is None else level
    if not 1 <= at <= build.top:
        has = f"levels 1 to {build.top}" if build.top else "no levels yet"
        return Refused("no-such-level", f"{build.name} has {has}; level {at} is none of them.")
    some = chosen(catalog, challenges, kind, name)
    return some if isinstance(some, Refused) else against(build, catalog, at, some)


def curve_of(builds: Sequence[tuple[str, Document]], numbers: Sequence[str]) -> Plot | Refused:
    """Return the picture of some numbers of some builds over their levels.

    builds: (label, document), one to four. numbers: one to three, by name or by what they are called. Where a number
    jumps further than it usually does, what was chosen at that level stands beside it.
    Refused: "too-many", "no-such-number" with the nearest names, "no-such-level" for builds without levels.
    """
    if not 1 <= len(builds) <= MOST_BUILDS or not 1 <= len(numbers) <= MOST_NUMBERS:
        return Refused("too-many", f"A curve shows 1 to {MOST_BUILDS} builds and 1 to {MOST_NUMBERS} numbers.")
    sides: list[tuple[str, Build, Catalog, Sequence[Sheet]]] = []
    for label, document in builds:
        found = opened(document)
        if isinstance(found, Refused):
            return found
        if not found[0].top:
            return Refused("no-such-level", f"{found[0].name} has no levels yet.")
        sides.append((label, *found, timeline(*found)))
    names = []
    for text in numbers:
        name = _named(text, sides)
        if isinstance(name, Refused):
            return name
        names.append(name)
    panels = tuple(_panel(name, sides) for name in names)
    words = ", ".join(called(name, sides[0][2]) for name in names)
    partial = [label for label, build, catalog, _ in sides if unfinished(AuditContext.of(build, catalog), build.top)]
    source = f"Worked out by Buildmoot; rules: {sides[0][2].folios[0].title}"
    if partial:
        source += f". Partial, since not finished and counted as they stand: {listed(partial)}"
    top = max(build.top for _, build, _, _ in sides)
    said = " ".join(_said(name, side) for name in names for side in sides)
    title = f"{words[:1].upper()}{words[1:]}, levels 1 to {top}"
    return Plot(
        title=title,
        panels=panels,
        source=source,
        alt=shorten(f"{title}. {said}", _LONGEST_ALT, placeholder="…"),
    )


_Side = tuple[str, Build, Catalog, Sequence[Sheet]]


def _named(text: str, sides: Sequence[_Side]) -> str | Refused:
    every: dict[str, str] = {}
    for _, _, catalog, sheets in sides:
        for sheet in sheets:
            for name, number in sheet.numbers.items():
                if name not in every and not isinstance(number.value, str):
                    every[name] = called(name, catalog)
    if text in every:
        return text
    for name, words in every.items():
        if fold(words) == fold(text):
            return name
    near = nearest(text, [*every.values()])
    hint = f" Nearest: {', '.join(near)}." if near else ""
    return Refused("no-such-number", f'No number of these builds is called "{text.strip()[:60]}".{hint}')


def _values(name: str, side: _Side) -> list[tuple[int, float]]:
    found = []
    for sheet in side[3]:
        number = sheet.numbers.get(name)
        if number is not None and not isinstance(number.value, str):
            found.append((sheet.level, float(number.value)))
    return found


def _panel(name: str, sides: Sequence[_Side]) -> Panel:
    series, labels = [], []
    for side in sides:
        values = _values(name, side)
        series.append(Series(label=side[0], points=tuple((float(level), value) for level, value in values)))
        whose = f"{side[0]}, " if len(sides) > 1 else ""
        labels += [
            Label(x=float(level), y=value, text=f"{whose}level {text}") for level, value, text in _jumps(values, side)
        ]
    words = called(name, sides[0][2])
    return Panel(
        x="level", y=words, series=tuple(series), style="line", percent=False, labels=tuple(labels) if labels else ()
    )


def _jumps(values: Sequence[tuple[int, float]], side: _Side) -> list[tuple[int, float, str]]:
    """Return (level, value, the level's line of the outline) where a number jumps, the few largest.

    Moves that come with every level, or with the proficiency bonus, are none; of a number that moves seldom all are.
    """
    bonus = dict(_values("proficiency_bonus", side))
    moves = [
        (abs(after - before), level, after)
        for (last, before), (level, after) in pairwise(values)
        if after != before and after - before not in _by_level(bonus[level] - bonus[last])
    ]
    if 3 * len(moves) > len(values):
        usual = median(move for move, _, _ in moves)
        moves = [move for move in moves if move[0] > usual]
    large = sorted(moves, key=lambda move: (-move[0], move[1]))[:_LABELS]
    return [(level, value, _choice(side, level)) for _, level, value in sorted(large, key=lambda move: move[1])]


def _by_level(rise: float) -> tuple[float, ...]:
    """Return the moves that come with the level: what the proficiency bonus rises by, or twice that."""
    return (rise, 2 * rise) if rise else ()


def _choice(side: _Side, level: int) -> str:
    _, build, catalog, _ = side
    words = " ".join(print_level(build, level, catalog).split())
    return words if len(words) <= _LONGEST_LABEL else words[: _LONGEST_LABEL - 1] + "…"


def _said(name: str, side: _Side) -> str:
    values = _values(name, side)
    if not values:
        return f"{side[0]} has no {called(name, side[2])}."
    first, last = values[0], values[-1]
    jumps = "; ".join(text for _, _, text in _jumps(values, side))
    return (
        f"{side[0]}: {called(name, side[2])} {shown(name, first[1])} at level {first[0]},"
        f" {shown(name, last[1])} at level {last[0]}{f'; jumps at level {jumps}' if jumps else ''}."
    )
