"""Proposals: looked at beforehand, posted, decided, withdrawn, refreshed, shown and listed."""

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

from engine.audit.context import Rolls
from engine.build.diff import edits_between
from engine.build.document import Build
from engine.build.edits import Edit
from engine.problem import Refused
from engine.review import machine
from engine.review.machine import Proposal, State
from engine.review.policy import Ballot
from engine.rules.catalog import Catalog
from engine.services import rights
from engine.services.changing import PROPOSING, edited_by
from engine.services.documents import read_document
from engine.services.drafts import find_draft, keep, kept_errors
from engine.services.find import find_build, find_proposal
from engine.services.names import number_of
from engine.services.pages import page_number, paged
from engine.services.revising import joined_with_newest, proposed_build, revise
from engine.services.rolls import witnessed
from engine.services.texts import LONGEST_REASON, LONGEST_TITLE, text_refusal
from engine.services.titles import title_of
from engine.services.views import (
    BuildView,
    CardPlace,
    Page,
    Part,
    ProposalBrief,
    ProposalPreview,
    ProposalView,
    Ref,
    RemarkView,
    Suggestion,
    TextErrors,
)
from engine.services.views_of import build_view, card_place, document_at, remark_view
from engine.services.working import differs
from engine.store.models import BuildRow, ProposalRow, Revision
from engine.store.repos.proposals import read_state, write_state
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


PAGE: Final = 10
_SUGGESTED: Final = 25
_LAST_REMARKS: Final = 3


async def preview_text(cmd: PreviewText, uow: UnitOfWork) -> ProposalPreview | TextErrors | Refused:
    """Return what a text would change in a build, kept as the member's draft of kind "propose-text".

    Returns: the preview; or every error of the text, kept as well; or Refused: as `find_build`, "not-shared",
        "no-such-level", "no-such-revision", "text-empty", "text-too-long", "reason-missing", "reason-too-long",
        "nothing-changed", "edit-clashes".
    """
    refused = text_refusal(cmd.text, cmd.part) or _bad_reason(cmd.reason)
    if refused is not None:
        return refused
    fields = {"part": str(cmd.part), "text": cmd.text}
    return await _preview(cmd, uow, "propose-text", fields, cmd.revision)


async def preview_change(cmd: PreviewChange, uow: UnitOfWork) -> ProposalPreview | TextErrors | Refused:
    """Return what taking off and adding items on a level would change, kept as a draft of kind "propose-change".

    Returns: as `preview_text`; Refused also "nothing-changed" if neither is given, "no-such-item".
    """
    refused = _bad_reason(cmd.reason)
    if refused is not None:
        return refused
    fields = {"level": str(cmd.level), "remove": cmd.remove, "add": cmd.add}
    return await _preview(cmd, uow, "propose-change", fields, None)


async def _preview(
    cmd: PreviewText | PreviewChange, uow: UnitOfWork, kind: str, fields: dict[str, str], asked: int | None
) -> ProposalPreview | TextErrors | Refused:
    async with uow.reading():
        row = await find_build(uow, cmd.server, cmd.member, cmd.build)
        if isinstance(row, Refused):
            return row
        if not row.shared:
            return Refused(
                "not-shared", f"{row.name} is a draft. Share it with /build share, then changes can be proposed."
            )
        found = await document_at(uow, row, asked)
    if isinstance(found, Refused):
        return found
    revision, base, catalog = found
    fields |= {
        "build": str(row.number),
        "reason": cmd.reason,
        "title": cmd.title,
        "revision": str(revision.number),
    }
    edited = await edited_by(base, kind, fields, catalog)
    if isinstance(edited, Refused):
        return edited
    async with uow:
        await uow.people.ensure(cmd.server, cmd.member)
        row = await find_build(uow, cmd.server, cmd.member, row.number)
        if isinstance(row, Refused):
            return row
        if not isinstance(edited, Build):
            errors = await kept_errors(uow, cmd.server, cmd.member, kind, fields, edited, cmd.at)
            await uow.commit()
            return errors
        proposed = await joined_with_newest(uow, row, revision, base, edited)
        if isinstance(proposed, Refused):
            return proposed
        view = await build_view(uow, row)
        if isinstance(view, Refused):
            return view
        rolls = await witnessed(uow, cmd.server, row.number, view.build, proposed)
        draft = await keep(uow, cmd.server, cmd.member, kind, fields, cmd.at)
        await uow.commit()
    return ProposalPreview(
        draft=draft.id,
        view=view,
        proposed=proposed,
        edits=tuple(edits_between(view.build, proposed)),
        title=cmd.title.strip()[:LONGEST_TITLE] or title_of(view.build, proposed, catalog),
        reason=cmd.reason,
        difference=await differs(view.build, proposed, catalog, catalog, rolls),
    )


async def post_proposal(cmd: PostProposal, uow: UnitOfWork) -> ProposalView | Refused:
    """Open a proposal from a previewed draft, which goes, so that a second press posts nothing twice.

    Returns: the proposal, `told` naming the build's author; or Refused: "draft-gone", "draft-has-errors", "not-shared",
        and as `find_build`, `preview_text`.
    """
    prepared = await _prepared(cmd, uow)
    if isinstance(prepared, Refused):
        return prepared
    async with uow:
        found = await _fitted(cmd, uow, prepared)
        if isinstance(found, Refused):
            return found
        row, newest, proposed = found
        state, event = machine.open_proposal(
            proposer=cmd.member, author=row.author, base=row.revision, at=cmd.at, reason=prepared.reason
        )
        number = await uow.people.next_number(cmd.server)
        each = ProposalRow(
            server=cmd.server,
            number=number,
            build=row.number,
            proposer=cmd.member,
            title=prepared.title or title_of(newest, proposed, prepared.catalog),
            reason=prepared.reason,
            created=cmd.at,
        )
        write_state(each, state)
        await uow.proposals.add(each, [(e.path, e.before, e.after) for e in edits_between(newest, proposed)])
        uow.history.append_event(cmd.server, number, event)
        gathered = await _gather(uow, each, row, cmd.member)
        await uow.commit()
    told = (row.author,) if row.author != cmd.member else ()
    return await _view(gathered, told=told)


async def adopt_proposal(cmd: AdoptProposal, uow: UnitOfWork) -> ProposalView | Refused:
    """Make an open proposal the next revision of its build; other open ones follow it, or are outdated by it.

    Returns: the proposal, `view` and `proposed` as at the adoption, `told` naming its proposer and those of proposals
        that are outdated now; or Refused: as `find_proposal` and `machine.adopt`, "not-allowed", "name-taken".
    """
    async with uow:
        found = await _for_deciding(cmd, uow)
        if isinstance(found, Refused):
            return found
        each, row, state = found
        outcome = machine.adopt(state, cmd.member, revision=row.revision + 1, at=cmd.at, reason=_reason(cmd))
        if isinstance(outcome, Refused):
            return outcome
        state, event = outcome
        _, proposed, _ = await proposed_build(uow, each)
        gathered = await _gather(uow, each, row, cmd.member)
        write_state(each, state)
        uow.history.append_event(cmd.server, each.number, event)
        moved = await revise(
            uow, row, proposed, actor=cmd.member, at=cmd.at, reason=f"adopted #{each.number}: {each.title}",
            proposal=each.number,
        )  # fmt: skip
        if isinstance(moved, Refused):
            return moved
        others = [await uow.proposals.get(cmd.server, number) for number in moved.outdated]
        await uow.commit()
    told = {each.proposer, *(other.proposer for other in others if other is not None)} - {cmd.member}
    return await _view(
        replace(gathered, state=state), told=tuple(sorted(told)), followed=moved.followed, outdated=moved.outdated
    )


async def decline_proposal(cmd: DeclineProposal, uow: UnitOfWork) -> ProposalView | Refused:
    """Close a proposal without adopting it.

    Returns: the proposal, `told` naming its proposer; or Refused: as `find_proposal`, "not-allowed", and codes of
        `machine.decline`.
    """
    return await _close(cmd, uow)


async def withdraw_proposal(cmd: WithdrawProposal, uow: UnitOfWork) -> ProposalView | Refused:
    """Take one's own proposal back.

    Returns: the proposal, `told` naming the build's author; or Refused: as `find_proposal`, "not-allowed", and codes of
        `machine.withdraw`.
    """
    return await _close(cmd, uow)


async def _close(cmd: DeclineProposal | WithdrawProposal, uow: UnitOfWork) -> ProposalView | Refused:
    async with uow:
        found = await _for_deciding(cmd, uow)
        if isinstance(found, Refused):
            return found
        each, row, state = found
        if isinstance(cmd, DeclineProposal):
            outcome = machine.decline(state, cmd.member, at=cmd.at, reason=_reason(cmd))
        else:
            outcome = machine.withdraw(state, cmd.member, at=cmd.at, reason=_reason(cmd))
        if isinstance(outcome, Refused):
            return outcome
        state, event = outcome
        write_state(each, state)
        uow.history.append_event(cmd.server, each.number, event)
        gathered = await _gather(uow, each, row, cmd.member)
        await uow.commit()
    told = {each.proposer if isinstance(cmd, DeclineProposal) else row.author} - {cmd.member}
    return await _view(gathered, told=tuple(told))


async def refresh_proposal(cmd: RefreshProposal, uow: UnitOfWork) -> ProposalView | Refused:
    """Open an outdated proposal again with the edits of a previewed draft; its votes go.

    Returns: the proposal, `told` naming the members whose votes went; or Refused: as `post_proposal`, "not-allowed",
        "other-build" for a draft on another build, and codes of `machine.refresh`.
    """
    prepared = await _prepared(cmd, uow)
    if isinstance(prepared, Refused):
        return prepared
    async with uow:
        found = await _for_deciding(cmd, uow)
        if isinstance(found, Refused):
            return found
        each, row, state = found
        if row.number != prepared.build:
            return Refused("other-build", f"That text changes another build than the one of proposal #{each.number}.")
        fitted = await _fitted(cmd, uow, prepared)
        if isinstance(fitted, Refused):
            return fitted
        _, newest, proposed = fitted
        outcome = machine.refresh(state, cmd.member, base=row.revision, at=cmd.at, reason=prepared.reason)
        if isinstance(outcome, Refused):
            return outcome
        state, event, voters = outcome
        write_state(each, state)
        each.title = prepared.title or title_of(newest, proposed, prepared.catalog)
        each.reason = prepared.reason
        await uow.votes.clear(cmd.server, each.number)
        edits = edits_between(newest, proposed)
        await uow.proposals.set_edits(cmd.server, each.number, [(e.path, e.before, e.after) for e in edits])
        uow.history.append_event(cmd.server, each.number, event)
        gathered = await _gather(uow, each, row, cmd.member)
        await uow.commit()
    return await _view(gathered, told=tuple(voter for voter in voters if voter != cmd.member))


async def show_proposal(cmd: ShowProposal, uow: UnitOfWork) -> ProposalView | Refused:
    """Return a proposal with all that its card shows. Refused: as `find_proposal`."""
    async with uow.reading():
        found = await find_proposal(uow, cmd.server, cmd.member, cmd.proposal)
        if isinstance(found, Refused):
            return found
        gathered = await _gather(uow, *found, cmd.member)
    return await _view(gathered)


async def list_proposals(cmd: ListProposals, uow: UnitOfWork) -> Page[ProposalBrief] | Refused:
    """Return a page of proposals. Refused: as `find_build`, if a build is named."""
    number = page_number(cmd.page)
    async with uow.reading():
        build: int | None = None
        if cmd.build is not None:
            row = await find_build(uow, cmd.server, cmd.member, cmd.build)
            if isinstance(row, Refused):
                return row
            build = row.number
        found = await uow.proposals.page(
            cmd.server,
            cmd.member,
            build=build,
            proposer=cmd.proposer,
            state=cmd.state,
            limit=PAGE + 1,
            offset=(number - 1) * PAGE,
        )
        numbers = [each.number for each, _ in found]
        tallies = await uow.votes.tallies(cmd.server, numbers)
        remarks = await uow.remarks.counts(cmd.server, numbers)
    return paged(
        [
            ProposalBrief(
                number=each.number,
                title=each.title,
                state=State(each.state),
                build=each.build,
                build_name=name,
                proposer=each.proposer,
                created=each.created,
                deadline=each.deadline,
                tally=tallies[each.number],
                remarks=remarks[each.number],
            )
            for each, name in found
        ],
        number,
        PAGE,
    )


async def suggest_proposals(cmd: SuggestProposals, uow: UnitOfWork) -> list[Suggestion]:
    """Return proposals for an autocomplete, by number, title or build name, among the newest two hundred."""
    async with uow.reading():
        found = await uow.proposals.suggest(cmd.server, cmd.member, limit=200)
    asked = number_of(cmd.text)
    words = cmd.text.strip().casefold()
    fitting = [
        Suggestion(f"#{number} {title} · {build}" + ("" if state == State.OPEN.value else f" ({state})"), number)
        for number, title, build, state in found
        if (str(number).startswith(str(asked)) if asked is not None else words in f"{title} {build}".casefold())
    ]
    return fitting[:_SUGGESTED]


@dataclass(frozen=True, slots=True)
class _Prepared:
    """A draft read again: what it was made from, and what it makes of that."""

    draft: int
    build: int
    revision: Revision
    base: Build
    edited: Build
    catalog: Catalog
    reason: str
    title: str


async def _prepared(cmd: PostProposal | RefreshProposal, uow: UnitOfWork) -> _Prepared | Refused:
    async with uow.reading():
        draft = await find_draft(uow, cmd.server, cmd.member, cmd.draft)
        if isinstance(draft, Refused):
            return draft
        fields = draft.fields
        if draft.kind not in PROPOSING:
            return Refused("draft-gone", "That text was not written for a proposal. Start again with /propose.")
        row = await find_build(uow, cmd.server, cmd.member, fields["build"])
        found = row if isinstance(row, Refused) else await document_at(uow, row, int(fields["revision"]))
    if isinstance(found, Refused):
        return found
    revision, base, catalog = found
    edited = await edited_by(base, draft.kind, fields, catalog)
    if isinstance(edited, Refused):
        return edited
    if not isinstance(edited, Build):
        return Refused("draft-has-errors", f"That text still has errors: {edited[0].sentence} Change it first.")
    return _Prepared(
        draft.id,
        revision.build,
        revision,
        base,
        edited,
        catalog,
        fields["reason"],
        fields["title"].strip()[:LONGEST_TITLE],
    )


async def _fitted(
    cmd: PostProposal | RefreshProposal, uow: UnitOfWork, prepared: _Prepared
) -> tuple[BuildRow, Build, Build] | Refused:
    """Return the build held for update, its newest document and what the draft makes of it; the draft is used up."""
    if not await uow.drafts.use_up(cmd.server, cmd.member, prepared.draft):
        return Refused("draft-gone", "That text was posted already. /proposal list shows it.")
    row = await find_build(uow, cmd.server, cmd.member, prepared.build, for_update=True)
    if isinstance(row, Refused):
        return row
    if not row.shared:
        return Refused(
            "not-shared", f"{row.name} is a draft. Share it with /build share, then changes can be proposed."
        )
    proposed = await joined_with_newest(uow, row, prepared.revision, prepared.base, prepared.edited)
    newest = await uow.builds.revision(cmd.server, row.number, row.revision)
    if isinstance(proposed, Refused):
        return proposed
    assert newest is not None  # the row is only ever saved together with its newest revision
    before = read_document(newest)
    if proposed == before:
        return Refused("nothing-changed", f"{row.name} says all of this by now, so there is nothing to propose.")
    return row, before, proposed


async def _for_deciding(
    cmd: AdoptProposal | DeclineProposal | WithdrawProposal | RefreshProposal, uow: UnitOfWork
) -> tuple[ProposalRow, BuildRow, Proposal] | Refused:
    """Return a proposal held for update, its build and its state, if the member may do what the command says."""
    found = await find_proposal(uow, cmd.server, cmd.member, cmd.proposal, for_update=True)
    if isinstance(found, Refused):
        return found
    each, row = found
    state = read_state(each, row.author, await uow.votes.of(cmd.server, each.number))
    return rights.refusal(type(cmd), rights.roles_on_proposal(cmd.member, state)) or (each, row, state)


@dataclass(frozen=True, slots=True)
class _Gathered:
    """All that a view of a proposal is made from, read inside one transaction."""

    row: ProposalRow
    state: Proposal
    view: BuildView
    proposed: Build
    edits: tuple[Edit, ...]
    member: int
    remarks: int
    last_remarks: tuple[RemarkView, ...]
    cards: tuple[CardPlace, ...]
    rolls: Rolls


async def _gather(uow: UnitOfWork, row: ProposalRow, build: BuildRow, member: int) -> _Gathered:
    _, proposed, edits = await proposed_build(uow, row)
    view = await build_view(uow, build, row.base)
    if isinstance(view, Refused):
        raise RuntimeError(f"revision {row.base} of build #{build.number} cannot be read: {view.sentence}")
    remarks = await uow.remarks.of(row.server, row.number, limit=_LAST_REMARKS)
    return _Gathered(
        row=row,
        state=read_state(row, build.author, await uow.votes.of(row.server, row.number)),
        view=view,
        proposed=proposed,
        edits=edits,
        member=member,
        remarks=(await uow.remarks.counts(row.server, [row.number]))[row.number],
        last_remarks=tuple(remark_view(remark, row.title) for remark in reversed(remarks)),
        cards=tuple(card_place(card) for card in await uow.cards.of(row.server, row.number)),
        rolls=await witnessed(uow, row.server, row.build, view.build, proposed),
    )


async def _view(
    found: _Gathered,
    *,
    told: tuple[int, ...] = (),
    followed: tuple[int, ...] = (),
    outdated: tuple[int, ...] = (),
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
        deciders=machine.deciders(state),
        view=view,
        proposed=found.proposed,
        edits=found.edits,
        difference=await differs(view.build, found.proposed, view.catalog, view.catalog, found.rolls),
        remarks=found.remarks,
        last_remarks=found.last_remarks,
        cards=found.cards,
        adopted_as=state.adopted_as,
        clashes=state.clashes,
        told=told,
        followed=followed,
        outdated=outdated,
    )


def _reason(cmd: AdoptProposal | DeclineProposal | WithdrawProposal) -> str:
    return cmd.reason.strip()[:LONGEST_REASON]


def _bad_reason(reason: str) -> Refused | None:
    if not reason.strip():
        return Refused("reason-missing", "Say in a sentence why the build should change; people vote on reasons.")
    if len(reason) > LONGEST_REASON:
        return Refused(
            "reason-too-long", f"That reason has {len(reason):,} characters; it may have {LONGEST_REASON:,}."
        )
    return None
