"""What law, standards and common practice say about the place of a unit: planning, noise, ground and supply.

Values of law and of schemes are dated series; the figures of the ground and of the supply are plain tables.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from datetime import date
from functools import cache
from typing import Any, Literal, get_args

from models.reference.dated import NONE, NOT_KNOWN, Dated, DatedValue, read_dated
from models.reference.load import BrokenTable, read_json, source_of
from models.sources import Source, Standing

Limit = float | Literal["none", "not_known"]
NATIONS = ("england", "wales", "scotland", "northern_ireland")
VIEWS = ("in_sight", "partly_hidden", "hidden")
GROUNDS = ("sand_or_gravel", "loam", "clay", "rubble_or_rock", "unknown")
LOADS = (
    "lighting", "sockets", "cooker", "shower", "immersion", "water_heater", "storage_heater", "fixed_heating",
    "floor_warming", "electric_boiler", "heat_pump", "ev_charger", "other",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class PlanningRule:
    """What permitted development allows. "none" is no such limit in the text that was read, "not_known" is not read.

    `facing_highway` is about a unit on a wall that fronts a highway: "ground_storey" lets it hang no higher than the
    ground floor there. `confirmed` is False where only a secondary source was
    read or a change may have happened since.
    """

    max_units_detached: Limit
    max_units_other: Limit
    max_volume_house_m3: Limit
    max_volume_flat_m3: Limit
    boundary_m: Limit
    max_height_m: Limit
    max_protrusion_m: Limit
    facing_highway: Literal["permitted", "ground_storey", "not_permitted"]
    noise_standard: str
    confirmed: bool


@dataclass(frozen=True, slots=True)
class DistanceSteps:
    """What distance takes away by the printed table of an edition, in whole dB: one column a directivity.

    Between two printed distances the shorter one counts. `unsure_m` are the rows of which even the rounding is not
    certain.
    """

    distances_m: tuple[float, ...]
    by_directivity_db: Mapping[int, tuple[float, ...]]
    unsure_m: tuple[float, ...]
    confirmed: bool


@dataclass(frozen=True, slots=True)
class NoiseLimit:
    """The limit at a neighbour's window. Where `background_dba` is a number it is added to the units' level first.

    `steps` is the table that the edition takes distance from; None where it is the formula itself.
    """

    method: str
    limit_dba: float | None
    background_dba: float | None
    confirmed: bool
    steps: DistanceSteps | None = None


@dataclass(frozen=True, slots=True)
class BarrierSteps:
    """What a barrier takes away, dB, never above 0, by how much of the unit is seen from the window."""

    by_view_db: Mapping[str, float]
    confirmed: bool


@dataclass(frozen=True, slots=True)
class NetworkRule:
    """Voltage drop and diversity, and when the network operator must be asked before work begins."""

    nominal_voltage_v: float
    voltage_drop_limit_ratio: float
    voltage_source: Source
    unit_diversity_ratio: float
    immersion_diversity_ratio: float
    diversity_source: Source
    apply_above_a: float
    apply_above_single_phase_kva: float
    notify_within_days: int
    source: Source


@dataclass(frozen=True, slots=True)
class Allowance:
    """How one kind of load counts: the `largest_whole` largest whole; of the rest `whole_a` whole and a share beyond.

    `socket_a` is added for each socket outlet in a control unit.
    """

    largest_whole: int
    whole_a: float
    rest_ratio: float
    socket_a: float
    source: Source


@dataclass(frozen=True, slots=True)
class DiversityTable:
    """Diversity between the loads of one household, by kind of load; which kinds every house has."""

    household: Mapping[str, Allowance]
    in_every_house: tuple[str, ...]
    source: Source
    largest_single_phase_cutout_a: float
    cutout_source: Source


@dataclass(frozen=True, slots=True)
class SlabTable:
    """How a base is built. `thickness_mm` by ground; `above_ground_mm` is how far the slab stands out of it."""

    overhang_mm: float
    sub_base_mm: float
    above_ground_mm: float
    thickness_mm: Mapping[str, float]
    steepest_for_preformed_ratio: float
    steepest_for_slab_ratio: float
    firm_for_preformed: tuple[str, ...]
    heaviest_on_preformed_kg: float
    source: Source


@dataclass(frozen=True, slots=True)
class SoakawayTable:
    """How a soakaway for meltwater is built. `held_days` is how many days' water its voids hold, by ground."""

    depth_mm: float
    below_frost_mm: float
    usual_frost_depth_mm: float
    standing_pipe_od_mm: float
    side_steps_mm: tuple[float, ...]
    void_ratio: float
    held_days: Mapping[str, float]
    top_bags: int
    bag_kg: float
    gravel_kg_per_m3: float
    trace_heat_above_m: float
    source: Source


@dataclass(frozen=True, slots=True)
class HandlingRule:
    """What people may carry, and from where on a lifting aid or more time is needed."""

    one_person_kg: float
    people: int
    lifting_aid_above_kg: float
    long_carry_m: float
    source: Source


@dataclass(frozen=True, slots=True)
class Refrigerants:
    """Safety classes of refrigerants and which of them burn."""

    classes: Mapping[str, str]
    flammable: tuple[str, ...]
    source: Source

    def burns(self, refrigerant: str) -> bool | None:
        """Whether a refrigerant is flammable; None where its class is not in the table."""
        safety_class = self.classes.get(refrigerant)
        return None if safety_class is None else safety_class in self.flammable


@dataclass(frozen=True, slots=True)
class PlaceReference:
    """All tables about the place of a unit and its supply as one value."""

    planning: Mapping[str, Dated]
    noise_limits: Mapping[str, Dated]
    barrier: Dated
    network: NetworkRule
    slab: SlabTable
    soakaway: SoakawayTable
    wall_mount_heaviest_kg: float
    wall_mount_source: Source
    handling: HandlingRule
    refrigerants: Refrigerants
    diversity: DiversityTable

    def planning_at(self, nation: str, on: date) -> tuple[PlanningRule, DatedValue]:
        """The planning rule of a nation on a date and its record. Raises NotYetInForce before the first date."""
        return _at(self.planning[nation], on)

    def noise_limit_at(self, nation: str, on: date) -> tuple[NoiseLimit, DatedValue]:
        """The noise limit of a nation on a date and its record. Raises NotYetInForce before the first date."""
        return _at(self.noise_limits[nation], on)

    def barrier_at(self, on: date) -> tuple[BarrierSteps, DatedValue]:
        """The barrier steps on a date and their record. Raises NotYetInForce before the first date."""
        return _at(self.barrier, on)


def _at(series: Dated, on: date) -> tuple[Any, DatedValue]:
    value = series.at(on)
    return value.value, value


@cache
def load_place() -> PlaceReference:
    """The tables about the place of a unit, read once per process. Raises BrokenTable with file, name and reason."""
    planning, noise = read_dated("planning.json"), read_dated("noise.json")
    grounds = read_json("grounds.json")
    wall = _table("grounds.json", "wall_mount", grounds)
    return PlaceReference(
        planning=_nations("planning.json", "", planning, _planning_rule),
        noise_limits=_nations("noise.json", "limit_", noise, _noise_limit),
        barrier=_typed("noise.json", "barrier", noise, _barrier),
        network=_network(read_json("network.json")),
        slab=_slab(_table("grounds.json", "slab", grounds)),
        soakaway=_soakaway(_table("grounds.json", "soakaway", grounds)),
        wall_mount_heaviest_kg=_within("grounds.json", "wall_mount", wall, "heaviest_kg", 10, 500),
        wall_mount_source=_source("grounds.json", "wall_mount", wall, "source"),
        handling=_handling(_table("grounds.json", "handling", grounds)),
        refrigerants=_refrigerants(read_json("refrigerants.json")),
        diversity=_diversity(read_json("diversity.json")),
    )


def _nations(
    file: str, prefix: str, series: Mapping[str, Dated], typed: Callable[[str, str, Mapping[str, Any]], object]
) -> dict[str, Dated]:
    return {nation: _typed(file, f"{prefix}{nation}", series, typed) for nation in NATIONS}


def _typed(
    file: str, name: str, series: Mapping[str, Dated], typed: Callable[[str, str, Mapping[str, Any]], object]
) -> Dated:
    if name not in series:
        raise BrokenTable(f"{file}: {name} is missing")
    for value in series[name].values:
        if value.source.standing not in get_args(Standing):
            raise BrokenTable(
                f"{file}: {name}: standing is {value.source.standing!r}, it must be one of "
                f"{', '.join(get_args(Standing))}"
            )
    values = tuple(
        replace(value, value=typed(file, f"{name} from {value.from_}", value.value)) for value in series[name].values
    )
    return Dated(name, values)


def _planning_rule(file: str, name: str, record: Mapping[str, Any]) -> PlanningRule:
    _keys(file, name, record, {field.name for field in fields(PlanningRule)})
    if record["facing_highway"] not in ("permitted", "ground_storey", "not_permitted"):
        raise BrokenTable(f"{file}: {name}: facing_highway is permitted, ground_storey or not_permitted")
    return PlanningRule(
        max_units_detached=_limit(file, name, record, "max_units_detached", 1, 10),
        max_units_other=_limit(file, name, record, "max_units_other", 1, 10),
        max_volume_house_m3=_limit(file, name, record, "max_volume_house_m3", 0.1, 10),
        max_volume_flat_m3=_limit(file, name, record, "max_volume_flat_m3", 0.1, 10),
        boundary_m=_limit(file, name, record, "boundary_m", 0.1, 20),
        max_height_m=_limit(file, name, record, "max_height_m", 0.5, 20),
        max_protrusion_m=_limit(file, name, record, "max_protrusion_m", 0.1, 5),
        facing_highway=record["facing_highway"],
        noise_standard=record["noise_standard"],
        confirmed=_yes_no(file, name, record, "confirmed"),
    )


def _noise_limit(file: str, name: str, record: Mapping[str, Any]) -> NoiseLimit:
    _keys(file, name, record, {"method", "limit_dba", "background_dba", "distance_steps", "confirmed"})
    limit = _limit(file, name, record, "limit_dba", 20, 80)
    background = _limit(file, name, record, "background_dba", 10, 70)
    limit_dba = limit if isinstance(limit, float) else None
    background_dba = background if isinstance(background, float) else None
    if limit_dba is not None and background_dba is not None and background_dba >= limit_dba:
        raise BrokenTable(f"{file}: {name}: the background of {background_dba:g} dB(A) leaves nothing below the limit")
    steps = None if record["distance_steps"] == NONE else _distance_steps(file, name, record["distance_steps"])
    return NoiseLimit(record["method"], limit_dba, background_dba, _yes_no(file, name, record, "confirmed"), steps)


def _distance_steps(file: str, name: str, record: Mapping[str, Any]) -> DistanceSteps:
    _keys(file, name, record, {"distances_m", "by_directivity_db", "unsure_m", "confirmed"})
    distances = tuple(float(distance) for distance in record["distances_m"])
    columns = {int(q): tuple(float(step) for step in steps) for q, steps in record["by_directivity_db"].items()}
    if not distances or list(distances) != sorted(set(distances)):
        raise BrokenTable(f"{file}: {name}: the distances of the steps must rise")
    for directivity, steps in columns.items():
        if len(steps) != len(distances) or list(steps) != sorted(steps, reverse=True) or steps[0] > 0:
            raise BrokenTable(f"{file}: {name}: the steps of Q {directivity} must fall, one for each distance")
    return DistanceSteps(
        distances, columns, tuple(float(one) for one in record["unsure_m"]), _yes_no(file, name, record, "confirmed")
    )


def _barrier(file: str, name: str, record: Mapping[str, Any]) -> BarrierSteps:
    _keys(file, name, record, {*VIEWS, "confirmed"})
    steps = {view: _within(file, name, record, view, -40, 0) for view in VIEWS}
    if not steps["in_sight"] >= steps["partly_hidden"] >= steps["hidden"]:
        raise BrokenTable(f"{file}: {name}: the more is hidden, the less may be heard")
    return BarrierSteps(steps, _yes_no(file, name, record, "confirmed"))


def _network(record: Mapping[str, Any]) -> NetworkRule:
    file, name = "network.json", "supply"
    _keys(file, name, record, {field.name for field in fields(NetworkRule)})
    return NetworkRule(
        nominal_voltage_v=_within(file, name, record, "nominal_voltage_v", 200, 260),
        voltage_drop_limit_ratio=_within(file, name, record, "voltage_drop_limit_ratio", 0.01, 0.1),
        voltage_source=_source(file, name, record, "voltage_source"),
        unit_diversity_ratio=_within(file, name, record, "unit_diversity_ratio", 0, 1),
        immersion_diversity_ratio=_within(file, name, record, "immersion_diversity_ratio", 0, 1),
        diversity_source=_source(file, name, record, "diversity_source"),
        apply_above_a=_within(file, name, record, "apply_above_a", 10, 400),
        apply_above_single_phase_kva=_within(file, name, record, "apply_above_single_phase_kva", 2, 100),
        notify_within_days=int(_within(file, name, record, "notify_within_days", 0, 365)),
        source=_source(file, name, record, "source"),
    )


def _diversity(record: Mapping[str, Any]) -> DiversityTable:
    file = "diversity.json"
    _keys(file, "diversity", record, {"household", "sources", "in_every_house", "largest_single_phase_cutout_a",
                                      "cutout_source"})  # fmt: skip
    rows, sources = _table(file, "household", record), _table(file, "sources", record)
    _keys(file, "household", rows, set(LOADS))
    read = {name: _source(file, "sources", sources, name) for name in sources}
    household = {}
    for kind in LOADS:
        row = rows[kind]
        _keys(file, kind, row, {"largest_whole", "whole_a", "rest_ratio", "socket_a", "by"})
        if row["by"] not in read:
            raise BrokenTable(f"{file}: {kind}: by is {row['by']!r}, it must be one of {', '.join(read)}")
        household[kind] = Allowance(
            largest_whole=int(_within(file, kind, row, "largest_whole", 0, 10)),
            whole_a=_within(file, kind, row, "whole_a", 0, 100),
            rest_ratio=_within(file, kind, row, "rest_ratio", 0, 1),
            socket_a=_within(file, kind, row, "socket_a", 0, 13),
            source=read[row["by"]],
        )
    if strange := sorted(set(record["in_every_house"]) - set(LOADS)):
        raise BrokenTable(f"{file}: in_every_house: does not know {', '.join(strange)}")
    return DiversityTable(
        household=household,
        in_every_house=tuple(record["in_every_house"]),
        source=_source(file, "sources", sources, "table"),
        largest_single_phase_cutout_a=_within(file, "diversity", record, "largest_single_phase_cutout_a", 60, 200),
        cutout_source=_source(file, "diversity", record, "cutout_source"),
    )


def _slab(record: Mapping[str, Any]) -> SlabTable:
    file, name = "grounds.json", "slab"
    _keys(file, name, record, {field.name for field in fields(SlabTable)})
    return SlabTable(
        overhang_mm=_within(file, name, record, "overhang_mm", 0, 1000),
        sub_base_mm=_within(file, name, record, "sub_base_mm", 0, 500),
        above_ground_mm=_within(file, name, record, "above_ground_mm", 0, 100),
        thickness_mm=_by_ground(file, name, record, "thickness_mm", 100, 300),
        steepest_for_preformed_ratio=_within(file, name, record, "steepest_for_preformed_ratio", 0, 0.5),
        steepest_for_slab_ratio=_within(file, name, record, "steepest_for_slab_ratio", 0.05, 1),
        firm_for_preformed=tuple(record["firm_for_preformed"]),
        heaviest_on_preformed_kg=_within(file, name, record, "heaviest_on_preformed_kg", 10, 500),
        source=_source(file, name, record, "source"),
    )


def _soakaway(record: Mapping[str, Any]) -> SoakawayTable:
    file, name = "grounds.json", "soakaway"
    _keys(file, name, record, {field.name for field in fields(SoakawayTable)})
    steps = tuple(float(step) for step in record["side_steps_mm"])
    if not steps or list(steps) != sorted(set(steps)) or steps[0] < 200:
        raise BrokenTable(f"{file}: {name}: side_steps_mm must rise from 200 mm or more")
    return SoakawayTable(
        depth_mm=_within(file, name, record, "depth_mm", 300, 2000),
        below_frost_mm=_within(file, name, record, "below_frost_mm", 0, 1000),
        usual_frost_depth_mm=_within(file, name, record, "usual_frost_depth_mm", 0, 1500),
        standing_pipe_od_mm=_within(file, name, record, "standing_pipe_od_mm", 32, 200),
        side_steps_mm=steps,
        void_ratio=_within(file, name, record, "void_ratio", 0.2, 0.5),
        held_days=_by_ground(file, name, record, "held_days", 0.1, 10),
        top_bags=int(_within(file, name, record, "top_bags", 0, 10)),
        bag_kg=_within(file, name, record, "bag_kg", 5, 50),
        gravel_kg_per_m3=_within(file, name, record, "gravel_kg_per_m3", 1200, 2200),
        trace_heat_above_m=_within(file, name, record, "trace_heat_above_m", 0, 20),
        source=_source(file, name, record, "source"),
    )


def _handling(record: Mapping[str, Any]) -> HandlingRule:
    file, name = "grounds.json", "handling"
    _keys(file, name, record, {field.name for field in fields(HandlingRule)})
    return HandlingRule(
        one_person_kg=_within(file, name, record, "one_person_kg", 5, 50),
        people=int(_within(file, name, record, "people", 1, 6)),
        lifting_aid_above_kg=_within(file, name, record, "lifting_aid_above_kg", 25, 500),
        long_carry_m=_within(file, name, record, "long_carry_m", 1, 500),
        source=_source(file, name, record, "source"),
    )


def _refrigerants(record: Mapping[str, Any]) -> Refrigerants:
    file, name = "refrigerants.json", "refrigerants"
    _keys(file, name, record, {field.name for field in fields(Refrigerants)})
    for refrigerant, safety_class in record["classes"].items():
        if safety_class not in ("A1", "A2L", "A2", "A3"):
            raise BrokenTable(f"{file}: {refrigerant}: {safety_class!r} is not a safety class")
    return Refrigerants(record["classes"], tuple(record["flammable"]), _source(file, name, record, "source"))


def _table(file: str, name: str, tables: Mapping[str, Any]) -> Mapping[str, Any]:
    if name not in tables:
        raise BrokenTable(f"{file}: {name} is missing")
    table: Mapping[str, Any] = tables[name]
    return table


def _keys(file: str, name: str, record: Any, wanted: set[str]) -> None:
    if not isinstance(record, Mapping):
        raise BrokenTable(f"{file}: {name}: is {record!r}, it must be a table")
    if missing := sorted(wanted - set(record)):
        raise BrokenTable(f"{file}: {name}: lacks {', '.join(missing)}")
    if extra := sorted(set(record) - wanted):
        raise BrokenTable(f"{file}: {name}: does not know {', '.join(extra)}")


def _within(file: str, name: str, record: Mapping[str, Any], field: str, low: float, high: float) -> float:
    value = record.get(field)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise BrokenTable(f"{file}: {name}: {field} is not a number: {value!r}")
    if not low <= value <= high:
        raise BrokenTable(f"{file}: {name}: {field} is {value:g}, it must lie in {low:g} to {high:g}")
    return float(value)


def _limit(file: str, name: str, record: Mapping[str, Any], field: str, low: float, high: float) -> Limit:
    if record[field] == NONE:
        return "none"
    if record[field] == NOT_KNOWN:
        return "not_known"
    if record[field] is None or isinstance(record[field], str):
        raise BrokenTable(f"{file}: {name}: {field} is {record[field]!r}; say a number, none or not_known")
    return _within(file, name, record, field, low, high)


def _by_ground(
    file: str, name: str, record: Mapping[str, Any], field: str, low: float, high: float
) -> dict[str, float]:
    _keys(file, f"{name}: {field}", record[field], set(GROUNDS))
    return {ground: _within(file, f"{name}: {field}", record[field], ground, low, high) for ground in GROUNDS}


def _yes_no(file: str, name: str, record: Mapping[str, Any], field: str) -> bool:
    value = record[field]
    if not isinstance(value, bool):
        raise BrokenTable(f"{file}: {name}: {field} is {value!r}, it must be true or false")
    return value


def _source(file: str, name: str, record: Mapping[str, Any], field: str) -> Source:
    try:
        source = source_of(record[field])
    except (KeyError, TypeError) as fault:
        raise BrokenTable(f"{file}: {name}: has no source") from fault
    if source.standing not in get_args(Standing):
        raise BrokenTable(
            f"{file}: {name}: standing is {source.standing!r}, it must be one of {', '.join(get_args(Standing))}"
        )
    return source
