"""Spellcasting class by class: `casting.CLASS.*` (SRD 5.1, Spellcasting; Multiclassing, Spellcasting)."""

from collections.abc import Iterator
from functools import partial
from typing import Any

from engine.rules.formula import Formula
from engine.rules.grants.casting import CastingBonus, ExtraSpells, Spellcasting
from engine.rules.words import Ability
from engine.sheet.gathered import Granted, Learned
from engine.sheet.number import Number, Reason, stated, total
from engine.sheet.plan import At

SLOT_LEVELS = range(1, 10)
KINDS = frozenset({"spellcasting", "casting-bonus", "extra-spells"})
BONUS_KINDS = frozenset({"casting-bonus"})


def castings(at: At) -> tuple[tuple[Granted, Spellcasting], ...]:
    """Return the Spellcasting and Pact Magic features that the build has, each class once."""
    found: tuple[tuple[Granted, Spellcasting], ...] | None = at.memo.get("castings")
    if found is None:
        each: dict[str | None, tuple[Granted, Spellcasting]] = {}
        for granted in at.holding("spellcasting"):
            if isinstance(granted.grant, Spellcasting):
                each.setdefault(granted.owner, (granted, granted.grant))
        found = at.memo["castings"] = tuple(each.values())
    return found


def _innate(at: At) -> tuple[Learned, ...]:
    """The spells with a casting ability of their own, at whatever level."""
    found: tuple[Learned, ...] | None = at.plan.memo.get("innate")
    if found is None:
        found = at.plan.memo["innate"] = at.gathered.innate
    return found


def casters(at: At) -> tuple[Any, ...]:
    """Return what the numbers of casting and slots read of levels: those of casting classes, and innate spells."""
    found: tuple[Any, ...] | None = at.memo.get("casters")
    if found is not None:
        return found
    own = tuple((granted.owner, at.owner_level(granted.owner)) for granted, _ in castings(at))
    innate = _innate(at)
    found = (*own, *(s.casting for s in innate if s.since <= at.level <= s.until)) if innate else own
    at.memo["casters"] = found
    return found


def top_level(at: At, granted: Granted, grant: Spellcasting) -> int:
    """Return the highest spell level that a class can learn from its own table at this level; 0 for none."""
    owner = granted.owner
    if owner is None:
        return 0
    nth = at.class_levels.get(owner, 0)
    if grant.progression == "pact":
        level = at.gathered.column(owner, "pact_level", nth)
        return level if isinstance(level, int) else 0
    return max((s for s, count in enumerate(slot_row(at, owner, nth), start=1) if count), default=0)


def slot_row(at: At, owner: str, class_level: int) -> tuple[int, ...]:
    """Return the slots of spell levels 1 to 9 in a class's own table at a class level."""
    key = ("slot row", owner, class_level)
    found: tuple[int, ...] | None = at.plan.memo.get(key)
    if found is None:
        cells = (at.gathered.column(owner, f"slots_{slot}", class_level) for slot in SLOT_LEVELS)
        found = at.plan.memo[key] = tuple(cell if isinstance(cell, int) else 0 for cell in cells)
    return found


def save_dc(at: At, ability: Ability, owner: str | None, source: str) -> Number:
    """Return a spell save DC: 8 + proficiency bonus + ability modifier + what items and the like add."""
    base = Reason("base", 8, at.rule("spell-save-dc"))
    reasons = [base, at.bonus_reason(source), at.ability_reason(ability), *_bonuses(at, "save_dc", owner)]
    return total(reasons, "DC")


def spell_attack(at: At, ability: Ability, owner: str | None, source: str) -> list[Reason]:
    """Return the reasons of a spell attack bonus: proficiency bonus + ability modifier + what items add."""
    return [at.bonus_reason(source), at.ability_reason(ability), *_bonuses(at, "attack", owner)]


def _bonuses(at: At, to: str, owner: str | None) -> list[Reason]:
    return [
        Reason(granted.label, at.value(granted, granted.grant.amount), granted.source)
        for granted in at.holding("casting-bonus")
        if isinstance(granted.grant, CastingBonus)
        and to in granted.grant.to
        and (not granted.grant.lists or owner in granted.grant.lists)
    ]


def casting(at: At) -> dict[str, Number]:
    """Return all `casting.*` numbers: of classes, and save DC and attack of spells that come from elsewhere."""
    numbers: dict[str, Number] = {}
    for granted, grant in castings(at):
        if granted.owner is None:
            continue
        name = f"casting.{granted.owner}"
        key = ("casting", granted.owner, at.bonus, at.scores[grant.ability], at.key(BONUS_KINDS))
        numbers.update(at.plan.share(key, at, partial(_dc_and_attack, at, name, grant.ability, granted)))
        if grant.cantrips is not None:
            numbers[f"{name}.cantrips"] = _cantrips(at, granted, grant, grant.cantrips)
        counts = (("known", grant.known), ("prepared", grant.prepared), ("spellbook", grant.book))
        for word, formula in counts:
            if formula is not None:
                numbers[f"{name}.{word}"] = _stated(at, granted, formula)
        top = top_level(at, granted, grant)
        label = f"{at.catalog.name_of('class', granted.owner)} {at.class_levels[granted.owner]}, own table"
        numbers[f"{name}.top_level"] = stated(top, label, granted.source, "spell level")
    for id_, ability, source in _elsewhere(at):
        numbers.setdefault(f"casting.{id_}.save_dc", save_dc(at, ability, None, source))
        numbers.setdefault(f"casting.{id_}.attack", total(spell_attack(at, ability, None, source), "bonus"))
    return numbers


def _dc_and_attack(at: At, name: str, ability: Ability, granted: Granted) -> dict[str, Number]:
    return {
        f"{name}.save_dc": save_dc(at, ability, granted.owner, granted.source),
        f"{name}.attack": total(spell_attack(at, ability, granted.owner, granted.source), "bonus"),
    }


def _stated(at: At, granted: Granted, formula: Formula) -> Number:
    value = at.value(granted, formula)
    label = f"{granted.label}, {at.explain(granted, formula)}".removesuffix(", ")
    return stated(value, label, granted.source, "spells")


def _cantrips(at: At, granted: Granted, grant: Spellcasting, formula: Formula) -> Number:
    """The table's cantrips, and those of the same list that a feature of the class adds (a circle's bonus cantrip)."""
    plain = _stated(at, granted, formula)
    key = ("more cantrips", granted.owner)
    known: list[tuple[int, Reason]] | None = at.plan.memo.get(key)
    if known is None:
        known = at.plan.memo[key] = [
            (opened.level, Reason(opened.label, opened.count, opened.source))
            for opened in at.gathered.opened
            if opened.choice.keyword == "cantrip"
            and opened.owner == granted.owner
            and opened.choice.total is None
            and opened.choice.list == grant.list
        ]
    more = [reason for level, reason in known if level <= at.level]
    if not more:
        return plain
    return total([*plain.reasons, *more], "spells")


def _elsewhere(at: At) -> Iterator[tuple[str, Ability, str]]:
    """Yield (id, ability, source) of spells with a casting ability of their own: species, feats, items."""
    seen: set[str] = set()
    for granted in at.holding("extra-spells"):
        grant = granted.grant
        if not isinstance(grant, ExtraSpells) or grant.casting is None or grant.ability is None:
            continue
        if grant.casting not in seen:
            seen.add(grant.casting)
            yield grant.casting, grant.ability, granted.source
    for spell in _innate(at):
        if spell.casting is None or spell.casting in seen or not spell.since <= at.level <= spell.until:
            continue
        if spell.ability is not None:
            seen.add(spell.casting)
            yield spell.casting, spell.ability, spell.source


def own_ability(at: At, owner: str | None) -> Ability | None:
    """Return the casting ability of a class that the build has at this level; None without one."""
    for granted, grant in castings(at):
        if granted.owner == owner:
            return grant.ability
    return None
