"""What the audit says of a build, and the edits that mend a finding: made by its author, proposed by others."""

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from engine.audit import Finding, mendings
from engine.audit.audit import audit_of
from engine.audit.context import AuditContext, Rolls
from engine.build.document import Build
from engine.build.edits import Edit, apply
from engine.problem import Refused
from engine.review.approval import finding_key
from engine.rules.catalog import Catalog
from engine.services import rights
from engine.services.changing import part_of_edits
from engine.services.find import find_build
from engine.services.proposals import PreviewText, preview_text
from engine.services.revising import revise
from engine.services.rolls import witnessed
from engine.services.texts import print_part
from engine.services.titles import title_of
from engine.services.views import AuditView, BuildView, Mend, ProposalPreview, Ref, TextErrors
from engine.services.views_of import build_view
from engine.store.uow import UnitOfWork

# As many as fit one row of buttons.
MOST_MENDS: Final = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class AuditBuild:
    """Ask what the audit says of a build at its newest revision."""

    server: int
    member: int
    build: Ref


@dataclass(frozen=True, slots=True, kw_only=True)
class MendFinding:
    """Do away with a finding of one's own build. finding: `Mend.key`."""

    server: int
    member: int
    build: Ref
    finding: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class PreviewMend:
    """See what doing away with a finding would change, kept as a draft that can be posted as a proposal."""

    server: int
    member: int
    build: Ref
    finding: str
    at: datetime


async def audit_build(cmd: AuditBuild, uow: UnitOfWork) -> AuditView | Refused:
    """Return every finding of a build, and those that can be mended in exactly one way. Refused: as `find_build`."""
    async with uow.reading():
        found = await _read(cmd, uow)
    if isinstance(found, Refused):
        return found
    view, rolls = found
    return await _audited(view, rolls)


async def mend_finding(cmd: MendFinding, uow: UnitOfWork) -> BuildView | Refused:
    """Make the edits that do away with a finding the build's next revision.

    Returns: the build, with the open proposals that followed or are outdated now; or Refused: as `find_build` and
        `revise`, "not-allowed", "build-moved-on", "finding-gone" where the finding is there no more or not in this way.
    """
    async with uow.reading():
        found = await _allowed(cmd, uow)
    if isinstance(found, Refused):
        return found
    view, rolls = found
    mend = await _mend(view, rolls, cmd.finding)
    if isinstance(mend, Refused):
        return mend
    after = _mended(view.build, mend.edits)
    async with uow:
        row = await find_build(uow, cmd.server, cmd.member, view.number, for_update=True)
        if isinstance(row, Refused):
            return row
        if row.revision != view.revision.number:
            return Refused("build-moved-on", f"{row.name} has changed meanwhile; look at its audit again.")
        moved = await revise(uow, row, after, actor=cmd.member, at=cmd.at, reason=f"mended: {mend.title}")
        if isinstance(moved, Refused):
            return moved
        mended = await build_view(uow, row, followed=moved.followed, outdated=moved.outdated)
        await uow.commit()
    return mended


async def preview_mend(cmd: PreviewMend, uow: UnitOfWork) -> ProposalPreview | TextErrors | Refused:
    """Return what the edits that do away with a finding would change; the draft can be posted with `PostProposal`.

    Refused: as `audit_build` and `preview_text`, "finding-gone".
    """
    async with uow.reading():
        found = await _read(cmd, uow)
    if isinstance(found, Refused):
        return found
    view, rolls = found
    mend = await _mend(view, rolls, cmd.finding)
    if isinstance(mend, Refused):
        return mend
    after = _mended(view.build, mend.edits)
    part = part_of_edits(mend.edits, after)
    command = PreviewText(
        server=cmd.server,
        member=cmd.member,
        build=view.number,
        part=part,
        text=print_part(after, part, view.catalog),
        reason=f"Mends a finding: {mend.finding.message}"[:300],
        revision=view.revision.number,
        at=cmd.at,
    )
    return await preview_text(command, uow)


async def _read(cmd: AuditBuild | MendFinding | PreviewMend, uow: UnitOfWork) -> tuple[BuildView, Rolls] | Refused:
    row = await find_build(uow, cmd.server, cmd.member, cmd.build)
    view = row if isinstance(row, Refused) else await build_view(uow, row)
    if isinstance(view, Refused):
        return view
    return view, await witnessed(uow, cmd.server, view.number, view.build)


async def _allowed(cmd: MendFinding, uow: UnitOfWork) -> tuple[BuildView, Rolls] | Refused:
    found = await _read(cmd, uow)
    if isinstance(found, Refused):
        return found
    view = found[0]
    coauthors = await uow.builds.coauthors(cmd.server, view.number)
    return rights.refusal(type(cmd), rights.roles_on_build(cmd.member, view.author, coauthors)) or found


async def _audited(view: BuildView, rolls: Rolls) -> AuditView:
    findings, edits = await asyncio.to_thread(_worked, view.build, view.catalog, rolls)
    mends = tuple(
        Mend(
            key=finding_key(found),
            finding=found,
            edits=its,
            title=title_of(view.build, _mended(view.build, its), view.catalog),
        )
        for found, its in edits.items()
    )
    return AuditView(view=view, findings=findings, mends=mends)


def _worked(
    build: Build, catalog: Catalog, rolls: Rolls
) -> tuple[tuple[Finding, ...], Mapping[Finding, tuple[Edit, ...]]]:
    ctx = AuditContext.of(build, catalog, rolls=rolls)
    findings = audit_of(ctx)
    return findings, mendings(ctx, findings, MOST_MENDS)


async def _mend(view: BuildView, rolls: Rolls, key: str) -> Mend | Refused:
    found = await _audited(view, rolls)
    mend = next((each for each in found.mends if each.key == key), None)
    if mend is None:
        return Refused(
            "finding-gone",
            f"That finding of {view.name} is there no more, or not so; look at its audit again.",
        )
    return mend


def _mended(build: Build, edits: tuple[Edit, ...]) -> Build:
    after = apply(build, edits)
    if isinstance(after, Refused):
        raise RuntimeError(f"the edits that mend a finding do not fit its own build: {after.sentence}")
    return after
