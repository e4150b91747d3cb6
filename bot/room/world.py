"""The room's world: one server with a game master and members, the real bot in it, its data on disk.

Guild, channel and members are made at the simulator's first instant in a fixed order, so their ids repeat from start
to start and stored cards keep their people. The clock is then moved past the newest stored time.
"""

import asyncio
from collections.abc import AsyncIterator, Mapping, Sequence
from contextlib import asynccontextmanager
from datetime import datetime
from pathlib import Path
from typing import Any, Final

import discord
import simcord
from simcord.actors import MemberActor
from simcord.results import InteractionResult

from bot.app import create_bot
from bot.client import Bot
from bot.room.render import Shown, shown
from bot.settings import Settings
from engine.services.builds import ListBuilds, list_builds
from engine.services.cards import LiveCards, live_cards
from engine.services.times import NewestTime, newest_time
from engine.services.views import CardPlace

GUILD: Final = "Lantern Coast Cartographers"
CHANNEL: Final = "build-moot"
GM_ROLE: Final = "Game master"
GM: Final = "Maren"
MEMBERS: Final = ("Tiva", "Oskar", "Brannoc", "Sela")
EPHEMERAL: Final = 64
ATTACHMENT, INTEGER, NUMBER, BOOLEAN = 11, 4, 10, 5
USER, CHANNEL_OPTION, ROLE = 6, 7, 8


class Trouble(Exception):
    """Something a person in the room did that cannot be done, as one sentence."""


class World:
    """A running room. One lock serves the terminal, the demo and the clock: the simulator takes one act at a time."""

    def __init__(self, env: simcord.Env, bot: Bot) -> None:
        self.env = env
        self.bot = bot
        self.lock = asyncio.Lock()
        env.backend.bot_user.name = "Buildmoot"
        self.guild = env.create_guild(GUILD)
        self.channel = self.guild.create_text_channel(CHANNEL)
        self.gm_role = self.guild.create_role(GM_ROLE, permissions=discord.Permissions(manage_guild=True))
        self.members: dict[str, MemberActor] = {}
        for name in (GM, *MEMBERS):
            user = env.create_user(name.lower(), global_name=name)
            self.members[name.lower()] = self.guild.add_member(user, roles=[self.gm_role] if name == GM else [])

    @property
    def names(self) -> dict[int, str]:
        """Names by id, for mentions in cards."""
        return {actor.id: name.capitalize() for name, actor in self.members.items()}

    def member(self, name: str) -> MemberActor:
        """Return a member by name. Raises: Trouble naming those there are."""
        actor = self.members.get(name.lower())
        if actor is None:
            raise Trouble(f"Nobody here is called {name}; here are {', '.join(n.capitalize() for n in self.members)}.")
        return actor

    def commands(self) -> dict[str, list[Mapping[str, Any]]]:
        """Return every command by its full name with the raw payloads of its options."""
        found: dict[str, list[Mapping[str, Any]]] = {}

        def walk(path: str, node: Mapping[str, Any]) -> None:
            inner = [o for o in node.get("options") or [] if o["type"] in (1, 2)]
            if inner:
                for each in inner:
                    walk(f"{path} {each['name']}", each)
            else:
                found[path] = list(node.get("options") or [])

        for command in self.bot.tree.get_commands():
            payload = command.to_dict(self.bot.tree)
            walk(payload["name"], payload)
        return found

    async def slash(
        self, actor: MemberActor, name: str, options: Mapping[str, str | tuple[str, bytes]]
    ) -> InteractionResult:
        """Run a slash command as a member. Attachments may be given as a path or as (file name, bytes)."""
        declared = {o["name"]: o for o in self.commands().get(name, [])}
        values = {key: self._entity(declared[key], raw) for key, raw in options.items()}
        async with self.lock:
            return await actor.slash(self.channel, name, **values)

    def _entity(self, declared: Mapping[str, Any], raw: str | tuple[str, bytes]) -> Any:
        """Return the value of an option: a member, channel or role by name, else what its kind makes of the text."""
        kind = declared["type"]
        if not isinstance(raw, str) or kind not in (USER, CHANNEL_OPTION, ROLE):
            return _value(declared, raw)
        name = raw.lstrip("@#")
        if kind == USER:
            return self.member(name)
        if kind == ROLE:
            if name.casefold() != GM_ROLE.casefold():
                raise Trouble(f"The room has one role, {GM_ROLE}; there is no {name}.")
            return self.gm_role
        if name != CHANNEL:
            raise Trouble(f"The room has one channel, #{CHANNEL}; there is no #{name}.")
        return self.channel

    async def click(self, actor: MemberActor, message: discord.Message, custom_id: str) -> InteractionResult:
        """Press a button as a member."""
        async with self.lock:
            return await actor.click(message, custom_id=custom_id)

    async def submit(self, actor: MemberActor, form: InteractionResult, values: dict[str, Any]) -> InteractionResult:
        """Send a form that a command or button opened."""
        async with self.lock:
            return await actor.submit_modal(form, values)

    def messages_of(self, result: InteractionResult) -> list[discord.Message]:
        """Return the messages an interaction answered with, in order."""
        answers = [result.response] if result.response else []
        return [m.message for m in [*answers, *result.followups]]

    def message(self, message_id: int, channel_id: int | None = None) -> discord.Message:
        """Return a message as it stands now."""
        from simcord.results import to_discord_message

        return to_discord_message(self.env, self.env.backend.get_message(channel_id or self.channel.id, message_id))

    def text_of(self, message: discord.Message) -> Shown:
        """Return a message as text and buttons."""
        stored = self.env.backend.get_message(message.channel.id, message.id)
        return shown(stored.content, stored.components, self.names)

    def place_of(self, message: discord.Message) -> str:
        """Return where a message stands: the channel, or the thread by its name."""
        place = self.env.backend.channels.get(message.channel.id)
        return f"#{CHANNEL}" if message.channel.id == self.channel.id or place is None else f"thread “{place.name}”"

    def newest_message(self) -> int:
        """Return the id of the newest message of the server, 0 if there is none."""
        return max((m.id for m in self.new_messages(0)), default=0)

    async def live_places(self) -> list[CardPlace]:
        """Return where the live cards stand, by the number of what they show."""
        places = await self.bot.call(live_cards, LiveCards(server=self.guild.id))
        return sorted(places, key=lambda p: p.subject)

    async def has_builds(self) -> bool:
        """Tell whether the room was used before."""
        page = await self.bot.call(list_builds, ListBuilds(server=self.guild.id, member=0))
        return bool(page.items)

    def new_messages(self, after: int) -> list[discord.Message]:
        """Return the public messages of the channel and its threads that came after a message id, oldest first."""
        from simcord.results import to_discord_message

        places = [c.id for c in self.env.backend.channels.values() if c.guild_id == self.guild.id]
        stored = [m for place in places for m in self.env.backend.messages.get(place, {}).values()]
        found = [m for m in stored if m.id > after and not m.flags & EPHEMERAL]
        return [to_discord_message(self.env, m) for m in sorted(found, key=lambda m: m.id)]


def _value(declared: Mapping[str, Any], raw: str | tuple[str, bytes]) -> Any:
    if isinstance(raw, tuple):
        return raw
    kind = declared["type"]
    if kind == ATTACHMENT:
        path = Path(raw).expanduser()
        try:
            return path.name, path.read_bytes()
        except OSError as error:
            raise Trouble(f"The file {raw} cannot be read ({error.strerror}).") from error
    try:
        if kind == INTEGER:
            return int(raw)
        if kind == NUMBER:
            return float(raw)
    except ValueError as error:
        raise Trouble(f"{declared['name']}: “{raw}” is no number.") from error
    if kind == BOOLEAN:
        return raw.lower() in ("true", "yes", "on", "1")
    return raw


@asynccontextmanager
async def open_world(database: Path, *, seed: bool = True) -> AsyncIterator[World]:
    """Open the room over a database file, made and seeded at the first start.

    Every live card is posted anew, since the simulator forgets its messages; their new ids are stored.
    """
    from bot.room.seed import plant

    database.parent.mkdir(parents=True, exist_ok=True)
    settings = Settings(database_url=f"sqlite+aiosqlite:///{database}", shards=1, token=None)
    bot = create_bot(settings)
    async with simcord.run(bot, strict_sync=True, check_errors=False, settle_timeout=30.0) as env:
        with env.time_context():
            world = World(env, bot)
            await _catch_up(world, await bot.call(newest_time, NewestTime(server=world.guild.id)))
            if seed and not await world.has_builds():
                await plant(world)
            else:
                await bot.repost_cards(world.guild.id, world.channel.id)
            await env.settle()
            try:
                yield world
            finally:
                async with world.lock:
                    await env.settle()
                await bot.release()


async def _catch_up(world: World, newest: datetime | None) -> None:
    if newest is not None and newest > world.env.now():
        await world.env.advance_time((newest - world.env.now()).total_seconds() + 60)


async def tick(world: World, seconds: float = 1.0) -> None:
    """Let the room's clock run while people use it; stops when cancelled."""
    while True:
        await asyncio.sleep(seconds)
        async with world.lock:
            await world.env.advance_time(seconds)


Outcome = Sequence[discord.Message]
