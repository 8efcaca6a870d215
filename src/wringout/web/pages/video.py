"""What a video needs: asked for in the chapter of the brief, made in the background, taken away file by file."""

from __future__ import annotations

from starlette.responses import FileResponse, Response

from wringout.errors import BadInputError
from wringout.services.flights.recordings import study_recording
from wringout.services.opening import the_study
from wringout.services.publishing.video import FOLDER, VideoWish, check
from wringout.services.publishing.video_files import video_file
from wringout.web.ask import Ask
from wringout.web.map_forms import count_in
from wringout.web.pages import brief
from wringout.web.routing import get, post

MAKE_VIDEO = "wringout.web.work.studies:make_video_of"
TYPES = {
    ".mp4": "video/mp4",
    ".webm": "video/webm",
    ".zip": "application/zip",
    ".vtt": "text/vtt; charset=utf-8",
    ".png": "image/png",
    ".svg": "image/svg+xml",
}


def make(ask: Ask) -> Response:
    """Make the video in the background."""
    _known(ask)
    typed = {name: ask.text(name).strip() for name in brief.VIDEO_FIELDS}
    try:
        wish = _wish(typed)
        check(wish)
        if wish.recording and study_recording(ask.store, ask.slug, wish.recording).recording is None:
            raise BadInputError("the recording cannot be read", wish.recording[:80], "choose another one")
    except BadInputError as error:
        return brief.show(ask, typed, str(error))
    ask.jobs.start(
        ask.slug,
        "brief",
        "Making the video",
        f"/studies/{ask.slug}/brief",
        MAKE_VIDEO,
        slug=ask.slug,
        folder=str(ask.site.brief_folder(ask.slug) / FOLDER),
        recording=wish.recording,
        begins_s=wish.begins_s,
        seconds=wish.seconds,
        dark=wish.dark,
        fps=wish.fps,
        height=wish.height,
        pictures=wish.pictures,
        figures=wish.figures,
    )
    return ask.go(f"/studies/{ask.slug}/brief")


def _known(ask: Ask) -> None:
    """Refuse the address of a study that is not there before it becomes the name of a folder."""
    with ask.store.reading() as view:
        the_study(view, ask.slug)


def _wish(typed: dict[str, str]) -> VideoWish:
    seconds = _number(typed["seconds"], "length") if typed["seconds"] else None
    return VideoWish(
        typed["recording"],
        _number(typed["begins"] or "0", "begins"),
        seconds,
        count_in(typed["fps"] or "25", "fps", 25),
        count_in(typed["height"] or "1080", "height", 1080),
        typed["dark"] == "yes",
        typed["pictures"] == "yes",
        typed["bare"] != "yes",
    )


def _number(text: str, field: str) -> float:
    try:
        return float(text.replace(",", ".").replace("\N{MINUS SIGN}", "-"))
    except ValueError:
        raise BadInputError(f"'{text[:40]}' is no number of seconds", field, "write seconds, such as 12.5") from None


def hand_out(ask: Ask) -> Response:
    """Hand out one file of the video."""
    _known(ask)
    found = video_file(ask.site.brief_folder(ask.slug) / FOLDER, ask.path("name"))
    return FileResponse(found.path, media_type=TYPES[found.path.suffix], filename=found.path.name)


AT = "/studies/{slug}/brief/video"
ROUTES = [post(AT, make), get(f"{AT}/{{name}}", hand_out)]
