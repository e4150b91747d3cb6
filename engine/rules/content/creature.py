"""Creatures as stat lines."""

from pydantic import Field

from engine.rules.base import Id
from engine.rules.content.entry import Entry
from engine.rules.words import Ability, SizeName


class Creature(Entry):
    """A stat line.

    challenge: as printed (`1/4`, `12`). saves and skills: printed bonuses; absent ones are the ability modifier.
    defenses as damage type ids; `nonmagical` beside a list marks those that magic or a material gets through.
    """

    size: SizeName
    type: Id
    tags: tuple[str, ...] = ()
    ac: int
    hp: int
    hp_dice: str
    speeds: dict[str, int] = Field(default_factory=dict)
    scores: dict[Ability, int]
    saves: dict[Ability, int] = Field(default_factory=dict)
    skills: dict[Id, int] = Field(default_factory=dict)
    senses: dict[str, int] = Field(default_factory=dict)
    passive_perception: int
    resistances: tuple[str, ...] = ()
    immunities: tuple[str, ...] = ()
    vulnerabilities: tuple[str, ...] = ()
    condition_immunities: tuple[Id, ...] = ()
    challenge: str
    xp: int
    magic_resistance: bool = False
    legendary_resistance: int = 0
