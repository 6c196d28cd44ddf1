"""Floors on and over the ground: EN ISO 13370, its RdSAP form, Approved Document L Table C1, EN 12831-1 Annex E."""

import csv
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from models.design.ground import ground_floors
from models.estimate import Choices, estimate
from models.physics.conduction import equivalent_ground_u_w_per_m2k, floor_over_void, slab_on_ground
from models.reference import load
from models.survey import GroundSlab, House, Survey, SuspendedFloor

TABLE_C1 = Path(__file__).parent / "data/iso13370_solid_floor_table_C1.csv"
SLAB = {
    "question": "ground",
    "source": "EN ISO 13370 7.1 / 8.1",
    "standing": "second computation",
    "tolerance": "0.0001: the case prints four decimals",
}


def house(area_m2: float, perimeter_m: float) -> House:
    return House(
        nation="england",
        place="Nether Fallow",
        altitude_m=96,
        weather_station="Birmingham",
        climate_region=6,
        dwelling_type="detached",
        age_band="D",
        storeys=2,
        bedrooms=3,
        occupants=4,
        slab_area_m2=area_m2,
        exposed_perimeter_m=perimeter_m,
        slab_wall_thickness_mm=300,
        ground_conductivity_w_per_mk=1.5,
    )


@pytest.mark.parametrize(
    "case", [pytest.param(case, marks=pytest.mark.oracle(**SLAB, case=case)) for case in ("GF-1", "GF-4")]
)
def test_slab(cases: Any, case: str) -> None:
    given, expected = cases[case]["inputs"], cases[case]["expected"]
    result = slab_on_ground(
        area_m2=given["A"],
        exposed_perimeter_m=given["P"],
        wall_thickness_m=given["w"],
        insulation_m2k_per_w=given["Rf"],
        ground_conductivity_w_per_mk=given["lam"],
        inside_surface_m2k_per_w=given["Rsi"],
        outside_surface_m2k_per_w=given["Rse"],
    )
    assert result.characteristic_m == pytest.approx(expected["B_prime"], abs=1e-4)
    assert result.equivalent_thickness_m == pytest.approx(expected["d_t"], abs=1e-4)
    assert result.u_w_per_m2k == pytest.approx(expected["U"], abs=1e-4)
    assert result.deep == (expected["branch"] != "dt<B' log")
    floor = GroundSlab(by="ground_slab", id="g", name="floor", insulation_m2k_per_w=given["Rf"])
    found = ground_floors(constructions=[floor], house=house(given["A"], given["P"]), reference=load())["g"]
    assert found.u_w_per_m2k == pytest.approx(expected["U"], abs=1e-4)


@pytest.mark.oracle(
    question="ground",
    source="RdSAP S5.5 / RdSAP 10 5.12, inputs or formula from memory",
    standing="second computation",
    tolerance="0.0001: the case prints four decimals",
    case="GF-S1",
)
def test_suspended_floor(cases: Any) -> None:
    given, expected = cases["GF-S1"]["inputs"], cases["GF-S1"]["expected"]
    result = floor_over_void(
        area_m2=given["A"],
        exposed_perimeter_m=given["P"],
        wall_thickness_m=given["w"],
        insulation_m2k_per_w=given["Rf"],
        floor_above_ground_m=given["h"],
        vent_area_m2_per_m=given["eps"],
        void_wall_u_w_per_m2k=given["Uw"],
        wind_speed_m_per_s=given["v"],
        wind_shielding_ratio=given["fw"],
        ground_conductivity_w_per_mk=given["lam"],
        inside_surface_m2k_per_w=given["Rsi"],
        outside_surface_m2k_per_w=given["Rse"],
    )
    assert result.characteristic_m == pytest.approx(expected["B"], abs=1e-4)
    assert result.equivalent_thickness_m == pytest.approx(expected["dg"], abs=1e-4)
    assert result.ground_u_w_per_m2k == pytest.approx(expected["Ug"], abs=1e-4)
    assert result.void_u_w_per_m2k == pytest.approx(expected["Ux"], abs=1e-4)
    assert result.u_w_per_m2k == pytest.approx(expected["U"], abs=1e-4)
    # the survey's defaults are those of the case
    floor = SuspendedFloor(by="suspended_floor", id="s", name="floor")
    found = ground_floors(constructions=[floor], house=house(given["A"], given["P"]), reference=load())["s"]
    assert found.u_w_per_m2k == pytest.approx(expected["U"], abs=1e-4)


@pytest.mark.oracle(
    question="ground",
    source="BS EN 12831-1:2017 Annex E, function E.1",
    standing="published",
    tolerance="0.0001 W/m2K: the case prints four decimals",
    case="GF-E1",
)
@pytest.mark.parametrize("number", range(4))
def test_equivalent_u(cases: Any, number: int) -> None:
    given, expected = cases["GF-E1"]["inputs"], cases["GF-E1"]["expected"]
    result = equivalent_ground_u_w_per_m2k(
        constants=load().heat_loss.ground_equivalent["floor"],
        characteristic_m=given["B"][number],
        depth_m=given["z"],
        u_w_per_m2k=given["U_plus_dU"][number],
    )
    assert result == pytest.approx(expected["U_equiv"][number], abs=1e-4)


def _cells(kind: str) -> list[tuple[float, float, float]]:
    """Perimeter over area, insulation, U of every filled cell of the published or the computed columns."""
    with TABLE_C1.open() as file:
        return [
            (float(row["P_over_A"]), float(heading.split("_R")[1]), float(cell))
            for row in csv.DictReader(file)
            for heading, cell in row.items()
            if heading.startswith(f"{kind}_") and cell
        ]


def _u_of_table(perimeter_over_area: float, insulation_m2k_per_w: float) -> float:
    floor = GroundSlab(by="ground_slab", id="g", name="floor", insulation_m2k_per_w=insulation_m2k_per_w)
    of_100_m2 = house(100, 100 * perimeter_over_area)
    return ground_floors(constructions=[floor], house=of_100_m2, reference=load())["g"].u_w_per_m2k


def test_all_sixty_published_cells_are_read() -> None:
    assert len(_cells("published")) == 60


@pytest.mark.oracle(
    question="ground",
    source="Approved Document L1 2002, Appendix C, Table C1 (EN ISO 13370)",
    standing="published",
    tolerance="0.005 W/m2K: half a unit of the last printed digit",
)
@pytest.mark.parametrize(("perimeter_over_area", "insulation_m2k_per_w", "u"), _cells("published"))
def test_published_table(perimeter_over_area: float, insulation_m2k_per_w: float, u: float) -> None:
    assert _u_of_table(perimeter_over_area, insulation_m2k_per_w) == pytest.approx(u, abs=0.005 + 1e-9)


@pytest.mark.oracle(
    question="ground",
    source="EN ISO 13370, worked out apart from this project",
    standing="second computation",
    tolerance="0.00005 W/m2K: half a unit of the last printed digit",
)
def test_computed_table() -> None:
    for perimeter_over_area, insulation_m2k_per_w, u in _cells("computed"):
        assert _u_of_table(perimeter_over_area, insulation_m2k_per_w) == pytest.approx(u, abs=5.1e-5)


@pytest.mark.parametrize(
    "case",
    [
        pytest.param(case, marks=pytest.mark.oracle(**SLAB, case=case, through_estimate=True))
        for case in ("GF-1", "GF-4")
    ],
)
def test_slab_through_the_estimate(cases: Any, case: str, rules: Any, households: Any) -> None:
    given, expected = cases[case]["inputs"], cases[case]["expected"]
    record = households["smallest"]["survey"]
    house_there = record["house"] | {
        "slab_area_m2": given["A"],
        "exposed_perimeter_m": given["P"],
        "slab_wall_thickness_mm": int(given["w"] * 1000),
        "ground_conductivity_w_per_mk": given["lam"],
    }
    slab = {"by": "ground_slab", "id": "slab", "name": "floor", "insulation_m2k_per_w": given["Rf"]}
    floor = {"id": "floor", "kind": "floor", "faces": "ground", "construction": "slab", "area_m2": 20}
    room = record["rooms"][0]
    survey = Survey.model_validate(
        record
        | {
            "house": house_there,
            "constructions": [*record["constructions"], slab],
            "rooms": [room | {"elements": [*room["elements"], floor]}],
        }
    )
    design = estimate(survey, Choices(), rules, today=date(2026, 11, 25)).design
    assert design.u_values["slab"].u_w_per_m2k == pytest.approx(expected["U"], abs=1e-4)
    loss = design.heat_loss.rooms[0].elements[-1]
    # 20 m2 x U x 1.45 x (21 °C - mean of the year)
    over_mean_k = 21 - design.climate.annual_mean_temp_c
    assert loss.loss_w == pytest.approx(20 * expected["U"] * 1.45 * over_mean_k, abs=20 * 1e-4 * 1.45 * over_mean_k)
