import itertools
from typing import Any

import pytest

from models.design.frost_protection import frost_protection
from models.survey import House


def house(**change: Any) -> House:
    return House.model_validate(
        {
            "nation": "england", "place": "Nether Fallow", "altitude_m": 140, "weather_station": "Birmingham",
            "climate_region": 6, "dwelling_type": "semi_detached", "age_band": "E", "storeys": 2, "bedrooms": 3,
            "occupants": 4, "power_cuts": "rare", "often_empty": "no", "slab_area_m2": 50, "exposed_perimeter_m": 21,
        } | change
    )  # fmt: skip


def test_two_valves_a_unit_by_default() -> None:
    found = frost_protection(house=house(), count=2, choice=None, design_outdoor_temp_c=-3)
    assert (found.method, found.valves, found.glycol_ratio, found.findings) == ("valves", 4, 0.0, ())


@pytest.mark.parametrize("change", [{"power_cuts": "frequent"}, {"often_empty": "yes"}])
def test_glycol_where_valves_would_drain(change: dict[str, str]) -> None:
    found = frost_protection(house=house(**change), count=1, choice=None, design_outdoor_temp_c=-3)
    assert (found.method, found.valves, found.glycol_ratio) == ("glycol", 0, 0.25)
    asked = frost_protection(house=house(**change), count=1, choice="valves", design_outdoor_temp_c=-3)
    assert asked.method == "valves"
    assert [(f.code, f.strength) for f in asked.findings] == [("valves_may_drain", "ask")]


def test_glycol_when_asked_for() -> None:
    found = frost_protection(house=house(), count=1, choice="glycol", design_outdoor_temp_c=-3)
    assert (found.method, found.reason) == ("glycol", "asked for")
    # A quarter of the volume freezes at about -10 C: common practice, no source.
    assert "-10 °C" in found.findings[0].message


def test_never_both() -> None:
    for cuts, empty, choice in itertools.product(
        ("rare", "frequent", "unknown"), ("yes", "no", "unknown"), (None, "valves", "glycol")
    ):
        asked = house(power_cuts=cuts, often_empty=empty)
        found = frost_protection(house=asked, count=1, choice=choice, design_outdoor_temp_c=-3)
        assert (found.valves == 0) == (found.glycol_ratio > 0) == (found.method == "glycol")


def test_what_was_not_asked_is_said() -> None:
    found = frost_protection(house=house(power_cuts="unknown"), count=1, choice=None, design_outdoor_temp_c=-3)
    assert [(f.code, f.strength) for f in found.findings] == [("frost_risk_not_asked", "note")]
    assert "power cuts" in found.findings[0].message


@pytest.mark.parametrize(("outdoors_c", "ratio"), [(-3, 0.25), (-5, 0.25), (-7, 0.30), (-10, 0.35), (-14, 0.40)])
def test_a_colder_place_takes_a_stronger_mixture(outdoors_c: float, ratio: float) -> None:
    """First ice at -10, -13, -16 and -21 °C for 25, 30, 35 and 40 % of the volume: handbooks, from memory; 2 K."""
    found = frost_protection(house=house(), count=1, choice="glycol", design_outdoor_temp_c=outdoors_c)
    assert found.glycol_ratio == ratio
    assert [finding.code for finding in found.findings] == ["glycol_needs_care"]


def test_a_place_too_cold_for_the_strongest_mixture_is_asked_about() -> None:
    found = frost_protection(house=house(), count=1, choice="glycol", design_outdoor_temp_c=-25)
    assert ("glycol_too_weak_for_place", "ask") in [(finding.code, finding.strength) for finding in found.findings]
