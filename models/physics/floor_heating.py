"""What a heated floor gives off by its pipes, screed and covering.

BS EN 1264-2, Annex A, system type A: pipes inside the screed.
"""

from bisect import bisect_right
from collections.abc import Sequence

from models.reference.floor_heating import FloorTable


def floor_coefficient_w_per_m2k(
    *,
    pipe_spacing_m: float,
    covering_m2k_per_w: float,
    screed_m: float,
    screed_conductivity_w_per_mk: float,
    pipe_od_m: float,
    table: FloorTable,
) -> float | None:
    """Heat of a square metre of floor for each kelvin of logarithmic mean water above room temperature, K_H.

    BS EN 1264-2, Annex A: K_H = B aB aT^(1 - T/0.075) aU^(100 (0.045 - su)) aD^(250 (D - 0.020)), factors
    interpolated between the tabled spacings and coverings; for the pipe of the table (0.35 W/mK, 2 mm wall).
    `screed_m` is what lies above the pipes. None beyond the table: spacing of 50 to 375 mm, screed to 65 mm,
    covering to 0.15 m2K/W.
    """
    spacings, coverings = table.spacing_m, table.covering_m2k_per_w
    if not spacings[0] <= pipe_spacing_m <= table.largest_spacing_m:
        return None
    if not coverings[0] <= covering_m2k_per_w <= coverings[-1] or not 0 < screed_m <= table.thickest_screed_m:
        return None
    by_covering = _weights(coverings, covering_m2k_per_w)
    by_spacing = _weights(spacings, pipe_spacing_m)
    spacing_factor = _along(table.spacing_factor, by_covering)
    screed_factor = _over(table.screed_factor, by_spacing, by_covering)
    pipe_factor = _over(table.pipe_factor, by_spacing, by_covering)
    to_air_m2k_per_w = 1 / table.surface_w_per_m2k
    covering_factor = (to_air_m2k_per_w + table.reference_screed_m / table.reference_screed_conductivity_w_per_mk) / (
        to_air_m2k_per_w + table.reference_screed_m / screed_conductivity_w_per_mk + covering_m2k_per_w
    )
    return float(
        table.system_w_per_m2k
        * covering_factor
        * spacing_factor ** (1 - pipe_spacing_m / table.reference_spacing_m)
        * screed_factor ** (100 * (table.reference_screed_m - screed_m))
        * pipe_factor ** (250 * (pipe_od_m - table.reference_pipe_od_m))
    )


_Weights = tuple[int, int, float]


def _weights(axis: Sequence[float], at: float) -> _Weights:
    """The two places of an axis that a value lies between, and how far it is from the first to the second."""
    upper = min(max(bisect_right(axis, at), 1), len(axis) - 1)
    lower = upper - 1
    return lower, upper, (at - axis[lower]) / (axis[upper] - axis[lower])


def _along(values: Sequence[float], weights: _Weights) -> float:
    lower, upper, share = weights
    return values[lower] + share * (values[upper] - values[lower])


def _over(rows: Sequence[Sequence[float]], by_row: _Weights, by_column: _Weights) -> float:
    lower, upper, share = by_row
    first, second = _along(rows[lower], by_column), _along(rows[upper], by_column)
    return first + share * (second - first)
