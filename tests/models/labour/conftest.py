"""The firm's labour rows and a few measured jobs, for all tests of this room."""

import csv
import json
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from models.labour.plan import LabourPlan, plan
from models.labour.tasks import LabourRules, labour_rules, needed_tasks
from models.takeoff.quantities import FLAGS, QUANTITY_UNITS, Quantity, TakeOff

SEED = Path(__file__).parents[3] / "seed_data"
FILES = ("labour_tasks.csv", "task_hours.csv", "task_order.csv", "task_factors.csv")

Rows = dict[str, list[dict[str, str]]]


@pytest.fixture(scope="session")
def rows() -> Rows:
    """The rows of each file as text. Copy before changing."""
    result: Rows = {}
    for name in FILES:
        with (SEED / name).open(encoding="utf-8", newline="") as file:
            result[name] = list(csv.DictReader(file))
    return result


@pytest.fixture(scope="session")
def settings() -> dict[str, Any]:
    result: dict[str, Any] = json.loads((SEED / "labour.json").read_text(encoding="utf-8"))
    return result


@pytest.fixture(scope="session")
def rules(rows: Rows, settings: dict[str, Any]) -> LabourRules:
    return labour_rules(*(rows[name] for name in FILES), settings)


@pytest.fixture(scope="session")
def jobs() -> dict[str, Any]:
    """The measured jobs by name, each with all its quantities."""
    read = json.loads((Path(__file__).parent / "take_offs.json").read_text(encoding="utf-8"))
    del read["note"]
    plain = read["straightforward"]["quantities"]
    return {name: job | {"quantities": plain | job["quantities"]} for name, job in read.items()}


def measured(quantities: dict[str, str], flags: list[str]) -> TakeOff:
    values = dict.fromkeys(QUANTITY_UNITS, "0") | quantities
    return TakeOff(
        {name: Quantity(name, Decimal(value), QUANTITY_UNITS[name], "") for name, value in values.items()},
        {flag: flag in flags for flag in FLAGS},
        {},
        {},
    )


@pytest.fixture(scope="session")
def take_off(jobs: dict[str, Any]) -> Callable[..., TakeOff]:
    """A job's take-off, with quantities changed by name and flags added or, with a minus, removed."""

    def make(name: str, flags: tuple[str, ...] = (), **quantities: str) -> TakeOff:
        job = jobs[name]
        kept = [flag for flag in job["flags"] if f"-{flag}" not in flags]
        return measured(job["quantities"] | quantities, [*kept, *flags])

    return make


@pytest.fixture(scope="session")
def planned(rules: LabourRules, jobs: dict[str, Any], take_off: Callable[..., TakeOff]) -> Callable[..., LabourPlan]:
    """The plan of a job: see `take_off`; other names are arguments of plan()."""

    def make(name: str, flags: tuple[str, ...] = (), crew: int = 2, **changes: Any) -> LabourPlan:
        arguments: dict[str, Any] = {"starts_on": None, "base_type": jobs[name]["base_type"], "cold": False}
        quantities = {key: value for key, value in changes.items() if key in QUANTITY_UNITS}
        arguments |= {key: value for key, value in changes.items() if key not in QUANTITY_UNITS}
        settings = arguments.pop("settings", rules.settings)
        tasks = needed_tasks(arguments.pop("rules", rules), take_off(name, flags, **quantities))
        return plan(tasks, crew, settings, **arguments)

    return make
