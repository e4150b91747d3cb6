"""The items of folio srd-5.1 against two sources of figures.

Source: SRD 5.1, Equipment, and Magic Items, as read by tests/reference/text_equipment.py and text_magic_items.py, and
the open data set; where they differ, the side that tests/reference says is right.
"""

import re
from typing import Any

import pytest

from engine.rules.catalog import Catalog
from engine.rules.content import Item, Species
from engine.rules.enchanted import enchantments
from engine.rules.grants.attacks import AttackBonus, DamageBonus
from engine.rules.grants.body import ArmorBonus
from engine.rules.grants.casting import CastingBonus
from engine.rules.grants.rolls import SaveBonus
from engine.rules.grants.scores import AbilitySet
from engine.rules.names import slug
from engine.store.folio_files import load_shipped
from tests.engine.rules.believed import believed, text_only

CATALOG = Catalog([load_shipped("srd-5.1")])
WEAPONS, ARMOR, EQUIPMENT = believed("weapons"), believed("armor"), believed("equipment")
MAGIC = believed("magic-items")

# Printed names that are turned round, or carry a measure, where the folio has the name as people write it.
OTHER_IDS = {
    "acid-vial": "acid",
    "alchemists-fire-flask": "alchemists-fire",
    "antitoxin-vial": "antitoxin",
    "arrows-20": "arrow",
    "ball-bearings-bag-of-1000": "ball-bearing",
    "blowgun-needles-50": "blowgun-needle",
    "bottle-glass": "glass-bottle",
    "caltrops-bag-of-20": "caltrops",
    "case-crossbow-bolt": "crossbow-bolt-case",
    "case-map-or-scroll": "map-or-scroll-case",
    "chain-10-feet": "chain",
    "chalk-1-piece": "chalk",
    "crossbow-bolts-20": "crossbow-bolt",
    "feed-per-day": "animal-feed",
    "hammer-sledge": "sledgehammer",
    "holy-water-flask": "holy-water",
    "ink-1-ounce-bottle": "ink",
    "ladder-10-foot": "ladder",
    "mirror-steel": "steel-mirror",
    "oil-flask": "oil",
    "paper-one-sheet": "paper",
    "parchment-one-sheet": "parchment",
    "perfume-vial": "perfume",
    "pick-miners": "miners-pick",
    "poison-basic-vial": "basic-poison",
    "pole-10-foot": "pole",
    "pot-iron": "iron-pot",
    "ram-portable": "portable-ram",
    "rations-1-day": "rations",
    "rope-hempen-50-feet": "hempen-rope",
    "rope-silk-50-feet": "silk-rope",
    "scale-merchants": "merchants-scale",
    "sling-bullets-20": "sling-bullet",
    "spikes-iron-10": "iron-spike",
    "stabling-per-day": "stabling",
    "string-10-feet": "string",
    "tent-two-person": "two-person-tent",
    **{name: f"{name}-armor" for name in ("padded", "leather", "studded-leather", "hide", "splint", "plate")},
}
TURNED = re.compile(r"(crossbow|clothes|lantern|horse|barding|saddle)-(.+)")


def item(id_: str) -> Item:
    """The folio's item for an id of the figures."""
    turned = TURNED.fullmatch(id_)
    own = OTHER_IDS.get(id_) or (f"{turned[2]}-{turned[1]}" if turned else id_)
    found = CATALOG.item(own)
    assert found is not None, own
    return found


@pytest.mark.parametrize("id_", sorted(WEAPONS))
def test_weapon(id_: str) -> None:
    # SRD 5.1, Equipment, Weapons.
    thing, cells = item(id_), WEAPONS[id_]
    assert thing.weapon is not None
    assert thing.category == "weapon"
    assert thing.cost_cp == cells["cost_cp"]
    assert thing.weight == cells["weight"]
    assert thing.weapon.group == cells["category"]
    assert thing.weapon.reach == cells["style"]
    assert thing.weapon.die == cells["dice"]
    assert thing.weapon.damage == cells["damage_type"]
    assert sorted(thing.weapon.properties) == sorted(cells["properties"])
    assert thing.weapon.versatile == cells["versatile"]
    assert (list(thing.weapon.range) if thing.weapon.range else None) == cells["range"]


@pytest.mark.parametrize("id_", sorted(ARMOR))
def test_armor(id_: str) -> None:
    # SRD 5.1, Equipment, Armor: the Dexterity modifier counts in full, up to two, or not at all.
    thing, cells = item(id_), ARMOR[id_]
    assert thing.armor is not None
    assert (thing.cost_cp, thing.weight) == (cells["cost_cp"], cells["weight"])
    assert thing.armor.group == cells["category"]
    assert thing.armor.ac == cells["armor_class"]
    assert thing.armor.strength == (cells["strength"] or None)
    assert thing.armor.stealth_disadvantage == cells["stealth_disadvantage"]
    if thing.armor.group != "shield":
        assert thing.armor.dex_cap == (cells["dex_max"] if cells["dex"] else 0)


@pytest.mark.parametrize("id_", sorted(EQUIPMENT))
def test_equipment(id_: str) -> None:
    # SRD 5.1, Equipment, Adventuring Gear; Tools; Mounts and Vehicles. Cost and weight are those of the bundle.
    thing, cells = item(id_), EQUIPMENT[id_]
    if cells["cost_cp"]:  # what stands only inside packs has no printed price
        assert thing.cost_cp == cells["cost_cp"]
        # The rowboat's weight stands in the prose: SRD 5.1, Mounts and Vehicles, Rowed Vessels.
        assert (thing.weight or 0) == (100 if id_ == "rowboat" else cells.get("weight") or 0)
    assert thing.bundle == cells.get("quantity", 1)
    group = cells.get("group")
    assert group in (None, "ammunition") or group in thing.groups
    if group == "ammunition":
        assert thing.category == "ammunition"
    if "speed" in cells:
        assert thing.speed == f"{cells['speed']} " + ("feet" if "capacity" in cells else "miles an hour")
    if "capacity" in cells:
        assert thing.capacity == f"{cells['capacity']} pounds"


def test_tools_are_the_tools_of_the_release() -> None:
    # SRD 5.1, Equipment, Tools: 17 artisan's tools, 2 gaming sets, 10 instruments, 6 others, and vehicles.
    groups: dict[str, int] = {}
    for named in CATALOG.every("tool"):
        assert isinstance(named.entry, Item)
        group = next(iter(named.entry.groups), "other")
        groups[group] = groups.get(group, 0) + 1
    assert groups == {"artisans-tools": 17, "gaming-set": 2, "musical-instrument": 10, "other": 6, "vehicle": 3}


@pytest.mark.parametrize("id_", sorted(believed("packs")))
def test_pack(id_: str) -> None:
    # SRD 5.1, Equipment, Equipment Packs: contents as (count, item).
    thing, cells = item(id_), believed("packs")[id_]
    assert thing.cost_cp == cells["cost_cp"]
    expected = {}
    for count, inner in cells["contents"]:
        piece = item(inner)
        expected[piece.id] = count * (piece.bundle if piece.id == "ball-bearing" else 1)
    found = {}
    for text in thing.contents:
        count, _, inner = text.rpartition(" ")
        found[inner] = int(count or 1)
    assert found == expected
    weights = [(CATALOG.item(i), n) for i, n in found.items()]
    assert thing.weight == sum((w.weight or 0) * n / w.bundle for w, n in weights if w is not None)


def test_prices_of_trade_goods_and_services() -> None:
    # SRD 5.1, Equipment, Trade Goods and Expenses, without their order: how often each price is printed.
    printed = sorted(cells["cost_cp"] or 0 for cells in text_only("prices").values())
    ours = [n.entry for n in CATALOG.every("item") if isinstance(n.entry, Item)]
    kinds = [i for i in ours if i.category in ("trade-good", "service") and "coin" not in i.groups]
    assert sorted(i.cost_cp or 0 for i in kinds) == printed


@pytest.mark.parametrize(("coin", "copper"), [("cp", 1), ("sp", 10), ("ep", 50), ("gp", 100), ("pp", 1000)])
def test_coins(coin: str, copper: int) -> None:
    # SRD 5.1, Equipment, Standard Exchange Rates; fifty coins weigh a pound.
    thing = item(coin)
    assert (thing.cost_cp, thing.weight, thing.bundle) == (50 * copper, 1, 50)


# -- names ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "id_"),
    [
        ("Leather Armor", "leather-armor"),
        ("leather", "leather-armor"),
        ("Plate", "plate-armor"),
        ("Chain mail", "chain-mail"),
        ("Arrows", "arrow"),
        ("arrow", "arrow"),
        ("Longbow", "longbow"),
        ("Light Crossbow", "light-crossbow"),
        ("crossbow bolts", "crossbow-bolt"),
        ("Torches", "torch"),
        ("Thieves’ Tools", "thieves-tools"),
        ("thieves tools", "thieves-tools"),
        ("Vehicles (Land or Water)", "vehicles-land-or-water"),
        ("Luckstone", "stone-of-good-luck"),
        ("Adamantine Plate Armor", "adamantine-armor-plate-armor"),
        ("Flame Tongue", "flame-tongue"),
        ("Flame Tongue Rapier", "flame-tongue-rapier"),
    ],
)
def test_names_as_people_write_them(written: str, id_: str) -> None:
    assert [named.id for named in CATALOG.find("item", written)] == [id_]


# -- magic items ------------------------------------------------------------------------------------------------

# Printed items whose kinds are items of their own here: how their ids are made of the kind.
KINDS: dict[str, str] = {
    "belt-of-giant-strength": "belt-of-{}-giant-strength",
    "crystal-ball": "crystal-ball-of-{}",
    "dragon-scale-mail": "{}-dragon-scale-mail",
    "figurine-of-wondrous-power": "figurine-of-wondrous-power-{}",
    "horn-of-valhalla": "{}-horn-of-valhalla",
    "ioun-stone": "ioun-stone-of-{}",
    "potion-of-giant-strength": "potion-of-{}-giant-strength",
    "potion-of-healing": "potion-of-{}-healing",
    "potion-of-resistance": "potion-of-{}-resistance",
    "ring-of-elemental-command": "ring-of-{}-elemental-command",
    "ring-of-resistance": "ring-of-{}-resistance",
    "spell-scroll": "spell-scroll-{}",
    "wand-of-the-war-mage": "wand-of-the-war-mage-{}",
    "wand-of-the-war-mage-1-2-or-3": "wand-of-the-war-mage-{}",
}
# SRD 5.1, Magic Items, Ring of Resistance and Potion of Resistance: the ten damage types of their tables.
RESISTED = ("acid", "cold", "fire", "force", "lightning", "necrotic", "poison", "psychic", "radiant", "thunder")
# Kinds that the prose gives, all of them legendary: SRD 5.1, Magic Items, Crystal Ball; Ring of Elemental Command.
IN_PROSE = {
    "crystal-ball": ("mind-reading", "telepathy", "true-seeing"),
    "ring-of-elemental-command": ("air", "earth", "fire", "water"),
}
OWN_IDS = {
    "ammunition-1-2-or-3": "magic-ammunition",
    "armor-1-2-or-3": "magic-armor",
    "shield-1-2-or-3": "magic-shield",
    "weapon-1-2-or-3": "magic-weapon",
    "stone-of-good-luck-luckstone": "stone-of-good-luck",
    "potion-of-common-healing": "potion-of-healing",
}


def printed_magic() -> list[tuple[str, str, dict[str, Any]]]:
    rows = []
    for id_, cells in MAGIC.items():
        kinds = {key.removeprefix("varieties."): v for key, v in cells.items() if key.startswith("varieties.")}
        if "resistance" in id_ and id_ in KINDS:
            kinds = dict.fromkeys(RESISTED, cells["rarity"])
        kinds = kinds or dict.fromkeys(IN_PROSE.get(id_, ()), "legendary")
        if id_ in KINDS:
            own = [(KINDS[id_].format(kind), rarity) for kind, rarity in kinds.items()]
            if id_ == "crystal-ball":
                own.append((id_, cells["rarity"]))
        else:
            own = [(id_, cells["rarity"])]
        rows += [(OWN_IDS.get(o, o), rarity, cells) for o, rarity in own]
    return rows


@pytest.mark.parametrize(("id_", "rarity", "cells"), printed_magic(), ids=lambda value: str(value)[:40])
def test_magic_item(id_: str, rarity: str, cells: dict[str, Any]) -> None:
    # SRD 5.1, Magic Items: kind, rarity, attunement and by whom.
    thing = CATALOG.item(id_)
    assert thing is not None, id_
    assert thing.magic is not None
    assert thing.magic.rarity == rarity.replace(" ", "-")
    assert thing.magic.attunement == cells["attunement"]
    assert thing.magic.kind == cells["type"]
    assert (thing.magic.attunement_by or None) == ((cells.get("by") or "").strip() or None)


def test_no_magic_item_is_invented() -> None:
    printed = {id_ for id_, _, _ in printed_magic()}
    ours = {n.id for n in CATALOG.every("item") if isinstance(n.entry, Item) and n.entry.magic and not n.entry.base}
    assert ours <= printed


@pytest.mark.parametrize(
    ("id_", "grant", "amount"),
    [
        # SRD 5.1, Magic Items, each under its name.
        ("amulet-of-health", AbilitySet, 19),
        ("headband-of-intellect", AbilitySet, 19),
        ("belt-of-hill-giant-strength", AbilitySet, 21),
        ("belt-of-storm-giant-strength", AbilitySet, 29),
        ("cloak-of-protection", ArmorBonus, 1),
        ("ring-of-protection", SaveBonus, 1),
        ("bracers-of-defense", ArmorBonus, 2),
        ("dwarven-plate", ArmorBonus, 2),
        ("elven-chain", ArmorBonus, 1),
        ("robe-of-stars", SaveBonus, 1),
        ("staff-of-power", CastingBonus, 2),
        ("wand-of-the-war-mage-3", CastingBonus, 3),
        ("robe-of-the-archmagi", CastingBonus, 2),
        ("holy-avenger", AttackBonus, 3),
        ("vorpal-sword", DamageBonus, 3),
        ("sun-blade", AttackBonus, 2),
        ("dagger-of-venom", DamageBonus, 1),
    ],
)
def test_what_an_item_grants(id_: str, grant: type[Any], amount: int) -> None:
    thing = CATALOG.item(id_)
    assert thing is not None
    grants = [g for feature in thing.features for g in feature.grants if isinstance(g, grant)]
    assert len(grants) == 1
    value = grants[0].score if grant is AbilitySet else grants[0].amount.constant
    assert value == amount


def test_an_enchantment_has_the_facts_of_its_base() -> None:
    greatsword, flaming = CATALOG.item("greatsword"), CATALOG.item("flame-tongue-greatsword")
    assert greatsword is not None
    assert flaming is not None
    assert flaming.weapon == greatsword.weapon
    assert (flaming.plain_id, flaming.name, flaming.weight) == ("greatsword", "Flame Tongue Greatsword", 6)
    plain = CATALOG.item("flame-tongue")
    assert plain is not None
    assert plain.plain_id == "longsword"
    assert greatsword.plain_id == "greatsword"


def test_mithral_needs_no_strength_and_hinders_nobody() -> None:
    # SRD 5.1, Magic Items, Mithral Armor.
    mithral, plate = CATALOG.item("mithral-armor-plate-armor"), CATALOG.item("plate-armor")
    assert mithral is not None
    assert plate is not None
    assert plate.armor is not None
    assert mithral.armor is not None
    assert (plate.armor.strength, plate.armor.stealth_disadvantage) == (15, True)
    assert (mithral.armor.strength, mithral.armor.stealth_disadvantage, mithral.armor.ac) == (None, False, 18)


def test_an_enchantment_of_something_unknown_comes_as_it_is() -> None:
    oathbow = next(i for k, i in load_shipped("srd-5.1").all() if k == "item" and i.id == "oathbow")
    assert isinstance(oathbow, Item)
    assert list(enchantments(oathbow, lambda id_: None)) == [oathbow]


def test_potions_change_nothing_before_they_are_drunk() -> None:
    for named in CATALOG.every("item"):
        assert isinstance(named.entry, Item)
        if named.entry.magic is not None and named.entry.magic.kind in ("potion", "scroll"):
            assert not named.entry.features


def test_ids_are_made_of_names_or_say_more() -> None:
    for named in CATALOG.every("item"):
        assert isinstance(named.entry, Item)
        words = set(slug(named.name).split("-"))
        if named.entry.base is None and "coin" not in named.entry.groups:
            assert words & set(named.id.split("-")), named.id


def test_species_weapons_and_tools_are_items() -> None:
    for named in CATALOG.every("species"):
        assert isinstance(named.entry, Species)
        for feature in named.entry.features:
            for grant in feature.grants:
                if grant.kind == "proficiency" and grant.of in ("weapon", "tool"):
                    assert all(CATALOG.item(id_) for id_ in grant.ids), feature.id
