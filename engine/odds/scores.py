"""The chance that a way of rolling ability scores can meet some minimums."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import product
from math import comb
from typing import Any

from engine.odds import words
from engine.odds.distribution import Distribution, as_text
from engine.odds.limits import first, outside
from engine.odds.notation import parse
from engine.problem import Refused

ABILITIES = {
    "str": "Strength",
    "dex": "Dexterity",
    "con": "Constitution",
    "int": "Intelligence",
    "wis": "Wisdom",
    "cha": "Charisma",
}
MAX_SCORES = 12
MAX_SCORE = 100
MAX_CHOICES = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """A minimum for one ability, or for any one of several ("Strength or Dexterity 13"); ids such as `dex`."""

    abilities: tuple[str, ...]
    minimum: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Scores:
    """Rolling scores and giving each to one ability, as one likes.

    needs: what must be met, see `needs_of`. method: dice notation of one score. count: how many scores are
    rolled, 1 to 12.
    """

    needs: tuple[Need, ...]
    method: str = "4d6 drop lowest"
    count: int = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class ScoresAnswer:
    """The answer to a `Scores`.

    chance: that some assignment meets every need; fraction: the same exactly, or None. one: distribution of
    one score. sorted_means: mean of the highest, second highest, ... score. basis: what was counted, in
    words.
    """

    question: Scores
    chance: float
    fraction: Fraction | None
    one: Distribution
    sorted_means: tuple[float, ...]
    basis: str


def needs_of(text: str) -> tuple[Need, ...] | Refused:
    """Return the needs that a list means: `dex 13, wis 13`, `Strength or Dexterity 13; Wis 15`.

    Names may be whole or cut to three letters or more; several for one ability leave the highest.
    """
    needs = []
    for part in re.split(r"[,;\n]|\band\b", text, flags=re.IGNORECASE):
        if not part.strip():
            continue
        read = re.fullmatch(
            r"\s*([a-z]+(?:\s*(?:\bor\b|/)\s*[a-z]+)*)\s*(?::|>=|at least|=)?\s*(\d{1,3})\s*\+?\s*",
            part.lower(),
        )
        if read is None:
            return Refused("scores-needs", f'"{part.strip()}" is no minimum; write for example dex 13, wis 13.')
        abilities = []
        for name in re.split(r"\s*(?:\bor\b|/)\s*", read.group(1)):
            ability = name[:3]
            if ability not in ABILITIES or not ABILITIES[ability].lower().startswith(name):
                known = ", ".join(ABILITIES)
                return Refused("scores-needs", f'"{name}" is no ability; the abilities are {known}.')
            abilities.append(ability)
        needs.append(Need(abilities=tuple(dict.fromkeys(abilities)), minimum=int(read.group(2))))
    return tuple(needs)


def needs_from(minimums: Mapping[str, int]) -> tuple[Need, ...]:
    """Return the needs of a plain table of minimums by ability id."""
    return tuple(Need(abilities=(ability,), minimum=minimum) for ability, minimum in minimums.items())


def answer_scores(question: Scores) -> ScoresAnswer | Refused:
    """Return the chance that the rolled scores can be given out so that every need is met.

    Exact: scores matter only by how many reach each minimum. No increase of species, background or level is
    added. Refused: unknown abilities, numbers outside the limits, dice that cannot be used, more abilities
    than scores. Source: rolling is common practice under SRD 5.1, which prints no method; minimums: SRD 5.1,
    Multiclassing, Prerequisites.
    """
    problem = first(
        outside("The number of scores", question.count, 1, MAX_SCORES),
        *(outside("A minimum", need.minimum, 0, MAX_SCORE) for need in question.needs),
        *(_unknown(need) for need in question.needs),
    )
    if problem is not None:
        return problem
    wanted = _wanted(question)
    if isinstance(wanted, Refused):
        return wanted
    method = parse(question.method)
    if isinstance(method, Refused):
        return method
    one = method.distribution()
    chance = _chance(one, question.count, wanted)
    told = ", ".join(f"{' or '.join(need.abilities)} {need.minimum}" for need in question.needs) or "nothing"
    return ScoresAnswer(
        question=question,
        chance=float(chance),
        fraction=chance if isinstance(chance, Fraction) else None,
        one=one,
        sorted_means=_sorted_means(one, question.count),
        basis=f"{words.times(question.count, 'score')} of {method}, given out at will,"
        f" must meet {told}; no increase added",
    )


def as_json(answer: ScoresAnswer) -> dict[str, Any]:
    """Return the answer in the form of the outside contract: chance, and more."""
    return {
        "chance": answer.chance,
        "fraction": as_text(answer.fraction),
        "needs": [{"abilities": list(need.abilities), "minimum": need.minimum} for need in answer.question.needs],
        "method": answer.question.method,
        "count": answer.question.count,
        "score_mean": answer.one.mean(),
        "sorted_means": list(answer.sorted_means),
        "basis": answer.basis,
        "words": words.chance(answer.chance if answer.fraction is None else answer.fraction),
    }


def _unknown(need: Need) -> Refused | None:
    wrong = [ability for ability in need.abilities if ability not in ABILITIES]
    if need.abilities and not wrong:
        return None
    return Refused("scores-needs", f'"{", ".join(wrong)}" is no ability; the abilities are {", ".join(ABILITIES)}.')


def _wanted(question: Scores) -> list[tuple[int, ...]] | Refused:
    """Return the minimums, highest first, of each choice of abilities that no easier choice makes needless."""
    choices = 1
    for need in question.needs:
        choices *= len(need.abilities)
    if choices > MAX_CHOICES:
        return Refused(
            "scores-needs",
            f"The needs leave {choices} choices of abilities; at most {MAX_CHOICES} are tried.",
        )
    found = set()
    for picked in product(*(need.abilities for need in question.needs)):
        minimums: dict[str, int] = {}
        for ability, need in zip(picked, question.needs, strict=True):
            minimums[ability] = max(need.minimum, minimums.get(ability, 0))
        found.add(tuple(sorted(minimums.values(), reverse=True)))
    able = [one for one in found if len(one) <= question.count]
    if not able:
        fewest = min(len(one) for one in found)
        return Refused(
            "scores-needs", f"The needs name {fewest} abilities, but only {question.count} scores are rolled."
        )
    return [one for one in able if not any(other != one and _easier(other, one) for other in able)]


def _easier(left: tuple[int, ...], right: tuple[int, ...]) -> bool:
    """Return whether scores that meet `right` always meet `left`."""
    return len(left) <= len(right) and all(a <= b for a, b in zip(left, right, strict=False))


def _chance(one: Distribution, count: int, wanted: list[tuple[int, ...]]) -> Fraction | float:
    """Return the chance that `count` scores meet one of the `wanted` lists of minimums.

    Going down the minimums, a state is how many scores lie at or above the last one, and which lists are not
    missed yet.
    """
    thresholds = sorted({minimum for minimums in wanted for minimum in minimums}, reverse=True)
    all_lists = frozenset(wanted)
    states: dict[tuple[int, frozenset[tuple[int, ...]]], Fraction | float] = {(0, all_lists): Fraction(1)}
    above: Fraction | float = Fraction(0)
    for threshold in thresholds:
        share = one.fraction_at_least(threshold)
        reach = share if share is not None else one.at_least(threshold)
        band = reach - above
        above = reach
        following: dict[tuple[int, frozenset[tuple[int, ...]]], Fraction | float] = {}
        for (had, lists), chance in states.items():
            for new in range(count - had + 1):
                number = had + new
                left = frozenset(
                    minimums for minimums in lists if sum(minimum >= threshold for minimum in minimums) <= number
                )
                if left:
                    key = (number, left)
                    ways = comb(count - had, new) * band**new
                    following[key] = following.get(key, 0) + chance * ways
        states = following
    return sum((chance * (1 - above) ** (count - had) for (had, _), chance in states.items()), start=Fraction(0))


def _sorted_means(one: Distribution, count: int) -> tuple[float, ...]:
    """Return the means of the highest, second highest, ... of `count` scores."""
    means = [float(one.low)] * count
    for value in range(one.low + 1, one.high + 1):
        reach = one.at_least(value)
        at_least = 1.0
        for number in range(count):
            at_least -= comb(count, number) * reach**number * (1 - reach) ** (count - number)
            means[number] += at_least
    return tuple(means)
