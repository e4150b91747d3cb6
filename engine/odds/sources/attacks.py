"""Attacks of a build: bonus, damage of a hit, attacks a round, criticals, dice once a turn, pools."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, Final

from engine.odds.sources.figures import Brought, Figures
from engine.odds.sources.rolls import d20_fields, dice_of, edges_of
from engine.odds.words import signed
from engine.problem import Refused
from engine.rules.grants.attacks import (
    CriticalRange,
    DamageReroll,
    ExtraCriticalDice,
    ExtraDamage,
    NaturalWeapon,
)
from engine.rules.grants.rolls import RerollD20
from engine.rules.names import fold, nearest
from engine.sheet import attack_words
from engine.sheet.armor import untrained
from engine.sheet.attacks import UNARMED, Strike, weapon_keys
from engine.sheet.cantrips import beams
from engine.sheet.dice import Roll

_USES: Final = {"two_handed": "in two hands", "thrown": "thrown", "off_hand": "with the other hand"}


@dataclass(frozen=True, slots=True)
class _Made:
    """One attack: its key among the numbers, the strike, damage types, and how many a round."""

    strike: Strike
    called: str
    types: tuple[str, ...]
    attacks: int
    magic: bool
    ability: str


def attack_names(figures: Figures) -> list[tuple[str, str]]:
    """Return every attack of a build as (key, what it is called): `rapier`, `longsword.two_handed`."""
    keys = [
        name.removeprefix("attack.").removesuffix(".to_hit") for name in figures.numbers if name.endswith(".to_hit")
    ]
    return [(key, _called(figures, key)) for key in keys]


def attack(figures: Figures, name: str) -> Brought | Refused:
    """Return the attack that a name means, with all that holds for it.

    Dice once a turn are counted whatever their condition, and told. Refused: no attack is called so.
    """
    key = _key(figures, name)
    if key is None:
        near = nearest(name, [called for _, called in attack_names(figures)])
        hint = f" Nearest: {', '.join(near[:3])}." if near else ""
        return Refused("no-such-attack", f'{figures.name} has no attack called "{name.strip()}".{hint}')
    made = _made(figures, key)
    strike, at = made.strike, figures.at
    bonus = figures.value(f"attack.{key}.to_hit")
    words = frozenset({"all", made.ability})
    edges = list(edges_of(strike.holding("advantage"), "attack", words))
    if made.ability in ("str", "dex"):
        edges += [(False, f"no proficiency with {thing.name}") for thing in untrained(at)]
    dice = dice_of(strike.holding("extra-die"), ("attack",), words, strike.value)
    rerolls = [
        granted
        for granted in strike.holding("reroll-d20")
        if isinstance(granted.grant, RerollD20) and "attack" in granted.grant.rolls and granted.grant.at_most == 1
    ]
    fields, told, left_out = d20_fields(bonus, edges, dice, rerolls)
    roll = _damage(figures, key, strike, fields)
    if made.attacks > 1:
        fields["attacks"] = made.attacks
    told += _criticals(strike, roll, fields)
    told += _once(strike, fields)
    left_out += [f"{granted.label} (name it as pool to count it)" for granted, _ in _pools(strike)]
    also = f", {', '.join(told)}" if told else ""
    return Brought(
        fields=fields,
        told=(f"{made.called} {signed(bonus)} of {figures.whose()}{also}",),
        left_out=tuple(dict.fromkeys(left_out)),
        types=made.types,
        magic=made.magic,
    )


def pool(figures: Figures, name: str, of: str, slot: int | None) -> Brought | Refused | None:
    """Return the dice and uses of a pool that an attack may spend, or None where no pool of the build is called so.

    name: of the attack. of: what gives the dice, such as `Divine Smite`. slot: level of the slots spent, where the
    pool is spell slots.
    """
    key = _key(figures, name)
    if key is None:
        return None
    for granted, grant in _pools(_made(figures, key).strike):
        if fold(granted.label) != fold(of):
            continue
        dice = Roll.of(str(figures.at.value(granted, grant.dice)))
        if grant.pool != "slots":
            fields: dict[str, Any] = {"pool": str(dice)}
            if uses := figures.value(f"pool.{grant.pool}.uses"):
                fields["pool_uses"] = uses
            return Brought(fields=fields, told=(f"{granted.label} {dice}",))
        level = slot or 1
        uses = figures.value(f"slots.{level}")
        if not uses:
            return Refused(
                "no-such-slot", f"{figures.name} has no spell slot of level {level} at level {figures.level}."
            )
        if grant.by_slot is not None:
            each = Roll.of(grant.by_slot)
            for _ in range(level - 1):
                dice = merged_dice(dice.and_(each))
            if grant.most is not None and dice.mean > Roll.of(grant.most).mean:
                dice = Roll.of(grant.most)
        told = f"{granted.label} {dice} from {uses} slots of level {level}"
        return Brought(fields={"pool": str(dice), "pool_uses": uses}, told=(told,))
    return None


def merged_dice(roll: Roll) -> Roll:
    """Return the same dice with equal sides counted together."""
    counts: dict[int, int] = {}
    for count, sides in roll.dice:
        counts[sides] = counts.get(sides, 0) + count
    return Roll(tuple((count, sides) for sides, count in counts.items()), roll.flat)


def _key(figures: Figures, name: str) -> str | None:
    if f"attack.{name}.to_hit" in figures.numbers:
        return name
    wanted = fold(re.sub(r"[._]", " ", name.strip().removeprefix("attack.").removesuffix(".to_hit")))
    for key, called in attack_names(figures):
        if wanted in (fold(called), fold(re.sub(r"[._]", " ", key))):
            return key
    return None


def _called(figures: Figures, key: str) -> str:
    base, _, use = key.partition(".")
    for found, thing in weapon_keys(figures.at.outfit.weapons):
        if found == base:
            return f"{thing.name} {_USES[use]}" if use in _USES else thing.name
    spell = figures.catalog.spell(base)
    if spell is not None:
        return spell.name
    for granted in figures.at.holding("natural-weapon"):
        if isinstance(granted.grant, NaturalWeapon) and granted.grant.id == base:
            return granted.grant.name
    return base.replace("-", " ").capitalize()


def _made(figures: Figures, key: str) -> _Made:
    at, called = figures.at, _called(figures, key)
    base, _, use = key.partition(".")
    per_action = figures.value("attacks.per_action")
    for found, thing in weapon_keys(at.outfit.weapons):
        if found != base or thing.item is None or thing.item.weapon is None:
            continue
        weapon = thing.item.weapon
        words = attack_words.of_weapon(at.outfit, thing, use)
        words["proficient"] = at.proficient("weapon", weapon.group, thing.item.id, thing.item.plain_id) is not None
        strike = Strike(at, words, thing.key)
        finesse = "finesse" in weapon.properties
        ability, _ = strike.settle_ability(
            ["str", "dex"] if finesse else ["dex"] if weapon.reach == "ranged" else ["str"]
        )
        # A weapon that must be loaded fires once an action; the other hand strikes once as a bonus action.
        once = "loading" in weapon.properties or use == "off_hand"
        types = (weapon.damage,) if weapon.damage is not None else ()
        return _Made(strike, called, types, 1 if once else per_action, bool(words["magic"]), ability)
    spell = figures.catalog.spell(base)
    if spell is not None and spell.attack is not None:
        strike = Strike(at, attack_words.of_cantrip(spell.attack))
        strike.words["proficient"] = True
        kinds = tuple(part.type for part in spell.damage if part.type is not None)
        return _Made(strike, called, kinds, beams(spell, figures.level), True, "")
    for granted in at.holding("natural-weapon"):
        grant = granted.grant
        if isinstance(grant, NaturalWeapon) and grant.id == base:
            strike = Strike(at, attack_words.of_body(unarmed=False, finesse=grant.finesse))
            ability, _ = strike.settle_ability(["str", "dex"] if grant.finesse else [grant.ability])
            return _Made(strike, called, (grant.damage,), per_action, False, ability)
    if base != UNARMED:
        raise AssertionError(f"the sheet has an attack {key} that no weapon, cantrip or body gives")
    strike = Strike(at, attack_words.of_body(unarmed=True))
    ability, _ = strike.settle_ability(["str"])
    return _Made(strike, called, ("bludgeoning",), per_action, False, ability)


def _damage(figures: Figures, key: str, strike: Strike, fields: dict[str, Any]) -> Roll:
    """Put the damage of a hit among the fields, with rerolled dice; return its dice."""
    number = figures.numbers.get(f"attack.{key}.damage")
    if number is None:
        return Roll()
    text = number.dice or str(number.value)
    found = re.match(r"(\d+)d(\d+)", text)
    roll = Roll(((int(found[1]), int(found[2])),)) if found else Roll()
    again = max(
        (g.grant.at_most for g in strike.holding("damage-reroll") if isinstance(g.grant, DamageReroll)), default=0
    )
    if again and found:
        # Only the weapon's own dice, which stand first, are rolled again.
        text = f"{found[0]} reroll {again} or lower{text[found.end() :]}"
    fields["damage"] = text
    return roll


def _criticals(strike: Strike, roll: Roll, fields: dict[str, Any]) -> list[str]:
    told = []
    ranges = [(g, g.grant.from_) for g in strike.holding("critical-range") if isinstance(g.grant, CriticalRange)]
    if ranges:
        granted, fields["critical_from"] = min(ranges, key=lambda found: found[1])
        told.append(f"{granted.label}, critical from {fields['critical_from']}")
    extra: list[str] = []
    more = [
        (g, int(strike.value(g, g.grant.dice)))
        for g in strike.holding("extra-critical-dice")
        if isinstance(g.grant, ExtraCriticalDice)
    ]
    if roll.dice:
        # Each of these features rolls dice of its own: Brutal Critical and Savage Attacks add up.
        for granted, count in more:
            if count:
                extra.append(f"{count}d{roll.dice[0][1]}")
                told.append(f"{granted.label}, {extra[-1]} more on a critical")
    for granted in strike.holding("extra-damage"):
        grant = granted.grant
        if isinstance(grant, ExtraDamage) and grant.how == "on-critical":
            extra.append(str(strike.value(granted, grant.dice)))
            told.append(f"{granted.label}, {extra[-1]} on a critical")
    if extra:
        fields["critical_dice"] = "+".join(extra)
    return told


def _once(strike: Strike, fields: dict[str, Any]) -> list[str]:
    found = []
    for granted in strike.holding("extra-damage"):
        grant = granted.grant
        if isinstance(grant, ExtraDamage) and grant.how == "once-per-turn":
            dice = strike.value(granted, grant.dice)
            if dice:
                found.append((str(dice), granted.label))
    if found:
        fields["once_per_turn"] = "+".join(dice for dice, _ in found)
    return [f"{dice} once a turn of {label}" for dice, label in found]


def _pools(strike: Strike) -> list[tuple[Any, ExtraDamage]]:
    return [
        (granted, granted.grant)
        for granted in strike.holding("extra-damage")
        if isinstance(granted.grant, ExtraDamage) and granted.grant.how == "per-use" and granted.grant.pool
    ]
