"""The constants of BS EN 1264-2 for floor heating with pipes inside the screed (system type A)."""

from dataclasses import dataclass
from functools import cache

from models.reference.load import BrokenTable, read_json, source_of
from models.sources import Source

_FILE = "en1264_type_a.json"


@dataclass(frozen=True, slots=True)
class FloorTable:
    """What the formula of type A is made of: see en1264_type_a.json.

    `covering_m2k_per_w` and `spacing_m` are the axes; `spacing_factor` stands by covering, `screed_factor` and
    `pipe_factor` by spacing, then by covering.
    """

    pipe_conductivity_w_per_mk: float
    pipe_wall_m: float
    system_w_per_m2k: float
    surface_w_per_m2k: float
    reference_screed_conductivity_w_per_mk: float
    reference_screed_m: float
    reference_spacing_m: float
    reference_pipe_od_m: float
    largest_spacing_m: float
    thickest_screed_m: float
    covering_m2k_per_w: tuple[float, ...]
    spacing_m: tuple[float, ...]
    spacing_factor: tuple[float, ...]
    screed_factor: tuple[tuple[float, ...], ...]
    pipe_factor: tuple[tuple[float, ...], ...]
    source: Source


@cache
def load_floor_heating() -> FloorTable:
    """The table that ships, read once. Raises BrokenTable where its rows do not go with its axes."""
    table = read_json(_FILE)
    coverings, spacings = tuple(table["covering_m2k_per_w"]), tuple(table["spacing_m"])
    for axis, values in (("covering_m2k_per_w", coverings), ("spacing_m", spacings)):
        if list(values) != sorted(set(values)):
            raise BrokenTable(f"{_FILE}: {axis} must rise from value to value")
    if len(table["spacing_factor"]) != len(coverings):
        raise BrokenTable(f"{_FILE}: spacing_factor needs {len(coverings)} values, one for each covering")
    for name in ("screed_factor", "pipe_factor"):
        if len(table[name]) != len(spacings):
            raise BrokenTable(f"{_FILE}: {name} needs {len(spacings)} rows, one for each spacing")
        for number, row in enumerate(table[name], 1):
            if len(row) != len(coverings) or not all(1 <= factor <= 1.3 for factor in row):
                raise BrokenTable(f"{_FILE}: {name}, row {number} needs {len(coverings)} values of 1 to 1.3")
    return FloorTable(
        **{name: table[name] for name in FloorTable.__slots__ if isinstance(table[name], float)},
        covering_m2k_per_w=coverings,
        spacing_m=spacings,
        spacing_factor=tuple(table["spacing_factor"]),
        screed_factor=tuple(tuple(row) for row in table["screed_factor"]),
        pipe_factor=tuple(tuple(row) for row in table["pipe_factor"]),
        source=source_of(table["source"]),
    )
