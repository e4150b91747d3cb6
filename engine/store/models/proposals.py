"""Proposals, their edits and the votes on them."""

from datetime import datetime
from typing import Any

from sqlalchemy import CheckConstraint, Index, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from engine.review.machine import State
from engine.review.policy import Choice
from engine.store.models.base import Base, ChatId, to_build, to_member, to_proposal
from engine.store.types import Moment, Plain


def one_of(column: str, words: type[State] | type[Choice]) -> CheckConstraint:
    """Return the constraint that a column holds one of an enumeration's words."""
    return CheckConstraint(f"{column} IN ({', '.join(repr(word.value) for word in words)})", name=column)


class ProposalRow(Base):
    """A proposal. base: the revision its edits are against; policy, clashes: plain JSON, None for none.

    remind: when members should be reminded of the deadline, None once they were; based_on: number of the proposal whose
    edits it started from. deadline, closed and what else may change are those of engine.review.machine.Proposal.
    """

    __tablename__ = "proposals"
    __table_args__ = (
        to_build(),
        to_member("proposer"),
        one_of("state", State),
        Index(None, "server", "state", "number"),
        Index(None, "server", "build", "state"),
        Index(None, "server", "proposer", "number"),
        Index(None, "state", "deadline"),
        Index(None, "state", "remind"),
    )

    server: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    build: Mapped[int]
    base: Mapped[int]
    proposer: Mapped[ChatId]
    title: Mapped[str] = mapped_column(String(100))
    reason: Mapped[str] = mapped_column(Text)
    state: Mapped[str] = mapped_column(String(12))
    policy: Mapped[dict[str, Any] | None] = mapped_column(Plain)
    created: Mapped[datetime] = mapped_column(Moment)
    since: Mapped[datetime] = mapped_column(Moment)
    deadline: Mapped[datetime | None] = mapped_column(Moment)
    remind: Mapped[datetime | None] = mapped_column(Moment)
    based_on: Mapped[int | None]
    closed: Mapped[datetime | None] = mapped_column(Moment)
    closed_by: Mapped[ChatId | None]
    close_reason: Mapped[str] = mapped_column(Text, default="")
    adopted_as: Mapped[int | None]
    clashes: Mapped[list[str] | None] = mapped_column(Plain)
    row_version: Mapped[int] = mapped_column(default=1)

    __mapper_args__ = {"version_id_col": row_version}  # noqa: RUF012 - read by the mapper


class EditRow(Base):
    """One typed field change of a proposal. path: JSON pointer; before, after: plain JSON, `null` for absent."""

    __tablename__ = "edits"
    __table_args__ = (to_proposal(),)

    server: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    proposal: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    place: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    path: Mapped[str] = mapped_column(Text)
    before: Mapped[Any] = mapped_column(Plain, nullable=True)
    after: Mapped[Any] = mapped_column(Plain, nullable=True)


class Vote(Base):
    """The one vote of a member on a proposal."""

    __tablename__ = "votes"
    __table_args__ = (to_proposal(), to_member("member"), one_of("choice", Choice))

    server: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    proposal: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    member: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    choice: Mapped[str] = mapped_column(String(8))
    at: Mapped[datetime] = mapped_column(Moment)
