"""The sheet: every named number of a build at a level, and all levels at once (design, section 5)."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any, Final

from engine.build.document import Build
from engine.rules.catalog import Catalog
from engine.rules.words import ABILITIES, Ability
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
from engine.sheet.plan import At, Plan


@dataclass(frozen=True, slots=True)
class Sheet:
    """A build at one character level. numbers: name -> number; names that need no content are always there."""

    level: int
    numbers: Mapping[str, Number]
    notes: tuple[SheetNote, ...]


@dataclass(frozen=True, slots=True)
class _Subject:
    """Numbers worked out together. Levels share them while nothing that they read changes.

    kinds: grant kinds they read. scores: abilities they read beside those that formulas of their grants speak of
    (one of which makes them read all). gear, bonus: whether they read the outfit and the proficiency bonus. reads:
    what they read besides; where their labels speak of levels, the level itself.
    """

    name: str
    compute: Callable[[At], Any]
    kinds: frozenset[str]
    scores: tuple[Ability, ...] = ABILITIES
    gear: bool = False
    bonus: bool = False
    reads: Callable[[At], Any] | None = None


def _armor_class(at: At) -> dict[str, Number]:
    return {"ac": armor.armor_class(at)}


def _level(at: At) -> int:
    return at.level


def _level_if_read(at: At) -> int:
    return at.level if at.plan.reading(pools.KINDS).by_level else 0


SUBJECTS: Final[tuple[_Subject, ...]] = (
    _Subject("hit points", hit_points.hit_points, hit_points.KINDS, ("con",), reads=_level),
    _Subject("armor class", _armor_class, armor.KINDS, gear=True),
    _Subject("checks", checks.checks, checks.KINDS, gear=True, bonus=True),
    _Subject("saves", saves.saves, saves.KINDS, bonus=True),
    _Subject("speeds", movement.speeds, movement.KINDS, ("str",), gear=True),
    _Subject("senses", movement.senses, movement.SENSE_KINDS, ()),
    _Subject("carrying", carrying.carrying, carrying.KINDS, ("str",), gear=True),
    _Subject("casting", casting.casting, casting.KINDS, bonus=True, reads=casting.casters),
    _Subject("slots", slots.slots, slots.KINDS, (), reads=casting.casters),
    _Subject("attacks", attacks.attacks, attacks.KINDS, gear=True, bonus=True),
    _Subject("attacks of an action", attacks.per_action, attacks.ACTION_KINDS, ()),
    _Subject("cantrips", cantrips.cantrips, cantrips.KINDS, bonus=True, reads=cantrips.known),
    _Subject("pools", pools.pools, pools.KINDS, bonus=True, reads=_level_if_read),
)
_NOTES: Final = _Subject("notes", notes.notes, notes.KINDS, (), gear=True, reads=notes.known)


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


def some_at_level(plan: Plan, level: int, without: frozenset[str]) -> tuple[At, dict[str, Number]]:
    """Return what holds at a level and its numbers without those of some subjects, where many levels are gone through.

    without: names of `SUBJECTS`. Levels of classes and notes are left out too. Where anything is left out, labels of
    the proficiency bonus may speak of an earlier level: only values are wanted then.
    """
    scores, numbers = abilities.abilities(plan, level)
    at = At(plan, level, scores)
    numbers["proficiency_bonus"] = total(at.bonus_parts, "bonus")
    for subject in SUBJECTS:
        if subject.name not in without:
            numbers.update(_shared(subject, at, labels=not without))
    return at, numbers


def _levels(at: At) -> dict[str, Number]:
    source = at.rule("level-advancement")
    parts = []
    numbers: dict[str, Number] = {}
    for class_id, held in at.class_levels.items():
        name = at.plan.name_of(class_id)
        parts.append(Reason(f"{name} {held}", held, source))
        numbers[f"level.{class_id}"] = stated(held, f"{name} {held}", source, "levels")
    return {"level.character": total(parts, "levels"), **numbers}


def _shared(subject: _Subject, at: At, *, labels: bool = True) -> Any:
    """Return the numbers of a subject at a level, those of an earlier level where nothing they read has changed."""
    plan = at.plan
    needs = plan.needs.get(subject.name)
    if needs is None:
        reading = plan.reading(subject.kinds)
        scores = None if reading.by_score or subject.scores is ABILITIES else subject.scores
        needs = (reading, scores, subject.bonus or reading.by_bonus, subject.gear or reading.by_gear)
        plan.needs[subject.name] = needs
    reading, scores, by_bonus, by_gear = needs
    key = (
        subject.name,
        at.score_key if scores is None else tuple([at.scores[ability] for ability in scores]),
        at.bonus if by_bonus else 0,
        at.outfit.since if by_gear else 0,
        at.key_of(reading) if reading.by_level else reading.versions[at.level],
        subject.reads(at) if subject.reads is not None else 0,
    )
    if subject is _NOTES:
        found = plan.memo.get(key)
        if found is None:
            found = plan.memo[key] = subject.compute(at)
        return found
    return plan.share(key, at, partial(subject.compute, at), labels=labels)
