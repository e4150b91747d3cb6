"""States that can be switched on: offered while they are typed."""

import asyncio
from dataclasses import dataclass

from engine.build.document import Build
from engine.problem import Refused
from engine.rules.catalog import Catalog, Named
from engine.rules.names import fold
from engine.services.find import find_build
from engine.services.views import Ref
from engine.services.views_of import document_at
from engine.sheet import gather
from engine.sheet.states import possible_states
from engine.store.uow import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class SuggestStates:
    """Ask for up to 25 states that a build can be in, whose name holds the text. level None: its last one."""

    server: int
    member: int
    build: Ref
    level: int | None = None
    text: str = ""


async def suggest_states(cmd: SuggestStates, uow: UnitOfWork) -> list[str]:
    """Return names of states, those of the build's own features and spells first; none where the build is not there."""
    async with uow.reading():
        row = await find_build(uow, cmd.server, cmd.member, cmd.build)
        found = row if isinstance(row, Refused) else await document_at(uow, row, None)
    if isinstance(found, Refused):
        return []
    _, build, catalog = found
    level = min(max(build.top if cmd.level is None else cmd.level, 1), max(build.top, 1))
    wanted = fold(cmd.text)
    able = await asyncio.to_thread(_able, build, catalog, level)
    return list(dict.fromkeys(named.name for named in able if wanted in fold(named.name)))[:25]


def _able(build: Build, catalog: Catalog, level: int) -> list[Named]:
    return possible_states(gather(build, catalog), level)
