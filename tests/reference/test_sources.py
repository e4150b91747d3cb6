"""The two sets of SRD 5.1 figures against each other: their differences are exactly the listed ones.

`known-differences.json` holds what the reference NOTES list (sections A, B, D), `found-differences.json` what we
found beyond them; both were written by hand, with the side to believe. The committed figure files are checked in
place; where the reference folder exists the two scripts run again and must give the same bytes.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest

from tests.reference import from_data, from_text
from tests.reference.compare import Difference, compare, structure_gaps
from tests.reference.figures import CLASSES, DATA_FOLDER, HERE, TEXT_FOLDER, Record, read, reference_folder, render

KNOWN: dict[str, Any] = json.loads((HERE / "known-differences.json").read_text(encoding="utf-8"))
FOUND: dict[str, Any] = json.loads((HERE / "found-differences.json").read_text(encoding="utf-8"))
CHECKSUMS: dict[str, str] = json.loads((HERE / "checksums.json").read_text(encoding="utf-8"))
FOLDERS = {"srd-5.1-text": (TEXT_FOLDER, from_text), "srd-5.1-data": (DATA_FOLDER, from_data)}

# SRD 5.1, Monsters, Challenge: experience points by challenge rating (0 is 0 or 10).
EXPERIENCE = {
    0.125: 25, 0.25: 50, 0.5: 100, 1: 200, 2: 450, 3: 700, 4: 1100, 5: 1800, 6: 2300, 7: 2900, 8: 3900, 9: 5000,
    10: 5900, 11: 7200, 12: 8400, 13: 10000, 14: 11500, 15: 13000, 16: 15000, 17: 18000, 18: 20000, 19: 22000,
    20: 25000, 21: 33000, 22: 41000, 23: 50000, 24: 62000, 30: 155000,
}  # fmt: skip


def text(name: str) -> dict[str, Record]:
    """Records of one text figure file."""
    return read(TEXT_FOLDER / f"{name}.json")[1]


def data(name: str) -> dict[str, Record]:
    """Records of one data figure file."""
    return read(DATA_FOLDER / f"{name}.json")[1]


def all_differences() -> tuple[int, list[Difference]]:
    """Cells compared and differences, over every file that both sides have."""
    cells, found = 0, []
    for path in sorted(DATA_FOLDER.glob("*.json")):
        count, differences = compare(path.stem, text(path.stem), data(path.stem))
        cells += count
        found += differences
    return cells, found


def by_key(rows: Iterable[dict[str, Any]]) -> dict[str, tuple[Any, Any]]:
    """The two values of each listed difference by file, id and field; listing one twice is an error."""
    listed: dict[str, tuple[Any, Any]] = {}
    for row in rows:
        key = f"{row['file']} {row['id']} {row['field']}"
        assert key not in listed, f"{key} is listed twice"
        assert row["right"] in ("text", "data")
        listed[key] = (row["text"], row["data"])
    return listed


def test_differences_are_exactly_the_listed_ones() -> None:
    cells, differences = all_differences()
    seen = {each.key(): (each.text, each.data) for each in differences}
    listed = by_key([*KNOWN["differences"], *FOUND["differences"]])
    unexplained = sorted(key for key in seen if key not in listed or seen[key] != listed[key])
    print(
        f"cells compared: {cells}, disagreements: {len(seen)} "
        f"({len(KNOWN['differences'])} in the NOTES, {len(FOUND['differences'])} found beyond them), "
        f"unexplained: {len(unexplained)}"
    )
    assert unexplained == []
    assert sorted(listed.keys() - seen.keys()) == [], "listed, but the files agree there"
    assert cells > 20_000


def test_both_sides_have_the_same_files() -> None:
    only_text = {"advancement", "multiclass-slots", "prices"}  # the data set has no such tables
    names = {folder: {path.stem for path in folder.glob("*.json")} for folder in (TEXT_FOLDER, DATA_FOLDER)}
    assert names[TEXT_FOLDER] - names[DATA_FOLDER] == only_text
    assert names[DATA_FOLDER] <= names[TEXT_FOLDER]


def test_every_number_of_the_notes_is_accounted_for() -> None:
    lists = ("differences", "facts_of_one_side", "no_figure_or_read_over")
    numbers = set(re.findall(r"\bA\d+\b", " ".join(row["notes"] for each in lists for row in KNOWN[each])))
    assert numbers == {f"A{n}" for n in range(1, 19)}
    sections = {row["notes"] for each in lists for row in KNOWN[each] if row["notes"].startswith("D ")}
    subjects = {"levels", "features", "subclasses", "spells", "equipment", "classes", "magic-items", "monsters"}
    assert {section.split()[1].strip(",") for section in sections} >= subjects


def test_the_fifteen_spells_that_the_text_lacks() -> None:
    """Reference NOTES, section B: every column of its table against the data set."""
    spells = data("spells")
    missing = {row["id"]: row for row in KNOWN["spells_missing_from_the_text"]}
    assert missing.keys() == spells.keys() - text("spells").keys()
    assert len(missing) == 15
    for identity, row in missing.items():
        assert {field: spells[identity][field] for field in row} == row


def test_facts_that_only_the_data_set_states() -> None:
    for row in KNOWN["facts_of_one_side"]:
        record = data(row["file"])[row["id"]]
        value = len(record["spells"]) if row["field"] == "count" else record[row["field"]]
        assert value == row["data"], row


def test_spell_fields_of_the_data_set_against_its_descriptions() -> None:
    listed = {(row["id"], row["fact"]) for row in FOUND["spell_fields_of_the_data_set"]}
    assert len(listed) == len(FOUND["spell_fields_of_the_data_set"])
    assert {(identity, fact) for identity, spell in data("spells").items() for fact in structure_gaps(spell)} == listed


@pytest.mark.parametrize("name", sorted(FOLDERS))
def test_committed_files_are_whole(name: str) -> None:
    folder, script = FOLDERS[name]
    written: dict[str, str] = {}
    for path in sorted(folder.glob("*.json")):
        header, records = read(path)
        content = path.read_text(encoding="utf-8")
        assert render(header, list(records.values())) == content, "one record a line, in order of id"
        assert header["records"] == len(records)
        assert header["source"] == script.SOURCE
        assert CHECKSUMS[f"{name}/{path.name}"] == hashlib.sha256(content.encode()).hexdigest()
        written[path.name] = content
    assert {key.partition("/")[2] for key in CHECKSUMS if key.startswith(name)} == written.keys()
    reference = reference_folder()
    if reference.is_dir():
        assert script.figures(reference) == written


def test_counts_of_the_text() -> None:
    """What the reference NOTES call sound: tables, stat blocks, items (lycanthropes count once for each form)."""
    counts = {path.stem: len(text(path.stem)) for path in TEXT_FOLDER.glob("*.json")}
    assert counts["levels"] == 240
    assert counts["advancement"] == counts["multiclass-slots"] == 20
    assert counts["multiclass"] == counts["classes"] == 12
    assert counts["spells"] == 304
    assert counts["creatures"] == 317 + 5 * 2
    assert counts["magic-items"] == 240
    assert (counts["weapons"], counts["armor"]) == (37, 13)


def test_full_casters_use_the_multiclass_slot_table() -> None:
    """SRD 5.1, Multiclassing, Spell Slots."""
    table = {int(identity): record["slots"] for identity, record in text("multiclass-slots").items()}
    for record in text("levels").values():
        if record["class"] in ("bard", "cleric", "druid", "sorcerer", "wizard"):
            assert record["slots"] == table[record["level"]], record["id"]


def test_proficiency_bonus_of_the_class_tables_is_that_of_the_advancement_table() -> None:
    advancement = text("advancement")
    for side in (text("levels"), data("levels")):
        assert {record["class"] for record in side.values()} == set(CLASSES)
        for record in side.values():
            assert record["proficiency_bonus"] == advancement[f"{record['level']:02}"]["proficiency_bonus"]


def test_hit_points_and_experience_of_the_stat_blocks() -> None:
    """Average of the dice, Constitution's share and experience by rating: in the text only A13 fails."""
    odd = set()
    for identity, record in text("creatures").items():
        many, die = (int(part) for part in record["hit_dice"].split("d"))
        share = many * ((record["scores"][2] - 10) // 2)
        average = max(many * (die + 1) // 2 + share, 1)
        expected = {0, 10} if record["challenge"] == 0 else {EXPERIENCE[record["challenge"]]}
        if (record["hit_points"], record["hit_point_bonus"]) != (average, share) or record["xp"] not in expected:
            odd.add(identity)
    assert odd == {"horned-devil"}


def corrected(record: Record, file: str, side: str, other: str) -> Record:
    """A record of one side with every cell replaced that the lists give to the other side."""
    mended = json.loads(json.dumps(record))
    for row in [*KNOWN["differences"], *FOUND["differences"]]:
        if (row["file"], row["id"], row["right"]) != (file, record["id"], other) or row["field"] == "record":
            continue
        field, _, key = row["field"].partition(".")
        if not key:
            mended[field] = row[other]
        elif row[other] == "absent":
            mended[field].pop(key)
        else:
            mended[field][key] = row[other]
    assert side != other
    return dict(mended)


def test_saves_skills_and_senses_add_up_once_corrected() -> None:
    """The side given as right in both lists is the one whose figures follow from the creature's scores and rating.

    SRD 5.1, Monsters: proficiency bonus by challenge rating; a save adds it once, a skill once or twice;
    passive Perception is 10 plus the Perception bonus.
    """
    records = text("creatures")
    for record in records.values():
        mended = corrected(record, "creatures", "text", "data")
        rating = mended["challenge"]
        bonus = max(2, 2 + int((rating - 1) // 4))
        modifier = {
            name: (score - 10) // 2
            for name, score in zip(("str", "dex", "con", "int", "wis", "cha"), mended["scores"], strict=True)
        }
        for ability, total in mended["saves"].items():
            assert total == modifier[ability] + bonus, (record["id"], ability)
        perception = mended["skills"].get("perception", modifier["wis"])
        assert mended["senses"]["passive_perception"] == 10 + perception, record["id"]
        if "stealth" in mended["skills"] and record["id"] in ("giant-crocodile", "giant-constrictor-snake"):
            assert mended["skills"]["stealth"] == modifier["dex"] + 2 * bonus


def test_nothing_of_the_project_is_imported() -> None:
    """Design, section 11: second sources for facts import nothing of the engine."""
    for path in sorted(Path(__file__).parent.glob("*.py")):
        names = re.findall(r"^\s*(?:from|import) ([\w.]+)", path.read_text(encoding="utf-8"), flags=re.M)
        assert not [name for name in names if name.split(".")[0] in ("bot", "engine", "migrations")], path.name
