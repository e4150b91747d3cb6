"""Who may vote, how votes count and who decides: the ordinary rules of a meeting, as plain values."""

from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum


class Choice(StrEnum):
    """What a member can say on a proposal."""

    FOR = "for"
    AGAINST = "against"
    ABSTAIN = "abstain"


class Decider(StrEnum):
    """Who turns an open proposal into an adopted or a declined one."""

    AUTHOR = "author"
    VOTE = "vote"
    GM = "gm"


class Ballot(StrEnum):
    """Whether members see who voted what."""

    OPEN = "open"
    SECRET = "secret"


class Voters(StrEnum):
    """Which members may vote at all; author and proposer are let in or kept out besides."""

    EVERYONE = "everyone"
    ROLE = "role"
    TABLE = "table"


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """How one proposal is decided; fixed when it is opened, so that nobody changes the rules of a running vote.

    quorum: votes needed of any kind, abstentions included. share: per cent of for + against that must be for.
    window: how long it stays open, None for no deadline. role: chat role id, with Voters.ROLE only.
    """

    voters: Voters = Voters.EVERYONE
    role: int | None = None
    author_votes: bool = True
    proposer_votes: bool = True
    quorum: int = 0
    share: int = 50
    window: timedelta | None = None
    ballot: Ballot = Ballot.OPEN
    decider: Decider = Decider.AUTHOR

    def __post_init__(self) -> None:
        if self.quorum < 0:
            raise ValueError(f"a quorum cannot be negative: {self.quorum}")
        if not 0 < self.share <= 100:
            raise ValueError(f"a share is 1 to 100 per cent: {self.share}")
        if (self.role is None) == (self.voters is Voters.ROLE):
            raise ValueError("a role goes with voters of that role, and only with them")


@dataclass(frozen=True, slots=True)
class Tally:
    """Votes counted."""

    for_: int = 0
    against: int = 0
    abstain: int = 0

    @property
    def all(self) -> int:
        """Votes of any kind."""
        return self.for_ + self.against + self.abstain

    def has_quorum(self, policy: Policy) -> bool:
        """Tell whether enough members voted."""
        return self.all >= policy.quorum

    def passes(self, policy: Policy) -> bool:
        """Tell whether the vote is won: for / (for + against) reaches the share, and all votes the quorum.

        Without any vote for or against there is no share to reach, so nothing passes.
        """
        cast = self.for_ + self.against
        return cast > 0 and self.for_ * 100 >= policy.share * cast and self.has_quorum(policy)


DEFAULT_POLICY = Policy()
_LONGEST_NOTICE = timedelta(days=1)


def notice_before(window: timedelta) -> timedelta:
    """Return how long before its deadline a proposal reminds of it: a quarter of its window, at most a day."""
    return min(window / 4, _LONGEST_NOTICE)
