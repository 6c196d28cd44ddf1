"""Price lists over the wire. Decimals are strings."""

from datetime import date
from typing import Any

from pydantic import BaseModel

from models.records import PriceLineRecord, PriceListRecord


class PriceListPublic(BaseModel):
    """A price list without its lines. `firm` is false while its prices are only indicative."""

    id: str
    version: str
    valid_from: date
    state: str
    firm: bool

    @staticmethod
    def of(record: PriceListRecord) -> "PriceListPublic":
        """The public form of a list."""
        return PriceListPublic(
            id=record.id,
            version=record.version,
            valid_from=record.valid_from,
            state=record.state,
            firm=record.firm,
        )


class PriceListPage(BaseModel):
    """A page of price lists, the latest first day first."""

    items: list[PriceListPublic]
    next_cursor: str | None


class PriceLinePage(BaseModel):
    """A page of lines by SKU. The fields about cost are absent without the right to see cost."""

    items: list[dict[str, Any]]
    next_cursor: str | None


_ABOUT_COST = ("cost_gbp", "margin_class", "supplier", "supplier_code")
_SHOWN = (
    "sku", "group", "description", "unit", "pack_size", "cost_gbp", "supplier", "supplier_code", "lead_time_days",
    "held", "margin_class", "vat_class", "sales_nominal", "charged_by", "role", "ends_on",
)  # fmt: skip


def price_line_public(record: PriceLineRecord, *, sees_cost: bool) -> dict[str, Any]:
    """The public form of a line."""
    return {
        name: _shown(getattr(record, name)) for name in _SHOWN if sees_cost or name not in _ABOUT_COST
    }


def _shown(value: Any) -> Any:
    return value if value is None or isinstance(value, int) else str(value)
