"""Members: the names they were last seen with, and whether notices may reach them."""

from dataclasses import dataclass
from datetime import datetime

from engine.store.uow import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class RememberMember:
    """Note a member's name as shown in chat."""

    server: int
    member: int
    name: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class SetNotices:
    """Let notices reach oneself on a server, or not."""

    server: int
    member: int
    on: bool
    at: datetime


async def set_notices(cmd: SetNotices, uow: UnitOfWork) -> None:
    """Store whether notices may reach a member; nobody else is told."""
    async with uow:
        await uow.people.ensure(cmd.server, cmd.member)
        await uow.people.silence(cmd.server, cmd.member, None if cmd.on else cmd.at)
        await uow.commit()


async def remember_member(cmd: RememberMember, uow: UnitOfWork) -> None:
    """Store a member's name in place of the one known before."""
    async with uow:
        await uow.people.ensure(cmd.server, cmd.member)
        await uow.people.rename(cmd.server, cmd.member, cmd.name, cmd.at)
        await uow.commit()
