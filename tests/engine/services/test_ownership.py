"""Whose a build is and how it goes on, on both databases."""

from typing import Any

import pytest

from engine.review import machine
from engine.review.machine import State
from engine.services.builds import (
    BuildHistory,
    EditBuild,
    GetBuild,
    ListBuilds,
    build_history,
    edit_build,
    get_build,
    list_builds,
)
from engine.services.ownership import (
    MOST_COAUTHORS,
    AddCoAuthor,
    BringBack,
    CopyBuild,
    DropCoAuthor,
    HandOver,
    RestoreRevision,
    RetireBuild,
    add_co_author,
    bring_back,
    copy_build,
    drop_co_author,
    hand_over,
    restore_revision,
    retire_build,
)
from engine.services.proposals import AdoptProposal, ShowProposal, adopt_proposal, show_proposal
from engine.store.database import Database
from tests.engine.services.world import (
    AUTHOR,
    COAUTHOR,
    HERE,
    HIDDEN,
    PROPOSER,
    READER,
    REED,
    at,
    edit,
    load,
    ok,
    preview,
    propose,
    refused,
    share,
)


async def shared(database: Database) -> int:
    number = (await load(database, REED)).number
    await share(database, number)
    return number


async def seen(database: Database, build: Any, member: int = READER, **more: Any) -> Any:
    return await database.call(get_build, GetBuild(server=HERE, member=member, build=build, **more))


async def help_with(database: Database, build: int, other: int = COAUTHOR) -> Any:
    command = AddCoAuthor(server=HERE, member=AUTHOR, build=build, other=other, at=at(1))
    return await database.call(add_co_author, command)


async def test_a_restored_revision_is_a_new_one(database: Database) -> None:
    """Nothing is overwritten: all three stay, and proposals go along or are outdated."""
    build = await shared(database)
    first = ok(await seen(database, build))
    await edit(database, build, 2, "2 Rogue hp 6")
    number = (await propose(database, build, 2, "2 Rogue hp 5")).number
    follows = (await propose(database, build, 4, "4 Rogue: +2 Dex")).number
    command = RestoreRevision(server=HERE, member=AUTHOR, build=build, revision=1, at=at(2), reason="too tough")
    view = ok(await database.call(restore_revision, command))
    assert (view.revision.number, view.revision.parent, view.revision.hash) == (3, 2, first.revision.hash)
    assert view.revision.reason == "restored revision 1: too tough"
    assert (view.followed, view.outdated) == ((follows,), (number,))
    assert [(n.subject, n.kind, n.told) for n in view.notices] == [(number, "outdated", (PROPOSER,))]
    assert ok(await seen(database, build, revision=2)).build != view.build
    refused(await database.call(restore_revision, command), "nothing-changed")
    missing = RestoreRevision(server=HERE, member=AUTHOR, build=build, revision=9, at=at(2))
    refused(await database.call(restore_revision, missing), "no-such-revision")
    outdated = ok(await database.call(show_proposal, ShowProposal(server=HERE, member=READER, proposal=number)))
    assert outdated.state is State.OUTDATED
    assert outdated.clashes


async def test_a_retired_build_is_read_and_not_changed(database: Database) -> None:
    """Its proposals are declined, its name stays taken, it leaves the list, and it comes back as it was."""
    build = await shared(database)
    number = (await propose(database, build, 4, "4 Rogue: +2 Dex")).number
    draft = (await preview(database, build, 5, "5 Rogue")).draft
    retire = RetireBuild(server=HERE, member=AUTHOR, build=build, at=at(1), reason="the campaign ended")
    view = ok(await database.call(retire_build, retire))
    assert (view.retired, view.outdated) == (at(1), (number,))
    refused(await database.call(retire_build, retire), "build-retired")
    closed = ok(await database.call(show_proposal, ShowProposal(server=HERE, member=READER, proposal=number)))
    assert (closed.state, closed.close_reason) == (State.DECLINED, "the build was retired")
    changed = EditBuild(server=HERE, member=AUTHOR, build=build, part=6, text="6 Rogue", at=at(2))
    refused(await database.call(edit_build, changed), "build-retired")
    from engine.services.proposals import PostProposal, post_proposal

    post = PostProposal(server=HERE, member=PROPOSER, draft=draft, at=at(2))
    refused(await database.call(post_proposal, post), "build-retired")
    assert ok(await seen(database, "reed warden")).retired == at(1)
    from engine.services.builds import LoadBuild, load_build

    again = LoadBuild(server=HERE, member=READER, text=REED, at=at(2))
    refused(await database.call(load_build, again), "name-taken")
    for aside, numbers in ((False, []), (True, [build])):
        page = await database.call(list_builds, ListBuilds(server=HERE, member=READER, retired=aside))
        assert [each.number for each in page.items] == numbers
    back = BringBack(server=HERE, member=AUTHOR, build=build, at=at(3))
    assert ok(await database.call(bring_back, back)).retired is None
    refused(await database.call(bring_back, back), "not-retired")
    ok(await database.call(edit_build, changed))
    ok(await database.call(post_proposal, post))


async def test_co_authors_see_drafts_edit_and_decide(database: Database) -> None:
    """They cannot give the build away; they can step back, and only the author takes others off."""
    hidden = (await load(database, HIDDEN)).number
    refused(await seen(database, hidden, COAUTHOR), "no-such-build")
    added = ok(await help_with(database, hidden))
    assert [(n.kind, n.told) for n in added.notices] == [("co-author", (COAUTHOR,))]
    assert ok(await seen(database, hidden, COAUTHOR)).coauthors == (COAUTHOR,)
    refused(await seen(database, hidden, READER), "no-such-build")
    page = await database.call(list_builds, ListBuilds(server=HERE, member=COAUTHOR))
    assert [each.number for each in page.items] == [hidden]
    build = await shared(database)
    ok(await help_with(database, build))
    refused(await help_with(database, build), "is-author")
    refused(await help_with(database, build, AUTHOR), "is-author")
    command = EditBuild(server=HERE, member=COAUTHOR, build=build, part=2, text="2 Rogue hp 6", at=at(2))
    assert ok(await database.call(edit_build, command)).revision.author == COAUTHOR  # type: ignore[union-attr]
    posted = await propose(database, build, 4, "4 Rogue: +2 Dex")
    assert posted.told == (AUTHOR, COAUTHOR)
    assert posted.deciders == (AUTHOR, COAUTHOR)
    adopt = AdoptProposal(server=HERE, member=COAUTHOR, proposal=posted.number, at=at(3))
    assert ok(await database.call(adopt_proposal, adopt)).closed_by == COAUTHOR
    give = HandOver(server=HERE, member=COAUTHOR, build=build, other=COAUTHOR, at=at(4))
    refused(await database.call(hand_over, give), "not-allowed")
    ok(await help_with(database, build, READER))
    drop = DropCoAuthor(server=HERE, member=COAUTHOR, build=build, other=READER, at=at(5))
    refused(await database.call(drop_co_author, drop), "not-allowed")
    own = DropCoAuthor(server=HERE, member=COAUTHOR, build=build, other=COAUTHOR, at=at(5))
    assert ok(await database.call(drop_co_author, own)).coauthors == (READER,)
    gone = DropCoAuthor(server=HERE, member=AUTHOR, build=build, other=COAUTHOR, at=at(5))
    refused(await database.call(drop_co_author, gone), "no-co-author")
    for other in range(700, 700 + MOST_COAUTHORS - 1):
        ok(await help_with(database, build, other))
    refused(await help_with(database, build, 799), "too-many")


async def test_who_gets_a_build_decides_from_then_on(database: Database) -> None:
    """The former author is a member like any other, and the history of a proposal replays to the present."""
    build = await shared(database)
    ok(await help_with(database, build, READER))
    number = (await propose(database, build, 4, "4 Rogue: +2 Dex")).number
    give = HandOver(server=HERE, member=AUTHOR, build=build, other=READER, at=at(2))
    view = ok(await database.call(hand_over, give))
    assert (view.author, view.coauthors) == (READER, ())
    assert [(n.kind, n.told) for n in view.notices] == [("handed-over", (READER,))]
    refused(await database.call(hand_over, give), "not-allowed")
    for member, expected in ((AUTHOR, "not-allowed"), (READER, "")):
        adopt = AdoptProposal(server=HERE, member=member, proposal=number, at=at(3))
        result = await database.call(adopt_proposal, adopt)
        if expected:
            refused(result, expected)
        else:
            assert ok(result).state is State.ADOPTED
    async with database.unit().reading() as uow:
        replayed = machine.replay(await uow.history.events(HERE, number))
    assert (replayed.author, replayed.state, replayed.closed_by) == (READER, State.ADOPTED, READER)
    history = ok(await database.call(build_history, BuildHistory(server=HERE, member=PROPOSER, build=build)))
    assert {"build-handed-over", "co-author-added", "proposal-handed-over"} <= {e.event for e in history.items}


@pytest.mark.parametrize("revision", [None, 1])
async def test_a_copy_is_a_draft_that_names_its_origin(database: Database, revision: int | None) -> None:
    """It begins a life of its own: changing it leaves the origin alone."""
    build = await shared(database)
    await edit(database, build, 2, "2 Rogue hp 6")
    command = CopyBuild(server=HERE, member=READER, build=build, name=" Reed  Twin ", revision=revision, at=at(1))
    copied = ok(await database.call(copy_build, command))
    wanted = revision or 2
    assert (copied.name, copied.author, copied.shared, copied.origin) == ("Reed Twin", READER, False, (build, wanted))
    source = ok(await seen(database, build, revision=wanted))
    assert copied.build.model_copy(update={"name": "Reed Warden"}) == source.build
    refused(await seen(database, copied.number, AUTHOR), "no-such-build")
    refused(await database.call(copy_build, command), "name-taken")
    for name, code in (("", "name-empty"), ("x" * 61, "name-empty"), ("#7", "name-is-a-number")):
        other = CopyBuild(server=HERE, member=READER, build=build, name=name, at=at(1))
        refused(await database.call(copy_build, other), code)
    none = CopyBuild(server=HERE, member=READER, build=build, name="Other", revision=7, at=at(1))
    refused(await database.call(copy_build, none), "no-such-revision")
