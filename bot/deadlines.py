"""What time does while the bot runs: deadlines close, reminders go out, data of servers that were left goes."""

import asyncio
from collections.abc import Awaitable
from contextlib import suppress
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Final

from discord.ext import tasks

from bot.log import log, log_fault
from engine.problem import Refused
from engine.services.deadlines import (
    CloseProposal,
    RemindMembers,
    close_proposal,
    due_work,
    remind_members,
)
from engine.services.drafts import drop_drafts
from engine.services.privacy import PurgeServer, purge_server, servers_left

if TYPE_CHECKING:
    from bot.client import Bot

# Another process may have opened a proposal that this one was not told of, so it looks at least this often.
LONGEST_SLEEP: Final = 20.0
SHORTEST_SLEEP: Final = 0.5
PURGE_EVERY: Final = timedelta(hours=1)


class Deadlines:
    """One task that sleeps until the earliest deadline or reminder, or until it is woken."""

    def __init__(self, bot: "Bot") -> None:
        self._bot = bot
        self._loop = tasks.loop(seconds=LONGEST_SLEEP)(self._turn)
        self._loop.before_loop(self._first)
        self._purged: datetime | None = None

    def start(self) -> None:
        """Begin; what came due while the bot was away is done first, once the platform is reached."""
        self._loop.start()

    def wake(self) -> None:
        """Look soon: a proposal was opened or changed, so the earliest deadline may be another."""
        self._loop.change_interval(seconds=SHORTEST_SLEEP)

    async def stop(self) -> None:
        """End, whatever it was doing; a transaction that is under way is dropped or kept as a whole."""
        task = self._loop.get_task()
        self._loop.cancel()
        if task is not None:
            with suppress(asyncio.CancelledError):
                await task

    async def _first(self) -> None:
        await self._bot.wait_until_ready()

    async def _turn(self) -> None:
        following: datetime | None = None
        try:
            following = await self.work()
        except Exception as error:  # the task must outlive whatever one proposal does to it
            log_fault(error)
        seconds = LONGEST_SLEEP
        if following is not None:
            seconds = min(seconds, max(SHORTEST_SLEEP, (following - self._bot.now()).total_seconds()))
        self._loop.change_interval(seconds=seconds)

    async def work(self) -> datetime | None:
        """Do everything that has come due; return when the next thing comes, None if nothing waits."""
        now = self._bot.now()
        due = await self._bot.call(due_work, now)
        for server, number in due.remind:
            await self._guarded(self._remind(server, number, now))
        for server, number in due.close:
            await self._guarded(self._close(server, number, now))
        if self._purged is None or now - self._purged >= PURGE_EVERY:
            self._purged = now
            await self._purge(now)
        return (await self._bot.call(due_work, now)).next if due.remind or due.close else due.next

    async def _guarded(self, step: Awaitable[None]) -> None:
        """Let one proposal fail alone."""
        try:
            await step
        except Exception as error:
            log_fault(error)

    async def _remind(self, server: int, number: int, now: datetime) -> None:
        from bot.exts.proposals.notices import tell

        notices = await self._bot.call(remind_members, RemindMembers(server=server, proposal=number, at=now))
        if not isinstance(notices, Refused):
            await tell(self._bot, server, notices)

    async def _close(self, server: int, number: int, now: datetime) -> None:
        from bot.exts.proposals.notices import tell
        from bot.exts.proposals.posting import redraw_all

        closed = await self._bot.call(close_proposal, CloseProposal(server=server, proposal=number, at=now))
        if isinstance(closed, Refused):
            log.info("proposal %s of %s not closed: %s", number, server, closed.code)
            return
        await redraw_all(self._bot, server, [number, closed.view.number, *closed.followed, *closed.outdated])
        await tell(self._bot, server, closed.notices)

    async def _purge(self, now: datetime) -> None:
        await self._bot.call(drop_drafts, now)
        before = now - timedelta(days=self._bot.settings.grace_days)
        for server in await self._bot.call(servers_left, before):
            if await self._bot.call(purge_server, PurgeServer(server=server, before=before)):
                log.info("data of server %s deleted, %s days after it was left", server, self._bot.settings.grace_days)
