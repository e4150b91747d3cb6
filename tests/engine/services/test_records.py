"""Remarks, cards, drafts and names, on both databases."""

from datetime import timedelta
from typing import Any

from engine.review.machine import State
from engine.services.cards import (
    CardsOf,
    ForgetCard,
    LiveCards,
    MarkCard,
    RememberCard,
    cards_of,
    forget_card,
    live_cards,
    mark_card,
    remember_card,
)
from engine.services.drafts import GetDraft, KeepDraft, get_draft, keep_draft
from engine.services.members import RememberMember, remember_member
from engine.services.proposals import DeclineProposal, ShowProposal, decline_proposal, show_proposal
from engine.services.remarks import AddRemark, ListRemarks, add_remark, list_remarks
from engine.store.database import Database
from tests.engine.services.world import (
    AUTHOR,
    HERE,
    HIDDEN,
    PROPOSER,
    READER,
    REED,
    T0,
    at,
    load,
    ok,
    propose,
    refused,
    share,
)


async def shared(database: Database) -> int:
    number = (await load(database, REED)).number
    await share(database, number)
    return number


async def test_remarks_stand_at_builds_and_proposals(database: Database) -> None:
    """Newest first; a proposal shows its last ones in the order they were written."""
    build = await shared(database)
    number = (await propose(database, build, 4, "4 Rogue: +2 Dex")).number

    async def remark(subject: Any, text: str, **more: Any) -> Any:
        command = AddRemark(server=HERE, member=READER, subject=subject, text=text, at=at(1), **more)
        return await database.call(add_remark, command)

    first = ok(await remark("Reed Warden", "  `Bells` @everyone | ok  ", level=4, number="skill.stealth"))
    assert (first.kind, first.subject, first.title, first.text) == (
        "build",
        build,
        "Reed Warden",
        "`Bells` @everyone | ok",
    )
    assert (first.level, first.number) == (4, "skill.stealth")
    for n in range(12):
        made = ok(await remark(number, f"remark {n}"))
        assert (made.kind, made.title) == ("proposal", "Level 4: +2 Dex instead of +1 Dex, +1 Wis")
    page = ok(await database.call(list_remarks, ListRemarks(server=HERE, member=READER, subject=f"#{number}")))
    assert [each.text for each in page.items] == [f"remark {n}" for n in range(11, 1, -1)]
    assert page.more
    shown = ok(await database.call(show_proposal, ShowProposal(server=HERE, member=READER, proposal=number)))
    assert (shown.remarks, [each.text for each in shown.last_remarks]) == (12, ["remark 9", "remark 10", "remark 11"])
    refused(await remark(build, "  "), "remark-empty")
    refused(await remark(build, "x" * 2001), "remark-too-long")
    refused(await remark(build, "x", level=9), "no-such-level")
    refused(await remark(77, "x"), "no-such-subject")
    refused(await remark("Nobody", "x"), "no-such-build")
    decline = DeclineProposal(server=HERE, member=AUTHOR, proposal=number, at=at(2))
    assert ok(await database.call(decline_proposal, decline)).state is State.DECLINED
    ok(await remark(number, "a pity"))


async def test_cards_are_remembered_moved_marked_and_forgotten(database: Database) -> None:
    """A card of a draft's or a closed proposal's subject is not live; a thread is added by remembering again."""
    build = await shared(database)
    number = (await propose(database, build, 4, "4 Rogue: +2 Dex")).number

    async def remember(subject: int, message: int, **more: Any) -> Any:
        command = RememberCard(server=HERE, subject=subject, channel=70, message=message, **more)
        return await database.call(remember_card, command)

    async def of(subject: int) -> Any:
        return await database.call(cards_of, CardsOf(server=HERE, subject=subject))

    ok(await remember(build, 1001))
    ok(await remember(number, 1002))
    ok(await remember(number, 1002, thread=1003))
    [card] = await of(number)
    assert (card.channel, card.message, card.thread, card.stale) == (70, 1002, 1003, False)
    await database.call(mark_card, MarkCard(server=HERE, message=1002))
    assert (await of(number))[0].stale
    await database.call(mark_card, MarkCard(server=HERE, message=1002, stale=False))
    await database.call(mark_card, MarkCard(server=HERE, message=55))
    ok(await remember(number, 1004, replaces=1002))
    assert [(each.message, each.stale) for each in await of(number)] == [(1004, False)]
    shown = ok(await database.call(show_proposal, ShowProposal(server=HERE, member=READER, proposal=number)))
    assert [each.message for each in shown.cards] == [1004]
    live = await database.call(live_cards, LiveCards(server=HERE))
    assert [each.message for each in live] == [1001, 1004]
    decline = DeclineProposal(server=HERE, member=AUTHOR, proposal=number, at=at(2))
    ok(await database.call(decline_proposal, decline))
    assert [each.message for each in await database.call(live_cards, LiveCards(server=HERE))] == [1001]
    await database.call(forget_card, ForgetCard(server=HERE, message=1001))
    assert await of(build) == []
    refused(await remember(99, 1009), "no-such-subject")


async def test_drafts_are_ones_own_and_do_not_last(database: Database) -> None:
    """A week, and an id that is gone never means another text."""
    await load(database, HIDDEN)

    async def keep(minutes: float, member: int = READER, **fields: str) -> Any:
        command = KeepDraft(server=HERE, member=member, kind="load", fields=fields, at=at(minutes))
        return await database.call(keep_draft, command)

    first = ok(await keep(0, text="one"))
    found = ok(await database.call(get_draft, GetDraft(server=HERE, member=READER, draft=first.id)))
    assert (found.kind, found.fields, found.at) == ("load", {"text": "one"}, T0)
    refused(await database.call(get_draft, GetDraft(server=HERE, member=PROPOSER, draft=first.id)), "draft-gone")
    week = timedelta(days=7).total_seconds() / 60
    later = ok(await keep(week + 1, member=PROPOSER, text="two"))
    assert later.id > first.id
    refused(await database.call(get_draft, GetDraft(server=HERE, member=READER, draft=first.id)), "draft-gone")
    refused(await keep(0, text="x" * 130_000), "text-too-long")
    refused(await keep(0, **{f"f{n}": "x" for n in range(11)}), "text-too-long")


async def test_names_are_remembered(database: Database) -> None:
    """The last one told; names without a telling are not there."""
    build = await shared(database)
    del build
    for name in ("Ada", "Ada of the Marsh" + "!" * 200):
        await database.call(remember_member, RememberMember(server=HERE, member=READER, name=name, at=at(1)))
    async with database.unit().reading() as uow:
        names = await uow.people.names(HERE, {READER, AUTHOR})
    assert list(names) == [READER]
    assert names[READER].startswith("Ada of the Marsh!")
    assert len(names[READER]) == 100
