"""The options page of a job: whole designs side by side, and the curve over flow temperatures."""

from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import Response

from api.deps import ReadSession, RulesBookDep, Today
from api.errors import Problem
from api.services import surveys
from api.services.options import work_out_options
from models.document import options_document, without_cost
from models.estimate import Choices
from models.options import FlowCurve
from models.survey import Survey
from web.flow_chart import purchase_chart, years_chart
from web.forms.fields import Group, Input, form_of
from web.pages import Form, Viewer, page
from web.routes.estimate import addresses, choice_options, choices_from, chosen_words
from web.routes.jobs import gaps, job_for, missing_lines

router = APIRouter(include_in_schema=False)
MOST_SHOWN = 4
VARIED = ("flow_temp_c", "emitters", "outdoor_unit_sku", "cylinder_sku", "position_id", "frost_protection", "base_type")
SHARED = ("priced_on", "works_start_on", "works_end_on", "grant_applied_on", "heat_loss_method", "discount_ratio")


@dataclass(frozen=True, slots=True)
class Column:
    """One option: the choices as typed, what is wrong with them, its form, the address of its estimate."""

    number: int
    title: str
    choices: Choices
    inputs: tuple[Input, ...]
    faults: tuple[str, ...]
    estimate_at: str


def _column_form(form: Form, number: int, shared: Form) -> Form | None:
    """The fields of one option without their number; None where the option is not asked for."""
    start = f"{number}."
    own = {name.removeprefix(start): value for name, value in form.items() if name.startswith(start)}
    if not own or own.get("use", "yes") != "yes":
        return None
    own.pop("use", None)
    return {**shared, **own}


def _columns(form: Form, job_id: str, options: dict[str, Any], best_flow_temp_c: float | None) -> list[Column]:
    """The options in the address; without any, what the rules choose, the best flow temperature, the emitters kept."""
    shared = {name: value for name, value in form.items() if name in SHARED or name.startswith("extras.")}
    asked = [
        (number, own) for number in range(1, MOST_SHOWN + 1) if (own := _column_form(form, number, shared)) is not None
    ]
    if not asked:
        first = {name: value for name, value in form.items() if name in VARIED}
        asked = [(1, {**shared, **first}), (2, {**shared, **first, "emitters": "keep"})]
        if best_flow_temp_c is not None and first.get("flow_temp_c", "") != f"{best_flow_temp_c:g}":
            asked.insert(1, (3, {**shared, **first, "flow_temp_c": f"{best_flow_temp_c:g}"}))
            asked = [(number, own) for number, (_, own) in enumerate(asked, 1)]
    columns = []
    for number, own in asked:
        choices, typed, faults = choices_from(own)
        varied = {name: value for name, value in typed.items() if name in VARIED}
        columns.append(
            Column(
                number, chosen_words(varied, options, otherwise="as Footing's rules choose"), choices,
                tuple(_inputs(form_of(Choices, typed, name=str(number), choices=options))), tuple(faults),
                addresses(job_id, typed)["estimate_at"],
            )
        )  # fmt: skip
    return columns


def _inputs(group: Group) -> list[Input]:
    return [one for one in (*group.inputs, *group.more) if one.name.partition(".")[2] in VARIED]


@router.get("/jobs/{job_id}/options")
def show_options(
    request: Request, session: ReadSession, viewer: Viewer, job_id: str, book: RulesBookDep, today: Today
) -> Response:
    """Up to four designs of one house side by side, and what each flow temperature costs, saves and takes in days."""
    job = job_for(session, job_id, viewer)
    form = dict(request.query_params)
    survey = surveys.assemble(session, job).survey
    options = choice_options(book, session, survey)
    lines = missing_lines(survey)
    curve: FlowCurve | None = None
    if not lines:
        try:
            first = _columns(form, job.id, options, None)[0].choices
            whole = Survey.model_validate(survey)
            _, curve = work_out_options(book, session, whole, [first], today=today, curve=True)
        except Problem as problem:
            lines = [f"{fault.where}: {fault.message}" for fault in problem.errors] or [problem.detail]
    columns = _columns(form, job.id, options, curve.best_flow_temp_c if curve else None)
    lines = lines or [f"Option {one.number}: {fault}" for one in columns for fault in one.faults]
    document: dict[str, Any] | None = None
    if not lines:
        try:
            chosen = [one.choices for one in columns]
            answer, _ = work_out_options(book, session, whole, chosen, today=today, curve=False)
            document = options_document(answer, curve)
            document = document if viewer.sees_cost else without_cost(document)
        except Problem as problem:
            lines = [f"{fault.where}: {fault.message}" for fault in problem.errors] or [problem.detail]
    shared = {name: value for name, value in form.items() if name in SHARED and value}
    curve_document = document["curve"] if document else None
    free = [number for number in range(1, MOST_SHOWN + 1) if number not in [one.number for one in columns]]
    blank = [(number, _inputs(form_of(Choices, {}, name=str(number), choices=options))) for number in free[:1]]
    return page(
        "options.html", viewer, job=job, columns=columns, document=document, curve=curve_document, lines=lines,
        gaps=gaps(survey) if lines else (),
        shared=shared, blank=blank, best_at=_best_address(job.id, shared, curve_document),
        purchase=purchase_chart(curve_document) if curve_document else None,
        years=years_chart(curve_document) if curve_document else None,
        positions={str(one.get("id")): str(one.get("name") or one.get("id")) for one in survey["positions"]},
    )  # fmt: skip


def _best_address(job_id: str, shared: Form, curve: dict[str, Any] | None) -> str:
    if curve is None or curve["best_flow_temp_c"] is None:
        return ""
    return f"/jobs/{job_id}/estimate?{urlencode({**shared, 'flow_temp_c': format(curve['best_flow_temp_c'], 'g')})}"
