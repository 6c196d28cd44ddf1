"""What a unit gives, takes and sounds like between its rating points: bilinear, never beyond the maker's range.

BS EN 14511 rating points, interpolated linearly in outdoor and in flow temperature (common practice, no source).
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from models.catalogue import OutdoorUnit, PumpPoint, Rating


@dataclass(frozen=True, slots=True)
class UnitState:
    """One unit at one outdoor and one flow temperature."""

    output_w: float
    input_w: float
    minimum_output_w: float
    sound_power_dba: float


@dataclass(frozen=True, slots=True)
class RatingGrid:
    """The rating points of a unit as a full grid, outdoor temperatures down, flow temperatures across."""

    outdoor_temps_c: tuple[float, ...]
    flow_temps_c: tuple[float, ...]
    states: tuple[tuple[tuple[float, float, float, float], ...], ...]


def rating_grid(unit: OutdoorUnit) -> RatingGrid:
    """The grid of a unit's rating points. Raises ValueError where a point of the grid is missing."""
    ratings = unit.ratings
    remembered = _grids.get(id(ratings))
    if remembered is not None and remembered[0] is ratings:
        return remembered[1]
    grid = _grid(unit.sku, ratings)
    if len(_grids) >= _MOST_GRIDS:
        _grids.clear()
    _grids[id(ratings)] = (ratings, grid)
    return grid


# By identity, with the ratings held so that it stays theirs: hashing 18 points costs more than a whole lookup.
_grids: dict[int, tuple[tuple[Rating, ...], RatingGrid]] = {}
_MOST_GRIDS = 512


def _grid(sku: str, ratings: tuple[Rating, ...]) -> RatingGrid:
    by_point = {(point.outdoor_temp_c, point.flow_temp_c): point for point in ratings}
    outdoor = tuple(sorted({point.outdoor_temp_c for point in ratings}))
    flow = tuple(sorted({point.flow_temp_c for point in ratings}))
    if len(outdoor) < 2 or len(flow) < 2:
        raise ValueError(f"unit {sku} needs ratings at two outdoor and two flow temperatures or more")
    missing = [(t, f) for t in outdoor for f in flow if (t, f) not in by_point]
    if missing:
        raise ValueError(f"unit {sku} has no rating at outdoor, flow {missing}")
    return RatingGrid(
        outdoor,
        flow,
        tuple(
            tuple(
                (p.output_w, p.input_w, p.minimum_output_w, p.sound_power_dba) for p in (by_point[t, f] for f in flow)
            )
            for t in outdoor
        ),
    )


def in_range(grid: RatingGrid, *, outdoor_temp_c: float, flow_temp_c: float) -> bool:
    """Whether the maker gives ratings on both sides of this point."""
    return (
        grid.outdoor_temps_c[0] <= outdoor_temp_c <= grid.outdoor_temps_c[-1]
        and grid.flow_temps_c[0] <= flow_temp_c <= grid.flow_temps_c[-1]
    )


def unit_state(grid: RatingGrid, *, outdoor_temp_c: float, flow_temp_c: float) -> UnitState | None:
    """The unit's state between its rating points, or None outside the maker's range."""
    if not in_range(grid, outdoor_temp_c=outdoor_temp_c, flow_temp_c=flow_temp_c):
        return None
    i, a = _cell(grid.outdoor_temps_c, outdoor_temp_c)
    j, b = _cell(grid.flow_temps_c, flow_temp_c)
    low, high = grid.states[i], grid.states[i + 1]
    w00, w01, w10, w11 = (1 - a) * (1 - b), (1 - a) * b, a * (1 - b), a * b
    return UnitState(
        *(
            w00 * p00 + w01 * p01 + w10 * p10 + w11 * p11
            for p00, p01, p10, p11 in zip(low[j], low[j + 1], high[j], high[j + 1], strict=True)
        )
    )


def _cell(axis: Sequence[float], at: float) -> tuple[int, float]:
    index = min(bisect_right(axis, at) - 1, len(axis) - 2)
    return index, (at - axis[index]) / (axis[index + 1] - axis[index])


def pump_head_pa(curve: Sequence[PumpPoint], *, flow_l_per_s: float) -> float | None:
    """Head of a pump at a flow, linear between its points; None beyond the last or before the first."""
    if not curve[0].flow_l_per_s <= flow_l_per_s <= curve[-1].flow_l_per_s:
        return None
    index, share = _cell([point.flow_l_per_s for point in curve], flow_l_per_s)
    return (1 - share) * curve[index].head_pa + share * curve[index + 1].head_pa
