"""What the unit stands on: a slab cast in rapid or standard concrete, pre-formed blocks, or a bracket on the wall."""

from typing import Literal

from models.catalogue import OutdoorUnit
from models.design.results import Base
from models.findings import Finding
from models.reference.place import PlaceReference, SlabTable
from models.sources import COMMON_PRACTICE, Why
from models.survey.site import Position

SOURCE = COMMON_PRACTICE
WHY = Why(
    sentence="{type}: {reason}; {length_m:.2f} x {width_m:.2f} m, {thickness_m:.2f} m thick on {sub_base_m:.2f} m of "
    "sub-base, {dig_m3:.3f} m3 to dig.",
    source=SOURCE,
)
BaseType = Literal["rapid_slab", "standard_slab", "preformed", "wall_bracket"]


def base(
    *,
    position: Position,
    unit: OutdoorUnit,
    count: int,
    wanted: Literal["rapid_slab", "standard_slab", "preformed"] | None,
    cold: bool,
    place_reference: PlaceReference,
) -> Base:
    """The base under `count` units in a row, with what it takes to dig, fill and cast.

    Common practice, no source. A slab overhangs the cases on every side and stands a little out of the ground; what
    is dug is the sub-base and the slab below ground, in plan as large as the slab; on a slope it is cut level, which
    takes half the fall along the longer side more. Pre-formed blocks stand on the sub-base: nothing is cast, so
    thickness and volume are 0. `cold` says that the ground works fall in weather in which concrete cures slowly.
    Sizes are 0 for a bracket. `length_m` runs along the width of the units.
    """
    if position.mount == "wall":
        reason = "the unit hangs on the wall"
        if wanted is not None:
            reason += f", where a {wanted.replace('_', ' ')} as asked for has no place"
        return Base("wall_bracket", 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, reason)
    table = place_reference.slab
    unfit = _unfit_for_preformed(position, unit, table)
    chosen, reason = _choose(wanted, cold, unfit)
    overhang_m = table.overhang_mm / 1000
    between_m = max(unit.clear_left_mm, unit.clear_right_mm) / 1000
    length_m = count * unit.width_mm / 1000 + (count - 1) * between_m + 2 * overhang_m
    width_m = unit.depth_mm / 1000 + 2 * overhang_m
    area_m2 = length_m * width_m
    sub_base_m = table.sub_base_mm / 1000
    thickness_m = 0.0 if chosen == "preformed" else table.thickness_mm[position.ground] / 1000
    below_ground_m = 0.0 if chosen == "preformed" else thickness_m - table.above_ground_mm / 1000
    cut_m = position.slope_ratio * max(length_m, width_m) / 2
    findings = _findings(position, table, chosen, wanted, cold, unfit, area_m2 * cut_m)
    return Base(
        type=chosen,
        length_m=length_m,
        width_m=width_m,
        thickness_m=thickness_m,
        sub_base_m=sub_base_m,
        area_m2=area_m2,
        volume_m3=area_m2 * thickness_m,
        perimeter_m=2 * (length_m + width_m),
        dig_m3=area_m2 * (sub_base_m + below_ground_m + cut_m),
        reason=reason,
        findings=findings,
    )


def _unfit_for_preformed(position: Position, unit: OutdoorUnit, table: SlabTable) -> tuple[str, ...]:
    """Why pre-formed blocks will not do here; empty where they will."""
    reasons = []
    if position.ground not in table.firm_for_preformed:
        reasons.append(f"the ground is {position.ground.replace('_', ' ')}")
    if position.slope_ratio > table.steepest_for_preformed_ratio:
        reasons.append(f"it slopes 1 in {1 / position.slope_ratio:.0f}")
    if unit.mass_kg > table.heaviest_on_preformed_kg:
        reasons.append(f"the unit weighs {unit.mass_kg:.0f} kg, over {table.heaviest_on_preformed_kg:.0f} kg")
    return tuple(reasons)


def _choose(wanted: BaseType | None, cold: bool, unfit: tuple[str, ...]) -> tuple[BaseType, str]:
    if wanted == "preformed" and unfit:
        return "rapid_slab", f"pre-formed blocks will not do, {' and '.join(unfit)}; a rapid slab saves a day of curing"
    if wanted is not None:
        return wanted, "as chosen"
    if cold and not unfit:
        return "preformed", "no concrete to cure in the cold, on firm level ground"
    return "rapid_slab", "rapid-set concrete saves a day of curing"


def _findings(
    position: Position,
    table: SlabTable,
    chosen: BaseType,
    wanted: BaseType | None,
    cold: bool,
    unfit: tuple[str, ...],
    cut_m3: float,
) -> tuple[Finding, ...]:
    here, source = position.name, str(table.source)
    findings = [
        Finding(
            "dig_with_care",
            "note",
            here,
            "scan for buried cables, gas and water before the base is dug, and dig by hand near them",
            "HSE, Avoiding danger from underground services, HSG47 (from memory)",
        )
    ]
    if wanted == "preformed" and unfit:
        findings.append(
            Finding(
                "preformed_not_suitable",
                "ask",
                here,
                f"pre-formed blocks were wanted, but {' and '.join(unfit)}; a rapid slab is taken",
                source,
                "accept the slab, or choose another position",
            )
        )
    if position.ground == "unknown":
        findings.append(
            Finding(
                "ground_not_known",
                "ask",
                here,
                f"the ground is not recorded; a slab would be {table.thickness_mm['unknown']:.0f} mm thick, as on clay",
                source,
                "dig a trial hole",
            )
        )
    if position.slope_ratio > table.steepest_for_slab_ratio:
        findings.append(
            Finding(
                "ground_too_steep",
                "ask",
                here,
                f"the ground slopes 1 in {1 / position.slope_ratio:.1f}, steeper than 1 in "
                f"{1 / table.steepest_for_slab_ratio:.0f}: the cut of {cut_m3:.2f} m3 is measured, an edge that holds "
                "the earth back is not",
                source,
                "choose a flatter position, or have the retaining edge priced by whoever builds it",
            )
        )
    elif position.slope_ratio > table.steepest_for_preformed_ratio:
        findings.append(
            Finding(
                "ground_slopes",
                "note",
                here,
                f"the ground slopes 1 in {1 / position.slope_ratio:.0f}: the slab is shuttered level, and "
                f"{cut_m3:.2f} m3 more are dug, half the fall along its longer side",
                source,
            )
        )
    if cold and chosen != "preformed":
        findings.append(
            Finding(
                "concrete_in_the_cold",
                "note",
                here,
                "in the cold concrete cures more slowly and must be kept from frost",
                source,
                "cast on a mild day and cover it",
            )
        )
    return tuple(findings)
