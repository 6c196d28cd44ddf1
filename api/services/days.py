"""The days of an estimate or a quote: papers from its document, what-ifs from the estimate."""

import json
import random
from collections.abc import Collection
from datetime import date
from functools import lru_cache
from typing import Any

from pydantic_core import to_json
from sqlmodel import Session

from api.errors import conflict
from api.services.estimates import document_of, estimate_bytes, work_out
from api.services.rules import RulesBook
from models.days import day_papers, papers_document, what_if_document, what_ifs, works_of
from models.estimate import Choices, Estimate
from models.labour.search import Effort
from models.labour.sheets import FirstUsed
from models.labour.what_if import Works
from models.records import Quote
from models.survey import Survey

_SEED = 20_260_101
"""The rain of every answer is drawn from the same seed, so that the same works have the same answer everywhere."""
_MOST_KEPT = 64


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
    papers = papers_of(document, book, session)
    if papers is None:
        raise conflict("this quote has no plan: a stop stands against it")
    if what_if:
        again = worked_out_again(session, quote, book)
        papers[WHAT_IF] = what_if_of(again, book, session)
        papers["same_days"] = again.plan is not None and again.plan.days == document["labour_plan"]["days"]
    return papers


def papers_of(document: dict[str, Any], book: RulesBook, session: Session | None) -> dict[str, Any] | None:
    """Day sheets, pick lists, delivery checks and the customer's sentence of a document; None without a plan.

    Without a session by the firm's files alone.
    """
    used = _first_used(book, session, date.fromisoformat(document["basis"]["priced_on"]))
    return papers_document(day_papers(document, used))


def _first_used(book: RulesBook, session: Session | None, on: date) -> FirstUsed:
    return book.first_used_of_files() if session is None else book.first_used(session, on)


def what_if_of(worked_out: Estimate, book: RulesBook, session: Session | None) -> list[dict[str, Any]]:
    """What rain, a damaged part, a late trade and another concrete would do; nothing where there is no plan.

    Without a session by the firm's files alone.
    """
    works = works_of(worked_out)
    if works is None:
        return []
    house = worked_out.survey.house
    used = tuple(_first_used(book, session, worked_out.priced_on).items())
    return json.loads(_asked(works, used, house.nation, house.climate_region, worked_out.works_start_on.month))  # type: ignore[no-any-return]


@lru_cache(maxsize=_MOST_KEPT)
def _asked(
    works: Works, used: tuple[tuple[str, tuple[str, ...]], ...], nation: str, climate_region: int, month: int
) -> str:
    """The answers as text: some seconds of work for the same works once."""
    groups: FirstUsed = dict(used)
    answers = what_ifs(
        works,
        groups,
        nation=nation,
        climate_region=climate_region,
        month=month,
        uniform=random.Random(_SEED).random,
    )
    return json.dumps(what_if_document(answers))


def worked_out_again(session: Session, quote: Quote, book: RulesBook) -> Estimate:
    """The estimate of a quote's own survey and choices under the rules of its day of pricing, planned thoroughly.

    Raises a 409 problem where the rules of that day no longer take them.
    """
    priced_on = date.fromisoformat(json.loads(quote.workings)["basis"]["priced_on"])
    survey, choices = Survey.model_validate_json(quote.survey), Choices.model_validate_json(quote.choices)
    try:
        return work_out(book, session, survey, choices, today=priced_on, effort="thorough")
    except ValueError as error:
        raise conflict(f"the survey of this quote cannot be worked out under the rules of today: {error}") from error
