"""Names in running text: the longest one that is known for its kind, and the form in which an id is printed."""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final
from weakref import WeakKeyDictionary

from engine.build.plain import plain
from engine.rules.catalog import Catalog
from engine.rules.content import Background
from engine.rules.names import fold, nearest, slug
from engine.rules.words import ABILITIES, ABILITY_NAMES

# Where a name may end. Names that hold one of these themselves are known by their parts up to each of them.
_MAY_END: Final = re.compile(r"\s*(?:[,;():\"]|\+\d|>=|$)|\s+(?=(?:for|by|at)\s|(?:dc|hp)\s*\d)", re.I)
_LONGEST: Final = 100  # characters of a name as typed; names of content have 80


@dataclass(frozen=True, slots=True)
class Shown:
    """What a kind knows under an id: the printed name first, then other names, and the folio that gives it."""

    id: str
    names: tuple[str, ...]
    folio: str


@dataclass(frozen=True, slots=True)
class Hit:
    """A known name in a text: where it ends and what it may mean; more than one id if folios share the name."""

    end: int
    ids: tuple[str, ...]


class Index:
    """The names of one kind."""

    def __init__(self, catalog: Catalog, kind: str) -> None:
        self.kind = kind
        self.shown: dict[str, Shown] = {}
        self._folios = {fold(f.id): f.id for f in catalog.folios}
        self._by_name: dict[str, list[Shown]] = {}
        self._by_id: dict[str, list[Shown]] = {}
        self._heads: set[str] = set()
        self._forms: dict[str, str | None] = {}
        for shown in _every(catalog, kind):
            self.shown[shown.id] = shown
            for name in shown.names:
                form = fold(name)
                if shown not in (row := self._by_name.setdefault(form, [])):
                    row.append(shown)
                self._heads.update(
                    fold(name[: end.start()]) for end in _MAY_END.finditer(name) if end.start() < len(name)
                )
            self._by_id.setdefault(fold(shown.id.rpartition("/")[2]), []).append(shown)

    def names(self) -> list[str]:
        """Return the printed names."""
        return [shown.names[0] for shown in self.shown.values()]

    def _split(self, text: str) -> tuple[str | None, str]:
        """Tell `folio/name` apart into folio id and name."""
        if "/" in text:
            folio, _, name = text.partition("/")
            if fold(folio) in self._folios:
                return self._folios[fold(folio)], name
        return None, text

    def ids(self, text: str) -> tuple[str, ...]:
        """Return what a whole text names: no id, one, or several that nothing tells apart.

        Of several, one whose name is spelt alike wins, then the one whose id is made of the text.
        """
        folio, name = self._split(text)
        name = name.strip()
        form = fold(name)
        found = [s for s in self._by_name.get(form) or self._by_id.get(form) or () if folio is None or s.folio == folio]
        if len(found) > 1:
            spelt = name.casefold()
            found = [s for s in found if any(n.casefold() == spelt for n in s.names)] or found
            own = slug(name)
            alike = [s for s in found if s.id.rpartition("/")[2] in (own, name)]
            found = alike or found
        # Several owners may give a feature of one id, each with other names of its own.
        return tuple(dict.fromkeys(s.id for s in found))

    def goes_on(self, text: str) -> bool:
        """Tell whether some name begins with the text and goes on behind a place where names may end."""
        return fold(self._split(text)[1]) in self._heads

    def form(self, id_: str) -> str | None:
        """Return the shortest text that names an id and nothing else; None for an id that the kind does not know."""
        if id_ not in self._forms:
            self._forms[id_] = self._find_form(id_)
        return self._forms[id_]

    def _find_form(self, id_: str) -> str | None:
        shown = self.shown.get(id_)
        if shown is None:
            return None
        bare = id_.rpartition("/")[2]
        forms = (*shown.names, bare, *(f"{shown.folio}/{text}" for text in (*shown.names, bare)))
        return next((form for form in forms if self.ids(form) == (id_,)), None)


def _every(catalog: Catalog, kind: str) -> Iterator[Shown]:
    release = catalog.folios[0].id
    if kind == "ability":
        for ability in ABILITIES:
            yield Shown(ability, (ability.title(), ABILITY_NAMES[ability]), release)
    elif kind == "save":
        for ability in ABILITIES:
            full = ABILITY_NAMES[ability]
            short = ability.title()
            yield Shown(ability, (f"{full} saves", f"{short} saves", f"{full} saving throws", short, full), release)
    elif kind == "background-feature":
        for named in catalog.every("background"):
            if isinstance(named.entry, Background):
                for feature in named.entry.features:
                    yield Shown(feature.id, (plain(feature.name),), named.folio)
    else:
        for named in catalog.every(kind):
            held = catalog.named(kind, named.id)
            first = held is None or held.folio == named.folio
            also = named.entry.also if named.entry is not None else ()
            names = tuple(plain(name) for name in (named.name, *also))
            yield Shown(named.id if first else f"{named.folio}/{named.id}", names, named.folio)


_CACHE: WeakKeyDictionary[Catalog, dict[str, Index]] = WeakKeyDictionary()


def index(catalog: Catalog, kind: str) -> Index:
    """Return the names of a kind of a catalogue, gathered once."""
    shelf = _CACHE.setdefault(catalog, {})
    found = shelf.get(kind)
    if found is None:
        found = shelf[kind] = Index(catalog, kind)
    return found


def scan(text: str, pos: int, indexes: Sequence[Index], follow: re.Pattern[str]) -> Hit | None:
    """Return the longest known name that begins at pos and has `follow` behind it; of equal ones the first kind's.

    text[pos] is no blank. None: no name of these kinds begins here.
    """
    best: Hit | None = None
    for names in indexes:
        for place in _MAY_END.finditer(text, pos, min(len(text), pos + _LONGEST)):
            end = place.start()
            piece = text[pos:end]
            if end > (best.end if best else pos) and (ids := names.ids(piece)) and follow.match(text, end):
                best = Hit(end, ids)
            if not names.goes_on(piece):
                break
    return best


def whole(text: str, indexes: Iterable[Index]) -> tuple[str, ...]:
    """Return what a whole text (a quoted name) names: the ids of the first kind that knows it."""
    return next((ids for names in indexes if (ids := names.ids(text))), ())


def suggest(text: str, indexes: Iterable[Index], limit: int = 3) -> list[str]:
    """Return the known names nearest to one that is not known."""
    return _nearest(text, tuple(name for names in indexes for name in names.names()), limit)


@lru_cache(maxsize=256)
def _cached_nearest(text: str, known: tuple[str, ...], limit: int) -> tuple[str, ...]:
    return tuple(nearest(text, known, limit))


def _nearest(text: str, known: tuple[str, ...], limit: int) -> list[str]:
    return list(_cached_nearest(text[:_LONGEST], known, limit))
