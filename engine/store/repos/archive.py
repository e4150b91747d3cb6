"""Everything of a server as plain rows, whatever tables there are, and such rows put into a database."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from sqlalchemy import Table, func, insert, select, text, update
from sqlalchemy.sql.elements import ColumnElement

from engine.store.link import Link
from engine.store.models import Base, BuildRow
from engine.store.plain_rows import BadRow, plain_row, typed_row

# What members typed into forms belongs to them alone.
LEFT_OUT: Final = frozenset({"drafts"})
# What a server may have before anything happened on it.
_EMPTY: Final = frozenset({"servers", "members", "counters", "cards", *LEFT_OUT})
# What means something on one chat server only: messages, channels and roles.
OF_THE_PLACE: Final[Mapping[str, frozenset[str]]] = {
    "servers": frozenset({"place", "librarians"}),
    "game_tables": frozenset({"channel", "role"}),
}
_MESSAGES: Final = "cards"
_CHUNK: Final = 500
# Beyond any honest id; one at the end of the column's range would leave none for the next row of any server.
_HIGHEST: Final = 10**12


class ArchiveRows:
    """The rows of a server for its archive, and from one."""

    def __init__(self, link: Link) -> None:
        self._link = link

    async def rows(self, server: int) -> tuple[dict[str, list[dict[str, Any]]], int]:
        """Return table -> rows as plain data, and how many private drafts of builds were left out with their rows."""
        session = self._link.session
        drafts = set(
            await session.scalars(select(BuildRow.number).where(BuildRow.server == server, BuildRow.shared.is_(False)))
        )
        private = drafts | await self._about(server, drafts)
        found: dict[str, list[dict[str, Any]]] = {}
        for table in _tables():
            numbers = _numbers(table)
            rows = await session.execute(
                select(table).where(_owner(table) == server).order_by(*table.primary_key.columns)
            )
            found[table.name] = [
                plain_row(dict(row)) for row in rows.mappings() if not any(row[name] in private for name in numbers)
            ]
        for row in found["servers"]:
            row["left"] = None  # of the running bot: an archive is put where it is not about to be deleted
        return found, len(drafts)

    async def _about(self, server: int, drafts: set[int]) -> set[int]:
        """Return the numbers of whatever hangs on builds that their authors have not shared: proposals, submissions."""
        found: set[int] = set()
        for table in _tables():
            if _numbered(table) and "build" in table.c:
                rows = await self._link.session.execute(
                    select(table.c.number, table.c.build).where(_owner(table) == server)
                )
                found |= {number for number, build in rows if build in drafts}
        return found

    async def is_empty(self, server: int) -> bool:
        """Tell whether nothing has happened on a server yet: nothing but names and forms is stored of it."""
        for table in _tables():
            if table.name not in _EMPTY:
                row = await self._link.session.execute(select(_owner(table)).where(_owner(table) == server).limit(1))
                if row.first() is not None:
                    return False
        return True

    async def put(
        self, server: int, tables: Mapping[str, Sequence[Mapping[str, Any]]], *, same: bool
    ) -> dict[str, int]:
        """Put the rows of an archive into an empty server; return table -> how many.

        same: whether it is the server that the archive is of. If not, messages, channels and roles are left out. Ids
        that another server of this database has already are replaced by free ones.
        Raises: BadRow for what does not fit the tables; IntegrityError for rows that refer to what is not there.
        """
        if strange := sorted({*tables} - {table.name for table in _tables()}):
            raise BadRow(f"there is no table {strange[0][:60]} in this version of the program; use a newer one")
        put: dict[str, int] = {}
        moved: dict[int, int] = {}
        for table in _tables():
            rows = [] if table.name == _MESSAGES and not same else tables.get(table.name, ())
            typed = [typed_row(table, {**row, _owner(table).name: server}) for row in rows]
            if not same:
                _leave_place(table, typed)
            if _counted(table):
                ids = [row["id"] for row in typed]
                if not all(1 <= each <= _HIGHEST for each in ids):
                    raise BadRow(f"ids of {table.name} are numbers from 1 to {_HIGHEST:,}")
                step = await self._step(table, ids)
                if table.name == "remarks":
                    moved = {row["id"]: row["id"] + step for row in typed} if step else {}
                for row in typed:
                    row["id"] += step
            put[table.name] = await self._insert(table, server, typed)
        await self._point(server, moved)
        return put

    async def _insert(self, table: Table, server: int, rows: list[dict[str, Any]]) -> int:
        session = self._link.session
        if table.name in _EMPTY:  # may be there already
            key = list(table.primary_key.columns)
            there = {tuple(row) for row in await session.execute(select(*key).where(_owner(table) == server))}
            for row in rows:
                if tuple(row[column.name] for column in key) in there and table.name != "members":
                    await self._renew(table, server, row)
            rows = [row for row in rows if tuple(row[column.name] for column in key) not in there]
        for start in range(0, len(rows), _CHUNK):
            await session.execute(insert(table), rows[start : start + _CHUNK])
        if rows and _counted(table) and self._link.dialect == "postgresql":
            # Its own counter does not see ids that are given to it.
            await session.execute(
                text(f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), (SELECT max(id) FROM {table.name}))")
            )
        return len(rows)

    async def _renew(self, table: Table, server: int, row: dict[str, Any]) -> None:
        """Change the row that is there already: what a server has set, and its counter, which never goes back."""
        values = dict(row)
        if table.name == "counters":
            last = await self._link.session.scalar(select(table.c.last).where(_owner(table) == server))
            values["last"] = max(last or 0, row["last"])
        key = [column == row[column.name] for column in table.primary_key.columns]
        await self._link.session.execute(update(table).where(*key).values(values))

    async def _step(self, table: Table, ids: Sequence[int]) -> int:
        """Return by how much some ids have to be moved so that none is taken; 0 if none is."""
        if not ids:
            return 0
        session = self._link.session
        taken = await session.scalar(
            select(func.count()).select_from(table).where(table.c.id.between(min(ids), max(ids)))
        )
        highest = await session.scalar(select(func.max(table.c.id)))
        return (highest or 0) + 1 - min(ids) if taken else 0

    async def _point(self, server: int, moved: Mapping[int, int]) -> None:
        """Let what names a remark by its id name it by the new one."""
        if not moved:
            return
        session = self._link.session
        remarks, history = Base.metadata.tables["remarks"], Base.metadata.tables["history"]
        answers = await session.execute(
            select(remarks.c.id, remarks.c.answers).where(remarks.c.server == server, remarks.c.answers.is_not(None))
        )
        for id_, answered in answers.all():
            await session.execute(
                update(remarks).where(remarks.c.id == id_).values(answers=moved.get(answered, answered))
            )
        events = await session.execute(
            select(history.c.id, history.c.data).where(
                history.c.server == server, history.c.event.startswith("remark-")
            )
        )
        for id_, data in events.all():
            named = {name: moved.get(data[name], data[name]) for name in ("remark", "answers") if name in (data or {})}
            if named:
                await session.execute(update(history).where(history.c.id == id_).values(data={**data, **named}))


def _tables() -> list[Table]:
    """Return every table that an archive holds, those first to which others refer."""
    return [table for table in Base.metadata.sorted_tables if table.name not in LEFT_OUT]


def _owner(table: Table) -> ColumnElement[int]:
    return table.c.id if table.name == "servers" else table.c.server


def _numbered(table: Table) -> bool:
    """Tell whether rows have a number from the server's shared counter."""
    return [column.name for column in table.primary_key.columns] == ["server", "number"]


def _counted(table: Table) -> bool:
    """Tell whether the database numbers the rows, for all servers together."""
    return table.name != "servers" and [column.name for column in table.primary_key.columns] == ["id"]


def _numbers(table: Table) -> list[str]:
    """Return the columns that hold numbers of the shared counter."""
    names = {
        element.parent.name
        for key in table.foreign_key_constraints
        for element in key.elements
        if element.column.name == "number" and _numbered(element.column.table)
    }
    if _numbered(table):
        names.add("number")
    return [column.name for column in table.c if column.name in names or column.name == "subject"]


def _leave_place(table: Table, rows: Sequence[dict[str, Any]]) -> None:
    """Empty what names channels and roles of another chat server, also who may vote by a role."""
    for row in rows:
        for name in OF_THE_PLACE.get(table.name, ()):
            row[name] = None
        policy = row.get("policy")
        if table.name in OF_THE_PLACE and isinstance(policy, dict) and policy.get("role") is not None:
            row["policy"] = None
