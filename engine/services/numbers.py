"""What a build's numbers are made of, what the audit says, what differs: reads without a change."""

from dataclasses import dataclass

from engine.problem import Refused
from engine.services.views import ComparedBuilds, Ref, ShownBuild
from engine.store.uow import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class CompareBuilds:
    """Ask what differs between two builds, or between two revisions of one.

    other None: the build itself; revision and other_revision None: the newest, but for one build alone the one before.
    """

    server: int
    member: int
    build: Ref
    other: Ref | None = None
    revision: int | None = None
    other_revision: int | None = None
    level: int | None = None


async def compare_builds(cmd: CompareBuilds, uow: UnitOfWork) -> ComparedBuilds | Refused: ...
