"""Header: levels, scores, species and background are there, and what stands on the build is known."""

from collections.abc import Iterable

from engine.audit.context import AuditContext
from engine.audit.finding import NO_SOURCE, Finding, finding
from engine.rules.limits import MAX_GATHERED, MAX_WEAPONS


def check_there(ctx: AuditContext) -> Iterable[Finding]:
    """Levels, scores, species with its subspecies, background: each missing one is unfinished."""
    build, catalog = ctx.build, ctx.catalog
    word = catalog.release.species_word
    if not build.order:
        yield finding(
            "no-levels",
            None,
            "levels",
            "The build has no level; add a first line such as `1 Rogue`.",
            catalog.rule("level-advancement"),
        )
    if build.scores is None:
        yield finding(
            "no-scores",
            None,
            "scores",
            "The build has no ability scores, so no number can be relied on; add a `Scores:` line with all six and"
            " their method.",
            ctx.scores_source,
        )
    if build.species is None:
        yield finding(
            "no-species",
            None,
            word,
            f"The build names no {word.lower()}; add a `Species:` line.",
            catalog.rule("species"),
        )
    elif build.species.id is not None and (subspecies := catalog.subspecies(build.species.id)):
        names = ", ".join(s.name for s in subspecies)
        shown = catalog.name_of("species", build.species.id)
        yield finding(
            "no-subspecies",
            None,
            shown,
            f"{shown} has kinds of its own and one must be chosen; name it instead: {names}.",
            catalog.rule("subspecies"),
        )
    if build.background is None:
        yield finding(
            "no-background",
            None,
            "background",
            "The build names no background; add a `Background:` line, or compose one with `(custom; …)`.",
            catalog.rule("backgrounds"),
        )


def check_content(ctx: AuditContext) -> Iterable[Finding]:
    """Ids that no folio gives; folios that are not loaded or are not those the build was made with."""
    for missing in ctx.gathered.missing:
        kind = missing.kind.removeprefix("option:").replace("-", " ")
        yield finding(
            "missing-content",
            missing.level,
            missing.id,
            f"No folio of this build gives the {kind} `{missing.id}`, so it counts for nothing; load the folio that"
            " has it, or choose something else.",
            NO_SOURCE,
        )
    if ctx.gathered.overfull:
        yield finding(
            "too-much-content",
            None,
            "folios",
            f"What stands on this build gives more than {MAX_GATHERED:,} things in all, or is more than {MAX_WEAPONS}"
            " different weapons, and no more than that is worked out; take off it what gives hundreds of things.",
            NO_SOURCE,
        )
    loaded = {folio.id: folio for folio in ctx.catalog.folios}
    for use in ctx.build.folios:
        folio = loaded.get(use.id)
        if folio is None:
            yield finding(
                "missing-folio",
                None,
                use.id,
                f"The build uses the folio `{use.id}`, which is not loaded here; load it, or take its content off"
                " the build.",
                NO_SOURCE,
            )
        elif (use.hash != folio.hash) if use.hash else (use.version not in ("", folio.header.version)):
            version = f"version {folio.header.version}" if folio.header.version != use.version else "another text"
            yield finding(
                "folio-changed",
                None,
                folio.title,
                f"{folio.title} is loaded as {version}, the build was made with version {use.version or '?'}; look at"
                " the difference and save the build again.",
                NO_SOURCE,
            )
