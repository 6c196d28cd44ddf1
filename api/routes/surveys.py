"""The survey of a job, as a whole and by parts."""

from enum import StrEnum
from typing import Annotated, Any

from fastapi import APIRouter, Path, Response
from pydantic_core import to_json

from api.answers import JSON_TYPE, answer
from api.body import RawJson, documented, loosely, parse
from api.deps import CurrentActor, IfMatch, IfNoneMatch, Now, ReadSession, RulesBookDep, Today, WriteSession, kept
from api.errors import Problem
from api.examples import position_example, room_example, section_examples, survey_example
from api.routes.estimates import Include
from api.routes.jobs import job_for
from api.schemas.estimates import ChoicesRequest
from api.schemas.findings import FindingPublic
from api.schemas.jobs import SavedPart, SurveyAnswer
from api.services import surveys
from api.services.days import effort_for, estimate_answer
from api.services.estimates import work_out
from api.services.surveys import POSITION, ROOM, SECTIONS, Assembled, PartKind, Saved
from api.versions import etag
from models.estimate import Choices
from models.survey import Position, Room, Survey

router = APIRouter(prefix="/jobs/{job_id}", tags=["surveys"])
Section = StrEnum("Section", {name: name for name in SECTIONS})  # type: ignore[misc]
PartId = Annotated[str, Path(min_length=1, max_length=64, description="Made by the client; permanent.")]
_SAVED: dict[int | str, dict[str, Any]] = {200: {"model": SavedPart}, 201: {"model": SavedPart}}
_SECTION_BODIES: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {
            JSON_TYPE: {
                "schema": {"anyOf": [{"$ref": f"#/components/schemas/Section_{name}"} for name in SECTIONS]},
                "examples": section_examples(),
            }
        },
    }
}
for _kind in SECTIONS.values():
    documented(f"Section_{_kind.name}", _kind.type)


def _survey_answer(found: Assembled) -> Response:
    body = SurveyAnswer(
        survey=found.survey,
        version=found.version,
        versions=found.versions,
        complete=found.complete,
        findings=[FindingPublic.of(finding) for finding in found.findings],
    )
    return answer(body, version=found.version)


def _saved_answer(saved: Saved) -> Response:
    body = SavedPart(
        kind=saved.kind,
        id=saved.part_id,
        version=saved.version,
        part=saved.body,
        findings=[FindingPublic.of(finding) for finding in saved.findings],
    )
    return answer(body, status=201 if saved.created else 200, version=saved.version)


@router.get("/survey", summary="Read the whole survey", responses={200: {"model": SurveyAnswer}})
def get_survey(job_id: str, actor: CurrentActor, session: ReadSession) -> Response:
    """The survey as far as it goes, with a finding for each thing that is missing or does not fit."""
    return _survey_answer(surveys.assemble(session, job_for(session, actor, job_id)))


@router.put(
    "/survey",
    summary="Replace the whole survey",
    responses={200: {"model": SurveyAnswer}},
    openapi_extra=documented("Survey", Survey, survey_example()),
)
@kept
def put_survey(
    job_id: str, actor: CurrentActor, raw: RawJson, session: WriteSession, now: Now, if_match: IfMatch = None
) -> Response:
    """Put a survey, whole or half-finished, in the place of what stands. Parts that it does not hold go."""
    try:
        body = loosely(raw)
    except (ValueError, RecursionError) as error:
        raise Problem(422, "not_json", "the body is not JSON text in UTF-8") from error
    job = job_for(session, actor, job_id, lock=True)
    surveys.replace_survey(session, job, body, if_match=if_match, now=now, by=actor.id)
    return _survey_answer(surveys.assemble(session, job))


def _get_part(job_id: str, kind: PartKind, part_id: str, actor: CurrentActor, session: ReadSession) -> Response:
    part = surveys.part_of(session, job_for(session, actor, job_id), kind, part_id)
    return Response(part.body.encode(), 200, {"ETag": etag(part.version)}, JSON_TYPE)


@router.get("/survey/rooms", summary="List the rooms", responses={200: {"model": list[Room]}})
def list_rooms(job_id: str, actor: CurrentActor, session: ReadSession) -> Response:
    """The rooms as they were saved, in their order; they may be incomplete."""
    found = surveys.assemble(session, job_for(session, actor, job_id))
    return Response(to_json(found.survey["rooms"]), 200, None, JSON_TYPE)


@router.get("/survey/positions", summary="List the positions", responses={200: {"model": list[Position]}})
def list_positions(job_id: str, actor: CurrentActor, session: ReadSession) -> Response:
    """The outdoor positions as they were saved, in their order; they may be incomplete."""
    found = surveys.assemble(session, job_for(session, actor, job_id))
    return Response(to_json(found.survey["positions"]), 200, None, JSON_TYPE)


@router.get("/survey/rooms/{room_id}", summary="Read a room", responses={200: {"model": Room}})
def get_room(job_id: str, room_id: PartId, actor: CurrentActor, session: ReadSession) -> Response:
    """A room as it was saved; it may be incomplete."""
    return _get_part(job_id, ROOM, room_id, actor, session)


@router.put(
    "/survey/rooms/{room_id}",
    summary="Save a room",
    responses=_SAVED,
    openapi_extra=documented("Room", Room, room_example()),
)
@kept
def put_room(
    job_id: str,
    room_id: PartId,
    actor: CurrentActor,
    raw: RawJson,
    session: WriteSession,
    now: Now,
    if_match: IfMatch = None,
    if_none_match: IfNoneMatch = None,
) -> Response:
    """Save a room, complete or not: what is missing or implausible comes back as findings. Safe to repeat."""
    return _put_part(job_id, ROOM, room_id, actor, raw, session, now, if_match, if_none_match)


@router.delete("/survey/rooms/{room_id}", summary="Take a room out", status_code=204)
@kept
def delete_room(
    job_id: str, room_id: PartId, actor: CurrentActor, session: WriteSession, now: Now, if_match: IfMatch = None
) -> Response:
    """Take a room out. Safe to repeat."""
    job = job_for(session, actor, job_id)
    surveys.delete_part(session, job, ROOM, part_id=room_id, if_match=if_match, now=now, by=actor.id)
    return Response(status_code=204)


@router.get("/survey/positions/{position_id}", summary="Read a position", responses={200: {"model": Position}})
def get_position(job_id: str, position_id: PartId, actor: CurrentActor, session: ReadSession) -> Response:
    """An outdoor position as it was saved; it may be incomplete."""
    return _get_part(job_id, POSITION, position_id, actor, session)


@router.put(
    "/survey/positions/{position_id}",
    summary="Save a position",
    responses=_SAVED,
    openapi_extra=documented("Position", Position, position_example()),
)
@kept
def put_position(
    job_id: str,
    position_id: PartId,
    actor: CurrentActor,
    raw: RawJson,
    session: WriteSession,
    now: Now,
    if_match: IfMatch = None,
    if_none_match: IfNoneMatch = None,
) -> Response:
    """Save an outdoor position, complete or not. Safe to repeat."""
    return _put_part(job_id, POSITION, position_id, actor, raw, session, now, if_match, if_none_match)


@router.delete("/survey/positions/{position_id}", summary="Take a position out", status_code=204)
@kept
def delete_position(
    job_id: str, position_id: PartId, actor: CurrentActor, session: WriteSession, now: Now, if_match: IfMatch = None
) -> Response:
    """Take an outdoor position out. Safe to repeat."""
    job = job_for(session, actor, job_id)
    surveys.delete_part(session, job, POSITION, part_id=position_id, if_match=if_match, now=now, by=actor.id)
    return Response(status_code=204)


@router.get("/survey/{section}", summary="Read a section")
def get_section(job_id: str, section: Section, actor: CurrentActor, session: ReadSession) -> Response:
    """A section as it was saved; it may be incomplete."""
    return _get_part(job_id, SECTIONS[section.value], "", actor, session)


@router.put("/survey/{section}", summary="Save a section", responses=_SAVED, openapi_extra=_SECTION_BODIES)
@kept
def put_section(
    job_id: str,
    section: Section,
    actor: CurrentActor,
    raw: RawJson,
    session: WriteSession,
    now: Now,
    if_match: IfMatch = None,
    if_none_match: IfNoneMatch = None,
) -> Response:
    """Save a section, complete or not. Safe to repeat."""
    return _put_part(job_id, SECTIONS[section.value], "", actor, raw, session, now, if_match, if_none_match)


@router.delete("/survey/{section}", summary="Take a section out", status_code=204)
@kept
def delete_section(
    job_id: str, section: Section, actor: CurrentActor, session: WriteSession, now: Now, if_match: IfMatch = None
) -> Response:
    """Take a section out: a cylinder place that is none, for example. Safe to repeat."""
    job = job_for(session, actor, job_id)
    surveys.delete_part(session, job, SECTIONS[section.value], part_id="", if_match=if_match, now=now, by=actor.id)
    return Response(status_code=204)


def _put_part(
    job_id: str,
    kind: PartKind,
    part_id: str,
    actor: CurrentActor,
    raw: bytes,
    session: WriteSession,
    now: Now,
    if_match: str | None,
    if_none_match: str | None,
) -> Response:
    checked = surveys.check_part(kind, raw, part_id)
    saved = surveys.save_part(
        session,
        job_for(session, actor, job_id),
        kind,
        checked,
        part_id=part_id,
        if_match=if_match,
        if_none_match=if_none_match,
        now=now,
        by=actor.id,
    )
    return _saved_answer(saved)


_ESTIMATE: dict[int | str, dict[str, Any]] = {
    200: {"content": {JSON_TYPE: {"schema": {"$ref": "#/components/schemas/Estimate"}}}}
}


@router.get(
    "/estimate", summary="Work out the stored survey", tags=["estimates"], response_class=Response, responses=_ESTIMATE
)
def get_estimate(
    job_id: str,
    actor: CurrentActor,
    session: ReadSession,
    book: RulesBookDep,
    today: Today,
    include: Include = None,
) -> Response:
    """The stored survey worked out with nothing chosen by hand. 422 while it is incomplete."""
    survey, _ = surveys.complete_survey(session, job_for(session, actor, job_id))
    worked_out = work_out(book, session, survey, Choices(), today=today, effort=effort_for(include or ()))
    body = estimate_answer(worked_out, include or (), book, session, sees_cost=actor.sees_cost)
    return Response(body, 200, None, JSON_TYPE)


@router.post(
    "/estimate",
    summary="Work out the stored survey at some choices",
    tags=["estimates"],
    response_class=Response,
    responses=_ESTIMATE,
    openapi_extra=documented(
        "ChoicesRequest", ChoicesRequest, {"at_45_c": {"value": {"choices": {"flow_temp_c": 45}}}}
    ),
)
def post_job_estimate(
    job_id: str,
    actor: CurrentActor,
    raw: RawJson,
    session: ReadSession,
    book: RulesBookDep,
    today: Today,
    include: Include = None,
) -> Response:
    """The stored survey worked out at the choices sent. Nothing is stored."""
    choices = parse(ChoicesRequest, raw, where="the choices").choices
    survey, _ = surveys.complete_survey(session, job_for(session, actor, job_id))
    worked_out = work_out(book, session, survey, choices, today=today, effort=effort_for(include or ()))
    body = estimate_answer(worked_out, include or (), book, session, sees_cost=actor.sees_cost)
    return Response(body, 200, None, JSON_TYPE)
