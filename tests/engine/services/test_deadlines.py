"""What time does to proposals: reminders, closes, late presses, and who is told, on both databases."""

from datetime import timedelta
from typing import Any

import pytest

from engine.review import machine
from engine.review.machine import State
from engine.review.policy import Choice, Decider
from engine.services.builds import GetBuild, ShareBuild, get_build, share_build
from engine.services.deadlines import (
    CLOSING_WAIT,
    CloseProposal,
    RemindMembers,
    close_proposal,
    due_work,
    remind_members,
)
from engine.services.members import SetNotices, set_notices
from engine.services.proposals import AdoptProposal, adopt_proposal
from engine.services.votes import CastVote, cast_vote
from engine.store.database import Database
from tests.engine.services.world import (
    AUTHOR,
    ELSEWHERE,
    HERE,
    PROPOSER,
    READER,
    REED,
    at,
    decide_by,
    load,
    ok,
    propose,
    refused,
    share,
)

HOUR = timedelta(hours=1)


async def timed(database: Database, **policy: Any) -> tuple[int, int]:
    """Return a shared build and a proposal to it that is open for an hour."""
    build = (await load(database, REED)).number
    await share(database, build)
    await decide_by(database, window=HOUR, **policy)
    return build, (await propose(database, build, 4, "4 Rogue: +2 Dex")).number


async def vote(database: Database, proposal: int, member: int, choice: Choice, minutes: float) -> Any:
    command = CastVote(server=HERE, member=member, proposal=proposal, choice=choice, at=at(minutes))
    return await database.call(cast_vote, command)


async def close(database: Database, proposal: int, minutes: float = 60) -> Any:
    return await database.call(close_proposal, CloseProposal(server=HERE, proposal=proposal, at=at(minutes)))


async def test_a_vote_that_is_won_makes_a_revision_in_the_proposers_name(database: Database) -> None:
    """Nobody decided, so the history names no actor; the revision is the proposer's words."""
    build, number = await timed(database, decider=Decider.VOTE, quorum=2)
    ok(await vote(database, number, READER, Choice.FOR, 1))
    ok(await vote(database, number, PROPOSER, Choice.FOR, 59.9))
    refused(await close(database, number, 59.9), "deadline-not-reached")
    closed = ok(await close(database, number))
    assert (closed.state, closed.closed_by, closed.adopted_as) == (State.ADOPTED, None, 2)
    assert closed.told == (AUTHOR, PROPOSER)
    view = ok(await database.call(get_build, GetBuild(server=HERE, member=READER, build=build)))
    assert (view.revision.number, view.revision.author, view.revision.proposal) == (2, PROPOSER, number)
    assert view.build == closed.proposed
    async with database.unit().reading() as uow:
        replayed = machine.replay(await uow.history.events(HERE, number))
    assert (replayed.state, replayed.closed_by, replayed.adopted_as) == (State.ADOPTED, None, 2)
    refused(await close(database, number), "proposal-closed")


@pytest.mark.parametrize(
    ("decider", "votes", "state", "reason"),
    [
        (Decider.VOTE, [Choice.FOR], State.LAPSED, "1 of the 2 votes that it needs"),
        (Decider.VOTE, [Choice.AGAINST, Choice.AGAINST], State.DECLINED, "the vote was not won"),
        (Decider.VOTE, [Choice.ABSTAIN, Choice.ABSTAIN], State.DECLINED, "the vote was not won"),
        (Decider.AUTHOR, [Choice.FOR, Choice.FOR], State.LAPSED, "nobody decided before the deadline"),
    ],
)
async def test_what_is_not_won_or_not_decided_changes_no_build(
    database: Database, decider: Decider, votes: list[Choice], state: State, reason: str
) -> None:
    """Design, section 8: it lapses at its deadline without a quorum."""
    build, number = await timed(database, decider=decider, quorum=2)
    for member, choice in zip((READER, PROPOSER), votes, strict=False):
        ok(await vote(database, number, member, choice, 1))
    closed = ok(await close(database, number))
    assert (closed.state, closed.close_reason, closed.closed_by) == (state, reason, None)
    view = ok(await database.call(get_build, GetBuild(server=HERE, member=READER, build=build)))
    assert view.revision.number == 1


async def test_a_vote_that_cannot_be_carried_out_is_declined_with_the_reason(database: Database) -> None:
    """The name that it gives was taken meanwhile by another build."""
    build, _ = await timed(database, decider=Decider.VOTE)
    renamed = (await propose(database, build, "header", REED.split("\n1 ")[0].replace("Reed", "Salt"))).number
    other = (await load(database, "Build: Salt Warden\n1 Bard\n", member=READER)).number
    ok(await database.call(share_build, ShareBuild(server=HERE, member=READER, build=other, at=at(2))))
    ok(await vote(database, renamed, READER, Choice.FOR, 1))
    closed = ok(await close(database, renamed))
    assert closed.state is State.DECLINED
    assert "already called" in closed.close_reason
    view = ok(await database.call(get_build, GetBuild(server=HERE, member=READER, build=build)))
    assert (view.name, view.revision.number) == ("Reed Warden", 1)


async def test_a_press_counts_by_its_own_time(database: Database) -> None:
    """Until the close is stored, a press of before the deadline counts, one of after it does not."""
    _, number = await timed(database)
    ok(await vote(database, number, READER, Choice.FOR, 60 - 1 / 60_000))
    refused(await vote(database, number, PROPOSER, Choice.FOR, 60), "vote-too-late")
    late = AdoptProposal(server=HERE, member=AUTHOR, proposal=number, at=at(60))
    refused(await database.call(adopt_proposal, late), "vote-too-late")
    ok(await close(database, number))
    refused(await vote(database, number, READER, Choice.AGAINST, 30), "proposal-closed")


async def test_time_is_told_what_is_due_and_when_to_come_back(database: Database) -> None:
    """A reminder a quarter of the window before the end, the close three seconds after it, over all servers."""
    empty = await database.call(due_work, at(0))
    assert (empty.close, empty.remind, empty.next) == ((), (), None)
    _, number = await timed(database)
    await decide_by(database, server=ELSEWHERE, window=HOUR * 2)
    there = (await load(database, REED, server=ELSEWHERE)).number
    await share(database, there, server=ELSEWHERE)
    other = (await propose(database, there, 4, "4 Rogue: +2 Dex", server=ELSEWHERE)).number
    assert (await database.call(due_work, at(44))).next == at(45)
    due = await database.call(due_work, at(45))
    assert (due.close, due.remind) == ((), ((HERE, number),))
    remind = RemindMembers(server=HERE, proposal=number, at=at(45))
    assert [n.told for n in ok(await database.call(remind_members, remind))] == [(AUTHOR, PROPOSER)]
    refused(await database.call(remind_members, remind), "not-due")
    assert (await database.call(due_work, at(46))).remind == ()
    assert (await database.call(due_work, at(46))).next == at(60) + CLOSING_WAIT
    assert (await database.call(due_work, at(60))).close == ()
    due = await database.call(due_work, at(60) + CLOSING_WAIT)
    assert due.close == ((HERE, number),)
    ok(await close(database, number))
    assert (await database.call(due_work, at(61))).next == at(90)
    assert (await database.call(due_work, at(90))).remind == ((ELSEWHERE, other),)


async def test_whoever_silenced_notices_is_not_told(database: Database) -> None:
    """And is again after switching them on."""
    _, number = await timed(database)
    off = SetNotices(server=HERE, member=AUTHOR, on=False, at=at(0))
    await database.call(set_notices, off)
    remind = RemindMembers(server=HERE, proposal=number, at=at(45))
    assert [n.told for n in ok(await database.call(remind_members, remind))] == [(PROPOSER,)]
    await database.call(set_notices, SetNotices(server=HERE, member=AUTHOR, on=True, at=at(0)))
    assert ok(await close(database, number)).told == (AUTHOR, PROPOSER)
