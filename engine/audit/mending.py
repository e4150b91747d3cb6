"""The edit that mends a finding, where there is exactly one: offered beside it, never made unasked."""

from collections.abc import Callable, Iterable
from typing import Any, Final

from engine.audit.audit import audit_of
from engine.audit.checks.choices import level_of, name_of, place_of
from engine.audit.context import AuditContext, Rolls
from engine.audit.finding import SEVERITIES, Finding
from engine.audit.offered import legal
from engine.audit.table import TableRules
from engine.build.diff import edits_between
from engine.build.document import Build, dump
from engine.build.edits import Edit
from engine.rules.catalog import Catalog
from engine.sheet.gathered import Picked
from engine.sheet.matching import accepts

Data = dict[str, Any]
Mend = Callable[[AuditContext, Finding], Data | None]
# What a mended build must not have more of than before.
_WORSE: Final = ("breaks-rules", "breaks-table-rules", "unfinished")
# How many findings are tried for each that is wanted: every try is an audit of its own.
_TRIED: Final = 3


def mending(
    build: Build, catalog: Catalog, found: Finding, table: TableRules | None = None, rolls: Rolls | None = None
) -> tuple[Edit, ...] | None:
    """Return the edits that do away with a finding of this build; None where there is no such way or more than one.

    The mended build is audited: it lacks the finding and has no new one that breaks a rule or leaves something open.
    """
    ctx = AuditContext.of(build, catalog, table, rolls)
    return _mended(ctx, found, None)


def mendings(ctx: AuditContext, findings: Iterable[Finding], most: int) -> dict[Finding, tuple[Edit, ...]]:
    """Return the first `most` of a build's findings that can be mended in exactly one way, each with its edits.

    findings: all that the audit says of the build; those that stop it are tried first.
    """
    before = tuple(findings)
    able = sorted((f for f in before if f.code in _MENDS), key=lambda f: SEVERITIES.index(f.severity))
    mended: dict[Finding, tuple[Edit, ...]] = {}
    for found in able[: _TRIED * most]:
        if len(mended) == most:
            break
        edits = _mended(ctx, found, before)
        if edits is not None:
            mended[found] = edits
    return mended


def _mended(ctx: AuditContext, found: Finding, findings: Iterable[Finding] | None) -> tuple[Edit, ...] | None:
    mend = _MENDS.get(found.code)
    data = mend(ctx, found) if mend is not None else None
    if data is None:
        return None
    after = Build.model_validate(data)
    before = set(audit_of(ctx) if findings is None else findings)
    now = set(audit_of(AuditContext.of(after, ctx.catalog, ctx.table, ctx.rolls)))
    if found in now or any(f.severity in _WORSE for f in now - before):
        return None
    return edits_between(ctx.build, after)


def _line(ctx: AuditContext, level: int | None) -> tuple[str, int] | None:
    return next(((class_id, nth) for at, class_id, nth in ctx.lines if at == level), None)


def _with_line(ctx: AuditContext, level: int | None, **fields: Any) -> Data | None:
    """Return the stored form with fields of one line set, or with None taken out."""
    where = _line(ctx, level)
    if where is None:
        return None
    data = dump(ctx.build)
    line = data.setdefault("levels", {}).setdefault(where[0], {}).setdefault(str(where[1]), {})
    line.update(fields)
    for name in [name for name, value in fields.items() if value is None]:
        del line[name]
    return _tidy(data)


def _tidy(data: Data) -> Data:
    """Take out lists and lines that say nothing any more."""
    for class_id, lines in list(data.get("levels", {}).items()):
        for nth, line in list(lines.items()):
            if not line.get("items", True):
                del line["items"]
            if not line:
                del lines[nth]
        if not lines:
            del data["levels"][class_id]
    return data


def _without(ctx: AuditContext, paths: Iterable[str]) -> Data | None:
    """Return the stored form without the picks and items at these JSON pointers; None if there are none."""
    data = dump(ctx.build)
    pointers = sorted(set(paths), key=lambda path: [int(s) if s.isdigit() else -1 for s in path.split("/")])
    for path in reversed(pointers):
        steps = path.split("/")[1:]
        chain: list[Any] = [data]
        for step in steps[:-1]:
            chain.append(chain[-1][int(step) if isinstance(chain[-1], list) else step])
        last: Any = int(steps[-1]) if isinstance(chain[-1], list) else steps[-1]
        del chain[-1][last]
        # A list of picks that is empty takes the item that held it along.
        if steps[-2] == "picks" and not chain[-1]:
            owner, holder = chain[-3], chain[-2]
            if isinstance(owner, list):
                owner[:] = [item for item in owner if item is not holder]
    return _tidy(data) if pointers else None


def _only_subclass(ctx: AuditContext, found: Finding) -> Data | None:
    where = _line(ctx, found.level)
    able = ctx.catalog.subclasses(where[0]) if where is not None else []
    return _with_line(ctx, found.level, subclass=able[0].id) if len(able) == 1 else None


def _no_subclass(ctx: AuditContext, found: Finding) -> Data | None:
    return _with_line(ctx, found.level, subclass=None)


def _later_subclass(ctx: AuditContext, found: Finding) -> Data | None:
    """Move it to the line where the class chooses one; where one is named there already, it can only go."""
    where = _line(ctx, found.level)
    content = ctx.catalog.class_(where[0]) if where is not None else None
    if where is None or content is None:
        return None
    class_id, nth = where
    lines = ctx.build.levels.get(class_id, {})
    due = content.subclass_level
    data = _no_subclass(ctx, found)
    early = lines[nth].subclass if nth in lines else None
    reached = ctx.build.class_levels(ctx.build.top).get(class_id, 0) >= due
    if data is not None and reached and (due not in lines or lines[due].subclass is None):
        data.setdefault("levels", {}).setdefault(class_id, {}).setdefault(str(due), {})["subclass"] = early
    return data


def _no_roll(ctx: AuditContext, found: Finding) -> Data | None:
    data = _with_line(ctx, found.level, hp=None)
    if data is not None:
        class_id, nth = ctx.build.order[0], "1"
        data.get("levels", {}).get(class_id, {}).get(nth, {}).pop("roll", None)
    return data and _tidy(data)


def _only_subspecies(ctx: AuditContext, found: Finding) -> Data | None:
    species = ctx.build.species
    able = ctx.catalog.subspecies(species.id) if species is not None and species.id is not None else []
    data = dump(ctx.build)
    if len(able) != 1:
        return None
    data["species"]["id"] = able[0].id
    return data


def _unflag(ctx: AuditContext, found: Finding) -> Data | None:
    paths = [
        f"{thing.key}/items/{i}"
        for outfit in ctx.gathered.outfits
        for thing in outfit.carried
        if thing.name == found.subject and thing.attuned
        for i, item in enumerate(thing.pick.items)
        if item.kind == "flag" and item.flag == "attuned"
    ]
    return _without(ctx, paths)


def _spare(ctx: AuditContext, found: Finding) -> Data | None:
    """Picks that nothing at their place asks for can only go; of too many, the author must say which."""
    mine = [
        p
        for p in ctx.gathered.spare
        if not p.path.endswith(("/old", "/new")) and level_of(place_of(p.path), p.level) == found.level
    ]
    keywords = {p.keyword for p in mine if name_of(ctx, p) in found.subject or found.code != "choice-too-many"}
    wanted = {"increase-misplaced": {"increase"}, "spell-without-casting": {"spell", "cantrip"}}.get(found.code)
    going = [p for p in mine if p.keyword in (keywords if wanted is None else wanted)]
    if any(_asked(ctx, p) for p in going):
        return None
    return _without(ctx, (p.path for p in going))


def _asked(ctx: AuditContext, picked: Picked) -> bool:
    place = place_of(picked.path)
    return any(o.place == place and accepts(o.choice, picked.keyword) for o in ctx.gathered.opened)


def _swap(ctx: AuditContext, found: Finding) -> Data | None:
    where = _line(ctx, found.level)
    if where is None:
        return None
    class_id, nth = where
    line = ctx.build.levels.get(class_id, {}).get(nth)
    paths = [
        f"/levels/{class_id}/{nth}/items/{i}"
        for i, item in enumerate(line.items if line is not None else ())
        if item.kind == "swap" and found.subject in (item.old.id, ctx.catalog.name_of("spell", item.old.id))
    ]
    return _without(ctx, paths) if len(paths) == 1 else None


def _prepared(ctx: AuditContext, found: Finding) -> Data | None:
    picks = [
        p
        for p in ctx.gathered.picked
        if p.keyword == "prepare" and (None if p.path.startswith("/prepared") else p.level) == found.level
    ]
    if found.code == "prepare-not-used":
        gone = [p.path for p in picks if p.owner is not None and ctx.class_name(p.owner) == found.subject]
        if any(path.startswith("/prepared") for path in gone):
            return None
        return _without(ctx, gone)
    named = [p.path for p in picks if name_of(ctx, p) == found.subject]
    return _without(ctx, named[-1:])


def _copied(ctx: AuditContext, found: Finding) -> Data | None:
    paths = [
        p.path
        for p in ctx.gathered.picked
        if p.keyword == "copied" and p.level == found.level and name_of(ctx, p) == found.subject
    ]
    return _without(ctx, paths)


def _lost(ctx: AuditContext, found: Finding) -> Data | None:
    paths = [
        p.path
        for p in ctx.gathered.spare
        if p.keyword == "lose" and p.level == found.level and ctx.catalog.name_of("item", p.pick.id) == found.subject
    ]
    return _without(ctx, paths)


def _only_options(ctx: AuditContext, found: Finding) -> Data | None:
    """A choice with no more legal options left than it asks for."""
    waiting = [
        o
        for o in ctx.gathered.opened
        if o.label == found.subject
        and level_of(o.place, o.level) == found.level
        and o.count > len(o.picks)
        and o.place.count("/") in (1, 3)
    ]
    if len(waiting) != 1:
        return None
    opened = waiting[0]
    options = legal(ctx, opened)
    if len(options) != opened.count - len(opened.picks):
        return None
    data = dump(ctx.build)
    item = {"kind": "choose", "keyword": opened.choice.keyword, "picks": [{"id": o.id} for o in options]}
    steps = opened.place.split("/")[1:]
    holder: Any = data
    for step in steps:
        holder = holder.setdefault(step, {})
    holder["items"] = [*holder.get("items", []), item]
    return data


def _folio(ctx: AuditContext, found: Finding) -> Data | None:
    data = dump(ctx.build)
    loaded = {f.id: f for f in ctx.catalog.folios if f.title == found.subject}
    for use in data.get("folios", []):
        folio = loaded.get(use["id"])
        if folio is not None:
            use.update(version=folio.header.version, hash=folio.hash)
    return data


_MENDS: Final[dict[str, Mend]] = {
    "subclass-missing": _only_subclass,
    "subclass-wrong-class": _only_subclass,
    "subclass-early": _later_subclass,
    "subclass-changed": _no_subclass,
    "hp-at-first-level": _no_roll,
    "no-subspecies": _only_subspecies,
    "attunement-not-needed": _unflag,
    "choice-too-many": _spare,
    "increase-misplaced": _spare,
    "spell-without-casting": _spare,
    "swap-not-allowed": _swap,
    "swap-not-held": _swap,
    "prepared-twice": _prepared,
    "prepared-always": _prepared,
    "prepare-not-used": _prepared,
    "copied-without-book": _copied,
    "gear-not-held": _lost,
    "choice-open": _only_options,
    "folio-changed": _folio,
}
