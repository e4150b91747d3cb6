"""What is stored about one member, in every table, and how it goes."""

import json
from collections.abc import Iterator
from datetime import datetime
from typing import Any, Final

from sqlalchemy import (
    Column,
    ColumnElement,
    LargeBinary,
    String,
    Table,
    Text,
    delete,
    func,
    literal,
    or_,
    select,
    update,
)

from engine.store.link import Link
from engine.store.models import (
    Base,
    BuildRow,
    Card,
    DraftRow,
    History,
    Member,
    ProposalRow,
    Remark,
    RollRow,
    Server,
    WriteupRow,
)
from engine.store.types import Moment, Plain

# Columns that hold a member's id without a reference to the table of members.
_LOOSE: Final = {("proposals", "closed_by"), ("remarks", "settled_by")}
# Documents are kept as they were hashed; what a build says of itself goes with the build.
_NEVER_REWRITTEN: Final = {("revisions", "document"), ("revisions", "hash")}


class Privacy:
    """The rows of a server that have to do with one member, whatever the table."""

    def __init__(self, link: Link) -> None:
        self._link = link

    async def about(self, server: int, member: int) -> dict[str, list[dict[str, Any]]]:
        """Return every row that names a member, by table, as column -> value; tables without one are left out.

        Files that a member brought are left out of their rows: they are read by themselves.
        """
        found = {}
        for table in Base.metadata.sorted_tables:
            columns = [table.c.id] if table.name == "members" else _columns(table)
            if not columns:
                continue
            rows = await self._link.session.execute(
                select(*told(table)).where(table.c.server == server, or_(*(column == member for column in columns)))
            )
            if plain := [dict(row._mapping) for row in rows]:
                found[table.name] = plain
        return found

    async def builds_of(self, server: int, member: int) -> list[BuildRow]:
        """Return every build of an author, removed ones too, held for update."""
        found = await self._link.session.scalars(
            select(BuildRow)
            .where(BuildRow.server == server, BuildRow.author == member)
            .order_by(BuildRow.number)
            .with_for_update()
        )
        return list(found)

    async def drop_build(self, server: int, number: int) -> None:
        """Delete a build with all that hangs on it: revisions, proposals, votes, remarks, history, cards."""
        session = self._link.session
        proposals = list(
            await session.scalars(
                select(ProposalRow.number).where(ProposalRow.server == server, ProposalRow.build == number)
            )
        )
        for model in (History, Remark, Card):
            await session.execute(delete(model).where(model.server == server, model.subject.in_([number, *proposals])))
        for column in (RollRow.build, RollRow.serves):
            await session.execute(
                update(RollRow).where(RollRow.server == server, column == number).values({column: None})
            )
        await session.execute(delete(BuildRow).where(BuildRow.server == server, BuildRow.number == number))

    async def blank_texts(self, server: int, member: int, at: datetime) -> None:
        """Empty what a member wrote: remarks, which are taken away, reasons, and earlier texts in the history."""
        session = self._link.session
        await session.execute(
            update(Remark)
            .where(Remark.server == server, Remark.author == member)
            .values(text="", removed=func.coalesce(Remark.removed, literal(at, Moment)))
        )
        await session.execute(
            update(ProposalRow)
            .where(ProposalRow.server == server, ProposalRow.proposer == member)
            .values(reason="", row_version=ProposalRow.row_version + 1)
        )
        for row in await session.scalars(select(History).where(History.server == server, History.actor == member)):
            row.reason = ""
            if row.data and "before" in row.data:
                row.data = {**row.data, "before": ""}
        await session.flush()

    async def replace(self, server: int, member: int) -> int:
        """Give a member an id that names nobody, everywhere, and forget the name; return that id, which is negative.

        The member's drafts and write-ups go. Mentions of the member in what others wrote are replaced too.
        """
        session = self._link.session
        lowest = await session.scalar(select(func.min(Member.id)).where(Member.server == server))
        nobody = min(0, lowest or 0) - 1
        for model in (DraftRow, WriteupRow):
            await session.execute(delete(model).where(model.server == server, model.member == member))
        for table, column in _texts():
            await self._replace_in(table, column, server, member, nobody)
        for name, column_name in sorted(_LOOSE):
            table = Base.metadata.tables[name]
            column = table.c[column_name]
            await session.execute(
                table.update().where(table.c.server == server, column == member).values({column_name: nobody})
            )
        await session.execute(
            update(Member)
            .where(Member.server == server, Member.id == member)
            .values(id=nobody, name=None, seen=None, silent=None)
        )
        return nobody

    async def _replace_in(self, table: Table, column: Column[Any], server: int, member: int, nobody: int) -> None:
        key = list(table.primary_key.columns)
        where: ColumnElement[bool] = (
            column.cast(Text).contains(str(member)) if _plain(column) else column.contains(str(member))
        )
        rows = await self._link.session.execute(select(*key, column).where(_of(table, server), where))
        for *values, old in rows:
            new = without(old, member, nobody)
            if new != old:
                await self._link.session.execute(
                    table.update()
                    .where(*(each == value for each, value in zip(key, values, strict=True)))
                    .values({column.name: new})
                )

    async def purge(self, server: int, left_before: datetime) -> bool:
        """Delete a server that the bot left before a time, with everything in it; whether it went."""
        gone = await self._link.session.execute(
            delete(Server).where(Server.id == server, Server.left <= left_before).returning(Server.id)
        )
        return gone.one_or_none() is not None


def without(value: Any, member: int, nobody: int) -> Any:
    """Return plain data with a member's id replaced by another, as a number and in mentions of the chat platform."""
    if isinstance(value, dict):
        return {key: without(each, member, nobody) for key, each in value.items()}
    if isinstance(value, list):
        return [without(each, member, nobody) for each in value]
    if isinstance(value, str):
        for mention in (f"<@{member}>", f"<@!{member}>"):
            value = value.replace(mention, "a former member")
        return str(nobody) if value == str(member) else value
    return nobody if value == member and not isinstance(value, bool) else value


def told(table: Table) -> list[Column[Any]]:
    """Return the columns of a table that can be told as text: all but those that hold files."""
    return [column for column in table.columns if not isinstance(column.type, LargeBinary)]


def _columns(table: Table) -> list[Column[Any]]:
    """Return the columns of a table that hold the id of a member."""
    named = {
        key.parent.name for key in table.foreign_keys if key.column.table.name == "members" and key.column.name == "id"
    }
    named |= {column for name, column in _LOOSE if name == table.name}
    return [table.c[name] for name in sorted(named)]


def _texts() -> Iterator[tuple[Table, Column[Any]]]:
    """Yield every column in which a member's id may stand among other things."""
    for table in Base.metadata.sorted_tables:
        for column in table.columns:
            rewritten = (table.name, column.name) not in _NEVER_REWRITTEN and not column.primary_key
            if rewritten and (isinstance(column.type, String | Text) or _plain(column)):
                yield table, column


def _plain(column: Column[Any]) -> bool:
    return isinstance(column.type, Plain)


def _of(table: Table, server: int) -> ColumnElement[bool]:
    owner: ColumnElement[bool] = (table.c.id if table.name == "servers" else table.c.server) == server
    return owner


def as_json(found: dict[str, list[dict[str, Any]]]) -> str:
    """Return rows as JSON text that a member can read: times in ISO form, one table after another."""
    return json.dumps(found, ensure_ascii=False, indent=2, default=_said)


def _said(value: Any) -> Any:
    return value.isoformat() if isinstance(value, datetime) else str(value)
