"""What storing a vote costs, against the bare statement on the same file in the same run.

Bound: at most 3 times the bare `INSERT … ON CONFLICT` + commit on the same file with the
same pragmas through aiosqlite.
"""

import time
from collections.abc import Awaitable, Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median

import aiosqlite

from engine.problem import Refused
from engine.review.policy import Choice
from engine.services.builds import LoadBuild, ShareBuild, load_build, share_build
from engine.services.proposals import (
    PostProposal,
    PreviewText,
    ShowProposal,
    post_proposal,
    preview_text,
    show_proposal,
)
from engine.services.votes import CastVote, cast_vote
from engine.store.database import Database

T0 = datetime(2026, 3, 1, tzinfo=UTC)
AUTHOR, PROPOSER = 501, 502
MEMBERS = range(1000, 1040)
ROUNDS, EACH = 15, 40
BOUND = 3.0
OUTLINE = "Build: Reed Warden\n1-3 Rogue\n"
BARE = (
    "INSERT INTO votes (server, proposal, member, choice, at) VALUES (?, ?, ?, ?, ?) "
    "ON CONFLICT (server, proposal, member) DO UPDATE SET choice = excluded.choice, at = excluded.at"
)


async def test_storing_a_vote_costs_at_most_three_bare_inserts(tmp_path: Path) -> None:
    """Forty members change their votes again and again; both sides write the same table and take turns."""
    path = tmp_path / "moot.db"
    async with await Database.open(f"sqlite:///{path}") as database, aiosqlite.connect(path) as bare:
        number = await _open_proposal(database)
        for pragma in ("journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON", "busy_timeout = 5000"):
            await bare.execute(f"PRAGMA {pragma}")

        async def insert(member: int, turn: int) -> None:
            await bare.execute(BARE, (1, number, member, _choice(member, turn).value, turn))
            await bare.commit()

        async def vote(member: int, turn: int) -> None:
            at = T0 + timedelta(seconds=turn)
            command = CastVote(server=1, member=member, proposal=number, choice=_choice(member, turn), at=at)
            result = await database.call(cast_vote, command)
            assert not isinstance(result, Refused)

        for member in MEMBERS:
            await vote(member, 0)
        ratios = []
        for turn in range(1, ROUNDS + 1):
            plain = await _timed(insert, turn)
            ours = await _timed(vote, turn)
            ratios.append(ours / plain)
        shown = await database.call(show_proposal, ShowProposal(server=1, member=AUTHOR, proposal=number))
        assert not isinstance(shown, Refused)
        assert shown.votes == {member: _choice(member, ROUNDS) for member in MEMBERS}
    print(f"\nstoring a vote: {median(ratios):.2f} times the bare insert and commit")
    assert median(ratios) <= BOUND, ratios


async def _timed(step: Callable[[int, int], Awaitable[None]], turn: int) -> float:
    started = time.perf_counter()
    for member in MEMBERS:
        await step(member, turn)
    return time.perf_counter() - started


def _choice(member: int, turn: int) -> Choice:
    return list(Choice)[(member + turn) % 3]


async def _open_proposal(database: Database) -> int:
    build = await database.call(load_build, LoadBuild(server=1, member=AUTHOR, text=OUTLINE, at=T0))
    assert not isinstance(build, Refused)
    await database.call(share_build, ShareBuild(server=1, member=AUTHOR, build="Reed Warden", at=T0))
    command = PreviewText(
        server=1, member=PROPOSER, build="Reed Warden", part=4, text="4 Ranger", reason="wider", at=T0
    )
    preview = await database.call(preview_text, command)
    assert not isinstance(preview, Refused)
    posted = await database.call(post_proposal, PostProposal(server=1, member=PROPOSER, draft=preview.draft, at=T0))
    assert not isinstance(posted, Refused)
    return posted.number
