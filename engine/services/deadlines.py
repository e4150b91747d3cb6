"""What time does to proposals: reminders before a deadline, and the close at it."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from engine.problem import Refused
from engine.review import machine
from engine.review.events import ProposalAdopted
from engine.review.machine import State
from engine.services.find import find_proposal
from engine.services.proposal_views import gather, proposal_view, told_by
from engine.services.proposals import adopted_view, carry_out
from engine.services.standing import notice
from engine.services.views import Notice, NoticeKind, ProposalView
from engine.store.repos.proposals import read_state, write_state
from engine.store.uow import UnitOfWork

# A press counts by the time it was made, so presses on their way get this long to arrive.
CLOSING_WAIT: Final = timedelta(seconds=3)
_AT_ONCE: Final = 100
_KINDS: Final[dict[State, NoticeKind]] = {State.DECLINED: "declined", State.LAPSED: "lapsed"}
# The bot asks for what time does; it is no member.
_NOBODY: Final = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class CloseProposal:
    """Close a proposal whose deadline has come."""

    server: int
    proposal: int
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class RemindMembers:
    """Remind of a proposal's deadline, once."""

    server: int
    proposal: int
    at: datetime


@dataclass(frozen=True, slots=True)
class Due:
    """What has come over all servers, as (server, proposal), and when the next thing comes, None if nothing waits."""

    close: tuple[tuple[int, int], ...]
    remind: tuple[tuple[int, int], ...]
    next: datetime | None


async def due_work(at: datetime, uow: UnitOfWork) -> Due:
    """Return what time has to do by now. The one question over all servers; only the bot's own task asks it.

    At most a hundred of each; `next` is then in the past, so that the task comes back at once.
    """
    async with uow.reading():
        close = await uow.proposals.to_close(at - CLOSING_WAIT, limit=_AT_ONCE)
        remind = await uow.proposals.to_remind(at, limit=_AT_ONCE)
        reminder, deadline = await uow.proposals.earliest()
    coming = [] if reminder is None else [reminder]
    if deadline is not None:
        coming.append(deadline + CLOSING_WAIT)
    return Due(tuple(close), tuple(remind), min(coming, default=None))


async def close_proposal(cmd: CloseProposal, uow: UnitOfWork) -> ProposalView | Refused:
    """Close a proposal at its deadline: adopted or declined where the vote decides, else lapsed.

    A vote that is won but cannot be carried out (its name was taken meanwhile) is declined with that reason.
    Returns: the proposal with notices; or Refused: as `find_proposal` and `machine.close_due`.
    """
    won = None
    async with uow:
        found = await find_proposal(uow, cmd.server, _NOBODY, cmd.proposal, for_update=True)
        if isinstance(found, Refused):
            return found
        each, row = found
        state = read_state(each, row.author, await uow.votes.of(cmd.server, each.number))
        outcome = machine.close_due(state, revision=row.revision + 1, at=cmd.at)
        if isinstance(outcome, Refused):
            return outcome
        if isinstance(outcome[1], ProposalAdopted):
            won = await carry_out(uow, each, row, outcome, actor=None, at=cmd.at)
            if not isinstance(won, Refused):
                await uow.commit()
        else:
            view = await _ended(cmd, uow, outcome)
    if won is None:
        return view
    if not isinstance(won, Refused):
        return await adopted_view(won)
    async with uow:
        found = await find_proposal(uow, cmd.server, _NOBODY, cmd.proposal, for_update=True)
        if isinstance(found, Refused):
            return found
        each, row = found
        state = read_state(each, row.author, await uow.votes.of(cmd.server, each.number))
        outcome = machine.decline(state, None, at=cmd.at, reason=won.sentence)
        return outcome if isinstance(outcome, Refused) else await _ended(cmd, uow, outcome)


async def _ended(cmd: CloseProposal, uow: UnitOfWork, outcome: machine.Outcome) -> ProposalView:
    """Store an end that changes no build, inside a transaction that is committed here."""
    found = await find_proposal(uow, cmd.server, _NOBODY, cmd.proposal, for_update=True)
    assert not isinstance(found, Refused)  # the caller holds it
    each, row = found
    state, event = outcome
    write_state(each, state)
    uow.history.append_event(cmd.server, each.number, event)
    gathered = await gather(uow, each, row, _NOBODY)
    concerned = [each.proposer, row.author, *gathered.view.coauthors]
    notices = await notice(uow, cmd.server, each.number, each.title, _KINDS[state.state], concerned, None)
    await uow.commit()
    return await proposal_view(replace(gathered, state=state), told=told_by(notices), notices=notices)


async def remind_members(cmd: RemindMembers, uow: UnitOfWork) -> tuple[Notice, ...] | Refused:
    """Note that a proposal's reminder is given; it is given once.

    Returns: the notice for those who decide, for its author and its proposer; Refused: as `find_proposal`,
        "not-due".
    """
    async with uow:
        found = await find_proposal(uow, cmd.server, _NOBODY, cmd.proposal, for_update=True)
        if isinstance(found, Refused):
            return found
        each, row = found
        if each.state != State.OPEN.value or each.remind is None or each.remind > cmd.at:
            return Refused("not-due", f"Nobody has to be reminded of proposal #{each.number} now.")
        each.remind = None
        coauthors = await uow.builds.coauthors(cmd.server, row.number)
        notices = await notice(
            uow, cmd.server, each.number, each.title, "reminded", [each.proposer, row.author, *coauthors], None
        )
        await uow.commit()
    return notices
