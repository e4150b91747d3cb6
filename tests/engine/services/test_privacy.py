"""What is stored about a member, and how it goes: from every table, from the file and from its log."""

import io
import json
import shutil
import zipfile
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from engine.review import machine
from engine.review.approval import finding_key
from engine.review.machine import State
from engine.review.policy import Choice
from engine.services.approvals import (
    ApproveBuild,
    SubmitBuild,
    WaiveFinding,
    approve_build,
    submit_build,
    waive_finding,
)
from engine.services.archive import ReadArchive, read_archive
from engine.services.builds import GetBuild, ListBuilds, get_build, list_builds
from engine.services.drafts import KEPT_FOR, drop_drafts
from engine.services.folio_settings import SwitchFolio, switch_folio
from engine.services.members import RememberMember, remember_member
from engine.services.ownership import AddCoAuthor, add_co_author
from engine.services.packing import packed
from engine.services.privacy import (
    EraseMember,
    LeaveServer,
    MyData,
    PurgeServer,
    ReturnToServer,
    data_file,
    erase_member,
    leave_server,
    my_data,
    purge_server,
    return_to_server,
    servers_known,
    servers_left,
)
from engine.services.proposals import ShowProposal, show_proposal
from engine.services.remarks import AddRemark, EditRemark, ListRemarks, add_remark, edit_remark, list_remarks
from engine.services.rolls import RollScores, roll_scores
from engine.services.sheets import exported
from engine.services.tables import JoinTable, NewTable, join_table, new_table
from engine.services.writeups import KeepWriteup, keep_writeup
from engine.store.database import Database
from engine.store.models import Base
from tests.engine.services.world import (
    ELSEWHERE,
    HERE,
    PROPOSER,
    READER,
    REED,
    RUNNER,
    SHOALS,
    T0,
    add,
    all_rows,
    at,
    load,
    ok,
    preview,
    propose,
    refused,
    share,
    vote,
)

# A platform id as long as real ones, and a name that stands nowhere else.
ADA, NAME = 345_678_901_234_567_890, "Ada Lanternwright"
OTHER = 345_678_901_234_567_891


async def busy(database: Database) -> dict[str, int]:
    """Let Ada do one of everything on HERE, and a little on ELSEWHERE."""
    for server in (HERE, ELSEWHERE):
        await database.call(remember_member, RememberMember(server=server, member=ADA, name=NAME, at=T0))
    own = (await load(database, REED, member=ADA)).number
    await share(database, own, member=ADA)
    to_hers = (await propose(database, own, 2, "2 Rogue hp 5")).number
    ok(await vote(database, to_hers, ADA, Choice.FOR))
    helped = (await load(database, "Build: Old Anchor\n1-4 Fighter\n", member=ADA)).number
    await share(database, helped, member=ADA)
    helper = AddCoAuthor(server=HERE, member=ADA, build=helped, other=OTHER, at=at(1))
    ok(await database.call(add_co_author, helper))
    others = (await load(database, "Build: Salt Ferry\n1-4 Cleric\n", member=OTHER)).number
    await share(database, others, member=OTHER)
    hers = (await propose(database, others, 2, "2 Cleric hp 5", member=ADA)).number
    ok(await vote(database, hers, ADA, Choice.FOR))
    ok(await vote(database, hers, READER, Choice.AGAINST))
    said = ok(
        await database.call(
            add_remark, AddRemark(server=HERE, member=ADA, subject=others, text="Rough seas.", at=at(2))
        )
    )
    change = EditRemark(server=HERE, member=ADA, remark=said.id, text="Rougher seas.", at=at(3))
    ok(await database.call(edit_remark, change))
    about = AddRemark(server=HERE, member=READER, subject=others, text=f"As <@{ADA}> says.", at=at(4))
    ok(await database.call(add_remark, about))
    await preview(database, others, 3, "3 Cleric hp 5", member=ADA)
    ok(await database.call(roll_scores, RollScores(server=HERE, member=ADA, at=at(5))))
    helper = AddCoAuthor(server=HERE, member=OTHER, build=others, other=ADA, at=at(5))
    ok(await database.call(add_co_author, helper))
    written = KeepWriteup(server=HERE, member=ADA, build=own, text="[?](num:1/ac)", revision=1, at=at(5))
    ok(await database.call(keep_writeup, written))
    await at_her_table(database)
    return {"own": own, "to_hers": to_hers, "helped": helped, "others": others, "hers": hers, "remark": said.id}


async def at_her_table(database: Database) -> None:
    """Let Ada open a table, bring a folio there, and waive and approve what Other submits."""
    table = ok(await database.call(new_table, NewTable(server=HERE, member=ADA, name="Gull Table", level=2, at=at(6))))
    ok(await add(database, SHOALS, member=ADA, manager=True))
    switch = SwitchFolio(server=HERE, member=ADA, folio="shoals", on=True, table=table.number, at=at(6))
    ok(await database.call(switch_folio, switch))
    ok(await database.call(join_table, JoinTable(server=HERE, member=OTHER, table=table.number, at=at(6))))
    runner = (await load(database, RUNNER, member=OTHER)).number
    await share(database, runner, member=OTHER)
    submit = SubmitBuild(server=HERE, member=OTHER, build=runner, table=table.number, at=at(6))
    submitted = ok(await database.call(submit_build, submit))
    [ruling] = submitted.waiting
    waive = WaiveFinding(
        server=HERE, member=ADA, submission=submitted.number, finding=finding_key(ruling), reason="I saw.", at=at(7)
    )
    token = ok(await database.call(waive_finding, waive)).token
    approve = ApproveBuild(server=HERE, member=ADA, submission=submitted.number, token=token, at=at(7))
    ok(await database.call(approve_build, approve))


async def erase(database: Database, builds: Any) -> Any:
    return await database.call(erase_member, EraseMember(server=HERE, member=ADA, builds=builds, at=at(9)))


def named(rows: dict[str, list[tuple[Any, ...]]]) -> list[str]:
    return [table for table, found in rows.items() if str(ADA) in repr(found) or NAME in repr(found)]


async def test_mine_is_everything_that_names_the_member(database: Database) -> None:
    """Every table that has the id in a column is in the file, and nothing of another server."""
    await busy(database)
    found = await database.call(my_data, MyData(server=HERE, member=ADA))
    tables = {
        table.name
        for table in Base.metadata.sorted_tables
        if any(key.column.table.name == "members" and key.column.name == "id" for key in table.foreign_keys)
    }
    assert len(tables) > 12
    assert set(found) == tables | {"members"}
    read = json.loads(data_file(found))
    assert read["members"] == [{"server": HERE, "id": ADA, "name": NAME, "seen": T0.isoformat(), "silent": None}]
    assert all(row["server"] == HERE for rows in read.values() for row in rows)
    assert all(str(ADA) in json.dumps(row) for rows in read.values() for row in rows)
    assert set(await database.call(my_data, MyData(server=ELSEWHERE, member=ADA))) == {"members"}
    assert await database.call(my_data, MyData(server=ELSEWHERE, member=READER)) == {}


async def test_erased_with_builds_kept(database: Database) -> None:
    """Builds and votes stay under no name; what others need to go on is decided for them."""
    there = await busy(database)
    done = ok(await erase(database, "stay"))
    assert (done.went, done.handed, done.stayed) == ((), (there["helped"],), (there["own"],))
    assert named(await all_rows(database, HERE)) == []
    assert named(await all_rows(database, ELSEWHERE)) == ["members"]
    kept = ok(await database.call(get_build, GetBuild(server=HERE, member=READER, build=there["own"])))
    assert kept.author < 0
    heir = ok(await database.call(get_build, GetBuild(server=HERE, member=READER, build=there["helped"])))
    assert (heir.author, heir.coauthors) == (OTHER, ())
    closed = ok(await database.call(show_proposal, ShowProposal(server=HERE, member=READER, proposal=there["to_hers"])))
    assert (closed.state, closed.close_reason) == (State.DECLINED, "the author of the build left")
    assert closed.closed_by == kept.author
    assert closed.tally.for_ == 1
    hers = ok(await database.call(show_proposal, ShowProposal(server=HERE, member=READER, proposal=there["hers"])))
    assert (hers.state, hers.proposer) == (State.OPEN, kept.author)
    assert hers.votes == {kept.author: Choice.FOR, READER: Choice.AGAINST}
    async with database.unit().reading() as uow:
        for number in (there["hers"], there["to_hers"]):
            replayed = machine.replay(await uow.history.events(HERE, number))
            assert replayed.author == (OTHER if number == there["hers"] else kept.author)
    page = ok(await database.call(list_remarks, ListRemarks(server=HERE, member=READER, subject=there["others"])))
    assert [each.text for each in page.items] == ["As a former member says.", "Rougher seas."]
    refused(await erase(database, "stay"), "nothing-stored")


async def test_erased_with_builds_gone(database: Database) -> None:
    """The member's builds go with all that hangs on them; what was written elsewhere is emptied."""
    there = await busy(database)
    done = ok(await erase(database, "go"))
    assert (done.went, done.handed, done.stayed) == ((there["own"],), (there["helped"],), ())
    rows = await all_rows(database, HERE)
    assert named(rows) == []
    assert "Rough" not in repr(rows)
    assert "Reed Warden" not in repr(rows)
    gone = {there["own"], there["to_hers"]}
    numbered = {"cards": "subject", "history": "subject", "remarks": "subject", "proposals": "number"}
    for table, column in numbered.items():
        place = [c.name for c in Base.metadata.tables[table].columns].index(column)
        assert not {row[place] for row in rows[table]} & gone
    hers = ok(await database.call(show_proposal, ShowProposal(server=HERE, member=READER, proposal=there["hers"])))
    assert (hers.reason, hers.tally.for_, hers.proposer < 0) == ("", 1, True)


@pytest.mark.parametrize("builds", ["stay", "go"])
async def test_two_who_are_erased_stay_two(database: Database, builds: Any) -> None:
    """Their votes are two votes still, and the first one who comes back is a new member."""
    there = await busy(database)
    ok(await erase(database, builds))
    other = EraseMember(server=HERE, member=READER, builds=builds, at=at(9))
    ok(await database.call(erase_member, other))
    hers = ok(await database.call(show_proposal, ShowProposal(server=HERE, member=PROPOSER, proposal=there["hers"])))
    assert sorted(hers.votes) == [-2, -1]
    assert (hers.tally.for_, hers.tally.against) == (1, 1)


@pytest.mark.parametrize("builds", ["stay", "go"])
async def test_the_file_and_its_log_hold_neither_id_nor_name(
    sqlite_template: Path, tmp_path: Path, builds: Any
) -> None:
    """Searched as bytes while the database is open and after: as text, and as SQLite stores a whole number."""
    path = tmp_path / "moot.db"
    shutil.copy(sqlite_template, path)
    forms = [str(ADA).encode(), NAME.encode(), ADA.to_bytes(8, "big")]

    def found() -> list[tuple[str, bytes]]:
        files = [file for file in tmp_path.iterdir() if file.name.startswith("moot.db")]
        return [(file.name, form) for file in files for form in forms if form in file.read_bytes()]

    async with await Database.open(f"sqlite:///{path}") as database:
        await busy(database)
        assert found()
        for server in (HERE, ELSEWHERE):
            command = EraseMember(server=server, member=ADA, builds=builds, at=at(9))
            ok(await database.call(erase_member, command))
        assert found() == []
        data = await database.call(my_data, MyData(server=HERE, member=ADA))
        assert data == {}
    assert found() == []


@pytest.mark.parametrize("builds", ["stay", "go"])
async def test_no_export_holds_id_or_name(database: Database, builds: Any) -> None:
    """The archive of the server, unpacked; exported builds; what other members get about themselves."""
    await busy(database)

    async def exports() -> dict[str, bytes]:
        stored = ok(await database.call(read_archive, ReadArchive(server=HERE, member=READER, manager=True, at=at(9))))
        with zipfile.ZipFile(io.BytesIO(packed(stored))) as archive:
            found = {name: archive.read(name) for name in archive.namelist()}
        for member in (OTHER, READER, PROPOSER):
            mine = await database.call(my_data, MyData(server=HERE, member=member))
            found[f"mine of {member}"] = data_file(mine).encode()
        for brief in ok(await database.call(list_builds, ListBuilds(server=HERE, member=OTHER))).items:
            view = ok(await database.call(get_build, GetBuild(server=HERE, member=OTHER, build=brief.number)))
            found[f"build {brief.number}"] = exported(view.build).encode()
        return found

    def telling(found: dict[str, bytes]) -> list[str]:
        return [name for name, data in found.items() if str(ADA).encode() in data or NAME.encode() in data]

    before = await exports()
    assert {"tables/members.json", f"mine of {OTHER}"} <= set(telling(before))
    ok(await erase(database, builds))
    after = await exports()
    assert telling(after) == []
    assert any(name.startswith("build ") for name in after)


async def test_texts_of_forms_go_after_a_week_though_nobody_types_anything(database: Database) -> None:
    """As the policy says: whatever else happens on that server."""
    await busy(database)
    await database.call(drop_drafts, T0 + KEPT_FOR)
    assert (await all_rows(database, HERE))["drafts"]
    await database.call(drop_drafts, T0 + KEPT_FOR + timedelta(seconds=1))
    assert (await all_rows(database, HERE))["drafts"] == []


async def test_a_server_that_was_left_goes_after_its_days(database: Database) -> None:
    """Not before, not if the bot came back, and no other server with it."""
    await busy(database)
    leave = LeaveServer(server=HERE, at=at(0))
    await database.call(leave_server, leave)
    await database.call(leave_server, LeaveServer(server=HERE, at=at(50)))
    assert await database.call(servers_known, None) == [ELSEWHERE]
    assert await database.call(servers_left, at(-1)) == []
    assert await database.call(servers_left, at(0)) == [HERE]
    await database.call(return_to_server, ReturnToServer(server=HERE))
    assert await database.call(servers_left, at(99)) == []
    assert await database.call(purge_server, PurgeServer(server=HERE, before=at(99))) is False
    await database.call(leave_server, leave)
    assert await database.call(purge_server, PurgeServer(server=HERE, before=at(-1))) is False
    elsewhere = await all_rows(database, ELSEWHERE)
    assert await database.call(purge_server, PurgeServer(server=HERE, before=at(0))) is True
    assert not any((await all_rows(database, HERE)).values())
    assert await all_rows(database, ELSEWHERE) == elsewhere
