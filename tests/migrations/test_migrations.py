"""The schema changes by migrations only: up, down and up again on filled tables, and never apart from the models."""

import asyncio
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, inspect
from sqlalchemy.ext.asyncio import AsyncEngine

from engine.store.database import migration_config, upgrade
from engine.store.engines import database_url, postgres_engine, sqlite_engine
from engine.store.models import Base

SCRIPTS = ScriptDirectory.from_config(migration_config())
REVISIONS = [script.revision for script in SCRIPTS.walk_revisions()][::-1]

# One row for every table, in an order in which each finds what it refers to; times are microseconds.
FILLING = """
INSERT INTO servers (id) VALUES (1);
INSERT INTO members (server, id, name, seen) VALUES (1, 9223372036854775807, 'Ada', 1767225600000001);
INSERT INTO counters (server, last) VALUES (1, 2);
INSERT INTO builds
  (server, number, author, name, name_key, shared, removed, revision, top, created, changed, row_version)
  VALUES (1, 1, 9223372036854775807, 'Reed', 'reed', true, false, 1, 3, 1, 2, 1);
INSERT INTO coauthors (server, build, member, at) VALUES (1, 1, 9223372036854775807, 1);
INSERT INTO build_classes (server, build, class_id, levels, place) VALUES (1, 1, 'rogue', 3, 0);
INSERT INTO revisions (server, build, number, hash, author, at, reason, parent, proposal, document)
  VALUES (1, 1, 1, 'aa', 9223372036854775807, 1, '', NULL, NULL, '{"schema":1}');
INSERT INTO proposals
  (server, number, build, base, proposer, title, reason, state, created, since, close_reason, row_version)
  VALUES (1, 2, 1, 1, 9223372036854775807, 'title', 'reason', 'open', 1, 1, '', 1);
INSERT INTO edits (server, proposal, place, path, before, after) VALUES (1, 2, 0, '/concept', NULL, '"x"');
INSERT INTO votes (server, proposal, member, choice, at) VALUES (1, 2, 9223372036854775807, 'for', 1);
INSERT INTO remarks (id, server, subject, kind, author, text, at)
  VALUES (1, 1, 2, 'proposal', 9223372036854775807, 'x', 1);
INSERT INTO history (id, server, subject, kind, event, actor, at, reason)
  VALUES (1, 1, 2, 'proposal', 'proposal-opened', 9223372036854775807, 1, '');
INSERT INTO rolls (server, number, kind, member, at, dice, results, purpose, purpose_key, build, level)
  VALUES (1, 3, 'hp', 9223372036854775807, 1, '1d8', '[]', '', '', 1, 2);
INSERT INTO game_tables (server, number, name, name_key, role, open, level, rules, created, changed, row_version)
  VALUES (1, 4, 'Marsh Table', 'marsh table', 9223372036854775806, true, 3, 'feats: no', 1, 1, 1);
INSERT INTO seats (server, at_table, member, gm, at) VALUES (1, 4, 9223372036854775807, true, 1);
INSERT INTO submissions
  (server, number, build, at_table, stage, revision, at, remarks, decided, decided_by, row_version)
  VALUES (1, 5, 1, 4, 'approved', 1, 1, '', 2, 9223372036854775807, 1);
INSERT INTO approvals (server, submission, place, member, at, revision, first, last, seen, findings, folios)
  VALUES (1, 5, 1, 9223372036854775807, 2, 1, 1, 3, '{}', '[]', '{}');
INSERT INTO waivers (id, server, submission, code, level, subject, message, reason, member, at)
  VALUES (1, 1, 5, 'table-gold', 1, 'gear', 'x', 'y', 9223372036854775807, 2);
INSERT INTO folios
  (server, id, version, hash, title, author, licence, about, name, size, entries, data, added_by, at, current,
   everywhere, removed)
  VALUES (1, 'tidewater', '1.2', 'ab', 'Tidewater', 'Ada', 'ours', 'by us', 'tidewater.yaml', 2, 1, '{}',
   9223372036854775807, 1, true, true, NULL);
INSERT INTO table_folios (server, at_table, folio, member, at) VALUES (1, 4, 'tidewater', 9223372036854775807, 1);
INSERT INTO cards (server, message, subject, channel, stale) VALUES (1, 5, 2, 6, false);
INSERT INTO writeups (server, build, member, text, revision, at)
  VALUES (1, 1, 9223372036854775807, '[+7](num:4/ac)', 1, 1);
INSERT INTO drafts (id, server, member, kind, fields, at) VALUES (1, 1, 9223372036854775807, 'load', '{}', 1);
"""


def _statements() -> list[str]:
    return [statement.strip() for statement in FILLING.split(";") if statement.strip()]


def _engine(url: str) -> AsyncEngine:
    target = database_url(url)
    if target.get_backend_name() == "sqlite":
        return sqlite_engine(target, writes=True, size=1, foreign_keys=False)
    return postgres_engine(target)


async def _on(url: str, *steps: object) -> list[object]:
    """Run functions of a connection, each in a transaction of its own."""
    engine = _engine(url)
    found = []
    try:
        for step in steps:
            async with engine.begin() as connection:
                found.append(await connection.run_sync(step))  # type: ignore[arg-type]
    finally:
        await engine.dispose()
    return found


def to(revision: str) -> object:
    def step(connection: Connection) -> None:
        config = migration_config(connection)
        if revision == "base" or (revision.startswith("-")):
            command.downgrade(config, revision)
        else:
            command.upgrade(config, revision)

    return step


def fill(connection: Connection) -> None:
    for statement in _statements():
        connection.exec_driver_sql(statement)


def contents(connection: Connection) -> dict[str, list[tuple[object, ...]]]:
    tables = [table.name for table in Base.metadata.sorted_tables]
    return {name: [tuple(r) for r in connection.exec_driver_sql(f"SELECT * FROM {name}")] for name in tables}


def names(connection: Connection) -> set[str]:
    return set(inspect(connection).get_table_names())


def differences(connection: Connection) -> list[object]:
    context = MigrationContext.configure(connection, opts={"compare_type": True, "compare_server_default": True})
    return list(compare_metadata(context, Base.metadata))


def test_the_filling_fills_every_table() -> None:
    """A new table needs a row here."""
    filled = {statement.split()[2] for statement in _statements()}
    assert filled == set(Base.metadata.tables)


async def test_models_and_migrations_agree(fresh_url: str) -> None:
    """What `alembic check` compares, on both databases."""
    [found] = await _on(fresh_url, differences)
    assert found == []


async def test_alembic_check_passes_from_the_command_line(tmp_path: Path) -> None:
    """With the configuration of pyproject.toml, as the checks run it."""
    import os
    import sys

    environment = {**os.environ, "BUILDMOOT_DATABASE_URL": f"sqlite:///{tmp_path / 'a.db'}"}
    root = Path(__file__).parents[2]
    for words in (["upgrade", "head"], ["check"], ["downgrade", "base"], ["upgrade", "head"]):
        process = await asyncio.create_subprocess_exec(
            sys.executable, "-m", "alembic", *words, cwd=root, env=environment,
            stdout=asyncio.subprocess.PIPE, stderr=asyncio.subprocess.STDOUT,
        )  # fmt: skip
        out, _ = await process.communicate()
        assert process.returncode == 0, out.decode()


async def test_filled_tables_survive_the_newest_migration_down_and_up(fresh_url: str) -> None:
    """The newest step back and forth keeps the rows of the tables that were there before it; then all the way."""
    await _on(fresh_url, fill)
    [before] = await _on(fresh_url, contents)
    if len(REVISIONS) > 1:
        [_, older, _, after] = await _on(fresh_url, to("-1"), names, to("head"), contents)
        assert isinstance(before, dict)
        assert isinstance(after, dict)
        assert isinstance(older, set)
        assert {name: after[name] for name in after if name in older} == {
            name: before[name] for name in before if name in older
        }
    [_, _, found, _] = await _on(fresh_url, to("base"), to("head"), differences, fill)
    assert found == []
    [again] = await _on(fresh_url, contents)
    assert again == before


async def test_upgrading_twice_changes_nothing(sqlite_url: str) -> None:
    """Every start does it."""
    await _on(sqlite_url, fill)
    await upgrade(sqlite_url)
    [kept] = await _on(sqlite_url, contents)
    assert isinstance(kept, dict)
    assert all(kept.values())


async def test_every_row_goes_with_its_server(fresh_url: str) -> None:
    """Deleting a server leaves nothing of it in any table."""
    await _on(fresh_url, fill)
    target = database_url(fresh_url)
    sqlite = target.get_backend_name() == "sqlite"
    engine = sqlite_engine(target, writes=True, size=1) if sqlite else postgres_engine(target)
    async with engine.begin() as connection:
        await connection.exec_driver_sql("DELETE FROM servers WHERE id = 1")
    await engine.dispose()
    [left] = await _on(fresh_url, contents)
    assert isinstance(left, dict)
    assert not any(left.values())


async def test_rows_that_refer_to_nothing_stop_a_migration(sqlite_url: str) -> None:
    """A rebuilt table could lose rows silently otherwise."""
    path = database_url(sqlite_url).database or ""
    with closing(sqlite3.connect(path)) as raw:
        raw.execute("INSERT INTO counters (server, last) VALUES (77, 1)")
        raw.commit()
    with pytest.raises(RuntimeError, match="refer to nothing"):
        await upgrade(sqlite_url)


def test_files_are_dated_and_in_one_line() -> None:
    """One head, file names by date, a sentence at the top of each."""
    assert len(SCRIPTS.get_heads()) == 1
    for script in SCRIPTS.walk_revisions():
        name = Path(script.path).name
        assert name[:10].replace("-", "").isdigit()
        assert script.doc
