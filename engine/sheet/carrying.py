"""What is carried, how much could be, and attunement (SRD 5.1, Lifting and Carrying; Magic Items, Attunement)."""

from fractions import Fraction

from engine.rules.grants.body import Attunement, Carrying, Size
from engine.sheet.number import Number, Reason, tidy, total
from engine.sheet.plan import At

KINDS = frozenset({"carrying", "size", "attunement"})
# Each size above Medium doubles what can be carried, Tiny halves it.
_SIZES = {"tiny": Fraction(1, 2), "large": Fraction(2), "huge": Fraction(4), "gargantuan": Fraction(8)}


def carrying(at: At) -> dict[str, Number]:
    """Return `carry.capacity` and `carry.weight` in pounds, and `attunement.used` in items."""
    per_point = at.plan.release.carry_per_strength
    strength = at.scores["str"]
    capacity = Fraction(strength * per_point)
    label = f"Strength {strength} × {per_point}"
    sizes = [g.grant.size for g in at.holding("size") if isinstance(g.grant, Size)]
    if sizes and sizes[-1] in _SIZES:
        capacity *= _SIZES[sizes[-1]]
        label += f", {sizes[-1]}"
    reasons = [Reason(label, tidy(capacity), at.rule("carrying"))]
    for granted in at.holding("carrying"):
        grant = granted.grant
        if isinstance(grant, Carrying):
            more = capacity * (grant.times - 1)
            reasons.append(Reason(f"{granted.label}, × {grant.times}", tidy(more), granted.source))
            capacity += more
    return {
        "carry.capacity": total(reasons, "pounds"),
        "carry.weight": _weight(at),
        "attunement.used": _attuned(at),
    }


def _weight(at: At) -> Number:
    key = ("weight", at.outfit.since)
    found: Number | None = at.plan.memo.get(key)
    if found is None:
        reasons = []
        for thing in at.outfit.carried:
            if thing.item is None or not thing.item.weight:
                continue
            # A weight is that of a bundle of so many pieces (20 arrows).
            weight = Fraction(thing.item.weight).limit_denominator(1000) * thing.count / thing.item.bundle
            label = f"{thing.count} × {thing.name}" if thing.count > 1 else thing.name
            reasons.append(Reason(label, tidy(weight), at.plan.source("item", thing.item.id)))
        found = at.plan.memo[key] = total(reasons, "pounds")
    return found


def _attuned(at: At) -> Number:
    reasons = [
        Reason(thing.name, 1, at.plan.source("item", thing.item.id))
        for thing in at.outfit.carried
        if thing.item is not None and thing.attuned
    ]
    return total(reasons, "items")


def attunement_limit(at: At) -> tuple[int, str]:
    """Return how many items can be attuned at once, and where that stands."""
    limit, source = at.plan.release.attunement, at.rule("attunement")
    for granted in at.holding("attunement"):
        grant = granted.grant
        if isinstance(grant, Attunement) and grant.items > limit:
            limit, source = grant.items, granted.source
    return limit, source
