"""Two members at the same instant: nothing lost, nothing twice, on both databases."""

import asyncio
from datetime import timedelta
from typing import Any

from engine.problem import Refused
from engine.review import machine
from engine.review.machine import State
from engine.review.policy import Choice, Decider
from engine.services.builds import EditBuild, edit_build
from engine.services.deadlines import CloseProposal, close_proposal
from engine.services.ownership import AddCoAuthor, add_co_author
from engine.services.proposals import (
    AdoptProposal,
    DeclineProposal,
    PostProposal,
    ShowProposal,
    adopt_proposal,
    decline_proposal,
    post_proposal,
    show_proposal,
)
from engine.services.votes import CastVote, cast_vote
from engine.store.database import Database
from tests.engine.services.world import (
    AUTHOR,
    COAUTHOR,
    HERE,
    PROPOSER,
    READER,
    REED,
    T0,
    all_rows,
    at,
    decide_by,
    load,
    ok,
    preview,
    propose,
    share,
)

MEMBERS = range(1000, 1050)


async def shared(database: Database) -> int:
    number = (await load(database, REED)).number
    await share(database, number)
    return number


async def revisions(database: Database) -> int:
    return len((await all_rows(database, HERE))["revisions"])


def cast(proposal: int, member: int, choice: Choice = Choice.FOR, minutes: float = 1) -> CastVote:
    return CastVote(server=HERE, member=member, proposal=proposal, choice=choice, at=at(minutes))


async def shown(database: Database, proposal: int) -> Any:
    return ok(await database.call(show_proposal, ShowProposal(server=HERE, member=READER, proposal=proposal)))


async def test_fifty_members_vote_at_once(database: Database) -> None:
    """Each twice, as a double click does: one vote each, one history row a press, the tally is the votes."""
    number = (await propose(database, await shared(database), 4, "4 Rogue: +2 Dex")).number
    choices = {member: list(Choice)[member % 3] for member in MEMBERS}
    presses = [(member, choice) for member, choice in choices.items() for _ in range(2)]
    results = await asyncio.gather(*(database.call(cast_vote, cast(number, m, c)) for m, c in presses))
    assert not any(isinstance(result, Refused) for result in results)
    view = await shown(database, number)
    assert view.votes == choices
    assert view.tally == machine.tally(choices.values())
    async with database.unit().reading() as uow:
        events = await uow.history.events(HERE, number)
    assert len(events) == 1 + len(presses)
    assert machine.replay(events).votes == choices


async def test_of_two_who_decide_at_once_one_does(database: Database) -> None:
    """One adopts; the other is told that it is decided; there is one new revision."""
    build = await shared(database)
    helper = AddCoAuthor(server=HERE, member=AUTHOR, build=build, other=COAUTHOR, at=T0)
    ok(await database.call(add_co_author, helper))
    number = (await propose(database, build, 4, "4 Rogue: +2 Dex")).number
    commands = [AdoptProposal(server=HERE, member=m, proposal=number, at=at(1)) for m in (AUTHOR, COAUTHOR)] * 3
    results = await asyncio.gather(*(database.call(adopt_proposal, command) for command in commands))
    assert sorted(type(result).__name__ for result in results) == ["ProposalView"] + ["Refused"] * 5
    assert {result.code for result in results if isinstance(result, Refused)} == {"proposal-closed"}
    assert await revisions(database) == 2


async def test_adopting_two_that_clash_at_once_adopts_one(database: Database) -> None:
    """The other is outdated, or is adopted by nobody: never are both in the build."""
    build = await shared(database)
    numbers = [(await propose(database, build, 4, f"4 Rogue: +2 {ability}")).number for ability in ("Dex", "Con")]
    commands = [AdoptProposal(server=HERE, member=AUTHOR, proposal=number, at=at(1)) for number in numbers]
    results = await asyncio.gather(*(database.call(adopt_proposal, command) for command in commands))
    assert sum(isinstance(result, Refused) for result in results) == 1
    states = [(await shown(database, number)).state for number in numbers]
    assert sorted(states) == [State.ADOPTED, State.OUTDATED]
    assert await revisions(database) == 2


async def test_a_vote_a_decision_and_an_edit_at_once(database: Database) -> None:
    """Whatever comes first, the history replays to what stands there and every acknowledged press is in it."""
    build = await shared(database)
    number = (await propose(database, build, 4, "4 Rogue: +2 Dex")).number
    decline = DeclineProposal(server=HERE, member=AUTHOR, proposal=number, at=at(1))
    edit = EditBuild(server=HERE, member=AUTHOR, build=build, part=2, text="2 Rogue hp 6", at=at(1))
    votes = [cast(number, member) for member in MEMBERS]
    outcomes = await asyncio.gather(
        *(database.call(cast_vote, vote) for vote in votes[:25]),
        database.call(decline_proposal, decline),
        database.call(edit_build, edit),
        *(database.call(cast_vote, vote) for vote in votes[25:]),
    )
    counted = [o.choice for o in outcomes if hasattr(o, "choice")]
    view = await shown(database, number)
    assert view.state is State.DECLINED
    assert len(view.votes) == len(counted)
    async with database.unit().reading() as uow:
        replayed = machine.replay(await uow.history.events(HERE, number))
    assert (replayed.votes, replayed.state, replayed.base) == (view.votes, view.state, view.view.revision.number)


async def test_votes_in_the_second_of_the_close(database: Database) -> None:
    """A press of before the deadline counts if it is stored before the close, else it is refused: never half."""
    build = await shared(database)
    await decide_by(database, window=timedelta(hours=1), decider=Decider.VOTE)
    number = (await propose(database, build, 4, "4 Rogue: +2 Dex")).number
    close = CloseProposal(server=HERE, proposal=number, at=at(60) + timedelta(seconds=3))
    outcomes = await asyncio.gather(
        *(database.call(cast_vote, cast(number, member, minutes=59.999)) for member in MEMBERS[:10]),
        *(database.call(close_proposal, close) for _ in range(3)),
        *(database.call(cast_vote, cast(number, member, minutes=59.999)) for member in MEMBERS[10:]),
        *(database.call(cast_vote, cast(number, member, minutes=60)) for member in MEMBERS),
    )
    view = await shown(database, number)
    counted = [o for o in outcomes if hasattr(o, "choice")]
    assert view.tally.for_ == len(view.votes) == len(counted)
    assert len(counted) <= len(MEMBERS)
    assert sum(hasattr(o, "adopted_as") for o in outcomes) == 1
    assert await revisions(database) == (2 if view.state is State.ADOPTED else 1)


async def test_a_draft_posted_twice_at_once_is_one_proposal(database: Database) -> None:
    """As a double click on Post does."""
    draft = (await preview(database, await shared(database), 4, "4 Rogue: +2 Dex")).draft
    command = PostProposal(server=HERE, member=PROPOSER, draft=draft, at=at(1))
    results = await asyncio.gather(*(database.call(post_proposal, command) for _ in range(4)))
    assert sum(isinstance(result, Refused) for result in results) == 3
    assert len((await all_rows(database, HERE))["proposals"]) == 1
