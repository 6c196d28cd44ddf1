"""The list of jobs, a new job, a job with its rooms, sections, positions and quotes."""

from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Query
from fastapi.responses import Response
from pydantic import ValidationError
from sqlmodel import Session

from api.deps import Now, ReadSession, WriteSession
from api.errors import not_found
from api.ids import cursor_of, is_id, new_id, number_of_cursor
from api.render.wording import QUOTE_WORDS, plural
from api.schemas.jobs import JobCreate, PartyBody
from api.security import Actor
from api.services import surveys
from api.store import jobs, office, quotes
from api.wording import Fault
from models.records import Job
from models.survey import Room, room_faults
from web.forms.box import uncut
from web.forms.faults import fault_lines
from web.forms.fields import field_kinds, number_text
from web.forms.sections import POSITION, ROOM, SECTIONS, Section
from web.forms.words import choice_words
from web.pages import Form, OwnForm, Viewer, page, to

router = APIRouter(include_in_schema=False)
PAGE_LENGTH = 50
MOST_NAMED = 8
FIRST_SECTIONS = 2
NO_ROOM_NAME, NO_POSITION_NAME = "Room without a name", "Position without a name"


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
def list_jobs(
    session: ReadSession, viewer: Viewer, cursor: Annotated[str, Query()] = "",
    search: Annotated[str, Query(max_length=200)] = "",
) -> Response:  # fmt: skip
    """The newest jobs first, a page at a time; with some words only those that hold them."""
    number = number_of_cursor(cursor) if cursor else None
    words = search.replace("\0", "").strip()
    found = jobs.jobs_before(
        session, number=number, only_owner=viewer.only_owner, limit=PAGE_LENGTH + 1, search=words
    )  # fmt: skip
    more = cursor_of(found[PAGE_LENGTH - 1].number) if len(found) > PAGE_LENGTH else None
    return page("jobs.html", viewer, jobs=found[:PAGE_LENGTH], next_page=more, search=words)


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
    found = gaps(survey)
    rooms = [
        {"id": room["id"], "name": room.get("name") or NO_ROOM_NAME, "size": room_size(room),
         "lacks": lacks_words(len(room_lines(room, survey)) + len(room_doubts(room)))}
        for room in survey["rooms"]
    ]  # fmt: skip
    sections = [_section_row(section, survey) for section in SECTIONS]
    positions = [
        {"id": one["id"], "name": one.get("name") or NO_POSITION_NAME,
         "lacks": lacks_words(len(fault_lines(POSITION.model, one)))}
        for one in survey["positions"]
    ]  # fmt: skip
    return page(
        "job.html", viewer, job=job, party=jobs.party_of(session, job), rooms=rooms, positions=positions,
        first_sections=sections[:FIRST_SECTIONS], sections=sections[FIRST_SECTIONS:],
        begun=bool(survey["constructions"]),
        uses=[(use, choice_words("Room", "use", use)) for use in _uses()],
        quotes=quotes.quotes_of_job(session, job.id), quote_words=QUOTE_WORDS, gaps=found,
        lacking_words=lacks_words(sum(len(gap.lines) for gap in found)),
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
    same = str(room.get("name")).casefold()
    if sum(str(one.get("name")).casefold() == same for one in survey["rooms"]) > 1:
        lines.append(f"another room is called {room['name']} too; give each a name of its own")
    gone = {str(one.beside_room) for one in checked.elements if one.beside_room} - rooms
    for text in room_faults(checked, constructions=constructions, rooms=rooms):
        said = text.removeprefix(f"room '{checked.name}': ")
        for room_id in gone:
            said = said.replace(f"room '{room_id}', which does not exist", "a room that is no longer in the survey")
        lines.append(said.replace(" m2", " m²"))
    return lines


def room_doubts(room: dict[str, Any]) -> list[str]:
    """What does not keep a room from being worked out, but is likely to be a slip."""
    return [
        f"{mark}: choose in “Cut from” which wall or roof it is in; until then that counts whole as well"
        for mark in uncut(room)
    ]


def section_lines(section: Section, survey: dict[str, Any]) -> list[str]:
    """What is missing in a section; one line where nothing was noted at all."""
    body = survey.get(section.name)
    if body is None or body == []:
        return ["nothing noted yet"] if section.needed else []
    return fault_lines(section.model, section.record(body))


@dataclass(frozen=True, slots=True)
class Gap:
    """A part of a survey that lacks something: its name, the end of its address, what it lacks."""

    title: str
    at: str
    lines: list[str]

    def words(self) -> str:
        """What it lacks in one line; what is merely missing is named together."""
        missing = [line.removesuffix(": missing") for line in self.lines if line.endswith(": missing")]
        others = [line for line in self.lines if not line.endswith(": missing")]
        shown = "; ".join(missing[:MOST_NAMED]) + (
            f" and {len(missing) - MOST_NAMED} more" if len(missing) > MOST_NAMED else ""
        )
        return "; ".join([*([f"missing: {shown}"] if missing else []), *others])


def gaps(survey: dict[str, Any]) -> list[Gap]:
    """Everything that keeps a survey from being worked out, by its parts in the order of the job's page."""
    found = []
    for section in SECTIONS:
        found.append(Gap(section.title, f"/sections/{section.name}", section_lines(section, survey)))
    rooms = [
        Gap(room.get("name") or NO_ROOM_NAME, f"/rooms/{room['id']}", room_lines(room, survey))
        for room in survey["rooms"]
    ]  # fmt: skip
    positions = [
        Gap(one.get("name") or NO_POSITION_NAME, f"/positions/{one['id']}", fault_lines(POSITION.model, one))
        for one in survey["positions"]
    ]  # fmt: skip
    found[FIRST_SECTIONS:FIRST_SECTIONS] = rooms or [Gap("Rooms", "#rooms", ["No rooms yet"])]
    found = [gap for gap in (*found, *positions) if gap.lines]
    return found or [Gap(*_place_of(fault, survey), [fault.message]) for fault in surveys.survey_faults(survey)]


def _place_of(fault: Fault, survey: dict[str, Any]) -> tuple[str, str]:
    """Where a fault of the whole survey stands: its room and the end of that room's address."""
    for room in survey["rooms"]:
        if fault.where == f"room '{room.get('name')}'":
            return str(room["name"]), f"/rooms/{room['id']}"
    return fault.where[:1].upper() + fault.where[1:], ""


def missing_lines(survey: dict[str, Any]) -> list[str]:
    """Everything that keeps a survey from being worked out, each line with its place."""
    return [f"{gap.title}: {line}" for gap in gaps(survey) for line in gap.lines]


def _section_row(section: Section, survey: dict[str, Any]) -> dict[str, Any]:
    body = survey.get(section.name)
    lines = section_lines(section, survey)
    tell = "noted" if body is not None and not lines else "" if section.needed else "may stay empty"
    if isinstance(body, list):
        tell = f"{len(body)} noted" if body else "" if section.needed else "none"
    lacks = "needed: nothing noted yet" if lines == ["nothing noted yet"] else lacks_words(len(lines))
    return {"name": section.name, "title": section.title, "tell": tell, "lacks": lacks}
