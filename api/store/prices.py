"""Price lists as rows: read into the values that the pure core takes, and seeded from the firm's files."""

import json
from datetime import date
from decimal import Decimal

from sqlmodel import Session, col, select

from api.ids import new_id
from models.catalogue import PriceLine, PriceList
from models.records import PriceLineRecord, PriceListRecord


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


def load_price_list(session: Session, list_id: str) -> PriceList:
    """A list with all its lines, in the order in which they stood."""
    head = session.get_one(PriceListRecord, list_id)
    rows = session.exec(
        select(PriceLineRecord).where(PriceLineRecord.list_id == list_id).order_by(col(PriceLineRecord.place))
    )
    return PriceList.of(head.version, head.valid_from, tuple(_line(row) for row in rows), firm=head.firm)


def _line(row: PriceLineRecord) -> PriceLine:
    attributes = {name: Decimal(value) for name, value in json.loads(row.attributes).items()}
    values = {name: getattr(row, name) for name in PriceLine.model_fields if name != "attributes"}
    return PriceLine.model_validate(values | {"attributes": attributes})


def seed_price_list(session: Session, given: PriceList) -> str:
    """Publish a list of the firm's files unless its version is there. Answers its id."""
    known = session.exec(select(PriceListRecord.id).where(PriceListRecord.version == given.version)).first()
    if known is not None:
        return known
    head = PriceListRecord(
        id=new_id(), version=given.version, valid_from=given.valid_from, state="published", firm=given.firm
    )
    session.add(head)
    session.flush()
    for place, line in enumerate(given.lines.values()):
        values = line.model_dump(exclude={"attributes"})
        attributes = json.dumps({name: str(value) for name, value in line.attributes.items()})
        session.add(PriceLineRecord(list_id=head.id, place=place, attributes=attributes, **values))
    return head.id


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


def price_list(session: Session, list_id: str) -> PriceListRecord | None:
    """One list without its lines."""
    return session.get(PriceListRecord, list_id)


def price_lines(session: Session, list_id: str, *, after_sku: str, limit: int) -> list[PriceLineRecord]:
    """Lines of a list by SKU, after one."""
    return list(
        session.exec(
            select(PriceLineRecord)
            .where(PriceLineRecord.list_id == list_id, col(PriceLineRecord.sku) > after_sku)
            .order_by(col(PriceLineRecord.sku))
            .limit(limit)
        )
    )
