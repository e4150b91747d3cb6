"""Builds and the versions of folios they were made with: which would change and how, and moving one along."""

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from engine.audit.context import Rolls
from engine.build.document import Build, FolioUse
from engine.problem import Refused
from engine.review.approval import Stage
from engine.review.machine import State
from engine.rules.catalog import Catalog
from engine.services import rights
from engine.services.documents import read_document
from engine.services.find import find_build, retired_refusal
from engine.services.folio_finding import find_folio
from engine.services.folio_views import Concerned, ConcernedView, briefs, visible
from engine.services.library import catalog_of
from engine.services.proposal_views import proposal_view, told_by
from engine.services.proposals import opened
from engine.services.revising import proposed_build, revise
from engine.services.rolls import witnessed
from engine.services.shelves import folio_of, meant, of_uses
from engine.services.texts import LONGEST_TITLE
from engine.services.views import BuildView, ProposalView, Ref
from engine.services.views_of import build_view
from engine.services.working import differs
from engine.store.models import BuildRow, FolioRow
from engine.store.uow import UnitOfWork

MOST_CONCERNED: Final = 10
_LOOKED_AT: Final = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class ConcernedBuilds:
    """Ask which builds would change, and how, if they moved to the version of a folio in use.

    removal: if the folio were gone instead, or what it was like before it went.
    """

    server: int
    member: int
    folio: str
    removal: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveBuild:
    """Let a build use the version of a folio that is in use."""

    server: int
    member: int
    build: Ref
    folio: str
    at: datetime


async def concerned_builds(cmd: ConcernedBuilds, uow: UnitOfWork) -> ConcernedView | Refused:
    """Return the builds that the member can see and that would change, each with its difference, by number.

    Refused: "no-such-folio".
    """
    found: list[tuple[BuildView, FolioUse, _Sides]] = []
    more = 0
    async with uow.reading():
        current = await find_folio(uow, cmd.server, cmd.folio, gone=True)
        if isinstance(current, Refused):
            return current
        for row, revision in await uow.folios.builds_with(cmd.server, current.id, _LOOKED_AT):
            use = used(read_document(revision), current.id)
            if use is None or (use.hash == current.hash and not cmd.removal) or not await visible(uow, row, cmd.member):
                continue
            if len(found) == MOST_CONCERNED:
                more += 1
                continue
            view = await build_view(uow, row)
            sides = view if isinstance(view, Refused) else await _sides(uow, view, use, current, removal=cmd.removal)
            if not isinstance(view, Refused) and not isinstance(sides, Refused):
                found.append((view, use, sides))
        [brief] = await briefs(uow, cmd.server, [current])
    builds = [
        Concerned(
            view=view,
            version=use.version,
            difference=await differs(view.build, sides.build, sides.before, sides.after, sides.rolls),
        )
        for view, use, sides in found
    ]
    return ConcernedView(folio=brief, removal=cmd.removal, builds=tuple(builds), more=more)


async def move_build(cmd: MoveBuild, uow: UnitOfWork) -> BuildView | ProposalView | Refused:
    """Let a build use the version of a folio that is in use: its next revision, or a proposal if a GM has approved it.

    Returns: the build with the proposals that followed or are outdated now, or the proposal; or Refused: as
        `find_build`, `find_folio` and `revise`, "not-allowed", "not-used", "nothing-changed", "already-proposed".
    """
    async with uow:
        await uow.people.ensure(cmd.server, cmd.member)
        row = await find_build(uow, cmd.server, cmd.member, cmd.build, for_update=True)
        if isinstance(row, Refused):
            return row
        coauthors = await uow.builds.coauthors(cmd.server, row.number)
        current = (
            rights.refusal(MoveBuild, rights.roles_on_build(cmd.member, row.author, coauthors))
            or retired_refusal(row)
            or await find_folio(uow, cmd.server, cmd.folio)
        )
        if isinstance(current, Refused):
            return current
        revision = await uow.builds.revision(cmd.server, row.number, row.revision)
        assert revision is not None  # the row is only ever saved together with its newest revision
        build = read_document(revision)
        use = used(build, current.id)
        if use is None:
            return Refused("not-used", f"{row.name} does not use {current.title}, so there is nothing to move.")
        if (use.version, use.hash) == (current.version, current.hash):
            return Refused("nothing-changed", f"{row.name} uses {current.title} {current.version} already.")
        after = moved(build, current)
        title = f"{current.title} {current.version} instead of {use.version or 'an unknown version'}"
        submitted = await uow.submissions.of_build(cmd.server, row.number)
        if submitted is None or submitted.stage != Stage.APPROVED.value:
            done = await revise(uow, row, after, actor=cmd.member, at=cmd.at, reason=title)
            if isinstance(done, Refused):
                return done
            view = await build_view(uow, row, followed=done.followed, outdated=done.outdated, notices=done.notices)
            await uow.commit()
            return view
        refused = await _proposed_already(uow, row, after)
        if refused is not None:
            return refused
        reason = f"{current.title} has changed on this server, and {row.name} is approved for play."
        gathered, notices = await opened(
            uow, row, build, after, member=cmd.member, at=cmd.at, title=title[:LONGEST_TITLE], reason=reason
        )
        await uow.commit()
    return await proposal_view(gathered, told=told_by(notices), notices=notices)


def used(build: Build, id_: str) -> FolioUse | None:
    """Return how a build uses a folio; None if it does not."""
    return next((use for use in build.folios if use.id == id_), None)


def moved(build: Build, row: FolioRow) -> Build:
    """Return a build that uses another version of a folio."""
    uses = tuple(
        FolioUse(id=use.id, version=row.version, hash=row.hash) if use.id == row.id else use for use in build.folios
    )
    return build.model_copy(update={"folios": uses})


@dataclass(frozen=True, slots=True)
class _Sides:
    """A build as it would be, the catalogues before and after, and the rolls that it cites."""

    build: Build
    before: Catalog
    after: Catalog
    rolls: Rolls


async def _sides(
    uow: UnitOfWork, view: BuildView, use: FolioUse, current: FolioRow, *, removal: bool
) -> _Sides | Refused:
    """Return what a build is compared with. A folio that is gone counts before as it did when it was there."""
    others = dict(await of_uses(uow, current.server, view.build.folios))
    version = meant(use, await uow.folios.versions(current.server, current.id))
    own = None if version is None else await folio_of(uow, version)
    newest = None if removal else await folio_of(uow, current)
    after = view.build if removal else moved(view.build, current)
    rest = {id_: folio for id_, folio in others.items() if id_ != current.id}
    before_catalog = catalog_of(view.build, rest if own is None else {**rest, current.id: own})
    after_catalog = catalog_of(after, rest if newest is None else {**rest, current.id: newest})
    if isinstance(before_catalog, Refused):
        return before_catalog
    if isinstance(after_catalog, Refused):
        return after_catalog
    rolls = await witnessed(uow, current.server, view.number, view.build)
    return _Sides(after, before_catalog, after_catalog, rolls)


async def _proposed_already(uow: UnitOfWork, row: BuildRow, after: Build) -> Refused | None:
    for each in await uow.proposals.of_build(row.server, row.number, [State.OPEN]):
        _, proposed, _ = await proposed_build(uow, each)
        if proposed == after:
            return Refused("already-proposed", f"Proposal #{each.number} asks for just that; its card is open still.")
    return None
