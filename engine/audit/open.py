"""What is open at a level: how many picks, of what, which are legal, and how many points are left."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from engine.audit.checks.scores import point_cost
from engine.audit.context import AuditContext
from engine.audit.offered import legal, noun_of, on_list, unmet
from engine.build.document import Build
from engine.rules.catalog import Catalog, Named
from engine.rules.content import Feat, Spell
from engine.sheet.gathered import Opened
from engine.sheet.matching import accepts, kind_of

# Parts of the header that are answered with a name: keyword -> kind of the catalogue.
_HEADER: Final = {"species": "species", "background": "background", "class": "class"}


@dataclass(frozen=True, slots=True)
class OpenChoice:
    """One choice that waits for an answer.

    level: character level; None for the header. keyword: under which it is answered. noun: one pick, in words.
    count: picks still to come, for `increase` points. label, source: what asks for it, and where that stands.
    place: JSON pointer of the part of the document where it is answered. options: what may be picked, by name.
    instead: feats that may be taken in place of an increase.
    """

    level: int | None
    keyword: str
    noun: str
    count: int
    label: str
    source: str
    place: str
    options: tuple[Named, ...]
    instead: tuple[Named, ...] = ()


def open_choices(build: Build, catalog: Catalog, level: int) -> tuple[OpenChoice, ...]:
    """Return what waits for an answer at a character level; at level 1 the header's choices come first.

    level: 1 to one above the build's last. That next level is looked at as one more level of the class of the last
    line. Any other level has nothing open.
    """
    if level == build.top + 1 and 1 < level <= 20:
        build = build.model_copy(update={"order": (*build.order, build.order[-1])})
    if not 1 <= level <= max(1, build.top):
        return ()
    ctx = AuditContext.of(build, catalog)
    found = [*_header(ctx)] if level == 1 else []
    found += _subclass(ctx, level)
    for opened in ctx.gathered.opened:
        if opened.level == level:
            choice = _open(ctx, opened)
            if choice is not None:
                found.append(choice)
    return tuple(found)


def points_left(build: Build, catalog: Catalog) -> int | None:
    """Return the points that point buy leaves (negative: overspent); None without point buy or with unpriced scores."""
    scores = build.scores
    if scores is None or scores.method != "point-buy":
        return None
    cost = point_cost(catalog.release.scores.point_costs, scores)
    return None if cost is None else catalog.release.scores.points - cost


def legal_picks(build: Build, catalog: Catalog, level: int, keyword: str) -> tuple[Named, ...]:
    """Return what this build may pick under a keyword at a level, whether or not there is room left for it.

    keyword: those of choices, also `subclass`, `species`, `background`, `class`, `prepare`, `copied`, `gain`, `lose`.
    Empty where nothing at that level asks for the keyword.
    """
    if keyword in _HEADER:
        return tuple(catalog.every(_HEADER[keyword]))
    if keyword == "gain":
        return tuple(catalog.every("item"))
    ctx = AuditContext.of(build, catalog)
    if keyword == "lose":
        held = {thing.pick.id for thing in ctx.gathered.outfit(max(1, level - 1)).carried}
        return tuple(n for n in catalog.every("item") if n.id in held)
    if not 1 <= level <= build.top:
        return ()
    class_id = build.order[level - 1]
    if keyword == "subclass":
        return _subclasses(ctx, class_id)
    if keyword in ("prepare", "copied"):
        return _readied(ctx, class_id, level, keyword)
    found: dict[str, Named] = {}
    for opened in ctx.gathered.opened:
        if opened.level == level and accepts(opened.choice, keyword):
            feats = keyword == "feat" and opened.choice.keyword == "increase"
            options = _feats(ctx, opened) if feats else legal(ctx, opened)
            wanted = kind_of(keyword)
            either = opened.choice.keyword != keyword and not feats
            found |= {n.id: n for n in options if not either or n.kind == wanted}
    return tuple(found.values())


def left_of(opened: Opened) -> int:
    """Return how many picks a choice still waits for, of increases how many points."""
    if opened.choice.keyword != "increase":
        return opened.count - len(opened.picks)
    feats = sum(p.keyword == "feat" for p in opened.picks)
    spent = sum(p.pick.count for p in opened.picks if p.keyword == "increase")
    return (opened.count - feats) * opened.choice.amount - spent


def _open(ctx: AuditContext, opened: Opened) -> OpenChoice | None:
    keyword = opened.choice.keyword
    left = left_of(opened)
    if left <= 0:
        return None
    untouched = keyword == "increase" and opened.choice.or_feat and not opened.picks
    header = opened.place.startswith(("/species", "/background"))
    return OpenChoice(
        level=None if header else opened.level,
        keyword=keyword,
        noun=noun_of(ctx, keyword),
        count=left,
        label=opened.label,
        source=opened.source,
        place=opened.place,
        options=tuple(legal(ctx, opened)),
        instead=_feats(ctx, opened) if untouched else (),
    )


def _feats(ctx: AuditContext, opened: Opened) -> tuple[Named, ...]:
    held = {p.pick.id for p in ctx.gathered.picked if p.keyword == "feat"}
    return tuple(
        n
        for n in ctx.catalog.every("feat")
        if isinstance(n.entry, Feat)
        and unmet(ctx, n.entry, opened.level, None) is None
        and (n.entry.repeatable or n.id not in held)
    )


def _subclasses(ctx: AuditContext, class_id: str) -> tuple[Named, ...]:
    mine = {s.id for s in ctx.catalog.subclasses(class_id)}
    return tuple(n for n in ctx.catalog.every("subclass") if n.id in mine)


def _subclass(ctx: AuditContext, level: int) -> list[OpenChoice]:
    for at, class_id, nth, _ in ctx.build.lines():
        class_ = ctx.gathered.classes.get(class_id)
        if (
            at == level
            and class_ is not None
            and nth >= class_.subclass_level
            and class_id not in ctx.gathered.subclasses
        ):
            return [
                OpenChoice(
                    level,
                    "subclass",
                    class_.subclass_title.lower(),
                    1,
                    class_.subclass_title,
                    ctx.class_source(class_id, class_.subclass_title),
                    f"/levels/{class_id}/{nth}",
                    _subclasses(ctx, class_id),
                )
            ]
    return []


def _header(ctx: AuditContext) -> Iterator[OpenChoice]:
    build, catalog = ctx.build, ctx.catalog
    if build.scores is None:
        yield OpenChoice(None, "scores", "ability score", 6, "Scores", ctx.scores_source, "/scores", ())
    left = points_left(build, catalog)
    if left is not None and left > 0:
        yield OpenChoice(None, "scores", "point", left, "Point buy", ctx.scores_source, "/scores", ())
    word = catalog.release.species_word
    if build.species is None:
        options = tuple(n for n in catalog.every("species") if not catalog.subspecies(n.id))
        yield OpenChoice(None, "species", word.lower(), 1, word, catalog.rule("species"), "/species", options)
    elif build.species.id is not None and (kinds := {s.id for s in catalog.subspecies(build.species.id)}):
        options = tuple(n for n in catalog.every("species") if n.id in kinds)
        yield OpenChoice(None, "species", word.lower(), 1, word, catalog.rule("subspecies"), "/species", options)
    if build.background is None:
        options = tuple(catalog.every("background"))
        source = catalog.rule("backgrounds")
        yield OpenChoice(None, "background", "background", 1, "Background", source, "/background", options)
    if not build.order:
        options = tuple(catalog.every("class"))
        yield OpenChoice(1, "class", "class", 1, "Level 1", catalog.rule("level-advancement"), "/order", options)


def _readied(ctx: AuditContext, class_id: str, level: int, keyword: str) -> tuple[Named, ...]:
    """Spells that a class may prepare, or copy into its book, at a level."""
    how = ctx.preparation(class_id)
    if how not in ("prepared", "book") or (keyword == "copied" and how != "book"):
        return ()
    top = ctx.value(level, f"casting.{class_id}.top_level") or 0
    list_ = ctx.spell_list(class_id)
    found: list[Named] = []
    for named in ctx.catalog.every("spell"):
        spell = named.entry
        if not isinstance(spell, Spell) or not 1 <= spell.level <= top:
            continue
        held = ctx.has_spell(spell.id, class_id, level)
        listed = on_list(ctx, spell, list_, class_id, level)
        if (keyword == "prepare" and (held if how == "book" else listed)) or (
            keyword == "copied" and listed and not held
        ):
            found.append(named)
    return tuple(sorted(found, key=lambda n: (getattr(n.entry, "level", 0), n.name)))
