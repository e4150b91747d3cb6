"""The whole folio srd-5.1 against both sets of figures: the rules text's and the open data set's.

Every cell of every figure file is compared (tests/reference; sources named there). Where folio and a source disagree,
a list must say that the other source is right: `known-differences.json` (reference NOTES) and `found-differences.json`.
Nothing else may disagree but the readings of spell descriptions listed here, each with its reason.
"""

import json
from collections import Counter
from functools import cache
from typing import Any, Final

import pytest

from engine.rules.content import ChoiceList, Item, Spell
from engine.rules.content.creature import Creature
from tests.engine.rules.folio_figures import CATALOG, FILES, Row
from tests.reference.figures import DATA_FOLDER, HERE, TEXT_FOLDER, read

FOLDERS: Final = {"text": TEXT_FOLDER, "data": DATA_FOLDER}
TARGET: Final = "a save of the target's own that the spell makes better, none against the spell"
LATER: Final = "a save to end what is there already, none to begin with"
READINGS: Final[dict[tuple[str, str], str]] = {
    ("beacon-of-hope", "prose.saves"): TARGET,
    ("gaseous-form", "prose.saves"): TARGET,
    ("haste", "prose.saves"): TARGET,
    ("heroes-feast", "prose.saves"): TARGET,
    ("contact-other-plane", "prose.saves"): "the caster's own save",
    ("forcecage", "prose.saves"): "a save to leave by magic, none to begin with",
    ("irresistible-dance", "prose.saves"): LATER,
    ("power-word-stun", "prose.saves"): LATER,
    ("faithful-hound", "prose.attacks"): "the hound attacks with the caster's bonus; not worded as a spell attack",
    ("earthquake", "prose.half"): "half damage from falling buildings only",
    ("prismatic-wall", "prose.half"): "half damage of some layers only",
    ("ray-of-enfeeblement", "prose.half"): "the target's own weapon damage is halved",
    ("storm-of-vengeance", "prose.half"): "half damage in one of its rounds only",
    ("alter-self", "prose.damage"): "three types to choose from, the dice in another sentence",
    ("arcane-hand", "prose.damage"): "the grasping hand's damage, worded with the modifier",
    ("delayed-blast-fireball", "prose.damage"): "the dice and the type stand in two sentences",
    ("earthquake", "prose.damage"): "a flat 50 to structures, no dice",
    ("forbiddance", "prose.damage"): "two types to choose from",
    ("glyph-of-warding", "prose.damage"): "five types to choose from",
    ("guardian-of-faith", "prose.damage"): "a flat 20, no dice",
    ("meld-into-stone", "prose.damage"): "a flat 50 where the stone is destroyed",
    ("spiritual-weapon", "prose.damage"): "the type and the dice stand in two sentences",
    ("spiritual-weapon", "prose.higher"): "one die for every two slot levels above 2nd: the first comes with a 4th",
    ("counterspell", "time"): "the data set leaves triggers of reactions out (reference NOTES, D)",
    ("hellish-rebuke", "time"): "the data set leaves triggers of reactions out (reference NOTES, D)",
}
# Listed differences that cannot show here, with the reason.
WITHOUT_A_CELL: Final[dict[tuple[str, str], str]] = {
    ("magic-items", "which"): "the folio names the bases of an enchantment one by one",
    ("spells", "prose.higher"): "the first step is the same; what the data set leaves out comes later",
    ("equipment", "record"): "pieces of packs, which the folio has without a price",
    ("subclass-spell-lists", "*"): "the spells of subclass-spells again, from an unreliable field; no file of its own",
}


@cache
def listed() -> dict[tuple[str, str, str], str]:
    """(file, id, field) of each listed difference -> the source that is right."""
    rows: list[dict[str, Any]] = []
    for name in ("known-differences.json", "found-differences.json"):
        rows += json.loads((HERE / name).read_text(encoding="utf-8"))["differences"]
    return {(row["file"], row["id"], row["field"]): row["right"] for row in rows}


@cache
def compared(source: str) -> dict[str, tuple[Row, ...]]:
    """Every cell of a source beside the folio's, by figure file."""
    found = {}
    for file, rows in FILES.items():
        path = FOLDERS[source] / f"{file}.json"
        if path.exists():
            found[file] = tuple(rows(read(path)[1]))
    return found


def explained(source: str, file: str, row: Row) -> bool:
    """Whether a list says that the other source is right, or the reading of a spell is listed."""
    id_, field = row[0], row[1]
    if file == "spells" and (id_, field) in READINGS:
        return True
    return listed().get((file, id_, field), source) != source


@pytest.mark.parametrize("source", FOLDERS)
def test_every_cell_of_every_file(source: str) -> None:
    cells, disagreements, unexplained = 0, 0, []
    for file, rows in compared(source).items():
        wrong = [row for row in rows if row[2] != row[3]]
        left = [(file, *row) for row in wrong if not explained(source, file, row)]
        print(f"{source}, {file}: {len(rows)} cells, {len(wrong)} disagreements, {len(left)} unexplained")
        cells += len(rows)
        disagreements += len(wrong)
        unexplained += left
    print(f"{source}: {cells} cells compared, {disagreements} disagreements, {len(unexplained)} unexplained")
    assert unexplained == []
    assert cells > 20_000


@pytest.mark.parametrize("source", FOLDERS)
def test_the_folio_follows_the_side_that_is_right(source: str) -> None:
    """Each listed fault of a source is one in which the folio differs from it, so none was copied."""
    seen = {(file, row[0], row[1]) for file, rows in compared(source).items() for row in rows if row[2] != row[3]}
    faults = {key for key, right in listed().items() if right != source}
    unseen = {key for key in faults - seen if (key[0], key[2]) not in WITHOUT_A_CELL}
    assert {key for key in unseen if (key[0], "*") not in WITHOUT_A_CELL} == set()
    print(f"{source}: {len(faults & seen)} listed faults of this source, none of them in the folio")
    assert len(faults & seen) >= (35 if source == "text" else 60)


def test_every_reading_is_needed() -> None:
    wrong = {
        (row[0], row[1])
        for source in FOLDERS
        for row in compared(source)["spells"]
        if row[2] != row[3] and listed().get(("spells", row[0], row[1]), source) == source
    }
    assert wrong == set(READINGS)


def test_every_file_of_the_figures_is_compared() -> None:
    files = {path.stem for folder in FOLDERS.values() for path in folder.glob("*.json")}
    assert files - set(FILES) == {"subclass-spell-lists"}
    for source, folder in FOLDERS.items():
        for path in folder.glob("*.json"):
            if path.stem in FILES:
                _, records = read(path)
                rows = compared(source)[path.stem]
                assert len(rows) >= len(records), path


def test_a_wrong_figure_is_found() -> None:
    """The comparison is no formality: one cell changed in the figures is one more disagreement."""
    _, records = read(TEXT_FOLDER / "weapons.json")
    before = sum(1 for row in FILES["weapons"](records) if row[2] != row[3])
    changed = {**records, "mace": {**records["mace"], "dice": "1d8"}}
    wrong = [row for row in FILES["weapons"](changed) if row[2] != row[3]]
    assert len(wrong) == before + 1
    assert ("mace", "dice", "1d8", "1d6") in wrong
    _, levels = read(TEXT_FOLDER / "levels.json")
    row = {**levels["bard-5"], "cantrips": 9}
    assert ("bard-5", "cantrips", 9, 3) in [r for r in FILES["levels"]({**levels, "bard-5": row}) if r[2] != r[3]]


def test_full_counts() -> None:
    # SRD 5.1 counted: reference NOTES, under "Sound" and B; spells 304 + 15, magic items 240 printed (the tables of
    # some are several items each), 317 stat blocks (lycanthropes once for each form) and seven variants.
    entries: Counter[str] = Counter()
    for kind in ("class", "subclass", "species", "background", "feat", "spell", "creature", "condition"):
        entries[kind] = sum(1 for _ in CATALOG.every(kind))
    assert entries == {
        "class": 12,
        "subclass": 12,
        "species": 13,
        "background": 1,
        "feat": 1,
        "spell": 319,
        "creature": 334,
        "condition": 15,
    }
    things = [n.entry for n in CATALOG.every("item") if isinstance(n.entry, Item)]
    mundane = Counter(thing.category for thing in things if thing.magic is None)
    assert (mundane["weapon"], mundane["armor"], mundane["pack"]) == (37, 13, 7)
    spells = [n.entry for n in CATALOG.every("spell") if isinstance(n.entry, Spell)]
    # SRD 5.1, Spell Lists, and reference NOTES, B (seven cantrips among the fifteen): 24 cantrips.
    assert sum(1 for spell in spells if spell.level == 0) == 24
    blocks = [n.entry for n in CATALOG.every("creature") if isinstance(n.entry, Creature)]
    assert len({block.id for block in blocks}) == len(blocks)
    lists = [n.entry for n in CATALOG.every("choice-list") if isinstance(n.entry, ChoiceList)]
    options = {each.id: len(each.options) for each in lists}
    # SRD 5.1, Classes: invocations, metamagic, boons, ancestors, styles; Ranger, Favored Enemy and Terrain, Hunter.
    assert options["eldritch-invocations"] == 32
    assert options["metamagic"] == 8
    assert options["pact-boons"] == 3
    assert options["dragon-ancestors"] == 10
    assert options["fighting-styles"] == 6
