"""What services return: plain frozen values, complete enough to draw a card from without another question."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Generic, Literal, TypeAlias, TypeVar

from engine.audit.difference import Difference
from engine.audit.finding import Finding
from engine.audit.goals import GoalResult
from engine.audit.open import OpenChoice
from engine.build.document import Build
from engine.build.edits import Edit
from engine.build.outline import OutlineError
from engine.review.machine import State
from engine.review.policy import Choice, Policy, Tally
from engine.rules.catalog import Catalog
from engine.sheet import Number, Sheet
from engine.sheet.number import Amount

T = TypeVar("T")
# What of an outline a text stands for: all of it, its header lines, or the line of one character level.
Part: TypeAlias = Literal["whole", "header"] | int
# How people name a build or a proposal: `7`, `#7`, or a name in any spelling that folds to the same.
Ref: TypeAlias = int | str


@dataclass(frozen=True, slots=True)
class Page(Generic[T]):
    """One page of a list, newest first. number counts from 1; more: whether another page follows."""

    items: tuple[T, ...]
    number: int
    more: bool


@dataclass(frozen=True, slots=True)
class Suggestion:
    """One answer of an autocomplete: what is shown, and the number that is sent."""

    label: str
    number: int


@dataclass(frozen=True, slots=True)
class TextErrors:
    """A text that could not be read, with all its errors. draft: where it is kept for `Try again`; text: as typed."""

    errors: tuple[OutlineError, ...]
    text: str
    draft: int


@dataclass(frozen=True, slots=True)
class Draft:
    """A member's text that is kept for a while. kind: which form it belongs to; fields: form field -> text."""

    id: int
    kind: str
    member: int
    fields: dict[str, str]
    at: datetime


@dataclass(frozen=True, slots=True)
class CardPlace:
    """Where a card stands. thread: the thread hanging on it, once there is one; stale: it could not be redrawn."""

    subject: int
    channel: int
    message: int
    thread: int | None = None
    stale: bool = False


NoticeKind: TypeAlias = Literal[
    "proposed", "amended", "adopted", "declined", "withdrawn", "lapsed", "outdated", "refreshed", "refitted",
    "reminded", "remarked", "handed-over", "co-author", "submitted", "approved", "returned",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Notice:
    """What members should be told in the thread of a build or proposal. told: whom to ping, never empty.

    Those who silenced notices, the erased and the one who acted are not among `told`.
    """

    subject: int
    title: str
    kind: NoticeKind
    told: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RevisionView:
    """One revision without its document. parent: number of the revision it was made from, None for the first."""

    number: int
    hash: str
    author: int
    at: datetime
    reason: str
    parent: int | None
    proposal: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildBrief:
    """A build in a list. classes: class id -> levels, in the order the classes were taken."""

    number: int
    name: str
    author: int
    shared: bool
    revision: int
    top: int
    classes: dict[str, int]
    changed: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildView:
    """A build at one revision, with the catalogue that its ids are read by. latest: newest revision number.

    origin: number and revision of the build it was copied from; retired: since when it is set aside.
    """

    number: int
    name: str
    author: int
    shared: bool
    revision: RevisionView
    latest: int
    build: Build
    catalog: Catalog
    open_proposals: int = 0
    remarks: int = 0
    cards: tuple[CardPlace, ...] = ()
    # Proposals that were open when this command changed the build: those that moved along, and those that clash now.
    followed: tuple[int, ...] = ()
    outdated: tuple[int, ...] = ()
    coauthors: tuple[int, ...] = ()
    origin: tuple[int, int] | None = None
    retired: datetime | None = None
    notices: tuple[Notice, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownBuild:
    """A build at a level, with its numbers, what the audit says of the whole build, and points left to buy.

    points_left: only where scores are bought. goals: how the build stands with each of its goals.
    spells: names of the spells at hand at that level, cantrips first. states: ids of those that the sheet counts as on.
    exertion: numbers beyond the sheet that may be asked for, such as `jump.long`.
    """

    view: BuildView
    level: int
    sheet: Sheet
    findings: tuple[Finding, ...]
    goals: tuple[GoalResult, ...]
    points_left: int | None
    spells: tuple[str, ...] = ()
    states: tuple[str, ...] = ()
    exertion: Mapping[str, Number] = field(default_factory=dict)

    @property
    def numbers(self) -> Mapping[str, Number]:
        """Every number that may be asked for, those of the sheet first."""
        return {**self.sheet.numbers, **self.exertion}


@dataclass(frozen=True, slots=True, kw_only=True)
class Mend:
    """The one way in which a finding can be mended. key: names the finding in later commands; title: in words."""

    key: str
    finding: Finding
    edits: tuple[Edit, ...]
    title: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AuditView:
    """Every finding of a build, and how those can be mended for which there is exactly one way, a few at most."""

    view: BuildView
    findings: tuple[Finding, ...]
    mends: tuple[Mend, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenView:
    """What a build has still to choose at a level."""

    view: BuildView
    level: int
    choices: tuple[OpenChoice, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparedBuilds:
    """Two builds or two revisions, and what differs from the first to the second. level: None for all levels."""

    before: BuildView
    after: BuildView
    level: int | None
    difference: Difference


@dataclass(frozen=True, slots=True, kw_only=True)
class PartText:
    """Outline text of a part of a build, to fill a form with. revision: what it was printed from."""

    build: int
    name: str
    part: Part
    text: str
    revision: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposalPreview:
    """A proposal as it would be, stored nowhere but as the proposer's draft.

    draft: what `PostProposal` and the Change button name. title: the first edits in words. instead: number of the
    proposal that the draft is to take the place of; based_on: of the one it started from.
    """

    draft: int
    view: BuildView
    proposed: Build
    edits: tuple[Edit, ...]
    title: str
    reason: str
    difference: Difference
    instead: int | None = None
    based_on: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposalBrief:
    """A proposal in a list."""

    number: int
    title: str
    state: State
    build: int
    build_name: str
    proposer: int
    created: datetime
    deadline: datetime | None
    tally: Tally
    remarks: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposalView:
    """A proposal with all that its card shows.

    view: the build at the revision that the proposal is against now; proposed: that build with the edits applied.
    For a closed proposal both are as they were at its close. votes: member -> choice, empty for a secret ballot.
    deciders: members who may adopt or decline (empty if the vote decides). own: the asking member's choice.
    told: members whom a notice about this change should reach, besides those who see the card; notices: the same for
    every proposal that was touched. based_on: number of the proposal whose edits it started from.
    adopted_as: revision that the adoption made. clashes: for an outdated one, where it clashes, in words.
    """

    number: int
    title: str
    reason: str
    state: State
    proposer: int
    created: datetime
    deadline: datetime | None
    closed: datetime | None
    closed_by: int | None
    close_reason: str
    policy: Policy
    tally: Tally
    votes: dict[int, Choice]
    own: Choice | None
    deciders: tuple[int, ...]
    view: BuildView
    proposed: Build
    edits: tuple[Edit, ...]
    difference: Difference
    remarks: int
    last_remarks: tuple["RemarkView", ...] = ()
    cards: tuple[CardPlace, ...] = ()
    adopted_as: int | None = None
    clashes: tuple[str, ...] = ()
    told: tuple[int, ...] = ()
    followed: tuple[int, ...] = ()
    outdated: tuple[int, ...] = ()
    notices: tuple[Notice, ...] = ()
    based_on: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RivalNumber:
    """One number at a level as it is and as each of two proposals would make it; None where it is not there."""

    name: str
    level: int
    now: Amount | None
    first: Amount | None
    second: Amount | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RivalsView:
    """Two proposals to one build side by side. clashes: why not both can be adopted, in words; none if both can."""

    first: ProposalView
    second: ProposalView
    clashes: tuple[str, ...]
    numbers: tuple[RivalNumber, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class VoteResult:
    """A vote as stored. before: the member's choice until now, None for a first vote."""

    proposal: int
    title: str
    choice: Choice
    before: Choice | None
    tally: Tally
    policy: Policy
    deadline: datetime | None
    cards: tuple[CardPlace, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RemarkView:
    """One remark. id: for later commands on it; subject: number of the build or proposal it stands at.

    answers: id of the remark that it answers. notices: who should be told of it.
    """

    id: int
    subject: int
    kind: Literal["build", "proposal"]
    title: str
    level: int | None
    number: str | None
    author: int
    text: str
    at: datetime
    settled: datetime | None = None
    cards: tuple[CardPlace, ...] = field(default=())
    answers: int | None = None
    edited: datetime | None = None
    removed: datetime | None = None
    settled_by: int | None = None
    notices: tuple[Notice, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryEntry:
    """One row of the history. event: past tense, kebab-case; actor None: time did it; data: what else it says."""

    subject: int
    event: str
    actor: int | None
    at: datetime
    reason: str
    data: dict[str, Any]
