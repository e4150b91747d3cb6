"""Everything of a server in one archive for its managers, and an archive put into a server that is empty.

Private drafts and what members typed into forms belong to them alone and are left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy.exc import IntegrityError

from engine.problem import Refused
from engine.services import rights
from engine.services.packing import Archive, Rows, Stored
from engine.services.rights import Role
from engine.store.plain_rows import BadRow
from engine.store.uow import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadArchive:
    """Ask for the archive of a server. manager: whether the platform says that the member manages it."""

    server: int
    member: int
    manager: bool
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadArchive:
    """Put an archive into a server. home: the server that the archive is of; tables: its rows as plain data."""

    server: int
    home: int
    tables: Rows

    @classmethod
    def of(cls, archive: Archive, server: int | None = None) -> LoadArchive:
        """Return the command for an archive that was read back. server: where to, None for where it was made."""
        return cls(server=archive.server if server is None else server, home=archive.server, tables=archive.tables)


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """What was put there. rows: table -> how many. same: whether it is the archive's own server.

    If it is not, nothing was put there that names channels, roles or messages.
    """

    server: int
    rows: dict[str, int]
    same: bool


async def read_archive(cmd: ReadArchive, uow: UnitOfWork) -> Stored | Refused:
    """Return everything of a server that its managers may take along. Refused: "not-allowed", "nothing-stored"."""
    refused = rights.refusal(ReadArchive, {Role.MANAGER} if cmd.manager else set())
    if refused is not None:
        return refused
    async with uow.reading():
        tables, left_out = await uow.archive.rows(cmd.server)
    if not any(tables.values()):
        return Refused("nothing-stored", "Nothing of this server is stored yet.")
    return Stored(cmd.server, cmd.at, tables, left_out)


async def load_archive(cmd: LoadArchive, uow: UnitOfWork) -> Loaded | Refused:
    """Put the rows of an archive into a server on which nothing has happened yet, all of them or none.

    Refused: "server-not-empty"; "archive-damaged" for rows that do not fit the tables or each other.
    """
    same = cmd.server == cmd.home
    async with uow:
        if not await uow.archive.is_empty(cmd.server):
            return Refused(
                "server-not-empty",
                f"The database holds things of server {cmd.server} already, and an archive is put over nothing; "
                "load it into another server or another database.",
            )
        try:
            rows = await uow.archive.put(cmd.server, cmd.tables, same=same)
            await uow.commit()
        except BadRow as error:
            return Refused("archive-damaged", f"This archive cannot be loaded: {error}.")
        except IntegrityError as error:
            what = str(error.orig).splitlines()[0][:100]
            return Refused(
                "archive-damaged", f"This archive cannot be loaded: its rows do not fit each other ({what})."
            )
    return Loaded(server=cmd.server, rows=rows, same=same)
