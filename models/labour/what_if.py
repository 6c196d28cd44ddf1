"""What a plan costs when something goes otherwise: rain, a damaged part, a late electrician, another concrete.

Every answer is a plan and a sentence, with the cheapest way that was tried and found to avoid the loss. Nothing is
left to chance in here: whoever asks about rain hands in the uniform numbers.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from math import ceil

from models.labour.plan import Changes, LabourPlan, job_with, plan
from models.labour.schedule import Job, Placing, calendar_of, is_working_day, most_days, offsets_of
from models.labour.search import Effort, best_of, near
from models.labour.tasks import (
    ENGINEER,
    LARGEST_CREW,
    TICKS_PER_H,
    LabourSettings,
    NeededTask,
)
from models.reference.weather import SOURCE as RAIN_SOURCE, RainRegion
from models.sources import Source

SOURCE = Source("the firm's labour rows and working day, with one thing changed", standing="firm's rule")
RUNS = 1000
_HALF_RATIO = 0.5
_FOUR_OF_FIVE_RATIO = 0.8
_SPARE_DAYS = 25
"""Days beyond the plan for which rain is drawn."""
_OVERTIME_MIN = (30, 60)
_PIECE_TICKS = 4 * TICKS_PER_H
"""After so much of a task in the open it may be left for better weather."""
_HOURS_A_DAY = 24
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_ORDINALS = ("", "", "second", "third", "fourth", "fifth", "sixth", "seventh")


@dataclass(frozen=True, slots=True)
class Works:
    """What a plan is made of. `starts_on` is a working day or None; `base_type` and `cold` choose the curing time."""

    tasks: tuple[NeededTask, ...]
    crew: int
    settings: LabourSettings
    starts_on: date | None
    base_type: str
    cold: bool
    bank_holidays: frozenset[date] = frozenset()


@dataclass(frozen=True, slots=True)
class Answer:
    """What happens if: the plan then, the working days that it takes more, and a sentence.

    `days_more` is None where there is no plan; its findings then name the reason.
    """

    question: str
    plan: LabourPlan
    days_more: int | None
    sentence: str
    avoided_by: str
    source: str


@dataclass(frozen=True, slots=True)
class RainAnswer:
    """Working days with rain, from many runs: kept in half of them, and in four of five.

    `plan` is that of a run which took the latter, worked out with the effort asked for, so that it may take fewer.

    `days_dry` is without rain; `days_of_run` has the days of each run in the order in which they were drawn.
    """

    question: str
    plan: LabourPlan
    days_dry: int | None
    days_half: int | None
    days_four_of_five: int | None
    days_of_run: tuple[int, ...]
    sentence: str
    avoided_by: str
    source: str


def planned(works: Works, *, effort: Effort, changes: Changes | None = None) -> LabourPlan:
    """The plan of the works, with something changed or not. Raises ValueError as `plan` does."""
    return plan(
        works.tasks,
        works.crew,
        works.settings,
        starts_on=works.starts_on,
        base_type=works.base_type,
        cold=works.cold,
        bank_holidays=works.bank_holidays,
        effort=effort,
        changes=changes or Changes(),
    )


def part_damaged(
    works: Works,
    *,
    part: str,
    tasks: Sequence[str],
    back_on: tuple[int, int],
    effort: Effort = "thorough",
    base: LabourPlan | None = None,
) -> Answer:
    """A delivered part is found damaged on day 1 and replaced: the tasks that need it wait for the new one.

    The firm's rule. `tasks` are the codes that need the part, `back_on` the day and minute after midnight at which the
    new one is there; `base` is the plan without the mishap, where it is known. Raises ValueError where none of the
    tasks is needed.
    """
    there = [needed.task.code for needed in works.tasks if needed.task.code in tasks]
    if not there:
        raise ValueError(f"no task of this job needs the {part}")
    day, minute = back_on
    question = f"the {part} is damaged on delivery and replaced on day {day} at {_clock(minute)}"
    return _answer(works, question, Changes(not_before=dict.fromkeys(there, back_on)), effort, base)


def trade_a_day_late(
    works: Works, *, trade: str, effort: Effort = "thorough", base: LabourPlan | None = None
) -> Answer:
    """The electrician, or another trade that comes for half-days, comes a day later than planned.

    The firm's rule. Nobody knows of it before the day itself, so that what is planned before that day stays there.
    Raises ValueError where the trade does not come at all.
    """
    base = base or planned(works, effort=effort)
    days = [visit.day for visit in base.visits if visit.trade == trade]
    if not days and base.days is not None:
        raise ValueError(f"the plan has no visit of the trade {trade}")
    day = min(days, default=1)
    morning = works.settings.day_start_min
    not_before: dict[str, tuple[int, int]] = {}
    for task in base.tasks:
        if task.trade == trade:
            not_before[task.code] = max(day + 1, task.start.day), morning
        elif task.start.day < day:
            not_before[task.code] = task.start.day, _minute(task.start.at)
        else:
            not_before[task.code] = day, morning
    question = f"the {trade} comes on day {day + 1} instead of day {day}"
    return _answer(works, question, Changes(not_before=not_before), effort, base)


def another_base(
    works: Works, *, base_type: str, effort: Effort = "thorough", base: LabourPlan | None = None
) -> Answer:
    """Another base than planned, standard concrete instead of rapid for example: its own curing time.

    The firm's rule; the hours of the work stay. Raises ValueError for an unknown base.
    """
    words = base_type.replace("_", " ")
    question = f"a {words} instead of a {works.base_type.replace('_', ' ')}"
    base = base or planned(works, effort=effort)
    return _answer(replace(works, base_type=base_type), question, Changes(), effort, base)


def rain(
    works: Works,
    *,
    region: RainRegion,
    month: int,
    uniform: Callable[[], float],
    runs: int = RUNS,
    effort: Effort = "thorough",
) -> RainAnswer:
    """How many days the works take with rain as the region has it, in so many runs.

    Met Office rain days by month; a task in the open is not done on a day with 1 mm of rain or more, but may be left
    for better weather after each half-day of it; everything else goes on, in another order where that helps, as if the
    forecast were right. With a first day each day has
    the rain of its own month, without one all have that of `month` (1 to 12). `uniform` gives numbers from 0 up to 1.
    """
    works = replace(works, tasks=_in_pieces(works.tasks))
    base = planned(works, effort=effort)
    source = str(RAIN_SOURCE)
    question = f"it rains as it does in {region.month_said(month)}"
    if base.days is None:
        return RainAnswer(question, base, None, None, None, (), _no_plan(question, base), "", source)
    chances = _chances(works, base, region, month)
    memory = _Remembered(works, base, effort, len(chances))
    days_of_run = []
    for _ in range(runs):
        wet = tuple(uniform() < chance for chance in chances)
        days_of_run.append(memory.days(wet))
    ordered = sorted(days_of_run)
    half = ordered[ceil(runs * _HALF_RATIO) - 1]
    safe = ordered[ceil(runs * _FOUR_OF_FIVE_RATIO) - 1]
    then, changes = base, Changes()
    if safe >= len(chances):
        never = f"rain, {region.said(month)}: {_days(safe)} are not enough in one run of five"
        return RainAnswer(question, base, base.days, half, None, tuple(days_of_run), never, "", source)
    if safe > base.days:
        changes = Changes(wet_days=memory.wet_days_of(safe))
        then = planned(works, effort=effort, changes=changes)
    kept = f"{_days(half)} are enough in half of {runs:,} runs and {_days(safe)} in four of five"
    if half == safe:
        kept = f"{_days(safe)} {'is' if safe == 1 else 'are'} enough in four of five of {runs:,} runs"
    sentence = f"rain, {region.said(month)}: dry it takes {_days(base.days)}; {kept}"
    avoided_by = ""
    if then.days is not None and then.days > base.days:
        cost, avoided_by = _cost_and_remedy(works, changes, then, then.days - base.days)
        sentence = f"{sentence}. A wet spell as in one run of five {cost}"
    return RainAnswer(question, then, base.days, half, safe, tuple(days_of_run), sentence, avoided_by, source)


def _in_pieces(tasks: Sequence[NeededTask]) -> tuple[NeededTask, ...]:
    """The tasks with those in the open cut into pieces of half a day at most, unless they are done in one go."""
    pieces: list[NeededTask] = []
    last_piece: list[int] = []
    for needed in tasks:
        task = needed.task
        after = tuple((last_piece[before], lag, table) for before, lag, table in needed.after)
        count = 1
        if task.weather_exposed and not task.one_go and not needed.elapsed_ticks:
            count = -(-needed.duration_ticks // _PIECE_TICKS)
        for number in range(count):
            first, last = number == 0, number == count - 1
            length = needed.duration_ticks * (number + 1) // count - needed.duration_ticks * number // count
            part = replace(
                task,
                services_off=task.services_off if first else (),
                services_restored=task.services_restored if last else (),
            )
            pieces.append(
                NeededTask(
                    part if count > 1 else task,
                    needed.person_h / count,
                    length,
                    needed.elapsed_ticks,
                    after if first else ((len(pieces) - 1, 0, ""),),
                )
            )
        last_piece.append(len(pieces) - 1)
    return tuple(pieces)


class _Remembered:
    """Days by pattern of rain, each worked out once.

    What was placed for a pattern holds for every wetter one that leaves its own open work dry, and is its best as well,
    since more rain never makes the works shorter.
    """

    __slots__ = ("_base", "_exposed", "_horizon", "_known", "_offsets", "_works")

    def __init__(self, works: Works, base: LabourPlan, effort: Effort, horizon: int) -> None:
        self._works = works
        self._horizon = horizon
        self._exposed = [place for place, needed in enumerate(works.tasks) if needed.task.weather_exposed]
        self._offsets = offsets_of(
            works.starts_on, works.bank_holidays, most_days(works.tasks, works.settings) + horizon
        )
        job = self._job(())
        made = best_of(job, effort)
        assert made.placing is not None and base.days is not None
        self._base: Placing = made.placing
        self._known: list[tuple[int, int, int]] = [(0, self._open_days(job, made.placing), made.placing.days)]

    def days(self, wet: tuple[bool, ...]) -> int:
        """The days of a pattern of wet days, the first day first."""
        pattern = sum(1 << number for number, yes in enumerate(wet) if yes)
        for rained, in_the_open, days in self._known:
            if not pattern & in_the_open and not rained & ~pattern:
                return days
        job = self._job(_days_of(pattern))
        made = near(job, self._base)
        placing = made.placing
        if placing is None or placing.days > made.lower_bound_days:
            better = best_of(job, "days").placing
            placing = placing if better is None or (placing and placing.days <= better.days) else better
        if placing is None:
            return self._horizon
        in_the_open = self._open_days(job, placing)
        self._known.append((pattern & ((1 << in_the_open.bit_length()) - 1), in_the_open, placing.days))
        return placing.days

    def wet_days_of(self, days: int) -> tuple[int, ...]:
        """The wet days of the first pattern that took so many days."""
        return _days_of(next((rained for rained, _, needed in self._known if needed == days), 0))

    def _open_days(self, job: Job, placing: Placing) -> int:
        """The days with work in the open, a bit each."""
        day = job.calendar.day
        found = 0
        for place in self._exposed:
            begin, length = placing.start[place], job.duration[place]
            for number in range(begin // day, (begin + length - 1) // day + 1):
                found |= 1 << number
        return found

    def _job(self, wet_days: tuple[int, ...]) -> Job:
        works = self._works
        return job_with(
            works.tasks,
            works.settings,
            calendar_of(works.settings, self._offsets, 0),
            Changes(wet_days=wet_days),
            crew=works.crew,
            base_type=works.base_type,
            cold=works.cold,
        )


def _days_of(pattern: int) -> tuple[int, ...]:
    """The days of a pattern, counted from 1."""
    return tuple(number + 1 for number in range(pattern.bit_length()) if pattern >> number & 1)


def _chances(works: Works, base: LabourPlan, region: RainRegion, month: int) -> tuple[float, ...]:
    """The chance of rain on each working day, well beyond the end of the plan."""
    assert base.days is not None
    count = base.days + _SPARE_DAYS
    if works.starts_on is None:
        return (region.chance_ratio(month),) * count
    chances: list[float] = []
    day = works.starts_on
    while len(chances) < count:
        if is_working_day(day, works.bank_holidays):
            chances.append(region.chance_ratio(day.month))
        day += timedelta(days=1)
    return tuple(chances)


def _answer(works: Works, question: str, changes: Changes, effort: Effort, base: LabourPlan | None = None) -> Answer:
    base = base or planned(works, effort=effort)
    then = planned(works, effort=effort, changes=changes)
    if base.days is None or then.days is None:
        return Answer(question, then, None, _no_plan(question, base if base.days is None else then), "", str(SOURCE))
    more = then.days - base.days
    avoided_by = ""
    if more > 0:
        cost, avoided_by = _cost_and_remedy(works, changes, then, more)
        sentence = f"{question}: {cost}"
    elif more < 0:
        sentence = f"{question}: saves {_days(-more)}"
    else:
        off = then.heating_off_h + then.hot_water_off_h - base.heating_off_h - base.hot_water_off_h
        cost = f", but the services are off {off:.1f} h longer" if off > 1 else ""
        sentence = f"{question}: costs no day{cost}"
    return Answer(question, then, more, sentence, avoided_by, str(SOURCE))


def _cost_and_remedy(works: Works, changes: Changes, then: LabourPlan, more: int) -> tuple[str, str]:
    """What so many days more are in words, and the cheapest way that was tried and found to save them."""
    cost = "costs a day" if more == 1 else f"costs {_days(more)}"
    best, most = "", 0
    for words, saved in _avoided(works, changes, then):
        if saved > most:
            best, most = words, saved
        if most >= more:
            return f"{cost}: {best} avoids it", best
    if best:
        return f"{cost}: {best} saves {_NUMBERS[min(most, 10)]} of them", best
    if _base_ahead(works) is None:
        return f"{cost}; neither longer days nor more hands avoid it", ""
    return f"{cost}; longer days, more hands or a base cast before do not avoid it", ""


def _avoided(works: Works, changes: Changes, then: LabourPlan) -> Iterator[tuple[str, int]]:
    """Ways to make the plan shorter that were tried and work, the cheapest first, with the days that they save."""
    assert then.days is not None
    for words, other, changed in _ways(works, changes, then.days):
        shorter = planned(other, effort="live", changes=changed)
        if shorter.days is None:
            continue
        if shorter.days >= then.days > shorter.lower_bound_days:
            shorter = planned(other, effort="days", changes=changed)
        if shorter.days is not None and shorter.days < then.days:
            yield words, then.days - shorter.days


def _ways(works: Works, changes: Changes, days: int) -> Iterator[tuple[str, Works, Changes]]:
    """What may be tried against lost days, in words and as changes, the cheapest first."""
    settings = works.settings
    for overtime in _OVERTIME_MIN:
        hours = "half an hour" if overtime == _OVERTIME_MIN[0] else "an hour"
        yield f"working {hours} longer each day", works, replace(changes, overtime_min=overtime)
    pair = (
        f"a {_ORDINALS[works.crew + 1]} pair of hands" if works.crew + 1 < len(_ORDINALS) else "one more pair of hands"
    )
    for day in range(1, days):
        for part, since, until in (
            ("morning", settings.day_start_min, settings.break_from_min),
            ("afternoon", settings.break_to_min, settings.day_end_min),
        ):
            yield f"{pair} for the {part} of day {day}", works, replace(changes, hands=((day, since, until),))
    there = sum(person.trade == ENGINEER for person in settings.people)
    if works.crew < min(there, LARGEST_CREW):
        yield f"a crew of {works.crew + 1} from the start", replace(works, crew=works.crew + 1), changes
    ahead = _base_ahead(works)
    if ahead is not None:
        left = {needed.task.code for needed in ahead.tasks}
        held = {code: moment for code, moment in changes.not_before.items() if code in left}
        cured = _days(_curing_days(works))
        words = f"a visit {cured} or more before the works to cast the base"
        yield words, ahead, replace(changes, not_before=held)


def _base_ahead(works: Works) -> Works | None:
    """The works with whatever hardens, and what leads to it in its phase, done before; None where nothing hardens."""
    done = {before for needed in works.tasks for before, _, table in needed.after if table}
    if not done or not _curing_days(works):
        return None
    phases = {works.tasks[place].task.phase for place in done}
    for place in range(len(works.tasks) - 1, -1, -1):
        if place in done:
            done.update(before for before, _, _ in works.tasks[place].after if works.tasks[before].task.phase in phases)
    kept = [place for place in range(len(works.tasks)) if place not in done]
    now = {place: number for number, place in enumerate(kept)}
    tasks: list[NeededTask] = []
    for place in kept:
        needed = works.tasks[place]
        after = {(now[before], lag, table) for before, lag, table in needed.after if before in now}
        # what came before the work done ahead still comes before what follows it
        after |= {(now[before], 0, "") for before in _before_all(works, needed, done) if before in now}
        tasks.append(replace(needed, after=tuple(sorted(after))))
    return replace(works, tasks=tuple(tasks))


def _before_all(works: Works, needed: NeededTask, done: set[int]) -> set[int]:
    """What a task comes after through work that is done ahead."""
    found: set[int] = set()
    stack = [before for before, _, _ in needed.after if before in done]
    while stack:
        for before, _, _ in works.tasks[stack.pop()].after:
            if before in done:
                stack.append(before)
            else:
                found.add(before)
    return found


def _curing_days(works: Works) -> int:
    """Whole days on the clock that the base takes to harden."""
    settings = works.settings
    tables = {table for needed in works.tasks for _, _, table in needed.after if table}
    hours = [
        float(
            settings.lag_tables_h[table][works.base_type] * (settings.cold_factors.get(table, 1) if works.cold else 1)
        )
        for table in tables
    ]
    return ceil(max(hours, default=0) / _HOURS_A_DAY)


def _no_plan(question: str, none: LabourPlan) -> str:
    reasons = "; ".join(finding.message for finding in none.findings if finding.strength == "stop")
    return f"{question}: there is no plan: {reasons}"


def _days(count: int) -> str:
    words = _NUMBERS[count] if count < len(_NUMBERS) else str(count)
    return f"{words} day" if count == 1 else f"{words} days"


def _minute(at: str) -> int:
    return int(at[:2]) * 60 + int(at[3:])


def _clock(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"
