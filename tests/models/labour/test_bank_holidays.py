"""Bank holidays by nation against the general-purpose package `holidays`, and a plan that skips those of its nation."""

import csv
from collections import defaultdict
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from models.labour.plan import LabourPlan

holidays = pytest.importorskip("holidays")
SEED = Path(__file__).parents[3] / "seed_data"
CODES = {"england": "ENG", "wales": "WLS", "scotland": "SCT", "northern_ireland": "NIR"}


def _shipped() -> dict[str, set[date]]:
    found: dict[str, set[date]] = defaultdict(set)
    with (SEED / "bank_holidays.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            found[row["nation"]].add(date.fromisoformat(row["on"]))
    return found


@pytest.mark.parametrize("nation", CODES)
def test_no_working_day_of_a_nation_is_a_holiday_that_is_missing(nation: str) -> None:
    shipped = _shipped()[nation]
    years = {day.year for day in shipped}
    outside = holidays.country_holidays("GB", subdiv=CODES[nation], years=years)
    assert {day for day in shipped if day.weekday() < 5} == {day for day in outside if day.weekday() < 5}


def test_the_calendar_is_that_of_the_nation(planned: Callable[..., LabourPlan]) -> None:
    # 2 January is a holiday in Scotland alone: 2026 has it on a Friday
    shipped = _shipped()
    days = {
        nation: planned("straightforward", starts_on=date(2026, 1, 2), bank_holidays=frozenset(shipped[nation])).dates
        for nation in ("england", "scotland")
    }
    assert days["england"] == (date(2026, 1, 2), date(2026, 1, 5), date(2026, 1, 6))
    assert days["scotland"] == (date(2026, 1, 5), date(2026, 1, 6), date(2026, 1, 7))
