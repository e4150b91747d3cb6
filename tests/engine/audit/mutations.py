"""Illegal changes for any legal build: each takes a build and returns it broken, with the code and level to expect.

Nothing of engine.audit is used. A change that cannot be made to a build returns None.
"""

from collections.abc import Callable
from random import Random
from typing import Final

from engine.build.document import (
    Build,
    Choose,
    Flag,
    Increase,
    Item,
    Line,
    Lose,
    Origin,
    Pick,
)
from engine.rules.catalog import Catalog
from engine.rules.content import Spell
from engine.rules.grants.choices import Choice

Broken = tuple[Build, str, int | None]
Mutation = Callable[[Build, Catalog, Random], Broken | None]


def with_line(build: Build, class_id: str, nth: int, line: Line) -> Build:
    """Return the build with one line replaced, or taken out if it says nothing."""
    lines = {n: kept for n, kept in build.levels.get(class_id, {}).items() if n != nth}
    if not line.empty:
        lines[nth] = line
    levels = {**build.levels, class_id: dict(sorted(lines.items()))}
    return build.model_copy(update={"levels": {c: ls for c, ls in levels.items() if ls}})


def lines_of(build: Build, dice: Random) -> list[tuple[int, str, int, Line]]:
    """Return the lines of a build in random order."""
    lines = list(build.lines())
    dice.shuffle(lines)
    return lines


def added(line: Line, *items: Item) -> Line:
    """Return a line with more items."""
    return line.model_copy(update={"items": (*line.items, *items)})


def lift_a_score(build: Build, catalog: Catalog, dice: Random) -> Broken | None:
    """A score beyond what any method gives before increases."""
    assert build.scores is not None
    ability = dice.choice(sorted(build.scores.values))
    scores = build.scores.model_copy(update={"values": {**build.scores.values, ability: 19}})
    code = "array-mismatch" if build.scores.method == "standard-array" else "score-out-of-range"
    return build.model_copy(update={"scores": scores}), code, None


def roll_too_high(build: Build, catalog: Catalog, dice: Random) -> Broken | None:
    """Hit points above the die."""
    for level, class_id, nth, line in lines_of(build, dice):
        class_ = catalog.class_(class_id)
        if level > 1 and class_ is not None:
            changed = line.model_copy(update={"hp": class_.hit_die + 1, "roll": None})
            return with_line(build, class_id, nth, changed), "hp-above-die", level
    return None


def increase_anywhere(build: Build, catalog: Catalog, dice: Random) -> Broken | None:
    """An increase on a line whose class gives none there."""
    for level, class_id, nth, line in lines_of(build, dice):
        class_ = catalog.class_(class_id)
        assert class_ is not None
        given = [
            g.level or f.level
            for f in class_.features
            for g in f.grants
            if isinstance(g, Choice) and g.keyword == "increase"
        ]
        if nth not in given:
            changed = added(line, Increase(ability="str", amount=1))
            return with_line(build, class_id, nth, changed), "increase-misplaced", level
    return None


def drop_a_subclass(build: Build, catalog: Catalog, dice: Random) -> Broken | None:
    """No subclass where one is due."""
    for level, class_id, nth, line in lines_of(build, dice):
        if line.subclass is not None:
            changed = line.model_copy(update={"subclass": None})
            return with_line(build, class_id, nth, changed), "subclass-missing", level
    return None


def early_subclass(build: Build, catalog: Catalog, dice: Random) -> Broken | None:
    """A subclass on the first line of a class that chooses later."""
    for level, class_id, nth, line in lines_of(build, dice):
        class_ = catalog.class_(class_id)
        assert class_ is not None
        if nth == 1 and class_.subclass_level > 1:
            name = catalog.subclasses(class_id)[0].id
            return with_line(build, class_id, 1, line.model_copy(update={"subclass": name})), "subclass-early", level
    return None


def foreign_spell(build: Build, catalog: Catalog, dice: Random) -> Broken | None:
    """A learned spell exchanged for one of the same level that is on another list."""
    for level, class_id, nth, line in lines_of(build, dice):
        for i, item in enumerate(line.items):
            if not isinstance(item, Choose) or item.keyword != "spell":
                continue
            old = catalog.spell(item.picks[0].id)
            assert old is not None
            spells = [n.entry for n in catalog.every("spell")]
            foreign = [
                s.id
                for s in spells
                if isinstance(s, Spell) and s.level == old.level and set(s.classes) <= {"paladin", "druid", "cleric"}
            ]
            if class_id in ("paladin", "druid", "cleric", "warlock") or not foreign:
                continue
            picks = (Pick(id=dice.choice(foreign)), *item.picks[1:])
            items = (*line.items[:i], item.model_copy(update={"picks": picks}), *line.items[i + 1 :])
            changed = line.model_copy(update={"items": items})
            return with_line(build, class_id, nth, changed), "spell-not-on-list", level
    return None


def one_spell_more(build: Build, catalog: Catalog, dice: Random) -> Broken | None:
    """One more spell than the table gives."""
    for level, class_id, nth, line in lines_of(build, dice):
        for i, item in enumerate(line.items):
            if isinstance(item, Choose) and item.keyword == "spell":
                held = {p.id for p in item.picks}
                more = next(s.id for s in catalog.spells_of(class_id) if s.level == 1 and s.id not in held)
                picks = (*item.picks, Pick(id=more))
                items = (*line.items[:i], item.model_copy(update={"picks": picks}), *line.items[i + 1 :])
                code = "book-too-many" if class_id == "wizard" else "spells-too-many"
                return with_line(build, class_id, nth, line.model_copy(update={"items": items})), code, level
    return None


def lost_skill(build: Build, catalog: Catalog, dice: Random) -> Broken | None:
    """One skill fewer than the class gives."""
    for level, class_id, nth, line in lines_of(build, dice):
        for i, item in enumerate(line.items):
            if isinstance(item, Choose) and item.keyword == "skill" and len(item.picks) > 1:
                picks = item.picks[:-1]
                items = (*line.items[:i], item.model_copy(update={"picks": picks}), *line.items[i + 1 :])
                return with_line(build, class_id, nth, line.model_copy(update={"items": items})), "choice-open", level
    return None


def unasked_style(build: Build, catalog: Catalog, dice: Random) -> Broken | None:
    """A fighting style on a line that gives none."""
    for level, class_id, nth, line in lines_of(build, dice):
        if class_id not in ("fighter", "paladin", "ranger"):
            changed = added(line, Choose(keyword="style", picks=(Pick(id="archery"),)))
            return with_line(build, class_id, nth, changed), "choice-too-many", level
    return None


def unknown_background(build: Build, catalog: Catalog, dice: Random) -> Broken | None:
    """A background that no folio gives."""
    return build.model_copy(update={"background": Origin(id="pearl-diver")}), "missing-content", None


def attuned_rope(build: Build, catalog: Catalog, dice: Random) -> Broken | None:
    """Attunement to a thing without magic, one that no line gives away again."""
    traded = {p.id for _, _, _, line in build.lines() for i in line.items if isinstance(i, Lose) for p in i.picks}
    things = [n.id for n in catalog.every("item") if (i := catalog.item(n.id)) and i.category == "gear"]
    thing = next(id_ for id_ in things if id_ not in traded)
    pick = Pick(id=thing, items=(Flag(flag="attuned"),))
    return build.model_copy(update={"gear": (*build.gear, pick)}), "attunement-not-needed", 1


def twice_expert(build: Build, catalog: Catalog, dice: Random) -> Broken | None:
    """Expertise in one skill twice."""
    for level, class_id, nth, line in lines_of(build, dice):
        for i, item in enumerate(line.items):
            if isinstance(item, Choose) and item.keyword == "expertise" and len(item.picks) == 2:
                picks = (item.picks[0], item.picks[0])
                items = (*line.items[:i], item.model_copy(update={"picks": picks}), *line.items[i + 1 :])
                changed = line.model_copy(update={"items": items})
                return with_line(build, class_id, nth, changed), "expertise-twice", level
    return None


def low_scores(build: Build, catalog: Catalog, dice: Random) -> Broken | None:
    """Scores too low for the second class."""
    classes = list(dict.fromkeys(build.order))
    if len(classes) < 2:
        return None
    assert build.scores is not None
    scores = build.scores.model_copy(update={"values": dict.fromkeys(build.scores.values, 3)})
    return build.model_copy(update={"scores": scores}), "multiclass-minimum", build.order.index(classes[1]) + 1


MUTATIONS: Final[tuple[Mutation, ...]] = (
    lift_a_score,
    roll_too_high,
    increase_anywhere,
    drop_a_subclass,
    early_subclass,
    foreign_spell,
    one_spell_more,
    lost_skill,
    unasked_style,
    unknown_background,
    attuned_rope,
    twice_expert,
    low_scores,
)

__all__ = ["MUTATIONS", "Broken", "Mutation"]
