"""`/build audit` driven through the simulator: findings folded by level, and mended at a press."""

from tests.bot.conftest import WARDEN, Moot
from tests.bot.test_main_job import rows

# A subclass too early, an increase where none is given, an attunement that no rapier takes.
FAULTY = (
    WARDEN.replace("2 Rogue\n3 Rogue (Thief)", "2 Rogue (Thief): +1 Dex\n3 Rogue")
    .replace("Rapier", "Rapier (attuned)")
    .replace("Goal: skill.perception.passive >= 20 at 8\n", "")
)
BARE = "Build: Bare Mast\n1-20 Wizard\n"


async def test_an_author_mends_a_finding_at_a_press(moot: Moot) -> None:
    await moot.warden(text=FAULTY)
    result = await moot.say("oskar", "build audit", build="#1")
    assert not result.ephemeral
    (message,) = moot.messages(result)
    text = moot.text(message)
    assert "Breaks the rules (3)" in text
    assert "Rapier takes no attunement" in text
    assert "(mend 1)" in text
    assert moot.buttons(message) == ["Mend 1", "Mend 2", "Mend 3"]
    await moot.restart()
    pressed = await moot.press("tiva", message, "Mend 1")
    assert "Rapier takes no attunement" not in moot.text(message)
    assert "Breaks the rules (2)" in moot.text(message)
    assert moot.buttons(message) == ["Mend 1", "Mend 2"]
    assert "is at revision 2 now" in " ".join(m.content for m in moot.messages(pressed))
    await moot.press("tiva", message, "Mend 1")
    await moot.press("tiva", message, "Mend 1")
    assert "No rule broken" in moot.text(message)
    assert moot.buttons(message) == []
    reasons = [reason for (reason,) in rows(moot, "select reason from revisions where build = 1 order by number")]
    assert len(reasons) == 4
    assert all(reason.startswith("mended: ") for reason in reasons[1:])
    outline = await moot.say("tiva", "build outline", build="#1")
    mended = (await moot.messages(outline)[0].attachments[0].read()).decode()
    assert "3 Rogue (Thief)" in mended
    assert "attuned" not in mended


async def test_anybody_else_proposes_the_mending(moot: Moot) -> None:
    await moot.warden(text=FAULTY)
    (message,) = moot.messages(await moot.say("oskar", "build audit", build="#1"))
    preview = await moot.press("oskar", message, "Mend 1")
    assert preview.ephemeral
    text = moot.read(preview)
    assert "Nobody has seen it yet" in text
    assert "Finding gone" in text
    assert rows(moot, "select count(*) from revisions") == [(1,)]
    await moot.press("oskar", moot.messages(preview)[0], "Post")
    card = moot.last()
    assert "Mends a finding: " in moot.text(card)
    await moot.press("tiva", card, "Adopt")
    assert rows(moot, "select count(*) from revisions") == [(2,)]
    audit = moot.read(await moot.say("oskar", "build audit", build="#1"))
    assert "Breaks the rules (2)" in audit


async def test_a_finding_that_is_gone_is_not_mended_twice(moot: Moot) -> None:
    await moot.warden(text=FAULTY)
    (first,) = moot.messages(await moot.say("tiva", "build audit", build="#1"))
    (second,) = moot.messages(await moot.say("tiva", "build audit", build="#1"))
    await moot.press("tiva", first, "Mend 1")
    late = await moot.press("tiva", second, "Mend 1")
    assert "is there no more" in " ".join(m.content for m in moot.messages(late))
    assert rows(moot, "select count(*) from revisions") == [(2,)]


async def test_many_findings_are_folded_by_level(moot: Moot) -> None:
    """A wizard without any choice: SRD 5.1, Classes, Wizard asks for something at every level but the 17th's kind."""
    await moot.warden(text=BARE)
    lines = moot.read(await moot.say("oskar", "build audit", build="#1")).splitlines()
    few = "fewer spells put into the spellbook than the class gives: Spellcasting"
    assert "Unfinished (35)" in lines
    assert f"Level 3: {few}" in lines
    assert f"Levels 5 to 7: {few}" in lines
    assert any(line.startswith("Header: ") and "no ability scores" in line for line in lines)
    assert "1: Level 2: subclass School of Evocation added" in lines
    assert any("(mend 1)" in line and line.startswith("Level 2: ") for line in lines)
    assert not any(line.startswith("and ") and line.endswith(" more") for line in lines)
    full = moot.read(await moot.say("oskar", "build audit", build="#1", level=4))
    assert "Unfinished (3)" in full
    assert "Ability Score Improvement gives +2 to one score" in full
    assert "SRD 5.1, Classes, Wizard, Ability Score Improvement" in full
    assert "Level 5" not in full
    empty = moot.read(await moot.say("oskar", "build audit", build="#1", level=20))
    assert "1: Level 2" in empty


async def test_a_draft_is_audited_for_its_author_alone(moot: Moot) -> None:
    await moot.warden(text=FAULTY, shared=False)
    mine = await moot.say("tiva", "build audit", build="#1")
    assert mine.ephemeral
    theirs = await moot.say("oskar", "build audit", build="#1")
    assert theirs.ephemeral
    assert "There is no build #1" in moot.read(theirs)
    await moot.press("tiva", moot.messages(mine)[0], "Mend 1")
    assert rows(moot, "select count(*) from revisions") == [(2,)]
