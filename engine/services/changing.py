"""What a member's draft makes of a build: a text in place of a part, or one thing off a line and one thing on it."""

import asyncio
from collections.abc import Iterable
from typing import Final

from engine.build.document import Build
from engine.build.edits import Edit
from engine.build.outline import CatalogFor, OutlineError, print_level, replace_level
from engine.problem import Refused
from engine.rules.catalog import Catalog
from engine.services.items import gathered, place_of, single, subclass_named, with_line, without
from engine.services.texts import level_refusal, part_refusal, replaced
from engine.services.views import Part

# Kinds of drafts that a proposal can be posted from.
PROPOSING: Final = ("propose-text", "propose-change")


def part_of(text: str) -> Part:
    """Return the part that a draft's field names. Raises: ValueError for what no part was stored as."""
    if text == "whole":
        return "whole"
    return "header" if text == "header" else int(text)


def part_of_edits(edits: Iterable[Edit], build: Build) -> Part:
    """Return the part that edits are about: one level of the edited build, its header, or the whole of it."""
    places = {tuple(edit.path.split("/")[1:4]) for edit in edits}
    if all(place[0] not in ("levels", "order") for place in places):
        return "header"
    if len(places) == 1 and (place := next(iter(places)))[0] == "levels" and len(place) == 3:
        for level, class_id, nth, _ in build.lines():
            if (class_id, str(nth)) == place[1:]:
                return level
    return "whole"


async def edited_by(
    base: Build, kind: str, fields: dict[str, str], catalog: Catalog, finder: CatalogFor
) -> Build | list[OutlineError] | Refused:
    """Return what a draft makes of the build it was written for, or every error of its text.

    catalog: of that build; finder: finds that of a text which may name other folios.
    Refused: "no-such-level", "no-such-item", "nothing-changed".
    """
    if kind == "propose-text":
        part = part_of(fields["part"])
        refused = part_refusal(base, part)
        if refused is not None:
            return refused
        by = catalog if isinstance(part, int) else finder
        return await asyncio.to_thread(replaced, base, part, fields["text"], by)
    level, remove, add = int(fields["level"]), fields["remove"], fields["add"]
    return await asyncio.to_thread(changed, base, level, remove.strip(), add.strip(), catalog)


def changed(base: Build, level: int, remove: str, add: str, catalog: Catalog) -> Build | list[OutlineError] | Refused:
    """Return the build with one thing off a level's line and another on it; either may be empty, not both.

    remove, add: items as an outline writes them, the subclass as `subclass NAME`. What is added takes the place of what
    goes. Refused, errors: as `edited_by`.
    """
    refused = level_refusal(base, level)
    if refused is not None:
        return refused
    if not remove and not add:
        return Refused("nothing-changed", "Say what to take off that level, what to add to it, or both.")
    build, at = base, None
    if remove:
        found = without(base, level, remove, catalog)
        if isinstance(found, Refused):
            return found
        build, at = found
    if not add:
        return build
    class_id, _, line = place_of(build, level)
    subclass = subclass_named(add, class_id, catalog)
    if isinstance(subclass, Refused):
        return subclass
    if subclass is not None:
        return with_line(build, level, line.model_copy(update={"subclass": subclass}))
    text = print_level(build, level, catalog)
    read = replace_level(build, level, f"{text}{'; ' if line.items else ': '}{add}", catalog)
    if not isinstance(read, Build):
        return read
    before = len(line.items)
    _, _, longer = place_of(read, level)
    kept, new = single(longer.items[:before]), single(longer.items[before:])
    place = len(kept) if at is None else at
    items = gathered([*kept[:place], *new, *kept[place:]])
    return with_line(read, level, longer.model_copy(update={"items": items}))
