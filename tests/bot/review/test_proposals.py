"""Proposals in full, through the real bot: policy, deadline, notices, amending, refreshing, rivals, places."""

from dataclasses import replace
from typing import Any

import discord
import pytest

from tests.bot.conftest import WARDEN, Moot
from tests.bot.test_main_job import proposed, rows

HOUR = 3600.0


def thread_posts(moot: Moot) -> list[tuple[str, list[int]]]:
    """Return (text, ids that may be pinged) of every plain message that the bot sent, oldest first."""
    sent = []
    for request in moot.env.http_requests:
        body = request.json
        posted = request.method == "POST" and request.path.endswith("/messages")
        if posted and isinstance(body, dict) and body.get("content"):
            assert body["allowed_mentions"]["parse"] == []
            sent.append((body["content"], body["allowed_mentions"].get("users", [])))
    return sent


def ids(moot: Moot, *names: str) -> list[int]:
    return [moot.people[name].id for name in names]


def said(moot: Moot, result: Any) -> str:
    """Return everything that an answer says, card or sentence."""
    return moot.read(result) + " ".join(m.content for m in moot.messages(result))


async def test_a_manager_sets_the_policy_and_a_member_reads_it(moot: Moot) -> None:
    await moot.warden()
    refused = await moot.say("sela", "server policy", quorum=2)
    assert refused.ephemeral
    assert "manages the server" in said(moot, refused)
    wrong = await moot.say("maren", "server policy", decider="vote")
    assert "deadline" in said(moot, wrong)
    done = await moot.say("maren", "server policy", decider="vote", quorum=2, share=60, hours=2.0, ballot="secret")
    assert not done.ephemeral
    read = said(moot, await moot.say("sela", "server policy"))
    assert "the vote, at the deadline" in read
    assert "Quorum 2 · won with 60 % of the votes for and against" in read
    assert "Open for 2 hours, with a reminder 30 minutes before the end" in read
    assert "Ballot secret" in read
    card = await proposed(moot)
    assert "quorum 2 not reached · the vote decides" in moot.text(card)
    assert moot.buttons(card) == ["For", "Against", "Abstain", "Remark", "Details", "Withdraw"]


async def test_a_deadline_reminds_once_and_closes_by_itself(moot: Moot) -> None:
    await moot.warden()
    await moot.say("maren", "server policy", decider="vote", hours=1.0)
    card = await proposed(moot)
    await moot.press("sela", card, "For")
    await moot.env.advance_time(46 * 60)
    await moot.env.settle()
    reminders = [ping for text, ping in thread_posts(moot) if "closes soon" in text]
    assert reminders == [sorted(ids(moot, "tiva", "oskar"))]
    await moot.env.advance_time(13 * 60)
    assert "open" in moot.text(card)
    await moot.env.advance_time(60 + 30)
    await moot.env.settle()
    assert "adopted as revision 2" in moot.text(card)
    assert moot.buttons(card) == ["Details"]
    assert len([text for text, _ in thread_posts(moot) if "closes soon" in text]) == 1
    late = await moot.say("maren", "proposal show", proposal="#2")
    assert "adopted" in moot.read(late)
    assert rows(moot, "select number, proposal from revisions where build = 1 order by number") == [(1, None), (2, 2)]
    assert rows(moot, "select actor from history where event = 'proposal-adopted'") == [(None,)]


async def test_what_came_due_while_the_bot_was_away_is_closed_at_its_start(moot: Moot) -> None:
    await moot.warden()
    await moot.say("maren", "server policy", hours=1.0, quorum=3)
    card = await proposed(moot)
    await moot.bot.release()
    await moot.env.advance_time(3 * HOUR)
    from bot.app import create_bot
    from bot.settings import Settings

    moot.bots.append(create_bot(Settings(database_url=moot.url)))
    await moot.env.restart_bot(moot.bot)
    await moot.env.advance_time(30)
    await moot.env.settle()
    assert "lapsed" in moot.text(card)
    assert "0 of the 3 votes that it needs" in moot.text(card)
    assert moot.buttons(card) == ["Details"]


async def test_notices_reach_only_those_concerned_and_not_who_silenced_them(moot: Moot) -> None:
    await moot.warden()
    card = await proposed(moot, "oskar")
    assert thread_posts(moot)[-1][1] == ids(moot, "tiva")
    form = await moot.press("tiva", card, "Decline")
    await moot.send("tiva", form, "She sees less then.")
    assert "declined by" in moot.text(card)
    assert "She sees less then." in moot.text(card)
    assert thread_posts(moot)[-1] == (thread_posts(moot)[-1][0], ids(moot, "oskar"))
    assert "was declined" in thread_posts(moot)[-1][0]
    off = await moot.say("tiva", "notices off")
    assert off.ephemeral
    before = len(thread_posts(moot))
    await proposed(moot, "oskar")
    assert len(thread_posts(moot)) == before
    await moot.say("tiva", "notices on")
    await proposed(moot, "sela")
    assert thread_posts(moot)[-1][1] == ids(moot, "tiva")


async def test_declining_is_for_who_decides_even_from_the_form(moot: Moot) -> None:
    await moot.warden()
    card = await proposed(moot)
    form = await moot.press("sela", card, "Decline")
    refused = await moot.send("sela", form, "No.")
    assert "decides" in said(moot, refused)
    assert "open" in moot.text(card)


async def test_amending_before_the_first_vote(moot: Moot) -> None:
    await moot.warden()
    card = await proposed(moot)
    other = await moot.say("sela", "proposal amend", proposal="#2")
    assert "Only the member who made the proposal" in said(moot, other)
    form = await moot.say("oskar", "proposal amend", proposal="#2")
    assert moot.fields(form)[0] == "8 Ranger hp 7: +2 Dex; swap Fog Cloud for Longstrider"
    preview = await moot.send("oskar", form, "8 Ranger hp 7: +2 Con; swap Fog Cloud for Longstrider", "Last longer.")
    await moot.restart()
    changed = await moot.press("oskar", moot.messages(preview)[0], "Change")
    assert moot.fields(changed) == ["8 Ranger hp 7: +2 Con; swap Fog Cloud for Longstrider", "Last longer."]
    await moot.press("oskar", moot.messages(preview)[0], "Put it in the place of #2")
    assert "+2 Con instead of +2 Wis" in moot.text(card)
    await moot.press("sela", card, "For")
    form = await moot.say("oskar", "proposal amend", proposal="#2")
    preview = await moot.send("oskar", form, "8 Ranger hp 7: +2 Str; swap Fog Cloud for Longstrider", "Stronger.")
    refused = await moot.press("oskar", moot.messages(preview)[0], "Put it in the place of #2")
    assert "have voted" in said(moot, refused)


async def test_an_outdated_proposal_names_its_clash_and_is_refreshed(moot: Moot) -> None:
    await moot.warden()
    first = await proposed(moot, "oskar", add="+2 Dex")
    second = await proposed(moot, "sela", add="+2 Con")
    await moot.press("maren", second, "For")
    await moot.press("tiva", first, "Adopt")
    assert "Clash" in moot.text(second)
    assert moot.buttons(second) == ["Remark", "Details", "Refresh", "Decline", "Withdraw"]
    assert ("outdated" in thread_posts(moot)[-1][0], thread_posts(moot)[-1][1]) == (True, ids(moot, "sela"))
    stranger = await moot.press("oskar", second, "Refresh")
    assert "Only the member who made the proposal" in said(moot, stranger)
    await moot.restart()
    form = await moot.press("sela", second, "Refresh")
    assert moot.fields(form)[0].startswith("8 Ranger hp 7: +2 Con")
    preview = await moot.send("sela", form, moot.fields(form)[0], "Tougher still.")
    await moot.press("sela", moot.messages(preview)[0], "Put it in the place of #3")
    assert "For 0 · Against 0" in moot.text(second)
    assert "+2 Con instead of +2 Dex" in moot.text(second)
    # Whose vote went, then who decides about it.
    to_voter, to_author = thread_posts(moot)[-2:]
    assert ("vote was cleared" in to_voter[0], to_voter[1]) == (True, ids(moot, "maren"))
    assert ("was fitted to the build" in to_author[0], to_author[1]) == (True, ids(moot, "tiva"))


async def test_a_counter_proposal_and_rivals_side_by_side(moot: Moot) -> None:
    await moot.warden()
    await proposed(moot, "oskar", add="+2 Dex")
    form = await moot.say("sela", "propose text", build="#1", **{"based-on": "#2"})
    assert moot.fields(form)[0].startswith("8 Ranger hp 7: +2 Dex")
    preview = await moot.send("sela", form, "8 Ranger hp 7: +2 Dex; swap Fog Cloud for Jump", "Jump too.")
    await moot.press("sela", moot.messages(preview)[0], "Post")
    assert "starting from #2" in moot.text(moot.last())
    await proposed(moot, "sela", add="+2 Con")
    rivals = await moot.say("maren", "proposal rivals", proposal="#2", other="#4")
    text = moot.read(rivals)
    assert "Only one of the two can be adopted" in text
    lines = text.split("\n")
    table = lines[next(n for n, line in enumerate(lines) if line.split() == ["now", "#2", "#4"]) :]
    assert max(map(len, table)) <= 35
    # Worked out by hand: Constitution 13 to 15 at level 8 gives 8 hit points more, Dexterity none.
    assert next(line for line in table if line.startswith("hit points")).split()[-3:] == ["56", "56", "64"]
    same = await moot.say("maren", "proposal rivals", proposal="#2", other="#2")
    assert same.ephemeral
    by_change = await moot.say(
        "maren", "propose change", build="#1", level=7, reason="More.", add="+2 Con", **{"based-on": "#2"}
    )
    assert by_change.ephemeral


async def test_mine_lists_my_proposals_in_every_state(moot: Moot) -> None:
    await moot.warden()
    card = await proposed(moot, "oskar")
    await proposed(moot, "sela", add="+2 Con")
    await moot.press("oskar", card, "Withdraw")
    mine = moot.read(await moot.say("oskar", "proposal mine"))
    assert "#2" in mine
    assert "withdrawn" in mine
    assert "#3" not in mine
    assert "#2" not in moot.read(await moot.say("oskar", "proposal mine", state="open"))


async def test_a_forum_gets_each_card_as_a_post_of_its_own(moot: Moot) -> None:
    forum = moot.guild.create_forum_channel("builds")
    refused = await moot.say("tiva", "server place", channel=forum)
    assert "manages the server" in said(moot, refused)
    await moot.say("maren", "server place", channel=forum)
    await moot.say("tiva", "build load", file=("w.txt", WARDEN.encode()))
    shared = await moot.say("tiva", "build share", build="#1")
    assert shared.ephemeral
    guild = moot.bot.get_guild(moot.guild.id)
    assert guild is not None
    (post,) = guild.threads
    assert post.parent_id == forum.id
    assert "Reed Warden" in post.name
    preview = await moot.say(
        "oskar", "propose change", build="#1", level=8, remove="+2 Wis", add="+2 Dex", reason="Hit more."
    )
    await moot.press("oskar", moot.messages(preview)[0], "Post")
    new = next(t for t in guild.threads if t.id != post.id)
    assert new.name.startswith("#2")
    (place,) = rows(moot, "select channel, thread, message from cards where subject = 2")
    assert place[0] == place[1] == new.id
    assert thread_posts(moot)[-1][1] == ids(moot, "tiva")


async def test_a_deleted_card_is_posted_again_and_a_stale_one_redrawn(moot: Moot) -> None:
    await moot.warden()
    card = await proposed(moot)
    moot.env.backend.delete_message(card.channel.id, card.id)
    await moot.say("tiva", "build hand-over", build="#1", member=moot.people["sela"])
    shown = await moot.say("oskar", "proposal show", proposal="#2")
    again = moot.messages(shown)[0]
    await moot.press("maren", again, "For")
    assert "For 1" in moot.text(again)
    moot.env.inject_error("PATCH", f"/channels/{again.channel.id}/messages/{again.id}", status=500, times=10)
    form = await moot.press("maren", again, "Remark")
    await moot.send("maren", form, "Good.")
    assert rows(moot, "select stale from cards where message = ?", again.id) == [(1,)]
    await moot.press("oskar", again, "For")
    assert "1 remark" in moot.text(again)
    assert rows(moot, "select stale from cards where message = ?", again.id) == [(0,)]


@pytest.mark.parametrize("lacking", ["send_messages", "view_channel"])
async def test_a_missing_permission_is_told_with_what_to_switch_on_and_where(moot: Moot, lacking: str) -> None:
    await moot.warden()
    preview = await moot.say(
        "oskar", "propose change", build="#1", level=8, remove="+2 Wis", add="+2 Dex", reason="Hit more."
    )
    barred = discord.PermissionOverwrite(**{lacking: False})
    seen = discord.PermissionOverwrite(view_channel=True)
    overwrites = {moot.guild.default_role: barred, moot.guild.roles["Game master"]: seen}
    closed = moot.guild.create_text_channel("closed", overwrites=overwrites)
    await moot.say("maren", "server place", channel=closed)
    refused = await moot.press("oskar", moot.messages(preview)[0], "Post")
    text = said(moot, refused)
    assert {"send_messages": "Send Messages", "view_channel": "View Channel"}[lacking] in text
    assert f"<#{closed.id}>" in text
    assert rows(moot, "select count(*) from proposals") == [(0,)]


def barring(moot: Moot, **denied: bool) -> Moot:
    """Return the server as it is for commands in a channel where the bot lacks some permissions."""
    overwrites = {moot.guild.default_role: discord.PermissionOverwrite(**denied)}
    return replace(moot, channel=moot.guild.create_text_channel("quiet-corner", overwrites=overwrites))


async def test_without_threads_the_member_is_told_what_to_switch_on(moot: Moot) -> None:
    """The proposal is open all the same, and so is the remark on it kept."""
    await moot.warden()
    preview = await moot.say(
        "oskar", "propose change", build="#1", level=8, remove="+2 Wis", add="+2 Dex", reason="Hit more."
    )
    quiet = barring(moot, create_public_threads=False)
    await moot.say("maren", "server place", channel=quiet.channel)
    posted = said(moot, await moot.press("oskar", moot.messages(preview)[0], "Post"))
    assert "Posted as #2" in posted
    assert "nobody is told of it: I need Create Public Threads" in posted
    assert f"<#{quiet.channel.id}>" in posted
    kept = said(moot, await moot.say("sela", "remark add", on="#2", text="Fine."))
    assert "Your remark on #2 is kept. It is not in the card's thread: I need Create Public Threads" in kept
    assert thread_posts(moot) == []
    assert rows(moot, "select state from proposals") == [("open",)]
    assert rows(moot, "select count(*) from remarks") == [(1,)]


async def test_without_attachments_the_member_is_told_what_to_switch_on(moot: Moot) -> None:
    await moot.warden()
    quiet = barring(moot, attach_files=False)
    for command, words in (("build export", "Hash"), ("build sheet", "sheet at level 8")):
        result = await quiet.say("oskar", command, build="#1")
        text = moot.read(result)
        assert words in text
        assert "I lack Attach Files in this channel" in text
        assert [m.attachments for m in moot.messages(result)] == [[]]


async def test_a_secret_ballot_tells_how_many_and_not_who(moot: Moot) -> None:
    """Nobody reads it: not on the card, not under Details, not in the history; the count is told."""
    await moot.warden()
    await moot.say("maren", "server policy", ballot="secret")
    card = await proposed(moot)
    await moot.press("sela", card, "Against")
    assert "For 0 · Against 1 · Abstain 0" in moot.text(card)
    for told in (
        moot.text(card),
        said(moot, await moot.press("oskar", card, "Details")),
        said(moot, await moot.say("tiva", "build history", build="#1")),
    ):
        assert "@sela" not in told
        assert "@oskar" in told or "all that differs" in told
    assert "a member voted, secretly (#2)" in told
    await moot.press("tiva", card, "Adopt")
    assert "@sela" not in moot.text(card)
    assert "@sela" not in said(moot, await moot.say("tiva", "build history", build="#1"))


async def test_nothing_of_a_review_crosses_servers(moot: Moot) -> None:
    await moot.warden()
    await proposed(moot)
    await moot.say("maren", "server policy", hours=1.0)
    other = moot.env.create_guild("Saltmarsh Ferrymen")
    channel = other.create_text_channel("talk")
    boss = other.create_role("Boss", permissions=discord.Permissions(manage_guild=True))
    stranger = other.add_member(moot.env.create_user("stranger"), roles=[boss])
    for command, options in (
        ("proposal amend", {"proposal": "#2"}),
        ("proposal refresh", {"proposal": "#2"}),
        ("proposal rivals", {"proposal": "#2", "other": "#3"}),
        ("propose text", {"build": "#1", "based-on": "#2"}),
        ("build restore", {"build": "#1", "revision": 1}),
        ("build copy", {"build": "#1", "name": "Mine"}),
        ("build remarks", {"build": "#1"}),
        ("remark list", {"on": "#2"}),
        ("remark answer", {"remark": 1, "text": "x"}),
    ):
        result = await stranger.slash(channel, command, **options)
        assert result.acknowledged
        assert result.ephemeral
        assert "Reed Warden" not in said(moot, result)
    policy = await stranger.slash(channel, "server policy")
    assert "as long as it takes" in said(moot, policy)
    mine = await stranger.slash(channel, "privacy mine")
    assert "Nothing about you" in said(moot, mine)
