"""Price lists in the office: drafts, single lines, uplifts, publishing, undoing. Every change is audited."""

from collections.abc import Iterable
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from sqlmodel import Session

from api.errors import Problem, conflict, not_found
from api.ids import is_id
from api.security import Actor, require
from api.services.repricing import plan_run
from api.services.rules import RulesBook
from api.store import office, prices
from api.versions import check_version
from models.catalogue import PriceLine
from models.catalogue.imports import Changed, Uplift, cells_of, change_of, line_of, stale_lines, uplifted
from models.records import PriceListRecord


def list_for(session: Session, list_id: str, *, lock: bool = False) -> PriceListRecord:
    """The list at an address. Raises 404."""
    found = prices.price_list(session, list_id, lock=lock) if is_id(list_id) else None
    if found is None:
        raise not_found("price list")
    return found


def draft_for(session: Session, actor: Actor, list_id: str, if_match: str | None) -> PriceListRecord:
    """A draft, locked, to be changed. Raises 403, 404, 409 for a list that is no draft, 412 for another edition."""
    require(actor, "edit_prices")
    head = list_for(session, list_id, lock=True)
    check_version(head.edition, if_match, None)
    if head.state != prices.DRAFT:
        raise conflict(f"price list {head.version} is {head.state} and cannot be changed; make a draft of it")
    return head


def make_draft(
    session: Session, actor: Actor, base: PriceListRecord, *, note: str, now: datetime, today: date
) -> PriceListRecord:
    """A draft with the lines of a list."""
    require(actor, "edit_prices")
    head = prices.new_draft(session, base, valid_from=today, by=actor.name, now=now, note=note)
    _audit(session, actor, head, "price_list_drafted", now, {"based_on": base.version})
    return head


def write(
    session: Session,
    actor: Actor,
    head: PriceListRecord,
    changes: Iterable[Changed],
    added: Iterable[PriceLine] = (),
    *,
    action: str,
    now: datetime,
    detail: dict[str, Any] | None = None,
) -> None:
    """Write changed and added lines into a draft, and who did it with old and new."""
    changes, added = tuple(changes), tuple(added)
    prices.write_lines(session, head.id, (*(change.line for change in changes), *added))
    head.edition += 1
    session.add(head)
    told = [
        {"sku": change.line.sku, "fields": [list(field) for field in change.fields]} for change in changes[:1000]
    ]
    more = {"changed": told, "changed_count": len(changes), "added": [line.sku for line in added[:1000]]}
    _audit(session, actor, head, action, now, {**(detail or {}), **more})


def save_line(
    session: Session,
    actor: Actor,
    head: PriceListRecord,
    sku: str,
    cells: dict[str, str],
    *,
    now: datetime,
    today: date,
) -> tuple[PriceLine, bool]:
    """Change one line of a draft, or add it. Cells that are not given stay. Answers the line, and whether it is new.

    Raises a 422 problem that names column and reason.
    """
    record = prices.price_line(session, head.id, sku)
    old = None if record is None else prices.line_of_record(record)
    stood = {} if old is None else cells_of(old)
    try:
        line = line_of({**stood, **cells, "sku": sku})
        if old is not None and line.cost_gbp != old.cost_gbp and line.priced_on == old.priced_on:
            line = line.model_copy(update={"priced_on": today})
        if line.cost_gbp < 0 and (old is None or old.cost_gbp >= 0) and "credit" not in line.description.lower():
            raise ValueError(f"cost_gbp {line.cost_gbp} is below nothing, and the description does not say credit")
    except ValueError as fault:
        raise Problem(422, "invalid", f"{sku}: {fault}") from fault
    if old is None:
        line = line if line.priced_on else line.model_copy(update={"priced_on": today})
        write(session, actor, head, (), (line,), action="price_line_added", now=now)
    elif line != old:
        write(session, actor, head, (change_of(0, line, old),), action="price_line_changed", now=now)
    return line, old is None


def uplift_of(
    *, change_ratio: Decimal, round_to_gbp: Decimal, supplier: str = "", margin_class: str = "", group: str = ""
) -> Uplift:
    """An uplift as it is asked for."""
    return Uplift(change_ratio, round_to_gbp, supplier, margin_class, group)


def preview_uplift(session: Session, head: PriceListRecord, uplift: Uplift, *, today: date) -> tuple[Changed, ...]:
    """What an uplift would change. Raises a 422 problem for one that cannot be worked out."""
    try:
        return uplifted(prices.lines_of(session, head.id).values(), uplift, on=today)
    except ValueError as fault:
        raise Problem(422, "invalid", str(fault)) from fault


def apply_uplift(
    session: Session, actor: Actor, head: PriceListRecord, uplift: Uplift, *, now: datetime, today: date
) -> tuple[Changed, ...]:
    """Change the costs of a draft by an uplift."""
    changes = preview_uplift(session, head, uplift, today=today)
    if changes:
        detail = {
            "change_ratio": str(uplift.change_ratio),
            "round_to_gbp": str(uplift.round_to_gbp),
            "supplier": uplift.supplier,
            "margin_class": uplift.margin_class,
            "group": uplift.group,
        }
        write(session, actor, head, changes, action="price_list_uplifted", now=now, detail=detail)
    return changes


def confirm(
    session: Session, actor: Actor, head: PriceListRecord, skus: frozenset[str], *, now: datetime, today: date
) -> int:
    """Write down that prices still hold today. Answers how many lines that are not from today already."""
    lines = prices.lines_of(session, head.id)
    changes = [
        change_of(0, line.model_copy(update={"priced_on": today}), line)
        for sku, line in lines.items()
        if sku in skus and line.priced_on != today
    ]
    if changes:
        write(session, actor, head, changes, action="prices_confirmed", now=now)
    return len(changes)


def stale(session: Session, head: PriceListRecord, *, days: int, today: date) -> tuple[PriceLine, ...]:
    """The lines of a list whose price nobody confirmed for more than so many days."""
    since = prices.first_held_on(session, head)
    return stale_lines(prices.lines_of(session, head.id).values(), on=today, list_from=since, days=days)


def changes_since_base(session: Session, head: PriceListRecord) -> tuple[tuple[PriceLine, ...], tuple[Changed, ...]]:
    """What is new and what is changed in a list against the one that it was copied from."""
    if head.based_on is None:
        return (), ()
    before = prices.lines_of(session, head.based_on)
    now = prices.lines_of(session, head.id)
    added = tuple(line for sku, line in now.items() if sku not in before)
    changed = tuple(
        change_of(0, line, before[sku]) for sku, line in now.items() if sku in before and line != before[sku]
    )
    return added, changed


def publish(
    session: Session,
    actor: Actor,
    head: PriceListRecord,
    book: RulesBook,
    *,
    valid_from: date,
    firm: bool,
    now: datetime,
    today: date,
) -> None:
    """Put a draft in force from a day on, and start the re-pricing of open drafts. The draft is locked by the caller.

    Raises a 409 problem when recipes or margins in force then do not fit the list, or a substitute is not in it, and
    422 for a day that is past: what was priced under a list stays priced under it.
    """
    if valid_from < today:
        raise Problem(422, "invalid", f"a list holds from today on at the earliest, not from {valid_from}")
    lines = prices.lines_of(session, head.id)
    astray = [
        f"{line.sku} ({line.substitute})"
        for line in lines.values()
        if line.substitute and line.substitute not in lines
    ]
    if astray:
        raise conflict(f"a substitute is not in the list: {', '.join(astray[:10])}")
    head.valid_from, head.firm, head.state, head.published_at = valid_from, firm, prices.PUBLISHED, now
    head.edition += 1
    for other in prices.published_on_day(session, valid_from):
        if other.id != head.id:
            other.state = prices.RETIRED
            session.add(other)
    session.add(head)
    session.flush()
    book.check(session, valid_from)
    run = plan_run(session, reason=f"price list {head.version}", starts_on=valid_from, now=now)
    detail = {"version": head.version, "valid_from": valid_from.isoformat(), "firm": firm, "repricing_run": run.id}
    _audit(session, actor, head, "price_list_published", now, detail)


def undo(
    session: Session, actor: Actor, head: PriceListRecord, book: RulesBook, *, now: datetime, today: date
) -> PriceListRecord:
    """Publish the version that was in force before this one again, as a new version with the same lines.

    Raises a 409 problem for a list that is not published, or has none before it.
    """
    require(actor, "edit_prices")
    if head.state != prices.PUBLISHED:
        raise conflict(f"only a published list can be undone; {head.version} is {head.state}")
    former = prices.published_before(session, head)
    if former is None:
        raise conflict(f"there is no list before {head.version}")
    note = f"{former.version} again, in place of {head.version}"
    again = prices.new_draft(session, former, valid_from=today, by=actor.name, now=now, note=note)
    _audit(session, actor, again, "price_list_drafted", now, {"based_on": former.version, "undoes": head.version})
    first = max(today, head.valid_from)
    publish(session, actor, again, book, valid_from=first, firm=former.firm, now=now, today=today)
    return again


def retire(session: Session, actor: Actor, head: PriceListRecord, *, now: datetime, today: date) -> None:
    """Put a draft aside, or a published list before its first day. Raises a 409 problem for any other."""
    require(actor, "edit_prices")
    if head.state == prices.RETIRED or (head.state == prices.PUBLISHED and head.valid_from <= today):
        raise conflict(f"{head.version} is {head.state} since {head.valid_from}: undo it instead")
    was = head.state
    head.state = prices.RETIRED
    head.edition += 1
    session.add(head)
    _audit(session, actor, head, "price_list_retired", now, {"was": was})


def _audit(
    session: Session, actor: Actor, head: PriceListRecord, action: str, now: datetime, detail: dict[str, Any]
) -> None:
    office.write_audit(session, actor=actor.id, action=action, subject=head.id, now=now, detail=detail)
