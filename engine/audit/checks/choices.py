"""Choices that features open: how many were made, from what list, and whether their prerequisites are met."""

from collections.abc import Iterable, Iterator
from itertools import takewhile
from typing import Final

from engine.audit.context import AuditContext
from engine.audit.finding import Finding, finding
from engine.audit.offered import is_class_casting, is_spell_choice, legal, noun_of, offered, unmet
from engine.audit.words import counted, listing, some
from engine.rules.content import Option
from engine.sheet.gathered import Opened, Picked
from engine.sheet.matching import UNOPENED, WHOLE_LISTS, accepts, kind_of, permits

PROFICIENCIES: Final = ("skill", "tool", "language")
# Told by checks of their own.
_ELSEWHERE: Final = ("increase",)
_SHORT: Final = {"cantrip": "cantrips-too-few", "spell": "spells-too-few"}
_OVER: Final = {"cantrip": "cantrips-too-many", "spell": "spells-too-many"}


def place_of(path: str) -> str:
    """Return the part of the document in which a pick stands: a line, the species, a pick with parentheses."""
    return path.rsplit("/items/", 1)[0]


def level_of(place: str, level: int) -> int | None:
    """Return the level under which a finding is told: None for what stands in the header."""
    return None if place.startswith(("/species", "/background")) else level


def name_of(ctx: AuditContext, picked: Picked) -> str:
    """Return the printed name of what was picked."""
    kinds = ("skill", "tool") if picked.keyword == "expertise" else (kind_of(picked.keyword), "spell", "feature")
    for kind in kinds:
        named = ctx.catalog.named(kind, picked.pick.id)
        if named is not None:
            return named.name
    return picked.pick.id


def check_counts(ctx: AuditContext) -> Iterable[Finding]:
    """Choices with too few picks."""
    for opened in ctx.gathered.opened:
        left = opened.count - len(opened.picks)
        if opened.choice.keyword in (*_ELSEWHERE, *WHOLE_LISTS) or left <= 0:
            continue
        code, noun = "choice-open", noun_of(ctx, opened.choice.keyword)
        if is_class_casting(ctx, opened):
            code = "book-too-few" if _keeps_book(ctx, opened) else _SHORT[opened.choice.keyword]
        options = some(n.name for n in legal(ctx, opened))
        made = f"{counted(len(opened.picks), noun)} {'is' if len(opened.picks) == 1 else 'are'} picked"
        yield finding(
            code,
            level_of(opened.place, opened.level),
            opened.label,
            f"{opened.label} gives {counted(opened.count, noun)} here and {made}; pick {left} more"
            f"{f', for example {options}' if options else ''}.",
            opened.source,
        )


def _keeps_book(ctx: AuditContext, opened: Opened) -> bool:
    return opened.choice.keyword == "spell" and ctx.preparation(opened.owner) == "book"


def check_spare(ctx: AuditContext) -> Iterable[Finding]:
    """Picks beyond what any feature asks for at their place."""
    groups: dict[tuple[str, str], list[Picked]] = {}
    for picked in ctx.gathered.spare:
        if picked.keyword in ("increase", "lose", "feat") or picked.path.endswith(("/old", "/new")):
            continue
        if ctx.orphaned(picked.path):
            continue
        groups.setdefault((place_of(picked.path), picked.keyword), []).append(picked)
    for (place, keyword), picks in groups.items():
        yield _too_many(ctx, place, keyword, picks)


def _too_many(ctx: AuditContext, place: str, keyword: str, picks: list[Picked]) -> Finding:
    first, noun = picks[0], noun_of(ctx, keyword)
    level = level_of(place, first.level)
    names = listing(name_of(ctx, p) for p in picks)
    asked = [o for o in ctx.gathered.opened if o.place == place and accepts(o.choice, keyword)]
    class_name = ctx.class_name(first.owner) if first.owner else "this build"
    code = "choice-too-many"
    if keyword in _OVER and first.owner is not None:
        casts = first.owner in ctx.casting and ctx.casting[first.owner].since <= first.level
        if not casts:
            return finding(
                "spell-without-casting",
                level,
                class_name,
                f"{class_name} casts no spells at level {first.level}, so {names} cannot be learned there; take"
                f" {'it' if len(picks) == 1 else 'them'} off, or name the class that learns"
                f" {'it' if len(picks) == 1 else 'them'}.",
                ctx.class_source(first.owner),
            )
        code = "book-too-many" if keyword == "spell" and ctx.preparation(first.owner) == "book" else _OVER[keyword]
    if asked:
        wanted = sum(o.count for o in asked)
        says = f"{listing(dict.fromkeys(o.label for o in asked))} {'gives' if len(asked) == 1 else 'give'}"
        sentence = f"{says} {counted(wanted, noun)} here, so {names} {'is' if len(picks) == 1 else 'are'} too many"
        source = asked[0].source
    elif keyword in _OVER and first.owner is not None:
        sentence = f"{class_name} learns no {noun} at this level, so {names} cannot be taken here"
        source = ctx.casting[first.owner].source
    else:
        sentence = (
            f"nothing here asks for any {noun}, so {names} {'counts' if len(picks) == 1 else 'count'} for nothing"
        )
        source = ctx.class_source(first.owner) if first.owner else ctx.catalog.rule("class-features")
    sentence = sentence[0].upper() + sentence[1:]
    return finding(
        code, level, names, f"{sentence}; take {len(picks)} off, or move to a level that gives more.", source
    )


def check_picks(ctx: AuditContext) -> Iterable[Finding]:
    """Picks that a feature does not offer, or whose prerequisite is not met."""
    for opened in ctx.gathered.opened:
        if is_spell_choice(opened.choice):
            continue
        for picked in opened.picks:
            if picked.keyword not in _ELSEWHERE:
                yield from _one_pick(ctx, opened, picked)


def _one_pick(ctx: AuditContext, opened: Opened, picked: Picked) -> Iterator[Finding]:
    keyword, name = picked.keyword, name_of(ctx, picked)
    level = level_of(opened.place, opened.level)
    if keyword == "expertise":
        yield from _expertise(ctx, opened, picked)
        return
    kind = kind_of(keyword, opened.choice)
    named = ctx.catalog.named(kind, picked.pick.id)
    if named is None:
        return  # missing content, told elsewhere
    fits = permits(opened.choice, keyword, picked.pick, ctx.catalog)
    if keyword == "feature":
        fits = fits and any(n.id == picked.pick.id for n in offered(ctx, opened))
    if not fits:
        options = some(n.name for n in legal(ctx, opened))
        yield finding(
            "choice-not-on-list",
            level,
            name,
            f"{name} is not among what {opened.label} offers; choose from {options}.",
            opened.source,
        )
    if isinstance(named.entry, Option) and (why := unmet(ctx, named.entry, picked.level, opened.owner)) is not None:
        yield finding(
            "feat-requirement" if keyword == "feat" else "choice-requirement",
            level,
            name,
            f"{name} cannot be taken at level {picked.level}: {why}; meet that first, or choose another"
            f" {noun_of(ctx, keyword)}.",
            ctx.catalog.source("feat", picked.pick.id) if keyword == "feat" else opened.source,
        )


def _expertise(ctx: AuditContext, opened: Opened, picked: Picked) -> Iterator[Finding]:
    id_, name = picked.pick.id, name_of(ctx, picked)
    level = level_of(opened.place, opened.level)
    kind = "skill" if ctx.catalog.named("skill", id_) else "tool"
    if ctx.catalog.named(kind, id_) is None:
        return
    if kind == "tool" and id_ not in opened.choice.from_:
        yield finding(
            "choice-not-on-list",
            level,
            name,
            f"{opened.label} takes skills{_tools_too(ctx, opened)}, not {name}; choose one of those with proficiency.",
            opened.source,
        )
    elif not ctx.proficient(kind, id_, picked.level):
        options = some(n.name for n in legal(ctx, opened))
        yield finding(
            "expertise-without-proficiency",
            level,
            name,
            f"Expertise in {name} needs proficiency in it first, which this build lacks at level {picked.level}; choose"
            f" from {options or 'nothing yet'}.",
            opened.source,
        )


def _tools_too(ctx: AuditContext, opened: Opened) -> str:
    tools = [ctx.catalog.name_of("tool", t) for t in opened.choice.from_ if ctx.catalog.named("tool", t)]
    return f" and {listing(tools)}" if tools else ""


def check_repeats(ctx: AuditContext) -> Iterable[Finding]:
    """The same thing picked twice, or a proficiency picked that the build has from elsewhere."""
    seen: dict[tuple[str, str], Picked] = {}
    for picked in ctx.gathered.picked:
        keyword, id_ = picked.keyword, picked.pick.id
        if keyword in ("increase", "ability", *UNOPENED, *WHOLE_LISTS) or picked.by_swap:
            continue
        if kind_of(keyword) == "spell":
            continue
        if keyword in PROFICIENCIES:
            yield from _had_already(ctx, picked)
            continue
        before = seen.get((keyword, id_))
        seen[keyword, id_] = picked
        if before is None or (before.swapped_out is not None and before.swapped_out <= picked.level):
            continue
        yield from _twice(ctx, picked, before)


def _twice(ctx: AuditContext, picked: Picked, before: Picked) -> Iterator[Finding]:
    keyword, name, noun = picked.keyword, name_of(ctx, picked), noun_of(ctx, picked.keyword)
    entry = getattr(ctx.catalog.named(kind_of(keyword), picked.pick.id), "entry", None)
    if isinstance(entry, Option) and entry.repeatable:
        return
    code, source = "choice-repeated", ctx.opened_source(picked)
    if keyword == "expertise":
        code = "expertise-twice"
    elif keyword == "feat":
        code, source = "feat-repeated", ctx.catalog.rule("feats")
    where = f"at level {before.level}" if before.level != picked.level else "on the same line"
    yield finding(
        code,
        level_of(place_of(picked.path), picked.level),
        name,
        f"{name} is picked already {where} and can be had once; choose another {noun}.",
        source,
    )


def _had_already(ctx: AuditContext, picked: Picked) -> Iterator[Finding]:
    keyword, id_ = picked.keyword, picked.pick.id
    others = [
        g.label
        for g in ctx.proficiency_grants.get((keyword, id_), ())
        if g.since <= picked.level <= g.until and g.origin != id_
    ]
    if not others:
        before = takewhile(lambda p: p.path != picked.path, ctx.standing(keyword, id_, picked.level))
        others = [_label(ctx, p) for p in before]
    if others:
        name = name_of(ctx, picked)
        yield finding(
            "skill-already-proficient",
            level_of(place_of(picked.path), picked.level),
            name,
            f"{name} comes from {others[0]} already, so picking it gives nothing; choose another"
            f" {noun_of(ctx, keyword)}.",
            ctx.catalog.rule("duplicate-proficiency"),
        )


def _label(ctx: AuditContext, picked: Picked) -> str:
    opened = ctx.opened_by(picked)
    return f"a pick at level {picked.level}" if opened is None else f"{opened.label} (picked at level {picked.level})"


def check_duplicates(ctx: AuditContext) -> Iterable[Finding]:
    """Skills and tools that two features give without choice: one more of the kind may be chosen instead."""
    for (of, id_), grants in ctx.proficiency_grants.items():
        fixed = [g for g in grants if g.origin != id_ and g.item is None]
        if of not in ("skill", "tool") or not fixed:
            continue
        # A pick made before the feature came counts too; one made after it is told as such.
        picks = [g for g in grants if g.origin == id_ and g.since < fixed[0].since]
        first = (*picks, *fixed)[0].label
        for label, granted in {g.label: g for g in fixed if g.label != first}.items():
            name = ctx.catalog.name_of(of, id_)
            yield finding(
                "duplicate-proficiency",
                granted.since if granted.since > 1 else None,
                name,
                f"{name} comes from both {first} and {label}; the release lets another {of} be chosen instead, which"
                " the GM can grant.",
                ctx.catalog.rule("duplicate-proficiency"),
            )
