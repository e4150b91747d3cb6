"""What holds for every service, found by reflection: scoped to its server, with a row in the table of rights."""

import importlib
import inspect
import pkgutil
from collections.abc import Callable
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any, get_type_hints

import pytest

import engine.services
from engine.odds.asked import Asked, Use
from engine.problem import Refused
from engine.review.policy import Choice
from engine.services import (
    approvals,
    archive,
    builds,
    cards,
    deadlines,
    drafts,
    exports,
    facts,
    folio_moves,
    folio_settings,
    folios,
    goals,
    members,
    mending,
    numbers,
    odds,
    ownership,
    policies,
    privacy,
    proposals,
    remarks,
    rivals,
    rolls,
    roster,
    states,
    table_policies,
    tables,
    times,
    votes,
    writeups,
)
from engine.services.rights import RIGHTS, WHO, Role, table_of_rights
from engine.services.views import Page
from engine.store.uow import UnitOfWork
from tests.engine.services.world import (
    AUTHOR,
    COAUTHOR,
    EDDIES,
    ELSEWHERE,
    HERE,
    LIBRARIAN,
    LIBRARIANS,
    MANAGER,
    MASTER,
    PLAYER,
    PROPOSER,
    READER,
    World,
    at,
)


def stealth_of(build: object) -> Asked:
    """Return the question whether a build's Stealth reaches DC 15."""
    return Asked(kind="check", fields={"dc": 15}, builds=(str(build),), use=Use(kind="skill", name="Stealth"))


# Rows of an archive, such as another server took along.
TAKEN_ALONG = {
    "servers": [{"id": 400}],
    "members": [{"server": 400, "id": READER}],
    "history": [
        {"id": 1, "server": 400, "subject": 0, "kind": "server", "event": "policy-set", "at": at(0).isoformat()}
    ],
}

# For every command one that succeeds in the world of world.py, as the member whom the table of rights lets.
EXAMPLES: dict[str, Callable[[World], Any]] = {
    "LoadBuild": lambda w: builds.LoadBuild(server=HERE, member=READER, text="Build: New\n1 Bard\n", at=at(1)),
    "ShareBuild": lambda w: builds.ShareBuild(server=HERE, member=AUTHOR, build=w.hidden, at=at(1)),
    "ReadPart": lambda w: builds.ReadPart(server=HERE, member=READER, build=w.build, part="header"),
    "EditBuild": lambda w: builds.EditBuild(
        server=HERE, member=AUTHOR, build=w.build, part=6, text="6 Rogue", at=at(1)
    ),
    "RemoveBuild": lambda w: builds.RemoveBuild(server=HERE, member=AUTHOR, build=w.build, at=at(1)),
    "GetBuild": lambda w: builds.GetBuild(server=HERE, member=READER, build="reed wardens"),
    "ShowBuild": lambda w: builds.ShowBuild(server=HERE, member=READER, build=f"#{w.build}", level=3),
    "ListBuilds": lambda w: builds.ListBuilds(server=HERE, member=READER),
    "BuildHistory": lambda w: builds.BuildHistory(server=HERE, member=READER, build=w.build),
    "ListRevisions": lambda w: builds.ListRevisions(server=HERE, member=READER, build=w.build),
    "SuggestBuilds": lambda w: builds.SuggestBuilds(server=HERE, member=READER, text="reed"),
    "AuditBuild": lambda w: mending.AuditBuild(server=HERE, member=READER, build=w.unfinished),
    "MendFinding": lambda w: mending.MendFinding(
        server=HERE, member=AUTHOR, build=w.unfinished, finding=w.finding, at=at(1)
    ),
    "PreviewMend": lambda w: mending.PreviewMend(
        server=HERE, member=READER, build=w.unfinished, finding=w.finding, at=at(1)
    ),
    "PreviewText": lambda w: proposals.PreviewText(
        server=HERE, member=READER, build=w.build, part=7, text="7 Ranger", reason="higher", at=at(1)
    ),
    "PreviewChange": lambda w: proposals.PreviewChange(
        server=HERE, member=READER, build=w.build, level=4, remove="+1 Wis", add="+1 Con", reason="tougher", at=at(1)
    ),
    "PostProposal": lambda w: proposals.PostProposal(server=HERE, member=PROPOSER, draft=w.posting, at=at(1)),
    "AdoptProposal": lambda w: proposals.AdoptProposal(server=HERE, member=AUTHOR, proposal=w.proposal, at=at(1)),
    "DeclineProposal": lambda w: proposals.DeclineProposal(server=HERE, member=AUTHOR, proposal=w.proposal, at=at(1)),
    "WithdrawProposal": lambda w: proposals.WithdrawProposal(
        server=HERE, member=PROPOSER, proposal=w.proposal, at=at(1)
    ),
    "RefreshProposal": lambda w: proposals.RefreshProposal(
        server=HERE, member=PROPOSER, proposal=w.outdated, draft=w.posting, at=at(1)
    ),
    "ShowProposal": lambda w: proposals.ShowProposal(server=HERE, member=READER, proposal=w.proposal),
    "ListProposals": lambda w: proposals.ListProposals(server=HERE, member=READER),
    "SuggestProposals": lambda w: proposals.SuggestProposals(server=HERE, member=READER),
    "CastVote": lambda w: votes.CastVote(
        server=HERE, member=READER, proposal=w.proposal, choice=Choice.AGAINST, at=at(1)
    ),
    "AddRemark": lambda w: remarks.AddRemark(server=HERE, member=READER, subject=w.build, text="Fine.", at=at(1)),
    "ListRemarks": lambda w: remarks.ListRemarks(server=HERE, member=READER, subject=w.proposal),
    "KeepDraft": lambda w: drafts.KeepDraft(server=HERE, member=READER, kind="x", fields={"a": "b"}, at=at(1)),
    "GetDraft": lambda w: drafts.GetDraft(server=HERE, member=PROPOSER, draft=w.posting),
    "CompareBuilds": lambda w: numbers.CompareBuilds(server=HERE, member=READER, build=w.build),
    "SeeOpenChoices": lambda w: numbers.SeeOpenChoices(server=HERE, member=READER, build=w.build, level=1),
    "SuggestChanges": lambda w: numbers.SuggestChanges(server=HERE, member=READER, build=w.build, level=4),
    "FindFact": lambda w: facts.FindFact(server=HERE, member=READER, name="Fireball"),
    "OpenCatalog": lambda w: facts.OpenCatalog(server=HERE, member=READER),
    "ReadExport": lambda w: exports.ReadExport(server=HERE, member=READER, text='{"name": "Reed", "schema": 1}'),
    "SuggestFacts": lambda w: facts.SuggestFacts(server=HERE, member=READER, text="fireb"),
    "AskOdds": lambda w: odds.AskOdds(server=HERE, member=READER, asked=(stealth_of(w.build),)),
    "SuggestStates": lambda w: states.SuggestStates(server=HERE, member=READER, build=w.build, text="bless"),
    "SuggestRolls": lambda w: odds.SuggestRolls(server=HERE, member=READER, build=w.build, kind="skill"),
    "AddGoal": lambda w: goals.AddGoal(
        server=HERE, member=AUTHOR, build=w.build, text="skill.stealth >= 5 at 3", at=at(1)
    ),
    "RemoveGoal": lambda w: goals.RemoveGoal(server=HERE, member=AUTHOR, build=w.unfinished, place=1, at=at(1)),
    "ListGoals": lambda w: goals.ListGoals(server=HERE, member=READER, build=w.build),
    "KeepWriteup": lambda w: writeups.KeepWriteup(
        server=HERE, member=AUTHOR, build=w.build, text="New.", revision=2, at=at(1)
    ),
    "GetWriteup": lambda w: writeups.GetWriteup(server=HERE, member=READER, build=w.build),
    "LoadArchive": lambda w: archive.LoadArchive(server=300, home=400, tables=TAKEN_ALONG),
    "ReadArchive": lambda w: archive.ReadArchive(server=HERE, member=READER, manager=True, at=at(1)),
    "RollDice": lambda w: rolls.RollDice(server=HERE, member=READER, dice="2d6+3", at=at(1)),
    "RollScores": lambda w: rolls.RollScores(server=HERE, member=READER, at=at(1)),
    "RollHp": lambda w: rolls.RollHp(server=HERE, member=AUTHOR, build=w.build, level=2, at=at(1)),
    "ShowRoll": lambda w: rolls.ShowRoll(server=HERE, member=READER, roll=w.roll),
    "ListRolls": lambda w: rolls.ListRolls(server=HERE, member=READER),
    "NewestTime": lambda w: times.NewestTime(server=HERE),
    "CheckFolio": lambda w: folios.CheckFolio(server=HERE, member=READER, name="eddies.yaml", data=EDDIES),
    "AddFolio": lambda w: folios.AddFolio(
        server=HERE, member=READER, name="eddies.yaml", data=EDDIES, at=at(1), manager=True
    ),
    "ListFolios": lambda w: folios.ListFolios(server=HERE, member=READER),
    "SuggestFolios": lambda w: folios.SuggestFolios(server=HERE, member=READER, text="shoal"),
    "ShowFolio": lambda w: folios.ShowFolio(server=HERE, member=READER, folio="shoals"),
    "ExportFolio": lambda w: folios.ExportFolio(server=HERE, member=READER, folio="Shoals", version="1"),
    "RemoveFolio": lambda w: folios.RemoveFolio(server=HERE, member=READER, folio="shoals", at=at(1), manager=True),
    "BringBackFolio": lambda w: folios.BringBackFolio(
        server=HERE, member=READER, folio="wrecks", at=at(1), manager=True
    ),
    "ShowLibrary": lambda w: folio_settings.ShowLibrary(server=HERE, member=READER),
    "SetLibrarians": lambda w: folio_settings.SetLibrarians(
        server=HERE, member=READER, manager=True, role=77, at=at(1)
    ),
    "SwitchFolio": lambda w: folio_settings.SwitchFolio(
        server=HERE, member=MASTER, folio="shoals", on=True, at=at(1), table=w.table
    ),
    "UseVersion": lambda w: folio_settings.UseVersion(
        server=HERE, member=READER, folio="shoals", version="1", at=at(1), manager=True
    ),
    "ConcernedBuilds": lambda w: folio_moves.ConcernedBuilds(server=HERE, member=READER, folio="shoals"),
    "MoveBuild": lambda w: folio_moves.MoveBuild(server=HERE, member=AUTHOR, build=w.sounder, folio="shoals", at=at(1)),
    "RememberCard": lambda w: cards.RememberCard(server=HERE, subject=w.build, channel=70, message=72),
    "CardsOf": lambda w: cards.CardsOf(server=HERE, subject=w.proposal),
    "MarkCard": lambda w: cards.MarkCard(server=HERE, message=w.card),
    "ForgetCard": lambda w: cards.ForgetCard(server=HERE, message=w.card),
    "LiveCards": lambda w: cards.LiveCards(server=HERE),
    "NewTable": lambda w: tables.NewTable(server=HERE, member=READER, name="Reef Table", at=at(1)),
    "EditTable": lambda w: tables.EditTable(server=HERE, member=MASTER, table=w.table, name="Fen Table", at=at(1)),
    "SetTableLevel": lambda w: tables.SetTableLevel(server=HERE, member=MASTER, table=w.table, level=3, at=at(1)),
    "SetTableRules": lambda w: tables.SetTableRules(
        server=HERE, member=MASTER, table=w.table, text="feats: no\n", at=at(1)
    ),
    "CloseTable": lambda w: tables.CloseTable(server=HERE, member=MASTER, table=w.table, at=at(1)),
    "JoinTable": lambda w: tables.JoinTable(server=HERE, member=READER, table=w.ferry, at=at(1)),
    "LeaveTable": lambda w: tables.LeaveTable(server=HERE, member=AUTHOR, table=w.table, at=at(1)),
    "SeatMember": lambda w: tables.SeatMember(server=HERE, member=MASTER, table=w.table, whom=909, gm=True, at=at(1)),
    "UnseatMember": lambda w: tables.UnseatMember(server=HERE, member=MASTER, table=w.table, whom=AUTHOR, at=at(1)),
    "ShowTable": lambda w: tables.ShowTable(server=HERE, member=READER, table=w.table),
    "TableHistory": lambda w: tables.TableHistory(server=HERE, member=READER, table=w.table),
    "ListTables": lambda w: tables.ListTables(server=HERE, member=READER),
    "SuggestTables": lambda w: tables.SuggestTables(server=HERE, member=READER, text="marsh"),
    "ShowTablePolicy": lambda w: table_policies.ShowTablePolicy(server=HERE, member=READER, table=w.table),
    "SetTablePolicy": lambda w: table_policies.SetTablePolicy(
        server=HERE, member=MASTER, table=w.table, quorum=2, at=at(1)
    ),
    "ShowRoster": lambda w: roster.ShowRoster(server=HERE, member=READER, table=w.table),
    "SubmitBuild": lambda w: approvals.SubmitBuild(server=HERE, member=AUTHOR, build=w.build, table=w.table, at=at(1)),
    "TakeBackBuild": lambda w: approvals.TakeBackBuild(server=HERE, member=AUTHOR, build=w.runner, at=at(1)),
    "ShowSubmission": lambda w: approvals.ShowSubmission(server=HERE, member=READER, subject=w.submission),
    "ApproveBuild": lambda w: approvals.ApproveBuild(
        server=HERE, member=MASTER, submission=w.submission, token=w.token, at=at(1)
    ),
    "ReturnBuild": lambda w: approvals.ReturnBuild(
        server=HERE, member=MASTER, submission=w.submission, remarks="Roll them here.", at=at(1)
    ),
    "WaiveFinding": lambda w: approvals.WaiveFinding(
        server=HERE, member=MASTER, submission=w.submission, finding=w.ruling, reason="I saw them.", at=at(1)
    ),
    "RestoreRevision": lambda w: ownership.RestoreRevision(
        server=HERE, member=AUTHOR, build=w.build, revision=1, at=at(1)
    ),
    "RetireBuild": lambda w: ownership.RetireBuild(server=HERE, member=AUTHOR, build=w.build, at=at(1)),
    "BringBack": lambda w: ownership.BringBack(server=HERE, member=AUTHOR, build=w.retired, at=at(1)),
    "AddCoAuthor": lambda w: ownership.AddCoAuthor(server=HERE, member=AUTHOR, build=w.build, other=909, at=at(1)),
    "DropCoAuthor": lambda w: ownership.DropCoAuthor(
        server=HERE, member=AUTHOR, build=w.build, other=COAUTHOR, at=at(1)
    ),
    "HandOver": lambda w: ownership.HandOver(server=HERE, member=AUTHOR, build=w.build, other=READER, at=at(1)),
    "CopyBuild": lambda w: ownership.CopyBuild(server=HERE, member=READER, build=w.build, name="Twin", at=at(1)),
    "AmendProposal": lambda w: proposals.AmendProposal(
        server=HERE, member=PROPOSER, proposal=w.timed, draft=w.posting, at=at(1)
    ),
    "ReadProposed": lambda w: proposals.ReadProposed(server=HERE, member=READER, proposal=w.proposal),
    "CompareProposals": lambda w: rivals.CompareProposals(
        server=HERE, member=READER, proposal=w.proposal, other=w.timed
    ),
    "CloseProposal": lambda w: deadlines.CloseProposal(server=HERE, proposal=w.timed, at=at(60)),
    "RemindMembers": lambda w: deadlines.RemindMembers(server=HERE, proposal=w.timed, at=at(45)),
    "ShowPolicy": lambda w: policies.ShowPolicy(server=HERE, member=READER),
    "SetPolicy": lambda w: policies.SetPolicy(server=HERE, member=READER, manager=True, quorum=3, at=at(1)),
    "SetPlace": lambda w: policies.SetPlace(server=HERE, member=READER, manager=True, channel=70, at=at(1)),
    "AnswerRemark": lambda w: remarks.AnswerRemark(server=HERE, member=READER, remark=w.remark, text="Why?", at=at(1)),
    "EditRemark": lambda w: remarks.EditRemark(server=HERE, member=PROPOSER, remark=w.remark, text="Bad.", at=at(1)),
    "RemoveRemark": lambda w: remarks.RemoveRemark(server=HERE, member=PROPOSER, remark=w.remark, at=at(1)),
    "SettleRemark": lambda w: remarks.SettleRemark(server=HERE, member=AUTHOR, remark=w.remark, at=at(1)),
    "SuggestRemarks": lambda w: remarks.SuggestRemarks(server=HERE, member=READER, subject=w.proposal),
    "SetNotices": lambda w: members.SetNotices(server=HERE, member=READER, on=False, at=at(1)),
    "MyData": lambda w: privacy.MyData(server=HERE, member=READER),
    "EraseMember": lambda w: privacy.EraseMember(server=HERE, member=READER, builds="stay", at=at(1)),
    "LeaveServer": lambda w: privacy.LeaveServer(server=HERE, at=at(1)),
    "ReturnToServer": lambda w: privacy.ReturnToServer(server=HERE),
    "PurgeServer": lambda w: privacy.PurgeServer(server=HERE, before=at(1)),
    "RememberMember": lambda w: members.RememberMember(server=HERE, member=READER, name="Ada", at=at(1)),
}
# Commands that tell what a rules release prints, which is the same on every server.
PRINTED = {"FindFact", "SuggestFacts"}
# Commands that make something new on whatever server they name, or have an answer there; all others need what is there.
MAKING = {
    "LoadBuild", "KeepDraft", "RememberMember", "RollDice", "RollScores", "SetPolicy", "SetPlace", "ShowPolicy",
    "SetNotices", "NewTable", "LoadArchive",
    "CheckFolio", "AddFolio", "ShowLibrary", "SetLibrarians", "OpenCatalog", "ReadExport",
}  # fmt: skip


def services() -> dict[str, tuple[type, Any]]:
    """Return command name -> (command, function) of every function that takes a command and a unit of work."""
    found = {}
    for module in pkgutil.iter_modules(engine.services.__path__, "engine.services."):
        for _, function in inspect.getmembers(importlib.import_module(module.name), inspect.iscoroutinefunction):
            if function.__module__ != module.name or function.__name__.startswith("_"):
                continue
            parameters = list(inspect.signature(function, eval_str=True).parameters.values())
            if len(parameters) == 2 and parameters[0].name == "cmd" and parameters[1].annotation is UnitOfWork:
                found[parameters[0].annotation.__name__] = (parameters[0].annotation, function)
    return found


SERVICES = services()


def test_examples_rights_and_services_are_the_same_set() -> None:
    """A service without an example here, or without a row in the table of rights, fails."""
    assert set(SERVICES) == set(EXAMPLES)
    assert set(SERVICES) == set(RIGHTS)
    assert len(SERVICES) > 30


@pytest.mark.parametrize("name", SERVICES)
def test_commands_are_frozen_and_name_their_server(name: str) -> None:
    """`server: int` first, keyword-only, slotted; a time wherever one writes; the function named like the command."""
    command, function = SERVICES[name]
    assert is_dataclass(command)
    assert command.__dataclass_params__.frozen  # type: ignore[attr-defined]
    assert hasattr(command, "__slots__")
    assert fields(command)[0].name == "server"
    assert get_type_hints(command)["server"] is int
    assert all(field.kw_only for field in fields(command))
    assert function.__name__.replace("_", "") == name.lower()
    assert function.__doc__


@pytest.mark.parametrize("name", SERVICES)
async def test_nothing_crosses_servers(name: str, world: World) -> None:
    """A command that succeeds here finds nothing from elsewhere, and changes nothing here."""
    command, function = SERVICES[name]
    example = EXAMPLES[name](world)
    assert type(example) is command
    before = await world.rows(HERE)
    result = await world.call(function, replace(example, server=ELSEWHERE))
    assert await world.rows(HERE) == before
    if name in PRINTED:
        assert result == await world.call(function, example)
    elif name in MAKING:
        assert not isinstance(result, Refused)
    else:
        found = () if isinstance(result, Refused) else result.items if isinstance(result, Page) else result or ()
        assert tuple(found) == ()
        sentence = result.sentence if isinstance(result, Refused) else ""
        assert "Reed Warden" not in sentence
        assert "Sunken Bell" not in sentence
        kept = await world.rows(ELSEWHERE)
        assert not any(rows for table, rows in kept.items() if table not in ("servers", "counters", "members"))
    here = await world.call(function, example)
    assert not isinstance(here, Refused), here


ROLES = (Role.AUTHOR, Role.COAUTHOR, Role.PROPOSER, Role.READER, Role.MANAGER, Role.GM, Role.PLAYER, Role.LIBRARIAN)
CELLS = [(name, role) for name in SERVICES for role in ROLES]
MEMBER_OF = {
    Role.AUTHOR: AUTHOR,
    Role.COAUTHOR: COAUTHOR,
    Role.PROPOSER: PROPOSER,
    Role.READER: READER,
    Role.MANAGER: MANAGER,
    Role.GM: MASTER,
    Role.PLAYER: PLAYER,
    Role.LIBRARIAN: LIBRARIAN,
}
# What a member is to the thing of the example; the author of the build decides and plays at the table, the proposer
# typed the draft.
HELD = {
    Role.AUTHOR: {Role.MEMBER, Role.READER, Role.VOTER, Role.AUTHOR, Role.DECIDER, Role.PLAYER},
    Role.COAUTHOR: {Role.MEMBER, Role.READER, Role.VOTER, Role.COAUTHOR, Role.DECIDER, Role.PLAYER},
    Role.MANAGER: {Role.MEMBER, Role.READER, Role.VOTER, Role.MANAGER},
    Role.PROPOSER: {Role.MEMBER, Role.READER, Role.VOTER, Role.PROPOSER, Role.KEEPER},
    Role.READER: {Role.MEMBER, Role.READER, Role.VOTER},
    Role.GM: {Role.MEMBER, Role.READER, Role.VOTER, Role.GM},
    Role.PLAYER: {Role.MEMBER, Role.READER, Role.VOTER, Role.PLAYER},
    Role.LIBRARIAN: {Role.MEMBER, Role.READER, Role.VOTER, Role.LIBRARIAN},
}


# Where a role may do what the example does, but at another place: GMs at their table, librarians on the whole server.
PLACED = {("SwitchFolio", Role.LIBRARIAN): {"table": None, "on": False}}


@pytest.mark.parametrize(("name", "role"), CELLS)
async def test_every_cell_of_the_table_of_rights(name: str, role: Role, world: World) -> None:
    """Whom the table lets may, whom it does not let is refused with a sentence, and nothing is stored then."""
    _, function = SERVICES[name]
    example = EXAMPLES[name](world)
    right = RIGHTS[name]
    if right.roles == {Role.HOUSE}:
        assert not hasattr(example, "member") or name == "RememberMember"
        return
    command = replace(example, member=MEMBER_OF[role], **PLACED.get((name, role), {}))
    if hasattr(command, "manager"):
        command = replace(command, manager=role is Role.MANAGER)
    if hasattr(command, "roles"):
        command = replace(command, roles=frozenset({LIBRARIANS} if role is Role.LIBRARIAN else ()))
    if right.roles & HELD[role]:
        result = await world.call(function, command)
        assert not isinstance(result, Refused), result
    else:
        before = await world.rows(HERE)
        result = await world.call(function, command)
        assert isinstance(result, Refused)
        # A draft that is not one's own, of a build or of a text, is as good as not there.
        assert result.code in ("not-allowed", "no-such-build", "draft-gone")
        assert await world.rows(HERE) == before


# What names a proposal or a remark: only builds that are shared have proposals; remarks are tried by themselves.
ON_SHARED = {"ShowProposal", "ReadProposed", "CompareProposals", "AnswerRemark"}
# Those that name a build or something else by `subject`.
SUBJECTS = {"AddRemark", "ListRemarks", "SuggestRemarks", "ShowSubmission"}
DRAFT_READS = [name for name, right in RIGHTS.items() if Role.READER in right.roles and name not in ON_SHARED]


@pytest.mark.parametrize("name", DRAFT_READS)
async def test_a_draft_is_hidden_from_everybody_else(name: str, world: World) -> None:
    """Its number, its name and what it holds are told to its author only."""
    _, function = SERVICES[name]
    for ref in (world.hidden, "Sunken Bell"):
        if name == "AskOdds":
            about: dict[str, Any] = {"asked": (stealth_of(ref),)}
        else:
            about = {"subject" if name in SUBJECTS else "build": ref}
        result = await world.call(function, replace(EXAMPLES[name](world), member=READER, **about))
        if name in ("SuggestChanges", "SuggestRemarks", "SuggestStates"):
            assert result == []
        else:
            assert isinstance(result, Refused)
            assert result.code in ("no-such-build", "no-such-subject")
            if ref == world.hidden:
                assert "Sunken" not in result.sentence


def test_the_docs_print_the_table_of_rights() -> None:
    """DEVELOPERS.md carries what `table_of_rights` returns, so that both say the same."""
    page = (Path(__file__).parents[3] / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert table_of_rights() in page, "the table in DEVELOPERS.md is behind: print it anew as that page says"
    told = {role for role in Role if role is not Role.HOUSE}
    assert all(f"**{role.value}**: {WHO[role]}" in page for role in told)


def test_every_role_of_the_table_is_tried() -> None:
    """By somebody of its own, or by one who holds it besides another; the bot itself is no member."""
    assert set().union(*HELD.values()) == set(Role) - {Role.HOUSE}
    assert set(HELD) == set(ROLES) == set(MEMBER_OF)


def test_every_role_is_explained() -> None:
    """The docs print the table with these words."""
    assert set(WHO) == set(Role)
    assert all(right.deed and right.roles for right in RIGHTS.values())


@pytest.mark.parametrize("name", SERVICES)
async def test_what_fails_at_its_commit_stores_nothing(
    name: str, world: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Everything that a service does is one transaction: it is all kept, or none of it."""
    _, function = SERVICES[name]
    before = await world.rows(HERE)
    commits = []

    async def fail(uow: UnitOfWork) -> None:
        commits.append(uow)
        raise ZeroDivisionError

    with monkeypatch.context() as patched:
        patched.setattr(UnitOfWork, "commit", fail)
        try:
            await world.call(function, EXAMPLES[name](world))
        except ZeroDivisionError:
            assert len(commits) == 1
        else:
            assert commits == []
    assert await world.rows(HERE) == before
