"""Members act in any order through the services, beside a naive model: rolled hit points of two levels of one build.

The model shares nothing with the engine: a build is a level -> hit points table, a proposal a few of its cells before
and after, votes a list.
"""

import asyncio
import shutil
import tempfile
from dataclasses import dataclass, field
from datetime import timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from engine.build.document import Build
from engine.problem import Refused
from engine.review import machine
from engine.review.policy import Choice, Decider
from engine.services.builds import EditBuild, edit_build
from engine.services.deadlines import CloseProposal, close_proposal
from engine.services.documents import read_document
from engine.services.ownership import RestoreRevision, restore_revision
from engine.services.proposals import (
    AdoptProposal,
    AmendProposal,
    DeclineProposal,
    PostProposal,
    PreviewText,
    RefreshProposal,
    WithdrawProposal,
    adopt_proposal,
    amend_proposal,
    decline_proposal,
    post_proposal,
    preview_text,
    refresh_proposal,
    withdraw_proposal,
)
from engine.services.views import ProposalPreview
from engine.services.votes import CastVote, cast_vote
from engine.store.database import Database, upgrade
from engine.store.repos.proposals import read_state
from tests.engine.services.world import AUTHOR, HERE, PROPOSER, READER, at, decide_by, load, ok, share

LEVELS = (2, 3)
Cells = dict[int, int | None]
EMPTY: Cells = dict.fromkeys(LEVELS)
# The author decides, so the author acts more often than others.
PEOPLE = st.sampled_from([AUTHOR, AUTHOR, PROPOSER, READER, 601])
CHANGES = st.dictionaries(st.sampled_from(LEVELS), st.sampled_from([None, 3, 4]), min_size=1, max_size=2)
VOTES = st.dictionaries(PEOPLE, st.sampled_from(Choice), min_size=1)
DECIDERS = st.sampled_from([Decider.AUTHOR, Decider.VOTE])
WINDOW = 30


def outline(cells: Cells) -> str:
    """Return the build as people write it."""
    lines = [f"{level} Rogue" + (f" hp {hp}" if hp else "") for level, hp in cells.items()]
    return "\n".join(["Build: Tide Runner", "1 Rogue", *lines]) + "\n"


def cells_of(build: Build) -> Cells:
    """Return what a stored build says."""
    assert build.order == ("rogue",) * 3
    return {level: line.hp for level, _, _, line in build.lines() if level != 1}


@dataclass
class Wanted:
    """The model of a proposal. edits: level -> (before, after)."""

    edits: dict[int, tuple[int | None, int | None]]
    end: int | None
    state: str = "open"
    votes: list[tuple[int, Choice]] = field(default_factory=list)
    became: int | None = None


@lru_cache(maxsize=1)
def template() -> Path:
    """Return a database with the build on it, made once."""
    folder = Path(tempfile.mkdtemp(prefix="moot-any-order-"))
    path = folder / "moot.db"

    async def make() -> None:
        await upgrade(f"sqlite:///{path}")
        async with await Database.open(f"sqlite:///{path}") as database:
            assert (await load(database, outline(EMPTY))).number == 1
            await share(database, 1)

    asyncio.run(make())
    return path


class AnyOrder(RuleBasedStateMachine):
    """A build, the proposals to it, and members who act on them."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory(prefix="moot-any-order-")
        path = Path(self.folder.name) / "moot.db"
        shutil.copy(template(), path)
        self.runner = asyncio.Runner()
        self.database = self.runner.run(Database.open(f"sqlite:///{path}"))
        self.minute = 0
        self.revisions = [dict(EMPTY)]
        self.proposals: dict[int, Wanted] = {}

    def teardown(self) -> None:
        self.runner.run(self.database.close())
        self.runner.close()
        self.folder.cleanup()

    def call(self, service: Any, command: Any) -> Any:
        return self.runner.run(self.database.call(service, command))

    @property
    def cells(self) -> Cells:
        """What the build says by now."""
        return self.revisions[-1]

    def pick(self, place: int) -> tuple[int, Wanted]:
        """Return one of the proposals."""
        numbers = sorted(self.proposals)
        number = numbers[place % len(numbers)]
        return number, self.proposals[number]

    def moved(self, but: int | None = None) -> None:
        """Take the open proposals of the model along to the newest revision."""
        for number, each in self.proposals.items():
            if each.state != "open" or number == but:
                continue
            left = {level: cell for level, cell in each.edits.items() if self.cells[level] != cell[1]}
            if not left or any(self.cells[level] != before for level, (before, _) in left.items()):
                each.state = "outdated"
            else:
                each.edits = left

    @initialize(decider=DECIDERS, quorum=st.integers(0, 3), timed=st.sampled_from([True, True, False]))
    def begin(self, decider: Decider, quorum: int, timed: bool) -> None:
        # Whoever lets the vote decide must say by when.
        self.timed = timed or decider is Decider.VOTE
        self.decider, self.quorum = decider, quorum
        window = timedelta(minutes=WINDOW if self.timed else 0)
        if self.timed or quorum:
            self.runner.run(decide_by(self.database, decider=decider, quorum=quorum, window=window))

    @rule(minutes=st.integers(1, 20))
    def wait(self, minutes: int) -> None:
        self.minute += minutes

    def draft(self, changes: Cells, instead: int | None = None) -> tuple[int, dict[int, Any]] | None:
        """Preview a text; return its draft and edits, None where it says what the build says already."""
        wanted = {level: (self.cells[level], hp) for level, hp in changes.items() if self.cells[level] != hp}
        whole = PreviewText(
            server=HERE, member=PROPOSER, build=1, part="whole", text=outline(self.cells | changes),
            reason="it lasts longer", instead=instead, at=at(self.minute),
        )  # fmt: skip
        preview = self.call(preview_text, whole)
        if not wanted:
            assert isinstance(preview, Refused)
            assert preview.code == "nothing-changed"
            return None
        assert isinstance(ok(preview), ProposalPreview)
        return preview.draft, wanted

    @rule(changes=CHANGES)
    def propose(self, changes: Cells) -> None:
        draft = self.draft(changes)
        if draft is not None and len(self.proposals) < 4:
            command = PostProposal(server=HERE, member=PROPOSER, draft=draft[0], at=at(self.minute))
            view = ok(self.call(post_proposal, command))
            self.proposals[view.number] = Wanted(draft[1], self.minute + WINDOW if self.timed else None)

    @rule(changes=CHANGES, member=PEOPLE)
    def edit(self, changes: Cells, member: int) -> None:
        text = outline(self.cells | changes)
        command = EditBuild(server=HERE, member=member, build=1, part="whole", text=text, at=at(self.minute))
        result = self.call(edit_build, command)
        if member == AUTHOR and self.cells | changes != self.cells:
            ok(result)
            self.revisions.append(self.cells | changes)
            self.moved()
        else:
            assert isinstance(result, Refused)

    @rule(back=st.integers(0, 10))
    def restore(self, back: int) -> None:
        number = max(1, len(self.revisions) - back)
        command = RestoreRevision(server=HERE, member=AUTHOR, build=1, revision=number, at=at(self.minute))
        result = self.call(restore_revision, command)
        if self.revisions[number - 1] == self.cells:
            assert isinstance(result, Refused)
        else:
            ok(result)
            self.revisions.append(dict(self.revisions[number - 1]))
            self.moved()

    def over(self, wanted: Wanted) -> bool:
        """Tell whether no member's press counts any more."""
        return wanted.end is not None and self.minute >= wanted.end

    @precondition(lambda self: self.proposals)
    @rule(place=st.integers(0, 3), votes=VOTES, late=st.booleans())
    def vote(self, place: int, votes: dict[int, Choice], late: bool = False) -> None:
        number, wanted = self.pick(place)
        if late and wanted.end is not None:
            self.minute = max(self.minute, wanted.end)
        allowed = wanted.state == "open" and not self.over(wanted)
        for member, choice in votes.items():
            command = CastVote(server=HERE, member=member, proposal=number, choice=choice, at=at(self.minute))
            assert isinstance(self.call(cast_vote, command), Refused) is not allowed
            if allowed:
                wanted.votes = [*(each for each in wanted.votes if each[0] != member), (member, choice)]

    @precondition(lambda self: self.proposals)
    @rule(place=st.integers(0, 3), member=PEOPLE)
    def adopt(self, place: int, member: int) -> None:
        number, wanted = self.pick(place)
        command = AdoptProposal(server=HERE, member=member, proposal=number, at=at(self.minute))
        result = self.call(adopt_proposal, command)
        decides = self.decider is Decider.AUTHOR and member == AUTHOR
        allowed = decides and wanted.state == "open" and not self.over(wanted)
        assert isinstance(result, Refused) is not allowed
        if allowed:
            self.adopted(number, wanted)

    def adopted(self, number: int, wanted: Wanted) -> None:
        self.revisions.append(self.cells | {level: after for level, (_, after) in wanted.edits.items()})
        wanted.state, wanted.became = "adopted", len(self.revisions)
        self.moved(but=number)

    @precondition(lambda self: self.proposals)
    @rule(place=st.integers(0, 3), member=PEOPLE)
    def decline(self, place: int, member: int) -> None:
        number, wanted = self.pick(place)
        command = DeclineProposal(server=HERE, member=member, proposal=number, at=at(self.minute))
        result = self.call(decline_proposal, command)
        decides = self.decider is Decider.AUTHOR and member == AUTHOR
        allowed = decides and (wanted.state == "outdated" or (wanted.state == "open" and not self.over(wanted)))
        assert isinstance(result, Refused) is not allowed
        if allowed:
            wanted.state = "declined"

    @precondition(lambda self: self.proposals)
    @rule(place=st.integers(0, 3), member=st.sampled_from([PROPOSER, READER]))
    def withdraw(self, place: int, member: int) -> None:
        number, wanted = self.pick(place)
        command = WithdrawProposal(server=HERE, member=member, proposal=number, at=at(self.minute))
        result = self.call(withdraw_proposal, command)
        allowed = member == PROPOSER and wanted.state in ("open", "outdated")
        assert isinstance(result, Refused) is not allowed
        if allowed:
            wanted.state = "withdrawn"

    @precondition(lambda self: self.proposals)
    @rule(place=st.integers(0, 3), changes=CHANGES)
    def put_another_in_its_place(self, place: int, changes: Cells) -> None:
        """Refresh it if it is outdated, else amend it, which is refused once there are votes."""
        number, wanted = self.pick(place)
        draft = self.draft(changes, instead=number)
        if draft is None:
            return
        refresh = wanted.state == "outdated"
        service: Any = refresh_proposal if refresh else amend_proposal
        command = (RefreshProposal if refresh else AmendProposal)(
            server=HERE, member=PROPOSER, proposal=number, draft=draft[0], at=at(self.minute)
        )
        result = self.call(service, command)
        allowed = refresh or (wanted.state == "open" and not wanted.votes and not self.over(wanted))
        assert isinstance(result, Refused) is not allowed
        if allowed:
            wanted.state, wanted.votes, wanted.edits = "open", [], draft[1]
            if refresh and self.timed:
                wanted.end = self.minute + WINDOW

    @precondition(lambda self: self.proposals)
    @rule(place=st.integers(0, 3), hp=st.sampled_from([5, 6]), changes=CHANGES, voter=PEOPLE)
    def upset_and_fit_again(self, place: int, hp: int, changes: Cells, voter: int) -> None:
        """Somebody votes, the author writes something else where the proposal is, its proposer fits it to that."""
        _, wanted = self.pick(place)
        self.vote(place, {voter: Choice.FOR})
        self.edit(dict.fromkeys(wanted.edits, hp), AUTHOR)
        self.put_another_in_its_place(place, changes)

    @precondition(lambda self: self.proposals)
    @rule(place=st.integers(0, 3), wait=st.booleans())
    def close(self, place: int, wait: bool) -> None:
        number, wanted = self.pick(place)
        if wait and wanted.end is not None:
            self.minute = max(self.minute, wanted.end)
        result = self.call(close_proposal, CloseProposal(server=HERE, proposal=number, at=at(self.minute)))
        allowed = wanted.state == "open" and self.over(wanted)
        assert isinstance(result, Refused) is not allowed
        if not allowed:
            return
        choices = [choice for _, choice in wanted.votes]
        yes, no = choices.count(Choice.FOR), choices.count(Choice.AGAINST)
        if self.decider is Decider.AUTHOR or not choices or len(choices) < self.quorum:
            wanted.state = "lapsed"
        elif yes and yes >= no:
            self.adopted(number, wanted)
        else:
            wanted.state = "declined"

    @invariant()
    def what_is_stored_is_what_the_model_says(self) -> None:
        self.runner.run(self.compared())

    async def compared(self) -> None:
        async with self.database.unit().reading() as uow:
            row = await uow.builds.get(HERE, 1)
            assert row is not None
            revisions = await uow.builds.revisions(HERE, 1, limit=1000)
            # Adopted edits are in the new revision and nothing else is; no earlier one was touched.
            assert [cells_of(read_document(each)) for each in reversed(revisions)] == self.revisions
            assert row.revision == len(self.revisions)
            made = {each.proposal: each.number for each in revisions if each.proposal is not None}
            assert made == {number: each.became for number, each in self.proposals.items() if each.became}
            for number, wanted in self.proposals.items():
                stored = await uow.proposals.get(HERE, number)
                assert stored is not None
                votes = await uow.votes.of(HERE, number)
                # One vote a member, none counted after the close, none lost.
                assert votes == dict(wanted.votes)
                tally = (await uow.votes.tallies(HERE, [number]))[number]
                choices = [choice for _, choice in wanted.votes]
                assert (tally.for_, tally.against, tally.abstain) == tuple(map(choices.count, Choice))
                assert stored.state == wanted.state
                if wanted.state == "open":
                    assert stored.base == len(self.revisions)
                    paths = {f"/levels/rogue/{level}" for level in wanted.edits}
                    edits = await uow.proposals.edits(HERE, number)
                    assert {"/".join(path.split("/")[:4]) for path, _, _ in edits} == paths
                # The history alone gives all of the present state.
                assert machine.replay(await uow.history.events(HERE, number)) == read_state(stored, row.author, votes)


TestAnyOrder = AnyOrder.TestCase
TestAnyOrder.settings = settings(max_examples=40, stateful_step_count=25, deadline=None)
