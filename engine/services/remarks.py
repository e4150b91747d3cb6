"""Remarks: what members put on record about a build or a proposal."""

from dataclasses import dataclass
from datetime import datetime

from engine.problem import Refused
from engine.services.views import Page, Ref, RemarkView
from engine.store.uow import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class AddRemark:
    """Put a remark on record. subject: build or proposal, level and number: what of the build it is about, if so."""

    server: int
    member: int
    subject: Ref
    text: str
    at: datetime
    level: int | None = None
    number: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ListRemarks:
    """Ask for a page of the remarks on a build or proposal, newest first."""

    server: int
    member: int
    subject: Ref
    page: int = 1


async def add_remark(cmd: AddRemark, uow: UnitOfWork) -> RemarkView | Refused: ...
async def list_remarks(cmd: ListRemarks, uow: UnitOfWork) -> Page[RemarkView] | Refused: ...
