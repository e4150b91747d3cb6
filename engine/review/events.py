"""What happens to a proposal, in the past tense: plain frozen values that the history keeps and replays.

Every event has a stable kebab-case `kind`, the actor (None where time or a change of the build did it), the time and a
reason ("" if none was given). `data` gives what it says beyond that as plain JSON; `read_event` takes it back.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, ClassVar, Final

from engine.review.policy import Ballot, Choice, Decider, Policy, Voters


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One thing that happened to a proposal."""

    kind: ClassVar[str]
    actor: int | None
    at: datetime
    reason: str = ""

    @property
    def data(self) -> dict[str, Any]:
        """What the event says beyond actor, time and reason, as plain JSON."""
        return {}


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposalOpened(Event):
    """A proposal was put before the server. author: of the build; base: the revision it is against."""

    kind = "proposal-opened"
    author: int
    base: int
    policy: Policy

    @property
    def data(self) -> dict[str, Any]:
        return {"author": self.author, "base": self.base, "policy": policy_data(self.policy)}


@dataclass(frozen=True, slots=True, kw_only=True)
class VoteCast(Event):
    """A member voted, or changed a vote."""

    kind = "vote-cast"
    choice: Choice

    @property
    def data(self) -> dict[str, Any]:
        return {"choice": self.choice.value}


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposalAdopted(Event):
    """The proposal became a revision of the build."""

    kind = "proposal-adopted"
    revision: int

    @property
    def data(self) -> dict[str, Any]:
        return {"revision": self.revision}


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposalDeclined(Event):
    """The one who decides, or the vote, closed the proposal without adopting it."""

    kind = "proposal-declined"


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposalWithdrawn(Event):
    """The proposer took it back."""

    kind = "proposal-withdrawn"


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposalLapsed(Event):
    """The deadline came without a quorum, or without a decision."""

    kind = "proposal-lapsed"


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposalFollowed(Event):
    """The build moved on and the edits still fit: the proposal is now against a newer revision."""

    kind = "proposal-followed"
    base: int

    @property
    def data(self) -> dict[str, Any]:
        return {"base": self.base}


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposalOutdated(Event):
    """The build moved on and the edits clash. clashes: where, in words."""

    kind = "proposal-outdated"
    clashes: tuple[str, ...]

    @property
    def data(self) -> dict[str, Any]:
        return {"clashes": list(self.clashes)}


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposalRefreshed(Event):
    """The proposer fitted it to the build as it is now; votes cast before are void."""

    kind = "proposal-refreshed"
    base: int

    @property
    def data(self) -> dict[str, Any]:
        return {"base": self.base}


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposalAmended(Event):
    """The proposer changed it before anybody had voted. base: the revision that the new edits are against."""

    kind = "proposal-amended"
    base: int

    @property
    def data(self) -> dict[str, Any]:
        return {"base": self.base}


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposalHandedOver(Event):
    """The build got another author, who decides from now on where the author decides."""

    kind = "proposal-handed-over"
    author: int

    @property
    def data(self) -> dict[str, Any]:
        return {"author": self.author}


EVENTS: Final[dict[str, type[Event]]] = {
    event.kind: event
    for event in (
        ProposalOpened,
        VoteCast,
        ProposalAdopted,
        ProposalDeclined,
        ProposalWithdrawn,
        ProposalLapsed,
        ProposalFollowed,
        ProposalOutdated,
        ProposalRefreshed,
        ProposalAmended,
        ProposalHandedOver,
    )
}


def read_event(kind: str, actor: int | None, at: datetime, reason: str, data: Mapping[str, Any]) -> Event:
    """Return the event that a history row stands for.

    Raises: KeyError for a kind or a field that no event has; ValueError for a value out of its range.
    """
    fields = dict(data)
    if "policy" in fields:
        fields["policy"] = read_policy(fields["policy"])
    if "choice" in fields:
        fields["choice"] = Choice(fields["choice"])
    if "clashes" in fields:
        fields["clashes"] = tuple(fields["clashes"])
    return EVENTS[kind](actor=actor, at=at, reason=reason, **fields)


def policy_data(policy: Policy) -> dict[str, Any]:
    """Return a policy as plain JSON, defaults left out; the window in whole seconds."""
    plain: dict[str, Any] = {
        "voters": policy.voters.value,
        "role": policy.role,
        "author_votes": policy.author_votes,
        "proposer_votes": policy.proposer_votes,
        "quorum": policy.quorum,
        "share": policy.share,
        "window": None if policy.window is None else int(policy.window.total_seconds()),
        "ballot": policy.ballot.value,
        "decider": policy.decider.value,
    }
    return {key: value for key, value in plain.items() if value != _DEFAULTS[key]}


def read_policy(data: Mapping[str, Any]) -> Policy:
    """Return the policy that plain JSON stands for. Raises: KeyError, ValueError for what is no policy."""
    fields: dict[str, Any] = {**_DEFAULTS, **data}
    window = fields["window"]
    return Policy(
        voters=Voters(fields["voters"]),
        role=fields["role"],
        author_votes=fields["author_votes"],
        proposer_votes=fields["proposer_votes"],
        quorum=fields["quorum"],
        share=fields["share"],
        window=None if window is None else timedelta(seconds=window),
        ballot=Ballot(fields["ballot"]),
        decider=Decider(fields["decider"]),
    )


# Frozen on purpose and not taken from Policy: stored policies must keep their meaning if a default changes.
_DEFAULTS: Final[dict[str, Any]] = {
    "voters": "everyone",
    "role": None,
    "author_votes": True,
    "proposer_votes": True,
    "quorum": 0,
    "share": 50,
    "window": None,
    "ballot": "open",
    "decider": "author",
}
