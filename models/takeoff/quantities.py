"""Measures a design: named quantities, each with a unit and a sentence, and the flags that rows may ask for."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal
from typing import NamedTuple

from models.design.results import Design
from models.frozen import quickly_made
from models.sources import Source
from models.survey.site import Position
from models.survey.survey import Survey
from models.units import exact, per_cent

SOURCE = Source("the firm's way of measuring", "", "firm's rule")
BONDING_M = 15
"""Main bonding conductor where it is missing: a run from the meter to the far service, common practice, no source."""
TRENCH_WIDTH_M = 0.3
BED_DEPTH_M = 0.15
"""Width of the trench for buried pipe and depth of its sand bed, common practice, no source."""
FIRST_SUPPORT_M = 0.5
SUPPORT_EVERY_M = 1.2
"""Supports of outdoor pipe: the first at most so far from the flexible hoses, then at most so far apart."""
LIFTING_AID_ABOVE_KG = 120
LONG_CARRY_ABOVE_M = 30
HARD_WATER_ABOVE_MG_PER_L = 200
STORE_SCALDS_ABOVE_C = 50
"""A store hotter than this needs a blending valve. From memory; a bath needs one whatever the store (AD G3, 48 C)."""


@quickly_made
@dataclass(frozen=True, slots=True)
class Quantity:
    """One measured quantity at six decimal places, with the sentence that says how it came about."""

    name: str
    value: Decimal
    unit: str
    sentence: str


class ScheduleLine(NamedTuple):
    """One item that the design chose piece by piece, and the room or place where it goes."""

    sku: str
    quantity: Decimal
    where: str
    output_w: float
    needed_w: float
    flow_temp_c: float

    @property
    def sentence(self) -> str:
        """Why it goes there, told when it is asked for."""
        return (
            f"{self.where}: {self.output_w:.0f} W at {self.flow_temp_c:g} °C flow; the room needs {self.needed_w:.0f} W"
        )


@quickly_made
@dataclass(frozen=True, slots=True)
class TakeOff:
    """Everything that rows may ask of a design.

    `chosen` names the SKU that the design chose for a role (outdoor_unit, cylinder, cable, heating_vessel,
    drinking_vessel, volumiser); `schedules` the lists of pieces (emitters).
    """

    quantities: Mapping[str, Quantity]
    flags: Mapping[str, bool]
    chosen: Mapping[str, str]
    schedules: Mapping[str, tuple[ScheduleLine, ...]]


QUANTITY_UNITS: Mapping[str, str] = {
    "one": "job",
    "units": "each",
    "ground_units": "each",
    "wall_units": "each",
    "cylinders": "each",
    "rooms_total": "room",
    "rooms_disturbed": "room",
    "storeys": "each",
    "emitters_total": "each",
    "emitters_added": "each",
    "emitters_swapped": "each",
    "emitters_removed_only": "each",
    "emitters_fan_assisted": "each",
    "emitters_valve_only": "each",
    "valve_pairs_thermostatic": "each",
    "valve_pairs_plain": "each",
    "emitter_run_m": "m",
    "tails_renewed": "each",
    "tail_15_run_m": "m",
    "tail_22_run_m": "m",
    "floor_lift_rooms": "room",
    "base_area_m2": "m2",
    "base_volume_m3": "m3",
    "base_perimeter_m": "m",
    "sub_base_m3": "m3",
    "dig_m3": "m3",
    "soakaway_dig_m3": "m3",
    "soakaway_wrap_m2": "m2",
    "soakaway_standing_pipe_m": "m",
    "gravel_20mm_m3": "m3",
    "gravel_10mm_m3": "m3",
    "spoil_m3": "m3",
    "condensate_pipe_m": "m",
    "route_outside_m": "m",
    "route_buried_m": "m",
    "route_inside_m": "m",
    "route_surface_m": "m",
    "changes_outside": "each",
    "changes_inside": "each",
    "changes_surface": "each",
    "penetrations": "each",
    "primary_od_mm": "mm",
    "primary_tube_m": "m",
    "outdoor_pipe_supports": "each",
    "system_volume_l": "L",
    "glycol_l": "L",
    "antifreeze_valves": "each",
    "volumisers": "each",
    "unit_mass_kg": "kg",
    "discharge_od_mm": "mm",
    "discharge_run_m": "m",
    "discharge_bends": "each",
    "main_upgrade_m": "m",
    "hardness_mg_per_l": "mg/L",
    "cable_route_m": "m",
    "unit_cable_m": "m",
    "breaker_a": "A",
    "bonding_m": "m",
    "loft_tanks": "each",
    "loft_tanks_m3": "m3",
    "asbestos_samples": "each",
    "plan_days": "day",
    "heating_off_nights": "night",
}
"""Every quantity that a row may name; the last two come from the plan and are for the bill only."""

TAIL_RUNS: Mapping[int, str] = {15: "tail_15_run_m", 22: "tail_22_run_m"}
"""The quantity that measures renewed tails, by their outside diameter in mm."""

FLAGS: frozenset[str] = frozenset(
    {
        "ground_mount", "wall_mount", "rapid_slab", "standard_slab", "slab_base", "preformed_base",
        "condensate_soakaway", "condensate_gully", "trace_heated", "buried_route", "glycol", "antifreeze_valves",
        "separation", "two_units", "timber_floor", "inlet_group_included", "old_cylinder", "cylinder_moves",
        "combi", "oil", "oil_tank_goes", "scrap_credit", "loft_tanks", "extension_board", "bonding_needed",
        "new_stopcock", "main_upgrade", "heavy_unit", "hard_dig", "stone_wall", "long_carry", "hard_water",
        "network_apply", "planning_needed", "certificate_missing", "asbestos_suspected", "metering", "accumulator",
        "cylinder_fitted", "emitters_changed", "floor_lifted", "cold_weather",
        "boiler_goes", "fuel_line", "blended_hot_water", "softened_water",
    }
)  # fmt: skip
"""Every flag that a row may name."""

EXTRAS: Mapping[str, str] = {
    "metering": "heat meter and electricity sub-meter",
    "accumulator": "cold water accumulator",
    "oil_tank_goes": "old oil tank pumped out and taken away",
}
"""What a customer may add to the works, by the name that `extras` uses."""
CHOSEN_ROLES: frozenset[str] = frozenset(
    {"outdoor_unit", "cylinder", "cable", "heating_vessel", "drinking_vessel", "volumiser"}
)
SCHEDULES: frozenset[str] = frozenset({"emitters"})
PLAN_QUANTITIES: frozenset[str] = frozenset({"plan_days", "heating_off_nights"})

_ONE = Decimal(1)
_Put = Callable[[str, float, str], None]


class UnknownExtra(ValueError):
    """An extra that the take-off does not know: names it and those that there are."""


def take_off(*, survey: Survey, design: Design, extras: frozenset[str], cold: bool) -> TakeOff:
    """Measures a designed house. Parts of the design that a stop left out measure nothing.

    The firm's way of measuring. `extras` are names of EXTRAS, `cold` says that the works fall into cold weather.
    Every name of QUANTITY_UNITS but those of the plan is in the answer. Raises UnknownExtra.
    """
    unknown = extras - EXTRAS.keys()
    if unknown:
        raise UnknownExtra(f"no such extra: {', '.join(sorted(unknown))}; there are {', '.join(EXTRAS)}")
    found: dict[str, Quantity] = {}

    def put(name: str, value: float, sentence: str) -> None:
        number = Decimal(value) if isinstance(value, int) else exact(value)
        found[name] = Quantity(name, number, QUANTITY_UNITS[name], sentence)

    position = next((p for p in survey.positions if p.id == design.position_id), None)
    put("one", 1, "one job")
    _measure_unit(put, design, position)
    _measure_routes(put, design, position)
    changed, lifted, schedule = _measure_emitters(put, survey, design)
    _measure_house(put, survey, design, changed, position)
    _measure_ground(put, design, position)
    _measure_water(put, survey, design)
    _measure_electrical(put, survey, design)
    return TakeOff(
        quantities=found,
        flags=_flags(survey, design, position, extras, cold, changed, lifted),
        chosen=_chosen(design),
        schedules={"emitters": schedule},
    )


def _s(count: int) -> str:
    """The ending of a noun after its number."""
    return "" if count == 1 else "s"


def _measure_unit(put: _Put, design: Design, position: Position | None) -> None:
    unit = design.unit.unit
    count = design.unit.count if unit else 0
    on_ground = count if position and position.mount == "ground" else 0
    on_wall = count if position and position.mount == "wall" else 0
    where = f"at {position.name}" if position else "with no position chosen"
    mass_kg = unit.mass_kg if unit else 0
    put("units", count, f"{count} outdoor unit{_s(count)}")
    put("ground_units", on_ground, f"{on_ground} standing on the ground {where}")
    put("wall_units", on_wall, f"{on_wall} hanging on the wall {where}")
    put("unit_mass_kg", mass_kg, f"each unit weighs {mass_kg:g} kg")


def _measure_routes(put: _Put, design: Design, position: Position | None) -> None:
    outside_m = position.route_outside_m if position else 0
    buried_m = position.route_buried_m if position else 0
    inside_m = position.route_inside_m if position else 0
    turns_outside = position.changes_outside if position else 0
    turns_inside = position.changes_inside if position else 0
    penetrations = position.penetrations if position else 0
    surface_m = outside_m + inside_m
    put("route_outside_m", outside_m, f"{outside_m:g} m one way outdoors")
    put("route_buried_m", buried_m, f"{buried_m:g} m one way underground")
    put("route_inside_m", inside_m, f"{inside_m:g} m one way indoors")
    put("route_surface_m", surface_m, f"{outside_m:g} m outdoors + {inside_m:g} m indoors = {surface_m:g} m one way")
    put("changes_outside", turns_outside, f"{turns_outside} change{_s(turns_outside)} of direction outdoors")
    put("changes_inside", turns_inside, f"{turns_inside} change{_s(turns_inside)} of direction indoors")
    turns = turns_outside + turns_inside
    put("changes_surface", turns, f"{turns_outside} outdoors + {turns_inside} indoors = {turns} changes of direction")
    put("penetrations", penetrations, f"{penetrations} hole{_s(penetrations)} through walls")
    od_mm = design.primary.od_mm if design.primary else None
    if od_mm is None:
        put("primary_od_mm", 0, "no tube size was found for the primary")
        put("primary_tube_m", 0, "no tube size was found for the primary")
    else:
        put("primary_od_mm", od_mm, f"the primary is {od_mm} mm tube")
        put("primary_tube_m", 2 * surface_m, f"flow and return, 2 × {surface_m:g} m = {2 * surface_m:g} m of tube")
    _measure_supports(put, design, outside_m)


def _measure_supports(put: _Put, design: Design, outside_m: float) -> None:
    units = design.unit.count if design.unit.unit else 0
    if not units or not outside_m:
        put("outdoor_pipe_supports", 0, "no pipe hangs outdoors on hoses")
        return
    beyond_m = max(outside_m - FIRST_SUPPORT_M, 0)
    more = int((exact(beyond_m) / exact(SUPPORT_EVERY_M)).to_integral_value(ROUND_FLOOR))
    put(
        "outdoor_pipe_supports",
        units + more,
        f"{units} within {FIRST_SUPPORT_M:g} m of the hoses + {more} on the other {beyond_m:.2f} m, at most "
        f"{SUPPORT_EVERY_M:g} m apart; each carries flow and return",
    )


def _measure_emitters(
    put: _Put, survey: Survey, design: Design
) -> tuple[frozenset[str], frozenset[str], tuple[ScheduleLine, ...]]:
    """Counts what happens to emitters; gives rooms with a change, rooms whose floor is lifted, and the pieces."""
    sensor_rooms = {room.id for room in survey.rooms if room.has_sensor}
    floors = {room.id for room in survey.rooms if room.floor_must_be_lifted}
    kept = added = fans = swapped = removed = valves = thermostatic = plain = 0
    run_m = 0.0
    tails = dict.fromkeys(TAIL_RUNS, 0.0)
    renewed = 0
    changed: set[str] = set()
    lifted: set[str] = set()
    pieces: list[ScheduleLine] = []
    for room in design.emitters.rooms:
        pairs = 0
        for step in room.steps:
            if step.new_tail_od_mm is not None:
                renewed += 1
                tails[step.new_tail_od_mm] += step.tail_run_m
                changed.add(room.room_id)
                if room.room_id in floors:
                    lifted.add(room.room_id)
            if step.action == "keep":
                kept += 1
                valves += step.new_valves
                pairs += step.new_valves
                continue
            changed.add(room.room_id)
            if step.action == "remove":
                removed += 1
                continue
            pairs += 1
            if room.room_id in floors:
                lifted.add(room.room_id)
            if step.action == "add":
                added += 1
                run_m += step.run_m
            else:
                swapped += 1
            fans += step.needs_mains
            if step.sku is not None:
                pieces.append(
                    ScheduleLine(step.sku, _ONE, room.name, step.output_w, room.needed_w, design.emitters.flow_temp_c)
                )
        if room.room_id in sensor_rooms:
            plain += pairs
        else:
            thermostatic += pairs
    total = kept + swapped + added
    put("emitters_total", total, f"{kept} kept + {swapped} swapped + {added} added = {total} emitters in the end")
    put("emitters_added", added, f"{added} emitter{_s(added)} where there was none")
    put("emitters_swapped", swapped, f"{swapped} emitter{_s(swapped)} exchanged in place")
    put("emitters_removed_only", removed, f"{removed} emitter{_s(removed)} taken away and not replaced")
    put("emitters_fan_assisted", fans, f"{fans} new emitter{_s(fans)} with a fan, which wants a mains supply")
    put(
        "emitters_valve_only",
        valves,
        f"{valves} kept emitter{_s(valves)} with valves that are seized, manual or missing",
    )
    put(
        "valve_pairs_thermostatic",
        thermostatic,
        f"{thermostatic} emitter{_s(thermostatic)} with new valves outside the sensor room",
    )
    put(
        "valve_pairs_plain",
        plain,
        f"{plain} emitter{_s(plain)} with new valves in the room of the sensor, left without heads",
    )
    put("emitter_run_m", run_m, f"{run_m:g} m one way from the pipes to the added emitters")
    put("tails_renewed", renewed, f"{renewed} emitter{_s(renewed)} whose tails are too narrow for what they carry")
    for od_mm, name in TAIL_RUNS.items():
        put(name, tails[od_mm], f"{tails[od_mm]:g} m one way of tails renewed in {od_mm} mm")
    put(
        "floor_lift_rooms",
        len(lifted),
        f"{len(lifted)} room{_s(len(lifted))} where the floor comes up for a changed emitter",
    )
    return frozenset(changed), frozenset(lifted), tuple(pieces)


def _measure_house(
    put: _Put, survey: Survey, design: Design, changed: frozenset[str], position: Position | None
) -> None:
    rooms = len(survey.rooms)
    put("rooms_total", rooms, f"{rooms} room{_s(rooms)}")
    place = survey.cylinder_place if design.hot_water.cylinder else None
    at_cylinder = 1 if place and place.room not in changed else 0
    at_entry = 1 if position else 0
    disturbed = len(changed) + at_cylinder + at_entry
    put(
        "rooms_disturbed",
        disturbed,
        f"{len(changed)} with a changed emitter + {at_cylinder} more for the cylinder + {at_entry} where the pipes "
        f"come in = {disturbed}",
    )
    storeys = survey.house.storeys
    put("storeys", storeys, f"{storeys} storey{_s(storeys)}, each with a high point of the pipes")
    tanks = [tank for tank in survey.existing.loft_tanks if tank.remove]
    put("loft_tanks", len(tanks), f"{len(tanks)} tank{_s(len(tanks))} out of the loft")
    content_l = sum(tank.volume_l for tank in tanks)
    put("loft_tanks_m3", content_l / 1000, f"the tanks out of the loft hold {content_l:g} L")
    samples = sum(hazard.samples for hazard in survey.hazards if hazard.kind == "asbestos")
    put(
        "asbestos_samples",
        samples,
        f"{samples} sample{_s(samples)} of suspect material; nobody disturbs it before the result",
    )


def _measure_ground(put: _Put, design: Design, position: Position | None) -> None:
    base = design.base
    area_m2 = base.area_m2 if base else 0
    dig_m3 = base.dig_m3 if base else 0
    if base and base.area_m2:
        size = f"{base.length_m:g} × {base.width_m:g} m"
        put("base_area_m2", area_m2, f"base {size} = {area_m2:g} m2")
        put("base_volume_m3", base.volume_m3, f"{area_m2:g} m2 × {base.thickness_m:g} m = {base.volume_m3:g} m3")
        put("base_perimeter_m", base.perimeter_m, f"round a base of {size}: {base.perimeter_m:g} m")
        sub_base_m3 = area_m2 * base.sub_base_m
        put("sub_base_m3", sub_base_m3, f"{area_m2:g} m2 × {base.sub_base_m:g} m = {sub_base_m3:.3f} m3")
        put("dig_m3", dig_m3, f"{dig_m3:g} m3 dug for the base; scan for buried services first")
    else:
        for name in ("base_area_m2", "base_volume_m3", "base_perimeter_m", "sub_base_m3", "dig_m3"):
            put(name, 0, "no base is cast or laid")
    condensate = design.condensate
    pit = condensate if condensate and condensate.to == "soakaway" else None
    pit_m3 = pit.volume_m3 if pit else 0
    if pit:
        put("soakaway_dig_m3", pit_m3, f"pit {pit.width_m:g} m wide, {pit.depth_m:g} m deep: {pit_m3:g} m3")
        put("soakaway_wrap_m2", pit.wrap_m2, f"{pit.wrap_m2:g} m2 of geotextile round the pit")
        put("soakaway_standing_pipe_m", pit.standing_pipe_m, f"{pit.standing_pipe_m:g} m of 110 mm pipe in the pit")
        put("gravel_20mm_m3", pit.gravel_20mm_m3, f"{pit.gravel_20mm_m3:g} m3 of 20 mm gravel in the pit")
        put("gravel_10mm_m3", pit.gravel_10mm_m3, f"{pit.gravel_10mm_m3:g} m3 of 10 mm gravel in the pit")
    else:
        for name in (
            "soakaway_dig_m3", "soakaway_wrap_m2", "soakaway_standing_pipe_m", "gravel_20mm_m3", "gravel_10mm_m3",
        ):  # fmt: skip
            put(name, 0, "no soakaway")
    buried_m = position.route_buried_m if position else 0
    bed_m3 = buried_m * TRENCH_WIDTH_M * BED_DEPTH_M
    spoil_m3 = dig_m3 + pit_m3 + bed_m3
    put(
        "spoil_m3",
        spoil_m3,
        f"base {dig_m3:g} m3 + pit {pit_m3:g} m3 + pipe bed {bed_m3:.3f} m3 = {spoil_m3:.3f} m3, as it lies",
    )
    units = design.unit.count if design.unit.unit else 0
    pipe_m = condensate.pipe_m if condensate else 0
    put("condensate_pipe_m", units * pipe_m, f"{units} × {pipe_m:g} m from the tray to where the meltwater goes")


def _measure_water(put: _Put, survey: Survey, design: Design) -> None:
    volume = design.volume
    total_l = volume.total_l if volume else 0
    put("system_volume_l", total_l, f"{total_l:.1f} L in pipes, emitters, unit and coil")
    frost = design.frost
    glycol_ratio = frost.glycol_ratio if frost and frost.method == "glycol" else 0
    valves = frost.valves if frost and frost.method == "valves" else 0
    put("glycol_l", total_l * glycol_ratio, f"{per_cent(glycol_ratio)} of {total_l:.1f} L")
    put("antifreeze_valves", valves, f"{valves} antifreeze valve{_s(valves)} at the lowest outdoor points")
    volumisers = volume.volumiser_count if volume and volume.volumiser else 0
    put("volumisers", volumisers, f"{volumisers} to bring the always-open water to the unit's minimum")
    cylinders = 1 if design.hot_water.cylinder else 0
    put("cylinders", cylinders, f"{cylinders} hot-water cylinder{_s(cylinders)}")
    discharge = design.discharge
    if discharge and discharge.d2_od_mm is not None:
        put("discharge_od_mm", discharge.d2_od_mm, f"discharge pipe of {discharge.d2_od_mm} mm")
        put("discharge_run_m", discharge.run_m, f"{discharge.run_m:g} m from the tundish to where it ends")
        put("discharge_bends", discharge.bends, f"{discharge.bends} bend{_s(discharge.bends)} in the discharge pipe")
    else:
        for name in ("discharge_od_mm", "discharge_run_m", "discharge_bends"):
            put(name, 0, "no discharge pipe was sized")
    upgrade_m = survey.hot_water.main_upgrade_m
    put("main_upgrade_m", upgrade_m, f"{upgrade_m:g} m of cold main to renew")
    hardness = survey.hot_water.hardness_mg_per_l
    if hardness == "unknown":
        put("hardness_mg_per_l", 0, "hardness of the fill water was not measured")
    else:
        put("hardness_mg_per_l", hardness, f"fill water of {hardness:g} mg/L")


def _measure_electrical(put: _Put, survey: Survey, design: Design) -> None:
    route_m = survey.supply.cable_route_m
    units = design.unit.count if design.unit.unit else 0
    put("cable_route_m", route_m, f"{route_m:g} m from the consumer unit to the outdoor unit")
    put("unit_cable_m", units * route_m, f"{units} circuit{_s(units)} × {route_m:g} m = {units * route_m:g} m")
    electrical = design.electrical
    breaker_a = electrical.breaker_a if electrical else 0
    put("breaker_a", breaker_a, f"a breaker of {breaker_a} A for each unit")
    bonding_m = BONDING_M if electrical and electrical.bonding_needed else 0
    put("bonding_m", bonding_m, f"{bonding_m} m of main bonding to make good")


def _flags(
    survey: Survey,
    design: Design,
    position: Position | None,
    extras: frozenset[str],
    cold: bool,
    changed: frozenset[str],
    lifted: frozenset[str],
) -> dict[str, bool]:
    base = design.base.type if design.base else None
    condensate = design.condensate
    frost = design.frost.method if design.frost else None
    unit, cylinder, electrical = design.unit.unit, design.hot_water.cylinder, design.electrical
    existing, hot_water, place = survey.existing, survey.hot_water, survey.cylinder_place
    hardness = hot_water.hardness_mg_per_l
    siting = next((s for s in design.sitings if s.position_id == design.position_id), None)
    oil = existing.fuel == "oil"
    return {
        "ground_mount": position is not None and position.mount == "ground",
        "wall_mount": position is not None and position.mount == "wall",
        "rapid_slab": base == "rapid_slab",
        "standard_slab": base == "standard_slab",
        "slab_base": base in ("rapid_slab", "standard_slab"),
        "preformed_base": base == "preformed",
        "condensate_soakaway": condensate is not None and condensate.to == "soakaway",
        "condensate_gully": condensate is not None and condensate.to == "gully",
        "trace_heated": condensate is not None and condensate.trace_heated,
        "buried_route": position is not None and position.route_buried_m > 0,
        "glycol": frost == "glycol",
        "antifreeze_valves": frost == "valves",
        "separation": design.primary is not None and design.primary.separation_needed,
        "two_units": unit is not None and design.unit.count >= 2,
        "timber_floor": place is not None and place.floor == "timber",
        "inlet_group_included": cylinder is not None and cylinder.inlet_group_included,
        "old_cylinder": existing.cylinder is not None,
        "cylinder_moves": existing.cylinder is not None and not existing.cylinder.same_place,
        "combi": existing.boiler == "combi",
        "oil": oil,
        "oil_tank_goes": oil and (existing.oil_tank_goes or "oil_tank_goes" in extras),
        "scrap_credit": existing.cylinder is not None and existing.cylinder.scrap_to_firm,
        "loft_tanks": any(tank.remove for tank in existing.loft_tanks),
        "extension_board": electrical is not None and electrical.extension_board,
        "bonding_needed": electrical is not None and electrical.bonding_needed,
        "new_stopcock": hot_water.stopcock_sound == "no",
        "main_upgrade": hot_water.main_upgrade_m > 0,
        "heavy_unit": unit is not None and unit.mass_kg > LIFTING_AID_ABOVE_KG,
        "hard_dig": position is not None and position.ground in ("clay", "rubble_or_rock"),
        "stone_wall": position is not None and position.stone_wall,
        "long_carry": position is not None and position.carry_m > LONG_CARRY_ABOVE_M,
        "hard_water": hardness != "unknown" and hardness > HARD_WATER_ABOVE_MG_PER_L,
        "softened_water": hot_water.softened == "yes",
        "network_apply": electrical is not None and electrical.network == "apply",
        "planning_needed": siting is not None and siting.planning == "application_needed",
        "certificate_missing": survey.house.energy_certificate_valid == "no",
        "asbestos_suspected": any(hazard.kind == "asbestos" for hazard in survey.hazards),
        "metering": "metering" in extras,
        "accumulator": "accumulator" in extras,
        "cylinder_fitted": cylinder is not None,
        "emitters_changed": bool(changed),
        "floor_lifted": bool(lifted),
        "cold_weather": cold,
        "boiler_goes": existing.boiler != "none",
        "fuel_line": existing.fuel in ("mains_gas", "oil", "lpg", "hybrid"),
        "blended_hot_water": cylinder is not None
        and (hot_water.baths > 0 or design.hot_water.store_temp_c > STORE_SCALDS_ABOVE_C),
    }


def _chosen(design: Design) -> dict[str, str]:
    volume, electrical = design.volume, design.electrical
    chosen = {
        "outdoor_unit": design.unit.unit,
        "cylinder": design.hot_water.cylinder,
        "cable": electrical.cable if electrical else None,
        "heating_vessel": volume.vessel if volume else None,
        "drinking_vessel": volume.drinking_vessel if volume else None,
        "volumiser": volume.volumiser if volume else None,
    }
    return {role: item.sku for role, item in chosen.items() if item is not None}
