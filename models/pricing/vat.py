"""VAT of a price: the tax point of each payment, the rate that holds then, the tax on the sum of its lines."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Literal, NamedTuple

from models.frozen import quickly_made
from models.money import pence
from models.reference.dated import Dated, DatedValue
from models.sources import Source

SERIES_OF_CLASS: Mapping[str, str] = {
    "installed": "installed_energy_saving_materials",
    "goods_only": "goods_without_installation",
}
"""Which dated rate holds for a VAT class; what is outside the scope of VAT bears none."""
OUTSIDE_SCOPE = "outside_scope"
ROUNDING_SOURCE = Source("EN 16931-1:2017", "VAT breakdown: rate on the sum of the lines of a category", "from memory")
TAX_POINT_SOURCE = Source("Value Added Tax Act 1994", "section 6: time of supply", "from memory")
CHANGE_OF_RATE_SOURCE = Source("Value Added Tax Act 1994", "section 88: change of rate", "from memory")

Trigger = Literal["payment", "invoice", "completion", "invoice_within_14_days"]


class UnknownVatClass(ValueError):
    """A line of a VAT class that has no rate."""


class TaxPoint(NamedTuple):
    """The day whose rate of VAT holds for a payment, and what makes it that day."""

    on: date
    trigger: Trigger


@quickly_made
@dataclass(frozen=True, slots=True)
class VatLine:
    """The VAT of one class at one rate: the sum of its lines, the tax on that sum."""

    vat_class: str
    rate_ratio: Decimal
    net_pence: int
    vat_pence: int
    source: str


def tax_point(
    *, completed_on: date, paid_on: date | None, invoiced_on: date | None, invoice_within_days: int
) -> TaxPoint:
    """The tax point of one part of a supply of installation services.

    Value Added Tax Act 1994, section 6. Payment or VAT invoice before completion counts from the earlier of the two;
    otherwise completion, unless a VAT invoice follows within `invoice_within_days` (14), which then counts. A
    payment after completion moves nothing. At a change of rate the firm may choose completion instead (section 88).
    """
    earlier: list[TaxPoint] = []
    if paid_on is not None and paid_on < completed_on:
        earlier.append(TaxPoint(paid_on, "payment"))
    if invoiced_on is not None and invoiced_on < completed_on:
        earlier.append(TaxPoint(invoiced_on, "invoice"))
    if earlier:
        return min(earlier)
    if invoiced_on is not None and completed_on < invoiced_on <= completed_on + timedelta(days=invoice_within_days):
        return TaxPoint(invoiced_on, "invoice_within_14_days")
    return TaxPoint(completed_on, "completion")


def vat_lines(*, net_pence_by_class: Mapping[str, int], on: date, series: Mapping[str, Dated]) -> tuple[VatLine, ...]:
    """VAT of each class at the tax point `on`, rounded once on the sum of its lines.

    VAT Notice 708/6 for installed energy-saving materials; VAT Act 1994 for goods alone. Raises NotYetInForce
    before the first date of a rate, and UnknownVatClass.
    """
    lines: list[VatLine] = []
    for vat_class, net in net_pence_by_class.items():
        if vat_class == OUTSIDE_SCOPE:
            lines.append(VatLine(vat_class, Decimal(0), net, 0, "outside the scope of VAT"))
            continue
        value = _rate_value(vat_class, on, series)
        rate = Decimal(value.value)
        lines.append(VatLine(vat_class, rate, net, pence(net * rate), str(value.source)))
    return tuple(lines)


def _rate_value(vat_class: str, on: date, series: Mapping[str, Dated]) -> DatedValue:
    if vat_class not in SERIES_OF_CLASS:
        raise UnknownVatClass(f"there is no VAT class {vat_class!r}")
    return series[SERIES_OF_CLASS[vat_class]].at(on)


def sum_by_rate(lines: Iterable[VatLine]) -> tuple[VatLine, ...]:
    """The lines of all stages added up by class and rate; the tax is the sum of what each stage rounded."""
    sums: dict[tuple[str, Decimal], VatLine] = {}
    for line in lines:
        key = (line.vat_class, line.rate_ratio)
        before = sums.get(key)
        if before is not None:
            line = VatLine(
                line.vat_class, line.rate_ratio, before.net_pence + line.net_pence, before.vat_pence + line.vat_pence,
                line.source,
            )  # fmt: skip
        sums[key] = line
    return tuple(sums.values())


def used_rates(
    *, vat_classes: Iterable[str], days: Iterable[date], series: Mapping[str, Dated]
) -> tuple[DatedValue, ...]:
    """The dated rates behind the classes of a price on its tax points, each once."""
    found: list[DatedValue] = []
    for vat_class in vat_classes:
        if vat_class not in SERIES_OF_CLASS:
            continue
        for day in days:
            value = series[SERIES_OF_CLASS[vat_class]].at(day)
            if value not in found:
                found.append(value)
    return tuple(found)


def next_change(*, vat_classes: Iterable[str], after: date, series: Mapping[str, Dated]) -> DatedValue | None:
    """The first value of a rate that begins after a day for one of the classes; None where none is known."""
    coming = [
        value
        for vat_class in vat_classes
        if vat_class in SERIES_OF_CLASS
        for value in series[SERIES_OF_CLASS[vat_class]].values
        if value.from_ > after
    ]
    return min(coming, key=lambda value: value.from_, default=None)
