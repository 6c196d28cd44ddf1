"""A small surveyed house with a design made by hand, and the seed rows."""

import csv
import json
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from models.catalogue import Cable, Cylinder, OutdoorUnit, PriceList, Vessel, Volumiser, price_lines_from_rows
from models.design.results import (
    Base,
    Condensate,
    CylinderChoice,
    Design,
    Discharge,
    Electrical,
    EmitterSchedule,
    EmitterStep,
    FrostProtection,
    Primary,
    RoomEmitters,
    Siting,
    SystemVolume,
    UnitChoice,
)
from models.pricing.rates import Rates, rates_from
from models.survey.survey import Survey
from models.takeoff.bill import Recipe, recipes_from_rows

SEED = Path(__file__).parents[3] / "seed_data"

SURVEY: dict[str, Any] = {
    "label": "Hand-made cottage",
    "house": {
        "nation": "england", "place": "Marlhollow", "altitude_m": 40, "weather_station": "Heathrow",
        "climate_region": 1, "dwelling_type": "detached", "age_band": "C", "storeys": 2, "bedrooms": 2, "occupants": 3,
        "on_gas_grid": "no", "energy_certificate_valid": "no", "slab_area_m2": 50, "exposed_perimeter_m": 30,
    },
    "constructions": [],
    "rooms": [
        {"id": "hall", "name": "Hall", "use": "hall", "length_m": 3, "width_m": 2, "height_m": 2.4, "has_sensor": True},
        {"id": "living", "name": "Living room", "use": "living", "length_m": 5, "width_m": 4, "height_m": 2.4,
         "floor_must_be_lifted": True},
        {"id": "bed", "name": "Bedroom", "use": "bedroom", "storey": 1, "length_m": 4, "width_m": 3, "height_m": 2.4},
    ],
    "existing": {
        "fuel": "oil", "boiler": "regular", "oil_tank_goes": True, "cylinder": {"kind": "vented", "same_place": False},
        "loft_tanks": [{"name": "cold tank", "volume_l": 200}, {"name": "small one", "volume_l": 20, "remove": False}],
    },
    "hot_water": {"main_upgrade_m": 6, "hardness_mg_per_l": 240, "stopcock_sound": "no"},
    "cylinder_place": {
        "name": "Airing cupboard", "room": "bed", "width_mm": 700, "depth_mm": 700, "height_mm": 2200,
        "door_width_mm": 650, "floor": "timber", "discharge_run_m": 4, "discharge_bends": 3,
    },
    "positions": [
        {"id": "side", "name": "Side path", "clear_back_mm": 300, "clear_left_mm": 600, "clear_right_mm": 600,
         "clear_front_mm": 1500, "reflecting_surfaces": 2, "ground": "clay", "route_outside_m": 3.0,
         "route_buried_m": 2.0, "route_inside_m": 5.4, "changes_outside": 3, "changes_inside": 5, "penetrations": 2,
         "condensate_to": "soakaway", "condensate_run_m": 1.2, "carry_m": 31, "stone_wall": True},
    ],
    "supply": {"cable_route_m": 12},
    "tariffs": {"electricity_pence_per_kwh": "27"},
    "hazards": [{"kind": "asbestos", "where": "flue", "samples": 2}, {"kind": "other", "where": "loft", "samples": 5}],
}  # fmt: skip


def _step(action: Any, sku: str | None = None, run_m: float = 0.0, new_valves: bool = False) -> EmitterStep:
    return EmitterStep(action, "e", "w", sku, "", 1000.0, 5.0, run_m, False, new_valves)


def _room(room_id: str, name: str, *steps: EmitterStep) -> RoomEmitters:
    return RoomEmitters(room_id, name, 900.0, 500.0, 1000.0, 0.0, "keep", steps, 0, 0.0, "")


@pytest.fixture(scope="session")
def units() -> dict[str, OutdoorUnit]:
    records = json.loads((SEED / "outdoor_units.json").read_text())
    return {record["sku"]: OutdoorUnit.model_validate(record) for record in records}


@pytest.fixture
def survey() -> Survey:
    return Survey.model_validate(SURVEY)


@pytest.fixture
def changed_survey() -> Callable[..., Survey]:
    """The survey with other values in one of its parts."""

    def change(part: str, **values: Any) -> Survey:
        return Survey.model_validate({**SURVEY, part: {**SURVEY[part], **values}})

    return change


@pytest.fixture
def design(units: dict[str, OutdoorUnit]) -> Design:
    """One 8-size unit (126 kg) on a rapid slab, 28 mm primary, a 180 L cylinder, antifreeze valves."""
    unknown: Any = None
    cylinder = Cylinder(
        sku="CYL-180", name="180 L", volume_l=180, coil_area_m2=2.4, coil_volume_l=12, standing_loss_kwh_per_day=1.2,
        diameter_mm=555, height_mm=1300, top_clearance_mm=150, mass_dry_kg=46, mass_full_kg=226, relief_outlet="G1/2",
        inlet_group_included=False, immersion_w=3000,
    )  # fmt: skip
    cable = Cable(sku="ELE-SW6", size_mm2=6, clipped_a=60, buried_a=50, in_insulation_a=34, drop_mv_per_a_m=7.3)
    emitters = EmitterSchedule(
        45.0,
        40.0,
        (
            _room("hall", "Hall", _step("keep", new_valves=True)),
            _room("living", "Living room", _step("swap", "RAD-2212"), _step("add", "RAD-2210", 4.5)),
            _room("bed", "Bedroom", _step("keep"), _step("remove")),
        ),
        0, 0.0, None, 40.0,
    )  # fmt: skip
    return Design(
        climate=unknown,
        u_values={},
        heat_loss=unknown,
        flow=unknown,
        emitters=emitters,
        unit=UnitChoice(units["UNT-080"], 1, 7000.0, 2500.0, 1.05, 2900.0, 0.0, 59.0, ()),
        hot_water=CylinderChoice(3, 150, 170, 50, cylinder, 180, 250, 7000, 60, 1500, 400, 50, ()),
        cylinder_space=None,
        discharge=Discharge("G1/2", 4.0, 3, 15, 22, 6.4, 9.0, ()),
        frost=FrostProtection("valves", 0.0, 2, ""),
        primary=Primary(28, 0.9, 0.33, 0.6, 180, 6000, 40000, 8.4, 6, 2000, False, 9, 120, (), ""),
        volume=SystemVolume(
            20.0, 40.0, 15.5, 75.5, 0.0121, 0.9, 3.0, 9.0, Vessel(sku="PRI-X12", volume_l=12, for_water="heating"),
            30, 50, Volumiser(sku="PRI-V25", volume_l=25), 1, Vessel(sku="CYL-X18", volume_l=18, for_water="drinking"),
        ),
        position_id="side",
        sitings=(Siting("side", "Side path", (), (), (), "application_needed", ()),),
        condensate=Condensate("soakaway", 1.2, 0.9, 0.6, 0.324, 2.88, 0.9, 0.284, 0.031, False),
        base=Base("rapid_slab", 1.3, 0.6, 0.15, 0.1, 0.78, 0.117, 3.8, 0.156, ""),
        electrical=Electrical(40, 20, 13, 60, 80, 25, cable, 0.02, "notify", True, True, "switch_disconnector"),
        curve=unknown,
        performance=None,
    )  # fmt: skip


@pytest.fixture
def stopped_design(design: Design) -> Design:
    """What is left where no unit, no cylinder and no place was found."""
    return replace(
        design,
        unit=UnitChoice(None, 0, None, None, None, None, None, None, ()),
        hot_water=replace(design.hot_water, cylinder=None),
        discharge=None,
        frost=None,
        primary=None,
        volume=None,
        position_id=None,
        sitings=(),
        condensate=None,
        base=None,
        electrical=None,
    )


@pytest.fixture(scope="session")
def price_list() -> PriceList:
    with (SEED / "price_list.csv").open() as rows:
        return PriceList.of("seed", date(2026, 1, 1), price_lines_from_rows(csv.DictReader(rows)))


@pytest.fixture(scope="session")
def recipes(price_list: PriceList) -> tuple[Recipe, ...]:
    with (SEED / "recipes.csv").open() as rows:
        return recipes_from_rows(csv.DictReader(rows), price_list)


@pytest.fixture(scope="session")
def rates() -> Rates:
    return rates_from(json.loads((SEED / "rates.json").read_text()))


@pytest.fixture
def plan_quantities() -> dict[str, Decimal]:
    return {"plan_days": Decimal(3), "heating_off_nights": Decimal(2)}
