"""First tables: builds, proposals, votes, remarks, history, cards and drafts, each within its server.

Revision: 20261125a, after none. 2026-11-25

Works beside the code before it, which may still be running: no column is renamed or taken away in one step. Holds no
lock for long. One subject.
"""

import sqlalchemy as sa
from alembic import op

revision = "20261125a"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "servers",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_servers")),
    )
    op.create_table(
        "cards",
        sa.Column("server", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("message", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("subject", sa.Integer(), nullable=False),
        sa.Column("channel", sa.BigInteger(), nullable=False),
        sa.Column("thread", sa.BigInteger(), nullable=True),
        sa.Column("stale", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["server"], ["servers.id"], name=op.f("fk_cards_server"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("server", "message", name=op.f("pk_cards")),
    )
    op.create_index(op.f("ix_cards_server_subject"), "cards", ["server", "subject"])
    op.create_table(
        "counters",
        sa.Column("server", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("last", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["server"], ["servers.id"], name=op.f("fk_counters_server"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("server", name=op.f("pk_counters")),
    )
    op.create_table(
        "members",
        sa.Column("server", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("name", sa.String(length=100), nullable=True),
        sa.Column("seen", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(["server"], ["servers.id"], name=op.f("fk_members_server"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("server", "id", name=op.f("pk_members")),
    )
    op.create_table(
        "builds",
        sa.Column("server", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("author", sa.BigInteger(), nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column(
            "name_key",
            sa.String(length=240).with_variant(sa.String(length=240, collation="C"), "postgresql"),
            nullable=True,
        ),
        sa.Column("shared", sa.Boolean(), nullable=False),
        sa.Column("removed", sa.Boolean(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("top", sa.Integer(), nullable=False),
        sa.Column("created", sa.BigInteger(), nullable=False),
        sa.Column("changed", sa.BigInteger(), nullable=False),
        sa.Column("row_version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["server", "author"],
            ["members.server", "members.id"],
            name=op.f("fk_builds_server_author"),
            onupdate="CASCADE",
            deferrable=True,
            initially="DEFERRED",
        ),
        sa.ForeignKeyConstraint(["server"], ["servers.id"], name=op.f("fk_builds_server"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("server", "number", name=op.f("pk_builds")),
        sa.UniqueConstraint("server", "name_key", name=op.f("uq_builds_server_name_key")),
    )
    op.create_index(op.f("ix_builds_server_author_number"), "builds", ["server", "author", "number"])
    op.create_index(op.f("ix_builds_server_top_number"), "builds", ["server", "top", "number"])
    op.create_table(
        "drafts",
        sa.Column("id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), autoincrement=True, nullable=False),
        sa.Column("server", sa.BigInteger(), nullable=False),
        sa.Column("member", sa.BigInteger(), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("fields", sa.Text(), nullable=False),
        sa.Column("at", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["server", "member"],
            ["members.server", "members.id"],
            name=op.f("fk_drafts_server_member"),
            onupdate="CASCADE",
            deferrable=True,
            initially="DEFERRED",
        ),
        sa.ForeignKeyConstraint(["server"], ["servers.id"], name=op.f("fk_drafts_server"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_drafts")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_drafts_server_member_id"), "drafts", ["server", "member", "id"])
    op.create_table(
        "history",
        sa.Column("id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), autoincrement=True, nullable=False),
        sa.Column("server", sa.BigInteger(), nullable=False),
        sa.Column("subject", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=12), nullable=False),
        sa.Column("event", sa.String(length=40), nullable=False),
        sa.Column("actor", sa.BigInteger(), nullable=True),
        sa.Column("at", sa.BigInteger(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("data", sa.Text(), nullable=True),
        sa.CheckConstraint("kind IN ('build', 'proposal')", name=op.f("ck_history_kind")),
        sa.ForeignKeyConstraint(
            ["server", "actor"],
            ["members.server", "members.id"],
            name=op.f("fk_history_server_actor"),
            onupdate="CASCADE",
            deferrable=True,
            initially="DEFERRED",
        ),
        sa.ForeignKeyConstraint(["server"], ["servers.id"], name=op.f("fk_history_server"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_history")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_history_server_subject_id"), "history", ["server", "subject", "id"])
    op.create_table(
        "remarks",
        sa.Column("id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), autoincrement=True, nullable=False),
        sa.Column("server", sa.BigInteger(), nullable=False),
        sa.Column("subject", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=12), nullable=False),
        sa.Column("level", sa.Integer(), nullable=True),
        sa.Column("number", sa.String(length=100), nullable=True),
        sa.Column("author", sa.BigInteger(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("at", sa.BigInteger(), nullable=False),
        sa.Column("settled", sa.BigInteger(), nullable=True),
        sa.CheckConstraint("kind IN ('build', 'proposal')", name=op.f("ck_remarks_kind")),
        sa.ForeignKeyConstraint(
            ["server", "author"],
            ["members.server", "members.id"],
            name=op.f("fk_remarks_server_author"),
            onupdate="CASCADE",
            deferrable=True,
            initially="DEFERRED",
        ),
        sa.ForeignKeyConstraint(["server"], ["servers.id"], name=op.f("fk_remarks_server"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_remarks")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_remarks_server_subject_id"), "remarks", ["server", "subject", "id"])
    op.create_table(
        "build_classes",
        sa.Column("server", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("build", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("class_id", sa.String(length=80), nullable=False),
        sa.Column("levels", sa.Integer(), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["server", "build"],
            ["builds.server", "builds.number"],
            name=op.f("fk_build_classes_server_build"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("server", "build", "class_id", name=op.f("pk_build_classes")),
    )
    op.create_index(op.f("ix_build_classes_server_class_id_build"), "build_classes", ["server", "class_id", "build"])
    op.create_table(
        "proposals",
        sa.Column("server", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("build", sa.Integer(), nullable=False),
        sa.Column("base", sa.Integer(), nullable=False),
        sa.Column("proposer", sa.BigInteger(), nullable=False),
        sa.Column("title", sa.String(length=100), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("state", sa.String(length=12), nullable=False),
        sa.Column("policy", sa.Text(), nullable=True),
        sa.Column("created", sa.BigInteger(), nullable=False),
        sa.Column("since", sa.BigInteger(), nullable=False),
        sa.Column("deadline", sa.BigInteger(), nullable=True),
        sa.Column("closed", sa.BigInteger(), nullable=True),
        sa.Column("closed_by", sa.BigInteger(), nullable=True),
        sa.Column("close_reason", sa.Text(), nullable=False),
        sa.Column("adopted_as", sa.Integer(), nullable=True),
        sa.Column("clashes", sa.Text(), nullable=True),
        sa.Column("row_version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "state IN ('open', 'adopted', 'declined', 'withdrawn', 'lapsed', 'outdated')",
            name=op.f("ck_proposals_state"),
        ),
        sa.ForeignKeyConstraint(
            ["server", "build"],
            ["builds.server", "builds.number"],
            name=op.f("fk_proposals_server_build"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["server", "proposer"],
            ["members.server", "members.id"],
            name=op.f("fk_proposals_server_proposer"),
            onupdate="CASCADE",
            deferrable=True,
            initially="DEFERRED",
        ),
        sa.PrimaryKeyConstraint("server", "number", name=op.f("pk_proposals")),
    )
    op.create_index(op.f("ix_proposals_server_build_state"), "proposals", ["server", "build", "state"])
    op.create_index(op.f("ix_proposals_server_proposer_number"), "proposals", ["server", "proposer", "number"])
    op.create_index(op.f("ix_proposals_server_state_number"), "proposals", ["server", "state", "number"])
    op.create_index(op.f("ix_proposals_state_deadline"), "proposals", ["state", "deadline"])
    op.create_table(
        "revisions",
        sa.Column("server", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("build", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.Column("author", sa.BigInteger(), nullable=False),
        sa.Column("at", sa.BigInteger(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("parent", sa.Integer(), nullable=True),
        sa.Column("proposal", sa.Integer(), nullable=True),
        sa.Column("document", sa.Text(), nullable=False),
        sa.CheckConstraint("number >= 1", name=op.f("ck_revisions_number")),
        sa.ForeignKeyConstraint(
            ["server", "author"],
            ["members.server", "members.id"],
            name=op.f("fk_revisions_server_author"),
            onupdate="CASCADE",
            deferrable=True,
            initially="DEFERRED",
        ),
        sa.ForeignKeyConstraint(
            ["server", "build"],
            ["builds.server", "builds.number"],
            name=op.f("fk_revisions_server_build"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("server", "build", "number", name=op.f("pk_revisions")),
    )
    op.create_table(
        "edits",
        sa.Column("server", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("proposal", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("place", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("path", sa.Text(), nullable=False),
        sa.Column("before", sa.Text(), nullable=True),
        sa.Column("after", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(
            ["server", "proposal"],
            ["proposals.server", "proposals.number"],
            name=op.f("fk_edits_server_proposal"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("server", "proposal", "place", name=op.f("pk_edits")),
    )
    op.create_table(
        "votes",
        sa.Column("server", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("proposal", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("member", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("choice", sa.String(length=8), nullable=False),
        sa.Column("at", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("choice IN ('for', 'against', 'abstain')", name=op.f("ck_votes_choice")),
        sa.ForeignKeyConstraint(
            ["server", "member"],
            ["members.server", "members.id"],
            name=op.f("fk_votes_server_member"),
            onupdate="CASCADE",
            deferrable=True,
            initially="DEFERRED",
        ),
        sa.ForeignKeyConstraint(
            ["server", "proposal"],
            ["proposals.server", "proposals.number"],
            name=op.f("fk_votes_server_proposal"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("server", "proposal", "member", name=op.f("pk_votes")),
    )


def downgrade() -> None:
    """Drop them, those first that refer to others."""
    op.drop_table("votes")
    op.drop_table("edits")
    op.drop_table("revisions")
    op.drop_index(op.f("ix_proposals_state_deadline"), table_name="proposals")
    op.drop_index(op.f("ix_proposals_server_state_number"), table_name="proposals")
    op.drop_index(op.f("ix_proposals_server_proposer_number"), table_name="proposals")
    op.drop_index(op.f("ix_proposals_server_build_state"), table_name="proposals")
    op.drop_table("proposals")
    op.drop_index(op.f("ix_build_classes_server_class_id_build"), table_name="build_classes")
    op.drop_table("build_classes")
    op.drop_index(op.f("ix_remarks_server_subject_id"), table_name="remarks")
    op.drop_table("remarks")
    op.drop_index(op.f("ix_history_server_subject_id"), table_name="history")
    op.drop_table("history")
    op.drop_index(op.f("ix_drafts_server_member_id"), table_name="drafts")
    op.drop_table("drafts")
    op.drop_index(op.f("ix_builds_server_top_number"), table_name="builds")
    op.drop_index(op.f("ix_builds_server_author_number"), table_name="builds")
    op.drop_table("builds")
    op.drop_table("members")
    op.drop_table("counters")
    op.drop_index(op.f("ix_cards_server_subject"), table_name="cards")
    op.drop_table("cards")
    op.drop_table("servers")
