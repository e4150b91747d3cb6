"""Attacks with weapons and with the body: `attack.X.to_hit`, `attack.X.damage` and their variants.

SRD 5.1, Combat, Making an Attack and Damage Rolls; Equipment, Weapons.
"""

from collections.abc import Callable, Iterable
from typing import Any, NamedTuple

from engine.rules.content import Weapon
from engine.rules.grants.attacks import AttackBonus, Attacks, DamageBonus, NaturalWeapon
from engine.rules.limits import MAX_WEAPONS
from engine.rules.words import Ability
from engine.sheet import attack_words
from engine.sheet.dice import Roll
from engine.sheet.gathered import Carried, Granted
from engine.sheet.number import Number, Reason, stated, total
from engine.sheet.plan import At
from engine.sheet.strike import More, Strike, best_ability, mean_hit

__all__ = ["UNARMED", "Strike", "attacks", "per_action", "weapon_keys"]
KINDS = frozenset(
    {
        "attack-bonus", "damage-bonus", "damage-reroll", "off-hand-modifier", "extra-damage each-hit",
        "weapon-ability", "weapon-die", "natural-weapon", "proficiency weapon",
    }
)  # fmt: skip
ACTION_KINDS = frozenset({"attacks"})
UNARMED = "unarmed-strike"


def attacks(at: At) -> dict[str, Number]:
    """Return the numbers of all weapons among the gear, of the unarmed strike and of natural weapons."""
    numbers: dict[str, Number] = {}
    for key, thing in weapon_keys(at.outfit.weapons):
        numbers.update(_weapon(at, key, thing))
    numbers.update(_unarmed(at))
    for granted in at.holding("natural-weapon"):
        if isinstance(granted.grant, NaturalWeapon):
            numbers.update(_natural(at, granted, granted.grant))
    return numbers


def weapon_keys(weapons: Iterable[Carried]) -> list[tuple[str, Carried]]:
    """Return each weapon with the id under which its numbers stand; of equal ones the first, of very many the first.

    The id is the item's. Where weapons of one name differ in their bonus, those with a bonus carry it: `rapier-1`.
    """
    first: dict[tuple[str, int], Carried] = {}
    for thing in weapons:
        if len(first) < MAX_WEAPONS:
            first.setdefault((thing.pick.id, thing.pick.bonus), thing)
    bonuses: dict[str, set[int]] = {}
    for id_, bonus in first:
        bonuses.setdefault(id_, set()).add(bonus)
    return [
        (f"{id_.rpartition('/')[2]}-{bonus}" if bonus and len(bonuses[id_]) > 1 else id_.rpartition("/")[2], thing)
        for (id_, bonus), thing in first.items()
    ]


def _weapon(at: At, key: str, thing: Carried) -> dict[str, Number]:
    assert thing.item is not None
    weapon = thing.item.weapon
    assert weapon is not None
    name = f"attack.{key}"
    numbers = _use(at, name, thing, weapon, "")
    if weapon.versatile is not None:
        numbers.update(_use(at, f"{name}.two_handed", thing, weapon, "two_handed"))
    if weapon.reach == "melee" and "thrown" in weapon.properties:
        numbers.update(_use(at, f"{name}.thrown", thing, weapon, "thrown"))
    if _off_hand(at, thing, weapon):
        numbers.update(_use(at, f"{name}.off_hand", thing, weapon, "off_hand"))
    return numbers


def _off_hand(at: At, thing: Carried, weapon: Weapon) -> bool:
    """A weapon strikes from the other hand if it is marked so, or is one of two light melee weapons."""
    if "off-hand" in thing.flags:
        return True
    if not _light_melee(weapon):
        return False
    count = sum(
        c.count
        for c in at.outfit.weapons
        if c.item is not None and c.item.weapon is not None and _light_melee(c.item.weapon)
    )
    return count > 1


def _light_melee(weapon: Weapon) -> bool:
    return "light" in weapon.properties and weapon.reach == "melee"


class _Kit(NamedTuple):
    """What an attack is worth with one ability, without that ability's modifier and the proficiency bonus.

    trained: source of the proficiency. bonuses: to hit. roll, first: dice of one hit, None for no damage. flat:
    added to each hit. lost: dice that were not chosen. adding: how the modifier is added to damage: as it is, or
    in the other hand only a negative one, or by a feature's leave.
    """

    trained: str | None
    bonuses: tuple[Reason, ...]
    roll: Roll | None = None
    first: Reason | None = None
    flat: tuple[Reason, ...] = ()
    more: More | None = None
    lost: tuple[Reason, ...] = ()
    off_hand: bool = False
    leave: Granted | None = None


def _numbers(
    at: At,
    name: str,
    key: tuple[Any, ...],
    options: Iterable[Ability],
    strike: Callable[[], Strike],
    kit: Callable[[Strike], _Kit],
) -> dict[str, Number]:
    """Return `NAME.to_hit` and, if there is any, `NAME.damage`.

    key: what the attack is. What does not depend on scores is kept from an earlier level where nothing else changed.
    """
    plan = at.plan
    base = at.memo.get("attacks")
    if base is None:
        reading = plan.reading(KINDS)
        read = (at.bonus if reading.by_bonus else 0, at.score_key if reading.by_score else ())
        base = at.memo["attacks"] = plan.number_of(("attacks", at.outfit.since, read, at.key(KINDS)))
    made: Strike | None = None
    found: tuple[Ability, ...] | None = plan.memo.get(("abilities", key, base))
    if found is None:
        made = strike()
        found = plan.memo[("abilities", key, base)] = made.abilities(options)
    ability, others = best_ability(at, found)
    kept: _Kit | None = plan.memo.get(("kit", key, base, ability))
    if kept is None:
        made = made or strike()
        made.use(ability)
        kept = plan.memo[("kit", key, base, ability)] = kit(made)
    modifier = at.ability_reason(ability)
    to_hit = [modifier, *kept.bonuses]
    if kept.trained is not None:
        to_hit.insert(1, at.bonus_reason(kept.trained))
    numbers = {f"{name}.to_hit": total(to_hit, "bonus", others)}
    whole = ("damage", key, base, ability, at.scores[ability])
    damage: Number | None = plan.memo.get(whole)
    if damage is None and kept.roll is not None:
        damage = plan.memo[whole] = _damage(at, kept, modifier)
    if damage is not None:
        numbers[f"{name}.damage"] = damage
    return numbers


def _damage(at: At, kit: _Kit, modifier: Reason) -> Number:
    assert kit.roll is not None
    assert kit.first is not None
    assert kit.more is not None
    added, lost = _added(at, kit, modifier)
    return mean_hit(at, kit.roll, kit.first, (*added, *kit.flat), kit.more, (*kit.lost, *lost))


def _added(at: At, kit: _Kit, modifier: Reason) -> tuple[list[Reason], list[Reason]]:
    """The ability modifier of damage; in the other hand only a negative one, unless a feature adds it."""
    if not kit.off_hand or int(modifier.amount) < 0:
        return [modifier], []
    if kit.leave is not None:
        return [Reason(f"{modifier.label}, {kit.leave.label}", modifier.amount, kit.leave.source)], []
    if not modifier.amount:
        return [], []
    label = f"{modifier.label}, not added in the other hand"
    return [], [Reason(label, modifier.amount, at.rule("two-weapon-fighting"))]


def _use(at: At, name: str, thing: Carried, weapon: Weapon, use: str) -> dict[str, Number]:
    return _numbers(
        at,
        name,
        (thing.key, use),
        _options(weapon),
        lambda: _strike(at, thing, weapon, use),
        lambda strike: _weapon_kit(at, strike, thing, weapon, use),
    )


def _options(weapon: Weapon) -> tuple[Ability, ...]:
    """Abilities that a weapon can be used with: Dexterity at range, Strength in melee, either for a finesse weapon."""
    if "finesse" in weapon.properties:
        return ("str", "dex")
    return ("dex",) if weapon.reach == "ranged" else ("str",)


def _strike(at: At, thing: Carried, weapon: Weapon, use: str) -> Strike:
    assert thing.item is not None
    words = attack_words.of_weapon(at.outfit, thing, use)
    words["proficient"] = _trained(at, thing, weapon) is not None
    return Strike(at, words, thing.key)


def _trained(at: At, thing: Carried, weapon: Weapon) -> Granted | None:
    assert thing.item is not None
    return at.proficient("weapon", weapon.group, thing.item.id, thing.item.plain_id)


def _weapon_kit(at: At, strike: Strike, thing: Carried, weapon: Weapon, use: str) -> _Kit:
    assert thing.item is not None
    trained = _trained(at, thing, weapon)
    source = trained.source if trained is not None else None
    magic = []
    if thing.pick.bonus:
        magic.append(Reason(f"magic bonus, {thing.name}", thing.pick.bonus, at.rule("magic-items")))
    bonuses = (*strike.bonuses("attack-bonus", AttackBonus), *magic)
    both = use == "two_handed" or (use == "" and attack_words.in_both_hands(thing, weapon))
    die = weapon.versatile if both and weapon.versatile is not None else weapon.die
    if die is None:
        return _Kit(source, bonuses)
    label = f"{thing.item.name} in two hands" if both and weapon.versatile is not None else thing.item.name
    roll, first, lost = strike.settle_die(_roll(die), label, at.plan.source("item", thing.item.id))
    flat = (*strike.bonuses("damage-bonus", DamageBonus), *magic)
    leave = next(iter(strike.holding("off-hand-modifier")), None)
    return _Kit(source, bonuses, roll, first, flat, strike.more(roll), tuple(lost), use == "off_hand", leave)


def _roll(die: str) -> Roll:
    return Roll.of(int(die)) if die.isdecimal() else Roll.of(die)


def _unarmed(at: At) -> dict[str, Number]:
    """An unarmed strike deals 1 + Strength, and everybody is proficient with it."""
    source = at.rule("unarmed-strike")
    return _numbers(
        at,
        f"attack.{UNARMED}",
        (UNARMED,),
        ("str",),
        lambda: Strike(at, attack_words.of_body(unarmed=True)),
        lambda strike: _body_kit(strike, Roll((), 1), "unarmed strike", source),
    )


def _natural(at: At, granted: Granted, grant: NaturalWeapon) -> dict[str, Number]:
    roll = Roll.of(at.value(granted, grant.die))
    return _numbers(
        at,
        f"attack.{grant.id}",
        ("natural", grant.id, roll),
        ("str", "dex") if grant.finesse else (grant.ability,),
        lambda: Strike(at, attack_words.of_body(unarmed=False, finesse=grant.finesse)),
        lambda strike: _body_kit(strike, roll, grant.name, granted.source),
    )


def _body_kit(strike: Strike, roll: Roll, label: str, source: str) -> _Kit:
    bonuses = tuple(strike.bonuses("attack-bonus", AttackBonus))
    roll, first, lost = strike.settle_die(roll, label, source)
    flat = tuple(strike.bonuses("damage-bonus", DamageBonus))
    return _Kit(source, bonuses, roll, first, flat, strike.more(roll), tuple(lost))


def per_action(at: At) -> dict[str, Number]:
    """Return `attacks.per_action`; several features that raise it never add up."""
    found = [Reason("one attack with the Attack action", 1, at.rule("attacks"))]
    found.extend(
        Reason(granted.label, at.value(granted, granted.grant.number), granted.source)
        for granted in at.holding("attacks")
        if isinstance(granted.grant, Attacks)
    )
    best = max(found, key=lambda r: r.amount)
    beaten = [r for r in found if r is not best]
    return {"attacks.per_action": stated(best.amount, best.label, best.source, "attacks", beaten=beaten)}
