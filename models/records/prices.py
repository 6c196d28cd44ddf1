"""Price lists and their lines. A published list is never changed."""

from datetime import date
from decimal import Decimal

from sqlalchemy import Text
from sqlmodel import Field, SQLModel

from models.records.columns import FixedDecimal


class PriceListRecord(SQLModel, table=True):
    """A list of prices in force from a date. `state` is draft, published or retired."""

    __tablename__ = "price_list"

    id: str = Field(primary_key=True, max_length=36)
    version: str = Field(unique=True, max_length=40)
    valid_from: date = Field(index=True)
    state: str = Field(max_length=16)
    firm: bool = True


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
