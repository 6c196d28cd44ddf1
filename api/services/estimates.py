"""An estimate, worked out and written as JSON. The only place where the API meets the calculation."""

from datetime import date
from typing import Any

from pydantic_core import to_json
from sqlmodel import Session

from api.errors import one_fault
from api.services.rules import RulesBook
from models.document import estimate_document, without_cost
from models.estimate import Choices, Estimate, estimate
from models.survey import Survey


def work_out(book: RulesBook, session: Session, survey: Survey, choices: Choices, *, today: date) -> Estimate:
    """One estimate under the rules in force on the day of pricing.

    Raises a 422 problem where the survey or the choices name something that the rules do not hold.
    """
    rules = book.in_force(session, choices.priced_on or today)
    try:
        return estimate(survey, choices, rules, today=today)
    except ValueError as error:
        raise one_fault(
            where="the survey or the choices", field="", value=None, message=str(error), expected="a name that is known"
        ) from error


def document_of(worked_out: Estimate, *, why: bool, sees_cost: bool) -> dict[str, Any]:
    """The public fields of an estimate; without cost for those who may not see it."""
    document = estimate_document(worked_out, why=why)
    shown: dict[str, Any] = document if sees_cost else without_cost(document)
    return shown


def estimate_bytes(worked_out: Estimate, *, why: bool, sees_cost: bool) -> bytes:
    """The same as JSON text."""
    return to_json(document_of(worked_out, why=why, sees_cost=sees_cost))
