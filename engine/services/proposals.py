"""Proposals: looked at beforehand, posted, decided, withdrawn, refreshed, shown and listed."""

from dataclasses import dataclass
from datetime import datetime

from engine.problem import Refused
from engine.review.machine import State
from engine.services.views import Page, Part, ProposalBrief, ProposalPreview, ProposalView, Ref, Suggestion, TextErrors
from engine.store.uow import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class PreviewText:
    """See what a text would change, before it is posted; the text is kept as the member's draft either way.

    revision: the one that the form was filled from, None for the newest.
    """

    server: int
    member: int
    build: Ref
    part: Part
    text: str
    reason: str
    at: datetime
    title: str = ""
    revision: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PreviewChange:
    """See what taking something off a level and adding something would change. Both are outline items."""

    server: int
    member: int
    build: Ref
    level: int
    remove: str
    add: str
    reason: str
    at: datetime
    title: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PostProposal:
    """Put a previewed draft before the server. draft: `ProposalPreview.draft`."""

    server: int
    member: int
    draft: int
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class AdoptProposal:
    """Make a proposal the build's next revision."""

    server: int
    member: int
    proposal: Ref
    at: datetime
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DeclineProposal:
    """Close a proposal without adopting it."""

    server: int
    member: int
    proposal: Ref
    at: datetime
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WithdrawProposal:
    """Take one's own proposal back."""

    server: int
    member: int
    proposal: Ref
    at: datetime
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RefreshProposal:
    """Fit one's own outdated proposal to the build as it is now: a previewed draft of new edits. Its votes go.

    draft: a `PreviewText` or `PreviewChange` draft on the same build.
    """

    server: int
    member: int
    proposal: Ref
    draft: int
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class ShowProposal:
    """Ask for a proposal with all that its card shows."""

    server: int
    member: int
    proposal: Ref


@dataclass(frozen=True, slots=True, kw_only=True)
class ListProposals:
    """Ask for a page of proposals on builds that the member may see, newest first. state None: of any state."""

    server: int
    member: int
    build: Ref | None = None
    proposer: int | None = None
    state: State | None = State.OPEN
    page: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class SuggestProposals:
    """Ask for up to 25 proposals whose number, title or build name begins like the text; open ones first."""

    server: int
    member: int
    text: str = ""


async def preview_text(cmd: PreviewText, uow: UnitOfWork) -> ProposalPreview | TextErrors | Refused: ...
async def preview_change(cmd: PreviewChange, uow: UnitOfWork) -> ProposalPreview | TextErrors | Refused: ...
async def post_proposal(cmd: PostProposal, uow: UnitOfWork) -> ProposalView | Refused: ...
async def adopt_proposal(cmd: AdoptProposal, uow: UnitOfWork) -> ProposalView | Refused: ...
async def decline_proposal(cmd: DeclineProposal, uow: UnitOfWork) -> ProposalView | Refused: ...
async def withdraw_proposal(cmd: WithdrawProposal, uow: UnitOfWork) -> ProposalView | Refused: ...
async def refresh_proposal(cmd: RefreshProposal, uow: UnitOfWork) -> ProposalView | Refused: ...
async def show_proposal(cmd: ShowProposal, uow: UnitOfWork) -> ProposalView | Refused: ...
async def list_proposals(cmd: ListProposals, uow: UnitOfWork) -> Page[ProposalBrief] | Refused: ...
async def suggest_proposals(cmd: SuggestProposals, uow: UnitOfWork) -> list[Suggestion]: ...
