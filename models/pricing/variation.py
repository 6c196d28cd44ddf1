"""A variation after acceptance: parts and hours at the very prices that the quote was made with.

The unit prices of the whole list are copied when a quote is sealed, so that no later list, rate or margin can change
what a variation costs.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from models.catalogue.prices import PriceList
from models.money import line_pence, unit_price, with_margin
from models.pricing.rates import Rates
from models.pricing.vat import VatLine, sum_by_rate, vat_lines
from models.reference.dated import Dated

REASONS: Mapping[str, str] = {
    "seized_valves": "valves that are seized",
    "longer_route": "a longer route",
    "isolator_moved": "the isolator moved",
    "damaged_part_replaced": "a damaged part replaced",
    "hidden_fault": "a fault that nobody could see before",
    "asked_by_customer": "a wish of the customer",
}
"""Why a job becomes another than the one that was quoted for: common practice, no source."""
LABOUR_CLASS = "installed"
_THIRD = Decimal("0.001")


class UnknownPart(ValueError):
    """A variation that names a SKU or trade for which the quote holds no price."""


@dataclass(frozen=True, slots=True)
class SealedPrice:
    """Cost and selling price of one unit in pounds at four places."""

    description: str
    unit: str
    cost_unit_gbp: Decimal
    unit_sell_gbp: Decimal
    vat_class: str
    sales_nominal: str


@dataclass(frozen=True, slots=True)
class SealedPrices:
    """What a quote was priced with: goods by SKU, hours by trade."""

    price_list_version: str
    rates_valid_from: date
    goods: Mapping[str, SealedPrice]
    hours: Mapping[str, SealedPrice]


@dataclass(frozen=True, slots=True)
class VariationLine:
    """One part or the hours of one trade. A negative quantity is something that is not done after all."""

    sku: str
    description: str
    quantity: Decimal
    unit: str
    cost_unit_gbp: Decimal
    unit_sell_gbp: Decimal
    cost_pence: int
    sell_pence: int
    vat_class: str
    sales_nominal: str


@dataclass(frozen=True, slots=True)
class VariationPrice:
    """The lines of a variation and their sums; VAT at its tax point, rounded once a class."""

    lines: tuple[VariationLine, ...]
    cost_pence: int
    net_pence: int
    vat: tuple[VatLine, ...]
    vat_pence: int
    total_pence: int
    tax_point_on: date


def sealed_prices(price_list: PriceList, rates: Rates) -> SealedPrices:
    """The unit prices of every line and trade, rounded as in a bill. A credit is never marked up.

    The firm's price list and rates.
    """
    goods = {}
    for sku, line in price_list.lines.items():
        margin = Decimal(0) if line.cost_gbp <= 0 else rates.margin_ratio_by_class[line.margin_class]
        goods[sku] = SealedPrice(
            line.description,
            line.unit,
            unit_price(line.cost_gbp),
            unit_price(with_margin(line.cost_gbp, margin)),
            line.vat_class,
            line.sales_nominal,
        )
    hours = {
        trade: SealedPrice(
            f"Labour, {trade}",
            "h",
            unit_price(rate.cost_gbp_per_h),
            unit_price(with_margin(rate.cost_gbp_per_h, rate.margin_ratio)),
            LABOUR_CLASS,
            rate.sales_nominal,
        )
        for trade, rate in rates.labour.items()
    }
    return SealedPrices(price_list.version, rates.valid_from, goods, hours)


def prices_document(prices: SealedPrices) -> dict[str, Any]:
    """The copy as plain values, each price as a short row."""
    return {
        "price_list_version": prices.price_list_version,
        "rates_valid_from": prices.rates_valid_from.isoformat(),
        "goods": {sku: _row(one) for sku, one in prices.goods.items()},
        "hours": {trade: _row(one) for trade, one in prices.hours.items()},
    }


def prices_from_document(document: Mapping[str, Any]) -> SealedPrices:
    """The copy from its plain values."""
    return SealedPrices(
        document["price_list_version"],
        date.fromisoformat(document["rates_valid_from"]),
        {sku: _price(row) for sku, row in document["goods"].items()},
        {trade: _price(row) for trade, row in document["hours"].items()},
    )


def _row(one: SealedPrice) -> list[str]:
    return [
        one.description, one.unit, str(one.cost_unit_gbp), str(one.unit_sell_gbp), one.vat_class, one.sales_nominal,
    ]  # fmt: skip


def _price(row: Sequence[str]) -> SealedPrice:
    description, unit, cost, sell, vat_class, nominal = row
    return SealedPrice(description, unit, Decimal(cost), Decimal(sell), vat_class, nominal)


def variation_price(
    *,
    parts: Sequence[tuple[str, Decimal]],
    hours: Sequence[tuple[str, Decimal]],
    prices: SealedPrices,
    on: date,
    series: Mapping[str, Dated],
) -> VariationPrice:
    """What a variation comes to: SKUs and trades, each with a quantity, at the sealed prices; `on` is the tax point.

    The firm's rule; VAT Notice 708/6. Raises UnknownPart.
    """
    missing = [sku for sku, _ in parts if sku not in prices.goods]
    if missing:
        raise UnknownPart(f"the quote has no price for {', '.join(missing)} (price list {prices.price_list_version})")
    missing = [trade for trade, _ in hours if trade not in prices.hours]
    if missing:
        raise UnknownPart(f"the quote has no rate for {', '.join(missing)}; it has {', '.join(prices.hours)}")
    lines = (
        *(_line(sku, prices.goods[sku], quantity) for sku, quantity in parts),
        *(_line("", prices.hours[trade], quantity) for trade, quantity in hours),
    )
    net_by_class: dict[str, int] = {}
    for line in lines:
        net_by_class[line.vat_class] = net_by_class.get(line.vat_class, 0) + line.sell_pence
    vat = sum_by_rate(vat_lines(net_pence_by_class=net_by_class, on=on, series=series))
    net, tax = sum(net_by_class.values()), sum(line.vat_pence for line in vat)
    return VariationPrice(lines, sum(line.cost_pence for line in lines), net, vat, tax, net + tax, on)


def _line(sku: str, price: SealedPrice, quantity: Decimal) -> VariationLine:
    amount = quantity.quantize(_THIRD, ROUND_HALF_UP)
    return VariationLine(
        sku,
        price.description,
        amount,
        price.unit,
        price.cost_unit_gbp,
        price.unit_sell_gbp,
        line_pence(amount, price.cost_unit_gbp),
        line_pence(amount, price.unit_sell_gbp),
        price.vat_class,
        price.sales_nominal,
    )
