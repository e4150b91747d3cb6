"""What a build deals in one round without spending anything: weapons, body and cantrips, on average and exactly.

Counted: all attacks of the action, the other hand's attack, criticals, dice that come once a turn, advantage that
always holds. Not counted: spells with slots, pools, states that are not switched on.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Final

from engine.odds.sources.attacks import attack
from engine.odds.sources.figures import Figures
from engine.problem import Refused
from engine.rules.content import Item, Spell
from engine.rules.words import Ability
from engine.sheet.cantrips import beams, dice_at
from engine.sheet.casting import own_ability
from engine.sheet.gathered import Learned
from engine.sheet.plan import Plan
from engine.sheet.whole import some_at_level

FACES: Final = 20
# Character levels at which cantrips grow. SRD 5.1, Spellcasting, Cantrips.
_TIERS: Final = (5, 11, 17)
# Kinds of grants that an attack reads beside its two numbers.
_KINDS: Final = frozenset(
    {
        "critical-range", "damage-reroll", "extra-critical-dice", "extra-damage", "natural-weapon", "proficiency armor",
        "proficiency weapon", "reroll-d20", "weapon-ability",
    }
)  # fmt: skip
_TERM: Final = re.compile(
    r"(?P<sign>[+-]?)\s*(?:(?P<count>\d+)d(?P<sides>\d+)(?:\s+reroll\s+(?P<again>\d+)[^+-]*)?|(?P<flat>\d+))\s*"
)
_UNREAD: Final = frozenset({"pools", "slots", "senses", "carrying"})
_CLOSE: Final = re.compile(r"(?:touch|self|5 feet)", re.I)


class Level(Figures):
    """A build at a level, of which the plan is already at hand: many levels of one build cost little.

    brief: without the numbers that no measure reads (pools, slots, senses, what is carried).
    """

    def __init__(self, plan: Plan, level: int, *, brief: bool = False) -> None:
        self.build = plan.gathered.build
        self.catalog = plan.catalog
        self.name = self.build.name
        self.level = level
        self.at, self.numbers = some_at_level(plan, level, _UNREAD if brief else frozenset())


@dataclass(frozen=True, slots=True)
class Swing:
    """One way to deal damage each round.

    bonus, dc: of the attack roll, or of the save against it. hit, critical: mean damage of a normal and a critical hit.
    once, once_critical: mean of what the first hit of a turn adds. attacks: how many. edge: 1 advantage, -1
    disadvantage, 0 neither. ranged: whether it reaches further than a weapon. types: of damage; magic: counts as magic.
    off_hand: an attack that may follow, of the other hand.
    """

    key: str
    called: str
    attacks: int
    hit: float
    critical: float
    bonus: int | None = None
    dc: int | None = None
    ability: Ability | None = None
    critical_from: int = 20
    once: float = 0.0
    once_critical: float = 0.0
    edge: int = 0
    ranged: bool = False
    types: tuple[str, ...] = ()
    magic: bool = False
    off_hand: Swing | None = field(default=None)

    def chances(self, ac: int) -> tuple[float, float]:
        """Return the chance of a normal hit and of a critical, against an armor class.

        SRD 5.1, Combat, Attack Rolls: 1 misses, 20 hits and is a critical.
        """
        assert self.bonus is not None
        return _chances(self.bonus, ac, self.critical_from, self.edge)

    def mean(self, ac: int, save: int) -> float:
        """Return the mean damage of a round, against an armor class and a bonus of the save that is asked for."""
        if self.dc is not None:
            return self.hit * self.attacks * fails(self.dc, save)
        sequence: list[Swing] = [self] * self.attacks
        if self.off_hand is not None:
            sequence.append(self.off_hand)
        mean, missed = 0.0, 1.0
        for swing in sequence:
            normal, critical = swing.chances(ac)
            mean += normal * swing.hit + critical * swing.critical
            mean += missed * (normal * self.once + critical * self.once_critical)
            missed *= 1 - normal - critical
        return mean


@lru_cache(maxsize=4096)
def _chances(bonus: int, ac: int, critical_from: int, edge: int) -> tuple[float, float]:
    normal = critical = 0.0
    for face in range(1, FACES + 1):
        share = _share(face, edge)
        if face != FACES and (face == 1 or face + bonus < ac):
            continue
        if face >= critical_from:
            critical += share
        else:
            normal += share
    return normal, critical


def _share(face: int, edge: int) -> float:
    if edge == 0:
        return 1 / FACES
    rank = face if edge > 0 else FACES + 1 - face
    return (2 * rank - 1) / FACES**2


def fails(dc: int, bonus: int, advantage: bool = False) -> float:
    """Return the chance to fail a saving throw. No face is automatic (SRD 5.1, Using Ability Scores, Saving Throws)."""
    bad = min(max(dc - bonus - 1, 0), FACES)
    chance = bad / FACES
    return chance * chance if advantage else chance


def swings(level: Level) -> tuple[Swing, ...]:
    """Return every way of a build to deal damage each round at a level."""
    found = list(_attacks(level))
    others = tuple(swing for swing in found if swing.key.endswith(".off_hand"))
    if others:
        found = [_paired(level, swing, others) for swing in found if swing not in others]
    return (*found, *_saves(level))


def _attacks(level: Level) -> Iterator[Swing]:
    """Yield what every attack of the sheet that deals damage does.

    Levels share what they read alike; beside the two numbers that is gear, attacks an action, scores, and grants.
    """
    at, numbers = level.at, level.numbers
    kinds = _kinds(at.plan)
    reading = at.plan.reading(kinds)
    read = (
        at.outfit.since,
        numbers["attacks.per_action"].value,
        at.score_key if reading.by_score else (),
        at.bonus if reading.by_bonus else 0,
        at.key(kinds),
    )
    tier = sum(level.level >= each for each in _TIERS)
    for name, to_hit in numbers.items():
        if not name.endswith(".to_hit"):
            continue
        key = name.removeprefix("attack.").removesuffix(".to_hit")
        damage = numbers.get(f"attack.{key}.damage")
        if damage is None or not damage.value:
            continue
        dice = damage.dice or str(damage.value)
        # Modifiers and the proficiency bonus stand in the two numbers; the rest is kept while it is the same dice.
        grown = tier if level.catalog.spell(key.partition(".")[0]) is not None else 0
        whole = ("swing", key, dice if "-" in dice else dice.partition("+")[0], grown, read)
        memo = at.plan.memo
        if whole not in memo:
            memo[whole] = _swing(level, key)
        found: Swing | None = memo[whole]
        if found is not None:
            yield _renewed(found, int(to_hit.value), dice, damage.value)


def _renewed(swing: Swing, bonus: int, dice: str, hit: float | str) -> Swing:
    """Return the same attack with another bonus and another amount added to its dice."""
    if isinstance(hit, str) or "-" in dice or (swing.bonus == bonus and swing.hit == hit):
        return swing if swing.bonus == bonus else replace(swing, bonus=bonus)
    # A critical repeats the dice, not what is added to them.
    return replace(swing, bonus=bonus, hit=float(hit), critical=swing.critical + hit - swing.hit)


def _kinds(plan: Plan) -> frozenset[str]:
    """Return the kinds of grants that attacks of a build read; many have advantage and dice, few of them on attacks."""
    found: frozenset[str] | None = plan.memo.get("kinds of attacks")
    if found is None:
        of_attacks = {
            granted.grant.kind
            for kind in ("advantage", "extra-die")
            for granted in plan.by_kind.get(kind, ())
            if getattr(granted.grant, "roll", "") == "attack" or "attack" in getattr(granted.grant, "rolls", ())
        }
        found = plan.memo["kinds of attacks"] = _KINDS | of_attacks
    return found


def _swing(level: Level, key: str) -> Swing | None:
    made = attack(level, key)
    if isinstance(made, Refused):
        return None
    fields = made.fields
    hit, critical = mean_of(str(fields["damage"]))
    extra = mean_of(str(fields["critical_dice"]))[0] if fields.get("critical_dice") else 0.0
    once = mean_of(str(fields["once_per_turn"])) if fields.get("once_per_turn") else (0.0, 0.0)
    edge = int(bool(fields.get("advantage"))) - int(bool(fields.get("disadvantage")))
    return Swing(
        key=key,
        called=" ".join(made.told[0].partition(" of ")[0].split(" ")[:-1]) if made.told else key,
        attacks=int(fields.get("attacks", 1)),
        hit=hit,
        critical=critical + extra,
        bonus=int(fields["bonus"]),
        critical_from=int(fields.get("critical_from", FACES)),
        once=once[0],
        once_critical=once[1],
        edge=edge,
        ranged=_is_ranged(level, key),
        types=made.types,
        magic=made.magic,
    )


def _is_ranged(level: Level, key: str) -> bool:
    base, _, use = key.partition(".")
    if use == "thrown":
        return True
    spell = level.catalog.spell(base)
    if spell is not None:
        return spell.attack == "ranged"
    item = level.catalog.item(base)
    return isinstance(item, Item) and item.weapon is not None and item.weapon.reach == "ranged"


def _paired(level: Level, swing: Swing, others: Sequence[Swing]) -> Swing:
    """Add the other hand's attack to one with a light melee weapon in one hand.

    SRD 5.1, Combat, Two-Weapon Fighting. Who marks a weapon for the other hand has a reason to be allowed it.
    """
    item = level.catalog.item(swing.key)
    if not isinstance(item, Item) or item.weapon is None or item.weapon.reach != "melee":
        return swing
    if "light" not in item.weapon.properties:
        return swing
    best = max(others, key=lambda other: other.hit, default=None)
    if best is None or level.at.outfit.shield is not None:
        return swing
    return replace(swing, off_hand=best)


def _saves(level: Level) -> Iterator[Swing]:
    """Yield the cantrips that ask for a save."""
    for learned, spell in _saved_cantrips(level):
        if spell.save is None or not learned.since <= level.level <= learned.until:
            continue
        ability = learned.ability or own_ability(level.at, learned.owner)
        dc = level.numbers.get(f"casting.{learned.casting or learned.owner}.save_dc")
        if ability is None or dc is None:
            continue
        roll, _ = dice_at(spell, level.level, level.at.modifiers[ability])
        yield Swing(
            key=spell.id,
            called=spell.name,
            attacks=beams(spell, level.level),
            hit=float(roll.mean),
            critical=0.0,
            dc=int(dc.value),
            ability=spell.save,
            ranged=_CLOSE.fullmatch(spell.range) is None,
            types=tuple(part.type for part in spell.damage if part.type is not None),
            magic=True,
        )


def _saved_cantrips(level: Level) -> Sequence[tuple[Learned, Spell]]:
    """Return the cantrips of a build that deal damage unless a save is made, of any level."""
    memo = level.at.plan.memo
    if "cantrips with saves" not in memo:
        spells = ((learned, level.catalog.spell(learned.spell)) for learned in level.at.gathered.spells)
        memo["cantrips with saves"] = [
            (learned, spell)
            for learned, spell in spells
            if isinstance(spell, Spell)
            and learned.how != "listed"
            and not spell.level
            and spell.save is not None
            and not spell.attack
            and spell.damage
        ]
    found: Sequence[tuple[Learned, Spell]] = memo["cantrips with saves"]
    return found


@lru_cache(maxsize=4096)
def mean_of(text: str) -> tuple[float, float]:
    """Return the mean of dice, and of the same with every die rolled twice: `2d6 reroll 2 or lower+3`.

    A rerolled face counts as the mean of the die. A total is never below 0. Raises: ValueError for other notation.
    """
    dice, flat, lowest, place = 0.0, 0, 0, 0
    for term in _TERM.finditer(text):
        if term.start() != place:
            break
        place = term.end()
        sign = -1 if term["sign"] == "-" else 1
        if term["flat"]:
            flat += sign * int(term["flat"])
            continue
        count, sides, again = int(term["count"]), int(term["sides"]), min(int(term["again"] or 0), int(term["sides"]))
        once = (sides + 1) / 2
        mean = (again * once + sum(range(again + 1, sides + 1))) / sides
        dice += sign * count * mean
        lowest += count if sign > 0 else -count * sides
    if place != len(text):
        raise ValueError(f"`{text}` is no sum of dice")
    if lowest + flat < 0:
        return _floored(text)
    return dice + flat, 2 * dice + flat


def _floored(text: str) -> tuple[float, float]:
    """Return the same for dice whose total can be negative, which counts as 0."""
    from engine.odds.attack import Attack, answer_attack

    hit = answer_attack(Attack(bonus=0, ac=1, damage=text))
    if isinstance(hit, Refused):
        raise ValueError(hit.sentence)
    critical = answer_attack(Attack(bonus=0, ac=1, damage=text, critical_from=2))
    assert not isinstance(critical, Refused)
    return hit.per_hit, critical.damage.mean() / float(critical.critical)
