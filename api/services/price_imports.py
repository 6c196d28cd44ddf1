"""A file of prices against a list: shown first, then taken into a draft. Nothing changes until it is applied."""

from dataclasses import dataclass
from datetime import date, datetime

from sqlmodel import Session

from api.errors import Problem
from api.security import Actor, require
from api.services.price_lists import make_draft, write
from api.services.rules import RulesBook
from api.store import prices
from models.catalogue.imports import ImportPlan, UnreadableFile, change_of, decoded, plan_import, read_table
from models.records import PriceListRecord


@dataclass(frozen=True, slots=True)
class Applied:
    """What an import did: the plan, the draft that holds it (None where nothing changed), rises left as they were."""

    plan: ImportPlan
    draft: PriceListRecord | None
    held_back: tuple[str, ...]


def dry_run(session: Session, head: PriceListRecord, data: bytes, book: RulesBook, *, today: date) -> ImportPlan:
    """What a file would do to a list. Raises a 422 problem for a file that cannot be read at all."""
    classes = frozenset(book.in_force(session, today).rates.margin_ratio_by_class)
    try:
        return plan_import(
            read_table(data), prices.lines_of(session, head.id), read_on=today, margin_classes=classes
        )
    except UnreadableFile as fault:
        raise Problem(422, "invalid", str(fault)) from fault


def text_of(data: bytes) -> str:
    """The text of a file, for a page that shows it again before it is taken."""
    return decoded(data)[0]


def apply(
    session: Session,
    actor: Actor,
    head: PriceListRecord,
    data: bytes,
    book: RulesBook,
    *,
    ticked: frozenset[str],
    confirm: bool,
    file_name: str,
    now: datetime,
    today: date,
) -> Applied:
    """Take a file into a draft: the list itself when it is one, otherwise a new draft of it.

    Rises that nobody ticked are held back. With `confirm`, lines that the file leaves as they are count as confirmed
    today. A file that changes nothing makes no draft. The list is locked by the caller.
    """
    require(actor, "edit_prices")
    plan = dry_run(session, head, data, book, today=today)
    held_back = tuple(change.line.sku for change in plan.needs_tick if change.line.sku not in ticked)
    changes = [change for change in plan.changed if change.line.sku not in held_back]
    if confirm:
        lines = prices.lines_of(session, head.id)
        changes += [
            change_of(0, lines[sku].model_copy(update={"priced_on": today}), lines[sku])
            for sku in plan.unchanged
            if lines[sku].priced_on != today
        ]
    added = [one.line for one in plan.added]
    if not changes and not added:
        return Applied(plan, None, held_back)
    draft = head
    if head.state != prices.DRAFT:
        note = f"import of {file_name}"[:200] if file_name else "import"
        draft = make_draft(session, actor, head, note=note, now=now, today=today)
    detail = {"file": file_name, "rejected": len(plan.rejected), "ticked": sorted(ticked), "held_back": list(held_back)}
    write(session, actor, draft, changes, added, action="prices_imported", now=now, detail=detail)
    return Applied(plan, draft, held_back)
