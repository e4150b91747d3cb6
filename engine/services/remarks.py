"""Remarks: what members put on record about a build or a proposal."""

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from engine.problem import Refused
from engine.services.documents import read_document
from engine.services.find import find_subject
from engine.services.pages import page_number, paged
from engine.services.texts import level_refusal
from engine.services.views import Page, Ref, RemarkView
from engine.services.views_of import card_place, remark_view
from engine.store.models import Remark
from engine.store.uow import UnitOfWork

LONGEST: Final = 2_000
PAGE: Final = 10


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


async def add_remark(cmd: AddRemark, uow: UnitOfWork) -> RemarkView | Refused:
    """Store a remark with its history row; closed proposals can be remarked on too.

    Returns: the remark, with the cards of its subject, since the first remark makes the thread. Refused: as
        `find_subject`, "remark-empty", "remark-too-long", "no-such-level".
    """
    text = cmd.text.strip()
    if not text:
        return Refused("remark-empty", "That remark is empty; say what you think of the build or the change.")
    if len(text) > LONGEST:
        return Refused("remark-too-long", f"That remark has {len(text):,} characters; one may have {LONGEST:,}.")
    async with uow:
        await uow.people.ensure(cmd.server, cmd.member)
        subject = await find_subject(uow, cmd.server, cmd.member, cmd.subject)
        if isinstance(subject, Refused):
            return subject
        if cmd.level is not None:
            revision = await uow.builds.revision(cmd.server, subject.build.number, subject.build.revision)
            assert revision is not None  # the row is only ever saved together with its newest revision
            refused = level_refusal(read_document(revision), cmd.level)
            if refused is not None:
                return refused
        remark = Remark(
            server=cmd.server,
            subject=subject.number,
            kind=subject.kind,
            level=cmd.level,
            number=cmd.number,
            author=cmd.member,
            text=text,
            at=cmd.at,
        )
        id_ = await uow.remarks.add(remark)
        uow.history.append(
            cmd.server,
            subject.number,
            subject.kind,
            "remark-added",
            actor=cmd.member,
            at=cmd.at,
            data={"remark": id_},
        )
        cards = tuple(card_place(card) for card in await uow.cards.of(cmd.server, subject.number))
        await uow.commit()
    return remark_view(remark, subject.title, cards)


async def list_remarks(cmd: ListRemarks, uow: UnitOfWork) -> Page[RemarkView] | Refused:
    """Return a page of remarks. Refused: as `find_subject`."""
    number = page_number(cmd.page)
    async with uow.reading():
        subject = await find_subject(uow, cmd.server, cmd.member, cmd.subject)
        if isinstance(subject, Refused):
            return subject
        found = await uow.remarks.of(cmd.server, subject.number, limit=PAGE + 1, offset=(number - 1) * PAGE)
    return paged([remark_view(each, subject.title) for each in found], number, PAGE)
