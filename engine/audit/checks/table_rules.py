"""The rules of the table a build is meant for."""

from collections.abc import Iterable, Iterator
from typing import Final

from engine.audit.checks.choices import name_of
from engine.audit.checks.scores import point_cost
from engine.audit.context import AuditContext
from engine.audit.finding import Finding, finding
from engine.audit.table import RARITIES, TableRules
from engine.audit.words import counted, listing
from engine.rules.names import fold
from engine.sheet.gathered import Carried
from engine.sheet.matching import kind_of

SOURCE: Final = "rules of the table"


def check_table(ctx: AuditContext) -> Iterable[Finding]:
    """Everything a table's rules say about release, folios, levels, scores, hit points, classes, feats and options."""
    if ctx.table is None:
        return
    yield from _release(ctx, ctx.table)
    yield from _levels(ctx, ctx.table)
    yield from _scores(ctx, ctx.table)
    yield from _hit_points(ctx, ctx.table)
    yield from _classes(ctx, ctx.table)
    yield from _feats(ctx, ctx.table)
    yield from _barred(ctx, ctx.table)
    yield from _magic(ctx, ctx.table)
    yield from _gold(ctx, ctx.table)


def _release(ctx: AuditContext, table: TableRules) -> Iterator[Finding]:
    release = ctx.catalog.folios[0]
    if table.rules is not None and not {fold(r) for r in table.rules} & {fold(release.id), fold(release.title)}:
        yield finding(
            "table-rules",
            None,
            release.title,
            f"This table plays {listing(table.rules, 'or')} and the build is made with {release.title}; rebuild it"
            " under the table's rules.",
            SOURCE,
        )
    if table.folios is None:
        return
    allowed = {fold(f) for f in table.folios}
    titles = {f.id: f.title for f in ctx.catalog.folios}
    for use in ctx.build.folios:
        title = titles.get(use.id, use.id)
        if not allowed & {fold(use.id), fold(title)}:
            uses = listing(table.folios) or "no folio besides the release"
            yield finding(
                "table-folio",
                None,
                title,
                f"This table uses {uses}, and the build uses {title}; take its content off the build, or ask the GM to"
                " allow it.",
                SOURCE,
            )


def _levels(ctx: AuditContext, table: TableRules) -> Iterator[Finding]:
    top = ctx.build.top
    if table.levels is None or top == 0:
        return
    start, highest = table.levels.start, table.levels.highest
    if top < start:
        yield finding(
            "table-level",
            top,
            f"level {top}",
            f"This table starts at level {start} and the build ends at {top}; add {counted(start - top, 'level')}.",
            SOURCE,
        )
    elif top > highest:
        yield finding(
            "table-level",
            highest + 1,
            f"level {top}",
            f"This table plays up to level {highest} and the build goes to {top}; leave out the levels above.",
            SOURCE,
        )


def _scores(ctx: AuditContext, table: TableRules) -> Iterator[Finding]:
    scores = ctx.build.scores
    if scores is None:
        return
    if table.scores is not None and scores.method not in table.scores:
        used = listing((m.replace("-", " ") for m in table.scores), "or")
        yield finding(
            "table-scores",
            None,
            "scores",
            f"This table makes scores by {used}, and the build names {scores.method.replace('-', ' ')}; make them in"
            " the table's way.",
            SOURCE,
        )
    if table.points is None or scores.method != "point-buy":
        return
    cost = point_cost(ctx.catalog.release.scores.point_costs, scores)
    if cost is not None and cost > table.points:
        over = cost - table.points
        yield finding(
            "table-points",
            None,
            "scores",
            f"The scores cost {cost} points and this table gives {table.points}; lower them by"
            f" {counted(over, 'point')}.",
            SOURCE,
        )


def _hit_points(ctx: AuditContext, table: TableRules) -> Iterator[Finding]:
    if table.hit_points is None:
        return
    used = listing(table.hit_points, "or")
    for level, class_id, _, line in ctx.build.lines():
        class_ = ctx.gathered.classes.get(class_id)
        if level == 1 or class_ is None:
            continue
        # The highest number of the die passes as `maximum`; a roll passes only if it is witnessed.
        is_highest = line.hp == class_.hit_die and line.roll is None
        ways = {"fixed"} if line.hp is None else {"maximum"} if is_highest else {"rolled"}
        if ways & set(table.hit_points):
            if "rolled" in ways and line.roll is None:
                yield finding(
                    "table-hit-points",
                    level,
                    "hit points",
                    f"This table takes only witnessed rolls, and the {line.hp} hit points of level {level} cite none;"
                    " roll them with `/roll hp` and write `hp N #ID`.",
                    SOURCE,
                )
            continue
        taken = {"fixed": "the fixed number", "maximum": "the maximum", "rolled": "a roll"}[next(iter(ways))]
        yield finding(
            "table-hit-points",
            level,
            "hit points",
            f"This table takes hit points {used}, and level {level} takes {taken}; write them the table's way"
            f"{f', `hp {class_.hit_die}`' if table.hit_points == ('maximum',) else ''}.",
            SOURCE,
        )


def _classes(ctx: AuditContext, table: TableRules) -> Iterator[Finding]:
    if table.multiclassing is not False:
        return
    first = ctx.build.order[0] if ctx.build.order else None
    for level, class_id, nth in ctx.lines:
        if nth == 1 and class_id != first and first is not None:
            name = ctx.class_name(class_id)
            yield finding(
                "table-multiclassing",
                level,
                name,
                f"This table plays without multiclassing, and level {level} begins {name}; stay with"
                f" {ctx.class_name(first)}.",
                SOURCE,
            )


def _feats(ctx: AuditContext, table: TableRules) -> Iterator[Finding]:
    if table.feats is not False:
        return
    given = {p.path for p in ctx.gathered.gifts}
    for picked in (*ctx.gathered.picked, *ctx.gathered.spare):
        name = name_of(ctx, picked)
        if picked.keyword != "feat" or picked.path in given or table.allows(picked.pick.id, name):
            continue
        yield finding(
            "table-feats",
            picked.level,
            name,
            f"This table plays without feats, and level {picked.level} takes {name}; take the ability score increase"
            " instead.",
            SOURCE,
        )


def _barred(ctx: AuditContext, table: TableRules) -> Iterator[Finding]:
    if not table.bar:
        return
    told: set[tuple[str, str]] = set()
    for level, kind, id_ in _used(ctx):
        name = ctx.catalog.name_of(kind, id_)
        if (kind, id_) not in told and table.bars(kind, id_, name):
            told.add((kind, id_))
            yield finding(
                "table-barred",
                level,
                name,
                f"This table has barred {name}; choose something else, or ask the GM to allow it.",
                SOURCE,
            )


def _used(ctx: AuditContext) -> Iterator[tuple[int | None, str, str]]:
    """Yield (level, kind, id) of everything the build names."""
    build = ctx.build
    if build.species is not None and build.species.id is not None:
        yield None, "species", build.species.id
        species = ctx.catalog.species(build.species.id)
        if species is not None and species.of is not None:
            yield None, "species", species.of
    if build.background is not None and build.background.id is not None:
        yield None, "background", build.background.id
    for level, class_id, nth, line in build.lines():
        if nth == 1:
            yield level, "class", class_id
        if line.subclass is not None:
            yield level, "subclass", line.subclass
    for picked in (*ctx.gathered.picked, *ctx.gathered.spare):
        opened = ctx.opened_by(picked)
        if picked.keyword not in ("increase", "expertise", "ability", "lose"):
            yield picked.level, kind_of(picked.keyword, opened.choice if opened else None), picked.pick.id
    for outfit in ctx.gathered.outfits:
        for thing in outfit.carried:
            yield outfit.since, "item", thing.pick.id


def _magic(ctx: AuditContext, table: TableRules) -> Iterator[Finding]:
    rule = table.magic_items
    if rule is None:
        return
    told: set[str] = set()
    most = rule.most
    for outfit in ctx.gathered.outfits:
        magic = [t for t in outfit.carried if _is_magic(t) and not table.allows(t.pick.id, t.name)]
        count = sum(t.count for t in magic)
        if most is not None and count > most:
            names = listing(t.name for t in magic)
            allowed = f"{counted(most, 'magic item')} at once" if most else "no magic items"
            yield finding(
                "table-magic-items",
                outfit.since,
                "magic items",
                f"This table allows {allowed}, and the build has {names}; give up {count - most}.",
                SOURCE,
            )
            most = count  # told; only more than this is told again
        for thing in magic:
            rarity = thing.item.magic.rarity if thing.item is not None and thing.item.magic is not None else None
            if rule.rarity is None or rarity not in RARITIES or thing.key in told:
                continue
            if RARITIES.index(rarity) > RARITIES.index(rule.rarity):
                told.add(thing.key)
                yield finding(
                    "table-magic-items",
                    outfit.since,
                    thing.name,
                    f"{thing.name} is {rarity.replace('-', ' ')}, and this table allows magic items up to"
                    f" {rule.rarity.replace('-', ' ')}; choose a lesser one.",
                    SOURCE,
                )


def _is_magic(thing: Carried) -> bool:
    return bool(thing.pick.bonus) or (thing.item is not None and thing.item.magic is not None)


def _gold(ctx: AuditContext, table: TableRules) -> Iterator[Finding]:
    if table.gold is None:
        return
    copper = 0.0
    for pick in ctx.build.gear:
        item = ctx.catalog.item(pick.id)
        if item is not None and item.cost_cp is not None:
            copper += item.cost_cp * pick.count / item.bundle
    if copper > table.gold * 100:
        yield finding(
            "table-gold",
            1,
            "gear",
            f"The gear of level 1 costs {copper / 100:g} gold pieces and this table gives {table.gold}; leave out"
            f" {copper / 100 - table.gold:g} worth.",
            SOURCE,
        )
