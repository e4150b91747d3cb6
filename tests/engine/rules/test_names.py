"""Names: how they are compared, made into ids, and found although they are misspelt."""

import string

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.rules.catalog import Catalog
from engine.rules.names import fold, is_id, nearest, slug
from engine.store.folio_files import load_shipped

CATALOG = Catalog([load_shipped("srd-5.1")])
KINDS = ("spell", "item", "species", "class", "skill", "language", "creature", "condition", "feat", "background")


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Hunter's Mark", "hunters mark"),
        ("Hunter’s Mark", "HUNTER'S MARK"),
        ("Half-Elf", "half elf"),
        ("Half-Elf", "half-elves"),
        ("Dwarf", "dwarves"),
        ("Torch", "torches"),
        ("Arrow", "arrows"),
        ("Pixie", "pixies"),
        ("Zombie", "zombies"),
        ("Deity", "deities"),
        ("Cutlass", "cutlasses"),
        ("Thieves' Cant", "thieves cant"),
        ("Café", "cafe"),
        ("Sleight of Hand", "sleight  of hand"),
        ("blindness/deafness", "Blindness Deafness"),
        ("Staff", "staves"),
    ],
)
def test_the_same_name(one: str, other: str) -> None:
    assert fold(one) == fold(other)


@pytest.mark.parametrize(
    ("one", "other"), [("Glass", "Glas"), ("Lotus", "Lotu"), ("Chassis", "Chassi"), ("Bless", "Ble"), ("Elf", "Eel")]
)
def test_different_names(one: str, other: str) -> None:
    assert fold(one) != fold(other)


@settings(deadline=None)
@given(st.text(alphabet=string.ascii_letters + " '’-éü", max_size=30))
def test_folding_twice_changes_nothing_for_words_without_plurals(name: str) -> None:
    once = fold(name)
    assert fold(once.upper()) == fold(once)


@settings(deadline=None)
@given(st.text(alphabet=string.ascii_letters + string.digits + " '-/", min_size=1, max_size=40))
def test_a_slug_is_an_id_or_empty(name: str) -> None:
    made = slug(name)
    assert made == "" or is_id(made)


@pytest.mark.parametrize(
    ("name", "id_"),
    [("Hunter's Mark", "hunters-mark"), ("Blindness/Deafness", "blindness-deafness"), ("Ünger’s Öl", "ungers-ol")],
)
def test_slugs(name: str, id_: str) -> None:
    assert slug(name) == id_


@pytest.mark.parametrize("text", ["fire-bolt", "srd-5.1/fire-bolt", "a", "x1-2"])
def test_ids(text: str) -> None:
    assert is_id(text)


@pytest.mark.parametrize("text", ["Fire-Bolt", "fire--bolt", "-fire", "fire.bolt", "a/b/c", "", "fire bolt"])
def test_no_ids(text: str) -> None:
    assert not is_id(text)


@pytest.mark.parametrize("kind", KINDS)
def test_every_name_is_found_whatever_the_case(kind: str) -> None:
    for named in CATALOG.every(kind):
        for written in (named.name.upper(), named.name.lower(), named.name.replace("'", "’"), named.id):
            assert named.id in {found.id for found in CATALOG.find(kind, written)}, written


@pytest.mark.parametrize("kind", KINDS)
def test_no_two_things_of_a_kind_share_a_name(kind: str) -> None:
    for named in CATALOG.every(kind):
        assert [found.id for found in CATALOG.find(kind, named.name)] == [named.id]


@pytest.mark.parametrize(
    ("kind", "written", "meant"),
    [
        ("spell", "Hunters Mrak", "Hunter's Mark"),
        ("spell", "firebal", "Fireball"),
        ("skill", "Percepton", "Perception"),
        ("item", "Lether Armor", "Leather Armor"),
        ("species", "Halfelf", "Half-Elf"),
        ("class", "Rouge", "Rogue"),
    ],
)
def test_the_nearest_name_is_suggested(kind: str, written: str, meant: str) -> None:
    assert meant in CATALOG.suggest(kind, written)


def test_nothing_is_suggested_for_nonsense() -> None:
    assert nearest("qqqqqq", ["Fireball", "Perception"]) == []
    assert len(nearest("fire", ["fire bolt", "fire storm", "wall of fire", "fire shield"])) == 3
