"""Write-ups of builds: kept with the revision they were checked against; checked, filled and drafted.

The plain functions take stored documents and texts, for a worker process.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from engine.audit.audit import audit_of
from engine.audit.context import AuditContext
from engine.audit.goals import goals_of
from engine.problem import Refused
from engine.publish.writeup import Checked, Filled, Wrong, check, draft, fill
from engine.services import rights
from engine.services.find import find_build
from engine.services.library import Parcel, parcel
from engine.services.views import BuildView, Ref
from engine.services.views_of import build_view, document_at
from engine.services.weigh import Document, opened
from engine.store.models import WriteupRow
from engine.store.uow import UnitOfWork

# What a chat server may keep of a text; longer ones are checked and not kept.
LONGEST_KEPT: Final = 300_000


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepWriteup:
    """Keep the text of a build's write-up. revision: the one that it was checked against."""

    server: int
    member: int
    build: Ref
    text: str
    revision: int
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class GetWriteup:
    """Ask for the write-up of a build that is kept."""

    server: int
    member: int
    build: Ref


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteupView:
    """A kept write-up. revision: of the build when it was checked; document: the build's then; at: when.

    view: the build as it is now.
    """

    view: BuildView
    text: str
    revision: int
    document: Parcel
    at: datetime


@dataclass(frozen=True, slots=True)
class Moved:
    """A kept write-up checked again. became: what was right at the earlier revision and is wrong now."""

    checked: Checked
    became: tuple[Wrong, ...]


async def keep_writeup(cmd: KeepWriteup, uow: UnitOfWork) -> WriteupView | Refused:
    """Keep a text in place of the one before. Refused: as `find_build`, "not-allowed", "text-too-long"."""
    if len(cmd.text) > LONGEST_KEPT:
        return Refused(
            "text-too-long",
            f"That text has {len(cmd.text):,} characters; up to {LONGEST_KEPT:,} are kept to be checked again later.",
        )
    async with uow:
        row = await find_build(uow, cmd.server, cmd.member, cmd.build, for_update=True)
        if isinstance(row, Refused):
            return row
        coauthors = await uow.builds.coauthors(cmd.server, row.number)
        refused = rights.refusal(KeepWriteup, rights.roles_on_build(cmd.member, row.author, coauthors))
        found = refused or await document_at(uow, row, cmd.revision)
        if isinstance(found, Refused):
            return found
        view = await build_view(uow, row)
        if isinstance(view, Refused):
            return view
        kept = WriteupRow(
            server=cmd.server, build=row.number, member=cmd.member, text=cmd.text, revision=cmd.revision, at=cmd.at
        )
        await uow.writeups.put(kept)
        await uow.commit()
    return WriteupView(view=view, text=cmd.text, revision=cmd.revision, document=parcel(found[1], found[2]), at=cmd.at)


async def get_writeup(cmd: GetWriteup, uow: UnitOfWork) -> WriteupView | Refused:
    """Return the write-up of a build that is kept. Refused: as `find_build`, "no-writeup"."""
    async with uow.reading():
        row = await find_build(uow, cmd.server, cmd.member, cmd.build)
        if isinstance(row, Refused):
            return row
        kept = await uow.writeups.get(cmd.server, row.number)
        if kept is None:
            return Refused(
                "no-writeup", f"No write-up of {row.name} is kept yet; attach one to /writeup check to begin."
            )
        found = await document_at(uow, row, kept.revision)
        view = await build_view(uow, row)
    if isinstance(found, Refused):
        return found
    if isinstance(view, Refused):
        return view
    return WriteupView(
        view=view, text=kept.text, revision=kept.revision, document=parcel(found[1], found[2]), at=kept.at
    )


def check_of(document: Document, text: str) -> Checked | Refused:
    """Return what is right, wrong and unmarked in a text. Refused: as `opened`."""
    found = opened(document)
    return found if isinstance(found, Refused) else check(text, *found)


def check_again(before: Document, after: Document, text: str) -> Moved | Refused:
    """Return what is right and wrong now, and what of it was right at an earlier revision. Refused: as `opened`."""
    old, new = check_of(before, text), check_of(after, text)
    if isinstance(old, Refused):
        return old
    if isinstance(new, Refused):
        return new
    were = {(wrong.line, wrong.column) for wrong in old.wrong}
    return Moved(new, tuple(wrong for wrong in new.wrong if (wrong.line, wrong.column) not in were))


def fill_of(document: Document, text: str) -> Filled | Refused:
    """Return a text with its numbers put right. Refused: as `opened`."""
    found = opened(document)
    return found if isinstance(found, Refused) else fill(text, *found)


def draft_of(document: Document) -> str | Refused:
    """Return the frame of a build's write-up. Refused: as `opened`."""
    found = opened(document)
    if isinstance(found, Refused):
        return found
    context = AuditContext.of(*found)
    unfinished = [f.message for f in audit_of(context) if f.severity in ("breaks-rules", "unfinished")]
    return draft(*found, context.sheets, goals_of(context), unfinished)
