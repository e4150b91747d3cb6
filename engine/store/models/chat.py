"""What the chat front keeps: where cards stand, and what members typed into forms."""

from datetime import datetime

from sqlalchemy import Index, String
from sqlalchemy.orm import Mapped, mapped_column

from engine.store.models.base import Base, ChatId, RowId, to_member, to_server
from engine.store.types import Moment, Plain


class Card(Base):
    """A message that shows a build or proposal. thread: the one hanging on it; stale: it could not be redrawn."""

    __tablename__ = "cards"
    __table_args__ = (to_server(), Index(None, "server", "subject"))

    server: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    message: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    subject: Mapped[int]
    channel: Mapped[ChatId]
    thread: Mapped[ChatId | None]
    stale: Mapped[bool] = mapped_column(default=False)


class DraftRow(Base):
    """What a member typed into a form. kind: which form; fields: field -> text."""

    __tablename__ = "drafts"
    __table_args__ = (
        to_server(),
        to_member("member"),
        Index(None, "server", "member", "id"),
        # Ids stand in the buttons of old messages, so one that is gone must never come back as another text.
        {"sqlite_autoincrement": True},
    )

    id: Mapped[RowId]
    server: Mapped[ChatId]
    member: Mapped[ChatId]
    kind: Mapped[str] = mapped_column(String(40))
    fields: Mapped[dict[str, str]] = mapped_column(Plain)
    at: Mapped[datetime] = mapped_column(Moment)
