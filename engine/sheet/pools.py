"""Pools, and save DCs of features that are no spells."""

from typing import Any

from engine.rules.grants.body import SaveDc
from engine.rules.grants.pools import Pool
from engine.rules.words import UNLIMITED
from engine.sheet.dice import Roll
from engine.sheet.gathered import Granted
from engine.sheet.number import Number, Reason, stated, total
from engine.sheet.plan import At

KINDS = frozenset({"pool", "save-dc"})


def pools(at: At) -> dict[str, Number]:
    """Return `pool.ID.uses` and `pool.ID.die`, and `dc.ID`.

    Of several features that give one pool the most uses count, they never add up. The die's value is one die or set
    of dice as text; `dice` adds what comes on top of it.
    """
    found: dict[str, list[tuple[Granted, Pool]]] = {}
    for granted in at.holding("pool"):
        if isinstance(granted.grant, Pool):
            found.setdefault(granted.grant.id, []).append((granted, granted.grant))
    numbers: dict[str, Number] = {}
    for id_, givers in found.items():
        numbers.update(_pool(at, id_, givers))
    for granted in at.holding("save-dc"):
        grant = granted.grant
        if isinstance(grant, SaveDc):
            base = Reason(granted.label, grant.base, granted.source)
            parts = [base, at.bonus_reason(at.rule("proficiency-bonus")), at.ability_reason(grant.ability)]
            name = f"dc.{grant.id}"
            number = total(parts, "DC")
            if name not in numbers or int(numbers[name].value) < int(number.value):
                numbers[name] = number
    return numbers


def _pool(at: At, id_: str, givers: list[tuple[Granted, Pool]]) -> dict[str, Number]:
    reasons: list[tuple[float, Reason, Pool]] = []
    dice: list[tuple[Roll, Number]] = []
    for granted, pool in givers:
        uses: Any = at.value(granted, pool.uses)
        if uses != UNLIMITED:
            uses = max(0, int(uses))
        inputs = at.explain(granted, pool.uses)
        label = f"{granted.label}, {inputs}" if inputs else granted.label
        rank = float("inf") if uses == UNLIMITED else float(uses)
        reasons.append((rank, Reason(label, uses, granted.source), pool))
        if pool.die is not None:
            roll = Roll.of(at.value(granted, pool.die))
            plus = at.value(granted, pool.plus) if pool.plus is not None else 0
            inputs = at.explain(granted, pool.die)
            label = f"{granted.label}, {inputs}" if inputs else granted.label
            whole = str(roll.plus(int(plus)))
            dice.append((roll, stated(str(roll), label, granted.source, "dice", whole)))
    best = max(reasons, key=lambda r: r[0])
    beaten = [r[1] for r in reasons if r is not best]
    uses = best[1].amount
    numbers = {f"pool.{id_}.uses": Number(uses, best[2].unit, (best[1],), beaten=tuple(beaten))}
    if dice:
        numbers[f"pool.{id_}.die"] = max(dice, key=lambda d: d[0].mean)[1]
    return numbers
