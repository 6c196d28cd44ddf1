"""Margins by class: read, checked against a price list, and worked out of a cost and a selling price."""

from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from typing import Any

from models.catalogue.prices import PriceList
from models.sources import COMMON_PRACTICE

SOURCE = COMMON_PRACTICE


class RefusedRates(ValueError):
    """Rates that cannot be loaded: says which file, which entry and why."""


def decimal_of(file: str, name: str, value: Any, *, low: Decimal, below: Decimal) -> Decimal:
    """A decimal written as text or whole number, at least `low` and less than `below`. Raises RefusedRates."""
    if isinstance(value, float):
        raise RefusedRates(f"{file}: {name}: write {value} in quotes, so that no digit is lost")
    try:
        number = Decimal(str(value))
    except InvalidOperation:
        raise RefusedRates(f"{file}: {name}: {value!r} is not a number") from None
    if not (number.is_finite() and low <= number < below):
        raise RefusedRates(f"{file}: {name} is {value}, it must be at least {low} and less than {below}")
    return number


def margins_by_class(file: str, table: Mapping[str, Any]) -> Mapping[str, Decimal]:
    """Margin of the selling price by margin class, each at least 0 and below 1.

    Common practice, no source: margin is not mark-up; 25 % margin on 100 is 133.33. Raises RefusedRates.
    """
    return {
        name: decimal_of(file, f"margin_ratio_by_class: {name}", value, low=Decimal(0), below=Decimal(1))
        for name, value in table.items()
    }


def check_margins(price_list: PriceList, margins: Mapping[str, Decimal]) -> None:
    """Raises RefusedRates naming every SKU whose margin class has no margin."""
    lacking = [
        f"{line.sku} ({line.margin_class})" for line in price_list.lines.values() if line.margin_class not in margins
    ]
    if lacking:
        raise RefusedRates(f"price list {price_list.version}: no margin for the class of {', '.join(lacking)}")


def margin_ratio(*, cost_pence: int, sell_pence: int) -> Decimal | None:
    """The share of the selling price that is not cost, or None where nothing is sold."""
    return None if sell_pence == 0 else Decimal(sell_pence - cost_pence) / Decimal(sell_pence)
