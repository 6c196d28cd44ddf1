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
    found = frost_protection(house=house(), count=2, choice=None)
    assert (found.method, found.valves, found.glycol_ratio, found.findings) == ("valves", 4, 0.0, ())


@pytest.mark.parametrize("change", [{"power_cuts": "frequent"}, {"often_empty": "yes"}])
def test_glycol_where_valves_would_drain(change: dict[str, str]) -> None:
    found = frost_protection(house=house(**change), count=1, choice=None)
    assert (found.method, found.valves, found.glycol_ratio) == ("glycol", 0, 0.25)
    asked = frost_protection(house=house(**change), count=1, choice="valves")
    assert asked.method == "valves"
    assert [(f.code, f.strength) for f in asked.findings] == [("valves_may_drain", "ask")]


def test_glycol_when_asked_for() -> None:
    found = frost_protection(house=house(), count=1, choice="glycol")
    assert (found.method, found.reason) == ("glycol", "asked for")
    # A quarter of the volume freezes at about -10 C: common practice, no source.
    assert "-10 C" in found.findings[0].message


def test_never_both() -> None:
    for cuts, empty, choice in itertools.product(
        ("rare", "frequent", "unknown"), ("yes", "no", "unknown"), (None, "valves", "glycol")
    ):
        found = frost_protection(house=house(power_cuts=cuts, often_empty=empty), count=1, choice=choice)
        assert (found.valves == 0) == (found.glycol_ratio > 0) == (found.method == "glycol")


def test_what_was_not_asked_is_said() -> None:
    found = frost_protection(house=house(power_cuts="unknown"), count=1, choice=None)
    assert [(f.code, f.strength) for f in found.findings] == [("frost_risk_not_asked", "note")]
    assert "power cuts" in found.findings[0].message
