"""Tables, seats at them, submitted builds with their approvals and waivers.

Revision: 20261128a, after 20261127a. 2026-11-28

Works beside the code before it, which knows nothing of the new tables. Holds no lock for long. One subject.
"""

import sqlalchemy as sa
from alembic import op

revision = "20261128a"
down_revision = "20261127a"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "game_tables",
        sa.Column("server", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column(
            "name_key",
            sa.String(length=240).with_variant(sa.String(length=240, collation="C"), "postgresql"),
            nullable=True,
        ),
        sa.Column("channel", sa.BigInteger(), nullable=True),
        sa.Column("role", sa.BigInteger(), nullable=True),
        sa.Column("open", sa.Boolean(), nullable=False),
        sa.Column("level", sa.Integer(), nullable=False),
        sa.Column("rules", sa.Text(), nullable=False),
        sa.Column("policy", sa.Text(), nullable=True),
        sa.Column("closed", sa.BigInteger(), nullable=True),
        sa.Column("created", sa.BigInteger(), nullable=False),
        sa.Column("changed", sa.BigInteger(), nullable=False),
        sa.Column("row_version", sa.Integer(), nullable=False),
        sa.CheckConstraint("level BETWEEN 1 AND 20", name=op.f("ck_game_tables_level")),
        sa.ForeignKeyConstraint(["server"], ["servers.id"], name=op.f("fk_game_tables_server"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("server", "number", name=op.f("pk_game_tables")),
        sa.UniqueConstraint("server", "name_key", name=op.f("uq_game_tables_server_name_key")),
    )
    op.create_table(
        "seats",
        sa.Column("server", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("at_table", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("member", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("gm", sa.Boolean(), nullable=False),
        sa.Column("at", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["server", "at_table"],
            ["game_tables.server", "game_tables.number"],
            name=op.f("fk_seats_server_at_table"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["server", "member"],
            ["members.server", "members.id"],
            name=op.f("fk_seats_server_member"),
            onupdate="CASCADE",
            initially="DEFERRED",
            deferrable=True,
        ),
        sa.PrimaryKeyConstraint("server", "at_table", "member", name=op.f("pk_seats")),
    )
    op.create_index(op.f("ix_seats_server_member_at_table"), "seats", ["server", "member", "at_table"])

    op.create_table(
        "submissions",
        sa.Column("server", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("build", sa.Integer(), nullable=False),
        sa.Column("at_table", sa.Integer(), nullable=False),
        sa.Column("stage", sa.String(length=10), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("at", sa.BigInteger(), nullable=False),
        sa.Column("remarks", sa.Text(), nullable=False),
        sa.Column("decided", sa.BigInteger(), nullable=True),
        sa.Column("decided_by", sa.BigInteger(), nullable=True),
        sa.Column("row_version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "stage IN ('waiting', 'approved', 'returned', 'withdrawn')", name=op.f("ck_submissions_stage")
        ),
        sa.ForeignKeyConstraint(
            ["server", "at_table"],
            ["game_tables.server", "game_tables.number"],
            name=op.f("fk_submissions_server_at_table"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["server", "build"],
            ["builds.server", "builds.number"],
            name=op.f("fk_submissions_server_build"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["server", "decided_by"],
            ["members.server", "members.id"],
            name=op.f("fk_submissions_server_decided_by"),
            onupdate="CASCADE",
            initially="DEFERRED",
            deferrable=True,
        ),
        sa.PrimaryKeyConstraint("server", "number", name=op.f("pk_submissions")),
        sa.UniqueConstraint("server", "build", "at_table", name=op.f("uq_submissions_server_build_at_table")),
    )
    op.create_index(op.f("ix_submissions_server_at_table_number"), "submissions", ["server", "at_table", "number"])

    op.create_table(
        "approvals",
        sa.Column("server", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("submission", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("place", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("member", sa.BigInteger(), nullable=False),
        sa.Column("at", sa.BigInteger(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("first", sa.Integer(), nullable=False),
        sa.Column("last", sa.Integer(), nullable=False),
        sa.Column("seen", sa.Text(), nullable=False),
        sa.Column("findings", sa.Text(), nullable=False),
        sa.Column("folios", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["server", "member"],
            ["members.server", "members.id"],
            name=op.f("fk_approvals_server_member"),
            onupdate="CASCADE",
            initially="DEFERRED",
            deferrable=True,
        ),
        sa.ForeignKeyConstraint(
            ["server", "submission"],
            ["submissions.server", "submissions.number"],
            name=op.f("fk_approvals_server_submission"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("server", "submission", "place", name=op.f("pk_approvals")),
    )
    op.create_table(
        "waivers",
        sa.Column("id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), autoincrement=True, nullable=False),
        sa.Column("server", sa.BigInteger(), nullable=False),
        sa.Column("submission", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=60), nullable=False),
        sa.Column("level", sa.Integer(), nullable=True),
        sa.Column("subject", sa.Text(), nullable=False),
        sa.Column("message", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("member", sa.BigInteger(), nullable=False),
        sa.Column("at", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["server", "member"],
            ["members.server", "members.id"],
            name=op.f("fk_waivers_server_member"),
            onupdate="CASCADE",
            initially="DEFERRED",
            deferrable=True,
        ),
        sa.ForeignKeyConstraint(
            ["server", "submission"],
            ["submissions.server", "submissions.number"],
            name=op.f("fk_waivers_server_submission"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_waivers")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_waivers_server_submission_id"), "waivers", ["server", "submission", "id"])


def downgrade() -> None:
    """Drop them, those first that refer to others."""
    op.drop_table("waivers")
    op.drop_table("approvals")
    op.drop_table("submissions")
    op.drop_table("seats")
    op.drop_table("game_tables")
