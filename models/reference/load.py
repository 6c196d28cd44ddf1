"""Reads the reference tables that ship with the program, once. The only file of `models` that opens files.

A broken table is refused with the file, the row and the reason.
"""

import csv
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from models.sources import Source


class BrokenTable(ValueError):
    """A reference file that cannot be used: says which file, which row and why."""


@dataclass(frozen=True, slots=True)
class VentilationTable:
    """Annex B values for air through the envelope: see heat_loss.json, "ventilation".

    `permeability_m3_per_h_m2` is by class of air tightness at 50 Pa; the mappings by facades know "one_facade" and
    "more_facades". `exponent` is that of the flow of vents over pressure.
    """

    minimum_air_change_per_h: float
    permeability_m3_per_h_m2: Mapping[str, float]
    exponent: float
    vent_design_pa: float
    volume_flow_factor_ratio: Mapping[str, float]
    facade_ratio: Mapping[str, float]
    direction_ratio: float
    one_room_at_once_ratio: float
    more_rooms_at_once_ratio: float
    class_by_age_band: Mapping[str, str]
    source: Source


@dataclass(frozen=True, slots=True)
class SimplifiedTable:
    """Factors and air changes of the simplified method; air changes of the house by first year, newest first."""

    outside_ratio: float
    unheated_ratio: float
    other_entity_ratio: float
    ground_ratio: float
    heated_ratio: float
    room_air_change_per_h: float
    house_air_change_per_h: tuple[tuple[int | None, float], ...]
    outside_wall_area_ratio: float
    source: Source


@dataclass(frozen=True, slots=True)
class UsualTable:
    """Design heat loss over floor area that houses of each age band usually have, from and to.

    At `difference_k` of mean room above outdoor temperature; `beyond_ratio` outside is worth asking about.
    """

    w_per_m2_by_age_band: Mapping[str, tuple[float, float]]
    difference_k: float
    beyond_ratio: float
    source: Source


@dataclass(frozen=True, slots=True)
class HeatLossTable:
    """BS EN 12831-1 constants: see heat_loss.json for the names of the kinds.

    `ground_equivalent` holds the constants of function E.1 by their letters, for "floor" and "wall".
    """

    air_heat_capacity_wh_per_m3k: float
    thermal_bridge_w_per_m2k: Mapping[str, float]
    unheated_space_factor_ratio: Mapping[str, float]
    annual_variation_factor_ratio: float
    groundwater_deeper_than_1m_ratio: float
    groundwater_within_1m_ratio: float
    surface_resistance_m2k_per_w: Mapping[str, float]
    neighbour_unheated_temp_c: float
    high_room_from_height_m: float
    air_gradient_k_per_m: float
    occupied_height_m: float
    source: Source
    ground_equivalent: Mapping[str, Mapping[str, float]]
    ground_equivalent_source: Source
    ventilation: VentilationTable
    simplified: SimplifiedTable
    usual: UsualTable


@dataclass(frozen=True, slots=True)
class Defaults:
    """The choices of method that a firm makes once. See defaults.json for the values that ship."""

    heat_loss_method: str
    thermal_bridge: str
    ground_factor: str
    altitude_rule: str
    design_percentile: str
    party_wall_policy: str
    wall_table: str
    air_change_table: str
    reheat_w_per_m2: float


@dataclass(frozen=True, slots=True)
class Station:
    """A weather station with its design temperatures not undercut in 99 % and 99.6 % of the hours."""

    name: str
    altitude_m: float
    temp_99_c: float
    temp_99_6_c: float
    source: Source


@dataclass(frozen=True, slots=True)
class AltitudeRule:
    """How the design temperature falls above the station; `step_m` 0 means in proportion."""

    name: str
    k_per_100m: float
    step_m: float
    source: Source


@dataclass(frozen=True, slots=True)
class Region:
    """A climate region of SAP Appendix U: monthly mean outdoor temperatures, January to December."""

    number: int
    name: str
    monthly_mean_temp_c: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class RoomDefault:
    """Temperature and air changes of a room use; air changes for houses before 2000, 2000 to 2006 and after."""

    temp_c: float
    air_changes_per_h: tuple[float, float, float]
    source: Source


@dataclass(frozen=True, slots=True)
class AgeBand:
    """Years of an RdSAP age band, both included, None where open; and which of a room's air changes it takes.

    `air_change_column` counts the three of RoomDefault.air_changes_per_h from 0.
    """

    name: str
    from_year: int | None
    to_year: int | None
    air_change_column: int
    source: Source

    @property
    def years(self) -> str:
        """The years in words."""
        if self.from_year is None:
            return f"up to {self.to_year}"
        return f"from {self.from_year}" if self.to_year is None else f"{self.from_year} to {self.to_year}"


@dataclass(frozen=True, slots=True)
class WallTable:
    """U-values of walls by kind and age band, and of stone walls by thickness.

    Stone walls thinner than `stone_from_mm` or thicker than `stone_to_mm`, or newer than `stone_last_band`, are
    beyond what the formulas were made for.
    """

    bands: tuple[str, ...]
    u_w_per_m2k: Mapping[str, tuple[float, ...]]
    stone: Mapping[str, tuple[float, float]]
    stone_2012: Mapping[str, tuple[float, float]]
    dry_lining_m2k_per_w: float
    source: Source
    stone_from_mm: int
    stone_to_mm: int
    stone_last_band: str
    stone_range_source: Source


@dataclass(frozen=True, slots=True)
class ElementU:
    """U-value of a described element."""

    element: str
    description: str
    u_w_per_m2k: float
    source: Source


@dataclass(frozen=True, slots=True)
class Tube:
    """A copper tube to BS EN 1057 R250."""

    od_mm: int
    wall_mm: float

    @property
    def bore_mm(self) -> float:
        """Inside diameter, mm."""
        return self.od_mm - 2 * self.wall_mm

    @property
    def content_l_per_m(self) -> float:
        """Water in a metre of tube, litres."""
        return math.pi / 4 * self.bore_mm**2 / 1000


@dataclass(frozen=True, slots=True)
class DischargeRow:
    """One size of Approved Document G3 Table 3.1."""

    valve_outlet: str
    d1_min_od_mm: int
    d2_od_mm: int
    max_resistance_m: float
    resistance_per_bend_m: float


@dataclass(frozen=True, slots=True)
class Reference:
    """All reference tables as one value."""

    heat_loss: HeatLossTable
    defaults: Defaults
    stations: Mapping[str, Station]
    altitude_rules: Mapping[str, AltitudeRule]
    regions: tuple[Region, ...]
    rooms: Mapping[str, RoomDefault]
    walls: WallTable
    elements_u: Mapping[str, ElementU]
    tubes: Mapping[int, Tube]
    fitting_equivalent_m: Mapping[str, Mapping[int, float]]
    discharge: tuple[DischargeRow, ...]
    age_bands: Mapping[str, AgeBand]


def _text(name: str) -> str:
    return files("models.reference").joinpath("data", name).read_text(encoding="utf-8")


def read_json(name: str) -> Any:
    """A JSON file of the data folder. Raises BrokenTable with the file and the place."""
    try:
        return json.loads(_text(name))
    except ValueError as fault:
        raise BrokenTable(f"{name}: {fault}") from fault


def read_rows(name: str) -> list[dict[str, str]]:
    """The rows of a CSV file of the data folder. Raises BrokenTable on a row with missing or extra cells."""
    return rows_of(name, _text(name))


def rows_of(name: str, text: str) -> list[dict[str, str]]:
    """The rows of CSV text with a heading line. Raises BrokenTable naming file and row."""
    rows = []
    for number, row in enumerate(csv.DictReader(text.splitlines()), 2):
        if None in row or None in row.values():
            raise BrokenTable(f"{name}, row {number}: as many cells as headings are needed")
        rows.append(row)
    if not rows:
        raise BrokenTable(f"{name}: has no rows")
    return rows


def number(name: str, row_number: int, row: Mapping[str, str], field: str, low: float, high: float) -> float:
    """A number of a row inside its range. Raises BrokenTable naming file, row, field, value and range."""
    try:
        value = float(row[field])
    except (KeyError, ValueError) as fault:
        raise BrokenTable(f"{name}, row {row_number}: {field} is not a number: {row.get(field)!r}") from fault
    if not low <= value <= high:
        raise BrokenTable(f"{name}, row {row_number}: {field} is {value:g}, it must lie in {low:g} to {high:g}")
    return value


def source_of(record: Mapping[str, Any]) -> Source:
    """A Source from the three keys that a data file gives."""
    return Source(record["document"], record.get("clause", ""), record.get("standing", "published"))


_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


@cache
def load() -> Reference:
    """The reference tables, read once per process."""
    return Reference(
        heat_loss=_heat_loss(),
        defaults=_defaults(),
        stations=_stations(),
        altitude_rules={
            name: AltitudeRule(name, rule["k_per_100m"], rule["step_m"], Source(rule["source"], "", rule["standing"]))
            for name, rule in read_json("altitude_rules.json")["rules"].items()
        },
        regions=_regions(),
        rooms=_rooms(),
        walls=_walls(),
        elements_u=_elements_u(),
        tubes=_tubes(),
        fitting_equivalent_m=_fittings(),
        discharge=_discharge(),
        age_bands=_age_bands(),
    )


def _heat_loss() -> HeatLossTable:
    table = read_json("heat_loss.json")
    high = table["high_room"]
    return HeatLossTable(
        air_heat_capacity_wh_per_m3k=table["air_heat_capacity_wh_per_m3k"],
        thermal_bridge_w_per_m2k=table["thermal_bridge_w_per_m2k"],
        unheated_space_factor_ratio=table["unheated_space_factor_ratio"],
        annual_variation_factor_ratio=table["ground"]["annual_variation_factor_ratio"],
        groundwater_deeper_than_1m_ratio=table["ground"]["groundwater_deeper_than_1m_ratio"],
        groundwater_within_1m_ratio=table["ground"]["groundwater_within_1m_ratio"],
        surface_resistance_m2k_per_w=table["surface_resistance_m2k_per_w"],
        neighbour_unheated_temp_c=table["neighbour_unheated_temp_c"],
        high_room_from_height_m=high["from_height_m"],
        air_gradient_k_per_m=high["air_gradient_k_per_m"],
        occupied_height_m=high["occupied_height_m"],
        source=source_of(table["source"]),
        ground_equivalent={kind: _ground_equivalent(table, kind) for kind in ("floor", "wall")},
        ground_equivalent_source=source_of(table["ground_equivalent"]["source"]),
        ventilation=_ventilation(table["ventilation"]),
        simplified=_simplified(table["simplified"]),
        usual=_usual(table["usual"]),
    )


_FACADES = {"one_facade", "more_facades"}


def _ventilation(table: Mapping[str, Any]) -> VentilationTable:
    at_once = table["minimum_at_once_ratio"]
    classes: dict[str, float] = table["permeability_m3_per_h_m2"]
    for field in ("volume_flow_factor_ratio", "facade_factor"):
        if table[field].keys() != _FACADES or not all(value > 0 for value in table[field].values()):
            raise BrokenTable(f"heat_loss.json: ventilation, {field}: needs just {', '.join(sorted(_FACADES))} above 0")
    for band, name in table["class_by_age_band"].items():
        if name not in classes:
            raise BrokenTable(f"heat_loss.json: ventilation, class_by_age_band: {band} has no class '{name}'")
    return VentilationTable(
        minimum_air_change_per_h=table["minimum_air_change_per_h"],
        permeability_m3_per_h_m2=classes,
        exponent=table["leak_exponent"],
        vent_design_pa=table["vent_design_pa"],
        volume_flow_factor_ratio=table["volume_flow_factor_ratio"],
        facade_ratio=table["facade_factor"],
        direction_ratio=table["direction_factor"],
        one_room_at_once_ratio=at_once["one_room"],
        more_rooms_at_once_ratio=at_once["more_rooms"],
        class_by_age_band=table["class_by_age_band"],
        source=source_of(table["source"]),
    )


def _simplified(table: Mapping[str, Any]) -> SimplifiedTable:
    rows = [(row["from_year"], row["air_change_per_h"]) for row in table["house_air_change_per_h"]]
    if not rows or rows[-1][0] is not None or any(year is None for year, _ in rows[:-1]):
        raise BrokenTable("heat_loss.json: simplified, house_air_change_per_h: the last row, and only it, has no year")
    return SimplifiedTable(
        outside_ratio=table["outside_ratio"],
        unheated_ratio=table["unheated_ratio"],
        other_entity_ratio=table["other_entity_ratio"],
        ground_ratio=table["ground_ratio"],
        heated_ratio=table["heated_ratio"],
        room_air_change_per_h=table["room_air_change_per_h"],
        house_air_change_per_h=tuple(rows),
        outside_wall_area_ratio=table["outside_wall_area_ratio"],
        source=source_of(table["source"]),
    )


def _usual(table: Mapping[str, Any]) -> UsualTable:
    for band, (low, high) in table["w_per_m2_by_age_band"].items():
        if not 5 <= low < high <= 300:
            raise BrokenTable(f"heat_loss.json: usual, band {band}: from {low} to {high} W/m2 is no range in 5 to 300")
    return UsualTable(
        w_per_m2_by_age_band={band: (low, high) for band, (low, high) in table["w_per_m2_by_age_band"].items()},
        difference_k=table["difference_k"],
        beyond_ratio=table["beyond_ratio"],
        source=source_of(table["source"]),
    )


_GROUND_LETTERS = {"a", "b", "c1", "c2", "c3", "d", "n1", "n2", "n3"}


def _ground_equivalent(table: Mapping[str, Any], kind: str) -> dict[str, float]:
    constants: dict[str, float] = table["ground_equivalent"][kind]
    if constants.keys() != _GROUND_LETTERS:
        raise BrokenTable(f"heat_loss.json: ground_equivalent, {kind}: needs just {', '.join(sorted(_GROUND_LETTERS))}")
    return constants


def _defaults() -> Defaults:
    table = read_json("defaults.json")
    table.pop("note")
    return Defaults(**table)


def _stations() -> dict[str, Station]:
    name = "design_temperatures.csv"
    return {
        row["station"]: Station(
            row["station"],
            number(name, n, row, "altitude_m", -10, 1400),
            number(name, n, row, "temp_99_c", -20, 5),
            number(name, n, row, "temp_99_6_c", -25, 5),
            Source(row["source"], "", row["standing"]),  # type: ignore[arg-type]
        )
        for n, row in enumerate(read_rows(name), 2)
    }


def _regions() -> tuple[Region, ...]:
    name = "monthly_temperatures.csv"
    return tuple(
        Region(
            int(row["region"]), row["name"], tuple(number(name, n, row, f"{month}_c", -10, 30) for month in _MONTHS)
        )
        for n, row in enumerate(read_rows(name), 2)
    )


def _rooms() -> dict[str, RoomDefault]:
    name = "room_defaults.csv"
    columns = ("air_changes_before_2000_per_h", "air_changes_2000_to_2006_per_h", "air_changes_after_2006_per_h")
    defaults = {}
    for n, row in enumerate(read_rows(name), 2):
        before, middle, after = (number(name, n, row, column, 0.1, 10) for column in columns)
        source = Source(row["source"], "", row["standing"])  # type: ignore[arg-type]
        defaults[row["use"]] = RoomDefault(number(name, n, row, "temp_c", 5, 30), (before, middle, after), source)
    return defaults


_AIR_CHANGE_PERIODS = ("before_2000", "2000_to_2006", "after_2006")


def _age_bands() -> dict[str, AgeBand]:
    name = "age_bands.csv"
    bands = {}
    for n, row in enumerate(read_rows(name), 2):
        if row["air_change_period"] not in _AIR_CHANGE_PERIODS:
            raise BrokenTable(f"{name}, row {n}: air_change_period is one of {', '.join(_AIR_CHANGE_PERIODS)}")
        first, last = (
            int(number(name, n, row, field, 1000, 3000)) if row[field] else None for field in ("from_year", "to_year")
        )
        bands[row["age_band"]] = AgeBand(
            row["age_band"],
            first,
            last,
            _AIR_CHANGE_PERIODS.index(row["air_change_period"]),
            Source(row["source"], "", row["standing"]),  # type: ignore[arg-type]
        )
    return bands


def _walls() -> WallTable:
    table = read_json("wall_u_values.json")
    bands = tuple(table["bands"])
    for kind, values in table["wall_u_w_per_m2k"].items():
        if len(values) != len(bands) or not all(0.1 <= u <= 3 for u in values):
            raise BrokenTable(f"wall_u_values.json: {kind} needs {len(bands)} values of 0.1 to 3 W/m2K")
    stone = table["stone_range"]
    if not 0 < stone["from_mm"] < stone["to_mm"] or stone["last_band"] not in bands:
        raise BrokenTable("wall_u_values.json: stone_range needs from_mm below to_mm and a last_band of the bands")
    return WallTable(
        bands=bands,
        u_w_per_m2k={kind: tuple(values) for kind, values in table["wall_u_w_per_m2k"].items()},
        stone={kind: (row["coefficient"], row["power"]) for kind, row in table["stone"].items()},
        stone_2012={kind: (row["intercept"], row["per_mm"]) for kind, row in table["stone_2012"].items()},
        dry_lining_m2k_per_w=table["dry_lining_m2k_per_w"],
        source=source_of(table["source"]),
        stone_from_mm=stone["from_mm"],
        stone_to_mm=stone["to_mm"],
        stone_last_band=stone["last_band"],
        stone_range_source=source_of(stone["source"]),
    )


def _elements_u() -> dict[str, ElementU]:
    name = "element_u_values.csv"
    return {
        f"{row['element']}: {row['description']}": ElementU(
            row["element"],
            row["description"],
            number(name, n, row, "u_w_per_m2k", 0, 7),
            Source(row["source"], "", row["standing"]),  # type: ignore[arg-type]
        )
        for n, row in enumerate(read_rows(name), 2)
    }


def _tubes() -> dict[int, Tube]:
    name = "copper_tubes.csv"
    return {
        int(row["od_mm"]): Tube(int(row["od_mm"]), number(name, n, row, "wall_mm", 0.4, 3))
        for n, row in enumerate(read_rows(name), 2)
    }


def _fittings() -> dict[str, dict[int, float]]:
    name = "fitting_equivalent_lengths.csv"
    return {
        row["fitting"]: {
            int(heading.split("_")[1]): number(name, n, row, heading, 0, 20) for heading in row if heading != "fitting"
        }
        for n, row in enumerate(read_rows(name), 2)
    }


def _discharge() -> tuple[DischargeRow, ...]:
    name = "discharge_pipes.csv"
    return tuple(
        DischargeRow(
            row["valve_outlet"],
            int(row["d1_min_od_mm"]),
            int(row["d2_od_mm"]),
            number(name, n, row, "max_resistance_m", 1, 50),
            number(name, n, row, "resistance_per_bend_m", 0.1, 5),
        )
        for n, row in enumerate(read_rows(name), 2)
    )
