"""Feats, and choice lists such as fighting styles or invocations."""

from pydantic import Field

from engine.rules.base import Id, Name, Remark
from engine.rules.content.entry import Entry, Feature
from engine.rules.formula import Formula


class Option(Feature):
    """One option of a choice list. `level` is the lowest level of the owner class at which it may be picked.

    requires: condition over the build at the moment of the pick; requires_text: the same in short words.
    repeatable: whether it may be picked more than once. offered_to: classes by id whose choices offer it too, although
    they name what may be picked (the fighter's fighting styles).
    """

    requires: Formula | None = None
    requires_text: Remark | None = None
    repeatable: bool = False
    offered_to: tuple[Id, ...] = ()


class ChoiceList(Entry):
    """A list of options with the outline keyword under which they are picked (singular, `style`)."""

    keyword: Id
    title: Name | None = None
    options: tuple[Option, ...] = Field(min_length=1)


class Feat(Option):
    """A feat. Its features are its own grants; choices inside are answered in its parentheses."""
