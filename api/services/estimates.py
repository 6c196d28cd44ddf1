"""An estimate, worked out and written as JSON. The only place where the API meets the calculation."""

import logging
from datetime import date
from typing import Any

from pydantic_core import to_json
from sqlmodel import Session

from api.errors import Problem, one_fault
from api.services.rules import RulesBook
from models.design.climate import UnknownStation
from models.design.heat_loss import OutdoorTooWarm
from models.design.u_values import UnknownRow
from models.document import estimate_document, estimate_values, without_cost
from models.estimate import Choices, Estimate, UnknownChoice, estimate
from models.labour.search import Effort
from models.reference.dated import NotYetInForce
from models.survey import Survey

_DAYS = ("works_end_on", "works_start_on", "grant_applied_on", "priced_on")
_log = logging.getLogger("footing.estimate")


def work_out(
    book: RulesBook, session: Session, survey: Survey, choices: Choices, *, today: date, effort: Effort = "live"
) -> Estimate:
    """One estimate under the rules in force on the day of pricing; a quote is planned with the effort "thorough".

    Raises a 422 problem where the survey or the choices name something that the rules do not hold.
    """
    rules = book.in_force(session, choices.priced_on or today)
    try:
        return estimate(survey, choices, rules, today=today, effort=effort)
    except ValueError as error:
        raise refused(error, choices) from error


def refused(error: ValueError, choices: Choices) -> Problem:
    """The 422 problem of a survey or of choices that hold together but cannot be worked out: place, field, value."""
    match error:
        case UnknownChoice():
            there = f"one of {', '.join(error.there)}" if error.there else "nothing: there is none to choose"
            return one_fault(
                where="the choices",
                field=error.field,
                value=error.value,
                message=f"{error.field} '{error.value}' is not there",
                expected=there,
                path=f"choices.{error.field}",
            )
        case UnknownStation():
            return one_fault(
                where="the house",
                field="weather_station",
                value=error.station,
                message=f"there is no weather station '{error.station}' in the table of design temperatures",
                expected=f"one of {', '.join(error.there)}",
            )
        case UnknownRow():
            return one_fault(
                where=f"construction '{error.construction}'",
                field=error.field,
                value=error.value,
                message=error.said,
                expected=error.wanted,
            )
        case OutdoorTooWarm():
            return one_fault(
                where=f"room '{error.room}'",
                field="wanted_temp_c",
                value=error.temp_c,
                message=f"wanted_temp_c is {error.temp_c:g}, which is not above the design outdoor temperature",
                expected=f"more than {error.outdoor_temp_c:.1f} degrees C",
            )
        case NotYetInForce():
            given = {name: getattr(choices, name) for name in _DAYS}
            field = next((name for name, day in given.items() if day is not None and day < error.first), "priced_on")
            return one_fault(
                where="the choices",
                field=field,
                value=(given[field] or error.on).isoformat(),
                message=f"{field} leads to {error.on}, and there is no {error.name.replace('_', ' ')} for that day",
                expected=f"a day from {error.first} on",
                path=f"choices.{field}",
            )
    # A formula refused a value that every check had let through: the answer is honest, and the log says to look.
    _log.error("an estimate was refused by a formula", exc_info=error)
    return one_fault(
        where="the survey",
        field="",
        value=None,
        message=str(error),
        expected="a house within what the formula is for",
    )


def document_of(worked_out: Estimate, *, why: bool, sees_cost: bool, sensitivity: bool = False) -> dict[str, Any]:
    """The public fields of an estimate; without cost for those who may not see it."""
    document = estimate_document(worked_out, why=why, sensitivity=sensitivity)
    shown: dict[str, Any] = document if sees_cost else without_cost(document)
    return shown


def estimate_bytes(worked_out: Estimate, *, why: bool, sees_cost: bool, sensitivity: bool = False) -> bytes:
    """The same as JSON text."""
    if sees_cost:
        return to_json(estimate_values(worked_out, why=why, sensitivity=sensitivity))
    return to_json(document_of(worked_out, why=why, sees_cost=False, sensitivity=sensitivity))
