"""Whether concentration on a spell holds through one hit after another."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from engine.odds import d20, words
from engine.odds.d20 import D20
from engine.odds.distribution import Distribution, as_text
from engine.odds.limits import first, outside, too_much
from engine.odds.notation import Expression, parse
from engine.problem import Refused

MAX_HITS = 50
MAX_FRACTION_DIGITS = 40
"""Longer fractions say nothing to anybody and are left out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Concentration(D20):
    """A Constitution saving throw, whose roll is as in `D20`, after each of some hits.

    hits: dice notation of the damage of each (a number such as `22` is one too), 1 to 50, in order; see
    `hits_of`.
    """

    hits: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hit:
    """One hit: its damage as notation, the DCs it can ask for, the chance to hold it, and to hold still after it."""

    damage: str
    lowest_dc: int
    highest_dc: int
    hold: float
    still: float
    fraction: Fraction | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ConcentrationAnswer:
    """The answer to a `Concentration`.

    hold: chance to hold after all hits; fraction: the same exactly, or None where it is not short. hits: one
    row a hit. basis: what was counted, in words.
    """

    question: Concentration
    hold: float
    fraction: Fraction | None
    hits: tuple[Hit, ...]
    basis: str


def hits_of(text: str) -> tuple[str, ...] | Refused:
    """Return the hits that a list means: `22, 9`, `3 hits of 2d6+3`, or both mixed with commas or semicolons."""
    hits: list[str] = []
    # A comma may stand before "drop lowest", so only one that a new hit follows parts two hits.
    for part in re.split(r"[;\n]|,(?!\s*(?:keep|drop|reroll)\b)", text):
        if not part.strip():
            continue
        many = re.fullmatch(r"\s*(\d{1,4})\s+(?:hits?|times)\s+(?:of\s+)?(.+)", part, re.IGNORECASE | re.DOTALL)
        number, damage = (int(many.group(1)), many.group(2)) if many else (1, part)
        if len(hits) + number > MAX_HITS or number < 1:
            return Refused("out-of-range", f"There are {len(hits) + number} hits; 1 to {MAX_HITS} are worked out.")
        hits += [damage.strip()] * number
    if not hits:
        return Refused("out-of-range", "No hit is given; write for example 22, or 3 hits of 2d6+3.")
    return tuple(hits)


def answer_concentration(question: Concentration) -> ConcentrationAnswer | Refused:
    """Return the chance to hold after each hit, or why the numbers or dice cannot be used.

    Every hit is a saving throw of its own against 10 or half the damage rounded down, whichever is higher;
    damage of 0 or less asks for none. No automatic 1 or 20. Source: SRD 5.1, Spellcasting, Concentration;
    Using Ability Scores, Saving Throws.
    """
    problem = outside("The number of hits", len(question.hits), 1, MAX_HITS)
    total = problem or d20.total(question)
    if isinstance(total, Refused):
        return total
    dice: dict[str, Expression] = {}
    for text in dict.fromkeys(question.hits):
        expression = parse(text)
        if isinstance(expression, Refused):
            return expression
        dice[text] = expression
    heavy = first(too_much(sum(one.size.work for one in dice.values()), "Use fewer different hits or smaller dice."))
    if heavy is not None:
        return heavy
    rows = {text: _one_hit(total, expression) for text, expression in dice.items()}
    still: Fraction | float = Fraction(1)
    hits = []
    for text in question.hits:
        low, high, hold = rows[text]
        still = still * hold
        hits.append(
            Hit(
                damage=str(dice[text]),
                lowest_dc=low,
                highest_dc=high,
                hold=float(hold),
                still=float(still),
                fraction=_short(still),
            )
        )
    return ConcentrationAnswer(
        question=question,
        hold=float(still),
        fraction=_short(still),
        hits=tuple(hits),
        basis=f"Constitution save {d20.in_words(question)} against 10 or half the damage, each hit on its own",
    )


def as_json(answer: ConcentrationAnswer) -> dict[str, Any]:
    """Return the answer as plain data: hold, fraction, and a row for each hit."""
    return {
        "hold": answer.hold,
        "fraction": as_text(answer.fraction),
        "hits": [
            {
                "damage": hit.damage,
                "dc": [hit.lowest_dc, hit.highest_dc],
                "hold": hit.hold,
                "still": hit.still,
                "fraction": as_text(hit.fraction),
            }
            for hit in answer.hits
        ],
        "basis": answer.basis,
        "words": words.chance(answer.hold if answer.fraction is None else answer.fraction),
    }


def _one_hit(save: Distribution, expression: Expression) -> tuple[int, int, Fraction | float]:
    """Return the lowest and highest DC of a hit and the chance to hold it."""
    damage = expression.distribution()
    dc = damage.map(lambda points: max(10, points // 2) if points > 0 else 0)
    asked = [value for value in dc.support if value]
    low, high = (asked[0], asked[-1]) if asked else (0, 0)
    hold: Fraction | float = Fraction(0)
    for value, chance in _chances(dc):
        if not value:
            hold += chance
            continue
        saved = save.fraction_at_least(value)
        hold += chance * (saved if saved is not None else save.at_least(value))
    return low, high, hold if isinstance(hold, Fraction) else min(1.0, hold)


def _chances(distribution: Distribution) -> list[tuple[int, Fraction | float]]:
    counts, total = distribution.counts, distribution.total
    if counts is None or total is None:
        return list(distribution.pmf().items())
    return [(value, Fraction(count, total)) for value, count in enumerate(counts, distribution.low) if count]


def _short(value: Fraction | float) -> Fraction | None:
    if isinstance(value, float) or value.denominator >= 10**MAX_FRACTION_DIGITS:
        return None
    return value
