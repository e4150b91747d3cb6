"""The bot: opens the database, loads the command areas, calls services."""

import asyncio
from collections.abc import Awaitable, Callable
from datetime import datetime
from importlib import import_module
from typing import Any, TypeVar

import discord

from bot.deadlines import Deadlines
from bot.exts import AREAS
from bot.settings import Settings
from bot.tree import Tree
from bot.ui.coalesce import Coalescer
from engine.publish.pool import Workers
from engine.services.cards import LiveCards, live_cards
from engine.services.privacy import LeaveServer, ReturnToServer, leave_server, return_to_server, servers_known
from engine.store.database import Database
from engine.store.uow import UnitOfWork

C = TypeVar("C")
R = TypeVar("R")


class Bot(discord.AutoShardedClient):
    """A chat client without any privileged intent: it knows its servers, their channels and roles, and no messages."""

    def __init__(self, settings: Settings) -> None:
        super().__init__(
            intents=discord.Intents(guilds=True),
            allowed_mentions=discord.AllowedMentions.none(),
            shard_count=settings.shards or None,
            max_messages=None,
        )
        self.settings = settings
        self.tree = Tree(self)
        self._database: Database | None = None
        self.workers = Workers()
        self.deadlines = Deadlines(self)
        self.drawing = Coalescer()
        for area in AREAS:
            area.set_up(self)

    @property
    def database(self) -> Database:
        """The open database. Raises: RuntimeError before `setup_hook`."""
        if self._database is None:
            raise RuntimeError("the database is opened when the bot starts")
        return self._database

    async def setup_hook(self) -> None:
        """Bring the schema up to date, open the database, make the commands known."""
        self._database = await Database.open(self.settings.database_url)
        # Odds of many dice need it, and its first import would hold up everybody when the first member asks.
        await asyncio.to_thread(import_module, "numpy")
        if self.settings.sync_commands:
            await self.tree.sync()
        self.deadlines.start()

    async def on_ready(self) -> None:
        """Note which servers the bot left or came back to while it was away."""
        if self._database is None:
            return
        here = {guild.id for guild in self.guilds}
        for server in set(await self.call(servers_known, None)) - here:
            await self.call(leave_server, LeaveServer(server=server, at=self.now()))
        for server in here:
            await self.call(return_to_server, ReturnToServer(server=server))

    async def on_guild_remove(self, guild: discord.Guild) -> None:
        """Start the days until a server's data is deleted."""
        if self._database is not None:
            await self.call(leave_server, LeaveServer(server=guild.id, at=self.now()))

    async def on_guild_join(self, guild: discord.Guild) -> None:
        """Keep the data of a server that the bot came back to."""
        if self._database is not None:
            await self.call(return_to_server, ReturnToServer(server=guild.id))

    async def close(self) -> None:
        """Leave the platform, then end the workers and close the database."""
        await super().close()
        await self.release()

    async def release(self) -> None:
        """End workers and database alone: whoever ran the client without the platform (room, tests) ends it so."""
        await self.deadlines.stop()
        await self.workers.close()
        if self._database is not None:
            await self._database.close()
            self._database = None

    async def call(self, service: Callable[[C, UnitOfWork], Awaitable[R]], command: C) -> R:
        """Run one use case in its own unit of work; no chat call happens inside it."""
        return await self.database.call(service, command)

    def now(self) -> datetime:
        """Return the time by the settings' clock."""
        return self.settings.clock()

    async def repost_cards(self, server: int, channel: int) -> int:
        """Post every live card of a server anew in a channel and store where it stands now; return how many."""
        from bot.exts.proposals.posting import repost

        places = await self.call(live_cards, LiveCards(server=server))
        return await repost(self, server, channel, places)


Interaction = discord.Interaction[Any]
