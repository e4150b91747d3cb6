"""What a timeline costs: all levels of a build in at most four single sheets (design, section 5).

Every round reads a cold document, so that nothing is left over from the round before; sheet and timeline alternate in
the same run, so that a busy machine slows both; every result is asserted.
"""

import time
from random import Random
from statistics import median
from typing import Any

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from engine.build.document import Build, dump
from engine.sheet import Sheet, sheet, timeline
from tests.engine.sheet.filled import filled
from tests.engine.sheet.make import build, catalog, three_casters

ROUNDS = 15
MOST = 4.0
CLASSES = tuple(n.id for n in catalog().every("class"))


def of_one_class(class_id: str) -> Build:
    """A build of 20 levels in one class with subclass, gear and every choice made."""
    document = build(
        f"{class_id} 20",
        "15 14 13 10 12 8",
        species="half-elf",
        background=("Chart Copyist",),
        gear=("leather-armor", "rapier", "shortbow", "dagger", "20 arrow", "explorers-pack"),
        subclasses={class_id: catalog().subclasses(class_id)[0].id},
    )
    return filled(document, catalog(), Random(class_id).randrange(1000))


def ratio(benchmark: BenchmarkFixture, document: Build) -> float:
    """Median of timeline against sheet over alternating rounds."""
    data: dict[str, Any] = dump(document)
    ratios: list[float] = []

    def one_round() -> tuple[Sheet, tuple[Sheet, ...]]:
        one, all_ = Build.model_validate(data), Build.model_validate(data)
        start = time.process_time()
        last = sheet(one, catalog(), 20)
        middle = time.process_time()
        every = timeline(all_, catalog())
        ratios.append((time.process_time() - middle) / (middle - start))
        return last, every

    one_round()  # content is read and compiled once for all builds
    ratios.clear()
    last, every = benchmark.pedantic(one_round, rounds=ROUNDS, iterations=1)
    assert len(every) == 20
    assert dict(every[19].numbers) == dict(last.numbers)
    assert every[19].notes == last.notes
    assert every[0].numbers["level.character"].value == 1
    return median(ratios)


def test_three_casters(benchmark: BenchmarkFixture) -> None:
    """Three casting classes, level 20, every choice made."""
    document = three_casters()
    assert len(set(document.order)) == 3
    found = ratio(benchmark, document)
    benchmark.extra_info["timeline over sheet"] = found
    assert found <= MOST


@pytest.mark.parametrize("class_id", CLASSES)
def test_each_class(benchmark: BenchmarkFixture, class_id: str) -> None:
    """The bound holds for all twelve classes."""
    found = ratio(benchmark, of_one_class(class_id))
    benchmark.extra_info["timeline over sheet"] = found
    assert found <= MOST
