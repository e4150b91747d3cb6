"""The history: rows are added and read, never changed."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any, Final, Literal

from sqlalchemy import select

from engine.review.events import EVENTS, Event, read_event
from engine.store.link import Link
from engine.store.models import History
from engine.store.prepared import Write

Kind = Literal["build", "proposal", "server", "table"]
_ROW: Final = Write(
    lambda insert: insert(History), "server", "subject", "kind", "event", "actor", "at", "reason", "data"
)


class HistoryRows:
    """What happened on a server."""

    def __init__(self, link: Link) -> None:
        self._link = link

    def append(
        self,
        server: int,
        subject: int,
        kind: Kind,
        event: str,
        *,
        actor: int | None,
        at: datetime,
        reason: str = "",
        data: dict[str, Any] | None = None,
    ) -> None:
        """Add one row at the commit. event: past tense, kebab-case; data: plain JSON."""
        self._link.later(
            _ROW(
                server=server,
                subject=subject,
                kind=kind,
                event=event,
                actor=actor,
                at=at,
                reason=reason,
                data=data or None,
            )
        )

    def append_event(self, server: int, proposal: int, event: Event) -> None:
        """Add the row of one event of a proposal at the commit."""
        self.append(
            server,
            proposal,
            "proposal",
            event.kind,
            actor=event.actor,
            at=event.at,
            reason=event.reason,
            data=event.data,
        )

    async def of(self, server: int, subjects: Sequence[int], *, limit: int, offset: int = 0) -> list[History]:
        """Return rows about any of the subjects, newest first."""
        found = await self._link.session.scalars(
            select(History)
            .where(History.server == server, History.subject.in_(subjects))
            .order_by(History.id.desc())
            .limit(limit)
            .offset(offset)
        )
        return list(found)

    async def events(self, server: int, proposal: int) -> list[Event]:
        """Return the events of a proposal, oldest first, ready to be replayed."""
        found = await self._link.session.scalars(
            select(History).where(History.server == server, History.subject == proposal).order_by(History.id)
        )
        return [read_event(r.event, r.actor, r.at, r.reason, r.data or {}) for r in found if r.event in EVENTS]

    async def newest(self, server: int) -> datetime | None:
        """Return the time of the newest row of a server, None if nothing has happened there."""
        return await self._link.session.scalar(
            select(History.at).where(History.server == server).order_by(History.id.desc()).limit(1)
        )
