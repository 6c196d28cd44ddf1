"""Emitters against EN 442-2 and floors against EN 1264-2."""

import csv
from pathlib import Path
from typing import Any

import pytest

from models.physics.emission import (
    FLOOR_TEMP_LIMIT_C,
    excess_temp_k,
    floor_output_w_per_m2,
    log_mean_excess_k,
    output_ratio,
)

TABLE = Path(__file__).parent / "data/en442_correction_factor_n1.3.csv"
ROWS = list(csv.DictReader(TABLE.read_text().splitlines()))
PRINTED = [row for row in ROWS if row["published_table_value"]]


@pytest.mark.oracle(
    question="emitters", source="EN 442-2 characteristic equation, n = 1.3", standing="second computation",
    tolerance="0.0001: the factors are given to four places", case="EM-1",
)  # fmt: skip
@pytest.mark.parametrize("index", range(8))
def test_factor_at_flow_return_and_room(cases: dict[str, Any], index: int) -> None:
    case = cases["EM-1"]
    flow, back, room = case["inputs"]["flow_return_room"][index]
    excess = excess_temp_k(flow_temp_c=flow, return_temp_c=back, room_temp_c=room)
    factor = output_ratio(excess_k=excess, exponent=case["inputs"]["n"])
    assert factor == pytest.approx(case["expected"]["factor"][index], abs=case["tolerance"])


@pytest.mark.oracle(
    question="emitters", source="EN 442-2 characteristic equation, n = 1.3: note of EM-1",
    standing="second computation", tolerance="0.0001: the factor is given to four places", case="EM-1",
)  # fmt: skip
def test_factor_by_the_log_mean_that_some_rules_want() -> None:
    excess = log_mean_excess_k(flow_temp_c=35, return_temp_c=30, room_temp_c=20)
    assert output_ratio(excess_k=excess, exponent=1.3) == pytest.approx(0.1621, abs=1e-4)


@pytest.mark.oracle(
    question="emitters", source="EN 442-2 with n = 1.3, computed column", standing="second computation",
    tolerance="0.0000006: the column has six places",
)  # fmt: skip
@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['dT_K']} K")
def test_computed_factor_of_the_table(row: dict[str, str]) -> None:
    assert output_ratio(excess_k=float(row["dT_K"]), exponent=1.3) == pytest.approx(
        float(row["factor_computed_(dT/50)^1.3"]), abs=6e-7
    )


@pytest.mark.oracle(
    question="emitters", source="published correction factors of radiators, EN 442-2, n = 1.3", standing="published",
    tolerance="0.0005: printed to three places",
)  # fmt: skip
@pytest.mark.parametrize("row", PRINTED, ids=lambda row: f"{row['dT_K']} K")
def test_printed_factor_of_the_table(row: dict[str, str]) -> None:
    printed = float(row["published_table_value"])
    assert output_ratio(excess_k=float(row["dT_K"]), exponent=1.3) == pytest.approx(printed, abs=5e-4)


@pytest.mark.oracle(
    question="emitters", source="EN 1264-2, basic characteristic curve", standing="published",
    tolerance="0.001 W/m2: the case's own", case="UFH-1",
)  # fmt: skip
@pytest.mark.parametrize("index", range(5))
def test_floor_output(cases: dict[str, Any], index: int) -> None:
    case = cases["UFH-1"]
    warmer_k = case["inputs"]["dT_floor"][index]
    output = floor_output_w_per_m2(floor_temp_c=20 + warmer_k, room_temp_c=20)
    assert output == pytest.approx(case["expected"]["q"][index], abs=case["tolerance"])


@pytest.mark.oracle(
    question="emitters", source="EN 1264-2, surface temperature limits", standing="published", tolerance="exact",
    case="UFH-1",
)  # fmt: skip
def test_floor_limits(cases: dict[str, Any]) -> None:
    assert cases["UFH-1"]["expected"]["limits_floor_C"] == FLOOR_TEMP_LIMIT_C
