"""A creature of the rules as target or opponent: armor class, hit points, saves, checks, defenses."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

from engine.odds.fell import MAX_CREATURES
from engine.odds.fell import Creature as Fallen
from engine.odds.sources.endings import spares
from engine.odds.sources.figures import Brought
from engine.odds.sources.rolls import ability_named
from engine.odds.words import signed
from engine.problem import Refused
from engine.rules.catalog import Catalog
from engine.rules.content import Creature, Spell
from engine.rules.words import ABILITY_NAMES

_COUNTED = re.compile(r"(?:(?P<count>\d{1,3})\s*(?:x|times)?\s+)?(?P<name>.+)", re.IGNORECASE)


def creature_named(catalog: Catalog, name: str) -> Creature | Refused:
    """Return the creature that a name means. Refused: none is called so, with the nearest names."""
    hits = catalog.find("creature", name)
    creature = catalog.creature(hits[0].id) if hits else None
    if creature is not None:
        return creature
    near = catalog.suggest("creature", name)
    hint = f" Nearest: {', '.join(near)}." if near else ""
    return Refused("no-such-creature", f'No creature of the rules is called "{name.strip()}".{hint}')


def attacked(creature: Creature, types: Iterable[str], magic: bool) -> Brought:
    """Return the creature as the target of an attack whose damage has these types.

    A defense with a limit in brackets, such as nonmagical attacks, counts unless the attack is magical.
    """
    fields: dict[str, Any] = {"ac": creature.ac, "hit_points": creature.hp}
    taken, told = _taken(creature, types, magic)
    also = f", {', '.join(told)}" if told else ""
    text = f"{creature.name}: armor class {creature.ac}, {creature.hp} hit points{also}"
    return Brought(fields={**fields, **taken}, told=(text,))


def saving(creature: Creature, ability: str, types: Iterable[str], magic: bool) -> Brought | Refused:
    """Return the creature's saving throw. Refused: no ability is called so.

    Advantage against magic counts where the effect is a spell. Source: SRD 5.1, Monsters, Saving Throws.
    """
    found = ability_named(ability)
    if found is None:
        return Refused(
            "no-such-roll", f'"{ability.strip()}" is no ability; the save is one of Str, Dex, Con, Int, Wis, Cha.'
        )
    bonus = creature.saves.get(found, (creature.scores[found] - 10) // 2)
    fields: dict[str, Any] = {"bonus": bonus}
    told = [f"{creature.name}: {ABILITY_NAMES[found]} save {signed(bonus)}"]
    if magic and creature.magic_resistance:
        fields["advantage"] = True
        told.append("advantage against magic")
    taken, words = _taken(creature, types, magic)
    left_out = (f"{creature.legendary_resistance} legendary resistances",) if creature.legendary_resistance else ()
    return Brought(fields={**fields, **taken}, told=(", ".join([*told, *words]),), left_out=left_out)


def checking(creature: Creature, name: str, catalog: Catalog) -> tuple[int, str] | Refused:
    """Return a creature's bonus for a skill or ability check, and what it is called.

    A skill that is not printed is the modifier of its ability. Source: SRD 5.1, Monsters, Skills.
    """
    skills = catalog.find("skill", name)
    if skills:
        id_ = skills[0].id
        ability = next(skill.ability for skill in catalog.release.skills if skill.id == id_)
        bonus = creature.skills.get(id_, (creature.scores[ability] - 10) // 2)
        return bonus, f"{creature.name}: {skills[0].name} {signed(bonus)}"
    plain = ability_named(name)
    if plain is None:
        return Refused("no-such-roll", f'"{name.strip()}" is no skill or ability of a creature.')
    bonus = (creature.scores[plain] - 10) // 2
    return bonus, f"{creature.name}: {ABILITY_NAMES[plain]} check {signed(bonus)}"


def laid_low(catalog: Catalog, text: str, spell: Spell | None = None) -> tuple[tuple[Fallen, ...], Brought] | Refused:
    """Return the creatures of a list such as `3 goblin, ogre` with their hit points, and the list in words.

    spell: what lays them low; those that it spares take nothing off the total and are said to be left out.
    """
    found: list[Fallen] = []
    told, spared = [], []
    for part in re.split(r"[,;\n]", text):
        if not part.strip():
            continue
        read = _COUNTED.fullmatch(part.strip())
        creature = creature_named(catalog, read["name"] if read else part)
        if isinstance(creature, Refused):
            return creature
        count = int((read and read["count"]) or 1)
        if not 1 <= count <= MAX_CREATURES - len(found):
            return Refused(
                "creatures", f"There are {len(found) + count} creatures; 1 to {MAX_CREATURES} are worked out."
            )
        if spell is not None and spares(spell, creature):
            spared.append(f"{creature.name}, whom {spell.name} spares")
            continue
        found += [Fallen(name=creature.name, hit_points=creature.hp)] * count
        told.append(f"{creature.name} {creature.hp} hit points")
    words = ", ".join(dict.fromkeys(told))
    return tuple(found), Brought(told=(words,) if words else (), left_out=tuple(dict.fromkeys(spared)))


def _taken(creature: Creature, types: Iterable[str], magic: bool) -> tuple[dict[str, bool], list[str]]:
    """Return what the creature's defenses make of damage, if all of its types are named by them."""
    wanted = set(types)
    if not wanted:
        return {}, []
    fields, told = {}, []
    for field, word, defenses in (
        ("immunity", "immune", creature.immunities),
        ("resistance", "resistant", creature.resistances),
        ("vulnerability", "vulnerable", creature.vulnerabilities),
    ):
        named = {d.partition(" (")[0] for d in defenses if "(" not in d or not magic}
        if wanted <= named:
            fields[field] = True
            told.append(f"{word} to {' and '.join(sorted(wanted))}")
    return fields, told
