"""The life of a proposal: (state, command, time) -> (state, event), or Refused.

Pure: time, members and roles are arguments. Every function that changes something decides first and then applies its
own event through `evolve`, so that replaying the events of a history always gives the present state.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from enum import StrEnum
from typing import Final, TypeAlias

from engine.problem import Refused
from engine.review.events import (
    Event,
    ProposalAdopted,
    ProposalAmended,
    ProposalDeclined,
    ProposalFollowed,
    ProposalHandedOver,
    ProposalLapsed,
    ProposalOpened,
    ProposalOutdated,
    ProposalRefreshed,
    ProposalWithdrawn,
    VoteCast,
)
from engine.review.policy import DEFAULT_POLICY, Choice, Decider, Policy, Tally, Voters, notice_before


class State(StrEnum):
    """Where a proposal stands. `open` and `outdated` can still change, the others are final."""

    OPEN = "open"
    ADOPTED = "adopted"
    DECLINED = "declined"
    WITHDRAWN = "withdrawn"
    LAPSED = "lapsed"
    OUTDATED = "outdated"

    @property
    def final(self) -> bool:
        """Whether nothing can happen to the proposal any more."""
        return self not in (State.OPEN, State.OUTDATED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """What the machine knows of a proposal.

    author: of the build; base: revision number the edits are against; votes: member -> choice, one each; since: when it
    was opened or last refreshed, so that a press on what stood there before does not count for what stands there now;
    deadline: first instant at which no vote counts any more, None for no end; closed, closed_by, close_reason: of the
    last change away from `open` (closed_by None where no member did it); adopted_as: revision number.
    """

    proposer: int
    author: int
    base: int
    opened: datetime
    since: datetime
    policy: Policy = DEFAULT_POLICY
    state: State = State.OPEN
    deadline: datetime | None = None
    votes: Mapping[int, Choice] = field(default_factory=dict)
    closed: datetime | None = None
    closed_by: int | None = None
    close_reason: str = ""
    adopted_as: int | None = None
    clashes: tuple[str, ...] = ()

    @property
    def tally(self) -> Tally:
        """The votes counted."""
        return tally(self.votes.values())


Outcome: TypeAlias = tuple[Proposal, Event]
_WORDS: Final = {
    State.ADOPTED: "was adopted",
    State.DECLINED: "was declined",
    State.WITHDRAWN: "was withdrawn",
    State.LAPSED: "lapsed at its deadline",
}


def tally(choices: Iterable[Choice]) -> Tally:
    """Return the count of each choice; any order."""
    counted = dict.fromkeys(Choice, 0)
    for choice in choices:
        counted[choice] += 1
    return Tally(counted[Choice.FOR], counted[Choice.AGAINST], counted[Choice.ABSTAIN])


def open_proposal(
    *, proposer: int, author: int, base: int, at: datetime, reason: str = "", policy: Policy = DEFAULT_POLICY
) -> tuple[Proposal, ProposalOpened]:
    """Return a new open proposal and its first event. base: revision number that its edits are against."""
    event = ProposalOpened(actor=proposer, at=at, reason=reason, author=author, base=base, policy=policy)
    return evolve(None, event), event


def cast(
    proposal: Proposal,
    member: int,
    choice: Choice,
    *,
    at: datetime,
    roles: frozenset[int] = frozenset(),
    seated: bool = False,
) -> tuple[Proposal, VoteCast] | Refused:
    """Return the proposal with the member's one vote recorded or changed.

    roles: chat roles that the member holds; seated: whether they sit at the build's table. Refused: "proposal-closed",
    "proposal-outdated", "vote-too-early", "vote-too-late", "author-does-not-vote", "proposer-does-not-vote",
    "role-does-not-vote", "table-votes".
    """
    refused = _not_open(proposal) or _may_not_vote(proposal, member, roles, seated) or _too_late(proposal, at)
    if refused is not None:
        return refused
    if at < proposal.since:
        return Refused("vote-too-early", "This proposal was changed just now. Look at it again and vote then.")
    event = VoteCast(actor=member, at=at, choice=choice)
    return evolve(proposal, event), event


def adopt(
    proposal: Proposal,
    member: int | None,
    *,
    revision: int,
    at: datetime,
    reason: str = "",
    gms: frozenset[int] = frozenset(),
    coauthors: frozenset[int] = frozenset(),
) -> Outcome | Refused:
    """Return the proposal adopted as a revision number of its build. member None: the vote decided.

    gms: members who are game masters of the build's table; coauthors: of the build, who decide where its author does.
    Refused: "proposal-closed", "proposal-outdated", "not-the-decider", "vote-not-won", "vote-too-late".
    """
    refused = _not_open(proposal) or _may_not_decide(proposal, member, gms, coauthors, "adopt")
    if refused is None and member is not None:
        refused = _too_late(proposal, at) or _too_early(proposal, at)
    if refused is not None:
        return refused
    if member is None and not proposal.tally.passes(proposal.policy):
        return Refused("vote-not-won", "The vote on this proposal is not won, so it cannot be adopted by vote.")
    return _with(proposal, ProposalAdopted(actor=member, at=at, reason=reason, revision=revision))


def decline(
    proposal: Proposal,
    member: int | None,
    *,
    at: datetime,
    reason: str = "",
    gms: frozenset[int] = frozenset(),
    coauthors: frozenset[int] = frozenset(),
) -> Outcome | Refused:
    """Return the proposal declined; an outdated one can be declined too. member None: the vote decided.

    gms, coauthors: as in `adopt`. Refused: "proposal-closed", "not-the-decider", "vote-too-late".
    """
    refused = _final(proposal) or _may_not_decide(proposal, member, gms, coauthors, "decline")
    if refused is None and member is not None and proposal.state is State.OPEN:
        refused = _too_late(proposal, at)
    if refused is not None:
        return refused
    return _with(proposal, ProposalDeclined(actor=member, at=at, reason=reason))


def close_removed(
    proposal: Proposal, *, actor: int, at: datetime, reason: str = "the build was removed"
) -> Outcome | Refused:
    """Return the proposal declined because its build is gone, whoever else decides. Refused: "proposal-closed"."""
    refused = _final(proposal)
    if refused is not None:
        return refused
    return _with(proposal, ProposalDeclined(actor=actor, at=at, reason=reason))


def withdraw(proposal: Proposal, member: int, *, at: datetime, reason: str = "") -> Outcome | Refused:
    """Return the proposal withdrawn by its proposer; an outdated one can be withdrawn too.

    Refused: "proposal-closed", "not-the-proposer".
    """
    refused = _final(proposal) or _not_proposer(proposal, member, "withdraw")
    if refused is not None:
        return refused
    return _with(proposal, ProposalWithdrawn(actor=member, at=at, reason=reason))


def lapse(proposal: Proposal, *, at: datetime) -> Outcome | Refused:
    """Return the proposal lapsed. Refused: "proposal-closed", "proposal-outdated", "deadline-not-reached"."""
    refused = _not_open(proposal)
    if refused is not None:
        return refused
    if proposal.deadline is None or at < proposal.deadline:
        return Refused("deadline-not-reached", "This proposal has not reached a deadline.")
    reason = "nobody decided before the deadline"
    if not proposal.tally.has_quorum(proposal.policy):
        reason = f"{proposal.tally.all} of the {proposal.policy.quorum} votes that it needs"
    return _with(proposal, ProposalLapsed(actor=None, at=at, reason=reason))


def close_due(proposal: Proposal, *, revision: int, at: datetime) -> Outcome | Refused:
    """Return the proposal closed at its deadline: adopted or declined where the vote decides, else lapsed.

    revision: number that an adoption makes. Without a quorum it lapses, whoever decides. Refused: as `lapse`.
    """
    if proposal.policy.decider is Decider.VOTE and proposal.tally.has_quorum(proposal.policy) and proposal.tally.all:
        refused = _not_open(proposal)
        if refused is None and proposal.deadline is not None and at >= proposal.deadline:
            if proposal.tally.passes(proposal.policy):
                return adopt(proposal, None, revision=revision, at=at)
            return decline(proposal, None, at=at, reason="the vote was not won")
    return lapse(proposal, at=at)


def remind_at(proposal: Proposal) -> datetime | None:
    """Return when members should be reminded of the deadline, None without one."""
    if proposal.deadline is None or proposal.policy.window is None:
        return None
    return proposal.deadline - notice_before(proposal.policy.window)


def amend(proposal: Proposal, member: int, *, base: int, at: datetime, reason: str = "") -> Outcome | Refused:
    """Return the open proposal with other edits against a revision, by its proposer, while nobody has voted.

    The deadline stays. Refused: "proposal-closed", "proposal-outdated", "not-the-proposer", "votes-cast",
    "vote-too-late".
    """
    refused = _not_open(proposal) or _not_proposer(proposal, member, "amend") or _too_late(proposal, at)
    if refused is not None:
        return refused
    if proposal.votes:
        return Refused(
            "votes-cast",
            "Members have voted on this proposal as it stands, so it cannot be amended; withdraw it and make another.",
        )
    return _with(proposal, ProposalAmended(actor=member, at=at, reason=reason, base=base))


def hand_over(proposal: Proposal, author: int, *, actor: int, at: datetime) -> Outcome | Refused:
    """Return the proposal under another author of its build. Refused: "proposal-closed"."""
    return _final(proposal) or _with(proposal, ProposalHandedOver(actor=actor, at=at, author=author))


def follow(proposal: Proposal, *, base: int, actor: int | None, at: datetime) -> Outcome | Refused:
    """Return the proposal against a newer revision that its edits still fit; votes stay. actor: who moved the build.

    Refused: "proposal-closed", "proposal-outdated".
    """
    refused = _not_open(proposal)
    if refused is not None:
        return refused
    return _with(proposal, ProposalFollowed(actor=actor, at=at, base=base))


def outdate(proposal: Proposal, *, clashes: tuple[str, ...], actor: int | None, at: datetime) -> Outcome | Refused:
    """Return the proposal outdated: the build moved on and its edits clash. actor: who moved the build.

    Refused: "proposal-closed", "proposal-outdated".
    """
    refused = _not_open(proposal)
    if refused is not None:
        return refused
    return _with(proposal, ProposalOutdated(actor=actor, at=at, clashes=clashes))


def refresh(
    proposal: Proposal, member: int, *, base: int, at: datetime, reason: str = ""
) -> tuple[Proposal, Event, tuple[int, ...]] | Refused:
    """Return the proposal open again against a revision, its event, and the voters whose votes went, sorted.

    A deadline starts anew. Refused: "proposal-closed", "not-the-proposer", "proposal-not-outdated".
    """
    refused = _final(proposal) or _not_proposer(proposal, member, "refresh")
    if refused is not None:
        return refused
    if proposal.state is not State.OUTDATED:
        return Refused("proposal-not-outdated", "This proposal still fits the build, so there is nothing to refresh.")
    after, event = _with(proposal, ProposalRefreshed(actor=member, at=at, reason=reason, base=base))
    return after, event, tuple(sorted(proposal.votes))


def deciders(
    proposal: Proposal, gms: frozenset[int] = frozenset(), coauthors: frozenset[int] = frozenset()
) -> tuple[int, ...]:
    """Return the members who may adopt or decline, sorted; none where the vote decides."""
    match proposal.policy.decider:
        case Decider.AUTHOR:
            return tuple(sorted({proposal.author, *coauthors}))
        case Decider.GM:
            return tuple(sorted(gms))
        case Decider.VOTE:
            return ()


def evolve(proposal: Proposal | None, event: Event) -> Proposal:
    """Return the proposal after an event; None before its first one.

    Raises: ValueError for an event that cannot come first, or an opening that comes later.
    """
    if isinstance(event, ProposalOpened):
        if proposal is not None or event.actor is None:
            raise ValueError("a proposal is opened once, by a member")
        window = event.policy.window
        return Proposal(
            proposer=event.actor,
            author=event.author,
            base=event.base,
            opened=event.at,
            since=event.at,
            policy=event.policy,
            deadline=None if window is None else event.at + window,
        )
    if proposal is None:
        raise ValueError(f"a history cannot begin with {event.kind}")
    if isinstance(event, VoteCast):
        if event.actor is None:
            raise ValueError("a vote is a member's")
        return replace(proposal, votes={**proposal.votes, event.actor: event.choice})
    if isinstance(event, ProposalFollowed):
        return replace(proposal, base=event.base)
    if isinstance(event, ProposalAmended):
        return replace(proposal, base=event.base, since=event.at)
    if isinstance(event, ProposalHandedOver):
        return replace(proposal, author=event.author)
    if isinstance(event, ProposalRefreshed):
        window = proposal.policy.window
        return replace(
            proposal,
            state=State.OPEN,
            base=event.base,
            since=event.at,
            votes={},
            clashes=(),
            closed=None,
            closed_by=None,
            close_reason="",
            deadline=None if window is None else event.at + window,
        )
    return replace(
        proposal,
        state=_STATES[type(event)],
        closed=event.at,
        closed_by=event.actor,
        close_reason=event.reason,
        adopted_as=event.revision if isinstance(event, ProposalAdopted) else None,
        clashes=event.clashes if isinstance(event, ProposalOutdated) else (),
    )


def replay(events: Iterable[Event]) -> Proposal:
    """Return the proposal that a history leads to, oldest event first. Raises: ValueError for no history of one."""
    proposal: Proposal | None = None
    for event in events:
        proposal = evolve(proposal, event)
    if proposal is None:
        raise ValueError("a history without events leads to no proposal")
    return proposal


_STATES: Final[dict[type[Event], State]] = {
    ProposalAdopted: State.ADOPTED,
    ProposalDeclined: State.DECLINED,
    ProposalWithdrawn: State.WITHDRAWN,
    ProposalLapsed: State.LAPSED,
    ProposalOutdated: State.OUTDATED,
}


def _with(proposal: Proposal, event: Event) -> Outcome:
    return evolve(proposal, event), event


def _final(proposal: Proposal) -> Refused | None:
    if not proposal.state.final:
        return None
    return Refused("proposal-closed", f"This proposal {_WORDS[proposal.state]}; nothing can be changed about it now.")


def _not_open(proposal: Proposal) -> Refused | None:
    if proposal.state is State.OUTDATED:
        return Refused(
            "proposal-outdated",
            "The build has changed where this proposal changes it; its proposer has to refresh it first.",
        )
    return _final(proposal)


def _too_late(proposal: Proposal, at: datetime) -> Refused | None:
    if proposal.deadline is None or at < proposal.deadline:
        return None
    return Refused("vote-too-late", "This proposal is over: its deadline has passed.")


def _too_early(proposal: Proposal, at: datetime) -> Refused | None:
    if at >= proposal.since:
        return None
    return Refused("vote-too-early", "This proposal was changed just now. Look at it again and decide then.")


def _may_not_vote(proposal: Proposal, member: int, roles: frozenset[int], seated: bool) -> Refused | None:
    policy = proposal.policy
    if member == proposal.author and not policy.author_votes:
        return Refused("author-does-not-vote", "The author of a build does not vote on proposals to it here.")
    if member == proposal.proposer and not policy.proposer_votes:
        return Refused("proposer-does-not-vote", "The proposer does not vote on a proposal of their own here.")
    if policy.voters is Voters.ROLE and policy.role not in roles:
        return Refused("role-does-not-vote", "Only members with the role chosen for voting may vote on this proposal.")
    if policy.voters is Voters.TABLE and not seated:
        return Refused("table-votes", "Only those who sit at the build's table may vote on this proposal.")
    return None


def _may_not_decide(
    proposal: Proposal, member: int | None, gms: frozenset[int], coauthors: frozenset[int], verb: str
) -> Refused | None:
    decider = proposal.policy.decider
    if decider is Decider.VOTE:
        if member is None:
            return None
        return Refused("not-the-decider", f"The vote decides about this proposal; no single member can {verb} it.")
    if member in deciders(proposal, gms, coauthors):
        return None
    who = "the author of the build" if decider is Decider.AUTHOR else "a game master of the table"
    return Refused("not-the-decider", f"Only {who} can {verb} this proposal.")


def _not_proposer(proposal: Proposal, member: int, verb: str) -> Refused | None:
    if member == proposal.proposer:
        return None
    return Refused("not-the-proposer", f"Only the member who made this proposal can {verb} it.")
