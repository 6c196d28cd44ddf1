"""Price lists, rule sets, what drafts are re-priced from, and the runs that do it. What is published never changes."""

from datetime import date, datetime
from decimal import Decimal

from sqlalchemy import Index, Text
from sqlmodel import Field, SQLModel

from models.records.columns import FixedDecimal, UtcStamp


class PriceListRecord(SQLModel, table=True):
    """A list of prices in force from a date. `state` is draft, published or retired.

    `based_on` is the list that it was copied from; `edition` grows with every change of a draft and is its ETag.
    """

    __tablename__ = "price_list"

    id: str = Field(primary_key=True, max_length=36)
    version: str = Field(unique=True, max_length=40)
    valid_from: date = Field(index=True)
    state: str = Field(max_length=16)
    firm: bool = True
    based_on: str | None = Field(default=None, max_length=36)
    note: str = Field(default="", max_length=200)
    edition: int = 1
    made_at: datetime | None = Field(default=None, sa_type=UtcStamp)
    made_by: str = Field(default="", max_length=120)
    published_at: datetime | None = Field(default=None, sa_type=UtcStamp)


class PriceLineRecord(SQLModel, table=True):
    """One SKU in one list. Costs are per unit of measure, in pounds at four places."""

    __tablename__ = "price_line"

    list_id: str = Field(primary_key=True, foreign_key="price_list.id", max_length=36)
    sku: str = Field(primary_key=True, max_length=40)
    place: int
    group: str = Field(sa_column_kwargs={"name": "line_group"}, max_length=80)
    description: str = Field(max_length=400)
    unit: str = Field(max_length=40)
    pack_size: Decimal = Field(sa_type=FixedDecimal(4))
    cost_gbp: Decimal = Field(sa_type=FixedDecimal(4))
    supplier: str = Field(max_length=120)
    supplier_code: str = Field(max_length=80)
    lead_time_days: int
    held: str = Field(max_length=16)
    margin_class: str = Field(max_length=40)
    vat_class: str = Field(max_length=20)
    sales_nominal: str = Field(max_length=20)
    charged_by: str = Field(max_length=10)
    role: str = Field(default="", max_length=60)
    attributes: str = Field(default="{}", sa_type=Text)
    ends_on: date | None = None
    substitute: str = Field(default="", max_length=40)
    priced_on: date | None = None


class RuleSetRecord(SQLModel, table=True):
    """One version of a kind of rules that the firm edits. `content` is canonical JSON text, `sha256` of its UTF-8."""

    __tablename__ = "rule_set"
    __table_args__ = (Index("ix_rule_set_kind_valid_from", "kind", "valid_from"),)

    id: str = Field(primary_key=True, max_length=36)
    kind: str = Field(max_length=20)
    version: str = Field(unique=True, max_length=40)
    state: str = Field(max_length=16)
    valid_from: date
    content: str = Field(sa_type=Text)
    sha256: str = Field(max_length=64)
    based_on: str | None = Field(default=None, max_length=36)
    edition: int = 1
    made_at: datetime | None = Field(default=None, sa_type=UtcStamp)
    made_by: str = Field(default="", max_length=120)
    published_at: datetime | None = Field(default=None, sa_type=UtcStamp)


class DraftBasis(SQLModel, table=True):
    """What a draft is re-priced from besides its lines. One narrow row a draft; no document in it.

    `price_key` names list, rates and stages that its amounts are worked out by. `money` is JSON: hours by trade,
    days, dates, nation and the rest that a price asks for. `watched` is JSON: what the choices of the design depend
    on. `document_stale` says that the kept document holds older amounts. `choice` is same, check or differs;
    `differences` says in words what a fresh estimate would choose.
    """

    __tablename__ = "draft_basis"

    quote_id: str = Field(primary_key=True, foreign_key="quote.id", max_length=36)
    price_key: str = Field(max_length=200)
    priced_on: date
    fixed_on: date | None = None
    money: str = Field(sa_type=Text)
    watched: str = Field(sa_type=Text)
    document_stale: bool = False
    choice: str = Field(default="same", max_length=10)
    differences: str = Field(default="[]", sa_type=Text)
    note: str = Field(default="", max_length=400)


class DraftLine(SQLModel, table=True):
    """One part of a draft: what it is and how much of it. What it costs stands in the price list."""

    __tablename__ = "draft_line"

    quote_id: str = Field(primary_key=True, foreign_key="quote.id", max_length=36)
    sku: str = Field(primary_key=True, max_length=40)
    charged: Decimal = Field(sa_type=FixedDecimal(3))
    bought: Decimal = Field(sa_type=FixedDecimal(3))
    used: Decimal = Field(sa_type=FixedDecimal(3))
    unit: str = Field(max_length=40)
    margin_class: str = Field(max_length=40)


class RepricingRun(SQLModel, table=True):
    """The re-pricing of all open drafts after something was published. `cursor` is the last draft that was done.

    `state` is waiting (until `starts_on`), running, checking (fresh estimates of drafts whose choices may be others)
    or done. Everything that a later process needs to go on after a kill stands here.
    """

    __tablename__ = "repricing_run"

    id: str = Field(primary_key=True, max_length=36)
    reason: str = Field(max_length=200)
    starts_on: date
    state: str = Field(default="waiting", max_length=10, index=True)
    cursor: str = Field(default="", max_length=36)
    total: int = 0
    done: int = 0
    changed: int = 0
    to_check: int = 0
    differ: int = 0
    made_at: datetime = Field(sa_type=UtcStamp)
    started_at: datetime | None = Field(default=None, sa_type=UtcStamp)
    ended_at: datetime | None = Field(default=None, sa_type=UtcStamp)
