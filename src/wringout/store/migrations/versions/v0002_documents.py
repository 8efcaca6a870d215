"""Documents of a study, entries of the library, and taps of capture devices."""

from __future__ import annotations

from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

STATEMENTS = (
    """
    CREATE TABLE study_document (
        id INTEGER NOT NULL,
        study_id INTEGER NOT NULL,
        kind VARCHAR NOT NULL,
        "key" VARCHAR NOT NULL,
        revision INTEGER NOT NULL,
        body TEXT,
        at VARCHAR NOT NULL,
        CONSTRAINT pk_study_document PRIMARY KEY (id),
        CONSTRAINT uq_study_document_study_id_kind_key_revision UNIQUE (study_id, kind, "key", revision),
        CONSTRAINT fk_study_document_study_id FOREIGN KEY(study_id) REFERENCES study (id),
        CONSTRAINT ck_study_document_revision CHECK (revision >= 1)
    )
    """,
    """
    CREATE TABLE library_entry (
        id INTEGER NOT NULL,
        kind VARCHAR NOT NULL,
        "key" VARCHAR NOT NULL,
        revision INTEGER NOT NULL,
        body TEXT,
        at VARCHAR NOT NULL,
        CONSTRAINT pk_library_entry PRIMARY KEY (id),
        CONSTRAINT uq_library_entry_kind_key_revision UNIQUE (kind, "key", revision),
        CONSTRAINT ck_library_entry_revision CHECK (revision >= 1)
    )
    """,
    """
    CREATE TABLE tap (
        id INTEGER NOT NULL,
        study_id INTEGER NOT NULL,
        flight VARCHAR NOT NULL,
        device VARCHAR NOT NULL,
        sequence INTEGER NOT NULL,
        body TEXT NOT NULL,
        at VARCHAR NOT NULL,
        CONSTRAINT pk_tap PRIMARY KEY (id),
        CONSTRAINT uq_tap_study_id_flight_device_sequence UNIQUE (study_id, flight, device, sequence),
        CONSTRAINT fk_tap_study_id FOREIGN KEY(study_id) REFERENCES study (id),
        CONSTRAINT ck_tap_sequence CHECK (sequence >= 0)
    )
    """,
)


def upgrade() -> None:
    """Make the tables."""
    for statement in STATEMENTS:
        op.execute(statement)
