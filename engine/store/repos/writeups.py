"""Write-ups: one for each build, replaced by the next that is checked."""

from engine.store.link import Link
from engine.store.models import WriteupRow


class Writeups:
    """The write-ups of a server."""

    def __init__(self, link: Link) -> None:
        self._link = link

    async def get(self, server: int, build: int) -> WriteupRow | None:
        """Return the write-up of a build."""
        return await self._link.session.get(WriteupRow, (server, build))

    async def put(self, row: WriteupRow) -> None:
        """Store the write-up of a build in place of the one before."""
        await self._link.session.merge(row)
        await self._link.session.flush()
