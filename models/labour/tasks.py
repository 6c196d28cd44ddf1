"""The tasks of a job: rows that the firm edits, and the tasks that a take-off needs, with exact person-hours.

Four kinds of row: the task, the hours that it takes, what it comes after, and what makes it slower. A row that names
a quantity, flag or task that does not exist is refused when it is loaded, with its file, row and reason.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any, TypeVar

from models.frozen import quickly_made
from models.sources import Source
from models.takeoff.quantities import FLAGS, QUANTITY_UNITS, TakeOff
from models.units import exact

SOURCE = Source("the firm's labour rows", standing="firm's rule")

TASKS_FILE = "labour_tasks.csv"
HOURS_FILE = "task_hours.csv"
ORDER_FILE = "task_order.csv"
FACTORS_FILE = "task_factors.csv"
SETTINGS_FILE = "labour.json"

ENGINEER = "engineer"
ELECTRICIAN = "electrician"
GROUNDWORKER = "groundworker"
TRADES = (ENGINEER, ELECTRICIAN, GROUNDWORKER)
SERVICES = ("heating", "hot_water", "cold_water", "power")
BASE_TYPES = ("rapid_slab", "standard_slab", "preformed", "wall_bracket")
DRIVERS = frozenset(QUANTITY_UNITS) - {"plan_days", "heating_off_nights"}
"""Quantities that hours may follow: all but the two that come out of the plan itself."""

LARGEST_CREW = 6
TICKS_PER_H = 60_000_000
"""A millionth of an hour is 60 ticks, so that hours at six places divide by any crew up to six without a rest."""
TICKS_PER_MINUTE = TICKS_PER_H // 60

_MILLION = Decimal(1_000_000)
_TICKS_OF_A_MILLIONTH = 60
_NO_HOURS = Decimal(0)
_TASK_COLUMNS = (
    "code", "phase", "name", "trade", "crew", "skills", "fixed_person_h", "elapsed_h", "one_go", "weather_exposed",
    "services_off", "services_restored", "when",
)  # fmt: skip
_HOURS_COLUMNS = ("task", "driver", "amount", "per", "when")
_ORDER_COLUMNS = ("task", "after", "lag_h", "lag_table", "when")
_FACTOR_COLUMNS = ("flag", "tasks", "multiplier")

T = TypeVar("T")
Condition = tuple[tuple[str, bool], ...]
"""Flags that must hold, each with the value that it must have; at most two in a row that the firm edits."""


class RefusedRow(ValueError):
    """A labour row that cannot be used: says which file, which row (the heading is row 1) and why."""

    def __init__(self, file: str, row: int | None, reason: str) -> None:
        self.file = file
        self.row = row
        self.reason = reason
        super().__init__(f"{file}: {reason}" if row is None else f"{file}, row {row}: {reason}")


@dataclass(frozen=True, slots=True)
class Task:
    """One piece of work. `elapsed_h` only where it takes longer on the clock than it is attended.

    `one_go` is not split over the end of a day if it fits into one. `services_off` go off when it starts,
    `services_restored` come back when it is done.
    """

    code: str
    phase: str
    name: str
    trade: str
    crew: int
    skills: frozenset[str]
    fixed_person_h: Decimal
    elapsed_h: Decimal | None
    one_go: bool
    weather_exposed: bool
    services_off: tuple[str, ...]
    services_restored: tuple[str, ...]
    when: Condition

    def __hash__(self) -> int:
        """By its code, since a job's shape is looked up by its tasks; what is equal has the same."""
        return hash(self.code)


@dataclass(frozen=True, slots=True)
class TaskHours:
    """Person-hours that follow a quantity: driver x amount / per. A task may have several such rows."""

    task: str
    driver: str
    amount: Decimal
    per: Decimal
    when: Condition


@dataclass(frozen=True, slots=True)
class TaskOrder:
    """One task after another, with a lag on the clock: a number of hours, or a table by the type of base."""

    task: str
    after: str
    lag_h: Decimal
    lag_table: str
    when: Condition


@dataclass(frozen=True, slots=True)
class TaskFactor:
    """A flag that multiplies the person-hours of some tasks."""

    flag: str
    tasks: tuple[str, ...]
    multiplier: Decimal


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody whom the firm can send, by a role and a number, and what they are qualified for."""

    name: str
    trade: str
    skills: frozenset[str]


@dataclass(frozen=True, slots=True)
class LabourSettings:
    """The working day in minutes after midnight, the electrician's half-day, curing times and people."""

    day_start_min: int
    day_end_min: int
    break_from_min: int
    break_to_min: int
    half_day_from_min: int
    half_day_to_min: int
    visit_rounding_h: Decimal
    thin_last_day_h: Decimal
    usual_crew: int
    lag_tables_h: Mapping[str, Mapping[str, Decimal]]
    cold_factors: Mapping[str, Decimal]
    people: tuple[Person, ...]
    groundworks_from_min: int | None = None
    groundworks_to_min: int | None = None

    def __hash__(self) -> int:
        """By the day and the people: what is derived from settings is remembered, and tables have no hash."""
        return hash((self.day_start_min, self.day_end_min, self.half_day_from_min, self.usual_crew, self.people))

    @property
    def half_days_min(self) -> tuple[tuple[str, int, int], ...]:
        """The trades that come for half-days, each with its half-day in minutes after midnight."""
        electrician = ELECTRICIAN, self.half_day_from_min, self.half_day_to_min
        if self.groundworks_from_min is None or self.groundworks_to_min is None:
            return (electrician,)
        return (electrician, (GROUNDWORKER, self.groundworks_from_min, self.groundworks_to_min))

    @property
    def working_day_h(self) -> Decimal:
        """Hours of work between start and end of the day, the break left out."""
        return Decimal(self.day_end_min - self.day_start_min - (self.break_to_min - self.break_from_min)) / 60

    @property
    def half_day_h(self) -> Decimal:
        """Hours of work in the electrician's half-day."""
        return Decimal(self.half_day_to_min - self.half_day_from_min) / 60


@dataclass(frozen=True, slots=True)
class RowsOfTask:
    """The rows of one task, ready to be worked out: hours, factors, and (place among the tasks, lag, table, flags)."""

    task: Task
    hours: tuple[TaskHours, ...]
    factors: tuple[TaskFactor, ...]
    after: tuple[tuple[int, int, str, Condition], ...]
    elapsed_ticks: int
    fixed_person_h: Decimal
    rates: tuple[tuple[str, Decimal, Decimal | None, Condition], ...]
    """(driver, amount, per or None for one, flags) of each row of hours."""


@dataclass(frozen=True, slots=True)
class LabourRules:
    """All labour rows of one version, checked; the tasks stand in an order in which each follows what it needs."""

    tasks: tuple[Task, ...]
    hours: tuple[TaskHours, ...]
    order: tuple[TaskOrder, ...]
    factors: tuple[TaskFactor, ...]
    settings: LabourSettings
    of_task: tuple["RowsOfTask", ...]


Lag = tuple[int, int, str]
"""A place among the needed tasks that must be done first, the lag on the clock in ticks, and a lag table or ""."""


@quickly_made
@dataclass(frozen=True, slots=True)
class NeededTask:
    """A task that this job needs: its person-hours at six places, its exact duration, and what it comes after."""

    task: Task
    person_h: Decimal
    duration_ticks: int
    elapsed_ticks: int
    after: tuple[Lag, ...]

    @property
    def duration_h(self) -> Decimal:
        """Hours that the crew works on it: person-hours divided by crew."""
        return Decimal(self.duration_ticks) / TICKS_PER_H


def labour_rules(
    task_rows: Sequence[Mapping[str, str]],
    hours_rows: Sequence[Mapping[str, str]],
    order_rows: Sequence[Mapping[str, str]],
    factor_rows: Sequence[Mapping[str, str]],
    settings: Mapping[str, Any],
) -> LabourRules:
    """Checked rules from rows as they stand in the files, one mapping of heading to text a row.

    The firm's rule. A column `note` is for people and not read. Raises RefusedRow with file, row and reason: an
    unknown quantity, flag, task or heading, a number that is none, a repeated code, an order that goes in a circle.
    """
    tasks = _rows(TASKS_FILE, task_rows, _TASK_COLUMNS, _task)
    numbers: dict[str, int] = {}
    for row, task in enumerate(tasks, 2):
        if task.code in numbers:
            raise RefusedRow(TASKS_FILE, row, f"task {task.code} stands twice")
        numbers[task.code] = row
    hours = _rows(HOURS_FILE, hours_rows, _HOURS_COLUMNS, _task_hours)
    order = _rows(ORDER_FILE, order_rows, _ORDER_COLUMNS, _task_order)
    factors = _rows(FACTORS_FILE, factor_rows, _FACTOR_COLUMNS, _task_factor)
    checked = labour_settings(settings)
    for row, hour in enumerate(hours, 2):
        _known_task(HOURS_FILE, row, hour.task, numbers)
    for row, step in enumerate(order, 2):
        _known_task(ORDER_FILE, row, step.task, numbers)
        _known_task(ORDER_FILE, row, step.after, numbers)
        if step.lag_table and step.lag_table not in checked.lag_tables_h:
            raise RefusedRow(ORDER_FILE, row, f"{SETTINGS_FILE} has no lag table {step.lag_table!r}")
    for row, factor in enumerate(factors, 2):
        for code in factor.tasks:
            _known_task(FACTORS_FILE, row, code, numbers)
    ordered = _in_order(tasks, order)
    places = {task.code: place for place, task in enumerate(ordered)}
    return LabourRules(
        tasks=ordered,
        hours=hours,
        order=order,
        factors=factors,
        settings=checked,
        of_task=tuple(
            RowsOfTask(
                task=task,
                hours=tuple(hour for hour in hours if hour.task == task.code),
                factors=tuple(factor for factor in factors if task.code in factor.tasks),
                after=tuple(
                    (places[step.after], int(step.lag_h * TICKS_PER_H), step.lag_table, step.when)
                    for step in order
                    if step.task == task.code
                ),
                elapsed_ticks=int(task.elapsed_h * TICKS_PER_H) if task.elapsed_h is not None else 0,
                fixed_person_h=task.fixed_person_h,
                rates=tuple(
                    (hour.driver, hour.amount, None if hour.per == 1 else hour.per, hour.when)
                    for hour in hours
                    if hour.task == task.code
                ),
            )
            for task in ordered
        ),
    )


def needed_tasks(rules: LabourRules, take_off: TakeOff) -> tuple[NeededTask, ...]:
    """The tasks that a take-off needs, each after what it comes after.

    The firm's rule. Person-hours = (fixed + sum of driver x amount / per) x factors, at six places; nothing is
    rounded to a quarter of an hour here. A task without hours, or whose flags do not hold, is not needed: what comes
    after it then comes after its own predecessors, with the larger lag. Raises KeyError for a quantity or flag that
    the take-off does not hold.
    """
    flags = take_off.flags
    quantities = take_off.quantities
    needed: list[NeededTask] = []
    stands_for: list[int | dict[tuple[int, str], int]] = []
    for rows in rules.of_task:
        task = rows.task
        person_h = _NO_HOURS
        if not task.when or _holds(task.when, flags):
            person_h = rows.fixed_person_h
            for driver, amount, per, when in rows.rates:
                if not when or _holds(when, flags):
                    hours = quantities[driver].value * amount
                    person_h += hours if per is None else hours / per
            for factor in rows.factors:
                if flags[factor.flag]:
                    person_h *= factor.multiplier
        after: dict[tuple[int, str], int] = {}
        for before, lag_ticks, lag_table, when in rows.after:
            if when and not _holds(when, flags):
                continue
            earlier = stands_for[before]
            if isinstance(earlier, int):
                key = earlier, lag_table
                if after.get(key, -1) < lag_ticks:
                    after[key] = lag_ticks
            else:
                _hand_on(after, earlier, lag_ticks, lag_table)
        if person_h:
            hours_at_six_places = exact(person_h)
            duration_ticks = int(hours_at_six_places * _MILLION) * _TICKS_OF_A_MILLIONTH // task.crew
            lags = tuple([(before, lag, table) for (before, table), lag in after.items()])
            stands_for.append(len(needed))
            needed.append(NeededTask(task, hours_at_six_places, duration_ticks, rows.elapsed_ticks, lags))
        else:
            stands_for.append(after)
    return tuple(needed)


def labour_settings(settings: Mapping[str, Any]) -> LabourSettings:
    """The settings of labour.json, checked. Raises RefusedRow that names the setting."""
    day = _section(settings, "day")
    half = _section(settings, "electrician_half_day")
    start, end, break_from, break_to = (_minutes(day, key) for key in ("start", "end", "break_from", "break_to"))
    half_from, half_to = (_minutes(half, key) for key in ("from", "to"))
    if not start < break_from <= break_to < end:
        raise RefusedRow(SETTINGS_FILE, None, "day: start, break and end do not follow each other")
    half_days = {"electrician_half_day": (half_from, half_to)}
    groundworks: tuple[int, int] | tuple[None, None] = None, None
    if "groundworker_half_day" in settings:
        section = _section(settings, "groundworker_half_day")
        half_days["groundworker_half_day"] = groundworks = _minutes(section, "from"), _minutes(section, "to")
    for name, (since, until) in half_days.items():
        if not start <= since < until <= end or (since < break_to and until > break_from):
            raise RefusedRow(SETTINGS_FILE, None, f"{name}: lies within the day and not over the break")
    tables: dict[str, Mapping[str, Decimal]] = {}
    for name, table in _section(settings, "lag_tables").items():
        if set(table) != set(BASE_TYPES):
            raise RefusedRow(SETTINGS_FILE, None, f"lag table {name!r} has hours for each of {', '.join(BASE_TYPES)}")
        tables[name] = {base: _setting(f"lag_tables, {name}, {base}", hours) for base, hours in table.items()}
    cold = {name: _setting(f"cold_factors, {name}", by) for name, by in _section(settings, "cold_factors").items()}
    for name, by in cold.items():
        if name not in tables or by < 1:
            raise RefusedRow(SETTINGS_FILE, None, f"cold_factors, {name}: names a lag table and is at least 1")
    people = tuple(
        Person(str(person["name"]), str(person["trade"]), frozenset(person.get("skills", ())))
        for person in settings.get("people", ())
    )
    for person in people:
        if person.trade not in TRADES:
            raise RefusedRow(
                SETTINGS_FILE,
                None,
                f"people, {person.name}: a trade is {', '.join(TRADES[:-1])} or {TRADES[-1]}, not {person.trade!r}",
            )
    if len({person.name for person in people}) < len(people):
        raise RefusedRow(SETTINGS_FILE, None, "people: a name stands twice")
    crew = settings.get("usual_crew")
    if not isinstance(crew, int) or not 1 <= crew <= LARGEST_CREW:
        raise RefusedRow(SETTINGS_FILE, None, f"usual_crew is a whole number from 1 to {LARGEST_CREW}, not {crew!r}")
    rounding = _setting("visit_rounding_h", settings.get("visit_rounding_h"))
    if not rounding:
        raise RefusedRow(SETTINGS_FILE, None, "visit_rounding_h is above 0")
    return LabourSettings(
        day_start_min=start,
        day_end_min=end,
        break_from_min=break_from,
        break_to_min=break_to,
        half_day_from_min=half_from,
        half_day_to_min=half_to,
        visit_rounding_h=rounding,
        thin_last_day_h=_setting("thin_last_day_h", settings.get("thin_last_day_h")),
        usual_crew=crew,
        lag_tables_h=tables,
        cold_factors=cold,
        people=people,
        groundworks_from_min=groundworks[0],
        groundworks_to_min=groundworks[1],
    )


def _holds(when: Condition, flags: Mapping[str, bool]) -> bool:
    for flag, wanted in when:  # noqa: SIM110 (a generator would cost more than the work)
        if flags[flag] is not wanted:
            return False
    return True


def _hand_on(
    after: dict[tuple[int, str], int], earlier: Mapping[tuple[int, str], int], lag_ticks: int, lag_table: str
) -> None:
    for (before, table), lag in earlier.items():
        larger = max(lag, lag_ticks)
        for name in (table, lag_table) if table and lag_table else (table or lag_table,):
            after[before, name] = max(after.get((before, name), 0), larger)


def _in_order(tasks: Sequence[Task], order: Sequence[TaskOrder]) -> tuple[Task, ...]:
    waits = {task.code: {step.after for step in order if step.task == task.code} for task in tasks}
    left = list(tasks)
    done: set[str] = set()
    ordered: list[Task] = []
    while left:
        ready = next((task for task in left if waits[task.code] <= done), None)
        if ready is None:
            raise RefusedRow(ORDER_FILE, None, f"the order goes in a circle: {' after '.join(_circle(waits, done))}")
        left.remove(ready)
        done.add(ready.code)
        ordered.append(ready)
    return tuple(ordered)


def _circle(waits: Mapping[str, set[str]], done: set[str]) -> list[str]:
    path = [min(code for code in waits if code not in done)]
    while True:
        code = min(waits[path[-1]] - done)
        if code in path:
            return [*path[path.index(code) :], code]
        path.append(code)


def _rows(
    file: str,
    rows: Iterable[Mapping[str, str]],
    columns: tuple[str, ...],
    read: Callable[[str, int, Mapping[str, str]], T],
) -> tuple[T, ...]:
    result: list[T] = []
    for number, row in enumerate(rows, 2):
        headings = set(row) - {"note"}
        if headings != set(columns):
            wrong = sorted(str(name) for name in headings ^ set(columns))
            raise RefusedRow(file, number, f"its columns are {', '.join(columns)} (and note); check {', '.join(wrong)}")
        result.append(read(file, number, {name: (row[name] or "").strip() for name in columns}))
    return tuple(result)


def _task(file: str, number: int, row: Mapping[str, str]) -> Task:
    for name in ("code", "phase", "name", "trade"):
        if not row[name]:
            raise RefusedRow(file, number, f"{name} is empty")
    if not row["crew"].isdecimal() or not 1 <= int(row["crew"]) <= LARGEST_CREW:
        raise RefusedRow(file, number, f"crew is a whole number from 1 to {LARGEST_CREW}, not {row['crew']!r}")
    crew = int(row["crew"])
    if row["trade"] in (ELECTRICIAN, GROUNDWORKER) and crew != 1:
        raise RefusedRow(file, number, f"the {row['trade']} comes alone: crew is 1")
    return Task(
        code=row["code"],
        phase=row["phase"],
        name=row["name"],
        trade=row["trade"],
        crew=crew,
        skills=frozenset(row["skills"].split()),
        fixed_person_h=_number(file, number, "fixed_person_h", row["fixed_person_h"]),
        elapsed_h=_number(file, number, "elapsed_h", row["elapsed_h"]) if row["elapsed_h"] else None,
        one_go=_yes_or_no(file, number, "one_go", row["one_go"]),
        weather_exposed=_yes_or_no(file, number, "weather_exposed", row["weather_exposed"]),
        services_off=_services(file, number, row["services_off"]),
        services_restored=_services(file, number, row["services_restored"]),
        when=_when(file, number, row["when"]),
    )


def _task_hours(file: str, number: int, row: Mapping[str, str]) -> TaskHours:
    if row["driver"] not in DRIVERS:
        raise RefusedRow(file, number, f"no quantity is called {row['driver']!r}")
    per = _number(file, number, "per", row["per"])
    if not per:
        raise RefusedRow(file, number, "per is above 0")
    amount = _number(file, number, "amount", row["amount"])
    return TaskHours(row["task"], row["driver"], amount, per, _when(file, number, row["when"]))


def _task_order(file: str, number: int, row: Mapping[str, str]) -> TaskOrder:
    if row["lag_h"] and row["lag_table"]:
        raise RefusedRow(file, number, "a lag is a number of hours or a table, not both")
    lag_h = _number(file, number, "lag_h", row["lag_h"] or "0")
    return TaskOrder(row["task"], row["after"], lag_h, row["lag_table"], _when(file, number, row["when"]))


def _task_factor(file: str, number: int, row: Mapping[str, str]) -> TaskFactor:
    _known_flag(file, number, row["flag"])
    multiplier = _number(file, number, "multiplier", row["multiplier"])
    if not multiplier:
        raise RefusedRow(file, number, "multiplier is above 0")
    if not row["tasks"]:
        raise RefusedRow(file, number, "tasks is empty")
    return TaskFactor(row["flag"], tuple(row["tasks"].split()), multiplier)


def _when(file: str, number: int, text: str) -> Condition:
    if not text:
        return ()
    condition: list[tuple[str, bool]] = []
    for part in text.split(" and "):
        words = part.split()
        wanted = words[:1] != ["not"]
        flag = " ".join(words if wanted else words[1:])
        _known_flag(file, number, flag)
        condition.append((flag, wanted))
    if len(condition) > 2:
        raise RefusedRow(file, number, f"when has at most two flags, not {len(condition)}")
    return tuple(condition)


def _known_flag(file: str, number: int, flag: str) -> None:
    if flag not in FLAGS:
        raise RefusedRow(file, number, f"no flag is called {flag!r}")


def _known_task(file: str, number: int, code: str, known: Mapping[str, int]) -> None:
    if code not in known:
        raise RefusedRow(file, number, f"no task is called {code!r}")


def _services(file: str, number: int, text: str) -> tuple[str, ...]:
    services = tuple(text.split())
    for service in services:
        if service not in SERVICES:
            raise RefusedRow(file, number, f"a service is one of {', '.join(SERVICES)}, not {service!r}")
    return services


def _yes_or_no(file: str, number: int, name: str, text: str) -> bool:
    if text not in ("yes", "no"):
        raise RefusedRow(file, number, f"{name} is yes or no, not {text!r}")
    return text == "yes"


def _number(file: str, number: int | None, name: str, text: str) -> Decimal:
    try:
        value = Decimal(text)
    except InvalidOperation:
        raise RefusedRow(file, number, f"{name} is a number, not {text!r}") from None
    if not value.is_finite() or value < 0:
        raise RefusedRow(file, number, f"{name} is not below 0, not {text!r}")
    return value


def _setting(name: str, value: object) -> Decimal:
    return _number(SETTINGS_FILE, None, name, str(value))


def _section(settings: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    section = settings.get(name)
    if not isinstance(section, Mapping):
        raise RefusedRow(SETTINGS_FILE, None, f"{name} is missing")
    return section


def _minutes(section: Mapping[str, Any], name: str) -> int:
    text = str(section.get(name))
    hours, colon, minutes = text.partition(":")
    if not (colon and hours.isdecimal() and minutes.isdecimal() and int(hours) < 24 and int(minutes) < 60):
        raise RefusedRow(SETTINGS_FILE, None, f"{name} is a time of day such as 08:00, not {text!r}")
    return int(hours) * 60 + int(minutes)
