"""Attack cantrips: `attack.CANTRIP.to_hit` and the damage of one hit (or beam) at this character level.

SRD 5.1, Spellcasting, What Is a Spell?, Cantrips: their damage grows with the character level, whatever the class.
"""

from collections.abc import Iterable
from typing import Any

from engine.rules.content import Spell
from engine.rules.grants.attacks import AttackBonus, SpellDamage
from engine.rules.words import Ability
from engine.sheet import attack_words
from engine.sheet.casting import castings, own_ability, spell_attack
from engine.sheet.dice import Roll
from engine.sheet.gathered import Learned
from engine.sheet.number import Number, Reason, tidy, total
from engine.sheet.plan import At
from engine.sheet.strike import Strike

KINDS = frozenset({"attack-bonus", "spell-damage", "casting-bonus"})


def cantrips(at: At) -> dict[str, Number]:
    """Return the numbers of every attack cantrip that the build has; learned twice, the better bonus counts."""
    numbers: dict[str, Number] = {}
    for learned in _known(at):
        spell = at.catalog.spell(learned.spell)
        assert spell is not None
        ability = learned.ability or own_ability(at, learned.owner)
        if ability is None:
            continue
        found = _cantrip(at, spell, learned, ability)
        name = f"attack.{spell.id}.to_hit"
        if name not in numbers or int(found[name].value) > int(numbers[name].value):
            numbers.update(found)
    return numbers


def known(at: At) -> tuple[Any, ...]:
    """Return what the numbers of cantrips read of levels: which are known, and the tier of the character level."""
    found = _known(at)
    if not found:
        return ()
    reached = sum(at.level >= tier for tier in _tiers(at, found))
    casters = tuple(granted.owner for granted, _ in castings(at))
    return (reached, casters, *((learned.spell, learned.owner, learned.ability) for learned in found))


def _known(at: At) -> tuple[Learned, ...]:
    return tuple(s for s in _attack_cantrips(at) if s.since <= at.level <= s.until)


def _attack_cantrips(at: At) -> tuple[Learned, ...]:
    key = "attack cantrips"
    found: tuple[Learned, ...] | None = at.plan.memo.get(key)
    if found is None:
        found = at.plan.memo[key] = tuple(
            learned
            for learned in at.gathered.spells
            if learned.how != "listed"
            and (spell := at.catalog.spell(learned.spell)) is not None
            and spell.level == 0
            and spell.attack is not None
        )
    return found


def _tiers(at: At, found: Iterable[Learned]) -> set[int]:
    """Character levels at which one of these cantrips grows."""
    spells = (at.catalog.spell(learned.spell) for learned in found)
    return {s.from_ for spell in spells if spell is not None for s in spell.scaling if s.by == "character-level"}


def beams(spell: Spell, level: int) -> int:
    """Return how many separate attack rolls a cantrip makes at a character level."""
    steps = [s.count for s in spell.scaling if s.by == "character-level" and s.from_ <= level and s.count is not None]
    return max([spell.beams, *steps])


def _cantrip(at: At, spell: Spell, learned: Learned, ability: Ability) -> dict[str, Number]:
    assert spell.attack is not None
    strike = Strike(at, attack_words.of_cantrip(spell.attack))
    strike.words["proficient"] = True
    owner = learned.owner if learned.ability is None else None
    reasons = spell_attack(at, ability, owner, at.rule("spell-attack"))
    numbers = {f"attack.{spell.id}.to_hit": total([*reasons, *strike.bonuses("attack-bonus", AttackBonus)], "bonus")}
    if not spell.damage:
        return numbers
    roll, tier = dice_at(spell, at.level, at.modifiers[ability])
    source = at.plan.source("spell", spell.id)
    first = Reason(
        f"{roll}, {spell.name}, from character level {tier}" if tier > 1 else f"{roll}, {spell.name}",
        tidy(roll.mean),
        source,
    )
    flat = [
        Reason(granted.label, amount, granted.source)
        for granted in strike.holding("spell-damage")
        if isinstance(granted.grant, SpellDamage)
        and _counts(at, granted.grant, spell, owner)
        and (amount := strike.value(granted, granted.grant.amount))
    ]
    numbers[f"attack.{spell.id}.damage"] = strike.damage(roll, first, flat, [])
    return numbers


def dice_at(spell: Spell, level: int, modifier: int) -> tuple[Roll, int]:
    """Return the dice of one hit of a cantrip at a character level, and the level from which it has them."""
    text = spell.damage[0].dice.replace("MOD", str(modifier))
    steps = [s for s in spell.scaling if s.by == "character-level" and s.from_ <= level and s.dice]
    tier = 1
    if steps:
        last = max(steps, key=lambda s: s.from_)
        text, tier = str(last.dice), last.from_
    return Roll.of(text), tier


def _counts(at: At, grant: SpellDamage, spell: Spell, owner: str | None) -> bool:
    """Tell whether a bonus belongs to one normal hit; one for a whole casting does so only where it is one hit.

    A cantrip that no class brings (a high elf's) counts as a spell of every list it stands on.
    """
    if grant.cantrips is False or (grant.each == "casting" and beams(spell, at.level) > 1):
        return False
    listed = owner in grant.lists or (owner is None and any(at.catalog.on_list(spell, id_) for id_ in grant.lists))
    types = {part.type for part in spell.damage}
    return (
        (not grant.spells or spell.id in grant.spells)
        and (not grant.schools or spell.school in grant.schools)
        and (not grant.lists or listed)
        and (not grant.damage or not types.isdisjoint(grant.damage))
    )
