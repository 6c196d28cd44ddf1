"""Where the work can hurt someone the house says so, and only there; each caution defers to those who are qualified.

Wording and strength are the judgement of the trade (common practice, no source).
"""

import copy
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from models.catalogue import Catalogue
from models.estimate import Choices, Estimate, estimate
from models.findings import Finding
from models.rules import offers_of
from models.survey import Survey

TODAY = date(2026, 11, 25)
Edit = Callable[[dict[str, Any]], None]


def _as_it_is(survey: dict[str, Any]) -> None:
    """A house left as it was surveyed."""


@pytest.fixture
def work(rules: Any, households: dict[str, Any]) -> Any:
    """Estimate of a demo household after its survey was changed in place."""

    def run(name: str, edit: Edit = _as_it_is, *, rules: Any = rules) -> Estimate:
        survey = copy.deepcopy(households[name]["survey"])
        edit(survey)
        return estimate(Survey.model_validate(survey), Choices(), rules, today=TODAY)

    return run


@pytest.fixture
def without_flame(rules: Any) -> Any:
    """The rules with every unit on a refrigerant that does not burn and light enough to carry."""
    record = rules.catalogue.model_dump(mode="json")
    for unit in record["outdoor_units"]:
        unit |= {"refrigerant": "R744", "mass_kg": 45}
    for cylinder in record["cylinders"]:
        cylinder |= {"mass_dry_kg": 24}
    catalogue = Catalogue.model_validate(record)
    offers = offers_of(
        catalogue=catalogue, price_list=rules.price_list, recipes=rules.recipes, labour=rules.labour, rates=rules.rates
    )
    return replace(rules, catalogue=catalogue, offers=offers)


def cautions(result: Estimate, code: str) -> list[Finding]:
    return [finding for finding in result.findings if finding.code == code]


def words(result: Estimate, code: str) -> str:
    found = cautions(result, code)
    assert found, f"{code} is not among {sorted({finding.code for finding in result.findings})}"
    return " ".join(f"{finding.message} {finding.remedy} {finding.source}" for finding in found)


def hung_on_the_wall(survey: dict[str, Any]) -> None:
    survey["positions"] = [
        survey["positions"][0] | {"mount": "wall", "mount_height_m": 2.5, "condensate_to": "gully", "route_buried_m": 0}
    ]


def test_propane(work: Any, without_flame: Any) -> None:
    told = words(work("alder_row"), "flammable_refrigerant")
    assert "1.05 kg" in told and "R290" in told
    assert "competent person" in told and "maker's instructions rule" in told
    assert not cautions(work("alder_row", rules=without_flame), "flammable_refrigerant")


def test_unvented_hot_water_scalding_and_legionella(work: Any) -> None:
    told = words(work("alder_row"), "stored_water_caution")
    for word in ("legionella", "scalding", "blending valve", "qualified", "maker's instructions", "60 °C"):
        assert word in told
    none = work("weir_cottages", lambda survey: survey.update(cylinder_place=None))
    assert not cautions(none, "stored_water_caution"), "there is no store"


def test_relief_discharge_that_can_scald(work: Any) -> None:
    outside = work("alder_row", lambda survey: survey["cylinder_place"].update(discharge_to="low_level_outside"))
    assert "children" in words(outside, "discharge_can_scald")
    stack = work("alder_row", lambda survey: survey["cylinder_place"].update(discharge_to="soil_stack"))
    assert "qualified" in words(stack, "discharge_into_soil_stack")
    assert not cautions(work("alder_row"), "discharge_can_scald")


def test_water_that_stands_in_an_empty_house(work: Any) -> None:
    away = work("alder_row", lambda survey: survey["house"].update(often_empty="yes"))
    assert "legionella" in words(away, "store_stands_unused")
    assert not cautions(work("alder_row"), "store_stands_unused")


def test_electricity(work: Any) -> None:
    told = words(work("alder_row"), "electrician_only")
    assert "registered electrician" in told and "BS 7671" in told
    assert not cautions(work("alder_row", lambda survey: survey.update(positions=[])), "electrician_only")
    assert "before anything is energised" in words(work("thornlea"), "bonding_unsound")
    assert not cautions(work("alder_row"), "bonding_unsound")


def test_asbestos(work: Any) -> None:
    told = words(work("thornlea"), "asbestos_suspected")
    assert "nobody drills" in told and "licensed" in told and "Control of Asbestos Regulations" in told
    codes = {finding.code for finding in work("weir_cottages").findings}
    assert not {code for code in codes if code.startswith("asbestos")}, "a house of 2003 to 2006"


def test_digging_near_services(work: Any) -> None:
    told = words(work("alder_row"), "dig_with_care")
    assert "scan" in told and "by hand" in told and "HSG47" in told
    assert len(cautions(work("alder_row"), "dig_with_care")) == 2, "the base and the pit"
    assert "5.2 m of trench" in words(work("thornlea"), "dig_with_care")
    assert not cautions(work("alder_row", hung_on_the_wall), "dig_with_care"), "nothing is dug"

    def trench(survey: dict[str, Any]) -> None:
        hung_on_the_wall(survey)
        survey["positions"][0]["route_buried_m"] = 3

    assert "3 m of trench" in words(work("alder_row", trench), "dig_with_care")
    known = {"kind": "buried_services", "where": "gas main under the patio"}
    marked = work("alder_row", lambda survey: survey["hazards"].append(known))
    assert cautions(marked, "buried_services")[0].strength == "ask"
    assert not cautions(work("alder_row"), "buried_services")


def test_lifting(work: Any, without_flame: Any) -> None:
    heavy, light = work("alder_row"), work("alder_row", rules=without_flame)
    assert "126 kg" in words(heavy, "lifting_aid_needed")
    assert "74 kg" in words(work("weir_cottages"), "heavy_lift")
    assert "two people" in words(heavy, "cylinder_lifted_by_two")
    for code in ("lifting_aid_needed", "heavy_lift", "cylinder_lifted_by_two"):
        assert not cautions(light, code)


def test_working_at_height(work: Any) -> None:
    assert "plan access" in words(work("alder_row", hung_on_the_wall), "work_at_height")
    recorded = words(work("thornlea"), "work_at_height")
    assert "scaffold" in recorded and "Work at Height Regulations" in recorded
    assert not cautions(work("alder_row"), "work_at_height"), "the unit stands on the ground"
    assert "230 L" in words(work("alder_row"), "loft_work")
    assert not cautions(work("weir_cottages"), "loft_work"), "there are no tanks"


@pytest.mark.parametrize(("fuel", "who"), [("mains_gas", "registered gas engineer"), ("lpg", "registered for LPG"),
                                           ("oil", "registered oil technician")])  # fmt: skip
def test_fuel_is_closed_by_somebody_registered(work: Any, fuel: str, who: str) -> None:
    result = work("alder_row", lambda survey: survey["existing"].update(fuel=fuel, fuel_unit="kwh", fuel_used=17000))
    assert any(who in one.who for one in result.before_day_one)
    electric = work(
        "alder_row", lambda survey: survey["existing"].update(fuel="electric", fuel_unit="kwh", boiler="none")
    )
    assert not any(one.code == "fuel_isolation" for one in electric.before_day_one)


def test_fumes_of_a_fire_that_stays(work: Any) -> None:
    told = words(work("thornlea"), "stove_kept")
    assert "carbon monoxide" in told and "registered" in told
    assert not cautions(work("alder_row"), "stove_kept")


def test_refrigerant_of_a_heat_pump_that_goes(work: Any) -> None:
    old = work("alder_row", lambda survey: survey["existing"].update(fuel="heat_pump", fuel_unit="kwh"))
    assert "certified person" in words(old, "existing_heat_pump")
    assert not cautions(work("alder_row"), "existing_heat_pump")
