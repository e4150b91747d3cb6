"""States in chat: `while:` on `/build show`, `/build why` and `/odds`, offered where the build can be in them."""

import pytest

from tests.bot.conftest import Moot

# Level 5: Str 17 +3, Dex 15 +2, Con 15 +2, Wis 11 +0, bonus +3. SRD 5.1, Classes, Barbarian; Equipment, Weapons.
BREAKER = """\
Build: Dike Breaker
Scores: Str 16, Dex 14, Con 14, Int 8, Wis 10, Cha 10 (manual)
Species: Human (language Giant)
Gear: Greataxe, Longbow
1 Barbarian: skills Perception, Survival
2-5 Barbarian
"""


async def card(moot: Moot, **options: object) -> str:
    """Show the build; return what its card says."""
    return moot.read(await moot.say("oskar", "build show", build="#1", **options))


async def test_a_card_says_which_states_are_on_and_counts_them(moot: Moot) -> None:
    await moot.warden(text=BREAKER)
    plain = await card(moot)
    assert "While" not in plain
    assert "Greataxe +6, 1d12+3" in plain
    raging = await card(moot, **{"while": "rage"})
    assert "While Rage" in raging
    assert "Greataxe +6, 1d12+5" in raging  # +2 damage at barbarian 5
    assert "Longbow +5, 1d8+2" in raging  # a ranged weapon gains nothing
    assert "Rage: resistance to bludgeoning, piercing, slashing" in raging
    # Mage armor: 13 + Dex 2 beats Unarmored Defense, 10 + 2 + 2, by one point.
    both = await card(moot, **{"while": "RAGE,  Mage Armor, "})
    assert "While Rage, Mage Armor" in both
    assert "Armor class 15" in both
    assert "Armor class 14" in plain
    # Hit points 12 + 4 x 7 + 5 x 2 = 50, half of them at the fourth level of exhaustion; speed 30 + 10, halved.
    assert "Hit points 50" in plain
    weary = await card(moot, **{"while": "Exhaustion 4"})
    assert "Hit points 25" in weary
    assert "Speed 20" in weary
    assert "Speed 0" in await card(moot, **{"while": "Grappled"})


async def test_states_stay_on_while_the_card_is_turned(moot: Moot) -> None:
    await moot.warden(text=BREAKER)
    (message,) = moot.messages(await moot.say("oskar", "build show", build="#1", **{"while": "Rage, Exhaustion 1"}))
    await moot.restart()
    await moot.press("oskar", message, "‹ level 4")
    text = moot.text(message)
    assert "level 4" in text
    assert "While Rage, Exhaustion 1" in text
    assert "1d12+5" in text
    why = moot.read(await moot.press("oskar", message, "Why"))
    assert "While Rage, Exhaustion 1" in why
    # Disadvantage takes 5 off a passive score (SRD 5.1, Ability Scores, Passive Checks): 10 + 0 + 2 - 5.
    assert "Passive Perception 7" in why


async def test_reasons_count_states(moot: Moot) -> None:
    await moot.warden(text=BREAKER)
    options = {"build": "#1", "level": 5, "number": "Greataxe damage"}
    why = moot.read(await moot.say("oskar", "build why", **options, **{"while": "Raging"}))
    assert why.splitlines()[0] == "Greataxe damage 11.5 (1d12+5) at level 5"
    assert "While Rage" in why
    assert "+2 Rage" in why
    assert "Rage" not in moot.read(await moot.say("oskar", "build why", **options))


async def test_a_state_that_the_build_cannot_be_in_counts_for_nothing_and_says_so(moot: Moot) -> None:
    await moot.warden()
    text = await card(moot, **{"while": "Rage"})
    assert "While Rage" in text
    assert "Rage: not counted: the build has no rage at this level" in text
    assert "Rapier +6, 1d8+3" in text


@pytest.mark.parametrize("command", ["build show", "build why", "odds check"])
async def test_unknown_states_are_refused_with_the_nearest(moot: Moot, command: str) -> None:
    await moot.warden(text=BREAKER)
    more = {
        "build show": {},
        "build why": {"level": 5, "number": "ac"},
        "odds check": {"dc": 10, "skill": "Perception"},
    }
    result = await moot.say("oskar", command, build="#1", **more[command], **{"while": "Rage, Rgae"})
    assert result.ephemeral
    text = " ".join(m.content for m in moot.messages(result))
    assert text.startswith('No state is called "Rgae".')
    assert "Rage" in text.partition("Nearest")[2]


async def test_odds_say_which_states_are_on(moot: Moot) -> None:
    await moot.warden(text=BREAKER)
    options = {"build": "#1", "attack": "Greataxe", "ac": 15}
    text = moot.read(await moot.say("oskar", "odds attack", **options, **{"while": "Rage, Reckless"}))
    assert "Dike Breaker while: Rage, Reckless Attack" in text
    # +6 against 15: 9 or more, 12 of 20 faces; with advantage 1 - (8/20)^2.
    assert text.splitlines()[0].startswith("84 % to hit")
    assert "while:" not in moot.read(await moot.say("oskar", "odds attack", **options))


async def test_states_are_offered_that_the_build_can_be_in(moot: Moot) -> None:
    await moot.warden(text=BREAKER)
    ask = moot.people["tiva"].autocomplete

    async def offered(command: str, typed: str, **filled: object) -> list[str]:
        return [c["value"] for c in await ask(moot.channel, command, "while", typed, **filled)]

    for command in ("build show", "build why", "odds attack"):
        first = await offered(command, "", build="#1", level=5)
        assert first[:2] == ["Rage", "Reckless Attack"]
        assert len(first) == 25
        assert await offered(command, "wild", build="#1", level=5) == []
        assert await offered(command, "Rage, mage ar", build="#1", level=5) == ["Rage, Mage Armor"]
        assert "Rage, Rage" not in await offered(command, "Rage, ra", build="#1", level=5)
    # Reckless Attack comes at barbarian 2 (SRD 5.1, Classes, Barbarian).
    assert "Reckless Attack" not in await offered("build show", "re", build="#1", level=1)
    assert "Reckless Attack" in await offered("build show", "re", build="#1", level=2)
    assert "Wild Shape" in await offered("odds attack", "wild")
    numbers = await ask(moot.channel, "build why", "number", "greataxe", build="#1", level=5, **{"while": "Rage"})
    assert "attack.greataxe.damage" in [c["value"] for c in numbers]


async def test_numbers_beyond_the_sheet_are_told_when_asked_for(moot: Moot) -> None:
    await moot.warden(text=BREAKER)
    options = {"build": "#1", "level": 5, "number": "Long jump"}
    # SRD 5.1, Adventuring, Jumping: Strength 17; Spellcasting, Jump: three times as far.
    why = moot.read(await moot.say("oskar", "build why", **options))
    assert why.splitlines()[0] == "Long jump 17 at level 5"
    assert "SRD 5.1, Adventuring, Movement, Special Types of Movement, Jumping" in why
    leaping = moot.read(await moot.say("oskar", "build why", **options, **{"while": "Jump"}))
    assert leaping.splitlines()[0] == "Long jump 51 at level 5"
    assert "+34 Jump, × 3" in leaping
    ask = moot.people["tiva"].autocomplete
    numbers = await ask(moot.channel, "build why", "number", "jump", build="#1", level=5)
    assert [c["value"] for c in numbers] == ["jump.long", "jump.long.standing", "jump.high", "jump.high.standing"]
    assert "jump" not in await card(moot)
