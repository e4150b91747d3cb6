"""Votes. Storing one is what a click waits on, so its reads travel in one trip and its writes in another."""

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import BigInteger, Integer, bindparam, delete, func, select

from engine.review.events import VoteCast, read_policy
from engine.review.machine import Proposal, State
from engine.review.policy import DEFAULT_POLICY, Choice, Tally
from engine.store.link import Link
from engine.store.models import BuildRow, Card, ProposalRow, Vote
from engine.store.prepared import Read, Write
from engine.store.repos.people import known_member

_SERVER: Final = bindparam("server", type_=BigInteger())
_NUMBER: Final = bindparam("number", type_=Integer())
_PROPOSAL: Final = Read(
    select(
        ProposalRow.title,
        ProposalRow.proposer,
        BuildRow.author,
        ProposalRow.base,
        ProposalRow.created,
        ProposalRow.since,
        ProposalRow.policy,
        ProposalRow.state,
        ProposalRow.deadline,
        ProposalRow.closed,
        ProposalRow.closed_by,
        ProposalRow.close_reason,
        ProposalRow.adopted_as,
        ProposalRow.clashes,
    )
    .join(BuildRow, (BuildRow.server == ProposalRow.server) & (BuildRow.number == ProposalRow.build))
    .where(ProposalRow.server == _SERVER, ProposalRow.number == _NUMBER)
    # Two deciders, or a vote and a decision, meet here; SQLite has one writer anyway and ignores this.
    .with_for_update(of=ProposalRow)
)
_VOTES: Final = Read(select(Vote.member, Vote.choice).where(Vote.server == _SERVER, Vote.proposal == _NUMBER))
_CARDS: Final = Read(
    select(Card.subject, Card.channel, Card.message, Card.thread, Card.stale).where(
        Card.server == _SERVER, Card.subject == _NUMBER
    )
)
_CAST: Final = Write(
    lambda insert: _upsert(insert(Vote)),
    "server", "proposal", "member", "choice", "at",
)  # fmt: skip


def _upsert(statement: Any) -> Any:
    return statement.on_conflict_do_update(
        index_elements=[Vote.server, Vote.proposal, Vote.member],
        set_={"choice": statement.excluded.choice, "at": statement.excluded.at},
    )


@dataclass(frozen=True, slots=True)
class Ballot:
    """A proposal as a voter finds it. cards: (subject, channel, message, thread, stale) of each of its cards."""

    title: str
    proposal: Proposal
    cards: tuple[tuple[int, int, int, int | None, bool], ...]


class Votes:
    """The votes of a server."""

    def __init__(self, link: Link) -> None:
        self._link = link

    async def ballot(self, server: int, number: int) -> Ballot | None:
        """Return a proposal with its votes, held against other writers; None if the server has no such proposal."""
        rows, votes, cards = await self._link.run(
            *(read(server=server, number=number) for read in (_PROPOSAL, _VOTES, _CARDS))
        )
        if not rows:
            return None
        (title, proposer, author, base, created, since, policy, state, deadline, *rest) = rows[0]
        closed, closed_by, close_reason, adopted_as, clashes = rest
        proposal = Proposal(
            proposer=proposer,
            author=author,
            base=base,
            opened=created,
            since=since,
            policy=DEFAULT_POLICY if policy is None else read_policy(policy),
            state=State(state),
            deadline=deadline,
            votes={member: Choice(choice) for member, choice in votes},
            closed=closed,
            closed_by=closed_by,
            close_reason=close_reason,
            adopted_as=adopted_as,
            clashes=tuple(clashes or ()),
        )
        return Ballot(title, proposal, tuple((*card[:4], bool(card[4])) for card in cards))

    def cast(self, server: int, number: int, event: VoteCast) -> None:
        """Store the vote of an event at the commit, in place of the member's earlier one."""
        assert event.actor is not None
        self._link.later(known_member(server, event.actor))
        self._link.later(
            _CAST(server=server, proposal=number, member=event.actor, choice=event.choice.value, at=event.at)
        )

    async def of(self, server: int, number: int) -> dict[int, Choice]:
        """Return member -> choice of a proposal's votes, in the order in which they were given."""
        found = await self._link.session.execute(
            select(Vote.member, Vote.choice)
            .where(Vote.server == server, Vote.proposal == number)
            .order_by(Vote.at, Vote.member)
        )
        return {member: Choice(choice) for member, choice in found}

    async def clear(self, server: int, number: int) -> None:
        """Drop all votes of a proposal; the history keeps that they were given."""
        await self._link.session.execute(delete(Vote).where(Vote.server == server, Vote.proposal == number))

    async def tallies(self, server: int, numbers: Collection[int]) -> dict[int, Tally]:
        """Return the tally of each of some proposals."""
        counted: dict[int, dict[str, int]] = {number: {} for number in numbers}
        found = await self._link.session.execute(
            select(Vote.proposal, Vote.choice, func.count())
            .where(Vote.server == server, Vote.proposal.in_(numbers))
            .group_by(Vote.proposal, Vote.choice)
        )
        for number, choice, count in found:
            counted[number][choice] = count
        return {n: Tally(c.get("for", 0), c.get("against", 0), c.get("abstain", 0)) for n, c in counted.items()}
