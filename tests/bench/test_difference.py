"""What a proposal's card costs: the difference and the audits of both sides in at most three timelines.

The build is a caster of three classes at level 20. Both sides are new documents in every round, the timeline is timed
between the differences, so that a busy machine slows both, and every result is asserted.
"""

from __future__ import annotations

import time
from random import Random
from statistics import median

from pytest_benchmark.fixture import BenchmarkFixture

from engine.audit import Difference, difference
from engine.build.document import Build, dump
from engine.rules.catalog import Catalog
from engine.sheet import timeline
from engine.store.folio_files import load_shipped
from tests.engine.audit.legal_builds import author

ROUNDS = 15
MOST = 3.0
CASTERS = {"bard", "cleric", "druid", "paladin", "ranger", "sorcerer", "warlock", "wizard"}


def three_casters(catalog: Catalog) -> Build:
    """A legal build of 20 levels in three casting classes, the same on every run."""
    for seed in range(500):
        build = author(catalog, Random(seed)).write("bard", 20)
        if len(set(build.order)) == 3 and set(build.order) <= CASTERS:
            return build
    raise AssertionError("no build of three casters was drawn")


def changed(build: Build) -> Build:
    """The same build with two scores exchanged, which changes numbers on every level."""
    assert build.scores is not None
    values = {**build.scores.values, "wis": build.scores.values["con"], "con": build.scores.values["wis"]}
    return build.model_copy(update={"scores": build.scores.model_copy(update={"values": values})})


def test_difference_costs_three_timelines(benchmark: BenchmarkFixture) -> None:
    """Median of difference and audits against the median of timelines in the same run."""
    catalog = Catalog([load_shipped("srd-5.1")])
    before = dump(three_casters(catalog))
    after = dump(changed(three_casters(catalog)))
    ratios: list[float] = []

    def cold(data: dict[str, object]) -> Build:
        return Build.model_validate(data)

    def one_round() -> Difference:
        one, two, three = cold(before), cold(after), cold(before)
        start = time.perf_counter()
        found = difference(one, two, catalog, catalog)
        middle = time.perf_counter()
        sheets = timeline(three, catalog)
        end = time.perf_counter()
        assert len(sheets) == 20
        ratios.append((middle - start) / (end - middle))
        return found

    one_round()
    ratios.clear()
    found = benchmark.pedantic(one_round, rounds=ROUNDS)
    assert {n.name for n in found.numbers} >= {"hp.max", "save.wis", "save.con"}
    assert {n.level for n in found.numbers} == set(range(1, 21))
    print(f"difference and audits: {median(ratios):.2f} timelines")
    assert median(ratios) <= MOST
