"""Price lists: read, drafted, imported, uplifted, published, undone; and the re-pricing of open drafts."""

import hashlib
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request, Response
from starlette.datastructures import UploadFile

from api.answers import answer
from api.body import RawJson, documented, parse
from api.deps import (
    CurrentActor,
    IdempotencyKey,
    IfMatch,
    Now,
    Once,
    OnceBareDep,
    OnceDep,
    ReadSession,
    RulesBookDep,
    Today,
    WriteSession,
    kept,
)
from api.errors import Problem, conflict
from api.ids import cursor_of, text_of_cursor
from api.routes.jobs import Cursor, Limit
from api.schemas.prices import (
    AddedPublic,
    ChangedPublic,
    ChangesPublic,
    ConfirmRequest,
    DraftRequest,
    ImportPublic,
    LineRequest,
    PriceLinePage,
    PriceListPage,
    PriceListPublic,
    PublishRequest,
    RepricingList,
    RepricingPublic,
    StaleLines,
    UpliftPublic,
    UpliftRequest,
    price_line_public,
)
from api.security import require
from api.services import price_imports, price_lists, repricing
from api.services.price_lists import draft_for, list_for
from api.services.repricing import wake_after_commit
from api.store import prices
from api.versions import check_version
from models.catalogue.imports import export_csv

router = APIRouter(tags=["price lists"])
_CSV_TYPES = frozenset({"text/csv", "application/csv", "text/plain", "application/vnd.ms-excel"})
Search = Annotated[str, Query(max_length=100, description="Words that SKU, description, supplier or class hold.")]
Days = Annotated[int, Query(ge=0, le=3650, description="Days since a price was last confirmed.")]


@dataclass(frozen=True, slots=True)
class CsvUpload:
    """A CSV file that came as the body itself or as the field `file` of a form."""

    data: bytes
    name: str


async def csv_upload(request: Request) -> CsvUpload:
    """The bytes of a CSV file. Raises a 415 problem for another media type, 422 for no file."""
    media_type = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    name = ""
    if media_type == "multipart/form-data":
        async with request.form(max_files=1, max_fields=20) as form:
            file = form.get("file")
            if not isinstance(file, UploadFile):
                raise Problem(422, "invalid", "the form has no field file with a CSV file in it")
            data, name = await file.read(), (file.filename or "")[:120]
    elif media_type in _CSV_TYPES:
        data = await request.body()
    else:
        detail = f"send CSV with Content-Type: text/csv, or a form with a file, not {media_type[:80] or 'nothing'}"
        raise Problem(415, "wrong_media_type", detail)
    if not data.strip():
        raise Problem(422, "invalid", "the file is empty; its first row names the columns")
    return CsvUpload(data, name)


Csv = Annotated[CsvUpload, Depends(csv_upload)]
_CSV_BODY: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {
            "text/csv": {"schema": {"type": "string"}},
            "multipart/form-data": {
                "schema": {
                    "type": "object",
                    "required": ["file"],
                    "properties": {"file": {"type": "string", "format": "binary"}},
                }
            },
        },
    }
}


@router.get("/price-lists", summary="List price lists", response_model=PriceListPage)
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


@router.post(
    "/price-lists",
    summary="Draft a price list",
    status_code=201,
    responses={201: {"model": PriceListPublic}},
    openapi_extra=documented("DraftRequest", DraftRequest, {"of_today": {"value": {"note": "spring prices"}}}),
)
def post_price_list(
    actor: CurrentActor, raw: RawJson, session: WriteSession, once: OnceDep, now: Now, today: Today
) -> Response:
    """A draft with the lines of another list, or of the one in force today."""
    require(actor, "edit_prices")
    wanted = parse(DraftRequest, raw, where="the draft")

    def make() -> Response:
        base_id = wanted.based_on or prices.list_in_force(session, today)
        if base_id is None:
            raise conflict("no price list is in force today, so there is nothing to draft from")
        base = list_for(session, base_id)
        head = price_lists.make_draft(session, actor, base, note=wanted.note, now=now, today=today)
        location = f"/api/v1/price-lists/{head.id}"
        return answer(PriceListPublic.of(head), status=201, version=head.edition, location=location)

    return once.answer(make)


@router.get("/price-lists/{list_id}", summary="Read a price list", response_model=PriceListPublic)
def get_price_list(list_id: str, actor: CurrentActor, session: ReadSession) -> Response:
    """A price list without its lines."""
    head = list_for(session, list_id)
    return answer(PriceListPublic.of(head), version=head.edition)


@router.get("/price-lists/{list_id}/lines", summary="Read the lines of a price list", response_model=PriceLinePage)
def list_price_lines(
    list_id: str,
    actor: CurrentActor,
    session: ReadSession,
    limit: Limit = 50,
    cursor: Cursor = None,
    search: Search = "",
) -> PriceLinePage:
    """Lines by SKU; those about cost hold it only for people who may see it."""
    head = list_for(session, list_id)
    after = "" if cursor is None else text_of_cursor(cursor)
    words = search.replace("\0", "")
    found = prices.price_lines(
        session, head.id, after_sku=after, limit=limit + 1, search=words, about_cost=actor.sees_cost
    )
    shown = found[:limit]
    return PriceLinePage(
        items=[price_line_public(one, sees_cost=actor.sees_cost) for one in shown],
        next_cursor=cursor_of(shown[-1].sku) if len(found) > limit else None,
    )


@router.get(
    "/price-lists/{list_id}/lines.csv",
    summary="Export a price list",
    response_class=Response,
    responses={200: {"content": {"text/csv": {"schema": {"type": "string"}}}}},
)
def export_price_lines(list_id: str, actor: CurrentActor, session: ReadSession) -> Response:
    """All lines as CSV. No cell is a formula to a spreadsheet, and the import reads the file back without a change."""
    require(actor, "see_cost")
    head = list_for(session, list_id)
    data = export_csv(prices.lines_of(session, head.id).values())
    headers = {"Content-Disposition": f'attachment; filename="{head.version}.csv"'}
    return Response(data, media_type="text/csv; charset=utf-8", headers=headers)


@router.put(
    "/price-lists/{list_id}/lines/{sku}",
    summary="Change a line of a draft",
    responses={200: {"content": {"application/json": {"schema": {"type": "object"}}}}},
    openapi_extra=documented("LineRequest", LineRequest, {"dearer": {"value": {"cost_gbp": "12.40"}}}),
)
@kept
def put_price_line(
    list_id: str,
    sku: str,
    actor: CurrentActor,
    raw: RawJson,
    session: WriteSession,
    now: Now,
    today: Today,
    if_match: IfMatch = None,
) -> Response:
    """Change one line, or add it. What is left out stays as it is."""
    wanted = parse(LineRequest, raw, where=f"line {sku[:40]}")
    head = draft_for(session, actor, list_id, if_match)
    line, new = price_lists.save_line(session, actor, head, sku, wanted.cells(), now=now, today=today)
    body = price_line_public(line, sees_cost=actor.sees_cost)
    return answer(body, status=201 if new else 200, version=head.edition)


@router.post(
    "/price-lists/{list_id}/imports",
    summary="Import a CSV file",
    responses={200: {"model": ImportPublic}},
    openapi_extra=_CSV_BODY,
)
def post_import(
    list_id: str,
    actor: CurrentActor,
    upload: Csv,
    session: WriteSession,
    book: RulesBookDep,
    request: Request,
    now: Now,
    today: Today,
    if_match: IfMatch = None,
    key: IdempotencyKey = None,
    dry_run: Annotated[bool, Query(description="Show only; nothing is written.")] = True,
    confirm: Annotated[bool, Query(description="Lines that stay as they are count as confirmed today.")] = False,
    ticked: Annotated[list[str] | None, Query(description="SKUs whose rise above 15 % was seen and is meant.")] = None,
) -> Response:
    """A dry run first; then, with `dry_run=false`, into this draft, or into a new draft of a published list.

    A SKU that the file does not name stays untouched. A rise above 15 % is held back unless its SKU is ticked. Rows
    that cannot be taken are named with their reason and left out.
    """
    require(actor, "edit_prices")
    if dry_run:
        head = list_for(session, list_id)
        plan = price_imports.dry_run(session, head, upload.data, book, today=today)
        return answer(ImportPublic.of(plan, dry_run=True), version=head.edition)
    ticks = frozenset(ticked or ())
    told = hashlib.sha256(upload.data + repr((confirm, sorted(ticks))).encode()).hexdigest()
    once = Once(session, actor, key, f"POST {request.url.path}", told, now)

    def make() -> Response:
        head = list_for(session, list_id, lock=True)
        check_version(head.edition, if_match, None)
        done = price_imports.apply(
            session, actor, head, upload.data, book, ticked=ticks, confirm=confirm, file_name=upload.name, now=now,
            today=today,
        )  # fmt: skip
        body = ImportPublic.of(done.plan, dry_run=False, held_back=done.held_back, draft=done.draft)
        return answer(body, version=(done.draft or head).edition)

    return once.answer(make)


@router.post(
    "/price-lists/{list_id}/uplifts",
    summary="Change costs by a ratio",
    responses={200: {"model": UpliftPublic}},
    openapi_extra=documented(
        "UpliftRequest",
        UpliftRequest,
        {"four_per_cent": {"value": {"change_ratio": "0.04", "round_to_gbp": "0.05", "margin_class": "PIPE"}}},
    ),
)
def post_uplift(
    list_id: str,
    actor: CurrentActor,
    raw: RawJson,
    session: WriteSession,
    once: OnceDep,
    now: Now,
    today: Today,
    if_match: IfMatch = None,
) -> Response:
    """Show, or with `dry_run` false write into a draft, the costs of a supplier, class or group changed by a ratio."""
    require(actor, "edit_prices")
    wanted = parse(UpliftRequest, raw, where="the uplift")
    uplift = price_lists.uplift_of(**wanted.model_dump(exclude={"dry_run"}))
    if wanted.dry_run:
        head = list_for(session, list_id)
        changes = price_lists.preview_uplift(session, head, uplift, today=today)
        return answer(_uplift_public(True, changes, head.edition), version=head.edition)

    def make() -> Response:
        head = draft_for(session, actor, list_id, if_match)
        changes = price_lists.apply_uplift(session, actor, head, uplift, now=now, today=today)
        return answer(_uplift_public(False, changes, head.edition), version=head.edition)

    return once.answer(make)


def _uplift_public(dry_run: bool, changes: tuple[Any, ...], edition: int) -> UpliftPublic:
    return UpliftPublic(dry_run=dry_run, changed=[ChangedPublic.of(one) for one in changes], edition=edition)


@router.get("/price-lists/{list_id}/changes", summary="Compare with the list before", response_model=ChangesPublic)
def get_changes(list_id: str, actor: CurrentActor, session: ReadSession) -> ChangesPublic:
    """What is new and changed in a list against the one that it was copied from."""
    require(actor, "see_cost")
    added, changed = price_lists.changes_since_base(session, list_for(session, list_id))
    return ChangesPublic(
        added=[
            AddedPublic(row=0, sku=one.sku, description=one.description, cost_gbp=str(one.cost_gbp)) for one in added
        ],
        changed=[ChangedPublic.of(one) for one in changed],
    )


@router.get("/price-lists/{list_id}/stale", summary="List prices not confirmed lately", response_model=StaleLines)
def get_stale(
    list_id: str, actor: CurrentActor, session: ReadSession, today: Today, days: Days = 90
) -> StaleLines:
    """Lines whose price nobody confirmed for more than so many days, the oldest first."""
    require(actor, "see_cost")
    found = price_lists.stale(session, list_for(session, list_id), days=days, today=today)
    return StaleLines(days=days, items=[price_line_public(one, sees_cost=True) for one in found])


@router.post(
    "/price-lists/{list_id}/confirmations",
    summary="Confirm prices of a draft",
    responses={200: {"model": PriceListPublic}},
    openapi_extra=documented("ConfirmRequest", ConfirmRequest, {"two": {"value": {"skus": ["PRI-T28", "PRI-E28"]}}}),
)
def post_confirmation(
    list_id: str,
    actor: CurrentActor,
    raw: RawJson,
    session: WriteSession,
    once: OnceDep,
    now: Now,
    today: Today,
    if_match: IfMatch = None,
) -> Response:
    """Write down in a draft that prices still hold today."""
    wanted = parse(ConfirmRequest, raw, where="the confirmation")

    def make() -> Response:
        head = draft_for(session, actor, list_id, if_match)
        price_lists.confirm(session, actor, head, frozenset(wanted.skus), now=now, today=today)
        return answer(PriceListPublic.of(head), version=head.edition)

    return once.answer(make)


@router.post(
    "/price-lists/{list_id}/publish",
    summary="Publish a draft",
    responses={200: {"model": PriceListPublic}},
    openapi_extra=documented("PublishRequest", PublishRequest, {"from_may": {"value": {"valid_from": "2026-05-01"}}}),
)
def post_publish(
    list_id: str,
    actor: CurrentActor,
    raw: RawJson,
    session: WriteSession,
    once: OnceDep,
    book: RulesBookDep,
    request: Request,
    now: Now,
    today: Today,
    if_match: IfMatch = None,
) -> Response:
    """Put a draft in force from a day on. Open drafts of quotes are re-priced in the background from that day."""
    require(actor, "edit_prices")
    wanted = parse(PublishRequest, raw, where="the publication")

    def make() -> Response:
        head = draft_for(session, actor, list_id, if_match)
        wake_after_commit(session, request.app.state.repricing)
        price_lists.publish(
            session, actor, head, book, valid_from=wanted.valid_from or today, firm=wanted.firm, now=now, today=today
        )
        return answer(PriceListPublic.of(head), version=head.edition)

    return once.answer(make)


@router.post(
    "/price-lists/{list_id}/undo", summary="Undo a publication", responses={200: {"model": PriceListPublic}}
)
def post_undo(
    list_id: str,
    actor: CurrentActor,
    session: WriteSession,
    once: OnceBareDep,
    book: RulesBookDep,
    request: Request,
    now: Now,
    today: Today,
    if_match: IfMatch = None,
) -> Response:
    """Publish the lines of the former list again, as a new version."""
    require(actor, "edit_prices")

    def make() -> Response:
        head = list_for(session, list_id, lock=True)
        check_version(head.edition, if_match, None)
        wake_after_commit(session, request.app.state.repricing)
        again = price_lists.undo(session, actor, head, book, now=now, today=today)
        return answer(PriceListPublic.of(again), version=again.edition, location=f"/api/v1/price-lists/{again.id}")

    return once.answer(make)


@router.post("/price-lists/{list_id}/retire", summary="Put a list aside", responses={200: {"model": PriceListPublic}})
def post_retire(
    list_id: str,
    actor: CurrentActor,
    session: WriteSession,
    once: OnceBareDep,
    now: Now,
    today: Today,
    if_match: IfMatch = None,
) -> Response:
    """Put a draft aside, or a published list before its first day."""
    require(actor, "edit_prices")

    def make() -> Response:
        head = list_for(session, list_id, lock=True)
        check_version(head.edition, if_match, None)
        price_lists.retire(session, actor, head, now=now, today=today)
        return answer(PriceListPublic.of(head), version=head.edition)

    return once.answer(make)


@router.get("/repricing-runs", summary="See how re-pricing goes on", response_model=RepricingList)
def list_repricing_runs(actor: CurrentActor, session: ReadSession) -> RepricingList:
    """The latest re-pricings of open drafts with their progress, the newest first."""
    require(actor, "see_cost")
    return RepricingList(items=[RepricingPublic.of(run) for run in repricing.runs(session)])
