"""How proposals to the builds of one table are decided; a table without a policy of its own goes by the server's."""

from dataclasses import dataclass, fields
from datetime import datetime, timedelta

from engine.problem import Refused
from engine.review.events import policy_data, read_policy
from engine.review.policy import DEFAULT_POLICY, Ballot, Decider, Voters
from engine.services import rights
from engine.services.policies import PolicyView, SetPolicy, merged, out_of_range
from engine.services.seating import find_table, roles_at
from engine.services.views import Ref
from engine.store.models import TableRow
from engine.store.uow import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class ShowTablePolicy:
    """Ask how proposals to the builds of a table are decided. roles: chat roles held."""

    server: int
    member: int
    table: Ref | None = None
    roles: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class SetTablePolicy:
    """Set how proposals to the builds of a table are decided from now on; what is None stays as it is.

    server_wide: go by the server's policy again. manager: whether the member manages the server. The rest: as in
    `SetPolicy`.
    """

    server: int
    member: int
    table: Ref
    at: datetime
    manager: bool = False
    server_wide: bool = False
    voters: Voters | None = None
    role: int | None = None
    author_votes: bool | None = None
    proposer_votes: bool | None = None
    quorum: int | None = None
    share: int | None = None
    window: timedelta | None = None
    ballot: Ballot | None = None
    decider: Decider | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TablePolicyView:
    """A table's policy. own: whether it has one, or goes by the server's. view: policy and place of its cards."""

    number: int
    name: str
    own: bool
    view: PolicyView


async def show_table_policy(cmd: ShowTablePolicy, uow: UnitOfWork) -> TablePolicyView | Refused:
    """Return how proposals to a table's builds are decided. Refused: as `find_table`."""
    async with uow.reading():
        row = await find_table(uow, cmd.server, cmd.member, cmd.table, roles=cmd.roles)
        return row if isinstance(row, Refused) else await _view(uow, row)


async def set_table_policy(cmd: SetTablePolicy, uow: UnitOfWork) -> TablePolicyView | Refused:
    """Store a table's policy with its history row. Proposals that are open keep theirs.

    Returns: the policy. Refused: as `find_table`, "not-allowed", and as `set_policy`.
    """
    asked = _as_server(cmd)
    refused = out_of_range(asked)
    if refused is not None:
        return refused
    async with uow:
        await uow.people.ensure(cmd.server, cmd.member)
        row = await find_table(uow, cmd.server, cmd.member, cmd.table, for_update=True)
        if isinstance(row, Refused):
            return row
        refused = rights.refusal(SetTablePolicy, await roles_at(uow, row, cmd.member, manager=cmd.manager))
        if refused is not None:
            return refused
        if cmd.server_wide:
            stored = None
        else:
            policy = merged((await _view(uow, row)).view.policy, asked)
            if isinstance(policy, Refused):
                return policy
            stored = policy_data(policy)
        if stored == row.policy:
            return Refused("nothing-changed", f"{row.name} decides about proposals that way already.")
        row.policy, row.changed = stored, cmd.at
        uow.history.append(
            cmd.server, row.number, "table", "policy-set", actor=cmd.member, at=cmd.at, data={"policy": stored}
        )
        view = await _view(uow, row)
        await uow.commit()
    return view


async def _view(uow: UnitOfWork, row: TableRow) -> TablePolicyView:
    stored = row.policy if row.policy is not None else await uow.people.policy(row.server)
    policy = DEFAULT_POLICY if stored is None else read_policy(stored)
    return TablePolicyView(
        number=row.number, name=row.name, own=row.policy is not None, view=PolicyView(policy, row.channel)
    )


def _as_server(cmd: SetTablePolicy) -> SetPolicy:
    shared = {field.name for field in fields(SetPolicy)}
    return SetPolicy(**{name: getattr(cmd, name) for name in shared})
