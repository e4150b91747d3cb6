"""Tables, who sits at them, and the builds submitted to them with their approvals and waivers."""

from datetime import datetime
from typing import Any

from sqlalchemy import CheckConstraint, ForeignKeyConstraint, Index, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from engine.review.approval import Stage
from engine.store.models.base import Base, ChatId, RowId, to_build, to_member, to_server
from engine.store.types import Moment, Plain


def to_table() -> ForeignKeyConstraint:
    """Return the reference to a table of the row's server."""
    return ForeignKeyConstraint(
        ["server", "at_table"], ["game_tables.server", "game_tables.number"], ondelete="CASCADE"
    )


def to_submission() -> ForeignKeyConstraint:
    """Return the reference to a submission of the row's server."""
    return ForeignKeyConstraint(
        ["server", "submission"], ["submissions.server", "submissions.number"], ondelete="CASCADE"
    )


class TableRow(Base):
    """A table. number: from the server's shared counter; name_key: folded name, None once closed, which frees the name.

    channel: where its cards go, None for wherever a command is given; role: chat role whose holders are players; open:
    whether anybody may join; level: the campaign's; rules: YAML as its GM wrote it, empty for none; policy: how
    proposals to its builds are decided, None for the server's.
    """

    __tablename__ = "game_tables"
    __table_args__ = (
        to_server(),
        UniqueConstraint("server", "name_key"),
        CheckConstraint("level BETWEEN 1 AND 20", name="level"),
    )

    server: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    name: Mapped[str] = mapped_column(String(60))
    name_key: Mapped[str | None] = mapped_column(
        String(240).with_variant(String(240, collation="C"), "postgresql")  # names are folded: plain byte order
    )
    channel: Mapped[ChatId | None]
    role: Mapped[ChatId | None]
    open: Mapped[bool] = mapped_column(default=True)
    level: Mapped[int]
    rules: Mapped[str] = mapped_column(Text, default="")
    policy: Mapped[dict[str, Any] | None] = mapped_column(Plain)
    closed: Mapped[datetime | None] = mapped_column(Moment)
    created: Mapped[datetime] = mapped_column(Moment)
    changed: Mapped[datetime] = mapped_column(Moment)
    row_version: Mapped[int] = mapped_column(default=1)

    __mapper_args__ = {"version_id_col": row_version}  # noqa: RUF012 - read by the mapper


class Seat(Base):
    """A member at a table: one of its GMs, or a player by name. at: since when."""

    __tablename__ = "seats"
    __table_args__ = (to_table(), to_member("member"), Index(None, "server", "member", "at_table"))

    server: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    at_table: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    member: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    gm: Mapped[bool]
    at: Mapped[datetime] = mapped_column(Moment)


class SubmissionRow(Base):
    """A build put before a table's GM. number: from the server's shared counter, so that its card can be found.

    stage, revision (as submitted), at, remarks (of the last return), decided, decided_by: those of
    engine.review.approval.Submission. A build has one row for each table it was ever submitted to; of these at most one
    is not withdrawn.
    """

    __tablename__ = "submissions"
    __table_args__ = (
        to_build(),
        to_table(),
        to_member("decided_by"),
        UniqueConstraint("server", "build", "at_table"),
        CheckConstraint(f"stage IN ({', '.join(repr(s.value) for s in Stage)})", name="stage"),
        Index(None, "server", "at_table", "number"),
    )

    server: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    build: Mapped[int]
    at_table: Mapped[int]
    stage: Mapped[str] = mapped_column(String(10))
    revision: Mapped[int]
    at: Mapped[datetime] = mapped_column(Moment)
    remarks: Mapped[str] = mapped_column(Text, default="")
    decided: Mapped[datetime | None] = mapped_column(Moment)
    decided_by: Mapped[ChatId | None]
    row_version: Mapped[int] = mapped_column(default=1)

    __mapper_args__ = {"version_id_col": row_version}  # noqa: RUF012 - read by the mapper


class ApprovalRow(Base):
    """One approval; rows are added and never changed, the newest of a submission counts. place: 1, 2...

    What it pins: revision, levels first to last, seen (name -> [[level from which it holds, value], ...]), findings
    (outside form) that stood then, folios (id -> hash) that the numbers came from.
    """

    __tablename__ = "approvals"
    __table_args__ = (to_submission(), to_member("member"))

    server: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    submission: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    place: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    member: Mapped[ChatId]
    at: Mapped[datetime] = mapped_column(Moment)
    revision: Mapped[int]
    first: Mapped[int]
    last: Mapped[int]
    seen: Mapped[dict[str, Any]] = mapped_column(Plain)
    findings: Mapped[list[dict[str, Any]]] = mapped_column(Plain)
    folios: Mapped[dict[str, str]] = mapped_column(Plain)


class Waiver(Base):
    """A finding that a GM lets pass, with the reason. code, level, subject, message: of the finding."""

    __tablename__ = "waivers"
    __table_args__ = (
        to_submission(),
        to_member("member"),
        Index(None, "server", "submission", "id"),
        {"sqlite_autoincrement": True},  # an id that is gone never comes back
    )

    id: Mapped[RowId]
    server: Mapped[ChatId]
    submission: Mapped[int]
    code: Mapped[str] = mapped_column(String(60))
    level: Mapped[int | None]
    subject: Mapped[str] = mapped_column(Text)
    message: Mapped[str] = mapped_column(Text)
    reason: Mapped[str] = mapped_column(Text)
    member: Mapped[ChatId]
    at: Mapped[datetime] = mapped_column(Moment)
