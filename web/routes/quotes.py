"""A quote: its draft, its issue with the findings that somebody accepts, what the customer said, variations."""

import json
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter
from fastapi.responses import Response
from pydantic import ValidationError
from sqlmodel import Session

from api.deps import Now, ReadSession, RulesBookDep, SettingsDep, Today, WriteSession
from api.errors import Problem
from api.render.files import KINDS
from api.render.wording import EVENT_WORDS, QUOTE_WORDS, day_words, sentence, words_of
from api.routes.quotes import file_answer, quote_for
from api.schemas.quotes import Acceptance, ApprovalRequest, DecisionRequest, EventRequest, VariationRequest
from api.security import Actor
from api.services import quotes as life
from api.services.repricing import basis_of, choice_words
from api.services.rules import RulesBook
from api.store import jobs, quotes
from models.document import without_cost
from models.estimate import Choices
from models.pricing.variation import REASONS
from models.records import Job, Quote, QuoteState, VariationState
from web.pages import Form, OwnForm, Viewer, page, to
from web.routes.estimate import Bare, Of, answer_context, as_fields, why_page

router = APIRouter(include_in_schema=False)
_ANSWERS = {"accept": QuoteState.ACCEPTED, "decline": QuoteState.DECLINED, "withdraw": QuoteState.WITHDRAWN}
_DECISIONS = {"approve": VariationState.APPROVED, "refuse": VariationState.REFUSED}


def quote_title(quote: Quote, job: Job) -> str:
    """What a quote is called at the head of a page beside it."""
    return f"Quote {quote.number} · {job.label}" if quote.number else f"Draft quote · {job.label}"


# These addresses begin like that of the quote itself, so they are asked first.
@router.get("/quotes/{quote_id}.pdf")
def quote_pdf(session: ReadSession, viewer: Viewer, quote_id: str) -> Response:
    """The sealed PDF."""
    quote, _ = quote_for(session, viewer, quote_id)
    return file_answer(session, quote, "pdf")


@router.get("/quotes/{quote_id}.ubl.xml")
def quote_ubl(session: ReadSession, viewer: Viewer, quote_id: str) -> Response:
    """The sealed UBL."""
    quote, _ = quote_for(session, viewer, quote_id)
    return file_answer(session, quote, "ubl")


@router.get("/quotes/{quote_id}.csv")
def quote_csv(session: ReadSession, viewer: Viewer, quote_id: str) -> Response:
    """The sealed bill for the books."""
    quote, _ = quote_for(session, viewer, quote_id)
    return file_answer(session, quote, "csv")


@router.get("/quotes/{quote_id}")
def show_quote(
    session: ReadSession, viewer: Viewer, quote_id: str, book: RulesBookDep, today: Today
) -> Response:
    """A quote as it stands."""
    quote, job = quote_for(session, viewer, quote_id)
    return _page(session, viewer, quote, job, book, today, {})


def _page(
    session: Session, viewer: Actor, quote: Quote, job: Job, book: RulesBook, today: date, form: Form,
    fault: str = "", status: int = 200,
) -> Response:  # fmt: skip
    document = life.shown_document(session, quote, job, book, sees_cost=viewer.sees_cost, today=today)
    kept = quotes.files_of(session, quote.id)
    varied = quotes.variations(session, quote.id)
    former = quotes.issued_before(session, quote)
    said_before = {} if former is None else {
        (one.code, one.where): one.reason for one in quotes.acceptances(session, former.id)
    }
    asks = [
        {
            **finding,
            "typed": form.get(f"ask.{number}.reason", said_before.get((finding["code"], finding["where"]), "")),
            "before": (finding["code"], finding["where"]) in said_before,
        }
        for number, finding in enumerate(one for one in document["findings"] if one["strength"] == "ask")
    ]  # fmt: skip
    return page(
        "quote.html", viewer, status=status, quote=quote, job=job, document=document, asks=asks, fault=fault,
        by=form.get("by", viewer.name), same_reason=form.get("same_reason", ""),
        state_words=_state_words(quote), party=jobs.party_of(session, job),
        former=former, changes=() if former is None else life.difference(session, former, quote, book),
        variations=[(one, without_cost(json.loads(one.document))) for one in varied],
        order_value_pence=life.order_value_pence(quote, varied),
        needs_approval=bool((document["price"] or {}).get("needs_approval")),
        approvals=quotes.approvals(session, quote.id), reasons=REASONS, typed=_typed_variation(form),
        choices_now=choice_words(basis_of(session, quote.id)) if quote.state == QuoteState.DRAFTED else (),
        files=[file for kind, file in KINDS.items() if kind in kept],
        accepted=quotes.acceptances(session, quote.id), events=_events(session, quote),
        revise_at=_revise_at(quote, job), missing=bool(fault) and status == 422,
        stamp=_stamp, day_words=day_words, why_at=f"/quotes/{quote.id}/why?of=", **_price_choice(session, quote),
        **answer_context(document),
    )  # fmt: skip


def _events(session: Session, quote: Quote) -> list[tuple[str, str, str]]:
    """What happened to a quote: (when, what by whom, why), in order."""
    return [
        (
            _stamp(one.at),
            f"{sentence(EVENT_WORDS.get(one.event, words_of(one.event)))}{f' by {one.by}' if _is_name(one.by) else ''}",
            one.reason,
        )
        for one in quotes.events_of(session, quote.id)
    ]  # fmt: skip


def _is_name(by: str) -> bool:
    """Events keep a person's name, or the id of the user or key that acted."""
    return bool(by) and ":" not in by


def _revise_at(quote: Quote, job: Job) -> str:
    """The estimate of the survey as it is now at the choices of a quote: where a revision is drafted."""
    choices = Choices.model_validate_json(quote.choices).model_dump(exclude_defaults=True, exclude={"priced_on"})
    choices = {name: list(value) if isinstance(value, tuple) else value for name, value in choices.items()}
    query = urlencode(as_fields(choices))
    return f"/jobs/{job.id}/estimate?{query}" if query else f"/jobs/{job.id}/estimate"


def _price_choice(session: Session, quote: Quote) -> dict[str, Any]:
    """The parts and trades that a variation may name: those of the quote's own list, without any price."""
    kept = quotes.prices_of(session, quote.id) if quote.state == QuoteState.ACCEPTED else None
    if kept is None:
        return {"parts_list": (), "trades": ()}
    prices = json.loads(kept.body)
    return {"parts_list": [(sku, row[0]) for sku, row in prices["goods"].items()], "trades": list(prices["hours"])}


def _typed_variation(form: Form) -> dict[str, str]:
    return {name: value for name, value in form.items() if name == "note" or name.split(".")[0] in _OF_VARIATION}


_OF_VARIATION = ("variation", "part", "hours")


def _stamp(moment: datetime) -> str:
    return f"{day_words(moment.date())}, {moment:%H:%M} UTC"


def _state_words(quote: Quote) -> str:
    words = sentence(QUOTE_WORDS.get(quote.state, quote.state))
    return f"{words} · {_issued_words(quote)}" if quote.issued_at is not None else words


def _issued_words(quote: Quote) -> str:
    if quote.issued_at is None or quote.valid_until is None:
        return "Not issued: a draft is no offer."
    return f"Issued {day_words(quote.issued_at.date())}, open until {day_words(quote.valid_until)}"


def _said(problem: Problem) -> str:
    return problem.detail[:1].upper() + problem.detail[1:] + "."


@router.get("/quotes/{quote_id}/why")
def show_why(
    session: ReadSession, viewer: Viewer, quote_id: str, book: RulesBookDep, today: Today, of: Of = "", bare: Bare = ""
) -> Response:
    """Why a figure of a quote is what it is."""
    quote, job = quote_for(session, viewer, quote_id)
    document = life.shown_document(session, quote, job, book, sees_cost=viewer.sees_cost, today=today, why=True)
    at = f"/quotes/{quote.id}"
    return why_page(
        viewer, document, of, bare, why_at=f"{at}/why?of=", back=at, back_words="Quote", title=quote_title(quote, job)
    )


@router.post("/quotes/{quote_id}/issue")
def issue_quote(
    session: WriteSession, viewer: Viewer, quote_id: str, form: OwnForm, settings: SettingsDep, book: RulesBookDep,
    now: Now, today: Today,
) -> Response:  # fmt: skip
    """Issue a draft. Each finding that asks is accepted by the named person with the reason typed beside it."""
    quote, job = quote_for(session, viewer, quote_id, lock=True)
    try:
        accepted = _accepted(form)
        life.issue(session, quote, job, accepted, book=book, actor=viewer, settings=settings, now=now, today=today)
    except ValidationError:
        fault = "Say for each of them why it is accepted, and by whom."
        return _page(session, viewer, quote, job, book, today, form, fault, 422)
    except Problem as problem:
        return _page(session, viewer, quote, job, book, today, form, _said(problem), problem.status)
    return to(f"/quotes/{quote.id}")


def _accepted(form: Form) -> tuple[Acceptance, ...]:
    accepted = []
    number = 0
    while f"ask.{number}.code" in form:
        accepted.append(
            Acceptance(
                code=form[f"ask.{number}.code"], where=form.get(f"ask.{number}.where", ""), by=form.get("by", ""),
                reason=form.get(f"ask.{number}.reason", "").strip() or form.get("same_reason", "").strip(),
            )
        )  # fmt: skip
        number += 1
    return tuple(accepted)


@router.post("/quotes/{quote_id}/approval")
def approve_margin(
    session: WriteSession, viewer: Viewer, quote_id: str, form: OwnForm, book: RulesBookDep, now: Now, today: Today
) -> Response:
    """Let a draft go out below the margin floor."""
    quote, job = quote_for(session, viewer, quote_id, lock=True)
    try:
        reason = ApprovalRequest(reason=form.get("reason", "")).reason
        life.approve(session, quote, reason, book=book, actor=viewer, now=now)
    except ValidationError:
        return _page(session, viewer, quote, job, book, today, form, "Say why it may go out below the floor.", 422)
    except Problem as problem:
        return _page(session, viewer, quote, job, book, today, form, _said(problem), problem.status)
    return to(f"/quotes/{quote.id}")


@router.post("/quotes/{quote_id}/answer")
def answer_quote(
    session: WriteSession, viewer: Viewer, quote_id: str, form: OwnForm, book: RulesBookDep, now: Now, today: Today
) -> Response:
    """What the customer said to an issued quote, or that the firm withdraws it."""
    quote, job = quote_for(session, viewer, quote_id, lock=True)
    event = _ANSWERS.get(form.get("do", ""))
    if event is None:
        return _page(session, viewer, quote, job, book, today, form, "Say what the customer answered.", 422)
    try:
        body = EventRequest(by=form.get("by", "").strip() or None, reason=form.get("reason", "").strip() or None)
        life.happen(session, quote, event, by=body.by, reason=body.reason, actor=viewer, now=now, today=today)
    except ValidationError:
        return _page(session, viewer, quote, job, book, today, form, "A text is too long or cannot be printed.", 422)
    except Problem as problem:
        return _page(session, viewer, quote, job, book, today, form, _said(problem), problem.status)
    return to(f"/quotes/{quote.id}")


@router.post("/quotes/{quote_id}/variations")
def add_variation(
    session: WriteSession, viewer: Viewer, quote_id: str, form: OwnForm, book: RulesBookDep, now: Now, today: Today
) -> Response:
    """Price what was found on site; empty rows of the form are left out."""
    quote, job = quote_for(session, viewer, quote_id, lock=True)
    try:
        body = _variation(form)
        money = book.of_files().money
        life.propose_variation(session, quote, body, money=money, actor=viewer, now=now, today=today)
    except (ValidationError, InvalidOperation):
        fault = "Say what was found, and give each part and each trade a number; one at least."
        return _page(session, viewer, quote, job, book, today, form, fault, 422)
    except Problem as problem:
        return _page(session, viewer, quote, job, book, today, form, _said(problem), problem.status)
    return to(f"/quotes/{quote.id}#variations")


def _variation(form: Form) -> VariationRequest:
    """The variation as typed. Raises ValidationError, and InvalidOperation for what is no number."""
    parts = []
    number = 0
    while f"part.{number}.sku" in form:
        sku = form[f"part.{number}.sku"].strip().upper()
        if sku:
            parts.append({"sku": sku, "quantity": Decimal(form.get(f"part.{number}.quantity", "").strip())})
        number += 1
    hours = [
        {"trade": name.removeprefix("hours."), "hours_h": Decimal(value.strip())}
        for name, value in form.items()
        if name.startswith("hours.") and value.strip()
    ]
    return VariationRequest.model_validate(
        {"reason": form.get("variation.reason", ""), "note": form.get("note", ""), "parts": tuple(parts),
         "hours": tuple(hours)}
    )  # fmt: skip


@router.post("/quotes/{quote_id}/variations/{variation_id}")
def decide_variation(
    session: WriteSession, viewer: Viewer, quote_id: str, variation_id: str, form: OwnForm, book: RulesBookDep,
    now: Now, today: Today,
) -> Response:  # fmt: skip
    """Approve or refuse a variation, by name."""
    quote, job = quote_for(session, viewer, quote_id, lock=True)
    state = _DECISIONS.get(form.get("do", ""))
    try:
        body = DecisionRequest(by=form.get("by", ""), reason=form.get("reason", "").strip() or None)
        if state is not None:
            life.decide_variation(session, quote, variation_id, state, body, actor=viewer, now=now)
    except ValidationError:
        return _page(session, viewer, quote, job, book, today, form, "Say who decides it.", 422)
    except Problem as problem:
        return _page(session, viewer, quote, job, book, today, form, _said(problem), problem.status)
    return to(f"/quotes/{quote.id}#variations")


@router.get("/quotes/{quote_id}/print")
def print_quote(
    session: ReadSession, viewer: Viewer, quote_id: str, book: RulesBookDep, today: Today
) -> Response:
    """The quote as a page to print: the sealed document once it is issued, without cost in any case."""
    quote, job = quote_for(session, viewer, quote_id)
    document = _on_paper(session, quote, job, book, today)
    return page(
        "quote_print.html", viewer, quote=quote, job=job, document=document, party=jobs.party_of(session, job),
        accepted={(one.code, one.where): one for one in quotes.acceptances(session, quote.id)},
        issued_words=_issued_words(quote), stamp=_stamp, day_words=day_words, **answer_context(document),
    )  # fmt: skip


@router.get("/quotes/{quote_id}/cancellation")
def print_cancellation(
    session: ReadSession, viewer: Viewer, quote_id: str, book: RulesBookDep, today: Today
) -> Response:
    """The paper of the right to cancel: how and how long, the form with whom to tell, the request to start sooner."""
    quote, job = quote_for(session, viewer, quote_id)
    document = _on_paper(session, quote, job, book, today)
    return page(
        "cancellation_print.html", viewer, quote=quote, job=job, document=document, party=jobs.party_of(session, job)
    )


def _on_paper(session: Session, quote: Quote, job: Job, book: RulesBook, today: date) -> dict[str, Any]:
    """What a paper for the customer is printed from: the sealed document once there is one, never with cost."""
    if quote.document is not None:
        sealed: dict[str, Any] = json.loads(quote.document)
        return sealed
    return life.shown_document(session, quote, job, book, sees_cost=False, today=today)
