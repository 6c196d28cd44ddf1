"""The pages of the survey: a room, a position, a section. What is half-typed is kept and said to be so."""

from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Query
from fastapi.responses import Response
from sqlmodel import Session

from api.deps import Now, ReadSession, WriteSession
from api.errors import Problem, not_found
from api.ids import new_id
from api.security import Actor
from api.services import surveys
from api.versions import etag
from models.records import Job
from web.forms.box import BOX, filled_in, with_box
from web.forms.faults import fault_lines, faults_of
from web.forms.fields import form_of, part_from_form, well_typed, with_row_added, with_row_removed
from web.forms.sections import POSITION, ROOM, Section, section_called, survey_choices, with_tables
from web.pages import Form, OwnForm, Viewer, page, to
from web.routes.jobs import job_for, lacks_words, room_doubts, room_lines

router = APIRouter(include_in_schema=False)
CLASH = (
    "Somebody else changed this since you opened it. What you typed stands below; saving again puts it in place of "
    "theirs. Open the page anew to see theirs."
)


@router.post("/jobs/{job_id}/rooms")
def add_room(session: WriteSession, viewer: Viewer, job_id: str, form: OwnForm, now: Now) -> Response:
    """A new room with its name and use; the rest is filled in on its page."""
    body = {"name": form.get("name", "").strip()[:120] or "New room", "use": form.get("use", "other")}
    return _add(session, viewer, job_id, surveys.ROOM, body, "rooms", now)


@router.post("/jobs/{job_id}/positions")
def add_position(session: WriteSession, viewer: Viewer, job_id: str, form: OwnForm, now: Now) -> Response:
    """A new outdoor position with its name."""
    body = {"name": form.get("name", "").strip()[:120] or "New position"}
    return _add(session, viewer, job_id, surveys.POSITION, body, "positions", now)


def _add(
    session: Session, viewer: Actor, job_id: str, kind: surveys.PartKind, body: dict[str, Any], path: str, now: Any
) -> Response:
    job = job_for(session, job_id, viewer)
    part_id = new_id()
    checked = surveys.check_body(kind, body, part_id)
    surveys.save_part(session, job, kind, checked, part_id=part_id, now=now, by=viewer.id)
    return to(f"/jobs/{job.id}/{path}/{part_id}?opened=new")


@router.get("/jobs/{job_id}/rooms/{part_id}")
def show_room(
    session: ReadSession, viewer: Viewer, job_id: str, part_id: str, opened: Annotated[str, Query()] = "",
    saved: Annotated[str, Query()] = "",
) -> Response:  # fmt: skip
    """The form of a room."""
    return _show(session, viewer, job_id, ROOM, surveys.ROOM, part_id, opened, saved)


@router.post("/jobs/{job_id}/rooms/{part_id}")
def save_room(session: WriteSession, viewer: Viewer, job_id: str, part_id: str, form: OwnForm, now: Now) -> Response:
    """Keep what was typed about a room."""
    return _save(session, viewer, job_id, ROOM, surveys.ROOM, part_id, form, now)


@router.post("/jobs/{job_id}/rooms/{part_id}/remove")
def remove_room(session: WriteSession, viewer: Viewer, job_id: str, part_id: str, form: OwnForm, now: Now) -> Response:
    """Take a room out of the survey."""
    return _remove(session, viewer, job_id, surveys.ROOM, part_id, form, now)


@router.get("/jobs/{job_id}/positions/{part_id}")
def show_position(
    session: ReadSession, viewer: Viewer, job_id: str, part_id: str, opened: Annotated[str, Query()] = "",
    saved: Annotated[str, Query()] = "",
) -> Response:  # fmt: skip
    """The form of an outdoor position."""
    return _show(session, viewer, job_id, POSITION, surveys.POSITION, part_id, opened, saved)


@router.post("/jobs/{job_id}/positions/{part_id}")
def save_position(
    session: WriteSession, viewer: Viewer, job_id: str, part_id: str, form: OwnForm, now: Now
) -> Response:
    """Keep what was typed about a position."""
    return _save(session, viewer, job_id, POSITION, surveys.POSITION, part_id, form, now)


@router.post("/jobs/{job_id}/positions/{part_id}/remove")
def remove_position(
    session: WriteSession, viewer: Viewer, job_id: str, part_id: str, form: OwnForm, now: Now
) -> Response:
    """Take a position out of the survey."""
    return _remove(session, viewer, job_id, surveys.POSITION, part_id, form, now)


@router.get("/jobs/{job_id}/sections/{name}")
def show_section(
    session: ReadSession, viewer: Viewer, job_id: str, name: str, opened: Annotated[str, Query()] = "",
    saved: Annotated[str, Query()] = "",
) -> Response:  # fmt: skip
    """The form of a section."""
    section = _section(name)
    return _show(session, viewer, job_id, section, surveys.SECTIONS[name], "", opened, saved)


@router.post("/jobs/{job_id}/sections/{name}")
def save_section(session: WriteSession, viewer: Viewer, job_id: str, name: str, form: OwnForm, now: Now) -> Response:
    """Keep what was typed into a section."""
    section = _section(name)
    return _save(session, viewer, job_id, section, surveys.SECTIONS[name], "", form, now)


@router.post("/jobs/{job_id}/sections/{name}/remove")
def remove_section(session: WriteSession, viewer: Viewer, job_id: str, name: str, form: OwnForm, now: Now) -> Response:
    """Empty a section that a survey can do without."""
    _section(name)
    return _remove(session, viewer, job_id, surveys.SECTIONS[name], "", form, now)


def _section(name: str) -> Section:
    section = section_called(name)
    if section is None:
        raise not_found("section of a survey")
    return section


def _address(job: Job, section: Section, part_id: str) -> str:
    if part_id:
        return f"/jobs/{job.id}/{section.name}s/{quote(part_id, safe='')}"
    return f"/jobs/{job.id}/sections/{section.name}"


def _standing(
    survey: surveys.Assembled, kind: surveys.PartKind, section: Section, part_id: str
) -> tuple[dict[str, Any], int | None]:
    """The part as it stands and its version; empty where a section was not begun. Raises 404 for no such room."""
    if kind.many:
        found = next((one for one in survey.survey[kind.key] if one.get("id") == part_id), None)
        if found is None:
            raise not_found(kind.called)
        return found, survey.versions[kind.key][part_id]
    return section.record(survey.survey.get(kind.key)), survey.versions.get(kind.key)


def _show(
    session: Session, viewer: Actor, job_id: str, section: Section, kind: surveys.PartKind, part_id: str, opened: str,
    saved: str,
) -> Response:  # fmt: skip
    job = job_for(session, job_id, viewer)
    assembled = surveys.assemble(session, job)
    part, version = _standing(assembled, kind, section, part_id)
    return _page(viewer, job, section, part_id, part, assembled.survey, version, opened, "Saved." if saved else None)


def _page(
    viewer: Actor, job: Job, section: Section, part_id: str, part: dict[str, Any], survey: dict[str, Any],
    version: int | None, opened: str, said: str | None, clash: str = "", status: int = 200,
) -> Response:  # fmt: skip
    started = version is not None or bool(part)
    faults = faults_of(section.model, part) if started else {}
    lines = fault_lines(section.model, part) if started else []
    if section is ROOM:
        lines = [*room_lines(part, survey), *room_doubts(part)]
    shown = {
        name: words[:1].upper() + words[1:] for name, words in faults.items() if words != "missing" or opened == ""
    }
    title = str(part.get("name") or f"{section.title} without a name") if part_id else section.title
    return page(
        "part.html", viewer, status=status, job=job, title=title, action=_address(job, section, part_id),
        form=form_of(section.model, part, choices=survey_choices(survey, part), faults=shown), lines=lines,
        lacking_words=lacks_words(len(lines)), caution=section.caution, clash=clash, version=version, opened=opened,
        said=said, box=BOX if section is ROOM else (),
        removable=bool(part_id) or (version is not None and not section.needed),
    )  # fmt: skip


def _save(
    session: Session, viewer: Actor, job_id: str, section: Section, kind: surveys.PartKind, part_id: str, form: Form,
    now: Any,
) -> Response:  # fmt: skip
    job = job_for(session, job_id, viewer)
    assembled = surveys.assemble(session, job)
    before, standing = _standing(assembled, kind, section, part_id)
    typed = part_from_form(section.model, form, before=before)
    do, opened = form.get("do", "save"), ""
    if do == "box":
        typed, opened = with_box(typed, form), "elements"
    if section is ROOM:
        typed = filled_in(typed, assembled.survey)
    if do.startswith("add:"):
        typed, opened = with_row_added(section.model, typed, do.removeprefix("add:"))
    elif do.startswith("remove:"):
        typed = with_row_removed(section.model, typed, do.removeprefix("remove:"))
        opened = do.removeprefix("remove:").rpartition(".")[0].rpartition(".")[0]
    if section.wrapped == "constructions":
        typed = with_tables(typed)
    kept = well_typed(section.model, typed)
    opened_version = form.get("version", "")
    try:
        checked = surveys.check_body(kind, section.body(kept), part_id)
        saved = surveys.save_part(
            session, job, kind, checked, part_id=part_id,
            if_match=etag(int(opened_version)) if opened_version.isdecimal() else None,
            if_none_match=None if opened_version.isdecimal() else "*", now=now, by=viewer.id,
        )  # fmt: skip
    except Problem as problem:
        if problem.status not in (412, 422):
            raise
        said = CLASH if problem.status == 412 else f"Not saved: {problem.detail}"
        return _page(
            viewer, job, section, part_id, typed, assembled.survey, standing, opened, None, said, problem.status
        )
    address = _address(job, section, part_id)
    if kept != typed:
        said = "Saved, but for the figures that are marked: they are no numbers yet."
        return _page(viewer, job, section, part_id, typed, assembled.survey, saved.version, opened, None, said)
    if do == "back":
        return to(f"/jobs/{job.id}")
    if opened:
        return to(f"{address}?opened={quote(opened)}#{quote(opened)}")
    return to(f"{address}?saved=1")


def _remove(
    session: Session, viewer: Actor, job_id: str, kind: surveys.PartKind, part_id: str, form: Form, now: Any
) -> Response:
    job = job_for(session, job_id, viewer)
    version = form.get("version", "")
    if_match = etag(int(version)) if version.isdecimal() else None
    surveys.delete_part(session, job, kind, part_id=part_id, if_match=if_match, now=now, by=viewer.id)
    return to(f"/jobs/{job.id}")
