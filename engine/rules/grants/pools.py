"""Pools: what is used up and comes back with a rest."""

from typing import Literal

from engine.rules.base import Id, Name
from engine.rules.formula import Formula
from engine.rules.grants.base import GrantBase


class Pool(GrantBase):
    """Uses (or points) that a rest restores, named `pool.ID.uses` and `pool.ID.die`.

    uses: formula, table column or `unlimited`. die: dice of one use, if any. plus: what is added to that die.
    restored: `day` is once each day whatever the rest, `turn` at each of one's turns.
    Pools of one id from several features are one pool: the highest number of uses counts.
    """

    kind: Literal["pool"] = "pool"
    id: Id
    name: Name | None = None
    uses: Formula
    die: Formula | None = None
    plus: Formula | None = None
    restored: Literal["short-rest", "long-rest", "dawn", "day", "turn", "never"]
    unit: Literal["uses", "points", "hit points", "dice", "slot levels"] = "uses"
