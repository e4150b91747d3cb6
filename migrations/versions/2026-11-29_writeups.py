"""The write-up of a build, and the revision that its numbers were checked against.

Revision: 20261129a, after 20261128a. 2026-11-29

Works beside the code before it, which knows nothing of the new table. Holds no lock for long. One subject.
"""

import sqlalchemy as sa
from alembic import op

revision = "20261129a"
down_revision = "20261128a"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "writeups",
        sa.Column("server", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("build", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("member", sa.BigInteger(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("at", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["server", "build"],
            ["builds.server", "builds.number"],
            name=op.f("fk_writeups_server_build"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["server", "member"],
            ["members.server", "members.id"],
            name=op.f("fk_writeups_server_member"),
            onupdate="CASCADE",
            deferrable=True,
            initially="DEFERRED",
        ),
        sa.PrimaryKeyConstraint("server", "build", name=op.f("pk_writeups")),
    )


def downgrade() -> None:
    """Drop the table."""
    op.drop_table("writeups")
