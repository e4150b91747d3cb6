"""When something last happened on a server: the local room moves its clock past that."""

from dataclasses import dataclass
from datetime import datetime

from engine.store.uow import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class NewestTime:
    """Ask for the time of a server's newest event."""

    server: int


async def newest_time(cmd: NewestTime, uow: UnitOfWork) -> datetime | None:
    """Return the aware UTC time of the newest history row, or None on a server without any."""
    async with uow.reading():
        return await uow.history.newest(cmd.server)
