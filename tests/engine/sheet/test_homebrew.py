"""Grants that the release leaves unused, in a folio of our own: coastal pilots, and what they carry.

Figures are worked out beside each check from the folio below; the rules they follow are those of the grant models.
"""

from functools import lru_cache

import pytest

from engine.build.document import Build, Choose, Increase, Line, Origin, Pick, Scores
from engine.rules.catalog import Catalog
from engine.rules.folio import Folio
from engine.rules.loader import read_folio
from engine.rules.words import ABILITIES
from engine.sheet import Sheet, gather, sheet, timeline
from engine.store.folio_files import load_shipped
from tests.engine.sheet.make import chosen, one, pick

FILES = {
    "folio.yaml": """
id: tideways
title: Tideways
version: "1"
licence: MIT
attribution: our own
extends: srd-5.1
""",
    "classes/pilot.yaml": """
id: coast-pilot
name: Coast Pilot
section: Classes
hit_die: 8
saves: [wis, dex]
subclass_level: 3
subclass_title: Chart
start:
  - {kind: proficiency, of: weapon, ids: [simple]}
  - {kind: choice, keyword: skill, count: 1, from: [survival, nature]}
tables:
  slots_1: [2, 2, 3, 3, 4, 4, 4, 4, 4, 4, 4, 4, 4, 4, 4, 4, 4, 4, 4, 4]
  slots_2: [null, null, null, null, 2, 2, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3]
  weapons: [2, 2, 2, 3, 3, 3, 3, 3, 3, 4, 4, 4, 4, 4, 4, 4, 4, 4, 4, 4]
features:
  - id: tide-magic
    name: Tide Magic
    grants:
      - kind: spellcasting
        ability: wis
        list: druid
        progression: half-up
        preparation: prepared
        prepared: max(1, wis + half_up(class_level))
  - id: first-watch
    name: First Watch
    grants:
      - {kind: passive-bonus, amount: 2, skills: [perception]}
      - {kind: initiative-bonus, amount: wis}
  - id: second-watch
    name: Second Watch
    level: 3
    replaces: first-watch
    grants:
      - {kind: passive-bonus, amount: 5, skills: [perception]}
  - id: sounding
    name: Sounding
    level: 2
    grants:
      - {kind: check-bonus, amount: proficiency_bonus, checks: [survival]}
      - {kind: lowest-d20, at_least: 8, checks: [survival, str], saves: [con]}
      - {kind: lowest-total, total: wis_score, checks: [nature]}
  - id: sea-legs
    name: Sea Legs
    level: 3
    grants:
      - {kind: hit-points, amount: 2, times: each-level, level: 3}
      - {kind: hit-points, amount: wis}
  - id: deep-well
    name: Deep Well
    level: 4
    grants:
      - {kind: slot-bonus, slot: 1, amount: 1}
      - {kind: pool, id: soundings, uses: level_of('coast-pilot') + half_down(character_level), restored: long-rest}
      - {kind: casting-bonus, amount: 1, to: [save_dc, attack], lists: [coast-pilot]}
      - {kind: proficiency-bonus, amount: 1}
  - id: weapon-mastery
    name: Weapon Mastery
    grants:
      - {kind: choice, keyword: mastery, total: column(weapons)}
subclasses:
  - id: reef-chart
    name: Reef Chart
    features:
      - id: undertow
        name: Undertow
        level: 3
        grants:
          - {kind: extra-die, die: 1d6, rolls: [save], whose: foe, sign: "-", pool: soundings}
""",
    "species/heron.yaml": """
id: heron-kin
name: Heron-Kin
section: Species
size: large
speed: 35
features:
  - id: heron-scores
    name: Ability Scores
    grants:
      - {kind: choice, keyword: increase, count: 1, amount: 2}
      - {kind: choice, keyword: increase, count: 1, amount: 1}
  - id: heron-body
    name: Body
    grants:
      - kind: natural-weapon
        id: beak
        name: Beak
        die: "when(character_level >= 5, 1d6, 1d4)"
        damage: piercing
        finesse: true
      - {kind: armor-formula, base: 12, add: [wis], when: not heavy_armor}
      - {kind: sense, sense: blindsight, feet: 10}
      - {kind: sense, sense: blindsight, feet: 20, level: 3, extends: true}
      - {kind: carrying, times: 2}
      - {kind: speed, mode: swim, how: equals-walk}
      - {kind: speed, mode: fly, how: add, amount: 15}
      - {kind: attunement, items: 4}
      - {kind: save-bonus, amount: 2, against: the sea}
      - {kind: reroll-d20, rolls: [check]}
      - {kind: lowest-d20, at_least: 5, saves: [all]}
""",
    "species/gull.yaml": """
id: gull-folk
name: Gull-Folk
section: Species
size: tiny
speed: 20
""",
    "feats/feats.yaml": """
- id: lamp-lore
  name: Lamp Lore
  section: Feats
  grants:
    - {kind: choice, keyword: ability, count: 1, from: [int, wis]}
    - {kind: choice, keyword: cantrip, count: 1, list: wizard, casting: lamp-lore}
    - {kind: extra-spells, how: innate, ability: cha, casting: lamp-song, spells: [{id: light}, {id: sleep, level: 2}]}
    - {kind: spell-damage, amount: 3, cantrips: true, each: hit, damage: [fire]}
    - {kind: choice, keyword: tool, count: 1, from: [artisans-tools]}
    - {kind: choice, keyword: language, count: 1, from: [exotic]}
""",
    "items/items.yaml": """
- id: tide-bell
  name: Tide Bell
  section: Items
  category: magic
  weight: 0.1
  magic: {rarity: rare, kind: wondrous item}
  features:
    - id: tide-bell
      name: Tide Bell
      grants:
        - {kind: advantage, roll: check, of: [perception]}
        - {kind: extra-damage, dice: 1d4, how: each-hit, when: melee}
""",
}


@lru_cache(maxsize=1)
def catalog() -> Catalog:
    read = read_folio({name: text.encode() for name, text in FILES.items()})
    assert isinstance(read, Folio), read
    return Catalog([load_shipped("srd-5.1"), read])


def pilot(
    levels: int, *, subclass: bool = True, scores: str = "10 12 14 10 16 10", gear: tuple[Pick, ...] = ()
) -> Build:
    lines = {
        1: Line(items=(one("skill survival"), one("mastery mace, club"))),
        4: Line(items=(one("mastery mace, dagger, spear"),)),
    }
    if subclass:
        lines[3] = Line(subclass="reef-chart")
    return Build(
        name="Pilot",
        scores=Scores.model_validate(
            {"values": dict(zip(ABILITIES, map(int, scores.split()), strict=True)), "method": "final"}
        ),
        species=Origin(id="heron-kin"),
        order=("coast-pilot",) * levels,
        levels={"coast-pilot": {n: line for n, line in lines.items() if n <= levels}},
        gear=gear,
    )


def at(document: Build, level: int | None = None) -> Sheet:
    return sheet(document, catalog(), level or document.top)


def of(document: Build, name: str) -> list[object]:
    return [s.numbers[name].value if name in s.numbers else None for s in timeline(document, catalog())]


def test_half_casters_that_round_up() -> None:
    # Wis +3: prepared 3 + 1, 3 + 1, 3 + 2; alone by its own table
    assert of(pilot(5), "casting.coast-pilot.prepared") == [4, 4, 5, 5, 6]
    assert of(pilot(3), "slots.1") == [2, 2, 3]
    # with a druid 3: half of 3 rounded up is 2, and 3: caster level 5
    both = pilot(3).model_copy(update={"order": ("coast-pilot",) * 3 + ("druid",) * 3})
    numbers = at(both).numbers
    assert [numbers[f"slots.{n}"].value for n in (1, 2, 3, 4)] == [4, 3, 2, 0]
    assert numbers["slots.1"].reasons[0].label == "caster level 5: Coast Pilot 3 counts 2, Druid 3"


def test_a_feature_replaces_an_earlier_one() -> None:
    # Wis +3; 10 + 3 + 2, from level 3 on 10 + 3 + 5; the initiative bonus goes with the first watch
    assert of(pilot(3), "skill.perception.passive") == [15, 15, 18]
    assert of(pilot(3), "initiative") == [1 + 3, 1 + 3, 1]
    assert not gather(pilot(3), catalog()).has("first-watch", 3)


def test_flat_bonuses_and_lowest_rolls() -> None:
    found = at(pilot(2)).numbers
    assert found["skill.survival"].value == 3 + 2 + 2  # proficient, and the bonus once more
    assert found["skill.survival.lowest"].value == 8 + 7
    assert found["skill.athletics.lowest"].value == 8 + 0
    assert found["skill.arcana.lowest"].value == 1
    assert found["skill.nature.lowest"].value == 16  # the Wisdom score stands in
    assert [r.amount for r in found["skill.nature.lowest"].beaten] == [1]
    strong = pilot(2, scores="10 10 10 30 9 10")
    lost = at(strong).numbers["skill.nature.lowest"]
    assert lost.value == 1 + 10  # 11 beats a Wisdom of 9
    assert [r.amount for r in lost.beaten] == [9]


def test_hit_points_once_and_each_level_from_one_on() -> None:
    # d8, Con +2: 10, 17, 24 + 3 (Wis) + 2, 31 + 3 + 4
    assert of(pilot(4), "hp.max") == [10, 17, 24 + 3 + 2, 31 + 3 + 4]


def test_more_slots_pools_and_a_higher_proficiency_bonus() -> None:
    numbers = at(pilot(4)).numbers
    assert numbers["slots.1"].value == 3 + 1
    assert numbers["pool.soundings.uses"].value == 4 + 2
    assert numbers["proficiency_bonus"].value == 2 + 1
    assert numbers["casting.coast-pilot.save_dc"].value == 8 + 3 + 3 + 1
    assert numbers["casting.coast-pilot.attack"].value == 3 + 3 + 1
    assert numbers["save.wis"].value == 3 + 3
    labels = [r.label for r in numbers["proficiency_bonus"].reasons]
    assert labels == ["character level 4", "Deep Well"]


def test_a_whole_list_takes_the_place_of_the_one_before() -> None:
    found = gather(pilot(4), catalog())
    opened = [o for o in found.opened if o.choice.keyword == "mastery"]
    assert [(o.level, o.count, [p.pick.id for p in o.picks]) for o in opened] == [
        (1, 2, ["mace", "club"]),
        (4, 1, ["mace", "dagger", "spear"]),
    ]
    assert [p.swapped_out for p in opened[0].picks] == [4, 4]
    assert found.spare == ()


def test_a_body_of_its_own() -> None:
    found = at(pilot(3)).numbers
    assert found["attack.beak.to_hit"].value == 1 + 2  # finesse: Dex 12 over Str 10
    assert (found["attack.beak.damage"].value, found["attack.beak.damage"].dice) == (2.5 + 1, "1d4+1")
    assert of(pilot(5), "attack.beak.damage") == [3.5, 3.5, 3.5, 3.5, 4.5]
    assert found["ac"].value == 12 + 3
    assert [r.amount for r in found["ac"].beaten] == [11]
    assert of(pilot(3), "senses.blindsight") == [10, 10, 30]
    assert found["carry.capacity"].value == 10 * 15 * 2 * 2  # large, and twice by its body
    assert (found["speed.walk"].value, found["speed.swim"].value, found["speed.fly"].value) == (35, 35, 15)
    tiny = pilot(1).model_copy(update={"species": Origin(id="gull-folk")})
    assert at(tiny).numbers["carry.capacity"].value == 75


def test_armor_may_lose_to_the_hide() -> None:
    # leather 11 + 1 against 12 + Wis 3: the formula allows light armor
    number = at(pilot(1, gear=(Pick(id="leather-armor"),))).numbers["ac"]
    assert number.value == 15
    assert [(r.label, r.amount) for r in number.beaten] == [("Leather Armor", 12)]


def test_notes_of_what_is_no_number() -> None:
    texts = {n.text for n in at(pilot(3)).notes}
    assert "+2 on all saves against the sea" in texts
    assert "a d20 of 1 or less is rolled once more on checks" in texts
    assert "a d20 below 5 counts as 5 on all saves" in texts
    assert "a d20 below 8 counts as 8 on Constitution saves" in texts
    assert "-1d6 on a foe's saves (uses soundings)" in texts


def test_free_increases_in_any_order() -> None:
    for items in (("+2 wis", "+1 dex"), ("+1 dex", "+2 wis")):
        document = pilot(1).model_copy(
            update={
                "species": Origin(id="heron-kin", items=tuple(one(i) for i in items)),
                "scores": Scores(values=dict.fromkeys(ABILITIES, 10)),
            }
        )
        assert gather(document, catalog()).spare == ()
        assert at(document).numbers["ability.wis.score"].value == 12
        assert at(document).numbers["ability.dex.score"].value == 11


def test_a_feat_with_spells_of_its_own() -> None:
    feat = chosen(
        "feat",
        pick("lamp-lore", "ability int", "cantrip fire-bolt", "tool cartographers-tools", "language draconic"),
    )
    document = pilot(1).model_copy(
        update={
            "order": ("fighter",) * 4,
            "levels": {"fighter": {4: Line(items=(feat,))}},
            "scores": Scores.model_validate(
                {"values": {"str": 10, "dex": 10, "con": 10, "int": 16, "wis": 10, "cha": 14}, "method": "final"}
            ),
        }
    )
    found = gather(document, catalog())
    assert found.spare == ()
    numbers = at(document).numbers
    assert numbers["casting.lamp-lore.save_dc"].value == 8 + 2 + 3  # the ability chosen in the parentheses
    assert numbers["casting.lamp-song.save_dc"].value == 8 + 2 + 2
    assert numbers["attack.fire-bolt.to_hit"].value == 2 + 3
    assert numbers["attack.fire-bolt.damage"].value == 5.5 + 3
    assert numbers["tool.cartographers-tools"].value == 2
    assert "casting.lamp-lore.save_dc" not in at(document, 3).numbers


def test_worn_things_and_more_attunement() -> None:
    gear = (Pick(id="tide-bell"), Pick(id="mace"), Pick(id="tide-bell", count=3))
    found = at(pilot(1, gear=gear))
    assert found.numbers["skill.perception.passive"].value == 10 + 3 + 2 + 5
    assert found.numbers["attack.mace.damage"].dice == "1d6+1d4+1d4"
    assert found.numbers["carry.weight"].value == pytest.approx(4 + 0.4)
    many = tuple(pick("cloak-of-protection", "attuned") for _ in range(5))
    notes = [n for n in at(pilot(1, gear=many)).notes if n.label == "attunement"]
    assert [n.text for n in notes] == ["5 items are marked attuned; 4 is the most"]
    assert at(pilot(1, gear=many[:4])).numbers["attunement.used"].value == 4


def test_a_pick_without_its_choice_is_spare() -> None:
    document = pilot(1).model_copy(
        update={
            "levels": {
                "coast-pilot": {
                    1: Line(
                        items=(Choose(keyword="feat", picks=(Pick(id="lamp-lore"),)), Increase(ability="wis", amount=1))
                    )
                }
            }
        }
    )
    assert [p.keyword for p in gather(document, catalog()).spare] == ["feat", "increase"]
