"""Why the lesser figures of a design are what they are: rows of its tables, what a maker's record or a table says.

Paths as in `models.why`. A row of a table has one reason for all of its figures.
"""

from collections.abc import Iterator

from models.design import (
    base,
    climate,
    condensate,
    cylinder_space,
    discharge,
    flow_temperature,
    frost_protection,
    heat_loss,
    hot_water,
    noise,
    outdoor_unit,
    performance,
    primary_pipework,
    siting,
    system_volume,
    ventilation,
)
from models.design.results import EmitterStep, Performance, SystemVolume
from models.estimate import BASE_TEMP_C, DESIGN_DELTA_T_K, YEARS, Estimate
from models.physics.fluids import GLYCOL_SOURCE, freezing_temp_c, mass_ratio_of_volume
from models.sources import COMMON_PRACTICE, Source
from models.why.entry import MAKER, SURVEY, Entry, entry, given, number, of, said, surveyed

UNIT_RECORD = {
    "charge_kg": "refrigerant in the unit", "width_mm": "width", "depth_mm": "depth", "height_mm": "height",
    "mass_kg": "mass",
}  # fmt: skip
CYLINDER_RECORD = {
    "diameter_mm": "diameter with its insulation", "height_mm": "height", "mass_full_kg": "mass when it is full",
}  # fmt: skip
CABLE_RECORD = ("clipped_a", "buried_a", "in_insulation_a", "drop_mv_per_a_m")
MONTHS = Source("SAP Appendix U", "Table U1")


def entries(estimate: Estimate) -> Iterator[Entry]:
    """The reasons of what `models.why` does not open by itself."""
    yield from _outdoors(estimate)
    yield from _house(estimate)
    yield from _steps(estimate)
    yield from _candidates(estimate)
    yield from _records(estimate)
    yield from _store(estimate)
    yield from _circuit(estimate)
    yield from _ground(estimate)
    yield from _positions(estimate)
    if estimate.design.performance is not None:
        yield from _year(estimate, estimate.design.performance)


def _outdoors(estimate: Estimate) -> Iterator[Entry]:
    outdoors, house = estimate.design.climate, estimate.survey.house
    at, station = "design.climate", surveyed("weather station", house, "weather_station")
    for figure in ("station_design_temp_c", "station_altitude_m"):
        yield entry(
            f"{at}.{figure}", "read off the table of weather stations", of(outdoors, figure), outdoors.source,
            sentence=f"{outdoors.station}, {outdoors.station_altitude_m:g} m: {outdoors.station_design_temp_c:g} °C",
            inputs=[station],
        )  # fmt: skip
    rule = estimate.rules.reference.altitude_rules[outdoors.altitude_rule]
    yield entry(
        f"{at}.altitude_correction_k",
        "kelvins for 100 m x height above the station / 100"
        + (f", complete steps of {rule.step_m:g} m upwards only" if rule.step_m else ""),
        [("k_per_100m", rule.k_per_100m), ("altitude_m", house.altitude_m), *of(outdoors, "station_altitude_m"),
         *of(outdoors, "altitude_correction_k")],
        rule.source,
        inputs=[surveyed("altitude of the house", house, "altitude_m"), station],
    )  # fmt: skip
    yield entry(
        f"{at}.design_outdoor_temp_c", "design temperature of the station + what the altitude of the house adds",
        of(outdoors, "station_design_temp_c", "altitude_correction_k", "design_outdoor_temp_c"), outdoors.source,
        sentence=said(climate.WHY, outdoors), inputs=[station],
    )  # fmt: skip
    yield entry(
        f"{at}.monthly_mean_temp_c", "read off the table of monthly means of the climate region",
        [(f"month_{month}_temp_c", mean_c) for month, mean_c in enumerate(outdoors.monthly_mean_temp_c, 1)], MONTHS,
        sentence=f"{outdoors.region_name}: the twelve months",
        inputs=[surveyed("climate region", house, "climate_region")],
    )  # fmt: skip


def _house(estimate: Estimate) -> Iterator[Entry]:
    loss = estimate.design.heat_loss
    yield entry(
        "design.neighbour_heated_w",
        "heat loss with nothing through party walls: next door is as warm as the room",
        [*of(loss, "heat_loss_w", "neighbour_heated_w")],
        heat_loss.SOURCE,
    )
    for other in loss.other_methods:
        at, words = f"design.other_methods.{other.method}", heat_loss.METHODS[other.method]
        yield entry(f"{at}.transmission_w", f"fabric and ground of all rooms by: {words}",
                    of(other, "transmission_w"), heat_loss.SOURCE)  # fmt: skip
        yield entry(f"{at}.ventilation_w", f"outdoor air of the house by: {words}", of(other, "ventilation_w"),
                    heat_loss.SOURCE)  # fmt: skip
        yield entry(
            f"{at}.sum_of_rooms_w",
            "what the rooms lose outwards, each by itself: the wind is not on every side of the house at once",
            of(other, "sum_of_rooms_w", "heat_loss_w"),
            heat_loss.SOURCE,
            sentence=f"rooms added up by: {words}",
        )
    zone = loss.zone_air
    if zone is not None:
        for figure, formula in (
            ("envelope_m2", "sum of what faces outside, with its openings"),
            ("permeability_m3_per_h_m2", "of the pressure test, else of the class of air tightness"),
            ("vents_50pa_m3_per_h", "flow of the vents at 4 Pa x (50 / 4)^0.67"),
            ("unbalanced_m3_per_h", "sum of what fans take out - sum of what they bring in"),
            ("volume_flow_factor_ratio", "by the sides of the house that the wind reaches"),
            ("extract_factor_ratio", "1 / (1 + side factor / volume flow factor x (unbalanced / flow at 50 Pa)^2)"),
            ("additional_infiltration_m3_per_h",
             "(permeability x envelope + vents at 50 Pa) x volume flow factor x what fans leave of it"),
        ):  # fmt: skip
            yield entry(
                f"design.zone_air.{figure}", formula, of(zone, figure), ventilation.STANDARD,
                sentence=said(ventilation.WHY_ZONE, zone),
                inputs=[given("how leaky the envelope is", "m3_per_h_m2", zone.how,
                              "assumed" if zone.assumed else "measured")],
            )  # fmt: skip


def _steps(estimate: Estimate) -> Iterator[Entry]:
    """What is done at each emitter and wall space, besides its output."""
    rooms = {room.id: room for room in estimate.survey.rooms}
    for room in estimate.design.emitters.rooms:
        spaces = {space.id: space for space in rooms[room.room_id].wall_spaces}
        for step in room.steps:
            space = spaces.get(step.wall_space_id or "")
            yield entry(
                f"design.rooms.{room.room_id}.emitter_steps.{step.emitter_id or step.wall_space_id}",
                "water by the maker's record or by kind and size; the pipe run as surveyed, one way; new valves where "
                "something is hung or the old ones are worn or unknown",
                of(step, "output_w", "water_l", "run_m", "new_valves"),
                MAKER if step.sku else COMMON_PRACTICE,
                sentence=f"{room.name}: {_step_words(step)}",
                inputs=[surveyed("pipe run of the wall space", space, "run_m")]
                if space is not None and step.action == "add"
                else [],
            )


def _step_words(step: EmitterStep) -> str:
    verb = {"keep": "stays", "swap": "is hung in the place of another", "add": "is added", "remove": "is taken out"}
    return f"{step.description} {verb[step.action]}"


def _candidates(estimate: Estimate) -> Iterator[Entry]:
    flow, at = estimate.design.flow, "design.flow_choice"
    source = flow_temperature.SOURCE
    yield entry(f"{at}.flow_temp_c", flow.rule, of(flow, "flow_temp_c"), source)
    yield entry(f"{at}.delta_t_k", "flow less return at design conditions",
                [("delta_t_k", DESIGN_DELTA_T_K)], COMMON_PRACTICE)  # fmt: skip
    yield entry(
        f"{at}.years",
        "years of running that are weighed against purchase",
        [("years", YEARS)],
        Source("the firm's rule for flow temperatures", standing="firm's rule"),
    )
    for one in flow.candidates:
        yield entry(
            f"{at}.candidates.{one.flow_temp_c:g}",
            "each flow temperature straight through: the cheapest emitters that are enough there, the unit, a year of "
            "running before what outdoor pipes lose",
            [("candidate_flow_temp_c", one.flow_temp_c),
             *of(one, "emitters_changed", "emitter_fit_hours", "unit_count", "rooms_short", "seasonal_ratio",
                 "electricity_kwh_per_year", "running_pence_per_year")],
            source,
            sentence=f"{one.flow_temp_c:g} °C: {one.reason}",
            cost_why={
                "formula": f"emitters and unit at cost + {YEARS} x running",
                "numbers": [number(name, value) for name, value in of(one, "purchase_pence", "whole_cost_pence")],
            },
        )  # fmt: skip
    for row in estimate.design.unit.considered:
        yield entry(
            f"design.units_considered.{row.sku}",
            "output at design conditions by the rating points, and what share of the heat loss it is",
            [*of(row, "count", "capacity_w", "cover_ratio"),
             ("heat_loss_w", estimate.design.heat_loss.heat_loss_w)],
            outdoor_unit.RATINGS,
            sentence=f"{row.name}: {row.reason}",
        )  # fmt: skip


def _records(estimate: Estimate) -> Iterator[Entry]:
    """What makers' records say of the things that were chosen."""
    design = estimate.design
    if design.unit.unit is not None:
        for field, words in UNIT_RECORD.items():
            yield _recorded(f"design.outdoor_unit.{field}", f"{words} of {design.unit.unit.name}",
                            field, getattr(design.unit.unit, field))  # fmt: skip
    cylinder = design.hot_water.cylinder
    if cylinder is not None:
        for field, words in CYLINDER_RECORD.items():
            yield _recorded(f"design.cylinder.{field}", f"{words} of {cylinder.name}", field, getattr(cylinder, field))
    if design.electrical is not None and design.electrical.cable is not None:
        for field in CABLE_RECORD:
            cable = design.electrical.cable
            yield _recorded(f"design.electrical.cable.{field}", f"cable of {cable.size_mm2:g} mm²", field,
                            getattr(cable, field))  # fmt: skip


def _recorded(path: str, what: str, field: str, value: float) -> Entry:
    return entry(path, "as the maker's record has it", [(field, value)], MAKER, sentence=what,
                 inputs=[given(what, field, value, "plate")])  # fmt: skip


def _store(estimate: Estimate) -> Iterator[Entry]:
    store, fit, pipe = estimate.design.hot_water, estimate.design.cylinder_space, estimate.design.discharge
    yield entry(
        "design.hot_water.store_temp_c",
        "hot enough for taps, cool enough for a heat pump; a weekly cycle goes hotter against legionella",
        [*of(store, "store_temp_c"), ("hygiene_temp_c", hot_water.HYGIENE_TEMP_C)],
        COMMON_PRACTICE,
    )
    place = estimate.survey.cylinder_place
    if store.cylinder is not None:
        yield entry("design.hot_water.volume_l", "that of the cylinder taken", of(store, "store_needed_l", "volume_l"),
                    hot_water.SOURCE)  # fmt: skip
    if fit is not None and place is not None:
        yield entry(
            "design.cylinder_space.checks",
            "each measure needed against the one there",
            [pair for what, needed, there, _ in fit.checks
             for pair in ((f"{what}: needed", needed), (f"{what}: there", there))],
            cylinder_space.SOURCE,
            sentence=said(cylinder_space.WHY, fit),
            inputs=[surveyed("width of the place", place, "width_mm"), surveyed("its depth", place, "depth_mm"),
                    surveyed("its height", place, "height_mm"), surveyed("width of the door", place, "door_width_mm")],
        )  # fmt: skip
    if pipe is not None and place is not None:
        at, run = "design.discharge", [surveyed("run of the discharge", place, "discharge_run_m"),
                                       surveyed("its bends", place, "discharge_bends")]  # fmt: skip
        yield entry(f"{at}.d1_min_od_mm", "by the outlet of the relief valve", of(pipe, "d1_min_od_mm"),
                    discharge.SOURCE, sentence=f"relief valve of {pipe.outlet}")  # fmt: skip
        yield entry(f"{at}.run_m", "as surveyed", of(pipe, "run_m"), SURVEY, inputs=run[:1])
        yield entry(f"{at}.bends", "as surveyed", of(pipe, "bends"), SURVEY, inputs=run[1:])
        for path in (f"{at}.tried", f"{at}.resistance_m", f"{at}.limit_m"):
            yield entry(
                path,
                "run + bends x metres for each bend of the size, against the most that the table allows the size",
                [*of(pipe, "run_m", "bends"),
                 *[pair for od_mm, resistance_m, limit_m, _ in pipe.tried
                   for pair in ((f"{od_mm} mm: resistance_m", resistance_m), (f"{od_mm} mm: limit_m", limit_m))]],
                discharge.SOURCE,
                inputs=run,
            )  # fmt: skip


def _circuit(estimate: Estimate) -> Iterator[Entry]:
    design, house = estimate.design, estimate.survey.house
    frost, pipes, volume = design.frost, design.primary, design.volume
    if frost is not None:
        asked = [surveyed("power cuts", house, "power_cuts"), surveyed("often empty", house, "often_empty")]
        wanted_c = design.climate.design_outdoor_temp_c - frost_protection.BELOW_DESIGN_K
        numbers = [("design_outdoor_temp_c", design.climate.design_outdoor_temp_c),
                   ("below_design_k", frost_protection.BELOW_DESIGN_K), ("first_ice_wanted_c", wanted_c),
                   *of(frost, "glycol_ratio")]  # fmt: skip
        if frost.glycol_ratio > 0:
            mass_ratio = mass_ratio_of_volume(volume_ratio=frost.glycol_ratio)
            numbers += [("glycol_mass_ratio", mass_ratio),
                        ("first_ice_c", freezing_temp_c(mass_ratio=mass_ratio))]  # fmt: skip
        yield entry(
            "design.frost_protection.glycol_ratio",
            "the weakest mixture by volume whose first ice forms 5 K below the design outdoor temperature"
            if frost.glycol_ratio > 0
            else "none: antifreeze valves keep the water from freezing",
            numbers,
            GLYCOL_SOURCE if frost.glycol_ratio > 0 else frost_protection.SOURCE,
            sentence=said(frost_protection.WHY, frost),
            inputs=asked,
        )
        yield entry(
            "design.frost_protection.valves",
            "one on the flow and one on the return of each unit"
            if frost.valves
            else "none: a valve that opens would drain the glycol",
            [("count", design.unit.count), *of(frost, "valves")],
            frost_protection.SOURCE,
            sentence=said(frost_protection.WHY, frost),
            inputs=asked,
        )
    if pipes is not None:
        at, source = "design.primary", primary_pipework.SOURCE
        if pipes.od_mm is not None:
            yield entry(f"{at}.wall_mm", "wall of the tube by its size", of(pipes, "od_mm", "wall_mm"),
                        Source("BS EN 1057:2006+A1:2010", "tubes of half-hard copper"))  # fmt: skip
        yield entry(
            f"{at}.water_l",
            "length of tube x its bore's area + buried route out and back x the area of its bore",
            [*of(pipes, "length_m", "od_mm", "wall_mm"), ("buried_bore_mm", primary_pipework.BURIED_BORE_MM),
             *of(pipes, "water_l")],
            source,
        )  # fmt: skip
        yield entry(
            f"{at}.separation_needed",
            "where the unit's pump has not enough left for the index circuit, or units share it",
            of(pipes, "pump_available_pa", "fixed_loss_pa", "separation_needed"),
            COMMON_PRACTICE,
            sentence=f"index circuit: {pipes.index_circuit}",
        )
        for tried in pipes.tried:
            yield entry(
                f"{at}.tried.{tried.od_mm}",
                "velocity, loss of a metre and loss in all at the design flow, against 1 m/s, 300 Pa/m and what the "
                "pump has left",
                [*of(tried, "velocity_m_per_s", "gradient_pa_per_m", "pressure_drop_pa"),
                 *of(pipes, "flow_l_per_s", "pump_available_pa")],
                source,
                sentence=f"{tried.od_mm} mm: {tried.reason}",
            )  # fmt: skip
    if volume is not None:
        yield from _water(estimate, volume)


def _water(estimate: Estimate, volume: SystemVolume) -> Iterator[Entry]:
    """What the vessel is reckoned from."""
    design, pipework, at = estimate.design, estimate.survey.existing.pipework, "design.system_volume"
    source, unit, cylinder = system_volume.SOURCE, design.unit.unit, design.hot_water.cylinder
    hung = sum(step.action != "remove" for room in design.emitters.rooms for step in room.steps)
    yield entry(
        f"{at}.pipes_l",
        "primary + longest run out and back in the size of the mains + 3 m of branch out and back for each emitter "
        "+ new branches, each length x the area of its bore",
        [("primary_l", design.primary.water_l if design.primary else 0.0), ("emitters", hung),
         ("branch_m", system_volume.BRANCH_M), *of(volume, "pipes_l")],
        COMMON_PRACTICE,
        inputs=[surveyed("size of the mains", pipework, "main_mm"),
                surveyed("size of the branches", pipework, "branch_mm"),
                surveyed("longest run", pipework, "longest_run_m"), surveyed("material", pipework, "material")],
    )  # fmt: skip
    yield entry(
        f"{at}.emitters_l",
        "sum of the emitters that hang afterwards, by makers' records or by kind and size",
        [(f"{room.room_id}.{step.emitter_id or step.wall_space_id}.water_l", step.water_l)
         for room in design.emitters.rooms for step in room.steps if step.action != "remove"],
        MAKER,
    )  # fmt: skip
    yield entry(
        f"{at}.unit_and_coil_l",
        "units x water in each + water in the coil of the cylinder",
        [("count", design.unit.count), ("unit_water_l", unit.water_l if unit else 0.0),
         ("coil_volume_l", cylinder.coil_volume_l if cylinder else 0.0), *of(volume, "unit_and_coil_l")],
        MAKER,
    )  # fmt: skip
    hottest_c = max((rating.flow_temp_c for rating in unit.ratings), default=0.0) if unit else 0.0
    yield entry(
        f"{at}.expansion_ratio",
        "density when it is filled / density at the hottest flow that the maker rates - 1, of water or of the mixture",
        [("fill_temp_c", system_volume.FILL_TEMP_C), ("hottest_flow_c", hottest_c),
         ("glycol_ratio", design.frost.glycol_ratio if design.frost else 0.0), *of(volume, "expansion_ratio")],
        source,
    )  # fmt: skip
    for figure, vessel in (("vessel", volume.vessel), ("drinking_vessel", volume.drinking_vessel)):
        if vessel is not None:
            needed = of(volume, "vessel_needed_l") if figure == "vessel" else [("store_l", design.hot_water.volume_l)]
            yield entry(
                f"{at}.{figure}.volume_l",
                "the next larger vessel of the catalogue"
                if figure == "vessel"
                else "by the size of the store: up to 200 L one of 18 L, else one of 24 L",
                [*needed, ("vessel_l", vessel.volume_l)],
                source if figure == "vessel" else COMMON_PRACTICE,
                sentence=f"{vessel.sku}, {vessel.volume_l:g} L",
            )
    lacking_l = volume.minimum_l - volume.open_l
    if volume.volumiser is not None:
        lacking_l += volume.volumiser_count * volume.volumiser.volume_l
        yield _recorded(f"{at}.volumiser.volume_l", volume.volumiser.sku, "volume_l", volume.volumiser.volume_l)
    yield entry(
        f"{at}.volumiser_count",
        "what is open without any, against what the maker asks for; the cheapest that close the gap",
        [("lacking_l", max(0.0, lacking_l)), *of(volume, "minimum_l", "volumiser_count")],
        MAKER,
    )


def _ground(estimate: Estimate) -> Iterator[Entry]:
    footing, pit = estimate.design.base, estimate.design.condensate
    position = next((one for one in estimate.survey.positions if one.id == estimate.design.position_id), None)
    if footing is not None:
        for figure, formula in (
            ("length_m", "along the units, with the overhang on both sides"),
            ("width_m", "depth of the unit with the overhang on both sides"),
            ("thickness_m", "by the ground; nothing on a wall"),
            ("area_m2", "length x width"), ("perimeter_m", "2 x (length + width)"),
            ("sub_base_m", "by the ground, out of the firm's table"), ("dig_m3", "area x what lies below the ground"),
        ):  # fmt: skip
            yield entry(f"design.base.{figure}", formula, of(footing, "length_m", "width_m", figure), base.SOURCE,
                        sentence=said(base.WHY, footing))  # fmt: skip
    if pit is not None and position is not None:
        where = [surveyed("where the meltwater goes", position, "condensate_to")]
        for figure, formula in (
            ("pipe_m", "from the unit to where the water goes, as surveyed"),
            ("standing_pipe_m", "as long as the pit is deep"), ("wrap_m2", "around the pit and over it"),
            ("trace_heated", "where the pipe lies in the frost"), ("width_m", "only of a soakaway"),
            ("depth_m", "only of a soakaway"), ("gravel_20mm_m3", "only of a soakaway"),
            ("gravel_10mm_m3", "only of a soakaway"),
        ):  # fmt: skip
            if pit.to == "undecided" and figure != "pipe_m":
                continue
            yield entry(
                f"design.condensate.{figure}", formula, of(pit, figure), condensate.SOURCE,
                sentence=said(condensate.WHY, pit),
                inputs=[surveyed("run of the pipe", position, "condensate_run_m")] if figure == "pipe_m" else where,
            )  # fmt: skip


def _positions(estimate: Estimate) -> Iterator[Entry]:
    design = estimate.design
    for heard in (one for judged in design.sitings if judged.position_id == design.position_id for one in judged.noise):
        yield entry(
            f"design.noise.{heard.where}.units_dba",
            "sound power of all units + 10 lg(directivity / (4 pi distance^2)) + barrier, or by the steps of the "
            "nation's method; without the background",
            of(heard, "sound_power_dba", "directivity", "distance_m", "barrier_db", "units_dba"),
            noise.SOURCE,
            sentence=said(noise.WHY, heard),
        )
    if estimate.design.sitings:
        yield entry(
            "design.position_ranking",
            "fewest findings that stop, then fewest to be accepted, then the shortest route",
            [],
            Source("the firm's ranking of positions", standing="firm's rule"),
        )
    for judged in estimate.design.sitings:
        at = f"design.positions.{judged.position_id}"
        yield entry(f"{at}.clearances", "what the maker asks for against what is there, in millimetres",
                    [(f"{side}: {which}_mm", value) for side, needed, there, _ in judged.clearances
                     for which, value in (("needed", needed), ("there", there))],
                    siting.SOURCE)  # fmt: skip
        for heard in judged.noise:
            numbers = of(heard, "sound_power_dba", "directivity", "distance_m", "barrier_db", "level_dba", "limit_dba",
                         "pass_distance_m", "passes")  # fmt: skip
            yield entry(
                f"{at}.noise.{heard.where}",
                "sound power of all units, spread over the distance, less the barrier, against the limit",
                numbers, noise.SOURCE, sentence=said(noise.WHY, heard),
            )  # fmt: skip


def _year(estimate: Estimate, energy: Performance) -> Iterator[Entry]:
    existing, tariffs, at = estimate.survey.existing, estimate.survey.tariffs, "design.performance"
    source = performance.SOURCE
    yield entry(
        f"{at}.hours_below_minimum_h",
        "hours of the year in which the house takes less than the least output of one unit",
        of(energy, "hours_below_minimum_h"),
        source,
    )
    yield entry(
        f"{at}.heat_below_minimum_ratio",
        "heat given in those hours / heat of the year",
        of(energy, "heat_below_minimum_ratio", "space_heat_kwh"),
        source,
    )
    yield entry(
        f"{at}.backup_kwh",
        "what the load is above the units' output in the coldest hours, as direct electric heat",
        of(energy, "backup_kwh"),
        source,
    )
    lost_w = estimate.design.primary.heat_lost_outside_w if estimate.design.primary else None
    yield entry(
        f"{at}.pipe_loss_kwh",
        "loss of the outdoor pipes at design conditions, going with water less outdoor temperature, while it runs",
        [("heat_lost_outside_w", lost_w), *of(energy, "pipe_loss_kwh"), ("base_temp_c", BASE_TEMP_C)],
        Source("EN ISO 12241", standing="from memory"),
    )
    used = [surveyed("fuel of a year", existing, "fuel_used"), surveyed("fuel", existing, "fuel")]
    if energy.fuel_now_kwh is not None:
        per_unit = performance.FUEL_KWH.get((existing.fuel, existing.fuel_unit), 1.0)
        yield entry(
            f"{at}.fuel_now_kwh",
            "fuel of a year x gross energy of its unit",
            [("fuel_used", existing.fuel_used), ("kwh_of_a_unit", per_unit), *of(energy, "fuel_now_kwh")],
            performance.FUELS,
            inputs=used,
        )
    if energy.fuel_now_cost_pence is not None:
        yield entry(
            f"{at}.fuel_now_cost_pence",
            "energy of the fuel x its price",
            of(energy, "fuel_now_kwh", "fuel_now_cost_pence"),
            Source("the survey", "tariffs", "firm's rule"),
            inputs=[*used, surveyed("price of fuel", tariffs, "fuel_pence_per_kwh")],
        )
