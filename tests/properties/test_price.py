"""Random bills add up to the penny by a second route: whole numbers and fractions only, from the lines themselves."""

import json
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings, strategies as st

from models.findings import has_stop
from models.pricing.price import price
from models.pricing.rates import rates_from
from models.reference.money_rules import load_money_rules
from models.takeoff.bill import Bill, BillLine

RATES_JSON = json.loads((Path(__file__).parents[2] / "seed_data/rates.json").read_text())
RATES, RULES = rates_from(RATES_JSON), load_money_rules()
CHANGE = date(2027, 4, 1)
ONE = Decimal("1.000")


def half_up(number: Fraction) -> int:
    """Whole number, halves away from zero."""
    sign = -1 if number < 0 else 1
    return sign * int((abs(number) * 2 + 1) // 2)


def line(number: int, cost: int, sell: int, vat_class: str) -> BillLine:
    return BillLine(
        f"P-{number}", f"P-{number}", "group", "part", "each", ONE, ONE, ONE, ONE, Decimal(cost) / 100,
        Decimal(sell) / 100, cost, sell, "UNIT", vat_class, "4001", "supplier", "code", 1, "order", "one", (),
    )  # fmt: skip


@st.composite
def jobs(draw):
    rows = draw(
        st.lists(
            st.tuples(
                st.integers(0, 900_000), st.integers(-20_000, 1_200_000),
                st.sampled_from(["installed"] * 5 + ["goods_only", "outside_scope"]),
            ),
            min_size=1, max_size=25,
        )
    )  # fmt: skip
    lines = tuple(line(number, *row) for number, row in enumerate(rows))
    start = date(2026, 12, 1) + timedelta(days=draw(st.integers(0, 240)))
    return {
        "bill": Bill(lines, sum(one.cost_pence for one in lines), sum(one.sell_pence for one in lines)),
        "hours_by_trade": {
            "engineer": Decimal(draw(st.integers(0, 8000))) / 100,
            "electrician": Decimal(draw(st.integers(0, 2000))) / 100,
        },
        "plan_days": draw(st.integers(0, 12)),
        "nation": draw(st.sampled_from(["england", "wales", "scotland", "northern_ireland"])),
        "fuel_now": draw(st.sampled_from(["mains_gas", "oil", "coal"])),
        "priced_on": start - timedelta(days=draw(st.integers(0, 60))),
        "works_start_on": start,
        "works_end_on": start + timedelta(days=draw(st.integers(0, 14))),
        "discount_ratio": Decimal(draw(st.sampled_from(["0", "0.02", "0.05", "0.1234"]))),
    }


def rate_on(vat_class: str, on: date) -> Fraction:
    """VAT Notice 708/6 and the standard rate, written out again."""
    if vat_class == "outside_scope":
        return Fraction(0)
    if vat_class == "goods_only":
        return Fraction(20, 100)
    return Fraction(0) if on < CHANGE else Fraction(5, 100)


def net_by_second_route(job) -> dict[str, int]:
    """The sums before VAT by class, from the rates document itself."""
    sums: dict[str, int] = {}
    for one in job["bill"].lines:
        sums[one.vat_class] = sums.get(one.vat_class, 0) + one.sell_pence
    parts = 0
    for trade, hours in job["hours_by_trade"].items():
        rate = RATES_JSON["labour"][trade]
        unit = half_up(Fraction(rate["cost_gbp_per_h"]) / (1 - Fraction(rate["margin_ratio"])) * 10_000)
        parts += half_up(Fraction(hours) * unit / 100)
    survey = RATES_JSON["survey_and_design"]
    parts += half_up(Fraction(survey["hours_h"]) * Fraction(survey["cost_gbp_per_h"]) * 100)
    for day in RATES_JSON["per_job_day"].values():
        parts += half_up(job["plan_days"] * Fraction(day["cost_gbp_per_day"]) * 100)
    before = sum(sums.values()) + parts
    share = Fraction(RATES_JSON["weather"]["share_ratio_by_month"][job["works_start_on"].month - 1])
    parts += half_up(before * share)
    sums["installed"] = sums.get("installed", 0) + parts
    sums["installed"] -= half_up(sums["installed"] * Fraction(job["discount_ratio"]))
    return sums


def check(job) -> None:
    made = price(
        **job, rates=RATES, money_rules=RULES, tenure="owner", on_gas_grid="no",
        grant_applied_on=date(2026, 12, 1), stopped=False,
    )  # fmt: skip
    nets = net_by_second_route(job)
    assert made.net_pence == sum(nets.values())
    assert made.net_pence == made.goods_sell_pence + sum(part.sell_pence for part in made.parts)
    tax = 0
    left = dict(nets)
    for stage in made.stages:
        for one in stage.vat:
            assert one.rate_ratio == rate_on(one.vat_class, stage.tax_point_on)
            assert one.vat_pence == half_up(one.net_pence * Fraction(one.rate_ratio))
            left[one.vat_class] -= one.net_pence
            tax += one.vat_pence
        assert stage.net_pence == sum(one.net_pence for one in stage.vat)
        assert stage.total_pence == stage.net_pence + stage.vat_pence
        assert stage.customer_pays_pence == stage.total_pence - stage.grant_pence
    assert not any(left.values())
    assert made.vat_pence == tax == sum(one.vat_pence for one in made.vat)
    assert made.total_pence == made.net_pence + tax == sum(stage.total_pence for stage in made.stages)
    assert made.customer_pays_pence == made.total_pence - made.grant_pence
    assert made.customer_pays_pence == sum(stage.customer_pays_pence for stage in made.stages)
    assert made.margin_pence == made.net_pence - made.cost_pence
    if not has_stop(made.findings):
        assert made.stages[0].total_pence * 4 <= max(made.total_pence, 0)
        assert (made.stages[0].total_pence + made.stages[1].total_pence) * 10 <= max(made.total_pence, 0) * 6


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(jobs())
def test_a_random_bill_adds_up_to_the_penny(job):
    check(job)


def job_of(seed: int):
    """The same kind of job from one number: drawing each figure by itself would make the long run take hours."""
    chance = Random(seed)
    classes = ["installed"] * 5 + ["goods_only", "outside_scope"]
    lines = tuple(
        line(number, chance.randint(0, 900_000), chance.randint(-20_000, 1_200_000), chance.choice(classes))
        for number in range(chance.randint(1, 25))
    )
    start = date(2026, 12, 1) + timedelta(days=chance.randint(0, 240))
    return {
        "bill": Bill(lines, sum(one.cost_pence for one in lines), sum(one.sell_pence for one in lines)),
        "hours_by_trade": {
            "engineer": Decimal(chance.randint(0, 8000)) / 100, "electrician": Decimal(chance.randint(0, 2000)) / 100,
        },
        "plan_days": chance.randint(0, 12),
        "nation": chance.choice(["england", "wales", "scotland", "northern_ireland"]),
        "fuel_now": chance.choice(["mains_gas", "oil", "coal"]),
        "priced_on": start - timedelta(days=chance.randint(0, 60)),
        "works_start_on": start,
        "works_end_on": start + timedelta(days=chance.randint(0, 14)),
        "discount_ratio": Decimal(chance.choice(["0", "0.02", "0.05", "0.1234"])),
    }  # fmt: skip


@pytest.mark.long
@settings(max_examples=100_000, deadline=None, database=None)
@given(st.integers(0, 2**63))
def test_a_hundred_thousand_random_bills_add_up_to_the_penny(seed):
    check(job_of(seed))
