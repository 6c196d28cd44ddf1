"""Every figure opens: its numbers, put into its formula by hand, give the figure of the document."""

import json
import math
import re
from dataclasses import replace
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

import pytest

from models.document import COST_KEYS, estimate_document, without_cost
from models.estimate import Choices, Estimate, estimate
from models.survey import Survey
from models.why import why_document
from models.why.entry import unit_of

TODAY = date(2026, 11, 25)
NAMES = ("thornlea", "alder_row", "weir_cottages")
STANDINGS = {"published", "second computation", "from memory", "common practice", "maker's record", "firm's rule"}


@pytest.fixture(scope="module")
def worked_out(households: dict[str, Any], rules: Any) -> dict[str, Estimate]:
    return {
        name: estimate(Survey.model_validate(record["survey"]), Choices(), rules, today=TODAY)
        for name, record in households.items()
    }


@pytest.fixture(scope="module")
def whys(worked_out: dict[str, Estimate]) -> dict[str, dict[str, Any]]:
    return {name: why_document(its) for name, its in worked_out.items()}


def numbers(entry: dict[str, Any]) -> dict[str, Any]:
    return {number["name"]: number["value"] for number in entry["numbers"]}


@pytest.mark.parametrize("name", (*NAMES, "smallest"))
def test_an_entry_has_all_its_parts(whys: dict[str, dict[str, Any]], name: str) -> None:
    for path, entry in whys[name].items():
        assert entry["path"] == path
        assert entry["sentence"] and entry["formula"] and entry["source"], path
        assert entry["standing"] in STANDINGS, path
        for given in entry["inputs"]:
            assert given.keys() == {"what", "value", "unit", "known"}, path
            assert given["known"] in {"measured", "plate", "told", "assumed"}, path
        for number in entry["numbers"]:
            assert number.keys() == {"name", "value", "unit"}, path


@pytest.mark.parametrize("name", NAMES)
def test_every_public_figure_opens(worked_out: dict[str, Estimate], whys: dict[str, dict[str, Any]], name: str) -> None:
    document, why = estimate_document(worked_out[name]), whys[name]
    design = document["design"]
    wanted = [
        "design.heat_loss_w", "design.design_outdoor_temp_c", "design.flow_temp_c",
        *(f"design.outdoor_unit.{field}" for field in ("sku", "count", "capacity_w", "cover_ratio")),
        "design.cylinder.sku", "design.cylinder.volume_l",
        *(f"design.primary.{f}" for f in ("od_mm", "flow_l_per_s", "velocity_m_per_s", "pressure_drop_pa")),
        *(f"design.performance.{field}"
          for field in ("space_heat_kwh", "hot_water_kwh", "electricity_kwh", "seasonal_ratio")),
        "labour_plan.days", "labour_plan.person_hours", "labour_plan.hot_water_off_h", "labour_plan.heating_off_h",
        *(f"price.{f}" for f in ("net_pence", "vat_pence", "total_pence", "grant_pence", "customer_pays_pence")),
    ]  # fmt: skip
    for room in design["rooms"]:
        fields = ("heat_loss_w", "transmission_w", "ventilation_w", "to_rooms_w", "emitter_output_w", "emitter_action")
        wanted += [f"design.rooms.{room['room_id']}.{field}" for field in fields]
    wanted += [
        f"design.noise.{at['where']}.{f}" for at in design["noise"] for f in ("level_dba", "limit_dba", "passes")
    ]
    wanted += [f"labour_plan.tasks.{task['code']}.person_hours" for task in document["labour_plan"]["tasks"]]
    for line in document["bill"]["lines"]:
        fields = ("used", "bought", "charged", "cost_pence", "sell_pence")
        wanted += [f"bill.lines.{line['line_id']}.{field}" for field in fields]
    assert [path for path in wanted if path not in why] == []


@pytest.mark.parametrize("name", NAMES)
def test_rooms_open_into_elements_that_add_up(
    worked_out: dict[str, Estimate], whys: dict[str, dict[str, Any]], name: str
) -> None:
    for room in worked_out[name].design.heat_loss.rooms:
        at = f"design.rooms.{room.room_id}"
        lines = {path: entry for path, entry in whys[name].items() if path.startswith(f"{at}.elements.")}
        assert len(lines) == len(room.elements)
        total_w = 0.0
        for path, entry in lines.items():
            given = numbers(entry)
            # area x (U + bridges) x factor x (room - outdoor), EN 12831-1.
            by_hand_w = (
                given["area_m2"] * (given["u_w_per_m2k"] + given["thermal_bridge_w_per_m2k"])
                * given["temperature_factor_ratio"] * (given["room_temp_c"] - given["design_outdoor_temp_c"])
            )  # fmt: skip
            assert given["loss_w"] == pytest.approx(by_hand_w, abs=1e-6), path
            assert given["area_m2"] == pytest.approx(given["gross_area_m2"] - given["openings_m2"]), path
            assert any(one["what"].startswith("U-value of") for one in entry["inputs"]), path
            total_w += given["loss_w"]
        assert room.transmission_w == pytest.approx(total_w)
        assert sum(numbers(whys[name][f"{at}.transmission_w"]).values()) == pytest.approx(room.transmission_w)
        assert sum(numbers(whys[name][f"{at}.to_rooms_w"]).values()) == pytest.approx(room.to_rooms_w, abs=1e-9)


def test_the_air_of_a_room_by_each_method(households: dict[str, Any], rules: Any) -> None:
    survey = Survey.model_validate(households["thornlea"]["survey"])
    for method in ("room_air_changes", "simplified"):
        its = estimate(survey, Choices(heat_loss_method=method), rules, today=TODAY)
        why = why_document(its)
        for room in its.design.heat_loss.rooms:
            given = numbers(why[f"design.rooms.{room.room_id}.ventilation_w"])
            by_hand_w = (
                given["air_heat_capacity_wh_per_m3k"] * given["air_changes_per_h"] * given["volume_m3"]
                * (1 - given.get("heat_recovery_ratio", 0)) * (given["air_temp_c"] - given["design_outdoor_temp_c"])
            )  # fmt: skip
            assert room.ventilation_w == pytest.approx(by_hand_w)
    its = estimate(survey, Choices(heat_loss_method="standard"), rules, today=TODAY)
    why = why_document(its)
    for room in its.design.heat_loss.rooms:
        given = numbers(why[f"design.rooms.{room.room_id}.ventilation_w"])
        assert given["supply_m3_per_h"] == 0
        # Nothing is supplied in this house: capacity x outdoor air x difference.
        by_hand_w = (
            given["air_heat_capacity_wh_per_m3k"]
            * given["outdoor_air_m3_per_h"]
            * (given["air_temp_c"] - given["design_outdoor_temp_c"])
        )
        assert room.ventilation_w == pytest.approx(by_hand_w)


def test_inputs_say_how_they_are_known(whys: dict[str, dict[str, Any]]) -> None:
    why = whys["thornlea"]
    air = next(one for one in why["design.rooms.G1.ventilation_w"]["inputs"] if one["what"].startswith("air changes"))
    assert air["known"] == "assumed"
    roof = why["design.u_values.extension-roof.u_w_per_m2k"]["inputs"]
    assert [(one["value"], one["unit"], one["known"]) for one in roof] == [(0.35, "W/m2K", "told")]
    glazing = why["design.u_values.extension-glazing.u_w_per_m2k"]["inputs"]
    assert glazing[0]["known"] == "plate"
    wall = why["design.rooms.G1.elements.outer-wall.loss_w"]["inputs"]
    assert {one["what"]: one["known"] for one in wall}["length"] == "measured"


@pytest.mark.parametrize("name", NAMES)
def test_rated_output_times_factor_is_the_output(
    worked_out: dict[str, Estimate], whys: dict[str, dict[str, Any]], name: str
) -> None:
    for room in worked_out[name].design.emitters.rooms:
        at = f"design.rooms.{room.room_id}"
        total_w = 0.0
        for step in room.steps:
            if step.action == "remove":
                continue
            given = numbers(whys[name][f"{at}.emitter_steps.{step.emitter_id or step.wall_space_id}.output_w"])
            excess_k = (given["flow_temp_c"] + given["return_temp_c"]) / 2 - given["room_temp_c"]
            # EN 442-2: rated output at 50 K x (excess / 50)^n.
            by_hand_w = given["output_50k_w"] * (excess_k / 50) ** given["exponent"]
            assert step.output_w == pytest.approx(min(by_hand_w, given.get("floor_limit_w", math.inf)))
            total_w += step.output_w
        assert room.output_w == pytest.approx(total_w)
        before = numbers(whys[name][f"{at}.emitter_output_before_w"])
        parts = [value for key, value in before.items() if key.endswith(".output_w")]
        assert room.output_before_w == pytest.approx(sum(parts))


@pytest.mark.parametrize("name", NAMES)
def test_the_unit_lies_between_its_rating_points(
    worked_out: dict[str, Estimate], whys: dict[str, dict[str, Any]], name: str
) -> None:
    choice = worked_out[name].design.unit
    for path, of_all in (("capacity_w", True), ("input_w", True), ("minimum_output_w", False),
                         ("sound_power_dba", False)):  # fmt: skip
        given = numbers(whys[name][f"design.outdoor_unit.{path}"])
        points = {key.split(": ")[0]: {} for key in given if "°C: " in key}
        for key, value in given.items():
            if "°C: " in key:
                at, what = key.split(": ")
                points[at]["weight" if what == "weight_ratio" else "value"] = value
        weights = {at: point["weight"] for at, point in points.items()}
        assert sum(weights.values()) == pytest.approx(1)
        # The weights put the four points exactly at the design conditions.
        for place, wanted in ((0, "outdoor_temp_c"), (1, "flow_temp_c")):
            middle = sum(float(at.removesuffix(" °C").split("/")[place]) * weight for at, weight in weights.items())
            assert middle == pytest.approx(given[wanted])
        of_one = sum(point["value"] * point["weight"] for point in points.values())
        by_hand = of_one * (choice.count if of_all else 1) * given.get("left_after_defrost_ratio", 1)
        assert getattr(choice, path) == pytest.approx(by_hand)
    cover = numbers(whys[name]["design.outdoor_unit.cover_ratio"])
    assert choice.cover_ratio == pytest.approx(cover["capacity_w"] / cover["heat_loss_w"])


@pytest.mark.parametrize("name", NAMES)
def test_the_water_side_by_hand(worked_out: dict[str, Estimate], whys: dict[str, dict[str, Any]], name: str) -> None:
    pipes, volume, why = worked_out[name].design.primary, worked_out[name].design.volume, whys[name]
    given = numbers(why["design.primary.flow_l_per_s"])
    flow_m3_per_s = given["heat_w"] / (
        given["density_kg_per_m3"] * given["heat_capacity_j_per_kgk"] * given["delta_t_k"]
    )
    assert pipes.flow_l_per_s == pytest.approx(1000 * flow_m3_per_s)
    given = numbers(why["design.primary.velocity_m_per_s"])
    bore_m = given["bore_mm"] / 1000
    assert pipes.velocity_m_per_s == pytest.approx(flow_m3_per_s / (math.pi / 4 * bore_m**2))
    given = numbers(why["design.primary.gradient_pa_per_m"])
    number = given["density_kg_per_m3"] * given["velocity_m_per_s"] * bore_m / given["viscosity_pa_s"]
    assert given["reynolds"] == pytest.approx(number)
    factor = given["friction_factor"]
    if number >= 4000:
        # Colebrook and White, put into itself.
        inside = given["relative_roughness_ratio"] / 3.7 + 2.51 / (number * math.sqrt(factor))
        assert 1 / math.sqrt(factor) == pytest.approx(-2 * math.log10(inside))
    by_hand = factor / bore_m * given["density_kg_per_m3"] * given["velocity_m_per_s"] ** 2 / 2
    assert pipes.gradient_pa_per_m == pytest.approx(by_hand)
    given = numbers(why["design.primary.pressure_drop_pa"])
    by_hand = (given["gradient_pa_per_m"] * given["equivalent_length_above_ground_m"] + given["buried_pa"]
               + given["fixed_loss_pa"])  # fmt: skip
    assert pipes.pressure_drop_pa == pytest.approx(by_hand)
    assert given["buried_pa"] >= -1e-6
    given = numbers(why["design.system_volume.total_l"])
    assert volume.total_l == pytest.approx(sum(value for key, value in given.items() if key != "total_l"))
    given = numbers(why["design.system_volume.vessel_needed_l"])
    taken_l = given["expansion_l"] + given["reserve_l"]
    by_hand = taken_l * (given["final_bar"] + 1) / (given["final_bar"] - given["charge_bar"])
    assert volume.vessel_needed_l == pytest.approx(by_hand)


@pytest.mark.parametrize("name", NAMES)
def test_noise_opens_into_its_terms(
    worked_out: dict[str, Estimate], whys: dict[str, dict[str, Any]], name: str
) -> None:
    design = worked_out[name].design
    here = next(one for one in design.sitings if one.position_id == design.position_id)
    for at in here.noise:
        given = numbers(whys[name][f"design.noise.{at.where}.level_dba"])
        own = given["sound_power_dba"] + given["spread_db"] + given["barrier_db"]
        spread = 10 * math.log10(given["directivity"] / (4 * math.pi * given["distance_m"] ** 2))
        assert given["spread_db"] == pytest.approx(spread)
        levels = [own] + ([given["background_dba"]] if "background_dba" in given else [])
        assert at.level_dba == pytest.approx(10 * math.log10(sum(10 ** (one / 10) for one in levels)))


@pytest.mark.parametrize("name", NAMES)
def test_hot_water_and_the_year_by_hand(
    worked_out: dict[str, Estimate], whys: dict[str, dict[str, Any]], name: str
) -> None:
    store, energy, why = worked_out[name].design.hot_water, worked_out[name].design.performance, whys[name]
    given = numbers(why["design.hot_water.draw_l_per_day"])
    assert store.draw_l_per_day == pytest.approx(given["people"] * given["per_person_l_per_day"] * given["use_ratio"])
    given = numbers(why["design.hot_water.store_needed_l"])
    assert store.store_needed_l == pytest.approx(
        given["draw_l_per_day"] * (given["draw_temp_c"] - given["cold_temp_c"])
        / (given["store_temp_c"] - given["cold_temp_c"]) * given["peak_share_ratio"] / given["usable_ratio"]
    )  # fmt: skip
    given = numbers(why["design.hot_water.reheat_minutes"])
    lifted_k = given["store_temp_c"] - given["cold_temp_c"]
    assert store.reheat_minutes == pytest.approx(given["volume_l"] * lifted_k / (14.3 * given["reheat_power_w"] / 1000))
    given = numbers(why["design.performance.space_heat_kwh"])
    assert energy.space_heat_kwh == pytest.approx(
        given["loss_coefficient_w_per_k"] * given["degree_days_kd"] * 24 / 1000
    )
    assert energy.hot_water_kwh == pytest.approx(sum(numbers(why["design.performance.hot_water_kwh"]).values()))
    given = numbers(why["design.performance.seasonal_ratio"])
    assert energy.seasonal_ratio == pytest.approx(
        (given["space_heat_kwh"] + given["hot_water_kwh"]) / given["electricity_kwh"]
    )


@pytest.mark.parametrize("name", NAMES)
def test_the_hours_of_every_task_by_hand(
    worked_out: dict[str, Estimate], whys: dict[str, dict[str, Any]], name: str
) -> None:
    for task in worked_out[name].plan.tasks:
        given = whys[name][f"labour_plan.tasks.{task.code}.person_hours"]["numbers"]
        hours = given[0]["value"]
        for quantity, amount, per in zip(given, given[1:], given[2:], strict=False):
            if amount["name"].endswith(": amount_h"):
                assert amount["name"] == f"{quantity['name']}: amount_h"
                hours += quantity["value"] * amount["value"] / per["value"]
        for number in given:
            if number["name"].endswith(": factor"):
                hours *= number["value"]
        assert task.person_hours == hours.quantize(Decimal("0.000001"), ROUND_HALF_UP), task.code
    total = numbers(whys[name]["labour_plan.person_hours"])
    assert sum(total.values()) == worked_out[name].plan.person_hours


@pytest.mark.parametrize("name", NAMES)
def test_lines_and_price_by_hand(worked_out: dict[str, Estimate], whys: dict[str, dict[str, Any]], name: str) -> None:
    its, why = worked_out[name], whys[name]
    whole = Decimal(1)
    for line in its.bill.lines:
        entry = why[f"bill.lines.{line.line_id}.sell_pence"]
        given = numbers(entry)
        by_hand = (given["charged"] * given["unit_sell_gbp"] * 100).quantize(whole, ROUND_HALF_UP)
        assert line.sell_pence == by_hand
        cost = {number["name"]: number["value"] for number in entry["cost_why"]["numbers"]}
        sell = (cost["cost_unit_gbp"] / (1 - cost["margin_ratio"])).quantize(Decimal("0.0001"), ROUND_HALF_UP)
        assert line.unit_sell_gbp == sell
        assert why[f"bill.lines.{line.line_id}.charged"]["sentence"] == line.why
    price = its.price
    net = numbers(why["price.net_pence"])
    assert price.net_pence == sum(value for key, value in net.items() if key != "net_pence")
    vat = numbers(why["price.vat_pence"])
    assert price.vat_pence == sum(value for key, value in vat.items() if key != "vat_pence")
    pays = numbers(why["price.customer_pays_pence"])
    assert price.customer_pays_pence == pays["total_pence"] - pays["grant_pence"]


def test_it_is_built_on_request_only(worked_out: dict[str, Estimate]) -> None:
    assert "why" not in estimate_document(worked_out["weir_cottages"])
    assert "why" in estimate_document(worked_out["weir_cottages"], why=True)


def test_a_house_that_is_stopped_still_says_why(whys: dict[str, dict[str, Any]]) -> None:
    assert "design.heat_loss_w" in whys["smallest"]
    assert not any(path.startswith(("price.", "bill.")) for path in whys["smallest"])


def _keys(node: Any) -> set[str]:
    if isinstance(node, dict):
        return set(node) | {key for value in node.values() for key in _keys(value)}
    return {key for value in node for key in _keys(value)} if isinstance(node, list) else set()


@pytest.mark.parametrize("name", NAMES)
def test_without_the_right_no_cost_of_a_line_stands_anywhere(worked_out: dict[str, Estimate], name: str) -> None:
    its = worked_out[name]
    shown = without_cost(estimate_document(its, why=True))
    assert not {key for key in _keys(shown) if key.rpartition(".")[2] in COST_KEYS}
    there = set(re.findall(r"\d+(?:\.\d+)?", json.dumps(shown, ensure_ascii=False).replace(",", "")))
    lines = (*its.bill.lines, *its.price.parts)
    sold = {f"{line.unit_sell_gbp:f}" for line in lines} | {str(line.sell_pence) for line in lines}
    for line in lines:
        # What is passed on at cost, and a credit, has one figure for both: there is nothing to hide.
        if line.cost_unit_gbp == line.unit_sell_gbp:
            continue
        # All four places of the unit price; amounts under £100 are numbers that stand for much else as well.
        wanted = {f"{line.cost_unit_gbp:f}"} | ({str(line.cost_pence)} if line.cost_pence >= 100_00 else set())
        assert not (wanted - sold) & there, line.description
    for value in (its.price.cost_pence, its.price.margin_pence, its.bill.cost_pence):
        assert str(value) not in there


@pytest.mark.parametrize("name", NAMES)
def test_without_the_right_other_costs_give_the_same_document(worked_out: dict[str, Estimate], name: str) -> None:
    """Nothing of cost flows into what is shown: with every cost changed, not a letter of it changes."""
    its = worked_out[name]

    def dearer(line: Any) -> dict[str, Any]:
        return {"cost_unit_gbp": line.cost_unit_gbp * 3 + 1, "cost_pence": line.cost_pence * 3 + 100}

    design = its.design
    candidates = tuple(
        replace(one, purchase_pence=one.purchase_pence + 7777, whole_cost_pence=(one.whole_cost_pence or 0) + 7777)
        for one in design.flow.candidates
    )
    rooms = tuple(replace(room, cost_pence=room.cost_pence + 7777) for room in design.emitters.rooms)
    other = replace(
        its,
        design=replace(
            design, flow=replace(design.flow, candidates=candidates), emitters=replace(design.emitters, rooms=rooms)
        ),
        bill=replace(its.bill, lines=tuple(line._replace(**dearer(line)) for line in its.bill.lines), cost_pence=1),
        price=replace(
            its.price,
            parts=tuple(replace(part, cost_why="dear", **dearer(part)) for part in its.price.parts),
            goods_cost_pence=1,
            cost_pence=2,
            margin_pence=3,
        ),
    )
    before, after = estimate_document(its, why=True), estimate_document(other, why=True)
    assert before != after
    assert without_cost(before) == without_cost(after)


def test_units_come_from_the_name() -> None:
    assert unit_of("heat_loss_w") == "W"
    assert unit_of("22 mm: gradient_pa_per_m") == "Pa/m"
    assert unit_of("u_w_per_m2k") == "W/m2K"
    assert unit_of("count") == ""


@pytest.mark.parametrize("name", NAMES)
def test_the_supply_opens_down_to_the_loads(whys: dict[str, dict[str, Any]], name: str) -> None:
    why = {path.removeprefix("design.electrical."): entry for path, entry in whys[name].items()
           if path.startswith("design.electrical.")}  # fmt: skip
    after = numbers(why["demand_after_a"])
    assert sum(value for field, value in after.items() if field != "demand_after_a") == pytest.approx(
        after["demand_after_a"]
    )
    assert numbers(why["immersion_current_a"])["immersion_w"] / 230 == pytest.approx(after["immersion_current_a"])
    drop = numbers(why["voltage_drop_ratio"])
    # mV/(A m) x A x m / 1000 / V
    by_hand = drop["drop_mv_per_a_m"] * drop["maximum_current_a"] * drop["cable_route_m"] / 1000 / 230
    assert drop["voltage_drop_ratio"] == pytest.approx(by_hand) and by_hand <= drop["voltage_drop_limit_ratio"]
    cable = numbers(why["cable.size_mm2"])
    assert cable[f"{cable['size_mm2']:g} mm2: capacity_a"] >= cable["breaker_a"]
    assert cable["breaker_a"] >= numbers(why["breaker_a"])["maximum_current_a"]
    for path in ("demand_after_a", "breaker_a", "cable.size_mm2", "voltage_drop_ratio", "network", "extension_board",
                 "bonding_needed"):  # fmt: skip
        assert why[path]["inputs"], path
    if name == "weir_cottages":
        # 2 x 0.15 kW / 230 V x 66 %; 32 A of sockets; 1.5 kW / 230 V of a heater that goes
        before = numbers(why["demand_before_a"])
        by_kind = {
            "lighting": 300 / 230 * 0.66, "sockets": 32, "fixed_heating": 1500 / 230,
        }  # fmt: skip
        for kind, counted_a in by_kind.items():
            assert before[f"loads.{kind}.counted_before_a"] == pytest.approx(counted_a)
            assert numbers(why[f"loads.{kind}.counted_before_a"])["counted_before_a"] == pytest.approx(counted_a)
        assert before["demand_before_a"] == pytest.approx(sum(by_kind.values()))
        assert after["loads.fixed_heating.counted_after_a"] == 0
        assert [one["known"] for one in why["loads.fixed_heating.counted_before_a"]["inputs"]] == ["plate"]
    else:
        assert why["demand_before_a"]["inputs"][0]["known"] == "measured"
