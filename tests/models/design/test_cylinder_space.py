from typing import Any

import pytest

from models.catalogue import Cylinder
from models.design.cylinder_space import space_check
from models.design.discharge import discharge
from models.design.results import SpaceCheck
from models.reference.load import load
from models.survey import CylinderPlace

CYLINDER = Cylinder(
    sku="T-180", name="cylinder 180", volume_l=180, coil_area_m2=2.4, coil_volume_l=12.5,
    standing_loss_kwh_per_day=1.25, diameter_mm=555, height_mm=1300, top_clearance_mm=150, mass_dry_kg=46,
    mass_full_kg=226, relief_outlet="G1/2",
    inlet_group_included=False, immersion_w=3000,
)  # fmt: skip


def place(**change: Any) -> CylinderPlace:
    return CylinderPlace.model_validate(
        {
            "name": "cupboard", "width_mm": 605, "depth_mm": 605, "height_mm": 1450, "door_width_mm": 565,
            "floor": "solid", "discharge_run_m": 3, "discharge_falls": "yes", "discharge_to": "gully",
        } | change
    )  # fmt: skip


def failing(check: SpaceCheck) -> list[str]:
    return [what for what, _, _, ok in check.checks if not ok]


def test_it_fits_to_the_millimetre() -> None:
    """555 + 50 = 605 mm wide and deep, 1300 + 150 = 1450 mm high, 555 + 10 = 565 mm of door."""
    check = space_check(place=place(), cylinder=CYLINDER, discharge=None)
    assert check.fits
    assert check.checks[0] == ("width, mm", 605, 605, True)
    assert [f.code for f in check.findings] == ["cylinder_lifted_by_two"]


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ({"width_mm": 604}, "width, mm"),
        ({"depth_mm": 604}, "depth, mm"),
        ({"height_mm": 1449}, "height, mm"),
        ({"door_width_mm": 564}, "door width, mm"),
        ({"floor": "timber", "floor_limit_kg": 225}, "load on the floor, kg"),
    ],
)
def test_the_failing_measure_is_named(change: dict[str, Any], what: str) -> None:
    check = space_check(place=place(**change), cylinder=CYLINDER, discharge=None)
    assert not check.fits
    assert failing(check) == [what]


@pytest.mark.parametrize("floor", ["timber", "unknown"])
def test_a_floor_that_nobody_knows_is_asked_about(floor: str) -> None:
    check = space_check(place=place(floor=floor), cylinder=CYLINDER, discharge=None)
    assert check.fits
    assert ("floor_load_unknown", "ask") in [(f.code, f.strength) for f in check.findings]
    assert any("226 kg" in f.message for f in check.findings)


@pytest.mark.parametrize(
    ("change", "what"),
    [({"discharge_run_m": 30}, "relief discharge, m"), ({"discharge_falls": "no"}, "relief discharge falls")],
)
def test_without_a_way_out_it_does_not_fit(change: dict[str, Any], what: str) -> None:
    at = place(**change)
    pipe = discharge(place=at, outlet="G1/2", reference=load())
    check = space_check(place=at, cylinder=CYLINDER, discharge=pipe)
    assert not check.fits
    assert failing(check)[0].startswith(what)


def test_a_way_out_is_shown_with_its_numbers() -> None:
    pipe = discharge(place=place(), outlet="G1/2", reference=load())
    assert space_check(place=place(), cylinder=CYLINDER, discharge=pipe).checks[-1] == (
        "relief discharge, m",
        3,
        9,
        True,
    )
