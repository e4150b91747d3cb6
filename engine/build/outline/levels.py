"""Level lines: `N CLASS (SUBCLASS) hp N #N: items`."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from engine.build.document import Item, Line
from engine.build.outline.cursor import Cursor
from engine.build.outline.errors import Errors
from engine.build.outline.held import Held
from engine.build.outline.items import BEHIND_CLASS, ItemReader, read_items
from engine.build.outline.names import index
from engine.build.outline.text import Logical
from engine.rules.catalog import Catalog
from engine.rules.content import Subclass

LEVEL: Final = re.compile(r"(\d+)(?:\s*-\s*(\d+))?(?=\s|$)")
MOST_LEVELS: Final = 20
_HP: Final = re.compile(r"hp\s*(\d+)(?:\s*#\s*(\d+))?(?!\w)", re.I)
BEHIND_LEVEL_CLASS: Final = re.compile(r"\s*(?:$|[(:])|\s+hp\s*\d", re.I)


@dataclass(frozen=True, slots=True)
class LevelLine:
    """One level line as read. first and last: its character levels; class_id: None if the class is not known.

    What a range says beyond its class holds at its first level.
    """

    first: int
    last: int
    class_id: str | None
    line: Line


def read_level(logical: Logical, catalog: Catalog, held: Held, errors: Errors) -> LevelLine | None:
    """Read one level line; `held` is what the build holds before it and is left as it is.

    None, and an error, if it does not begin with a level or range of levels.
    """
    cursor = Cursor(logical, errors)
    number = cursor.match(LEVEL)
    first = int(number[1][:4]) if number else 0
    last = int((number[2] or number[1])[:4]) if number else 0
    if not 1 <= first <= last <= MOST_LEVELS or (number and number[2] and first == last):
        cursor.wrong(
            f"`{number[0] if number else logical.text[:20]}` is no level or range of levels; expected 1 to "
            f"{MOST_LEVELS}, a range from the lower to the higher one",
            "a level from 1 to 20",
            at=0,
        )
        return None
    reader = ItemReader(cursor, catalog, held)
    class_id = reader.name([index(catalog, "class")], "class", BEHIND_LEVEL_CLASS)
    subclass = read_subclass(reader, class_id) if cursor.here == "(" else None
    hp = _hit_points(cursor, first, last)
    items: tuple[Item, ...] = ()
    if cursor.here and cursor.here != ":":
        cursor.wrong(f"{cursor.shown()} does not follow here; expected `:` before items", "`:` and items")
        cursor.recover(":")
    if cursor.take(":") and not cursor.done:
        items = read_items(cursor, catalog, held, 0)
    return LevelLine(first, last, class_id, Line.model_construct(subclass=subclass, hp=hp[0], roll=hp[1], items=items))


def read_subclass(reader: ItemReader, class_id: str | None) -> str | None:
    """Read `"(" SUBCLASS ")"`; of a name that two classes use, it is that of the line's class."""
    cursor = reader.cursor
    opened = cursor.pos
    cursor.take("(")
    names = index(reader.catalog, "subclass")
    found = reader.candidates([names], BEHIND_CLASS)
    mine = [id_ for id_ in found.ids if _of(reader.catalog, id_) == class_id] if found else []
    if found and len(found.ids) > 1 and len(mine) == 1:
        cursor.go(found.end)
        subclass: str | None = mine[0]
    else:
        subclass = reader.name([names], "subclass", BEHIND_CLASS)
    if subclass is None:
        cursor.recover(")")
    if not cursor.take(")"):
        cursor.wrong("the parenthesis that opens here is never closed; expected `)`", "`)`", at=opened)
    return subclass


def _of(catalog: Catalog, id_: str) -> str | None:
    subclass = catalog.subclass(id_)
    return subclass.of if isinstance(subclass, Subclass) else None


def _hit_points(cursor: Cursor, first: int, last: int) -> tuple[int | None, int | None]:
    at = cursor.pos
    found = cursor.match(_HP)
    if found is None:
        return None, None
    hp, roll = int(found[1][:9]), int(found[2][:15]) if found[2] else None
    if first == 1:
        cursor.wrong("`hp` is refused at level 1: the first level takes the whole hit die", "no `hp`", at=at)
    elif first != last:
        cursor.wrong("`hp` is refused on a range: a roll belongs to one level", "a line for each roll", at=at)
    elif not 1 <= hp <= 20 or roll == 0:
        cursor.wrong("expected a hit die's roll from 1 to 20 behind `hp`, and a roll's number behind `#`", at=at)
    else:
        return hp, roll
    return None, None


def keyed(lines: Sequence[tuple[str, Line]]) -> dict[str, Any]:
    """Return `order` and `levels` of a document whose level lines are these, from level 1 on."""
    levels: dict[str, dict[int, Line]] = {}
    seen: dict[str, int] = {}
    for class_id, line in lines:
        seen[class_id] = seen.get(class_id, 0) + 1
        if not line.empty:
            levels.setdefault(class_id, {})[seen[class_id]] = line
    return {"order": tuple(class_id for class_id, _ in lines), "levels": levels}
