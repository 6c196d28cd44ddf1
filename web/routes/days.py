"""The days of a job or a quote: the chart, what if, and papers to print for whoever comes."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlmodel import Session

from api.deps import ReadSession, RulesBookDep, Today
from api.errors import Problem
from api.render.wording import weekday_words
from api.routes.quotes import quote_for
from api.security import Actor
from api.services import quotes as life, surveys
from api.services.days import papers_of, what_if_of, worked_out_again
from api.services.estimates import document_of, work_out
from models.days import start_assumed
from models.records import Job, Quote
from web.day_chart import day_strips
from web.pages import Viewer, page
from web.routes.estimate import Bare, addresses, choices_from
from web.routes.jobs import job_for
from web.routes.quotes import quote_title
from web.sentences import proof_words, what_if_rows

router = APIRouter(include_in_schema=False)


def _of_job(
    request: Request, session: Session, viewer: Actor, job_id: str, book: RulesBookDep, today: Today
) -> tuple[Job, Any, dict[str, str]]:
    """The job, its estimate at the choices in the address, planned as a quote is, and the addresses beside it."""
    job = job_for(session, job_id, viewer)
    choices, typed, _ = choices_from(dict(request.query_params))
    survey, _ = surveys.complete_survey(session, job)
    worked_out = work_out(book, session, survey, choices, today=today, effort="thorough")
    there = addresses(job.id, typed)
    query = there["estimate_at"].partition("?")[2]
    at = f"/jobs/{job.id}/days"
    return job, worked_out, {
        "at": at, "query": f"?{query}" if query else "", "back": there["estimate_at"], "back_words": "Estimate",
        "title": f"{job.number} · {job.label}",
    }  # fmt: skip


def _of_quote(session: Session, viewer: Actor, quote_id: str) -> tuple[Quote, Job, dict[str, Any]]:
    quote, job = quote_for(session, viewer, quote_id)
    at, title = f"/quotes/{quote.id}", quote_title(quote, job)
    return quote, job, {"at": f"{at}/days", "query": "", "back": at, "back_words": "Quote", "title": title}


def _days_page(
    name: str, session: Session, viewer: Actor, document: dict[str, Any], book: RulesBookDep, links: dict[str, Any]
) -> Response:
    plan = document["labour_plan"]
    papers = papers_of(document, book, session)
    if papers is None:
        raise Problem(409, "conflict", "there is no plan: a stop stands against it")
    dates = () if start_assumed(document) else plan["dates"]
    return page(
        name, viewer, plan=plan, papers=papers, strips=day_strips(plan["tasks"], dates),
        proof=proof_words(plan), dated=weekday_words, firm=document.get("firm"), **links,
    )  # fmt: skip


@router.get("/jobs/{job_id}/days")
def show_job_days(
    request: Request, session: ReadSession, viewer: Viewer, job_id: str, book: RulesBookDep, today: Today
) -> Response:
    """The days of a job at the choices in the address."""
    _, worked_out, links = _of_job(request, session, viewer, job_id, book, today)
    document = document_of(worked_out, why=False, sees_cost=viewer.sees_cost)
    return _days_page("days.html", session, viewer, document, book, links)


@router.get("/jobs/{job_id}/days/print")
def print_job_days(
    request: Request, session: ReadSession, viewer: Viewer, job_id: str, book: RulesBookDep, today: Today
) -> Response:
    """The papers of a job to print: a sheet a day and trade, pick lists, delivery checks."""
    _, worked_out, links = _of_job(request, session, viewer, job_id, book, today)
    document = document_of(worked_out, why=False, sees_cost=viewer.sees_cost)
    return _days_page("days_print.html", session, viewer, document, book, links)


@router.get("/jobs/{job_id}/days/what-if")
def show_job_what_if(
    request: Request, session: ReadSession, viewer: Viewer, job_id: str, book: RulesBookDep, today: Today,
    bare: Bare = "",
) -> Response:  # fmt: skip
    """What rain, a damaged part, a late electrician or another concrete would do to the days of a job."""
    _, worked_out, links = _of_job(request, session, viewer, job_id, book, today)
    return _what_if_page(viewer, what_if_of(worked_out, book, session), bare, links)


@router.get("/quotes/{quote_id}/days")
def show_quote_days(
    session: ReadSession, viewer: Viewer, quote_id: str, book: RulesBookDep, today: Today
) -> Response:
    """The days of a quote, from the quote's own plan."""
    quote, job, links = _of_quote(session, viewer, quote_id)
    document = life.shown_document(session, quote, job, book, sees_cost=viewer.sees_cost, today=today)
    return _days_page("days.html", session, viewer, document, book, links)


@router.get("/quotes/{quote_id}/days/print")
def print_quote_days(
    session: ReadSession, viewer: Viewer, quote_id: str, book: RulesBookDep, today: Today
) -> Response:
    """The papers of a quote to print."""
    quote, job, links = _of_quote(session, viewer, quote_id)
    document = life.shown_document(session, quote, job, book, sees_cost=viewer.sees_cost, today=today)
    return _days_page("days_print.html", session, viewer, document, book, links)


@router.get("/quotes/{quote_id}/days/what-if")
def show_quote_what_if(
    session: ReadSession, viewer: Viewer, quote_id: str, book: RulesBookDep, bare: Bare = ""
) -> Response:
    """What would happen to the days of a quote, worked out anew; the quote itself does not move."""
    quote, _, links = _of_quote(session, viewer, quote_id)
    return _what_if_page(viewer, what_if_of(worked_out_again(session, quote, book), book, session), bare, links)


def _what_if_page(viewer: Actor, answers: list[dict[str, Any]], bare: str, links: dict[str, Any]) -> Response:
    return page("days_what_if_bare.html" if bare else "days_what_if.html", viewer, rows=what_if_rows(answers), **links)
