"""The airplane of a study: its file is checked, then kept; every version stays."""

from __future__ import annotations

from dataclasses import dataclass

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.document import AirplaneDocument, parse_airplane
from wringout.airplane.from_document import airplane_from_document
from wringout.airplane.plausible import refuse_impossible
from wringout.errors import BadInputError, NotFoundError
from wringout.services.opening import the_study
from wringout.store import AirplaneVersion, Store, View, latest_airplane, list_airplanes, put_airplane

LONGEST_AIRPLANE_BYTES = 1 << 20


@dataclass(frozen=True, slots=True)
class StudyAirplane:
    """A version of a study's airplane, read. ``is_new`` is False where the same text was there already."""

    version: AirplaneVersion
    versions: int
    document: AirplaneDocument
    beliefs: Beliefs
    is_new: bool = False


def decoded(data: bytes, name: str, wanted: str = "an airplane file as docs/airplane.md shows") -> str:
    """Return the bytes of an airplane file, or of what else is ``wanted``, as text.

    Raises:
        BadInputError: it is too large, empty or not UTF-8.
    """
    if len(data) > LONGEST_AIRPLANE_BYTES:
        raise BadInputError("the file is larger than 1 MB", name, "it should be a page of text")
    if not data.strip():
        raise BadInputError("the file is empty", name, f"write {wanted}")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BadInputError("the file is not UTF-8 text", name, "save it as UTF-8") from None


def put_airplane_file(store: Store, slug: str | None, data: bytes, name: str) -> StudyAirplane:
    """Check an airplane file and keep it as the study's newest version; the same text makes no new version.

    Args:
        store: where the study is kept.
        slug: the study; None for the only one.
        data: the whole file.
        name: its name, for sentences.

    Raises:
        BadInputError: the file cannot be used, naming field and cure; nothing is kept then.
        NotFoundError: there is no such study.
    """
    text = decoded(data, name)
    document = parse_airplane(text, name)
    beliefs = airplane_from_document(document, name)
    refuse_impossible(document, beliefs, name)
    with store.writing() as work:
        study = the_study(work, slug)
        before = len(list_airplanes(work, study.id))
        version = put_airplane(work, study.id, text)
        after = len(list_airplanes(work, study.id))
    return StudyAirplane(version, after, document, beliefs, after > before)


def study_airplane(view: View, study_id: int) -> StudyAirplane:
    """Return a study's newest airplane.

    Raises:
        NotFoundError: none was put yet.
    """
    version = latest_airplane(view, study_id)
    if version is None:
        raise NotFoundError("the study has no airplane yet", advice="put an airplane file into it first")
    return _read(version, version.version)


def show_airplane(store: Store, slug: str | None, number: int | None = None) -> StudyAirplane:
    """Return the newest version of a study's airplane, or the numbered one.

    Raises:
        NotFoundError: there is no such study, airplane or version.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        if number is None:
            return study_airplane(view, study.id)
        versions = list_airplanes(view, study.id)
    for version in versions:
        if version.version == number:
            return _read(version, len(versions))
    raise NotFoundError(f"the airplane has no version {number}", advice=f"it has {len(versions)}")


def _read(version: AirplaneVersion, versions: int) -> StudyAirplane:
    name = "airplane.toml"
    document = parse_airplane(version.toml, name)
    return StudyAirplane(version, versions, document, airplane_from_document(document, name))
