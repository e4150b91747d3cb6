"""One roll of a d20 with all that a build or a situation does to it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import gcd

from engine.odds import words
from engine.odds.distribution import Distribution
from engine.odds.limits import MAX_MODIFIER, dice_or_none, first, outside
from engine.problem import Refused


@dataclass(frozen=True, slots=True, kw_only=True)
class D20:
    """A d20 roll: an ability check, a saving throw or an attack roll before it is compared with anything.

    bonus: added to the die, points, any sign. advantage, disadvantage: together they cancel. lowest: faces of
    the kept die below it count as it (10 for "9 or lower counts as 10"); 1 changes nothing. reroll_ones: one
    die that shows a 1 is rolled once more (of two dice only one of them). plus, minus: dice notation that
    others add or take away, such as `1d4`.

    Source: SRD 5.1, Using Ability Scores, Advantage and Disadvantage; Races, Halfling, Lucky; Classes, Rogue,
    Reliable Talent.
    """

    bonus: int = 0
    advantage: bool = False
    disadvantage: bool = False
    lowest: int = 1
    reroll_ones: bool = False
    plus: str | None = None
    minus: str | None = None

    @property
    def edge(self) -> int:
        """1 for advantage, -1 for disadvantage, 0 for neither or both."""
        return int(self.advantage) - int(self.disadvantage)


def natural(roll: D20) -> Distribution:
    """Return the distribution of the face that counts, 1 to 20, before any lowest face and any bonus."""
    return Distribution.from_counts(1, _faces(roll.edge, roll.reroll_ones))


def kept(roll: D20) -> Distribution:
    """Return the distribution of the face that counts after its lowest face, before any bonus."""
    die = natural(roll)
    return die.map(lambda face: max(face, roll.lowest)) if roll.lowest > 1 else die


def extra(roll: D20) -> Distribution | Refused:
    """Return the distribution of all that is added to the die: the bonus and the extra dice."""
    problem = first(
        outside("The bonus", roll.bonus, -MAX_MODIFIER, MAX_MODIFIER),
        outside("The lowest face", roll.lowest, 1, 20),
    )
    if problem is not None:
        return problem
    plus, minus = dice_or_none(roll.plus), dice_or_none(roll.minus)
    if isinstance(plus, Refused):
        return plus
    if isinstance(minus, Refused):
        return minus
    answer = Distribution.point(roll.bonus)
    if plus is not None:
        answer = answer.plus(plus.distribution())
    if minus is not None:
        answer = answer.plus(minus.distribution().negate())
    return answer


def total(roll: D20) -> Distribution | Refused:
    """Return the distribution of the whole roll, or why its numbers or dice cannot be used."""
    added = extra(roll)
    if isinstance(added, Refused):
        return added
    return kept(roll).plus(added)


def in_words(roll: D20) -> str:
    """Return what was counted: `1d20 with advantage + 9 + 1d4, faces below 10 count as 10`."""
    text = "1d20" + {1: " with advantage", -1: " with disadvantage", 0: ""}[roll.edge]
    text = words.added(text, roll.bonus)
    if roll.plus and roll.plus.strip():
        text += f" + {roll.plus.strip()}"
    if roll.minus and roll.minus.strip():
        text += f" - ({roll.minus.strip()})" if {"+", "-"} & set(roll.minus) else f" - {roll.minus.strip()}"
    if roll.advantage and roll.disadvantage:
        text += ", advantage and disadvantage cancel"
    if roll.lowest > 1:
        text += f", faces below {roll.lowest} count as {roll.lowest}"
    if roll.reroll_ones:
        text += ", a 1 is rolled once more"
    return text


@lru_cache(maxsize=8)
def _faces(edge: int, reroll_ones: bool) -> tuple[int, ...]:
    """Return the outcomes for the faces 1 to 20 of the die that counts, in lowest terms."""
    faces = range(1, 21)
    counts = [0] * 21
    take = max if edge > 0 else min
    pairs = [(a, b) for a in faces for b in faces] if edge else [(a, a) for a in faces]
    for left, right in pairs:
        if not reroll_ones or 1 not in (left, right):
            counts[take(left, right)] += 20
            continue
        # Of two dice only one may be rolled again, so the other keeps what it shows.
        other = (right if left == 1 else left) if edge else None
        for new in faces:
            counts[new if other is None else take(new, other)] += 1
    common = gcd(*counts)
    return tuple(count // common for count in counts[1:])
