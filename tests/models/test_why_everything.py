"""Every figure of the design part of an answer opens into a reason; the few that do not are written down here."""

import copy
from collections.abc import Iterator
from datetime import date
from typing import Any

import pytest

from models.document import estimate_document
from models.estimate import Choices, estimate
from models.survey import Survey

TODAY = date(2026, 11, 25)
ECHOES = {
    "storey": "the storey of a room, as surveyed",
    "assumed": "says whether an input was assumed; the input itself says so in the reason beside it",
}
"""Last parts of paths that carry no figure of the design but what was put in."""
NAMES = ("room_id", "construction_id", "where", "method", "code", "position_id", "emitter_id", "wall_space_id", "sku",
         "name", "flow_temp_c", "od_mm", "kind", "element_id")  # fmt: skip
"""What a row of a table goes by in paths, the first that it has."""
Path = tuple[str, ...]


def name_of(row: Any, index: int) -> str:
    if isinstance(row, list) and row and isinstance(row[0], str):
        return str(row[0])
    if not isinstance(row, dict):
        return str(index)
    for key in NAMES:
        if row.get(key) not in (None, ""):
            return f"{row[key]:g}" if isinstance(row[key], float) else str(row[key])
    return str(index)


def figures(node: Any, path: Path) -> Iterator[tuple[Path, Any]]:
    """Every number and every yes or no at or below a place of a document; of lists, rows by their names."""
    if isinstance(node, dict):
        for key, value in node.items():
            yield from figures(value, (*path, key))
    elif isinstance(node, list):
        elements = path[-1] == "elements"
        seen: dict[str, int] = {}
        for index, row in enumerate(node):
            name = row["element_id"] if elements else name_of(row, index)
            seen[name] = seen.get(name, 0) + 1
            yield from figures(row, (*path, name if seen[name] == 1 else f"{name}~{seen[name]}"))
    elif node is not None and not isinstance(node, str):
        yield path, node


def opens(path: Path, why: dict[str, Any]) -> bool:
    """A reason of its own, one of the row that it stands in, or a place among the numbers of one beside it."""
    if any(".".join(path[:length]) in why for length in range(2, len(path) + 1)):
        return True
    beside = ".".join(path[:-1])
    return any(
        number["name"] == path[-1]
        for at, entry in why.items() if at.rpartition(".")[0] == beside
        for number in entry["numbers"]
    )  # fmt: skip


def glycol(survey: dict[str, Any]) -> None:
    survey["house"] |= {"power_cuts": "frequent", "altitude_m": 400}


def ducts(survey: dict[str, Any]) -> None:
    survey["house"]["air_permeability_m3_per_h_m2"] = 4.0
    survey["rooms"][0] |= {"extract_m3_per_h": 40, "background_vents_m3_per_h": 20}
    survey["rooms"][1] |= {"supply_m3_per_h": 40, "heat_recovery_ratio": 0.8}


def untouched(survey: dict[str, Any]) -> None:
    pass


CASES = [
    ("thornlea", untouched, {}),
    ("alder_row", untouched, {"flow_temp_c": 47.5}),
    ("weir_cottages", glycol, {}),
    ("thornlea", ducts, {"heat_loss_method": "standard"}),
    ("thornlea", untouched, {"outdoor_unit_sku": "UNT-030"}),
    ("smallest", untouched, {}),
]


@pytest.fixture(params=CASES, ids=lambda case: f"{case[0]}-{case[1].__name__}-{'-'.join(case[2])}")
def document(request: pytest.FixtureRequest, rules: Any, households: dict[str, Any]) -> dict[str, Any]:
    name, edit, choices = request.param
    survey = copy.deepcopy(households[name]["survey"])
    edit(survey)
    worked_out = estimate(Survey.model_validate(survey), Choices(**choices), rules, today=TODAY)
    return estimate_document(worked_out, why=True)


def test_every_figure_of_the_design_opens(document: dict[str, Any]) -> None:
    why = document["why"]
    there = list(figures(document["design"], ("design",)))
    assert len(there) > 100
    closed = [".".join(path) for path, _ in there if path[-1] not in ECHOES and not opens(path, why)]
    assert closed == []


def test_without_a_store_nothing_is_said_of_what_it_takes(rules: Any, households: dict[str, Any]) -> None:
    survey = Survey.model_validate(households["smallest"]["survey"])
    water = estimate_document(estimate(survey, Choices(), rules, today=TODAY))["design"]["hot_water"]
    assert water["volume_l"] is None and water["store_needed_l"] > 0
    assert (water["standing_loss_kwh_per_year"], water["hygiene_kwh_per_year"]) == (None, None)


def test_what_is_excepted_is_there_and_nothing_else(document: dict[str, Any]) -> None:
    last = {path[-1] for path, _ in figures(document["design"], ("design",))}
    assert set(ECHOES) <= last


def test_a_reason_shows_the_figure_that_it_opens(document: dict[str, Any]) -> None:
    """Where a reason names the figure itself among its numbers, it is the figure of the answer."""
    found = {".".join(path): value for path, value in figures(document["design"], ("design",))}
    for path, entry in document["why"].items():
        figure = path.rpartition(".")[2]
        for number in entry["numbers"]:
            if path in found and number["name"] == figure:
                assert number["value"] == found[path], path


def test_the_vessel_is_reckoned_from_what_opens(rules: Any, households: dict[str, Any]) -> None:
    """Content, growth and reserve by their own reasons; the first ice of the mixture by its own."""
    survey = copy.deepcopy(households["thornlea"]["survey"])
    survey["house"] |= {"power_cuts": "frequent"}
    document = estimate_document(estimate(Survey.model_validate(survey), Choices(), rules, today=TODAY), why=True)
    volume, why = document["design"]["system_volume"], document["why"]
    numbers = {
        figure: {number["name"]: number["value"] for number in why[f"design.system_volume.{figure}"]["numbers"]}
        for figure in ("emitters_l", "unit_and_coil_l", "pipes_l", "expansion_ratio", "reserve_l", "vessel.volume_l")
    }
    assert sum(numbers["emitters_l"].values()) == pytest.approx(volume["emitters_l"])
    given = numbers["unit_and_coil_l"]
    assert given["count"] * given["unit_water_l"] + given["coil_volume_l"] == pytest.approx(volume["unit_and_coil_l"])
    assert numbers["reserve_l"]["reserve_l"] == max(0.005 * volume["total_l"], 3.0)  # BS EN 12828 Annex D
    assert numbers["vessel.volume_l"]["vessel_l"] >= volume["vessel_needed_l"]
    glycol = {
        number["name"]: number["value"] for number in why["design.frost_protection.glycol_ratio"]["numbers"]
    }  # fmt: skip
    assert glycol["glycol_ratio"] == numbers["expansion_ratio"]["glycol_ratio"] > 0
    assert glycol["first_ice_c"] <= glycol["first_ice_wanted_c"] == glycol["design_outdoor_temp_c"] - 5
