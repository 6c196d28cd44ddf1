"""The seed bill summed by a second route: from the text of the rows, with fractions and whole numbers only."""

import csv
from datetime import date
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

from hypothesis import given, settings, strategies as st

from models.catalogue import PriceList, price_lines_from_rows
from models.takeoff.bill import bill, recipes_from_rows
from models.takeoff.quantities import FLAGS, PLAN_QUANTITIES, QUANTITY_UNITS, Quantity, ScheduleLine, TakeOff

SEED = Path(__file__).parents[2] / "seed_data"
RECIPES = list(csv.DictReader((SEED / "recipes.csv").read_text().splitlines()))
PRICES = list(csv.DictReader((SEED / "price_list.csv").read_text().splitlines()))
LIST = PriceList.of("seed", date(2026, 1, 1), price_lines_from_rows(PRICES))
ROWS = recipes_from_rows(RECIPES, LIST)
MARGINS = {"UNIT": "0.18", "CYLN": "0.24", "RADS": "0.28", "PIPE": "0.40", "VALV": "0.32", "INSU": "0.40",
           "GRND": "0.35", "CHEM": "0.35", "ELEC": "0.32", "SUBC": "0.12", "SUND": "0.30", "CTRL": "0.20",
           "FEES": "0"}  # fmt: skip
CHOSEN = {
    "outdoor_unit": "UNT-110", "cylinder": "CYL-S15", "cable": "ELE-SW10", "heating_vessel": "PRI-X24",
    "drinking_vessel": "CYL-X18", "volumiser": "PRI-V40",
}  # fmt: skip
SIZES = {
    "primary_od_mm": (22, 28, 35, 42), "discharge_od_mm": (22, 28, 35, 42, 54), "breaker_a": (16, 20, 25, 32, 40),
}  # fmt: skip
WITHOUT_THRESHOLD = sorted(set(QUANTITY_UNITS) - SIZES.keys() - {row["when_quantity"] for row in RECIPES})
EMITTERS = ("RAD-1106", "RAD-2210", "RAD-3318", "RAD-VC18")

millionths = st.integers(0, 40_000_000).map(lambda number: Decimal(number).scaleb(-6))


@st.composite
def take_offs(draw):
    values = {
        name: draw(st.sampled_from(SIZES[name]).map(Decimal) if name in SIZES else millionths)
        for name in QUANTITY_UNITS
    }
    flags = {name: draw(st.booleans()) for name in sorted(FLAGS)}
    pieces = draw(st.lists(st.sampled_from(EMITTERS), max_size=6))
    return values, flags, pieces


def half_up(number: Fraction) -> int:
    """Whole number, halves away from zero."""
    sign = -1 if number < 0 else 1
    return sign * int((abs(number) * 2 + 1) // 2)


def ceiling(number: Fraction) -> int:
    return -int(-number // 1)


def second_route(values, flags, pieces) -> dict[str, tuple[Fraction, Fraction, Fraction, int, int]]:
    """Used, bought, charged, cost and selling price in pence of each SKU."""
    used: dict[str, Fraction] = {}
    whole: dict[str, bool] = {}

    def add(sku: str, amount: Fraction, row: dict[str, str]) -> None:
        used[sku] = used.get(sku, Fraction(0)) + Fraction(half_up(amount * 10**6), 10**6)
        whole[sku] = whole.get(sku, False) or row["rounding"] == "whole"

    for row in RECIPES:
        conditions = [row[flag].split() for flag in ("flag_1", "flag_2") if row[flag]]
        if any(flags[words[-1]] != (words[0] != "not") for words in conditions):
            continue
        if row["when_quantity"]:
            value = Fraction(values[row["when_quantity"]])
            if row["at_least"] and value < Fraction(row["at_least"]):
                continue
            if row["below"] and value >= Fraction(row["below"]):
                continue
        form, _, part = row["part"].partition(":")
        if form == "each":
            for piece in pieces:
                add(piece, Fraction(1), row)
            continue
        amount = Fraction(values[row["driver"]]) * Fraction(row["amount"]) / Fraction(row["per"])
        amount = amount * (1 + Fraction(row["waste"])) + Fraction(row["fixed"])
        if form == "chosen":
            part = CHOSEN[part]
        elif form == "match":
            name, quantity = row["match"].split("=")
            wanted = f"{name}={int(values[quantity])}"
            part = next(line["sku"] for line in PRICES if line["role"] == part and line["attributes"] == wanted)
        add(part, amount, row)
    answer = {}
    for line in PRICES:
        amount = used.get(line["sku"], Fraction(0))
        if whole.get(line["sku"]):
            amount = Fraction(ceiling(amount))
        if not amount:
            continue
        pack = Fraction(line["pack_size"])
        from_van = line["held"] == "van_stock"
        packs = ceiling(Fraction(half_up(amount / pack * 10**6), 10**6))
        bought = Fraction(0) if from_van else packs * pack
        charged = amount if from_van or line["charged_by"] == "measure" else bought
        charged = Fraction(half_up(charged * 1000), 1000)
        cost = Fraction(line["cost_gbp"])
        sell = cost if cost <= 0 else cost / (1 - Fraction(MARGINS[line["margin_class"]]))
        sell = Fraction(half_up(sell * 10**4), 10**4)
        shown = Fraction(half_up(amount * 1000), 1000)
        answer[line["sku"]] = (shown, bought, charged, half_up(charged * cost * 100), half_up(charged * sell * 100))
    return answer


def make(values, flags, pieces):
    measured = TakeOff(
        {n: Quantity(n, v, QUANTITY_UNITS[n], "drawn") for n, v in values.items() if n not in PLAN_QUANTITIES},
        flags,
        CHOSEN,
        {"emitters": tuple(ScheduleLine(sku, Decimal(1), "room", 500.0, 400.0, 45.0) for sku in pieces)},
    )
    return bill(
        take_off=measured,
        plan_quantities={name: values[name] for name in PLAN_QUANTITIES},
        recipes=ROWS,
        price_list=LIST,
        margins={name: Decimal(ratio) for name, ratio in MARGINS.items()},
    )


@settings(max_examples=40, deadline=None)
@given(take_offs())
def test_a_second_route_gives_the_same_bill(drawn):
    made = make(*drawn)
    expected = second_route(*drawn)
    found = {
        line.sku: (*map(Fraction, (line.used, line.bought, line.charged)), line.cost_pence, line.sell_pence)
        for line in made.lines
    }
    assert found == expected
    assert made.cost_pence == sum(line[3] for line in expected.values())
    assert made.sell_pence == sum(line[4] for line in expected.values())


@settings(max_examples=40, deadline=None)
@given(take_offs())
def test_never_less_bought_or_charged_than_used_and_no_pack_too_many(drawn):
    for line in make(*drawn).lines:
        assert line.charged >= line.used
        if line.held == "van_stock":
            assert line.bought == 0
        else:
            assert line.used <= line.bought < line.used + line.pack_size + Decimal("0.001")


@settings(max_examples=40, deadline=None)
@given(take_offs(), st.sampled_from(WITHOUT_THRESHOLD), millionths)
def test_more_of_a_quantity_never_lowers_a_line_without_a_threshold(drawn, name, more):
    values, flags, pieces = drawn
    before = {line.sku: line.used for line in make(values, flags, pieces).lines}
    after = {line.sku: line.used for line in make({**values, name: values[name] + more}, flags, pieces).lines}
    assert all(after[sku] >= used for sku, used in before.items())
