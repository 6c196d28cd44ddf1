"""Whether the service lives, is ready, and how it does."""

from fastapi import APIRouter, Request, Response
from prometheus_client import CONTENT_TYPE_LATEST, generate_latest
from sqlalchemy import text

from api.deps import CurrentActor, EngineDep, RulesBookDep, Today
from api.errors import Problem
from api.security import require
from api.store.engine import reading
from api.store.migrate import is_current

router = APIRouter(tags=["health"])


@router.get("/health/live", summary="Whether the process answers")
def live() -> dict[str, str]:
    """Needs no key."""
    return {"status": "live"}


@router.get("/health/ready", summary="Whether work can be done")
def ready(actor: CurrentActor, engine: EngineDep, book: RulesBookDep, today: Today) -> dict[str, str]:
    """503 until the database stands at its newest tables and there are rules for today."""
    with reading(engine) as session:
        session.connection().execute(text("SELECT 1"))
        rules = book.in_force(session, today)
    if not is_current(engine):
        raise Problem(503, "busy", "the database is not at its newest tables yet", headers={"Retry-After": "5"})
    return {"status": "ready", "rules": rules.version, "price_list": rules.price_list.version}


@router.get("/metrics", summary="Counts and times for Prometheus", response_class=Response)
def metrics(request: Request, actor: CurrentActor) -> Response:
    """Only for the role owner."""
    require(actor, "see_metrics")
    return Response(generate_latest(request.app.state.metrics.registry), 200, {"Content-Type": CONTENT_TYPE_LATEST})
