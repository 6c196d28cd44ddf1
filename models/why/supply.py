"""Why cable, breaker and demand are what they are, and whether the network operator must agree."""

from collections.abc import Iterable, Iterator

from models.design import electrical
from models.design.results import Electrical
from models.estimate import Estimate, immersion_w
from models.physics.diversity import allowance_words
from models.sources import COMMON_PRACTICE, Source
from models.survey import Load, Supply
from models.survey.part import Known
from models.why.entry import (
    MAKER,
    Entry,
    entry as _entry,
    given as _given,
    of as _of,
    said as _said,
    surveyed as _input,
)


def entries(estimate: Estimate) -> Iterator[Entry]:
    """The reasons, in the order of the document."""
    yield from _supply(estimate)


def _supply(estimate: Estimate) -> Iterator[Entry]:
    circuit, supply = estimate.design.electrical, estimate.survey.supply
    unit, rule = estimate.design.unit.unit, estimate.rules.place.network
    if circuit is None or unit is None:
        return
    at, source = "design.electrical", electrical.SOURCE
    yield _entry(
        f"{at}.unit_current_a",
        "greatest current of a unit x units x diversity",
        [("maximum_current_a", unit.maximum_current_a), ("count", estimate.design.unit.count),
         ("unit_diversity_ratio", rule.unit_diversity_ratio)],
        rule.diversity_source,
        inputs=[_given(f"greatest current of {unit.name}", "maximum_current_a", unit.maximum_current_a, "plate")],
    )  # fmt: skip
    yield _entry(
        f"{at}.immersion_current_a",
        "power of the immersion heater / voltage x diversity",
        [("immersion_w", immersion_w(estimate.design.hot_water, estimate.rules)),
         ("nominal_voltage_v", rule.nominal_voltage_v),
         ("immersion_diversity_ratio", rule.immersion_diversity_ratio)],
        rule.diversity_source,
    )  # fmt: skip
    yield from _house_demand(estimate, circuit, supply)
    today = [_input("demand of today", supply, "demand_before_a")]
    if circuit.demand_basis == "from_loads":
        stays = [(f"loads.{one.kind}.counted_after_a", one.counted_after_a) for one in circuit.loads]
        today = [_given("demand of today", "demand_before_a", circuit.demand_before_a, _least_known(supply.loads))]
    else:
        stays = _of(circuit, "demand_before_a")
    yield _entry(
        f"{at}.demand_after_a",
        "what stays of the demand of today + outdoor units + immersion heater",
        [*stays, *_of(circuit, "unit_current_a", "immersion_current_a", "demand_after_a")],
        source,
        sentence=_said(electrical.WHY, circuit),
        inputs=[*today, _input("cut-out", supply, "cutout_a")],
    )
    yield _entry(
        f"{at}.breaker_a",
        "as the maker says, not below the greatest current",
        [("maximum_current_a", unit.maximum_current_a), ("breaker_a", circuit.breaker_a)],
        MAKER,
        inputs=[_given(f"breaker of {unit.name}", "breaker_a", unit.breaker_a, "plate")],
    )
    if circuit.cable is not None:
        run = [_input("route of the cable", supply, "cable_route_m"), _input("how it is run", supply, "cable_method")]
        tried = electrical.cables_tried(
            cables=estimate.rules.catalogue.cables, unit=unit, method=supply.cable_method,
            length_m=supply.cable_route_m, network=rule,
        )  # fmt: skip
        yield _entry(
            f"{at}.cable.size_mm2",
            "the smallest that carries the breaker by the way it is run and keeps the voltage drop within the limit",
            [*_of(circuit, "breaker_a"),
             *(number for one in tried for number in (
                 (f"{one.cable.size_mm2:g} mm2: capacity_a", one.capacity_a),
                 (f"{one.cable.size_mm2:g} mm2: voltage_drop_ratio", one.voltage_drop_ratio))),
             ("voltage_drop_limit_ratio", rule.voltage_drop_limit_ratio), ("size_mm2", circuit.cable.size_mm2)],
            source,
            inputs=run,
        )  # fmt: skip
        yield _entry(
            f"{at}.voltage_drop_ratio",
            "drop of the cable in mV/(A m) x greatest current x route / 1000 / voltage",
            [("drop_mv_per_a_m", circuit.cable.drop_mv_per_a_m), ("maximum_current_a", unit.maximum_current_a),
             ("cable_route_m", supply.cable_route_m), ("nominal_voltage_v", rule.nominal_voltage_v),
             ("voltage_drop_limit_ratio", rule.voltage_drop_limit_ratio),
             ("voltage_drop_ratio", circuit.voltage_drop_ratio)],
            rule.voltage_source,
            inputs=run,
        )  # fmt: skip
    yield _entry(
        f"{at}.network",
        "apply above the limit or the cut-out, with a looped supply or an unknown cut-out; else notify",
        [*_of(circuit, "demand_after_a", "cutout_a"), ("apply_above_a", rule.apply_above_a)],
        rule.source,
        inputs=[*today, _input("cut-out", supply, "cutout_a"), _input("looped supply", supply, "looped"),
                _input("phases", supply, "phases")],
    )  # fmt: skip
    yield _entry(
        f"{at}.extension_board",
        "where the spare ways are fewer than one for each unit and one for the immersion heater",
        [("ways_for_units", estimate.design.unit.count * electrical.WAYS_PER_UNIT),
         ("ways_for_immersion", electrical.WAYS_FOR_IMMERSION if circuit.immersion_current_a > 0 else 0)],
        COMMON_PRACTICE,
        inputs=[_input("spare ways", supply, "spare_ways")],
    )  # fmt: skip
    yield _entry(
        f"{at}.bonding_needed",
        "unless water and gas were seen to be bonded soundly",
        [],
        source,
        inputs=[_input("sound bonding", supply, "bonding_sound"), _input("earthing", supply, "earthing")],
    )


def _house_demand(estimate: Estimate, circuit: Electrical, supply: Supply) -> Iterator[Entry]:
    """The demand of today: as surveyed, or summed by kind of load, each of which opens further."""
    at, diversity = "design.electrical", estimate.rules.place.diversity
    voltage_v = estimate.rules.place.network.nominal_voltage_v
    for one in circuit.loads:
        allowance = diversity.household[one.kind]
        mine = [load for load in supply.loads if load.kind == one.kind]
        yields = "; what limits itself only as far as the cut-out goes" if any(load.limited for load in mine) else ""
        inputs = [
            _input(
                f"{load.count} x {load.name or electrical.KINDS[load.kind]}"
                + (", goes" if load.goes else "") + (", limits itself" if load.limited else ""),
                load,
                "breaker_a" if load.rated_kw is None else "rated_kw",
            )
            for load in mine
        ]  # fmt: skip
        for moment in ("before", "after"):
            yield _entry(
                f"{at}.loads.{one.kind}.counted_{moment}_a",
                f"of what they draw with all on: {allowance_words(allowance)}{yields}",
                [*_of(one, f"count_{moment}", f"connected_{moment}_a", f"counted_{moment}_a"),
                 ("nominal_voltage_v", voltage_v)],
                allowance.source,
                inputs=inputs,
            )  # fmt: skip
    if circuit.demand_basis == "from_loads":
        yield _entry(
            f"{at}.demand_before_a",
            "sum over the kinds of load of what counts after diversity",
            [*((f"loads.{one.kind}.counted_before_a", one.counted_before_a) for one in circuit.loads),
             *_of(circuit, "demand_before_a")],
            diversity.source,
        )  # fmt: skip
    else:
        yield _entry(
            f"{at}.demand_before_a",
            "as surveyed; it stands before a sum of the loads",
            _of(circuit, "demand_before_a"),
            Source("the survey", standing="firm's rule"),
            inputs=[_input("demand of today", supply, "demand_before_a")],
        )


def _least_known(loads: Iterable[Load]) -> Known:
    """How the least known of the loads is known."""
    known = {load.how_known("breaker_a" if load.rated_kw is None else "rated_kw") for load in loads}
    order: tuple[Known, ...] = ("assumed", "told", "plate", "measured")
    return next((how for how in order if how in known), "assumed")
