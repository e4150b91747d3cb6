"""The sheet: every named number of a build at a level, and all levels at once (design, section 5)."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from engine.build.document import Build
from engine.rules.catalog import Catalog
from engine.sheet import (
    abilities,
    armor,
    attacks,
    cantrips,
    carrying,
    casting,
    checks,
    hit_points,
    movement,
    notes,
    pools,
    saves,
    slots,
)
from engine.sheet.gather import gather
from engine.sheet.gathered import Gathered
from engine.sheet.number import Number, Reason, SheetNote, stated, total
from engine.sheet.plan import At, Plan, relabelled


@dataclass(frozen=True, slots=True)
class Sheet:
    """A build at one character level. numbers: name -> number; names that need no content are always there."""

    level: int
    numbers: Mapping[str, Number]
    notes: tuple[SheetNote, ...]


@dataclass(frozen=True, slots=True)
class _Subject:
    """Numbers worked out together. Levels share them while nothing that they read changes.

    kinds: grant kinds they read. levels: whether they read levels besides what grants' formulas do. gear, bonus:
    whether they read the outfit and the proficiency bonus.
    """

    name: str
    compute: Callable[[At], Any]
    kinds: frozenset[str]
    levels: bool = False
    gear: bool = True
    bonus: bool = True


def _armor_class(at: At) -> dict[str, Number]:
    return {"ac": armor.armor_class(at)}


SUBJECTS: Final[tuple[_Subject, ...]] = (
    _Subject("hit points", hit_points.hit_points, frozenset({"hit-points", "hit-points-halved"}), levels=True),
    _Subject("armor class", _armor_class, armor.KINDS, bonus=False),
    _Subject("checks", checks.checks, checks.KINDS),
    _Subject("saves", saves.saves, saves.KINDS),
    _Subject("speeds", movement.speeds, movement.KINDS, bonus=False),
    _Subject("senses", movement.senses, movement.SENSE_KINDS, bonus=False),
    _Subject("carrying", carrying.carrying, carrying.KINDS, bonus=False),
    _Subject("casting", casting.casting, frozenset({"spellcasting"}), levels=True),
    _Subject("slots", slots.slots, frozenset({"spellcasting", "slot-bonus"}), levels=True),
    _Subject("attacks", attacks.attacks, attacks.KINDS),
    _Subject("cantrips", cantrips.cantrips, frozenset({"attack-bonus", "spell-damage"}), levels=True),
    _Subject("pools", pools.pools, frozenset({"pool", "save-dc"})),
)
_NOTES: Final = _Subject("notes", notes.notes, notes.KINDS)


def sheet(build: Build, catalog: Catalog, level: int, states: Iterable[str] = ()) -> Sheet:
    """Return the numbers of a build at a character level.

    states: ids of states and conditions that are switched on.
    Raises: ValueError for a level that the build does not have.
    """
    if not 1 <= level <= build.top:
        raise ValueError(f"the build has levels 1 to {build.top}; {level} is none of them")
    return at_level(Plan(gather(build, catalog, states)), level)


def timeline(build: Build, catalog: Catalog, states: Iterable[str] = ()) -> tuple[Sheet, ...]:
    """Return the sheets of all levels that the build has, from 1 on; what did not change is shared."""
    plan = Plan(gather(build, catalog, states))
    return tuple(at_level(plan, level) for level in range(1, build.top + 1))


def sheets_of(gathered: Gathered) -> tuple[Sheet, ...]:
    """Return the sheets of all levels of a build that was gathered before."""
    plan = Plan(gathered)
    return tuple(at_level(plan, level) for level in range(1, gathered.build.top + 1))


def at_level(plan: Plan, level: int) -> Sheet:
    """Return the sheet at a level of a plan; levels looked at one after another share what did not change."""
    scores, numbers = abilities.abilities(plan, level)
    at = At(plan, level, scores)
    numbers["proficiency_bonus"] = total(at.bonus_parts, "bonus")
    numbers.update(_levels(at))
    found: dict[str, Number] = numbers
    for subject in SUBJECTS:
        found.update(_shared(subject, at))
    return Sheet(level, found, _shared(_NOTES, at))


def _levels(at: At) -> dict[str, Number]:
    source = at.rule("level-advancement")
    parts = []
    numbers: dict[str, Number] = {}
    for class_id, held in at.class_levels.items():
        name = at.catalog.name_of("class", class_id)
        parts.append(Reason(f"{name} {held}", held, source))
        numbers[f"level.{class_id}"] = stated(held, f"{name} {held}", source, "levels")
    return {"level.character": total(parts, "levels"), **numbers}


def _shared(subject: _Subject, at: At) -> Any:
    plan, level = at.plan, at.level
    by_level = subject.levels or plan.by_level(subject.kinds)
    key = (
        subject.name,
        tuple(at.scores.values()),
        plan.version(subject.kinds)[level],
        at.bonus if subject.bonus else 0,
        at.outfit.since if subject.gear else 0,
        level if by_level else 0,
    )
    held = plan.memo.get(key)
    if held is None:
        found = subject.compute(at)
        plan.memo[key] = (level, found)
        return found
    before, found = held
    if before != level and subject.bonus and isinstance(found, dict):
        found = relabelled(found, before, level)
        plan.memo[key] = (level, found)
    return found
