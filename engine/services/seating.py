"""Finding the table that a member means, and what that member is there."""

from typing import Final

from engine.audit.table import TableRules, read_table, unknown_names
from engine.problem import Refused
from engine.rules.names import fold, nearest
from engine.services.library import catalog_for, composed
from engine.services.names import name_key, number_of
from engine.services.rights import Role
from engine.services.shelves import folio_of, switched_on
from engine.services.table_views import SeatView, TableView
from engine.services.views import Ref
from engine.store.models import TableRow
from engine.store.uow import UnitOfWork

_LONGEST: Final = 100


async def find_table(
    uow: UnitOfWork,
    server: int,
    member: int,
    ref: Ref | None,
    *,
    roles: frozenset[int] = frozenset(),
    for_update: bool = False,
) -> TableRow | Refused:
    """Return the table that a member means; None: the one at which they sit, or the only one there is.

    roles: chat roles that the member holds. Refused: "no-such-table" with the nearest names, "which-table".
    """
    if ref is None:
        own = await uow.tables.of_member(server, member, roles) or await uow.tables.all(server)
        if len(own) == 1:
            return await uow.tables.get(server, own[0].number, for_update=for_update) or own[0]
        if not own:
            return Refused("no-such-table", "There is no table on this server yet; /table new opens one.")
        names = ", ".join(f"{row.name} (#{row.number})" for row in own[:5])
        return Refused("which-table", f"There are several tables; say which one: {names}.")
    number = number_of(ref)
    if number is not None:
        row = await uow.tables.get(server, number, for_update=for_update)
        if row is not None and row.closed is None:
            return row
        if row is not None:
            return Refused("no-such-table", f"The table {row.name} was closed; /table list shows those that play.")
        return Refused(
            "no-such-table", f"There is no table #{number} on this server; /table list shows those there are."
        )
    name = str(ref)
    row = await uow.tables.by_key(server, name_key(name), for_update=for_update) if len(name) <= _LONGEST else None
    if row is not None:
        return row
    near = nearest(name[:_LONGEST], [each.name for each in await uow.tables.all(server)])
    hint = f" Nearest: {', '.join(near)}." if near else " /table list shows those there are."
    return Refused("no-such-table", f'There is no table "{name[:60]}" on this server.{hint}')


async def roles_at(
    uow: UnitOfWork, row: TableRow, member: int, *, roles: frozenset[int] = frozenset(), manager: bool = False
) -> frozenset[Role]:
    """Return what a member is at a table. roles: chat roles held; manager: whether they may manage the server."""
    seat = await uow.tables.seat(row.server, row.number, member)
    held = set()
    if seat is not None:
        held.add(Role.GM if seat.gm else Role.PLAYER)
    if row.role is not None and row.role in roles:
        held.add(Role.PLAYER)
    if manager:
        held.add(Role.MANAGER)
    return frozenset(held)


def rules_of(row: TableRow) -> TableRules:
    """Return the rules that a table plays by.

    Raises: RuntimeError if the stored text cannot be read, which is a bug, since only what can be is stored.
    """
    found = read_table(row.rules.encode())
    if not isinstance(found, TableRules):
        raise RuntimeError(f"the rules of table #{row.number} cannot be read: {found[0]}")
    return found


async def rules_at(uow: UnitOfWork, row: TableRow) -> TableRules:
    """Return the rules that builds are looked at under at a table: its own, and only folios that are on there."""
    rules = rules_of(row)
    here = await uow.folios.here(row.server)
    on = {each.folio for each in await uow.folios.at_tables(row.server, [row.number])} if here else set()
    if all(each.everywhere or each.id in on for each in here):
        return rules
    off = {
        form for each in here if not (each.everywhere or each.id in on) for form in (fold(each.id), fold(each.title))
    }
    names = [each.title for each in here] if rules.folios is None else rules.folios
    return rules.model_copy(update={"folios": tuple(name for name in names if fold(name) not in off)})


async def rules_notes(uow: UnitOfWork, server: int, rules: TableRules) -> tuple[str, ...]:
    """Return what is odd about a table's rules: releases and folios that are not there, names nothing answers to."""
    notes, catalogs = [], []
    rows = await switched_on(uow, server) if rules.folios or rules.bar or rules.allow else []
    forms = {form for row in rows for form in (fold(row.id), fold(row.title))}
    for name in rules.folios or ():
        if fold(name) not in forms:
            near = nearest(name[:_LONGEST], [row.title for row in rows])
            hint = f"; nearest: {', '.join(near)}" if near else ""
            notes.append(f"`folios` names `{name[:60]}`, which is on nowhere on this server{hint}.")
    folios = [folio for row in rows if (folio := await folio_of(uow, row)) is not None]
    for release in rules.rules or ("srd-5.1",):
        found = catalog_for("-".join(release.casefold().split()))
        if isinstance(found, Refused):
            notes.append(f"`rules`: {found.sentence}.")
        else:
            loaded = found.folios[0]
            catalogs.append(composed([loaded, *(f for f in folios if f.header.extends in (None, loaded.id))]))
    if catalogs:
        odd = [set(unknown_names(rules, catalog)) for catalog in catalogs]
        notes += sorted(f"{sentence}." for sentence in set.intersection(*odd))
    return tuple(notes)


async def table_view(uow: UnitOfWork, row: TableRow, *, touched: tuple[int, ...] = ()) -> TableView:
    """Return the view of a table, inside a unit of work. touched: numbers of submissions whose cards say it now."""
    rules = rules_of(row)
    return TableView(
        number=row.number,
        name=row.name,
        channel=row.channel,
        role=row.role,
        open=row.open,
        level=row.level,
        rules=rules,
        text=row.rules,
        seats=tuple(
            SeatView(member=seat.member, gm=seat.gm, at=seat.at)
            for seat in await uow.tables.seats(row.server, row.number)
        ),
        builds=len(await uow.submissions.of_table(row.server, row.number)),
        notes=await rules_notes(uow, row.server, rules),
        touched=touched,
    )
