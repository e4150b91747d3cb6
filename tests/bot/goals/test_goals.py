"""`/goal`: added, listed, taken off; what cannot be read is told to its author alone."""

from tests.bot.conftest import Moot


async def test_a_goal_is_added_and_stands_on_the_card_with_margin_and_nearest_miss(moot: Moot) -> None:
    await moot.warden()
    added = await moot.say("tiva", "goal add", build="Reed Warden", goal="hp.max >= 60 at 8")
    text = moot.read(added)
    assert "Added: hp.max >= 60 at 8." in text.replace("\\", "")
    assert "Goals of Reed Warden · #1 · revision 2" in text
    # 56 hit points at level 8: the figure of the cards page.
    assert "Not met, 4 short, nearest: 56 at level 8, 4 short: hit points at least 60 at level 8" in text
    assert "Met, from level 8, 0 to spare: passive Perception at least 20 at level 8" in text
    listed = moot.read(await moot.say("oskar", "goal list", build="#1"))
    assert "1 of 2 measurable goals met" in listed


async def test_a_goal_is_taken_off_by_its_place(moot: Moot) -> None:
    await moot.warden()
    gone = moot.read(await moot.say("tiva", "goal remove", build="Reed Warden", place=1))
    assert "Taken off: skill.perception.passive" in gone
    assert "No measurable goal yet" in gone
    again = await moot.say("tiva", "goal remove", build="Reed Warden", place=1)
    assert again.ephemeral
    assert "has no goals; 1 is none of them" in moot.read(again)


async def test_what_is_no_goal_is_refused_and_nothing_is_stored(moot: Moot) -> None:
    await moot.warden()
    for goal, words in (
        ("skill.steath >= 5 at 3", "no skill that a loaded folio knows"),
        ("stealth at least 5", "this is no goal"),
        ("knows Firebal by 5", "Fireball"),
        ("skill.perception.passive >= 20 at 8", "has this goal already"),
    ):
        refused = await moot.say("tiva", "goal add", build="Reed Warden", goal=goal)
        assert refused.ephemeral
        assert words in moot.read(refused).replace("\\", ""), goal
    assert "revision 1" in moot.read(await moot.say("tiva", "goal list", build="Reed Warden"))


async def test_a_goal_on_a_number_that_the_build_never_has_is_kept_with_a_warning(moot: Moot) -> None:
    await moot.warden()
    added = moot.read(await moot.say("tiva", "goal add", build="Reed Warden", goal="attack.rapir.to_hit >= 5 at 3"))
    assert "has no number" in added
    assert "attack.rapier.to_hit" in added.replace("\\", "")


async def test_goals_of_an_unfinished_build_are_marked_as_partial(moot: Moot) -> None:
    outline = b"Build: Half Done\nGoal: hp.max >= 30 by 3\n1-3 Rogue\n"
    await moot.say("tiva", "build load", file=("x.txt", outline))
    listed = moot.read(await moot.say("tiva", "goal list", build="Half Done"))
    assert "Partial: the build is not finished and counts as it stands; still to choose: scores, race," in listed
    await moot.warden()
    assert "Partial" not in moot.read(await moot.say("tiva", "goal list", build="Reed Warden"))


async def test_others_cannot_set_goals(moot: Moot) -> None:
    await moot.warden()
    refused = await moot.say("oskar", "goal add", build="Reed Warden", goal="hp.max >= 60 at 8")
    assert refused.ephemeral
    assert "Only the author" in moot.read(refused)
