"""What a build has still to choose, in few words: quick enough to stand beside everything that is made of a build."""

from collections.abc import Iterator

from engine.audit.context import AuditContext
from engine.audit.offered import noun_of
from engine.audit.open import left_of
from engine.audit.words import counted


def unfinished(ctx: AuditContext, level: int) -> tuple[str, ...]:
    """Return what is not chosen yet up to a level: `four skills (Rogue, level 1)`; empty for a finished build.

    Without options, and without any sheet; `open_choices` tells what may be picked.
    """
    return tuple(dict.fromkeys([*_header(ctx), *_subclasses(ctx, level), *_choices(ctx, level)]))


def _header(ctx: AuditContext) -> Iterator[str]:
    build, catalog = ctx.build, ctx.catalog
    if build.scores is None:
        yield "scores"
    if build.species is None:
        yield catalog.release.species_word.lower()
    elif build.species.id is not None and catalog.subspecies(build.species.id):
        yield f"kind of {catalog.name_of('species', build.species.id)}"
    if build.background is None:
        yield "background"


def _subclasses(ctx: AuditContext, level: int) -> Iterator[str]:
    for class_id, held in ctx.build.class_levels(level).items():
        class_ = ctx.gathered.classes.get(class_id)
        if class_ is not None and held >= class_.subclass_level and class_id not in ctx.gathered.subclasses:
            yield f"{class_.subclass_title} ({class_.name})"


def _choices(ctx: AuditContext, level: int) -> Iterator[str]:
    for opened in ctx.gathered.opened:
        left = left_of(opened)
        if opened.level <= level and left > 0:
            yield f"{counted(left, noun_of(ctx, opened.choice.keyword))} ({opened.label}, level {opened.level})"
