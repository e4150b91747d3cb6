"""Scores, falls, dice totals, comparisons, and the doors to all of them."""

from __future__ import annotations

import json
from fractions import Fraction
from itertools import accumulate

import pytest
import scipy.stats
from hypothesis import given, settings
from hypothesis import strategies as st

import engine.odds as odds
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
    Need,
    Save,
    Scores,
    answer_compare,
    answer_dice,
    answer_fell,
    answer_scores,
    as_json,
    ask,
    needs_from,
    needs_of,
)
from engine.odds import compare as comparing
from engine.problem import Refused

from . import enumerated

NEEDS = [
    ("str 2", [(("str",), 2)]),
    ("str 3, dex 2", [(("str",), 3), (("dex",), 2)]),
    ("str or dex 3, dex 2", [(("str", "dex"), 3), (("dex",), 2)]),
    ("str or dex 3; dex or con 4, con 2", [(("str", "dex"), 3), (("dex", "con"), 4), (("con",), 2)]),
    ("str 4, str 2, con 4", [(("str",), 4), (("str",), 2), (("con",), 4)]),
]


@settings(deadline=None, max_examples=40)
@given(
    st.sampled_from(NEEDS), st.sampled_from([("1d4", (4,)), ("2d3", (3, 3)), ("2d4 - 2", (4, 4))]), st.integers(3, 4)
)
def test_scores_are_counted_exactly(needs, method, count: int) -> None:
    text, listed = needs
    dice, sides = method
    one = enumerated.rolled(sides, lambda fall: sum(fall) - (2 if "-" in dice else 0))
    answer = answer_scores(Scores(needs=needs_of(text), method=dice, count=count))
    assert answer.fraction == enumerated.scores_meet(one, listed, count)
    assert answer.chance == pytest.approx(float(answer.fraction), abs=1e-15)
    assert sum(answer.sorted_means) == pytest.approx(float(count * enumerated.mean(one)))


def test_scores_worked_by_hand() -> None:
    # One need: that not all six scores miss it. 4d6 drop lowest reaches 13 in 644 of 1296 falls (listed below).
    one = enumerated.rolled((6,) * 4, lambda fall: sum(fall) - min(fall))
    reach = enumerated.at_least(one, 13)
    assert answer_scores(Scores(needs=needs_of("dex 13"))).fraction == 1 - (1 - reach) ** 6
    # Two needs of 13: at least two scores of six, a binomial tail (scipy.stats.binom).
    two = answer_scores(Scores(needs=needs_of("dex 13, wis 13")))
    assert two.chance == pytest.approx(scipy.stats.binom(6, float(reach)).sf(1), abs=1e-12)
    # SRD 5.1, Multiclassing, Prerequisites: a fighter needs Strength or Dexterity 13, a ranger Dexterity and Wisdom 13.
    both = answer_scores(Scores(needs=needs_of("Str or Dex 13, Dex 13, Wis 13")))
    assert both.fraction == two.fraction
    assert odds.scores.as_json(two)["chance"] == two.chance
    assert answer_scores(Scores(needs=())).chance == 1.0
    assert answer_scores(Scores(needs=needs_of("str 19"))).chance == 0.0
    assert answer_scores(Scores(needs=needs_of("str 30"), method="60d6", count=2)).fraction is None
    highest = answer_scores(Scores(needs=())).sorted_means[0]
    # The mean of the highest of six, from its own distribution.
    assert highest == pytest.approx(odds.parse("4d6 drop lowest").distribution().keep_highest(6, 1).mean())


def test_needs_are_read() -> None:
    assert needs_of("dex 13, wis 13") == (
        Need(abilities=("dex",), minimum=13),
        Need(abilities=("wis",), minimum=13),
    )
    assert needs_of("Strength or Dexterity 13+ and INTEL >= 12; cha: 9") == (
        Need(abilities=("str", "dex"), minimum=13),
        Need(abilities=("int",), minimum=12),
        Need(abilities=("cha",), minimum=9),
    )
    assert needs_of("str/dex at least 13") == (Need(abilities=("str", "dex"), minimum=13),)
    assert needs_of(" ") == ()
    assert needs_from({"dex": 13}) == needs_of("dex 13")
    for text in ("dex", "13", "luck 13", "dexx 13", "dex 13 13", "de 13"):
        refusal = needs_of(text)
        assert isinstance(refusal, Refused)
        assert refusal.code == "scores-needs"


def test_scores_that_cannot_be_answered() -> None:
    for question in (
        Scores(needs=needs_of("dex 101")),
        Scores(needs=(), count=0),
        Scores(needs=(), count=13),
        Scores(needs=(), method="4d"),
        Scores(needs=(Need(abilities=("luck",), minimum=3),)),
        Scores(needs=(Need(abilities=(), minimum=3),)),
        Scores(needs=needs_of("str 5, dex 5"), count=1),
        Scores(needs=needs_of(", ".join(["str or dex or con 5"] * 4))),
    ):
        assert isinstance(answer_scores(question), Refused)


@settings(deadline=None)
@given(st.lists(st.integers(1, 12), min_size=1, max_size=5), st.integers(1, 3))
def test_falls_are_counted_exactly(points: list[int], dice: int) -> None:
    creatures = tuple(Creature(name=f"creature {place}", hit_points=one) for place, one in enumerate(points))
    answer = answer_fell(Fell(dice=f"{dice}d8", creatures=creatures))
    # SRD 5.1, Spellcasting, Sleep: from the lowest hit points up, each takes its own off what is left.
    listed = enumerated.rolled((8,) * dice)
    falls = [Fraction(0)] * len(points)
    number: dict[int, Fraction] = {}
    for total, chance in listed.items():
        left, fallen = total, 0
        for place, one in enumerate(sorted(points)):
            if one > left:
                break
            left -= one
            falls[place] += chance
            fallen += 1
        number[fallen] = number.get(fallen, Fraction(0)) + chance
    assert [row.fraction for row in answer.falls] == falls
    assert [row.creature.hit_points for row in answer.falls] == sorted(points)
    assert [row.needs for row in answer.falls] == list(accumulate(sorted(points)))
    for fallen in range(len(points) + 1):
        assert answer.number.chance(fallen) == pytest.approx(float(number.get(fallen, 0)), abs=1e-12)
    told = as_json(answer)
    assert [row["chance"] for row in told["falls"]] == [row.chance for row in answer.falls]


def test_falls_that_cannot_be_answered() -> None:
    one = Creature(name="heron", hit_points=3)
    for question in (
        Fell(dice="5d8", creatures=()),
        Fell(dice="5d8", creatures=(one,) * 51),
        Fell(dice="5d", creatures=(one,)),
        Fell(dice="5d8", creatures=(Creature(name="heron", hit_points=0),)),
    ):
        assert isinstance(answer_fell(question), Refused)


def test_a_dice_total_in_numbers() -> None:
    answer = answer_dice(DiceTotal(dice="4d6 drop lowest", at_least=16))
    told = as_json(answer)
    listed = enumerated.rolled((6,) * 4, lambda fall: sum(fall) - min(fall))
    assert told["pmf"] == {str(value): pytest.approx(float(listed[value])) for value in range(3, 19)}
    assert told["mean"] == pytest.approx(15869 / 1296)
    assert told["sd"] == pytest.approx(
        float(sum(chance * (value - enumerated.mean(listed)) ** 2 for value, chance in listed.items())) ** 0.5
    )
    assert answer.fraction == enumerated.at_least(listed, 16)
    assert told["at_least"]["chance"] == answer.reach
    assert told["quantiles"]["0.5"] == 12
    assert (told["lowest"], told["highest"], told["outcomes"], told["exact"]) == (3, 18, 1296, True)
    bare = answer_dice(DiceTotal(dice="2D6"))
    assert (bare.reach, as_json(bare)["at_least"], bare.basis) == (None, None, "2d6")
    assert as_json(answer_dice(DiceTotal(dice="100d6")))["outcomes"] is None
    assert isinstance(answer_dice(DiceTotal(dice="2d")), Refused)
    assert isinstance(answer_dice(DiceTotal(dice="2d6", at_least=10**8)), Refused)


EVERY = [
    Check(bonus=5, dc=15),
    Save(dc=15, bonus=2, damage="8d6", half=True, targets=3),
    Attack(bonus=7, ac=15, damage="1d8+4", hit_points=20),
    Contest(active=D20(bonus=3), other=D20()),
    Group(dc=12, members=(D20(), D20(bonus=4))),
    Fell(dice="5d8", creatures=(Creature(name="heron", hit_points=3),)),
    Concentration(bonus=4, hits=("22",)),
    DeathSaves(),
    Scores(needs=needs_of("dex 13")),
    DiceTotal(dice="2d6", at_least=7),
    DiceTotal(dice="2d6"),
]


@pytest.mark.parametrize("question", EVERY, ids=lambda question: type(question).__name__)
def test_any_question_goes_through_one_door(question: odds.Question) -> None:
    answer = ask(question)
    assert not isinstance(answer, Refused)
    assert answer.question == question
    assert ask(question) == answer
    told = as_json(answer)
    assert json.loads(json.dumps(told)) == told
    assert told["basis"]


def test_questions_side_by_side() -> None:
    items = (
        Item(label="plain", question=Check(bonus=5, dc=15)),
        Item(label="with advantage", question=Check(bonus=5, dc=15, advantage=True)),
    )
    answer = answer_compare(Compare(items=items))
    assert (answer.alike, answer.best) == (True, ("with advantage",))
    told = comparing.as_json(answer)
    assert [row["chance"] for row in told["rows"]] == [0.55, 0.7975]
    assert told["rows"][0]["fraction"] == "11/20"
    assert json.loads(json.dumps(told)) == told
    for start in range(0, len(EVERY) - 3, 2):
        mixed = tuple(Item(label=str(place), question=one) for place, one in enumerate(EVERY[start : start + 4]))
        mixed_answer = answer_compare(Compare(items=mixed))
        assert not mixed_answer.alike
        assert mixed_answer.best == ()
        for row, item in zip(mixed_answer.rows, mixed, strict=True):
            assert row.answer == ask(item.question)
            assert (row.chance is None) == (row.chance_of is None)
            assert (row.spread is None) == (row.of is None)
        json.dumps(comparing.as_json(mixed_answer))
    falls = (Item(label="a", question=EVERY[5]), Item(label="b", question=EVERY[5]))
    assert (answer_compare(Compare(items=falls)).alike, answer_compare(Compare(items=falls)).best) == (True, ())
    for wrong in (items[:1], items * 3):
        assert isinstance(answer_compare(Compare(items=wrong)), Refused)
    refusal = answer_compare(Compare(items=(items[0], Item(label="bad dice", question=DiceTotal(dice="2x")))))
    assert isinstance(refusal, Refused)
    assert refusal.sentence.startswith("bad dice: ")


def test_every_public_name_is_there() -> None:
    assert all(hasattr(odds, name) for name in odds.__all__)
    assert sorted(odds.__all__) == sorted(set(odds.__all__))
