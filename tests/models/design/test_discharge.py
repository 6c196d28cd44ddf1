from typing import Any

import pytest

from models.design.discharge import WHY, discharge
from models.design.results import Discharge
from models.reference.load import load
from models.survey import CylinderPlace


def solved(outlet: Any = "G1/2", **change: Any) -> Discharge:
    place = CylinderPlace.model_validate(
        {
            "name": "airing cupboard", "width_mm": 850, "depth_mm": 750, "height_mm": 2300, "door_width_mm": 660,
            "floor": "timber", "discharge_run_m": 5.0, "discharge_bends": 4, "discharge_falls": "yes",
            "discharge_to": "gully",
        } | change
    )  # fmt: skip
    return discharge(place=place, outlet=outlet, reference=load())


def codes(found: Discharge) -> list[tuple[str, str]]:
    return [(finding.code, finding.strength) for finding in found.findings]


def test_the_smallest_pipe_that_is_enough() -> None:
    """Hand: 5 + 4 x 0.8 = 8.2 m, at most 9 m in 22 mm."""
    found = solved()
    assert (found.d2_od_mm, found.d1_min_od_mm, found.limit_m) == (22, 15, 9)
    assert found.resistance_m == pytest.approx(8.2)
    assert found.findings == ()
    assert "8.2 m in 22 mm" in WHY.sentence.format(**{name: getattr(found, name) for name in Discharge.__slots__})


def test_an_unmeasured_run_is_asked_about() -> None:
    found = solved(discharge_run_m="unknown")
    assert codes(found) == [("discharge_run_unknown", "ask")]
    assert found.run_m == 6.0
    assert "6 m is assumed" in found.findings[0].message


def test_uphill_stops() -> None:
    found = solved(discharge_falls="no")
    assert codes(found) == [("discharge_uphill", "stop")]
    assert found.d2_od_mm is None


def test_too_long_stops() -> None:
    """Hand: 22 + 4 x 1.4 = 27.6 m in 35 mm, more than 27 m."""
    found = solved(discharge_run_m=22)
    assert codes(found) == [("discharge_too_long", "stop")]
    assert found.d2_od_mm is None
    assert "27.6 m" in found.findings[0].message


def test_the_end_of_the_pipe_is_spoken_of() -> None:
    assert codes(solved(discharge_to="soil_stack")) == [("discharge_into_soil_stack", "note")]
    assert codes(solved(discharge_to="low_level_outside")) == [("discharge_can_scald", "note")]
    assert codes(solved(discharge_to="unknown", discharge_falls="unknown")) == [
        ("discharge_fall_unknown", "ask"),
        ("discharge_end_unknown", "ask"),
    ]


def test_an_outlet_that_the_table_lacks_is_refused() -> None:
    with pytest.raises(ValueError, match="no valve outlet G2"):
        solved(outlet="G2")
