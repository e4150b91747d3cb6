"""The title of a proposal: its first change in words, and how many more there are."""

from itertools import zip_longest
from typing import Final

from engine.build.document import Build
from engine.build.outline import print_header
from engine.rules.catalog import Catalog
from engine.services.items import texts_of

LONGEST: Final = 100


def title_of(before: Build, after: Build, catalog: Catalog) -> str:
    """Return a title such as `Level 8: +2 Dex instead of +2 Wis`, at most 100 characters; `No change` for equal builds.

    Levels come before the header, since most proposals are about one of them.
    """
    changes = [*_levels(before, after, catalog), *_header(before, after, catalog)]
    if not changes:
        return "No change"
    more = f" and {len(changes) - 1} more" if len(changes) > 1 else ""
    room = LONGEST - len(more)
    first = changes[0] if len(changes[0]) <= room else f"{changes[0][: room - 1].rstrip()}…"
    return first + more


def _levels(before: Build, after: Build, catalog: Catalog) -> list[str]:
    found = []
    for level, (was, now) in enumerate(zip_longest(before.order, after.order), start=1):
        if was is None:
            found.append(f"Level {level}: {_class(now, catalog)} added")
        elif now is None:
            found.append(f"Level {level}: {_class(was, catalog)} taken away")
        elif was != now:
            found.append(f"Level {level}: {_class(now, catalog)} instead of {_class(was, catalog)}")
        else:
            old, new = _said(before, level, catalog), _said(after, level, catalog)
            if old != new:
                found.append(f"Level {level}: {_exchange(old, new)}")
    return found


def _class(id_: str | None, catalog: Catalog) -> str:
    named = catalog.named("class", id_ or "")
    return named.name if named is not None else str(id_)


def _said(build: Build, level: int, catalog: Catalog) -> list[str]:
    line = next(line for at, _, _, line in build.lines() if at == level)
    hp = [] if line.hp is None else [f"hp {line.hp}" + ("" if line.roll is None else f" #{line.roll}")]
    return hp + texts_of(build, level, catalog)


def _exchange(old: list[str], new: list[str]) -> str:
    gone = [text for text in old if text not in new]
    come = [text for text in new if text not in old]
    if gone and come:
        return f"{', '.join(come)} instead of {', '.join(gone)}"
    if come:
        return f"{', '.join(come)} added"
    if gone:
        return f"{', '.join(gone)} taken away"
    return "another order"


def _header(before: Build, after: Build, catalog: Catalog) -> list[str]:
    old, new = _keys(before, catalog), _keys(after, catalog)
    found = []
    for key in [*new, *(key for key in old if key not in new)]:
        was, now = old.get(key, []), new.get(key, [])
        if was == now:
            continue
        if len(was) == len(now) == 1:
            found.append(f"{key}: {now[0]}")
        elif not was or not now:
            found.append(f"{key} {'added' if now else 'taken away'}")
        else:
            found.append(f"{key} changed")
    return found


def _keys(build: Build, catalog: Catalog) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for line in print_header(build, catalog).splitlines():
        key, _, rest = line.partition(": ")
        found.setdefault(key, []).append(rest)
    return found
