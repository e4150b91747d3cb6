"""Pools, and save DCs of features that are no spells."""

from typing import Any

from engine.rules.formula import Formula
from engine.rules.grants.body import SaveDc
from engine.rules.grants.pools import Pool
from engine.rules.words import UNLIMITED
from engine.sheet.dice import Roll
from engine.sheet.gathered import Granted
from engine.sheet.number import Number, Reason, stated, total
from engine.sheet.plan import At, reads

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
        numbers.update(_shared(at, id_, givers))
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


def _shared(at: At, id_: str, givers: list[tuple[Granted, Pool]]) -> dict[str, Number]:
    """Return the numbers of a pool; those of an earlier level where nothing that they read has changed."""
    memo = at.plan.memo
    key = ("pool", id_, *[id(granted) for granted, _ in givers])
    by_level: bool | None = memo.get(key)
    if by_level is None:
        formulas = [f for _, pool in givers for f in (pool.uses, pool.die, pool.plus) if f is not None]
        by_level = memo[key] = any(f.constant is None and "level" in reads(f) for f in formulas)
    if by_level:
        return _pool(at, id_, givers)
    now = (key, at.score_key, at.bonus, at.outfit.since)
    kept: dict[str, Number] | None = memo.get(now)
    if kept is None:
        kept = memo[now] = _pool(at, id_, givers)
    return kept


def _pool(at: At, id_: str, givers: list[tuple[Granted, Pool]]) -> dict[str, Number]:
    reasons: list[tuple[float, Reason, str]] = []
    dice: list[tuple[Roll, Number]] = []
    for granted, pool in givers:
        uses: Any = at.value(granted, pool.uses)
        rank = float("inf")
        if uses != UNLIMITED:
            rank = uses = max(0, int(uses))
        reasons.append((rank, Reason(_label(at, granted, pool.uses), uses, granted.source), pool.unit))
        if pool.die is not None:
            roll = Roll.of(at.value(granted, pool.die))
            plus = at.value(granted, pool.plus) if pool.plus is not None else 0
            whole = str(roll.plus(int(plus)))
            number = stated(str(roll), _label(at, granted, pool.die), granted.source, "dice", whole)
            dice.append((roll, number))
    best = reasons[0] if len(reasons) == 1 else max(reasons, key=lambda r: r[0])
    beaten = tuple(r[1] for r in reasons if r is not best)
    numbers = {f"pool.{id_}.uses": Number(best[1].amount, best[2], (best[1],), None, beaten)}
    if dice:
        numbers[f"pool.{id_}.die"] = dice[0][1] if len(dice) == 1 else max(dice, key=lambda d: d[0].mean)[1]
    return numbers


def _label(at: At, granted: Granted, formula: Formula) -> str:
    inputs = at.explain(granted, formula)
    return f"{granted.label}, {inputs}" if inputs else granted.label
