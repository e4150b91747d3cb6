"""Runs migrations: on the connection that the program hands over, or from the command line on a database of its own.

The command line takes the database from BUILDMOOT_DATABASE_URL.
"""

import asyncio
import os
from typing import Literal

from alembic import context
from sqlalchemy import Connection, text
from sqlalchemy.types import TypeDecorator

from engine.store.engines import database_url, postgres_engine, sqlite_engine
from engine.store.models import Base

# Any number that no other program takes for the same server; keeps two starting processes from migrating at once.
MIGRATING = 7_214_455


def plainly(kind: str, item: object, context: object) -> str | Literal[False]:
    """Write our column types as what they are stored as, so that a migration never depends on today's code."""
    if kind == "type" and isinstance(item, TypeDecorator):
        return f"sa.{type(item.impl_instance).__name__}()"
    return False


def migrate(connection: Connection) -> None:
    """Run the migrations asked for on an open connection, in one transaction."""
    context.configure(
        connection=connection,
        target_metadata=Base.metadata,
        render_as_batch=True,
        render_item=plainly,
        compare_type=True,
        compare_server_default=True,
    )
    with context.begin_transaction():
        if connection.dialect.name == "postgresql":
            connection.execute(text("SET LOCAL lock_timeout = '10s'"))
            connection.execute(text("SELECT pg_advisory_xact_lock(:n)"), {"n": MIGRATING})
        context.run_migrations()
        if connection.dialect.name == "sqlite":
            broken = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
            if broken:
                raise RuntimeError(f"the migration left {len(broken)} rows that refer to nothing: {broken[:5]}")


async def migrate_alone() -> None:
    """Open the database of the environment and migrate it."""
    url = database_url(os.environ.get("BUILDMOOT_DATABASE_URL", "sqlite:///buildmoot.db"))
    if url.get_backend_name() == "sqlite":
        engine = sqlite_engine(url, writes=True, size=1, foreign_keys=False)
    else:
        engine = postgres_engine(url)
    async with engine.begin() as connection:
        await connection.run_sync(migrate)
    await engine.dispose()


given = context.config.attributes.get("connection")
if given is None:
    asyncio.run(migrate_alone())
else:
    migrate(given)
