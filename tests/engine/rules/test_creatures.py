"""The stat lines of folio srd-5.1 against two sources of figures.

Source: SRD 5.1, Monsters, Appendix MM-A and Appendix MM-B, as read by tests/reference/text_creatures.py, and the open
data set; where they differ, the side that tests/reference says is right.
"""

from typing import Any

import pytest

from engine.rules.catalog import Catalog
from engine.rules.content import Creature
from engine.rules.words import ABILITIES
from engine.store.folio_files import load_shipped
from tests.engine.rules.believed import believed

CATALOG = Catalog([load_shipped("srd-5.1")])
CREATURES = believed("creatures")
OWN_IDS = {"elf-drow": "drow", "gnome-deep-svirfneblin": "deep-gnome"}
CHALLENGES = {0.125: "1/8", 0.25: "1/4", 0.5: "1/2"}
# SRD 5.1, Monsters, Experience Points by Challenge Rating (challenge 0 is 0 or 10).
XP = {
    "0": 10, "1/8": 25, "1/4": 50, "1/2": 100, "1": 200, "2": 450, "3": 700, "4": 1100, "5": 1800, "6": 2300,
    "7": 2900, "8": 3900, "9": 5000, "10": 5900, "11": 7200, "12": 8400, "13": 10000, "14": 11500, "15": 13000,
    "16": 15000, "17": 18000, "18": 20000, "19": 22000, "20": 25000, "21": 33000, "22": 41000, "23": 50000,
    "24": 62000, "25": 75000, "26": 90000, "27": 105000, "28": 120000, "29": 135000, "30": 155000,
}  # fmt: skip


def creature(id_: str) -> Creature:
    found = CATALOG.creature(OWN_IDS.get(id_, id_))
    assert found is not None, id_
    return found


def group(cells: dict[str, Any], name: str) -> dict[str, Any]:
    return {key.partition(".")[2]: value for key, value in cells.items() if key.startswith(f"{name}.")}


def test_every_creature_is_there_and_no_other() -> None:
    assert {OWN_IDS.get(id_, id_) for id_ in CREATURES} == {named.id for named in CATALOG.every("creature")}


@pytest.mark.parametrize("id_", sorted(CREATURES))
def test_stat_line(id_: str) -> None:
    one, cells = creature(id_), CREATURES[id_]
    assert one.size == cells["size"]
    assert cells["type"] in (one.type, f"swarm of tiny {one.type}s")
    assert ("swarm" in one.tags) == ("swarm" in cells["type"])
    assert one.alignment == cells["alignment"]
    assert one.ac == cells["armor_class"]
    assert one.hp == cells["hit_points"]
    bonus = cells["hit_point_bonus"]
    assert one.hp_dice == cells["hit_dice"] + (f"{bonus:+d}" if bonus else "")
    assert one.speeds == group(cells, "speed")
    assert one.hover == cells["hover"]
    assert one.scores == {a: cells[f"scores.{n}"] for n, a in enumerate(ABILITIES, 1)}
    assert one.saves == group(cells, "saves")
    assert one.skills == group(cells, "skills")
    senses = group(cells, "senses")
    assert one.passive_perception == senses.pop("passive_perception")
    assert one.senses == senses
    for field in ("resistances", "immunities", "vulnerabilities", "condition_immunities"):
        assert sorted(getattr(one, field)) == sorted(cells[field]), field
    assert one.challenge == CHALLENGES.get(cells["challenge"], str(cells["challenge"]))
    assert one.xp == cells["xp"]
    assert one.magic_resistance == cells["magic_resistance"]
    assert one.legendary_resistance == cells["legendary_resistance"]


@pytest.mark.parametrize("id_", sorted(CREATURES))
def test_figures_agree_with_each_other(id_: str) -> None:
    # SRD 5.1, Monsters: hit points are the mean of their dice, Constitution adds once a die, experience goes by
    # challenge rating.
    one = creature(id_)
    dice, _, rest = one.hp_dice.partition("d")
    sides, sign, bonus = rest.partition("+") if "+" in rest else rest.partition("-")
    added = int(bonus or 0) * (-1 if sign == "-" else 1)
    assert one.hp == max(1, int(dice) * (int(sides) + 1) // 2 + added)
    assert added == int(dice) * ((one.scores["con"] - 10) // 2)
    assert one.xp == XP[one.challenge] or (one.challenge, one.xp) == ("0", 0)


def test_other_forms_belong_to_a_creature() -> None:
    for named in CATALOG.every("creature"):
        assert isinstance(named.entry, Creature)
        if named.entry.form_of is not None:
            assert CATALOG.creature(named.entry.form_of) is not None


def test_types_are_those_of_the_release() -> None:
    known = {named.id for named in CATALOG.every("creature-type")}
    used = {named.entry.type for named in CATALOG.every("creature") if isinstance(named.entry, Creature)}
    assert used == known


def test_lycanthropes_are_found_by_their_own_name() -> None:
    assert [named.id for named in CATALOG.find("creature", "Werewolves")] == ["werewolf-human"]
