"""Members: the names they were last seen with, for lists that cannot mention them."""

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


async def remember_member(cmd: RememberMember, uow: UnitOfWork) -> None:
    """Store a member's name in place of the one known before."""
    async with uow:
        await uow.people.ensure(cmd.server, cmd.member)
        await uow.people.rename(cmd.server, cmd.member, cmd.name, cmd.at)
        await uow.commit()
