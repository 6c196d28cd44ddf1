"""Price lists: what an item costs, from whom, in which pack, and how it is sold on."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field

from models.catalogue.items import Row, Sku

VatClass = Literal["installed", "goods_only", "outside_scope"]


class PriceLine(Row):
    """One SKU in one price list.

    `cost_gbp` is per `unit` of measure, not per pack, four decimal places. `role` and `attributes` let a recipe
    find the line by what it is ("primary_pipe", od_mm 28) instead of by its SKU. `charged_by` says whether the
    customer is charged whole packs or what is used. A negative cost is a credit.
    """

    sku: Sku
    group: str
    description: str
    unit: str
    pack_size: Annotated[Decimal, Field(gt=0)]
    cost_gbp: Decimal
    supplier: str
    supplier_code: str
    lead_time_days: Annotated[int, Field(ge=0)]
    held: Literal["van_stock", "stock", "order"]
    margin_class: str
    vat_class: VatClass
    sales_nominal: str
    charged_by: Literal["pack", "measure"]
    role: str = ""
    attributes: dict[str, Decimal] = Field(default_factory=dict)
    ends_on: date | None = None


@dataclass(frozen=True, slots=True)
class PriceList:
    """The lines in force from a date. `firm` is False while its prices are only indicative."""

    version: str
    valid_from: date
    lines: Mapping[str, PriceLine]
    firm: bool = True
    by_role: Mapping[str, tuple[PriceLine, ...]] = field(default_factory=dict)

    @staticmethod
    def of(version: str, valid_from: date, lines: tuple[PriceLine, ...], *, firm: bool = True) -> "PriceList":
        """A list from its lines. Raises ValueError on a SKU that stands twice."""
        by_sku: dict[str, PriceLine] = {}
        by_role: dict[str, list[PriceLine]] = {}
        for line in lines:
            if line.sku in by_sku:
                raise ValueError(f"SKU {line.sku} stands twice in price list {version}")
            by_sku[line.sku] = line
            if line.role:
                by_role.setdefault(line.role, []).append(line)
        return PriceList(version, valid_from, by_sku, firm, {role: tuple(found) for role, found in by_role.items()})

    def cost_pence(self, sku: str) -> int:
        """Cost of one unit of measure in whole pence, for ranking choices only. Raises KeyError if not listed."""
        return int((self.lines[sku].cost_gbp * 100).to_integral_value())
