"""Which tube joins the unit and the house, and can the unit's pump drive the water through it?

Heating and hot water are never served at the same time: one diverting valve gives the cylinder priority, so the
primary carries the larger of the two heat flows, not their sum.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from models.catalogue import OutdoorUnit
from models.design.results import PipeTried, Primary
from models.findings import Finding
from models.frozen import quickly_made
from models.physics.fluids import Fluid, flow_l_per_s, fluid, head_m, mass_ratio_of_volume
from models.physics.friction import (
    ASSUMED_BRANCH_MM,
    ASSUMED_MAIN_MM,
    COPPER_ROUGHNESS_MM,
    PLASTIC_ROUGHNESS_MM,
    ROUGHNESS_OF_MATERIAL_MM,
    gradient_pa_per_m,
    heating_pipe_bore_mm,
    velocity_m_per_s,
)
from models.physics.rating import pump_head_pa
from models.reference.load import Reference
from models.sources import COMMON_PRACTICE, Source, Why
from models.survey import Pipework, Position

SOURCE = Source("CIBSE Guide B1 (2016)", "Table B1.13, pipes to be quiet and to last", "from memory")
WHY = Why(
    sentence=(
        "{od_mm} mm copper carries {flow_l_per_s:.3f} L/s at {velocity_m_per_s:.2f} m/s and {gradient_pa_per_m:.0f} "
        "Pa/m; {equivalent_length_m:.1f} m with fittings and {fixed_loss_pa:.0f} Pa of fixed losses take "
        "{pressure_drop_pa:.0f} Pa of the {pump_available_pa:.0f} Pa that the pump has left"
    ),
    source=SOURCE,
)
FITTINGS_SOURCE = Source("Copper Development Association publication 150", "equivalent lengths")

SIZES_OD_MM = (22, 28, 35, 42)
VELOCITY_LIMIT_M_PER_S = 1.0
GRADIENT_LIMIT_PA_PER_M = 300.0
WEARS_FROM_M_PER_S = 1.5
"""Above this speed water wears the pipe (common practice, no source)."""
BURIED_VELOCITY_LIMIT_M_PER_S = WEARS_FROM_M_PER_S
"""Below ground nobody hears the water (common practice, no source)."""
BURIED_BORE_MM = 26.0
"""Pre-insulated twin pipe 2 x 32 x 3.0 mm."""
BURIED_OD_MM = 32.0
BURIED_INSULATION_MM = 36.0
BURIED_INSULATION_W_PER_MK = 0.028
BURIED_DEPTH_M = 0.6
BURIED_GROUND_W_PER_MK = 1.5
"""Foam of a usual twin pipe, its depth and moist earth (from memory); each pipe is reckoned by itself."""

SECOND_PUMP_PA = 60_000.0
"""What a usual second pump has at the flow of a house, some 6 m: common practice, no source."""
LONG_ROUTE_M = 15.0
VALVE_SET_ELBOWS = 4
VALVE_SET_TAILS_M = 3.0
VALVES_IN_LINE = 6
"""Two at the unit, two at the filter, two at the cylinder's set (common practice, no source)."""
FITTING_ELBOW = "capillary_elbow"
FITTING_VALVE = "straight_pattern_valve"

VALVE_SET_KV_M3_PER_H = {"magnetic filter": 10.0, "air and dirt separator": 16.0, "diverting valve": 10.0}
STRAINER_KV_M3_PER_H = 10.0
"""Typical makers' figures for 28 mm fittings, from memory; the strainer stands in each unit's own return."""
COIL_KV_M3_PER_H = 3.0
"""Of the coil of a cylinder made for heat pumps (from memory)."""
EMITTER_VALVES_KV_M3_PER_H = 0.8
"""Thermostatic valve and lockshield, both open, in series (from memory)."""
_BAR_PA = 100_000.0
_M3_PER_H_A_L_PER_S = 3.6

FITTINGS_ALLOWANCE_RATIO = 0.25
"""Added to the length of the heating pipes for fittings: Chadderton, Building Services Engineering, Example 4.2."""
BRANCH_M = 5.0
"""The last metres of the longest run, one way, that only the farthest emitter uses (common practice, no source)."""
STOREY_RISE_M = 2.5
MANIFOLD_SHARE_RATIO = 0.5
TAPER_STEPS = 4
"""Stretches of even flow that a main whose flow falls along it is reckoned in."""


@quickly_made
@dataclass(frozen=True, slots=True)
class IndexCircuit:
    """The heating circuit that is hardest to serve: what it loses, out and back, and how that was reckoned."""

    loss_pa: float
    run_m: float
    main_mm: int
    branch_mm: int
    sentence: str
    findings: tuple[Finding, ...] = ()


def index_circuit(
    *,
    pipework: Pipework,
    floor_area_m2: float,
    storeys: int,
    heat_loss_w: float,
    farthest_emitter_w: float,
    farthest_room: str = "",
    flow_temp_c: float,
    delta_t_k: float,
    glycol_ratio: float,
    reference: Reference,
) -> IndexCircuit:
    """Loss of the longest heating run, out and back, with its emitter's valves.

    Darcy-Weisbach; 25 % for fittings (Chadderton, Example 4.2). In a two-pipe layout the main's flow falls evenly
    from the whole house's to the farthest emitter's; with a manifold the main carries all of it half way; in a
    single pipe all the way. `farthest_emitter_w` is what that emitter has to give, the most where nobody knows which
    it is, `farthest_room` where it hangs. `glycol_ratio` is the share of the volume. An unseen run is two sides of a
    square floor plus the rise.
    """
    liquid = circuit_fluid(flow_temp_c=flow_temp_c, delta_t_k=delta_t_k, glycol_ratio=glycol_ratio)
    findings: list[Finding] = []
    if pipework.longest_run_m == "assumed":
        run_m = assumed_longest_run_m(floor_area_m2=floor_area_m2, storeys=storeys)
        findings.append(_run_assumed(run_m))
    else:
        run_m = pipework.longest_run_m
    main_mm, main_bore_mm = _bore(pipework, "main", findings, reference)
    branch_mm, branch_bore_mm = _bore(pipework, "branch", findings, reference)
    roughness_mm = ROUGHNESS_OF_MATERIAL_MM.get(pipework.material, COPPER_ROUGHNESS_MM)
    whole_l_per_s = flow_l_per_s(heat_w=heat_loss_w, delta_t_k=delta_t_k, fluid=liquid)
    last_l_per_s = flow_l_per_s(heat_w=farthest_emitter_w, delta_t_k=delta_t_k, fluid=liquid)
    findings.extend(_fast_mains(main_mm, main_bore_mm, whole_l_per_s))
    branch_m = run_m * (1 - MANIFOLD_SHARE_RATIO) if pipework.layout == "manifold" else min(BRANCH_M, run_m)
    main_pa_per_m = _main_gradient_pa_per_m(
        tapers=pipework.layout in ("two_pipe", "unknown"),
        first_l_per_s=whole_l_per_s,
        last_l_per_s=last_l_per_s,
        bore_mm=main_bore_mm,
        roughness_mm=roughness_mm,
        liquid=liquid,
    )
    branch_pa_per_m = gradient_pa_per_m(
        flow_l_per_s=last_l_per_s, bore_mm=branch_bore_mm, roughness_mm=roughness_mm, fluid=liquid
    )
    pipe_pa = 2 * ((run_m - branch_m) * main_pa_per_m + branch_m * branch_pa_per_m)
    valves_pa = _kv_loss_pa(last_l_per_s, EMITTER_VALVES_KV_M3_PER_H, liquid)
    loss_pa = pipe_pa * (1 + FITTINGS_ALLOWANCE_RATIO) + valves_pa
    sentence = (
        f"{run_m:.1f} m one way, {main_mm} mm mains and {branch_m:.1f} m of {branch_mm} mm to the emitter of "
        f"{farthest_emitter_w:.0f} W{f' in {farthest_room}' if farthest_room else ''}: {loss_pa:.0f} Pa"
    )
    return IndexCircuit(loss_pa, run_m, main_mm, branch_mm, sentence, tuple(findings))


def _main_gradient_pa_per_m(
    *,
    tapers: bool,
    first_l_per_s: float,
    last_l_per_s: float,
    bore_mm: float,
    roughness_mm: float,
    liquid: Fluid,
) -> float:
    """Mean gradient along a main: of its first flow, or where it tapers of flows that fall evenly to the last."""
    shares = [(step + 0.5) / TAPER_STEPS for step in range(TAPER_STEPS)] if tapers else [0.0]
    gradients = [
        gradient_pa_per_m(
            flow_l_per_s=first_l_per_s + share * (last_l_per_s - first_l_per_s),
            bore_mm=bore_mm,
            roughness_mm=roughness_mm,
            fluid=liquid,
        )
        for share in shares
    ]
    return sum(gradients) / len(gradients)


def _run_assumed(run_m: float) -> Finding:
    return Finding(
        "index_run_assumed",
        "note",
        "heating pipes",
        f"the longest run was not measured; {run_m:.1f} m one way is assumed from the floor area",
        str(COMMON_PRACTICE),
        "measure the run from the valve set to the farthest emitter",
    )


def _fast_mains(main_mm: int, bore_mm: float, whole_l_per_s: float) -> Iterator[Finding]:
    velocity = velocity_m_per_s(flow_l_per_s=whole_l_per_s, bore_mm=bore_mm)
    if velocity <= VELOCITY_LIMIT_M_PER_S:
        return
    wears = velocity > WEARS_FROM_M_PER_S
    yield Finding(
        "heating_mains_fast",
        "ask" if wears else "note",
        "heating pipes",
        f"if one {main_mm} mm main carries the whole {whole_l_per_s:.3f} L/s, the water runs at "
        f"{velocity:.2f} m/s, more than {VELOCITY_LIMIT_M_PER_S:g} m/s: it can be heard"
        + (f", and above {WEARS_FROM_M_PER_S:g} m/s it wears the pipe" if wears else ""),
        str(SOURCE),
        ("trace the mains: where they part behind the boiler each carries less; else " if wears else "")
        + "a main of its own for each storey, larger mains or a larger temperature difference",
    )


def assumed_longest_run_m(*, floor_area_m2: float, storeys: int) -> float:
    """Longest run one way, where the pipes were not seen: two sides of a square storey and the rise to the top one.

    Common practice, no source.
    """
    return 2 * math.sqrt(floor_area_m2 / storeys) + (storeys - 1) * STOREY_RISE_M


def circuit_fluid(*, flow_temp_c: float, delta_t_k: float, glycol_ratio: float) -> Fluid:
    """The circuit's water or mixture at its mean temperature; `glycol_ratio` is the share of the volume."""
    return fluid(temp_c=flow_temp_c - delta_t_k / 2, glycol_mass_ratio=mass_ratio_of_volume(volume_ratio=glycol_ratio))


def primary(
    *,
    position: Position,
    unit: OutdoorUnit,
    count: int,
    heat_w: float,
    flow_temp_c: float,
    delta_t_k: float,
    glycol_ratio: float,
    index: IndexCircuit,
    heat_lost_w_per_m: Mapping[int, float] | None,
    buried_lost_w_per_m: float = 0.0,
    reference: Reference,
    heating_w: float | None = None,
) -> Primary:
    """The smallest copper tube that is quiet, loses little and that the unit's own pump can serve.

    CIBSE Guide B1 (2016) Table B1.13: 1.0 m/s and 300 Pa/m. `heat_w` is the heat carried by all units together, the
    larger of heating and hot water (one diverting valve, never both at once); `heating_w` what heating carries: where
    hot water carries more, the index circuit runs at the flow of heating and the larger flow goes through the coil.
    `heat_lost_w_per_m` gives by outside diameter what a metre of insulated pipe outdoors loses, None leaves that
    unsaid; `buried_lost_w_per_m` is of a metre of one buried pipe. Where a tube is quiet but the pump cannot serve the
    index circuit as well, or with two units, a low-loss header and a second pump take the index circuit over. Stop
    `primary_pipe_too_small` where no tube is left.
    """
    liquid = circuit_fluid(flow_temp_c=flow_temp_c, delta_t_k=delta_t_k, glycol_ratio=glycol_ratio)
    flow = flow_l_per_s(heat_w=heat_w, delta_t_k=delta_t_k, fluid=liquid)
    peak = _Service.of(flow, unit, count, position, liquid, reference)
    heating = None
    beyond_pa = index.loss_pa
    if heating_w is not None and 0 < heating_w < heat_w:
        heating = _Service.of(heating_w / heat_w * flow, unit, count, position, liquid, reference)
        beyond_pa = _kv_loss_pa(flow, COIL_KV_M3_PER_H, liquid)

    def served(tube: _Tube, *, header: bool) -> bool:
        """Whether the unit's pump serves this tube with what lies beyond it; a header takes the index circuit away."""
        if heating is None:
            return peak.left_pa(tube) >= (0.0 if header else beyond_pa)
        heats = header or heating.left_pa(heating.tube(tube.od_mm)) >= index.loss_pa
        return heats and peak.left_pa(tube) >= beyond_pa

    chosen, header = None, False
    if peak.buried_fits:
        quiet = [tube for tube in peak.tubes if tube.quiet]
        chosen = next((tube for tube in quiet if count == 1 and served(tube, header=False)), None)
        if chosen is None:
            chosen = next((tube for tube in quiet if served(tube, header=True)), None)
            header = chosen is not None
    fixed_pa = peak.valve_set_pa + (0.0 if header and heating is None else beyond_pa)
    tried = tuple(
        PipeTried(
            tube.od_mm,
            tube.velocity_m_per_s,
            tube.gradient_pa_per_m,
            tube.loss_pa + peak.buried_pa + fixed_pa,
            peak.buried_fits and tube.quiet and is_served,
            _reason(tube, is_served, peak.buried_fits),
        )
        for tube, is_served in [(tube, served(tube, header=header)) for tube in peak.tubes]
    )
    lost_w = _lost_outside_w(position, chosen, heat_lost_w_per_m, buried_lost_w_per_m)
    findings = (
        *index.findings,
        *route_findings(
            position=position,
            lost_w=lost_w,
            route_pa=None if chosen is None else chosen.loss_pa + peak.buried_pa,
            available_pa=peak.available_pa,
        ),
        *_unit_findings(unit, peak, chosen),
        *(_too_small(position, unit, peak, fixed_pa) if chosen is None else ()),
        *(_header_findings(count, index, peak, liquid) if header else ()),
        *(_buried_findings(position, peak) if chosen is not None else ()),
    )
    return _answer(position, index, peak, heating, chosen, header, fixed_pa, tried, lost_w, findings)


def _answer(
    position: Position,
    index: IndexCircuit,
    peak: "_Service",
    heating: "_Service | None",
    chosen: "_Tube | None",
    header: bool,
    fixed_pa: float,
    tried: tuple[PipeTried, ...],
    lost_w: float | None,
    findings: tuple[Finding, ...],
) -> Primary:
    """The result, with the figures of the tube that was chosen; without one those of flow, route and pump alone."""
    length_m = 2 * (position.route_outside_m + position.route_buried_m + position.route_inside_m)
    buried_m = 2 * position.route_buried_m
    water_l = buried_m * math.pi / 4 * BURIED_BORE_MM**2 / 1000
    drop_pa = equivalent_m = heating_drop_pa = None
    if chosen is not None:
        water_l += (length_m - buried_m) * chosen.content_l_per_m
        drop_pa = chosen.loss_pa + peak.buried_pa + fixed_pa
        equivalent_m = chosen.equivalent_m + buried_m
        if heating is not None:
            heating_drop_pa = heating.lost_pa(heating.tube(chosen.od_mm)) + (0.0 if header else index.loss_pa)
    by_itself = None if chosen is None else heating
    return Primary(
        od_mm=chosen.od_mm if chosen else None,
        wall_mm=chosen.wall_mm if chosen else None,
        flow_l_per_s=peak.flow_l_per_s,
        velocity_m_per_s=chosen.velocity_m_per_s if chosen else None,
        gradient_pa_per_m=chosen.gradient_pa_per_m if chosen else None,
        pressure_drop_pa=drop_pa,
        pump_available_pa=peak.available_pa,
        length_m=length_m,
        equivalent_length_m=equivalent_m,
        fixed_loss_pa=fixed_pa,
        separation_needed=header,
        water_l=water_l,
        heat_lost_outside_w=lost_w,
        tried=tried,
        index_circuit=index.sentence,
        findings=findings,
        heating_flow_l_per_s=by_itself.flow_l_per_s if by_itself else None,
        heating_drop_pa=heating_drop_pa,
        heating_available_pa=by_itself.available_pa if by_itself else None,
    )


def _lost_outside_w(
    position: Position,
    chosen: "_Tube | None",
    heat_lost_w_per_m: Mapping[int, float] | None,
    buried_lost_w_per_m: float,
) -> float | None:
    lost_w_per_m = None if chosen is None or heat_lost_w_per_m is None else heat_lost_w_per_m.get(chosen.od_mm)
    if lost_w_per_m is None:
        return None
    return 2 * (position.route_outside_m * lost_w_per_m + position.route_buried_m * buried_lost_w_per_m)


def route_findings(
    *,
    position: Position,
    lost_w: float | None = None,
    route_pa: float | None = None,
    available_pa: float | None = None,
) -> tuple[Finding, ...]:
    """What the length of a position's route is worth saying. Common practice, no source.

    With the figures of a design: the heat it loses outdoors, W, and what it takes, Pa, of what the pump has left, Pa.
    """
    route_m = position.route_outside_m + position.route_buried_m + position.route_inside_m
    if route_m <= LONG_ROUTE_M:
        return ()
    where = "outdoors and in the earth" if position.route_buried_m > 0 else "outdoors"
    return (
        Finding(
            "route_long",
            "ask",
            position.name,
            f"the route is {route_m:.1f} m one way, more than {LONG_ROUTE_M:g} m: it loses heat and pump head"
            + ("" if not lost_w else f", {lost_w:,.0f} W {where} on the design day")
            + (
                ""
                if route_pa is None or available_pa is None
                else f"; its pipes take {route_pa / 1000:.1f} kPa of the {available_pa / 1000:.1f} kPa that the pump "
                "has left"
            ),
            str(COMMON_PRACTICE),
            "look for a nearer position, or accept the loss, which is in the yearly sum",
        ),
    )


def valve_set_loss_pa(*, flow_l_per_s: float, unit_flow_l_per_s: float, fluid: Fluid) -> float:
    """Loss of filter, separator and diverting valve at the whole flow and of the strainer at one unit's, Pa.

    dp = (q / Kv)2 rho/1000 bar, BS EN 60534-1; Kv typical, from memory.
    """
    shared_pa = sum(_kv_loss_pa(flow_l_per_s, kv, fluid) for kv in VALVE_SET_KV_M3_PER_H.values())
    return shared_pa + _kv_loss_pa(unit_flow_l_per_s, STRAINER_KV_M3_PER_H, fluid)


def elbow_equivalent_m(*, od_mm: int, bore_mm: float, reference: Reference) -> float:
    """Straight tube that loses as much as one capillary elbow, m.

    Copper Development Association publication 150 up to 28 mm; beyond, the same length over bore (from memory).
    """
    return _equivalent_m(FITTING_ELBOW, od_mm, bore_mm, reference)


def _equivalent_m(fitting: str, od_mm: int, bore_mm: float, reference: Reference) -> float:
    by_size = reference.fitting_equivalent_m[fitting]
    if od_mm in by_size:
        return by_size[od_mm]
    largest = max(by_size)
    return by_size[largest] * bore_mm / reference.tubes[largest].bore_mm


def _kv_loss_pa(flow_l_per_s: float, kv_m3_per_h: float, liquid: Fluid) -> float:
    return _BAR_PA * (flow_l_per_s * _M3_PER_H_A_L_PER_S / kv_m3_per_h) ** 2 * liquid.density_kg_per_m3 / 1000


@quickly_made
@dataclass(frozen=True, slots=True)
class _Tube:
    od_mm: int
    wall_mm: float
    content_l_per_m: float
    velocity_m_per_s: float
    gradient_pa_per_m: float
    equivalent_m: float
    loss_pa: float
    quiet: bool

    @staticmethod
    def of(od_mm: int, position: Position, flow: float, liquid: Fluid, reference: Reference) -> "_Tube":
        tube = reference.tubes[od_mm]
        bore_mm = tube.bore_mm
        velocity = velocity_m_per_s(flow_l_per_s=flow, bore_mm=bore_mm)
        gradient = gradient_pa_per_m(flow_l_per_s=flow, bore_mm=bore_mm, roughness_mm=COPPER_ROUGHNESS_MM, fluid=liquid)
        elbows = 2 * (position.changes_outside + position.changes_inside) + VALVE_SET_ELBOWS
        equivalent_m = (
            2 * (position.route_outside_m + position.route_inside_m)
            + VALVE_SET_TAILS_M
            + elbows * _equivalent_m(FITTING_ELBOW, od_mm, bore_mm, reference)
            + VALVES_IN_LINE * _equivalent_m(FITTING_VALVE, od_mm, bore_mm, reference)
        )
        quiet = velocity <= VELOCITY_LIMIT_M_PER_S and gradient <= GRADIENT_LIMIT_PA_PER_M
        return _Tube(
            od_mm, tube.wall_mm, tube.content_l_per_m, velocity, gradient, equivalent_m, gradient * equivalent_m, quiet
        )


@dataclass(frozen=True, slots=True)
class _Service:
    """What one flow takes between unit and valve set, tube by tube, and what the unit's pump has for it.

    `available_pa` is None where the flow lies off the pump's curve.
    """

    flow_l_per_s: float
    unit_flow_l_per_s: float
    available_pa: float | None
    valve_set_pa: float
    buried_velocity_m_per_s: float
    buried_pa: float
    tubes: "tuple[_Tube, ...]"

    @staticmethod
    def of(
        flow: float, unit: OutdoorUnit, count: int, position: Position, liquid: Fluid, reference: Reference
    ) -> "_Service":
        unit_flow = flow / count
        buried_velocity, buried_pa = _buried(position, flow, liquid)
        return _Service(
            flow,
            unit_flow,
            _pump_left_pa(unit, unit_flow),
            valve_set_loss_pa(flow_l_per_s=flow, unit_flow_l_per_s=unit_flow, fluid=liquid),
            buried_velocity,
            buried_pa,
            tuple([_Tube.of(od_mm, position, flow, liquid, reference) for od_mm in SIZES_OD_MM]),
        )

    @property
    def buried_fits(self) -> bool:
        return self.buried_velocity_m_per_s <= BURIED_VELOCITY_LIMIT_M_PER_S

    def tube(self, od_mm: int) -> "_Tube":
        return self.tubes[SIZES_OD_MM.index(od_mm)]

    def lost_pa(self, tube: "_Tube") -> float:
        return tube.loss_pa + self.buried_pa + self.valve_set_pa

    def left_pa(self, tube: "_Tube") -> float:
        """What the pump has left for all that lies beyond the valve set; nothing it could serve off its curve."""
        return -math.inf if self.available_pa is None else self.available_pa - self.lost_pa(tube)


def _pump_left_pa(unit: OutdoorUnit, unit_flow_l_per_s: float) -> float | None:
    """What the unit's pump has left at a flow of one unit, after the unit's own loss."""
    head_pa = pump_head_pa(unit.pump_curve, flow_l_per_s=unit_flow_l_per_s)
    if head_pa is None:
        return None
    return head_pa - unit.own_loss_pa * (unit_flow_l_per_s / unit.nominal_flow_l_per_s) ** 2


def _buried(position: Position, flow: float, liquid: Fluid) -> tuple[float, float]:
    """Velocity in the buried twin pipe and its loss out and back; nothing where nothing is buried."""
    if position.route_buried_m == 0:
        return 0.0, 0.0
    gradient = gradient_pa_per_m(
        flow_l_per_s=flow, bore_mm=BURIED_BORE_MM, roughness_mm=PLASTIC_ROUGHNESS_MM, fluid=liquid
    )
    return velocity_m_per_s(flow_l_per_s=flow, bore_mm=BURIED_BORE_MM), 2 * position.route_buried_m * gradient


def _reason(tube: _Tube, served: bool, buried_fits: bool) -> str:
    if tube.velocity_m_per_s > VELOCITY_LIMIT_M_PER_S:
        return "too fast"
    if tube.gradient_pa_per_m > GRADIENT_LIMIT_PA_PER_M:
        return "loses too much a metre"
    if not served:
        return "more than the pump has left"
    return "passes" if buried_fits else "the buried pipe is too small"


def _bore(pipework: Pipework, which: str, findings: list[Finding], reference: Reference) -> tuple[int, float]:
    """Size and bore of the mains or branches; a finding where the size is unknown or not of the material's range."""
    size = pipework.main_mm if which == "main" else pipework.branch_mm
    if size == "unknown":
        size = ASSUMED_MAIN_MM if which == "main" else ASSUMED_BRANCH_MM
        findings.append(
            Finding(
                f"heating_{which}_size_unknown",
                "ask",
                "heating pipes",
                f"the size of the {which} pipes is not known; {size} mm is assumed",
                str(COMMON_PRACTICE),
                "measure the pipe",
            )
        )
        return size, reference.tubes[size].bore_mm
    reckoned_mm, bore_mm = heating_pipe_bore_mm(size_mm=size, material=pipework.material, tubes=reference.tubes)
    if reckoned_mm != size:
        findings.append(
            Finding(
                f"heating_{which}_size_unusual",
                "ask",
                "heating pipes",
                f"{which} pipes of {size} mm are not a usual size of {pipework.material} pipe; reckoned with "
                f"{reckoned_mm} mm",
                str(COMMON_PRACTICE),
                "check size and material",
            )
        )
    return reckoned_mm, bore_mm


def _unit_findings(unit: OutdoorUnit, peak: _Service, chosen: _Tube | None) -> Iterator[Finding]:
    """Flow and tube against what the maker's record asks for."""
    if peak.unit_flow_l_per_s > unit.maximum_flow_l_per_s:
        yield Finding(
            "flow_above_unit",
            "ask",
            unit.name,
            f"{peak.unit_flow_l_per_s:.3f} L/s a unit exceeds the {unit.maximum_flow_l_per_s:.3f} L/s that the maker "
            "allows",
            "maker's record",
            "take a larger temperature difference or a larger unit",
        )
    elif peak.unit_flow_l_per_s < unit.minimum_flow_l_per_s:
        yield Finding(
            "flow_below_unit",
            "note",
            unit.name,
            f"{peak.unit_flow_l_per_s:.3f} L/s a unit is less than the {unit.minimum_flow_l_per_s:.3f} L/s that the "
            "maker asks for: the pump will run faster and the temperature difference will be smaller",
            "maker's record",
            "a smaller unit or a smaller temperature difference",
        )
    if chosen is not None and chosen.od_mm < unit.connection_od_mm:
        yield Finding(
            "primary_smaller_than_connection",
            "note",
            unit.name,
            f"its connections are {unit.connection_od_mm} mm and {chosen.od_mm} mm tube is enough at this flow: "
            "reducers go next to the valve set, not at the unit, where the maker asks for the full size",
            "maker's record",
        )


def _too_small(position: Position, unit: OutdoorUnit, peak: _Service, fixed_pa: float) -> Iterator[Finding]:
    """Why even the largest tube will not do."""
    largest = peak.tubes[-1]
    if not peak.buried_fits:
        what = (
            f"in the buried pipe of {BURIED_BORE_MM:g} mm bore {peak.flow_l_per_s:.3f} L/s would run at "
            f"{peak.buried_velocity_m_per_s:.2f} m/s, more than {BURIED_VELOCITY_LIMIT_M_PER_S:g} m/s"
        )
    elif not largest.quiet:
        what = (
            f"{peak.flow_l_per_s:.3f} L/s runs at {largest.velocity_m_per_s:.2f} m/s and "
            f"{largest.gradient_pa_per_m:.0f} Pa/m even in {largest.od_mm} mm tube; {VELOCITY_LIMIT_M_PER_S:g} m/s and "
            f"{GRADIENT_LIMIT_PA_PER_M:g} Pa/m are the limits"
        )
    elif peak.available_pa is None:
        what = f"{peak.unit_flow_l_per_s:.3f} L/s is beyond the curve of the pump of {unit.name}"
    else:
        what = (
            f"even {largest.od_mm} mm tube takes {largest.loss_pa + peak.buried_pa + fixed_pa:.0f} Pa at "
            f"{peak.flow_l_per_s:.3f} L/s, but the pump of {unit.name} has {peak.available_pa:.0f} Pa left"
        )
    yield Finding(
        "primary_pipe_too_small",
        "stop",
        position.name,
        what,
        str(SOURCE),
        "a larger temperature difference, a shorter route or another unit",
    )


def _header_findings(count: int, index: IndexCircuit, peak: _Service, liquid: Fluid) -> Iterator[Finding]:
    """A low-loss header and what is beyond it."""
    why = f"{count} units share one circuit" if count > 1 else "the unit's pump cannot serve the index circuit too"
    has = "" if peak.available_pa is None else f", which leaves the unit's pump {_head(peak.available_pa, liquid)}"
    yield Finding(
        "separation_needed",
        "note",
        "heating circuit",
        f"{why}: a low-loss header and a second pump serve the index circuit of {index.loss_pa:.0f} Pa{has}",
        str(COMMON_PRACTICE),
        "" if count > 1 else "larger heating mains would save the second pump",
    )
    if index.loss_pa > SECOND_PUMP_PA:
        yield Finding(
            "index_circuit_beyond_second_pump",
            "ask",
            "heating circuit",
            f"the circuit that is hardest to serve takes {_head(index.loss_pa, liquid)}, and a second pump has "
            f"some {_head(SECOND_PUMP_PA, liquid)}: less water than designed comes to its emitter. It is "
            f"{index.sentence}",
            str(COMMON_PRACTICE),
            "renew its branch or the mains in a larger size, which is not priced here, or split the circuit",
        )


def _buried_findings(position: Position, peak: _Service) -> Iterator[Finding]:
    if peak.buried_pa > 2 * position.route_buried_m * GRADIENT_LIMIT_PA_PER_M:
        yield Finding(
            "buried_pipe_loses_much",
            "note",
            position.name,
            f"the buried pipe loses {peak.buried_pa / (2 * position.route_buried_m):.0f} Pa/m at "
            f"{peak.buried_velocity_m_per_s:.2f} m/s, more than a pipe in the house may; the pump can serve it",
            str(SOURCE),
            "a twin pipe of the next size",
        )


def _head(pressure_pa: float, liquid: Fluid) -> str:
    return f"{head_m(pressure_pa=pressure_pa, density_kg_per_m3=liquid.density_kg_per_m3):.1f} m"
