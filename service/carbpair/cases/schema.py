"""Database tables (SQLAlchemy Core); the migrations in ``migrations/`` build the same ones.

All times are Unix seconds (UTC). Tokens are kept only as SHA-256 digests.
"""

from sqlalchemy import (
    JSON,
    BigInteger,
    Boolean,
    Column,
    Double,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

metadata = MetaData()

# SQLite numbers rows only for INTEGER PRIMARY KEY, never for BIGINT.
RowNumber = BigInteger().with_variant(Integer, "sqlite")


def _case_key(*, primary: bool = False) -> Column[str]:
    return Column(
        "case_id",
        String(16),
        ForeignKey("case_file.id", ondelete="CASCADE"),
        nullable=False,
        primary_key=primary,
    )


user = Table(
    "app_user",
    metadata,
    Column("id", String(16), primary_key=True),
    Column("name", String(80), nullable=False, unique=True),
    Column("password_hash", Text, nullable=False),
    Column("disabled", Boolean, nullable=False),
    Column("created_at", Double, nullable=False),
)

session = Table(
    "session",
    metadata,
    Column("digest", String(64), primary_key=True),
    Column("user_id", String(16), ForeignKey("app_user.id", ondelete="CASCADE"), nullable=False),
    Column("kind", String(8), nullable=False),  # cookie | bearer
    Column("label", String(80), nullable=False),
    Column("created_at", Double, nullable=False),
    Column("expires_at", Double, nullable=False),
)

case_file = Table(
    "case_file",
    metadata,
    Column("id", String(16), primary_key=True),
    Column("number", RowNumber, nullable=False, unique=True),
    Column("title", String(200), nullable=False),
    Column("state", String(20), nullable=False),
    Column("purpose", String(20), nullable=False),  # workshop | purchase
    Column("car", String(80)),
    Column("engine", String(80)),
    Column("year", Integer),
    Column("tag_text", String(200)),
    Column("symptoms", JSON, nullable=False),
    Column("remarks", Text, nullable=False),
    Column("consent_learning", Boolean, nullable=False),
    Column("revision", Integer, nullable=False),
    Column("created_at", Double, nullable=False),
    Column("updated_at", Double, nullable=False),
)
Index("case_file_by_state", case_file.c.state, case_file.c.number)

link = Table(
    "link",
    metadata,
    Column("digest", String(64), primary_key=True),
    Column("hint", String(6), nullable=False),
    _case_key(),
    Column("created_at", Double, nullable=False),
    Column("expires_at", Double, nullable=False),
    Column("revoked_at", Double),
)

photo = Table(
    "photo",
    metadata,
    Column("id", String(16), primary_key=True),
    _case_key(),
    Column("ordinal", Integer, nullable=False),
    Column("view", String(20), nullable=False),
    Column("phase", String(8), nullable=False),  # before | after
    Column("store_key", String(200), nullable=False),
    Column("original_key", String(200)),
    Column("sha256", String(64), nullable=False),
    Column("width", Integer, nullable=False),
    Column("height", Integer, nullable=False),
    Column("size", Integer, nullable=False),
    Column("notes", JSON, nullable=False),
    Column("quality", JSON, nullable=False),
    Column("created_at", Double, nullable=False),
    UniqueConstraint("case_id", "ordinal"),
)

upload = Table(
    "upload",
    metadata,
    Column("id", String(40), primary_key=True),
    _case_key(),
    Column("link_digest", String(64), nullable=False),
    Column("length", Integer, nullable=False),
    Column("view", String(20), nullable=False),
    Column("phase", String(8), nullable=False),
    Column("state", String(12), nullable=False),  # open | complete | rejected
    Column("photo_id", String(16)),
    Column("problem", JSON),
    Column("created_at", Double, nullable=False),
    Column("expires_at", Double, nullable=False),
)

analysis = Table(
    "analysis",
    metadata,
    Column("id", String(16), primary_key=True),
    _case_key(),
    Column("revision", Integer, nullable=False),
    Column("state", String(12), nullable=False),  # queued | running | done | failed | superseded
    Column("done_photos", Integer, nullable=False),
    Column("photo_ids", JSON, nullable=False),
    Column("inspection", JSON),
    Column("inspection_after", JSON),
    Column("error", Text),
    Column("queued_at", Double, nullable=False),
    Column("started_at", Double),
    Column("finished_at", Double),
    UniqueConstraint("case_id", "revision"),
)

one_shot = Table(
    "one_shot",
    metadata,
    Column("id", String(16), primary_key=True),
    Column("state", String(12), nullable=False),
    Column("files", JSON, nullable=False),  # [{"name", "key"}]
    Column("request", JSON, nullable=False),
    Column("inspection", JSON),
    Column("error", Text),
    Column("created_at", Double, nullable=False),
)

job = Table(
    "job",
    metadata,
    Column("id", RowNumber, primary_key=True, autoincrement=True),
    Column("kind", String(12), nullable=False),  # case | one_shot
    Column("target", String(16), nullable=False),
    Column("state", String(8), nullable=False),  # todo | doing | done | failed
    Column("attempts", Integer, nullable=False),
    Column("owner", String(40)),
    Column("lease_until", Double),
    Column("queued_at", Double, nullable=False),
    Column("finished_at", Double),
    UniqueConstraint("kind", "target"),
)
Index("job_by_state", job.c.state, job.c.id)

correction = Table(
    "correction",
    metadata,
    Column("id", RowNumber, primary_key=True, autoincrement=True),
    _case_key(),
    Column("position", String(8), nullable=False),  # left | right | pair
    Column("feature", String(40), nullable=False),
    Column("value", JSON, nullable=False),
    Column("photo_id", String(16)),
    Column("drawing", JSON),
    Column("note", Text, nullable=False),
    Column("made_by", String(80), nullable=False),
    Column("made_at", Double, nullable=False),
    Column("withdrawn_at", Double),
)

checklist_tick = Table(
    "checklist_tick",
    metadata,
    _case_key(primary=True),
    Column("item_id", String(120), primary_key=True),
    Column("outcome", String(12), nullable=False),  # open | good | bad | skipped
    Column("note", Text, nullable=False),
    Column("made_by", String(80), nullable=False),
    Column("made_at", Double, nullable=False),
)

# No foreign key: the trail says that a case was deleted after the case is gone.
audit_event = Table(
    "audit_event",
    metadata,
    Column("id", RowNumber, primary_key=True, autoincrement=True),
    Column("case_id", String(16)),
    Column("actor", String(80), nullable=False),
    Column("action", String(40), nullable=False),
    Column("detail", JSON, nullable=False),
    Column("at", Double, nullable=False),
)
Index("audit_by_case", audit_event.c.case_id, audit_event.c.id)

idempotency = Table(
    "idempotency",
    metadata,
    Column("scope", String(80), primary_key=True),
    Column("idempotency_key", String(200), primary_key=True),
    Column("fingerprint", String(64), nullable=False),
    Column("status", Integer),
    Column("body", JSON),
    Column("created_at", Double, nullable=False),
)

# Store keys whose files are still to be removed; written in the transaction that drops the rows,
# so that a crash between the two cannot leave a photo behind.
doomed_file = Table(
    "doomed_file",
    metadata,
    Column("store_key", String(200), primary_key=True),
    Column("doomed_at", Double, nullable=False),
)
