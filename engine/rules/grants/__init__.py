"""Grants: everything a feature can give, as a closed set of models. A folio can name these and nothing else."""

from typing import Annotated, Final, get_args

from pydantic import Field

from engine.rules.grants.attacks import (
    AttackBonus,
    Attacks,
    CriticalRange,
    DamageBonus,
    DamageReroll,
    ExtraCriticalDice,
    ExtraDamage,
    NaturalWeapon,
    OffHandModifier,
    SpellDamage,
    WeaponAbility,
    WeaponDie,
)
from engine.rules.grants.base import GrantBase
from engine.rules.grants.body import (
    ArmorBonus,
    ArmorFloor,
    ArmorFormula,
    Attunement,
    Carrying,
    Defense,
    HitPoints,
    HitPointsHalved,
    Jump,
    SaveDc,
    Sense,
    Size,
    Speed,
    SpeedUnburdened,
)
from engine.rules.grants.casting import CastingBonus, ExtraSpells, SlotBonus, SpellAt, Spellcasting
from engine.rules.grants.choices import Choice, Note, Ruling, ShapeLimit
from engine.rules.grants.pools import Pool
from engine.rules.grants.proficiencies import Expertise, HalfProficiency, Proficiency, ProficiencyBonus
from engine.rules.grants.rolls import (
    Advantage,
    CheckBonus,
    ExtraDie,
    InitiativeBonus,
    LowestD20,
    LowestTotal,
    PassiveBonus,
    RerollD20,
    SaveBonus,
)
from engine.rules.grants.scores import AbilityCap, AbilityIncrease, AbilitySet

AnyGrant = (
    AbilityIncrease
    | AbilityCap
    | AbilitySet
    | Proficiency
    | Expertise
    | HalfProficiency
    | ProficiencyBonus
    | LowestD20
    | RerollD20
    | LowestTotal
    | Advantage
    | ExtraDie
    | CheckBonus
    | PassiveBonus
    | SaveBonus
    | InitiativeBonus
    | HitPoints
    | HitPointsHalved
    | ArmorFormula
    | ArmorBonus
    | ArmorFloor
    | Speed
    | SpeedUnburdened
    | Sense
    | Defense
    | Carrying
    | Jump
    | Size
    | SaveDc
    | Attunement
    | AttackBonus
    | DamageBonus
    | DamageReroll
    | OffHandModifier
    | CriticalRange
    | ExtraCriticalDice
    | Attacks
    | ExtraDamage
    | WeaponAbility
    | WeaponDie
    | NaturalWeapon
    | SpellDamage
    | Pool
    | Spellcasting
    | ExtraSpells
    | CastingBonus
    | SlotBonus
    | Choice
    | Note
    | Ruling
    | ShapeLimit
)
Grant = Annotated[AnyGrant, Field(discriminator="kind")]
GRANT_KINDS: Final[dict[str, type[GrantBase]]] = {
    model.model_fields["kind"].default: model for model in get_args(AnyGrant)
}

__all__ = [
    "GRANT_KINDS",
    "AnyGrant",
    "Grant",
    "GrantBase",
    "SpellAt",
    *sorted(m.__name__ for m in GRANT_KINDS.values()),
]
