"""First schema: cases, photos, links, logins, analyses, jobs, corrections, audit trail."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make all tables."""
    op.create_table(
        "app_user",
        sa.Column("id", sa.String(length=16), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("password_hash", sa.Text(), nullable=False),
        sa.Column("disabled", sa.Boolean(), nullable=False),
        sa.Column("created_at", sa.Double(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("name"),
    )
    op.create_table(
        "audit_event",
        sa.Column(
            "id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("case_id", sa.String(length=16), nullable=True),
        sa.Column("actor", sa.String(length=80), nullable=False),
        sa.Column("action", sa.String(length=40), nullable=False),
        sa.Column("detail", sa.JSON(), nullable=False),
        sa.Column("at", sa.Double(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_index("audit_by_case", "audit_event", ["case_id", "id"], unique=False)
    op.create_table(
        "case_file",
        sa.Column("id", sa.String(length=16), nullable=False),
        sa.Column("number", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("title", sa.String(length=200), nullable=False),
        sa.Column("state", sa.String(length=20), nullable=False),
        sa.Column("purpose", sa.String(length=20), nullable=False),
        sa.Column("car", sa.String(length=80), nullable=True),
        sa.Column("engine", sa.String(length=80), nullable=True),
        sa.Column("year", sa.Integer(), nullable=True),
        sa.Column("tag_text", sa.String(length=200), nullable=True),
        sa.Column("symptoms", sa.JSON(), nullable=False),
        sa.Column("remarks", sa.Text(), nullable=False),
        sa.Column("consent_learning", sa.Boolean(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.Double(), nullable=False),
        sa.Column("updated_at", sa.Double(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("number"),
    )
    op.create_index("case_file_by_state", "case_file", ["state", "number"], unique=False)
    op.create_table(
        "doomed_file",
        sa.Column("store_key", sa.String(length=200), nullable=False),
        sa.Column("doomed_at", sa.Double(), nullable=False),
        sa.PrimaryKeyConstraint("store_key"),
    )
    op.create_table(
        "idempotency",
        sa.Column("scope", sa.String(length=80), nullable=False),
        sa.Column("idempotency_key", sa.String(length=200), nullable=False),
        sa.Column("fingerprint", sa.String(length=64), nullable=False),
        sa.Column("status", sa.Integer(), nullable=True),
        sa.Column("body", sa.JSON(), nullable=True),
        sa.Column("created_at", sa.Double(), nullable=False),
        sa.PrimaryKeyConstraint("scope", "idempotency_key"),
    )
    op.create_table(
        "job",
        sa.Column(
            "id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("kind", sa.String(length=12), nullable=False),
        sa.Column("target", sa.String(length=16), nullable=False),
        sa.Column("state", sa.String(length=8), nullable=False),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("owner", sa.String(length=40), nullable=True),
        sa.Column("lease_until", sa.Double(), nullable=True),
        sa.Column("queued_at", sa.Double(), nullable=False),
        sa.Column("finished_at", sa.Double(), nullable=True),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("kind", "target"),
    )
    op.create_index("job_by_state", "job", ["state", "id"], unique=False)
    op.create_table(
        "one_shot",
        sa.Column("id", sa.String(length=16), nullable=False),
        sa.Column("state", sa.String(length=12), nullable=False),
        sa.Column("files", sa.JSON(), nullable=False),
        sa.Column("request", sa.JSON(), nullable=False),
        sa.Column("inspection", sa.JSON(), nullable=True),
        sa.Column("error", sa.Text(), nullable=True),
        sa.Column("created_at", sa.Double(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_table(
        "analysis",
        sa.Column("id", sa.String(length=16), nullable=False),
        sa.Column("case_id", sa.String(length=16), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(length=12), nullable=False),
        sa.Column("done_photos", sa.Integer(), nullable=False),
        sa.Column("photo_ids", sa.JSON(), nullable=False),
        sa.Column("inspection", sa.JSON(), nullable=True),
        sa.Column("inspection_after", sa.JSON(), nullable=True),
        sa.Column("error", sa.Text(), nullable=True),
        sa.Column("queued_at", sa.Double(), nullable=False),
        sa.Column("started_at", sa.Double(), nullable=True),
        sa.Column("finished_at", sa.Double(), nullable=True),
        sa.ForeignKeyConstraint(["case_id"], ["case_file.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("case_id", "revision"),
    )
    op.create_table(
        "checklist_tick",
        sa.Column("case_id", sa.String(length=16), nullable=False),
        sa.Column("item_id", sa.String(length=120), nullable=False),
        sa.Column("outcome", sa.String(length=12), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("made_by", sa.String(length=80), nullable=False),
        sa.Column("made_at", sa.Double(), nullable=False),
        sa.ForeignKeyConstraint(["case_id"], ["case_file.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("case_id", "item_id"),
    )
    op.create_table(
        "correction",
        sa.Column(
            "id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("case_id", sa.String(length=16), nullable=False),
        sa.Column("position", sa.String(length=8), nullable=False),
        sa.Column("feature", sa.String(length=40), nullable=False),
        sa.Column("value", sa.JSON(), nullable=False),
        sa.Column("photo_id", sa.String(length=16), nullable=True),
        sa.Column("drawing", sa.JSON(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("made_by", sa.String(length=80), nullable=False),
        sa.Column("made_at", sa.Double(), nullable=False),
        sa.Column("withdrawn_at", sa.Double(), nullable=True),
        sa.ForeignKeyConstraint(["case_id"], ["case_file.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_table(
        "link",
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("hint", sa.String(length=6), nullable=False),
        sa.Column("case_id", sa.String(length=16), nullable=False),
        sa.Column("created_at", sa.Double(), nullable=False),
        sa.Column("expires_at", sa.Double(), nullable=False),
        sa.Column("revoked_at", sa.Double(), nullable=True),
        sa.ForeignKeyConstraint(["case_id"], ["case_file.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("digest"),
    )
    op.create_table(
        "photo",
        sa.Column("id", sa.String(length=16), nullable=False),
        sa.Column("case_id", sa.String(length=16), nullable=False),
        sa.Column("ordinal", sa.Integer(), nullable=False),
        sa.Column("view", sa.String(length=20), nullable=False),
        sa.Column("phase", sa.String(length=8), nullable=False),
        sa.Column("store_key", sa.String(length=200), nullable=False),
        sa.Column("original_key", sa.String(length=200), nullable=True),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("width", sa.Integer(), nullable=False),
        sa.Column("height", sa.Integer(), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("notes", sa.JSON(), nullable=False),
        sa.Column("quality", sa.JSON(), nullable=False),
        sa.Column("created_at", sa.Double(), nullable=False),
        sa.ForeignKeyConstraint(["case_id"], ["case_file.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("case_id", "ordinal"),
    )
    op.create_table(
        "session",
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("user_id", sa.String(length=16), nullable=False),
        sa.Column("kind", sa.String(length=8), nullable=False),
        sa.Column("label", sa.String(length=80), nullable=False),
        sa.Column("created_at", sa.Double(), nullable=False),
        sa.Column("expires_at", sa.Double(), nullable=False),
        sa.ForeignKeyConstraint(["user_id"], ["app_user.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("digest"),
    )
    op.create_table(
        "upload",
        sa.Column("id", sa.String(length=40), nullable=False),
        sa.Column("case_id", sa.String(length=16), nullable=False),
        sa.Column("link_digest", sa.String(length=64), nullable=False),
        sa.Column("length", sa.Integer(), nullable=False),
        sa.Column("view", sa.String(length=20), nullable=False),
        sa.Column("phase", sa.String(length=8), nullable=False),
        sa.Column("state", sa.String(length=12), nullable=False),
        sa.Column("photo_id", sa.String(length=16), nullable=True),
        sa.Column("problem", sa.JSON(), nullable=True),
        sa.Column("created_at", sa.Double(), nullable=False),
        sa.Column("expires_at", sa.Double(), nullable=False),
        sa.ForeignKeyConstraint(["case_id"], ["case_file.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
    )


def downgrade() -> None:
    """Drop all tables."""
    op.drop_table("upload")
    op.drop_table("session")
    op.drop_table("photo")
    op.drop_table("link")
    op.drop_table("correction")
    op.drop_table("checklist_tick")
    op.drop_table("analysis")
    op.drop_table("one_shot")
    op.drop_index("job_by_state", table_name="job")
    op.drop_table("job")
    op.drop_table("idempotency")
    op.drop_table("doomed_file")
    op.drop_index("case_file_by_state", table_name="case_file")
    op.drop_table("case_file")
    op.drop_index("audit_by_case", table_name="audit_event")
    op.drop_table("audit_event")
    op.drop_table("app_user")
