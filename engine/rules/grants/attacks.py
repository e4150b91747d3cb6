"""Attacks: to hit, damage, criticals, how many, and which weapon works how.

`when` conditions may use the attack words of `engine.rules.words`.
"""

from typing import Literal

from pydantic import Field

from engine.rules.base import Dice, Id, Name
from engine.rules.formula import Formula
from engine.rules.grants.base import GrantBase
from engine.rules.words import Ability


class AttackBonus(GrantBase):
    """A flat bonus to hit."""

    kind: Literal["attack-bonus"] = "attack-bonus"
    amount: Formula


class DamageBonus(GrantBase):
    """A flat bonus to the damage of each hit."""

    kind: Literal["damage-bonus"] = "damage-bonus"
    amount: Formula


class DamageReroll(GrantBase):
    """Weapon damage dice that show `at_most` or less are rolled once more, and the second roll stands.

    The mean of such a die of N sides is (sum of at_most+1..N + at_most x (N + 1) / 2) / N.
    """

    kind: Literal["damage-reroll"] = "damage-reroll"
    at_most: int = Field(ge=1, le=11)


class OffHandModifier(GrantBase):
    """The second weapon's attack adds the ability modifier to its damage."""

    kind: Literal["off-hand-modifier"] = "off-hand-modifier"


class CriticalRange(GrantBase):
    """Hits on this number or more on the d20 are critical. The lowest of several counts."""

    kind: Literal["critical-range"] = "critical-range"
    from_: int = Field(alias="from", ge=2, le=20)


class ExtraCriticalDice(GrantBase):
    """More of the weapon's damage dice on a critical hit. Those of several features add up."""

    kind: Literal["extra-critical-dice"] = "extra-critical-dice"
    dice: Formula


class Attacks(GrantBase):
    """Attacks with one Attack action. Of several grants the highest counts; they never add up."""

    kind: Literal["attacks"] = "attacks"
    number: Formula


class ExtraDamage(GrantBase):
    """More damage dice on a hit.

    how: each-hit, once-per-turn, on-critical, or per-use of `pool` (or of spell slots, pool `slots`).
    by_slot: dice added for each slot level above the first, up to `most` dice in all.
    """

    kind: Literal["extra-damage"] = "extra-damage"
    dice: Formula
    how: Literal["each-hit", "once-per-turn", "on-critical", "per-use"]
    damage: Id | None = None
    pool: Id | None = None
    limited: Name | None = None
    by_slot: Dice | None = None
    most: Dice | None = None


class WeaponAbility(GrantBase):
    """The attack may use this ability instead; the better modifier counts."""

    kind: Literal["weapon-ability"] = "weapon-ability"
    ability: Ability


class WeaponDie(GrantBase):
    """The attack may use this damage die instead of its own; the better mean counts."""

    kind: Literal["weapon-die"] = "weapon-die"
    die: Formula


class NaturalWeapon(GrantBase):
    """An attack the body itself has, listed beside the weapons (`attack.ID.*`)."""

    kind: Literal["natural-weapon"] = "natural-weapon"
    id: Id
    name: Name
    die: Formula
    damage: Id
    ability: Ability = "str"
    finesse: bool = False


class SpellDamage(GrantBase):
    """A flat bonus to spell damage.

    spells: ids, empty for any; schools, lists, damage: limits; cantrips: True only cantrips, None both.
    each: once per casting, or on every beam or hit.
    """

    kind: Literal["spell-damage"] = "spell-damage"
    amount: Formula
    spells: tuple[Id, ...] = ()
    schools: tuple[Id, ...] = ()
    lists: tuple[Id, ...] = ()
    damage: tuple[Id, ...] = ()
    cantrips: bool | None = None
    each: Literal["casting", "hit"] = "casting"
