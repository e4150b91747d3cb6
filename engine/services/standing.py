"""Under which policy a build's proposals are decided, who its game masters are, and whom a notice may reach."""

from collections.abc import Iterable
from dataclasses import replace

from engine.review.events import read_policy
from engine.review.policy import DEFAULT_POLICY, Policy, Voters
from engine.services.views import Notice, NoticeKind
from engine.store.models import BuildRow
from engine.store.uow import UnitOfWork


async def policy_for(uow: UnitOfWork, row: BuildRow) -> Policy:
    """Return the policy that a proposal to a build is opened under: that of its server.

    A build at no table has no table to vote, so everybody does.
    """
    stored = await uow.people.policy(row.server)
    policy = DEFAULT_POLICY if stored is None else read_policy(stored)
    return replace(policy, voters=Voters.EVERYONE) if policy.voters is Voters.TABLE else policy


async def gms_for(uow: UnitOfWork, row: BuildRow, member: int, manager: bool) -> frozenset[int]:
    """Return who is game master of a build: at no table, whoever manages the server. manager: if `member` does."""
    del uow, row
    return frozenset({member}) if manager else frozenset()


async def notice(
    uow: UnitOfWork, server: int, subject: int, title: str, kind: NoticeKind, members: Iterable[int], actor: int | None
) -> tuple[Notice, ...]:
    """Return the notice for those of some members whom it may reach and who did not act themselves; none for nobody."""
    told = await uow.people.reachable(server, {*members} - {actor})
    return (Notice(subject, title, kind, told),) if told else ()
