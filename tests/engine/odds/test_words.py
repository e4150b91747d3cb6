"""Plain phrases for chances."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.odds import words

SAID = [
    (0, "0 % (never)"),
    (1, "100 % (always)"),
    (Fraction(1, 2), "50 % (1 in 2)"),
    (0.75, "75 % (3 in 4)"),
    (0.88, "88 % (about 7 in 8)"),
    (Fraction(7, 8), "88 % (7 in 8)"),
    (0.05, "5 % (1 in 20)"),
    (0.95, "95 % (all but 1 in 20)"),
    (0.9, "90 % (9 in 10)"),
    (0.1, "10 % (1 in 10)"),
    (0.004, "under 1 % (1 in 250)"),
    (Fraction(997, 1000), "over 99 % (all but about 1 in 333)"),
    (1e-9, "under 1 % (1 in 1000000000)"),
    (0.65, "65 % (about 2 in 3)"),
]


@pytest.mark.parametrize(("chance", "said"), SAID)
def test_a_chance_in_both_forms(chance: float | Fraction, said: str) -> None:
    assert words.chance(chance) == said


@settings(deadline=None)
@given(st.floats(0, 1) | st.fractions(0, 1))
def test_what_can_happen_is_never_zero_and_what_can_fail_never_sure(chance: float | Fraction) -> None:
    said = words.percent(chance)
    assert (said == "0 %") == (chance == 0)
    assert (said == "100 %") == (chance == 1)
    if said[0].isdigit():
        assert abs(float(chance) * 100 - int(said.removesuffix(" %"))) <= 0.5 + 1e-6
    assert words.people_say(chance)


def test_small_words() -> None:
    assert [words.signed(number) for number in (7, 0, -1)] == ["+7", "+0", "-1"]
    assert [words.added("1d20", number) for number in (7, 0, -1)] == ["1d20 + 7", "1d20", "1d20 - 1"]
    assert [words.times(1, "target"), words.times(2, "target"), words.times(0, "save")] == [
        "1 target",
        "2 targets",
        "0 saves",
    ]
    assert [words.plain(number) for number in (7.0, 13.825)] == ["7", "13.8"]
