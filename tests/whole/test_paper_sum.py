"""The heat loss of the demo households against a steady-state sum as one would do it on paper.

The second route reads the JSON alone: its own U-values (EN ISO 6946, EN ISO 13370, the re-keyed table rows), areas by
subtraction, sum of U A dT, 0.34 W h/m3K of air (BS EN 12831-1:2017). It shares no code with the engine.
"""

import math
from datetime import date
from typing import Any

import pytest

from models.estimate import Choices, estimate
from models.survey import Survey

TABLE_U = {
    "party wall: unfilled cavity": 0.5, "party wall: filled cavity": 0.2, "roof: pitched; 150 mm at joists": 0.30,
    "roof: pitched; 100 mm at joists": 0.40, "roof: pitched; 200 mm at joists": 0.21,
    "window: double glazed 2002 or later (England and Wales)": 2.0,
    "window: double glazed before 2002; 16 mm gap PVC": 2.6, "window: single glazed": 4.8,
    "door: solid outside door age bands A to J": 3.0, "door: outside door age band K": 2.0,
}  # fmt: skip
"""RdSAP 2012 Tables S8b, S9, S14, S15a, re-keyed by hand."""
WALL_U = {("solid_brick", "C"): 1.7, ("solid_brick", "D"): 1.7, ("filled_cavity", "J"): 0.35}
"""RdSAP 10 Table 6, from memory."""
ROOM_TEMP_C = {
    "living": 21, "dining": 21, "study": 21, "bedroom": 18, "hall": 18, "landing": 18, "kitchen": 18, "toilet": 18,
    "utility": 18, "bathroom": 22, "shower_room": 22,
}  # fmt: skip
"""UK national annex to BS EN 12831:2003, from memory."""
STATION = {"Birmingham": (-3.4, 96), "Manchester": (-2.2, 75), "Cardiff": (-1.6, 67)}
ANNUAL_MEAN_C = {6: 10.0463, 7: 10.1945, 13: 9.8592}
"""SAP Appendix U Table U1, day-weighted mean of the year."""


def paper_u(construction: dict[str, Any], house: dict[str, Any]) -> float:
    by = construction["by"]
    if by == "u_value":
        return construction["u_w_per_m2k"]
    if by == "table":
        if construction["table"] == "element":
            return TABLE_U[construction["row"]]
        return WALL_U[construction["row"], house["age_band"]]
    if by == "layers":
        inside = {"horizontal": 0.13, "up": 0.10, "down": 0.17}[construction.get("heat_flow", "horizontal")]
        outside = inside if construction.get("outside_surface") == "inside_air" else 0.04
        return 2 / (_upper(construction, inside + outside) + _lower(construction, inside + outside))
    area, perimeter, wall = house["slab_area_m2"], house["exposed_perimeter_m"], house["slab_wall_thickness_mm"] / 1000
    ground = house["ground_conductivity_w_per_mk"]
    b = area / (0.5 * perimeter)
    if by == "ground_slab":
        d = wall + ground * (0.17 + construction["insulation_m2k_per_w"] + 0.04)
        if d < b:
            return 2 * ground / (math.pi * b + d) * math.log(math.pi * b / d + 1)
        return ground / (0.457 * b + d)
    dg = wall + ground * 0.21
    ug = 2 * ground / (math.pi * b + dg) * math.log(math.pi * b / dg + 1)
    ux = (
        2 * construction["floor_above_ground_m"] * construction["void_wall_u_w_per_m2k"] / b
        + 1450 * construction["vent_area_m2_per_m"] * construction["wind_speed_m_per_s"]
        * construction["wind_shielding_ratio"] / b
    )  # fmt: skip
    return 1 / (2 * 0.17 + construction["insulation_m2k_per_w"] + 1 / (ug + ux))


def _r(path: dict[str, Any]) -> float:
    if "resistance_m2k_per_w" in path:
        return path["resistance_m2k_per_w"]
    return path["thickness_mm"] / 1000 / path["conductivity_w_per_mk"]


def _upper(construction: dict[str, Any], surfaces: float) -> float:
    sections = [(1.0, surfaces)]
    for layer in construction["layers"]:
        sections = [
            (share * path.get("share_ratio", 1), r + _r(path)) for share, r in sections for path in layer["paths"]
        ]
    return 1 / sum(share / r for share, r in sections)


def _lower(construction: dict[str, Any], surfaces: float) -> float:
    return surfaces + sum(
        1 / sum(path.get("share_ratio", 1) / _r(path) for path in layer["paths"]) for layer in construction["layers"]
    )


def paper_loss_w(survey: dict[str, Any]) -> tuple[float, dict[str, float]]:
    """House loss and the loss of each room with what it gives to other rooms, watts."""
    house = survey["house"]
    station_temp, station_altitude = STATION[house["weather_station"]]
    outside = station_temp - 0.6 * (house["altitude_m"] - station_altitude) / 100
    annual = ANNUAL_MEAN_C[house["climate_region"]]
    constructions = {c["id"]: c for c in survey["constructions"]}
    temps = {r["id"]: r.get("wanted_temp_c", ROOM_TEMP_C[r["use"]]) for r in survey["rooms"]}
    own, between = dict.fromkeys(temps, 0.0), dict.fromkeys(temps, 0.0)
    for room in survey["rooms"]:
        inside = temps[room["id"]]
        volume = room["length_m"] * room["width_m"] * room["height_m"]
        own[room["id"]] += 0.34 * room["air_changes_per_h"] * volume * (inside - outside)
        gross = {e["id"]: e["length_m"] * e["height_m"] * e.get("count", 1) for e in room["elements"]}
        for e in room["elements"]:
            area = gross[e["id"]] - sum(gross[o["id"]] for o in room["elements"] if o.get("within") == e["id"])
            construction = constructions[e["construction"]]
            u = paper_u(construction, house)
            if e["faces"] == "room":
                flow = u * area * (inside - temps[e["beside_room"]])
                between[room["id"]] += flow
                between[e["beside_room"]] -= flow
            elif e["faces"] == "ground" and construction["by"] == "ground_slab":
                own[room["id"]] += 1.45 * u * area * (inside - annual)
            elif e["faces"] == "ground":
                own[room["id"]] += u * area * (inside - outside)
            elif e["faces"] == "outside":
                own[room["id"]] += (u + 0.10) * area * (inside - outside)
    return sum(own.values()), {room: own[room] + between[room] for room in own}


@pytest.mark.parametrize("name", ["alder_row", "thornlea", "weir_cottages"])
@pytest.mark.oracle(
    question="heat_loss",
    source="steady-state sum on paper: EN ISO 6946, EN ISO 13370, RdSAP tables, BS EN 12831-1:2017",
    standing="second computation",
    tolerance="0.1 %: both routes are exact; the annual mean is printed with four decimals",
    through_estimate=True,
)
def test_engine_agrees_with_the_sum_on_paper(name: str, rules: Any, households: dict[str, Any]) -> None:
    record = households[name]["survey"]
    result = estimate(Survey.model_validate(record), Choices(), rules, today=date(2026, 11, 25))
    house_w, rooms_w = paper_loss_w(record)
    assert result.design.heat_loss.heat_loss_w == pytest.approx(house_w, rel=1e-3)
    for room in result.design.heat_loss.rooms:
        assert room.heat_loss_w == pytest.approx(rooms_w[room.room_id], rel=1e-3, abs=0.5), room.name
