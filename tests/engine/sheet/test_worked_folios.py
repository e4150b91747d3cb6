"""The three worked folios of our own coast, and a build of twenty levels that uses all of them.

Every number of the build at level 20 is worked out by hand, the working beside it: from the tables of SRD 5.1, from
tests/data/folios, and from nothing else. Coast Pilot 9, Fighter 5, Wizard 6.
"""

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

import pytest

from engine.audit import audit, difference
from engine.build.document import Build
from engine.build.outline import parse_outline, print_outline
from engine.odds.asked import Asked, Use
from engine.odds.check import CheckAnswer
from engine.odds.questions import ask
from engine.odds.save import SaveAnswer
from engine.odds.sources import Figures, Filled, filled
from engine.rules.catalog import Catalog
from engine.rules.folio import Folio
from engine.rules.grants import GRANT_KINDS
from engine.rules.references import grants_in
from engine.sheet import gather, sheet, timeline
from engine.store.folio_files import load_folder, load_shipped

DATA: Final = Path(__file__).parents[2] / "data"
SEED: Final = Path(__file__).parents[3] / "bot" / "room" / "seed"
NAMES: Final = ("coast-pilots", "harbour-watch.yaml", "driftborn.yaml")
OUTLINE: Final = (DATA / "bell-pilot.outline").read_text(encoding="utf-8")


@lru_cache(maxsize=1)
def folios() -> tuple[Folio, ...]:
    return tuple(load_folder(DATA / "folios" / name) for name in NAMES)


@lru_cache(maxsize=1)
def coast() -> Catalog:
    return Catalog([load_shipped("srd-5.1"), *folios()])


def parsed(text: str = OUTLINE) -> Build:
    build = parse_outline(text, coast())
    assert isinstance(build, Build), build
    return build


# Scores at 20: Str 10; Dex 14; Con 12 + 1 (Driftborn) = 13; Int 13 + 1 (Pilot 8) + 2 (Wizard 4) = 16;
# Wis 15 + 2 (Driftborn) + 1 (Pilot 8) + 2 (Fighter 4) = 20; Cha 8. Modifiers 0, 2, 1, 3, 5, -1.
# Proficiency bonus at level 20: 6. Proficient: Perception, Survival (Pilot), History, Persuasion (clerk).
STR, DEX, CON, INT, WIS, CHA = 0, 2, 1, 3, 5, -1
BONUS: Final = 6
SKILLS: Final = {
    "acrobatics": DEX, "animal-handling": WIS, "arcana": INT, "athletics": STR, "deception": CHA,
    "history": INT + BONUS, "insight": WIS, "intimidation": CHA, "investigation": INT, "medicine": WIS, "nature": INT,
    "perception": WIS + BONUS, "performance": CHA, "persuasion": CHA + BONUS, "religion": INT, "sleight-of-hand": DEX,
    "stealth": DEX, "survival": WIS + BONUS,
}  # fmt: skip
# A 1 is the lowest face, except that Sure Footing counts a 7 or lower as 8.
LOWEST: Final = {skill: 1 + bonus for skill, bonus in SKILLS.items()} | {
    "athletics": 8 + STR,
    "survival": 8 + WIS + BONUS,
}
# First Watch adds 2 to passive Perception.
PASSIVE: Final = {skill: 10 + bonus for skill, bonus in SKILLS.items()} | {"perception": 10 + WIS + BONUS + 2}

AT_20: Final[dict[str, Any]] = {
    "ability.str.score": 10, "ability.dex.score": 14, "ability.con.score": 13, "ability.int.score": 16,
    "ability.wis.score": 20, "ability.cha.score": 8,
    "ability.str.modifier": STR, "ability.dex.modifier": DEX, "ability.con.modifier": CON, "ability.int.modifier": INT,
    "ability.wis.modifier": WIS, "ability.cha.modifier": CHA,
    "check.str": STR, "check.dex": DEX, "check.con": CON, "check.int": INT, "check.wis": WIS, "check.cha": CHA,
    "proficiency_bonus": BONUS,
    "level.character": 20, "level.coast-pilot": 9, "level.fighter": 5, "level.wizard": 6,
    # d8: 8, then 8 levels of 5; d10: 5 levels of 6; d6: 6 levels of 4; Constitution +1 on 20 levels.
    "hp.max": 8 + 8 * 5 + 5 * 6 + 6 * 4 + 20,
    "hit_dice.d6": 6, "hit_dice.d8": 9, "hit_dice.d10": 5,
    # Leather 11, Dexterity 2, and Boathook Fighting in light armor 1.
    "ac": 14,
    # Dexterity 2; First Watch: half of Wisdom 5, rounded down, at least 1.
    "initiative": DEX + 2,
    # The first class gives Wisdom and Dexterity.
    "save.str": STR, "save.dex": DEX + BONUS, "save.con": CON, "save.int": INT, "save.wis": WIS + BONUS,
    "save.cha": CHA,
    **{f"skill.{skill}": value for skill, value in SKILLS.items()},
    **{f"skill.{skill}.lowest": value for skill, value in LOWEST.items()},
    **{f"skill.{skill}.passive": value for skill, value in PASSIVE.items()},
    # Tools: the proficiency part alone; Lead Line doubles it for the navigator's.
    "tool.cartographers-tools": 6, "tool.navigators-tools": 12,
    # Driftborn 30; Bowline climbs and Reef Sense swims as fast as that.
    "speed.walk": 30, "speed.climb": 30, "speed.swim": 30, "senses.blindsight": 10,
    # Strength 10 times 15, twice for Sheet Bend.
    "carry.capacity": 300,
    # Leather 10, quarterstaff 4, two handaxes 4, tools 2, clothes 3, pouch 1, spellbook 3; ink and pen weigh nothing.
    "carry.weight": 27,
    "attunement.used": 0,
    # 8 + 6 + Wisdom 5; 6 + 5. Prepared: Wisdom 5 + half of 9 rounded up. Third-level spells from Pilot 9 on.
    "casting.coast-pilot.save_dc": 19, "casting.coast-pilot.attack": 11, "casting.coast-pilot.cantrips": 2,
    "casting.coast-pilot.prepared": 5 + 5, "casting.coast-pilot.top_level": 3,
    # 8 + 6 + Intelligence 3; 6 + 3. Prepared: 3 + 6. Book: 6, and 2 for each of five more levels.
    "casting.wizard.save_dc": 17, "casting.wizard.attack": 9, "casting.wizard.cantrips": 4,
    "casting.wizard.prepared": 9, "casting.wizard.spellbook": 16, "casting.wizard.top_level": 3,
    # Half of Pilot 9 rounded up is 5, Wizard 6: row 11 of the multiclass table, 4 3 3 3 2 1; Deep Well adds one first.
    "slots.1": 4 + 1, "slots.2": 3, "slots.3": 3, "slots.4": 3, "slots.5": 2, "slots.6": 1,
    "slots.7": 0, "slots.8": 0, "slots.9": 0, "pact.slots": 0, "pact.slot_level": 0,
    # Strength 0 + 6; Boathook Fighting adds 1 with both hands. d6 is 3.5, d8 is 4.5 on average.
    "attack.quarterstaff.to_hit": 6, "attack.quarterstaff.damage": 3.5,
    "attack.quarterstaff.two_handed.to_hit": 7, "attack.quarterstaff.two_handed.damage": 4.5,
    # Thrown, Boarding Line adds 1 to the damage; the other hand adds no modifier, and there is none.
    "attack.handaxe.to_hit": 6, "attack.handaxe.damage": 3.5,
    "attack.handaxe.thrown.to_hit": 6, "attack.handaxe.thrown.damage": 4.5,
    "attack.handaxe.off_hand.to_hit": 6, "attack.handaxe.off_hand.damage": 3.5,
    "attack.unarmed-strike.to_hit": 6, "attack.unarmed-strike.damage": 1,
    # The spur strikes with Dexterity: 2 + 6; d4 is 2.5, and 2.
    "attack.heel-spur.to_hit": 8, "attack.heel-spur.damage": 4.5,
    "attacks.per_action": 2,
    # 6 + Intelligence 3; four dice from character level 17 on: 4 x 5.5 and 4 x 4.5.
    "attack.fire-bolt.to_hit": 9, "attack.fire-bolt.damage": 22,
    "attack.ray-of-frost.to_hit": 9, "attack.ray-of-frost.damage": 18,
    # The table at Pilot 9.
    "pool.soundings.uses": 4, "pool.soundings.die": "1d6", "pool.high-water.uses": 1,
    "pool.steady-needle.uses": 3, "pool.steady-needle.die": "1d4",
    "pool.second-wind.uses": 1, "pool.second-wind.die": "1d10", "pool.action-surge.uses": 1,
    # Half of Wizard 6 in slot levels.
    "pool.arcane-recovery.uses": 3,
    # Intelligence 3; d4 below Wizard 10.
    "pool.ebb.uses": 3, "pool.ebb.die": "1d4",
}  # fmt: skip


def test_every_number_at_level_twenty() -> None:
    found = sheet(parsed(), coast(), 20)
    assert {name: number.value for name, number in found.numbers.items()} == AT_20
    assert len(AT_20) >= 150


# Numbers on the way, where a folio's table or a level's grant makes them change.
ON_THE_WAY: Final[dict[int, dict[str, Any]]] = {
    # Pilot 1: Wisdom 17 gives 3; prepared 3 + 1; two first-level slots at once, since half of 1 is rounded up.
    1: {"casting.coast-pilot.prepared": 4, "slots.1": 2, "pool.soundings.die": "1d4", "pool.soundings.uses": 2,
        "skill.perception.passive": 10 + 3 + 2, "initiative": 2, "hp.max": 8 + 1, "ac": 11 + 2},
    # Pilot 2: First Watch; half of Wisdom 3 is 1.
    2: {"skill.perception.passive": 10 + 3 + 2 + 2, "initiative": 2 + 1, "speed.climb": 30},
    # Pilot 3: half of 3 is 2, three slots; no second-level spells yet.
    3: {"slots.1": 3, "slots.2": 0, "casting.coast-pilot.prepared": 3 + 2, "pool.high-water.uses": 1},
    # Pilot 5: proficiency bonus 3 and twice that with the tools; row 3: 4 and 2; the die grows.
    5: {"tool.navigators-tools": 6, "slots.1": 4, "slots.2": 2, "pool.soundings.die": "1d6", "pool.soundings.uses": 3},
    6: {"senses.blindsight": 10, "speed.swim": 30},
    # Pilot 8: Wisdom 18 gives 4; half of it is 2; prepared 4 + 4.
    8: {"casting.coast-pilot.prepared": 8, "initiative": 4, "ability.wis.score": 18},
    9: {"slots.3": 2, "carry.capacity": 300, "casting.coast-pilot.prepared": 4 + 5},
    # Fighter 3: Survival 8 + 4 + proficiency bonus 4, Athletics 8 + 0.
    12: {"skill.survival.lowest": 16, "skill.athletics.lowest": 8},
    # Wizard 1: row 5 + 1 = 6 of the multiclass table: 4 3 3.
    15: {"slots.1": 4, "slots.2": 3, "slots.3": 3, "slots.4": 0},
    # Wizard 6, one level before: row 10 and no Deep Well.
    19: {"slots.1": 4, "slots.5": 2, "slots.6": 0},
}  # fmt: skip


@pytest.mark.parametrize("level", ON_THE_WAY)
def test_numbers_on_the_way(level: int) -> None:
    numbers = timeline(parsed(), coast())[level - 1].numbers
    wanted = ON_THE_WAY[level]
    assert {name: numbers[name].value if name in numbers else 0 for name in wanted} == wanted


def test_sums_and_sources_of_folio_content() -> None:
    numbers = sheet(parsed(), coast(), 20).numbers
    for name, number in numbers.items():
        if not isinstance(number.value, str) and len(number.reasons) > 1:
            assert sum(float(r.amount) for r in number.reasons) == number.value, name
    sources = {r.source for number in numbers.values() for r in number.reasons}
    assert "Harbour Watch, Harbour Watch, Sure Footing" in sources  # the folio's title, the subclass, the feature
    assert "Coast Pilots, Classes, Coast Pilot, Tide Magic" in sources
    assert not [s for s in sources if "None" in s]


def test_the_audit_has_nothing_to_say() -> None:
    """A legal build of folio content gets no finding, whatever the severity; one pick too many gets its own."""
    assert list(audit(parsed(), coast())) == []
    wrong = OUTLINE.replace("knot Sheet Bend", "knot Rolling Hitch")
    assert [f.code for f in audit(parsed(wrong), coast())] == ["choice-requirement"]
    early = OUTLINE.replace("knot Bowline", "knot Rolling Hitch")
    assert "choice-requirement" in {f.code for f in audit(parsed(early), coast())}


def test_notes_tell_what_is_no_number() -> None:
    notes = {(n.label, n.text) for n in sheet(parsed(), coast(), 20).notes}
    assert ("Cold Blood", "resistance to cold") in notes
    assert ("Cold Blood", "advantage on all saves (against being frightened)") in notes
    assert ("Cold Blood", "advantage on all saves (against being charmed)") in notes
    assert any(label == "Steady Needle" and "+1d4" in text for label, text in notes)
    assert any(label == "Lent Ebb" and "-1d4" in text for label, text in notes)


def test_the_outline_comes_back_as_it_was() -> None:
    build = parsed()
    assert [use.id for use in build.folios] == ["coast-pilots", "harbour-watch", "driftborn"]
    assert [use.hash for use in build.folios] == [folio.hash for folio in folios()]
    assert parsed(print_outline(build, coast())) == build


def test_a_difference_counts_folio_content() -> None:
    """Without the Harbour Watch, Survival's lowest falls from 8 to 1 on the die at every level from 12 on."""
    before = parsed()
    after = parsed(OUTLINE.replace("12 Fighter (Harbour Watch)", "12 Fighter (Champion)"))
    found = difference(before, after, coast(), coast())
    lowest = {row.level: (row.before, row.after) for row in found.numbers if row.name == "skill.survival.lowest"}
    assert set(lowest) == set(range(12, 21))
    assert lowest[20] == (8 + 11, 1 + 11)


def brought(asked: Asked, states: Sequence[str] = ()) -> Filled:
    found = filled(asked, [Figures(parsed(), coast(), 20, states)], coast())
    assert isinstance(found, Filled), found
    return found


def test_odds_know_lowest_rolls() -> None:
    """Survival +11, a 7 or lower counts as 8: DC 19 never fails; DC 20 takes a 9 or more, 12 faces of 20."""
    for dc, chance in ((19, 1.0), (20, 12 / 20)):
        asked = Asked(kind="check", fields={"dc": dc}, builds=("x",), use=Use(kind="skill", name="Survival"))
        answer = ask(brought(asked).question)
        assert isinstance(answer, CheckAnswer)
        assert answer.success == pytest.approx(chance)


def test_odds_know_extra_dice() -> None:
    """A sounding adds its d6 once it is switched on; DC 25 needs 14 on both dice, the d20 no lower than 8.

    Faces of the d20 count 8 eight times, then 9 to 20 once: with d6 of 1..6, 14 - d6 = 13..8 is needed, so of 20 faces
    8, 9, 10, 11, 12 and 20 do: together 70 of 120.
    """
    asked = Asked(kind="check", fields={"dc": 25}, builds=("x",), use=Use(kind="skill", name="Survival"))
    plain = brought(asked)
    assert any("1d6 of Soundings" in text for text in plain.left_out)
    switched = brought(asked, ("sounding",))
    answer = ask(switched.question)
    assert isinstance(answer, CheckAnswer)
    assert answer.success == pytest.approx(70 / 120)


def test_odds_take_the_lent_die_off_a_foes_save() -> None:
    """Breaking Wave, DC 17 with Intelligence 3 or 19 with Wisdom 5: the pilot's is higher, 19.

    A bonus of 5 needs 14 on the d20: 7 of 20 save. With the Ebb's d4 off it needs 15, 16, 17, 18: 6 + 5 + 4 + 3 of 80.
    """
    asked = Asked(kind="save", fields={"bonus": 5}, builds=("x",), use=Use(kind="spell", name="Breaking Wave"))
    plain = brought(asked)
    assert any("1d4 of Lent Ebb" in text for text in plain.left_out)
    answer = ask(plain.question)
    assert isinstance(answer, SaveAnswer)
    assert answer.fail == pytest.approx(1 - 7 / 20)
    lent = ask(brought(asked, ("ebb",)).question)
    assert isinstance(lent, SaveAnswer)
    assert lent.fail == pytest.approx(1 - 18 / 80)


def test_states_of_a_folio_change_numbers() -> None:
    """High Water: large carries twice as much, 10 x 15 x 2, doubled by Sheet Bend; +2 damage in melee."""
    plain, high = sheet(parsed(), coast(), 20).numbers, sheet(parsed(), coast(), 20, ("high-water",)).numbers
    assert high["attack.quarterstaff.damage"].value == 3.5 + 2
    assert (plain["carry.capacity"].value, high["carry.capacity"].value) == (300, 600)


def test_the_folios_use_every_grant_that_the_release_leaves_unused() -> None:
    used = {g.kind for _, entry in load_shipped("srd-5.1").all() for _, g in grants_in(entry)}
    ours = {g.kind for folio in folios() for _, entry in folio.all() for _, g in grants_in(entry)}
    assert set(GRANT_KINDS) - used <= ours
    assert set(GRANT_KINDS) - used


def test_the_build_uses_all_of_them() -> None:
    """Each kind that the release leaves unused holds on the build, given by one of the worked folios."""
    used = {g.kind for _, entry in load_shipped("srd-5.1").all() for _, g in grants_in(entry)}
    titles = tuple(folio.title for folio in folios())
    ours = {
        granted.grant.kind
        for granted in gather(parsed(), coast(), ("high-water",)).grants
        if granted.source.startswith(titles)
    }
    assert set(GRANT_KINDS) - used <= ours
    room = (SEED / "bell-pilot.outline").read_text(encoding="utf-8")
    assert room == OUTLINE  # the demo's build is the one that is checked here
    assert {folio.id for folio in folios()} == {use.id for use in parsed(room).folios}


@pytest.mark.parametrize("name", NAMES)
def test_the_room_brings_the_same_folios(name: str) -> None:
    """The demo server's copies are the ones that are checked here."""
    paths = sorted((DATA / "folios").glob(f"{name}/**/*.yaml")) or [DATA / "folios" / name]
    for path in paths:
        assert (SEED / "folios" / path.relative_to(DATA / "folios")).read_bytes() == path.read_bytes()
