"""The tables of the database, as the newest schema has them.

The migrations under ``migrations/versions`` build them; a test holds the two against each other. Times are ISO 8601
UTC text, documents are JSON text, bodies of results are JSON compressed by zlib.
"""

from __future__ import annotations

from sqlalchemy import (
    CheckConstraint,
    Column,
    Float,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

SCHEMA_VERSION = "0002"
"""The newest migration this package carries."""

APPLICATION_ID = 0x57524F54
"""What ``PRAGMA application_id`` of our databases holds ("WROT")."""

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)

study = Table(
    "study",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("slug", String, nullable=False),
    Column("title", Text, nullable=False),
    Column("question", Text, nullable=False),
    Column("difference_that_matters", Text, nullable=False),
    Column("created_at", String, nullable=False),
    Column("invented", Integer, nullable=False),
    UniqueConstraint("slug"),
    CheckConstraint("invented IN (0, 1)", name="invented"),
)

airplane = Table(
    "airplane",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("study_id", ForeignKey("study.id"), nullable=False),
    Column("version", Integer, nullable=False),
    Column("toml", Text, nullable=False),
    Column("created_at", String, nullable=False),
    UniqueConstraint("study_id", "version"),
)

recording = Table(
    "recording",
    metadata,
    Column("sha256", String(64), primary_key=True),
    Column("original_name", Text, nullable=False),
    Column("size_bytes", Integer, nullable=False),
    Column("received_at", String, nullable=False),
    Column("kind", String, nullable=False),
    CheckConstraint("length(sha256) = 64", name="sha256"),
)

study_recording = Table(
    "study_recording",
    metadata,
    Column("study_id", ForeignKey("study.id"), primary_key=True),
    Column("recording_sha256", ForeignKey("recording.sha256"), primary_key=True),
    Column("name", Text, nullable=False),
    Column("note", Text, nullable=False),
    Column("mapping", Text, nullable=True),
    Column("added_at", String, nullable=False),
)

run = Table(
    "run",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("study_id", Integer, nullable=False),
    Column("key", String, nullable=False),
    Column("method", String, nullable=False),
    Column("recording_sha256", String(64), nullable=False),
    Column("from_s", Float, nullable=True),
    Column("to_s", Float, nullable=True),
    Column("setup", Text, nullable=False),
    Column("state", String, nullable=False),
    Column("reason", Text, nullable=False),
    Column("created_at", String, nullable=False),
    UniqueConstraint("study_id", "key"),
    ForeignKeyConstraint(
        ["study_id", "recording_sha256"], ["study_recording.study_id", "study_recording.recording_sha256"]
    ),
    CheckConstraint("state IN ('in use', 'set aside')", name="state"),
)

result = Table(
    "result",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("study_id", ForeignKey("study.id"), nullable=False),
    Column("kind", String, nullable=False),
    Column("inputs_hash", String(64), nullable=False),
    Column("seed", Integer, nullable=False),
    Column("package_version", String, nullable=False),
    Column("settings", Text, nullable=False),
    Column("body", LargeBinary, nullable=False),
    Column("draws", LargeBinary, nullable=True),
    Column("created_at", String, nullable=False),
    Index(None, "study_id", "kind"),
)

brief = Table(
    "brief",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("study_id", ForeignKey("study.id"), nullable=False),
    Column("path", Text, nullable=False),
    Column("sha256", String(64), nullable=False),
    Column("bundle_sha256", String(64), nullable=False),
    Column("created_at", String, nullable=False),
    Index(None, "study_id"),
)

history = Table(
    "history",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("study_id", ForeignKey("study.id"), nullable=False),
    Column("at", String, nullable=False),
    Column("what", Text, nullable=False),
    Column("before", Text, nullable=True),
    Column("after", Text, nullable=True),
    Index(None, "study_id"),
)

bundle_import = Table(
    "bundle_import",
    metadata,
    Column("sha256", String(64), primary_key=True),
    Column("study_id", ForeignKey("study.id"), nullable=False),
    Column("name", Text, nullable=False),
    Column("at", String, nullable=False),
)

study_document = Table(
    "study_document",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("study_id", ForeignKey("study.id"), nullable=False),
    Column("kind", String, nullable=False),
    Column("key", String, nullable=False),
    Column("revision", Integer, nullable=False),
    Column("body", Text, nullable=True),
    Column("at", String, nullable=False),
    UniqueConstraint("study_id", "kind", "key", "revision"),
    CheckConstraint("revision >= 1", name="revision"),
)

library_entry = Table(
    "library_entry",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("kind", String, nullable=False),
    Column("key", String, nullable=False),
    Column("revision", Integer, nullable=False),
    Column("body", Text, nullable=True),
    Column("at", String, nullable=False),
    UniqueConstraint("kind", "key", "revision"),
    CheckConstraint("revision >= 1", name="revision"),
)

tap = Table(
    "tap",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("study_id", ForeignKey("study.id"), nullable=False),
    Column("flight", String, nullable=False),
    Column("device", String, nullable=False),
    Column("sequence", Integer, nullable=False),
    Column("body", Text, nullable=False),
    Column("at", String, nullable=False),
    UniqueConstraint("study_id", "flight", "device", "sequence"),
    CheckConstraint("sequence >= 0", name="sequence"),
)
