"""Price lists, to read."""

from datetime import date

from fastapi import APIRouter

from api.deps import CurrentActor, ReadSession
from api.errors import Problem, not_found
from api.ids import cursor_of, is_id, text_of_cursor
from api.routes.jobs import Cursor, Limit
from api.schemas.prices import PriceLinePage, PriceListPage, PriceListPublic, price_line_public
from api.store import prices
from models.records import PriceListRecord

router = APIRouter(prefix="/price-lists", tags=["price lists"])


def _list(session: ReadSession, list_id: str) -> PriceListRecord:
    found = prices.price_list(session, list_id) if is_id(list_id) else None
    if found is None:
        raise not_found("price list")
    return found


@router.get("", summary="List price lists", response_model=PriceListPage)
def list_price_lists(
    actor: CurrentActor, session: ReadSession, limit: Limit = 50, cursor: Cursor = None
) -> PriceListPage:
    """Price lists, the latest first day first."""
    before = None
    if cursor is not None:
        day, _, list_id = text_of_cursor(cursor).partition(" ")
        try:
            before = (date.fromisoformat(day), list_id)
        except ValueError as error:
            raise Problem(422, "invalid", "the cursor is not one that a list of ours gave") from error
    found = prices.price_lists(session, before=before, limit=limit + 1)
    shown = found[:limit]
    last = shown[-1] if len(found) > limit else None
    return PriceListPage(
        items=[PriceListPublic.of(one) for one in shown],
        next_cursor=None if last is None else cursor_of(f"{last.valid_from.isoformat()} {last.id}"),
    )


@router.get("/{list_id}", summary="Read a price list", response_model=PriceListPublic)
def get_price_list(list_id: str, actor: CurrentActor, session: ReadSession) -> PriceListPublic:
    """A price list without its lines."""
    return PriceListPublic.of(_list(session, list_id))


@router.get("/{list_id}/lines", summary="Read the lines of a price list", response_model=PriceLinePage)
def list_price_lines(
    list_id: str, actor: CurrentActor, session: ReadSession, limit: Limit = 50, cursor: Cursor = None
) -> PriceLinePage:
    """Lines by SKU; those about cost hold it only for people who may see it."""
    head = _list(session, list_id)
    after = "" if cursor is None else text_of_cursor(cursor)
    found = prices.price_lines(session, head.id, after_sku=after, limit=limit + 1)
    shown = found[:limit]
    return PriceLinePage(
        items=[price_line_public(one, sees_cost=actor.sees_cost) for one in shown],
        next_cursor=cursor_of(shown[-1].sku) if len(found) > limit else None,
    )
