"""Folios of a server: every version as its bytes came, which one is in use, and at which tables."""

from datetime import datetime

from sqlalchemy import Index, LargeBinary, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from engine.store.models.base import Base, ChatId, to_member, to_server
from engine.store.models.tables import to_table
from engine.store.types import Moment


class FolioRow(Base):
    """One version of a folio, its content never rewritten. id, version, title, author, licence, about: as it says.

    hash: of its files; about: attribution; name: of the file that came; data: its bytes. current: whether it is the
    version that builds get which name the folio from now on; everywhere: whether the folio is switched on for the whole
    server (the same on every version). removed: since when it is gone; builds that use it keep its id.
    """

    __tablename__ = "folios"
    __table_args__ = (
        to_server(),
        to_member("added_by"),
        UniqueConstraint("server", "id", "hash"),
        Index(None, "server", "current", "id"),
    )

    server: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    id: Mapped[str] = mapped_column(String(60), primary_key=True)
    version: Mapped[str] = mapped_column(String(40), primary_key=True)
    hash: Mapped[str] = mapped_column(String(64))
    title: Mapped[str] = mapped_column(String(80))
    author: Mapped[str | None] = mapped_column(String(80))
    licence: Mapped[str] = mapped_column(Text)
    about: Mapped[str] = mapped_column(Text)
    name: Mapped[str] = mapped_column(String(120))
    size: Mapped[int]
    entries: Mapped[int]
    # Bytes are read by themselves: lists of folios stay light.
    data: Mapped[bytes] = mapped_column(LargeBinary, deferred=True, deferred_raiseload=True)
    added_by: Mapped[ChatId]
    at: Mapped[datetime] = mapped_column(Moment)
    current: Mapped[bool] = mapped_column(default=True)
    everywhere: Mapped[bool] = mapped_column(default=True)
    removed: Mapped[datetime | None] = mapped_column(Moment)


class TableFolio(Base):
    """A folio that is switched on for one table, whether or not it is for the whole server."""

    __tablename__ = "table_folios"
    __table_args__ = (to_table(), to_member("member"))

    server: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    at_table: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    folio: Mapped[str] = mapped_column(String(60), primary_key=True)
    member: Mapped[ChatId]
    at: Mapped[datetime] = mapped_column(Moment)
