"""Creature stat lines of the open data set, in the shape of the text's records."""

from __future__ import annotations

import re
from typing import Any

from tests.reference.figures import ABILITIES, Record, plain
from tests.reference.text_creatures import damage_words


def creature(entry: dict[str, Any]) -> Record:
    """One record. Of several armor classes the highest without a spell or condition is taken (reference NOTES, D)."""
    standing = [each["value"] for each in entry["armor_class"] if each["type"] not in ("spell", "condition")]
    bonus = re.search(r"([+-])(\d+)$", entry["hit_points_roll"])
    saves: dict[str, int] = {}
    skills: dict[str, int] = {}
    for each in entry["proficiencies"]:
        kind, _, name = each["proficiency"]["index"].partition("-")
        if kind == "saving":
            saves[name.removeprefix("throw-")] = each["value"]
        else:
            skills[name] = each["value"]
    abilities = {each["name"]: each for each in entry.get("special_abilities", [])}
    legendary = abilities.get("Legendary Resistance", {}).get("usage", {}).get("times")
    return {
        "id": entry["index"],
        "name": plain(entry["name"]),
        "size": entry["size"].lower(),
        "type": entry["type"].lower(),
        "alignment": plain(entry["alignment"]).lower(),
        "armor_class": max(standing),
        "armor_classes": sorted({each["value"] for each in entry["armor_class"]}),
        "hit_points": entry["hit_points"],
        "hit_dice": entry["hit_dice"],
        "hit_point_bonus": int(bonus[1] + bonus[2]) if bonus else 0,
        # A creature that cannot walk has no such key in the data set; its stat block prints 0 ft.
        "speed": {"walk": 0} | {way: int(feet.split()[0]) for way, feet in entry["speed"].items() if way != "hover"},
        "hover": bool(entry["speed"].get("hover")),
        "scores": [entry[ability] for ability in ABILITIES],
        "saves": saves,
        "skills": skills,
        "senses": {
            name: value if isinstance(value, int) else int(value.split()[0]) for name, value in entry["senses"].items()
        },
        "vulnerabilities": sorted(word for each in entry["damage_vulnerabilities"] for word in damage_words(each)),
        "resistances": sorted(word for each in entry["damage_resistances"] for word in damage_words(each)),
        "immunities": sorted(word for each in entry["damage_immunities"] for word in damage_words(each)),
        "condition_immunities": sorted(each["index"] for each in entry["condition_immunities"]),
        "challenge": entry["challenge_rating"],
        "xp": entry["xp"],
        "magic_resistance": "Magic Resistance" in abilities,
        "legendary_resistance": legendary or 0,
        "forms": sorted(each["index"] for each in entry.get("forms", [])),
    }
