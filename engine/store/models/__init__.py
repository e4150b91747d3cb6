"""The tables. Migrations are the only way they come to be; `alembic check` holds both together."""

from engine.store.models.base import Base
from engine.store.models.builds import BuildClass, BuildRow, CoAuthor, Revision
from engine.store.models.chat import Card, DraftRow
from engine.store.models.folios import FolioRow, TableFolio
from engine.store.models.people import Counter, Member, Server
from engine.store.models.proposals import EditRow, ProposalRow, Vote
from engine.store.models.record import History, Remark
from engine.store.models.rolls import RollRow
from engine.store.models.tables import ApprovalRow, Seat, SubmissionRow, TableRow, Waiver
from engine.store.models.writeups import WriteupRow

__all__ = [
    "ApprovalRow",
    "Base",
    "BuildClass",
    "BuildRow",
    "Card",
    "CoAuthor",
    "Counter",
    "DraftRow",
    "EditRow",
    "FolioRow",
    "History",
    "Member",
    "ProposalRow",
    "Remark",
    "Revision",
    "RollRow",
    "Seat",
    "Server",
    "SubmissionRow",
    "TableFolio",
    "TableRow",
    "Vote",
    "Waiver",
    "WriteupRow",
]
