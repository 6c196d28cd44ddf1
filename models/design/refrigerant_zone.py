"""Whether an opening, a drain or a source of ignition lies in the maker's zone around a flammable refrigerant."""

import math
from collections.abc import Iterator

from models.catalogue import OutdoorUnit, ZoneRecord
from models.design.results import ZoneCheck
from models.findings import Finding
from models.reference.place import PlaceReference
from models.sources import Source, Why
from models.survey.site import Isolator, Opening, Position, told_apart

SOURCE = Source("the unit's installation instructions, protective zone", standing="maker's record")
WHY = Why(
    sentence="{name} is {distance_m:.2f} m from the case and {height_m:.2f} m up; the maker's protective zone reaches "
    "{reach_m:.2f} m to the side.",
    source=SOURCE,
)
LOW_OPENINGS = frozenset({"drain", "gully", "light_well", "basement_opening"})
"""What lies at or below the ground: heavy gas runs there, so height never takes it out of the zone."""
IGNITION = frozenset({"flue", "socket", "light_fitting", "other_ignition"})
CAUTION = (
    "work on the refrigerant circuit is only for a competent person trained for flammable refrigerants, certified "
    "under the F-gas rules where the gas is fluorinated; the maker's instructions rule over this check"
)


def zone_checks(
    *, position: Position, unit: OutdoorUnit, place_reference: PlaceReference
) -> tuple[tuple[ZoneCheck, ...], tuple[Finding, ...]]:
    """Every opening, source of ignition and the isolator against the unit's protective zone at a position.

    The unit's installation instructions, as its catalogue record holds them. Inside is nearer than the reach and
    lower than the top of the zone; the zone goes down to the ground and follows it. No checks where the refrigerant
    does not burn. A flammable unit without a record for this way of standing is a *stop* and gives no checks.
    """
    here, source = position.name, str(SOURCE)
    burns = place_reference.refrigerants.burns(unit.refrigerant)
    if burns is None:
        return (), (
            Finding(
                "refrigerant_class_not_known",
                "stop",
                here,
                f"the safety class of {unit.refrigerant} in {unit.name} is not in the table",
                str(place_reference.refrigerants.source),
                "look the class up and add it to the table",
            ),
        )
    if not burns:
        return (), ()
    record = next((z for z in unit.zones if (z.against, z.mount) == (position.against, position.mount)), None)
    if record is None:
        return (), (
            Finding(
                "zone_not_recorded",
                "stop",
                here,
                f"{unit.name} holds {unit.refrigerant} and has no protective zone on record for a "
                f"{position.mount}-mounted unit, {_against(position)}",
                source,
                "enter the zone from the maker's instructions, or choose another way of standing",
            ),
        )
    top_m = _top_m(position, unit, record)
    checks: list[ZoneCheck] = []
    findings: list[Finding] = [Finding("flammable_refrigerant", "note", here, _caution(unit), source)]
    findings.extend(_height_findings(position, record, top_m))
    names = told_apart([opening.name for opening in position.openings])
    for opening, name in zip(position.openings, names, strict=True):
        check = _check(opening, name, record, top_m)
        checks.append(check)
        if check.inside:
            findings.append(_inside(here, check, unit))
    findings.extend(_surroundings(position, record))
    isolator_check, isolator_findings = _isolator(here, position.isolator, record, top_m)
    if isolator_check is not None:
        checks.append(isolator_check)
    return tuple(checks), (*findings, *isolator_findings)


def _top_m(position: Position, unit: OutdoorUnit, record: ZoneRecord) -> float | None:
    case_m = unit.height_mm / 1000
    if position.mount == "ground":
        return case_m + record.above_top_m
    if isinstance(position.mount_height_m, str):
        return None
    return position.mount_height_m + case_m + record.above_top_m


def _height_findings(position: Position, record: ZoneRecord, top_m: float | None) -> Iterator[Finding]:
    if top_m is None:
        yield Finding(
            "mount_height_not_known",
            "ask",
            position.name,
            "how high the unit will hang is not recorded; everything within reach counts as inside the zone",
            str(SOURCE),
            "measure the height of the lower edge of the unit above the ground",
        )
    elif (
        not isinstance(position.mount_height_m, str)
        and position.mount == "wall"
        and 0 < record.below_mounting_m < position.mount_height_m
    ):
        yield Finding(
            "zone_below_record",
            "ask",
            position.name,
            f"the maker shows the zone {record.below_mounting_m:.2f} m below the mounting, the unit hangs at "
            f"{position.mount_height_m:.2f} m; the zone is taken down to the ground",
            str(SOURCE),
            "ask the maker about this mounting height",
        )


def _check(opening: Opening, name: str, record: ZoneRecord, top_m: float | None) -> ZoneCheck:
    below_top = top_m is None or opening.height_m < top_m or opening.what in LOW_OPENINGS
    return ZoneCheck(
        what=opening.what,
        name=name,
        distance_m=opening.distance_m,
        reach_m=record.reach_m,
        height_m=opening.height_m,
        zone_top_m=top_m,
        inside=opening.distance_m < record.reach_m and below_top,
    )


def _inside(here: str, check: ZoneCheck, unit: OutdoorUnit) -> Finding:
    ignites = check.what in IGNITION
    away_m = math.ceil((check.reach_m - check.distance_m) * 100 - 1e-6) / 100
    remedy = (
        f"move the source of ignition, or the unit, {away_m:.2f} m further away, or choose another position"
        if ignites
        else f"move the unit {away_m:.2f} m further away from it, or choose another position or unit"
    )
    return Finding(
        "ignition_in_zone" if ignites else "opening_in_zone",
        "stop",
        here,
        f"{check.name} ({check.what.replace('_', ' ')}){' can ignite gas and' if ignites else ''} lies "
        f"{check.distance_m:.2f} m from the case, inside the protective zone of {check.reach_m:.2f} m of {unit.name} "
        f"({unit.refrigerant})",
        str(SOURCE),
        remedy,
    )


def _surroundings(position: Position, record: ZoneRecord) -> Iterator[Finding]:
    for code, what, distance_m in (
        ("boundary", "the boundary", position.boundary_m),
        ("path", "a path that others use", position.path_m),
    ):
        if isinstance(distance_m, str):
            yield Finding(
                f"{code}_distance_not_known",
                "ask",
                position.name,
                f"the distance to {what} is not recorded; the protective zone reaches {record.reach_m:.2f} m",
                str(SOURCE),
                "measure it",
            )
        elif distance_m < record.reach_m:
            yield Finding(
                f"zone_reaches_{code}",
                "ask",
                position.name,
                f"{what} is {distance_m:.2f} m from the case and the protective zone reaches {record.reach_m:.2f} m",
                str(SOURCE),
                "nobody may bring a source of ignition there: choose another position or settle it with "
                "whoever uses that ground",
            )


def _isolator(
    here: str, isolator: Isolator | None, record: ZoneRecord, top_m: float | None
) -> tuple[ZoneCheck | None, tuple[Finding, ...]]:
    """The isolator is a source of ignition below the top of the zone; above it the zone does not exclude it."""
    source = str(SOURCE)
    if isolator is None:
        return None, (
            Finding(
                "isolator_place_not_known",
                "ask",
                here,
                "where the isolator is to go is not recorded",
                source,
                f"record its distance and height: more than {record.reach_m:.2f} m from the case, or above the top of "
                "the protective zone",
            ),
        )
    within_reach = isolator.distance_m < record.reach_m
    inside = within_reach and (top_m is None or isolator.height_m <= top_m)
    check = ZoneCheck("isolator", "isolator", isolator.distance_m, record.reach_m, isolator.height_m, top_m, inside)
    if inside:
        top = "an unknown height" if top_m is None else f"{top_m:.2f} m"
        return check, (
            Finding(
                "isolator_in_zone",
                "stop",
                here,
                f"the isolator is {isolator.distance_m:.2f} m away at {isolator.height_m:.2f} m, inside the "
                f"protective zone of {record.reach_m:.2f} m that ends at {top}",
                source,
                f"fix it further than {record.reach_m:.2f} m away, or above the top of the zone",
            ),
        )
    if within_reach:
        return check, (
            Finding(
                "isolator_above_zone",
                "note",
                here,
                f"the isolator at {isolator.height_m:.2f} m is above the zone, which ends at {top_m:.2f} m; the "
                "electrician decides",
                source,
            ),
        )
    return check, ()


def _against(position: Position) -> str:
    return "free standing" if position.against == "free_standing" else f"against a {position.against}"


def _caution(unit: OutdoorUnit) -> str:
    return f"{unit.name} holds {unit.charge_kg:g} kg of flammable {unit.refrigerant}: {CAUTION}"
