"""Whole processes: how long one sheet takes from the shell, and how much memory an idle bot holds."""

import compileall
import subprocess
import sys
from pathlib import Path
from time import perf_counter

import psutil
from pytest_benchmark.fixture import BenchmarkFixture

ROOT = Path(__file__).parents[2]
BASELINE = [sys.executable, "-c", "import yaml, pydantic; pydantic.create_model('M', a=(int, 0))"]
BUILD = ROOT / "bot" / "room" / "seed" / "lighthouse-archivist.outline"
SHEET = [sys.executable, "-m", "bot.cli", "sheet", str(BUILD), "--level", "20"]
IDLE = """
import asyncio, sys
import psutil
from bot.app import create_bot
from bot.settings import Settings
from engine.services.library import catalog

async def main():
    bot = create_bot(Settings(database_url=sys.argv[1]))
    from engine.store.database import Database
    database = await Database.open(sys.argv[1])
    import numpy  # as the bot does when it starts
    for kind in ("class", "species", "spell", "item", "feature", "creature", "state"):
        list(catalog().every(kind))
    print(psutil.Process().memory_info().rss)
    await database.close()

asyncio.run(main())
"""


def run(command: list[str]) -> float:
    """Run a process to its end; return the seconds it took."""
    start = perf_counter()
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    seconds = perf_counter() - start
    if command is SHEET:
        assert "Lighthouse Archivist, level 20" in done.stdout
        assert "casting.wizard.save_dc" in done.stdout
    return seconds


def test_one_sheet_as_a_whole_process(benchmark: BenchmarkFixture) -> None:
    """At most 2.5 times a process that imports the same libraries and makes one model."""
    for package in ("bot", "engine"):
        compileall.compile_dir(ROOT / package, quiet=2)  # as an installer does for an installed package
    run(SHEET)  # the first start makes the folio's cache
    baseline, sheet = [], []
    for _ in range(7):  # by turns, so that whatever else the machine does meets both
        baseline.append(run(BASELINE))
        sheet.append(run(SHEET))
    ratio = min(sheet) / min(baseline)
    benchmark.extra_info["ratio"] = round(ratio, 2)
    benchmark.pedantic(run, args=(SHEET,), rounds=3)
    print(f"sheet as a process: {ratio:.2f} times the baseline")
    assert ratio <= 2.5


def test_an_idle_bot_holds_less_than_160_megabytes(tmp_path: Path, benchmark: BenchmarkFixture) -> None:
    """Main process with database open and every kind of content loaded."""
    url = f"sqlite+aiosqlite:///{tmp_path / 'idle.db'}"
    done = benchmark.pedantic(
        subprocess.run,
        args=([sys.executable, "-c", IDLE, url],),
        kwargs={"cwd": ROOT, "capture_output": True, "text": True, "check": True},
        rounds=1,
    )
    megabytes = int(done.stdout) / 1_000_000
    benchmark.extra_info["megabytes"] = round(megabytes)
    print(f"idle bot: {megabytes:.0f} MB of this machine's {psutil.virtual_memory().total / 1e9:.0f} GB")
    assert megabytes < 160
