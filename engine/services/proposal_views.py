"""Views of proposals: all that a card shows, gathered in a transaction and worked out after it."""

from dataclasses import dataclass
from typing import Final

from engine.audit.context import Rolls
from engine.build.document import Build
from engine.build.edits import Edit
from engine.problem import Refused
from engine.review import machine
from engine.review.machine import Proposal
from engine.review.policy import Ballot
from engine.rules.catalog import Catalog
from engine.services.revising import proposed_build
from engine.services.rolls import witnessed
from engine.services.shelves import catalog_here
from engine.services.views import BuildView, CardPlace, Notice, ProposalView, RemarkView
from engine.services.views_of import build_view, card_place, remark_view
from engine.services.working import differs
from engine.store.models import BuildRow, ProposalRow
from engine.store.repos.proposals import read_state
from engine.store.uow import UnitOfWork

_LAST_REMARKS: Final = 3


@dataclass(frozen=True, slots=True)
class Gathered:
    """All that a view of a proposal is made from, read inside one transaction. catalog: of the build as proposed."""

    row: ProposalRow
    state: Proposal
    view: BuildView
    proposed: Build
    catalog: Catalog
    edits: tuple[Edit, ...]
    member: int
    remarks: int
    last_remarks: tuple[RemarkView, ...]
    cards: tuple[CardPlace, ...]
    rolls: Rolls


async def gather(uow: UnitOfWork, row: ProposalRow, build: BuildRow, member: int) -> Gathered:
    """Return what a view of a proposal needs, as `member` sees it. Raises: RuntimeError if it cannot be read."""
    _, proposed, edits = await proposed_build(uow, row)
    view = await build_view(uow, build, row.base)
    if isinstance(view, Refused):
        raise RuntimeError(f"revision {row.base} of build #{build.number} cannot be read: {view.sentence}")
    catalog = await catalog_here(uow, row.server, proposed)
    if isinstance(catalog, Refused):
        raise RuntimeError(f"proposal #{row.number} cannot be read: {catalog.sentence}")
    remarks = await uow.remarks.of(row.server, [row.number], limit=_LAST_REMARKS)
    return Gathered(
        row=row,
        state=read_state(row, build.author, await uow.votes.of(row.server, row.number)),
        view=view,
        proposed=proposed,
        catalog=catalog,
        edits=edits,
        member=member,
        remarks=(await uow.remarks.counts(row.server, [row.number]))[row.number],
        last_remarks=tuple(remark_view(remark, row.title) for remark in reversed(remarks)),
        cards=tuple(card_place(card) for card in await uow.cards.of(row.server, row.number)),
        rolls=await witnessed(uow, row.server, row.build, view.build, proposed),
    )


async def proposal_view(
    found: Gathered,
    *,
    told: tuple[int, ...] = (),
    followed: tuple[int, ...] = (),
    outdated: tuple[int, ...] = (),
    notices: tuple[Notice, ...] = (),
) -> ProposalView:
    """Return the view, with the difference worked out after the transaction."""
    row, state, view = found.row, found.state, found.view
    return ProposalView(
        number=row.number,
        title=row.title,
        reason=row.reason,
        state=state.state,
        proposer=row.proposer,
        created=row.created,
        deadline=state.deadline,
        closed=state.closed,
        closed_by=state.closed_by,
        close_reason=state.close_reason,
        policy=state.policy,
        tally=state.tally,
        votes={} if state.policy.ballot is Ballot.SECRET else dict(state.votes),
        own=state.votes.get(found.member),
        deciders=machine.deciders(state, coauthors=frozenset(view.coauthors)),
        view=view,
        proposed=found.proposed,
        edits=found.edits,
        difference=await differs(view.build, found.proposed, view.catalog, found.catalog, found.rolls),
        remarks=found.remarks,
        last_remarks=found.last_remarks,
        cards=found.cards,
        adopted_as=state.adopted_as,
        clashes=state.clashes,
        told=told,
        followed=followed,
        outdated=outdated,
        notices=notices,
        based_on=row.based_on,
    )


def told_by(notices: tuple[Notice, ...]) -> tuple[int, ...]:
    """Return everybody whom some notices reach, sorted."""
    return tuple(sorted({member for each in notices for member in each.told}))
