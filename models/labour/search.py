"""Looks for the placing with the fewest days and then the shortest time without services: quickly, or thoroughly.

The days are tried from a lower bound upward. For a number of days and a visit of each trade that comes for half-days,
the first and last start of every task are known if people were without number; a visit that leaves some task no room,
or some people more work than time, is refuted. Within what is left, tasks are placed by their last start; whatever
then finds no place in time is moved towards the front, and the rest is tried again from where the order has changed.
Services are shortened in the same way: each target for switching off and on narrows first and last starts, and is
refuted or tried, first by the last starts and then near the best placing of the visit. What is found is moved: off
later, on earlier, or both at other times with less between them.

Effort is counted in passes over the tasks, never in time, so that the same job has the same plan everywhere.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Literal

from models.labour.schedule import (
    NEVER,
    Booking,
    Job,
    Placing,
    Trail,
    Visiting,
    backward,
    earlier,
    forward,
    heads,
    placing_of,
    tails,
)

Effort = Literal["live", "days", "thorough"]
"""Quickly; thoroughly for the fewest days, whatever the services; thoroughly for both."""

_PASSES = 540
"""Passes over the tasks that a thorough search may take: about 50 ms."""
_DAY_TRIES: tuple[int, ...] = (2, 8, 20, *(60,) * 20)
_SHARE_FOR_DAYS = 2.0
"""A day of labour is worth twice the passes: few jobs need them."""
_SHARE_BEFORE_SERVICES = 0.5
_SHARE_FOR_FIRST_TARGETS = 0.2
_SHARE_FOR_TARGETS = 0.45
_FIRST_TRIES = 8
_VISITS_A_TARGET = 1
_TARGET_TRIES = (8, 24, 72, 200)
"""Tries of each target that is still open, round after round."""
_MOVE_TRIES = (4, 8, 16, 48)
"""Tries of each move, round after round."""
_POOL = 2
_STEPS = (3, 12, 48)
"""A move shortens the time without a service by a third of a day down to a forty-eighth."""
_MOVES = ((0, -1), (1, 0), (2, 1), (-1, -2))
"""How many such steps a service goes off and comes on again later: at one end, or both with the same sign."""
_STEPS_BACK = 4
_COST_OF_A_FAILED_PASS = 0.6
_COST_OF_BOUNDS = 0.6
_COST_OF_LOAD = 0.8
_TASKS_A_TRY = 5
"""What a try costs beside the tasks that it places, as that many of them."""
_RESTART = 100
_RESTART_FOR_DAYS = 200
_SCALES = (2, 4)
_SCALE_NEAR = 8
"""What finds no place stands further in front by up to such a part of a day; less in a try near a placing."""
_NOISE = 16
"""A fresh try shifts each task by up to such a part of a day."""
_LIVE_VISITS = 2
_LIVE_TRIES = 8
"""Tries of each of the visits with the most room."""
_MOST_VISITS = 40

_FORMS = ("few", "halves", "any")

Starts = list[int]


@dataclass(frozen=True, slots=True)
class Made:
    """The best placing found, the days that no placing can undercut, and the job as numbers."""

    job: Job
    placing: Placing | None
    lower_bound_days: int


class _Chance:
    """A sequence of numbers without pattern that is the same every time."""

    __slots__ = ("state",)

    def __init__(self) -> None:
        self.state = 2463534242

    def below(self, number: int) -> int:
        self.state = (self.state * 6364136223846793005 + 1442695040888963407) & 0xFFFFFFFFFFFFFFFF
        return (self.state >> 33) * number >> 31


@dataclass(slots=True)
class _Room:
    """A visit, with the first and last start of each task at it."""

    booking: Booking
    first: Starts
    last: Starts


class _Search:
    """What all attempts at one job share: the deadline, the passes spent, the sequence of chances."""

    __slots__ = ("aims", "best", "chance", "day", "deadline", "free", "job", "off", "on", "placed", "spent")

    def __init__(self, job: Job) -> None:
        self.job = job
        self.day = job.calendar.day
        self.deadline = 0
        self.free = _Room((), [], [])
        self.placed: dict[Booking, Placing] = {}
        self.best: Placing | None = None
        self.spent = 0.0
        self.chance = _Chance()
        self.aims = tuple(switches for switches in job.shape.second_aim if switches.off and switches.on)
        self.off = tuple(place for switches in self.aims for place in switches.off)
        self.on = tuple(place for switches in self.aims for place in switches.on)

    def forward(self, key: Starts, booking: Booking, last: Starts, first: Starts) -> Placing | int:
        passed = forward(self.job, _by(key), booking, last, first)
        if isinstance(passed, int):
            self.spent += _COST_OF_A_FAILED_PASS
            return passed
        self.spent += 1
        return placing_of(self.job, *passed, booking)

    def backward(self, key: Starts, booking: Booking, first: Starts, due: Starts) -> Placing | int:
        passed = backward(self.job, _by(key), booking, self.deadline, first, due)
        if isinstance(passed, int):
            self.spent += _COST_OF_A_FAILED_PASS
            return passed
        self.spent += 1
        return placing_of(self.job, *passed, booking)

    def keep(self, placing: Placing) -> None:
        """Later attempts begin near the best placing of their visit, or else of any."""
        self.placed[placing.booking] = placing
        if self.best is None or placing.rank < self.best.rank:
            self.best = placing

    def polished(self, placing: Placing, first: Starts, rounds: int = 20) -> Placing:
        """Back from where the services are on again, forth from where they go off, as long as that shortens them."""
        job = self.job
        count = len(job.rows)
        for _ in range(rounds):
            due = [self.deadline] * count
            for place in self.on:
                due[place] = placing.start[place] + job.duration[place]
            late = self.backward([-start for start in placing.start], placing.booking, first, due)
            if isinstance(late, int):
                return placing
            release = list(first)
            for place in self.off:
                release[place] = late.start[place]
            early = self.forward(list(late.start), placing.booking, [self.deadline] * count, release)
            if not isinstance(early, int) and early.rank <= late.rank:
                late = early
            if late.rank >= placing.rank:
                break
            placing = late
        return placing


class _Attempt:
    """One visit with first and last starts. What finds no place in time stands further in front in the next try.

    A try takes up the one before it where their orders part, so that most tries cost a small part of a pass.
    """

    __slots__ = ("floor", "free_first", "kept", "key", "near", "number", "order", "room", "search", "trail")

    def __init__(self, search: _Search, room: _Room, free_first: Starts, floor: int, *, near: bool = False) -> None:
        self.search = search
        self.room = room
        self.free_first = free_first
        self.floor = floor
        self.near = near
        self.number = 0
        self.trail = Trail(search.job, room.booking)
        self._begin(_raised(search.job, self._near()) if near else list(room.last))

    def tried(self, tries: int) -> Placing | None:
        """Forward with a learnt order; now and then again from near the last starts, or from near the best placing."""
        search, room = self.search, self.room
        job, chance, day = search.job, search.chance, search.day
        for _ in range(tries):
            rounds, number = divmod(self.number, _RESTART if search.best is not None else _RESTART_FOR_DAYS)
            near = search.best is not None and (self.near or rounds % 2 == 1)
            scale = day // (_SCALE_NEAR if near else _SCALES[rounds % len(_SCALES)])
            self.number += 1
            if rounds and not number:
                since = self._near() if near else room.last
                self._begin(_raised(job, [start + chance.below(day // _NOISE) for start in since]))
            passed = forward(job, self.order, room.booking, room.last, room.first, self.trail, self.kept)
            if not isinstance(passed, int):
                search.spent += 1
                return placing_of(job, *passed, room.booking)
            search.spent += (len(self.trail.taken) + 1 - self.kept + _TASKS_A_TRY) / len(self.key)
            self._put_forward(passed, scale)
        return None

    def _near(self) -> Starts:
        """The starts of the best placing of this visit, or else of any, as far as first and last starts allow them."""
        room = self.room
        placing = self.search.placed.get(room.booking, self.search.best)
        if placing is None:
            return list(room.last)
        return [
            first if start < first else last if start > last else start
            for first, start, last in zip(room.first, placing.start, room.last, strict=True)
        ]

    def _begin(self, key: Starts) -> None:
        self.key = key
        self.order = _by(key)
        self.kept = 0

    def _put_forward(self, place: int, scale: int) -> None:
        """Every other time right in front of a task that is in its way, else by a part of a day."""
        chance, key, shape = self.search.chance, self.key, self.search.job.shape
        in_its_way = [] if chance.below(2) else self._in_the_way_of(place)
        if in_its_way:
            key[place] = min(key[place], key[in_its_way[chance.below(len(in_its_way))]]) - 1
        else:
            key[place] -= scale // 4 + chance.below(scale)
        _lower(key, place, shape.after, shape.lagging)
        was = self.order
        self.order = sorted(was, key=key.__getitem__)
        self.kept = len(self.trail.taken)
        for number, (old, new) in enumerate(zip(was, self.order, strict=True)):
            if old != new:
                self.kept = min(self.kept, number)
                break

    def _in_the_way_of(self, place: int) -> list[int]:
        """The tasks placed before a task that found no place, with people whom it needs, when it could be done."""
        trail, job, room = self.trail, self.search.job, self.room
        length, _, crew, able, after, *_ = job.rows[place]
        people = able if crew == 1 else range(job.shape.engineers)
        since = max([room.first[place], *[trail.done[before] for before in after]])
        until = room.last[place] + length
        start, duration = trail.start, job.duration
        return [
            other
            for other in self.order[: len(trail.taken)]
            if start[other] < until
            and start[other] + duration[other] > since
            and any([person in people for person in trail.who[other]])
        ]


def best_of(job: Job, effort: Effort) -> Made:
    """The best placing of a job that the effort finds, and the fewest days that are not refuted.

    The firm's rule: a trade that comes for half-days comes once if its work fits into one, else for whole days in a
    row or two half-days running; only where no such plan is found, every half-day, and last of all at any time.
    """
    groups = () if effort == "live" else _groups(job)
    bound = 1
    for forms in product(_FORMS, repeat=len(job.shape.visiting)):
        first = _first_starts(job, forms)
        bound = _bound_days(job, first)
        if effort == "live":
            placing = _live(job, bound, forms, first)
        else:
            placing, bound = _thorough(job, bound, forms, first, groups, services=effort == "thorough")
        if placing is not None:
            return Made(job, placing, bound)
    return Made(job, None, bound)


def near(job: Job, placing: Placing) -> Made:
    """The better of a quick placing and of one near that which was made for the same tasks before something changed.

    The old order is kept where it takes fewer days than the quick placing.
    """
    quick = best_of(job, "live")
    most = len(job.calendar.offsets) if quick.placing is None else quick.placing.days
    search = _Search(job)
    forms = (_FORMS[0],) * len(job.shape.visiting)
    first = _first_starts(job, forms)
    bound = _bound_days(job, first)
    key = list(placing.start)
    kept: Placing | None = None
    for days in range(max(bound, placing.days), most):
        search.deadline = days * search.day
        due = [search.deadline] * len(job.rows)
        last = tails(job, _free_booking(job), first, due)
        if last is None:
            continue
        for booking in _visits(job, days, forms, first, last)[:_LIVE_VISITS]:
            at_visit = tails(job, booking, first, due)
            if at_visit is None:
                continue
            tried = search.forward(key, booking, at_visit, first)
            if not isinstance(tried, int) and (kept is None or tried.rank < kept.rank):
                kept = tried
        if kept is not None:
            break
    return quick if kept is None else Made(job, kept, bound)


def _settled(search: _Search, placing: Placing) -> Placing:
    """The same days and services with everything early, and what most waits for first, where that can be."""
    ends = _Ends(search, placing)
    placing = earlier(search.job, placing)
    if ends.first is not None and ends.last is not None:
        early = search.forward(ends.last, placing.booking, ends.last, ends.first)
        if not isinstance(early, int) and early.rank[:4] <= placing.rank[:4]:
            return early
    return placing


def _first_starts(job: Job, forms: Sequence[str]) -> Starts:
    """The first start of each task with people without number, visiting trades in any of their half-days."""
    day = job.calendar.day
    days = range(len(job.calendar.offsets))
    booking = tuple(
        tuple([(number * day + half.half_from, number * day + half.half_to) for number in days])
        if form != "any" and work <= half.half_to - half.half_from
        else ((0, NEVER),)
        for half, work, form in zip(job.shape.visiting, job.work_of_visiting, forms, strict=True)
    )
    first = heads(job, booking, job.not_before) or heads(job, _free_booking(job), job.not_before)
    assert first is not None
    return first


def _bound_days(job: Job, first: Starts) -> int:
    """Days that no placing undercuts: the longer of work without waiting and the longest chain of tasks and lags."""
    last = max([start + length for start, length in zip(first, job.duration, strict=True)])
    return max(-(-last // job.calendar.day), work_bound_days(job, job.shape.engineers - len(job.hands)))


def _free_booking(job: Job) -> Booking:
    return (((0, NEVER),),) * len(job.shape.visiting)


def work_bound_days(job: Job, engineers: int) -> int:
    """The days that the engineers' work takes if none of them ever waits."""
    more = sum([until - since for since, until in job.hands])
    return -(-(job.engineers_work - more) // (engineers * job.calendar.day))


def _live(job: Job, bound: int, forms: Sequence[str], first: Starts) -> Placing | None:
    """The visits with the most room, each with a few tries, and the services shortened once."""
    search = _Search(job)
    count = len(job.rows)
    free = _free_booking(job)
    for days in range(bound, len(job.calendar.offsets)):
        search.deadline = days * search.day
        due = [search.deadline] * count
        last = tails(job, free, first, due)
        if last is None:
            continue
        for booking in _visits(job, days, forms, first, last)[:_LIVE_VISITS]:
            at_visit = tails(job, booking, first, due)
            if at_visit is None:
                continue
            room = _Room(booking, first, at_visit)
            placing = _Attempt(search, room, first, 0).tried(_LIVE_TRIES)
            if placing is not None:
                return _shortened_once(search, placing, room, due)
    return None


def _shortened_once(search: _Search, placing: Placing, room: _Room, due: Starts) -> Placing:
    """Back from where the services are on again to see how late they can go off, and forth from there."""
    job = search.job
    back_due = list(due)
    for place in search.on:
        back_due[place] = placing.start[place] + job.duration[place]
    late = search.backward([-start for start in placing.start], placing.booking, room.first, back_due)
    if isinstance(late, int):
        return placing
    release = list(room.first)
    for place in search.off:
        release[place] = late.start[place]
    early = search.forward(room.last, placing.booking, due, release)
    if not isinstance(early, int) and early.rank[:2] <= min(placing.rank, late.rank)[:2]:
        return early
    return placing if placing.rank <= late.rank else earlier(job, late)


def _thorough(
    job: Job, bound: int, forms: Sequence[str], first: Starts, groups: Sequence["_Group"], *, services: bool
) -> tuple[Placing | None, int]:
    """The best placing of all visits, and the fewest days that are not refuted."""
    search = _Search(job)
    free = _free_booking(job)
    for days in range(bound, len(job.calendar.offsets)):
        search.deadline = days * search.day
        due = [search.deadline] * len(job.rows)
        last = tails(job, free, first, due)
        rooms: list[_Room] = []
        whole = True
        if last is not None:
            search.free = _Room(free, first, last)
            bookings = _visits(job, days, forms, first, last)
            whole = len(bookings) <= _MOST_VISITS
            rooms = list(_rooms(search, bookings[:_MOST_VISITS], due, groups))
        if not rooms:
            if whole and bound == days:
                bound += 1
            continue
        best = _in_days(search, [_Attempt(search, room, room.first, 0) for room in rooms])
        if best is not None and not services:
            return best[0], bound
        if best is not None:
            return _settled(search, _shorter_services(search, rooms, days, best, groups)), bound
    return None, bound


def _rooms(search: _Search, bookings: Sequence[Booking], due: Starts, groups: Sequence["_Group"]) -> Iterator[_Room]:
    """The visits that are not refuted, the widest room first."""
    job = search.job
    found: list[tuple[int, _Room]] = []
    for booking in bookings:
        search.spent += _COST_OF_BOUNDS
        first = heads(job, booking, job.not_before)
        if first is None:
            continue
        last = tails(job, booking, first, due)
        if last is None or _overloaded(job, groups, first, last):
            continue
        found.append((sum(first) - sum(last), _Room(booking, first, last)))
    found.sort(key=lambda entry: entry[0])
    return (room for _, room in found)


def _in_days(search: _Search, attempts: Sequence[_Attempt]) -> tuple[Placing, Starts] | None:
    """A placing within the deadline: every visit a little, then more, until one is found or the share is spent."""
    best: tuple[Placing, Starts] | None = None
    before = search.spent
    for tries in _DAY_TRIES:
        for attempt in attempts:
            if best is None and search.spent - before > _PASSES * _SHARE_FOR_DAYS:
                return None
            placing = attempt.tried(tries)
            if placing is not None and (best is None or placing.rank < best[0].rank):
                best = placing, attempt.room.first
                if tries > _DAY_TRIES[0]:
                    break
        if best is not None:
            # services are left a part of the passes, whatever the days have cost
            search.spent = min(search.spent, _PASSES * _SHARE_BEFORE_SERVICES)
            return best
    return None


def _shorter_services(
    search: _Search, rooms: Sequence[_Room], days: int, found: tuple[Placing, Starts], groups: Sequence["_Group"]
) -> Placing:
    """The placing with the shortest time without services, of as many targets and moves as the passes allow."""
    best = search.polished(*found)
    if not search.aims:
        return best
    pool: list[tuple[Placing, Starts]] = [(best, found[1])]
    waiting: list[_Attempt] = []
    most = search.spent + (_PASSES - search.spent) * _SHARE_FOR_FIRST_TARGETS
    for target in _targets(search, days):
        if target.floor >= best.rank[1] or search.spent > most:
            break
        for number, attempt in enumerate(_attempts(search, rooms, target, groups)):
            if number < _VISITS_A_TARGET:
                search.spent += _COST_OF_LOAD
                if _overloaded(search.job, groups, attempt.room.first, attempt.room.last):
                    continue
                placing = attempt.tried(_FIRST_TRIES)
                if placing is not None:
                    best = _pooled(search, pool, placing, attempt)
                    continue
            waiting.append(attempt)
    search.keep(best)
    most = search.spent + (_PASSES - search.spent) * _SHARE_FOR_TARGETS
    for tries in _TARGET_TRIES:
        still: list[_Attempt] = []
        for attempt in waiting:
            if attempt.floor >= best.rank[1]:
                continue
            if search.spent < most:
                if not attempt.number:
                    search.spent += _COST_OF_LOAD
                    if _overloaded(search.job, groups, attempt.room.first, attempt.room.last):
                        continue
                placing = attempt.tried(tries)
                if placing is not None:
                    best = _pooled(search, pool, placing, attempt)
                    continue
            still.append(attempt)
        waiting = still
    for number, tries in enumerate(_MOVE_TRIES):
        pool = [_moved(search, placing, first, tries, near=number % 2 == 1) for placing, first in pool[:_POOL]]
    return min([placing for placing, _ in pool], key=lambda placing: placing.rank)


def _pooled(search: _Search, pool: list[tuple[Placing, Starts]], placing: Placing, attempt: _Attempt) -> Placing:
    """The best placing, after one more is put among them: the best of each visit is kept."""
    polished = search.polished(placing, attempt.free_first)
    same = next((number for number, entry in enumerate(pool) if entry[0].booking == polished.booking), None)
    if same is None:
        pool.append((polished, attempt.free_first))
    elif polished.rank < pool[same][0].rank:
        pool[same] = polished, attempt.free_first
    pool.sort(key=lambda entry: entry[0].rank)
    search.keep(polished)
    return pool[0][0]


def _moved(search: _Search, placing: Placing, free_first: Starts, tries: int, *, near: bool) -> tuple[Placing, Starts]:
    """Services off and on again at other times, one or all, in ever smaller steps, with everything else placed anew."""
    every = tuple(range(len(search.aims)))
    some = [every] if len(every) == 1 else [every, *((number,) for number in every)]
    day = search.day
    moves = [(which, day * off // part, day * on // part) for part in _STEPS for which in some for off, on in _MOVES]
    number = 0
    search.keep(placing)
    ends = _Ends(search, placing)
    while number < len(moves) and search.spent < _PASSES:
        attempt = ends.moved(*moves[number], free_first, near=near)
        number += 1
        tried = None if attempt is None else attempt.tried(tries)
        if tried is not None:
            better = search.polished(tried, free_first)
            if better.rank < placing.rank:
                placing = better
                search.keep(placing)
                ends = _Ends(search, placing)
                number = max(0, number - _STEPS_BACK)
    return placing, free_first


class _Ends:
    """When services go off and on in a placing, and the first and last starts that keep them so."""

    __slots__ = ("due", "first", "last", "placing", "release", "search")

    def __init__(self, search: _Search, placing: Placing) -> None:
        job = search.job
        self.search = search
        self.placing = placing
        self.release = list(job.not_before)
        self.due = [search.deadline] * len(job.rows)
        for place in search.off:
            self.release[place] = max(self.release[place], placing.start[place])
        for place in search.on:
            self.due[place] = placing.start[place] + job.duration[place]
        search.spent += _COST_OF_BOUNDS
        self.first = heads(job, placing.booking, self.release)
        self.last = tails(job, placing.booking, job.not_before, self.due)

    def moved(self, which: Sequence[int], off: int, on: int, free_first: Starts, *, near: bool) -> _Attempt | None:
        """The attempt to have some services off and on again later by so much; None where that is refuted."""
        search, job, booking = self.search, self.search.job, self.placing.booking
        first, last = self.first, self.last
        if first is None or last is None:
            return None
        release, due = list(self.release), list(self.due)
        for switches in [search.aims[number] for number in which]:
            for place in switches.off:
                release[place] += off
                if release[place] < 0 or release[place] > last[place] + max(on, 0):
                    return None
            for place in switches.on:
                due[place] += on
                if due[place] < first[place] + job.duration[place] + min(off, 0):
                    return None
        if off:
            search.spent += _COST_OF_BOUNDS / 2
            first = heads(job, booking, release)
            if first is None or (not on and any([begin > end for begin, end in zip(first, last, strict=True)])):
                return None
        if on:
            search.spent += _COST_OF_BOUNDS / 2
            last = tails(job, booking, first, due)
            if last is None:
                return None
        return _Attempt(search, _Room(booking, first, last), free_first, 0, near=near)


@dataclass(frozen=True, slots=True)
class _Target:
    """For each service the day from which it may go off and the day on which it is on again, and the time at least.

    `over` where something may be attended until the next morning that works by itself over night.
    """

    floor: int
    off_days: tuple[int, ...]
    on_days: tuple[int, ...]
    over: bool


def _targets(search: _Search, days: int) -> list[_Target]:
    """All targets by day, the shortest time on the clock first; services come back on one day or on two running."""
    job, day = search.job, search.day
    calendar = job.calendar
    late = [any(job.shape.elapsed[place] for place in switches.on) for switches in search.aims]
    mornings = [calendar.clock_at_start(number * day) for number in range(days + 1)]
    evenings = [calendar.clock_at_end((number + 1) * day) for number in range(days)]
    aims = len(search.aims)
    found: list[tuple[int, int, _Target]] = []
    for first_on in range(days):
        for later in product((0, 1), repeat=aims):
            if all(later) or (any(later) and first_on + 1 == days):
                continue
            on_days = tuple([first_on + more for more in later])
            for off_days in product(*[range(on_day + 1) for on_day in on_days]):
                times = [
                    max(0, mornings[on_day] - evenings[off_day])
                    for on_day, off_day in zip(on_days, off_days, strict=True)
                ]
                floor = sum(times)
                found.append((floor, -sum(off_days), _Target(floor, off_days, on_days, False)))
                if any(late) and not any(later) and first_on + 1 < days:
                    floor += sum([mornings[first_on + 1] - evenings[first_on] for yes in late if yes])
                    found.append((floor, -sum(off_days), _Target(floor, off_days, on_days, True)))
    found.sort(key=lambda entry: entry[:2])
    return [target for _, _, target in found]


def _attempts(
    search: _Search, rooms: Sequence[_Room], target: _Target, groups: Sequence["_Group"]
) -> Iterator[_Attempt]:
    """The attempts at a target that neither first and last starts nor the load refute, the widest room first."""
    job, day = search.job, search.day
    release = list(job.not_before)
    for switches, off_day in zip(search.aims, target.off_days, strict=True):
        for place in switches.off:
            release[place] = max(release[place], off_day * day)
    due = [search.deadline] * len(job.rows)
    for switches, on_day in zip(search.aims, target.on_days, strict=True):
        for place in switches.on:
            over = job.duration[place] - 1 if target.over and job.shape.elapsed[place] else 0
            due[place] = min(due[place], (on_day + 1) * day + over)
    if any([search.free.last[place] < release[place] for place in search.off]) or any(
        [search.free.first[place] + job.duration[place] > due[place] for place in search.on]
    ):
        return
    free = _narrowed(search, search.free.booking, release, due)
    if free is None:
        return
    search.spent += _COST_OF_LOAD
    if _overloaded(job, groups, free.first, free.last):
        return
    widths: list[tuple[int, int]] = []
    for number, room in enumerate(rooms):
        if any([room.last[place] < release[place] for place in search.off]) or any(
            [room.first[place] + job.duration[place] > due[place] for place in search.on]
        ):
            continue
        width = _width(job, room.booking, free.first, free.last)
        if width >= 0:
            widths.append((-width, number))
    widths.sort()
    for _, number in widths:
        narrow = _narrowed(search, rooms[number].booking, release, due)
        if narrow is not None:
            yield _Attempt(search, narrow, rooms[number].first, target.floor)


def _width(job: Job, booking: Booking, first: Starts, last: Starts) -> int:
    """How much room a visit leaves the tasks of visiting trades together; below 0 where it leaves one of them none."""
    total = 0
    for visiting, times in zip(job.shape.visiting, booking, strict=True):
        for place in visiting.places:
            length = job.duration[place]
            widest = -1
            for since, until in times:
                width = min(until - length, last[place]) - max(since, first[place])
                if width > widest and until - since >= length:
                    widest = width
            if widest < 0:
                return -1
            total += widest
    return total


def _narrowed(search: _Search, booking: Booking, release: Sequence[int], due: Starts) -> _Room | None:
    search.spent += _COST_OF_BOUNDS / 2
    first = heads(search.job, booking, release)
    if first is None:
        return None
    search.spent += _COST_OF_BOUNDS / 2
    last = tails(search.job, booking, first, due)
    return None if last is None else _Room(booking, first, last)


def _visits(job: Job, days: int, forms: Sequence[str], first: Starts, last: Starts) -> list[Booking]:
    """The visits in so many days that leave each task of a visiting trade a place, those with the most room first."""
    shape = job.shape
    each = [
        list(_times(job, visiting, work, days, form))
        for visiting, work, form in zip(shape.visiting, job.work_of_visiting, forms, strict=True)
    ]
    widths = [(_width(job, booking, first, last), booking) for booking in product(*each)]
    return [booking for width, booking in sorted(widths, key=lambda entry: -entry[0]) if width >= 0]


def _times(job: Job, visiting: Visiting, work: int, days: int, form: str) -> Iterator[tuple[tuple[int, int], ...]]:
    """When a trade could come within so many days: see `best_of` for the forms."""
    day = job.calendar.day
    half = visiting.half_to - visiting.half_from
    halves = [(number * day + visiting.half_from, number * day + visiting.half_to) for number in range(days)]
    longest = max(job.duration[place] for place in visiting.places)
    if form == "any":
        yield ((0, days * day),)
    elif form == "halves":
        if longest <= half:
            yield tuple(halves)
    elif work <= half:
        for times in halves:
            yield (times,)
    else:
        whole_days = -(-work // day)
        for last in range(whole_days, days + 1):
            yield (((last - whole_days) * day, last * day),)
        if work <= 2 * half and longest <= half:
            for number in range(1, days):
                yield halves[number - 1], halves[number]


_Group = tuple[int, tuple[tuple[int, int], ...]]
"""A number of people, and (place, work) of what nobody else can do."""


def _groups(job: Job) -> tuple[_Group, ...]:
    """All engineers, and each set of them outside which nobody is qualified for some tasks."""
    shape = job.shape
    engineers = shape.engineers
    sets = {frozenset(range(engineers))}
    for able, visitor in zip(shape.able, shape.visitor, strict=True):
        if visitor < 0:
            sets.add(frozenset(able))
    groups: list[_Group] = []
    for people in sorted(sets, key=lambda some: (-len(some), sorted(some))):
        others = engineers - len(people)
        places = [
            (place, job.duration[place] * (1 if people.issuperset(able) and others else crew - others))
            for place, (able, visitor, crew) in enumerate(zip(shape.able, shape.visitor, shape.crew, strict=True))
            if visitor < 0 and (people.issuperset(able) or crew > others)
        ]
        groups.append((len(people), tuple(places)))
    return tuple(groups)


def _overloaded(job: Job, groups: Sequence[_Group], first: Starts, last: Starts) -> bool:
    """Whether some people would have more work between two moments than there is time."""
    duration = job.duration
    if job.hands:
        return False
    for people, places in groups:
        by_end = sorted([(last[place] + duration[place], first[place], work) for place, work in places])
        for since in sorted({begin for _, begin, _ in by_end}):
            room = people * since
            work = 0
            for until, begin, more in by_end:
                if begin >= since:
                    work += more
                    if work > people * until - room:
                        return True
    return False


def _by(key: Sequence[int]) -> list[int]:
    return sorted(range(len(key)), key=key.__getitem__)


def _lower(
    key: Starts,
    place: int,
    neighbours: Sequence[Sequence[int]],
    with_lag: Sequence[Sequence[tuple[int, int]]],
) -> None:
    """Puts what must stand before a place in front of it again."""
    stack = [place]
    while stack:
        place = stack.pop()
        least = key[place] - 1
        for other in neighbours[place]:
            if key[other] > least:
                key[other] = least
                stack.append(other)
        for other, _ in with_lag[place]:
            if key[other] > least:
                key[other] = least
                stack.append(other)


def _raised(job: Job, key: Starts) -> Starts:
    """Keys by which each task stands after all that it comes after."""
    shape = job.shape
    for place in range(len(key)):
        most = key[place]
        for before in shape.after[place]:
            if key[before] >= most:
                most = key[before] + 1
        for before, _ in shape.lagging[place]:
            if key[before] >= most:
                most = key[before] + 1
        key[place] = most
    return key
