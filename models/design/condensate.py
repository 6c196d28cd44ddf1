"""Where the water of condensation and defrost goes: a soakaway in the ground or a trapped gully."""

import math
from collections.abc import Iterator
from typing import Literal

from models.catalogue import OutdoorUnit
from models.design.results import Condensate
from models.findings import Finding
from models.reference.place import PlaceReference, SoakawayTable
from models.sources import COMMON_PRACTICE, Why
from models.survey.site import Position

SOURCE = COMMON_PRACTICE
WHY = Why(
    sentence="Condensate to {to}: a pit {width_m:.2f} m square and {depth_m:.2f} m deep, {volume_m3:.3f} m3, around a "
    "standing pipe of {standing_pipe_m:.2f} m, with {gravel_20mm_m3:.3f} m3 of 20 mm gravel and "
    "{gravel_10mm_m3:.3f} m3 of 10 mm on top; {pipe_m:.1f} m of condensate pipe.",
    source=SOURCE,
)


def condensate(*, position: Position, unit: OutdoorUnit, count: int, place_reference: PlaceReference) -> Condensate:
    """Where the meltwater of `count` units goes, and the pit that one soakaway for all of them takes.

    Common practice, no source. The pit is square; its voids hold the days of water that the ground asks for, and it
    reaches below the frost. `pipe_m` is the run of one unit. Undecided only beside a *stop*.
    """
    table = place_reference.soakaway
    to, findings = _where_to(position)
    run_m = position.condensate_run_m
    trace_heated = to == "gully" or run_m > table.trace_heat_above_m
    if to == "gully":
        findings = (*findings, *_gully_findings(position, unit, place_reference))
    if to != "soakaway":
        return _without_pit(to, run_m, trace_heated, findings)
    depth_m, frost_findings = _depth_m(position, table)
    daily_l = unit.condensate_l_per_day * count
    width_m, width_findings = _width_m(position, table, depth_m, daily_l)
    findings = (*findings, *frost_findings, *width_findings, *_dig_findings(position))
    if width_m is None:
        return _without_pit("undecided", run_m, trace_heated, findings)
    volume_m3 = width_m**2 * depth_m
    pipe_m3 = math.pi / 4 * (table.standing_pipe_od_mm / 1000) ** 2 * depth_m
    top_m3 = table.top_bags * table.bag_kg / table.gravel_kg_per_m3
    return Condensate(
        to="soakaway",
        pipe_m=run_m,
        depth_m=depth_m,
        width_m=width_m,
        volume_m3=volume_m3,
        wrap_m2=2 * width_m**2 + 4 * width_m * depth_m,
        standing_pipe_m=depth_m,
        gravel_20mm_m3=volume_m3 - pipe_m3 - top_m3,
        gravel_10mm_m3=top_m3,
        trace_heated=trace_heated,
        findings=findings,
    )


def _without_pit(
    to: Literal["gully", "undecided"], run_m: float, trace_heated: bool, findings: tuple[Finding, ...]
) -> Condensate:
    return Condensate(
        to=to,
        pipe_m=run_m,
        depth_m=0.0,
        width_m=0.0,
        volume_m3=0.0,
        wrap_m2=0.0,
        standing_pipe_m=0.0,
        gravel_20mm_m3=0.0,
        gravel_10mm_m3=0.0,
        trace_heated=trace_heated,
        findings=findings,
    )


def side_needed_m(*, daily_l: float, held_days: float, void_ratio: float, depth_m: float) -> float:
    """Side of a square gravel pit whose voids hold some days of water, before a practical size is taken.

    Common practice, no source: side = sqrt(water / (voids x depth)).
    """
    return math.sqrt(daily_l * held_days / 1000 / (void_ratio * depth_m))


def _where_to(
    position: Position,
) -> tuple[Literal["soakaway", "gully", "undecided"], tuple[Finding, ...]]:
    here, source = position.name, str(SOURCE)
    if position.condensate_to == "gully":
        return "gully", ()
    faults = []
    if position.percolation == "fails":
        faults.append("the percolation test fails")
    if position.water_table == "high":
        faults.append("the water table is high")
    if faults:
        return "undecided", (
            Finding(
                "soakaway_will_not_drain",
                "stop",
                here,
                f"a soakaway will not drain: {' and '.join(faults)}",
                source,
                "lead the condensate to a trapped gully outside any protective zone",
            ),
        )
    findings: list[Finding] = []
    if position.condensate_to == "unknown":
        findings.append(
            Finding(
                "condensate_place_assumed",
                "ask",
                here,
                "where the condensate is to go is not recorded; a soakaway is taken",
                source,
                "say soakaway or gully",
            )
        )
    if position.percolation == "unknown":
        findings.append(
            Finding(
                "percolation_not_known",
                "ask",
                here,
                "whether water drains away in this ground is not recorded",
                source,
                "dig a hole, fill it with water and see that it empties",
            )
        )
    return "soakaway", tuple(findings)


def _depth_m(position: Position, table: SoakawayTable) -> tuple[float, tuple[Finding, ...]]:
    """Depth of the pit: the usual one, or deeper where the frost goes deeper."""
    frost_mm = table.usual_frost_depth_mm if isinstance(position.frost_depth_mm, str) else position.frost_depth_mm
    depth_mm = max(table.depth_mm, frost_mm + table.below_frost_mm)
    if isinstance(position.frost_depth_mm, str):
        return depth_mm / 1000, (
            Finding(
                "frost_depth_assumed",
                "note",
                position.name,
                f"the depth of frost is not recorded; {frost_mm:.0f} mm is taken",
                str(table.source),
                "ask what footings are dug to hereabouts",
            ),
        )
    return depth_mm / 1000, ()


def _width_m(
    position: Position, table: SoakawayTable, depth_m: float, daily_l: float
) -> tuple[float | None, tuple[Finding, ...]]:
    """The first practical side that holds the water; None and a stop where none does."""
    held = table.held_days[position.ground]
    needed_m = side_needed_m(daily_l=daily_l, held_days=held, void_ratio=table.void_ratio, depth_m=depth_m)
    for side_mm in table.side_steps_mm:
        if side_mm / 1000 >= needed_m:
            return side_mm / 1000, ()
    return None, (
        Finding(
            "soakaway_too_large",
            "stop",
            position.name,
            f"{daily_l:.0f} L of condensate a day in {position.ground.replace('_', ' ')} ground want a pit "
            f"{needed_m:.2f} m square, over {table.side_steps_mm[-1] / 1000:.2f} m",
            str(table.source),
            "lead the condensate to a trapped gully",
        ),
    )


def _gully_findings(position: Position, unit: OutdoorUnit, place_reference: PlaceReference) -> Iterator[Finding]:
    source = str(SOURCE)
    yield Finding(
        "gully_trapped",
        "note",
        position.name,
        "the condensate enters a trapped gully; the pipe is trace heated",
        source,
    )
    if place_reference.refrigerants.burns(unit.refrigerant) is False:
        return
    if not any(opening.what in ("gully", "drain") for opening in position.openings):
        yield Finding(
            "gully_not_recorded",
            "ask",
            position.name,
            f"the gully is not among the recorded openings, and it must lie outside the protective zone of "
            f"{unit.name} ({unit.refrigerant})",
            source,
            "record the gully with its distance from the unit",
        )


def _dig_findings(position: Position) -> Iterator[Finding]:
    yield Finding(
        "dig_with_care",
        "note",
        position.name,
        "scan for buried cables, gas and water before the pit is dug, and dig by hand near them",
        "HSE, Avoiding danger from underground services, HSG47 (from memory)",
    )
