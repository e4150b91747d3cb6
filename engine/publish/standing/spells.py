"""What the spells of a build can do: which are at hand, which charm or frighten, which end a fight by hit points."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from engine.odds.distribution import Distribution
from engine.odds.notation import parse
from engine.problem import Refused
from engine.publish.standing.damage import Level
from engine.rules.content import Creature, Spell
from engine.rules.grants.casting import Spellcasting

# Spells that work only on creatures that can be charmed, or frightened. SRD 5.1, Spells, each under its name; ids of
# the release, other folios add none.
CHARMING: Final = frozenset(
    {
        "animal-friendship", "charm-person", "compulsion", "dominate-beast", "dominate-monster", "dominate-person",
        "enthrall", "geas", "hypnotic-pattern", "irresistible-dance", "mass-suggestion", "modify-memory", "suggestion",
    }
)  # fmt: skip
FRIGHTENING: Final = frozenset({"fear", "phantasmal-killer", "weird"})


@dataclass(frozen=True, slots=True)
class Ending:
    """A spell that takes a creature out by its hit points.

    limit: highest hit points that it works on; or pool: dice of hit points, by_slot: more for each slot level above
    slot. spares: creature types and condition immunities that it does nothing to.
    """

    spell: str
    limit: int | None = None
    pool: str | None = None
    by_slot: str | None = None
    slot: int = 1
    spares: frozenset[str] = frozenset()


# SRD 5.1, Spells: Sleep, Color Spray, Divine Word, Power Word Stun, Power Word Kill.
ENDINGS: Final[tuple[Ending, ...]] = (
    Ending("sleep", pool="5d8", by_slot="2d8", slot=1, spares=frozenset({"undead", "charmed"})),
    Ending("color-spray", pool="6d10", by_slot="2d10", slot=1, spares=frozenset({"blinded"})),
    Ending("divine-word", limit=20),
    Ending("power-word-stun", limit=150, spares=frozenset({"stunned"})),
    Ending("power-word-kill", limit=100),
)


def at_hand(level: Level) -> dict[str, Spell]:
    """Return the spells that a build has learned, or could prepare, at a level, by id; cantrips among them."""
    found: dict[str, Spell] = {}
    for learned in level.at.gathered.spells:
        if learned.how != "listed" and learned.since <= level.level <= learned.until:
            _add(found, level.catalog.spell(learned.spell))
    for granted in level.at.holding("spellcasting"):
        grant = granted.grant
        if isinstance(grant, Spellcasting) and grant.preparation == "prepared":
            top = level.value(f"casting.{granted.owner}.top_level")
            for spell in level.catalog.spells_of(grant.list):
                if 1 <= spell.level <= top:
                    _add(found, spell)
    return found


def _add(found: dict[str, Spell], spell: Spell | None) -> None:
    if spell is not None:
        found.setdefault(spell.id, spell)


def endings(level: Level) -> Iterator[tuple[Spell, Ending, str]]:
    """Yield the spells at hand that take out by hit points, with the dice of the highest slot (empty for a limit)."""
    spells = at_hand(level)
    slots = [n for n in range(1, 10) if level.value(f"slots.{n}")]
    highest = max([*slots, level.value("pact.slot_level")], default=0)
    for ending in ENDINGS:
        spell = spells.get(ending.spell)
        if spell is None or highest < spell.level:
            continue
        dice = ending.pool or ""
        if ending.pool is not None and ending.by_slot is not None and highest > ending.slot:
            count, sides = ending.by_slot.split("d")
            dice = f"{dice}+{int(count) * (highest - ending.slot)}d{sides}"
        yield spell, ending, dice


def falls(creature: Creature, ending: Ending, dice: str) -> float:
    """Return the chance that a spell takes a creature out that has all its hit points and stands alone."""
    if ending.spares & {creature.type, *creature.condition_immunities}:
        return 0.0
    if ending.limit is not None:
        return float(creature.hp <= ending.limit)
    return _pool(dice).at_least(creature.hp)


@lru_cache(maxsize=64)
def _pool(dice: str) -> Distribution:
    read = parse(dice)
    if isinstance(read, Refused):
        raise ValueError(read.sentence)
    return read.distribution()
