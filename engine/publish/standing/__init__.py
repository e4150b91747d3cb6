"""How a build stands: against the reference builds of its release, and against the release's creatures."""

from engine.publish.standing.against import Against, Among, Chosen, against, chosen
from engine.publish.standing.measures import MEASURES, called, told
from engine.publish.standing.ranks import Rank, percentile
from engine.publish.standing.standing import Standing, standing
from engine.publish.standing.typical import Typical, typical

__all__ = [
    "MEASURES",
    "Against",
    "Among",
    "Chosen",
    "Rank",
    "Standing",
    "Typical",
    "against",
    "called",
    "chosen",
    "percentile",
    "standing",
    "told",
    "typical",
]
