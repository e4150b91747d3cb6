"""Reading an outline: the whole, its header, or the line of one level."""

import re
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field, replace
from typing import Any, Final, TypeVar

from pydantic import ValidationError

from engine.build.document import EMPTY_LINE, MAX_NAME, MAX_TEXT, Build, Line
from engine.build.outline.cursor import Cursor
from engine.build.outline.errors import Errors, OutlineError, TooMany
from engine.build.outline.goals import read_goal
from engine.build.outline.headers import (
    folio_uses,
    read_folio_names,
    read_gear,
    read_origin,
    read_prepared,
    read_scores,
)
from engine.build.outline.held import Held, held_before, held_by
from engine.build.outline.levels import LEVEL, MOST_LEVELS, LevelLine, keyed, read_level
from engine.build.outline.raw import unwrapped
from engine.build.outline.text import Logical, logical_lines
from engine.problem import Refused
from engine.rules.catalog import Catalog
from engine.rules.names import fold, nearest

# Finds the catalogue of a rules release and folios, named by id (a title arrives in the form of an id: lower case,
# hyphens for blanks); Refused says which of them is not known.
CatalogFor = Callable[[str, tuple[str, ...]], Catalog | Refused]

KEYS: Final = (
    "Build", "Concept", "Rules", "Folios", "Scores", "Species", "Race", "Background",
    "Gear", "Prepared", "Goal", "Note",
)  # fmt: skip
_KEY_OF: Final = {fold(key): "Species" if key == "Race" else key for key in KEYS}
_REPEATED: Final = frozenset({"Gear", "Prepared", "Goal", "Note"})
_KEY: Final = re.compile(r"([^\W\d][^:]{0,39}?)\s*:\s*")
_DEFAULT_RULES: Final = "srd-5.1"
T = TypeVar("T")


@dataclass(slots=True)
class _Text:
    """The lines of a text by what they are. headers: key -> (line, place behind the colon)."""

    headers: dict[str, list[tuple[Logical, int]]] = field(default_factory=dict)
    levels: list[Logical] = field(default_factory=list)

    def cursors(self, key: str, errors: Errors) -> list[Cursor]:
        """Return a cursor behind the colon of every line with the key."""
        return [Cursor(line, errors, pos) for line, pos in self.headers.get(key, ())]


# -- what callers use -------------------------------------------------------------------------------------------


def parse_outline(text: str, catalog_for: CatalogFor | Catalog) -> Build | list[OutlineError]:
    """Return the build that an outline describes, or every error in it, in the order of the text.

    catalog_for: the catalogue, or what finds it for the rules and folios that the text names. Builds that are
    incomplete or illegal are read like others; only wrong grammar and unknown names are errors.
    """

    def work(errors: Errors) -> Build | None:
        lines = _sorted(text, errors)
        if lines is None:
            return None
        catalog, fields = _header(lines, catalog_for, errors)
        if catalog is None:
            return None
        held = held_by(fields.get("species"), fields.get("background"))
        levels = _levels(lines.levels, catalog, held, errors)
        return None if errors.found else _document({**fields, **keyed(levels)}, errors)

    return _outcome(work)


@dataclass(frozen=True, slots=True)
class NamedFolio:
    """A folio that an outline names: by title or id, as written, with the version and hash behind it, empty if none."""

    name: str
    version: str = ""
    hash: str = ""


def named_folios(text: str) -> tuple[NamedFolio, ...]:
    """Return the folios that an outline names; what is wrong in the text is told when it is read."""
    errors = Errors()
    found: list[NamedFolio] = []
    with suppress(TooMany):
        lines = _sorted(text, errors)
        for cursor in lines.cursors("Folios", errors)[:1] if lines is not None else ():
            for _, name, details in read_folio_names(cursor):
                found.append(NamedFolio(name, details.get("version", ""), details.get("hash", "")))
    return tuple(found)


def replace_header(build: Build, text: str, catalog_for: CatalogFor | Catalog) -> Build | list[OutlineError]:
    """Return the build with another header: what the text leaves out is gone, the levels stay.

    text: header lines only, as `print_header` gives them.
    """

    def work(errors: Errors) -> Build | None:
        lines = _sorted(text, errors)
        if lines is None:
            return None
        for level in lines.levels:
            errors.add(level.place(0), "a level line does not belong into the header", "a header such as `Gear:`")
        _, fields = _header(lines, catalog_for, errors)
        levels = {"order": build.order, "levels": build.levels}
        return None if errors.found else _document({**fields, **levels}, errors)

    return _outcome(work)


def replace_level(build: Build, level: int, text: str, catalog: Catalog) -> Build | list[OutlineError]:
    """Return the build with another line at one character level; its class may change too.

    level: 1 to one beyond the build's last level. text: that one level line, as `print_level` gives it; an empty text
    takes the build's last level away.
    """

    def work(errors: Errors) -> Build | None:
        lines = [(class_id, line) for _, class_id, _, line in build.lines()]
        if not 1 <= level <= min(len(lines) + 1, MOST_LEVELS):
            sentence = f"the build has {len(lines)} levels; level {level} is neither one of them nor the next"
            errors.add((1, 1), sentence, "a level of the build or the next one")
            return None
        if not text.strip() and level == len(lines):
            return _document({**_kept(build), **keyed(lines[:-1])}, errors)
        read = _one_level(text, level, catalog, held_before(build, level), errors)
        if read is None or read.class_id is None or errors.found:
            return None
        lines[level - 1 : level] = [(read.class_id, read.line)]
        return _document({**_kept(build), **keyed(lines)}, errors)

    return _outcome(work)


def parse_line(
    text: str, catalog: Catalog, build: Build | None = None, level: int | None = None
) -> LevelLine | list[OutlineError]:
    """Return one level line as read, or its errors.

    build: what it belongs to, so that a swap finds what it swaps. level: the character level it must be, if given.
    """

    def work(errors: Errors) -> LevelLine | None:
        held = held_before(build, level or MOST_LEVELS + 1) if build else Held()
        read = _one_level(text, level, catalog, held, errors)
        # Parts are read without validation, which a whole document gets in the end; this line stands alone.
        return replace(read, line=Line.model_validate(read.line)) if read is not None and not errors.found else None

    return _outcome(work)


def _outcome(work: Callable[[Errors], T | None]) -> T | list[OutlineError]:
    errors = Errors()
    found: T | None = None
    with suppress(TooMany):  # the errors found so far are more than anyone mends at once
        found = work(errors)
    return errors.in_order() if errors.found or found is None else found


# -- lines ------------------------------------------------------------------------------------------------------


def _sorted(text: str, errors: Errors) -> _Text | None:
    """Return the lines by key, or None, and an error, if the text is none."""
    logical = logical_lines(text)
    if isinstance(logical, OutlineError):
        errors.found.append(logical)
        return None
    if not logical:
        errors.add((1, 1), "the text is empty; an outline begins with a line such as `Build: Reed Warden`", "`Build:`")
        return None
    lines = _Text()
    for line in logical:
        if LEVEL.match(line.text):
            lines.levels.append(line)
            continue
        key = _key(line, errors)
        if key is None:
            continue
        name, pos = key
        if name in lines.headers and name not in _REPEATED:
            errors.add(line.place(0), f"`{name}:` stands here a second time; it may stand once", "another header")
        lines.headers.setdefault(name, []).append((line, pos))
    return lines


def _key(line: Logical, errors: Errors) -> tuple[str, int] | None:
    found = _KEY.match(line.text)
    name = _KEY_OF.get(fold(found[1])) if found else None
    if found and name:
        return name, found.end()
    expected = "a header such as `Gear:` or a level line such as `3 Rogue`"
    near = nearest(found[1], KEYS) if found else []
    shown = f"`{found[1]}:`" if found else f"`{line.text[:30]}`"
    hint = f"; nearest: {', '.join(near)}" if near else ""
    errors.add(line.place(0), f"{shown} opens no line of an outline; expected {expected}{hint}", expected, near)
    return None


def _one_level(text: str, level: int | None, catalog: Catalog, held: Held, errors: Errors) -> LevelLine | None:
    logical = logical_lines(text)
    wanted = "one level line" if level is None else f"one level line that begins with `{level}`"
    if isinstance(logical, OutlineError):
        errors.found.append(logical)
        return None
    if len(logical) != 1 or not LEVEL.match(logical[0].text):
        place = logical[1].place(0) if len(logical) > 1 else (1, 1)
        errors.add(place, f"expected {wanted} and nothing else", wanted)
        return None
    read = read_level(logical[0], catalog, held, errors)
    if read is not None and level is not None and (read.first, read.last) != (level, level):
        errors.add(logical[0].place(0), f"only the line of level {level} can stand here; expected {wanted}", wanted)
    return read


def _levels(lines: list[Logical], catalog: Catalog, held: Held, errors: Errors) -> list[tuple[str, Line]]:
    """Read all level lines; they run from 1 on without gap or repeat."""
    found: list[tuple[str, Line]] = []
    due = 1
    for logical in lines:
        read = read_level(logical, catalog, held, errors)
        if read is None:
            continue
        if read.first != due:
            what = "again" if read.first < due else "too early"
            sentence = f"level {read.first} comes {what}; levels run in order without gap or repeat, so {due} is due"
            errors.add(logical.place(0), sentence, f"level {due}")
        due = read.last + 1
        held.line(read.line.items)
        found.append((read.class_id or "", read.line))
        found += [(read.class_id or "", EMPTY_LINE)] * (read.last - read.first)
    return found


# -- header -----------------------------------------------------------------------------------------------------


def _header(lines: _Text, catalog_for: CatalogFor | Catalog, errors: Errors) -> tuple[Catalog | None, dict[str, Any]]:
    """Read the header lines; the catalogue is None, and an error noted, if rules or folios are not known."""
    fields: dict[str, Any] = {}
    if "Build" not in lines.headers:
        errors.add((1, 1), "the outline has no name; expected a line such as `Build: Reed Warden`", "`Build: NAME`")
    for key, most in (("Build", MAX_NAME), ("Concept", MAX_TEXT)):
        for cursor in lines.cursors(key, errors)[:1]:
            text = _raw(cursor, key, most, empty=key == "Concept")
            fields["name" if key == "Build" else "concept"] = text or None
    fields["notes"] = tuple(text for c in lines.cursors("Note", errors) if (text := _raw(c, "Note", MAX_TEXT)))
    catalog = _catalog(lines, catalog_for, fields, errors)
    if catalog is None:
        return None, fields
    for cursor in lines.cursors("Scores", errors)[:1]:
        fields["scores"] = read_scores(cursor)
    for cursor in lines.cursors("Species", errors)[:1]:
        fields["species"] = read_origin(cursor, catalog, "species")
    for cursor in lines.cursors("Background", errors)[:1]:
        fields["background"] = read_origin(cursor, catalog, "background")
    fields["gear"] = tuple(pick for c in lines.cursors("Gear", errors) for pick in read_gear(c, catalog))
    fields["prepared"] = tuple(p for c in lines.cursors("Prepared", errors) if (p := read_prepared(c, catalog)))
    fields["goals"] = tuple(goal for c in lines.cursors("Goal", errors) if (goal := read_goal(c, catalog)))
    return catalog, fields


def _raw(cursor: Cursor, key: str, most: int, *, empty: bool = False) -> str:
    text = unwrapped(cursor.text[cursor.pos :])
    if not text and not empty:
        cursor.wrong(f"`{key}:` needs a text behind it", "a text")
    if len(text) > most:
        cursor.wrong(f"`{key}:` has {len(text):,} characters; it may have {most:,}", f"{most:,} characters at most")
    return text


def _catalog(lines: _Text, catalog_for: CatalogFor | Catalog, fields: dict[str, Any], errors: Errors) -> Catalog | None:
    rules = next(iter(lines.cursors("Rules", errors)), None)
    folios = next(iter(lines.cursors("Folios", errors)), None)
    written = unwrapped(rules.text[rules.pos :]) if rules else ""
    if rules and not written:
        rules.wrong("`Rules:` needs a rules release behind it, such as `SRD 5.1`", "a rules release")
        return None
    named_at = folios.pos if folios else 0
    names = read_folio_names(folios) if folios else []
    if isinstance(catalog_for, Catalog):
        catalog = catalog_for
        release = catalog.folios[0]
        if rules and fold(written) not in (fold(release.id), fold(release.title)):
            title = release.title
            rules.wrong(f"the rules `{written}` are not loaded; loaded: {title}", "loaded rules", at=rules.pos)
            return None
    else:
        answer = catalog_for(_id(written) if rules else _DEFAULT_RULES, tuple(_id(name) for _, name, _ in names))
        if isinstance(answer, Refused):
            # The refusal names what is not known; without a folio in it, it is about the rules.
            about_folios = folios and any(part in answer.sentence for _, n, _ in names for part in (n, _id(n)))
            place = (1, 1)
            if folios and (about_folios or not rules):
                place = folios.line.place(named_at)
            elif rules:
                place = rules.line.place(rules.pos)
            errors.add(place, answer.sentence, "known rules and folios")
            return None
        catalog = answer
    fields["rules"] = catalog.folios[0].id
    if folios:
        fields["folios"] = folio_uses(names, catalog, folios)
    return catalog


def _id(name: str) -> str:
    return "-".join(name.casefold().split())


def _kept(build: Build) -> dict[str, Any]:
    """Return the fields of a build as they are, the models in them untouched."""
    return {name: getattr(build, name) for name in Build.model_fields if name != "schema_"}


def _document(fields: dict[str, Any], errors: Errors) -> Build | None:
    try:
        return Build(**fields)
    except ValidationError as error:
        sentence = error.errors(include_url=False)[0]["msg"].removeprefix("Value error, ")
        errors.add((1, 1), f"the outline makes no build: {sentence}")
        return None
