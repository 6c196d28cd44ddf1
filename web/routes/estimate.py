"""The estimate page: the choices, and everything that follows from them."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from pydantic import ValidationError
from sqlmodel import Session

from api.deps import Now, ReadSession, RulesBookDep, Today, WriteSession
from api.errors import Problem
from api.services import quotes as quotes_service, surveys
from api.services.estimates import document_of, work_out
from api.services.rules import RulesBook
from models.estimate import Choices
from models.survey import Survey
from models.takeoff.quantities import EXTRAS
from web.day_chart import day_strips
from web.forms.faults import fault_lines
from web.forms.fields import Options, form_of, part_from_form, well_typed
from web.forms.words import label_of, unit_of
from web.pages import Form, OwnForm, Viewer, page, to
from web.routes.jobs import job_for, missing_lines
from web.wording import words_of

router = APIRouter(include_in_schema=False)


def choices_from(form: Form) -> tuple[Choices, dict[str, Any], list[str]]:
    """The choices in a form, the record of what was typed, and what is wrong with it; wrong ones are left out."""
    typed = part_from_form(Choices, form, before={})
    typed = {name: value for name, value in typed.items() if value != []}
    kept = well_typed(Choices, typed)
    try:
        return Choices.model_validate(kept), typed, fault_lines(Choices, typed)
    except ValidationError as error:
        wrong = {str(one["loc"][0]) for one in error.errors() if one["loc"]}
        kept = {name: value for name, value in kept.items() if name not in wrong}
        return Choices.model_validate(kept), typed, fault_lines(Choices, typed)


def _options(book: RulesBook, session: Session, survey: dict[str, Any]) -> dict[str, Options]:
    catalogue = book.of_files().catalogue
    return {
        "Choices.outdoor_unit_sku": [(unit.sku, unit.name) for unit in catalogue.outdoor_units],
        "Choices.cylinder_sku": [(cylinder.sku, cylinder.name) for cylinder in catalogue.cylinders],
        "Choices.extras": list(EXTRAS.items()),
        "Choices.position_id": [
            (str(one["id"]), str(one.get("name") or one["id"])) for one in survey["positions"] if one.get("id")
        ],
    }


def _chosen_words(typed: dict[str, Any]) -> str:
    said = [
        f"{label_of('Choices', name)[:1].lower()}{label_of('Choices', name)[1:]} {value} {unit_of(name)}".strip()
        for name, value in typed.items()
        if not isinstance(value, list) and value
    ]
    return ", ".join(said) if said else "all left to Footing's rules"


def _as_fields(typed: dict[str, Any]) -> dict[str, str]:
    """The record of choices as the fields of a form."""
    fields: dict[str, str] = {}
    for name, value in typed.items():
        if isinstance(value, list):
            fields |= {f"{name}.shown": "1", **{f"{name}.{one}": "yes" for one in value}}
        else:
            fields[name] = str(value)
    return fields


@router.get("/jobs/{job_id}/estimate")
def show_estimate(
    request: Request, session: ReadSession, viewer: Viewer, job_id: str, book: RulesBookDep, today: Today
) -> Response:
    """The estimate of a job at the choices in the address."""
    job = job_for(session, job_id, viewer)
    choices, typed, choice_faults = choices_from(dict(request.query_params))
    survey = surveys.assemble(session, job).survey
    lines = missing_lines(survey)
    document = None
    if not lines:
        try:
            worked_out = work_out(book, session, Survey.model_validate(survey), choices, today=today)
            document = document_of(worked_out, why=True, sees_cost=viewer.sees_cost)
        except Problem as problem:
            lines = [f"{fault.where}: {fault.message}" for fault in problem.errors] or [problem.detail]
    form = form_of(Choices, typed, choices=_options(book, session, survey))
    return page(
        "estimate.html", viewer, job=job, choices=form.inputs, choice_faults=choice_faults, chosen=_as_fields(typed),
        chosen_words=_chosen_words(typed), document=document, lines=lines, **answer_context(document),
    )  # fmt: skip


def answer_context(document: dict[str, Any] | None) -> dict[str, Any]:
    """What the charts of an answer need besides the document."""
    if document is None:
        return {"strips": [], "most_w": 1.0, "why_lines": []}
    rooms = document["design"]["rooms"]
    most_w = max([1.0, *(room["heat_loss_w"] for room in rooms), *(room["emitter_output_w"] for room in rooms)])
    plan = document["labour_plan"] or {"tasks": (), "dates": ()}
    return {"strips": day_strips(plan["tasks"], plan["dates"]), "most_w": most_w, "why_lines": _why_lines(document)}


def _why_lines(document: dict[str, Any]) -> list[tuple[str, dict[str, str]]]:
    """The reasons of all figures, rooms by their names."""
    names = {room["room_id"]: room["name"] for room in document["design"]["rooms"]}
    lines = []
    for key, why in document.get("why", {}).items():
        of_room, _, field = key.removeprefix("rooms.").rpartition(".")
        is_room = key.startswith("rooms.") and of_room in names
        label = f"{names[of_room]}, {_plain_field(field)}" if is_room else _plain_field(key)
        lines.append((label, why))
    return lines


def _plain_field(field: str) -> str:
    return words_of(field.removesuffix("_w").removesuffix("_c").replace("_temp", "_temperature"))


@router.post("/jobs/{job_id}/quotes")
def draft_quote(
    session: WriteSession, viewer: Viewer, job_id: str, form: OwnForm, book: RulesBookDep, today: Today, now: Now
) -> Response:
    """Draft a quote from the estimate at these choices."""
    job = job_for(session, job_id, viewer, lock=True)
    choices, _, faults = choices_from(form)
    if faults:
        raise Problem(422, "invalid", "; ".join(faults))
    survey, assembled = surveys.complete_survey(session, job)
    worked_out = work_out(book, session, survey, choices, today=today)
    version = assembled.version
    quote = quotes_service.draft(
        session, job, worked_out, assembled.survey, survey_version=version, actor=viewer, now=now
    )
    return to(f"/quotes/{quote.id}")
