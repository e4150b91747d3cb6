"""Creatures as stat lines."""

from pydantic import Field

from engine.rules.base import Id, Name
from engine.rules.content.entry import Entry
from engine.rules.words import Ability, SizeName


class Creature(Entry):
    """A stat line.

    challenge: as printed (`1/4`, `12`). saves and skills: printed bonuses; absent ones are the ability modifier.
    Defenses are damage types; brackets say what gets through (`slashing (nonmagical, not silvered)`).
    tags: what stands in brackets after the type, and the swarm a creature is. form_of: id of the creature whose other
    shape this is. attack: highest printed bonus to hit, None for one that attacks nobody. ac_otherwise: armor class in
    another case that is printed, by what makes it (`mage-armor`).
    """

    size: SizeName
    type: Id
    tags: tuple[str, ...] = ()
    alignment: Name | None = None
    form_of: Id | None = None
    ac: int
    ac_otherwise: dict[str, int] = Field(default_factory=dict)
    hp: int
    hp_dice: str
    speeds: dict[str, int] = Field(default_factory=dict)
    hover: bool = False
    scores: dict[Ability, int]
    saves: dict[Ability, int] = Field(default_factory=dict)
    skills: dict[Id, int] = Field(default_factory=dict)
    senses: dict[str, int] = Field(default_factory=dict)
    passive_perception: int
    attack: int | None = None
    resistances: tuple[str, ...] = ()
    immunities: tuple[str, ...] = ()
    vulnerabilities: tuple[str, ...] = ()
    condition_immunities: tuple[Id, ...] = ()
    challenge: str
    xp: int
    magic_resistance: bool = False
    legendary_resistance: int = 0
