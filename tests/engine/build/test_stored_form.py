"""What a build document accepts, its canonical form byte for byte, its hash."""

import hashlib
import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from engine.build.document import (
    SCHEMA,
    Build,
    Choose,
    Flag,
    FolioUse,
    Gain,
    Goal,
    Granted,
    Increase,
    Line,
    Lose,
    NoteItem,
    Origin,
    Pick,
    Preparation,
    Scores,
    Swap,
    build_hash,
    canonical,
    dump,
    picks_of,
)
from engine.build.plain import characters, plain

SCORES: dict[str, Any] = {"str": 8, "dex": 15, "con": 13, "int": 10, "wis": 14, "cha": 12}


def refused(data: dict[str, Any]) -> str:
    """Return why a document with these fields beside its name is none; one sentence."""
    with pytest.raises(ValidationError) as caught:
        Build.model_validate({"schema": 1, "name": "Reed", **data})
    return str(caught.value.errors(include_url=False)[0]["msg"]).removeprefix("Value error, ")


# -- canonical form and hash ------------------------------------------------------------------------------------


def test_smallest_document_and_its_hash() -> None:
    """Defaults are left out, `schema` is always there (RFC 8785: keys sorted, no blanks); hash worked out by hand."""
    build = Build(name="Reed Warden")
    assert canonical(build) == b'{"name":"Reed Warden","schema":1}'
    # printf '{"name":"Reed Warden","schema":1}' | sha256sum
    assert build_hash(build) == "7584ea781717bbe6bff870c28d40bc557d8745108092157906c0be43aab72c41"


def test_canonical_form_of_every_part() -> None:
    """Each part as it is stored: `kind` stays although it never differs from its default, other defaults go."""
    build = Build(
        name="Reed",
        scores=Scores.model_validate({"values": dict(reversed(SCORES.items())), "method": "rolled", "roll": 12}),
        order=("rogue", "rogue"),
        levels={
            "rogue": {
                2: Line(
                    subclass="thief",
                    hp=7,
                    roll=31,
                    items=(
                        Increase(ability="dex", amount=1),
                        Swap(keyword="spell", old=Pick(id="shield"), new=Pick(id="light", count=1, bonus=0)),
                        Flag(flag="two-handed"),
                        NoteItem(text="low tide"),
                        Gain(picks=(Pick(id="rapier", bonus=1, items=(Flag(flag="carried"),)),)),
                        Lose(picks=(Pick(id="arrow", count=20),)),
                        Granted(text="oath", item=Choose(keyword="feat", of="rogue", picks=(Pick(id="grappler"),))),
                    ),
                )
            }
        },
        prepared=(Preparation(of="wizard", picks=(Pick(id="shield"),)), Preparation(picks=(Pick(id="light"),))),
        goals=(Goal(form="text", text="be first"), Goal(form="knows", name="shield", level=3)),
    )
    assert canonical(build).decode() == (
        '{"goals":[{"form":"text","text":"be first"},{"form":"knows","level":3,"name":"shield"}],'
        '"levels":{"rogue":{"2":{"hp":7,"items":['
        '{"ability":"dex","amount":1,"kind":"increase"},'
        '{"keyword":"spell","kind":"swap","new":{"id":"light"},"old":{"id":"shield"}},'
        '{"flag":"two-handed","kind":"flag"},'
        '{"kind":"note","text":"low tide"},'
        '{"kind":"gain","picks":[{"bonus":1,"id":"rapier","items":[{"flag":"carried","kind":"flag"}]}]},'
        '{"kind":"lose","picks":[{"count":20,"id":"arrow"}]},'
        '{"item":{"keyword":"feat","kind":"choose","of":"rogue","picks":[{"id":"grappler"}]},'
        '"kind":"granted","text":"oath"}],"roll":31,"subclass":"thief"}}},'
        '"name":"Reed","order":["rogue","rogue"],'
        '"prepared":[{"of":"wizard","picks":[{"id":"shield"}]},{"picks":[{"id":"light"}]}],'
        '"schema":1,"scores":{"method":"rolled","roll":12,'
        '"values":{"cha":12,"con":13,"dex":15,"int":10,"str":8,"wis":14}}}'
    )
    assert build_hash(build) == hashlib.sha256(canonical(build)).hexdigest()
    assert Build.model_validate(dump(build)) == build


def test_writing_defaults_out_changes_no_hash() -> None:
    """A document that spells its defaults is the same revision as one that leaves them out."""
    spelt = Build.model_validate(
        {
            "schema": SCHEMA,
            "name": "Reed",
            "concept": "",
            "rules": "srd-5.1",
            "folios": [],
            "scores": None,
            "order": [],
            "levels": {"rogue": {}},
            "gear": [{"id": "rapier", "count": 1, "bonus": 0, "items": []}],
            "goals": [],
            "notes": [],
        }
    )
    short = Build(name="Reed", gear=(Pick(id="rapier"),))
    assert spelt == short
    assert build_hash(spelt) == build_hash(short)
    assert json.loads(canonical(spelt)) == dump(spelt) == {"schema": 1, "name": "Reed", "gear": [{"id": "rapier"}]}


@pytest.mark.parametrize(
    "other",
    [
        Build(name="Reeds"),
        Build(name="Reed", concept="a scout"),
        Build(name="Reed", rules="tide-1"),
        Build(name="Reed", folios=(FolioUse(id="harbour"),)),
        Build(name="Reed", folios=(FolioUse(id="harbour", version="2"),)),
        Build(name="Reed", order=("rogue",)),
        Build(name="Reed", species=Origin(id="human")),
        Build(name="Reed", background=Origin(name="Marsh Guide")),
        Build(name="Reed", notes=("low tide",)),
        Build(name="Reed", gear=(Pick(id="rapier"), Pick(id="dagger"))),
        Build(name="Reed", gear=(Pick(id="dagger"), Pick(id="rapier"))),
    ],
)
def test_every_field_counts_for_the_hash(other: Build) -> None:
    """Each change, also of order within a list, is another hash of 64 hexadecimal digits."""
    plain_build = Build(name="Reed", gear=(Pick(id="rapier"), Pick(id="rapier")))
    digest = build_hash(other)
    assert len(digest) == 64
    assert set(digest) <= set("0123456789abcdef")
    assert digest not in (build_hash(plain_build), build_hash(Build(name="Reed")))


# -- lines ------------------------------------------------------------------------------------------------------


def test_lines_come_by_character_level() -> None:
    """Classes that alternate: each line knows its character level and its nth level of the class."""
    third = Line(hp=5)
    build = Build(name="Reed", order=("rogue", "ranger", "rogue"), levels={"rogue": {2: third}})
    assert [(level, class_id, nth, line == third, line.empty) for level, class_id, nth, line in build.lines()] == [
        (1, "rogue", 1, False, True),
        (2, "ranger", 1, False, True),
        (3, "rogue", 2, True, False),
    ]
    assert build.top == 3
    assert build.class_levels(0) == {}
    assert list(build.class_levels(3).items()) == [("rogue", 2), ("ranger", 1)]
    assert Build(name="Reed").top == 0


def test_picks_of_each_kind_of_item() -> None:
    """Swaps have two, gifts those of the thing given, increases, flags and notes none."""
    old, new = Pick(id="shield"), Pick(id="light")
    assert picks_of(Choose(keyword="spell", picks=(old, new))) == (old, new)
    assert picks_of(Swap(keyword="spell", old=old, new=new)) == (old, new)
    assert picks_of(Granted(text="oath", item=Gain(picks=(new,)))) == (new,)
    assert picks_of(Lose(picks=(old,))) == (old,)
    assert picks_of(Increase(ability="dex", amount=1)) == ()
    assert picks_of(NoteItem(text="x")) == picks_of(Flag(flag="carried")) == ()


# -- what is refused --------------------------------------------------------------------------------------------


def _nested(depth: int) -> dict[str, Any]:
    pick: dict[str, Any] = {"id": "shield"}
    for _ in range(depth):
        pick = {"id": "rapier", "items": [{"kind": "gain", "picks": [pick]}]}
    return pick


@pytest.mark.parametrize(
    ("data", "part"),
    [
        ({"order": ["rogue"], "levels": {"rogue": {2: {"hp": 3}}}}, "the build has 1 levels of rogue"),
        ({"levels": {"rogue": {1: {"subclass": "thief"}}}}, "the build has 0 levels of rogue"),
        ({"order": ["rogue"], "levels": {"rogue": {0: {"subclass": "thief"}}}}, "a line for rogue 0"),
        ({"order": ["rogue"], "levels": {"rogue": {1: {}}}}, "the empty line rogue 1 must be left out"),
        ({"order": ["rogue"], "levels": {"rogue": {1: {"hp": 8}}}}, "no hit points are rolled at level 1"),
        ({"order": ["rogue"] * 2, "levels": {"rogue": {2: {"roll": 3}}}}, "needs the hit points it gave"),
        ({"order": ["rogue"] * 2, "levels": {"rogue": {2: {"hp": 21}}}}, "less than or equal to 20"),
        ({"order": ["rogue"] * 21}, "at most 20 items"),
        ({"scores": {"values": {**SCORES, "str": 31}}}, "less than or equal to 30"),
        ({"scores": {"values": {k: v for k, v in SCORES.items() if k != "wis"}}}, "missing: wis"),
        ({"scores": {"values": SCORES, "method": "point-buy", "roll": 3}}, "goes only with rolled scores"),
        ({"scores": {"values": SCORES, "method": "guessed"}}, "'standard-array', 'point-buy'"),
        ({"species": {"name": "Sea Folk"}}, "a species of one's own comes in a folio"),
        ({"species": {}}, "an origin has an id, or, of one's own, a name"),
        ({"background": {"id": "sage", "name": "Sage"}}, "an origin has an id, or, of one's own, a name"),
        ({"background": {"id": "sage", "items": [{"kind": "flag", "flag": "custom"}]}}, "not an id"),
        ({"gear": [_nested(4)]}, "choices inside choices go 3 deep at most"),
        ({"background": {"id": "sage", "items": [{"kind": "gain", "picks": [_nested(3)]}]}}, "3 deep at most"),
        ({"prepared": [{"picks": [_nested(4)]}]}, "3 deep at most"),
        ({"prepared": [{"picks": []}]}, "at least 1 item"),
        ({"gear": [{"id": "x" * 81}]}, "at most 80 characters"),
        ({"gear": [{"id": "rapier", "count": 0}]}, "greater than or equal to 1"),
        ({"gear": [{"id": "rapier", "bonus": 10}]}, "less than or equal to 9"),
        ({"gear": [{"id": "rapier", "weight": 2}]}, "Extra inputs are not permitted"),
        ({"name": ""}, "at least 1 character"),
        ({"name": " \t\u200b"}, "at least 1 character"),
        ({"name": "x" * 61}, "at most 60 characters"),
        ({"concept": "x" * 2001}, "at most 2000 characters"),
        ({"concept": 3}, "valid string"),
        ({"notes": [""]}, "at least 1 character"),
        ({"rules": 5}, "valid string"),
    ],
)
def test_documents_that_hold_no_build_are_refused(data: dict[str, Any], part: str) -> None:
    """Whatever no outline could say is no document."""
    assert part in refused(data)


def test_gift_holds_no_gift() -> None:
    """`granted` stands once before its item."""
    gift = {"kind": "granted", "text": "oath", "item": {"kind": "flag", "flag": "attuned"}}
    nested = {"kind": "granted", "text": "again", "item": gift}
    assert "cannot hold another gift" in refused({"order": ["rogue"], "levels": {"rogue": {1: {"items": [nested]}}}})


@pytest.mark.parametrize(
    ("goal", "part"),
    [
        ({"form": "text", "text": "be first", "name": "ac"}, "a goal of the form `text` has no `name`"),
        ({"form": "text"}, "a goal of the form `text` needs `text`"),
        ({"form": "text", "text": "be first", "level": 3}, "a goal in free words has no level"),
        ({"form": "knows"}, "needs `name`"),
        ({"form": "knows", "name": "shield", "value": 3}, "has no `value`"),
        ({"form": "resists", "name": "fire", "when": "at"}, "`resists` is not said with `at`"),
        ({"form": "compare", "name": "ac", "value": 18, "dc": 3}, "has no `dc`"),
        ({"form": "compare", "name": "Armor Class", "value": 18}, "`Armor Class` is no name of a number"),
        ({"form": "check", "name": "stealth", "value": 50, "when": "at"}, "needs `dc`"),
        ({"form": "check", "name": "stealth", "value": 101, "dc": 9, "when": "at"}, "between 0 % and 100 %"),
        ({"form": "check", "name": "stealth", "value": 50, "dc": 9}, "`check` is not said with `by`"),
        ({"form": "compare", "name": "ac", "value": 18, "level": 21}, "less than or equal to 20"),
    ],
)
def test_goals_say_what_their_form_says(goal: dict[str, Any], part: str) -> None:
    """Each form has its own fields and nothing else."""
    assert part in refused({"goals": [goal]})


# -- plain characters -------------------------------------------------------------------------------------------


def test_texts_are_kept_in_plain_characters() -> None:
    """Curly quotes, long dashes, odd blanks and composed letters are one form, so that equal texts are equal."""
    build = Build(
        name=" \u201cE\u0301lan\u201d\u2014Reed ", concept="a\u00a0scout\u2019s\t\ufeffway", notes=("3 \u2212 1",)
    )
    assert (build.name, build.concept, build.notes) == ('"\u00c9lan"-Reed', "a scout's way", ("3 - 1",))
    assert Pick(id="Tide\u2019s Chart").id == "Tide's Chart"


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=60))
def test_making_plain_twice_changes_nothing(text: str) -> None:
    """What a document keeps is a fixed point, also of pieces that were composed or turned into blanks."""
    once = plain(text)
    assert plain(once) == once == once.strip()
    assert characters(characters(text)) == characters(text)
    assert not any(ord(c) < 0x20 or c in "\u201c\u201d\u2018\u2019\u2013\u2014\u2212" for c in once)
