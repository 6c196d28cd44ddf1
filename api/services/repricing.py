"""Open drafts under new prices: quantities and hours stay, narrow rows are read, in the background, to be resumed.

A run stands in a table with a cursor. Each batch is one transaction that moves the cursor with the drafts, so that a
kill at any point loses nothing and doubles nothing, and two processes take turns. After the run, drafts whose choices
may be others under the new list are worked out afresh, and say so where they are.
"""

import hashlib
import json
import logging
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from pydantic_core import from_json, to_json
from sqlalchemy import Engine, bindparam, event, func, insert, select, update
from sqlmodel import Session, col

from api.ids import new_id
from api.store import prices, quotes
from api.store.engine import reading, writing
from models.document import finding_document, plain
from models.estimate import Choices, Estimate, estimate
from models.pricing.price import Price
from models.pricing.repricing import (
    NarrowDraft,
    NotListed,
    OfferChanges,
    OfferPrices,
    UnitPrices,
    Watched,
    line_amount_pence,
    may_choose_differently,
    offer_changes,
    repriced,
    unit_prices,
)
from models.records import DraftBasis, DraftLine, PriceListRecord, Quote, QuoteState, RepricingRun
from models.rules import Rules, with_price_list
from models.survey import Survey
from models.takeoff.bill import Bill, BillLine
from models.why import money_why_document

if TYPE_CHECKING:
    from api.services.rules import RulesBook

_log = logging.getLogger("footing.repricing")
BATCH = 200
_CHECK_BATCH = 10
AMOUNTS = ("net_pence", "vat_pence", "total_pence", "grant_pence", "customer_pays_pence")
DIFFERS = "a fresh estimate would choose differently"
SAME, CHECK, CHOICE_DIFFERS = "same", "check", "differs"
WAITING, RUNNING, CHECKING, DONE = "waiting", "running", "checking", "done"
_QUOTE = Quote.__table__  # type: ignore[attr-defined]
_BASIS = DraftBasis.__table__  # type: ignore[attr-defined]
_LINE = DraftLine.__table__  # type: ignore[attr-defined]
_RUN = RepricingRun.__table__  # type: ignore[attr-defined]
_LIST = PriceListRecord.__table__  # type: ignore[attr-defined]
_THOUSAND = Decimal(1000)
STRENGTHS = ("stop", "ask", "note")


# --- what is kept of a draft ---


@dataclass(frozen=True, slots=True)
class NarrowRows:
    """What a draft keeps so that it can be re-priced without its document."""

    price_key: str
    priced_on: date
    fixed_on: date | None
    money: dict[str, Any]
    watched: dict[str, Any]
    lines: tuple[dict[str, Any], ...]


def price_key(rules: Rules) -> str:
    """The versions that amounts are worked out by: price list, then rates with stages, then everything else."""
    versions = rules.versions
    money = f"{versions.get('rates', rules.version)} {versions.get('stage_plans', '')}"
    rest = " ".join(versions.get(kind, rules.version) for kind in ("recipes", "labour_tasks", "crews", "calendars"))
    return f"{rules.price_list.version}|{_short(money)}|{_short(rest)}"


def _short(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:12]


def narrow_rows(worked_out: Estimate) -> NarrowRows | None:
    """The narrow rows of an estimate; None where a *stop* leaves it without a whole price."""
    price, plan, bill = worked_out.price, worked_out.plan, worked_out.bill
    if price is None or price.partial or plan is None or bill is None or plan.days is None:
        return None
    survey, choices, design = worked_out.survey, worked_out.choices, worked_out.design
    hours: dict[str, Decimal] = {}
    for visit in plan.visits:
        hours[visit.trade] = hours.get(visit.trade, Decimal(0)) + visit.charged_person_hours
    candidates = [one for one in design.flow.candidates if one.feasible and one.whole_cost_pence is not None]
    candidates.sort(key=lambda one: not one.taken)
    weighs = choices.flow_temp_c is None and candidates and candidates[0].taken
    steps = {
        room.room_id: (room.name, [step.sku for step in room.steps if step.sku]) for room in design.emitters.rooms
    }
    unit, cylinder = design.unit.unit, design.hot_water.cylinder
    new_emitters = [sku for _, skus in steps.values() for sku in skus]
    listed = {line.sku for line in bill.lines}
    volume = design.volume
    watched = {
        "chosen": sorted(
            {sku for sku in (unit.sku if unit else "", cylinder.sku if cylinder else "") if sku}
            | {offer.item.sku for offer in worked_out.rules.offers.vessels if offer.item.sku in listed}
            | {offer.item.sku for offer in worked_out.rules.offers.volumisers if offer.item.sku in listed}
        ),
        "new_emitters": bool(new_emitters),
        "weighed": [[one.purchase_pence, one.whole_cost_pence] for one in candidates] if weighs else [],
        "flow_temp_c": design.flow.flow_temp_c,
        "unit": f"{design.unit.count} × {unit.sku}" if unit else "",
        "cylinder": cylinder.sku if cylinder else "",
        "volume": volume is not None,
        "rooms": {room_id: [name, *skus] for room_id, (name, skus) in steps.items()},
        "price_findings": [[finding.code, finding.where] for finding in price.findings],
    }
    return NarrowRows(
        price_key=price_key(worked_out.rules),
        priced_on=worked_out.priced_on,
        fixed_on=choices.priced_on,
        money={
            "hours_by_trade": {trade: str(value) for trade, value in hours.items()},
            "plan_days": plan.days,
            "works_start_on": worked_out.works_start_on.isoformat(),
            "works_end_on": worked_out.works_end_on.isoformat(),
            "nation": survey.house.nation,
            "tenure": survey.house.tenure,
            "fuel_now": survey.existing.fuel,
            "on_gas_grid": survey.house.on_gas_grid,
            "grant_applied_on": (choices.grant_applied_on or worked_out.priced_on).isoformat(),
            "discount_ratio": str(choices.discount_ratio),
            # The lines once more, so that one narrow row a draft is read and not a hundred.
            "charged": [[line.sku, int(line.charged * _THOUSAND)] for line in bill.lines],
        },
        watched=watched,
        lines=tuple(
            {
                "sku": line.sku,
                "charged": line.charged,
                "bought": line.bought,
                "used": line.used,
                "unit": line.unit,
                "margin_class": line.margin_class,
            }
            for line in bill.lines
        ),
    )


def keep_narrow_rows(session: Session, quote: Quote, worked_out: Estimate) -> None:
    """Write the narrow rows of a new draft, in the transaction that makes it."""
    rows = narrow_rows(worked_out)
    if rows is None:
        return
    session.flush()
    session.add(
        DraftBasis(
            quote_id=quote.id,
            price_key=rows.price_key,
            priced_on=rows.priced_on,
            fixed_on=rows.fixed_on,
            money=json.dumps(rows.money, ensure_ascii=False),
            watched=json.dumps(rows.watched, ensure_ascii=False),
        )
    )
    session.flush()
    session.connection().execute(insert(_LINE), [{"quote_id": quote.id, **line} for line in rows.lines])


def basis_of(session: Session, quote_id: str) -> DraftBasis | None:
    """What a draft is re-priced from, and whether its choices would now be others."""
    return session.get(DraftBasis, quote_id)


def choice_words(basis: DraftBasis | None) -> tuple[str, ...]:
    """What is to be said of the choices of a draft under the list in force: nothing, or that and how they differ."""
    if basis is None:
        return ()
    said = (basis.note,) if basis.note else ()
    if basis.choice == CHOICE_DIFFERS:
        return (*said, DIFFERS, *json.loads(basis.differences))
    return (*said, "the choices are being checked against the list in force") if basis.choice == CHECK else said


# --- the arithmetic ---


class Repricer:
    """Everything that is the same for all drafts of a run: unit prices, rates, and how offers changed, by old list."""

    def __init__(self, session: Session, rules: Rules, on: date) -> None:
        self.rules = rules
        self.on = on
        self.key = price_key(rules)
        self.unit_prices: dict[str, UnitPrices] = unit_prices(rules.price_list, rules.rates, on)
        self._offers = offer_prices(rules)
        self._changes: dict[str, OfferChanges | None] = {}
        self._session = session

    def price_of(self, draft: NarrowDraft, *, amounts_only: bool = False) -> Price:
        """The new price of a draft. Raises NotListed."""
        return repriced(
            draft,
            self.unit_prices,
            rates=self.rules.rates,
            money_rules=self.rules.money,
            priced_on=self.on,
            amounts_only=amounts_only,
        )

    def must_check(self, old_key: str, watched: Watched, session: Session) -> bool:
        """Whether a fresh estimate could choose otherwise than the draft did under its own list."""
        if old_key == self.key:
            return False
        if old_key not in self._changes:
            self._changes[old_key] = self._changes_from(old_key, session)
        changes = self._changes[old_key]
        return changes is None or may_choose_differently(watched, changes)

    def _changes_from(self, old_key: str, session: Session) -> OfferChanges | None:
        """How offers changed since another key; None where more than prices and rates is different."""
        old_list, _, rest = old_key.partition("|")
        if rest.rpartition("|")[2] != self.key.rpartition("|")[2]:
            return None
        found = session.connection().execute(select(_LIST.c.id).where(_LIST.c.version == old_list)).scalar()
        if found is None:
            return None
        was = with_price_list(self.rules, prices.load_price_list(session, found))
        changes = offer_changes(offer_prices(was), self._offers)
        same_money = rest.partition("|")[0] == self.key.split("|")[1]
        return changes if same_money else None


def offer_prices(rules: Rules) -> OfferPrices:
    """What is offered at which cost."""
    offers = rules.offers
    families = (offers.outdoor_units, offers.cylinders, offers.vessels, offers.volumisers, offers.emitters.offers)
    besides = tuple(
        float(getattr(offers.emitters, name)) for name in offers.emitters.__dataclass_fields__ if name != "offers"
    )
    return OfferPrices(
        tuple({offer.item.sku: offer.cost_pence for offer in family} for family in families), besides
    )


def narrow_draft(money: dict[str, Any], charged: Sequence[tuple[str, int]]) -> NarrowDraft:
    """The values of the narrow rows."""
    return NarrowDraft(
        charged=charged,
        hours_by_trade={trade: Decimal(value) for trade, value in money["hours_by_trade"].items()},
        plan_days=money["plan_days"],
        works_start_on=date.fromisoformat(money["works_start_on"]),
        works_end_on=date.fromisoformat(money["works_end_on"]),
        nation=money["nation"],
        tenure=money["tenure"],
        fuel_now=money["fuel_now"],
        on_gas_grid=money["on_gas_grid"],
        grant_applied_on=date.fromisoformat(money["grant_applied_on"]),
        discount_ratio=Decimal(money["discount_ratio"]),
    )


def watched_of(watched: dict[str, Any]) -> Watched:
    """The values of what a draft watches."""
    return Watched(
        tuple(watched["chosen"]),
        watched["new_emitters"],
        tuple((purchase, whole) for purchase, whole in watched["weighed"]),
    )


# --- runs ---


def plan_run(session: Session, *, reason: str, starts_on: date, now: datetime) -> RepricingRun:
    """Ask for the re-pricing of all open drafts from a day on, in the transaction of what makes it necessary."""
    run = RepricingRun(id=new_id(), reason=reason[:200], starts_on=starts_on, made_at=now)
    session.add(run)
    session.flush()
    return run


def runs(session: Session, *, limit: int = 50) -> list[RepricingRun]:
    """The runs, the newest first."""
    query = select(RepricingRun).order_by(col(RepricingRun.id).desc()).limit(limit)
    return [row[0] for row in session.execute(query)]


def work_off(
    engine: Engine,
    book: "RulesBook",
    *,
    now: Callable[[], datetime],
    today: Callable[[], date],
    stop: threading.Event | None = None,
) -> int:
    """Do everything that is due, oldest run first. Answers how many drafts were gone through."""
    gone_through = 0
    while stop is None or not stop.is_set():
        with reading(engine) as session:
            due = session.connection().execute(
                select(_RUN.c.id, _RUN.c.state)
                .where(_RUN.c.state != DONE, _RUN.c.starts_on <= today())
                .order_by(_RUN.c.id)
                .limit(1)
            ).first()
        if due is None:
            return gone_through
        run_id, state = due
        if state == CHECKING:
            gone_through += _check_some(engine, book, run_id, now=now())
        else:
            gone_through += _reprice_some(engine, book, run_id, now=now(), on=today())
    return gone_through


def _reprice_some(engine: Engine, book: "RulesBook", run_id: str, *, now: datetime, on: date) -> int:
    """One batch of a run, in one transaction."""
    with writing(engine) as session:
        connection = session.connection()
        run = connection.execute(select(_RUN).where(_RUN.c.id == run_id).with_for_update()).one()
        if run.state not in (WAITING, RUNNING):
            return 0
        kept: dict[str, Any] = {}
        if run.state == WAITING:
            open_drafts = select(func.count()).select_from(_BASIS.join(_QUOTE, _QUOTE.c.id == _BASIS.c.quote_id))
            total = connection.execute(open_drafts.where(_QUOTE.c.state == QuoteState.DRAFTED)).scalar_one()
            kept = {"state": RUNNING, "total": total, "started_at": now}
        repricer = Repricer(session, book.in_force(session, on), on)
        ids, changed, to_check = reprice_batch(session, repricer, after=run.cursor, limit=BATCH)
        if ids:
            kept |= {
                "cursor": ids[-1],
                "done": run.done + len(ids),
                "changed": run.changed + changed,
                "to_check": run.to_check + to_check,
            }
        else:
            kept |= {"state": CHECKING, "cursor": ""}
        connection.execute(update(_RUN).where(_RUN.c.id == run_id).values(kept))
        return len(ids)


def reprice_batch(session: Session, repricer: Repricer, *, after: str, limit: int) -> tuple[list[str], int, int]:
    """Re-price the next open drafts after one. Answers their ids, how many changed and how many are to be checked."""
    connection = session.connection()
    drafts = connection.execute(
        select(
            _BASIS.c.quote_id, _BASIS.c.price_key, _BASIS.c.fixed_on, _BASIS.c.money, _BASIS.c.watched,
            _BASIS.c.choice, _QUOTE.c.total_pence, _QUOTE.c.net_pence,
        )
        .select_from(_BASIS.join(_QUOTE, _QUOTE.c.id == _BASIS.c.quote_id))
        .where(_QUOTE.c.state == QuoteState.DRAFTED, _BASIS.c.quote_id > after)
        .order_by(_BASIS.c.quote_id)
        .limit(limit)
        .with_for_update(of=_QUOTE)
    ).all()  # fmt: skip
    if not drafts:
        return [], 0, 0
    money = {draft.quote_id: from_json(draft.money) for draft in drafts}
    if any("charged" not in one for one in money.values()):
        # Drafts of an earlier release keep their lines only as rows.
        for one in money.values():
            one["charged"] = []
        for quote_id, sku, thousandths in _raw_charged(session, drafts[0].quote_id, drafts[-1].quote_id):
            if quote_id in money:
                money[quote_id]["charged"].append((sku, thousandths))
    new_amounts: list[dict[str, Any]] = []
    new_bases: list[dict[str, Any]] = []
    changed = to_check = 0
    for draft in drafts:
        if draft.price_key == repricer.key or (draft.fixed_on is not None and draft.fixed_on < repricer.on):
            continue
        basis: dict[str, Any] = {
            "of": draft.quote_id, "to_key": draft.price_key, "to_on": repricer.on, "to_stale": True, "to_note": "",
            "to_choice": draft.choice,
        }  # fmt: skip
        try:
            its = money[draft.quote_id]
            price = repricer.price_of(narrow_draft(its, its["charged"]), amounts_only=True)
        except NotListed as fault:
            # The old amounts stay; what they rest on says why.
            note = f"not re-priced under {repricer.rules.price_list.version}: {fault}"
            new_bases.append(basis | {"to_note": note[:400], "to_choice": CHECK, "to_stale": False})
            to_check += 1
            continue
        if draft.choice == CHECK or repricer.must_check(
            draft.price_key, watched_of(from_json(draft.watched)), session
        ):
            basis["to_choice"] = CHECK
            to_check += 1
        new_bases.append(basis | {"to_key": repricer.key})
        if (price.total_pence, price.net_pence) != (draft.total_pence, draft.net_pence):
            changed += 1
        new_amounts.append({"of": draft.quote_id, **{f"to_{name}": getattr(price, name) for name in AMOUNTS}})
    if new_amounts:
        values: dict[str, Any] = {name: bindparam(f"to_{name}") for name in AMOUNTS}
        connection.execute(update(_QUOTE).where(_QUOTE.c.id == bindparam("of")).values(values), new_amounts)
    if new_bases:
        values = {
            "price_key": bindparam("to_key"), "priced_on": bindparam("to_on"), "document_stale": bindparam("to_stale"),
            "choice": bindparam("to_choice"), "note": bindparam("to_note"),
        }  # fmt: skip
        connection.execute(update(_BASIS).where(_BASIS.c.quote_id == bindparam("of")).values(values), new_bases)
    return [draft.quote_id for draft in drafts], changed, to_check


def _raw_charged(session: Session, first: str, last: str) -> list[tuple[str, str, int]]:
    """Quote, SKU and charged thousandths of the lines between two drafts, as the database keeps them."""
    lines = session.connection().exec_driver_sql(
        _RAW_CHARGED[session.get_bind().dialect.name], (first, last)
    )
    return lines.all()  # type: ignore[return-value]


_COLUMNS = "SELECT quote_id, sku, charged FROM draft_line WHERE quote_id >= {0} AND quote_id <= {0} ORDER BY quote_id"
_RAW_CHARGED = {"sqlite": _COLUMNS.format("?"), "postgresql": _COLUMNS.format("%s")}


# --- would a fresh estimate choose otherwise? ---


def _check_some(engine: Engine, book: "RulesBook", run_id: str, *, now: datetime) -> int:
    """Work out a few drafts afresh and write down what they would choose; the end of the run when none is left."""
    with reading(engine) as session:
        found = session.connection().execute(
            select(_BASIS.c.quote_id, _BASIS.c.priced_on, _BASIS.c.watched, _QUOTE.c.survey, _QUOTE.c.choices)
            .select_from(_BASIS.join(_QUOTE, _QUOTE.c.id == _BASIS.c.quote_id))
            .where(_QUOTE.c.state == QuoteState.DRAFTED, _BASIS.c.choice == CHECK)
            .order_by(_BASIS.c.quote_id)
            .limit(_CHECK_BATCH)
        ).all()
        verdicts = [
            {"of": one.quote_id, **_verdict(session, book, one.survey, one.choices, one.watched, one.priced_on)}
            for one in found
        ]
    with writing(engine) as session:
        connection = session.connection()
        run = connection.execute(select(_RUN).where(_RUN.c.id == run_id).with_for_update()).one()
        if run.state != CHECKING:
            return 0
        if verdicts:
            where = (_BASIS.c.quote_id == bindparam("of")) & (_BASIS.c.choice == CHECK)
            values: dict[str, Any] = {"choice": bindparam("to_choice"), "differences": bindparam("to_differences")}
            connection.execute(update(_BASIS).where(where).values(values), verdicts)
            differ = sum(verdict["to_choice"] == CHOICE_DIFFERS for verdict in verdicts)
            connection.execute(update(_RUN).where(_RUN.c.id == run_id).values(differ=run.differ + differ))
        else:
            connection.execute(update(_RUN).where(_RUN.c.id == run_id).values(state=DONE, ended_at=now))
    return len(verdicts)


def _verdict(
    session: Session, book: "RulesBook", survey: str, choices: str, watched: str, on: date
) -> dict[str, str]:
    try:
        rules = book.in_force(session, on)
        fresh = estimate(Survey.model_validate_json(survey), Choices.model_validate_json(choices), rules, today=on)
        said = differences(json.loads(watched), fresh, on)
    except Exception as fault:
        # A draft that cannot be worked out any more must not stop the run; it says so itself.
        _log.warning("a draft could not be worked out afresh", exc_info=fault)
        said = [f"it cannot be worked out as it stands: {fault}"[:300]]
    return {"to_choice": CHOICE_DIFFERS if said else SAME, "to_differences": json.dumps(said, ensure_ascii=False)}


def differences(watched: dict[str, Any], fresh: Estimate, on: date) -> list[str]:
    """What a fresh estimate would choose otherwise, in words."""
    now = narrow_rows(fresh)
    if now is None:
        stops = [finding.message for finding in fresh.findings if finding.strength == "stop"]
        return [f"a fresh estimate has no whole price: {stop}" for stop in stops[:3]]
    said: list[str] = []
    listed = fresh.rules.price_list

    def ended(skus: list[str]) -> str:
        words = []
        for sku in skus:
            line = listed.lines.get(sku)
            if line is None:
                words.append(f"{sku} is no longer listed")
            elif not line.sold_on(on) and line.ends_on is not None:
                other = listed.in_place_of(sku, on)
                instead = f", {other.sku} is its substitute" if other else ""
                words.append(f"{sku} was sold until {line.ends_on:%d %B %Y}{instead}")
        return f" ({'; '.join(words)})" if words else ""

    if now.watched["flow_temp_c"] != watched["flow_temp_c"]:
        said.append(f"flow temperature {watched['flow_temp_c']:g} °C becomes {now.watched['flow_temp_c']:g} °C")
    for name in ("unit", "cylinder"):
        if now.watched[name] != watched[name]:
            old = watched[name].rpartition(" ")[2]
            said.append(f"{name} {watched[name] or 'none'} becomes {now.watched[name] or 'none'}{ended([old])}")
    rooms = {room.room_id: room for room in fresh.design.emitters.rooms}
    for room_id, (name, *skus) in watched["rooms"].items():
        there = now.watched["rooms"].get(room_id, [name])[1:]
        if there != skus:
            room = rooms.get(room_id)
            sizes = f", {room.output_w:.0f} W for {room.needed_w:.0f} W" if room is not None else ""
            was, becomes = " + ".join(skus) or "as it is", " + ".join(there) or "as it is"
            said.append(f"{name}: {was} becomes {becomes}{sizes}{ended(skus)}")
    return said


# --- the document of a re-priced draft ---


def current_workings(session: Session, quote: Quote, book: "RulesBook") -> bytes:
    """The document of a draft with its present amounts. Nothing is written; an issued quote keeps its own bytes."""
    basis = basis_of(session, quote.id)
    if quote.state != QuoteState.DRAFTED or basis is None or not basis.document_stale:
        return quote.workings
    return to_json(_brought_up_to_date(session, quote, basis, book).document)


def current_whys(session: Session, quote: Quote, book: "RulesBook") -> bytes:
    """Why each figure of a quote is what it is: as kept, with bill and price of a draft at its present amounts."""
    basis = basis_of(session, quote.id)
    if quote.state != QuoteState.DRAFTED or basis is None or not basis.document_stale:
        return _kept_whys(session, quote)
    return _whys_up_to_date(session, quote, _brought_up_to_date(session, quote, basis, book))


def _kept_whys(session: Session, quote: Quote) -> bytes:
    kept = quotes.whys_of(session, quote.id)
    return to_json(json.loads(quote.workings).get("why", {})) if kept is None else kept.body


def _whys_up_to_date(session: Session, quote: Quote, now: "UpToDate") -> bytes:
    old = json.loads(_kept_whys(session, quote))
    stays = {path: why for path, why in old.items() if not path.startswith(("bill.", "price."))}
    return to_json(stays | money_why_document(now))


@dataclass(frozen=True, slots=True)
class UpToDate:
    """A draft under the prices in force: its document, and what the reasons of its money are made of."""

    document: dict[str, Any]
    survey: Survey
    rules: Rules
    bill: Bill
    price: Price


def settle(session: Session, quote: Quote, book: "RulesBook") -> None:
    """Write the present amounts into the document of a draft before it is sealed. The caller has locked the quote."""
    basis = basis_of(session, quote.id)
    if basis is None or not basis.document_stale or quote.state != QuoteState.DRAFTED:
        return
    now = _brought_up_to_date(session, quote, basis, book)
    whys, document = _whys_up_to_date(session, quote, now), now.document
    quote.workings = to_json(document)
    quotes.keep_whys(session, quote.id, body=whys, sha256=hashlib.sha256(whys).hexdigest())
    quote.findings = json.dumps(document["findings"], ensure_ascii=False)
    quote.rules_version = f"{document['basis']['rules_version']} {document['basis']['price_list_version']}"[:80]
    basis.document_stale = False
    session.add(quote)
    session.add(basis)


def _brought_up_to_date(session: Session, quote: Quote, basis: DraftBasis, book: "RulesBook") -> UpToDate:
    rules = book.in_force(session, basis.priced_on)
    repricer = Repricer(session, rules, basis.priced_on)
    lines = session.execute(select(DraftLine).where(col(DraftLine.quote_id) == quote.id)).scalars().all()
    charged = tuple((line.sku, int(line.charged * _THOUSAND)) for line in lines)
    price = repricer.price_of(narrow_draft(json.loads(basis.money), charged))
    document: dict[str, Any] = json.loads(quote.workings)
    document.pop("why", None)
    bill = document["bill"]
    for line in bill["lines"]:
        its, listed = repricer.unit_prices[line["sku"]], rules.price_list.lines[line["sku"]]
        thousandths = int(Decimal(str(line["charged"])) * _THOUSAND)
        line |= {
            "cost_unit_gbp": str(Decimal(its.cost).scaleb(-4)),
            "unit_sell_gbp": str(Decimal(its.sell).scaleb(-4)),
            "cost_pence": line_amount_pence(thousandths, its.cost),
            "sell_pence": line_amount_pence(thousandths, its.sell),
            "vat_class": its.vat_class,
            "margin_class": listed.margin_class,
            "sales_nominal": listed.sales_nominal,
            "supplier": listed.supplier,
            "supplier_code": listed.supplier_code,
            "lead_time_days": listed.lead_time_days,
        }
    bill["cost_pence"] = sum(line["cost_pence"] for line in bill["lines"])
    bill["sell_pence"] = sum(line["sell_pence"] for line in bill["lines"])
    # What stands beside the price (extras, provisional sums, subcontract, exclusions) is as it was drafted.
    beside = ("extras", "provisional_sums", "subcontract", "exclusions", "notices")
    old_price = document["price"]
    new_price = price.document()
    document["price"] = plain(new_price) | {name: old_price[name] for name in beside if name in old_price}
    if old_price.get("total_with_provisional_pence") is not None and price.total_pence is not None:
        extra = old_price["total_with_provisional_pence"] - old_price["total_pence"]
        document["price"]["total_with_provisional_pence"] = price.total_pence + extra
    of_price = {tuple(one) for one in json.loads(basis.watched)["price_findings"]}
    kept = [
        one
        for one in document["findings"]
        if (one["code"], one["where"]) not in of_price or one["code"].startswith("subcontract_")
    ]
    kept += [finding_document(finding) for finding in price.findings]
    document["findings"] = sorted(kept, key=lambda one: STRENGTHS.index(one["strength"]))
    document["basis"] |= {
        "rules_version": rules.version,
        "price_list_version": rules.price_list.version,
        "price_list_valid_from": rules.price_list.valid_from.isoformat(),
        "priced_on": basis.priced_on.isoformat(),
    }
    survey = Survey.model_validate_json(quote.survey)
    return UpToDate(document, survey, rules, _bill_of(bill), price)


def _bill_of(document: dict[str, Any]) -> Bill:
    """The bill that a document shows, as values again."""
    lines = tuple(
        BillLine(
            **{("because" if name == "why" else name): value for name, value in line.items()}
            | {name: Decimal(str(line[name])) for name in _DECIMALS}
        )
        for line in document["lines"]
    )
    return Bill(lines, document["cost_pence"], document["sell_pence"])


_DECIMALS = tuple(name for name, kind in BillLine.__annotations__.items() if kind is Decimal)


# --- the thread ---


def wake_after_commit(session: Session, background: "Background") -> None:
    """Wake the background once what the session writes is committed; not at all when it is rolled back."""
    event.listen(session, "after_commit", lambda _: background.wake(), once=True)


class Background:
    """One thread a process that works off what is due: at once when it is woken, otherwise every minute."""

    def __init__(
        self, engine: Engine, book: "RulesBook", *, now: Callable[[], datetime], today: Callable[[], date]
    ) -> None:
        self._engine, self._book, self._now, self._today = engine, book, now, today
        self._stop, self._wake = threading.Event(), threading.Event()
        self._lock = threading.Lock()
        self._users = 0
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Begin, with whatever a former process left undone. Whoever starts it twice has one thread."""
        with self._lock:
            self._users += 1
            if self._thread is None:
                self._stop.clear()
                self._thread = threading.Thread(target=self._go_on, name="repricing", daemon=True)
                self._thread.start()

    def wake(self) -> None:
        """There is something to do."""
        self._wake.set()

    def end(self) -> None:
        """Finish the batch at hand and stop, once everybody who started it is done."""
        with self._lock:
            self._users -= 1
            if self._users > 0 or self._thread is None:
                return
            self._stop.set()
            self._wake.set()
            self._thread.join(timeout=10)
            self._thread = None

    def _go_on(self) -> None:
        while not self._stop.is_set():
            try:
                work_off(self._engine, self._book, now=self._now, today=self._today, stop=self._stop)
            except Exception as fault:
                _log.error("re-pricing was broken off; it goes on in a minute", exc_info=fault)
            self._wake.wait(timeout=60)
            self._wake.clear()
