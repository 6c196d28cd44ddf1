"""What tax law, grant schemes and consumer law say about a price: dated values and limits, each with its source."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from functools import cache
from typing import Any

from models.reference.dated import NOT_KNOWN, Dated, read_dated
from models.reference.load import BrokenTable, read_json, source_of
from models.sources import Source

VAT_SERIES = ("installed_energy_saving_materials", "goods_without_installation")
GRANT_SERIES = ("boiler_upgrade_scheme", "home_energy_scotland")


NOTICE_FIELDS = frozenset({"days", "counted_from", "longer_months"})


@dataclass(frozen=True, slots=True)
class Notice:
    """A text that the customer is given with the quote; its numbers are filled in."""

    code: str
    title: str
    text: str
    source: Source


@dataclass(frozen=True, slots=True)
class TaxPointRules:
    """Within how many days after completion a VAT invoice still makes the tax point."""

    invoice_within_days: int
    source: Source


@dataclass(frozen=True, slots=True)
class ConsumerRules:
    """Cancellation and advance payments of a contract made at the customer's home."""

    cancellation_days: int
    cancellation_from_goods_and_services: str
    cancellation_from_services_only: str
    cancellation_longer_months: int
    cancellation_threshold_gbp: int
    cancellation_source: Source
    greatest_deposit_ratio: Decimal
    greatest_before_completion_ratio: Decimal
    advance_weeks_before_delivery: int
    payments_source: Source
    total_price_from: date
    total_price_source: Source
    notices: tuple[Notice, ...]


@dataclass(frozen=True, slots=True)
class MoneyRules:
    """VAT rates as decimal ratios in text, grants in whole pounds by category, and consumer rules."""

    vat: Mapping[str, Dated]
    grants: Mapping[str, Dated]
    consumer: ConsumerRules
    tax_points: TaxPointRules


@cache
def load_money_rules() -> MoneyRules:
    """The rules that ship, read once per process. Raises BrokenTable naming file, series and reason."""
    return MoneyRules(
        vat=checked_vat("vat.json", read_dated("vat.json")),
        grants=checked_grants("grants.json", read_dated("grants.json")),
        consumer=consumer_rules("consumer.json", read_json("consumer.json")),
        tax_points=tax_point_rules("tax_points.json", read_json("tax_points.json")),
    )


def checked_vat(file: str, series: Mapping[str, Dated]) -> Mapping[str, Dated]:
    """The VAT series if all are there and every rate is a decimal text of 0 to 1. Raises BrokenTable."""
    _all_there(file, series, VAT_SERIES)
    for dated in series.values():
        for value in dated.values:
            if not isinstance(value.value, str) or not _is_ratio(value.value):
                raise BrokenTable(
                    f"{file}: {dated.name} from {value.from_}: {value.value!r} is not a ratio of 0 to 1 in quotes"
                )
    return series


def checked_grants(file: str, series: Mapping[str, Dated]) -> Mapping[str, Dated]:
    """The grant series if all are there and amounts are whole pounds or "not_known". Raises BrokenTable."""
    _all_there(file, series, GRANT_SERIES)
    for dated in series.values():
        for value in dated.values:
            amounts = value.value.values() if isinstance(value.value, dict) else [value.value]
            for amount in amounts:
                whole_pounds = isinstance(amount, int) and not isinstance(amount, bool) and 0 <= amount <= 50000
                if amount != NOT_KNOWN and not whole_pounds:
                    raise BrokenTable(
                        f"{file}: {dated.name} from {value.from_}: {amount!r} is neither whole pounds nor not_known"
                    )
    return series


def consumer_rules(file: str, table: Mapping[str, Any]) -> ConsumerRules:
    """Consumer rules from their table. Raises BrokenTable naming what is missing or out of range."""
    try:
        cancellation, payments, total = table["cancellation"], table["payments"], table["total_price"]
        deposit, before = payments["greatest_deposit_ratio"], payments["greatest_before_completion_ratio"]
        if not (_is_ratio(deposit) and _is_ratio(before) and Decimal(deposit) <= Decimal(before)):
            raise BrokenTable(
                f"{file}: payments: {deposit!r} and {before!r} are ratios, the second not below the first"
            )
        return ConsumerRules(
            cancellation_days=int(cancellation["days"]),
            cancellation_from_goods_and_services=cancellation["from_goods_and_services"],
            cancellation_from_services_only=cancellation["from_services_only"],
            cancellation_longer_months=int(cancellation["longer_if_not_told_months"]),
            cancellation_threshold_gbp=int(cancellation["threshold_gbp"]),
            cancellation_source=source_of(cancellation["source"]),
            greatest_deposit_ratio=Decimal(deposit),
            greatest_before_completion_ratio=Decimal(before),
            advance_weeks_before_delivery=int(payments["advance_not_earlier_than_weeks_before_delivery"]),
            payments_source=source_of(payments["source"]),
            total_price_from=date.fromisoformat(total["from"]),
            total_price_source=source_of(total["source"]),
            notices=_notices(file, table["notices"], cancellation),
        )
    except (KeyError, TypeError) as fault:
        raise BrokenTable(f"{file}: {fault!r} is missing or of the wrong kind") from fault


def _notices(
    file: str, records: Sequence[Mapping[str, Any]], cancellation: Mapping[str, Any]
) -> tuple[Notice, ...]:
    """The notices with their numbers filled in. Raises BrokenTable for a field that is not one of NOTICE_FIELDS."""
    numbers = {
        "days": cancellation["days"],
        "counted_from": cancellation["from_goods_and_services"],
        "longer_months": cancellation["longer_if_not_told_months"],
    }
    try:
        return tuple(
            Notice(
                one["code"],
                one["title"].format(**numbers),
                one["text"].format(**numbers),
                source_of(one["source"]),
            )
            for one in records
        )
    except (KeyError, ValueError, IndexError) as fault:
        known = ", ".join(sorted(NOTICE_FIELDS))
        raise BrokenTable(
            f"{file}: notices: {fault!r}; a text may name {known}, and needs code, title, text"
        ) from fault


def tax_point_rules(file: str, table: Mapping[str, Any]) -> TaxPointRules:
    """The rule of the tax point from its table. Raises BrokenTable."""
    days = table.get("invoice_within_days")
    if not isinstance(days, int) or isinstance(days, bool) or not 0 <= days <= 365:
        raise BrokenTable(f"{file}: invoice_within_days is {days!r}, it must be whole days from 0 to 365")
    return TaxPointRules(days, source_of(table["source"]))


def _all_there(file: str, series: Mapping[str, Dated], names: tuple[str, ...]) -> None:
    missing = [name for name in names if name not in series]
    if missing:
        raise BrokenTable(f"{file}: the series {', '.join(missing)} must be there")


def _is_ratio(text: object) -> bool:
    try:
        return isinstance(text, str) and 0 <= Decimal(text) <= 1
    except InvalidOperation:
        return False
