"""Several whole estimates of one house side by side, and what each flow temperature costs, saves and takes in days.

Common practice, no source: the best flow temperature is the one whose purchase and some years of running cost least.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from models.design.emitters import EmitterCost, counts_as_short, emitter_schedule
from models.design.flow_temperature import choose_flow_temperature
from models.design.results import CylinderChoice, EmitterSchedule, FlowCandidate, FlowChoice, UnitChoice
from models.estimate import (
    DESIGN_DELTA_T_K,
    YEARS,
    Choices,
    Estimate,
    HousePart,
    check_choices,
    chosen_rules,
    design_at,
    design_findings,
    estimate,
    first_store,
    flow_candidate,
    heating_year_at,
    house_key,
    house_part,
    is_cold,
    unit_at,
    works_dates,
)
from models.findings import Finding
from models.labour.plan import plan
from models.labour.tasks import NeededTask, needed_tasks
from models.rules import Rules
from models.sources import COMMON_PRACTICE, Why
from models.survey import Survey
from models.takeoff.quantities import take_off

SOURCE = COMMON_PRACTICE
WHY = Why(
    sentence="{best_flow_temp_c:g} °C: purchase of emitters and unit and {years} years of running cost least together",
    source=SOURCE,
)
CURVE_FLOW_TEMPS_C = tuple(float(temp_c) for temp_c in range(35, 56))
RULE = (
    "purchase is emitters with their fitting and the outdoor unit, at cost; running is electricity at today's price, "
    "before what outdoor pipes lose; {years} years without interest; labour days are those of the whole job and stand "
    "beside it"
)


@dataclass(frozen=True, slots=True)
class OptionsAnswer:
    """Whole estimates in the order of the choices. Each stands by itself; they share what is the same in all."""

    estimates: tuple[Estimate, ...]


class FlowPoint(NamedTuple):
    """One flow temperature straight through to the days of labour.

    `emitter_pence` and `unit_pence` are cost to the firm and make `purchase_pence` together. `feasible` says whether
    every room and the house are heated, `reasons` why not; `rooms_short` counts rooms that lack a little all the same.
    Of a point that is not feasible no labour is given, since its design is none; of one that is, `other_stops` is what
    else forbids a quote there, and hours and days are None where that leaves nothing to plan. What needs a unit is
    None where none is enough.
    """

    flow_temp_c: float
    return_temp_c: float
    feasible: bool
    reasons: tuple[str, ...]
    other_stops: tuple[str, ...]
    unit_sku: str | None
    unit_count: int
    emitters_changed: int
    emitter_pence: int
    unit_pence: int
    purchase_pence: int
    seasonal_ratio: float | None
    electricity_kwh_per_year: float | None
    running_pence_per_year: int | None
    whole_cost_pence: int | None
    person_hours: Decimal | None
    days: int | None
    governing_room_id: str | None
    governing_room: str | None
    best: bool
    rooms_short: int = 0


class DayStep(NamedTuple):
    """Two neighbouring flow temperatures at which the works take a different number of days."""

    below_temp_c: float
    flow_temp_c: float
    days_below: int
    days: int
    sentence: str


@dataclass(frozen=True, slots=True)
class FlowCurve:
    """Cost against seasonal ratio over flow temperatures, one temperature for all emitters.

    `best_flow_temp_c` is None where none is feasible. `day_steps` are the cliffs of labour, `sentences` what is to be
    said about the curve.
    """

    years: int
    delta_t_k: float
    rule: str
    points: tuple[FlowPoint, ...]
    best_flow_temp_c: float | None
    day_steps: tuple[DayStep, ...]
    sentences: tuple[str, ...]


def options(survey: Survey, choices: Sequence[Choices], rules: Rules, *, today: date) -> OptionsAnswer:
    """One estimate for each set of choices, in their order.

    The firm's rules, as `estimate`. Choices with the same `house_key` share the house. Raises as `estimate` does.
    """
    houses: dict[tuple[object, ...], HousePart] = {}
    estimates = []
    for its in choices:
        check_choices(survey, its, rules)
        key = house_key(its)
        house = houses.get(key)
        if house is None:
            house = houses[key] = house_part(survey, its, chosen_rules(rules, its))
        estimates.append(estimate(survey, its, rules, today=today, house=house))
    return OptionsAnswer(tuple(estimates))


def flow_curve(
    survey: Survey,
    choices: Choices,
    rules: Rules,
    *,
    today: date,
    flow_temps_c: Sequence[float] = CURVE_FLOW_TEMPS_C,
    house: HousePart | None = None,
) -> FlowCurve:
    """Each flow temperature straight through to purchase, running, person-hours and days, the best marked.

    Common practice, no source, as `choose_flow_temperature`; a point is what `estimate` gives with that
    `choices.flow_temp_c`. A flow temperature in `choices` is left out of account. `house` as in `estimate`. The plan
    is made anew only where a task's hours or order differ from another temperature's. Raises as `estimate` does, and
    ValueError without a temperature.
    """
    check_choices(survey, choices, rules)
    rules = chosen_rules(rules, choices)
    if house is None:
        house = house_part(survey, choices, rules)
    priced_on, start_on, holidays = works_dates(survey, choices, rules, today=today)
    store = first_store(house, choices)
    works = _Works(survey, choices, rules, house, store, priced_on, start_on, holidays, is_cold(house, start_on), {})
    tried: list[tuple[FlowCandidate, EmitterSchedule, UnitChoice]] = []
    for flow_temp_c in sorted(set(flow_temps_c)):
        schedule = emitter_schedule(options=house.emitter_options, flow_temp_c=flow_temp_c, delta_t_k=DESIGN_DELTA_T_K)
        unit = unit_at(house, choices, flow_temp_c, None)
        candidate = flow_candidate(house, store, _emitter_cost(schedule), unit, heating_year_at(house, flow_temp_c))
        tried.append((candidate, schedule, unit))
    chosen = choose_flow_temperature(
        candidates=tuple([candidate for candidate, _, _ in tried]), delta_t_k=DESIGN_DELTA_T_K, years=YEARS
    )
    names = {room.id: room.name for room in survey.rooms}
    points = []
    for candidate, (_, schedule, unit) in zip(chosen.candidates, tried, strict=True):
        flow = FlowChoice(candidate.flow_temp_c, DESIGN_DELTA_T_K, YEARS, chosen.rule, (candidate,))
        labour = _labour(works, flow, schedule, unit) if candidate.feasible else _Labour((), None, None)
        points.append(_point(candidate, schedule, unit, labour, names))
    best = next((point for point in points if point.best), None)
    steps = tuple(day_steps(points))
    return FlowCurve(
        years=YEARS,
        delta_t_k=DESIGN_DELTA_T_K,
        rule=RULE.format(years=YEARS),
        points=tuple(points),
        best_flow_temp_c=best.flow_temp_c if best else None,
        day_steps=steps,
        sentences=tuple(_sentences(points, best, steps)),
    )


@dataclass(frozen=True, slots=True)
class _Works:
    """What the labour of every temperature is worked out from. `plans` are the days of those already planned."""

    survey: Survey
    choices: Choices
    rules: Rules
    house: HousePart
    store: CylinderChoice
    priced_on: date
    start_on: date
    holidays: frozenset[date]
    cold: bool
    plans: dict[tuple[object, ...], int | None]


class _Labour(NamedTuple):
    """What else forbids a quote, person-hours and days; the last two None where there is nothing to plan."""

    other_stops: tuple[str, ...]
    person_hours: Decimal | None
    days: int | None


def _labour(works: _Works, flow: FlowChoice, schedule: EmitterSchedule, unit: UnitChoice) -> _Labour:
    design = design_at(works.house, works.choices, flow, schedule, unit, works.store, works.priced_on, works.start_on)
    stops = _stops((*works.house.checks, *design_findings(design)))
    if design.base is None or design.hot_water.cylinder is None:
        return _Labour(stops, None, None)
    measured = take_off(survey=works.survey, design=design, extras=frozenset(works.choices.extras), cold=works.cold)
    needed = needed_tasks(works.rules.labour, measured)
    hours = sum([task.person_h for task in needed], Decimal(0))
    return _Labour(stops, hours, _days(works, needed, design.base.type))


def _days(works: _Works, needed: tuple[NeededTask, ...], base_type: str) -> int | None:
    key = (base_type, *[(each.task.code, each.duration_ticks, each.after) for each in needed])
    if key not in works.plans:
        settings = works.rules.labour.settings
        works.plans[key] = plan(
            needed, settings.usual_crew, settings, starts_on=works.start_on, base_type=base_type, cold=works.cold,
            bank_holidays=works.holidays,
        ).days  # fmt: skip
    return works.plans[key]


def _point(
    candidate: FlowCandidate, schedule: EmitterSchedule, unit: UnitChoice, labour: _Labour, names: Mapping[str, str]
) -> FlowPoint:
    governing = schedule.governing_room_id
    return FlowPoint(
        flow_temp_c=candidate.flow_temp_c,
        return_temp_c=schedule.return_temp_c,
        feasible=candidate.feasible,
        reasons=_stops((*schedule.findings, *unit.findings)),
        other_stops=labour.other_stops,
        unit_sku=candidate.unit_sku,
        unit_count=candidate.unit_count,
        emitters_changed=candidate.emitters_changed,
        emitter_pence=schedule.cost_pence,
        unit_pence=candidate.purchase_pence - schedule.cost_pence,
        purchase_pence=candidate.purchase_pence,
        seasonal_ratio=candidate.seasonal_ratio,
        electricity_kwh_per_year=candidate.electricity_kwh_per_year,
        running_pence_per_year=candidate.running_pence_per_year,
        whole_cost_pence=candidate.whole_cost_pence,
        person_hours=labour.person_hours,
        days=labour.days,
        governing_room_id=governing,
        governing_room=None if governing is None else names[governing],
        best=candidate.taken and candidate.feasible,
        rooms_short=candidate.rooms_short,
    )


def day_steps(points: Iterable[FlowPoint]) -> Iterator[DayStep]:
    """Where the days of labour change from one flow temperature to the next, each in a sentence.

    The firm's labour rows. `points` from cool to hot; those without a plan, or that do not heat the house, are left
    out.
    """
    cooler: FlowPoint | None = None
    for point in points:
        if not point.feasible or point.days is None:
            continue
        if cooler is not None and cooler.days is not None and cooler.days != point.days:
            more = cooler.days - point.days
            where = f"below {point.flow_temp_c:g} °C" if more > 0 else f"from {point.flow_temp_c:g} °C up"
            many, few = max(cooler.days, point.days), min(cooler.days, point.days)
            yield DayStep(
                cooler.flow_temp_c,
                point.flow_temp_c,
                cooler.days,
                point.days,
                f"{where} the work takes {_more_days(abs(more))} more: {many} instead of {few}",
            )
        cooler = point


def _more_days(days: int) -> str:
    return "a day" if days == 1 else f"{days} days"


def _emitter_cost(schedule: EmitterSchedule) -> EmitterCost:
    """What `emitter_cost` says of the same flow temperature, read off the schedule."""
    return EmitterCost(
        schedule.flow_temp_c,
        schedule.cost_pence,
        schedule.fit_hours,
        sum([step.sku is not None for room in schedule.rooms for step in room.steps]),
        any(finding.strength == "stop" for finding in schedule.findings),
        rooms_short=sum(counts_as_short(needed_w=room.needed_w, short_w=room.short_w) for room in schedule.rooms),
    )


def _stops(findings: Iterable[Finding]) -> tuple[str, ...]:
    return tuple(dict.fromkeys([finding.message for finding in findings if finding.strength == "stop"]))


def _sentences(points: Sequence[FlowPoint], best: FlowPoint | None, steps: Sequence[DayStep]) -> Iterator[str]:
    if best is None:
        yield "none of the flow temperatures tried heats every room with a unit on offer"
    else:
        governing = f"; {best.governing_room} needs the hottest water" if best.governing_room else ""
        yield (
            f"{best.flow_temp_c:g} °C costs least over {YEARS} years, purchase and running together; one flow "
            f"temperature for all emitters{governing}"
        )
        cheaper = [
            point.flow_temp_c
            for point in points
            if point.feasible
            and point.rooms_short > best.rooms_short
            and point.whole_cost_pence is not None
            and best.whole_cost_pence is not None
            and point.whole_cost_pence < best.whole_cost_pence
        ]
        if cheaper:
            yield f"{_spans(cheaper, points)} °C would cost less and leave more rooms short of heat"
    if best is not None:
        left_out = [point for point in points if not point.feasible]
        cold = [point.flow_temp_c for point in left_out if point.flow_temp_c < best.flow_temp_c]
        if cold:
            yield f"not every room is heated at {_spans(cold, points)} °C"
        hot = [point for point in left_out if point.flow_temp_c > best.flow_temp_c]
        if hot:
            why = f": {hot[0].reasons[0]}" if hot[0].reasons else ""
            yield f"{_spans([point.flow_temp_c for point in hot], points)} °C cannot be had{why}"
    yield from (step.sentence for step in steps)
    days = {point.days for point in points if point.feasible and point.days is not None}
    if len(days) == 1:
        yield f"the work takes {days.pop()} days at every flow temperature that heats the house"


def _spans(temps_c: Sequence[float], points: Sequence[FlowPoint]) -> str:
    """Temperatures in words, neighbours on the curve as a span."""
    order = [point.flow_temp_c for point in points]
    spans: list[list[float]] = []
    for temp_c in temps_c:
        if spans and order.index(temp_c) == order.index(spans[-1][-1]) + 1:
            spans[-1].append(temp_c)
        else:
            spans.append([temp_c])
    return ", ".join(f"{span[0]:g}" if len(span) == 1 else f"{span[0]:g} to {span[-1]:g}" for span in spans)
