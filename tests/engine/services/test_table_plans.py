"""What tables are read by: every statement of a roster and a list of tables goes through an index."""

import sqlite3
from contextlib import closing
from typing import Any

import pytest

from engine.services.roster import ShowRoster, show_roster
from engine.services.tables import ListTables, SuggestTables, list_tables, suggest_tables
from tests.engine.services.world import HERE, READER, World


@pytest.mark.parametrize(
    ("service", "command"),
    [
        (show_roster, lambda w: ShowRoster(server=HERE, member=READER, table=w.table)),
        (show_roster, lambda w: ShowRoster(server=HERE, member=READER, table="Marsh Table")),
        (list_tables, lambda w: ListTables(server=HERE, member=READER)),
        (suggest_tables, lambda w: SuggestTables(server=HERE, member=READER, text="m")),
    ],
)
async def test_no_statement_reads_a_whole_table(service: Any, command: Any, world: World) -> None:
    """The statements are those that ran, as SQLite was given them; a scan of a table would grow with other servers."""
    ran: list[str] = []
    async with world.database.unit().reading() as uow:
        driver: Any = uow.people._link._driver  # type: ignore[attr-defined]
        path = (await (await driver.execute("PRAGMA database_list")).fetchone())[2]
        await driver.set_trace_callback(ran.append)
    await world.call(service, command(world))
    async with world.database.unit().reading() as uow:
        await uow.people._link._driver.set_trace_callback(None)  # type: ignore[attr-defined]
    selects = [sql for sql in ran if sql.lstrip().upper().startswith("SELECT")]
    assert selects
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as link:
        for sql in selects:
            plan = [row[3] for row in link.execute(f"EXPLAIN QUERY PLAN {sql}")]
            assert not [step for step in plan if step.startswith("SCAN")], (sql, plan)
