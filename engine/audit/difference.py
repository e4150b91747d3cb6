"""What changes between two builds: choices, numbers level by level, findings, goals. Values only, no reasons."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from engine.audit.audit import audit_of
from engine.audit.context import AuditContext, Rolls
from engine.audit.finding import Finding
from engine.audit.folding import NumberChange
from engine.audit.goals import GoalResult, goals_of
from engine.audit.table import TableRules
from engine.build.diff import edits_between
from engine.build.document import Build
from engine.rules.catalog import Catalog
from engine.sheet import Sheet


@dataclass(frozen=True, slots=True)
class ChoiceChange:
    """One changed field of the document: JSON pointer, and what stands there before and after (None: nothing)."""

    path: str
    before: Any
    after: Any


@dataclass(frozen=True, slots=True)
class Difference:
    """Everything that tells two builds apart.

    choices in the order of the document; numbers by name and level; findings in the order of an audit; goals are
    those of both builds that are written alike, by whether they are met and from which level.
    """

    choices: tuple[ChoiceChange, ...] = ()
    numbers: tuple[NumberChange, ...] = ()
    findings_new: tuple[Finding, ...] = ()
    findings_gone: tuple[Finding, ...] = ()
    goals_earlier: tuple[GoalResult, ...] = ()
    goals_later: tuple[GoalResult, ...] = ()
    goals_lost: tuple[GoalResult, ...] = ()
    goals_gained: tuple[GoalResult, ...] = ()

    @property
    def empty(self) -> bool:
        """Whether the two builds differ in nothing that is compared."""
        return not (self.choices or self.numbers or self.findings_new or self.findings_gone)

    def as_json(self) -> dict[str, Any]:
        """Return the outside form: `{"choices", "numbers", "findings": {"new", "gone"}}`."""
        return {
            "choices": [{"path": c.path, "before": c.before, "after": c.after} for c in self.choices],
            "numbers": [{"name": n.name, "level": n.level, "before": n.before, "after": n.after} for n in self.numbers],
            "findings": {
                "new": [f.as_json() for f in self.findings_new],
                "gone": [f.as_json() for f in self.findings_gone],
            },
        }


def difference(
    before: Build,
    after: Build,
    catalog_before: Catalog,
    catalog_after: Catalog,
    table: TableRules | None = None,
    rolls: Rolls | None = None,
) -> Difference:
    """Return what changes from one build to another, each worked out once under its own catalogue.

    A number that does not apply on one side is None there. table, rolls: as for `audit`, the same for both sides.
    Costs about two timelines and two audits.
    """
    old = AuditContext.of(before, catalog_before, table, rolls)
    new = AuditContext.of(after, catalog_after, table, rolls)
    return difference_of(old, new)


def difference_json(found: Difference) -> dict[str, Any]:
    """Return the outside form of a difference."""
    return found.as_json()


def difference_of(old: AuditContext, new: AuditContext) -> Difference:
    """Return the difference of two builds whose sheets are already at hand."""
    found_old, found_new = audit_of(old), audit_of(new)
    known_old, known_new = set(found_old), set(found_new)
    goals_old, goals_new = goals_of(old), goals_of(new)
    return Difference(
        choices=tuple(ChoiceChange(e.path, e.before, e.after) for e in edits_between(old.build, new.build)),
        numbers=number_changes(old.sheets, new.sheets),
        findings_new=tuple(f for f in found_new if f not in known_old),
        findings_gone=tuple(f for f in found_old if f not in known_new),
        goals_earlier=_moved(goals_old, goals_new, lambda was, now: _from(now) < _from(was)),
        goals_later=_moved(goals_old, goals_new, lambda was, now: _from(now) > _from(was)),
        goals_lost=_turned(goals_old, goals_new, met=False),
        goals_gained=_turned(goals_old, goals_new, met=True),
    )


def number_changes(before: Sequence[Sheet], after: Sequence[Sheet]) -> tuple[NumberChange, ...]:
    """Return one row for each name and level whose value differs, by name and level.

    before, after: sheets of levels 1 to n. A level that only one side has counts as absent on the other.
    """
    rows: list[NumberChange] = []
    for index in range(max(len(before), len(after))):
        old = before[index].numbers if index < len(before) else {}
        new = after[index].numbers if index < len(after) else {}
        if old is new:
            continue
        for name, number in old.items():
            other = new.get(name)
            # Sheets share unchanged numbers between levels, so one object on both sides is the common case.
            if other is number:
                continue
            value = None if other is None else other.value
            if value != number.value:
                rows.append(NumberChange(name, index + 1, number.value, value))
        rows.extend(NumberChange(name, index + 1, None, n.value) for name, n in new.items() if name not in old)
    rows.sort(key=lambda row: (row.name, row.level))
    return tuple(rows)


def _from(result: GoalResult) -> int:
    return result.from_level if result.from_level is not None else 99


def _moved(
    old: tuple[GoalResult, ...], new: tuple[GoalResult, ...], moved: Callable[[GoalResult, GoalResult], bool]
) -> tuple[GoalResult, ...]:
    before = {r.text: r for r in old}
    both = [(before[r.text], r) for r in new if r.text in before]
    return tuple(now for was, now in both if was.met and now.met and moved(was, now))


def _turned(old: tuple[GoalResult, ...], new: tuple[GoalResult, ...], met: bool) -> tuple[GoalResult, ...]:
    before = {r.text: r for r in old}
    both = [(before[r.text], r) for r in new if r.text in before]
    return tuple(now for was, now in both if was.met is (not met) and now.met is met)
