"""What a unit gives, takes and sounds like between its rating points: bilinear, never beyond the maker's range.

BS EN 14511 rating points, interpolated linearly in outdoor and in flow temperature (common practice, no source).
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from models.catalogue import OutdoorUnit, PumpPoint, Rating


class UnitState(NamedTuple):
    """One unit at one outdoor and one flow temperature."""

    output_w: float
    input_w: float
    minimum_output_w: float
    sound_power_dba: float


UnitOutdoors = tuple[tuple[float, float, float, float, float, float, float], ...]
"""A unit at one outdoor temperature between each two rated flow temperatures: the cooler one, °C, then output, input
and least output there, W, each with what it changes by per kelvin of flow temperature."""


@dataclass(frozen=True, slots=True)
class RatingGrid:
    """The rating points of a unit as a full grid, outdoor temperatures down, flow temperatures across.

    `between` remembers the unit at the outdoor temperatures of a year's weather, without and with defrosting included
    in the ratings.
    """

    outdoor_temps_c: tuple[float, ...]
    flow_temps_c: tuple[float, ...]
    states: tuple[tuple[tuple[float, float, float, float], ...], ...]
    between: tuple[dict[float, UnitOutdoors], dict[float, UnitOutdoors]] = field(
        default_factory=lambda: ({}, {}), repr=False, compare=False
    )


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


class RatingRow(NamedTuple):
    """A unit at one outdoor temperature, its outputs across the flow temperatures that the maker rates.

    `cooler` and `warmer` are its states at the rated outdoor temperatures around, `share_ratio` how far it is between.
    """

    flow_temps_c: tuple[float, ...]
    outputs_w: tuple[float, ...]
    cooler: tuple["_State", ...]
    warmer: tuple["_State", ...]
    share_ratio: float


def rating_row(grid: RatingGrid, *, outdoor_temp_c: float) -> RatingRow | None:
    """The unit at one outdoor temperature, linear between its ratings, or None outside the maker's range."""
    if not grid.outdoor_temps_c[0] <= outdoor_temp_c <= grid.outdoor_temps_c[-1]:
        return None
    i, share = cell(grid.outdoor_temps_c, outdoor_temp_c)
    rest = 1 - share
    cooler, warmer = grid.states[i], grid.states[i + 1]
    outputs_w = [rest * low[0] + share * high[0] for low, high in zip(cooler, warmer, strict=True)]
    return RatingRow(grid.flow_temps_c, tuple(outputs_w), cooler, warmer, share)


def state_in_row(row: RatingRow, *, flow_temp_c: float) -> UnitState | None:
    """The unit's state at a flow temperature, linear between its ratings, or None outside the maker's range."""
    flow = row.flow_temps_c
    if not flow[0] <= flow_temp_c <= flow[-1]:
        return None
    j, b = cell(flow, flow_temp_c)
    low, high = (_between(row.cooler[k], row.warmer[k], row.share_ratio) for k in (j, j + 1))
    return _between(low, high, b)


def output_in_row(row: RatingRow, *, flow_temp_c: float) -> float | None:
    """The output of `state_in_row` alone, W: all that choosing among units asks."""
    flow, outputs_w, _, _, _ = row
    if not flow[0] <= flow_temp_c <= flow[-1]:
        return None
    j, b = cell(flow, flow_temp_c)
    return (1 - b) * outputs_w[j] + b * outputs_w[j + 1]


def unit_state(grid: RatingGrid, *, outdoor_temp_c: float, flow_temp_c: float) -> UnitState | None:
    """The unit's state between its rating points, or None outside the maker's range."""
    row = rating_row(grid, outdoor_temp_c=outdoor_temp_c)
    return None if row is None else state_in_row(row, flow_temp_c=flow_temp_c)


_State = tuple[float, float, float, float]


def _between(low: _State, high: _State, share: float) -> UnitState:
    rest = 1 - share
    out0, in0, least0, sound0 = low
    out1, in1, least1, sound1 = high
    return UnitState(
        rest * out0 + share * out1,
        rest * in0 + share * in1,
        rest * least0 + share * least1,
        rest * sound0 + share * sound1,
    )


def cell(axis: Sequence[float], at: float) -> tuple[int, float]:
    """The point of an axis below a place, and how far on to the next it lies: 0 at that point, 1 at the next.

    `axis` rises and has two points or more; `at` is not below the first, and beyond the last the share is above 1.
    """
    index = bisect_right(axis, at, 1, len(axis) - 1) - 1
    return index, (at - axis[index]) / (axis[index + 1] - axis[index])


def pump_head_pa(curve: Sequence[PumpPoint], *, flow_l_per_s: float) -> float | None:
    """Head of a pump at a flow, linear between its points; None beyond the last or before the first."""
    if not curve[0].flow_l_per_s <= flow_l_per_s <= curve[-1].flow_l_per_s:
        return None
    index, share = cell([point.flow_l_per_s for point in curve], flow_l_per_s)
    return (1 - share) * curve[index].head_pa + share * curve[index + 1].head_pa
