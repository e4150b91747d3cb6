"""Ability score increases and the feats taken in their place."""

from collections.abc import Iterable, Iterator

from engine.audit.checks.choices import level_of, name_of, place_of
from engine.audit.context import AuditContext
from engine.audit.finding import Finding, finding
from engine.audit.words import counted, listing
from engine.rules.grants.scores import AbilityCap, AbilityIncrease
from engine.rules.words import ABILITIES, ABILITY_NAMES, Ability
from engine.sheet.gathered import Granted, Opened, Picked


def check_increases(ctx: AuditContext) -> Iterable[Finding]:
    """Every improvement spent, in the size and shape that its feature gives."""
    for opened in ctx.gathered.opened:
        if opened.choice.keyword == "increase":
            yield from _spent(ctx, opened)
    yield from _spare(ctx)


def _spent(ctx: AuditContext, opened: Opened) -> Iterator[Finding]:
    choice, level = opened.choice, level_of(opened.place, opened.level)
    increases = [p for p in opened.picks if p.keyword == "increase"]
    feats = len(opened.picks) - len(increases)
    points = (opened.count - feats) * choice.amount
    left = points - sum(p.pick.count for p in increases)
    if left > 0:
        feat = ", or take a feat in its place" if choice.or_feat and not increases else ""
        yield finding(
            "increase-missing",
            level,
            opened.label,
            f"{opened.label} gives {_shape(opened)} and {counted(left, 'point')} {'is' if left == 1 else 'are'} not"
            f" spent; add {'+' if left == 1 else 'for example +'}{left} to a score{feat}.",
            opened.source,
        )
    wrong = [p for p in increases if p.pick.id in choice.but or (choice.from_ and p.pick.id not in choice.from_)]
    for picked in wrong:
        name = _ability(picked)
        allowed = listing(
            (ABILITY_NAMES[a] for a in ABILITIES if a not in choice.but and (not choice.from_ or a in choice.from_)),
            "or",
        )
        yield finding(
            "choice-not-on-list",
            level,
            name,
            f"{opened.label} does not raise {name} by choice; raise {allowed}.",
            opened.source,
        )
    if not _fits(opened, increases):
        yield finding(
            "increase-wrong-sum",
            level,
            opened.label,
            f"{opened.label} gives {_shape(opened)}, not {_written(increases)}; change the increases to that.",
            opened.source,
        )


def _fits(opened: Opened, increases: list[Picked]) -> bool:
    choice = opened.choice
    if choice.split:
        return all(p.pick.count <= choice.amount for p in increases)
    # Without splitting each improvement goes whole into one score, several into different ones.
    whole = all(p.pick.count == choice.amount for p in increases)
    return whole and len({p.pick.id for p in increases}) == len(increases)


def _shape(opened: Opened) -> str:
    choice = opened.choice
    if choice.split:
        times = "" if opened.count == 1 else f"{opened.count} times "
        return f"{times}+{choice.amount} to one score or +1 to each of {counted(choice.amount, 'score')}"
    if opened.count == 1:
        return f"+{choice.amount} to one score"
    return f"+{choice.amount} to each of {counted(opened.count, 'different score')}"


def _written(increases: Iterable[Picked]) -> str:
    return listing(f"+{p.pick.count} {_ability(p)}" for p in increases)


def _ability(picked: Picked) -> str:
    return next((ABILITY_NAMES[a] for a in ABILITIES if a == picked.pick.id), picked.pick.id)


def _spare(ctx: AuditContext) -> Iterator[Finding]:
    groups: dict[str, list[Picked]] = {}
    for picked in ctx.gathered.spare:
        if picked.keyword in ("increase", "feat") and not ctx.orphaned(picked.path):
            groups.setdefault(place_of(picked.path), []).append(picked)
    for place, picks in groups.items():
        level = level_of(place, picks[0].level)
        owner = picks[0].owner
        asked = [o for o in ctx.gathered.opened if o.place == place and o.choice.keyword == "increase"]
        source = asked[0].source if asked else _increase_source(ctx, owner)
        increases = [p for p in picks if p.keyword == "increase"]
        if increases and asked:
            taken = [p for o in asked for p in o.picks if p.keyword == "feat"]
            feat = f" and {name_of(ctx, taken[0])} takes its place" if taken else ""
            yield finding(
                "increase-wrong-sum",
                level,
                asked[0].label,
                f"{asked[0].label} gives {_shape(asked[0])}{feat}, so {_written(increases)} goes beyond it; take that"
                " off.",
                source,
            )
        elif increases:
            yield finding(
                "increase-misplaced",
                level,
                _written(increases),
                f"Nothing here gives an ability score increase, so {_written(increases)} counts for nothing; move it to"
                f" a level that does{_next(ctx, owner)}.",
                source,
            )
        for picked in picks:
            if picked.keyword == "feat":
                yield _feat(ctx, picked, level)


def _increase_source(ctx: AuditContext, owner: str | None) -> str:
    return ctx.class_source(owner, "Ability Score Improvement") if owner else ctx.catalog.rule("ability-increase")


def _next(ctx: AuditContext, owner: str | None) -> str:
    levels = [o.level for o in ctx.gathered.opened if o.choice.keyword == "increase" and o.owner and o.owner == owner]
    return f", such as level {listing(levels, 'or')}" if levels else ""


def _feat(ctx: AuditContext, picked: Picked, level: int | None) -> Finding:
    name = name_of(ctx, picked)
    given = ctx.table is not None and picked.level in ctx.table.extra_feats
    mend = (
        f'; this table gives a feat at level {picked.level}, which is written `granted "table" feat {name}`'
        if given
        else "; take it in place of an ability score increase, or as a gift of the GM"
    )
    return finding(
        "feat-misplaced",
        level,
        name,
        f"Nothing here gives a feat or an ability score increase for {name}{mend}.",
        ctx.catalog.rule("feats"),
    )


def check_limits(ctx: AuditContext) -> Iterable[Finding]:
    """No increase lifts a score above 20, or above the limit that a feature or the increase itself prints."""
    scores = ctx.build.scores
    if scores is None or scores.method == "final":
        return
    # What a level gives of itself comes before what is picked there.
    order = sorted(
        (g for g in ctx.gathered.grants if isinstance(g.grant, AbilityIncrease) and g.state is None and g.item is None),
        key=lambda g: (g.since, g.origin == getattr(g.grant, "ability", "")),
    )
    now: dict[Ability, int] = dict(scores.values)
    for granted in order:
        grant = granted.grant
        assert isinstance(grant, AbilityIncrease)
        limit = max(grant.cap, _cap(ctx, grant.ability, granted.since))
        before = now[grant.ability]
        now[grant.ability] = max(before, min(before + grant.amount, limit))
        if grant.amount > 0 and before + grant.amount > limit:
            yield _above(ctx, granted, before, limit)


def _cap(ctx: AuditContext, ability: Ability, level: int) -> int:
    caps = [g.grant.cap for g in ctx.grants_at(level) if isinstance(g.grant, AbilityCap) and g.grant.ability == ability]
    return max([ctx.catalog.release.scores.highest, *caps])


def _above(ctx: AuditContext, granted: Granted, before: int, limit: int) -> Finding:
    grant = granted.grant
    assert isinstance(grant, AbilityIncrease)
    name = ABILITY_NAMES[grant.ability]
    return finding(
        "increase-above-limit",
        granted.since if granted.owner is not None else None,
        name,
        f"{granted.label} would lift {name} from {before} to {before + grant.amount}, and its limit is {limit}; raise"
        " another score, or start lower.",
        ctx.catalog.rule("ability-increase"),
    )
