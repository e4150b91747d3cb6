"""Witnessed rolls: what came up, who rolled it, when and for what. Rows are added and never taken away."""

from datetime import datetime
from typing import Any

from sqlalchemy import CheckConstraint, ForeignKeyConstraint, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from engine.store.models.base import Base, ChatId, to_member, to_server
from engine.store.types import Moment, Plain


def _to_build(column: str) -> ForeignKeyConstraint:
    # Without a cascade: a roll outlives what it was for. Looked at when the transaction ends, as for members.
    return ForeignKeyConstraint(
        ["server", column], ["builds.server", "builds.number"], deferrable=True, initially="DEFERRED"
    )


class RollRow(Base):
    """One roll. number: from the server's shared counter.

    dice: notation of one result. results: one entry for each, its total and the faces of its terms, as
    `engine.services.rolls` writes them. purpose: what it was for, in the roller's words; purpose_key: the same, folded.
    build, level: of a hit-point roll. serves: the build whose scores cite the roll, for score rolls.
    """

    __tablename__ = "rolls"
    __table_args__ = (
        to_server(),
        to_member("member"),
        # Without a cascade: a roll outlives what it was for. Deferred, so that a server can be deleted in any order.
        ForeignKeyConstraint(
            ["server", "build"], ["builds.server", "builds.number"], deferrable=True, initially="DEFERRED"
        ),
        ForeignKeyConstraint(
            ["server", "serves"], ["builds.server", "builds.number"], deferrable=True, initially="DEFERRED"
        ),
        CheckConstraint("kind IN ('dice', 'scores', 'hp')", name="kind"),
        Index(None, "server", "member", "kind", "purpose_key"),
        Index(None, "server", "build", "level"),
    )

    server: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    kind: Mapped[str] = mapped_column(String(8))
    member: Mapped[ChatId]
    at: Mapped[datetime] = mapped_column(Moment)
    dice: Mapped[str] = mapped_column(String(400))
    results: Mapped[list[dict[str, Any]]] = mapped_column(Plain)
    purpose: Mapped[str] = mapped_column(String(100), default="")
    purpose_key: Mapped[str] = mapped_column(String(400), default="")
    build: Mapped[int | None]
    level: Mapped[int | None]
    serves: Mapped[int | None]
