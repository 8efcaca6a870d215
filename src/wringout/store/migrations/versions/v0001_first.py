"""The first schema: studies, airplanes, recordings, runs, results, briefs, history and imported bundles."""

from __future__ import annotations

from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

STATEMENTS = (
    """
    CREATE TABLE study (
        id INTEGER NOT NULL,
        slug VARCHAR NOT NULL,
        title TEXT NOT NULL,
        question TEXT NOT NULL,
        difference_that_matters TEXT NOT NULL,
        created_at VARCHAR NOT NULL,
        invented INTEGER NOT NULL,
        CONSTRAINT pk_study PRIMARY KEY (id),
        CONSTRAINT uq_study_slug UNIQUE (slug),
        CONSTRAINT ck_study_invented CHECK (invented IN (0, 1))
    )
    """,
    """
    CREATE TABLE airplane (
        id INTEGER NOT NULL,
        study_id INTEGER NOT NULL,
        version INTEGER NOT NULL,
        toml TEXT NOT NULL,
        created_at VARCHAR NOT NULL,
        CONSTRAINT pk_airplane PRIMARY KEY (id),
        CONSTRAINT uq_airplane_study_id_version UNIQUE (study_id, version),
        CONSTRAINT fk_airplane_study_id FOREIGN KEY(study_id) REFERENCES study (id)
    )
    """,
    """
    CREATE TABLE recording (
        sha256 VARCHAR(64) NOT NULL,
        original_name TEXT NOT NULL,
        size_bytes INTEGER NOT NULL,
        received_at VARCHAR NOT NULL,
        kind VARCHAR NOT NULL,
        CONSTRAINT pk_recording PRIMARY KEY (sha256),
        CONSTRAINT ck_recording_sha256 CHECK (length(sha256) = 64)
    )
    """,
    """
    CREATE TABLE study_recording (
        study_id INTEGER NOT NULL,
        recording_sha256 VARCHAR(64) NOT NULL,
        name TEXT NOT NULL,
        note TEXT NOT NULL,
        mapping TEXT,
        added_at VARCHAR NOT NULL,
        CONSTRAINT pk_study_recording PRIMARY KEY (study_id, recording_sha256),
        CONSTRAINT fk_study_recording_study_id FOREIGN KEY(study_id) REFERENCES study (id),
        CONSTRAINT fk_study_recording_recording_sha256
            FOREIGN KEY(recording_sha256) REFERENCES recording (sha256)
    )
    """,
    """
    CREATE TABLE run (
        id INTEGER NOT NULL,
        study_id INTEGER NOT NULL,
        "key" VARCHAR NOT NULL,
        method VARCHAR NOT NULL,
        recording_sha256 VARCHAR(64) NOT NULL,
        from_s FLOAT,
        to_s FLOAT,
        setup TEXT NOT NULL,
        state VARCHAR NOT NULL,
        reason TEXT NOT NULL,
        created_at VARCHAR NOT NULL,
        CONSTRAINT pk_run PRIMARY KEY (id),
        CONSTRAINT uq_run_study_id_key UNIQUE (study_id, "key"),
        CONSTRAINT fk_run_study_id_recording_sha256 FOREIGN KEY(study_id, recording_sha256)
            REFERENCES study_recording (study_id, recording_sha256),
        CONSTRAINT ck_run_state CHECK (state IN ('in use', 'set aside'))
    )
    """,
    """
    CREATE TABLE result (
        id INTEGER NOT NULL,
        study_id INTEGER NOT NULL,
        kind VARCHAR NOT NULL,
        inputs_hash VARCHAR(64) NOT NULL,
        seed INTEGER NOT NULL,
        package_version VARCHAR NOT NULL,
        settings TEXT NOT NULL,
        body BLOB NOT NULL,
        draws BLOB,
        created_at VARCHAR NOT NULL,
        CONSTRAINT pk_result PRIMARY KEY (id),
        CONSTRAINT fk_result_study_id FOREIGN KEY(study_id) REFERENCES study (id)
    )
    """,
    "CREATE INDEX ix_result_study_id_kind ON result (study_id, kind)",
    """
    CREATE TABLE brief (
        id INTEGER NOT NULL,
        study_id INTEGER NOT NULL,
        path TEXT NOT NULL,
        sha256 VARCHAR(64) NOT NULL,
        bundle_sha256 VARCHAR(64) NOT NULL,
        created_at VARCHAR NOT NULL,
        CONSTRAINT pk_brief PRIMARY KEY (id),
        CONSTRAINT fk_brief_study_id FOREIGN KEY(study_id) REFERENCES study (id)
    )
    """,
    "CREATE INDEX ix_brief_study_id ON brief (study_id)",
    """
    CREATE TABLE history (
        id INTEGER NOT NULL,
        study_id INTEGER NOT NULL,
        at VARCHAR NOT NULL,
        what TEXT NOT NULL,
        before TEXT,
        after TEXT,
        CONSTRAINT pk_history PRIMARY KEY (id),
        CONSTRAINT fk_history_study_id FOREIGN KEY(study_id) REFERENCES study (id)
    )
    """,
    "CREATE INDEX ix_history_study_id ON history (study_id)",
    """
    CREATE TABLE bundle_import (
        sha256 VARCHAR(64) NOT NULL,
        study_id INTEGER NOT NULL,
        name TEXT NOT NULL,
        at VARCHAR NOT NULL,
        CONSTRAINT pk_bundle_import PRIMARY KEY (sha256),
        CONSTRAINT fk_bundle_import_study_id FOREIGN KEY(study_id) REFERENCES study (id)
    )
    """,
)


def upgrade() -> None:
    """Make the tables."""
    for statement in STATEMENTS:
        op.execute(statement)
