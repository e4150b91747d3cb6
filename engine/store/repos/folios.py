"""Folios of a server."""

from collections.abc import Collection
from datetime import datetime
from typing import Any

from sqlalchemy import Select, Text, and_, delete, func, or_, select, update

from engine.store.link import Link
from engine.store.models import BuildRow, EditRow, FolioRow, Revision, TableFolio, TableRow


class Folios:
    """The folios of a server, in all their versions."""

    def __init__(self, link: Link) -> None:
        self._link = link

    async def _rows(self, statement: Select[FolioRow]) -> list[FolioRow]:
        # What was changed by a statement must be seen, not what this session read before.
        return list(await self._link.session.scalars(statement.execution_options(populate_existing=True)))

    async def _change(self, server: int, id_: str, **values: Any) -> None:
        """Change every version of a folio."""
        await self._link.session.execute(
            update(FolioRow)
            .where(FolioRow.server == server, FolioRow.id == id_)
            .values(**values)
            .execution_options(synchronize_session=False)
        )

    async def here(self, server: int) -> list[FolioRow]:
        """Return the version in use of every folio that is not removed, by id."""
        return await self._rows(
            select(FolioRow)
            .where(FolioRow.server == server, FolioRow.current.is_(True), FolioRow.removed.is_(None))
            .order_by(FolioRow.id)
        )

    async def versions(self, server: int, id_: str) -> list[FolioRow]:
        """Return every version of a folio, removed ones too, newest first."""
        return await self._rows(
            select(FolioRow)
            .where(FolioRow.server == server, FolioRow.id == id_)
            .order_by(FolioRow.at.desc(), FolioRow.version.desc())
        )

    async def all_of(self, server: int, ids: Collection[str]) -> list[FolioRow]:
        """Return every version of some folios that are not removed."""
        if not ids:
            return []
        return await self._rows(
            select(FolioRow).where(FolioRow.server == server, FolioRow.removed.is_(None), FolioRow.id.in_(ids))
        )

    async def gone(self, server: int) -> list[FolioRow]:
        """Return the version last in use of every folio that is removed, by id."""
        return await self._rows(
            select(FolioRow)
            .where(FolioRow.server == server, FolioRow.current.is_(True), FolioRow.removed.is_not(None))
            .order_by(FolioRow.id)
        )

    async def data(self, row: FolioRow) -> bytes:
        """Return the bytes of a version as they came."""
        found = await self._link.session.scalar(
            select(FolioRow.data).where(
                FolioRow.server == row.server, FolioRow.id == row.id, FolioRow.version == row.version
            )
        )
        assert found is not None  # the row was read in this transaction
        return found

    async def weight(self, server: int) -> tuple[int, int]:
        """Return how many versions a server keeps, and how many bytes they have in all."""
        found = await self._link.session.execute(
            select(func.count(), func.coalesce(func.sum(FolioRow.size), 0)).where(FolioRow.server == server)
        )
        count, size = found.one()
        return int(count), int(size)

    async def unused(self, server: int) -> list[FolioRow]:
        """Return the versions that nothing needs, oldest first.

        That is: of folios that are removed, or followed by another version, and named by no revision of any build and
        by no proposal.
        """
        built = select(Revision.number).where(
            Revision.server == FolioRow.server, Revision.document.contains(FolioRow.hash)
        )
        proposed = select(EditRow.place).where(
            EditRow.server == FolioRow.server, EditRow.after.cast(Text).contains(FolioRow.hash)
        )
        return await self._rows(
            select(FolioRow)
            .where(
                FolioRow.server == server,
                or_(FolioRow.removed.is_not(None), FolioRow.current.is_(False)),
                ~built.exists(),
                ~proposed.exists(),
            )
            .order_by(FolioRow.at, FolioRow.id, FolioRow.version)
        )

    async def drop(self, row: FolioRow) -> None:
        """Delete a version for good."""
        await self._link.session.execute(
            delete(FolioRow)
            .where(FolioRow.server == row.server, FolioRow.id == row.id, FolioRow.version == row.version)
            .execution_options(synchronize_session=False)
        )

    async def add(self, row: FolioRow) -> None:
        """Store a new version."""
        self._link.session.add(row)
        await self._link.session.flush()

    async def put_in_use(self, server: int, id_: str, version: str) -> None:
        """Make a version the one in use, and all others of the folio not."""
        await self._change(server, id_, current=FolioRow.version == version)

    async def switch(self, server: int, id_: str, everywhere: bool) -> None:
        """Note whether a folio is on for the whole server."""
        await self._change(server, id_, everywhere=everywhere)

    async def remove(self, server: int, id_: str, at: datetime | None) -> None:
        """Note since when a folio is gone in all its versions; None: it is back. Where it was on stays noted."""
        await self._change(server, id_, removed=at)

    async def at_tables(self, server: int, tables: Collection[int] | None = None) -> list[TableFolio]:
        """Return what is on at tables that are not closed. tables: numbers; None for all."""
        statement = (
            select(TableFolio)
            .join(TableRow, (TableRow.server == TableFolio.server) & (TableRow.number == TableFolio.at_table))
            .where(TableFolio.server == server, TableRow.name_key.is_not(None))
        )
        if tables is not None:
            statement = statement.where(TableFolio.at_table.in_(tables))
        return list(await self._link.session.scalars(statement.order_by(TableFolio.at_table, TableFolio.folio)))

    async def put_on_table(self, row: TableFolio) -> None:
        """Switch a folio on for a table."""
        if await self._link.session.get(TableFolio, (row.server, row.at_table, row.folio)) is None:
            self._link.session.add(row)
            await self._link.session.flush()

    async def take_off_table(self, server: int, table: int, id_: str) -> None:
        """Switch a folio off for a table."""
        await self._link.session.execute(
            delete(TableFolio).where(TableFolio.server == server, TableFolio.at_table == table, TableFolio.folio == id_)
        )

    async def builds_with(self, server: int, id_: str, limit: int) -> list[tuple[BuildRow, Revision]]:
        """Return builds in use whose newest revision names a folio, each with that revision, by number."""
        found = await self._link.session.execute(
            select(BuildRow, Revision)
            .join(
                Revision,
                and_(
                    Revision.server == BuildRow.server,
                    Revision.build == BuildRow.number,
                    Revision.number == BuildRow.revision,
                ),
            )
            # Canonical JSON writes the id in one way only; whoever reads the document looks once more.
            .where(
                BuildRow.server == server,
                BuildRow.removed.is_(False),
                Revision.document.contains(f'"id":"{id_}"', autoescape=True),
                Revision.document.contains('"folios":[', autoescape=True),
            )
            .order_by(BuildRow.number)
            .limit(limit)
        )
        return [(row, revision) for row, revision in found]
