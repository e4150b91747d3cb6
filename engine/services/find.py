"""Finding what a member means by `#7`, `7` or a name, among what that member may see."""

from dataclasses import dataclass
from typing import Final, Literal

from engine.problem import Refused
from engine.rules.names import nearest
from engine.services.names import name_key, number_of
from engine.services.views import Ref
from engine.store.models import BuildRow, ProposalRow
from engine.store.uow import UnitOfWork

# A longer text is no name of anything; it is not searched and not repeated in full.
_LONGEST: Final = 100


@dataclass(frozen=True, slots=True)
class Subject:
    """A build, or a proposal with the build it is for."""

    kind: Literal["build", "proposal"]
    number: int
    title: str
    build: BuildRow
    proposal: ProposalRow | None = None


async def find_build(
    uow: UnitOfWork, server: int, member: int, ref: Ref, *, for_update: bool = False
) -> BuildRow | Refused:
    """Return the build that a member means. A draft that they may not edit is as good as not there.

    Refused: "no-such-build" with the nearest names that the member may see, or "build-removed".
    """
    number = number_of(ref)
    if number is not None:
        row = await uow.builds.get(server, number, for_update=for_update)
        if row is not None and await _seen(uow, row, member):
            if row.removed:
                return Refused("build-removed", f"Build #{number} was removed by its author.")
            return row
        proposal = await uow.proposals.get(server, number) if row is None else None
        if proposal is not None:
            return Refused(
                "no-such-build", f"#{number} is a proposal, not a build; name a build, such as the one it is for."
            )
        return Refused(
            "no-such-build", f"There is no build #{number} on this server; /build list shows those there are."
        )
    name = str(ref)
    if len(name) <= _LONGEST:
        row = await uow.builds.by_key(server, name_key(name), for_update=for_update)
        if row is not None and await _seen(uow, row, member):
            return row
    known = await uow.builds.names(server, member)
    near = nearest(name[:_LONGEST], known)
    hint = f" Nearest: {', '.join(near)}." if near else " /build list shows those there are."
    return Refused("no-such-build", f'There is no build "{_short(name)}" on this server.{hint}')


async def find_proposal(
    uow: UnitOfWork, server: int, member: int, ref: Ref, *, for_update: bool = False
) -> tuple[ProposalRow, BuildRow] | Refused:
    """Return the proposal that a member means, by number, with its build. Refused: "no-such-proposal"."""
    number = number_of(ref)
    if number is None:
        return Refused(
            "no-such-proposal",
            f'"{_short(str(ref))}" is no proposal; name one by its number, such as #12, or pick one from the list.',
        )
    row = await uow.proposals.get(server, number)
    build = None if row is None else await uow.builds.get(server, row.build, for_update=for_update)
    if row is None or build is None or not await _seen(uow, build, member):
        return Refused(
            "no-such-proposal", f"There is no proposal #{number} on this server; /proposal list shows those there are."
        )
    if for_update:
        # The build first, then the proposal: all writers take them in this order, so that none waits in a circle.
        row = await uow.proposals.get(server, number, for_update=True) or row
    return row, build


async def find_subject(uow: UnitOfWork, server: int, member: int, ref: Ref) -> Subject | Refused:
    """Return the build or proposal that a member means. Refused: "no-such-subject", or what `find_build` gives."""
    number = number_of(ref)
    if number is not None and await uow.proposals.get(server, number) is not None:
        found = await find_proposal(uow, server, member, number)
        if isinstance(found, Refused):
            return found
        row, build = found
        return Subject("proposal", row.number, row.title, build, row)
    build_found = await find_build(uow, server, member, ref)
    if isinstance(build_found, Refused):
        if build_found.code == "no-such-build" and number is not None:
            return Refused("no-such-subject", f"There is no build or proposal #{number} on this server.")
        return build_found
    return Subject("build", build_found.number, build_found.name, build_found)


def retired_refusal(row: BuildRow) -> Refused | None:
    """Return why nothing can be changed about a build that is set aside, or None. Refused: "build-retired"."""
    if row.retired is None:
        return None
    return Refused("build-retired", f"{row.name} is retired; its author can bring it back with /build back.")


async def _seen(uow: UnitOfWork, row: BuildRow, member: int) -> bool:
    if row.shared or row.author == member:
        return True
    return member in await uow.builds.coauthors(row.server, row.number)


def _short(text: str) -> str:
    return text if len(text) <= 60 else text[:59] + "…"
