"""What only the game master can say: gifts, languages that need leave, and what the release leaves open."""

from collections.abc import Iterable

from engine.audit.checks.choices import level_of, name_of, place_of
from engine.audit.context import AuditContext
from engine.audit.finding import NO_SOURCE, Finding, finding
from engine.audit.moment import holds
from engine.audit.words import listing
from engine.build.document import Choose, Gain, Granted, Increase, Item
from engine.rules.grants.choices import Ruling
from engine.rules.words import ABILITY_NAMES
from engine.sheet.matching import kind_of


def check_gifts(ctx: AuditContext) -> Iterable[Finding]:
    """Every `granted`, unless the table gives everybody a feat at that level."""
    build = ctx.build
    places: list[tuple[int | None, Iterable[Item]]] = []
    if build.species is not None:
        places.append((None, build.species.items))
    if build.background is not None:
        places.append((None, build.background.items))
    places += [(level, line.items) for level, _, _, line in build.lines()]
    left = list(ctx.table.extra_feats) if ctx.table is not None else []
    for level, items in places:
        for item in items:
            if not isinstance(item, Granted):
                continue
            inner = item.item
            if isinstance(inner, Choose) and inner.keyword == "feat" and len(inner.picks) == 1 and level in left:
                left.remove(level)
                continue
            what = _gift(ctx, inner)
            yield finding(
                "granted-by-gm",
                level,
                what,
                f"{what} is a gift (“{item.text}”), which no rule gives; the GM says whether it stands.",
                NO_SOURCE,
            )


def _gift(ctx: AuditContext, item: Item) -> str:
    if isinstance(item, Choose):
        return listing(ctx.catalog.name_of(kind_of(item.keyword), p.id) for p in item.picks)
    if isinstance(item, Gain):
        return listing(ctx.catalog.name_of("item", p.id) for p in item.picks)
    if isinstance(item, Increase):
        return f"+{item.amount} {ABILITY_NAMES[item.ability]}"
    return "the gift"


def check_languages(ctx: AuditContext) -> Iterable[Finding]:
    """Exotic and secret languages chosen freely need the game master's leave; those of favored enemies do not."""
    for opened in ctx.gathered.opened:
        if opened.choice.from_ or opened.place.count("/picks/"):
            continue
        for picked in opened.picks:
            if picked.keyword != "language":
                continue
            groups = next((w.groups for w in ctx.catalog.release.languages if w.id == picked.pick.id), ())
            if {"exotic", "secret"} & set(groups):
                name = name_of(ctx, picked)
                kind = "a secret" if "secret" in groups else "an exotic"
                yield finding(
                    "exotic-language",
                    level_of(place_of(picked.path), picked.level),
                    name,
                    f"{name} is {kind} language, which is chosen with the GM's leave; ask for it, or choose a standard"
                    " language.",
                    ctx.catalog.rule("languages"),
                )


def check_rulings(ctx: AuditContext) -> Iterable[Finding]:
    """What features leave to the table, at the first level at which it matters."""
    for granted in ctx.gathered.grants:
        grant = granted.grant
        if not isinstance(grant, Ruling) or granted.state is not None:
            continue
        for level in range(granted.since, min(granted.until, ctx.build.top) + 1):
            if holds(ctx, granted, level):
                text = grant.text[0].upper() + grant.text[1:].rstrip(".")
                yield finding(
                    "ruling", level, granted.label, f"{text}; the GM says how this table plays it.", granted.source
                )
                break
