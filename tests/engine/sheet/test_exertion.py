"""What a body can do beyond the sheet, with its reasons; figures from SRD 5.1, sections beside them."""

import pytest

from engine.build.document import Build
from engine.sheet import Number, gather
from engine.sheet.exertion import exertion
from tests.engine.sheet.make import build, catalog, pick


def of(document: Build, level: int | None = None, *states: str) -> dict[str, Number]:
    return exertion(gather(document, catalog(), states), level or document.top)


def jumps(document: Build, *states: str) -> list[object]:
    found = of(document, None, *states)
    return [found[f"jump.{name}"].value for name in ("long", "long.standing", "high", "high.standing")]


def test_every_number_is_its_reasons() -> None:
    for scores in ("1 1 1 1 1 1", "15 14 13 12 10 8", "24 20 24 20 20 20"):
        for name, number in of(build("monk 9", scores), None, "jump", "step-of-the-wind").items():
            assert number.value == sum(float(r.amount) for r in number.reasons), name
            assert all(r.source.startswith("SRD 5.1, ") for r in number.reasons), name


def test_jumps_by_strength() -> None:
    # SRD 5.1, Adventuring, Special Types of Movement, Jumping
    assert jumps(build("fighter 1", "15 10 10 10 10 10")) == [15, 7.5, 5, 2.5]
    assert jumps(build("fighter 1", "20 10 10 10 10 10")) == [20, 10, 8, 4]
    # A modifier of -4 leaves nothing of the 3 feet.
    assert jumps(build("wizard 1", "3 10 10 10 10 10")) == [3, 1.5, 0, 0]


def test_features_lengthen_running_jumps_alone() -> None:
    # SRD 5.1, Classes, Fighter, Champion, Remarkable Athlete (level 7): long jumps, Strength modifier
    champion = build("fighter 7", "16 14 10 10 10 10", subclasses={"fighter": "champion"})
    assert jumps(champion) == [16 + 3, 8, 6, 3]
    assert of(champion, 6)["jump.long"].value == 16
    # SRD 5.1, Classes, Rogue, Thief, Second-Story Work (level 3): any running jump, Dexterity modifier
    thief = build("rogue 3", "10 18 10 10 10 10", subclasses={"rogue": "thief"})
    assert jumps(thief) == [10 + 4, 5, 3 + 4, 1.5]
    assert of(thief)["jump.high"].reasons[-1].source == "SRD 5.1, Classes, Rogue, Thief, Second-Story Work"


def test_magic_and_ki_multiply_every_jump() -> None:
    plain = build("monk 2", "12 16 10 10 16 10")
    assert jumps(plain) == [12, 6, 4, 2]
    # SRD 5.1, Spellcasting, Jump: three times as far; Classes, Monk, Ki, Step of the Wind: twice
    assert jumps(plain, "jump") == [36, 18, 12, 6]
    assert jumps(plain, "step-of-the-wind") == [24, 12, 8, 4]
    # SRD 5.1, Magic Items, Boots of Striding and Springing: three times, once attuned
    boots = "boots-of-striding-and-springing"
    assert jumps(build("fighter 1", "12 10 10 10 10 10", gear=[pick(boots, "attuned")])) == [36, 18, 12, 6]
    assert jumps(build("fighter 1", "12 10 10 10 10 10", gear=[pick(boots)])) == [12, 6, 4, 2]


@pytest.mark.parametrize(
    ("constitution", "minutes", "rounds"), [(14, 3, 2), (20, 6, 5), (10, 1, 1), (8, 0.5, 1), (3, 0.5, 1)]
)
def test_breath(constitution: int, minutes: float, rounds: int) -> None:
    # SRD 5.1, Adventuring, Suffocating: 1 + modifier in minutes, half a minute at least; then the modifier, 1 at least
    found = of(build("bard 1", f"10 10 {constitution} 10 10 10"))
    assert (found["breath.held"].value, found["breath.left"].value) == (minutes, rounds)


def test_lifting_follows_capacity() -> None:
    # SRD 5.1, Using Ability Scores, Lifting and Carrying: thirty times Strength, Small no less than Medium
    assert of(build("fighter 1", "16 10 10 10 10 10"))["carry.lift"].value == 480
    assert of(build("fighter 1", "16 10 10 10 10 10", species="lightfoot-halfling"))["carry.lift"].value == 480
    # SRD 5.1, Magic Items, Potion of Giant Strength, Hill Giant: Strength 21
    strong = of(build("fighter 1", "16 10 10 10 10 10"), None, "potion-of-hill-giant-strength")
    assert strong["carry.lift"].value == 21 * 30


def test_experience_ends_with_the_last_level() -> None:
    # SRD 5.1, Beyond 1st Level, Character Advancement
    found = [of(build("rogue 20"), level).get("experience.needed") for level in (1, 4, 19, 20)]
    assert [number and number.value for number in found] == [300, 6_500, 355_000, None]
