"""Weapons, armor, gear, mounts, vehicles and packs of the open data set, in the shape of the text's records."""

from __future__ import annotations

from typing import Any

from tests.reference.figures import Record, plain, slug
from tests.reference.text_tables import COPPER, number, quantity

GROUPS = {
    "ammunition": "ammunition",
    "arcane-foci": "arcane-focus",
    "druidic-foci": "druidic-focus",
    "holy-symbols": "holy-symbol",
    "artisans-tools": "artisans-tools",
    "gaming-sets": "gaming-set",
    "musical-instrument": "musical-instrument",
}


def cost(entry: dict[str, Any]) -> int:
    """Price in copper pieces."""
    return int(entry["cost"]["quantity"] * COPPER[entry["cost"]["unit"]])


def weapon(entry: dict[str, Any]) -> Record:
    """One weapon; the reach of a melee weapon is left out, as its table prints none."""
    properties = sorted(each["index"] for each in entry["properties"])
    spans = entry.get("throw_range") or (entry["range"] if "long" in entry["range"] else None)
    damage = entry.get("damage")
    return {
        "id": entry["index"],
        "name": plain(entry["name"]),
        "category": entry["weapon_category"].lower(),
        "style": entry["weapon_range"].lower(),
        "cost_cp": cost(entry),
        "dice": damage["damage_dice"] if damage else None,
        "damage_type": damage["damage_type"]["index"] if damage else None,
        "weight": entry["weight"],
        "properties": properties,
        "range": [spans["normal"], spans["long"]] if spans else None,
        "versatile": entry.get("two_handed_damage", {}).get("damage_dice") if "versatile" in properties else None,
    }


def armor(entry: dict[str, Any]) -> Record:
    """One suit of armor or the shield."""
    formula = entry["armor_class"]
    return {
        "id": entry["index"],
        "name": plain(entry["name"]),
        "category": entry["armor_category"].lower(),
        "cost_cp": cost(entry),
        "armor_class": formula["base"],
        "dex": formula["dex_bonus"],
        "dex_max": formula.get("max_bonus"),
        "strength": entry["str_minimum"],
        "stealth_disadvantage": entry["stealth_disadvantage"],
        "weight": entry["weight"],
    }


def gear(entry: dict[str, Any]) -> Record:
    """One thing with a price: gear, tool, tack, mount or vehicle."""
    record: Record = {"id": entry["index"], "name": plain(entry["name"])}
    if "speed" in entry:
        record |= {"cost_cp": cost(entry), "speed": entry["speed"]["quantity"]}
        if "capacity" in entry:
            record["capacity"] = number(entry["capacity"])
        return record
    kind = entry.get("gear_category", {}).get("index") or slug(entry.get("tool_category", ""))
    return record | {
        "group": GROUPS.get(kind),
        "cost_cp": cost(entry),
        "quantity": entry.get("quantity") or quantity(entry["name"]),
        "weight": entry.get("weight"),
    }


def equipment(entries: list[dict[str, Any]]) -> dict[str, list[Record]]:
    """Records by figure file: weapons, armor, equipment, packs."""
    files: dict[str, list[Record]] = {"weapons": [], "armor": [], "equipment": [], "packs": []}
    for entry in entries:
        if "weapon_category" in entry:
            files["weapons"].append(weapon(entry))
        elif "armor_category" in entry:
            files["armor"].append(armor(entry))
        elif entry.get("contents"):
            files["packs"].append(
                {
                    "id": entry["index"],
                    "name": plain(entry["name"]),
                    "cost_cp": cost(entry),
                    "contents": sorted([each["quantity"], each["item"]["index"]] for each in entry["contents"]),
                }
            )
        else:
            files["equipment"].append(gear(entry))
    return files
