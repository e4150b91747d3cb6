"""What all tables share: names for every constraint, so that each can be dropped by name, and short column types."""

from typing import Annotated, Final

from sqlalchemy import BigInteger, ForeignKeyConstraint, Integer, MetaData
from sqlalchemy.orm import DeclarativeBase, mapped_column

NAMES: Final = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}

# Ids of the chat platform need 64 bits; the numbers that people say aloud do not.
ChatId = Annotated[int, mapped_column(BigInteger)]
# SQLite numbers rows by itself only if the key is exactly INTEGER.
RowId = Annotated[
    int, mapped_column(BigInteger().with_variant(Integer, "sqlite"), primary_key=True, autoincrement=True)
]


class Base(DeclarativeBase):
    """Base of all models. Every table has its server in its key or an index that begins with it."""

    metadata = MetaData(naming_convention=NAMES)


def to_server(column: str = "server") -> ForeignKeyConstraint:
    """Return the reference to the server; what a server has goes with it."""
    return ForeignKeyConstraint([column], ["servers.id"], ondelete="CASCADE")


def to_member(column: str) -> ForeignKeyConstraint:
    """Return a reference to a member of the row's server; follows if the member's id is replaced."""
    return ForeignKeyConstraint(
        ["server", column],
        ["members.server", "members.id"],
        onupdate="CASCADE",
        # Looked at when the transaction ends: a server that is deleted takes members and what they made in any order.
        deferrable=True,
        initially="DEFERRED",
    )


def to_build(column: str = "build") -> ForeignKeyConstraint:
    """Return a reference to a build of the row's server."""
    return ForeignKeyConstraint(["server", column], ["builds.server", "builds.number"], ondelete="CASCADE")


def to_proposal(column: str = "proposal") -> ForeignKeyConstraint:
    """Return a reference to a proposal of the row's server."""
    return ForeignKeyConstraint(["server", column], ["proposals.server", "proposals.number"], ondelete="CASCADE")
