"""Servers, members and the shared counter."""

from datetime import datetime
from typing import Final

from sqlalchemy import select, update

from engine.store.link import Link
from engine.store.models import Counter, Member, Server
from engine.store.prepared import Call, Write

_SERVER: Final = Write(lambda insert: insert(Server).on_conflict_do_nothing(), "id")
_COUNTER: Final = Write(lambda insert: insert(Counter).on_conflict_do_nothing(), "server", "last")
_MEMBER: Final = Write(lambda insert: insert(Member).on_conflict_do_nothing(), "server", "id")


def known_member(server: int, member: int) -> Call:
    """Return the call that notes a member of a server that is known already; nothing happens the second time."""
    return _MEMBER(server=server, id=member)


class People:
    """Servers, their members, and the numbers given out to what they make."""

    def __init__(self, link: Link) -> None:
        self._link = link

    async def ensure(self, server: int, member: int | None = None) -> None:
        """Note that a server exists, and a member of it; rows that refer to them can follow."""
        calls = [_SERVER(id=server), _COUNTER(server=server, last=0)]
        if member is not None:
            calls.append(known_member(server, member))
        await self._link.run(*calls)

    async def next_number(self, server: int) -> int:
        """Return the next number of a server that is known; two callers never get the same one."""
        taken = update(Counter).where(Counter.server == server).values(last=Counter.last + 1).returning(Counter.last)
        return (await self._link.session.execute(taken)).scalar_one()

    async def rename(self, server: int, member: int, name: str, at: datetime) -> None:
        """Note the name that a member was last seen with."""
        await self._link.session.execute(
            update(Member).where(Member.server == server, Member.id == member).values(name=name[:100], seen=at)
        )

    async def names(self, server: int, members: set[int]) -> dict[int, str]:
        """Return the names of those members that were ever told."""
        found = await self._link.session.execute(
            select(Member.id, Member.name).where(
                Member.server == server, Member.id.in_(members), Member.name.is_not(None)
            )
        )
        return {id_: name for id_, name in found if name is not None}
