"""A straightforward job: two engineers, three days, in the order in which the trade does it."""

import csv
import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from models.labour.plan import LabourPlan, PlannedTask, plan
from models.labour.tasks import NeededTask, labour_rules, needed_tasks
from models.takeoff.quantities import FLAGS, QUANTITY_UNITS, Quantity, TakeOff

SEED = Path(__file__).parents[2] / "seed_data"
FILES = ("labour_tasks.csv", "task_hours.csv", "task_order.csv", "task_factors.csv")
TRADE = pytest.mark.oracle(
    question="labour",
    source="common practice, no source: how a straightforward job of two engineers runs",
    standing="common practice",
    tolerance="exact: days and order",
)
# 10 rooms; 9 emitters, of which 3 are swapped and 2 get valves, and 1 added; 7 m of route, 2.5 outside and 4.5 inside;
# a rapid slab of 1.1 x 0.5 x 0.15 m, a soakaway of 0.3 m3; the old vented cylinder stood where the new one goes; oil
QUANTITIES = {
    "one": "1", "units": "1", "ground_units": "1", "cylinders": "1", "rooms_total": "10", "rooms_disturbed": "6",
    "emitters_total": "9", "emitters_swapped": "3", "emitters_added": "1", "emitters_valve_only": "2",
    "floor_lift_rooms": "1", "base_volume_m3": "0.0825", "dig_m3": "0.1375", "soakaway_dig_m3": "0.3",
    "route_outside_m": "2.5", "route_inside_m": "4.5", "changes_outside": "3", "changes_inside": "5",
    "penetrations": "1", "discharge_run_m": "5", "discharge_bends": "4", "cable_route_m": "12", "loft_tanks": "2",
}  # fmt: skip
HOLD = {
    "ground_mount", "slab_base", "rapid_slab", "condensate_soakaway", "old_cylinder", "loft_tanks", "oil",
    "timber_floor", "cylinder_fitted", "antifreeze_valves", "emitters_changed", "floor_lifted",
}  # fmt: skip


def _rows(name: str) -> list[dict[str, str]]:
    with (SEED / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _needed(**changes: str) -> tuple[tuple[NeededTask, ...], Any]:
    rules = labour_rules(
        *(_rows(name) for name in FILES), json.loads((SEED / "labour.json").read_text(encoding="utf-8"))
    )
    values = dict.fromkeys(QUANTITY_UNITS, "0") | QUANTITIES | changes
    quantities = {name: Quantity(name, Decimal(value), QUANTITY_UNITS[name], "") for name, value in values.items()}
    return needed_tasks(rules, TakeOff(quantities, {flag: flag in HOLD for flag in FLAGS}, {}, {})), rules.settings


@pytest.fixture(scope="module")
def straightforward() -> LabourPlan:
    tasks, settings = _needed()
    return plan(tasks, 2, settings, starts_on=None, base_type="rapid_slab", cold=False)


@pytest.fixture(scope="module")
def tasks(straightforward: LabourPlan) -> dict[str, PlannedTask]:
    return {task.code: task for task in straightforward.tasks}


@TRADE
def test_two_engineers_take_three_days(straightforward: LabourPlan) -> None:
    assert straightforward.days == 3
    assert straightforward.crew == 2
    assert not [finding for finding in straightforward.findings if finding.strength == "stop"]


@TRADE
def test_groundworks_are_done_on_day_one(tasks: dict[str, PlannedTask]) -> None:
    for code in ("GROUND-SETOUT", "GROUND-DIG", "GROUND-SOAKAWAY", "GROUND-SLAB"):
        assert tasks[code].start.day == tasks[code].end.day == 1


@TRADE
def test_the_unit_is_set_after_the_soakaway_and_on_a_cured_slab(tasks: dict[str, PlannedTask]) -> None:
    soakaway, slab, unit = tasks["GROUND-SOAKAWAY"], tasks["GROUND-SLAB"], tasks["PRIMARY-SET"]
    assert (soakaway.end.day, soakaway.end.at) <= (slab.start.day, slab.start.at)
    assert unit.start.day == 2


@TRADE
def test_the_electrician_comes_once_on_the_afternoon_of_day_two(straightforward: LabourPlan) -> None:
    (visit,) = [visit for visit in straightforward.visits if visit.trade == "electrician"]
    assert (visit.day, visit.booked) == (2, "half_day")
    assert "13:00" <= visit.arrives < visit.leaves <= "16:30"


@TRADE
def test_the_flush_is_on_day_two_and_commissioning_and_balancing_on_day_three(tasks: dict[str, PlannedTask]) -> None:
    assert tasks["WATER-FLUSH"].start.day == tasks["WATER-FLUSH"].end.day == 2
    for code in ("COMMISSION-START", "COMMISSION-BALANCE", "CLOSE-HANDOVER"):
        assert tasks[code].start.day == tasks[code].end.day == 3


@TRADE
def test_the_old_cylinder_goes_on_day_one_where_the_new_one_takes_its_place(tasks: dict[str, PlannedTask]) -> None:
    assert tasks["STRIP-CYLINDER"].start.day == 1


@pytest.mark.oracle(
    question="labour",
    source="hand arithmetic: work of the engineers, two of them, eight hours a day",
    standing="second computation",
    tolerance="exact: whole days",
)
def test_three_days_are_the_fewest(straightforward: LabourPlan) -> None:
    hours = straightforward.person_hours_by_trade["engineer"]
    assert 2 * 2 * 8 < hours <= 3 * 2 * 8  # more than two days' work for two, and not more than three
    assert straightforward.lower_bound_days == 3 and straightforward.proven


@pytest.mark.oracle(
    question="labour",
    source="OR-Tools CP-SAT, the same tasks in minutes with the electrician and the night as constraints",
    standing="second computation",
    tolerance="exact: whole days",
)
@pytest.mark.parametrize(
    ("changes", "days"),
    [({}, 3), ({"emitters_swapped": "9"}, None), ({"emitters_swapped": "0", "emitters_added": "0"}, None)],
)
def test_a_general_solver_finds_no_shorter_plan(changes: dict[str, str], days: int | None) -> None:
    tasks, settings = _needed(**changes)
    ours = plan(tasks, 2, settings, starts_on=None, base_type="rapid_slab", cold=False)
    fewest = _fewest_days(tasks)
    assert ours.days == fewest
    assert days is None or days == fewest


def _fewest_days(tasks: tuple[NeededTask, ...]) -> int:
    """The fewest days by constraint programming, on minutes of work: 480 a day, the break at 270, nights left out.

    It has more freedom than the plan (minutes rounded down, nobody lacks a skill, nothing is done in one go, no lag
    but the curing), so that it can only find too few days, never too many.
    """
    cp_model = pytest.importorskip("ortools.sat.python.cp_model")
    for days in range(1, 9):
        model = cp_model.CpModel()
        end_of_all = days * 480
        starts, ends, intervals, electric = [], [], [], []
        afternoon = model.new_int_var(0, days - 1, "afternoon")
        for number, task in enumerate(tasks):
            length = int(task.duration_h * 60)
            start = model.new_int_var(0, end_of_all, f"start {number}")
            end = model.new_int_var(0, end_of_all, f"end {number}")
            interval = model.new_interval_var(start, length, end, f"task {number}")
            starts.append(start)
            ends.append(end)
            if task.task.trade == "electrician":
                electric.append(interval)
                model.add(start >= 480 * afternoon + 270)
                model.add(end <= 480 * afternoon + 480)
            else:
                intervals.append((interval, task.task.crew))
            for before, _, table in task.after:
                if table == "cure":
                    # cast by minute w of a day's work, that is 08:00 + w (and the break): 18 h later it is 08:00 + w
                    # - 360 min of the next day, or earlier than its start
                    day = model.new_int_var(0, days, "day cast")
                    model.add(ends[before] <= 480 * day + 480)
                    model.add(start >= 480 * (day + 1))
                    model.add(start >= ends[before] + 480 - 360)
                else:
                    model.add(start >= ends[before])
        model.add_no_overlap(electric)
        model.add_cumulative([interval for interval, _ in intervals], [crew for _, crew in intervals], 2)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.max_deterministic_time = 10
        status = solver.solve(model)
        assert status in (cp_model.OPTIMAL, cp_model.FEASIBLE, cp_model.INFEASIBLE)
        if status != cp_model.INFEASIBLE:
            return days
    raise AssertionError("no plan of eight days")
