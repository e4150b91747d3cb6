"""The catalogues that builds are read by, made once per process from the folios that come with the program."""

from functools import lru_cache
from typing import Final

from engine.build.document import Build
from engine.problem import Refused
from engine.rules.catalog import Catalog
from engine.store.folio_files import load_shipped, shipped_folios

DEFAULT_RULES: Final = "srd-5.1"


@lru_cache(maxsize=16)
def _catalog(rules: str, folios: tuple[str, ...]) -> Catalog:
    return Catalog([load_shipped(id_) for id_ in (rules, *folios)])


def catalog(rules: str = DEFAULT_RULES, folios: tuple[str, ...] = ()) -> Catalog:
    """Return the catalogue of a rules release and other folios, by their ids.

    Raises: FileNotFoundError for an id that no folio has; ValueError if `rules` is no rules release.
    """
    return _catalog(rules, folios)


def catalog_for(rules: str, folios: tuple[str, ...] = ()) -> Catalog | Refused:
    """Return the catalogue that an outline asks for; ids as an outline gives them, titles with hyphens for blanks.

    Refused: "no-such-rules", "no-such-folio", naming those that are loaded.
    """
    known = {_id(load_shipped(id_).title): id_ for id_ in shipped_folios()} | {id_: id_ for id_ in shipped_folios()}
    for asked in (rules, *folios):
        if asked not in known:
            titles = ", ".join(load_shipped(id_).title for id_ in shipped_folios())
            if asked == rules:
                return Refused("no-such-rules", f"the rules `{asked}` are not loaded here; loaded: {titles}")
            return Refused("no-such-folio", f"the folio `{asked}` is not loaded here; loaded: {titles}")
    if load_shipped(known[rules]).release is None:
        return Refused("no-such-rules", f"`{rules}` is no rules release; write it behind `Folios:`")
    return catalog(known[rules], tuple(known[folio] for folio in folios))


def _id(title: str) -> str:
    return "-".join(title.casefold().split())


def catalog_of(build: Build) -> Catalog | Refused:
    """Return the catalogue that a build is read by; folios that are not there are left out, which the audit tells.

    Refused: "no-such-rules" if its rules release is not there, without which nothing can be worked out.
    """
    known = set(shipped_folios())
    if build.rules not in known:
        return Refused("no-such-rules", f'This build uses the rules "{build.rules}", which are not loaded here.')
    return catalog(build.rules, tuple(use.id for use in build.folios if use.id in known))


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
