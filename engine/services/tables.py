"""Tables: opened, changed, joined, left, closed, shown and listed."""

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from engine.audit.table import MAX_BYTES, TableProblem, read_table
from engine.problem import Refused
from engine.review import approval
from engine.services import rights
from engine.services.drafts import keep
from engine.services.names import name_key, number_of
from engine.services.pages import page_number, paged
from engine.services.rights import Role
from engine.services.seating import find_table, roles_at, rules_of, table_view
from engine.services.table_views import RulesErrors, TableView
from engine.services.views import HistoryEntry, Page, Ref, Suggestion
from engine.store.models import TableRow
from engine.store.repos.submissions import read_submission, write_submission
from engine.store.uow import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class NewTable:
    """Open a table. gm: its game master, None for the member; level: the campaign's; the rest as in `TableView`."""

    server: int
    member: int
    name: str
    at: datetime
    level: int = 1
    gm: int | None = None
    channel: int | None = None
    role: int | None = None
    open: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class EditTable:
    """Change what a table is called, where its cards go, which chat role plays, whether anybody may join.

    None leaves a thing as it is; 0 for channel or role takes it away. manager: the member may manage the server.
    """

    server: int
    member: int
    table: Ref
    at: datetime
    name: str | None = None
    channel: int | None = None
    role: int | None = None
    open: bool | None = None
    manager: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SetTableLevel:
    """Set the level of a table's campaign."""

    server: int
    member: int
    level: int
    at: datetime
    table: Ref | None = None
    roles: frozenset[int] = frozenset()
    manager: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SetTableRules:
    """Set the rules of a table. text: YAML, empty to restrict nothing."""

    server: int
    member: int
    table: Ref
    text: str
    at: datetime
    manager: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class CloseTable:
    """Close a table: its name is free again, builds submitted to it are taken back."""

    server: int
    member: int
    table: Ref
    at: datetime
    manager: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class JoinTable:
    """Take a player's seat at an open table."""

    server: int
    member: int
    at: datetime
    table: Ref | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LeaveTable:
    """Give one's own seat up; builds that the member submitted there are taken back."""

    server: int
    member: int
    at: datetime
    table: Ref | None = None
    roles: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class SeatMember:
    """Give a member a seat, as a player or as a GM, or change the one they have. whom: member id."""

    server: int
    member: int
    table: Ref
    whom: int
    at: datetime
    gm: bool = False
    manager: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class UnseatMember:
    """Take a member's seat away; builds that they submitted there are taken back. whom: member id."""

    server: int
    member: int
    table: Ref
    whom: int
    at: datetime
    manager: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ShowTable:
    """Ask for a table; None: the one at which the member sits. roles: chat roles held."""

    server: int
    member: int
    table: Ref | None = None
    roles: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class ListTables:
    """Ask for the tables of the server."""

    server: int
    member: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SuggestTables:
    """Ask for up to 25 tables whose name or number begins like the text."""

    server: int
    member: int
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TableHistory:
    """Ask for a page of what happened to a table, newest first. roles: chat roles held."""

    server: int
    member: int
    table: Ref | None = None
    page: int = 1
    roles: frozenset[int] = frozenset()


PAGE: Final = 10
MOST_TABLES: Final = 100
LONGEST_NAME: Final = 60
_SUGGESTED: Final = 25


async def new_table(cmd: NewTable, uow: UnitOfWork) -> TableView | Refused:
    """Open a table whose GM is the member or who they name.

    Refused: "name-missing", "name-too-long", "name-is-a-number", "name-taken", "no-such-level", "too-many-tables".
    """
    name = " ".join(cmd.name.split())
    refused = _bad_name(name) or _bad_level(cmd.level)
    if refused is not None:
        return refused
    async with uow:
        gm = cmd.member if cmd.gm is None else cmd.gm
        await uow.people.ensure(cmd.server, cmd.member)
        await uow.people.ensure(cmd.server, gm)
        if await uow.tables.by_key(cmd.server, name_key(name)) is not None:
            return _taken(name)
        if len(await uow.tables.all(cmd.server)) >= MOST_TABLES:
            return Refused(
                "too-many-tables", f"This server has {MOST_TABLES} tables; close one with /table close first."
            )
        row = TableRow(
            server=cmd.server,
            number=await uow.people.next_number(cmd.server),
            name=name,
            name_key=name_key(name),
            channel=cmd.channel,
            role=cmd.role,
            open=cmd.open,
            level=cmd.level,
            rules="",
            created=cmd.at,
            changed=cmd.at,
        )
        await uow.tables.add(row)
        await uow.tables.sit(cmd.server, row.number, gm, gm=True, at=cmd.at)
        _note(uow, row, "table-opened", cmd.member, cmd.at, level=cmd.level)
        if gm != cmd.member:
            _note(uow, row, "seat-given", cmd.member, cmd.at, member=gm, gm=True)
        view = await table_view(uow, row)
        await uow.commit()
    return view


async def edit_table(cmd: EditTable, uow: UnitOfWork) -> TableView | Refused:
    """Change a table's name, channel, role, or whether anybody may join.

    Refused: as `find_table`, "not-allowed", "nothing-changed", and as `new_table` for the name.
    """
    async with uow:
        row = await _managed(cmd, uow)
        if isinstance(row, Refused):
            return row
        changed: dict[str, object] = {}
        name = None if cmd.name is None else " ".join(cmd.name.split())
        if name is not None and name != row.name:
            refused = _bad_name(name)
            other = await uow.tables.by_key(cmd.server, name_key(name))
            if refused is not None:
                return refused
            if other is not None and other.number != row.number:
                return _taken(name)
            changed["name"] = [row.name, name]
            row.name, row.name_key = name, name_key(name)
        for field, value in (("channel", cmd.channel), ("role", cmd.role), ("open", cmd.open)):
            wanted = None if value == 0 and field != "open" else value
            if value is not None and wanted != getattr(row, field):
                changed[field] = [getattr(row, field), wanted]
                setattr(row, field, wanted)
        if not changed:
            return Refused("nothing-changed", f"{row.name} is that way already, so nothing was changed.")
        row.changed = cmd.at
        _note(uow, row, "table-changed", cmd.member, cmd.at, **changed)
        view = await table_view(uow, row, touched=await _submitted(uow, row))
        await uow.commit()
    return view


async def set_table_level(cmd: SetTableLevel, uow: UnitOfWork) -> TableView | Refused:
    """Set the campaign's level; what it touches are the submissions, whose cards show another level now.

    Refused: as `find_table`, "not-allowed", "no-such-level", "nothing-changed", "outside-rules".
    """
    refused = _bad_level(cmd.level)
    if refused is not None:
        return refused
    async with uow:
        row = await _managed(cmd, uow)
        if isinstance(row, Refused):
            return row
        if row.level == cmd.level:
            return Refused("nothing-changed", f"{row.name} plays at level {cmd.level} already.")
        span = rules_of(row).levels
        if span is not None and not span.start <= cmd.level <= span.highest:
            return Refused(
                "outside-rules",
                f"The rules of {row.name} play levels {span.start} to {span.highest}; change them with /table rules,"
                f" or set a level within them.",
            )
        _note(uow, row, "table-level-set", cmd.member, cmd.at, before=row.level, after=cmd.level)
        row.level, row.changed = cmd.level, cmd.at
        view = await table_view(uow, row, touched=await _submitted(uow, row))
        await uow.commit()
    return view


async def set_table_rules(cmd: SetTableRules, uow: UnitOfWork) -> TableView | RulesErrors | Refused:
    """Set the rules of a table, by the same YAML that `buildmoot audit --table` reads.

    Returns: the table; or everything wrong with the text, which is kept as a draft of kind "table-rules"; or Refused:
        as `find_table`, "not-allowed", "nothing-changed", "text-too-long".
    """
    data = cmd.text.encode()
    if len(data) > MAX_BYTES:
        return Refused(
            "text-too-long", f"The rules of a table may have {MAX_BYTES // 1024} KB; these have {len(data) // 1024}."
        )
    rules = read_table(data)
    async with uow:
        row = await _managed(cmd, uow)
        if isinstance(row, Refused):
            return row
        problems = rules if isinstance(rules, list) else []
        if not isinstance(rules, list):
            span = rules.levels
            if span is not None and not span.start <= row.level <= span.highest:
                problems = [
                    TableProblem(
                        1,
                        1,
                        f"`levels` plays {span.start} to {span.highest}, and the table is at level {row.level}; set"
                        " that with /table level first",
                    )
                ]
        if problems:
            fields = {"table": str(row.number), "text": cmd.text}
            draft = await keep(uow, cmd.server, cmd.member, "table-rules", fields, cmd.at)
            await uow.commit()
            return RulesErrors(table=row.number, name=row.name, problems=tuple(problems), text=cmd.text, draft=draft.id)
        if cmd.text == row.rules:
            return Refused("nothing-changed", f"Those are the rules of {row.name} already, so nothing was changed.")
        _note(uow, row, "table-rules-set", cmd.member, cmd.at, before=row.rules, after=cmd.text)
        row.rules, row.changed = cmd.text, cmd.at
        view = await table_view(uow, row, touched=await _submitted(uow, row))
        await uow.commit()
    return view


async def close_table(cmd: CloseTable, uow: UnitOfWork) -> TableView | Refused:
    """Close a table; its history, approvals and rules stay stored. Refused: as `find_table`, "not-allowed"."""
    async with uow:
        row = await _managed(cmd, uow)
        if isinstance(row, Refused):
            return row
        touched = await _take_back(uow, row, None, cmd.member, cmd.at)
        view = await table_view(uow, row, touched=touched)
        row.closed, row.name_key, row.changed = cmd.at, None, cmd.at
        _note(uow, row, "table-closed", cmd.member, cmd.at)
        await uow.commit()
    return view


async def join_table(cmd: JoinTable, uow: UnitOfWork) -> TableView | Refused:
    """Take a player's seat. Refused: as `find_table`, "already-seated", "table-not-open"."""
    async with uow:
        await uow.people.ensure(cmd.server, cmd.member)
        row = await _joinable(cmd, uow)
        if isinstance(row, Refused):
            return row
        if await uow.tables.seat(cmd.server, row.number, cmd.member) is not None:
            return Refused("already-seated", f"You sit at {row.name} already.")
        if not row.open:
            return Refused(
                "table-not-open", f"{row.name} is not open to everybody; ask its GM to add you with /table members."
            )
        await uow.tables.sit(cmd.server, row.number, cmd.member, gm=False, at=cmd.at)
        _note(uow, row, "seat-taken", cmd.member, cmd.at)
        view = await table_view(uow, row)
        await uow.commit()
    return view


async def leave_table(cmd: LeaveTable, uow: UnitOfWork) -> TableView | Refused:
    """Give one's seat up. Refused: as `find_table`, "not-allowed", "seated-by-role", "last-gm"."""
    async with uow:
        row = await find_table(uow, cmd.server, cmd.member, cmd.table, roles=cmd.roles, for_update=True)
        if isinstance(row, Refused):
            return row
        held = await roles_at(uow, row, cmd.member)
        if not held and row.role is not None and row.role in cmd.roles:
            return Refused(
                "seated-by-role", f"You play at {row.name} by a role of this server; without the role you do not."
            )
        refused = rights.refusal(LeaveTable, held) or await _may_stand_up(uow, row, cmd.member)
        if refused is not None:
            return refused
        touched = await _take_back(uow, row, cmd.member, cmd.member, cmd.at)
        await uow.tables.stand_up(cmd.server, row.number, cmd.member)
        _note(uow, row, "seat-left", cmd.member, cmd.at)
        view = await table_view(uow, row, touched=touched)
        await uow.commit()
    return view


async def seat_member(cmd: SeatMember, uow: UnitOfWork) -> TableView | Refused:
    """Give a member a seat or another one. Refused: as `find_table`, "not-allowed", "already-seated", "last-gm"."""
    async with uow:
        row = await _managed(cmd, uow)
        if isinstance(row, Refused):
            return row
        await uow.people.ensure(cmd.server, cmd.whom)
        held = await uow.tables.seat(cmd.server, row.number, cmd.whom)
        if held is not None and held.gm == cmd.gm:
            word = "is a GM of" if cmd.gm else "plays at"
            return Refused("already-seated", f"<@{cmd.whom}> {word} {row.name} already.")
        if held is not None and held.gm and await uow.tables.gms(cmd.server, row.number) == {cmd.whom}:
            return _last_gm(row)
        await uow.tables.sit(cmd.server, row.number, cmd.whom, gm=cmd.gm, at=cmd.at)
        _note(uow, row, "seat-given", cmd.member, cmd.at, member=cmd.whom, gm=cmd.gm)
        view = await table_view(uow, row)
        await uow.commit()
    return view


async def unseat_member(cmd: UnseatMember, uow: UnitOfWork) -> TableView | Refused:
    """Take a member's seat away. Refused: as `find_table`, "not-allowed", "not-seated", "last-gm"."""
    async with uow:
        row = await _managed(cmd, uow)
        if isinstance(row, Refused):
            return row
        refused = await _may_stand_up(uow, row, cmd.whom)
        if refused is not None:
            return refused
        touched = await _take_back(uow, row, cmd.whom, cmd.member, cmd.at)
        await uow.tables.stand_up(cmd.server, row.number, cmd.whom)
        _note(uow, row, "seat-taken-away", cmd.member, cmd.at, member=cmd.whom)
        view = await table_view(uow, row, touched=touched)
        await uow.commit()
    return view


async def show_table(cmd: ShowTable, uow: UnitOfWork) -> TableView | Refused:
    """Return a table. Refused: as `find_table`."""
    async with uow.reading():
        row = await find_table(uow, cmd.server, cmd.member, cmd.table, roles=cmd.roles)
        return row if isinstance(row, Refused) else await table_view(uow, row)


async def list_tables(cmd: ListTables, uow: UnitOfWork) -> list[TableView]:
    """Return the tables of the server by name; none where there are none."""
    async with uow.reading():
        return [await table_view(uow, row) for row in await uow.tables.all(cmd.server)]


async def suggest_tables(cmd: SuggestTables, uow: UnitOfWork) -> list[Suggestion]:
    """Return tables for an autocomplete: those whose number or name begins so, then those whose name holds the text."""
    async with uow.reading():
        rows = await uow.tables.all(cmd.server)
    number, key = number_of(cmd.text), name_key(cmd.text)
    starting = [row for row in rows if (row.name_key or "").startswith(key) or row.number == number]
    holding = [row for row in rows if key in (row.name_key or "") and row not in starting]
    return [Suggestion(f"{row.name} (#{row.number})", row.number) for row in (*starting, *holding)][:_SUGGESTED]


async def table_history(cmd: TableHistory, uow: UnitOfWork) -> Page[HistoryEntry] | Refused:
    """Return a page of what happened to a table. Refused: as `find_table`."""
    number = page_number(cmd.page)
    async with uow.reading():
        row = await find_table(uow, cmd.server, cmd.member, cmd.table, roles=cmd.roles)
        if isinstance(row, Refused):
            return row
        found = await uow.history.of(cmd.server, [row.number], limit=PAGE + 1, offset=(number - 1) * PAGE)
    return paged(
        [
            HistoryEntry(
                subject=each.subject,
                event=each.event,
                actor=each.actor,
                at=each.at,
                reason=each.reason,
                data=each.data or {},
            )
            for each in found
        ],
        number,
        PAGE,
    )


async def _managed(
    cmd: EditTable | SetTableLevel | SetTableRules | CloseTable | SeatMember | UnseatMember, uow: UnitOfWork
) -> TableRow | Refused:
    """Return the table held for update, if the member may do to it what the command says."""
    await uow.people.ensure(cmd.server, cmd.member)
    held_roles = cmd.roles if isinstance(cmd, SetTableLevel) else frozenset()
    row = await find_table(uow, cmd.server, cmd.member, cmd.table, roles=held_roles, for_update=True)
    if isinstance(row, Refused):
        return row
    held = await roles_at(uow, row, cmd.member, manager=cmd.manager)
    return rights.refusal(type(cmd), held) or row


async def _joinable(cmd: JoinTable, uow: UnitOfWork) -> TableRow | Refused:
    """Return the table to join, held for update; None stands for the only one there is, not for one's own."""
    if cmd.table is None:
        rows = await uow.tables.all(cmd.server)
        if len(rows) > 1:
            names = ", ".join(f"{row.name} (#{row.number})" for row in rows[:5])
            return Refused("which-table", f"There are several tables; say which one: {names}.")
    return await find_table(uow, cmd.server, cmd.member, cmd.table, for_update=True)


async def _may_stand_up(uow: UnitOfWork, row: TableRow, member: int) -> Refused | None:
    held = await roles_at(uow, row, member)
    if not held:
        by_role = " Whoever has the table's role plays there as long as they have it." if row.role is not None else ""
        return Refused("not-seated", f"That member has no seat at {row.name}.{by_role}")
    if Role.GM in held and await uow.tables.gms(row.server, row.number) == {member}:
        return _last_gm(row)
    return None


async def _take_back(uow: UnitOfWork, row: TableRow, author: int | None, actor: int, at: datetime) -> tuple[int, ...]:
    """Withdraw what a member (None: everybody) submitted to a table; return the numbers of the submissions."""
    taken = []
    for each, build in await uow.submissions.of_table(row.server, row.number):
        if author is not None and build.author != author:
            continue
        outcome = approval.withdraw(read_submission(each, None))
        assert not isinstance(outcome, Refused)  # withdrawn ones were not asked for
        write_submission(each, outcome)
        data = {"table": row.number, "submission": each.number}
        uow.history.append(row.server, build.number, "build", "build-taken-back", actor=actor, at=at, data=data)
        taken.append(each.number)
    return tuple(taken)


async def _submitted(uow: UnitOfWork, row: TableRow) -> tuple[int, ...]:
    return tuple(each.number for each, _ in await uow.submissions.of_table(row.server, row.number))


def _note(uow: UnitOfWork, row: TableRow, event: str, actor: int, at: datetime, **data: object) -> None:
    uow.history.append(row.server, row.number, "table", event, actor=actor, at=at, data=data)


def _last_gm(row: TableRow) -> Refused:
    return Refused("last-gm", f"{row.name} needs a GM: name another one with /table members first, or close the table.")


def _bad_name(name: str) -> Refused | None:
    if not name:
        return Refused("name-missing", "A table needs a name, such as Marsh Table.")
    if len(name) > LONGEST_NAME:
        return Refused("name-too-long", f"That name has {len(name)} characters; a table's may have {LONGEST_NAME}.")
    if number_of(name) is not None:
        return Refused(
            "name-is-a-number", f'A table cannot be called "{name}": numbers name things already. Put a word into it.'
        )
    return None


def _bad_level(level: int) -> Refused | None:
    if 1 <= level <= 20:
        return None
    return Refused("no-such-level", f"A campaign plays at levels 1 to 20; {level} is none of them.")


def _taken(name: str) -> Refused:
    return Refused(
        "name-taken",
        f'A table on this server is already called "{name}"; capitals, accents and plurals make no difference.',
    )
