"""Quotes: drafted from a job, issued and sealed, and what the customer said; the feed that accounts pull."""

import json
from typing import Annotated

from fastapi import APIRouter, Query, Response
from sqlmodel import Session

from api.answers import JSON_TYPE, answer
from api.body import RawJson, documented, parse
from api.deps import (
    CurrentActor,
    Now,
    OnceDep,
    ReadSession,
    RulesBookDep,
    SettingsDep,
    Today,
    WriteSession,
)
from api.errors import conflict, not_found
from api.ids import cursor_of, is_id, number_of_cursor
from api.routes.jobs import job_for
from api.schemas.estimates import ChoicesRequest
from api.schemas.findings import FindingPublic
from api.schemas.quotes import (
    AcceptedPublic,
    EventPublic,
    EventRequest,
    FeedItem,
    IssueRequest,
    QuoteDetail,
    QuoteFeed,
    QuotePublic,
)
from api.security import Actor
from api.services import quotes as life, surveys
from api.services.estimates import work_out
from api.store import quotes
from models.records import Job, Quote, QuoteState

router = APIRouter(tags=["quotes"])


def quote_for(session: Session, actor: Actor, quote_id: str, *, lock: bool = False) -> tuple[Quote, Job]:
    """The quote at an address. Raises 404 also for one that this actor may not see."""
    found = quotes.quote_by_id(session, quote_id, only_owner=actor.only_owner, lock=lock) if is_id(quote_id) else None
    if found is None:
        raise not_found("quote")
    return found


def quote_detail(session: Session, quote: Quote, job: Job, *, sees_cost: bool) -> QuoteDetail:
    """A quote with everything about it."""
    return QuoteDetail(
        **QuotePublic.of(quote, job).model_dump(),
        choices=json.loads(quote.choices),
        findings=[FindingPublic(**one) for one in json.loads(quote.findings)],
        accepted=[AcceptedPublic.of(one) for one in quotes.acceptances(session, quote.id)],
        events=[EventPublic.of(one) for one in quotes.events_of(session, quote.id)],
        document=life.shown_document(quote, sees_cost=sees_cost),
    )


@router.get("/jobs/{job_id}/quotes", summary="List the quotes of a job", response_model=list[QuotePublic])
def list_quotes(job_id: str, actor: CurrentActor, session: ReadSession) -> list[QuotePublic]:
    """The quotes of a job, the newest first."""
    job = job_for(session, actor, job_id)
    return [QuotePublic.of(quote, job) for quote in quotes.quotes_of_job(session, job.id)]


@router.post(
    "/jobs/{job_id}/quotes",
    summary="Draft a quote",
    status_code=201,
    responses={201: {"model": QuoteDetail}},
    openapi_extra=documented(
        "ChoicesRequest", ChoicesRequest, {"at_45_c": {"value": {"choices": {"flow_temp_c": 45}}}}
    ),
)
def post_quote(
    job_id: str,
    actor: CurrentActor,
    raw: RawJson,
    session: WriteSession,
    once: OnceDep,
    book: RulesBookDep,
    now: Now,
    today: Today,
) -> Response:
    """Work out the stored survey and keep the result as a draft. 422 while the survey is incomplete."""
    choices = parse(ChoicesRequest, raw, where="the choices").choices

    def make() -> Response:
        job = job_for(session, actor, job_id, lock=True)
        survey, assembled = surveys.complete_survey(session, job)
        worked_out = work_out(book, session, survey, choices, today=today)
        quote = life.draft(
            session, job, worked_out, assembled.survey, survey_version=assembled.version, actor=actor, now=now
        )
        session.flush()
        detail = quote_detail(session, quote, job, sees_cost=actor.sees_cost)
        return answer(detail, status=201, location=f"/api/v1/quotes/{quote.id}")

    return once.answer(make)


@router.get("/quotes", summary="Pull what happened to quotes", response_model=QuoteFeed)
def feed(
    actor: CurrentActor,
    session: ReadSession,
    changed_since: Annotated[
        str | None, Query(max_length=200, description="`next_cursor` of the answer before; nothing for the beginning.")
    ] = None,
    limit: Annotated[int, Query(ge=1, le=500)] = 100,
) -> QuoteFeed:
    """Everything that happened to quotes, in one order, after a cursor. Nothing is ever missed or given twice."""
    after = 0 if changed_since is None else number_of_cursor(changed_since)
    found = quotes.events_after(session, after, only_owner=actor.only_owner, limit=limit + 1)
    shown = found[:limit]
    items = [
        FeedItem(**EventPublic.of(event).model_dump(), quote=QuotePublic.of(quote, job)) for event, quote, job in shown
    ]
    return QuoteFeed(
        items=items, next_cursor=cursor_of(shown[-1][0].seq if shown else after), more=len(found) > limit
    )


@router.get("/quotes/{quote_id}", summary="Read a quote", response_model=QuoteDetail)
def get_quote(quote_id: str, actor: CurrentActor, session: ReadSession) -> Response:
    """A quote with its document, findings, what was accepted, and events."""
    quote, job = quote_for(session, actor, quote_id)
    return answer(quote_detail(session, quote, job, sees_cost=actor.sees_cost))


@router.get(
    "/quotes/{quote_id}/document",
    summary="Read the sealed bytes",
    response_class=Response,
    responses={200: {"content": {JSON_TYPE: {"schema": {"type": "object"}}}}},
)
def get_document(quote_id: str, actor: CurrentActor, session: ReadSession) -> Response:
    """The exact bytes of an issued quote; their SHA-256 is the ETag. 409 for a draft."""
    quote, _ = quote_for(session, actor, quote_id)
    if quote.document is None:
        raise conflict("a draft has no sealed document; issue it first")
    return Response(quote.document, 200, {"ETag": f'"{quote.document_sha256}"'}, JSON_TYPE)


@router.post(
    "/quotes/{quote_id}/issue",
    summary="Issue a quote",
    responses={200: {"model": QuoteDetail}},
    openapi_extra=documented(
        "IssueRequest",
        IssueRequest,
        {
            "with_an_accepted_finding": {
                "value": {
                    "accepted": [
                        {"code": "assumed_value", "where": "room 'Hall'", "by": "A. Owner", "reason": "seen on site"}
                    ]
                }
            }
        },
    ),
)
def post_issue(
    quote_id: str,
    actor: CurrentActor,
    raw: RawJson,
    session: WriteSession,
    once: OnceDep,
    settings: SettingsDep,
    now: Now,
    today: Today,
) -> Response:
    """Seal a draft under the next number. 409 while a *stop* stands or an *ask* is not accepted by a named person."""
    body = parse(IssueRequest, raw, where="the issue")

    def make() -> Response:
        quote, job = quote_for(session, actor, quote_id, lock=True)
        life.issue(
            session, quote, job, body.accepted, actor=actor, settings=settings, now=now, today=today
        )
        session.flush()
        return answer(quote_detail(session, quote, job, sees_cost=actor.sees_cost))

    return once.answer(make)


def _happen(
    event: QuoteState,
    quote_id: str,
    actor: Actor,
    raw: bytes,
    session: Session,
    once: OnceDep,
    now: Now,
    today: Today,
) -> Response:
    body = parse(EventRequest, raw, where="the request")

    def make() -> Response:
        quote, job = quote_for(session, actor, quote_id, lock=True)
        life.happen(session, quote, event, by=body.by, reason=body.reason, actor=actor, now=now, today=today)
        session.flush()
        return answer(quote_detail(session, quote, job, sees_cost=actor.sees_cost))

    return once.answer(make)


_EVENT_EXAMPLE = {"plain": {"value": {"by": "the customer", "reason": "by telephone"}}}


@router.post(
    "/quotes/{quote_id}/accept",
    summary="The customer accepts",
    responses={200: {"model": QuoteDetail}},
    openapi_extra=documented("EventRequest", EventRequest, _EVENT_EXAMPLE),
)
def post_accept(
    quote_id: str, actor: CurrentActor, raw: RawJson, session: WriteSession, once: OnceDep, now: Now, today: Today
) -> Response:
    """An issued quote is accepted. 409 in any other state, or after its last day (it lapses then)."""
    return _happen(QuoteState.ACCEPTED, quote_id, actor, raw, session, once, now, today)


@router.post(
    "/quotes/{quote_id}/decline",
    summary="The customer declines",
    responses={200: {"model": QuoteDetail}},
    openapi_extra=documented("EventRequest", EventRequest, _EVENT_EXAMPLE),
)
def post_decline(
    quote_id: str, actor: CurrentActor, raw: RawJson, session: WriteSession, once: OnceDep, now: Now, today: Today
) -> Response:
    """An issued quote is declined. 409 in any other state."""
    return _happen(QuoteState.DECLINED, quote_id, actor, raw, session, once, now, today)


@router.post(
    "/quotes/{quote_id}/withdraw",
    summary="The firm withdraws",
    responses={200: {"model": QuoteDetail}},
    openapi_extra=documented("EventRequest", EventRequest, _EVENT_EXAMPLE),
)
def post_withdraw(
    quote_id: str, actor: CurrentActor, raw: RawJson, session: WriteSession, once: OnceDep, now: Now, today: Today
) -> Response:
    """A draft or an issued quote is withdrawn. 409 in any other state."""
    return _happen(QuoteState.WITHDRAWN, quote_id, actor, raw, session, once, now, today)
