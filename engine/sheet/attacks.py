"""Attacks with weapons and with the body: `attack.X.to_hit`, `attack.X.damage` and their variants.

SRD 5.1, Combat, Making an Attack and Damage Rolls; Equipment, Weapons.
"""

from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import Any

from engine.rules.content import Weapon
from engine.rules.grants.attacks import (
    AttackBonus,
    Attacks,
    DamageBonus,
    DamageReroll,
    ExtraDamage,
    NaturalWeapon,
    WeaponAbility,
    WeaponDie,
)
from engine.rules.words import Ability
from engine.sheet import attack_words
from engine.sheet.dice import Roll, mean_not_below_zero, reroll_gain
from engine.sheet.gathered import Carried, Granted
from engine.sheet.number import Number, Reason, stated, tidy, total
from engine.sheet.plan import At

KINDS = frozenset(
    {
        "attack-bonus", "damage-bonus", "damage-reroll", "off-hand-modifier", "attacks", "extra-damage",
        "weapon-ability", "weapon-die", "natural-weapon", "proficiency",
    }
)  # fmt: skip
UNARMED = "unarmed-strike"


class Strike:
    """One attack while its numbers are worked out: what it is, and which grants count for it.

    words: attack words. item: JSON pointer of the weapon among the gear, whose own grants count for it alone.
    """

    def __init__(self, at: At, words: dict[str, Any], item: str | None = None) -> None:
        self.at = at
        self.words = words
        self.item = item
        self._scopes: dict[str | None, dict[str, Any]] = {}

    def holding(self, kind: str) -> Iterator[Granted]:
        """Yield the grants of a kind that count for this attack."""
        for granted in self.at.active(kind):
            if granted.item is not None and granted.item != self.item and self._of_weapon(granted):
                continue
            when = granted.grant.when
            if when is None or when.evaluate(self.scope(granted.owner)):
                yield granted

    def _of_weapon(self, granted: Granted) -> bool:
        return any(c.key == granted.item and c.held_by_hand for c in self.at.outfit.carried)

    def scope(self, owner: str | None) -> dict[str, Any]:
        """Return the words of formulas for an owner during this attack."""
        found = self._scopes.get(owner)
        if found is None:
            found = self._scopes[owner] = {**self.at.scope(owner), **self.words}
        return found

    def value(self, granted: Granted, formula: Any) -> Any:
        """Return what a formula of a grant is worth during this attack."""
        constant = formula.constant
        return constant if constant is not None else formula.evaluate(self.scope(granted.owner))

    def settle_ability(self, options: Iterable[Ability]) -> tuple[Ability, list[Reason]]:
        """Choose the ability: the better modifier, Strength where they are equal. Return it and those it beats."""
        found: list[Ability] = list(options)
        found.extend(
            granted.grant.ability
            for granted in self.holding("weapon-ability")
            if isinstance(granted.grant, WeaponAbility)
        )
        found = sorted(dict.fromkeys(found), key=lambda a: a != "str")
        best = max(found, key=lambda a: self.at.modifiers[a])
        self.words["by_strength"] = best == "str"
        self._scopes.clear()
        return best, [self.at.ability_reason(a) for a in found if a != best]

    def bonuses(self, kind: str, model: type[AttackBonus] | type[DamageBonus]) -> list[Reason]:
        """Return flat bonuses to hit or to damage as reasons."""
        return [
            Reason(granted.label, amount, granted.source)
            for granted in self.holding(kind)
            if isinstance(granted.grant, model) and (amount := self.value(granted, granted.grant.amount))
        ]

    def settle_die(self, roll: Roll, label: str, source: str) -> tuple[Roll, Reason, list[Reason]]:
        """Choose the damage dice: the better mean. Return the roll, its reason, and those it beats."""
        found = [(roll, Reason(f"{roll}, {label}", tidy(roll.mean), source))]
        for granted in self.holding("weapon-die"):
            grant = granted.grant
            if isinstance(grant, WeaponDie):
                other = Roll.of(self.value(granted, grant.die))
                found.append((other, Reason(f"{other}, {granted.label}", tidy(other.mean), granted.source)))
        best = max(found, key=lambda f: f[0].mean)
        return best[0], best[1], [reason for _, reason in found if reason is not best[1]]

    def damage(self, roll: Roll, first: Reason, flat: list[Reason], beaten: list[Reason]) -> Number:
        """Return the mean of one normal hit, with dice that every hit adds; never below 0."""
        reasons = [first]
        gain = Fraction(0)
        for granted in self.holding("damage-reroll"):
            grant = granted.grant
            if isinstance(grant, DamageReroll) and reroll_gain(roll, grant.at_most) > gain:
                gain = reroll_gain(roll, grant.at_most)
                label = f"{granted.label}, {grant.at_most} or less rolled once more"
                reasons[1:] = [Reason(label, tidy(gain), granted.source)]
        reasons.extend(flat)
        whole = roll.plus(sum(int(r.amount) for r in flat))
        for granted in self.holding("extra-damage"):
            grant = granted.grant
            if not isinstance(grant, ExtraDamage) or not counts_each_hit(granted, grant):
                continue
            extra = Roll.of(self.value(granted, grant.dice))
            reasons.append(Reason(f"{extra}, {granted.label}", tidy(extra.mean), granted.source))
            whole = whole.and_(extra)
        if whole.least < 0:
            lift = mean_not_below_zero(whole) - whole.mean
            reasons.append(Reason("damage is never below 0", tidy(lift), self.at.rule("damage")))
        return total(reasons, "damage", beaten, dice=str(whole) if whole.dice else None)


def counts_each_hit(granted: Granted, grant: ExtraDamage) -> bool:
    """Tell whether extra dice belong to one normal hit: every hit, without a limit that is not switched on."""
    return grant.how == "each-hit" and (grant.limited is None or granted.state is not None)


def attacks(at: At) -> dict[str, Number]:
    """Return the numbers of all weapons among the gear, of the unarmed strike and of natural weapons."""
    numbers: dict[str, Number] = {}
    for key, thing in weapon_keys(at.outfit.weapons):
        numbers.update(_weapon(at, key, thing))
    numbers.update(_unarmed(at))
    for granted in at.holding("natural-weapon"):
        if isinstance(granted.grant, NaturalWeapon):
            numbers.update(_natural(at, granted, granted.grant))
    numbers["attacks.per_action"] = _per_action(at)
    return numbers


def weapon_keys(weapons: Iterable[Carried]) -> list[tuple[str, Carried]]:
    """Return each weapon with the id under which its numbers stand; of equal ones the first.

    The id is the item's. Where weapons of one name differ in their bonus, those with a bonus carry it: `rapier-1`.
    """
    first: dict[tuple[str, int], Carried] = {}
    for thing in weapons:
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


def _use(at: At, name: str, thing: Carried, weapon: Weapon, use: str) -> dict[str, Number]:
    assert thing.item is not None
    words = attack_words.of_weapon(at.outfit, thing, use)
    strike = Strike(at, words, thing.key)
    trained = at.proficient("weapon", weapon.group, thing.item.id, thing.item.plain_id)
    words["proficient"] = trained is not None
    options: list[Ability] = ["dex"] if weapon.reach == "ranged" else ["str"]
    if "finesse" in weapon.properties:
        options = ["str", "dex"]
    ability, others = strike.settle_ability(options)
    modifier = at.ability_reason(ability)
    magic = []
    if thing.pick.bonus:
        magic.append(Reason(f"magic bonus, {thing.name}", thing.pick.bonus, at.rule("magic-items")))
    to_hit = [modifier]
    if trained is not None:
        to_hit.append(at.bonus_reason(trained.source))
    to_hit.extend([*strike.bonuses("attack-bonus", AttackBonus), *magic])
    numbers = {f"{name}.to_hit": total(to_hit, "bonus", others)}
    both = use == "two_handed" or (use == "" and attack_words.in_both_hands(thing, weapon))
    die = weapon.versatile if both and weapon.versatile is not None else weapon.die
    if die is None:
        return numbers
    label = f"{thing.item.name} in two hands" if both and weapon.versatile is not None else thing.item.name
    source = at.catalog.source("item", thing.item.id)
    roll, first, lost = strike.settle_die(_roll(die), label, source)
    flat: list[Reason] = []
    if use != "off_hand" or int(modifier.amount) < 0:
        flat.append(modifier)
    else:
        added = next(strike.holding("off-hand-modifier"), None)
        if added is not None:
            flat.append(Reason(f"{modifier.label}, {added.label}", modifier.amount, added.source))
        elif modifier.amount:
            lost.append(
                Reason(
                    f"{modifier.label}, not added in the other hand", modifier.amount, at.rule("two-weapon-fighting")
                )
            )
    flat.extend([*strike.bonuses("damage-bonus", DamageBonus), *magic])
    numbers[f"{name}.damage"] = strike.damage(roll, first, flat, lost)
    return numbers


def _roll(die: str) -> Roll:
    return Roll.of(int(die)) if die.isdecimal() else Roll.of(die)


def _unarmed(at: At) -> dict[str, Number]:
    """An unarmed strike deals 1 + Strength, and everybody is proficient with it."""
    source = at.rule("unarmed-strike")
    strike = Strike(at, attack_words.of_body(unarmed=True))
    return _body(at, f"attack.{UNARMED}", strike, ["str"], Roll((), 1), "unarmed strike", source)


def _natural(at: At, granted: Granted, grant: NaturalWeapon) -> dict[str, Number]:
    strike = Strike(at, attack_words.of_body(unarmed=False, finesse=grant.finesse))
    options: list[Ability] = [grant.ability]
    if grant.finesse:
        options = ["str", "dex"]
    roll = Roll.of(at.value(granted, grant.die))
    return _body(at, f"attack.{grant.id}", strike, options, roll, grant.name, granted.source)


def _body(
    at: At, name: str, strike: Strike, options: list[Ability], roll: Roll, label: str, source: str
) -> dict[str, Number]:
    ability, others = strike.settle_ability(options)
    modifier = at.ability_reason(ability)
    to_hit = [modifier, at.bonus_reason(source), *strike.bonuses("attack-bonus", AttackBonus)]
    roll, first, lost = strike.settle_die(roll, label, source)
    flat = [modifier, *strike.bonuses("damage-bonus", DamageBonus)]
    return {
        f"{name}.to_hit": total(to_hit, "bonus", others),
        f"{name}.damage": strike.damage(roll, first, flat, lost),
    }


def _per_action(at: At) -> Number:
    found = [Reason("one attack with the Attack action", 1, at.rule("attacks"))]
    found.extend(
        Reason(granted.label, at.value(granted, granted.grant.number), granted.source)
        for granted in at.holding("attacks")
        if isinstance(granted.grant, Attacks)
    )
    best = max(found, key=lambda r: r.amount)
    return stated(best.amount, best.label, best.source, "attacks", beaten=[r for r in found if r is not best])
