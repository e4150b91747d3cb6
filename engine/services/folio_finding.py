"""Finding the folio that a member means, what they are to it, and what hangs on it."""

from collections.abc import Sequence
from datetime import datetime
from typing import Final, Protocol

from engine.problem import Refused
from engine.rules.names import fold, nearest
from engine.services.rights import Role
from engine.store.models import FolioRow
from engine.store.uow import UnitOfWork

_LONGEST_NAME: Final = 120


class Act(Protocol):
    """A command that changes something: whose, on which server, when."""

    @property
    def server(self) -> int:
        """The chat server."""

    @property
    def member(self) -> int:
        """Who does it."""

    @property
    def at(self) -> datetime:
        """When."""


async def find_folio(uow: UnitOfWork, server: int, name: str, *, gone: bool = False) -> FolioRow | Refused:
    """Return the version in use of the folio that a member means, by id or title.

    gone: whether one that was taken away is meant too. Refused: "no-such-folio" with the nearest names.
    """
    rows = await uow.folios.here(server)
    taken_away = await uow.folios.gone(server)
    wanted = fold(name[:_LONGEST_NAME])
    there: list[FolioRow] = [*rows, *(taken_away if gone else ())]
    for row in there:
        if wanted in (fold(row.id), fold(row.title)):
            return row
    if any(wanted in (fold(row.id), fold(row.title)) for row in taken_away):
        return Refused("no-such-folio", f'"{name[:60]}" was taken away; /content back brings it back.')
    near = nearest(name[:_LONGEST_NAME], [row.title for row in rows])
    hint = f" Nearest: {', '.join(near)}." if near else " /content list shows those there are."
    return Refused("no-such-folio", f'There is no folio "{name[:60]}" on this server.{hint}')


def version_of(rows: Sequence[FolioRow], version: str) -> FolioRow | Refused:
    """Return the row of a version. Refused: "no-such-version" with those there are."""
    for row in rows:
        if row.version == version.strip():
            return row
    there = ", ".join(row.version for row in rows[:10])
    return Refused("no-such-version", f'{rows[0].title} has no version "{version[:40]}"; there are: {there}.')


async def library_roles(
    uow: UnitOfWork, server: int, member: int, manager: bool, roles: frozenset[int], id_: str | None
) -> frozenset[Role]:
    """Return what a member is to the folios of a server. id_: of the folio at hand, None for a new one."""
    if manager:
        return frozenset({Role.MANAGER})
    row = await uow.people.server(server)
    librarians = None if row is None else row.librarians
    if librarians is None:
        return frozenset()
    if librarians != server:
        return frozenset({Role.LIBRARIAN}) if librarians in roles else frozenset()
    versions = [] if id_ is None else await uow.folios.versions(server, id_)
    own = not versions or any(each.added_by == member for each in versions)
    return frozenset({Role.LIBRARIAN}) if own else frozenset()


def note(uow: UnitOfWork, cmd: Act, event: str, id_: str, **data: object) -> None:
    """Add a row to the history of the server."""
    uow.history.append(cmd.server, 0, "server", event, actor=cmd.member, at=cmd.at, data={"folio": id_, **data})


async def touched_by(uow: UnitOfWork, server: int, id_: str) -> tuple[int, ...]:
    """Return the numbers of submissions of builds that use a folio, whose cards may say something else now."""
    found = []
    for build, _ in await uow.folios.builds_with(server, id_, 1_000):
        row = await uow.submissions.of_build(server, build.number)
        if row is not None:
            found.append(row.number)
    return tuple(found)
