"""Votes on proposals."""

from dataclasses import dataclass
from datetime import datetime

from engine.problem import Refused
from engine.review import machine
from engine.review.policy import Choice, Voters
from engine.services.seating import roles_at
from engine.services.views import CardPlace, VoteResult
from engine.store.uow import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class CastVote:
    """Vote on an open proposal, or change one's vote. at: when the member pressed; roles: chat roles held then."""

    server: int
    member: int
    proposal: int
    choice: Choice
    at: datetime
    roles: frozenset[int] = frozenset()


async def cast_vote(cmd: CastVote, uow: UnitOfWork) -> VoteResult | Refused:
    """Record or change one member's vote on an open proposal.

    Vote and history row are saved in one transaction, or neither is. Only proposals on shared builds are ever open, so
    whoever can press can see.
    Returns: the vote and the tally with it, after the commit; or Refused with "no-such-proposal" or a code of
        `machine.cast`.
    """
    async with uow:
        ballot = await uow.votes.ballot(cmd.server, cmd.proposal)
        if ballot is None:
            return Refused("no-such-proposal", f"There is no proposal #{cmd.proposal} on this server.")
        seated = ballot.proposal.policy.voters is Voters.TABLE and await _seated(cmd, uow)
        outcome = machine.cast(ballot.proposal, cmd.member, cmd.choice, at=cmd.at, roles=cmd.roles, seated=seated)
        if isinstance(outcome, Refused):
            return outcome
        proposal, event = outcome
        uow.votes.cast(cmd.server, cmd.proposal, event)
        uow.history.append_event(cmd.server, cmd.proposal, event)
        await uow.commit()
    return VoteResult(
        proposal=cmd.proposal,
        title=ballot.title,
        choice=cmd.choice,
        before=ballot.proposal.votes.get(cmd.member),
        tally=proposal.tally,
        policy=proposal.policy,
        deadline=proposal.deadline,
        cards=tuple(CardPlace(*card) for card in ballot.cards),
    )


async def _seated(cmd: CastVote, uow: UnitOfWork) -> bool:
    """Tell whether the voter sits at the table of the build that the proposal is for."""
    table = await uow.tables.of_proposal(cmd.server, cmd.proposal)
    return table is not None and bool(await roles_at(uow, table, cmd.member, roles=cmd.roles))
