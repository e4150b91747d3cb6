"""The archive of a server: made, put into another database and made again the same; what is no archive is refused."""

import hashlib
import io
import json
import sqlite3
import zipfile
from collections.abc import AsyncIterator, Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import BigInteger, text

from engine.problem import Refused
from engine.services.archive import LoadArchive, Loaded, ReadArchive, load_archive, read_archive
from engine.services.builds import LoadBuild, load_build
from engine.services.packing import Archive, Stored, packed, unpacked
from engine.services.remarks import AddRemark, AnswerRemark, ListRemarks, add_remark, answer_remark, list_remarks
from engine.store.database import Database
from engine.store.models import Base
from engine.store.repos.archive import LEFT_OUT, OF_THE_PLACE
from tests.engine.services.world import AUTHOR, ELSEWHERE, HERE, MANAGER, T0, World, all_rows, ok, refused
from tests.migrations.test_migrations import FILLING

Parts = dict[str, bytes]


@pytest.fixture
def other_url(sqlite_template: Path, tmp_path: Path) -> str:
    """The URL of a migrated SQLite file beside that of the world."""
    path = tmp_path / "other.db"
    path.write_bytes(sqlite_template.read_bytes())
    return f"sqlite:///{path}"


@pytest.fixture(params=["other_url", "postgres_url"], ids=["sqlite", "postgres"])
def each_url(request: pytest.FixtureRequest) -> str:
    """The same on each kind of database."""
    found: str = request.getfixturevalue(request.param)
    return found


@pytest.fixture
async def other(each_url: str) -> AsyncIterator[Database]:
    """An open, empty database beside that of the world."""
    async with await Database.open(each_url) as opened:
        yield opened


async def taken(database: Database, server: int = HERE) -> Stored:
    """Return what a manager takes along."""
    command = ReadArchive(server=server, member=MANAGER, manager=True, at=T0)
    return ok(await database.call(read_archive, command))


def read(data: bytes) -> Archive:
    """Return an archive that must be whole."""
    return ok(unpacked(data))


async def put(database: Database, archive: Archive, server: int | None = None) -> Loaded:
    """Load an archive that must be fine."""
    return ok(await database.call(load_archive, LoadArchive.of(archive, server)))


async def test_an_archive_loaded_into_an_empty_database_gives_the_same_archive(world: World, other: Database) -> None:
    """On SQLite and on PostgreSQL; its rows are those of the server, down to ids and times."""
    made = await taken(world.database)
    data = packed(made)
    loaded = await put(other, read(data))
    assert loaded.same
    assert loaded.rows == {name: len(rows) for name, rows in made.tables.items()}
    again = await taken(other)
    assert again.tables == made.tables
    # Only the private draft is not there any more, so none is left out of the second one.
    assert (made.left_out, again.left_out) == (1, 0)
    assert packed(replace(again, left_out=1)) == data
    # What is numbered by the database goes on behind what was loaded.
    said = AddRemark(server=HERE, member=AUTHOR, subject=world.build, text="Loaded.", at=T0)
    remark = ok(await other.call(add_remark, said))
    assert remark.id > max(row["id"] for row in made.tables["remarks"])
    text_ = "Build: Next One\n1 Bard\n"
    view = ok(await other.call(load_build, LoadBuild(server=HERE, member=AUTHOR, text=text_, at=T0)))
    assert view.number > made.tables["counters"][0]["last"]


async def test_every_table_with_a_row_goes_along(sqlite_url: str, other: Database) -> None:
    """Also tables that nobody thought of here: they are found in the metadata."""
    with sqlite3.connect(sqlite_url.removeprefix("sqlite:///")) as connection:
        connection.executescript(FILLING)
        # Written as text there, which is what PostgreSQL takes for bytes too.
        connection.execute("UPDATE folios SET data = CAST(data AS BLOB)")
    async with await Database.open(sqlite_url) as filled:
        made = await taken(filled, 1)
        rows = await all_rows(filled, 1)
    assert {name for name, kept in made.tables.items() if kept} == set(Base.metadata.tables) - LEFT_OUT
    archive = Archive(server=1, made="", tables=json.loads(json.dumps(made.tables)), builds={}, revisions=1, left_out=0)
    await put(other, archive)
    assert (await taken(other, 1)).tables == made.tables
    assert {**await all_rows(other, 1), "drafts": []} == {**rows, "drafts": []}


async def test_another_server_of_the_same_database_gets_free_ids_and_no_channels(world: World) -> None:
    """Remarks and what names them are moved together; channels, roles and messages stay where they were."""
    asked = AnswerRemark(server=HERE, member=AUTHOR, remark=world.remark, text="Why?", at=T0)
    answer = ok(await world.call(answer_remark, asked))
    before = await world.rows(HERE)
    made = await taken(world.database)
    loaded = await put(world.database, read(packed(made)), ELSEWHERE)
    assert not loaded.same
    assert await world.rows(HERE) == before
    there = (await taken(world.database, ELSEWHERE)).tables
    assert there["cards"] == []
    assert made.tables["cards"]
    assert [row["text"] for row in there["remarks"]] == [row["text"] for row in made.tables["remarks"]]
    step = there["remarks"][0]["id"] - made.tables["remarks"][0]["id"]
    assert step >= len(made.tables["remarks"])
    by_text = {row["text"]: row for row in there["remarks"]}
    assert by_text["Why?"]["answers"] == by_text["It hits more."]["id"] == world.remark + step
    named = [row["data"] for row in there["history"] if row["event"] == "remark-answered"]
    assert named == [{"remark": answer.id + step, "answers": world.remark + step}]
    for name, rows in there.items():
        for row, old in zip(rows, made.tables[name], strict=False):
            same = {"server", "id", "answers", "data", "policy", *OF_THE_PLACE.get(name, ())}
            assert {k: v for k, v in row.items() if k not in same} == {k: v for k, v in old.items() if k not in same}
    command = ListRemarks(server=ELSEWHERE, member=AUTHOR, subject=world.proposal)
    assert len(ok(await world.call(list_remarks, command)).items) == 3


async def test_channels_roles_and_policies_by_role_are_of_one_server_only(world: World, other: Database) -> None:
    tables = {name: [dict(row) for row in rows] for name, rows in (await taken(world.database)).tables.items()}
    tables["servers"][0] |= {"place": 70, "librarians": 71, "policy": {"role": 72}}
    tables["game_tables"][0] |= {"channel": 73, "role": 74, "policy": {"role": None}}
    command = LoadArchive(server=HERE, home=ELSEWHERE, tables=tables)
    ok(await other.call(load_archive, command))
    there = (await taken(other)).tables
    assert {there["servers"][0][name] for name in ("place", "librarians", "policy")} == {None}
    assert {there["game_tables"][0][name] for name in ("channel", "role")} == {None}
    assert there["game_tables"][0]["policy"] == {"role": None}


def test_every_id_of_the_platform_is_a_member_a_server_or_left_out() -> None:
    """A new column that names a channel or role has to be listed, or it would be taken to another server."""
    people = {("submissions", "decided_by"), ("proposals", "closed_by"), ("remarks", "settled_by"), ("members", "id")}
    for table in Base.metadata.sorted_tables:
        if table.name in LEFT_OUT or table.name == "cards":
            continue
        for column in table.c:
            of_member = any(key.column.table.name in ("members", "servers") for key in column.foreign_keys)
            own = column.name in ("id", "server") or (table.name, column.name) == ("remarks", "answers")
            # Times are kept as numbers too, in a type of their own.
            if type(column.type) is BigInteger and not of_member and not own:
                listed = column.name in OF_THE_PLACE.get(table.name, ()) or (table.name, column.name) in people
                assert listed, (table.name, column.name)


async def test_what_is_loaded_beside_names_and_a_counter_keeps_both(world: World, other: Database) -> None:
    """A server on which members were only seen is empty; its counter never goes back, and names stay."""
    async with other.unit() as uow:
        session = uow.archive._link.session
        await session.execute(text(f"INSERT INTO servers (id, place) VALUES ({HERE}, 9)"))
        await session.execute(text(f"INSERT INTO members (server, id, name) VALUES ({HERE}, {AUTHOR}, 'Ada')"))
        await session.execute(text(f"INSERT INTO counters (server, last) VALUES ({HERE}, 999)"))
        await uow.commit()
    loaded = await put(other, read(packed(await taken(world.database))))
    there = (await taken(other)).tables
    assert there["counters"] == [{"server": HERE, "last": 999}]
    assert [row["name"] for row in there["members"] if row["id"] == AUTHOR] == ["Ada"]
    assert there["servers"][0]["place"] is None
    assert loaded.rows["members"] == len(there["members"]) - 1


async def test_nothing_is_put_over_what_is_there(world: World) -> None:
    before = await world.rows(HERE)
    command = LoadArchive.of(read(packed(await taken(world.database))))
    assert "over nothing" in refused(await world.call(load_archive, command), "server-not-empty")
    assert await world.rows(HERE) == before


async def test_a_server_without_anything_has_no_archive(world: World) -> None:
    command = ReadArchive(server=ELSEWHERE, member=MANAGER, manager=True, at=T0)
    refused(await world.call(read_archive, command), "nothing-stored")


async def test_what_hangs_on_a_draft_is_left_out(world: World) -> None:
    """Its proposals and votes, submissions, remarks and history, whatever numbers they have."""
    made = await taken(world.database)
    async with world.database.unit() as uow:
        await uow.archive._link.session.execute(
            text(f"UPDATE builds SET shared = false WHERE server = {HERE} AND number = {world.build}")
        )
        await uow.commit()
    kept = (await taken(world.database)).tables
    gone = {world.build, world.proposal, world.outdated, world.timed}
    assert {row["number"] for row in kept["builds"]} == {row["number"] for row in made.tables["builds"]} - gone
    assert kept["proposals"] == kept["votes"] == kept["edits"] == kept["writeups"] == []
    assert {row["proposal"] for row in made.tables["edits"]} == {world.proposal, world.outdated, world.timed}
    for name in ("remarks", "history", "cards"):
        assert {row["subject"] for row in made.tables[name]} & gone
        assert not {row["subject"] for row in kept[name]} & gone


# -- bad archives -----------------------------------------------------------------------------------------------------

Change = Callable[[dict[str, list[dict[str, Any]]]], Any]
# What is changed in the rows, and words of the sentence.
UNFIT: dict[str, tuple[Change, str]] = {
    "a table of tomorrow": (lambda t: t.update(omens=[]), "there is no table omens"),
    "a column of tomorrow": (lambda t: t["votes"][0].update(weight=2), "votes have no weight"),
    "a column too few": (lambda t: t["votes"][0].pop("choice"), "a row of votes has no choice"),
    "nothing where something must be": (lambda t: t["builds"][0].update(shared=None), "a row of builds has no shared"),
    "words for a number": (lambda t: t["builds"][0].update(number="one"), 'number of a row of builds cannot be "one"'),
    "a number out of range": (
        lambda t: t["builds"][0].update(top=2**31),
        "top of a row of builds cannot be 2147483648",
    ),
    "yes for a number": (lambda t: t["builds"][0].update(top=True), "top of a row of builds cannot be true"),
    "a number for yes": (lambda t: t["builds"][0].update(shared=1), "shared of a row of builds cannot be 1"),
    "a long name": (lambda t: t["builds"][0].update(name="x" * 61), "name of a row of builds"),
    "a text that no database keeps": (lambda t: t["builds"][0].update(name="x\0"), "name of a row of builds"),
    "half a character": (lambda t: t["builds"][0].update(name="\ud800"), "name of a row of builds"),
    "half a character in data": (lambda t: t["rolls"][0].update(results=["\ud800"]), "results of a row of rolls"),
    "a time without a zone": (lambda t: t["builds"][0].update(created="2026-03-01T12:00:00"), "created of a row"),
    "no time": (lambda t: t["builds"][0].update(created="noon"), "created of a row"),
    "a number for a time": (lambda t: t["builds"][0].update(created=5), "created of a row"),
    "an id at the end of all ids": (
        lambda t: t["remarks"][0].update(id=2**63 - 1),
        "ids of remarks are numbers from 1",
    ),
    "a row of nobody": (lambda t: t["votes"][0].update(proposal=999), "do not fit each other"),
    "a member who is none": (lambda t: t["votes"][0].update(member=999), "do not fit each other"),
    "a row twice": (lambda t: t["votes"].append(t["votes"][0]), "do not fit each other"),
    "a word that is none": (lambda t: t["votes"][0].update(choice="maybe"), "do not fit each other"),
}


@pytest.mark.parametrize("name", UNFIT)
async def test_rows_that_do_not_fit_are_refused_and_nothing_is_stored(name: str, world: World, other_url: str) -> None:
    change, words = UNFIT[name]
    tables = {table: [dict(row) for row in rows] for table, rows in (await taken(world.database)).tables.items()}
    change(tables)
    async with await Database.open(other_url) as other:
        result = await other.call(load_archive, LoadArchive(server=HERE, home=HERE, tables=tables))
        assert words in refused(result, "archive-damaged")
        assert not any((await all_rows(other, HERE)).values())


@pytest.mark.parametrize("name", ["a row of nobody", "a member who is none", "a word that is none"])
async def test_what_the_database_itself_refuses_leaves_it_in_order(name: str, world: World, other: Database) -> None:
    """At once, at the end of the transaction, and by a check; afterwards the whole archive can be loaded."""
    change, words = UNFIT[name]
    whole_ = (await taken(world.database)).tables
    tables = {table: [dict(row) for row in rows] for table, rows in whole_.items()}
    change(tables)
    result = await other.call(load_archive, LoadArchive(server=HERE, home=HERE, tables=tables))
    assert words in refused(result, "archive-damaged")
    assert not any((await all_rows(other, HERE)).values())
    ok(await other.call(load_archive, LoadArchive(server=HERE, home=HERE, tables=whole_)))
    assert (await taken(other)).tables == whole_


async def test_a_column_that_an_older_archive_lacks_is_empty_or_its_default(world: World, other: Database) -> None:
    tables = {table: [dict(row) for row in rows] for table, rows in (await taken(world.database)).tables.items()}
    for row in tables["builds"]:
        del row["retired"], row["top"]
    ok(await other.call(load_archive, LoadArchive(server=HERE, home=HERE, tables=tables)))
    there = (await taken(other)).tables["builds"]
    assert {(row["retired"], row["top"]) for row in there} == {(None, 0)}


def zipped(parts: Parts) -> bytes:
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return target.getvalue()


def unzipped(data: bytes) -> Parts:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def about(parts: Parts, **changed: Any) -> None:
    """Change what an archive says about itself."""
    parts["archive.json"] = json.dumps(json.loads(parts["archive.json"]) | changed).encode()


def rewrite(parts: Parts, name: str, data: bytes) -> None:
    """Change a part and its hash with it."""
    parts[name] = data
    hashes = json.loads(parts["archive.json"])["hashes"]
    about(parts, hashes=hashes | {name: hashlib.sha256(data).hexdigest()})


def rows_of(parts: Parts, name: str) -> Any:
    return json.loads(parts[f"tables/{name}.json"])


def dumped(value: object) -> bytes:
    return json.dumps(value).encode()


def _unread_document(parts: Parts) -> None:
    document = b'{"schema":99,"name":"x"}'
    rewrite(parts, "builds/1/1.json", document)
    rows = rows_of(parts, "revisions")
    rows[0]["hash"] = hashlib.sha256(document).hexdigest()
    rewrite(parts, "tables/revisions.json", dumped(rows))


DAMAGED: dict[str, tuple[Callable[[Parts], Any], str, str]] = {
    "another zip": (lambda p: p.pop("archive.json"), "no-archive", "no archive of a server"),
    "another format": (lambda p: about(p, format="x"), "no-archive", "no archive of a server"),
    "a list": (lambda p: p.update({"archive.json": b"[]"}), "no-archive", "no archive of a server"),
    "a newer version": (lambda p: about(p, version=2), "archive-newer", "has version 2; this program reads 1"),
    "a part gone": (lambda p: p.pop("tables/votes.json"), "archive-damaged", "`tables/votes.json` is missing"),
    "a table gone": (
        lambda p: about(p, tables={"omens": 1}), "archive-damaged", "`tables/omens.json` is missing"
    ),
    "a part changed": (
        lambda p: p.update({"tables/votes.json": b"[]"}), "archive-damaged", "`tables/votes.json` is not what was"
    ),
    "a part too many": (lambda p: p.update({"notes.txt": b""}), "archive-damaged", "`notes.txt` does not belong"),
    "no rows": (lambda p: rewrite(p, "tables/votes.json", b"{}"), "archive-damaged", "is no list of rows"),
    "no JSON": (lambda p: rewrite(p, "tables/votes.json", b"["), "archive-damaged", "does not hold what belongs there"),
    "nested without end": (
        lambda p: rewrite(p, "tables/votes.json", b"[" * 100_000), "archive-damaged", "does not hold what belongs there"
    ),
    "no server": (lambda p: about(p, server=None), "archive-damaged", "does not hold what belongs there"),
    "a document gone": (
        lambda p: rewrite(p, "tables/revisions.json", dumped([rows_of(p, "revisions")[0] | {"number": 99}])),
        "archive-damaged",
        "`builds/1/99.json` is missing",
    ),
    "another document": (
        lambda p: rewrite(p, "builds/1/1.json", b"{}"), "archive-damaged", "is not the document that was stored"
    ),
    "a document of tomorrow": (_unread_document, "archive-damaged", "`builds/1/1.json`: "),
    "a folio of another hash": (
        lambda p: rewrite(p, "tables/folios.json", dumped([rows_of(p, "folios")[0] | {"hash": "ab"}])),
        "archive-damaged",
        "The folio `shoals`, version 1, is not what was stored: its hash differs.",
    ),
    "a folio that nobody can read": (
        lambda p: rewrite(p, "tables/folios.json", dumped([rows_of(p, "folios")[0] | {"data": "AAAA"}])),
        "archive-damaged",
        "The folio `shoals`, version 1, cannot be read by this version of the program",
    ),
    "a folio that is no Base64": (
        lambda p: rewrite(p, "tables/folios.json", dumped([rows_of(p, "folios")[0] | {"data": "-"}])),
        "archive-damaged",
        "does not hold what belongs there",
    ),
    "the newest revision gone": (
        lambda p: rewrite(p, "tables/revisions.json", dumped(rows_of(p, "revisions")[:1])),
        "archive-damaged",
        "has no revision",
    ),
}  # fmt: skip


@pytest.fixture(scope="module")
def whole(settled_file: tuple[Path, World], tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The archive of the world."""
    import asyncio

    path = tmp_path_factory.mktemp("archive") / "moot.db"
    path.write_bytes(settled_file[0].read_bytes())

    async def make() -> bytes:
        async with await Database.open(f"sqlite:///{path}") as database:
            return packed(await taken(database))

    return asyncio.run(make())


@pytest.mark.parametrize("name", DAMAGED)
def test_damaged_archives_are_refused_in_a_sentence(name: str, whole: bytes) -> None:
    change, code, words = DAMAGED[name]
    parts = unzipped(whole)
    assert not isinstance(unpacked(zipped(parts)), Refused)
    change(parts)
    assert words in refused(unpacked(zipped(parts)), code)


def test_files_that_are_no_archive_are_refused(whole: bytes) -> None:
    locked = bytearray(whole)
    locked[6] |= 1  # the first part's own header says that it is encrypted
    locked[whole.index(b"PK\x01\x02") + 8] |= 1
    for data in (b"", b"no zip", whole[: len(whole) // 2], bytes(locked), whole.replace(b"\x08\x00", b"\x63\x00")):
        refused(unpacked(data), "no-archive")
    target = io.BytesIO(whole)
    with zipfile.ZipFile(target, "a") as archive, pytest.warns(UserWarning, match="Duplicate name"):
        archive.writestr("tables/votes.json", b"[]")
    assert "twice" in refused(unpacked(target.getvalue()), "archive-damaged")


def test_archives_have_limits(whole: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patched:
        patched.setattr("engine.services.packing.LONGEST_FILE", len(whole) - 1)
        assert "an archive may have" in refused(unpacked(whole), "archive-too-large")
    with monkeypatch.context() as patched:
        patched.setattr("engine.services.packing.LONGEST", sum(map(len, unzipped(whole).values())) - 1)
        assert "unpacks to more than" in refused(unpacked(whole), "archive-too-large")
    with monkeypatch.context() as patched:
        patched.setattr("engine.services.packing.MOST_PARTS", len(unzipped(whole)) - 1)
        assert "parts; no server has that much" in refused(unpacked(whole), "archive-too-large")
    assert read(whole).revisions == len(rows_of(unzipped(whole), "revisions"))
