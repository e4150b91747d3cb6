"""The folios of a server, read for whoever asks: for a stored build, for a text that names some, for looking things up.

The one way to a catalogue from inside a unit of work. A folio's bytes are read from the store when no one in this
process has read that version before; folios that nobody asked for cost nothing.
"""

import asyncio
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from threading import Lock
from typing import Final

from engine.build.document import Build, FolioUse
from engine.build.outline import CatalogFor, named_folios
from engine.problem import Refused
from engine.rules.catalog import Catalog
from engine.rules.folio import Folio
from engine.rules.loader import read_folio
from engine.rules.names import fold
from engine.services.library import DEFAULT_RULES, catalog_for, catalog_of, composed, held, hold
from engine.store.folio_files import files_of, load_shipped, shipped_folios
from engine.store.models import FolioRow
from engine.store.uow import UnitOfWork

_reading: Final = Lock()


async def catalog_here(uow: UnitOfWork, server: int, build: Build) -> Catalog | Refused:
    """Return the catalogue that a build of a server is read by. Refused: as `catalog_of`.

    Each folio counts in the version and hash that the build was made with; one that was removed is left out.
    """
    return catalog_of(build, await of_uses(uow, server, build.folios))


async def reading_by(uow: UnitOfWork, server: int, text: str, build: Build | None = None) -> CatalogFor:
    """Return what finds the catalogue that an outline of a server is read by.

    text: the outline, or a part that may name folios. build: what the text is to change; a folio that it uses already
    stays at its version unless the text names another. Others are taken in the version in use, if they are switched on
    for the server or any table.
    """
    used = () if build is None else build.folios
    found = dict(await of_uses(uow, server, used))
    asked = named_folios(text)
    titles: list[str] = []
    if asked:
        rows = await switched_on(uow, server)
        titles = [row.title for row in rows]
        forms = {form: row.id for row in rows for form in (fold(row.id), fold(row.title))}
        forms |= {form: folio.id for folio in found.values() for form in (fold(folio.id), fold(folio.title))}
        named = [(each, forms[fold(each.name)]) for each in asked if fold(each.name) in forms]
        others = [(each, id_) for each, id_ in named if id_ not in found or each.version or each.hash]
        uses = [FolioUse.model_construct(id=id_, version=each.version, hash=each.hash) for each, id_ in others]
        found |= await of_uses(uow, server, uses)
    return partial(catalog_for, others=found, titles=titles)


async def switched_on(uow: UnitOfWork, server: int) -> list[FolioRow]:
    """Return the version in use of every folio that is on for a server or for one of its tables, by id."""
    rows = await uow.folios.here(server)
    if all(row.everywhere for row in rows):
        return rows
    at_tables = {each.folio for each in await uow.folios.at_tables(server)}
    return [row for row in rows if row.everywhere or row.id in at_tables]


async def catalog_to_look_up(uow: UnitOfWork, server: int) -> Catalog:
    """Return what a server plays by: the release and every folio made for it that is on for the whole server.

    Nothing is hidden in it: what a folio bars or takes the place of is so for the builds that use it, not for others.
    """
    rows = [row for row in await uow.folios.here(server) if row.everywhere]
    folios = [folio for row in rows if (folio := await folio_of(uow, row)) is not None]
    release = load_shipped(DEFAULT_RULES)
    return composed([release, *(_hiding_nothing(f) for f in folios if f.header.extends in (None, release.id))])


def _hiding_nothing(folio: Folio) -> Folio:
    header = folio.header
    if not header.bars and not header.replaces:
        return folio
    # Another hash, since it makes another catalogue than the folio itself does.
    return replace(folio, header=header.model_copy(update={"bars": (), "replaces": ()}), hash=f"{folio.hash} open")


async def folio_of(uow: UnitOfWork, row: FolioRow) -> Folio | None:
    """Return a stored version; None where this version of the program cannot read it any more."""
    found = held(row.hash)
    if found is None:
        data = await uow.folios.data(row)
        found = await asyncio.to_thread(_read, row.hash, row.name, data)
    return found


def _read(hash_: str, name: str, data: bytes) -> Folio | None:
    """Read a folio whose references were looked at when it was added."""
    with _reading:  # one after another, so that none is read twice
        if (kept := held(hash_)) is not None:
            return kept
        files = files_of(name, data)
        folio = read_folio(files) if isinstance(files, dict) else None
        return hold(folio) if isinstance(folio, Folio) else None


async def of_uses(uow: UnitOfWork, server: int, uses: Iterable[FolioUse]) -> Mapping[str, Folio]:
    """Return the folios that some uses mean, by id; those that come with the program are left out."""
    shipped = set(shipped_folios())
    wanted = {use.id: use for use in uses if use.id not in shipped}
    if not wanted:
        return {}
    rows = await uow.folios.all_of(server, wanted)
    found = {}
    for id_, use in wanted.items():
        row = meant(use, [row for row in rows if row.id == id_])
        folio = None if row is None else await folio_of(uow, row)
        if folio is not None:
            found[id_] = folio
    return found


def meant(use: FolioUse, rows: Sequence[FolioRow]) -> FolioRow | None:
    """Return which version of a folio a use means: by hash, by version if it says none, else the one in use."""
    for row in rows:
        if use.hash and row.hash == use.hash:
            return row
    for row in rows:
        if not use.hash and use.version and row.version == use.version:
            return row
    # The audit tells that it is another one.
    return next((row for row in rows if row.current), None)
