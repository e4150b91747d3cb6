"""Builds before a GM: submitted, approved as seen, returned, waived, changed since; and what the roster makes of it."""

import asyncio
from dataclasses import replace

from engine.problem import Refused
from engine.review.approval import Stand, finding_key
from engine.services.approvals import (
    ReturnBuild,
    TakeBackBuild,
    WaiveFinding,
    return_build,
    take_back_build,
    waive_finding,
)
from engine.services.builds import RemoveBuild, remove_build
from engine.services.cards import CardsOf, LiveCards, RememberCard, cards_of, live_cards, remember_card
from engine.services.tables import JoinTable, join_table
from tests.engine.services.sitting import Sitting
from tests.engine.services.test_tables import GM, events, opened
from tests.engine.services.world import AUTHOR, HERE, READER, at, load, ok, refused, share


async def test_a_submission_shows_the_sheet_at_the_tables_level_and_tells_the_gm(sitting: Sitting) -> None:
    view = ok(await sitting.submit())
    assert (view.stand, view.level, view.last, view.missing) == (Stand.WAITING, 4, 4, 0)
    assert view.shown.level == 4
    assert view.shown.sheet.numbers["level.character"].value == 4
    assert view.findings == view.waiting == view.due == ()
    assert view.pin is None
    assert view.difference is None
    [told] = view.notices
    assert (told.kind, told.told, told.subject) == ("submitted", (GM,), view.number)
    assert replace(view, notices=()) == await sitting.look()
    assert (await sitting.look(view.number)).number == view.number
    refused(await sitting.submit(), "already-waiting")
    assert ("build-submitted", AUTHOR) in await events(sitting.database, sitting.build)


async def test_who_cannot_submit_what(sitting: Sitting) -> None:
    refused(await sitting.submit(member=READER), "not-allowed")
    refused(await sitting.submit(build="Moon Caller"), "no-such-build")
    draft = (await load(sitting.database, "Build: Sunken Bell\n1 Wizard\n")).number
    refused(await sitting.submit(build=draft), "not-shared")
    empty = (await load(sitting.database, "Build: Blank Page\n")).number
    await share(sitting.database, empty)
    refused(await sitting.submit(build=empty), "no-levels")
    other = (await opened(sitting.database, "Ferry Table")).number
    refused(await sitting.submit(table=other), "not-at-table")
    strange = (await load(sitting.database, "Build: Strange Bird\n1 Bard\n", member=READER)).number
    await share(sitting.database, strange, member=READER)
    refused(await sitting.submit(member=READER, build=strange), "which-table")
    refused(await sitting.submit(member=READER, build=strange, table=sitting.table), "not-at-table")
    ok(await sitting.submit())
    ok(await sitting.call(join_table, JoinTable(server=HERE, member=AUTHOR, table=other, at=at(3))))
    assert "Marsh Table" in refused(await sitting.submit(table=other), "at-another-table")


async def test_approving_pins_revision_levels_and_the_numbers_seen(sitting: Sitting) -> None:
    view = ok(await sitting.submit())
    approved = ok(await sitting.approve(view))
    assert approved.stand is Stand.APPROVED
    assert approved.decided_by == GM
    assert approved.pin is not None
    assert (approved.pin.revision, approved.pin.first, approved.pin.last) == (1, 1, 4)
    # SRD 5.1, Classes, Rogue, Hit Points: 8 + 1 at level 1, then 5 + 1 a level. Con 13 gives +1.
    assert approved.pin.seen["hp.max"] == [[1, 9], [2, 15], [3, 21], [4, 27]]
    assert "attack.rapier.to_hit" in approved.pin.seen
    assert approved.corrected == ()
    [told] = approved.notices
    assert (told.kind, told.told) == ("approved", (AUTHOR,))
    assert ("build-approved", GM) in await events(sitting.database, sitting.build)
    refused(await sitting.approve(approved), "already-approved")
    refused(await sitting.submit(), "already-approved")


async def test_only_the_gm_decides(sitting: Sitting) -> None:
    view = ok(await sitting.submit())
    for member in (AUTHOR, READER):
        refused(await sitting.approve(view, member=member), "not-allowed")
        back = ReturnBuild(server=HERE, member=member, submission=view.number, remarks="No.", at=at(6))
        refused(await sitting.call(return_build, back), "not-allowed")
        waive = WaiveFinding(server=HERE, member=member, submission=view.number, finding="x", reason="y", at=at(6))
        refused(await sitting.call(waive_finding, waive), "not-allowed")
    assert (await sitting.look()).stand is Stand.WAITING


async def test_nothing_is_approved_that_was_not_seen(sitting: Sitting) -> None:
    view = ok(await sitting.submit())
    await sitting.edit(2, "2 Rogue hp 8")
    refused(await sitting.approve(view), "card-outdated")
    fresh = await sitting.look()
    assert fresh.token != view.token
    await sitting.level(5)
    refused(await sitting.approve(fresh), "card-outdated")
    fresh = await sitting.look()
    await sitting.rules("hit_points: fixed\n")
    refused(await sitting.approve(fresh), "card-outdated")
    async with sitting.database.unit().reading() as uow:
        assert await uow.submissions.approvals(HERE, view.number) == []


async def test_a_later_revision_is_changed_since_approval_until_that_is_approved(sitting: Sitting) -> None:
    ok(await sitting.approve(ok(await sitting.submit())))
    await sitting.edit(4, "4 Rogue: +2 Dex")
    changed = await sitting.look()
    assert changed.stand is Stand.CHANGED
    assert changed.before is not None
    assert changed.before.revision.number == 1
    assert changed.difference is not None
    rows = {(n.name, n.level): (n.before, n.after) for n in changed.difference.numbers}
    # Dex 16 + 2 = 18 instead of 17, Wis 15 instead of 16: SRD 5.1, Using Ability Scores, Ability Scores and Modifiers.
    assert rows["ability.dex.score", 4] == (17, 18)
    assert rows["save.dex", 4] == (5, 6)
    assert all(level <= 4 for _, level in rows)
    roster = await sitting.roster()
    assert [entry.stand for entry in roster.entries] == [Stand.CHANGED]
    again = ok(await sitting.approve(changed))
    assert again.stand is Stand.APPROVED
    assert again.pin is not None
    assert again.pin.revision == 2
    async with sitting.database.unit().reading() as uow:
        kept = await uow.submissions.approvals(HERE, changed.number)
    assert [(row.place, row.revision) for row in kept] == [(1, 1), (2, 2)]


async def test_a_higher_campaign_level_is_new_to_the_approval(sitting: Sitting) -> None:
    ok(await sitting.approve(ok(await sitting.submit())))
    await sitting.level(5)
    changed = await sitting.look()
    assert (changed.stand, changed.last) == (Stand.CHANGED, 5)
    assert changed.difference is None
    again = ok(await sitting.approve(changed))
    assert again.pin is not None
    assert again.pin.last == 5
    await sitting.level(7)
    above = await sitting.look()
    assert (above.stand, above.last, above.missing) == (Stand.APPROVED, 5, 2)


async def test_findings_against_the_tables_rules_are_waived_or_stand_in_the_way(sitting: Sitting) -> None:
    await sitting.rules("bar: [Thief]\nscores: point buy\n")
    view = ok(await sitting.submit())
    assert sorted(f.code for f in view.waiting) == ["table-barred", "table-scores"]
    assert "2 findings break" in refused(await sitting.approve(view), "findings-open")
    barred, scores = sorted(view.waiting, key=lambda f: f.code)
    command = WaiveFinding(
        server=HERE, member=GM, submission=view.number, finding=finding_key(barred), reason="It suits him.", at=at(6)
    )
    refused(await sitting.call(waive_finding, replace(command, reason=" ")), "reason-missing")
    refused(await sitting.call(waive_finding, replace(command, reason="x" * 1001)), "reason-too-long")
    refused(await sitting.call(waive_finding, replace(command, finding="nothing")), "no-such-finding")
    waived = ok(await sitting.call(waive_finding, command))
    assert [f.code for f in waived.waiting] == ["table-scores"]
    assert [(w.finding.code, w.reason, w.stale) for w in waived.waivers] == [("table-barred", "It suits him.", False)]
    refused(await sitting.call(waive_finding, command), "already-waived")
    both = ok(await sitting.call(waive_finding, replace(command, finding=finding_key(scores))))
    assert both.waiting == ()
    approved = ok(await sitting.approve(both))
    assert len(approved.waivers) == 2
    # A waiver is for the finding as it reads; one that is gone waives nothing.
    await sitting.rules("bar: [Thief]\n")
    later = await sitting.look()
    assert [w.stale for w in later.waivers] == [False, True]
    await sitting.rules("bar: [Thief, Half-Elf]\n")
    assert [f.subject for f in (await sitting.look()).waiting] == ["Half-Elf"]


async def test_returned_with_remarks_and_submitted_again(sitting: Sitting) -> None:
    view = ok(await sitting.submit())
    command = ReturnBuild(server=HERE, member=GM, submission=view.number, remarks=" ", at=at(6))
    refused(await sitting.call(return_build, command), "remarks-missing")
    refused(await sitting.call(return_build, replace(command, remarks="x" * 2001)), "remarks-too-long")
    back = ok(await sitting.call(return_build, replace(command, remarks="Less stealth, please.")))
    assert (back.stand, back.remarks, back.decided_by) == (Stand.RETURNED, "Less stealth, please.", GM)
    [told] = back.notices
    assert (told.kind, told.told) == ("returned", (AUTHOR,))
    refused(await sitting.call(return_build, replace(command, remarks="Again.")), "already-returned")
    again = ok(await sitting.submit(at=at(9)))
    assert (again.number, again.stand, again.remarks) == (view.number, Stand.WAITING, "")
    reasons = [e for e in await events(sitting.database, sitting.build) if e[0] == "build-returned"]
    assert reasons == [("build-returned", GM)]


async def test_returning_ends_an_approval(sitting: Sitting) -> None:
    await sitting.rules("rules: srd-5.1\n")
    view = ok(await sitting.approve(ok(await sitting.submit())))
    command = ReturnBuild(server=HERE, member=GM, submission=view.number, remarks="I was wrong.", at=at(7))
    assert ok(await sitting.call(return_build, command)).stand is Stand.RETURNED


async def test_taken_back_and_gone_with_its_build(sitting: Sitting) -> None:
    view = ok(await sitting.submit())
    command = TakeBackBuild(server=HERE, member=AUTHOR, build=sitting.build, at=at(6))
    refused(await sitting.call(take_back_build, replace(command, member=GM)), "not-allowed")
    assert ok(await sitting.call(take_back_build, command)).stand is Stand.WITHDRAWN
    refused(await sitting.call(take_back_build, command), "not-submitted")
    refused(await sitting.approve(view), "withdrawn")
    assert (await sitting.roster()).entries == ()
    ok(await sitting.submit())
    assert len((await sitting.roster()).entries) == 1
    ok(await sitting.call(remove_build, RemoveBuild(server=HERE, member=AUTHOR, build=sitting.build, at=at(7))))
    assert (await sitting.roster()).entries == ()
    refused(await sitting.approve(view), "build-removed")


async def test_of_two_presses_at_once_one_approves(sitting: Sitting) -> None:
    view = ok(await sitting.submit())
    presses = await asyncio.gather(*(sitting.approve(view) for _ in range(4)))
    assert sorted(getattr(p, "code", "") for p in presses) == ["", *["already-approved"] * 3]
    async with sitting.database.unit().reading() as uow:
        assert len(await uow.submissions.approvals(HERE, view.number)) == 1
    happened = [event for event, _ in await events(sitting.database, sitting.build)]
    assert happened.count("build-approved") == 1


async def test_an_edit_and_an_approval_at_once_never_approve_the_unseen(sitting: Sitting) -> None:
    view = ok(await sitting.submit())
    pressed, _ = await asyncio.gather(sitting.approve(view), sitting.edit(2, "2 Rogue hp 8"))
    after = await sitting.look()
    if isinstance(pressed, Refused):
        assert pressed.code == "card-outdated"
        assert after.stand is Stand.WAITING
    else:
        assert after.stand is Stand.CHANGED
        assert after.pin is not None
        assert after.pin.revision == 1


async def test_of_two_waivers_and_two_submissions_at_once_one_is_kept(sitting: Sitting) -> None:
    await sitting.rules("bar: [Thief]\n")
    both = await asyncio.gather(sitting.submit(), sitting.submit())
    assert sorted(getattr(each, "code", "") for each in both) == ["", "already-waiting"]
    view = await sitting.look()
    command = WaiveFinding(
        server=HERE, member=GM, submission=view.number, finding=finding_key(view.waiting[0]), reason="Fine.", at=at(6)
    )
    waived = await asyncio.gather(*(sitting.call(waive_finding, command) for _ in range(3)))
    assert sorted(getattr(each, "code", "") for each in waived) == ["", "already-waived", "already-waived"]
    assert len((await sitting.look()).waivers) == 1


async def test_the_roster_says_how_all_stand_and_what_nobody_covers(sitting: Sitting) -> None:
    ok(await sitting.approve(ok(await sitting.submit())))
    second = "Build: Ink Reader\nSpecies: Human\n1 Wizard\n"
    number = (await load(sitting.database, second, member=READER)).number
    await share(sitting.database, number, member=READER)
    ok(await sitting.call(join_table, JoinTable(server=HERE, member=READER, table=sitting.table, at=at(3))))
    assert (await sitting.roster()).without == (READER,)
    ok(await sitting.submit(member=READER, build=number))
    roster = await sitting.roster()
    assert [(e.shown.view.name, e.stand) for e in roster.entries] == [
        ("Tide Caller", Stand.APPROVED),
        ("Ink Reader", Stand.WAITING),
    ]
    assert roster.without == ()
    late = roster.entries[1]
    assert late.missing == 3
    assert "choice-open" in {f.code for f in late.due}
    party = roster.party
    assert party is not None
    # SRD 5.1, Classes, Rogue and Wizard, Proficiencies; Races, Half-Elf, Darkvision.
    assert party.saves["dex"] == ("Tide Caller",)
    assert party.saves["int"] == ("Tide Caller", "Ink Reader")
    assert party.lacking_saves == ("str", "con", "cha")
    assert party.skills["stealth"] == ("Tide Caller",)
    assert party.senses["darkvision"] == (("Tide Caller", 60),)
    assert party.lacking_senses == ()
    assert party.roles["locks and traps"] == ("Tide Caller",)
    assert "healing" in party.lacking_roles
    assert party.languages["goblin"] == ("Tide Caller",)
    assert "orc" in party.lacking_languages


async def test_numbers_corrected_since_are_shown(sitting: Sitting) -> None:
    """As if the rules data had said something else at the approval: the stored numbers are the measure."""
    view = ok(await sitting.approve(ok(await sitting.submit())))
    async with sitting.database.unit() as uow:
        [row] = await uow.submissions.approvals(HERE, view.number)
        row.seen = {**row.seen, "initiative": [[1, 2], [4, 3]]}
        await uow.commit()
    now = await sitting.look()
    assert now.stand is Stand.APPROVED
    assert {(n.name, n.level, n.before, n.after) for n in now.corrected} == {
        ("initiative", level, 2, 3) for level in (1, 2, 3)
    }


async def test_the_cards_of_a_submission_come_with_those_of_its_build(sitting: Sitting) -> None:
    view = ok(await sitting.submit())
    ok(await sitting.call(remember_card, RememberCard(server=HERE, subject=view.number, channel=70, message=80)))
    ok(await sitting.call(remember_card, RememberCard(server=HERE, subject=sitting.build, channel=70, message=81)))
    found = await sitting.call(cards_of, CardsOf(server=HERE, subject=sitting.build))
    assert [(card.subject, card.message) for card in found] == [(sitting.build, 81), (view.number, 80)]
    assert [card.message for card in await sitting.call(live_cards, LiveCards(server=HERE))] == [81, 80]
    back = TakeBackBuild(server=HERE, member=AUTHOR, build=sitting.build, at=at(6))
    ok(await sitting.call(take_back_build, back))
    assert [card.message for card in await sitting.call(live_cards, LiveCards(server=HERE))] == [81]
