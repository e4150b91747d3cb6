"""A small server to try services on: who is who, what stands there, and how to put it there."""

import shutil
from collections.abc import AsyncIterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, TypeVar

import pytest

from engine.problem import Refused
from engine.review.approval import finding_key
from engine.review.policy import Choice
from engine.services.approvals import SubmitBuild, submit_build
from engine.services.builds import EditBuild, LoadBuild, ShareBuild, edit_build, load_build, share_build
from engine.services.cards import RememberCard, remember_card
from engine.services.folio_settings import SetLibrarians, set_librarians
from engine.services.folios import AddFolio, RemoveFolio, add_folio, remove_folio
from engine.services.members import RememberMember, remember_member
from engine.services.mending import AuditBuild, audit_build
from engine.services.ownership import AddCoAuthor, RetireBuild, add_co_author, retire_build
from engine.services.policies import SetPolicy, set_policy
from engine.services.proposals import PostProposal, PreviewText, post_proposal, preview_text
from engine.services.remarks import AddRemark, add_remark
from engine.services.rolls import RollScores, roll_scores
from engine.services.tables import JoinTable, NewTable, SeatMember, join_table, new_table, seat_member
from engine.services.views import BuildView, ProposalPreview, ProposalView, TextErrors
from engine.services.votes import CastVote, cast_vote
from engine.services.writeups import KeepWriteup, keep_writeup
from engine.store.database import Database

T = TypeVar("T")
T0 = datetime(2026, 3, 1, 12, tzinfo=UTC)
HERE, ELSEWHERE = 100, 200
AUTHOR, PROPOSER, READER, COAUTHOR, MANAGER, MASTER, PLAYER, LIBRARIAN = 501, 502, 503, 504, 505, 507, 509, 510
# The chat role whose members may add folios.
LIBRARIANS = 88

REED = """\
Build: Reed Warden
Concept: a marsh scout
Species: Half-Elf (+1 Dex, +1 Wis; skills Survival, Nature; language Goblin)
1 Rogue: skills Perception, Stealth, Acrobatics, Investigation; expertise Perception, Stealth
2 Rogue
3 Rogue (Thief)
4 Rogue: +1 Dex, +1 Wis
5-6 Ranger
"""
# Scores that nothing can check: its GM has to rule on them.
RUNNER = """\
Build: Salt Runner
Scores: Str 8, Dex 15, Con 13, Int 10, Wis 14, Cha 12 (manual)
1-2 Rogue
"""
UNFINISHED = "Build: Kelp Diver\nGoal: hp.max >= 9 at 1\n1-2 Wizard\n"
HIDDEN = "Build: Sunken Bell\n1-2 Wizard\n"
_SHOALS = """\
id: shoals
title: Shoals
version: "{version}"
licence: CC0-1.0
attribution: made for the Lantern Coast Cartographers
author: Maren of the Lantern Coast
extends: srd-5.1
feats:
  - id: sounding-lead
    name: Sounding Lead
    grants:
      - {{kind: passive-bonus, amount: {amount}, skills: [perception]}}
"""
# The second version of it gives one more.
SHOALS, SHOALS_2 = (_SHOALS.format(version=n, amount=n + 1).encode() for n in (1, 2))
WRECKS, EDDIES = (
    _SHOALS.format(version=1, amount=1).replace("Shoals", title).replace("shoals", title.lower()).encode()
    for title in ("Wrecks", "Eddies")
)
SOUNDER = """\
Build: Shoal Sounder
Folios: Shoals
Scores: Str 8, Dex 15, Con 13, Int 10, Wis 14, Cha 12 (standard array)
1 Rogue: skills Perception, Stealth, Acrobatics, Investigation; expertise Perception, Stealth
2-3 Rogue
4 Rogue: feat Sounding Lead
"""


def at(minutes: float) -> datetime:
    """Return a time some minutes after the beginning."""
    return T0 + timedelta(minutes=minutes)


def ok(result: T | Refused | TextErrors) -> T:
    """Return a result that must not be a refusal."""
    assert not isinstance(result, Refused | TextErrors), result
    return result


def refused(result: object, code: str) -> str:
    """Return the sentence of a refusal, which must have a code and end as a sentence does."""
    assert isinstance(result, Refused), result
    assert result.code == code, result
    assert result.sentence[-1] in ".!?"
    return result.sentence


@dataclass(frozen=True)
class World:
    """An open database with things on server HERE. All numbers are those that members say aloud."""

    database: Database
    build: int  # Reed Warden, shared, by AUTHOR
    hidden: int  # Sunken Bell, AUTHOR's draft
    proposal: int  # open, by PROPOSER, READER has voted for it, with a card
    outdated: int  # by PROPOSER
    posting: int  # PROPOSER's previewed draft, not posted
    card: int  # message id
    roll: int  # READER's score roll, cited by no build
    timed: int  # open for an hour, by PROPOSER, nobody has voted
    retired: int  # AUTHOR's, shared, set aside
    remark: int  # PROPOSER's, on the proposal
    unfinished: int  # Kelp Diver, shared, by AUTHOR with COAUTHOR: nothing is chosen on it
    finding: str  # key of what the audit says of its subclass, of which there is one only
    table: int  # Marsh Table, MASTER's, at level 2, AUTHOR, COAUTHOR and PLAYER play there
    ferry: int  # Ferry Table, nobody plays there yet
    runner: int  # Salt Runner, shared, by AUTHOR with COAUTHOR, submitted to the Marsh Table
    submission: int  # that, waiting
    token: str  # of its card
    ruling: str  # key of its one finding to rule on
    sounder: int  # Shoal Sounder, shared, by AUTHOR with COAUTHOR, made with version 1 of Shoals; 2 is in use

    async def call(self, service: Any, cmd: Any) -> Any:
        """Run a service."""
        return await self.database.call(service, cmd)

    async def rows(self, server: int) -> dict[str, list[tuple[Any, ...]]]:
        """Return every row of a server in every table."""
        return await all_rows(self.database, server)


async def all_rows(database: Database, server: int) -> dict[str, list[tuple[Any, ...]]]:
    """Return every row of a server in every table, sorted."""
    from engine.store.models import Base

    found = {}
    async with database.unit().reading() as uow:
        for table in Base.metadata.sorted_tables:
            column = table.c.id if table.name == "servers" else table.c.server
            rows = await uow.people._link.session.execute(table.select().where(column == server))
            found[table.name] = sorted((tuple(row) for row in rows), key=repr)
    return found


async def load(database: Database, text: str, *, member: int = AUTHOR, server: int = HERE) -> BuildView:
    """Load a build."""
    view = ok(await database.call(load_build, LoadBuild(server=server, member=member, text=text, at=T0)))
    assert isinstance(view, BuildView)
    return view


async def share(database: Database, number: int, *, member: int = AUTHOR, server: int = HERE) -> BuildView:
    """Share a build."""
    return ok(await database.call(share_build, ShareBuild(server=server, member=member, build=number, at=T0)))


async def preview(
    database: Database, build: int, part: Any, text: str, *, member: int = PROPOSER, server: int = HERE
) -> ProposalPreview:
    """Preview a text."""
    command = PreviewText(
        server=server, member=member, build=build, part=part, text=text, reason="so that it plays better", at=T0
    )
    view = ok(await database.call(preview_text, command))
    assert isinstance(view, ProposalPreview)
    return view


async def propose(
    database: Database, build: int, part: Any, text: str, *, member: int = PROPOSER, server: int = HERE
) -> ProposalView:
    """Preview a text and post it."""
    draft = (await preview(database, build, part, text, member=member, server=server)).draft
    command = PostProposal(server=server, member=member, draft=draft, at=T0)
    return ok(await database.call(post_proposal, command))


async def edit(database: Database, build: int, part: Any, text: str, **more: Any) -> BuildView:
    """Edit a build as its author."""
    command = EditBuild(server=HERE, member=AUTHOR, build=build, part=part, text=text, at=T0, **more)
    view = ok(await database.call(edit_build, command))
    assert isinstance(view, BuildView)
    return view


async def vote(database: Database, proposal: int, member: int, choice: Choice, *, server: int = HERE) -> Any:
    """Vote."""
    command = CastVote(server=server, member=member, proposal=proposal, choice=choice, at=T0)
    return await database.call(cast_vote, command)


async def decide_by(database: Database, *, server: int = HERE, **policy: Any) -> Any:
    """Set how proposals are decided, as somebody who manages the server."""
    command = SetPolicy(server=server, member=MANAGER, manager=True, at=T0, **policy)
    return ok(await database.call(set_policy, command))


async def add(database: Database, data: bytes, *, server: int = HERE, member: int = MANAGER, **more: Any) -> Any:
    """Add a folio, as somebody who manages the server unless told otherwise."""
    command = AddFolio(
        server=server, member=member, name="folio.yaml", data=data, at=T0, **{"manager": member == MANAGER, **more}
    )
    return await database.call(add_folio, command)


async def settle(database: Database) -> World:
    """Put everything there."""
    build = (await load(database, REED)).number
    await share(database, build)
    hidden = (await load(database, HIDDEN)).number
    outdated = (await propose(database, build, 2, "2 Rogue hp 5")).number
    proposal = (await propose(database, build, 4, "4 Rogue: +2 Dex")).number
    await edit(database, build, 2, "2 Rogue hp 6")
    ok(await vote(database, proposal, READER, Choice.FOR))
    said = AddRemark(server=HERE, member=READER, subject=proposal, text="Good.", at=T0)
    ok(await database.call(add_remark, said))
    said = AddRemark(server=HERE, member=PROPOSER, subject=proposal, text="It hits more.", at=T0)
    remark = ok(await database.call(add_remark, said)).id
    card = RememberCard(server=HERE, subject=proposal, channel=70, message=71)
    ok(await database.call(remember_card, card))
    posting = (await preview(database, build, 2, "2 Rogue hp 4")).draft
    roll = ok(await database.call(roll_scores, RollScores(server=HERE, member=READER, at=T0))).number
    await decide_by(database, window=timedelta(hours=1))
    timed = (await propose(database, build, 6, "6 Rogue")).number
    await decide_by(database, window=timedelta(0))
    retired = (await load(database, "Build: Old Anchor\n1 Fighter\n")).number
    await share(database, retired)
    ok(await database.call(retire_build, RetireBuild(server=HERE, member=AUTHOR, build=retired, at=T0)))
    helper = AddCoAuthor(server=HERE, member=AUTHOR, build=build, other=COAUTHOR, at=T0)
    ok(await database.call(add_co_author, helper))
    unfinished = (await load(database, UNFINISHED)).number
    await share(database, unfinished)
    helper = AddCoAuthor(server=HERE, member=AUTHOR, build=unfinished, other=COAUTHOR, at=T0)
    ok(await database.call(add_co_author, helper))
    audited = ok(await database.call(audit_build, AuditBuild(server=HERE, member=AUTHOR, build=unfinished)))
    finding = next(mend.key for mend in audited.mends if mend.finding.code == "subclass-missing")
    table = ok(await database.call(new_table, NewTable(server=HERE, member=MASTER, name="Marsh Table", level=2, at=T0)))
    ferry = ok(await database.call(new_table, NewTable(server=HERE, member=508, name="Ferry Table", at=T0)))
    second = SeatMember(server=HERE, member=MASTER, table=table.number, whom=508, gm=True, at=T0)
    ok(await database.call(seat_member, second))
    for player in (AUTHOR, COAUTHOR, PLAYER):
        ok(await database.call(join_table, JoinTable(server=HERE, member=player, table=table.number, at=T0)))
    runner = (await load(database, RUNNER)).number
    await share(database, runner)
    helper = AddCoAuthor(server=HERE, member=AUTHOR, build=runner, other=COAUTHOR, at=T0)
    ok(await database.call(add_co_author, helper))
    submitted = ok(await database.call(submit_build, SubmitBuild(server=HERE, member=AUTHOR, build=runner, at=T0)))
    [ruling] = submitted.waiting
    written = KeepWriteup(server=HERE, member=AUTHOR, build=build, text="[?](num:1/ac)", revision=1, at=T0)
    ok(await database.call(keep_writeup, written))
    ok(await add(database, SHOALS))
    sounder = (await load(database, SOUNDER)).number
    await share(database, sounder)
    helper = AddCoAuthor(server=HERE, member=AUTHOR, build=sounder, other=COAUTHOR, at=T0)
    ok(await database.call(add_co_author, helper))
    ok(await add(database, SHOALS_2))
    ok(await add(database, WRECKS))
    gone = RemoveFolio(server=HERE, member=MANAGER, folio="wrecks", at=T0, manager=True)
    ok(await database.call(remove_folio, gone))
    librarians = SetLibrarians(server=HERE, member=MANAGER, manager=True, role=LIBRARIANS, at=T0)
    ok(await database.call(set_librarians, librarians))
    await database.call(remember_member, RememberMember(server=HERE, member=LIBRARIAN, name="Wren", at=T0))
    return World(
        database=database,
        build=build,
        hidden=hidden,
        proposal=proposal,
        outdated=outdated,
        posting=posting,
        card=71,
        roll=roll,
        timed=timed,
        retired=retired,
        remark=remark,
        unfinished=unfinished,
        finding=finding,
        table=table.number,
        ferry=ferry.number,
        runner=runner,
        submission=submitted.number,
        token=submitted.token,
        ruling=finding_key(ruling),
        sounder=sounder,
    )


@pytest.fixture(scope="session")
def settled_file(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, World]:
    """A SQLite file with the world on it, made once, and the world, its database closed."""
    import asyncio

    path = tmp_path_factory.mktemp("settled") / "moot.db"
    shutil.copy(sqlite_template, path)

    async def make() -> World:
        async with await Database.open(f"sqlite:///{path}") as database:
            return await settle(database)

    return path, asyncio.run(make())


@pytest.fixture
async def world(settled_file: tuple[Path, World], tmp_path: Path) -> AsyncIterator[World]:
    """The world on a file of this test's own."""
    from dataclasses import replace

    path = tmp_path / "moot.db"
    shutil.copy(settled_file[0], path)
    async with await Database.open(f"sqlite:///{path}") as database:
        yield replace(settled_file[1], database=database)
