"""A server with as many builds and proposals as one likes, written as plain rows: services would take minutes."""

from typing import Any

from sqlalchemy import insert, text

from engine.build.document import Build
from engine.review.machine import State
from engine.review.policy import Choice
from engine.store.database import Database
from engine.store.models import (
    Base,
    BuildClass,
    BuildRow,
    Counter,
    History,
    Member,
    ProposalRow,
    Remark,
    Revision,
    Server,
    Vote,
)
from tests.engine.services.world import T0, at

MEMBERS = range(2000, 2040)
CLASSES = ("cleric", "fighter", "rogue", "wizard")
EMPTY = Build(name="Many")
# Of a dozen proposals two are open; of the others each state has its part.
STATES = (State.OPEN, State.ADOPTED, State.DECLINED, State.LAPSED, State.WITHDRAWN, State.OUTDATED)


def member(number: int) -> int:
    """Return who made a thing."""
    return MEMBERS[number % len(MEMBERS)]


def class_of(number: int) -> str:
    """Return the one class of a build."""
    return "bard" if 10 < number <= 20 else CLASSES[number % len(CLASSES)]


async def fill(database: Database, server: int, builds: int, proposals: int) -> None:
    """Store builds 1 to `builds` and the proposals after them, spread over all builds.

    Every build has one revision, one class and one remark; every proposal one vote and one row of history. Newest come
    first in lists, so the oldest builds have what is rare: the first ten are retired, the next ten are bards.
    """
    numbers = range(1, builds + 1)
    of_proposals = range(builds + 1, builds + proposals + 1)
    rows: dict[type[Base], list[dict[str, Any]]] = {
        Server: [{"id": server}],
        Counter: [{"server": server, "last": builds + proposals}],
        Member: [{"server": server, "id": each} for each in MEMBERS],
        BuildRow: [
            {
                "server": server, "number": n, "author": member(n), "name": f"Chart {n}", "name_key": f"chart {n}",
                "shared": True, "retired": at(2) if n <= 10 else None, "top": 1 + n // 5 % 20,
                "created": T0, "changed": at(1),
            }
            for n in numbers
        ],
        BuildClass: [
            {"server": server, "build": n, "class_id": class_of(n), "levels": 1 + n // 5 % 20, "place": 0}
            for n in numbers
        ],
        Revision: [
            {
                "server": server, "build": n, "number": 1, "hash": f"{n:064x}", "author": member(n), "at": T0,
                "document": EMPTY.model_dump_json(exclude_defaults=True),
            }
            for n in numbers
        ],
        ProposalRow: [
            {
                "server": server, "number": n, "build": 1 + n % builds, "base": 1, "proposer": member(n // 7),
                "title": f"Change {n}", "reason": "so that it plays better", "state": STATES[n % len(STATES)].value,
                "created": T0, "since": T0,
            }
            for n in of_proposals
        ],
        Vote: [
            {"server": server, "proposal": n, "member": member(n), "choice": list(Choice)[n % 3].value, "at": at(1)}
            for n in of_proposals
        ],
        Remark: [
            {"server": server, "subject": n, "kind": "build", "author": member(n), "text": "Well.", "at": at(1)}
            for n in numbers
        ],
        History: [
            {
                "server": server, "subject": n, "kind": "proposal", "event": "proposal-lapsed", "actor": None,
                "at": at(1),
            }
            for n in of_proposals
        ],
    }  # fmt: skip
    async with database.unit() as uow:
        session = uow.people._link.session
        for model, found in rows.items():
            if found:
                await session.execute(insert(model), found)
        await uow.commit()
    async with database.unit() as uow:
        # PostgreSQL does this by itself after a while; SQLite plans by the indexes alone unless it was told to look.
        if uow.people._link.dialect == "postgresql":
            await uow.people._link.session.execute(text("ANALYZE"))
            await uow.commit()
