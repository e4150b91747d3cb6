"""Spellcasting: progression, counts, and spells that come from elsewhere than the class's own choice."""

from typing import Literal

from pydantic import Field

from engine.rules.base import Content, Id, Level
from engine.rules.formula import Formula
from engine.rules.grants.base import GrantBase
from engine.rules.words import Ability

Progression = Literal["full", "half-down", "half-up", "third-down", "pact", "none"]


class Spellcasting(GrantBase):
    """The Spellcasting or Pact Magic feature of a class (or subclass).

    list: spell list by class id. progression: how its levels count for multiclass slots. A class alone uses the
    `slots_1`..`slots_9` columns of its own table; pact magic the columns `pact_slots` and `pact_level`.
    cantrips, known, prepared, book: totals at a level; None where the class has no such thing.
    preparation: `known` learns and keeps, `prepared` readies from the whole list, `book` readies from a spellbook.
    ritual: whether rituals may be cast: `no`, `known`, `prepared`, `book`.
    swaps: spells that may be exchanged at each new level of the class.
    """

    kind: Literal["spellcasting"] = "spellcasting"
    ability: Ability
    list: Id
    progression: Progression
    preparation: Literal["known", "prepared", "book"]
    cantrips: Formula | None = None
    known: Formula | None = None
    prepared: Formula | None = None
    book: Formula | None = None
    ritual: Literal["no", "known", "prepared", "book"] = "no"
    swaps: int = Field(default=0, ge=0, le=20)


class SpellAt(Content):
    """A spell that comes at a level of the owner."""

    id: Id
    level: Level = 1
    uses: Formula | None = None  # None: at will or with slots, as `how` says
    restored: Literal["short-rest", "long-rest", "dawn"] | None = None


class ExtraSpells(GrantBase):
    """Spells given by name.

    how: `prepared` (always prepared, counts against nothing), `known` (learned, counts against nothing), `innate`
    (cast without slots: each with its uses, or at will), `listed` (added to the list to choose from).
    casting: id under which save DC and attack are listed (`casting.tiefling.save_dc`) when no class brings them.
    """

    kind: Literal["extra-spells"] = "extra-spells"
    spells: tuple[SpellAt, ...] = Field(min_length=1)
    how: Literal["prepared", "known", "innate", "listed"]
    ability: Ability | None = None
    casting: Id | None = None


class CastingBonus(GrantBase):
    """A bonus to save DC or spell attack of some or all classes. lists: class ids; empty for all."""

    kind: Literal["casting-bonus"] = "casting-bonus"
    amount: Formula
    to: tuple[Literal["save_dc", "attack"], ...] = Field(min_length=1)
    lists: tuple[Id, ...] = ()


class SlotBonus(GrantBase):
    """More spell slots of one level."""

    kind: Literal["slot-bonus"] = "slot-bonus"
    slot: int = Field(ge=1, le=9)
    amount: Formula
