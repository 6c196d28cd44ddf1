"""The days of a quote: sheets, pick lists, delivery checks, the customer's sentence, and what if."""

from typing import Annotated, Literal

from fastapi import APIRouter, Query, Response

from api.answers import answer
from api.deps import CurrentActor, ReadSession, RulesBookDep, Today
from api.routes.quotes import quote_for
from api.schemas.days import DaysPublic
from api.services import quotes as life
from api.services.days import quote_days

router = APIRouter(tags=["quotes"])
Include = Annotated[
    Literal["what_if"] | None, Query(description="`what_if`: rain, a damaged part, a late trade, another concrete.")
]


@router.get(
    "/quotes/{quote_id}/days",
    summary="Read the day sheets, pick lists and checks of a quote",
    responses={200: {"model": DaysPublic}},
    response_class=Response,
)
def get_days(
    quote_id: str,
    actor: CurrentActor,
    session: ReadSession,
    book: RulesBookDep,
    today: Today,
    include: Include = None,
) -> Response:
    """What the people of a quote take with them, from the plan and bill of the quote itself.

    What-ifs are worked out anew under the rules of the day of pricing; they change nothing. 409 while there is no plan.
    """
    quote, job = quote_for(session, actor, quote_id)
    document = life.shown_document(session, quote, job, book, sees_cost=actor.sees_cost, today=today)
    return answer(quote_days(session, quote, document, book, what_if=include is not None))
