"""Attacks against listed rounds, die by die."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.odds.attack import Attack, AttackAnswer, answer_attack, as_json, by_armor_class
from engine.odds.distribution import Distribution
from engine.problem import Refused

from . import enumerated


def answered(**question: object) -> AttackAnswer:
    answer = answer_attack(Attack(**question))
    assert isinstance(answer, AttackAnswer), answer
    return answer


def same(found: Distribution, listed: dict[int, Fraction]) -> None:
    top = max(*listed, found.high)
    for value in range(top + 1):
        assert found.chance(value) == pytest.approx(float(listed.get(value, 0)), abs=1e-12)
    assert found.low >= 0


def halved(points: int) -> int:
    return points // 2


TAKEN = [
    ({}, lambda points: points),
    # SRD 5.1, Combat, Damage Resistance and Vulnerability: halved (rounded down), and doubled after that.
    ({"resistance": True}, halved),
    ({"vulnerability": True}, lambda points: 2 * points),
    ({"resistance": True, "vulnerability": True}, lambda points: 2 * (points // 2)),
    ({"immunity": True, "vulnerability": True}, lambda points: 0),
]


@settings(deadline=None, max_examples=60)
@given(
    bonus=st.integers(-3, 12),
    ac=st.integers(5, 30),
    attacks=st.integers(1, 3),
    edge=st.sampled_from([-1, 0, 1]),
    critical_from=st.integers(15, 20),
    flat=st.integers(-3, 4),
    once=st.sampled_from([(), (4,)]),
    critical_dice=st.sampled_from([(), (3,)]),
    pool=st.sampled_from([(), (2,)]),
    uses=st.integers(0, 3),
    taken=st.sampled_from(TAKEN),
)
def test_a_round_is_counted_exactly(
    bonus, ac, attacks, edge, critical_from, flat, once, critical_dice, pool, uses, taken
) -> None:
    target, change = taken
    sign = "+" if flat >= 0 else "-"
    answer = answered(
        bonus=bonus,
        ac=ac,
        damage=f"1d4 {sign} {abs(flat)}",
        attacks=attacks,
        advantage=edge > 0,
        disadvantage=edge < 0,
        critical_from=critical_from,
        critical_dice="1d3" if critical_dice else None,
        once_per_turn="1d4" if once else None,
        pool="1d2" if pool else None,
        pool_per_round=uses,
        **target,
    )
    normal, critical = enumerated.attack_faces(bonus, ac, critical_from, edge)
    assert answer.hit_fraction == normal + critical
    assert answer.critical_fraction == critical
    listed = enumerated.attack_round(
        normal, critical, attacks, (4,), flat, once, critical_dice, pool, uses if pool else 0, change
    )
    same(answer.damage, listed)
    assert answer.damage.mean() == pytest.approx(float(enumerated.mean(listed)))
    assert answer.any_hit == pytest.approx(float(1 - (1 - normal - critical) ** attacks))
    (row,) = by_armor_class(answer.question, ac, ac)
    assert (row.hit, row.mean) == pytest.approx((answer.hit, answer.damage.mean()))


@settings(deadline=None, max_examples=30)
@given(
    bonus=st.integers(0, 9),
    ac=st.integers(8, 20),
    attacks=st.integers(1, 2),
    hit_points=st.integers(1, 30),
    once=st.booleans(),
)
def test_rounds_to_bring_down_add_up_rounds(bonus, ac, attacks, hit_points, once) -> None:
    answer = answered(
        bonus=bonus,
        ac=ac,
        damage="1d4 + 2",
        attacks=attacks,
        once_per_turn="1d4" if once else None,
        hit_points=hit_points,
        rounds=4,
    )
    normal, critical = enumerated.attack_faces(bonus, ac, 20, 0)
    one = enumerated.attack_round(normal, critical, attacks, (4,), 2, (4,) if once else ())
    total = {0: Fraction(1)}
    for chance in answer.down:
        total = enumerated.gathered((a + b, p * q) for a, p in total.items() for b, q in one.items())
        assert chance == pytest.approx(float(enumerated.at_least(total, hit_points)), abs=1e-12)
    assert list(answer.down) == sorted(answer.down)


@settings(deadline=None, max_examples=30)
@given(
    uses=st.integers(0, 4),
    per_round=st.none() | st.integers(0, 2),
    when=st.sampled_from(["hit", "critical"]),
    hit_points=st.integers(1, 16),
    critical_from=st.integers(17, 20),
)
def test_a_pool_runs_out_over_the_rounds(uses, per_round, when, hit_points, critical_from) -> None:
    answer = answered(
        bonus=4,
        ac=13,
        damage="1d2",
        attacks=2,
        critical_from=critical_from,
        pool="1d3",
        pool_when=when,
        pool_per_round=per_round,
        pool_uses=uses,
        hit_points=hit_points,
        rounds=3,
    )
    normal, critical = enumerated.attack_faces(4, 13, critical_from, 0)
    kinds = ((1 - normal - critical, 0), (normal, 1), (critical, 2))
    # Every path is walked: (damage so far, uses left in all) with its chance, attack by attack.
    paths = {(0, uses): Fraction(1)}
    expected = []
    for turn in range(3):
        in_round = {(damage, left, 0): chance for (damage, left), chance in paths.items()}
        for _ in range(2):
            after: dict[tuple[int, int, int], Fraction] = {}
            for (damage, left, spent), chance in in_round.items():
                for share, rolls in kinds:
                    spends = (
                        rolls > (0 if when == "hit" else 1) and left > 0 and (per_round is None or spent < per_round)
                    )
                    sides = ([2] + [3] * spends) * rolls
                    for points, way in enumerated.rolled(sides).items():
                        key = (min(damage + points, 99), left - spends, spent + spends)
                        after[key] = after.get(key, Fraction(0)) + chance * share * way
            in_round = after
        paths = {}
        for (damage, left, _), chance in in_round.items():
            paths[damage, left] = paths.get((damage, left), Fraction(0)) + chance
        if turn == 0:
            same(answer.damage, enumerated.gathered((damage, chance) for (damage, _), chance in paths.items()))
        expected.append(sum(chance for (damage, _), chance in paths.items() if damage >= hit_points))
    assert answer.down == pytest.approx([float(chance) for chance in expected], abs=1e-12)


def test_attacks_worked_by_hand() -> None:
    # +7 against 16 hits on 9 or more: 12 faces, one of them critical. 1d8+4 is 8.5, doubled dice 13.
    answer = answered(bonus=7, ac=16, damage="1d8+4")
    assert (answer.hit, answer.critical) == (0.6, 0.05)
    assert answer.damage.mean() == pytest.approx(0.55 * 8.5 + 0.05 * 13)
    assert answer.per_hit == 8.5
    told = as_json(answer)
    assert {"hit", "critical", "mean", "pmf"} <= told.keys()
    assert told["pmf"]["0"] == pytest.approx(0.4)
    assert (told["hit_fraction"], told["critical_fraction"]) == ("3/5", "1/20")
    # SRD 5.1, Combat, Rolling 1 or 20: automatic both ways.
    assert answered(bonus=50, ac=10, damage="1").hit == 0.95
    assert answered(bonus=-50, ac=10, damage="1").hit_fraction == Fraction(1, 20)
    # A 19 that is a critical still has to reach the armor class: only the 20 is automatic.
    assert answered(bonus=-50, ac=10, damage="1", critical_from=19).critical_fraction == Fraction(1, 20)
    # Closed form: with advantage a 20 comes up in 39 of 400 falls, with disadvantage in 1.
    assert answered(bonus=5, ac=15, damage="1", advantage=True).critical_fraction == Fraction(39, 400)
    assert answered(bonus=5, ac=15, damage="1", disadvantage=True).critical_fraction == Fraction(1, 400)
    # Extra dice on the attack roll: 1d4 reaches one more for each point. +3 + 1d4 against 15: listed.
    blessed = answered(bonus=3, ac=15, damage="1", plus="1d4")
    reach = sum(1 for face in range(2, 20) for die in range(1, 5) if face + 3 + die >= 15)
    assert blessed.hit_fraction == Fraction(reach + 4, 80)


def test_once_per_turn_dice_go_on_the_first_hit_and_double_on_a_critical() -> None:
    # SRD 5.1, Combat, Critical Hits: dice of Sneak Attack are doubled too. All but a natural 1 hits here.
    answer = answered(bonus=50, ac=1, damage="1", attacks=2, once_per_turn="2d6")
    first_critical = Fraction(1, 19)  # of those that hit
    any_hit = 1 - Fraction(1, 20) ** 2
    expected = 2 * 0.95 + float(any_hit) * (7 + 7 * float(first_critical))
    assert answer.damage.mean() == pytest.approx(expected)


def test_what_is_counted_is_told() -> None:
    answer = answered(
        bonus=7,
        ac=16,
        damage="1d8+4",
        attacks=2,
        critical_from=19,
        critical_dice="1d8",
        once_per_turn="3d6",
        pool="2d8",
        pool_when="critical",
        pool_per_round=1,
        pool_uses=3,
        resistance=True,
    )
    assert answer.basis == (
        "2 attacks a round, 1d20 + 7 against armor class 16, 1d8+4 a hit, critical from 19, 1d8 more on a critical,"
        " 3d6 once on the first hit, 2d8 from a pool on the first criticals, 1 a round at most, 3 uses in all,"
        " resistance halves it"
    )
    assert answer.down == ()


def test_many_dice_on_the_attack_roll_leave_no_fraction() -> None:
    answer = answered(bonus=0, ac=185, damage="1", plus="70d4")
    assert answer.hit_fraction is None
    assert as_json(answer)["hit_fraction"] is None
    # Mean 10.5 + 175 with sd about 10: near even.
    assert 0.4 < answer.hit < 0.6


REFUSED = [
    ({"ac": 5000}, "out-of-range"),
    ({"attacks": 0}, "out-of-range"),
    ({"attacks": 21}, "out-of-range"),
    ({"critical_from": 1}, "out-of-range"),
    ({"rounds": 0}, "out-of-range"),
    ({"hit_points": -1}, "out-of-range"),
    ({"pool_uses": 21}, "out-of-range"),
    ({"bonus": 5000}, "out-of-range"),
    ({"damage": ""}, "dice-notation"),
    ({"once_per_turn": "3x6"}, "dice-notation"),
    ({"critical_dice": "3x6"}, "dice-notation"),
    ({"pool": "3x6"}, "dice-notation"),
    ({"damage": "900d20 + 1"}, "dice-too-large"),
    ({"damage": "100d6", "attacks": 20}, "dice-too-large"),
    ({"attacks": 20, "pool": "2d8", "pool_uses": 20, "hit_points": 500, "rounds": 20}, "too-much-work"),
]


@pytest.mark.parametrize(("change", "code"), REFUSED)
def test_what_cannot_be_answered_is_told(change: dict[str, object], code: str) -> None:
    question = Attack(**({"bonus": 5, "ac": 15, "damage": "1d8"} | change))
    for refusal in (answer_attack(question), by_armor_class(question)):
        assert isinstance(refusal, Refused)
        assert refusal.code == code
        assert refusal.sentence.endswith((".", "?"))


def test_the_table_by_armor_class() -> None:
    question = Attack(bonus=7, ac=16, damage="1d8+4", attacks=2, once_per_turn="1d6", pool="2d8", pool_uses=1)
    rows = by_armor_class(question)
    assert [row.ac for row in rows] == list(range(10, 26))
    for row in rows:
        there = answered(bonus=7, ac=row.ac, damage="1d8+4", attacks=2, once_per_turn="1d6", pool="2d8", pool_uses=1)
        assert (row.hit, row.mean) == pytest.approx((there.hit, there.damage.mean()))
    assert [row.hit for row in rows] == sorted((row.hit for row in rows), reverse=True)
    assert isinstance(by_armor_class(question, 10, 9), Refused)
