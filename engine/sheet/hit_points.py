"""Hit points and Hit Dice (SRD 5.1, Beyond 1st Level; Using Ability Scores, Constitution; Multiclassing).

The release prints no least gain of hit points for a level, so a low Constitution counts in full.
"""

from engine.rules.grants.body import HitPoints
from engine.sheet.number import Number, Reason, signed, total
from engine.sheet.plan import At, Plan

KINDS = frozenset({"hit-points", "hit-points-halved"})


def _class_reasons(plan: Plan, top: int) -> tuple[Reason, ...]:
    """One reason for the first level, then one for each run of levels of one class, rolled levels apart."""
    known: list[tuple[Reason, ...]] = plan.memo.setdefault("hit points by level", [()])
    if len(known) <= top:
        run = 0  # how many levels the last reason stands for, 0 if it is not one of fixed values
        run_class = ""
        reasons: list[Reason] = []
        known[1:] = []
        for level, class_id, nth, line in plan.gathered.build.lines():
            found = plan.gathered.classes.get(class_id)
            if found is not None:
                source = plan.source("class", class_id, "Hit Points")
                if level == 1:
                    reasons.append(Reason(f"{found.name} 1, first level", found.hit_die, source))
                elif line.hp is not None:
                    run = 0
                    reasons.append(Reason(f"{found.name} {nth}, rolled {line.hp}", line.hp, source))
                elif run and class_id == run_class:
                    run += 1
                    fixed = found.hit_die // 2 + 1
                    label = f"{found.name} {nth - run + 1}-{nth}, fixed {fixed} each"
                    reasons[-1] = Reason(label, fixed * run, source)
                else:
                    run, run_class = 1, class_id
                    fixed = found.hit_die // 2 + 1
                    reasons.append(Reason(f"{found.name} {nth}, fixed {fixed}", fixed, source))
            known.append(tuple(reasons))
    return known[top]


def hit_points(at: At) -> dict[str, Number]:
    """Return `hp.max` and one `hit_dice.dN` for each size of die."""
    plan = at.plan
    reasons = list(_class_reasons(plan, at.level))
    levels = sum(at.class_levels.get(id_, 0) for id_ in plan.gathered.classes)
    if levels:
        word = "level" if levels == 1 else "levels"
        con = at.modifiers["con"]
        label = f"Constitution {signed(con)} × {levels} {word}"
        reasons.append(Reason(label, con * levels, at.rule("hit-points")))
    for granted in at.holding("hit-points"):
        grant = granted.grant
        if not isinstance(grant, HitPoints):
            continue
        amount = at.value(granted, grant.amount)
        label = granted.label
        if grant.times == "each-level":
            times = max(0, at.owner_level(granted.owner) - granted.starts + 1)
            label, amount = f"{label}, {amount} × {times} levels", amount * times
        reasons.append(Reason(label, amount, granted.source))
    for granted in at.holding("hit-points-halved"):
        whole = sum(int(r.amount) for r in reasons)
        reasons.append(Reason(f"{granted.label}, halved", whole // 2 - whole, granted.source))
        break
    return {"hp.max": total(reasons, "hit points"), **_hit_dice(at)}


def _hit_dice(at: At) -> dict[str, Number]:
    dice: dict[int, list[Reason]] = {}
    for class_id, levels in at.class_levels.items():
        found = at.gathered.classes.get(class_id)
        if found is not None:
            key = ("hit dice", class_id, levels)
            reason = at.plan.memo.get(key)
            if reason is None:
                source = at.plan.source("class", class_id, "Hit Points")
                reason = at.plan.memo[key] = Reason(f"{found.name} {levels}", levels, source)
            dice.setdefault(found.hit_die, []).append(reason)
    return {f"hit_dice.d{sides}": total(reasons, "dice") for sides, reasons in sorted(dice.items())}
