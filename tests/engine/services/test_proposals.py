"""A proposal from its first look to its end, on both databases."""

import asyncio
from typing import Any

import pytest

from engine.build.document import build_hash
from engine.build.edits import apply
from engine.problem import Refused
from engine.review import machine
from engine.review.machine import State
from engine.review.policy import Choice, Tally
from engine.services.builds import (
    GetBuild,
    ListRevisions,
    LoadBuild,
    RemoveBuild,
    get_build,
    list_revisions,
    load_build,
    remove_build,
)
from engine.services.drafts import GetDraft, get_draft
from engine.services.proposals import (
    AdoptProposal,
    DeclineProposal,
    ListProposals,
    PostProposal,
    PreviewChange,
    PreviewText,
    RefreshProposal,
    ShowProposal,
    SuggestProposals,
    WithdrawProposal,
    adopt_proposal,
    decline_proposal,
    list_proposals,
    post_proposal,
    preview_change,
    preview_text,
    refresh_proposal,
    show_proposal,
    suggest_proposals,
    withdraw_proposal,
)
from engine.services.views import TextErrors
from engine.services.votes import CastVote, cast_vote
from engine.store.database import Database
from tests.engine.services.world import (
    AUTHOR,
    HERE,
    HIDDEN,
    PROPOSER,
    READER,
    REED,
    all_rows,
    at,
    edit,
    load,
    ok,
    preview,
    propose,
    refused,
    share,
    vote,
)


async def shared(database: Database, text: str = REED) -> int:
    number = (await load(database, text)).number
    await share(database, number)
    return number


def adopt(proposal: int, *, member: int = AUTHOR, **more: Any) -> AdoptProposal:
    return AdoptProposal(server=HERE, member=member, proposal=proposal, at=at(9), **more)


async def test_a_preview_stores_nothing_but_the_draft(database: Database) -> None:
    """The title says the change in words, the difference its numbers, and the text is kept for Post and Change."""
    build = await shared(database)
    command = PreviewChange(
        server=HERE, member=PROPOSER, build=build, level=4, remove="+1 Wis", add="+1 Con", reason="tougher", at=at(1)
    )
    seen = ok(await database.call(preview_change, command))
    assert not isinstance(seen, TextErrors)
    assert seen.title == "Level 4: +1 Con instead of +1 Wis"
    assert [change.path for change in seen.difference.choices] == ["/levels/rogue/4"]
    assert any(change.name == "ability.wis.score" for change in seen.difference.numbers)
    assert apply(seen.view.build, seen.edits) == seen.proposed
    kept = ok(await database.call(get_draft, GetDraft(server=HERE, member=PROPOSER, draft=seen.draft)))
    assert (kept.fields["remove"], kept.fields["add"], kept.kind) == ("+1 Wis", "+1 Con", "propose-change")
    assert (await all_rows(database, HERE))["proposals"] == []


async def test_posted_voted_adopted(database: Database) -> None:
    """The adopted edits are in the new revision and nothing else; the history replays to the present state."""
    build = await shared(database)
    before = ok(await database.call(get_build, GetBuild(server=HERE, member=AUTHOR, build=build)))
    posted = await propose(database, build, 4, "4 Rogue: +2 Dex")
    assert (posted.state, posted.told, posted.deciders) == (State.OPEN, (AUTHOR,), (AUTHOR,))
    assert posted.title == "Level 4: +2 Dex instead of +1 Dex, +1 Wis"
    first = ok(await vote(database, posted.number, READER, Choice.FOR))
    assert (first.before, first.tally) == (None, Tally(1, 0, 0))
    changed = ok(await vote(database, posted.number, READER, Choice.AGAINST))
    assert (changed.before, changed.tally) == (Choice.FOR, Tally(0, 1, 0))
    ok(await vote(database, posted.number, PROPOSER, Choice.FOR))
    adopted = ok(await database.call(adopt_proposal, adopt(posted.number, reason="why not")))
    assert (adopted.state, adopted.adopted_as, adopted.closed_by, adopted.told) == (
        State.ADOPTED,
        2,
        AUTHOR,
        (PROPOSER,),
    )
    assert adopted.close_reason == "why not"
    assert adopted.votes == {READER: Choice.AGAINST, PROPOSER: Choice.FOR}
    after = ok(await database.call(get_build, GetBuild(server=HERE, member=READER, build=build)))
    assert after.revision.number == 2
    assert after.revision.proposal == posted.number
    assert after.revision.hash == build_hash(after.build)
    assert apply(before.build, posted.edits) == after.build
    async with database.unit().reading() as uow:
        replayed = machine.replay(await uow.history.events(HERE, posted.number))
    assert (replayed.state, replayed.votes, replayed.adopted_as) == (State.ADOPTED, adopted.votes, 2)
    shown = ok(await database.call(show_proposal, ShowProposal(server=HERE, member=READER, proposal=posted.number)))
    assert (shown.own, shown.view.revision.number, shown.proposed) == (Choice.AGAINST, 1, after.build)


@pytest.mark.parametrize("ending", ["adopted", "declined", "withdrawn"])
async def test_nothing_can_be_done_to_a_closed_proposal(database: Database, ending: str) -> None:
    """A vote after the close, a second decision: one sentence each, nothing stored."""
    build = await shared(database)
    number = (await propose(database, build, 4, "4 Rogue: +2 Dex")).number
    decline = DeclineProposal(server=HERE, member=AUTHOR, proposal=number, at=at(9), reason="no")
    withdraw = WithdrawProposal(server=HERE, member=PROPOSER, proposal=number, at=at(9))
    acts = {
        "adopted": (adopt_proposal, adopt(number)),
        "declined": (decline_proposal, decline),
        "withdrawn": (withdraw_proposal, withdraw),
    }
    closed = ok(await database.call(*acts[ending]))
    assert closed.state.value == ending
    assert closed.told == ((AUTHOR,) if ending == "withdrawn" else (PROPOSER,))
    before = await all_rows(database, HERE)
    refused(await vote(database, number, READER, Choice.FOR), "proposal-closed")
    for service, command in acts.values():
        refused(await database.call(service, command), "proposal-closed")
    assert await all_rows(database, HERE) == before


async def test_a_proposal_that_still_fits_follows_and_one_that_clashes_waits(database: Database) -> None:
    """Adopting one outdates its rival, whose proposer refreshes it; that clears its votes and names the voters."""
    build = await shared(database)
    one = (await propose(database, build, 4, "4 Rogue: +2 Dex")).number
    rival = (await propose(database, build, 4, "4 Rogue: +2 Wis", member=READER)).number
    apart = (await propose(database, build, 6, "6 Ranger: style Archery")).number
    ok(await vote(database, rival, AUTHOR, Choice.FOR))
    ok(await vote(database, apart, AUTHOR, Choice.FOR))
    adopted = ok(await database.call(adopt_proposal, adopt(one)))
    assert (adopted.followed, adopted.outdated, adopted.told) == ((apart,), (rival,), (PROPOSER, READER))

    follower = ok(await database.call(show_proposal, ShowProposal(server=HERE, member=READER, proposal=apart)))
    assert (follower.state, follower.view.revision.number, follower.tally.for_) == (State.OPEN, 2, 1)
    assert [edit.path for edit in follower.edits] == ["/levels/ranger/2"]

    waiting = ok(await database.call(show_proposal, ShowProposal(server=HERE, member=READER, proposal=rival)))
    assert waiting.state is State.OUTDATED
    assert "level 4 of rogue" in waiting.clashes[0]
    refused(await vote(database, rival, PROPOSER, Choice.FOR), "proposal-outdated")
    refused(await database.call(adopt_proposal, adopt(rival)), "proposal-outdated")

    draft = (await preview(database, build, 4, "4 Rogue: +1 Dex, +1 Con", member=READER)).draft
    command = RefreshProposal(server=HERE, member=READER, proposal=rival, draft=draft, at=at(20))
    fresh = ok(await database.call(refresh_proposal, command))
    assert (fresh.state, fresh.told, fresh.tally, fresh.clashes) == (State.OPEN, (AUTHOR,), Tally(), ())
    assert fresh.title == "Level 4: +1 Dex, +1 Con instead of +2 Dex"
    refused(await vote(database, rival, PROPOSER, Choice.FOR), "vote-too-early")
    late = CastVote(server=HERE, member=PROPOSER, proposal=rival, choice=Choice.FOR, at=at(21))
    assert ok(await database.call(cast_vote, late)).tally.for_ == 1


async def test_a_proposal_that_the_build_says_already_is_outdated(database: Database) -> None:
    """Nothing would be left to adopt."""
    build = await shared(database)
    number = (await propose(database, build, 4, "4 Rogue: +2 Dex")).number
    changed = await edit(database, build, 4, "4 Rogue: +2 Dex")
    assert changed.outdated == (number,)
    shown = ok(await database.call(show_proposal, ShowProposal(server=HERE, member=READER, proposal=number)))
    assert shown.clashes == ("the build says all of this already",)


async def test_a_second_press_on_post_posts_nothing_twice(database: Database) -> None:
    """Two at the same instant neither."""
    build = await shared(database)
    draft = (await preview(database, build, 4, "4 Rogue: +2 Dex")).draft
    command = PostProposal(server=HERE, member=PROPOSER, draft=draft, at=at(1))
    results = await asyncio.gather(*(database.call(post_proposal, command) for _ in range(3)))
    assert sorted(isinstance(result, Refused) for result in results) == [False, True, True]
    refused(await database.call(post_proposal, command), "draft-gone")
    assert len((await all_rows(database, HERE))["proposals"]) == 1


async def test_a_preview_joins_with_what_the_build_became(database: Database) -> None:
    """Between preview and post the author changes something else: both are in; the same place: refused."""
    build = await shared(database)
    draft = (await preview(database, build, 4, "4 Rogue: +2 Dex")).draft
    await edit(database, build, 6, "6 Ranger: style Archery")
    posted = ok(await database.call(post_proposal, PostProposal(server=HERE, member=PROPOSER, draft=draft, at=at(1))))
    assert [edit.path for edit in posted.edits] == ["/levels/rogue/4"]
    assert posted.view.revision.number == 2
    draft = (await preview(database, build, 2, "2 Rogue hp 5")).draft
    await edit(database, build, 2, "2 Rogue hp 6")
    command = PostProposal(server=HERE, member=PROPOSER, draft=draft, at=at(1))
    assert "level 2 of rogue" in refused(await database.call(post_proposal, command), "edit-clashes")


async def test_a_wrong_text_comes_back_with_its_errors_and_is_kept(database: Database) -> None:
    """All errors at once, and the text for Try again."""
    build = await shared(database)
    text = "4 Rogue: +2 Dix; spell Wibble"
    command = PreviewText(server=HERE, member=PROPOSER, build=build, part=4, text=text, reason="x", at=at(1))
    result = await database.call(preview_text, command)
    assert isinstance(result, TextErrors)
    assert result.errors
    assert result.text == text
    kept = ok(await database.call(get_draft, GetDraft(server=HERE, member=PROPOSER, draft=result.draft)))
    assert (kept.fields["text"], kept.fields["part"]) == (text, "4")
    post = PostProposal(server=HERE, member=PROPOSER, draft=result.draft, at=at(2))
    refused(await database.call(post_proposal, post), "draft-has-errors")


async def test_what_cannot_be_proposed(database: Database) -> None:
    """One plain sentence for each, nothing stored."""
    build = await shared(database)
    hidden = (await load(database, HIDDEN)).number
    before = await all_rows(database, HERE)

    async def text(**changes: Any) -> object:
        fields = {"build": build, "part": 4, "text": "4 Rogue: +2 Dex", "reason": "x", "member": PROPOSER, **changes}
        return await database.call(preview_text, PreviewText(server=HERE, at=at(1), **fields))

    async def change(**changes: Any) -> object:
        fields = {"level": 4, "remove": "", "add": "", "reason": "x", **changes}
        command = PreviewChange(server=HERE, member=PROPOSER, build=build, at=at(1), **fields)
        return await database.call(preview_change, command)

    refused(await text(build=hidden), "no-such-build")
    refused(await text(build=hidden, member=AUTHOR), "not-shared")
    refused(await text(reason="  "), "reason-missing")
    refused(await text(reason="x" * 1001), "reason-too-long")
    refused(await text(part="whole", text=" "), "text-empty")
    refused(await text(text="x" * 64_001), "text-too-long")
    refused(await text(part=9), "no-such-level")
    refused(await text(part=21), "no-such-level")
    refused(await text(text="4 Rogue: +1 Dex, +1 Wis"), "nothing-changed")
    refused(await text(revision=7), "no-such-revision")
    refused(await change(), "nothing-changed")
    refused(await change(level=9, add="+2 Dex"), "no-such-level")
    assert "+1 Dex; +1 Wis" in refused(await change(remove="spell Sleep"), "no-such-item")
    refused(await change(level=6, add="subclass Thief"), "no-such-item")
    assert await all_rows(database, HERE) == before


async def test_single_changes(database: Database) -> None:
    """Taking off, adding, a subclass, a class of lists that are put together again."""
    build = await shared(database)

    async def title(level: int, remove: str, add: str) -> str:
        command = PreviewChange(
            server=HERE, member=PROPOSER, build=build, level=level, remove=remove, add=add, reason="x", at=at(1)
        )
        seen = ok(await database.call(preview_change, command))
        assert not isinstance(seen, TextErrors)
        return seen.title

    assert await title(3, "subclass Thief", "") == "Level 3: subclass Thief taken away"
    assert await title(6, "", "style Archery") == "Level 6: style Archery added"
    assert await title(1, "expertise Stealth", "expertise Acrobatics") == (
        "Level 1: expertise Acrobatics instead of expertise Stealth"
    )
    assert await title(3, "subclass thief", "note bells") == "Level 3: note bells instead of subclass Thief"


async def test_a_removed_build_takes_its_proposals_along(database: Database) -> None:
    """They are declined, its name is free, and nothing can be proposed to it."""
    build = await shared(database)
    number = (await propose(database, build, 4, "4 Rogue: +2 Dex")).number
    draft = (await preview(database, build, 2, "2 Rogue hp 5")).draft
    gone = ok(await database.call(remove_build, RemoveBuild(server=HERE, member=AUTHOR, build=build, at=at(3))))
    assert gone.outdated == (number,)
    refused(await vote(database, number, READER, Choice.FOR), "proposal-closed")
    command = PostProposal(server=HERE, member=PROPOSER, draft=draft, at=at(4))
    refused(await database.call(post_proposal, command), "build-removed")
    refused(await database.call(get_build, GetBuild(server=HERE, member=AUTHOR, build=build)), "build-removed")
    shown = ok(await database.call(show_proposal, ShowProposal(server=HERE, member=READER, proposal=number)))
    assert (shown.state, shown.close_reason) == (State.DECLINED, "the build was removed")
    again = ok(await database.call(load_build, LoadBuild(server=HERE, member=READER, text=REED, at=at(5))))
    assert not isinstance(again, TextErrors)
    assert again.number > number


async def test_lists_and_suggestions(database: Database) -> None:
    """Newest first, by state, build and proposer, ten a page."""
    build = await shared(database)
    numbers = [(await propose(database, build, 2, f"2 Rogue: note bell {n}")).number for n in range(12)]
    ok(await vote(database, numbers[-1], READER, Choice.ABSTAIN))
    withdraw = WithdrawProposal(server=HERE, member=PROPOSER, proposal=numbers[0], at=at(2))
    ok(await database.call(withdraw_proposal, withdraw))

    async def page(**more: Any) -> Any:
        return ok(await database.call(list_proposals, ListProposals(server=HERE, member=READER, **more)))

    first = await page()
    assert [item.number for item in first.items] == numbers[:1:-1]
    assert (first.more, first.items[0].tally, first.items[0].build_name) == (True, Tally(0, 0, 1), "Reed Warden")
    second = await page(page=2)
    assert ([item.number for item in second.items], second.more) == ([numbers[1]], False)
    assert [item.number for item in (await page(state=State.WITHDRAWN)).items] == [numbers[0]]
    assert len((await page(state=None, build="reed warden", page=2)).items) == 2
    assert (await page(proposer=READER)).items == ()
    missing = ListProposals(server=HERE, member=READER, build="Nobody")
    refused(await database.call(list_proposals, missing), "no-such-build")

    async def suggested(text: str) -> list[int]:
        found = await database.call(suggest_proposals, SuggestProposals(server=HERE, member=READER, text=text))
        return [each.number for each in found]

    assert await suggested("") == [*numbers[:0:-1], numbers[0]]
    assert await suggested("bell 11") == [numbers[11]]
    assert await suggested(f"#{numbers[0]}") == [
        n for n in (numbers[:0:-1] + numbers[:1]) if str(n)[0] == str(numbers[0])[0]
    ]


async def test_what_is_no_proposal(database: Database) -> None:
    """A name, a build's number, nothing at all."""
    build = await shared(database)
    for ref in ("Reed Warden", build, 99, "#99", "x" * 500):
        command = ShowProposal(server=HERE, member=READER, proposal=ref)
        assert len(refused(await database.call(show_proposal, command), "no-such-proposal")) < 200
    number = (await propose(database, build, 4, "4 Rogue: +2 Dex")).number
    as_build = GetBuild(server=HERE, member=READER, build=number)
    assert "is a proposal" in refused(await database.call(get_build, as_build), "no-such-build")


async def test_a_text_on_another_build_refreshes_nothing(database: Database) -> None:
    """Nor does a draft that was no proposal, nor a refresh of what still fits."""
    build = await shared(database)
    other = await shared(database, "Build: Other\n1-2 Bard\n")
    number = (await propose(database, build, 4, "4 Rogue: +2 Dex")).number
    for target, code in ((other, "other-build"), (build, "proposal-not-outdated")):
        text = "2 Rogue hp 5" if target == build else "2 Bard hp 5"
        draft = (await preview(database, target, 2, text)).draft
        command = RefreshProposal(server=HERE, member=PROPOSER, proposal=number, draft=draft, at=at(1))
        refused(await database.call(refresh_proposal, command), code)
    failed = await database.call(load_build, LoadBuild(server=HERE, member=PROPOSER, text="nonsense", at=at(1)))
    assert isinstance(failed, TextErrors)
    command = RefreshProposal(server=HERE, member=PROPOSER, proposal=number, draft=failed.draft, at=at(1))
    refused(await database.call(refresh_proposal, command), "draft-gone")


async def test_fifty_members_vote_at_once(database: Database) -> None:
    """No vote is lost, none is counted twice, each has its row in the history."""
    build = await shared(database)
    number = (await propose(database, build, 4, "4 Rogue: +2 Dex")).number
    members = range(1000, 1050)
    choices = {member: list(Choice)[member % 3] for member in members}
    results = await asyncio.gather(*(vote(database, number, member, choices[member]) for member in members))
    assert not any(isinstance(result, Refused) for result in results)
    shown = ok(await database.call(show_proposal, ShowProposal(server=HERE, member=READER, proposal=number)))
    assert shown.votes == choices
    async with database.unit().reading() as uow:
        replayed = machine.replay(await uow.history.events(HERE, number))
    assert replayed.votes == choices


async def test_two_adoptions_and_votes_at_the_same_instant(database: Database) -> None:
    """One adoption wins; votes are either before it and counted, or refused."""
    build = await shared(database)
    number = (await propose(database, build, 4, "4 Rogue: +2 Dex")).number
    results = await asyncio.gather(
        *(vote(database, number, member, Choice.FOR) for member in range(1000, 1010)),
        database.call(adopt_proposal, adopt(number)),
        *(vote(database, number, member, Choice.FOR) for member in range(1010, 1020)),
        database.call(adopt_proposal, adopt(number)),
        database.call(decline_proposal, DeclineProposal(server=HERE, member=AUTHOR, proposal=number, at=at(9))),
    )
    decisions = [results[10], results[21], results[22]]
    assert sum(not isinstance(result, Refused) for result in decisions) == 1
    counted = sum(not isinstance(result, Refused) for n, result in enumerate(results) if n not in (10, 21, 22))
    shown = ok(await database.call(show_proposal, ShowProposal(server=HERE, member=READER, proposal=number)))
    assert shown.tally.all == counted
    page = ok(await database.call(list_revisions, ListRevisions(server=HERE, member=READER, build=build)))
    assert len(page.items) == (2 if shown.state is State.ADOPTED else 1)
    async with database.unit().reading() as uow:
        replayed = machine.replay(await uow.history.events(HERE, number))
    assert (replayed.state, replayed.tally) == (shown.state, shown.tally)


async def test_adopting_a_name_that_is_taken_by_now(database: Database) -> None:
    """The adoption is refused whole, and can be tried again when the name is free."""
    build = await shared(database)
    number = (await propose(database, build, "header", "Build: Tide Warden")).number
    other = await shared(database, "Build: Tide Warden\n1 Bard\n")
    before = await all_rows(database, HERE)
    refused(await database.call(adopt_proposal, adopt(number)), "name-taken")
    assert await all_rows(database, HERE) == before
    ok(await database.call(remove_build, RemoveBuild(server=HERE, member=AUTHOR, build=other, at=at(3))))
    assert ok(await database.call(adopt_proposal, adopt(number))).proposed.name == "Tide Warden"
    found = ok(await database.call(get_build, GetBuild(server=HERE, member=READER, build="tide wardens")))
    assert found.number == build


async def test_what_a_build_says_by_now_cannot_be_posted(database: Database) -> None:
    """The author made the change between preview and post."""
    build = await shared(database)
    draft = (await preview(database, build, 4, "4 Rogue: +2 Dex")).draft
    await edit(database, build, 4, "4 Rogue: +2 Dex")
    command = PostProposal(server=HERE, member=PROPOSER, draft=draft, at=at(1))
    refused(await database.call(post_proposal, command), "nothing-changed")


async def test_a_title_of_ones_own(database: Database) -> None:
    """Kept in place of the made one, cut to a hundred characters."""
    build = await shared(database)
    command = PreviewText(
        server=HERE, member=PROPOSER, build=build, part=4, text="4 Rogue: +2 Dex", reason="x", title="t" * 150, at=at(1)
    )
    seen = ok(await database.call(preview_text, command))
    assert not isinstance(seen, TextErrors)
    assert seen.title == "t" * 100
    posted = ok(
        await database.call(post_proposal, PostProposal(server=HERE, member=PROPOSER, draft=seen.draft, at=at(2)))
    )
    assert posted.title == "t" * 100
