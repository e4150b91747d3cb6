"""Hit points and Hit Dice (SRD 5.1, Beyond 1st Level; Using Ability Scores, Constitution; Multiclassing).

The release prints no least gain of hit points for a level, so a low Constitution counts in full.
"""

from engine.rules.grants.body import HitPoints
from engine.sheet.number import Number, Reason, signed, total
from engine.sheet.plan import At, Plan


def _class_reasons(plan: Plan, top: int) -> list[Reason]:
    """One reason for the first level, then one for each run of levels of one class, rolled levels apart."""
    reasons: list[Reason] = []
    run: list[int] = []
    run_class = ""

    def close() -> None:
        if not run:
            return
        found = plan.gathered.classes[run_class]
        fixed = found.hit_die // 2 + 1
        levels = str(run[0]) if len(run) == 1 else f"{run[0]}-{run[-1]}"
        each = " each" if len(run) > 1 else ""
        source = plan.catalog.source("class", run_class, "Hit Points")
        reasons.append(Reason(f"{found.name} {levels}, fixed {fixed}{each}", fixed * len(run), source))
        run.clear()

    for level, class_id, nth, line in plan.gathered.build.lines():
        if level > top:
            break
        found = plan.gathered.classes.get(class_id)
        if found is None:
            continue
        source = plan.catalog.source("class", class_id, "Hit Points")
        if level == 1:
            reasons.append(Reason(f"{found.name} 1, first level", found.hit_die, source))
        elif line.hp is not None:
            close()
            reasons.append(Reason(f"{found.name} {nth}, rolled {line.hp}", line.hp, source))
        else:
            if class_id != run_class:
                close()
            run_class = class_id
            run.append(nth)
    close()
    return reasons


def hit_points(at: At) -> dict[str, Number]:
    """Return `hp.max` and one `hit_dice.dN` for each size of die."""
    plan = at.plan
    reasons = _class_reasons(plan, at.level)
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
            source = at.catalog.source("class", class_id, "Hit Points")
            dice.setdefault(found.hit_die, []).append(Reason(f"{found.name} {levels}", levels, source))
    return {f"hit_dice.d{sides}": total(reasons, "dice") for sides, reasons in sorted(dice.items())}
