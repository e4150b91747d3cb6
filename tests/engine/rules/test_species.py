"""Species, background, conditions and states of folio srd-5.1, fact by fact.

Source of every row: SRD 5.1, Races; Backgrounds, Acolyte; Appendix PH-A: Conditions; Spellcasting, Spell Descriptions
(states), read off the text by hand for this test.
"""

from collections.abc import Iterator
from typing import Any

import pytest

from engine.build.outline import parse_outline
from engine.rules.catalog import Catalog
from engine.rules.content import ChoiceList, Feature, Species, State
from engine.rules.formula import Formula
from engine.rules.grants import AnyGrant
from engine.rules.grants.body import Defense
from engine.sheet.gather import gather
from engine.store.folio_files import load_shipped

CATALOG = Catalog([load_shipped("srd-5.1")])

# id -> size, speed, increases, darkvision, languages, how many further languages may be chosen.
RACES: dict[str, tuple[str, int, dict[str, int], int, set[str], int]] = {
    "dwarf": ("medium", 25, {"con": 2}, 60, {"common", "dwarvish"}, 0),
    "elf": ("medium", 30, {"dex": 2}, 60, {"common", "elvish"}, 0),
    "halfling": ("small", 25, {"dex": 2}, 0, {"common", "halfling"}, 0),
    "human": ("medium", 30, dict.fromkeys(("str", "dex", "con", "int", "wis", "cha"), 1), 0, {"common"}, 1),
    "dragonborn": ("medium", 30, {"str": 2, "cha": 1}, 0, {"common", "draconic"}, 0),
    "gnome": ("small", 25, {"int": 2}, 60, {"common", "gnomish"}, 0),
    "half-elf": ("medium", 30, {"cha": 2}, 60, {"common", "elvish"}, 1),
    "half-orc": ("medium", 30, {"str": 2, "con": 1}, 60, {"common", "orc"}, 0),
    "tiefling": ("medium", 30, {"int": 1, "cha": 2}, 60, {"common", "infernal"}, 0),
}
SUBRACES = {
    "hill-dwarf": ("dwarf", {"wis": 1}),
    "high-elf": ("elf", {"int": 1}),
    "lightfoot-halfling": ("halfling", {"cha": 1}),
    "rock-gnome": ("gnome", {"con": 1}),
}
WEAPONS = {
    "dwarven-combat-training": {"battleaxe", "handaxe", "light-hammer", "warhammer"},
    "elf-weapon-training": {"longsword", "shortsword", "shortbow", "longbow"},
}
SKILLS = {"keen-senses": {"perception"}, "menacing": {"intimidation"}}
# Trait -> what a saving throw must be about for advantage, and with which abilities.
SAVES = {
    "dwarven-resilience": ("poison", {"all"}),
    "elf-fey-ancestry": ("being charmed", {"all"}),
    "half-elf-fey-ancestry": ("being charmed", {"all"}),
    "brave": ("being frightened", {"all"}),
    "gnome-cunning": ("magic", {"int", "wis", "cha"}),
}
# Dragon -> damage type, area, ability of the save.
DRAGONS = {
    "Black": ("acid", "line", "Dexterity"),
    "Blue": ("lightning", "line", "Dexterity"),
    "Brass": ("fire", "line", "Dexterity"),
    "Bronze": ("lightning", "line", "Dexterity"),
    "Copper": ("acid", "line", "Dexterity"),
    "Gold": ("fire", "15-foot cone", "Dexterity"),
    "Green": ("poison", "15-foot cone", "Constitution"),
    "Red": ("fire", "15-foot cone", "Dexterity"),
    "Silver": ("cold", "15-foot cone", "Constitution"),
    "White": ("cold", "15-foot cone", "Constitution"),
}


def species(id_: str) -> Species:
    found = CATALOG.species(id_)
    assert found is not None, id_
    return found


def grants(owner: Species | Feature, kind: str) -> list[Any]:
    """All grants of one kind, as Any: each test knows the fields of its kind."""
    features = owner.features if isinstance(owner, Species) else (owner,)
    return [g for feature in features for g in feature.grants if g.kind == kind]


def feature(id_: str) -> Feature:
    found = CATALOG.feature(id_)
    assert found is not None, id_
    return found


def value(formula: Formula, **scope: Any) -> Any:
    return formula.evaluate(scope)


def test_nine_races_and_four_subraces() -> None:
    ours = {n.id: n.entry for n in CATALOG.every("species")}
    assert set(ours) == RACES.keys() | SUBRACES.keys()
    assert {id_: e.of for id_, e in ours.items() if isinstance(e, Species) and e.of} == {
        id_: of for id_, (of, _) in SUBRACES.items()
    }


@pytest.mark.parametrize("id_", RACES)
def test_race(id_: str) -> None:
    size, speed, increases, darkvision, languages, further = RACES[id_]
    one = species(id_)
    assert (one.size, one.speed) == (size, speed)
    assert {g.ability: g.amount for g in grants(one, "ability-increase")} == increases
    assert sum(value(g.feet) for g in grants(one, "sense") if g.sense == "darkvision") == darkvision
    assert {i for g in grants(one, "proficiency") if g.of == "language" for i in g.ids} == languages
    assert sum(value(g.count) for g in grants(one, "choice") if g.keyword == "language") == further


@pytest.mark.parametrize("id_", SUBRACES)
def test_subrace(id_: str) -> None:
    of, increases = SUBRACES[id_]
    one = species(id_)
    assert {g.ability: g.amount for g in grants(one, "ability-increase")} == increases
    assert (one.size, one.speed) == (None, None)  # it has those of its race
    assert CATALOG.source("species", id_) == f"SRD 5.1, Races, {species(of).name}, {one.name}"


@pytest.mark.parametrize("id_", WEAPONS)
def test_weapon_training(id_: str) -> None:
    (grant,) = grants(feature(id_), "proficiency")
    assert (grant.of, set(grant.ids)) == ("weapon", WEAPONS[id_])


@pytest.mark.parametrize("id_", SKILLS)
def test_skill_of_a_race(id_: str) -> None:
    (grant,) = grants(feature(id_), "proficiency")
    assert (grant.of, set(grant.ids)) == ("skill", SKILLS[id_])


@pytest.mark.parametrize("id_", SAVES)
def test_advantage_on_saves_is_against_something(id_: str) -> None:
    (grant,) = grants(feature(id_), "advantage")
    assert (grant.roll, grant.mode, grant.against, set(grant.of)) == ("save", "advantage", *SAVES[id_])


def test_half_elf_choices() -> None:
    # Two other scores by 1 each, two skills, one language.
    chosen = {g.keyword: g for g in grants(species("half-elf"), "choice")}
    assert set(chosen) == {"increase", "skill", "language"}
    increase = chosen["increase"]
    assert (value(increase.count), increase.amount, increase.but) == (2, 1, ("cha",))
    assert (value(chosen["skill"].count), chosen["skill"].from_) == (2, ())


def test_high_elf_cantrip_is_the_wizards_with_intelligence() -> None:
    (grant,) = [g for g in grants(species("high-elf"), "choice") if g.keyword == "cantrip"]
    assert (value(grant.count), grant.list, grant.ability, grant.casting) == (1, "wizard", "int", "high-elf")


def test_dwarf_tools_are_a_choice_of_three() -> None:
    (grant,) = grants(feature("dwarf-tool-proficiency"), "choice")
    assert (grant.keyword, value(grant.count)) == ("tool", 1)
    assert set(grant.from_) == {"smiths-tools", "brewers-supplies", "masons-tools"}


def test_dwarven_toughness_grows_with_every_level() -> None:
    (grant,) = grants(feature("dwarven-toughness"), "hit-points")
    assert (value(grant.amount), grant.times) == (1, "each-level")


def test_infernal_legacy() -> None:
    (grant,) = grants(feature("infernal-legacy"), "extra-spells")
    assert (grant.how, grant.ability, grant.casting) == ("innate", "cha", "tiefling")
    rows = [(s.id, s.level, None if s.uses is None else value(s.uses), s.restored) for s in grant.spells]
    assert rows == [
        ("thaumaturgy", 1, None, None),
        ("hellish-rebuke", 3, 1, "long-rest"),
        ("darkness", 5, 1, "long-rest"),
    ]


@pytest.mark.parametrize(
    ("level", "dice"), [(1, "2d6"), (5, "2d6"), (6, "3d6"), (10, "3d6"), (11, "4d6"), (15, "4d6"), (16, "5d6")]
)
def test_breath_weapon_dice(level: int, dice: str) -> None:
    # SRD 5.1, Races, Dragonborn, Breath Weapon.
    (pool,) = grants(feature("breath-weapon"), "pool")
    assert value(pool.die, character_level=level) == dice
    assert (value(pool.uses), pool.restored) == (1, "short-rest")
    (dc,) = grants(feature("breath-weapon"), "save-dc")
    assert (dc.ability, dc.base) == ("con", 8)


@pytest.mark.parametrize("dragon", DRAGONS)
def test_draconic_ancestry(dragon: str) -> None:
    chosen = CATALOG.choice_list("ancestry")
    assert isinstance(chosen, ChoiceList)
    assert {option.name for option in chosen.options} == DRAGONS.keys()
    (option,) = [o for o in chosen.options if o.name == dragon]
    kind, area, ability = DRAGONS[dragon]
    (resisted,) = grants(option, "defense")
    assert (resisted.defense, resisted.to) == ("resistance", (kind,))
    (note,) = grants(option, "note")
    assert all(word in note.text for word in (kind, area, ability))


def test_halfling_luck_and_half_orc_criticals() -> None:
    (reroll,) = grants(feature("halfling-lucky"), "reroll-d20")
    assert (reroll.at_most, set(reroll.rolls)) == (1, {"attack", "check", "save"})
    (extra,) = grants(feature("savage-attacks"), "extra-critical-dice")
    assert value(extra.dice) == 1
    melee = {"melee": True, "weapon": True, "thrown": False}
    assert extra.when.evaluate(melee) is True
    assert not extra.when.evaluate(melee | {"melee": False})


def test_acolyte() -> None:
    # SRD 5.1, Backgrounds, Acolyte.
    one = CATALOG.background("acolyte")
    assert one is not None
    found: list[Any] = [g for f in one.features for g in f.grants]
    assert {i for g in found if g.kind == "proficiency" for i in g.ids} == {"insight", "religion"}
    assert [value(g.count) for g in found if g.kind == "choice" and g.keyword == "language"] == [2]
    assert [f.name for f in one.features if not f.grants] == ["Shelter of the Faithful"]


# -- conditions and states --------------------------------------------------------------------------------------

CONDITIONS = (
    "blinded", "charmed", "deafened", "exhaustion", "frightened", "grappled", "incapacitated", "invisible",
    "paralyzed", "petrified", "poisoned", "prone", "restrained", "stunned", "unconscious",
)  # fmt: skip
# Condition -> rolls with disadvantage (or advantage) of the one who has it, as (roll, mode).
ROLLS = {
    "blinded": {("attack", "disadvantage")},
    "frightened": {("attack", "disadvantage"), ("check", "disadvantage")},
    "invisible": {("attack", "advantage")},
    "poisoned": {("attack", "disadvantage"), ("check", "disadvantage")},
    "prone": {("attack", "disadvantage")},
    "restrained": {("attack", "disadvantage"), ("save", "disadvantage")},
}
STILL = {"grappled", "paralyzed", "petrified", "restrained", "stunned", "unconscious"}


def state(id_: str) -> State:
    found = CATALOG.state(id_)
    assert found is not None, id_
    return found


def test_the_fifteen_conditions() -> None:
    assert tuple(sorted(named.id for named in CATALOG.every("condition"))) == CONDITIONS


@pytest.mark.parametrize("id_", CONDITIONS)
def test_condition(id_: str) -> None:
    one = state(id_)
    assert {(g.roll, g.mode) for g in grants(one, "advantage")} == ROLLS.get(id_, set())
    assert any(g.how == "zero" for g in grants(one, "speed")) == (id_ in STILL)


@pytest.mark.parametrize(
    ("level", "kinds"),
    [
        # SRD 5.1, Appendix PH-A, Exhaustion: each level has the effects of those below it.
        (1, ["check"]),
        (2, ["check", "halve"]),
        (3, ["check", "halve", "attack", "save"]),
        (4, ["check", "halve", "attack", "save", "hit-points-halved"]),
        (5, ["check", "attack", "save", "hit-points-halved", "zero"]),
    ],
)
def test_exhaustion(level: int, kinds: list[str]) -> None:
    found = [getattr(g, "roll", None) or getattr(g, "how", None) or g.kind for g in state(f"exhaustion-{level}").grants]
    assert sorted(found) == sorted(kinds)


def each(*ids: str) -> Iterator[AnyGrant]:
    for id_ in ids:
        yield from state(id_).grants


@pytest.mark.parametrize(
    ("id_", "kind", "facts"),
    [
        # SRD 5.1, Spell Descriptions, each under its name.
        ("mage-armor", "armor-formula", {"base": 13, "add": ("dex",), "shield": True}),
        ("barkskin", "armor-floor", {"least": 16}),
        ("shield", "armor-bonus", {"amount": 5}),
        ("shield-of-faith", "armor-bonus", {"amount": 2}),
        ("haste", "armor-bonus", {"amount": 2}),
        ("haste", "speed", {"how": "double", "mode": "walk"}),
        ("slow", "armor-bonus", {"amount": -2}),
        ("slow", "save-bonus", {"amount": -2, "saves": ("dex",)}),
        ("longstrider", "speed", {"how": "add", "amount": 10}),
        ("fly", "speed", {"mode": "fly", "how": "set", "amount": 60}),
        ("spider-climb", "speed", {"mode": "climb", "how": "equals-walk"}),
        ("bless", "extra-die", {"die": "1d4", "sign": "+", "rolls": ("attack", "save")}),
        ("bane", "extra-die", {"die": "1d4", "sign": "-", "rolls": ("attack", "save")}),
        ("guidance", "extra-die", {"die": "1d4", "rolls": ("check",)}),
        ("resistance", "extra-die", {"die": "1d4", "rolls": ("save",)}),
        ("pass-without-trace", "check-bonus", {"amount": 10, "checks": ("stealth",)}),
        ("aid", "hit-points", {"amount": 5, "times": "once"}),
        ("glibness", "lowest-d20", {"at_least": 15, "checks": ("cha",)}),
        ("hunters-mark", "extra-damage", {"dice": "1d6", "how": "each-hit"}),
        ("divine-favor", "extra-damage", {"dice": "1d4", "how": "each-hit", "damage": "radiant"}),
        ("true-seeing", "sense", {"sense": "truesight", "feet": 120}),
        ("warding-bond", "armor-bonus", {"amount": 1}),
        ("warding-bond", "save-bonus", {"amount": 1}),
        ("magic-weapon", "attack-bonus", {"amount": 1}),
        ("magic-weapon-3", "damage-bonus", {"amount": 3}),
        ("bulls-strength", "carrying", {"times": 2}),
        # SRD 5.1, Combat, Cover.
        ("half-cover", "armor-bonus", {"amount": 2}),
        ("three-quarters-cover", "save-bonus", {"amount": 5, "saves": ("dex",)}),
        # SRD 5.1, Magic Items, Potion of Giant Strength.
        ("potion-of-fire-giant-strength", "ability-set", {"ability": "str", "score": 25}),
    ],
)
def test_state(id_: str, kind: str, facts: dict[str, Any]) -> None:
    (grant,) = [g for g in each(id_) if g.kind == kind]
    for field, expected in facts.items():
        found = getattr(grant, field)
        assert (value(found) if isinstance(found, Formula) else found) == expected, field


def test_rage() -> None:
    # SRD 5.1, Classes, Barbarian, Rage: no benefit in heavy armor; the damage comes from the class's table.
    rage = state("rage")
    assert rage.needs == "rage"
    (damage,) = grants(rage, "damage-bonus")
    assert damage.amount.evaluate({"column": lambda name: {"rage_damage": 3}[name]}) == 3
    scope = dict.fromkeys(("weapon", "melee", "by_strength"), True) | dict.fromkeys(
        ("unarmed", "thrown", "heavy_armor"), False
    )
    assert damage.when.evaluate(scope)
    for changed in ({"heavy_armor": True}, {"by_strength": False}, {"thrown": True}, {"melee": False}):
        assert not damage.when.evaluate(scope | changed)
    (resisted,) = grants(rage, "defense")
    assert set(resisted.to) == {"bludgeoning", "piercing", "slashing"}


def test_what_a_state_needs_is_there() -> None:
    for kind in ("state", "condition"):
        for named in CATALOG.every(kind):
            assert isinstance(named.entry, State)
            needs = named.entry.needs
            known = needs is None or CATALOG.spell(needs) or CATALOG.feature(needs) or CATALOG.item(needs)
            assert known, f"{named.id} needs {needs}"


@pytest.mark.parametrize("written", ["ancestry Red", "dragon Red"])
def test_a_dragonborn_is_red_whichever_word_is_written(written: str) -> None:
    # `dragon` is the sorcerer's word for its own list; in a dragonborn's parentheses it means the ancestry.
    head = f"Build: Tide Speaker\nRules: SRD 5.1\nSpecies: Dragonborn ({written})\n"
    build = parse_outline(f"{head}1 Sorcerer (Draconic Bloodline): dragon Blue\n", CATALOG)
    gathered = gather(build, CATALOG)
    resisted = [(g.grant.to, g.source) for g in gathered.grants if isinstance(g.grant, Defense)]
    assert resisted == [(("fire",), "SRD 5.1, Races, Dragonborn, Draconic Ancestry, Red")]
    assert [p.pick.id for p in gathered.picked if p.keyword in ("ancestry", "dragon")] == [
        "dragonborn-red",
        "dragon-blue",
    ]
    assert not gathered.spare
