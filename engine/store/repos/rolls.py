"""Witnessed rolls: added and read; only which build a score roll serves is ever changed."""

from collections.abc import Collection

from sqlalchemy import select

from engine.store.link import Link
from engine.store.models import RollRow


class Rolls:
    """The rolls of a server."""

    def __init__(self, link: Link) -> None:
        self._link = link

    async def add(self, roll: RollRow) -> None:
        """Store a roll."""
        self._link.session.add(roll)
        await self._link.session.flush()

    async def get(self, server: int, number: int, *, for_update: bool = False) -> RollRow | None:
        """Return a roll by its number."""
        wanted = select(RollRow).where(RollRow.server == server, RollRow.number == number)
        if for_update:
            wanted = wanted.with_for_update()
        return (await self._link.session.scalars(wanted)).one_or_none()

    async def numbered(self, server: int, numbers: Collection[int]) -> list[RollRow]:
        """Return the rolls with these numbers that there are."""
        found = await self._link.session.scalars(
            select(RollRow).where(RollRow.server == server, RollRow.number.in_(numbers)).order_by(RollRow.number)
        )
        return list(found)

    async def earlier(self, roll: RollRow) -> list[int]:
        """Return the numbers of earlier rolls by the same member for the same purpose, or level of a build."""
        wanted = select(RollRow.number).where(
            RollRow.server == roll.server, RollRow.kind == roll.kind, RollRow.number < roll.number
        )
        if roll.kind == "hp":
            wanted = wanted.where(RollRow.build == roll.build, RollRow.level == roll.level)
        else:
            wanted = wanted.where(RollRow.member == roll.member, RollRow.purpose_key == roll.purpose_key)
        return list(await self._link.session.scalars(wanted.order_by(RollRow.number)))

    async def page(self, server: int, *, member: int | None, limit: int, offset: int) -> list[RollRow]:
        """Return rolls, newest first, of one member or of all."""
        wanted = select(RollRow).where(RollRow.server == server)
        if member is not None:
            wanted = wanted.where(RollRow.member == member)
        found = await self._link.session.scalars(wanted.order_by(RollRow.number.desc()).limit(limit).offset(offset))
        return list(found)
