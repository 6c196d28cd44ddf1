"""An estimate as a plain document: dicts, lists, strings and numbers, the same for page, command and API.

Floats are left as they were computed, since sums are checked to the last digit; whoever shows them rounds. Keys that
hold cost are named in `COST_KEYS`, so that they can be left out for people who may not see them.
"""

from dataclasses import fields
from hashlib import sha256
from typing import Any

from pydantic_core import to_jsonable_python

from models import sensitivity as assumptions
from models.design.results import Condensate, Design, EmitterSchedule, HeatLoss, RoomEmitters, RoomLoss, Siting
from models.design.siting import rank_positions, rank_reason
from models.estimate import BASE_TEMP_C, CANDIDATE_FLOW_TEMPS_C, DESIGN_DELTA_T_K, Estimate
from models.findings import Finding, has_stop
from models.firm import firm_document
from models.options import FlowCurve, OptionsAnswer
from models.physics.diversity import allowance_words
from models.survey import Supply
from models.survey.known import assumed_values
from models.units import UNKNOWN
from models.why import why_document

DOCUMENT_VERSION = 1
COST_KEYS = frozenset({
    "cost_pence", "cost_unit_gbp", "cost_why", "margin_class", "margin_pence", "goods_cost_pence", "purchase_pence",
    "whole_cost_pence", "supplier", "supplier_code", "emitter_pence", "unit_pence",
})  # fmt: skip


def estimate_document(estimate: Estimate, *, why: bool = False, sensitivity: bool = False) -> dict[str, Any]:
    """The whole answer in the public field names.

    With `why`, every figure says why; with `sensitivity`, what the assumed values move: up to 40 estimates more.
    """
    document: dict[str, Any] = plain(estimate_values(estimate, why=why, sensitivity=sensitivity))
    return document


def estimate_values(estimate: Estimate, *, why: bool = False, sensitivity: bool = False) -> dict[str, Any]:
    """The same document with results, decimals and dates still in it, for whoever writes JSON text from it at once."""
    document: dict[str, Any] = {
        "document_version": DOCUMENT_VERSION,
        "label": estimate.survey.label,
        "firm": firm_document(estimate.rules.firm),
        "design": {**design_document(estimate.design), "position_ranking": _ranking(estimate)},
        "network_sheet": _network_sheet(estimate),
        "network_loads": _network_loads(estimate),
        "labour_plan": _without_findings(estimate.plan),
        "bill": _bill(estimate),
        "price": None if estimate.price is None else estimate.price.document(),
        "before_day_one": estimate.before_day_one,
        "findings": [finding_document(finding) for finding in estimate.findings],
        "basis": basis_document(estimate),
    }
    if why:
        document["why"] = why_document(estimate)
    if sensitivity:
        document["sensitivity"] = sensitivity_document(assumptions.sensitivity(estimate))
    return document


def sensitivity_document(found: assumptions.Sensitivity) -> dict[str, Any]:
    """What the values that nobody saw move, the strongest first."""
    return {
        "movers": [_mover(mover) for mover in found.movers],
        "could_stop": [_mover(mover) for mover in found.could_stop],
        "varied": found.varied,
        "variations": found.variations,
        "without_effect": list(found.without_effect),
        "not_varied": [{"field": field, "reason": reason} for field, reason in found.not_varied],
        "source": found.source,
    }


def _mover(mover: assumptions.Mover) -> dict[str, Any]:
    return {**mover._asdict(), "swings": [swing._asdict() for swing in mover.swings]}


def options_document(answer: OptionsAnswer, curve: FlowCurve | None = None) -> dict[str, Any]:
    """Whole estimates side by side, a line of the main figures of each, and the curve over flow temperatures."""
    document: dict[str, Any] = plain(
        {
            "options": [estimate_values(estimate) for estimate in answer.estimates],
            "summary": [_summary(estimate) for estimate in answer.estimates],
        }
    )
    if curve is not None:
        document["curve"] = curve_document(curve)
    return document


def curve_document(curve: FlowCurve) -> dict[str, Any]:
    """Cost against seasonal ratio, point by point, with the best marked and the steps of labour days said."""
    document: dict[str, Any] = plain(curve)
    document["points"] = [plain(point._asdict()) for point in curve.points]
    document["day_steps"] = [step._asdict() for step in curve.day_steps]
    return document


def _summary(estimate: Estimate) -> dict[str, Any]:
    """What sets one option apart from another at a glance."""
    design, price = estimate.design, estimate.price
    energy, unit, cylinder = design.performance, design.unit.unit, design.hot_water.cylinder
    return {
        "choices": estimate.choices.model_dump(mode="json", exclude_unset=True),
        "flow_temp_c": design.flow.flow_temp_c,
        "outdoor_unit_sku": unit.sku if unit else None,
        "outdoor_unit_count": design.unit.count,
        "cylinder_sku": cylinder.sku if cylinder else None,
        "position_id": design.position_id,
        "emitters_changed": sum(step.sku is not None for room in design.emitters.rooms for step in room.steps),
        "seasonal_ratio": energy.seasonal_ratio if energy else None,
        "electricity_kwh": energy.electricity_kwh if energy else None,
        "running_cost_pence": energy.running_cost_pence if energy else None,
        "days": estimate.plan.days if estimate.plan else None,
        "person_hours": estimate.plan.person_hours if estimate.plan else None,
        "net_pence": price.net_pence if price else None,
        "total_pence": price.total_pence if price else None,
        "customer_pays_pence": price.customer_pays_pence if price else None,
        "stops": sum(finding.strength == "stop" for finding in estimate.findings),
        "asks": sum(finding.strength == "ask" for finding in estimate.findings),
    }


def _network_sheet(estimate: Estimate) -> list[dict[str, Any]] | None:
    """What a network operator asks before a heat pump is connected: {what, value, unit, known}; null without a unit.

    A value that nobody saw is "unknown" and counts as assumed; a demand summed from the loads is known "from_loads".
    Meter point number, address and the maker's test of harmonics and flicker are on no survey: the sheet asks for them.
    """
    supply, circuit, unit = estimate.survey.supply, estimate.design.electrical, estimate.design.unit.unit
    if circuit is None or unit is None:
        return None

    def seen(what: str, field: str, unit_of: str = "") -> dict[str, Any]:
        value = getattr(supply, field)
        return _line(what, value, unit_of, "assumed" if value == UNKNOWN else supply.how_known(field))

    count, limit = estimate.design.unit.count, estimate.rules.place.network
    after_a = circuit.demand_after_a
    basis = "assumed" if circuit.demand_basis == UNKNOWN else circuit.demand_basis
    return [
        _line("meter point number", UNKNOWN, "", "assumed"),
        _line("address", UNKNOWN, "", "assumed"),
        seen("phases of the supply", "phases"),
        seen("rating of the cut-out", "cutout_a", "A"),
        seen("looped with a neighbour", "looped"),
        seen("earthing", "earthing"),
        _line("greatest demand of today, after diversity", _or_unknown(circuit.demand_before_a), "A", basis),
        _line("heat pump", unit.name, "", "plate"),
        _line("number of heat pumps", count, "", "told"),
        _line("phases of the heat pump", unit.phases, "", "plate"),
        _line("greatest current of each heat pump", unit.maximum_current_a, "A", "plate"),
        _line("greatest input of each heat pump", unit.maximum_current_a * limit.nominal_voltage_v / 1000
              * (3 if unit.phases == "three" else 1), "kVA", "plate"),
        _line("breaker of each heat pump", unit.breaker_a, "A", "plate"),
        _line("heat output at design conditions, all together", estimate.design.unit.capacity_w, "W", "plate"),
        _line("electrical input at design conditions, all together", estimate.design.unit.input_w, "W", "plate"),
        _line("current of the immersion heater", circuit.immersion_current_a, "A", "plate"),
        _line("diversity taken for the heat pumps", limit.unit_diversity_ratio, "1", "told"),
        _line("greatest demand with the heat pumps", _or_unknown(after_a), "A", basis),
        _line("the same on one phase", UNKNOWN if after_a is None else after_a * limit.nominal_voltage_v / 1000, "kVA",
              basis),
        *_chargers(supply),
        _line("solar panels, battery or other generation", UNKNOWN, "", "assumed"),
        _line("harmonics and flicker: the maker's declaration to EN 61000-3", UNKNOWN, "", "assumed"),
        _line("apply before, or notify after", circuit.network, "", "told"),
    ]  # fmt: skip


def _chargers(supply: Supply) -> list[dict[str, Any]]:
    """The charge points that are there already, as far as the loads are listed."""
    what = "charge points for vehicles"
    if not supply.loads:
        return [_line(what, UNKNOWN, "", "assumed")]
    there = [load for load in supply.loads if load.kind == "ev_charger"]
    limited = "yes" if all(load.limited for load in there) else "no"
    return [
        _line(what, sum(load.count for load in there), "", "measured"),
        *([_line("they limit themselves before the cut-out is overloaded", limited, "", "told")] if there else []),
    ]


def _network_loads(estimate: Estimate) -> list[dict[str, Any]]:
    """The loads by kind as they were summed, with the allowance in words; empty where none are listed or rated."""
    circuit, diversity = estimate.design.electrical, estimate.rules.place.diversity
    if circuit is None:
        return []
    names: dict[str, list[str]] = {}
    for load in estimate.survey.supply.loads:
        if load.name:
            names.setdefault(load.kind, []).append(load.name)
    return [
        {
            "what": one.kind,
            "names": names.get(one.kind, []),
            **{field: getattr(one, field) for field in _COUNTED},
            "allowance": allowance_words(diversity.household[one.kind]),
            "source": str(diversity.household[one.kind].source),
        }
        for one in circuit.loads
    ]


_COUNTED = ("count_before", "connected_before_a", "counted_before_a", "count_after", "connected_after_a",
            "counted_after_a")  # fmt: skip


def _or_unknown(value: float | None) -> float | str:
    return UNKNOWN if value is None else value


def _line(what: str, value: Any, unit: str, known: str) -> dict[str, Any]:
    return {"what": what, "value": value, "unit": unit, "known": known}


def _ranking(estimate: Estimate) -> list[dict[str, Any]]:
    """The surveyed positions, the best first, each with what ranks it there."""
    routes = {
        one.id: one.route_outside_m + one.route_buried_m + one.route_inside_m for one in estimate.survey.positions
    }
    sitings = {siting.position_id: siting for siting in estimate.design.sitings}
    ranking = []
    for rank, position_id in enumerate(rank_positions(sitings=estimate.design.sitings, routes=routes), 1):
        siting = sitings[position_id]
        said = (*siting.findings, *siting.ground_findings)
        stopped_by = [finding.message for finding in said if finding.strength == "stop"]
        to_accept = [finding.message for finding in said if finding.strength == "ask"]
        ranking.append(
            {
                "rank": rank,
                "position_id": position_id,
                "name": siting.name,
                "stops": len(stopped_by),
                "asks": len(to_accept),
                "route_m": routes[position_id],
                "reason": rank_reason(siting=siting, route_m=routes[position_id]),
                "stopped_by": stopped_by,
                "to_accept": to_accept,
            }
        )
    return ranking


def basis_document(estimate: Estimate) -> dict[str, Any]:
    """What the answer rests on: versions, dates, defaults, choices, a hash of the survey, what was only assumed."""
    survey, rules = estimate.survey, estimate.rules
    assumed = assumed_values(survey)
    return {
        "rules_version": rules.version,
        "price_list_version": rules.price_list.version,
        "price_list_valid_from": rules.price_list.valid_from.isoformat(),
        "price_list_firm": rules.price_list.firm,
        "survey_schema_version": survey.schema_version,
        "survey_sha256": sha256(survey.model_dump_json().encode()).hexdigest(),
        "choices": estimate.choices.model_dump(mode="json", exclude_none=True),
        "priced_on": estimate.priced_on.isoformat(),
        "works_start_on": estimate.works_start_on.isoformat(),
        "works_start_assumed": estimate.start_assumed,
        "works_end_on": estimate.works_end_on.isoformat(),
        "defaults": rules.reference.defaults,
        "candidate_flow_temps_c": list(CANDIDATE_FLOW_TEMPS_C),
        "base_temp_c": BASE_TEMP_C,
        "delta_t_k": DESIGN_DELTA_T_K,
        "assumed_count": len(assumed),
        "assumed": list(assumed),
    }


def without_cost(node: Any) -> Any:
    """The document without any key that holds cost or margin, at every depth; absent, not null.

    The last part of a path counts as a key: the reason of a cost goes with it.
    """
    if isinstance(node, dict):
        return {
            key: without_cost(value)
            for key, value in node.items()
            if key not in COST_KEYS and ("." not in key or key.rpartition(".")[2] not in COST_KEYS)
        }
    if isinstance(node, list):
        return [without_cost(value) for value in node]
    return node


def plain(value: Any) -> Any:
    """A result as plain values: dataclasses to dicts, tuples to lists, decimals to strings, dates to ISO."""
    return to_jsonable_python(value)


def finding_document(finding: Finding) -> dict[str, str]:
    """A finding in its public form."""
    return {
        "code": finding.code,
        "strength": finding.strength,
        "where": finding.where,
        "message": finding.message,
        "source": finding.source,
        "remedy": finding.remedy,
    }


_OF_THE_STORE = frozenset({"standing_loss_kwh_per_year", "hygiene_kwh_per_year"})
"""What only a store takes: without one nothing is said of it, rather than that it takes nothing."""


def design_document(design: Design) -> dict[str, Any]:
    """The answers of all questions. Objects that a *stop* leaves without an answer are null."""
    unit = design.unit
    store = design.hot_water
    return {
        "heat_loss_w": design.heat_loss.heat_loss_w,
        "heat_loss_w_per_m2": design.heat_loss.heat_loss_w_per_m2,
        "transmission_w": design.heat_loss.transmission_w,
        "ventilation_w": design.heat_loss.ventilation_w,
        "rooms_ventilation_w": design.heat_loss.rooms_ventilation_w,
        "heat_loss_method": design.heat_loss.method_name,
        "other_methods": design.heat_loss.other_methods,
        "neighbour_heated_w": design.heat_loss.neighbour_heated_w,
        "neighbour_at_10_w": design.heat_loss.neighbour_at_10_w,
        "zone_air": design.heat_loss.zone_air,
        "floor_area_m2": design.heat_loss.floor_area_m2,
        "loss_coefficient_w_per_k": design.heat_loss.loss_coefficient_w_per_k,
        "design_outdoor_temp_c": design.climate.design_outdoor_temp_c,
        "climate": _without_findings(design.climate),
        "u_values": [
            {
                "construction_id": u.construction_id,
                "u_w_per_m2k": u.u_w_per_m2k,
                "how": u.how,
                "source": str(u.source),
                "assumed": u.assumed,
            }
            for u in design.u_values.values()
        ],
        "flow_temp_c": design.flow.flow_temp_c,
        "return_temp_c": design.emitters.return_temp_c,
        "flow_choice": _without_findings(design.flow),
        "rooms": _rooms(design.heat_loss, design.emitters),
        "governing_room_id": design.emitters.governing_room_id,
        "outdoor_unit": None
        if unit.unit is None
        else {
            "sku": unit.unit.sku,
            "name": unit.unit.name,
            "count": unit.count,
            "capacity_w": unit.capacity_w,
            "input_w": unit.input_w,
            "cover_ratio": unit.cover_ratio,
            "minimum_output_w": unit.minimum_output_w,
            "hours_below_minimum_h": unit.hours_below_minimum_h,
            "sound_power_dba": unit.sound_power_dba,
            "refrigerant": unit.unit.refrigerant,
            "charge_kg": unit.unit.charge_kg,
            "width_mm": unit.unit.width_mm,
            "depth_mm": unit.unit.depth_mm,
            "height_mm": unit.unit.height_mm,
            "mass_kg": unit.unit.mass_kg,
        },
        "units_considered": unit.considered,
        "cylinder": None
        if store.cylinder is None
        else {
            "sku": store.cylinder.sku,
            "name": store.cylinder.name,
            "volume_l": store.volume_l,
            "diameter_mm": store.cylinder.diameter_mm,
            "height_mm": store.cylinder.height_mm,
            "mass_full_kg": store.cylinder.mass_full_kg,
        },
        "hot_water": {
            field.name: None
            if store.cylinder is None and field.name in _OF_THE_STORE
            else getattr(store, field.name)
            for field in fields(store)
            if field.name not in {"cylinder", "findings"}
        },
        "cylinder_space": _without_findings(design.cylinder_space),
        "discharge": _without_findings(design.discharge),
        "frost_protection": _without_findings(design.frost),
        "primary": _without_findings(design.primary),
        "system_volume": _without_findings(design.volume),
        "position_id": design.position_id,
        "positions": [_position(siting) for siting in design.sitings],
        "noise": [
            noise for siting in design.sitings if siting.position_id == design.position_id for noise in siting.noise
        ],
        "condensate": _condensate(design.condensate),
        "base": _without_findings(design.base),
        "electrical": _without_findings(design.electrical),
        "heating_curve": design.curve,
        "performance": _without_findings(design.performance),
    }


def _condensate(pit: Condensate | None) -> dict[str, Any] | None:
    """Where the meltwater goes; no size of a pit while a *stop* leaves that open."""
    document = _without_findings(pit)
    if document is not None and document["to"] == "undecided":
        return {name: value if name in ("to", "pipe_m") else None for name, value in document.items()}
    return document


def _position(siting: Siting) -> dict[str, Any]:
    judged = {name: getattr(siting, name) for name in siting.__dataclass_fields__ if not name.endswith("findings")}
    return judged | {"findings": [finding_document(f) for f in (*siting.findings, *siting.ground_findings)]}


def _without_findings(result: Any) -> dict[str, Any] | None:
    if result is None:
        return None
    return {name: getattr(result, name) for name in result.__dataclass_fields__ if name != "findings"}


def _rooms(loss: HeatLoss, schedule: EmitterSchedule) -> list[dict[str, Any]]:
    emitters = {room.room_id: room for room in schedule.rooms}
    return [_room(room, emitters[room.room_id]) for room in loss.rooms]


def _room(room: RoomLoss, emitters: RoomEmitters) -> dict[str, Any]:
    return {
        "room_id": room.room_id,
        "name": room.name,
        "use": room.use,
        "storey": room.storey,
        "room_temp_c": room.room_temp_c,
        "floor_area_m2": room.floor_area_m2,
        "air_changes_per_h": room.air_changes_per_h,
        "heat_loss_w": room.heat_loss_w,
        "transmission_w": room.transmission_w,
        "ventilation_w": room.ventilation_w,
        "reheat_w": room.reheat_w,
        "to_rooms_w": room.to_rooms_w,
        "elements": [element._asdict() for element in room.elements],
        "emitter_output_before_w": emitters.output_before_w,
        "emitter_output_w": emitters.output_w,
        "emitter_short_w": emitters.short_w,
        "emitter_action": emitters.action,
        "emitter_steps": emitters.steps,
        "emitter_why": emitters.why,
    }


def _bill(estimate: Estimate) -> dict[str, Any] | None:
    """The bill; its sums are null while a *stop* stands, since a partial sum looks like a price."""
    document = _without_findings(estimate.bill)
    if document is not None:
        document["lines"] = [line.document() for line in document["lines"]]
        document["partial"] = has_stop(estimate.findings)
        if document["partial"]:
            document["cost_pence"] = document["sell_pence"] = None
    return document
