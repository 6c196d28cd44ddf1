"""The estimate page: the choices, and everything that follows from them."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from pydantic import ValidationError
from sqlmodel import Session

from api.deps import Now, ReadSession, RulesBookDep, Today, WriteSession
from api.errors import Problem, not_found
from api.render.wording import day_words, per_cent
from api.security import Actor
from api.services import quotes as quotes_service, surveys
from api.services.estimates import document_of, work_out
from api.services.rules import RulesBook
from models.estimate import Choices, Estimate
from models.survey import Survey
from models.takeoff.quantities import EXTRAS
from web.day_chart import day_strips
from web.forms.faults import fault_lines
from web.forms.fields import Options, form_of, number_text, part_from_form, well_typed
from web.forms.words import choice_words, label_of, label_of_field, unit_of
from web.pages import Form, OwnForm, Viewer, page, to
from web.routes.jobs import gaps, job_for, missing_lines
from web.sentences import assumed_words
from web.whys import KNOWN_WORDS, MOST_SHOWN, Reasons, mover_rows

router = APIRouter(include_in_schema=False)
Of = Annotated[str, Query(max_length=300)]
Bare = Annotated[str, Query(max_length=4)]


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


def choice_options(book: RulesBook, session: Session, survey: dict[str, Any]) -> dict[str, Options]:
    rules = book.of_files()
    catalogue = rules.catalogue
    return {
        "Choices.outdoor_unit_sku": [(unit.sku, unit.name) for unit in catalogue.outdoor_units],
        "Choices.cylinder_sku": [(cylinder.sku, cylinder.name) for cylinder in catalogue.cylinders],
        "Choices.extras": list(EXTRAS.items()),
        "Choices.altitude_rule": [
            (rule, choice_words("Choices", "altitude_rule", rule)) for rule in rules.reference.altitude_rules
        ],
        "Choices.position_id": [
            (str(one["id"]), str(one.get("name") or one["id"])) for one in survey["positions"] if one.get("id")
        ],
    }


def chosen_words(
    typed: dict[str, Any], options: Mapping[str, Options], *, otherwise: str = "all left to Footing's rules"
) -> str:
    """The choices in words; `otherwise` where there is none. `options` names what is chosen from a list."""
    said = []
    for name, value in typed.items():
        called = dict(options.get(f"Choices.{name}", ()))
        if isinstance(value, list):
            said += [called.get(one) or one for one in value]
        elif value:
            label = label_of("Choices", name)
            shown = called.get(str(value)) or (
                per_cent(value, 1) if name.endswith("_ratio") else choice_words("Choices", name, str(value))
            )
            said.append(f"{label[:1].lower()}{label[1:]} {shown} {'' if '%' in shown else unit_of(name)}".strip())
    return ", ".join(said) if said else otherwise


def as_fields(typed: dict[str, Any]) -> dict[str, str]:
    """The record of choices as the fields of a form."""
    fields: dict[str, str] = {}
    for name, value in typed.items():
        if isinstance(value, list):
            fields |= {f"{name}.shown": "1", **{f"{name}.{one}": "yes" for one in value}}
        elif isinstance(value, int | float | Decimal):
            fields[name] = number_text(value, per_cent=name.endswith("_ratio"))
        else:
            fields[name] = str(value)
    return fields


def _worked_out(
    book: RulesBook, session: Session, survey: dict[str, Any], choices: Choices, today: date
) -> tuple[Estimate | None, list[str]]:
    """The estimate of a stored survey, or what stands against one in words."""
    lines = missing_lines(survey)
    if lines:
        return None, lines
    try:
        return work_out(book, session, Survey.model_validate(survey), choices, today=today), []
    except Problem as problem:
        return None, [f"{fault.where}: {fault.message}" for fault in problem.errors] or [problem.detail]


@router.get("/jobs/{job_id}/estimate")
def show_estimate(
    request: Request, session: ReadSession, viewer: Viewer, job_id: str, book: RulesBookDep, today: Today
) -> Response:
    """The estimate of a job at the choices in the address."""
    job = job_for(session, job_id, viewer)
    choices, typed, choice_faults = choices_from(dict(request.query_params))
    survey = surveys.assemble(session, job).survey
    worked_out, lines = _worked_out(book, session, survey, choices, today)
    document = None if worked_out is None else document_of(worked_out, why=False, sees_cost=viewer.sees_cost)
    options = choice_options(book, session, survey)
    form = form_of(Choices, typed, choices=options)
    return page(
        "estimate.html", viewer, job=job, choices=form, choice_faults=choice_faults, chosen=as_fields(typed),
        chosen_words=chosen_words(typed, options), gaps=gaps(survey) if document is None else (),
        document=document, lines=lines, day_words=day_words,
        **addresses(job.id, typed), **answer_context(document),
    )  # fmt: skip


def addresses(job_id: str, typed: dict[str, Any]) -> dict[str, Any]:
    """The addresses of the pages that belong to an estimate at these choices."""
    chosen = urlencode(as_fields(typed))
    at = f"/jobs/{job_id}/estimate"
    return {
        "why_at": f"{at}/why?{chosen}&of=" if chosen else f"{at}/why?of=",
        "estimate_at": f"{at}?{chosen}" if chosen else at,
        "options_at": f"/jobs/{job_id}/options?{chosen}" if chosen else f"/jobs/{job_id}/options",
        "days_at": f"/jobs/{job_id}/days?{chosen}" if chosen else f"/jobs/{job_id}/days",
        "network_at": f"/jobs/{job_id}/network?{chosen}" if chosen else f"/jobs/{job_id}/network",
        "assumed_at": f"{at}/assumed?{chosen}" if chosen else f"{at}/assumed",
    }


@router.get("/jobs/{job_id}/estimate/why")
def show_why(
    request: Request, session: ReadSession, viewer: Viewer, job_id: str, book: RulesBookDep, today: Today,
    of: Of = "", bare: Bare = "",
) -> Response:  # fmt: skip
    """Why a figure of the estimate is what it is: formula, numbers, source, how the inputs are known."""
    job = job_for(session, job_id, viewer)
    choices, typed, _ = choices_from(dict(request.query_params))
    worked_out, lines = _worked_out(book, session, surveys.assemble(session, job).survey, choices, today)
    if worked_out is None:
        raise Problem(422, "invalid", "; ".join(lines))
    document = document_of(worked_out, why=True, sees_cost=viewer.sees_cost)
    there = addresses(job.id, typed)
    back = {"back": there["estimate_at"], "back_words": "Estimate", "title": f"{job.number} · {job.label}"}
    return why_page(viewer, document, of, bare, why_at=there["why_at"], **back)


def why_page(viewer: Actor, document: dict[str, Any], of: str, bare: str, **context: Any) -> Response:
    """The reasons at a path, or a list of all figures. Raises 404 for a path that has none."""
    reasons = Reasons(document)
    paths = reasons.at(of)
    if of and not paths:
        raise not_found("figure with a reason at this address")
    return page(
        "why_bare.html" if bare else "why.html", viewer, of=of, heading=reasons.title(of) if of else "",
        reasons=[reasons.reason(path) for path in paths[:MOST_SHOWN]],
        beside=[(path, reasons.title(path)) for path in (() if bare else reasons.beside(of))][:MOST_SHOWN],
        contents=() if of else reasons.contents(), known_words=KNOWN_WORDS, **context,
    )  # fmt: skip


@router.get("/jobs/{job_id}/estimate/assumed")
def show_assumed(
    request: Request, session: ReadSession, viewer: Viewer, job_id: str, book: RulesBookDep, today: Today,
    bare: Bare = "",
) -> Response:  # fmt: skip
    """Which of the values that nobody saw move the unit or the price most, and by how much."""
    job = job_for(session, job_id, viewer)
    choices, typed, _ = choices_from(dict(request.query_params))
    worked_out, lines = _worked_out(book, session, surveys.assemble(session, job).survey, choices, today)
    if worked_out is None:
        raise Problem(422, "invalid", "; ".join(lines))
    document = document_of(worked_out, why=False, sees_cost=viewer.sees_cost, sensitivity=True)
    found = document["sensitivity"]
    return page(
        "assumed_bare.html" if bare else "assumed.html", viewer, job=job, found=found,
        movers=mover_rows(found["movers"]), could_stop=mover_rows(found["could_stop"]), label_of=label_of_field,
        assumed=document["basis"]["assumed"], assumed_words=assumed_words, **addresses(job.id, typed),
    )  # fmt: skip


def answer_context(document: dict[str, Any] | None) -> dict[str, Any]:
    """What the charts of an answer need besides the document."""
    if document is None:
        return {"strips": [], "most_w": 1.0}
    rooms = document["design"]["rooms"]
    most_w = max([1.0, *(room["heat_loss_w"] for room in rooms), *(room["emitter_output_w"] for room in rooms)])
    plan = document["labour_plan"] or {"tasks": (), "dates": ()}
    return {"strips": day_strips(plan["tasks"], plan["dates"]), "most_w": most_w}


@router.post("/jobs/{job_id}/quotes")
def draft_quote(
    session: WriteSession, viewer: Viewer, job_id: str, form: OwnForm, book: RulesBookDep, today: Today, now: Now
) -> Response:
    """Draft a quote from the estimate at these choices."""
    job = job_for(session, job_id, viewer, lock=True)
    choices, _, faults = choices_from(form)
    if faults:
        raise Problem(422, "invalid", "; ".join(faults))
    survey, assembled = surveys.complete_survey(session, job, lock=True)
    worked_out = work_out(book, session, survey, choices, today=today, effort="thorough")
    version = assembled.version
    quote = quotes_service.draft(
        session, job, worked_out, assembled.survey, survey_version=version, actor=viewer, now=now
    )
    return to(f"/quotes/{quote.id}")
