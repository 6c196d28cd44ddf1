"""What must be there before day one."""

from datetime import date
from typing import Any

import pytest

from models.labour.before import before_day_one, earliest_start

NOTHING: dict[str, Any] = {
    "network": "notify",
    "network_reply_days": None,
    "planning": "permitted",
    "planning_decision_days": None,
    "grant": None,
    "grant_offer_days": None,
    "cancellation_days": None,
    "early_start_asked_in_writing": False,
    "asbestos_samples": 0,
    "laboratory_days": None,
    "lead_times": (),
    "fuel": "electric",
}


def test_nothing_to_wait_for() -> None:
    assert before_day_one(**NOTHING) == ()
    assert earliest_start((), date(2026, 3, 2)) == date(2026, 3, 2)


@pytest.mark.parametrize(
    ("change", "code", "days"),
    [
        ({"network": "apply", "network_reply_days": 65}, "network_reply", 65),
        ({"network": "not_known"}, "network_reply", None),
        ({"planning": "application_needed", "planning_decision_days": 56}, "planning_decision", 56),
        ({"grant": "boiler grant", "grant_offer_days": 10}, "grant_offer", 10),
        ({"cancellation_days": 14}, "cancellation_period", 14),
        ({"cancellation_days": 14, "early_start_asked_in_writing": True}, "cancellation_period", 0),
        ({"asbestos_samples": 2, "laboratory_days": 5}, "asbestos_result", 5),
        ({"lead_times": (("valve", 3), ("cylinder", 12), ("unit", 9))}, "longest_lead_time", 12),
        ({"fuel": "mains_gas"}, "fuel_isolation", 0),
        ({"fuel": "oil"}, "fuel_isolation", 0),
    ],
)
def test_each_precondition(change: dict[str, Any], code: str, days: int | None) -> None:
    (only,) = before_day_one(**NOTHING | change)
    assert (only.code, only.calendar_days) == (code, days)
    assert only.what and only.who and only.reason and only.source


def test_the_longest_decides_and_an_unknown_leaves_it_open() -> None:
    change = {"cancellation_days": 14, "lead_times": (("cylinder", 21),)}
    waits = before_day_one(**NOTHING | change)
    assert earliest_start(waits, date(2026, 3, 2)) == date(2026, 3, 23)  # 2 March and 21 days
    assert earliest_start(before_day_one(**NOTHING | change | {"network": "apply"}), date(2026, 3, 2)) is None


def test_the_longest_lead_time_is_named() -> None:
    (only,) = before_day_one(**NOTHING | {"lead_times": (("valve", 3), ("cylinder", 12))})
    assert "cylinder" in only.what
