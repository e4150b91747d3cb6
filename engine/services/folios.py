"""Folios of a server: checked, added, listed, shown, taken away, brought back, handed out again as they came."""

import asyncio
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final
from weakref import WeakKeyDictionary

from engine.problem import Refused
from engine.rules.folio import HEADER, Folio, FolioProblem
from engine.rules.loader import read_folio
from engine.rules.names import fold
from engine.services import rights
from engine.services.folio_finding import find_folio, library_roles, note, touched_by, version_of
from engine.services.folio_views import (
    FolioAdded,
    FolioBrief,
    FolioChecked,
    FolioErrors,
    FolioFile,
    FolioView,
    briefs,
    counts_of,
    folio_view,
)
from engine.services.library import catalog, hold, size_of
from engine.services.shelves import folio_of
from engine.store.archives import MAX_ZIP, is_zip
from engine.store.folio_files import beside, files_of, load_shipped, shipped_folios
from engine.store.models import FolioRow
from engine.store.uow import UnitOfWork

MOST_FOLIOS: Final = 50
MOST_VERSIONS: Final = 200
MOST_SIZE: Final = 64 * 1024 * 1024
LONGEST_FILE: Final = MAX_ZIP
_SUGGESTED: Final = 25
_NOTED: Final = 10
_LONGEST_NAME: Final = 120
_turns: Final[WeakKeyDictionary[asyncio.AbstractEventLoop, asyncio.Semaphore]] = WeakKeyDictionary()


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckFolio:
    """Look at a folio without keeping it. name: of the file, one YAML file or a zip of a folder; data: its bytes."""

    server: int
    member: int
    name: str
    data: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class AddFolio:
    """Keep a version of a folio and put it in use. name, data: as in `CheckFolio`.

    manager: whether the member manages the server; roles: chat roles held.
    """

    server: int
    member: int
    name: str
    data: bytes
    at: datetime
    manager: bool = False
    roles: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class ListFolios:
    """Ask for the folios of a server. removed: for those that were taken away instead."""

    server: int
    member: int
    removed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SuggestFolios:
    """Ask for up to 25 folios whose id or title holds the text. removed: as in `ListFolios`."""

    server: int
    member: int
    text: str = ""
    removed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ShowFolio:
    """Ask for one folio, by id or title; one that was taken away too."""

    server: int
    member: int
    folio: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RemoveFolio:
    """Take a folio away. Builds that use it keep its ids; it can be brought back. manager, roles: as in `AddFolio`."""

    server: int
    member: int
    folio: str
    at: datetime
    manager: bool = False
    roles: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class BringBackFolio:
    """Bring a folio back that was taken away, in all its versions. manager, roles: as in `AddFolio`."""

    server: int
    member: int
    folio: str
    at: datetime
    manager: bool = False
    roles: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class ExportFolio:
    """Ask for a folio's file as it came. version None: the one in use."""

    server: int
    member: int
    folio: str
    version: str | None = None


async def check_folio(cmd: CheckFolio, uow: UnitOfWork) -> FolioChecked | FolioErrors | Refused:
    """Return what a folio says of itself and holds, or everything that is wrong with it; nothing is kept.

    Refused: "file-too-large", and what would keep it out of this server: "a-release", "id-taken", "title-taken".
    """
    found = await _read(uow, cmd.server, cmd.name, cmd.data)
    if not isinstance(found, Folio):
        return found
    async with uow.reading():
        refused = await _fits(uow, cmd.server, found)
    return refused or _checked(found)


async def add_folio(cmd: AddFolio, uow: UnitOfWork) -> FolioAdded | FolioErrors | Refused:
    """Keep a version of a folio, switched on for the server as the versions before it; new builds get this one now.

    A folio that was taken away is back with it. Returns: the folio, or everything that is wrong with the file; or
        Refused: as `check_folio`, "not-allowed", "already-there" for content that is here, "version-taken" for other
        content under a version that is here, "too-many-folios", "too-many-versions", "library-full".
    """
    async with uow.reading():
        refused = await _may_change(uow, cmd, None)
    if refused is not None:
        return refused
    found = await _read(uow, cmd.server, cmd.name, cmd.data)
    if not isinstance(found, Folio):
        return found
    header = found.header
    async with uow:
        await uow.people.ensure(cmd.server, cmd.member)
        # Held, so that of two who add at once the second sees what the first did.
        await uow.people.server(cmd.server, for_update=True)
        versions = await uow.folios.versions(cmd.server, found.id)
        refused = await _may_change(uow, cmd, found.id) or await _fits(uow, cmd.server, found) or _new(found, versions)
        gone = refused or await _room(uow, cmd, not versions)
        if isinstance(gone, Refused):
            return gone
        row = FolioRow(
            server=cmd.server,
            id=found.id,
            version=header.version,
            hash=found.hash,
            title=header.title,
            author=header.author,
            licence=header.licence,
            about=header.attribution.replace("\0", ""),
            name=_file_name(cmd.name, found, cmd.data),
            size=len(cmd.data),
            entries=size_of(found),
            data=cmd.data,
            added_by=cmd.member,
            at=cmd.at,
            current=False,
            everywhere=all(each.everywhere for each in versions),
            removed=None,
        )
        await uow.folios.add(row)
        await uow.folios.put_in_use(cmd.server, found.id, header.version)
        await uow.folios.remove(cmd.server, found.id, None)
        note(uow, cmd, "folio-added", found.id, version=header.version, hash=found.hash, gone=list(gone))
        view = await folio_view(uow, cmd.server, found.id, cmd.member)
        concerned = sum(len(each.builds) + each.hidden for each in view.versions if not each.current)
        await uow.commit()
    hold(found)
    went = (f"To make room, versions that no build uses were deleted: {', '.join(gone)}.",) if gone else ()
    return FolioAdded(view=view, notes=(*_notes(found), *went), concerned=concerned)


async def list_folios(cmd: ListFolios, uow: UnitOfWork) -> list[FolioBrief]:
    """Return the folios of a server in the versions in use, by title."""
    async with uow.reading():
        rows = await (uow.folios.gone if cmd.removed else uow.folios.here)(cmd.server)
        return sorted(await briefs(uow, cmd.server, rows), key=lambda each: (each.title.casefold(), each.id))


async def suggest_folios(cmd: SuggestFolios, uow: UnitOfWork) -> list[FolioBrief]:
    """Return folios for an autocomplete; what is to be sent is the id."""
    found = await list_folios(ListFolios(server=cmd.server, member=cmd.member, removed=cmd.removed), uow)
    wanted = fold(cmd.text[:_LONGEST_NAME])
    return [each for each in found if wanted in fold(each.title) or wanted in fold(each.id)][:_SUGGESTED]


async def show_folio(cmd: ShowFolio, uow: UnitOfWork) -> FolioView | Refused:
    """Return a folio with its versions and the builds that use them. Refused: "no-such-folio"."""
    async with uow.reading():
        row = await find_folio(uow, cmd.server, cmd.folio, gone=True)
        return row if isinstance(row, Refused) else await folio_view(uow, cmd.server, row.id, cmd.member)


async def remove_folio(cmd: RemoveFolio, uow: UnitOfWork) -> FolioView | Refused:
    """Take a folio away; its versions stay stored, and builds keep what they say of it.

    Refused: "no-such-folio", "not-allowed".
    """
    return await _gone(cmd, uow, cmd.at)


async def bring_back_folio(cmd: BringBackFolio, uow: UnitOfWork) -> FolioView | Refused:
    """Bring a folio back. Refused: "no-such-folio", "not-allowed", "nothing-changed" for one that is there."""
    return await _gone(cmd, uow, None)


async def export_folio(cmd: ExportFolio, uow: UnitOfWork) -> FolioFile | Refused:
    """Return the bytes of a folio as they came, also of one that was taken away.

    Refused: "no-such-folio", "no-such-version".
    """
    async with uow.reading():
        row = await find_folio(uow, cmd.server, cmd.folio, gone=True)
        if cmd.version is not None and not isinstance(row, Refused):
            row = version_of(await uow.folios.versions(cmd.server, row.id), cmd.version)
        if isinstance(row, Refused):
            return row
        return FolioFile(row.id, row.version, row.name, await uow.folios.data(row))


# -- parts ------------------------------------------------------------------------------------------------------


async def _may_change(uow: UnitOfWork, cmd: AddFolio | RemoveFolio | BringBackFolio, id_: str | None) -> Refused | None:
    """Return why a member may not add or change a folio, or None if they may. id_: None for any at all.

    Where everybody may add folios, each changes those only that they have added themselves. Refused: "not-allowed".
    """
    return rights.refusal(type(cmd), await library_roles(uow, cmd.server, cmd.member, cmd.manager, cmd.roles, id_))


async def _gone(cmd: RemoveFolio | BringBackFolio, uow: UnitOfWork, since: datetime | None) -> FolioView | Refused:
    async with uow:
        await uow.people.ensure(cmd.server, cmd.member)
        row = await find_folio(uow, cmd.server, cmd.folio, gone=since is None)
        if isinstance(row, Refused):
            return row
        refused = await _may_change(uow, cmd, row.id)
        if refused is not None:
            return refused
        if since is None and row.removed is None:
            return Refused("nothing-changed", f"{row.title} is here; nothing was changed.")
        await uow.folios.remove(cmd.server, row.id, since)
        note(uow, cmd, "folio-brought-back" if since is None else "folio-removed", row.id)
        view = await folio_view(uow, cmd.server, row.id, cmd.member, await touched_by(uow, cmd.server, row.id))
        await uow.commit()
    return view


async def _read(uow: UnitOfWork, server: int, name: str, data: bytes) -> Folio | FolioErrors | Refused:
    if len(data) > LONGEST_FILE:
        return Refused(
            "file-too-large",
            f"That file has {len(data) / 1024 / 1024:.1f} MB; a folio may have {LONGEST_FILE // 1024 // 1024} MB.",
        )
    async with uow.reading():
        others = [folio for row in await uow.folios.here(server) if (folio := await folio_of(uow, row)) is not None]
    # One after another: a large file takes seconds, and what else is worked out beside the event loop must not wait.
    async with _turns.setdefault(asyncio.get_running_loop(), asyncio.Semaphore(1)):
        return await asyncio.to_thread(_parsed, name, data, others)


def _parsed(name: str, data: bytes, others: Sequence[Folio]) -> Folio | FolioErrors:
    files = files_of(name, data)
    if isinstance(files, FolioProblem):
        return FolioErrors((str(files),))
    # What else a version before says is no part of this one.
    found = read_folio(files, lambda extends: beside(extends, others))
    if isinstance(found, Folio):
        return found
    alone = not is_zip(data)
    shown = [FolioProblem(name or HEADER, each.line, each.sentence) if alone else each for each in found]
    return FolioErrors(tuple(map(str, shown)))


async def _fits(uow: UnitOfWork, server: int, folio: Folio) -> Refused | None:
    if folio.release is not None:
        return Refused(
            "a-release", f"{folio.title} is a rules release of its own; a server brings folios that extend one."
        )
    names = {fold(folio.id), fold(folio.title)}
    for id_ in shipped_folios():
        if names & {fold(id_), fold(load_shipped(id_).title)}:
            return Refused(
                "id-taken",
                f"{folio.title} is called like {load_shipped(id_).title}; give it an id and title of its own.",
            )
    for row in [*await uow.folios.here(server), *await uow.folios.gone(server)]:
        if row.id != folio.id and names & {fold(row.id), fold(row.title)}:
            return Refused(
                "title-taken",
                f"{row.title} ({row.id}) has that name on this server already; give yours another id and title, or its"
                " id if it is a new version of that.",
            )
    return None


def _new(folio: Folio, versions: Sequence[FolioRow]) -> Refused | None:
    for row in versions:
        if row.hash == folio.hash:
            how = "/content back brings it back" if row.removed is not None else "nothing was changed"
            return Refused("already-there", f"{row.title} {row.version} is here already with the same content; {how}.")
    for row in versions:
        if row.version == folio.header.version:
            return Refused(
                "version-taken",
                f"{row.title} {row.version} is here already with other content; write a new `version:` into the changed"
                " folio, so that builds can tell the two apart.",
            )
    return None


async def _room(uow: UnitOfWork, cmd: AddFolio, first: bool) -> tuple[str, ...] | Refused:
    """Make room for one more version, if it takes any; return which versions went for it.

    Those go that nothing needs: of folios taken away, or followed by another, and named by no revision or proposal.
    """
    if first and len(await uow.folios.here(cmd.server)) >= MOST_FOLIOS:
        return Refused(
            "too-many-folios", f"This server has {MOST_FOLIOS} folios, and no more are kept; take one away first."
        )
    gone: list[str] = []
    # The version last in use of a folio goes after all others of it.
    unused = sorted(await uow.folios.unused(cmd.server), key=lambda row: row.current)
    while (full := _full(*await uow.folios.weight(cmd.server), len(cmd.data))) is not None:
        row = unused.pop(0) if unused else None
        if row is None:
            return full
        if not row.current or len(await uow.folios.versions(cmd.server, row.id)) == 1:
            await uow.folios.drop(row)
            gone.append(f"{row.title} {row.version}")
    return tuple(gone)


def _full(count: int, size: int, more: int) -> Refused | None:
    if count >= MOST_VERSIONS:
        return Refused(
            "too-many-versions",
            f"This server keeps {count} versions of folios that builds use, and no more are kept; move builds to newer"
            " versions, or take folios away that none uses.",
        )
    if size + more > MOST_SIZE:
        return Refused(
            "library-full",
            f"The folios of this server have {size / 1024 / 1024:.1f} MB, and no more than"
            f" {MOST_SIZE // 1024 // 1024} MB are kept; move builds to newer versions, or take folios away that none"
            " uses.",
        )
    return None


def _file_name(name: str, folio: Folio, data: bytes) -> str:
    plain = "".join(c for c in name.replace("\\", "/").rpartition("/")[2] if c.isprintable())
    suffix = ".zip" if is_zip(data) else ".yaml"
    return plain if 0 < len(plain) <= _LONGEST_NAME else f"{folio.id}{suffix}"


def _checked(folio: Folio) -> FolioChecked:
    header = folio.header
    return FolioChecked(
        id=header.id,
        title=header.title,
        author=header.author,
        licence=header.licence,
        attribution=header.attribution,
        version=header.version,
        hash=folio.hash,
        counts=counts_of(folio),
        notes=_notes(folio),
    )


def _notes(folio: Folio) -> tuple[str, ...]:
    """Return what is allowed and worth a look: names that the release has too, and what the header leaves out."""
    found = []
    if folio.header.author is None:
        found.append("The folio names no author; write `author:` into its header, so that members know whose it is.")
    if not size_of(folio) and not (folio.header.bars or folio.header.replaces or folio.header.lists):
        found.append("The folio holds no entries yet.")
    extends = folio.header.extends
    if extends is None:
        found.append("The folio does not say which rules it extends; write `extends: srd-5.1` into its header.")
    if extends not in (None, *shipped_folios()):
        return tuple(found)
    release = catalog() if extends is None else catalog(extends)
    replaced = {word.rpartition(" ")[2] for word in folio.header.replaces}
    twice = [
        f"The {kind.replace('-', ' ')} {entry.name} has the id `{entry.id}`, which {release.folios[0].title} has too;"
        f" builds write yours as `{folio.id}/{entry.id}`. To take its place, list it under `replaces:`."
        for kind, entry in folio.all()
        if entry.id not in replaced and release.named(kind, entry.id) is not None
    ]
    more = [f"{len(twice) - _NOTED} more ids are in the release too."] if len(twice) > _NOTED else []
    return (*found, *twice[:_NOTED], *more)
