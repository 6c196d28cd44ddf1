"""What an engineer asks of the water side, the place and the supply of a whole estimate."""

import copy
import math
from datetime import date
from typing import Any

import ht
import pytest

from models.document import estimate_document
from models.estimate import Choices, Estimate, estimate
from models.physics.conduction import buried_pipe_loss_w_per_m
from models.survey import Survey

TODAY = date(2026, 11, 25)


@pytest.fixture
def work(rules: Any, households: dict[str, Any]) -> Any:
    def run(name: str, part: Any = None, choices: dict[str, Any] | None = None, **values: Any) -> Estimate:
        survey = copy.deepcopy(households[name]["survey"])
        if part is not None:
            (survey["positions"][part] if isinstance(part, int) else survey[part]).update(values)
        return estimate(Survey.model_validate(survey), Choices(**(choices or {})), rules, today=TODAY)

    return run


def codes(result: Estimate) -> set[str]:
    return {finding.code for finding in result.findings}


def test_a_cutout_that_is_too_small_is_applied_for_however_small_the_demand(work: Any) -> None:
    result = work("alder_row", "supply", demand_before_a=20, cutout_a=40)
    # 20 A of today, 19.5 A of the unit and 13 A of the immersion heater: less than 60 A and more than 40 A
    supply = result.design.electrical
    assert 40 < supply.demand_after_a < 60
    assert supply.network == "apply"
    assert {"cutout_too_small", "network_apply"} <= codes(result)


@pytest.mark.oracle(
    question="conduction", source="ht, S_isothermal_pipe_to_plane and R_cylinder", standing="second computation",
    tolerance="1e-9: the same equations",
)  # fmt: skip
@pytest.mark.parametrize("depth_m", [0.3, 0.6, 1.2])
@pytest.mark.parametrize(("od_mm", "insulation_mm"), [(32, 20), (32, 35), (40, 40)])
def test_a_buried_pipe_loses_through_its_insulation_and_the_earth(
    depth_m: float, od_mm: int, insulation_mm: float
) -> None:
    outer_m = (od_mm + 2 * insulation_mm) / 1000
    earth = 1 / (1.5 * ht.conduction.S_isothermal_pipe_to_plane(D=outer_m, Z=depth_m, L=1))
    skin = ht.conduction.R_cylinder(Di=od_mm / 1000, Do=outer_m, k=0.04, L=1)
    found = buried_pipe_loss_w_per_m(
        od_mm=od_mm, insulation_mm=insulation_mm, insulation_conductivity_w_per_mk=0.04, depth_m=depth_m,
        ground_conductivity_w_per_mk=1.5, fluid_temp_c=45, surface_temp_c=-3,
    )  # fmt: skip
    assert found == pytest.approx(48 / (earth + skin), rel=1e-9)


@pytest.mark.oracle(
    question="primary_pipework", source="EN ISO 12241, underground pipes, by hand", standing="second computation",
    tolerance="1e-6: the same arithmetic", through_estimate=True,
)  # fmt: skip
def test_the_buried_part_of_the_route_loses_heat_all_year(work: Any) -> None:
    flow = {"position_id": "patio", "flow_temp_c": 50}
    before = work("alder_row", 0, flow).design
    after = work("alder_row", 0, flow, route_buried_m=2).design
    # 32 mm in 36 mm of foam of 0.028 W/mK, 0.6 m deep in earth of 1.5 W/mK; water of 47.5 °C in the mean
    outer_m = 0.104
    resistance = math.log(outer_m / 0.032) / (2 * math.pi * 0.028) + math.acosh(2 * 0.6 / outer_m) / (2 * math.pi * 1.5)
    each_w = (47.5 - after.climate.design_outdoor_temp_c) / resistance
    assert after.primary.od_mm == before.primary.od_mm
    more_w = after.primary.heat_lost_outside_w - before.primary.heat_lost_outside_w
    assert more_w == pytest.approx(2 * 2 * each_w, rel=1e-6)
    assert after.performance.pipe_loss_kwh > before.performance.pipe_loss_kwh


def test_the_index_circuit_names_its_room_and_carries_one_emitter(work: Any) -> None:
    design = work("thornlea").design
    # An emitter carries its share of what its room needs: its valve holds it to that.
    steps = [
        (step.output_w * min(1, room.needed_w / room.output_w), room.name)
        for room in design.emitters.rooms for step in room.steps
    ]  # fmt: skip
    largest_w, name = max(steps)
    assert name in design.primary.index_circuit
    assert f"{largest_w:.0f} W" in design.primary.index_circuit


def test_positions_are_ranked_with_reasons(work: Any) -> None:
    result = work("thornlea")
    ranking = estimate_document(result)["design"]["position_ranking"]
    assert sorted(one["position_id"] for one in ranking) == sorted(one.id for one in result.survey.positions)
    assert [one["rank"] for one in ranking] == list(range(1, len(ranking) + 1))
    assert ranking[0]["position_id"] == result.design.position_id
    order = [(one["stops"], one["asks"], one["route_m"]) for one in ranking]
    assert order == sorted(order)
    assert all("route" in one["reason"] for one in ranking)


def test_ground_and_route_count_when_positions_are_ranked(work: Any) -> None:
    # common practice, no source: a place whose soakaway cannot drain is no place, however short its pipes
    def at(**values: Any) -> dict[str, Any]:
        return copy.deepcopy(base) | values

    base = work("alder_row").survey.positions[0].model_dump(mode="json") | {
        "condensate_to": "soakaway", "water_table": "low", "percolation": "passes", "ground": "loam",
    }  # fmt: skip
    wet = at(id="wet", name="wet corner", water_table="high", route_inside_m=0.5)
    far = at(id="far", name="far end", route_outside_m=14.6 - base["route_inside_m"] - base["route_buried_m"] + 1)
    good = at(id="good", name="good place", route_outside_m=5)
    survey = work("alder_row").survey.model_dump(mode="json") | {"positions": [wet, far, good]}
    result = estimate(Survey.model_validate(survey), Choices(), work("alder_row").rules, today=TODAY)
    ranking = {one["position_id"]: one for one in estimate_document(result)["design"]["position_ranking"]}
    assert list(ranking) == ["good", "far", "wet"]
    assert ranking["far"]["asks"] == ranking["good"]["asks"] + 1  # 15.6 m is over 15 m
    assert any("water table" in said for said in ranking["wet"]["stopped_by"])
    assert ranking["wet"]["route_m"] < ranking["good"]["route_m"]


def test_the_network_operators_sheet(work: Any) -> None:
    result = work("alder_row", "supply", cutout_a="unknown")
    sheet = {line["what"]: line for line in estimate_document(result)["network_sheet"]}
    assert sheet["rating of the cut-out"] == {
        "what": "rating of the cut-out", "value": "unknown", "unit": "A", "known": "assumed"
    }  # fmt: skip
    unit = result.design.unit.unit
    assert sheet["greatest current of each heat pump"]["value"] == unit.maximum_current_a
    # 38 A of today, 19.5 A of the unit, 3000 W / 230 V of immersion heater
    demand_a = 38 + 19.5 + 3000 / 230
    assert sheet["greatest demand with the heat pumps"]["value"] == pytest.approx(demand_a)
    assert sheet["the same on one phase"]["value"] == pytest.approx(demand_a * 0.23)
    assert sheet["apply before, or notify after"]["value"] == "apply"
    assert sheet["greatest input of each heat pump"]["value"] == pytest.approx(19.5 * 0.23)
    assert sheet["charge points for vehicles"]["value"] == "unknown", "nobody listed the loads"
    assert {"meter point number", "harmonics and flicker: the maker's declaration to EN 61000-3"} <= set(sheet)
    nowhere = work("weir_cottages")
    without = copy.deepcopy(nowhere.survey.model_dump(mode="json")) | {"positions": []}
    none = estimate(Survey.model_validate(without), Choices(), nowhere.rules, today=TODAY)
    assert estimate_document(none)["network_sheet"] is None


LOADS = [
    {"kind": "lighting", "count": 2, "breaker_a": 6}, {"kind": "sockets", "breaker_a": 32},
    {"kind": "cooker", "name": "range in the kitchen", "rated_kw": 7.36}, {"kind": "ev_charger", "breaker_a": 32},
]  # fmt: skip


def test_the_sheet_names_the_loads_it_was_summed_from(work: Any) -> None:
    result = work("alder_row", "supply", demand_before_a="unknown", loads=LOADS)
    document = estimate_document(result)
    sheet = {line["what"]: line for line in document["network_sheet"]}
    # 66 % of 12 + 32 + 10 + 30 % of 22 + 32
    before = sheet["greatest demand of today, after diversity"]
    assert before["value"] == pytest.approx(7.92 + 32 + 16.6 + 32) and before["known"] == "from_loads"
    assert sheet["charge points for vehicles"]["value"] == 1
    assert sheet["they limit themselves before the cut-out is overloaded"]["value"] == "no"
    cooker = next(row for row in document["network_loads"] if row["what"] == "cooker")
    assert cooker["names"] == ["range in the kitchen"] and cooker["allowance"] == "10 A whole, 30 % beyond, " + (
        "5 A for a socket outlet in its control unit"
    )
    assert sum(row["counted_before_a"] for row in document["network_loads"]) == pytest.approx(before["value"])
    assert not any(place.startswith("supply: demand") for place in document["basis"]["assumed"])


@pytest.mark.parametrize(
    ("place", "field", "value"),
    [
        (0, "kind", "sockets"), (0, "count", 3), (0, "breaker_a", 10), (2, "rated_kw", 9.2), (2, "goes", True),
        (2, "control_socket", True), (2, "name", "another"), (3, "limited", True),
    ],
)  # fmt: skip
def test_every_word_about_a_load_matters(work: Any, place: int, field: str, value: Any) -> None:
    def said(loads: list[dict[str, Any]]) -> Any:
        document = estimate_document(work("alder_row", "supply", demand_before_a="unknown", loads=loads))
        return {key: document[key] for key in ("design", "network_sheet", "network_loads", "findings")}

    changed = [load | ({field: value} if index == place else {}) for index, load in enumerate(LOADS)]
    assert said(changed) != said(LOADS)


def test_two_units_need_room_beside_each_other(work: Any, rules: Any) -> None:
    from models.design.siting import siting

    result = work("alder_row")
    position, unit = result.survey.positions[0], result.design.unit.unit
    between_mm = max(unit.clear_left_mm, unit.clear_right_mm)

    def said(count: int, spare_mm: int) -> set[str]:
        place = position.model_copy(
            update={"clear_left_mm": unit.clear_left_mm, "clear_right_mm": unit.clear_right_mm + spare_mm}
        )
        judged = siting(
            position=place, unit=unit, count=count, house=result.survey.house, noise=(), noise_findings=(), zone=(),
            zone_findings=(), on=TODAY, place_reference=rules.place,
        )  # fmt: skip
        return {finding.code for finding in judged.findings}

    assert "units_do_not_fit" not in said(1, 0)
    assert "units_do_not_fit" in said(2, unit.width_mm + between_mm - 1)
    assert "units_do_not_fit" not in said(2, unit.width_mm + between_mm)
    assert "measured_from_one_unit" in said(2, unit.width_mm + between_mm)
