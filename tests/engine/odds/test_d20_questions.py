"""Checks, saves, contests, groups, concentration and death saves against listed outcomes and closed forms."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.odds import check, concentration, contest, d20, death, group, save
from engine.odds.check import Check, answer_check
from engine.odds.concentration import Concentration, answer_concentration, hits_of
from engine.odds.contest import Contest, answer_contest
from engine.odds.d20 import D20
from engine.odds.death import DeathSaves, answer_death
from engine.odds.distribution import Distribution
from engine.odds.group import Group, answer_group
from engine.odds.save import Save, answer_save
from engine.problem import Refused

from . import enumerated
from .enumerated import at_least


@st.composite
def rolls(draw: st.DrawFn, cheap: bool = False) -> tuple[D20, dict[int, Fraction]]:
    """A roll, and its distribution listed outcome by outcome."""
    advantage, disadvantage = draw(st.booleans()), draw(st.booleans())
    extra = st.sampled_from([(), (4,)] if cheap else [(), (4,), (6,), (4, 4)])
    plus, minus = draw(extra), draw(st.sampled_from([(), (4,)]))
    bonus, lowest = draw(st.integers(-5, 15)), draw(st.sampled_from([1, 1, 2, 8, 10, 20]))
    reroll_ones = draw(st.booleans())
    roll = D20(
        bonus=bonus,
        advantage=advantage,
        disadvantage=disadvantage,
        lowest=lowest,
        reroll_ones=reroll_ones,
        plus=" + ".join(f"1d{side}" for side in plus) or None,
        minus=" + ".join(f"1d{side}" for side in minus) or None,
    )
    edge = advantage - disadvantage
    return roll, enumerated.d20_totals(bonus, edge, lowest, reroll_ones, plus, minus)


def fields(roll: D20) -> dict[str, object]:
    return {name: getattr(roll, name) for name in D20.__dataclass_fields__}


def exactly(distribution: Distribution) -> dict[int, Fraction]:
    assert distribution.counts is not None
    return {
        value: Fraction(count, distribution.total)
        for value, count in enumerate(distribution.counts, distribution.low)
        if count
    }


@settings(deadline=None)
@given(rolls(), st.integers(-5, 40))
def test_a_check_is_counted_exactly(case, dc: int) -> None:
    roll, listed = case
    answer = answer_check(Check(**fields(roll), dc=dc))
    assert exactly(answer.total) == listed
    assert answer.fraction == at_least(listed, dc)
    assert answer.success == pytest.approx(float(at_least(listed, dc)), abs=1e-15)
    assert list(answer.table) == list(range(5, 31))
    for each, chance in answer.table.items():
        assert chance == pytest.approx(float(at_least(listed, each)), abs=1e-15)
    told = check.as_json(answer)
    assert told["fraction"] == f"{answer.fraction.numerator}/{answer.fraction.denominator}"
    assert told["success"] == answer.success
    assert told["table"]["15"] == answer.table[15]


@settings(deadline=None)
@given(rolls(), st.integers(-5, 40))
def test_advantage_never_lowers_and_disadvantage_never_raises_a_chance(case, dc: int) -> None:
    roll, _ = case
    plain = fields(roll) | {"advantage": False, "disadvantage": False}
    answer = answer_check(Check(**plain, dc=dc))
    assert answer.with_disadvantage <= answer.success <= answer.with_advantage
    both = answer_check(Check(**(plain | {"advantage": True, "disadvantage": True}), dc=dc))
    assert both.fraction == answer.fraction
    better = answer_check(Check(**(plain | {"advantage": True}), dc=dc))
    worse = answer_check(Check(**(plain | {"disadvantage": True}), dc=dc))
    assert (better.success, worse.success) == (answer.with_advantage, answer.with_disadvantage)


def test_checks_worked_by_hand() -> None:
    # cards.md of the design: 1d20 + 9 against 20 is 1 in 2, with advantage 3 in 4, with disadvantage 1 in 4.
    answer = answer_check(Check(bonus=9, dc=20))
    assert (answer.success, answer.with_advantage, answer.with_disadvantage) == (0.5, 0.75, 0.25)
    assert check.as_json(answer)["words"] == "50 % (1 in 2)"
    assert answer.basis == "total 1d20 + 9, success at 20 or more"
    # Closed form: 1 - ((n - 1) / 20) squared for a face of n or more with advantage.
    for face in range(1, 21):
        found = answer_check(Check(dc=face, advantage=True)).fraction
        assert found == 1 - Fraction(face - 1, 20) ** 2
    # No automatic 1 or 20 on checks: SRD 5.1 gives them to attack rolls alone (and to death saves).
    assert answer_check(Check(bonus=14, dc=15)).success == 1.0
    assert answer_check(Check(bonus=-6, dc=15)).success == 0.0
    # SRD 5.1, Classes, Rogue, Reliable Talent: 9 or lower counts as 10.
    assert answer_check(Check(bonus=11, dc=21, lowest=10)).success == 1.0
    assert answer_check(Check(bonus=11, dc=22, lowest=10)).fraction == Fraction(1, 2)


def test_dice_that_make_the_counts_too_many_leave_no_fraction() -> None:
    answer = answer_check(Check(bonus=3, dc=90, plus="70d4"))
    assert answer.fraction is None
    assert check.as_json(answer)["fraction"] is None
    # scipy would do as well: the sum of many dice is near normal, mean 3 + 10.5 + 175, so 90 is nearly sure.
    assert answer.success == pytest.approx(1, abs=1e-6)
    failed = answer_save(Save(dc=90, bonus=3, plus="70d4", damage="2d6", half=True, targets=3))
    assert failed.fraction is None
    assert failed.fail == pytest.approx(0, abs=1e-6)
    assert failed.damage.mean() == pytest.approx(3.25, abs=1e-4)
    assert answer_group(Group(dc=90, members=(D20(plus="70d4"), D20()))).fraction is None
    held = answer_concentration(Concentration(plus="70d4", hits=("30",)))
    assert (held.fraction, held.hits[0].fraction) == (None, None)
    assert held.hold == pytest.approx(1)
    died = answer_death(DeathSaves(plus="70d4"))
    assert died.fraction is None
    # A natural 1 is still two failures: two of them in a row before three other throws are what kills.
    assert died.dead == pytest.approx(1 / 400 + 2 * (1 / 400) * (18 / 20) + 3 * (1 / 400) * (18 / 20) ** 2, abs=1e-12)


DAMAGE = [("2d6", (6, 6), 0), ("1d4 - 2", (4,), -2), ("3d4 + 1", (4, 4, 4), 1)]


@settings(deadline=None)
@given(rolls(cheap=True), st.integers(5, 25), st.sampled_from(DAMAGE), st.booleans(), st.integers(1, 4))
def test_a_save_is_counted_exactly(case, dc: int, damage, half: bool, targets: int) -> None:
    roll, listed = case
    text, sides, flat = damage
    answer = answer_save(Save(**fields(roll), dc=dc, damage=text, half=half, targets=targets))
    fail = 1 - at_least(listed, dc)
    one = enumerated.saved_damage(enumerated.rolled(sides, lambda fall: sum(fall) + flat), fail, half)
    assert answer.fraction == fail
    for value in range(40):
        assert answer.damage.chance(value) == pytest.approx(float(one.get(value, 0)), abs=1e-12)
    many = enumerated.how_many([fail] * targets)
    for number in range(targets + 1):
        assert answer.failures.chance(number) == pytest.approx(float(many.get(number, 0)), abs=1e-12)
    assert answer.total_mean == pytest.approx(float(targets * enumerated.mean(one)))
    told = save.as_json(answer)
    assert {"fail", "mean", "pmf", "failures", "total_mean"} <= told.keys()
    assert sum(told["pmf"].values()) == pytest.approx(1, abs=1e-12)
    assert told["mean"] == pytest.approx(float(enumerated.mean(one)))


def test_a_save_worked_by_hand() -> None:
    # 8d6 (mean 28), DC 15 against +2: fails on 12 or less, 12 in 20. Halves of 8d6 round down: mean 13.75.
    answer = answer_save(Save(dc=15, bonus=2, damage="8d6", half=True, targets=4))
    assert answer.fail == 0.6
    assert answer.damage.mean() == pytest.approx(0.6 * 28 + 0.4 * 13.75)
    assert answer.total_mean == pytest.approx(4 * answer.damage.mean())
    # SRD 5.1, Classes, Rogue, Evasion: none on a save, half on a failure.
    evaded = answer_save(Save(dc=15, bonus=2, damage="8d6", half=True, evasion=True))
    assert evaded.damage.mean() == pytest.approx(0.6 * 13.75)
    assert "evasion" in evaded.basis
    # Evasion answers only effects that halve.
    assert answer_save(Save(dc=15, bonus=2, damage="8d6", evasion=True)).damage.mean() == pytest.approx(0.6 * 28)
    # SRD 5.1, Combat, Damage Resistance and Vulnerability: 7 halved twice, each time rounded down, is 1.
    twice = answer_save(Save(dc=10, damage="7", half=True, resistance=True))
    assert twice.damage.pmf() == {1: 0.55, 3: 0.45}
    assert answer_save(Save(dc=10, damage="7", vulnerability=True)).damage.pmf() == {0: 0.55, 14: 0.45}
    assert answer_save(Save(dc=10, damage="7", immunity=True)).damage.pmf() == {0: 1.0}
    bare = answer_save(Save(dc=10))
    assert bare.damage.pmf() == {0: 1.0}
    assert bare.basis.endswith("no damage")
    assert answer_save(Save(dc=30, damage="3")).fail == 1.0


@settings(deadline=None)
@given(rolls(cheap=True), rolls(cheap=True))
def test_a_contest_is_counted_exactly(left, right) -> None:
    (active, listed), (other, against) = left, right
    ahead = sum(
        (p * q for a, p in listed.items() for b, q in against.items() if a > b),
        start=Fraction(0),
    )
    tie = sum((p * against.get(a, 0) for a, p in listed.items()), start=Fraction(0))
    for rule, won in (("nobody", ahead), ("other", ahead), ("active", ahead + tie)):
        answer = answer_contest(Contest(active=active, other=other, ties=rule))
        assert answer.fraction == won
        assert answer.win == pytest.approx(float(won), abs=1e-15)
        assert answer.ahead == pytest.approx(float(ahead), abs=1e-15)
        assert answer.tie == pytest.approx(float(tie), abs=1e-15)
        assert answer.ahead + answer.tie + answer.behind == pytest.approx(1, abs=1e-12)
        assert contest.as_json(answer)["ties"] == rule


def test_an_even_contest() -> None:
    # Closed form: of 400 pairs 20 tie, and half of the others are higher: 190 / 400.
    answer = answer_contest(Contest(active=D20(bonus=3), other=D20(bonus=3)))
    assert (answer.fraction, answer.tie) == (Fraction(19, 40), 0.05)


@settings(deadline=None)
@given(st.lists(rolls(cheap=True), min_size=1, max_size=4), st.integers(5, 25), st.none() | st.integers(1, 4))
def test_a_group_is_counted_exactly(cases, dc: int, needed: int | None) -> None:
    needed = None if needed is None else min(needed, len(cases))
    answer = answer_group(Group(dc=dc, members=tuple(roll for roll, _ in cases), needed=needed))
    shares = [at_least(listed, dc) for _, listed in cases]
    # SRD 5.1, Using Ability Scores, Group Checks: at least half of the group.
    enough = needed or -(-len(cases) // 2)
    expected = at_least(enumerated.how_many(shares), enough)
    assert answer.needed == enough
    assert answer.fraction in (expected, None)
    assert answer.success == pytest.approx(float(expected), abs=1e-12)
    assert answer.each == tuple(float(share) for share in shares)
    told = group.as_json(answer)
    assert told["success"] == answer.success
    assert sum(told["successes"].values()) == pytest.approx(1, abs=1e-12)


def test_group_and_contest_pass_on_refusals() -> None:
    for members in ((), (D20(),) * 31, (D20(plus="1x"),), (D20(bonus=9999),)):
        assert isinstance(answer_group(Group(dc=10, members=members)), Refused)
    assert isinstance(answer_group(Group(dc=10, members=(D20(),), needed=2)), Refused)
    assert isinstance(answer_contest(Contest(active=D20(lowest=0), other=D20())), Refused)
    assert isinstance(answer_contest(Contest(active=D20(), other=D20(minus="2d"))), Refused)


HITS = [
    ("22", (), 22),
    ("2d6 + 3", (6, 6), 3),
    ("5d8", (8,) * 5, 0),
    ("1d4 - 2", (4,), -2),
    ("0", (), 0),
]


@settings(deadline=None, max_examples=50)
@given(rolls(cheap=True), st.lists(st.sampled_from(HITS), min_size=1, max_size=4))
def test_concentration_is_counted_exactly(case, hits) -> None:
    roll, listed = case
    answer = answer_concentration(Concentration(**fields(roll), hits=tuple(text for text, _, _ in hits)))
    still = Fraction(1)
    for (_, sides, flat), row in zip(hits, answer.hits, strict=True):
        hold = Fraction(0)
        for rolled, chance in enumerated.rolled(sides).items():
            damage = rolled + flat
            # SRD 5.1, Spellcasting, Concentration: DC 10 or half the damage, whichever is higher; no damage, no save.
            hold += chance * (at_least(listed, max(10, damage // 2)) if damage > 0 else 1)
        still *= hold
        assert row.hold == pytest.approx(float(hold), abs=1e-12)
        assert row.still == pytest.approx(float(still), abs=1e-12)
        assert row.fraction in (still, None)
    assert answer.hold == answer.hits[-1].still
    told = concentration.as_json(answer)
    assert [row["still"] for row in told["hits"]] == [row.still for row in answer.hits]


def test_concentration_worked_by_hand() -> None:
    # +5 against DC 11 (22 points): 6 or more, 15 in 20. Against DC 10: 16 in 20.
    answer = answer_concentration(Concentration(bonus=5, hits=("22", "9")))
    assert answer.fraction == Fraction(15, 20) * Fraction(16, 20)
    assert (answer.hits[0].lowest_dc, answer.hits[1].highest_dc) == (11, 10)
    assert answer_concentration(Concentration(hits=("0",))).hits[0].lowest_dc == 0


def test_a_hit_of_more_dice_than_can_be_counted() -> None:
    answer = answer_concentration(Concentration(bonus=30, hits=("70d6",)))
    assert answer.fraction is None
    # numpy: half of 70d6 against 1d20 + 30, where no face is automatic.
    mass = np.ones(1)
    for _ in range(70):
        mass = np.convolve(mass, np.full(6, 1 / 6))
    needed = np.arange(70, 421) // 2 - 30
    expected = float((mass * np.clip((21 - needed) / 20, 0, 1)).sum())
    assert answer.hold == pytest.approx(expected, abs=1e-12)


def test_a_list_of_hits_is_read() -> None:
    assert hits_of("22, 9") == ("22", "9")
    assert hits_of("3 hits of 2d6+3") == ("2d6+3",) * 3
    assert hits_of("2 times 1d8; 4d6, drop lowest\n7") == ("1d8", "1d8", "4d6, drop lowest", "7")
    assert hits_of("1 hit of 5,") == ("5",)
    for text in ("", ",", "51 hits of 3", "0 hits of 3", "9999 hits of 3"):
        assert isinstance(hits_of(text), Refused)
    for hits in ((), ("1",) * 51, ("2d",)):
        assert isinstance(answer_concentration(Concentration(hits=hits)), Refused)
    wide = tuple(f"{1000 - n}d6 + 900d7" for n in range(30))
    refusal = answer_concentration(Concentration(hits=wide))
    assert isinstance(refusal, Refused)
    assert refusal.code == "too-much-work"


@settings(deadline=None, max_examples=30)
@given(rolls(cheap=True), st.integers(0, 2), st.integers(0, 2))
def test_death_saves_are_counted_exactly(case, good: int, bad: int) -> None:
    roll, _ = case
    plus = (4,) if roll.plus else ()
    minus = (4,) if roll.minus else ()
    results: dict[str, Fraction] = {}
    for face, chance in enumerated.d20_faces(roll.edge, roll.reroll_ones):
        for added in enumerated.faces(plus):
            for taken in enumerated.faces(minus):
                total = max(face, roll.lowest) + roll.bonus + sum(added) - sum(taken)
                if face in (1, 20):
                    result = "two failures" if face == 1 else "up"
                else:
                    result = "success" if total >= 10 else "failure"
                ways = len(list(enumerated.faces(plus))) * len(list(enumerated.faces(minus)))
                results[result] = results.get(result, Fraction(0)) + chance / ways
    ends = enumerated.death_saves(lambda: list(results.items()), good, bad)
    answer = answer_death(DeathSaves(**fields(roll), successes=good, failures=bad))
    live = ends.get("stable", Fraction(0)) + ends.get("up", Fraction(0))
    assert answer.fraction == live
    assert answer.live == pytest.approx(float(live), abs=1e-15)
    assert answer.dead == pytest.approx(float(ends.get("dead", 0)), abs=1e-12)
    assert answer.stable + answer.up + answer.dead == pytest.approx(1, abs=1e-12)
    assert answer.by_round[-1].open == 0
    for row in answer.by_round:
        assert row.stable + row.up + row.dead + row.open == pytest.approx(1, abs=1e-12)
    assert answer.rounds == pytest.approx(1 + sum(row.open for row in answer.by_round))


def test_death_saves_as_an_absorbing_chain_of_numpy() -> None:
    # Markov chain on (successes, failures), solved with numpy.linalg: absorbed = (I - Q)^-1 R, steps = (I - Q)^-1 1.
    states = [(good, bad) for good in range(3) for bad in range(3)]
    inside = np.zeros((9, 9))
    ends = np.zeros((9, 3))  # stable, up, dead
    for place, (good, bad) in enumerate(states):
        ends[place, 1] += 1 / 20
        for chance, more_good, more_bad in ((11 / 20 - 1 / 20, 1, 0), (8 / 20, 0, 1), (1 / 20, 0, 2)):
            to = (good + more_good, bad + more_bad)
            if to[0] >= 3:
                ends[place, 0] += chance
            elif to[1] >= 3:
                ends[place, 2] += chance
            else:
                inside[place, states.index(to)] += chance
    # A 10 to 19 succeeds: ten faces; 2 to 9 fail: eight faces.
    absorbed = np.linalg.solve(np.eye(9) - inside, ends)
    steps = np.linalg.solve(np.eye(9) - inside, np.ones(9))
    for place, (good, bad) in enumerate(states):
        answer = answer_death(DeathSaves(successes=good, failures=bad))
        assert (answer.stable, answer.up, answer.dead) == pytest.approx(tuple(absorbed[place]), abs=1e-12)
        assert answer.rounds == pytest.approx(steps[place], abs=1e-12)
    # 59.5 % live without any modifier (the chain above).
    whole = answer_death(DeathSaves())
    assert round(whole.live, 3) == 0.595
    assert death.as_json(whole)["fraction"] == "4761/8000"
    assert "from 1 success and 2 failures on" in answer_death(DeathSaves(successes=1, failures=2)).basis


def test_a_hit_before_the_death_saves() -> None:
    # SRD 5.1, Combat, Instant Death; Temporary Hit Points. 2d6 on 4 of 7 hit points: 4 or more drops, 11 or more kills.
    answer = answer_death(DeathSaves(hit="2d6", hit_points=4, maximum=7))
    assert (answer.drops, answer.outright) == pytest.approx((33 / 36, 3 / 36))
    assert answer.live == answer_death(DeathSaves()).live
    # Three temporary points: 7 or more drops; 14 would have to come up to kill.
    answer = answer_death(DeathSaves(hit="2d6", hit_points=4, maximum=7, temporary=3))
    assert (answer.drops, answer.outright) == pytest.approx((21 / 36, 0))
    assert death.as_json(answer)["outright"] == 0
    assert "after a hit of 2d6 on 4 and 3 temporary of 7 hit points" in answer.basis
    # Unhurt is the maximum; one who is down already dies of damage that is no less than the maximum.
    assert answer_death(DeathSaves(hit="2d6", maximum=12)).drops == pytest.approx(1 / 36)
    assert answer_death(DeathSaves(hit="2d6", hit_points=0, maximum=12)).outright == pytest.approx(1 / 36)
    assert (answer_death(DeathSaves()).drops, "outright" in death.as_json(answer_death(DeathSaves()))) == (None, False)


@settings(deadline=None)
@given(rolls(cheap=True))
def test_a_better_death_save_never_lowers_the_chance_to_live(case) -> None:
    roll, _ = case
    plain = fields(roll) | {"advantage": False, "disadvantage": False}
    live = answer_death(DeathSaves(**plain)).live
    assert answer_death(DeathSaves(**(plain | {"advantage": True}))).live >= live
    assert answer_death(DeathSaves(**(plain | {"disadvantage": True}))).live <= live
    assert answer_death(DeathSaves(**(plain | {"bonus": roll.bonus + 1}))).live >= live


def test_limits_are_told() -> None:
    cases = [
        answer_check(Check(dc=5000)),
        answer_check(Check(dc=5, bonus=1001)),
        answer_check(Check(dc=5, lowest=21)),
        answer_check(Check(dc=5, plus="1e6")),
        answer_check(Check(dc=5, minus="d")),
        answer_save(Save(dc=5, targets=0)),
        answer_save(Save(dc=5, targets=101)),
        answer_save(Save(dc=5, damage="8d")),
        answer_save(Save(dc=5, plus="8d")),
        answer_death(DeathSaves(successes=3)),
        answer_death(DeathSaves(failures=-1)),
        answer_death(DeathSaves(plus="?")),
        answer_death(DeathSaves(hit="2d6")),
        answer_death(DeathSaves(hit="2d", maximum=5)),
        answer_death(DeathSaves(hit="2d6", maximum=0)),
        answer_death(DeathSaves(hit="2d6", maximum=5, hit_points=6)),
        answer_death(DeathSaves(hit="2d6", maximum=5, temporary=-1)),
        answer_concentration(Concentration(hits=("5",), bonus=5000)),
    ]
    for refusal in cases:
        assert isinstance(refusal, Refused)
        assert refusal.sentence.endswith((".", "?"))
    assert cases[0].sentence == "The DC is 5000; it must be a number from -1000 to 1000."


def test_the_roll_in_words() -> None:
    roll = D20(bonus=-1, advantage=True, disadvantage=True, lowest=10, reroll_ones=True, plus="1d4", minus="1d6+1")
    assert d20.in_words(roll) == (
        "1d20 - 1 + 1d4 - (1d6+1), advantage and disadvantage cancel, faces below 10 count as 10,"
        " a 1 is rolled once more"
    )
    assert d20.in_words(D20(disadvantage=True, minus="1d8")) == "1d20 with disadvantage - 1d8"
