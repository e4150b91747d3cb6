"""The document: what it refuses to hold, its stored form and hash, and reading old schemas."""

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from pydantic import ValidationError

from engine.build.document import (
    Build,
    Choose,
    Flag,
    Gain,
    Goal,
    Granted,
    Line,
    NoteItem,
    Origin,
    Pick,
    Scores,
    Swap,
    build_hash,
    canonical,
    dump,
    picks_of,
)
from engine.build.plain import plain
from engine.build.reading import read_build, upgraded
from engine.problem import Refused
from tests.engine.build.small_folio import both_catalog
from tests.strategies import Documents, hard_text

FIXTURES = Path(__file__).parent / "fixtures"
SLOW = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
TEN = dict.fromkeys(("str", "dex", "con", "int", "wis", "cha"), 10)


def _deep(depth: int) -> Pick:
    pick = Pick(id="rapier", items=(Flag(flag="carried"),))
    for _ in range(depth - 1):
        pick = Pick(id="rapier", items=(Gain(picks=(pick,)),))
    return pick


@pytest.mark.parametrize(
    ("make", "part"),
    [
        (lambda: Line(roll=3), "needs the hit points"),
        (lambda: Line(items=(Gain(picks=(_deep(4),)),)), "3 deep at most"),
        (lambda: Origin(id="sage", items=(Gain(picks=(_deep(3),)),)), "3 deep at most"),
        (lambda: Build(name="Reed", gear=(_deep(4),)), "3 deep at most"),
        (lambda: Origin(), "has an id, or"),
        (lambda: Origin(id="sage", name="Sage"), "has an id, or"),
        (lambda: Origin(id="sage", items=(Flag(flag="custom"),)), "name of one's own"),
        (lambda: Build(name="Reed", species=Origin(name="Sea Folk")), "comes in a folio"),
        (lambda: Build(name="Reed", order=("rogue",), levels={"rogue": {1: Line(hp=3)}}), "rolled at level 1"),
        (lambda: Build(name="Reed", order=("rogue",), levels={"rogue": {2: Line(hp=3)}}), "has 1 levels of rogue"),
        (lambda: Build(name="Reed", order=("rogue",), levels={"rogue": {1: Line()}}), "must be left out"),
        (lambda: Scores(values={"str": 8}), "missing: dex"),
        (lambda: Scores(values=TEN, roll=3), "only with rolled scores"),
        (lambda: Granted(text="a", item=Granted(text="b", item=Flag(flag="custom"))), "another gift"),
        (lambda: Goal(form="compare", name="hp.max"), "needs `value`"),
        (lambda: Goal(form="knows", name="shield", text="x"), "has no `text`"),
        (lambda: Goal(form="compare", name="Hit points", value=3), "no name of a number"),
        (lambda: Goal(form="check", name="stealth", dc=10, value=101, when="at"), "between 0 % and 100 %"),
        (lambda: Goal(form="check", name="stealth", dc=10, value=50), "not said with `by`"),
        (lambda: Goal(form="knows", name="shield", when="at"), "not said with `at`"),
        (lambda: Goal(form="text", text="unseen", level=3), "no level"),
        (lambda: Build(name=" \u200b"), "at least 1 character"),
    ],
)
def test_what_no_outline_could_say_is_refused(make: Any, part: str) -> None:
    """The models hold what the outline can write, and no more."""
    with pytest.raises(ValidationError, match=part):
        make()


@given(hard_text(200))
def test_plain_text_stays_as_it_is(text: str) -> None:
    """Bringing text to plain characters twice changes nothing, and documents do it by themselves."""
    assert plain(text) == text
    assert NoteItem(text=f"\u200b “{text}”\n").text == f'"{text}"'


@SLOW
@given(Documents(both_catalog()).builds())
def test_stored_form_reads_back(build: Build) -> None:
    """JSON without floats or defaults, the same hash however it was made."""
    stored = json.loads(canonical(build))
    assert stored == dump(build)
    again = read_build(stored)
    assert again == build
    assert isinstance(again, Build)
    assert build_hash(again) == build_hash(build)
    assert ".0" not in json.dumps([v for v in stored.values() if isinstance(v, int)])


def test_order_of_making_leaves_the_hash_alone() -> None:
    """RFC 8785 sorts keys; defaults and empty classes are left out."""
    one = Build(name="Reed", scores=Scores(values=TEN), levels={"rogue": {}}, concept="  ")
    other = Build(scores=Scores(values=dict(reversed(TEN.items())), method="manual"), name="Reed")
    assert build_hash(one) == build_hash(other)
    assert dump(other) == {"schema": 1, "name": "Reed", "scores": {"values": TEN}}


def test_lines_and_class_levels() -> None:
    """The lines run by character level; classes are counted up to a level."""
    line = Line(hp=4)
    build = Build(name="Reed", order=("rogue", "ranger", "rogue"), levels={"rogue": {2: line}})
    assert [(level, class_id, nth, found.hp) for level, class_id, nth, found in build.lines()] == [
        (1, "rogue", 1, None),
        (2, "ranger", 1, None),
        (3, "rogue", 2, 4),
    ]
    assert build.class_levels(2) == {"rogue": 1, "ranger": 1}
    assert build.top == 3


def test_picks_of_every_item() -> None:
    """A gift has the picks of what is given; flags have none."""
    pick = Pick(id="shield")
    choose = Choose(keyword="spell", picks=(pick,))
    assert picks_of(Granted(text="a", item=choose)) == (pick,)
    assert picks_of(Swap(keyword="spell", old=pick, new=Pick(id="ward"))) == (pick, Pick(id="ward"))
    assert picks_of(Flag(flag="custom")) == ()


# -- schemas ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", sorted(FIXTURES.glob("schema-*.json")), ids=lambda path: path.stem)
def test_documents_of_every_schema_are_read(path: Path) -> None:
    """One stored document of each schema there has been, with the hash it had then."""
    stored = json.loads(path.read_text())
    build = read_build(stored["document"])
    assert isinstance(build, Build)
    assert build_hash(build) == stored["hash"]
    assert build.top == 8


def test_upgrades_run_one_after_the_other() -> None:
    """Each upgrade takes a document one schema further; the stored data is left as it is."""
    old = {"schema": 1, "title": "Reed"}
    upgrades = {
        1: lambda data: {"name": data["title"], **{k: v for k, v in data.items() if k != "title"}},
        2: lambda data: {**data, "concept": "a scout"},
    }
    build = upgraded(old, upgrades, 3)
    assert isinstance(build, Build)
    assert (build.name, build.concept) == ("Reed", "a scout")
    assert old == {"schema": 1, "title": "Reed"}


@pytest.mark.parametrize(
    ("data", "code", "part"),
    [
        ({"schema": 2, "name": "Reed"}, "build-newer-schema", "schema 2"),
        ({"name": "Reed"}, "build-unreadable", "names no `schema`"),
        ({"schema": True, "name": "Reed"}, "build-unreadable", "names no `schema`"),
        ({"schema": 0, "name": "Reed"}, "build-unreadable", "names no `schema`"),
        ([], "build-unreadable", "no build document"),
        ({"schema": 1, "name": "Reed", "level": 3}, "build-unreadable", "`level`"),
        ({"schema": 1}, "build-unreadable", "`name`"),
        ({"schema": 1, "name": "Reed", "order": ["rogue"] * 21}, "build-unreadable", "`order`"),
    ],
)
def test_documents_that_cannot_be_read(data: Any, code: str, part: str) -> None:
    """One sentence says what is wrong."""
    found = read_build(data)
    assert isinstance(found, Refused)
    assert found.code == code
    assert part in found.sentence
