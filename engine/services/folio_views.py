"""Folios of a server as members see them: lists, one folio with its versions and builds, what a check found."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from engine.audit.difference import Difference
from engine.rules.folio import KINDS, Folio
from engine.services.documents import read_document
from engine.services.shelves import folio_of, meant
from engine.services.views import BuildView
from engine.store.models import BuildRow, FolioRow
from engine.store.uow import UnitOfWork

MOST_BUILDS = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class FolioBrief:
    """A folio in the version in use. entries: how many. everywhere: whether it is on for the whole server.

    tables: number and name of those that it is on for besides. added_by, at: of that version. removed: since when it
    is gone.
    """

    id: str
    title: str
    version: str
    author: str | None
    licence: str
    entries: int
    everywhere: bool
    tables: tuple[tuple[int, str], ...]
    added_by: int
    at: datetime
    removed: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FolioVersion:
    """One version. current: whether it is in use. size: bytes as they came.

    builds: number and name of those that use it and that the asking member can see; hidden: how many more use it.
    """

    version: str
    hash: str
    added_by: int
    at: datetime
    size: int
    entries: int
    current: bool
    builds: tuple[tuple[int, str], ...]
    hidden: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FolioView:
    """A folio with its versions, newest first. counts: kind in words and how many entries of it the one in use has.

    touched: numbers of submissions whose cards say something else now.
    """

    brief: FolioBrief
    attribution: str
    counts: tuple[tuple[str, int], ...]
    versions: tuple[FolioVersion, ...]
    touched: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FolioChecked:
    """A folio that is in order. notes: sentences about what is allowed and worth a look."""

    id: str
    title: str
    author: str | None
    licence: str
    attribution: str
    version: str
    hash: str
    counts: tuple[tuple[str, int], ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FolioErrors:
    """Everything that is wrong with a folio, each `FILE:LINE: sentence`, in the order of the files."""

    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FolioAdded:
    """A version that was added and is in use now. concerned: how many builds use another version of it."""

    view: FolioView
    notes: tuple[str, ...]
    concerned: int


@dataclass(frozen=True, slots=True)
class FolioFile:
    """A version as it came."""

    id: str
    version: str
    name: str
    data: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class LibraryView:
    """Who may add folios, and how much is kept. librarians: chat role, None for managers only.

    versions, size: how many and how many bytes in all, of at most most_versions and most_size.
    """

    librarians: int | None
    everybody: bool
    versions: int
    size: int
    most_versions: int
    most_size: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Concerned:
    """A build that would change. version: of the folio in it. difference: from what it is to what it would be."""

    view: BuildView
    version: str
    difference: Difference


@dataclass(frozen=True, slots=True, kw_only=True)
class ConcernedView:
    """Builds that would change if they moved to the version in use, or if the folio were gone. more: not worked out."""

    folio: FolioBrief
    removal: bool
    builds: tuple[Concerned, ...]
    more: int


def counts_of(folio: Folio) -> tuple[tuple[str, int], ...]:
    """Return how many entries of each kind a folio has, in the order of its folders; kinds without any are left out."""
    return tuple((kind, n) for kind in KINDS.values() if (n := len(folio.entries.get(kind, ()))))


async def briefs(uow: UnitOfWork, server: int, rows: Iterable[FolioRow]) -> list[FolioBrief]:
    """Return folios in the versions given."""
    names = {row.number: row.name for row in await uow.tables.all(server)}
    at: dict[str, list[tuple[int, str]]] = {}
    for each in await uow.folios.at_tables(server):
        if each.at_table in names:
            at.setdefault(each.folio, []).append((each.at_table, names[each.at_table]))
    return [
        FolioBrief(
            id=row.id,
            title=row.title,
            version=row.version,
            author=row.author,
            licence=row.licence,
            entries=row.entries,
            everywhere=row.everywhere,
            tables=tuple(at.get(row.id, ())),
            added_by=row.added_by,
            at=row.at,
            removed=row.removed,
        )
        for row in rows
    ]


async def folio_view(uow: UnitOfWork, server: int, id_: str, member: int, touched: tuple[int, ...] = ()) -> FolioView:
    """Return a folio that is there, as a member sees it."""
    rows = await uow.folios.versions(server, id_)
    current = next(row for row in rows if row.current)
    seen: dict[str, list[tuple[int, str]]] = {}
    hidden: dict[str, int] = {}
    for build, document in await uow.folios.builds_with(server, id_, MOST_BUILDS):
        for use in read_document(document).folios:
            row = meant(use, rows) if use.id == id_ else None
            if row is not None and await visible(uow, build, member):
                seen.setdefault(row.version, []).append((build.number, build.name))
            elif row is not None:
                hidden[row.version] = hidden.get(row.version, 0) + 1
    folio = await folio_of(uow, current)
    [brief] = await briefs(uow, server, [current])
    return FolioView(
        brief=brief,
        attribution=current.about,
        counts=() if folio is None else counts_of(folio),
        versions=tuple(
            FolioVersion(
                version=row.version,
                hash=row.hash,
                added_by=row.added_by,
                at=row.at,
                size=row.size,
                entries=row.entries,
                current=row.current,
                builds=tuple(seen.get(row.version, ())),
                hidden=hidden.get(row.version, 0),
            )
            for row in rows
        ),
        touched=touched,
    )


async def visible(uow: UnitOfWork, build: BuildRow, member: int) -> bool:
    """Tell whether a member may see a build: it is shared, or theirs."""
    return build.shared or build.author == member or member in await uow.builds.coauthors(build.server, build.number)
