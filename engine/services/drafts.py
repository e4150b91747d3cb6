"""Drafts: what a member typed into a form, kept for a while so that nothing typed is lost."""

from dataclasses import dataclass, field
from datetime import datetime

from engine.problem import Refused
from engine.services.views import Draft
from engine.store.uow import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepDraft:
    """Keep the fields of a form. kind: which form, in the caller's words."""

    server: int
    member: int
    kind: str
    at: datetime
    fields: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class GetDraft:
    """Ask for a draft of one's own; it stays kept."""

    server: int
    member: int
    draft: int


async def keep_draft(cmd: KeepDraft, uow: UnitOfWork) -> Draft: ...
async def get_draft(cmd: GetDraft, uow: UnitOfWork) -> Draft | Refused: ...
