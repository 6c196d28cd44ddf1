"""The labour-day plan: who does what on which day, and how long the house is without a service."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from functools import lru_cache
from typing import Literal

from models.findings import Finding, sorted_findings
from models.frozen import quickly_made
from models.labour.schedule import (
    DAY_ON_THE_CLOCK,
    Calendar,
    Job,
    Placing,
    Visiting,
    calendar_of,
    half_days,
    is_working_day,
    job_of,
    most_days,
    offsets_of,
    shape_of,
    windows_of,
)
from models.labour.search import Effort, Made, best_of, work_bound_days
from models.labour.tasks import (
    BASE_TYPES,
    ENGINEER,
    LARGEST_CREW,
    TICKS_PER_H,
    TICKS_PER_MINUTE,
    LabourSettings,
    NeededTask,
    Person,
    Task,
)
from models.sources import COMMON_PRACTICE, Source, Why
from models.units import exact

SOURCE = Source("the firm's labour rows and working day", standing="firm's rule")
WHY = Why(
    sentence="{person_hours} person-hours in {days} days; work and waiting times alone take {lower_bound_days}.",
    source=SOURCE,
)

Service = Literal["heating", "hot_water", "cold_water", "power"]
Booked = Literal["by_the_hour", "half_day", "whole_day"]

_BY_THE_HOUR: Booked = "by_the_hour"
_SERVICES: tuple[Service, ...] = ("heating", "hot_water", "cold_water", "power")
_HALF_MINUTE = TICKS_PER_MINUTE // 2
_MINUTES_A_DAY = 24 * 60
_TIMES = tuple(f"{minute // 60:02d}:{minute % 60:02d}" for minute in range(_MINUTES_A_DAY + 1))
_QUARTER = TICKS_PER_H // 4
_CASTING_LIMIT_C = 2


@dataclass(frozen=True, slots=True)
class DayTime:
    """A moment in the plan: the working day, counted from 1, and the time of day to the minute."""

    day: int
    at: str


@quickly_made
@dataclass(frozen=True, slots=True)
class PlannedTask:
    """A task in its place. `pieces` are (day, from, to), cut at breaks and nights; `end` is that of the attendance."""

    code: str
    name: str
    phase: str
    trade: str
    crew: int
    person_hours: Decimal
    start: DayTime
    end: DayTime
    pieces: tuple[tuple[int, str, str], ...]
    people: tuple[str, ...]
    weather_exposed: bool


@quickly_made
@dataclass(frozen=True, slots=True)
class ServiceWindow:
    """A time without a service: hours on the clock, hours of them in which people work, and nights."""

    service: Service
    off: DayTime
    on: DayTime
    clock_h: float
    working_h: float
    overnight: int


@quickly_made
@dataclass(frozen=True, slots=True)
class Visit:
    """The attendance of a trade on one day.

    `charged_person_hours` are whole quarters of an hour: on days that follow each other they add up to what was worked
    on all of them, rounded up once. So the price is the same however the same work lies on the same days.
    """

    trade: str
    day: int
    people: tuple[str, ...]
    arrives: str
    leaves: str
    person_hours: Decimal
    charged_person_hours: Decimal
    booked: Booked


@quickly_made
@dataclass(frozen=True, slots=True)
class LabourPlan:
    """Who does what when. `days` is None where no plan can be made; the findings then say why.

    `proven` where no plan at all could take fewer days than `lower_bound_days`. `dates` only with a first day.
    """

    days: int | None
    crew: int
    person_hours: Decimal
    person_hours_by_trade: Mapping[str, Decimal]
    visits: tuple[Visit, ...]
    tasks: tuple[PlannedTask, ...]
    services: tuple[ServiceWindow, ...]
    heating_off_h: float
    hot_water_off_h: float
    power_off_h: float
    cold_water_off_h: float
    heating_off_nights: int
    lower_bound_days: int
    proven: bool
    dates: tuple[date, ...]
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Changes:
    """What is otherwise than planned. Days count from 1, minutes from midnight.

    `wet_days` are lost to tasks in the open; `not_before` by task code is (day, minute); `hands` are one more
    engineer each, without skills, for (day, from minute, to minute); `overtime_min` is added to each day.
    """

    wet_days: tuple[int, ...] = ()
    not_before: Mapping[str, tuple[int, int]] = field(default_factory=dict)
    hands: tuple[tuple[int, int, int], ...] = ()
    overtime_min: int = 0


_AS_PLANNED = Changes()


def plan(
    tasks: Sequence[NeededTask],
    crew: int,
    settings: LabourSettings,
    *,
    starts_on: date | None,
    base_type: str,
    cold: bool,
    bank_holidays: frozenset[date] = frozenset(),
    effort: Effort = "live",
    changes: Changes = _AS_PLANNED,
) -> LabourPlan:
    """The plan with the fewest days, then the shortest time without hot water and heating together.

    The firm's rule; see `search.py`. `effort` is "live" for an estimate (about a millisecond), "thorough" for a
    quote, or "days" where only the days matter. `crew` engineers from 1 to 6 and, where a task needs one, an
    electrician or groundworker for a half-day; `base_type` and `cold` choose the curing time. With `starts_on` the
    days skip weekends and `bank_holidays`, and nights count as the calendar has them. A plan is remembered: most
    choices, and most of the forty estimates of a table of assumptions, leave every task as it was. Raises ValueError
    for another crew or an unknown base type.
    """
    if changes is not _AS_PLANNED:
        return _plan(tasks, crew, settings, starts_on, base_type, cold, bank_holidays, effort, changes)
    key = (
        tuple([(each.task.code, each.duration_ticks, each.elapsed_ticks, each.after) for each in tasks]),
        crew,
        starts_on,
        base_type,
        cold,
        effort,
    )
    remembered = _plans.get(key)
    if remembered is not None and remembered.holds(tasks, settings, bank_holidays):
        return remembered.made
    if len(_plans) >= _MOST_PLANS:
        _plans.clear()
    made = _plan(tasks, crew, settings, starts_on, base_type, cold, bank_holidays, effort, changes)
    _plans[key] = _Remembered(tuple(tasks), settings, bank_holidays, made)
    return made


@dataclass(frozen=True, slots=True)
class _Remembered:
    """A plan with all that it was made of, so that rows of the same code but of another version never meet it."""

    tasks: tuple[NeededTask, ...]
    settings: LabourSettings
    bank_holidays: frozenset[date]
    made: LabourPlan

    def holds(self, tasks: Sequence[NeededTask], settings: LabourSettings, bank_holidays: frozenset[date]) -> bool:
        """Whether the plan is that of these tasks, settings and holidays."""
        return (
            self.settings is settings
            and self.bank_holidays == bank_holidays
            and all([a.task is b.task and a.person_h == b.person_h for a, b in zip(self.tasks, tasks, strict=True)])
        )


_plans: dict[tuple[object, ...], _Remembered] = {}
_MOST_PLANS = 256


def forget_plans() -> None:
    """Let the next plan be made anew, for whoever times one."""
    _plans.clear()


def _plan(
    tasks: Sequence[NeededTask],
    crew: int,
    settings: LabourSettings,
    starts_on: date | None,
    base_type: str,
    cold: bool,
    bank_holidays: frozenset[date],
    effort: Effort,
    changes: Changes,
) -> LabourPlan:
    if not 1 <= crew <= LARGEST_CREW:
        raise ValueError(f"a crew is 1 to {LARGEST_CREW} engineers, not {crew}")
    if base_type not in BASE_TYPES:
        raise ValueError(f"a base is one of {', '.join(BASE_TYPES)}, not {base_type!r}")
    by_trade: dict[str, Decimal] = {}
    for task in tasks:
        trade = task.task.trade
        by_trade[trade] = by_trade[trade] + task.person_h if trade in by_trade else task.person_h
    findings = _impossible(tasks, crew, settings)
    if findings:
        return _no_plan(crew, by_trade, findings)
    first, findings = _first_day(starts_on, bank_holidays)
    offsets = offsets_of(first, bank_holidays, most_days(tasks, settings) + len(changes.wet_days))

    def made_with(engineers: int, overtime: int = 0, with_effort: Effort = "live") -> Made:
        calendar = calendar_of(settings, offsets, overtime + changes.overtime_min * TICKS_PER_MINUTE)
        job = job_with(tasks, settings, calendar, changes, crew=engineers, base_type=base_type, cold=cold)
        return best_of(job, with_effort)

    made = made_with(crew, with_effort=effort)
    placing = made.placing
    if placing is None:
        return _no_plan(crew, by_trade, [*findings, _longer_than(len(offsets))])
    for fewer in range(crew - 1, 0, -1):
        if (
            made.lower_bound_days >= placing.days
            or work_bound_days(made.job, fewer) >= placing.days
            or _impossible(tasks, fewer, settings)
        ):
            break
        smaller = made_with(fewer, with_effort=effort)
        if smaller.placing is not None and smaller.placing.days < placing.days:
            made, placing = smaller, smaller.placing
    job = made.job
    engineers = job.shape.engineers - len(job.hands)
    windows = tuple([window for service in _SERVICES for window in _service_windows(job, placing, service)])
    for says in (
        _unrestored(tasks, job),
        _visits_say(job, placing),
        _fewer_are_enough(crew, engineers, placing.days),
        _weekend_says(windows, placing.days, first, bank_holidays),
        _cold_says(tasks, settings, base_type, cold),
    ):
        findings.extend(says)
    over = placing.rank[-1] - (placing.days - 1) * job.calendar.day
    if placing.days > 1 and over < settings.thin_last_day_h * TICKS_PER_H:
        there = sum([person.trade == ENGINEER for person in settings.people])
        findings.append(_thin_last_day(job, placing.days, over, engineers, there, made_with))
    by_start = sorted(range(len(tasks)), key=placing.start.__getitem__)
    names = {who: tuple([job.shape.people[person].name for person in who]) for who in set(placing.who)}
    off_h = dict.fromkeys(_SERVICES, 0.0)
    for window in windows:
        off_h[window.service] += window.clock_h
    return LabourPlan(
        days=placing.days,
        crew=engineers,
        person_hours=sum(by_trade.values(), Decimal(0)),
        person_hours_by_trade=by_trade,
        visits=_visits(settings, job, placing),
        tasks=tuple([_planned(tasks[place], job, placing, place, names) for place in by_start]),
        services=windows,
        heating_off_h=off_h["heating"],
        hot_water_off_h=off_h["hot_water"],
        power_off_h=off_h["power"],
        cold_water_off_h=off_h["cold_water"],
        heating_off_nights=sum([w.overnight for w in windows if w.service == "heating"]),
        lower_bound_days=made.lower_bound_days,
        proven=made.lower_bound_days >= placing.days,
        dates=() if first is None else tuple([first + timedelta(days=offsets[day]) for day in range(placing.days)]),
        findings=sorted_findings(findings),
    )


def job_with(
    tasks: Sequence[NeededTask],
    settings: LabourSettings,
    calendar: Calendar,
    changes: Changes,
    *,
    crew: int,
    base_type: str,
    cold: bool,
) -> Job:
    """The job as numbers with something otherwise than planned. Raises KeyError for a task code that is not needed."""
    shape = shape_of(tasks, settings, crew=crew, base_type=base_type, cold=cold)
    if changes is _AS_PLANNED:
        return job_of(tasks, shape, calendar)
    places = {needed.task.code: place for place, needed in enumerate(tasks)}
    return job_of(
        tasks,
        shape,
        calendar,
        wet_days=[day - 1 for day in changes.wet_days],
        not_before={
            places[code]: (day - 1) * calendar.day + _work_of_minute(calendar, minute)
            for code, (day, minute) in changes.not_before.items()
        },
        hands=tuple(
            (
                (day - 1) * calendar.day + _work_of_minute(calendar, since),
                (day - 1) * calendar.day + _work_of_minute(calendar, until),
            )
            for day, since, until in changes.hands
        ),
    )


def _work_of_minute(calendar: Calendar, minute: int) -> int:
    """Work of a day that lies before a time of day."""
    rest = minute * TICKS_PER_MINUTE - calendar.start
    if rest > calendar.break_from:
        rest = max(calendar.break_from, rest - calendar.break_length)
    return min(max(rest, 0), calendar.day)


def _impossible(tasks: Sequence[NeededTask], crew: int, settings: LabourSettings) -> list[Finding]:
    """Why these people cannot do these tasks, if they cannot."""
    return list(_cannot(tuple([needed.task for needed in tasks]), crew, settings))


@lru_cache(maxsize=512)
def _cannot(tasks: tuple[Task, ...], crew: int, settings: LabourSettings) -> tuple[Finding, ...]:
    by_trade = _people(settings)
    engineers = by_trade.get(ENGINEER, ())[:crew]
    if len(engineers) < crew:
        message = f"the firm has {len(engineers)} engineers, not {crew}"
        return (Finding("engineers_missing", "stop", "crew", message, str(SOURCE), "choose a smaller crew"),)
    findings: list[Finding] = []
    largest = max([task.crew for task in tasks if task.trade == ENGINEER], default=0)
    if largest > crew:
        names = ", ".join(task.name for task in tasks if task.trade == ENGINEER and task.crew > crew)
        findings.append(
            Finding(
                "crew_too_small",
                "stop",
                "crew",
                f"a crew of {crew} cannot do what takes {largest} people: {names}",
                str(COMMON_PRACTICE),
                f"send {largest} engineers; nobody lifts a unit or a cylinder alone",
            )
        )
    halves = half_days(settings)
    needs: dict[str, set[frozenset[str]]] = {}
    for task in tasks:
        needs.setdefault(task.trade, set()).add(task.skills)
    for trade, skills in needs.items():
        people = engineers if trade == ENGINEER else by_trade.get(trade, ())
        # one person of a visiting trade comes, who is qualified for all of it
        together = skills if trade == ENGINEER else {frozenset[str]().union(*skills)}
        if people and (trade == ENGINEER or trade in halves):
            for some in together:
                if not any([person.skills >= some for person in people]):
                    findings.append(_skill_missing(tasks, trade, some))
            continue
        names = ", ".join(task.name for task in tasks if task.trade == trade)
        remedy = f"enter a person of the trade {trade}, or change the task"
        if people:
            remedy = f"enter the half-day for which a {trade} comes, or change the task"
        message = f"nobody of the trade {trade} is there for: {names}"
        findings.append(Finding("trade_missing", "stop", "crew", message, str(SOURCE), remedy))
    return tuple(findings)


@lru_cache(maxsize=32)
def _people(settings: LabourSettings) -> Mapping[str, tuple[Person, ...]]:
    trades = dict.fromkeys(person.trade for person in settings.people)
    return {trade: tuple(person for person in settings.people if person.trade == trade) for trade in trades}


def _skill_missing(tasks: Sequence[Task], trade: str, skills: frozenset[str]) -> Finding:
    names = ", ".join(task.name for task in tasks if task.trade == trade and task.skills & skills)
    return Finding(
        "skill_missing",
        "stop",
        "crew",
        f"nobody of the crew is qualified ({', '.join(sorted(skills))}) for: {names}",
        str(SOURCE),
        "send somebody who is; gas, unvented hot water and electricity are for qualified people only",
    )


def _no_plan(crew: int, by_trade: Mapping[str, Decimal], findings: Sequence[Finding]) -> LabourPlan:
    return LabourPlan(
        days=None,
        crew=crew,
        person_hours=sum(by_trade.values(), Decimal(0)),
        person_hours_by_trade=by_trade,
        visits=(),
        tasks=(),
        services=(),
        heating_off_h=0.0,
        hot_water_off_h=0.0,
        power_off_h=0.0,
        cold_water_off_h=0.0,
        heating_off_nights=0,
        lower_bound_days=0,
        proven=False,
        dates=(),
        findings=sorted_findings(findings),
    )


def _longer_than(days: int) -> Finding:
    message = f"no plan of up to {days} days was found: the order of the tasks leaves no time in which they fit"
    return Finding(
        "plan_not_found", "stop", "labour plan", message, str(SOURCE), "look at the order and lags of the tasks"
    )


def _first_day(starts_on: date | None, bank_holidays: frozenset[date]) -> tuple[date | None, list[Finding]]:
    if starts_on is None or is_working_day(starts_on, bank_holidays):
        return starts_on, []
    first = starts_on
    while not is_working_day(first, bank_holidays):
        first += timedelta(days=1)
    message = f"{starts_on:%A %d %B %Y} is no working day: the work starts on {first:%A %d %B %Y}"
    return first, [Finding("start_moved", "note", "labour plan", message, str(SOURCE))]


def _unrestored(tasks: Sequence[NeededTask], job: Job) -> Iterator[Finding]:
    for service, switches in job.shape.switches.items():
        if switches.off and not switches.on:
            names = ", ".join(tasks[place].task.name for place in switches.off)
            message = f"no task brings back the {_words(service)} that goes off with: {names}"
            remedy = "let a task of this job restore it"
            yield Finding("service_not_restored", "stop", _words(service), message, str(SOURCE), remedy)


def _visits_say(job: Job, placing: Placing) -> Iterator[Finding]:
    for visiting, work, times in zip(job.shape.visiting, job.work_of_visiting, placing.booking, strict=True):
        trade, half = visiting.trade, visiting.half_to - visiting.half_from
        days: set[int] = set()
        for place in visiting.places:
            begin = placing.start[place]
            days.update(range(begin // job.calendar.day, (begin + job.duration[place] - 1) // job.calendar.day + 1))
        shown = " and ".join([str(day + 1) for day in sorted(days)])
        if work > half:
            part = "morning" if visiting.half_to <= job.calendar.break_from else "afternoon"
            booked = "the whole of day" if _is_whole_day(visiting, times) else f"the {part} of day"
            yield Finding(
                f"{trade}_half_day_too_short",
                "note",
                trade,
                f"{_hours(work)} h of work do not fit into a half-day of {_hours(half)} h: booked for {booked} {shown}",
                str(SOURCE),
                f"take {_hours(work - half)} h out of the {trade}'s tasks for one half-day",
            )
        elif len(days) > 1:
            yield Finding(
                f"{trade}_comes_twice",
                "note",
                trade,
                f"{_hours(work)} h of work on days {shown}: other work lies between",
                str(SOURCE),
                f"look at the order of the {trade}'s tasks",
            )


def _fewer_are_enough(crew: int, used: int, days: int) -> Iterator[Finding]:
    if used < crew:
        message = f"{used} engineers need {days} days; {crew} would need more, since they would wait for each other"
        yield Finding("fewer_engineers_are_enough", "note", "crew", message, str(SOURCE), f"send {used}")


def _weekend_says(
    windows: Sequence[ServiceWindow], days: int, first: date | None, bank_holidays: frozenset[date]
) -> Iterator[Finding]:
    if first is None:
        return
    for window in windows:
        if window.overnight <= window.on.day - window.off.day:
            continue
        start = first
        while not all(is_working_day(start + timedelta(days=day), bank_holidays) for day in range(days)):
            start += timedelta(days=1)
            if (start - first).days > 2 * days + 7:
                break
        else:
            yield Finding(
                "services_off_over_days_off",
                "ask",
                _words(window.service),
                f"off for {window.clock_h:.1f} h, over days on which nobody works",
                str(SOURCE),
                f"start on {start:%A %d %B %Y}",
            )
            continue
        message = f"off for {window.clock_h:.1f} h, over days on which nobody works"
        yield Finding(
            "services_off_over_days_off", "ask", _words(window.service), message, str(SOURCE), "agree loan heaters"
        )


def _cold_says(tasks: Sequence[NeededTask], settings: LabourSettings, base_type: str, cold: bool) -> Iterator[Finding]:
    if not cold:
        return
    for table in dict.fromkeys(table for task in tasks for _, _, table in task.after if table):
        hours, factor = settings.lag_tables_h[table][base_type], settings.cold_factors.get(table, Decimal(1))
        if hours and factor > 1:
            yield Finding(
                "cold_lengthens_lag",
                "note",
                "base",
                f"in the cold the waiting time is {hours * factor:f} h instead of {hours:f} h",
                str(COMMON_PRACTICE),
                f"no concrete is cast below {_CASTING_LIMIT_C} °C; cover it, or choose a pre-formed base",
            )


def _thin_last_day(
    job: Job, days: int, over: int, engineers: int, there: int, made_with: Callable[[int, int], Made]
) -> Finding:
    """What the last little piece of work costs, and the cheaper way that was tried and found to work."""
    each_day = -(-over // ((days - 1) * _QUARTER)) * _QUARTER
    remedy = f"take {_hours(over)} h of work out, or agree the extra day"
    for overtime in (each_day, each_day + _QUARTER):
        longer = made_with(engineers, overtime).placing
        if longer is not None and longer.days < days:
            remedy = f"work {_hours(overtime)} h longer on each day before: that saves the day"
            break
    else:
        if engineers < there:
            more = made_with(engineers + 1, 0).placing
            if more is not None and more.days < days:
                remedy = f"send {engineers + 1} engineers: that saves the day"
    message = f"day {days} is there for the last {_hours(over)} h of work"
    return Finding("thin_last_day", "note", f"day {days}", message, str(SOURCE), remedy)


def _planned(
    needed: NeededTask, job: Job, placing: Placing, place: int, names: Mapping[tuple[int, ...], tuple[str, ...]]
) -> PlannedTask:
    calendar = job.calendar
    begin = placing.start[place]
    length = job.duration[place]
    day, rest = divmod(begin, calendar.day)
    clock, until = calendar.start + _HALF_MINUTE + rest, calendar.break_from
    if rest >= until:
        clock, until = clock + calendar.break_length, calendar.day
    # not the start of the first piece shown, which may hide some seconds before a break
    since = _TIMES[clock // TICKS_PER_MINUTE]
    if rest + length <= until:
        last = day + 1, since, _TIMES[(clock + length) // TICKS_PER_MINUTE]
        pieces: tuple[tuple[int, str, str], ...] = (last,)
    else:
        pieces = _pieces(calendar, begin, begin + length)
        last = pieces[-1]
    task = needed.task
    return PlannedTask(
        task.code,
        task.name,
        task.phase,
        task.trade,
        task.crew,
        needed.person_h,
        _moment(day + 1, since),
        _moment(last[0], last[2]),
        pieces,
        names[placing.who[place]],
        task.weather_exposed,
    )


@lru_cache(maxsize=4096)
def _moment(day: int, at: str) -> DayTime:
    return DayTime(day, at)


def _pieces(calendar: Calendar, begin: int, end: int) -> tuple[tuple[int, str, str], ...]:
    """A stretch of work cut at breaks and nights. A piece that is shorter than the minute shown is not shown."""
    day, rest = divmod(begin, calendar.day)
    pieces: list[tuple[int, str, str]] = []
    while True:
        if rest < calendar.break_from:
            until, shift = calendar.break_from, calendar.start + _HALF_MINUTE
        else:
            until, shift = calendar.day, calendar.start + calendar.break_length + _HALF_MINUTE
        length = until - rest
        if end - begin < length:
            length = end - begin
        since = rest + shift
        piece = day + 1, _TIMES[since // TICKS_PER_MINUTE], _TIMES[(since + length) // TICKS_PER_MINUTE]
        begin += length
        if begin >= end and not pieces:
            return (piece,)
        pieces.append(piece)
        if begin >= end:
            break
        day, rest = divmod(begin, calendar.day)
    shown = [piece for piece in pieces if piece[1] != piece[2]]
    return tuple(shown or pieces[:1])


def _service_windows(job: Job, placing: Placing, service: Service) -> Iterator[ServiceWindow]:
    switches = job.shape.switches[service]
    if not (switches.off or switches.both):
        return
    calendar = job.calendar
    for off, on in windows_of(job, placing.start, switches):
        yield ServiceWindow(
            service=service,
            off=_day_time(calendar, off),
            on=_day_time(calendar, on),
            clock_h=(on - off) / TICKS_PER_H,
            working_h=(calendar.work_at(on) - calendar.work_at(off)) / TICKS_PER_H,
            overnight=on // DAY_ON_THE_CLOCK - off // DAY_ON_THE_CLOCK,
        )


def _visits(settings: LabourSettings, job: Job, placing: Placing) -> tuple[Visit, ...]:
    rounding = int(settings.visit_rounding_h * TICKS_PER_H)
    day_length = job.calendar.day
    visitor = job.shape.visitor
    duration = job.duration
    # by day and visitor: ticks worked, from, to, who
    worked_at: dict[tuple[int, int], list[int]] = {}
    people_at: dict[tuple[int, int], list[tuple[int, ...]]] = {}
    for place, people in enumerate(placing.who):
        begin = placing.start[place]
        end = begin + duration[place]
        count = len(people)
        while begin < end:
            day = begin // day_length
            until = day * day_length + day_length
            if until > end:
                until = end
            key = day, visitor[place]
            there = worked_at.get(key)
            if there is None:
                worked_at[key] = [(until - begin) * count, begin, until]
                people_at[key] = [people]
            else:
                there[0] += (until - begin) * count
                if begin < there[1]:
                    there[1] = begin
                if until > there[2]:
                    there[2] = until
                people_at[key].append(people)
            begin = until
    by_person = {visiting.person: number for number, visiting in enumerate(job.shape.visiting)}
    visits: list[Visit] = []
    # by visitor, of the days that follow each other: the last of them, ticks worked, and of them charged
    so_far: dict[int, tuple[int, int, int]] = {}
    for key in sorted(worked_at):
        day, person = key
        worked, since, to = worked_at[key]
        last, total, charged = so_far.get(person, (-1, 0, 0))
        if last != day - 1:
            total = charged = 0
        total += worked
        more = -(-total // rounding) * rounding - charged
        so_far[person] = day, total, charged + more
        who = set().union(*people_at[key])
        trade, booked = ENGINEER, _BY_THE_HOUR
        if person >= 0:
            visiting = job.shape.visiting[by_person[person]]
            trade = visiting.trade
            booked = "whole_day" if _is_whole_day(visiting, placing.booking[by_person[person]]) else "half_day"
        visits.append(
            Visit(
                trade=trade,
                day=day + 1,
                people=tuple([job.shape.people[number].name for number in sorted(who)]),
                arrives=_time(job.calendar.clock_at_start(since) % DAY_ON_THE_CLOCK),
                leaves=_time(job.calendar.clock_at_end(to) % DAY_ON_THE_CLOCK),
                person_hours=exact(Decimal(worked) / TICKS_PER_H),
                charged_person_hours=Decimal(more) / TICKS_PER_H,
                booked=booked,
            )
        )
    return tuple(visits)


def _is_whole_day(visiting: Visiting, times: Sequence[tuple[int, int]]) -> bool:
    return times[0][1] - times[0][0] > visiting.half_to - visiting.half_from


def _day_time(calendar: Calendar, clock: int) -> DayTime:
    """A moment on the clock in words of the plan; on a day on which nobody works, the working day before."""
    calendar_day, rest = divmod(clock, DAY_ON_THE_CLOCK)
    day = calendar.day_of_offset.get(calendar_day)
    if day is None:
        day = sum([offset < calendar_day for offset in calendar.offsets]) - 1
    return _moment(day + 1, _time(rest))


def _time(ticks: int) -> str:
    return _TIMES[(ticks + _HALF_MINUTE) // TICKS_PER_MINUTE]


def _hours(ticks: int) -> str:
    return f"{ticks / TICKS_PER_H:.2f}".rstrip("0").rstrip(".")


def _words(service: str) -> str:
    return service.replace("_", " ")
