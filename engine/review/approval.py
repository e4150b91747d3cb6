"""A build before a game master: submitted, approved, sent back, changed since. Pure: times and members are arguments.

An approval pins one revision, the levels looked at and the numbers seen there. Whatever the build becomes later is a
change since the approval until the GM approves that too.
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from hashlib import sha256
from typing import Any, Final, TypeAlias

from engine.audit.finding import Finding
from engine.audit.folding import NumberChange
from engine.problem import Refused
from engine.sheet import Sheet

# Number name -> [[level from which it holds, value], ...]; value None where the number does not apply.
Seen: TypeAlias = Mapping[str, Sequence[Sequence[Any]]]
LONGEST_REMARKS: Final = 2_000
# What a GM has to waive or send back before an approval.
BREAKING: Final = ("breaks-rules", "breaks-table-rules")
# What stays open on a roster until it is waived or stood before the GM at an approval.
OPEN: Final = (*BREAKING, "needs-ruling")


class Stage(StrEnum):
    """What was last done with a submission."""

    WAITING = "waiting"
    APPROVED = "approved"
    RETURNED = "returned"
    WITHDRAWN = "withdrawn"


class Stand(StrEnum):
    """How a submission stands against the build as it is now; the order in which a roster lists them."""

    APPROVED = "approved"
    CHANGED = "changed"
    WAITING = "waiting"
    RETURNED = "returned"
    WITHDRAWN = "withdrawn"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pin:
    """What one approval holds fast. findings: those that stood before the GM then, waived ones too."""

    revision: int
    first: int
    last: int
    seen: Seen
    findings: tuple[Finding, ...] = ()
    member: int
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Submission:
    """What is known of a build before a GM. revision, at: as last submitted; remarks: of the last return.

    decided, decided_by: of the last approval or return, None while nothing was decided. pin: the newest approval.
    """

    stage: Stage
    revision: int
    at: datetime
    pin: Pin | None = None
    remarks: str = ""
    decided: datetime | None = None
    decided_by: int | None = None


def submit(before: Submission | None, *, revision: int, level: int, at: datetime) -> Submission | Refused:
    """Return the submission of a revision. before: the one there is, if any. level: last one to be looked at.

    Refused: "already-waiting", "already-approved" if there is nothing new to look at.
    """
    if before is None:
        return Submission(stage=Stage.WAITING, revision=revision, at=at)
    if before.stage is Stage.WAITING and before.revision == revision:
        return Refused("already-waiting", "This build waits for the GM already; its card has the buttons to decide.")
    if stand(before, revision, level) is Stand.APPROVED:
        return Refused("already-approved", "This build is approved as it is now; there is nothing new to submit.")
    return replace(before, stage=Stage.WAITING, revision=revision, at=at, remarks="", decided=None, decided_by=None)


def approve(before: Submission, pin: Pin, unwaived: Iterable[Finding]) -> Submission | Refused:
    """Return the submission approved. unwaived: findings of the pinned levels that no waiver covers.

    Refused: "withdrawn", "already-approved" if exactly this is, "findings-open" if one of them breaks rules.
    """
    if before.stage is Stage.WITHDRAWN:
        return _withdrawn()
    held = before.pin
    if before.stage is Stage.APPROVED and held is not None and (held.revision, held.last) == (pin.revision, pin.last):
        return Refused("already-approved", f"This is approved already, by <@{held.member}>; nothing was changed.")
    breaking = [f for f in unwaived if f.severity in BREAKING]
    if breaking:
        what = "one finding breaks" if len(breaking) == 1 else f"{len(breaking)} findings break"
        return Refused(
            "findings-open",
            f"It cannot be approved yet: {what} the rules. Waive what you let pass, each with a reason, or return the"
            " build to its author.",
        )
    return replace(before, stage=Stage.APPROVED, pin=pin, remarks="", decided=pin.at, decided_by=pin.member)


def send_back(before: Submission, *, member: int, at: datetime, remarks: str) -> Submission | Refused:
    """Return the submission sent back to its author; an approval it had is over.

    Refused: "withdrawn", "already-returned", "remarks-missing", "remarks-too-long".
    """
    if before.stage is Stage.WITHDRAWN:
        return _withdrawn()
    if not remarks.strip():
        return Refused("remarks-missing", "Say what should change, so that the author knows what to do.")
    if len(remarks) > LONGEST_REMARKS:
        return Refused(
            "remarks-too-long", f"Those remarks have {len(remarks):,} characters; they may have {LONGEST_REMARKS:,}."
        )
    if before.stage is Stage.RETURNED:
        return Refused("already-returned", "This build was returned already; its author has not submitted it again.")
    return replace(before, stage=Stage.RETURNED, remarks=remarks.strip(), decided=at, decided_by=member)


def withdraw(before: Submission) -> Submission | Refused:
    """Return the submission taken back by its author. Refused: "withdrawn" if it was already."""
    return _withdrawn() if before.stage is Stage.WITHDRAWN else replace(before, stage=Stage.WITHDRAWN)


def _withdrawn() -> Refused:
    return Refused("withdrawn", "This build was taken back from the table; its author can submit it again.")


def stand(submission: Submission, newest: int, level: int) -> Stand:
    """Return how a submission stands. newest: the build's revision now; level: last one that the table looks at."""
    pin = submission.pin
    if submission.stage is not Stage.APPROVED or pin is None:
        return Stand(submission.stage.value)
    return Stand.CHANGED if newest != pin.revision or level > pin.last else Stand.APPROVED


# -- numbers seen -------------------------------------------------------------------------------------------------


def numbers_seen(sheets: Sequence[Sheet], first: int, last: int) -> dict[str, list[list[Any]]]:
    """Return every number of levels first to last, each as the levels from which it has another value."""
    runs: dict[str, list[list[Any]]] = {}
    for level in range(first, last + 1):
        numbers = sheets[level - 1].numbers
        for name in runs.keys() - numbers.keys():
            if runs[name][-1][1] is not None:
                runs[name].append([level, None])
        for name, number in numbers.items():
            held = runs.setdefault(name, [])
            if not held or held[-1][1] != number.value:
                held.append([level, number.value])
    return runs


def corrected(pin: Pin, sheets: Sequence[Sheet]) -> tuple[NumberChange, ...]:
    """Return the numbers of the approved revision that are not any more what the GM saw, by name and level.

    sheets: of that same revision by today's rules data, levels 1 to its last.
    """
    rows: list[NumberChange] = []
    for level in range(pin.first, pin.last + 1):
        now = sheets[level - 1].numbers if level <= len(sheets) else {}
        for name in sorted(pin.seen.keys() | now.keys()):
            was, number = _value(pin.seen.get(name, ()), level), now.get(name)
            value = None if number is None else number.value
            if was != value:
                rows.append(NumberChange(name, level, was, value))
    return tuple(sorted(rows, key=lambda row: (row.name, row.level)))


def _value(runs: Sequence[Sequence[Any]], level: int) -> Any:
    return next((value for since, value in reversed(runs) if since <= level), None)


def token(revision_hash: str, last: int, seen: Seen, findings: Iterable[Finding]) -> str:
    """Return what a button carries of all that its card showed, so that an approval is for exactly that: 12 letters."""
    shown = [revision_hash, last, seen, sorted(finding_key(f) for f in findings)]
    return sha256(json.dumps(shown, sort_keys=True, default=list).encode()).hexdigest()[:12]


def finding_key(found: Finding) -> str:
    """Return what tells a finding from all others of a build, by its very words: 12 letters."""
    words = json.dumps([found.code, found.level, found.subject, found.message])
    return sha256(words.encode()).hexdigest()[:12]


# -- findings -----------------------------------------------------------------------------------------------------


def relevant(findings: Iterable[Finding], last: int) -> tuple[Finding, ...]:
    """Return the findings of the header and of levels up to the last one looked at."""
    return tuple(f for f in findings if f.level is None or f.level <= last)


def still_open(findings: Iterable[Finding], waived: Iterable[str], pin: Pin | None) -> tuple[Finding, ...]:
    """Return what a GM has still to rule on: broken rules that no waiver covers, rulings that no approval covers.

    waived: keys of waived findings. pin: the approval in force, None if there is none.
    """
    covered = set(waived)
    ruled = {finding_key(f) for f in pin.findings} if pin is not None else set()
    return tuple(
        f
        for f in findings
        if f.severity in OPEN
        and finding_key(f) not in covered
        and (f.severity in BREAKING or finding_key(f) not in ruled)
    )
