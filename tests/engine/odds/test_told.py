"""Questions as people write them, and answers as people read them."""

from fractions import Fraction

import pytest

from engine.odds import (
    D20,
    Attack,
    Check,
    Compare,
    Concentration,
    Contest,
    Creature,
    DeathSaves,
    DiceTotal,
    Fell,
    Group,
    Item,
    Save,
    Scores,
    answer_compare,
    ask,
)
from engine.odds.asked import FIELDS, KINDS, question_of
from engine.odds.told import exactly, told
from engine.odds.written import creatures_of, members_of
from engine.problem import Refused


@pytest.mark.parametrize(
    ("text", "members"),
    [
        ("5, 3 with advantage, -1", (D20(bonus=5), D20(bonus=3, advantage=True), D20(bonus=-1))),
        ("2 x +4 disadvantage; 0", (D20(bonus=4, disadvantage=True),) * 2 + (D20(),)),
        ("+6 lowest 10 reroll ones", (D20(bonus=6, lowest=10, reroll_ones=True),)),
        ("- 2 plus 1d4 minus 1d6+1", (D20(bonus=-2, plus="1d4", minus="1d6+1"),)),
        ("", ()),
    ],
)
def test_members(text, members):
    assert members_of(text) == members


@pytest.mark.parametrize("text", ["five", "5 with luck", "31 x 2", "0 x 2", "5 lowest"])
def test_members_that_cannot_be_read(text):
    assert isinstance(members_of(text), Refused)


@pytest.mark.parametrize(
    ("text", "creatures"),
    [
        ("7, 22", (("creature 1", 7), ("creature 2", 22))),
        ("goblin 7; 2 sea wolf 11\nogre: 59", (("goblin", 7), ("sea wolf", 11), ("sea wolf", 11), ("ogre", 59))),
    ],
)
def test_creatures(text, creatures):
    assert creatures_of(text) == tuple(Creature(name=name, hit_points=points) for name, points in creatures)


@pytest.mark.parametrize("text", ["goblin", "51 rat 2", "7 8 9 x"])
def test_creatures_that_cannot_be_read(text):
    assert isinstance(creatures_of(text), Refused)


GIVEN = {
    "check": ({"dc": 15, "bonus": 2}, Check(dc=15, bonus=2)),
    "save": ({"dc": 15, "damage": "8d6", "half": True}, Save(dc=15, damage="8d6", half=True)),
    "attack": ({"ac": 15, "damage": "1d6"}, Attack(ac=15, damage="1d6")),
    "contest": (
        {"bonus": 1, "other_bonus": 2, "other_advantage": True, "ties": "other"},
        Contest(active=D20(bonus=1), other=D20(bonus=2, advantage=True), ties="other"),
    ),
    "group": ({"dc": 12, "members": "1, 2", "needed": 2}, Group(dc=12, members=(D20(bonus=1), D20(bonus=2)), needed=2)),
    "fell": (
        {"dice": "5d8", "creatures": "7"},
        Fell(dice="5d8", creatures=(Creature(name="creature 1", hit_points=7),)),
    ),
    "concentration": ({"hits": "22"}, Concentration(hits=("22",))),
    "death": ({"failures": 1}, DeathSaves(failures=1)),
    "scores": ({"needs": "dex 13", "count": 5}, None),
    "dice": ({"dice": "2d6", "at_least": 3}, DiceTotal(dice="2d6", at_least=3)),
}


@pytest.mark.parametrize("kind", KINDS)
def test_fields_make_the_question(kind):
    fields, expected = GIVEN[kind]
    assert set(fields) <= set(FIELDS[kind])
    found = question_of(kind, {**fields, "tea": "none"})
    if expected is None:
        assert isinstance(found, Scores)
        assert found.count == 5
    else:
        assert found == expected


def test_what_is_missing_is_said():
    for kind, missing in (("check", "DC"), ("save", "DC"), ("attack", "armor class"), ("group", "DC"), ("fell", "dice"),
                          ("concentration", "hits"), ("scores", "minimums"), ("dice", "dice")):  # fmt: skip
        found = question_of(kind, {})
        assert isinstance(found, Refused)
        assert missing in found.sentence


def answered(question):
    answer = ask(question)
    assert not isinstance(answer, Refused), answer
    return told(answer)


def test_a_check_in_words():
    words = answered(Check(bonus=9, dc=20))
    assert words.answer == "50 % to reach DC 20 (1 in 2)"
    assert words.counted == "total 1d20 + 9"
    assert words.lines[0] == "with advantage 75 % (3 in 4) · with disadvantage 25 % (1 in 4)"
    assert words.lines[1].startswith("exactly 1/2")
    # The last DC in reach, 29, is shown, and one that is not.
    assert (
        words.table
        == "DC 5 100 % · 10 100 % · 12 90 % · 15 75 % · 18 60 % · 20 50 % · 22 40 % · 25 25 % · 29 5 % · 30 0 %"
    )


def test_the_table_ends_with_the_first_dc_out_of_reach():
    assert answered(Check(bonus=0, dc=10)).table.endswith("18 15 % · 20 5 % · 22 0 %")


def test_rounds_to_bring_a_creature_down_in_words():
    words = answered(Attack(bonus=5, ac=15, damage="10", attacks=1, hit_points=10, rounds=2))
    # One hit of 10 is enough: 11 of 20 faces; within two rounds 1 - (9/20)^2 = 80 %.
    assert "10 hit points are gone after round 1: 55 % · 2: 80 %" in words.lines
    assert words.table.startswith("armor class 10 80 %, 8")


def test_long_lists_are_cut():
    fell = answered(Fell(dice="20d8", creatures=tuple(Creature(name=f"crab {n}", hit_points=2) for n in range(20))))
    assert "and 8 more" in fell.lines
    held = answered(Concentration(bonus=9, hits=("22",) * 20))
    assert "and 8 more" in held.lines
    many = answered(Save(dc=15, targets=60))
    assert many.table.endswith("…")


def test_a_comparison_in_words():
    def compared(*questions):
        items = tuple(Item(label=f"Q{place}", question=one) for place, one in enumerate(questions, 1))
        answer = answer_compare(Compare(items=items))
        assert not isinstance(answer, Refused)
        return told(answer)

    assert compared(Check(bonus=1, dc=10), Check(bonus=2, dc=10)).answer == "Q2 has the best chance"
    assert compared(Check(dc=10), Check(dc=10)).answer == "Q1 and Q2 have the same chance"
    mixed = compared(Check(dc=10), Fell(dice="5d8", creatures=(Creature(name="crab", hit_points=2),)))
    assert mixed.answer == "2 questions side by side"
    assert any("creatures that fall" in line for line in mixed.lines)


def test_fractions_that_say_nothing_are_left_out():
    assert exactly(Fraction(11, 20)) == "exactly 11/20"
    assert exactly(Fraction(1, 10**9)) == ""
    assert exactly(Fraction(1)) == ""
    assert exactly(None) == ""
    assert "too long" in answered(Check(dc=60, plus="40d6")).lines[1]


@pytest.mark.parametrize("kind", KINDS)
def test_every_answer_has_words(kind):
    found = question_of(kind, GIVEN[kind][0])
    assert not isinstance(found, Refused)
    words = answered(found)
    assert words.answer
    assert words.counted
    assert all(words.lines)
