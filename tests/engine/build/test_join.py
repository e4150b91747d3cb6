"""Three-way joining: field by field, the order by list merge, items by keyword and name; clashes are named."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine.build.document import Build, Increase, Line
from engine.build.join import Joined, join
from engine.build.merge import merge_lists
from engine.build.outline import parse_outline, print_outline
from tests.engine.build.small_folio import both_catalog, small_catalog
from tests.strategies import Documents

SMALL = small_catalog()
BOTH = both_catalog()
SLOW = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
HEADER = (
    "Build: Reed\nScores: Str 8, Dex 15, Con 13, Int 10, Wis 14, Cha 12 (standard array)\n"
    "Species: Half-Elf (skill Stealth)\nBackground: Sage\nGear: Rapier, Shortbow, 20 Arrows\n"
    "Prepared: (Wizard) Shield\nGoal: hp.max >= 20 by 4\nNote: low tide\n"
)
LEVELS = "1 Wizard: spells Shield, Ward, Call\n2 Wizard hp 3\n3 Ranger\n4 Ranger: +2 Wis; style Archery; carried"
BASE = HEADER + LEVELS


def read(text: str) -> Build:
    """Return the build of an outline that must be good."""
    found = parse_outline(text, SMALL)
    assert isinstance(found, Build), found
    return found


def changed(*changes: tuple[str, str]) -> Build:
    """Return the base build with parts of its text replaced."""
    text = BASE
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return read(text)


def joined(mine: tuple[str, str], theirs: tuple[str, str]) -> Joined:
    """Return both sides' changes joined; joining does not care which side is whose, but for order."""
    result = join(read(BASE), changed(mine), changed(theirs))
    other = join(read(BASE), changed(theirs), changed(mine))
    assert [c.path for c in result.clashes] == [c.path for c in other.clashes]
    return result


@SLOW
@given(Documents(BOTH).builds(), Documents(BOTH).builds())
def test_one_side_alone_is_taken_as_it_is(base: Build, side: Build) -> None:
    """Nothing clashes with a side that changed nothing or the same."""
    for mine, theirs, result in ((side, base, side), (base, side, side), (side, side, side)):
        assert join(base, mine, theirs) == Joined(build=result)


@SLOW
@given(Documents(BOTH).builds(), Documents(BOTH).builds(), Documents(BOTH).builds())
def test_any_three_builds_join_or_clash(base: Build, mine: Build, theirs: Build) -> None:
    """There is a build or a clash, never both and never neither; each clash says what it is about."""
    result = join(base, mine, theirs)
    assert (result.build is None) == bool(result.clashes)
    assert all(clash.sentence.endswith(".") and clash.path.startswith("/") for clash in result.clashes)


@pytest.mark.parametrize(
    ("mine", "theirs", "both"),
    [
        (("Build: Reed", "Build: Tide"), ("Note: low tide", "Note: high tide"), "Build: Tide|Note: high tide"),
        (("Dex 15", "Dex 16"), ("Wis 14", "Wis 15"), "Dex 16|Wis 15"),
        (("Dex 15", "Dex 16"), ("(standard array)", "(rolled #3)"), "Dex 16|(rolled #3)"),
        (("skill Stealth", "skills Stealth, Nature"), ("skill Stealth", "skill Stealth; +1 Dex"), "Nature|+1 Dex"),
        (("Rapier,", "Rapier +1,"), ("20 Arrows", "30 Arrows"), "Rapier +1|30 Arrows"),
        (("Rapier, ", ""), ("20 Arrows", "20 Arrows, Flute"), "Gear: Shortbow, 20 Arrows, Flute"),
        (("Goal: hp.max", "Goal: initiative"), ("Note: low tide", "Goal: ac >= 15 by 4"), "Goal: initiative|Goal: ac"),
        (("(Wizard) Shield", "(Wizard) Shield, Ward"), ("(Wizard) Shield", "(Wizard) Call, Shield"), "Ward|Call"),
        (("Shield, Ward, Call", "Shield, Winds, Call"), ("Ward, Call", "Ward, Wind"), "Shield, Winds, Wind"),
        (("Call", "Call; cantrip Light"), ("Call", "Call (note deep)"), "Call (note deep)|cantrip Light"),
        (("3 Ranger", "3 Ranger (Hunter)"), ("3 Ranger", "3 Ranger: prey Giant Killer"), "(Hunter): prey Giant Killer"),
        (("hp 3", "hp 3 (custom)".replace(" (custom)", " #9")), ("hp 3", "hp 3: note a"), "hp 3 #9: note a"),
        (("+2 Wis; ", ""), ("carried", "attuned"), "4 Ranger: style Archery; attuned"),
        (("4 Ranger", "4 Rogue\n5 Ranger"), ("+2 Wis", "+2 Dex"), "4 Rogue|5 Ranger: +2 Dex"),
        (
            ("1 Wizard", "1 Wizard (Warden)"),
            ("3 Ranger\n4", "3 Wizard\n4 Ranger\n5"),
            "(Warden)|3 Wizard|5 Ranger: +2 Wis",
        ),
    ],
)
def test_changes_of_different_things_join(mine: tuple[str, str], theirs: tuple[str, str], both: str) -> None:
    """What each side changed is in the joined build."""
    if mine[0] not in BASE or theirs[0] not in BASE:
        pytest.fail("the case changes nothing")
    result = joined(mine, theirs)
    assert result.clashes == ()
    assert result.build is not None
    text = print_outline(result.build, SMALL)
    for part in both.split("|"):
        assert part in text, text


@pytest.mark.parametrize(
    ("mine", "theirs", "path", "part"),
    [
        (("Build: Reed", "Build: Tide"), ("Build: Reed", "Build: Ebb"), "/name", "the name"),
        (("Dex 15", "Dex 16"), ("Dex 15", "Dex 17"), "/scores/values/dex", "the Dex score"),
        (("standard array", "manual"), ("standard array", "final"), "/scores/method", "the way the scores were made"),
        (("Half-Elf", "Human"), ("Half-Elf", "Dwarf"), "/species", "the species"),
        (("Half-Elf", "Human"), ("skill Stealth", "skill Nature"), "/species", "the species"),
        (("20 Arrows", "30 Arrows"), ("20 Arrows", "40 Arrows"), "/gear", "`arrow` of the gear"),
        (("20 Arrows", "30 Arrows"), (", 20 Arrows", ""), "/gear", "`arrow` of the gear"),
        (("Rapier", "Longsword"), ("Rapier", "Dagger, Flute"), "/gear", "the gear"),
        ((">= 20", ">= 25"), (">= 20", ">= 30"), "/goals", "`compare hp.max` of one of the goals"),
        (("+2 Wis", "+2 Dex"), ("+2 Wis", "+2 Con"), "/levels/ranger/2", "the increases of level 2 of ranger"),
        (("Archery", "Defense"), ("style Archery", "style Archery (note a)"), "/levels/ranger/2", "style"),
        (("Ward", "Winds"), ("Ward", "Wind"), "/levels/wizard/1", "the spell picks of level 1 of wizard"),
        (
            ("3 Ranger", "3 Ranger: prey Giant Killer"),
            ("3 Ranger", "3 Ranger: prey Colossus Slayer"),
            "/levels/ranger/1",
            "prey",
        ),
        (("3 Ranger", "3 Ranger (Hunter)"), ("3 Ranger", "3 Ranger (Warden)"), "/levels/ranger/1", "the subclass"),
        (("hp 3", "hp 4"), ("hp 3", "hp 5"), "/levels/wizard/2", "the hit points"),
        (("3 Ranger", "3 Rogue"), ("3 Ranger", "3 Wizard"), "/order", "the order of the levels"),
    ],
)
def test_changes_of_one_thing_clash(mine: tuple[str, str], theirs: tuple[str, str], path: str, part: str) -> None:
    """Each clash names its place and carries the three values."""
    result = joined(mine, theirs)
    assert result.build is None
    assert path in [clash.path for clash in result.clashes]
    clash = next(clash for clash in result.clashes if clash.path == path)
    assert part in clash.sentence
    assert len({repr(clash.base), repr(clash.mine), repr(clash.theirs)}) == 3


def test_lines_of_a_level_that_is_gone_clash() -> None:
    """One side takes the last level away, the other one says something on it."""
    base = Build(name="Reed", order=("rogue", "ranger"))
    shorter = Build(name="Reed", order=("rogue",))
    line = Line(items=(Increase(ability="dex", amount=2),))
    fuller = Build(name="Reed", order=("rogue", "ranger"), levels={"ranger": {1: line}})
    result = join(base, shorter, fuller)
    assert [clash.path for clash in result.clashes] == ["/order"]
    assert "together make no build" in result.clashes[0].sentence


def test_both_sides_may_make_the_same_change() -> None:
    """What both changed alike is there once."""
    result = join(
        read(BASE),
        changed(("4 Ranger", "4 Rogue\n5 Ranger"), ("low tide", "ebb")),
        changed(("4 Ranger", "4 Rogue\n5 Ranger")),
    )
    assert result.build == changed(("4 Ranger", "4 Rogue\n5 Ranger"), ("low tide", "ebb"))


@pytest.mark.parametrize(
    ("base", "mine", "theirs", "merged"),
    [
        ("aaa", "aaab", "baaa", "baaab"),
        ("aaa", "aaab", "aaab", "aaab"),
        ("aaa", "aaab", "aaac", None),
        ("abc", "ac", "abcd", "acd"),
        ("abc", "axc", "abyc", "axyc"),
        ("abc", "axc", "ayc", None),
        ("abc", "a", "abd", None),
        ("abc", "axbc", "ayc", "axyc"),
        ("", "a", "b", None),
        ("ab", "", "ab", ""),
    ],
)
def test_lists_merge_stretch_by_stretch(base: str, mine: str, theirs: str, merged: str | None) -> None:
    """Only changes of the same stretch, or two insertions at one place, get into each other's way."""
    found = merge_lists(base, mine, theirs)
    assert found == (None if merged is None else list(merged))


@given(st.text("abc", max_size=8), st.text("abc", max_size=8))
def test_list_merge_takes_the_only_side_that_changed(base: str, side: str) -> None:
    """A merge with an unchanged side is the other side."""
    assert merge_lists(base, side, base) == merge_lists(base, base, side) == list(side)
