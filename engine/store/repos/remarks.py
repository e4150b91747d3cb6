"""Remarks on builds and proposals."""

from collections.abc import Collection

from sqlalchemy import func, select

from engine.store.link import Link
from engine.store.models import Remark


class Remarks:
    """The remarks of a server."""

    def __init__(self, link: Link) -> None:
        self._link = link

    async def add(self, remark: Remark) -> int:
        """Store a remark and return its id."""
        self._link.session.add(remark)
        await self._link.session.flush()
        return remark.id

    async def get(self, server: int, id_: int, *, for_update: bool = False) -> Remark | None:
        """Return a remark, removed ones too."""
        statement = select(Remark).where(Remark.server == server, Remark.id == id_)
        if for_update:
            statement = statement.with_for_update().execution_options(populate_existing=True)
        return (await self._link.session.scalars(statement)).one_or_none()

    async def of(self, server: int, subjects: Collection[int], *, limit: int, offset: int = 0) -> list[Remark]:
        """Return the remarks on some subjects, newest first, without those taken away."""
        found = await self._link.session.scalars(
            select(Remark)
            .where(Remark.server == server, Remark.subject.in_(subjects), Remark.removed.is_(None))
            .order_by(Remark.id.desc())
            .limit(limit)
            .offset(offset)
        )
        return list(found)

    async def counts(self, server: int, subjects: Collection[int]) -> dict[int, int]:
        """Return how many remarks each of the subjects has."""
        found = await self._link.session.execute(
            select(Remark.subject, func.count())
            .where(Remark.server == server, Remark.subject.in_(subjects), Remark.removed.is_(None))
            .group_by(Remark.subject)
        )
        return dict.fromkeys(subjects, 0) | {row[0]: row[1] for row in found}
