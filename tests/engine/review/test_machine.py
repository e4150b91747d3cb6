"""The life of a proposal, case by case."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from engine.problem import Refused
from engine.review import machine
from engine.review.events import Event, ProposalOpened, VoteCast, read_event
from engine.review.machine import Proposal, State
from engine.review.policy import Choice, Decider, Policy, Tally, Voters

T0 = datetime(2026, 3, 1, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)
AUTHOR, PROPOSER, VOTER, OTHER = 1, 2, 3, 4


def opened(**policy: Any) -> Proposal:
    return machine.open_proposal(proposer=PROPOSER, author=AUTHOR, base=5, at=T0, policy=Policy(**policy))[0]


def done(outcome: tuple[Any, ...] | Refused) -> Proposal:
    assert not isinstance(outcome, Refused), outcome
    proposal = outcome[0]
    assert isinstance(proposal, Proposal)
    return proposal


def code(outcome: object) -> str:
    assert isinstance(outcome, Refused), outcome
    assert outcome.sentence.endswith((".", "!"))
    return outcome.code


def test_a_new_proposal_is_open_without_votes() -> None:
    """The deadline follows from the window."""
    proposal = opened(window=2 * HOUR)
    assert (proposal.state, proposal.tally, proposal.deadline) == (State.OPEN, Tally(), T0 + 2 * HOUR)
    assert opened().deadline is None


def test_one_vote_a_member_changeable() -> None:
    """A second vote takes the place of the first."""
    proposal = done(machine.cast(opened(), VOTER, Choice.FOR, at=T0))
    proposal = done(machine.cast(proposal, OTHER, Choice.AGAINST, at=T0))
    proposal = done(machine.cast(proposal, VOTER, Choice.ABSTAIN, at=T0))
    assert proposal.tally == Tally(0, 1, 1)


def test_a_press_counts_if_its_time_is_before_the_deadline() -> None:
    """At the deadline itself it is too late."""
    proposal = opened(window=HOUR)
    assert done(machine.cast(proposal, VOTER, Choice.FOR, at=T0 + HOUR - timedelta(microseconds=1))).tally.for_ == 1
    assert code(machine.cast(proposal, VOTER, Choice.FOR, at=T0 + HOUR)) == "vote-too-late"


def test_who_may_vote() -> None:
    """Author and proposer can be kept out, and a role can be asked for."""
    policy = {"author_votes": False, "proposer_votes": False, "voters": Voters.ROLE, "role": 9}
    proposal = opened(**policy)
    cast = {m: machine.cast(proposal, m, Choice.FOR, at=T0, roles=frozenset({9})) for m in (AUTHOR, PROPOSER, VOTER)}
    assert code(cast[AUTHOR]) == "author-does-not-vote"
    assert code(cast[PROPOSER]) == "proposer-does-not-vote"
    assert done(cast[VOTER]).tally.for_ == 1
    assert code(machine.cast(proposal, VOTER, Choice.FOR, at=T0)) == "role-does-not-vote"
    everyone = opened()
    for member in (AUTHOR, PROPOSER, VOTER):
        assert done(machine.cast(everyone, member, Choice.FOR, at=T0)).tally.for_ == 1


def test_the_author_decides() -> None:
    """Nobody else does, and no vote does it either."""
    for act in (
        lambda m: machine.adopt(opened(), m, revision=6, at=T0),
        lambda m: machine.decline(opened(), m, at=T0),
    ):
        assert code(act(VOTER)) == "not-the-decider"
        assert code(act(None)) == "not-the-decider"
    adopted = done(machine.adopt(opened(), AUTHOR, revision=6, at=T0, reason="yes"))
    assert (adopted.state, adopted.adopted_as, adopted.closed_by, adopted.close_reason) == (State.ADOPTED, 6, 1, "yes")
    assert machine.deciders(opened()) == (AUTHOR,)


def test_a_game_master_decides() -> None:
    """Any of the table's."""
    proposal = opened(decider=Decider.GM)
    assert code(machine.adopt(proposal, AUTHOR, revision=6, at=T0, gms=frozenset({8}))) == "not-the-decider"
    assert done(machine.adopt(proposal, 8, revision=6, at=T0, gms=frozenset({8}))).state is State.ADOPTED
    assert machine.deciders(proposal, frozenset({9, 8})) == (8, 9)


def test_the_vote_decides() -> None:
    """Only once it is won, and no member in its place."""
    proposal = opened(decider=Decider.VOTE, quorum=2, share=50)
    assert machine.deciders(proposal) == ()
    assert code(machine.adopt(proposal, AUTHOR, revision=6, at=T0)) == "not-the-decider"
    proposal = done(machine.cast(proposal, VOTER, Choice.FOR, at=T0))
    assert code(machine.adopt(proposal, None, revision=6, at=T0)) == "vote-not-won"
    proposal = done(machine.cast(proposal, OTHER, Choice.AGAINST, at=T0))
    assert done(machine.adopt(proposal, None, revision=6, at=T0)).state is State.ADOPTED
    assert done(machine.decline(proposal, None, at=T0)).state is State.DECLINED


def test_the_proposer_withdraws() -> None:
    """Also an outdated proposal, and nobody else's."""
    assert code(machine.withdraw(opened(), AUTHOR, at=T0)) == "not-the-proposer"
    assert done(machine.withdraw(opened(), PROPOSER, at=T0)).state is State.WITHDRAWN
    outdated = done(machine.outdate(opened(), clashes=("level 8",), actor=AUTHOR, at=T0))
    assert done(machine.withdraw(outdated, PROPOSER, at=T0)).state is State.WITHDRAWN


def test_a_deadline_makes_it_lapse() -> None:
    """Not before, and not without one."""
    assert code(machine.lapse(opened(), at=T0 + HOUR)) == "deadline-not-reached"
    proposal = opened(window=HOUR)
    assert code(machine.lapse(proposal, at=T0)) == "deadline-not-reached"
    lapsed = done(machine.lapse(proposal, at=T0 + HOUR))
    assert (lapsed.state, lapsed.closed_by) == (State.LAPSED, None)


def test_following_keeps_the_votes_and_outdating_waits_for_a_refresh() -> None:
    """A refresh clears the votes, names the voters and starts the window anew."""
    proposal = done(machine.cast(opened(window=HOUR), VOTER, Choice.FOR, at=T0))
    followed = done(machine.follow(proposal, base=6, actor=AUTHOR, at=T0))
    assert (followed.base, followed.tally.for_, followed.state) == (6, 1, State.OPEN)
    outdated = done(machine.outdate(followed, clashes=("level 8",), actor=AUTHOR, at=T0))
    assert (outdated.state, outdated.clashes, outdated.tally.for_) == (State.OUTDATED, ("level 8",), 1)
    assert code(machine.cast(outdated, OTHER, Choice.FOR, at=T0)) == "proposal-outdated"
    assert code(machine.adopt(outdated, AUTHOR, revision=7, at=T0)) == "proposal-outdated"
    assert code(machine.follow(outdated, base=7, actor=AUTHOR, at=T0)) == "proposal-outdated"
    assert code(machine.outdate(outdated, clashes=(), actor=AUTHOR, at=T0)) == "proposal-outdated"
    assert code(machine.lapse(outdated, at=T0 + HOUR)) == "proposal-outdated"
    assert code(machine.refresh(outdated, VOTER, base=7, at=T0)) == "not-the-proposer"
    later = T0 + 5 * HOUR
    outcome = machine.refresh(outdated, PROPOSER, base=7, at=later)
    assert not isinstance(outcome, Refused)
    fresh, _, voters = outcome
    assert (fresh.state, fresh.base, fresh.votes, fresh.clashes, fresh.closed) == (State.OPEN, 7, {}, (), None)
    assert (voters, fresh.deadline) == ((VOTER,), later + HOUR)
    assert code(machine.cast(fresh, VOTER, Choice.FOR, at=later - HOUR)) == "vote-too-early"
    assert code(machine.refresh(fresh, PROPOSER, base=8, at=later)) == "proposal-not-outdated"


@pytest.mark.parametrize("state", [s for s in State if s.final])
def test_nothing_changes_after_the_close(state: State) -> None:
    """Every command on a closed proposal is refused with the same code and its own words."""
    closed = replace(opened(window=HOUR), state=state)
    outcomes = [
        machine.cast(closed, VOTER, Choice.FOR, at=T0),
        machine.adopt(closed, AUTHOR, revision=6, at=T0),
        machine.decline(closed, AUTHOR, at=T0),
        machine.withdraw(closed, PROPOSER, at=T0),
        machine.lapse(closed, at=T0 + HOUR),
        machine.follow(closed, base=6, actor=AUTHOR, at=T0),
        machine.outdate(closed, clashes=(), actor=AUTHOR, at=T0),
        machine.refresh(closed, PROPOSER, base=6, at=T0),
        machine.close_removed(closed, actor=AUTHOR, at=T0),
    ]
    assert {code(outcome) for outcome in outcomes} == {"proposal-closed"}


def test_a_removed_build_closes_its_proposals_whoever_decides() -> None:
    """Also where the vote would decide."""
    closed = done(machine.close_removed(opened(decider=Decider.VOTE), actor=AUTHOR, at=T0))
    assert (closed.state, closed.close_reason) == (State.DECLINED, "the build was removed")


def test_histories_that_cannot_be_are_bugs() -> None:
    """They raise, since nobody typed them."""
    proposal, first = machine.open_proposal(proposer=PROPOSER, author=AUTHOR, base=1, at=T0)
    vote = VoteCast(actor=VOTER, at=T0, choice=Choice.FOR)
    with pytest.raises(ValueError, match="opened once"):
        machine.evolve(proposal, first)
    with pytest.raises(ValueError, match="opened once"):
        machine.evolve(None, ProposalOpened(actor=None, at=T0, author=1, base=1, policy=Policy()))
    with pytest.raises(ValueError, match="cannot begin with vote-cast"):
        machine.evolve(None, vote)
    with pytest.raises(ValueError, match="a vote is a member's"):
        machine.evolve(proposal, replace(vote, actor=None))
    with pytest.raises(ValueError, match="leads to no proposal"):
        machine.replay([])


def test_every_event_is_read_back_from_its_history_row() -> None:
    """Kind, actor, time, reason and data are all there is to it."""
    proposal, first = machine.open_proposal(
        proposer=PROPOSER, author=AUTHOR, base=1, at=T0, reason="why", policy=Policy(window=HOUR, quorum=3)
    )
    events: list[Event] = [first]
    for outcome in (
        machine.cast(proposal, VOTER, Choice.ABSTAIN, at=T0),
        machine.follow(proposal, base=2, actor=AUTHOR, at=T0),
        machine.outdate(proposal, clashes=("a", "b"), actor=AUTHOR, at=T0),
        machine.adopt(proposal, AUTHOR, revision=2, at=T0, reason="so"),
        machine.decline(proposal, AUTHOR, at=T0),
        machine.withdraw(proposal, PROPOSER, at=T0),
        machine.lapse(proposal, at=T0 + HOUR),
        machine.refresh(replace(proposal, state=State.OUTDATED), PROPOSER, base=3, at=T0),
    ):
        assert not isinstance(outcome, Refused)
        events.append(outcome[1])
    assert len({type(event) for event in events}) == len(events) == 9
    for event in events:
        assert read_event(event.kind, event.actor, event.at, event.reason, event.data) == event
    with pytest.raises(KeyError):
        read_event("proposal-forgotten", 1, T0, "", {})
