"""Tables: opened, changed, joined, left, closed; several on one server, each with its own people and rules."""

import asyncio
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from engine.audit import audit
from engine.problem import Refused
from engine.services.approvals import SubmitBuild, submit_build
from engine.services.drafts import GetDraft, get_draft
from engine.services.library import catalog
from engine.services.roster import ShowRoster, show_roster
from engine.services.table_views import RulesErrors, TableView
from engine.services.tables import (
    CloseTable,
    EditTable,
    JoinTable,
    LeaveTable,
    ListTables,
    NewTable,
    SeatMember,
    SetTableLevel,
    SetTableRules,
    ShowTable,
    SuggestTables,
    UnseatMember,
    close_table,
    edit_table,
    join_table,
    leave_table,
    list_tables,
    new_table,
    seat_member,
    set_table_level,
    set_table_rules,
    show_table,
    suggest_tables,
    unseat_member,
)
from engine.store.database import Database
from tests.engine.services.world import AUTHOR, HERE, PROPOSER, READER, at, load, ok, refused, share

GM, ROLE = 601, 9001
RULES = """\
rules: srd-5.1
levels: 1-12
scores: point buy
multiclassing: no
feats: yes
bar: [Grappler]
gold: 150
"""


async def opened(database: Database, name: str = "Marsh Table", **more: Any) -> TableView:
    """Open a table with GM as its game master."""
    command = NewTable(server=HERE, member=GM, name=name, at=at(0), **more)
    view = await database.call(new_table, command)
    assert isinstance(view, TableView), view
    return view


async def rules_set(database: Database, table: int, text: str) -> TableView:
    """Set a table's rules as its GM."""
    command = SetTableRules(server=HERE, member=GM, table=table, text=text, at=at(1))
    view = await database.call(set_table_rules, command)
    assert isinstance(view, TableView), view
    return view


async def joined(database: Database, table: int, member: int) -> TableView:
    """Join a table."""
    return ok(await database.call(join_table, JoinTable(server=HERE, member=member, table=table, at=at(2))))


async def events(database: Database, subject: int) -> list[tuple[str, int | None]]:
    """Return what the history says about a thing, oldest first, with who did it."""
    async with database.unit().reading() as uow:
        return [(row.event, row.actor) for row in reversed(await uow.history.of(HERE, [subject], limit=100))]


async def test_a_new_table_has_its_gm_a_level_and_no_rules(database: Database) -> None:
    view = await opened(database, "  Marsh   Table ", level=3, channel=70, role=ROLE)
    assert (view.name, view.level, view.channel, view.role, view.open) == ("Marsh Table", 3, 70, ROLE, True)
    assert view.gms == (GM,)
    assert view.players == ()
    assert view.text == ""
    assert view == ok(await database.call(show_table, ShowTable(server=HERE, member=READER, table="marsh tables")))
    assert await events(database, view.number) == [("table-opened", GM)]


async def test_a_table_opened_for_somebody_else_is_theirs(database: Database) -> None:
    view = ok(await database.call(new_table, NewTable(server=HERE, member=READER, name="Ferry", gm=GM, at=at(0))))
    assert view.gms == (GM,)
    command = SetTableLevel(server=HERE, member=READER, table="Ferry", level=4, at=at(1))
    refused(await database.call(set_table_level, command), "not-allowed")


@pytest.mark.parametrize(
    ("name", "level", "code"),
    [
        ("", 1, "name-missing"),
        ("   ", 1, "name-missing"),
        ("x" * 61, 1, "name-too-long"),
        ("#12", 1, "name-is-a-number"),
        ("MARSH TABLES", 1, "name-taken"),
        ("Other", 0, "no-such-level"),
        ("Other", 21, "no-such-level"),
    ],
)
async def test_a_table_that_cannot_be_opened(database: Database, name: str, level: int, code: str) -> None:
    await opened(database)
    command = NewTable(server=HERE, member=READER, name=name, level=level, at=at(0))
    refused(await database.call(new_table, command), code)
    assert len(await database.call(list_tables, ListTables(server=HERE, member=READER))) == 1


async def test_several_tables_on_one_server_and_which_is_meant(database: Database) -> None:
    first, second = await opened(database), await opened(database, "Ferry Table")
    listed = await database.call(list_tables, ListTables(server=HERE, member=READER))
    assert [view.name for view in listed] == ["Ferry Table", "Marsh Table"]
    sentence = refused(await database.call(show_table, ShowTable(server=HERE, member=READER)), "which-table")
    assert "Marsh Table (#1)" in sentence
    assert "Ferry Table (#2)" in sentence
    await joined(database, second.number, READER)
    own = ok(await database.call(show_table, ShowTable(server=HERE, member=READER)))
    assert own.number == second.number
    by_role = ok(
        await database.call(edit_table, EditTable(server=HERE, member=GM, table=first.number, role=ROLE, at=at(1)))
    )
    assert by_role.role == ROLE
    holder = ShowTable(server=HERE, member=AUTHOR, roles=frozenset({ROLE}))
    assert ok(await database.call(show_table, holder)).number == first.number
    near = refused(await database.call(show_table, replace(holder, table="Marsh Tabel")), "no-such-table")
    assert "Marsh Table" in near


async def test_suggestions_by_name_and_number(database: Database) -> None:
    await opened(database)
    await opened(database, "The Marsh Ferry")

    async def offered(text: str) -> list[int]:
        return [s.number for s in await database.call(suggest_tables, SuggestTables(server=HERE, member=1, text=text))]

    assert await offered("mar") == [1, 2]
    assert await offered("#2") == [2]
    assert await offered("ferry") == [2]
    assert await offered("zzz") == []


async def test_join_leave_and_the_last_gm(database: Database) -> None:
    table = (await opened(database)).number
    assert (await joined(database, table, READER)).players == (READER,)
    refused(await database.call(join_table, JoinTable(server=HERE, member=READER, at=at(3))), "already-seated")
    left = ok(await database.call(leave_table, LeaveTable(server=HERE, member=READER, at=at(3))))
    assert left.players == ()
    again = await database.call(leave_table, LeaveTable(server=HERE, member=READER, table=table, at=at(4)))
    refused(again, "not-allowed")
    refused(await database.call(leave_table, LeaveTable(server=HERE, member=GM, table=table, at=at(4))), "last-gm")
    assert await events(database, table) == [("table-opened", GM), ("seat-taken", READER), ("seat-left", READER)]


async def test_a_closed_door_opens_by_the_gm_only(database: Database) -> None:
    table = (await opened(database, open=False)).number
    refused(await database.call(join_table, JoinTable(server=HERE, member=READER, at=at(1))), "table-not-open")
    add = SeatMember(server=HERE, member=GM, table=table, whom=READER, at=at(1))
    refused(await database.call(seat_member, replace(add, member=READER)), "not-allowed")
    assert ok(await database.call(seat_member, add)).players == (READER,)
    refused(await database.call(seat_member, add), "already-seated")
    promoted = ok(await database.call(seat_member, replace(add, gm=True)))
    assert set(promoted.gms) == {GM, READER}
    gone = UnseatMember(server=HERE, member=READER, table=table, whom=GM, at=at(2))
    assert ok(await database.call(unseat_member, gone)).gms == (READER,)
    refused(await database.call(unseat_member, replace(gone, whom=READER)), "last-gm")
    refused(await database.call(unseat_member, replace(gone, whom=PROPOSER)), "not-seated")
    refused(await database.call(seat_member, replace(add, member=READER)), "last-gm")


async def test_who_manages_the_server_manages_tables_but_approves_nothing(database: Database) -> None:
    table = (await opened(database)).number
    command = SetTableLevel(server=HERE, member=READER, table=table, level=5, at=at(1))
    refused(await database.call(set_table_level, command), "not-allowed")
    assert ok(await database.call(set_table_level, replace(command, manager=True))).level == 5
    refused(await database.call(set_table_level, replace(command, manager=True)), "nothing-changed")


async def test_rules_are_kept_as_written_and_read_as_the_audit_reads_them(database: Database, tmp_path: Path) -> None:
    table = (await opened(database, level=3)).number
    view = await rules_set(database, table, RULES)
    assert view.text == RULES
    assert view.notes == ()
    assert view.rules.feats is True
    assert view.rules.gold == 150
    build = (await load(database, "Build: Two Trades\nGear: Plate\n1 Rogue\n2 Wizard\n")).build
    codes = {f.code for f in audit(build, catalog(), view.rules)}
    assert {"table-multiclassing", "table-gold"} <= codes
    # The file command reads the same text by the same rules.
    from bot.cli import main

    (tmp_path / "rules.yaml").write_text(RULES)
    (tmp_path / "build.txt").write_text("Build: Two Trades\nGear: Plate\n1 Rogue\n2 Wizard\n")
    assert main(["audit", str(tmp_path / "build.txt"), "--table", str(tmp_path / "rules.yaml"), "--json"]) == 1


async def test_rules_that_cannot_be_read_come_back_with_every_error_and_stay_kept(database: Database) -> None:
    table = (await opened(database)).number
    text = "feats: maybe\nlevls: 1-12\ngold: lots\n"
    command = SetTableRules(server=HERE, member=GM, table=table, text=text, at=at(1))
    errors = await database.call(set_table_rules, command)
    assert isinstance(errors, RulesErrors)
    assert sorted(p.line for p in errors.problems) == [1, 2, 3]
    assert errors.text == text
    kept = ok(await database.call(get_draft, GetDraft(server=HERE, member=GM, draft=errors.draft)))
    assert kept.kind == "table-rules"
    assert kept.fields == {"table": str(table), "text": text}
    assert ok(await database.call(show_table, ShowTable(server=HERE, member=GM))).text == ""
    refused(await database.call(set_table_rules, replace(command, member=READER)), "not-allowed")
    huge = replace(command, text="# " + "x" * 70_000)
    refused(await database.call(set_table_rules, huge), "text-too-long")


async def test_rules_and_level_must_fit_each_other(database: Database) -> None:
    table = (await opened(database, level=8)).number
    command = SetTableRules(server=HERE, member=GM, table=table, text="levels: 1-5\n", at=at(1))
    errors = await database.call(set_table_rules, command)
    assert isinstance(errors, RulesErrors)
    assert "the table is at level 8" in errors.problems[0].sentence
    await rules_set(database, table, "levels: 3-9\n")
    for level in (2, 10):
        set_level = SetTableLevel(server=HERE, member=GM, level=level, at=at(2))
        sentence = refused(await database.call(set_table_level, set_level), "outside-rules")
        assert "levels 3 to 9" in sentence


async def test_odd_names_in_rules_are_told(database: Database) -> None:
    table = (await opened(database)).number
    view = await rules_set(database, table, "bar: [Fireblal]\nrules: [srd-5.1, moonbook]\n")
    assert len(view.notes) == 2
    assert "moonbook" in view.notes[0]
    assert "Fireball" in view.notes[1]


async def test_a_closed_table_frees_its_name_and_lets_its_builds_go(database: Database) -> None:
    table = (await opened(database)).number
    build = (await load(database, "Build: Reed\n1 Rogue\n")).number
    await share(database, build)
    await joined(database, table, AUTHOR)
    submit = SubmitBuild(server=HERE, member=AUTHOR, build=build, at=at(3))
    number = ok(await database.call(submit_build, submit)).number
    command = CloseTable(server=HERE, member=GM, table=table, at=at(4))
    refused(await database.call(close_table, replace(command, member=AUTHOR)), "not-allowed")
    assert ok(await database.call(close_table, command)).touched == (number,)
    refused(await database.call(show_table, ShowTable(server=HERE, member=GM, table=table)), "no-such-table")
    second = await opened(database)
    assert second.number != table
    await joined(database, second.number, AUTHOR)
    assert ok(await database.call(submit_build, replace(submit, at=at(5)))).table == second.number


async def test_leaving_takes_ones_builds_back(database: Database) -> None:
    table = (await opened(database)).number
    build = (await load(database, "Build: Reed\n1 Rogue\n")).number
    await share(database, build)
    await joined(database, table, AUTHOR)
    ok(await database.call(submit_build, SubmitBuild(server=HERE, member=AUTHOR, build=build, at=at(3))))
    left = ok(await database.call(leave_table, LeaveTable(server=HERE, member=AUTHOR, at=at(4))))
    assert len(left.touched) == 1
    roster = ok(await database.call(show_roster, ShowRoster(server=HERE, member=GM)))
    assert roster.entries == ()
    assert roster.party is None


async def test_two_members_at_the_same_instant(database: Database) -> None:
    """Two tables of one name: one is opened. Two joins by one member: one seat. Two levels: both, one after another."""
    both = await asyncio.gather(
        *(database.call(new_table, NewTable(server=HERE, member=m, name="Marsh", at=at(0))) for m in (GM, READER))
    )
    assert sorted(isinstance(each, Refused) for each in both) == [False, True]
    table = next(each.number for each in both if isinstance(each, TableView))
    seats = await asyncio.gather(
        *(database.call(join_table, JoinTable(server=HERE, member=PROPOSER, table=table, at=at(1))) for _ in range(4))
    )
    assert sum(not isinstance(each, Refused) for each in seats) == 1
    levels = [
        database.call(
            set_table_level,
            SetTableLevel(server=HERE, member=GM, table=table, level=level, at=at(2), manager=True),
        )
        for level in (4, 5)
    ]
    assert all(not isinstance(each, Refused) for each in await asyncio.gather(*levels))
    assert [event for event, _ in await events(database, table)].count("table-level-set") == 2


async def test_what_is_changed_about_a_table(database: Database) -> None:
    table = (await opened(database)).number
    command = EditTable(server=HERE, member=GM, table=table, at=at(1), name="Fen Table", channel=71, open=False)
    view = ok(await database.call(edit_table, command))
    assert (view.name, view.channel, view.open) == ("Fen Table", 71, False)
    refused(await database.call(edit_table, command), "nothing-changed")
    cleared = ok(await database.call(edit_table, replace(command, channel=0)))
    assert cleared.channel is None
    await opened(database, "Marsh Table")
    refused(await database.call(edit_table, replace(command, name="marsh table")), "name-taken")
    refused(await database.call(edit_table, replace(command, member=READER, name="x")), "not-allowed")
