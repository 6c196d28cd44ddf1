"""Whether a unit may stand at a position: room around it, the wall, planning and how it gets there."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal

from models.catalogue import OutdoorUnit
from models.design.results import NoiseAt, Siting, ZoneCheck
from models.findings import Finding, sorted_findings
from models.reference.place import Limit, PlaceReference, PlanningRule
from models.sources import COMMON_PRACTICE, Source, Why
from models.survey.house import House
from models.survey.site import Position
from models.units import counted

SOURCE = Source("the unit's installation instructions, clearances", standing="maker's record")
WHY = Why(sentence="{name}: {planning} by planning, because {planning_reasons}.", source=SOURCE)

GROUND_STOREY_M = 2.5
"""How far up the ground floor of a house reaches outside: common practice, no source."""
UNDER_WINDOW_M = 1.0
"""A window nearer than this to the side stands over the unit: common practice, no source."""

Planning = Literal["permitted", "application_needed", "not_known"]


@dataclass(slots=True)
class _Reasons:
    """What planning turns on at one position: reasons for an application, open points, and what is met."""

    application: list[str]
    open: list[str]
    met: list[str]


def siting(
    *,
    position: Position,
    unit: OutdoorUnit,
    count: int,
    house: House,
    noise: tuple[NoiseAt, ...],
    noise_findings: tuple[Finding, ...],
    zone: tuple[ZoneCheck, ...],
    zone_findings: tuple[Finding, ...],
    on: date,
    place_reference: PlaceReference,
    ground_findings: tuple[Finding, ...] = (),
) -> Siting:
    """One position judged for `count` units of a kind: clearances, mounting, planning, carrying, noise and zone.

    The unit's installation instructions; the permitted development order of the nation on the date. `noise`, `zone`
    and their findings are those of the same position, `ground_findings` what meltwater, base and route there add.
    Raises NotYetInForce before the first dated planning rule.
    """
    clearances = _clearances(position, unit)
    findings = [
        *_clearance_findings(position, unit, clearances),
        *_row_findings(position, unit, count),
        *_mount_findings(position, unit, place_reference)]
    rule, record = place_reference.planning_at(house.nation, on)
    planning, reasons = _planning(
        position=position, unit=unit, count=count, house=house, noise=noise, rule=rule, source=str(record.source)
    )
    findings.extend(_planning_findings(position, planning, reasons, str(record.source)))
    if (review := record.review_finding(on)) is not None:
        findings.append(review)
    findings.extend(_handling_findings(position, unit, place_reference))
    findings.extend(_window_findings(position, unit))
    findings.extend(_consent_findings(house))
    return Siting(
        position_id=position.id,
        name=position.name,
        clearances=clearances,
        noise=noise,
        zone=zone,
        planning=planning,
        planning_reasons=reasons,
        findings=sorted_findings((*findings, *noise_findings, *zone_findings)),
        ground_findings=ground_findings,
    )


def rank_positions(*, sitings: tuple[Siting, ...], routes: Mapping[str, float]) -> tuple[str, ...]:
    """Position ids, the best first: fewest stops, then fewest asks, then the shortest pipe route.

    The firm's rule; meltwater, base and length of route count with the rest.
    `routes` gives the route of each position, m one way. Equal ones keep the order of the survey.
    """
    return tuple(s.position_id for s in sorted(sitings, key=lambda s: (*_counts(s), routes[s.position_id])))


def rank_reason(*, siting: Siting, route_m: float) -> str:
    """Why a position ranks where it does, in one sentence.

    The firm's rule, as in `rank_positions`. `route_m` one way.
    """
    stops, asks = _counts(siting)
    return f"{siting.name}: {stops} that stop it, {asks} to be accepted, {route_m:.1f} m of pipe route"


def _counts(siting: Siting) -> tuple[int, int]:
    strengths = [finding.strength for finding in (*siting.findings, *siting.ground_findings)]
    return strengths.count("stop"), strengths.count("ask")


def _clearances(position: Position, unit: OutdoorUnit) -> tuple[tuple[str, int, int, bool], ...]:
    """Side, needed mm, there mm and whether that is enough."""
    sides = (
        ("back", unit.clear_back_mm, position.clear_back_mm),
        ("left", unit.clear_left_mm, position.clear_left_mm),
        ("right", unit.clear_right_mm, position.clear_right_mm),
        ("front", unit.clear_front_mm, position.clear_front_mm),
        ("above", unit.clear_above_mm, position.clear_above_mm),
    )
    return tuple((side, needed, there, there >= needed) for side, needed, there in sides)


def _clearance_findings(
    position: Position, unit: OutdoorUnit, clearances: tuple[tuple[str, int, int, bool], ...]
) -> Iterator[Finding]:
    for side, needed_mm, there_mm, enough in clearances:
        if not enough:
            yield Finding(
                "clearance_short",
                "stop",
                position.name,
                f"{unit.name} needs {needed_mm} mm {_side(side)} and there are {there_mm} mm",
                str(SOURCE),
                f"move the unit by {needed_mm - there_mm} mm, or choose another position",
            )


def _row_findings(position: Position, unit: OutdoorUnit, count: int) -> Iterator[Finding]:
    """Whether the units after the first have room beside it: the base under them has the same distance between them."""
    if count == 1:
        return
    between_mm = max(unit.clear_left_mm, unit.clear_right_mm)
    more_mm = (count - 1) * (unit.width_mm + between_mm)
    spare_mm = position.clear_left_mm + position.clear_right_mm - unit.clear_left_mm - unit.clear_right_mm
    if spare_mm < more_mm:
        yield Finding(
            "units_do_not_fit",
            "stop",
            position.name,
            f"{count} units side by side take {more_mm} mm more than one with its clearances, and {max(spare_mm, 0)} "
            "mm are spare to its left and right",
            str(SOURCE),
            "choose a wider position, or one larger unit",
        )
    elif position.openings or position.windows:
        yield Finding(
            "measured_from_one_unit",
            "ask",
            position.name,
            f"distances to openings and windows were surveyed from one case, and {count} stand in a row",
            str(SOURCE),
            "measure them again from the nearest of the cases",
        )


def _side(side: str) -> str:
    return {"back": "behind it", "front": "in front", "above": "above it"}.get(side, f"on the {side}")


def _mount_findings(position: Position, unit: OutdoorUnit, place_reference: PlaceReference) -> Iterator[Finding]:
    if position.mount != "wall":
        return
    source, heaviest_kg = str(place_reference.wall_mount_source), place_reference.wall_mount_heaviest_kg
    remedy = "stand it on the ground"
    if position.against == "free_standing":
        yield Finding(
            "hangs_yet_stands_free",
            "ask",
            position.name,
            "the position says both that the unit hangs on a wall and that it stands free of walls",
            source,
            "say which: clearances, sound and the protective zone depend on it",
        )
    if unit.mass_kg > heaviest_kg:
        yield Finding(
            "wall_mount_too_heavy",
            "stop",
            position.name,
            f"{unit.name} weighs {unit.mass_kg:.0f} kg; no more than {heaviest_kg:.0f} kg are hung on a wall",
            source,
            remedy,
        )
    if not unit.wall_bracket_allowed:
        yield Finding(
            "wall_bracket_not_allowed",
            "stop",
            position.name,
            f"the maker does not allow {unit.name} on a wall bracket",
            str(SOURCE),
            remedy,
        )
    if position.wall == "unknown":
        yield Finding(
            "wall_not_known",
            "ask",
            position.name,
            "what the wall is built of is not recorded",
            source,
            "look: a bracket wants sound masonry",
        )
    elif position.wall != "masonry":
        yield Finding(
            "wall_not_masonry",
            "stop",
            position.name,
            f"the wall is {position.wall.replace('_', ' ')}, a bracket wants sound masonry",
            source,
            remedy,
        )


def _planning(
    *,
    position: Position,
    unit: OutdoorUnit,
    count: int,
    house: House,
    noise: tuple[NoiseAt, ...],
    rule: PlanningRule,
    source: str,
) -> tuple[Planning, tuple[str, ...]]:
    """Whether permitted development covers the units, and the reasons: those that decide it."""
    found = _Reasons([], [], [])
    _units(found, rule, house, count)
    _volume(found, rule, house, unit, count)
    _places(found, rule, position, unit)
    _highway(found, rule, position, unit)
    _heritage(found, position, house)
    _noise(found, rule, noise)
    if not rule.confirmed:
        found.open.append(f"the rule is not confirmed: {source}")
    if found.application:
        return "application_needed", tuple(found.application)
    if found.open:
        return "not_known", tuple(found.open)
    return "permitted", tuple(found.met)


def _units(found: _Reasons, rule: PlanningRule, house: House, count: int) -> None:
    detached = house.dwelling_type == "detached"
    limit = rule.max_units_detached if detached else rule.max_units_other
    if house.dwelling_type == "bungalow" and _between(limit, count, rule.max_units_detached):
        # A bungalow may or may not stand alone, and the survey's word does not say.
        found.open.append(f"a detached bungalow may have {rule.max_units_detached} units: say whether it is one")
        return
    _judge(found, limit, count, counted(count, "unit"), "units", "")


def _between(low: Limit, value: float, high: Limit) -> bool:
    """Whether a value is over the lower of two known limits and not over the higher."""
    return isinstance(low, float) and isinstance(high, float) and low < value <= high


def _volume(found: _Reasons, rule: PlanningRule, house: House, unit: OutdoorUnit, count: int) -> None:
    """Each unit against the limit; where only all together exceed it, the wording of the order must be read."""
    limit = rule.max_volume_flat_m3 if house.dwelling_type == "flat" else rule.max_volume_house_m3
    one_m3 = unit.width_mm * unit.depth_mm * unit.height_mm / 1e9
    all_m3 = one_m3 * count
    if isinstance(limit, float) and one_m3 <= limit < all_m3:
        found.open.append(
            f"{count} units of {one_m3:.2f} m3 make {all_m3:.2f} m3, over {limit:g} m3 if they count together"
        )
        return
    _judge(found, limit, all_m3, f"a volume of {all_m3:.2f} m3", "volume", " m3")


def _places(found: _Reasons, rule: PlanningRule, position: Position, unit: OutdoorUnit) -> None:
    if isinstance(position.boundary_m, str):
        if rule.boundary_m != "none":
            found.open.append("the distance to the boundary is not recorded")
    elif isinstance(rule.boundary_m, float):
        words = f"{position.boundary_m:.2f} m to the boundary, {rule.boundary_m:g} m asked"
        (found.met if position.boundary_m >= rule.boundary_m else found.application).append(words)
    elif rule.boundary_m == "not_known":
        found.open.append("the limit of distance to the boundary is not known")
    if rule.max_height_m != "none":
        if position.mount == "ground":
            _judge(
                found, rule.max_height_m, unit.height_mm / 1000, f"{unit.height_mm / 1000:.2f} m high", "height", " m"
            )
        elif isinstance(position.mount_height_m, str):
            found.open.append("how high the unit will hang is not recorded")
        else:
            top_m = position.mount_height_m + unit.height_mm / 1000
            _judge(found, rule.max_height_m, top_m, f"{top_m:.2f} m high", "height", " m")
    if position.mount == "wall" and rule.max_protrusion_m != "none":
        out_m = (unit.clear_back_mm + unit.depth_mm) / 1000
        _judge(found, rule.max_protrusion_m, out_m, f"{out_m:.2f} m out from the wall", "protrusion", " m")


def _highway(found: _Reasons, rule: PlanningRule, position: Position, unit: OutdoorUnit) -> None:
    """A unit on a wall that fronts a highway: nowhere there, or no higher than the ground floor."""
    if position.mount != "wall" or rule.facing_highway == "permitted" or position.faces_highway == "no":
        return
    where = ""
    if rule.facing_highway == "ground_storey":
        if isinstance(position.mount_height_m, str):
            found.open.append("how high the unit will hang on a wall that may front a highway is not recorded")
            return
        top_m = position.mount_height_m + unit.height_mm / 1000
        if top_m <= GROUND_STOREY_M:
            return
        where = f" up to {top_m:.2f} m, above the ground floor,"
    if position.faces_highway == "yes":
        found.application.append(f"it would hang{where} on a wall that fronts a highway")
    else:
        found.open.append(f"it would hang{where} on a wall of which nobody recorded whether it fronts a highway")


def _heritage(found: _Reasons, position: Position, house: House) -> None:
    """Listed building and conservation area, in words that hold in every nation (from memory)."""
    if house.listed == "yes":
        found.application.append("the building is listed: permission and listed building consent")
    elif house.listed == "unknown":
        found.open.append("whether the building is listed is not recorded")
    if house.conservation_area == "unknown":
        found.open.append("whether this is a conservation area is not recorded")
    elif house.conservation_area == "yes":
        if position.faces_highway == "yes":
            found.application.append("it would face a highway in a conservation area")
        else:
            found.open.append("in a conservation area further conditions hold: ask the planning authority")


def _noise(found: _Reasons, rule: PlanningRule, noise: tuple[NoiseAt, ...]) -> None:
    if rule.noise_standard == "none":
        return
    loud = [at.where for at in noise if at.passes is False]
    if loud:
        found.application.append(f"the noise at {', '.join(loud)} is over the limit of {rule.noise_standard}")
    elif rule.noise_standard == "not_known" or any(at.passes is None for at in noise):
        found.open.append("the noise limit is not known")
    elif noise:
        found.met.append(f"the noise keeps {rule.noise_standard} at every recorded window")
    else:
        found.open.append("no neighbour's window is recorded, so the noise is not judged")


def _judge(found: _Reasons, limit: Limit, value: float, words: str, what: str, unit: str) -> None:
    if limit == "none":
        return
    if isinstance(limit, str):
        found.open.append(f"the limit of {what} is not known")
    elif value <= limit:
        found.met.append(f"{words}, at most {limit:g}{unit}")
    else:
        found.application.append(f"{words}, at most {limit:g}{unit}")


def _planning_findings(
    position: Position, planning: Planning, reasons: tuple[str, ...], source: str
) -> Iterator[Finding]:
    if planning == "application_needed":
        yield Finding(
            "planning_application_needed",
            "ask",
            position.name,
            "; ".join(reasons),
            source,
            "apply for planning permission before work begins, or choose another position or unit",
        )
    elif planning == "not_known":
        yield Finding(
            "planning_not_known",
            "ask",
            position.name,
            "; ".join(reasons),
            source,
            "settle these points with the planning authority before work begins",
        )


def _window_findings(position: Position, unit: OutdoorUnit) -> Iterator[Finding]:
    """A window of the house over or close to the unit, which the protective zone need not reach."""
    foot_m = 0.0 if isinstance(position.mount_height_m, str) else position.mount_height_m
    top_m = unit.height_mm / 1000 + foot_m
    for opening in position.openings:
        near = opening.distance_m < UNDER_WINDOW_M and opening.height_m >= top_m
        if opening.what in ("window", "roof_window") and near:
            yield Finding(
                "unit_below_window",
                "ask",
                position.name,
                f"{opening.name} is {opening.height_m - top_m:.2f} m above the top of {unit.name} and "
                f"{opening.distance_m:.2f} m to the side: its sound and cold air reach whoever opens it",
                str(COMMON_PRACTICE),
                "move the unit to the side, or agree it with those who sleep or sit there",
            )


def _consent_findings(house: House) -> Iterator[Finding]:
    """Who must agree besides the one who ordered the work."""
    if house.tenure == "leasehold" or house.dwelling_type == "flat":
        what = "the home is leasehold" if house.tenure == "leasehold" else "the home is a flat"
        yield Finding(
            "freeholder_consent",
            "ask",
            "house",
            f"{what}: outside walls, roof, ground and risers are likely to belong to somebody else, who must agree to "
            "the unit, its pipes and its cable",
            str(COMMON_PRACTICE),
            "have the freeholder's and managing agent's consent in writing before the quote is accepted",
        )
    if house.tenure in ("private_rented", "social_rented"):
        yield Finding(
            "landlord_consent",
            "ask",
            "house",
            "the home is rented: its owner orders the work, and whoever lives there agrees the days without heating",
            str(COMMON_PRACTICE),
            "address the quote to the owner and have consent in writing",
        )


def _handling_findings(position: Position, unit: OutdoorUnit, place_reference: PlaceReference) -> Iterator[Finding]:
    rule = place_reference.handling
    source = str(rule.source)
    by_hand_kg = rule.one_person_kg * rule.people
    if unit.mass_kg > rule.lifting_aid_above_kg:
        yield Finding(
            "lifting_aid_needed",
            "note",
            position.name,
            f"{unit.name} weighs {unit.mass_kg:.0f} kg, over {rule.lifting_aid_above_kg:.0f} kg: a lifting "
            "aid and a plan for the lift",
            source,
        )
    elif unit.mass_kg > by_hand_kg:
        yield Finding(
            "heavy_lift",
            "note",
            position.name,
            f"{unit.name} weighs {unit.mass_kg:.0f} kg, more than {rule.people} people at "
            f"{rule.one_person_kg:.0f} kg each should lift without thought: plan the lift",
            source,
        )
    if position.carry_m > rule.long_carry_m:
        yield Finding(
            "long_carry",
            "note",
            position.name,
            f"everything is carried {position.carry_m:.0f} m, over {rule.long_carry_m:.0f} m",
            source,
        )
    if position.mount == "wall":
        yield Finding(
            "work_at_height",
            "note",
            position.name,
            "a unit on a bracket is lifted and worked on above the ground: plan access and the lift",
            "Work at Height Regulations 2005 (from memory)",
        )
