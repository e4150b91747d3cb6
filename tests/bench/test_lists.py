"""What a page of a list costs on a large server, against the same page on a small one in the same run.

Bound: "Speed" of the group review: a page of `/build list` or `/proposal list` in a server with 5,000 builds and 20,000
proposals at most 3 times the same page with 50.
"""

import time
from collections.abc import Callable
from statistics import median
from typing import Any

from engine.review.machine import State
from engine.services.builds import ListBuilds, list_builds
from engine.services.proposals import ListProposals, list_proposals
from engine.store.database import Database
from tests.engine.services.many import MEMBERS, fill

LARGE, SMALL = 1, 2
BOUND = 3.0
ROUNDS, EACH = 15, 4
READER = 999

Command = Callable[[int], Any]
BUILDS: dict[str, Command] = {
    "all": lambda s: ListBuilds(server=s, member=READER),
    "fourth page": lambda s: ListBuilds(server=s, member=READER, page=4),
    "one's own": lambda s: ListBuilds(server=s, member=MEMBERS[3], author=MEMBERS[3]),
    "one class": lambda s: ListBuilds(server=s, member=READER, class_="rogue"),
    "one level": lambda s: ListBuilds(server=s, member=READER, level=7),
    "a rare class": lambda s: ListBuilds(server=s, member=READER, class_="bard"),
    "one class and level": lambda s: ListBuilds(server=s, member=READER, class_="rogue", level=7),
    "retired": lambda s: ListBuilds(server=s, member=READER, retired=True),
}
PROPOSALS: dict[str, Command] = {
    "open": lambda s: ListProposals(server=s, member=READER),
    "second page": lambda s: ListProposals(server=s, member=READER, state=None, page=2),
    "one build": lambda s: ListProposals(server=s, member=READER, build=5, state=None),
    "one's own": lambda s: ListProposals(server=s, member=READER, proposer=MEMBERS[9], state=None),
    "declined": lambda s: ListProposals(server=s, member=READER, state=State.DECLINED),
}
PAGES = [(list_builds, name, command) for name, command in BUILDS.items()]
PAGES += [(list_proposals, name, command) for name, command in PROPOSALS.items()]


async def test_a_page_of_a_list_costs_at_most_three_small_ones(database: Database) -> None:
    """Both servers are on one database; the pages take turns, and each holds what it should."""
    await fill(database, LARGE, 5_000, 20_000)
    await fill(database, SMALL, 50, 50)
    report = []
    for service, name, command in PAGES:
        ratios = []
        for _ in range(ROUNDS):
            small, few = await _timed(database, service, command(SMALL))
            large, many = await _timed(database, service, command(LARGE))
            assert 1 <= len(few.items) <= len(many.items) <= 10
            ratios.append(large / small)
        report.append((service.__name__, name, round(median(ratios), 2)))
    assert all(ratio <= BOUND for *_, ratio in report), report
    print(report)


async def _timed(database: Database, service: Any, command: Any) -> tuple[float, Any]:
    begun = time.perf_counter()
    for _ in range(EACH):
        page = await database.call(service, command)
    return time.perf_counter() - begun, page
