"""Goals: whether each is met, from which level on, by what margin, and what came nearest where it is not."""

from dataclasses import dataclass
from typing import Any, Final

from engine.audit.amounts import worth
from engine.audit.context import AuditContext
from engine.audit.moment import holds
from engine.build.document import Build, Goal
from engine.rules.catalog import Catalog
from engine.rules.grants.body import Defense
from engine.rules.grants.casting import ExtraSpells
from engine.sheet import Sheet

FACES: Final = 20
# Where a check by skill, tool or ability stands among the numbers.
_CHECK_FAMILIES: Final = ("skill", "tool", "check", "save")
_PROFICIENCY_KINDS: Final = ("skill", "tool", "language", "weapon", "armor", "save")


@dataclass(frozen=True, slots=True)
class GoalResult:
    """How a build stands with one of its goals.

    text: the goal as an outline writes it. met: None for a free text, which only people can judge. from_level: lowest
    level at which it holds, whatever level it asks for; None if it never does. margin: how far over (or, negative,
    short) at the level asked for: points, per cent, or levels to spare; None where nothing can be measured.
    nearest: for a goal not met, what came nearest, in one short phrase.
    """

    goal: Goal
    text: str
    met: bool | None
    from_level: int | None
    margin: int | float | None
    nearest: str | None = None

    def as_json(self) -> dict[str, Any]:
        """Return the outside form: `{"text", "met", "from_level", "margin"}`."""
        return {"text": self.text, "met": self.met, "from_level": self.from_level, "margin": self.margin}


def goals(build: Build, catalog: Catalog, timeline: tuple[Sheet, ...] | None = None) -> tuple[GoalResult, ...]:
    """Return one result for each goal of the build, in its order.

    timeline: the build's sheets of all levels, if they are at hand. A goal at a level that the build does not reach
    is not met; one `by` such a level counts what the build has so far.
    """
    return goals_of(AuditContext.of(build, catalog, sheets=timeline))


def goal_json(result: GoalResult) -> dict[str, Any]:
    """Return the outside form of a goal's result."""
    return result.as_json()


def goals_of(ctx: AuditContext) -> tuple[GoalResult, ...]:
    """Return the goals' results of a build whose sheets are at hand."""
    return tuple(_result(ctx, goal) for goal in ctx.build.goals)


def _result(ctx: AuditContext, goal: Goal) -> GoalResult:
    match goal.form:
        case "text":
            return GoalResult(goal, goal_text(goal, ctx.catalog), None, None, None)
        case "compare":
            return _measured(ctx, goal, [_value(ctx, goal, level) for level in ctx.levels], "")
        case "check":
            return _measured(ctx, goal, [_chance(ctx, goal, level) for level in ctx.levels], " %")
        case _:
            return _held(ctx, goal)


def _value(ctx: AuditContext, goal: Goal, level: int) -> float | None:
    number = ctx.number(level, goal.name or "")
    return None if number is None else worth(number.value)


def _chance(ctx: AuditContext, goal: Goal, level: int) -> float | None:
    name = goal.name or ""
    stem = next((n for n in (name, *(f"{f}.{name}" for f in _CHECK_FAMILIES)) if ctx.number(level, n)), None)
    if stem is None:
        return None
    number, floor = ctx.number(level, stem), ctx.number(level, f"{stem}.lowest")
    bonus = worth(number.value) if number else None
    if bonus is None:
        return None
    lowest = worth(floor.value) if floor else None
    totals = (max(face + bonus, lowest if lowest is not None else face + bonus) for face in range(1, FACES + 1))
    return 100 * sum(total >= (goal.dc or 0) for total in totals) / FACES


def _measured(ctx: AuditContext, goal: Goal, values: list[float | None], unit: str) -> GoalResult:
    wanted = goal.value or 0
    text = goal_text(goal, ctx.catalog)
    first = next((i + 1 for i, v in enumerate(values) if v is not None and v >= wanted), None)
    if goal.when == "at":
        here = values[goal.level - 1] if goal.level <= len(values) else None
    else:
        here = max((v for v in values[: goal.level] if v is not None), default=None)
    met = here is not None and here >= wanted
    margin = None if here is None else _plain(here - wanted)
    return GoalResult(goal, text, met, first, margin, None if met else _miss(goal, values, here, first, unit))


def _miss(goal: Goal, values: list[float | None], here: float | None, first: int | None, unit: str) -> str:
    if here is None:
        if goal.level > len(values) and goal.when == "at":
            return f"the build ends at level {len(values)}"
        return f"no `{goal.name}` by level {goal.level}"
    place = f"at level {goal.level}" if goal.when == "at" else f"by level {goal.level}"
    short = f"{_plain(here)}{unit} {place}, {_plain((goal.value or 0) - here)} short"
    if first is not None:
        return f"{short}; reached at level {first}"
    best = max(v for v in values if v is not None)
    if best > here:
        return f"{short}; at most {_plain(best)}{unit}, at level {values.index(best) + 1}"
    return short


def _plain(value: float) -> int | float:
    return int(value) if value == int(value) else round(value, 2)


def _held(ctx: AuditContext, goal: Goal) -> GoalResult:
    """A goal of having something: held at the level asked for, or at the build's last level if that comes first."""
    name = goal.name or ""
    levels = [level for level in ctx.levels if _has(ctx, goal.form, name, level)]
    first = levels[0] if levels else None
    asked = min(goal.level, len(ctx.sheets)) if goal.when == "by" else goal.level
    met = asked in levels
    # What was had and is gone again leaves nothing to measure.
    margin = goal.level - first if first is not None and (met or first > goal.level) else None
    nearest = None
    if not met:
        if first is None:
            nearest = "never"
        elif first > goal.level:
            nearest = f"from level {first}"
        elif goal.level > len(ctx.sheets):
            nearest = f"the build ends at level {len(ctx.sheets)}"
        else:
            nearest = f"only until level {max(level for level in levels if level <= goal.level)}"
    return GoalResult(goal, goal_text(goal, ctx.catalog), met, first, margin, nearest)


def _has(ctx: AuditContext, form: str, name: str, level: int) -> bool:
    if form == "knows":
        return ctx.knows(name, level) or any(
            isinstance(g.grant, ExtraSpells)
            and g.grant.how != "listed"
            and any(at.id == name and ctx.owner_level(g, level) >= at.level for at in g.grant.spells)
            for g in ctx.grants_at(level)
        )
    if form == "resists":
        return any(
            isinstance(g.grant, Defense)
            and g.grant.defense in ("resistance", "immunity")
            and g.grant.limited is None
            and name in g.grant.to
            and holds(ctx, g, level)
            for g in ctx.grants_at(level)
        )
    return any(ctx.proficient(kind, name, level) for kind in _PROFICIENCY_KINDS)


def goal_text(goal: Goal, catalog: Catalog) -> str:
    """Return a goal as an outline line writes it, without the `Goal:`."""
    end = f"{goal.when} {goal.level}"
    name = goal.name or ""
    match goal.form:
        case "text":
            return f'"{goal.text}"'
        case "compare":
            return f"{name} >= {goal.value} {end}"
        case "knows":
            return f"knows {catalog.name_of('spell', name)} {end}"
        case "resists":
            return f"resists {catalog.name_of('damage-type', name)} {end}"
        case "proficient":
            kind = next((k for k in ("skill", "tool", "language", "item") if catalog.named(k, name)), "item")
            return f"proficient in {catalog.name_of(kind, name)} {end}"
        case "check":
            return f"check {catalog.name_of('skill', name)} dc {goal.dc} >= {goal.value}% {end}"
