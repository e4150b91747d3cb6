"""What odds cost, held against plain numpy in the same run.

The baseline of each ratio is timed in between the runs of what it is compared with, so that a busy machine slows
both. Medians of several batches are compared, and every result is asserted.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from functools import partial
from itertools import chain
from statistics import median

import numpy as np
import pytest
from numpy.typing import NDArray
from pytest_benchmark.fixture import BenchmarkFixture

from engine.odds import Attack, Scores, answer_attack, answer_scores, needs_of, notation
from engine.odds.distribution import Distribution
from engine.odds.notation import Expression, parse

Floats = NDArray[np.float64]
BATCHES = 15


def by_powers(dice: int, sides: int) -> Floats:
    """The bare sum of dice: numpy.convolve, doubling."""
    power = np.full(sides, 1 / sides)
    answer = np.ones(1)
    while dice:
        if dice & 1:
            answer = np.convolve(answer, power)
        dice >>= 1
        if dice:
            power = np.convolve(power, power)
    return answer


def by_transform(dice: int, sides: int) -> Floats:
    """The bare sum of dice: numpy.fft, at a length that transforms fast."""
    width = dice * (sides - 1) + 1
    length = 1 << (width - 1).bit_length()
    return np.fft.irfft(np.fft.rfft(np.full(sides, 1 / sides), length) ** dice, length)[:width]


def batch(task: Callable[[], object], repeats: int) -> float:
    start = time.perf_counter()
    for _ in range(repeats):
        task()
    return (time.perf_counter() - start) / repeats


def ratio(task: Callable[[], object], *baselines: Callable[[], object], repeats: int = 20) -> float:
    """How many times the best baseline the task costs: median of batches, taken turn by turn."""
    times: list[list[float]] = [[] for _ in range(len(baselines) + 1)]
    for one in (task, *baselines):
        one()
    for _ in range(BATCHES):
        for place, one in enumerate((task, *baselines)):
            times[place].append(batch(one, repeats))
    ours, *theirs = (median(one) for one in times)
    return ours / min(theirs)


def cold(text: str) -> Expression:
    """Read a notation that no cache has seen."""
    notation._parsed.cache_clear()
    expression = parse(text)
    assert isinstance(expression, Expression)
    return expression


def worked_out(text: str) -> dict[int, float]:
    """Everything from the text to a chance for each total."""
    return cold(text).distribution().pmf()


@pytest.mark.parametrize("dice", [100, 1000])
def test_sums_cost_no_more_than_bare_numpy(benchmark: BenchmarkFixture, dice: int) -> None:
    found = benchmark(lambda: Distribution.die(6).times(dice))
    bare = by_powers(dice, 6)
    mass = np.zeros(len(bare))
    mass[: len(found.mass)] = found.mass
    assert np.abs(mass - bare).max() < 1e-12
    cost = ratio(
        lambda: Distribution.die(6).times(dice).mass,
        lambda: by_powers(dice, 6),
        lambda: by_transform(dice, 6),
        repeats=10,
    )
    benchmark.extra_info["times bare numpy"] = cost
    assert cost <= 1.5


def test_keeping_the_highest(benchmark: BenchmarkFixture) -> None:
    found = benchmark(lambda: Distribution.die(6).keep_highest(20, 10))
    # Independent count of one value: all ten kept dice show 6 when ten or more of twenty do (binomial, numpy only).
    tail = sum(
        np.prod([(20 - k) / (k + 1) for k in range(n)]) * (1 / 6) ** n * (5 / 6) ** (20 - n) for n in range(10, 21)
    )
    assert found.chance(60) == pytest.approx(float(tail))
    cost = ratio(
        lambda: Distribution.die(6).keep_highest(20, 10).mass, lambda: by_powers(100, 6), lambda: by_transform(100, 6)
    )
    benchmark.extra_info["times bare 100d6"] = cost
    assert cost <= 60


def test_an_attack_question(benchmark: BenchmarkFixture) -> None:
    question = Attack(bonus=7, ac=16, damage="1d8+4", attacks=4, once_per_turn="3d6", hit_points=60, rounds=5)

    def cold_answer() -> object:
        notation._parsed.cache_clear()
        return answer_attack(question)

    answer = benchmark(cold_answer)
    # By hand: 12 faces of 20 hit, one of them critical; the first hit adds 10.5, or 21 as a critical.
    mean = 4 * (0.55 * 8.5 + 0.05 * 13) + (1 - 0.4**4) * (10.5 + 10.5 / 12)
    assert answer.damage.mean() == pytest.approx(mean)
    assert len(answer.down) == 5
    cost = ratio(cold_answer, lambda: by_powers(100, 6), lambda: by_transform(100, 6), repeats=5)
    benchmark.extra_info["times bare 100d6"] = cost
    assert cost <= 100


def test_a_scores_question(benchmark: BenchmarkFixture) -> None:
    needs = needs_of("str or dex 13, dex 13, wis 13, cha 15")
    assert isinstance(needs, tuple)

    def cold_answer() -> object:
        notation._parsed.cache_clear()
        return answer_scores(Scores(needs=needs))

    answer = benchmark(cold_answer)
    # A million rolled sets say the same to within five standard errors; numpy's generator, seed fixed.
    rolls = np.sort(np.random.default_rng(20).integers(1, 7, (1_000_000, 6, 4)), axis=2)[:, :, 1:].sum(axis=2)
    best = np.sort(rolls, axis=1)[:, ::-1]
    met = ((best[:, 0] >= 15) & (best[:, 2] >= 13)).mean()
    assert answer.chance == pytest.approx(met, abs=5 * 0.5 / 1000)
    cost = ratio(cold_answer, lambda: by_powers(100, 6), lambda: by_transform(100, 6), repeats=5)
    benchmark.extra_info["times bare 100d6"] = cost
    assert cost <= 200


HEAVY = [
    "1000d20",
    "20d1000",
    "1000d20 + 1000",
    " + ".join(["52d20"] * 8),
    " + ".join(["26d6 keep highest 13"] * 6),
    "437d3 keep lowest 7",
    "130d2 keep lowest 109",
    "10d100 drop 3 lowest",
    "60d20 keep highest 30",
    "21d21 reroll 6 or lower + 3d400 keep highest 2 reroll 72 or lower",
    "100d4 keep highest 57 double",
    "1d1000 reroll 999 or lower + 10d999",
    "(" * 90 + "1d1000" + ")" * 90,
]


def random_notation(seed: int) -> str:
    """Some notation near and past the limits; the same for the same seed."""
    source = random.Random(seed)

    def term() -> str:
        count, sides = int(10 ** source.uniform(0, 3)), int(10 ** source.uniform(0, 3))
        text = f"{count}d{sides}"
        if count > 1 and source.random() < 0.5:
            text += f" keep {source.choice(('highest', 'lowest'))} {source.choice((1, count // 2, count - 1))}"
        if source.random() < 0.2:
            text += f" reroll {source.randint(1, sides)} or lower"
        return text

    return " + ".join(term() for _ in range(source.choice((1, 1, 2, 5)))) + source.choice(("", " half"))


def test_nothing_accepted_costs_more_than_500_sums(benchmark: BenchmarkFixture) -> None:
    unit = min(
        median(batch(task, 5) for _ in range(BATCHES))
        for task in (lambda: by_powers(1000, 6), lambda: by_transform(1000, 6))
    )
    benchmark.extra_info["unit in seconds"] = unit
    worst = 0.0
    accepted = 0
    for text in chain(HEAVY, map(random_notation, range(300))):
        expression = parse(text)
        if not isinstance(expression, Expression):
            assert text not in HEAVY
            continue
        accepted += 1
        # The quickest of two, since another process may hold the processor during one.
        cost = min(batch(partial(worked_out, text), 1) for _ in range(2)) / unit
        assert cost <= 500, text
        worst = max(worst, cost)
    assert accepted >= 100
    benchmark.extra_info["worst in units"] = worst
    benchmark(lambda: cold("1000d6").distribution())
