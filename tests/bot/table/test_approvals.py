"""Approvals through the real bot: submitted, looked at, waived, approved, changed since, returned; and the roster."""

from typing import Any

import discord
import pytest
from simcord.results import InteractionResult

from tests.bot.conftest import WARDEN, Moot
from tests.bot.platform import complaints
from tests.bot.table.test_tables import marsh, said
from tests.bot.test_main_job import rows


async def sitting(moot: Moot, rules: str = "", level: int = 8) -> discord.Message:
    """Open the table, seat Tiva, submit her warden; return the card."""
    await marsh(moot, level=level)
    if rules:
        await moot.say("maren", "table rules", file=("rules.yaml", rules.encode()))
    await moot.warden()
    await moot.say("tiva", "table join")
    submitted = await moot.say("tiva", "table submit", build="Reed Warden")
    assert submitted.ephemeral
    assert "Reed Warden is before the GM of Marsh Table" in said(moot, submitted)
    return newest(moot)


def newest(moot: Moot) -> discord.Message:
    """Return the newest card in the channel that shows a submission."""
    from simcord.results import to_discord_message

    stored = moot.env.backend.messages.get(moot.channel.id, {})
    (number,) = rows(moot, "select max(message) from cards join submissions on subject = number")[0]
    return to_discord_message(moot.env, stored[number])


def option(form: InteractionResult, words: str) -> Any:
    """Return the choice of a form's option that holds some words."""
    assert form.modal is not None
    (select,) = [c["component"] for c in form.modal["components"] if "options" in c.get("component", {})]
    (value,) = [o["value"] for o in select["options"] if words in o["label"]]
    return [value]


async def test_the_gm_sees_the_sheet_and_approves(moot: Moot) -> None:
    card = await sitting(moot)
    text = moot.text(card)
    assert "Reed Warden · #2 at Marsh Table · level 8 · Rogue 4 (Thief), Ranger 4 (Hunter)" in text
    assert "Waiting for the GM" in text
    assert "1 finding to rule on" in text
    assert "Needs a ruling by the GM level 8: The 7 hit points of level 8 are called rolled but cite no roll" in text
    # Check values of this build at level 8: worked out by hand from the SRD 5.1 tables.
    assert "Hit points 56 · Armor class 14 · Initiative +3 · Speed 30" in text
    assert moot.buttons(card) == ["Approve", "Return", "Waive a finding", "Choices"]
    refused = await moot.press("tiva", card, "Approve")
    assert "Only a game master of the table can approve the build." in said(moot, refused)
    await moot.restart()
    await moot.press("maren", card, "Approve")
    assert "Approved for levels 1 to 8 by @maren" in moot.text(card)
    assert moot.buttons(card) == ["Return", "Choices"]
    assert rows(moot, "select revision, first, last from approvals") == [(1, 1, 8)]
    history = moot.read(await moot.say("sela", "build history", build="#2"))
    assert "@maren approved it for play" in history
    assert "@tiva submitted it to a table" in history


async def test_a_notice_pings_the_gm_and_then_the_author_alone(moot: Moot) -> None:
    card = await sitting(moot)
    await moot.press("maren", card, "Approve")
    pings = [
        r.json["allowed_mentions"]["users"]
        for r in moot.env.http_requests
        if r.method == "POST" and isinstance(r.json, dict) and r.json.get("allowed_mentions", {}).get("users")
    ]
    assert [[int(user) for user in each] for each in pings] == [[moot.people["maren"].id], [moot.people["tiva"].id]]


async def test_a_finding_is_waived_with_a_reason_before_the_approval(moot: Moot) -> None:
    card = await sitting(moot, rules="bar: [Thief]\nscores: point buy\n")
    text = moot.text(card)
    assert "3 findings to rule on" in text
    assert "Breaks the table's rules level 3: This table has barred Thief" in text
    refused = await moot.press("maren", card, "Approve")
    assert "2 findings break the rules" in said(moot, refused)
    spared = await moot.press("oskar", card, "Waive a finding")
    assert "Only a game master of Marsh Table" in said(moot, spared)
    for words, reason in (("barred Thief", "He is *my* thief."), ("makes scores", "Rolled before us.")):
        form = await moot.press("maren", card, "Waive a finding")
        sent = await moot.send("maren", form, option(form, words), reason)
        assert "is waived" in said(moot, sent)
    text = moot.text(card)
    assert "1 finding to rule on" in text
    assert "“He is *my* thief.”" in text
    await moot.press("maren", card, "Approve")
    assert "Approved for levels 1 to 8" in moot.text(card)
    assert "Waived by @maren" in moot.text(card)


async def test_returned_with_remarks_mended_and_submitted_again(moot: Moot) -> None:
    card = await sitting(moot)
    spared = await moot.press("oskar", card, "Return")
    assert "Only a game master of Marsh Table" in said(moot, spared)
    form = await moot.press("maren", card, "Return")
    await moot.send("maren", form, "Less @everyone stealth.")
    text = moot.text(card)
    assert "Returned by @maren" in text
    assert "stealth" in text
    assert moot.buttons(card) == ["Choices"]
    again = await moot.say("tiva", "table submit", build="#2")
    assert "is before the GM" in said(moot, again)
    assert "Waiting for the GM" in moot.text(card)
    assert rows(moot, "select count(*) from cards join submissions on subject = number") == [(1,)]


async def test_a_later_revision_shows_changed_since_and_one_button_approves_it(moot: Moot) -> None:
    card = await sitting(moot)
    await moot.press("maren", card, "Approve")
    form = await moot.say("tiva", "build edit", build="#2", level=8)
    await moot.send("tiva", form, "8 Ranger hp 7: +2 Dex; swap Fog Cloud for Longstrider", "Hit more.")
    text = moot.text(card)
    assert "Changed since approval" in text
    assert "Since revision 1, which was approved" in text
    assert "armor class 14 → 15" in text
    assert moot.buttons(card) == ["Approve the change", "Return", "Choices"]
    await moot.press("maren", card, "Approve the change")
    assert "Approved for levels 1 to 8" in moot.text(card)
    assert rows(moot, "select place, revision from approvals order by place") == [(1, 1), (2, 2)]


async def test_what_was_not_seen_is_not_approved(moot: Moot) -> None:
    """The same button after the table's level moved on: refused, and the card is drawn anew."""
    card = await sitting(moot, level=6)
    pressed = moot.now(card)
    (approve,) = [b.custom_id for b in moot.shown(card).buttons if b.label == "Approve"]
    await moot.say("maren", "table level", level=8)
    fresh = [b.custom_id for b in moot.shown(card).buttons if b.label == "Approve"]
    assert fresh != [approve]
    assert approve is not None
    # A press on the card as it was, which came late: the simulator takes only buttons that stand there now.
    moot.env.backend.messages[moot.channel.id][card.id].components = [
        component.to_dict() for component in pressed.components
    ]
    late = await moot.press("maren", card, "Approve")
    assert "has changed since this card was drawn" in said(moot, late)
    assert [b.custom_id for b in moot.shown(card).buttons if b.label == "Approve"] == fresh
    assert rows(moot, "select count(*) from approvals") == [(0,)]


async def test_the_roster_shows_how_all_stand_and_approves_a_change(moot: Moot) -> None:
    card = await sitting(moot)
    await moot.press("maren", card, "Approve")
    other = WARDEN.replace("Build: Reed Warden", "Build: Tide Caller").replace("8 Ranger hp 7: +2 Wis; swap", "# ")
    await moot.warden("oskar", "\n".join(line for line in other.splitlines() if not line.startswith("# ")))
    await moot.say("oskar", "table join")
    await moot.say("oskar", "table submit", build="Tide Caller")
    form = await moot.say("tiva", "build edit", build="#2", level=8)
    await moot.send("tiva", form, "8 Ranger hp 7: +2 Dex; swap Fog Cloud for Longstrider", "Hit more.")
    result = await moot.say("sela", "table roster")
    assert not result.ephemeral
    (roster,) = moot.messages(result)
    text = moot.text(roster)
    assert "Marsh Table · 2 players · level 8 · rules: SRD 5.1" in text
    assert "changed 1 · waiting 1" in text
    assert "since approval:" in text
    assert "armor class 14 → 15" in text
    assert "due: level 8" in text
    assert "Nobody has: a Strength save above -1" in text
    assert "healing" in text
    assert "Dex: Reed Warden, Tide Caller" in text
    assert "darkvision: Reed Warden 60 feet, Tide Caller 60 feet" in text
    assert moot.buttons(roster) == ["Show #2", "Approve the change of #2", "Review #4"]
    shown = await moot.press("oskar", roster, "Show #2")
    assert shown.ephemeral
    assert "Changed since approval" in moot.read(shown)
    refused = await moot.press("oskar", roster, "Approve the change of #2")
    assert "Only a game master" in said(moot, refused)
    await moot.press("maren", roster, "Approve the change of #2")
    assert "approved 1 · waiting 1" in moot.text(roster)
    assert "Approved for levels 1 to 8" in moot.text(card)
    review = await moot.press("maren", roster, "Review #4")
    (private,) = moot.messages(review)
    await moot.press("maren", private, "Approve")
    assert "approved 2" in moot.read(await moot.say("sela", "table roster"))


async def test_taken_back_reviewed_again_and_posted_again(moot: Moot) -> None:
    card = await sitting(moot)
    assert "Waiting for the GM" in moot.read(await moot.say("oskar", "table review", build="#2"))
    stored = moot.env.backend.messages[moot.channel.id]
    del stored[card.id]
    posted = await moot.say("maren", "table review", build="#2", post=True)
    assert "its card stands in" in said(moot, posted)
    anew = newest(moot)
    assert anew.id != card.id
    assert "Only the author" in said(moot, await moot.say("oskar", "table withdraw", build="#2"))
    await moot.say("tiva", "table withdraw", build="#2")
    assert "Taken back by its author" in moot.text(anew)
    gone = await moot.say("oskar", "table review", build="#2")
    assert "submitted to no table" in said(moot, gone)


async def test_a_channel_that_is_shut_is_told_with_what_to_switch_on(moot: Moot) -> None:
    shut = discord.PermissionOverwrite(send_messages=False)
    charts = moot.guild.create_text_channel("charts", overwrites={moot.guild.default_role: shut})
    await marsh(moot, channel=charts)
    await moot.warden()
    await moot.say("tiva", "table join")
    told = said(moot, await moot.say("tiva", "table submit", build="Reed Warden"))
    assert "Send Messages" in told
    assert rows(moot, "select stage from submissions") == [("waiting",)]


@pytest.mark.parametrize("who", ["oskar", "maren"])
async def test_members_without_the_right_are_refused_in_words(moot: Moot, who: str) -> None:
    await marsh(moot)
    await moot.warden()
    result = await moot.say(who, "table submit", build="Reed Warden")
    assert result.ephemeral
    assert "Only the author of the build" in said(moot, result)
    assert rows(moot, "select count(*) from submissions") == [(0,)]


async def test_everything_sent_fits_the_platforms_own_description(moot: Moot) -> None:
    card = await sitting(moot, rules="bar: [Thief]\n")
    form = await moot.press("maren", card, "Waive a finding")
    await moot.send("maren", form, option(form, "barred Thief"), "Fine.")
    await moot.press("maren", card, "Approve")
    form = await moot.press("maren", card, "Return")
    await moot.send("maren", form, "No.")
    await moot.say("tiva", "table submit", build="#2")
    for command, options in (
        ("table show", {}),
        ("table list", {}),
        ("table roster", {}),
        ("table history", {}),
        ("table members", {}),
        ("table review", {"build": "#2"}),
    ):
        await moot.say("maren", command, **options)
    rules = await moot.say("maren", "table rules")
    await moot.press("maren", moot.messages(rules)[0], "Change")
    assert complaints(moot.env.http_requests) == []
