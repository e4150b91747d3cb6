"""Swaps on level-up: whether the feature allows one, how many, what goes and what comes."""

from collections.abc import Iterable, Iterator

from engine.audit.checks.spells import off_list, too_high, whose, wrong_kind
from engine.audit.context import AuditContext
from engine.audit.finding import Finding, finding
from engine.audit.offered import noun_of, on_list, unmet
from engine.audit.words import counted
from engine.build.document import Pick, Swap
from engine.rules.content import Option
from engine.rules.grants.casting import Spellcasting
from engine.sheet.gathered import Opened, Picked
from engine.sheet.matching import SPELL_KEYWORDS, kind_of, permits


def check_swaps(ctx: AuditContext) -> Iterable[Finding]:
    """Every `swap` of every line."""
    for level, class_id, nth, line in ctx.build.lines():
        done: dict[str, int] = {}
        for i, item in enumerate(line.items):
            if isinstance(item, Swap) and not ctx.orphaned(f"/levels/{class_id}/{nth}"):
                shelf = "spell" if item.keyword in ("spell", "secret") else item.keyword
                done[shelf] = done.get(shelf, 0) + 1
                path = f"/levels/{class_id}/{nth}/items/{i}"
                yield from _swap(ctx, item, path, level, class_id, done[shelf])


def _swap(ctx: AuditContext, swap: Swap, path: str, level: int, class_id: str, count: int) -> Iterator[Finding]:
    noun, name = noun_of(ctx, swap.keyword), ctx.class_name(class_id)
    old, new = (ctx.catalog.name_of(kind_of(swap.keyword), p.id) for p in (swap.old, swap.new))
    allowed, source, opened = allowance(ctx, swap.keyword, class_id, level)
    if allowed == 0:
        yield finding(
            "swap-not-allowed",
            level,
            old,
            f"{name} does not exchange any {noun} at level {level}, so {old} cannot become {new}; keep {old}.",
            source,
        )
        return
    if count > allowed:
        yield finding(
            "swap-too-many",
            level,
            old,
            f"{name} may exchange {counted(allowed, noun)} on one level-up, and this line exchanges more; keep {old},"
            " or swap it at a later level.",
            source,
        )
    came = ctx.pick_at(f"{path}/new")
    if came is None or not _mine(came, class_id):
        yield finding(
            "swap-not-held",
            level,
            old,
            f"{old} cannot be exchanged at level {level}, because {whose(ctx, class_id)} does not have it then; name"
            " one that it has.",
            source,
        )
        return
    if swap.keyword in SPELL_KEYWORDS:
        yield from _new_spell(ctx, swap, came, level, class_id, source)
    elif opened is not None:
        yield from _new_option(ctx, swap, came, opened, level, source)


def _mine(picked: Picked, class_id: str) -> bool:
    return picked.owner is None or picked.owner == class_id


def allowance(ctx: AuditContext, keyword: str, class_id: str, level: int) -> tuple[int, str, Opened | None]:
    """Return how many picks of a keyword a class may exchange on a level-up, where that stands, and by which choice."""
    casting = ctx.casting.get(class_id)
    if keyword in ("spell", "secret") and casting is not None and isinstance(casting.grant, Spellcasting):
        return (casting.grant.swaps if casting.since <= level else 0), casting.source, None
    mine = [o for o in ctx.gathered.opened if o.choice.keyword == keyword and o.owner == class_id and o.level <= level]
    best = max(mine, key=lambda o: o.choice.swaps, default=None)
    if best is None:
        return 0, ctx.class_source(class_id), None
    return best.choice.swaps, best.source, best


def _again(ctx: AuditContext, came: Picked, keyword: str, pick: Pick, level: int) -> bool:
    others = ctx.standing(keyword, pick.id, level)
    return any(p.path != came.path and p.owner == came.owner for p in others)


def _new_spell(
    ctx: AuditContext, swap: Swap, came: Picked, level: int, class_id: str, source: str
) -> Iterator[Finding]:
    spell = ctx.catalog.spell(swap.new.id)
    if spell is None:
        return
    if (swap.keyword == "cantrip") != (spell.level == 0):
        yield wrong_kind(spell, level, noun_of(ctx, swap.keyword), source)
        return
    list_ = ctx.spell_list(class_id)
    if not on_list(ctx, spell, list_, class_id, level):
        yield off_list(ctx, spell, list_, level, level, whose(ctx, class_id), source)
    limit = ctx.value(level, f"casting.{class_id}.top_level") or 0
    if spell.level > limit:
        yield too_high(spell, level, level, limit, whose(ctx, class_id), source)
    if any(_again(ctx, came, keyword, swap.new, level) for keyword in (*SPELL_KEYWORDS, "copied")):
        yield finding(
            "spell-known-already",
            level,
            spell.name,
            f"{spell.name} is known to {whose(ctx, class_id)} already; swap for another spell.",
            source,
        )


def _new_option(
    ctx: AuditContext, swap: Swap, came: Picked, opened: Opened, level: int, source: str
) -> Iterator[Finding]:
    noun = noun_of(ctx, swap.keyword)
    named = ctx.catalog.named(kind_of(swap.keyword), swap.new.id)
    if named is None:
        return
    if not permits(opened.choice, swap.keyword, swap.new, ctx.catalog):
        yield finding(
            "choice-not-on-list",
            level,
            named.name,
            f"{named.name} is not among what {opened.label} offers; swap for another {noun}.",
            source,
        )
    if isinstance(named.entry, Option):
        why = unmet(ctx, named.entry, level, opened.owner)
        if why is not None:
            yield finding(
                "choice-requirement",
                level,
                named.name,
                f"{named.name} cannot be taken at level {level}: {why}; swap for another {noun}.",
                source,
            )
        if named.entry.repeatable:
            return
    if _again(ctx, came, swap.keyword, swap.new, level):
        yield finding(
            "choice-repeated",
            level,
            named.name,
            f"{named.name} is picked already and can be had once; swap for another {noun}.",
            source,
        )
