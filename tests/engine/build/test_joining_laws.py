"""Laws of differences, edits and joining, over small changes of one build: each change stands for itself."""

from typing import Any, NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.build.diff import edits_between
from engine.build.document import Build, build_hash
from engine.build.edits import Edit, apply, invert, said
from engine.build.join import join
from engine.problem import Refused

LAWS = settings(max_examples=100, deadline=None)


class Slot(NamedTuple):
    """One thing of the build that changes by itself: its path, what it is at first, what it may become."""

    path: str
    first: Any
    others: tuple[Any, ...]


def _picks(keyword: str, *ids: str) -> dict[str, Any]:
    return {"kind": "choose", "keyword": keyword, "picks": [{"id": id_} for id_ in ids]}


_PLUS = {"kind": "increase", "amount": 1}
ORDER = ["rogue", "rogue", "rogue", "ranger", "ranger"]
SLOTS: dict[str, Slot] = {
    "name": Slot("/name", "Reed", ("Tide", "Ebb")),
    "concept": Slot("/concept", "a scout", ("a pilot", "a warden", None)),
    "dex": Slot("/scores/values/dex", 15, (14, 16)),
    "wis": Slot("/scores/values/wis", 14, (13, 12)),
    "method": Slot("/scores/method", {"method": "rolled"}, ({"method": "rolled", "roll": 3}, {"method": "final"})),
    "species": Slot("/species/items", "stealth", ("insight", "nature")),
    "background": Slot("/background", {"id": "acolyte"}, ({"id": "sage"}, {"name": "Marsh Guide"}, None)),
    "order": Slot("/order", ORDER, ([*ORDER, "wizard"], [*ORDER, "monk", "monk"])),
    "expertise": Slot("/levels/rogue/1", "stealth", ("perception", "acrobatics")),
    "hp": Slot("/levels/rogue/2", {"hp": 3}, ({"hp": 3, "roll": 9}, {"hp": 5}, {})),
    "subclass": Slot("/levels/rogue/3", "thief", ("shadow", None)),
    "increases": Slot("/levels/rogue/3", [{**_PLUS, "ability": "dex"}], ([{**_PLUS, "ability": "wis"}], [])),
    "style": Slot("/levels/ranger/2", "archery", ("defense", "dueling")),
    "arrows": Slot("/gear", {"count": 20}, ({"count": 30}, {"count": 20, "bonus": 1}, None)),
    "rapier": Slot("/gear", {}, ({"bonus": 1}, {"bonus": 2}, None)),
    "prepared": Slot("/prepared", "shield", ("sleep", "light")),
    "goal": Slot("/goals", 20, (25, 30, None)),
}


def make(**values: Any) -> Build:
    """Return the build whose slots have these values, the others their first."""
    at = {name: values.get(name, slot.first) for name, slot in SLOTS.items()}
    third = {
        **({"subclass": at["subclass"]} if at["subclass"] else {}),
        "items": [*at["increases"], {"kind": "note", "text": "low tide"}],
    }
    data = {
        "schema": 1,
        "name": at["name"],
        "concept": at["concept"],
        "scores": {
            "values": {"str": 8, "dex": at["dex"], "con": 13, "int": 10, "wis": at["wis"], "cha": 12},
            **at["method"],
        },
        "species": {"id": "human", "items": [_picks("skill", at["species"]), _picks("language", "orc")]},
        "background": at["background"],
        "order": at["order"],
        "levels": {
            "rogue": {
                "1": {"items": [_picks("expertise", at["expertise"], "investigation")]},
                **({"2": at["hp"]} if at["hp"] else {}),
                "3": third,
            },
            "ranger": {"2": {"items": [_picks("style", at["style"]), {"kind": "flag", "flag": "carried"}]}},
        },
        "gear": [
            {"id": "leather-armor"},
            *([{"id": "rapier", **at["rapier"]}] if at["rapier"] is not None else []),
            {"id": "shortbow"},
            *([{"id": "arrow", **at["arrows"]}] if at["arrows"] is not None else []),
        ],
        "prepared": [{"of": "wizard", "picks": [{"id": at["prepared"]}, {"id": "alarm"}]}],
        "goals": [
            *([{"form": "compare", "name": "ac", "value": at["goal"]}] if at["goal"] else []),
            {"form": "text", "text": "be first ashore"},
        ],
        "notes": ["written by the guild"],
    }
    return Build.model_validate(data)


CHANGES = st.fixed_dictionaries({}, optional={name: st.sampled_from(slot.others) for name, slot in SLOTS.items()})
BASE = make()


@LAWS
@given(CHANGES, CHANGES)
def test_edits_lead_there_and_back(one: dict[str, Any], other: dict[str, Any]) -> None:
    """apply(a, edits(a, b)) == b, the inverse leads back, and only what changed is touched."""
    before, after = make(**one), make(**other)
    edits = edits_between(before, after)
    assert apply(before, edits) == after
    assert apply(after, invert(edits)) == before
    assert invert(invert(edits)) == edits
    there = [apply(before, edits[:n]) for n in range(len(edits) + 1)]
    assert [there[0], there[-1]] == [before, after]
    differ = {name for name in SLOTS if one.get(name, SLOTS[name].first) != other.get(name, SLOTS[name].first)}
    touched = {SLOTS[name].path for name in differ}
    paths = {edit.path for edit in edits}
    assert {p.replace("/scores/roll", "/scores/method") for p in paths} == touched
    assert edits_between(before, before) == ()


@LAWS
@given(CHANGES, CHANGES)
def test_edits_of_another_revision_are_refused_or_exact(one: dict[str, Any], other: dict[str, Any]) -> None:
    """On a build that moved on, edits apply if what they change is as it was; else nothing is done and why is said."""
    moved = make(**other)
    edits = edits_between(BASE, make(**one))
    found = apply(moved, edits)
    fields = {SLOTS[name].path for name in one} & {SLOTS[name].path for name in other}
    if fields:
        assert isinstance(found, Refused)
        assert found.code == "edit-clash"
        assert any(said(path) in found.sentence for path in fields)
    else:
        assert found == make(**one, **other)


@LAWS
@given(CHANGES, CHANGES)
def test_joining_keeps_what_each_side_changed(one: dict[str, Any], other: dict[str, Any]) -> None:
    """The joined build has both sides' changes; exactly the things that both changed differently clash."""
    mine, theirs = make(**one), make(**other)
    joined, swapped = join(BASE, mine, theirs), join(BASE, theirs, mine)
    fought = {SLOTS[name].path for name in {*one} & {*other} if one[name] != other[name]}
    if fought:
        assert joined.build is swapped.build is None
        assert {clash.path for clash in joined.clashes} == fought
    else:
        assert joined.clashes == swapped.clashes == ()
        assert joined.build == swapped.build == make(**{**one, **other})
    assert [(c.path, c.mine, c.theirs) for c in joined.clashes] == [(c.path, c.theirs, c.mine) for c in swapped.clashes]
    for clash in joined.clashes:
        assert clash.mine != clash.theirs
        assert clash.sentence.startswith("Both sides changed ")
        assert said(clash.path) in clash.sentence
        assert "\n" not in clash.sentence


@LAWS
@given(CHANGES, CHANGES)
def test_one_side_alone_is_the_outcome(one: dict[str, Any], other: dict[str, Any]) -> None:
    """Joining with the base, or with oneself, changes nothing."""
    base, side = make(**one), make(**other)
    for mine, theirs in ((side, base), (base, side), (side, side)):
        assert join(base, mine, theirs).build == side


@LAWS
@given(CHANGES, CHANGES)
def test_a_joined_proposal_is_edits_on_the_present_revision(one: dict[str, Any], other: dict[str, Any]) -> None:
    """What a proposal still changes after the build moved on is edits again, which undo to the present revision."""
    present = make(**other)
    joined = join(BASE, make(**one), present).build
    if joined is not None:
        edits = edits_between(present, joined)
        assert apply(present, edits) == joined
        undone = apply(joined, invert(edits))
        assert isinstance(undone, Build)
        assert build_hash(undone) == build_hash(present)


# -- cases that a law does not show -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("slot", "changed", "taken"),
    [
        ("increases", [{**_PLUS, "ability": "wis"}], []),
        ("arrows", {"count": 30}, None),
        ("goal", 25, None),
        ("hp", {"hp": 5}, {}),
        ("subclass", "shadow", None),
        ("background", {"id": "sage"}, None),
        ("concept", "a pilot", None),
    ],
)
def test_what_one_side_takes_away_and_the_other_changes_clashes(slot: str, changed: object, taken: object) -> None:
    """Either way round there is a clash that names the place, and no build."""
    for one, other in ((changed, taken), (taken, changed)):
        found = join(BASE, make(**{slot: one}), make(**{slot: other}))
        assert found.build is None
        assert [clash.path for clash in found.clashes] == [SLOTS[slot].path]


def test_items_join_by_keyword_and_name() -> None:
    """Picks added by both sides under one keyword stand together; the same pick once."""

    def with_items(*items: dict[str, Any]) -> Build:
        return Build.model_validate(
            {"schema": 1, "name": "Reed", "order": ["wizard"], "levels": {"wizard": {"1": {"items": list(items)}}}}
        )

    base = with_items(_picks("spell", "shield", "sleep"), _picks("skill", "arcana"))
    mine = with_items(_picks("spell", "shield", "sleep", "alarm"), _picks("skill", "arcana", "history"))
    theirs = with_items(
        _picks("cantrip", "light"), _picks("spell", "fly", "shield"), _picks("skill", "arcana", "history")
    )
    assert join(base, mine, theirs).build == with_items(
        _picks("cantrip", "light"), _picks("spell", "fly", "shield", "alarm"), _picks("skill", "arcana", "history")
    )


def test_inside_of_a_pick_joins_too() -> None:
    """One side fills the parentheses of a pick, the other one gives it a bonus."""

    def with_gear(**pick: Any) -> Build:
        return Build.model_validate({"schema": 1, "name": "Reed", "gear": [{"id": "rapier", **pick}]})

    attuned = [{"kind": "flag", "flag": "attuned"}]
    found = join(with_gear(), with_gear(bonus=1), with_gear(items=attuned))
    assert found.build == with_gear(bonus=1, items=attuned)


def test_edits_are_all_made_or_none() -> None:
    """One edit that does not fit refuses them all, wherever it stands."""
    good = Edit(path="/name", before="Reed", after="Tide")
    bad = Edit(path="/concept", before="a pilot", after=None)
    for edits in ([good, bad], [bad, good]):
        found = apply(BASE, edits)
        assert found == Refused(
            "edit-clash",
            "The build has moved on: the concept is no longer what this change was made for. "
            "Make the change anew on the present revision.",
        )
    assert apply(BASE, [good]) == make(name="Tide")
    assert apply(BASE, []) == BASE


def test_gifts_join_by_their_reason() -> None:
    """Gifts given for different reasons stand side by side; one reason given two ways is a clash."""

    def with_gifts(*gifts: tuple[str, str]) -> Build:
        items = [{"kind": "granted", "text": text, "item": _picks("feat", feat)} for text, feat in gifts]
        line = {"1": {"items": items}} if items else {}
        return Build.model_validate({"schema": 1, "name": "Reed", "order": ["rogue"], "levels": {"rogue": line}})

    oath, chart = ("harbour oath", "grappler"), ("first chart", "tide-reader")
    assert join(with_gifts(), with_gifts(oath), with_gifts(oath)).build == with_gifts(oath)
    both = join(with_gifts(oath), with_gifts(oath), with_gifts(oath, chart)).build
    assert both == with_gifts(oath, chart)
    fought = join(with_gifts(oath), with_gifts(("harbour oath", "pilot")), with_gifts(("harbour oath", "diver")))
    assert [clash.path for clash in fought.clashes] == ["/levels/rogue/1"]
