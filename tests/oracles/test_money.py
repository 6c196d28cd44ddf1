"""Money against the outside: VAT dates, grant dates, limits of the consumer code, margin, rounding."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from models.money import pence, unit_price, with_margin
from models.pricing.grant import grant_for
from models.pricing.stages import greatest_before_completion_pence, greatest_deposit_pence
from models.pricing.vat import vat_lines
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
