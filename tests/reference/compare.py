"""Comparing two folders of figure files: every cell, and the differences. Pure; imports nothing of the project.

A cell is one value: a field of a record, one key of a field that holds several (speeds, skills), one place of a
row of slots or scores. What the two sources only word differently is made equal first, and only here:
`ALIASES` (two names of one thing), `spell_cells`, `feature_cells` and `weapon_cells`. What only one side has at
all stands in `ONE_SIDED`; those fields are no cells.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

from tests.reference.figures import Record

ABSENT = "absent"
Cells = dict[str, Any]

# For each file: id in the text to id in the data set, where the two name one thing differently.
ALIASES: dict[str, dict[str, str]] = {
    "armor": {
        name: f"{name}-armor"
        for name in ("half-plate", "hide", "leather", "padded", "plate", "splint", "studded-leather")
    },
    "equipment": {
        "arrows-20": "arrow",
        "blowgun-needles-50": "blowgun-needle",
        "caltrops-bag-of-20": "caltrops",
        "crossbow-bolts-20": "crossbow-bolt",
        "feed-per-day": "animal-feed-1-day",
        "sling-bullets-20": "sling-bullet",
        "spikes-iron-10": "spike-iron",
        "stabling-per-day": "stabling-1-day",
    },
    "creatures": {
        "elf-drow": "drow",
        "gnome-deep-svirfneblin": "deep-gnome-svirfneblin",
        "vampire": "vampire-vampire",
    },
    "magic-items": {
        "ammunition-1-2-or-3": "ammunition",
        "armor-1-2-or-3": "armor",
        "glamoured-studded-leather": "glamoured-studded-leather-armor",
        "wand-of-the-war-mage-1-2-or-3": "wand-of-the-war-mage",
        "weapon-1-2-or-3": "weapon",
    },
}

# Fields that only one of the two sources states.
ONE_SIDED: dict[str, set[str]] = {
    "classes": {"first_hit_points", "fixed_hit_points"},
    "creatures": {"chapter", "armor_classes", "forms"},
    "spells": {
        "self_area",
        "area",
        "damage_type",
        "damage_at_slot_level",
        "damage_at_character_level",
        "healing_at_slot_level",
        "attack",
        "save",
        "on_success",
    },
    "subclass-spells": {"table"},
}

# Features that the data set lists beside the feature whose parts they are; the class tables print the whole only.
PARTS_OF_FEATURES = {
    "domain-spells",
    "channel-divinity-turn-undead",
    "flurry-of-blows",
    "patient-defense",
    "step-of-the-wind",
    "oath-spells",
    "channel-divinity",
    "flexible-casting-creating-spell-slots",
    "flexible-casting-converting-spell-slot",
}


@dataclass(frozen=True)
class Difference:
    """One cell that differs: file, id and field as the text names them, and the value of each side (or `absent`)."""

    file: str
    id: str
    field: str
    text: Any
    data: Any

    def key(self) -> str:
        """File, id and field as one string."""
        return f"{self.file} {self.id} {self.field}"

    def row(self) -> dict[str, Any]:
        """The difference as a plain mapping."""
        return asdict(self)


def flat(record: Record) -> Cells:
    """The cells of a record by name, fields of several figures opened."""
    cells: Cells = {}
    for field, value in record.items():
        if field == "id":
            continue
        if isinstance(value, dict):
            cells |= {f"{field}.{key}": each for key, each in value.items()}
        elif field in ("slots", "scores"):
            cells |= {f"{field}.{place}": each for place, each in enumerate(value, 1)}
        else:
            cells[field] = value
    return cells


def spell_cells(cells: Cells) -> Cells:
    """A spell's cells with one wording for a day and for a printed number."""
    duration = cells["duration"].rstrip(".").replace("one minute", "1 minute")
    return cells | {"duration": re.sub(r"\b1 day\b", "24 hours", duration)}


def feature_cells(cells: Cells) -> Cells:
    """A class level's cells with feature names bare: no class, no bracket of uses or limits, no `improvement`."""
    names = []
    for name in cells["features"]:
        if name in PARTS_OF_FEATURES:
            continue
        short = re.sub(r"^spellcasting-\w+$", "spellcasting", name)
        short = re.sub(
            r"^(wild-shape|favored-enemy|natural-explorer|destroy-undead|action-surge|indomitable)-(?!might).*",
            r"\1",
            short,
        )
        names.append(short.removesuffix("-improvement"))
    return cells | {"features": sorted(names)}


def weapon_cells(cells: Cells) -> Cells:
    """A weapon's cells with the data set's own mark `monk` taken out, where it follows the monk's rule.

    SRD 5.1, Monk, Martial Arts: shortswords and simple melee weapons without the two-handed or heavy property.
    """
    properties = set(cells["properties"])
    simple = cells["category"] == "simple" and cells["style"] == "melee" and not properties & {"two-handed", "heavy"}
    if simple or cells["name"] == "Shortsword":
        properties.discard("monk")
    return cells | {"properties": sorted(properties)}


WORDINGS = {"spells": spell_cells, "levels": feature_cells, "weapons": weapon_cells}


def cells_of(file: str, record: Record, drop_name: bool) -> Cells:
    """The comparable cells of a record; names are compared without regard to capitals, aliased ones not at all."""
    cells = flat(record)
    if file in WORDINGS:
        cells = WORDINGS[file](cells)
    skipped = ONE_SIDED.get(file, set())
    cells = {field: value for field, value in cells.items() if field.partition(".")[0] not in skipped}
    if "name" in cells:
        cells["name"] = cells["name"].casefold()
        if drop_name:
            del cells["name"]
    return cells


def pairs(
    file: str, text: dict[str, Record], data: dict[str, Record]
) -> Iterator[tuple[str, Cells | None, Cells | None]]:
    """Id and the cells of both sides (None where a side lacks the record), ids as the text has them."""
    names = ALIASES.get(file, {})
    for identity, record in text.items():
        other = data.get(names.get(identity, identity))
        renamed = identity in names or file == "armor"
        yield (
            identity,
            cells_of(file, record, renamed),
            None if other is None else cells_of(file, other, renamed),
        )
    known = {names.get(identity, identity) for identity in text}
    for identity, record in data.items():
        if identity not in known:
            yield identity, None, cells_of(file, record, False)


def compare(file: str, text: dict[str, Record], data: dict[str, Record]) -> tuple[int, list[Difference]]:
    """Number of cells compared in one file and its differences. A record that one side lacks is one difference."""
    count = 0
    found = []
    for identity, mine, theirs in pairs(file, text, data):
        if mine is None or theirs is None:
            sides = (ABSENT if mine is None else "present", ABSENT if theirs is None else "present")
            count += 1
            found.append(Difference(file, identity, "record", *sides))
            continue
        for field in sorted(mine.keys() | theirs.keys()):
            count += 1
            left, right = mine.get(field, ABSENT), theirs.get(field, ABSENT)
            if left != right:
                found.append(Difference(file, identity, field, left, right))
    return count, found


def structure_gaps(spell: Record) -> list[str]:
    """Facts that the data set's own fields of a spell miss or put otherwise than its description says.

    Any of `attack`, `save`, `half` and `damage`: the description names such figures and the fields hold none of
    them, or the other way round. `prose` holds what the description names.
    """
    prose = spell["prose"]
    gaps = []
    for fact, named in (("attack", prose["attacks"]), ("save", prose["saves"])):
        if spell.get(fact) not in (named or [None]):
            gaps.append(fact)
    if (spell.get("on_success") == "half") != prose["half"]:
        gaps.append("half")
    by_slot = spell.get("damage_at_slot_level", {}).get(str(spell["level"]))
    dice = by_slot or spell.get("damage_at_character_level", {}).get("1")
    printed = f"{dice} {spell.get('damage_type')}".replace(" + ", "+")
    if (dice is None) != (not prose["damage"]) or (dice and printed not in prose["damage"]):
        gaps.append("damage")
    return gaps
