"""Odds by listing every outcome: slow, plain, exact, and importing nothing of the engine.

A distribution here is a dict from a value to its exact chance. Rules are from SRD 5.1; each
function names its section.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from fractions import Fraction
from functools import cache
from itertools import permutations, product

Chances = dict[int, Fraction]


def gathered(outcomes: Iterable[tuple[int, Fraction]]) -> Chances:
    """Add up the chances of equal values."""
    answer: Chances = {}
    for value, chance in outcomes:
        answer[value] = answer.get(value, Fraction(0)) + chance
    return answer


def faces(sides: Sequence[int]) -> Iterator[tuple[int, ...]]:
    """List all ways some dice can fall."""
    return product(*(range(1, side + 1) for side in sides))


def rolled(sides: Sequence[int], total: Callable[[Sequence[int]], int] = sum) -> Chances:
    """The distribution of what `total` makes of the faces of the dice."""
    ways = 1
    for side in sides:
        ways *= side
    return gathered((total(fall), Fraction(1, ways)) for fall in faces(sides))


def at_least(chances: Chances, value: int) -> Fraction:
    return sum((chance for face, chance in chances.items() if face >= value), start=Fraction(0))


def mean(chances: Chances) -> Fraction:
    return sum((value * chance for value, chance in chances.items()), start=Fraction(0))


def d20_falls(edge: int, reroll_ones: bool) -> Iterator[tuple[int, Fraction]]:
    """List, for every fall of the dice, the face that counts of a d20 roll with its chance.

    Source: SRD 5.1, Using Ability Scores, Advantage and Disadvantage (of two dice only one may be rolled again);
    Races, Halfling, Lucky.
    """
    take = max if edge > 0 else min
    for first in range(1, 21):
        if not edge:
            if first == 1 and reroll_ones:
                yield from ((again, Fraction(1, 400)) for again in range(1, 21))
            else:
                yield first, Fraction(1, 20)
            continue
        for second in range(1, 21):
            if reroll_ones and first == 1:
                yield from ((take(again, second), Fraction(1, 8000)) for again in range(1, 21))
            elif reroll_ones and second == 1:
                yield from ((take(first, again), Fraction(1, 8000)) for again in range(1, 21))
            else:
                yield take(first, second), Fraction(1, 400)


@cache
def d20_faces(edge: int = 0, reroll_ones: bool = False) -> tuple[tuple[int, Fraction], ...]:
    """The chance of each face that can count."""
    return tuple(gathered(d20_falls(edge, reroll_ones)).items())


def d20_totals(
    bonus: int,
    edge: int = 0,
    lowest: int = 1,
    reroll_ones: bool = False,
    plus: Sequence[int] = (),
    minus: Sequence[int] = (),
) -> Chances:
    """The distribution of a whole roll; `plus` and `minus` are the sides of extra dice."""
    ways = 1
    for side in (*plus, *minus):
        ways *= side
    return gathered(
        (max(face, lowest) + bonus + sum(added) - sum(taken), chance / ways)
        for face, chance in d20_faces(edge, reroll_ones)
        for added in faces(plus)
        for taken in faces(minus)
    )


def saved_damage(damage: Chances, fail: Fraction, half: bool) -> Chances:
    """What one target takes. Source: SRD 5.1, Using Ability Scores, Saving Throws; Introduction, Rounding Down."""
    outcomes = []
    for points, chance in damage.items():
        outcomes.append((max(0, points), chance * fail))
        outcomes.append((max(0, points) // 2 if half else 0, chance * (1 - fail)))
    return gathered(outcomes)


def how_many(shares: Sequence[Fraction]) -> Chances:
    """How many of independent tries succeed."""
    outcomes = []
    for results in product((0, 1), repeat=len(shares)):
        chance = Fraction(1)
        for result, share in zip(results, shares, strict=True):
            chance *= share if result else 1 - share
        outcomes.append((sum(results), chance))
    return gathered(outcomes)


def attack_faces(bonus: int, ac: int, critical_from: int, edge: int) -> tuple[Fraction, Fraction]:
    """Chances of a normal hit and of a critical. Source: SRD 5.1, Combat, Rolling 1 or 20; Critical Hits."""
    normal = critical = Fraction(0)
    for face, chance in d20_faces(edge):
        if face == 20 or (face != 1 and face + bonus >= ac):
            if face >= critical_from:
                critical += chance
            else:
                normal += chance
    return normal, critical


def attack_round(
    normal: Fraction,
    critical: Fraction,
    attacks: int,
    dice: Sequence[int],
    flat: int,
    once: Sequence[int] = (),
    critical_dice: Sequence[int] = (),
    pool: Sequence[int] = (),
    uses: int = 0,
    taken: Callable[[int], int] = lambda points: points,
) -> Chances:
    """The damage of one round, attack by attack and die by die.

    Source: SRD 5.1, Combat, Critical Hits (all dice twice, modifiers once); Classes, Rogue, Sneak Attack (once a turn).
    """
    if not attacks:
        return {0: Fraction(1)}
    outcomes = []
    for kind, chance in (("miss", 1 - normal - critical), ("hit", normal), ("critical", critical)):
        if not chance:
            continue
        if kind == "miss":
            rest = attack_round(normal, critical, attacks - 1, dice, flat, once, critical_dice, pool, uses, taken)
            outcomes += [(points, chance * share) for points, share in rest.items()]
            continue
        thrown = [*dice, *once, *(pool if uses else ())]
        if kind == "critical":
            thrown = [*thrown, *thrown, *critical_dice]
        rest = attack_round(normal, critical, attacks - 1, dice, flat, (), critical_dice, pool, max(0, uses - 1), taken)
        for points, share in rolled(thrown).items():
            hit = taken(max(0, points + flat))
            outcomes += [(hit + more, chance * share * after) for more, after in rest.items()]
    return gathered(outcomes)


def death_saves(throw: Callable[[], list[tuple[str, Fraction]]], good: int = 0, bad: int = 0) -> dict[str, Fraction]:
    """Where death saves end. Source: SRD 5.1, Combat, Death Saving Throws."""
    if good >= 3:
        return {"stable": Fraction(1)}
    if bad >= 3:
        return {"dead": Fraction(1)}
    ends: dict[str, Fraction] = {}
    for result, chance in throw():
        if result == "up":
            after = {"up": Fraction(1)}
        else:
            step = {"success": (1, 0), "failure": (0, 1), "two failures": (0, 2)}[result]
            after = death_saves(throw, good + step[0], bad + step[1])
        for end, share in after.items():
            ends[end] = ends.get(end, Fraction(0)) + chance * share
    return ends


def scores_meet(one: Chances, needs: Sequence[tuple[Sequence[str], int]], count: int) -> Fraction:
    """The chance that some way to give out the scores meets every need, by trying all ways for all rolls."""
    abilities = ("str", "dex", "con", "int", "wis", "cha")[:count]
    answer = Fraction(0)
    verdicts: dict[tuple[int, ...], bool] = {}
    for scores in product(sorted(one), repeat=count):
        key = tuple(sorted(scores))
        if key not in verdicts:
            verdicts[key] = any(
                all(any(given[ability] >= minimum for ability in choice) for choice, minimum in needs)
                for given in (dict(zip(abilities, order, strict=True)) for order in permutations(key))
            )
        if verdicts[key]:
            chance = Fraction(1)
            for score in scores:
                chance *= one[score]
            answer += chance
    return answer
