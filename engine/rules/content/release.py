"""Release-wide rules: what holds for every build of a rules release, as data."""

from typing import Literal

from pydantic import Field

from engine.rules.base import Content, Id, Name
from engine.rules.content.background import CustomBackground
from engine.rules.words import Ability


class Skill(Content):
    """A skill and the ability its checks use."""

    id: Id
    name: Name
    ability: Ability


class Word(Content):
    """A name that choices and proficiencies use: a language, a kind of creature, a damage type."""

    id: Id
    name: Name
    groups: tuple[Id, ...] = ()


class ScoreMethods(Content):
    """Ways of making scores. point_costs: score -> cost. section: where they are printed."""

    section: Name
    standard_array: tuple[int, ...]
    points: int
    point_costs: dict[int, int]
    roll: Name
    highest: int = 20


class Release(Content):
    """The numbers a rules release states once for all builds.

    species_word: what the release calls a species, shown on its builds. increases_from: which of species and
    background raises scores. proficiency_bonus, experience: by character level, 20 each. slots: rows of the
    multiclass table by caster level, 20 rows. encumbrance: pounds per point of Strength. sections: where each
    rule stands, by the key the engine uses in sources. crafting_day_cp: market value in copper pieces that one pair
    of hands makes in a day.
    """

    species_word: Name
    increases_from: Literal["species", "background"]
    scores: ScoreMethods
    proficiency_bonus: tuple[int, ...] = Field(min_length=20, max_length=20)
    experience: tuple[int, ...] = Field(min_length=20, max_length=20)
    slots: tuple[tuple[int, ...], ...] = Field(min_length=20, max_length=20)
    custom_background: CustomBackground
    attunement: int = 3
    carry_per_strength: int = 15
    variant_encumbrance: tuple[int, int] = (5, 10)
    armor_strength_speed: int = -10
    crafting_day_cp: int = Field(default=500, ge=1)
    skills: tuple[Skill, ...]
    languages: tuple[Word, ...]
    damage_types: tuple[Word, ...]
    creature_types: tuple[Word, ...] = ()
    humanoid_kinds: tuple[Word, ...] = ()
    weapon_groups: tuple[Word, ...] = ()
    armor_groups: tuple[Word, ...] = ()
    sections: dict[str, Name]
