"""What all grants share."""

from pydantic import Field

from engine.rules.base import Content, Level, Name
from engine.rules.formula import Formula


class GrantBase(Content):
    """One thing a feature gives.

    level: level of the owner (class level; character level for species, background, feats and items) from which it
    holds; the feature's own level if absent. until: last such level. when: condition under which it counts.
    label: name shown as the reason instead of the feature's.
    """

    level: Level | None = None
    until: Level | None = None
    when: Formula | None = None
    label: Name | None = Field(default=None)
