"""Builds: loaded, shared, edited, removed, shown, listed, on both databases."""

import asyncio
from typing import Any

import pytest

from engine.build.document import build_hash
from engine.problem import Refused
from engine.services.builds import (
    BuildHistory,
    EditBuild,
    GetBuild,
    ListBuilds,
    ListRevisions,
    LoadBuild,
    ReadPart,
    RemoveBuild,
    ShareBuild,
    ShowBuild,
    SuggestBuilds,
    build_history,
    edit_build,
    get_build,
    list_builds,
    list_revisions,
    load_build,
    read_part,
    remove_build,
    share_build,
    show_build,
    suggest_builds,
)
from engine.services.drafts import GetDraft, get_draft
from engine.services.numbers import (
    CompareBuilds,
    SeeOpenChoices,
    SuggestChanges,
    compare_builds,
    see_open_choices,
    suggest_changes,
)
from engine.services.views import TextErrors
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
    refused,
    share,
)


async def shared(database: Database, text: str = REED, *, member: int = AUTHOR) -> int:
    number = (await load(database, text, member=member)).number
    await share(database, number, member=member)
    return number


def loading(text: str, member: int = AUTHOR) -> LoadBuild:
    return LoadBuild(server=HERE, member=member, text=text, at=at(0))


async def test_a_loaded_build_is_a_draft_with_its_first_revision(database: Database) -> None:
    """Numbered from one, hashed, found by any spelling of its name by its author, by nobody else."""
    view = await load(database, REED)
    assert (view.number, view.name, view.shared, view.latest) == (1, "Reed Warden", False, 1)
    assert view.revision.hash == build_hash(view.build)
    for ref in (1, "1", "#1", " # 1 ", "reed-warden", "REED WARDENS", "Rééd Warden"):
        found = ok(await database.call(get_build, GetBuild(server=HERE, member=AUTHOR, build=ref)))
        assert found.build == view.build
        hidden = await database.call(get_build, GetBuild(server=HERE, member=READER, build=ref))
        assert "Nearest" not in refused(hidden, "no-such-build")
    await share(database, 1)
    again = ShareBuild(server=HERE, member=AUTHOR, build=1, at=at(1))
    refused(await database.call(share_build, again), "already-shared")
    near = GetBuild(server=HERE, member=READER, build="Red Wardn")
    assert "Nearest: Reed Warden." in refused(await database.call(get_build, near), "no-such-build")


async def test_a_name_is_taken_once_on_a_server(database: Database) -> None:
    """However it is spelled, by two at the same instant too; other servers and removed builds do not count."""
    results = await asyncio.gather(
        *(database.call(load_build, loading(f"Build: {name}\n1 Bard\n")) for name in ("Tide Caller", "tide-CALLERS"))
    )
    assert sorted(isinstance(result, Refused) for result in results) == [False, True]
    refused(next(result for result in results if isinstance(result, Refused)), "name-taken")
    await load(database, "Build: Tide Caller\n1 Bard\n", server=HERE + 1)
    other = await load(database, "Build: Other\n1 Bard\n")
    rename = EditBuild(
        server=HERE, member=AUTHOR, build=other.number, part="header", text="Build: Tide Caller", at=at(1)
    )
    refused(await database.call(edit_build, rename), "name-taken")
    ok(await database.call(remove_build, RemoveBuild(server=HERE, member=AUTHOR, build="tide caller", at=at(2))))
    renamed = ok(await database.call(edit_build, rename))
    assert renamed.name == "Tide Caller"
    found = ok(await database.call(get_build, GetBuild(server=HERE, member=AUTHOR, build="Tide Caller")))
    assert found.number == other.number


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "text-empty"),
        ("\n \t", "text-empty"),
        ("x" * 64_001, "text-too-long"),
        ("Build: 7\n1 Bard\n", "name-is-a-number"),
        ("Build: #12\n1 Bard\n", "name-is-a-number"),
    ],
)
async def test_what_cannot_be_loaded(database: Database, text: str, code: str) -> None:
    """One sentence, nothing half-stored."""
    refused(await database.call(load_build, loading(text)), code)
    assert (await all_rows(database, HERE))["builds"] == []


async def test_a_wrong_outline_comes_back_whole(database: Database) -> None:
    """All its errors, and the text under a draft that only its writer can read."""
    text = "Build: Wrong\nSpecies: Halfelf\n1 Rogeu\n3 Rogue\n"
    result = await database.call(load_build, loading(text))
    assert isinstance(result, TextErrors)
    assert {error.line for error in result.errors} >= {2, 3}
    kept = ok(await database.call(get_draft, GetDraft(server=HERE, member=AUTHOR, draft=result.draft)))
    assert (kept.kind, kept.fields) == ("load", {"text": text})
    refused(await database.call(get_draft, GetDraft(server=HERE, member=READER, draft=result.draft)), "draft-gone")
    other = await database.call(load_build, loading("Build: New\nRules: SRD 9\n1 Bard\n"))
    assert isinstance(other, TextErrors)
    assert "SRD 5.1" in other.errors[0].sentence


async def test_editing_a_part(database: Database) -> None:
    """Header, one level, the whole, the next level, the last level away; each a revision with its parent and reason."""
    build = await shared(database)
    view = await edit(database, build, "header", "Build: Reed Warden\nConcept: listens\n", reason="shorter")
    assert (view.build.concept, view.build.species, view.revision.reason) == ("listens", None, "shorter")
    view = await edit(database, build, 7, "7 Ranger (Hunter)")
    assert (view.build.top, view.revision.parent) == (7, 2)
    view = await edit(database, build, 7, "")
    assert view.build.top == 6
    view = await edit(database, build, "whole", "Build: Reed Warden\n1-2 Bard\n")
    assert view.build.order == ("bard", "bard")
    page = ok(await database.call(list_revisions, ListRevisions(server=HERE, member=READER, build=build)))
    assert [(each.number, each.parent) for each in page.items] == [(5, 4), (4, 3), (3, 2), (2, 1), (1, None)]
    first = ok(await database.call(get_build, GetBuild(server=HERE, member=READER, build=build, revision=1)))
    assert (first.build.top, first.latest) == (6, 5)
    listed = await database.call(list_builds, ListBuilds(server=HERE, member=READER))
    assert (listed.items[0].classes, listed.items[0].top) == ({"bard": 2}, 2)


async def test_reading_a_part_gives_back_what_editing_takes(database: Database) -> None:
    """The text of a part put back changes nothing; the level after the last is empty."""
    build = await shared(database)
    for part in ("header", "whole", 1, 4):
        text = ok(await database.call(read_part, ReadPart(server=HERE, member=READER, build=build, part=part)))
        assert (text.build, text.revision, text.part) == (build, 1, part)
        command = EditBuild(server=HERE, member=AUTHOR, build=build, part=part, text=text.text, at=at(1))
        refused(await database.call(edit_build, command), "nothing-changed")
    after = ok(await database.call(read_part, ReadPart(server=HERE, member=READER, build=build, part=7)))
    assert after.text == ""
    for level in (0, 8, 21):
        command_ = ReadPart(server=HERE, member=READER, build=build, part=level)
        refused(await database.call(read_part, command_), "no-such-level")


async def test_an_edit_made_from_an_older_revision_is_joined(database: Database) -> None:
    """Another place: both are in. The same place: refused with where, and nothing is stored."""
    build = await shared(database)
    await edit(database, build, 2, "2 Rogue hp 5")
    view = await edit(database, build, 4, "4 Rogue: +2 Dex", revision=1)
    assert view.build.levels["rogue"][2].hp == 5
    assert view.revision.number == 3
    command = EditBuild(server=HERE, member=AUTHOR, build=build, part=2, text="2 Rogue hp 6", at=at(1), revision=1)
    before = await all_rows(database, HERE)
    assert "level 2 of rogue" in refused(await database.call(edit_build, command), "edit-clashes")
    assert await all_rows(database, HERE) == before


async def test_a_failed_edit_is_kept(database: Database) -> None:
    """With everything that the form had, so that Try again opens it filled."""
    build = await shared(database)
    command = EditBuild(server=HERE, member=AUTHOR, build=build, part=4, text="4 Rogu", at=at(1), reason="why")
    result = await database.call(edit_build, command)
    assert isinstance(result, TextErrors)
    kept = ok(await database.call(get_draft, GetDraft(server=HERE, member=AUTHOR, draft=result.draft)))
    assert kept.fields == {"build": str(build), "part": "4", "text": "4 Rogu", "reason": "why", "revision": "1"}
    far = EditBuild(server=HERE, member=AUTHOR, build=build, part=12, text="12 Rogue", at=at(1))
    refused(await database.call(edit_build, far), "no-such-level")
    empty = EditBuild(server=HERE, member=AUTHOR, build=build, part="header", text=" ", at=at(1))
    refused(await database.call(edit_build, empty), "text-empty")


async def test_two_edits_at_once_are_both_in_or_one_is_refused(database: Database) -> None:
    """No revision is lost: both forms were filled from the first one."""
    build = await shared(database)
    commands = [
        EditBuild(server=HERE, member=AUTHOR, build=build, part=n, text=f"{n} Rogue hp {n + 2}", at=at(1), revision=1)
        for n in (2, 3)
    ]
    results = await asyncio.gather(*(database.call(edit_build, command) for command in commands))
    assert not any(isinstance(result, Refused) for result in results)
    view = ok(await database.call(get_build, GetBuild(server=HERE, member=AUTHOR, build=build)))
    assert view.latest == 3
    assert (view.build.levels["rogue"][2].hp, view.build.levels["rogue"][3].hp) == (4, 5)


async def test_showing_a_build_at_a_level(database: Database) -> None:
    """Its numbers, findings and goals; the last level where none is named."""
    text = REED.replace(
        "Species",
        "Goal: skill.stealth >= 5 at 3\nScores: Str 8, Dex 15, Con 13, Int 10, Wis 14, Cha 12 (point buy)\nSpecies",
    )
    build = await shared(database, text)
    shown = ok(await database.call(show_build, ShowBuild(server=HERE, member=READER, build=build)))
    assert (shown.level, shown.sheet.level) == (6, 6)
    third = ok(await database.call(show_build, ShowBuild(server=HERE, member=READER, build=build, level=3)))
    assert third.sheet.numbers["level.character"].value == 3
    # Dexterity 15 + 1 (half-elf) gives +3, twice the proficiency bonus of +2: 7 (SRD 5.1, Ability Scores; Rogue).
    assert third.sheet.numbers["skill.stealth"].value == 7
    assert third.goals[0].met is True
    # 27 points: 9 + 5 + 2 + 7 + 4 + 0 (SRD 5.2.1, Character Creation).
    assert third.points_left == 0
    for level in (0, 7, 21):
        command = ShowBuild(server=HERE, member=READER, build=build, level=level)
        assert "1 to 6" in refused(await database.call(show_build, command), "no-such-level")
    bare = await shared(database, "Build: Bare\n")
    command = ShowBuild(server=HERE, member=READER, build=bare)
    assert "no levels yet" in refused(await database.call(show_build, command), "no-such-level")
    later = GetBuild(server=HERE, member=READER, build=bare, revision=4)
    refused(await database.call(get_build, later), "no-such-revision")


async def test_listing_by_author_class_and_level(database: Database) -> None:
    """Shared builds and one's own drafts, newest first, ten a page."""
    await load(database, HIDDEN)
    texts = [f"Build: Crew {n}\n" + "".join(f"{level} Bard\n" for level in range(1, n + 1)) for n in range(1, 13)]
    numbers = [await shared(database, text, member=READER) for text in texts]
    reed = await shared(database)

    async def page(member: int = PROPOSER, **more: Any) -> Any:
        return await database.call(list_builds, ListBuilds(server=HERE, member=member, **more))

    first = await page()
    assert [item.number for item in first.items] == [reed, *numbers[:2:-1]]
    assert (first.more, (await page(page=2)).more) == (True, False)
    assert [item.number for item in (await page(class_="ranger")).items] == [reed]
    assert [item.number for item in (await page(level=3)).items] == [numbers[2]]
    assert [item.number for item in (await page(author=AUTHOR)).items] == [reed]
    assert [item.name for item in (await page(member=AUTHOR, author=AUTHOR)).items] == ["Reed Warden", "Sunken Bell"]
    assert (await page(page=-5)).items == first.items
    assert (await page(page=50)).items == ()


async def test_suggesting_builds(database: Database) -> None:
    """By number, by the beginning of the name, then by any part of it; percent signs are plain text."""
    for name in ("Bell Ringer", "Sunken Bell", "100% Gull", "Reed Warden"):
        await shared(database, f"Build: {name}\n1 Bard\n")
    await load(database, "Build: Bell Secret\n1 Bard\n", member=PROPOSER)

    async def names(text: str, **more: Any) -> list[str]:
        command = SuggestBuilds(server=HERE, member=READER, text=text, **more)
        return [each.label for each in await database.call(suggest_builds, command)]

    assert await names("bell") == ["Bell Ringer (#1)", "Sunken Bell (#2)"]
    assert await names("#4") == ["Reed Warden (#4)"]
    assert await names("0%") == ["100% Gull (#3)"]
    assert len(await names("")) == 4
    assert await names("", own=True) == []
    assert await names("%") == ["100% Gull (#3)"]


async def test_history_tells_everything_in_order(database: Database) -> None:
    """Events of the build, newest first, with actor, time and reason."""
    build = await shared(database)
    for n in range(10):
        await edit(database, build, 2, f"2 Rogue hp {n % 2 + 3}", reason=f"turn {n}")
    command = BuildHistory(server=HERE, member=READER, build=build)
    page = ok(await database.call(build_history, command))
    assert [entry.event for entry in page.items] == ["build-revised"] * 10
    assert (page.items[0].reason, page.items[0].data, page.items[0].actor) == ("turn 9", {"revision": 11}, AUTHOR)
    second = ok(await database.call(build_history, BuildHistory(server=HERE, member=READER, build=build, page=2)))
    assert [entry.event for entry in second.items] == ["build-shared", "build-loaded"]
    assert (page.more, second.more) == (True, False)


async def test_comparing(database: Database) -> None:
    """Two builds, two revisions, the last change; one revision alone has nothing to be compared with."""
    build = await shared(database)
    other = await shared(database, "Build: Other\n1-3 Bard\n", member=READER)

    async def compared(**more: Any) -> Any:
        return await database.call(compare_builds, CompareBuilds(server=HERE, member=READER, build=build, **more))

    refused(await compared(), "nothing-to-compare")
    await edit(database, build, 4, "4 Rogue: +2 Dex")
    last = ok(await compared())
    assert (last.before.revision.number, last.after.revision.number) == (1, 2)
    assert [change.path for change in last.difference.choices] == ["/levels/rogue/4"]
    same = ok(await compared(revision=2, other_revision=2))
    assert same.difference.empty
    both = ok(await compared(other="other", level=2))
    assert (both.before.number, both.after.number, both.level) == (build, other, 2)
    refused(await compared(other=other, level=5), "no-such-level")
    refused(await compared(revision=9), "no-such-revision")
    refused(await compared(other="Nobody"), "no-such-build")


async def test_what_is_open_and_what_could_be_changed(database: Database) -> None:
    """Choices at a level or the next one; items of a line; legal additions, filtered by what was typed."""
    build = await shared(database)
    level = ok(await database.call(see_open_choices, SeeOpenChoices(server=HERE, member=READER, build=build, level=5)))
    assert {choice.keyword for choice in level.choices} == {"enemy", "skill", "terrain"}
    after = ok(await database.call(see_open_choices, SeeOpenChoices(server=HERE, member=READER, build=build)))
    assert after.level == 7
    command = SeeOpenChoices(server=HERE, member=READER, build=build, level=9)
    refused(await database.call(see_open_choices, command), "no-such-level")

    async def suggested(at_level: int, text: str = "", adding: bool = False) -> list[str]:
        query = SuggestChanges(server=HERE, member=READER, build=build, level=at_level, text=text, adding=adding)
        found: list[str] = await database.call(suggest_changes, query)
        return found

    assert await suggested(3) == ["subclass Thief"]
    assert await suggested(4) == ["+1 Dex", "+1 Wis"]
    assert "subclass Thief" in await suggested(3, adding=True)
    assert await suggested(4, "+2 d", adding=True) == ["+2 Dex"]
    assert await suggested(5, "swamp", adding=True) == ["terrain Swamp"]
    assert await suggested(6, "archery", adding=True) == ["style Archery"]
    assert await suggested(9) == []
