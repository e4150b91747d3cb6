"""Builds of several classes whose figures were worked out by hand from the published tables.

Sources, all SRD 5.1: Character Advancement (proficiency bonus), the class tables and features, Multiclassing (hit
points, proficiencies, spell slots), Equipment (armor, weapons). The working stands beside each figure.
"""

from collections.abc import Mapping

import pytest

from engine.build.document import Build
from tests.engine.sheet.make import at, build, chosen, pick

Figures = Mapping[str, float | str | None]


def spy() -> Build:
    """Rogue 1, bard 5 (Lore), fighter 7 (Champion), human: level 13, bonus +5.

    Scores with +1 each: 13 17 15 11 14 15; bard 4: Cha +2; fighter 4: Dex +1, Con +1; fighter 6: Dex +2.
    At level 13: Str 13 +1, Dex 20 +5, Con 16 +3, Int 11 +0, Wis 14 +2, Cha 17 +3.
    """
    return build(
        "rogue 1, bard 5, fighter 7",
        "12 16 14 10 13 14",
        species=("human", "language elvish"),
        background=("Harbour Clerk", "skill survival, nature", "language giant, orc"),
        gear=["studded-leather-armor", "rapier", "longbow", "20 arrow"],
        subclasses={"bard": "college-of-lore", "fighter": "champion"},
        lines={
            "rogue 1": ["skill acrobatics, stealth, deception, perception", "expertise stealth, thieves-tools"],
            "bard 1": ["skill performance", "tool lute"],
            "bard 3": ["skill arcana, history, insight", "expertise perception, performance"],
            "bard 4": ["+2 cha"],
            "fighter 1": ["style defense"],
            "fighter 4": ["+1 dex", "+1 con"],
            "fighter 6": ["+2 dex"],
        },
    )


SPY: Figures = {
    "proficiency_bonus": 5,
    "hp.max": 8 + 5 * 5 + 7 * 6 + 3 * 13,  # rogue d8, bard 5 each, fighter 6 each, Con +3
    "hit_dice.d8": 6,  # rogue 1, bard 5
    "hit_dice.d10": 7,
    "ac": 12 + 5 + 1,  # studded leather, Dex, defense
    "save.dex": 5 + 5,  # saves of the first class only: rogue
    "save.int": 0 + 5,
    "save.str": 1,
    "save.con": 3,
    "save.cha": 3,
    "skill.stealth": 5 + 5 + 5,  # expertise
    "skill.perception": 2 + 5 + 5,
    "skill.perception.passive": 10 + 12,
    "skill.performance": 3 + 5 + 5,
    "skill.acrobatics": 5 + 5,
    "skill.arcana": 0 + 5,
    "skill.survival": 2 + 5,
    "skill.athletics": 1 + 3,  # half of 5 rounded up (Remarkable Athlete) beats half rounded down
    "skill.sleight-of-hand": 5 + 3,
    "skill.intimidation": 3 + 2,  # half of 5 rounded down (Jack of All Trades)
    "skill.medicine": 2 + 2,
    "check.str": 1 + 3,
    "check.con": 3 + 3,
    "check.int": 0 + 2,
    "check.wis": 2 + 2,
    "initiative": 5 + 3,  # a Dexterity check
    "tool.thieves-tools": 5 + 5,
    "tool.lute": 5,
    "attack.rapier.to_hit": 5 + 5,
    "attack.rapier.damage": 4.5 + 5,
    "attack.longbow.to_hit": 5 + 5,
    "attacks.per_action": 2,  # fighter 5
    "slots.1": 4,  # bard 5 alone: its own table
    "slots.2": 3,
    "slots.3": 2,
    "slots.4": 0,
    "casting.bard.save_dc": 8 + 5 + 3,
    "casting.bard.cantrips": 3,
    "casting.bard.known": 8,
    "casting.bard.top_level": 3,
    "pool.bardic-inspiration.uses": 3,
    "pool.bardic-inspiration.die": "1d8",
    "pool.second-wind.die": "1d10",
    "pool.action-surge.uses": 1,
}


def scholar() -> Build:
    """Cleric 5 (Life), wizard 7 (Evocation), warlock 3 (Fiend): level 15, bonus +5. Scores are final.

    Str 10, Dex 12 +1, Con 14 +2, Int 16 +3, Wis 16 +3, Cha 13 +1.
    """
    return build(
        "cleric 5, wizard 7, warlock 3",
        "10 12 14 16 16 13",
        method="final",
        species=("human", "language elvish"),
        gear=["chain-mail", "shield", "mace"],
        subclasses={"cleric": "life-domain", "wizard": "school-of-evocation", "warlock": "the-fiend"},
        lines={
            "wizard 1": ["cantrip fire-bolt, light, mage-hand"],
            "warlock 1": ["cantrip eldritch-blast, chill-touch"],
            "warlock 2": ["invocation agonizing-blast, devils-sight"],
        },
    )


SCHOLAR: Figures = {
    "hp.max": 8 + 4 * 5 + 7 * 4 + 3 * 5 + 2 * 15,
    "hit_dice.d8": 8,  # cleric 5, warlock 3
    "hit_dice.d6": 7,
    "ac": 16 + 2,  # heavy armor comes with the Life domain
    "speed.walk": 30 - 10,  # chain mail needs Strength 13
    "save.wis": 3 + 5,
    "save.cha": 1 + 5,
    "save.int": 3,
    "slots.1": 4,  # caster level 5 + 7 = 12; pact magic counts nothing
    "slots.2": 3,
    "slots.3": 3,
    "slots.4": 3,
    "slots.5": 2,
    "slots.6": 1,
    "slots.7": 0,
    "pact.slots": 2,  # warlock 3
    "pact.slot_level": 2,
    "casting.cleric.prepared": 3 + 5,
    "casting.cleric.cantrips": 4,
    "casting.cleric.top_level": 3,
    "casting.cleric.save_dc": 8 + 5 + 3,
    "casting.wizard.prepared": 3 + 7,
    "casting.wizard.spellbook": 6 + 2 * 6,
    "casting.wizard.cantrips": 4,
    "casting.wizard.top_level": 4,
    "casting.warlock.known": 4,
    "casting.warlock.cantrips": 2,
    "casting.warlock.top_level": 2,
    "casting.warlock.save_dc": 8 + 5 + 1,
    "attack.fire-bolt.to_hit": 5 + 3,
    "attack.fire-bolt.damage": 3 * 5.5,  # character level 11 to 16: 3d10
    "attack.eldritch-blast.to_hit": 5 + 1,
    "attack.eldritch-blast.damage": 5.5 + 1,  # one beam, agonizing
    "attack.mace.to_hit": 0 + 5,
    "attacks.per_action": 1,
    "pool.channel-divinity.uses": 1,  # two from cleric 6 on
    "pool.arcane-recovery.uses": 4,  # half of 7 rounded up
}


def wrestler(first: str = "barbarian") -> Build:
    """Barbarian 5 (Berserker), monk 6 (Open Hand), hill dwarf: level 11, bonus +4.

    Con 14 + 2, Wis 14 + 1; barbarian 4: Dex +2; monk 4: Con +2: Str 14 +2, Dex 18 +4, Con 18 +4, Wis 15 +2.
    """
    order = "barbarian 5, monk 6" if first == "barbarian" else "monk 6, barbarian 5"
    return build(
        order,
        "14 16 14 8 14 8",
        species="hill-dwarf",
        gear=["greataxe", "handaxe"],
        subclasses={"barbarian": "path-of-the-berserker", "monk": "way-of-the-open-hand"},
        lines={"barbarian 4": ["+2 dex"], "monk 4": ["+2 con"]},
    )


WRESTLER: Figures = {
    "hp.max": 12 + 4 * 7 + 6 * 5 + 4 * 11 + 11,  # dwarven toughness: one a level
    "ac": 10 + 4 + 4,  # the barbarian's Unarmored Defense came first
    "speed.walk": 25 + 10 + 15,  # Fast Movement, Unarmored Movement at monk 6
    "save.str": 2 + 4,
    "save.con": 4 + 4,
    "save.dex": 4,
    "attack.greataxe.to_hit": 2 + 4,
    "attack.greataxe.damage": 6.5 + 2,
    "attack.handaxe.to_hit": 4 + 4,  # a monk weapon: Dexterity
    "attack.handaxe.damage": 3.5 + 4,
    "attack.unarmed-strike.to_hit": 4 + 4,
    "attack.unarmed-strike.damage": 3.5 + 4,  # monk 6: d6
    "attacks.per_action": 2,  # two Extra Attacks do not add up
    "pool.rage.uses": 3,
    "pool.ki.uses": 6,
    "dc.ki": 8 + 4 + 2,
    "slots.1": 0,
}


def knight() -> Build:
    """Paladin 7 (Devotion), sorcerer 6 (Draconic): level 13, bonus +5. Scores are final.

    Str 16 +3, Dex 10, Con 14 +2, Int 8 -1, Wis 10, Cha 18 +4.
    """
    return build(
        "paladin 7, sorcerer 6",
        "16 10 14 8 10 18",
        method="final",
        species=("dragonborn", "ancestry dragonborn-gold"),
        gear=["plate-armor", "greatsword", "2 javelin"],
        subclasses={"paladin": "oath-of-devotion", "sorcerer": "draconic-bloodline"},
        lines={
            "paladin 2": ["style great-weapon-fighting"],
            "sorcerer 1": ["dragon dragon-gold", "cantrip fire-bolt, ray-of-frost"],
        },
    )


KNIGHT: Figures = {
    "hp.max": 10 + 6 * 6 + 6 * 4 + 2 * 13 + 6,  # Draconic Resilience: one each sorcerer level
    "ac": 18,
    "speed.walk": 30,  # plate needs 15
    "skill.stealth.passive": 10 + 0 - 5,  # plate: disadvantage
    "save.str": 3 + 4,  # Aura of Protection: Cha +4
    "save.dex": 0 + 4,
    "save.con": 2 + 4,
    "save.int": -1 + 4,
    "save.wis": 0 + 5 + 4,
    "save.cha": 4 + 5 + 4,
    "slots.1": 4,  # caster level 3 + 6 = 9
    "slots.2": 3,
    "slots.3": 3,
    "slots.4": 3,
    "slots.5": 1,
    "casting.paladin.prepared": 4 + 3,
    "casting.paladin.top_level": 2,
    "casting.sorcerer.known": 7,
    "casting.sorcerer.cantrips": 5,
    "casting.sorcerer.top_level": 3,
    "attack.greatsword.to_hit": 3 + 5,
    "attack.greatsword.damage": 2 * (3 + 4 + 5 + 6 + 2 * 3.5) / 6 + 3,  # 1s and 2s rolled once more
    "attack.javelin.thrown.to_hit": 3 + 5,
    "attack.javelin.thrown.damage": 3.5 + 3,
    "attack.fire-bolt.damage": 3 * 5.5 + 4,  # Elemental Affinity: gold is fire
    "attack.ray-of-frost.damage": 3 * 4.5,
    "attacks.per_action": 2,
    "pool.lay-on-hands.uses": 35,
    "pool.divine-sense.uses": 5,
    "pool.sorcery-points.uses": 6,
    "pool.breath-weapon.die": "4d6",  # level 11 to 15
    "dc.breath-weapon": 8 + 5 + 2,
}


@pytest.mark.parametrize(
    ("document", "figures"),
    [(spy(), SPY), (scholar(), SCHOLAR), (wrestler(), WRESTLER), (knight(), KNIGHT)],
    ids=["spy", "scholar", "wrestler", "knight"],
)
def test_figures(document: Build, figures: Figures) -> None:
    numbers = at(document).numbers
    found = {name: numbers[name].value if name in numbers else None for name in figures}
    assert found == pytest.approx(figures)


def test_dice_are_written_as_tables_do() -> None:
    numbers = {**at(spy()).numbers, **at(knight()).numbers}
    assert numbers["pool.second-wind.die"].dice == "1d10+7"  # Second Wind: 1d10 + fighter level
    assert numbers["attack.rapier.damage"].dice == "1d8+5"
    assert numbers["attack.greatsword.damage"].dice == "2d6+3"
    assert numbers["attack.fire-bolt.damage"].dice == "3d10+4"


def test_the_unarmored_defense_gained_first_holds() -> None:
    # SRD 5.1, Multiclassing, Unarmored Defense: monk first: 10 + Dex 4 + Wis 2
    assert at(wrestler("monk")).numbers["ac"].value == 10 + 4 + 2


def test_initiative_before_remarkable_athlete() -> None:
    # Level 12: bonus 4, half of it (rounded down) from Jack of All Trades; Dex 20 since fighter 6
    number = at(spy(), 12).numbers["initiative"]
    assert number.value == 5 + 2
    assert [r.label for r in number.reasons] == ["Dexterity 20", "Jack of All Trades, half of the proficiency bonus +4"]


def test_rage_lifts_attacks_with_strength_only() -> None:
    # SRD 5.1, Barbarian, Rage: +2 at barbarian 5, melee with Strength; the handaxe strikes with Dexterity here
    numbers = at(wrestler(), 11, "rage").numbers
    assert numbers["attack.greataxe.damage"].value == 6.5 + 2 + 2
    assert numbers["attack.handaxe.damage"].value == 3.5 + 4


def test_choices_of_a_boon_stand_in_its_parentheses() -> None:
    # SRD 5.1, Warlock, Pact of the Tome: cantrips of any list are warlock cantrips (Charisma)
    document = build(
        "warlock 3",
        "8 14 14 10 12 16",
        lines={"warlock 3": [chosen("boon", pick("pact-of-the-tome", "cantrip fire-bolt, guidance, light"))]},
    )
    numbers = at(document).numbers
    assert numbers["attack.fire-bolt.to_hit"].value == 2 + 3
    assert numbers["casting.warlock.cantrips"].value == 2
