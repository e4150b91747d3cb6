"""The audit: every check over one build, its findings in a fixed order."""

from engine.audit.checks import ALL_CHECKS
from engine.audit.context import AuditContext, Rolls
from engine.audit.finding import Finding, by_place
from engine.audit.table import TableRules
from engine.build.document import Build
from engine.rules.catalog import Catalog


def audit(
    build: Build, catalog: Catalog, table: TableRules | None = None, rolls: Rolls | None = None
) -> tuple[Finding, ...]:
    """Return every finding about a build, the header's first, then by level and code; the same on every run.

    table: rules of the table it is meant for. rolls: witnessed rolls of the server by number; None (file commands)
    takes cited rolls as they are. Nothing is raised for an incomplete or illegal build.
    """
    return audit_of(AuditContext.of(build, catalog, table, rolls))


def audit_of(ctx: AuditContext) -> tuple[Finding, ...]:
    """Return every finding about a build whose sheets are at hand."""
    found = {finding for check in ALL_CHECKS for finding in check(ctx)}
    return tuple(sorted(found, key=by_place))
