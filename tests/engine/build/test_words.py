"""Changes of choices in plain words."""

import pytest
from hypothesis import HealthCheck, given, settings

from engine.build.diff import edits_between
from engine.build.document import Build, FolioUse, Line
from engine.build.outline import parse_line, parse_outline
from engine.build.words import changes_in_words, edit_words, item_words
from tests.engine.build.small_folio import both_catalog, small_catalog
from tests.strategies import Documents

BOTH = both_catalog()
SMALL = small_catalog()
BASE = (
    "Build: Reed\nScores: Str 8, Dex 15, Con 13, Int 10, Wis 14, Cha 12 (standard array)\n"
    "Species: Half-Elf (skill Stealth)\nBackground: Marsh Guide (custom; skill Nature)\n"
    "Gear: Rapier, Shortbow\nPrepared: (Wizard) Shield\n"
    "Goal: hp.max >= 20 by 4\nNote: low tide\n1 Wizard: spells Shield, Ward\n2 Wizard hp 3\n3 Ranger\n4 Ranger: +2 Wis"
)


def read(text: str) -> Build:
    """Return the build of an outline that must be good."""
    found = parse_outline(text, SMALL)
    assert isinstance(found, Build), found
    return found


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("+2 Wis", "+2 Dex", ["level 4: +2 Dex instead of +2 Wis"]),
        ("Shield, Ward", "Shield, Winds", ["level 1: spell Winds instead of spell Ward"]),
        ("3 Ranger", "3 Ranger (Hunter): prey Giant Killer", ["level 3: adds Hunter, prey Giant Killer"]),
        ("hp 3", "hp 4 #7", ["level 2: hp 4 #7 instead of hp 3"]),
        (": +2 Wis", "", ["level 4: drops +2 Wis"]),
        ("Shield, Ward", "Ward, Shield", ["level 1: another order"]),
        ("\n4 Ranger: +2 Wis", "", ["level 4 removed: Ranger", "level 4, gone: drops +2 Wis"]),
        ("+2 Wis", "+2 Wis\n5-6 Rogue", ["levels 5 to 6 added: Rogue ×2"]),
        ("3 Ranger\n", "3 Rogue\n", ["level 3: Rogue instead of Ranger"]),
        ("Reed", "Tide", ["name: Tide instead of Reed"]),
        ("Build: Reed", "Build: Reed\nConcept: a scout", ["concept: adds a scout"]),
        ("Dex 15", "Dex 14", ["Dexterity 14 instead of 15"]),
        (
            "(standard array)",
            "(rolled #3)",
            [
                f"scores: {numbers} (rolled #3) instead of {numbers} (standard array)"
                for numbers in ["Str 8, Dex 15, Con 13, Int 10, Wis 14, Cha 12"]
            ],
        ),
        ("skill Stealth", "skill Nature", ["species: skill Nature instead of skill Stealth"]),
        (
            "Half-Elf (skill Stealth)",
            "Human",
            ["species: Human instead of Half-Elf (skill Stealth)"],
        ),
        (
            "Marsh Guide (custom; skill Nature)",
            "Acolyte",
            ["background: Acolyte instead of Marsh Guide (skill Nature)"],
        ),
        ("Rapier, ", '2 "Dagger" (carried), ', ["gear: 2 Dagger (carried) instead of Rapier"]),
        ("Rapier, ", "Rapier +1 (attuned), ", ["gear: Rapier +1 (attuned) instead of Rapier"]),
        ("(Wizard) Shield", "(Wizard) Ward", ["prepared: Ward instead of Shield"]),
        (">= 20", ">= 30", ["goals: hp.max >= 30 by 4 instead of hp.max >= 20 by 4"]),
        ("low tide", "high tide", ["notes: high tide instead of low tide"]),
    ],
)
def test_changes(old: str, new: str, said: list[str]) -> None:
    """One change of the base build, as a card says it."""
    assert old in BASE
    before = read(BASE)
    after = read(BASE.replace(old, new))
    assert list(changes_in_words(before, after, SMALL)) == said


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("spells (Wizard) Shield, Ward, Greater", "spells (Wizard) Shield, Ward, Greater"),
        ("swap spell Shield for Winds", "swap Shield for Winds"),
        ('granted "harbour oath" feat Grappler', "feat Grappler as a gift (“harbour oath”)"),
        ("note high tide", "note “high tide”"),
        ("gain 20 Arrows, Rapier (carried)", "gain 20 Arrow, Rapier (carried)"),
        ("lose Tide Chart (custom)", "lose Tide Chart (custom)"),
        ("two-handed", "two-handed"),
        ("enemy Giants (language Giant)", "enemy Giants (language Giant)"),
    ],
)
def test_items(text: str, said: str) -> None:
    """One item in plain words, names without quotes."""
    read_line = parse_line(f"2 Rogue: {text}", SMALL)
    assert not isinstance(read_line, list), read_line
    assert item_words(read_line.line.items[0], SMALL) == said


def test_no_scores_and_missing_content() -> None:
    """A field that one side lacks, and ids that no folio knows."""
    before = Build(name="Reed")
    after = read("Build: Reed\nScores: Str 8, Dex 15, Con 13, Int 10, Wis 14, Cha 12 (final)\nSpecies: Human")
    assert changes_in_words(before, after, BOTH) == (
        "scores: Str 8, Dex 15, Con 13, Int 10, Wis 14, Cha 12 (final) instead of none",
        "species: adds Human",
    )
    lost = Build(name="Reed", order=("tide-caller",), levels={"tide-caller": {1: Line(subclass="ebb")}})
    assert changes_in_words(before, lost, BOTH) == ("level 1 added: tide-caller", "level 1: adds ebb")
    used = before.model_copy(update={"folios": (FolioUse(id="harbour", version="3"),)})
    assert changes_in_words(before, used, BOTH) == ("folios: adds harbour 3",)
    rules = before.model_copy(update={"rules": "srd-5.2.1"})
    assert changes_in_words(before, rules, BOTH) == ("rules srd-5.2.1 instead of srd-5.1",)


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(Documents(BOTH).builds(), Documents(BOTH).builds())
def test_every_edit_has_words(before: Build, after: Build) -> None:
    """Whatever changed is said, on one line."""
    edits = edits_between(before, after)
    said = changes_in_words(before, after, BOTH)
    assert set(said) <= {edit_words(edit, before, after, BOTH) for edit in edits}
    assert bool(said) == bool(edits)
    assert all(words and "\n" not in words for words in said)
