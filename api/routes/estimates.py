"""An estimate of a survey that is sent along: worked out, answered, not stored."""

from typing import Annotated, Literal

from fastapi import APIRouter, Query, Response

from api.answers import JSON_TYPE
from api.body import RawJson, documented, parse
from api.deps import CurrentActor, EngineDep, RulesBookDep, Today
from api.examples import estimate_examples
from api.schemas.estimates import EstimateRequest
from api.services.days import effort_for, estimate_answer
from api.services.estimates import work_out
from api.store.engine import reading

router = APIRouter(prefix="/estimates", tags=["estimates"])
Include = Annotated[
    list[Literal["why", "sensitivity", "days", "what_if"]] | None,
    Query(
        description="`why`: every figure with its formula, its numbers, its source and how its inputs are known. "
        "`sensitivity`: which assumed values move the unit or the price most. "
        "`days`: day sheets, pick lists, delivery checks and the customer's sentence. "
        "`what_if`: rain, a damaged part, a late trade, another concrete. Either of the last two plans thoroughly."
    ),
]


@router.post(
    "",
    summary="Work out a survey",
    response_class=Response,
    responses={200: {"content": {JSON_TYPE: {"schema": {"$ref": "#/components/schemas/Estimate"}}}}},
    openapi_extra=documented("EstimateRequest", EstimateRequest, estimate_examples()),
)
def post_estimate(
    actor: CurrentActor,
    raw: RawJson,
    engine: EngineDep,
    book: RulesBookDep,
    today: Today,
    include: Include = None,
) -> Response:
    """Design, labour-day plan, bill, price and findings of a survey at some choices. Nothing is stored.

    A survey that is incomplete or does not hang together gets 422, naming room, field, value and what would be right.
    What an engineer would object to is a finding in the answer; on a *stop* the objects it concerns are null.
    """
    request = parse(EstimateRequest, raw, where="the request")
    with reading(engine) as session:
        worked_out = work_out(
            book, session, request.survey, request.choices, today=today, effort=effort_for(include or ())
        )
        body = estimate_answer(worked_out, include or (), book, session, sees_cost=actor.sees_cost)
    return Response(body, 200, None, JSON_TYPE)
