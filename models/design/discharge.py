"""The pipe that takes scalding water from the cylinder's relief valves to a safe place.

Unvented hot water can kill: the work belongs to a person qualified for it, and is notified where the law says so.
"""

from collections.abc import Iterator
from typing import Literal

from models.design.results import Discharge
from models.findings import Finding
from models.reference.load import Reference
from models.sources import COMMON_PRACTICE, Source, Why
from models.survey import CylinderPlace
from models.units import counted

SOURCE = Source("Approved Document G (2015 edition with 2016 amendments)", "G3, Table 3.1")
WHY = Why(
    sentence=(
        "{run_m:.1f} m and {bends} bends count as {resistance_m:.1f} m in {d2_od_mm} mm pipe; the limit for a {outlet} "
        "valve is {limit_m:g} m"
    ),
    source=SOURCE,
)
ASSUMED_RUN_M = 6.0


def discharge(*, place: CylinderPlace, outlet: Literal["G1/2", "G3/4", "G1"], reference: Reference) -> Discharge:
    """The smallest pipe D2 behind the tundish whose run and bends stay within the table.

    Approved Document G3 Table 3.1: run + bends x resistance of a bend, at most the limit of the size. An unmeasured
    run is taken as 6 m and asked about. Stops: `discharge_uphill`, `discharge_too_long`; then D2 is None.
    """
    rows = [row for row in reference.discharge if row.valve_outlet == outlet]
    if not rows:
        raise ValueError(f"Table 3.1 has no valve outlet {outlet}")
    run_m = ASSUMED_RUN_M if place.discharge_run_m == "unknown" else place.discharge_run_m
    tried = []
    for row in rows:
        resistance_m = run_m + place.discharge_bends * row.resistance_per_bend_m
        fits = resistance_m <= row.max_resistance_m
        tried.append((row.d2_od_mm, resistance_m, row.max_resistance_m, fits))
    smallest = next((size for size in tried if size[-1]), None)
    od_mm, resistance, limit_m = None, None, None
    if smallest is not None and place.discharge_falls != "no":
        od_mm, resistance, limit_m, _ = smallest
    return Discharge(
        outlet=outlet,
        run_m=run_m,
        bends=place.discharge_bends,
        d1_min_od_mm=rows[0].d1_min_od_mm,
        d2_od_mm=od_mm,
        resistance_m=resistance,
        limit_m=limit_m,
        tried=tuple(tried),
        findings=(
            *((_run_assumed(place, run_m),) if place.discharge_run_m == "unknown" else ()),
            *((_too_long(place, run_m, *tried[-1][:3]),) if smallest is None else ()),
            *_way_out(place),
            *_uphill(place),
        ),
    )


def _run_assumed(place: CylinderPlace, run_m: float) -> Finding:
    return Finding(
        "discharge_run_unknown",
        "ask",
        place.name,
        f"the way of the relief discharge was not measured; {run_m:g} m is assumed",
        str(COMMON_PRACTICE),
        "measure the run and count its bends",
    )


def _too_long(place: CylinderPlace, run_m: float, od_mm: int, resistance_m: float, limit_m: float) -> Finding:
    return Finding(
        "discharge_too_long",
        "stop",
        place.name,
        f"{run_m:g} m with {counted(place.discharge_bends, 'bend')} count as {resistance_m:.1f} m even in {od_mm} mm "
        f"pipe, more than the {limit_m:g} m that Table 3.1 allows",
        str(SOURCE),
        "a place for the cylinder nearer to an outside wall, or a pipe sized by calculation",
    )


def _uphill(place: CylinderPlace) -> Iterator[Finding]:
    if place.discharge_falls == "no":
        yield Finding(
            "discharge_uphill",
            "stop",
            place.name,
            "the relief discharge cannot fall all the way; it must fall continuously from the tundish (at least "
            "1 in 200)",
            f"{SOURCE.document}, G3 3.54 to 3.60 (from memory)",
            "another place for the cylinder",
        )


def _way_out(place: CylinderPlace) -> Iterator[Finding]:
    """What is to be said about the fall and the end of the pipe."""
    if place.discharge_falls == "unknown":
        yield Finding(
            "discharge_fall_unknown",
            "ask",
            place.name,
            "nobody has looked whether the relief discharge can fall all the way from the tundish",
            str(SOURCE),
            "follow the way of the pipe on site",
        )
    if place.discharge_to == "unknown":
        yield Finding(
            "discharge_end_unknown",
            "ask",
            place.name,
            "it is not decided where the relief discharge ends",
            str(SOURCE),
            "end it low over a gully or in sight outside, where it can scald nobody",
        )
    elif place.discharge_to == "soil_stack":
        yield Finding(
            "discharge_into_soil_stack",
            "note",
            place.name,
            "the relief discharge goes into the soil stack: only with pipe and stack that bear boiling water, a "
            "dry trap and the notice that Approved Document G3 asks for; follow the makers' instructions, by a "
            "person qualified for unvented hot water",
            str(SOURCE),
            "a way out of its own is better",
        )
    elif place.discharge_to == "low_level_outside":
        yield Finding(
            "discharge_can_scald",
            "note",
            place.name,
            "the relief discharge ends outside: scalding water can come out; keep it low, in sight and behind a "
            "guard where children may play",
            str(SOURCE),
        )
