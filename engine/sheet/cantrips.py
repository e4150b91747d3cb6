"""Attack cantrips: `attack.CANTRIP.to_hit` and the damage of one hit (or beam) at this character level.

SRD 5.1, Spellcasting, What Is a Spell?, Cantrips: their damage grows with the character level, whatever the class.
"""

from engine.rules.content import Spell
from engine.rules.grants.attacks import AttackBonus, SpellDamage
from engine.rules.words import Ability
from engine.sheet import attack_words
from engine.sheet.attacks import Strike
from engine.sheet.casting import own_ability, spell_attack
from engine.sheet.dice import Roll
from engine.sheet.gathered import Learned
from engine.sheet.number import Number, Reason, tidy, total
from engine.sheet.plan import At


def cantrips(at: At) -> dict[str, Number]:
    """Return the numbers of every attack cantrip that the build has; learned twice, the better bonus counts."""
    numbers: dict[str, Number] = {}
    for learned in at.gathered.spells:
        if not learned.since <= at.level <= learned.until or learned.how == "listed":
            continue
        spell = at.catalog.spell(learned.spell)
        if spell is None or spell.level != 0 or spell.attack is None:
            continue
        ability = learned.ability or own_ability(at, learned.owner)
        if ability is None:
            continue
        found = _cantrip(at, spell, learned, ability)
        name = f"attack.{spell.id}.to_hit"
        if name not in numbers or int(found[name].value) > int(numbers[name].value):
            numbers.update(found)
    return numbers


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
    roll, label = dice_at(spell, at.level, at.modifiers[ability])
    source = at.catalog.source("spell", spell.id)
    first = Reason(f"{roll}, {label}", tidy(roll.mean), source)
    flat = [
        Reason(granted.label, amount, granted.source)
        for granted in strike.holding("spell-damage")
        if isinstance(granted.grant, SpellDamage)
        and _counts(at, granted.grant, spell, owner)
        and (amount := strike.value(granted, granted.grant.amount))
    ]
    numbers[f"attack.{spell.id}.damage"] = strike.damage(roll, first, flat, [])
    return numbers


def dice_at(spell: Spell, level: int, modifier: int) -> tuple[Roll, str]:
    """Return the dice of one hit of a cantrip at a character level, and a label that names both."""
    text = spell.damage[0].dice.replace("MOD", str(modifier))
    steps = [s for s in spell.scaling if s.by == "character-level" and s.from_ <= level and s.dice]
    if steps:
        text = str(max(steps, key=lambda s: s.from_).dice)
    return Roll.of(text), f"{spell.name} at character level {level}"


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
