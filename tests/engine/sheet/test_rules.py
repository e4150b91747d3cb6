"""One rule at a time, each with the section it stands in (SRD 5.1)."""

import pytest

from engine.sheet import as_json
from engine.sheet.dice import Roll, mean_not_below_zero, reroll_gain
from tests.engine.sheet.make import at, build, gift, number, pick, values


def test_increases_stop_at_20() -> None:
    # Classes, Ability Score Improvement
    document = build("fighter 4", "19 10 10 10 10 10", lines={"fighter 4": ["+2 str"]})
    found = number(document, "ability.str.score")
    assert found.value == 20
    assert [(r.label, r.amount) for r in found.reasons] == [
        ("as given", 19),
        ("Ability Score Improvement (Fighter 4), 1 lost at the limit of 20", 1),
    ]


def test_a_capstone_lifts_scores_and_their_limit() -> None:
    # Barbarian, Primal Champion: +4 to Str and Con, limit 24
    assert values(at(build("barbarian 20", "20 10 18 10 10 10")), "ability.str.score", "ability.con.score") == {
        "ability.str.score": 24,
        "ability.con.score": 22,
    }


def test_things_that_set_a_score_do_nothing_for_a_higher_one() -> None:
    # Magic Items, Gauntlets of Ogre Power
    gear = [pick("gauntlets-of-ogre-power", "attuned")]
    weak = number(build("fighter 1", "8 10 10 10 10 10", gear=gear), "ability.str.score")
    assert weak.value == 19
    strong = number(build("fighter 1", "20 10 10 10 10 10", gear=gear), "ability.str.score")
    assert strong.value == 20
    assert [r.amount for r in strong.beaten] == [19]


def test_final_scores_are_not_increased() -> None:
    document = build("fighter 4", "18 10 10 10 10 10", method="final", species="human", lines={"fighter 4": ["+2 str"]})
    assert number(document, "ability.str.score").value == 18


def test_a_build_without_scores_counts_ten_each() -> None:
    document = build("fighter 1").model_copy(update={"scores": None})
    assert number(document, "ability.str.score").value == 10
    assert number(document, "hp.max").value == 10


def test_a_low_constitution_costs_hit_points_in_full() -> None:
    # Beyond 1st Level: no least gain is printed. Wizard 6 + 4 + 4, Constitution 1: -5 each
    assert number(build("wizard 3", "10 10 1 10 10 10"), "hp.max").value == 14 - 15


def test_exhaustion_halves_hit_points_last() -> None:
    # Conditions, Exhaustion, level 4: 10 + 6 + 2 x 2 = 20; speed is halved from level 2 on
    document = build("fighter 2", "10 10 14 10 10 10", species="human")
    assert number(document, "hp.max", 2, "exhaustion-4").value == 10
    assert number(document, "speed.walk", 2, "exhaustion-4").value == 15


def test_expertise_needs_proficiency() -> None:
    # Rogue, Expertise
    document = build(
        "rogue 1", "10 10 10 10 10 10", lines={"rogue 1": ["expertise perception, stealth", "skill stealth"]}
    )
    assert values(at(document), "skill.perception", "skill.stealth") == {"skill.perception": 0, "skill.stealth": 4}


def test_reliable_talent_lifts_only_proficient_checks() -> None:
    # Rogue, Reliable Talent, level 11: 10 + bonus
    document = build("rogue 11, bard 2", "10 10 10 10 10 10", lines={"rogue 1": ["skill stealth"]})
    found = at(document)
    assert values(found, "skill.stealth.lowest", "skill.arcana.lowest") == {
        "skill.stealth.lowest": 10 + 5,
        # Jack of All Trades adds half the bonus, which is not adding the bonus
        "skill.arcana.lowest": 1 + 2,
    }
    number_ = found.numbers["skill.stealth.lowest"]
    assert number_.reasons[0].source == "SRD 5.1, Classes, Rogue, Reliable Talent"
    assert [r.amount for r in number_.beaten] == [1]


def test_indomitable_might_stands_in_for_a_low_total() -> None:
    # Barbarian, Indomitable Might, level 18
    found = number(build("barbarian 18", "20 10 10 10 10 10"), "skill.athletics.lowest")
    assert found.value == 20
    assert [(r.label, r.amount) for r in found.reasons] == [("Indomitable Might, Strength 20", 20)]


def test_half_proficiency_is_not_added_to_proficiency() -> None:
    # Bard, Jack of All Trades
    document = build("bard 2", "10 10 10 10 10 10", lines={"bard 1": ["skill arcana"]})
    assert values(at(document), "skill.arcana", "skill.history", "save.str") == {
        "skill.arcana": 2,
        "skill.history": 1,
        "save.str": 0,
    }


def test_armor_without_proficiency() -> None:
    # Equipment, Armor: disadvantage on what uses Strength or Dexterity, and no spells
    document = build("wizard 1", "16 10 10 10 10 10", gear=["chain-shirt"])
    found = at(document)
    assert values(found, "ac", "skill.athletics", "skill.athletics.passive", "skill.arcana.passive") == {
        "ac": 13,
        "skill.athletics": 3,
        "skill.athletics.passive": 8,
        "skill.arcana.passive": 10,
    }
    assert [n.label for n in found.notes if "not proficient" in n.text] == ["Chain Shirt"]


def test_heavy_armor_slows_the_weak_but_no_dwarf() -> None:
    # Equipment, Armor, Heavy Armor; Races, Dwarf, Speed
    weak = {"classes": "fighter 1", "scores": "12 10 10 10 10 10", "gear": ["chain-mail"]}
    human = number(build(**weak, species="human"), "speed.walk")  # type: ignore[arg-type]
    assert human.value == 30  # Strength 12 + 1
    elf = number(build(**weak, species="high-elf"), "speed.walk")  # type: ignore[arg-type]
    assert elf.value == 20
    assert elf.reasons[-1].label == "Chain Mail with Strength 12, 13 needed"
    assert number(build(**weak, species="hill-dwarf"), "speed.walk").value == 25  # type: ignore[arg-type]


def test_magic_armor_and_shield() -> None:
    # Magic Items: +N armor and shields
    found = number(build("fighter 1", "10 10 10 10 10 10", gear=["plate-armor +2", "shield +1"]), "ac")
    assert found.value == 18 + 2 + 2 + 1
    assert [r.amount for r in found.reasons] == [18, 2, 2, 1]


def test_the_first_armor_is_worn_and_carried_things_are_not() -> None:
    # Outline, Meaning, Gear
    assert number(build("fighter 1", gear=["leather-armor", "plate-armor"]), "ac").value == 11
    assert number(build("fighter 1", gear=[pick("leather-armor", "carried"), "plate-armor"]), "ac").value == 18
    assert number(build("fighter 1", gear=[pick("shield", "carried")]), "ac").value == 10


def test_attunement_is_needed_and_counted() -> None:
    # Magic Items, Attunement
    plain = build("fighter 1", gear=["cloak-of-protection"])
    assert values(at(plain), "ac", "save.str", "attunement.used") == {"ac": 10, "save.str": 2, "attunement.used": 0}
    worn = build("fighter 1", gear=[pick("cloak-of-protection", "attuned")])
    assert values(at(worn), "ac", "save.str", "attunement.used") == {"ac": 11, "save.str": 3, "attunement.used": 1}
    carried = build("fighter 1", gear=[pick("cloak-of-protection", "attuned", "carried")])
    assert number(carried, "ac").value == 10


def test_a_floor_of_armor_class() -> None:
    # Spell Descriptions, Barkskin: never below 16
    low = number(build("druid 1"), "ac", 1, "barkskin")
    assert (low.value, len(low.reasons)) == (16, 1)
    assert [r.amount for r in low.beaten] == [10]
    assert number(build("fighter 1", gear=["plate-armor"]), "ac", 1, "barkskin").value == 18


def test_finesse_takes_the_better_ability() -> None:
    # Equipment, Weapon Properties, Finesse
    strong = build("fighter 1", "16 10 10 10 10 10", gear=["rapier"])
    assert values(at(strong), "attack.rapier.to_hit", "attack.rapier.damage") == {
        "attack.rapier.to_hit": 5,
        "attack.rapier.damage": 7.5,
    }


def test_ranged_weapons_use_dexterity_and_thrown_ones_their_own() -> None:
    # Equipment, Weapon Properties, Ammunition and Thrown
    document = build("fighter 1", "16 12 10 10 10 10", gear=["longbow", "javelin", "dart", "dagger"])
    assert values(
        at(document),
        "attack.longbow.to_hit",
        "attack.javelin.to_hit",
        "attack.javelin.thrown.to_hit",
        "attack.dart.to_hit",
        "attack.dagger.thrown.damage",
        "attack.longbow.thrown.to_hit",
    ) == {
        "attack.longbow.to_hit": 3,
        "attack.javelin.to_hit": 5,
        "attack.javelin.thrown.to_hit": 5,
        "attack.dart.to_hit": 5,
        "attack.dagger.thrown.damage": 5.5,
        "attack.longbow.thrown.to_hit": None,
    }


def test_no_proficiency_no_bonus() -> None:
    # Equipment, Weapons, Weapon Proficiency
    assert number(build("wizard 1", "10 16 10 10 10 10", gear=["rapier"]), "attack.rapier.to_hit").value == 3


def test_versatile_weapons() -> None:
    # Equipment, Weapon Properties, Versatile
    found = at(build("fighter 1", "16 10 10 10 10 10", gear=["longsword"]))
    assert values(found, "attack.longsword.damage", "attack.longsword.two_handed.damage") == {
        "attack.longsword.damage": 7.5,
        "attack.longsword.two_handed.damage": 8.5,
    }
    both = at(build("fighter 1", "16 10 10 10 10 10", gear=[pick("longsword", "two-handed")]))
    assert both.numbers["attack.longsword.damage"].value == 8.5


def test_two_weapon_fighting() -> None:
    # Combat, Two-Weapon Fighting: no modifier to damage in the other hand, unless it is negative
    pair = at(build("fighter 1", "16 10 10 10 10 10", gear=["2 shortsword"]))
    assert values(pair, "attack.shortsword.damage", "attack.shortsword.off_hand.damage") == {
        "attack.shortsword.damage": 6.5,
        "attack.shortsword.off_hand.damage": 3.5,
    }
    weak = at(build("fighter 1", "8 8 10 10 10 10", gear=["2 shortsword"]))
    assert weak.numbers["attack.shortsword.off_hand.damage"].value == 2.5
    style = build(
        "fighter 1", "16 10 10 10 10 10", gear=["2 shortsword"], lines={"fighter 1": ["style two-weapon-fighting"]}
    )
    assert number(style, "attack.shortsword.off_hand.damage").value == 6.5
    alone = at(build("fighter 1", gear=["shortsword", "longsword"]))
    assert "attack.shortsword.off_hand.damage" not in alone.numbers
    marked = at(build("fighter 1", "16 10 10 10 10 10", gear=["longsword", pick("mace", "off-hand")]))
    assert marked.numbers["attack.mace.off_hand.damage"].value == 3.5


def test_dueling_needs_the_other_hand_free() -> None:
    # Fighter, Fighting Style, Dueling: +2 to damage, one-handed and no other weapon; a shield is no weapon
    style = {"fighter 1": ["style dueling"]}
    free = build("fighter 1", "16 10 10 10 10 10", gear=["longsword", "shield", "longbow"], lines=style)
    assert values(
        at(free), "attack.longsword.damage", "attack.longsword.two_handed.damage", "attack.longbow.damage"
    ) == {
        "attack.longsword.damage": 9.5,
        "attack.longsword.two_handed.damage": 8.5,
        "attack.longbow.damage": 4.5,
    }
    pair = build("fighter 1", "16 10 10 10 10 10", gear=["shortsword", pick("dagger", "off-hand")], lines=style)
    assert number(pair, "attack.shortsword.damage").value == 6.5


def test_archery_is_for_ranged_weapons() -> None:
    # Fighter, Fighting Style, Archery
    document = build(
        "fighter 1", "10 16 10 10 10 10", gear=["longbow", "dagger"], lines={"fighter 1": ["style archery"]}
    )
    assert values(at(document), "attack.longbow.to_hit", "attack.dagger.to_hit", "attack.dagger.thrown.to_hit") == {
        "attack.longbow.to_hit": 7,
        "attack.dagger.to_hit": 5,
        "attack.dagger.thrown.to_hit": 5,
    }


def test_great_weapon_fighting() -> None:
    # Fighter, Fighting Style, Great Weapon Fighting: a d12 that shows 1 or 2 is rolled once more: 22/3 on average
    document = build(
        "fighter 1",
        "16 10 10 10 10 10",
        gear=["greataxe", "longsword"],
        lines={"fighter 1": ["style great-weapon-fighting"]},
    )
    found = at(document)
    assert found.numbers["attack.greataxe.damage"].value == pytest.approx(22 / 3 + 3)
    assert found.numbers["attack.longsword.damage"].value == 7.5
    assert found.numbers["attack.longsword.two_handed.damage"].value == pytest.approx(6.3 + 3)


def test_weapons_of_one_name_and_two_bonuses() -> None:
    found = at(build("fighter 1", "16 10 10 10 10 10", gear=["rapier", "rapier +1"]))
    assert values(found, "attack.rapier.to_hit", "attack.rapier-1.to_hit", "attack.rapier-1.damage") == {
        "attack.rapier.to_hit": 5,
        "attack.rapier-1.to_hit": 6,
        "attack.rapier-1.damage": 8.5,
    }
    only = at(build("fighter 1", "16 10 10 10 10 10", gear=["rapier +1"]))
    assert only.numbers["attack.rapier.to_hit"].value == 6


def test_a_magic_weapon_helps_no_other() -> None:
    # Magic Items, Dagger of Venom: +1 with this weapon
    found = at(build("fighter 1", "10 10 10 10 10 10", gear=["shortsword", "dagger-of-venom"]))
    assert values(found, "attack.shortsword.to_hit", "attack.dagger-of-venom.to_hit") == {
        "attack.shortsword.to_hit": 2,
        "attack.dagger-of-venom.to_hit": 3,
    }


def test_weapons_without_damage_dice() -> None:
    # Equipment, Weapons: a net deals none, a blowgun 1
    found = at(build("fighter 1", "10 14 10 10 10 10", gear=["net", "blowgun"]))
    assert values(found, "attack.net.to_hit", "attack.net.damage", "attack.blowgun.damage") == {
        "attack.net.to_hit": 4,
        "attack.net.damage": None,
        "attack.blowgun.damage": 3,
    }
    assert found.numbers["attack.blowgun.damage"].dice is None


def test_damage_is_never_below_zero() -> None:
    # Combat, Damage Rolls: a dagger with -3: 1d4 - 3 is 0, 0, 0, 1
    found = number(build("wizard 1", "4 4 10 10 10 10", gear=["dagger"]), "attack.dagger.damage")
    assert found.value == 0.25
    assert found.dice == "1d4-3"
    assert number(build("wizard 1", "4 10 10 10 10 10"), "attack.unarmed-strike.damage").value == 0


def test_monk_weapons_and_martial_arts() -> None:
    # Monk, Martial Arts: shortswords and simple melee weapons, neither heavy nor two-handed, without armor or shield
    document = build("monk 5", "10 16 10 10 10 10", gear=["shortsword", "quarterstaff", "greatclub", "club"])
    assert values(
        at(document),
        "attack.shortsword.damage",
        "attack.club.to_hit",
        "attack.club.damage",
        "attack.greatclub.to_hit",
        "attack.unarmed-strike.damage",
    ) == {
        "attack.shortsword.damage": 6.5,
        "attack.club.to_hit": 6,
        "attack.club.damage": 6.5,
        "attack.greatclub.to_hit": 3,
        "attack.unarmed-strike.damage": 6.5,
    }
    armored = build("monk 5", "10 16 10 10 10 10", gear=["leather-armor", "club"])
    assert number(armored, "attack.unarmed-strike.damage").value == 1


def test_cantrips_grow_with_the_character_level() -> None:
    # Spellcasting, Cantrips: 5, 11 and 17, whatever the class levels
    document = build("wizard 1, fighter 19", "10 10 10 10 10 10", lines={"wizard 1": ["cantrip fire-bolt"]})
    dice = [number(document, "attack.fire-bolt.damage", n).dice for n in (1, 4, 5, 10, 11, 16, 17, 20)]
    assert dice == ["1d10", "1d10", "2d10", "2d10", "3d10", "3d10", "4d10", "4d10"]


def test_innate_spells_have_a_save_dc_of_their_own() -> None:
    # Races, Tiefling, Infernal Legacy: Charisma; Races, High Elf, Cantrip: Intelligence
    tiefling = at(build("fighter 1", "10 10 10 10 10 14", species="tiefling"))
    assert tiefling.numbers["casting.tiefling.save_dc"].value == 8 + 2 + 3
    elf = at(build("fighter 1", "10 10 10 15 10 10", species=("high-elf", "cantrip fire-bolt")))
    assert values(elf, "casting.high-elf.save_dc", "attack.fire-bolt.to_hit") == {
        "casting.high-elf.save_dc": 8 + 2 + 3,
        "attack.fire-bolt.to_hit": 2 + 3,
    }


def test_a_bonus_cantrip_of_the_circle_is_one_more() -> None:
    # Druid, Circle of the Land, Bonus Cantrip
    document = build("druid 2", subclasses={"druid": "circle-of-the-land"})
    assert [number(document, "casting.druid.cantrips", n).value for n in (1, 2)] == [2, 3]


def test_secrets_fill_places_among_the_spells_known() -> None:
    # Bard, Magical Secrets are counted in the Spells Known column; those of the College of Lore come on top
    document = build("bard 10", subclasses={"bard": "college-of-lore"})
    assert [number(document, "casting.bard.known", n).value for n in (5, 6, 10)] == [8, 9, 14]


def test_one_casting_class_uses_its_own_table() -> None:
    # Multiclassing, Spellcasting: paladin 1 has no spells yet, so the wizard stands alone
    assert number(build("wizard 3, paladin 1"), "slots.2").value == 2
    assert number(build("ranger 3, fighter 5"), "slots.1").value == 3
    both = build("ranger 3, paladin 3")  # 1 + 1 = caster level 2
    assert [number(both, f"slots.{n}").value for n in (1, 2)] == [3, 0]


def test_pact_slots_stand_beside_ordinary_ones() -> None:
    # Multiclassing, Pact Magic
    document = build("warlock 5, bard 3")
    assert values(at(document), "slots.1", "slots.2", "slots.3", "pact.slots", "pact.slot_level") == {
        "slots.1": 4,
        "slots.2": 2,
        "slots.3": 0,
        "pact.slots": 2,
        "pact.slot_level": 3,
    }


def test_unlimited_uses() -> None:
    # Barbarian, table: rages at level 20
    assert number(build("barbarian 20"), "pool.rage.uses").value == "unlimited"


def test_states_hold_only_where_the_build_can_be_in_them() -> None:
    found = at(build("fighter 2, barbarian 1", gear=["greataxe"]), 1, "rage")
    assert found.numbers["attack.greataxe.damage"].value == 6.5
    assert [n.text for n in found.notes if n.label == "Rage"] == ["not counted: the build has no rage at this level"]
    later = at(build("fighter 2, barbarian 1", gear=["greataxe"]), 3, "rage")
    assert later.numbers["attack.greataxe.damage"].value == 8.5


def test_other_kinds_of_speed() -> None:
    # Spell Descriptions, Fly and Spider Climb; Conditions, Grappled
    document = build("fighter 1", species="human")
    assert values(at(document, 1, "fly", "spider-climb"), "speed.walk", "speed.fly", "speed.climb", "speed.swim") == {
        "speed.walk": 30,
        "speed.fly": 60,
        "speed.climb": 30,
        "speed.swim": None,
    }
    assert values(at(document, 1, "fly", "grappled"), "speed.walk", "speed.fly") == {"speed.walk": 0, "speed.fly": 0}


def test_what_the_gm_gives_counts_with_its_reason() -> None:
    document = build("fighter 1", lines={"fighter 1": [gift("harbour oath", "skill stealth")]})
    found = number(document, "skill.stealth")
    assert found.value == 2
    assert found.reasons[-1].source == "granted by the GM: harbour oath"


def test_weights_are_those_of_bundles() -> None:
    # Equipment: twenty arrows weigh a pound
    found = number(build("fighter 1", gear=["longbow", "30 arrow"]), "carry.weight")
    assert found.value == 2 + 1.5


def test_the_outside_form() -> None:
    found = as_json(number(build("fighter 1", "16 10 10 10 10 10", gear=["longsword"]), "attack.longsword.damage"))
    assert found == {
        "value": 7.5,
        "unit": "damage",
        "dice": "1d8+3",
        "reasons": [
            {"label": "1d8, Longsword", "amount": 4.5, "source": "SRD 5.1, Equipment, Weapons, Longsword"},
            {
                "label": "Strength 16",
                "amount": 3,
                "source": "SRD 5.1, Using Ability Scores, Ability Scores and Modifiers",
            },
        ],
        "beaten": [],
    }


def test_dice_arithmetic() -> None:
    assert Roll.of("2d6").mean == 7
    assert str(Roll.of("1d8+1d6").plus(4)) == "1d8+1d6+4"
    assert str(Roll.of("1d4").plus(-1)) == "1d4-1"
    assert str(Roll.of(3)) == "3"
    assert Roll.of("1d8 + 3").flat == 3
    # by hand: a d4 rolled again on 1 or 2: (3 + 4 + 2 x 2.5) / 4 = 3
    assert float(reroll_gain(Roll.of("1d4"), 2)) == 0.5
    assert float(mean_not_below_zero(Roll.of("1d4").plus(-2))) == (0 + 0 + 1 + 2) / 4
    with pytest.raises(ValueError, match="no sum of dice"):
        Roll.of("half of it")


def test_heavy_weapons_are_too_big_for_the_small() -> None:
    # Equipment, Weapon Properties, Heavy
    small = at(build("fighter 1", gear=["greatsword", "shortsword"], species="lightfoot-halfling"))
    assert [n.label for n in small.notes if "heavy" in n.text] == ["Greatsword"]
    tall = at(build("fighter 1", gear=["greatsword"], species="human"))
    assert [n.label for n in tall.notes if "heavy" in n.text] == []


def test_two_copies_of_one_thing_help_once() -> None:
    # Magic Items, Attunement: never to more than one copy of an item
    gear = [pick("cloak-of-protection", "attuned"), pick("cloak-of-protection", "attuned")]
    assert number(build("fighter 1", gear=gear), "ac").value == 11
