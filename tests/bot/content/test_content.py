"""Folios through the real bot: added, checked, listed, switched, moved to; by members with and without rights."""

import io
import zipfile
from typing import Any

import discord
import pytest
from simcord.results import InteractionResult

from tests.bot.conftest import DATA, Moot
from tests.bot.platform import complaints
from tests.bot.table.test_approvals import newest
from tests.bot.table.test_tables import marsh, said
from tests.bot.test_main_job import rows

TIDES = """id: tide-guild
title: Tide Guild
version: "1"
licence: ours, for our own tables
attribution: written by the guild
author: Maren of the Lantern Coast
extends: srd-5.1
feats:
  - id: sea-legs
    name: Sea Legs
    grants:
      - {kind: hit-points, amount: 1, times: each-level}
      - {kind: initiative-bonus, amount: 2}
"""
SECOND = TIDES.replace('version: "1"', 'version: "2"').replace("amount: 1, times", "amount: 3, times")
KEEPER = """Build: Mole Keeper
Rules: SRD 5.1
Folios: Tide Guild
Scores: Str 15, Dex 12, Con 14, Int 8, Wis 13, Cha 10 (standard array)
Species: Hill Dwarf
1 Fighter: skills Athletics, Perception; style Defense
2-3 Fighter
4 Fighter: feat Sea Legs
"""


async def added(moot: Moot, text: str = TIDES, who: str = "maren", name: str = "tides.yaml") -> InteractionResult:
    return await moot.say(who, "content add", file=(name, text.encode()))


def posted(result: InteractionResult) -> list[discord.Message]:
    """Return the messages of an answer that everybody sees."""
    return [m.message for m in result.followups if not m.message.flags.ephemeral]


async def hit_points(moot: Moot) -> str:
    """Return the line of the keeper's card at level 4 that begins with the hit points."""
    text = moot.read(await moot.say("tiva", "build show", build="Mole Keeper", level=4))
    return next(line for line in text.splitlines() if line.startswith("Hit points"))


async def test_from_the_folio_to_a_moved_build(moot: Moot) -> None:
    """Hit points at fighter 4, Constitution 16 with the dwarf's 2: 10 + 3 x 6 + 4 x 3 + 4 (Hill Dwarf) = 44.

    The feat counts each level: 1 for each of four in version 1, 3 for each in version 2.
    """
    first = await added(moot)
    assert first.ephemeral
    assert posted(first) == []  # no build uses it yet
    text = moot.read(first)
    assert "Tide Guild · version 1" in text
    assert "Version 1 is added and in use." in text
    assert "On for the whole server" in text
    assert "by Maren of the Lantern Coast · licence: ours, for our own tables" in text
    assert "Holds 1 feat" in text
    assert "Upload only what you may share, and facts in your own words" in text
    await moot.warden("tiva", KEEPER)
    assert await hit_points(moot) == "Hit points 48 · Armor class 11 · Initiative +3 · Speed 25"
    shown = moot.read(await moot.say("oskar", "build show", build="Mole Keeper"))
    assert "SRD 5.1 with Tide Guild 1 · by @tiva · revision 1" in shown

    second = await added(moot, SECOND)
    assert "1 build uses another version and keeps it until moved." in moot.read(second)
    (card,) = posted(second)
    assert "1 build uses another version and stays with it until its author moves it." in moot.text(card)
    assert "#1 Mole Keeper by @tiva, with version 1" in moot.text(card)
    assert "hit points 48 → 56" in moot.text(card)
    assert moot.buttons(card) == ["Move #1"]
    assert (await hit_points(moot)).startswith("Hit points 48")

    await moot.restart()
    refused = await moot.press("oskar", card, "Move #1")
    assert "Only" in said(moot, refused)
    assert (await hit_points(moot)).startswith("Hit points 48")
    moved = await moot.press("tiva", card, "Move #1")
    assert "Mole Keeper uses version 2 now, as revision 2." in said(moot, moved)
    assert "No build is concerned" in moot.text(card)
    assert moot.buttons(card) == []
    assert (await hit_points(moot)).startswith("Hit points 56")
    again = moot.read(await moot.say("sela", "content show", folio="tide-guild"))
    assert "Version 2, in use" in again
    assert "used by #1 Mole Keeper" in again
    assert complaints(moot.env.http_requests) == []


async def test_a_lowest_roll_that_changes_alone_is_told(moot: Moot) -> None:
    """Athletics +4 (Strength 15, proficiency bonus 2): a 7 or lower counts as 8, in the second version as 10."""
    floors = TIDES.partition("      - {kind")[0] + "      - {kind: lowest-d20, at_least: 8, checks: [athletics]}\n"
    await added(moot, floors)
    await moot.warden("tiva", KEEPER)
    (card,) = posted(await added(moot, floors.replace('"1"', '"2"').replace("8,", "10,")))
    assert "Better level 4: lowest Athletics total 12 → 14" in moot.text(card)


async def test_a_draft_is_told_to_its_author_alone(moot: Moot) -> None:
    await added(moot)
    await moot.warden("tiva", KEEPER, shared=False)
    second = await added(moot, SECOND)
    assert "1 build uses another version" in moot.read(second)
    assert posted(second) == []
    assert "Mole Keeper" not in moot.read(second)
    assert "No build is concerned" in moot.read(await moot.say("oskar", "content builds", folio="Tide Guild"))
    own = await moot.say("tiva", "content builds", folio="Tide Guild")
    assert own.ephemeral
    assert "hit points 48 → 56" in moot.read(own)
    await moot.press("tiva", moot.messages(own)[0], "Move #1")
    assert "No build is concerned" in moot.read(own)
    assert (await hit_points(moot)).startswith("Hit points 56")


async def test_an_approved_build_is_moved_by_a_proposal(moot: Moot) -> None:
    await marsh(moot, level=4)
    await added(moot)
    await moot.warden("tiva", KEEPER)
    await moot.say("tiva", "table join")
    await moot.say("tiva", "table submit", build="Mole Keeper")
    await moot.press("maren", newest(moot), "Approve")
    assert rows(moot, "select count(*) from approvals") == [(1,)]
    (card,) = posted(await added(moot, SECOND))
    moved = await moot.press("tiva", card, "Move #2")
    assert "approved for play, so proposal #4 asks for it" in said(moot, moved)
    proposal = moot.last()
    assert "Tide Guild 2 instead of 1" in moot.text(proposal)
    assert "hit points 48 → 56" in moot.text(proposal)
    assert (await hit_points(moot)).startswith("Hit points 48")
    twice = await moot.press("tiva", card, "Move #2")
    assert "Proposal #4 asks for just that" in said(moot, twice)


async def test_all_errors_come_at_once(moot: Moot) -> None:
    bad = TIDES.replace("each-level", "every-level").replace("licence:", "license:").replace("hit-points", "hit-point")
    result = await added(moot, bad)
    text = moot.read(result)
    assert result.ephemeral
    assert "things to mend in tides.yaml" in text
    assert "tides.yaml:4: `license` is no key that is known here; nearest known keys: licence" in text
    assert "`hit-point` is no kind of grant; nearest: hit-points" in text
    assert rows(moot, "select count(*) from folios") == [(0,)]
    feats = "".join(f"  - {{id: f{n}, name: F, grants: [{{kind: armor-bonus, amount: wiz}}]}}\n" for n in range(20))
    many = await added(moot, TIDES.partition("feats:")[0] + "feats:\n" + feats)
    assert "20 things to mend" in moot.read(many)
    assert "and 12 more; the file below has them all" in moot.read(many)
    (message,) = moot.messages(many)
    assert (await message.attachments[0].read()).decode().count("`wiz` is no word of formulas") == 20


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("x.yaml", b"\xff\xfe", "no UTF-8 text"),
        ("x.yaml", b"", "the file is empty"),
        ("x.zip", b"PK\x03\x04 and nothing", "cannot be unpacked"),
        ("x.yaml", b"a: &a [x]\nb: !python [*a]", "YAML tag"),
        ("x.yaml", b"#" * 3_000_000, "a folio may have 2 MB"),
    ],
)
async def test_what_is_no_folio_at_all(moot: Moot, name: str, data: bytes, words: str) -> None:
    for command in ("content add", "content check"):
        result = await moot.say("maren", command, file=(name, data))
        assert result.ephemeral
        assert words in said(moot, result)
    assert rows(moot, "select count(*) from folios") == [(0,)]


async def test_who_may_add_is_a_setting(moot: Moot) -> None:
    refused = await added(moot, who="oskar")
    assert refused.ephemeral
    assert "manage" in said(moot, refused)
    assert rows(moot, "select count(*) from folios") == [(0,)]
    assert "whoever manages the server" in moot.read(await moot.say("oskar", "content rights"))
    assert "Only" in said(moot, await moot.say("oskar", "content rights", everybody=True))
    role = moot.guild.create_role("Archivists")
    two = await moot.say("maren", "content rights", role=role, everybody=True)
    assert "one of the three" in said(moot, two)
    assert f"<@&{role.id}>" in moot.read(await moot.say("maren", "content rights", role=role))
    assert "manage" in said(moot, await added(moot, who="oskar"))
    assert "everybody" in moot.read(await moot.say("maren", "content rights", everybody=True))
    assert "Version 1 is added" in moot.read(await added(moot, who="oskar"))
    # Everybody may add, and change what they have added themselves.
    assert "Only" in said(moot, await moot.say("sela", "content remove", folio="Tide Guild"))
    assert "It is taken away" in moot.read(await moot.say("oskar", "content remove", folio="Tide Guild"))
    assert "whoever manages" in moot.read(await moot.say("maren", "content rights", managers=True))


async def test_a_role_may_look_after_the_folios(moot: Moot) -> None:
    """Whoever holds it when the command comes may add, switch and take away, also what others have added."""
    role = moot.guild.create_role("Archivists")
    moot.people["bo"] = moot.guild.add_member(moot.env.create_user("bo"), roles=[role])
    assert "manage" in said(moot, await added(moot, who="bo"))
    await moot.say("maren", "content rights", role=role)
    await moot.restart()
    assert "Version 1 is added" in moot.read(await added(moot, who="bo"))
    assert "Version 2 is added" in moot.read(await added(moot, SECOND))
    assert "That version is in use now." in moot.read(
        await moot.say("bo", "content version", folio="Tide Guild", version="1")
    )
    assert "It is switched off" in moot.read(await moot.say("bo", "content off", folio="Tide Guild"))
    assert "Only" in said(moot, await moot.say("oskar", "content on", folio="Tide Guild"))
    assert "It is taken away" in moot.read(await moot.say("bo", "content remove", folio="Tide Guild"))


async def test_taken_away_and_brought_back(moot: Moot) -> None:
    await added(moot)
    await moot.warden("tiva", KEEPER)
    live = moot.last()
    assert "Hit points 48" in moot.text(live)
    gone = await moot.say("maren", "content remove", folio="Tide Guild")
    (card,) = posted(gone)
    assert "1 build uses this folio; it changes like this without it." in moot.text(card)
    assert "hit points 48 → 44" in moot.text(card)
    assert moot.buttons(card) == []
    assert (await hit_points(moot)).startswith("Hit points 44")
    assert "Hit points 44" in moot.text(live)
    findings = moot.read(await moot.say("tiva", "build audit", build="Mole Keeper"))
    assert "No folio of this build gives the feat sea-legs" in findings.replace("`", "").replace("\\", "")
    assert "None yet" in moot.read(await moot.say("sela", "content list"))
    assert "Tide Guild" in moot.read(await moot.say("sela", "content list", removed=True))
    assert "There is no folio" in said(moot, await moot.say("maren", "content back", folio="Ebb Guild"))
    await moot.restart()
    back = await moot.say("maren", "content back", folio="Tide Guild")
    assert "It is back." in moot.read(back)
    assert "Hit points 48" in moot.text(live)
    assert (await hit_points(moot)).startswith("Hit points 48")


async def test_another_server_has_none_of_it(moot: Moot) -> None:
    await added(moot)
    other = moot.env.create_guild("Saltmarsh Ferrymen")
    channel = other.create_text_channel("ferry")
    ferryman = other.add_member(moot.env.create_user("bo"))
    assert "None yet" in moot.read(await ferryman.slash(channel, "content list"))
    assert "There is no folio" in said(moot, await ferryman.slash(channel, "content show", folio="tide-guild"))
    assert "There is no folio" in said(moot, await ferryman.slash(channel, "content export", folio="tide-guild"))
    loaded = await ferryman.slash(channel, "build load", file=("k.txt", KEEPER.encode()))
    assert "is not loaded here" in said(moot, loaded).replace("\\", "")
    assert await ferryman.autocomplete(channel, "content show", "folio", "tide") == []
    here = await moot.people["sela"].autocomplete(moot.channel, "content show", "folio", "tide")
    assert here == [{"name": "Tide Guild 1 (tide-guild)", "value": "tide-guild"}]


async def test_switched_off_and_on_for_a_table(moot: Moot) -> None:
    await marsh(moot)
    await added(moot)
    off = await moot.say("maren", "content off", folio="Tide Guild")
    assert "It is switched off. Off; `/content on` switches it on." in moot.read(off).replace("\\", "")
    loaded = await moot.say("tiva", "build load", file=("k.txt", KEEPER.encode()))
    assert "is not loaded here" in said(moot, loaded)
    assert "Only" in said(moot, await moot.say("tiva", "content on", folio="Tide Guild", table="Marsh Table"))
    table = await moot.say("maren", "content on", folio="Tide Guild", table="Marsh Table")
    assert "On for Marsh Table only" in moot.read(table)
    assert await moot.warden("tiva", KEEPER) == "Mole Keeper"
    assert "nothing was changed" in said(moot, await moot.say("maren", "content off", folio="Tide Guild"))
    assert "On for the whole server" in moot.read(await moot.say("maren", "content on", folio="Tide Guild"))


async def test_the_version_before_is_put_in_use_again(moot: Moot) -> None:
    await added(moot)
    await added(moot, SECOND)
    await moot.warden("tiva", KEEPER)
    assert (await hit_points(moot)).startswith("Hit points 56")
    offered = await moot.people["maren"].autocomplete(
        moot.channel, "content version", "version", "", folio="tide-guild"
    )
    assert [choice["value"] for choice in offered] == ["2", "1"]
    back = await moot.say("maren", "content version", folio="Tide Guild", version="1")
    (card,) = posted(back)
    assert "hit points 56 → 48" in moot.text(card)
    assert "no version" in said(moot, await moot.say("maren", "content version", folio="Tide Guild", version="9"))


async def file_of(moot: Moot, result: InteractionResult) -> tuple[str, bytes]:
    (message,) = moot.messages(result)
    (attachment,) = message.attachments
    return attachment.filename, await attachment.read()


async def test_handed_out_as_it_came(moot: Moot) -> None:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        for path in sorted((DATA / "folios" / "coast-pilots").rglob("*.yaml")):
            archive.write(path, path.relative_to(DATA / "folios").as_posix())
    result = await moot.say("maren", "content add", file=("pilots.zip", made.getvalue()))
    assert "Coast Pilots · version 1" in moot.read(result)
    assert "1 class, 1 subclass, 1 choice list, 2 spells, 2 states" in moot.read(result)
    await moot.restart()
    handed = await moot.say("sela", "content export", folio="Coast Pilots")
    assert handed.ephemeral
    assert await file_of(moot, handed) == ("pilots.zip", made.getvalue())


async def test_a_dry_run_and_the_template(moot: Moot) -> None:
    """Anybody may look whether a folio is in order; the template is, as it is handed out."""
    given = await moot.say("oskar", "content template")
    assert given.ephemeral
    assert "Upload only what you may share" in said(moot, given)
    name, data = await file_of(moot, given)
    found = await moot.say("oskar", "content check", file=(name, data))
    assert "My Folio · version 1 is in order" in moot.read(found)
    assert "Nothing was stored" in moot.read(found)
    assert rows(moot, "select count(*) from folios") == [(0,)]
    assert complaints(moot.env.http_requests) == []


async def test_reading_folios_has_a_pace(moot: Moot) -> None:
    """Six readings a minute and member: a large one is seconds of work, and anybody may send it."""
    for _ in range(6):
        assert "thing to mend" in said(moot, await moot.say("oskar", "content check", file=("x.yaml", b"1")))
    refused = await moot.say("oskar", "content check", file=("x.yaml", b"1"))
    assert refused.ephemeral
    assert "A member can have 6 folios read a minute; try again in 60 seconds." in said(moot, refused)
    assert "thing to mend" in said(moot, await moot.say("sela", "content check", file=("x.yaml", b"1")))


HOSTILE = TIDES.replace("title: Tide Guild", "title: '**Tides** <@1> `x` [a](https://example.com)'").replace(
    "author: Maren of the Lantern Coast", "author: '@everyone # _who_'"
)


async def test_names_are_shown_as_text(moot: Moot) -> None:
    """Nothing that a folio says of itself is markup, a link or a mention, in cards and refusals alike."""
    results: list[Any] = [await added(moot, HOSTILE), await added(moot, HOSTILE)]
    results.append(await moot.say("sela", "content list"))
    results.append(await moot.say("sela", "content show", folio="tide-guild"))
    results.append(await moot.say("oskar", "content check", file=("*x*.yaml", HOSTILE.encode())))
    results.append(await moot.say("maren", "content off", folio="tide-guild"))
    results.append(await moot.say("maren", "content off", folio="tide-guild"))
    raw = [r.json for r in moot.env.http_requests if isinstance(r.json, dict)]
    shown = [text for body in raw for text in texts(body) if "Tides" in text]
    assert len(shown) >= len(results) - 1
    for text in shown:
        assert "**Tides**" not in text.replace("Folios: **Tides**", "")
        assert "<@1>" not in text.replace("`Folios: **Tides** <@1> 'x' [a](https://example.com)`", "")
        assert "@everyone" not in text


def texts(body: Any) -> list[str]:
    """Return every text that a request would show."""
    if isinstance(body, list):
        return [text for each in body for text in texts(each)]
    if not isinstance(body, dict):
        return []
    own = [body[key] for key in ("content",) if isinstance(body.get(key), str)]
    return own + [text for value in body.values() for text in texts(value)]


RAW = "**Sea** <@1> @everyone [x](https://example.com) `y`"
NAMED = (
    TIDES.replace("name: Sea Legs", f"name: '{RAW}'")
    + f"""\
      - {{kind: pool, id: tides, name: '{RAW}', uses: 3, restored: long-rest}}
      - {{kind: note, text: '{RAW}'}}
      - {{kind: choice, keyword: skill, count: 1, label: '{RAW}'}}
      - {{kind: natural-weapon, id: bite, name: '{RAW}', die: 1d4, damage: cold}}
spells:
  - id: tide-word
    name: '{RAW}'
    level: 0
    school: evocation
    casting_time: '{RAW}'
    range: self
    duration: instantaneous
    classes: [wizard]
states:
  - id: high-tide
    name: '{RAW}'
    summary: '{RAW}'
    grants: [{{kind: armor-bonus, amount: 1}}]
"""
)


async def test_names_of_content_are_text_on_every_card(moot: Moot) -> None:
    """A build full of names that look like markup, read in every way there is; outlines and files keep them as is."""
    await added(moot, NAMED)
    build = KEEPER.replace("feat Sea Legs", f'feat "{RAW}" (skill Arcana)') + f'5 Wizard: cantrip "{RAW}"\n'
    await moot.warden("tiva", build)
    edited = build.replace("4 Fighter: feat", "4 Fighter: +2 Con\n# feat")
    reads = [
        await moot.say("oskar", "build show", build="#1", level=5),
        await moot.say("oskar", "build show", build="#1", level=5, **{"while": "high-tide"}),
        await moot.say("oskar", "build why", build="#1", level=5, number="hp.max"),
        await moot.say("oskar", "build audit", build="#1"),
        await moot.say("oskar", "build next", build="#1", level=5),
        await moot.say("oskar", "rules find", name=RAW, kind="spell"),
        await moot.say("oskar", "propose text", build="#1", file=("b.txt", edited.encode()), reason="Sounder."),
        await moot.say("maren", "content remove", folio="tide-guild"),
    ]
    assert "Mole Keeper · #1 · level 5" in moot.read(reads[0])
    assert "Nobody has seen it yet" in moot.read(reads[6])
    assert all(moot.read(result) for result in reads)
    bodies = [r.json for r in moot.env.http_requests if isinstance(r.json, dict)]
    shown = [text for body in bodies for text in texts(body) if "Sea" in text]
    assert len(shown) >= 6
    for text in shown:
        assert "**Sea**" not in text
        assert "<@1>" not in text
        assert "@everyone" not in text
        assert "](https://" not in text
