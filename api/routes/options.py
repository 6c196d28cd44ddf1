"""Several choices of a survey that is sent along, side by side: worked out, answered, not stored."""

from typing import Any

from fastapi import APIRouter, Response

from api.answers import JSON_TYPE
from api.body import RawJson, documented, parse
from api.deps import CurrentActor, EngineDep, RulesBookDep, Today
from api.examples import estimate_examples
from api.schemas.options import OPTIONS_SCHEMA, OptionsRequest
from api.services.options import options_bytes, work_out_options
from api.store.engine import reading

router = APIRouter(prefix="/options", tags=["estimates"])


def _examples() -> dict[str, Any]:
    """The demo households as they are, and once more with their emitters kept."""
    return {
        name: {
            "summary": example["summary"],
            "value": {
                "survey": example["value"]["survey"],
                "choices": [example["value"]["choices"], {**example["value"]["choices"], "emitters": "keep"}],
                "curve": True,
            },
        }
        for name, example in estimate_examples().items()
    }


@router.post(
    "",
    summary="Lay several choices side by side",
    response_class=Response,
    responses={200: {"content": {JSON_TYPE: {"schema": OPTIONS_SCHEMA}}}},
    openapi_extra=documented("OptionsRequest", OptionsRequest, _examples()),
)
def post_options(actor: CurrentActor, raw: RawJson, engine: EngineDep, book: RulesBookDep, today: Today) -> Response:
    """Up to eight whole estimates of one survey, and what each flow temperature from 35 to 55 °C costs and takes.

    Nothing is stored. `options` are documents as of POST /estimates, in the order of `choices`. `curve` takes the first
    choices without their flow temperature: purchase and running at each temperature, the best over fifteen years, and
    a sentence where the work takes a day more.
    """
    request = parse(OptionsRequest, raw, where="the request")
    with reading(engine) as session:
        answer, curve = work_out_options(
            book, session, request.survey, request.choices, today=today, curve=request.curve
        )
    return Response(options_bytes(answer, curve, sees_cost=actor.sees_cost), 200, None, JSON_TYPE)
