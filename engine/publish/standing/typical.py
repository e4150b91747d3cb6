"""What a build of some level meets: the middle of the release's creatures at that challenge.

Rule: creatures whose challenge is the character level; where fewer than FEWEST are printed, those one challenge lower
and higher too, and so on. Other shapes of one creature (a werewolf's wolf) are not counted again. Of two middle values
the lower one is taken.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import median_low
from typing import Final

from engine.rules.catalog import Catalog
from engine.rules.content import Creature
from engine.rules.words import ABILITIES, Ability

FEWEST: Final = 5
LEVELS: Final = 20


@dataclass(frozen=True, slots=True)
class Typical:
    """The creatures of one level. low, high: challenges counted; count: how many creatures.

    ac, hp, saves: middle values. attack: middle of their best bonus to hit. flying, magic_resistance: how many.
    immune: damage type or condition -> how many are immune to it, without conditions attached.
    """

    level: int
    low: int
    high: int
    count: int
    ac: int
    hp: int
    attack: int
    saves: Mapping[Ability, int]
    flying: int
    magic_resistance: int
    immune: Mapping[str, int]

    @property
    def words(self) -> str:
        """The creatures counted: `5 creatures of challenge 11 to 13`."""
        span = f"{self.low}" if self.low == self.high else f"{self.low} to {self.high}"
        return f"{self.count} creatures of challenge {span}"


def creatures(catalog: Catalog) -> tuple[Creature, ...]:
    """Return every creature of a catalogue once, other shapes left out."""
    entries = (named.entry for named in catalog.every("creature"))
    return tuple(c for c in entries if isinstance(c, Creature) and c.form_of is None)


def challenge(creature: Creature) -> Fraction:
    """Return a challenge as a number: 1/4, 12."""
    return Fraction(creature.challenge)


def save_bonus(creature: Creature, ability: Ability) -> int:
    """Return a creature's saving throw bonus. SRD 5.1, Monsters, Saving Throws: unprinted ones are the modifier."""
    return creature.saves.get(ability, (creature.scores[ability] - 10) // 2)


def typical(catalog: Catalog) -> tuple[Typical, ...]:
    """Return what is typical at levels 1 to 20; empty for a release without enough creatures."""
    found = creatures(catalog)
    if len(found) < FEWEST:
        return ()
    by_challenge: dict[Fraction, list[Creature]] = {}
    for creature in found:
        by_challenge.setdefault(challenge(creature), []).append(creature)
    return tuple(_at(level, by_challenge) for level in range(1, LEVELS + 1))


def _at(level: int, by_challenge: Mapping[Fraction, Sequence[Creature]]) -> Typical:
    low = high = level
    here: list[Creature] = list(by_challenge.get(Fraction(level), ()))
    while len(here) < FEWEST:
        low, high = max(0, low - 1), high + 1
        here = [c for rating, some in by_challenge.items() if low <= rating <= high for c in some]
    immune: dict[str, int] = {}
    for creature in here:
        for word in {*creature.immunities, *creature.condition_immunities}:
            immune[word] = immune.get(word, 0) + 1
    return Typical(
        level=level,
        low=low,
        high=high,
        count=len(here),
        ac=median_low(c.ac for c in here),
        hp=median_low(c.hp for c in here),
        attack=median_low([c.attack for c in here if c.attack is not None] or [0]),
        saves={ability: median_low(save_bonus(c, ability) for c in here) for ability in ABILITIES},
        flying=sum("fly" in c.speeds for c in here),
        magic_resistance=sum(c.magic_resistance for c in here),
        immune=immune,
    )
