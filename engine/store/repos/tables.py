"""Tables and who sits at them."""

from collections.abc import Collection
from datetime import datetime

from sqlalchemy import ColumnElement, delete, or_, select

from engine.review.approval import Stage
from engine.store.link import Link
from engine.store.models import ProposalRow, Seat, SubmissionRow, TableRow


class Tables:
    """The tables of a server."""

    def __init__(self, link: Link) -> None:
        self._link = link

    async def get(self, server: int, number: int, *, for_update: bool = False) -> TableRow | None:
        """Return a table, closed ones too. for_update: hold it against other writers."""
        return await self._one(TableRow.number == number, server, for_update)

    async def by_key(self, server: int, key: str, *, for_update: bool = False) -> TableRow | None:
        """Return the table that has a folded name; closed ones have none."""
        return await self._one(TableRow.name_key == key, server, for_update)

    async def _one(self, which: ColumnElement[bool], server: int, for_update: bool) -> TableRow | None:
        statement = select(TableRow).where(TableRow.server == server, which)
        if for_update:
            # What another writer saved while we waited must be seen, not what this session read before.
            statement = statement.with_for_update().execution_options(populate_existing=True)
        return (await self._link.session.scalars(statement)).one_or_none()

    async def add(self, table: TableRow) -> None:
        """Store a new table."""
        self._link.session.add(table)
        await self._link.session.flush()

    async def all(self, server: int) -> list[TableRow]:
        """Return the tables of a server that are not closed, by name."""
        found = await self._link.session.scalars(
            select(TableRow)
            .where(TableRow.server == server, TableRow.name_key.is_not(None))
            .order_by(TableRow.name_key)
        )
        return list(found)

    async def of_member(self, server: int, member: int, roles: Collection[int] = ()) -> list[TableRow]:
        """Return the open tables at which a member sits, by name or by one of these chat roles, by number."""
        seated = select(Seat.at_table).where(Seat.server == server, Seat.member == member)
        found = await self._link.session.scalars(
            select(TableRow)
            .where(
                TableRow.server == server,
                TableRow.name_key.is_not(None),
                or_(TableRow.number.in_(seated), TableRow.role.in_(roles)),
            )
            .order_by(TableRow.number)
        )
        return list(found)

    async def seats(self, server: int, table: int) -> list[Seat]:
        """Return who sits at a table by name, GMs first, then by time."""
        found = await self._link.session.scalars(
            select(Seat)
            .where(Seat.server == server, Seat.at_table == table)
            .order_by(Seat.gm.desc(), Seat.at, Seat.member)
        )
        return list(found)

    async def seat(self, server: int, table: int, member: int) -> Seat | None:
        """Return the seat of a member at a table."""
        return await self._link.session.get(Seat, (server, table, member))

    async def gms(self, server: int, table: int) -> frozenset[int]:
        """Return the GMs of a table."""
        found = await self._link.session.scalars(
            select(Seat.member).where(Seat.server == server, Seat.at_table == table, Seat.gm.is_(True))
        )
        return frozenset(found)

    async def of_build(self, server: int, build: int) -> TableRow | None:
        """Return the table that a build is submitted to; None if to none, or if that one is closed."""
        return await self._submitted_to(server, SubmissionRow.build == build)

    async def of_proposal(self, server: int, proposal: int) -> TableRow | None:
        """Return the table of the build that a proposal is for."""
        build = select(ProposalRow.build).where(ProposalRow.server == server, ProposalRow.number == proposal)
        return await self._submitted_to(server, SubmissionRow.build == build.scalar_subquery())

    async def _submitted_to(self, server: int, which: ColumnElement[bool]) -> TableRow | None:
        return (
            await self._link.session.scalars(
                select(TableRow)
                .join(
                    SubmissionRow,
                    (SubmissionRow.server == TableRow.server) & (SubmissionRow.at_table == TableRow.number),
                )
                .where(
                    SubmissionRow.server == server,
                    which,
                    SubmissionRow.stage != Stage.WITHDRAWN.value,
                    TableRow.name_key.is_not(None),
                )
            )
        ).one_or_none()

    async def sit(self, server: int, table: int, member: int, *, gm: bool, at: datetime) -> None:
        """Give a member a seat, or change the one they have."""
        held = await self.seat(server, table, member)
        if held is None:
            self._link.session.add(Seat(server=server, at_table=table, member=member, gm=gm, at=at))
        else:
            held.gm = gm
        await self._link.session.flush()

    async def stand_up(self, server: int, table: int, member: int) -> None:
        """Take a member's seat away."""
        await self._link.session.execute(
            delete(Seat).where(Seat.server == server, Seat.at_table == table, Seat.member == member)
        )
