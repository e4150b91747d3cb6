"""What changes d20 rolls without being a proficiency: floors, advantage, extra dice, flat bonuses."""

from typing import Literal

from pydantic import Field

from engine.rules.base import Id, Name
from engine.rules.formula import Formula
from engine.rules.grants.base import GrantBase

Roll = Literal["check", "save", "attack", "initiative", "death-save", "damage"]


class LowestD20(GrantBase):
    """A d20 that shows less counts as `at_least`.

    checks: `all`, `proficient` (checks that add the whole proficiency bonus), abilities, skills, tools.
    saves: abilities or `all`. Several do not add up: the highest wins.
    """

    kind: Literal["lowest-d20"] = "lowest-d20"
    at_least: int = Field(ge=2, le=20)
    checks: tuple[Id, ...] = ()
    saves: tuple[Id, ...] = ()


class RerollD20(GrantBase):
    """A d20 that shows this number or less is rolled once more, and the new roll stands. It changes only odds."""

    kind: Literal["reroll-d20"] = "reroll-d20"
    at_most: int = Field(default=1, ge=1, le=19)
    rolls: tuple[Roll, ...] = Field(min_length=1)


class LowestTotal(GrantBase):
    """A total that comes to less counts as this number (a score in place of the total)."""

    kind: Literal["lowest-total"] = "lowest-total"
    total: Formula
    checks: tuple[Id, ...] = Field(min_length=1)


class Advantage(GrantBase):
    """Advantage or disadvantage.

    roll: which rolls; `of`: abilities, skills or tools for checks, abilities for saves, `all` by default.
    against: what the roll must be about ("poison"), if anything: such advantage is never standing and adds nothing
    to passive scores. limited: any other limit in our own short words ("if you can see the effect").
    """

    kind: Literal["advantage"] = "advantage"
    roll: Roll
    of: tuple[Id, ...] = ("all",)
    mode: Literal["advantage", "disadvantage"] = "advantage"
    against: Name | None = None
    limited: Name | None = None


class ExtraDie(GrantBase):
    """A die that can be added to a roll, or taken off another creature's.

    die: a dice formula (`1d6`, `column(inspiration_die)`). whose: whose roll it changes. pool: id of the pool that
    pays for each use, if any. sign: `-` takes the die off. It changes no total, only odds; shown as a note.
    """

    kind: Literal["extra-die"] = "extra-die"
    die: Formula
    rolls: tuple[Roll, ...] = Field(min_length=1)
    of: tuple[Id, ...] = ("all",)
    sign: Literal["+", "-"] = "+"
    whose: Literal["own", "ally", "foe", "any"] = "own"
    pool: Id | None = None


class CheckBonus(GrantBase):
    """A flat bonus to ability checks. checks: `all`, abilities, skills, tools, `initiative`."""

    kind: Literal["check-bonus"] = "check-bonus"
    amount: Formula
    checks: tuple[Id, ...] = ("all",)


class PassiveBonus(GrantBase):
    """A flat bonus to passive scores of the named skills only."""

    kind: Literal["passive-bonus"] = "passive-bonus"
    amount: Formula
    skills: tuple[Id, ...] = Field(min_length=1)


class SaveBonus(GrantBase):
    """A flat bonus to saving throws. saves: `all` or abilities. against: as in Advantage, then a note only."""

    kind: Literal["save-bonus"] = "save-bonus"
    amount: Formula
    saves: tuple[Id, ...] = ("all",)
    against: Name | None = None


class InitiativeBonus(GrantBase):
    """A flat bonus to initiative, besides what changes every Dexterity check."""

    kind: Literal["initiative-bonus"] = "initiative-bonus"
    amount: Formula
