"""Votes on proposals."""

from dataclasses import dataclass
from datetime import datetime

from engine.problem import Refused
from engine.review.policy import Choice
from engine.services.views import VoteResult
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


async def cast_vote(cmd: CastVote, uow: UnitOfWork) -> VoteResult | Refused: ...
