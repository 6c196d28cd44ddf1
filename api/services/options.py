"""Several choices of one survey worked out side by side, and the curve over flow temperatures, as JSON text."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from pydantic_core import to_json
from sqlmodel import Session

from api.errors import Problem
from api.services.estimates import refused
from api.services.rules import RulesBook
from models.document import options_document, without_cost
from models.estimate import Choices, Estimate, check_choices
from models.options import FlowCurve, OptionsAnswer, flow_curve, options
from models.rules import Rules
from models.survey import Survey


def work_out_options(
    book: RulesBook, session: Session, survey: Survey, choices: Sequence[Choices], *, today: date, curve: bool
) -> tuple[OptionsAnswer, FlowCurve | None]:
    """One estimate for each set of choices under the rules of its day of pricing; the curve is that of the first.

    Raises a 422 problem where the survey or one of the choices names something that the rules do not hold.
    """
    in_force = [book.in_force(session, its.priced_on or today) for its in choices]
    for number, (its, rules) in enumerate(zip(choices, in_force, strict=True), 1):
        try:
            check_choices(survey, its, rules)
        except ValueError as error:
            raise _of_option(refused(error, its), number) from error
    estimates: dict[int, Estimate] = {}
    for version in _different(in_force):
        places = [place for place, rules in enumerate(in_force) if rules is version]
        alike = [choices[place] for place in places]
        try:
            answer = options(survey, alike, version, today=today)
        except ValueError as error:
            raise refused(error, alike[0]) from error
        estimates |= dict(zip(places, answer.estimates, strict=True))
    found = flow_curve(survey, choices[0], in_force[0], today=today) if curve else None
    return OptionsAnswer(tuple(estimates[place] for place in range(len(choices)))), found


def options_bytes(answer: OptionsAnswer, curve: FlowCurve | None, *, sees_cost: bool) -> bytes:
    """The answer as JSON text; without cost for those who may not see it."""
    document = options_document(answer, curve)
    return to_json(document if sees_cost else without_cost(document))


def _different(in_force: Sequence[Rules]) -> list[Rules]:
    return list({id(rules): rules for rules in in_force}.values())


def _of_option(problem: Problem, number: int) -> Problem:
    """The problem with the number of the option in it, 1 the first."""
    problem.errors = [
        replace(fault, where=f"option {number}", path=f"choices.{number - 1}.{fault.field}") for fault in problem.errors
    ]
    return problem
