"""Builds looked at under a table's rules: worked out beside the event loop and kept for a while.

The same builds stand on card, roster and party overview, and a roster asks for all of a table at once.
"""

import asyncio
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass
from threading import Lock
from typing import Final, TypeAlias

from engine.audit.audit import audit_of
from engine.audit.context import AuditContext, Rolls
from engine.audit.difference import Difference, difference_of
from engine.audit.finding import Finding
from engine.audit.table import TableRules
from engine.build.document import Build, build_hash
from engine.rules.catalog import Catalog

_KEPT: Final = 64
_Key: TypeAlias = tuple[str, Catalog, TableRules, tuple[tuple[int, tuple[int, ...]], ...]]


@dataclass(frozen=True, slots=True)
class Case:
    """What is to be looked at. rolls: the witnessed ones that the build cites."""

    build: Build
    catalog: Catalog
    rules: TableRules
    rolls: Rolls


@dataclass(frozen=True, slots=True)
class Judged:
    """A build with its sheets, and what the audit says by the release and by the table's rules."""

    context: AuditContext
    findings: tuple[Finding, ...]


_judged: OrderedDict[_Key, Judged] = OrderedDict()
_guard: Final = Lock()


async def judged(cases: Sequence[Case]) -> list[Judged]:
    """Return what the audit says of some builds, in their order."""
    return await asyncio.to_thread(lambda: [_judge(case) for case in cases])


def _judge(case: Case) -> Judged:
    key = (build_hash(case.build), case.catalog, case.rules, tuple(sorted(case.rolls.items())))
    with _guard:
        if (kept := _judged.get(key)) is not None:
            _judged.move_to_end(key)
            return kept
    context = AuditContext.of(case.build, case.catalog, case.rules, case.rolls)
    found = Judged(context, audit_of(context))
    assert context.sheets is not None  # worked out here, not when the event loop first asks for them
    with _guard:
        _judged[key] = found
        while len(_judged) > _KEPT:
            _judged.popitem(last=False)
    return found


async def changed_up_to(before: Judged, after: Judged, last: int) -> Difference:
    """Return what tells two revisions apart, numbers and findings up to a level only."""
    found = await asyncio.to_thread(difference_of, before.context, after.context)
    return Difference(
        choices=found.choices,
        numbers=tuple(n for n in found.numbers if n.level <= last),
        findings_new=tuple(f for f in found.findings_new if (f.level or 0) <= last),
        findings_gone=tuple(f for f in found.findings_gone if (f.level or 0) <= last),
        goals_earlier=found.goals_earlier,
        goals_later=found.goals_later,
        goals_lost=found.goals_lost,
        goals_gained=found.goals_gained,
    )
