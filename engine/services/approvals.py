"""Approvals: a build submitted to a table, looked at, approved, returned, a finding waived, taken back."""

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from engine.problem import Refused
from engine.review import approval
from engine.services import rights
from engine.services.find import find_build, retired_refusal
from engine.services.judging import Judged
from engine.services.rights import Role
from engine.services.seating import find_table, roles_at
from engine.services.standing import notice
from engine.services.submissions import Gathered, find_submission, gather, new_pin, no_levels, view_of, views
from engine.services.table_views import SubmissionView
from engine.services.views import Ref
from engine.store.models import BuildRow, SubmissionRow, TableRow, Waiver
from engine.store.repos.submissions import read_submission, write_submission
from engine.store.uow import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class SubmitBuild:
    """Put one's own build before the GM of a table. table None: the one at which the member sits.

    roles: chat roles that the member holds.
    """

    server: int
    member: int
    build: Ref
    at: datetime
    table: Ref | None = None
    roles: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeBackBuild:
    """Take one's own build back from the table it is submitted to."""

    server: int
    member: int
    build: Ref
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class ShowSubmission:
    """Ask for what is submitted, by the number of the submission or by its build."""

    server: int
    member: int
    subject: Ref


@dataclass(frozen=True, slots=True, kw_only=True)
class ApproveBuild:
    """Approve what a card showed. token: of that card, so that nothing is approved that was not seen."""

    server: int
    member: int
    submission: int
    token: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class ReturnBuild:
    """Send a build back to its author, with remarks."""

    server: int
    member: int
    submission: int
    remarks: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class WaiveFinding:
    """Let a finding pass. finding: its key, as `approval.finding_key` gives it."""

    server: int
    member: int
    submission: int
    finding: str
    reason: str
    at: datetime


LONGEST_REASON: Final = 1_000


async def submit_build(cmd: SubmitBuild, uow: UnitOfWork) -> SubmissionView | Refused:
    """Put a build before the GM of a table, or put its newest revision there.

    Returns: the submission with notices to the GMs; or Refused: as `find_table`, `find_build` and `approval.submit`,
        "not-allowed", "not-shared", "build-retired", "not-at-table", "at-another-table", "no-levels", "no-such-rules".
    """
    async with uow:
        await uow.people.ensure(cmd.server, cmd.member)
        # Table, build, submission: all writers take them in this order, so that none waits in a circle.
        table = await find_table(uow, cmd.server, cmd.member, cmd.table, roles=cmd.roles, for_update=True)
        build = await find_build(uow, cmd.server, cmd.member, cmd.build, for_update=True)
        if isinstance(build, Refused):
            return build
        if isinstance(table, Refused):
            return table
        refused = await _may_submit(cmd, uow, table, build)
        if refused is not None:
            return refused
        row = await uow.submissions.at_table(cmd.server, build.number, table.number)
        pin = None if row is None else await uow.submissions.pin(cmd.server, row.number)
        before = None if row is None else read_submission(row, pin)
        state = approval.submit(before, revision=build.revision, level=min(table.level, build.top), at=cmd.at)
        if isinstance(state, Refused):
            return state
        if row is None:
            number = await uow.people.next_number(cmd.server)
            row = SubmissionRow(server=cmd.server, number=number, build=build.number, at_table=table.number)
            write_submission(row, state)
            await uow.submissions.add(row)
        else:
            write_submission(row, state)
        _note(uow, row, "build-submitted", cmd.member, cmd.at, revision=build.revision)
        gathered = await gather(uow, row, table, build)
        if isinstance(gathered, Refused):
            return gathered
        notices = await notice(uow, cmd.server, row.number, build.name, "submitted", gathered.gms, cmd.member)
        await uow.commit()
    return await view_of(gathered, notices)


async def take_back_build(cmd: TakeBackBuild, uow: UnitOfWork) -> SubmissionView | Refused:
    """Take a build back; an approval it had is over. Refused: as `find_submission`, "not-allowed", "withdrawn"."""
    async with uow:
        found = await _held(uow, cmd.server, cmd.member, cmd.build)
        if isinstance(found, Refused):
            return found
        row, table, build = found
        refused = rights.refusal(TakeBackBuild, await _on_build(uow, build, cmd.member))
        if refused is not None:
            return refused
        state = approval.withdraw(read_submission(row, None))
        if isinstance(state, Refused):
            return state
        write_submission(row, state)
        _note(uow, row, "build-taken-back", cmd.member, cmd.at)
        gathered = await gather(uow, row, table, build)
        if isinstance(gathered, Refused):
            return gathered
        await uow.commit()
    return await view_of(gathered)


async def show_submission(cmd: ShowSubmission, uow: UnitOfWork) -> SubmissionView | Refused:
    """Return a submission with all that its card shows. Refused: as `find_submission`, "no-such-rules"."""
    async with uow.reading():
        found = await find_submission(uow, cmd.server, cmd.member, cmd.subject)
        gathered = found if isinstance(found, Refused) else await gather(uow, *found)
    return gathered if isinstance(gathered, Refused) else await view_of(gathered)


async def approve_build(cmd: ApproveBuild, uow: UnitOfWork) -> SubmissionView | Refused:
    """Approve a build as a card showed it: its revision, the levels up to the campaign's, the numbers there.

    The same for a first approval and for a change since one. Returns: the submission with a notice to the author; or
        Refused: as `find_submission` and `approval.approve`, "not-allowed", "card-outdated" if the build, the level or
        the rules of the table have changed since the card was drawn.
    """
    looked_at = await _looked_at(cmd, uow)
    if isinstance(looked_at, Refused):
        return looked_at
    seen, view, now = looked_at
    pin = new_pin(seen, now, cmd.member, cmd.at)
    waived = {approval.finding_key(w.finding) for w in view.waivers}
    unwaived = [f for f in pin.findings if approval.finding_key(f) not in waived]
    async with uow:
        found = await _judging(cmd, uow)
        if isinstance(found, Refused):
            return found
        row, table, build = found
        before = read_submission(row, await uow.submissions.pin(cmd.server, row.number))
        state = approval.approve(before, pin, unwaived)
        outdated = (row.row_version, table.row_version, build.row_version) != seen.versions or view.token != cmd.token
        if isinstance(state, Refused) and (state.code != "findings-open" or not outdated):
            return state
        if outdated or isinstance(state, Refused):
            return Refused(
                "card-outdated",
                f"{build.name} or the table has changed since this card was drawn; look at it again and press then.",
            )
        write_submission(row, state)
        folios = {folio.id: folio.hash for folio in seen.view.catalog.folios}
        await uow.submissions.approve(cmd.server, row.number, pin, folios)
        _note(
            uow, row, "build-approved", cmd.member, cmd.at,
            revision=pin.revision, first=pin.first, last=pin.last, waived=len(view.waivers),
        )  # fmt: skip
        gathered = await gather(uow, row, table, build)
        if isinstance(gathered, Refused):
            return gathered
        notices = await notice(uow, cmd.server, row.number, build.name, "approved", [build.author], cmd.member)
        await uow.commit()
    return await view_of(gathered, notices)


async def return_build(cmd: ReturnBuild, uow: UnitOfWork) -> SubmissionView | Refused:
    """Send a build back to its author; an approval it had is over.

    Returns: the submission with a notice to the author; or Refused: as `find_submission` and `approval.send_back`,
        "not-allowed".
    """
    async with uow:
        found = await _judging(cmd, uow)
        if isinstance(found, Refused):
            return found
        row, table, build = found
        before = read_submission(row, await uow.submissions.pin(cmd.server, row.number))
        state = approval.send_back(before, member=cmd.member, at=cmd.at, remarks=cmd.remarks)
        if isinstance(state, Refused):
            return state
        write_submission(row, state)
        _note(uow, row, "build-returned", cmd.member, cmd.at, reason=state.remarks, revision=build.revision)
        gathered = await gather(uow, row, table, build)
        if isinstance(gathered, Refused):
            return gathered
        notices = await notice(uow, cmd.server, row.number, build.name, "returned", [build.author], cmd.member)
        await uow.commit()
    return await view_of(gathered, notices)


async def waive_finding(cmd: WaiveFinding, uow: UnitOfWork) -> SubmissionView | Refused:
    """Let a finding pass, by its very words: if they change, the waiver covers nothing any more.

    Refused: as `find_submission`, "not-allowed", "reason-missing", "reason-too-long", "no-such-finding",
    "already-waived", "withdrawn".
    """
    reason = cmd.reason.strip()
    if not reason:
        return Refused("reason-missing", "Say why you let it pass; the reason stands with the approval.")
    if len(reason) > LONGEST_REASON:
        return Refused(
            "reason-too-long", f"That reason has {len(reason):,} characters; it may have {LONGEST_REASON:,}."
        )
    looked_at = await _looked_at(cmd, uow)
    if isinstance(looked_at, Refused):
        return looked_at
    _, view, _ = looked_at
    chosen = next((f for f in view.findings if approval.finding_key(f) == cmd.finding), None)
    if chosen is None or chosen.severity not in approval.OPEN:
        return Refused(
            "no-such-finding", "The build has no such finding to rule on now; look at its card again and choose anew."
        )
    async with uow:
        found = await _judging(cmd, uow)
        if isinstance(found, Refused):
            return found
        row, table, build = found
        if row.stage == approval.Stage.WITHDRAWN.value:
            return Refused("withdrawn", f"{build.name} was taken back from the table; nothing is to be waived there.")
        waivers = await uow.submissions.waivers(cmd.server, row.number)
        named = (chosen.code, chosen.level, chosen.subject, chosen.message)
        if any((w.code, w.level, w.subject, w.message) == named for w in waivers):
            return Refused("already-waived", "That finding is waived already; nothing was changed.")
        waiver = Waiver(
            server=cmd.server,
            submission=row.number,
            code=chosen.code,
            level=chosen.level,
            subject=chosen.subject,
            message=chosen.message,
            reason=reason,
            member=cmd.member,
            at=cmd.at,
        )
        await uow.submissions.waive(waiver)
        _note(uow, row, "finding-waived", cmd.member, cmd.at, reason=reason, code=chosen.code, level=chosen.level)
        gathered = await gather(uow, row, table, build)
        if isinstance(gathered, Refused):
            return gathered
        await uow.commit()
    return await view_of(gathered)


async def _may_submit(cmd: SubmitBuild, uow: UnitOfWork, table: TableRow, build: BuildRow) -> Refused | None:
    refused = rights.refusal(SubmitBuild, await _on_build(uow, build, cmd.member)) or retired_refusal(build)
    if refused is not None:
        return refused
    if not build.shared:
        return Refused(
            "not-shared", f"{build.name} is a draft. Share it with /build share, so that the table can see it."
        )
    if build.top == 0:
        return no_levels(build)
    if not {Role.PLAYER, Role.GM} & await roles_at(uow, table, cmd.member, roles=cmd.roles):
        return Refused(
            "not-at-table", f"You do not play at {table.name}. Take a seat with /table join, or ask its GM to add you."
        )
    living = await uow.submissions.of_build(cmd.server, build.number, for_update=True)
    if living is not None and living.at_table != table.number:
        other = await uow.tables.get(cmd.server, living.at_table)
        name = "another table" if other is None else other.name
        return Refused(
            "at-another-table", f"{build.name} is submitted to {name}; take it back with /table withdraw first."
        )
    return None


async def _on_build(uow: UnitOfWork, build: BuildRow, member: int) -> frozenset[Role]:
    return rights.roles_on_build(member, build.author, await uow.builds.coauthors(build.server, build.number))


async def _held(
    uow: UnitOfWork, server: int, member: int, ref: Ref
) -> tuple[SubmissionRow, TableRow, BuildRow] | Refused:
    """Return a submission, its table and its build, all held for update."""
    await uow.people.ensure(server, member)
    found = await find_submission(uow, server, member, ref)
    if isinstance(found, Refused):
        return found
    row, table, build = found
    held_table = await uow.tables.get(server, table.number, for_update=True)
    held_build = await uow.builds.get(server, build.number, for_update=True)
    held_row = await uow.submissions.get(server, row.number, for_update=True)
    assert held_table is not None  # nothing of the three is ever deleted while its server stays
    assert held_build is not None
    assert held_row is not None
    return held_row, held_table, held_build


async def _judging(
    cmd: ApproveBuild | ReturnBuild | WaiveFinding, uow: UnitOfWork
) -> tuple[SubmissionRow, TableRow, BuildRow] | Refused:
    """Return a submission, its table and its build, held for update, if the member is the table's GM."""
    found = await _held(uow, cmd.server, cmd.member, cmd.submission)
    if isinstance(found, Refused):
        return found
    return rights.refusal(type(cmd), await roles_at(uow, found[1], cmd.member)) or found


async def _looked_at(
    cmd: ApproveBuild | WaiveFinding, uow: UnitOfWork
) -> tuple[Gathered, SubmissionView, Judged] | Refused:
    """Return a submission as it stands, worked out before anything is held; rights are read here too."""
    async with uow.reading():
        found = await find_submission(uow, cmd.server, cmd.member, cmd.submission)
        if isinstance(found, Refused):
            return found
        refused = rights.refusal(type(cmd), await roles_at(uow, found[1], cmd.member))
        gathered = refused or await gather(uow, *found)
    if isinstance(gathered, Refused):
        return gathered
    [(view, now)] = await views([gathered])
    return gathered, view, now


def _note(
    uow: UnitOfWork, row: SubmissionRow, event: str, actor: int, at: datetime, *, reason: str = "", **data: object
) -> None:
    """Add a row to the history of the build."""
    uow.history.append(
        row.server,
        row.build,
        "build",
        event,
        actor=actor,
        at=at,
        reason=reason,
        data={"table": row.at_table, "submission": row.number, **data},
    )
