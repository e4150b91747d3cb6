"""Where the numbers of a question come from when they are not given by hand: a build at a level, a creature."""

from engine.odds.sources.figures import Brought, Figures
from engine.odds.sources.filled import Filled, filled
from engine.odds.sources.rolls import roll_names

__all__ = ["Brought", "Figures", "Filled", "filled", "roll_names"]
