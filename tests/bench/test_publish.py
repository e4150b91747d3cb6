"""Speed of what is published, against a timeline of the same build measured in the same run."""

import gc
import statistics
import time
from collections.abc import Callable

import pytest

from engine.build.document import Build
from engine.build.outline import parse_outline
from engine.publish.paper import sheet_pdf
from engine.publish.paper.make import compiled
from engine.publish.paper.sheet import sheet_data
from engine.publish.references import outlines
from engine.publish.standing import standing
from engine.publish.standing.standing import references
from engine.publish.writeup import check
from engine.rules.catalog import Catalog
from engine.sheet import timeline
from engine.store.folio_files import load_shipped

ROUNDS = 5
CASTER = 11  # the reference wizard: a long book, twenty levels


@pytest.fixture(scope="module")
def release() -> Catalog:
    return Catalog([load_shipped("srd-5.1")])


def build(release: Catalog, place: int = CASTER) -> Build:
    """A document that nobody has seen yet."""
    found = parse_outline(outlines()[place], release)
    assert isinstance(found, Build)
    return found


def cost(work: Callable[[Build], object], release: Catalog, place: int = CASTER) -> float:
    """Return the quickest of some runs in seconds of this process, each with a document of its own.

    The quickest, since other processes can only make a run longer; what earlier runs left behind is cleared before.
    """
    took = []
    for _ in range(ROUNDS):
        document = build(release, place)
        gc.collect()
        start = time.process_time()
        work(document)
        took.append(time.process_time() - start)
    return min(took)


def test_a_standing_costs_at_most_25_timelines_with_nothing_kept(release: Catalog) -> None:
    def cold(document: Build) -> None:
        references.cache_clear()
        assert len(standing(document, release).ranks) == 20

    standing(build(release), release)
    # Twenty-level builds differ by their class; the standing works out twelve of them beside its own.
    one = statistics.mean(cost(lambda document: timeline(document, release), release, place) for place in range(12))
    assert cost(cold, release) <= 25 * one


def test_checking_200_numbers_costs_at_most_two_timelines_and_50_ms(release: Catalog) -> None:
    numbers = timeline(build(release), release)[19].numbers
    values = [(name, n.value) for name, n in numbers.items() if isinstance(n.value, int)][:100]
    text = "".join(
        f"At level 20, {name}: [{value}](num:20/{name}), not [?](num:20/{name}).\n\n" for name, value in values
    )

    def whole(document: Build) -> None:
        found = check(text, document, release)
        assert (found.right, len(found.wrong)) == (100, 100)

    whole(build(release))
    one = cost(lambda document: timeline(document, release), release)
    assert cost(whole, release) <= 2 * one + 0.05


def test_a_pdf_costs_at_most_half_again_of_what_typst_needs_for_it(release: Catalog) -> None:
    data = sheet_data(build(release), release, 20)

    def alone(document: Build) -> None:
        assert compiled("sheet", data, "a4", "pdf").startswith(b"%PDF")

    def whole(document: Build) -> None:
        assert sheet_pdf(document, release, 20).startswith(b"%PDF")

    alone(build(release))
    assert cost(whole, release) <= 1.5 * cost(alone, release)
