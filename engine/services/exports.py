"""Exported builds read back on a server, which may have the folios that they use."""

import asyncio
from dataclasses import dataclass

from engine.build.document import Build
from engine.build.outline import print_outline
from engine.problem import Refused
from engine.services.sheets import imported
from engine.services.shelves import catalog_here
from engine.store.uow import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadExport:
    """Ask for the outline of a build that was exported as JSON, here or on another server."""

    server: int
    member: int
    text: str


async def read_export(cmd: ReadExport, uow: UnitOfWork) -> str | Refused:
    """Return the outline of an exported build by the folios of the server; those that are not here stay named.

    Refused: as `imported`, "no-such-rules".
    """
    build = await asyncio.to_thread(imported, cmd.text)
    if not isinstance(build, Build):
        return build
    async with uow.reading():
        catalog = await catalog_here(uow, cmd.server, build)
    return catalog if isinstance(catalog, Refused) else print_outline(build, catalog, exact=True)
