"""Attacks with weapons and with the body: `attack.X.to_hit`, `attack.X.damage` and their variants.

SRD 5.1, Combat, Making an Attack and Damage Rolls; Equipment, Weapons.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
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
from engine.sheet.plan import At, Scope

KINDS = frozenset(
    {
        "attack-bonus", "damage-bonus", "damage-reroll", "off-hand-modifier", "extra-damage each-hit",
        "weapon-ability", "weapon-die", "natural-weapon", "proficiency weapon",
    }
)  # fmt: skip
ACTION_KINDS = frozenset({"attacks"})
UNARMED = "unarmed-strike"


class Strike:
    """One attack while its numbers are worked out: what it is, and which grants count for it.

    words: attack words. item: JSON pointer of the weapon among the gear, whose own grants count for it alone.
    """

    def __init__(self, at: At, words: dict[str, Any], item: str | None = None) -> None:
        self.at = at
        self.words = words
        self.item = item
        self._scopes: dict[str | None, Scope] = {}

    def holding(self, kind: str) -> Sequence[Granted]:
        """Return the grants of a kind that count for this attack."""
        found = []
        for granted in self.at.active(kind):
            if granted.item is not None and granted.item != self.item and self._of_weapon(granted):
                continue
            when = granted.grant.when
            if when is None or when.evaluate(self.scope(granted.owner)):
                found.append(granted)
        return found

    def _of_weapon(self, granted: Granted) -> bool:
        return any(c.key == granted.item and c.held_by_hand for c in self.at.outfit.carried)

    def scope(self, owner: str | None) -> Scope:
        """Return the words of formulas for an owner during this attack."""
        found = self._scopes.get(owner)
        if found is None:
            found = self._scopes[owner] = Scope(self.at, owner)
            found.update(self.words)
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
        for granted in self.holding("extra-damage each-hit"):
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


@dataclass(frozen=True, slots=True)
class _Blow:
    """What an attack is worth without the proficiency bonus."""

    modifier: Reason
    others: tuple[Reason, ...]
    trained: str | None
    bonuses: tuple[Reason, ...]
    damage: Number | None

    def numbers(self, at: At, name: str) -> dict[str, Number]:
        """Return `NAME.to_hit` and, if there is any, `NAME.damage`."""
        to_hit = [self.modifier]
        if self.trained is not None:
            to_hit.append(at.bonus_reason(self.trained))
        found = {f"{name}.to_hit": total([*to_hit, *self.bonuses], "bonus", self.others)}
        if self.damage is not None:
            found[f"{name}.damage"] = self.damage
        return found


def _more_abilities(at: At) -> tuple[Ability, ...]:
    """Abilities that features and bodies let attacks of the build use at any level."""
    found: tuple[Ability, ...] | None = at.plan.memo.get("attack abilities")
    if found is None:
        more = [
            g.grant.ability
            for kind in ("weapon-ability", "natural-weapon")
            for g in at.plan.by_kind.get(kind, ())
            if isinstance(g.grant, (WeaponAbility, NaturalWeapon))
        ]
        found = at.plan.memo["attack abilities"] = tuple(dict.fromkeys(more))
    return found


def _kept(at: At, key: tuple[Any, ...], options: Iterable[Ability], compute: Callable[[], _Blow]) -> _Blow:
    """Return an attack kept from an earlier level where nothing that it reads has changed.

    options: abilities that it can use without any feature.
    """
    plan = at.plan
    reading = plan.reading(KINDS)
    bonus = at.bonus if reading.by_bonus else 0
    scores = at.score_key if reading.by_score else tuple([at.scores[a] for a in (*options, *_more_abilities(at))])
    base = at.memo.get("blows")
    if base is None:
        base = at.memo["blows"] = plan.number_of(("blows", at.outfit.since, bonus, at.key(KINDS)))
    whole = ("blow", *key, scores, base)
    found: _Blow | None = plan.memo.get(whole)
    if found is None:
        found = plan.memo[whole] = compute()
    return found


def _use(at: At, name: str, thing: Carried, weapon: Weapon, use: str) -> dict[str, Number]:
    options = _options(weapon)
    return _kept(at, (thing.key, use), options, lambda: _blow(at, thing, weapon, use, options)).numbers(at, name)


def _options(weapon: Weapon) -> tuple[Ability, ...]:
    """Abilities that a weapon can be used with: Dexterity at range, Strength in melee, either for a finesse weapon."""
    if "finesse" in weapon.properties:
        return ("str", "dex")
    return ("dex",) if weapon.reach == "ranged" else ("str",)


def _blow(at: At, thing: Carried, weapon: Weapon, use: str, options: Iterable[Ability]) -> _Blow:
    assert thing.item is not None
    key = ("attack words", thing.key, use, at.outfit.since)
    known = at.plan.memo.get(key)
    if known is None:
        known = at.plan.memo[key] = attack_words.of_weapon(at.outfit, thing, use)
    words = dict(known)
    strike = Strike(at, words, thing.key)
    trained = at.proficient("weapon", weapon.group, thing.item.id, thing.item.plain_id)
    words["proficient"] = trained is not None
    ability, others = strike.settle_ability(options)
    modifier = at.ability_reason(ability)
    magic = []
    if thing.pick.bonus:
        magic.append(Reason(f"magic bonus, {thing.name}", thing.pick.bonus, at.rule("magic-items")))
    bonuses = (*strike.bonuses("attack-bonus", AttackBonus), *magic)
    both = use == "two_handed" or (use == "" and attack_words.in_both_hands(thing, weapon))
    die = weapon.versatile if both and weapon.versatile is not None else weapon.die
    damage = None
    if die is not None:
        label = f"{thing.item.name} in two hands" if both and weapon.versatile is not None else thing.item.name
        source = at.plan.source("item", thing.item.id)
        roll, first, lost = strike.settle_die(_roll(die), label, source)
        flat = _modifier_of_damage(at, strike, modifier, use, lost)
        flat.extend([*strike.bonuses("damage-bonus", DamageBonus), *magic])
        damage = strike.damage(roll, first, flat, lost)
    return _Blow(modifier, tuple(others), trained.source if trained is not None else None, bonuses, damage)


def _modifier_of_damage(at: At, strike: Strike, modifier: Reason, use: str, lost: list[Reason]) -> list[Reason]:
    """The ability modifier; in the other hand only a negative one, unless a feature adds it."""
    if use != "off_hand" or int(modifier.amount) < 0:
        return [modifier]
    added = next(iter(strike.holding("off-hand-modifier")), None)
    if added is not None:
        return [Reason(f"{modifier.label}, {added.label}", modifier.amount, added.source)]
    if modifier.amount:
        label = f"{modifier.label}, not added in the other hand"
        lost.append(Reason(label, modifier.amount, at.rule("two-weapon-fighting")))
    return []


def _roll(die: str) -> Roll:
    return Roll.of(int(die)) if die.isdecimal() else Roll.of(die)


def _unarmed(at: At) -> dict[str, Number]:
    """An unarmed strike deals 1 + Strength, and everybody is proficient with it."""
    source = at.rule("unarmed-strike")

    def blow() -> _Blow:
        strike = Strike(at, attack_words.of_body(unarmed=True))
        return _body(at, strike, ["str"], Roll((), 1), "unarmed strike", source)

    return _kept(at, (UNARMED,), ("str",), blow).numbers(at, f"attack.{UNARMED}")


def _natural(at: At, granted: Granted, grant: NaturalWeapon) -> dict[str, Number]:
    strike = Strike(at, attack_words.of_body(unarmed=False, finesse=grant.finesse))
    options: list[Ability] = [grant.ability]
    if grant.finesse:
        options = ["str", "dex"]
    roll = Roll.of(at.value(granted, grant.die))
    return _body(at, strike, options, roll, grant.name, granted.source).numbers(at, f"attack.{grant.id}")


def _body(at: At, strike: Strike, options: list[Ability], roll: Roll, label: str, source: str) -> _Blow:
    ability, others = strike.settle_ability(options)
    modifier = at.ability_reason(ability)
    bonuses = tuple(strike.bonuses("attack-bonus", AttackBonus))
    roll, first, lost = strike.settle_die(roll, label, source)
    flat = [modifier, *strike.bonuses("damage-bonus", DamageBonus)]
    return _Blow(modifier, tuple(others), source, bonuses, strike.damage(roll, first, flat, lost))


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
