"""Edits: exact, invertible, storable as JSON."""

import json

import pytest
from hypothesis import HealthCheck, given, settings

from engine.build.diff import edits_between
from engine.build.document import Build, FolioUse, Increase, Line, Origin, Scores
from engine.build.edits import Edit, apply, invert, pointer, said, steps_of
from engine.build.outline import parse_outline
from engine.problem import Refused
from tests.engine.build.small_folio import both_catalog, small_catalog
from tests.strategies import Documents

BOTH = both_catalog()
SMALL = small_catalog()
SLOW = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))


def read(text: str) -> Build:
    """Return the build of an outline that must be good."""
    found = parse_outline(text, SMALL)
    assert isinstance(found, Build), found
    return found


BEFORE = read(
    "Build: Reed\nScores: Str 8, Dex 15, Con 13, Int 10, Wis 14, Cha 12 (standard array)\n"
    "Species: Human (skill Stealth)\nGear: Rapier\n1-3 Rogue\n4 Ranger: +2 Wis"
)


@SLOW
@given(Documents(BOTH).builds(), Documents(BOTH).builds())
def test_edits_turn_one_build_into_the_other_and_back(before: Build, after: Build) -> None:
    """apply(a, edits_between(a, b)) == b and the inverse leads back; JSON keeps the edits as they are."""
    edits = edits_between(before, after)
    stored = tuple(Edit.model_validate(json.loads(json.dumps(edit.model_dump()))) for edit in edits)
    assert stored == edits
    assert apply(before, edits) == after
    assert apply(after, invert(edits)) == before
    assert edits_between(before, before) == ()
    assert bool(edits) == (before != after)


def test_paths_name_fields_lines_and_order() -> None:
    """Scores go ability by ability, lines whole, an origin item-wise while it is the same one."""
    after = read(
        "Build: Tide\nScores: Str 8, Dex 14, Con 13, Int 10, Wis 15, Cha 12 (manual)\nSpecies: Human (skill Insight)\n"
        "Background: Acolyte\n1-2 Rogue\n3 Ranger: +2 Wis\n4 Rogue hp 5"
    )
    edits = {edit.path: (edit.before, edit.after) for edit in edits_between(BEFORE, after)}
    assert edits == {
        "/name": ("Reed", "Tide"),
        "/scores/values/dex": (15, 14),
        "/scores/values/wis": (14, 15),
        "/scores/method": ("standard-array", "manual"),
        "/species/items": (
            [{"kind": "choose", "keyword": "skill", "picks": [{"id": "stealth"}]}],
            [{"kind": "choose", "keyword": "skill", "picks": [{"id": "insight"}]}],
        ),
        "/background": (None, {"id": "acolyte"}),
        "/order": (["rogue", "rogue", "rogue", "ranger"], ["rogue", "rogue", "ranger", "rogue"]),
        "/levels/rogue/3": (None, {"hp": 5}),
        "/gear": ([{"id": "rapier"}], []),
    }


def test_inserting_a_level_leaves_later_lines_alone() -> None:
    """Lines are keyed by class and its own level."""
    after = read(
        "Build: Reed\nScores: Str 8, Dex 15, Con 13, Int 10, Wis 14, Cha 12 (standard array)\n"
        "Species: Human (skill Stealth)\nGear: Rapier\n1-3 Rogue\n4 Wizard\n5 Ranger: +2 Wis"
    )
    assert [edit.path for edit in edits_between(BEFORE, after)] == ["/order"]


def test_class_of_a_folio_is_escaped_in_the_pointer() -> None:
    """RFC 6901: `/` is `~1` inside a step, `~` is `~0`."""
    before = Build(name="Reed", order=("harbour/rogue",))
    line = Line(items=(Increase(ability="dex", amount=2),))
    after = Build(name="Reed", order=("harbour/rogue",), levels={"harbour/rogue": {1: line}})
    (edit,) = edits_between(before, after)
    assert edit.path == "/levels/harbour~1rogue/1"
    assert apply(before, [edit]) == after
    assert steps_of(pointer("a~b", "c/d", 3)) == ("a~b", "c/d", "3")


@pytest.mark.parametrize(
    ("edit", "code", "part"),
    [
        (Edit(path="/name", before="Tide", after="Ebb"), "edit-clash", "the name is no longer"),
        (Edit(path="/gear", before=[], after=[{"id": "rapier"}]), "edit-clash", "the gear"),
        (Edit(path="/levels/ranger/1", before=None, after={"hp": 3}), "edit-clash", "level 1 of ranger"),
        (Edit(path="/scores/values/wis", before=13, after=12), "edit-clash", "the Wis score"),
        (Edit(path="/scores/method", before="manual", after="final"), "edit-clash", "the way the scores were made"),
        (Edit(path="/order", before=[], after=["rogue"]), "edit-clash", "the order of the levels"),
        (Edit(path="/notes", before=["a"], after=[]), "edit-clash", "one of the notes"),
        (Edit(path="/schema", before=1, after=2), "edit-unknown-path", "`/schema`"),
        (Edit(path="/levels", before={}, after={}), "edit-unknown-path", "`/levels`"),
        (Edit(path="/levels/rogue/x", before=None, after={"hp": 1}), "edit-unknown-path", "/levels/rogue/x"),
        (Edit(path="", before=1, after=2), "edit-unknown-path", "``"),
        (Edit(path="/background/items", before=[], after=[]), "edit-unknown-path", "/background/items"),
        (Edit(path="/levels/rogue/9", before=None, after={"hp": 3}), "edit-no-build", "3 levels of rogue"),
        (Edit(path="/name", before="Reed", after=None), "edit-no-build", "would not hold together"),
        (Edit(path="/concept", before=None, after=["x"]), "edit-no-build", "would not hold together"),
    ],
)
def test_edits_that_do_not_fit_are_refused(edit: Edit, code: str, part: str) -> None:
    """Nothing is done unless everything can be done."""
    found = apply(BEFORE, [Edit(path="/concept", after="a scout"), Edit(path="/concept", before="a scout"), edit])
    assert isinstance(found, Refused)
    assert found.code == code
    assert part in found.sentence


def test_defaults_are_told_in_full() -> None:
    """What is not stored because it is the default is still said in an edit."""
    scores = Scores(values=dict.fromkeys(("str", "dex", "con", "int", "wis", "cha"), 10))
    before = Build(name="Reed", scores=scores, species=Origin(id="human"))
    after = before.model_copy(update={"rules": "srd-5.2.1", "folios": (FolioUse(id="harbour"),)})
    assert [(e.path, e.before) for e in edits_between(before, after)] == [("/rules", "srd-5.1"), ("/folios", [])]
    assert said("") == "the build"
