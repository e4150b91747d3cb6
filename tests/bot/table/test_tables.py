"""Tables through the real bot: opened, joined, ruled, shown; by members with and without rights."""

from simcord.results import InteractionResult

from tests.bot.conftest import Moot
from tests.bot.test_main_job import proposed, rows

RULES = "levels: 1-12\nscores: standard array\nfeats: yes\nbar: [Grappler]\ngold: 150\n"


def said(moot: Moot, result: InteractionResult) -> str:
    """Return everything that an answer says, plain sentences too."""
    return "\n".join([moot.read(result), *(m.content for m in moot.messages(result))])


async def marsh(moot: Moot, **more: object) -> None:
    """Open the Marsh Table, whose GM is Maren."""
    await moot.say("maren", "table new", name="Marsh Table", **{"level": 8, **more})


async def test_a_table_is_opened_joined_and_shown(moot: Moot) -> None:
    opened = await moot.say("maren", "table new", name="Marsh Table", level=8)
    assert not opened.ephemeral
    assert "Marsh Table · #1 · level 8" in moot.read(opened)
    assert "GM @maren" in moot.read(opened)
    (card,) = moot.messages(opened)
    assert moot.buttons(card) == ["Join", "Leave", "Rules", "Roster"]
    await moot.press("tiva", card, "Join")
    assert "Players @tiva" in moot.text(card)
    again = await moot.press("tiva", card, "Join")
    assert "You sit at Marsh Table already." in said(moot, again)
    assert "You play at Marsh Table." in said(moot, await moot.say("oskar", "table join"))
    assert "1 table on this server" in moot.read(await moot.say("sela", "table list"))
    shown = moot.read(await moot.say("sela", "table show", table="marsh tables"))
    assert "2 players, 0 builds" in shown
    await moot.restart()
    await moot.press("tiva", card, "Leave")
    assert "Players @oskar" in moot.text(card)
    assert rows(moot, "select member from seats where gm = 0") == [(moot.people["oskar"].id,)]


async def test_rules_by_form_come_back_filled_until_they_can_be_read(moot: Moot) -> None:
    await marsh(moot)
    shown = await moot.say("oskar", "table rules")
    assert shown.ephemeral
    assert "Nothing is restricted" in moot.read(shown)
    form = await moot.press("maren", moot.messages(await moot.say("maren", "table rules"))[0], "Change")
    broken = await moot.send("maren", form, "feats: perhaps\nlevls: 1-12\n")
    text = moot.read(broken)
    assert "2 things to mend in the rules of Marsh Table" in text
    assert "Line 1, column 1" in text
    assert "levels" in text
    (message,) = moot.messages(broken)
    assert (await message.attachments[0].read()).decode() == "feats: perhaps\nlevls: 1-12\n"
    assert rows(moot, "select rules from game_tables") == [("",)]
    await moot.restart()
    again = await moot.press("maren", message, "Try again")
    assert moot.fields(again) == ["feats: perhaps\nlevls: 1-12\n"]
    done = moot.read(await moot.send("maren", again, RULES))
    assert "In force: SRD 5.1, standard array, feats allowed" in done
    assert "Barred Grappler" in done
    assert "Gold to start with 150 gp" in done
    assert rows(moot, "select rules from game_tables") == [(RULES,)]


async def test_rules_by_file(moot: Moot) -> None:
    await marsh(moot)
    result = await moot.say("maren", "table rules", file=("rules.yaml", RULES.encode()))
    assert "Levels 1 to 12" in moot.read(result)
    (message,) = moot.messages(result)
    assert (await message.attachments[0].read()).decode() == RULES
    for content, words in ((b"\xff\xfe\x00", "plain text"), (b"#" * 70_000, "KB")):
        wrong = await moot.say("maren", "table rules", file=("x.yaml", content))
        assert words in said(moot, wrong)
    refused = await moot.say("oskar", "table rules", file=("rules.yaml", b"feats: no\n"))
    assert refused.ephemeral
    assert "Only a game master of the table" in said(moot, refused)
    assert rows(moot, "select rules from game_tables") == [(RULES,)]


async def test_several_tables_and_who_sits_where(moot: Moot) -> None:
    await marsh(moot, open=False)
    await moot.say("oskar", "table new", name="Ferry Table")
    assert "several tables" in said(moot, await moot.say("sela", "table show"))
    assert "not open" in said(moot, await moot.say("sela", "table join", table="Marsh Table"))
    await moot.say("sela", "table join", table="#2")
    assert "Ferry Table" in said(moot, await moot.say("sela", "table show"))
    added = await moot.say("maren", "table members", table="#1", add=moot.people["tiva"])
    assert "Players @tiva" in said(moot, added)
    assert "Only a game master" in said(
        moot, await moot.say("sela", "table members", table="#1", add=moot.people["sela"])
    )
    # Maren manages the server, so she may look after a table that is not hers.
    helped = said(moot, await moot.say("maren", "table members", table="#2", gm=moot.people["tiva"]))
    (line,) = [line for line in helped.splitlines() if line.startswith("GM ")]
    assert sorted(line.removeprefix("GM ").split(", ")) == ["@oskar", "@tiva"]
    assert "needs a GM" in said(moot, await moot.say("maren", "table members", table="#1", remove=moot.people["maren"]))
    two = await moot.say("maren", "table members", table="#1", add=moot.people["sela"], remove=moot.people["tiva"])
    assert "one thing at a time" in said(moot, two)
    await moot.say("maren", "table members", table="#1", remove=moot.people["tiva"])
    assert "nobody by name yet" in said(moot, await moot.say("sela", "table members", table="#1"))


async def test_level_edit_close_and_history(moot: Moot) -> None:
    await marsh(moot)
    assert "Only a game master" in said(moot, await moot.say("oskar", "table level", level=9))
    assert "level 9" in said(moot, await moot.say("maren", "table level", level=9))
    role = moot.guild.create_role("Marsh players")
    edited = await moot.say(
        "maren", "table edit", table="#1", name="Fen Table", channel=moot.channel, role=role, open=False
    )
    assert "Fen Table" in moot.read(edited)
    assert "its GM adds players" in moot.read(edited)
    cleared = moot.read(await moot.say("maren", "table edit", table="#1", anywhere=True, **{"by-name": True}))
    assert "cards go where a command is given" in cleared
    history = moot.read(await moot.say("sela", "table history", table="Fen Table"))
    assert "@maren set the level from 8 to 9" in history
    assert "@maren opened the table" in history
    assert "Only a game master" in said(moot, await moot.say("sela", "table close", table="#1"))
    assert "Fen Table is closed" in said(moot, await moot.say("maren", "table close", table="#1"))
    assert "No table plays" in moot.read(await moot.say("sela", "table list"))


async def test_a_table_decides_about_proposals_in_its_own_way(moot: Moot) -> None:
    await marsh(moot)
    assert "goes by what the server has set" in moot.read(await moot.say("sela", "table policy"))
    assert "Only a game master" in said(moot, await moot.say("sela", "table policy", decider="gm"))
    mine = moot.read(await moot.say("maren", "table policy", decider="gm", voters="table"))
    assert "How proposals are decided at Marsh Table" in mine
    assert "those at the build's table" in mine
    await moot.warden()
    await moot.say("tiva", "table join")
    await moot.say("tiva", "table submit", build="Reed Warden")
    card = await proposed(moot)
    assert "the GM decides" in moot.text(card)
    assert "Only those who sit at the build's table" in said(moot, await moot.press("sela", card, "For"))
    await moot.press("tiva", card, "For")
    assert "For 1" in moot.text(card)
    refused = await moot.press("tiva", card, "Adopt")
    assert "decides" in said(moot, refused)
    await moot.press("maren", card, "Adopt")
    assert "adopted as revision 2" in moot.text(card)


async def test_what_a_gm_writes_is_shown_as_text(moot: Moot) -> None:
    await moot.say("maren", "table new", name="@everyone `x` [l](https://example.org)")
    await moot.say("maren", "table rules", file=("r.yaml", b"bar: ['@everyone **b** https://example.org']\n"))
    await moot.say("sela", "table list")
    await moot.say("sela", "table roster")
    payloads = [str(r.json) for r in moot.env.http_requests if r.json and "components" in str(r.json)]
    assert payloads
    for text in payloads:
        assert "@everyone" not in text
        assert "https://example.org" not in text


async def test_nothing_crosses_servers(moot: Moot) -> None:
    await marsh(moot)
    other = moot.env.create_guild("Saltmarsh Ferrymen")
    channel = other.create_text_channel("talk")
    stranger = other.add_member(moot.env.create_user("stranger"))
    for command, options in (
        ("table show", {"table": "#1"}),
        ("table rules", {"table": "Marsh Table"}),
        ("table join", {"table": "#1"}),
        ("table roster", {}),
        ("table history", {"table": "#1"}),
        ("table level", {"level": 3, "table": "#1"}),
    ):
        result = await stranger.slash(channel, command, **options)
        assert result.acknowledged
        assert result.ephemeral
        assert "level 8" not in said(moot, result)
    assert rows(moot, "select count(*) from seats") == [(1,)]
