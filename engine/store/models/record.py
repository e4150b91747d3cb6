"""What is put on record: remarks, and the append-only history of every change."""

from datetime import datetime
from typing import Any

from sqlalchemy import BigInteger, CheckConstraint, Index, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from engine.store.models.base import Base, ChatId, RowId, to_member, to_server
from engine.store.types import Moment, Plain

KINDS = "kind IN ('build', 'proposal')"
HISTORY_KINDS = "kind IN ('build', 'proposal', 'server', 'table')"


class Remark(Base):
    """A remark on a build or proposal. level, number: what of the build it is about, if so.

    answers: id of the remark that it answers. edited, removed, settled: when it was; the history keeps earlier texts.
    """

    __tablename__ = "remarks"
    __table_args__ = (
        to_server(),
        to_member("author"),
        CheckConstraint(KINDS, name="kind"),
        Index(None, "server", "subject", "id"),
        {"sqlite_autoincrement": True},  # an id that is gone never comes back
    )

    id: Mapped[RowId]
    server: Mapped[ChatId]
    subject: Mapped[int]
    kind: Mapped[str] = mapped_column(String(12))
    level: Mapped[int | None]
    number: Mapped[str | None] = mapped_column(String(100))
    author: Mapped[ChatId]
    text: Mapped[str] = mapped_column(Text)
    at: Mapped[datetime] = mapped_column(Moment)
    answers: Mapped[int | None] = mapped_column(BigInteger)
    edited: Mapped[datetime | None] = mapped_column(Moment)
    removed: Mapped[datetime | None] = mapped_column(Moment)
    settled: Mapped[datetime | None] = mapped_column(Moment)
    settled_by: Mapped[ChatId | None]


class History(Base):
    """One thing that happened; rows are added and never changed, except that an erased member's id is replaced.

    subject: number of a build, proposal or table, 0 for the server. actor None: time did it. data: plain JSON.
    """

    __tablename__ = "history"
    __table_args__ = (
        to_server(),
        to_member("actor"),
        CheckConstraint(HISTORY_KINDS, name="kind"),
        Index(None, "server", "subject", "id"),
        {"sqlite_autoincrement": True},  # an id that is gone never comes back
    )

    id: Mapped[RowId]
    server: Mapped[ChatId]
    subject: Mapped[int]
    kind: Mapped[str] = mapped_column(String(12))
    event: Mapped[str] = mapped_column(String(40))
    actor: Mapped[ChatId | None]
    at: Mapped[datetime] = mapped_column(Moment)
    reason: Mapped[str] = mapped_column(Text, default="")
    data: Mapped[dict[str, Any] | None] = mapped_column(Plain)
