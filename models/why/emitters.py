"""Why each emitter stays, goes or comes, and why the water is as warm as it is."""

from collections.abc import Iterator
from typing import Any

from models.design import emitters as emitters_question, flow_temperature, heating_curve
from models.design.results import EmitterStep, RoomEmitters
from models.estimate import YEARS, Estimate, house_part
from models.physics.emission import RATED_EXCESS_K
from models.sources import COMMON_PRACTICE, Source
from models.survey import Emitter
from models.units import UNKNOWN
from models.why.entry import (
    Entry,
    Numbers,
    entry as _entry,
    given as _given,
    number as _number,
    of as _of,
    said as _said,
    surveyed as _input,
)

EMITTERS = Source("BS EN 442-2:2014", "characteristic equation, output = rated output x (excess temperature / 50)^n")


def entries(estimate: Estimate) -> Iterator[Entry]:
    """The reasons, in the order of the document."""
    yield from _emitters(estimate)
    yield from _flow(estimate)


def _emitters(estimate: Estimate) -> Iterator[Entry]:
    schedule, flow = estimate.design.emitters, estimate.design.flow
    mean_c = (schedule.flow_temp_c + schedule.return_temp_c) / 2
    found = house_part(estimate.survey, estimate.choices, estimate.rules).emitter_options
    products = {offer.item.sku: offer.item for offer in estimate.rules.offers.emitters.offers}
    temps_c = {room.room_id: room.room_temp_c for room in estimate.design.heat_loss.rooms}
    for room, its, options in zip(estimate.survey.rooms, schedule.rooms, found.rooms, strict=True):
        at = f"design.rooms.{room.id}"
        cooler_k = options.cooler_ratio * flow.delta_t_k
        excess_k = mean_c - cooler_k - temps_c[room.id]
        hang = [emitter.id for emitter in room.emitters if not emitter.customer_supplies]
        rated = dict(zip(hang, options.as_found, strict=True))
        supplied = {slot.emitter_id: slot.options[0] for slot in options.slots if slot.emitter_id not in rated}
        surveyed = {emitter.id: emitter for emitter in room.emitters}
        water = [("flow_temp_c", schedule.flow_temp_c), ("return_temp_c", schedule.return_temp_c),
                 ("room_temp_c", temps_c[room.id]),
                 *([("cooler_on_the_loop_k", cooler_k)] if cooler_k else []), ("excess_k", excess_k)]  # fmt: skip

        def share(exponent: float, excess_k: float = excess_k, room_temp_c: float = temps_c[room.id]) -> float:
            return emitters_question.output_share(
                exponent=exponent, mean_water_temp_c=excess_k + room_temp_c, delta_t_k=flow.delta_t_k,
                room_temp_c=room_temp_c,
            )  # fmt: skip

        before = []
        for emitter_id, (rated_w, exponent, limit_w) in rated.items():
            before.append((f"{emitter_id}.output_w", min(rated_w * share(exponent), limit_w)))
        yield _entry(
            f"{at}.emitter_output_before_w",
            "sum of what the emitters that are there give at this flow temperature",
            [*before, *water],
            EMITTERS,
            inputs=[one for emitter in room.emitters for one in _emitter_inputs(emitter)],
        )
        yield _entry(
            f"{at}.emitter_output_w",
            "sum of what the emitters give afterwards",
            [(f"{_step_id(step)}.output_w", step.output_w) for step in its.steps],
            EMITTERS,
            sentence=_said(emitters_question.WHY, its),
        )
        yield _entry(
            f"{at}.emitter_short_w",
            "heat loss of the room - output afterwards, nothing where it is enough",
            [("needed_w", its.needed_w), ("output_w", its.output_w), ("short_w", its.short_w)],
            emitters_question.SOURCE,
        )
        yield _entry(
            f"{at}.emitter_action",
            "the cheapest of what fits and gives enough; where nothing does, what gives most",
            [("needed_w", its.needed_w), ("output_before_w", its.output_before_w), ("output_w", its.output_w)],
            COMMON_PRACTICE,
            sentence=its.why,
            cost_why={
                "formula": "goods, valves, parts and hours at cost, of all steps in the room",
                "numbers": [_number("cost_pence", its.cost_pence), _number("fit_hours", its.fit_hours)],
            },
        )
        for step in its.steps:
            if step.action == "remove":
                continue
            inputs: list[Entry] = []
            if step.sku is not None:
                product = products[step.sku]
                rated_w, exponent, limit_w = product.output_50k_w, product.exponent, float("inf")
                inputs.append(_given(f"rated output of {product.name}", "output_50k_w", rated_w, "plate"))
            elif step.emitter_id in supplied:
                brought = supplied[step.emitter_id]
                rated_w, exponent, limit_w = brought.output_50k_w, brought.exponent, brought.limit_w
                inputs += _emitter_inputs(surveyed[step.emitter_id or ""])
            else:
                rated_w, exponent, limit_w = rated[step.emitter_id or ""]
                inputs += _emitter_inputs(surveyed[step.emitter_id or ""])
            yield _step(f"{at}.emitter_steps.{_step_id(step)}.output_w", step, its, rated_w, exponent, limit_w,
                        share(exponent), water, inputs)  # fmt: skip
            if step.new_tail_od_mm is not None:
                slot = next(slot for slot in options.slots if slot.emitter_id == step.emitter_id)
                yield _new_tails(f"{at}.emitter_steps.{_step_id(step)}.new_tail_od_mm", step, its, slot.tail_mm or 0,
                                 found, flow.delta_t_k)  # fmt: skip


def _new_tails(
    path: str, step: EmitterStep, its: RoomEmitters, old_od_mm: int, options: emitters_question.EmitterOptions,
    delta_t_k: float,
) -> Entry:  # fmt: skip
    new_od_mm = step.new_tail_od_mm or 0
    old_bore_mm = emitters_question.tail_bore_mm(od_mm=old_od_mm, bores_mm=options.tail_bore_mm)
    new_bore_mm = options.new_tail_bore_mm[new_od_mm]
    carried_w = its.needed_w * step.output_w / its.output_w
    return _entry(
        path,
        "area of the bore x 1 m/s x heat of a cubic metre of water x temperature difference; the smallest size that "
        "carries the emitter's share of what the room needs",
        [("carried_w", carried_w), ("delta_t_k", delta_t_k),
         (f"{old_od_mm} mm: bore_mm", old_bore_mm),
         (f"{old_od_mm} mm: carries_w", emitters_question.tail_limit_w(bore_mm=old_bore_mm, delta_t_k=delta_t_k)),
         (f"{new_od_mm} mm: bore_mm", new_bore_mm),
         (f"{new_od_mm} mm: carries_w", emitters_question.tail_limit_w(bore_mm=new_bore_mm, delta_t_k=delta_t_k)),
         ("tail_run_m", step.tail_run_m)],
        COMMON_PRACTICE,
        sentence=f"{its.name}, {step.description}: its tails of {old_od_mm} mm are too narrow for {carried_w:,.0f} W, "
        f"renewed in {new_od_mm} mm over {step.tail_run_m:g} m one way",
    )  # fmt: skip


def _step(
    path: str, step: EmitterStep, its: RoomEmitters, rated_w: float, exponent: float, limit_w: float, factor: float,
    water: Numbers, inputs: list[Entry],
) -> Entry:  # fmt: skip
    log_mean = emitters_question.by_log_mean(exponent)
    law = [("log_mean_excess_k", factor * RATED_EXCESS_K)] if log_mean else [("exponent", exponent)]
    numbers = [("output_50k_w", rated_w), *law, *water, ("output_factor_ratio", factor), ("output_w", step.output_w)]
    formula = "rated output at 50 K x (excess temperature / 50)^exponent"
    if log_mean:
        formula = (
            "output at 50 K, by pipe spacing, screed and covering x logarithmic mean of flow and return above the room "
            "/ 50"
        )
    if limit_w < rated_w * factor:
        numbers.append(("floor_limit_w", limit_w))
        formula += ", held to the highest permitted floor temperature"
    return _entry(
        path,
        formula,
        numbers,
        emitters_question.FLOOR_SOURCE if log_mean else EMITTERS,
        sentence=f"{its.name}, {step.description}: {rated_w:,.0f} W x {factor:.3f} = {step.output_w:,.0f} W",
        inputs=inputs,
    )


def _step_id(step: EmitterStep) -> str:
    return step.emitter_id or step.wall_space_id or step.description


def _emitter_inputs(emitter: Emitter) -> list[Entry]:
    fields_used = ["output_50k_w", "exponent"]
    if emitter.kind == "floor_heating" and emitter.output_50k_w == UNKNOWN:
        fields_used = ["pipe_spacing_mm", "screed_mm", "covering_m2k_per_w", "mixing_valve"]
    elif emitter.output_50k_w == UNKNOWN:
        fields_used += [field for field in ("type", "height_mm", "length_mm") if getattr(emitter, field)]
    return [_input(f"{emitter.id}: {field.rpartition('_')[0] or field}", emitter, field) for field in fields_used]


def _flow(estimate: Estimate) -> Iterator[Entry]:
    flow, schedule = estimate.design.flow, estimate.design.emitters
    numbers: list[tuple[str, Any]] = [("years", flow.years)]
    costs = []
    for candidate in flow.candidates:
        at = f"{candidate.flow_temp_c:g} °C"
        numbers += [(f"{at}: seasonal_ratio", candidate.seasonal_ratio),
                    (f"{at}: running_pence_per_year", candidate.running_pence_per_year)]  # fmt: skip
        costs += [_number(f"{at}: purchase_pence", candidate.purchase_pence),
                  _number(f"{at}: whole_cost_pence", candidate.whole_cost_pence)]  # fmt: skip
    asked = estimate.choices.flow_temp_c
    yield _entry(
        "design.flow_temp_c",
        "as asked for" if asked is not None else f"least of purchase + {YEARS} years of running among those tried",
        numbers,
        flow_temperature.SOURCE,
        sentence=_said(flow_temperature.WHY, flow),
        inputs=[] if asked is None else [_given("flow temperature asked for", "flow_temp_c", asked, "told")],
        cost_why={"formula": f"purchase + {YEARS} x running", "numbers": costs},
    )
    governing = next((room.name for room in schedule.rooms if room.room_id == schedule.governing_room_id), None)
    yield _entry(
        "design.return_temp_c",
        "flow temperature - design difference",
        _of(flow, "flow_temp_c", "delta_t_k"),
        COMMON_PRACTICE,
    )
    yield _entry(
        "design.governing_room_id",
        "the room whose emitters need the hottest water to cover its heat loss",
        [("flow_temp_c", schedule.flow_temp_c)],
        EMITTERS,
        sentence=f"{governing or 'no room'} needs the hottest water",
    )
    points = estimate.design.curve.points
    if points:
        yield _entry(
            "design.heating_curve",
            "mean water above the room goes with load^(1/exponent), the difference of flow and return with the load",
            [("exponent", estimate.design.curve.exponent), *_of(points[0], "outdoor_temp_c", "flow_temp_c")],
            heating_curve.SOURCE,
            sentence=_said(heating_curve.WHY, points[len(points) // 2]),
        )
