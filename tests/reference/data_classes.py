"""Class tables, basics and multiclassing of the open data set, in the shape of the text's records."""

from __future__ import annotations

from typing import Any

from tests.reference.figures import Record, slug

# Keys of the data set's class-specific figures and the column each is here.
FIGURES = {
    "rage_count": "rages",
    "rage_damage_bonus": "rage_damage",
    "brutal_critical_dice": "brutal_critical_dice",
    "bardic_inspiration_die": "inspiration_die",
    "song_of_rest_die": "song_of_rest_die",
    "channel_divinity_charges": "channel_divinity",
    "destroy_undead_cr": "destroy_undead",
    "wild_shape_max_cr": "wild_shape_cr",
    "wild_shape_swim": "wild_shape_swim",
    "wild_shape_fly": "wild_shape_fly",
    "action_surges": "action_surges",
    "indomitable_uses": "indomitable",
    "extra_attacks": "extra_attacks",
    "ki_points": "ki_points",
    "unarmored_movement": "unarmored_movement",
    "aura_range": "aura_range",
    "favored_enemies": "favored_enemies",
    "favored_terrain": "favored_terrains",
    "sorcery_points": "sorcery_points",
    "metamagic_known": "metamagic",
    "invocations_known": "invocations",
    "arcane_recovery_levels": "arcane_recovery",
}
DICE = {"martial_arts": "martial_arts", "sneak_attack": "sneak_attack"}


def level_record(entry: dict[str, Any]) -> Record:
    """One class level with every figure the data set has for it."""
    identity, level = entry["class"]["index"], entry["level"]
    specific: dict[str, Any] = entry.get("class_specific", {})
    casting: dict[str, int] = entry.get("spellcasting", {})
    record: Record = {
        "id": f"{identity}-{level}",
        "class": identity,
        "level": level,
        "proficiency_bonus": entry["prof_bonus"],
        "features": sorted(slug(each["name"]) for each in entry["features"]),
        "increases": entry["ability_score_bonuses"],
    }
    record |= {name: specific[key] for key, name in FIGURES.items() if key in specific}
    for key, name in DICE.items():
        if key in specific:
            record[name] = f"{specific[key]['dice_count']}d{specific[key]['dice_value']}"
    if identity == "bard":
        record["magical_secrets"] = sum(value for key, value in specific.items() if key.startswith("magical_secrets"))
    if identity == "warlock":
        reached = [int(key[-1]) for key, value in specific.items() if key.startswith("mystic_arcanum") and value]
        record["arcanum_level"] = max(reached, default=0)
    for key, name in (("cantrips_known", "cantrips"), ("spells_known", "spells")):
        if key in casting:
            record[name] = casting[key]
    slots = [casting.get(f"spell_slots_level_{n}", 0) for n in range(1, 10)]
    if identity == "warlock":
        record["pact_slots"], record["pact_level"] = max((many, n) for n, many in enumerate(slots, 1) if many)
    elif casting:
        record["slots"] = slots
    return record


def class_levels(entries: list[dict[str, Any]]) -> list[Record]:
    """240 records of the class levels; the rows of subclasses are left out."""
    return [level_record(entry) for entry in entries if "subclass" not in entry]


def things(entries: list[dict[str, Any]]) -> dict[str, list[str]]:
    """Fixed proficiencies by kind: armor, weapons, tools."""
    sorted_out: dict[str, list[str]] = {"armor": [], "weapons": [], "tools": []}
    for each in entries:
        name = each["index"]
        if name.startswith(("saving-throw", "skill")):
            continue
        if name.endswith(("armor", "shields")):
            sorted_out["armor"].append(name)
        elif name.endswith(("kit", "tools")):
            sorted_out["tools"].append(name)
        else:
            sorted_out["weapons"].append("light-crossbows" if name == "crossbows-light" else name)
    return {kind: sorted(names) for kind, names in sorted_out.items()}


def basics(entries: list[dict[str, Any]]) -> list[Record]:
    """Hit die, saves, skills, proficiencies and casting ability of each class."""
    found = []
    for entry in entries:
        skills, *others = entry["proficiency_choices"]
        kinds = things(entry["proficiencies"])
        casting = entry.get("spellcasting", {}).get("spellcasting_ability", {}).get("index")
        options = sorted(each["item"]["index"].removeprefix("skill-") for each in skills["from"]["options"])
        found.append(
            {
                "id": entry["index"],
                "hit_die": entry["hit_die"],
                **kinds,
                "tools": sorted([*kinds["tools"], *(slug(each["desc"]) for each in others)]),
                "saves": sorted(each["index"] for each in entry["saving_throws"]),
                "skill_count": skills["choose"],
                "skills": "any" if len(options) == 18 else options,
                "casting_ability": casting,
            }
        )
    return found


def multiclass(entries: list[dict[str, Any]]) -> list[Record]:
    """Prerequisites of a second class and what it gives."""
    found = []
    for entry in entries:
        rule = entry["multi_classing"]
        needs = rule.get("prerequisites") or rule["prerequisite_options"]["from"]["options"]
        gains = [each["index"] for each in rule["proficiencies"]]
        for choice in rule.get("proficiency_choices", []):
            options = [each["item"]["index"] for each in choice["from"]["options"]]
            if not options[0].startswith("skill-"):
                gains.append("one-musical-instrument-of-your-choice")
            elif len(options) == 18:
                gains.append("one-skill-of-your-choice")
            else:
                gains.append("one-skill-from-the-classs-skill-list")
        found.append(
            {
                "id": entry["index"],
                "needs": [[each["ability_score"]["index"], each["minimum_score"]] for each in needs],
                "any_of": "prerequisite_options" in rule,
                "gains": sorted(gains),
            }
        )
    return found


def subclass_spells(entries: list[dict[str, Any]]) -> list[Record]:
    """Spells of domain, circles, oath and patron: one record for each level (and land)."""
    rows: dict[str, Record] = {}
    for entry in entries:
        for each in entry.get("spells", []):
            level, land = 0, ""
            for need in each["prerequisites"]:
                if need["type"] == "level":
                    level = int(need["index"].rpartition("-")[2])
                else:
                    land = "-" + need["index"].rpartition("-")[2]
            if entry["index"] == "fiend":  # the text's table goes by spell level, the data set by warlock level
                level = (level + 1) // 2
            identity = f"{entry['index']}{land}-{level}"
            row = rows.setdefault(identity, {"id": identity, "subclass": entry["index"], "level": level, "spells": []})
            row["spells"].append(each["spell"]["index"])
    for row in rows.values():
        row["spells"].sort()
    return list(rows.values())


def subclass_lists(spells: list[dict[str, Any]]) -> list[Record]:
    """The spells whose own record names a subclass, by subclass."""
    lists: dict[str, dict[str, bool]] = {}
    for spell in spells:
        for each in spell["subclasses"]:
            lists.setdefault(each["index"], {})[spell["index"]] = True
    return [{"id": subclass, "spells": dict(sorted(names.items()))} for subclass, names in lists.items()]
