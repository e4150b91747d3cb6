"""The catalogue: look-ups in one folio and in several, sources, what a folio bars or adds."""

from typing import Any

import pytest

from engine.rules.catalog import Catalog
from engine.rules.content import Entry, Feat, Feature, Item, Species, Spell, Subclass
from engine.rules.folio import Folio, FolioHeader
from engine.rules.loader import read_folio
from engine.store.folio_files import load_shipped

SRD = load_shipped("srd-5.1")
CATALOG = Catalog([SRD])


def homebrew(header: str = "", **files: str) -> Folio:
    """A small folio of a table: files by path with `_` for `/`, without their ending."""
    texts = {f"{path.replace('_', '/')}.yaml": text.encode() for path, text in files.items()}
    texts["folio.yaml"] = f"""
id: tide-guild
title: Tide Guild
version: "2"
licence: CC-BY-4.0
attribution: the guild of coastal cartographers
{header}
""".encode()
    found = read_folio(texts)
    assert isinstance(found, Folio), found
    return found


CHART_SPELLS = """
- id: read-the-tide
  name: Read the Tide
  section: Tide Book
  level: 1
  school: divination
  casting_time: 1 action
  range: self
  duration: 1 hour
  classes: [druid, ranger]
- id: fire-bolt
  name: Fire Bolt
  section: Tide Book
  level: 0
  school: evocation
  casting_time: 1 action
  range: 60 feet
  duration: instantaneous
  classes: [wizard]
"""


def test_a_catalogue_begins_with_a_release() -> None:
    with pytest.raises(ValueError, match="rules release first"):
        Catalog([])
    with pytest.raises(ValueError, match="rules release first"):
        Catalog([homebrew(spells_tide=CHART_SPELLS), SRD])


@pytest.mark.parametrize(
    ("look", "id_", "name"),
    [
        (CATALOG.class_, "rogue", "Rogue"),
        (CATALOG.subclass, "thief", "Thief"),
        (CATALOG.species, "hill-dwarf", "Hill Dwarf"),
        (CATALOG.background, "acolyte", "Acolyte"),
        (CATALOG.feat, "grappler", "Grappler"),
        (CATALOG.spell, "hunters-mark", "Hunter's Mark"),
        (CATALOG.item, "thieves-tools", "Thieves' Tools"),
        (CATALOG.creature, "goblin", "Goblin"),
        (CATALOG.state, "rage", "Rage"),
        (CATALOG.state, "poisoned", "Poisoned"),
        (CATALOG.feature, "reliable-talent", "Reliable Talent"),
    ],
)
def test_looking_up_by_id(look: Any, id_: str, name: str) -> None:
    found: Entry | None = look(id_)
    assert found is not None
    assert (found.id, found.name) == (id_, name)
    assert look("no-such-thing") is None


def test_an_id_of_another_kind_is_not_found() -> None:
    assert CATALOG.spell("rogue") is None
    assert CATALOG.class_("fireball") is None


def test_what_belongs_together() -> None:
    assert [s.id for s in CATALOG.subclasses("rogue")] == ["thief"]
    assert [s.id for s in CATALOG.subspecies("elf")] == ["high-elf"]
    assert CATALOG.subspecies("human") == []
    subclass = CATALOG.subclass("thief")
    assert isinstance(subclass, Subclass)
    assert subclass.of == "rogue"


def test_options_and_keywords() -> None:
    # SRD 5.1, Classes, Fighter, Fighting Style; Races, Dragonborn.
    assert {"style", "ancestry"} <= set(CATALOG.keywords())
    option = CATALOG.option("ancestry", "dragonborn-red")
    assert option is not None
    assert option.name == "Red"
    assert CATALOG.choice_list("no-keyword") is None


def test_sources() -> None:
    assert CATALOG.source("class", "rogue", "Reliable Talent") == "SRD 5.1, Classes, Rogue, Reliable Talent"
    assert CATALOG.source("spell", "mage-armor") == "SRD 5.1, Spellcasting, Spell Descriptions, Mage Armor"
    assert CATALOG.source("spell", "mage-armor", "Mage Armor").count("Mage Armor") == 1
    assert CATALOG.source("spell", "gone") == "SRD 5.1, gone"
    assert CATALOG.rule("multiclass-slots") == "SRD 5.1, Multiclassing, Spell Slots"
    with pytest.raises(KeyError):
        CATALOG.rule("no-such-rule")


def test_names_of_ids() -> None:
    assert CATALOG.name_of("skill", "sleight-of-hand") == "Sleight of Hand"
    assert CATALOG.name_of("skill", "seamanship") == "seamanship"
    assert "Perception" in CATALOG.names("skill")
    assert len(CATALOG.names("skill")) == 18


def test_every_yields_each_thing_once() -> None:
    for kind in ("spell", "item", "creature", "species", "state"):
        ids = [named.id for named in CATALOG.every(kind)]
        assert len(ids) == len(set(ids))


# -- two folios -------------------------------------------------------------------------------------------------


def test_a_name_that_two_folios_give() -> None:
    both = Catalog([SRD, homebrew(spells_tide=CHART_SPELLS)])
    assert {n.folio for n in both.find("spell", "fire bolt")} == {"srd-5.1", "tide-guild"}
    assert [n.folio for n in both.find("spell", "tide-guild/Fire Bolt")] == ["tide-guild"]
    assert [n.folio for n in both.find("spell", "SRD-5.1/fire bolts")] == ["srd-5.1"]
    plain, theirs = both.spell("fire-bolt"), both.spell("tide-guild/fire-bolt")
    assert plain is not None
    assert theirs is not None
    assert (plain.range, theirs.range) == ("120 feet", "60 feet")
    assert both.source("spell", "tide-guild/fire-bolt") == "Tide Guild, Tide Book, Fire Bolt"
    folio = both.folio_of("spell", "read-the-tide")
    assert folio is not None
    assert folio.id == "tide-guild"
    assert both.folio_of("spell", "nothing") is None


def test_a_name_of_one_folio_needs_no_prefix() -> None:
    both = Catalog([SRD, homebrew(spells_tide=CHART_SPELLS)])
    assert [n.id for n in both.find("spell", "read the tide")] == ["read-the-tide"]
    assert "read-the-tide" in {spell.id for spell in both.spells_of("druid")}
    assert both.spells_of("druid") == both.spells_of("druid")


def test_a_slash_inside_a_name_is_no_folio() -> None:
    assert [n.id for n in CATALOG.find("spell", "Blindness/Deafness")] == ["blindness-deafness"]


def test_a_folio_adds_to_spell_lists_and_bars_content() -> None:
    both = Catalog([SRD, homebrew("bars: [counterspell]\nlists: {cleric: [fog-cloud]}")])
    fog, alone = both.spell("fog-cloud"), CATALOG.spell("fog-cloud")
    assert fog is not None
    assert alone is not None
    assert both.on_list(fog, "cleric")
    assert not CATALOG.on_list(alone, "cleric")
    assert both.spell("counterspell") is None
    assert CATALOG.spell("counterspell") is not None
    assert both.find("spell", "Counterspell") == []


def test_an_enchantment_of_another_folios_item() -> None:
    blade = """
id: foam-blade
name: Foam Blade
section: Tide Book
category: magic
magic: {rarity: rare, kind: weapon, base: [shortsword, cutlass], named: "Foam {}"}
features:
  - {id: foam-blade, name: Foam Blade, grants: [{kind: attack-bonus, amount: 1}]}
"""
    cutlass = """
id: cutlass
name: Cutlass
section: Tide Book
category: weapon
weapon: {group: martial, reach: melee, die: 1d6, damage: slashing, properties: [finesse]}
"""
    both = Catalog([SRD, homebrew(items_blade=blade, items_cutlass=cutlass)])
    assert [n.id for n in both.find("item", "Foam Cutlass")] == ["foam-blade-cutlass"]
    made = both.item("foam-blade-cutlass")
    assert made is not None
    assert made.weapon is not None
    assert (made.plain_id, made.weapon.damage) == ("cutlass", "slashing")


def test_other_names_of_an_entry_are_found() -> None:
    assert [n.id for n in CATALOG.find("species", "Lightfoot")] == ["lightfoot-halfling"]
    assert [n.id for n in CATALOG.find("state", "Hasted")] == ["haste"]


def test_tools_are_items_and_features_stand_on_their_own() -> None:
    tool = CATALOG.named("tool", "thieves-tools")
    assert tool is not None
    assert isinstance(tool.entry, Item)
    trait = CATALOG.named("feature", "stonecunning")
    assert trait is not None
    assert isinstance(trait.entry, Feature)


def test_models_of_entries() -> None:
    expected: dict[str, type[Entry]] = {"spell": Spell, "item": Item, "species": Species, "feat": Feat}
    for kind, model in expected.items():
        assert all(isinstance(named.entry, model) for named in CATALOG.every(kind))


def test_headers() -> None:
    assert SRD.title == "SRD 5.1"
    assert isinstance(SRD.header, FolioHeader)
    assert SRD.header.licence.startswith("CC-BY-4.0")
    assert "System Reference Document 5.1" in SRD.header.attribution
