"""Builds: loaded, shared, edited, removed, shown and listed."""

import asyncio
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from engine.audit import points_left
from engine.build.document import Build
from engine.problem import Refused
from engine.review.events import VoteCast, read_policy
from engine.review.machine import State
from engine.review.policy import Ballot
from engine.services import rights
from engine.services.documents import revision_view, write_revision
from engine.services.drafts import kept_errors
from engine.services.find import find_build
from engine.services.names import bad_name, name_key, number_of, taken
from engine.services.ownership import close_proposals
from engine.services.pages import page_number, paged
from engine.services.revising import joined_with_newest, revise
from engine.services.rolls import claim_scores, witnessed
from engine.services.shelves import reading_by
from engine.services.texts import (
    LONGEST_REASON,
    level_refusal,
    part_refusal,
    print_part,
    read_part_text,
    text_refusal,
)
from engine.services.views import (
    BuildBrief,
    BuildView,
    HistoryEntry,
    Page,
    Part,
    PartText,
    Ref,
    RevisionView,
    ShownBuild,
    Suggestion,
    TextErrors,
)
from engine.services.views_of import build_view, document_at
from engine.services.working import worked
from engine.sheet import gather
from engine.sheet.exertion import exertion
from engine.sheet.plan import Plan
from engine.sheet.spells import spells_at
from engine.sheet.states import find_states
from engine.sheet.whole import at_level
from engine.store.models import BuildRow, History
from engine.store.uow import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadBuild:
    """Make a draft build of the member's own from a whole outline."""

    server: int
    member: int
    text: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareBuild:
    """Show a draft to the server; it stays shared."""

    server: int
    member: int
    build: Ref
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadPart:
    """Ask for a part of a build as outline text, to fill a form with."""

    server: int
    member: int
    build: Ref
    part: Part


@dataclass(frozen=True, slots=True, kw_only=True)
class EditBuild:
    """Change a part of one's own build. revision: the one that the form was filled from, None for the newest."""

    server: int
    member: int
    build: Ref
    part: Part
    text: str
    at: datetime
    reason: str = ""
    revision: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RemoveBuild:
    """Take one's own build away; its open proposals are closed, its name is free again."""

    server: int
    member: int
    build: Ref
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class GetBuild:
    """Ask for a build at its newest or a given revision."""

    server: int
    member: int
    build: Ref
    revision: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ShowBuild:
    """Ask for a build with its numbers at a level, None for its last one. states: switched on, by name or id."""

    server: int
    member: int
    build: Ref
    level: int | None = None
    revision: int | None = None
    states: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ListBuilds:
    """Ask for a page of the builds that the member may see, newest number first.

    author: member id; class_: class id; level: character level reached exactly; retired: those set aside instead.
    """

    server: int
    member: int
    author: int | None = None
    class_: str | None = None
    level: int | None = None
    retired: bool = False
    page: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildHistory:
    """Ask for a page of what happened to a build, newest first."""

    server: int
    member: int
    build: Ref
    page: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class ListRevisions:
    """Ask for a page of a build's revisions, newest first."""

    server: int
    member: int
    build: Ref
    page: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class SuggestBuilds:
    """Ask for up to 25 builds whose name or number begins like the text. own: only the member's own."""

    server: int
    member: int
    text: str = ""
    own: bool = False


PAGE: Final = 10
# What the history tells of a vote in a secret ballot: beside a tally, the voter's name would tell the vote.
HIDDEN_VOTE: Final = "secret-vote-cast"
_SUGGESTED: Final = 25


async def load_build(cmd: LoadBuild, uow: UnitOfWork) -> BuildView | TextErrors | Refused:
    """Store a new draft build from a whole outline.

    Returns: the build; or every error of the text, which is then kept as a draft of kind "load"; or Refused with
        "text-empty", "text-too-long", "name-taken", "name-is-a-number", "roll-in-use".
    """
    refused = text_refusal(cmd.text)
    if refused is not None:
        return refused
    async with uow.reading():
        finder = await reading_by(uow, cmd.server, cmd.text)
    build = await read_part_text(None, "whole", cmd.text, finder)
    async with uow:
        await uow.people.ensure(cmd.server, cmd.member)
        if not isinstance(build, Build):
            errors = await kept_errors(uow, cmd.server, cmd.member, "load", {"text": cmd.text}, build, cmd.at)
            await uow.commit()
            return errors
        refused = bad_name(build.name)
        if refused is not None:
            return refused
        if await uow.builds.by_key(cmd.server, name_key(build.name)) is not None:
            return taken(build.name)
        row = BuildRow(
            server=cmd.server,
            number=await uow.people.next_number(cmd.server),
            author=cmd.member,
            name=build.name,
            name_key=name_key(build.name),
            shared=False,
            removed=False,
            revision=1,
            top=build.top,
            created=cmd.at,
            changed=cmd.at,
        )
        revision = write_revision(
            build,
            server=cmd.server,
            number=row.number,
            revision=1,
            author=cmd.member,
            at=cmd.at,
            reason="loaded",
            parent=None,
        )
        await uow.builds.add(row, revision, build.class_levels(20))
        refused = await claim_scores(uow, cmd.server, row.number, build)
        if refused is not None:
            return refused
        uow.history.append(cmd.server, row.number, "build", "build-loaded", actor=cmd.member, at=cmd.at)
        view = await build_view(uow, row)
        await uow.commit()
    return view


async def share_build(cmd: ShareBuild, uow: UnitOfWork) -> BuildView | Refused:
    """Show a draft to the server. Refused: as `find_build`, "not-allowed", "already-shared"."""
    async with uow:
        row = await _own(cmd, uow)
        if isinstance(row, Refused):
            return row
        if row.shared:
            return Refused("already-shared", f"{row.name} is shared already; /build show puts it before everybody.")
        row.shared, row.changed = True, cmd.at
        uow.history.append(cmd.server, row.number, "build", "build-shared", actor=cmd.member, at=cmd.at)
        view = await build_view(uow, row)
        await uow.commit()
    return view


async def read_part(cmd: ReadPart, uow: UnitOfWork) -> PartText | Refused:
    """Return a part of a build as outline text. Refused: as `find_build`, "no-such-level"."""
    async with uow.reading():
        row = await find_build(uow, cmd.server, cmd.member, cmd.build)
        if isinstance(row, Refused):
            return row
        found = await document_at(uow, row, None)
    if isinstance(found, Refused):
        return found
    revision, build, catalog = found
    refused = part_refusal(build, cmd.part)
    if refused is not None:
        return refused
    text = print_part(build, cmd.part, catalog)
    return PartText(build=row.number, name=row.name, part=cmd.part, text=text, revision=revision.number)


async def edit_build(cmd: EditBuild, uow: UnitOfWork) -> BuildView | TextErrors | Refused:
    """Replace a part of one's own build by what a text says; a build that moved on meanwhile is joined with.

    Returns: the build at its new revision, with the open proposals that followed or are outdated now; or every error
        of the text, kept as a draft of kind "edit"; or Refused: as `find_build` and `revise`, "not-allowed",
        "no-such-level", "no-such-revision", "text-empty", "text-too-long", "nothing-changed", "edit-clashes".
    """
    refused = text_refusal(cmd.text, cmd.part)
    if refused is not None:
        return refused
    async with uow.reading():
        row = await _own(cmd, uow, for_update=False)
        found = row if isinstance(row, Refused) else await document_at(uow, row, cmd.revision)
        if isinstance(found, Refused):
            return found
        revision, base, catalog = found
        finder = await reading_by(uow, cmd.server, cmd.text, base)
    refused = part_refusal(base, cmd.part)
    if refused is not None:
        return refused
    edited = await read_part_text(base, cmd.part, cmd.text, catalog if isinstance(cmd.part, int) else finder)
    async with uow:
        row = await _own(cmd, uow)
        if isinstance(row, Refused):
            return row
        if not isinstance(edited, Build):
            fields = {
                "build": str(row.number),
                "part": str(cmd.part),
                "text": cmd.text,
                "reason": cmd.reason,
                "revision": str(revision.number),
            }
            errors = await kept_errors(uow, cmd.server, cmd.member, "edit", fields, edited, cmd.at)
            await uow.commit()
            return errors
        after = await joined_with_newest(uow, row, revision, base, edited)
        if isinstance(after, Refused):
            return after
        moved = await revise(uow, row, after, actor=cmd.member, at=cmd.at, reason=cmd.reason[:LONGEST_REASON])
        if isinstance(moved, Refused):
            return moved
        view = await build_view(uow, row, followed=moved.followed, outdated=moved.outdated, notices=moved.notices)
        await uow.commit()
    return view


async def remove_build(cmd: RemoveBuild, uow: UnitOfWork) -> BuildView | Refused:
    """Take a build away: its name is free again, its proposals are declined, its revisions and history stay stored.

    Returns: the build as it was, `outdated` naming the proposals that were closed. Refused: as `find_build`,
        "not-allowed".
    """
    async with uow:
        row = await _own(cmd, uow)
        if isinstance(row, Refused):
            return row
        closed = await close_proposals(uow, row, actor=cmd.member, at=cmd.at, reason="the build was removed")
        view = await build_view(uow, row, outdated=closed)
        row.removed, row.name_key, row.changed = True, None, cmd.at
        uow.history.append(cmd.server, row.number, "build", "build-removed", actor=cmd.member, at=cmd.at)
        await uow.commit()
    return view


async def get_build(cmd: GetBuild, uow: UnitOfWork) -> BuildView | Refused:
    """Return a build at a revision. Refused: as `find_build`, "no-such-revision", "no-such-rules"."""
    async with uow.reading():
        row = await find_build(uow, cmd.server, cmd.member, cmd.build)
        return row if isinstance(row, Refused) else await build_view(uow, row, cmd.revision)


async def show_build(cmd: ShowBuild, uow: UnitOfWork) -> ShownBuild | Refused:
    """Return a build with its numbers at a level. Refused: as `get_build`, "no-such-level", "no-such-state"."""
    async with uow.reading():
        row = await find_build(uow, cmd.server, cmd.member, cmd.build)
        view = row if isinstance(row, Refused) else await build_view(uow, row, cmd.revision)
        if isinstance(view, Refused):
            return view
        rolls = await witnessed(uow, cmd.server, view.number, view.build)
    level = view.build.top if cmd.level is None else cmd.level
    refused = level_refusal(view.build, level)
    if refused is not None:
        return refused
    states = find_states(cmd.states, view.catalog)
    if isinstance(states, Refused):
        return states
    found = await worked(view.build, view.catalog, rolls)
    gathered, numbers = found.gathered, found.sheets[level - 1]
    if states:
        gathered = await asyncio.to_thread(gather, view.build, view.catalog, states)
        numbers = await asyncio.to_thread(at_level, Plan(gathered), level)
    return ShownBuild(
        view=view,
        level=level,
        sheet=numbers,
        exertion=exertion(gathered, level),
        states=states,
        findings=found.findings,
        goals=found.goals,
        points_left=points_left(view.build, view.catalog),
        spells=tuple(view.catalog.name_of("spell", learned.spell) for learned in spells_at(found.gathered, level)),
    )


async def list_builds(cmd: ListBuilds, uow: UnitOfWork) -> Page[BuildBrief]:
    """Return a page of builds; an empty one where nothing fits."""
    number = page_number(cmd.page)
    async with uow.reading():
        rows = await uow.builds.page(
            cmd.server,
            cmd.member,
            author=cmd.author,
            retired=cmd.retired,
            class_id=cmd.class_,
            level=cmd.level,
            limit=PAGE + 1,
            offset=(number - 1) * PAGE,
        )
        classes = await uow.builds.classes(cmd.server, [row.number for row in rows])
    return paged(
        [
            BuildBrief(
                number=row.number,
                name=row.name,
                author=row.author,
                shared=row.shared,
                revision=row.revision,
                top=row.top,
                classes=classes[row.number],
                changed=row.changed,
            )
            for row in rows
        ],
        number,
        PAGE,
    )


async def build_history(cmd: BuildHistory, uow: UnitOfWork) -> Page[HistoryEntry] | Refused:
    """Return a page of what happened to a build and to the proposals for it. Refused: as `find_build`."""
    number = page_number(cmd.page)
    async with uow.reading():
        row = await find_build(uow, cmd.server, cmd.member, cmd.build)
        if isinstance(row, Refused):
            return row
        proposals = await uow.proposals.of_build(cmd.server, row.number, list(State))
        subjects = [row.number, *(each.number for each in proposals)]
        found = await uow.history.of(cmd.server, subjects, limit=PAGE + 1, offset=(number - 1) * PAGE)
    secret = {each.number for each in proposals if each.policy and read_policy(each.policy).ballot is Ballot.SECRET}
    return paged([_entry(each, secret) for each in found], number, PAGE)


def _entry(row: History, secret: set[int]) -> HistoryEntry:
    """Return a row of the history as members read it. secret: proposals of which nobody reads who voted what."""
    hidden = row.event == VoteCast.kind and row.subject in secret
    return HistoryEntry(
        subject=row.subject,
        event=HIDDEN_VOTE if hidden else row.event,
        actor=None if hidden else row.actor,
        at=row.at,
        reason=row.reason,
        data={} if hidden else row.data or {},
    )


async def list_revisions(cmd: ListRevisions, uow: UnitOfWork) -> Page[RevisionView] | Refused:
    """Return a page of a build's revisions. Refused: as `find_build`."""
    number = page_number(cmd.page)
    async with uow.reading():
        row = await find_build(uow, cmd.server, cmd.member, cmd.build)
        if isinstance(row, Refused):
            return row
        found = await uow.builds.revisions(cmd.server, row.number, limit=PAGE + 1, offset=(number - 1) * PAGE)
    return paged([revision_view(each) for each in found], number, PAGE)


async def suggest_builds(cmd: SuggestBuilds, uow: UnitOfWork) -> list[Suggestion]:
    """Return builds for an autocomplete: the number typed, then names that begin so, then names that hold the text."""
    async with uow.reading():
        found: dict[int, str] = {}
        number = number_of(cmd.text)
        if number is not None:
            row = await find_build(uow, cmd.server, cmd.member, number)
            if not isinstance(row, Refused) and (not cmd.own or await _edits(cmd.member, row, uow)):
                found[row.number] = row.name
        for at_start in (True, False):
            if len(found) < _SUGGESTED:
                found |= await uow.builds.named_like(
                    cmd.server, cmd.member, name_key(cmd.text), at_start=at_start, own=cmd.own, limit=_SUGGESTED
                )
    return [Suggestion(f"{name} (#{number})", number) for number, name in found.items()][:_SUGGESTED]


async def _own(
    cmd: ShareBuild | EditBuild | RemoveBuild, uow: UnitOfWork, *, for_update: bool = True
) -> BuildRow | Refused:
    row = await find_build(uow, cmd.server, cmd.member, cmd.build, for_update=for_update)
    if isinstance(row, Refused):
        return row
    coauthors = await uow.builds.coauthors(cmd.server, row.number)
    return rights.refusal(type(cmd), rights.roles_on_build(cmd.member, row.author, coauthors)) or row


async def _edits(member: int, row: BuildRow, uow: UnitOfWork) -> bool:
    return row.author == member or member in await uow.builds.coauthors(row.server, row.number)
