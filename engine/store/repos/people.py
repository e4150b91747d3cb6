"""Servers with their settings, members and the shared counter."""

from collections.abc import Collection
from datetime import datetime
from typing import Any, Final

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

    async def server(self, server: int, *, for_update: bool = False) -> Server | None:
        """Return a server with its settings."""
        statement = select(Server).where(Server.id == server)
        if for_update:
            statement = statement.with_for_update().execution_options(populate_existing=True)
        return (await self._link.session.scalars(statement)).one_or_none()

    async def policy(self, server: int) -> dict[str, Any] | None:
        """Return the stored policy of a server, None for the default."""
        found: dict[str, Any] | None = await self._link.session.scalar(select(Server.policy).where(Server.id == server))
        return found

    async def servers_left(self, before: datetime) -> list[int]:
        """Return the servers that the bot was removed from before a time."""
        return list(await self._link.session.scalars(select(Server.id).where(Server.left <= before)))

    async def servers(self) -> list[int]:
        """Return every server that the bot has not been removed from."""
        return list(await self._link.session.scalars(select(Server.id).where(Server.left.is_(None))))

    async def silence(self, server: int, member: int, since: datetime | None) -> None:
        """Note since when no notice may reach a member, None if notices may."""
        await self._link.session.execute(
            update(Member).where(Member.server == server, Member.id == member).values(silent=since)
        )

    async def reachable(self, server: int, members: Collection[int]) -> tuple[int, ...]:
        """Return those of some members whom notices may reach, sorted; not the erased."""
        if not members:
            return ()
        silent = set(
            await self._link.session.scalars(
                select(Member.id).where(Member.server == server, Member.id.in_(members), Member.silent.is_not(None))
            )
        )
        return tuple(sorted(member for member in set(members) - silent if member > 0))

    async def member(self, server: int, member: int) -> Member | None:
        """Return what is known of a member."""
        return await self._link.session.get(Member, (server, member))

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
