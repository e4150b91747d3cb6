"""Level lines: multiclass minimums, subclasses, hit points."""

from collections.abc import Iterable, Iterator

from engine.audit.context import AuditContext
from engine.audit.finding import Finding, finding
from engine.audit.words import listing, ordinal
from engine.rules.content import ClassContent
from engine.rules.words import ABILITY_NAMES


def check_multiclass(ctx: AuditContext) -> Iterable[Finding]:
    """On the first level in a new class: its minimums and those of every class held, scores before that level."""
    held: list[str] = []
    for level, class_id, nth in ctx.lines:
        if nth == 1 and held:
            yield from _minimums(ctx, level, class_id, held)
        if nth == 1:
            held.append(class_id)


def _minimums(ctx: AuditContext, level: int, new: str, held: list[str]) -> Iterator[Finding]:
    scores = ctx.scores_before(level)
    if not scores:
        return
    short: list[str] = []
    for class_id in (new, *held):
        class_ = ctx.gathered.classes.get(class_id)
        if class_ is None:
            continue
        needs = class_.multiclass
        short += [
            f"{class_.name} asks for {ABILITY_NAMES[ability]} {least} (it is {scores[ability]})"
            for ability, least in needs.all_of.items()
            if scores[ability] < least
        ]
        if needs.any_of and all(scores[ability] < least for ability, least in needs.any_of.items()):
            either = listing((f"{ABILITY_NAMES[a]} {least}" for a, least in needs.any_of.items()), "or")
            have = listing(scores[a] for a in needs.any_of)
            short.append(f"{class_.name} asks for {either} (they are {have})")
    if short:
        names = listing(ctx.class_name(c) for c in (new, *held))
        yield finding(
            "multiclass-minimum",
            level,
            ctx.class_name(new),
            f"Level {level} begins {ctx.class_name(new)}, but {listing(short)}; raise the scores before that level, or"
            " stay in a class already held.",
            f"{ctx.catalog.rule('multiclass-prerequisites')}: {names}",
        )


def check_subclass(ctx: AuditContext) -> Iterable[Finding]:
    """Each class's subclass: named on the line of the level at which it is chosen, of that class, and once."""
    chosen: dict[str, str] = {}
    for level, class_id, nth, line in ctx.build.lines():
        class_ = ctx.gathered.classes.get(class_id)
        if class_ is None:
            continue
        title = class_.subclass_title
        source = ctx.class_source(class_id, title)
        if line.subclass is not None:
            yield from _named(ctx, level, class_, nth, line.subclass, chosen.get(class_id))
            chosen.setdefault(class_id, line.subclass)
        elif nth == class_.subclass_level and class_id not in chosen:
            names = listing((s.name for s in ctx.catalog.subclasses(class_id)), "or")
            yield finding(
                "subclass-missing",
                level,
                title,
                f"{class_.name} level {nth} asks for a subclass ({title}); name it on that line in parentheses,"
                f" for example {names}.",
                source,
            )


def _named(
    ctx: AuditContext, level: int, class_: ClassContent, nth: int, subclass_id: str, before: str | None
) -> Iterator[Finding]:
    subclass = ctx.catalog.subclass(subclass_id)
    name = ctx.catalog.name_of("subclass", subclass_id)
    source = ctx.class_source(class_.id, class_.subclass_title)
    if subclass is None:
        return  # missing content, told elsewhere
    if subclass.of != class_.id:
        own = listing((s.name for s in ctx.catalog.subclasses(class_.id)), "or")
        yield finding(
            "subclass-wrong-class",
            level,
            name,
            f"{name} belongs to {ctx.class_name(subclass.of or '')}, not to {class_.name}; choose {own}.",
            source,
        )
    elif before is not None and before != subclass_id:
        yield finding(
            "subclass-changed",
            level,
            name,
            f"{class_.name} has the subclass {ctx.catalog.name_of('subclass', before)} already and keeps it; take"
            f" {name} off this line.",
            source,
        )
    elif before is None and nth < class_.subclass_level:
        yield finding(
            "subclass-early",
            level,
            name,
            f"{name} is named at {class_.name} level {nth}, but a subclass is chosen at the"
            f" {ordinal(class_.subclass_level)} level of the class; move it to that line.",
            source,
        )


def check_hit_points(ctx: AuditContext) -> Iterable[Finding]:
    """Rolled hit points: none at level 1, none above the hit die, and those of the roll that is cited."""
    for level, class_id, _, line in ctx.build.lines():
        class_ = ctx.gathered.classes.get(class_id)
        if line.hp is None or class_ is None:
            continue
        name, die = class_.name, class_.hit_die
        if level == 1:
            yield finding(
                "hp-at-first-level",
                level,
                name,
                f"Level 1 takes the highest number of the hit die, {die}, and no roll; take `hp {line.hp}` off the"
                " line.",
                ctx.class_source(class_id, "Hit Points"),
            )
        elif line.hp > die:
            yield finding(
                "hp-above-die",
                level,
                name,
                f"{line.hp} rolled hit points cannot come up on the d{die} of {name}; give the die's own number, before"
                " the Constitution modifier.",
                ctx.class_source(class_id, "Hit Points"),
            )
        elif line.roll is None and not (line.hp == die and _takes_maximum(ctx)):
            yield finding(
                "roll-not-witnessed",
                level,
                "hit points",
                f"The {line.hp} hit points of level {level} are called rolled but cite no roll; roll them with"
                " `/roll hp` and write `hp N #ID`, or ask the GM to accept them.",
                ctx.class_source(class_id, "Hit Points"),
            )
        elif line.roll is not None and ctx.rolls is not None and ctx.rolls.get(line.roll) != (line.hp,):
            rolled = ctx.rolls.get(line.roll)
            says = f"gave {listing(rolled)}" if rolled else "is no roll for that level of this build"
            yield finding(
                "roll-differs",
                level,
                "hit points",
                f"Level {level} claims {line.hp} hit points by roll #{line.roll}, which {says}; cite the right roll, or"
                " drop `hp` for the fixed number.",
                ctx.class_source(class_id, "Hit Points"),
            )


def _takes_maximum(ctx: AuditContext) -> bool:
    return ctx.table is not None and "maximum" in (ctx.table.hit_points or ())
