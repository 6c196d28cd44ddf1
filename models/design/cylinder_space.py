"""Does a cylinder go into its place: width, depth, height, door, floor and the way out of its discharge?"""

from models.catalogue import Cylinder
from models.design.results import Discharge, SpaceCheck
from models.findings import Finding
from models.sources import COMMON_PRACTICE, Source, Why
from models.survey import CylinderPlace

SOURCE = COMMON_PRACTICE
WHY = Why(sentence="cylinder {cylinder_sku} against its place, measure by measure", source=SOURCE)

SIDE_CLEARANCE_MM = 50
"""Beside and in front of the case, for pipes and for hands."""
DOOR_CLEARANCE_MM = 10
"""Around the case on its way in."""
ONE_PERSON_LIFTS_KG = 25
"""What one person may lift without further thought."""
LIFTING = Source("HSE guidance on manual handling", standing="from memory")


def space_check(*, place: CylinderPlace, cylinder: Cylinder, discharge: Discharge | None) -> SpaceCheck:
    """Each measure that the cylinder needs against the one there: (what, needed, there, enough).

    Clearances: 50 mm in width and depth, the maker's over the top, 10 mm in the door (common practice, no source).
    The floor counts where its limit is known; an unknown timber floor is asked about. `discharge` is the pipe of
    this cylinder's valves, None where it was not worked out: a pipe that cannot be makes the cylinder not fit.
    """
    checks: list[tuple[str, float, float, bool]] = []
    for what, needed, there in (
        ("width, mm", cylinder.diameter_mm + SIDE_CLEARANCE_MM, place.width_mm),
        ("depth, mm", cylinder.diameter_mm + SIDE_CLEARANCE_MM, place.depth_mm),
        ("height, mm", cylinder.height_mm + cylinder.top_clearance_mm, place.height_mm),
        ("door width, mm", cylinder.diameter_mm + DOOR_CLEARANCE_MM, place.door_width_mm),
    ):
        checks.append((what, needed, there, needed <= there))
    findings = _lift(place, cylinder)
    if place.floor_limit_kg != "unknown":
        limit_kg = place.floor_limit_kg
        checks.append(("load on the floor, kg", cylinder.mass_full_kg, limit_kg, cylinder.mass_full_kg <= limit_kg))
    elif place.floor != "solid":
        kind = "timber floor" if place.floor == "timber" else "floor of unknown kind"
        findings += (
            Finding(
                "floor_load_unknown",
                "ask",
                place.name,
                f"{cylinder.name} weighs {cylinder.mass_full_kg:.0f} kg when full; it stands on a {kind} of which "
                "nobody knows what it bears",
                str(SOURCE),
                "have the joists looked at by somebody who can judge them; bearers across the joists spread the load",
            ),
        )
    if discharge is not None:
        if place.discharge_falls == "no":
            checks.append(("relief discharge falls all the way", True, False, False))
        else:
            _, resistance_m, limit_m, passes = next(
                (row for row in discharge.tried if row[0] == discharge.d2_od_mm), discharge.tried[-1]
            )
            checks.append(("relief discharge, m", resistance_m, limit_m, passes))
        findings += tuple(finding for finding in discharge.findings if finding.strength == "stop")
    return SpaceCheck(cylinder.sku, all(ok for *_, ok in checks), tuple(checks), findings)


def _lift(place: CylinderPlace, cylinder: Cylinder) -> tuple[Finding, ...]:
    """A caution where the empty cylinder is too heavy for one person."""
    if cylinder.mass_dry_kg <= ONE_PERSON_LIFTS_KG:
        return ()
    return (
        Finding(
            "cylinder_lifted_by_two",
            "note",
            place.name,
            f"{cylinder.name} weighs {cylinder.mass_dry_kg:g} kg empty: two people carry it; look at the stairs first",
            str(LIFTING),
        ),
    )
