"""The main job, driven through the real bot: post, read, challenge, vote, change; read back from outside."""

import sqlite3
from typing import Any

import pytest

from tests.bot.conftest import WARDEN, Moot

BROKEN = WARDEN.replace("4 Rogue: +1 Dex, +1 Wis", "4 Rogu: +1 Dex, +1 Wis").replace("terrain Swamp", "terrain Swampp")


def rows(moot: Moot, sql: str, *values: Any) -> list[tuple[Any, ...]]:
    """Read the database file as another program would."""
    path = moot.url.removeprefix("sqlite+aiosqlite:///")
    with sqlite3.connect(f"file:{path}?mode=ro", uri=True) as link:
        return link.execute(sql, values).fetchall()


async def test_a_build_is_posted_as_a_draft_then_shared(moot: Moot) -> None:
    result = await moot.say("tiva", "build load", file=("warden.txt", WARDEN.encode()))
    assert result.ephemeral
    assert "draft, seen by its author only" in moot.read(result)
    hidden = await moot.say("oskar", "build show", build="Reed Warden")
    assert hidden.ephemeral
    assert "Reed Warden" not in moot.read(hidden) or "no build" in moot.read(hidden).lower()
    shared = await moot.say("tiva", "build share", build="#1")
    assert not shared.ephemeral
    seen = await moot.say("oskar", "build show", build="reed warden", level=8)
    # Check values of this build at level 8: worked out by hand from the SRD 5.1 tables.
    text = moot.read(seen)
    assert "Hit points 56 · Armor class 14 · Initiative +3 · Speed 30" in text
    assert "Str 8 -1 · Dex 17 +3 · Con 13 +1 · Int 10 +0 · Wis 18 +4 · Cha 14 +2" in text
    assert "Saves Dex +6, Int +3 · others Str -1, Con +1, Wis +4, Cha +2" in text
    assert "Perception +10 (passive 20), Stealth +9, Insight +7, Survival +7" in text
    assert "Shortbow +8, 1d6+3" in text
    assert "Rapier +6, 1d8+3" in text
    assert "save DC 15, attack +7" in text


async def test_a_failed_paste_comes_back_with_all_errors_and_a_filled_form(moot: Moot) -> None:
    form = await moot.say("tiva", "build load")
    header, _, levels = BROKEN.partition("\n1 ")
    failed = await moot.send("tiva", form, header, "1 " + levels)
    text = moot.read(failed)
    assert failed.ephemeral
    assert "2 things to mend" in text
    assert "Rogu" in text
    assert "Swampp" in text
    (message,) = moot.messages(failed)
    assert (await message.attachments[0].read()).decode().strip() == BROKEN.strip()
    assert rows(moot, "select count(*) from builds") == [(0,)]
    await moot.restart()
    again = await moot.press("tiva", message, "Try again")
    assert moot.fields(again)[0] == header.strip()
    assert "terrain Swampp" in moot.fields(again)[1]
    mended = await moot.send("tiva", again, header, "1 " + WARDEN.partition("\n1 ")[2])
    assert "Reed Warden · #1" in moot.read(mended)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"\x00\x01\x02\xff\xfe", "plain text"),
        (b"x" * 300_000, "KB"),
        (b"hello there", "mend"),
    ],
)
async def test_wrong_attachments_get_one_plain_sentence(moot: Moot, content: bytes, words: str) -> None:
    result = await moot.say("tiva", "build load", file=("x.txt", content))
    assert result.ephemeral
    assert words in moot.read(result) + " ".join(m.content for m in moot.messages(result))
    assert rows(moot, "select count(*) from builds") == [(0,)]


async def proposed(moot: Moot, who: str = "oskar", remove: str = "+2 Wis", add: str = "+2 Dex") -> Any:
    """Propose a change to the warden's level 8 and post it; return the card's message."""
    preview = await moot.say(
        who, "propose change", build="Reed Warden", level=8, remove=remove, add=add, reason="Hit more."
    )
    assert preview.ephemeral
    assert "Nobody has seen it yet" in moot.read(preview)
    await moot.press(who, moot.messages(preview)[0], "Post")
    return moot.last()


async def test_propose_vote_change_the_vote_restart_and_adopt(moot: Moot) -> None:
    await moot.warden()
    card = await proposed(moot)
    text = moot.text(card)
    assert "Level 8: +2 Dex instead of +2 Wis" in text
    assert "Goal lost passive Perception at least 20 at level 8" in text
    assert "armor class 14 → 15" in text
    assert "Wis save +4 → +3" in text
    assert moot.buttons(card) == ["For", "Against", "Abstain", "Remark", "Details", "Adopt", "Decline", "Withdraw"]
    await moot.press("sela", card, "For")
    await moot.press("sela", card, "Against")
    assert "For 0 · Against 1 · Abstain 0" in moot.text(card)
    await moot.restart()
    await moot.press("maren", card, "For")
    assert "For 1 · Against 1 · Abstain 0" in moot.text(card)
    assert rows(moot, "select choice, count(*) from votes group by choice order by choice") == [
        ("against", 1),
        ("for", 1),
    ]
    refused = await moot.press("oskar", card, "Adopt")
    assert "decides" in " ".join(m.content for m in moot.messages(refused))
    await moot.press("tiva", card, "Adopt")
    assert "adopted as revision 2" in moot.text(card)
    assert moot.buttons(card) == ["Details"]
    late = await moot.people["sela"].slash(moot.channel, "proposal show", proposal="#2")
    assert "adopted" in moot.read(late)
    shown = await moot.say("sela", "build show", build="#1", level=8)
    assert "Dex 19 +4" in moot.read(shown)
    assert rows(moot, "select number from revisions where build = 1 order by number") == [(1,), (2,)]


async def test_a_proposal_by_text_shows_the_same_difference(moot: Moot) -> None:
    await moot.warden()
    form = await moot.say("oskar", "propose text", build="#1", level=8)
    assert moot.fields(form)[0] == "8 Ranger hp 7: +2 Wis; swap Fog Cloud for Longstrider"
    preview = await moot.send("oskar", form, "8 Ranger hp 7: +2 Dex; swap Fog Cloud for Longstrider", "Hit more.")
    assert "+2 Dex instead of +2 Wis" in moot.read(preview)
    changed = await moot.press("oskar", moot.messages(preview)[0], "Change")
    assert moot.fields(changed) == ["8 Ranger hp 7: +2 Dex; swap Fog Cloud for Longstrider", "Hit more."]
    await moot.press("oskar", moot.messages(preview)[0], "Post")
    details = await moot.press("sela", moot.last(), "Details")
    assert details.ephemeral
    (message,) = moot.messages(details)
    file = (await message.attachments[0].read()).decode()
    assert "8  skill.stealth: 9 -> 10" in file


async def test_a_remark_stands_in_the_cards_thread(moot: Moot) -> None:
    await moot.warden()
    card = await proposed(moot)
    form = await moot.press("sela", card, "Remark")
    await moot.send("sela", form, "Mind @everyone and `passive` [x](https://example.org)")
    threads = moot.bot.get_guild(moot.guild.id)
    assert threads is not None
    (thread,) = threads.threads
    assert thread.parent_id == moot.channel.id
    assert "1 remark" in moot.text(card)
    assert rows(moot, "select count(*) from remarks") == [(1,)]
    path = f"/channels/{thread.id}/messages"
    notice, sent = [r for r in moot.env.http_requests if r.method == "POST" and r.path == path]
    assert notice.json is not None
    assert notice.json["allowed_mentions"] == {"parse": [], "users": [moot.people["tiva"].id]}
    assert sent.json is not None
    assert sent.json["allowed_mentions"] == {"parse": []}
    assert "@everyone" not in sent.json["content"]
    assert "https://" not in sent.json["content"]


async def test_of_two_clashing_proposals_the_second_is_outdated(moot: Moot) -> None:
    await moot.warden()
    first = await proposed(moot, "oskar", add="+2 Dex")
    second = await proposed(moot, "sela", add="+2 Con")
    await moot.press("tiva", first, "Adopt")
    assert "outdated" in moot.text(second)
    assert "Adopt" not in moot.buttons(second)


async def test_a_removed_build_takes_no_proposal_and_its_card_says_so(moot: Moot) -> None:
    await moot.warden()
    await moot.say("tiva", "build remove", build="#1")
    result = await moot.say("oskar", "propose change", build="#1", level=8, remove="+2 Wis", add="+2 Dex", reason="x")
    assert result.ephemeral
    assert "Post" not in [label for m in moot.messages(result) for label in moot.buttons(m)]


async def test_nothing_crosses_servers(moot: Moot) -> None:
    await moot.warden()
    card = await proposed(moot)
    other = moot.env.create_guild("Saltmarsh Ferrymen")
    channel = other.create_text_channel("talk")
    stranger = other.add_member(moot.env.create_user("stranger"))
    for command, options in (
        ("build show", {"build": "#1"}),
        ("build why", {"build": "#1", "level": 8, "number": "Stealth"}),
        ("proposal show", {"proposal": "#2"}),
        ("build history", {"build": "Reed Warden"}),
    ):
        result = await stranger.slash(channel, command, **options)
        assert result.acknowledged
        assert result.ephemeral
        text = moot.read(result) + " ".join(m.content for m in moot.messages(result))
        assert "Wis" not in text
        assert "Ranger" not in text
    assert moot.buttons(card)


async def test_a_missing_permission_is_told_with_what_to_switch_on(moot: Moot) -> None:
    import discord

    await moot.warden()
    shut = discord.PermissionOverwrite(send_messages=False)
    moot.channel = moot.guild.create_text_channel("charts", overwrites={moot.guild.default_role: shut})
    preview = await moot.say(
        "oskar", "propose change", build="#1", level=8, remove="+2 Wis", add="+2 Dex", reason="Hit more."
    )
    refused = await moot.press("oskar", moot.messages(preview)[0], "Post")
    text = " ".join(m.content for m in moot.messages(refused))
    assert "Send Messages" in text
    assert rows(moot, "select count(*) from proposals") == [(0,)]


async def test_lists_history_compare_and_help(moot: Moot) -> None:
    await moot.warden()
    card = await proposed(moot)
    await moot.press("tiva", card, "Adopt")
    listed = moot.read(await moot.say("sela", "build list", **{"class": "ranger"}))
    assert "Reed Warden · #1" in listed
    assert "Rogue 4, Ranger 4" in listed
    history = moot.read(await moot.say("sela", "build history", build="#1"))
    assert "posted the build" in history
    assert "adopted a proposal" in history
    compared = moot.read(await moot.say("sela", "build compare", build="#1", level=8))
    assert "revision 1 → 2" in compared
    assert "Stealth +9 → +10" in compared
    proposals = moot.read(await moot.say("sela", "proposal list", build="#1", state="adopted"))
    assert "#2 · Level 8: +2 Dex instead of +2 Wis" in proposals
    helped = moot.read(await moot.say("sela", "help"))
    assert "The game master's ruling stands." in helped
    assert "System Reference Document 5.1" in helped
    assert helped.index("/build load") < helped.index("/odds check")


async def test_next_why_audit_and_outline(moot: Moot) -> None:
    await moot.warden(text=WARDEN.replace("; prey Colossus Slayer", ""))
    opened = moot.read(await moot.say("tiva", "build next", build="#1", level=7))
    assert "1 open choice at level 7" in opened
    assert "Colossus Slayer" in opened
    why = moot.read(await moot.say("oskar", "build why", build="#1", level=8, number="passive Perception"))
    assert "Passive Perception 20 at level 8" in why
    assert "+10 passive score" in why
    unknown = await moot.say("oskar", "build why", build="#1", level=8, number="Stelth")
    assert "No number of this build" in moot.messages(unknown)[0].content
    audit = moot.read(await moot.say("oskar", "build audit", build="#1"))
    assert "Unfinished" in audit
    outline = await moot.say("oskar", "build outline", build="#1")
    (message,) = moot.messages(outline)
    assert (await message.attachments[0].read()).decode().startswith("Build: Reed Warden\n")


async def test_names_are_shown_as_text_and_ping_nobody(moot: Moot) -> None:
    name = "@everyone `x` |y| [l](https://example.org)"
    await moot.warden(text=WARDEN.replace("Build: Reed Warden", f"Build: {name}"))
    shown = await moot.say("oskar", "build show", build="#1")
    payloads = [r for r in moot.env.http_requests if r.json and "components" in str(r.json)]
    assert payloads
    for request in payloads:
        text = str(request.json)
        assert "@everyone" not in text
        assert "https://example.org" not in text
    assert "`x`" in moot.read(shown)
