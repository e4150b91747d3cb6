"""Speeds and senses (SRD 5.1, Adventuring; Equipment, Armor)."""

from engine.rules.grants.body import Sense, Speed
from engine.sheet.gathered import Granted
from engine.sheet.number import Number, Reason, total
from engine.sheet.plan import At

KINDS = frozenset({"speed", "speed-unburdened"})
SENSE_KINDS = frozenset({"sense"})


def speeds(at: At) -> dict[str, Number]:
    """Return `speed.walk` always, and other kinds of speed that the build has, in feet."""
    found: list[tuple[Granted, Speed]] = [(g, g.grant) for g in at.holding("speed") if isinstance(g.grant, Speed)]
    walk = _speed(at, found, "walk", None)
    numbers = {"speed.walk": walk}
    modes = dict.fromkeys(s.mode for _, s in found if s.mode != "walk" and s.how in ("set", "equals-walk", "add"))
    for mode in modes:
        numbers[f"speed.{mode}"] = _speed(at, found, mode, walk)
    return numbers


def _speed(at: At, found: list[tuple[Granted, Speed]], mode: str, walk: Number | None) -> Number:
    bases: list[tuple[int, tuple[Reason, ...], Reason]] = []
    added: list[Reason] = []
    for granted, speed in found:
        if speed.mode != mode:
            continue
        if speed.how == "equals-walk" and walk is not None:
            reason = Reason(f"{granted.label}, equals the walking speed", walk.value, granted.source)
            bases.append((int(walk.value), (reason,), reason))
        elif speed.amount is not None and speed.how in ("set", "add"):
            reason = Reason(granted.label, at.value(granted, speed.amount), granted.source)
            if speed.how == "set":
                bases.append((int(reason.amount), (reason,), reason))
            elif reason.amount:
                added.append(reason)
    bases.sort(key=lambda b: -b[0])
    reasons = [*(bases[0][1] if bases else ()), *added]
    beaten = [b[2] for b in bases[1:]]
    copied = bool(bases) and walk is not None and bases[0][2].label.endswith("equals the walking speed")
    if not copied:
        reasons.extend(_burden(at, sum(int(r.amount) for r in reasons)))
        for how in ("double", "halve", "zero"):
            for granted, speed in found:
                if speed.how == how and speed.mode in (mode, "walk"):
                    now = sum(int(r.amount) for r in reasons)
                    after = {"double": now * 2, "halve": now // 2, "zero": 0}[how]
                    word = {"double": "doubled", "halve": "halved", "zero": "none"}[how]
                    reasons.append(Reason(f"{granted.label}, {word}", after - now, granted.source))
    return total(reasons, "feet", beaten)


def _burden(at: At, speed: int) -> list[Reason]:
    """Heavy armor slows whoever lacks the Strength for it."""
    thing = at.outfit.armor
    body = thing.item.armor if thing is not None and thing.item is not None else None
    if thing is None or body is None or body.strength is None or at.scores["str"] >= body.strength or speed <= 0:
        return []
    if at.holding("speed-unburdened"):
        return []
    loss = max(at.plan.release.armor_strength_speed, -speed)
    label = f"{thing.name} with Strength {at.scores['str']}, {body.strength} needed"
    return [Reason(label, loss, at.rule("armor-strength"))]


def senses(at: At) -> dict[str, Number]:
    """Return a range in feet for each sense that the build has; of several the farthest counts."""
    ranges: dict[str, list[Reason]] = {}
    extra: dict[str, list[Reason]] = {}
    for granted in at.holding("sense"):
        grant = granted.grant
        if isinstance(grant, Sense):
            table = extra if grant.extends else ranges
            reason = Reason(granted.label, at.value(granted, grant.feet), granted.source)
            table.setdefault(grant.sense, []).append(reason)
    numbers: dict[str, Number] = {}
    for sense in dict.fromkeys([*ranges, *extra]):
        own = sorted(ranges.get(sense, ()), key=lambda r: -int(r.amount))
        numbers[f"senses.{sense}"] = total([*own[:1], *extra.get(sense, ())], "feet", own[1:])
    return numbers
