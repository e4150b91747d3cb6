"""Spell facts of the SRD 5.1 text: descriptions' headings and the eight class lists."""

from __future__ import annotations

import re

from tests.reference.figures import ABILITIES, Record, plain, slug

# Two bullets of the copy hold one spell each (reference NOTES, A7 and A8).
SPLIT_BULLETS = {("power-word", "stun"): "power-word-stun", ("legend", "lore"): "legend-lore"}

HEADING = re.compile(
    r"^\*(?:(?P<level>\d)(?:st|nd|rd|th)-level (?P<school>\w+)|(?P<cantrip_school>\w+) cantrip)"
    r"(?P<ritual>\s*\(ritual\))?\*$",
    re.I,
)
FIELD = re.compile(r"\*\*(Casting Time|Range|Component|Duration)s?\s*:?\s*\*\*\s*:?")


def class_lists(text: str) -> dict[str, dict[str, int]]:
    """For each class id its list: spell id to the level under which the list prints it."""
    lists: dict[str, dict[str, int]] = {}
    current: dict[str, int] | None = None
    level = 0
    pending: list[str] = []
    for line in text.split("\n"):
        if match := re.match(r"^### (\w+) Spells\s*$", line):
            current = lists.setdefault(match[1].lower(), {})
        elif line.startswith("Spell Descriptions"):
            break
        elif current is not None and (match := re.match(r"^#### (Cantrips|(\d)\w\w Level)", line)):
            level = int(match[2] or 0)
            pending = []
        elif current is not None and line.startswith("- "):
            name = slug(line[2:])
            pending = [*pending[-1:], name]
            if tuple(pending) in SPLIT_BULLETS:
                del current[pending[0]]
                name = SPLIT_BULLETS[pending[0], pending[1]]
            current[name] = level
    return lists


def costs(material: str) -> tuple[list[int], bool]:
    """Prices in gp named in a material component, in order, and whether the spell consumes any of it."""
    prices = [int(number.replace(",", "")) for number in re.findall(r"(\d[\d,]*)\s?gp", material)]
    return prices, bool(re.search(r"consume", material))


DAMAGE_TYPES = "acid|bludgeoning|cold|fire|force|lightning|necrotic|piercing|poison|psychic|radiant|slashing|thunder"
SAVE_NAMES = "|".join(ABILITIES)


def prose_figures(description: str, higher: str) -> Record:
    """Dice, saves and attacks that a description names: figures only, each once, sorted.

    `damage` holds `8d6 fire`; dice for something else than damage of a named type stand in `dice`; `higher` the
    slot levels that the passage on higher slots names.
    """
    words = re.sub(r"(\d)d (\d)", r"\1d\2", plain(f"{description} {higher}").replace("1dl0", "1d10")).lower()
    damage = re.findall(rf"(\d+d\d+(?: \+ \d+)?) ({DAMAGE_TYPES}) damage", words)
    saves = re.findall(rf"\b({SAVE_NAMES}) saving throw|saving throw of ({SAVE_NAMES})", words)
    return {
        "damage": sorted({f"{dice} {kind}".replace(" + ", "+") for dice, kind in damage}),
        "dice": sorted(set(re.findall(r"\d+d\d+", words))),
        "saves": sorted({ABILITIES[one or other] for one, other in saves}),
        "attacks": sorted(set(re.findall(r"(melee|ranged) spell attack", words))),
        "higher": sorted({int(level) for level in re.findall(r"(\d)(?:st|nd|rd|th)", higher)}),
        "half": "half as much damage" in words or "half damage" in words or "half the damage" in words,
    }


def casting_facts(fields: dict[str, str]) -> Record:
    """Common record fields of the four printed lines: time, range, components, duration."""
    time = plain(fields["Casting Time"]).lower()
    reach = plain(fields["Range"]).lower()
    duration = plain(fields["Duration"]).lower()
    letters, _, material = plain(fields["Component"]).partition("(")
    prices, consumed = costs(material)
    own_area = re.fullmatch(r"self \((.*)\)", reach)
    concentration = duration.startswith("concentration")
    facts: Record = {
        "time": re.sub(r"^(1 reaction),? which .*", r"\1, trigger", time),
        "range": "self" if own_area else reach,
        "components": re.findall(r"[VSM]", letters),
        "duration": re.sub(r"^concentration,? ?", "", duration),
        "concentration": concentration,
        "costs": prices,
        "consumed": consumed,
    }
    if own_area:
        facts["self_area"] = own_area[1]
    return facts


def spells(text: str) -> list[Record]:
    """One record for each described spell, with the classes whose lists name it."""
    lists = class_lists(text)
    body = text[text.index("Spell Descriptions\n") :]
    found = []
    for block in re.split(r"^#### ", body, flags=re.M)[1:]:
        name, _, rest = block.partition("\n")
        head = re.split(r"\n", rest.strip(), maxsplit=1)
        match = HEADING.match(head[0].strip())
        if not match and not head[0].startswith("*"):
            continue  # headed tables inside a spell (Control Weather)
        if not match:
            raise ValueError(f"no level line under {name!r}: {head[0]!r}")
        fields: dict[str, str] = {}
        marks = list(FIELD.finditer(rest))[:4]
        for mark, following in zip(marks, [*marks[1:], None], strict=True):
            end = following.start() if following else rest.index("\n", mark.end())
            fields[mark[1]] = rest[mark.end() : end]
        identity = slug(name)
        found.append(
            {
                "id": identity,
                "name": plain(name),
                "level": int(match["level"] or 0),
                "school": (match["school"] or match["cantrip_school"]).lower(),
                "ritual": bool(match["ritual"]),
                **casting_facts(fields),
                "classes": sorted(key for key, members in lists.items() if identity in members),
                "prose": prose_figures(*re.split(r"\*\*At Higher Levels|\Z", rest[marks[3].end() :])[:2]),
            }
        )
    return found
