"""When the customer pays: deposit, before completion, on completion, within the limits of the consumer code."""

from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal

from models.findings import Finding
from models.money import Pence, split
from models.reference.money_rules import ConsumerRules


@dataclass(frozen=True, slots=True)
class Stage:
    """One payment: `total_pence` is its part of the price, `customer_pays_pence` that less the grant."""

    name: str
    due: str
    total_pence: int
    grant_pence: int
    customer_pays_pence: int
    net_pence: int
    vat_pence: int


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
    total_pence: int,
    vat_pence: int,
    grant_pence: int,
    deposit_ratio: Decimal,
    before_completion_ratio: Decimal,
    consumer: ConsumerRules,
) -> tuple[tuple[Stage, ...], tuple[Finding, ...]]:
    """The stages of payment, which add up to the total, the VAT and the grant to the penny.

    Consumer code, deposits and advance payments. The firm's shares are of what the customer pays; the last stage
    takes the remainder and the grant. Shares above the code's limits are a stop and give no stages.
    """
    customer = total_pence - grant_pence
    deposit = _share(customer, deposit_ratio)
    before = _share(customer, before_completion_ratio)
    most_deposit = greatest_deposit_pence(total_pence=total_pence, consumer=consumer)
    most_before = greatest_before_completion_pence(total_pence=total_pence, consumer=consumer)
    findings = tuple(
        Finding(
            code,
            "stop",
            "payment stages",
            f"{what} of £{Decimal(asked) / 100:,.2f} is above the limit of £{Decimal(most) / 100:,.2f}",
            str(consumer.payments_source),
            "lower the firm's share in its rates",
        )
        for code, what, asked, most in (
            ("deposit_above_limit", "a deposit", deposit, most_deposit),
            ("advance_above_limit", "payment before completion", before, most_before),
        )
        if asked > most
    )
    if findings:
        return (), findings
    totals = [deposit, before - deposit, total_pence - before]
    vat = split(Pence(vat_pence), totals) if total_pence > 0 else [Pence(0), Pence(0), Pence(vat_pence)]
    names = (
        ("deposit", "when the contract is signed"),
        (
            "before completion",
            f"when the outdoor unit is delivered, not earlier than {consumer.advance_weeks_before_delivery} weeks "
            "before",
        ),
        ("completion", "when the works are finished and handed over"),
    )
    grants = (0, 0, grant_pence)
    return (
        tuple(
            Stage(name, due, total, grant, total - grant, total - tax, tax)
            for (name, due), total, grant, tax in zip(names, totals, grants, vat, strict=True)
        ),
        (),
    )


def _share(total_pence: int, ratio: Decimal) -> int:
    return int((total_pence * ratio).to_integral_value(ROUND_FLOOR))
