"""One attack: what it is, which grants count for it, and what they make of it."""

from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Any, NamedTuple

from engine.rules.grants.attacks import AttackBonus, DamageBonus, DamageReroll, ExtraDamage, WeaponAbility, WeaponDie
from engine.rules.limits import MAX_HIT_DICE
from engine.rules.words import Ability
from engine.sheet.dice import Roll, mean_not_below_zero, reroll_gain
from engine.sheet.gathered import Granted
from engine.sheet.number import Number, Reason, tidy, total
from engine.sheet.plan import At, Scope


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

    def abilities(self, options: Iterable[Ability]) -> tuple[Ability, ...]:
        """Return the abilities that the attack can use: its own, and those that features add; Strength first."""
        found: list[Ability] = list(options)
        found.extend(
            granted.grant.ability
            for granted in self.holding("weapon-ability")
            if isinstance(granted.grant, WeaponAbility)
        )
        return tuple(sorted(dict.fromkeys(found), key=lambda ability: ability != "str"))

    def use(self, ability: Ability) -> None:
        """Let the attack use an ability, which conditions may ask about."""
        self.words["by_strength"] = ability == "str"
        self._scopes.clear()

    def settle_ability(self, options: Iterable[Ability]) -> tuple[Ability, list[Reason]]:
        """Choose the ability: the better modifier, Strength where they are equal. Return it and those it beats."""
        best, others = best_ability(self.at, self.abilities(options))
        self.use(best)
        return best, others

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

    def more(self, roll: Roll) -> "More":
        """Return what every hit adds to its dice: the gain of dice rolled once more, and dice of other features."""
        gain: list[Reason] = []
        best = Fraction(0)
        for granted in self.holding("damage-reroll"):
            grant = granted.grant
            if isinstance(grant, DamageReroll) and reroll_gain(roll, grant.at_most) > best:
                best = reroll_gain(roll, grant.at_most)
                label = f"{granted.label}, {grant.at_most} or less rolled once more"
                gain = [Reason(label, tidy(best), granted.source)]
        extra, parts = Roll(), []
        for granted in self.holding("extra-damage each-hit"):
            grant = granted.grant
            if isinstance(grant, ExtraDamage) and counts_each_hit(granted, grant):
                dice = Roll.of(self.value(granted, grant.dice))
                if sum(count for count, _ in (*extra.dice, *dice.dice)) > MAX_HIT_DICE:
                    break
                parts.append(Reason(f"{dice}, {granted.label}", tidy(dice.mean), granted.source))
                extra = extra.and_(dice)
        return More(tuple(gain), extra, tuple(parts))

    def damage(self, roll: Roll, first: Reason, flat: Sequence[Reason], beaten: Iterable[Reason]) -> Number:
        """Return the mean of one normal hit, with dice that every hit adds; never below 0."""
        return mean_hit(self.at, roll, first, flat, self.more(roll), beaten)


class More(NamedTuple):
    """What every hit adds to its dice: the gain of dice rolled once more, dice of other features, and their reasons."""

    gain: tuple[Reason, ...]
    roll: Roll
    reasons: tuple[Reason, ...]


def best_ability(at: At, found: Sequence[Ability]) -> tuple[Ability, list[Reason]]:
    """Return the ability with the better modifier, the first where they are equal, and the others as reasons."""
    best = max(found, key=lambda ability: at.modifiers[ability])
    return best, [at.ability_reason(ability) for ability in found if ability != best]


def mean_hit(at: At, roll: Roll, first: Reason, flat: Sequence[Reason], more: More, beaten: Iterable[Reason]) -> Number:
    """Return the damage of one normal hit: dice, what is added to them, never below 0 (Combat, Damage Rolls)."""
    reasons = [first, *more.gain, *flat, *more.reasons]
    whole = roll.plus(sum([int(r.amount) for r in flat]))
    if more.roll.dice or more.roll.flat:
        whole = whole.and_(more.roll)
    if whole.least < 0:
        lift = mean_not_below_zero(whole) - whole.mean
        reasons.append(Reason("damage is never below 0", tidy(lift), at.rule("damage")))
    return total(reasons, "damage", beaten, dice=str(whole) if whole.dice else None)


def counts_each_hit(granted: Granted, grant: ExtraDamage) -> bool:
    """Tell whether extra dice belong to one normal hit: every hit, without a limit that is not switched on."""
    return grant.how == "each-hit" and (grant.limited is None or granted.state is not None)
