"""`buildmoot facts` from the outside, against the figures of tests/reference: counts, cells, and text for people.

The figures were read from the rules text and from the open data set by scripts that know nothing of the project; where
the two differ, the side that the evidence speaks for counts (see tests/engine/rules/believed.py).
"""

import json
from fractions import Fraction
from typing import Any

import pytest

from bot.cli import main
from bot.filecommands.facts import KINDS
from tests.engine.rules.believed import believed
from tests.reference.figures import CLASSES, slug

CapSys = pytest.CaptureFixture[str]


def told(capsys: CapSys, *words: str) -> Any:
    """Return the JSON document that the command prints, after checking that it went well."""
    assert main(["facts", *words, "--json"]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    return json.loads(out)


def read(capsys: CapSys, *words: str) -> list[str]:
    """Return the lines that people read."""
    assert main(["facts", *words]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    return out.splitlines()


def refused(capsys: CapSys, *words: str) -> str:
    """Return the sentence of bad input: exit 2, nothing on standard output."""
    assert main(["facts", *words]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    return err.rstrip("\n")


@pytest.fixture
def items(capsys: CapSys, request: pytest.FixtureRequest) -> dict[str, dict[str, Any]]:
    """Everything of the kind that the test is about, by id; the first of one id."""
    found: dict[str, dict[str, Any]] = {}
    for item in told(capsys, request.param)["items"]:
        found.setdefault(item["id"], item)
    return found


# SRD 5.1: Classes (12, one subclass each), Races (9 and 4 subraces), Backgrounds, Feats, Spellcasting (319 with the
# fifteen of NOTES B), Appendix PH-A (15 conditions, exhaustion among them).
COUNTS = {"class": 12, "subclass": 12, "species": 13, "background": 1, "feat": 1, "spell": 319, "condition": 15}


@pytest.mark.parametrize("kind", KINDS)
def test_every_item_has_id_name_source_and_its_facts(capsys: CapSys, kind: str) -> None:
    document = told(capsys, kind)
    assert set(document) == {"items"}
    items = document["items"]
    assert len(items) == COUNTS.get(kind, len(items))
    # An option that is listed among features has what an option needs besides; else all have the same keys.
    keys = {frozenset(item) for item in items if "requires" not in item or kind != "feature"}
    assert len(keys) == 1
    for item in items:
        assert set(item) >= next(iter(keys))
        assert item["id"]
        assert item["name"]
        assert item["source"].startswith("SRD 5.1, ")
    one = told(capsys, kind, items[-1]["id"])
    assert one["id"] == items[-1]["id"]
    assert set(one) - {"others"} == set(items[-1])


@pytest.mark.parametrize("items", ["spell"], indirect=True)
def test_spells_are_those_of_the_figures(items: dict[str, dict[str, Any]]) -> None:
    figures = believed("spells")
    assert set(items) == set(figures)
    for id_, cells in figures.items():
        spell = items[id_]
        assert spell["level"] == cells["level"], id_
        assert spell["school"] == cells["school"], id_
        assert spell["ritual"] == cells["ritual"], id_
        assert spell["concentration"] == cells["concentration"], id_
        assert sorted(spell["components"]) == sorted(cells["components"]), id_
        assert sorted(spell["classes"]) == sorted(cells["classes"]), id_


@pytest.mark.parametrize("items", ["creature"], indirect=True)
def test_creatures_are_those_of_the_figures(items: dict[str, dict[str, Any]]) -> None:
    compared = 0
    by_name = {slug(item["name"]): item for item in items.values()}
    for id_, cells in believed("creatures").items():
        creature = items.get(id_) or by_name.get(id_)
        if creature is None:
            continue
        compared += 1
        assert creature["hp"] == cells["hit_points"], id_
        assert Fraction(creature["challenge"]) == Fraction(cells["challenge"]), id_
        assert creature["xp"] == cells["xp"], id_
        scores = [cells[f"scores.{place}"] for place in range(1, 7)]
        assert list(creature["scores"].values()) == scores, id_
        assert creature["magic_resistance"] == cells["magic_resistance"], id_
        assert creature["legendary_resistance"] == cells["legendary_resistance"], id_
    assert compared > 300


@pytest.mark.parametrize("items", ["item"], indirect=True)
def test_weapons_and_armor_are_those_of_the_figures(items: dict[str, dict[str, Any]]) -> None:
    by_name = {frozenset(slug(item["name"]).split("-")): item for item in items.values()}
    weapons = believed("weapons")
    assert len(weapons) == 37
    for id_, cells in weapons.items():
        item = items.get(id_) or by_name[frozenset(slug(cells.get("name", id_)).split("-"))]
        assert item["weapon"]["group"] == cells["category"], id_
        assert item["weapon"]["reach"] == cells["style"], id_
        assert item["cost_cp"] == cells["cost_cp"], id_
        assert (item["weight"] or 0) == cells["weight"], id_
        assert (item["weapon"]["die"] or None) == cells["dice"], id_
        assert item["weapon"]["versatile"] == cells["versatile"], id_
    for id_, cells in believed("armor").items():
        item = items.get(id_) or items[f"{id_}-armor"]
        assert item["armor"]["ac"] == cells["armor_class"], id_
        assert item["cost_cp"] == cells["cost_cp"], id_
        assert item["weight"] == cells["weight"], id_
        assert item["armor"]["stealth_disadvantage"] == cells["stealth_disadvantage"], id_


@pytest.mark.parametrize("items", ["class"], indirect=True)
def test_class_tables_are_those_of_the_figures(items: dict[str, dict[str, Any]]) -> None:
    columns = {
        "barbarian": ("rages", "rage_damage"),
        "bard": ("cantrips", "spells_known"),
        "monk": ("unarmored_movement",),
        "warlock": ("cantrips", "spells_known"),
        "sorcerer": ("sorcery_points", "cantrips", "spells_known"),
    }
    figures = believed("levels")
    compared = 0
    for class_id in CLASSES:
        tables = items[class_id]["tables"]
        assert all(len(column) == 20 for column in tables.values())
        for level in range(1, 21):
            cells = figures[f"{class_id}-{level}"]
            for name in columns.get(class_id, ()):
                if name in cells:
                    assert (tables[name][level - 1] or 0) == cells[name], (class_id, level, name)
                    compared += 1
            for slot in range(1, 10):
                if f"slots.{slot}" in cells and f"slots_{slot}" in tables:
                    assert (tables[f"slots_{slot}"][level - 1] or 0) == cells[f"slots.{slot}"], (class_id, level, slot)
                    compared += 1
    assert compared > 1000
    basics = believed("classes")
    for class_id in CLASSES:
        assert items[class_id]["hit_die"] == basics[class_id]["hit_die"]
        assert sorted(items[class_id]["saves"]) == sorted(basics[class_id]["saves"])


@pytest.mark.parametrize("items", ["subclass"], indirect=True)
def test_subclass_features_come_at_the_levels_of_the_figures(items: dict[str, dict[str, Any]]) -> None:
    given = {
        (item["of"], slug(feature["name"])): feature["level"] for item in items.values() for feature in item["features"]
    }
    compared = 0
    for id_, cells in believed("subclass-features").items():
        name = id_.removeprefix(f"{cells['subclass']}-")
        if (cells["class"], name) in given:
            assert given[cells["class"], name] == cells["level"], id_
            compared += 1
    assert compared > 40


def test_a_feature_of_several_owners_names_them(capsys: CapSys) -> None:
    """SRD 5.1, Classes: five classes have Extra Attack."""
    one = told(capsys, "feature", "Extra Attack")
    assert one["owner"] == {"kind": "class", "id": "barbarian", "name": "Barbarian"}
    assert [o["owner"]["name"] for o in one["others"]] == ["Fighter", "Monk", "Paladin", "Ranger"]
    assert told(capsys, "feature", "Ranger/Extra Attack")["source"] == "SRD 5.1, Classes, Ranger, Extra Attack"
    assert read(capsys, "feature", "Extra Attack")[-1] == "Of the same name: SRD 5.1, Classes, Ranger, Extra Attack"


def test_people_read_lines(capsys: CapSys) -> None:
    """SRD 5.1, Spell Descriptions, Fireball; Classes, Monk (table, level 11); Monsters, Ogre."""
    assert read(capsys, "spell", "FIREBALL") == [
        "Fireball · spell",
        "3rd-level evocation",
        "  casting time: 1 action",
        "  range: 150 feet",
        "  area: sphere of 20 feet",
        "  components: V, S, M",
        "  duration: instantaneous",
        "  save: Dexterity, half on a success",
        "  damage: 8d6 fire",
        "  more: 1d6 more for each slot level from 4th on",
        "  lists: Sorcerer, Wizard",
        "",
        "SRD 5.1, Spellcasting, Spell Descriptions, Fireball",
    ]
    monk = read(capsys, "class", "monk")
    assert "  hit points: 8 at level 1, then 5 or 1d8, each with the Constitution modifier" in monk
    assert next(line for line in monk if line.startswith("11 ")).split() == ["11", "+4", "1d8", "11", "20"]
    ogre = read(capsys, "creature", "Ogre")
    assert ogre[1] == "large giant, challenge 2 (450 XP)"
    assert "  hit points: 59 (7d10+21)" in ogre
    listed = read(capsys, "condition")
    assert len(listed) == 15
    assert "Blinded" in listed
    assert "Extra Attack (Ranger)" in read(capsys, "feature")


@pytest.mark.parametrize("kind", KINDS)
def test_everything_of_a_kind_can_be_read(capsys: CapSys, kind: str) -> None:
    """No name, however it is printed, leads to an error or to raw data."""
    names = list(dict.fromkeys(item["name"] for item in told(capsys, kind)["items"]))
    for name in names[:: max(1, len(names) // 40)]:
        text = "\n".join(read(capsys, kind, name))
        assert text.startswith(f"{name} · ")
        assert not any(raw in text for raw in ("{", "None", "Formula", "['"))


def test_bad_input(capsys: CapSys) -> None:
    assert "nearest: Fireball" in refused(capsys, "spell", "Firebal")
    assert "expected one of class, subclass" in refused(capsys, "spel")
    assert "srd-9" in refused(capsys, "spell", "--rules", "srd-9")
    assert "folio.yaml" in refused(capsys, "spell", "--folio", "/nowhere/at/all")
