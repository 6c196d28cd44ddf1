"""Price lists as rows: read into the values that the pure core takes, and seeded from the firm's files."""

import json
from collections.abc import Callable, Iterable
from datetime import date, datetime
from decimal import Decimal
from operator import attrgetter
from typing import Any

from sqlalchemy import func, insert, literal, or_, select as core_select
from sqlmodel import Session, col, select

from api.ids import new_id
from api.store.counters import take_number
from models.catalogue import PriceLine, PriceList
from models.records import PriceLineRecord, PriceListRecord

DRAFT, PUBLISHED, RETIRED = "draft", "published", "retired"
_LINES = PriceLineRecord.__table__  # type: ignore[attr-defined]
_NAMES = tuple(PriceLine.model_fields)


def list_in_force(session: Session, on: date) -> str | None:
    """The id of the published list with the latest first day not after `on`; None before the first."""
    return session.exec(
        select(PriceListRecord.id)
        .where(PriceListRecord.state == "published", col(PriceListRecord.valid_from) <= on)
        .order_by(col(PriceListRecord.valid_from).desc(), col(PriceListRecord.id).desc())
        .limit(1)
    ).first()


def first_day(session: Session) -> date | None:
    """The day from which there is any published list."""
    return session.exec(
        select(col(PriceListRecord.valid_from))
        .where(PriceListRecord.state == "published")
        .order_by(col(PriceListRecord.valid_from))
        .limit(1)
    ).first()


def first_days_after(session: Session, on: date) -> set[date]:
    """The first days after a day on which another list comes into force."""
    query = select(col(PriceListRecord.valid_from)).where(
        PriceListRecord.state == PUBLISHED, col(PriceListRecord.valid_from) > on
    )
    return set(session.exec(query))


def load_price_list(session: Session, list_id: str) -> PriceList:
    """A list with all its lines, in the order in which they stood."""
    head = session.get_one(PriceListRecord, list_id)
    return PriceList.of(head.version, head.valid_from, tuple(lines_of(session, list_id).values()), firm=head.firm)


def lines_of(session: Session, list_id: str) -> dict[str, PriceLine]:
    """All lines of a list by SKU, in the order in which they stood. They were checked when they were written."""
    columns = [getattr(PriceLineRecord, name) for name in _NAMES]
    query = core_select(*columns).where(_LINES.c.list_id == list_id).order_by(_LINES.c.place)
    lines: dict[str, PriceLine] = {}
    for row in session.connection().execute(query):
        values = dict(zip(_NAMES, row, strict=True))
        values["attributes"] = _attributes(values["attributes"])
        lines[values["sku"]] = _as_it_was_checked(values)
    return lines


_FIELDS = frozenset(_NAMES)
_set = object.__setattr__


def _as_it_was_checked(values: dict[str, Any]) -> PriceLine:
    """What `PriceLine.model_construct` does, for a row that has every field: far faster for long lists."""
    line = PriceLine.__new__(PriceLine)
    _set(line, "__dict__", values)
    _set(line, "__pydantic_fields_set__", set(_FIELDS))
    _set(line, "__pydantic_extra__", None)
    _set(line, "__pydantic_private__", None)
    return line


def line_of_record(row: PriceLineRecord) -> PriceLine:
    """The line that a row holds."""
    values = {name: getattr(row, name) for name in _NAMES}
    return PriceLine.model_validate(values | {"attributes": _attributes(row.attributes)})


def _attributes(text: str) -> dict[str, Decimal]:
    return {} if text == "{}" else {name: Decimal(value) for name, value in json.loads(text).items()}


def _attributes_text(line: PriceLine) -> str:
    return json.dumps({name: str(value) for name, value in line.attributes.items()}) if line.attributes else "{}"


_COLUMNS: tuple[tuple[str, Callable[[PriceLine], Any]], ...] = tuple(
    ("line_group" if name == "group" else name, _attributes_text if name == "attributes" else attrgetter(name))
    for name in _NAMES
)
"""Each column of the table with what a line holds for it."""


def seed_price_list(session: Session, given: PriceList) -> str:
    """Publish a list of the firm's files unless its version is there. Answers its id."""
    known = session.exec(select(PriceListRecord.id).where(PriceListRecord.version == given.version)).first()
    if known is not None:
        return known
    head = PriceListRecord(
        id=new_id(), version=given.version, valid_from=given.valid_from, state=DRAFT, firm=given.firm
    )
    session.add(head)
    session.flush()
    write_lines(session, head.id, given.lines.values())
    head.state = PUBLISHED
    session.add(head)
    session.flush()
    return head.id


def write_lines(session: Session, list_id: str, lines: Iterable[PriceLine]) -> None:
    """Write lines into a draft: those that it has already in their places, new ones at its end."""
    connection = session.connection()
    there = set(connection.execute(core_select(_LINES.c.sku).where(_LINES.c.list_id == list_id)).scalars())
    last = connection.execute(core_select(func.max(_LINES.c.place)).where(_LINES.c.list_id == list_id)).scalar()
    place = -1 if last is None else int(last)
    new: list[tuple[Any, ...]] = []
    old: list[tuple[Any, ...]] = []
    dialect = connection.dialect
    raw = [(getter, _LINES.c[name].type.dialect_impl(dialect).bind_processor(dialect)) for name, getter in _COLUMNS]
    for line in lines:
        row = [getter(line) if process is None else process(getter(line)) for getter, process in raw]
        if line.sku in there:
            old.append((*row, list_id, line.sku))
        else:
            place += 1
            new.append((*row, list_id, place))
    # Tens of thousands of rows: the statement is written out once and the driver gets plain tuples.
    mark = "?" if dialect.name == "sqlite" else "%s"
    names = [name for name, _ in _COLUMNS]
    if new:
        columns = ", ".join([*names, "list_id", "place"])
        marks = ", ".join([mark] * (len(names) + 2))
        connection.exec_driver_sql(f"INSERT INTO price_line ({columns}) VALUES ({marks})", new)
    if old:
        changes = ", ".join(f"{name} = {mark}" for name in names)
        connection.exec_driver_sql(f"UPDATE price_line SET {changes} WHERE list_id = {mark} AND sku = {mark}", old)


def new_draft(
    session: Session, base: PriceListRecord, *, valid_from: date, by: str, now: datetime, note: str = ""
) -> PriceListRecord:
    """A draft with the lines of another list, under the next number."""
    head = PriceListRecord(
        id=new_id(),
        version=f"prices-{take_number(session, 'price_list'):04d}",
        valid_from=valid_from,
        state=DRAFT,
        firm=base.firm,
        based_on=base.id,
        note=note,
        made_at=now,
        made_by=by,
    )
    session.add(head)
    session.flush()
    names = [column.name for column in _LINES.c if column.name != "list_id"]
    copied = core_select(literal(head.id), *(_LINES.c[name] for name in names)).where(_LINES.c.list_id == base.id)
    session.connection().execute(insert(_LINES).from_select(["list_id", *names], copied))
    return head


def published_on_day(session: Session, day: date) -> list[PriceListRecord]:
    """The published lists whose first day this is."""
    return list(
        session.exec(
            select(PriceListRecord).where(PriceListRecord.state == PUBLISHED, PriceListRecord.valid_from == day)
        )
    )


def published_before(session: Session, head: PriceListRecord) -> PriceListRecord | None:
    """The list that was in force before this one came: the latest published first day before its own, or the same
    day's earlier list, retired or not."""
    return session.exec(
        select(PriceListRecord)
        .where(
            col(PriceListRecord.state).in_((PUBLISHED, RETIRED)),
            col(PriceListRecord.id) != head.id,
            (col(PriceListRecord.valid_from) < head.valid_from)
            | ((col(PriceListRecord.valid_from) == head.valid_from) & (col(PriceListRecord.id) < head.id)),
        )
        .order_by(col(PriceListRecord.valid_from).desc(), col(PriceListRecord.id).desc())
        .limit(1)
    ).first()


def first_held_on(session: Session, head: PriceListRecord) -> date:
    """The first day of the list that all of its forerunners were copied from: what was never confirmed is that old."""
    seen = {head.id}
    while head.based_on is not None and head.based_on not in seen:
        seen.add(head.based_on)
        base = session.get(PriceListRecord, head.based_on)
        if base is None:
            break
        head = base
    return head.valid_from


def classes_of(session: Session, list_id: str) -> dict[str, list[str]]:
    """The suppliers, margin classes and groups that stand in a list."""
    found: dict[str, list[str]] = {}
    for name, column in (
        ("supplier", _LINES.c.supplier), ("margin_class", _LINES.c.margin_class), ("group", _LINES.c.line_group),
    ):  # fmt: skip
        query = core_select(column).where(_LINES.c.list_id == list_id).distinct().order_by(column)
        found[name] = [str(value) for value in session.connection().execute(query).scalars()]
    return found


def price_lists(session: Session, *, before: tuple[date, str] | None, limit: int) -> list[PriceListRecord]:
    """Lists, the latest first day first, after a place in that order."""
    query = select(PriceListRecord)
    if before is not None:
        day, list_id = before
        query = query.where(
            (col(PriceListRecord.valid_from) < day)
            | ((col(PriceListRecord.valid_from) == day) & (col(PriceListRecord.id) < list_id))
        )
    query = query.order_by(col(PriceListRecord.valid_from).desc(), col(PriceListRecord.id).desc()).limit(limit)
    return list(session.exec(query))


def price_list(session: Session, list_id: str, *, lock: bool = False) -> PriceListRecord | None:
    """One list without its lines."""
    return session.get(PriceListRecord, list_id, with_for_update=lock or None)


def price_lines(
    session: Session, list_id: str, *, after_sku: str, limit: int, search: str = "", about_cost: bool = True
) -> list[PriceLineRecord]:
    """Lines of a list by SKU, after one; with `search` only those that hold all its words.

    Without `about_cost` suppliers and classes are not searched either, so that a search tells nothing about them.
    """
    query = select(PriceLineRecord).where(PriceLineRecord.list_id == list_id, col(PriceLineRecord.sku) > after_sku)
    for word in search.lower().split()[:5]:
        columns = [PriceLineRecord.sku, PriceLineRecord.description, PriceLineRecord.group]
        if about_cost:
            columns += [PriceLineRecord.supplier, PriceLineRecord.supplier_code, PriceLineRecord.margin_class]
        query = query.where(or_(*(func.lower(col(column)).contains(word, autoescape=True) for column in columns)))
    return list(session.exec(query.order_by(col(PriceLineRecord.sku)).limit(limit)))


def price_line(session: Session, list_id: str, sku: str) -> PriceLineRecord | None:
    """One line of a list."""
    return session.get(PriceLineRecord, (list_id, sku))
