"""The rest of the commands of builds and proposals, and what people get who ask for what is not there."""

from typing import Any

import pytest

from tests.bot.conftest import WARDEN, Moot
from tests.bot.test_main_job import proposed, rows


def said(moot: Moot, result: Any) -> str:
    """Return everything an answer says, plain messages included."""
    return moot.read(result) + " ".join(m.content for m in moot.messages(result))


async def test_the_author_edits_a_level_the_header_and_the_whole(moot: Moot) -> None:
    await moot.warden()
    form = await moot.say("tiva", "build edit", build="#1", level=8)
    edited = await moot.send("tiva", form, "8 Ranger hp 7: +2 Dex; swap Fog Cloud for Longstrider", "quicker")
    assert "Dex 19 +4" in moot.read(edited)
    header = await moot.say("tiva", "build edit", build="#1")
    text = moot.fields(header)[0]
    assert text.startswith("Build: Reed Warden")
    renamed = await moot.send("tiva", header, text.replace("Reed Warden", "Sedge Warden"), "")
    assert "Sedge Warden · #1" in moot.read(renamed)
    whole = await moot.say("tiva", "build edit", build="#1", file=("b.txt", WARDEN.encode()))
    assert "Reed Warden · #1" in moot.read(whole)
    assert [n for (n,) in rows(moot, "select number from revisions where build = 1 order by number")] == [1, 2, 3, 4]
    wrong = await moot.say("tiva", "build edit", build="#1", level=4)
    failed = await moot.send("tiva", wrong, "4 Rogu", "")
    assert "to mend" in moot.read(failed)
    again = await moot.press("tiva", moot.messages(failed)[0], "Try again")
    assert moot.fields(again)[0] == "4 Rogu"


async def test_others_do_not_edit_share_or_remove(moot: Moot) -> None:
    await moot.warden()
    for command in ("build share", "build remove"):
        result = await moot.say("oskar", command, build="#1")
        assert result.ephemeral
        assert said(moot, result)
    form = await moot.say("oskar", "build edit", build="#1", level=8)
    refused = await moot.send("oskar", form, "8 Ranger hp 7: +2 Con", "")
    assert refused.ephemeral
    assert "author" in said(moot, refused)
    assert rows(moot, "select count(*) from revisions") == [(1,)]


async def test_what_is_not_there_is_refused_in_a_sentence(moot: Moot) -> None:
    await moot.warden()
    for command, options in (
        ("build show", {"build": "#77"}),
        ("build show", {"build": "#1", "level": 20}),
        ("build next", {"build": "#77"}),
        ("build why", {"build": "#77", "level": 1, "number": "ac"}),
        ("build audit", {"build": "Nobody"}),
        ("build outline", {"build": "#77"}),
        ("build history", {"build": "#77"}),
        ("build compare", {"build": "#77"}),
        ("build edit", {"build": "#77"}),
        ("build list", {"class": "Rogu"}),
        ("propose text", {"build": "#77"}),
        ("propose change", {"build": "#1", "level": 8, "reason": "x"}),
        ("propose change", {"build": "#1", "level": 8, "remove": "spell Shield", "reason": "x"}),
        ("proposal show", {"proposal": "#77"}),
        ("proposal withdraw", {"proposal": "#77"}),
        ("proposal list", {"build": "#77"}),
    ):
        result = await moot.say("oskar", command, **options)
        assert result.ephemeral, command
        text = said(moot, result)
        assert text.strip(), command
        assert "went wrong on our side" not in text, command


async def test_a_proposal_is_withdrawn_or_declined(moot: Moot) -> None:
    await moot.warden()
    first = await proposed(moot, "oskar")
    refused = await moot.press("sela", first, "Withdraw")
    assert said(moot, refused)
    await moot.press("oskar", first, "Withdraw")
    assert "withdrawn" in moot.text(first)
    second = await proposed(moot, "sela")
    await moot.say("sela", "proposal withdraw", proposal="#3")
    assert "withdrawn" in moot.text(second)
    listed = moot.read(await moot.say("oskar", "proposal list", state="withdrawn"))
    assert "#2" in listed
    assert "#3" in listed


async def test_a_whole_outline_and_the_header_can_be_proposed(moot: Moot) -> None:
    await moot.warden()
    changed = WARDEN.replace("+2 Wis; swap", "+2 Con; swap")
    preview = await moot.say(
        "oskar", "propose text", build="#1", file=("b.txt", changed.encode()), reason="Stand longer."
    )
    assert "+2 Con instead of +2 Wis" in moot.read(preview)
    form = await moot.say("oskar", "propose text", build="#1")
    text = moot.fields(form)[0]
    header = await moot.send("oskar", form, text.replace("Leather Armor", "Studded Leather Armor"), "Better hide.")
    assert "armor class 14 → 15" in moot.read(header)
    await moot.press("oskar", moot.messages(header)[0], "Post")
    assert "Studded Leather Armor" in moot.text(moot.last())
    same = await moot.say("oskar", "propose text", build="#1", file=("b.txt", WARDEN.encode()), reason="x")
    assert said(moot, same)
    assert "Post" not in [label for m in moot.messages(same) for label in moot.buttons(m)]
    broken = await moot.say("oskar", "propose text", build="#1", file=("b.txt", b"8 Rogu"), reason="x")
    assert "to mend" in said(moot, broken)


async def test_names_are_completed(moot: Moot) -> None:
    await moot.warden()
    await proposed(moot)
    people = moot.people["oskar"]

    async def offered(command: str, option: str, typed: str, **filled: Any) -> list[str]:
        found = await people.autocomplete(moot.channel, command, option, typed, **filled)
        assert len(found) <= 25
        assert all(len(c["name"]) <= 100 for c in found)
        return [c["name"] for c in found]

    assert any("Reed Warden" in n for n in await offered("build show", "build", "reed"))
    assert await offered("build edit", "build", "reed") == []
    assert "Stealth" in await offered("build why", "number", "stea", build="#1", level=8)
    assert await offered("build why", "number", "stea", build="#99") == []
    assert await offered("build list", "class", "rang") == ["Ranger"]
    assert "+2 Wis" in await offered("propose change", "remove", "", build="#1", level=8)
    assert await offered("propose change", "remove", "", build="#1") == []
    assert "+2 Dex" in await offered("propose change", "add", "+2 d", build="#1", level=8)
    assert any("#2" in n for n in await offered("proposal show", "proposal", "level"))


async def test_the_buttons_of_a_build_card(moot: Moot) -> None:
    await moot.warden()
    shown = await moot.say("oskar", "build show", build="#1", level=7)
    (card,) = moot.messages(shown)
    await moot.press("oskar", card, "level 8 ›")
    assert "level 8" in moot.text(card)
    await moot.press("sela", card, "‹ level 7")
    assert "· level 7 ·" in moot.text(card)
    choices = await moot.press("sela", card, "Choices")
    assert choices.ephemeral
    assert "7 Ranger (Hunter): spell Fog Cloud; prey Colossus Slayer" in moot.read(choices)
    why = await moot.press("sela", card, "Why")
    assert why.ephemeral
    assert "Stealth +9" in moot.read(why)
    await moot.say("tiva", "build remove", build="#1")
    for label in ("level 8 ›", "Choices", "Why"):
        gone = await moot.press("sela", card, label)
        assert gone.ephemeral or said(moot, gone)


async def test_a_fault_is_told_with_a_reference_and_logged(
    moot: Moot, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    from bot.exts.builds import cards

    await moot.warden()
    shown = await moot.say("oskar", "build show", build="#1", level=7)
    (card,) = moot.messages(shown)

    def broken(*args: object) -> None:
        raise RuntimeError("a bug")

    monkeypatch.setattr(cards, "build_card", broken)
    command = await moot.say("oskar", "build show", build="#1")
    assert "report reference" in said(moot, command)
    button = await moot.press("oskar", card, "level 8 ›")
    assert "report reference" in said(moot, button)
    faults = [r for r in caplog.records if r.getMessage().startswith("fault ")]
    assert len(faults) == 2
    assert "Reed Warden" not in caplog.text.split("Traceback")[0]
    moot.faults = 1  # the simulator notes the command's; a button's never leaves the guard


async def test_a_vote_after_the_close_changes_nothing(moot: Moot) -> None:
    await moot.warden()
    card = await proposed(moot)
    stale = moot.now(card)
    await moot.press("tiva", card, "Adopt")
    from engine.review.policy import Choice
    from engine.services.votes import CastVote, cast_vote

    late = CastVote(
        server=moot.guild.id, member=moot.people["sela"].id, proposal=2, choice=Choice.FOR, at=moot.env.now()
    )
    refused = await moot.bot.call(cast_vote, late)
    assert "adopted" in getattr(refused, "sentence", "")
    assert rows(moot, "select count(*) from votes") == [(0,)]
    assert stale.id == card.id
