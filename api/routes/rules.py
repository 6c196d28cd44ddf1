"""What the office edits besides prices: recipes, labour tasks, rates, crews, calendars, stage plans, the firm."""

import hashlib
import json
from typing import Annotated

from fastapi import APIRouter, Path, Request, Response

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
from api.errors import not_found
from api.routes.prices import Csv
from api.schemas.rules import (
    EffectPublic,
    EffectRowPublic,
    KindList,
    KindPublic,
    RuleContentRequest,
    RuleDraftRequest,
    RulePublishRequest,
    RuleSetDetail,
    RuleSetList,
    RuleSetPublic,
)
from api.security import require
from api.services import rule_sets as service
from api.services.repricing import wake_after_commit
from api.services.rule_sets import draft_for, known_kind, set_for
from api.store import rule_sets
from api.store.seed_files import TABLES_OF_KIND
from api.versions import check_version
from models.records import RuleSetRecord

router = APIRouter(prefix="/rule-sets", tags=["rules"])
Kind = Annotated[str, Path(description=f"One of {', '.join(TABLES_OF_KIND)}.")]
_CSV_BODY = {"requestBody": {"required": True, "content": {"text/csv": {"schema": {"type": "string"}}}}}


def _detail(head: RuleSetRecord) -> RuleSetDetail:
    return RuleSetDetail(**RuleSetPublic.of(head).model_dump(), content=json.loads(head.content))


@router.get("", summary="List the kinds of rules", response_model=KindList)
def list_kinds(actor: CurrentActor, session: ReadSession, today: Today) -> KindList:
    """The kinds of rules, their tables and the version in force today."""
    require(actor, "see_cost")
    items = []
    for kind, tables in TABLES_OF_KIND.items():
        head = service.in_force(session, kind, today)
        stands = None if head is None else RuleSetPublic.of(head)
        items.append(KindPublic(kind=kind, tables=list(tables), in_force=stands))
    return KindList(items=items)


@router.get("/{kind}", summary="List the versions of a kind", response_model=RuleSetList)
def list_versions(kind: Kind, actor: CurrentActor, session: ReadSession) -> RuleSetList:
    """The versions of a kind, the newest first."""
    require(actor, "see_cost")
    return RuleSetList(items=[RuleSetPublic.of(one) for one in rule_sets.sets_of(session, known_kind(kind))])


@router.get("/{kind}/versions/{set_id}", summary="Read a version", response_model=RuleSetDetail)
def get_version(kind: Kind, set_id: str, actor: CurrentActor, session: ReadSession) -> Response:
    """A version with its content."""
    require(actor, "see_cost")
    head = set_for(session, kind, set_id)
    return answer(_detail(head), version=head.edition)


@router.get(
    "/{kind}/versions/{set_id}/tables/{table}.csv",
    summary="Export a table",
    response_class=Response,
    responses={200: {"content": {"text/csv": {"schema": {"type": "string"}}}}},
)
def export_table(kind: Kind, set_id: str, table: str, actor: CurrentActor, session: ReadSession) -> Response:
    """One table of a version as CSV."""
    require(actor, "see_cost")
    head = set_for(session, kind, set_id)
    if table not in TABLES_OF_KIND[kind]:
        raise not_found("table of this kind")
    headers = {"Content-Disposition": f'attachment; filename="{head.version}-{table}.csv"'}
    return Response(
        service.table_csv(json.loads(head.content), table), media_type="text/csv; charset=utf-8", headers=headers
    )


@router.post(
    "/{kind}/drafts",
    summary="Draft a version",
    status_code=201,
    responses={201: {"model": RuleSetDetail}},
    openapi_extra=documented("RuleDraftRequest", RuleDraftRequest),
)
def post_draft(
    kind: Kind,
    actor: CurrentActor,
    raw: RawJson,
    session: WriteSession,
    once: OnceDep,
    book: RulesBookDep,
    now: Now,
    today: Today,
) -> Response:
    """A draft with the content of another version, or of the one in force."""
    require(actor, "edit_prices")
    wanted = parse(RuleDraftRequest, raw, where="the draft")

    def make() -> Response:
        head = service.make_draft(session, actor, kind, book, based_on=wanted.based_on, now=now, today=today)
        location = f"/api/v1/rule-sets/{kind}/versions/{head.id}"
        return answer(_detail(head), status=201, version=head.edition, location=location)

    return once.answer(make)


@router.put(
    "/{kind}/drafts/{set_id}",
    summary="Write the content of a draft",
    responses={200: {"model": RuleSetPublic}},
    openapi_extra=documented("RuleContentRequest", RuleContentRequest),
)
@kept
def put_content(
    kind: Kind,
    set_id: str,
    actor: CurrentActor,
    raw: RawJson,
    session: WriteSession,
    book: RulesBookDep,
    now: Now,
    today: Today,
    if_match: IfMatch = None,
) -> Response:
    """Every row is checked against the prices and rules in force; one that names something unknown is refused."""
    require(actor, "edit_prices")
    wanted = parse(RuleContentRequest, raw, where="the rules")
    head = draft_for(session, actor, kind, set_id, if_match)
    service.save(session, actor, head, wanted.content, book, now=now, today=today)
    return answer(RuleSetPublic.of(head), version=head.edition)


@router.put(
    "/{kind}/drafts/{set_id}/tables/{table}",
    summary="Write one table of a draft",
    responses={200: {"model": RuleSetPublic}},
    openapi_extra=_CSV_BODY,
)
def put_table(
    kind: Kind,
    set_id: str,
    table: str,
    actor: CurrentActor,
    upload: Csv,
    session: WriteSession,
    book: RulesBookDep,
    request: Request,
    now: Now,
    today: Today,
    if_match: IfMatch = None,
    key: IdempotencyKey = None,
) -> Response:
    """One table from CSV; the others stay as they are."""
    once = Once(session, actor, key, f"PUT {request.url.path}", hashlib.sha256(upload.data).hexdigest(), now)

    def make() -> Response:
        head = draft_for(session, actor, kind, set_id, if_match)
        content = service.with_table(kind, json.loads(head.content), table, upload.data)
        service.save(session, actor, head, content, book, now=now, today=today)
        return answer(RuleSetPublic.of(head), version=head.edition)

    return once.answer(make)


@router.post("/{kind}/drafts/{set_id}/effect", summary="See before and after", response_model=EffectPublic)
def post_effect(
    kind: Kind, set_id: str, actor: CurrentActor, session: ReadSession, book: RulesBookDep, today: Today
) -> EffectPublic:
    """What a draft would do to the demo households and to the last twenty quotes. Nothing is stored."""
    require(actor, "edit_prices")
    head = set_for(session, kind, set_id)
    rows = service.effect(session, head, book, today=today)
    return EffectPublic(rows=[EffectRowPublic.of(row) for row in rows])


@router.post(
    "/{kind}/drafts/{set_id}/publish",
    summary="Publish a version",
    responses={200: {"model": RuleSetPublic}},
    openapi_extra=documented("RulePublishRequest", RulePublishRequest),
)
def post_publish(
    kind: Kind,
    set_id: str,
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
    """Put a draft in force from a day on."""
    require(actor, "edit_prices")
    wanted = parse(RulePublishRequest, raw, where="the publication")

    def make() -> Response:
        head = draft_for(session, actor, kind, set_id, if_match)
        wake_after_commit(session, request.app.state.repricing)
        service.publish(session, actor, head, book, valid_from=wanted.valid_from or today, now=now, today=today)
        return answer(RuleSetPublic.of(head), version=head.edition)

    return once.answer(make)


@router.post(
    "/{kind}/versions/{set_id}/undo", summary="Undo a publication", responses={200: {"model": RuleSetPublic}}
)
def post_undo(
    kind: Kind,
    set_id: str,
    actor: CurrentActor,
    session: WriteSession,
    once: OnceBareDep,
    book: RulesBookDep,
    request: Request,
    now: Now,
    today: Today,
    if_match: IfMatch = None,
) -> Response:
    """Publish the content of the former version again, as a new version."""
    require(actor, "edit_prices")

    def make() -> Response:
        head = set_for(session, kind, set_id, lock=True)
        check_version(head.edition, if_match, None)
        wake_after_commit(session, request.app.state.repricing)
        again = service.undo(session, actor, head, book, now=now, today=today)
        return answer(RuleSetPublic.of(again), version=again.edition)

    return once.answer(make)


@router.post(
    "/{kind}/versions/{set_id}/retire", summary="Put a version aside", responses={200: {"model": RuleSetPublic}}
)
def post_retire(
    kind: Kind,
    set_id: str,
    actor: CurrentActor,
    session: WriteSession,
    once: OnceBareDep,
    now: Now,
    today: Today,
    if_match: IfMatch = None,
) -> Response:
    """Put a draft aside, or a published version before its first day."""
    require(actor, "edit_prices")

    def make() -> Response:
        head = set_for(session, kind, set_id, lock=True)
        check_version(head.edition, if_match, None)
        service.retire(session, actor, head, now=now, today=today)
        return answer(RuleSetPublic.of(head), version=head.edition)

    return once.answer(make)
