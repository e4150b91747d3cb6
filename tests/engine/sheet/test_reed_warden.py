"""The example build of the outline at level 8 and around it.

Figures: the cards page (worked out by hand from the SRD 5.1 tables) for level 8, and for other levels the same tables
again; the working stands beside each.
"""

from functools import lru_cache

import pytest

from engine.build.document import Build
from engine.build.outline import parse_outline
from engine.sheet import Sheet, timeline
from tests.engine.sheet.make import catalog

TEXT = """
Build: Reed Warden
Concept: a marsh scout whom nothing takes by surprise
Rules: SRD 5.1
Scores: Str 8, Dex 15, Con 13, Int 10, Wis 14, Cha 12 (standard array)
Species: Half-Elf (+1 Dex, +1 Wis; skills Survival, Nature; language Goblin)
Background: Marsh Guide (custom; skills Insight, Persuasion; languages Giant, Halfling; feature Shelter of the Faithful)
Gear: Leather Armor, Rapier, Shortbow, 20 Arrows
Goal: skill.perception.passive >= 20 at 8
1 Rogue: skills Perception, Stealth, Acrobatics, Investigation; expertise Perception, Stealth
2 Rogue
3 Rogue (Thief)
4 Rogue: +1 Dex, +1 Wis
5 Ranger: skill Athletics; enemy Beasts; terrain Swamp
6 Ranger: style Archery; spells Hunter's Mark, Speak with Animals
7 Ranger (Hunter): spell Fog Cloud; prey Colossus Slayer
8 Ranger hp 7: +2 Wis; swap Fog Cloud for Longstrider
"""


@lru_cache(maxsize=1)
def every_level() -> tuple[Sheet, ...]:
    document = parse_outline(TEXT, catalog())
    assert isinstance(document, Build), document
    return timeline(document, catalog())


# Cards page, "/build show build:Reed Warden level:8".
CARD = {
    "hp.max": 56, "ac": 14, "initiative": 3, "speed.walk": 30,
    "ability.str.score": 8, "ability.str.modifier": -1, "ability.dex.score": 17, "ability.dex.modifier": 3,
    "ability.con.score": 13, "ability.con.modifier": 1, "ability.int.score": 10, "ability.int.modifier": 0,
    "ability.wis.score": 18, "ability.wis.modifier": 4, "ability.cha.score": 14, "ability.cha.modifier": 2,
    "save.dex": 6, "save.int": 3, "save.str": -1, "save.con": 1, "save.wis": 4, "save.cha": 2,
    "skill.perception": 10, "skill.perception.passive": 20, "skill.stealth": 9, "skill.stealth.lowest": 10,
    "skill.stealth.passive": 19, "skill.insight": 7, "skill.survival": 7, "skill.acrobatics": 6,
    "skill.persuasion": 5, "skill.investigation": 3, "skill.nature": 3, "skill.athletics": 2,
    "attack.shortbow.to_hit": 8, "attack.shortbow.damage": 6.5, "attack.rapier.to_hit": 6, "attack.rapier.damage": 7.5,
    "casting.ranger.save_dc": 15, "casting.ranger.attack": 7, "slots.1": 3, "slots.2": 0, "casting.ranger.known": 3,
}  # fmt: skip


@pytest.mark.parametrize(("name", "value"), CARD.items())
def test_level_8_is_what_the_card_says(name: str, value: float) -> None:
    assert every_level()[7].numbers[name].value == value


def test_dice_of_the_attacks() -> None:
    numbers = every_level()[7].numbers
    assert numbers["attack.shortbow.damage"].dice == "1d6+3"
    assert numbers["attack.rapier.damage"].dice == "1d8+3"


def test_why_stealth_is_the_sum_on_the_card() -> None:
    # Cards page, "/build why ... number:Stealth".
    reasons = every_level()[7].numbers["skill.stealth"].reasons
    assert [(r.label, r.amount) for r in reasons] == [
        ("Dexterity 17", 3),
        ("proficiency bonus, level 8", 3),
        ("expertise (Rogue 1, chosen at level 1)", 3),
    ]
    assert reasons[2].source == "SRD 5.1, Classes, Rogue, Expertise"


def test_why_the_hit_points() -> None:
    # Rogue d8: 8, then 5 a level; ranger d10: 6 a level, the fourth one rolled (SRD 5.1, Classes; Multiclassing).
    reasons = every_level()[7].numbers["hp.max"].reasons
    assert [(r.label, r.amount) for r in reasons] == [
        ("Rogue 1, first level", 8),
        ("Rogue 2-4, fixed 5 each", 15),
        ("Ranger 1-3, fixed 6 each", 18),
        ("Ranger 4, rolled 7", 7),
        ("Constitution +1 × 8 levels", 8),
    ]


# SRD 5.1: Character Advancement for the bonus; Rogue and Ranger tables for slots and spells; passive = 10 + bonus.
LEVELS = {
    "proficiency_bonus": [2, 2, 2, 2, 3, 3, 3, 3],
    # 8 + 1; then 5 + 1 three times, 6 + 1 three times, 7 + 1
    "hp.max": [9, 15, 21, 27, 34, 41, 48, 56],
    # Dex 16 from the start, 17 at 4: +3 all along; leather 11
    "ac": [14, 14, 14, 14, 14, 14, 14, 14],
    # Wis 15 (+2), at 4 16 (+3), at 8 18 (+4); twice the bonus
    "skill.perception": [6, 6, 6, 7, 9, 9, 9, 10],
    "skill.perception.passive": [16, 16, 16, 17, 19, 19, 19, 20],
    # ranger: no slot at its level 1, two at 2, three at 3 and 4
    "slots.1": [0, 0, 0, 0, 0, 2, 3, 3],
    "level.rogue": [1, 2, 3, 4, 4, 4, 4, 4],
    # Dex +3, bonus, archery +2 from level 6 on
    "attack.shortbow.to_hit": [5, 5, 5, 5, 6, 8, 8, 8],
    "hit_dice.d8": [1, 2, 3, 4, 4, 4, 4, 4],
}


@pytest.mark.parametrize(("name", "values"), LEVELS.items())
def test_levels_1_to_8(name: str, values: list[int]) -> None:
    assert [s.numbers[name].value for s in every_level()] == values


def test_numbers_that_do_not_apply_yet_are_absent() -> None:
    assert [("casting.ranger.save_dc" in s.numbers) for s in every_level()] == [False] * 5 + [True] * 3
    assert [("level.ranger" in s.numbers) for s in every_level()] == [False] * 4 + [True] * 4
    assert "casting.ranger.cantrips" not in every_level()[7].numbers


def test_what_is_no_number_is_a_note() -> None:
    texts = {n.label: n.text for n in every_level()[7].notes}
    assert texts["Sneak Attack"].startswith("2d6 extra damage once a turn")
    assert texts["Colossus Slayer"].startswith("1d8 extra damage once a turn")


def test_the_spell_swapped_away_is_known_until_then() -> None:
    from engine.sheet import gather

    document = parse_outline(TEXT, catalog())
    assert isinstance(document, Build)
    found = gather(document, catalog())
    spans = {s.spell: (s.since, s.until) for s in found.spells}
    assert spans["fog-cloud"] == (7, 7)
    assert spans["longstrider"] == (8, 20)
    assert spans["hunters-mark"] == (6, 20)
