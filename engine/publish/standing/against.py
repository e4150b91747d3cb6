"""A build at a level against creatures of its release: exact average chances over their stat lines."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Final

from engine.audit.context import AuditContext
from engine.build.document import Build
from engine.problem import Refused
from engine.publish.standing.damage import Level, Swing, fails, swings
from engine.publish.standing.measures import mean_against
from engine.publish.standing.spells import endings, falls
from engine.publish.standing.typical import challenge, creatures, save_bonus, typical
from engine.publish.words import still_open
from engine.rules.catalog import Catalog
from engine.rules.content import Creature
from engine.rules.words import ABILITIES, Ability
from engine.sheet.plan import Plan

MATCHES: Final = 5
_RANGE: Final = re.compile(r"\s*(\d{1,2}(?:/[248])?)\s*(?:(?:-|–|to)\s*(\d{1,2}(?:/[248])?)\s*)?")
FACES: Final = 20


@dataclass(frozen=True, slots=True)
class Chosen:
    """Creatures to be measured against, and what they are in words."""

    creatures: tuple[Creature, ...]
    words: str


@dataclass(frozen=True, slots=True)
class Among:
    """One creature's match.

    hits: chance that the build hits it. hit_by: chance that it hits the build, None if it attacks nobody.
    fails: highest chance that it fails a save of the build's, 0 without a save DC. edge: the better of `hits` and
    `fails`, less `hit_by`.
    """

    name: str
    challenge: str
    hits: float
    hit_by: float | None
    fails: float
    edge: float


@dataclass(frozen=True, slots=True)
class Against:
    """Averages over the creatures.

    attack: the build's attack that is counted, dc: its save DC (None without one), ac: its armor class. fails: ability
    -> chance that a creature fails, magic resistance counted as advantage; sticks: the same for the first time, where
    legendary resistance turns a failure into a success. hits, hit_by: as in Among. resisting, legendary: how many have
    magic or legendary resistance. harmless: how many attack nobody. endings: spell, with its dice or limit -> share
    of the creatures that it takes out. best, worst: matches by their edge, five each at most. partial: why not
    everything of the build counts yet, empty for a finished one.
    """

    level: int
    count: int
    words: str
    attack: str
    dc: int | None
    ac: int
    fails: Mapping[Ability, float]
    sticks: Mapping[Ability, float]
    hits: float
    hit_by: float | None
    resisting: int
    legendary: int
    harmless: int
    endings: Mapping[str, float]
    best: tuple[Among, ...]
    worst: tuple[Among, ...]
    partial: str = ""

    def as_json(self) -> dict[str, Any]:
        """Return everything as plain data."""
        return {
            "level": self.level,
            "creatures": self.count,
            "of": self.words,
            "attack": self.attack,
            "save_dc": self.dc,
            "ac": self.ac,
            "fails": dict(self.fails),
            "sticks": dict(self.sticks),
            "hits": self.hits,
            "hit_by": self.hit_by,
            "magic_resistance": self.resisting,
            "legendary_resistance": self.legendary,
            "attack_nobody": self.harmless,
            "taken_out": dict(self.endings),
            "best": [_match_json(match) for match in self.best],
            "worst": [_match_json(match) for match in self.worst],
            "partial": self.partial,
        }


def _match_json(match: Among) -> dict[str, Any]:
    return {
        "name": match.name,
        "challenge": match.challenge,
        "hits": match.hits,
        "hit_by": match.hit_by,
        "fails": match.fails,
        "edge": match.edge,
    }


def chosen(
    catalog: Catalog, challenges: str | None = None, kind: str | None = None, name: str | None = None
) -> Chosen | Refused:
    """Return the creatures of a challenge or range (`1/4`, `3-5`), of a type, or of a name; all if none is said.

    Refused: "no-such-creature", "no-such-type", "bad-challenge", "no-creatures" where nothing fits.
    """
    every = creatures(catalog)
    words = []
    if name is not None:
        hits = catalog.find("creature", name)
        found = catalog.creature(hits[0].id) if hits else None
        if found is None:
            near = catalog.suggest("creature", name)
            hint = f" Nearest: {', '.join(near)}." if near else ""
            return Refused("no-such-creature", f'No creature of the rules is called "{name.strip()[:60]}".{hint}')
        every = (found,)
        words.append(found.name)
    if kind is not None:
        types = sorted({c.type for c in creatures(catalog)})
        wanted = [t for t in types if kind.strip().casefold() in (t, f"{t}s")]
        if not wanted:
            return Refused(
                "no-such-type", f'"{kind.strip()[:60]}" is no type of creature; there are {", ".join(types)}.'
            )
        every = tuple(c for c in every if c.type == wanted[0])
        words.append(f"of type {wanted[0]}")
    if challenges is not None:
        read = _RANGE.fullmatch(challenges)
        if read is None:
            return Refused(
                "bad-challenge", f'"{challenges.strip()[:60]}" is no challenge; write one as 1/4 or 3, or 3-5.'
            )
        low, high = Fraction(read[1]), Fraction(read[2] or read[1])
        every = tuple(c for c in every if low <= challenge(c) <= high)
        words.append(f"of challenge {challenges.strip()}")
    if not every:
        return Refused("no-creatures", f"No creature of the rules is {' and '.join(words)}.")
    return Chosen(every, " and ".join(words) or "all creatures of the rules")


def against(build: Build, catalog: Catalog, level: int, among: Chosen) -> Against:
    """Return how a build at a level stands against creatures.

    Its attack is the one that deals most in a round at that level's typical armor class, its save DC the highest.
    Raises: ValueError for a level that the build does not have.
    """
    if not 1 <= level <= build.top:
        raise ValueError(f"the build has levels 1 to {build.top}; {level} is none of them")
    ctx = AuditContext.of(build, catalog)
    at = Level(Plan(ctx.gathered), level)
    swing = _attack(at, catalog, level)
    dcs = [n.value for name, n in at.numbers.items() if name.endswith(".save_dc") and isinstance(n.value, int)]
    dc = max(dcs, default=None)
    ac = at.value("ac")
    some = among.creatures
    matches = [_match(c, swing, dc, ac) for c in some]
    by_edge = sorted(matches, key=lambda match: (-match.edge, match.name))
    attacking = [match.hit_by for match in matches if match.hit_by is not None]
    return Against(
        level=level,
        count=len(some),
        words=among.words,
        attack=f"{swing.called} {swing.bonus:+d}" if swing is not None else "no attack",
        dc=dc,
        ac=ac,
        fails={a: _mean([_fails(c, dc, a) for c in some]) for a in ABILITIES} if dc is not None else {},
        sticks={a: _mean([0.0 if c.legendary_resistance else _fails(c, dc, a) for c in some]) for a in ABILITIES}
        if dc is not None
        else {},
        hits=_mean([match.hits for match in matches]),
        hit_by=_mean(attacking) if attacking else None,
        resisting=sum(c.magic_resistance for c in some),
        legendary=sum(c.legendary_resistance > 0 for c in some),
        harmless=sum(c.attack is None for c in some),
        endings={
            f"{spell.name} ({dice or f'{limit} hit points'})": _mean([falls(c, spell, dice) for c in some])
            for spell, dice, limit in endings(at)
        },
        best=tuple(by_edge[:MATCHES]),
        worst=tuple(reversed(by_edge[-MATCHES:])),
        partial=still_open(ctx, level),
    )


def _attack(at: Level, catalog: Catalog, level: int) -> Swing | None:
    found = [swing for swing in swings(at) if swing.bonus is not None]
    levels = typical(catalog)
    if not levels:
        return max(found, key=lambda swing: swing.hit * swing.attacks, default=None)
    return max(found, key=lambda swing: mean_against(swing, levels[level - 1]), default=None)


def _match(creature: Creature, swing: Swing | None, dc: int | None, ac: int) -> Among:
    hits = sum(swing.chances(creature.ac)) if swing is not None else 0.0
    hit_by = hit_chance(creature.attack, ac) if creature.attack is not None else None
    worst = max((_fails(creature, dc, ability) for ability in ABILITIES), default=0.0)
    edge = max(hits, worst) - (hit_by or 0.0)
    return Among(creature.name, creature.challenge, hits, hit_by, worst, edge)


def hit_chance(bonus: int, ac: int) -> float:
    """Return the chance of a plain attack to hit. SRD 5.1, Combat, Attack Rolls: 1 misses, 20 hits."""
    return sum(face == FACES or (face > 1 and face + bonus >= ac) for face in range(1, FACES + 1)) / FACES


def _fails(creature: Creature, dc: int | None, ability: Ability) -> float:
    """Return the chance to fail a save against a spell. Magic resistance is advantage (SRD 5.1, Monsters)."""
    if dc is None:
        return 0.0
    return fails(dc, save_bonus(creature, ability), advantage=creature.magic_resistance)


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values) if values else 0.0
