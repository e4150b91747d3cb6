"""The worked examples that the published rules print, each with its section.

Numbers in test names follow the list of the reference documents (README, "Worked examples").
"""

from fractions import Fraction

import pytest

from engine.audit import TableRules, audit
from engine.build.document import Build
from engine.odds.attack import Attack, AttackAnswer, answer_attack
from engine.odds.damage import Taken
from engine.odds.wounds import Wounds
from engine.rules.crafting import Crafting, crafting
from engine.sheet import gather
from engine.sheet.exertion import exertion
from tests.engine.sheet.make import at, build, catalog, number, values


@pytest.mark.parametrize(
    ("score", "modifier"), [(1, -5), (8, -1), (9, -1), (10, 0), (11, 0), (15, 2), (20, 5), (30, 10)]
)
def test_1_modifiers(score: int, modifier: int) -> None:
    # SRD 5.1, Using Ability Scores, Ability Scores and Modifiers
    found = number(build("fighter 1", f"10 10 10 10 {score} 10"), "ability.wis.modifier")
    assert found.value == modifier


@pytest.mark.parametrize(("level", "bonus"), [(1, 2), (5, 3), (9, 4), (13, 5), (17, 6), (20, 6)])
def test_2_proficiency_bonus(level: int, bonus: int) -> None:
    # SRD 5.1, Beyond 1st Level, Character Advancement
    assert number(build("rogue 20"), "proficiency_bonus", level).value == bonus


@pytest.mark.parametrize(
    ("class_id", "first", "later"),
    [("barbarian", 12, 7), ("fighter", 10, 6), ("cleric", 8, 5), ("wizard", 6, 4)],
)
def test_7_hit_points_by_die(class_id: str, first: int, later: int) -> None:
    # SRD 5.1, Classes, Hit Points of each class: the die at level 1, its fixed value after that; Con +2 each level
    document = build(f"{class_id} 3", "10 10 14 10 10 10")
    assert [number(document, "hp.max", n).value for n in (1, 2, 3)] == [
        first + 2,
        first + later + 4,
        first + 2 * later + 6,
    ]


def test_8_constitution_rises_at_level_8() -> None:
    # SRD 5.1, Beyond 1st Level: a fighter whose Constitution goes from 17 to 18 at level 8 gains 8 points more
    plain = build("fighter 8", "10 10 17 10 10 10")
    risen = build("fighter 8", "10 10 17 10 10 10", lines={"fighter 8": ["+1 con", "+1 str"]})
    assert number(risen, "hp.max", 7).value == number(plain, "hp.max", 7).value
    assert number(risen, "hp.max", 8).value == number(plain, "hp.max", 8).value + 8  # type: ignore[operator]


def test_9_constitution_rises_at_level_4() -> None:
    # SRD 5.1, Constitution, Hit Points: +1 to +2 at level 4: three more for levels 1 to 3, and level 4 with +2
    document = build("fighter 4", "10 10 13 10 10 10", lines={"fighter 4": ["+1 con", "+1 str"]}, hp={"fighter 4": 3})
    before = int(number(document, "hp.max", 3).value)
    assert before == 10 + 6 + 6 + 3
    assert number(document, "hp.max", 4).value == before + 3 + (3 + 2)


def test_10_constitution_falls_at_level_7() -> None:
    # SRD 5.1, Constitution, Hit Points: at level 7 a modifier one lower costs 7 points
    high, low = build("rogue 7", "10 10 14 10 10 10"), build("rogue 7", "10 10 12 10 10 10")
    assert int(number(high, "hp.max").value) - int(number(low, "hp.max").value) == 7


@pytest.mark.parametrize(
    ("scores", "missing"),
    [
        ("13 10 10 10 13 10", ""),
        ("13 10 10 10 12 10", "Wisdom"),
        ("12 10 10 10 13 10", "Strength"),
    ],
)
def test_11_both_classes_have_minimums(scores: str, missing: str) -> None:
    # SRD 5.1, Multiclassing, Prerequisites: a barbarian who takes druid needs Strength 13 and Wisdom 13
    found = [f for f in audit(build("barbarian 1, druid 1", scores), catalog()) if f.code == "multiclass-minimum"]
    assert [(f.level, missing in f.message) for f in found] == ([(2, True)] if missing else [])


def test_12_experience_counts_character_levels() -> None:
    # SRD 5.1, Multiclassing, Experience Points: cleric 6 / fighter 1 needs what level 8 asks for, 34,000
    document = build("cleric 6, fighter 1")
    assert exertion(gather(document, catalog()), document.top)["experience.needed"].value == 34_000


def test_13_hit_dice() -> None:
    # SRD 5.1, Multiclassing, Hit Points and Hit Dice
    assert values(at(build("paladin 5, fighter 5")), "hit_dice.d10", "hit_dice.d8") == {
        "hit_dice.d10": 10,
        "hit_dice.d8": None,
    }
    assert values(at(build("paladin 5, cleric 5")), "hit_dice.d10", "hit_dice.d8") == {
        "hit_dice.d10": 5,
        "hit_dice.d8": 5,
    }


def test_14_bonus_by_character_level() -> None:
    # SRD 5.1, Multiclassing, Proficiency Bonus: fighter 3 / rogue 2 has that of level 5
    assert number(build("fighter 3, rogue 2"), "proficiency_bonus").value == 3


def test_15_channel_divinity_does_not_add_up() -> None:
    # SRD 5.1, Multiclassing, Channel Divinity: cleric 6 / paladin 4 uses it twice between rests
    document = build("cleric 6, paladin 4", subclasses={"cleric": "life-domain", "paladin": "oath-of-devotion"})
    found = number(document, "pool.channel-divinity.uses")
    assert found.value == 2
    assert [r.amount for r in found.beaten] == [1]


def _ranger_wizard() -> Build:
    return build("ranger 4, wizard 3", "10 13 10 16 13 10", method="final")


def test_16_spells_class_by_class() -> None:
    # SRD 5.1, Multiclassing, Spellcasting: ranger 4 / wizard 3 with Intelligence 16
    assert values(
        at(_ranger_wizard()),
        "casting.ranger.known",
        "casting.wizard.cantrips",
        "casting.wizard.spellbook",
        "casting.wizard.prepared",
        "casting.wizard.top_level",
        "casting.ranger.top_level",
    ) == {
        "casting.ranger.known": 3,
        "casting.wizard.cantrips": 3,
        "casting.wizard.spellbook": 10,
        "casting.wizard.prepared": 6,
        "casting.wizard.top_level": 2,
        "casting.ranger.top_level": 1,
    }


def test_17_slots_of_both_classes_together() -> None:
    # SRD 5.1, Multiclassing, Spell Slots: caster level 2 + 3 = 5, so 4, 3, 2
    numbers = at(_ranger_wizard()).numbers
    assert [numbers[f"slots.{n}"].value for n in range(1, 6)] == [4, 3, 2, 0, 0]
    assert numbers["slots.3"].reasons[0].label == "caster level 5: Ranger 4 counts 2, Wizard 3"
    assert numbers["slots.3"].reasons[0].source == "SRD 5.1, Multiclassing, Spell Slots"


@pytest.mark.parametrize("class_id", ["cleric", "druid", "wizard"])
def test_19_preparing_at_level_3(class_id: str) -> None:
    # SRD 5.1, Cleric, Druid, Wizard, Preparing and Casting Spells: level 3 with 16 prepares 6 spells; slots 4 and 2
    numbers = at(build(f"{class_id} 3", "10 10 10 16 16 10")).numbers
    assert numbers[f"casting.{class_id}.prepared"].value == 6
    assert [numbers[f"slots.{n}"].value for n in (1, 2, 3)] == [4, 2, 0]


def test_20_paladin_prepares_by_half_its_level() -> None:
    # SRD 5.1, Paladin, Preparing and Casting Spells: level 5 with Charisma 14 prepares 4; slots 4 and 2
    numbers = at(build("paladin 5", "10 10 10 10 10 14")).numbers
    assert numbers["casting.paladin.prepared"].value == 4
    assert [numbers[f"slots.{n}"].value for n in (1, 2, 3)] == [4, 2, 0]


def test_22_pact_magic() -> None:
    # SRD 5.1, Warlock, Pact Magic: at level 5 two slots of level 3; they are no ordinary slots
    assert values(at(build("warlock 5")), "pact.slots", "pact.slot_level", "slots.1", "slots.3") == {
        "pact.slots": 2,
        "pact.slot_level": 3,
        "slots.1": 0,
        "slots.3": 0,
    }


def test_23_arcane_recovery() -> None:
    # SRD 5.1, Wizard, Arcane Recovery: half the level rounded up; level 4 regains 2 slot levels
    document = build("wizard 5")
    assert [number(document, "pool.arcane-recovery.uses", n).value for n in range(1, 6)] == [1, 1, 2, 2, 3]


def test_24_natural_recovery() -> None:
    # SRD 5.1, Circle of the Land, Natural Recovery: a druid of level 4 regains 2 slot levels
    document = build("druid 4", subclasses={"druid": "circle-of-the-land"})
    assert number(document, "pool.natural-recovery.uses").value == 2


def test_25_passive_perception() -> None:
    # SRD 5.1, Passive Checks: level 1, Wisdom 15, proficient: 14; advantage gives 5, disadvantage takes 5
    document = build("rogue 1", "10 10 10 10 15 10", lines={"rogue 1": ["skill perception"]})
    assert number(document, "skill.perception.passive").value == 14
    assert number(document, "skill.perception.passive", 1, "foresight").value == 19
    assert number(document, "skill.perception.passive", 1, "poisoned").value == 9
    assert number(document, "skill.perception.passive", 1, "poisoned", "foresight").value == 14


def test_27_save_dc_and_spell_attack() -> None:
    # SRD 5.1, Spellcasting, Casting a Spell: 8 + bonus + modifier; bonus + modifier
    found = at(build("wizard 9", "10 10 10 18 10 10"))
    assert values(found, "casting.wizard.save_dc", "casting.wizard.attack") == {
        "casting.wizard.save_dc": 8 + 4 + 4,
        "casting.wizard.attack": 4 + 4,
    }


def test_28_unarmored_defense() -> None:
    # SRD 5.1, Barbarian and Monk, Unarmored Defense: Con and a shield allowed; Wis and no shield
    scores = "10 14 16 10 18 10"
    assert number(build("barbarian 1", scores), "ac").value == 10 + 2 + 3
    assert number(build("barbarian 1", scores, gear=["shield"]), "ac").value == 10 + 2 + 3 + 2
    assert number(build("monk 1", scores), "ac").value == 10 + 2 + 4
    assert number(build("monk 1", scores, gear=["shield"]), "ac").value == 10 + 2 + 2


def test_29_draconic_resilience() -> None:
    # SRD 5.1, Sorcerer, Draconic Resilience: AC 13 + Dex, one hit point more each sorcerer level
    document = build("sorcerer 4, fighter 1", "10 14 10 10 10 10", subclasses={"sorcerer": "draconic-bloodline"})
    assert number(document, "ac").value == 13 + 2
    assert number(document, "hp.max", 4).value == (6 + 4 * 3) + 4
    assert number(document, "hp.max", 5).value == (6 + 4 * 3 + 6) + 4


@pytest.mark.parametrize(
    ("gear", "dexterity", "ac"),
    [
        (["leather-armor"], 16, 11 + 3),
        (["chain-mail"], 16, 16),
        (["chain-mail"], 6, 16),
        (["half-plate"], 12, 15 + 1),
        (["half-plate"], 18, 15 + 2),
        (["half-plate"], 8, 15 - 1),
        (["shield"], 10, 10 + 2),
        (["chain-mail", "shield"], 10, 16 + 2),
    ],
)
def test_30_armor(gear: list[str], dexterity: int, ac: int) -> None:
    # SRD 5.1, Equipment, Armor
    assert number(build("fighter 1", f"16 {dexterity} 10 10 10 10", gear=gear), "ac").value == ac


def test_31_carrying() -> None:
    # SRD 5.1, Lifting and Carrying: Strength times 15; Strength 16 carries 240 pounds
    assert number(build("fighter 1", "16 10 10 10 10 10"), "carry.capacity").value == 240
    assert number(build("fighter 1", "16 10 10 10 10 10", species="lightfoot-halfling"), "carry.capacity").value == 240

    document = build("fighter 1", "16 10 10 10 10 10")
    assert exertion(gather(document, catalog()), 1)["carry.lift"].value == 480


@pytest.mark.parametrize(
    ("arrows", "loss", "state", "speed"),
    [
        # Strength 9 + 1 of a human: slow above 50 pounds, slower above 100; a bundle of 20 arrows weighs one pound
        (1000, None, None, 30),
        (1001, 10, "encumbered", 20),
        (2000, 10, "encumbered", 20),
        (2001, 20, "heavily-encumbered", 10),
    ],
)
def test_32_variant_encumbrance(arrows: int, loss: int | None, state: str | None, speed: int) -> None:
    # SRD 5.1, Strength, Variant: Encumbrance: 5 and 10 times Strength; 10 and 20 feet; then disadvantage as well
    document = build("fighter 1", "9 10 10 10 10 10", species="human", gear=[f"{arrows} arrow"])
    table = TableRules(encumbrance="variant")
    found = [f.message for f in audit(document, catalog(), table) if f.code == "encumbered"]
    assert [f"costs {loss} feet" in message for message in found] == ([True] if loss else [])
    assert not [f for f in audit(document, catalog()) if f.code == "encumbered"]
    one = at(document, None, *([state] if state else []))
    assert one.numbers["speed.walk"].value == speed
    rolls = [note.text for note in one.notes if "disadvantage" in note.text]
    assert bool(rolls) == (loss == 20)
    for word in ("Strength", "Dexterity", "Constitution"):
        assert all(word in text for text in rolls if "check" in text or "save" in text)


def test_33_jumping() -> None:
    # SRD 5.1, Adventuring, Jumping: long Strength score, high 3 + modifier in feet, standing half
    document = build("fighter 1", "16 10 10 10 10 10")
    found = exertion(gather(document, catalog()), 1)
    assert [found[f"jump.{n}"].value for n in ("long", "high", "long.standing", "high.standing")] == [16, 6, 8, 3]


def test_34_suffocating() -> None:
    # SRD 5.1, Adventuring, Suffocating: Constitution 14 holds 3 minutes and has 2 rounds after that
    document = build("fighter 1", "10 10 14 10 10 10")
    found = exertion(gather(document, catalog()), 1)
    assert (found["breath.held"].value, found["breath.left"].value) == (3, 2)


@pytest.mark.parametrize(("level", "dice"), [(1, 1), (8, 4), (9, 4)])
def test_35_long_rest(level: int, dice: int) -> None:
    # SRD 5.1, Adventuring, Long Rest: of eight Hit Dice four come back; one at least
    assert exertion(gather(build("fighter 9"), catalog()), level)["rest.hit_dice"].value == dice


def test_36_unarmed_strike() -> None:
    # SRD 5.1, Combat, Melee Attacks: 1 + Strength modifier, everybody is proficient
    assert values(
        at(build("wizard 1", "14 18 10 10 10 10")), "attack.unarmed-strike.to_hit", "attack.unarmed-strike.damage"
    ) == {"attack.unarmed-strike.to_hit": 2 + 2, "attack.unarmed-strike.damage": 1 + 2}


def test_37_critical_hits() -> None:
    # SRD 5.1, Combat, Critical Hits: a dagger rolls 2d4 + modifier, and Sneak Attack's dice twice as well
    answer = answer_attack(Attack(bonus=5, ac=10, damage="1d4+3", once_per_turn="1d6"))
    assert isinstance(answer, AttackAnswer)
    assert (answer.hit_fraction, answer.critical_fraction) == (Fraction(16, 20), Fraction(1, 20))
    assert answer.damage.high == (2 * 4 + 3) + 2 * 6
    normal, critical = 2.5 + 3 + 3.5, 2 * 2.5 + 3 + 2 * 3.5
    assert answer.damage.mean() == pytest.approx(15 / 20 * normal + 1 / 20 * critical)


def test_38_resistance_comes_after_what_lessens_damage() -> None:
    # SRD 5.1, Combat, Damage Resistance and Vulnerability: 25 less 5, resisted, is 10
    assert Taken(resistance=True).of(25 - 5) == 10


def test_39_instant_death() -> None:
    # SRD 5.1, Combat, Instant Death: maximum 12, at 6, 18 damage: 12 remain, which is the maximum
    wounded = Wounds(hit_points=6, maximum=12)
    assert wounded.after(18) == Wounds(hit_points=0, maximum=12, outright=True)
    assert wounded.after(17) == Wounds(hit_points=0, maximum=12)


def test_40_temporary_hit_points() -> None:
    # SRD 5.1, Combat, Temporary Hit Points: 5 of them and 7 damage: they are gone, and 2 points more
    assert Wounds(hit_points=10, maximum=12, temporary=5).after(7) == Wounds(hit_points=8, maximum=12)
    # 10 held and 12 offered: 10 or 12, never 22
    assert Wounds(hit_points=10, maximum=12, temporary=10).offered(12).temporary == 12
    assert Wounds(hit_points=10, maximum=12, temporary=12).offered(10).temporary == 12


def test_42_crafting() -> None:
    # SRD 5.1, Adventuring, Between Adventures, Crafting: plate armor of 1,500 gp: 300 days alone, 100 for three
    plate = catalog().item("plate-armor")
    assert plate is not None
    assert crafting(plate, catalog().release) == Crafting(days=300, materials_cp=75_000)
    assert crafting(plate, catalog().release, hands=3) == Crafting(days=100, materials_cp=75_000)
    for id_ in ("bag-of-holding", "camel"):
        other = catalog().item(id_)
        assert other is not None
        assert crafting(other, catalog().release) is None


def test_43_font_of_magic() -> None:
    # SRD 5.1, Classes, Sorcerer, Font of Magic: slots of level 1 to 5 cost 2, 3, 5, 6, 7 points
    one = at(build("sorcerer 2"))
    (note,) = [n for n in one.notes if n.label == "Font of Magic" and "makes a slot" in n.text]
    assert "level 1, 2, 3, 4 or 5 for 2, 3, 5, 6 or 7 points" in note.text
    assert one.numbers["pool.sorcery-points.uses"].value == 2


def test_the_release_is_the_one_the_examples_stand_in() -> None:
    assert catalog().release.species_word == "Race"
