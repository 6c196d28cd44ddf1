"""A demo of the composed app that all page tests share, and a made-up document whose figures are no oracle."""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from pydantic import SecretStr

from api.settings import Settings
from api.startup import load_demo
from api.store.seed_files import demo_households
from web.app import create_app


def demo_settings(folder: Path) -> Settings:
    """Settings of a demo in a folder of its own, whatever the environment says."""
    return Settings(data_dir=folder, database_url=None, secret_key=SecretStr("only-for-tests-" * 3), demo_key=None)


@pytest.fixture(scope="session")
def settings(tmp_path_factory: pytest.TempPathFactory) -> Settings:
    """Settings of the demo that the page tests share."""
    return demo_settings(tmp_path_factory.mktemp("demo"))


@pytest.fixture(scope="session")
def stranger(settings: Settings) -> Iterator[TestClient]:
    """A browser that is not signed in, in front of the shared demo."""
    app = create_app(settings)
    load_demo(app.state.engine, settings, demo_households(), now=datetime.now(UTC))
    with TestClient(app, follow_redirects=False) as client:
        yield client


@pytest.fixture(scope="session")
def fresh_link(stranger: TestClient, settings: Settings) -> Callable[[], str]:
    """Makes the address of a link that signs the demo's owner in once."""

    def make() -> str:
        engine = stranger.app.state.engine  # type: ignore[attr-defined]
        token = load_demo(engine, settings, demo_households(), now=datetime.now(UTC)).signin_token
        return f"/sign-in/link?token={token}"

    return make


@pytest.fixture(scope="session")
def browser(stranger: TestClient, fresh_link: Callable[[], str]) -> TestClient:
    """A browser that signed in as owner by a link."""
    client = TestClient(stranger.app, follow_redirects=False)
    assert client.get(fresh_link()).status_code == 303
    return client


def made_up_document() -> dict[str, Any]:
    """A document in the shape of models/document.py with two rooms, one finding of each strength, four bill lines."""
    rooms = [
        {
            "room_id": "g1", "name": "Hall <script>alert(1)</script>", "use": "hall", "storey": 0, "room_temp_c": 18.0,
            "floor_area_m2": 9.8, "air_changes_per_h": 1.1, "heat_loss_w": 1004.4, "transmission_w": 700.4,
            "ventilation_w": 304.0, "reheat_w": 0.0, "to_rooms_w": -20.0, "elements": [],
            "emitter_output_before_w": 800.2, "emitter_output_w": 1100.0, "emitter_short_w": 0.0,
            "emitter_action": "swap", "emitter_why": "a larger panel at the same place",
            "emitter_steps": [{"action": "swap", "description": "double panel 600 × 1200", "sku": "RAD-1"}],
        },
        {
            "room_id": "g2", "name": "Lounge", "use": "living", "storey": 0, "room_temp_c": 21.0,
            "floor_area_m2": 19.5, "air_changes_per_h": 1.0, "heat_loss_w": 1834.6, "transmission_w": 1300.0,
            "ventilation_w": 534.6, "reheat_w": 0.0, "to_rooms_w": 20.0, "elements": [],
            "emitter_output_before_w": 1900.0, "emitter_output_w": 1900.0, "emitter_short_w": 0.0,
            "emitter_action": "keep", "emitter_why": "enough as it is", "emitter_steps": [],
        },
    ]  # fmt: skip
    tasks = [
        {
            "code": "T1", "name": "Dig and cast the base", "phase": "ground", "trade": "engineer", "crew": 2,
            "person_hours": "8.000000", "start": {"day": 1, "at": "08:00"}, "end": {"day": 1, "at": "12:00"},
            "pieces": [[1, "08:00", "12:00"]], "people": ["engineer_1", "engineer_2"], "weather_exposed": True,
        },
        {
            "code": "T2", "name": "Wire the unit", "phase": "electrical", "trade": "electrician", "crew": 1,
            "person_hours": "4.000000", "start": {"day": 2, "at": "13:00"}, "end": {"day": 2, "at": "17:00"},
            "pieces": [[2, "13:00", "17:00"]], "people": ["electrician"], "weather_exposed": False,
        },
    ]  # fmt: skip

    def line(sku: str, group: str, description: str, used: str, charged: str, cost: int, sell: int) -> dict[str, Any]:
        return {
            "line_id": sku, "sku": sku, "group": group, "description": description, "unit": "each", "used": used,
            "bought": charged, "charged": charged, "why": f"because of {sku}", "cost_pence": cost, "sell_pence": sell,
        }  # fmt: skip

    return {
        "document_version": 1,
        "label": "Invented house, Made Lane",
        "design": {
            "heat_loss_w": 2839.0, "heat_loss_w_per_m2": 96.9, "transmission_w": 2000.4, "ventilation_w": 838.6,
            "floor_area_m2": 29.3, "design_outdoor_temp_c": -3.4, "flow_temp_c": 45.0, "return_temp_c": 40.0,
            "climate": {"station": "Birmingham", "station_design_temp_c": -3.4, "altitude_correction_k": 0.0},
            "flow_choice": {"rule": "least cost", "candidates": [], "years": 15},
            "rooms": rooms, "governing_room_id": "g1",
            "outdoor_unit": {
                "sku": "OU-5", "name": "Outdoor unit 5", "count": 1, "capacity_w": 4800.0, "cover_ratio": 1.69,
                "minimum_output_w": 1600.0, "hours_below_minimum_h": 900.0, "refrigerant": "R290", "charge_kg": 0.6,
                "mass_kg": 95.0, "sound_power_dba": 54.0,
            },
            "units_considered": [],
            "cylinder": None,
            "hot_water": {"people": 3.0, "store_needed_l": 190.0, "store_temp_c": 50.0, "reheat_minutes": None},
            "discharge": None, "frost_protection": None, "system_volume": None, "condensate": None, "base": None,
            "electrical": None,
            "primary": {
                "od_mm": 28, "flow_l_per_s": 0.136, "velocity_m_per_s": 0.25, "pressure_drop_pa": 2100.0,
                "pump_available_pa": 45000.0,
            },
            "noise": [
                {"where": "Kitchen window next door", "distance_m": 6.0, "level_dba": 36.24, "limit_dba": 37.0,
                 "passes": True}
            ],
            "heating_curve": {
                "points": [
                    {"outdoor_temp_c": -3.4, "flow_temp_c": 45.0, "return_temp_c": 40.0, "load_ratio": 1.0},
                    {"outdoor_temp_c": 15.5, "flow_temp_c": 21.0, "return_temp_c": 21.0, "load_ratio": 0.0},
                ]
            },
            "performance": None,
        },
        "labour_plan": {
            "days": 2, "person_hours": "12.000000", "tasks": tasks, "hot_water_off_h": 5.5, "heating_off_h": 30.0,
            "cold_water_off_h": 0.0, "power_off_h": 1.0, "dates": ["2026-04-13", "2026-04-14"],
            "services": [
                {"service": "heating", "off": {"day": 1, "at": "10:33"}, "on": {"day": 2, "at": "16:30"},
                 "clock_h": 30.0, "working_h": 12.0, "overnight": 1},
            ],
        },
        "bill": {
            "lines": [
                line("OU-5", "Outdoor unit", "Outdoor unit 5", "1.000", "1.000", 150000, 200000),
                line("TUBE-28", "Pipe", "Copper tube 28 mm", "14.400", "15.000", 9000, 12050),
            ],
            "cost_pence": 159000, "sell_pence": 212050,
        },
        "price": {
            "partial": False, "net_pence": 1234567, "vat_pence": 0, "total_pence": 1234567, "grant_pence": 750000,
            "customer_pays_pence": 484567, "parts": [], "stages": [], "cancellation": "", "grant": None,
        },
        "findings": [
            {"code": "no_cylinder", "strength": "stop", "where": "Airing cupboard", "message": "no cylinder fits",
             "source": "", "remedy": "measure another place"},
            {"code": "looped_supply", "strength": "ask", "where": "Supply", "message": "the service is looped",
             "source": "common practice, no source", "remedy": ""},
            {"code": "cycling", "strength": "note", "where": "Outdoor unit", "message": "it cycles 900 h a year",
             "source": "", "remedy": ""},
        ],
        "basis": {
            "rules_version": "seed-1", "price_list_version": "2026-1", "price_list_valid_from": "2026-01-01",
            "priced_on": "2026-03-02", "works_start_on": "2026-04-13", "works_end_on": "2026-04-14",
            "works_start_assumed": True,
            "defaults": {"altitude_rule": "step"}, "choices": {}, "assumed": ["Hall: width"],
        },
        "before_day_one": [
            {"code": "cancellation", "what": "end of the time for cancelling", "who": "customer", "calendar_days": 14,
             "reason": "work done before need not be paid", "source": ""},
            {"code": "reply", "what": "reply of the network operator", "who": "network operator", "calendar_days": 45,
             "reason": "it must agree first", "source": ""},
        ],
    }  # fmt: skip


@pytest.fixture
def document() -> dict[str, Any]:
    """A fresh made-up document."""
    return made_up_document()
