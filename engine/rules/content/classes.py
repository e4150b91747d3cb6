"""Classes and subclasses."""

from typing import Annotated

from pydantic import AfterValidator, Field, StringConstraints

from engine.rules.base import Column, Content, Id, Level, Name, Small, Words
from engine.rules.content.entry import Entry, Featured
from engine.rules.grants import Grant
from engine.rules.words import Ability

Cell = Small | Annotated[str, StringConstraints(pattern=r"^[0-9a-z/+-]*$", max_length=12)] | None
Tables = dict[Column, tuple[Cell, ...]]


def _twenty_cells(tables: Tables) -> Tables:
    for column, cells in tables.items():
        if len(cells) != 20:
            raise ValueError(f"the column `{column}` has {len(cells)} cells; a class table has 20")
    return tables


class Multiclass(Content):
    """What a class asks for and gives when it is not the first one.

    all_of: scores that must all be reached; any_of: of these one is enough. grants: proficiencies gained.
    """

    all_of: dict[Ability, Small] = Field(default_factory=dict)
    any_of: dict[Ability, Small] = Field(default_factory=dict)
    grants: tuple[Grant, ...] = ()


class StartingGear(Content):
    """One line of starting equipment: each inner tuple is one alternative, a list of item or group ids.

    Counts are written before the id (`20 arrow`); groups such as `any-simple-weapon` stand for one item of theirs.
    """

    options: tuple[tuple[Words, ...], ...] = Field(min_length=1)


class Subclass(Featured):
    """A subclass of one class. Its features' levels are levels of that class."""

    of: Id | None = None  # the class; filled in where the subclass stands inside its class's file
    tables: Annotated[Tables, AfterValidator(_twenty_cells)] = Field(default_factory=dict)


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
    tables: Annotated[Tables, AfterValidator(_twenty_cells)] = Field(default_factory=dict)
    subclasses: tuple[Subclass, ...] = ()
    starting_gear: tuple[StartingGear, ...] = ()


__all__ = ["Cell", "ClassContent", "Entry", "Multiclass", "StartingGear", "Subclass"]
