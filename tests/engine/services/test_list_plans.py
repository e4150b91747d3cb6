"""What lists are read by: no statement of any of them reads a whole table, on either kind of database."""

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from typing import Any

import pytest
from sqlalchemy import event, text
from sqlalchemy.engine import Engine

from engine.review.machine import State
from engine.services.builds import ListBuilds, SuggestBuilds
from engine.services.deadlines import CloseProposal
from engine.services.proposals import ListProposals
from engine.services.remarks import ListRemarks
from engine.services.rolls import ListRolls
from engine.services.roster import ShowRoster
from engine.store.database import Database
from tests.engine.services.test_every_service import EXAMPLES, PRINTED, SERVICES
from tests.engine.services.world import HERE, READER, World, settle

Command = Callable[[World], Any]
# Every list with what it may be narrowed down by; those that are not here are read as their example asks for them.
NARROWED: dict[str, list[Command]] = {
    "ListBuilds": [
        lambda w: ListBuilds(server=HERE, member=READER, page=3),
        lambda w: ListBuilds(server=HERE, member=READER, author=READER),
        lambda w: ListBuilds(server=HERE, member=READER, class_="rogue"),
        lambda w: ListBuilds(server=HERE, member=READER, level=6),
        lambda w: ListBuilds(server=HERE, member=READER, class_="rogue", level=6, author=READER),
        lambda w: ListBuilds(server=HERE, member=READER, retired=True),
    ],
    "ListProposals": [
        lambda w: ListProposals(server=HERE, member=READER, state=None, page=3),
        lambda w: ListProposals(server=HERE, member=READER, state=State.DECLINED),
        lambda w: ListProposals(server=HERE, member=READER, build="Reed Warden", state=None),
        lambda w: ListProposals(server=HERE, member=READER, build=w.build),
        lambda w: ListProposals(server=HERE, member=READER, proposer=READER, state=None),
    ],
    "ListRemarks": [lambda w: ListRemarks(server=HERE, member=READER, subject=w.build)],
    "ListRolls": [lambda w: ListRolls(server=HERE, member=READER, roller=READER)],
    "ShowRoster": [lambda w: ShowRoster(server=HERE, member=READER, table="Marsh Table")],
    "SuggestBuilds": [
        lambda w: SuggestBuilds(server=HERE, member=READER, text=""),
        lambda w: SuggestBuilds(server=HERE, member=READER, text="7"),
        lambda w: SuggestBuilds(server=HERE, member=READER, text="ward", own=True),
    ],
}


def listing(name: str) -> bool:
    """Tell whether a command asks for a list."""
    return name.startswith(("List", "Suggest")) or name.endswith(("History", "Roster", "Cards", "CardsOf"))


# Those that tell what is printed read no database.
LISTS = [name for name in SERVICES if listing(name) and name not in PRINTED]
CASES = [(name, make) for name in LISTS for make in (EXAMPLES[name], *NARROWED.get(name, []))]


@pytest.mark.parametrize(("name", "make"), CASES)
async def test_no_list_reads_a_whole_table_of_sqlite(name: str, make: Command, world: World) -> None:
    """The statements are those that ran, as SQLite was given them."""
    ran: list[str] = []
    async with world.database.unit().reading() as uow:
        driver: Any = uow.people._link._driver
        path = (await (await driver.execute("PRAGMA database_list")).fetchone())[2]
        await driver.set_trace_callback(ran.append)
    await world.call(SERVICES[name][1], make(world))
    selects = [sql for sql in ran if sql.lstrip().upper().startswith("SELECT")]
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as link:
        plans = {sql: [row[3] for row in link.execute(f"EXPLAIN QUERY PLAN {sql}")] for sql in selects}
    assert plans
    for sql, plan in plans.items():
        assert any(step.startswith("SEARCH") for step in plan), (sql, plan)
        # A list of no numbers is a constant row and a subquery made of it: they are no tables.
        scans = [step for step in plan if step.startswith("SCAN")]
        assert not [step for step in scans if step not in ("SCAN CONSTANT ROW", "SCAN (subquery-1)")], (sql, plan)


@contextmanager
def statements() -> Iterator[list[tuple[str, Any]]]:
    """Collect every statement that any engine runs meanwhile, with its parameters."""
    ran: list[tuple[str, Any]] = []

    def note(_: Any, __: Any, statement: str, parameters: Any, *___: Any) -> None:
        ran.append((statement, parameters))

    event.listen(Engine, "before_cursor_execute", note)
    try:
        yield ran
    finally:
        event.remove(Engine, "before_cursor_execute", note)


async def test_no_list_reads_a_whole_table_of_postgres(postgres_url: str) -> None:
    """PostgreSQL reads small tables whole because that is quicker; told not to, it must find an index for each."""
    async with await Database.open(postgres_url) as database:
        world = await settle(database)
        explained = 0
        for name, make in CASES:
            with statements() as ran:
                await world.call(SERVICES[name][1], make(world))
            selects = [each for each in ran if each[0].lstrip().upper().startswith("SELECT")]
            assert selects, name
            async with database.unit().reading() as uow:
                session = uow.people._link.session
                await session.execute(text("SET LOCAL enable_seqscan = off"))
                connection = await session.connection()
                for sql, parameters in selects:
                    plan = [row[0] for row in await connection.exec_driver_sql(f"EXPLAIN {sql}", parameters)]
                    assert not [step for step in plan if "Seq Scan" in step], (name, sql, plan)
                    explained += 1
        assert explained >= len(CASES)


async def test_the_clock_reads_deadlines_from_an_index(world: World) -> None:
    """What is due, over all servers, is asked every few seconds."""
    ran: list[str] = []
    async with world.database.unit().reading() as uow:
        driver: Any = uow.people._link._driver
        path = (await (await driver.execute("PRAGMA database_list")).fetchone())[2]
        await driver.set_trace_callback(ran.append)
        close: CloseProposal = EXAMPLES["CloseProposal"](world)
        assert (HERE, world.timed) in await uow.proposals.to_close(close.at, limit=10)
        assert (HERE, world.timed) in await uow.proposals.to_remind(close.at, limit=10)
        assert None not in await uow.proposals.earliest()
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as link:
        plans = [[row[3] for row in link.execute(f"EXPLAIN QUERY PLAN {sql}")] for sql in ran if "SELECT" in sql]
    assert len(plans) == 4
    assert all("USING INDEX" in step or "COVERING INDEX" in step for plan in plans for step in plan), plans
