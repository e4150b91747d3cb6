"""The single things that a level line says, as outline text: for members who change one without knowing the form."""

from engine.build.document import EMPTY_LINE, Build, Choose, Gain, Item, Line, Lose, Pick
from engine.build.outline import print_level
from engine.problem import Refused
from engine.rules.catalog import Catalog
from engine.rules.names import fold

_SUBCLASS = "subclass "


def place_of(build: Build, level: int) -> tuple[str, int, Line]:
    """Return class id, nth level of that class and line of a character level that the build has."""
    return next((class_id, nth, line) for at, class_id, nth, line in build.lines() if at == level)


def with_line(build: Build, level: int, line: Line) -> Build:
    """Return the build with another line at a character level that it has."""
    class_id, nth, _ = place_of(build, level)
    lines = {n: kept for n, kept in build.levels.get(class_id, {}).items() if n != nth}
    if not line.empty:
        lines[nth] = line
    levels = {id_: kept for id_, kept in build.levels.items() if id_ != class_id}
    if lines:
        levels[class_id] = lines
    return build.model_copy(update={"levels": levels})


def single(items: tuple[Item, ...]) -> list[Item]:
    """Return items that each name one thing: `spells A, B` becomes two."""
    found: list[Item] = []
    for item in items:
        if isinstance(item, Choose | Gain | Lose):
            found += [item.model_copy(update={"picks": (pick,)}) for pick in item.picks]
        else:
            found.append(item)
    return found


def gathered(items: list[Item]) -> tuple[Item, ...]:
    """Return items with picks under one keyword put together again, each at the place of the first of them."""
    found: list[Item] = []
    for item in items:
        if isinstance(item, Choose | Gain | Lose):
            at = next((n for n, other in enumerate(found) if _alike(other, item)), None)
            if at is not None:
                other = found[at]
                assert isinstance(other, Choose | Gain | Lose)
                found[at] = other.model_copy(update={"picks": (*other.picks, *item.picks)})
                continue
        found.append(item)
    return tuple(found)


def _alike(one: Item, other: Item) -> bool:
    if isinstance(one, Choose) and isinstance(other, Choose):
        return (one.keyword, one.of) == (other.keyword, other.of)
    return isinstance(one, Gain | Lose) and type(one) is type(other)


def item_text(build: Build, level: int, item: Item, catalog: Catalog) -> str:
    """Return one item as it would stand on the line of a level."""
    bare = print_level(with_line(build, level, EMPTY_LINE), level, catalog)
    return print_level(with_line(build, level, Line(items=(item,))), level, catalog)[len(bare) + 2 :]


def texts_of(build: Build, level: int, catalog: Catalog) -> list[str]:
    """Return everything that a level's line says, one thing each, in its order; the subclass as `subclass NAME`."""
    class_id, _, line = place_of(build, level)
    del class_id
    found = []
    if line.subclass is not None:
        shown = catalog.subclass(line.subclass)
        found.append(_SUBCLASS + (shown.name if shown is not None else line.subclass))
    return found + [item_text(build, level, item, catalog) for item in single(line.items)]


def choose_text(build: Build, level: int, keyword: str, id_: str, catalog: Catalog) -> str:
    """Return the text of one thing chosen under a keyword, as it would stand on the line of a level."""
    if keyword == "subclass":
        shown = catalog.subclass(id_)
        return _SUBCLASS + (shown.name if shown is not None else id_)
    pick = (Pick(id=id_),)
    if keyword == "gain":
        return item_text(build, level, Gain(picks=pick), catalog)
    return item_text(build, level, Choose(keyword=keyword, picks=pick), catalog)


def without(build: Build, level: int, text: str, catalog: Catalog) -> tuple[Build, int | None] | Refused:
    """Return the build without one thing on a level's line, and the place among its single items where it stood.

    The place is None for the subclass. Refused: "no-such-item", naming what the line says.
    """
    _, _, line = place_of(build, level)
    said = texts_of(build, level, catalog)
    if fold(text) not in map(fold, said):
        what = f"It says: {'; '.join(said)}." if said else "It says nothing beyond its class."
        return Refused("no-such-item", f'The line of level {level} does not say "{text}". {what}')
    at = [fold(each) for each in said].index(fold(text))
    if line.subclass is not None:
        if at == 0:
            return with_line(build, level, line.model_copy(update={"subclass": None})), None
        at -= 1
    kept = single(line.items)
    del kept[at]
    return with_line(build, level, line.model_copy(update={"items": gathered(kept)})), at


def subclass_named(text: str, class_id: str, catalog: Catalog) -> str | Refused | None:
    """Return the id of the subclass that `subclass NAME` names, None if the text is another item.

    Refused: "no-such-item" for a name that is no subclass of the class.
    """
    if not text.casefold().startswith(_SUBCLASS):
        return None
    name = text[len(_SUBCLASS) :].strip()
    known = catalog.subclasses(class_id)
    for subclass in known:
        if fold(name) in (fold(subclass.name), fold(subclass.id)):
            return subclass.id
    return Refused(
        "no-such-item", f'"{name}" is no subclass of this class; known: {", ".join(each.name for each in known)}.'
    )
