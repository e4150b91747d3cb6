"""Species and their subspecies."""

from engine.rules.base import Id
from engine.rules.content.entry import Feature, Featured
from engine.rules.words import SizeName


class Species(Featured):
    """A species, or a subspecies (`of` names its species and it has the traits of both).

    The features' levels are character levels. subspecies: those that stand in the same file; where a species has any,
    one of them must be chosen. size, speed: facts; their numbers come from grants made of them by the catalogue.
    """

    of: Id | None = None
    size: SizeName | None = None
    speed: int | None = None
    subspecies: tuple["Species", ...] = ()


__all__ = ["Feature", "Species"]
