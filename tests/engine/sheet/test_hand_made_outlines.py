"""Builds as people write them, their figures worked out by hand from the tables of SRD 5.1.

Each test names the section; the working stands beside each figure. Scores are `final` where nothing else is asked.
"""

from collections.abc import Sequence

import pytest

from engine.audit import audit
from engine.build.document import Build
from engine.build.outline import parse_outline
from engine.odds.asked import Asked, Use
from engine.odds.sources import Figures, filled
from engine.odds.sources.filled import Filled
from engine.sheet import Sheet, gather, sheet
from engine.sheet.spells import spells_at
from tests.engine.sheet.make import catalog


def written(scores: str, levels: str, *headers: str) -> Build:
    """Return the build of an outline. scores: six, final; levels: lines parted by ` / `."""
    names = ("Str", "Dex", "Con", "Int", "Wis", "Cha")
    six = ", ".join(f"{name} {score}" for name, score in zip(names, scores.split(), strict=True))
    text = "\n".join(["Build: Tide Hand", f"Scores: {six} (final)", *headers, *levels.split(" / ")]) + "\n"
    build = parse_outline(text, catalog())
    assert isinstance(build, Build), build
    return build


def at(build: Build, level: int = 0, states: Sequence[str] = ()) -> Sheet:
    """Return the sheet at a level, 0 for the last."""
    return sheet(build, catalog(), level or build.top, states)


def values(build: Build, *names: str, level: int = 0, states: Sequence[str] = ()) -> list[object]:
    """Return numbers of the sheet in the order asked for."""
    numbers = at(build, level, states).numbers
    return [numbers[name].value if name in numbers else None for name in names]


def noted(build: Build, level: int = 0, states: Sequence[str] = ()) -> list[str]:
    """Return the notes as `label: text`."""
    return [f"{note.label}: {note.text}" for note in at(build, level, states).notes]


def attack(build: Build, weapon: str, states: Sequence[str] = ()) -> Filled:
    """Return the question that an attack of the build puts."""
    asked = Asked(kind="attack", fields={"ac": 15}, use=Use(kind="attack", name=weapon))
    found = filled(asked, [Figures(build, catalog(), build.top, states)], catalog())
    assert isinstance(found, Filled), found
    return found


def test_the_unarmored_defense_of_the_first_class_holds() -> None:
    """Multiclassing, Class Features, Unarmored Defense. Dex 16 +3, Con 14 +2, Wis 18 +4."""
    scores = "12 16 14 8 18 8"
    barbarian_first = "1 Barbarian / 2 Monk"
    monk_first = "1 Monk / 2 Barbarian"
    assert values(written(scores, barbarian_first), "ac") == [10 + 3 + 2]
    assert values(written(scores, monk_first), "ac") == [10 + 3 + 4]
    # A shield goes with the barbarian's only; without the monk's, 10 + Dexterity and the shield remain.
    assert values(written(scores, barbarian_first, "Gear: Shield"), "ac") == [10 + 3 + 2 + 2]
    assert values(written(scores, monk_first, "Gear: Shield"), "ac") == [10 + 3 + 2]
    # Draconic Resilience is another rule, so the better of the two counts: 13 + 3 against 10 + 3 + 2.
    draconic = "1 Barbarian / 2 Sorcerer (Draconic Bloodline): dragon Red"
    assert values(written(scores, draconic), "ac") == [13 + 3]


@pytest.mark.parametrize(("level", "uses", "damage"), [(1, 2, 2), (3, 3, 2), (6, 4, 2), (9, 4, 3), (12, 5, 3),
                                                       (16, 5, 4), (17, 6, 4), (20, "unlimited", 4)])  # fmt: skip
def test_rage(level: int, uses: object, damage: int) -> None:
    """Classes, Barbarian, table and Rage. Str 16 +3; final scores are not lifted by Primal Champion."""
    build = written("16 14 14 8 10 8", f"1-{level} Barbarian" if level > 1 else "1 Barbarian", "Gear: Greatsword")
    assert values(build, "pool.rage.uses") == [uses]
    assert values(build, "attack.greatsword.damage") == [7 + 3]
    assert values(build, "attack.greatsword.damage", states=("rage",)) == [7 + 3 + damage]
    on = noted(build, states=("rage",))
    assert "Rage: resistance to bludgeoning, piercing, slashing" in on
    assert "Rage: advantage on Strength checks" in on
    assert "Rage: advantage on Strength saves" in on
    assert not any("resistance" in note for note in noted(build))


def test_rage_gives_nothing_in_heavy_armor() -> None:
    """Classes, Barbarian, Rage: the benefits need that no heavy armor is worn."""
    build = written("16 14 14 8 10 8", "1 Fighter / 2 Barbarian", "Gear: Chain Mail, Greatsword")
    assert values(build, "attack.greatsword.damage", states=("rage",)) == [7 + 3]
    assert not any("resistance" in note for note in noted(build, states=("rage",)))


@pytest.mark.parametrize(("level", "die", "speed"), [(1, 4, 0), (2, 4, 10), (5, 6, 10), (6, 6, 15), (10, 6, 20),
                                                     (11, 8, 20), (14, 8, 25), (17, 10, 25), (18, 10, 30)])  # fmt: skip
def test_martial_arts_and_unarmored_movement(level: int, die: int, speed: int) -> None:
    """Classes, Monk, table. Dex 18 +4 counts for bare hands and monk weapons; a human walks 30 feet."""
    levels = f"1-{level} Monk" if level > 1 else "1 Monk"
    bonus = 2 + (level - 1) // 4
    build = written("10 18 12 8 16 8", levels, "Species: Human (language Giant)", "Gear: Quarterstaff")
    mean = (die + 1) / 2 + 4
    assert values(build, "attack.unarmed-strike.damage", "attack.unarmed-strike.to_hit") == [mean, 4 + bonus]
    assert values(build, "speed.walk") == [30 + speed]
    # A quarterstaff's own d6 stands as long as the monk's die is smaller.
    assert values(build, "attack.quarterstaff.damage") == [(max(die, 6) + 1) / 2 + 4]
    shielded = written("10 18 12 8 16 8", levels, "Species: Human (language Giant)", "Gear: Quarterstaff, Shield")
    assert values(shielded, "attack.unarmed-strike.damage", "speed.walk") == [1 + 0, 30]


@pytest.mark.parametrize(("charisma", "bonus"), [(8, 1), (10, 1), (13, 1), (16, 3), (20, 5)])
def test_aura_of_protection(charisma: int, bonus: int) -> None:
    """Classes, Paladin, Aura of Protection: Charisma modifier, at least +1, from level 6 on all saves."""
    build = written(f"14 10 12 8 14 {charisma}", "1-6 Paladin")
    modifier = (charisma - 10) // 2
    assert values(build, "save.str", "save.dex", "save.con", "save.int") == [2 + bonus, bonus, 1 + bonus, -1 + bonus]
    assert values(build, "save.wis", "save.cha") == [2 + 3 + bonus, modifier + 3 + bonus]
    assert values(build, "save.str", "save.wis", level=5) == [2, 2 + 3]


def test_divine_smite_by_the_slot() -> None:
    """Classes, Paladin, Divine Smite: 2d8 for a 1st-level slot, 1d8 more a slot level, 5d8 at most."""
    build = written("16 10 14 8 10 14", "1-17 Paladin", "Gear: Longsword, Shield")
    smite = "2d8 radiant extra damage per use of slots (1d8 more for each slot level above 1; 5d8 at most)"
    assert f"Divine Smite: {smite}" in noted(build)
    figures = Figures(build, catalog(), 17)
    for slot, dice in ((1, "2d8"), (2, "3d8"), (3, "4d8"), (4, "5d8"), (5, "5d8")):
        asked = Asked(
            kind="attack",
            fields={"ac": 15, "pool": "Divine Smite"},
            use=Use(kind="attack", name="Longsword"),
            slot=slot,
        )
        found = filled(asked, [figures], catalog())
        assert isinstance(found, Filled), found
        assert found.question.pool == dice


def test_channel_divinity_of_two_classes() -> None:
    """Multiclassing, Channel Divinity: cleric 6 / paladin 4 has two uses, the cleric's; effects of both."""
    build = written("14 10 12 8 16 14", "1-6 Cleric / 7-10 Paladin", "Gear: Mace")
    assert values(build, "pool.channel-divinity.uses") == [2]
    assert values(build, "pool.channel-divinity.uses", level=5) == [1]
    alone = written("14 10 12 8 10 14", "1-4 Paladin")
    assert values(alone, "pool.channel-divinity.uses") == [1]
    assert values(written("14 10 12 8 16 14", "1-18 Cleric"), "pool.channel-divinity.uses") == [3]


@pytest.mark.parametrize(("level", "limit"), [
    (2, "beasts of challenge 1/4 or less, without swim or fly speed, for 1 hour"),
    (3, "beasts of challenge 1/4 or less, without swim or fly speed, for 1 hour"),
    (4, "beasts of challenge 1/2 or less, without fly speed, for 2 hours"),
    (8, "beasts of challenge 1 or less, for 4 hours"),
])  # fmt: skip
def test_wild_shape(level: int, limit: str) -> None:
    """Classes, Druid, Beast Shapes (NOTES A5 for the headings) and Wild Shape: hours are half the level."""
    build = written("8 14 14 10 16 8", f"1-{level} Druid")
    assert f"Wild Shape: {limit}" in noted(build)
    assert values(build, "pool.wild-shape.uses") == [2]


def test_wild_shape_without_end() -> None:
    """Classes, Druid, Archdruid."""
    assert values(written("8 14 14 10 16 8", "1-20 Druid"), "pool.wild-shape.uses") == ["unlimited"]


def test_land_spells_are_prepared_and_take_no_place() -> None:
    """Classes, Druid, Circle Spells, Swamp: level 3 Darkness and Acid Arrow, 5 Water Walk and Stinking Cloud."""
    levels = "1 Druid / 2 Druid (Circle of the Land) / 3 Druid: land Swamp / 4-5 Druid"
    build = written("8 14 14 10 16 8", levels)
    assert values(build, "casting.druid.prepared") == [3 + 5]

    def ready(level: int) -> set[str]:
        return {learned.spell for learned in spells_at(gather(build, catalog()), level)}

    assert {"darkness", "acid-arrow"} <= ready(3)
    assert "water-walk" not in ready(4)
    assert {"darkness", "acid-arrow", "water-walk", "stinking-cloud"} <= ready(5)


def test_draconic_resilience_counts_sorcerer_levels_only() -> None:
    """Classes, Sorcerer, Draconic Resilience. Con 14 +2: 8 + 2; sorcerer 4 + 2 + 1 each; rogue 5 + 2."""
    levels = "1 Rogue / 2 Sorcerer (Draconic Bloodline): dragon Gold / 3-4 Sorcerer / 5 Rogue"
    build = written("8 16 14 10 10 16", levels)
    assert values(build, "hp.max", "ac") == [(8 + 2) + 3 * (4 + 2 + 1) + (5 + 2), 13 + 3]
    armored = written("8 16 14 10 10 16", "1 Sorcerer (Draconic Bloodline): dragon Gold", "Gear: Leather Armor, Shield")
    # Armor worn instead: 11 + 3 and the shield, whatever the scales.
    assert values(armored, "ac") == [11 + 3 + 2]


@pytest.mark.parametrize("level", [2, 5, 11, 20])
def test_font_of_magic(level: int) -> None:
    """Classes, Sorcerer, table: as many points as levels from the 2nd on."""
    build = written("8 14 14 10 10 16", f"1-{level} Sorcerer")
    assert values(build, "pool.sorcery-points.uses") == [level]
    assert values(build, "pool.sorcery-points.uses", level=1) == [None]
    slots = "A bonus action makes a slot of level 1, 2, 3, 4 or 5 for 2, 3, 5, 6 or 7 points, until the long rest."
    assert f"Font of Magic: {slots}" in noted(build)


def test_pact_slots_beside_ordinary_ones() -> None:
    """Multiclassing, Spell Slots, Pact Magic: warlock 5 has two slots of level 3; sorcerer 3 its own 4 and 2."""
    build = written("8 14 14 10 10 16", "1-3 Sorcerer / 4-8 Warlock")
    assert values(build, "slots.1", "slots.2", "slots.3") == [4, 2, 0]
    assert values(build, "pact.slots", "pact.slot_level") == [2, 3]
    assert values(build, "casting.sorcerer.top_level", "casting.warlock.top_level") == [2, 3]
    assert values(build, "casting.sorcerer.known", "casting.warlock.known") == [4, 6]


def test_extra_attack_does_not_add_up() -> None:
    """Multiclassing, Extra Attack: not with another, nor with Thirsting Blade; a fighter's third stays."""
    two = written("16 14 14 8 13 16", "1-5 Fighter / 6-10 Ranger / 11-15 Paladin")
    assert values(two, "attacks.per_action") == [2]
    assert [r.label for r in at(two).numbers["attacks.per_action"].beaten].count("Extra Attack") == 2
    blade = written("16 14 14 8 13 16", "1-5 Fighter / 6-7 Warlock / 8 Warlock: boon Pact of the Blade / 9 Warlock"
                    " / 10 Warlock: invocation Thirsting Blade")  # fmt: skip
    assert values(blade, "attacks.per_action") == [2]
    assert values(written("16 14 14 8 13 16", "1-11 Fighter / 12-16 Ranger"), "attacks.per_action") == [3]
    assert values(written("16 14 14 8 13 16", "1-20 Fighter"), "attacks.per_action") == [4]


@pytest.mark.parametrize(("level", "dice"), [(1, 1), (2, 1), (3, 2), (5, 3), (11, 6), (19, 10), (20, 10)])
def test_sneak_attack_by_rogue_level(level: int, dice: int) -> None:
    """Classes, Rogue, table. Levels of other classes count nothing; it goes with finesse and ranged weapons."""
    levels = f"1-{level} Rogue" if level > 1 else "1 Rogue"
    build = written("16 16 12 10 10 8", levels, "Gear: Rapier, Mace")
    assert any(note.startswith(f"Sneak Attack: {dice}d6 extra damage once a turn") for note in noted(build))
    assert attack(build, "Rapier").question.once_per_turn == f"{dice}d6"
    assert not attack(build, "Mace").question.once_per_turn


def test_champion_and_extra_critical_dice() -> None:
    """Classes, Fighter, Champion; Barbarian, Brutal Critical; Races, Half-Orc, Savage Attacks."""
    champion = written("16 14 14 8 10 8", "1-2 Fighter / 3 Fighter (Champion) / 4-15 Fighter", "Gear: Greataxe")
    assert attack(champion, "Greataxe").question.critical_from == 18
    early = written("16 14 14 8 10 8", "1-2 Fighter / 3 Fighter (Champion)", "Gear: Greataxe")
    assert attack(early, "Greataxe").question.critical_from == 19
    # Two features roll a die each, so they add up: 2 + 1 at barbarian 13.
    orc = written("18 14 14 8 10 8", "1-13 Barbarian", "Species: Half-Orc", "Gear: Greataxe, Longbow")
    dice = str(attack(orc, "Greataxe").question.critical_dice)
    assert sorted(dice.split("+")) == ["1d12", "2d12"]
    assert not attack(orc, "Longbow").question.critical_dice
    for level, count in ((9, 1), (13, 2), (17, 3)):
        brute = written("18 14 14 8 10 8", f"1-{level} Barbarian", "Gear: Greatsword")
        assert attack(brute, "Greatsword").question.critical_dice == f"{count}d6"
    young = written("18 14 14 8 10 8", "1-8 Barbarian", "Gear: Greatsword")
    assert not attack(young, "Greatsword").question.critical_dice


def test_fighting_styles() -> None:
    """Classes, Fighter, Fighting Style. Str 16 +3, Dex 14 +2, bonus +2."""
    scores = "16 14 14 8 10 8"

    def styled(style: str, gear: str) -> Build:
        return written(scores, f"1 Fighter: style {style}", f"Gear: {gear}")

    assert values(styled("Archery", "Longbow"), "attack.longbow.to_hit") == [2 + 2 + 2]
    assert values(styled("Defense", "Chain Mail"), "ac") == [16 + 1]
    assert values(styled("Defense", "Longsword"), "ac") == [10 + 2]  # only in armor
    assert values(styled("Dueling", "Longsword, Shield"), "attack.longsword.damage") == [4.5 + 3 + 2]
    assert values(styled("Dueling", "Greatsword"), "attack.greatsword.damage") == [7 + 3]
    # 2d6, ones and twos rolled once more: a die's mean is (3 + 4 + 5 + 6 + 2 x 3.5) / 6 = 25/6.
    assert values(styled("Great Weapon Fighting", "Greatsword"), "attack.greatsword.damage") == pytest.approx(
        [2 * 25 / 6 + 3]
    )
    both = "Shortsword, Dagger"
    assert values(styled("Two-Weapon Fighting", both), "attack.dagger.off_hand.damage") == [2.5 + 3]
    assert values(styled("Dueling", both), "attack.dagger.off_hand.damage") == [2.5]


def test_magical_secrets_come_from_any_list() -> None:
    """Classes, Bard, Magical Secrets (10th: among the 14 known), Lore, Additional Magical Secrets (6th: besides)."""
    levels = (
        "1 Bard: spells Healing Word, Sleep, Heroism, Charm Person / 2 Bard: spell Faerie Fire"
        " / 3 Bard (College of Lore): spell Invisibility / 4 Bard: spell Suggestion / 5 Bard: spell Hypnotic Pattern"
        " / 6 Bard: secrets Fireball, Counterspell; spell Fear / 7 Bard: spell Polymorph / 8 Bard: spell Confusion"
        " / 9 Bard: spell Hold Monster / 10 Bard: secrets Fly, Haste"
    )
    build = written("8 14 14 10 10 16", levels)
    assert values(build, "casting.bard.known") == [14]
    codes = {(f.code, f.level) for f in audit(build, catalog())}
    assert not {c for c in codes if c[0].startswith(("spell-", "spells-"))}
    # One more secret at the 10th than the class gives.
    more = written("8 14 14 10 10 16", levels.replace("Fly, Haste", "Fly, Haste, Bless"))
    assert any(f.code == "choice-too-many" and f.level == 10 for f in audit(more, catalog()))
    # Of a level that the bard has slots for: a 6th-level spell needs bard 11.
    high = written("8 14 14 10 10 16", levels.replace("Fly, Haste", "Fly, Disintegrate"))
    assert any(f.code == "spell-level-too-high" and f.level == 10 for f in audit(high, catalog()))


def test_jack_of_all_trades_and_remarkable_athlete_on_one_build() -> None:
    """Bard 2 and Champion 7, level 9, bonus +4: half down 2, half up 2; at level 13, bonus +5: 2 and 3."""
    build = written("14 16 12 10 12 14", "1-2 Fighter / 3 Fighter (Champion) / 4-7 Fighter / 8-13 Bard")
    assert values(build, "check.str", "check.dex", "check.con") == [2 + 3, 3 + 3, 1 + 3]
    assert values(build, "check.int", "check.wis", "check.cha") == [0 + 2, 1 + 2, 2 + 2]
    assert values(build, "initiative") == [3 + 3]
    assert values(build, "check.str", "check.int", level=9) == [2 + 2, 0 + 2]
    assert values(build, "check.str", "check.int", level=8) == [2 + 2, 0]  # bard 1, fighter 7, bonus +3
    # They do not add up, nor to a proficiency bonus.
    trained = written("14 16 12 10 12 14", "1 Fighter: skills Athletics, Perception / 2 Fighter / 3 Fighter (Champion)"
                      " / 4-7 Fighter / 8-13 Bard")  # fmt: skip
    assert values(trained, "skill.athletics", "skill.acrobatics") == [2 + 5, 3 + 3]


def test_reliable_talent() -> None:
    """Classes, Rogue, Reliable Talent: 9 or lower counts as 10 where the whole bonus is added. Level 11, bonus +4."""
    build = written("8 16 12 10 14 8", "1 Rogue: skills Stealth, Perception, Acrobatics, Insight; expertise Stealth, "
                    "Perception / 2-11 Rogue")  # fmt: skip
    assert values(build, "skill.stealth", "skill.stealth.lowest") == [3 + 8, 10 + 11]
    assert values(build, "skill.acrobatics", "skill.acrobatics.lowest") == [3 + 4, 10 + 7]
    assert values(build, "skill.athletics", "skill.athletics.lowest") == [-1, 1 - 1]
    assert values(build, "skill.stealth.lowest", level=10) == [1 + 3 + 8]
    assert values(build, "skill.perception.passive") == [10 + 2 + 8]


def test_hit_points_follow_constitution() -> None:
    """Beyond 1st Level; Constitution, Hit Points: a higher modifier counts for all levels."""
    headers = "Scores: Str 15, Dex 10, Con 13, Int 8, Wis 12, Cha 14 (standard array)"
    text = f"Build: Quay Guard\n{headers}\n1-3 Fighter\n4 Fighter: +1 Con, +1 Str\n5 Fighter\n"
    build = parse_outline(text, catalog())
    assert isinstance(build, Build)
    assert values(build, "hp.max", level=3) == [(10 + 1) + 2 * (6 + 1)]
    assert values(build, "hp.max", level=4) == [(10 + 2) + 3 * (6 + 2)]
    rolled = parse_outline(text.replace("5 Fighter", "5 Fighter hp 9"), catalog())
    assert isinstance(rolled, Build)
    assert values(rolled, "hp.max") == [(10 + 2) + 3 * (6 + 2) + 9 + 2]
    amulet = parse_outline(text.replace("1-3 Fighter", "Gear: Amulet of Health (attuned)\n1-3 Fighter"), catalog())
    assert isinstance(amulet, Build)
    assert values(amulet, "hp.max") == [(10 + 4) + 4 * (6 + 4)]  # Constitution 19


@pytest.mark.parametrize(("before", "after"), [(17, 21), (18, 22), (20, 24)])
def test_primal_champion(before: int, after: int) -> None:
    """Classes, Barbarian, Primal Champion: Strength and Constitution +4, to 24 at most."""
    text = (
        f"Build: Storm Arm\nScores: Str {before}, Dex 10, Con {before}, Int 8, Wis 10, Cha 8 (manual)\n1-20 Barbarian\n"
    )
    build = parse_outline(text, catalog())
    assert isinstance(build, Build)
    assert values(build, "ability.str.score", "ability.con.score") == [after, after]
    assert values(build, "ability.str.score", level=19) == [before]


def test_half_casters_in_the_slot_table() -> None:
    """Multiclassing, Spell Slots: halves are rounded down together with full levels; one class has its own table."""
    assert values(written("14 10 12 8 10 14", "1-5 Paladin"), "slots.1", "slots.2") == [4, 2]
    assert values(written("14 14 12 8 14 10", "1-5 Ranger"), "slots.1", "slots.2") == [4, 2]
    # Ranger 4 / wizard 3: 2 + 3 = 5.
    assert values(written("8 14 12 16 14 10", "1-4 Ranger / 5-7 Wizard"), "slots.1", "slots.2", "slots.3") == [4, 3, 2]
    # Paladin 5 / ranger 3: 2 + 1 = 3.
    assert values(written("14 14 12 8 14 14", "1-5 Paladin / 6-8 Ranger"), "slots.1", "slots.2") == [4, 2]
    # Paladin 2 / ranger 1: a ranger casts nothing at level 1, so the paladin's own table holds.
    assert values(written("14 14 12 8 14 14", "1-2 Paladin / 3 Ranger"), "slots.1", "slots.2") == [2, 0]
    # Fighter levels count nothing beside a wizard's.
    assert values(written("14 14 12 16 14 14", "1-5 Fighter / 6-7 Wizard"), "slots.1", "slots.2") == [3, 0]
