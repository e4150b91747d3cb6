"""The index of names: everything of a catalogue, each under an address of its own."""

from collections import Counter

import pytest

from engine.rules.catalog import Catalog
from engine.rules.index import FOUND_KINDS, index_of
from engine.rules.names import fold
from engine.store.folio_files import load_shipped


@pytest.fixture(scope="module")
def release() -> Catalog:
    return Catalog([load_shipped("srd-5.1")])


def test_everything_is_listed_once_under_its_own_address(release: Catalog) -> None:
    index = index_of(release)
    addresses = Counter(each.address for each in index.all)
    assert max(addresses.values()) == 1
    assert max(len(address) for address in addresses) <= 100
    counts = Counter(each.kind for each in index.all)
    assert set(counts) == set(FOUND_KINDS)
    for kind in (
        "spell",
        "item",
        "class",
        "subclass",
        "species",
        "background",
        "feat",
        "creature",
        "condition",
        "state",
    ):
        assert counts[kind] == len(list(release.every(kind)))
    # SRD 5.1: 319 spells (reference NOTES B), twelve classes.
    assert counts["spell"] == 319
    assert counts["class"] == 12
    assert counts["option"] == sum(len(list(release.every(f"option:{k}"))) for k in release.keywords())


def test_addresses_and_labels_lead_back(release: Catalog) -> None:
    index = index_of(release)
    for each in index.all:
        assert index.find(each.address) == (each,)
        assert each in index.find(each.named.name)
        assert each in index.find(each.label, each.kind)
        assert each in index.find(each.named.name.upper(), each.kind)


def test_an_offer_is_what_a_plain_search_finds(release: Catalog) -> None:
    """Every offer holds the text; what begins with it comes first; none is left out while there is room."""
    index = index_of(release)
    for text in ("fire", "a", "extra attack", "wolf", "+1", "dragon (creature)", "zz", ""):
        for kind in (None, "spell", "creature"):
            offered = index.offer(text, kind)
            holding = [e for e in index.all if fold(text) in fold(e.label) and kind in (None, e.kind)]
            assert len(offered) == min(25, len(holding))
            assert all(e in holding for e in offered)
            starts = [fold(e.label).startswith(fold(text)) for e in offered]
            assert starts == sorted(starts, reverse=True)


def test_names_nearby_are_suggested(release: Catalog) -> None:
    index = index_of(release)
    assert index.find("Fireballl") == ()
    assert index.suggest("Fireballl")[0] == "Fireball"
    assert index.suggest("adult red dragn", "creature")[0] == "Adult Red Dragon"
    assert index.find("Barbarian Extra Attack")[0].label == "Extra Attack (feature, Barbarian)"
