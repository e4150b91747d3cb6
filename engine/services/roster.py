"""The roster of a table: every build there, how it stands, and what the party covers."""

from dataclasses import dataclass
from typing import Final

from engine.problem import Refused
from engine.review.approval import Stand
from engine.review.party import Fellow, party
from engine.services.seating import find_table, table_view
from engine.services.submissions import gather, views
from engine.services.table_views import RosterView
from engine.services.views import Ref
from engine.store.uow import UnitOfWork

_ORDER: Final = list(Stand)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShowRoster:
    """Ask for the roster of a table; None: the one at which the member sits. roles: chat roles held."""

    server: int
    member: int
    table: Ref | None = None
    roles: frozenset[int] = frozenset()


async def show_roster(cmd: ShowRoster, uow: UnitOfWork) -> RosterView | Refused:
    """Return the roster of a table. Refused: as `find_table`."""
    gathered, broken, authors = [], [], set()
    async with uow.reading():
        row = await find_table(uow, cmd.server, cmd.member, cmd.table, roles=cmd.roles)
        if isinstance(row, Refused):
            return row
        table = await table_view(uow, row)
        for each, build in await uow.submissions.of_table(cmd.server, row.number):
            authors.add(build.author)
            found = await gather(uow, each, row, build)
            if isinstance(found, Refused):
                broken.append((build.number, build.name))
            else:
                gathered.append(found)
    judged = await views(gathered)
    fellows = [Fellow(view.shown.view.name, case.context, view.last) for view, case in judged]
    entries = sorted((view for view, _ in judged), key=lambda v: (_ORDER.index(v.stand), v.shown.view.name.casefold()))
    return RosterView(
        table=table,
        entries=tuple(entries),
        party=party(fellows),
        without=tuple(member for member in table.players if member not in authors),
        broken=tuple(broken),
    )
