"""Spells learned: of the right kind and list, of a level that the class alone can cast, and once."""

from collections.abc import Iterable, Iterator

from engine.audit.checks.choices import level_of, name_of, place_of
from engine.audit.context import AuditContext
from engine.audit.finding import Finding, finding
from engine.audit.offered import is_spell_choice, legal, noun_of, on_list, spell_limit
from engine.audit.words import ordinal, some
from engine.rules.content import Spell
from engine.rules.names import nearest
from engine.sheet.gathered import Opened, Picked
from engine.sheet.matching import SPELL_KEYWORDS


def check_learned(ctx: AuditContext) -> Iterable[Finding]:
    """Every spell picked in answer to a choice, and every spell copied into a book."""
    for opened in ctx.gathered.opened:
        if not is_spell_choice(opened.choice):
            continue
        for picked in opened.picks:
            spell = ctx.catalog.spell(picked.pick.id)
            if spell is not None:
                yield from _fits(ctx, opened, picked, spell)
    for picked in ctx.gathered.picked:
        spell = ctx.catalog.spell(picked.pick.id)
        if picked.keyword == "copied" and spell is not None and not ctx.orphaned(picked.path):
            yield from _copied(ctx, picked, spell)


def whose(ctx: AuditContext, owner: str | None) -> str:
    """Return who learns, as a sentence names it."""
    return f"this {ctx.class_name(owner).lower()}" if owner is not None else "this build"


def _fits(ctx: AuditContext, opened: Opened, picked: Picked, spell: Spell) -> Iterator[Finding]:
    choice, level = opened.choice, level_of(opened.place, opened.level)
    who = whose(ctx, opened.owner)
    if (choice.keyword == "cantrip") != (spell.level == 0) and choice.keyword != "secret":
        yield wrong_kind(spell, level, choice.keyword, opened.source)
        return
    if choice.held:
        if not ctx.has_spell(spell.id, opened.owner, opened.level):
            yield finding(
                "choice-not-on-list",
                level,
                spell.name,
                f"{opened.label} takes a spell that {who} has already, and {spell.name} is not among them; choose from"
                f" {some(n.name for n in legal(ctx, opened)) or 'nothing yet'}.",
                opened.source,
            )
    elif choice.list is not None and not on_list(ctx, spell, choice.list, opened.owner, opened.level):
        yield off_list(ctx, spell, choice.list, level, opened.level, who, opened.source)
    if choice.from_ and spell.id not in choice.from_:
        yield finding(
            "choice-not-on-list",
            level,
            spell.name,
            f"{spell.name} is not among the spells that {opened.label} offers; choose from"
            f" {some(ctx.catalog.name_of('spell', s) for s in choice.from_)}.",
            opened.source,
        )
    if spell.level < choice.least:
        yield finding(
            "choice-not-on-list",
            level,
            spell.name,
            f"{spell.name} is a {ordinal(spell.level)}-level spell and {opened.label} asks for one of level"
            f" {choice.least} or more; choose a higher one.",
            opened.source,
        )
    limit = spell_limit(ctx, opened)
    if limit is not None and spell.level > limit:
        yield too_high(spell, level, opened.level, limit, who, opened.source)


def wrong_kind(spell: Spell, level: int | None, keyword: str, source: str) -> Finding:
    """The finding that a cantrip was learned as a spell, or the other way round."""
    is_, wanted = ("a cantrip", "spells") if spell.level == 0 else ("no cantrip", "cantrips")
    right = "cantrip" if spell.level == 0 else "spell"
    return finding(
        "spell-wrong-kind",
        level,
        spell.name,
        f"{spell.name} is {is_} and is picked among the {wanted}; write it under `{right}`, or choose another"
        f" {keyword}.",
        source,
    )


def off_list(ctx: AuditContext, spell: Spell, list_: str, level: int | None, at: int, who: str, source: str) -> Finding:
    """The finding that a spell is not on the list it is learned from; names the nearest that are."""
    names = [s.name for s in ctx.catalog.spells_of(list_) if s.level <= max(spell.level, 1)]
    near = nearest(spell.name, names)
    return finding(
        "spell-not-on-list",
        level,
        spell.name,
        f"{spell.name} cannot be learned at level {at} by {who}: it is not on the {ctx.class_name(list_).lower()} list,"
        f" and nothing there allows another list; choose from that list{f', nearest {some(near)}' if near else ''}.",
        source,
    )


def too_high(spell: Spell, level: int | None, at: int, limit: int, who: str, source: str) -> Finding:
    """The finding that a spell is above what the class alone can cast."""
    can = f"{who} learns spells up to level {limit}, by its own table alone"
    return finding(
        "spell-level-too-high",
        level,
        spell.name,
        f"{spell.name} is a {ordinal(spell.level)}-level spell, and at level {at} {can}; choose a lower one, or learn"
        " it later.",
        source,
    )


def _copied(ctx: AuditContext, picked: Picked, spell: Spell) -> Iterator[Finding]:
    owner, level = picked.owner, picked.level
    source = ctx.catalog.rule("spellbook")
    if ctx.preparation(owner) != "book" or owner is None or ctx.casting[owner].since > level:
        yield finding(
            "copied-without-book",
            level,
            spell.name,
            f"{spell.name} is copied into a spellbook, and {whose(ctx, owner)} keeps none; only a class with a book can"
            " copy spells, so take it off or name that class.",
            source,
        )
        return
    list_ = ctx.spell_list(owner)
    if spell.level == 0:
        yield wrong_kind(spell, level, "copied spell", source)
        return
    if not on_list(ctx, spell, list_, owner, level):
        yield off_list(ctx, spell, list_, level, level, whose(ctx, owner), source)
    limit = ctx.value(level, f"casting.{owner}.top_level") or 0
    if spell.level > limit:
        yield too_high(spell, level, level, limit, whose(ctx, owner), source)


def check_known_twice(ctx: AuditContext) -> Iterable[Finding]:
    """A spell that the same class, or the same origin, has learned before and still knows."""
    seen: dict[tuple[str | None, str, str], Picked] = {}
    for picked in ctx.gathered.picked:
        opened = ctx.opened_by(picked)
        marks = opened is not None and is_spell_choice(opened.choice) and opened.choice.keyword not in SPELL_KEYWORDS
        if picked.by_swap or (picked.keyword not in (*SPELL_KEYWORDS, "copied") and not marks):
            continue
        # Choices that only mark a spell, such as mastery of one, are a shelf of their own.
        shelf = picked.keyword if marks else "learned"
        before = seen.get((picked.owner, shelf, picked.pick.id))
        seen[picked.owner, shelf, picked.pick.id] = picked
        if before is None or (before.swapped_out is not None and before.swapped_out <= picked.level):
            continue
        name = name_of(ctx, picked)
        yield finding(
            "spell-known-already",
            level_of(place_of(picked.path), picked.level),
            name,
            f"{name} was learned at level {before.level} by {whose(ctx, picked.owner)} and is still known; choose"
            f" another {noun_of(ctx, picked.keyword)}.",
            ctx.opened_source(picked),
        )
