"""Everything of a server as plain rows, whatever tables there are."""

from typing import Any, Final

from sqlalchemy import select

from engine.store.link import Link
from engine.store.models import Base, BuildRow, Revision

# What belongs to single members, or only to the running bot.
_LEFT_OUT: Final = frozenset({"servers", "drafts", "cards"})


class ArchiveRows:
    """The rows of a server for its archive."""

    def __init__(self, link: Link) -> None:
        self._link = link

    async def rows(self, server: int) -> tuple[dict[str, list[dict[str, Any]]], int]:
        """Return table -> rows by column, and how many private drafts of builds were left out with their rows."""
        session = self._link.session
        private = set(
            await session.scalars(select(BuildRow.number).where(BuildRow.server == server, BuildRow.shared.is_(False)))
        )
        found: dict[str, list[dict[str, Any]]] = {}
        for table in Base.metadata.sorted_tables:
            if table.name in _LEFT_OUT or "server" not in table.c:
                continue
            rows = await session.execute(
                select(table).where(table.c.server == server).order_by(*table.primary_key.columns)
            )
            found[table.name] = [dict(row._mapping) for row in rows if not _private(table.name, row._mapping, private)]
        return found, len(private)

    async def documents(self, server: int) -> list[Revision]:
        """Return every revision of the server's shared builds."""
        found = await self._link.session.scalars(
            select(Revision)
            .join(BuildRow, (BuildRow.server == Revision.server) & (BuildRow.number == Revision.build))
            .where(Revision.server == server, BuildRow.shared.is_(True))
            .order_by(Revision.build, Revision.number)
        )
        return list(found)


def _private(table: str, row: Any, numbers: set[int]) -> bool:
    """Tell whether a row belongs to a build that its author has not shared."""
    if table == "builds":
        return row["number"] in numbers
    return any(name in row and row[name] in numbers for name in ("build", "subject", "serves"))
