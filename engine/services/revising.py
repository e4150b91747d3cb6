"""A new revision of a build, and what it does to the proposals that are open: they move along, or they are outdated."""

from dataclasses import dataclass
from datetime import datetime

from engine.build.diff import edits_between
from engine.build.document import Build
from engine.build.edits import Edit, apply
from engine.build.join import join
from engine.problem import Refused
from engine.review import machine
from engine.review.machine import State
from engine.services.documents import read_document, write_revision
from engine.services.find import retired_refusal
from engine.services.names import bad_name, name_key, taken
from engine.services.rolls import claim_scores
from engine.services.standing import notice
from engine.services.views import Notice
from engine.store.models import BuildRow, ProposalRow, Revision
from engine.store.repos.proposals import read_state, write_state
from engine.store.uow import UnitOfWork


@dataclass(frozen=True, slots=True)
class Moved:
    """What a new revision did to open proposals, by number, and what their proposers should be told."""

    followed: tuple[int, ...] = ()
    outdated: tuple[int, ...] = ()
    notices: tuple[Notice, ...] = ()


async def proposed_build(uow: UnitOfWork, row: ProposalRow) -> tuple[Build, Build, tuple[Edit, ...]]:
    """Return the build that a proposal is against, the build with its edits, and the edits.

    Raises: RuntimeError if the stored edits do not fit the stored revision, which is a bug.
    """
    revision = await uow.builds.revision(row.server, row.build, row.base)
    if revision is None:
        raise RuntimeError(f"proposal #{row.number} is against revision {row.base}, which is not there")
    base = read_document(revision)
    edits = tuple(
        Edit(path=path, before=old, after=new) for path, old, new in await uow.proposals.edits(row.server, row.number)
    )
    proposed = apply(base, edits)
    if isinstance(proposed, Refused):
        raise RuntimeError(f"the edits of proposal #{row.number} do not fit revision {row.base}: {proposed.sentence}")
    return base, proposed, edits


async def joined_with_newest(
    uow: UnitOfWork, row: BuildRow, revision: Revision, base: Build, edited: Build
) -> Build | Refused:
    """Return what a build becomes if a text that was made from a revision is applied to its newest one.

    Refused: "nothing-changed"; "edit-clashes" where the build has changed in the same place meanwhile.
    """
    if edited == base:
        return Refused("nothing-changed", f"That text says what {row.name} says already, so nothing was changed.")
    if revision.number == row.revision:
        return edited
    newest = await uow.builds.revision(row.server, row.number, row.revision)
    assert newest is not None  # the row is only ever saved together with its newest revision
    joined = join(base, read_document(newest), edited)
    if joined.build is None:
        where = "; ".join(clash.sentence for clash in joined.clashes)
        return Refused(
            "edit-clashes",
            f"{row.name} has changed since you opened the form, in the same place: {where}. Open it again.",
        )
    return joined.build


async def revise(
    uow: UnitOfWork,
    row: BuildRow,
    after: Build,
    *,
    actor: int | None,
    at: datetime,
    reason: str,
    proposal: int | None = None,
    author: int | None = None,
) -> Moved | Refused:
    """Make a document the next revision of a build that is held for update, and take its open proposals along.

    proposal: the one whose adoption this is; it is left alone here. actor: None where a vote decided. author: of the
    revision, the actor if None. Refused: "name-taken", "name-is-a-number", "roll-in-use", "build-retired".
    """
    refused = retired_refusal(row)
    if refused is not None:
        return refused
    author = actor if author is None else author
    assert author is not None  # whoever lets time act says whose words it carries out
    refused = await claim_scores(uow, row.server, row.number, after)
    if refused is not None:
        return refused
    if after.name != row.name:
        refused = bad_name(after.name)
        other = await uow.builds.by_key(row.server, name_key(after.name))
        if refused is not None:
            return refused
        if other is not None and other.number != row.number:
            return taken(after.name)
        row.name, row.name_key = after.name, name_key(after.name)
    parent = row.revision
    row.revision, row.top, row.changed = parent + 1, after.top, at
    revision = write_revision(
        after,
        server=row.server,
        number=row.number,
        revision=row.revision,
        author=author,
        at=at,
        reason=reason,
        parent=parent,
        proposal=proposal,
    )
    await uow.builds.add_revision(revision, after.class_levels(20))
    data = {"revision": row.revision} if proposal is None else {"revision": row.revision, "proposal": proposal}
    uow.history.append(row.server, row.number, "build", "build-revised", actor=actor, at=at, reason=reason, data=data)
    return await _carry(uow, row, after, actor=actor, at=at, but=proposal)


async def _carry(
    uow: UnitOfWork, row: BuildRow, after: Build, *, actor: int | None, at: datetime, but: int | None
) -> Moved:
    followed, outdated = [], []
    coauthors = await uow.builds.coauthors(row.server, row.number)
    notices: tuple[Notice, ...] = ()
    for each in await uow.proposals.of_build(row.server, row.number, [State.OPEN], for_update=True):
        if each.number == but:
            continue
        base, proposed, _ = await proposed_build(uow, each)
        joined = join(base, after, proposed)
        edits = () if joined.build is None else tuple(edits_between(after, joined.build))
        state = read_state(each, row.author, {})
        if joined.build is not None and edits:
            outcome = machine.follow(state, base=row.revision, actor=actor, at=at)
        else:
            clashes = tuple(clash.sentence for clash in joined.clashes) or ("the build says all of this already",)
            outcome = machine.outdate(state, clashes=clashes, actor=actor, at=at)
        assert not isinstance(outcome, Refused)  # only open ones were asked for
        state, event = outcome
        write_state(each, state)
        uow.history.append_event(row.server, each.number, event)
        if state.state is State.OPEN:
            await uow.proposals.set_edits(row.server, each.number, [(e.path, e.before, e.after) for e in edits])
            followed.append(each.number)
        else:
            outdated.append(each.number)
            notices += await notice(
                uow, row.server, each.number, each.title, "outdated", [each.proposer, row.author, *coauthors], actor
            )
    return Moved(tuple(followed), tuple(outdated), notices)
