"""Opening a database: where, by whom, and what its connections are told."""

import subprocess
import sys
from pathlib import Path

import pytest
from sqlalchemy import text

from engine.store.database import Database, Sqlite
from engine.store.engines import database_url, sqlite_file
from engine.store.lock import DatabaseInUse


@pytest.mark.parametrize(
    ("given", "driver"),
    [
        ("sqlite:///a.db", "sqlite+aiosqlite"),
        ("sqlite+aiosqlite:////var/a.db", "sqlite+aiosqlite"),
        ("postgresql://user@host/moot", "postgresql+asyncpg"),
        ("postgresql+asyncpg://user@host/moot", "postgresql+asyncpg"),
    ],
)
def test_urls_get_their_async_driver(given: str, driver: str) -> None:
    """People write the short form."""
    assert database_url(given).drivername == driver


@pytest.mark.parametrize("given", ["sqlite://", "sqlite:///:memory:", "mysql://host/moot"])
def test_other_databases_are_refused(given: str) -> None:
    """With a sentence that says what would do."""
    with pytest.raises(ValueError, match="database"):
        database_url(given)


async def test_a_new_file_and_its_folder_are_made(tmp_path: Path) -> None:
    """The first start needs no preparation."""
    path = tmp_path / "deep" / "moot.db"
    async with await Database.open(f"sqlite:///{path}") as database, database.unit() as uow:
        await uow.people.ensure(1, 2)
        await uow.commit()
    assert path.is_file()
    async with await Database.open(f"sqlite:///{path}") as database, database.unit().reading() as uow:
        assert (await uow.people._link.session.execute(text("SELECT count(*) FROM members"))).scalar_one() == 1


async def test_one_process_a_file(sqlite_url: str) -> None:
    """A second opening is refused at once, here and in another process; after closing it is free."""
    path = sqlite_file(database_url(sqlite_url))
    program = (
        "import asyncio, sys\n"
        "from engine.store.database import Database\n"
        "from engine.store.lock import DatabaseInUse\n"
        "async def main():\n"
        "    try:\n"
        "        await (await Database.open(sys.argv[1])).close()\n"
        "    except DatabaseInUse as error:\n"
        "        sys.exit(str(error))\n"
        "asyncio.run(main())\n"
    )

    def elsewhere() -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-c", program, sqlite_url], capture_output=True, text=True, check=False,
            cwd=Path(__file__).parents[3],
        )  # fmt: skip

    database = await Database.open(sqlite_url)
    with pytest.raises(DatabaseInUse, match="in use by another process"):
        await Database.open(sqlite_url)
    refused = elsewhere()
    assert refused.returncode == 1
    assert str(path) in refused.stderr
    await database.close()
    await database.close()
    assert elsewhere().returncode == 0
    await (await Database.open(sqlite_url)).close()


async def test_a_failed_migration_lets_go_of_the_file(tmp_path: Path) -> None:
    """So that the next start can try again."""
    path = tmp_path / "moot.db"
    path.write_bytes(b"this is no database, but long enough to be taken for one" * 40)
    with pytest.raises(Exception, match="not a database"):
        await Database.open(f"sqlite:///{path}")
    path.unlink()
    await (await Database.open(f"sqlite:///{path}")).close()


async def test_what_connections_are_told(sqlite_url: str) -> None:
    """WAL, full synchronisation, foreign keys, a busy timeout; readers cannot write."""
    backend = Sqlite(database_url(sqlite_url))
    try:
        for block, query_only in ((backend.writing, 0), (backend.reading, 1)):
            async with block() as link:
                found = {
                    name: (await link.session.execute(text(f"PRAGMA {name}"))).scalar_one()
                    for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout", "query_only")
                }
            assert found == {
                "journal_mode": "wal",
                "synchronous": 2,
                "foreign_keys": 1,
                "busy_timeout": 5000,
                "query_only": query_only,
            }
        async with backend.reading() as link:
            with pytest.raises(Exception, match="readonly"):
                await link.session.execute(text("INSERT INTO servers (id) VALUES (1)"))
    finally:
        await backend.close()
