"""Examples for OpenAPI: the demo households."""

from typing import Any

from api.services.surveys import SECTIONS
from api.store.seed_files import demo_households


def estimate_examples() -> dict[str, Any]:
    """The demo households as requests for an estimate."""
    return {
        f"household_{number}": {
            "summary": household["survey"]["label"],
            "value": {"survey": household["survey"], "choices": household.get("choices", {})},
        }
        for number, household in enumerate(demo_households(), 1)
    }


def survey_example() -> dict[str, Any]:
    """The first demo household as a whole survey."""
    survey = demo_households()[0]["survey"]
    return {"household": {"summary": survey["label"], "value": survey}}


def room_example() -> dict[str, Any]:
    """A room of it; the id in the body is that of the address, or left out."""
    room = dict(demo_households()[0]["survey"]["rooms"][0])
    del room["id"]
    return {"room": {"summary": room["name"], "value": room}, "half_typed": {"value": {"name": room["name"]}}}


def position_example() -> dict[str, Any]:
    """A position of it."""
    position = dict(demo_households()[0]["survey"]["positions"][0])
    del position["id"]
    return {"position": {"summary": position["name"], "value": position}}


def section_examples() -> dict[str, Any]:
    """Each section of it that it has, for the address that ends with the section's name."""
    survey = demo_households()[0]["survey"]
    return {
        name: {"summary": f"/survey/{name}", "value": survey[kind.key]}
        for name, kind in SECTIONS.items()
        if survey.get(kind.key)
    }
