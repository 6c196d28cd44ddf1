"""Examples for OpenAPI: the demo households."""

from typing import Any

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
