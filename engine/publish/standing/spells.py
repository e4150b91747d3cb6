"""What the spells of a build can do: which are at hand, which charm or frighten, which end a fight by hit points."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Final

from engine.odds.distribution import Distribution
from engine.odds.notation import parse
from engine.odds.sources.endings import pool_at, spares
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


def endings(level: Level) -> Iterator[tuple[Spell, str, int | None]]:
    """Yield the spells at hand that take out by hit points: (spell, dice of the highest slot or "", limit or None)."""
    slots = [n for n in range(1, 10) if level.value(f"slots.{n}")]
    highest = max([*slots, level.value("pact.slot_level")], default=0)
    for spell in at_hand(level).values():
        if spell.ends is not None and highest >= spell.level:
            yield spell, pool_at(spell, highest), spell.ends.limit


def falls(creature: Creature, spell: Spell, dice: str) -> float:
    """Return the chance that a spell takes a creature out that has all its hit points and stands alone."""
    if spell.ends is None or spares(spell, creature):
        return 0.0
    if spell.ends.limit is not None:
        return float(creature.hp <= spell.ends.limit)
    return _pool(dice).at_least(creature.hp)


@lru_cache(maxsize=64)
def _pool(dice: str) -> Distribution:
    read = parse(dice)
    if isinstance(read, Refused):
        raise ValueError(read.sentence)
    return read.distribution()
