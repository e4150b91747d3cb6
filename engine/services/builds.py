"""Builds: loaded, shared, edited, removed, shown and listed."""

from dataclasses import dataclass
from datetime import datetime

from engine.problem import Refused
from engine.services.views import (
    BuildBrief,
    BuildView,
    HistoryEntry,
    Page,
    Part,
    PartText,
    Ref,
    RevisionView,
    ShownBuild,
    Suggestion,
    TextErrors,
)
from engine.store.uow import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadBuild:
    """Make a draft build of the member's own from a whole outline."""

    server: int
    member: int
    text: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareBuild:
    """Show a draft to the server; it stays shared."""

    server: int
    member: int
    build: Ref
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadPart:
    """Ask for a part of a build as outline text, to fill a form with."""

    server: int
    member: int
    build: Ref
    part: Part


@dataclass(frozen=True, slots=True, kw_only=True)
class EditBuild:
    """Change a part of one's own build. revision: the one that the form was filled from, None for the newest."""

    server: int
    member: int
    build: Ref
    part: Part
    text: str
    at: datetime
    reason: str = ""
    revision: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RemoveBuild:
    """Take one's own build away; its open proposals are closed, its name is free again."""

    server: int
    member: int
    build: Ref
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class GetBuild:
    """Ask for a build at its newest or a given revision."""

    server: int
    member: int
    build: Ref
    revision: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ShowBuild:
    """Ask for a build with its numbers at a level, None for its last one."""

    server: int
    member: int
    build: Ref
    level: int | None = None
    revision: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ListBuilds:
    """Ask for a page of the builds that the member may see, newest number first.

    author: member id; class_: class id; level: character level reached exactly.
    """

    server: int
    member: int
    author: int | None = None
    class_: str | None = None
    level: int | None = None
    page: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildHistory:
    """Ask for a page of what happened to a build, newest first."""

    server: int
    member: int
    build: Ref
    page: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class ListRevisions:
    """Ask for a page of a build's revisions, newest first."""

    server: int
    member: int
    build: Ref
    page: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class SuggestBuilds:
    """Ask for up to 25 builds whose name or number begins like the text. own: only the member's own."""

    server: int
    member: int
    text: str = ""
    own: bool = False


async def load_build(cmd: LoadBuild, uow: UnitOfWork) -> BuildView | TextErrors | Refused: ...
async def share_build(cmd: ShareBuild, uow: UnitOfWork) -> BuildView | Refused: ...
async def read_part(cmd: ReadPart, uow: UnitOfWork) -> PartText | Refused: ...
async def edit_build(cmd: EditBuild, uow: UnitOfWork) -> BuildView | TextErrors | Refused: ...
async def remove_build(cmd: RemoveBuild, uow: UnitOfWork) -> BuildView | Refused: ...
async def get_build(cmd: GetBuild, uow: UnitOfWork) -> BuildView | Refused: ...
async def show_build(cmd: ShowBuild, uow: UnitOfWork) -> ShownBuild | Refused: ...
async def list_builds(cmd: ListBuilds, uow: UnitOfWork) -> Page[BuildBrief]: ...
async def build_history(cmd: BuildHistory, uow: UnitOfWork) -> Page[HistoryEntry] | Refused: ...
async def list_revisions(cmd: ListRevisions, uow: UnitOfWork) -> Page[RevisionView] | Refused: ...
async def suggest_builds(cmd: SuggestBuilds, uow: UnitOfWork) -> list[Suggestion]: ...
