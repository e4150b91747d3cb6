"""Prepared lists: not more than the class allows, from its book or list, each spell once."""

from collections.abc import Iterable, Iterator

from engine.audit.checks.spells import whose
from engine.audit.context import AuditContext
from engine.audit.finding import Finding, finding
from engine.audit.offered import on_list
from engine.audit.words import counted, listing
from engine.rules.content import Spell
from engine.sheet.gathered import Picked


def check_prepared(ctx: AuditContext) -> Iterable[Finding]:
    """Every list written with `prepare` on a line or with `Prepared:` in the header."""
    lists: dict[tuple[str, str | None], list[Picked]] = {}
    for picked in ctx.gathered.picked:
        if picked.keyword == "prepare" and not ctx.orphaned(picked.path):
            place = picked.path.split("/items/")[0].split("/picks/")[0]
            lists.setdefault((place, picked.owner), []).append(picked)
    for (place, owner), picks in lists.items():
        yield from _list(ctx, place, owner, picks)


def _list(ctx: AuditContext, place: str, owner: str | None, picks: list[Picked]) -> Iterator[Finding]:
    at = max(1, picks[0].level)
    level = None if place.startswith("/prepared") else at
    name = ctx.class_name(owner) if owner is not None else "this build"
    if owner is None or ctx.preparation(owner) not in ("prepared", "book") or ctx.casting[owner].since > at:
        yield finding(
            "prepare-not-used",
            level,
            name,
            f"{name} prepares no spells at level {at}, so the list counts for nothing; take it off, or name the class"
            " that prepares.",
            ctx.catalog.rule("prepared-spells"),
        )
        return
    source = ctx.casting[owner].source
    always = {s.spell for s in ctx.gathered.spells if s.how == "always" and s.owner == owner and s.since <= at}
    counted_ids: set[str] = set()
    for picked in picks:
        spell = ctx.catalog.spell(picked.pick.id)
        if spell is None:
            continue
        if spell.id in counted_ids:
            yield finding(
                "prepared-twice",
                level,
                spell.name,
                f"{spell.name} stands twice on the list that {name} prepares; name another spell.",
                source,
            )
            continue
        counted_ids.add(spell.id)
        if spell.id in always:
            yield finding(
                "prepared-always",
                level,
                spell.name,
                f"{spell.name} is always prepared and need not take a place on the list; name another spell.",
                source,
            )
            continue
        why = _unavailable(ctx, spell, owner, at)
        if why is not None:
            yield finding(
                "prepared-not-available",
                level,
                spell.name,
                f"{spell.name} cannot be prepared at level {at} by {whose(ctx, owner)}: {why}; prepare another spell.",
                source,
            )
    limit = ctx.value(at, f"casting.{owner}.prepared")
    if limit is None or ctx.build.scores is None:
        return
    count = len(picks)
    if count > limit:
        names = listing(ctx.catalog.name_of("spell", p.pick.id) for p in picks[limit:])
        yield finding(
            "prepared-too-many",
            level,
            name,
            f"{name} prepares {counted(limit, 'spell')} at level {at} and the list has {count}; take off"
            f" {count - limit}, for example {names}.",
            source,
        )
    elif count < limit:
        yield finding(
            "prepared-room",
            level,
            name,
            f"{name} can prepare {counted(limit, 'spell')} at level {at} and the list has {count}; there is room for"
            f" {limit - count} more.",
            source,
        )


def _unavailable(ctx: AuditContext, spell: Spell, owner: str, level: int) -> str | None:
    if spell.level == 0:
        return "cantrips are always ready and are not prepared"
    top = ctx.value(level, f"casting.{owner}.top_level") or 0
    if spell.level > top:
        return f"its own table casts spells up to level {top}"
    if ctx.preparation(owner) == "book":
        return None if ctx.has_spell(spell.id, owner, level) else "it is not in the spellbook"
    list_ = ctx.spell_list(owner)
    if not on_list(ctx, spell, list_, owner, level):
        return f"it is not on the {ctx.class_name(list_).lower()} list"
    return None
