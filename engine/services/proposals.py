"""Proposals: looked at beforehand, posted, decided, withdrawn, refreshed, shown and listed."""

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

from engine.build.diff import edits_between
from engine.build.document import Build
from engine.build.outline import CatalogFor
from engine.problem import Refused
from engine.review import machine
from engine.review.events import Event
from engine.review.machine import Proposal, State
from engine.rules.catalog import Catalog
from engine.services import rights
from engine.services.changing import PROPOSING, edited_by, part_of_edits
from engine.services.documents import read_document
from engine.services.drafts import find_draft, keep, kept_errors
from engine.services.find import find_build, find_proposal, retired_refusal
from engine.services.names import number_of
from engine.services.pages import page_number, paged
from engine.services.proposal_views import Gathered, gather, proposal_view, told_by
from engine.services.revising import Moved, joined_with_newest, proposed_build, revise
from engine.services.rolls import witnessed
from engine.services.shelves import catalog_here, reading_by
from engine.services.standing import gms_for, notice, policy_for
from engine.services.texts import LONGEST_REASON, LONGEST_TITLE, part_refusal, print_part, text_refusal
from engine.services.titles import title_of
from engine.services.views import (
    Notice,
    NoticeKind,
    Page,
    Part,
    PartText,
    ProposalBrief,
    ProposalPreview,
    ProposalView,
    Ref,
    Suggestion,
    TextErrors,
)
from engine.services.views_of import build_view, document_at
from engine.services.working import differs
from engine.store.models import BuildRow, ProposalRow, Revision
from engine.store.repos.proposals import read_state, write_state
from engine.store.uow import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class PreviewText:
    """See what a text would change, before it is posted; the text is kept as the member's draft either way.

    revision: the one that the form was filled from, None for the newest. based_on: another proposal to the build, whose
    edits this one starts from: the text then stands for the build as that one would make it. instead: a proposal of the
    member's own that the text is to take the place of.
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
    based_on: Ref | None = None
    instead: Ref | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PreviewChange:
    """See what taking something off a level and adding something would change. Both are outline items.

    based_on, instead: as in `PreviewText`.
    """

    server: int
    member: int
    build: Ref
    level: int
    remove: str
    add: str
    reason: str
    at: datetime
    title: str = ""
    based_on: Ref | None = None
    instead: Ref | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PostProposal:
    """Put a previewed draft before the server. draft: `ProposalPreview.draft`."""

    server: int
    member: int
    draft: int
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class AdoptProposal:
    """Make a proposal the build's next revision. manager: whether the member manages the server."""

    server: int
    member: int
    proposal: Ref
    at: datetime
    reason: str = ""
    manager: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class DeclineProposal:
    """Close a proposal without adopting it. manager: whether the member manages the server."""

    server: int
    member: int
    proposal: Ref
    at: datetime
    reason: str = ""
    manager: bool = False


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
class AmendProposal:
    """Put a previewed draft of new edits in the place of one's own proposal, while nobody has voted on it."""

    server: int
    member: int
    proposal: Ref
    draft: int
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadProposed:
    """Ask for a part of a build as a proposal would make it, to fill a form with.

    part None: what the proposal is about: its one level, else the header, else the whole. own: only if the proposal is
    the member's own.
    """

    server: int
    member: int
    proposal: Ref
    part: Part | None = None
    own: bool = False


@dataclass(frozen=True, slots=True)
class Proposed:
    """A part of a build as a proposal would make it. text.revision: the newest of the build."""

    proposal: int
    reason: str
    text: PartText


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


async def preview_text(cmd: PreviewText, uow: UnitOfWork) -> ProposalPreview | TextErrors | Refused:
    """Return what a text would change in a build, kept as the member's draft of kind "propose-text".

    Returns: the preview; or every error of the text, kept as well; or Refused: as `find_build`, "not-shared",
        "no-such-level", "no-such-revision", "text-empty", "text-too-long", "reason-missing", "reason-too-long",
        "nothing-changed", "edit-clashes", "build-retired"; as `find_proposal` and "other-build", "not-allowed" for
        the proposals named.
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
        own = await _own_proposal(uow, cmd, row)
        if isinstance(own, Refused):
            return own
        start = await _start(uow, cmd.member, row, asked, cmd.based_on, fields.get("text", ""))
    if isinstance(start, Refused):
        return start
    fields |= {
        "build": str(row.number),
        "reason": cmd.reason,
        "title": cmd.title,
        "revision": str(start.revision.number),
        "based_on": "" if start.based_on is None else str(start.based_on),
        "instead": "" if own is None else str(own.number),
    }
    edited = await edited_by(start.build, kind, fields, start.catalog, start.finder)
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
        proposed = await _joined(uow, row, start, edited)
        if isinstance(proposed, Refused):
            return proposed
        view = await build_view(uow, row)
        if isinstance(view, Refused):
            return view
        catalog = await catalog_here(uow, cmd.server, proposed)
        if isinstance(catalog, Refused):
            return catalog
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
        difference=await differs(view.build, proposed, view.catalog, catalog, rolls),
        instead=None if own is None else own.number,
        based_on=start.based_on,
    )


@dataclass(frozen=True, slots=True)
class _Start:
    """What a draft is written for: a revision, and the build that its text stands for a part of.

    base: the revision's own build. Both builds differ where the draft starts from another proposal's edits.
    catalog: of `build`; finder: finds that of the draft's text, which may name other folios.
    """

    revision: Revision
    base: Build
    build: Build
    catalog: Catalog
    finder: CatalogFor
    based_on: int | None = None


async def _start(
    uow: UnitOfWork, member: int, row: BuildRow, asked: int | None, based_on: Ref | None, text: str
) -> _Start | Refused:
    refused = retired_refusal(row)
    if refused is not None:
        return refused
    other = None
    if based_on is not None:
        found = await find_proposal(uow, row.server, member, based_on)
        if isinstance(found, Refused):
            return found
        other, build = found
        if build.number != row.number:
            return Refused("other-build", f"Proposal #{other.number} is to {build.name}, not to {row.name}.")
        asked = other.base
    document = await document_at(uow, row, asked)
    if isinstance(document, Refused):
        return document
    revision, base, catalog = document
    if other is None:
        return _Start(revision, base, base, catalog, await reading_by(uow, row.server, text, base))
    _, proposed, _ = await proposed_build(uow, other)
    its = await catalog_here(uow, row.server, proposed)
    if isinstance(its, Refused):
        return its
    finder = await reading_by(uow, row.server, text, proposed)
    return _Start(revision, base, proposed, its, finder, other.number)


async def _own_proposal(
    uow: UnitOfWork, cmd: PreviewText | PreviewChange, row: BuildRow
) -> ProposalRow | Refused | None:
    """Return the proposal that a draft is to take the place of, if any: the member's own, to the build."""
    if cmd.instead is None:
        return None
    found = await find_proposal(uow, cmd.server, cmd.member, cmd.instead)
    if isinstance(found, Refused):
        return found
    own, build = found
    if build.number != row.number:
        return Refused("other-build", f"Proposal #{own.number} is to {build.name}, not to {row.name}.")
    if own.proposer != cmd.member:
        return Refused("not-allowed", "Only the member who made the proposal can change it.")
    return own


async def _joined(uow: UnitOfWork, row: BuildRow, start: _Start, edited: Build) -> Build | Refused:
    """Return what the newest revision becomes by a draft. Refused: as `joined_with_newest`."""
    if start.based_on is not None and edited == start.build:
        return Refused(
            "nothing-changed", f"That is what proposal #{start.based_on} says already; change something about it."
        )
    return await joined_with_newest(uow, row, start.revision, start.base, edited)


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
        row, newest, proposed, catalog = found
        gathered, notices = await opened(
            uow,
            row,
            newest,
            proposed,
            member=cmd.member,
            at=cmd.at,
            title=prepared.title or title_of(newest, proposed, catalog),
            reason=prepared.reason,
            based_on=prepared.start.based_on,
        )
        await uow.commit()
    return await proposal_view(gathered, told=told_by(notices), notices=notices)


async def opened(
    uow: UnitOfWork,
    row: BuildRow,
    newest: Build,
    proposed: Build,
    *,
    member: int,
    at: datetime,
    title: str,
    reason: str,
    based_on: int | None = None,
) -> tuple[Gathered, tuple[Notice, ...]]:
    """Open a proposal to a build held for update, inside a transaction; return what its view needs, and the notices."""
    state, event = machine.open_proposal(
        proposer=member,
        author=row.author,
        base=row.revision,
        at=at,
        reason=reason,
        policy=await policy_for(uow, row),
    )
    number = await uow.people.next_number(row.server)
    each = ProposalRow(
        server=row.server,
        number=number,
        build=row.number,
        proposer=member,
        title=title,
        reason=reason,
        created=at,
        based_on=based_on,
    )
    write_state(each, state)
    await uow.proposals.add(each, [(e.path, e.before, e.after) for e in edits_between(newest, proposed)])
    uow.history.append_event(row.server, number, event)
    gathered = await gather(uow, each, row, member)
    concerned = [row.author, *gathered.view.coauthors]
    return gathered, await notice(uow, row.server, number, title, "proposed", concerned, member)


async def adopt_proposal(cmd: AdoptProposal, uow: UnitOfWork) -> ProposalView | Refused:
    """Make an open proposal the next revision of its build; other open ones follow it, or are outdated by it.

    Returns: the proposal, `view` and `proposed` as at the adoption, `told` naming its proposer and those of proposals
        that are outdated now; or Refused: as `find_proposal` and `machine.adopt`, "not-allowed", "name-taken".
    """
    async with uow:
        found = await _for_deciding(cmd, uow)
        if isinstance(found, Refused):
            return found
        each, row, state, standing = found
        outcome = machine.adopt(
            state,
            cmd.member,
            revision=row.revision + 1,
            at=cmd.at,
            reason=_reason(cmd),
            gms=standing.gms,
            coauthors=standing.coauthors,
        )
        if isinstance(outcome, Refused):
            return outcome
        adopted = await carry_out(uow, each, row, outcome, actor=cmd.member, at=cmd.at)
        if isinstance(adopted, Refused):
            return adopted
        await uow.commit()
    return await adopted_view(adopted)


@dataclass(frozen=True, slots=True)
class Adopted:
    """An adoption inside its transaction: the proposal as it stood just before, with its state after, and the rest."""

    gathered: Gathered
    moved: Moved
    notices: tuple[Notice, ...]


async def carry_out(
    uow: UnitOfWork, each: ProposalRow, row: BuildRow, outcome: machine.Outcome, *, actor: int | None, at: datetime
) -> Adopted | Refused:
    """Store an adoption that the machine granted: state, history, revision. actor None: the vote decided.

    Refused: as `revise`; then nothing may be committed.
    """
    state, event = outcome
    _, proposed, _ = await proposed_build(uow, each)
    gathered = await gather(uow, each, row, actor or 0)
    write_state(each, state)
    uow.history.append_event(row.server, each.number, event)
    moved = await revise(
        uow, row, proposed, actor=actor, at=at, reason=f"adopted #{each.number}: {each.title}",
        proposal=each.number, author=each.proposer if actor is None else actor,
    )  # fmt: skip
    if isinstance(moved, Refused):
        return moved
    concerned = [each.proposer] if actor is not None else [each.proposer, row.author, *gathered.view.coauthors]
    notices = await notice(uow, row.server, each.number, each.title, "adopted", concerned, actor)
    return Adopted(replace(gathered, state=state), moved, notices + moved.notices)


async def adopted_view(adopted: Adopted) -> ProposalView:
    """Return the view of an adoption, after its transaction."""
    return await proposal_view(
        adopted.gathered,
        told=told_by(adopted.notices),
        followed=adopted.moved.followed,
        outdated=adopted.moved.outdated,
        notices=adopted.notices,
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
        each, row, state, standing = found
        if isinstance(cmd, DeclineProposal):
            outcome = machine.decline(
                state,
                cmd.member,
                at=cmd.at,
                reason=_reason(cmd),
                gms=standing.gms,
                coauthors=standing.coauthors,
            )
        else:
            outcome = machine.withdraw(state, cmd.member, at=cmd.at, reason=_reason(cmd))
        if isinstance(outcome, Refused):
            return outcome
        state, event = outcome
        write_state(each, state)
        uow.history.append_event(cmd.server, each.number, event)
        gathered = await gather(uow, each, row, cmd.member)
        declined = isinstance(cmd, DeclineProposal)
        notices = await notice(
            uow,
            cmd.server,
            each.number,
            each.title,
            "declined" if declined else "withdrawn",
            [each.proposer] if declined else [row.author, *standing.coauthors],
            cmd.member,
        )
        await uow.commit()
    return await proposal_view(gathered, told=told_by(notices), notices=notices)


async def refresh_proposal(cmd: RefreshProposal, uow: UnitOfWork) -> ProposalView | Refused:
    """Open an outdated proposal again with the edits of a previewed draft; its votes go.

    Returns: the proposal, `told` naming the members whose votes went and the build's authors; or Refused: as
        `post_proposal`, "not-allowed", "other-build" for a draft on another build, and codes of `machine.refresh`.
    """
    return await _replaced(cmd, uow)


async def amend_proposal(cmd: AmendProposal, uow: UnitOfWork) -> ProposalView | Refused:
    """Give an open proposal that nobody has voted on the edits of a previewed draft; its deadline stays.

    Returns: the proposal, `told` naming the build's author; or Refused: as `post_proposal`, "not-allowed",
        "other-build" for a draft on another build, and codes of `machine.amend`.
    """
    return await _replaced(cmd, uow)


async def _replaced(cmd: RefreshProposal | AmendProposal, uow: UnitOfWork) -> ProposalView | Refused:
    prepared = await _prepared(cmd, uow)
    if isinstance(prepared, Refused):
        return prepared
    async with uow:
        found = await _for_deciding(cmd, uow)
        if isinstance(found, Refused):
            return found
        each, row, state, standing = found
        if row.number != prepared.build:
            return Refused("other-build", f"That text changes another build than the one of proposal #{each.number}.")
        fitted = await _fitted(cmd, uow, prepared)
        if isinstance(fitted, Refused):
            return fitted
        _, newest, proposed, catalog = fitted
        concerned: tuple[int, ...] = (row.author, *standing.coauthors)
        event: Event
        if isinstance(cmd, RefreshProposal):
            refreshed = machine.refresh(state, cmd.member, base=row.revision, at=cmd.at, reason=prepared.reason)
            if isinstance(refreshed, Refused):
                return refreshed
            state, event, concerned = refreshed
            await uow.votes.clear(cmd.server, each.number)
        else:
            amended = machine.amend(state, cmd.member, base=row.revision, at=cmd.at, reason=prepared.reason)
            if isinstance(amended, Refused):
                return amended
            state, event = amended
        write_state(each, state)
        each.title = prepared.title or title_of(newest, proposed, catalog)
        each.reason = prepared.reason
        edits = edits_between(newest, proposed)
        await uow.proposals.set_edits(cmd.server, each.number, [(e.path, e.before, e.after) for e in edits])
        uow.history.append_event(cmd.server, each.number, event)
        gathered = await gather(uow, each, row, cmd.member)
        refresh = isinstance(cmd, RefreshProposal)
        kind: NoticeKind = "refreshed" if refresh else "amended"
        notices = await notice(uow, cmd.server, each.number, each.title, kind, concerned, cmd.member)
        if refresh:
            deciding = {row.author, *standing.coauthors} - {*concerned}
            notices += await notice(uow, cmd.server, each.number, each.title, "refitted", deciding, cmd.member)
        await uow.commit()
    return await proposal_view(gathered, told=told_by(notices), notices=notices)


async def read_proposed(cmd: ReadProposed, uow: UnitOfWork) -> Proposed | Refused:
    """Return a part of a build as a proposal would make it, as outline text.

    Refused: as `find_proposal`, "no-such-level", "not-allowed".
    """
    async with uow.reading():
        found = await find_proposal(uow, cmd.server, cmd.member, cmd.proposal)
        if isinstance(found, Refused):
            return found
        each, row = found
        if cmd.own and each.proposer != cmd.member:
            return Refused("not-allowed", "Only the member who made the proposal can change it.")
        _, proposed, edits = await proposed_build(uow, each)
        document = await document_at(uow, row, None)
        catalog = await catalog_here(uow, cmd.server, proposed)
    if isinstance(document, Refused):
        return document
    if isinstance(catalog, Refused):
        return catalog
    revision, newest, _ = document
    part = part_of_edits(edits, proposed) if cmd.part is None else cmd.part
    if isinstance(part, int) and part > newest.top + 1:
        part = "whole"
    refused = part_refusal(proposed, part)
    if refused is not None:
        return refused
    text = print_part(proposed, part, catalog)
    filled = PartText(build=row.number, name=row.name, part=part, text=text, revision=revision.number)
    return Proposed(each.number, each.reason, filled)


async def show_proposal(cmd: ShowProposal, uow: UnitOfWork) -> ProposalView | Refused:
    """Return a proposal with all that its card shows. Refused: as `find_proposal`."""
    async with uow.reading():
        found = await find_proposal(uow, cmd.server, cmd.member, cmd.proposal)
        if isinstance(found, Refused):
            return found
        gathered = await gather(uow, *found, cmd.member)
    return await proposal_view(gathered)


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
    start: _Start
    edited: Build
    reason: str
    title: str


async def _prepared(cmd: PostProposal | RefreshProposal | AmendProposal, uow: UnitOfWork) -> _Prepared | Refused:
    async with uow.reading():
        draft = await find_draft(uow, cmd.server, cmd.member, cmd.draft)
        if isinstance(draft, Refused):
            return draft
        fields = draft.fields
        if draft.kind not in PROPOSING:
            return Refused("draft-gone", "That text was not written for a proposal. Start again with /propose.")
        row = await find_build(uow, cmd.server, cmd.member, fields["build"])
        if isinstance(row, Refused):
            return row
        text, based_on = fields.get("text", ""), fields.get("based_on") or None
        start = await _start(uow, cmd.member, row, int(fields["revision"]), based_on, text)
    if isinstance(start, Refused):
        return start
    edited = await edited_by(start.build, draft.kind, fields, start.catalog, start.finder)
    if isinstance(edited, Refused):
        return edited
    if not isinstance(edited, Build):
        return Refused("draft-has-errors", f"That text still has errors: {edited[0].sentence} Change it first.")
    title = fields["title"].strip()[:LONGEST_TITLE]
    return _Prepared(draft.id, row.number, start, edited, fields["reason"], title)


async def _fitted(
    cmd: PostProposal | RefreshProposal | AmendProposal, uow: UnitOfWork, prepared: _Prepared
) -> tuple[BuildRow, Build, Build, Catalog] | Refused:
    """Return the build held for update, its newest document, what the draft makes of it, and the catalogue of that.

    The draft is used up.
    """
    if not await uow.drafts.use_up(cmd.server, cmd.member, prepared.draft):
        return Refused("draft-gone", "That text was posted already. /proposal list shows it.")
    row = await find_build(uow, cmd.server, cmd.member, prepared.build, for_update=True)
    if isinstance(row, Refused):
        return row
    if not row.shared:
        return Refused(
            "not-shared", f"{row.name} is a draft. Share it with /build share, then changes can be proposed."
        )
    proposed = await _joined(uow, row, prepared.start, prepared.edited)
    newest = await uow.builds.revision(cmd.server, row.number, row.revision)
    if isinstance(proposed, Refused):
        return proposed
    assert newest is not None  # the row is only ever saved together with its newest revision
    before = read_document(newest)
    if proposed == before:
        return Refused("nothing-changed", f"{row.name} says all of this by now, so there is nothing to propose.")
    catalog = await catalog_here(uow, cmd.server, proposed)
    return catalog if isinstance(catalog, Refused) else (row, before, proposed, catalog)


@dataclass(frozen=True, slots=True)
class _Standing:
    """Who has a say about a proposal besides its proposer and the build's author."""

    gms: frozenset[int]
    coauthors: frozenset[int]


async def _for_deciding(
    cmd: AdoptProposal | DeclineProposal | WithdrawProposal | RefreshProposal | AmendProposal, uow: UnitOfWork
) -> tuple[ProposalRow, BuildRow, Proposal, _Standing] | Refused:
    """Return a proposal held for update, its build, state and standing, if the member may do what the command says."""
    # A GM, or who manages the server, may never have done anything here.
    await uow.people.ensure(cmd.server, cmd.member)
    found = await find_proposal(uow, cmd.server, cmd.member, cmd.proposal, for_update=True)
    if isinstance(found, Refused):
        return found
    each, row = found
    state = read_state(each, row.author, await uow.votes.of(cmd.server, each.number))
    manager = isinstance(cmd, AdoptProposal | DeclineProposal) and cmd.manager
    standing = _Standing(
        await gms_for(uow, row, cmd.member, manager), await uow.builds.coauthors(cmd.server, row.number)
    )
    roles = rights.roles_on_proposal(cmd.member, state, standing.gms, standing.coauthors)
    return rights.refusal(type(cmd), roles) or (each, row, state, standing)


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
