"""`buildmoot archive` from the outside: made from a database, listed, written as outlines, loaded into another."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from bot.cli import main
from engine.store.lock import FileLock
from tests.engine.databases import sqlite_template  # noqa: F401 - fixtures are found by their names here
from tests.engine.services.world import HERE, World, settled_file  # noqa: F401

ROOT = Path(__file__).parents[3]


@pytest.fixture
def filled(settled_file: tuple[Path, World], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:  # noqa: F811
    """A database with a server on it, which the settings name."""
    path = tmp_path / "filled.db"
    path.write_bytes(settled_file[0].read_bytes())
    use(path, monkeypatch)
    return path


def use(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the settings name a database."""
    monkeypatch.setenv("BUILDMOOT_DATABASE_URL", f"sqlite+aiosqlite:///{path}")


@pytest.fixture
def saved(filled: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """The archive of that server."""
    place = tmp_path / "server.zip"
    assert main(["archive", str(place), "--save", str(HERE)]) == 0
    assert capsys.readouterr().out.startswith(f"{place}: archive of server {HERE}: ")
    return place


def listed(place: Path, capsys: pytest.CaptureFixture[str]) -> Any:
    assert main(["archive", str(place), "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def stopped(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    """Return what is printed for bad input: nothing on standard output, one sentence on the other."""
    assert main(["archive", *words]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    return err


def test_saved_loaded_into_a_fresh_database_and_saved_again_it_is_the_same(
    saved: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    use(tmp_path / "new" / "fresh.db", monkeypatch)
    assert main(["archive", str(saved), "--load"]) == 0
    assert capsys.readouterr().out.startswith(f"Loaded into server {HERE}: ")
    again = tmp_path / "again.zip"
    assert main(["archive", str(again), "--save", str(HERE), "--json"]) == 0
    made = json.loads(capsys.readouterr().out)
    before, after = listed(saved, capsys), listed(again, capsys)
    assert made == {name: after[name] for name in ("server", "rows", "left_out_drafts")}
    # The time at which each was made differs, and the draft that was left out is not there to be left out again.
    assert {**after, "made": before["made"], "left_out_drafts": 1} == before
    assert stopped(capsys, str(saved), "--load").startswith(f"{saved}:1:1: The database holds things of server {HERE}")


def test_loaded_into_another_server_channels_are_left_out(
    saved: Path, filled: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["archive", str(saved), "--load", "--server", "777", "--json"]) == 0
    loaded = json.loads(capsys.readouterr().out)
    rows = listed(saved, capsys)["rows"]
    assert loaded == {"server": 777, "rows": {**rows, "cards": 0}}
    assert main(["archive", str(saved), "--load", "--server", "778"]) == 0
    assert capsys.readouterr().out.endswith(
        "\nChannels, roles and messages of the server that it came from were left out; set them anew.\n"
    )


def test_it_is_listed_for_people_and_its_builds_are_written_once(
    saved: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "out"
    assert main(["archive", str(saved), "--to", str(folder)]) == 0
    out = capsys.readouterr().out
    assert f"Archive of server {HERE}, made " in out
    assert "  #1 Reed Warden, revision 2, level 6\n" in out
    assert " writeups\n  left out: 1 private draft\n" in out
    numbers = [each["number"] for each in listed(saved, capsys)["builds"]]
    folios = {"shoals-1.yaml", "shoals-2.yaml", "wrecks-1.yaml"}
    assert {path.name for path in folder.iterdir()} == {f"{number}.outline" for number in numbers} | folios
    assert len(numbers) > 3
    assert main(["outline", str(folder / "1.outline"), "--print"]) == 0
    assert capsys.readouterr().out == (folder / "1.outline").read_text(encoding="utf-8")
    # One that is made with a folio of the server is read by the folio beside it.
    outline = next(path for path in folder.glob("*.outline") if "Shoals" in path.read_text(encoding="utf-8"))
    assert main(["outline", str(outline), "--print", "--folio", str(folder / "shoals-1.yaml")]) == 0
    assert capsys.readouterr().out == outline.read_text(encoding="utf-8")
    assert "1.outline: it exists already and was left alone" in stopped(capsys, str(saved), "--to", str(folder))
    (tmp_path / "file").write_text("")
    assert "the folder cannot be written" in stopped(capsys, str(saved), "--to", str(tmp_path / "file" / "out"))


def test_bad_input_is_one_sentence(
    saved: Path, filled: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    before = saved.read_bytes()
    assert "the file exists already and was left alone" in stopped(capsys, str(saved), "--save", str(HERE))
    assert saved.read_bytes() == before
    missing = str(tmp_path / "none" / "x.zip")
    assert "the file cannot be read (No such file or directory)" in stopped(capsys, missing)
    assert "the file cannot be written (No such file" in stopped(capsys, missing, "--save", str(HERE))
    new = str(tmp_path / "new.zip")
    assert "Nothing of this server is stored yet" in stopped(capsys, new, "--save", "5")
    assert "0 is no id of a server" in stopped(capsys, new, "--save", "0")
    assert "give both" in stopped(capsys, str(saved), "--server", "5")
    (tmp_path / "text.zip").write_text("no zip")
    assert "is no archive of a server" in stopped(capsys, str(tmp_path / "text.zip"), "--load")
    lock = FileLock(filled)
    assert "is in use by another process" in stopped(capsys, str(saved), "--load")
    lock.release()
    monkeypatch.setenv("BUILDMOOT_DATABASE_URL", "mysql://x/y")
    assert stopped(capsys, str(saved), "--load").startswith("buildmoot archive: ")


def test_listing_loads_no_database_library(saved: Path) -> None:
    """A file command stays quick: it loads neither the chat library nor the database's nor the one for pictures."""
    code = (
        "import sys; from bot.cli import main; code = main(sys.argv[1:]);"
        "assert not {'discord', 'sqlalchemy', 'matplotlib', 'typst'} & set(sys.modules); sys.exit(code)"
    )
    command = [sys.executable, "-c", code, "archive", str(saved), "--to", str(saved.parent / "out")]
    ran = subprocess.run(command, capture_output=True, text=True, check=False, cwd=ROOT)
    assert ran.returncode == 0, ran.stderr
