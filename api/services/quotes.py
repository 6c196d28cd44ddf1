"""The life of a quote: drafted, issued and sealed, then accepted, declined, withdrawn, lapsed or superseded."""

import json
import secrets
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from pydantic_core import to_json
from sqlmodel import Session

from api.errors import Problem, conflict, not_found, one_fault
from api.ids import is_id, new_id
from api.render.addressee import Addressee
from api.render.files import KINDS, rendered
from api.schemas.quotes import Acceptance, DecisionRequest, VariationRequest
from api.security import Actor, require
from api.services.estimates import document_of
from api.services.repricing import STRENGTHS, current_whys, current_workings, keep_narrow_rows, settle
from api.services.rules import RulesBook
from api.settings import Settings
from api.store import jobs, office, quotes, surveys
from api.store.counters import take_number
from models import quote as sealing
from models.document import finding_document, plain, without_cost
from models.estimate import Choices, Estimate
from models.firm import firm_findings
from models.pricing.discount import greatest_discount_ratio, roles_that_may
from models.pricing.rates import Rates
from models.pricing.variation import (
    UnknownPart,
    prices_document,
    prices_from_document,
    sealed_prices,
    variation_price,
)
from models.records import (
    AskAcceptance,
    Job,
    Party,
    Quote,
    QuoteApproval,
    QuoteFile,
    QuoteState,
    Variation,
    VariationState,
)
from models.reference.money_rules import MoneyRules
from models.rules import Rules
from models.why import why_document

AMOUNTS = ("net_pence", "vat_pence", "total_pence", "grant_pence", "customer_pays_pence")
VARIED = "varied"
"""The event of an approved variation: the state of the quote stays accepted."""
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
    """Keep an estimate of the stored survey as a draft. The job is locked by the caller.

    Raises a 403 problem for a discount that the actor's role may not give.
    """
    check_discount(worked_out.choices, worked_out.rules.rates, actor)
    workings = document_of(worked_out, why=False, sees_cost=True)
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
        workings=kept_workings(workings),
        findings=json.dumps(workings["findings"], ensure_ascii=False),
        created_at=now,
        **{name: price.get(name) for name in AMOUNTS},
    )
    quotes.add_event(session, quote, QuoteState.DRAFTED, by=actor.name, now=now)
    keep_unit_prices(session, quote, worked_out.rules)
    whys = to_json(why_document(worked_out))
    quotes.keep_whys(session, quote.id, body=whys, sha256=sealing.sha256_of(whys))
    keep_narrow_rows(session, quote, worked_out)
    office.write_audit(
        session, actor=actor.id, action="quote_drafted", subject=quote.id, now=now,
        new={"job": job.number, "revision": quote.revision, "total_pence": quote.total_pence},
    )  # fmt: skip
    return quote


def kept_workings(workings: dict[str, Any]) -> bytes:
    """The workings as they are kept: without what may name a person, which stands with the job and can be erased."""
    return to_json({key: value for key, value in workings.items() if key not in sealing.PERSONAL_KEYS})


def keep_unit_prices(session: Session, quote: Quote, rules: Rules) -> None:
    """Copy the unit prices and rates that a draft is priced with; again whenever the draft is re-priced."""
    body = to_json(prices_document(sealed_prices(rules.price_list, rules.rates)))
    quotes.keep_prices(
        session, quote.id, price_list_version=rules.price_list.version, body=body, sha256=sealing.sha256_of(body)
    )


def check_discount(choices: Choices, rates: Rates, actor: Actor) -> None:
    """Raise a 403 problem for a discount above what the actor's role may give."""
    most = greatest_discount_ratio(actor.role, rates)
    if choices.discount_ratio > most:
        others = roles_that_may(choices.discount_ratio, rates.greatest_discount_ratio_by_role)
        asked = " or ".join(others) if others else "nobody"
        raise Problem(
            403,
            "not_allowed",
            f"the role {actor.role} may give a discount of {_per_cent(most)}, not of "
            f"{_per_cent(choices.discount_ratio)}; {asked} may",
        )


def _per_cent(ratio: Decimal) -> str:
    return f"{(ratio * 100).normalize():f} %"


def what_stands_against_issue(
    findings: list[dict[str, Any]], accepted: set[tuple[str, str]]
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """The *stop* findings, and the *ask* findings that nobody accepted."""
    stops = [one for one in findings if one["strength"] == "stop"]
    asks = [one for one in findings if one["strength"] == "ask" and (one["code"], one["where"]) not in accepted]
    return stops, asks


def settled(session: Session, quote: Quote, book: RulesBook) -> None:
    """Bring a draft that was re-priced up to date: its document, its findings and the unit prices that it is made with.

    The quote is locked by the caller.
    """
    before = quote.workings
    settle(session, quote, book)
    if quote.workings != before:
        priced_on = date.fromisoformat(json.loads(quote.workings)["basis"]["priced_on"])
        keep_unit_prices(session, quote, book.in_force(session, priced_on))
        # Written before the quote is sealed: from then on the database refuses to change prices and reasons.
        session.flush()


def with_firm(session: Session, workings: dict[str, Any], book: RulesBook, today: date) -> dict[str, Any]:
    """The workings of a draft with the firm's record of today in them, and what stands against the issue for it."""
    firm = book.firm_in_force(session, today)
    vat_pence = (workings.get("price") or {}).get("vat_pence")
    found = [finding_document(one) for one in firm_findings(firm, vat_pence=vat_pence)]
    found = sorted([*found, *workings["findings"]], key=lambda one: STRENGTHS.index(one["strength"]))
    return workings | {"firm": firm, "findings": found}


def approve(
    session: Session, quote: Quote, reason: str, *, book: RulesBook, actor: Actor, now: datetime
) -> None:
    """Let a draft go out below the firm's margin floor. The quote is locked by the caller.

    Raises 403, and 409 for a quote that is no draft or needs no approval.
    """
    require(actor, "approve_margin")
    if quote.state != QuoteState.DRAFTED:
        raise conflict(f"only a draft can be approved; this quote is {quote.state}")
    settled(session, quote, book)
    if not needs_approval(quote):
        raise conflict("the margin of this quote is not below the floor; it needs no approval")
    session.add(
        QuoteApproval(id=new_id(), quote_id=quote.id, by=actor.name, reason=reason, at=now, actor=actor.id)
    )
    office.write_audit(
        session, actor=actor.id, action="margin_approved", subject=quote.id, now=now, why=reason,
        new={"total_pence": quote.total_pence},
    )  # fmt: skip


def needs_approval(quote: Quote) -> bool:
    """Whether the margin of a quote is below the floor of the rates that it was made with."""
    price = json.loads(quote.workings).get("price") or {}
    return bool(price.get("needs_approval", False))


def issue(
    session: Session,
    quote: Quote,
    job: Job,
    accepted: tuple[Acceptance, ...],
    *,
    book: RulesBook,
    actor: Actor,
    settings: Settings,
    now: datetime,
    today: date,
) -> None:
    """Seal a draft: give it its number and keep its exact bytes. Quote and job are locked by the caller.

    The firm's record in force today goes into the seal. Raises a 409 problem while a *stop* stands (a missing record
    of the firm is one), an *ask* is not accepted, there is no whole price, prices are not firm, the margin is below
    the floor without an approval, another quote of the job is accepted, or the survey was changed after the draft was
    made.
    """
    if quote.state != QuoteState.DRAFTED:
        raise conflict(f"only a draft can be issued; this quote is {quote.state}")
    earlier_issued = quotes.numbered_of_job(session, job.id)
    accepted_before = next((one for one in earlier_issued if one.state == QuoteState.ACCEPTED), None)
    if accepted_before is not None:
        raise conflict(f"quote {accepted_before.number} of this job is accepted; what changes now is a variation of it")
    if surveys.header(session, job.id).version != quote.survey_version:
        raise conflict("the survey was changed after this draft was made; make a new draft")
    settled(session, quote, book)
    workings = with_firm(session, json.loads(quote.workings), book, today)
    _check_findings(workings["findings"], accepted)
    if quote.total_pence is None:
        raise conflict("there is no whole price, so there is nothing to issue")
    if not workings["basis"].get("price_list_firm", True):
        version = workings["basis"]["price_list_version"]
        raise conflict(f"price list {version} is only indicative; draft the quote under a firm one")
    if needs_approval(quote) and not quotes.approvals(session, quote.id):
        raise conflict("this price is below the firm's margin floor; somebody with the right to it approves it first")
    for one in dict.fromkeys(accepted):
        session.merge(
            AskAcceptance(
                quote_id=quote.id, code=one.code, where=one.where, by=one.by, reason=one.reason, at=now, actor=actor.id
            )
        )
    party = jobs.party_of(session, job)
    if earlier_issued:
        quote.number = sealing.revision_number(str(earlier_issued[0].number), len(earlier_issued) + 1)
    else:
        quote.number = f"{today.year}-{take_number(session, f'quote-{today.year}'):04d}"
    quote.issued_at, quote.valid_until = now, _valid_until(workings, today, settings)
    quote.party_salt = secrets.token_hex(16)
    quote.party_hash = party_hash(quote.party_salt, party)
    quote.workings, quote.findings = kept_workings(workings), json.dumps(workings["findings"], ensure_ascii=False)
    sealed = sealing.sealed(workings, _head(session, quote, job, accepted))
    quote.document, quote.document_sha256 = sealed.body, sealed.sha256
    hashes = _keep_files(session, quote, job, party)
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
        payload={"number": quote.number, "document_sha256": quote.document_sha256, **hashes},
    )
    office.write_audit(
        session, actor=actor.id, action="quote_issued", subject=quote.id, now=now, old=QuoteState.DRAFTED,
        new={"number": quote.number, "document_sha256": quote.document_sha256, **hashes},
    )  # fmt: skip


def _keep_files(session: Session, quote: Quote, job: Job, party: Party) -> dict[str, str]:
    """Render the files of a quote that is being issued and keep them. Answers the hashes of those that name nobody.

    The others' stand with them alone: what is only added to would prove a guessed name for ever.
    """
    assert quote.document is not None and quote.document_sha256 is not None
    addressee = Addressee(party.name, party.address, party.contact, job.label)
    hashes = {}
    for one in rendered(json.loads(quote.document), quote.document_sha256, addressee):
        sha256 = sealing.sha256_of(one.body)
        quotes.keep_file(session, QuoteFile(quote_id=quote.id, kind=one.kind, names_party=one.names_party,
                                            body=one.body, sha256=sha256))  # fmt: skip
        if not one.names_party:
            hashes[f"{one.kind}_sha256"] = sha256
    return hashes


def file_of(session: Session, quote: Quote, kind: str) -> QuoteFile:
    """A sealed file of an issued quote. Raises 409 for a draft, 404 for a quote that was issued without files."""
    if quote.document is None:
        raise conflict("a draft has no sealed files; issue it first")
    found = quotes.file_of(session, quote.id, kind)
    if found is None:
        detail = f"this quote was issued before its {KINDS[kind].suffix} was kept with it; its sealed document is there"
        raise Problem(404, "not_found", detail)
    return found


def files_hold(session: Session, quote: Quote) -> bool | None:
    """Whether every file that is kept still has its hash; None for a quote that was issued without files."""
    kept = quotes.every_file(session, quote.id)
    return all(sealing.sha256_of(one.body) == one.sha256 for one in kept) if kept else None


def _check_findings(findings: list[dict[str, Any]], accepted: tuple[Acceptance, ...]) -> None:
    asked = {(one["code"], one["where"]) for one in findings if one["strength"] == "ask"}
    for one in accepted:
        if (one.code, one.where) not in asked:
            raise conflict(f"there is no finding {one.code} at {one.where} that waits to be accepted")
    stops, asks = what_stands_against_issue(findings, {(one.code, one.where) for one in accepted})
    if stops or asks:
        raise Problem(
            409,
            "findings_stand",
            f"{len(stops)} findings forbid the issue and {len(asks)} wait for someone to accept them",
            more={"stops": stops, "asks": asks},
        )


def _valid_until(workings: dict[str, Any], today: date, settings: Settings) -> date:
    """The last day of the offer: no later than the first subcontract price that ends."""
    held = [date.fromisoformat(one["held_until"]) for one in workings["price"].get("subcontract", ())]
    return min([today + timedelta(days=settings.quote_valid_days), *(day for day in held if day >= today)])


def party_hash(salt: str, party: Party) -> str:
    """SHA-256 of the salt and the party: it proves who was meant, and says nothing once the party is erased."""
    return sealing.party_hash(salt=salt, name=party.name, address=party.address, contact=party.contact)


def _head(session: Session, quote: Quote, job: Job, accepted: tuple[Acceptance, ...]) -> dict[str, Any]:
    assert quote.issued_at is not None and quote.valid_until is not None
    kept, whys = quotes.prices_of(session, quote.id), quotes.whys_of(session, quote.id)
    return {
        "quote_id": quote.id,
        "number": quote.number,
        "revision": quote.revision,
        "job_number": job.number,
        "issued_at": quote.issued_at.isoformat(),
        "valid_until": quote.valid_until.isoformat(),
        "party_hash": quote.party_hash,
        "unit_prices_sha256": None if kept is None else kept.sha256,
        "why_sha256": None if whys is None else whys.sha256,
        "accepted": [one.model_dump() for one in accepted],
    }


def verify(session: Session, quote: Quote, job: Job) -> sealing.Verified:
    """Whether the sealed bytes still have their hash and the party is still who it was. Raises 409 for a draft."""
    if quote.document is None or quote.document_sha256 is None or quote.party_salt is None:
        raise conflict("a draft has no sealed document; issue it first")
    party = jobs.party_of(session, job)
    return sealing.verify(
        quote.document,
        quote.document_sha256,
        salt=quote.party_salt,
        party={"name": party.name, "address": party.address, "contact": party.contact},
        erased=party.erased_at is not None,
    )


def whys_hold(session: Session, quote: Quote) -> bool | None:
    """Whether the reasons that were sealed apart still have the hash in the document; None where none are apart."""
    assert quote.document is not None
    kept, sealed = quotes.whys_of(session, quote.id), json.loads(quote.document)["quote"].get("why_sha256")
    return None if sealed is None else kept is not None and sealing.sha256_of(kept.body) == sealed


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
    was = quote.state
    if event is QuoteState.ACCEPTED and quote.valid_until is not None and today > quote.valid_until:
        quotes.add_event(session, quote, QuoteState.LAPSED, by="the calendar", now=now)
        office.write_audit(
            session, actor=actor.id, action="quote_lapsed", subject=quote.id, now=now, old=was, new=QuoteState.LAPSED
        )
        session.commit()
        raise conflict(f"the quote was open until {quote.valid_until}; make a new one")
    quotes.add_event(session, quote, event, by=by or actor.name, now=now, reason=reason or "")
    office.write_audit(
        session, actor=actor.id, action=f"quote_{event}", subject=quote.id, now=now, old=was, new=event,
        why=reason or "",
    )  # fmt: skip


# --- variations ---


def propose_variation(
    session: Session,
    quote: Quote,
    body: VariationRequest,
    *,
    money: MoneyRules,
    actor: Actor,
    now: datetime,
    today: date,
) -> Variation:
    """A change of the works at the quote's own prices. The quote is locked by the caller and is not written on.

    Its tax point is taken to be the completion of the works, or today where that is over. Raises a 409 problem for a
    quote that is not accepted, 422 for a part or trade that the quote has no price for.
    """
    if quote.state != QuoteState.ACCEPTED:
        raise conflict(f"only an accepted quote has variations; this one is {quote.state}")
    kept = quotes.prices_of(session, quote.id)
    if kept is None or sealing.sha256_of(kept.body) != kept.sha256:
        raise conflict("the unit prices that were sealed with this quote are not whole")
    completed_on = date.fromisoformat(json.loads(quote.workings)["basis"]["works_end_on"])
    try:
        price = variation_price(
            parts=[(one.sku, one.quantity) for one in body.parts],
            hours=[(one.trade, one.hours_h) for one in body.hours],
            prices=prices_from_document(json.loads(kept.body)),
            on=max(today, completed_on),
            series=money.vat,
        )
    except UnknownPart as error:
        raise one_fault(
            where="the variation", field="parts", value=None, message=str(error), expected="a SKU of the quote's list"
        ) from error
    document = to_json(plain(price))
    variation = Variation(
        id=new_id(),
        quote_id=quote.id,
        place=len(quotes.variations(session, quote.id)) + 1,
        state=VariationState.PROPOSED,
        reason=body.reason,
        note=body.note,
        document=document,
        document_sha256=sealing.sha256_of(document),
        net_pence=price.net_pence,
        vat_pence=price.vat_pence,
        total_pence=price.total_pence,
        cost_pence=price.cost_pence,
        proposed_by=actor.name,
        proposed_at=now,
    )
    session.add(variation)
    session.flush()
    office.write_audit(
        session, actor=actor.id, action="variation_proposed", subject=quote.id, now=now, why=body.note,
        new={"variation": variation.id, "place": variation.place, "total_pence": variation.total_pence},
    )  # fmt: skip
    return variation


def decide_variation(
    session: Session, quote: Quote, variation_id: str, state: VariationState, body: DecisionRequest, *, actor: Actor,
    now: datetime,
) -> Variation:  # fmt: skip
    """Approve or refuse a variation by name. Raises 404, and 409 for one that was decided already."""
    found = quotes.variation_by_id(session, quote.id, variation_id) if is_id(variation_id) else None
    if found is None:
        raise not_found("variation")
    if found.state != VariationState.PROPOSED:
        raise conflict(f"this variation was {found.state} by {found.decided_by} already")
    found.state, found.decided_by, found.decided_at = state, body.by, now
    found.decided_reason = body.reason or ""
    session.add(found)
    if state is VariationState.APPROVED:
        quotes.note_event(
            session, quote, VARIED, by=body.by, now=now, reason=body.reason or "",
            payload={"variation": found.id, "place": found.place, "total_pence": found.total_pence},
        )  # fmt: skip
    office.write_audit(
        session, actor=actor.id, action=f"variation_{state}", subject=quote.id, now=now, why=body.reason or "",
        old=VariationState.PROPOSED, new={"variation": found.id, "place": found.place, "by": body.by},
    )  # fmt: skip
    return found


def order_value_pence(quote: Quote, variations: Iterable[Variation]) -> int | None:
    """What the customer ordered so far: the accepted total with the approved variations; None before acceptance."""
    if quote.state != QuoteState.ACCEPTED or quote.total_pence is None:
        return None
    return quote.total_pence + sum(one.total_pence for one in variations if one.state == VariationState.APPROVED)


# --- reading ---


def difference(session: Session, before: Quote, after: Quote, book: RulesBook) -> tuple[sealing.Change, ...]:
    """What differs between two quotes of one job, in words and without cost."""
    was, becomes = (without_cost(json.loads(current_workings(session, one, book))) for one in (before, after))
    return sealing.difference(was, becomes)


def former_revision(session: Session, quote: Quote, from_id: str | None) -> Quote:
    """The quote to compare with: the given one of the same job, otherwise the revision before. Raises 404."""
    if from_id is None:
        found = quotes.issued_before(session, quote)
    else:
        of_job = quotes.quotes_of_job(session, quote.job_id)
        found = next((one for one in of_job if one.id == from_id), None)
    if found is None:
        raise not_found("earlier quote of this job")
    return found


def shown_document(
    session: Session, quote: Quote, job: Job, book: RulesBook, *, sees_cost: bool, today: date, why: bool = False
) -> dict[str, Any]:
    """The document behind a quote, without cost for those who may not see it.

    A draft is shown at present prices and under the firm's record of today, an issued quote as it was sealed.

    With `why` it holds the reason of each figure too: for an issued quote exactly those that were sealed with it.
    """
    document: dict[str, Any] = {"label": job.label, **json.loads(current_workings(session, quote, book))}
    document.pop("why", None)
    if quote.state == QuoteState.DRAFTED:
        document = with_firm(session, document, book, today)
    if why:
        document["why"] = json.loads(current_whys(session, quote, book))
    shown: dict[str, Any] = document if sees_cost else without_cost(document)
    return shown
