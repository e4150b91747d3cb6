"""Under which policy a build's proposals are decided, who its game masters are, and whom a notice may reach."""

from collections.abc import Iterable
from dataclasses import replace

from engine.review.events import read_policy
from engine.review.policy import DEFAULT_POLICY, Policy, Voters
from engine.services.views import Notice, NoticeKind
from engine.store.models import BuildRow
from engine.store.uow import UnitOfWork


async def policy_for(uow: UnitOfWork, row: BuildRow) -> Policy:
    """Return the policy that a proposal to a build is opened under: that of its table, else that of its server.

    A build at no table has no table to vote, so everybody does.
    """
    table = await uow.tables.of_build(row.server, row.number)
    stored = table.policy if table is not None else None
    if stored is None:
        stored = await uow.people.policy(row.server)
    policy = DEFAULT_POLICY if stored is None else read_policy(stored)
    if table is None and policy.voters is Voters.TABLE:
        return replace(policy, voters=Voters.EVERYONE)
    return policy


async def gms_for(uow: UnitOfWork, row: BuildRow, member: int, manager: bool) -> frozenset[int]:
    """Return who is game master of a build: those of its table; at none, whoever manages the server.

    manager: whether `member` manages the server.
    """
    table = await uow.tables.of_build(row.server, row.number)
    if table is not None:
        return await uow.tables.gms(row.server, table.number)
    return frozenset({member}) if manager else frozenset()


async def notice(
    uow: UnitOfWork, server: int, subject: int, title: str, kind: NoticeKind, members: Iterable[int], actor: int | None
) -> tuple[Notice, ...]:
    """Return the notice for those of some members whom it may reach and who did not act themselves; none for nobody."""
    told = await uow.people.reachable(server, {*members} - {actor})
    return (Notice(subject, title, kind, told),) if told else ()
