"""Differences of builds: nothing against itself, sides exchanged backwards, and the worked example of the cards."""

from random import Random
from typing import Any

import pytest

from engine.audit import (
    Difference,
    FoldedChange,
    NumberChange,
    audit,
    difference,
    difference_json,
    folded,
)
from engine.build.document import Build
from engine.rules.catalog import Catalog
from engine.sheet import sheet, timeline
from tests.engine.audit.bases import BASES
from tests.engine.audit.legal_builds import author
from tests.engine.audit.test_illegal import parsed


def drawn(seed: int, catalog: Catalog) -> Build:
    dice = Random(seed)
    return author(catalog, dice).write(dice.choice(["bard", "fighter", "wizard", "cleric"]), dice.randint(1, 12))


@pytest.mark.parametrize("name", BASES)
def test_a_build_does_not_differ_from_itself(name: str, release: Catalog) -> None:
    """Equal builds have the empty difference."""
    build = parsed(BASES[name], release)
    found = difference(build, build, release, release)
    assert found == Difference()
    assert found.empty


@pytest.mark.parametrize("seed", range(12))
def test_the_way_back_exchanges_the_sides(seed: int, release: Catalog) -> None:
    """What is before one way is after the other way, for choices, numbers, findings and goals."""
    one, two = drawn(seed, release), drawn(seed + 100, release)
    there, back = difference(one, two, release, release), difference(two, one, release, release)
    assert [(n.name, n.level, n.after, n.before) for n in back.numbers] == [
        (n.name, n.level, n.before, n.after) for n in there.numbers
    ]
    assert {(c.path, repr(c.after), repr(c.before)) for c in back.choices} == {
        (c.path, repr(c.before), repr(c.after)) for c in there.choices
    }
    assert (back.findings_new, back.findings_gone) == (there.findings_gone, there.findings_new)
    assert {g.text for g in back.goals_lost} == {g.text for g in there.goals_gained}
    assert {g.text for g in back.goals_later} == {g.text for g in there.goals_earlier}
    assert not there.empty


@pytest.mark.parametrize("seed", range(6))
def test_numbers_are_those_of_the_sheets(seed: int, release: Catalog) -> None:
    """Every name and level that differs is listed once, sorted, and nothing else."""
    one, two = drawn(seed, release), drawn(seed + 50, release)
    expected: dict[tuple[str, int], tuple[Any, Any]] = {}
    for level in range(1, max(one.top, two.top) + 1):
        old = sheet(one, release, level).numbers if level <= one.top else {}
        new = sheet(two, release, level).numbers if level <= two.top else {}
        for name in {*old, *new}:
            values = tuple(side[name].value if name in side else None for side in (old, new))
            if values[0] != values[1]:
                expected[name, level] = (values[0], values[1])
    found = difference(one, two, release, release).numbers
    assert {(n.name, n.level): (n.before, n.after) for n in found} == expected
    assert [(n.name, n.level) for n in found] == sorted(expected)


def test_findings_are_those_of_the_audits(release: Catalog) -> None:
    """New and gone findings are what one audit has and the other lacks."""
    one = parsed(BASES["reed"].replace("(standard array)", "(manual)"), release)
    two = parsed(BASES["reed"].replace("3 Rogue (Thief)", "3 Rogue"), release)
    found = difference(one, two, release, release)
    before, after = audit(one, release), audit(two, release)
    assert set(found.findings_new) == set(after) - set(before)
    assert set(found.findings_gone) == set(before) - set(after)
    assert [f.code for f in found.findings_gone] == ["scores-manual"]
    assert "subclass-missing" in {f.code for f in found.findings_new}


# Figures of cards.md, "A proposal": +2 Dex instead of +2 Wis at level 8, worked out by hand from the SRD 5.1 tables.
CARD = {
    "skill.stealth": (9, 10), "attack.shortbow.to_hit": (8, 9), "attack.shortbow.damage": (6.5, 7.5),
    "attack.rapier.to_hit": (6, 7), "attack.rapier.damage": (7.5, 8.5), "ac": (14, 15), "initiative": (3, 4),
    "save.dex": (6, 7), "skill.acrobatics": (6, 7), "skill.perception": (10, 9), "skill.insight": (7, 6),
    "skill.survival": (7, 6), "save.wis": (4, 3), "casting.ranger.save_dc": (15, 14), "casting.ranger.attack": (7, 6),
}  # fmt: skip


def test_the_proposal_of_the_cards(release: Catalog) -> None:
    """The worked example: one choice, its numbers at level 8 only, one goal lost, nothing new in the rules."""
    one = parsed(BASES["reed"], release)
    two = parsed(BASES["reed"].replace("hp 7: +2 Wis", "hp 7: +2 Dex"), release)
    found = difference(one, two, release, release)
    assert [c.path for c in found.choices] == ["/levels/ranger/4"]
    assert {n.level for n in found.numbers} == {8}
    values = {n.name: (n.before, n.after) for n in found.numbers}
    assert {name: values[name] for name in CARD} == CARD
    [lost] = found.goals_lost
    assert (lost.text, lost.nearest) == ("skill.perception.passive >= 20 at 8", "19 at level 8, 1 short")
    assert found.findings_new == found.findings_gone == ()
    worse = {f.name for f in folded(found.numbers) if f.direction == "worse"}
    better = {f.name for f in folded(found.numbers) if f.direction == "better"}
    assert "skill.perception" in worse
    assert "skill.stealth" in better
    [gained] = difference(two, one, release, release).goals_gained
    assert gained.from_level == 8


def test_goals_met_earlier_and_later(release: Catalog) -> None:
    """A goal that both builds meet is earlier or later by its first level."""
    text = BASES["reed"].replace("skill.perception.passive >= 20 at 8", "skill.perception.passive >= 17 by 8")
    one = parsed(text, release)
    two = parsed(text.replace("4 Rogue: +1 Dex, +1 Wis", "4 Rogue: +2 Wis"), release)
    three = parsed(text.replace("4 Rogue: +1 Dex, +1 Wis", "4 Rogue: +2 Dex"), release)
    assert not difference(one, two, release, release).goals_earlier
    later = difference(one, three, release, release).goals_later
    assert [g.from_level for g in later] == [5]
    assert [g.text for g in difference(three, one, release, release).goals_earlier] == [g.text for g in later]


def test_a_level_more_has_absent_numbers_before(release: Catalog) -> None:
    """Levels that one side lacks count as absent there, and the outside form says null."""
    one = parsed(BASES["reed"], release)
    two = one.model_copy(update={"order": (*one.order, "ranger")})
    found = difference_json(difference(one, two, release, release))
    assert {row["level"] for row in found["numbers"]} == {9}
    assert all(row["before"] is None for row in found["numbers"])
    assert set(found) == {"choices", "numbers", "findings"}
    assert set(found["findings"]) == {"new", "gone"}
    assert [row["code"] for row in found["findings"]["new"]] == ["spells-too-few"]
    assert found["choices"] == [{"path": "/order", "before": list(one.order), "after": list(two.order)}]


def test_two_catalogues(release: Catalog, coast: Catalog) -> None:
    """Each side is judged under its own catalogue: content that one lacks is missing on that side."""
    build = parsed(BASES["watch"].replace("3 Fighter (Champion)", "3 Fighter (Quay Guard)"), coast)
    found = difference(build, build, release, coast)
    assert "missing-content" in {f.code for f in found.findings_gone}
    assert found.choices == ()


def test_folding_joins_neighbouring_levels() -> None:
    """One row for a run of levels with one change; a gap, another value or another name begins a new row."""
    rows = [
        NumberChange("ac", 3, 14, 15),
        NumberChange("ac", 4, 14, 15),
        NumberChange("ac", 6, 14, 15),
        NumberChange("ac", 7, 15, 14),
        NumberChange("initiative", 8, 2, 1),
    ]
    assert folded(rows) == (
        FoldedChange("ac", 3, 4, 14, 15, "better"),
        FoldedChange("ac", 6, 6, 14, 15, "better"),
        FoldedChange("ac", 7, 7, 15, 14, "worse"),
        FoldedChange("initiative", 8, 8, 2, 1, "worse"),
    )


@pytest.mark.parametrize(
    ("name", "before", "after", "direction"),
    [
        ("pool.sneak-attack.die", "2d6", "3d6", "better"),
        ("pool.sneak-attack.die", "2d6", "1d6+3", "worse"),
        ("pool.sneak-attack.die", "1d6-1", "1d6", "better"),
        ("pool.rage.uses", 6, "unlimited", "better"),
        ("slots.3", None, 2, "better"),
        ("slots.3", 2, None, "worse"),
        ("level.rogue", 2, 3, "neutral"),
        ("carry.weight", 20, 30, "neutral"),
        ("pool.odd.die", "2d4", "1d9", "neutral"),
        ("pool.odd.die", "column", "1d6", "better"),
    ],
)
def test_direction_of_a_change(name: str, before: Any, after: Any, direction: str) -> None:
    """Higher is better, dice by their mean; what a number says of the build's kind is neither."""
    assert folded([NumberChange(name, 1, before, after)])[0].direction == direction


def test_timelines_of_equal_builds_are_equal(release: Catalog) -> None:
    """Without that a difference could never be empty."""
    build = parsed(BASES["hex"], release)
    assert [s.numbers for s in timeline(build, release)] == [s.numbers for s in timeline(build, release)]
