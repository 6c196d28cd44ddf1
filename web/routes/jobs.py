"""The list of jobs, a new job, a job with its rooms, sections, positions and quotes."""

from typing import Annotated, Any

from fastapi import APIRouter, Query
from fastapi.responses import Response
from pydantic import ValidationError
from sqlmodel import Session

from api.deps import Now, ReadSession, WriteSession
from api.errors import not_found
from api.ids import cursor_of, is_id, new_id, number_of_cursor
from api.schemas.jobs import JobCreate, PartyBody
from api.security import Actor
from api.services import surveys
from api.store import jobs, office, quotes
from models.records import Job
from models.survey import Room, room_faults
from web.forms.faults import fault_lines
from web.forms.fields import field_kinds, number_text
from web.forms.sections import POSITION, ROOM, SECTIONS, Section
from web.forms.words import choice_words
from web.pages import Form, OwnForm, Viewer, page, to
from web.wording import QUOTE_WORDS, plural

router = APIRouter(include_in_schema=False)
PAGE_LENGTH = 50


def job_for(session: Session, job_id: str, viewer: Actor, *, lock: bool = False) -> Job:
    """The job, if the viewer may see it. Raises 404."""
    job = jobs.job_by_id(session, job_id, only_owner=viewer.only_owner, lock=lock)
    if job is None:
        raise not_found("job")
    return job


@router.get("/")
def start() -> Response:
    """The jobs are where everything starts."""
    return to("/jobs")


@router.get("/jobs")
def list_jobs(session: ReadSession, viewer: Viewer, cursor: Annotated[str, Query()] = "") -> Response:
    """The newest jobs first, a page at a time."""
    number = number_of_cursor(cursor) if cursor else None
    found = jobs.jobs_before(session, number=number, only_owner=viewer.only_owner, limit=PAGE_LENGTH + 1)
    more = cursor_of(found[PAGE_LENGTH - 1].number) if len(found) > PAGE_LENGTH else None
    return page("jobs.html", viewer, jobs=found[:PAGE_LENGTH], next_page=more)


def _form_page(viewer: Actor, typed: dict[str, str], *, job: Job | None, job_id: str, fault: str = "") -> Response:
    return page(
        "job_new.html",
        viewer,
        status=422 if fault else 200,
        job_id=job_id,
        typed=typed,
        fault=fault,
        action="/jobs/new" if job is None else f"/jobs/{job.id}/customer",
        title="New job" if job is None else f"{job.number} · {job.label}",
        button="Start the job" if job is None else "Save",
    )


def _typed_job(form: Form) -> dict[str, str]:
    return {name: form.get(name, "").replace("\r\n", "\n") for name in ("label", "customer", "address", "contact")}


def _wanted_job(typed: dict[str, str]) -> JobCreate | str:
    """The job as typed, or what is wrong with it in words."""
    try:
        party = PartyBody(name=typed["customer"], address=typed["address"], contact=typed["contact"])
        return JobCreate(label=typed["label"], party=party)
    except ValidationError:
        return "A text is too long or cannot be printed." if typed["label"].strip() else "Give the job a name."


@router.get("/jobs/new")
def ask_new(viewer: Viewer) -> Response:
    """The form of a new job."""
    return _form_page(viewer, _typed_job({}), job=None, job_id=new_id())


@router.post("/jobs/new")
def make_new(session: WriteSession, viewer: Viewer, form: OwnForm, now: Now) -> Response:
    """Start a job. The same form sent twice makes one job."""
    typed = _typed_job(form)
    job_id = form.get("job_id", "") if is_id(form.get("job_id", "")) else new_id()
    wanted = _wanted_job(typed)
    if isinstance(wanted, str):
        return _form_page(viewer, typed, job=None, job_id=job_id, fault=wanted)
    if jobs.job_by_id(session, job_id, only_owner=None) is None:
        party = jobs.new_party(name=wanted.party.name, address=wanted.party.address, contact=wanted.party.contact)
        jobs.add_job(session, job_id=job_id, label=wanted.label, party=party, owner=viewer.id, now=now)
        office.write_audit(session, actor=viewer.id, action="job_created", subject=job_id, now=now)
    return to(f"/jobs/{job_id}")


@router.get("/jobs/{job_id}/customer")
def ask_customer(session: ReadSession, viewer: Viewer, job_id: str) -> Response:
    """The form of a job's name and customer."""
    job = job_for(session, job_id, viewer)
    party = jobs.party_of(session, job)
    typed = {"label": job.label, "customer": party.name, "address": party.address, "contact": party.contact}
    return _form_page(viewer, typed, job=job, job_id=job.id)


@router.post("/jobs/{job_id}/customer")
def save_customer(session: WriteSession, viewer: Viewer, job_id: str, form: OwnForm, now: Now) -> Response:
    """Change what a job is called and whose house it is."""
    job = job_for(session, job_id, viewer, lock=True)
    typed = _typed_job(form)
    wanted = _wanted_job(typed)
    if isinstance(wanted, str):
        return _form_page(viewer, typed, job=job, job_id=job.id, fault=wanted)
    party = jobs.party_of(session, job)
    jobs.refuse_change_of_erased(party)
    job.label, job.version = wanted.label, job.version + 1
    party.name, party.address, party.contact = wanted.party.name, wanted.party.address, wanted.party.contact
    session.add(job)
    session.add(party)
    fields = {"fields": ["label", "party"]}
    office.write_audit(session, actor=viewer.id, action="job_changed", subject=job.id, now=now, detail=fields)
    return to(f"/jobs/{job.id}")


@router.get("/jobs/{job_id}")
def show_job(session: ReadSession, viewer: Viewer, job_id: str) -> Response:
    """A job: what was surveyed, what is missing, the quotes."""
    job = job_for(session, job_id, viewer)
    survey = surveys.assemble(session, job).survey
    lines = missing_lines(survey)
    rooms = [
        {"id": room["id"], "name": room.get("name") or "Room without a name", "size": room_size(room),
         "lacks": lacks_words(len(room_lines(room, survey)))}
        for room in survey["rooms"]
    ]  # fmt: skip
    positions = [
        {"id": one["id"], "name": one.get("name") or "Position without a name",
         "lacks": lacks_words(len(fault_lines(POSITION.model, one)))}
        for one in survey["positions"]
    ]  # fmt: skip
    return page(
        "job.html", viewer, job=job, party=jobs.party_of(session, job), rooms=rooms, positions=positions,
        sections=[_section_row(section, survey) for section in SECTIONS],
        uses=[(use, choice_words("Room", "use", use)) for use in _uses()],
        quotes=quotes.quotes_of_job(session, job.id), quote_words=QUOTE_WORDS, whole_faults=lines,
        lacking_words=lacks_words(len(lines)),
    )  # fmt: skip


def _uses() -> tuple[str, ...]:
    return next(kind.values for kind in field_kinds(Room) if kind.name == "use")


def lacks_words(count: int) -> str:
    """How much is missing, in words; nothing where nothing is."""
    return f"{plural(count, 'thing')} to fill in or check" if count else ""


def room_size(room: dict[str, Any]) -> str:
    """The size of a room as far as it is known."""
    sizes = [number_text(room.get(key)) or "?" for key in ("length_m", "width_m", "height_m")]
    return "" if sizes == ["?"] * 3 else f"{' × '.join(sizes)} m"


def room_lines(room: dict[str, Any], survey: dict[str, Any]) -> list[str]:
    """What is missing in a room, or does not fit to the rest of the survey."""
    lines = fault_lines(ROOM.model, room)
    if lines:
        return lines
    checked = Room.model_validate(room)
    constructions = {str(one.get("id")) for one in survey["constructions"]}
    rooms = {str(one["id"]) for one in survey["rooms"]}
    return [
        text.removeprefix(f"room '{checked.name}': ")
        for text in room_faults(checked, constructions=constructions, rooms=rooms)
    ]


def section_lines(section: Section, survey: dict[str, Any]) -> list[str]:
    """What is missing in a section; one line where nothing was noted at all."""
    body = survey.get(section.name)
    if body is None or body == []:
        return ["nothing noted yet"] if section.needed else []
    return fault_lines(section.model, section.record(body))


def missing_lines(survey: dict[str, Any]) -> list[str]:
    """Everything that keeps a survey from being worked out, each line with its place."""
    lines = [] if survey["rooms"] else ["No rooms yet"]
    for section in SECTIONS:
        lines += [f"{section.title}: {line}" for line in section_lines(section, survey)]
    for room in survey["rooms"]:
        lines += [f"{room.get('name') or 'Room without a name'}: {line}" for line in room_lines(room, survey)]
    for one in survey["positions"]:
        name = one.get("name") or "Position without a name"
        lines += [f"{name}: {line}" for line in fault_lines(POSITION.model, one)]
    return lines or [fault.message for fault in surveys.survey_faults(survey)]


def _section_row(section: Section, survey: dict[str, Any]) -> dict[str, Any]:
    body = survey.get(section.name)
    lines = section_lines(section, survey)
    tell = "" if body is not None else ("" if section.needed else "not noted")
    if isinstance(body, list):
        tell = str(len(body)) if body else "" if section.needed else "none"
    lacks = lines[0] if lines == ["nothing noted yet"] else lacks_words(len(lines))
    return {"name": section.name, "title": section.title, "tell": tell, "lacks": lacks}
