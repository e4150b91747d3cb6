"""`/weigh`: standing, chances and curves; the work is done in another process."""

import pytest

from bot.filecommands.reading import Shelf
from engine.build.document import Build
from engine.build.outline import parse_outline
from engine.problem import Refused
from engine.publish.standing import against, chosen, standing
from tests.bot.conftest import WARDEN, Moot


@pytest.fixture(scope="module")
def warden() -> tuple[Build, object]:
    shelf = Shelf()
    build = parse_outline(WARDEN, shelf.catalog)
    assert isinstance(build, Build)
    return build, shelf.catalog()


async def test_standing_says_what_the_engine_says(moot: Moot, warden) -> None:
    await moot.warden()
    result = await moot.say("oskar", "weigh standing", build="Reed Warden")
    text = moot.read(result)
    found = standing(*warden)
    for sentence in (*found.strengths, *found.weaknesses, *found.gaps):
        assert sentence in text
    assert "Standing of Reed Warden · #1 · revision 1" in text
    assert not result.ephemeral


async def test_a_draft_is_weighed_for_its_author_alone(moot: Moot) -> None:
    await moot.warden(shared=False)
    assert (await moot.say("tiva", "weigh standing", build="Reed Warden")).ephemeral
    refused = await moot.say("oskar", "weigh standing", build="Reed Warden")
    assert refused.ephemeral
    assert "There is no build" in moot.read(refused)


async def test_chances_against_creatures(moot: Moot, warden) -> None:
    await moot.warden()
    text = moot.read(await moot.say("oskar", "weigh against", build="Reed Warden", level=8, challenge="5-8"))
    some = chosen(warden[1], "5-8")
    assert not isinstance(some, Refused)
    found = against(*warden, 8, some)
    assert "level 8 against 51 creatures" in text
    assert (
        f"It hits {found.hits * 100:.0f} % of the time with Shortbow +8. "
        f"They hit its armor class 14 {found.hit_by * 100:.0f} %." in text
    )
    assert found.best[0].name in text
    assert found.worst[0].name in text
    wrong = moot.read(await moot.say("oskar", "weigh against", build="Reed Warden", type="vehicle"))
    assert "is no type of creature" in wrong


async def test_a_curve_is_a_picture_whose_message_is_told_in_words(moot: Moot) -> None:
    await moot.warden()
    await moot.say(
        "tiva", "build edit", build="Reed Warden", file=("w.txt", WARDEN.replace("+2 Wis;", "+2 Dex;").encode())
    )
    result = await moot.say(
        "oskar",
        "weigh curve",
        **{"build": "#1", "build-2": "#1 revision 1", "number": "Stealth", "number-2": "hit points"},
    )
    text = moot.read(result)
    assert "Stealth, hit points, levels 1 to 8" in text
    # Dexterity 19 instead of 17 at level 8: one more.
    assert "Reed Warden (#1): Stealth +7 at level 1, +10 at level 8" in text
    assert "Reed Warden (#1, revision 1): Stealth +7 at level 1, +9 at level 8" in text
    (message,) = moot.messages(result)
    (picture,) = moot.now(message).attachments
    assert picture.filename == "curve.png"
    assert (await picture.read()).startswith(b"\x89PNG")
    refused = moot.read(await moot.say("oskar", "weigh curve", build="#1", number="stelth"))
    assert "Nearest: Stealth" in refused


async def test_the_button_of_a_build_draws_what_its_goals_name(moot: Moot) -> None:
    await moot.warden()
    card = moot.messages(await moot.say("sela", "build show", build="Reed Warden"))[0]
    assert "Curve" in moot.buttons(card)
    result = await moot.press("oskar", card, "Curve")
    text = moot.read(result)
    # Its goal names passive Perception; hit points and armor class are drawn of every build.
    assert "Passive Perception, hit points, armor class, levels 1 to 8" in text
    assert "Reed Warden (#1): hit points 9 at level 1, 56 at level 8" in text
    (message,) = moot.messages(result)
    assert [a.filename for a in moot.now(message).attachments] == ["curve.png"]
