"""What builds and creatures bring to a question. Figures are worked out by hand from the tables of SRD 5.1."""

from functools import cache

import pytest

from bot.filecommands.reading import Shelf
from engine.build.document import Build
from engine.build.outline import parse_outline
from engine.odds import Attack, Check, Concentration, Contest, DeathSaves, Fell, Group, Save, Scores
from engine.odds.asked import Asked, Use
from engine.odds.sources import Figures, Filled, filled, roll_names
from engine.odds.sources.attacks import attack_names
from engine.odds.sources.spells import spell_names
from engine.problem import Refused

SHELF = Shelf()
CATALOG = SHELF.catalog()
OATH = """\
Build: Quay Oath
Scores: Str 16, Dex 10, Con 14, Int 8, Wis 10, Cha 14 (manual)
Species: Half-Orc
Gear: Greatsword, Longsword, Heavy Crossbow, Net, Chain Mail
1 Paladin: skills Athletics, Insight
2 Paladin: style Great Weapon Fighting
3-5 Paladin (Oath of Devotion)
"""
FOOT = """\
Build: Gull Foot
Scores: Str 8, Dex 16, Con 12, Int 10, Wis 14, Cha 10 (manual)
Species: Lightfoot Halfling
Gear: Rapier, Leather Armor
1 Rogue: skills Stealth, Insight, Deception, Acrobatics; expertise Stealth, Insight
2-11 Rogue
"""
WATER = """\
Build: Breakwater
Scores: Str 20, Dex 14, Con 16, Int 8, Wis 10, Cha 8 (final)
Species: Human
Gear: Greataxe
1-18 Barbarian
"""
LAMP = """\
Build: Lamp Keeper
Scores: Str 8, Dex 14, Con 14, Int 16, Wis 10, Cha 8 (manual)
Species: Tiefling
1 Wizard: cantrips Fire Bolt, Acid Splash, Light; spells Sleep, Burning Hands, Shield, Identify, Alarm, Jump
2 Wizard (School of Evocation)
3-4 Wizard
5 Wizard: spells Fireball, Fly
6-10 Wizard
"""
HARBOR = """\
Build: Harbor Chaplain
Scores: Str 14, Dex 10, Con 14, Int 8, Wis 16, Cha 10 (manual)
Species: Dragonborn (ancestry Red)
Gear: Mace, Chain Mail
1-5 Cleric
6 Fighter
"""


@cache
def build(text: str) -> Build:
    parsed = parse_outline(text, SHELF.catalog)
    assert isinstance(parsed, Build), parsed
    return parsed


def put(text: str | None, kind: str, use: tuple[str, str] | None = None, /, **more) -> Filled | Refused:
    """Put a question with a build at its last level, unless `at` says otherwise."""
    states, level = more.pop("states", ()), more.pop("at", None)
    builds = []
    if text is not None:
        document = build(text)
        builds.append(Figures(document, CATALOG, level or document.top, states))
    asked = Asked(
        kind=kind,
        use=Use(kind=use[0], name=use[1]) if use else None,
        slot=more.pop("slot", None),
        creature=more.pop("creature", None),
        ability=more.pop("ability", None),
        versus=more.pop("versus", None),
        fields=more,
    )
    return filled(asked, builds, CATALOG)


def question(*args, **more):
    found = put(*args, **more)
    assert isinstance(found, Filled), found
    return found.question


def left(*args, **more) -> str:
    found = put(*args, **more)
    assert isinstance(found, Filled), found
    return "; ".join(found.left_out)


# Half-orc: Strength 18, +4; level 5: +3.
def test_a_greatsword_with_a_style_savage_attacks_and_two_attacks():
    assert question(OATH, "attack", ("attack", "Greatsword"), ac=15) == Attack(
        bonus=7, ac=15, damage="2d6 reroll 2 or lower+4", attacks=2, critical_dice="1d6"
    )
    assert "Divine Smite" in left(OATH, "attack", ("attack", "Greatsword"), ac=15)


def test_a_pool_of_slots_is_spent_by_name():
    # Paladin 5 has four slots of level 1 and two of level 2; a smite is 2d8, one d8 more a slot level (SRD 5.1).
    first = question(OATH, "attack", ("attack", "Greatsword"), ac=15, pool="divine smite")
    assert (first.pool, first.pool_uses) == ("2d8", 4)
    second = put(OATH, "attack", ("attack", "Greatsword"), ac=15, pool="Divine Smite", slot=2)
    assert (second.question.pool, second.question.pool_uses) == ("3d8", 2)
    assert not any("Divine Smite" in text for text in second.left_out)
    assert put(OATH, "attack", ("attack", "Greatsword"), ac=15, pool="Divine Smite", slot=3).code == "no-such-slot"
    dice = question(OATH, "attack", ("attack", "Greatsword"), ac=15, pool="4d8", pool_uses=1)
    assert (dice.pool, dice.pool_uses) == ("4d8", 1)


@pytest.mark.parametrize(
    ("name", "damage", "attacks", "critical"),
    [
        ("longsword in two hands", "1d10 reroll 2 or lower+4", 2, "1d10"),
        ("attack.longsword.two_handed.to_hit", "1d10 reroll 2 or lower+4", 2, "1d10"),
        ("Longsword", "1d8+4", 2, "1d8"),
        ("Heavy Crossbow", "1d10", 1, None),  # Dexterity 10; loading: one shot an action
        ("unarmed strike", "5", 2, None),
    ],
)
def test_ways_to_strike(name, damage, attacks, critical):
    found = question(OATH, "attack", ("attack", name), ac=15)
    assert (found.damage, found.attacks, found.critical_dice) == (damage, attacks, critical)


def test_what_is_given_by_hand_goes_first():
    found = question(OATH, "attack", ("attack", "Greatsword"), ac=15, bonus=1, attacks=1, damage="1d4")
    assert (found.bonus, found.attacks, found.damage) == (1, 1, "1d4")
    found = question(FOOT, "check", ("skill", "Insight"), dc=15, plus="1d6", states=("bless", "guidance"))
    assert found.plus == "1d4 + 1d6"  # Guidance's own die and the one given; Bless is for attacks and saves


def test_armor_hinders_stealth():
    found = put(OATH, "check", ("skill", "Stealth"), dc=15)
    assert found.question == Check(bonus=0, dc=15, disadvantage=True)
    assert found.told == ("Stealth +0 of Quay Oath, level 5, disadvantage from Chain Mail",)


# Halfling: Dexterity 18, +4; level 11: +4; expertise doubles it. Reliable Talent and Lucky.
@pytest.mark.parametrize(
    ("name", "bonus", "lowest"),
    [
        ("Stealth", 12, 10),
        ("skill.stealth", 12, 10),
        ("thieves' tools (dex)", 8, 10),
        ("Thieves Tools with Dexterity", 8, 10),
        ("Thieves' Tools", 4, 10),
        ("dex", 4, 1),
        ("check.dex", 4, 1),
        ("Strength check", -1, 1),
        ("initiative", 4, 1),
        ("Perception", 2, 1),
        ("wis save", 2, 1),
        ("save.dex", 8, 1),
    ],
)
def test_checks_of_a_rogue(name, bonus, lowest):
    found = question(FOOT, "check", ("skill", name), dc=15)
    assert found == Check(bonus=bonus, dc=15, lowest=lowest, reroll_ones=True)


def test_a_tool_without_an_ability_says_what_is_missing():
    assert "ability modifier" in left(FOOT, "check", ("skill", "Thieves' Tools"), dc=15)


def test_saves_evasion_concentration_and_death():
    assert question(FOOT, "save", ("save", "Dex"), dc=15, damage="8d6", half=True) == Save(
        bonus=8, dc=15, damage="8d6", half=True, evasion=True, reroll_ones=True
    )
    assert "frightened" in left(FOOT, "save", ("save", "Wis"), dc=15)
    assert question(FOOT, "concentration", hits="22") == Concentration(bonus=1, hits=("22",), reroll_ones=True)
    assert question(FOOT, "death") == DeathSaves(reroll_ones=True)
    assert question(FOOT, "death", states=("bless",)) == DeathSaves(reroll_ones=True, plus="1d4")
    assert question(FOOT, "save", ("save", "dex"), dc=10, states=("bane",)).minus == "1d4"
    assert question(FOOT, "save", ("save", "str"), dc=10, states=("exhaustion-3",)).disadvantage


# Strength 20; Indomitable Might: a Strength check is never below the score. Rage: advantage, +4 damage at 18.
def test_a_total_that_is_never_below_a_score():
    found = put(WATER, "check", ("skill", "Athletics"), dc=25, states=("rage",))
    assert found.question == Check(bonus=5, dc=25, lowest=15, advantage=True)
    low = put(WATER, "check", ("skill", "Athletics"), dc=25, states=("rage", "guidance"))
    assert low.question.lowest == 1
    assert any("Indomitable Might" in text for text in low.left_out)


def test_brutal_criticals_and_recklessness():
    found = question(WATER, "attack", ("attack", "Greataxe"), ac=18, states=("rage", "reckless-attack"))
    assert found == Attack(bonus=11, ac=18, damage="1d12+9", attacks=2, advantage=True, critical_dice="3d12")
    assert question(WATER, "check", ("skill", "Initiative"), dc=10).advantage  # Feral Instinct


# Intelligence 17 (16 + 1), +3; level 10: +4. DC 8 + 4 + 3.
def test_spells_with_their_slots_and_features():
    assert question(LAMP, "save", ("spell", "Fireball"), creature="Ogre", slot=4) == Save(
        bonus=-1, dc=15, damage="9d6+3", half=True
    )
    assert question(LAMP, "save", ("spell", "Acid Splash"), bonus=0, at=5) == Save(bonus=0, dc=14, damage="2d6")
    unicorn = question(LAMP, "save", ("spell", "acid splash"), creature="Unicorn")
    assert (unicorn.bonus, unicorn.advantage) == (2, True)
    assert put(LAMP, "save", ("spell", "Fireball"), slot=2).code == "no-such-slot"
    assert put(LAMP, "save", ("spell", "Fly")).code == "no-save"
    assert put(LAMP, "save", ("spell", "Fireballs of Doom")).code == "no-such-spell"
    assert put(LAMP, "save", ("spell", "Fireball"), at=4).code == "spell-not-known"


def test_a_cleric_casts_any_spell_of_the_list_in_reach():
    # Cleric 5 of level 6: +3, Wisdom 16: DC 14.
    found = question(HARBOR, "save", ("spell", "Hold Person"), creature="Ogre")
    assert (found.dc, found.bonus, found.damage) == (14, -2, None)
    assert put(HARBOR, "save", ("spell", "Flame Strike")).code == "spell-not-known"  # level 5, out of reach


def test_a_cantrip_attacks_a_creature_that_does_not_burn():
    found = question(LAMP, "attack", ("attack", "Fire Bolt"), creature="Fire Elemental")
    assert found == Attack(bonus=7, ac=13, damage="2d10+3", immunity=True, hit_points=102)


def test_defenses_of_creatures():
    slashing = put(OATH, "attack", ("attack", "Greatsword"), creature="Werewolf")
    assert slashing.question.immunity  # to nonmagical attacks
    magic = build(OATH.replace("Greatsword", "Greatsword +1"))
    figures = Figures(magic, CATALOG, 5)
    asked = Asked(kind="attack", use=Use(kind="attack", name="Greatsword +1"), creature="Werewolf")
    assert not filled(asked, [figures], CATALOG).question.immunity
    skeleton = put(HARBOR, "attack", ("attack", "Mace"), creature="Skeleton")
    assert skeleton.question.vulnerability  # bludgeoning
    assert question(None, "attack", bonus=3, damage="1d6", creature="Skeleton").vulnerability is False


def test_minimums_of_classes():
    # Cleric: Wisdom 13; fighter: Strength or Dexterity 13 (SRD 5.1, Multiclassing, Prerequisites).
    found = question(HARBOR, "scores")
    assert isinstance(found, Scores)
    assert {(need.abilities, need.minimum) for need in found.needs} == {(("wis",), 13), (("str", "dex"), 13)}
    assert put(HARBOR, "scores", at=5).code == "one-class"


def test_contests_groups_and_who_falls():
    # Ogre: Strength 19, no Athletics: +4. Quay Oath: Athletics 4 + 3.
    contest = question(OATH, "contest", ("skill", "Athletics"), creature="Ogre", versus="Athletics")
    assert isinstance(contest, Contest)
    assert (contest.active.bonus, contest.other.bonus) == (7, 4)
    assert question(None, "contest", creature="Goblin", versus="Stealth").other.bonus == 6
    group = filled(
        Asked(kind="group", use=Use(kind="skill", name="Stealth"), creature="Wolf", fields={"members": "1, 2"}),
        [Figures(build(OATH), CATALOG, 5), Figures(build(FOOT), CATALOG, 11)],
        CATALOG,
    )
    assert isinstance(group, Filled)
    assert isinstance(group.question, Group)
    assert [member.bonus for member in group.question.members] == [0, 12, 1, 2]
    assert group.question.dc == 13  # a wolf's passive Perception
    saves = filled(
        Asked(kind="group", use=Use(kind="save", name="dex"), fields={"dc": 12}),
        [Figures(build(FOOT), CATALOG, 11)],
        CATALOG,
    )
    assert saves.question.members[0].bonus == 8
    fell = question(OATH, "fell", dice="5d8", creature="2 goblin, ogre", creatures="rat 1")
    assert isinstance(fell, Fell)
    # Paladin 5, Constitution 14: 10 + 4 x 6 + 5 x 2 = 44.
    assert [(c.name, c.hit_points) for c in fell.creatures] == [
        ("Goblin", 7), ("Goblin", 7), ("Ogre", 59), ("Quay Oath", 44), ("rat", 1),
    ]  # fmt: skip
    assert question(None, "concentration", creature="Mage", hits="10").bonus == 0


def test_a_spell_brings_the_dice_that_lay_creatures_low():
    # SRD 5.1, Spells, Sleep: 5d8, 2d8 more for each slot level above 1st; undead and whoever cannot be charmed are
    # left out. Color Spray: 6d10, 2d10 more.
    mine = put(LAMP, "fell", ("spell", "Sleep"), slot=3, creature="2 goblin, skeleton, ogre")
    assert isinstance(mine, Filled)
    assert mine.question.dice == "5d8+4d8"
    assert [c.name for c in mine.question.creatures] == ["Goblin", "Goblin", "Ogre"]
    assert mine.left_out == ("Skeleton, whom Sleep spares",)
    assert mine.told[0] == "Sleep of Lamp Keeper, level 10, slot of level 3"
    anybody = put(None, "fell", ("spell", "color spray"), creatures="crab 2")
    assert anybody.question.dice == "6d10"
    assert put(None, "fell", ("spell", "Sleep"), creatures="crab 2", dice="9d8").question.dice == "9d8"
    for text, name, slot, code in (
        (LAMP, "Color Spray", None, "spell-not-known"),
        (LAMP, "Fireball", None, "no-pool"),
        (None, "Power Word Kill", None, "no-pool"),
        (None, "Slep", None, "no-such-spell"),
        (None, "Sleep", 10, "no-such-slot"),
    ):
        refused = put(text, "fell", ("spell", name), slot=slot, creatures="crab 2")
        assert isinstance(refused, Refused)
        assert refused.code == code
        assert refused.sentence.endswith(".")


def test_more_that_creatures_bring():
    assert question(None, "save", creature="Mage", ability="int", dc=14).bonus == 6


@pytest.mark.parametrize(
    ("args", "more", "code"),
    [
        ((None, "check", ("skill", "Stealth")), {"dc": 3}, "no-build"),
        ((OATH, "check"), {"dc": 3}, "no-number"),
        ((OATH, "check", ("skill", "Stealthy")), {"dc": 3}, "no-such-roll"),
        ((OATH, "save", ("save", "luck")), {"dc": 3}, "no-such-roll"),
        ((OATH, "attack", ("attack", "Halberd")), {"ac": 3}, "no-such-attack"),
        ((OATH, "attack", ("attack", "Net")), {"ac": 3}, "missing"),
        ((OATH, "group", ("skill", "nothing")), {"dc": 3}, "no-such-roll"),
        ((OATH, "group", ("skill", "Stealth")), {"dc": 3, "members": "many"}, "members"),
        ((None, "check"), {"bonus": 1, "creature": "Paper Crab"}, "no-such-creature"),
        ((None, "save"), {"dc": 3, "creature": "Ogre"}, "no-ability"),
        ((None, "save"), {"dc": 3, "creature": "Ogre", "ability": "luck"}, "no-such-roll"),
        ((None, "contest"), {"creature": "Ogre"}, "no-number"),
        ((None, "contest"), {"creature": "Ogre", "versus": "luck"}, "no-such-roll"),
        ((None, "fell"), {"dice": "5d8", "creature": "Paper Crab"}, "no-such-creature"),
        ((None, "fell"), {"dice": "5d8", "creature": "51 goblin"}, "creatures"),
        ((None, "fell"), {"dice": "5d8", "creature": "goblin", "creatures": "x"}, "creatures"),
        ((None, "attack"), {"bonus": 3, "creature": "Ogre"}, "missing"),
    ],
)
def test_what_is_refused(args, more, code):
    found = put(*args, **more)
    assert isinstance(found, Refused), found
    assert found.code == code
    assert found.sentence.endswith(".")


def test_names_to_choose_from():
    figures = Figures(build(FOOT), CATALOG, 11)
    names = dict(roll_names(figures))
    assert names["skill.stealth"] == "Stealth"
    assert names["tool.thieves-tools"] == "Thieves' Tools"
    assert len(names) == len(roll_names(figures)) > 30
    for value, called in roll_names(figures):
        for way in (value, called):
            assert isinstance(put(FOOT, "check", ("skill", way), dc=10), Filled), way
    assert ("rapier", "Rapier") in attack_names(figures)
    for value, called in attack_names(Figures(build(OATH), CATALOG, 5)):
        for way in (value, called):
            assert not isinstance(put(OATH, "attack", ("attack", way), ac=10, damage="1"), Refused), way
    assert ("fireball", "Fireball") in spell_names(Figures(build(LAMP), CATALOG, 10))
    with pytest.raises(ValueError, match="levels 1 to 11"):
        Figures(build(FOOT), CATALOG, 12)


CHAMPION = """\
Build: Pier Captain
Scores: Str 16, Dex 12, Con 14, Int 8, Wis 10, Cha 8 (manual)
Species: Human
Gear: Longsword, Staff of Striking (attuned), Breastplate
1 Fighter: skills Athletics, Perception; style Dueling
2 Fighter
3-5 Fighter (Champion)
"""


def test_a_champions_criticals_and_a_staff_with_charges():
    # Strength 17, +3; +3 at level 5; Dueling +2 with one weapon in one hand; Improved Critical: 19 and 20.
    found = question(CHAMPION, "attack", ("attack", "Longsword"), ac=15)
    assert (found.bonus, found.damage, found.attacks, found.critical_from) == (6, "1d8+5", 2, 19)
    held = CHAMPION.replace("Longsword, Staff of Striking (attuned)", "Staff of Striking (attuned)")
    staff = question(held, "attack", ("attack", "Staff of Striking"), ac=15, pool="Staff of Striking")
    assert staff.pool == "1d6"  # a charge adds 1d6 force; it has ten (SRD 5.1, Magic Items, Staff of Striking)
    assert staff.pool_uses == 10
    carried = question(CHAMPION, "attack", ("attack", "Staff of Striking"), ac=15, pool="Staff of Striking")
    assert carried.pool_uses is None  # its charges stand on the sheet only while it is held
    assert question(CHAMPION, "attack", ("attack", "Longsword"), ac=15, pool="2d4").pool == "2d4"
    smiter = CHAMPION.replace("Longsword, Staff of Striking (attuned)", "Mace of Smiting")
    assert question(smiter, "attack", ("attack", "Mace of Smiting"), ac=15).critical_dice == "2d6"
    assert question(CHAMPION, "attack", ("attack", "Longsword"), ac=15, states=("exhaustion-3",)).disadvantage


def test_armor_that_nobody_taught_hinders_attacks_and_saves():
    untaught = build(LAMP.replace("Species: Tiefling", "Species: Tiefling\nGear: Chain Mail, Dagger"))
    figures = Figures(untaught, CATALOG, 10)
    blow = filled(Asked(kind="attack", use=Use(kind="attack", name="Dagger"), fields={"ac": 12}), [figures], CATALOG)
    assert blow.question.disadvantage
    save = filled(Asked(kind="save", use=Use(kind="save", name="dex"), fields={"dc": 12}), [figures], CATALOG)
    assert save.question.disadvantage
    assert any("no proficiency with Chain Mail" in text for text in save.told)
