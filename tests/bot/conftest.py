"""Driving the real bot through the simulator: a server, its people, and what they do in words."""

import asyncio
import shutil
from collections.abc import AsyncIterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import discord
import pytest
import simcord
from simcord.actors import MemberActor
from simcord.builders import ChannelHandle, GuildHandle
from simcord.results import InteractionResult

from bot.app import create_bot
from bot.client import Bot
from bot.room.render import Shown, shown
from bot.settings import Settings
from engine.store.database import upgrade

DATA = Path(__file__).parents[1] / "data"
WARDEN = (DATA / "reed-warden.outline").read_text(encoding="utf-8")


@dataclass
class Moot:
    """A running server with a game master (Maren) and members (Tiva, Oskar, Sela), and the bot in it."""

    env: simcord.Env
    url: str
    guild: GuildHandle
    channel: ChannelHandle
    people: dict[str, MemberActor]
    bots: list[Bot] = field(default_factory=list)
    faults: int = 0  # commands that a test makes fail on purpose

    @property
    def bot(self) -> Bot:
        """The bot that runs now."""
        return self.bots[-1]

    async def say(self, who: str, command: str, /, **options: Any) -> InteractionResult:
        """Run a slash command as a member; it must be answered."""
        result = await self.people[who].slash(self.channel, command, **options)
        assert result.acknowledged, f"/{command} was not answered"
        return result

    async def press(self, who: str, message: discord.Message, label: str) -> InteractionResult:
        """Press a button by its label; it must be answered."""
        result = await self.people[who].click(self.now(message), label=label)
        assert result.acknowledged, f"{label} was not answered"
        return result

    async def send(self, who: str, form: InteractionResult, *texts: str) -> InteractionResult:
        """Fill in a form, field by field in its order; fields without a text keep what stands in them."""
        assert form.modal is not None, "no form was opened"
        controls = [part["component"] for part in form.modal["components"] if "component" in part]
        values = {c["custom_id"]: c.get("value") or "" for c in controls}
        values.update(zip([c["custom_id"] for c in controls], texts, strict=False))
        result = await self.people[who].submit_modal(form, values)
        assert result.acknowledged, "the form was not answered"
        return result

    def fields(self, form: InteractionResult) -> list[str]:
        """Return what stands in a form's fields."""
        assert form.modal is not None, "no form was opened"
        return [part["component"].get("value") or "" for part in form.modal["components"] if "component" in part]

    def messages(self, result: InteractionResult) -> list[discord.Message]:
        """Return the messages of an answer, as they stand now."""
        answers = [result.response] if result.response else []
        return [m.message for m in [*answers, *result.followups]]

    def read(self, result: InteractionResult) -> str:
        """Return everything an answer says, as text."""
        return "\n".join(line for m in self.messages(result) for line in self.shown(m).lines)

    def now(self, message: discord.Message) -> discord.Message:
        """Return a message as it stands now."""
        from simcord.results import to_discord_message

        return to_discord_message(self.env, self.env.backend.get_message(message.channel.id, message.id))

    def shown(self, message: discord.Message) -> Shown:
        """Return a message as text and buttons, as it stands now."""
        stored = self.env.backend.get_message(message.channel.id, message.id)
        names = {actor.id: name for name, actor in self.people.items()}
        return shown(stored.content, stored.components, names)

    def text(self, message: discord.Message) -> str:
        """Return a message's text as it stands now."""
        return "\n".join(self.shown(message).lines)

    def buttons(self, message: discord.Message) -> list[str]:
        """Return the labels of a message's buttons as it stands now."""
        return [b.label for b in self.shown(message).buttons]

    def last(self, channel: ChannelHandle | None = None) -> discord.Message:
        """Return the newest message of the bot in the channel."""
        from simcord.results import to_discord_message

        stored = self.env.backend.messages.get((channel or self.channel).id, {})
        mine = [m for m in stored.values() if m.components and not m.flags & 64]
        return to_discord_message(self.env, max(mine, key=lambda m: m.id))

    async def restart(self) -> None:
        """Stop the bot and start a new one on a new database engine; the world stays."""
        await self.bot.release()
        self.bots.append(create_bot(Settings(database_url=self.url)))
        await self.env.restart_bot(self.bot)

    async def warden(self, who: str = "tiva", text: str = WARDEN, *, shared: bool = True) -> str:
        """Post a build; return its name."""
        await self.say(who, "build load", file=("warden.txt", text.encode()))
        name = text.splitlines()[0].removeprefix("Build:").strip()
        if shared:
            await self.say(who, "build share", build=name)
        return name


@pytest.fixture(scope="session")
def migrated_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database file with every migration, made once; the tests start from copies of it."""
    path = tmp_path_factory.mktemp("migrated") / "moot.db"
    asyncio.run(upgrade(f"sqlite:///{path}"))
    return path


@pytest.fixture
def database_url(migrated_file: Path, tmp_path: Path) -> str:
    """A database of its own for each test."""
    path = tmp_path / "moot.db"
    shutil.copy(migrated_file, path)
    return f"sqlite+aiosqlite:///{path}"


@pytest.fixture
async def running_env(database_url: str) -> AsyncIterator[simcord.Env]:
    """The simulator with the bot attached; its pytest plug-in gives tests that use it the simulated clock."""
    env = simcord.Env(create_bot(Settings(database_url=database_url)), settle_timeout=30.0)
    await env.start()
    try:
        yield env
    finally:
        await env.shutdown()


@pytest.fixture
async def moot(running_env: simcord.Env, database_url: str) -> AsyncIterator[Moot]:
    """A server with the bot running."""
    guild = running_env.create_guild("Lantern Coast Cartographers")
    channel = guild.create_text_channel("build-moot")
    gm = guild.create_role("Game master", permissions=discord.Permissions(manage_guild=True))
    people = {
        name: guild.add_member(running_env.create_user(name), roles=[gm] if name == "maren" else [])
        for name in ("maren", "tiva", "oskar", "sela")
    }
    assert isinstance(running_env.bot, Bot)
    running = Moot(running_env, database_url, guild, channel, people, [running_env.bot])
    yield running
    await running_env.settle()
    await running.bot.release()
    errors = list(running_env.errors)
    assert len(errors) == running.faults, errors
