"""Why pipe, pump, frost protection, contents and vessel are as they are."""

from collections.abc import Iterator

from models.design import frost_protection, primary_pipework, system_volume
from models.design.results import Primary, SystemVolume
from models.estimate import Estimate
from models.physics.fluids import Fluid
from models.physics.friction import COPPER_ROUGHNESS_MM, SOURCE as FRICTION_SOURCE, darcy_factor, reynolds
from models.sources import Source
from models.survey import Position
from models.why.entry import MAKER, Entry, entry as _entry, of as _of, said as _said, surveyed as _input


def entries(estimate: Estimate) -> Iterator[Entry]:
    """The reasons, in the order of the document."""
    yield from _frost(estimate)
    position = next((one for one in estimate.survey.positions if one.id == estimate.design.position_id), None)
    pipes, frost = estimate.design.primary, estimate.design.frost
    if pipes is None or position is None or frost is None:
        return
    flow_c, delta_t_k = estimate.design.flow.flow_temp_c, estimate.design.flow.delta_t_k
    liquid = primary_pipework.circuit_fluid(flow_temp_c=flow_c, delta_t_k=delta_t_k, glycol_ratio=frost.glycol_ratio)
    yield from _primary(estimate, pipes, position, liquid)
    yield from _tube(estimate, pipes, position, liquid)
    yield from _fixed_loss(estimate, pipes, liquid)
    if pipes.heating_flow_l_per_s is not None:
        yield from _heating(estimate, pipes)
    if estimate.design.volume is not None:
        yield from _volume(estimate, estimate.design.volume)


def _frost(estimate: Estimate) -> Iterator[Entry]:
    frost, house = estimate.design.frost, estimate.survey.house
    if frost is not None:
        yield _entry(
            "design.frost_protection.method",
            "glycol where the power fails often or the house stands empty, else antifreeze valves; never both",
            _of(frost, "glycol_ratio", "valves"),
            frost_protection.SOURCE,
            sentence=_said(frost_protection.WHY, frost),
            inputs=[_input("power cuts", house, "power_cuts"), _input("often empty", house, "often_empty")],
        )


def _route(position: Position) -> list[Entry]:
    return [
        _input(field.rpartition("_")[0].replace("_", " "), position, field)
        for field in ("route_outside_m", "route_buried_m", "route_inside_m", "changes_outside", "changes_inside")
    ]


def _carried_w(estimate: Estimate) -> float:
    return max(estimate.design.heat_loss.heat_loss_w, estimate.design.hot_water.reheat_power_w or 0.0)


def _primary(estimate: Estimate, pipes: Primary, position: Position, liquid: Fluid) -> Iterator[Entry]:
    """Flow, size, pump and length: what is there whether or not a tube is left."""
    route = _route(position)
    at, source = "design.primary", primary_pipework.SOURCE
    yield _entry(
        f"{at}.flow_l_per_s",
        "heat carried / (density x heat capacity x temperature difference); the larger of heating and hot water",
        [("heat_w", _carried_w(estimate)), ("density_kg_per_m3", liquid.density_kg_per_m3),
         ("heat_capacity_j_per_kgk", liquid.heat_capacity_j_per_kgk), ("delta_t_k", estimate.design.flow.delta_t_k),
         ("flow_l_per_s", pipes.flow_l_per_s)],
        Source("heat balance", standing="second computation"),
    )  # fmt: skip
    numbers = [("fixed_loss_pa", pipes.fixed_loss_pa), ("pump_available_pa", pipes.pump_available_pa)]
    for tried in pipes.tried:
        name = f"{tried.od_mm} mm"
        numbers += [(f"{name}: velocity_m_per_s", tried.velocity_m_per_s),
                    (f"{name}: gradient_pa_per_m", tried.gradient_pa_per_m),
                    (f"{name}: pressure_drop_pa", tried.pressure_drop_pa)]  # fmt: skip
    yield _entry(
        f"{at}.od_mm",
        "the smallest tube that is quiet, loses little and that the unit's own pump can serve",
        numbers,
        source,
        sentence=_said(primary_pipework.WHY, pipes)
        if pipes.od_mm is not None and pipes.pump_available_pa is not None
        else "no tube size is left",
        inputs=route,
    )
    yield _entry(
        f"{at}.pump_available_pa",
        "head of the unit's pump at the flow of one unit - the unit's own loss at that flow",
        [("flow_l_per_s", pipes.flow_l_per_s), ("count", estimate.design.unit.count),
         ("pump_available_pa", pipes.pump_available_pa)],
        MAKER,
    )  # fmt: skip
    yield _entry(
        f"{at}.length_m",
        "2 x (outside + buried + inside), out and back",
        [("route_outside_m", position.route_outside_m), ("route_buried_m", position.route_buried_m),
         ("route_inside_m", position.route_inside_m)],
        Source("the survey", standing="firm's rule"),
        inputs=route,
    )  # fmt: skip


def _tube(estimate: Estimate, pipes: Primary, position: Position, liquid: Fluid) -> Iterator[Entry]:
    """The figures of the tube that was chosen: all there, or none of them."""
    od_mm, velocity_m_per_s, gradient_pa_per_m = pipes.od_mm, pipes.velocity_m_per_s, pipes.gradient_pa_per_m
    drop_pa, equivalent_m = pipes.pressure_drop_pa, pipes.equivalent_length_m
    if od_mm is None or velocity_m_per_s is None or gradient_pa_per_m is None:
        return
    if drop_pa is None or equivalent_m is None:
        return
    route = _route(position)
    at, source = "design.primary", primary_pipework.SOURCE
    above_ground_m = equivalent_m - 2 * position.route_buried_m
    buried_pa = 0.0
    if position.route_buried_m > 0:
        buried_pa = drop_pa - gradient_pa_per_m * above_ground_m - pipes.fixed_loss_pa
    bore_mm = estimate.rules.reference.tubes[od_mm].bore_mm
    re = reynolds(velocity_m_per_s=velocity_m_per_s, bore_mm=bore_mm, fluid=liquid)
    roughness_ratio = COPPER_ROUGHNESS_MM / bore_mm
    friction = darcy_factor(reynolds=re, relative_roughness_ratio=roughness_ratio)
    yield _entry(
        f"{at}.velocity_m_per_s",
        "flow / area of the bore",
        [("flow_l_per_s", pipes.flow_l_per_s), ("bore_mm", bore_mm)],
        source,
    )
    yield _entry(
        f"{at}.gradient_pa_per_m",
        "friction factor / bore x density x velocity^2 / 2; the factor by Colebrook and White from Reynolds number "
        "and roughness",
        [("bore_mm", bore_mm), ("velocity_m_per_s", velocity_m_per_s),
         ("density_kg_per_m3", liquid.density_kg_per_m3), ("viscosity_pa_s", liquid.viscosity_pa_s),
         ("reynolds", re), ("relative_roughness_ratio", roughness_ratio), ("friction_factor", friction),
         ("gradient_pa_per_m", gradient_pa_per_m)],
        FRICTION_SOURCE,
    )  # fmt: skip
    yield _entry(
        f"{at}.pressure_drop_pa",
        "gradient x length with fittings as metres of tube + buried pipe + fixed losses",
        [("gradient_pa_per_m", gradient_pa_per_m), ("equivalent_length_above_ground_m", above_ground_m),
         ("buried_pa", buried_pa), ("fixed_loss_pa", pipes.fixed_loss_pa), ("pressure_drop_pa", drop_pa)],
        primary_pipework.FITTINGS_SOURCE,
        sentence=f"index circuit: {pipes.index_circuit}",
        inputs=route,
    )  # fmt: skip
    yield _entry(
        f"{at}.heat_lost_outside_w",
        "2 x (route outside x loss of a metre of insulated pipe + buried route x loss of a metre in the "
        "earth), both at design conditions",
        [
            ("route_outside_m", position.route_outside_m),
            ("route_buried_m", position.route_buried_m),
            ("heat_lost_outside_w", pipes.heat_lost_outside_w),
        ],
        Source("EN ISO 12241", standing="from memory"),
        inputs=route,
    )
    turns = position.changes_outside + position.changes_inside
    yield _entry(
        f"{at}.equivalent_length_m",
        "tube out and back with the tails of the valve set + metres of tube that elbows and valves count as + "
        "buried pipe",
        [("route_outside_m", position.route_outside_m), ("route_inside_m", position.route_inside_m),
         ("route_buried_m", position.route_buried_m), ("tails_m", primary_pipework.VALVE_SET_TAILS_M),
         ("elbows", 2 * turns + primary_pipework.VALVE_SET_ELBOWS),
         ("elbow_m", primary_pipework.elbow_equivalent_m(od_mm=od_mm, bore_mm=bore_mm,
                                                         reference=estimate.rules.reference)),
         ("valves", primary_pipework.VALVES_IN_LINE), ("equivalent_length_m", equivalent_m)],
        primary_pipework.FITTINGS_SOURCE,
        inputs=route,
    )  # fmt: skip


def _fixed_loss(estimate: Estimate, pipes: Primary, liquid: Fluid) -> Iterator[Entry]:
    flow_l_per_s, count = pipes.flow_l_per_s, estimate.design.unit.count
    yield _entry(
        "design.primary.fixed_loss_pa",
        "filter, separator, diverting valve and strainer by their Kv"
        + (
            " + the coil of the cylinder, which the larger flow goes through instead of the index circuit"
            if pipes.heating_flow_l_per_s is not None
            else ", the index circuit being served by a second pump"
            if pipes.separation_needed
            else " + the index circuit"
        ),
        [("flow_l_per_s", flow_l_per_s),
         ("valve_set_pa", primary_pipework.valve_set_loss_pa(
             flow_l_per_s=flow_l_per_s, unit_flow_l_per_s=flow_l_per_s / count, fluid=liquid)),
         ("fixed_loss_pa", pipes.fixed_loss_pa)],
        Source("BS EN 60534-1, flow coefficient", "Kv of the fittings from memory", "from memory"),
        sentence=f"index circuit: {pipes.index_circuit}",
    )  # fmt: skip


def _heating(estimate: Estimate, pipes: Primary) -> Iterator[Entry]:
    """Heating by itself, where hot water takes the larger flow."""
    at, source = "design.primary", primary_pipework.SOURCE
    yield _entry(
        f"{at}.heating_flow_l_per_s",
        "flow of the larger one, hot water, x heat loss / heat carried then",
        [("heat_loss_w", estimate.design.heat_loss.heat_loss_w), ("heat_w", _carried_w(estimate)),
         *_of(pipes, "flow_l_per_s", "heating_flow_l_per_s")],
        Source("heat balance", standing="second computation"),
    )  # fmt: skip
    for figure in ("heating_drop_pa", "heating_available_pa"):
        yield _entry(
            f"{at}.{figure}",
            "at the flow of heating: tube, buried pipe and valve set"
            + (", the index circuit being served by a second pump" if pipes.separation_needed
               else " + the index circuit")
            + ", against what the pump has left then",
            _of(pipes, "heating_flow_l_per_s", "heating_drop_pa", "heating_available_pa"),
            source,
            sentence=f"index circuit: {pipes.index_circuit}",
        )  # fmt: skip


def _volume(estimate: Estimate, volume: SystemVolume) -> Iterator[Entry]:
    at, source = "design.system_volume", system_volume.SOURCE
    yield _entry(
        f"{at}.total_l",
        "pipes + emitters + units and coil + volumisers",
        [*_of(volume, "pipes_l", "emitters_l", "unit_and_coil_l"),
         ("volumisers_l", volume.volumiser_count * volume.volumiser.volume_l if volume.volumiser else 0.0),
         ("total_l", volume.total_l)],
        source,
    )  # fmt: skip
    yield _entry(
        f"{at}.expansion_l",
        "content x growth from filling to the hottest flow, by the densities",
        _of(volume, "total_l", "expansion_ratio", "expansion_l"),
        source,
    )
    static_height_m = estimate.survey.house.storeys * system_volume.STOREY_M
    charge_bar = system_volume.charge_pressure_bar(static_height_m=static_height_m)
    final_bar = system_volume.SAFETY_VALVE_BAR - system_volume.BELOW_SAFETY_VALVE_BAR
    yield _entry(
        f"{at}.vessel_needed_l",
        "(expansion + reserve) x (final pressure + 1) / (final pressure - charge)",
        [*_of(volume, "expansion_l", "reserve_l"), ("charge_bar", charge_bar), ("final_bar", final_bar),
         ("vessel_needed_l", volume.vessel_needed_l)],
        source,
        sentence=_said(system_volume.WHY, volume),
    )  # fmt: skip
    yield _entry(
        f"{at}.reserve_l",
        "0.5 % of the content, at least 3 L",
        _of(volume, "total_l", "reserve_l"),
        source,
    )
    yield _entry(
        f"{at}.minimum_l",
        "units x what the maker asks to stay open",
        [("count", estimate.design.unit.count), ("minimum_l", volume.minimum_l)],
        MAKER,
    )
    yield _entry(
        f"{at}.open_l",
        "primary + units + emitters that no thermostat closes + volumisers, against what the maker asks for",
        _of(volume, "open_l", "minimum_l", "volumiser_count"),
        MAKER,
    )
