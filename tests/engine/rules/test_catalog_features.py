"""Features that several owners give: each can be looked up and stands with its own source."""

from collections import Counter

import pytest

from bot.filecommands.facts import fact
from engine.rules.catalog import Catalog
from engine.rules.content import ChoiceList, Feature
from engine.rules.content.entry import Featured
from engine.store.folio_files import load_shipped


@pytest.fixture(scope="module")
def catalog() -> Catalog:
    return Catalog([load_shipped("srd-5.1")])


def test_every_feature_of_every_owner_is_listed_once(catalog: Catalog) -> None:
    expected: Counter[tuple[str, str, str]] = Counter()
    for kind, entry in load_shipped("srd-5.1").all():
        if isinstance(entry, Featured):
            expected.update((kind, entry.id, feature.id) for feature in entry.features)
        elif isinstance(entry, ChoiceList):
            expected.update((kind, entry.id, option.id) for option in entry.options)
    found = Counter((*n.owner, n.id) for n in catalog.every("feature") if n.owner is not None)
    assert found == expected
    assert max(found.values()) == 1
    assert all(n.owner is not None for n in catalog.every("feature"))


def test_a_feature_of_several_owners_is_found_for_each(catalog: Catalog) -> None:
    # SRD 5.1, Classes: five classes have Extra Attack; the fighter's grows to four attacks.
    found = catalog.find("feature", "extra attacks")
    owners = {"barbarian", "fighter", "monk", "paladin", "ranger"}
    assert {n.owner for n in found} == {("class", owner) for owner in owners}
    for owner in owners:
        (one,) = catalog.find("feature", f"{owner.upper()}/Extra Attack")
        assert one.owner == ("class", owner)
        held = catalog.named("feature", f"{owner}/extra-attack")
        assert held == one
        name = catalog.name_of("class", owner)
        assert catalog.source("feature", f"{owner}/extra-attack") == f"SRD 5.1, Classes, {name}, Extra Attack"
    fighters = catalog.feature("fighter/extra-attack")
    assert isinstance(fighters, Feature)
    assert [g.number.constant for g in fighters.grants if g.kind == "attacks"] == [2, 3, 4]
    assert catalog.feature("extra-attack") == found[0].entry


def test_other_names_of_an_owner_lead_to_its_features(catalog: Catalog) -> None:
    (one,) = catalog.find("feature", "Champion/Remarkable Athlete")
    assert one.owner == ("subclass", "champion")
    assert catalog.find("feature", "Lore/Cutting Words") == catalog.find("feature", "college-of-lore/cutting-words")
    assert catalog.find("feature", "Thief/Cutting Words") == []
    assert catalog.find("feature", "srd-5.1/Cutting Words") == catalog.find("feature", "Cutting Words")


def test_facts_of_a_feature_name_its_owner_and_source(catalog: Catalog) -> None:
    for named in catalog.every("feature"):
        data = fact(named, catalog)
        assert named.owner is not None
        assert data["owner"]["id"] == named.owner[1]
        assert data["source"].startswith("SRD 5.1, ")
        assert data["owner"]["name"] in data["source"]
        assert data["source"].endswith(named.name)
