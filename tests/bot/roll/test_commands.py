"""`/roll` driven through the simulator: rolled before everybody, looked up by anybody, cited by a build."""

import re

import pytest

from engine.services import rolls
from tests.bot.conftest import Moot


async def test_scores_are_rolled_before_everybody_and_cited(moot: Moot):
    result = await moot.say("tiva", "roll scores", purpose="the reed *warden*")
    assert not result.ephemeral
    text = moot.read(result)
    number = int(re.search(r"score roll #(\d+)", text)[1])
    values = [int(value) for value in text.splitlines()[0].split(", ")]
    assert len(values) == 6
    assert values == sorted(values, reverse=True)
    assert "for “the reed *warden*”" in text
    assert "rolled by @tiva" in text
    assert text.count("4d6 drop lowest gave") == 6
    assert text.count("dropped") == 6
    shown = await moot.say("oskar", "roll show", roll=f"#{number}")
    assert shown.ephemeral
    assert moot.read(shown) == text
    second = moot.read(await moot.say("tiva", "roll scores", purpose="The Reed *Warden*"))
    assert f"This is roll 2 for the same purpose; before it came #{number}." in second
    names = ("Str", "Dex", "Con", "Int", "Wis", "Cha")
    scores = ", ".join(f"{name} {value}" for name, value in zip(names, values, strict=True))
    outline = f"Build: Reed Gull\nScores: {scores} (rolled #{number})\nSpecies: Human\n1 Fighter\n"
    await moot.warden(text=outline)
    audit = moot.read(await moot.say("oskar", "build audit", build="Reed Gull"))
    assert "roll #" not in audit
    assert "It serves build #" in moot.read(await moot.say("oskar", "roll show", roll=str(number)))
    twice = await moot.say("oskar", "build load", file=("b.txt", outline.replace("Gull", "Tern").encode()))
    assert twice.ephemeral
    assert f"Score roll #{number} serves Reed Gull" in moot.read(twice)


async def test_hit_points_are_rolled_for_a_level_of_ones_own_build(moot: Moot, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(rolls.secrets, "randbelow", lambda sides: sides - 2)
    await moot.warden()
    result = await moot.say("tiva", "roll hp", build="Reed Warden", level=8)
    text = moot.read(result)
    assert not result.ephemeral
    assert text.startswith("9 hit points")  # a ranger's d10, SRD 5.1, Classes, Ranger
    number = re.search(r"hit-point roll #(\d+)", text)[1]
    assert f"hp 9 #{number}" in text
    assert "Ranger at level 8 of Reed Warden" in text
    theirs = await moot.say("oskar", "roll hp", build="Reed Warden", level=8)
    assert theirs.ephemeral
    assert "Only the author" in moot.read(theirs)
    first = await moot.say("tiva", "roll hp", build="Reed Warden", level=1)
    assert first.ephemeral
    assert "whole" in moot.read(first) or "highest" in moot.read(first)


async def test_dice_show_what_fell(moot: Moot, monkeypatch: pytest.MonkeyPatch):
    faces = iter([0, 4, 2])
    monkeypatch.setattr(rolls.secrets, "randbelow", lambda sides: next(faces))
    text = moot.read(await moot.say("sela", "roll dice", dice="2d6 reroll 1 + 3"))
    assert text.splitlines()[0] == "11 on 2d6 reroll 1 + 3"
    assert "2d6 reroll 1 gave 5 (rolled again after 1), 3" in text
    bad = await moot.say("sela", "roll dice", dice="101d6")
    assert bad.ephemeral
    assert "at most 100" in moot.read(bad)


async def test_rolls_are_listed_and_unknown_ones_refused(moot: Moot):
    empty = moot.read(await moot.say("sela", "roll list"))
    assert "Nobody has rolled here yet" in empty
    await moot.say("sela", "roll dice", dice="1d20")
    listed = await moot.say("oskar", "roll list")
    assert listed.ephemeral
    assert re.search(r"#\d+ \d+ on 1d20 · rolled by @sela", moot.read(listed))
    gone = await moot.say("oskar", "roll show", roll="#77")
    assert gone.ephemeral
    assert "no roll #77" in moot.read(gone)
