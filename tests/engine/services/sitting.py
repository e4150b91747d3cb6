"""A table at level 4 with its GM, and a build that its author may submit there."""

from dataclasses import dataclass, replace
from typing import Any

import pytest

from engine.services.approvals import (
    ApproveBuild,
    ShowSubmission,
    SubmitBuild,
    approve_build,
    show_submission,
    submit_build,
)
from engine.services.builds import EditBuild, edit_build
from engine.services.roster import ShowRoster, show_roster
from engine.services.table_views import RosterView, SubmissionView
from engine.services.tables import JoinTable, SetTableLevel, SetTableRules, join_table, set_table_level, set_table_rules
from engine.services.views import BuildView
from engine.store.database import Database
from tests.engine.services.test_tables import GM, opened
from tests.engine.services.world import AUTHOR, HERE, READER, at, load, ok, share

# A rogue with everything chosen, so that only what a test breaks is found.
TIDE = """\
Build: Tide Caller
Scores: Str 8, Dex 15, Con 13, Int 10, Wis 14, Cha 12 (standard array)
Species: Half-Elf (+1 Dex, +1 Wis; skills Survival, Nature; language Goblin)
Background: Marsh Guide (custom; skills Insight, Persuasion; languages Giant, Halfling; feature Shelter of the Faithful)
Gear: Leather Armor, Rapier, Shortbow, 20 Arrows
1 Rogue: skills Perception, Stealth, Acrobatics, Investigation; expertise Perception, Stealth
2 Rogue
3 Rogue (Thief)
4 Rogue: +1 Dex, +1 Wis
5 Rogue
"""


@dataclass
class Sitting:
    """A table at level 4 with its GM, and the author's build at it."""

    database: Database
    table: int
    build: int

    async def call(self, service: Any, command: Any) -> Any:
        """Run a service."""
        return await self.database.call(service, command)

    async def submit(self, **more: Any) -> Any:
        """Submit the build as its author."""
        command = SubmitBuild(server=HERE, member=AUTHOR, build=self.build, at=at(5))
        return await self.call(submit_build, replace(command, **more))

    async def look(self, subject: int | None = None) -> SubmissionView:
        """Return the submission as its card shows it."""
        command = ShowSubmission(server=HERE, member=GM, subject=subject or self.build)
        return ok(await self.call(show_submission, command))

    async def approve(self, view: SubmissionView, **more: Any) -> Any:
        """Press Approve on a card."""
        command = ApproveBuild(server=HERE, member=GM, submission=view.number, token=view.token, at=at(6))
        return await self.call(approve_build, replace(command, **more))

    async def edit(self, part: Any, text: str) -> BuildView:
        """Change the build as its author."""
        command = EditBuild(server=HERE, member=AUTHOR, build=self.build, part=part, text=text, at=at(7))
        return ok(await self.call(edit_build, command))

    async def rules(self, text: str) -> None:
        """Set the table's rules."""
        ok(
            await self.call(
                set_table_rules, SetTableRules(server=HERE, member=GM, table=self.table, text=text, at=at(4))
            )
        )

    async def level(self, level: int) -> None:
        """Set the campaign's level."""
        ok(await self.call(set_table_level, SetTableLevel(server=HERE, member=GM, level=level, at=at(8))))

    async def roster(self) -> RosterView:
        """Return the roster."""
        return ok(await self.call(show_roster, ShowRoster(server=HERE, member=READER, table=self.table)))


@pytest.fixture
async def sitting(database: Database) -> Sitting:
    """A table with one player, whose build is shared."""
    table = (await opened(database, level=4)).number
    build = (await load(database, TIDE)).number
    await share(database, build)
    ok(await database.call(join_table, JoinTable(server=HERE, member=AUTHOR, table=table, at=at(2))))
    return Sitting(database, table, build)
