"""What a transaction has to hold: it drops by default, drops on error, and of two writers one wins."""

import asyncio
from datetime import UTC, datetime

import pytest
from sqlalchemy.exc import DBAPIError, IntegrityError, StatementError
from sqlalchemy.orm.exc import StaleDataError

from engine.store.database import Database
from engine.store.models import BuildRow, DraftRow, Revision
from engine.store.uow import UnitOfWork

T0 = datetime(2026, 3, 1, 12, 30, 15, 123456, tzinfo=UTC)


async def add_build(uow: UnitOfWork, *, server: int = 1, name: str = "Reed Warden") -> int:
    await uow.people.ensure(server, 9)
    number = await uow.people.next_number(server)
    row = BuildRow(
        server=server, number=number, author=9, name=name, name_key=name.lower(), shared=True, removed=False,
        revision=1, top=3, created=T0, changed=T0,
    )  # fmt: skip
    revision = Revision(
        server=server, build=number, number=1, hash="0" * 64, author=9, at=T0, reason="", parent=None, document="{}"
    )
    await uow.builds.add(row, revision, {"rogue": 2, "ranger": 1})
    return number


async def test_what_is_committed_is_read_back(database: Database) -> None:
    """Times keep their microseconds and zone; classes keep their order."""
    async with database.unit() as uow:
        number = await add_build(uow)
        uow.history.append(1, number, "build", "build-loaded", actor=9, at=T0, data={"a": [1, None, "ü"]})
        await uow.commit()
    async with database.unit().reading() as uow:
        row = await uow.builds.get(1, number)
        assert row is not None
        assert (row.created, row.name, row.row_version) == (T0, "Reed Warden", 1)
        assert await uow.builds.classes(1, [number]) == {number: {"rogue": 2, "ranger": 1}}
        [entry] = await uow.history.of(1, [number], limit=10)
        assert (entry.actor, entry.at, entry.data) == (9, T0, {"a": [1, None, "ü"]})


async def test_leaving_the_block_drops_everything(database: Database) -> None:
    """Forgetting to commit is safe, for the session's rows and for those that wait for the commit."""
    async with database.unit() as uow:
        number = await add_build(uow)
        uow.history.append(1, number, "build", "build-loaded", actor=9, at=T0)
    async with database.unit().reading() as uow:
        assert await uow.builds.get(1, number) is None
        assert await uow.history.of(1, [number], limit=10) == []


async def test_an_error_drops_everything(database: Database) -> None:
    """Whatever was raised, and the next unit of work starts clean."""

    async def fail() -> None:
        async with database.unit() as uow:
            await add_build(uow)
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        await fail()
    async with database.unit() as uow:
        assert await uow.builds.count(1) == 0
        number = await add_build(uow)
        await uow.commit()
    assert number == 1


async def test_a_broken_constraint_at_the_commit_drops_all_of_it(database: Database) -> None:
    """The history row is refused, so the build before it is not kept either."""
    async with database.unit() as uow:
        number = await add_build(uow)
        uow.history.append(1, number, "build", "build-loaded", actor=12345, at=T0)
        with pytest.raises(IntegrityError):
            await uow.commit()
    async with database.unit().reading() as uow:
        assert await uow.builds.count(1) == 0


async def test_a_fast_write_that_breaks_a_constraint_is_told_like_any_other(database: Database) -> None:
    """Rows that wait for the commit, with no session beside them; the connection is clean afterwards."""
    async with database.unit() as uow:
        uow.history.append(404, 1, "build", "build-loaded", actor=None, at=T0)
        with pytest.raises(IntegrityError):
            await uow.commit()
    async with database.unit() as uow:
        assert await add_build(uow) == 1
        await uow.commit()


async def test_after_a_commit_that_failed_the_next_block_begins(database: Database) -> None:
    """A constraint that is looked at only at the end fails the commit itself; the connection must not stay in it."""
    async with database.unit() as uow:
        number = await add_build(uow)
        await uow.commit()

    async def broken() -> None:
        async with database.unit() as uow:
            row = await uow.builds.get(1, number, for_update=True)
            assert row is not None
            row.shared = False
            uow.history.append(1, number, "build", "build-loaded", actor=77, at=T0)
            await uow.commit()

    with pytest.raises(IntegrityError):
        await broken()
    async with database.unit() as uow:
        row = await uow.builds.get(1, number, for_update=True)
        assert row is not None
        assert row.shared


async def test_two_writers_cannot_both_win(database: Database) -> None:
    """The row version makes the second of two that read the same state fail."""
    async with database.unit() as uow:
        number = await add_build(uow)
        await uow.commit()
    async with database.unit() as uow:
        stale = await uow.builds.get(1, number)
        assert stale is not None
        await uow.people._link.session.execute(
            BuildRow.__table__.update().values(row_version=BuildRow.row_version + 1)  # another process saves first
        )
        stale.name = "Second"
        with pytest.raises(StaleDataError):
            await uow.commit()


async def test_call_tries_once_more_if_another_writer_came_first(database: Database) -> None:
    """Once, not for ever."""
    tries = []

    async def service(cmd: int, uow: UnitOfWork) -> str:
        tries.append(cmd)
        if len(tries) < cmd:
            raise StaleDataError
        async with uow:
            return "done"

    assert await database.call(service, 2) == "done"
    tries.clear()
    with pytest.raises(StaleDataError):
        await database.call(service, 3)
    assert tries == [3, 3]


async def test_writers_take_turns_and_numbers_never_repeat(database: Database) -> None:
    """Fifty at once, on two servers, get the numbers 1 to 25 of each."""

    async def one(server: int, name: str) -> tuple[int, int]:
        async with database.unit() as uow:
            number = await add_build(uow, server=server, name=name)
            await uow.commit()
            return server, number

    found = await asyncio.gather(*(one(1 + n % 2, f"build {n}") for n in range(50)))
    assert sorted(found) == sorted((server, number) for server in (1, 2) for number in range(1, 26))


async def test_readers_see_one_snapshot_beside_a_writer(database: Database) -> None:
    """A writer that has not committed is not seen, nor waited for."""
    async with database.unit() as writing:
        await add_build(writing)
        async with database.unit().reading() as uow:
            assert await uow.builds.count(1) == 0
        await writing.commit()
    async with database.unit().reading() as uow:
        assert await uow.builds.count(1) == 1
        async with database.unit() as later:
            await add_build(later, name="Later")
            await later.commit()
        assert await uow.builds.count(1) == 1
        with pytest.raises(DBAPIError, match=r"readonly|read-only"):
            await uow.people.next_number(1)


async def test_blocks_are_used_one_at_a_time(database: Database) -> None:
    """Mixing them up is a bug, told at once."""
    uow = database.unit()
    with pytest.raises(RuntimeError, match="outside a block"):
        await uow.commit()
    async with uow:
        with pytest.raises(RuntimeError, match="one block"):
            await uow.__aenter__()
        with pytest.raises(RuntimeError, match="one block"):
            async with uow.reading():
                pass
    async with uow.reading():
        with pytest.raises(RuntimeError, match="one block"):
            async with uow.reading():
                pass


async def test_a_time_without_a_zone_is_not_stored(database: Database) -> None:
    """It would mean something else on every machine."""
    draft = DraftRow(server=1, member=9, kind="load", fields={}, at=datetime(2026, 1, 1))  # noqa: DTZ001
    async with database.unit() as uow:
        await uow.people.ensure(1, 9)
        with pytest.raises(StatementError, match="without a zone"):
            await uow.drafts.add(draft)


async def test_a_members_oldest_drafts_go(database: Database) -> None:
    """The newest twenty stay, those of others too."""
    async with database.unit() as uow:
        await uow.people.ensure(1, 9)
        await uow.people.ensure(1, 8)
        other = await uow.drafts.add(DraftRow(server=1, member=8, kind="load", fields={"text": "x"}, at=T0))
        ids = [
            await uow.drafts.add(DraftRow(server=1, member=9, kind="load", fields={"text": str(n)}, at=T0))
            for n in range(25)
        ]
        await uow.commit()
    async with database.unit().reading() as uow:
        kept = [id_ for id_ in ids if await uow.drafts.get(1, 9, id_) is not None]
        assert kept == ids[-20:]
        assert await uow.drafts.get(1, 8, other) is not None


async def test_a_members_id_can_be_replaced_everywhere_at_once(database: Database) -> None:
    """References follow, which is what erasing a member will need."""
    async with database.unit() as uow:
        number = await add_build(uow)
        await uow.commit()
    async with database.unit() as uow:
        await uow.people._link.session.execute(_rename(9, 99))
        await uow.commit()
    async with database.unit().reading() as uow:
        row = await uow.builds.get(1, number)
        revision = await uow.builds.revision(1, number, 1)
        assert row is not None
        assert revision is not None
        assert (row.author, revision.author) == (99, 99)


def _rename(old: int, new: int) -> object:
    from engine.store.models import Member

    return Member.__table__.update().where(Member.id == old).values(id=new)
