"""The catalogues that builds are read by, and the folios they are made of: each once per process.

Folios that come with the program are found by their ids. Those of servers are kept by their hash, whichever server
brought them, and handed in by whoever has read which of them a build means (`engine.services.shelves`).
"""

import pickle
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from threading import Lock
from types import MappingProxyType
from typing import Any, Final

from engine.build.document import Build, dump
from engine.problem import Refused
from engine.rules.catalog import Catalog
from engine.rules.folio import Folio
from engine.rules.names import fold, nearest
from engine.store.folio_files import load_shipped, shipped_folios

DEFAULT_RULES: Final = "srd-5.1"
NONE: Final[Mapping[str, Folio]] = MappingProxyType({})
# What is kept for the next who asks: entries of all folios of servers, and catalogues made of some.
_MOST_ENTRIES: Final = 40_000
_MOST_CATALOGS: Final = 48
_MOST_PICKLES: Final = 16
_guard: Final = Lock()
_folios: OrderedDict[str, Folio] = OrderedDict()
_catalogs: OrderedDict[tuple[tuple[str, str], ...], Catalog] = OrderedDict()
_pickles: OrderedDict[str, bytes] = OrderedDict()


def held(hash_: str) -> Folio | None:
    """Return a folio of some server that this process has read already, by its hash."""
    with _guard:
        found = _folios.get(hash_)
        if found is not None:
            _folios.move_to_end(hash_)
        return found


def hold(folio: Folio) -> Folio:
    """Keep a folio for whoever asks for its hash next; return the one that is kept. Those asked for longest ago go."""
    with _guard:
        kept = _folios.setdefault(folio.hash, folio)
        _folios.move_to_end(folio.hash)
        entries = sum(map(size_of, _folios.values()))
        while entries > _MOST_ENTRIES and len(_folios) > 1:
            _, gone = _folios.popitem(last=False)
            entries -= size_of(gone)
        return kept


def size_of(folio: Folio) -> int:
    """Return how many entries a folio has."""
    return sum(map(len, folio.entries.values()))


def composed(folios: Sequence[Folio]) -> Catalog:
    """Return the catalogue of some folios, the rules release first; the same folios give the same catalogue.

    Raises: ValueError if the first is no rules release.
    """
    key = tuple((folio.id, folio.hash) for folio in folios)
    with _guard:
        if (kept := _catalogs.get(key)) is not None:
            _catalogs.move_to_end(key)
            return kept
    made = Catalog(folios)
    with _guard:
        kept = _catalogs.setdefault(key, made)
        while len(_catalogs) > _MOST_CATALOGS:
            _catalogs.popitem(last=False)
    return kept


def catalog(rules: str = DEFAULT_RULES, folios: tuple[str, ...] = ()) -> Catalog:
    """Return the catalogue of a rules release and other folios, by their ids.

    Raises: FileNotFoundError for an id that no folio has; ValueError if `rules` is no rules release.
    """
    return composed([load_shipped(id_) for id_ in (rules, *folios)])


def catalog_for(
    rules: str, folios: tuple[str, ...] = (), others: Mapping[str, Folio] = NONE, titles: Sequence[str] = ()
) -> Catalog | Refused:
    """Return the catalogue that an outline asks for; ids as an outline gives them, titles with hyphens for blanks.

    others: folios that do not come with the program, by id. titles: of folios that might have been named.
    Refused: "no-such-rules", "no-such-folio", naming those that are loaded; "other-release".
    """
    shipped = [load_shipped(id_) for id_ in shipped_folios()]
    known = {form: folio for folio in (*shipped, *others.values()) for form in (fold(folio.title), fold(folio.id))}
    release = known.get(fold(rules))
    if release is None:
        loaded = ", ".join(folio.title for folio in shipped)
        return Refused("no-such-rules", f"the rules `{rules}` are not loaded here; loaded: {loaded}")
    if release.release is None:
        return Refused("no-such-rules", f"`{rules}` is no rules release; write it behind `Folios:`")
    found = []
    for asked in folios:
        folio = known.get(fold(asked))
        if folio is None:
            there = [*titles, *(each.title for each in (*shipped, *others.values()) if each.title not in titles)]
            near = nearest(asked, there)
            loaded = f"nearest: {', '.join(near)}" if near else f"loaded: {', '.join(there[:20])}"
            return Refused("no-such-folio", f"the folio `{asked}` is not loaded here; {loaded}")
        if folio.header.extends not in (None, release.id):
            return Refused(
                "other-release",
                f"the folio `{asked}` is made for {folio.header.extends} and the build for {release.title}; take one"
                " that is made for the rules of the build",
            )
        found.append(folio)
    return composed([release, *found])


def catalog_of(build: Build, others: Mapping[str, Folio] = NONE) -> Catalog | Refused:
    """Return the catalogue that a build is read by; folios that are not there are left out, which the audit tells.

    others: folios that do not come with the program, by id, each in the version that the build means.
    Refused: "no-such-rules" if its rules release is not there, without which nothing can be worked out.
    """
    known = set(shipped_folios())
    if build.rules not in known:
        return Refused("no-such-rules", f'This build uses the rules "{build.rules}", which are not loaded here.')
    found = [load_shipped(build.rules)]
    for use in build.folios:
        if use.id in known:
            found.append(load_shipped(use.id))
        elif use.id in others:
            found.append(others[use.id])
    return composed(found)


@dataclass(frozen=True, slots=True)
class Parcel:
    """A build's document with the folios that only its server has: all that a worker process needs to read it.

    folios: id, hash and the pickled folio, made and read by this program alone.
    """

    document: Mapping[str, Any]
    folios: tuple[tuple[str, str, bytes], ...]

    def others(self) -> Mapping[str, Folio]:
        """Return the folios by id; each is read once per process."""
        found = {}
        for id_, hash_, data in self.folios:
            found[id_] = held(hash_) or hold(pickle.loads(data))
        return found


def parcel(build: Build, catalog: Catalog) -> Parcel:
    """Return a build with what its catalogue has beside the shipped folios, to be sent to a worker process."""
    shipped = set(shipped_folios())
    others = [folio for folio in catalog.folios if folio.id not in shipped]
    return Parcel(dump(build), tuple((folio.id, folio.hash, _pickled(folio)) for folio in others))


def _pickled(folio: Folio) -> bytes:
    with _guard:
        if (kept := _pickles.get(folio.hash)) is not None:
            _pickles.move_to_end(folio.hash)
            return kept
    data = pickle.dumps(folio, protocol=pickle.HIGHEST_PROTOCOL)
    with _guard:
        _pickles[folio.hash] = data
        while len(_pickles) > _MOST_PICKLES:
            _pickles.popitem(last=False)
    return data


# The ways of making scores are printed in this later release (see srd-5.1/release.yaml), so it is owed its sentence.
_SRD_5_2_1: Final = (
    "This work includes material from the System Reference Document 5.2.1 (“SRD 5.2.1”) by Wizards of the Coast LLC, "
    "available at https://www.dndbeyond.com/srd. The SRD 5.2.1 is licensed under the Creative Commons Attribution 4.0 "
    "International License, available at https://creativecommons.org/licenses/by/4.0/legalcode."
)


def attributions() -> tuple[str, ...]:
    """Return the sentences that the licences of the shipped folios ask for, and that changes were made."""
    owed = [" ".join(load_shipped(id_).header.attribution.split()) for id_ in shipped_folios()]
    return (*dict.fromkeys([*owed, _SRD_5_2_1]), "Facts were put into our own words and data; changes were made.")
