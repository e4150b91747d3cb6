"""Backgrounds, and the rule for composing one's own."""

from engine.rules.base import Content, Name, Remark
from engine.rules.content.classes import StartingGear
from engine.rules.content.entry import Featured
from engine.rules.grants import Grant


class Background(Featured):
    """A background: proficiencies and choices as grants of its features."""

    starting_gear: tuple[StartingGear, ...] = ()


class CustomBackground(Content):
    """How a background of one's own is composed: choices answered inside its parentheses.

    skills: how many skills; tools_and_languages: how many of both together; feature: whether one feature of a known
    background may be named.
    """

    section: Name
    skills: int = 2
    tools_and_languages: int = 2
    feature: bool = True
    grants: tuple[Grant, ...] = ()
    summary: Remark | None = None
