"""What it takes to make a thing (SRD 5.1, Adventuring, Between Adventures, Downtime Activities, Crafting)."""

from typing import NamedTuple

from engine.rules.content import Item
from engine.rules.content.release import Release

_MADE = frozenset({"weapon", "armor", "ammunition", "gear", "tool", "tack", "vehicle"})


class Crafting(NamedTuple):
    """days: whole days of work of one pair of hands. materials_cp: worth of raw materials in copper pieces."""

    days: int
    materials_cp: int


def crafting(item: Item, release: Release, hands: int = 1) -> Crafting | None:
    """Return what it takes to make one bundle of an item; None for what nobody makes: magic, animals, services.

    hands: how many work together, 1 or more. Each makes so much worth a day; half the worth, in whole
    copper pieces rounded up, goes into materials.
    """
    if item.category not in _MADE or item.magic is not None or not item.cost_cp:
        return None
    return Crafting(-(-item.cost_cp // (release.crafting_day_cp * hands)), -(-item.cost_cp // 2))
