"""The study on disk: a SQLite database, immutable recordings beside it, the history of edits, and open bundles.

Open a store with :func:`open_store` at a :func:`place_at`; edit inside ``with store.writing() as work:``, read inside
``with store.reading() as view:``.
"""

from wringout.store.bundle_export import BundleContents, bundle_contents, export_bundle, write_bundle
from wringout.store.bundle_format import BundleLimits, FileEntry
from wringout.store.bundle_import import ImportedBundle, import_bundle
from wringout.store.documents import Clock, Document, JsonValue, hash_of_document, slug_of, utc_text
from wringout.store.flights import (
    TakenIn,
    add_run,
    edit_recording,
    edit_run,
    get_recording,
    get_run,
    list_recordings,
    list_runs,
    name_kind,
    read_recording_bytes,
    take_in,
)
from wringout.store.place import Place, default_database, place_at
from wringout.store.records import (
    AirplaneVersion,
    Brief,
    HistoryEntry,
    Recording,
    Result,
    ResultKind,
    Run,
    RunState,
    Study,
    StudyRecording,
)
from wringout.store.results import latest_result, list_briefs, list_results, put_brief, put_result
from wringout.store.studies import (
    add_study,
    edit_study,
    get_study,
    latest_airplane,
    list_airplanes,
    list_history,
    list_studies,
    put_airplane,
)
from wringout.store.study_store import Store, View, Work, open_store

__all__ = [
    "AirplaneVersion",
    "Brief",
    "BundleContents",
    "BundleLimits",
    "Clock",
    "Document",
    "FileEntry",
    "HistoryEntry",
    "ImportedBundle",
    "JsonValue",
    "Place",
    "Recording",
    "Result",
    "ResultKind",
    "Run",
    "RunState",
    "Store",
    "Study",
    "StudyRecording",
    "TakenIn",
    "View",
    "Work",
    "add_run",
    "add_study",
    "bundle_contents",
    "default_database",
    "edit_recording",
    "edit_run",
    "edit_study",
    "export_bundle",
    "get_recording",
    "get_run",
    "get_study",
    "hash_of_document",
    "import_bundle",
    "latest_airplane",
    "latest_result",
    "list_airplanes",
    "list_briefs",
    "list_history",
    "list_recordings",
    "list_results",
    "list_runs",
    "list_studies",
    "name_kind",
    "open_store",
    "place_at",
    "put_airplane",
    "put_brief",
    "put_result",
    "read_recording_bytes",
    "slug_of",
    "take_in",
    "utc_text",
    "write_bundle",
]
