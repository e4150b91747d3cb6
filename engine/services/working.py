"""Numbers, findings and differences for views: worked out beside the event loop, outside any transaction."""

import asyncio
from collections import OrderedDict
from dataclasses import dataclass
from threading import Lock
from typing import Final, TypeAlias

from engine.audit.audit import audit_of
from engine.audit.context import AuditContext, Rolls
from engine.audit.difference import Difference, difference
from engine.audit.finding import Finding
from engine.audit.goals import GoalResult, goals_of
from engine.build.document import Build, build_hash
from engine.rules.catalog import Catalog
from engine.sheet import Sheet
from engine.sheet.gathered import Gathered

_KEPT: Final = 128
_Key: TypeAlias = tuple[str, str, Catalog, Catalog, tuple[tuple[int, tuple[int, ...]], ...]]
_differences: OrderedDict[_Key, Difference] = OrderedDict()
_guard: Final = Lock()


@dataclass(frozen=True, slots=True)
class Worked:
    """Sheets of all levels, what the audit says, and how the goals stand."""

    sheets: tuple[Sheet, ...]
    findings: tuple[Finding, ...]
    goals: tuple[GoalResult, ...]
    gathered: Gathered


async def worked(build: Build, catalog: Catalog, rolls: Rolls) -> Worked:
    """Return everything that follows from a build. rolls: the witnessed ones that it cites."""
    return await asyncio.to_thread(_worked, build, catalog, rolls)


def _worked(build: Build, catalog: Catalog, rolls: Rolls) -> Worked:
    context = AuditContext.of(build, catalog, rolls=rolls)
    return Worked(tuple(context.sheets), tuple(audit_of(context)), goals_of(context), context.gathered)


async def differs(
    before: Build, after: Build, catalog_before: Catalog, catalog_after: Catalog, rolls: Rolls
) -> Difference:
    """Return what changes from one build to another. rolls: the witnessed ones that either cites.

    The same card is drawn again after every vote, so the last differences are kept, by the hashes of both documents.
    """
    key = (build_hash(before), build_hash(after), catalog_before, catalog_after, tuple(sorted(rolls.items())))
    with _guard:
        if (kept := _differences.get(key)) is not None:
            _differences.move_to_end(key)
            return kept
    found = await asyncio.to_thread(difference, before, after, catalog_before, catalog_after, rolls=rolls)
    with _guard:
        _differences[key] = found
        while len(_differences) > _KEPT:
            _differences.popitem(last=False)
    return found
