"""How much water is in the circuit, how large a vessel takes its growth, is enough of it always open to the unit?"""

import math
from typing import NamedTuple

from models.catalogue import Cylinder, OutdoorUnit, Vessel, Volumiser
from models.design.results import EmitterSchedule, FrostProtection, Offer, Primary, SystemVolume
from models.findings import Finding
from models.physics.fluids import expansion_ratio, mass_ratio_of_volume
from models.physics.friction import ASSUMED_BRANCH_MM, ASSUMED_MAIN_MM, heating_pipe_bore_mm
from models.reference.load import Reference
from models.sources import COMMON_PRACTICE, Source, Why
from models.survey import Emitter, Survey
from models.units import exact, whole_up

SOURCE = Source("BS EN 12828:2012+A1:2014", "Annex D, expansion vessels", "from memory")
WHY = Why(
    sentence=(
        "{total_l:.0f} L grow by {expansion_l:.1f} L; with {reserve_l:.1f} L in reserve a vessel of "
        "{vessel_needed_l:.1f} L is needed"
    ),
    source=SOURCE,
)

FILL_TEMP_C = 10.0
RESERVE_RATIO = 0.005
RESERVE_AT_LEAST_L = 3.0
SAFETY_VALVE_BAR = 3.0
BELOW_SAFETY_VALVE_BAR = 0.5
CHARGE_OVER_STATIC_BAR = 0.3
CHARGE_AT_LEAST_BAR = 0.7
"""BS EN 12828 Annex D, from memory: 0.5 % and 3 L; 0.5 bar below the valve; 0.3 bar over the static head, 0.7 bar."""
BAR_PER_M = 0.0981
STOREY_M = 2.5

BRANCH_M = 3.0
"""Flow or return between the mains and one emitter (common practice, no source)."""
NEW_BRANCH_MM = 15
OPEN_VALVES = frozenset({"manual", "none"})
"""Valves that no thermostat closes. Unknown and seized ones count as closed: the careful side for the open volume."""

DRINKING_VESSELS_L = ((200.0, 18.0), (math.inf, 24.0))
"""Up to this store, this vessel (common practice, no source)."""


def vessel_l(*, taken_l: float, charge_bar: float, final_bar: float) -> float:
    """Nominal volume of a vessel that takes `taken_l` between its charge and the final pressure, both above atmosphere.

    Boyle; BS EN 12828 Annex D, V = taken (pe + 1)/(pe - p0). Raises ValueError where the final pressure is not above
    the charge.
    """
    if final_bar <= charge_bar:
        raise ValueError(f"the final pressure of {final_bar:g} bar is not above the charge of {charge_bar:g} bar")
    return taken_l * (final_bar + 1) / (final_bar - charge_bar)


def charge_pressure_bar(*, static_height_m: float) -> float:
    """Gas pressure of the empty vessel: static head and 0.3 bar, at least 0.7 bar. BS EN 12828 Annex D, from memory."""
    return max(static_height_m * BAR_PER_M + CHARGE_OVER_STATIC_BAR, CHARGE_AT_LEAST_BAR)


def content_l(*, length_m: float, bore_mm: float) -> float:
    """Water in a pipe, L."""
    return math.pi / 4 * bore_mm * bore_mm * length_m / 1000


def system_volume(
    *,
    survey: Survey,
    schedule: EmitterSchedule,
    primary: Primary,
    longest_run_m: float,
    unit: OutdoorUnit,
    count: int,
    cylinder: Cylinder | None,
    frost: FrostProtection,
    vessels: tuple[Offer[Vessel], ...],
    volumisers: tuple[Offer[Volumiser], ...],
    reference: Reference,
) -> SystemVolume:
    """Content of the circuit by parts, its expansion, the vessels, and the volume that nothing can close.

    BS EN 12828 Annex D; the growth from filling at 10 C to the hottest flow that the maker rates the unit for, by
    the densities of `physics.fluids`. The heating pipes that stay are reckoned as the longest run (`longest_run_m`,
    one way, as the index circuit has it) twice in the size of the mains and twice 3 m of branch an emitter. The
    always-open volume is primary, units and the emitters that no thermostat closes: those of the room with the
    sensor and those with manual valves. Stops: `no_vessel_large_enough`, `no_volumiser`, `no_drinking_vessel`.
    """
    hung = _hung(survey, schedule)
    pipework = survey.existing.pipework
    main_mm = ASSUMED_MAIN_MM if pipework.main_mm == "unknown" else pipework.main_mm
    branch_mm = ASSUMED_BRANCH_MM if pipework.branch_mm == "unknown" else pipework.branch_mm
    pipes_l = (
        primary.water_l
        + content_l(length_m=2 * longest_run_m, bore_mm=_bore_mm(main_mm, pipework.material, reference))
        + content_l(length_m=2 * BRANCH_M * hung.pieces, bore_mm=_bore_mm(branch_mm, pipework.material, reference))
        + content_l(length_m=hung.new_branches_m, bore_mm=_bore_mm(NEW_BRANCH_MM, "copper", reference))
    )
    units_l = count * unit.water_l
    coil_l = 0.0 if cylinder is None else cylinder.coil_volume_l
    open_l = primary.water_l + units_l + hung.open_l
    minimum_l = count * unit.minimum_volume_l

    findings: list[Finding] = []
    volumiser, volumiser_count = _volumiser(minimum_l - open_l, volumisers, unit, findings)
    added_l = volumiser_count * volumiser.volume_l if volumiser is not None else 0.0
    total_l = pipes_l + hung.water_l + units_l + coil_l + added_l

    growth = expansion_ratio(
        fill_temp_c=FILL_TEMP_C,
        maximum_temp_c=max(rating.flow_temp_c for rating in unit.ratings),
        glycol_mass_ratio=mass_ratio_of_volume(volume_ratio=frost.glycol_ratio),
    )
    expansion_l = growth * total_l
    reserve_l = max(RESERVE_RATIO * total_l, RESERVE_AT_LEAST_L)
    needed_l = vessel_l(
        taken_l=expansion_l + reserve_l,
        charge_bar=charge_pressure_bar(static_height_m=survey.house.storeys * STOREY_M),
        final_bar=SAFETY_VALVE_BAR - BELOW_SAFETY_VALVE_BAR,
    )
    vessel = _next_larger(vessels, "heating", needed_l)
    if vessel is None:
        findings.append(_no_vessel(vessels, total_l, needed_l))
    return SystemVolume(
        pipes_l=pipes_l,
        emitters_l=hung.water_l,
        unit_and_coil_l=units_l + coil_l,
        total_l=total_l,
        expansion_ratio=growth,
        expansion_l=expansion_l,
        reserve_l=reserve_l,
        vessel_needed_l=needed_l,
        vessel=vessel,
        open_l=open_l + added_l,
        minimum_l=minimum_l,
        volumiser=volumiser,
        volumiser_count=volumiser_count,
        drinking_vessel=_drinking_vessel(cylinder, vessels, findings),
        findings=tuple(findings),
    )


class _Hung(NamedTuple):
    """The emitters that hang after the works: how many, their water, what of it stays open, new pipe both ways."""

    pieces: int
    water_l: float
    open_l: float
    new_branches_m: float


def _hung(survey: Survey, schedule: EmitterSchedule) -> _Hung:
    emitters = {(room.id, emitter.id): emitter for room in survey.rooms for emitter in room.emitters}
    sensor_rooms = {room.id for room in survey.rooms if room.has_sensor}
    water_l = open_l = new_branches_m = 0.0
    pieces = 0
    for room in schedule.rooms:
        for step in room.steps:
            if step.action == "remove":
                continue
            pieces += 1
            water_l += step.water_l
            if step.action == "add":
                new_branches_m += 2 * step.run_m
            old = None if step.emitter_id is None else emitters.get((room.room_id, step.emitter_id))
            if room.room_id in sensor_rooms or (not step.new_valves and _stays_open(old)):
                open_l += step.water_l
    return _Hung(pieces, water_l, open_l, new_branches_m)


def _stays_open(emitter: Emitter | None) -> bool:
    return emitter is not None and emitter.valves in OPEN_VALVES


def _bore_mm(size_mm: int, material: str, reference: Reference) -> float:
    return heating_pipe_bore_mm(size_mm=size_mm, material=material, tubes=reference.tubes)[1]


def _next_larger(vessels: tuple[Offer[Vessel], ...], for_water: str, needed_l: float) -> Vessel | None:
    fitting = [offer for offer in vessels if offer.item.for_water == for_water and offer.item.volume_l >= needed_l]
    if not fitting:
        return None
    return min(fitting, key=lambda offer: (offer.item.volume_l, offer.cost_pence, offer.item.sku)).item


def _no_vessel(vessels: tuple[Offer[Vessel], ...], total_l: float, needed_l: float) -> Finding:
    largest_l = max((offer.item.volume_l for offer in vessels if offer.item.for_water == "heating"), default=0)
    return Finding(
        "no_vessel_large_enough",
        "stop",
        "expansion vessel",
        f"{total_l:.0f} L of water need a vessel of {needed_l:.1f} L; the largest in the catalogue has {largest_l:g} L",
        str(SOURCE),
        "put a larger vessel into the catalogue, or two side by side",
    )


def _volumiser(
    short_l: float, volumisers: tuple[Offer[Volumiser], ...], unit: OutdoorUnit, findings: list[Finding]
) -> tuple[Volumiser | None, int]:
    """The cheapest volumisers of one size that close the gap, and how many."""
    if exact(short_l) <= 0:
        return None, 0
    if not volumisers:
        findings.append(
            Finding(
                "no_volumiser",
                "stop",
                unit.name,
                f"{short_l:.1f} L of always-open water are missing and the catalogue has no volumiser",
                "maker's record",
                "put a volumiser into the catalogue, or leave more emitters without thermostatic valves",
            )
        )
        return None, 0

    def cost(offer: Offer[Volumiser]) -> tuple[int, int, str]:
        pieces = whole_up(short_l / offer.item.volume_l)
        return pieces * offer.cost_pence, pieces, offer.item.sku

    best = min(volumisers, key=cost)
    count = whole_up(short_l / best.item.volume_l)
    findings.append(
        Finding(
            "volumiser_needed",
            "note",
            unit.name,
            f"the always-open water is {short_l:.1f} L short of what the maker asks for: {count} x "
            f"{best.item.volume_l:g} L are added",
            "maker's record",
        )
    )
    return best.item, count


def _drinking_vessel(
    cylinder: Cylinder | None, vessels: tuple[Offer[Vessel], ...], findings: list[Finding]
) -> Vessel | None:
    """The vessel on the cold side of the store."""
    if cylinder is None:
        return None
    needed_l = next(vessel for store, vessel in DRINKING_VESSELS_L if cylinder.volume_l <= store)
    vessel = _next_larger(vessels, "drinking", needed_l)
    if vessel is None:
        findings.append(
            Finding(
                "no_drinking_vessel",
                "stop",
                cylinder.name,
                f"a store of {cylinder.volume_l:g} L needs a drinking-water vessel of {needed_l:g} L, which is not in "
                "the catalogue",
                str(COMMON_PRACTICE),
                "put the vessel into the catalogue",
            )
        )
    return vessel
