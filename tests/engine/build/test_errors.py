"""Errors of an outline: place, what was expected, nearest name, all at once."""

import time

import pytest

from engine.build.outline import OutlineError, parse_line, parse_outline
from engine.build.outline.errors import MOST
from engine.build.outline.text import LONGEST
from tests.engine.build.small_folio import both_catalog, small_catalog

SMALL = small_catalog()
BOTH = both_catalog()


def errors(text: str, catalog: object = SMALL) -> list[OutlineError]:
    """Return the errors of an outline that must be bad."""
    found = parse_outline(text, catalog)  # type: ignore[arg-type]
    assert isinstance(found, list)
    assert found
    assert found == sorted(found, key=lambda e: (e.line, e.column))
    return found


@pytest.mark.parametrize(
    ("line", "column", "part"),
    [
        ("Build:", 7, "needs a text"),
        ("Builds Reed", 1, "opens no line of an outline"),
        ("Conept: a scout", 1, "nearest: Concept"),
        ("Scores: Str 8, Dex 15", 9, "missing: Con, Int, Wis, Cha"),
        ("Scores: Strong 8", 9, "`Strong 8` is no ability score"),
        ("Scores: Str", 9, "is no ability score"),
        ("Scores: Str 8, Str 9", 16, "Str has two scores"),
        ("Scores: Str 31", 9, "out of range; expected 1 to 30"),
        ("Scores: Str 8, Dex 8, Con 8, Int 8, Wis 8, Cha 8 (standard aray)", 51, "nearest: standard array"),
        ("Scores: Str 8, Dex 8, Con 8, Int 8, Wis 8, Cha 8 (manual #3)", 51, "no way of making scores"),
        ("Scores: Str 8, Dex 8, Con 8, Int 8, Wis 8, Cha 8 (rolled #0)", 51, "the number of no roll"),
        ("Scores: Str 8, Dex 8, Con 8, Int 8, Wis 8, Cha 8 (final) too", 58, "the line ends before it"),
        ("Species: Half-Elv", 10, "no loaded folio knows the species `Half-Elv`; nearest: Half-Elf"),
        ("Species: Human (skills Stealth", 16, "never closed"),
        ("Species: Sea Folk (custom; skill Stealth)", 10, "no loaded folio knows the species"),
        ("Background: Marsh Guide (skills Insight)", 13, "begins its parentheses with `custom`"),
        (f"Background: {'x' * 61} (custom)", 13, "1 to 60 characters"),
        ("Gear: Rapeir", 7, "no loaded folio knows the item `Rapeir`; nearest: Rapier"),
        ('Gear: "Rapier', 7, "never closed"),
        ('Gear: "Tide Chart"', 7, "no loaded folio knows the item `Tide Chart`"),
        ("Gear: 0 Rapier", 7, "from 1 to 9999"),
        ("Gear: Rapier +12", 7, "a bonus to +9"),
        ("Gear:", 6, "expected an item here"),
        ("Gear: Rapier; Dagger", 13, "the line ends before it"),
        (f"Gear: {'x' * 81} (custom)", 7, "1 to 80 characters"),
        ("Prepared: (Wizzard) Shield", 12, "nearest: Wizard"),
        ("Prepared: (Wizard Shield", 12, "no loaded folio knows the class `Wizard Shield`"),
        ("Rules: Tide Rules 9", 8, "are not loaded; loaded: SRD 5.1"),
        ("Rules:", 7, "needs a rules release"),
        ("Folios: Tidal", 9, "the folio `Tidal` is not loaded"),
        ("Folios: , Tidal", 9, "expected the name or id of a folio"),
        ("Folios: Tidal (edition 3)", 15, "expected `(version V; hash H)`"),
        ("Goal: skill.stelth >= 3 at 4", 7, "`stelth` is no skill"),
        ("Goal: skil.stealth >= 3 at 4", 7, "nearest: skill"),
        ("Goal: skill >= 3 at 4", 7, "is the name of no number"),
        ("Goal: walk unseen", 7, "this is no goal; expected"),
        ("Goal: hp.max >= 8.5 at 4", 17, "expected a whole number"),
        ("Goal: hp.max >= 8 at 24", 19, "level 24 is out of range"),
        ("Goal: hp.max >= 8", 18, "expected `at N` or `by N`"),
        ("Goal: hp.max >= 8 at 4 or so", 24, "the goal ends before it"),
        ("Goal: knows Sheild by 4", 13, "nearest: Shield"),
        ("Goal: knows Shield at 4", 20, "expected `by N`"),
        ("Goal: check Stealth dc 20 >= 50 at 8", 30, "expected the chance"),
        ("Goal: check Stealth dc 20 >= 150% at 8", 35, "expected the chance"),
        ("Goal: check Stealth dc 0 >= 50% at 8", 26, "expected the difficulty"),
        ("Goal: check Stealth dc 20 >= 50% by 8", 34, "expected `at N`"),
        ('Goal: ""', 7, "1 to 2,000 characters"),
    ],
)
def test_header_errors(line: str, column: int, part: str) -> None:
    """One error in one header line: its place, what was expected, the nearest name."""
    text = line if line.startswith("Build") else f"Build: Reed\n{line}"
    found = errors(text)
    number = 1 if line.startswith("Build") else 2
    shown = [(e.line, e.column, e.sentence) for e in found]
    assert any(e.line == number and e.column == column and part in e.sentence for e in found), shown
    assert all(e.expected for e in found), shown


@pytest.mark.parametrize(
    ("line", "column", "part"),
    [
        ("2 Rogue skill Stealth", 3, "no loaded folio knows the class"),
        ("2 Rogue (Thef)", 10, "nearest: Thief"),
        ("2 Rogue (Thief", 9, "never closed"),
        ("2 Rogue (Thief) skill Stealth", 17, "expected `:` before items"),
        ("0 Rogue", 1, "is no level"),
        ("2-1 Rogue", 1, "is no level or range"),
        ("2-2 Rogue", 1, "is no level or range"),
        ("19-21 Rogue", 1, "is no level or range"),
        ("1 Rogue hp 8", 9, "refused at level 1"),
        ("2-3 Rogue hp 8", 11, "refused on a range"),
        ("2 Rogue hp 0", 9, "from 1 to 20"),
        ("2 Rogue hp 8 #0", 9, "a roll's number"),
        ("2 Rogue: skils Stealth", 10, "nearest: skill"),
        ("2 Rogue: ; note x", 10, "is no item"),
        ("2 Rogue: skill Stelth, Percepton", 16, "nearest: Stealth"),
        ("2 Rogue: skill Stelth, Percepton", 24, "nearest: Perception"),
        ("2 Rogue: skill Stealth Perception", 16, "no loaded folio knows the skill `Stealth Perception`"),
        ("2 Rogue: skill", 15, "expected a skill here, not the end of the line"),
        ("2 Rogue: skill Fog Cloud", 16, "no loaded folio knows the skill `Fog Cloud`"),
        ("2 Rogue: spells (Wizzard) Shield", 18, "nearest: Wizard"),
        ("2 Rogue: spells (Wizard Shield", 18, "the class `Wizard Shield`"),
        ("2 Rogue: +2 Dix", 13, "nearest: Dex"),
        ("2 Rogue: +12 Dex", 10, "expected 1 to 10"),
        ("2 Rogue: +1 Dex, 1 Wis", 18, "is no increase"),
        ("2 Rogue: + Dex", 10, "is no increase"),
        ("2 Rogue: note", 10, "needs its text"),
        ("2 Rogue: note " + "x" * 2001, 10, "may have 2,000"),
        ("2 Rogue: granted oath feat Grappler", 18, "says in quotes why"),
        ('2 Rogue: granted "" feat Grappler', 18, "1 to 2,000 characters"),
        ('2 Rogue: granted "oath', 18, "never closed"),
        ('2 Rogue: granted "a" granted "b" carried', 22, "cannot hold another gift"),
        ("2 Rogue: carried Rapier", 18, "does not follow here"),
        ("2 Rogue: feat Grappler (skill Stealth", 24, "never closed"),
        ("2 Rogue: skill Stealth (note a))", 32, "expected `,`, `;`"),
        ("2 Rogue: swap Fog Cloud", 24, "does not follow here; expected `for`"),
        ("2 Rogue: swap Fog Clowd for Shield", 15, "nothing of that name is on the build"),
        ("2 Rogue: swap spell Fog Clowd for Shield", 21, "no loaded folio knows the spell `Fog Clowd`"),
        ("2 Rogue: swap Fog Cloud for Sheild", 29, "nearest: Shield"),
        ("2 Rogue: swap", 14, "expected what is swapped"),
        ("2 Rogue: gain Rapeir", 15, "nearest: Rapier"),
        ("2 Rogue: arcana Stealth", 10, "opens no item"),
    ],
)
def test_level_errors(line: str, column: int, part: str) -> None:
    """One error on a level line."""
    found = parse_line(line, SMALL)
    assert isinstance(found, list)
    shown = [(e.line, e.column, e.sentence) for e in found]
    assert any(e.column == column and part in e.sentence for e in found), shown
    assert all("\n" not in e.sentence for e in found)


def test_parentheses_beyond_depth_three_are_refused() -> None:
    """Three levels are read; the fourth is one error."""
    inner = "gain Rapier (carried)"
    for _ in range(2):
        inner = f"gain Rapier ({inner})"
    assert not isinstance(parse_line(f"2 Rogue: {inner}", SMALL), list)
    found = parse_line(f"2 Rogue: gain Rapier ({inner})", SMALL)
    assert isinstance(found, list)
    assert [e.sentence for e in found] == ["parentheses nest to depth 3; this goes deeper"]


def test_all_errors_come_at_once() -> None:
    """Every line is read to its end, whatever was wrong before."""
    found = errors(
        "Build: Reed\nSpecies: Elv\nGear: Rapeir, Dagger, Shrtbow\n1 Rogue: skils Stealth; skill Stelth; +2 Dix\n"
        "3 Rouge: spell Sheild"
    )
    assert [(e.line, e.column) for e in found] == [
        (2, 10),
        (3, 7),
        (3, 23),
        (4, 10),
        (4, 31),
        (4, 42),
        (5, 1),
        (5, 3),
        (5, 16),
    ]
    assert str(found[1]).startswith("3:7: no loaded folio knows the item `Rapeir`")
    assert found[1].nearest[0] == "Rapier"


def test_places_are_those_of_the_text_as_given() -> None:
    """Quoting, dropped characters and joined lines do not move an error."""
    found = errors("\ufeff> Build: Reed\r\n>   1 Rogue: note “a” — E\u0301;\r\n# between\r\n    \u200bskill Stelth")
    assert [(e.line, e.column) for e in found] == [(4, 12)]


def test_levels_run_in_order() -> None:
    """Gaps, repeats and levels beyond twenty are errors; one mistake is told once."""
    found = errors("Build: Reed\n1 Rogue\n3 Rogue\n4 Rogue\n4 Rogue\n21 Rogue")
    assert [(e.line, e.sentence.partition(";")[0]) for e in found] == [
        (3, "level 3 comes too early"),
        (5, "level 4 comes again"),
        (6, "`21` is no level or range of levels"),
    ]


def test_header_stands_once() -> None:
    """Only gear, prepared lists, goals and notes repeat; Race is Species."""
    found = errors("Build: Reed\nSpecies: Human\nRace: Human\nBuild: Tide")
    assert [(e.line, e.sentence) for e in found] == [
        (3, "`Species:` stands here a second time; it may stand once"),
        (4, "`Build:` stands here a second time; it may stand once"),
    ]


def test_limits_of_raw_texts() -> None:
    """Names have 60 characters, concepts and notes 2,000."""
    found = errors(f"Build: {'x' * 61}\nConcept: {'x' * 2001}\nNote: {'x' * 2001}\nNote:")
    assert [(e.line, e.column) for e in found] == [(1, 8), (2, 10), (3, 7), (4, 6)]


@pytest.mark.parametrize("text", ["", "  \n# only a comment\n", "\ufeff"])
def test_empty_text(text: str) -> None:
    """Nothing to read is one sentence."""
    assert [e.sentence for e in errors(text)] == [
        "the text is empty; an outline begins with a line such as `Build: Reed Warden`"
    ]


def test_missing_name() -> None:
    """A build has a name."""
    assert "expected a line such as `Build: Reed Warden`" in errors("1 Rogue")[0].sentence


def test_no_text_and_too_much_of_it() -> None:
    """Binary files and texts over the limit are refused in one sentence."""
    assert [e.sentence for e in errors("Build: Reed\nNote: \0")] == [
        "this is no text but a binary file; an outline is plain text"
    ]
    assert errors("Build: Reed\n\x01")[0].line == 2
    assert [e.sentence for e in errors("x" * (LONGEST + 1))] == [
        "the text has 200,001 characters; an outline may have 200,000"
    ]


def test_endless_nonsense_stops() -> None:
    """A text of nothing but errors gives the first of them, in little time."""
    start = time.perf_counter()
    assert len(errors("tide\n" * 30_000)) == MOST
    assert len(errors("Build: Reed\nGear: " + "Rapeir, " * 20_000)) == MOST
    assert errors("Build: Reed\n1 Rogue: " + "(" * 100_000)
    assert errors("Build: Reed\nGear: " + '"' * 99_999)
    assert time.perf_counter() - start < 20


def test_name_of_two_folios_asks_which() -> None:
    """A name that two folios give is written `folio/name`."""
    found = errors("Build: Reed\n1 Wizard: spell Fog Cloud", BOTH)
    assert [(e.line, e.column, e.nearest) for e in found] == [
        (2, 17, ("srd-5.1/Fog Cloud", "harbour/Fog Cloud")),
    ]
    assert "write `srd-5.1/Fog Cloud` or `harbour/Fog Cloud`" in found[0].sentence


def test_keyword_whose_content_is_not_loaded() -> None:
    """A keyword of every outline is known before any folio brings names for it."""
    from dataclasses import replace

    from engine.rules.catalog import Catalog

    base = SMALL.folios[0]
    bare = Catalog([replace(base, entries={k: v for k, v in base.entries.items() if k != "choice-list"})])
    found = parse_line("2 Wizard: metamagic Twinned Spell; boon Pact of the Tome", bare)
    assert isinstance(found, list)
    assert [e.sentence for e in found] == [
        "`Twinned Spell` cannot be chosen: no loaded folio has any metamagic option to choose",
        "`Pact of the Tome` cannot be chosen: no loaded folio has any boon to choose",
    ]
