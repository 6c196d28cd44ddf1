"""The days of an estimate or a quote: papers from its document, what-ifs from the estimate."""

import json
from collections.abc import Collection
from typing import Any

from pydantic_core import to_json
from sqlmodel import Session

from api import papers
from api.errors import conflict
from api.services.estimates import document_of, estimate_bytes, work_out
from api.services.rules import RulesBook
from models.estimate import Choices, Estimate
from models.labour.search import Effort
from models.records import Quote
from models.survey import Survey

DAYS, WHAT_IF = "days", "what_if"
"""What may be asked for beside an estimate: papers for each day, and what happens if."""


def effort_for(wanted: Collection[str]) -> Effort:
    """The effort of the plan behind an answer: thorough where its days are asked for."""
    return "thorough" if DAYS in wanted or WHAT_IF in wanted else "live"


def estimate_answer(
    worked_out: Estimate, wanted: Collection[str], book: RulesBook, session: Session, *, sees_cost: bool
) -> bytes:
    """An estimate as JSON text with whatever of `why`, `sensitivity`, `days` and `what_if` is wanted."""
    why, sensitivity = "why" in wanted, "sensitivity" in wanted
    if effort_for(wanted) == "live":
        return estimate_bytes(worked_out, why=why, sees_cost=sees_cost, sensitivity=sensitivity)
    document = document_of(worked_out, why=why, sees_cost=sees_cost, sensitivity=sensitivity)
    if DAYS in wanted:
        document[DAYS] = papers_of(document, book, session)
    if WHAT_IF in wanted:
        document[WHAT_IF] = what_if_of(worked_out, book, session)
    return to_json(document)


def quote_days(
    session: Session, quote: Quote, document: dict[str, Any], book: RulesBook, *, what_if: bool
) -> dict[str, Any]:
    """The papers of a quote from its own document as the actor may see it, and the what-ifs under today's rules.

    Raises a 409 problem where the quote has no plan.
    """
    found = papers_of(document, book, session)
    if found is None:
        raise conflict("this quote has no plan: a stop stands against it")
    if what_if:
        again = worked_out_again(session, quote, book)
        found[WHAT_IF] = what_if_of(again, book, session)
        found["same_days"] = again.plan is not None and again.plan.days == document["labour_plan"]["days"]
    return found


def papers_of(document: dict[str, Any], book: RulesBook, session: Session) -> dict[str, Any] | None:
    """Day sheets, pick lists, delivery checks and the customer's sentence of a document; None without a plan."""
    return papers.papers_of(document, book.first_used(session, papers.priced_on(document)))


def what_if_of(worked_out: Estimate, book: RulesBook, session: Session) -> list[dict[str, Any]]:
    """What rain, a damaged part, a late trade and another concrete would do; nothing where there is no plan."""
    return papers.what_if_of(worked_out, book.first_used(session, worked_out.priced_on))


def worked_out_again(session: Session, quote: Quote, book: RulesBook) -> Estimate:
    """The estimate of a quote's own survey and choices under the rules of its day of pricing, planned thoroughly.

    Raises a 409 problem where the rules of that day no longer take them.
    """
    priced_on = papers.priced_on(json.loads(quote.workings))
    survey, choices = Survey.model_validate_json(quote.survey), Choices.model_validate_json(quote.choices)
    try:
        return work_out(book, session, survey, choices, today=priced_on, effort="thorough")
    except ValueError as error:
        raise conflict(f"the survey of this quote cannot be worked out under the rules of today: {error}") from error
