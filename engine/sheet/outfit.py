"""Gear over the levels: what is carried, worn and wielded from which level on (outline, Meaning, Gear)."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from engine.build.document import Build, Flag, Gain, Item, Lose, Pick
from engine.build.document import Granted as Gift
from engine.rules.catalog import Catalog
from engine.sheet.gathered import LAST_LEVEL, Carried, MissingContent, Outfit, Picked


def flags_of(pick: Pick) -> frozenset[str]:
    """Return the flags in a gear pick's parentheses (`carried`, `attuned`, `off-hand`, `two-handed`)."""
    return frozenset(item.flag for item in pick.items if isinstance(item, Flag))


def outfits(build: Build, catalog: Catalog) -> tuple[tuple[Outfit, ...], list[MissingContent], list[Picked]]:
    """Return the gear level by level, one Outfit from change to change; ids that no folio gives; and what a line
    loses though it is not there."""
    missing: list[MissingContent] = []
    spare: list[Picked] = []
    held: list[Carried] = []
    for i, pick in enumerate(build.gear):
        held.append(_carried(pick, f"/gear/{i}", catalog, 1, missing))
    found: list[Outfit] = []
    start = 1
    for level, class_id, nth, line in build.lines():
        changed = list(held)
        _apply(changed, line.items, f"/levels/{class_id}/{nth}/items", level, class_id, catalog, missing, spare)
        if changed != held:
            if level > 1:
                found.append(_dress(held, start, level - 1))
            start, held = level, changed
    found.append(_dress(held, start, LAST_LEVEL))
    return tuple(found), missing, spare


def _apply(
    held: list[Carried],
    items: Iterable[Item],
    path: str,
    level: int,
    class_id: str,
    catalog: Catalog,
    missing: list[MissingContent],
    spare: list[Picked],
) -> None:
    for i, item in enumerate(items):
        inner, place = item, f"{path}/{i}"
        if isinstance(item, Gift):
            inner, place = item.item, f"{place}/item"
        if isinstance(inner, Gain):
            for j, pick in enumerate(inner.picks):
                held.append(_carried(pick, f"{place}/picks/{j}", catalog, level, missing))
        elif isinstance(inner, Lose):
            for j, pick in enumerate(inner.picks):
                if not _drop(held, pick):
                    spare.append(Picked("lose", pick, f"{place}/picks/{j}", level, class_id))


def _carried(pick: Pick, path: str, catalog: Catalog, level: int, missing: list[MissingContent]) -> Carried:
    item = catalog.item(pick.id)
    if item is None:
        missing.append(MissingContent("item", pick.id, level, path))
    return Carried(path, pick, item, pick.count, flags_of(pick))


def _drop(held: list[Carried], pick: Pick) -> bool:
    # The very thing first; a name without its bonus is enough where there is no other.
    same = [c for c in held if c.pick.id == pick.id and c.pick.bonus == pick.bonus]
    if not same and not pick.bonus:
        same = [c for c in held if c.pick.id == pick.id]
    if not same:
        return False
    left = pick.count
    for thing in same:
        if left <= 0:
            break
        at = next(i for i, c in enumerate(held) if c is thing)
        if thing.count > left:
            held[at] = replace(thing, count=thing.count - left)
            left = 0
        else:
            left -= thing.count
            del held[at]
    return left <= 0


def _dress(held: Sequence[Carried], since: int, until: int) -> Outfit:
    armor = shield = main = off_hand = None
    worn: list[Carried] = []
    for thing in held:
        if thing.item is None or "carried" in thing.flags:
            continue
        body = thing.item.armor
        if thing.held_by_hand:
            if "off-hand" in thing.flags:
                off_hand = off_hand or thing
            else:
                main = main or thing
        elif body is not None and body.group == "shield":
            shield = shield or thing
        elif body is not None:
            armor = armor or thing
        else:
            worn.append(thing)
    return Outfit(since, until, tuple(held), armor, shield, main, off_hand, tuple(worn))
