"""Folios of a server in all their versions, those on at tables, and the role that may add them.

Revision: 20261130a, after 20261129a. 2026-11-30

Works beside the code before it, which knows nothing of the new tables and column. Holds no lock for long. One subject.
"""

import sqlalchemy as sa
from alembic import op

revision = "20261130a"
down_revision = "20261129a"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables and the column."""
    op.create_table(
        "folios",
        sa.Column("server", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("id", sa.String(length=60), nullable=False),
        sa.Column("version", sa.String(length=40), nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.Column("title", sa.String(length=80), nullable=False),
        sa.Column("author", sa.String(length=80), nullable=True),
        sa.Column("licence", sa.Text(), nullable=False),
        sa.Column("about", sa.Text(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("entries", sa.Integer(), nullable=False),
        sa.Column("data", sa.LargeBinary(), nullable=False),
        sa.Column("added_by", sa.BigInteger(), nullable=False),
        sa.Column("at", sa.BigInteger(), nullable=False),
        sa.Column("current", sa.Boolean(), nullable=False),
        sa.Column("everywhere", sa.Boolean(), nullable=False),
        sa.Column("removed", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(["server"], ["servers.id"], name=op.f("fk_folios_server"), ondelete="CASCADE"),
        sa.ForeignKeyConstraint(
            ["server", "added_by"],
            ["members.server", "members.id"],
            name=op.f("fk_folios_server_added_by"),
            onupdate="CASCADE",
            deferrable=True,
            initially="DEFERRED",
        ),
        sa.PrimaryKeyConstraint("server", "id", "version", name=op.f("pk_folios")),
        sa.UniqueConstraint("server", "id", "hash", name=op.f("uq_folios_server_id_hash")),
    )
    op.create_index(op.f("ix_folios_server_current_id"), "folios", ["server", "current", "id"])
    op.create_table(
        "table_folios",
        sa.Column("server", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("at_table", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("folio", sa.String(length=60), nullable=False),
        sa.Column("member", sa.BigInteger(), nullable=False),
        sa.Column("at", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["server", "at_table"],
            ["game_tables.server", "game_tables.number"],
            name=op.f("fk_table_folios_server_at_table"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["server", "member"],
            ["members.server", "members.id"],
            name=op.f("fk_table_folios_server_member"),
            onupdate="CASCADE",
            deferrable=True,
            initially="DEFERRED",
        ),
        sa.PrimaryKeyConstraint("server", "at_table", "folio", name=op.f("pk_table_folios")),
    )
    with op.batch_alter_table("servers") as servers:
        servers.add_column(sa.Column("librarians", sa.BigInteger(), nullable=True))


def downgrade() -> None:
    """Drop both tables and the column."""
    with op.batch_alter_table("servers") as servers:
        servers.drop_column("librarians")
    op.drop_table("table_folios")
    op.drop_index(op.f("ix_folios_server_current_id"), "folios")
    op.drop_table("folios")
