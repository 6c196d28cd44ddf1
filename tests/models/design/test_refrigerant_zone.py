"""The protective zone of a flammable refrigerant, after an invented maker's record of 1 m that ends at the top."""

import pytest

from models.design.refrigerant_zone import zone_checks


@pytest.fixture
def said(make_unit, make_position, place):
    """Checks and findings by code for some openings and changes of the position or unit."""

    def judge(*openings, unit=None, **position):
        checks, findings = zone_checks(
            position=make_position(openings=openings, **position), unit=make_unit(**(unit or {})), place_reference=place
        )
        return checks, {finding.code: finding for finding in findings}

    return judge


def opening(what, distance_m, height_m=0.0):
    return {"what": what, "name": f"the {what}", "distance_m": distance_m, "height_m": height_m}


@pytest.mark.parametrize(
    ("what", "distance_m", "height_m", "code"),
    [
        ("window", 0.9, 0.9, "opening_in_zone"),
        ("window", 0.9, 1.0, None),  # its lower edge is at the top of the zone, 1.0 m
        ("door", 1.0, 0.0, None),  # as far as the zone reaches
        ("drain", 0.9, 0.0, "opening_in_zone"),
        ("light_well", 0.9, -1.5, "opening_in_zone"),
        ("basement_opening", 0.9, 1.2, "opening_in_zone"),  # heavy gas runs down: height never saves it
        ("socket", 0.5, 0.4, "ignition_in_zone"),
        ("flue", 0.5, 2.1, None),
        ("flue", 0.5, 0.9, "ignition_in_zone"),
    ],
)
def test_inside_is_nearer_than_the_reach_and_lower_than_the_top(said, what, distance_m, height_m, code):
    checks, findings = said(opening(what, distance_m, height_m))
    assert checks[0].inside is (code is not None)
    for name in ("opening_in_zone", "ignition_in_zone"):
        assert (name in findings) is (name == code)
    if code:
        assert findings[code].strength == "stop"
        assert f"the {what}" in findings[code].message and f"{distance_m:.2f} m" in findings[code].message


def test_a_zone_that_rises_over_the_top(said):
    record = {"against": "wall", "mount": "ground", "reach_m": 1.0, "above_top_m": 0.3}
    _, findings = said(opening("window", 0.9, 1.2), unit={"zones": [record]})
    assert "opening_in_zone" in findings


def test_no_record_is_a_stop(said):
    checks, findings = said(opening("window", 9), against="corner")
    assert checks == ()
    assert findings["zone_not_recorded"].strength == "stop"
    assert "against a corner" in findings["zone_not_recorded"].message


def test_a_refrigerant_that_does_not_burn_has_no_zone(said):
    assert said(opening("drain", 0.1), unit={"refrigerant": "R410A"}) == ((), {})


def test_a_refrigerant_that_nobody_classed_is_a_stop(said):
    assert said(unit={"refrigerant": "R9999"})[1]["refrigerant_class_not_known"].strength == "stop"


def test_boundary_and_path(said):
    _, findings = said(boundary_m=0.9, path_m=0.8)
    assert findings["zone_reaches_boundary"].strength == findings["zone_reaches_path"].strength == "ask"
    _, findings = said(boundary_m=1.0, path_m="unknown")
    assert "zone_reaches_boundary" not in findings and "path_distance_not_known" in findings


def test_a_hanging_unit_of_unknown_height_counts_everything_within_reach(said):
    checks, findings = said(opening("window", 0.9, 5.0), mount="wall")
    assert checks[0].inside and checks[0].zone_top_m is None
    assert findings["mount_height_not_known"].strength == "ask"


def test_a_hanging_unit_reaches_down_to_the_ground(said):
    checks, findings = said(opening("air_brick", 0.9, 0.1), mount="wall", mount_height_m=2.0)
    assert checks[0].inside and checks[0].zone_top_m == 3.0
    assert findings["zone_below_record"].strength == "ask"  # recorded 1 m down, hangs at 2 m
    assert "zone_below_record" not in said(mount="wall", mount_height_m=0.5)[1]


def test_the_usual_caution(said):
    assert "competent person" in said()[1]["flammable_refrigerant"].message


def test_no_place_for_the_isolator(said):
    missing = said(isolator=None)[1]["isolator_place_not_known"]
    assert missing.strength == "ask" and "more than 1.00 m from the case" in missing.remedy


def test_an_isolator_over_the_zone_is_out_of_it(said):
    checks, findings = said(isolator={"distance_m": 0.5, "height_m": 1.2})  # the zone ends at 1.0 m
    assert findings["isolator_above_zone"].strength == "note"
    assert not checks[-1].inside and "isolator_in_zone" not in findings
