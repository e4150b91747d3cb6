"""Every command and every button through the real bot: after a restart, by a member without rights, elsewhere."""

from dataclasses import dataclass, replace
from typing import Any

import discord
import pytest
from discord import app_commands
from simcord.results import InteractionResult, to_discord_message

from bot.app import create_bot
from bot.settings import Settings
from engine.store.models import Base
from tests.bot.conftest import Moot
from tests.bot.test_main_job import rows
from tests.bot.walk.examples import COMMANDS, PRESSES, Press, Use
from tests.bot.walk.laid import NAMES, Laid, laid, shape


@dataclass
class Walk:
    """The server where everything stands, and another with the same people on which nothing does."""

    here: Laid
    elsewhere: Moot


@dataclass(frozen=True)
class Answer:
    """What came back: all that it says, and whether the member alone reads it."""

    text: str
    private: bool


async def use(moot: Moot, who: str, command: str, example: Use) -> Answer:
    """Run a command as its example says, with the form that it opens."""
    people = {option: moot.people[name] for option, name in example.people.items()}
    result = await moot.say(who, command, **example.options, **people)
    if result.modal is not None:
        assert not any(name in str(result.modal) for name in NAMES) or moot.channel.name == "build-moot"
        result = await moot.send(who, result, *example.texts)
    return Answer(said(moot, result), result.ephemeral)


async def press(moot: Moot, who: str, message: discord.Message, custom_id: str, example: Press) -> Answer:
    """Press a button, with the form that it opens; the text ends with what the message says afterwards."""
    result = await moot.people[who].click(moot.now(message), custom_id=custom_id)
    assert result.acknowledged, f"{custom_id} was not answered"
    if result.modal is not None:
        assert not any(name in str(result.modal) for name in NAMES) or moot.channel.name == "build-moot"
        result = await moot.send(who, result, *filled(result, example.texts))
    text = said(moot, result)
    if message.id in moot.env.backend.messages.get(message.channel.id, {}):
        text += "\n" + moot.text(message)
    others = [each for each in moot.messages(result) if each.id != message.id]
    return Answer(text, bool(others) and all(each.flags.ephemeral for each in others))


def filled(form: InteractionResult, texts: tuple[Any, ...]) -> list[Any]:
    """Return what a form is filled in with: a number picks an option of a list."""
    assert form.modal is not None
    controls = [part["component"] for part in form.modal["components"] if "component" in part]
    return [
        [control["options"][text]["value"]] if isinstance(text, int) else text
        for control, text in zip(controls, texts, strict=False)
    ]


def said(moot: Moot, result: InteractionResult) -> str:
    """Return everything that an answer says, plain sentences and names of files too."""
    messages = moot.messages(result)
    files = [file.filename for m in messages for file in m.attachments]
    return "\n".join([moot.read(result), *(m.content for m in messages), *files])


async def forged(moot: Moot, custom_id: str) -> discord.Message:
    """Return a message of the bot in the server's channel with one button of that id."""
    channel = moot.bot.get_channel(moot.channel.id)
    assert isinstance(channel, discord.TextChannel)
    message = await channel.send("A card from somewhere else.")
    button = {"type": 2, "style": 2, "label": "Press", "custom_id": custom_id}
    moot.env.backend.messages[channel.id][message.id].components = [{"type": 1, "components": [button]}]
    return to_discord_message(moot.env, moot.env.backend.get_message(channel.id, message.id))


def stored(moot: Moot, server: int) -> dict[str, list[tuple[Any, ...]]]:
    """Return every row of a server, as another program reads the file.

    Not the names that members were last seen with, which each command notes, nor the texts that they typed.
    """
    tables = [table.name for table in Base.metadata.sorted_tables if "server" in table.c]
    return {
        name: sorted(rows(moot, f"select * from {name} where server = ?", server), key=repr)
        for name in tables
        if name not in ("members", "drafts")
    }


@pytest.fixture
async def walk(moot: Moot) -> Walk:
    """Everything laid out, then a new bot on a new database engine."""
    moot.people["wren"] = moot.guild.add_member(moot.env.create_user("wren"))
    guild = moot.env.create_guild("Gull Rock Surveyors")
    role = guild.create_role("Keeper", permissions=discord.Permissions(manage_guild=True))
    users = {name: actor.user for name, actor in moot.people.items()}
    people = {name: guild.add_member(user, roles=[role] if name == "maren" else []) for name, user in users.items()}
    there = replace(moot, guild=guild, channel=guild.create_text_channel("survey"), people=people)
    here = await laid(moot)
    await moot.restart()
    return Walk(here, there)


def test_no_command_and_no_button_is_left_out() -> None:
    """One without an example in examples.py fails here, and so does an example of what is no more."""
    bot = create_bot(Settings())
    leaves = [c.qualified_name for c in bot.tree.walk_commands() if isinstance(c, app_commands.Command)]
    assert set(leaves) == set(COMMANDS), "give each command one use in tests/bot/walk/examples.py"
    patterns = {str(key.pattern) for key in bot._connection._view_store._dynamic_items}
    kinds = {shape(pattern.replace("(?P<", "").split("(", 1)[0]).split()[0] for pattern in patterns}
    assert kinds == {kind.split()[0] for kind in PRESSES}, "give each button one press in tests/bot/walk/examples.py"


async def test_every_command_does_its_work_after_a_restart(walk: Walk) -> None:
    """Each in turn on what was there before the bot was started anew; the last ones take things away."""
    for command, example in COMMANDS.items():
        answer = await use(walk.here.moot, example.who, command, example)
        assert example.says in answer.text, (command, answer)


async def test_every_button_does_its_work_after_a_restart(walk: Walk) -> None:
    """Each that stood on a card or an answer before the bot was started anew."""
    assert set(walk.here.buttons) == set(PRESSES)
    for kind, example in PRESSES.items():
        message, custom_id = walk.here.button(kind, example.on)
        answer = await press(walk.here.moot, example.who, message, custom_id, example)
        assert example.says in answer.text, (kind, answer)


async def test_without_rights_and_elsewhere_nothing_is_done_and_nothing_told(walk: Walk) -> None:
    """Wren is refused privately; on another server there is nothing, whoever asks, and its names are not told there."""
    moot, there = walk.here.moot, walk.elsewhere
    before = stored(moot, moot.guild.id)
    for command, example in COMMANDS.items():
        if example.barred is not None:
            answer = await use(moot, "wren", command, example)
            assert answer.private, (command, answer)
            assert example.barred in answer.text, (command, answer)
            assert stored(moot, moot.guild.id) == before, command
    for kind, example in PRESSES.items():
        if example.barred is not None:
            _, custom_id = walk.here.button(kind, example.on)
            answer = await press(moot, "wren", await forged(moot, custom_id), custom_id, example)
            assert answer.private, (kind, answer)
            assert example.barred in answer.text, (kind, answer)
            assert stored(moot, moot.guild.id) == before, kind
    for kind, example in PRESSES.items():
        _, custom_id = walk.here.button(kind, example.on)
        answer = await press(there, example.who, await forged(there, custom_id), custom_id, example)
        assert not [name for name in NAMES if name in answer.text], (kind, answer)
        assert example.says not in answer.text, (kind, answer)
    # What makes something there comes last, so that nothing was there for the others.
    for command, example in sorted(COMMANDS.items(), key=lambda item: item[1].makes):
        answer = await use(there, example.who, command, example)
        assert not [name for name in NAMES if name in answer.text], (command, answer)
        assert (example.says in answer.text) is example.makes, (command, answer)
    assert stored(moot, moot.guild.id) == before
