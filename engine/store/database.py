"""The database: opened once per process, migrated first, and asked for units of work."""

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from importlib.resources import files
from typing import Protocol, Self, TypeVar

import aiosqlite
from alembic import command
from alembic.config import Config
from sqlalchemy import URL, Connection, text
from sqlalchemy.exc import IntegrityError
from sqlalchemy.ext.asyncio import AsyncConnection, AsyncEngine
from sqlalchemy.orm.exc import StaleDataError

from engine.store.engines import READERS, database_url, postgres_engine, sqlite_engine, sqlite_file
from engine.store.link import Link, SqliteLink
from engine.store.lock import FileLock
from engine.store.uow import UnitOfWork

C = TypeVar("C")
_LOG_TRIES = 3
R = TypeVar("R")


async def upgrade(url: str) -> None:
    """Bring the schema up to date; makes a SQLite file and its folder where there is none.

    Raises: ValueError for a URL that names neither SQLite with a file nor PostgreSQL.
    """
    target = database_url(url)
    if target.get_backend_name() == "sqlite":
        await asyncio.to_thread(sqlite_file(target).absolute().parent.mkdir, parents=True, exist_ok=True)
        # Rebuilding a table drops it, which with foreign keys on would take the rows that refer to it along.
        engine = sqlite_engine(target, writes=True, size=1, foreign_keys=False)
    else:
        engine = postgres_engine(target)
    try:
        async with engine.begin() as connection:
            await connection.run_sync(_upgrade)
    finally:
        await engine.dispose()


def migration_config(connection: Connection | None = None) -> Config:
    """Return alembic's configuration without any file; connection: what the migrations run on."""
    config = Config()
    config.set_main_option("script_location", str(files("migrations")).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    return config


def _upgrade(connection: Connection) -> None:
    command.upgrade(migration_config(connection), "head")


class Backend(Protocol):
    """The part of a database that differs between SQLite and PostgreSQL."""

    def writing(self) -> AbstractAsyncContextManager[Link]:
        """Return a connection to change things with, for the length of a block."""
        ...

    def reading(self) -> AbstractAsyncContextManager[Link]:
        """Return a connection to read one snapshot with, for the length of a block."""
        ...

    async def scrub(self) -> None:
        """Overwrite what was deleted and is still in the files."""
        ...

    async def close(self) -> None:
        """Close every connection."""
        ...


class Sqlite:
    """One SQLite file: one connection writes, behind a lock, while a few others read."""

    def __init__(self, url: URL) -> None:
        path = sqlite_file(url).absolute()
        path.parent.mkdir(parents=True, exist_ok=True)
        self._lock = FileLock(path)
        self._turn = asyncio.Lock()
        self._writers = sqlite_engine(url, writes=True, size=1)
        self._readers = sqlite_engine(url, writes=False, size=READERS)
        self._writer: tuple[AsyncConnection, aiosqlite.Connection] | None = None

    @asynccontextmanager
    async def writing(self) -> AsyncIterator[Link]:
        """Return the one writing connection once it is this block's turn."""
        async with self._turn:
            if self._writer is None:
                connection = await self._writers.connect()
                self._writer = connection, await _driver(connection)
            link = SqliteLink(*self._writer, writes=True)
            try:
                yield link
            finally:
                await link.close()

    @asynccontextmanager
    async def reading(self) -> AsyncIterator[Link]:
        """Return a reading connection."""
        async with self._readers.connect() as connection:
            link = SqliteLink(connection, await _driver(connection), writes=False)
            try:
                yield link
            finally:
                await link.close()

    async def scrub(self) -> None:
        """Write the file anew without what was deleted, and empty the log, which holds earlier pages.

        A reader that is under way keeps the log from being emptied; it is asked a few times.
        """
        async with self._turn:
            if self._writer is None:
                connection = await self._writers.connect()
                self._writer = connection, await _driver(connection)
            driver = self._writer[1]
            await driver.execute("VACUUM")
            for _ in range(_LOG_TRIES):
                cursor = await driver.execute("PRAGMA wal_checkpoint(TRUNCATE)")
                row = await cursor.fetchone()
                await cursor.close()
                if row is not None and not row[0]:
                    return

    async def close(self) -> None:
        """Close every connection and let other processes have the file."""
        try:
            async with self._turn:
                if self._writer is not None:
                    await self._writer[0].close()
                    self._writer = None
            await self._writers.dispose()
            await self._readers.dispose()
        finally:
            self._lock.release()


async def _driver(connection: AsyncConnection) -> aiosqlite.Connection:
    driver = (await connection.get_raw_connection()).driver_connection
    assert isinstance(driver, aiosqlite.Connection)
    return driver


class Postgres:
    """A PostgreSQL database: every block has a connection of its own, rows are locked where two may meet."""

    def __init__(self, url: URL) -> None:
        self._engine = postgres_engine(url)
        self._readers = self._engine.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)

    def writing(self) -> AbstractAsyncContextManager[Link]:
        """Return a connection of the pool."""
        return self._linked(self._engine)

    def reading(self) -> AbstractAsyncContextManager[Link]:
        """Return a connection of the pool that sees one snapshot and cannot write."""
        return self._linked(self._readers)

    @asynccontextmanager
    async def _linked(self, engine: AsyncEngine) -> AsyncIterator[Link]:
        async with engine.connect() as connection:
            link = Link(connection)
            try:
                yield link
            finally:
                await link.close()

    async def scrub(self) -> None:
        """Let the server take away the rows that were deleted."""
        async with self._engine.connect() as connection:
            plain = await connection.execution_options(isolation_level="AUTOCOMMIT")
            await plain.execute(text("VACUUM"))

    async def close(self) -> None:
        """Close every connection."""
        await self._engine.dispose()


class Database:
    """An open database. Use `Database.open`; close it when the process ends."""

    def __init__(self, backend: Backend) -> None:
        self._backend = backend

    @classmethod
    async def open(cls, url: str) -> Self:
        """Return the database of a URL, with its schema up to date.

        Raises: DatabaseInUse if another process has the SQLite file open; ValueError for a URL of no known database.
        """
        target = database_url(url)
        if target.get_backend_name() != "sqlite":
            await upgrade(url)
            return cls(Postgres(target))
        backend = Sqlite(target)
        try:
            await upgrade(url)
        except BaseException:
            await backend.close()
            raise
        return cls(backend)

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(self, *_: object) -> None:
        await self.close()

    async def close(self) -> None:
        """Close every connection; units of work that are under way end first."""
        await self._backend.close()

    def unit(self) -> UnitOfWork:
        """Return a fresh unit of work."""
        return UnitOfWork(self._backend)

    async def call(self, service: Callable[[C, UnitOfWork], Awaitable[R]], cmd: C) -> R:
        """Return what a service answers to a command; once more from the start if another writer came first."""
        try:
            return await service(cmd, self.unit())
        except (StaleDataError, IntegrityError):
            return await service(cmd, self.unit())
