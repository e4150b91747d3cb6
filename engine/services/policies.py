"""How proposals are decided on a server, and where their cards go: read by everybody, set by who manages it."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from engine.problem import Refused
from engine.review.events import policy_data, read_policy
from engine.review.policy import DEFAULT_POLICY, Ballot, Decider, Policy, Voters
from engine.services import rights
from engine.services.rights import Role
from engine.store.uow import UnitOfWork

LONGEST_WINDOW: Final = timedelta(days=90)
SHORTEST_WINDOW: Final = timedelta(minutes=5)
MOST_VOTES: Final = 1_000


@dataclass(frozen=True, slots=True, kw_only=True)
class ShowPolicy:
    """Ask how proposals are decided here."""

    server: int
    member: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SetPolicy:
    """Set how proposals that are opened from now on are decided; what is None stays as it is.

    manager: whether the member manages the server. voters, role: who votes; a role chosen means voters of that role.
    window: how long a proposal is open, zero for no deadline. What else: as in `Policy`.
    """

    server: int
    member: int
    manager: bool
    at: datetime
    voters: Voters | None = None
    role: int | None = None
    author_votes: bool | None = None
    proposer_votes: bool | None = None
    quorum: int | None = None
    share: int | None = None
    window: timedelta | None = None
    ballot: Ballot | None = None
    decider: Decider | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SetPlace:
    """Choose the channel where cards of builds and proposals go; None: wherever a command is given."""

    server: int
    member: int
    manager: bool
    channel: int | None
    at: datetime


@dataclass(frozen=True, slots=True)
class PolicyView:
    """A server's policy and the channel for cards, None for wherever a command is given."""

    policy: Policy
    place: int | None


async def show_policy(cmd: ShowPolicy, uow: UnitOfWork) -> PolicyView:
    """Return a server's settings; the defaults where nobody has set any."""
    async with uow.reading():
        row = await uow.people.server(cmd.server)
    if row is None:
        return PolicyView(DEFAULT_POLICY, None)
    return PolicyView(DEFAULT_POLICY if row.policy is None else read_policy(row.policy), row.place)


async def set_policy(cmd: SetPolicy, uow: UnitOfWork) -> PolicyView | Refused:
    """Store a server's policy with its history row. Proposals that are open keep theirs.

    Returns: the settings. Refused: "not-allowed", "role-missing", "vote-needs-window", "quorum-out-of-range",
        "share-out-of-range", "window-out-of-range", "nothing-changed".
    """
    refused = _manager(cmd) or out_of_range(cmd)
    if refused is not None:
        return refused
    async with uow:
        await uow.people.ensure(cmd.server, cmd.member)
        row = await uow.people.server(cmd.server, for_update=True)
        assert row is not None  # just made sure of
        before = DEFAULT_POLICY if row.policy is None else read_policy(row.policy)
        policy = merged(before, cmd)
        if isinstance(policy, Refused):
            return policy
        if policy == before:
            return Refused("nothing-changed", "Proposals are decided like that here already; nothing was changed.")
        row.policy = policy_data(policy) or None
        uow.history.append(
            cmd.server, 0, "server", "policy-set", actor=cmd.member, at=cmd.at, data={"policy": policy_data(policy)}
        )
        place = row.place
        await uow.commit()
    return PolicyView(policy, place)


async def set_place(cmd: SetPlace, uow: UnitOfWork) -> PolicyView | Refused:
    """Store the channel for cards. Returns: the settings. Refused: "not-allowed"."""
    refused = _manager(cmd)
    if refused is not None:
        return refused
    async with uow:
        await uow.people.ensure(cmd.server, cmd.member)
        row = await uow.people.server(cmd.server, for_update=True)
        assert row is not None  # just made sure of
        row.place = cmd.channel
        uow.history.append(
            cmd.server, 0, "server", "place-set", actor=cmd.member, at=cmd.at, data={"channel": cmd.channel}
        )
        policy = DEFAULT_POLICY if row.policy is None else read_policy(row.policy)
        await uow.commit()
    return PolicyView(policy, cmd.channel)


def _manager(cmd: SetPolicy | SetPlace) -> Refused | None:
    return rights.refusal(type(cmd), {Role.MANAGER} if cmd.manager else ())


def out_of_range(cmd: SetPolicy) -> Refused | None:
    """Return why a policy cannot have these figures, or None. Refused: as `set_policy`."""
    if cmd.quorum is not None and not 0 <= cmd.quorum <= MOST_VOTES:
        return Refused("quorum-out-of-range", f"A quorum is 0 to {MOST_VOTES:,} votes; 0 asks for none.")
    if cmd.share is not None and not 1 <= cmd.share <= 100:
        return Refused("share-out-of-range", "The share is 1 to 100 per cent of the votes for and against.")
    if cmd.window and not SHORTEST_WINDOW <= cmd.window <= LONGEST_WINDOW:
        return Refused(
            "window-out-of-range", "A proposal can be open from five minutes to ninety days; 0 is no deadline."
        )
    return None


def merged(before: Policy, cmd: SetPolicy) -> Policy | Refused:
    """Return a policy with what a command sets. Refused: "role-missing", "vote-needs-window"."""
    voters = cmd.voters or (Voters.ROLE if cmd.role is not None else before.voters)
    role = (cmd.role if cmd.role is not None else before.role) if voters is Voters.ROLE else None
    if voters is Voters.ROLE and role is None:
        return Refused("role-missing", "Name the role whose members vote.")
    if voters is not Voters.ROLE and cmd.role is not None:
        return Refused("role-missing", "A role goes with voters of that role; leave one of the two out.")
    window = before.window if cmd.window is None else (cmd.window or None)
    decider = cmd.decider or before.decider
    if decider is Decider.VOTE and window is None:
        return Refused("vote-needs-window", "Where the vote decides, proposals need a deadline; set a number of hours.")
    return Policy(
        voters=voters,
        role=role,
        author_votes=before.author_votes if cmd.author_votes is None else cmd.author_votes,
        proposer_votes=before.proposer_votes if cmd.proposer_votes is None else cmd.proposer_votes,
        quorum=before.quorum if cmd.quorum is None else cmd.quorum,
        share=before.share if cmd.share is None else cmd.share,
        window=window,
        ballot=cmd.ballot or before.ballot,
        decider=decider,
    )
