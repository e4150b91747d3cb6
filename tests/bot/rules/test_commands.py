"""`/rules find` driven through the simulator: facts, the section they stand in, names offered while one types."""

import pytest

from tests.bot.conftest import Moot
from tests.bot.platform import complaints


async def found(moot: Moot, name: str, **more: str) -> list[str]:
    """Look a thing up before everybody; return the lines of its card."""
    result = await moot.say("oskar", "rules find", name=name, **more)
    assert not result.ephemeral
    return [line for line in moot.read(result).splitlines() if line]


# Name, kind -> lines that the card must have, by the named section of SRD 5.1.
FACTS = [
    # Spellcasting, Spell Descriptions, Fireball.
    (
        "fireball",
        None,
        ["Fireball · spell", "3rd-level evocation", "range: 150 feet", "damage: 8d6 fire", "lists: Sorcerer, Wizard"],
    ),
    # Equipment, Weapons.
    (
        "LONGSWORD",
        None,
        ["Longsword · item", "martial melee weapon", "damage: 1d8 slashing", "in two hands: 1d10", "cost: 15 gp"],
    ),
    # Equipment, Armor.
    (
        "half plate",
        "item",
        [
            "armor class: 15 + Dexterity modifier (at most 2)",
            "Stealth: disadvantage",
            "crafting: 150 days of one pair of hands, 375 gp of materials",
        ],
    ),
    # Monsters, Adult Red Dragon.
    (
        "adult red dragon",
        None,
        [
            "huge dragon, challenge 17 (18,000 XP)",
            "armor class: 19",
            "hit points: 256 (19d12+133)",
            "legendary resistance: 3 a day",
        ],
    ),
    # Classes, Rogue, Reliable Talent.
    (
        "Reliable Talent",
        "feature",
        ["Rogue, level 11", "a d20 below 10 counts as 10 on checks that add the whole proficiency bonus"],
    ),
    # Races, Elf, High Elf.
    ("high elf", None, ["High Elf · race", "Ability Score Increase: Intelligence +1"]),
    # Backgrounds, Acolyte.
    ("Acolyte", "background", ["Skill Proficiencies: skills: Insight, Religion", "Languages: choose language: 2"]),
    # Feats, Grappler.
    ("grappler", None, ["Grappler · feat", "feat, needs: Strength 13 or higher"]),
    # Appendix PH-A: Conditions.
    ("poisoned", None, ["Poisoned · condition", "disadvantage on attacks", "disadvantage on checks"]),
    # Classes, Barbarian, Rage.
    ("rage", "state", ["Rage · state", "needs Rage", "advantage on Strength checks (no heavy armor worn)"]),
    # Classes, Fighter, Fighting Style.
    ("archery", None, ["Archery · option", "+2 to hit (with a weapon, ranged)"]),
    # Classes, Fighter, Champion.
    ("champion", None, ["Champion · subclass", "Martial Archetype of the Fighter"]),
]


@pytest.mark.parametrize(("name", "kind", "lines"), FACTS, ids=lambda value: value if isinstance(value, str) else None)
async def test_the_facts_of_a_thing(moot: Moot, name: str, kind: str | None, lines: list[str]) -> None:
    shown = await found(moot, name, **({"kind": kind} if kind else {}))
    assert [line for line in lines if line not in shown] == []
    assert any(line.startswith("SRD 5.1, ") for line in shown)
    assert complaints(moot.env.http_requests) == []


async def test_a_class_shows_its_table_narrow_enough_for_a_phone(moot: Moot) -> None:
    """SRD 5.1, Classes, Warlock: the row of level 11."""
    shown = await found(moot, "Warlock", kind="class")
    assert shown[0] == "Warlock · class"
    heading = next(i for i, line in enumerate(shown) if line.startswith("Lv PB"))
    # Cantrips 4, spells 11, slots 3 of 5th level, invocations 5.
    assert shown[heading - 5 : heading] == [
        "A cantrips", "B spells known", "C pact slots", "D pact level", "E invocations"
    ]  # fmt: skip
    assert shown[heading + 11].split() == ["11", "+4", "4", "11", "3", "5", "5"]
    assert all(len(line) <= 35 for line in shown[heading : heading + 21])
    assert shown[-1] == "SRD 5.1, Classes, Warlock"


async def test_a_name_that_several_things_have_tells_the_others(moot: Moot) -> None:
    shown = await found(moot, "Extra Attack")
    assert shown[1] == "Barbarian, level 5"
    others = shown[-1]
    assert others.startswith("Of the same name: ")
    assert all(f"Extra Attack (feature, {c})" in others for c in ("Fighter", "Monk", "Paladin", "Ranger"))
    shown = await found(moot, "Shield")
    assert shown[0] == "Shield · spell"
    assert "Shield (item)" in shown[-1]
    assert (await found(moot, "Shield", kind="item"))[0] == "Shield · item"


async def test_what_is_not_there_is_told_to_the_member_alone(moot: Moot) -> None:
    result = await moot.say("oskar", "rules find", name="Fireballl")
    assert result.ephemeral
    text = " ".join(m.content for m in moot.messages(result))
    assert text.startswith('No thing of the rules is called "Fireballl". Nearest: Fireball')
    result = await moot.say("oskar", "rules find", name="Fireball", kind="creature")
    assert result.ephemeral
    result = await moot.say("oskar", "rules find", name="@everyone " * 40)
    assert result.ephemeral


async def test_names_are_offered_and_lead_to_one_thing(moot: Moot) -> None:
    ask = moot.people["tiva"].autocomplete
    offered = await ask(moot.channel, "rules find", "name", "extra att")
    assert [c["name"] for c in offered[:2]] == ["Extra Attack (feature, Barbarian)", "Extra Attack (feature, Fighter)"]
    monk = next(c["value"] for c in offered if "Monk" in c["name"])
    assert (await found(moot, monk))[1] == "Monk, level 5"
    assert len(await ask(moot.channel, "rules find", "name", "")) == 25
    creatures = await ask(moot.channel, "rules find", "name", "dragon", kind="creature")
    assert len(creatures) == 25
    assert all(c["name"].endswith("(creature)") for c in creatures)
    marks = await ask(moot.channel, "rules find", "name", "HUNTERS MARK")
    assert [c["name"] for c in marks] == ["Hunter's Mark (spell)", "Hunter's Mark (state)"]
    assert await ask(moot.channel, "rules find", "name", "no such thing at all") == []


async def test_every_kind_is_offered_and_found(moot: Moot) -> None:
    from engine.rules.index import FOUND_KINDS

    ask = moot.people["tiva"].autocomplete
    for kind in FOUND_KINDS:
        first = (await ask(moot.channel, "rules find", "name", "", kind=kind))[0]
        name = (await found(moot, first["value"], kind=kind))[0]
        word = "race" if kind == "species" else kind
        assert name.endswith(f" · {word}"), name
