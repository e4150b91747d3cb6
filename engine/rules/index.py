"""Every name of a catalogue in one list: found by folded name, offered while it is typed."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from engine.rules.catalog import Catalog, Named
from engine.rules.names import fold, nearest

# In the order in which things of one name are shown. `option` stands for the options of every choice list.
FOUND_KINDS: Final = (
    "spell",
    "feature",
    "item",
    "class",
    "subclass",
    "species",
    "background",
    "feat",
    "creature",
    "condition",
    "state",
    "option",
)
# What gives the features listed under their own names; those of items are told with the item.
_OWNERS: Final = ("class", "subclass", "species", "background")


@dataclass(frozen=True, slots=True)
class Indexed:
    """One thing of the rules. kind: of FOUND_KINDS. address: names it and nothing else (`feature:ranger/extra-attack`).

    label: what people read, with what sets it apart (`Extra Attack (feature, Ranger)`), and the folio that gives it
    where that is not the release (`Tide Sense (feat, Harbour Watch)`).
    """

    kind: str
    named: Named
    label: str
    address: str


class Index:
    """All that a catalogue holds under names that people look for. Names are folded once, when it is made."""

    def __init__(self, catalog: Catalog) -> None:
        self.all: tuple[Indexed, ...] = tuple(_every(catalog))
        names: dict[str, list[Indexed]] = {}
        for each in self.all:
            for form in dict.fromkeys(_forms(each, catalog)):
                names.setdefault(form, []).append(each)
        self._names: dict[str, tuple[Indexed, ...]] = {form: tuple(found) for form, found in names.items()}
        # What is written exactly as it is printed need not be folded.
        self._exact = {each.named.name: self._names[fold(each.named.name)] for each in self.all}
        self._exact.update((each.address, (each,)) for each in self.all)
        self._folded: tuple[tuple[str, Indexed], ...] = tuple((fold(each.label), each) for each in self.all)

    def find(self, name: str, kind: str | None = None) -> tuple[Indexed, ...]:
        """Return everything of that name (or address), in the order of FOUND_KINDS. kind None: of any kind."""
        found = self._exact.get(name) or self._names.get(fold(name), ())
        return found if kind is None else tuple(each for each in found if each.kind == kind)

    def offer(self, text: str, kind: str | None = None, limit: int = 25) -> list[Indexed]:
        """Return things whose label holds the text: those that begin with it first, then by a word, then the rest."""
        wanted = fold(text)
        ranks: tuple[list[Indexed], list[Indexed], list[Indexed]] = ([], [], [])
        start = f" {wanted}"
        for label, each in self._folded:
            if wanted not in label or (kind is not None and each.kind != kind):
                continue
            rank = 0 if label.startswith(wanted) else 1 if start in label else 2
            ranks[rank].append(each)
            if len(ranks[0]) == limit:
                break
        return [*ranks[0], *ranks[1], *ranks[2]][:limit]

    def suggest(self, name: str, kind: str | None = None, limit: int = 3) -> list[str]:
        """Return the printed names nearest to one that nothing has."""
        names = dict.fromkeys(e.named.name for e in self.all if kind is None or e.kind == kind)
        return nearest(name, names, limit)


@lru_cache(maxsize=16)
def index_of(catalog: Catalog) -> Index:
    """Return the index of a catalogue, made once for each."""
    return Index(catalog)


def _every(catalog: Catalog) -> Iterator[Indexed]:
    release = catalog.folios[0].id
    by = {folio.id: "" if folio.id == release else f", {folio.title}" for folio in catalog.folios}
    for kind in FOUND_KINDS:
        if kind == "option":
            for keyword in catalog.keywords():
                chosen = catalog.choice_list(keyword)
                title = (chosen.title or chosen.name) if chosen is not None else keyword
                for named in catalog.every(f"option:{keyword}"):
                    yield Indexed(
                        kind, named, f"{named.name} ({title}{by.get(named.folio, '')})", f"option:{keyword}/{named.id}"
                    )
        elif kind == "feature":
            for named in catalog.every(kind):
                if named.owner is not None and named.owner[0] in _OWNERS:
                    owner = catalog.name_of(*named.owner)
                    address = f"feature:{named.owner[1]}/{named.id}"
                    yield Indexed(kind, named, f"{named.name} (feature, {owner})", address)
        else:
            for named in catalog.every(kind):
                word = catalog.release.species_word.lower() if kind == "species" else kind
                yield Indexed(
                    kind, named, f"{named.name} ({word}{by.get(named.folio, '')})", f"{kind}:{named.folio}/{named.id}"
                )


def _forms(each: Indexed, catalog: Catalog) -> Iterator[str]:
    named = each.named
    names = [named.name, named.id, *(named.entry.also if named.entry is not None else ())]
    yield from map(fold, names)
    yield fold(each.label)
    if named.owner is not None:
        yield fold(f"{catalog.name_of(*named.owner)} {named.name}")
