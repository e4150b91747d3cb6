"""What a full review needs: policies, co-authors, reminders, settled remarks, members who left.

Revision: 20261127a, after 20261126a. 2026-11-27

Works beside the code before it: it only adds columns that may be empty, and a table. On SQLite the history is copied
once, for its wider constraint. One subject.
"""

import sqlalchemy as sa
from alembic import op

revision = "20261127a"
down_revision = "20261126a"
branch_labels = None
depends_on = None

KINDS = "kind IN ('build', 'proposal', 'server', 'table')"
FORMER_KINDS = "kind IN ('build', 'proposal')"
COLUMNS = (
    ("servers", "policy", sa.Text()),
    ("servers", "place", sa.BigInteger()),
    ("servers", "left", sa.BigInteger()),
    ("members", "silent", sa.BigInteger()),
    ("builds", "retired", sa.BigInteger()),
    ("builds", "origin", sa.Integer()),
    ("builds", "origin_revision", sa.Integer()),
    ("proposals", "remind", sa.BigInteger()),
    ("proposals", "based_on", sa.Integer()),
    ("remarks", "answers", sa.BigInteger()),
    ("remarks", "edited", sa.BigInteger()),
    ("remarks", "removed", sa.BigInteger()),
    ("remarks", "settled_by", sa.BigInteger()),
)


def upgrade() -> None:
    """Add columns, the table of co-authors, and the wider kinds of history."""
    for table, column, type_ in COLUMNS:
        op.add_column(table, sa.Column(column, type_, nullable=True))
    op.create_index(op.f("ix_proposals_state_remind"), "proposals", ["state", "remind"])
    op.create_table(
        "coauthors",
        sa.Column("server", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("build", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("member", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("at", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["server", "build"],
            ["builds.server", "builds.number"],
            name=op.f("fk_coauthors_server_build"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["server", "member"],
            ["members.server", "members.id"],
            name=op.f("fk_coauthors_server_member"),
            onupdate="CASCADE",
            deferrable=True,
            initially="DEFERRED",
        ),
        sa.PrimaryKeyConstraint("server", "build", "member", name=op.f("pk_coauthors")),
    )
    op.create_index(op.f("ix_coauthors_server_member_build"), "coauthors", ["server", "member", "build"])
    _history(KINDS)


def downgrade() -> None:
    """Take all of it away; rows of history about servers and tables go."""
    op.execute("DELETE FROM history WHERE kind NOT IN ('build', 'proposal')")
    _history(FORMER_KINDS)
    op.drop_table("coauthors")
    op.drop_index(op.f("ix_proposals_state_remind"), "proposals")
    for table, column, _ in reversed(COLUMNS):
        op.drop_column(table, column)


def _history(kinds: str) -> None:
    """Let rows of the history be of these kinds."""
    # SQLite cannot change a constraint: the table is copied there, and must keep that its ids never come back.
    with op.batch_alter_table("history", table_kwargs={"sqlite_autoincrement": True}) as table:
        table.drop_constraint(op.f("ck_history_kind"), type_="check")
        table.create_check_constraint(op.f("ck_history_kind"), kinds)
