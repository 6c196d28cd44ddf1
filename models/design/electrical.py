"""The supply with the new load: demand, cable, breaker, isolator, and what the network operator must be told."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from models.catalogue import Cable, OutdoorUnit
from models.design.results import Electrical, LoadDemand
from models.findings import Finding
from models.frozen import quickly_made
from models.physics.diversity import after_diversity_a, load_current_a
from models.reference.place import DiversityTable, NetworkRule, PlaceReference
from models.sources import COMMON_PRACTICE, Source, Why
from models.survey.part import Known
from models.survey.site import Isolator, Load, Position, Supply
from models.units import counted, per_cent

SOURCE = Source("BS 7671:2018+A2:2022", "Appendix 4", "from memory")
WHY = Why(
    sentence="{unit_current_a:.1f} A of outdoor units and {immersion_current_a:.1f} A of immersion heater come to the "
    "demand of today; breaker {breaker_a} A; network operator: {network}. {isolator}",
    source=SOURCE,
)
WAYS_PER_UNIT = 1
WAYS_FOR_IMMERSION = 1
IMMERSION_BREAKER_A = 16
"""The breaker that is priced for an immersion heater; common practice for one of 3 kW."""
METER = "Meter and cut-out"
"""Where a finding of the supply stands."""

Basis = Literal["measured", "plate", "told", "assumed", "from_loads", "unknown"]
KINDS = {
    "lighting": "lighting", "sockets": "socket circuit", "cooker": "cooker", "shower": "electric shower",
    "immersion": "immersion heater", "water_heater": "water heater", "storage_heater": "storage heater",
    "fixed_heating": "electric heater", "floor_warming": "electric floor warming",
    "electric_boiler": "electric boiler", "heat_pump": "heat pump", "ev_charger": "charge point for a vehicle",
    "other": "other load",
}  # fmt: skip
"""What the trade calls one load of each kind."""
HEATING = frozenset({"storage_heater", "fixed_heating", "floor_warming", "electric_boiler", "heat_pump"})
HOW_KNOWN = {
    "measured": "as measured", "plate": "as read off a plate", "told": "as told", "assumed": "as assumed",
}  # fmt: skip


@quickly_made
@dataclass(frozen=True, slots=True)
class HouseDemand:
    """What the house draws without the new units: today, and what of it stays; None where it is not known.

    `give_way_a` is what loads that limit themselves would add to `stays_a` if nothing held them back; `firm_a` is
    what each kind of load counts in `stays_a`.
    """

    before_a: float | None
    stays_a: float | None
    give_way_a: float
    basis: Basis
    loads: tuple[LoadDemand, ...]
    findings: tuple[Finding, ...]
    firm_a: Mapping[str, float]


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
    old_cylinder_goes: bool = False,
    heated_by_electricity: bool = False,
) -> Electrical:
    """The circuit of each outdoor unit and what all of them do to the supply.

    BS 7671:2018+A2:2022, Appendix 4 (from memory). Currents of `count` units and of one immersion heater of
    `immersion_w` (0: none) are added to the demand of today after diversity; that is the surveyed one, else the sum of
    the surveyed loads, of which those that go are left out. With `old_cylinder_goes` the immersion heaters of today are
    among those; with `heated_by_electricity` some of the listed heating is expected to go. Each unit has a cable of its
    own; a three-phase unit is checked by the single-phase drop, which is on the safe side. `cable` is None beside a
    *stop*.
    """
    rule, diversity = place_reference.network, place_reference.diversity
    unit_a = unit.maximum_current_a * count * rule.unit_diversity_ratio
    immersion_a = immersion_w / rule.nominal_voltage_v * rule.immersion_diversity_ratio
    cutout_a = None if isinstance(supply.cutout_a, str) else supply.cutout_a
    house = _house_demand(supply, cutout_a, unit_a + immersion_a, old_cylinder_goes, rule, diversity)
    before_a = house.before_a
    after_a = None
    if house.stays_a is not None:
        after_a = house.stays_a + unit_a + immersion_a
        after_a += _held_back_a(house.give_way_a, after_a, cutout_a)
    check, cable_findings = _cable(supply, unit, cables, rule)
    network, network_findings = _network(supply, after_a, cutout_a, rule)
    board, board_findings = _extension_board(supply, count, immersion_w)
    findings = (
        *_phase_findings(supply, unit),
        *house.findings,
        *(_old_heating_findings(supply, house) if heated_by_electricity else ()),
        *_demand_findings(supply, house, after_a, cutout_a, unit_a, immersion_a, rule, diversity),
        *cable_findings,
        *network_findings,
        *board_findings,
        *_immersion_findings(immersion_w / rule.nominal_voltage_v),
        *_earthing_findings(supply),
        *_isolator_findings(position),
        Finding(
            "electrician_only",
            "note",
            "Consumer unit",
            "a registered electrician designs, installs and tests this circuit to BS 7671; fault loop, RCD, "
            "grouping, meter tails and main switch are not checked here",
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
        demand_basis=house.basis,
        loads=house.loads,
    )


def _house_demand(
    supply: Supply,
    cutout_a: float | None,
    added_a: float,
    old_cylinder_goes: bool,
    rule: NetworkRule,
    diversity: DiversityTable,
) -> HouseDemand:
    """The demand of today and what stays of it. A surveyed one stands before a sum, unless it is itself assumed."""
    known = None if isinstance(supply.demand_before_a, str) else supply.demand_before_a
    how = supply.how_known("demand_before_a")
    surveyed = HouseDemand(known, known, 0.0, "unknown" if known is None else how, (), (), {})
    if not supply.loads:
        return surveyed
    rated, missing = [], []
    for load in supply.loads:
        current_a = load_current_a(load=load, voltage_v=rule.nominal_voltage_v)
        if current_a is None:
            missing.append(load)
        else:
            rated.append((load, current_a))
    source = str(diversity.source)
    findings = [*_above_breaker(rated, source), *_not_rated(missing, source)]
    if missing:
        return replace(surveyed, findings=tuple(findings))
    findings += _incomplete(supply, diversity)
    loads, before_a, firm_a, give_way_a = _sum_of_loads(rated, cutout_a, added_a, old_cylinder_goes, diversity)
    if known is not None and how != "assumed":
        findings.append(_stands_before_loads(known, how, before_a, loads, source))
        return replace(surveyed, loads=loads, findings=tuple(findings))
    findings += _from_loads(supply, before_a, old_cylinder_goes, source)
    return HouseDemand(before_a, sum(firm_a.values()), give_way_a, "from_loads", loads, tuple(findings), firm_a)


def _above_breaker(rated: Iterable[tuple[Load, float]], source: str) -> Iterator[Finding]:
    for load, current_a in rated:
        if load.breaker_a is not None and current_a > load.breaker_a:
            yield Finding(
                "load_above_breaker",
                "note",
                METER,
                f"{_load_words(load)}: {current_a:.1f} A on a breaker of {load.breaker_a:.0f} A",
                source,
                "show it to the electrician",
            )


def _not_rated(missing: Sequence[Load], source: str) -> Iterator[Finding]:
    if missing:
        yield Finding(
            "load_not_rated",
            "ask",
            METER,
            f"neither power nor breaker is recorded of: {', '.join(_load_words(load) for load in missing)}; the loads "
            "cannot be summed",
            source,
            "read the plate or the breaker",
        )


def _incomplete(supply: Supply, diversity: DiversityTable) -> Iterator[Finding]:
    listed = {load.kind for load in supply.loads}
    if absent := [KINDS[kind] for kind in diversity.in_every_house if kind not in listed]:
        yield Finding(
            "loads_incomplete",
            "ask",
            METER,
            f"no {' and no '.join(absent)} is among the loads, and every house has that",
            str(diversity.source),
            "list every circuit of the consumer unit",
        )


def _stands_before_loads(
    known_a: float, how: Known, sum_a: float, loads: Iterable[LoadDemand], source: str
) -> Finding:
    going = any(one.count_after < one.count_before for one in loads)
    return Finding(
        "demand_stands_before_loads",
        "note",
        METER,
        f"the demand of today is taken as {known_a:.1f} A, {HOW_KNOWN[how]}; the sum of the loads would be "
        f"{sum_a:.1f} A" + ("; what goes is not taken off, for it need not have run then" if going else ""),
        source,
        "leave the demand of today empty to count by the loads",
    )


def _from_loads(supply: Supply, sum_a: float, old_cylinder_goes: bool, source: str) -> Iterator[Finding]:
    yield Finding(
        "demand_from_loads",
        "note",
        METER,
        f"the demand of today, {sum_a:.1f} A, is not measured but summed from "
        f"{counted(sum(load.count for load in supply.loads), 'load')} with the diversity of a single household"
        + (" as if all were on one phase" if supply.phases == "three" else ""),
        source,
    )
    if old_cylinder_goes and any(load.kind == "immersion" and not load.goes for load in supply.loads):
        yield Finding(
            "old_immersion_goes",
            "note",
            METER,
            "the immersion heater of today goes with the old cylinder and is not counted afterwards",
            source,
        )


def _old_heating_findings(supply: Supply, house: HouseDemand) -> Iterator[Finding]:
    """The electric heating of today is in the demand of today, and after the works only if it stays."""
    if house.basis == "from_loads":
        if not any(load.kind in HEATING and load.goes for load in supply.loads):
            yield Finding(
                "old_heating_not_among_loads",
                "ask",
                METER,
                "the house is heated by electricity today, and no heating among the loads goes",
                str(SOURCE),
                "list the heating of today, and say what of it goes",
            )
    elif house.before_a is not None:
        yield Finding(
            "old_heating_in_demand",
            "note",
            METER,
            f"the demand of today, {house.before_a:.1f} A, holds the electric heating of today; it is not taken off",
            str(SOURCE),
            "list the loads instead, with what goes",
        )


def _sum_of_loads(
    rated: list[tuple[Load, float]],
    cutout_a: float | None,
    added_a: float,
    old_cylinder_goes: bool,
    diversity: DiversityTable,
) -> tuple[tuple[LoadDemand, ...], float, dict[str, float], float]:
    """The loads by kind, their sum today, and of what stays of them the firm part by kind and the yielding one."""
    staying = [
        (load, current_a)
        for load, current_a in rated
        if not load.goes and not (old_cylinder_goes and load.kind == "immersion")
    ]
    kinds = [kind for kind in diversity.household if any(load.kind == kind for load, _ in rated)]
    before = {kind: _of_kind(kind, rated, diversity) for kind in kinds}
    after = {kind: _of_kind(kind, staying, diversity) for kind in kinds}
    firm_a, give_a = sum(one.firm_a for one in before.values()), sum(one.give_way_a for one in before.values())
    stays_a = {kind: one.firm_a for kind, one in after.items()}
    still_gives_a = sum(one.give_way_a for one in after.values())
    held_a = _held_back_a(give_a, firm_a, cutout_a)
    held_after_a = _held_back_a(still_gives_a, sum(stays_a.values()) + added_a, cutout_a)
    loads = tuple(
        LoadDemand(
            kind=kind,
            count_before=before[kind].count,
            connected_before_a=before[kind].connected_a,
            counted_before_a=before[kind].firm_a + _part(before[kind].give_way_a, held_a, give_a),
            count_after=after[kind].count,
            connected_after_a=after[kind].connected_a,
            counted_after_a=after[kind].firm_a + _part(after[kind].give_way_a, held_after_a, still_gives_a),
        )
        for kind in kinds
    )
    return loads, firm_a + held_a, stays_a, still_gives_a


@dataclass(frozen=True, slots=True)
class _Kind:
    """Loads of one kind: how many, all on, what counts whatever happens, and what of it gives way."""

    count: int
    connected_a: float
    firm_a: float
    give_way_a: float


def _of_kind(kind: str, rated: list[tuple[Load, float]], diversity: DiversityTable) -> _Kind:
    allowance = diversity.household[kind]
    mine = [(load, current_a) for load, current_a in rated if load.kind == kind]

    def counted_a(some: list[tuple[Load, float]]) -> float:
        return after_diversity_a(
            currents_a=[current_a for load, current_a in some for _ in range(load.count)],
            control_sockets=sum(load.count for load, _ in some if load.control_socket),
            allowance=allowance,
        )

    firm_a = counted_a([one for one in mine if not one[0].limited])
    return _Kind(
        sum(load.count for load, _ in mine),
        sum(load.count * current_a for load, current_a in mine),
        firm_a,
        counted_a(mine) - firm_a,
    )


def _held_back_a(give_way_a: float, others_a: float, cutout_a: float | None) -> float:
    """What is left of loads that limit themselves: no more than the cut-out has beside the others."""
    return give_way_a if cutout_a is None else min(give_way_a, max(cutout_a - others_a, 0.0))


def _part(own_a: float, held_a: float, all_a: float) -> float:
    return own_a * held_a / all_a if all_a > 0 else 0.0


def _load_words(load: Load) -> str:
    return load.name or KINDS[load.kind]


def cables_tried(
    *,
    cables: tuple[Cable, ...],
    unit: OutdoorUnit,
    method: Literal["clipped", "buried", "in_insulation", "unknown"],
    length_m: float,
    network: NetworkRule,
) -> tuple[CableCheck, ...]:
    """The sizes from the smallest up to and with the first that passes; all where none does.

    BS 7671:2018+A2:2022, 433.1.1 and 525 (from memory). An unknown method is taken as the worst: in insulation.
    """
    tried: list[CableCheck] = []
    for cable in sorted(cables, key=lambda cable: cable.size_mm2):
        tried.append(
            check_cable(
                cable=cable,
                method="in_insulation" if method == "unknown" else method,
                breaker_a=unit.breaker_a,
                current_a=unit.maximum_current_a,
                length_m=length_m,
                network=network,
            )
        )
        if tried[-1].passes:
            break
    return tuple(tried)


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
    tried = cables_tried(cables=cables, unit=unit, method=method, length_m=supply.cable_route_m, network=rule)
    if tried and tried[-1].passes:
        return tried[-1], tuple(findings)
    findings.append(
        Finding(
            "no_cable_fits",
            "stop",
            where,
            f"no cable of the catalogue carries {unit.breaker_a} A {method.replace('_', ' ')} over "
            f"{supply.cable_route_m:.0f} m within a drop of {per_cent(rule.voltage_drop_limit_ratio)}",
            source,
            "shorten the route, run it another way, or add a larger cable to the catalogue",
        )
    )
    return None, tuple(findings)


def _network(
    supply: Supply, after_a: float | None, cutout_a: float | None, rule: NetworkRule
) -> tuple[Literal["notify", "apply", "not_known"], tuple[Finding, ...]]:
    """What the network operator must be told: one reason is enough to apply, one open point to leave it open."""
    source = str(rule.source)
    reasons = _reasons_to_apply(supply, after_a, cutout_a, rule)
    unknown = _unknown_of_supply(supply, after_a, cutout_a)
    findings: list[Finding] = []
    if supply.looped == "yes":
        findings.append(
            Finding(
                "supply_looped",
                "ask",
                METER,
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
                METER,
                "; ".join(reasons),
                source,
                "apply to the network operator and have its answer before the unit is connected",
            )
        )
    if unknown:
        findings.append(
            Finding("supply_not_known", "ask", METER, "; ".join(unknown), source, _remedy_of_unknown(after_a))
        )
    if reasons:
        return "apply", tuple(findings)
    if unknown:
        return "not_known", tuple(findings)
    findings.append(
        Finding(
            "network_notify",
            "note",
            METER,
            f"the network operator is told within {rule.notify_within_days} days of commissioning",
            source,
        )
    )
    return "notify", tuple(findings)


def _reasons_to_apply(
    supply: Supply, after_a: float | None, cutout_a: float | None, rule: NetworkRule
) -> list[str]:
    reasons = []
    if after_a is not None:
        after_kva = after_a * rule.nominal_voltage_v / 1000
        if after_a > rule.apply_above_a:
            reasons.append(f"the demand becomes {after_a:.1f} A, over {rule.apply_above_a:.0f} A")
        elif supply.phases == "single" and after_kva > rule.apply_above_single_phase_kva:
            reasons.append(
                f"the demand becomes {after_kva:.1f} kVA, over {rule.apply_above_single_phase_kva:g} kVA on one phase"
            )
    if cutout_a is None:
        reasons.append("the rating of the cut-out is not known")
    elif after_a is not None and after_a > cutout_a:
        reasons.append(f"the demand becomes {after_a:.1f} A, over the {cutout_a:.0f} A of the cut-out")
    if supply.looped == "yes":
        reasons.append("the supply is looped with a neighbour's")
    return reasons


def _unknown_of_supply(supply: Supply, after_a: float | None, cutout_a: float | None) -> list[str]:
    return [
        words
        for words, open_point in (
            ("the demand of today is not recorded", after_a is None),
            ("the rating of the cut-out is not recorded", cutout_a is None),
            ("whether the supply is looped is not recorded", supply.looped == "unknown"),
        )
        if open_point
    ]


def _remedy_of_unknown(after_a: float | None) -> str:
    looking = "look at the cut-out and the meter"
    return f"{looking}; list the loads, or have the demand measured" if after_a is None else looking


def _demand_findings(
    supply: Supply,
    house: HouseDemand,
    after_a: float | None,
    cutout_a: float | None,
    unit_a: float,
    immersion_a: float,
    rule: NetworkRule,
    diversity: DiversityTable,
) -> Iterator[Finding]:
    yield Finding(
        "diversity_used",
        "note",
        METER,
        f"{unit_a:.1f} A of outdoor units ({per_cent(rule.unit_diversity_ratio)} of their maximum) and "
        f"{immersion_a:.1f} A of immersion heater ({per_cent(rule.immersion_diversity_ratio)}) are added to the "
        "demand of today",
        str(rule.diversity_source),
    )
    if house.give_way_a > 0 and after_a is not None and house.stays_a is not None:
        drawn_a = after_a - house.stays_a - unit_a - immersion_a
        yield Finding(
            "load_limited",
            "ask" if drawn_a < house.give_way_a else "note",
            METER,
            f"{house.give_way_a:.1f} A give way before the cut-out is overloaded and count for {drawn_a:.1f} A",
            str(diversity.household["ev_charger"].source),
            "the electrician sets the limiter to the cut-out and sees that it also measures the heat pump",
        )
    if cutout_a is None:
        return
    if house.before_a is not None and house.before_a > cutout_a:
        yield Finding(
            "cutout_too_small_today",
            "ask",
            METER,
            f"the demand of today is {house.before_a:.1f} A, already over the {cutout_a:.0f} A of the cut-out",
            str(rule.source),
            "have the demand measured over a cold week",
        )
    if after_a is not None and after_a > cutout_a:
        # A sum by the table lies above what most houses draw: less sure than a demand that somebody took down, and
        # whoever lists the loads must not fare worse than who left them unknown, which is an ask.
        summed = house.basis == "from_loads"
        yield Finding(
            "cutout_too_small",
            "ask" if summed else "stop",
            METER,
            f"the demand becomes {after_a:.1f} A and the cut-out is {cutout_a:.0f} A"
            + (", by the sum of the loads" if summed else ""),
            str(rule.source),
            _ways_out(supply, house, after_a, cutout_a, diversity),
        )


def _ways_out(
    supply: Supply, house: HouseDemand, after_a: float, cutout_a: float, diversity: DiversityTable
) -> str:
    """What helps where the cut-out is too small, the least work first; three phases stand last."""
    ways = []
    for kind, way in (
        ("ev_charger", "let the charge point limit itself to what the cut-out leaves"),
        ("shower", "feed the shower from the new cylinder"),
    ):
        rest_a = after_a - house.firm_a.get(kind, 0.0)
        if rest_a < after_a and rest_a <= cutout_a:
            ways.append(f"{way}: the rest takes {rest_a:.1f} A")
    if house.basis != "measured":
        ways.append("have the demand measured over a cold week")
    ways.append("choose a smaller unit")
    largest_a = diversity.largest_single_phase_cutout_a
    if supply.phases != "three" and cutout_a < largest_a:
        ways.append(f"have the network operator fit a larger cut-out, at most {largest_a:.0f} A on one phase")
    elif supply.phases == "three":
        ways.append("have the network operator fit a larger cut-out")
    if supply.phases != "three":
        ways.append("have the network operator bring three phases")
    return "; or ".join(ways)


def _phase_findings(supply: Supply, unit: OutdoorUnit) -> Iterator[Finding]:
    where, source = METER, str(SOURCE)
    if supply.phases == "unknown":
        yield Finding(
            "phases_not_known",
            "ask",
            where,
            f"whether the supply has one phase or three is not recorded; {unit.name} needs "
            + ("three" if unit.phases == "three" else "one"),
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
                f"{counted(needed, 'spare way')} needed and those there not recorded; an extension board is priced",
                str(SOURCE),
                "open the consumer unit and count",
            ),
        )
    return supply.spare_ways < needed, ()


def _immersion_findings(current_a: float) -> Iterator[Finding]:
    if current_a > IMMERSION_BREAKER_A:
        yield Finding(
            "immersion_above_breaker",
            "ask",
            "Consumer unit",
            f"the immersion heater takes {current_a:.1f} A and its circuit is priced for {IMMERSION_BREAKER_A} A",
            str(COMMON_PRACTICE),
            "choose a smaller heater, or have the electrician price a larger circuit",
        )


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
