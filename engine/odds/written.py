"""Lists as people write them: the members of a group with their bonuses, creatures with their hit points."""

from __future__ import annotations

import re
from typing import Any

from engine.odds.d20 import D20
from engine.odds.fell import MAX_CREATURES, Creature
from engine.odds.group import MAX_MEMBERS
from engine.problem import Refused

_MEMBER = re.compile(r"(?:(?P<count>\d{1,3})\s*(?:x|times|with|of)\s*)?(?P<bonus>[+-]?\s*\d{1,4})(?P<rest>.*)", re.I)
_REST = re.compile(
    r"\s*(?:(?:with\s+)?(?P<edge>advantage|disadvantage)|lowest\s+(?P<lowest>\d{1,2})|(?P<luck>reroll ones)"
    r"|(?P<sign>plus|minus)\s+(?P<dice>\d*d\d+(?:\s*[+-]\s*\d*d?\d+)*))(?=\s|$)",
    re.I,
)
_CREATURE = re.compile(
    r"(?:(?P<count>\d{1,3})\s*(?:x|times|of)?\s+)?(?P<name>[^\d,;]*?)\s*:?\s*(?P<points>\d{1,6})", re.I
)


def members_of(text: str) -> tuple[D20, ...] | Refused:
    """Return the rolls that a list means: `5, 3 with advantage, -1`, `3 x +2, +6 lowest 10, 0 plus 1d4`."""
    members: list[D20] = []
    for part in re.split(r"[,;\n]", text):
        if not part.strip():
            continue
        read = _MEMBER.fullmatch(part.strip())
        fields = _rest(read["rest"]) if read is not None else None
        if read is None or fields is None:
            return Refused(
                "members", f'"{part.strip()}" is no member; write a bonus, such as 5, or 3 with advantage, or -1.'
            )
        count = int(read["count"] or 1)
        if not 1 <= count <= MAX_MEMBERS - len(members):
            return Refused("members", f"There are {len(members) + count} members; 1 to {MAX_MEMBERS} are worked out.")
        members += [D20(bonus=int("".join(read["bonus"].split())), **fields)] * count
    return tuple(members)


def creatures_of(text: str) -> tuple[Creature, ...] | Refused:
    """Return the creatures that a list means: `goblin 7, 3 wolf 11, ogre 59`, or hit points alone: `7, 7, 22`."""
    creatures: list[Creature] = []
    for part in re.split(r"[,;\n]", text):
        if not part.strip():
            continue
        read = _CREATURE.fullmatch(part.strip())
        if read is None:
            return Refused(
                "creatures", f'"{part.strip()}" is no creature with hit points; write for example goblin 7, or just 7.'
            )
        count = int(read["count"] or 1)
        if not 1 <= count <= MAX_CREATURES - len(creatures):
            return Refused(
                "creatures", f"There are {len(creatures) + count} creatures; 1 to {MAX_CREATURES} are worked out."
            )
        for _ in range(count):
            name = read["name"].strip() or f"creature {len(creatures) + 1}"
            creatures.append(Creature(name=name[:60], hit_points=int(read["points"])))
    return tuple(creatures)


def _rest(text: str) -> dict[str, Any] | None:
    """Return the fields that stand after a bonus, or None where the words say nothing known."""
    fields: dict[str, Any] = {}
    place = 0
    while text[place:].strip():
        read = _REST.match(text, place)
        if read is None:
            return None
        place = read.end()
        if read["edge"]:
            fields[read["edge"].lower()] = True
        elif read["lowest"]:
            fields["lowest"] = int(read["lowest"])
        elif read["luck"]:
            fields["reroll_ones"] = True
        else:
            fields[read["sign"].lower()] = read["dice"]
    return fields
