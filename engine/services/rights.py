"""Who may do what, stated once: services check by it, the docs and the hints of the chat front are made from it.

A right names roles towards the thing at hand; holding any one of them is enough. Whether a thing can be seen at all
comes first: a draft does not exist for anybody but its author and co-authors.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from engine.problem import Refused
from engine.review import machine
from engine.review.machine import Proposal


class Role(StrEnum):
    """What a member is to the thing that a command is about."""

    MEMBER = "member"
    READER = "reader"
    AUTHOR = "author"
    COAUTHOR = "co-author"
    PROPOSER = "proposer"
    DECIDER = "decider"
    VOTER = "voter"
    KEEPER = "keeper"
    PLAYER = "player"
    GM = "game master"
    LIBRARIAN = "librarian"
    MANAGER = "manager"
    HOUSE = "house"


WHO: Final[dict[Role, str]] = {
    Role.MEMBER: "any member of the server",
    Role.READER: "a member who can see the build",
    Role.AUTHOR: "the author of the build",
    Role.COAUTHOR: "a co-author of the build",
    Role.PROPOSER: "the member who made the proposal",
    Role.DECIDER: "the one who decides about the proposal",
    Role.VOTER: "a member who votes under the proposal's rules",
    Role.KEEPER: "the member who typed it",
    Role.PLAYER: "a player of the table",
    Role.GM: "a game master of the table",
    Role.LIBRARIAN: "a member whom the server lets do that",
    Role.MANAGER: "a member who manages the server",
    Role.HOUSE: "the bot itself",
}


@dataclass(frozen=True, slots=True)
class Right:
    """One row of the table. deed: what the command does, as it follows `Only ... can`."""

    deed: str
    roles: frozenset[Role]


def _row(deed: str, *roles: Role) -> Right:
    return Right(deed, frozenset(roles))


# Keyed by the name of the command; a test holds it to the commands that there are.
RIGHTS: Final[dict[str, Right]] = {
    "ReadExport": _row("read an exported build", Role.MEMBER),
    "LoadBuild": _row("load a build", Role.MEMBER),
    "ListBuilds": _row("list builds", Role.MEMBER),
    "SuggestBuilds": _row("be offered builds", Role.MEMBER),
    "GetBuild": _row("read the build", Role.READER),
    "ShowBuild": _row("see the build", Role.READER),
    "ReadPart": _row("read the text of the build", Role.READER),
    "BuildHistory": _row("read the history of the build", Role.READER),
    "ListRevisions": _row("list the revisions of the build", Role.READER),
    "CompareBuilds": _row("compare the build", Role.READER),
    "SeeOpenChoices": _row("see what the build has still to choose", Role.READER),
    "SuggestChanges": _row("be offered changes to the build", Role.READER),
    "ShareBuild": _row("share the build", Role.AUTHOR),
    "EditBuild": _row("edit the build; others propose a change with /propose", Role.AUTHOR, Role.COAUTHOR),
    "RemoveBuild": _row("remove the build", Role.AUTHOR),
    "RestoreRevision": _row("restore an earlier revision of the build", Role.AUTHOR, Role.COAUTHOR),
    "RetireBuild": _row("retire the build", Role.AUTHOR),
    "BringBack": _row("bring the build back", Role.AUTHOR),
    "AddCoAuthor": _row("name co-authors of the build", Role.AUTHOR),
    "DropCoAuthor": _row("take a co-author off the build", Role.AUTHOR, Role.COAUTHOR),
    "HandOver": _row("hand the build over", Role.AUTHOR),
    "CopyBuild": _row("copy the build", Role.READER),
    "AuditBuild": _row("read the audit of the build", Role.READER),
    "MendFinding": _row("mend the build; others propose the change", Role.AUTHOR, Role.COAUTHOR),
    "PreviewMend": _row("propose a change to the build", Role.READER),
    "PreviewText": _row("propose a change to the build", Role.READER),
    "PreviewChange": _row("propose a change to the build", Role.READER),
    "PostProposal": _row("post the proposal", Role.KEEPER),
    "AdoptProposal": _row("adopt the proposal", Role.DECIDER),
    "DeclineProposal": _row("decline the proposal", Role.DECIDER),
    "WithdrawProposal": _row("withdraw the proposal", Role.PROPOSER),
    "RefreshProposal": _row("refresh the proposal", Role.PROPOSER),
    "AmendProposal": _row("amend the proposal", Role.PROPOSER),
    "ReadProposed": _row("read the text of the proposal", Role.READER),
    "CompareProposals": _row("compare the proposals", Role.READER),
    "CloseProposal": _row("close a proposal at its deadline", Role.HOUSE),
    "RemindMembers": _row("remind of a deadline", Role.HOUSE),
    "ShowPolicy": _row("read how proposals are decided here", Role.MEMBER),
    "SetPolicy": _row("set how proposals are decided here", Role.MANAGER),
    "SetPlace": _row("choose the channel for cards", Role.MANAGER),
    "ShowProposal": _row("see the proposal", Role.READER),
    "ListProposals": _row("list proposals", Role.MEMBER),
    "SuggestProposals": _row("be offered proposals", Role.MEMBER),
    "CastVote": _row("vote on the proposal", Role.VOTER),
    "AddRemark": _row("remark on the build", Role.READER),
    "EditRemark": _row("change the remark", Role.KEEPER),
    "RemoveRemark": _row("take the remark away", Role.KEEPER),
    "AnswerRemark": _row("answer the remark", Role.READER),
    "SettleRemark": _row("settle remarks on the build", Role.AUTHOR, Role.COAUTHOR),
    "SuggestRemarks": _row("be offered remarks", Role.READER),
    "ListRemarks": _row("read the remarks", Role.READER),
    "FindFact": _row("look up the rules", Role.MEMBER),
    "OpenCatalog": _row("be offered names of the rules and folios", Role.MEMBER),
    "SuggestFacts": _row("be offered names of the rules", Role.MEMBER),
    "AddGoal": _row("add a goal to the build", Role.AUTHOR, Role.COAUTHOR),
    "RemoveGoal": _row("take a goal off the build", Role.AUTHOR, Role.COAUTHOR),
    "ListGoals": _row("see the goals of the build", Role.READER),
    "KeepWriteup": _row("keep a write-up of the build", Role.AUTHOR, Role.COAUTHOR),
    "GetWriteup": _row("check the write-up of the build", Role.READER),
    "ReadArchive": _row("take the archive of this server", Role.MANAGER),
    "LoadArchive": _row("load an archive into a server", Role.HOUSE),
    "AskOdds": _row("ask for odds with numbers of the build", Role.READER),
    "SuggestStates": _row("be offered states of the build", Role.READER),
    "SuggestRolls": _row("be offered the numbers of the build", Role.READER),
    "RollDice": _row("roll dice", Role.MEMBER),
    "RollScores": _row("roll scores", Role.MEMBER),
    "RollHp": _row("roll hit points for the build", Role.AUTHOR, Role.COAUTHOR),
    "ShowRoll": _row("look a roll up", Role.MEMBER),
    "ListRolls": _row("list rolls", Role.MEMBER),
    "KeepDraft": _row("keep a text", Role.MEMBER),
    "GetDraft": _row("read the kept text", Role.KEEPER),
    "NewTable": _row("open a table", Role.MEMBER),
    "EditTable": _row("change the table", Role.GM, Role.MANAGER),
    "SetTableLevel": _row("set the level of the table", Role.GM, Role.MANAGER),
    "SetTableRules": _row("set the rules of the table", Role.GM, Role.MANAGER),
    "CloseTable": _row("close the table", Role.GM, Role.MANAGER),
    "JoinTable": _row("join a table", Role.MEMBER),
    "LeaveTable": _row("leave the table", Role.PLAYER, Role.GM),
    "SeatMember": _row("add members to the table", Role.GM, Role.MANAGER),
    "UnseatMember": _row("remove members from the table", Role.GM, Role.MANAGER),
    "ShowTable": _row("see the table", Role.MEMBER),
    "TableHistory": _row("read the history of the table", Role.MEMBER),
    "ListTables": _row("list tables", Role.MEMBER),
    "SuggestTables": _row("be offered tables", Role.MEMBER),
    "ShowTablePolicy": _row("read how the table decides about proposals", Role.MEMBER),
    "SetTablePolicy": _row("set how the table decides about proposals", Role.GM, Role.MANAGER),
    "ShowRoster": _row("see the roster of the table", Role.MEMBER),
    "SubmitBuild": _row("submit the build", Role.AUTHOR, Role.COAUTHOR),
    "TakeBackBuild": _row("take the build back from the table", Role.AUTHOR, Role.COAUTHOR),
    "ShowSubmission": _row("see what is submitted", Role.READER),
    "ApproveBuild": _row("approve the build", Role.GM),
    "ReturnBuild": _row("return the build to its author", Role.GM),
    "WaiveFinding": _row("waive a finding", Role.GM),
    "CheckFolio": _row("check a folio", Role.MEMBER),
    "AddFolio": _row("add the folio", Role.LIBRARIAN, Role.MANAGER),
    "ListFolios": _row("list folios", Role.MEMBER),
    "SuggestFolios": _row("be offered folios", Role.MEMBER),
    "ShowFolio": _row("see the folio", Role.MEMBER),
    "ExportFolio": _row("take the file of the folio", Role.MEMBER),
    "RemoveFolio": _row("take the folio away", Role.LIBRARIAN, Role.MANAGER),
    "BringBackFolio": _row("bring the folio back", Role.LIBRARIAN, Role.MANAGER),
    "ShowLibrary": _row("see who may add folios", Role.MEMBER),
    "SetLibrarians": _row("set who may add folios", Role.MANAGER),
    "SwitchFolio": _row("switch the folio on and off", Role.GM, Role.LIBRARIAN, Role.MANAGER),
    "UseVersion": _row("put a version of the folio in use", Role.LIBRARIAN, Role.MANAGER),
    "ConcernedBuilds": _row("see what a folio changes", Role.MEMBER),
    "MoveBuild": _row("let the build use another version", Role.AUTHOR, Role.COAUTHOR),
    "RememberCard": _row("note where a card stands", Role.HOUSE),
    "CardsOf": _row("ask where cards stand", Role.HOUSE),
    "MarkCard": _row("note how a card stands", Role.HOUSE),
    "ForgetCard": _row("forget a card", Role.HOUSE),
    "LiveCards": _row("ask where cards stand", Role.HOUSE),
    "NewestTime": _row("ask when something last happened", Role.HOUSE),
    "RememberMember": _row("note a member's name", Role.HOUSE),
    "SetNotices": _row("switch notices on or off", Role.MEMBER),
    "MyData": _row("ask for what is stored about them", Role.MEMBER),
    "EraseMember": _row("be erased", Role.MEMBER),
    "LeaveServer": _row("note that it was removed from a server", Role.HOUSE),
    "ReturnToServer": _row("note that it is back on a server", Role.HOUSE),
    "PurgeServer": _row("delete what a server left behind", Role.HOUSE),
}


def refusal(command: type, held: Iterable[Role]) -> Refused | None:
    """Return why a member with these roles may not run a command, or None if they may.

    Refused: "not-allowed". Raises: KeyError for a command without a row.
    """
    right = RIGHTS[command.__name__]
    if right.roles & {Role.MEMBER, *held}:
        return None
    who = " or ".join(WHO[role] for role in Role if role in right.roles)
    return Refused("not-allowed", f"Only {who} can {right.deed}.")


def roles_on_build(member: int, author: int, coauthors: frozenset[int] = frozenset()) -> frozenset[Role]:
    """Return what a member is to a build that they can see."""
    held = {Role.READER}
    if member == author:
        held.add(Role.AUTHOR)
    if member in coauthors:
        held.add(Role.COAUTHOR)
    return frozenset(held)


def roles_on_proposal(
    member: int, proposal: Proposal, gms: frozenset[int] = frozenset(), coauthors: frozenset[int] = frozenset()
) -> frozenset[Role]:
    """Return what a member is to a proposal whose build they can see."""
    held = set(roles_on_build(member, proposal.author, coauthors))
    if member == proposal.proposer:
        held.add(Role.PROPOSER)
    if member in machine.deciders(proposal, gms, coauthors):
        held.add(Role.DECIDER)
    return frozenset(held)


def table_of_rights() -> str:
    """Return the table as Markdown: one column a role, one row for all deeds that the same roles may do.

    Deeds of the bot itself are left out. DEVELOPERS.md carries it; a test compares both.
    """
    columns = [role for role in Role if role is not Role.HOUSE]
    rows: dict[frozenset[Role], list[str]] = {}
    for right in RIGHTS.values():
        if right.roles != {Role.HOUSE}:
            deeds = rows.setdefault(right.roles, [])
            deed = right.deed.split(";")[0]  # the rest is a hint for whom it is refused to
            if deed not in deeds:
                deeds.append(deed)
    lines = [f"| {' | '.join(role.value for role in columns)} | deeds |", f"|{'---|' * len(columns)}---|"]
    for roles, deeds in sorted(rows.items(), key=lambda row: [role not in row[0] for role in columns]):
        may = ["yes" if roles & {role, Role.MEMBER} else "" for role in columns]
        lines.append(f"| {' | '.join(may)} | {'; '.join(deeds)} |")
    return "\n".join(lines)
