"""Checks and saving throws of a build: bonus, advantage, lowest face, rerolls, dice of states that are switched on."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from typing import Any, Final

from engine.odds.sources.figures import Brought, Figures
from engine.odds.words import signed
from engine.problem import Refused
from engine.rules.grants.rolls import Advantage, ExtraDie, LowestD20, LowestTotal, RerollD20, SaveBonus
from engine.rules.names import fold, nearest
from engine.rules.words import ABILITIES, ABILITY_NAMES, Ability
from engine.sheet.armor import untrained
from engine.sheet.gathered import Granted
from engine.sheet.plan import At

_WITH: Final = re.compile(r"(?P<name>.+?)\s*(?:\(\s*(?P<in>[a-z]+)\s*\)|\bwith\s+(?P<with>[a-z]+))\s*", re.I)
_CONCENTRATION: Final = "concentration"
_EVASION: Final = "evasion"


def ability_named(text: str) -> Ability | None:
    """Return the ability that a name or its first letters mean, three at least."""
    wanted = fold(text)
    for ability in ABILITIES:
        full = fold(ABILITY_NAMES[ability])
        if len(wanted) >= 3 and full.startswith(wanted):
            return ability
    return None


def roll_names(figures: Figures) -> list[tuple[str, str]]:
    """Return every check and save of a build as (number's name, what it is called), the skills first."""
    catalog = figures.catalog
    found = [(f"skill.{skill.id}", skill.name) for skill in catalog.release.skills]
    found.append(("initiative", "Initiative"))
    found += [(f"save.{ability}", f"{ABILITY_NAMES[ability]} save") for ability in ABILITIES]
    found += [(f"check.{ability}", f"{ABILITY_NAMES[ability]} check") for ability in ABILITIES]
    tools = [name.removeprefix("tool.") for name in figures.numbers if name.startswith("tool.")]
    return found + [(f"tool.{tool}", catalog.name_of("tool", tool)) for tool in tools]


def check(figures: Figures, name: str) -> Brought | Refused:
    """Return the ability check that a name means: a skill, an ability, a tool, `initiative`, or a save by `Dex save`.

    A tool's ability may stand after it: `Thieves' Tools (Dex)`. Refused: nothing is called so.
    Source: SRD 5.1, Using Ability Scores, Ability Checks; Combat, Initiative (a Dexterity check).
    """
    text = name.strip()
    for prefix in ("skill.", "check.", "tool."):
        text = text.removeprefix(prefix)
    if text.startswith("save.") or re.search(r"\bsav(e|ing throw)$", text, re.IGNORECASE):
        return save(figures, text)
    if fold(text) == "initiative":
        return _initiative(figures)
    catalog = figures.catalog
    skills = catalog.find("skill", text)
    if skills:
        id_ = skills[0].id
        ability = next(skill.ability for skill in catalog.release.skills if skill.id == id_)
        words = frozenset({"all", ability, id_})
        full = figures.at.proficient("skill", id_) is not None
        return _check(figures, skills[0].name, figures.value(f"skill.{id_}"), words, full)
    plain = ability_named(re.sub(r"\s+check$", "", text, flags=re.IGNORECASE))
    if plain is not None:
        words = frozenset({"all", plain})
        return _check(figures, f"{ABILITY_NAMES[plain]} check", figures.value(f"check.{plain}"), words, False)
    found = _tool(figures, text)
    if found is not None:
        return found
    called = [called for _, called in roll_names(figures)]
    near = nearest(text, called)
    hint = f" Nearest: {', '.join(near[:3])}." if near else ""
    return Refused("no-such-roll", f'No skill, ability, tool or save is called "{name.strip()}".{hint}')


def save(figures: Figures, name: str) -> Brought | Refused:
    """Return the saving throw of an ability, named as people do: `dex`, `Dexterity`, `Dex save`.

    Source: SRD 5.1, Using Ability Scores, Saving Throws.
    """
    text = re.sub(r"\s+sav(e|ing throw)$", "", name.strip().removeprefix("save."), flags=re.IGNORECASE)
    ability = ability_named(text)
    if ability is None:
        return Refused("no-such-roll", f'"{name.strip()}" is no saving throw; name an ability, such as Dex.')
    return _save(figures, ability)


def concentration(figures: Figures) -> Brought:
    """Return the Constitution save that keeps concentration; advantage that holds for nothing else counts here."""
    # What holds only against something else has no place in this question, so it is not left out of it either.
    return replace(_save(figures, "con", _CONCENTRATION), left_out=())


def death(figures: Figures, *, hit: bool = False) -> Brought:
    """Return the death saving throw: tied to no ability, it takes what all saves take.

    hit: whether a hit comes first, which the build's hit point maximum is held against.
    Source: SRD 5.1, Combat, Death Saving Throws.
    """
    at = figures.at
    bonus = sum(
        int(at.value(granted, granted.grant.amount))
        for granted in at.holding("save-bonus")
        if isinstance(granted.grant, SaveBonus) and "all" in granted.grant.saves and granted.grant.against is None
    )
    words = frozenset({"all"})
    edges = [*_edges(at, "save", words, ""), *_edges(at, "death-save", words, "")]
    dice = _dice(at, ("save", "death-save"), words)
    found = replace(_brought(figures, "death save", bonus, edges, dice, _rerolls(at, "save")), left_out=())
    return replace(found, fields={**found.fields, "maximum": figures.numbers["hp.max"].value}) if hit else found


def _initiative(figures: Figures) -> Brought:
    at = figures.at
    words = frozenset({"all", "dex", "initiative"})
    edges = [*_edges(at, "check", words, ""), *_edges(at, "initiative", words, "")]
    dice = _dice(at, ("check", "initiative"), words)
    return _brought(figures, "Initiative", figures.value("initiative"), edges, dice, _rerolls(at, "check"))


def _tool(figures: Figures, text: str) -> Brought | None:
    read = _WITH.fullmatch(text)
    by = ability_named(read["in"] or read["with"]) if read is not None else None
    named = figures.catalog.find("tool", read["name"] if read is not None and by is not None else text)
    if not named:
        return None
    id_, called = named[0].id, named[0].name
    at = figures.at
    full = at.proficient("tool", id_) is not None
    words = frozenset({"all", id_, *([by] if by is not None else [])})
    bonus = figures.value(f"tool.{id_}")
    if by is None:
        found = _check(figures, called, bonus, words, full)
        note = f"the ability modifier (write {called} with Dex to count it)"
        return Brought(fields=found.fields, told=found.told, left_out=(note, *found.left_out))
    return _check(figures, f"{called} with {ABILITY_NAMES[by]}", bonus + at.modifiers[by], words, full)


def _check(figures: Figures, called: str, bonus: int, words: frozenset[str], full: bool) -> Brought:
    at = figures.at
    floors = [
        (granted, granted.grant.at_least)
        for granted in at.holding("lowest-d20")
        if isinstance(granted.grant, LowestD20)
        and (not words.isdisjoint(granted.grant.checks) or (full and "proficient" in granted.grant.checks))
    ]
    totals = [
        (granted, int(at.value(granted, granted.grant.total)))
        for granted in at.holding("lowest-total")
        if isinstance(granted.grant, LowestTotal) and not words.isdisjoint(granted.grant.checks)
    ]
    edges = _edges(at, "check", words, "")
    body = at.outfit.armor
    facts = body.item.armor if body is not None and body.item is not None else None
    if body is not None and facts is not None and facts.stealth_disadvantage and "stealth" in words:
        edges.append((False, body.name))
    found = _brought(figures, called, bonus, edges, _dice(at, ("check",), words), _rerolls(at, "check"), floors)
    return _at_least(found, totals)


def _save(figures: Figures, ability: Ability, about: str = "") -> Brought:
    at = figures.at
    words = frozenset({"all", ability})
    floors = [
        (granted, granted.grant.at_least)
        for granted in at.holding("lowest-d20")
        if isinstance(granted.grant, LowestD20) and not words.isdisjoint(granted.grant.saves)
    ]
    edges = _edges(at, "save", words, about)
    dice = _dice(at, ("save",), words)
    called = f"{ABILITY_NAMES[ability]} save"
    found = _brought(figures, called, figures.value(f"save.{ability}"), edges, dice, _rerolls(at, "save"), floors)
    against = [
        f"{signed(int(at.value(granted, granted.grant.amount)))} against {granted.grant.against}"
        for granted in at.holding("save-bonus")
        if isinstance(granted.grant, SaveBonus)
        and granted.grant.against is not None
        and not words.isdisjoint(granted.grant.saves)
    ]
    told = found.told
    fields = dict(found.fields)
    if ability == "dex" and at.gathered.has(_EVASION, at.level) and not about:
        fields["evasion"] = True
        told = (*told, "Evasion")
    return Brought(fields=fields, told=told, left_out=(*found.left_out, *against))


def counts(granted: Granted, grant: Advantage, about: str = "") -> bool:
    """Tell whether advantage counts: it has no limit, its state was switched on, or the roll is about its limit."""
    limits = [limit for limit in (grant.against, grant.limited) if limit]
    if not limits:
        return True
    if about and all(about in fold(limit) for limit in limits):
        return True
    return grant.against is None and granted.state is not None


Edge = tuple[bool | None, str]
"""What bears on advantage: True for advantage, False for disadvantage, None for what is left out; and its name."""


def edges_of(granted: Iterable[Granted], roll: str, words: frozenset[str], about: str = "") -> Iterator[Edge]:
    """Yield the advantages among grants for a roll."""
    for each in granted:
        grant = each.grant
        if not isinstance(grant, Advantage) or grant.roll != roll or words.isdisjoint(grant.of):
            continue
        if counts(each, grant, about):
            yield grant.mode == "advantage", each.label
        else:
            limit = f"against {grant.against}" if grant.against else str(grant.limited)
            yield None, f"{grant.mode} {limit}"


def dice_of(
    granted: Iterable[Granted], rolls: tuple[str, ...], words: frozenset[str], value: Callable[[Granted, Any], Any]
) -> Iterator[tuple[str | None, str, str]]:
    """Yield dice among grants for a roll: (sign, None where left out; dice; what gives them)."""
    for each in granted:
        grant = each.grant
        if not isinstance(grant, ExtraDie) or words.isdisjoint(grant.of) or not set(rolls).intersection(grant.rolls):
            continue
        if grant.whose in ("ally", "foe"):
            continue
        dice = str(value(each, grant.die))
        free = each.state is not None and grant.pool is None
        yield (grant.sign if free else None), dice, each.label


def _edges(at: At, roll: str, words: frozenset[str], about: str) -> list[Edge]:
    found = list(edges_of(at.holding("advantage"), roll, words, about))
    if roll in ("check", "save") and not words.isdisjoint({"str", "dex"}):
        found += [(False, f"no proficiency with {thing.name}") for thing in untrained(at)]
    return found


def _dice(at: At, rolls: tuple[str, ...], words: frozenset[str]) -> list[tuple[str | None, str, str]]:
    return list(dice_of(at.holding("extra-die"), rolls, words, at.value))


def _rerolls(at: At, roll: str) -> list[Granted]:
    return [
        granted
        for granted in at.holding("reroll-d20")
        if isinstance(granted.grant, RerollD20) and roll in granted.grant.rolls and granted.grant.at_most == 1
    ]


def _brought(
    figures: Figures,
    called: str,
    bonus: int,
    edges: Iterable[Edge],
    dice: Iterable[tuple[str | None, str, str]],
    rerolls: Iterable[Granted],
    floors: Iterable[tuple[Granted, int]] = (),
) -> Brought:
    """Return a roll with all that bears on it."""
    fields, told, left_out = d20_fields(bonus, edges, dice, rerolls)
    lowest = max(floors, key=lambda found: found[1], default=None)
    if lowest is not None:
        fields["lowest"] = lowest[1]
        told.append(lowest[0].label)
    also = f", {', '.join(told)}" if told else ""
    return Brought(
        fields=fields, told=(f"{called} {signed(bonus)} of {figures.whose()}{also}",), left_out=tuple(left_out)
    )


def d20_fields(
    bonus: int,
    edges: Iterable[Edge],
    dice: Iterable[tuple[str | None, str, str]],
    rerolls: Iterable[Granted],
) -> tuple[dict[str, Any], list[str], list[str]]:
    """Return the fields of a d20 roll, what gave them in words, and what was left out."""
    fields: dict[str, Any] = {"bonus": bonus}
    told: list[str] = []
    left_out: list[str] = []
    for which, label in edges:
        if which is None:
            left_out.append(label)
            continue
        word = "advantage" if which else "disadvantage"
        fields[word] = True
        told.append(f"{word} from {label}")
    for sign, text, label in dice:
        if sign is None:
            left_out.append(f"{text} of {label}")
            continue
        name = "plus" if sign == "+" else "minus"
        fields[name] = f"{fields[name]} + {text}" if name in fields else text
        told.append(f"{sign}{text} of {label}")
    for granted in rerolls:
        fields["reroll_ones"] = True
        told.append(granted.label)
    return fields, list(dict.fromkeys(told)), list(dict.fromkeys(left_out))


def _at_least(found: Brought, totals: list[tuple[Granted, int]]) -> Brought:
    """Return a check whose total is never below a number, told as a lowest face, which comes to the same.

    Only where dice are added as well does it differ, and then it is left out.
    """
    best = max(totals, key=lambda total: total[1], default=None)
    if best is None:
        return found
    granted, least = best
    fields = dict(found.fields)
    if "plus" in fields or "minus" in fields:
        return Brought(
            fields=fields, told=found.told, left_out=(*found.left_out, f"{granted.label} (at least {least} in all)")
        )
    face = least - fields["bonus"]
    if face > 20:
        fields["bonus"], face = least - 20, 20
    if face > fields.get("lowest", 1):
        fields["lowest"] = face
    return Brought(
        fields=fields, told=(*found.told, f"{granted.label}, at least {least} in all"), left_out=found.left_out
    )
