"""The process is killed at random moments: what it acknowledged is there afterwards, and nothing is there by half."""

import asyncio
import json
import random
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import make_url, text

from engine.store.database import Database
from tests.engine.services.crash_worker import DEEDS, PROPOSALS, SERVER, deed
from tests.engine.services.world import REED, load, propose, share

ROOT = Path(__file__).parents[3]


async def set_up(url: str) -> None:
    """Make a build and its proposals, each about a level of its own, so that all of them can be adopted."""
    async with await Database.open(url) as database:
        build = (await load(database, REED)).number
        await share(database, build)
        lines = [
            "2 Rogue hp 5",
            "3 Rogue (Thief) hp 5",
            "4 Rogue hp 5: +1 Dex, +1 Wis",
            "5 Ranger hp 5",
            "6 Ranger hp 5",
        ]
        texts = [(level, line) for level, line in enumerate(lines, start=2)]
        texts.append((7, "7 Ranger"))
        numbers = [(await propose(database, build, level, line)).number for level, line in texts]
        assert numbers == list(PROPOSALS)


def expected(done: int) -> dict[str, Any]:
    """Return what the database must hold after so many deeds: worked out from the list of deeds alone."""
    votes: dict[tuple[int, int], str] = {}
    adopted: list[int] = []
    events = {"proposal-opened": len(PROPOSALS)}
    for index in range(done):
        proposal, member, choice = deed(index)
        if member is None or choice is None:
            adopted.append(proposal)
            events["proposal-adopted"] = len(adopted)
            events["proposal-followed"] = events.get("proposal-followed", 0) + len(PROPOSALS) - len(adopted)
        else:
            votes[proposal, member] = choice
            events["vote-cast"] = events.get("vote-cast", 0) + 1
    return {
        "votes": votes,
        "adopted": {number: place for place, number in enumerate(adopted, start=2)},
        "revisions": [None, *adopted],
        # Each adoption puts its own change over those before: hit points at 2, 3, 4, 5 and 6, then level 7.
        "documents": [(list(range(2, 2 + min(n, 5))), 6 + (n == 6)) for n in range(len(adopted) + 1)],
        "newest": 1 + len(adopted),
        "events": {event: count for event, count in events.items() if count},
    }


async def stored(url: str) -> dict[str, Any]:
    """Return the same, as it stands there once the database was opened anew."""
    parts = make_url(url)
    if parts.get_backend_name() == "sqlite":
        with closing(sqlite3.connect(parts.database or "")) as link:
            assert link.execute("PRAGMA integrity_check").fetchone() == ("ok",)
            assert link.execute("PRAGMA foreign_key_check").fetchall() == []
    async with await Database.open(url) as database, database.unit().reading() as uow:

        async def rows(query: str) -> list[tuple[Any, ...]]:
            found = await uow.people._link.session.execute(text(query))
            return [tuple(row) for row in found]

        votes = {(p, m): c for p, m, c in await rows("SELECT proposal, member, choice FROM votes")}
        adopted = dict(await rows("SELECT number, adopted_as FROM proposals WHERE state = 'adopted'"))
        revisions = await rows("SELECT proposal, document FROM revisions ORDER BY number")
        [(newest,)] = await rows(f"SELECT revision FROM builds WHERE server = {SERVER}")
        events = await rows("SELECT event, count(*) FROM history WHERE kind = 'proposal' GROUP BY event")
    return {
        "votes": votes,
        "adopted": adopted,
        "revisions": [proposal for proposal, _ in revisions],
        "documents": [content(json.loads(document)) for _, document in revisions],
        "newest": newest,
        "events": dict(events),
    }


def content(document: dict[str, Any]) -> tuple[list[int], int]:
    """Return at which levels of the character a stored document gives hit points, and how many levels it has."""
    order = document["order"]
    given = []
    for place, class_id in enumerate(order, start=1):
        nth = order[:place].count(class_id)
        if "hp" in document["levels"].get(class_id, {}).get(str(nth), {}):
            given.append(place)
    return given, len(order)


@dataclass
class Spoken:
    """What a worker said before it ended. done: deeds, from the first on; killed: whether we ended it."""

    done: int
    killed: bool


def watch(url: str, done: int, enough: int, patience: float) -> Spoken:
    """Run a worker from a deed on, kill it a moment after it said enough, and return what it said."""
    command = [sys.executable, "-m", "tests.engine.services.crash_worker", url, str(done)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT) as worker:
        assert worker.stdout is not None
        said, killed = done, False
        for line in worker.stdout:
            said = int(line) + 1
            if said >= enough and not killed:
                time.sleep(patience)
                worker.kill()
                killed = True
    assert worker.returncode in ((-signal.SIGKILL, 0) if killed else (0,))
    return Spoken(said, killed)


async def test_every_acknowledged_deed_outlives_a_kill(url: str) -> None:
    """Five hundred votes and adoptions, killed several times: after each, all that was said, or one more."""
    await set_up(url)
    assert DEEDS >= 500
    dice = random.Random(20260301)
    done, kills = 0, 0
    while done < DEEDS:
        enough, patience = done + dice.randint(20, 140), dice.random() * 0.02
        spoken = await asyncio.to_thread(watch, url, done, enough, patience)
        assert spoken.done > done, "the worker did nothing"
        kills += spoken.killed
        found = await stored(url)
        # The deed that was under way may have been kept without having been said.
        possible = [n for n in (spoken.done, spoken.done + 1) if n <= DEEDS]
        reached = next((n for n in possible if found == expected(n)), None)
        assert reached is not None, (spoken, found["events"], expected(spoken.done)["events"])
        done = reached
    assert kills >= 3
