"""Titles of proposals in words, and the single things that a line says."""

import pytest

from engine.build.document import Build
from engine.build.outline import OutlineError, parse_outline
from engine.problem import Refused
from engine.services.changing import changed
from engine.services.items import texts_of
from engine.services.library import catalog, catalog_for, catalog_of
from engine.services.titles import title_of
from tests.engine.services.world import REED, refused

CATALOG = catalog()


def build(text: str) -> Build:
    found = parse_outline(text, CATALOG)
    assert isinstance(found, Build), found
    return found


@pytest.mark.parametrize(
    ("old", "new", "title"),
    [
        ("4 Rogue: +1 Dex, +1 Wis", "4 Rogue: +2 Dex", "Level 4: +2 Dex instead of +1 Dex, +1 Wis"),
        ("4 Rogue: +1 Dex, +1 Wis", "4 Rogue: +1 Wis, +1 Dex", "Level 4: another order"),
        ("3 Rogue (Thief)", "3 Rogue", "Level 3: subclass Thief taken away"),
        ("2 Rogue\n", "2 Rogue hp 5\n", "Level 2: hp 5 added"),
        ("2 Rogue\n", "2 Rogue hp 5 #31\n", "Level 2: hp 5 #31 added"),
        ("5-6 Ranger", "5-7 Ranger", "Level 7: Ranger added"),
        ("5-6 Ranger", "5 Ranger", "Level 6: Ranger taken away"),
        ("5-6 Ranger", "5 Ranger\n6 Rogue", "Level 6: Rogue instead of Ranger"),
        ("Concept: a marsh scout\n", "Concept: listens\n", "Concept: listens"),
        ("Concept: a marsh scout\n", "", "Concept taken away"),
        ("Concept: a marsh scout\n", "Concept: a marsh scout\nGear: Rapier\n", "Gear added"),
        ("Concept: a marsh scout\n", "Concept: a marsh scout\nNote: one\nNote: two\n", "Note added"),
        ("Reed Warden", "Reed Warden", "No change"),
    ],
)
def test_the_first_change_in_words(old: str, new: str, title: str) -> None:
    """As cards.md writes it: what comes, instead of what goes."""
    assert old in REED
    assert title_of(build(REED), build(REED.replace(old, new)), CATALOG) == title


def test_more_changes_are_counted_and_long_ones_cut() -> None:
    """Levels before the header; never more than a hundred characters."""
    two = REED.replace("4 Rogue: +1 Dex, +1 Wis", "4 Rogue: +2 Dex").replace("a marsh scout", "listens")
    assert title_of(build(REED), build(two), CATALOG) == "Level 4: +2 Dex instead of +1 Dex, +1 Wis and 1 more"
    long = title_of(build(REED), build(two.replace("+2 Dex", f'+2 Dex; note "{"bells " * 40}"')), CATALOG)
    assert 95 <= len(long) <= 100
    assert long.endswith("… and 1 more")
    notes = "Build: A\nNote: one\nNote: two\n"
    assert title_of(build(notes), build(notes.replace("two", "three")), CATALOG) == "Note changed"


def test_a_line_is_said_item_by_item() -> None:
    """Each of them can be taken off by its text."""
    text = REED.replace("2 Rogue", "2 Rogue: gain Rapier, 20 Arrows; note bells, and gulls")
    line = build(text)
    said = texts_of(line, 2, CATALOG)
    assert said == ["gain Rapier", "gain 20 Arrows", "note bells, and gulls"]
    for each in said:
        less = changed(line, 2, each, "", CATALOG)
        assert isinstance(less, Build)
        assert texts_of(less, 2, CATALOG) == [other for other in said if other != each]
    back = changed(line, 2, "gain Rapier", "gain Dagger", CATALOG)
    assert isinstance(back, Build)
    assert texts_of(back, 2, CATALOG) == ["gain Dagger", "gain 20 Arrows", "note bells, and gulls"]


def test_what_is_added_is_read_as_outline() -> None:
    """Errors come back as such; a subclass by its name, unknown ones with those there are."""
    reed = build(REED)
    wrong = changed(reed, 4, "", "spell Wibble", CATALOG)
    assert isinstance(wrong, list)
    assert isinstance(wrong[0], OutlineError)
    first = changed(build("Build: A\n1-3 Rogue\n"), 3, "", "subclass thief", CATALOG)
    assert isinstance(first, Build)
    assert first.levels["rogue"][3].subclass == "thief"
    assert "Thief" in refused(changed(reed, 3, "", "subclass Hunter", CATALOG), "no-such-item")
    assert "beyond its class" in refused(changed(reed, 2, "+2 Dex", "", CATALOG), "no-such-item")


def test_a_subclass_that_no_folio_knows_is_said_by_its_id() -> None:
    """A stored build keeps its ids if content goes away."""
    reed = build(REED)
    lines = {**reed.levels["rogue"], 3: reed.levels["rogue"][3].model_copy(update={"subclass": "tide-dancer"})}
    lost = reed.model_copy(update={"levels": {**reed.levels, "rogue": lines}})
    assert texts_of(lost, 3, CATALOG) == ["subclass tide-dancer"]


def test_catalogues_by_rules_and_folios() -> None:
    """Titles and ids both do; what is not there is named with what is."""
    assert catalog_for("srd-5.1") is CATALOG
    assert "SRD 5.1" in refused(_ended(catalog_for("srd-9")), "no-such-rules")
    assert "SRD 5.1" in refused(_ended(catalog_for("srd-5.1", ("tidewater",))), "no-such-folio")
    lost = build(REED).model_copy(update={"rules": "srd-9"})
    assert "srd-9" in refused(catalog_of(lost), "no-such-rules")
    assert catalog_of(build(REED)) is CATALOG


def _ended(found: object) -> object:
    """Sentences inside a text's errors stand without a full stop."""
    assert isinstance(found, Refused)
    return Refused(found.code, found.sentence + ".")
