"""When the customer pays and what VAT each payment bears: deposit, before completion, on completion.

Every stage is a part of the supply with a tax point of its own. Its net amount by VAT class comes first, the tax is
worked out on that and rounded once; the total is the sum of the stages.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_FLOOR, Decimal

from models.findings import Finding
from models.frozen import quickly_made
from models.money import Pence, split
from models.pricing.vat import VatLine, tax_point, vat_lines
from models.reference.dated import Dated
from models.reference.money_rules import ConsumerRules


@quickly_made
@dataclass(frozen=True, slots=True)
class Stage:
    """One payment: `total_pence` is its part of the price with VAT, `customer_pays_pence` that less the grant.

    `tax_point_on` is the day whose rates hold, `trigger` what makes it that day; `vat` has a line for each class.
    """

    name: str
    due: str
    total_pence: int
    grant_pence: int
    customer_pays_pence: int
    net_pence: int
    vat_pence: int
    tax_point_on: date
    trigger: str
    vat: tuple[VatLine, ...]


@dataclass(frozen=True, slots=True)
class StageDates:
    """The days that a quote assumes: signature with deposit, the payment at delivery, completion, the last invoice."""

    signed_on: date
    delivery_paid_on: date
    completed_on: date
    invoiced_on: date | None


def greatest_deposit_pence(*, total_pence: int, consumer: ConsumerRules) -> int:
    """The most that may be asked for on signing, rounded down.

    Consumer code, deposits and advance payments: 25 % of the total with VAT.
    """
    return _share(total_pence, consumer.greatest_deposit_ratio)


def greatest_before_completion_pence(*, total_pence: int, consumer: ConsumerRules) -> int:
    """The most that may be asked for before completion, deposit included, rounded down.

    Consumer code, deposits and advance payments: 60 % of the total with VAT.
    """
    return _share(total_pence, consumer.greatest_before_completion_ratio)


def payment_stages(
    *,
    net_pence_by_class: Mapping[str, int],
    grant_pence: int,
    deposit_ratio: Decimal,
    before_completion_ratio: Decimal,
    dates: StageDates,
    consumer: ConsumerRules,
    series: Mapping[str, Dated],
    invoice_within_days: int,
) -> tuple[tuple[Stage, ...], tuple[Finding, ...]]:
    """The stages of payment with the VAT of each. Net, VAT and grant of the stages add up to the price to the penny.

    Consumer code, deposits and advance payments; Value Added Tax Act 1994, section 6. The firm's shares are of what
    the customer pays before VAT (net less the grant), spread over the VAT classes by largest remainder; the last
    stage takes the remainder and the grant. Shares above the code's limits are a stop; the stages are still given.
    """
    net = sum(net_pence_by_class.values())
    customer = max(net - grant_pence, 0)
    asked = (_share(customer, deposit_ratio), _share(customer, before_completion_ratio))
    allowed = deposit_ratio <= consumer.greatest_deposit_ratio and (
        before_completion_ratio <= consumer.greatest_before_completion_ratio
    )
    stages = _stages(net_pence_by_class, asked, grant_pence, dates, consumer, series, invoice_within_days)
    # Rounding the tax of each stage may lift a share by a penny over a limit that the firm's ratio keeps: a penny less.
    for _ in range(4):
        over_deposit, over_before = _over(stages, consumer)
        if not (allowed and (over_deposit or over_before)):
            break
        deposit = asked[0] - (1 if over_deposit and asked[0] else 0)
        before = max(asked[1] - (1 if over_before or over_deposit else 0), deposit)
        if (deposit, before) == asked:
            break
        asked = (deposit, before)
        stages = _stages(net_pence_by_class, asked, grant_pence, dates, consumer, series, invoice_within_days)
    return stages, tuple(_above_limits(stages, consumer))


def _stages(
    net_pence_by_class: Mapping[str, int],
    asked: tuple[int, int],
    grant_pence: int,
    dates: StageDates,
    consumer: ConsumerRules,
    series: Mapping[str, Dated],
    invoice_within_days: int,
) -> tuple[Stage, ...]:
    deposit, before = asked
    shares = _by_class(net_pence_by_class, (deposit, before - deposit))
    named = (
        ("deposit", "when the contract is signed", dates.signed_on, None),
        (
            "before completion",
            f"when the outdoor unit is delivered, not earlier than {consumer.advance_weeks_before_delivery} weeks "
            "before",
            dates.delivery_paid_on,
            None,
        ),
        ("completion", "when the works are finished and handed over", None, dates.invoiced_on),
    )
    stages: list[Stage] = []
    for number, (name, due, paid_on, invoiced_on) in enumerate(named):
        point = tax_point(
            completed_on=dates.completed_on,
            paid_on=paid_on,
            invoiced_on=invoiced_on,
            invoice_within_days=invoice_within_days,
        )
        vat = vat_lines(net_pence_by_class=shares[number], on=point.on, series=series)
        stage_net = sum(line.net_pence for line in vat)
        tax = sum(line.vat_pence for line in vat)
        grant = grant_pence if number == 2 else 0
        stages.append(
            Stage(
                name, due, stage_net + tax, grant, stage_net + tax - grant, stage_net, tax, point.on, point.trigger,
                vat,
            )
        )  # fmt: skip
    return tuple(stages)


def _by_class(net_pence_by_class: Mapping[str, int], shares: Sequence[int]) -> list[dict[str, int]]:
    """Each share of the net over the VAT classes in proportion, then what is left of each class for the last stage.

    Classes whose sum is a credit have no part in an early payment.
    """
    if len(net_pence_by_class) == 1:
        ((vat_class, net),) = net_pence_by_class.items()
        return [{vat_class: share} for share in (*shares, net - sum(shares))]
    weights = [max(net, 0) for net in net_pence_by_class.values()]
    left = dict(net_pence_by_class)
    answer: list[dict[str, int]] = []
    for share in shares:
        parts = split(Pence(share), weights) if any(weights) else [Pence(0)] * len(weights)
        answer.append(dict(zip(net_pence_by_class, parts, strict=True)))
        for vat_class, part in answer[-1].items():
            left[vat_class] -= part
    return [*answer, left]


def _over(stages: Sequence[Stage], consumer: ConsumerRules) -> tuple[bool, bool]:
    total = sum(stage.total_pence for stage in stages)
    deposit, advance = stages[0].total_pence, stages[1].total_pence
    return (
        deposit > greatest_deposit_pence(total_pence=total, consumer=consumer),
        deposit + advance > greatest_before_completion_pence(total_pence=total, consumer=consumer),
    )


def _above_limits(stages: Sequence[Stage], consumer: ConsumerRules) -> list[Finding]:
    total = sum(stage.total_pence for stage in stages)
    deposit, before = stages[0].total_pence, stages[0].total_pence + stages[1].total_pence
    limits = (
        ("deposit_above_limit", "a deposit", deposit, greatest_deposit_pence(total_pence=total, consumer=consumer)),
        (
            "advance_above_limit",
            "payment before completion",
            before,
            greatest_before_completion_pence(total_pence=total, consumer=consumer),
        ),
    )
    return [
        Finding(
            code,
            "stop",
            "payment stages",
            f"{what} of £{Decimal(asked) / 100:,.2f} is above the limit of £{Decimal(most) / 100:,.2f}",
            str(consumer.payments_source),
            "lower the firm's share in its rates",
        )
        for code, what, asked, most in limits
        if asked > most
    ]


def _share(total_pence: int, ratio: Decimal) -> int:
    return int((total_pence * ratio).to_integral_value(ROUND_FLOOR))
