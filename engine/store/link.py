"""A link: one connection during one unit of work, with a session for ordinary work and prepared calls for fast work.

Both share one transaction. On SQLite the prepared calls of a step travel to the driver's thread together, since each
trip costs as much as a statement; `later` keeps writes until the commit and sends them along with it.
"""

import sqlite3
from typing import Any

import aiosqlite
from sqlalchemy.exc import IntegrityError
from sqlalchemy.ext.asyncio import AsyncConnection, AsyncSession

from engine.store.prepared import Call, Row


class Link:
    """A connection inside one unit of work, on any database."""

    def __init__(self, connection: AsyncConnection) -> None:
        self._connection = connection
        self._session: AsyncSession | None = None
        self._later: list[Call] = []

    @property
    def dialect(self) -> str:
        """`sqlite` or `postgresql`."""
        return self._connection.dialect.name

    @property
    def session(self) -> AsyncSession:
        """The session of this unit of work; it begins its transaction with its first statement."""
        if self._session is None:
            self._session = AsyncSession(self._connection, expire_on_commit=False, autoflush=False)
        return self._session

    async def run(self, *calls: Call) -> list[list[Row]]:
        """Return the rows of each call, in order, inside the transaction."""
        found = []
        for call in calls:
            result = await self._connection.execute(call.prepared.on(self.dialect), dict(call.values))
            found.append([tuple(row) for row in result] if result.returns_rows else [])
        return found

    def later(self, call: Call) -> None:
        """Run a write at the commit, after everything that the session holds."""
        self._later.append(call)

    async def flush(self) -> None:
        """Send everything that waits for the commit, without keeping it yet."""
        if self._session is not None:
            await self._session.flush()
        waiting, self._later = self._later, []
        await self.run(*waiting)

    async def commit(self) -> None:
        """Keep everything."""
        if self._session is not None:
            await self._session.flush()
        waiting, self._later = self._later, []
        await self._finish(waiting)

    async def _finish(self, waiting: list[Call]) -> None:
        await self.run(*waiting)
        if self._session is not None:
            await self._session.commit()
        if self._connection.in_transaction():
            await self._connection.commit()

    async def close(self) -> None:
        """Drop whatever was not committed."""
        self._later.clear()
        if self._session is not None:
            await self._session.close()
            self._session = None
        # Also one that is active no more: a commit that failed leaves it so, and the next block could not begin.
        if self._connection.get_transaction() is not None:
            await self._connection.rollback()


class SqliteLink(Link):
    """A connection on a SQLite file. driver: the driver's connection under it."""

    def __init__(self, connection: AsyncConnection, driver: aiosqlite.Connection, *, writes: bool) -> None:
        super().__init__(connection)
        self._driver = driver
        self._begin = "BEGIN IMMEDIATE" if writes else "BEGIN"

    async def run(self, *calls: Call) -> list[list[Row]]:
        """Return the rows of each call, in order, inside the transaction; one trip to the driver for all."""
        return await self._trip(list(calls), commit=False)

    async def _finish(self, waiting: list[Call]) -> None:
        if self._session is not None and self._session.in_transaction():
            if waiting:
                await self._trip(waiting, commit=False)
            await self._session.commit()
        else:
            await self._trip(waiting, commit=True)

    async def close(self) -> None:
        """Drop whatever was not committed."""
        await super().close()
        if self._driver.in_transaction:
            await self._driver.rollback()

    async def _trip(self, calls: list[Call], *, commit: bool) -> list[list[Row]]:
        plans = [call.prepared.plan for call in calls]
        bound = [(plan.sql, plan.bound(call.values)) for plan, call in zip(plans, calls, strict=True)]
        # aiosqlite has no public way to do several things in one trip; its own methods are all made of this one.
        driver: Any = self._driver
        try:
            raw = await driver._execute(_batch, driver._conn, self._begin, bound, commit)
        except sqlite3.IntegrityError as error:
            raise IntegrityError(None, None, error) from error
        return [plan.rows(rows) for plan, rows in zip(plans, raw, strict=True)]


def _batch(
    raw: sqlite3.Connection, begin: str, bound: list[tuple[str, dict[str, Any]]], commit: bool
) -> list[list[Row]]:
    """Run statements in the driver's thread, in one transaction that goes on unless committed."""
    if not raw.in_transaction:
        raw.execute(begin)
    rows = [raw.execute(sql, values).fetchall() for sql, values in bound]
    if commit:
        raw.execute("COMMIT")
    return rows
