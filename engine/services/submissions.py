"""Views of submissions: read inside a transaction, worked out after it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from engine.audit import points_left
from engine.audit.context import Rolls
from engine.audit.difference import Difference
from engine.audit.finding import CODES, Finding
from engine.audit.folding import NumberChange
from engine.audit.goals import goals_of
from engine.audit.table import TableRules
from engine.problem import Refused
from engine.review import approval
from engine.review.approval import Pin, Stand, Submission
from engine.services.find import find_build
from engine.services.judging import Case, Judged, changed_up_to, judged
from engine.services.names import number_of
from engine.services.rolls import witnessed
from engine.services.seating import rules_at
from engine.services.table_views import SubmissionView, WaiverView
from engine.services.views import BuildView, CardPlace, Notice, Ref, ShownBuild
from engine.services.views_of import build_view, card_place
from engine.sheet.spells import spells_at
from engine.store.models import BuildRow, SubmissionRow, TableRow, Waiver
from engine.store.repos.submissions import read_submission
from engine.store.uow import UnitOfWork


@dataclass(frozen=True, slots=True)
class Gathered:
    """All that a view of a submission is made from, read inside one transaction. versions: of the rows it hangs on."""

    number: int
    state: Submission
    table: int
    table_name: str
    channel: int | None
    level: int
    rules: TableRules
    gms: tuple[int, ...]
    view: BuildView
    before: BuildView | None
    rolls: Rolls
    waivers: tuple[Waiver, ...]
    cards: tuple[CardPlace, ...]
    versions: tuple[int, int, int]

    @property
    def last(self) -> int:
        """The level looked at: the campaign's, or the build's last if it ends before."""
        return min(self.level, self.view.build.top)


async def find_submission(
    uow: UnitOfWork, server: int, member: int, ref: Ref
) -> tuple[SubmissionRow, TableRow, BuildRow] | Refused:
    """Return the submission that a member means, by its number or by its build, with its table and build.

    A submission of a build that the member cannot see is as good as not there. Refused: as `find_build`,
    "not-submitted".
    """
    number = number_of(ref)
    row = None if number is None else await uow.submissions.get(server, number)
    build = await find_build(uow, server, member, ref if row is None else row.build)
    if isinstance(build, Refused):
        return build
    row = row or await uow.submissions.of_build(server, build.number)
    table = None if row is None else await uow.tables.get(server, row.at_table)
    if row is None or table is None:
        return Refused(
            "not-submitted", f"{build.name} is submitted to no table; its author can do that with /table submit."
        )
    return row, table, build


async def gather(uow: UnitOfWork, row: SubmissionRow, table: TableRow, build: BuildRow) -> Gathered | Refused:
    """Return what a view is made from. Refused: "no-such-rules" if a rules release is not loaded, "no-levels"."""
    pin = await uow.submissions.pin(row.server, row.number)
    view = await build_view(uow, build)
    if isinstance(view, Refused):
        return view
    if view.build.top == 0:
        return no_levels(build)
    before = None
    if pin is not None:
        found = view if pin.revision == build.revision else await build_view(uow, build, pin.revision)
        if isinstance(found, Refused):
            return found
        before = found
    documents = [view.build] if before is None else [view.build, before.build]
    return Gathered(
        number=row.number,
        state=read_submission(row, pin),
        table=table.number,
        table_name=table.name,
        channel=table.channel,
        level=table.level,
        rules=await rules_at(uow, table),
        gms=tuple(sorted(await uow.tables.gms(row.server, table.number))),
        view=view,
        before=before,
        rolls=await witnessed(uow, row.server, build.number, *documents),
        waivers=tuple(await uow.submissions.waivers(row.server, row.number)),
        cards=tuple(card_place(card) for card in await uow.cards.of(row.server, row.number)),
        versions=(row.row_version, table.row_version, build.row_version),
    )


def no_levels(build: BuildRow) -> Refused:
    """Return the refusal of a build without a level."""
    return Refused("no-levels", f"{build.name} has no levels yet, so there is nothing to look at; add level lines.")


async def views(found: Sequence[Gathered]) -> list[tuple[SubmissionView, Judged]]:
    """Return the views of some submissions, each with its build as it was judged."""
    now = await judged([Case(each.view.build, each.view.catalog, each.rules, each.rolls) for each in found])
    pinned = [each for each in found if each.before is not None]
    then = await judged([Case(b.build, b.catalog, each.rules, each.rolls) for each in pinned if (b := each.before)])
    by_number = {each.number: case for each, case in zip(pinned, then, strict=True)}
    return [(await _view(each, case, by_number.get(each.number)), case) for each, case in zip(found, now, strict=True)]


async def view_of(found: Gathered, notices: tuple[Notice, ...] = ()) -> SubmissionView:
    """Return the view of one submission. notices: what members should be told of it."""
    [(view, _)] = await views([found])
    return replace(view, notices=notices)


async def _view(found: Gathered, now: Judged, then: Judged | None) -> SubmissionView:
    state, last, pin = found.state, found.last, found.state.pin
    context = now.context
    findings = approval.relevant(now.findings, last)
    keys = {approval.finding_key(f) for f in now.findings}
    waived = {_key(waiver) for waiver in found.waivers}
    seen = approval.numbers_seen(context.sheets, 1, last)
    stand = approval.stand(state, found.view.revision.number, last)
    # An approval that a later return ended covers nothing any more, and neither does one before a new submission.
    in_force = pin if stand in (Stand.APPROVED, Stand.CHANGED) else None
    difference: Difference | None = None
    corrections: tuple[NumberChange, ...] = ()
    if pin is not None and then is not None:
        corrections = approval.corrected(pin, then.context.sheets)
        if found.view.revision.number != pin.revision:
            difference = await changed_up_to(then, now, max(last, pin.last))
    shown = ShownBuild(
        view=found.view,
        level=last,
        sheet=context.sheets[last - 1],
        findings=findings,
        goals=goals_of(context),
        points_left=points_left(found.view.build, found.view.catalog),
        spells=tuple(found.view.catalog.name_of("spell", s.spell) for s in spells_at(context.gathered, last)),
    )
    return SubmissionView(
        number=found.number,
        table=found.table,
        table_name=found.table_name,
        gms=found.gms,
        channel=found.channel,
        level=found.level,
        last=last,
        stand=stand,
        submitted=state.at,
        remarks=state.remarks,
        decided=state.decided,
        decided_by=state.decided_by,
        shown=shown,
        findings=findings,
        waiting=approval.still_open(findings, waived, in_force),
        due=tuple(f for f in findings if f.severity == "unfinished"),
        hidden=len(now.findings) - len(findings),
        waivers=tuple(
            WaiverView(
                finding=_waived(waiver),
                reason=waiver.reason,
                member=waiver.member,
                at=waiver.at,
                stale=_key(waiver) not in keys,
            )
            for waiver in found.waivers
        ),
        pin=pin,
        before=found.before,
        difference=difference,
        corrected=corrections,
        token=approval.token(found.view.revision.hash, last, seen, findings),
        cards=found.cards,
    )


def new_pin(found: Gathered, now: Judged, member: int, at: datetime) -> Pin:
    """Return what an approval of a submission as it stands would pin."""
    return Pin(
        revision=found.view.revision.number,
        first=1,
        last=found.last,
        seen=approval.numbers_seen(now.context.sheets, 1, found.last),
        findings=approval.relevant(now.findings, found.last),
        member=member,
        at=at,
    )


def _waived(waiver: Waiver) -> Finding:
    known = CODES.get(waiver.code)
    severity = "advice" if known is None else known.severity
    return Finding(waiver.code, severity, waiver.level, waiver.subject, waiver.message, source="waived")


def _key(waiver: Waiver) -> str:
    return approval.finding_key(_waived(waiver))
