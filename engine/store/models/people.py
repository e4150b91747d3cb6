"""Servers, their members, and the counter that builds, proposals and rolls of a server share."""

from datetime import datetime

from sqlalchemy import String
from sqlalchemy.orm import Mapped, mapped_column

from engine.store.models.base import Base, ChatId, to_server
from engine.store.types import Moment


class Server(Base):
    """One chat server."""

    __tablename__ = "servers"

    id: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)


class Member(Base):
    """A member of a server who did something here. name: as last seen, None if never told."""

    __tablename__ = "members"
    __table_args__ = (to_server(),)

    server: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    id: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    name: Mapped[str | None] = mapped_column(String(100))
    seen: Mapped[datetime | None] = mapped_column(Moment)


class Counter(Base):
    """The last number given out on a server, so that `#7` is one thing whatever its kind."""

    __tablename__ = "counters"
    __table_args__ = (to_server(),)

    server: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    last: Mapped[int] = mapped_column(default=0)
