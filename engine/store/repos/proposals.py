"""Proposals and their edits."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, delete, func, select

from engine.review.events import policy_data, read_policy
from engine.review.machine import Proposal, State, remind_at
from engine.review.policy import DEFAULT_POLICY, Choice
from engine.store.link import Link
from engine.store.models import BuildRow, EditRow, ProposalRow
from engine.store.repos.builds import seen_by


class Proposals:
    """The proposals of a server."""

    def __init__(self, link: Link) -> None:
        self._link = link

    async def get(self, server: int, number: int, *, for_update: bool = False) -> ProposalRow | None:
        """Return a proposal. for_update: hold it against other writers."""
        statement = select(ProposalRow).where(ProposalRow.server == server, ProposalRow.number == number)
        if for_update:
            statement = statement.with_for_update().execution_options(populate_existing=True)
        return (await self._link.session.scalars(statement)).one_or_none()

    async def add(self, row: ProposalRow, edits: Sequence[tuple[str, Any, Any]]) -> None:
        """Store a new proposal with its edits: (path, before, after)."""
        self._link.session.add(row)
        await self._link.session.flush()
        await self.set_edits(row.server, row.number, edits)

    async def set_edits(self, server: int, number: int, edits: Sequence[tuple[str, Any, Any]]) -> None:
        """Store the edits of a proposal in place of those it had."""
        session = self._link.session
        await session.execute(delete(EditRow).where(EditRow.server == server, EditRow.proposal == number))
        session.add_all(
            EditRow(server=server, proposal=number, place=place, path=path, before=before, after=after)
            for place, (path, before, after) in enumerate(edits)
        )
        await session.flush()

    async def edits(self, server: int, number: int) -> list[tuple[str, Any, Any]]:
        """Return the edits of a proposal in order: (path, before, after), None where nothing stands."""
        found = await self._link.session.execute(
            select(EditRow.path, EditRow.before, EditRow.after)
            .where(EditRow.server == server, EditRow.proposal == number)
            .order_by(EditRow.place)
        )
        return [(path, before, after) for path, before, after in found]

    async def of_build(
        self, server: int, build: int, states: Sequence[State], *, for_update: bool = False
    ) -> list[ProposalRow]:
        """Return the proposals to a build that stand in one of the states, oldest first."""
        statement = (
            select(ProposalRow)
            .where(
                ProposalRow.server == server,
                ProposalRow.build == build,
                ProposalRow.state.in_([state.value for state in states]),
            )
            .order_by(ProposalRow.number)
        )
        if for_update:
            statement = statement.with_for_update().execution_options(populate_existing=True)
        return list(await self._link.session.scalars(statement))

    async def count_open(self, server: int, build: int) -> int:
        """Return how many open proposals a build has."""
        found = await self._link.session.scalar(
            select(func.count())
            .select_from(ProposalRow)
            .where(ProposalRow.server == server, ProposalRow.build == build, ProposalRow.state == State.OPEN.value)
        )
        return found or 0

    async def page(
        self,
        server: int,
        member: int,
        *,
        build: int | None,
        proposer: int | None,
        state: State | None,
        limit: int,
        offset: int,
    ) -> list[tuple[ProposalRow, str]]:
        """Return proposals with their builds' names, on builds that the member may see, newest first."""
        conditions: list[ColumnElement[bool]] = []
        order: ColumnElement[int] = ProposalRow.number.desc()
        if build is not None:
            conditions.append(ProposalRow.build == build)
            # Few proposals to sort: else SQLite would read all of the server in the order of their numbers.
            order = (ProposalRow.number + 0).desc()
        if proposer is not None:
            conditions.append(ProposalRow.proposer == proposer)
        if state is not None:
            conditions.append(ProposalRow.state == state.value)
        found = await self._link.session.execute(
            _with_build(server, member).where(*conditions).order_by(order).limit(limit).offset(offset)
        )
        return [(row, name) for row, name in found]

    async def suggest(self, server: int, member: int, *, limit: int) -> list[tuple[int, str, str, str]]:
        """Return (number, title, build name, state) of the newest proposals that can be seen, open ones first."""
        wanted = (
            _with_build(server, member)
            .with_only_columns(ProposalRow.number, ProposalRow.title, BuildRow.name, ProposalRow.state)
            .order_by(ProposalRow.number.desc())
        )
        # Two questions, each answered from an index, instead of one that would sort every proposal of the server.
        rows = list(await self._link.session.execute(wanted.where(ProposalRow.state == State.OPEN.value).limit(limit)))
        if len(rows) < limit:
            rows += await self._link.session.execute(
                wanted.where(ProposalRow.state != State.OPEN.value).limit(limit - len(rows))
            )
        return [(number, title, name, state) for number, title, name, state in rows]

    async def to_close(self, at: datetime, *, limit: int) -> list[tuple[int, int]]:
        """Return (server, number) of open proposals whose deadline came by then, over all servers, earliest first."""
        return await self._come(ProposalRow.deadline, at, limit)

    async def to_remind(self, at: datetime, *, limit: int) -> list[tuple[int, int]]:
        """Return (server, number) of open proposals whose reminder came by then, over all servers, earliest first."""
        return await self._come(ProposalRow.remind, at, limit)

    async def _come(self, column: Any, at: datetime, limit: int) -> list[tuple[int, int]]:
        found = await self._link.session.execute(
            select(ProposalRow.server, ProposalRow.number)
            .where(ProposalRow.state == State.OPEN.value, column <= at)
            .order_by(column)
            .limit(limit)
        )
        return [(server, number) for server, number in found]

    async def earliest(self) -> tuple[datetime | None, datetime | None]:
        """Return the earliest reminder and the earliest deadline of open proposals, over all servers."""
        return await self._first(ProposalRow.remind), await self._first(ProposalRow.deadline)

    async def _first(self, column: Any) -> datetime | None:
        statement = select(func.min(column)).where(ProposalRow.state == State.OPEN.value, column.is_not(None))
        found: datetime | None = await self._link.session.scalar(statement)
        return found


def _with_build(server: int, member: int) -> Any:
    return (
        select(ProposalRow, BuildRow.name)
        .join(BuildRow, (BuildRow.server == ProposalRow.server) & (BuildRow.number == ProposalRow.build))
        .where(
            ProposalRow.server == server,
            BuildRow.removed.is_(False),
            seen_by(member),
        )
    )


def read_state(row: ProposalRow, author: int, votes: dict[int, Choice]) -> Proposal:
    """Return what the review machine knows of a stored proposal. author: of its build."""
    return Proposal(
        proposer=row.proposer,
        author=author,
        base=row.base,
        opened=row.created,
        since=row.since,
        policy=DEFAULT_POLICY if row.policy is None else read_policy(row.policy),
        state=State(row.state),
        deadline=row.deadline,
        votes=votes,
        closed=row.closed,
        closed_by=row.closed_by,
        close_reason=row.close_reason,
        adopted_as=row.adopted_as,
        clashes=tuple(row.clashes or ()),
    )


def write_state(row: ProposalRow, proposal: Proposal) -> None:
    """Set a row to what the review machine says; votes are stored by themselves."""
    if row.deadline != proposal.deadline:
        row.remind = remind_at(proposal)
    if proposal.state is not State.OPEN:
        row.remind = None
    row.base = proposal.base
    row.since = proposal.since
    row.state = proposal.state.value
    row.policy = policy_data(proposal.policy) or None
    row.deadline = proposal.deadline
    row.closed = proposal.closed
    row.closed_by = proposal.closed_by
    row.close_reason = proposal.close_reason
    row.adopted_as = proposal.adopted_as
    row.clashes = list(proposal.clashes) or None
