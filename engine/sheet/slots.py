"""Spell slots (SRD 5.1, Multiclassing, Spell Slots; the class tables; Warlock, Pact Magic)."""

from engine.rules.grants.casting import SlotBonus, Spellcasting
from engine.sheet.casting import SLOT_LEVELS, castings, slot_row
from engine.sheet.gathered import Granted
from engine.sheet.number import Number, Reason, stated, total
from engine.sheet.plan import At

_DIVISORS = {"full": (1, False), "half-down": (2, False), "half-up": (2, True), "third-down": (3, False)}
KINDS = frozenset({"spellcasting", "slot-bonus"})
_NONE = Number(0, "slots", ())
_NAMES = {slot: f"slots.{slot}" for slot in SLOT_LEVELS}
_NO_SLOTS = dict.fromkeys(_NAMES.values(), _NONE)
_NO_PACT = {"pact.slots": _NONE, "pact.slot_level": Number(0, "spell level", ())}


def slots(at: At) -> dict[str, Number]:
    """Return `slots.1` to `slots.9`, `pact.slots` and `pact.slot_level`, 0 where there are none.

    One class with spell slots uses its own table; two or more add up their levels (half casters half of theirs, as
    the class says) and use the multiclass table. Pact Magic stands apart from both.
    """
    found = [(g, grant) for g, grant in castings(at) if g.owner is not None and grant.progression != "none"]
    ordinary = [(g, grant) for g, grant in found if grant.progression != "pact"]
    if len(ordinary) == 1:
        numbers = _own_table(at, ordinary[0][0])
    elif ordinary:
        numbers = _shared_table(at, ordinary)
    else:
        numbers = dict(_NO_SLOTS)
    for granted in at.holding("slot-bonus"):
        grant = granted.grant
        if isinstance(grant, SlotBonus):
            name = f"slots.{grant.slot}"
            more = Reason(granted.label, at.value(granted, grant.amount), granted.source)
            numbers[name] = total([*numbers[name].reasons, more], "slots")
    numbers.update(_pact(at, [g for g, grant in found if grant.progression == "pact"]))
    return numbers


def _own_table(at: At, granted: Granted) -> dict[str, Number]:
    owner = granted.owner or ""
    nth = at.class_levels[owner]
    label = f"{at.plan.name_of(owner)} {nth}, own table"
    numbers = dict(_NO_SLOTS)
    for slot, count in enumerate(slot_row(at, owner, nth), start=1):
        if not count:
            break
        numbers[_NAMES[slot]] = Number(count, "slots", (Reason(label, count, granted.source),))
    return numbers


def caster_level(at: At, casters: list[tuple[Granted, Spellcasting]]) -> tuple[int, list[str]]:
    """Return the level in the multiclass table, and each class's part of it in words."""
    level, parts = 0, []
    for granted, grant in casters:
        owner = granted.owner or ""
        held = at.class_levels[owner]
        divisor, up = _DIVISORS[grant.progression]
        part = -(-held // divisor) if up else held // divisor
        level += part
        name = at.plan.name_of(owner)
        parts.append(f"{name} {held}" if divisor == 1 else f"{name} {held} counts {part}")
    return level, parts


def _shared_table(at: At, casters: list[tuple[Granted, Spellcasting]]) -> dict[str, Number]:
    level, parts = caster_level(at, casters)
    row = at.plan.release.slots[level - 1] if level else ()
    label = f"caster level {level}: {', '.join(parts)}"
    source = at.rule("multiclass-slots")
    numbers = dict(_NO_SLOTS)
    for slot, count in enumerate(row, start=1):
        numbers[_NAMES[slot]] = Number(count, "slots", (Reason(label, count, source),))
    return numbers


def _pact(at: At, pacts: list[Granted]) -> dict[str, Number]:
    numbers = dict(_NO_PACT)
    for granted in pacts[:1]:
        owner = granted.owner or ""
        nth = at.class_levels[owner]
        label = f"{at.catalog.name_of('class', owner)} {nth}, own table"
        count = at.gathered.column(owner, "pact_slots", nth)
        slot = at.gathered.column(owner, "pact_level", nth)
        numbers["pact.slots"] = stated(count, label, granted.source, "slots")
        numbers["pact.slot_level"] = stated(slot, label, granted.source, "spell level")
    return numbers
