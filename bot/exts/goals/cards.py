"""Cards of goals. Pure."""

from bot.ui.card import Card, block
from bot.ui.escape import plain
from bot.ui.numbers import goal_words
from engine.audit import GoalResult
from engine.services.goals import GoalsView

FORMS = (
    "Forms: `NAME >= V at N` (or `by N`), `knows SPELL by N`, `resists TYPE by N`, `proficient in NAME by N`, "
    "`check SKILL dc D >= P% at N`, or words of your own in quotes."
)


def goals_card(found: GoalsView, what: str = "") -> Card:
    """Return how a build stands with its goals. what: what was just done, in words."""
    view = found.view
    measured = [goal for goal in found.goals if goal.met is not None]
    met = sum(bool(goal.met) for goal in measured)
    first = f"{met} of {len(measured)} measurable goals met" if measured else "No measurable goal yet"
    lines = [
        f"**{place}.** {_state(goal)}: {goal_words(goal.goal, view.catalog)}"
        for place, goal in enumerate(found.goals, 1)
    ]
    return Card(
        f"Goals of {plain(view.name)} · #{view.number} · revision {view.revision.number}",
        f"{what} {first}." if what else f"{first}.",
        (
            block(*lines) if lines else block("Add one with /goal add."),
            block(plain(found.warning), keep=True),
            block(f"Partial: {plain(found.partial)}." if found.partial else ""),
            block(FORMS, small=True),
        ),
    )


def _state(goal: GoalResult) -> str:
    if goal.met is None:
        return "For people to judge"
    parts = ["**Met**" if goal.met else "**Not met**"]
    if goal.from_level is not None:
        parts.append(f"from level {goal.from_level}")
    if goal.margin is not None:
        over = "to spare" if goal.margin >= 0 else "short"
        unit = {"check": " %", "compare": ""}.get(goal.goal.form, " levels")
        parts.append(f"{abs(goal.margin):g}{unit} {over}")
    if goal.nearest:
        parts.append(f"nearest: {plain(goal.nearest)}")
    return ", ".join(parts)
