"""A quote: its draft, its issue with the findings that somebody accepts, the page to print."""

import json

from fastapi import APIRouter
from fastapi.responses import Response
from pydantic import ValidationError
from sqlmodel import Session

from api.deps import Now, ReadSession, SettingsDep, Today, WriteSession
from api.errors import Problem, not_found
from api.schemas.quotes import Acceptance
from api.security import Actor
from api.services import quotes as quotes_service
from api.store import jobs, quotes
from models.records import Job, Quote
from web.pages import Form, OwnForm, Viewer, page, to
from web.routes.estimate import answer_context
from web.wording import QUOTE_WORDS, day_words, sentence

router = APIRouter(include_in_schema=False)


def _quote(session: Session, viewer: Actor, quote_id: str, *, lock: bool = False) -> tuple[Quote, Job]:
    found = quotes.quote_by_id(session, quote_id, only_owner=viewer.only_owner, lock=lock)
    if found is None:
        raise not_found("quote")
    return found


@router.get("/quotes/{quote_id}")
def show_quote(session: ReadSession, viewer: Viewer, quote_id: str) -> Response:
    """A quote as it stands."""
    quote, job = _quote(session, viewer, quote_id)
    return _page(viewer, quote, job, {})


def _page(viewer: Actor, quote: Quote, job: Job, form: Form, fault: str = "", status: int = 200) -> Response:
    document = quotes_service.shown_document(quote, sees_cost=viewer.sees_cost)
    asks = [
        {**finding, "typed": form.get(f"ask.{number}.reason", "")}
        for number, finding in enumerate(one for one in document["findings"] if one["strength"] == "ask")
    ]
    return page(
        "quote.html", viewer, status=status, quote=quote, job=job, document=document, asks=asks, fault=fault,
        by=form.get("by", viewer.name), state_words=_state_words(quote), **answer_context(document),
    )  # fmt: skip


def _state_words(quote: Quote) -> str:
    words = sentence(QUOTE_WORDS.get(quote.state, quote.state))
    return f"{words} · {_issued_words(quote)}" if quote.issued_at is not None else words


def _issued_words(quote: Quote) -> str:
    if quote.issued_at is None or quote.valid_until is None:
        return "Not issued: a draft is no offer."
    return f"Issued {day_words(quote.issued_at.date())}, open until {day_words(quote.valid_until)}"


@router.post("/quotes/{quote_id}/issue")
def issue_quote(
    session: WriteSession, viewer: Viewer, quote_id: str, form: OwnForm, settings: SettingsDep, now: Now, today: Today
) -> Response:
    """Issue a draft. Each finding that asks is accepted by the named person with the reason typed beside it."""
    quote, job = _quote(session, viewer, quote_id, lock=True)
    try:
        accepted = _accepted(form)
        quotes_service.issue(session, quote, job, accepted, actor=viewer, settings=settings, now=now, today=today)
    except ValidationError:
        fault = "Say for each of them why it is accepted, and by whom."
        return _page(viewer, quote, job, form, fault, 422)
    except Problem as problem:
        return _page(viewer, quote, job, form, problem.detail[:1].upper() + problem.detail[1:] + ".", problem.status)
    return to(f"/quotes/{quote.id}")


def _accepted(form: Form) -> tuple[Acceptance, ...]:
    accepted = []
    number = 0
    while f"ask.{number}.code" in form:
        accepted.append(
            Acceptance(
                code=form[f"ask.{number}.code"], where=form.get(f"ask.{number}.where", ""), by=form.get("by", ""),
                reason=form.get(f"ask.{number}.reason", "").replace("\r\n", "\n"),
            )
        )  # fmt: skip
        number += 1
    return tuple(accepted)


@router.get("/quotes/{quote_id}/print")
def print_quote(session: ReadSession, viewer: Viewer, quote_id: str) -> Response:
    """The quote as a page to print: the sealed document once it is issued, without cost in any case."""
    quote, job = _quote(session, viewer, quote_id)
    document = (
        json.loads(quote.document) if quote.document is not None
        else quotes_service.shown_document(quote, sees_cost=False)
    )  # fmt: skip
    return page(
        "quote_print.html", viewer, quote=quote, job=job, document=document, party=jobs.party_of(session, job),
        issued_words=_issued_words(quote), **answer_context(document),
    )  # fmt: skip
