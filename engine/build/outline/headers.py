"""Header lines: scores, species and background, folios, gear, prepared lists."""

import re
from typing import Final

from engine.build.document import MAX_ID, MAX_NAME, FolioUse, Item, Origin, Pick, Preparation, ScoreMethod, Scores
from engine.build.outline.cursor import Cursor
from engine.build.outline.held import Held
from engine.build.outline.items import BEHIND_CLASS, ItemReader, read_items
from engine.build.outline.keywords import BUILT_IN, GEAR
from engine.build.outline.names import index
from engine.rules.catalog import Catalog
from engine.rules.names import fold, nearest
from engine.rules.words import ABILITIES, ABILITY_NAMES, Ability

METHODS: Final[dict[ScoreMethod, str]] = {
    "standard-array": "standard array",
    "point-buy": "point buy",
    "rolled": "rolled",
    "manual": "manual",
    "final": "final",
}
_ABILITIES: Final[dict[str, Ability]] = {
    **{a: a for a in ABILITIES},
    **{ABILITY_NAMES[a].casefold(): a for a in ABILITIES},
}
BEHIND_ORIGIN: Final = re.compile(r"\s*(?:$|\()")
_CUSTOM: Final = re.compile(r"\(\s*custom\s*(;?)", re.I)
_SCORE: Final = re.compile(r"([A-Za-z]+)\s*(\d+)")
_METHOD: Final = re.compile(r"([A-Za-z][A-Za-z -]*?)\s*(?:#\s*(\d+)\s*)?\)")
_DETAIL: Final = re.compile(r"(version|hash)(?=\s|\")\s*", re.I)
_BARE: Final = re.compile(r"[^\s,;():\"]+")


def ends(cursor: Cursor) -> bool:
    """Tell whether the line ends here, and note an error if it does not."""
    if not cursor.done:
        cursor.wrong(f"{cursor.shown()} does not follow here; the line ends before it", "the end of the line")
    return cursor.done


# -- scores -----------------------------------------------------------------------------------------------------


def read_scores(cursor: Cursor) -> Scores | None:
    """Read `Str 8, Dex 15, ... (METHOD)`; without a method they are `manual`. None, and an error, if that fails."""
    values: dict[Ability, int] = {}
    start, fine = cursor.pos, True
    while not cursor.done and cursor.here != "(":
        fine = _read_score(cursor, values) and fine
        if not cursor.take(","):
            break
    missing = [a.title() for a in ABILITIES if a not in values]
    if missing and fine:
        cursor.wrong(f"all six scores are needed; missing: {', '.join(missing)}", "six scores", at=start)
        fine = False
    method: tuple[ScoreMethod, int | None] | None = ("manual", None)
    if cursor.take("("):
        method = _read_method(cursor)
    if method is None or not ends(cursor) or not fine:
        return None
    return Scores.model_construct(values={a: values[a] for a in ABILITIES}, method=method[0], roll=method[1])


def _read_score(cursor: Cursor, values: dict[Ability, int]) -> bool:
    at = cursor.pos
    found = cursor.match(_SCORE)
    ability = _ABILITIES.get(found[1].casefold()) if found else None
    if found is None or ability is None:
        near = nearest(found[1], [a.title() for a in ABILITIES]) if found else []
        what = f"`{found[0]}`" if found else cursor.shown()
        cursor.wrong(f"{what} is no ability score; expected one such as `Dex 15`", "an ability score", near, at=at)
        cursor.recover(",(")
        return False
    fine = ability not in values and 1 <= int(found[2][:9]) <= 30
    if ability in values:
        cursor.wrong(f"{ability.title()} has two scores here; each ability has one", "another ability", at=at)
    elif not fine:
        cursor.wrong(f"a score of {found[2]} is out of range; expected 1 to 30", "a score from 1 to 30", at=at)
    values[ability] = int(found[2]) if fine else 1
    return fine


def _read_method(cursor: Cursor) -> tuple[ScoreMethod, int | None] | None:
    at = cursor.pos
    said = cursor.match(_METHOD)
    named = next((id_ for id_, name in METHODS.items() if said and fold(said[1]) == fold(name)), None)
    if said is None or named is None or (said[2] and named != "rolled"):
        words = ", ".join(f"`{name}`" for name in METHODS.values())
        near = nearest(said[1], METHODS.values()) if said and named is None else []
        cursor.wrong(
            f"this is no way of making scores; expected {words} or `rolled #ID`", "a way of making scores", near, at=at
        )
        cursor.pos = len(cursor.text)
        return None
    if said[2] and not 1 <= int(said[2]) < 2**53:
        cursor.wrong(f"`#{said[2]}` is the number of no roll", "the number of a roll", at=at)
        return None
    return named, int(said[2]) if said[2] else None


# -- species and background -------------------------------------------------------------------------------------


def read_origin(cursor: Cursor, catalog: Catalog, kind: str) -> Origin | None:
    """Read `NAME [ "(" items ")" ]` of a species or background; None, and an error, if that fails.

    kind: `species`, or `background`, which may be one's own if its parentheses begin with `custom`.
    """
    start = cursor.pos
    reader = ItemReader(cursor, catalog, Held())
    may_be_own = kind == "background"
    own = reader.own_name() if may_be_own else None
    id_: str | None = None
    if own is None:
        hint = "; one of one's own begins its parentheses with `custom`" if may_be_own else ""
        id_ = reader.name([index(catalog, kind)], kind, BEHIND_ORIGIN, hint)
    items: tuple[Item, ...] = ()
    opened = cursor.pos
    if cursor.take("("):
        custom = _CUSTOM.match(cursor.text, opened) if own is not None else None
        if custom:
            cursor.go(custom.end())
        if custom is None or custom[1]:
            items = read_items(cursor, catalog, Held(), 1)
        if not cursor.take(")"):
            cursor.wrong("the parenthesis that opens here is never closed; expected `)`", "`)`", at=opened)
    if not ends(cursor):
        return None
    if own is None:
        return Origin.model_construct(id=id_, items=items) if id_ is not None else None
    if not 0 < len(own) <= MAX_NAME:
        cursor.wrong(f"the name of a background has 1 to {MAX_NAME} characters", "a shorter name", at=start)
        return None
    return Origin.model_construct(name=own, items=items)


# -- lists ------------------------------------------------------------------------------------------------------


def read_gear(cursor: Cursor, catalog: Catalog) -> tuple[Pick, ...]:
    """Read the choices of a gear line; what cannot be read is noted and left out."""
    picks = ItemReader(cursor, catalog, Held()).choices(GEAR, 0)
    ends(cursor)
    return picks


def read_prepared(cursor: Cursor, catalog: Catalog) -> Preparation | None:
    """Read `[ "(" CLASS ")" ] choices` of a prepared list; None, and an error, if that fails."""
    reader = ItemReader(cursor, catalog, Held())
    of: str | None = None
    if cursor.take("("):
        of = reader.name([index(catalog, "class")], "class", BEHIND_CLASS)
        if of is None:
            cursor.recover(")")
        if not cursor.take(")"):
            cursor.wrong(f"{cursor.shown()} does not follow a class here; expected `)`", "`)`")
    picks = reader.choices(BUILT_IN["prepare"], 0)
    return Preparation.model_construct(of=of, picks=picks) if ends(cursor) and picks else None


def read_folio_names(cursor: Cursor) -> list[tuple[int, str, dict[str, str]]]:
    """Read `NAME [ "(" "version" V ";" "hash" H ")" ] { "," ... }`: place, name and details of each folio."""
    found: list[tuple[int, str, dict[str, str]]] = []
    while True:
        at = cursor.pos
        name = (cursor.quoted() or "") if cursor.here == '"' else cursor.run()
        if not 0 < len(name) <= MAX_ID:
            cursor.wrong(f"expected the name or id of a folio, not {cursor.shown()}", "a folio", at=at)
            cursor.recover(",")
        else:
            found.append((at, name, _read_details(cursor)))
        if not cursor.take(","):
            ends(cursor)
            return found


def _read_details(cursor: Cursor) -> dict[str, str]:
    details: dict[str, str] = {}
    opened = cursor.pos
    if not cursor.take("("):
        return details
    while word := cursor.match(_DETAIL):
        value = cursor.quoted() if cursor.here == '"' else None
        bare = cursor.match(_BARE) if value is None else None
        details[word[1].lower()] = (value if value is not None else bare[0] if bare else "")[:MAX_ID]
        if not cursor.take(";"):
            break
    if not details or not cursor.take(")"):
        cursor.wrong("expected `(version V; hash H)` behind the folio", "`version` or `hash`", at=opened)
        cursor.recover(",")
    return details


def folio_uses(names: list[tuple[int, str, dict[str, str]]], catalog: Catalog, cursor: Cursor) -> tuple[FolioUse, ...]:
    """Return the folios that a line names, with version and hash of the loaded ones where the line says none."""
    loaded = {form: folio for folio in catalog.folios[1:] for form in (fold(folio.id), fold(folio.title))}
    found: list[FolioUse] = []
    for at, name, details in names:
        folio = loaded.get(fold(name))
        if folio is None:
            titles = [f.title for f in catalog.folios[1:]]
            known = f"; loaded beside {catalog.folios[0].title}: {', '.join(titles)}" if titles else ""
            cursor.wrong(f"the folio `{name}` is not loaded{known}", "a loaded folio", nearest(name, titles), at=at)
            continue
        found.append(
            FolioUse.model_construct(
                id=folio.id,
                version=details.get("version", "" if details else folio.header.version),
                hash=details.get("hash", "" if details else folio.hash),
            )
        )
    return tuple(found)
