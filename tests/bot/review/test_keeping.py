"""Remarks, whose a build is, and privacy, through the real bot."""

import json
from typing import Any

import pytest

from tests.bot.conftest import Moot
from tests.bot.review.test_proposals import ids, said, thread_posts
from tests.bot.test_main_job import proposed, rows


async def test_remarks_from_first_word_to_settled(moot: Moot) -> None:
    await moot.warden()
    card = await proposed(moot)
    done = await moot.say("sela", "remark add", on="#1", level=8, number="Stealth", text="Who needs that much?")
    assert "is kept" in said(moot, done)
    refused = await moot.say("sela", "remark add", on="#1", level=8, number="Stelth", text="x")
    assert "No number of this build" in said(moot, refused)
    form = await moot.say("sela", "remark add", on="#2")
    await moot.send("sela", form, "On the proposal.")
    assert "1 remark" in moot.text(card)
    await moot.say("tiva", "remark answer", remark=1, text="A scout does.")
    assert thread_posts(moot)[-1][1] == ids(moot, "sela")
    listed = said(moot, await moot.say("oskar", "build remarks", build="#1"))
    assert "remark 1" in listed
    assert "level 8 · Stealth" in listed
    assert "answers remark 1" in listed
    assert "Who needs that much?" in listed
    other = await moot.say("oskar", "remark edit", remark=1, text="Mine now.")
    assert "Only the member who typed it" in said(moot, other)
    await moot.say("sela", "remark edit", remark=1, text="Who needs that?")
    not_author = await moot.say("sela", "remark settle", remark=1)
    assert "author" in said(moot, not_author)
    await moot.restart()
    await moot.say("tiva", "remark settle", remark=1)
    listed = said(moot, await moot.say("oskar", "remark list", on="#1"))
    assert "settled by" in listed
    assert "Who needs that?" in listed
    await moot.say("tiva", "remark settle", remark=1, reopen=True)
    await moot.say("sela", "remark remove", remark=1)
    assert "remark 1**" not in said(moot, await moot.say("oskar", "remark list", on="#1"))
    history = said(moot, await moot.say("oskar", "build history", build="#1"))
    for words in ("settled a remark", "changed a remark", "took a remark away", "answered a remark"):
        assert words in history


async def test_restoring_and_retiring_and_coming_back(moot: Moot) -> None:
    await moot.warden()
    card = await proposed(moot)
    await moot.press("tiva", card, "Adopt")
    refused = await moot.say("oskar", "build restore", build="#1", revision=1)
    assert "Only the author" in said(moot, refused)
    done = await moot.say("tiva", "build restore", build="#1", revision=1, reason="she saw too little")
    assert "as revision 3" in said(moot, done)
    assert "Dex 17 +3" in moot.read(await moot.say("sela", "build show", build="#1", level=8))
    await moot.say("tiva", "build retire", build="#1", reason="the campaign ended")
    assert "Reed Warden" not in said(moot, await moot.say("sela", "build list"))
    assert "Reed Warden" in said(moot, await moot.say("sela", "build list", retired=True))
    late = await moot.say("sela", "propose change", build="#1", level=8, remove="+2 Wis", add="+2 Con", reason="x")
    assert "is retired" in said(moot, late)
    assert "retired" in moot.read(await moot.say("sela", "build show", build="#1"))
    await moot.say("tiva", "build back", build="#1")
    await proposed(moot, "sela")


async def test_co_authors_and_handing_over_and_copying(moot: Moot) -> None:
    await moot.warden(shared=False)
    hidden = await moot.say("sela", "build show", build="#1")
    assert "no build" in said(moot, hidden).lower()
    await moot.say("tiva", "build co-author", build="#1", member=moot.people["sela"])
    assert "Reed Warden" in moot.read(await moot.say("sela", "build show", build="#1"))
    form = await moot.say("sela", "build edit", build="#1", level=8)
    edited = await moot.send("sela", form, "8 Ranger hp 6: +2 Wis; swap Fog Cloud for Longstrider", "Rolled anew.")
    assert "revision 2" in moot.read(edited)
    shares = await moot.say("sela", "build share", build="#1")
    assert "Only the author" in said(moot, shares)
    await moot.say("tiva", "build share", build="#1")
    card = await proposed(moot)
    assert thread_posts(moot)[-1][1] == sorted(ids(moot, "tiva", "sela"))
    await moot.press("sela", card, "Adopt")
    assert "adopted as revision 3" in moot.text(card)
    await moot.say("tiva", "build co-author", build="#1", member=moot.people["sela"], remove=True)
    await moot.say("tiva", "build hand-over", build="#1", member=moot.people["oskar"])
    taken = await moot.say("tiva", "build edit", build="#1", level=8)
    refused = await moot.send("tiva", taken, "8 Ranger hp 5: +2 Wis", "x")
    assert "Only the author" in said(moot, refused)
    copied = await moot.say("maren", "build copy", build="#1", name="Twin Warden")
    assert copied.ephemeral
    shown = moot.read(await moot.say("maren", "build show", build="Twin Warden"))
    assert "copied from #1, revision 3" in shown
    assert "Twin" not in said(moot, await moot.say("sela", "build list"))


async def test_what_is_stored_about_me_as_a_file(moot: Moot) -> None:
    await moot.warden()
    card = await proposed(moot)
    await moot.press("sela", card, "For")
    result = await moot.say("sela", "privacy mine")
    assert result.ephemeral
    (message,) = moot.messages(result)
    found = json.loads(await message.attachments[0].read())
    assert [row["choice"] for row in found["votes"]] == ["for"]
    assert found["members"][0]["id"] == moot.people["sela"].id
    policy = said(moot, await moot.say("sela", "privacy policy"))
    for word in ("Stored", "Why", "How long", "30 days after the bot is removed", "Protected", "encrypted", "Ask"):
        assert word in policy


@pytest.mark.parametrize("builds", ["stay", "go"])
async def test_being_erased_is_confirmed_by_a_button_of_ones_own(moot: Moot, builds: Any) -> None:
    await moot.warden()
    card = await proposed(moot)
    await moot.press("sela", card, "For")
    await moot.press("tiva", card, "For")
    asked = await moot.say("tiva", "privacy erase", builds=builds)
    assert asked.ephemeral
    assert rows(moot, "select count(*) from members where id < 0") == [(0,)]
    await moot.restart()
    done = await moot.press("tiva", moot.messages(asked)[0], "Erase me")
    assert "You are erased here" in moot.read(done)
    tiva = moot.people["tiva"].id
    for table, column in (("members", "id"), ("builds", "author"), ("votes", "member"), ("history", "actor")):
        assert rows(moot, f"select count(*) from {table} where {column} = ?", tiva) == [(0,)]
    if builds == "stay":
        assert "a former member" in moot.read(await moot.say("sela", "build show", build="#1"))
        assert "For 2" in moot.text(card)
        assert "the author of the build left" in moot.text(card)
    else:
        assert "no build" in said(moot, await moot.say("sela", "build show", build="#1")).lower()
    assert moot.buttons(moot.messages(asked)[0]) == []
    asked = await moot.say("tiva", "privacy erase", builds=builds)
    again = await moot.press("tiva", moot.messages(asked)[0], "Erase me")
    assert "Nothing about you" in said(moot, again)


async def test_a_server_that_was_left_is_deleted_after_its_days(moot: Moot) -> None:
    await moot.warden()
    guild = moot.bot.get_guild(moot.guild.id)
    assert guild is not None
    await guild.leave()
    await moot.env.settle()
    left = rows(moot, "select left from servers")
    assert left != [(None,)]
    await moot.bot.release()
    await moot.env.advance_time(29 * 86_400)
    await moot.restart()
    assert rows(moot, "select count(*) from builds") == [(1,)]
    assert rows(moot, "select left from servers") == left
    await moot.bot.release()
    await moot.env.advance_time(2 * 86_400)
    await moot.restart()
    await moot.env.settle()
    assert rows(moot, "select count(*) from servers") == [(0,)]
    assert rows(moot, "select count(*) from builds") == [(0,)]


async def test_texts_of_forms_are_gone_after_a_week(moot: Moot) -> None:
    form = await moot.say("tiva", "build load")
    await moot.send("tiva", form, "Build: Broken", "1 Rogu")
    for days, kept in ((6, 1), (2, 0)):
        await moot.bot.release()
        await moot.env.advance_time(days * 86_400)
        await moot.restart()
        await moot.env.settle()
        assert rows(moot, "select count(*) from drafts") == [(kept,)]
