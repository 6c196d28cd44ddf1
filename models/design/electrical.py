"""The supply with the new load: demand, cable, breaker, isolator, and what the network operator must be told."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from models.catalogue import Cable, OutdoorUnit
from models.design.results import Electrical
from models.findings import Finding
from models.reference.place import NetworkRule, PlaceReference
from models.sources import Source, Why
from models.survey.site import Isolator, Position, Supply

SOURCE = Source("BS 7671:2018+A2:2022", "Appendix 4", "from memory")
WHY = Why(
    sentence="{unit_current_a:.1f} A of outdoor units and {immersion_current_a:.1f} A of immersion heater come to the "
    "demand of today; breaker {breaker_a} A; network operator: {network}. {isolator}",
    source=SOURCE,
)
WAYS_PER_UNIT = 1
WAYS_FOR_IMMERSION = 1


@dataclass(frozen=True, slots=True)
class CableCheck:
    """One cable size tried: what it carries by the method, and its voltage drop as a share of the supply."""

    cable: Cable
    capacity_a: float
    voltage_drop_ratio: float
    passes: bool


def voltage_drop_v(*, drop_mv_per_a_m: float, current_a: float, length_m: float) -> float:
    """Voltage drop along a cable: mV/(A m) x A x m / 1000.

    BS 7671:2018+A2:2022, Appendix 4, section 6 (from memory). `length_m` is the one-way run; the tabulated single-phase
    value counts both conductors. At full-load temperature, no correction.
    """
    return drop_mv_per_a_m * current_a * length_m / 1000


def check_cable(
    *,
    cable: Cable,
    method: Literal["clipped", "buried", "in_insulation"],
    breaker_a: float,
    current_a: float,
    length_m: float,
    network: NetworkRule,
) -> CableCheck:
    """Whether a cable carries the breaker's rating by its method and keeps the voltage-drop limit.

    BS 7671:2018+A2:2022, 433.1.1 and 525 (from memory): Iz at or above In, drop at or below the limit for uses other
    than lighting. Grouping, ambient temperature and the earth-fault loop are the electrician's to check.
    """
    capacity_a = {"clipped": cable.clipped_a, "buried": cable.buried_a, "in_insulation": cable.in_insulation_a}[method]
    drop_v = voltage_drop_v(drop_mv_per_a_m=cable.drop_mv_per_a_m, current_a=current_a, length_m=length_m)
    drop_ratio = drop_v / network.nominal_voltage_v
    passes = capacity_a >= breaker_a and drop_ratio <= network.voltage_drop_limit_ratio
    return CableCheck(cable, capacity_a, drop_ratio, passes)


def electrical(
    *,
    supply: Supply,
    unit: OutdoorUnit,
    count: int,
    immersion_w: float,
    cables: tuple[Cable, ...],
    position: Position,
    place_reference: PlaceReference,
) -> Electrical:
    """The circuit of each outdoor unit and what all of them do to the supply.

    BS 7671:2018+A2:2022, Appendix 4 (from memory). Currents of `count` units and of one immersion heater of
    `immersion_w` (0: none) are added to the surveyed demand after diversity. Each unit has a cable of its own; a
    three-phase unit is checked by the single-phase drop, which is on the safe side. `cable` is None beside a *stop*.
    """
    rule = place_reference.network
    unit_a = unit.maximum_current_a * count * rule.unit_diversity_ratio
    immersion_a = immersion_w / rule.nominal_voltage_v * rule.immersion_diversity_ratio
    before_a = None if isinstance(supply.demand_before_a, str) else supply.demand_before_a
    after_a = None if before_a is None else before_a + unit_a + immersion_a
    cutout_a = None if isinstance(supply.cutout_a, str) else supply.cutout_a
    check, cable_findings = _cable(supply, unit, cables, rule)
    network, network_findings = _network(supply, after_a, cutout_a, rule)
    board, board_findings = _extension_board(supply, count, immersion_w)
    findings = (
        *_phase_findings(supply, unit),
        *_demand_findings(after_a, cutout_a, unit_a, immersion_a, rule),
        *cable_findings,
        *network_findings,
        *board_findings,
        *_earthing_findings(supply),
        *_isolator_findings(position),
        Finding(
            "electrician_only",
            "note",
            "Consumer unit",
            "a registered electrician designs, installs and tests this circuit to BS 7671; fault loop, RCD and "
            "grouping are not checked here",
            str(SOURCE),
        ),
    )
    return Electrical(
        demand_before_a=before_a,
        unit_current_a=unit_a,
        immersion_current_a=immersion_a,
        demand_after_a=after_a,
        cutout_a=cutout_a,
        breaker_a=unit.breaker_a,
        cable=None if check is None else check.cable,
        voltage_drop_ratio=None if check is None else check.voltage_drop_ratio,
        network=network,
        extension_board=board,
        bonding_needed=supply.bonding_sound != "yes",
        isolator=_isolator_sentence(position.isolator),
        findings=findings,
    )


def _cable(
    supply: Supply, unit: OutdoorUnit, cables: tuple[Cable, ...], rule: NetworkRule
) -> tuple[CableCheck | None, tuple[Finding, ...]]:
    """The smallest size that passes. An unknown method is taken as the worst: in insulation."""
    where, source = "Cable to the outdoor unit", str(SOURCE)
    findings: list[Finding] = []
    method = supply.cable_method
    if method == "unknown":
        method = "in_insulation"
        findings.append(
            Finding(
                "cable_method_not_known",
                "ask",
                where,
                "how the cable is to be run is not recorded; it is sized as if it lay in insulation",
                source,
                "say clipped, buried or in insulation",
            )
        )
    if unit.maximum_current_a > unit.breaker_a:
        findings.append(
            Finding(
                "breaker_below_current",
                "stop",
                where,
                f"{unit.name} takes {unit.maximum_current_a:.1f} A and its breaker is {unit.breaker_a} A",
                source,
                "correct the catalogue from the rating plate",
            )
        )
        return None, tuple(findings)
    for cable in sorted(cables, key=lambda cable: cable.size_mm2):
        check = check_cable(
            cable=cable,
            method=method,
            breaker_a=unit.breaker_a,
            current_a=unit.maximum_current_a,
            length_m=supply.cable_route_m,
            network=rule,
        )
        if check.passes:
            return check, tuple(findings)
    findings.append(
        Finding(
            "no_cable_fits",
            "stop",
            where,
            f"no cable of the catalogue carries {unit.breaker_a} A {method.replace('_', ' ')} over "
            f"{supply.cable_route_m:.0f} m within a drop of {rule.voltage_drop_limit_ratio:.0%}",
            source,
            "shorten the route, run it another way, or add a larger cable to the catalogue",
        )
    )
    return None, tuple(findings)


def _network(
    supply: Supply, after_a: float | None, cutout_a: float | None, rule: NetworkRule
) -> tuple[Literal["notify", "apply", "not_known"], tuple[Finding, ...]]:
    where, source = "Meter and cut-out", str(rule.source)
    reasons, unknown = [], []
    if after_a is None:
        unknown.append("the demand of today is not recorded")
    elif after_a > rule.apply_above_a:
        reasons.append(f"the demand becomes {after_a:.1f} A, over {rule.apply_above_a:.0f} A")
    elif supply.phases == "single" and after_a * rule.nominal_voltage_v / 1000 > rule.apply_above_single_phase_kva:
        reasons.append(
            f"the demand becomes {after_a * rule.nominal_voltage_v / 1000:.1f} kVA, over "
            f"{rule.apply_above_single_phase_kva:g} kVA on one phase"
        )
    if cutout_a is None:
        reasons.append("the rating of the cut-out is not known")
    elif after_a is not None and after_a > cutout_a:
        reasons.append(f"the demand becomes {after_a:.1f} A, over the {cutout_a:.0f} A of the cut-out")
    if supply.looped == "yes":
        reasons.append("the supply is looped with a neighbour's")
    elif supply.looped == "unknown":
        unknown.append("whether the supply is looped is not recorded")
    findings: list[Finding] = []
    if supply.looped == "yes":
        findings.append(
            Finding(
                "supply_looped",
                "ask",
                where,
                "the supply is looped with a neighbour's: the operator must unloop it before a heat pump is connected",
                source,
                "apply to the network operator and wait for its work",
            )
        )
    if reasons:
        findings.append(
            Finding(
                "network_apply",
                "ask",
                where,
                "; ".join(reasons),
                source,
                "apply to the network operator and have its answer before the unit is connected",
            )
        )
    if unknown:
        findings.append(
            Finding("supply_not_known", "ask", where, "; ".join(unknown), source, "look at the cut-out and the meter")
        )
    if reasons:
        return "apply", tuple(findings)
    if unknown:
        return "not_known", tuple(findings)
    findings.append(
        Finding(
            "network_notify",
            "note",
            where,
            f"the network operator is told within {rule.notify_within_days} days of commissioning",
            source,
        )
    )
    return "notify", tuple(findings)


def _demand_findings(
    after_a: float | None, cutout_a: float | None, unit_a: float, immersion_a: float, rule: NetworkRule
) -> Iterator[Finding]:
    yield Finding(
        "diversity_used",
        "note",
        "Meter and cut-out",
        f"{unit_a:.1f} A of outdoor units ({rule.unit_diversity_ratio:.0%} of their maximum) and "
        f"{immersion_a:.1f} A of immersion heater ({rule.immersion_diversity_ratio:.0%}) are added to the "
        "demand of today",
        str(rule.diversity_source),
    )
    if after_a is not None and cutout_a is not None and after_a > cutout_a:
        yield Finding(
            "cutout_too_small",
            "stop",
            "Meter and cut-out",
            f"the demand becomes {after_a:.1f} A and the cut-out is {cutout_a:.0f} A",
            str(rule.source),
            "have the network operator fit a larger cut-out, or choose a smaller unit",
        )


def _phase_findings(supply: Supply, unit: OutdoorUnit) -> Iterator[Finding]:
    where, source = "Meter and cut-out", str(SOURCE)
    if supply.phases == "unknown":
        yield Finding(
            "phases_not_known",
            "ask",
            where,
            f"whether the supply has one phase or three is not recorded; {unit.name} needs {unit.phases}",
            source,
            "count the fuses at the cut-out",
        )
    elif unit.phases == "three" and supply.phases == "single":
        yield Finding(
            "three_phase_unit",
            "stop",
            where,
            f"{unit.name} needs three phases and the supply has one",
            source,
            "choose a single-phase unit, or have the network operator bring three phases",
        )


def _extension_board(supply: Supply, count: int, immersion_w: float) -> tuple[bool, tuple[Finding, ...]]:
    needed = count * WAYS_PER_UNIT + (WAYS_FOR_IMMERSION if immersion_w > 0 else 0)
    if isinstance(supply.spare_ways, str):
        return True, (
            Finding(
                "spare_ways_not_known",
                "ask",
                "Consumer unit",
                f"{needed} spare ways are needed and those there are not recorded; an extension board is priced",
                str(SOURCE),
                "open the consumer unit and count",
            ),
        )
    return supply.spare_ways < needed, ()


def _earthing_findings(supply: Supply) -> Iterator[Finding]:
    where, source = "Earthing", str(SOURCE)
    if supply.earthing == "unknown":
        yield Finding(
            "earthing_not_known",
            "ask",
            where,
            "the earthing arrangement is not recorded",
            source,
            "look at the cut-out and the earthing terminal",
        )
    elif supply.earthing == "tt":
        yield Finding(
            "earthing_tt",
            "note",
            where,
            "TT earthing: the electrode is tested and every circuit has an RCD; the electrician says whether "
            "the unit needs more",
            source,
        )
    if supply.bonding_sound == "unknown":
        yield Finding(
            "bonding_not_known",
            "ask",
            where,
            "whether water and gas are bonded soundly is not recorded; bonding is priced",
            source,
            "look at the clamps and the size of the conductor",
        )
    elif supply.bonding_sound == "no":
        yield Finding(
            "bonding_unsound", "note", where, "the main bonding is put right before anything is energised", source
        )


def _isolator_findings(position: Position) -> Iterator[Finding]:
    isolator = position.isolator
    if isolator is None or isolator.in_sight_and_reach == "yes":
        return
    known = isolator.in_sight_and_reach == "no"
    message = (
        "the isolator is not within sight and reach of the unit"
        if known
        else "whether the isolator is within sight and reach of the unit is not recorded"
    )
    yield Finding(
        "isolator_out_of_reach" if known else "isolator_reach_not_known",
        "ask",
        position.name,
        message,
        str(SOURCE),
        "the electrician decides where it goes",
    )


def _isolator_sentence(isolator: Isolator | None) -> str:
    rule = "within sight and reach, above or outside any protective zone; the electrician decides"
    if isolator is None:
        return f"A lockable isolator for each unit, its place not recorded yet: {rule}."
    return (
        f"A lockable isolator for each unit, {isolator.distance_m:.2f} m from the case at {isolator.height_m:.2f} m: "
        f"{rule}."
    )
