"""Two proposals to one build side by side: whether both can be adopted, and what each does to the numbers."""

from collections.abc import Mapping
from dataclasses import dataclass

from engine.build.join import join
from engine.problem import Refused
from engine.services.documents import read_document
from engine.services.find import find_proposal
from engine.services.proposal_views import gather, proposal_view
from engine.services.views import ProposalView, Ref, RivalNumber, RivalsView
from engine.sheet.number import Amount
from engine.store.uow import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class CompareProposals:
    """Put two proposals to one build side by side."""

    server: int
    member: int
    proposal: Ref
    other: Ref


async def compare_proposals(cmd: CompareProposals, uow: UnitOfWork) -> RivalsView | Refused:
    """Return two proposals with their clashes and every number that either changes, by name and level.

    Refused: as `find_proposal`; "other-build" where they are to different builds, "same-proposal" for one named twice.
    """
    async with uow.reading():
        found = await find_proposal(uow, cmd.server, cmd.member, cmd.proposal)
        other = found if isinstance(found, Refused) else await find_proposal(uow, cmd.server, cmd.member, cmd.other)
        if isinstance(found, Refused):
            return found
        if isinstance(other, Refused):
            return other
        (first_row, build), (second_row, other_build) = found, other
        if build.number != other_build.number:
            return Refused("other-build", f"#{first_row.number} and #{second_row.number} are to different builds.")
        if first_row.number == second_row.number:
            return Refused("same-proposal", f"#{first_row.number} was named twice; name two proposals.")
        both = [await gather(uow, row, build, cmd.member) for row in (first_row, second_row)]
        newest = await uow.builds.revision(cmd.server, build.number, build.revision)
        assert newest is not None  # the row is only ever saved together with its newest revision
    first, second = [await proposal_view(each) for each in both]
    joined = join(read_document(newest), first.proposed, second.proposed)
    return RivalsView(
        first=first,
        second=second,
        clashes=tuple(clash.sentence for clash in joined.clashes),
        numbers=_numbers(first, second),
    )


def _numbers(first: ProposalView, second: ProposalView) -> tuple[RivalNumber, ...]:
    mine, theirs = _changed(first), _changed(second)
    rows = []
    for name, level in sorted({*mine, *theirs}):
        now, left = mine.get((name, level), (None, None))
        if (name, level) not in mine:
            now = left = theirs[name, level][0]
        right = theirs[name, level][1] if (name, level) in theirs else now
        rows.append(RivalNumber(name=name, level=level, now=now, first=left, second=right))
    return tuple(rows)


def _changed(view: ProposalView) -> Mapping[tuple[str, int], tuple[Amount | None, Amount | None]]:
    return {(each.name, each.level): (each.before, each.after) for each in view.difference.numbers}
