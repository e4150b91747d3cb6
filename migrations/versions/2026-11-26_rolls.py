"""Witnessed rolls, each within its server.

Revision: 20261126a, after 20261125a. 2026-11-26

Works beside the code before it, which knows nothing of the new table. Holds no lock for long. One subject.
"""

import sqlalchemy as sa
from alembic import op

revision = "20261126a"
down_revision = "20261125a"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "rolls",
        sa.Column("server", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("kind", sa.String(length=8), nullable=False),
        sa.Column("member", sa.BigInteger(), nullable=False),
        sa.Column("at", sa.BigInteger(), nullable=False),
        sa.Column("dice", sa.String(length=400), nullable=False),
        sa.Column("results", sa.Text(), nullable=False),
        sa.Column("purpose", sa.String(length=100), nullable=False),
        sa.Column("purpose_key", sa.String(length=400), nullable=False),
        sa.Column("build", sa.Integer(), nullable=True),
        sa.Column("level", sa.Integer(), nullable=True),
        sa.Column("serves", sa.Integer(), nullable=True),
        sa.CheckConstraint("kind IN ('dice', 'scores', 'hp')", name=op.f("ck_rolls_kind")),
        sa.ForeignKeyConstraint(["server"], ["servers.id"], name=op.f("fk_rolls_server"), ondelete="CASCADE"),
        sa.ForeignKeyConstraint(
            ["server", "member"],
            ["members.server", "members.id"],
            name=op.f("fk_rolls_server_member"),
            onupdate="CASCADE",
            deferrable=True,
            initially="DEFERRED",
        ),
        sa.ForeignKeyConstraint(
            ["server", "build"],
            ["builds.server", "builds.number"],
            name=op.f("fk_rolls_server_build"),
            deferrable=True,
            initially="DEFERRED",
        ),
        sa.ForeignKeyConstraint(
            ["server", "serves"],
            ["builds.server", "builds.number"],
            name=op.f("fk_rolls_server_serves"),
            deferrable=True,
            initially="DEFERRED",
        ),
        sa.PrimaryKeyConstraint("server", "number", name=op.f("pk_rolls")),
    )
    op.create_index(op.f("ix_rolls_server_build_level"), "rolls", ["server", "build", "level"])
    op.create_index(
        op.f("ix_rolls_server_member_kind_purpose_key"), "rolls", ["server", "member", "kind", "purpose_key"]
    )


def downgrade() -> None:
    """Take the table away, with all rolls."""
    op.drop_table("rolls")
