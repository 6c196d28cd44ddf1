"""Nothing decorative: a change of any leaf of a demo survey, or of any catalogue attribute, changes some output.

What is only recorded stands on a written list, with why.
"""

import copy
import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from functools import cache
from typing import Any

import pytest
from pydantic import ValidationError

from models.catalogue import Catalogue
from models.document import estimate_document
from models.estimate import Choices, estimate
from models.rules import offers_of
from models.survey import Survey

TODAY = date(2026, 11, 25)

RECORDED_ONLY = {
    "constructions.by": "says which kind of construction it is; another kind has other fields",
    "constructions.table": "says which table its row stands in; the row matters",
    "constructions.layers.paths.share_ratio": "the shares of a layer add up to 1, so none can change alone",
    "schema_version": "one version so far",
    "photos": "names of photographs, shown beside the survey",
    "label": "what the survey is called",
    "notes": "what the surveyor wants to be read beside it",
    "rooms.notes": "what the surveyor wants to be read beside the room",
    "house.place": "where it is, for people; climate and altitude have fields of their own",
    "constructions.layers.name": "what the layer is, for people",
    "existing.loft_tanks.name": "which tank it is, for people; the bill counts them",
    "existing.pump_head_m": "it comes out; its head tells whoever looks for why the flow was poor",
}
IN_SOME_HOUSES = {
    "hot_water.static_pressure_bar": (("hot_water", "dynamic_pressure_bar"), 0.7),
    "positions.faces_highway": (("house", "conservation_area"), "yes"),
    "positions.wall": (("positions", 0, "mount"), "wall"),
}
"""Leaves that matter only in a house of some kind: which leaf makes a demo household one."""

Path = tuple[str | int, ...]


def leaves(node: Any, path: Path = ()) -> Iterator[tuple[Path, Any]]:
    if isinstance(node, dict):
        for key, value in node.items():
            if key not in {"id", "known"} and value is not None:
                yield from leaves(value, (*path, key))
    elif isinstance(node, list):
        for index, value in enumerate(node):
            yield from leaves(value, (*path, index))
    else:
        yield path, node


def general(path: Path) -> str:
    return ".".join(step for step in path if isinstance(step, str))


def replaced(node: Any, path: Path, value: Any) -> Any:
    result = copy.deepcopy(node)
    place = result
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = value
    return result


def alternatives(survey: dict[str, Any], path: Path, value: Any) -> Iterator[Any]:
    """Other values for a leaf, from near to far; those that the schema refuses are skipped by the caller."""
    if isinstance(value, bool):
        yield not value
    elif isinstance(value, (int, float)):
        yield from (value + 1, value * 1.2, value * 0.8, value * 3, value * 0.3, value + 300, 0, "unknown")
    elif isinstance(value, str):
        key = path[-1]
        yield from _words(str(key), survey)
        yield None
        yield value + " changed"


def _words(key: str, survey: dict[str, Any]) -> Iterator[str]:
    yield from ("unknown", "yes", "no", "none")
    for definition in _schema().values():
        field = definition.get("properties", {}).get(key, {})
        for option in [field, *field.get("anyOf", [])]:
            yield from (word for word in option.get("enum", []) if isinstance(word, str))
    if key in {"construction", "beside_room", "room"}:
        yield from (part["id"] for part in survey["constructions"] + survey["rooms"])
    if key == "weather_station":
        yield from ("London", "Glasgow")
    if key in {"electricity_pence_per_kwh", "fuel_pence_per_kwh"}:
        yield "31.5"
    if key == "row":
        yield from ("roof: pitched; 50 mm at joists", "window: single glazed", "cavity",
                    "door: outside door age band L", "party wall: house; unknown", "cob")  # fmt: skip


@cache
def _schema() -> dict[str, Any]:
    definitions: dict[str, Any] = Survey.model_json_schema()["$defs"]
    return definitions


def _output(record: dict[str, Any], rules: Any, choices: Choices) -> str:
    survey = Survey.model_validate(record)
    document = estimate_document(estimate(survey, choices, rules, today=TODAY))
    # What only repeats the survey proves nothing: its hash, its list of what is assumed, its label.
    for echo in ("survey_sha256", "assumed", "assumed_count"):
        del document["basis"][echo]
    del document["label"]
    return json.dumps(document, sort_keys=True, default=str)


def test_every_leaf_of_the_demo_surveys_matters(rules: Any, households: dict[str, Any]) -> None:
    matters: dict[str, bool] = {}
    for name in ("alder_row", "thornlea", "weir_cottages"):
        survey = households[name]["survey"]
        choices = Choices.model_validate(households[name]["choices"])
        before = plain = _output(survey, rules, choices)
        for path, value in leaves(survey):
            key = general(path)
            if matters.get(key):
                continue
            survey, before = households[name]["survey"], plain
            if key in IN_SOME_HOUSES:
                survey = replaced(survey, *IN_SOME_HOUSES[key])
                before = _output(survey, rules, choices)
            matters.setdefault(key, False)
            for other in alternatives(survey, path, value):
                if other == value:
                    continue
                try:
                    after = _output(replaced(survey, path, other), rules, choices)
                except (ValidationError, ValueError):
                    continue
                if after != before:
                    matters[key] = True
                    break
    idle = sorted(key for key, used in matters.items() if not used)
    unlisted = [key for key in idle if key not in RECORDED_ONLY and key.split(".")[0] not in RECORDED_ONLY]
    assert not unlisted, f"these change nothing: {', '.join(unlisted)}"
    assert [key for key in RECORDED_ONLY if matters.get(key)] == [], "listed as only recorded but it changes something"


CATALOGUE_RECORDED_ONLY = {
    "emitters.type": "its construction, which its name says and its output already holds",
}


def catalogue_attributes() -> list[tuple[str, str]]:
    """Every attribute of every table but the SKUs, which are names, and what is only recorded."""
    found = []
    for table, field in Catalogue.model_fields.items():
        row = field.annotation.__args__[0]  # type: ignore[union-attr]
        for attribute, inner in row.model_fields.items():
            nested = getattr(inner.annotation, "__args__", ())
            if nested and hasattr(nested[0], "model_fields"):
                found += [(table, f"{attribute}.{name}") for name in nested[0].model_fields]
            elif attribute != "sku" and f"{table}.{attribute}" not in CATALOGUE_RECORDED_ONLY:
                found.append((table, attribute))
    return found


def _changes(value: Any) -> Iterator[Callable[[Any], Any]]:
    """Ways to change every value of an attribute at once."""
    if isinstance(value, bool):
        yield lambda old: not old
    elif isinstance(value, (int, float)):
        yield from (
            lambda old: old + 7, lambda old: old * 2, lambda old: old / 2, lambda old: old * 20, lambda old: old - 3,
            lambda old: old + 0.05, lambda old: old + 0.7,
        )  # fmt: skip
    else:
        for word in ("G1/2", "G3/4", "G1", "three", "panel", "towel_rail", "free_standing", "wall", "ground", "R744",
                     "outside", "inside", "heating", "drinking", "changed"):  # fmt: skip
            yield lambda old, word=word: word


@pytest.fixture(scope="module")
def variants(rules: Any, households: dict[str, Any]) -> list[tuple[dict[str, Any], Choices, str]]:
    """The demo households, one with a unit on the wall, and one so large that it takes two units; what comes out."""
    found = [
        (households[name]["survey"], Choices.model_validate(households[name]["choices"]))
        for name in ("alder_row", "thornlea", "weir_cottages")
    ]
    hung = copy.deepcopy(households["weir_cottages"]["survey"])
    hung["positions"][0] |= {"mount": "wall", "mount_height_m": 1.2}
    hung["positions"][0]["openings"].append({"what": "vent", "name": "low vent", "distance_m": 0.6, "height_m": 0.4})
    large = copy.deepcopy(households["thornlea"]["survey"])
    for room in large["rooms"]:
        room["air_changes_per_h"] = 3.0
    found += [(hung, Choices()), (large, Choices(flow_temp_c=55))]
    return [(survey, choices, _output(survey, rules, choices)) for survey, choices in found]


@pytest.mark.parametrize("table, attribute", catalogue_attributes(), ids=".".join)
def test_every_catalogue_attribute_matters(
    table: str, attribute: str, rules: Any, variants: list[tuple[dict[str, Any], Choices, str]]
) -> None:
    record = json.loads(rules.catalogue.model_dump_json())
    first, _, second = attribute.partition(".")
    sample = record[table][0][first]
    sample = sample[0][second] if second else sample
    for change in _changes(sample):
        changed = copy.deepcopy(record)
        for row in changed[table]:
            for target in row[first] if second else [row]:
                target[second or first] = change(target[second or first])
        try:
            other = _with_catalogue(rules, Catalogue.model_validate(changed))
            for survey, choices, old in variants:
                if _output(survey, other, choices) != old:
                    return
        except (ValidationError, ValueError):
            continue
    raise AssertionError(f"{table}.{attribute} changes nothing in any demo household (it is {sample!r})")


def _with_catalogue(rules: Any, catalogue: Catalogue) -> Any:
    offers = offers_of(
        catalogue=catalogue,
        price_list=rules.price_list,
        recipes=rules.recipes,
        labour=rules.labour,
        rates=rules.rates,
    )
    return replace(rules, catalogue=catalogue, offers=offers)
