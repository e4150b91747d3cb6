"""Remarks: what members put on record about a build or a proposal, answered, changed, taken away and settled."""

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from engine.problem import Refused
from engine.services import rights
from engine.services.documents import read_document
from engine.services.find import Subject, find_subject
from engine.services.pages import page_number, paged
from engine.services.rights import Role
from engine.services.standing import notice
from engine.services.texts import level_refusal
from engine.services.views import Page, Ref, RemarkView, Suggestion
from engine.services.views_of import card_place, remark_view
from engine.store.models import Remark
from engine.store.uow import UnitOfWork

LONGEST: Final = 2_000
PAGE: Final = 10
_LONGEST_NUMBER: Final = 100
_SUGGESTED: Final = 25


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
class AnswerRemark:
    """Answer a remark: another one at the same place, which names it."""

    server: int
    member: int
    remark: int
    text: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class EditRemark:
    """Change the text of one's own remark; the history keeps what it said before."""

    server: int
    member: int
    remark: int
    text: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class RemoveRemark:
    """Take one's own remark away; the history keeps what it said."""

    server: int
    member: int
    remark: int
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class SettleRemark:
    """Mark a remark as settled, or as open again."""

    server: int
    member: int
    remark: int
    at: datetime
    settled: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class ListRemarks:
    """Ask for a page of the remarks on a build or proposal, newest first."""

    server: int
    member: int
    subject: Ref
    page: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class SuggestRemarks:
    """Ask for up to 25 remarks on a build or proposal, newest first, whose id or text fits. own: only one's own."""

    server: int
    member: int
    subject: Ref
    text: str = ""
    own: bool = False


async def add_remark(cmd: AddRemark, uow: UnitOfWork) -> RemarkView | Refused:
    """Store a remark with its history row; closed proposals can be remarked on too.

    Returns: the remark, with the cards of its subject, since the first remark makes the thread. Refused: as
        `find_subject`, "remark-empty", "remark-too-long", "no-such-level", "no-such-number".
    """
    text = _text(cmd.text)
    if isinstance(text, Refused):
        return text
    if cmd.number is not None and len(cmd.number) > _LONGEST_NUMBER:
        return Refused("no-such-number", "No number of a build has so long a name.")
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
        _record(uow, subject, "remark-added", cmd.member, cmd.at, remark=id_)
        view = await _viewed(uow, remark, subject)
        await uow.commit()
    return view


async def answer_remark(cmd: AnswerRemark, uow: UnitOfWork) -> RemarkView | Refused:
    """Store an answer, which tells the author of the remark.

    Returns: the answer. Refused: "no-such-remark", "remark-empty", "remark-too-long".
    """
    text = _text(cmd.text)
    if isinstance(text, Refused):
        return text
    async with uow:
        await uow.people.ensure(cmd.server, cmd.member)
        found = await _find(uow, cmd.server, cmd.member, cmd.remark)
        if isinstance(found, Refused):
            return found
        asked, subject = found
        answer = Remark(
            server=cmd.server,
            subject=asked.subject,
            kind=asked.kind,
            level=asked.level,
            number=asked.number,
            author=cmd.member,
            text=text,
            at=cmd.at,
            answers=asked.id,
        )
        id_ = await uow.remarks.add(answer)
        _record(uow, subject, "remark-answered", cmd.member, cmd.at, remark=id_, answers=asked.id)
        view = await _viewed(uow, answer, subject, asked.author)
        await uow.commit()
    return view


async def edit_remark(cmd: EditRemark, uow: UnitOfWork) -> RemarkView | Refused:
    """Change the text of one's own remark.

    Returns: the remark. Refused: "no-such-remark", "not-allowed", "remark-empty", "remark-too-long",
        "nothing-changed".
    """
    text = _text(cmd.text)
    if isinstance(text, Refused):
        return text
    async with uow:
        found = await _own(cmd, uow)
        if isinstance(found, Refused):
            return found
        remark, subject = found
        if remark.text == text:
            return Refused("nothing-changed", "The remark says that already.")
        _record(uow, subject, "remark-edited", cmd.member, cmd.at, remark=remark.id, before=remark.text)
        remark.text, remark.edited = text, cmd.at
        view = await _viewed(uow, remark, subject)
        await uow.commit()
    return view


async def remove_remark(cmd: RemoveRemark, uow: UnitOfWork) -> RemarkView | Refused:
    """Take one's own remark away. Returns: it as it was. Refused: "no-such-remark", "not-allowed"."""
    async with uow:
        found = await _own(cmd, uow)
        if isinstance(found, Refused):
            return found
        remark, subject = found
        remark.removed = cmd.at
        _record(uow, subject, "remark-removed", cmd.member, cmd.at, remark=remark.id, before=remark.text)
        view = await _viewed(uow, remark, subject)
        await uow.commit()
    return view


async def settle_remark(cmd: SettleRemark, uow: UnitOfWork) -> RemarkView | Refused:
    """Mark a remark as settled, or as open again, by the build's author or a co-author.

    Returns: the remark. Refused: "no-such-remark", "not-allowed", "nothing-changed".
    """
    async with uow:
        found = await _find(uow, cmd.server, cmd.member, cmd.remark)
        if isinstance(found, Refused):
            return found
        remark, subject = found
        coauthors = await uow.builds.coauthors(cmd.server, subject.build.number)
        refused = rights.refusal(SettleRemark, rights.roles_on_build(cmd.member, subject.build.author, coauthors))
        if refused is not None:
            return refused
        if (remark.settled is not None) is cmd.settled:
            return Refused("nothing-changed", f"That remark is {'settled' if cmd.settled else 'open'} already.")
        remark.settled, remark.settled_by = (cmd.at, cmd.member) if cmd.settled else (None, None)
        event = "remark-settled" if cmd.settled else "remark-reopened"
        _record(uow, subject, event, cmd.member, cmd.at, remark=remark.id)
        view = await _viewed(uow, remark, subject)
        await uow.commit()
    return view


async def list_remarks(cmd: ListRemarks, uow: UnitOfWork) -> Page[RemarkView] | Refused:
    """Return a page of remarks. Refused: as `find_subject`."""
    number = page_number(cmd.page)
    async with uow.reading():
        subject = await find_subject(uow, cmd.server, cmd.member, cmd.subject)
        if isinstance(subject, Refused):
            return subject
        found = await uow.remarks.of(cmd.server, [subject.number], limit=PAGE + 1, offset=(number - 1) * PAGE)
    return paged([remark_view(each, subject.title) for each in found], number, PAGE)


async def suggest_remarks(cmd: SuggestRemarks, uow: UnitOfWork) -> list[Suggestion]:
    """Return remarks for an autocomplete, by id or words; none for a subject that the member may not see."""
    async with uow.reading():
        subject = await find_subject(uow, cmd.server, cmd.member, cmd.subject)
        if isinstance(subject, Refused):
            return []
        found = await uow.remarks.of(cmd.server, [subject.number], limit=200)
    words = cmd.text.strip().casefold()
    return [
        Suggestion(f"{each.id}: {' '.join(each.text.split())}", each.id)
        for each in found
        if (not cmd.own or each.author == cmd.member) and words in f"{each.id}: {each.text}".casefold()
    ][:_SUGGESTED]


def _text(typed: str) -> str | Refused:
    text = typed.strip()
    if not text:
        return Refused("remark-empty", "That remark is empty; say what you think of the build or the change.")
    if len(text) > LONGEST:
        return Refused("remark-too-long", f"That remark has {len(text):,} characters; one may have {LONGEST:,}.")
    return text


def _record(uow: UnitOfWork, subject: Subject, event: str, member: int, at: datetime, **data: int | str) -> None:
    uow.history.append(subject.build.server, subject.number, subject.kind, event, actor=member, at=at, data=dict(data))


async def _viewed(uow: UnitOfWork, remark: Remark, subject: Subject, *others: int) -> RemarkView:
    """Return the view of a remark that has just been stored, with whom to tell of a new one: `others`."""
    server = subject.build.server
    cards = tuple(card_place(card) for card in await uow.cards.of(server, subject.number))
    notices = await notice(uow, server, subject.number, subject.title, "remarked", others, remark.author)
    return remark_view(remark, subject.title, cards, notices)


async def _find(uow: UnitOfWork, server: int, member: int, id_: int) -> tuple[Remark, Subject] | Refused:
    """Return a remark held for update, with its subject, if the member may see both. Refused: "no-such-remark"."""
    remark = await uow.remarks.get(server, id_, for_update=True)
    subject = None if remark is None else await find_subject(uow, server, member, remark.subject)
    if remark is None or remark.removed is not None or subject is None or isinstance(subject, Refused):
        return Refused("no-such-remark", f"There is no remark {id_} here; /remark list shows those on a build.")
    return remark, subject


async def _own(cmd: EditRemark | RemoveRemark, uow: UnitOfWork) -> tuple[Remark, Subject] | Refused:
    found = await _find(uow, cmd.server, cmd.member, cmd.remark)
    if isinstance(found, Refused):
        return found
    held = frozenset({Role.KEEPER}) if found[0].author == cmd.member else frozenset[Role]()
    return rights.refusal(type(cmd), held) or found
