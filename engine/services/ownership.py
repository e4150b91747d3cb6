"""Whose a build is and how it goes on: co-authors, handing over, copying, earlier revisions, retiring."""

from dataclasses import dataclass
from datetime import datetime
from typing import Final, TypeAlias

from engine.problem import Refused
from engine.review import machine
from engine.review.machine import State
from engine.services import rights
from engine.services.documents import read_document, write_revision
from engine.services.find import find_build
from engine.services.names import bad_name, name_key, taken
from engine.services.revising import revise
from engine.services.standing import notice
from engine.services.texts import LONGEST_REASON
from engine.services.views import BuildView, NoticeKind, Ref
from engine.services.views_of import build_view
from engine.store.models import BuildRow
from engine.store.repos.proposals import read_state, write_state
from engine.store.uow import UnitOfWork

MOST_COAUTHORS: Final = 5
_LONGEST_NAME: Final = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class RestoreRevision:
    """Make what an earlier revision said the newest one. Nothing is overwritten: it is a new revision."""

    server: int
    member: int
    build: Ref
    revision: int
    at: datetime
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RetireBuild:
    """Set one's own build aside: it stays to be read, its name stays taken, nothing about it changes any more."""

    server: int
    member: int
    build: Ref
    at: datetime
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BringBack:
    """Take one's own retired build up again."""

    server: int
    member: int
    build: Ref
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class AddCoAuthor:
    """Let another member edit one's build and decide about proposals to it."""

    server: int
    member: int
    build: Ref
    other: int
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class DropCoAuthor:
    """Take a co-author off a build; a co-author can step back alone."""

    server: int
    member: int
    build: Ref
    other: int
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class HandOver:
    """Make another member the author of one's build."""

    server: int
    member: int
    build: Ref
    other: int
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class CopyBuild:
    """Make a draft of one's own from a build that one can see; it names its origin. name: what the copy is called."""

    server: int
    member: int
    build: Ref
    name: str
    at: datetime
    revision: int | None = None


_Command: TypeAlias = RestoreRevision | RetireBuild | BringBack | AddCoAuthor | DropCoAuthor | HandOver


async def restore_revision(cmd: RestoreRevision, uow: UnitOfWork) -> BuildView | Refused:
    """Make an earlier revision's document the newest revision; open proposals follow, or are outdated.

    Refused: as `find_build` and `revise`, "not-allowed", "no-such-revision", "nothing-changed".
    """
    async with uow:
        row = await _held(cmd, uow)
        if isinstance(row, Refused):
            return row
        old = await uow.builds.revision(cmd.server, row.number, cmd.revision)
        if old is None:
            return Refused(
                "no-such-revision",
                f"{row.name} has revisions 1 to {row.revision}; {cmd.revision} is not one of them.",
            )
        newest = await uow.builds.revision(cmd.server, row.number, row.revision)
        assert newest is not None  # the row is only ever saved together with its newest revision
        document = read_document(old)
        if document == read_document(newest):
            return Refused("nothing-changed", f"{row.name} says what revision {cmd.revision} says already.")
        reason = f"restored revision {cmd.revision}" + (f": {cmd.reason.strip()}" if cmd.reason.strip() else "")
        moved = await revise(uow, row, document, actor=cmd.member, at=cmd.at, reason=reason[:LONGEST_REASON])
        if isinstance(moved, Refused):
            return moved
        view = await build_view(uow, row, followed=moved.followed, outdated=moved.outdated, notices=moved.notices)
        await uow.commit()
    return view


async def retire_build(cmd: RetireBuild, uow: UnitOfWork) -> BuildView | Refused:
    """Set a build aside; its proposals are declined.

    Returns: the build, `outdated` naming the proposals that were closed. Refused: as `find_build`, "not-allowed",
        "build-retired".
    """
    async with uow:
        row = await _held(cmd, uow)
        if isinstance(row, Refused):
            return row
        if row.retired is not None:
            return Refused("build-retired", f"{row.name} is retired already; /build back takes it up again.")
        closed = await close_proposals(uow, row, actor=cmd.member, at=cmd.at, reason="the build was retired")
        row.retired = row.changed = cmd.at
        reason = cmd.reason.strip()[:LONGEST_REASON]
        uow.history.append(cmd.server, row.number, "build", "build-retired", actor=cmd.member, at=cmd.at, reason=reason)
        view = await build_view(uow, row, outdated=closed)
        await uow.commit()
    return view


async def bring_back(cmd: BringBack, uow: UnitOfWork) -> BuildView | Refused:
    """Take a retired build up again. Refused: as `find_build`, "not-allowed", "not-retired"."""
    async with uow:
        row = await _held(cmd, uow)
        if isinstance(row, Refused):
            return row
        if row.retired is None:
            return Refused("not-retired", f"{row.name} is not retired.")
        row.retired, row.changed = None, cmd.at
        uow.history.append(cmd.server, row.number, "build", "build-brought-back", actor=cmd.member, at=cmd.at)
        view = await build_view(uow, row)
        await uow.commit()
    return view


async def add_co_author(cmd: AddCoAuthor, uow: UnitOfWork) -> BuildView | Refused:
    """Name a co-author. Refused: as `find_build`, "not-allowed", "is-author", "too-many"."""
    async with uow:
        row = await _held(cmd, uow)
        if isinstance(row, Refused):
            return row
        coauthors = await uow.builds.coauthors(cmd.server, row.number)
        if cmd.other == row.author or cmd.other in coauthors:
            return Refused("is-author", f"That member can edit {row.name} already.")
        if len(coauthors) >= MOST_COAUTHORS:
            return Refused("too-many", f"A build can have {MOST_COAUTHORS} co-authors; take one off first.")
        await uow.people.ensure(cmd.server, cmd.other)
        await uow.builds.add_coauthor(cmd.server, row.number, cmd.other, cmd.at)
        view = await _changed(cmd, uow, row, "co-author-added")
        await uow.commit()
    return view


async def drop_co_author(cmd: DropCoAuthor, uow: UnitOfWork) -> BuildView | Refused:
    """Take a co-author off; other co-authors cannot. Refused: as `find_build`, "not-allowed", "no-co-author"."""
    async with uow:
        row = await _held(cmd, uow)
        if isinstance(row, Refused):
            return row
        if cmd.other not in await uow.builds.coauthors(cmd.server, row.number):
            return Refused("no-co-author", f"That member is no co-author of {row.name}.")
        if cmd.member not in (row.author, cmd.other):
            return Refused("not-allowed", "A co-author can take only themselves off the build; its author can anybody.")
        await uow.builds.drop_coauthor(cmd.server, row.number, cmd.other)
        _record(cmd, uow, row, "co-author-dropped")
        view = await build_view(uow, row)
        await uow.commit()
    return view


async def hand_over(cmd: HandOver, uow: UnitOfWork) -> BuildView | Refused:
    """Make another member the author; where the author decides, they decide about open proposals from now on.

    Refused: as `find_build`, "not-allowed", "is-author".
    """
    async with uow:
        row = await _held(cmd, uow)
        if isinstance(row, Refused):
            return row
        if cmd.other == row.author:
            return Refused("is-author", f"That member is the author of {row.name} already.")
        await uow.people.ensure(cmd.server, cmd.other)
        await give(uow, row, cmd.other, actor=cmd.member, at=cmd.at)
        view = await _changed(cmd, uow, row, "build-handed-over")
        await uow.commit()
    return view


async def copy_build(cmd: CopyBuild, uow: UnitOfWork) -> BuildView | Refused:
    """Make a draft from a revision of a build. Witnessed rolls stay with the build they were for.

    Refused: as `find_build`, "no-such-revision", "name-taken", "name-is-a-number", "name-empty".
    """
    name = " ".join(cmd.name.split())
    if not 1 <= len(name) <= _LONGEST_NAME:
        return Refused("name-empty", f"A build's name has 1 to {_LONGEST_NAME} characters; call the copy something.")
    async with uow:
        await uow.people.ensure(cmd.server, cmd.member)
        source = await find_build(uow, cmd.server, cmd.member, cmd.build)
        if isinstance(source, Refused):
            return source
        refused = bad_name(name)
        if refused is not None:
            return refused
        if await uow.builds.by_key(cmd.server, name_key(name)) is not None:
            return taken(name)
        wanted = source.revision if cmd.revision is None else cmd.revision
        found = await uow.builds.revision(cmd.server, source.number, wanted)
        if found is None:
            return Refused(
                "no-such-revision", f"{source.name} has revisions 1 to {source.revision}; {wanted} is not one of them."
            )
        document = read_document(found).model_copy(update={"name": name})
        row = BuildRow(
            server=cmd.server,
            number=await uow.people.next_number(cmd.server),
            author=cmd.member,
            name=name,
            name_key=name_key(name),
            shared=False,
            removed=False,
            origin=source.number,
            origin_revision=wanted,
            revision=1,
            top=document.top,
            created=cmd.at,
            changed=cmd.at,
        )
        revision = write_revision(
            document,
            server=cmd.server,
            number=row.number,
            revision=1,
            author=cmd.member,
            at=cmd.at,
            reason=f"copied from #{source.number}, revision {wanted}",
            parent=None,
        )
        await uow.builds.add(row, revision, document.class_levels(20))
        uow.history.append(
            cmd.server,
            row.number,
            "build",
            "build-copied",
            actor=cmd.member,
            at=cmd.at,
            data={"origin": source.number, "revision": wanted},
        )
        view = await build_view(uow, row)
        await uow.commit()
    return view


async def give(uow: UnitOfWork, row: BuildRow, other: int, *, actor: int, at: datetime) -> None:
    """Make a member the author of a build held for update, inside a transaction; its proposals learn of it."""
    for each in await uow.proposals.of_build(row.server, row.number, [State.OPEN, State.OUTDATED], for_update=True):
        outcome = machine.hand_over(read_state(each, row.author, {}), other, actor=actor, at=at)
        assert not isinstance(outcome, Refused)  # only those that are not final were asked for
        uow.history.append_event(row.server, each.number, outcome[1])
    await uow.builds.drop_coauthor(row.server, row.number, other)
    row.author, row.changed = other, at


async def close_proposals(uow: UnitOfWork, row: BuildRow, *, actor: int, at: datetime, reason: str) -> tuple[int, ...]:
    """Close every proposal to a build that is not final, inside a transaction; return their numbers."""
    closed = []
    for each in await uow.proposals.of_build(row.server, row.number, [State.OPEN, State.OUTDATED], for_update=True):
        outcome = machine.close_removed(read_state(each, row.author, {}), actor=actor, at=at, reason=reason)
        assert not isinstance(outcome, Refused)  # only those that are not final were asked for
        state, event = outcome
        write_state(each, state)
        uow.history.append_event(row.server, each.number, event)
        closed.append(each.number)
    return tuple(closed)


async def _held(cmd: _Command, uow: UnitOfWork) -> BuildRow | Refused:
    """Return the build held for update, if the member may do to it what the command says."""
    row = await find_build(uow, cmd.server, cmd.member, cmd.build, for_update=True)
    if isinstance(row, Refused):
        return row
    coauthors = await uow.builds.coauthors(cmd.server, row.number)
    return rights.refusal(type(cmd), rights.roles_on_build(cmd.member, row.author, coauthors)) or row


def _record(cmd: AddCoAuthor | DropCoAuthor | HandOver, uow: UnitOfWork, row: BuildRow, event: str) -> None:
    uow.history.append(cmd.server, row.number, "build", event, actor=cmd.member, at=cmd.at, data={"member": cmd.other})


async def _changed(cmd: AddCoAuthor | HandOver, uow: UnitOfWork, row: BuildRow, event: str) -> BuildView | Refused:
    _record(cmd, uow, row, event)
    kind: NoticeKind = "handed-over" if isinstance(cmd, HandOver) else "co-author"
    notices = await notice(uow, cmd.server, row.number, row.name, kind, [cmd.other], cmd.member)
    return await build_view(uow, row, notices=notices)
