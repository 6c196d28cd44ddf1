"""What holds for every labour-day plan: order, people, lags, working hours, services, and that it ends."""

import csv
import json
from decimal import Decimal
from itertools import pairwise
from pathlib import Path
from typing import Any

from hypothesis import given, settings as with_settings, strategies as st

from models.labour.plan import LabourPlan, plan
from models.labour.tasks import LabourRules, NeededTask, labour_rules, needed_tasks
from models.takeoff.quantities import FLAGS, QUANTITY_UNITS, Quantity, TakeOff

SEED = Path(__file__).parents[2] / "seed_data"
FILES = ("labour_tasks.csv", "task_hours.csv", "task_order.csv", "task_factors.csv")
BASES = {
    "rapid_slab": "slab_base",
    "standard_slab": "slab_base",
    "preformed": "preformed_base",
    "wall_bracket": "wall_mount",
}
MODEST = with_settings(max_examples=60, deadline=None)
DAY_MIN = 24 * 60
Job = tuple[tuple[NeededTask, ...], str]


def _rows(name: str) -> list[dict[str, str]]:
    with (SEED / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


RULES: LabourRules = labour_rules(
    *(_rows(name) for name in FILES), json.loads((SEED / "labour.json").read_text(encoding="utf-8"))
)


def _few(largest: int) -> st.SearchStrategy[Decimal]:
    return st.integers(0, largest).map(Decimal)


def _some(largest: int) -> st.SearchStrategy[Decimal]:
    return st.integers(0, largest * 100).map(lambda hundredths: Decimal(hundredths) / 100)


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    base = draw(st.sampled_from(sorted(BASES)))
    values: dict[str, Decimal] = dict.fromkeys(QUANTITY_UNITS, Decimal(0))
    for name, largest in (
        ("rooms_total", 20), ("rooms_disturbed", 12), ("emitters_total", 20), ("emitters_added", 4), ("loft_tanks", 3),
        ("emitters_swapped", 12), ("emitters_removed_only", 3), ("emitters_valve_only", 8), ("floor_lift_rooms", 4),
        ("changes_outside", 9), ("changes_inside", 9), ("discharge_bends", 9), ("volumisers", 2),
    ):  # fmt: skip
        values[name] = draw(_few(largest))
    for name, largest in (
        ("dig_m3", 1), ("soakaway_dig_m3", 1), ("base_volume_m3", 1), ("route_outside_m", 15), ("route_buried_m", 12),
        ("route_inside_m", 15), ("discharge_run_m", 12), ("cable_route_m", 40), ("main_upgrade_m", 15),
    ):  # fmt: skip
        values[name] = draw(_some(largest))
    values |= {"one": Decimal(1), "cylinders": Decimal(1), "penetrations": draw(st.integers(1, 4).map(Decimal))}
    values["units"] = draw(st.integers(1, 2).map(Decimal))
    values["wall_units" if base == "wall_bracket" else "ground_units"] = values["units"]
    hold = draw(
        st.sets(
            st.sampled_from([
                "oil", "combi", "cylinder_moves", "extension_board", "bonding_needed", "new_stopcock", "main_upgrade",
                "heavy_unit", "hard_dig", "stone_wall", "long_carry", "separation", "metering", "glycol", "accumulator",
                "timber_floor",
            ])
        )
    )  # fmt: skip
    hold |= {BASES[base], base, "cylinder_fitted", draw(st.sampled_from(["condensate_gully", "condensate_soakaway"]))}
    hold |= {"loft_tanks"} if values["loft_tanks"] else set()
    hold |= {"old_cylinder"} if "combi" not in hold else set()
    quantities = {name: Quantity(name, value, QUANTITY_UNITS[name], "") for name, value in values.items()}
    return needed_tasks(RULES, TakeOff(quantities, {flag: flag in hold for flag in FLAGS}, {}, {})), base


def _plan(job: Job, crew: int, cold: bool) -> LabourPlan:
    tasks, base = job
    return plan(tasks, crew, RULES.settings, starts_on=None, base_type=base, cold=cold)


def _minutes(day: int, at: str) -> int:
    """Minutes on the clock from the midnight before the first day."""
    return (day - 1) * DAY_MIN + int(at[:2]) * 60 + int(at[3:])


CREWS = st.integers(2, 6)


@MODEST
@given(jobs(), CREWS, st.booleans())
def test_order_and_lags_are_kept(job: Job, crew: int, cold: bool) -> None:
    tasks, base = job
    planned = {task.code: task for task in _plan(job, crew, cold).tasks}
    assert set(planned) == {needed.task.code for needed in tasks}
    for needed in tasks:
        start = planned[needed.task.code].start
        for place, lag_ticks, table in needed.after:
            before = planned[tasks[place].task.code]
            lag_h = Decimal(lag_ticks) / 60_000_000
            if table:
                lag_h = max(
                    lag_h,
                    RULES.settings.lag_tables_h[table][base] * (RULES.settings.cold_factors[table] if cold else 1),
                )
            done = _minutes(before.end.day, before.end.at)
            if (elapsed := tasks[place].task.elapsed_h) is not None:
                done = max(done, _minutes(before.start.day, before.start.at) + int(elapsed * 60))
            # a minute, since times of day are shown to the minute
            assert _minutes(start.day, start.at) >= done + lag_h * 60 - 1


@MODEST
@given(jobs(), CREWS, st.booleans())
def test_nobody_is_in_two_places_and_each_crew_is_complete(job: Job, crew: int, cold: bool) -> None:
    result = _plan(job, crew, cold)
    busy: dict[str, list[tuple[int, int]]] = {}
    for task in result.tasks:
        assert len(set(task.people)) == task.crew
        for person in task.people:
            busy.setdefault(person, []).extend((_minutes(d, a), _minutes(d, b)) for d, a, b in task.pieces)
    assert len([person for person in busy if person.startswith("engineer")]) <= result.crew <= crew
    for pieces in busy.values():
        pieces.sort()
        assert all(until <= since for (_, until), (since, _) in pairwise(pieces))


@MODEST
@given(jobs(), CREWS)
def test_work_is_done_in_working_hours_and_takes_its_time(job: Job, crew: int) -> None:
    hours = {needed.task.code: needed.duration_h for needed in job[0]}
    for task in _plan(job, crew, False).tasks:
        minutes = 0
        for _, since, until in task.pieces:
            assert ("08:00" <= since <= until <= "12:30") or ("13:00" <= since <= until <= "16:30")
            minutes += _minutes(1, until) - _minutes(1, since)
        # each end of a piece is shown to the nearest minute
        assert abs(minutes - float(hours[task.code]) * 60) <= 1 + len(task.pieces)


@MODEST
@given(jobs(), CREWS, st.booleans())
def test_what_is_done_in_one_go_lies_in_one_day(job: Job, crew: int, cold: bool) -> None:
    one_go = {needed.task.code for needed in job[0] if needed.task.one_go and needed.duration_h <= 8}
    for task in _plan(job, crew, cold).tasks:
        if task.code in one_go:
            assert task.start.day == task.end.day


@MODEST
@given(jobs(), CREWS, st.booleans())
def test_the_electrician_works_when_booked(job: Job, crew: int, cold: bool) -> None:
    result = _plan(job, crew, cold)
    booked = {visit.day: visit.booked for visit in result.visits if visit.trade == "electrician"}
    for task in result.tasks:
        if task.trade == "electrician":
            for day, since, _ in task.pieces:
                assert booked[day] == "whole_day" or since >= "13:00"
    if result.person_hours_by_trade["electrician"] <= Decimal("3.5"):
        assert list(booked.values()) == ["half_day"]


@MODEST
@given(jobs(), CREWS, st.booleans())
def test_days_are_at_least_the_bound_and_hours_add_up(job: Job, crew: int, cold: bool) -> None:
    result = _plan(job, crew, cold)
    assert result.days is not None and result.lower_bound_days <= result.days
    assert result.days == max(task.end.day for task in result.tasks)
    assert sum((needed.person_h for needed in job[0]), Decimal(0)) == result.person_hours
    engineer_h = result.person_hours_by_trade["engineer"]
    assert engineer_h <= result.days * 8 * result.crew


@MODEST
@given(jobs(), CREWS)
def test_more_engineers_never_make_it_longer(job: Job, crew: int) -> None:
    days: list[int] = []
    for engineers in range(2, crew + 1):
        result = _plan(job, engineers, False)
        assert result.days is not None
        days.append(result.days)
    assert days == sorted(days, reverse=True)


@MODEST
@given(jobs(), CREWS, st.booleans())
def test_hot_water_is_off_for_the_changeover_alone_where_the_old_cylinder_stays_live(
    job: Job, crew: int, cold: bool
) -> None:
    codes = {needed.task.code for needed in job[0]}
    result = _plan(job, crew, cold)
    windows: dict[str, Any] = {}
    for window in result.services:
        windows.setdefault(window.service, []).append(window)
        assert window.clock_h > 0 and 0 <= window.working_h <= window.clock_h
        assert window.overnight == window.on.day - window.off.day
    assert len(windows["heating"]) == 1
    if "CYLINDER-CHANGE" in codes:
        (window,) = windows["hot_water"]
        assert window.clock_h <= 1.1  # 0.6 h of work, and the break at most


@with_settings(max_examples=8, deadline=None)
@given(jobs(), CREWS, st.booleans())
def test_a_thorough_plan_keeps_the_rules_and_is_never_longer(job: Job, crew: int, cold: bool) -> None:
    tasks, base = job
    quick = _plan(job, crew, cold)
    result = plan(tasks, crew, RULES.settings, starts_on=None, base_type=base, cold=cold, effort="thorough")
    assert result.days is not None and quick.days is not None and result.days <= quick.days
    assert result.lower_bound_days <= result.days
    assert result == plan(tasks, crew, RULES.settings, starts_on=None, base_type=base, cold=cold, effort="thorough")
    planned = {task.code: task for task in result.tasks}
    busy: dict[str, list[tuple[int, int]]] = {}
    for needed in tasks:
        task = planned[needed.task.code]
        assert len(set(task.people)) == task.crew
        for place, _, _ in needed.after:
            before = planned[tasks[place].task.code]
            assert (before.end.day, before.end.at) <= (task.start.day, task.start.at)
        for person in task.people:
            busy.setdefault(person, []).extend((_minutes(d, a), _minutes(d, b)) for d, a, b in task.pieces)
    for pieces in busy.values():
        pieces.sort()
        assert all(until <= since for (_, until), (since, _) in pairwise(pieces))
