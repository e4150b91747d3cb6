"""Random lives of a proposal, beside a naive model that keeps a plain list of what was accepted."""

from datetime import UTC, datetime, timedelta
from typing import Any

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from engine.problem import Refused
from engine.review import machine
from engine.review.events import Event, read_event
from engine.review.machine import Proposal, State
from engine.review.policy import Choice, Decider, Policy, Voters

AUTHOR, PROPOSER, GM, COAUTHOR, ROLE = 1, 2, 3, 4, 77
MEMBERS = st.integers(1, 8)
T0 = datetime(2026, 3, 1, tzinfo=UTC)


class ProposalLife(RuleBasedStateMachine):
    """The model: the state as a word, votes as a list of (member, choice), nothing shared with the machine."""

    proposal: Proposal
    policy: Policy

    @initialize(
        decider=st.sampled_from(Decider),
        quorum=st.integers(0, 4),
        share=st.integers(1, 100),
        window=st.none() | st.integers(1, 40),
        role=st.booleans(),
        author_votes=st.booleans(),
        proposer_votes=st.booleans(),
    )
    def open(
        self,
        decider: Decider,
        quorum: int,
        share: int,
        window: int | None,
        role: bool,
        author_votes: bool,
        proposer_votes: bool,
    ) -> None:
        self.policy = Policy(
            decider=decider,
            quorum=quorum,
            share=share,
            window=None if window is None else timedelta(minutes=window),
            voters=Voters.ROLE if role else Voters.EVERYONE,
            role=ROLE if role else None,
            author_votes=author_votes,
            proposer_votes=proposer_votes,
        )
        self.minute = 0
        self.proposal, first = machine.open_proposal(
            proposer=PROPOSER, author=AUTHOR, base=1, at=self.now, policy=self.policy
        )
        self.events: list[Event] = [first]
        self.model_state = "open"
        self.model_votes: list[tuple[int, Choice]] = []
        self.model_base = 1
        self.model_end = window
        self.author = AUTHOR

    @property
    def now(self) -> datetime:
        return T0 + timedelta(minutes=self.minute)

    def take(self, outcome: Any, expected: bool) -> bool:
        """Compare whether the machine accepts with what the model says, and keep what it gave."""
        assert (not isinstance(outcome, Refused)) is expected, outcome
        if expected:
            self.proposal, event = outcome[0], outcome[1]
            self.events.append(event)
        return expected

    @rule(minutes=st.integers(1, 15))
    def wait(self, minutes: int) -> None:
        self.minute += minutes

    @rule(member=MEMBERS, choice=st.sampled_from(Choice), with_role=st.booleans())
    def cast(self, member: int, choice: Choice, with_role: bool) -> None:
        allowed = (
            self.model_state == "open"
            and (self.model_end is None or self.minute < self.model_end)
            and (member != self.author or self.policy.author_votes)
            and (member != PROPOSER or self.policy.proposer_votes)
            and (with_role or self.policy.voters is not Voters.ROLE)
        )
        roles = frozenset({ROLE}) if with_role else frozenset()
        if self.take(machine.cast(self.proposal, member, choice, at=self.now, roles=roles), allowed):
            self.model_votes = [*((m, c) for m, c in self.model_votes if m != member), (member, choice)]

    def may_decide(self, member: int | None) -> bool:
        match self.policy.decider:
            case Decider.AUTHOR:
                return member is not None and member in (self.author, COAUTHOR)
            case Decider.GM:
                return member == GM
            case Decider.VOTE:
                return member is None

    @property
    def over(self) -> bool:
        """Whether the deadline has passed, so that no member's press counts any more."""
        return self.model_end is not None and self.minute >= self.model_end

    def won(self) -> bool:
        yes = sum(c is Choice.FOR for _, c in self.model_votes)
        no = sum(c is Choice.AGAINST for _, c in self.model_votes)
        reached = yes + no > 0 and 100 * yes >= self.policy.share * (yes + no)
        return reached and len(self.model_votes) >= self.policy.quorum

    @rule(member=st.none() | MEMBERS)
    def adopt(self, member: int | None) -> None:
        allowed = self.model_state == "open" and self.may_decide(member)
        if allowed:
            allowed = self.won() if member is None else not self.over
        outcome = machine.adopt(
            self.proposal,
            member,
            revision=self.model_base + 1,
            at=self.now,
            gms=frozenset({GM}),
            coauthors=frozenset({COAUTHOR}),
        )
        if self.take(outcome, allowed):
            self.model_state = "adopted"

    @rule(member=st.none() | MEMBERS)
    def decline(self, member: int | None) -> None:
        allowed = self.model_state in ("open", "outdated") and self.may_decide(member)
        if allowed and member is not None and self.model_state == "open":
            allowed = not self.over
        outcome = machine.decline(
            self.proposal, member, at=self.now, gms=frozenset({GM}), coauthors=frozenset({COAUTHOR})
        )
        if self.take(outcome, allowed):
            self.model_state = "declined"

    @rule(member=MEMBERS)
    def withdraw(self, member: int) -> None:
        allowed = self.model_state in ("open", "outdated") and member == PROPOSER
        if self.take(machine.withdraw(self.proposal, member, at=self.now), allowed):
            self.model_state = "withdrawn"

    @rule()
    def lapse(self) -> None:
        allowed = self.model_state == "open" and self.model_end is not None and self.minute >= self.model_end
        if self.take(machine.lapse(self.proposal, at=self.now), allowed):
            self.model_state = "lapsed"

    @rule()
    def close(self) -> None:
        allowed = self.model_state == "open" and self.over
        quorum = len(self.model_votes) >= self.policy.quorum and bool(self.model_votes)
        if self.take(machine.close_due(self.proposal, revision=self.model_base + 1, at=self.now), allowed):
            if self.policy.decider is Decider.VOTE and quorum:
                self.model_state = "adopted" if self.won() else "declined"
            else:
                self.model_state = "lapsed"

    @rule(member=MEMBERS)
    def amend(self, member: int) -> None:
        allowed = self.model_state == "open" and member == PROPOSER and not self.model_votes and not self.over
        base = self.model_base + 1
        if self.take(machine.amend(self.proposal, member, base=base, at=self.now), allowed):
            self.model_base = base

    @rule(author=st.sampled_from([AUTHOR, 5, 6]))
    def hand_over(self, author: int) -> None:
        allowed = self.model_state in ("open", "outdated")
        if self.take(machine.hand_over(self.proposal, author, actor=self.author, at=self.now), allowed):
            self.author = author

    @rule(clash=st.booleans())
    def build_moves(self, clash: bool) -> None:
        allowed = self.model_state == "open"
        base = self.model_base + 1
        if clash:
            if self.take(machine.outdate(self.proposal, clashes=("x",), actor=AUTHOR, at=self.now), allowed):
                self.model_state = "outdated"
        elif self.take(machine.follow(self.proposal, base=base, actor=AUTHOR, at=self.now), allowed):
            self.model_base = base

    @rule(member=MEMBERS)
    def refresh(self, member: int) -> None:
        allowed = self.model_state == "outdated" and member == PROPOSER
        base = self.model_base + 1
        if self.take(machine.refresh(self.proposal, member, base=base, at=self.now), allowed):
            self.model_state, self.model_base, self.model_votes = "open", base, []
            if self.policy.window is not None:
                self.model_end = self.minute + int(self.policy.window.total_seconds()) // 60

    @rule()
    def remove_build(self) -> None:
        allowed = self.model_state in ("open", "outdated")
        if self.take(machine.close_removed(self.proposal, actor=AUTHOR, at=self.now), allowed):
            self.model_state = "declined"

    @invariant()
    def agrees_with_the_model(self) -> None:
        assert self.proposal.state.value == self.model_state
        assert dict(self.proposal.votes) == dict(self.model_votes)
        assert self.proposal.base == self.model_base

    @invariant()
    def reminds_between_opening_and_deadline(self) -> None:
        at = machine.remind_at(self.proposal)
        assert (at is None) is (self.proposal.deadline is None)
        if at is not None and self.proposal.deadline is not None:
            assert self.proposal.opened < at < self.proposal.deadline

    @invariant()
    def tally_equals_the_votes(self) -> None:
        tally = self.proposal.tally
        choices = [choice for _, choice in self.model_votes]
        assert tally.for_ == choices.count(Choice.FOR)
        assert tally.against == choices.count(Choice.AGAINST)
        assert tally.abstain == choices.count(Choice.ABSTAIN)

    @invariant()
    def history_replays_to_the_present(self) -> None:
        stored = [(e.kind, e.actor, e.at, e.reason, e.data) for e in self.events]
        assert machine.replay(read_event(*row) for row in stored) == self.proposal

    @invariant()
    def closed_exactly_when_not_open(self) -> None:
        assert (self.proposal.closed is None) is (self.proposal.state is State.OPEN)
        assert (self.proposal.adopted_as is None) is (self.proposal.state is not State.ADOPTED)


TestProposalLife = ProposalLife.TestCase
TestProposalLife.settings = settings(max_examples=120, stateful_step_count=40, deadline=None)
