"""Subclass features with their levels, and starting equipment, of the SRD 5.1 text (classes.md)."""

from __future__ import annotations

import re

from tests.reference.figures import Record, plain, slug
from tests.reference.text_classes import sections

# The twelve headings under which subclass features stand, with the ids used on both sides.
SUBCLASSES = {
    "barbarian": ("Path of the Berserker", "berserker"),
    "bard": ("College of Lore", "lore"),
    "cleric": ("Life Domain", "life"),
    "druid": ("Circle of the Land", "land"),
    "fighter": ("Champion", "champion"),
    "monk": ("Way of the Open Hand", "open-hand"),
    "paladin": ("Oath of Devotion", "devotion"),
    "ranger": ("Hunter", "hunter"),
    "rogue": ("Thief", "thief"),
    "sorcerer": ("Draconic Bloodline", "draconic"),
    "warlock": ("The Fiend", "fiend"),
    "wizard": ("School of Evocation", "evocation"),
}
# Headings in those sections that are tables or flavour, not features.
NO_FEATURES = {
    "life-domain-spells", "circle-spells", "arctic", "coast", "desert", "forest", "grassland", "mountain", "swamp",
    "tenets-of-devotion", "oath-spells", "expanded-spell-list", "oath-of-devotion-spells", "fiend-expanded-spells",
    "draconic-ancestry",
}  # fmt: skip

COUNTS = {"a": 1, "an": 1, "any": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "ten": 10}
# Words of the equipment lines and the thing each names.
THINGS = {
    "arrows": "arrow", "bolts": "crossbow-bolt", "daggers": "dagger", "darts": "dart", "handaxes": "handaxe",
    "javelins": "javelin", "shortswords": "shortsword", "light-crossbow": "crossbow-light", "wooden-shield": "shield",
    "martial-weapon": "martial-weapons", "simple-weapon": "simple-weapons",
    "simple-melee-weapon": "simple-melee-weapons", "martial-melee-weapon": "martial-melee-weapons",
    "other-musical-instrument": "musical-instruments", "holy-symbol": "holy-symbols", "druidic-focus": "druidic-foci",
    "arcane-focus": "arcane-foci",
}  # fmt: skip


def features(text: str) -> list[Record]:
    """One record for each feature heading in the twelve subclass sections, with the level its first lines state."""
    found = []
    for identity, part in sections(text).items():
        title, subclass = SUBCLASSES[identity]
        match = re.search(rf"^### {title}\n(.*?)(?=^### |\Z)", part, flags=re.M | re.S)
        if not match:
            raise ValueError(f"no section {title!r}")
        for block in re.split(r"^####+ ", match[1], flags=re.M)[1:]:
            name, _, rest = block.partition("\n")
            key = slug(name)
            if key in NO_FEATURES:
                continue
            level = re.search(r"(\d+)(?:st|nd|rd|th)[- ]level", rest)
            if level is None:
                raise ValueError(f"no level in {name!r}")
            # The oath's one heading holds two options, each with a bold head.
            options = re.findall(r"^\*\*\*([\w ]+)\.\*\*\*", rest, flags=re.M) if key == "channel-divinity" else []
            for each in [f"channel-divinity-{slug(option)}" for option in options] or [key]:
                found.append(
                    {"id": f"{subclass}-{each}", "class": identity, "subclass": subclass, "level": int(level[1])}
                )
    return found


def things(words: str) -> list[list[int | str]]:
    """`A longbow and a quiver of 20 arrows` as [count, thing] pairs, sorted by thing."""
    found: list[list[int | str]] = []
    bare = re.sub(r"\(if proficient\)", "", words).replace("quiver of", "quiver,")
    for part in re.split(r",(?: and)?|\band\b", bare):
        first, _, rest = part.strip().partition(" ")
        if not first:
            continue
        if first.isdigit() or first.lower() in COUNTS:
            count, name = int(first) if first.isdigit() else COUNTS[first.lower()], slug(rest)
            # "any simple weapon" and "two martial weapons" name a group; "an explorer's pack" one thing.
            if name.startswith("any-"):
                name = name.removeprefix("any-")
        else:
            count, name = 1, slug(part)
        found.append([count, THINGS.get(name, name)])
    return sorted(found, key=lambda pair: str(pair[1]))


def starting_equipment(text: str) -> list[Record]:
    """For each class its fixed things and its choices, each choice a list of options, each option a list of things."""
    found = []
    for identity, part in sections(text).items():
        block = re.search(r"#### Equipment\n(.*?)#### The", part, flags=re.S)
        assert block
        fixed: list[list[int | str]] = []
        choices = []
        for line in re.findall(r"^- (.*)$", block[1], flags=re.M):
            options = [
                option for option in re.split(r"(?:,? or|,)? ?\((?:a|b|c)\) ", " " + plain(line)) if option.strip()
            ]
            if len(options) == 1:  # also the rogue's line with a stray "(a)" (reference NOTES, A16)
                fixed += things(options[0])
            else:
                choices.append(sorted(things(option) for option in options))
        found.append(
            {"id": identity, "fixed": sorted(fixed, key=lambda pair: str(pair[1])), "choices": sorted(choices, key=str)}
        )
    return found


def invocations(text: str) -> list[Record]:
    """Eldritch invocations with their printed prerequisites: warlock level, pact, cantrip."""
    part = sections(text)["warlock"]
    start = (
        part.index("Eldritch Invocations\n---")
        if "Eldritch Invocations\n---" in part
        else part.index("#### Agonizing Blast")
    )
    block = part[start : part.index("### The Fiend")]
    found = []
    for entry in re.split(r"^#### ", block, flags=re.M)[1:]:
        name, _, rest = entry.partition("\n")
        line = re.search(r"Prerequisites?:? ?\**:? ?(.*)", rest)
        needs = plain(line[1]) if line else ""
        level = re.search(r"(\d+)\w\w level", needs)
        pact = re.search(r"Pact of the (\w+)", needs)
        found.append(
            {
                "id": slug(name),
                "level": int(level[1]) if level else 0,
                "pact": pact[1].lower() if pact else None,
                "spell": "eldritch-blast" if "eldritch blast" in needs else None,
            }
        )
    return found
