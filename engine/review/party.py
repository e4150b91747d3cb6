"""A party at a level: who has which saves, skills, languages and senses, who fills which role, what nobody covers.

What counts as a role is ours; no release prints it (common practice, no source).
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from engine.audit.context import AuditContext
from engine.rules.words import ABILITIES, Ability
from engine.sheet.spells import spells_at

# Features besides spells that give others hit points back (SRD 5.1, Classes, Paladin, Lay on Hands).
_HEALING_FEATURES: Final = ("lay-on-hands",)
_TALK: Final = frozenset({"persuasion", "deception", "intimidation"})
_SCOUT: Final = frozenset({"stealth", "perception"})
_BIG_DIE: Final = 10


@dataclass(frozen=True, slots=True)
class Fellow:
    """One build of the party, as it is at its level. name: as shown; level: the one looked at."""

    name: str
    context: AuditContext
    level: int


@dataclass(frozen=True, slots=True)
class Party:
    """Who covers what, by name, in the order of the builds.

    saves, skills, languages: id -> names of those proficient (languages: who speaks it). senses: name of the sense ->
    (name, feet). roles: role in words -> names. best_save: ability -> the highest save of all. lacking_*: ids and
    words that nobody covers; of languages only those that the release calls standard.
    """

    saves: Mapping[Ability, tuple[str, ...]]
    skills: Mapping[str, tuple[str, ...]]
    languages: Mapping[str, tuple[str, ...]]
    senses: Mapping[str, tuple[tuple[str, int], ...]]
    roles: Mapping[str, tuple[str, ...]]
    best_save: Mapping[Ability, int]
    lacking_saves: tuple[Ability, ...]
    lacking_skills: tuple[str, ...]
    lacking_languages: tuple[str, ...]
    lacking_senses: tuple[str, ...]
    lacking_roles: tuple[str, ...]


def party(fellows: Sequence[Fellow]) -> Party | None:
    """Return what a party covers; None for no build at all."""
    if not fellows:
        return None
    catalog = fellows[0].context.catalog
    saves = {a: _who(fellows, lambda f, a=a: f.context.proficient("save", a, f.level)) for a in ABILITIES}  # type: ignore[misc]
    skills = {s.id: _proficient(fellows, "skill", s.id) for s in catalog.every("skill")}
    spoken = {w.id: _proficient(fellows, "language", w.id) for w in catalog.every("language")}
    senses = _senses(fellows)
    roles = {word: _who(fellows, fills) for word, fills in ROLES.items()}
    standard = {word.id for word in catalog.release.languages if "standard" in word.groups}
    return Party(
        saves=saves,
        skills=skills,
        languages={id_: names for id_, names in spoken.items() if names},
        senses=senses,
        roles=roles,
        best_save={a: max(f.context.value(f.level, f"save.{a}") or 0 for f in fellows) for a in ABILITIES},
        lacking_saves=tuple(a for a in ABILITIES if not saves[a]),
        lacking_skills=_empty(skills),
        lacking_languages=tuple(id_ for id_ in _empty(spoken) if id_ in standard),
        lacking_senses=() if "darkvision" in senses else ("darkvision",),
        lacking_roles=_empty(roles),
    )


def _who(fellows: Iterable[Fellow], has: Callable[[Fellow], bool]) -> tuple[str, ...]:
    return tuple(fellow.name for fellow in fellows if has(fellow))


def _proficient(fellows: Iterable[Fellow], kind: str, id_: str) -> tuple[str, ...]:
    return _who(fellows, lambda f: f.context.proficient(kind, id_, f.level))


def _empty(covered: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    return tuple(id_ for id_, names in covered.items() if not names)


def _senses(fellows: Iterable[Fellow]) -> dict[str, tuple[tuple[str, int], ...]]:
    found: dict[str, tuple[tuple[str, int], ...]] = {}
    for fellow in fellows:
        for name, number in fellow.context.sheets[fellow.level - 1].numbers.items():
            if name.startswith("senses.") and isinstance(number.value, int) and number.value > 0:
                sense = name.removeprefix("senses.")
                found[sense] = (*found.get(sense, ()), (fellow.name, number.value))
    return found


def _heals(fellow: Fellow) -> bool:
    ctx, level = fellow.context, fellow.level
    if any(ctx.gathered.has(id_, level) for id_ in _HEALING_FEATURES):
        return True
    spells = (ctx.catalog.spell(learned.spell) for learned in spells_at(ctx.gathered, level))
    return any(spell is not None and spell.healing is not None for spell in spells)


def _shoots(fellow: Fellow) -> bool:
    ctx, level = fellow.context, fellow.level
    carried = (thing.item for thing in ctx.gathered.outfit(level).weapons)
    if any(item is not None and item.weapon is not None and item.weapon.reach == "ranged" for item in carried):
        return True
    spells = (ctx.catalog.spell(learned.spell) for learned in spells_at(ctx.gathered, level))
    return any(spell is not None and spell.attack == "ranged" for spell in spells)


def _blasts(fellow: Fellow) -> bool:
    spells = (fellow.context.catalog.spell(s.spell) for s in spells_at(fellow.context.gathered, fellow.level))
    return any(spell is not None and spell.area is not None and spell.damage for spell in spells)


def _picks_locks(fellow: Fellow) -> bool:
    return fellow.context.proficient("tool", "thieves-tools", fellow.level)


def _talks(fellow: Fellow) -> bool:
    return bool(_TALK & fellow.context.proficiencies(fellow.level).get("skill", frozenset()))


def _scouts(fellow: Fellow) -> bool:
    return fellow.context.proficiencies(fellow.level).get("skill", frozenset()) >= _SCOUT


def _stands_in_front(fellow: Fellow) -> bool:
    gathered = fellow.context.gathered
    big = sum(
        gathered.class_level(id_, fellow.level)
        for id_, class_ in gathered.classes.items()
        if class_.hit_die >= _BIG_DIE
    )
    return 2 * big >= fellow.level


# Role in words -> whether a build fills it.
ROLES: Final[Mapping[str, Callable[[Fellow], bool]]] = {
    "front line": _stands_in_front,
    "ranged attacks": _shoots,
    "damage over an area": _blasts,
    "healing": _heals,
    "scouting": _scouts,
    "talking": _talks,
    "locks and traps": _picks_locks,
}
