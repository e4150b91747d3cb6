"""Builds before a GM: submissions, their approvals and waivers."""

from sqlalchemy import ColumnElement, Select, func, select

from engine.audit.finding import Finding
from engine.review.approval import Pin, Stage, Submission
from engine.store.link import Link
from engine.store.models import ApprovalRow, BuildRow, SubmissionRow, Waiver


class Submissions:
    """The submissions of a server."""

    def __init__(self, link: Link) -> None:
        self._link = link

    async def get(self, server: int, number: int, *, for_update: bool = False) -> SubmissionRow | None:
        """Return a submission by its number. for_update: hold it against other writers."""
        return await self._one(_of(server, SubmissionRow.number == number), for_update)

    async def at_table(self, server: int, build: int, table: int) -> SubmissionRow | None:
        """Return the submission of a build to a table, withdrawn ones too."""
        return await self._one(_of(server, SubmissionRow.build == build, SubmissionRow.at_table == table), False)

    async def of_build(self, server: int, build: int, *, for_update: bool = False) -> SubmissionRow | None:
        """Return the one submission of a build that is not withdrawn."""
        living = SubmissionRow.stage != Stage.WITHDRAWN.value
        return await self._one(_of(server, SubmissionRow.build == build, living), for_update)

    async def _one(self, statement: Select[SubmissionRow], for_update: bool) -> SubmissionRow | None:
        if for_update:
            statement = statement.with_for_update().execution_options(populate_existing=True)
        return (await self._link.session.scalars(statement)).one_or_none()

    async def of_table(self, server: int, table: int) -> list[tuple[SubmissionRow, BuildRow]]:
        """Return what is submitted to a table and in use, by number of the submission, each with its build."""
        found = await self._link.session.execute(
            select(SubmissionRow, BuildRow)
            .join(BuildRow, (BuildRow.server == SubmissionRow.server) & (BuildRow.number == SubmissionRow.build))
            .where(
                SubmissionRow.server == server,
                SubmissionRow.at_table == table,
                SubmissionRow.stage != Stage.WITHDRAWN.value,
                BuildRow.removed.is_(False),
            )
            .order_by(SubmissionRow.number)
        )
        return [(row, build) for row, build in found]

    async def add(self, submission: SubmissionRow) -> None:
        """Store a new submission."""
        self._link.session.add(submission)
        await self._link.session.flush()

    async def approvals(self, server: int, submission: int) -> list[ApprovalRow]:
        """Return the approvals of a submission, oldest first."""
        found = await self._link.session.scalars(
            select(ApprovalRow)
            .where(ApprovalRow.server == server, ApprovalRow.submission == submission)
            .order_by(ApprovalRow.place)
        )
        return list(found)

    async def pin(self, server: int, submission: int) -> Pin | None:
        """Return the newest approval of a submission, None if it has none."""
        row = (
            await self._link.session.scalars(
                select(ApprovalRow)
                .where(ApprovalRow.server == server, ApprovalRow.submission == submission)
                .order_by(ApprovalRow.place.desc())
                .limit(1)
            )
        ).one_or_none()
        return None if row is None else read_pin(row)

    async def approve(self, server: int, submission: int, pin: Pin, folios: dict[str, str]) -> None:
        """Store an approval after those there are. folios: id -> hash of those that the numbers came from."""
        newest = await self._link.session.scalar(
            select(func.max(ApprovalRow.place)).where(
                ApprovalRow.server == server, ApprovalRow.submission == submission
            )
        )
        self._link.session.add(
            ApprovalRow(
                server=server,
                submission=submission,
                place=(newest or 0) + 1,
                member=pin.member,
                at=pin.at,
                revision=pin.revision,
                first=pin.first,
                last=pin.last,
                seen=dict(pin.seen),
                findings=[found.as_json() for found in pin.findings],
                folios=folios,
            )
        )
        await self._link.session.flush()

    async def waivers(self, server: int, submission: int) -> list[Waiver]:
        """Return the waivers of a submission, oldest first."""
        found = await self._link.session.scalars(
            select(Waiver).where(Waiver.server == server, Waiver.submission == submission).order_by(Waiver.id)
        )
        return list(found)

    async def waive(self, waiver: Waiver) -> int:
        """Store a waiver and return its id."""
        self._link.session.add(waiver)
        await self._link.session.flush()
        return waiver.id


def _of(server: int, *which: ColumnElement[bool]) -> Select[SubmissionRow]:
    return select(SubmissionRow).where(SubmissionRow.server == server, *which)


def read_pin(row: ApprovalRow) -> Pin:
    """Return what a stored approval pins."""
    return Pin(
        revision=row.revision,
        first=row.first,
        last=row.last,
        seen=row.seen,
        findings=tuple(Finding(**found) for found in row.findings),
        member=row.member,
        at=row.at,
    )


def read_submission(row: SubmissionRow, pin: Pin | None) -> Submission:
    """Return what the rules of approval know of a stored submission. pin: its newest approval."""
    return Submission(
        stage=Stage(row.stage),
        revision=row.revision,
        at=row.at,
        pin=pin,
        remarks=row.remarks,
        decided=row.decided,
        decided_by=row.decided_by,
    )


def write_submission(row: SubmissionRow, submission: Submission) -> None:
    """Set a row to what the rules of approval say; approvals are stored by themselves."""
    row.stage = submission.stage.value
    row.revision = submission.revision
    row.at = submission.at
    row.remarks = submission.remarks
    row.decided = submission.decided
    row.decided_by = submission.decided_by
