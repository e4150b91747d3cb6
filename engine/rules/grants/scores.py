"""Ability scores: increases, caps, and items that set a score."""

from typing import Literal

from pydantic import Field

from engine.rules.grants.base import GrantBase
from engine.rules.words import Ability


class AbilityIncrease(GrantBase):
    """A fixed increase of one score. `cap` is the highest score this increase can reach (20 unless printed)."""

    kind: Literal["ability-increase"] = "ability-increase"
    ability: Ability
    amount: int = Field(ge=-10, le=10)
    cap: int = Field(default=20, ge=1, le=30)


class AbilityCap(GrantBase):
    """A new limit for one score, for every later increase."""

    kind: Literal["ability-cap"] = "ability-cap"
    ability: Ability
    cap: int = Field(ge=1, le=30)


class AbilitySet(GrantBase):
    """A score set to a number, as long as it was lower (gauntlets and belts of giants)."""

    kind: Literal["ability-set"] = "ability-set"
    ability: Ability
    score: int = Field(ge=1, le=30)
