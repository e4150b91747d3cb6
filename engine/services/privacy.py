"""What is stored about a member, how it goes when they ask, and how a server's data goes after the bot left it."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from engine.problem import Refused
from engine.services.ownership import close_proposals, give
from engine.store.repos.privacy import as_json
from engine.store.uow import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class MyData:
    """Ask for everything that is stored about oneself on this server."""

    server: int
    member: int


@dataclass(frozen=True, slots=True, kw_only=True)
class EraseMember:
    """Be erased on this server. builds: whether what one wrote stays without a name, or goes."""

    server: int
    member: int
    builds: Literal["stay", "go"]
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class LeaveServer:
    """Note that the bot was removed from a server, which starts the days until its data goes."""

    server: int
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class ReturnToServer:
    """Note that the bot is on a server again, so that its data stays."""

    server: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PurgeServer:
    """Delete everything of a server that the bot left before a time."""

    server: int
    before: datetime


@dataclass(frozen=True, slots=True)
class Erased:
    """What an erase did: numbers of builds deleted, handed to a co-author, and left without an author.

    touched: builds and proposals whose cards say something else now.
    """

    went: tuple[int, ...]
    handed: tuple[int, ...]
    stayed: tuple[int, ...]
    touched: tuple[int, ...]


async def my_data(cmd: MyData, uow: UnitOfWork) -> dict[str, list[dict[str, Any]]]:
    """Return every stored row of this server that names the member: table -> rows as column -> value."""
    async with uow.reading():
        return await uow.privacy.about(cmd.server, cmd.member)


def data_file(found: dict[str, list[dict[str, Any]]]) -> str:
    """Return what `my_data` found as the text of a JSON file."""
    return as_json(found)


async def erase_member(cmd: EraseMember, uow: UnitOfWork) -> Erased | Refused:
    """Replace a member's id by one that names nobody and forget the name; votes stay counted.

    A build with a co-author is handed to the first of them either way. Of the others, "go" deletes each with all that
    hangs on it, and empties remarks and reasons; "stay" leaves them without an author, their proposals declined, since
    nobody is left to decide. Afterwards the database's files are written anew.
    Refused: "nothing-stored".
    """
    went: list[int] = []
    handed: list[int] = []
    stayed: list[int] = []
    closed: list[int] = []
    async with uow:
        if await uow.people.member(cmd.server, cmd.member) is None:
            return Refused("nothing-stored", "Nothing about you is stored on this server.")
        for row in await uow.privacy.builds_of(cmd.server, cmd.member):
            heir = await uow.builds.first_coauthor(cmd.server, row.number)
            if heir is not None:
                await give(uow, row, heir, actor=cmd.member, at=cmd.at)
                uow.history.append(
                    cmd.server, row.number, "build", "build-handed-over", actor=None, at=cmd.at, data={"member": heir}
                )
                handed.append(row.number)
            elif cmd.builds == "go":
                await uow.privacy.drop_build(cmd.server, row.number)
                went.append(row.number)
            else:
                closed += await close_proposals(
                    uow, row, actor=cmd.member, at=cmd.at, reason="the author of the build left"
                )
                stayed.append(row.number)
        await uow.flush()
        if cmd.builds == "go":
            await uow.privacy.blank_texts(cmd.server, cmd.member, cmd.at)
        nobody = await uow.privacy.replace(cmd.server, cmd.member)
        uow.history.append(cmd.server, 0, "server", "member-erased", actor=nobody, at=cmd.at)
        await uow.commit()
    await uow.scrub()
    return Erased(tuple(went), tuple(handed), tuple(stayed), tuple(sorted({*handed, *stayed, *closed})))


async def leave_server(cmd: LeaveServer, uow: UnitOfWork) -> None:
    """Store when the bot was removed from a server, once; one without data is left alone."""
    async with uow:
        row = await uow.people.server(cmd.server, for_update=True)
        if row is not None and row.left is None:
            row.left = cmd.at
            await uow.commit()


async def return_to_server(cmd: ReturnToServer, uow: UnitOfWork) -> None:
    """Forget that the bot was removed from a server."""
    async with uow:
        row = await uow.people.server(cmd.server, for_update=True)
        if row is not None and row.left is not None:
            row.left = None
            await uow.commit()


async def purge_server(cmd: PurgeServer, uow: UnitOfWork) -> bool:
    """Delete a server's data if the bot left it before the time given; return whether it went."""
    async with uow:
        gone = await uow.privacy.purge(cmd.server, cmd.before)
        if gone:
            await uow.commit()
    if gone:
        await uow.scrub()
    return gone


async def servers_known(at: None, uow: UnitOfWork) -> list[int]:
    """Return every server that the bot has not been noted to have left. Over all servers: only the bot asks."""
    del at
    async with uow.reading():
        return await uow.people.servers()


async def servers_left(before: datetime, uow: UnitOfWork) -> list[int]:
    """Return the servers that the bot left before a time. Over all servers: only the bot's own task asks."""
    async with uow.reading():
        return await uow.people.servers_left(before)
