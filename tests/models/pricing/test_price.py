"""A price by hand: a bill of three lines, two trades, three days. Arithmetic beside each figure."""

import json
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from models.catalogue import PriceLine, PriceList
from models.findings import Finding
from models.pricing.discount import below_floor
from models.pricing.grant import grant_for
from models.pricing.margins import RefusedRates, check_margins, margin_ratio
from models.pricing.price import UnknownTrade, price
from models.pricing.rates import rates_from
from models.pricing.stages import StageDates, payment_stages
from models.pricing.vat import UnknownVatClass, tax_point, vat_lines
from models.reference.dated import NotYetInForce
from models.reference.load import BrokenTable, read_json
from models.reference.money_rules import (
    checked_grants,
    checked_vat,
    consumer_rules,
    load_money_rules,
    tax_point_rules,
)
from models.takeoff.bill import Bill, BillLine

D = Decimal
RULES = load_money_rules()
RATES_JSON = Path(__file__).parents[3] / "seed_data/rates.json"


def line(sku: str, cost: int, sell: int, vat_class: str = "installed") -> BillLine:
    one = D("1.000")
    return BillLine(
        sku, sku, "group", sku, "each", D(1), one, one, one, D(cost) / 100, D(sell) / 100, cost, sell, "UNIT",
        vat_class, "4001", "Oxmere Heat Supply", "O1", 1, "order", "one", (),
    )  # fmt: skip


LINES = (line("unit", 300_000, 400_000), line("pipe", 60_000, 100_000), line("fee", 26_000, 26_000, "outside_scope"))
BILL = Bill(LINES, 386_000, 526_000)


@pytest.fixture
def rates():
    return rates_from(json.loads(RATES_JSON.read_text()))


@pytest.fixture
def make(rates):
    def make_price(**changes):
        given = {
            "bill": BILL, "hours_by_trade": {"engineer": D(40), "electrician": D("3.5")}, "plan_days": 3,
            "rates": rates, "money_rules": RULES, "nation": "england", "tenure": "owner", "fuel_now": "mains_gas",
            "on_gas_grid": "yes", "grant_applied_on": date(2026, 11, 25), "priced_on": date(2026, 11, 25),
            "works_start_on": date(2027, 1, 18), "works_end_on": date(2027, 1, 20), "stopped": False, **changes,
        }  # fmt: skip
        return price(**given)

    return make_price


# Engineer 30.50 / 0.62 = 49.1935 an hour, 40 h = 1,967.74; cost 1,220.00. Electrician 46 / 0.85 = 54.1176,
# 3.5 h = 189.4116 -> 189.41; cost 161.00. Survey 7 h x 34 = 238.00. Overhead 3 x 140 = 420.00. Travel 3 x 36 = 108.00.
# Before weather 5,260.00 + 1,967.74 + 189.41 + 238.00 + 420.00 + 108.00 = 8,183.15; January 2 % = 163.663 -> 163.66.
PARTS = {
    "labour_engineer": (122_000, 196_774),
    "labour_electrician": (16_100, 18_941),
    "survey_and_design": (23_800, 23_800),
    "overhead": (42_000, 42_000),
    "travel": (10_800, 10_800),
    "weather": (16_366, 16_366),
}


def test_parts_by_hand(make):
    assert {part.code: (part.cost_pence, part.sell_pence) for part in make().parts} == PARTS


def test_sums_by_hand(make):
    made = make()
    assert made.net_pence == 834_681  # 8,183.15 + 163.66
    assert made.cost_pence == 617_066  # 3,860.00 + 1,220 + 161 + 238 + 420 + 108 + 163.66
    assert made.margin_pence == 217_615
    assert made.vat_pence == 0
    assert made.total_pence == 834_681
    assert made.grant_pence == 750_000
    assert made.customer_pays_pence == 84_681
    assert made.net_pence == made.goods_sell_pence + sum(part.sell_pence for part in made.parts)


AFTER = {"priced_on": date(2027, 4, 5), "works_start_on": date(2027, 5, 18), "works_end_on": date(2027, 5, 20)}


def test_after_march_2027_five_per_cent_on_what_is_installed_and_none_on_a_fee(make):
    made = make(**AFTER)
    # May has 1 % for weather: 8,183.15 x 1 % = 81.8315 -> 81.83; net 8,264.98, installed 8,264.98 - 260 = 8,004.98.
    # Customer before VAT 8,264.98 - 7,500 = 764.98: deposit 191.245 -> 191.24, with delivery 458.988 -> 458.98.
    # Installed of each by largest remainder: 191.24 x 8,004.98 / 8,264.98 = 185.22; 267.74 -> 259.32; rest 7,560.44.
    # VAT by stage 9.261 -> 9.26; 12.966 -> 12.97; 378.022 -> 378.02; together 400.25.
    assert [stage.vat_pence for stage in made.stages] == [926, 1_297, 37_802]
    assert {tax.vat_class: (tax.rate_ratio, tax.net_pence, tax.vat_pence) for tax in made.vat} == {
        "installed": (D("0.05"), 800_498, 40_025),
        "outside_scope": (0, 26_000, 0),
    }
    assert made.total_pence == 866_523
    assert made.customer_pays_pence == 116_523  # the grant lessens the total, not the VAT


def test_each_stage_bears_the_rate_of_its_own_tax_point(make):
    # Signed two weeks after pricing, unit delivered on 29 March, finished on 1 April: only the last payment bears 5 %.
    made = make(
        priced_on=date(2027, 3, 1), works_start_on=date(2027, 3, 29), works_end_on=date(2027, 4, 1),
        grant_applied_on=None, bill=Bill(LINES[:2], 360_000, 500_000),
    )  # fmt: skip
    assert [(stage.tax_point_on, stage.trigger) for stage in made.stages] == [
        (date(2027, 3, 15), "payment"),
        (date(2027, 3, 29), "payment"),
        (date(2027, 4, 1), "completion"),
    ]
    assert [stage.vat[0].rate_ratio for stage in made.stages] == [0, 0, D("0.05")]
    # goods 5,000, parts as in PARTS, before weather 7,923.15, March 2 % 158.463: net 8,081.61; 60 % of it at 0 %.
    assert made.net_pence == 808_161
    assert [stage.net_pence for stage in made.stages] == [202_040, 282_856, 323_265]
    assert made.vat_pence == 16_163  # 3,232.65 x 5 % = 161.6325
    assert [(one.rate_ratio, one.net_pence, one.vat_pence) for one in made.vat] == [
        (0, 484_896, 0), (D("0.05"), 323_265, 16_163),
    ]  # fmt: skip


def test_an_invoice_within_fourteen_days_after_completion_brings_the_rate_of_its_day(make, rates):
    later = replace(rates, invoice_after_completion_days=8)
    made = make(rates=later, works_start_on=date(2027, 3, 22), works_end_on=date(2027, 3, 25))
    assert (made.stages[-1].tax_point_on, made.stages[-1].trigger) == (date(2027, 4, 2), "invoice_within_14_days")
    assert made.stages[-1].vat_pence > 0 and made.stages[0].vat_pence == made.stages[1].vat_pence == 0
    assert "invoice_after_rate_change" in {finding.code for finding in made.findings}
    too_late = replace(rates, invoice_after_completion_days=15)
    made = make(rates=too_late, works_start_on=date(2027, 3, 22), works_end_on=date(2027, 3, 25))
    assert (made.stages[-1].tax_point_on, made.stages[-1].trigger) == (date(2027, 3, 25), "completion")


def test_the_grant_off_a_price_that_it_covers_is_the_price_with_vat(make):
    made = make(**AFTER, bill=Bill(LINES[:2], 360_000, 500_000), fuel_now="oil", on_gas_grid="no")
    # net below 9,000, with VAT at 5 %: goods 5,000 + parts 2,923.15 + 1 % 79.2315 = 8,002.38; VAT 400.119; 8,402.50
    assert (made.net_pence, made.total_pence) == (800_238, 840_250)
    assert made.grant_pence == 840_250 and made.customer_pays_pence == 0
    assert [stage.total_pence for stage in made.stages] == [0, 0, 840_250]


def test_a_discount_is_one_line_before_vat(make):
    made = make(discount_ratio=D("0.02"))
    line = made.parts[-1]
    # 2 % of what is installed: 8,346.81 - 260.00 = 8,086.81 -> 161.7362
    assert (line.code, line.sell_pence, line.cost_pence) == ("discount", -16_174, 0)
    assert made.net_pence == 834_681 - 16_174
    assert made.margin_pence == 217_615 - 16_174
    assert not made.needs_approval


def test_below_the_floor_a_price_needs_an_approval(make):
    # cost 6,170.66; at a margin of 15 % the price is 7,259.60, so 13 % off 8,346.81 stays above and 14 % does not:
    # 8,086.81 x 13 % = 1,051.29 -> 7,295.52; x 14 % = 1,132.15 -> 7,214.66
    assert not make(discount_ratio=D("0.13")).needs_approval
    assert make(discount_ratio=D("0.14")).needs_approval


def test_margin_is_not_mark_up():
    # 100 that costs 75 has a margin of 25 %; marked up by 25 % it would sell at 93.75 with a margin of 20 %.
    assert not below_floor(cost_pence=7_500, net_pence=10_000, margin_floor_ratio=D("0.25"))
    assert below_floor(cost_pence=7_500, net_pence=9_375, margin_floor_ratio=D("0.25"))
    assert below_floor(cost_pence=0, net_pence=0, margin_floor_ratio=D("0"))


def test_provisional_sums_stand_beside_the_total(make):
    unknown = (
        Finding("percolation_not_known", "ask", "rear lawn", "not recorded"),
        Finding("supply_not_known", "ask", "Meter and cut-out", "not recorded"),
        Finding("cutout_too_small", "ask", "Meter and cut-out", "60 A"),
    )
    made = make(findings=unknown, flags={"asbestos_suspected": True})
    assert [(one.code, one.net_pence) for one in made.provisional_sums] == [
        ("cutout", 35_000), ("percolation", 28_000), ("asbestos", 65_000),
    ]  # fmt: skip
    assert made.total_pence == make().total_pence
    assert made.total_with_provisional_pence == made.total_pence + 128_000
    assert make().provisional_sums == ()


def test_a_subcontract_price_has_a_last_day_and_says_when_it_is_too_early(make):
    tank = line("tank", 46_000, 52_273)._replace(margin_class="SUBC")
    made = make(bill=replace(BILL, lines=(*LINES, tank)), priced_on=date(2026, 11, 1))
    assert [(one.sku, one.held_until) for one in made.subcontract] == [("tank", date(2026, 12, 31))]  # 60 days
    assert "subcontract_price_ends" in {finding.code for finding in made.findings}


def test_what_is_excluded_and_the_notices_stand_beside_the_price(make):
    made = make()
    assert any("make good" in one.who for one in made.exclusions)
    assert [notice.code for notice in made.notices] == [
        "right_to_cancel", "request_to_start_sooner", "cancellation_form", "complaints", "conformity", "contract",
    ]  # fmt: skip
    assert all(notice.source.document for notice in made.notices)


def test_a_note_says_what_slipping_past_the_change_of_rate_would_cost(make):
    made = make()
    (finding,) = [finding for finding in made.findings if finding.code == "vat_rate_changes"]
    assert finding.strength == "note"
    assert "01 April 2027" in finding.message and "5 %" in finding.message and "£8,346.81" in finding.message
    # The deposit of 25 % of 846.81 = 211.70 stays at 0 %, of it 6.59 fee and 205.11 installed (by largest remainder).
    # Before completion 296.38, of it 9.23 fee and 287.15 installed: 14.3575 -> 14.36; the rest of what is installed
    # 8,086.81 - 205.11 - 287.15 = 7,594.55: 379.7275 -> 379.73. Together 394.09 more.
    assert made.if_late.total_pence == 834_681 + 39_409
    assert made.if_late.change_on == date(2027, 4, 1)
    assert "£8,740.90" in finding.message
    after = make(**AFTER)
    assert after.if_late is None and not [f for f in after.findings if f.code == "vat_rate_changes"]


def test_stages_add_up_and_the_last_takes_the_remainder_and_the_grant(make):
    made = make()
    # customer 846.81: a quarter 211.7025 -> 211.70; 60 % 508.086 less the deposit 296.38; remainder 338.73
    assert [stage.customer_pays_pence for stage in made.stages] == [21_170, 29_638, 33_873]
    assert [stage.grant_pence for stage in made.stages] == [0, 0, 750_000]
    for made in (make(), make(**AFTER)):
        assert sum(stage.total_pence for stage in made.stages) == made.total_pence
        assert sum(stage.vat_pence for stage in made.stages) == made.vat_pence
        assert sum(stage.net_pence for stage in made.stages) == made.net_pence


def test_a_stop_leaves_no_figure(make):
    stop = Finding("no_part_for_size", "stop", "primary_tube", "none of 54 mm")
    for made in (make(stopped=True), make(bill=replace(BILL, findings=(stop,)))):
        assert made.partial
        amounts = (
            made.net_pence, made.vat_pence, made.total_pence, made.grant_pence, made.customer_pays_pence,
            made.cost_pence, made.margin_pence, made.goods_sell_pence, made.goods_cost_pence,
        )  # fmt: skip
        assert amounts == (None,) * 9
        assert made.parts == made.vat == made.stages == ()


def test_weather_costs_more_in_winter(make):
    # June 1 % of 8,183.15 = 81.8315
    june = make(works_start_on=date(2026, 6, 1), works_end_on=date(2026, 6, 3))
    assert next(part for part in june.parts if part.code == "weather").sell_pence == 8_183


def test_hours_of_a_trade_without_a_rate_are_refused(make):
    with pytest.raises(UnknownTrade, match="2 h of plasterer"):
        make(hours_by_trade={"plasterer": D(2)})


def test_before_the_first_date_of_a_rate_an_error_names_it(make):
    with pytest.raises(NotYetInForce, match="installed_energy_saving_materials"):
        make(works_start_on=date(2023, 4, 27), works_end_on=date(2023, 4, 30))


def test_a_value_past_its_review_date_still_works_and_says_so(make):
    made = make(
        priced_on=date(2027, 4, 5), works_start_on=date(2027, 3, 29), works_end_on=date(2027, 3, 31)
    )
    assert made.vat_pence == 0
    assert "reference_value_due_for_review" in {finding.code for finding in made.findings}


def test_every_amount_says_why(make):
    made = make()
    assert made.why["net_pence"].startswith("goods £5,260.00 + labour, engineer £1,967.74")
    assert made.why["customer_pays_pence"] == "£8,346.81 - grant £7,500.00 = £846.81"
    assert "deposit, tax point 09 December 2026 (payment): 0 % of £205.11 (installed)" in made.why["vat_pence"]


def test_the_customer_is_told_of_fourteen_days(make):
    assert "14 days" in make().cancellation and "12 months" in make().cancellation


def grant(**changes):
    given = {
        "nation": "england", "tenure": "owner", "fuel_now": "oil", "on_gas_grid": "no",
        "applied_on": date(2026, 9, 1), "total_pence": 1_000_000, "series": RULES.grants, **changes,
    }  # fmt: skip
    return grant_for(**given)


@pytest.mark.parametrize(
    ("changes", "code", "strength"),
    [
        ({"nation": "scotland"}, "grant_claimed_by_householder", "note"),
        ({"nation": "northern_ireland"}, "grant_not_known", "note"),
        ({"fuel_now": "wood"}, "grant_not_known", "ask"),
        ({"fuel_now": "heat_pump", "applied_on": date(2026, 1, 1)}, "grant_not_known", "ask"),
        ({"on_gas_grid": "unknown"}, "grant_not_known", "ask"),
        ({"tenure": "social_rented"}, "grant_not_for_tenure", "note"),
    ],
)
def test_no_grant_is_deducted_where_none_is_sure(changes, code, strength):
    given = grant(**changes)
    assert given.deducted_pence == 0
    assert [(finding.code, finding.strength) for finding in given.findings] == [(code, strength)]


def test_a_grant_not_applied_for_is_none():
    assert grant(applied_on=None).deducted_pence == 0
    assert grant(applied_on=None).findings == ()


def test_a_grant_above_the_price_is_asked_about():
    given = grant(total_pence=800_000)
    assert (given.amount_pence, given.deducted_pence) == (900_000, 800_000)
    assert given.findings[0].code == "grant_above_price"


def test_before_the_scheme_an_error_names_it():
    with pytest.raises(NotYetInForce, match="boiler_upgrade_scheme"):
        grant(applied_on=date(2022, 5, 22))


def test_scotland_says_when_its_amounts_on_that_day_are_not_known():
    assert "not known" in grant(nation="scotland", applied_on=date(2026, 1, 1)).sentence
    assert "£7,500" in grant(nation="scotland", applied_on=date(2026, 12, 1)).sentence


DATES = StageDates(date(2026, 12, 1), date(2027, 1, 18), date(2027, 1, 20), None)


def stages_of(net, grant=0, deposit="0.25", before="0.60", dates=DATES):
    return payment_stages(
        net_pence_by_class=net, grant_pence=grant, deposit_ratio=D(deposit), before_completion_ratio=D(before),
        dates=dates, consumer=RULES.consumer, series=RULES.vat, invoice_within_days=14,
    )  # fmt: skip


def test_shares_above_the_consumer_code_are_a_stop():
    _, findings = stages_of({"installed": 1_400_000}, deposit="0.26", before="0.61")
    assert [(finding.code, finding.strength) for finding in findings] == [
        ("deposit_above_limit", "stop"),
        ("advance_above_limit", "stop"),
    ]


def test_rounding_the_tax_of_a_stage_never_lifts_the_deposit_over_the_code():
    # 5 % from April 2027: a quarter of 40 pence is 10, its tax 0.5 -> 1; a quarter of the 42 to pay is 10.5.
    at = StageDates(date(2027, 4, 5), date(2027, 4, 12), date(2027, 4, 14), None)
    for net in range(0, 400):
        stages, findings = stages_of({"installed": net}, dates=at)
        assert findings == ()
        assert sum(stage.net_pence for stage in stages) == net


@pytest.mark.parametrize(
    ("paid", "invoiced", "expected"),
    [
        (date(2027, 3, 31), None, (date(2027, 3, 31), "payment")),
        (date(2027, 3, 30), date(2027, 3, 29), (date(2027, 3, 29), "invoice")),
        (None, None, (date(2027, 4, 10), "completion")),
        (date(2027, 4, 12), None, (date(2027, 4, 10), "completion")),
        (date(2027, 4, 12), date(2027, 4, 24), (date(2027, 4, 24), "invoice_within_14_days")),
        (None, date(2027, 4, 25), (date(2027, 4, 10), "completion")),
    ],
)
def test_tax_point(paid, invoiced, expected):
    assert tax_point(
        completed_on=date(2027, 4, 10), paid_on=paid, invoiced_on=invoiced, invoice_within_days=14
    ) == expected  # fmt: skip


def test_an_unknown_vat_class_is_refused():
    with pytest.raises(UnknownVatClass, match="duty_free"):
        vat_lines(net_pence_by_class={"duty_free": 1}, on=date(2026, 11, 25), series=RULES.vat)


def test_margin_of_a_price():
    assert margin_ratio(cost_pence=7_500, sell_pence=10_000) == D("0.25")
    assert margin_ratio(cost_pence=0, sell_pence=0) is None


def test_a_price_list_is_checked_against_the_margins(rates):
    thing = PriceLine.model_validate(
        {
            "sku": "AB-1", "group": "g", "description": "d", "unit": "each", "pack_size": 1, "cost_gbp": "1",
            "supplier": "s", "supplier_code": "c", "lead_time_days": 1, "held": "stock", "margin_class": "GOLD",
            "vat_class": "installed", "sales_nominal": "4001", "charged_by": "pack",
        }
    )  # fmt: skip
    with pytest.raises(RefusedRates, match=r"AB-1 \(GOLD\)"):
        check_margins(PriceList.of("v", date(2026, 1, 1), (thing,)), rates.margin_ratio_by_class)


def changed(path: str, value: object) -> dict:
    document = json.loads(RATES_JSON.read_text())
    *parents, last = path.split("/")
    place = document
    for parent in parents:
        place = place[parent]
    if value is None:
        del place[last]
    else:
        place[last] = value
    return document


@pytest.mark.parametrize(
    ("path", "value", "reason"),
    [
        ("labour/engineer/cost_gbp_per_h", 30.5, "labour: engineer: cost_gbp_per_h: write 30.5 in quotes"),
        ("labour/engineer/cost_gbp_per_h", "cheap", "'cheap' is not a number"),
        ("labour/engineer/margin_ratio", "1", "must be at least 0 and less than 1"),
        ("margin_ratio_by_class/UNIT", "-0.1", "margin_ratio_by_class: UNIT is -0.1"),
        ("weather/share_ratio_by_month", ["0.01"] * 11, "has 11 values, a year has 12 months"),
        ("stages/before_completion_ratio", "0.2", "stages: before_completion_ratio is 0.2, it must be at least 0.25"),
        ("per_job_day/travel", None, "travel must be there"),
        ("labour", [], "rates.json: "),
        ("margin_floor_ratio", "1", "margin_floor_ratio is 1"),
        ("margin_floor_ratio", None, "margin_floor_ratio must be there"),
        ("discount/greatest_ratio_by_role/sales", "1.5", "discount: greatest_ratio_by_role: sales is 1.5"),
        ("stages/signed_after_days", -1, "stages: signed_after_days is -1, it must be whole days from 0 to 365"),
        ("provisional_sums", [{"code": "x", "where_findings": [], "vat_class": "installed"}], "at least one finding"),
        ("provisional_sums", [{"code": "x", "where_findings": ["y"], "vat_class": "z"}], "no VAT class 'z'"),
    ],
)
def test_broken_rates_are_refused(path, value, reason):
    with pytest.raises(RefusedRates) as refused:
        rates_from(changed(path, value))
    assert reason in str(refused.value)
    assert str(refused.value).startswith("rates.json: ")


def test_broken_money_tables_are_refused():
    with pytest.raises(BrokenTable, match="goods_without_installation must be there"):
        checked_vat("vat.json", {k: v for k, v in RULES.vat.items() if k != "goods_without_installation"})
    vat = RULES.vat["goods_without_installation"]
    for wrong in (0.2, "20", "much"):
        broken = replace(vat, values=(replace(vat.values[0], value=wrong),))
        with pytest.raises(BrokenTable, match="is not a ratio of 0 to 1 in quotes"):
            checked_vat("vat.json", {**RULES.vat, "goods_without_installation": broken})
    scheme = RULES.grants["boiler_upgrade_scheme"]
    for wrong in (75.5, "lots", True, -1):
        broken = replace(scheme, values=(replace(scheme.values[0], value={"any": wrong}),))
        with pytest.raises(BrokenTable, match="is neither whole pounds nor not_known"):
            checked_grants("grants.json", {**RULES.grants, "boiler_upgrade_scheme": broken})
    with pytest.raises(BrokenTable, match="cancellation"):
        consumer_rules("consumer.json", {})
    consumer = read_json("consumer.json")
    broken_notice = {**consumer["notices"][0], "text": "you have {weeks} weeks"}
    with pytest.raises(BrokenTable, match="a text may name counted_from, days, longer_months"):
        consumer_rules("consumer.json", {**consumer, "notices": [broken_notice]})
    with pytest.raises(BrokenTable, match="invoice_within_days is 'soon'"):
        tax_point_rules("tax_points.json", {"invoice_within_days": "soon"})
