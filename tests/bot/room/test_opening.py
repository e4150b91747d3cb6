"""The room as a program: its own options, the demo as a process, the browser page."""

import asyncio
import io
import re
import sys
from pathlib import Path
from urllib.request import urlopen

import pytest

from bot.room.__main__ import parser, run
from bot.room.terminal import ask_terminal
from tests.engine.sheet.test_worked_folios import AT_20


async def test_the_demo_runs_through_and_returns_0(capsys: pytest.CaptureFixture[str]) -> None:
    assert await run(parser().parse_args(["--demo"])) == 0
    printed = capsys.readouterr().out
    steps = ["/build load", "/build share", "/build show", "/build why", "/propose change", "adopted as revision 2"]
    places = [printed.index(step) for step in steps]
    assert places == sorted(places)
    assert printed.count("/build show") == 3
    assert "used by #5 Bell Pilot of the Mole" in printed[printed.index("/content show") :]
    # Every number of this build is worked out by hand in tests/engine/sheet/test_worked_folios.py.
    assert f"Hit points {AT_20['hp.max']} · Armor class {AT_20['ac']}" in printed
    assert "For 2 · Against 0 · Abstain 1" in printed


async def test_a_demo_that_cannot_be_played_returns_1(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert await run(parser().parse_args(["--demo", "--outline", str(tmp_path / "nothing.outline")])) == 1
    assert "The demo stopped" in capsys.readouterr().err


async def test_the_room_opens_its_page_on_this_machine_only_and_leaves_at_the_end_of_input(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[int] = []

    async def read_the_page(prompt: str) -> str:
        if seen:
            raise EOFError
        address = re.search(r"http://127\.0\.0\.1:\d+/", capsys.readouterr().out)
        assert address is not None
        page = await asyncio.to_thread(urlopen, address[0])
        seen.append(page.status)
        return "who"

    monkeypatch.setattr("bot.room.__main__.ask_terminal", read_the_page)
    assert await run(parser().parse_args(["--data", str(tmp_path), "--port", "0"])) == 0
    assert seen == [200]
    assert "Everything is kept" in capsys.readouterr().out


async def test_lines_come_from_a_pipe_until_it_ends(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO("@tiva /build list\n"))
    assert await ask_terminal("> ") == "@tiva /build list"
    with pytest.raises(EOFError):
        await ask_terminal("> ")
