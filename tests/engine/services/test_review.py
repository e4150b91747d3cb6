"""Policies, amending, refreshing, counter-proposals, rivals and remarks, on both databases."""

from datetime import timedelta
from typing import Any

import pytest

from engine.review.machine import State
from engine.review.policy import Ballot, Choice, Decider, Policy, Voters
from engine.services.builds import BuildHistory, EditBuild, build_history, edit_build
from engine.services.ownership import AddCoAuthor, add_co_author
from engine.services.policies import SetPlace, SetPolicy, ShowPolicy, set_place, set_policy, show_policy
from engine.services.proposals import (
    AdoptProposal,
    AmendProposal,
    DeclineProposal,
    PostProposal,
    PreviewText,
    ReadProposed,
    RefreshProposal,
    ShowProposal,
    adopt_proposal,
    amend_proposal,
    decline_proposal,
    post_proposal,
    preview_text,
    read_proposed,
    refresh_proposal,
    show_proposal,
)
from engine.services.remarks import (
    AddRemark,
    AnswerRemark,
    EditRemark,
    ListRemarks,
    RemoveRemark,
    SettleRemark,
    SuggestRemarks,
    add_remark,
    answer_remark,
    edit_remark,
    list_remarks,
    remove_remark,
    settle_remark,
    suggest_remarks,
)
from engine.services.rivals import CompareProposals, compare_proposals
from engine.services.votes import CastVote, cast_vote
from engine.store.database import Database
from tests.engine.services.world import (
    AUTHOR,
    COAUTHOR,
    HERE,
    HIDDEN,
    MANAGER,
    PROPOSER,
    READER,
    REED,
    T0,
    at,
    decide_by,
    edit,
    load,
    ok,
    preview,
    propose,
    refused,
    share,
    vote,
)


async def shared(database: Database) -> int:
    number = (await load(database, REED)).number
    await share(database, number)
    return number


async def shown(database: Database, number: int, member: int = READER) -> Any:
    return ok(await database.call(show_proposal, ShowProposal(server=HERE, member=member, proposal=number)))


async def test_a_policy_holds_for_what_is_opened_after_it(database: Database) -> None:
    """What is not named stays as it was; proposals that are open keep theirs."""
    build = await shared(database)
    before = (await propose(database, build, 2, "2 Rogue hp 5")).number
    await decide_by(database, quorum=3, share=66, decider=Decider.VOTE, window=timedelta(days=2))
    view = await decide_by(database, role=77, ballot=Ballot.SECRET, author_votes=False)
    policy = Policy(
        voters=Voters.ROLE,
        role=77,
        author_votes=False,
        quorum=3,
        share=66,
        window=timedelta(days=2),
        ballot=Ballot.SECRET,
        decider=Decider.VOTE,
    )
    assert view.policy == policy
    after = await propose(database, build, 4, "4 Rogue: +2 Dex")
    assert (after.policy, after.deadline) == (policy, T0 + timedelta(days=2))
    assert (await shown(database, before)).policy == Policy()
    refused(await vote(database, after.number, READER, Choice.FOR), "role-does-not-vote")
    command = CastVote(
        server=HERE, member=READER, proposal=after.number, choice=Choice.FOR, at=at(1), roles=frozenset({77})
    )
    ok(await database.call(cast_vote, command))
    seen = await shown(database, after.number, READER)
    assert (seen.votes, seen.own, seen.tally.for_) == ({}, Choice.FOR, 1)
    adopt = AdoptProposal(server=HERE, member=AUTHOR, proposal=after.number, at=at(2))
    refused(await database.call(adopt_proposal, adopt), "not-allowed")
    place = SetPlace(server=HERE, member=MANAGER, manager=True, channel=70, at=at(3))
    assert ok(await database.call(set_place, place)).place == 70
    read = await database.call(show_policy, ShowPolicy(server=HERE, member=READER))
    assert (read.policy, read.place) == (policy, 70)


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"quorum": -1}, "quorum-out-of-range"),
        ({"quorum": 1001}, "quorum-out-of-range"),
        ({"share": 0}, "share-out-of-range"),
        ({"share": 101}, "share-out-of-range"),
        ({"window": timedelta(minutes=4)}, "window-out-of-range"),
        ({"window": timedelta(days=91)}, "window-out-of-range"),
        ({"decider": Decider.VOTE}, "vote-needs-window"),
        ({"voters": Voters.ROLE}, "role-missing"),
        ({"voters": Voters.EVERYONE, "role": 7}, "role-missing"),
        ({"quorum": 0}, "nothing-changed"),
    ],
)
async def test_a_policy_that_cannot_work_is_refused(database: Database, fields: Any, code: str) -> None:
    """In one sentence, and nothing is stored."""
    command = SetPolicy(server=HERE, member=MANAGER, manager=True, at=T0, **fields)
    refused(await database.call(set_policy, command), code)
    read = await database.call(show_policy, ShowPolicy(server=HERE, member=READER))
    assert read.policy == Policy()


async def test_where_the_gm_decides_and_there_is_no_table_a_manager_does(database: Database) -> None:
    """Being told that somebody manages the server comes from the platform with each press."""
    build = await shared(database)
    await decide_by(database, decider=Decider.GM)
    number = (await propose(database, build, 4, "4 Rogue: +2 Dex")).number
    refuse = DeclineProposal(server=HERE, member=AUTHOR, proposal=number, at=at(1))
    refused(await database.call(decline_proposal, refuse), "not-allowed")
    adopt = AdoptProposal(server=HERE, member=MANAGER, proposal=number, at=at(1), manager=True)
    assert ok(await database.call(adopt_proposal, adopt)).state is State.ADOPTED


async def test_a_proposal_is_amended_until_somebody_votes(database: Database) -> None:
    """Its number and deadline stay; a press made before the change does not count for what stands there after it."""
    build = await shared(database)
    await decide_by(database, window=timedelta(hours=1))
    number = (await propose(database, build, 4, "4 Rogue: +2 Dex")).number
    draft = (await preview(database, build, 4, "4 Rogue: +2 Con")).draft
    other = AmendProposal(server=HERE, member=READER, proposal=number, draft=draft, at=at(5))
    refused(await database.call(amend_proposal, other), "draft-gone")
    command = AmendProposal(server=HERE, member=PROPOSER, proposal=number, draft=draft, at=at(5))
    amended = ok(await database.call(amend_proposal, command))
    assert (amended.number, amended.deadline, amended.told) == (number, at(60), (AUTHOR,))
    assert "+2 Con" in amended.title
    refused(await database.call(amend_proposal, command), "draft-gone")
    refused(await vote(database, number, READER, Choice.FOR), "vote-too-early")
    late = CastVote(server=HERE, member=READER, proposal=number, choice=Choice.FOR, at=at(6))
    ok(await database.call(cast_vote, late))
    draft = (await preview(database, build, 4, "4 Rogue: +2 Str")).draft
    again = AmendProposal(server=HERE, member=PROPOSER, proposal=number, draft=draft, at=at(7))
    refused(await database.call(amend_proposal, again), "votes-cast")


async def test_an_outdated_proposal_is_refreshed_from_what_it_proposed(database: Database) -> None:
    """Its clash is named, its votes go, those who gave them are told, and it can be adopted then."""
    build = await shared(database)
    number = (await propose(database, build, 2, "2 Rogue hp 5")).number
    ok(await vote(database, number, READER, Choice.FOR))
    moved = await edit(database, build, 2, "2 Rogue hp 6")
    assert [(n.subject, n.kind, n.told) for n in moved.notices] == [(number, "outdated", (PROPOSER,))]
    outdated = await shown(database, number)
    assert outdated.state is State.OUTDATED
    assert any("level 2" in clash or "hit points" in clash for clash in outdated.clashes)
    reading = ReadProposed(server=HERE, member=PROPOSER, proposal=number, own=True)
    form = ok(await database.call(read_proposed, reading))
    assert (form.text.part, form.text.text, form.text.revision) == (2, "2 Rogue hp 5", 2)
    not_own = ReadProposed(server=HERE, member=READER, proposal=number, own=True)
    refused(await database.call(read_proposed, not_own), "not-allowed")
    again = PreviewText(
        server=HERE, member=PROPOSER, build=build, part=2, text=form.text.text, reason="still", at=at(1),
        revision=form.text.revision, instead=number,
    )  # fmt: skip
    seen = ok(await database.call(preview_text, again))
    assert seen.instead == number  # type: ignore[union-attr]
    refresh = RefreshProposal(server=HERE, member=PROPOSER, proposal=number, draft=seen.draft, at=at(2))
    view = ok(await database.call(refresh_proposal, refresh))
    assert (view.state, view.votes, view.told, view.clashes) == (State.OPEN, {}, (AUTHOR, READER), ())
    # Whose vote went is told to vote again; who decides is told what they have to look at.
    assert [(n.kind, n.told) for n in view.notices] == [("refreshed", (READER,)), ("refitted", (AUTHOR,))]
    adopt = AdoptProposal(server=HERE, member=AUTHOR, proposal=number, at=at(3))
    assert ok(await database.call(adopt_proposal, adopt)).adopted_as == 3


async def test_whoever_did_not_move_the_build_is_told_that_a_proposal_is_outdated(database: Database) -> None:
    """A co-author's edit: its proposer, who has to refresh it, and the author, who waited for it."""
    build = await shared(database)
    helper = AddCoAuthor(server=HERE, member=AUTHOR, build=build, other=COAUTHOR, at=at(1))
    ok(await database.call(add_co_author, helper))
    number = (await propose(database, build, 2, "2 Rogue hp 5")).number
    change = EditBuild(server=HERE, member=COAUTHOR, build=build, part=2, text="2 Rogue hp 6", at=at(2))
    moved = ok(await database.call(edit_build, change))
    assert [(n.subject, n.kind, n.told) for n in moved.notices] == [(number, "outdated", (AUTHOR, PROPOSER))]


async def test_a_counter_proposal_starts_from_anothers_changes(database: Database) -> None:
    """It has those and its own, names the other, and needs something of its own."""
    build = await shared(database)
    other_build = (await load(database, "Build: Old Anchor\n1-4 Fighter\n")).number
    await share(database, other_build)
    first = (await propose(database, build, 4, "4 Rogue: +2 Dex")).number

    async def counter(text: str, part: Any = 2, on: Any = first, to: int = build) -> Any:
        command = PreviewText(
            server=HERE, member=READER, build=to, part=part, text=text, reason="and more", at=at(1), based_on=on
        )
        return await database.call(preview_text, command)

    seen = ok(await counter("2 Rogue hp 5"))
    assert seen.based_on == first
    posted = ok(
        await database.call(post_proposal, PostProposal(server=HERE, member=READER, draft=seen.draft, at=at(2)))
    )
    assert posted.based_on == first
    mine = {(edit.path, str(edit.after)) for edit in posted.edits}
    assert {(edit.path, str(edit.after)) for edit in (await shown(database, first)).edits} < mine
    refused(await counter("4 Rogue: +2 Dex", part=4), "nothing-changed")
    refused(await counter("2 Fighter", to=other_build), "other-build")
    refused(await counter("2 Rogue hp 5", on=99), "no-such-proposal")


async def test_rivals_stand_side_by_side(database: Database) -> None:
    """Each number as it is and as each would make it; whether both can be adopted, and if not, why."""
    build = await shared(database)
    dex = (await propose(database, build, 4, "4 Rogue: +2 Dex")).number
    wis = (await propose(database, build, 4, "4 Rogue: +2 Wis")).number
    tough = (await propose(database, build, 2, "2 Rogue hp 8")).number

    async def beside(one: int, other: int) -> Any:
        command = CompareProposals(server=HERE, member=READER, proposal=one, other=other)
        return await database.call(compare_proposals, command)

    found = ok(await beside(dex, wis))
    assert found.clashes
    rows = {(row.name, row.level): (row.now, row.first, row.second) for row in found.numbers}
    for each, place in ((found.first, 1), (found.second, 2)):
        for number in each.difference.numbers:
            assert rows[number.name, number.level][0] == number.before
            assert rows[number.name, number.level][place] == number.after
    both = ok(await beside(dex, tough))
    assert both.clashes == ()
    rows = {(row.name, row.level): (row.now, row.first, row.second) for row in both.numbers}
    now, first, second = rows["hp.max", 2]
    assert first == now != second
    refused(await beside(dex, dex), "same-proposal")
    refused(await beside(dex, 99), "no-such-proposal")


async def remark(database: Database, subject: Any, text: str, member: int = READER, **more: Any) -> Any:
    command = AddRemark(server=HERE, member=member, subject=subject, text=text, at=at(1), **more)
    return ok(await database.call(add_remark, command))


async def test_remarks_are_answered_changed_settled_and_taken_away(database: Database) -> None:
    """The history keeps what they said before; what is taken away is not listed and not counted."""
    build = await shared(database)
    first = await remark(database, build, "Too frail.", level=2, number="hp.max")
    answer = AnswerRemark(server=HERE, member=AUTHOR, remark=first.id, text="True.", at=at(2))
    answered = ok(await database.call(answer_remark, answer))
    assert (answered.answers, answered.level, answered.number) == (first.id, 2, "hp.max")
    assert [(n.kind, n.told) for n in answered.notices] == [("remarked", (READER,))]
    for member, expected in ((PROPOSER, "not-allowed"), (READER, None)):
        change = EditRemark(server=HERE, member=member, remark=first.id, text="Frail at 2.", at=at(3))
        result = await database.call(edit_remark, change)
        if expected:
            refused(result, expected)
        else:
            assert (ok(result).text, ok(result).edited) == ("Frail at 2.", at(3))
    refused(await database.call(edit_remark, change), "nothing-changed")
    for settled in (True, False):
        settle = SettleRemark(server=HERE, member=AUTHOR, remark=first.id, settled=settled, at=at(4))
        view = ok(await database.call(settle_remark, settle))
        assert (view.settled, view.settled_by) == ((at(4), AUTHOR) if settled else (None, None))
        refused(await database.call(settle_remark, settle), "nothing-changed")
    offered = SuggestRemarks(server=HERE, member=READER, subject=build, text="frail", own=True)
    assert [each.number for each in await database.call(suggest_remarks, offered)] == [first.id]
    remove = RemoveRemark(server=HERE, member=READER, remark=first.id, at=at(5))
    assert ok(await database.call(remove_remark, remove)).removed == at(5)
    refused(await database.call(remove_remark, remove), "no-such-remark")
    page = ok(await database.call(list_remarks, ListRemarks(server=HERE, member=READER, subject=build)))
    assert [each.id for each in page.items] == [answered.id]
    history = ok(await database.call(build_history, BuildHistory(server=HERE, member=READER, build=build)))
    kept = {entry.event: entry.data.get("before") for entry in history.items if "remark" in entry.event}
    assert kept["remark-edited"] == "Too frail."
    assert kept["remark-removed"] == "Frail at 2."
    assert {"remark-added", "remark-answered", "remark-settled", "remark-reopened"} <= set(kept)


async def test_a_remark_on_a_draft_is_as_hidden_as_the_draft(database: Database) -> None:
    """Its id tells nothing to others."""
    hidden = (await load(database, HIDDEN)).number
    own = await remark(database, hidden, "Not yet.", AUTHOR)
    answer = AnswerRemark(server=HERE, member=READER, remark=own.id, text="What?", at=at(2))
    assert "Sunken" not in refused(await database.call(answer_remark, answer), "no-such-remark")
    missing = AnswerRemark(server=HERE, member=READER, remark=own.id + 9, text="What?", at=at(2))
    refused(await database.call(answer_remark, missing), "no-such-remark")
