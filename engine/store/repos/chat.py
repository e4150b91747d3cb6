"""Cards and drafts: what the chat front has to find again after a restart."""

from datetime import datetime
from typing import Final

from sqlalchemy import and_, delete, or_, select

from engine.review.approval import Stage
from engine.review.machine import State
from engine.store.link import Link
from engine.store.models import BuildRow, Card, DraftRow, ProposalRow, SubmissionRow

KEPT_DRAFTS: Final = 20


class Cards:
    """Where the cards of a server stand."""

    def __init__(self, link: Link) -> None:
        self._link = link

    async def get(self, server: int, message: int) -> Card | None:
        """Return the card that a message is."""
        return (
            await self._link.session.scalars(select(Card).where(Card.server == server, Card.message == message))
        ).one_or_none()

    async def put(self, card: Card) -> None:
        """Store a card, or what changed about it."""
        await self._link.session.merge(card)
        await self._link.session.flush()

    async def of(self, server: int, subject: int) -> list[Card]:
        """Return the cards of a subject, oldest message first."""
        found = await self._link.session.scalars(
            select(Card).where(Card.server == server, Card.subject == subject).order_by(Card.message)
        )
        return list(found)

    async def drop(self, server: int, message: int) -> None:
        """Forget a card."""
        await self._link.session.execute(delete(Card).where(Card.server == server, Card.message == message))

    async def live(self, server: int) -> list[Card]:
        """Return the cards of builds in use, and of proposals and submissions that can still change, by subject."""
        builds = select(BuildRow.number).where(BuildRow.server == server, BuildRow.removed.is_(False))
        proposals = select(ProposalRow.number).where(
            ProposalRow.server == server, ProposalRow.state.in_([State.OPEN.value, State.OUTDATED.value])
        )
        submissions = select(SubmissionRow.number).where(
            SubmissionRow.server == server,
            SubmissionRow.stage != Stage.WITHDRAWN.value,
            SubmissionRow.build.in_(builds),
        )
        living = or_(Card.subject.in_(builds), Card.subject.in_(proposals), Card.subject.in_(submissions))
        found = await self._link.session.scalars(
            select(Card).where(and_(Card.server == server, living)).order_by(Card.subject, Card.message)
        )
        return list(found)


class Drafts:
    """What the members of a server typed."""

    def __init__(self, link: Link) -> None:
        self._link = link

    async def add(self, draft: DraftRow) -> int:
        """Store a draft, drop the member's oldest beyond the newest 20, and return its id."""
        session = self._link.session
        session.add(draft)
        await session.flush()
        beyond = (
            select(DraftRow.id)
            .where(DraftRow.server == draft.server, DraftRow.member == draft.member)
            .order_by(DraftRow.id.desc())
            .offset(KEPT_DRAFTS)
            .limit(KEPT_DRAFTS)
        )
        await session.execute(delete(DraftRow).where(DraftRow.id.in_(beyond)))
        return draft.id

    async def get(self, server: int, member: int, id_: int) -> DraftRow | None:
        """Return a draft of the member's own."""
        return (
            await self._link.session.scalars(
                select(DraftRow).where(DraftRow.server == server, DraftRow.member == member, DraftRow.id == id_)
            )
        ).one_or_none()

    async def use_up(self, server: int, member: int, id_: int) -> bool:
        """Drop a draft of the member's own; False if it is gone, so that of two users one gets it."""
        gone = await self._link.session.execute(
            delete(DraftRow)
            .where(DraftRow.server == server, DraftRow.member == member, DraftRow.id == id_)
            .returning(DraftRow.id)
        )
        return gone.one_or_none() is not None

    async def drop_before(self, server: int, at: datetime) -> None:
        """Drop a server's drafts from before a time."""
        await self._link.session.execute(delete(DraftRow).where(DraftRow.server == server, DraftRow.at < at))

    async def drop_all_before(self, at: datetime) -> bool:
        """Drop the drafts of every server from before a time; whether there were any."""
        gone = await self._link.session.execute(delete(DraftRow).where(DraftRow.at < at).returning(DraftRow.id))
        return bool(gone.all())
