"""Spells of a build that ask for a saving throw: DC, dice at the slot, what a success leaves."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from engine.odds.sources.attacks import merged_dice
from engine.odds.sources.figures import Brought, Figures
from engine.problem import Refused
from engine.rules.catalog import Catalog
from engine.rules.content import Spell
from engine.rules.grants.attacks import SpellDamage
from engine.rules.grants.rolls import ExtraDie
from engine.rules.words import ABILITY_NAMES, Ability
from engine.sheet.cantrips import dice_at
from engine.sheet.casting import castings, own_ability
from engine.sheet.dice import Roll


def spell_names(figures: Figures) -> list[tuple[str, str]]:
    """Return the spells with a saving throw that the build has, as (id, printed name), by name."""
    found = {learned.spell for learned in figures.at.gathered.spells if learned.since <= figures.level <= learned.until}
    spells = [figures.catalog.spell(id_) for id_ in found]
    return sorted(((s.id, s.name) for s in spells if s is not None and s.save is not None), key=lambda s: s[1])


def cast(figures: Figures, name: str, slot: int | None = None) -> Brought | Refused:
    """Return what casting a spell asks of its targets.

    slot: level of the slot, None for the spell's own. Refused: no such spell, the build does not have it, it asks for
    no saving throw, or the slot is too low. Source: SRD 5.1, Spellcasting, Saving Throws; Casting a Spell at a Higher
    Level.
    """
    spell = spell_named(figures.catalog, name)
    if isinstance(spell, Refused):
        return spell
    if spell.save is None:
        return Refused("no-save", f"{spell.name} asks for no saving throw; ask for an attack or a check instead.")
    caster = caster_of(figures, spell)
    if caster is None:
        return Refused("spell-not-known", f"{figures.whose()} does not have {spell.name}.")
    casting, ability, owner = caster
    level = slot_for(spell, slot)
    if isinstance(level, Refused):
        return level
    fields: dict[str, Any] = {"dc": figures.value(f"casting.{casting}.save_dc")}
    told = [f"{spell.name} of {figures.whose()}, {ABILITY_NAMES[spell.save]} save, DC {fields['dc']}"]
    if spell.level and level > spell.level:
        told.append(f"slot of level {level}")
    roll = _dice(figures, spell, level, ability)
    if roll is not None:
        bonus, labels = _bonus(figures, spell, owner)
        fields["damage"] = str(roll.plus(bonus))
        told += labels
    if spell.on_save == "half":
        fields["half"] = True
    lent = list(_of_targets(figures, spell.save))
    for sign, dice, label in lent:
        if sign is not None:
            name = "plus" if sign == "+" else "minus"
            fields[name] = f"{fields[name]} + {dice}" if name in fields else dice
            told.append(f"{sign}{dice} of {label} on the target's roll")
    apart = [f"{part.dice} {part.note}" for part in spell.damage if part.note]
    return Brought(
        fields=fields,
        told=(", ".join(told),),
        left_out=(*apart, *(f"{dice} of {label}" for sign, dice, label in lent if sign is None)),
        types=tuple(part.type for part in spell.damage if part.type is not None and not part.note),
        magic=True,
        ability=spell.save,
    )


def spell_named(catalog: Catalog, name: str) -> Spell | Refused:
    """Return a spell by its name, or a sentence with the nearest names."""
    hits = catalog.find("spell", name)
    spell = catalog.spell(hits[0].id) if hits else None
    if spell is not None:
        return spell
    near = catalog.suggest("spell", name)
    hint = f" Nearest: {', '.join(near)}." if near else ""
    return Refused("no-such-spell", f'No spell is called "{name.strip()}".{hint}')


def slot_for(spell: Spell, slot: int | None) -> int | Refused:
    """Return the level that a spell is cast at. slot: of the slot, None for the spell's own level."""
    level = spell.level if slot is None else slot
    if spell.level and not spell.level <= level <= 9:
        return Refused("no-such-slot", f"{spell.name} needs a slot of level {spell.level} to 9; {level} is none.")
    return level


def _of_targets(figures: Figures, ability: Ability) -> Iterator[tuple[str | None, str, str]]:
    """Yield dice that the caster puts on a target's save or takes off it: (sign, None where left out; dice; label).

    As with one's own dice, what a pool pays for counts only while a state that stands for it is switched on.
    """
    at = figures.at
    for granted in at.holding("extra-die"):
        grant = granted.grant
        if not isinstance(grant, ExtraDie) or grant.whose not in ("foe", "any") or "save" not in grant.rolls:
            continue
        if not {"all", ability}.isdisjoint(grant.of):
            free = granted.state is not None and grant.pool is None
            yield (grant.sign if free else None), str(at.value(granted, grant.die)), granted.label


def caster_of(figures: Figures, spell: Spell) -> tuple[str, Ability, str | None] | None:
    """Return (name among `casting.*`, ability, class) by which the build casts a spell, the highest DC first."""
    at = figures.at
    found: list[tuple[str, Ability, str | None]] = []
    for learned in at.gathered.spells:
        if learned.spell != spell.id or not learned.since <= at.level <= learned.until or learned.how == "listed":
            continue
        ability = learned.ability or own_ability(at, learned.owner)
        casting = learned.casting or learned.owner
        if ability is not None and casting is not None:
            found.append((casting, ability, learned.owner if learned.ability is None else None))
    for granted, grant in castings(at):
        # Who prepares from the whole list of a class has every spell on it that the table reaches.
        owner = granted.owner
        if owner is None or grant.preparation != "prepared" or not figures.catalog.on_list(spell, owner):
            continue
        if 1 <= spell.level <= figures.value(f"casting.{owner}.top_level"):
            found.append((owner, grant.ability, owner))
    return max(found, key=lambda f: figures.value(f"casting.{f[0]}.save_dc"), default=None)


def _dice(figures: Figures, spell: Spell, level: int, ability: Ability) -> Roll | None:
    parts = [part for part in spell.damage if not part.note]
    if not parts:
        return None
    modifier = figures.at.modifiers[ability]
    if spell.level == 0:
        return dice_at(spell, figures.level, modifier)[0]
    roll = Roll()
    for part in parts:
        roll = roll.and_(Roll.of(part.dice.replace("MOD", str(max(modifier, 0)))))
    for step in spell.scaling:
        if step.by == "slot" and step.dice and not step.note and level >= step.from_:
            for _ in range((level - step.from_) // step.every + 1):
                roll = roll.and_(Roll.of(step.dice))
    return merged_dice(roll)


def _bonus(figures: Figures, spell: Spell, owner: str | None) -> tuple[int, list[str]]:
    """Return what features add to the damage of one casting."""
    at = figures.at
    total, labels = 0, []
    types = {part.type for part in spell.damage}
    for granted in at.holding("spell-damage"):
        grant = granted.grant
        if not isinstance(grant, SpellDamage) or (grant.cantrips is not None and grant.cantrips != (spell.level == 0)):
            continue
        fits = (
            (not grant.spells or spell.id in grant.spells)
            and (not grant.schools or spell.school in grant.schools)
            and (not grant.lists or owner in grant.lists)
            and (not grant.damage or not types.isdisjoint(grant.damage))
        )
        amount = int(at.value(granted, grant.amount)) if fits else 0
        if amount:
            total += amount
            labels.append(f"{granted.label} {amount:+d}")
    return total, labels
