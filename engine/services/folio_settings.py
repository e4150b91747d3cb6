"""Who may add folios to a server, where folios are on, and which of their versions is in use."""

from dataclasses import dataclass
from datetime import datetime

from engine.problem import Refused
from engine.services import rights
from engine.services.folio_finding import find_folio, library_roles, note, touched_by, version_of
from engine.services.folio_views import FolioView, LibraryView, folio_view
from engine.services.folios import MOST_SIZE, MOST_VERSIONS
from engine.services.rights import Role
from engine.services.seating import find_table, roles_at
from engine.services.views import Ref
from engine.store.models import Server, TableFolio
from engine.store.uow import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class ShowLibrary:
    """Ask who may add folios here, and how much is kept."""

    server: int
    member: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SetLibrarians:
    """Set who may add folios besides those who manage the server.

    role: chat role whose members may; the server's own id for everybody, None for nobody. manager: whether the member
    manages the server.
    """

    server: int
    member: int
    manager: bool
    role: int | None
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchFolio:
    """Switch a folio on or off: for a table, or for the whole server where none is named.

    One that is off for the server can be on for some tables. manager: whether the member manages the server; roles:
    chat roles held.
    """

    server: int
    member: int
    folio: str
    on: bool
    at: datetime
    table: Ref | None = None
    manager: bool = False
    roles: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class UseVersion:
    """Put another version of a folio in use, such as the one before. manager, roles: as in `SwitchFolio`."""

    server: int
    member: int
    folio: str
    version: str
    at: datetime
    manager: bool = False
    roles: frozenset[int] = frozenset()


async def show_library(cmd: ShowLibrary, uow: UnitOfWork) -> LibraryView:
    """Return who may add folios, and how much is kept; the defaults where nobody has set any."""
    async with uow.reading():
        return await _library(uow, cmd.server, await uow.people.server(cmd.server))


async def set_librarians(cmd: SetLibrarians, uow: UnitOfWork) -> LibraryView | Refused:
    """Store who may add folios. Returns: the setting. Refused: "not-allowed", "nothing-changed"."""
    refused = rights.refusal(SetLibrarians, {Role.MANAGER} if cmd.manager else ())
    if refused is not None:
        return refused
    async with uow:
        await uow.people.ensure(cmd.server, cmd.member)
        row = await uow.people.server(cmd.server, for_update=True)
        assert row is not None  # just made sure of
        if row.librarians == cmd.role:
            return Refused("nothing-changed", "That is who may add folios here already; nothing was changed.")
        row.librarians = cmd.role
        uow.history.append(
            cmd.server, 0, "server", "librarians-set", actor=cmd.member, at=cmd.at, data={"role": cmd.role}
        )
        view = await _library(uow, cmd.server, row)
        await uow.commit()
    return view


async def switch_folio(cmd: SwitchFolio, uow: UnitOfWork) -> FolioView | Refused:
    """Switch a folio on or off. Builds that use it keep it; a table tells them where it is off.

    Refused: "no-such-folio", as `find_table`, "not-allowed", "nothing-changed".
    """
    async with uow:
        await uow.people.ensure(cmd.server, cmd.member)
        row = await find_folio(uow, cmd.server, cmd.folio)
        if isinstance(row, Refused):
            return row
        if cmd.table is None:
            held = await library_roles(uow, cmd.server, cmd.member, cmd.manager, cmd.roles, row.id)
            refused = rights.refusal(SwitchFolio, held)
            if refused is not None:
                return refused
            if row.everywhere == cmd.on:
                return _already(f"{row.title} is {_word(cmd.on)} for this server already")
            await uow.folios.switch(cmd.server, row.id, cmd.on)
            note(uow, cmd, f"folio-switched-{_word(cmd.on)}", row.id)
        else:
            refused = await _at_table(uow, cmd, cmd.table, row.id, row.title)
            if refused is not None:
                return refused
        view = await folio_view(uow, cmd.server, row.id, cmd.member, await touched_by(uow, cmd.server, row.id))
        await uow.commit()
    return view


async def _at_table(uow: UnitOfWork, cmd: SwitchFolio, ref: Ref, id_: str, title: str) -> Refused | None:
    table = await find_table(uow, cmd.server, cmd.member, ref, roles=cmd.roles, for_update=True)
    if isinstance(table, Refused):
        return table
    held = await roles_at(uow, table, cmd.member, roles=cmd.roles, manager=cmd.manager)
    refused = rights.refusal(SwitchFolio, held)
    if refused is not None:
        return refused
    on = any(each.folio == id_ for each in await uow.folios.at_tables(cmd.server, [table.number]))
    if on == cmd.on:
        return _already(f"{title} is {_word(cmd.on)} for {table.name} already")
    if cmd.on:
        await uow.folios.put_on_table(
            TableFolio(server=cmd.server, at_table=table.number, folio=id_, member=cmd.member, at=cmd.at)
        )
    else:
        await uow.folios.take_off_table(cmd.server, table.number, id_)
    uow.history.append(
        cmd.server, table.number, "table", f"folio-switched-{_word(cmd.on)}", actor=cmd.member, at=cmd.at,
        data={"folio": id_},
    )  # fmt: skip
    return None


async def use_version(cmd: UseVersion, uow: UnitOfWork) -> FolioView | Refused:
    """Put a version in use: builds that name the folio from now on get it; all others keep theirs.

    Refused: "no-such-folio", "not-allowed", "no-such-version", "nothing-changed".
    """
    async with uow:
        await uow.people.ensure(cmd.server, cmd.member)
        row = await find_folio(uow, cmd.server, cmd.folio)
        if isinstance(row, Refused):
            return row
        held = await library_roles(uow, cmd.server, cmd.member, cmd.manager, cmd.roles, row.id)
        refused = rights.refusal(UseVersion, held)
        wanted = refused or version_of(await uow.folios.versions(cmd.server, row.id), cmd.version)
        if isinstance(wanted, Refused):
            return wanted
        if wanted.current:
            return _already(f"{row.title} {row.version} is in use already")
        await uow.folios.put_in_use(cmd.server, row.id, wanted.version)
        note(uow, cmd, "folio-version-used", row.id, version=wanted.version)
        view = await folio_view(uow, cmd.server, row.id, cmd.member)
        await uow.commit()
    return view


def _word(on: bool) -> str:
    return "on" if on else "off"


def _already(sentence: str) -> Refused:
    return Refused("nothing-changed", f"{sentence}; nothing was changed.")


async def _library(uow: UnitOfWork, server: int, row: Server | None) -> LibraryView:
    versions, size = await uow.folios.weight(server)
    librarians = None if row is None else row.librarians
    return LibraryView(
        librarians=librarians,
        everybody=librarians == server,
        versions=versions,
        size=size,
        most_versions=MOST_VERSIONS,
        most_size=MOST_SIZE,
    )
