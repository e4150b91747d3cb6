"""Proposals to builds at a table: its policy, its voters, its GM; the server's where it has none."""

from dataclasses import replace

import pytest

from engine.review.policy import Choice, Decider, Voters
from engine.services.approvals import TakeBackBuild, take_back_build
from engine.services.policies import SetPolicy, set_policy
from engine.services.proposals import AdoptProposal, adopt_proposal
from engine.services.table_policies import (
    SetTablePolicy,
    ShowTablePolicy,
    set_table_policy,
    show_table_policy,
)
from engine.services.tables import EditTable, edit_table
from engine.services.votes import CastVote, cast_vote
from engine.store.database import Database
from tests.engine.services.sitting import Sitting
from tests.engine.services.test_tables import GM, ROLE
from tests.engine.services.world import AUTHOR, HERE, PROPOSER, READER, at, ok, propose, refused

CHANGE = "4 Rogue: +2 Dex"


def own(**more: object) -> SetTablePolicy:
    """Return the command of the GM for the table."""
    return SetTablePolicy(server=HERE, member=GM, table="Marsh Table", at=at(3), **more)  # type: ignore[arg-type]


def ballot(proposal: int, member: int, *roles: int) -> CastVote:
    """Return a vote for a proposal."""
    return CastVote(server=HERE, member=member, proposal=proposal, choice=Choice.FOR, at=at(9), roles=frozenset(roles))


async def test_a_table_goes_by_the_servers_policy_until_it_has_its_own(sitting: Sitting) -> None:
    shown = ok(await sitting.call(show_table_policy, ShowTablePolicy(server=HERE, member=READER)))
    assert (shown.own, shown.view.policy.quorum) == (False, 0)
    ok(await sitting.call(set_policy, SetPolicy(server=HERE, member=READER, manager=True, quorum=3, at=at(1))))
    assert (
        ok(await sitting.call(show_table_policy, ShowTablePolicy(server=HERE, member=READER))).view.policy.quorum == 3
    )
    refused(await sitting.call(set_table_policy, replace(own(quorum=2), member=READER)), "not-allowed")
    refused(await sitting.call(set_table_policy, own(quorum=5000)), "quorum-out-of-range")
    mine = ok(await sitting.call(set_table_policy, own(quorum=2)))
    assert (mine.own, mine.view.policy.quorum) == (True, 2)
    refused(await sitting.call(set_table_policy, own(quorum=2)), "nothing-changed")
    ok(await sitting.submit())
    proposal = await propose(sitting.database, sitting.build, 4, CHANGE)
    assert proposal.policy.quorum == 2
    back = ok(await sitting.call(set_table_policy, own(server_wide=True)))
    assert (back.own, back.view.policy.quorum) == (False, 3)


async def test_only_those_at_the_table_vote_where_it_says_so(sitting: Sitting) -> None:
    ok(await sitting.call(set_table_policy, own(voters=Voters.TABLE)))
    ok(await sitting.submit())
    ok(await sitting.call(edit_table, EditTable(server=HERE, member=GM, table="#1", role=ROLE, at=at(3))))
    number = (await propose(sitting.database, sitting.build, 4, CHANGE)).number
    refused(await sitting.call(cast_vote, ballot(number, READER)), "table-votes")
    for member, roles in ((AUTHOR, ()), (GM, ()), (READER, (ROLE,))):
        ok(await sitting.call(cast_vote, ballot(number, member, *roles)))
    assert ok(await sitting.call(cast_vote, ballot(number, READER, ROLE))).tally.for_ == 3


async def test_a_build_at_no_table_lets_everybody_vote(sitting: Sitting, database: Database) -> None:
    command = SetPolicy(server=HERE, member=READER, manager=True, voters=Voters.TABLE, at=at(1))
    ok(await sitting.call(set_policy, command))
    number = (await propose(database, sitting.build, 4, CHANGE)).number
    ok(await sitting.call(cast_vote, ballot(number, READER)))


@pytest.mark.parametrize("manager", [False, True])
async def test_the_gm_of_the_table_decides_where_it_says_so(sitting: Sitting, manager: bool) -> None:
    ok(await sitting.call(set_table_policy, own(decider=Decider.GM)))
    ok(await sitting.submit())
    number = (await propose(sitting.database, sitting.build, 4, CHANGE, member=PROPOSER)).number
    adopt = AdoptProposal(server=HERE, member=AUTHOR, proposal=number, at=at(9))
    for member in (AUTHOR, PROPOSER, READER):
        refused(await sitting.call(adopt_proposal, replace(adopt, member=member, manager=manager)), "not-allowed")
    assert ok(await sitting.call(adopt_proposal, replace(adopt, member=GM))).adopted_as == 2


async def test_a_build_taken_back_is_decided_about_by_the_server_again(sitting: Sitting) -> None:
    ok(await sitting.call(set_table_policy, own(decider=Decider.GM)))
    ok(await sitting.submit())
    number = (await propose(sitting.database, sitting.build, 4, CHANGE)).number
    ok(await sitting.call(take_back_build, TakeBackBuild(server=HERE, member=AUTHOR, build=sitting.build, at=at(8))))
    adopt = AdoptProposal(server=HERE, member=READER, proposal=number, at=at(9))
    refused(await sitting.call(adopt_proposal, replace(adopt, member=GM)), "not-allowed")
    assert ok(await sitting.call(adopt_proposal, replace(adopt, manager=True))).adopted_as == 2
