"""Drafts: what a member typed into a form, kept for a while so that nothing typed is lost."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Final

from engine.build.outline import OutlineError
from engine.problem import Refused
from engine.services.texts import LONGEST
from engine.services.views import Draft, TextErrors
from engine.store.models import DraftRow
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


KEPT_FOR: Final = timedelta(days=7)
_MOST_FIELDS: Final = 10


async def keep_draft(cmd: KeepDraft, uow: UnitOfWork) -> Draft | Refused:
    """Keep what was typed into a form for a week, the member's newest twenty. Refused: "text-too-long"."""
    if len(cmd.fields) > _MOST_FIELDS or sum(map(len, cmd.fields.values())) > 2 * LONGEST:
        return Refused("text-too-long", "That is more text than can be kept; attach it as a file instead.")
    async with uow:
        await uow.people.ensure(cmd.server, cmd.member)
        kept = await keep(uow, cmd.server, cmd.member, cmd.kind, dict(cmd.fields), cmd.at)
        await uow.commit()
    return kept


async def get_draft(cmd: GetDraft, uow: UnitOfWork) -> Draft | Refused:
    """Return a draft of one's own. Refused: "draft-gone"."""
    async with uow.reading():
        return await find_draft(uow, cmd.server, cmd.member, cmd.draft)


async def drop_drafts(at: datetime, uow: UnitOfWork) -> None:
    """Drop what was typed more than a week ago. Over all servers: only the bot's own task asks."""
    async with uow:
        if await uow.drafts.drop_all_before(at - KEPT_FOR):
            await uow.commit()


async def keep(uow: UnitOfWork, server: int, member: int, kind: str, fields: dict[str, str], at: datetime) -> Draft:
    """Store a draft inside a unit of work; older ones of the server go."""
    await uow.drafts.drop_before(server, at - KEPT_FOR)
    id_ = await uow.drafts.add(DraftRow(server=server, member=member, kind=kind, fields=fields, at=at))
    return Draft(id_, kind, member, fields, at)


async def kept_errors(
    uow: UnitOfWork,
    server: int,
    member: int,
    kind: str,
    fields: dict[str, str],
    errors: list[OutlineError],
    at: datetime,
) -> TextErrors:
    """Return the errors of a text that is kept for `Try again`, inside a unit of work."""
    draft = await keep(uow, server, member, kind, fields, at)
    return TextErrors(tuple(errors), fields["text"], draft.id)


async def find_draft(uow: UnitOfWork, server: int, member: int, draft: int) -> Draft | Refused:
    """Return a draft of a member's own, inside a unit of work. Refused: "draft-gone"."""
    row = await uow.drafts.get(server, member, draft)
    if row is None:
        return Refused("draft-gone", "That text is no longer kept: it was posted, or it is too old. Start again.")
    return Draft(row.id, row.kind, row.member, row.fields, row.at)
