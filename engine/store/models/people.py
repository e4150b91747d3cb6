"""Servers, their members, and the counter that builds, proposals and rolls of a server share."""

from datetime import datetime
from typing import Any

from sqlalchemy import String
from sqlalchemy.orm import Mapped, mapped_column

from engine.store.models.base import Base, ChatId, to_server
from engine.store.types import Moment, Plain


class Server(Base):
    """One chat server.

    policy: how proposals are decided, plain JSON, None for the default; place: channel for cards, None for wherever a
    command is given; librarians: role whose members may add folios besides the managers, the server's own id for
    everybody; left: when the bot was removed, after which everything goes in a while.
    """

    __tablename__ = "servers"

    id: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    policy: Mapped[dict[str, Any] | None] = mapped_column(Plain)
    place: Mapped[ChatId | None]
    librarians: Mapped[ChatId | None]
    left: Mapped[datetime | None] = mapped_column(Moment)


class Member(Base):
    """A member of a server who did something here. name: as last seen, None if never told.

    id: negative for one who was erased. silent: since when no notice may reach them, None if notices may.
    """

    __tablename__ = "members"
    __table_args__ = (to_server(),)

    server: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    id: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    name: Mapped[str | None] = mapped_column(String(100))
    seen: Mapped[datetime | None] = mapped_column(Moment)
    silent: Mapped[datetime | None] = mapped_column(Moment)


class Counter(Base):
    """The last number given out on a server, so that `#7` is one thing whatever its kind."""

    __tablename__ = "counters"
    __table_args__ = (to_server(),)

    server: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    last: Mapped[int] = mapped_column(default=0)
