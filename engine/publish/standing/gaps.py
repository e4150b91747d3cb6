"""What a build cannot do at all, or only against some: each gap one sentence with its figures."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from engine.odds.words import percent
from engine.publish.standing.damage import fails
from engine.publish.standing.measures import Measured, mean_against
from engine.publish.standing.ranks import Rank
from engine.publish.standing.spells import CHARMING, FRIGHTENING, at_hand
from engine.publish.standing.typical import Typical, creatures
from engine.rules.content import Creature, Spell
from engine.rules.words import Ability

# Pools that heal whoever has them, beside those counted in hit points. SRD 5.1, Classes, Fighter and Monk.
_HEALING_POOLS: Final = frozenset({"second-wind", "wholeness-of-body"})
_FIRST_QUARTILE: Final = 25.0
_NONMAGICAL: Final = "nonmagical"


def gaps(measured: Measured, typical: Typical, ranks: Mapping[str, Rank]) -> Iterator[str]:
    """Yield the gaps of a build at a level, the most general first."""
    level = measured.level
    every = creatures(level.catalog)
    spells = at_hand(level)
    ranged = measured.best(typical, ranged=True)
    far_spells = [s for s in spells.values() if s.level and s.damage and s.range.casefold() not in ("self", "touch")]
    flying = sum("fly" in c.speeds for c in every)
    share = f"{flying} of {len(every)} creatures fly, {typical.flying} of the {typical.words}"
    if ranged is None and not far_spells:
        best = measured.best(typical)
        melee = f"{mean_against(best, typical):.1f} damage a round in reach, " if best is not None else ""
        yield f"No ranged attack at level {level.level}: {melee}none beyond."
        if not level.value("speed.fly"):
            yield f"Nothing against a flyer: no ranged attack and no flying speed; {share}."
    if not _heals(measured, spells.values()):
        yield f"No healing: none of its {len(spells)} spells and cantrips restores hit points, and no pool of it does."
    yield from _one_type(measured, spells.values(), every, typical)
    yield from _minds(spells.values(), every)
    yield from _held(measured, typical, ranks)


def _heals(measured: Measured, spells: Iterable[Spell]) -> bool:
    pools = {
        name.split(".")[1]
        for name, number in measured.level.numbers.items()
        if name.startswith("pool.") and name.endswith(".uses") and number.value
        if number.unit == "hit points" or name.split(".")[1] in _HEALING_POOLS
    }
    return bool(pools) or any(spell.healing for spell in spells)


def _one_type(
    measured: Measured, spells: Iterable[Spell], every: tuple[Creature, ...], typical: Typical
) -> Iterator[str]:
    swings = [s for s in measured.swings if not s.key.startswith("unarmed-strike")] or list(measured.swings)
    kinds = {kind for swing in swings for kind in swing.types}
    kinds |= {kind for spell in spells for part in spell.damage for kind in (part.type, *part.types) if kind}
    if len(kinds) != 1:
        return
    (kind,) = kinds
    magic = any(swing.magic for swing in swings)
    immune = [c for c in every if _immune(c, kind, magic)]
    near = [c for c in immune if typical.low <= _rating(c) <= typical.high]
    yield (
        f"Damage of one type only, {kind}: {len(immune)} of {len(every)} creatures are immune to it"
        f"{'' if magic else ' as long as it is not magical'}, {len(near)} of the {typical.words}."
    )


def _immune(creature: Creature, kind: str, magic: bool) -> bool:
    return any(word.partition(" ")[0] == kind and not (magic and _NONMAGICAL in word) for word in creature.immunities)


def _rating(creature: Creature) -> float:
    above, _, below = creature.challenge.partition("/")
    return int(above) / int(below or 1)


def _minds(spells: Iterable[Spell], every: tuple[Creature, ...]) -> Iterator[str]:
    saving = [spell for spell in spells if spell.level and spell.save is not None]
    for words, condition, ids in (("Charms", "charmed", CHARMING), ("Fear", "frightened", FRIGHTENING)):
        some = [spell for spell in saving if spell.id in ids]
        if some and 2 * len(some) >= len(saving):
            immune = sum(condition in c.condition_immunities for c in every)
            yield (
                f"{words} as main means: {len(some)} of its {len(saving)} spells that ask for a save;"
                f" {immune} of {len(every)} creatures cannot be {condition}."
            )


def _held(measured: Measured, typical: Typical, ranks: Mapping[str, Rank]) -> Iterator[str]:
    """Being held is a matter of Wisdom, being moved or held down one of Strength, as most effects of the release go.

    The DC is 8 + the typical attack bonus, since a creature's DC is made like it (common practice, no source).
    """
    dc = 8 + typical.attack
    pairs: tuple[tuple[Ability, str, str], ...] = (("wis", "held", "Wisdom"), ("str", "moved", "Strength"))
    for ability, word, name in pairs:
        at = ranks[f"save.{ability}"]
        if at.percentile < _FIRST_QUARTILE:
            chance = fails(dc, int(at.value))
            yield (
                f"Easily {word}: {name} save {at.value:+g} at level {measured.level.level}, below"
                f" {at.of - at.below - at.equal} of {at.of} reference builds;"
                f" against DC {dc} it fails {percent(chance)}."
            )
