"""Build documents in and out of the store."""

import json
from datetime import datetime

from engine.build.document import Build, build_hash, canonical
from engine.build.reading import read_build
from engine.problem import Refused
from engine.services.views import RevisionView
from engine.store.models import Revision


def read_document(revision: Revision) -> Build:
    """Return the document of a revision, brought up to today's schema.

    Raises: RuntimeError if the stored text is no document, which is a bug.
    """
    build = read_build(json.loads(revision.document))
    if isinstance(build, Refused):
        raise RuntimeError(f"revision {revision.number} of build #{revision.build}: {build.sentence}")
    return build


def write_revision(
    build: Build,
    *,
    server: int,
    number: int,
    revision: int,
    author: int,
    at: datetime,
    reason: str,
    parent: int | None,
    proposal: int | None = None,
) -> Revision:
    """Return a new revision row; its hash is that of exactly the text that is stored."""
    return Revision(
        server=server,
        build=number,
        number=revision,
        hash=build_hash(build),
        author=author,
        at=at,
        reason=reason,
        parent=parent,
        proposal=proposal,
        document=canonical(build).decode(),
    )


def revision_view(row: Revision) -> RevisionView:
    """Return a revision without its document."""
    return RevisionView(
        number=row.number,
        hash=row.hash,
        author=row.author,
        at=row.at,
        reason=row.reason,
        parent=row.parent,
        proposal=row.proposal,
    )
