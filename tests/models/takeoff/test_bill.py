"""The bill: hand arithmetic line by line over the fixtures, what is refused, and that every row matters."""

import csv
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from models.catalogue import PriceList, RefusedRow, price_lines_from_rows
from models.design.results import Condensate, FrostProtection
from models.takeoff.bill import UnknownMarginClass, bill, recipes_from_rows
from models.takeoff.quantities import EXTRAS, take_off

D = Decimal
RECIPES_CSV = Path(__file__).parents[3] / "seed_data/recipes.csv"


@pytest.fixture
def measured(survey, design):
    return take_off(survey=survey, design=design, extras=frozenset(), cold=False)


@pytest.fixture
def make(measured, plan_quantities, recipes, price_list, rates):
    def make_bill(**changes):
        given = {
            "take_off": measured, "plan_quantities": plan_quantities, "recipes": recipes, "price_list": price_list,
            "margins": rates.margin_ratio_by_class, **changes,
        }  # fmt: skip
        return bill(**given)

    return make_bill


# SKU: used, bought, charged. Hand arithmetic over test_quantities.EXPECTED.
LINES = {
    "UNT-080": ("1", "1", "1"),
    "PRI-P28": ("21.48", "24", "24"),  # 16.8 x 1.1 + 3, lengths of 3 m
    "PRI-E28": ("21", "25", "25"),  # 8 x 2 x 1.05 + 4 = 20.8, packs of 5
    "PRI-L28": ("6", "6", "6"),  # 2 + 4
    "INS-X28": ("6.6", "8", "8"),  # 2 x 3.0 x 1.1, lengths of 2 m
    "INS-I28": ("11.88", "12", "12"),  # 2 x 5.4 x 1.1
    "PRI-CLP": ("14", "0", "14"),  # 2 x 8.4 / 1.2, from the van
    "PRI-SUP": ("3", "3", "3"),
    "PRI-BUR": ("5", "5", "5"),  # 2.0 + 1.5 at each end
    "PRI-FIT": ("2", "2", "2"),  # 8.4 / 6 = 1.4
    "PRI-SLV": ("4", "4", "4"),
    "BAS-RAP": ("14", "14", "14"),  # 0.117 x 108 x 1.05 = 13.27
    "BAS-SUB": ("7", "7", "7"),  # 0.078 x 2000 / 25 x 1.1 = 6.86
    "BAS-DPM": ("1.014", "4", "1.014"),  # 0.78 x 1.3, charged by measure
    "SOK-GRV": ("20", "20", "20"),  # 0.284 x 64 x 1.05 = 19.08
    "SOK-G10": ("3", "3", "3"),  # 0.031 x 64 x 1.05 = 2.08
    "GRD-SND": ("6", "6", "6"),  # 2.0 x 72 / 25 = 5.76
    "WAT-CLN": ("1", "1", "1"),
    "EMT-P15": ("10.2", "12", "12"),  # 1.2 x 1 + 2 x 4.5
    "EMT-FIT": ("2.6", "0", "2.6"),  # 1 + 1.6
    "EMT-TRV": ("2", "2", "2"),
    "EMT-LSV": ("1", "1", "1"),
    "ELE-SW6": ("13.2", "14", "14"),
    "ELE-K25": ("1", "1", "1"),
    "ELE-25T": ("9.6", "0", "9.6"),  # 0.8 x 12 from the drum in the van
    "ELE-CTL": ("18.48", "0", "18.48"),  # 8.4 x 1.2 + 6 + 2.0 x 1.2
    "CYL-D22": ("4.4", "6", "6"),
    "REM-SKP": ("1.18", "2", "1.18"),  # 0.6 + 0.09 + 0.09 + 2 x 0.2
    "REM-SOI": ("0.713", "1", "0.713"),  # 0.57 x 1.25 = 0.7125, half up
    "SUN-PLB": ("1.3", "0", "1.3"),  # 1 + 0.15 + 0.15
    "SUN-COR": ("3", "0", "3"),
    "SUN-LFT": ("1", "1", "1"),
    "SUN-HTR": ("2", "0", "2"),
    "SUN-VAC": ("3", "0", "3"),
}


def test_used_bought_and_charged_by_hand(make):
    lines = {line.sku: line for line in make().lines}
    for sku, expected in LINES.items():
        line = lines[sku]
        assert (line.used, line.bought, line.charged) == tuple(map(D, expected)), sku


@pytest.mark.parametrize(
    ("sku", "unit_sell", "cost_pence", "sell_pence"),
    [
        ("PRI-P28", "12.0000", 17280, 28800),  # 24 x 7.20; 7.20 / 0.60 = 12
        ("PRI-E28", "6.8333", 10250, 17083),  # 25 x 4.10; 4.10 / 0.60 = 6.8333..; 170.8325
        ("ELE-25T", "1.3971", 912, 1341),  # 9.6 x 0.95; 0.95 / 0.68 = 1.39706; 13.41216
        ("UNT-080", "3560.9756", 292000, 356098),  # 2920 / 0.82
        ("REM-SCR", "-35.0000", -3500, -3500),  # a credit is never marked up
        ("FEE-REG", "62.0000", 6200, 6200),  # no margin on fees
    ],
)
def test_money_of_a_line_by_hand(make, sku, unit_sell, cost_pence, sell_pence):
    line = next(line for line in make().lines if line.sku == sku)
    assert (line.unit_sell_gbp, line.cost_pence, line.sell_pence) == (D(unit_sell), cost_pence, sell_pence)


def test_the_bill_sums_its_lines_and_names_each_once(make):
    made = make()
    assert made.cost_pence == sum(line.cost_pence for line in made.lines)
    assert made.sell_pence == sum(line.sell_pence for line in made.lines)
    assert len({line.line_id for line in made.lines}) == len(made.lines)
    assert 65 <= len(made.lines) <= 100
    assert made.findings == ()
    assert all(line.used > 0 for line in made.lines)


def test_every_line_says_why_with_numbers(make):
    for line in make().lines:
        assert any(sign.isdigit() for sign in line.why), line.sku
        assert "#" not in line.why and "{" not in line.why, line.sku


def test_the_reasons_of_rows_for_one_part_join(make):
    lines = {line.sku: line for line in make().lines}
    assert lines["SUN-COR"].why == (
        "One for each hole of the primary: 2 hole; One for the discharge pipe: 1 hole; together 3 hole"
    )
    assert lines["PRI-E28"].why == (
        "One for each pipe and change of direction, 5 % waste, 4 at the valve set: 8 × 2 + 5 % + 4 = 20.8 each; "
        "20.8 rounds up to 21 each; in packs of 5: 25 each bought"
    )


def test_emitter_lines_name_their_rooms(make):
    line = next(line for line in make().lines if line.sku == "RAD-2212")
    assert line.where == ("Living room",)


def test_a_size_that_no_price_line_has_is_a_stop(make, survey, design):
    odd = replace(design, primary=replace(design.primary, od_mm=54))
    made = make(take_off=take_off(survey=survey, design=odd, extras=frozenset(), cold=False))
    finding = next(finding for finding in made.findings if "primary tube" in finding.message)
    assert (finding.code, finding.strength) == ("no_part_for_size", "stop")
    assert finding.message == "the price list has no primary tube of od_mm 54"
    assert not any(line.sku.startswith("PRI-P") for line in made.lines)


def test_a_chosen_part_without_a_price_is_a_stop(make, price_list):
    lines = tuple(line for line in price_list.lines.values() if line.sku not in ("UNT-080", "RAD-2210"))
    made = make(price_list=PriceList.of("short", date(2026, 1, 1), lines))
    assert [(f.code, f.strength, f.where) for f in made.findings] == [
        ("no_price", "stop", "UNT-080"),
        ("no_price", "stop", "RAD-2210"),
    ]


def test_a_part_that_is_no_longer_sold_is_a_stop(make, price_list):
    last = date(2026, 6, 30)
    lines = tuple(
        line.model_copy(update={"ends_on": last}) if line.sku == "PRI-DIV" else line
        for line in price_list.lines.values()
    )
    ending = PriceList.of("ending", date(2026, 1, 1), lines)
    assert make(price_list=ending, priced_on=last).findings == ()
    (finding,) = make(price_list=ending, priced_on=date(2026, 7, 1)).findings
    assert (finding.code, finding.strength, finding.where) == ("part_no_longer_sold", "stop", "PRI-DIV")


def test_a_margin_class_without_a_margin_is_refused(make):
    with pytest.raises(UnknownMarginClass, match="UNT-080 is of margin class UNIT"):
        make(margins={})


def test_the_plan_must_give_its_quantities(make):
    with pytest.raises(ValueError, match="heating_off_nights, plan_days"):
        make(plan_quantities={})


def test_copper_up_ten_per_cent_moves_only_copper(make, price_list):
    """An issued quote keeps its own list; a new list moves the lines that it changes and no other."""
    lines = tuple(
        line.model_copy(update={"cost_gbp": line.cost_gbp * D("1.1")}) if line.role == "primary_tube" else line
        for line in price_list.lines.values()
    )
    before = {line.sku: line.sell_pence for line in make().lines}
    after = {line.sku: line.sell_pence for line in make(price_list=PriceList.of("n", date(2026, 2, 1), lines)).lines}
    assert {sku: after[sku] - pence for sku, pence in before.items() if after[sku] != pence} == {"PRI-P28": 2880}


def test_deleting_any_row_changes_a_bill(survey, changed_survey, design, units, make, recipes):
    """The households between them use every row."""
    on_wall = changed_survey("existing", fuel="mains_gas")
    on_wall = on_wall.model_copy(
        update={"positions": (on_wall.positions[0].model_copy(update={"mount": "wall", "route_buried_m": 0.0}),)}
    )
    glycol = FrostProtection("glycol", 0.25, 0, "")
    gully = Condensate("gully", 2.0, 0, 0, 0, 0, 0, 0, 0, True)
    large_pit = Condensate("soakaway", 1.2, 1.2, 0.9, 0.97, 5.94, 1.2, 0.92, 0.031, False)
    electrical = replace(design.electrical, network="apply", breaker_a=16)
    fans = replace(design.emitters, rooms=tuple(
        replace(room, steps=tuple(replace(step, needs_mains=step.sku is not None) for step in room.steps))
        for room in design.emitters.rooms
    ))  # fmt: skip
    thin = replace(design.emitters, rooms=tuple(
        replace(room, steps=tuple(replace(step, new_tail_od_mm=od_mm, tail_run_m=2.0) for step in room.steps))
        for room, od_mm in zip(design.emitters.rooms, (15, 22, 15), strict=True)
    ))  # fmt: skip
    household = [
        (survey, design, frozenset(EXTRAS)),
        (survey, replace(design, emitters=thin), frozenset()),
        (survey, replace(design, frost=glycol, condensate=gully, emitters=fans,
                         unit=replace(design.unit, count=2),
                         base=replace(design.base, type="standard_slab"),
                         primary=replace(design.primary, separation_needed=True)), frozenset()),
        (survey, replace(design, condensate=large_pit, base=replace(design.base, type="preformed"),
                         electrical=electrical), frozenset()),
        (on_wall, replace(design, unit=replace(design.unit, unit=units["UNT-040"])), frozenset()),
    ]  # fmt: skip
    take_offs = [take_off(survey=s, design=d, extras=e, cold=False) for s, d, e in household]
    whole = [make(take_off=measured) for measured in take_offs]
    for number, recipe in enumerate(recipes):
        less = recipes[:number] + recipes[number + 1 :]
        assert any(
            make(take_off=measured, recipes=less) != before for measured, before in zip(take_offs, whole, strict=True)
        ), f"row {recipe.row} ({recipe.part}) changes nothing"


ROW = {
    "part": "sku:PRI-MAG", "match": "", "driver": "one", "amount": "1", "per": "1", "fixed": "0", "waste": "0",
    "rounding": "whole", "flag_1": "", "flag_2": "", "when_quantity": "", "at_least": "", "below": "",
    "reason": "one",
}  # fmt: skip


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"part": "sku:NO-SUCH"}, "SKU NO-SUCH is not in price list seed"),
        ({"part": "PRI-MAG"}, "part 'PRI-MAG' is not of the form"),
        ({"part": "chosen:sofa"}, "the design chooses no 'sofa'"),
        ({"part": "each:sofas", "driver": ""}, "there is no schedule 'sofas'"),
        ({"part": "each:emitters"}, "has no driver: the schedule counts"),
        ({"part": "match:primary_tube"}, "the column match is filled in for match"),
        ({"match": "od_mm=28"}, "the column match is filled in for match"),
        ({"part": "match:garden_hose", "match": "od_mm=28"}, "has the role 'garden_hose'"),
        ({"part": "match:primary_tube", "match": "colour=28"}, "has an attribute 'colour'"),
        ({"part": "match:primary_tube", "match": "od_mm=29"}, "has od_mm 29"),
        ({"part": "match:primary_tube", "match": "od_mm=wide"}, "'wide' is neither a number nor a quantity"),
        ({"part": "match:primary_tube", "match": "od_mm"}, "is not of the form od_mm=primary_od_mm"),
        ({"driver": "smiles"}, "there is no quantity 'smiles'"),
        ({"amount": "many"}, "amount 'many' is not a number"),
        ({"amount": "NaN"}, "amount 'NaN' is not a number"),
        ({"amount": "-1"}, "none is negative"),
        ({"amount": "0"}, "amount or fixed is above 0"),
        ({"per": "0"}, "per is 0, it must be above 0"),
        ({"rounding": "up"}, "rounding is whole or none, not 'up'"),
        ({"flag_1": "not sunny"}, "there is no flag 'sunny'"),
        ({"when_quantity": "smiles", "below": "1"}, "there is no quantity 'smiles'"),
        ({"when_quantity": "units"}, "when_quantity needs at_least or below"),
        ({"below": "1"}, "when_quantity needs at_least or below"),
        ({"reason": ""}, "reason must be filled in"),
        ({"reason": "for {smiles}"}, "reason: there is no quantity 'smiles'"),
        ({"reason": "for {units:d}"}, "write {units} without a format"),
        ({"reason": "for {units"}, "reason: "),
        ({"colour": "red"}, "there is no column colour"),
    ],
)
def test_a_broken_recipe_is_refused_with_file_row_and_reason(price_list, change, reason):
    with pytest.raises(RefusedRow) as refused:
        recipes_from_rows([ROW, {**ROW, **change}], price_list)
    assert str(refused.value).startswith("recipes.csv, row 3: ")
    assert reason in str(refused.value)


def test_a_reason_shows_its_numbers_and_keeps_its_braces(make, price_list):
    rows = [{**ROW, "reason": "filter for {units} unit, {driver} of {{it}}"}]
    (line,) = make(recipes=recipes_from_rows(rows, price_list)).lines
    assert line.why == "filter for 1 unit, 1 of {it}: 1 each"


PRICE_ROW = {
    "sku": "AB-1", "group": "Odds", "description": "thing", "unit": "each", "pack_size": "1", "cost_gbp": "2.5000",
    "supplier": "Fenwold Plumbing Stores", "supplier_code": "F1", "lead_time_days": "1", "held": "stock",
    "margin_class": "PIPE", "vat_class": "installed", "sales_nominal": "4004", "charged_by": "pack", "role": "",
    "attributes": "", "ends_on": "",
}  # fmt: skip


def test_a_price_row_is_read_with_its_attributes_and_last_day():
    (line,) = price_lines_from_rows([{**PRICE_ROW, "attributes": "od_mm=28; rating_a=16", "ends_on": "2026-12-31"}])
    assert line.attributes == {"od_mm": D(28), "rating_a": D(16)}
    assert line.ends_on == date(2026, 12, 31)
    assert line.cost_gbp == D("2.5")


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"cost_gbp": "2.50001"}, "cost_gbp '2.50001'"),
        ({"cost_gbp": ""}, "cost_gbp must be filled in"),
        ({"pack_size": "0"}, "pack_size '0'"),
        ({"held": "cellar"}, "held 'cellar'"),
        ({"vat_class": "none"}, "vat_class 'none'"),
        ({"attributes": "od_mm"}, "attributes: 'od_mm' is not of the form"),
        ({"attributes": "od_mm=wide"}, "attributes: 'od_mm=wide' is not of the form"),
        ({"colour": "red"}, "there is no column colour"),
        ({"sku": "AB-0"}, "SKU AB-0 stands already in row 2"),
    ],
)
def test_a_broken_price_row_is_refused_with_file_row_and_reason(change, reason):
    with pytest.raises(RefusedRow) as refused:
        price_lines_from_rows([{**PRICE_ROW, "sku": "AB-0"}, {**PRICE_ROW, **change}])
    assert str(refused.value).startswith("price_list.csv, row 3: ")
    assert reason in str(refused.value)


def test_every_catalogue_item_has_a_price(price_list):
    for name in ("cylinders", "cables", "emitters", "vessels", "volumisers", "pipe_insulation"):
        with (RECIPES_CSV.parent / f"{name}.csv").open() as rows:
            for row in csv.DictReader(rows):
                assert row["sku"] in price_list.lines, row["sku"]


def test_every_outdoor_unit_has_a_price(price_list, units):
    assert set(units) <= set(price_list.lines)
