"""From a question as it was put to a complete one: what a build and a creature bring, and what was given by hand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from engine.odds.asked import ROLL, Asked, question_of
from engine.odds.d20 import D20
from engine.odds.fell import Creature as Fallen
from engine.odds.questions import Question
from engine.odds.sources import attacks, creatures, endings, minimums, rolls, spells
from engine.odds.sources.figures import Brought, Figures
from engine.odds.written import creatures_of, members_of
from engine.problem import Refused
from engine.rules.catalog import Catalog
from engine.rules.content import Creature
from engine.rules.names import fold


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """A complete question. told: what came from where, in words. left_out: what the sources have besides."""

    question: Question
    told: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()


def filled(asked: Asked, builds: Sequence[Figures], catalog: Catalog) -> Filled | Refused:
    """Return the question with the numbers of builds and of a creature; what was given by hand goes before them.

    builds: the figures of `asked.builds`, in their order; only a group takes more than one. catalog: where the
    creature is looked up. Refused: a name that means nothing, or a number that is still missing.
    """
    figures = builds[0] if builds else None
    if figures is None and asked.use is not None and asked.kind != "fell":
        return Refused("no-build", f'"{asked.use.name}" is a number of a build; say which build.')
    creature = None
    if asked.creature is not None and asked.kind != "fell":
        found = creatures.creature_named(catalog, asked.creature)
        if isinstance(found, Refused):
            return found
        creature = found
    if asked.kind == "group":
        return _group(asked, builds, creature)
    if asked.kind == "fell":
        return _fell(asked, figures, catalog)
    own = _own(asked, figures)
    if isinstance(own, Refused):
        return own
    target = _target(asked, own, creature, catalog)
    if isinstance(target, Refused):
        return target
    pool = _pool(asked, figures)
    if isinstance(pool, Refused):
        return pool
    if pool.fields:
        # What the pool adds is counted now, so it is not left out any more.
        kept = tuple(left for left in own.left_out if fold(str(asked.fields["pool"])) not in fold(left))
        own = replace(own, left_out=kept)
    fields = merged(merged(merged(own.fields, target.fields), asked.fields), pool.fields)
    return _complete(asked, fields, own, target, pool)


def merged(base: Mapping[str, Any], over: Mapping[str, Any]) -> dict[str, Any]:
    """Return fields with those given by hand over them; dice to add or take off come together."""
    fields = {**base, **over}
    for name in ("plus", "minus"):
        if base.get(name) and over.get(name):
            fields[name] = f"{base[name]} + {over[name]}"
    return fields


def _complete(asked: Asked, fields: Mapping[str, Any], *sources: Brought) -> Filled | Refused:
    question = question_of(asked.kind, fields)
    if isinstance(question, Refused):
        return question
    return Filled(
        question=question,
        told=tuple(told for source in sources for told in source.told),
        left_out=tuple(dict.fromkeys(left for source in sources for left in source.left_out)),
    )


def _own(asked: Asked, figures: Figures | None) -> Brought | Refused:
    """Return what the build brings."""
    if figures is None:
        return Brought()
    use = asked.use
    match asked.kind:
        case "death":
            return rolls.death(figures, hit=bool(asked.fields.get("hit")))
        case "concentration":
            return rolls.concentration(figures)
        case "scores":
            return minimums.minimums(figures)
        case "dice":
            return Brought()
    if use is None:
        wanted = {"attack": "one of its attacks", "save": "one of its spells or saves"}
        return Refused(
            "no-number", f"Say which number of {figures.name} it is: {wanted.get(asked.kind, 'a skill or save')}."
        )
    match use.kind:
        case "attack":
            return attacks.attack(figures, use.name)
        case "spell":
            return spells.cast(figures, use.name, asked.slot)
        case "save":
            return rolls.save(figures, use.name)
        case "skill":
            return rolls.check(figures, use.name)


def _target(asked: Asked, own: Brought, creature: Creature | None, catalog: Catalog) -> Brought | Refused:
    """Return what the creature brings."""
    if creature is None:
        return Brought()
    match asked.kind:
        case "attack":
            return creatures.attacked(creature, own.types, own.magic)
        case "save":
            ability = asked.ability or own.ability
            if ability is None:
                return Refused("no-ability", f"Say with which ability {creature.name} saves, such as Dex.")
            return creatures.saving(creature, ability, own.types, own.magic)
        case "concentration":
            found = creatures.saving(creature, "con", (), False)
            return found if isinstance(found, Refused) else Brought(fields=found.fields, told=found.told)
        case "contest":
            if asked.versus is None:
                return Refused("no-number", f"Say with which skill {creature.name} resists, such as Athletics.")
            checked = creatures.checking(creature, asked.versus, catalog)
            if isinstance(checked, Refused):
                return checked
            return Brought(fields={"other_bonus": checked[0]}, told=(checked[1],))
        case _:
            dc = creature.passive_perception
            return Brought(fields={"dc": dc}, told=(f"{creature.name}: passive Perception {dc}",))


def _pool(asked: Asked, figures: Figures | None) -> Brought | Refused:
    """Return the pool of the build where the question names it instead of giving dice."""
    name = asked.fields.get("pool")
    if figures is None or asked.use is None or asked.kind != "attack" or not name or not fold(str(name)):
        return Brought()
    found = attacks.pool(figures, asked.use.name, str(name), asked.slot)
    return Brought() if found is None else found


def _group(asked: Asked, builds: Sequence[Figures], creature: Creature | None) -> Filled | Refused:
    members: list[D20] = []
    sources: list[Brought] = []
    for figures in builds:
        own = _own(asked, figures)
        if isinstance(own, Refused):
            return own
        members.append(D20(**{name: own.fields[name] for name in ROLL if name in own.fields}))
        sources.append(own)
    given = asked.fields.get("members")
    others = members_of(given) if isinstance(given, str) else (given or ())
    if isinstance(others, Refused):
        return others
    if creature is not None:
        dc = creature.passive_perception
        sources.append(Brought(fields={"dc": dc}, told=(f"{creature.name}: passive Perception {dc}",)))
    fields = {**(sources[-1].fields if creature is not None else {}), **asked.fields}
    return _complete(asked, {**fields, "members": (*members, *others)}, *sources)


def _fell(asked: Asked, figures: Figures | None, catalog: Catalog) -> Filled | Refused:
    """Return the question; a build casts the spell where one is named, and else stands among the creatures."""
    found: list[Fallen] = []
    sources: list[Brought] = []
    spell = None
    if asked.use is not None:
        laying = endings.laying_low(catalog, figures, asked.use.name, asked.slot)
        if isinstance(laying, Refused):
            return laying
        spell, brought = laying
        sources.append(brought)
    if asked.creature is not None:
        named = creatures.laid_low(catalog, asked.creature, spell)
        if isinstance(named, Refused):
            return named
        found += named[0]
        sources.append(named[1])
    if figures is not None and spell is None:
        points = figures.value("hp.max")
        found.append(Fallen(name=figures.name, hit_points=points))
        sources.append(Brought(told=(f"{figures.whose()}: {points} hit points",)))
    given = asked.fields.get("creatures")
    others = creatures_of(given) if isinstance(given, str) else (given or ())
    if isinstance(others, Refused):
        return others
    fields: dict[str, Any] = {}
    for source in sources:
        fields |= source.fields
    return _complete(asked, {**fields, **asked.fields, "creatures": (*found, *others)}, *sources)
