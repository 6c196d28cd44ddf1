"""Places tasks in time: the arithmetic of the labour-day plan, in whole ticks and without a word of text.

Time is counted twice: in ticks of work, on which the break and the night do not exist, so that a task may be split
over them without more ado; and in ticks of the clock, on which concrete cures, water heats up and people are cold.
`forward` gives each task in turn the first place that its predecessors, its lag and the people leave, `backward` the
last one before the end of a number of days. `search.py` tries orders, visits and days.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

from models.labour.tasks import (
    ENGINEER,
    SERVICES,
    TICKS_PER_H,
    TICKS_PER_MINUTE,
    LabourSettings,
    NeededTask,
    Person,
    Task,
)

DAY_ON_THE_CLOCK = 24 * TICKS_PER_H
NEVER = 1 << 62
_SLIVER = TICKS_PER_H // 4
"""Nobody starts a task in the last quarter of an hour of a day unless it is done by the end of it."""
_SATURDAY = 5
_SPARE_DAYS = 8
SECOND_AIM = ("hot_water", "heating")
"""The services whose time without is kept short after the fewest days."""


@dataclass(frozen=True, slots=True)
class Calendar:
    """Working days on the clock. `offsets` are the calendar days from the first working day to each."""

    day: int
    start: int
    break_from: int
    break_length: int
    offsets: tuple[int, ...]
    day_of_offset: Mapping[int, int]

    def clock_at_start(self, work: int) -> int:
        """The moment on the clock at which something starts that starts after so much work."""
        day, rest = divmod(work, self.day)
        clock = self.offsets[day] * DAY_ON_THE_CLOCK + self.start + rest
        return clock + self.break_length if rest >= self.break_from else clock

    def clock_at_end(self, work: int) -> int:
        """The moment at which something ends: at the end of a day rather than at the start of the next."""
        day, rest = divmod(work, self.day)
        if not rest and day:
            day, rest = day - 1, self.day
        clock = self.offsets[day] * DAY_ON_THE_CLOCK + self.start + rest
        return clock + self.break_length if rest > self.break_from else clock

    def work_at(self, clock: int) -> int:
        """The work that lies before a moment on the clock: the earliest start at or after it."""
        calendar_day, rest = divmod(clock, DAY_ON_THE_CLOCK)
        day = self.day_of_offset.get(calendar_day)
        if day is None:
            return bisect_right(self.offsets, calendar_day) * self.day
        rest -= self.start
        if rest > self.break_from:
            rest = max(self.break_from, rest - self.break_length)
        return day * self.day + min(max(rest, 0), self.day)

    def last_start(self, clock: int) -> int:
        """The latest start, in work, that lies at or before a moment on the clock; -1 where there is none."""
        calendar_day, rest = divmod(clock, DAY_ON_THE_CLOCK)
        day = bisect_right(self.offsets, calendar_day) - 1
        if day < 0:
            return -1
        if self.offsets[day] < calendar_day:
            return (day + 1) * self.day - 1
        rest -= self.start
        if rest >= self.break_from:
            rest = max(self.break_from - 1, rest - self.break_length)
        return day * self.day + min(max(rest, -1), self.day - 1)

    def last_end(self, clock: int) -> int:
        """The latest end, in work, that lies at or before a moment on the clock; 0 where there is none."""
        calendar_day, rest = divmod(clock, DAY_ON_THE_CLOCK)
        day = bisect_right(self.offsets, calendar_day) - 1
        if day < 0:
            return 0
        if self.offsets[day] < calendar_day:
            return (day + 1) * self.day
        rest -= self.start
        if rest > self.break_from:
            rest = max(self.break_from, rest - self.break_length)
        return day * self.day + min(max(rest, 0), self.day)


@dataclass(frozen=True, slots=True)
class Switches:
    """The tasks that switch a service off for others to restore, that restore it, and that do both themselves."""

    off: tuple[int, ...]
    on: tuple[int, ...]
    both: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Visiting:
    """A trade that comes for half-days: which person of the job it is, its half-day, and its tasks."""

    trade: str
    person: int
    half_from: int
    half_to: int
    places: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Shape:
    """All of a job but how long its tasks take. People are counted: engineers first, then one of each visiting trade.

    `after` are the places that must be done first, `lagging` those with a lag, `before` and `leading` the same seen
    from the other end. `visitor` is the person of a visiting trade that does a task, or
    -1, `alone` each person as a crew.
    """

    people: tuple[Person, ...]
    engineers: int
    crew: tuple[int, ...]
    one_go: tuple[bool, ...]
    exposed: tuple[bool, ...]
    elapsed: tuple[int, ...]
    visitor: tuple[int, ...]
    visiting: tuple[Visiting, ...]
    able: tuple[tuple[int, ...], ...]
    after: tuple[tuple[int, ...], ...]
    lagging: tuple[tuple[tuple[int, int], ...], ...]
    before: tuple[tuple[int, ...], ...]
    leading: tuple[tuple[tuple[int, int], ...], ...]
    switches: Mapping[str, Switches]
    second_aim: tuple[Switches, ...]
    alone: tuple[tuple[int], ...]


Row = tuple[
    int,
    int,
    int,
    tuple[int, ...],
    tuple[int, ...],
    tuple[tuple[int, int], ...],
    tuple[int, ...],
    tuple[tuple[int, int], ...],
    int,
    tuple[tuple[int, int], ...],
]
"""Of one task: length, least rest of the day at its start, crew, who is able, after, lagging, before, leading,
time on the clock or 0, and the stretches of work in which it cannot be done."""


@dataclass(frozen=True, slots=True)
class Job:
    """The tasks as numbers, each after all that it comes after.

    `engineers_work` is all their work as if one of them did it. `not_before` is the earliest work at which each may
    start, `hands` the times for which more engineers come, one each.
    """

    shape: Shape
    calendar: Calendar
    duration: tuple[int, ...]
    rows: tuple[Row, ...]
    not_before: tuple[int, ...]
    hands: tuple[tuple[int, int], ...]
    engineers_work: int
    work_of_visiting: tuple[int, ...]


Booking = tuple[tuple[tuple[int, int], ...], ...]
"""For each visiting trade the times for which it comes: from, to."""


@dataclass(frozen=True, slots=True)
class Placing:
    """Where the tasks lie, in ticks of work. Of two placings the one with the smaller `rank` is better.

    Rank: days, time without hot water and without heating together, without hot water, time booked of visiting
    trades, the end of the last task.
    """

    rank: tuple[int, int, int, int, int]
    days: int
    start: tuple[int, ...]
    who: tuple[tuple[int, ...], ...]
    booking: Booking


def shape_of(tasks: Sequence[NeededTask], settings: LabourSettings, *, crew: int, base_type: str, cold: bool) -> Shape:
    """The job less its durations: remembered, since the jobs of a firm have few shapes."""
    return _shape(
        tuple([needed.task for needed in tasks]),
        tuple([needed.after for needed in tasks]),
        tuple([needed.elapsed_ticks for needed in tasks]),
        settings,
        crew,
        base_type,
        cold,
    )


@lru_cache(maxsize=512)
def _shape(
    tasks: tuple[Task, ...],
    comes_after: tuple[tuple[tuple[int, int, str], ...], ...],
    elapsed: tuple[int, ...],
    settings: LabourSettings,
    crew: int,
    base_type: str,
    cold: bool,
) -> Shape:
    count = len(tasks)
    people = [person for person in settings.people if person.trade == ENGINEER][:crew]
    visiting: list[Visiting] = []
    visitor = [-1] * count
    for trade, (half_from, half_to) in half_days(settings).items():
        places = tuple(place for place, task in enumerate(tasks) if task.trade == trade)
        if not places:
            continue
        skills = frozenset[str]().union(*(tasks[place].skills for place in places))
        # whoever is qualified for all of the trade's tasks comes, and nobody else
        person = next(person for person in settings.people if person.trade == trade and person.skills >= skills)
        for place in places:
            visitor[place] = len(people)
        visiting.append(Visiting(trade, len(people), half_from, half_to, places))
        people.append(person)
    fewest_skills_first = sorted(range(crew), key=lambda number: len(people[number].skills))
    curing = {
        name: int(table[base_type] * (settings.cold_factors.get(name, 1) if cold else 1) * TICKS_PER_H)
        for name, table in settings.lag_tables_h.items()
    }
    able: list[tuple[int, ...]] = []
    after: list[list[int]] = []
    lagging: list[list[tuple[int, int]]] = []
    before: list[list[int]] = [[] for _ in tasks]
    leading: list[list[tuple[int, int]]] = [[] for _ in tasks]
    for place, task in enumerate(tasks):
        at_once: list[int] = []
        with_lag: dict[int, int] = {}
        for earlier, lag, table in comes_after[place]:
            lag = max(lag, curing[table]) if table else lag
            if lag:
                with_lag[earlier] = max(lag, with_lag.get(earlier, 0))
            else:
                at_once.append(earlier)
        for earlier in at_once:
            before[earlier].append(place)
        for earlier, lag in with_lag.items():
            leading[earlier].append((place, lag))
        after.append(at_once)
        lagging.append(list(with_lag.items()))
        if visitor[place] >= 0:
            able.append((visitor[place],))
        else:
            able.append(tuple(number for number in fewest_skills_first if people[number].skills >= task.skills))
    switches = {service: _switches(tasks, service) for service in SERVICES}
    second_aim = tuple(switches[service] for service in SECOND_AIM if switches[service].off or switches[service].both)
    return Shape(
        people=tuple(people),
        engineers=crew,
        crew=tuple(task.crew for task in tasks),
        one_go=tuple(task.one_go for task in tasks),
        exposed=tuple(task.weather_exposed for task in tasks),
        elapsed=elapsed,
        visitor=tuple(visitor),
        visiting=tuple(visiting),
        able=tuple(able),
        after=tuple(map(tuple, after)),
        lagging=tuple(map(tuple, lagging)),
        before=tuple(map(tuple, before)),
        leading=tuple(map(tuple, leading)),
        switches=switches,
        second_aim=second_aim,
        alone=tuple((number,) for number in range(len(people))),
    )


def _switches(tasks: Sequence[Task], service: str) -> Switches:
    off = [service in task.services_off for task in tasks]
    on = [service in task.services_restored for task in tasks]
    places = range(len(tasks))
    return Switches(
        off=tuple(place for place in places if off[place] and not on[place]),
        on=tuple(place for place in places if on[place] and not off[place]),
        both=tuple(place for place in places if on[place] and off[place]),
    )


@lru_cache(maxsize=32)
def half_days(settings: LabourSettings) -> Mapping[str, tuple[int, int]]:
    """The half-day of each visiting trade, in ticks of work from the start of a day."""
    pause = (settings.break_to_min - settings.break_from_min) * TICKS_PER_MINUTE

    def work_at(minute: int) -> int:
        before = pause if minute >= settings.break_to_min else 0
        return (minute - settings.day_start_min) * TICKS_PER_MINUTE - before

    return {trade: (work_at(since), work_at(until)) for trade, since, until in settings.half_days_min}


@lru_cache(maxsize=128)
def calendar_of(settings: LabourSettings, offsets: tuple[int, ...], overtime: int) -> Calendar:
    """The working days of the settings. `overtime` is added to the end of each day, in ticks."""
    break_length = (settings.break_to_min - settings.break_from_min) * TICKS_PER_MINUTE
    return Calendar(
        day=(settings.day_end_min - settings.day_start_min) * TICKS_PER_MINUTE - break_length + overtime,
        start=settings.day_start_min * TICKS_PER_MINUTE,
        break_from=(settings.break_from_min - settings.day_start_min) * TICKS_PER_MINUTE,
        break_length=break_length,
        offsets=offsets,
        day_of_offset={offset: day for day, offset in enumerate(offsets)},
    )


def job_of(
    tasks: Sequence[NeededTask],
    shape: Shape,
    calendar: Calendar,
    *,
    wet_days: Sequence[int] = (),
    not_before: Mapping[int, int] | None = None,
    hands: tuple[tuple[int, int], ...] = (),
) -> Job:
    """The job of a shape. `wet_days` (from 0) are lost to tasks in the open; `not_before` by place among the tasks."""
    day = calendar.day
    wet = tuple((number * day, (number + 1) * day) for number in sorted(wet_days))
    if hands:
        shape = _with_hands(shape, len(hands))
    duration = tuple([needed.duration_ticks for needed in tasks])
    # at least so much of the day must be left when a task starts, unless it is done before
    needs = [
        (length if length <= day else 0) if whole else (length if length < _SLIVER else _SLIVER)
        for length, whole in zip(duration, shape.one_go, strict=True)
    ]
    blocked = [wet if exposed else () for exposed in shape.exposed] if wet else [()] * len(duration)
    release = [0] * len(duration)
    for place, earliest in (not_before or {}).items():
        release[place] = earliest
    return Job(
        shape=shape,
        calendar=calendar,
        duration=duration,
        rows=tuple(
            zip(
                duration,
                needs,
                shape.crew,
                shape.able,
                shape.after,
                shape.lagging,
                shape.before,
                shape.leading,
                shape.elapsed,
                blocked,
                strict=True,
            )
        ),
        not_before=tuple(release),
        hands=hands,
        engineers_work=sum([d * c for d, c, v in zip(duration, shape.crew, shape.visitor, strict=True) if v < 0]),
        work_of_visiting=tuple([sum([duration[place] for place in trade.places]) for trade in shape.visiting]),
    )


def _with_hands(shape: Shape, count: int) -> Shape:
    """The shape with more engineers, without skills, put behind the others: they are able where no skill is needed."""
    more = tuple(Person(f"more hands {number + 1}", ENGINEER, frozenset()) for number in range(count))
    engineers = shape.engineers
    numbers = tuple(range(engineers, engineers + count))
    visiting = tuple(
        Visiting(trade.trade, trade.person + count, trade.half_from, trade.half_to, trade.places)
        for trade in shape.visiting
    )
    able: list[tuple[int, ...]] = []
    for visitor, people in zip(shape.visitor, shape.able, strict=True):
        if visitor >= 0:
            able.append((visitor + count,))
        else:
            able.append((*people, *numbers) if len(people) == engineers else people)
    return Shape(
        people=(*shape.people[:engineers], *more, *shape.people[engineers:]),
        engineers=engineers + count,
        crew=shape.crew,
        one_go=shape.one_go,
        exposed=shape.exposed,
        elapsed=shape.elapsed,
        visitor=tuple(visitor + count if visitor >= 0 else -1 for visitor in shape.visitor),
        visiting=visiting,
        able=tuple(able),
        after=shape.after,
        lagging=shape.lagging,
        before=shape.before,
        leading=shape.leading,
        switches=shape.switches,
        second_aim=shape.second_aim,
        alone=tuple((number,) for number in range(len(shape.people) + count)),
    )


@lru_cache(maxsize=256)
def offsets_of(starts_on: date | None, bank_holidays: frozenset[date], days: int) -> tuple[int, ...]:
    """Calendar days from the first working day to each working day; without a date no weekend is known."""
    if starts_on is None:
        return tuple(range(days))
    offsets: list[int] = []
    offset = 0
    while len(offsets) < days:
        if is_working_day(starts_on + timedelta(days=offset), bank_holidays):
            offsets.append(offset)
        offset += 1
    return tuple(offsets)


def is_working_day(day: date, bank_holidays: frozenset[date]) -> bool:
    """Whether the firm works on a date: Monday to Friday, and no bank holiday."""
    return day.weekday() < _SATURDAY and day not in bank_holidays


def most_days(tasks: Sequence[NeededTask], settings: LabourSettings) -> int:
    """More days than any sensible placing needs: one person after all lags, with days to spare."""
    day, longest = _day_and_lags(settings)
    work = 0
    lag_days = 0
    for task in tasks:
        work += task.duration_ticks
        if task.elapsed_ticks:
            lag_days += -(-task.elapsed_ticks // DAY_ON_THE_CLOCK)
        for _, lag, table in task.after:
            if lag or table:
                lag_days += -(-max(lag, longest[table]) // DAY_ON_THE_CLOCK)
    return 2 * (work // day) + lag_days + _SPARE_DAYS


@lru_cache(maxsize=32)
def _day_and_lags(settings: LabourSettings) -> tuple[int, Mapping[str, int]]:
    longest = {
        name: int(max(table.values()) * settings.cold_factors.get(name, 1) * TICKS_PER_H)
        for name, table in settings.lag_tables_h.items()
    }
    return int(settings.working_day_h * TICKS_PER_H), longest | {"": 0}


class Trail:
    """How far a pass came: starts, ends and people by place, and what each task in its order took of whose time."""

    __slots__ = ("done", "free_from", "free_to", "start", "taken", "who")

    def __init__(self, job: Job, booking: Booking) -> None:
        count = len(job.rows)
        self.start = [0] * count
        self.done = [0] * count
        self.who: list[tuple[int, ...]] = [()] * count
        self.free_from, self.free_to = _free(job, booking)
        self.taken: list[tuple[tuple[int, list[int], list[int]], ...]] = []

    def back_to(self, kept: int) -> None:
        """Gives back the time that all tasks of the order took but the first so many."""
        for people in reversed(self.taken[kept:]):
            for person, free_from, free_to in people:
                self.free_from[person] = free_from
                self.free_to[person] = free_to
        del self.taken[kept:]


def forward(
    job: Job,
    order: Sequence[int],
    booking: Booking,
    latest: Sequence[int],
    release: Sequence[int],
    trail: Trail | None = None,
    kept: int = 0,
) -> tuple[list[int], list[tuple[int, ...]]] | int:
    """Each task in turn at the first place that is free for it, or the place of one that would start after its latest.

    `order` holds each task after all that it comes after; `latest` and `release` are starts by place. The first
    `kept` tasks of the order stay where the pass before, whose `trail` this is, has put them. Gives starts and people
    by place.
    """
    calendar = job.calendar
    day_length = calendar.day
    rows = job.rows
    elapsed = job.shape.elapsed
    engineers = job.shape.engineers
    if trail is None:
        start = [0] * len(rows)
        done = [0] * len(rows)
        who: list[tuple[int, ...]] = [()] * len(rows)
        free_from, free_to = _free(job, booking)
    else:
        trail.back_to(kept)
        start, done, who = trail.start, trail.done, trail.who
        free_from, free_to = trail.free_from, trail.free_to
        order = order[kept:]
    alone = job.shape.alone
    for place in order:
        length, need, crew, able, after, lagging, _, _, late, blocked = rows[place]
        since = release[place]
        for before in after:
            if done[before] > since:
                since = done[before]
        for before, lag in lagging:
            clock = calendar.clock_at_end(start[before] + rows[before][0])
            if elapsed[before]:
                clock = max(clock, calendar.clock_at_start(start[before]) + elapsed[before])
            earliest = calendar.work_at(clock + lag)
            if earliest > since:
                since = earliest
        if crew == 1:
            begin = lost = NEVER
            for person in able:
                ends = free_to[person]
                starts = free_from[person]
                for number in range(bisect_left(ends, since + length), len(ends)):
                    free = starts[number]
                    at = free if free > since else since
                    if at > begin:
                        break
                    rest = day_length - at % day_length
                    if rest < need:
                        at += rest
                    if blocked:
                        for wet_from, wet_to in blocked:
                            if at < wet_to and at + length > wet_from:
                                at = wet_to
                    if at + length <= ends[number]:
                        if at < begin or (at == begin and at - free < lost):
                            begin, lost, chosen, gap = at, at - free, person, number
                        break
            end = begin + length
            if begin > latest[place]:
                return place
            starts, ends = free_from[chosen], free_to[chosen]
            if trail is not None:
                trail.taken.append(((chosen, starts, ends),))
                free_from[chosen] = starts = starts.copy()
                free_to[chosen] = ends = ends.copy()
            if starts[gap] == begin:
                if ends[gap] == end:
                    del starts[gap], ends[gap]
                else:
                    starts[gap] = end
            elif ends[gap] == end:
                ends[gap] = begin
            else:
                starts.insert(gap + 1, end)
                ends.insert(gap, begin)
            who[place] = alone[chosen]
        else:
            begin, people = _together(
                free_from, free_to, engineers, crew, able, since, length, need, day_length, blocked
            )
            if begin > latest[place]:
                return place
            end = begin + length
            if trail is not None:
                trail.taken.append(tuple([(person, free_from[person], free_to[person]) for person in people]))
                for person in people:
                    free_from[person] = free_from[person].copy()
                    free_to[person] = free_to[person].copy()
            for person in people:
                ends = free_to[person]
                gap = 0
                while ends[gap] < end:
                    gap += 1
                _take(free_from[person], ends, gap, begin, end)
            who[place] = people
        start[place] = begin
        if late:
            end = max(end, calendar.work_at(calendar.clock_at_start(begin) + late))
        done[place] = end
    return start, who


def backward(
    job: Job, order: Sequence[int], booking: Booking, deadline: int, earliest: Sequence[int], due: Sequence[int]
) -> tuple[list[int], list[tuple[int, ...]]] | int:
    """Each task in turn at the last place that is free for it, or the place of one that would start too early.

    `order` holds each task before all that it comes after; `due` is the latest end on the work axis by place.
    """
    calendar = job.calendar
    day_length = calendar.day
    rows = job.rows
    engineers = job.shape.engineers
    start = [0] * len(rows)
    who: list[tuple[int, ...]] = [()] * len(rows)
    free_from, free_to = _free(job, booking)
    alone = job.shape.alone
    for place in order:
        length, need, crew, able, _, _, before, leading, late, blocked = rows[place]
        until = due[place]
        if until > deadline:
            until = deadline
        if late:
            for later in before:
                last = calendar.last_start(calendar.clock_at_start(start[later]) - late) + length
                if last < until:
                    until = last
                if start[later] < until:
                    until = start[later]
        else:
            for later in before:
                if start[later] < until:
                    until = start[later]
        for later, lag in leading:
            clock = calendar.clock_at_start(start[later]) - lag
            last = calendar.last_end(clock)
            if late:
                last = min(last, calendar.last_start(clock - late) + length)
            if last < until:
                until = last
        least = earliest[place]
        if crew == 1:
            begin = -1
            lost = NEVER
            for person in able:
                starts, ends = free_from[person], free_to[person]
                for number in range(bisect_right(starts, until - length) - 1, -1, -1):
                    free = starts[number]
                    end = ends[number]
                    at = (end if end < until else until) - length
                    if at < free:
                        continue
                    if at < begin:
                        break
                    rest = day_length - at % day_length
                    if rest < need:
                        at -= need - rest
                    if blocked:
                        at = _dry_before(at, length, need, day_length, blocked)
                    if at >= free:
                        if at > begin or (at == begin and end - at < lost):
                            begin, lost, chosen, gap = at, end - at, person, number
                        break
            if begin < least:
                return place
            _take(free_from[chosen], free_to[chosen], gap, begin, begin + length)
            who[place] = alone[chosen]
        else:
            begin, people = _together_late(
                free_from, free_to, engineers, crew, able, until, length, need, day_length, blocked
            )
            if begin < least:
                return place
            end = begin + length
            for person in people:
                ends = free_to[person]
                gap = 0
                while ends[gap] < end:
                    gap += 1
                _take(free_from[person], ends, gap, begin, end)
            who[place] = people
        start[place] = begin
    return start, who


def earlier(job: Job, placing: Placing) -> Placing:
    """The same people in the same order, with everything as early as that lets it; services go off no earlier."""
    calendar = job.calendar
    day_length = calendar.day
    shape = job.shape
    rows = job.rows
    first_visitor = shape.engineers
    held = {place for switches in shape.second_aim for place in switches.off}
    start = list(placing.start)
    free = [0] * len(shape.people)
    for person, (since, _) in enumerate(job.hands, shape.engineers - len(job.hands)):
        free[person] = since
    for place in sorted(range(len(rows)), key=placing.start.__getitem__):
        length, need, _, _, after, lagging, _, _, _, blocked = rows[place]
        was = placing.start[place]
        at = was
        if place not in held:
            at = job.not_before[place]
            for person in placing.who[place]:
                if free[person] > at:
                    at = free[person]
            for before in after:
                end = start[before] + rows[before][0]
                if shape.elapsed[before]:
                    end = max(end, calendar.work_at(calendar.clock_at_start(start[before]) + shape.elapsed[before]))
                if end > at:
                    at = end
            for before, lag in lagging:
                earliest = calendar.work_at(clock_when_done(job, start, before) + lag)
                if earliest > at:
                    at = earliest
            visitor = shape.visitor[place]
            if visitor >= 0:
                for since, until in placing.booking[visitor - first_visitor]:
                    if until >= at + length:
                        at = max(at, since)
                        break
            rest = day_length - at % day_length
            if rest < need:
                at += rest
            for wet_from, wet_to in blocked:
                if at < wet_to and at + length > wet_from:
                    at = wet_to
            if at > was:
                at = was
        start[place] = at
        for person in placing.who[place]:
            free[person] = at + length
    return placing_of(job, start, placing.who, placing.booking)


def _free(job: Job, booking: Booking) -> tuple[list[list[int]], list[list[int]]]:
    engineers = job.shape.engineers - len(job.hands)
    free_from: list[list[int]] = [[0] for _ in range(engineers)]
    free_to: list[list[int]] = [[NEVER] for _ in range(engineers)]
    for since, until in job.hands:
        free_from.append([since])
        free_to.append([until])
    for times in booking:
        free_from.append([since for since, _ in times])
        free_to.append([until for _, until in times])
    return free_from, free_to


def _take(free_from: list[int], free_to: list[int], gap: int, begin: int, end: int) -> None:
    """Takes a piece out of a gap and leaves what is before and after it."""
    if free_from[gap] == begin:
        if free_to[gap] == end:
            del free_from[gap], free_to[gap]
        else:
            free_from[gap] = end
    elif free_to[gap] == end:
        free_to[gap] = begin
    else:
        free_from.insert(gap + 1, end)
        free_to.insert(gap, begin)


def _there(
    free_from: Sequence[Sequence[int]],
    free_to: Sequence[Sequence[int]],
    engineers: int,
    crew: int,
    able: tuple[int, ...],
    begin: int,
    end: int,
) -> tuple[int, ...]:
    """Enough engineers who are free from begin to end, one of them with the skills; nobody where there are not."""
    free: list[int] = []
    for person in range(engineers):
        ends = free_to[person]
        for number, since in enumerate(free_from[person]):
            if since > begin:
                break
            if ends[number] >= end:
                free.append(person)
                break
    if len(free) < crew:
        return ()
    skilled = next((person for person in free if person in able), -1)
    if skilled < 0:
        return ()
    others = [person for person in free if person != skilled]
    return (skilled, *others[: crew - 1])


def _together(
    free_from: Sequence[Sequence[int]],
    free_to: Sequence[Sequence[int]],
    engineers: int,
    crew: int,
    able: tuple[int, ...],
    since: int,
    length: int,
    need: int,
    day_length: int,
    blocked: Sequence[tuple[int, int]],
) -> tuple[int, tuple[int, ...]]:
    """The first moment at which enough engineers are free together, one of them with the skills, and who they are."""
    if crew == engineers:
        return _all_together(free_from, free_to, engineers, able, since, length, need, day_length, blocked)
    moments = {since}
    for person in range(engineers):
        moments.update([free for free in free_from[person] if free > since])
    for moment in sorted(moments):
        rest = day_length - moment % day_length
        begin = moment + rest if rest < need else moment
        for wet_from, wet_to in blocked:
            if begin < wet_to and begin + length > wet_from:
                begin = wet_to
        people = _there(free_from, free_to, engineers, crew, able, begin, begin + length)
        if people:
            return begin, people
    return NEVER, ()


def _all_together(
    free_from: Sequence[Sequence[int]],
    free_to: Sequence[Sequence[int]],
    engineers: int,
    able: tuple[int, ...],
    since: int,
    length: int,
    need: int,
    day_length: int,
    blocked: Sequence[tuple[int, int]],
) -> tuple[int, tuple[int, ...]]:
    """The first moment at which all engineers are free, and all of them, one with the skills first."""
    begin = since
    person = free = 0
    while free < engineers:
        rest = day_length - begin % day_length
        if rest < need:
            begin += rest
            free = 0
        for wet_from, wet_to in blocked:
            if begin < wet_to and begin + length > wet_from:
                begin = wet_to
                free = 0
        number = bisect_left(free_to[person], begin + length)
        if number == len(free_to[person]):
            return NEVER, ()
        if free_from[person][number] > begin:
            begin = free_from[person][number]
            free = 0
            continue
        free += 1
        person = person + 1 if person + 1 < engineers else 0
    skilled = min(able)
    return begin, (skilled, *[other for other in range(engineers) if other != skilled])


def _together_late(
    free_from: Sequence[Sequence[int]],
    free_to: Sequence[Sequence[int]],
    engineers: int,
    crew: int,
    able: tuple[int, ...],
    until: int,
    length: int,
    need: int,
    day_length: int,
    blocked: Sequence[tuple[int, int]],
) -> tuple[int, tuple[int, ...]]:
    """The last moment at which enough engineers are free together until a moment, and who they are."""
    moments = {until}
    for person in range(engineers):
        moments.update([free for free in free_to[person] if free < until])
    for moment in sorted(moments, reverse=True):
        begin = moment - length
        rest = day_length - begin % day_length
        if rest < need:
            begin -= need - rest
        if blocked:
            begin = _dry_before(begin, length, need, day_length, blocked)
        if begin < 0:
            break
        people = _there(free_from, free_to, engineers, crew, able, begin, begin + length)
        if people:
            return begin, people
    return -1, ()


def _dry_before(at: int, length: int, need: int, day_length: int, blocked: Sequence[tuple[int, int]]) -> int:
    """The last start at or before one that keeps the task clear of the days lost to it."""
    for wet_from, wet_to in reversed(blocked):
        if at < wet_to and at + length > wet_from:
            at = wet_from - length
            rest = day_length - at % day_length
            if rest < need:
                at -= need - rest
    return at


def heads(job: Job, booking: Booking, release: Sequence[int]) -> list[int] | None:
    """The first start of each task with people without number, or None where a visiting trade's task has no place."""
    calendar = job.calendar
    day_length = calendar.day
    elapsed = job.shape.elapsed
    visitor = job.shape.visitor
    first_visitor = job.shape.engineers
    start: list[int] = []
    done: list[int] = []
    for place, (length, need, _, _, after, lagging, _, _, late, blocked) in enumerate(job.rows):
        at = release[place]
        for before in after:
            if done[before] > at:
                at = done[before]
        for before, lag in lagging:
            clock = calendar.clock_at_end(start[before] + job.duration[before])
            if elapsed[before]:
                clock = max(clock, calendar.clock_at_start(start[before]) + elapsed[before])
            at = max(at, calendar.work_at(clock + lag))
        rest = day_length - at % day_length
        if rest < need:
            at += rest
        for wet_from, wet_to in blocked:
            if at < wet_to and at + length > wet_from:
                at = wet_to
        if visitor[place] >= 0:
            for since, until in booking[visitor[place] - first_visitor]:
                begin = since if since > at else at
                rest = day_length - begin % day_length
                if rest < need:
                    begin += rest
                if begin + length <= until:
                    at = begin
                    break
            else:
                return None
        start.append(at)
        end = at + length
        if late:
            end = max(end, calendar.work_at(calendar.clock_at_start(at) + late))
        done.append(end)
    return start


def tails(job: Job, booking: Booking, first: Sequence[int], due: Sequence[int]) -> list[int] | None:
    """The last start of each task before a deadline with people without number; None where one is before its first."""
    calendar = job.calendar
    day_length = calendar.day
    visitor = job.shape.visitor
    first_visitor = job.shape.engineers
    rows = job.rows
    start = [0] * len(rows)
    for place in range(len(rows) - 1, -1, -1):
        length, need, _, _, _, _, before, leading, late, blocked = rows[place]
        until = due[place]
        for later in before:
            if start[later] < until:
                until = start[later]
            if late:
                until = min(until, calendar.last_start(calendar.clock_at_start(start[later]) - late) + length)
        for later, lag in leading:
            clock = calendar.clock_at_start(start[later]) - lag
            until = min(until, calendar.last_end(clock))
            if late:
                until = min(until, calendar.last_start(clock - late) + length)
        at = until - length
        rest = day_length - at % day_length
        if rest < need:
            at -= need - rest
        if blocked:
            at = _dry_before(at, length, need, day_length, blocked)
        if visitor[place] >= 0:
            for since, ends in reversed(booking[visitor[place] - first_visitor]):
                begin = at if at + length <= ends else ends - length
                rest = day_length - begin % day_length
                if rest < need:
                    begin -= need - rest
                if begin >= since:
                    at = begin
                    break
            else:
                return None
        if at < first[place]:
            return None
        start[place] = at
    return start


def clock_when_done(job: Job, start: Sequence[int], place: int) -> int:
    """The moment at which a task is done, attended or not."""
    end = job.calendar.clock_at_end(start[place] + job.duration[place])
    late = job.shape.elapsed[place]
    if late:
        return max(end, job.calendar.clock_at_start(start[place]) + late)
    return end


def windows_of(job: Job, start: Sequence[int], switches: Switches) -> list[tuple[int, int]]:
    """The times on the clock without a service: from the first task that switches it off to the last that restores it.

    A task that does both by itself makes its own. Times that overlap are one.
    """
    windows: list[tuple[int, int]] = []
    if switches.off:
        off = job.calendar.clock_at_start(min([start[place] for place in switches.off]))
        on = max([clock_when_done(job, start, place) for place in switches.on or range(len(start))])
        windows.append((off, on))
    for place in switches.both:
        windows.append((job.calendar.clock_at_start(start[place]), clock_when_done(job, start, place)))
    if len(windows) < 2:
        return windows
    windows.sort()
    merged = [windows[0]]
    for off, on in windows[1:]:
        if off <= merged[-1][1]:
            merged[-1] = merged[-1][0], max(merged[-1][1], on)
        else:
            merged.append((off, on))
    return merged


def without_services(job: Job, start: Sequence[int]) -> tuple[int, int]:
    """Time on the clock without hot water and heating together, and without hot water."""
    together = hot_water = 0
    water = job.shape.switches["hot_water"]
    for switches in job.shape.second_aim:
        time = sum([on - off for off, on in windows_of(job, start, switches)])
        together += time
        if switches is water:
            hot_water = time
    return together, hot_water


def placing_of(job: Job, start: Sequence[int], who: Sequence[tuple[int, ...]], booking: Booking) -> Placing:
    """The placing with its rank."""
    last = max([begin + length for begin, length in zip(start, job.duration, strict=True)])
    days = -(-last // job.calendar.day)
    together, hot_water = without_services(job, start)
    booked = sum([until - since for times in booking for since, until in times])
    return Placing((days, together, hot_water, booked, last), days, tuple(start), tuple(who), booking)
