"""What the services of tables and approvals return: plain frozen values, complete enough to draw a card from."""

from dataclasses import dataclass
from datetime import datetime

from engine.audit.difference import Difference
from engine.audit.finding import Finding
from engine.audit.folding import NumberChange
from engine.audit.table import TableProblem, TableRules
from engine.review.approval import Pin, Stand
from engine.review.party import Party
from engine.services.views import BuildView, CardPlace, Notice, ShownBuild


@dataclass(frozen=True, slots=True, kw_only=True)
class SeatView:
    """A member at a table by name. at: since when."""

    member: int
    gm: bool
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class TableView:
    """A table. rules, text: as read, and as its GM wrote them; seats: GMs first; builds: how many are submitted.

    channel, role: ids of the chat; open: whether anybody may join; notes: what is odd about the rules, in sentences.
    """

    number: int
    name: str
    channel: int | None
    role: int | None
    open: bool
    level: int
    rules: TableRules
    text: str
    seats: tuple[SeatView, ...]
    builds: int
    notes: tuple[str, ...] = ()
    touched: tuple[int, ...] = ()
    notices: tuple[Notice, ...] = ()

    @property
    def gms(self) -> tuple[int, ...]:
        """The GMs, by how long they have been."""
        return tuple(seat.member for seat in self.seats if seat.gm)

    @property
    def players(self) -> tuple[int, ...]:
        """The players with a seat of their own."""
        return tuple(seat.member for seat in self.seats if not seat.gm)


@dataclass(frozen=True, slots=True, kw_only=True)
class RulesErrors:
    """Rules that could not be read, with everything wrong in them. draft: where the text is kept for `Try again`."""

    table: int
    name: str
    problems: tuple[TableProblem, ...]
    text: str
    draft: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WaiverView:
    """A waived finding. stale: the build has no such finding any more, so it waives nothing."""

    finding: Finding
    reason: str
    member: int
    at: datetime
    stale: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SubmissionView:
    """A build before a GM, with all that its card shows.

    shown: the build at the level looked at, its findings those of the release and of the table's rules up to it;
    table: number and name; level: the campaign's; last: the level looked at (the build's last, if it ends before);
    waiting: findings a GM has still to rule on; due: what is unfinished up to the level; hidden: findings above it.
    pin: the approval in force, of before, or None; difference: from the approved revision to this one up to the level,
    None if there is none; corrected: numbers of the approved revision that today's rules data give otherwise.
    token: stands for all of this in the button that approves it.
    """

    number: int
    table: int
    table_name: str
    gms: tuple[int, ...]
    channel: int | None
    level: int
    last: int
    stand: Stand
    submitted: datetime
    remarks: str
    decided: datetime | None
    decided_by: int | None
    shown: ShownBuild
    findings: tuple[Finding, ...]
    waiting: tuple[Finding, ...]
    due: tuple[Finding, ...]
    hidden: int
    waivers: tuple[WaiverView, ...]
    pin: Pin | None
    before: BuildView | None
    difference: Difference | None
    corrected: tuple[NumberChange, ...]
    token: str
    cards: tuple[CardPlace, ...] = ()
    notices: tuple[Notice, ...] = ()

    @property
    def missing(self) -> int:
        """Levels that the build lacks up to the campaign's."""
        return self.level - self.last


@dataclass(frozen=True, slots=True, kw_only=True)
class RosterView:
    """A table with every build that is submitted to it, in the order of `Stand`, and what the party covers.

    without: players with a seat who have submitted none. broken: (number, name) of builds whose rules release is not
    loaded here, so that nothing can be said of them.
    """

    table: TableView
    entries: tuple[SubmissionView, ...]
    party: Party | None
    without: tuple[int, ...]
    broken: tuple[tuple[int, str], ...] = ()
