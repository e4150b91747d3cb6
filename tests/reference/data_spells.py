"""Spell facts of the open data set, in the shape of the text's records and with what only it encodes."""

from __future__ import annotations

from typing import Any

from tests.reference.figures import Record, plain
from tests.reference.text_spells import costs, prose_figures


def spell(entry: dict[str, Any]) -> Record:
    """One record; damage, healing, attack, save and area only where the data set has them."""
    prices, consumed = costs(entry.get("material", ""))
    record: Record = {
        "id": entry["index"],
        "name": plain(entry["name"]),
        "level": entry["level"],
        "school": entry["school"]["index"],
        "ritual": entry["ritual"],
        "time": plain(entry["casting_time"]).lower(),
        "range": plain(entry["range"]).lower(),
        "components": entry["components"],
        "duration": plain(entry["duration"]).lower(),
        "concentration": entry["concentration"],
        "costs": prices,
        "consumed": consumed,
        "classes": sorted(each["index"] for each in entry["classes"]),
        "prose": prose_figures(" ".join(entry["desc"]), " ".join(entry.get("higher_level", []))),
    }
    damage = entry.get("damage", {})
    if damage:
        record["damage_type"] = damage.get("damage_type", {}).get("index")
        for key in ("damage_at_slot_level", "damage_at_character_level"):
            if key in damage:
                record[key] = damage[key]
    if "heal_at_slot_level" in entry:
        record["healing_at_slot_level"] = entry["heal_at_slot_level"]
    if "attack_type" in entry:
        record["attack"] = entry["attack_type"]
    if "dc" in entry:
        record["save"] = entry["dc"]["dc_type"]["index"]
        record["on_success"] = entry["dc"].get("dc_success")
    if "area_of_effect" in entry:
        record["area"] = [entry["area_of_effect"]["type"], entry["area_of_effect"]["size"]]
    return record
