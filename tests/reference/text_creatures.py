"""Creature stat lines of the SRD 5.1 text: monsters.md, creatures.md, npcs.md."""

from __future__ import annotations

import re

from tests.reference.figures import ABILITIES, Record, plain, slug

SIZES = "Tiny|Small|Medium|Large|Huge|Gargantuan"
KIND = re.compile(rf"^(?P<size>{SIZES}) (?P<type>[^,(]+?)(?: \((?P<subtype>[^)]*)\))?, (?P<alignment>.+)$")
FIELDS = (
    "Armor Class|Hit Points|Speed|Saving Throws|Skills|Senses|Languages|Challenge|Damage Vulnerabilities|"
    "Damage Resistances?|Damage Immunities|Condition Immunities"
)
FIELD = re.compile(rf"^\**\s*({FIELDS})\s*:?\**:?\s+(.*)$")
FRACTIONS = {"1/8": 0.125, "1/4": 0.25, "1/2": 0.5}


def kind_of(line: str) -> re.Match[str] | None:
    """The match of an italic size-and-type line (`*Large beast, unaligned*`), else None."""
    return KIND.match(plain(line)) if line.strip().startswith("*") else None


def split_blocks(text: str) -> list[tuple[str, re.Match[str], list[str]]]:
    """Name, size-and-type line and the lines after it, for every stat block."""
    lines = text.split("\n")
    starts = [index for index, line in enumerate(lines) if kind_of(line)]
    blocks = []
    for start, end in zip(starts, [*starts[1:], len(lines)], strict=True):
        above = next(line for line in reversed(lines[:start]) if line.strip())
        match = kind_of(lines[start])
        assert match
        blocks.append((plain(above.strip("#* ")), match, lines[start + 1 : end]))
    return blocks


def damage_words(printed: str) -> list[str]:
    """Damage types of a printed list, lower case, each with its limits in brackets: `fire`, `slashing (nonmagical)`.

    Both sources say "from nonmagical attacks" and "from nonmagical weapons" for one rule; the limits are kept
    as words (nonmagical, not silvered, not adamantine), a clause of another kind as it stands.
    """
    parts = []
    for clause in re.split(r";\s*", plain(printed).lower()):
        types = re.findall(r"\b(bludgeoning|piercing|slashing)\b", clause)
        if "nonmagical" in clause and types:
            limits = ["nonmagical"]
            limits += [f"not {metal}" for metal in ("silvered", "adamantine") if metal in clause]
            parts += [f"{kind} ({', '.join(limits)})" for kind in types]
            if "(from stoneskin)" in clause:
                parts = [part.replace("(", "(stoneskin, ") for part in parts]
            # Types listed before the clause without a semicolon between them stand alone.
            before = clause[: clause.index(types[0])]
            words = (word.strip() for word in before.replace("nonmagical", "").split(","))
            parts += [word for word in words if word not in ("", "and")]
        elif re.search(r"attack|weapon|damage|spell", clause):
            parts.append(clause)
        else:
            parts += [word.strip() for word in clause.split(",") if word.strip()]
    return sorted(parts)


def senses(printed: str) -> dict[str, int]:
    """Each sense with its distance in feet, and `passive_perception`."""
    bare = re.sub(r"\([^)]*\)", "", printed)  # "(blind beyond this radius)"; a shorter reach while deafened
    bare = re.sub(r" or \d+ ft\.? [^,]*", "", bare)
    found = {name: int(feet) for name, feet in re.findall(r"(\w+) (\d+) ft", bare)}
    if match := re.search(r"passive Perception (\d+)", printed, re.I):
        found["passive_perception"] = int(match[1])
    return found


def speeds(printed: str) -> dict[str, int]:
    """Each way of moving with its feet; the first figure without a word is walking. Forms in brackets are left out."""
    bare = re.sub(r"\([^)]*\)?", "", plain(printed))
    found: dict[str, int] = {}
    for way, feet in re.findall(r"(?:(walk|fly|swim|climb|burrow) )?(\d+) ft", bare):
        found.setdefault(way or "walk", int(feet))
    return found


def signed(printed: str) -> dict[str, int]:
    """`Dex +5, Con +6` as ids and numbers."""
    found = {}
    for name, sign, amount in re.findall(r"([A-Z][A-Za-z ]+?) ?([+-]) ?(\d+)", plain(printed)):
        key = slug(name)
        found[ABILITIES.get(key, key)] = int(sign + amount)
    return found


def creature(name: str, kind: re.Match[str], lines: list[str], chapter: str) -> Record:
    """The record of one stat block."""
    fields: dict[str, str] = {}
    scores: list[int] = []
    for printed in lines:
        line = printed.replace("**Armor** Class", "**Armor Class**")  # Water Elemental (reference NOTES, A17)
        for part in re.split(rf"(?=\*\*(?:{FIELDS})\b)", line.strip()):
            if (match := FIELD.match(part.strip())) and match[1] not in fields:
                fields[match[1].replace("Resistances", "Resistance")] = match[2].strip()
        if line.startswith("|") and not scores:
            numbers = re.findall(r"(\d+) ?\([+−–-]? ?\d+\)", line)
            if len(numbers) == 6:
                scores = [int(number) for number in numbers]
    body = "\n".join(lines)
    points = re.match(r"(\d+) ?\((\d+)d(\d+)(?: ?([+−–-]) ?(\d+))?\)", fields["Hit Points"])
    if points is None:
        raise ValueError(f"no hit points of {name}: {fields['Hit Points']!r}")
    sign = "+" if points[4] == "+" else "-"
    challenge = re.match(r"([\d/]+) ?\(([\d,]+) XP\)", fields["Challenge"])
    if challenge is None:
        raise ValueError(f"no challenge of {name}: {fields['Challenge']!r}")
    legendary = re.search(r"Legendary Resistance \((\d)/Day\)", body)
    armor = re.match(r"(\d+)", fields["Armor Class"])
    assert armor
    return {
        "id": slug(name),
        "name": name,
        "chapter": chapter,
        "size": kind["size"].lower(),
        "type": kind["type"].lower(),
        "alignment": plain(kind["alignment"]).lower(),
        "armor_class": int(armor[1]),
        "hit_points": int(points[1]),
        "hit_dice": f"{points[2]}d{points[3]}",
        "hit_point_bonus": int(sign + points[5]) if points[5] else 0,
        "speed": speeds(fields["Speed"]),
        "hover": "hover" in fields["Speed"],
        "scores": scores,
        "saves": signed(fields.get("Saving Throws", "")),
        "skills": signed(fields.get("Skills", "")),
        "senses": senses(fields.get("Senses", "")),
        "vulnerabilities": damage_words(fields.get("Damage Vulnerabilities", "")),
        "resistances": damage_words(fields.get("Damage Resistance", "")),
        "immunities": damage_words(fields.get("Damage Immunities", "")),
        "condition_immunities": sorted(
            word.strip() for word in fields.get("Condition Immunities", "").lower().split(",") if word.strip()
        ),
        "challenge": FRACTIONS.get(challenge[1]) or int(challenge[1].split("/")[0]),
        "xp": int(challenge[2].replace(",", "")),
        "magic_resistance": bool(re.search(r"\*\*\*Magic Resistance\.", body)),
        "legendary_resistance": int(legendary[1]) if legendary else 0,
    }


def lycanthrope_forms(record: Record, armor: str, speed: str, printed_senses: str) -> list[Record]:
    """A were-creature's block as three records: human, animal, hybrid, with armor class, speed and senses of each."""
    animal = record["id"].removeprefix("were")
    forms = []
    for form in ("human", animal, "hybrid"):
        changed = dict(record, id=f"{record['id']}-{form}", name=f"{record['name']}, {form} form")
        if form != "human" and (match := re.search(r", (\d+) \(natural armor\) in ([\w ]+) form", armor)):
            changed["armor_class"] = int(match[1])
        if (match := re.search(r"\(([^)]*) in ([\w ]+) form\)", speed)) and form in match[2].split():
            changed["speed"] = speeds(match[1])
        changed["senses"] = {
            sense: feet
            for sense, feet in record["senses"].items()
            if not (match := re.search(rf"{sense} \d+ ft\.? \((\w+) form only\)", printed_senses)) or match[1] == form
        }
        forms.append(changed)
    return forms


def creatures(texts: dict[str, str]) -> list[Record]:
    """All stat blocks of the given files (file name to text); lycanthropes as one record for each form."""
    found = []
    for chapter, text in texts.items():
        for name, kind, lines in split_blocks(text):
            record = creature(name, kind, lines, chapter)
            if name.startswith("Were"):
                marks = ("**Armor Class**", "**Speed**", "**Senses**")
                armor, speed, seen = (next(line for line in lines if mark in line) for mark in marks)
                found += lycanthrope_forms(record, armor, speed, seen)
            else:
                found.append(record)
    return found
