"""Stored documents of every schema are read, newer and broken ones refused in one sentence."""

import json
from pathlib import Path
from typing import Any

import pytest

from engine.build.document import SCHEMA, Build, build_hash, canonical, dump
from engine.build.reading import UPGRADES, read_build, upgraded
from engine.problem import Refused

FIXTURES = Path(__file__).parent / "fixtures"
# Hash of each fixture's document in the present schema; it changes only if an upgrade adds something.
HASHES = {1: "9abad0bd7547db46f2ea1151cfecc94638d119b49908a4a8fbf33696fa6d54aa"}


def stored(schema: int) -> Any:
    """Return the stored document that a fixture of a schema holds."""
    return json.loads((FIXTURES / f"every-part-{schema}.json").read_text("utf-8"))


def test_every_schema_so_far_has_a_fixture_and_a_way_up() -> None:
    """One fixture per schema; every schema but the present one is brought to the next."""
    so_far = range(1, SCHEMA + 1)
    assert {path.name for path in FIXTURES.glob("every-part-*.json")} == {f"every-part-{n}.json" for n in so_far}
    assert set(HASHES) == set(so_far)
    assert set(UPGRADES) == set(range(1, SCHEMA))


@pytest.mark.parametrize("schema", range(1, SCHEMA + 1))
def test_documents_of_every_schema_are_read(schema: int) -> None:
    """The fixture holds every part of a document, and comes out whole."""
    data = stored(schema)
    build = read_build(data)
    assert isinstance(build, Build), build
    assert build.name == "Reed Warden"
    assert build.order == ("rogue", "rogue", "wizard", "rogue")
    assert [(nth, line.hp, line.roll) for nth, line in build.levels["rogue"].items()] == [
        (1, None, None),
        (2, 7, 31),
        (3, None, None),
    ]
    assert [item.kind for item in build.levels["rogue"][3].items] == ["swap", "note", "gain", "lose", "granted"]
    assert [goal.form for goal in build.goals] == ["compare", "knows", "check", "text"]
    assert build_hash(build) == HASHES[schema]


def test_present_schema_is_written_as_it_was_read() -> None:
    """Reading and writing a document of the present schema changes no byte of its canonical form."""
    build = read_build(stored(SCHEMA))
    assert isinstance(build, Build)
    assert dump(build) == stored(SCHEMA)
    assert read_build(json.loads(canonical(build))) == build


def test_upgrades_run_one_after_the_other_and_leave_the_data_alone() -> None:
    """A document two schemas old goes through both; what was stored is not touched."""
    steps: list[int] = []

    def to_two(data: dict[str, Any]) -> dict[str, Any]:
        steps.append(data["schema"])
        return {**{k: v for k, v in data.items() if k != "title"}, "called": data["title"]}

    def to_three(data: dict[str, Any]) -> dict[str, Any]:
        steps.append(data["schema"])
        return {**{k: v for k, v in data.items() if k != "called"}, "name": data["called"].title()}

    old = {"schema": 1, "title": "reed warden", "order": ["rogue"]}
    build = upgraded(old, {1: to_two, 2: to_three}, 3)
    assert isinstance(build, Build), build
    assert (build.name, build.order, build.schema_) == ("Reed Warden", ("rogue",), 3)
    assert steps == [1, 2]
    assert old == {"schema": 1, "title": "reed warden", "order": ["rogue"]}
    steps.clear()
    assert isinstance(upgraded({"schema": 2, "called": "reed"}, {1: to_two, 2: to_three}, 3), Build)
    assert steps == [2]


def test_newer_schema_is_refused() -> None:
    """A document of a later program is not guessed at."""
    found = read_build({**stored(SCHEMA), "schema": SCHEMA + 1})
    assert found == Refused(
        "build-newer-schema",
        f"The build was written by a newer version (schema {SCHEMA + 1}); this one reads up to schema {SCHEMA}. "
        "Update the program to read it.",
    )


@pytest.mark.parametrize(
    ("data", "part"),
    [
        (None, "expected an object with `schema` and `name`"),
        ([], "expected an object with `schema` and `name`"),
        ("Build: Reed", "expected an object with `schema` and `name`"),
        ({}, "names no `schema`"),
        ({"name": "Reed"}, "names no `schema`"),
        ({"schema": 0, "name": "Reed"}, "names no `schema`"),
        ({"schema": True, "name": "Reed"}, "names no `schema`"),
        ({"schema": "1", "name": "Reed"}, "names no `schema`"),
        ({"schema": 1}, "`name`: Field required"),
        ({"schema": 1, "name": "Reed", "colour": "grey"}, "`colour`: Extra inputs are not permitted"),
        ({"schema": 1, "name": "Reed", "gear": [{"id": ""}]}, "`gear/0/id`: String should have at least 1 character"),
        (
            {
                "schema": 1,
                "name": "Reed",
                "order": ["rogue"],
                "levels": {"rogue": {"1": {"items": [{"kind": "gift"}]}}},
            },
            "`levels/rogue/1/items/0`",
        ),
        (
            {"schema": 1, "name": "Reed", "levels": {"rogue": {"1": {"subclass": "thief"}}}},
            "`document`: a line for rogue 1, but the build has 0 levels of rogue",
        ),
    ],
)
def test_what_is_no_document_is_refused(data: Any, part: str) -> None:
    """One sentence names the place and what is wrong there; nothing is raised."""
    found = read_build(data)
    assert isinstance(found, Refused)
    assert found.code == "build-unreadable"
    assert part in found.sentence
    assert found.sentence.endswith(".")
    assert not {"Traceback", "ValidationError", "pydantic"} & set(found.sentence.split())


def test_documents_nested_without_end_are_refused() -> None:
    """Thousands of choices inside choices are refused, not run into the interpreter's limit."""
    pick: dict[str, Any] = {"id": "rapier"}
    for _ in range(5000):
        pick = {"id": "rapier", "items": [{"kind": "gain", "picks": [pick]}]}
    found = read_build({"schema": 1, "name": "Reed", "gear": [pick]})
    assert isinstance(found, Refused)
    assert found.code == "build-unreadable"
