"""Write-ups: the text of a build's author, and against which revision its numbers were last checked."""

from datetime import datetime

from sqlalchemy import Text
from sqlalchemy.orm import Mapped, mapped_column

from engine.store.models.base import Base, ChatId, to_build, to_member
from engine.store.types import Moment


class WriteupRow(Base):
    """The write-up of a build, the newest that was checked. revision: the build's when it was."""

    __tablename__ = "writeups"
    __table_args__ = (to_build(), to_member("member"))

    server: Mapped[ChatId] = mapped_column(primary_key=True, autoincrement=False)
    build: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    member: Mapped[ChatId]
    text: Mapped[str] = mapped_column(Text)
    revision: Mapped[int]
    at: Mapped[datetime] = mapped_column(Moment)
