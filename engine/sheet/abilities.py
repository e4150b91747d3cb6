"""Ability scores and modifiers (SRD 5.1, Using Ability Scores)."""

from collections.abc import Mapping, Sequence

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
            number, modifier = _pair(plan, level, ability, source)
            scores[ability] = int(number.value)
            numbers[f"ability.{ability}.score"] = number
            numbers[f"ability.{ability}.modifier"] = modifier
        kept = plan.memo[key] = (scores, numbers)
    return kept[0], dict(kept[1])


def _pair(plan: Plan, level: int, ability: Ability, source: str) -> tuple[Number, Number]:
    """Return score and modifier; those of an earlier level where the same grants change this ability."""
    mine = [granted for granted in _changing(plan)[ability] if granted.since <= level <= granted.until]
    key = ("ability score", ability, *map(id, mine))
    kept: tuple[Number, Number] | None = plan.memo.get(key)
    if kept is None:
        number = _score(plan, mine, ability)
        score = int(number.value)
        kept = number, stated((score - 10) // 2, f"{ABILITY_NAMES[ability]} {score}", source)
        plan.memo[key] = kept
    return kept


def _changing(plan: Plan) -> Mapping[Ability, Sequence[Granted]]:
    """Return the grants that change each ability at whatever level, in the order in which they count."""
    found: dict[Ability, list[Granted]] | None = plan.memo.get("changing abilities")
    if found is None:
        found = plan.memo["changing abilities"] = {ability: [] for ability in ABILITIES}
        for kind in ("ability-cap", "ability-increase", "ability-set"):
            for granted in plan.by_kind.get(kind, ()):
                grant = granted.grant
                if isinstance(grant, AbilityCap | AbilityIncrease | AbilitySet):
                    found[grant.ability].append(granted)
        for mine in found.values():
            # A cap that comes with an increase holds for it already (Primal Champion).
            mine.sort(key=lambda g: (g.since, not isinstance(g.grant, AbilityCap)))
    return found


def _score(plan: Plan, mine: Sequence[Granted], ability: Ability) -> Number:
    given = plan.gathered.build.scores
    if given is None:
        reasons = [Reason("no scores given, counted as 10", 10, plan.rule("ability-scores"))]
    else:
        source = plan.rule("ability-score-methods")
        reasons = [Reason(_METHODS[given.method], given.values[ability], source)]
    beaten: list[Reason] = []
    if given is None or given.method != "final":
        _increase(mine, reasons)
    _set(mine, reasons, beaten)
    return total(reasons, "score", beaten)


def _increase(mine: Sequence[Granted], reasons: list[Reason]) -> None:
    limit = 0
    score = int(reasons[0].amount)
    for granted in mine:
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


def _set(mine: Sequence[Granted], reasons: list[Reason], beaten: list[Reason]) -> None:
    score = sum(int(r.amount) for r in reasons)
    for granted in mine:
        grant = granted.grant
        if not isinstance(grant, AbilitySet):
            continue
        if grant.score > score:
            reasons.append(Reason(f"{granted.label}, sets it to {grant.score}", grant.score - score, granted.source))
            score = grant.score
        else:
            beaten.append(Reason(f"{granted.label}, sets it to {grant.score}", grant.score, granted.source))
