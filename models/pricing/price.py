"""The price of a job: goods, labour, days and weather, VAT at the tax point, grant, stages of payment."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from models.findings import Finding, has_stop, sorted_findings
from models.money import line_pence, pence, unit_price, with_margin
from models.pricing.grant import Grant as Grant, grant_for
from models.pricing.rates import LabourRate, Rates as Rates
from models.pricing.stages import Stage as Stage, payment_stages
from models.pricing.vat import VatLine as VatLine, rate_change, used_rates, vat_lines
from models.reference.money_rules import ConsumerRules, MoneyRules
from models.sources import Source
from models.takeoff.bill import Bill, plain

SOURCE = Source("the firm's rates", "", "firm's rule")
INSTALLED = "installed"

_ONE = Decimal(1)
_THIRD = Decimal("0.001")


class UnknownTrade(ValueError):
    """Hours of a trade that the rates do not have."""


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


@dataclass(frozen=True, slots=True)
class Price:
    """The whole price. `net_pence` is goods and parts, `total_pence` with VAT, then the grant comes off.

    `partial` where a stop leaves the job without a price: then all amounts are None and the tuples empty.
    `why` holds a sentence for each amount by its field name.
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
    why: Mapping[str, str] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()


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
) -> Price:
    """The price of a bill and a plan.

    The firm's rates; VAT Notice 708/6; the scheme of the nation. `hours_by_trade` are person-hours; the last day of
    works is the tax point. VAT is worked out on the full price: the grant comes off afterwards. `stopped` says that
    a finding elsewhere forbids a quote. Raises UnknownTrade, NotYetInForce.
    """
    cancellation = cancellation_note(money_rules.consumer)
    if stopped or has_stop(bill.findings):
        return Price(
            True, works_end_on, None, None, (), None, None, None, (), None, None, None, None, None, (), cancellation
        )
    parts = _parts(bill, hours_by_trade, plan_days, rates, works_start_on)
    net_by_class: dict[str, int] = {}
    for line in bill.lines:
        net_by_class[line.vat_class] = net_by_class.get(line.vat_class, 0) + line.sell_pence
    for part in parts:
        net_by_class[part.vat_class] = net_by_class.get(part.vat_class, 0) + part.sell_pence
    net = sum(net_by_class.values())
    cost = bill.cost_pence + sum(part.cost_pence for part in parts)
    vat = vat_lines(net_pence_by_class=net_by_class, on=works_end_on, series=money_rules.vat)
    tax = sum(line.vat_pence for line in vat)
    total = net + tax
    grant = grant_for(
        nation=nation,
        tenure=tenure,
        fuel_now=fuel_now,
        on_gas_grid=on_gas_grid,
        applied_on=grant_applied_on,
        total_pence=total,
        series=money_rules.grants,
    )
    stages, stage_findings = payment_stages(
        total_pence=total,
        vat_pence=tax,
        grant_pence=grant.deducted_pence,
        deposit_ratio=rates.deposit_ratio,
        before_completion_ratio=rates.before_completion_ratio,
        consumer=money_rules.consumer,
    )
    used = used_rates(vat_classes=frozenset(net_by_class), on=works_end_on, series=money_rules.vat)
    reviews = (value.review_finding(priced_on) for value in (*used, grant.used) if value is not None)
    return Price(
        partial=False,
        tax_point_on=works_end_on,
        goods_cost_pence=bill.cost_pence,
        goods_sell_pence=bill.sell_pence,
        parts=parts,
        cost_pence=cost,
        margin_pence=net - cost,
        net_pence=net,
        vat=vat,
        vat_pence=tax,
        total_pence=total,
        grant=grant,
        grant_pence=grant.deducted_pence,
        customer_pays_pence=total - grant.deducted_pence,
        stages=stages,
        cancellation=cancellation,
        why=_why(bill, parts, net, vat, tax, total, grant, works_end_on),
        findings=sorted_findings(
            (
                *rate_change(net_pence_by_class=net_by_class, on=works_end_on, series=money_rules.vat),
                *grant.findings,
                *stage_findings,
                *(finding for finding in reviews if finding is not None),
            )
        ),
    )


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
    bill: Bill,
    parts: tuple[PricePart, ...],
    net: int,
    vat: tuple[VatLine, ...],
    tax: int,
    total: int,
    grant: Grant,
    tax_point_on: date,
) -> dict[str, str]:
    others = "".join(f" + {part.description.lower()} {_gbp(part.sell_pence)}" for part in parts)
    rates = " + ".join(
        f"{plain(line.rate_ratio * 100)} % of {_gbp(line.net_pence)} ({line.vat_class.replace('_', ' ')})"
        for line in vat
    )
    return {
        "net_pence": f"goods {_gbp(bill.sell_pence)}{others} = {_gbp(net)}",
        "vat_pence": f"tax point {tax_point_on:%d %B %Y}: {rates} = {_gbp(tax)}",
        "total_pence": f"{_gbp(net)} + VAT {_gbp(tax)} = {_gbp(total)}",
        "grant_pence": grant.sentence,
        "customer_pays_pence": f"{_gbp(total)} - grant {_gbp(grant.deducted_pence)} = "
        f"{_gbp(total - grant.deducted_pence)}",
    }


def _gbp(amount_pence: int) -> str:
    return f"£{Decimal(amount_pence) / 100:,.2f}"
