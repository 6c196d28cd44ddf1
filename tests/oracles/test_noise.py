"""Noise against outside cases: the point source law, energy addition, the limit."""

import csv
from pathlib import Path

import pytest

from models.design.noise import level_dba, pass_distance_m, together_dba

TABLE = Path(__file__).parent / "data/noise_directivity_distance.csv"
POINT_SOURCE = "point source over Q: Lp = Lw + 10 lg(Q/(4 pi r2))"


def rows():
    return list(csv.DictReader(TABLE.read_text().splitlines()))


@pytest.mark.oracle(
    question="noise", case="NOI-011", source=POINT_SOURCE, standing="published", tolerance="0.05 dB: printed decimals"
)
def test_two_distances(cases):
    case = cases["NOI-011"]
    for distance_m, level in zip(case["inputs"]["r"], case["expected"]["Lp"], strict=True):
        got = level_dba(sound_power_dba=67, directivity=4, distance_m=distance_m, barrier_db=0)
        assert got == pytest.approx(level, abs=0.05)


@pytest.mark.oracle(
    question="noise", case="NOI-013", source="energy addition", standing="second computation",
    tolerance="0.02 dB: printed decimals",
)  # fmt: skip
def test_background_and_unit_together(cases):
    case = cases["NOI-013"]
    assert together_dba((40, 37)) == pytest.approx(case["expected"]["sum_37"], abs=0.02)
    assert together_dba((40, 38)) == pytest.approx(case["expected"]["sum_38"], abs=0.02)
    share_dba = case["expected"]["max_hp_for_42"]
    assert together_dba((40, share_dba)) == pytest.approx(42.0, abs=0.02)


@pytest.mark.oracle(
    question="noise", case="NOI-014", source=POINT_SOURCE + " + barrier; barrier values not confirmed",
    standing="second computation", tolerance="0.05 dB: printed decimals",
)  # fmt: skip
def test_levels_against_the_limit(cases):
    case = cases["NOI-014"]
    expected = zip(case["expected"]["Lp"], case["expected"]["pass_37"], strict=True)
    for inputs, (level, passes) in zip(case["inputs"]["cases"], expected, strict=True):
        given = {"sound_power_dba": inputs["Lw"], "directivity": inputs["Q"], "barrier_db": inputs["barrier"]}
        got = level_dba(**given, distance_m=inputs["r"])
        assert got == pytest.approx(level, abs=0.05)
        assert (got <= 37.0) is passes
        assert (inputs["r"] >= pass_distance_m(**given, limit_dba=37.0)) is passes


@pytest.mark.oracle(
    question="noise", source="10 lg(Q/(4 pi r2)), worked out apart from this project", standing="second computation",
    tolerance="0.0005 dB: three printed decimals",
)  # fmt: skip
@pytest.mark.parametrize("row", rows(), ids=lambda row: f"{row['distance_m']} m")
def test_the_table_of_directivity_and_distance(row):
    for directivity in (2, 4, 8):
        got = level_dba(sound_power_dba=0, directivity=directivity, distance_m=float(row["distance_m"]), barrier_db=0)
        assert got == pytest.approx(float(row[f"Q{directivity}_exact"]), abs=5.1e-4)
