"""Money against the outside: VAT dates, grant dates, limits of the consumer code, margin, rounding."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from models.money import pence, unit_price, with_margin
from models.pricing.grant import grant_for
from models.pricing.stages import (
    StageDates,
    greatest_before_completion_pence,
    greatest_deposit_pence,
    payment_stages,
)
from models.pricing.vat import sum_by_rate, tax_point, vat_lines
from models.reference.money_rules import load_money_rules
from models.units import whole_up

RULES = load_money_rules()
D = Decimal


def to_pence(pounds: str) -> int:
    return int(D(pounds) * 100)


@pytest.mark.oracle(
    question="pricing",
    source="VAT Notice 708/6 dates; VAT on the full price before the grant (from memory)",
    standing="second computation",
    tolerance="exact pence",
    case="MON-011",
)
@pytest.mark.parametrize(
    ("fuel", "applied_on", "left"),
    [("mains_gas", date(2026, 9, 1), "after_7500"), ("oil", date(2026, 9, 1), "after_9000")],
)
def test_full_price_at_no_vat_then_the_grant(cases: dict[str, Any], fuel: str, applied_on: date, left: str) -> None:
    case = cases["MON-011"]
    net = to_pence(case["inputs"]["net"])
    (line,) = vat_lines(net_pence_by_class={"installed": net}, on=date(2026, 11, 25), series=RULES.vat)
    assert line.rate_ratio * 100 == D(case["inputs"]["rate"])
    assert line.vat_pence == to_pence(case["expected"]["vat"])
    total = line.net_pence + line.vat_pence
    assert total == to_pence(case["expected"]["total"])
    grant = grant_for(
        nation="england", tenure="owner", fuel_now=fuel, on_gas_grid="no", applied_on=applied_on, total_pence=total,
        series=RULES.grants,
    )  # fmt: skip
    assert total - grant.deducted_pence == to_pence(case["expected"][left])


@pytest.mark.oracle(
    question="pricing", source="consumer code: 25 % and 60 % caps", standing="published", tolerance="exact",
    case="MON-021",
)  # fmt: skip
def test_limits_of_deposit_and_advance(cases: dict[str, Any]) -> None:
    case = cases["MON-021"]
    total = to_pence(case["inputs"]["total_inc_vat"])
    expected = case["expected"]
    assert greatest_deposit_pence(total_pence=total, consumer=RULES.consumer) == to_pence(expected["max_deposit"])
    assert greatest_before_completion_pence(total_pence=total, consumer=RULES.consumer) == to_pence(
        expected["max_before_completion"]
    )


@pytest.mark.oracle(
    question="pricing", source="margin is a share of the selling price", standing="common practice", tolerance="penny"
)
def test_margin_is_not_mark_up() -> None:
    # 25 % margin on a cost of 100: 100 / 0.75 = 133.33, not 125
    assert pence(with_margin(D(100), D("0.25")) * 100) == 13333
    assert unit_price(with_margin(D(100), D("0.25"))) == D("133.3333")


@pytest.mark.oracle(question="pricing", source="hand arithmetic", standing="second computation", tolerance="exact")
def test_a_clip_every_1_2_m_on_two_pipes() -> None:
    assert 2 * 8.4 / 1.2 > 14  # what floats make of it
    assert whole_up(2 * 8.4 / 1.2) == 14


@pytest.mark.oracle(
    question="pricing",
    source="EN 16931-1: category tax amount = taxable amount of the category x rate, two decimals (from memory)",
    standing="from memory",
    tolerance="exact pence",
)
def test_vat_is_rounded_once_on_the_sum_of_its_lines() -> None:
    # three lines of 0.10 at 5 %: on the sum 0.30 x 5 % = 0.015 -> 0.02; line by line 3 x 0.005 -> 0.03
    (line,) = vat_lines(net_pence_by_class={"installed": 30}, on=date(2027, 4, 1), series=RULES.vat)
    assert line.vat_pence == 2


@pytest.mark.oracle(question="pricing", source="VAT Notice 708/6", standing="published", tolerance="exact")
@pytest.mark.parametrize(
    ("on", "percent"),
    [(date(2023, 5, 1), 0), (date(2027, 3, 31), 0), (date(2027, 4, 1), 5), (date(2030, 1, 1), 5)],
)
def test_rate_of_installed_energy_saving_materials(on: date, percent: int) -> None:
    (line,) = vat_lines(net_pence_by_class={"installed": 1_000_000}, on=on, series=RULES.vat)
    assert line.rate_ratio * 100 == percent
    assert line.vat_pence == 10_000 * percent


@pytest.mark.oracle(question="pricing", source="VAT Act 1994, standard rate", standing="from memory", tolerance="exact")
def test_goods_without_installation_bear_the_standard_rate() -> None:
    (line,) = vat_lines(net_pence_by_class={"goods_only": 10_000}, on=date(2026, 11, 25), series=RULES.vat)
    assert line.vat_pence == 2_000


@pytest.mark.oracle(
    question="pricing",
    source="Boiler Upgrade Scheme: 5,000 until 2023-10-22, 7,500 until 2026-07-20, then by category",
    standing="published",
    tolerance="exact",
)
@pytest.mark.parametrize(
    ("applied_on", "fuel", "grid", "pounds"),
    [
        (date(2023, 10, 22), "oil", "no", 5000),
        (date(2023, 10, 23), "oil", "no", 7500),
        (date(2026, 7, 20), "oil", "no", 7500),
        (date(2026, 7, 21), "oil", "no", 9000),
        (date(2026, 7, 21), "lpg", "no", 9000),
        (date(2026, 7, 21), "oil", "yes", 7500),
        (date(2026, 7, 20), "mains_gas", "yes", 7500),
        (date(2026, 7, 21), "mains_gas", "yes", 7500),
        (date(2026, 7, 20), "coal", "no", 7500),
        (date(2026, 7, 21), "coal", "no", None),
        (date(2026, 7, 21), "electric", "no", None),
        (date(2026, 7, 21), "hybrid", "no", None),
    ],
)
@pytest.mark.parametrize("nation", ["england", "wales"])
def test_grant_by_date_and_category(nation: str, applied_on: date, fuel: str, grid: str, pounds: int | None) -> None:
    grant = grant_for(
        nation=nation, tenure="owner", fuel_now=fuel, on_gas_grid=grid, applied_on=applied_on, total_pence=2_000_000,
        series=RULES.grants,
    )  # fmt: skip
    if pounds is None:
        assert grant.amount_pence is None and grant.deducted_pence == 0
        assert [finding.code for finding in grant.findings] == ["grant_not_known"]
    else:
        assert grant.amount_pence == grant.deducted_pence == pounds * 100
        assert grant.findings == ()


def staged(net: dict[str, int], *, signed: date, delivered: date, done: date, invoiced: date | None = None) -> Any:
    stages, findings = payment_stages(
        net_pence_by_class=net, grant_pence=0, deposit_ratio=D("0.25"), before_completion_ratio=D("0.60"),
        dates=StageDates(signed, delivered, done, invoiced), consumer=RULES.consumer, series=RULES.vat,
        invoice_within_days=RULES.tax_points.invoice_within_days,
    )  # fmt: skip
    assert findings == ()
    return stages


@pytest.mark.oracle(
    question="pricing",
    source="EN 16931-1:2017, business rules BR-CO-14 and BR-CO-17: the tax of a category is its taxable amount times "
    "the rate rounded to two decimals, the tax of the invoice is their sum (from memory); the arithmetic is by hand",
    standing="from memory",
    tolerance="exact pence",
)
@pytest.mark.parametrize(
    ("lines", "taxable", "tax"),
    [
        # Three lines of 0.10 at 5 %: 0.30 x 5 % = 0.015 -> 0.02 on the sum; rounding each line would give 0.03.
        ((10, 10, 10), 30, 2),
        # 0.09 x 5 % = 0.0045 -> nothing, though eleven such lines together bear 0.99 x 5 % = 0.0495 -> 0.05.
        ((9,) * 11, 99, 5),
        # A credit comes off before the tax: (100.00 - 33.33) x 5 % = 3.3335 -> 3.33.
        ((10_000, -3_333), 6_667, 333),
        # A half is rounded up: 1.10 x 5 % = 0.055 -> 0.06.
        ((110,), 110, 6),
    ],
)
def test_the_tax_of_a_category_is_rounded_once_on_its_sum(lines: tuple[int, ...], taxable: int, tax: int) -> None:
    (line,) = vat_lines(net_pence_by_class={"installed": sum(lines)}, on=date(2027, 4, 1), series=RULES.vat)
    assert (line.net_pence, line.vat_pence) == (taxable, tax)


@pytest.mark.oracle(
    question="pricing", source="EN 16931-1:2017, one breakdown a category and rate (from memory), by hand",
    standing="from memory", tolerance="exact pence",
)  # fmt: skip
def test_each_category_has_its_own_breakdown() -> None:
    # 1,234.56 installed at 5 % = 61.728 -> 61.73; goods alone 99.99 at 20 % = 19.998 -> 20.00; a fee 260.00 bears none
    lines = vat_lines(
        net_pence_by_class={"installed": 123_456, "goods_only": 9_999, "outside_scope": 26_000},
        on=date(2027, 4, 1), series=RULES.vat,
    )  # fmt: skip
    assert [line.vat_pence for line in lines] == [6_173, 2_000, 0]


@pytest.mark.oracle(
    question="pricing",
    source="VAT Notice 708/6 (0 % to 31 March 2027, then 5 %) at the time of supply of VATA 1994 section 6, by hand",
    standing="published",
    tolerance="exact pence",
)
@pytest.mark.parametrize(
    ("signed", "delivered", "done", "invoiced", "tax"),
    [
        # Everything on or before the last day of the zero rate.
        (date(2027, 3, 1), date(2027, 3, 29), date(2027, 3, 31), None, [0, 0, 0]),
        # Completed a day later: the last 40 % of 10,000.00 bears 5 % = 200.00.
        (date(2027, 3, 1), date(2027, 3, 29), date(2027, 4, 1), None, [0, 0, 20_000]),
        # Only the deposit was paid before: 35 % and 40 % bear 175.00 and 200.00.
        (date(2027, 3, 1), date(2027, 4, 12), date(2027, 4, 15), None, [0, 17_500, 20_000]),
        # Deposit on the last day of the zero rate, and on the first of the other.
        (date(2027, 3, 31), date(2027, 4, 12), date(2027, 4, 15), None, [0, 17_500, 20_000]),
        (date(2027, 4, 1), date(2027, 4, 12), date(2027, 4, 15), None, [12_500, 17_500, 20_000]),
        # Completed before, invoiced within fourteen days after it and after the change: the invoice counts.
        (date(2027, 3, 1), date(2027, 3, 22), date(2027, 3, 25), date(2027, 4, 8), [0, 0, 20_000]),
        # Invoiced a day too late for that: completion counts.
        (date(2027, 3, 1), date(2027, 3, 22), date(2027, 3, 25), date(2027, 4, 9), [0, 0, 0]),
    ],
)
def test_the_rate_follows_the_tax_point_of_each_payment(
    signed: date, delivered: date, done: date, invoiced: date | None, tax: list[int]
) -> None:
    stages = staged({"installed": 1_000_000}, signed=signed, delivered=delivered, done=done, invoiced=invoiced)
    assert [stage.net_pence for stage in stages] == [250_000, 350_000, 400_000]
    assert [stage.vat_pence for stage in stages] == tax
    assert sum(line.vat_pence for line in sum_by_rate(v for s in stages for v in s.vat)) == sum(tax)


@pytest.mark.oracle(
    question="pricing", source="VATA 1994 section 6(2) to (5): time of supply (from memory)", standing="from memory",
    tolerance="exact",
)  # fmt: skip
@pytest.mark.parametrize(
    ("done", "paid", "invoiced", "on"),
    [
        (date(2027, 4, 20), date(2027, 3, 31), None, date(2027, 3, 31)),
        (date(2027, 4, 20), None, date(2027, 3, 30), date(2027, 3, 30)),
        (date(2027, 4, 20), date(2027, 5, 20), None, date(2027, 4, 20)),
        (date(2027, 3, 31), None, date(2027, 4, 14), date(2027, 4, 14)),
        (date(2027, 3, 31), None, date(2027, 4, 15), date(2027, 3, 31)),
    ],
)
def test_the_time_of_supply(done: date, paid: date | None, invoiced: date | None, on: date) -> None:
    days = RULES.tax_points.invoice_within_days
    assert tax_point(completed_on=done, paid_on=paid, invoiced_on=invoiced, invoice_within_days=days).on == on


@pytest.mark.oracle(
    question="pricing", source="Home Energy Scotland: the householder claims grant and loan", standing="published",
    tolerance="exact",
)  # fmt: skip
def test_in_scotland_nothing_is_deducted() -> None:
    grant = grant_for(
        nation="scotland", tenure="owner", fuel_now="oil", on_gas_grid="no", applied_on=date(2026, 12, 1),
        total_pence=1_500_000, series=RULES.grants,
    )  # fmt: skip
    assert grant.deducted_pence == 0 and "householder applies" in grant.sentence
