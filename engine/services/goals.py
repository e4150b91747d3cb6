"""Goals of a build: added and taken off one by one, as an outline's `Goal:` lines."""

import asyncio
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from engine.audit import GoalResult, goal_text
from engine.audit.context import AuditContext
from engine.audit.goals import goals_of
from engine.build.document import Build, Goal
from engine.build.outline import print_header, replace_header
from engine.problem import Refused
from engine.publish.words import still_open
from engine.rules.catalog import Catalog
from engine.rules.names import nearest
from engine.services import rights
from engine.services.find import find_build
from engine.services.revising import revise
from engine.services.views import BuildView, Ref
from engine.services.views_of import build_view, document_at
from engine.store.models import BuildRow
from engine.store.uow import UnitOfWork

MOST_GOALS: Final = 20
LONGEST_GOAL: Final = 300


@dataclass(frozen=True, slots=True, kw_only=True)
class AddGoal:
    """Add a goal to one's own build. text: what an outline writes behind `Goal:`."""

    server: int
    member: int
    build: Ref
    text: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class RemoveGoal:
    """Take a goal off one's own build. place: its place in the list, from 1."""

    server: int
    member: int
    build: Ref
    place: int
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class ListGoals:
    """Ask how a build stands with its goals."""

    server: int
    member: int
    build: Ref


@dataclass(frozen=True, slots=True, kw_only=True)
class GoalsView:
    """A build with the results of its goals, in their order. changed: the goal that was added or taken off, if any.

    warning: a plain sentence if the goal just added measures a number that the build never has. partial: why the
    results are not the last word, empty for a finished build.
    """

    view: BuildView
    goals: tuple[GoalResult, ...]
    changed: str = ""
    warning: str = ""
    partial: str = ""


async def add_goal(cmd: AddGoal, uow: UnitOfWork) -> GoalsView | Refused:
    """Add a goal as a new revision.

    Refused: as `find_build`, "not-allowed", "no-goal", "has-goal", "too-many-goals".
    """
    text = " ".join(cmd.text.split())
    if not text or len(text) > LONGEST_GOAL:
        return Refused("no-goal", f"A goal has 1 to {LONGEST_GOAL} characters, such as `hp.max >= 60 at 8`.")
    async with uow:
        row = await _own(cmd, uow)
        found = row if isinstance(row, Refused) else await document_at(uow, row, None)
        if isinstance(row, Refused) or isinstance(found, Refused):
            return row if isinstance(row, Refused) else _refusal(found)
        _, build, catalog = found
        goal = await asyncio.to_thread(_read, build, text, catalog)
        if isinstance(goal, Refused):
            return goal
        if goal in build.goals:
            return Refused("has-goal", f"{row.name} has this goal already: {goal_text(goal, catalog)}.")
        if len(build.goals) >= MOST_GOALS:
            return Refused("too-many-goals", f"{row.name} has {MOST_GOALS} goals already; take one off first.")
        after = build.model_copy(update={"goals": (*build.goals, goal)})
        view = await _revised(cmd, uow, row, after, f"goal added: {goal_text(goal, catalog)}")
        if isinstance(view, Refused):
            return view
        await uow.commit()
    return await _seen(view, goal_text(goal, catalog), goal)


async def remove_goal(cmd: RemoveGoal, uow: UnitOfWork) -> GoalsView | Refused:
    """Take a goal off as a new revision. Refused: as `find_build`, "not-allowed", "no-such-goal"."""
    async with uow:
        row = await _own(cmd, uow)
        found = row if isinstance(row, Refused) else await document_at(uow, row, None)
        if isinstance(row, Refused) or isinstance(found, Refused):
            return row if isinstance(row, Refused) else _refusal(found)
        _, build, catalog = found
        if not 1 <= cmd.place <= len(build.goals):
            has = f"goals 1 to {len(build.goals)}" if build.goals else "no goals"
            return Refused("no-such-goal", f"{row.name} has {has}; {cmd.place} is none of them.")
        goal = build.goals[cmd.place - 1]
        kept = tuple(each for place, each in enumerate(build.goals, 1) if place != cmd.place)
        text = goal_text(goal, catalog)
        view = await _revised(cmd, uow, row, build.model_copy(update={"goals": kept}), f"goal taken off: {text}")
        if isinstance(view, Refused):
            return view
        await uow.commit()
    return await _seen(view, text)


async def list_goals(cmd: ListGoals, uow: UnitOfWork) -> GoalsView | Refused:
    """Return how a build stands with its goals. Refused: as `get_build`."""
    async with uow.reading():
        row = await find_build(uow, cmd.server, cmd.member, cmd.build)
        view = row if isinstance(row, Refused) else await build_view(uow, row)
    return view if isinstance(view, Refused) else await _seen(view)


async def _own(cmd: AddGoal | RemoveGoal, uow: UnitOfWork) -> BuildRow | Refused:
    row = await find_build(uow, cmd.server, cmd.member, cmd.build, for_update=True)
    if isinstance(row, Refused):
        return row
    coauthors = await uow.builds.coauthors(cmd.server, row.number)
    return rights.refusal(type(cmd), rights.roles_on_build(cmd.member, row.author, coauthors)) or row


async def _revised(
    cmd: AddGoal | RemoveGoal, uow: UnitOfWork, row: BuildRow, after: Build, reason: str
) -> BuildView | Refused:
    moved = await revise(uow, row, after, actor=cmd.member, at=cmd.at, reason=reason)
    if isinstance(moved, Refused):
        return moved
    return await build_view(uow, row, followed=moved.followed, outdated=moved.outdated, notices=moved.notices)


async def _seen(view: BuildView, changed: str = "", goal: Goal | None = None) -> GoalsView:
    """Return the view of goals, worked out after the transaction and beside the event loop."""
    return await asyncio.to_thread(_stand, view, changed, goal)


def _stand(view: BuildView, changed: str, goal: Goal | None) -> GoalsView:
    context = AuditContext.of(view.build, view.catalog)
    warning = ""
    if goal is not None and goal.form == "compare" and goal.name is not None:
        names = dict.fromkeys(name for sheet in context.sheets for name in sheet.numbers)
        if goal.name not in names:
            near = nearest(goal.name, names)
            hint = f" Nearest: {', '.join(near)}." if near else ""
            warning = f"This build has no number `{goal.name}` at any of its levels.{hint}"
    partial = still_open(context, view.build.top)
    return GoalsView(view=view, goals=goals_of(context), changed=changed, warning=warning, partial=partial)


def _read(build: Build, text: str, catalog: Catalog) -> Goal | Refused:
    """Return the goal that a text says. Refused: "no-goal" with what was expected."""
    line = text.removeprefix("Goal:").strip()
    bare = build.model_copy(update={"goals": ()})
    read = replace_header(bare, f"{print_header(bare, catalog)}\nGoal: {line}\n", catalog)
    if isinstance(read, Build):
        return read.goals[0] if read.goals else Refused("no-goal", "That text holds no goal.")
    error = read[0]
    return Refused("no-goal", f"That goal cannot be read: {error.sentence}.")


def _refusal(found: object) -> Refused:
    assert isinstance(found, Refused)
    return found
