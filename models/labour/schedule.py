"""Places tasks in time: the arithmetic of the labour-day plan, in whole ticks and without a word of text.

Time is counted twice: in ticks of work, on which the break and the night do not exist, so that a task may be split
over them without more ado; and in ticks of the clock, on which concrete cures, water heats up and people are cold.
Tasks are taken in an order of priority and each is given the first place that its predecessors, its lag and the
people leave. Several orders and the electrician's possible days are tried and the best placing is kept.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from models.labour.tasks import (
    ELECTRICIAN,
    ENGINEER,
    SERVICES,
    TICKS_PER_H,
    TICKS_PER_MINUTE,
    LabourSettings,
    NeededTask,
    Person,
)

DAY_ON_THE_CLOCK = 24 * TICKS_PER_H
_NEVER = 1 << 62
_AFTER_ALL = 1 << 61
_SLIVER = TICKS_PER_H // 4
"""Nobody starts a task in the last quarter of an hour of a day unless it is done by the end of it."""
_SATURDAY = 5
_SPARE_DAYS = 8
_VARIATIONS = 4
_LONG_LAG = 15 * TICKS_PER_H


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
            later = (place for place, offset in enumerate(self.offsets) if offset > calendar_day)
            return next(later, len(self.offsets)) * self.day
        rest -= self.start
        if rest > self.break_from:
            rest = max(self.break_from, rest - self.break_length)
        return day * self.day + min(max(rest, 0), self.day)


@dataclass(frozen=True, slots=True)
class Switches:
    """The tasks that switch a service off for others to restore, that restore it, and that do both themselves."""

    off: list[int]
    on: list[int]
    both: list[int]


@dataclass(frozen=True, slots=True)
class Job:
    """The tasks as numbers, each after all that it comes after. People are counted: engineers first.

    `after` are the places that must be done first, `lagging` those with a lag, `following` both the other way round.
    `engineers_work` is all their work as if one of them did it; `chain` the longest chain of work from a task's start.
    """

    calendar: Calendar
    people: tuple[Person, ...]
    engineers: int
    duration: Sequence[int]
    elapsed: Sequence[int]
    crew: Sequence[int]
    one_go: Sequence[bool]
    electric: Sequence[bool]
    able: Sequence[tuple[int, ...]]
    after: Sequence[Sequence[int]]
    lagging: Sequence[Sequence[tuple[int, int]]]
    following: Sequence[Sequence[tuple[int, int]]]
    switches: Mapping[str, Switches]
    half_from: int
    half_to: int
    engineers_work: int
    electric_work: int
    chain: Sequence[int]


Booking = tuple[tuple[int, int], ...]
"""The times for which the electrician comes: from, to."""


@dataclass(frozen=True, slots=True)
class Placing:
    """Where the tasks lie, in ticks of work. Of two placings the one with the smaller `rank` is better.

    Rank: days, time without hot water, without heating, the electrician's booked time, the end of the last task.
    """

    rank: tuple[int, ...]
    days: int
    start: tuple[int, ...]
    done: tuple[int, ...]
    who: tuple[tuple[int, ...], ...]
    booking: Booking


@dataclass(frozen=True, slots=True)
class Made:
    """The best placing found, the days that no placing can undercut, and the job as numbers."""

    job: Job
    placing: Placing | None
    lower_bound_days: int


def make(
    tasks: Sequence[NeededTask],
    settings: LabourSettings,
    *,
    crew: int,
    base_type: str,
    cold: bool,
    offsets: tuple[int, ...],
    overtime: int = 0,
) -> Made:
    """The best placing for so many engineers. `overtime` is added to the end of each day, in ticks."""
    job = _job(tasks, settings, crew, base_type, cold, offsets, overtime)
    bound, electrician_from = _lower_bound(job)
    best = _best(job, electrician_from, bound)
    return Made(job, None if best is None else _services_later(job, best), bound)


def work_bound_days(job: Job, engineers: int) -> int:
    """The days that the engineers' work takes if none of them ever waits."""
    return -(-job.engineers_work // (engineers * job.calendar.day))


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
    day = int(settings.working_day_h * TICKS_PER_H)
    longest = {
        name: int(max(table.values()) * settings.cold_factors.get(name, 1) * TICKS_PER_H)
        for name, table in settings.lag_tables_h.items()
    }
    longest[""] = 0
    work = 0
    lag_days = 0
    for task in tasks:
        work += task.duration_ticks
        lag_days += -(-task.elapsed_ticks // DAY_ON_THE_CLOCK)
        for _, lag, table in task.after:
            if lag or table:
                lag_days += -(-max(lag, longest[table]) // DAY_ON_THE_CLOCK)
    return 2 * (work // day) + lag_days + _SPARE_DAYS


def windows_of(job: Job, placing: Placing, service: str) -> list[tuple[int, int]]:
    """The times on the clock without a service: from the first task that switches it off to the last that restores it.

    A task that does both by itself makes its own. Times that overlap are one.
    """
    return _windows(job, placing.start, service)


def clock_when_done(job: Job, start: Sequence[int], place: int) -> int:
    """The moment at which a task is done, attended or not."""
    end = job.calendar.clock_at_end(start[place] + job.duration[place])
    if job.elapsed[place]:
        return max(end, job.calendar.clock_at_start(start[place]) + job.elapsed[place])
    return end


def _job(
    tasks: Sequence[NeededTask],
    settings: LabourSettings,
    crew: int,
    base_type: str,
    cold: bool,
    offsets: tuple[int, ...],
    overtime: int,
) -> Job:
    break_from = (settings.break_from_min - settings.day_start_min) * TICKS_PER_MINUTE
    break_length = (settings.break_to_min - settings.break_from_min) * TICKS_PER_MINUTE
    normal_day = (settings.day_end_min - settings.day_start_min) * TICKS_PER_MINUTE - break_length
    calendar = Calendar(
        day=normal_day + overtime,
        start=settings.day_start_min * TICKS_PER_MINUTE,
        break_from=break_from,
        break_length=break_length,
        offsets=offsets,
        day_of_offset={offset: day for day, offset in enumerate(offsets)},
    )
    half_from, half_to = (
        (minute - settings.day_start_min) * TICKS_PER_MINUTE - (break_length if minute >= settings.break_to_min else 0)
        for minute in (settings.half_day_from_min, settings.half_day_to_min)
    )
    engineers = [person for person in settings.people if person.trade == ENGINEER][:crew]
    people = (*engineers, *(person for person in settings.people if person.trade == ELECTRICIAN))
    curing = {
        name: int(table[base_type] * (settings.cold_factors.get(name, 1) if cold else 1) * TICKS_PER_H)
        for name, table in settings.lag_tables_h.items()
    }
    fewest_skills_first = sorted(range(len(people)), key=lambda number: len(people[number].skills))
    able: dict[tuple[str, frozenset[str]], tuple[int, ...]] = {}
    able_for: list[tuple[int, ...]] = []
    after: list[list[int]] = []
    lagging: list[list[tuple[int, int]]] = []
    following: list[list[tuple[int, int]]] = []
    duration: list[int] = []
    elapsed: list[int] = []
    crews: list[int] = []
    one_go: list[bool] = []
    electric: list[bool] = []
    switches: dict[str, Switches] = {service: Switches([], [], []) for service in SERVICES}
    for place, needed in enumerate(tasks):
        task = needed.task
        at_once: list[int] = []
        with_lag: list[tuple[int, int]] = []
        for before, lag, table in needed.after:
            if table and curing[table] > lag:
                lag = curing[table]
            if lag:
                with_lag.append((before, lag))
            else:
                at_once.append(before)
            following[before].append((place, lag))
        after.append(at_once)
        lagging.append(with_lag)
        following.append([])
        key = task.trade, task.skills
        if key not in able:
            able[key] = tuple([number for number in fewest_skills_first if _can(people[number], *key)])
        able_for.append(able[key])
        duration.append(needed.duration_ticks)
        elapsed.append(needed.elapsed_ticks)
        crews.append(task.crew)
        one_go.append(task.one_go)
        electric.append(task.trade == ELECTRICIAN)
        for service in task.services_off:
            switch = switches[service]
            (switch.both if service in task.services_restored else switch.off).append(place)
        for service in task.services_restored:
            if service not in task.services_off:
                switches[service].on.append(place)
    chain = list(duration)
    for place in range(len(duration) - 1, -1, -1):
        longest = 0
        for later, _ in following[place]:
            if chain[later] > longest:
                longest = chain[later]
        chain[place] += longest
    return Job(
        calendar=calendar,
        people=people,
        engineers=crew,
        duration=duration,
        elapsed=elapsed,
        crew=crews,
        one_go=one_go,
        electric=electric,
        able=able_for,
        after=after,
        lagging=lagging,
        following=following,
        switches=switches,
        half_from=half_from,
        half_to=half_to,
        engineers_work=sum([d * c for d, c, e in zip(duration, crews, electric, strict=True) if not e]),
        electric_work=sum([d for d, e in zip(duration, electric, strict=True) if e]),
        chain=chain,
    )


def _can(person: Person, trade: str, skills: frozenset[str]) -> bool:
    return person.trade == trade and person.skills >= skills


def _lower_bound(job: Job) -> tuple[int, int]:
    """Days that no placing undercuts, and the first day (from 0) on which the electrician could end.

    The longer of the work without waiting and the longest chain of tasks and lags with people without number.
    """
    calendar = job.calendar
    day_length = calendar.day
    electric_work = job.electric_work
    in_one_half_day = 0 < electric_work <= job.half_to - job.half_from
    done: list[int] = []
    last = 1
    electric_last = 1
    for place, length in enumerate(job.duration):
        start = 0
        for before in job.after[place]:
            if done[before] > start:
                start = done[before]
        for before, lag in job.lagging[place]:
            start = max(start, calendar.work_at(calendar.clock_at_end(done[before]) + lag))
        if job.electric[place] and in_one_half_day:
            day, rest = divmod(start, day_length)
            if rest + length > job.half_to:
                day, rest = day + 1, 0
            start = day * day_length + max(rest, job.half_from)
        elif job.one_go[place] and start % day_length + length > day_length >= length:
            start += day_length - start % day_length
        end = start + length
        if end > last:
            last = end
        if job.electric[place] and end > electric_last:
            electric_last = end
        if job.elapsed[place]:
            end = max(end, calendar.work_at(calendar.clock_at_start(start) + job.elapsed[place]))
        done.append(end)
    chain_days = -(-last // day_length)
    return max(chain_days, work_bound_days(job, job.engineers)), (electric_last - 1) // day_length


def _best(job: Job, electrician_from: int, bound: int) -> Placing | None:
    """The best placing of the first orders and, as long as that takes more days than the bound, of a few others."""
    best: Placing | None = None
    most = len(job.calendar.offsets)
    chain_after = [
        chain - length for chain, length, yes in zip(job.chain, job.duration, job.electric, strict=True) if yes
    ]
    after_electrician = job.electric_work + min(chain_after, default=0)
    first, more = _orders(job)
    for last_day, bookings in _bookings(job, electrician_from):
        if last_day >= most or (best is not None and best.days <= max(bound, last_day + 1)):
            break
        for orders in (first, _others(job, more)):
            if orders is not first and best is not None:
                most = best.days - 1
            if most < bound:
                break
            for order in orders:
                for booking in bookings:
                    if booking and booking[0][0] + after_electrician > most * job.calendar.day:
                        continue
                    placing = _place(job, order, booking, most * job.calendar.day)
                    if placing is not None and (best is None or placing.rank < best.rank):
                        best = placing
                        most = placing.days if orders is first else placing.days - 1
                if orders is not first and most < bound:
                    break
        if best is not None:
            most = best.days
    return best


def _others(job: Job, more: Sequence[list[int]]) -> Iterator[list[int]]:
    yield from more
    yield from _varied_orders(job)


def _ways(job: Job, duration: Sequence[int]) -> list[int]:
    """The longest way from the start of each task to the end of the job, with lags as far as they cost work."""
    ways = [0] * len(duration)
    for place in range(len(duration) - 1, -1, -1):
        longest = 0
        for later, lag in job.following[place]:
            length = ways[later]
            if lag:
                length += lag if lag < _LONG_LAG else lag // 3
            if length > longest:
                longest = length
        ways[place] = longest + duration[place]
    return ways


def _orders(job: Job) -> tuple[list[list[int]], list[list[int]]]:
    """Orders of priority, in each of which every task stands after what it comes after.

    To start with: the longest way to the end first; the same with what switches a service off, and all that follows
    it, after the rest. If that is not enough: first all that the electrician waits for; first what most work waits for.
    """
    count = len(job.duration)
    ways = _ways(job, [max(both) for both in zip(job.duration, job.elapsed, strict=True)])
    without_service = [False] * count
    for service in ("heating", "hot_water"):
        for place in job.switches[service].off:
            without_service[place] = True
    waiting = list(job.duration)
    for_electrician = list(job.electric)
    for place in range(count):
        if without_service[place]:
            for later, _ in job.following[place]:
                without_service[later] = True
    for place in range(count - 1, -1, -1):
        for later, _ in job.following[place]:
            waiting[place] += waiting[later]
            if for_electrician[later]:
                for_electrician[place] = True
    services_last = [_AFTER_ALL - way if off else -way for way, off in zip(ways, without_service, strict=True)]
    electrician_first = [-way if yes else _AFTER_ALL - way for way, yes in zip(ways, for_electrician, strict=True)]
    return (
        _sorted_by([-way for way in ways], services_last),
        _sorted_by(electrician_first, [-work for work in waiting]),
    )


def _sorted_by(*keys: Sequence[int]) -> list[list[int]]:
    return [sorted(range(len(key)), key=key.__getitem__) for key in keys]


def _varied_orders(job: Job) -> Iterator[list[int]]:
    """The longest way first, with each task's duration weighed anew: other orders that stand near the first.

    The weights are those of a multiplicative hash of task and variation, so that they are the same every time.
    """
    count = len(job.duration)
    for variation in range(1, _VARIATIONS + 1):
        salt = variation * 2246822519
        weighed = [
            length * (64 + 2 * (((place * 2654435761 ^ salt) * 3266489917 >> 9) & 255)) >> 7
            for place, length in enumerate(job.duration, 1)
        ]
        yield sorted(range(count), key=[-way for way in _ways(job, weighed)].__getitem__)


def _bookings(job: Job, first: int) -> Iterator[tuple[int, list[Booking]]]:
    """When the electrician could come, by last day (from 0), the earliest first: one half-day if the work fits into it.

    Otherwise the whole of as many days as it takes, or two half-days. Last of all, every day: there, somebody else's
    work lies between the electrician's tasks.
    """
    electric = [length for length, electric in zip(job.duration, job.electric, strict=True) if electric]
    if not electric:
        yield 0, [()]
        return
    day = job.calendar.day
    half = job.half_to - job.half_from
    work = sum(electric)
    whole_days = -(-work // day)
    days = len(job.calendar.offsets)
    for last in range(first, days):
        half_day = last * day + job.half_from, last * day + job.half_to
        if work <= half:
            yield last, [(half_day,)]
            continue
        bookings: list[Booking] = []
        if last + 1 >= whole_days:
            bookings.append((((last + 1 - whole_days) * day, (last + 1) * day),))
        if work <= 2 * half and max(electric) <= half and last:
            bookings.append(((half_day[0] - day, half_day[1] - day), half_day))
        yield last, bookings
    if max(electric) <= half:
        yield first, [tuple((number * day + job.half_from, number * day + job.half_to) for number in range(days))]
    yield first, [((0, days * day),)]


def _place(job: Job, order: Sequence[int], booking: Booking, limit: int) -> Placing | None:
    """Each task in turn at the first place that is free for it, or None where one would end after the limit."""
    calendar = job.calendar
    day_length = calendar.day
    durations, crews, one_goes, ables, afters = job.duration, job.crew, job.one_go, job.able, job.after
    elapsed, laggings, engineers, chain = job.elapsed, job.lagging, job.engineers, job.chain
    start = [0] * len(durations)
    done = [0] * len(durations)
    who: list[tuple[int, ...]] = [()] * len(durations)
    free_from: list[list[int]] = [[0] for _ in range(engineers)]
    free_to: list[list[int]] = [[_NEVER] for _ in range(engineers)]
    if len(job.people) > engineers:
        free_from.append([begin for begin, _ in booking])
        free_to.append([end for _, end in booking])
    last = 0
    for place in order:
        release = 0
        for before in afters[place]:
            if done[before] > release:
                release = done[before]
        for before, lag in laggings[place]:
            earliest = calendar.work_at(calendar.clock_at_end(done[before]) + lag)
            if earliest > release:
                release = earliest
        length = durations[place]
        shortest_rest = _SLIVER if not one_goes[place] else day_length if length <= day_length else 0
        if crews[place] == 1:
            begin = lost = _NEVER
            for person in ables[place]:
                ends = free_to[person]
                for number, free in enumerate(free_from[person]):
                    until = ends[number]
                    if until < release + length:
                        continue
                    at = free if free > release else release
                    if at > begin:
                        break
                    rest = day_length - at % day_length
                    if rest < length and rest < shortest_rest:
                        at += rest
                    if at + length <= until:
                        if at < begin or (at == begin and at - free < lost):
                            begin, lost, chosen, gap = at, at - free, person, number
                        break
            if begin + chain[place] > limit:
                return None
            _take(free_from[chosen], free_to[chosen], gap, begin, begin + length)
            who[place] = (chosen,)
        else:
            begin, crew = _together(
                free_from, free_to, engineers, crews[place], ables[place], release, length, shortest_rest, day_length
            )
            if begin + chain[place] > limit:
                return None
            for person in crew:
                ends = free_to[person]
                gap = next(number for number, until in enumerate(ends) if until >= begin + length)
                _take(free_from[person], ends, gap, begin, begin + length)
            who[place] = crew
        start[place] = begin
        end = begin + length
        if end > last:
            last = end
        if elapsed[place]:
            end = max(end, calendar.work_at(calendar.clock_at_start(begin) + elapsed[place]))
        done[place] = end
    days = -(-last // day_length)
    rank = (
        days,
        sum([on - off for off, on in _windows(job, start, "hot_water")]),
        sum([on - off for off, on in _windows(job, start, "heating")]),
        sum([end - begin for begin, end in booking]),
        last,
    )
    return Placing(rank, days, tuple(start), tuple(done), tuple(who), booking)


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


def _together(
    free_from: Sequence[Sequence[int]],
    free_to: Sequence[Sequence[int]],
    engineers: int,
    crew: int,
    able: tuple[int, ...],
    release: int,
    length: int,
    shortest_rest: int,
    day_length: int,
) -> tuple[int, tuple[int, ...]]:
    """The first moment at which enough engineers are free together, one of them with the skills, and who they are."""
    moments = {release}
    for person in range(engineers):
        moments.update([free for free in free_from[person] if free > release])
    for moment in sorted(moments):
        rest = day_length - moment % day_length
        begin = moment + rest if rest < length and rest < shortest_rest else moment
        end = begin + length
        free: list[int] = []
        for person in range(engineers):
            ends = free_to[person]
            for number, since in enumerate(free_from[person]):
                if since > begin:
                    break
                if ends[number] >= end:
                    free.append(person)
                    break
        skilled = [person for person in free if person in able]
        if len(free) >= crew and skilled:
            others = [person for person in free if person != skilled[0]]
            return begin, (skilled[0], *others[: crew - 1])
    return _NEVER, ()


def _windows(job: Job, start: Sequence[int], service: str) -> list[tuple[int, int]]:
    switches = job.switches[service]
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


def _services_later(job: Job, placing: Placing) -> Placing:
    """The same placing with services switched off as late as idle time allows: nobody else has to move for it."""
    day_length = job.calendar.day
    start, done = list(placing.start), list(placing.done)
    switching = {place for switches in job.switches.values() for place in switches.off}
    for place in sorted(switching, key=lambda place: -start[place]):
        length = job.duration[place]
        if job.elapsed[place] or job.electric[place] or any(lag for _, lag in job.following[place]):
            continue
        latest = min([start[later] for later, _ in job.following[place]], default=0)
        for other, people in enumerate(placing.who):
            if start[place] < start[other] < latest and not set(people).isdisjoint(placing.who[place]):
                latest = start[other]
        begin = latest - length
        rest = day_length - begin % day_length
        if begin > start[place] and not rest < length:
            start[place], done[place] = begin, latest
    return Placing(placing.rank, placing.days, tuple(start), tuple(done), placing.who, placing.booking)
