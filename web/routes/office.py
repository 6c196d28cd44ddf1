"""The office: price lists, imports, uplifts, stale prices; recipes, labour tasks and the other rules by version."""

import json
import re
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import Response
from sqlmodel import Session
from starlette.datastructures import UploadFile

from api.deps import Now, ReadSession, RulesBookDep, Today, WriteSession
from api.errors import Problem
from api.ids import cursor_of, text_of_cursor
from api.security import Actor, check_form_token, require
from api.services import price_imports, price_lists, repricing, rule_sets as rules_service
from api.services.price_lists import draft_for, list_for
from api.services.repricing import wake_after_commit
from api.services.rule_sets import set_for
from api.services.rules import RulesBook
from api.store import prices, rule_sets
from api.store.seed_files import FIRM
from api.versions import etag
from models.catalogue.imports import TICK_ABOVE_RATIO, Uplift, cells_of, decimal_of, export_csv
from models.catalogue.prices import COLUMNS, UNITS
from models.firm import firm_document, firm_from
from models.records import PriceListRecord, RuleSetRecord
from models.takeoff.quantities import FLAGS, QUANTITY_UNITS
from web.firm_form import (
    KEYBOARDS,
    LABELS,
    OPTIONS,
    SPARE_ROWS,
    fields_of,
    firm_laid_over,
    opened_as,
    record_of,
    rows_in,
)
from web.pages import Form, OwnForm, Viewer, page, to
from web.rule_tables import (
    LEGENDS,
    NotTaken,
    Sheet,
    edited,
    known_names,
    laid_over,
    sheets_of,
    with_fault,
    with_sheet,
)

router = APIRouter(prefix="/office", include_in_schema=False)
LINES_A_PAGE = 100
STALE_DAYS = 90
MOST_SHOWN = 500
CLASH = (
    "Somebody else saved this table meanwhile, so nothing of yours is saved yet. Your changes stand in the marked "
    "rows, laid over what stands now; saving again puts them in place"
)
STATE_WORDS = {"draft": "draft", "published": "published", "retired": "put aside or replaced"}
KIND_WORDS = {
    "recipes": ("Recipes", "which parts a quantity of the design calls for"),
    "labour_tasks": ("Labour tasks", "who does what, for how long, after what"),
    "rates": ("Rates and margins", "what an hour and a day cost, margin by class"),
    "stage_plans": ("Stages of payment", "deposit and payment before completion"),
    "crews": ("Crews and the working day", "people, hours of the day, curing times"),
    "calendars": ("Calendars and waiting times", "bank holidays by nation, how long others take"),
    FIRM: ("Our firm", "who makes the offers: name, address and numbers on every paper"),
}
COLUMN_WORDS = {
    "sku": "SKU", "group": "Group", "description": "Description", "unit": "Unit of measure", "pack_size": "Pack size",
    "cost_gbp": "Cost of one unit, £", "supplier": "Supplier", "supplier_code": "Supplier's code",
    "lead_time_days": "Lead time, days", "held": "Where it is held", "margin_class": "Margin class",
    "vat_class": "VAT class", "sales_nominal": "Sales nominal", "charged_by": "Charged by", "role": "Role",
    "attributes": "Attributes", "ends_on": "Sold until", "substitute": "Substitute", "priced_on": "Price confirmed on",
}  # fmt: skip
COLUMN_HINTS = {
    "sku": "the name of the line for good; always needed", "unit": "each, m, m2, kg, bag and so on",
    "pack_size": "how many of the unit come in one pack", "cost_gbp": "of one unit, not of a pack: 12.50",
    "held": "van_stock, stock or order", "margin_class": "as in rates and margins",
    "vat_class": "installed, goods_only or outside_scope", "charged_by": "pack or measure",
    "attributes": "what a recipe looks for: od_mm=28 wall_mm=0.9", "ends_on": "2026-09-30; empty for no end",
    "substitute": "SKU of what takes its place", "priced_on": "2026-05-01; empty for today where the cost changes",
}  # fmt: skip
CHOICES = {
    "held": ("van_stock", "stock", "order"),
    "vat_class": ("installed", "goods_only", "outside_scope"),
    "charged_by": ("pack", "measure"),
    "unit": tuple(sorted(UNITS)),
}
_NAME_OF_COLUMN = re.compile(rf"\b(?:{'|'.join(name for name in COLUMN_WORDS if '_' in name)})\b")
STEPS = (("0.0001", "not at all"), ("0.01", "1p"), ("0.05", "5p"), ("0.10", "10p"), ("0.50", "50p"), ("1", "£1"))


def editor_of(viewer: Viewer) -> Actor:
    """A viewer who may edit prices. Raises 403."""
    require(viewer, "edit_prices")
    return viewer


Editor = Annotated[Actor, Depends(editor_of)]
Text = Annotated[str, Query(max_length=200)]


def _edition(form: Form) -> str | None:
    """The edition that the page showed, as the condition of a change."""
    shown = form.get("edition", "")
    return etag(int(shown)) if shown.isdigit() and len(shown) < 9 else None


def _day(form: Form, name: str, fallback: date) -> date:
    typed = form.get(name, "").strip()
    if not typed:
        return fallback
    try:
        return date.fromisoformat(typed)
    except ValueError as fault:
        raise Problem(422, "invalid", f"{typed[:20]} is no date like 2026-05-01") from fault


def _list_page(
    session: Session, viewer: Actor, head: PriceListRecord, today: date, *, fault: str = "", said: str = "",
    search: str = "", cursor: str = "",
) -> Response:  # fmt: skip
    after = text_of_cursor(cursor) if cursor else ""
    words = search.replace("\0", "")
    found = prices.price_lines(session, head.id, after_sku=after, limit=LINES_A_PAGE + 1, search=words)
    base = None if head.based_on is None else prices.price_list(session, head.based_on)
    added, changed = price_lists.changes_since_base(session, head) if head.state == prices.DRAFT else ((), ())
    stale = price_lists.stale(session, head, days=STALE_DAYS, today=today)
    return page(
        "office/list.html", viewer, wide=True, status=422 if fault else 200, head=head, base=base,
        lines=found[:LINES_A_PAGE],
        next_page=cursor_of(found[LINES_A_PAGE - 1].sku) if len(found) > LINES_A_PAGE else None, search=words,
        state_words=STATE_WORDS, added=added, changed=changed, most_shown=MOST_SHOWN, fault=fault, said=said or None,
        in_force=prices.list_in_force(session, today) == head.id, today=today, stale_count=len(stale),
        stale_days=STALE_DAYS, has_former=prices.published_before(session, head) is not None, cost=_cost,
        classes=prices.classes_of(session, head.id), steps=STEPS, since=prices.first_held_on(session, head),
    )  # fmt: skip


def _cost(line: Any) -> str:
    """A cost as people write it: at least two decimal places, no more than it has."""
    value = Decimal(line.cost_gbp)
    text = f"{value:,.4f}"
    return (text[:-2] if text.endswith("00") else text).replace("-", "−")


# --- price lists ---


@router.get("")
def start(session: ReadSession, viewer: Editor, today: Today) -> Response:
    """Everything that the office looks after."""
    lists = prices.price_lists(session, before=None, limit=50)
    kinds = []
    for kind, (title, tell) in KIND_WORDS.items():
        head = rules_service.in_force(session, kind, today)
        drafts = sum(one.state == rule_sets.DRAFT for one in rule_sets.sets_of(session, kind))
        kinds.append({"kind": kind, "title": title, "tell": tell, "head": head, "drafts": drafts})
    return page(
        "office/start.html", viewer, lists=lists, in_force=prices.list_in_force(session, today), kinds=kinds,
        state_words=STATE_WORDS, runs=repricing.runs(session, limit=5), today=today,
    )  # fmt: skip


@router.get("/lists/{list_id}")
def show_list(
    session: ReadSession, viewer: Editor, today: Today, list_id: str, search: Text = "", cursor: Text = "",
    said: Text = "",
) -> Response:  # fmt: skip
    """A list: its lines with a search, what is new in a draft, what can be done with it."""
    head = list_for(session, list_id)
    words = {
        "published": "The list is published. Open drafts of quotes are being re-priced.",
        "undone": "The former prices hold again, as this new version.",
        "nothing": "The file changes nothing, so nothing was written.",
        "saved": "Saved.",
        "taken": "Taken into this draft. Nothing is priced by it before you publish it.",
        "held": "Taken into this draft, but for the rises that nobody ticked: they stay at their old price.",
        "confirmed": "Confirmed, in this draft. Publish it when it is ready.",
    }
    return _list_page(session, viewer, head, today, search=search, cursor=cursor, said=words.get(said, ""))


@router.get("/lists/{list_id}/export")
def export_list(session: ReadSession, viewer: Editor, list_id: str) -> Response:
    """The lines as a file for a spreadsheet."""
    head = list_for(session, list_id)
    headers = {
        "content-disposition": f'attachment; filename="{head.version}.csv"', "cache-control": "no-store",
    }  # fmt: skip
    data = export_csv(prices.lines_of(session, head.id).values())
    return Response(data, media_type="text/csv; charset=utf-8", headers=headers)


@router.post("/lists/{list_id}/draft")
def make_draft(
    session: WriteSession, viewer: Editor, form: OwnForm, list_id: str, now: Now, today: Today
) -> Response:
    """A draft with the lines of a list."""
    head = price_lists.make_draft(
        session, viewer, list_for(session, list_id), note=form.get("note", "").strip()[:200], now=now, today=today
    )
    sku = form.get("sku", "")
    return to(f"/office/lists/{head.id}/lines/{quote(sku, safe='')}" if sku else f"/office/lists/{head.id}")


@router.get("/lists/{list_id}/lines/{sku}")
def ask_line(session: ReadSession, viewer: Editor, list_id: str, sku: str) -> Response:
    """The form of one line."""
    head = list_for(session, list_id)
    record = prices.price_line(session, head.id, sku) if sku != "new" else None
    if record is None and sku != "new":
        raise Problem(404, "not_found", f"there is no line {sku[:40]} in this list")
    cells = {} if record is None else cells_of(prices.line_of_record(record))
    return _line_page(viewer, head, sku, cells)


def _line_page(
    viewer: Actor, head: PriceListRecord, sku: str, cells: dict[str, str], fault: str = "", status: int = 422,
    stands: dict[str, str] | None = None,
) -> Response:  # fmt: skip
    return page(
        "office/line.html", viewer, status=status if fault else 200, head=head, sku=sku, cells=cells,
        fault=_NAME_OF_COLUMN.sub(lambda found: f"“{COLUMN_WORDS[found[0]]}”", fault), stands=stands or {},
        columns=[name for name in COLUMNS if name != "sku"], column_words=COLUMN_WORDS, choices=CHOICES,
    )  # fmt: skip


@router.post("/lists/{list_id}/lines/{sku}")
def save_line(
    session: WriteSession, viewer: Editor, form: OwnForm, list_id: str, sku: str, now: Now, today: Today
) -> Response:
    """Change a line of a draft."""
    cells = {name: form[name].strip() for name in COLUMNS if name in form and name != "sku"}
    wanted = form.get("sku", "").strip() if sku == "new" else sku
    try:
        head = draft_for(session, viewer, list_id, _edition(form))
    except Problem as problem:
        if problem.status != 412:
            raise
        head = draft_for(session, viewer, list_id, None)
        record = prices.price_line(session, head.id, sku) if sku != "new" else None
        stands = {} if record is None else cells_of(prices.line_of_record(record))
        fault = "Somebody else saved this draft meanwhile, so nothing of yours is saved yet. What you typed stands "
        fault += "below, with what stands now where it differs; saving again puts yours in its place."
        return _line_page(viewer, head, sku, {**cells, "sku": wanted}, fault, 412, stands)
    try:
        if not wanted:
            raise Problem(422, "invalid", "give the line its SKU")
        if sku == "new" and prices.price_line(session, head.id, wanted) is not None:
            raise Problem(422, "invalid", f"there is a line {wanted} already")
        price_lists.save_line(session, viewer, head, wanted, cells, now=now, today=today)
    except Problem as problem:
        if problem.status != 422:
            raise
        return _line_page(viewer, head, sku, {**cells, "sku": wanted}, problem.detail)
    return to(f"/office/lists/{head.id}?said=saved&search={wanted}")


# --- import ---


async def _posted_file(request: Request) -> tuple[Form, bytes, str]:
    """The fields of a form with a file in it, the bytes of the file and its name."""
    async with request.form(max_files=1, max_fields=20_000, max_part_size=8_000_000) as form:
        fields = {name: value for name, value in form.items() if isinstance(value, str)}
        ticked = [value for value in form.getlist("ticked") if isinstance(value, str)]
        file = form.get("file")
        data, name = b"", ""
        if isinstance(file, UploadFile):
            data, name = await file.read(), (file.filename or "")[:120]
    fields["ticked"] = "\n".join(ticked)
    return fields, data, name


PostedFile = Annotated[tuple[Form, bytes, str], Depends(_posted_file)]


@router.get("/lists/{list_id}/import")
def ask_import(session: ReadSession, viewer: Editor, list_id: str) -> Response:
    """The form that takes a file."""
    return _import_page(viewer, list_for(session, list_id))


def _import_page(viewer: Actor, head: PriceListRecord, **more: Any) -> Response:
    context = {"plan": None, "text": "", "file_name": "", "fault": "", "ticked": frozenset(), **more}
    return page(
        "office/import.html", viewer, wide=True, status=422 if context["fault"] else 200, head=head, cost=_cost,
        tick_above_ratio=TICK_ABOVE_RATIO, most_shown=MOST_SHOWN, column_words=COLUMN_WORDS, columns=COLUMNS,
        column_hints=COLUMN_HINTS, **context,
    )  # fmt: skip


@router.post("/lists/{list_id}/import")
def take_import(
    session: WriteSession, viewer: Editor, posted: PostedFile, book: RulesBookDep, list_id: str, now: Now, today: Today
) -> Response:
    """Show what a file would change; with the button below the table, take it into a draft."""
    fields, data, name = posted
    check_form_token(viewer, fields.get("csrf"))
    head = list_for(session, list_id, lock=True)
    name = name or fields.get("file_name", "")[:120]
    if not data.strip():
        data = fields.get("text", "").encode()
    if not data.strip():
        return _import_page(viewer, head, fault="Choose a file, or paste its rows.")
    ticked = frozenset(filter(None, fields["ticked"].split("\n")))
    try:
        if fields.get("apply") != "yes":
            plan = price_imports.dry_run(session, head, data, book, today=today)
            text = price_imports.text_of(data)
            return _import_page(viewer, head, plan=plan, text=text, file_name=name, ticked=ticked)
        if fields.get("edition", "").isdigit() and int(fields["edition"]) != head.edition:
            raise Problem(412, "clash", "someone changed this list since the file was shown; show the file again")
        done = price_imports.apply(
            session, viewer, head, data, book, ticked=ticked, confirm=fields.get("confirm") == "yes", file_name=name,
            now=now, today=today,
        )  # fmt: skip
    except Problem as problem:
        if problem.status != 422:
            raise
        return _import_page(viewer, head, fault=problem.detail, file_name=name)
    if done.draft is None:
        return to(f"/office/lists/{head.id}?said=nothing")
    return to(f"/office/lists/{done.draft.id}?said={'held' if done.held_back else 'taken'}")


# --- uplift, stale prices, publish, undo ---


@router.post("/lists/{list_id}/uplift")
def uplift(
    session: WriteSession, viewer: Editor, form: OwnForm, list_id: str, now: Now, today: Today
) -> Response:
    """Show what an uplift would change; with the button below the table, write it."""
    head = list_for(session, list_id, lock=True)
    try:
        per_cent = decimal_of(form.get("per_cent", ""), "the change in per cent")
        wanted = Uplift(
            per_cent / 100, decimal_of(form.get("step", "0.01"), "the rounding"), form.get("supplier", ""),
            form.get("margin_class", ""), form.get("group", ""),
        )  # fmt: skip
    except ValueError as fault:
        return _list_page(session, viewer, head, today, fault=str(fault).capitalize())
    try:
        if form.get("apply") == "yes":
            if head.state == prices.DRAFT:
                head = draft_for(session, viewer, list_id, _edition(form))
            else:
                note = f"{form.get('per_cent', '')} % on {wanted.supplier or wanted.group or 'all suppliers'}"[:200]
                head = price_lists.make_draft(session, viewer, head, note=note, now=now, today=today)
            price_lists.apply_uplift(session, viewer, head, wanted, now=now, today=today)
            return to(f"/office/lists/{head.id}?said=saved")
        changes = price_lists.preview_uplift(session, head, wanted, today=today)
    except Problem as problem:
        if problem.status != 422:
            raise
        return _list_page(session, viewer, head, today, fault=problem.detail.capitalize())
    return page(
        "office/uplift.html", viewer, wide=True, head=head, changes=changes, form=form, steps=dict(STEPS), cost=_cost,
        most_shown=MOST_SHOWN,
    )  # fmt: skip


@router.get("/lists/{list_id}/stale")
def show_stale(
    session: ReadSession, viewer: Editor, today: Today, list_id: str,
    days: Annotated[int, Query(ge=0, le=3650)] = STALE_DAYS,
) -> Response:  # fmt: skip
    """Lines whose price nobody confirmed lately."""
    head = list_for(session, list_id)
    found = price_lists.stale(session, head, days=days, today=today)
    since = prices.first_held_on(session, head)
    return page("office/stale.html", viewer, wide=True, head=head, lines=found, days=days, cost=_cost, since=since)


@router.post("/lists/{list_id}/stale")
def confirm_prices(
    session: WriteSession, viewer: Editor, form: OwnForm, list_id: str, now: Now, today: Today
) -> Response:
    """Write down that the ticked prices still hold today: in the draft itself, or in a new draft of the list."""
    head = list_for(session, list_id, lock=True)
    skus = frozenset(name.removeprefix("sku.") for name, value in form.items() if name.startswith("sku.") and value)
    suppliers = {name.removeprefix("of.") for name, value in form.items() if name.startswith("of.") and value}
    if suppliers:
        days = int(form["days"]) if form.get("days", "").isdigit() and len(form["days"]) < 5 else STALE_DAYS
        found = price_lists.stale(session, head, days=days, today=today)
        skus |= {line.sku for line in found if line.supplier in suppliers}
    if not skus:
        return to(f"/office/lists/{head.id}/stale")
    if head.state == prices.DRAFT:
        head = draft_for(session, viewer, list_id, _edition(form))
    else:
        head = price_lists.make_draft(session, viewer, head, note="prices confirmed", now=now, today=today)
    price_lists.confirm(session, viewer, head, skus, now=now, today=today)
    return to(f"/office/lists/{head.id}?said=confirmed")


@router.post("/lists/{list_id}/publish")
def publish(
    session: WriteSession, viewer: Editor, form: OwnForm, book: RulesBookDep, request: Request, list_id: str, now: Now,
    today: Today,
) -> Response:  # fmt: skip
    """Put a draft in force."""
    head = draft_for(session, viewer, list_id, _edition(form))

    def done() -> None:
        price_lists.publish(
            session, viewer, head, book, valid_from=_day(form, "valid_from", today), firm=form.get("firm") == "yes",
            now=now, today=today,
        )  # fmt: skip

    fault = _tried(session, request, done)
    if fault:
        session.expire_all()
        return _list_page(session, viewer, list_for(session, list_id), today, fault=fault)
    return to(f"/office/lists/{list_id}?said=published")


def _tried(session: Session, request: Request, act: Callable[[], None]) -> str:
    """Do it, or undo all of it and answer in words why it cannot be done."""
    try:
        act()
    except Problem as problem:
        if problem.status not in (409, 422):
            raise
        session.rollback()
        return problem.detail[:1].upper() + problem.detail[1:]
    wake_after_commit(session, request.app.state.repricing)
    return ""


@router.post("/lists/{list_id}/undo")
def undo(
    session: WriteSession, viewer: Editor, form: OwnForm, book: RulesBookDep, request: Request, list_id: str, now: Now,
    today: Today,
) -> Response:  # fmt: skip
    """Publish the former version again."""
    head = list_for(session, list_id, lock=True)
    wake_after_commit(session, request.app.state.repricing)
    again = price_lists.undo(session, viewer, head, book, now=now, today=today)
    return to(f"/office/lists/{again.id}?said=undone")


@router.post("/lists/{list_id}/retire")
def retire(
    session: WriteSession, viewer: Editor, form: OwnForm, list_id: str, now: Now, today: Today
) -> Response:
    """Put a draft aside."""
    price_lists.retire(session, viewer, list_for(session, list_id, lock=True), now=now, today=today)
    return to("/office")


# --- rules ---


@router.get("/rules/{kind}")
def show_kind(session: ReadSession, viewer: Editor, kind: str, today: Today) -> Response:
    """The versions of a kind of rules."""
    rules_service.known_kind(kind)
    return page(
        "office/kind.html", viewer, kind=kind, title=KIND_WORDS[kind][0], tell=KIND_WORDS[kind][1],
        sets=rule_sets.sets_of(session, kind), in_force=rules_service.in_force(session, kind, today),
        state_words=STATE_WORDS,
    )  # fmt: skip


@router.post("/rules/{kind}/draft")
def make_rules_draft(
    session: WriteSession, viewer: Editor, form: OwnForm, book: RulesBookDep, kind: str, now: Now, today: Today
) -> Response:
    """A draft of the version in force, or of another one."""
    base = form.get("based_on") or None
    head = rules_service.make_draft(session, viewer, kind, book, based_on=base, now=now, today=today)
    return to(f"/office/rules/{kind}/{head.id}")


def _set_page(
    session: Session, viewer: Actor, head: RuleSetRecord, book: RulesBook, today: date, *, shown: str = "",
    fault: str = "", said: str = "", typed: Sheet | None = None, csv: str = "", find: str = "", effect: bool = False,
    status: int = 422,
) -> Response:  # fmt: skip
    if head.kind == FIRM:
        return _firm_page(session, viewer, head, book, today, fault=fault, said=said, effect=effect, status=status)
    content = json.loads(head.content)
    sheets = sheets_of(content, rules_service.headings_of)
    there = {sheet.key: sheet for sheet in sheets}
    shown = shown if shown in there else sheets[0].key
    editing = head.state == rule_sets.DRAFT
    # A long table stands alone while it is edited; the tables of a document are short and stand together.
    alone = editing and isinstance(content[there[shown].table], list)
    visible = [there[shown]] if alone else [one for one in sheets if not editing or ":" in one.key]
    if typed is not None:
        visible = [typed if sheet.key == typed.key else sheet for sheet in visible]
    wants_prices = editing and (head.kind == "recipes" or there[shown].table == "first_used")
    list_id = prices.list_in_force(session, today) if wants_prices else None
    lines = [] if list_id is None else prices.price_lines(session, list_id, after_sku="", limit=1000, search="")
    parts = {line.sku: line.description for line in lines}
    names = known_names(content, parts, {line.group for line in lines}) if alone else {}
    as_csv = rules_service.table_csv(content, there[shown].table).decode("utf-8-sig") if alone else ""
    shows = effect and (not fault or status == 412)
    rows = rules_service.effect(session, head, book, today=today) if shows else None
    return page(
        "office/rules.html", viewer, status=status if fault else 200, wide=True, head=head,
        title=KIND_WORDS[head.kind][0], sheets=sheets, visible=visible, shown=shown, alone=alone, as_csv=csv or as_csv,
        csv_open=bool(csv), names=names, means=names.get("tasks", {}) | names.get("parts", {}), fault=fault,
        said=said or None,
        state_words=STATE_WORDS, today=today, effect=rows, find=find, editing=editing,
        legend=LEGENDS.get(shown, ()) if alone else (), flags=sorted(FLAGS), units=QUANTITY_UNITS,
        has_former=rule_sets.published_before(session, head) is not None,
    )  # fmt: skip


def _firm_page(
    session: Session, viewer: Actor, head: RuleSetRecord, book: RulesBook, today: date, *, fault: str = "",
    said: str = "", typed: Form | None = None, faults: dict[str, str] | None = None, clash: bool = False,
    effect: bool = False, status: int = 422,
) -> Response:  # fmt: skip
    """The firm's record: as it would stand on paper, and as a form while it is a draft."""
    record = json.loads(head.content)[FIRM]
    stored = fields_of(record)
    fields = stored if typed is None else typed
    changes = rules_service.effect(session, head, book, today=today)[0].lines_changed if effect else None
    return page(
        "office/firm.html", viewer, status=status if fault else 200, head=head, title=KIND_WORDS[FIRM][0],
        editing=head.state == rule_sets.DRAFT, fields=fields, stands=stored if clash else {}, faults=faults or {},
        rows=rows_in(fields) + SPARE_ROWS, labels=LABELS, options=OPTIONS, keyboards=KEYBOARDS, fault=fault,
        said=said or None, firm=firm_document(firm_from(record)), in_force=book.firm_in_force(session, today),
        changes=changes, stored=bool(record), opened=json.dumps(stored), state_words=STATE_WORDS, today=today,
        has_former=rule_sets.published_before(session, head) is not None,
    )  # fmt: skip


@router.post("/rules/firm/{set_id}/record")
def save_firm(
    session: WriteSession, viewer: Editor, form: OwnForm, book: RulesBookDep, set_id: str, now: Now, today: Today
) -> Response:
    """Save the firm's record in a draft. What cannot be right stands there with the reason; nothing is saved then."""
    head, clash = _rules_draft(session, viewer, FIRM, set_id, form)
    record = record_of(form)
    typed = fields_of(record)
    if clash:
        fault = "Somebody else saved this record meanwhile, so nothing of yours is saved yet. What you typed stands "
        fault += "below with what stands now beside it, and else what was saved meanwhile; saving again keeps both"
        typed = firm_laid_over(typed, opened_as(form.get("opened", "")), fields_of(json.loads(head.content)[FIRM]))
        return _firm_page(session, viewer, head, book, today, fault=fault, typed=typed, clash=True, status=412)
    try:
        rules_service.save(session, viewer, head, {FIRM: record}, book, now=now, today=today)
    except Problem as problem:
        if problem.status != 422:
            raise
        faults = {one.field: one.message for one in problem.errors if one.field}
        fault = "Nothing was saved: see what is marked" if faults else f"Nothing was saved: {problem.detail}"
        return _firm_page(session, viewer, head, book, today, fault=fault, typed=typed, faults=faults)
    return to(f"/office/rules/{FIRM}/{set_id}?said=saved&effect=true#effect")


@router.get("/rules/{kind}/{set_id}")
def show_set(
    session: ReadSession, viewer: Editor, book: RulesBookDep, kind: str, set_id: str, today: Today, table: Text = "",
    said: Text = "", find: Text = "", effect: Annotated[bool, Query()] = False,
) -> Response:  # fmt: skip
    """A version of a kind of rules, table by table; with `effect`, before and after."""
    words = {"saved": "Saved. Below is what it would change; nothing is worked out by it before you publish it.",
             "published": "Published. Open drafts of quotes are being looked at again.",
             "undone": "The former version holds again, as this new one."}  # fmt: skip
    if kind == FIRM:
        words |= {"saved": "Saved. Below is how it would stand on paper; it stands on none before you publish it.",
                  "published": "Published. Quotes that are issued from its first day on carry it."}  # fmt: skip
    head = set_for(session, kind, set_id)
    effect = effect and head.state == rule_sets.DRAFT
    return _set_page(
        session, viewer, head, book, today, shown=table, said=words.get(said, ""), find=find.strip(), effect=effect
    )


@router.post("/rules/{kind}/{set_id}/rows")
def save_rows(
    session: WriteSession, viewer: Editor, form: OwnForm, book: RulesBookDep, kind: str, set_id: str, now: Now,
    today: Today,
) -> Response:  # fmt: skip
    """Save a table of a draft from the cells of its rows. A row that cannot be taken stands there with the reason."""
    head, clash = _rules_draft(session, viewer, kind, set_id, form)
    content = json.loads(head.content)
    key, find = form.get("sheet", ""), form.get("find", "")[:200]
    sheet = next((one for one in sheets_of(content, rules_service.headings_of) if one.key == key), None)
    if sheet is None:
        raise Problem(404, "not_found", "there is no such table")
    if clash:
        typed = laid_over(sheet, form)
        return _set_page(
            session, viewer, head, book, today, shown=key, fault=CLASH, typed=typed, find=find, status=412
        )  # fmt: skip
    typed = edited(sheet, form)
    try:
        rules_service.save(session, viewer, head, with_sheet(content, typed), book, now=now, today=today)
    except NotTaken as refusal:
        for place, why in refusal.rows.items():
            typed.rows[place].fault = why
    except Problem as problem:
        if problem.status != 422:
            raise
        typed = with_fault(typed, problem.detail)
    else:
        more = f"&find={quote(find)}" if find else ""
        return to(f"/office/rules/{kind}/{set_id}?table={quote(key)}&said=saved&effect=true{more}#effect")
    fault = "Nothing was saved: see the row that is marked"
    if typed.fault:
        fault = f"Nothing was saved: {typed.fault}"
    return _set_page(session, viewer, head, book, today, shown=key, fault=fault, typed=typed, find=find)


@router.post("/rules/{kind}/{set_id}/tables/{table}")
def save_table(
    session: WriteSession, viewer: Editor, form: OwnForm, book: RulesBookDep, kind: str, set_id: str, table: str,
    now: Now, today: Today,
) -> Response:  # fmt: skip
    """Save a table of a draft from pasted CSV."""
    head, clash = _rules_draft(session, viewer, kind, set_id, form)
    content = json.loads(head.content)
    if table not in content:
        raise Problem(404, "not_found", "there is no such table")
    csv = form.get("csv", "")
    if clash:
        fault = "Somebody else saved this draft meanwhile. Nothing of yours was saved: what you pasted stands at the "
        fault += "end of this page, what stands now in the table. Saving again puts yours in place of all of it"
        return _set_page(session, viewer, head, book, today, shown=table, fault=fault, csv=csv, status=412)
    try:
        changed = rules_service.with_table(kind, content, table, csv.encode())
        rules_service.save(session, viewer, head, changed, book, now=now, today=today)
    except Problem as problem:
        if problem.status != 422:
            raise
        fault = f"Nothing was saved: {problem.detail}"
        return _set_page(session, viewer, head, book, today, shown=table, fault=fault, csv=csv)
    return to(f"/office/rules/{kind}/{set_id}?table={table}&said=saved&effect=true#effect")


def _rules_draft(
    session: Session, viewer: Actor, kind: str, set_id: str, form: Form
) -> tuple[RuleSetRecord, bool]:
    """The draft that a form changes, locked, and whether somebody else saved it since the form was opened."""
    try:
        return rules_service.draft_for(session, viewer, kind, set_id, _edition(form)), False
    except Problem as problem:
        if problem.status != 412:
            raise
        return rules_service.draft_for(session, viewer, kind, set_id, None), True


@router.post("/rules/{kind}/{set_id}/publish")
def publish_rules(
    session: WriteSession, viewer: Editor, form: OwnForm, book: RulesBookDep, request: Request, kind: str, set_id: str,
    now: Now, today: Today,
) -> Response:  # fmt: skip
    """Put a draft of rules in force."""
    head, clash = _rules_draft(session, viewer, kind, set_id, form)
    if clash:
        fault = "Somebody else saved this draft since you looked: look at before and after again, then publish"
        return _set_page(session, viewer, head, book, today, fault=fault, effect=True, status=412)

    def done() -> None:
        day = _day(form, "valid_from", today)
        rules_service.publish(session, viewer, head, book, valid_from=day, now=now, today=today)

    fault = _tried(session, request, done)
    if fault:
        session.expire_all()
        return _set_page(session, viewer, set_for(session, kind, set_id), book, today, fault=fault)
    return to(f"/office/rules/{kind}/{set_id}?said=published")


@router.post("/rules/{kind}/{set_id}/undo")
def undo_rules(
    session: WriteSession, viewer: Editor, form: OwnForm, book: RulesBookDep, request: Request, kind: str, set_id: str,
    now: Now, today: Today,
) -> Response:  # fmt: skip
    """Publish the former version of a kind again."""
    head = set_for(session, kind, set_id, lock=True)
    wake_after_commit(session, request.app.state.repricing)
    again = rules_service.undo(session, viewer, head, book, now=now, today=today)
    return to(f"/office/rules/{kind}/{again.id}?said=undone")


@router.post("/rules/{kind}/{set_id}/retire")
def retire_rules(
    session: WriteSession, viewer: Editor, form: OwnForm, kind: str, set_id: str, now: Now, today: Today
) -> Response:
    """Put a draft of rules aside."""
    rules_service.retire(session, viewer, set_for(session, kind, set_id, lock=True), now=now, today=today)
    return to(f"/office/rules/{kind}")
