"""Labour rows: what is refused, and the hours and predecessors that a job gets from them."""

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from models.labour.tasks import TICKS_PER_H, LabourRules, NeededTask, RefusedRow, labour_rules, needed_tasks
from models.takeoff.quantities import TakeOff

FILES = ("labour_tasks.csv", "task_hours.csv", "task_order.csv", "task_factors.csv")
TASK = {
    "code": "A", "phase": "Open", "name": "task A", "trade": "engineer", "crew": "1", "skills": "",
    "fixed_person_h": "1", "elapsed_h": "", "one_go": "no", "weather_exposed": "no", "services_off": "",
    "services_restored": "", "when": "",
}  # fmt: skip
HOURS = {"task": "A", "driver": "rooms_total", "amount": "0.1", "per": "1", "when": ""}
ORDER = {"task": "B", "after": "A", "lag_h": "", "lag_table": "", "when": ""}
FACTOR = {"flag": "hard_dig", "tasks": "A", "multiplier": "1.6"}

Rows = list[dict[str, str]]
TakeOffs = Callable[..., TakeOff]


def of(settings: dict[str, Any], tasks: Rows, hours: Rows = [], order: Rows = [], factors: Rows = []) -> LabourRules:  # noqa: B006
    return labour_rules(tasks, hours, order, factors, settings)


def by_code(tasks: tuple[NeededTask, ...]) -> dict[str, NeededTask]:
    return {task.task.code: task for task in tasks}


@pytest.mark.parametrize(
    ("file", "row", "words"),
    [
        (0, {"crew": "7"}, "labour_tasks.csv, row 2: crew is a whole number from 1 to 6, not '7'"),
        (0, {"crew": "two"}, "labour_tasks.csv, row 2: crew is a whole number from 1 to 6, not 'two'"),
        (0, {"name": ""}, "labour_tasks.csv, row 2: name is empty"),
        (0, {"fixed_person_h": "an hour"}, "labour_tasks.csv, row 2: fixed_person_h is a number, not 'an hour'"),
        (0, {"fixed_person_h": "-1"}, "labour_tasks.csv, row 2: fixed_person_h is not below 0, not '-1'"),
        (0, {"fixed_person_h": "NaN"}, "labour_tasks.csv, row 2: fixed_person_h is not below 0, not 'NaN'"),
        (0, {"when": "full_moon"}, "labour_tasks.csv, row 2: no flag is called 'full_moon'"),
        (0, {"when": "oil and combi and glycol"}, "labour_tasks.csv, row 2: when has at most two flags, not 3"),
        (0, {"services_off": "gas"}, "labour_tasks.csv, row 2: a service is one of heating, hot_water, cold_water"),
        (0, {"one_go": "perhaps"}, "labour_tasks.csv, row 2: one_go is yes or no, not 'perhaps'"),
        (0, {"colour": "red"}, "labour_tasks.csv, row 2: its columns are code, phase"),
        (0, {"trade": "electrician", "crew": "2"}, "labour_tasks.csv, row 2: the electrician comes alone"),
        (1, {"driver": "rooms"}, "task_hours.csv, row 2: no quantity is called 'rooms'"),
        (1, {"driver": "plan_days"}, "task_hours.csv, row 2: no quantity is called 'plan_days'"),
        (1, {"task": "X"}, "task_hours.csv, row 2: no task is called 'X'"),
        (1, {"per": "0"}, "task_hours.csv, row 2: per is above 0"),
        (2, {"after": "X"}, "task_order.csv, row 2: no task is called 'X'"),
        (2, {"lag_table": "drying"}, "task_order.csv, row 2: labour.json has no lag table 'drying'"),
        (2, {"lag_table": "cure", "lag_h": "2"}, "task_order.csv, row 2: a lag is a number of hours or a table"),
        (3, {"flag": "mud"}, "task_factors.csv, row 2: no flag is called 'mud'"),
        (3, {"tasks": "A X"}, "task_factors.csv, row 2: no task is called 'X'"),
        (3, {"multiplier": "0"}, "task_factors.csv, row 2: multiplier is above 0"),
    ],
)
def test_a_broken_row_is_refused_in_words(settings: dict[str, Any], file: int, row: dict[str, str], words: str) -> None:
    good = ([TASK, TASK | {"code": "B"}], [HOURS], [ORDER], [FACTOR])
    of(settings, *good)
    broken = [list(rows) for rows in good]
    broken[file][0] = broken[file][0] | row
    with pytest.raises(RefusedRow) as refused:
        of(settings, *broken)
    assert str(refused.value).startswith(words)
    assert refused.value.file == FILES[file] and refused.value.row == 2 and refused.value.reason


def test_a_code_stands_once(settings: dict[str, Any]) -> None:
    with pytest.raises(RefusedRow, match=r"labour_tasks\.csv, row 3: task A stands twice"):
        of(settings, [TASK, TASK])


def test_an_order_in_a_circle_is_refused_with_its_tasks(settings: dict[str, Any]) -> None:
    tasks = [TASK | {"code": code} for code in "ABCD"]
    order = [ORDER | {"task": task, "after": after} for task, after in ("BA", "CB", "DC", "BD")]
    with pytest.raises(RefusedRow, match=r"task_order\.csv: the order goes in a circle: B after D after C after B"):
        of(settings, tasks, [], order)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"day": {"start": "8", "end": "16:30", "break_from": "12:30", "break_to": "13:00"}}, "start is a time of day"),
        ({"day": {"start": "08:00", "end": "12:00", "break_from": "12:30", "break_to": "13:00"}}, "do not follow"),
        ({"electrician_half_day": {"from": "12:00", "to": "15:00"}}, "not over the break"),
        ({"lag_tables": {"cure": {"rapid_slab": "18"}}}, "has hours for each of"),
        ({"cold_factors": {"cure": "0.5"}}, "is at least 1"),
        ({"usual_crew": 0}, "usual_crew is a whole number"),
        ({"people": [{"name": "a", "trade": "plumber"}]}, "a trade is engineer, electrician or groundworker"),
        ({"people": [{"name": "a", "trade": "engineer"}, {"name": "a", "trade": "engineer"}]}, "a name stands twice"),
        ({"visit_rounding_h": "0"}, "visit_rounding_h is above 0"),
        ({"thin_last_day_h": None}, "thin_last_day_h is a number"),
    ],
)
def test_a_broken_setting_is_refused(settings: dict[str, Any], change: dict[str, Any], words: str) -> None:
    with pytest.raises(RefusedRow, match=words):
        of(settings | change, [TASK])


def test_a_missing_section_is_refused(settings: dict[str, Any]) -> None:
    with pytest.raises(RefusedRow, match=r"labour\.json: day is missing"):
        of({key: value for key, value in settings.items() if key != "day"}, [TASK])


def test_hours_are_exact_and_not_rounded_per_task(rules: LabourRules, take_off: TakeOffs) -> None:
    needed = by_code(needed_tasks(rules, take_off("straightforward")))
    # by hand: 0.75 + 2.5 x 0.45 + 3 x 0.06 = 2.055; 0.6 + 5 x 0.14 + 4 x 0.05 = 1.5; 1.0 + 10 x 0.03 = 1.3 for two
    assert needed["PRIMARY-OUTSIDE"].person_h == Decimal("2.055")
    assert needed["CYLINDER-DISCHARGE"].person_h == Decimal("1.5")
    assert needed["OPEN-ARRIVE"].person_h == Decimal("1.3")
    assert needed["OPEN-ARRIVE"].duration_h == Decimal("0.65")
    # by hand: 0.3 + 2.6 x (0.14 + 0.3) = 1.444; 1.0 + 0.5 for oil
    assert needed["GROUND-DIG"].person_h == Decimal("1.444")
    assert needed["STRIP-BOILER"].person_h == Decimal("1.5")


@pytest.mark.parametrize("crew", [1, 2, 3, 4, 5, 6])
def test_a_duration_is_person_hours_by_crew_without_a_rest(
    settings: dict[str, Any], take_off: TakeOffs, crew: int
) -> None:
    rules = of(settings, [TASK | {"fixed_person_h": "1.000001", "crew": str(crew)}])
    (only,) = needed_tasks(rules, take_off("straightforward"))
    assert Fraction(only.duration_ticks, TICKS_PER_H) == Fraction("1.000001") / crew


def test_two_drivers_are_two_rows_and_factors_multiply(settings: dict[str, Any], take_off: TakeOffs) -> None:
    hours = [HOURS, HOURS | {"driver": "emitters_total", "amount": "0.5", "per": "3"}, HOURS | {"when": "glycol"}]
    factors = [FACTOR, FACTOR | {"flag": "long_carry", "multiplier": "1.08"}]
    rules = of(settings, [TASK], hours, [], factors)
    (plain,) = needed_tasks(rules, take_off("straightforward"))
    assert plain.person_h == Decimal("3.5")  # 1 + 10 rooms x 0.1 + 9 emitters x 0.5 / 3
    (slow,) = needed_tasks(rules, take_off("straightforward", ("hard_dig", "long_carry", "glycol")))
    assert slow.person_h == Decimal("7.776")  # 4.5 x 1.6 x 1.08


def test_a_task_that_is_not_needed_hands_on_its_predecessors_with_the_larger_lag(
    settings: dict[str, Any], take_off: TakeOffs
) -> None:
    tasks = [TASK | {"code": code} for code in "ABCD"]
    tasks[1]["when"] = "glycol"
    tasks[2]["fixed_person_h"] = "0"
    order = [
        ORDER | {"task": "B", "after": "A", "lag_h": "3"},
        ORDER | {"task": "C", "after": "B", "lag_h": "2"},
        ORDER | {"task": "D", "after": "C", "lag_h": "0.5"},
    ]
    rules = of(settings, tasks, [], order)
    last = needed_tasks(rules, take_off("straightforward"))[-1]
    assert last.task.code == "D" and last.after == ((0, 3 * TICKS_PER_H, ""),)
    with_b = needed_tasks(rules, take_off("straightforward", ("glycol",)))[-1]
    assert with_b.after == ((1, 2 * TICKS_PER_H, ""),)


def test_a_quantity_that_was_not_measured_is_no_zero(settings: dict[str, Any], take_off: TakeOffs) -> None:
    job = take_off("straightforward")
    without = {name: quantity for name, quantity in job.quantities.items() if name != "rooms_total"}
    with pytest.raises(KeyError, match="rooms_total"):
        needed_tasks(of(settings, [TASK], [HOURS]), TakeOff(without, job.flags, {}, {}))


def test_needed_tasks_stand_after_what_they_come_after(
    rules: LabourRules, jobs: dict[str, Any], take_off: TakeOffs
) -> None:
    for name in jobs:
        for place, task in enumerate(needed_tasks(rules, take_off(name))):
            assert all(before < place for before, _, _ in task.after)
