"""Quotes: drafted from a job, issued and sealed, and what the customer said; the feed that accounts pull."""

import json
from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Query, Response
from sqlmodel import Session

from api.answers import JSON_TYPE, answer
from api.body import RawJson, documented, parse
from api.deps import (
    CurrentActor,
    IfNoneMatch,
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
from api.render.files import KINDS
from api.routes.jobs import job_for
from api.schemas.estimates import ChoicesRequest
from api.schemas.findings import FindingPublic
from api.schemas.quotes import (
    AcceptedPublic,
    ApprovalPublic,
    ApprovalRequest,
    ChangePublic,
    DecisionRequest,
    DifferencePublic,
    EventPublic,
    EventRequest,
    FeedItem,
    IssueRequest,
    PartyPublic,
    QuoteDetail,
    QuoteFeed,
    QuoteFilePublic,
    QuotePublic,
    VariationPublic,
    VariationRequest,
    VerifiedPublic,
)
from api.security import Actor
from api.services import quotes as life, surveys
from api.services.estimates import work_out
from api.services.repricing import basis_of, choice_words
from api.services.rules import RulesBook
from api.store import jobs, quotes
from api.versions import matches_tag
from models.records import Job, Quote, QuoteState, VariationState

router = APIRouter(tags=["quotes"])


def quote_for(session: Session, actor: Actor, quote_id: str, *, lock: bool = False) -> tuple[Quote, Job]:
    """The quote at an address. Raises 404 also for one that this actor may not see."""
    found = quotes.quote_by_id(session, quote_id, only_owner=actor.only_owner, lock=lock) if is_id(quote_id) else None
    if found is None:
        raise not_found("quote")
    return found


def quote_detail(
    session: Session, quote: Quote, job: Job, book: RulesBook, *, sees_cost: bool, today: date
) -> QuoteDetail:
    """A quote with everything about it."""
    document = life.shown_document(session, quote, job, book, sees_cost=sees_cost, today=today)
    varied, kept = quotes.variations(session, quote.id), quotes.files_of(session, quote.id)
    return QuoteDetail(
        **QuotePublic.of(quote, job, today).model_dump(),
        choices=json.loads(quote.choices),
        findings=[FindingPublic(**one) for one in document["findings"]],
        accepted=[AcceptedPublic.of(one) for one in quotes.acceptances(session, quote.id)],
        events=[EventPublic.of(one) for one in quotes.events_of(session, quote.id)],
        document=document,
        party=PartyPublic.of(jobs.party_of(session, job)),
        needs_approval=bool((document.get("price") or {}).get("needs_approval", False)),
        approvals=[ApprovalPublic.of(one) for one in quotes.approvals(session, quote.id)],
        variations=[VariationPublic.of(one, sees_cost=sees_cost) for one in varied],
        order_value_pence=life.order_value_pence(quote, varied),
        files=[QuoteFilePublic.of(kind, kept[kind]) for kind in KINDS if kind in kept],
        choices_now=list(choice_words(basis_of(session, quote.id))) if quote.state == QuoteState.DRAFTED else [],
    )


@router.get("/jobs/{job_id}/quotes", summary="List the quotes of a job", response_model=list[QuotePublic])
def list_quotes(job_id: str, actor: CurrentActor, session: ReadSession, today: Today) -> list[QuotePublic]:
    """The quotes of a job, the newest first."""
    job = job_for(session, actor, job_id)
    return [QuotePublic.of(quote, job, today) for quote in quotes.quotes_of_job(session, job.id)]


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
        survey, assembled = surveys.complete_survey(session, job, lock=True)
        worked_out = work_out(book, session, survey, choices, today=today, effort="thorough")
        quote = life.draft(
            session, job, worked_out, assembled.survey, survey_version=assembled.version, actor=actor, now=now
        )
        session.flush()
        detail = quote_detail(session, quote, job, book, sees_cost=actor.sees_cost, today=today)
        return answer(detail, status=201, location=f"/api/v1/quotes/{quote.id}")

    return once.answer(make)


@router.get("/quotes", summary="Pull what happened to quotes", response_model=QuoteFeed)
def feed(
    actor: CurrentActor,
    session: ReadSession,
    today: Today,
    changed_since: Annotated[
        str | None, Query(max_length=200, description="`next_cursor` of the answer before; nothing for the beginning.")
    ] = None,
    limit: Annotated[int, Query(ge=1, le=500)] = 100,
) -> QuoteFeed:
    """Everything that happened to quotes, in one order, after a cursor. Nothing is ever missed or given twice."""
    after = number_of_cursor(changed_since) if changed_since else 0
    found = quotes.events_after(session, after, only_owner=actor.only_owner, limit=limit + 1)
    shown = found[:limit]
    items = [
        FeedItem(**EventPublic.of(event).model_dump(), quote=QuotePublic.of(quote, job, today))
        for event, quote, job in shown
    ]
    return QuoteFeed(
        items=items, next_cursor=cursor_of(shown[-1][0].seq if shown else after), more=len(found) > limit
    )


def file_answer(session: Session, quote: Quote, kind: str, if_none_match: str | None = None) -> Response:
    """The bytes of a sealed file, to be saved under the quote's number. 304 where the client has them."""
    file = life.file_of(session, quote, kind)
    suffix, tag = KINDS[kind].suffix, f'"{file.sha256}"'
    headers = {"ETag": tag, "Cache-Control": "private, no-cache", "X-Content-Type-Options": "nosniff"}
    if if_none_match is not None and matches_tag(if_none_match, tag):
        return Response(None, 304, headers)
    headers["Content-Disposition"] = f'attachment; filename="quote-{quote.number}.{suffix}"'
    return Response(file.body, 200, headers, KINDS[kind].media_type)


def _file_documented(kind: str) -> dict[int | str, dict[str, Any]]:
    media_type = KINDS[kind].media_type.partition(";")[0]
    return {200: {"content": {media_type: {"schema": {"type": "string", "format": "binary"}}}}}


# These addresses begin like that of the quote itself, so they are asked first.
@router.get(
    "/quotes/{quote_id}.pdf",
    summary="Read a quote as PDF",
    response_class=Response,
    responses=_file_documented("pdf"),
)
def get_pdf(quote_id: str, actor: CurrentActor, session: ReadSession, if_none_match: IfNoneMatch = None) -> Response:
    """The sealed PDF (PDF/UA-1, PDF/A-2a) of an issued quote, the same bytes for good. 409 for a draft.

    Once the customer is erased, the copy without the name that was sealed with it.
    """
    quote, _ = quote_for(session, actor, quote_id)
    return file_answer(session, quote, "pdf", if_none_match)


@router.get(
    "/quotes/{quote_id}.ubl.xml",
    summary="Read a quote as UBL",
    response_class=Response,
    responses=_file_documented("ubl"),
)
def get_ubl(quote_id: str, actor: CurrentActor, session: ReadSession, if_none_match: IfNoneMatch = None) -> Response:
    """The sealed OASIS UBL 2.1 Quotation. The grant stands as paid beforehand, a discount as an allowance.

    409 for a draft. Once the customer is erased, the copy without the name that was sealed with it.
    """
    quote, _ = quote_for(session, actor, quote_id)
    return file_answer(session, quote, "ubl", if_none_match)


@router.get(
    "/quotes/{quote_id}.csv",
    summary="Read a quote's bill as CSV",
    response_class=Response,
    responses=_file_documented("csv"),
)
def get_csv(quote_id: str, actor: CurrentActor, session: ReadSession, if_none_match: IfNoneMatch = None) -> Response:
    """The sealed bill for the books: goods, work, VAT by stage, payments; the last row is the sum of each column.

    No cost stands in it and no customer, and no cell is a formula to a spreadsheet. 409 for a draft.
    """
    quote, _ = quote_for(session, actor, quote_id)
    return file_answer(session, quote, "csv", if_none_match)


@router.get("/quotes/{quote_id}", summary="Read a quote", response_model=QuoteDetail)
def get_quote(
    quote_id: str, actor: CurrentActor, session: ReadSession, book: RulesBookDep, today: Today
) -> Response:
    """A quote with its document, findings, what was accepted, events, variations and party."""
    quote, job = quote_for(session, actor, quote_id)
    return answer(quote_detail(session, quote, job, book, sees_cost=actor.sees_cost, today=today))


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


@router.get("/quotes/{quote_id}/why", summary="Open the figures of a quote", response_model=None)
def get_why(
    quote_id: str,
    actor: CurrentActor,
    session: ReadSession,
    book: RulesBookDep,
    today: Today,
    path: Annotated[str, Query(max_length=200, description="Only figures whose path begins so.")] = "",
) -> Response:
    """Each figure by its path: formula in words, numbers, source, how each input is known. Cost only with the right."""
    quote, job = quote_for(session, actor, quote_id)
    document = life.shown_document(session, quote, job, book, sees_cost=actor.sees_cost, today=today, why=True)
    return answer({figure: why for figure, why in document["why"].items() if figure.startswith(path)})


@router.get(
    "/quotes/{quote_id}/verification", summary="Check the seal", responses={200: {"model": VerifiedPublic}}
)
def get_verification(quote_id: str, actor: CurrentActor, session: ReadSession) -> Response:
    """Whether the sealed bytes still have their hash and the customer is still who was sealed. 409 for a draft.

    After an erasure the customer's texts are empty and only the bytes can be proved.
    """
    quote, job = quote_for(session, actor, quote_id)
    verified = life.verify(session, quote, job)
    return answer(
        VerifiedPublic(
            document_sha256=str(quote.document_sha256),
            document_holds=verified.document_holds,
            why_holds=life.whys_hold(session, quote),
            files_hold=life.files_hold(session, quote),
            party_hash=str(quote.party_hash),
            party_holds=verified.party_holds,
            party=PartyPublic.of(jobs.party_of(session, job)),
        )
    )


@router.get(
    "/quotes/{quote_id}/difference",
    summary="What differs from an earlier quote",
    responses={200: {"model": DifferencePublic}},
)
def get_difference(
    quote_id: str,
    actor: CurrentActor,
    session: ReadSession,
    book: RulesBookDep,
    from_id: Annotated[
        str | None, Query(alias="from", max_length=36, description="Another quote of the job; else the one before.")
    ] = None,
) -> Response:
    """Unit, rooms, days, quantities, prices and totals in words. 404 where there is no earlier quote of the job."""
    quote, _ = quote_for(session, actor, quote_id)
    former = life.former_revision(session, quote, from_id)
    return answer(
        DifferencePublic(
            from_id=former.id,
            from_revision=former.revision,
            to_id=quote.id,
            to_revision=quote.revision,
            changes=[ChangePublic.of(change) for change in life.difference(session, former, quote, book)],
        )
    )


@router.post(
    "/quotes/{quote_id}/approval",
    summary="Approve a low margin",
    responses={200: {"model": QuoteDetail}},
    openapi_extra=documented(
        "ApprovalRequest", ApprovalRequest, {"regular": {"value": {"reason": "third house in this street"}}}
    ),
)
def post_approval(
    quote_id: str,
    actor: CurrentActor,
    raw: RawJson,
    session: WriteSession,
    once: OnceDep,
    book: RulesBookDep,
    now: Now,
    today: Today,
) -> Response:
    """Somebody with the right to it lets a draft go out below the firm's margin floor. 409 where none is needed."""
    body = parse(ApprovalRequest, raw, where="the approval")

    def make() -> Response:
        quote, job = quote_for(session, actor, quote_id, lock=True)
        life.approve(session, quote, body.reason, book=book, actor=actor, now=now)
        session.flush()
        return answer(quote_detail(session, quote, job, book, sees_cost=actor.sees_cost, today=today))

    return once.answer(make)


@router.get(
    "/quotes/{quote_id}/variations", summary="List variations", response_model=list[VariationPublic]
)
def list_variations(quote_id: str, actor: CurrentActor, session: ReadSession) -> list[VariationPublic]:
    """The variations of a quote in the order in which they were proposed."""
    quote, _ = quote_for(session, actor, quote_id)
    return [VariationPublic.of(one, sees_cost=actor.sees_cost) for one in quotes.variations(session, quote.id)]


@router.post(
    "/quotes/{quote_id}/variations",
    summary="Propose a variation",
    status_code=201,
    responses={201: {"model": VariationPublic}},
    openapi_extra=documented(
        "VariationRequest",
        VariationRequest,
        {
            "seized_valves": {
                "value": {
                    "reason": "seized_valves",
                    "note": "two lockshield valves in the hall do not turn",
                    "parts": [{"sku": "EMT-TRV", "quantity": "2"}],
                    "hours": [{"trade": "engineer", "hours_h": "1.5"}],
                }
            }
        },
    ),
)
def post_variation(
    quote_id: str,
    actor: CurrentActor,
    raw: RawJson,
    session: WriteSession,
    once: OnceDep,
    book: RulesBookDep,
    now: Now,
    today: Today,
) -> Response:
    """What was found on site, at the prices and rates that were sealed with the quote. 409 unless it is accepted."""
    body = parse(VariationRequest, raw, where="the variation")

    def make() -> Response:
        quote, _ = quote_for(session, actor, quote_id, lock=True)
        made = life.propose_variation(
            session, quote, body, money=book.of_files().money, actor=actor, now=now, today=today
        )
        return answer(VariationPublic.of(made, sees_cost=actor.sees_cost), status=201)

    return once.answer(make)


def _decide(
    state: VariationState,
    quote_id: str,
    variation_id: str,
    actor: Actor,
    raw: bytes,
    session: Session,
    once: OnceDep,
    now: Now,
) -> Response:
    body = parse(DecisionRequest, raw, where="the decision")

    def make() -> Response:
        quote, _ = quote_for(session, actor, quote_id, lock=True)
        made = life.decide_variation(session, quote, variation_id, state, body, actor=actor, now=now)
        session.flush()
        return answer(VariationPublic.of(made, sees_cost=actor.sees_cost))

    return once.answer(make)


_DECISION_EXAMPLE = {"customer": {"value": {"by": "the customer", "reason": "seen on site"}}}


@router.post(
    "/quotes/{quote_id}/variations/{variation_id}/approve",
    summary="Approve a variation",
    responses={200: {"model": VariationPublic}},
    openapi_extra=documented("DecisionRequest", DecisionRequest, _DECISION_EXAMPLE),
)
def post_approve_variation(
    quote_id: str, variation_id: str, actor: CurrentActor, raw: RawJson, session: WriteSession, once: OnceDep, now: Now
) -> Response:
    """Approved by name and time, a variation adds to the order value; the quote itself stays as it is."""
    return _decide(VariationState.APPROVED, quote_id, variation_id, actor, raw, session, once, now)


@router.post(
    "/quotes/{quote_id}/variations/{variation_id}/refuse",
    summary="Refuse a variation",
    responses={200: {"model": VariationPublic}},
    openapi_extra=documented("DecisionRequest", DecisionRequest, _DECISION_EXAMPLE),
)
def post_refuse_variation(
    quote_id: str, variation_id: str, actor: CurrentActor, raw: RawJson, session: WriteSession, once: OnceDep, now: Now
) -> Response:
    """A variation that is not wanted stays in the list and adds nothing."""
    return _decide(VariationState.REFUSED, quote_id, variation_id, actor, raw, session, once, now)


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
    book: RulesBookDep,
    now: Now,
    today: Today,
) -> Response:
    """Seal a draft under the next number. 409 while a *stop* stands or an *ask* is not accepted by a named person."""
    body = parse(IssueRequest, raw, where="the issue")

    def make() -> Response:
        quote, job = quote_for(session, actor, quote_id, lock=True)
        life.issue(
            session, quote, job, body.accepted, book=book, actor=actor, settings=settings, now=now, today=today
        )
        session.flush()
        return answer(quote_detail(session, quote, job, book, sees_cost=actor.sees_cost, today=today))

    return once.answer(make)


def _happen(
    event: QuoteState,
    quote_id: str,
    actor: Actor,
    raw: bytes,
    session: Session,
    once: OnceDep,
    book: RulesBook,
    now: Now,
    today: Today,
) -> Response:
    body = parse(EventRequest, raw, where="the request")

    def make() -> Response:
        quote, job = quote_for(session, actor, quote_id, lock=True)
        life.happen(session, quote, event, by=body.by, reason=body.reason, actor=actor, now=now, today=today)
        session.flush()
        return answer(quote_detail(session, quote, job, book, sees_cost=actor.sees_cost, today=today))

    return once.answer(make)


_EVENT_EXAMPLE = {"plain": {"value": {"by": "the customer", "reason": "by telephone"}}}


@router.post(
    "/quotes/{quote_id}/accept",
    summary="The customer accepts",
    responses={200: {"model": QuoteDetail}},
    openapi_extra=documented("EventRequest", EventRequest, _EVENT_EXAMPLE),
)
def post_accept(
    quote_id: str,
    actor: CurrentActor,
    raw: RawJson,
    session: WriteSession,
    once: OnceDep,
    book: RulesBookDep,
    now: Now,
    today: Today,
) -> Response:
    """An issued quote is accepted. 409 in any other state, or after its last day (it lapses then)."""
    return _happen(QuoteState.ACCEPTED, quote_id, actor, raw, session, once, book, now, today)


@router.post(
    "/quotes/{quote_id}/decline",
    summary="The customer declines",
    responses={200: {"model": QuoteDetail}},
    openapi_extra=documented("EventRequest", EventRequest, _EVENT_EXAMPLE),
)
def post_decline(
    quote_id: str,
    actor: CurrentActor,
    raw: RawJson,
    session: WriteSession,
    once: OnceDep,
    book: RulesBookDep,
    now: Now,
    today: Today,
) -> Response:
    """An issued quote is declined. 409 in any other state."""
    return _happen(QuoteState.DECLINED, quote_id, actor, raw, session, once, book, now, today)


@router.post(
    "/quotes/{quote_id}/withdraw",
    summary="The firm withdraws",
    responses={200: {"model": QuoteDetail}},
    openapi_extra=documented("EventRequest", EventRequest, _EVENT_EXAMPLE),
)
def post_withdraw(
    quote_id: str,
    actor: CurrentActor,
    raw: RawJson,
    session: WriteSession,
    once: OnceDep,
    book: RulesBookDep,
    now: Now,
    today: Today,
) -> Response:
    """A draft or an issued quote is withdrawn. 409 in any other state."""
    return _happen(QuoteState.WITHDRAWN, quote_id, actor, raw, session, once, book, now, today)
