"""Witnessed rolls: stored as they fell, cited by outlines, held to their build, shown as seconds."""

from collections import Counter

import pytest

from engine.odds import parse
from engine.services import rolls
from engine.services.builds import (
    BuildHistory,
    EditBuild,
    LoadBuild,
    RemoveBuild,
    ShowBuild,
    build_history,
    edit_build,
    load_build,
    remove_build,
    show_build,
)
from engine.services.rolls import (
    ListRolls,
    RollDice,
    RollHp,
    RollScores,
    RollView,
    ShowRoll,
    list_rolls,
    roll_dice,
    roll_hp,
    roll_scores,
    show_roll,
)
from tests.engine.services.world import AUTHOR, ELSEWHERE, HERE, READER, World, at, ok, refused

ABILITIES = ("Str", "Dex", "Con", "Int", "Wis", "Cha")


async def six(world: World, *, member: int = AUTHOR, purpose: str = "") -> RollView:
    return ok(await world.call(roll_scores, RollScores(server=HERE, member=member, at=at(1), purpose=purpose)))


def scored(name: str, values: tuple[int, ...], number: int) -> str:
    """Return the outline of a build whose scores are those of a roll, in another order."""
    scores = ", ".join(f"{a} {v}" for a, v in zip(ABILITIES, reversed(values), strict=True))
    return f"Build: {name}\nScores: {scores} (rolled #{number})\nSpecies: Human\n1-2 Fighter\n"


async def codes(world: World, build: object) -> set[str]:
    """Return the codes of the findings about rolls of a build."""
    shown = ok(await world.call(show_build, ShowBuild(server=HERE, member=AUTHOR, build=build)))
    return {f.code for f in shown.findings if f.code.startswith("roll-")}


async def load(world: World, text: str, member: int = AUTHOR):
    return await world.call(load_build, LoadBuild(server=HERE, member=member, text=text, at=at(2)))


async def test_six_scores_are_stored_with_every_face(world: World) -> None:
    before = ok(await world.call(roll_dice, RollDice(server=HERE, member=READER, dice="1d6", at=at(0))))
    view = await six(world, purpose="  for   the Gull ")
    assert view.number == before.number + 1  # the next of the server's one counter
    assert (view.kind, view.member, view.at, view.purpose) == ("scores", AUTHOR, at(1), "for the Gull")
    assert len(view.values) == 6
    for result in view.results:
        [term] = result.terms
        faces = [die.face for die in term.faces]
        assert len(faces) == 4
        assert result.total == sum(faces) - min(faces)  # four dice, the lowest dropped: common practice, no source
        assert sum(die.counts for die in term.faces) == 3
    looked_up = ok(await world.call(show_roll, ShowRoll(server=HERE, member=READER, roll=f"#{view.number}")))
    assert looked_up == view


async def test_a_second_roll_for_the_same_purpose_says_so(world: World) -> None:
    first = await six(world, purpose="The Gulls")
    assert first.earlier == ()
    second = await six(world, purpose="the gull")  # folded: the same purpose
    assert second.earlier == (first.number,)
    assert (await six(world, purpose="another")).earlier == ()
    assert (await six(world, member=READER, purpose="the gull")).earlier == ()
    assert (await six(world, purpose="the gull")).earlier == (first.number, second.number)


async def test_the_audit_holds_scores_to_the_roll_they_cite(world: World) -> None:
    roll = await six(world)
    good = ok(await load(world, scored("Gull", roll.values, roll.number)))
    assert await codes(world, good.number) == set()
    wrong = list(roll.values)
    wrong[0] = 3 if wrong[0] != 3 else 4
    other = await six(world)
    bad = ok(await load(world, scored("Tern", tuple(wrong), other.number)))
    assert await codes(world, bad.number) == {"roll-differs"} or sorted(wrong) == sorted(other.values)
    none = ok(await load(world, scored("Auk", roll.values, 9999)))
    assert await codes(world, none.number) == {"roll-not-witnessed"}


async def test_one_score_roll_serves_one_living_build(world: World) -> None:
    roll = await six(world)
    first = ok(await load(world, scored("Gull", roll.values, roll.number)))
    sentence = refused(await load(world, scored("Tern", roll.values, roll.number)), "roll-in-use")
    assert "another build" in sentence  # the first is a draft, whose name is nobody's business
    assert "Gull" not in sentence
    spare = ok(await load(world, scored("Tern", roll.values, 9999)))
    edit = EditBuild(
        server=HERE, member=AUTHOR, build=spare.number, part="whole", text=scored("Tern", roll.values, roll.number),
        at=at(3),
    )  # fmt: skip
    refused(await world.call(edit_build, edit), "roll-in-use")
    # Its builder takes other scores: the roll is free again.
    free = EditBuild(
        server=HERE, member=AUTHOR, build=first.number, part="whole", text=scored("Gull", roll.values, 9998), at=at(4)
    )
    ok(await world.call(edit_build, free))
    ok(await world.call(edit_build, edit))
    assert await codes(world, spare.number) == set()
    # A removed build is no living one.
    ok(await world.call(remove_build, RemoveBuild(server=HERE, member=AUTHOR, build=spare.number, at=at(5))))
    third = ok(await load(world, scored("Auk", roll.values, roll.number)))
    assert await codes(world, third.number) == set()


async def test_hit_points_cite_the_roll_of_their_own_level(world: World) -> None:
    roll = ok(await world.call(roll_hp, RollHp(server=HERE, member=AUTHOR, build=world.build, level=3, at=at(1))))
    assert (roll.kind, roll.level, roll.dice, roll.purpose) == ("hp", 3, "1d8", "Rogue")  # SRD 5.1, Rogue, Hit Dice
    assert 1 <= roll.values[0] <= 8
    value = roll.values[0]

    async def cite(level: int, text: str) -> set[str]:
        command = EditBuild(server=HERE, member=AUTHOR, build=world.build, part=level, text=text, at=at(2))
        ok(await world.call(edit_build, command))
        return await codes(world, world.build)

    await cite(2, "2 Rogue")
    assert await cite(3, f"3 Rogue (Thief) hp {value} #{roll.number}") == set()
    assert await cite(3, f"3 Rogue (Thief) hp {value % 8 + 1} #{roll.number}") == {"roll-differs"}
    await cite(3, "3 Rogue (Thief)")
    assert await cite(4, f"4 Rogue hp {value} #{roll.number}: +1 Dex, +1 Wis") == {"roll-differs"}


async def test_a_second_roll_for_a_level_says_so_and_stands_in_the_history(world: World) -> None:
    command = RollHp(server=HERE, member=AUTHOR, build=world.build, level=2, at=at(1))
    first = ok(await world.call(roll_hp, command))
    second = ok(await world.call(roll_hp, command))
    assert (first.earlier, second.earlier) == ((), (first.number,))
    page = ok(await world.call(build_history, BuildHistory(server=HERE, member=READER, build=world.build)))
    assert [e.event for e in page.items[:2]] == ["hit-points-rolled"] * 2


@pytest.mark.parametrize(
    ("level", "code"), [(1, "first-level"), (7, "no-such-level"), (0, "no-such-level"), (21, "no-such-level")]
)
async def test_levels_that_roll_nothing_are_refused(world: World, level: int, code: str) -> None:
    command = RollHp(server=HERE, member=AUTHOR, build=world.build, level=level, at=at(1))
    refused(await world.call(roll_hp, command), code)


async def test_dice_are_rolled_and_dropped_and_rolled_again_as_written(world: World) -> None:
    command = RollDice(server=HERE, member=READER, dice="4d6 drop lowest + 2d8 reroll 1 + (8d6 half) - 3", at=at(1))
    view = ok(await world.call(roll_dice, command))
    drop, again, halved = view.results[0].terms
    assert [len(term.faces) for term in (drop, again, halved)] == [4, 2, 8]
    assert view.results[0].total == drop.total + again.total + halved.total // 2 - 3
    assert all(die.before in (None, 1) for die in again.faces)


async def test_rolls_use_the_numbers_of_the_operating_system(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    faces = iter([0, 3, 5, 2])
    asked: list[int] = []

    def randbelow(sides: int) -> int:
        asked.append(sides)
        return next(faces)

    monkeypatch.setattr(rolls.secrets, "randbelow", randbelow)
    view = ok(await world.call(roll_dice, RollDice(server=HERE, member=READER, dice="3d6 + 1d8", at=at(1))))
    assert asked == [6, 6, 6, 8]
    assert [die.face for term in view.results[0].terms for die in term.faces] == [1, 4, 6, 3]
    assert view.values == (14,)


async def test_faces_come_up_alike(world: World) -> None:
    """100 dice of 4 sides a hundred times: each face within six deviations of 2,500."""
    counts: Counter[int] = Counter()
    for _ in range(10):
        view = ok(await world.call(roll_dice, RollDice(server=HERE, member=READER, dice="100d4", at=at(1))))
        counts.update(die.face for die in view.results[0].terms[0].faces)
    assert set(counts) == {1, 2, 3, 4}
    assert all(abs(count - 250) < 6 * (1000 * 3 / 16) ** 0.5 for count in counts.values())


@pytest.mark.parametrize(
    ("dice", "code"), [("101d6", "too-many-dice"), ("51d6 + 50d8", "too-many-dice"), ("a cup of tea", "")]
)
async def test_dice_that_cannot_be_rolled(world: World, dice: str, code: str) -> None:
    before = await world.rows(HERE)
    result = await world.call(roll_dice, RollDice(server=HERE, member=READER, dice=dice, at=at(1)))
    refused(result, code or parse(dice).code)
    assert await world.rows(HERE) == before


async def test_a_roll_is_looked_up_by_anyone_on_its_server_alone(world: World) -> None:
    listed = ok(await world.call(list_rolls, ListRolls(server=HERE, member=AUTHOR)))
    assert [view.number for view in listed.items] == [world.roll]
    assert ok(await world.call(list_rolls, ListRolls(server=HERE, member=AUTHOR, roller=AUTHOR))).items == ()
    refused(await world.call(show_roll, ShowRoll(server=ELSEWHERE, member=READER, roll=world.roll)), "no-such-roll")
    refused(await world.call(show_roll, ShowRoll(server=HERE, member=READER, roll=world.build)), "no-such-roll")
    refused(await world.call(show_roll, ShowRoll(server=HERE, member=READER, roll="the good one")), "no-such-roll")


async def test_pages_of_rolls(world: World) -> None:
    for _ in range(11):
        await six(world)
    first = ok(await world.call(list_rolls, ListRolls(server=HERE, member=READER)))
    second = ok(await world.call(list_rolls, ListRolls(server=HERE, member=READER, page=2)))
    assert (len(first.items), first.more, len(second.items), second.more) == (10, True, 2, False)
    numbers = [view.number for view in (*first.items, *second.items)]
    assert numbers == sorted(numbers, reverse=True)
