"""Differences of choices: one edit per changed field, lines by class and level, defaults told in full."""

from typing import Any

import pytest

from engine.build.diff import edits_between
from engine.build.document import Build, dump
from engine.build.edits import apply, steps_of

TEN = dict.fromkeys(("str", "dex", "con", "int", "wis", "cha"), 10)


def build(**fields: Any) -> Build:
    """Return a document with these stored fields."""
    return Build.model_validate({"schema": 1, "name": "Reed", **fields})


def changes(before: Build, after: Build) -> list[tuple[str, Any, Any]]:
    """Return the differences as plain tuples; they must lead from one build to the other."""
    edits = edits_between(before, after)
    assert apply(before, edits) == after
    return [(edit.path, edit.before, edit.after) for edit in edits]


@pytest.mark.parametrize(
    ("before", "after", "expected"),
    [
        ({}, {}, []),
        ({}, {"name": "Tide"}, [("/name", "Reed", "Tide")]),
        ({}, {"concept": "a scout"}, [("/concept", None, "a scout")]),
        ({"rules": "tide-1"}, {}, [("/rules", "tide-1", "srd-5.1")]),
        ({}, {"notes": ["a"]}, [("/notes", [], ["a"])]),
        ({"gear": [{"id": "rapier"}]}, {}, [("/gear", [{"id": "rapier"}], [])]),
        ({}, {"scores": {"values": TEN}}, [("/scores", None, {"values": TEN})]),
        (
            {"scores": {"values": TEN}},
            {"scores": {"values": {**TEN, "wis": 12}, "method": "rolled", "roll": 4}},
            [("/scores/values/wis", 10, 12), ("/scores/method", "manual", "rolled"), ("/scores/roll", None, 4)],
        ),
        (
            {"species": {"id": "human"}},
            {"species": {"id": "human", "items": [{"kind": "flag", "flag": "carried"}]}},
            [("/species/items", [], [{"kind": "flag", "flag": "carried"}])],
        ),
        (
            {"background": {"id": "acolyte"}},
            {"background": {"name": "Acolyte"}},
            [("/background", {"id": "acolyte"}, {"name": "Acolyte"})],
        ),
        ({"species": {"id": "human"}}, {}, [("/species", {"id": "human"}, None)]),
        (
            {"order": ["rogue"] * 10, "levels": {"rogue": {10: {"hp": 3}, 2: {"hp": 4}}}},
            {"order": ["rogue"] * 10},
            [("/levels/rogue/2", {"hp": 4}, None), ("/levels/rogue/10", {"hp": 3}, None)],
        ),
        (
            {"order": ["rogue"]},
            {"order": ["harbour/pilot"], "levels": {"harbour/pilot": {1: {"subclass": "tide"}}}},
            [("/order", ["rogue"], ["harbour/pilot"]), ("/levels/harbour~1pilot/1", None, {"subclass": "tide"})],
        ),
    ],
)
def test_each_changed_field_is_one_edit(
    before: dict[str, Any], after: dict[str, Any], expected: list[tuple[str, Any, Any]]
) -> None:
    """Paths, values before and after, in the order of the document; and the other way round the same, inverted."""
    assert changes(build(**before), build(**after)) == expected
    back = changes(build(**after), build(**before))
    assert back == [(path, new, old) for path, old, new in expected]


def test_a_level_put_in_between_moves_no_line() -> None:
    """Lines are keyed by the class's own level, so only the order changes."""
    lines = {"ranger": {1: {"hp": 5}, 2: {"subclass": "hunter"}}}
    before = build(order=["rogue", "ranger", "ranger"], levels=lines)
    after = build(order=["rogue", "wizard", "ranger", "rogue", "ranger"], levels=lines)
    assert [path for path, _, _ in changes(before, after)] == ["/order"]


def test_paths_lead_into_the_stored_form() -> None:
    """Each `before` is what stands in the stored document at the path."""
    before = build(
        scores={"values": TEN},
        order=["rogue"],
        levels={"rogue": {1: {"subclass": "thief"}}},
        gear=[{"id": "rapier"}],
        concept="a scout",
    )
    edits = edits_between(before, build(name="Tide", scores={"values": {**TEN, "int": 8}}, order=["rogue"]))
    assert len(edits) == 5
    for edit in edits:
        found: Any = dump(before)
        for step in steps_of(edit.path):
            found = found[step]
        assert found == edit.before
