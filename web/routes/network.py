"""The sheet with the data that a network operator's form asks for, to print from a job or a quote."""

from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlmodel import Session

from api.deps import ReadSession, RulesBookDep, Today
from api.errors import Problem
from api.routes.quotes import quote_for
from api.security import Actor
from api.services import quotes as life, surveys
from api.services.estimates import document_of, work_out
from api.store import jobs
from models.days import start_assumed
from models.records import Job
from web.pages import Viewer, page
from web.routes.estimate import addresses, choices_from
from web.routes.jobs import job_for
from web.routes.quotes import quote_title

router = APIRouter(include_in_schema=False)
PLACES = ("Meter and cut-out", "Consumer unit", "Cable to the outdoor unit", "Earthing")
"""Where the findings are that the operator or the electrician asks about."""


@router.get("/jobs/{job_id}/network")
def print_job_sheet(
    request: Request, session: ReadSession, viewer: Viewer, job_id: str, book: RulesBookDep, today: Today
) -> Response:
    """The sheet of a job at the choices in the address."""
    job = job_for(session, job_id, viewer)
    choices, typed, _ = choices_from(dict(request.query_params))
    survey, _ = surveys.complete_survey(session, job)
    document = document_of(work_out(book, session, survey, choices, today=today), why=False, sees_cost=False)
    return _sheet(
        session, viewer, job, document, back=addresses(job.id, typed)["estimate_at"], back_words="Estimate",
        title=f"{job.number} · {job.label}",
    )  # fmt: skip


@router.get("/quotes/{quote_id}/network")
def print_quote_sheet(
    session: ReadSession, viewer: Viewer, quote_id: str, book: RulesBookDep, today: Today
) -> Response:
    """The sheet of a quote: of the sealed document once it is issued."""
    quote, job = quote_for(session, viewer, quote_id)
    document = life.shown_document(session, quote, job, book, sees_cost=False, today=today)
    return _sheet(
        session, viewer, job, document, back=f"/quotes/{quote.id}", back_words="Quote", title=quote_title(quote, job)
    )


def _sheet(session: Session, viewer: Actor, job: Job, document: Mapping[str, Any], **links: Any) -> Response:
    rows = document.get("network_sheet")
    if not rows:
        raise Problem(409, "conflict", "there is no unit to tell the network operator about: a stop stands against it")
    party = jobs.party_of(session, job)
    known = {"address": party.address} if party.address and not party.erased_at else {}
    supply, plan = document["design"]["electrical"], document["labour_plan"]
    dated = plan and plan["dates"] and not start_assumed(document)
    return page(
        "network_print.html", viewer, rows=rows, filled=known, loads=document.get("network_loads") or (),
        supply=supply, firm=document.get("firm"), name="" if party.erased_at else party.name,
        findings=[one for one in document["findings"] if one["where"] in PLACES],
        priced_on=document["basis"]["priced_on"], last_day=plan["dates"][-1] if dated else "", **links,
    )  # fmt: skip
