"""Why this unit and this store of hot water."""

from collections.abc import Iterator
from typing import Any

from models.catalogue import Cylinder
from models.design import cylinder_space, discharge, hot_water, outdoor_unit, performance
from models.design.results import CylinderChoice
from models.estimate import Estimate
from models.physics.rating import cell, rating_grid
from models.physics.seasonal import defrost_factor
from models.sources import COMMON_PRACTICE, Source
from models.survey import CylinderPlace
from models.units import DAYS_A_YEAR
from models.why.entry import Entry, entry as _entry, given as _given, of as _of, said as _said, surveyed as _input


def entries(estimate: Estimate) -> Iterator[Entry]:
    """The reasons, in the order of the document."""
    yield from _unit(estimate)
    yield from _hot_water(estimate)


def _unit(estimate: Estimate) -> Iterator[Entry]:
    choice, design = estimate.design.unit, estimate.design
    unit = choice.unit
    if unit is None:
        return
    outdoor_c, flow_c = design.climate.design_outdoor_temp_c, design.flow.flow_temp_c
    grid = rating_grid(unit)
    i, a = cell(grid.outdoor_temps_c, outdoor_c)
    j, b = cell(grid.flow_temps_c, flow_c)
    left = defrost_factor(outdoor_temp_c=outdoor_c, defrost_included=unit.defrost_included)
    corners = ((i, j, (1 - a) * (1 - b)), (i, j + 1, (1 - a) * b), (i + 1, j, a * (1 - b)), (i + 1, j + 1, a * b))
    plate = [_given(f"rating points of {unit.name}", "ratings", "maker's record", "plate")]
    for path, column, name, value in (
        ("capacity_w", 0, "output_w", choice.capacity_w),
        ("input_w", 1, "input_w", choice.input_w),
        ("minimum_output_w", 2, "minimum_output_w", choice.minimum_output_w),
        ("sound_power_dba", 3, "sound_power_dba", choice.sound_power_dba),
    ):
        numbers: list[tuple[str, Any]] = []
        for down, across, weight in corners:
            at = f"{grid.outdoor_temps_c[down]:g}/{grid.flow_temps_c[across]:g} °C"
            numbers += [(f"{at}: {name}", grid.states[down][across][column]), (f"{at}: weight_ratio", weight)]
        numbers += [("outdoor_temp_c", outdoor_c), ("flow_temp_c", flow_c)]
        formula = "sum of the four rating points around, each x its weight"
        if path == "capacity_w":
            numbers += [("count", choice.count), ("left_after_defrost_ratio", left)]
            formula += ", x units x what defrosting leaves"
        elif path == "input_w":
            numbers.append(("count", choice.count))
            formula += ", x units"
        elif path == "minimum_output_w":
            numbers.append(("left_after_defrost_ratio", left))
            formula += ", x what defrosting leaves; of one unit"
        else:
            formula += "; of one unit"
        yield _entry(
            f"design.outdoor_unit.{path}",
            formula,
            [*numbers, (path, value)],
            outdoor_unit.RATINGS,
            sentence=_said(outdoor_unit.WHY, choice) if path == "capacity_w" else "",
            inputs=plate,
        )
    yield _entry(
        "design.outdoor_unit.cover_ratio",
        "capacity of all units / heat loss of the house",
        [("capacity_w", choice.capacity_w), ("heat_loss_w", design.heat_loss.heat_loss_w)],
        outdoor_unit.SOURCE,
    )
    taken = next((row for row in choice.considered if row.taken), None)
    yield _entry(
        "design.outdoor_unit.sku",
        "the next size above the heat loss; of one size the cheapest",
        [(f"{row.sku}: capacity_w", row.capacity_w) for row in choice.considered],
        outdoor_unit.SOURCE,
        sentence=f"{unit.name}: {taken.reason}" if taken else unit.name,
        inputs=[] if estimate.choices.outdoor_unit_sku is None
        else [_given("unit asked for", "sku", estimate.choices.outdoor_unit_sku, "told")],
    )  # fmt: skip
    yield _entry(
        "design.outdoor_unit.count",
        "one; two like units where one is not enough and the maker allows it",
        [("count", choice.count)],
        outdoor_unit.SOURCE,
    )
    yield _entry(
        "design.outdoor_unit.hours_below_minimum_h",
        "hours of the year in which the house takes less than the least output of one unit",
        [("hours_below_minimum_h", choice.hours_below_minimum_h), ("minimum_output_w", choice.minimum_output_w)],
        performance.SOURCE,
    )


def _hot_water(estimate: Estimate) -> Iterator[Entry]:
    store, survey = estimate.design.hot_water, estimate.survey
    house, water = survey.house, survey.hot_water
    living = [_input("people who live there", house, "occupants"), _input("bedrooms", house, "bedrooms")]
    use = [_input("use of hot water", water, "use"), _input("baths", water, "baths"),
           _input("showers with a pump", water, "power_showers")]  # fmt: skip
    ratio = hot_water.use_ratio(hot_water=water, bedrooms=house.bedrooms)
    source, at = hot_water.SOURCE, "design.hot_water"
    yield _entry(
        f"{at}.people",
        "those who live there, or bedrooms + 1, whichever is more; the rule counts up to "
        f"{hot_water.RULE_PEOPLE_AT_MOST}",
        [("occupants", house.occupants), ("bedrooms", house.bedrooms)],
        source,
        inputs=living,
    )
    yield _entry(
        f"{at}.draw_l_per_day",
        "people x litres a person a day at 60 °C x how much more or less than usual",
        [("people", store.people), ("per_person_l_per_day", hot_water.LITRES_PER_PERSON_DAY), ("use_ratio", ratio)],
        source,
        inputs=[*living, *use],
    )
    yield _entry(
        f"{at}.store_needed_l",
        "draw of a day x (60 °C - cold) / (store - cold) x share of the busiest spell / usable share of the store",
        [("draw_l_per_day", store.draw_l_per_day), ("draw_temp_c", hot_water.DRAW_TEMP_C),
         ("store_temp_c", store.store_temp_c), ("cold_temp_c", hot_water.COLD_TEMP_C),
         ("peak_share_ratio", hot_water.PEAK_SHARE_RATIO), ("usable_ratio", hot_water.USABLE_RATIO)],
        COMMON_PRACTICE,
        sentence=_said(hot_water.WHY, store),
    )  # fmt: skip
    yield _entry(
        f"{at}.hot_water_kwh_per_year",
        "SAP's heat in the water drawn, month by month, for the people who live there",
        [("hot_water_kwh_per_year", store.hot_water_kwh_per_year), ("use_ratio", ratio)],
        hot_water.ENERGY_SOURCE,
        inputs=[*living, *use],
    )
    if store.cylinder is not None:
        yield from _cylinder(estimate, store, store.cylinder)
        if survey.cylinder_place is not None:
            yield from _space(estimate, survey.cylinder_place)
            yield from _discharge(estimate, survey.cylinder_place)


def _cylinder(estimate: Estimate, store: CylinderChoice, cylinder: Cylinder) -> Iterator[Entry]:
    at, asked = "design.hot_water", estimate.choices.cylinder_sku
    for path in ("design.cylinder.sku", "design.cylinder.volume_l"):
        yield _entry(
            path,
            "the smallest cylinder that is large enough and goes into its place" if asked is None else "as asked for",
            [("store_needed_l", store.store_needed_l), ("volume_l", cylinder.volume_l)],
            hot_water.SOURCE,
            sentence=f"{cylinder.name}: {store.volume_l:g} L for {store.store_needed_l:.0f} L needed; "
            + "; ".join(store.considered),
            inputs=[] if asked is None else [_given("cylinder asked for", "sku", asked, "told")],
        )
    yield _entry(
        f"{at}.mixed_40c_l",
        "volume x (store - cold) / (40 °C - cold)",
        [("volume_l", cylinder.volume_l), ("store_temp_c", store.store_temp_c),
         ("cold_temp_c", hot_water.COLD_TEMP_C), ("mixed_temp_c", hot_water.MIXED_TEMP_C)],
        Source("heat balance", standing="second computation"),
    )  # fmt: skip
    plate = [_given(f"coil of {cylinder.name}", "coil_area_m2", cylinder.coil_area_m2, "plate")]
    yield _entry(
        f"{at}.reheat_power_w",
        "what the units give at the store's temperature, at most what the coil passes on",
        [("coil_area_m2", cylinder.coil_area_m2), ("coil_w_per_m2k", hot_water.COIL_W_PER_M2K),
         ("coil_delta_t_k", hot_water.COIL_DELTA_T_K), ("reheat_power_w", store.reheat_power_w)],
        COMMON_PRACTICE,
        inputs=plate,
    )  # fmt: skip
    yield _entry(
        f"{at}.reheat_minutes",
        "volume x (store - cold) / (14.3 x power in kW)",
        [("volume_l", cylinder.volume_l), ("store_temp_c", store.store_temp_c),
         ("cold_temp_c", hot_water.COLD_TEMP_C), ("reheat_power_w", store.reheat_power_w),
         ("reheat_minutes", store.reheat_minutes)],
        hot_water.REHEAT_SOURCE,
        inputs=plate,
    )  # fmt: skip
    yield _entry(
        f"{at}.standing_loss_kwh_per_year",
        "declared loss of a day x (store - air around it) / (65 °C - air around it) x 365",
        [("standing_loss_kwh_per_day", cylinder.standing_loss_kwh_per_day), ("store_temp_c", store.store_temp_c),
         ("air_around_store_c", hot_water.AIR_AROUND_STORE_C),
         ("declared_store_temp_c", hot_water.DECLARED_STORE_TEMP_C), ("days", DAYS_A_YEAR)],
        hot_water.STANDING_SOURCE,
        inputs=[_given(f"standing loss of {cylinder.name}", "standing_loss_kwh_per_day",
                       cylinder.standing_loss_kwh_per_day, "plate")],
    )  # fmt: skip
    yield _entry(
        f"{at}.hygiene_kwh_per_year",
        "weeks x volume x heat capacity of water x (60 °C - store)",
        [("weeks", hot_water.HYGIENE_WEEKS), ("volume_l", cylinder.volume_l),
         ("heat_capacity_j_per_kgk", hot_water.WATER_HEAT_CAPACITY_J_PER_KGK),
         ("hygiene_temp_c", hot_water.HYGIENE_TEMP_C), ("store_temp_c", store.store_temp_c)],
        COMMON_PRACTICE,
    )  # fmt: skip


def _space(estimate: Estimate, place: CylinderPlace) -> Iterator[Entry]:
    fit = estimate.design.cylinder_space
    if fit is not None:
        numbers = [
            pair
            for what, needed, there, _ in fit.checks
            for pair in ((f"{what}: needed", needed), (f"{what}: there", there))
        ]
        yield _entry(
            "design.cylinder_space.fits",
            "each measure needed against the one there",
            numbers,
            cylinder_space.SOURCE,
            sentence=_said(cylinder_space.WHY, fit),
            inputs=[_input(field.rpartition("_")[0].replace("_", " "), place, field)
                    for field in ("width_mm", "depth_mm", "height_mm", "door_width_mm", "floor_limit_kg")],
        )  # fmt: skip


def _discharge(estimate: Estimate, place: CylinderPlace) -> Iterator[Entry]:
    pipe = estimate.design.discharge
    if pipe is not None:
        numbers = [("run_m", pipe.run_m), ("bends", pipe.bends)]
        for od_mm, resistance_m, limit_m, _ in pipe.tried:
            numbers += [(f"{od_mm} mm: resistance_m", resistance_m), (f"{od_mm} mm: limit_m", limit_m)]
        yield _entry(
            "design.discharge.d2_od_mm",
            "the smallest size whose run and bends, as metres of pipe, stay within the table's limit",
            numbers,
            discharge.SOURCE,
            sentence=_said(discharge.WHY, pipe) if pipe.d2_od_mm is not None else "no size of the table is enough",
            inputs=[_input("run of the discharge", place, "discharge_run_m"),
                    _input("its bends", place, "discharge_bends"),
                    _input("whether it falls", place, "discharge_falls")],
        )  # fmt: skip
        if pipe.resistance_m is not None:
            bend = [("bend_m", (pipe.resistance_m - pipe.run_m) / pipe.bends)] if pipe.bends else []
            yield _entry(
                "design.discharge.resistance_m",
                "run + bends x the metres that one bend of this size counts as; at most the table's limit",
                [("run_m", pipe.run_m), ("bends", pipe.bends), *bend, *_of(pipe, "d2_od_mm", "limit_m")],
                discharge.SOURCE,
                inputs=[_input("run of the discharge", place, "discharge_run_m"),
                        _input("its bends", place, "discharge_bends")],
            )  # fmt: skip
