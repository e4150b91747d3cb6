"""Attacks against an armor class: hits, criticals, damage a round, and rounds to bring a creature down."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Literal

from engine.odds import d20, words
from engine.odds.d20 import D20
from engine.odds.damage import Taken
from engine.odds.distribution import Distribution, as_text, pmf_json
from engine.odds.limits import MAX_MODIFIER, dice_or_none, first, outside, too_much
from engine.odds.notation import MAX_WIDTH, UNIT, Expression, parse
from engine.problem import Refused

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

MAX_ATTACKS = 20
MAX_ROUNDS = 20
MAX_HIT_POINTS = 10_000
MAX_USES = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Attack(D20):
    """Some equal attacks in one round, whose roll is as in `D20`, against an armor class (AC).

    ac: armor class. damage: dice notation of one normal hit. attacks: how many a round, 1 to 20.
    critical_from: lowest natural face that makes a hit a critical. critical_dice: added to a critical as they
    stand. once_per_turn: dice added to the first hit of a round, doubled if that is a critical.

    pool: dice that one use of a pool adds to a hit, doubled on a critical, spent on the earliest hits
    (pool_when "hit") or criticals ("critical"). pool_per_round: uses a round at most, None for every one.
    pool_uses: uses in all, None for no end.

    resistance, vulnerability, immunity: of the target to all of the damage. hit_points: of the creature to
    bring down, None if that is not asked; rounds: for how many rounds it is answered, 1 to 20.
    """

    ac: int
    damage: str
    attacks: int = 1
    critical_from: int = 20
    critical_dice: str | None = None
    once_per_turn: str | None = None
    pool: str | None = None
    pool_when: Literal["hit", "critical"] = "hit"
    pool_per_round: int | None = None
    pool_uses: int | None = None
    resistance: bool = False
    vulnerability: bool = False
    immunity: bool = False
    hit_points: int | None = None
    rounds: int = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class AttackAnswer:
    """The answer to an `Attack`.

    hit: chance that one attack hits, criticals included; critical: that it is a critical; both also as
    fractions, or None. any_hit: chance that one attack of the round or more hits. per_hit: mean of one normal
    hit without anything that is added once. damage: distribution of the damage of one round. down: chance
    that the creature is down after round 1, 2, ...; empty if no hit points were given. basis: what was
    counted, in words.
    """

    question: Attack
    hit: float
    hit_fraction: Fraction | None
    critical: float
    critical_fraction: Fraction | None
    any_hit: float
    per_hit: float
    damage: Distribution
    down: tuple[float, ...]
    basis: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ByArmorClass:
    """What the same attacks do against one armor class: chance to hit, and mean damage a round."""

    ac: int
    hit: float
    mean: float


@dataclass(frozen=True, slots=True)
class _Shares:
    """Chances of one attack: a hit that is no critical, a critical, and neither."""

    normal: Fraction | float
    critical: Fraction | float
    miss: float


@dataclass(frozen=True, slots=True)
class _Dice:
    """The dice of an attack that were read: (normal, critical) each, None where there are none."""

    damage: tuple[Expression, Expression]
    critical_dice: Expression | None
    once: tuple[Expression, Expression] | None
    pool: tuple[Expression, Expression] | None

    def all(self) -> Iterable[Expression]:
        pairs = [pair for pair in (self.damage, self.once, self.pool) if pair]
        return [
            *(one for pair in pairs for one in pair),
            *([self.critical_dice] if self.critical_dice else []),
        ]

    def largest_hit(self) -> int:
        """Return a bound on the damage of one hit, before resistance."""
        return sum(max(0, one.size.high) for one in self.all())


def answer_attack(question: Attack) -> AttackAnswer | Refused:
    """Return what the attacks do, or why their numbers or dice cannot be used.

    A natural 1 misses; a natural 20 hits and is a critical. A face of `critical_from` or more makes a hit a
    critical but hits only by its total (only 1 and 20 are automatic). A critical rolls all dice of the hit
    twice. The damage of one hit is never below 0. Source: SRD 5.1, Combat, Attack Rolls, Critical Hits,
    Damage Resistance and Vulnerability; Classes, Rogue, Sneak Attack.
    """
    prepared = _prepared(question)
    if isinstance(prepared, Refused):
        return prepared
    added, dice = prepared
    shares = _shares(question, added, question.ac)
    turn = _Turn(question, dice, shares)
    spent = turn.round(turn.cap(question.pool_uses))
    hit = shares.normal + shares.critical
    return AttackAnswer(
        question=question,
        hit=float(hit),
        hit_fraction=hit if isinstance(hit, Fraction) else None,
        critical=float(shares.critical),
        critical_fraction=shares.critical if isinstance(shares.critical, Fraction) else None,
        any_hit=1 - shares.miss**question.attacks,
        per_hit=turn.hit_damage(critical=False, once=False, pool=False).mean(),
        damage=Distribution.from_mass(0, _summed(spent.values())),
        down=tuple(turn.down()) if question.hit_points is not None else (),
        basis=_basis(question),
    )


def by_armor_class(question: Attack, low: int = 10, high: int = 25) -> tuple[ByArmorClass, ...] | Refused:
    """Return what the same attacks do against each armor class from `low` to `high`, for a table or a picture.

    The first round counts, with a full pool. Refused as `answer_attack` is, or where `low` .. `high` has no
    or over 60 values.
    """
    prepared = outside("The number of armor classes", high - low + 1, 1, 60) or _prepared(question)
    if isinstance(prepared, Refused):
        return prepared
    added, dice = prepared
    turn = _Turn(question, dice, _shares(question, added, question.ac))
    rows = []
    for ac in range(low, high + 1):
        shares = _shares(question, added, ac)
        rows.append(ByArmorClass(ac=ac, hit=float(shares.normal + shares.critical), mean=turn.mean(shares)))
    return tuple(rows)


def as_json(answer: AttackAnswer) -> dict[str, Any]:
    """Return the answer in the form of the outside contract: hit, critical, mean, pmf (a round), and more."""
    return {
        "hit": answer.hit,
        "critical": answer.critical,
        "mean": answer.damage.mean(),
        "pmf": pmf_json(answer.damage),
        "hit_fraction": as_text(answer.hit_fraction),
        "critical_fraction": as_text(answer.critical_fraction),
        "sd": answer.damage.sd(),
        "any_hit": answer.any_hit,
        "per_hit": answer.per_hit,
        "attacks": answer.question.attacks,
        "hit_points": answer.question.hit_points,
        "down": list(answer.down),
        "basis": answer.basis,
        "words": words.chance(answer.hit if answer.hit_fraction is None else answer.hit_fraction),
    }


class _Turn:
    """One round of attacks, worked out attack by attack.

    A state is (whether the once-per-turn dice are spent, uses of the pool spent this round); what is kept for
    a state is the mass of the damage so far, over 0, 1, 2, ..., which sums to the chance of the state.
    """

    def __init__(self, question: Attack, dice: _Dice, shares: _Shares) -> None:
        self._question = question
        self._dice = dice
        self._shares = shares
        self._taken = Taken(
            resistance=question.resistance, vulnerability=question.vulnerability, immunity=question.immunity
        )
        self._hits: dict[tuple[bool, bool, bool], Distribution] = {}
        self._kernels: dict[tuple[bool, bool], dict[int, Floats]] = {}
        self._rounds: dict[int, dict[int, Floats]] = {}

    def cap(self, uses: int | None) -> int:
        """Return how many uses of the pool one round may take when `uses` are left (None: no end)."""
        question = self._question
        if self._dice.pool is None:
            return 0
        limits = (question.attacks, question.pool_per_round, uses)
        return min(limit for limit in limits if limit is not None)

    def hit_damage(self, *, critical: bool, once: bool, pool: bool) -> Distribution:
        """Return the damage of one hit."""
        key = (critical, once, pool)
        if key not in self._hits:
            which = int(critical)
            damage = self._dice.damage[which].distribution()
            if critical and self._dice.critical_dice is not None:
                damage = damage.plus(self._dice.critical_dice.distribution())
            if once and self._dice.once is not None:
                damage = damage.plus(self._dice.once[which].distribution())
            if pool and self._dice.pool is not None:
                damage = damage.plus(self._dice.pool[which].distribution())
            self._hits[key] = self._taken.spread(damage)
        return self._hits[key]

    def outcomes(self, once: bool, pool: bool, shares: _Shares) -> list[tuple[float, int, Distribution]]:
        """Return what one attack that hits can do: (chance, uses of the pool it takes, damage)."""
        always = self._question.pool_when == "hit"
        answer = []
        for share, critical in ((float(shares.normal), False), (float(shares.critical), True)):
            uses = pool and (always or critical)
            if share:
                answer.append((share, int(uses), self.hit_damage(critical=critical, once=once, pool=uses)))
        return answer

    def round(self, cap: int) -> dict[int, Floats]:
        """Return the mass of the damage of one round, split by the uses of the pool it took."""
        if cap not in self._rounds:
            self._rounds[cap] = self._worked_out(cap)
        return self._rounds[cap]

    def _worked_out(self, cap: int) -> dict[int, Floats]:
        import numpy as np

        states: dict[tuple[bool, int], Floats] = {(self._dice.once is None, 0): np.ones(1)}
        for _ in range(self._question.attacks):
            following: dict[tuple[bool, int], Floats] = {}
            for (spent, used), mass in states.items():
                if not spent:
                    _put(following, (False, used), mass * self._shares.miss)
                for uses, kernel in self._kernel(not spent, used < cap).items():
                    # Before the first hit all damage is 0, and a product is enough.
                    joined = kernel * mass[0] if len(mass) == 1 else np.convolve(mass, kernel)
                    _put(following, (True, used + uses), joined)
            states = following
        answer: dict[int, Floats] = {}
        for (_, used), mass in states.items():
            _put(answer, used, mass)
        return answer

    def _kernel(self, once: bool, pool: bool) -> dict[int, Floats]:
        """Return the mass of the damage of one attack by the uses it takes; a miss is in it unless `once` is due."""
        import numpy as np

        key = (once, pool)
        if key not in self._kernels:
            kernels: dict[int, Floats] = {}
            for share, uses, damage in self.outcomes(once, pool, self._shares):
                mass = np.zeros(damage.high + 1)
                mass[damage.low :] = share * damage.mass
                _put(kernels, uses, mass)
            if not once:
                _put(kernels, 0, np.full(1, self._shares.miss))
            self._kernels[key] = kernels
        return self._kernels[key]

    def mean(self, shares: _Shares) -> float:
        """Return the mean damage of the first round against an armor class where an attack has other chances."""
        cap = self.cap(self._question.pool_uses)
        states: dict[tuple[bool, int], float] = {(self._dice.once is None, 0): 1.0}
        gains = {
            (once, pool): [(share, uses, damage.mean()) for share, uses, damage in self.outcomes(once, pool, shares)]
            for once in ({False} if self._dice.once is None else {False, True})
            for pool in ({False} if not cap else {False, True})
        }
        total = 0.0
        for _ in range(self._question.attacks):
            following: dict[tuple[bool, int], float] = {}
            for (spent, used), chance in states.items():
                following[spent, used] = following.get((spent, used), 0.0) + chance * shares.miss
                for share, uses, damage in gains[not spent, used < cap]:
                    total += chance * share * damage
                    key = (True, used + uses)
                    following[key] = following.get(key, 0.0) + chance * share
            states = following
        return total

    def down(self) -> list[float]:
        """Return the chance that the damage of rounds 1 to n together reaches the hit points."""
        import numpy as np

        points = self._question.hit_points or 0
        uses = self._question.pool_uses if self._dice.pool is not None else None
        up: dict[int | None, Floats] = {uses: np.ones(1)}
        answer = []
        for _ in range(self._question.rounds):
            following: dict[int | None, Floats] = {}
            for left, mass in up.items():
                spent = self.round(self.cap(left))
                if left is None:
                    spent = {0: _summed(spent.values())}
                for used, damage in spent.items():
                    still = np.convolve(mass, damage[:points])[:points]
                    _put(following, None if left is None else left - used, still)
            up = following
            answer.append(min(1.0, max(0.0, 1 - sum(float(mass.sum()) for mass in up.values()))))
        return answer


def _prepared(question: Attack) -> tuple[Distribution, _Dice] | Refused:
    """Return what is added to the die and the dice of the damage, all limits held."""
    problem = first(
        outside("The armor class", question.ac, -MAX_MODIFIER, MAX_MODIFIER),
        outside("The number of attacks", question.attacks, 1, MAX_ATTACKS),
        outside("The lowest critical face", question.critical_from, 2, 20),
        outside("The number of rounds", question.rounds, 1, MAX_ROUNDS),
        outside("The hit points", question.hit_points or 1, 1, MAX_HIT_POINTS),
        outside("The uses of the pool a round", question.pool_per_round or 0, 0, MAX_USES),
        outside("The uses of the pool", question.pool_uses or 0, 0, MAX_USES),
    )
    if problem is not None:
        return problem
    dice = _dice(question)
    if isinstance(dice, Refused):
        return dice
    problem = _heavy(question, dice)
    if problem is not None:
        return problem
    added = d20.extra(question)
    return added if isinstance(added, Refused) else (added, dice)


def _dice(question: Attack) -> _Dice | Refused:
    damage = _pair(parse(question.damage))
    if isinstance(damage, Refused):
        return damage
    critical_dice = dice_or_none(question.critical_dice)
    if isinstance(critical_dice, Refused):
        return critical_dice
    once = _pair_or_none(question.once_per_turn)
    if isinstance(once, Refused):
        return once
    pool = _pair_or_none(question.pool)
    if isinstance(pool, Refused):
        return pool
    return _Dice(damage, critical_dice, once, pool)


def _pair(dice: Expression | Refused) -> tuple[Expression, Expression] | Refused:
    """Return dice with what a critical makes of them."""
    if isinstance(dice, Refused):
        return dice
    critical = dice.critical()
    return critical if isinstance(critical, Refused) else (dice, critical)


def _pair_or_none(text: str | None) -> tuple[Expression, Expression] | Refused | None:
    dice = dice_or_none(text)
    return None if dice is None else _pair(dice)


def _heavy(question: Attack, dice: _Dice) -> Refused | None:
    """Return a refusal where a round spans too many numbers or the whole question is too much work."""
    hit = dice.largest_hit() * (2 if question.vulnerability else 1) + 1
    width = hit * question.attacks
    if width > MAX_WIDTH:
        return Refused(
            "dice-too-large",
            f"The damage of a round could be any of {width} numbers; at most {MAX_WIDTH} are worked out."
            " Use fewer attacks or smaller dice.",
        )
    uses = min(question.attacks, MAX_USES if question.pool_per_round is None else question.pool_per_round)
    uses = uses if dice.pool is not None else 0
    kinds = 1 if question.pool_uses is None or not uses else min(uses, question.pool_uses) + 1
    steps = sum(2 * (min(done, uses) + 1) * (2 if uses else 1) for done in range(question.attacks))
    work = sum(one.size.work for one in dice.all()) * 2 + kinds * steps * _convolution(width / 2, hit)
    if question.hit_points is not None:
        left = 1 if question.pool_uses is None or not uses else question.pool_uses + 1
        points = min(question.hit_points, question.rounds * width)
        work += question.rounds * left * (uses + 1) * _convolution(points, min(points, width))
    return too_much(work, "Use fewer attacks, rounds or uses of the pool, or smaller dice.")


def _convolution(left: float, right: float) -> float:
    """Return the work of one direct convolution, in sums of 1000d6."""
    return (8 + 0.0005 * left * right) / UNIT


def _shares(question: Attack, added: Distribution, ac: int) -> _Shares:
    """Return the chances of one attack against an armor class."""
    faces = d20.natural(question)
    counts, total = faces.counts or (), faces.total or 1
    sums: list[int | float] = [0, 0]
    for face, count in enumerate(counts, 1):
        if face == 1 or not count:
            continue
        needed = ac - max(face, question.lowest)
        if face == 20:
            reached: int | float = added.total or 1
        else:
            outcomes = added.outcomes_at_least(needed)
            reached = outcomes if outcomes is not None else added.at_least(needed)
        sums[face >= question.critical_from] += count * reached
    whole = total * (added.total or 1)
    normal, critical = (Fraction(part, whole) if isinstance(part, int) else part / whole for part in sums)
    return _Shares(normal, critical, float(1 - normal - critical))


def _put(into: dict[Any, Floats], key: Any, mass: Floats) -> None:
    """Add mass to what stands under a key; both start at damage 0."""
    there = into.get(key)
    if there is None:
        into[key] = mass
    elif len(there) >= len(mass):
        there = there.copy()
        there[: len(mass)] += mass
        into[key] = there
    else:
        mass = mass.copy()
        mass[: len(there)] += there
        into[key] = mass


def _summed(parts: Iterable[Floats]) -> Floats:
    total: dict[int, Floats] = {}
    for part in parts:
        _put(total, 0, part)
    return total[0]


def _basis(question: Attack) -> str:
    plain = replace(question, critical_from=20)
    text = f"{words.times(question.attacks, 'attack')} a round, {d20.in_words(plain)} against armor class {question.ac}"
    text += f", {question.damage.strip()} a hit"
    if question.critical_from < 20:
        text += f", critical from {question.critical_from}"
    if question.critical_dice and question.critical_dice.strip():
        text += f", {question.critical_dice.strip()} more on a critical"
    if question.once_per_turn and question.once_per_turn.strip():
        text += f", {question.once_per_turn.strip()} once on the first hit"
    if question.pool and question.pool.strip():
        on = "hits" if question.pool_when == "hit" else "criticals"
        text += f", {question.pool.strip()} from a pool on the first {on}"
        if question.pool_per_round is not None:
            text += f", {question.pool_per_round} a round at most"
        if question.pool_uses is not None:
            text += f", {words.times(question.pool_uses, 'use')} in all"
    taken = Taken(resistance=question.resistance, vulnerability=question.vulnerability, immunity=question.immunity)
    return text + taken.in_words()
