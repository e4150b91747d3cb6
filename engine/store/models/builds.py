"""Builds, their co-authors, the classes they have (for filters), and their revisions."""

from datetime import datetime

from sqlalchemy import CheckConstraint, Index, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from engine.store.models.base import Base, ChatId, to_build, to_member, to_server
from engine.store.types import Moment


class BuildRow(Base):
    """A build; what it says stands in its revisions.

    name_key: folded name, unique per server, None once removed, which frees the name. top, the classes: of the newest
    revision, kept for lists. retired: since when it is set aside; origin, origin_revision: number and revision of the
    build that it was copied from, which may be gone. row_version: counts saves, so that of two writers one fails.
    """

    __tablename__ = "builds"
    __table_args__ = (
        to_server(),
        to_member("author"),
        UniqueConstraint("server", "name_key"),
        Index(None, "server", "author", "number"),
        Index(None, "server", "top", "number"),
    )

    server: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    author: Mapped[ChatId]
    name: Mapped[str] = mapped_column(String(60))
    name_key: Mapped[str | None] = mapped_column(
        String(240).with_variant(String(240, collation="C"), "postgresql")  # names are folded: plain byte order
    )
    shared: Mapped[bool] = mapped_column(default=False)
    removed: Mapped[bool] = mapped_column(default=False)
    retired: Mapped[datetime | None] = mapped_column(Moment)
    origin: Mapped[int | None]
    origin_revision: Mapped[int | None]
    revision: Mapped[int] = mapped_column(default=1)
    top: Mapped[int] = mapped_column(default=0)
    created: Mapped[datetime] = mapped_column(Moment)
    changed: Mapped[datetime] = mapped_column(Moment)
    row_version: Mapped[int] = mapped_column(default=1)

    __mapper_args__ = {"version_id_col": row_version}  # noqa: RUF012 - read by the mapper


class CoAuthor(Base):
    """A member who may edit a build and decide about proposals to it besides its author. at: since when."""

    __tablename__ = "coauthors"
    __table_args__ = (to_build(), to_member("member"), Index(None, "server", "member", "build"))

    server: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    build: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    member: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    at: Mapped[datetime] = mapped_column(Moment)


class BuildClass(Base):
    """One class of a build's newest revision. place: its place in the order in which the classes were taken."""

    __tablename__ = "build_classes"
    __table_args__ = (to_build(), Index(None, "server", "class_id", "build"))

    server: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    build: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    class_id: Mapped[str] = mapped_column(String(80), primary_key=True)
    levels: Mapped[int]
    place: Mapped[int]


class Revision(Base):
    """One immutable document: canonical JSON text, never rewritten, and its hash.

    parent: number of the revision it was made from; proposal: the one whose adoption made it.
    """

    __tablename__ = "revisions"
    __table_args__ = (to_build(), to_member("author"), CheckConstraint("number >= 1", name="number"))

    server: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    build: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    hash: Mapped[str] = mapped_column(String(64))
    author: Mapped[ChatId]
    at: Mapped[datetime] = mapped_column(Moment)
    reason: Mapped[str] = mapped_column(Text, default="")
    parent: Mapped[int | None]
    proposal: Mapped[int | None]
    document: Mapped[str] = mapped_column(Text)
