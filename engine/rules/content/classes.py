"""Classes and subclasses."""

from typing import Self

from pydantic import Field, model_validator

from engine.rules.base import Content, Id, Level, Name
from engine.rules.content.entry import Entry, Featured
from engine.rules.grants import Grant
from engine.rules.words import Ability

Cell = int | str | None


class Multiclass(Content):
    """What a class asks for and gives when it is not the first one.

    all_of: scores that must all be reached; any_of: of these one is enough. grants: proficiencies gained.
    """

    all_of: dict[Ability, int] = Field(default_factory=dict)
    any_of: dict[Ability, int] = Field(default_factory=dict)
    grants: tuple[Grant, ...] = ()


class StartingGear(Content):
    """One line of starting equipment: each inner tuple is one alternative, a list of item or group ids.

    Counts are written before the id (`20 arrow`); groups such as `any-simple-weapon` stand for one item of theirs.
    """

    options: tuple[tuple[str, ...], ...] = Field(min_length=1)


class Subclass(Featured):
    """A subclass of one class. Its features' levels are levels of that class."""

    of: Id | None = None  # the class; filled in where the subclass stands inside its class's file
    tables: dict[str, tuple[Cell, ...]] = Field(default_factory=dict)


class ClassContent(Featured):
    """A class from level 1 to 20.

    hit_die: sides. saves: proficient saving throws of a first class. start: proficiencies and choices of a first
    class at level 1 (saves apart). tables: columns of the class table, 20 cells each, `None` for a dash.
    subclass_level: class level at which the subclass is chosen; subclass_title: what the class calls it.
    """

    hit_die: int = Field(ge=4, le=12)
    saves: tuple[Ability, ...]
    start: tuple[Grant, ...] = ()
    multiclass: Multiclass = Field(default_factory=lambda: Multiclass())
    subclass_level: Level
    subclass_title: Name
    tables: dict[str, tuple[Cell, ...]] = Field(default_factory=dict)
    subclasses: tuple[Subclass, ...] = ()
    starting_gear: tuple[StartingGear, ...] = ()

    @model_validator(mode="after")
    def _twenty_cells(self) -> Self:
        owners: list[ClassContent | Subclass] = [self, *self.subclasses]
        for owner in owners:
            for column, cells in owner.tables.items():
                if len(cells) != 20:
                    raise ValueError(f"column `{column}` of `{owner.id}` has {len(cells)} cells; a class table has 20")
        return self


__all__ = ["Cell", "ClassContent", "Entry", "Multiclass", "StartingGear", "Subclass"]
