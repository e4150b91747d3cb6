"""Ability scores and modifiers (SRD 5.1, Using Ability Scores)."""

from typing import Any

from engine.rules.grants.scores import AbilityCap, AbilityIncrease, AbilitySet
from engine.rules.words import ABILITIES, ABILITY_NAMES, Ability
from engine.sheet.gathered import Granted
from engine.sheet.number import Number, Reason, stated, total
from engine.sheet.plan import Plan

KINDS = frozenset({"ability-increase", "ability-cap", "ability-set"})
_METHODS = {
    "standard-array": "standard array",
    "point-buy": "point buy",
    "rolled": "rolled",
    "manual": "as given",
    "final": "final score, every increase included",
}


def abilities(plan: Plan, level: int) -> tuple[dict[Ability, int], dict[str, Number]]:
    """Return the scores at a level, and `ability.X.score` and `ability.X.modifier` for all six.

    Increases count in the order in which they come, each up to its limit; what lies above is lost. Things that set a
    score count last. A build without scores counts 10 each.
    """
    key = ("abilities", plan.reading(KINDS).versions[level])
    kept: tuple[dict[Ability, int], dict[str, Number]] | None = plan.memo.get(key)
    if kept is None:
        scores: dict[Ability, int] = {}
        numbers: dict[str, Number] = {}
        source = plan.rule("ability-scores")
        for ability in ABILITIES:
            number = _score(plan, level, ability)
            score = scores[ability] = int(number.value)
            label = f"{ABILITY_NAMES[ability]} {score}"
            numbers[f"ability.{ability}.score"] = number
            numbers[f"ability.{ability}.modifier"] = stated((score - 10) // 2, label, source)
        kept = plan.memo[key] = (scores, numbers)
    return kept[0], dict(kept[1])


def _score(plan: Plan, level: int, ability: Ability) -> Number:
    given = plan.gathered.build.scores
    if given is None:
        reasons = [Reason("no scores given, counted as 10", 10, plan.rule("ability-scores"))]
    else:
        source = plan.rule("ability-score-methods")
        reasons = [Reason(_METHODS[given.method], given.values[ability], source)]
    beaten: list[Reason] = []
    _increase(plan, level, ability, reasons, final=given is not None and given.method == "final")
    _set(plan, level, ability, reasons, beaten)
    return total(reasons, "score", beaten)


def _mine(plan: Plan, level: int, ability: Ability, *kinds: str) -> list[Granted]:
    found = [g for kind in kinds for g in plan.by_kind.get(kind, ())]
    grant: Any
    mine = []
    for granted in found:
        grant = granted.grant
        if grant.ability == ability and granted.since <= level <= granted.until:
            mine.append(granted)
    return mine


def _increase(plan: Plan, level: int, ability: Ability, reasons: list[Reason], final: bool) -> None:
    if final:
        return
    steps = _mine(plan, level, ability, "ability-cap", "ability-increase")
    # A cap that comes with an increase holds for it already (Primal Champion).
    steps.sort(key=lambda g: (g.since, not isinstance(g.grant, AbilityCap)))
    limit = 0
    score = int(reasons[0].amount)
    for granted in steps:
        grant = granted.grant
        if isinstance(grant, AbilityCap):
            limit = max(limit, grant.cap)
        elif isinstance(grant, AbilityIncrease):
            after = score + grant.amount
            if grant.amount > 0:
                after = max(score, min(after, max(limit, grant.cap)))
            after = max(1, after)
            lost = grant.amount - (after - score)
            label = (
                f"{granted.label}, {lost} lost at the limit of {max(limit, grant.cap)}" if lost > 0 else granted.label
            )
            reasons.append(Reason(label, after - score, granted.source))
            score = after


def _set(plan: Plan, level: int, ability: Ability, reasons: list[Reason], beaten: list[Reason]) -> None:
    score = sum(int(r.amount) for r in reasons)
    for granted in _mine(plan, level, ability, "ability-set"):
        grant = granted.grant
        assert isinstance(grant, AbilitySet)
        if grant.score > score:
            reasons.append(Reason(f"{granted.label}, sets it to {grant.score}", grant.score - score, granted.source))
            score = grant.score
        else:
            beaten.append(Reason(f"{granted.label}, sets it to {grant.score}", grant.score, granted.source))
