"""What the rules content costs: loading, memory, names looked up and suggested.

Every bound is a ratio to a baseline of the same run, taken by turns; every result is asserted.
"""

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from time import perf_counter_ns
from typing import Any

import pytest
import yaml
from pytest_benchmark.fixture import BenchmarkFixture
from rapidfuzz import process

from engine.rules import loader
from engine.rules.catalog import Catalog
from engine.rules.folio import Folio
from engine.rules.index import FOUND_KINDS, Index
from engine.rules.loader import read_folio
from engine.rules.names import fold
from engine.store.folio_files import SHIPPED, folio_bytes, load_shipped

ROOT = Path(__file__).parents[2]
CONTENT = folio_bytes(SHIPPED / "srd-5.1")
MISSPELT = ("firebal", "adlt red dragon", "longswrd", "extra atack", "magic misile", "reliable talnt", "half orc's")
RESIDENT = """
import gc
import psutil
import yaml, pydantic, lark, rapidfuzz
import engine.rules.catalog, engine.rules.index, engine.rules.loader, engine.store.folio_files
from engine.rules.catalog import Catalog
from engine.rules.index import Index

process = psutil.Process()
gc.collect()
before = process.memory_info().rss
folio = engine.store.folio_files.load_shipped("srd-5.1")
catalog = Catalog([folio])
index = Index(catalog)
found = sum(len(folio.entries[kind]) for kind in folio.entries)
for each in index.all:
    assert index.find(each.named.name)
print(found, process.memory_info().rss - before)
"""


def ratio(one: Callable[[], Any], baseline: Callable[[], Any], rounds: int) -> float:
    """Return the best time of one against the best of the baseline, taken by turns."""
    times: tuple[list[int], list[int]] = ([], [])
    for _ in range(rounds):
        for kept, run in zip(times, (one, baseline), strict=True):
            start = perf_counter_ns()
            run()
            kept.append(perf_counter_ns() - start)
    return min(times[0]) / min(times[1])


def parsed() -> int:
    """Read the YAML of the folio and nothing more; return how many files there are."""
    texts = [data for name, data in CONTENT.items() if name.endswith(".yaml")]
    return sum(1 for data in texts if yaml.load(data, Loader=yaml.CSafeLoader) is not None)


def whole(folio: Folio | list[Any]) -> Index:
    """Look into every kind of a folio and index it."""
    assert isinstance(folio, Folio)
    assert len(folio.entries["spell"]) == 319
    index = Index(Catalog([folio]))
    assert {each.kind for each in index.all} == set(FOUND_KINDS)
    return index


def test_loading_from_its_files(benchmark: BenchmarkFixture) -> None:
    """Parsed, validated and indexed in at most 4 times what the C loader alone needs."""
    assert parsed() > 40
    found = ratio(lambda: whole(read_folio(CONTENT)), parsed, 3)
    benchmark.extra_info["over the C loader"] = round(found, 2)
    benchmark.pedantic(read_folio, args=(CONTENT,), rounds=1)
    assert found <= 4


def test_loading_from_the_cache(benchmark: BenchmarkFixture, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What every start after the first does: it stays below the C loader alone."""
    monkeypatch.setenv("BUILDMOOT_CACHE", str(tmp_path))
    load = load_shipped.__wrapped__
    whole(load("srd-5.1"))
    assert len(list(tmp_path.rglob("*.pickle"))) == 1
    monkeypatch.setattr(loader, "read_folio", lambda content: pytest.fail("the cache was not used"))
    found = ratio(lambda: whole(load("srd-5.1")), parsed, 5)
    benchmark.extra_info["over the C loader"] = round(found, 2)
    benchmark.pedantic(load, args=("srd-5.1",), rounds=3)
    assert found <= 1


def test_content_adds_at_most_60_megabytes(benchmark: BenchmarkFixture) -> None:
    """Resident memory that the whole folio, its catalogue and its index of names add to a process."""
    done = benchmark.pedantic(
        subprocess.run,
        args=([sys.executable, "-c", RESIDENT],),
        kwargs={"cwd": ROOT, "capture_output": True, "text": True, "check": True},
        rounds=1,
    )
    entries, added = map(int, done.stdout.split())
    assert entries > 1400
    benchmark.extra_info["megabytes"] = round(added / 1_000_000, 1)
    assert added <= 60_000_000


def test_looking_names_up(benchmark: BenchmarkFixture) -> None:
    """Any name of any kind, as printed and in capitals, in at most 20 look-ups of the folded name in a dict."""
    catalog = Catalog([load_shipped("srd-5.1")])
    index = Index(catalog)
    names = [each.named.name for each in index.all]
    shouted = [name.upper() for name in names]
    folded = [fold(name) for name in names]
    plain = dict(zip(folded, index.all, strict=True))

    def looked_up(keys: list[str]) -> Callable[[], list[Any]]:
        return lambda: [index.find(key) for key in keys]

    def of_its_kind() -> list[Any]:
        return [catalog.find(each.named.kind, each.named.name) for each in index.all]

    def baseline() -> list[Any]:
        return [plain[key] for key in folded]

    assert all(each in found for each, found in zip(index.all, looked_up(names)(), strict=True))
    assert all(each in found for each, found in zip(index.all, looked_up(shouted)(), strict=True))
    assert all(each.named in found for each, found in zip(index.all, of_its_kind(), strict=True))
    assert len(baseline()) == len(names)
    for label, one in (
        ("as printed", looked_up(names)), ("in capitals", looked_up(shouted)), ("of its kind", of_its_kind)
    ):  # fmt: skip
        found = ratio(one, baseline, 25)
        benchmark.extra_info[f"{label} over a dict"] = round(found, 1)
        assert found <= 20, label
    benchmark.pedantic(looked_up(names), rounds=3)


def test_suggesting_names(benchmark: BenchmarkFixture) -> None:
    """Nearest names in at most 3 times what `rapidfuzz.process.extract` needs over the same names."""
    catalog = Catalog([load_shipped("srd-5.1")])
    index = Index(catalog)
    every = list(dict.fromkeys(each.named.name for each in index.all))
    spells = catalog.names("spell")
    assert index.suggest("firebal")[0] == "Fireball"
    assert catalog.suggest("spell", "magic misile")[0] == "Magic Missile"
    for label, ours, names in (
        ("of everything", index.suggest, every),
        ("of spells", lambda name: catalog.suggest("spell", name), spells),
    ):
        found = ratio(
            lambda ours=ours: [ours(name) for name in MISSPELT],
            lambda names=names: [process.extract(name, names, limit=3) for name in MISSPELT],
            7,
        )
        benchmark.extra_info[f"{label} over extract"] = round(found, 2)
        assert found <= 3, label
    benchmark.pedantic(index.suggest, args=("firebal",), rounds=3)


def test_offering_names_while_they_are_typed(benchmark: BenchmarkFixture) -> None:
    """An autocomplete answers in less than one suggestion needs, whatever was typed."""
    index = Index(Catalog([load_shipped("srd-5.1")]))
    names = list(dict.fromkeys(each.named.name for each in index.all))
    assert index.offer("fireb")[0].label == "Fireball (spell)"
    for typed in ("", "a", "fire", "extra attack", "zzz", "dragon"):
        found = ratio(lambda typed=typed: index.offer(typed), lambda: process.extract("firebal", names, limit=3), 7)
        assert found <= 1, typed
    benchmark.pedantic(index.offer, args=("fire",), rounds=5)
