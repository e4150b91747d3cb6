"""Proficiency in its kinds, expertise, half proficiency."""

from typing import Literal

from pydantic import Field

from engine.rules.base import Id
from engine.rules.formula import Formula
from engine.rules.grants.base import GrantBase

ProficiencyIn = Literal["skill", "save", "weapon", "armor", "tool", "language"]


class Proficiency(GrantBase):
    """Proficiency with named things of one kind.

    ids: skills, saves (`wis`), tools, languages, weapons or armors by id; weapons also by group (`simple`,
    `martial`), armor by group (`light`, `medium`, `heavy`, `shield`).
    """

    kind: Literal["proficiency"] = "proficiency"
    of: ProficiencyIn
    ids: tuple[Id, ...] = Field(min_length=1)


class Expertise(GrantBase):
    """Twice the proficiency bonus for named skills or tools; counts only where there is proficiency."""

    kind: Literal["expertise"] = "expertise"
    ids: tuple[Id, ...] = Field(min_length=1)


class HalfProficiency(GrantBase):
    """Half the proficiency bonus on checks that add none of it yet. Of several, the highest counts.

    checks: `all`, abilities (every check with that ability), or skills and tools by id.
    """

    kind: Literal["half-proficiency"] = "half-proficiency"
    rounded: Literal["down", "up"]
    checks: tuple[Id, ...] = ("all",)


class ProficiencyBonus(GrantBase):
    """A proficiency bonus that is higher (or lower) by this number, everywhere it counts."""

    kind: Literal["proficiency-bonus"] = "proficiency-bonus"
    amount: Formula
