"""The labour-day plan against a general solver that knows the same rules, on generated jobs.

The rules stand here once more, as constraints for OR-Tools CP-SAT, written from the rules and not from the plan's
code: people and skills one by one, the end of the day, work in one go, lags on the clock, visits of the electrician.
A third of the jobs is chosen so that the first greedy pass takes a day too many. Days are compared with what the
solver proves; hours without hot water and heating with the best that it finds within its limit. Jobs that it cannot
prove within the limit are counted apart and printed. Harder still, and quicker to answer, is the question whether any
plan at all is more than 5 % shorter: the solver refutes it in less than a second where it could not name the best.
"""

import csv
import json
import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from math import gcd
from pathlib import Path
from typing import Any

import pytest

from models.labour import search
from models.labour.plan import LabourPlan, forget_plans, plan
from models.labour.tasks import LabourRules, NeededTask, labour_rules, needed_tasks
from models.takeoff.quantities import FLAGS, QUANTITY_UNITS, Quantity, TakeOff

cp_model = pytest.importorskip("ortools.sat.python.cp_model")

SEED = Path(__file__).parents[2] / "seed_data"
FILES = ("labour_tasks.csv", "task_hours.csv", "task_order.csv", "task_factors.csv")
HOUR = 60_000_000
BASES = {
    "rapid_slab": "slab_base",
    "standard_slab": "slab_base",
    "preformed": "preformed_base",
    "wall_bracket": "wall_mount",
}
FLAGS_DRAWN = (
    "oil", "combi", "cylinder_moves", "extension_board", "bonding_needed", "new_stopcock", "main_upgrade",
    "heavy_unit", "hard_dig", "stone_wall", "long_carry", "separation", "metering", "glycol", "accumulator",
    "timber_floor",
)  # fmt: skip
# seeds whose first greedy pass takes a day more than the thorough plan: see test_a_third_is_hard
HARD = (
    8, 26, 28, 32, 40, 43, 50, 53, 59, 78, 83, 87, 97, 106, 119, 140, 152, 176, 177, 181, 190, 233, 252, 266, 272, 308,
    322, 335, 342, 355, 373, 392, 406, 407, 413, 419, 424, 436, 455, 470,
)  # fmt: skip
EASY = tuple(seed for seed in range(120) if seed not in HARD)[:80]
Arguments = dict[str, Any]


def _rules() -> LabourRules:
    rows = []
    for name in FILES:
        with (SEED / name).open(encoding="utf-8", newline="") as file:
            rows.append(list(csv.DictReader(file)))
    return labour_rules(*rows, json.loads((SEED / "labour.json").read_text(encoding="utf-8")))


RULES = _rules()


@dataclass(frozen=True)
class Drawn:
    """A generated job."""

    seed: int
    tasks: tuple[NeededTask, ...]
    crew: int
    arguments: Arguments

    def planned(self, effort: Any) -> LabourPlan:
        return plan(self.tasks, self.crew, RULES.settings, effort=effort, **self.arguments)


def drawn(seed: int) -> Drawn:
    """A job by its seed: quantities as surveys have them, two to six engineers, with and without a date."""
    chance = random.Random(seed)
    base = chance.choice(sorted(BASES))
    values = dict.fromkeys(QUANTITY_UNITS, Decimal(0))
    for name, largest in (
        ("rooms_total", 20), ("rooms_disturbed", 12), ("emitters_total", 20), ("emitters_added", 4), ("loft_tanks", 3),
        ("emitters_swapped", 12), ("emitters_removed_only", 3), ("emitters_valve_only", 8), ("floor_lift_rooms", 4),
        ("changes_outside", 9), ("changes_inside", 9), ("discharge_bends", 9), ("volumisers", 2),
    ):  # fmt: skip
        values[name] = Decimal(chance.randint(0, largest))
    for name, largest in (
        ("dig_m3", 1), ("soakaway_dig_m3", 1), ("base_volume_m3", 1), ("route_outside_m", 15), ("route_buried_m", 12),
        ("route_inside_m", 15), ("discharge_run_m", 12), ("cable_route_m", 40), ("main_upgrade_m", 15),
    ):  # fmt: skip
        values[name] = Decimal(chance.randint(0, largest * 100)) / 100
    values |= {"one": Decimal(1), "cylinders": Decimal(1), "penetrations": Decimal(chance.randint(1, 4))}
    values["units"] = Decimal(chance.randint(1, 2))
    values["wall_units" if base == "wall_bracket" else "ground_units"] = values["units"]
    hold = {flag for flag in FLAGS_DRAWN if chance.random() < 0.4}
    hold |= {BASES[base], base, "cylinder_fitted", chance.choice(["condensate_gully", "condensate_soakaway"])}
    hold |= {"loft_tanks"} if values["loft_tanks"] else set()
    hold |= {"old_cylinder"} if "combi" not in hold else set()
    quantities = {name: Quantity(name, value, QUANTITY_UNITS[name], "") for name, value in values.items()}
    tasks = needed_tasks(RULES, TakeOff(quantities, {flag: flag in hold for flag in FLAGS}, {}, {}))
    crew = chance.choice([2, 2, 2, 3, 3, 4, 5, 6])
    cold = chance.random() < 0.3
    starts_on = None if chance.random() < 0.6 else date(2026, 3, chance.randint(2, 27))
    while starts_on is not None and starts_on.weekday() > 4:
        starts_on += timedelta(days=1)
    return Drawn(seed, tasks, crew, {"base_type": base, "cold": cold, "starts_on": starts_on})


class Constraints:
    """The rules as constraints: starts in ticks of work, 8 hours a day, nights and breaks left out."""

    def __init__(self, job: Drawn, days: int, visit: str, *, services: bool) -> None:
        settings = RULES.settings
        self.job = job
        self.days = days
        self.model = cp_model.CpModel()
        self.unit = _largest_unit(job)
        minute = self.unit_of(HOUR // 60)
        self.clock_day = 24 * 60 * minute
        self.sliver = 15 * minute
        self.length = [self.unit_of(needed.duration_ticks) for needed in job.tasks]
        self.elapsed = [self.unit_of(needed.elapsed_ticks) for needed in job.tasks]
        self.morning = (settings.break_from_min - settings.day_start_min) * minute
        self.pause = (settings.break_to_min - settings.break_from_min) * minute
        self.day = (settings.day_end_min - settings.day_start_min) * minute - self.pause
        self.begin = settings.day_start_min * minute
        self.half = (
            (settings.half_day_from_min - settings.day_start_min) * minute - self.pause,
            (settings.half_day_to_min - settings.day_start_min) * minute - self.pause,
        )
        self.offsets = self._offsets()
        self.without: Any = 0
        self.starts: list[Any] = []
        self.day_of: list[Any] = []
        self.rest: list[Any] = []
        self._clock_start: dict[int, Any] = {}
        self._clock_end: dict[int, Any] = {}
        self._tasks()
        self._people()
        self._order()
        self._visits(visit)
        if services:
            self._services()

    def unit_of(self, ticks: int) -> int:
        """Ticks in the largest unit in which every time of the job is whole: in ticks the solver runs out of memory."""
        assert ticks % self.unit == 0
        return ticks // self.unit

    def _offsets(self) -> list[int]:
        starts_on = self.job.arguments["starts_on"]
        offsets: list[int] = []
        number = 0
        while len(offsets) < self.days:
            if starts_on is None or (starts_on + timedelta(days=number)).weekday() < 5:
                offsets.append(number)
            number += 1
        return offsets

    def _tasks(self) -> None:
        for number, needed in enumerate(self.job.tasks):
            length, day = self.length[number], self.day
            start = self.model.new_int_var(0, self.days * day - length, f"start {number}")
            on = self.model.new_int_var(0, self.days - 1, f"day {number}")
            whole = length if length <= day else 1
            latest = day - (whole if needed.task.one_go else min(length, self.sliver))
            rest = self.model.new_int_var(0, latest, f"rest {number}")
            self.model.add(start == day * on + rest)
            self.starts.append(start)
            self.day_of.append(on)
            self.rest.append(rest)

    def end(self, number: int) -> Any:
        return self.starts[number] + self.length[number]

    def _people(self) -> None:
        people = [person for person in RULES.settings.people if person.trade == "engineer"][: self.job.crew]
        people += [person for person in RULES.settings.people if person.trade == "electrician"]
        busy: list[list[Any]] = [[] for _ in people]
        for number, needed in enumerate(self.job.tasks):
            there = [who for who, person in enumerate(people) if person.trade == needed.task.trade]
            able = [who for who in there if people[who].skills >= needed.task.skills]
            chosen = {}
            for who in there if needed.task.crew > 1 else able:
                chosen[who] = self.model.new_bool_var(f"{number} by {who}")
                busy[who].append(
                    self.model.new_optional_fixed_size_interval_var(
                        self.starts[number], self.length[number], chosen[who], f"{number} of {who}"
                    )
                )
            self.model.add(sum(chosen.values()) == needed.task.crew)
            self.model.add_bool_or([chosen[who] for who in able])
        for intervals in busy:
            self.model.add_no_overlap(intervals)
        engineers = [n for n, needed in enumerate(self.job.tasks) if needed.task.trade == "engineer"]
        self.model.add_cumulative(
            [
                self.model.new_fixed_size_interval_var(self.starts[n], self.length[n], f"together {n}")
                for n in engineers
            ],
            [self.job.tasks[n].task.crew for n in engineers],
            self.job.crew,
        )

    def clock_start(self, number: int) -> Any:
        if number not in self._clock_start:
            after = self.model.new_bool_var(f"starts after the break {number}")
            self.model.add(self.rest[number] >= self.morning).only_enforce_if(after)
            self.model.add(self.rest[number] < self.morning).only_enforce_if(after.negated())
            offset = self.model.new_int_var(0, self.offsets[-1], f"offset {number}")
            self.model.add_element(self.day_of[number], self.offsets, offset)
            self._clock_start[number] = offset * self.clock_day + self.begin + self.rest[number] + self.pause * after
        return self._clock_start[number]

    def clock_end(self, number: int) -> Any:
        if number not in self._clock_end:
            on = self.model.new_int_var(0, self.days - 1, f"last day {number}")
            rest = self.model.new_int_var(1, self.day, f"last rest {number}")
            self.model.add(self.end(number) == self.day * on + rest)
            after = self.model.new_bool_var(f"ends after the break {number}")
            self.model.add(rest > self.morning).only_enforce_if(after)
            self.model.add(rest <= self.morning).only_enforce_if(after.negated())
            offset = self.model.new_int_var(0, self.offsets[-1], f"last offset {number}")
            self.model.add_element(on, self.offsets, offset)
            self._clock_end[number] = offset * self.clock_day + self.begin + rest + self.pause * after
        return self._clock_end[number]

    def clock_done(self, number: int) -> Any:
        elapsed = self.elapsed[number]
        if not elapsed:
            return self.clock_end(number)
        done = self.model.new_int_var(0, (self.offsets[-1] + 5) * self.clock_day, f"done {number}")
        self.model.add_max_equality(done, [self.clock_end(number), self.clock_start(number) + elapsed])
        return done

    def _order(self) -> None:
        for number, needed in enumerate(self.job.tasks):
            for before, lag, table in needed.after:
                lag = self.unit_of(max(lag, _curing(self.job).get(table, 0)))
                self.model.add(self.starts[number] >= self.end(before))
                if lag:
                    self.model.add(self.clock_start(number) >= self.clock_done(before) + lag)
                elif self.elapsed[before]:
                    self.model.add(self.clock_start(number) >= self.clock_done(before))

    def _visits(self, visit: str) -> None:
        electric = [n for n, needed in enumerate(self.job.tasks) if needed.task.trade == "electrician"]
        last = self.model.new_int_var(0, self.days - 1, "last day of the electrician")
        work = sum(self.length[n] for n in electric)
        whole_days = -(-work // self.day)
        since, until = self.half
        for n in electric:
            if visit == "one half-day":
                self.model.add(self.starts[n] >= self.day * last + since)
                self.model.add(self.end(n) <= self.day * last + until)
            elif visit == "two half-days":
                second = self.model.new_bool_var(f"second half-day {n}")
                self.model.add(last >= 1)
                self.model.add(self.starts[n] >= self.day * (last - 1 + second) + since)
                self.model.add(self.end(n) <= self.day * (last - 1 + second) + until)
            else:
                self.model.add(last + 1 >= whole_days)
                self.model.add(self.starts[n] >= self.day * (last + 1 - whole_days))
                self.model.add(self.end(n) <= self.day * (last + 1))

    def _services(self) -> None:
        tasks = self.job.tasks
        total: list[Any] = []
        far = (self.offsets[-1] + 5) * self.clock_day
        for service in ("heating", "hot_water"):
            off = {n for n, needed in enumerate(tasks) if service in needed.task.services_off}
            on = {n for n, needed in enumerate(tasks) if service in needed.task.services_restored}
            if off - on:
                first = self.model.new_int_var(0, far, f"{service} off")
                again = self.model.new_int_var(0, far, f"{service} on")
                for n in off - on:
                    self.model.add(first <= self.clock_start(n))
                for n in on - off:
                    self.model.add(again >= self.clock_done(n))
                total.append(again - first)
            for n in off & on:
                total.append(self.clock_done(n) - self.clock_start(n))
        self.without = sum(total)
        self.model.minimize(self.without)

    def shorter_than(self, hours: float) -> None:
        """Asks for any plan with so many hours without services at most, instead of the best."""
        self.model.clear_objective()
        self.model.add(self.without <= int(hours * HOUR / self.unit))

    def solved(self, seconds: float) -> tuple[str, float | None]:
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 2
        solver.parameters.random_seed = 1
        solver.parameters.max_time_in_seconds = seconds
        status = solver.solve(self.model)
        found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
        hours = solver.objective_value * self.unit / HOUR if found else None
        return solver.status_name(status), hours


def _curing(job: Drawn) -> dict[str, int]:
    """Ticks on the clock by lag table, for the base of the job."""
    settings, arguments = RULES.settings, job.arguments
    factor = settings.cold_factors if arguments["cold"] else {}
    return {
        name: int(table[arguments["base_type"]] * factor.get(name, 1) * HOUR)
        for name, table in settings.lag_tables_h.items()
    }


def _largest_unit(job: Drawn) -> int:
    """The ticks in which every length, lag and time of day of a job is whole."""
    times = [ticks for needed in job.tasks for ticks in (needed.duration_ticks, needed.elapsed_ticks)]
    times += [lag for needed in job.tasks for _, lag, _ in needed.after]
    return gcd(HOUR // 60, *times, *_curing(job).values())


def visits(job: Drawn) -> Sequence[str]:
    """The ways in which the electrician may come: once if the work fits, else whole days or two half-days running."""
    lengths = [needed.duration_ticks for needed in job.tasks if needed.task.trade == "electrician"]
    half = int(RULES.settings.half_day_h * HOUR)
    if sum(lengths) <= half:
        return ["one half-day"]
    return ["whole days", "two half-days"] if sum(lengths) <= 2 * half and max(lengths) <= half else ["whole days"]


@dataclass
class Tally:
    """What came out of a number of jobs."""

    fewer: list[int]
    unknown_days: list[int]
    proven: int = 0
    proven_close: int = 0
    open: int = 0
    open_close: int = 0
    only_ours: int = 0
    far: list[int] = field(default_factory=list)

    @property
    def close_ratio(self) -> float:
        """The part of the jobs that could be compared whose hours are within 5 % of the best that anybody knows."""
        return (self.proven_close + self.open_close) / (self.proven + self.open)

    def said(self) -> str:
        return (
            f"days: fewer possible {self.fewer or 'nowhere'}, not decided in time {self.unknown_days or 'none'}"
            f"; hours without services within 5 %: {self.proven_close} of {self.proven} where the solver proved the "
            f"best, {self.open_close} of {self.open} against the best that it found in time, which was nothing "
            f"for {self.only_ours}; {self.close_ratio:.1%} of those compared, not {self.far}"
        )


def compared(jobs: Iterator[Drawn], *, seconds: float, services: bool) -> Tally:
    tally = Tally([], [])
    for job in jobs:
        ours = job.planned("thorough")
        assert ours.days is not None
        assert ours.lower_bound_days <= ours.days
        if ours.days > 1:
            statuses = [Constraints(job, ours.days - 1, v, services=False).solved(seconds)[0] for v in visits(job)]
            if {"OPTIMAL", "FEASIBLE"} & set(statuses):
                tally.fewer.append(job.seed)
            elif "UNKNOWN" in statuses:
                tally.unknown_days.append(job.seed)
        if not services:
            tally.only_ours += 1
            continue
        answers = [Constraints(job, ours.days, v, services=True).solved(seconds) for v in visits(job)]
        values = [value for _, value in answers if value is not None]
        if not values:
            tally.only_ours += 1
            continue
        close = ours.hot_water_off_h + ours.heating_off_h <= 1.05 * min(values) + 1e-6
        if not close:
            tally.far.append(job.seed)
        if all(status in ("OPTIMAL", "INFEASIBLE") for status, _ in answers):
            tally.proven += 1
            tally.proven_close += close
        else:
            tally.open += 1
            tally.open_close += close
    return tally


@dataclass
class Refuted:
    """Of which jobs the solver refutes that any plan is more than 5 % shorter, names one, or does not know in time."""

    close: list[int] = field(default_factory=list)
    far: list[int] = field(default_factory=list)
    unknown: list[int] = field(default_factory=list)

    @property
    def close_ratio(self) -> float:
        return len(self.close) / (len(self.close) + len(self.far))

    def said(self) -> str:
        return (
            f"no plan is more than 5 % shorter in hours without services: proven for {len(self.close)}, wrong for "
            f"{self.far or 'none'}, not decided in time for {self.unknown or 'none'}; {self.close_ratio:.1%} of those "
            "decided"
        )


def refuted(jobs: Iterator[Drawn], *, seconds: float) -> Refuted:
    found = Refuted()
    for job in jobs:
        ours = job.planned("thorough")
        assert ours.days is not None
        statuses: set[str] = set()
        for visit in visits(job):
            constraints = Constraints(job, ours.days, visit, services=True)
            constraints.shorter_than((ours.hot_water_off_h + ours.heating_off_h) / 1.05 - 1e-6)
            statuses.add(constraints.solved(seconds)[0])
        if statuses & {"OPTIMAL", "FEASIBLE"}:
            found.far.append(job.seed)
        else:
            (found.unknown if "UNKNOWN" in statuses else found.close).append(job.seed)
    return found


OPTIMAL = pytest.mark.oracle(
    question="labour",
    source="OR-Tools CP-SAT with the same rules as constraints",
    standing="second computation",
    tolerance="exact in days; 5 % in hours without services",
)


@OPTIMAL
def test_no_plan_of_fewer_days_exists() -> None:
    tally = compared(map(drawn, (*range(20), *HARD)), seconds=20, services=False)
    assert tally.fewer == [] and tally.unknown_days == [], tally.said()


def test_a_third_is_hard(monkeypatch: pytest.MonkeyPatch) -> None:
    for seed in HARD[::4]:
        job = drawn(seed)
        thorough = job.planned("thorough").days
        forget_plans()
        with monkeypatch.context() as greedy:
            greedy.setattr(search, "_LIVE_VISITS", 1)
            greedy.setattr(search, "_LIVE_TRIES", 1)
            first = job.planned("live").days
        forget_plans()
        assert first is not None and thorough is not None and first > thorough


@OPTIMAL
def test_hours_without_services_are_near_the_best() -> None:
    # six jobs that the solver proves in a second or two
    tally = compared(map(drawn, (0, 2, 10, 13, 21, 35)), seconds=4, services=True)
    assert tally.proven_close == tally.proven and tally.proven, tally.said()


@OPTIMAL
def test_no_plan_is_a_twentieth_shorter() -> None:
    found = refuted(map(drawn, range(12)), seconds=1.5)
    assert len(found.close) >= 10 and not found.far, found.said()


@OPTIMAL
@pytest.mark.long
def test_a_hundred_and_more_jobs(say: Callable[[str], None]) -> None:
    tally = compared(map(drawn, (*EASY, *HARD)), seconds=4, services=True)
    say(f"{len(EASY)} jobs and {len(HARD)} whose first greedy answer is wrong: {tally.said()}")
    assert tally.fewer == [], tally.said()
    assert tally.proven_close >= 0.95 * tally.proven, tally.said()
    assert tally.close_ratio >= 0.95, tally.said()


@OPTIMAL
@pytest.mark.long
def test_what_the_solver_refutes_of_a_hundred_and_more(say: Callable[[str], None]) -> None:
    found = refuted(map(drawn, (*EASY, *HARD)), seconds=4)
    say(found.said())
    # A harder question than the one above: what the solver finds when it need not look for the best. The share asked
    # is the one to reach, not the one reached: it fails until the search learns the orders that it misses.
    assert found.close_ratio >= 0.95, found.said()
