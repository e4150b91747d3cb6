"""Engines: how connections are opened, and what each of them is told first."""

from pathlib import Path
from typing import Any, Final

from sqlalchemy import URL, Connection, event, make_url
from sqlalchemy.ext.asyncio import AsyncEngine, create_async_engine

BUSY_MS: Final = 5000
READERS: Final = 4


def database_url(text: str) -> URL:
    """Return a database URL with its async driver: `sqlite:///f.db` and `postgresql://...` are completed.

    Raises: ValueError for any other database, and for SQLite without a file, which no second connection could see.
    """
    url = make_url(text)
    match url.get_backend_name():
        case "sqlite":
            if not url.database or url.database == ":memory:":
                raise ValueError("the SQLite database needs a file, such as sqlite:///buildmoot.db")
            return url.set(drivername="sqlite+aiosqlite")
        case "postgresql":
            return url.set(drivername="postgresql+asyncpg")
        case other:
            raise ValueError(f"the database must be SQLite or PostgreSQL, not {other}")


def sqlite_file(url: URL) -> Path:
    """Return the file of a SQLite URL."""
    return Path(str(url.database))


def sqlite_engine(url: URL, *, writes: bool, size: int, foreign_keys: bool = True) -> AsyncEngine:
    """Return an engine on a SQLite file whose transactions are ours: the driver begins none by itself.

    A writing one begins with BEGIN IMMEDIATE, so that it waits for its turn there and never fails half-way; a reading
    one sees one snapshot per transaction and cannot write. foreign_keys off is for migrations that rebuild tables.
    """
    engine = create_async_engine(url, pool_size=size, max_overflow=0, connect_args={"isolation_level": None})
    first = [
        f"PRAGMA busy_timeout = {BUSY_MS}",
        "PRAGMA journal_mode = WAL",
        "PRAGMA synchronous = FULL",
        f"PRAGMA foreign_keys = {'ON' if foreign_keys else 'OFF'}",
        f"PRAGMA query_only = {'OFF' if writes else 'ON'}",
    ]

    def on_connect(connection: Any, _record: Any) -> None:
        cursor = connection.cursor()
        for pragma in first:
            cursor.execute(pragma)
        cursor.close()

    def on_begin(connection: Connection) -> None:
        # A unit of work may have begun on the driver already (see link.py).
        driver = connection.connection.driver_connection
        if driver is None or not driver.in_transaction:
            connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    event.listen(engine.sync_engine, "connect", on_connect)
    event.listen(engine.sync_engine, "begin", on_begin)
    return engine


def postgres_engine(url: URL) -> AsyncEngine:
    """Return an engine on a PostgreSQL database."""
    return create_async_engine(url, pool_size=8, max_overflow=8, pool_pre_ping=True)
