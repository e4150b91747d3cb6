"""Armor class, and what armor without proficiency does (SRD 5.1, Equipment, Armor)."""

from engine.rules.grants.body import ArmorBonus, ArmorFloor, ArmorFormula
from engine.rules.words import ABILITY_NAMES
from engine.sheet.gathered import Carried
from engine.sheet.number import Number, Reason, total
from engine.sheet.plan import At

KINDS = frozenset({"armor-formula", "armor-bonus", "armor-floor"})


def untrained(at: At) -> list[Carried]:
    """Return worn armor and shield with which the build has no proficiency."""
    found = []
    for thing in (at.outfit.armor, at.outfit.shield):
        body = thing.item.armor if thing is not None and thing.item is not None else None
        if thing is None or thing.item is None or body is None:
            continue
        bases = thing.item.magic.base if thing.item.magic is not None else ()
        if at.proficient("armor", body.group, thing.item.id, *bases) is None:
            found.append(thing)
    return found


def armor_class(at: At) -> Number:
    """Return `ac`: the best of worn armor, or of all ways to go without; a shield where that way allows one.

    Ways that lost stand in `beaten` with what they would have come to. A floor (barkskin) that is higher than the
    sum is no sum: it is the one reason then.
    """
    shield = _shield(at)
    extra = [
        Reason(granted.label, amount, granted.source)
        for granted in at.holding("armor-bonus")
        if isinstance(granted.grant, ArmorBonus) and (amount := at.value(granted, granted.grant.amount))
    ]
    ways: list[tuple[str, list[Reason]]] = []
    worn = _worn(at)
    if worn is not None:
        ways.append((worn[0].label, [*worn, *shield]))
    else:
        base = Reason("no armor", 10, at.rule("armor-class"))
        ways.append((f"no armor, 10 + {ABILITY_NAMES['dex']}", [base, at.ability_reason("dex"), *shield]))
    for granted in at.holding("armor-formula"):
        grant = granted.grant
        if not isinstance(grant, ArmorFormula) or (shield and not grant.shield):
            continue
        reasons = [Reason(granted.label, grant.base, granted.source), *(at.ability_reason(a) for a in grant.add)]
        terms = " + ".join([str(grant.base), *(ABILITY_NAMES[a] for a in grant.add)])
        ways.append((f"{granted.label}, {terms}", [*reasons, *shield]))
    sums = [sum(int(r.amount) for r in reasons) for _, reasons in ways]
    best = max(range(len(ways)), key=lambda i: sums[i])
    more = sum(int(r.amount) for r in extra)
    beaten = [Reason(label, sums[i] + more, reasons[0].source) for i, (label, reasons) in enumerate(ways) if i != best]
    number = total([*ways[best][1], *extra], "armor class", beaten)
    floors = [g for g in at.holding("armor-floor") if isinstance(g.grant, ArmorFloor)]
    for granted in floors:
        grant = granted.grant
        assert isinstance(grant, ArmorFloor)
        label = f"{granted.label}, never below {grant.least}"
        reason = Reason(label, grant.least, granted.source)
        if grant.least > int(number.value):
            lost = Reason(ways[best][0], number.value, ways[best][1][0].source)
            number = Number(grant.least, "armor class", (reason,), beaten=(lost, *number.beaten))
        else:
            number = Number(number.value, "armor class", number.reasons, beaten=(*number.beaten, reason))
    return number


def _shield(at: At) -> list[Reason]:
    thing = at.outfit.shield
    if thing is None or thing.item is None or thing.item.armor is None:
        return []
    source = at.plan.source("item", thing.item.id)
    reasons = [Reason(thing.item.name, thing.item.armor.ac, source)]
    if thing.pick.bonus:
        reasons.append(Reason(f"magic bonus, {thing.name}", thing.pick.bonus, at.rule("magic-items")))
    return reasons


def _worn(at: At) -> list[Reason] | None:
    thing = at.outfit.armor
    if thing is None or thing.item is None or thing.item.armor is None:
        return None
    body = thing.item.armor
    reasons = [Reason(thing.item.name, body.ac, at.plan.source("item", thing.item.id))]
    # Heavy armor neither adds a Dexterity modifier nor suffers from a negative one.
    if body.group != "heavy":
        plain = at.ability_reason("dex")
        if body.dex_cap is not None and int(plain.amount) > body.dex_cap:
            label = f"{plain.label}, at most +{body.dex_cap} in {thing.item.name}"
            reasons.append(Reason(label, body.dex_cap, at.rule("armor")))
        else:
            reasons.append(plain)
    if thing.pick.bonus:
        reasons.append(Reason(f"magic bonus, {thing.name}", thing.pick.bonus, at.rule("magic-items")))
    return reasons
