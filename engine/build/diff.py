"""Differences of choices between two build documents, as edits."""

from collections.abc import Iterator
from typing import Any

from engine.build.document import Build, dump
from engine.build.edits import DEFAULTS, Edit, pointer

_PLAIN = ("name", "concept", "rules", "folios")
_LISTS = ("gear", "prepared", "goals", "notes")


def edits_between(before: Build, after: Build) -> tuple[Edit, ...]:
    """Return the edits that turn one build into the other; empty if they are equal.

    Each changed field is one edit: scores ability by ability, level lines as `/levels/rogue/3` with the whole line
    (null where it says nothing), the classes by level as `/order`, other lists whole.
    """
    return tuple(_edits(dump(before), dump(after)))


def _edits(before: dict[str, Any], after: dict[str, Any]) -> Iterator[Edit]:
    for name in _PLAIN:
        yield from _field(before, after, name)
    yield from _parts(before, after, "scores", _scores)
    for name in ("species", "background"):
        yield from _parts(before, after, name, _origin)
    yield from _field(before, after, "order")
    yield from _lines(before.get("levels", {}), after.get("levels", {}))
    for name in _LISTS:
        yield from _field(before, after, name)


def _field(before: dict[str, Any], after: dict[str, Any], *steps: str) -> Iterator[Edit]:
    """Compare the last step in two mappings that both stand at the steps before it."""
    path, key = pointer(*steps), steps[-1]
    old, new = (side.get(key, DEFAULTS.get(path)) for side in (before, after))
    if old != new:
        yield Edit(path=path, before=old, after=new)


def _parts(before: dict[str, Any], after: dict[str, Any], name: str, parts: Any) -> Iterator[Edit]:
    """Compare inside a field that both have, else as a whole."""
    if name in before and name in after:
        yield from parts(before, after, name)
    else:
        yield from _field(before, after, name)


def _scores(before: dict[str, Any], after: dict[str, Any], name: str) -> Iterator[Edit]:
    old, new = before[name], after[name]
    for ability in old["values"]:
        yield from _field(old["values"], new["values"], name, "values", ability)
    for part in ("method", "roll"):
        yield from _field(old, new, name, part)


def _origin(before: dict[str, Any], after: dict[str, Any], name: str) -> Iterator[Edit]:
    old, new = before[name], after[name]
    if all(old.get(key) == new.get(key) for key in ("id", "name")):
        yield from _field(old, new, name, "items")
    else:
        yield from _field(before, after, name)


def _lines(before: dict[str, Any], after: dict[str, Any]) -> Iterator[Edit]:
    for class_id in dict.fromkeys((*before, *after)):
        old, new = before.get(class_id, {}), after.get(class_id, {})
        for nth in sorted({*old, *new}, key=int):
            yield from _field(old, new, "levels", class_id, nth)
