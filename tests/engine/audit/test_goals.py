"""Goals in every form: met or not, from which level, by what margin, and what came nearest."""

import pytest

from engine.audit import GoalResult, audit, goal_json, goals
from engine.build.document import Goal
from engine.rules.catalog import Catalog
from engine.sheet import timeline
from tests.engine.audit.bases import BASES
from tests.engine.audit.test_illegal import parsed


def judged(base: str, goal: str, catalog: Catalog) -> GoalResult:
    text = "\n".join(line for line in BASES[base].splitlines() if not line.startswith("Goal:"))
    head, _, rest = text.partition("\n")
    build = parsed(f"{head}\nGoal: {goal}\n{rest}\n", catalog)
    [result] = goals(build, catalog)
    return result


@pytest.mark.parametrize(
    ("base", "goal", "met", "from_level", "margin", "nearest"),
    [
        # Reed Warden at level 8: passive Perception 20, Stealth +9, armor class 14 (cards.md, worked out by hand)
        ("reed", "skill.perception.passive >= 20 at 8", True, 8, 0, None),
        ("reed", "skill.perception.passive >= 22 by 8", False, None, -2, "20 by level 8, 2 short"),
        ("reed", "skill.stealth >= 9 at 4", False, 5, -2, "7 at level 4, 2 short; reached at level 5"),
        ("reed", "skill.stealth >= 9 by 6", True, 5, 0, None),
        ("reed", "ac >= 18 at 12", False, None, None, "the build ends at level 8"),
        ("reed", "pool.arcane-recovery.uses >= 1 by 8", False, None, None, "no `pool.arcane-recovery.uses` by level 8"),
        ("reed", "knows Longstrider by 8", True, 8, 0, None),
        ("reed", "knows Hunter's Mark by 8", True, 6, 2, None),
        ("reed", "knows Hunter's Mark by 12", True, 6, 6, None),
        ("reed", "knows Hunter's Mark by 5", False, 6, -1, "from level 6"),
        ("reed", "knows Fog Cloud by 8", False, 7, None, "only until level 7"),
        ("reed", "knows Wish by 8", False, None, None, "never"),
        ("hex", "resists Fire by 3", True, 1, 2, None),
        ("reed", "resists Fire by 3", False, None, None, "never"),
        ("watch", "proficient in Smith's Tools by 1", True, 1, 0, None),
        ("reed", "proficient in Athletics by 4", False, 5, -1, "from level 5"),
        # Stealth +9 against DC 20: an 11 or more on the die
        ("reed", "check Stealth dc 20 >= 50% at 8", True, 5, 0, None),
        ("reed", "check Stealth dc 20 >= 75% at 8", False, None, -25, "50 % at level 8, 25 short"),
        ("reed", '"feels like the marsh"', None, None, None, None),
    ],
)
def test_results(
    base: str, goal: str, met: bool | None, from_level: int | None, margin: int | None, nearest: str | None,
    release: Catalog,
) -> None:  # fmt: skip
    """Each form of a goal, met and missed."""
    result = judged(base, goal, release)
    assert (result.met, result.from_level, result.margin, result.nearest) == (met, from_level, margin, nearest)
    assert result.text == goal
    assert goal_json(result) == {"text": goal, "met": met, "from_level": from_level, "margin": margin}


def test_lowest_roll_counts_in_a_chance(release: Catalog) -> None:
    """Reliable Talent makes every roll below 10 a 10 (SRD 5.1, Classes, Rogue, Reliable Talent)."""
    text = BASES["reed"].split("5 Ranger")[0]
    levels = "".join(f"{n} Rogue{': +2 Dex' if n == 8 else ''}\n" for n in range(5, 12))
    build = parsed(f"{text}{levels}", release).model_copy(
        update={"goals": (Goal(form="check", name="stealth", value=100, dc=22, when="at", level=11),)}
    )
    # Dexterity 19 gives +4, expertise at proficiency bonus +4 gives +8: the lowest total is 22.
    [result] = goals(build, release)
    assert (result.met, result.from_level, result.margin) == (True, 11, 0)


def test_best_level_is_the_nearest_miss(release: Catalog) -> None:
    """A goal at an early level that is nearer met later names that level."""
    result = judged("reed", "skill.perception.passive >= 30 at 1", release)
    assert result.nearest is not None
    assert result.nearest.endswith("at most 20, at level 8")


def test_sheets_at_hand_are_used(release: Catalog) -> None:
    """The results are the same whether or not the timeline is given."""
    build = parsed(BASES["reed"], release)
    assert goals(build, release, timeline(build, release)) == goals(build, release)


def test_dice_and_unlimited_are_compared(release: Catalog) -> None:
    """A die counts with its mean, `unlimited` is more than any number."""
    die = judged("piper", "pool.bardic-inspiration.die >= 5 by 10", release)
    assert die.met is True
    assert die.from_level == 10  # 1d10 from bard level 10: mean 5.5; 1d8 before: 4.5


def test_builds_without_levels_meet_nothing(release: Catalog) -> None:
    """No level, no number: the goal is not met, and nothing breaks."""
    build = parsed(BASES["reed"], release).model_copy(update={"order": (), "levels": {}})
    [result] = goals(build, release)
    assert (result.met, result.from_level, result.margin) == (False, None, None)
    assert audit(build, release)
