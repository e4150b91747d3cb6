"""The spells of folio srd-5.1 against two sources of figures.

Source: SRD 5.1, Spellcasting, Spell Lists and Spell Descriptions, as read by tests/reference/text_spells.py, and the
open data set, as read by tests/reference/data_spells.py; where they differ, the side that tests/reference says is
right. Fifteen spells stand in the data set alone (reference NOTES, B).
"""

import json
import re
from collections import Counter

import pytest

from engine.rules.catalog import Catalog
from engine.rules.content import Spell
from engine.store.folio_files import load_shipped
from tests.engine.rules.believed import believed, data_set
from tests.reference.figures import HERE

CATALOG = Catalog([load_shipped("srd-5.1")])
SPELLS: dict[str, Spell] = {n.id: n.entry for n in CATALOG.every("spell") if isinstance(n.entry, Spell)}
FIGURES = believed("spells")
# What the data set's own fields leave out or word otherwise than its descriptions (tests/reference).
GAPS = {
    (row["id"], row["fact"])
    for row in json.loads((HERE / "found-differences.json").read_text())["spell_fields_of_the_data_set"]
}
# Pieces of one price that are printed with their number. SRD 5.1, Legend Lore (250 gp and four of 50 gp each),
# Magnificent Mansion (three of 5 gp each),
# Warding Bond (a pair of rings of 50 gp each).
SEVERAL = {"legend-lore": (450,), "magnificent-mansion": (15,), "warding-bond": (100,)}
# Spells whose data-set fields hold something else than damage: hit points affected.
NO_DAMAGE = {"sleep", "color-spray"}


def test_every_spell_is_there_and_no_other() -> None:
    assert len(SPELLS) == 319
    assert set(SPELLS) == set(FIGURES)


def test_the_table_of_levels() -> None:
    # SRD 5.1, Spell Lists, counted by level; the fifteen missing from the text copy counted in.
    counted = Counter(cells["level"] for cells in FIGURES.values())
    assert Counter(spell.level for spell in SPELLS.values()) == counted


@pytest.mark.parametrize("id_", sorted(FIGURES))
def test_facts_of_a_spell(id_: str) -> None:
    spell, cells = SPELLS[id_], FIGURES[id_]
    assert spell.name.casefold() == cells["name"]
    assert spell.level == cells["level"]
    assert spell.school == cells["school"]
    assert spell.ritual == cells["ritual"]
    assert spell.casting_time == cells["time"].removesuffix(", trigger")
    assert spell.range == cells["range"]
    assert list(spell.components) == cells["components"]
    assert spell.duration.replace("1 day", "24 hours") == cells["duration"]
    assert spell.concentration == cells["concentration"]
    assert sorted(spell.classes) == cells["classes"]
    assert spell.consumed == cells["consumed"]
    assert (spell.cost_gp is None) == (not cells["costs"])
    assert spell.summary is None or "reaction" not in spell.casting_time or "when" in spell.summary


@pytest.mark.parametrize("id_", sorted(id_ for id_, cells in FIGURES.items() if cells["costs"]))
def test_price_of_the_material(id_: str) -> None:
    # Several pieces may be printed, some of them alternatives: what is written is one of them or all together.
    costs = FIGURES[id_]["costs"]
    assert SPELLS[id_].cost_gp in {*costs, sum(costs), *SEVERAL.get(id_, ())}


def dice_at(spell: Spell, level: int) -> Counter[int]:
    """The damage dice dealt together at a slot level or character level: sides -> how many (1 for flat points).

    Where every part comes under its own condition (a smite), the first part's dice.
    """
    by = "character-level" if spell.level == 0 else "slot"
    parts = [part for part in spell.damage if part.note is None] or list(spell.damage[:1])
    note = parts[0].note if parts else None
    dice = together(*(part.dice for part in parts))
    for step in spell.scaling:
        if step.by != by or step.dice is None or step.note != note or level < step.from_:
            continue
        if by == "character-level":
            dice = together(step.dice)
        else:
            for _ in range((level - step.from_) // step.every + 1):
                dice += together(step.dice)
    return dice


def together(*texts: str) -> Counter[int]:
    found: Counter[int] = Counter()
    for text in texts:
        for number, sides in re.findall(r"(\d+)(?:d(\d+))?", text.replace("MOD", "")):
            found[int(sides or 1)] += int(number)
    return found


@pytest.mark.parametrize("id_", sorted(i for i, r in data_set("spells").items() if r.get("damage_at_slot_level")))
def test_damage_at_every_slot(id_: str) -> None:
    # Source of the figures: the data set's field damage_at_slot_level (level -> dice).
    spell = SPELLS[id_]
    if id_ in NO_DAMAGE:
        assert not spell.damage
        return
    for level, dice in data_set("spells")[id_]["damage_at_slot_level"].items():
        expected = together(dice)
        if id_ == "magic-missile":
            # Three darts stand there as one sum; one dart is added for each slot level.
            darts = spell.beams + sum(s.count or 0 for s in spell.scaling) * (int(level) - 1)
            assert Counter({k: n * darts for k, n in dice_at(spell, int(level)).items()}) == expected
        elif id_ == "scorching-ray":
            assert dice_at(spell, int(level)) == together("2d6")
        else:
            assert dice_at(spell, int(level)) == expected, level


@pytest.mark.parametrize("id_", sorted(i for i, r in data_set("spells").items() if r.get("damage_at_character_level")))
def test_damage_of_cantrips(id_: str) -> None:
    spell = SPELLS[id_]
    for level, dice in data_set("spells")[id_]["damage_at_character_level"].items():
        assert dice_at(spell, int(level)) == together(dice), level


def test_eldritch_blast_has_more_beams_and_never_more_dice() -> None:
    # Reference NOTES, D: beams 1/2/3/4 at 1/5/11/17, each 1d10.
    spell = SPELLS["eldritch-blast"]
    assert [(s.from_, s.count) for s in spell.scaling] == [(5, 2), (11, 3), (17, 4)]
    assert [part.dice for part in spell.damage] == ["1d10"]


@pytest.mark.parametrize("id_", sorted(SPELLS))
def test_attack_save_and_what_a_success_leaves(id_: str) -> None:
    # Source: the data set's fields, where its description and its fields say the same.
    spell, record = SPELLS[id_], data_set("spells")[id_]
    if (id_, "attack") not in GAPS:
        assert spell.attack == record.get("attack")
    if (id_, "save") not in GAPS and id_ not in OTHER_SAVES:
        assert spell.save == record.get("save")
    if (id_, "half") not in GAPS and spell.save is not None and id_ not in OTHER_SAVES:
        assert (spell.on_save == "half") == (record.get("on_success") == "half")
    assert (spell.save is None) == (spell.on_save is None)


# Saves that are none of a target's against the spell: SRD 5.1, Contact Other Plane (the caster, DC 15).
OTHER_SAVES = {"contact-other-plane"}


@pytest.mark.parametrize("id_", ["cure-wounds", "healing-word", "mass-cure-wounds", "mass-healing-word",
                                 "prayer-of-healing", "heal", "mass-heal", "regenerate"])  # fmt: skip
def test_healing_at_every_slot(id_: str) -> None:
    # Source of the figures: the data set's field healing_at_slot_level.
    spell = SPELLS[id_]
    assert spell.healing is not None
    for level, dice in data_set("spells")[id_]["healing_at_slot_level"].items():
        healed = together(spell.healing)
        for step in spell.scaling:
            for _ in range(max(0, int(level) - step.from_ + 1)):
                healed += together(step.dice or "")
        assert healed == together(dice), level
        assert ("MOD" in spell.healing) == ("MOD" in dice)


def test_damage_types_are_those_of_the_release() -> None:
    known = {named.id for named in CATALOG.every("damage-type")}
    for spell in SPELLS.values():
        for part in spell.damage:
            assert part.type is None or part.type in known, spell.id
            assert set(part.types) <= known, spell.id


def test_spell_lists_are_those_of_the_classes() -> None:
    # SRD 5.1, Spell Lists: eight classes have one; sizes counted from the figures.
    for class_id in ("bard", "cleric", "druid", "paladin", "ranger", "sorcerer", "warlock", "wizard"):
        expected = {id_ for id_, cells in FIGURES.items() if class_id in cells["classes"]}
        assert {spell.id for spell in CATALOG.spells_of(class_id)} == expected
        ordered = [(spell.level, spell.name) for spell in CATALOG.spells_of(class_id)]
        assert ordered == sorted(ordered)
