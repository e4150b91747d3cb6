"""The unit of work: one transaction of one service call, and the repositories that speak through it."""

from collections.abc import AsyncIterator
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from types import TracebackType
from typing import Protocol, Self

from engine.store.link import Link
from engine.store.repos.archive import ArchiveRows
from engine.store.repos.builds import Builds
from engine.store.repos.chat import Cards, Drafts
from engine.store.repos.folios import Folios
from engine.store.repos.history import HistoryRows
from engine.store.repos.people import People
from engine.store.repos.privacy import Privacy
from engine.store.repos.proposals import Proposals
from engine.store.repos.remarks import Remarks
from engine.store.repos.rolls import Rolls
from engine.store.repos.submissions import Submissions
from engine.store.repos.tables import Tables
from engine.store.repos.votes import Votes
from engine.store.repos.writeups import Writeups


class Linker(Protocol):
    """What gives out connections: the database, or a test's stand-in."""

    def writing(self) -> AbstractAsyncContextManager[Link]:
        """Return a connection to change things with, for the length of a block."""
        ...

    def reading(self) -> AbstractAsyncContextManager[Link]:
        """Return a connection to read one snapshot with, for the length of a block."""
        ...

    async def scrub(self) -> None:
        """Overwrite what was deleted and is still in the files."""
        ...


class UnitOfWork:
    """One service call's transaction.

    `async with uow:` begins a writing one; leaving the block drops everything that `commit` did not keep, so forgetting
    is safe. `async with uow.reading():` reads one snapshot, beside any writer. One block at a time.
    """

    people: People
    builds: Builds
    proposals: Proposals
    votes: Votes
    remarks: Remarks
    history: HistoryRows
    privacy: Privacy
    folios: Folios
    cards: Cards
    drafts: Drafts
    rolls: Rolls
    tables: Tables
    submissions: Submissions
    writeups: Writeups
    archive: ArchiveRows

    def __init__(self, linker: Linker) -> None:
        self._linker = linker
        self._block: AbstractAsyncContextManager[Link] | None = None
        self._link: Link | None = None

    def _speak(self, link: Link) -> None:
        self._link = link
        self.people = People(link)
        self.history = HistoryRows(link)
        self.privacy = Privacy(link)
        self.folios = Folios(link)
        self.builds = Builds(link)
        self.proposals = Proposals(link)
        self.votes = Votes(link)
        self.remarks = Remarks(link)
        self.cards = Cards(link)
        self.drafts = Drafts(link)
        self.rolls = Rolls(link)
        self.tables = Tables(link)
        self.submissions = Submissions(link)
        self.writeups = Writeups(link)
        self.archive = ArchiveRows(link)

    async def __aenter__(self) -> Self:
        if self._link is not None:
            raise RuntimeError("a unit of work has one block at a time")
        block = self._linker.writing()
        self._speak(await block.__aenter__())
        self._block = block
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        block, self._block, self._link = self._block, None, None
        if block is not None:
            await block.__aexit__(kind, error, trace)

    @asynccontextmanager
    async def reading(self) -> AsyncIterator[Self]:
        """Read one snapshot; nothing can be written."""
        if self._link is not None:
            raise RuntimeError("a unit of work has one block at a time")
        async with self._linker.reading() as link:
            self._speak(link)
            try:
                yield self
            finally:
                self._link = None

    async def commit(self) -> None:
        """Keep what was done in this block.

        Raises: StaleDataError if another process saved a row first; IntegrityError if one broke a constraint.
        """
        if self._link is None:
            raise RuntimeError("there is nothing to commit outside a block")
        await self._link.commit()

    async def flush(self) -> None:
        """Send what waits for the commit, so that statements after it find it; nothing is kept yet."""
        if self._link is None:
            raise RuntimeError("there is nothing to send outside a block")
        await self._link.flush()

    async def scrub(self) -> None:
        """Overwrite in the database's files what was deleted by commits before; outside of any block."""
        if self._link is not None:
            raise RuntimeError("a database is scrubbed between transactions")
        await self._linker.scrub()
