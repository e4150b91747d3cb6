"""Spells that take creatures out by their hit points: the dice at a slot, and whom they spare."""

from __future__ import annotations

from engine.odds.sources import spells
from engine.odds.sources.figures import Brought, Figures
from engine.problem import Refused
from engine.rules.catalog import Catalog
from engine.rules.content import Creature, Spell

AFFECTED = "hit points affected"
"""The note by which a spell's scaling adds to its pool of hit points."""


def pool_at(spell: Spell, slot: int) -> str:
    """Return the dice of hit points that a spell has from a slot (`5d8+4d8`); empty where it has none.

    Source: SRD 5.1, Spellcasting, Casting a Spell at a Higher Level.
    """
    if spell.ends is None or spell.ends.pool is None:
        return ""
    terms = [spell.ends.pool]
    for step in spell.scaling:
        if step.by == "slot" and step.note == AFFECTED and step.dice and slot >= step.from_:
            times = (slot - step.from_) // step.every + 1
            count, die, sides = step.dice.partition("d")
            terms.append(f"{int(count) * times}{die}{sides}")
    return "+".join(terms)


def spares(spell: Spell, creature: Creature) -> bool:
    """Return whether a spell that ends by hit points does nothing to a creature: by its type or an immunity."""
    ends = spell.ends
    if ends is None:
        return False
    return creature.type in ends.spares or not set(creature.condition_immunities).isdisjoint(ends.immune)


def pool_spells(catalog: Catalog) -> list[tuple[str, str]]:
    """Return the spells with a pool of hit points, as (id, printed name), by name."""
    found = (catalog.spell(named.id) for named in catalog.every("spell"))
    return sorted(
        ((s.id, s.name) for s in found if s is not None and s.ends is not None and s.ends.pool), key=lambda s: s[1]
    )


def laying_low(
    catalog: Catalog, figures: Figures | None, name: str, slot: int | None
) -> tuple[Spell, Brought] | Refused:
    """Return a spell with a pool of hit points and what it brings to a `fell` question.

    figures: of the build that casts it, None for anybody. slot: None for the spell's own level. Refused: no such
    spell, it has no pool, the build does not have it, or the slot is too low.
    """
    spell = spells.spell_named(catalog, name)
    if isinstance(spell, Refused):
        return spell
    if spell.ends is None or spell.ends.pool is None:
        known = ", ".join(called for _, called in pool_spells(catalog))
        return Refused(
            "no-pool", f"{spell.name} has no dice of hit points that lay creatures low; these have: {known}."
        )
    if figures is not None and spells.caster_of(figures, spell) is None:
        return Refused("spell-not-known", f"{figures.whose()} does not have {spell.name}.")
    level = spells.slot_for(spell, slot)
    if isinstance(level, Refused):
        return level
    told = spell.name if figures is None else f"{spell.name} of {figures.whose()}"
    if level > spell.level:
        told += f", slot of level {level}"
    return spell, Brought(fields={"dice": pool_at(spell, level)}, told=(told,))
