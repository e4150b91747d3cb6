"""A process that votes and adopts, one after another, says each one that was acknowledged, and is killed meanwhile.

python -m tests.engine.services.crash_worker URL FIRST
"""

import asyncio
import sys
from datetime import UTC, datetime, timedelta

from engine.problem import Refused
from engine.review.policy import Choice
from engine.services.proposals import AdoptProposal, adopt_proposal
from engine.services.votes import CastVote, cast_vote
from engine.store.database import Database

T0 = datetime(2026, 3, 1, 12, tzinfo=UTC)
SERVER, AUTHOR = 100, 501
MEMBERS, VOTES = 20, 83
# Numbers of the proposals that the parent opened, in the order in which they are decided.
PROPOSALS = range(2, 8)
DEEDS = len(PROPOSALS) * (VOTES + 1)


def deed(index: int) -> tuple[int, int, str] | tuple[int, None, None]:
    """Return what the index-th thing to do is: (proposal, member, choice), or (proposal, None, None) to adopt it."""
    proposal, turn = PROPOSALS[index // (VOTES + 1)], index % (VOTES + 1)
    if turn == VOTES:
        return proposal, None, None
    return proposal, 1000 + turn % MEMBERS, list(Choice)[(turn + index) % 3].value


async def work(url: str, first: int) -> None:
    """Do everything from an index on."""
    async with await Database.open(url) as database:
        for index in range(first, DEEDS):
            proposal, member, choice = deed(index)
            at = T0 + timedelta(seconds=index)
            if member is None or choice is None:
                adopt = AdoptProposal(server=SERVER, member=AUTHOR, proposal=proposal, at=at)
                adopted = await database.call(adopt_proposal, adopt)
                assert not isinstance(adopted, Refused), adopted
            else:
                vote = CastVote(server=SERVER, member=member, proposal=proposal, choice=Choice(choice), at=at)
                cast = await database.call(cast_vote, vote)
                assert not isinstance(cast, Refused), cast
            sys.stdout.write(f"{index}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    asyncio.run(work(sys.argv[1], int(sys.argv[2])))
