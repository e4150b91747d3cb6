"""Two small folios made in memory, with names that are hard to read: their parts are signs and words of the outline."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Any

import yaml

from engine.rules.catalog import Catalog
from engine.rules.content import Item, Spell
from engine.rules.folio import Folio
from engine.rules.loader import read_folio
from engine.rules.names import slug

# Names that hold signs and words of the outline, or begin like another one of the list.
HARD_SPELLS = (
    "Ward",
    "Ward, Greater",
    "Greater",
    "Ward for Two",
    "Call (of the Sea)",
    "Call",
    "Salt; Foam",
    'The "Quiet" Tide',
    "Tide: Turn",
    "+1 Tide",
    "7 Winds",
    "Winds",
    "for",
    "Wind +2",
    "Wind",
    "Ebb,",
    "(Rogue) Trick",
    "spell Ward",
    "Seer's Eye dc 5",
    "Harbour by 7",
    "Élan",
    "Ebb (custom)",
)
PLAIN_SPELLS = ("Fog Cloud", "Longstrider", "Hunter's Mark", "Speak with Animals", "Shield", "Tide Call", "Sea Lore")
CANTRIPS = ("Light", "Mage Hand", "Fire Bolt")
ITEMS = ("Leather Armor", "Rapier", "Shortbow", "Dagger", "2 Dagger", "Rope, Hempen (50 feet)", "Ammunition, +1", "+3")
WORDS: Mapping[str, Sequence[str]] = {
    "languages": ("Common", "Giant", "Goblin", "Halfling", "Draconic", "Orc", "Tongue, Old (high)"),
    "damage_types": ("Fire", "Cold", "Cold, bitter"),
    "creature_types": ("Beasts", "Giants", "Humanoids"),
    "humanoid_kinds": ("Gnolls", "Orcs"),
    "weapon_groups": ("Simple Weapons",),
    "armor_groups": ("Light Armor",),
}
SKILLS = ("Perception", "Stealth", "Survival", "Nature", "Insight", "Persuasion", "Athletics", "Sleight of Hand")
CHOICES: Mapping[str, Sequence[str]] = {
    "style": ("Archery", "Defense"),
    "enemy": ("Beasts", "Giants", "Humanoids"),
    "terrain": ("Swamp", "Coast"),
    "prey": ("Colossus Slayer", "Giant Killer"),
    "invocation": ("Eyes of the Tide", "Sea Lore", "Gift, Ever-Living (old)"),
    "metamagic": ("Twinned Spell", "Subtle Spell"),
    "boon": ("Pact of the Tome", "Pact of the Blade"),
    "dragon": ("Red", "Gold"),
    "mastery": ("Push",),
    "chart": ("Chart of the Deep", "Chart: Shoals"),
    "sea-oath": ("Oath of Ebb", "Oath of Flow"),
    # A keyword of every outline keeps its own names whatever a folio puts beside it.
    "language": ("Signal Flags",),
}
HARD = "A small rules release for tests."
NOTHING = {"no_number": "It has no number in these tests."}


def _entries(names: Sequence[str], **facts: Any) -> list[dict[str, Any]]:
    return [{"id": f"{slug(name) or 'sign'}", "name": name, **facts} for name in names]


def _class(name: str, subclasses: Sequence[str], **more: Any) -> dict[str, Any]:
    return {
        "id": slug(name),
        "name": name,
        "hit_die": 8,
        "saves": ["dex", "int"],
        "subclass_level": 3,
        "subclass_title": "Way",
        # Two classes have a Warden: the name is shared, the ids are not.
        "subclasses": [
            {**way, "id": f"{slug(name)}-warden" if way["name"] == "Warden" else way["id"]}
            for way in _entries(subclasses)
        ],
        **more,
    }


def _spells(names: Sequence[str], level: int, classes: Sequence[str] = ("ranger", "wizard")) -> list[dict[str, Any]]:
    facts = {"casting_time": "1 action", "range": "Self", "duration": "1 hour", "school": "abjuration"}
    found = _entries(names, level=level, classes=list(classes), **facts)
    for number, spell in enumerate(found):
        # Names made only of signs and short words would share ids.
        spell["id"] = (
            f"{spell['id']}-{number}" if len([s for s in found if s["id"] == spell["id"]]) > 1 else spell["id"]
        )
    return found


def _release() -> dict[str, Any]:
    return {
        "species_word": "Race",
        "increases_from": "species",
        "scores": {
            "section": "Scores",
            "standard_array": [15, 14, 13, 12, 10, 8],
            "points": 27,
            "point_costs": {8: 0, 9: 1, 10: 2, 11: 3, 12: 4, 13: 5, 14: 7, 15: 9},
            "roll": "4d6 drop lowest",
        },
        "proficiency_bonus": [2 + level // 4 for level in range(20)],
        "experience": [100 * level for level in range(20)],
        "slots": [[2]] * 20,
        "custom_background": {"section": "Backgrounds"},
        "skills": _entries(SKILLS, ability="wis"),
        **{key: _entries(names) for key, names in WORDS.items()},
        "sections": {},
    }


def release_files(spells: Sequence[str] = HARD_SPELLS, items: Sequence[str] = ITEMS) -> dict[str, bytes]:
    """Return the files of a small rules release, id `srd-5.1`; spells and items by name besides a few plain ones."""
    dwarf = {"id": "dwarf", "name": "Dwarf", "subspecies": _entries(["Hill Dwarf", "Dwarf (Deep)"])}
    species = [*_entries(["Half-Elf", "Human"]), dwarf]
    feature = {"id": "shelter-of-the-faithful", "name": "Shelter of the Faithful", **NOTHING}
    data: dict[str, Any] = {
        "folio.yaml": {"id": "srd-5.1", "title": "SRD 5.1", "version": "1", "licence": "MIT", "attribution": HARD},
        "release.yaml": _release(),
        "classes/all.yaml": [
            _class("Rogue", ["Thief", "Way (of 2 Seas), the"]),
            _class("Ranger", ["Hunter", "Warden"]),
            _class("Wizard", ["Warden"]),
            _class("Pilot (Coast): hp 7", []),
            _class("Pilot", []),
        ],
        "species/all.yaml": species,
        "backgrounds/all.yaml": [
            {"id": "acolyte", "name": "Acolyte", "features": [feature]},
            {"id": "sage", "name": "Sage"},
            {"id": "keeper", "name": "Keeper, Light (north)"},
        ],
        "feats/all.yaml": _entries(["Grappler", "Magic Initiate", "Sure; Swift"], **NOTHING),
        "choices/all.yaml": [
            {
                "id": f"list-{keyword}",
                "name": f"List {keyword}",
                "keyword": keyword,
                "options": _entries(names, **NOTHING),
            }
            for keyword, names in CHOICES.items()
        ],
        "spells/all.yaml": _spells([*PLAIN_SPELLS, *spells], 1) + _spells(CANTRIPS, 0),
        "items/all.yaml": [
            *_entries(items, category="gear"),
            *_entries(["Arrow"], category="ammunition"),
            *_entries(["Thieves' Tools", "Vehicles (Land or Water)", "Flute"], category="tool"),
            *_entries(["Longsword"], category="weapon", weapon={"group": "martial", "reach": "melee"}),
        ],
    }
    return {path: yaml.safe_dump(content, allow_unicode=True).encode() for path, content in data.items()}


def harbour_files() -> dict[str, bytes]:
    """Return the files of a second folio that shares names and ids with the release."""
    data: dict[str, Any] = {
        "folio.yaml": {
            "id": "harbour",
            "title": "Harbour Guild, 2nd",
            "version": "3",
            "licence": "MIT",
            "attribution": "Ours.",
            "extends": "srd-5.1",
        },
        "classes/all.yaml": [_class("Coast Pilot", ["Thief"]), _class("Rogue", [])],
        "spells/all.yaml": _spells(["Fog Cloud", "Foghorn"], 1),
        "items/all.yaml": _entries(["Dagger"], category="gear"),
    }
    return {path: yaml.safe_dump(content).encode() for path, content in data.items()}


def folio(files: Mapping[str, bytes]) -> Folio:
    """Return the folio of some files, which must be good."""
    found = read_folio(files)
    assert isinstance(found, Folio), found
    return found


def named_catalog(spells: Sequence[str], items: Sequence[str]) -> Catalog:
    """Return a catalogue like the small one, with spells and items of the given names and no others."""
    base = _base()
    facts = {"level": 1, "school": "abjuration", "casting_time": "1", "range": "1", "duration": "1"}
    made: dict[str, dict[str, Any]] = {
        "spell": {f"s-{n}": Spell(id=f"s-{n}", name=name, **facts) for n, name in enumerate(spells)},
        "item": {f"i-{n}": Item(id=f"i-{n}", name=name, category="gear") for n, name in enumerate(items)},
    }
    return Catalog([replace(base, entries={**base.entries, **made})])


@lru_cache(maxsize=1)
def _base() -> Folio:
    return folio(release_files())


def small_catalog() -> Catalog:
    """Return the catalogue of the small release alone."""
    return Catalog([folio(release_files())])


def both_catalog() -> Catalog:
    """Return the catalogue of the small release and the harbour folio."""
    return Catalog([folio(release_files()), folio(harbour_files())])
