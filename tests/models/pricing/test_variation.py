"""A variation at sealed prices, by hand; and the extras beside a price."""

import json
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from models.catalogue import PriceLine, PriceList
from models.estimate import Choices, estimate
from models.pricing.rates import rates_from
from models.pricing.variation import (
    UnknownPart,
    prices_document,
    prices_from_document,
    sealed_prices,
    variation_price,
)
from models.reference.money_rules import load_money_rules
from models.survey import Survey

D = Decimal
RULES = load_money_rules()
RATES = rates_from(json.loads((Path(__file__).parents[3] / "seed_data/rates.json").read_text()))


def listed(sku: str, cost: str, margin_class: str = "RADS", vat_class: str = "installed") -> PriceLine:
    return PriceLine.model_validate({
        "sku": sku, "group": "g", "description": f"part {sku}", "unit": "pair", "pack_size": 1, "cost_gbp": cost,
        "supplier": "s", "supplier_code": "c", "lead_time_days": 1, "held": "stock", "margin_class": margin_class,
        "vat_class": vat_class, "sales_nominal": "4003", "charged_by": "pack",
    })  # fmt: skip


LIST = PriceList.of(
    "v1",
    date(2026, 1, 1),
    (listed("VALVE", "19.50"), listed("CREDIT", "-5.00"), listed("LOOSE", "10", "ELEC", "goods_only")),
)
PRICES = sealed_prices(LIST, RATES)


def varied(parts: list[tuple[str, str]], hours: list[tuple[str, str]], on: date = date(2027, 1, 20)) -> Any:
    return variation_price(
        parts=[(sku, D(quantity)) for sku, quantity in parts], hours=[(trade, D(h)) for trade, h in hours],
        prices=PRICES, on=on, series=RULES.vat,
    )  # fmt: skip


def test_two_valves_and_an_hour_and_a_half_by_hand() -> None:
    # 19.50 / 0.72 = 27.0833 each, two 54.1666 -> 54.17; engineer 30.50 / 0.62 = 49.1935, 1.5 h 73.79025 -> 73.79
    made = varied([("VALVE", "2")], [("engineer", "1.5")])
    assert [line.sell_pence for line in made.lines] == [5_417, 7_379]
    assert (made.net_pence, made.vat_pence, made.total_pence) == (12_796, 0, 12_796)
    assert made.cost_pence == 3_900 + 4_575
    # After the change of rate: 127.96 x 5 % = 6.398 -> 6.40
    assert varied([("VALVE", "2")], [("engineer", "1.5")], date(2027, 4, 1)).total_pence == 13_436


def test_a_part_less_a_credit_and_goods_alone() -> None:
    made = varied([("VALVE", "-1"), ("CREDIT", "1"), ("LOOSE", "1")], [])
    # -27.0833 -> -27.08; a credit is not marked up; goods alone 10 / 0.68 = 14.7059 -> 14.71, 20 % = 2.942 -> 2.94
    assert [line.sell_pence for line in made.lines] == [-2_708, -500, 1_471]
    assert made.vat_pence == 294


def test_the_copy_comes_back_as_it_was_and_no_later_list_moves_it() -> None:
    text = json.dumps(prices_document(PRICES))
    assert prices_from_document(json.loads(text)) == PRICES
    dearer = sealed_prices(PriceList.of("v2", date(2027, 1, 1), (listed("VALVE", "29.50"),)), RATES)
    assert dearer.goods["VALVE"] != PRICES.goods["VALVE"]


def test_what_the_quote_has_no_price_for_is_refused() -> None:
    with pytest.raises(UnknownPart, match="NOWHERE"):
        varied([("NOWHERE", "1")], [])
    with pytest.raises(UnknownPart, match="plasterer; it has engineer, electrician"):
        varied([], [("plasterer", "1")])


def test_an_extra_costs_what_choosing_it_costs(rules: Any, households: dict[str, Any]) -> None:
    """The second route draws the whole estimate with the extra chosen: parts and hours must come to the same goods."""
    record = households["weir_cottages"]
    survey = Survey.model_validate(record["survey"])
    chosen = Choices.model_validate(record["choices"])
    without = estimate(survey, chosen, rules, today=date(2026, 11, 25))
    assert without.price is not None
    extras = {extra.code: extra for extra in without.price.extras}
    assert "accumulator" in extras and "oil_tank_goes" not in extras, "there is no oil tank at a house on gas"
    with_it = estimate(
        survey, chosen.model_copy(update={"extras": ("accumulator",)}), rules, today=date(2026, 11, 25)
    )
    assert with_it.bill is not None and without.bill is not None and with_it.price is not None
    # Days are not part of an extra's price: lines that go by days and nights are left out on both sides.
    by_days = {"SUN-VAC", "SUN-HTR"}
    goods = sum(line.sell_pence for line in with_it.bill.lines if line.sku not in by_days) - sum(
        line.sell_pence for line in without.bill.lines if line.sku not in by_days
    )
    # Accumulator 640 / 0.76 = 842.11, and two hours of engineer at 49.1935 = 98.39 (98.387).
    assert goods == 84_211
    assert extras["accumulator"].net_pence == 84_211 + 9_839
    assert "accumulator" not in {extra.code for extra in with_it.price.extras}
