"""The labour-day plan: days, people, services, findings. Expected times are worked out by hand beside each check."""

from collections.abc import Callable
from copy import deepcopy
from dataclasses import replace
from datetime import date
from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest

from models.labour.plan import LabourPlan, PlannedTask, forget_plans, plan
from models.labour.tasks import LabourRules, labour_rules, needed_tasks
from models.takeoff.quantities import TakeOff

FILES = ("labour_tasks.csv", "task_hours.csv", "task_order.csv", "task_factors.csv")
Planned = Callable[..., LabourPlan]
TASK = {
    "code": "", "phase": "Open", "name": "", "trade": "engineer", "crew": "1", "skills": "", "fixed_person_h": "1",
    "elapsed_h": "", "one_go": "no", "weather_exposed": "no", "services_off": "", "services_restored": "", "when": "",
}  # fmt: skip
ORDER = {"task": "", "after": "", "lag_h": "", "lag_table": "", "when": ""}


def tasks_of(result: LabourPlan) -> dict[str, PlannedTask]:
    return {task.code: task for task in result.tasks}


def codes(result: LabourPlan) -> set[str]:
    return {finding.code for finding in result.findings}


def small(
    settings: dict[str, Any],
    take_off: Callable[..., TakeOff],
    tasks: dict[str, dict[str, str]],
    *order: tuple[str, str, str],
    crew: int = 2,
    **arguments: Any,
) -> LabourPlan:
    """The plan of a few tasks: code -> changed columns; (task, after, lag in hours)."""
    rows = [TASK | {"code": code, "name": code} | change for code, change in tasks.items()]
    steps = [ORDER | {"task": task, "after": after, "lag_h": lag} for task, after, lag in order]
    rules = labour_rules(rows, [], steps, [], settings)
    arguments = {"starts_on": None, "base_type": "rapid_slab", "cold": False} | arguments
    return plan(needed_tasks(rules, take_off("straightforward")), crew, rules.settings, **arguments)


@pytest.fixture
def few(settings: dict[str, Any], take_off: Callable[..., TakeOff]) -> Callable[..., LabourPlan]:
    return lambda *arguments, **named: small(settings, take_off, *arguments, **named)


def test_a_task_is_cut_at_the_break_and_at_the_end_of_the_day(few: Callable[..., LabourPlan]) -> None:
    (task,) = few({"A": {"fixed_person_h": "10"}}).tasks
    # ten hours: 4.5 before the break, 3.5 after it, 2 the next day
    assert task.pieces == ((1, "08:00", "12:30"), (1, "13:00", "16:30"), (2, "08:00", "10:00"))
    assert (task.start.day, task.start.at, task.end.day, task.end.at) == (1, "08:00", 2, "10:00")


def test_one_go_is_not_cut_at_the_end_of_the_day_if_it_fits_into_one(few: Callable[..., LabourPlan]) -> None:
    a = {"fixed_person_h": "6"}
    split = tasks_of(few({"A": a, "B": {"fixed_person_h": "3"}}, ("B", "A", "")))
    assert split["B"].pieces == ((1, "14:30", "16:30"), (2, "08:00", "09:00"))
    whole = tasks_of(few({"A": a, "B": {"fixed_person_h": "3", "one_go": "yes"}}, ("B", "A", "")))
    assert whole["B"].pieces == ((2, "08:00", "11:00"),)
    longer = tasks_of(few({"A": a, "B": {"fixed_person_h": "9", "one_go": "yes"}}, ("B", "A", "")))
    assert longer["B"].start.day == 1


def test_two_work_side_by_side_and_two_lift_together(few: Callable[..., LabourPlan]) -> None:
    result = tasks_of(few({"A": {}, "B": {"fixed_person_h": "2"}, "C": {"crew": "2"}}, ("C", "A", "")))
    assert result["A"].start.at == result["B"].start.at == "08:00"
    assert result["C"].people == ("engineer 1", "engineer 2")
    assert result["C"].pieces == ((1, "10:00", "10:30"),)  # both free at ten; one person-hour for two


def test_a_lag_runs_on_the_clock(few: Callable[..., LabourPlan]) -> None:
    # 4 h of work end at 12:00; one hour on the clock is 13:00, although half of it is the break
    result = tasks_of(few({"A": {"fixed_person_h": "4"}, "B": {}}, ("B", "A", "1")))
    assert (result["B"].start.day, result["B"].start.at) == (1, "13:00")
    # ends at 12:00; 18 h later is 06:00: the start of day 2
    result = tasks_of(few({"A": {"fixed_person_h": "4"}, "B": {}}, ("B", "A", "18")))
    assert (result["B"].start.day, result["B"].start.at) == (2, "08:00")
    # ends at 16:30, not at 08:00 of the next day; 18 h later is 10:30
    result = tasks_of(few({"A": {"fixed_person_h": "8"}, "B": {}}, ("B", "A", "18")))
    assert (result["B"].start.day, result["B"].start.at) == (2, "10:30")


def test_what_takes_longer_than_it_is_attended_leaves_the_engineer_free(few: Callable[..., LabourPlan]) -> None:
    tasks = {"A": {"fixed_person_h": "0.3", "elapsed_h": "2"}, "B": {}, "C": {}}
    result = tasks_of(few(tasks, ("B", "A", ""), crew=1))
    assert result["A"].pieces == ((1, "08:00", "08:18"),)
    assert result["C"].pieces == ((1, "08:18", "09:18"),)
    assert result["B"].start.at == "10:00"


def test_curing_lies_between_the_slab_and_setting_the_unit(planned: Planned) -> None:
    rapid = tasks_of(planned("straightforward"))
    slab, unit = rapid["GROUND-SLAB"], rapid["PRIMARY-SET"]
    assert slab.end.day == 1 and slab.end.at <= "14:00"  # + 18 h is 08:00
    assert (unit.start.day, unit.start.at) == (2, "08:00")
    standard = tasks_of(planned("straightforward", ("-rapid_slab", "standard_slab"), base_type="standard_slab"))
    assert standard["PRIMARY-SET"].start.day - standard["GROUND-SLAB"].end.day >= 2  # + 48 h
    cold = planned("straightforward", base_type="standard_slab", cold=True)
    assert tasks_of(cold)["PRIMARY-SET"].start.day - tasks_of(cold)["GROUND-SLAB"].end.day >= 3  # + 72 h
    assert "cold_lengthens_lag" in codes(cold)


@pytest.mark.parametrize(
    ("base_type", "cold", "day", "at"),
    # A ends at 09:00 of day 1: + 18 h is 03:00 and + 27 h is 12:00 of day 2, + 48 h 09:00 of day 3, + 72 h of day 4
    [
        ("preformed", False, 1, "09:00"),
        ("wall_bracket", True, 1, "09:00"),
        ("rapid_slab", False, 2, "08:00"),
        ("rapid_slab", True, 2, "12:00"),
        ("standard_slab", False, 3, "09:00"),
        ("standard_slab", True, 4, "09:00"),
    ],
)
def test_curing_follows_base_and_cold(
    settings: dict[str, Any], take_off: Callable[..., TakeOff], base_type: str, cold: bool, day: int, at: str
) -> None:
    rows = [TASK | {"code": code, "name": code} for code in "AB"]
    order = [ORDER | {"task": "B", "after": "A", "lag_table": "cure"}]
    rules = labour_rules(rows, [], order, [], settings)
    tasks = needed_tasks(rules, take_off("straightforward"))
    result = tasks_of(plan(tasks, 1, rules.settings, starts_on=None, base_type=base_type, cold=cold))
    assert (result["B"].start.day, result["B"].start.at) == (day, at)


def test_balancing_waits_until_the_system_is_warm(planned: Planned) -> None:
    result = tasks_of(planned("straightforward"))
    start, balance = result["COMMISSION-START"], result["COMMISSION-BALANCE"]
    assert start.end.day == balance.start.day == 3
    minutes = [int(at[:2]) * 60 + int(at[3:]) for at in (start.end.at, balance.start.at)]
    assert minutes[1] - minutes[0] >= 60


def test_the_electrician_comes_for_one_afternoon(planned: Planned) -> None:
    result = planned("straightforward")
    (visit,) = [visit for visit in result.visits if visit.trade == "electrician"]
    assert (visit.day, visit.arrives, visit.booked) == (2, "13:00", "half_day")
    assert visit.person_hours == Decimal("3.42") and visit.charged_person_hours == Decimal("3.5")
    for task in result.tasks:
        if task.trade == "electrician":
            assert all(since >= "13:00" and until <= "16:30" for _, since, until in task.pieces)


def test_four_and_a_quarter_hours_do_not_fit_into_a_half_day(planned: Planned) -> None:
    # 3.42 h and 0.8 h for the bonding; 13.9 m of cable more at 0.06 h would be needed for 4.25: 12.5 m make 4.25
    result = planned("straightforward", ("bonding_needed",), cable_route_m="12.5")
    assert result.person_hours_by_trade["electrician"] == Decimal("4.25")
    (finding,) = [finding for finding in result.findings if finding.code == "electrician_half_day_too_short"]
    assert "4.25 h" in finding.message and "3.5 h" in finding.message and "0.75 h" in finding.remedy
    visits = [visit for visit in result.visits if visit.trade == "electrician"]
    assert len(visits) == 2 or visits[0].booked == "whole_day"


def test_other_work_between_the_electricians_tasks_brings_a_second_visit(few: Callable[..., LabourPlan]) -> None:
    electric = {"trade": "electrician", "fixed_person_h": "1"}
    result = few({"A": electric, "B": {"fixed_person_h": "3"}, "C": electric}, ("B", "A", ""), ("C", "B", ""))
    assert "electrician_comes_twice" in codes(result)
    assert [visit.day for visit in result.visits if visit.trade == "electrician"] == [1, 2]


def test_the_old_cylinder_goes_on_day_one_only_where_the_new_one_takes_its_place(planned: Planned) -> None:
    same_place = planned("straightforward")
    assert tasks_of(same_place)["STRIP-CYLINDER"].start.day == 1
    moved = planned("straightforward", ("cylinder_moves",))
    tasks = tasks_of(moved)
    assert "STRIP-CYLINDER" not in tasks
    order = [task.code for task in moved.tasks]
    for earlier, later in (("COMMISSION-HEATUP", "CYLINDER-CHANGE"), ("CYLINDER-CHANGE", "CLOSE-CYLINDER")):
        assert order.index(earlier) < order.index(later)
    # the house is without hot water for the changeover alone: 0.6 h, and half an hour more if the break falls into it
    assert 0.6 <= round(moved.hot_water_off_h, 6) <= 1.1
    assert same_place.hot_water_off_h > 24


def test_a_combi_takes_the_hot_water_with_the_heating(planned: Planned) -> None:
    result = planned("small_combi")
    tasks = tasks_of(result)
    (heating,) = [window for window in result.services if window.service == "heating"]
    (hot_water,) = [window for window in result.services if window.service == "hot_water"]
    assert (hot_water.off.day, hot_water.off.at) == (tasks["STRIP-COMBI"].start.day, tasks["STRIP-COMBI"].start.at)
    assert (hot_water.off.day, hot_water.off.at) <= (heating.off.day, heating.off.at)
    # the heat-up run takes two hours on the clock
    start, on = tasks["COMMISSION-HEATUP"].start, hot_water.on
    assert start.day == on.day
    assert int(on.at[:2]) * 60 + int(on.at[3:]) - int(start.at[:2]) * 60 - int(start.at[3:]) == 120


def test_a_window_runs_from_switching_off_to_the_end_of_restoring(few: Callable[..., LabourPlan]) -> None:
    tasks = {
        "A": {"services_off": "heating", "fixed_person_h": "6"},
        "B": {"services_restored": "heating", "fixed_person_h": "4"},
        "C": {"services_off": "power", "services_restored": "power", "fixed_person_h": "0.5"},
    }
    result = few(tasks, ("B", "A", ""), crew=1)
    (window,) = [window for window in result.services if window.service == "heating"]
    # 8:00 on day 1 to 10:00 or 10:30 on day 2, as C is done before, between or after
    assert window.overnight == result.heating_off_nights == 1
    assert window.clock_h == result.heating_off_h == pytest.approx(26, abs=0.51)
    assert window.working_h == pytest.approx(10, abs=0.51)
    assert result.power_off_h == pytest.approx(0.5)


def test_a_service_that_nobody_restores_is_a_stop(few: Callable[..., LabourPlan]) -> None:
    result = few({"A": {"services_off": "heating"}, "B": {}})
    (finding,) = [finding for finding in result.findings if finding.strength == "stop"]
    assert finding.code == "service_not_restored" and "A" in finding.message


def test_a_crew_of_one_cannot_lift(planned: Planned) -> None:
    result = planned("straightforward", crew=1)
    assert result.days is None and result.tasks == () and result.services == ()
    (finding,) = result.findings
    assert (finding.code, finding.strength) == ("crew_too_small", "stop")
    assert "Set the unit" in finding.message


def test_a_trade_a_skill_and_an_engineer_that_nobody_has(
    few: Callable[..., LabourPlan], planned: Planned, rules: LabourRules
) -> None:
    missing = few({"A": {"trade": "roofer"}})
    assert missing.days is None and codes(missing) == {"trade_missing"}
    unskilled = few({"A": {"skills": "refrigerant"}})
    assert unskilled.days is None and codes(unskilled) == {"skill_missing"}
    engineers = tuple(person for person in rules.settings.people if person.trade == "engineer")
    nobody = planned("straightforward", settings=replace(rules.settings, people=engineers))
    assert nobody.days is None and codes(nobody) == {"trade_missing"}
    short = planned("straightforward", crew=6, settings=replace(rules.settings, people=rules.settings.people[:3]))
    assert short.days is None and codes(short) == {"engineers_missing"}


@pytest.mark.parametrize("crew", [0, 7])
def test_a_crew_is_one_to_six(planned: Planned, crew: int) -> None:
    with pytest.raises(ValueError, match="a crew is 1 to 6"):
        planned("straightforward", crew=crew)


def test_an_unknown_base_is_refused(planned: Planned) -> None:
    with pytest.raises(ValueError, match="a base is one of"):
        planned("straightforward", base_type="sand")


def test_skilled_work_is_done_by_the_skilled(planned: Planned, rules: LabourRules) -> None:
    skills = {person.name: person.skills for person in rules.settings.people}
    needs = {task.code: task.skills for task in rules.tasks}
    for task in planned("straightforward", crew=3).tasks:
        assert any(skills[person] >= needs[task.code] for person in task.people)


def test_a_thin_last_day_is_said_with_a_remedy_that_works(few: Callable[..., LabourPlan]) -> None:
    result = few({"A": {"fixed_person_h": "8.25"}}, crew=1)
    (finding,) = [finding for finding in result.findings if finding.code == "thin_last_day"]
    assert result.days == 2 and "0.25 h" in finding.message
    assert finding.remedy == "work 0.25 h longer on each day before: that saves the day"
    chain = few({"A": {}, "B": {"fixed_person_h": "0.5"}}, ("B", "A", "20"), crew=1)
    (finding,) = [finding for finding in chain.findings if finding.code == "thin_last_day"]
    assert finding.remedy.startswith("take 0.5 h of work out")
    two = few({"A": {"fixed_person_h": "5"}, "B": {"fixed_person_h": "4.3"}}, crew=1)
    (finding,) = [finding for finding in two.findings if finding.code == "thin_last_day"]
    assert "1.3 h" in finding.message
    assert "thin_last_day" not in codes(few({"A": {"fixed_person_h": "9.5"}}, crew=1))


def test_days_skip_weekends_and_bank_holidays(planned: Planned) -> None:
    # 2 April 2026 is a Thursday, 3 April Good Friday, 6 April Easter Monday
    holidays = frozenset({date(2026, 4, 3), date(2026, 4, 6)})
    result = planned("straightforward", starts_on=date(2026, 4, 2), bank_holidays=holidays)
    assert result.dates == (date(2026, 4, 2), date(2026, 4, 7), date(2026, 4, 8))
    assert result.heating_off_nights == 6
    assert "services_off_over_days_off" in codes(result)
    (remedy, *_) = [f.remedy for f in result.findings if f.code == "services_off_over_days_off"]
    assert remedy == "start on Tuesday 07 April 2026"
    plain = planned("straightforward", starts_on=date(2026, 3, 2))
    assert plain.dates == (date(2026, 3, 2), date(2026, 3, 3), date(2026, 3, 4)) and plain.heating_off_nights == 2
    assert planned("straightforward").dates == ()


def test_a_start_on_a_day_off_is_moved(planned: Planned) -> None:
    result = planned("straightforward", starts_on=date(2026, 3, 7))  # a Saturday
    assert result.dates[0] == date(2026, 3, 9) and "start_moved" in codes(result)


def test_concrete_cures_over_a_weekend(few: Callable[..., LabourPlan]) -> None:
    # Friday 6 March 2026: ends at 09:00, + 48 h is Sunday: Monday is day 2
    result = few({"A": {}, "B": {}}, ("B", "A", "48"), starts_on=date(2026, 3, 6))
    assert tasks_of(result)["B"].start.day == result.days == 2


def test_person_hours_add_up_and_a_visit_is_rounded_up_once(planned: Planned) -> None:
    result = planned("difficult_site")
    assert sum(task.person_hours for task in result.tasks) == result.person_hours
    assert sum(result.person_hours_by_trade.values()) == result.person_hours
    assert sum(visit.person_hours for visit in result.visits) == pytest.approx(result.person_hours, abs=Decimal("1e-5"))
    for visit in result.visits:
        assert abs(visit.charged_person_hours - visit.person_hours) < Decimal("0.25")
        assert visit.charged_person_hours % Decimal("0.25") == 0
    for trade, worked in result.person_hours_by_trade.items():
        days = [visit.day for visit in result.visits if visit.trade == trade]
        breaks = sum(later - earlier > 1 for earlier, later in pairwise(days))
        charged = sum(visit.charged_person_hours for visit in result.visits if visit.trade == trade)
        # on days that follow each other less than a quarter of an hour is rounded up in all
        assert 0 <= charged - worked < Decimal("0.25") * (1 + breaks)


def test_an_estimate_and_its_quote_charge_the_same_hours(planned: Planned) -> None:
    for name in ("difficult_site", "straightforward"):
        quick, thorough = planned(name), planned(name, effort="thorough")
        assert quick.days == thorough.days

        def charged(result: LabourPlan) -> Decimal:
            return sum((visit.charged_person_hours for visit in result.visits if visit.trade == "engineer"), Decimal(0))

        assert charged(quick) == charged(thorough)


def test_the_bound_is_proven_or_said_not_to_be(planned: Planned, jobs: dict[str, Any]) -> None:
    for name in jobs:
        result = planned(name)
        assert result.days is not None and result.lower_bound_days <= result.days
        assert result.proven == (result.lower_bound_days == result.days)


def test_a_plan_that_finds_no_place_says_so_and_does_not_loop(
    few: Callable[..., LabourPlan], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("models.labour.plan.most_days", lambda tasks, settings: 3)
    result = few({"A": {}, "B": {"fixed_person_h": "24"}}, ("B", "A", ""), crew=1)
    assert result.days is None and codes(result) == {"plan_not_found"}


def test_tasks_in_the_open_are_marked(planned: Planned) -> None:
    marked = {task.code for task in planned("straightforward").tasks if task.weather_exposed}
    assert {"GROUND-DIG", "GROUND-SLAB", "PRIMARY-OUTSIDE"} <= marked
    assert not {"CYLINDER-PIPE", "COMMISSION-BALANCE"} & marked


def test_the_same_input_gives_the_same_plan(planned: Planned, jobs: dict[str, Any]) -> None:
    for name in jobs:
        assert planned(name) == planned(name)


def _without(rows: dict[str, list[dict[str, str]]], file: str, number: int) -> dict[str, list[dict[str, str]]]:
    """The rows less one; with a task go the rows that name it."""
    left = deepcopy(rows)
    gone = left[file].pop(number)
    if file == "labour_tasks.csv":
        code = gone["code"]
        left["task_hours.csv"] = [row for row in left["task_hours.csv"] if row["task"] != code]
        left["task_order.csv"] = [row for row in left["task_order.csv"] if code not in (row["task"], row["after"])]
        for row in left["task_factors.csv"]:
            row["tasks"] = " ".join(name for name in row["tasks"].split() if name != code)
        left["task_factors.csv"] = [row for row in left["task_factors.csv"] if row["tasks"]]
    return left


def test_deleting_any_row_changes_the_plan_of_some_job(
    rows: dict[str, list[dict[str, str]]],
    settings: dict[str, Any],
    jobs: dict[str, Any],
    take_off: Callable[..., TakeOff],
) -> None:
    take_offs = {name: take_off(name) for name in jobs}

    def planned(rules: LabourRules, name: str) -> LabourPlan:
        tasks = needed_tasks(rules, take_offs[name])
        job = jobs[name]
        return plan(tasks, job.get("crew", 2), rules.settings, starts_on=None, base_type=job["base_type"], cold=False)

    whole = labour_rules(*(rows[name] for name in FILES), settings)
    before = {name: planned(whole, name) for name in jobs}
    idle = []
    for file in FILES:
        for number, row in enumerate(rows[file]):
            left = _without(rows, file, number)
            rules = labour_rules(*(left[name] for name in FILES), settings)
            if all(planned(rules, name) == before[name] for name in jobs):
                idle.append(f"{file}: {' '.join(row.values())}")
    assert "\n".join(idle) == ""


def test_a_plan_is_remembered_and_never_taken_for_that_of_other_rows(
    rules: LabourRules, take_off: Callable[..., TakeOff]
) -> None:
    needed = needed_tasks(rules, take_off("straightforward"))
    given: dict[str, Any] = {"starts_on": date(2026, 3, 2), "base_type": "rapid_slab", "cold": False}
    first = plan(needed, 2, rules.settings, **given)
    assert plan(list(needed), 2, rules.settings, **given) is first
    forget_plans()
    assert plan(needed, 2, rules.settings, **given) == first
    renamed = tuple([replace(each, task=replace(each.task, name=f"{each.task.name}, gently")) for each in needed])
    other = plan(renamed, 2, rules.settings, **given)
    assert all(task.name.endswith(", gently") for task in other.tasks)
    longer_day = replace(rules.settings, day_end_min=rules.settings.day_end_min + 60)
    assert plan(needed, 2, longer_day, **given) == plan(needed, 2, longer_day, **given) != first
    closed = given | {"bank_holidays": frozenset({date(2026, 3, 3)})}
    assert plan(needed, 2, rules.settings, **closed).dates != first.dates
