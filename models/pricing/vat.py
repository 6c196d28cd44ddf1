"""VAT of a price: by class and rate at the tax point, on the sum of the lines, and what a later date would change."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from models.findings import Finding
from models.money import pence
from models.reference.dated import Dated, DatedValue
from models.sources import Source
from models.takeoff.bill import plain

SERIES_OF_CLASS: Mapping[str, str] = {
    "installed": "installed_energy_saving_materials",
    "goods_only": "goods_without_installation",
}
"""Which dated rate holds for a VAT class; what is outside the scope of VAT bears none."""
OUTSIDE_SCOPE = "outside_scope"
ROUNDING_SOURCE = Source("EN 16931-1:2017", "VAT breakdown: rate on the sum of the lines of a category", "from memory")


class UnknownVatClass(ValueError):
    """A line of a VAT class that has no rate."""


@dataclass(frozen=True, slots=True)
class VatLine:
    """The VAT of one class: rate, sum of its lines, tax on that sum."""

    vat_class: str
    rate_ratio: Decimal
    net_pence: int
    vat_pence: int
    source: str


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
        if vat_class not in SERIES_OF_CLASS:
            raise UnknownVatClass(f"there is no VAT class {vat_class!r}")
        value = series[SERIES_OF_CLASS[vat_class]].at(on)
        rate = Decimal(value.value)
        lines.append(VatLine(vat_class, rate, net, pence(net * rate), str(value.source)))
    return tuple(lines)


def used_rates(*, vat_classes: frozenset[str], on: date, series: Mapping[str, Dated]) -> tuple[DatedValue, ...]:
    """The dated rates behind the classes of a price."""
    return tuple(series[name].at(on) for vat_class, name in SERIES_OF_CLASS.items() if vat_class in vat_classes)


def rate_change(*, net_pence_by_class: Mapping[str, int], on: date, series: Mapping[str, Dated]) -> tuple[Finding, ...]:
    """A note for the next change of a rate after the tax point, with the total that would hold then."""
    now = vat_lines(net_pence_by_class=net_pence_by_class, on=on, series=series)
    changes = sorted(
        value.from_
        for vat_class, net in net_pence_by_class.items()
        if net and vat_class in SERIES_OF_CLASS
        for value in series[SERIES_OF_CLASS[vat_class]].values
        if value.from_ > on
    )
    if not changes:
        return ()
    then = vat_lines(net_pence_by_class=net_pence_by_class, on=changes[0], series=series)
    total_now = sum(line.net_pence + line.vat_pence for line in now)
    total_then = sum(line.net_pence + line.vat_pence for line in then)
    rates = ", ".join(
        f"{line.vat_class.replace('_', ' ')} {plain(before.rate_ratio * 100)} % to {plain(line.rate_ratio * 100)} %"
        for before, line in zip(now, then, strict=True)
        if before.rate_ratio != line.rate_ratio
    )
    if not rates:
        return ()
    source = next(line.source for before, line in zip(now, then, strict=True) if before.rate_ratio != line.rate_ratio)
    return (
        Finding(
            "vat_rate_changes",
            "note",
            "price",
            f"VAT changes on {changes[0]:%d %B %Y} ({rates}); works that end on {on:%d %B %Y} come to "
            f"£{Decimal(total_now) / 100:,.2f}, if they slip past that date the total is "
            f"£{Decimal(total_then) / 100:,.2f}",
            source,
            "finish the works before that date",
        ),
    )
