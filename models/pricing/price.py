"""The price of a job: goods, labour, days and weather, discount, VAT by stage of payment, grant, what stands beside."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from models.catalogue.prices import PriceList
from models.findings import Finding, has_stop, sorted_findings
from models.frozen import quickly_made
from models.money import line_pence, pence, unit_price, with_margin
from models.pricing.beside import (
    Exclusion as Exclusion,
    Extra as Extra,
    ProvisionalSum as ProvisionalSum,
    SubcontractPrice as SubcontractPrice,
    provisional_sums,
    subcontract_findings,
    subcontract_prices,
)
from models.pricing.discount import below_floor, discount_pence
from models.pricing.grant import Grant as Grant, grant_for
from models.pricing.rates import LabourRate, Rates as Rates
from models.pricing.stages import Stage as Stage, StageDates as StageDates, payment_stages
from models.pricing.vat import (
    CHANGE_OF_RATE_SOURCE,
    VatLine as VatLine,
    next_change,
    sum_by_rate,
    used_rates,
    vat_lines,
)
from models.reference.dated import Dated, DatedValue
from models.reference.money_rules import ConsumerRules, MoneyRules, Notice as Notice
from models.sources import Source
from models.takeoff.bill import Bill, plain

SOURCE = Source("the firm's rates", "", "firm's rule")
INSTALLED = "installed"
DISCOUNT = "discount"

_ONE = Decimal(1)
_NONE = Decimal(0)
_NO_FLAGS: Mapping[str, bool] = {}
_THIRD = Decimal("0.001")


class UnknownTrade(ValueError):
    """Hours of a trade that the rates do not have."""


@quickly_made
@dataclass(frozen=True, slots=True)
class PricePart:
    """One part of the price besides goods. Quantity at three places, unit prices in pounds at four."""

    code: str
    description: str
    quantity: Decimal
    unit: str
    cost_unit_gbp: Decimal
    unit_sell_gbp: Decimal
    cost_pence: int
    sell_pence: int
    vat_class: str
    sales_nominal: str
    why: str
    cost_why: str = ""


@quickly_made
@dataclass(frozen=True, slots=True)
class IfLate:
    """The total if the works slip past the next known change of a rate of VAT: only the deposit stays before it.

    `change_on` is the first day of the new rate.
    """

    change_on: date
    vat_pence: int
    total_pence: int
    customer_pays_pence: int
    sentence: str


@quickly_made
@dataclass(frozen=True, slots=True)
class Price:
    """The whole price. `net_pence` is goods and parts, `total_pence` with VAT, then the grant comes off.

    `vat` adds up the stages by class and rate, `tax_point_on` is the tax point of the last stage. `partial` where a
    stop leaves the job without a price: then all amounts are None and the tuples empty. Extras,
    provisional sums and exclusions are not in the total; `total_with_provisional_pence` is the total if every
    provisional sum comes up. `needs_approval` where the margin is below the firm's floor.
    """

    partial: bool
    tax_point_on: date
    goods_cost_pence: int | None
    goods_sell_pence: int | None
    parts: tuple[PricePart, ...]
    cost_pence: int | None
    margin_pence: int | None
    net_pence: int | None
    vat: tuple[VatLine, ...]
    vat_pence: int | None
    total_pence: int | None
    grant: Grant | None
    grant_pence: int | None
    customer_pays_pence: int | None
    stages: tuple[Stage, ...]
    cancellation: str
    findings: tuple[Finding, ...] = ()
    if_late: IfLate | None = None
    extras: tuple[Extra, ...] = ()
    provisional_sums: tuple[ProvisionalSum, ...] = ()
    total_with_provisional_pence: int | None = None
    subcontract: tuple[SubcontractPrice, ...] = ()
    exclusions: tuple[Exclusion, ...] = ()
    notices: tuple[Notice, ...] = ()
    needs_approval: bool = False

    @property
    def why(self) -> dict[str, str]:
        """A sentence for each amount by its field name; told when it is asked for."""
        if self.net_pence is None or self.vat_pence is None or self.total_pence is None or self.grant is None:
            return {}
        return _why(self.goods_sell_pence or 0, self.parts, self.net_pence, self.stages, self.vat_pence,
                    self.total_pence, self.grant)  # fmt: skip

    def document(self) -> dict[str, Any]:
        """The price by its public names, without its findings, which stand with all others."""
        return {name: getattr(self, name) for name in _PUBLIC_NAMES}


_PUBLIC_NAMES = (*(field.name for field in fields(Price) if field.name != "findings"), "why")


def price(
    *,
    bill: Bill,
    hours_by_trade: Mapping[str, Decimal],
    plan_days: int,
    rates: Rates,
    money_rules: MoneyRules,
    nation: str,
    tenure: str,
    fuel_now: str,
    on_gas_grid: str,
    grant_applied_on: date | None,
    priced_on: date,
    works_start_on: date,
    works_end_on: date,
    stopped: bool,
    discount_ratio: Decimal = _NONE,
    findings: Sequence[Finding] = (),
    flags: Mapping[str, bool] = _NO_FLAGS,
    extras: tuple[Extra, ...] = (),
    price_list: PriceList | None = None,
    amounts_only: bool = False,
) -> Price:
    """The price of a bill and a plan.

    The firm's rates; VAT Notice 708/6 and Value Added Tax Act 1994, section 6; the scheme of the nation.
    `hours_by_trade` are person-hours. VAT is worked out by stage of payment on the full price: the grant comes off
    afterwards. `stopped` says that a finding elsewhere forbids a quote. `discount_ratio` comes off what bears the
    rate of installed goods; who may give it is not asked here. `findings` and `flags` of the take-off call for
    provisional sums; `extras` stand beside as they are given; `price_list` tells until when a line is sold. With
    `amounts_only` cost, margin, findings, words and what stands beside are left out: net, VAT, total, grant and stages
    are the same. Raises UnknownTrade, UnknownVatClass, NotYetInForce.
    """
    cancellation = cancellation_note(money_rules.consumer)
    if stopped or has_stop(bill.findings):
        return Price(
            True, works_end_on, None, None, (), None, None, None, (), None, None, None, None, None, (), cancellation
        )
    parts = _parts(bill, hours_by_trade, plan_days, rates, works_start_on)
    net_by_class: dict[str, int] = {}
    for line in bill.lines:
        vat_class = line.vat_class
        net_by_class[vat_class] = net_by_class.get(vat_class, 0) + line.sell_pence
    for part in parts:
        net_by_class[part.vat_class] = net_by_class.get(part.vat_class, 0) + part.sell_pence
    if discount_ratio:
        discount = _discount(net_by_class.get(INSTALLED, 0), discount_ratio, rates)
        parts = (*parts, discount)
        net_by_class[INSTALLED] = net_by_class.get(INSTALLED, 0) + discount.sell_pence
    net = sum(net_by_class.values())
    cost = bill.cost_pence + sum(part.cost_pence for part in parts)
    series = money_rules.vat
    dates = _dates(rates, priced_on, works_start_on, works_end_on)

    def grant_from(total_pence: int) -> Grant:
        return grant_for(
            nation=nation,
            tenure=tenure,
            fuel_now=fuel_now,
            on_gas_grid=on_gas_grid,
            applied_on=grant_applied_on,
            total_pence=total_pence,
            series=money_rules.grants,
        )

    def staged(grant_pence: int) -> tuple[tuple[Stage, ...], tuple[Finding, ...]]:
        return payment_stages(
            net_pence_by_class=net_by_class,
            grant_pence=grant_pence,
            deposit_ratio=rates.deposit_ratio,
            before_completion_ratio=rates.before_completion_ratio,
            dates=dates,
            consumer=money_rules.consumer,
            series=series,
            invoice_within_days=money_rules.tax_points.invoice_within_days,
        )

    grant = grant_from(net)
    stages, stage_findings = staged(grant.deducted_pence)
    total = sum(stage.total_pence for stage in stages)
    if grant.amount_pence is not None and grant.amount_pence > net:
        # A grant above the sum before VAT leaves no early payment; what it may take off is the total with VAT.
        grant = grant_from(total)
        stages, stage_findings = staged(grant.deducted_pence)
        total = sum(stage.total_pence for stage in stages)
    tax = total - net
    last = stages[-1].tax_point_on
    if amounts_only:
        return Price(
            False, last, None, bill.sell_pence, parts, None, None, net,
            sum_by_rate(line for stage in stages for line in stage.vat), tax, total, grant, grant.deducted_pence,
            total - grant.deducted_pence, stages, cancellation,
        )  # fmt: skip
    change = next_change(vat_classes=net_by_class, after=last, series=series)
    late = None if change is None else _if_late(stages, dates, change, net, grant, total, series)
    provisional = provisional_sums(findings, flags=flags, rates=rates, on=last, series=series)
    subcontract = subcontract_prices(bill, rates=rates, price_list=price_list, priced_on=priced_on)
    used = used_rates(vat_classes=net_by_class, days=[stage.tax_point_on for stage in stages], series=series)
    reviews = [value.review_finding(priced_on) for value in (*used, grant.used) if value is not None]
    return Price(
        partial=False,
        tax_point_on=last,
        goods_cost_pence=bill.cost_pence,
        goods_sell_pence=bill.sell_pence,
        parts=parts,
        cost_pence=cost,
        margin_pence=net - cost,
        net_pence=net,
        vat=sum_by_rate(line for stage in stages for line in stage.vat),
        vat_pence=tax,
        total_pence=total,
        grant=grant,
        grant_pence=grant.deducted_pence,
        customer_pays_pence=total - grant.deducted_pence,
        stages=stages,
        cancellation=cancellation,
        findings=sorted_findings(
            (
                *_rate_changes(late, change, total, works_end_on, dates, stages, used),
                *grant.findings,
                *stage_findings,
                *subcontract_findings(subcontract, works_start_on=works_start_on),
                *(finding for finding in reviews if finding is not None),
            )
        ),
        if_late=late,
        extras=extras,
        provisional_sums=provisional,
        total_with_provisional_pence=total + sum(one.total_pence for one in provisional),
        subcontract=subcontract,
        exclusions=rates.exclusions,
        notices=money_rules.consumer.notices,
        needs_approval=below_floor(cost_pence=cost, net_pence=net, margin_floor_ratio=rates.margin_floor_ratio),
    )


def _dates(rates: Rates, priced_on: date, works_start_on: date, works_end_on: date) -> StageDates:
    """The days that a quote assumes; the contract is signed before the works begin."""
    after = rates.invoice_after_completion_days
    return StageDates(
        signed_on=min(priced_on + timedelta(days=rates.signed_after_days), works_start_on),
        delivery_paid_on=works_start_on,
        completed_on=works_end_on,
        invoiced_on=works_end_on + timedelta(days=after) if after else None,
    )


def _discount(net_pence: int, discount_ratio: Decimal, rates: Rates) -> PricePart:
    amount = -discount_pence(net_pence=net_pence, discount_ratio=discount_ratio)
    return PricePart(
        DISCOUNT,
        "Discount",
        _ONE.quantize(_THIRD),
        "job",
        unit_price(Decimal(0)),
        unit_price(Decimal(amount) / 100),
        0,
        amount,
        INSTALLED,
        rates.discount_sales_nominal,
        f"{plain(discount_ratio * 100)} % of {_gbp(net_pence)}",
    )


def _if_late(
    stages: tuple[Stage, ...],
    dates: StageDates,
    change: DatedValue,
    net: int,
    grant: Grant,
    total: int,
    series: Mapping[str, Dated],
) -> IfLate | None:
    """The price with works and payments but the deposit on the first day of the new rate; None if it is the same."""
    late_total = net
    for number, stage in enumerate(stages):
        if number == 0 and dates.signed_on < change.from_:
            late_total += stage.vat_pence
            continue
        by_class = {line.vat_class: line.net_pence for line in stage.vat}
        late = vat_lines(net_pence_by_class=by_class, on=change.from_, series=series)
        late_total += sum([line.vat_pence for line in late])
    if late_total == total:
        return None
    return IfLate(
        change.from_,
        late_total - net,
        late_total,
        late_total - grant.deducted_pence,
        f"if the works slip past {change.from_ - timedelta(days=1):%d %B %Y}, the total is {_gbp(late_total)} instead "
        f"of {_gbp(total)}; what was paid before keeps its rate",
    )


def _rate_changes(
    late: IfLate | None,
    change: DatedValue | None,
    total: int,
    works_end_on: date,
    dates: StageDates,
    stages: tuple[Stage, ...],
    rates_used: Sequence[DatedValue],
) -> list[Finding]:
    found = []
    if late is not None and change is not None:
        found.append(
            Finding(
                "vat_rate_changes",
                "note",
                "price",
                f"VAT becomes {plain(Decimal(change.value) * 100)} % on {change.from_:%d %B %Y}; works that end on "
                f"{works_end_on:%d %B %Y} come to {_gbp(total)}, if they slip past that date the total is "
                f"{_gbp(late.total_pence)}",
                str(change.source),
                "finish the works before that date",
            )
        )
    last = stages[-1]
    if last.trigger == "invoice_within_14_days" and any(
        dates.completed_on < value.from_ <= last.tax_point_on for value in rates_used
    ):
        found.append(
            Finding(
                "invoice_after_rate_change",
                "note",
                "price",
                f"the works end on {dates.completed_on:%d %B %Y}, before the rate changes, and the last invoice of "
                f"{last.tax_point_on:%d %B %Y} brings the later rate",
                str(CHANGE_OF_RATE_SOURCE),
                "write the last invoice before the change, or let the accountant choose the day of completion",
            )
        )
    return found


def cancellation_note(consumer: ConsumerRules) -> str:
    """What the customer is told about changing their mind.

    Consumer Contracts (Information, Cancellation and Additional Charges) Regulations 2013, regulations 29 to 31.
    """
    return (
        f"You may cancel within {consumer.cancellation_days} days, counted from "
        f"{consumer.cancellation_from_goods_and_services}, without giving a reason. If you ask us to start sooner and "
        "then cancel, you pay for what was done until then. Had we not told you this, you would have "
        f"{consumer.cancellation_longer_months} months more."
    )


def _parts(
    bill: Bill, hours_by_trade: Mapping[str, Decimal], plan_days: int, rates: Rates, works_start_on: date
) -> tuple[PricePart, ...]:
    parts: list[PricePart] = []
    for trade, hours in hours_by_trade.items():
        rate = rates.labour.get(trade)
        if rate is None:
            raise UnknownTrade(f"the plan has {hours} h of {trade}, for which the rates have no entry")
        if hours:
            parts.append(_labour(f"labour_{trade}", f"Labour, {trade}", hours, rate))
    if rates.survey_hours_h:
        parts.append(_labour("survey_and_design", "Survey and design", rates.survey_hours_h, rates.survey))
    for code, description, day in (
        ("overhead", "Site overhead", rates.overhead),
        ("travel", "Travel", rates.travel),
    ):
        if plan_days:
            quantity = Decimal(plan_days).quantize(_THIRD)
            cost = unit_price(day.cost_gbp_per_day)
            amount = line_pence(quantity, cost)
            why = f"{plan_days} job days × £{cost:.2f}"
            parts.append(
                PricePart(
                    code, description, quantity, "day", cost, cost, amount, amount, INSTALLED, day.sales_nominal, why
                )
            )
    share = rates.weather_share_ratio_by_month[works_start_on.month - 1]
    before = bill.sell_pence + sum(part.sell_pence for part in parts)
    allowance = pence(before * share)
    if allowance:
        amount_gbp = unit_price(Decimal(allowance) / 100)
        parts.append(
            PricePart(
                "weather",
                "Allowance for days lost to weather",
                _ONE.quantize(_THIRD),
                "job",
                amount_gbp,
                amount_gbp,
                allowance,
                allowance,
                INSTALLED,
                rates.weather_sales_nominal,
                f"{plain(share * 100)} % of {_gbp(before)} for works that start in {works_start_on:%B}",
            )
        )
    return tuple(parts)


def _labour(code: str, description: str, hours: Decimal, rate: LabourRate) -> PricePart:
    quantity = hours.quantize(_THIRD, ROUND_HALF_UP)
    cost = unit_price(rate.cost_gbp_per_h)
    sell = unit_price(with_margin(rate.cost_gbp_per_h, rate.margin_ratio))
    return PricePart(
        code,
        description,
        quantity,
        "h",
        cost,
        sell,
        line_pence(quantity, cost),
        line_pence(quantity, sell),
        INSTALLED,
        rate.sales_nominal,
        f"{quantity} person-hours × £{sell}",
        f"£{cost:.2f} an hour is cost, {plain(rate.margin_ratio * 100)} % of the selling price is margin",
    )


def _why(
    goods_sell_pence: int,
    parts: tuple[PricePart, ...],
    net: int,
    stages: tuple[Stage, ...],
    tax: int,
    total: int,
    grant: Grant,
) -> dict[str, str]:
    others = "".join(f" + {part.description.lower()} {_gbp(part.sell_pence)}" for part in parts)
    by_stage = "; ".join(
        f"{stage.name}, tax point {stage.tax_point_on:%d %B %Y} ({stage.trigger.replace('_', ' ')}): "
        + " + ".join(
            f"{plain(line.rate_ratio * 100)} % of {_gbp(line.net_pence)} ({line.vat_class.replace('_', ' ')})"
            for line in stage.vat
        )
        for stage in stages
        if stage.net_pence
    )
    return {
        "net_pence": f"goods {_gbp(goods_sell_pence)}{others} = {_gbp(net)}",
        "vat_pence": f"{by_stage}; together {_gbp(tax)}",
        "total_pence": f"{_gbp(net)} + VAT {_gbp(tax)} = {_gbp(total)}",
        "grant_pence": grant.sentence,
        "customer_pays_pence": f"{_gbp(total)} - grant {_gbp(grant.deducted_pence)} = "
        f"{_gbp(total - grant.deducted_pence)}",
    }


def _gbp(amount_pence: int) -> str:
    pounds, rest = divmod(abs(amount_pence), 100)
    return f"{'-' if amount_pence < 0 else ''}£{pounds:,}.{rest:02d}"
