"""Distributions against listed outcomes, numpy, scipy and closed forms."""

from __future__ import annotations

from fractions import Fraction
from itertools import product
from math import comb

import numpy as np
import pytest
import scipy.stats
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.odds import counts, transform
from engine.odds.distribution import Distribution, as_text, binomial, poisson_binomial

from . import enumerated


@st.composite
def small(draw: st.DrawFn) -> Distribution:
    """A distribution over a few integers, some with no outcome at all."""
    ways = draw(st.lists(st.integers(0, 4), min_size=1, max_size=6).filter(any))
    return Distribution.from_counts(draw(st.integers(-5, 5)), ways)


def exactly(distribution: Distribution) -> dict[int, Fraction]:
    """The exact chances of a distribution that has them."""
    assert distribution.counts is not None
    assert distribution.total == sum(distribution.counts)
    return {
        value: Fraction(count, distribution.total)
        for value, count in enumerate(distribution.counts, distribution.low)
        if count
    }


def as_floats(distribution: Distribution) -> Distribution:
    """The same distribution without its counts."""
    return Distribution.from_mass(distribution.low, distribution.mass)


def close(left: Distribution, right: Distribution) -> None:
    """Both give every value the same chance within 1e-12."""
    one, other = left.pmf(), right.pmf()
    for value in one.keys() | other.keys():
        assert one.get(value, 0.0) == pytest.approx(other.get(value, 0.0), abs=1e-12)


def joined(left: Distribution, right: Distribution, how) -> dict[int, Fraction]:
    """Every pair of results, listed."""
    return enumerated.gathered(
        (how(a, b), p * q) for (a, p), (b, q) in product(exactly(left).items(), exactly(right).items())
    )


@settings(deadline=None)
@given(small(), small())
def test_two_results_joined_are_all_their_pairs(left: Distribution, right: Distribution) -> None:
    assert exactly(left + right) == joined(left, right, lambda a, b: a + b)
    assert exactly(left - right) == joined(left, right, lambda a, b: a - b)
    assert exactly(left.maximum(right)) == joined(left, right, max)
    assert exactly(left.minimum(right)) == joined(left, right, min)
    for exact_one, float_one in (
        (left + right, as_floats(left) + as_floats(right)),
        (left - right, as_floats(left) - right),
        (left.maximum(right), as_floats(left).maximum(right)),
        (left.minimum(right), left.minimum(as_floats(right))),
    ):
        close(exact_one, float_one)


@settings(deadline=None)
@given(small(), st.integers(-3, 3), st.integers(-3, 3))
def test_one_result_changed_is_every_value_changed(one: Distribution, factor: int, by: int) -> None:
    listed = exactly(one).items()
    assert exactly(one.shift(by)) == {value + by: chance for value, chance in listed}
    assert exactly(-one) == enumerated.gathered((-value, chance) for value, chance in listed)
    assert exactly(one.scale(factor)) == enumerated.gathered((value * factor, chance) for value, chance in listed)
    assert exactly(one.half()) == enumerated.gathered((value // 2, chance) for value, chance in listed)
    assert exactly(one.at_least_zero()) == enumerated.gathered((max(0, value), chance) for value, chance in listed)
    close(one.map(lambda value: value * value), as_floats(one).map(lambda value: value * value))
    close(-one, -as_floats(one))


@settings(deadline=None)
@given(small(), st.integers(0, 4))
def test_a_repeated_sum_is_the_sum_of_so_many(one: Distribution, number: int) -> None:
    by_hand = Distribution.point(0)
    for _ in range(number):
        by_hand = by_hand + one
    assert exactly(one.times(number)) == exactly(by_hand)
    close(as_floats(one).times(number), by_hand)


@settings(deadline=None)
@given(small(), st.integers(1, 4), st.data())
def test_kept_dice_are_the_sorted_ones(one: Distribution, dice: int, data: st.DataObject) -> None:
    kept = data.draw(st.integers(1, dice))
    chances = exactly(one)

    def listed(pick) -> dict[int, Fraction]:
        outcomes = []
        for fall in product(chances, repeat=dice):
            chance = Fraction(1)
            for value in fall:
                chance *= chances[value]
            outcomes.append((sum(pick(sorted(fall))), chance))
        return enumerated.gathered(outcomes)

    assert exactly(one.keep_highest(dice, kept)) == listed(lambda fall: fall[dice - kept :])
    assert exactly(one.keep_lowest(dice, kept)) == listed(lambda fall: fall[:kept])
    assert one.drop_lowest(dice, dice - kept) == one.keep_highest(dice, kept)
    assert one.drop_highest(dice, dice - kept) == one.keep_lowest(dice, kept)
    close(as_floats(one).keep_highest(dice, kept), one.keep_highest(dice, kept))
    close(as_floats(one).keep_lowest(dice, kept), one.keep_lowest(dice, kept))


@settings(deadline=None)
@given(small(), st.sets(st.integers(-5, 10)))
def test_reroll_and_explosion_happen_once(one: Distribution, chosen: set[int]) -> None:
    chances = exactly(one)
    again = []
    more = []
    for value, chance in chances.items():
        if value in chosen:
            again += [(new, chance * share) for new, share in chances.items()]
            more += [(value + new, chance * share) for new, share in chances.items()]
        else:
            again.append((value, chance))
            more.append((value, chance))
    assert exactly(one.reroll(chosen.__contains__)) == enumerated.gathered(again)
    assert exactly(one.explode_once(chosen.__contains__)) == enumerated.gathered(more)
    close(as_floats(one).reroll(chosen.__contains__), one.reroll(chosen.__contains__))
    close(as_floats(one).explode_once(chosen.__contains__), one.explode_once(chosen.__contains__))


@settings(deadline=None)
@given(small(), small(), st.fractions(0, 1))
def test_a_mixture_weighs_its_parts(left: Distribution, right: Distribution, share: Fraction) -> None:
    mixed = Distribution.mixture([(share, left), (1 - share, right)])
    outcomes = [(value, chance * share) for value, chance in exactly(left).items()]
    outcomes += [(value, chance * (1 - share)) for value, chance in exactly(right).items()]
    expected = {value: chance for value, chance in enumerated.gathered(outcomes).items() if chance}
    if mixed.exact:
        assert exactly(mixed) == expected
    for value, chance in expected.items():
        assert mixed.chance(value) == pytest.approx(float(chance), abs=1e-12)
    close(Distribution.mixture([(float(share), left), (float(1 - share), right)]), mixed)


@settings(deadline=None)
@given(small(), st.integers(-5, 10))
def test_a_condition_leaves_what_is_known(one: Distribution, value: int) -> None:
    chances = exactly(one)
    whole = enumerated.at_least(chances, value)
    if not whole:
        with pytest.raises(ValueError, match="no chance"):
            one.condition(lambda result: result >= value)
        with pytest.raises(ValueError, match="no chance"):
            as_floats(one).condition(lambda result: result >= value)
        return
    expected = {result: chance / whole for result, chance in chances.items() if result >= value}
    assert exactly(one.condition(lambda result: result >= value)) == expected
    close(as_floats(one).condition(lambda result: result >= value), one.condition(lambda result: result >= value))


@settings(deadline=None)
@given(small(), st.integers(-8, 12))
def test_tails_and_moments_are_those_of_the_list(one: Distribution, value: int) -> None:
    chances = exactly(one)
    floats = as_floats(one)
    tail = enumerated.at_least(chances, value)
    middle = enumerated.mean(chances)
    spread = sum(chance * (result - middle) ** 2 for result, chance in chances.items())
    assert one.fraction_at_least(value) == tail
    assert one.at_least(value) == pytest.approx(float(tail), abs=1e-15)
    assert floats.at_least(value) == pytest.approx(float(tail), abs=1e-12)
    assert one.at_most(value - 1) == pytest.approx(float(1 - tail), abs=1e-15)
    assert floats.at_most(value - 1) == pytest.approx(float(1 - tail), abs=1e-12)
    assert one.tail().get(value, one.at_least(value)) == pytest.approx(float(tail), abs=1e-15)
    assert floats.tail().get(value, floats.at_least(value)) == pytest.approx(float(tail), abs=1e-12)
    assert one.mean_fraction() == middle
    assert floats.mean() == pytest.approx(float(middle), abs=1e-12)
    assert one.sd() == pytest.approx(float(spread) ** 0.5, abs=1e-12)
    assert floats.sd() == pytest.approx(float(spread) ** 0.5, abs=1e-7)
    assert one.chance(value) == pytest.approx(float(chances.get(value, 0)), abs=1e-15)
    assert one.support == tuple(sorted(chances))
    assert floats.fraction_at_least(value) is None
    assert floats.total is None


@settings(deadline=None)
@given(small(), st.floats(0, 1))
def test_a_quantile_is_the_smallest_value_that_reaches_its_share(one: Distribution, share: float) -> None:
    value = one.quantile(share)
    below = sum(chance for result, chance in exactly(one).items() if result < value)
    upto = below + exactly(one)[value]
    assert upto >= Fraction(share)
    assert below < Fraction(share) or value == one.low
    # The mass alone cannot tell shares closer to a step than its rounding.
    if abs(float(upto) - share) > 1e-9 and abs(float(below) - share) > 1e-9:
        assert as_floats(one).quantile(share) == value


@settings(deadline=None)
@given(small(), small(), small())
def test_sums_follow_the_laws_of_addition(a: Distribution, b: Distribution, c: Distribution) -> None:
    assert a + b == b + a
    assert hash(a + b) == hash(b + a)
    assert (a + b) + c == a + (b + c)
    assert a + Distribution.point(0) == a
    assert a + 2 == a.shift(2)
    assert a - 2 == a.shift(-2)
    assert a.maximum(b) == b.maximum(a)
    assert a.maximum(b).mean() >= max(a.mean(), b.mean()) - 1e-12
    assert a.mean() + b.mean() == pytest.approx((a + b).mean())
    assert (a + b).sd() ** 2 == pytest.approx(a.sd() ** 2 + b.sd() ** 2)


@settings(deadline=None, max_examples=60)
@given(st.integers(1, 400), st.integers(1, 30), st.data())
def test_mass_always_sums_to_one(dice: int, sides: int, data: st.DataObject) -> None:
    kept = data.draw(st.integers(1, min(dice, 12)))
    for distribution in (Distribution.die(sides).times(dice), Distribution.die(sides).keep_highest(dice, kept)):
        assert float(distribution.mass.sum()) == pytest.approx(1, abs=1e-12)
        assert float(distribution.mass.min()) >= 0
        assert not distribution.mass.flags.writeable
        assert len(distribution) == distribution.high - distribution.low + 1 == len(distribution.mass)


@pytest.mark.parametrize(("dice", "sides"), [(2, 6), (20, 6), (49, 6), (100, 6), (200, 4), (1000, 6), (300, 20)])
def test_sums_of_dice_are_those_of_numpy_convolution(dice: int, sides: int) -> None:
    # numpy.convolve, one die at a time: slow, but with no rounding to speak of.
    expected = np.ones(1)
    for _ in range(dice):
        expected = np.convolve(expected, np.full(sides, 1 / sides))
    found = Distribution.die(sides).times(dice)
    assert (found.low, found.high) == (dice, dice * sides)
    mass = np.zeros(len(expected))
    mass[: len(found.mass)] = found.mass
    assert np.abs(mass - expected).max() < 1e-12
    assert found.mean() == pytest.approx(dice * (sides + 1) / 2)
    # Closed form: the variance of one die is (sides squared - 1) / 12.
    assert found.sd() == pytest.approx((dice * (sides**2 - 1) / 12) ** 0.5)


@pytest.mark.parametrize("tries", [1, 7, 40, 500])
def test_counting_successes_is_the_binomial_of_scipy(tries: int) -> None:
    found = binomial(tries, Fraction(3, 20))
    expected = scipy.stats.binom(tries, 0.15)
    for value in range(0, tries + 1, max(1, tries // 20)):
        assert found.chance(value) == pytest.approx(expected.pmf(value), abs=1e-12)
        assert found.at_least(value) == pytest.approx(expected.sf(value - 1), abs=1e-12)
    assert found.quantile(0.5) == expected.ppf(0.5)


def test_coins_of_two_faces_are_the_binomial_of_scipy() -> None:
    coins = Distribution.die(2).times(900)
    expected = scipy.stats.binom(900, 0.5)
    for value in range(400, 500):
        assert coins.chance(900 + value) == pytest.approx(expected.pmf(value), abs=1e-12)


@settings(deadline=None)
@given(st.lists(st.fractions(0, 1, max_denominator=9), min_size=1, max_size=5))
def test_counting_unequal_successes_lists_every_case(shares: list[Fraction]) -> None:
    expected = {number: chance for number, chance in enumerated.how_many(shares).items() if chance}
    assert exactly(poisson_binomial(shares)) == expected


def test_closed_forms() -> None:
    die = Distribution.die(20)
    # Closed form: the mean of the higher of two d20 is 13.825, of the lower 7.175.
    assert die.keep_highest(2, 1).mean() == 13.825
    assert die.keep_lowest(2, 1).mean() == 7.175
    # Closed form: both faces are below n with a chance of ((n - 1) / 20) squared.
    for face in range(1, 21):
        assert die.maximum(die).fraction_at_least(face) == 1 - Fraction(face - 1, 20) ** 2
    # Counted over all 1296 falls of four dice: 15869 / 1296.
    assert Distribution.die(6).drop_lowest(4, 1).mean_fraction() == Fraction(15869, 1296)
    # Closed form: all n dice at most f in (f / s) ** n cases.
    assert Distribution.die(6).keep_highest(10, 1).at_most(4) == pytest.approx((4 / 6) ** 10)


def test_counts_are_kept_up_to_the_stated_size() -> None:
    assert Distribution.die(6).times(49).exact  # 6 ** 49 < 2 ** 128
    assert not Distribution.die(6).times(50).exact
    assert Distribution.die(6).times(49).total == 6**49
    assert counts.fits(1024, 2**127)
    assert not counts.fits(1025, 2**127)
    assert not counts.fits(1, 2**128)
    wide = Distribution.die(1000)
    assert wide.times(2).exact
    assert not wide.times(20).exact
    # The number of ways to throw 49 dice with a total of 52 is that of putting 3 pips on 49 dice: comb(51, 3).
    assert Distribution.die(6).times(49).counts[3] == comb(51, 3)


@pytest.mark.parametrize(("dice", "kept", "sides"), [(60, 3, 6), (60, 59, 6), (200, 20, 8), (12, 5, 100), (30, 1, 900)])
def test_kept_dice_in_floats_are_those_of_exact_counting(dice: int, kept: int, sides: int) -> None:
    die = Distribution.die(sides)
    # Fractions of any length, past the size at which the distribution keeps its counts.
    order = [Fraction(0)] * kept
    for below in range(sides):
        for place in range(kept):
            # The place-th highest die is at least this face if more than place dice are.
            reach = Fraction(sides - below, sides)
            miss = sum(comb(dice, n) * reach**n * (1 - reach) ** (dice - n) for n in range(place + 1))
            order[place] += 1 - miss
    means = sum(order, start=Fraction(0))
    found = die.keep_highest(dice, kept)
    assert found.mean() == pytest.approx(float(means), rel=1e-11)
    top = 1 - sum(
        comb(dice, n) * Fraction(1, sides) ** n * Fraction(sides - 1, sides) ** (dice - n) for n in range(kept)
    )
    assert found.chance(kept * sides) == pytest.approx(float(top), abs=1e-12)


def test_transforms_agree_with_convolution() -> None:
    generator = np.random.default_rng(7)
    left, right = generator.random(900), generator.random(1300)
    left /= left.sum()
    right /= right.sum()
    assert np.abs(transform.convolve(left, right) - np.convolve(left, right)).max() < 1e-12
    by_hand = left
    for _ in range(4):
        by_hand = np.convolve(by_hand, left)
    assert np.abs(transform.power(left, 5) - by_hand).max() < 1e-12
    assert [transform.good_length(n) for n in (1, 6, 9, 11, 100, 5001)] == [1, 6, 10, 12, 128, 5120]


def test_what_cannot_be_a_distribution_is_an_error() -> None:
    for counted in ([], [0, 0], [1, -1]):
        with pytest.raises(ValueError, match="counts must be"):
            Distribution.from_counts(0, counted)
    for mass in ([], [0.5, 0.4], [1.5, -0.5]):
        with pytest.raises(ValueError, match="mass must be"):
            Distribution.from_mass(0, mass)
    die = Distribution.die(6)
    with pytest.raises(ValueError, match="at least one side"):
        Distribution.die(0)
    with pytest.raises(ValueError, match="at least one die is kept"):
        die.keep_highest(3, 4)
    with pytest.raises(ValueError, match="fewer than 0"):
        die.times(-1)
    with pytest.raises(ValueError, match="share from 0 to 1"):
        die.quantile(1.5)
    for weights in ([(0, die)], [(-1, die), (2, die)]):
        with pytest.raises(ValueError, match="weights must be"):
            Distribution.mixture(weights)


def test_small_things() -> None:
    assert Distribution.from_counts(3, [0, 2, 4, 0]) == Distribution.from_counts(4, [1, 2])
    assert Distribution.point(3).support == (3,)
    assert Distribution.die(6).times(0) == Distribution.point(0)
    assert Distribution.die(4) != "1d4"
    assert repr(Distribution.die(4)) == "Distribution(1 to 4, exact)"
    assert repr(as_floats(Distribution.die(4))) == "Distribution(1 to 4, float64)"
    assert as_floats(Distribution.die(4)) == as_floats(Distribution.die(4))
    assert len({as_floats(Distribution.die(4)), as_floats(Distribution.die(4))}) == 1
    assert as_text(Fraction(6, 8)) == "3/4"
    assert as_text(None) is None
    assert Distribution.die(6).chance(7) == 0


def test_what_is_too_much_to_count_keeps_its_mass() -> None:
    large = Distribution.from_counts(0, [2**127, 2**127, 2**128])
    assert not large.exact
    assert large.pmf() == {0: 0.25, 1: 0.25, 2: 0.5}
    # Weights whose denominators share nothing have a common one that is too long to keep.
    weights = [Fraction(1, 3**45), Fraction(1, 5**30), Fraction(1, 7**25), 1]
    mixed = Distribution.mixture([(weight, Distribution.point(place)) for place, weight in enumerate(weights)])
    assert not mixed.exact
    assert mixed.chance(3) == pytest.approx(1)
    assert mixed.chance(0) == pytest.approx(3.0**-45)
    # The last value stands for what rounding leaves of a share of 1.
    assert large.quantile(1.0) == 2
