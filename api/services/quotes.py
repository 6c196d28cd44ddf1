"""The life of a quote: drafted, issued and sealed, then accepted, declined, withdrawn, lapsed or superseded."""

import hashlib
import json
import secrets
from datetime import date, datetime, timedelta
from typing import Any

from pydantic_core import to_json
from sqlmodel import Session

from api.errors import Problem, conflict
from api.ids import new_id
from api.schemas.quotes import Acceptance
from api.security import Actor
from api.services.estimates import document_of
from api.settings import Settings
from api.store import jobs, office, quotes, surveys
from api.store.counters import take_number
from models.document import without_cost
from models.estimate import Estimate
from models.records import AskAcceptance, Job, Party, Quote, QuoteState

AMOUNTS = ("net_pence", "vat_pence", "total_pence", "grant_pence", "customer_pays_pence")
_FROM = {
    QuoteState.ACCEPTED: (QuoteState.ISSUED,),
    QuoteState.DECLINED: (QuoteState.ISSUED,),
    QuoteState.WITHDRAWN: (QuoteState.DRAFTED, QuoteState.ISSUED),
}


def draft(
    session: Session,
    job: Job,
    worked_out: Estimate,
    survey: dict[str, Any],
    *,
    survey_version: int,
    actor: Actor,
    now: datetime,
) -> Quote:
    """Keep an estimate of the stored survey as a draft. The job is locked by the caller."""
    workings = document_of(worked_out, why=True, sees_cost=True)
    price = workings.get("price") or {}
    quote = Quote(
        id=new_id(),
        job_id=job.id,
        revision=quotes.next_revision(session, job.id),
        state=QuoteState.DRAFTED,
        survey_version=survey_version,
        survey=json.dumps(survey, ensure_ascii=False),
        choices=worked_out.choices.model_dump_json(exclude_none=True),
        rules_version=f"{worked_out.rules.version} {worked_out.rules.price_list.version}"[:80],
        workings=to_json(workings),
        findings=json.dumps(workings["findings"], ensure_ascii=False),
        created_at=now,
        **{name: price.get(name) for name in AMOUNTS},
    )
    quotes.add_event(session, quote, QuoteState.DRAFTED, by=actor.name, now=now)
    office.write_audit(session, actor=actor.id, action="quote_drafted", subject=quote.id, now=now)
    return quote


def what_stands_against_issue(
    findings: list[dict[str, Any]], accepted: set[tuple[str, str]]
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """The *stop* findings, and the *ask* findings that nobody accepted."""
    stops = [one for one in findings if one["strength"] == "stop"]
    asks = [one for one in findings if one["strength"] == "ask" and (one["code"], one["where"]) not in accepted]
    return stops, asks


def issue(
    session: Session,
    quote: Quote,
    job: Job,
    accepted: tuple[Acceptance, ...],
    *,
    actor: Actor,
    settings: Settings,
    now: datetime,
    today: date,
) -> None:
    """Seal a draft: give it its number and keep its exact bytes. The quote is locked by the caller.

    Raises a 409 problem while a *stop* stands, an *ask* is not accepted, there is no whole price, or the survey was
    changed after the draft was made.
    """
    if quote.state != QuoteState.DRAFTED:
        raise conflict(f"only a draft can be issued; this quote is {quote.state}")
    if surveys.header(session, job.id).version != quote.survey_version:
        raise conflict("the survey was changed after this draft was made; make a new draft")
    findings = json.loads(quote.findings)
    _check_accepted(accepted, findings)
    stops, asks = what_stands_against_issue(findings, {(one.code, one.where) for one in accepted})
    if stops or asks:
        raise Problem(
            409,
            "findings_stand",
            f"{len(stops)} findings forbid the issue and {len(asks)} wait for someone to accept them",
            more={"stops": stops, "asks": asks},
        )
    if quote.total_pence is None:
        raise conflict("there is no whole price, so there is nothing to issue")
    for one in dict.fromkeys(accepted):
        session.merge(
            AskAcceptance(
                quote_id=quote.id, code=one.code, where=one.where, by=one.by, reason=one.reason, at=now, actor=actor.id
            )
        )
    party = jobs.party_of(session, job)
    year = today.year
    quote.number = f"{year}-{take_number(session, f'quote-{year}'):04d}"
    quote.issued_at, quote.valid_until = now, today + timedelta(days=settings.quote_valid_days)
    quote.party_salt = secrets.token_hex(16)
    quote.party_hash = party_hash(quote.party_salt, party)
    quote.document = to_json(_sealed(quote, job, accepted))
    quote.document_sha256 = hashlib.sha256(quote.document).hexdigest()
    for earlier in quotes.issued_of_job(session, job.id):
        quotes.add_event(
            session, earlier, QuoteState.SUPERSEDED, by=actor.name, now=now, reason=f"by {quote.number}"
        )
    quotes.add_event(
        session,
        quote,
        QuoteState.ISSUED,
        by=actor.name,
        now=now,
        payload={"number": quote.number, "document_sha256": quote.document_sha256},
    )
    office.write_audit(session, actor=actor.id, action="quote_issued", subject=quote.id, now=now)


def _check_accepted(accepted: tuple[Acceptance, ...], findings: list[dict[str, Any]]) -> None:
    asks = {(one["code"], one["where"]) for one in findings if one["strength"] == "ask"}
    for one in accepted:
        if (one.code, one.where) not in asks:
            raise conflict(f"there is no finding {one.code} at {one.where} that waits to be accepted")


def party_hash(salt: str, party: Party) -> str:
    """SHA-256 of the salt and the party: it proves who was meant, and says nothing once the party is erased."""
    record = {"name": party.name, "address": party.address, "contact": party.contact}
    text = json.dumps(record, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(f"{salt}\n{text}".encode()).hexdigest()


def _sealed(quote: Quote, job: Job, accepted: tuple[Acceptance, ...]) -> dict[str, Any]:
    assert quote.issued_at is not None and quote.valid_until is not None
    head = {
        "quote_id": quote.id,
        "number": quote.number,
        "revision": quote.revision,
        "job_number": job.number,
        "issued_at": quote.issued_at.isoformat(),
        "valid_until": quote.valid_until.isoformat(),
        "party_hash": quote.party_hash,
        "accepted": [one.model_dump() for one in accepted],
    }
    return {"quote": head, **without_cost(json.loads(quote.workings))}


def happen(
    session: Session,
    quote: Quote,
    event: QuoteState,
    *,
    by: str | None,
    reason: str | None,
    actor: Actor,
    now: datetime,
    today: date,
) -> None:
    """Accept, decline or withdraw. Raises a 409 problem where the state does not allow it.

    A quote that is accepted after its last day lapses instead: that is kept, and the problem says so.
    """
    if quote.state not in _FROM[event]:
        allowed = " or ".join(_FROM[event])
        raise conflict(f"only a quote that is {allowed} can be {event}; this one is {quote.state}")
    if event is QuoteState.ACCEPTED and quote.valid_until is not None and today > quote.valid_until:
        quotes.add_event(session, quote, QuoteState.LAPSED, by="the calendar", now=now)
        session.commit()
        raise conflict(f"the quote was open until {quote.valid_until}; make a new one")
    quotes.add_event(session, quote, event, by=by or actor.name, now=now, reason=reason or "")
    office.write_audit(session, actor=actor.id, action=f"quote_{event}", subject=quote.id, now=now)


def shown_document(quote: Quote, *, sees_cost: bool) -> dict[str, Any]:
    """The document behind a quote; without cost for those who may not see it."""
    document: dict[str, Any] = json.loads(quote.workings)
    shown: dict[str, Any] = document if sees_cost else without_cost(document)
    return shown
