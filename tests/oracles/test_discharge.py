"""Approved Document G3 Table 3.1: every row at its limit, and the cases."""

import csv
from pathlib import Path
from typing import Any

import pytest

from models.design.discharge import discharge
from models.reference.load import load
from models.survey import CylinderPlace

SOURCE = "Approved Document G (2015 ed. with 2016 amendments) G3, Table 3.1"
ROWS = list(csv.DictReader((Path(__file__).parent / "data/discharge_pipe_G3_table_3_1.csv").read_text().splitlines()))


def place(run_m: float, bends: int) -> CylinderPlace:
    return CylinderPlace(
        name="cupboard", width_mm=900, depth_mm=900, height_mm=2300, door_width_mm=700, floor="solid",
        discharge_run_m=run_m, discharge_bends=bends, discharge_falls="yes", discharge_to="gully",
    )  # fmt: skip


@pytest.mark.oracle(question="discharge", source=SOURCE, standing="published", tolerance="exact")
@pytest.mark.parametrize("case", ["G3-011", "G3-012", "G3-015", "G3-016"])
def test_worked_examples(cases: dict[str, Any], case: str) -> None:
    given, expected = cases[case]["inputs"], cases[case]["expected"]
    found = discharge(place=place(given["length_m"], given["elbows"]), outlet=given["valve"], reference=load())
    tried = {od_mm: (resistance_m, limit_m, ok) for od_mm, resistance_m, limit_m, ok in found.tried}
    resistance_m, limit_m, ok = tried[given["d2_mm"]]
    assert resistance_m == pytest.approx(expected["resistance_m"])
    assert limit_m == expected["limit_m"]
    assert ok is expected["acceptable"]
    assert found.d2_od_mm == 28


@pytest.mark.oracle(question="discharge", source=SOURCE, standing="published", tolerance="exact")
@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['valve_outlet']}-{row['d2_min_mm']}")
def test_every_row_at_its_limit(row: dict[str, str]) -> None:
    limit_m, bend_m = float(row["max_resistance_m"]), float(row["resistance_per_elbow_m"])
    at = discharge(place=place(limit_m - 2 * bend_m, 2), outlet=row["valve_outlet"], reference=load())
    assert at.d2_od_mm == int(row["d2_min_mm"])
    assert at.d1_min_od_mm == int(row["d1_min_mm"])
    assert at.resistance_m == pytest.approx(limit_m)
    assert at.limit_m == limit_m
    beyond = discharge(place=place(limit_m - 2 * bend_m + 0.1, 2), outlet=row["valve_outlet"], reference=load())
    assert beyond.d2_od_mm != int(row["d2_min_mm"])
