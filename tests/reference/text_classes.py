"""Class tables, basics and multiclassing tables of the SRD 5.1 text (classes.md, beyond-1st-level.md)."""

from __future__ import annotations

import re
from typing import Any

from tests.reference.figures import ABILITIES, CLASSES, Record, plain, slug
from tests.reference.text_tables import Row, number, rows

ORDINALS = ("1st", "2nd", "3rd", *(f"{n}th" for n in range(4, 10)))
WORDS = {"one": 1, "two": 2, "three": 3, "four": 4}
# Column titles of the class tables and the key each has here. The bard's two are swapped in the copy (NOTES, A4).
COLUMNS = {
    "Rages": "rages",
    "Rage Damage": "rage_damage",
    "Cantrips Known": "cantrips",
    "Spells Known": "spells",
    "Martial Arts": "martial_arts",
    "Ki Points": "ki_points",
    "Unarmored Movement": "unarmored_movement",
    "Sneak Attack": "sneak_attack",
    "Sorcery Points": "sorcery_points",
    "Spell Slots": "pact_slots",
    "Slot Level": "pact_level",
    "Invocations Known": "invocations",
}
BARD_COLUMNS = {"Spells Known": "cantrips", "Cantrips Known": "spells"}


def cell_value(cell: str) -> int | str:
    """A column's cell: dice and `unlimited` as text, everything else as a number (a dash is 0)."""
    if re.fullmatch(r"\d+d\d+", cell):
        return cell
    if cell.lower() == "unlimited":
        return "unlimited"
    return int(number(cell))


def feature_keys(cell: str) -> list[str]:
    """The names of a Features cell as ids, bracketed figures kept (`brutal-critical-2-dice`)."""
    names = re.split(r",\s*(?![^(]*\))", cell)
    names = [part for name in names for part in expand(name)]
    return sorted(slug(name) for name in names if name.strip("- "))


def expand(name: str) -> list[str]:
    """`Favored Enemy and Natural Explorer improvements` as two names."""
    if match := re.fullmatch(r"(.*) and (.*) improvements", name):
        return [f"{match[1]} improvement", f"{match[2]} improvement"]
    return [name]


def level_record(identity: str, row: Row) -> Record:
    """One row of a class table."""
    cell = dict(zip(row.titles, row.cells, strict=True))
    level = int(number(row.cells[0]))
    record: Record = {
        "id": f"{identity}-{level}",
        "class": identity,
        "level": level,
        "proficiency_bonus": int(number(row.cells[1])),
        "features": feature_keys(cell["Features"]),
    }
    names = COLUMNS | BARD_COLUMNS if identity == "bard" else COLUMNS
    for title, value in cell.items():
        if title in names:
            record[names[title]] = cell_value(value)
    slots = [int(number(cell[ordinal])) for ordinal in ORDINALS if ordinal in cell]
    if slots:
        record["slots"] = slots + [0] * (9 - len(slots))
    return record


def running(levels: list[Record], pattern: str) -> list[str | None]:
    """For each level the bracket group of the latest feature so far that matches `pattern`."""
    found: list[str | None] = []
    latest: str | None = None
    for record in levels:
        for key in record["features"]:
            if match := re.fullmatch(pattern, key):
                latest = match[1] if match.groups() else ""
        found.append(latest)
    return found


def count(levels: list[Record], pattern: str) -> list[int]:
    """For each level how many features so far match `pattern`."""
    total, found = 0, []
    for record in levels:
        total += sum(bool(re.match(pattern, key)) for key in record["features"])
        found.append(total)
    return found


def figure(levels: list[Record], pattern: str) -> list[int]:
    """`running` as numbers, 0 before the first: digits as they stand, `one` to `four` by their value."""
    return [WORDS[one] if one in WORDS else int(one or 0) for one in running(levels, pattern)]


def barbarian_figures(levels: list[Record], text: str) -> dict[str, list[Any]]:
    """Dice of Brutal Critical, from the feature's name."""
    return {"brutal_critical_dice": figure(levels, r"brutal-critical-(\d)-di\w+")}


def bard_figures(levels: list[Record], text: str) -> dict[str, list[Any]]:
    """Dice sizes from the features' names; two spells with each Magical Secrets."""
    return {
        "inspiration_die": figure(levels, r"bardic-inspiration-d(\d+)"),
        "song_of_rest_die": figure(levels, r"song-of-rest-d(\d+)"),
        "magical_secrets": [2 * total for total in count(levels, r"magical-secrets")],
    }


def cleric_figures(levels: list[Record], text: str) -> dict[str, list[Any]]:
    """Uses of Channel Divinity from the feature's name; ratings of the Destroy Undead table."""
    ratings = {
        int(number(row.cells[0])): number(row.cells[1])
        for row in rows(text)
        if row.titles[-1].startswith("Destroys Undead")
    }
    return {
        "channel_divinity": figure(levels, r"channel-divinity-(\d)-rest"),
        "destroy_undead": [max((ratings[at] for at in ratings if at <= n), default=0) for n in range(1, 21)],
    }


def druid_figures(levels: list[Record], text: str) -> dict[str, list[Any]]:
    """The Beast Shapes table. Its header is shifted by one column (reference NOTES, A5): level, rating, limits."""
    shapes = {int(number(row.cells[0])): row.cells for row in rows(text) if row.titles[0] == "Max."}
    latest = [max((at for at in shapes if at <= n), default=0) for n in range(1, 21)]
    return {
        "wild_shape_cr": [number(shapes[at][1]) if at else 0 for at in latest],
        "wild_shape_swim": [bool(at) and "swimming" not in shapes[at][2] for at in latest],
        "wild_shape_fly": [bool(at) and "flying" not in shapes[at][2] for at in latest],
    }


def fighter_figures(levels: list[Record], text: str) -> dict[str, list[Any]]:
    """Uses and numbers of attacks, from the features' names."""
    attacks = running(levels, r"extra-attack(-\d|)")
    return {
        "action_surges": figure(levels, r"action-surge-(one|two)-uses?"),
        "indomitable": figure(levels, r"indomitable-(one|two|three)-uses?"),
        "extra_attacks": [0 if one is None else int(one.strip("-") or 1) for one in attacks],
    }


def paladin_figures(levels: list[Record], text: str) -> dict[str, list[Any]]:
    """Feet that the auras reach: from Aura of Protection on, and wider from the improvement on."""
    starts = {key: record["level"] for record in levels for key in record["features"]}
    block = text[text.index("### Aura of Protection") : text.index("### Aura of Courage")]
    near, wide = (int(re.findall(pattern, block)[0]) for pattern in (r"within (\d+) feet", r"increases to (\d+) feet"))
    reach = [(starts["aura-improvements"], wide), (starts["aura-of-protection"], near), (0, 0)]
    return {"aura_range": [next(feet for start, feet in reach if n >= start) for n in range(1, 21)]}


def ranger_figures(levels: list[Record], text: str) -> dict[str, list[Any]]:
    """Enemies and terrains: one with the feature and with each of its improvements."""
    return {
        "favored_enemies": count(levels, r"favored-enemy"),
        "favored_terrains": count(levels, r"natural-explorer"),
    }


def sorcerer_figures(levels: list[Record], text: str) -> dict[str, list[Any]]:
    """Metamagic options: two with the first mention of the feature, one more with each later one."""
    return {"metamagic": [total + 1 if total else 0 for total in count(levels, r"metamagic")]}


def warlock_figures(levels: list[Record], text: str) -> dict[str, list[Any]]:
    """Highest level of Mystic Arcanum, from the feature's name."""
    return {"arcanum_level": figure(levels, r"mystic-arcanum-(\d)\w\w-level")}


def wizard_figures(levels: list[Record], text: str) -> dict[str, list[Any]]:
    """Slot levels of Arcane Recovery: half the wizard level, rounded up (SRD 5.1, Wizard, Arcane Recovery)."""
    return {"arcane_recovery": [(n + 1) // 2 for n in range(1, 21)]}


FIGURES = {
    "barbarian": barbarian_figures,
    "bard": bard_figures,
    "cleric": cleric_figures,
    "druid": druid_figures,
    "fighter": fighter_figures,
    "paladin": paladin_figures,
    "ranger": ranger_figures,
    "sorcerer": sorcerer_figures,
    "warlock": warlock_figures,
    "wizard": wizard_figures,
}


def add_derived(identity: str, levels: list[Record], text: str) -> None:
    """Put into each level the figures that feature names and the small tables state: dice, uses, counts, ranges."""
    columns: dict[str, list[Any]] = {"increases": count(levels, r"ability-score-improvement")}
    if identity in FIGURES:
        columns |= FIGURES[identity](levels, text)
    for name, column in columns.items():
        for record, value in zip(levels, column, strict=True):
            record[name] = value


def sections(text: str) -> dict[str, str]:
    """The chapter cut into its twelve classes."""
    cuts = [(name, text.index(f"#### The {name.capitalize()}\n")) for name in CLASSES]
    starts = {name: text.rindex("Class Features\n", 0, at) for name, at in cuts}
    order = sorted(starts.items(), key=lambda pair: pair[1])
    ends = [at for _, at in order[1:]] + [len(text)]
    return {name: text[start:end] for (name, start), end in zip(order, ends, strict=True)}


def class_levels(text: str) -> list[Record]:
    """240 records, one for each row of the twelve class tables."""
    found = []
    for identity, part in sections(text).items():
        table = [row for row in rows(part) if row.heading == f"The {identity.capitalize()}"]
        levels = [level_record(identity, row) for row in table]
        add_derived(identity, levels, part)
        found += levels
    return found


def fields_of(part: str) -> dict[str, str]:
    """The bold-titled lines of Hit Points and Proficiencies, unwrapped."""
    block = part[: part.index("#### Equipment")]
    pieces = re.split(r"\*\*([A-Z][\w ]*):\*\*", block)
    return {
        title: plain(value.split("####")[0].replace("\n", " "))
        for title, value in zip(pieces[1::2], pieces[2::2], strict=True)
    }


def listed(printed: str) -> list[str]:
    """A comma list as ids, sorted; `None` is empty and a remark in brackets is dropped."""
    bare = re.sub(r"\([^)]*\)", "", printed)
    parts = (slug(part) for part in bare.split(","))
    return sorted(part for part in parts if part not in ("", "none"))


def basics(text: str) -> list[Record]:
    """Hit die, hit points, saves, skills, proficiencies and casting ability of each class."""
    found = []
    for identity, part in sections(text).items():
        field = fields_of(part)
        skills = field["Skills"]
        choice = re.match(r"Choose (?:any )?(\w+)", skills)
        assert choice
        named = re.sub(r".*? from ", "", skills, count=1) if " from " in skills else ""
        ability = re.search(rf"(\w+) is your spellcasting ability for your {identity} spells", part)
        found.append(
            {
                "id": identity,
                "hit_die": int(field["Hit Dice"].split()[0].partition("d")[2]),
                "first_hit_points": int(field["Hit Points at 1st Level"].split()[0]),
                "fixed_hit_points": int(number(re.findall(r"\(or (\d+)\)", field["Hit Points at Higher Levels"])[0])),
                "armor": listed(field["Armor"]),
                "weapons": listed(field["Weapons"]),
                "tools": listed(field["Tools"]),
                "saves": sorted(ABILITIES[name.lower()] for name in field["Saving Throws"].split(", ")),
                "skill_count": WORDS[choice[1]],
                "skills": sorted(slug(re.sub(r"^and ", "", name.strip())) for name in named.split(",") if name.strip())
                or "any",
                "casting_ability": ABILITIES[ability[1].lower()] if ability else None,
            }
        )
    return found


def multiclassing(text: str) -> dict[str, list[Record]]:
    """The multiclassing tables (prerequisites with proficiencies, slots) and the advancement table."""
    classes: dict[str, Record] = {name: {"id": name} for name in CLASSES}
    slots = []
    advancement = []
    for row in rows(text):
        if row.titles == ("Class", "Ability Score Minimum"):
            needs = [[ABILITIES[name.lower()], int(least)] for name, least in re.findall(r"(\w+) (\d+)", row.cells[1])]
            classes[row.cells[0].lower()] |= {"needs": needs, "any_of": " or " in row.cells[1]}
        elif row.titles == ("Class", "Proficiencies Gained"):
            classes[row.cells[0].lower()]["gains"] = listed(row.cells[1].replace("--", ""))
        elif row.titles == ("Level", *ORDINALS):
            slots.append(
                {"id": f"{int(number(row.cells[0])):02}", "slots": [int(number(cell)) for cell in row.cells[1:]]}
            )
        elif row.titles[:2] == ("Experience Points", "Level"):
            advancement.append(
                {
                    "id": f"{int(row.cells[1]):02}",
                    "experience": int(number(row.cells[0])),
                    "proficiency_bonus": int(number(row.cells[2])),
                }
            )
    return {"multiclass": list(classes.values()), "multiclass-slots": slots, "advancement": advancement}


def subclass_spells(text: str) -> list[Record]:
    """The spell tables of domain, circles, oath and patron: one record for each row."""
    found = []
    parts = sections(text)
    titles = {"cleric": "life", "druid": "land", "paladin": "devotion", "warlock": "fiend"}
    for identity, subclass in titles.items():
        for row in rows(parts[identity]):
            if row.titles[-1].endswith("Spells") and len(row.titles) == 2:
                land = f"-{slug(row.heading)}" if subclass == "land" else ""
                found.append(
                    {
                        "id": f"{subclass}{land}-{int(number(row.cells[0]))}",
                        "subclass": subclass,
                        "table": row.heading,
                        "level": int(number(row.cells[0])),
                        "spells": sorted(slug(name) for name in row.cells[1].split(",")),
                    }
                )
    return found


def subclass_lists(table_rows: list[Record]) -> list[Record]:
    """All spells of each subclass table together, whatever the level or land."""
    lists: dict[str, dict[str, bool]] = {}
    for row in table_rows:
        lists.setdefault(row["subclass"], {}).update(dict.fromkeys(row["spells"], True))
    return [{"id": subclass, "spells": dict(sorted(spells.items()))} for subclass, spells in lists.items()]
