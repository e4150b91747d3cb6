"""Ability checks: `check.*`, `skill.*`, `tool.*`, their lowest totals, passive scores, and initiative.

SRD 5.1, Using Ability Scores, Ability Checks. Initiative is a Dexterity check (Combat, Initiative), so what changes
those changes it too.
"""

from collections.abc import Iterable
from functools import partial
from typing import Any

from engine.rules.formula import Formula
from engine.rules.grants.proficiencies import Expertise, HalfProficiency, Proficiency
from engine.rules.grants.rolls import Advantage, CheckBonus, InitiativeBonus, LowestD20, LowestTotal, PassiveBonus
from engine.rules.words import ABILITIES, Ability
from engine.sheet.armor import untrained
from engine.sheet.gathered import Granted
from engine.sheet.number import Number, Reason, total
from engine.sheet.plan import At, reads

KINDS = frozenset(
    {
        "proficiency skill", "proficiency tool", "proficiency armor", "expertise", "half-proficiency", "check-bonus",
        "passive-bonus", "advantage", "lowest-d20", "lowest-total", "initiative-bonus",
    }
)  # fmt: skip


class _Checks:
    """What bears on checks at one level, looked up once for all of them."""

    def __init__(self, at: At) -> None:
        self.at = at
        self.full: dict[str, Granted] = {}
        self.tools: dict[str, Granted] = {}
        for kind, table in (("proficiency skill", self.full), ("proficiency tool", self.tools)):
            for granted in at.holding(kind):
                grant: Any = granted.grant
                if isinstance(grant, Proficiency):
                    for id_ in grant.ids:
                        table.setdefault(id_, granted)
        self.expert: dict[str, Granted] = {}
        for granted in at.holding("expertise"):
            grant = granted.grant
            if isinstance(grant, Expertise):
                for id_ in grant.ids:
                    self.expert.setdefault(id_, granted)
        self.half: list[tuple[Reason, tuple[str, ...]]] = []
        for granted in at.holding("half-proficiency"):
            grant = granted.grant
            if isinstance(grant, HalfProficiency):
                amount = at.bonus // 2 if grant.rounded == "down" else -(-at.bonus // 2)
                label = f"{granted.label}, half of the proficiency bonus +{at.bonus}"
                self.half.append((Reason(label, amount, granted.source), grant.checks))
        self.half.sort(key=lambda h: -int(h[0].amount))
        self.bonuses: list[tuple[Reason, tuple[str, ...]]] = []
        for granted in at.holding("check-bonus"):
            grant = granted.grant
            if isinstance(grant, CheckBonus):
                amount = at.value(granted, grant.amount)
                if amount:
                    self.bonuses.append((Reason(granted.label, amount, granted.source), grant.checks))
        self.floors = [g for g in at.holding("lowest-d20") if isinstance(g.grant, LowestD20) and g.grant.checks]
        self.totals = [g for g in at.holding("lowest-total") if isinstance(g.grant, LowestTotal)]
        self.standing = standing(at)
        self.passive = list(at.holding("passive-bonus"))
        self.one = Reason("lowest roll of the d20", 1, at.rule("ability-checks"))
        self.ten = Reason("passive score", 10, at.rule("passive-checks"))
        # Everything that checks of one skill depend on beside its score and the proficiency bonus.
        self.key = at.plan.number_of(("checks", at.outfit.since, at.key(KINDS)))
        self.by_bonus = bool(self.half) or at.plan.reading(KINDS).by_bonus
        # Other scores count only where a formula reads them.
        self.scores = at.score_key if at.plan.reading(KINDS).by_score and _reads_scores(at) else ()

    def halves(self, words: frozenset[str]) -> tuple[list[Reason], list[Reason]]:
        """Return the best half proficiency on a check as a reason, and those it beats."""
        found = [reason for reason, checks in self.half if not words.isdisjoint(checks)]
        return found[:1], found[1:]

    def flat(self, words: frozenset[str]) -> list[Reason]:
        return [reason for reason, checks in self.bonuses if not words.isdisjoint(checks)]


def _reads_scores(at: At) -> bool:
    """Tell whether a formula that bears on checks at this level reads ability scores."""
    return any(
        isinstance(value, Formula) and value.constant is None and "score" in reads(value)
        for kind in KINDS
        for granted in at.active(kind)
        for value in granted.grant.__dict__.values()
    )


def standing(at: At) -> list[tuple[bool, Reason, tuple[str, ...]]]:
    """Return what gives standing advantage (True) or disadvantage (False) on checks: (which, reason of 5, on what)."""
    found: list[tuple[bool, Reason, tuple[str, ...]]] = []
    for granted in at.holding("advantage"):
        grant = granted.grant
        if isinstance(grant, Advantage) and grant.roll == "check" and grant.against is None and grant.limited is None:
            good = grant.mode == "advantage"
            word = "advantage" if good else "disadvantage"
            found.append((good, Reason(f"{word}, {granted.label}", 5 if good else -5, granted.source), grant.of))
    armor = at.outfit.armor
    body = armor.item.armor if armor is not None and armor.item is not None else None
    if armor is not None and body is not None and body.stealth_disadvantage:
        label = f"disadvantage, {armor.name}"
        found.append((False, Reason(label, -5, at.plan.source("item", armor.pick.id)), ("stealth",)))
    for thing in untrained(at):
        label = f"disadvantage, no proficiency with {thing.name}"
        found.append((False, Reason(label, -5, at.rule("armor-proficiency")), ("str", "dex")))
    return found


def checks(at: At) -> dict[str, Number]:
    """Return every number of this subject."""
    known = _Checks(at)
    numbers: dict[str, Number] = {}
    for ability in ABILITIES:
        words = frozenset({"all", ability})
        half, beaten = known.halves(words)
        numbers[f"check.{ability}"] = total([at.ability_reason(ability), *half, *known.flat(words)], "bonus", beaten)
    for skill in at.plan.release.skills:
        by_bonus = known.by_bonus or skill.id in known.full
        key = ("skill", skill.id, at.scores[skill.ability], at.bonus if by_bonus else 0, known.scores, known.key)
        found = at.plan.share(key, at, partial(_skill, known, skill.id, skill.ability))
        numbers.update(found)
    for tool in known.tools:
        _tool(known, tool, numbers)
    numbers["initiative"] = _initiative(known)
    return numbers


def _skill(known: _Checks, id_: str, ability: Ability) -> dict[str, Number]:
    at = known.at
    words = frozenset({"all", ability, id_})
    reasons = [at.ability_reason(ability)]
    beaten: list[Reason] = []
    granted = known.full.get(id_)
    if granted is not None:
        reasons.append(at.bonus_reason(granted.source))
        expert = known.expert.get(id_)
        if expert is not None:
            reasons.append(_expertise(at, expert))
    else:
        half, beaten = known.halves(words)
        reasons.extend(half)
    reasons.extend(known.flat(words))
    number = total(reasons, "bonus", beaten)
    name = f"skill.{id_}"
    return {
        name: number,
        f"{name}.lowest": _lowest(known, number, words, granted is not None),
        f"{name}.passive": _passive(known, number, words, id_),
    }


def _expertise(at: At, expert: Granted) -> Reason:
    label = expert.label if expert.label.startswith("expertise (") else f"expertise ({expert.label})"
    return Reason(label, at.bonus, expert.source)


def _lowest(known: _Checks, number: Number, words: frozenset[str], full: bool) -> Number:
    """The lowest total that can come up: 1 + bonus, a higher lowest die, or a total that stands in for it."""
    at = known.at
    if not known.floors and not known.totals:
        return Number(1 + int(number.value), "total", (known.one, *number.reasons))
    dice = [known.one]
    for granted in known.floors:
        grant = granted.grant
        assert isinstance(grant, LowestD20)
        if not words.isdisjoint(grant.checks) or (full and "proficient" in grant.checks):
            dice.append(Reason(f"{granted.label}, lowest roll of the d20", grant.at_least, granted.source))
    best = max(dice, key=lambda r: r.amount)
    beaten = [r for r in dice if r is not best]
    value = int(best.amount) + int(number.value)
    for granted in known.totals:
        grant = granted.grant
        assert isinstance(grant, LowestTotal)
        if words.isdisjoint(grant.checks):
            continue
        least = at.value(granted, grant.total)
        inputs = at.explain(granted, grant.total)
        reason = Reason(f"{granted.label}, {inputs}" if inputs else granted.label, least, granted.source)
        if least > value:
            beaten.append(Reason("lowest roll and bonus", value, at.rule("ability-checks")))
            return Number(least, "total", (reason,), beaten=tuple(beaten))
        beaten.append(reason)
    return Number(value, "total", (best, *number.reasons), beaten=tuple(beaten))


def _passive(known: _Checks, number: Number, words: frozenset[str], id_: str) -> Number:
    at = known.at
    if not known.standing and not known.passive:
        return Number(10 + int(number.value), "score", (known.ten, *number.reasons))
    reasons = [known.ten, *number.reasons]
    if known.standing:
        reasons.extend(_five(known.standing, words))
    for granted in known.passive:
        grant = granted.grant
        if isinstance(grant, PassiveBonus) and id_ in grant.skills:
            reasons.append(Reason(granted.label, at.value(granted, grant.amount), granted.source))
    return total(reasons, "score")


def _five(known: Iterable[tuple[bool, Reason, tuple[str, ...]]], words: frozenset[str]) -> list[Reason]:
    """Advantage gives 5, disadvantage takes 5, both together cancel out (Advantage and Disadvantage)."""
    good = [reason for which, reason, of in known if which and not words.isdisjoint(of)]
    bad = [reason for which, reason, of in known if not which and not words.isdisjoint(of)]
    if good and bad:
        return []
    return good[:1] or bad[:1]


def _tool(known: _Checks, id_: str, numbers: dict[str, Number]) -> None:
    """What proficiency with a tool adds; the ability depends on what it is used for (Equipment, Tools)."""
    at = known.at
    reasons = [at.bonus_reason(known.tools[id_].source)]
    expert = known.expert.get(id_)
    if expert is not None:
        reasons.append(_expertise(at, expert))
    reasons.extend(known.flat(frozenset({"all", id_})))
    numbers[f"tool.{id_}"] = total(reasons, "bonus")


def _initiative(known: _Checks) -> Number:
    at = known.at
    words = frozenset({"all", "dex", "initiative"})
    half, beaten = known.halves(words)
    reasons = [at.ability_reason("dex"), *half, *known.flat(words)]
    for granted in at.holding("initiative-bonus"):
        grant = granted.grant
        if isinstance(grant, InitiativeBonus):
            reasons.append(Reason(granted.label, at.value(granted, grant.amount), granted.source))
    return total(reasons, "bonus", beaten)
