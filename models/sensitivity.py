"""Which of the values that nobody saw move the size of the unit or the price most, and by how much.

Each value is set to the ends of a plausible span and the whole estimate is worked out again at the same flow
temperature. Common practice, no source: the spans.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, Literal, NamedTuple

from models.estimate import Choices, Estimate, estimate, house_part
from models.rules import Rules
from models.sources import COMMON_PRACTICE
from models.survey import ByTable, ByU, Survey
from models.survey.known import AssumedValue, assumed_with_paths
from models.survey.part import Part
from models.units import UNKNOWN, unit_of

SOURCE = COMMON_PRACTICE
MOST_VARIATIONS = 40
TOP = 3
PARTY_WALL_POLICIES = ("neighbour_heated", "neighbour_at_10")
_PARTY_WALL = "party_wall_policy"

Path = tuple[str | int, ...]


class Span(NamedTuple):
    """How far a value that nobody saw may plausibly lie from what was taken.

    "share": a number times 1 - low and 1 + high. "by": a number less low and plus high. "values": each of `values`,
    also for a value that is unknown.
    """

    what: str
    kind: Literal["share", "by", "values"]
    low: float = 0.0
    high: float = 0.0
    values: tuple[Any, ...] = ()


def _share(what: str, low: float, high: float | None = None) -> Span:
    return Span(what, "share", low, low if high is None else high)


def _by(what: str, low: float, high: float) -> Span:
    return Span(what, "by", low, high)


def _values(what: str, *values: Any) -> Span:
    return Span(what, "values", values=values)


SPANS: Mapping[str, Span] = {
    "air_changes_per_h": _share("air changes", 0.3),
    "u_w_per_m2k": _share("U-value", 0.2),
    "row": _share("U-value of the table's row", 0.2),
    "thickness_mm": _share("thickness", 0.2),
    "conductivity_w_per_mk": _share("conductivity", 0.2),
    "resistance_m2k_per_w": _share("resistance", 0.2),
    "insulation_m2k_per_w": _share("insulation", 0.3),
    _PARTY_WALL: _values("next door", *PARTY_WALL_POLICIES),
    "output_50k_w": _share("rated output of the emitters", 0.15),
    "wanted_temp_c": _by("room temperature", 1.0, 1.0),
    "area_m2": _share("area", 0.05),
    "length_m": _share("length", 0.05),
    "width_m": _share("width", 0.05),
    "height_m": _share("height", 0.05),
    "air_permeability_m3_per_h_m2": _values("air permeability", 4.0, 15.0),
    "air_tightness": _values("class of air tightness", "II", "IV"),
    "exposed_facades": _values("sides that the wind reaches", 1, 4),
    "extract_m3_per_h": _values("air extracted", 0.0, 50.0),
    "supply_m3_per_h": _values("air supplied", 0.0, 50.0),
    "background_vents_m3_per_h": _values("background vents", 0.0, 20.0),
    "heat_recovery_ratio": _share("heat recovery", 0.2, 0.1),
    "ground_conductivity_w_per_mk": _values("conductivity of the ground", 1.5, 3.5),
    "slab_area_m2": _share("area of the ground floor", 0.1),
    "exposed_perimeter_m": _share("edge of the ground floor", 0.1),
    "run_m": _values("pipe run to a new emitter", 2.0, 8.0),
    "longest_run_m": _values("longest heating run", 8.0, 30.0),
    "main_mm": _values("heating mains", 15, 28),
    "branch_mm": _values("heating branches", 10, 15),
    "layout": _values("layout of the pipes", "two_pipe", "single_pipe", "manifold"),
    "material": _values("material of the pipes", "copper", "plastic"),
    "valves": _values("radiator valves", "thermostatic", "seized"),
    "condition": _values("condition of the emitters", "sound", "corroded"),
    "tail_mm": _values("tails of the emitters", 10, 15),
    "fan_accepted": _values("convectors with a fan accepted", "yes", "no"),
    "occupants": _by("people who live there", 1, 1),
    "use": _values("use of hot water", "low", "high"),
    "static_pressure_bar": _values("pressure of the main at rest", 1.5, 4.0),
    "dynamic_pressure_bar": _values("pressure of the main while running", 1.0, 3.0),
    "main_flow_l_per_min": _values("flow of the main", 12.0, 30.0),
    "hardness_mg_per_l": _values("hardness of the water", 60.0, 320.0),
    "softened": _values("softened water", "yes", "no"),
    "stopcock_sound": _values("sound stopcock", "yes", "no"),
    "floor": _values("floor under the cylinder", "solid", "timber"),
    "floor_limit_kg": _values("what the floor under the cylinder bears", 200.0, 500.0),
    "discharge_run_m": _values("run of the relief discharge", 2.0, 9.0),
    "discharge_falls": _values("fall of the relief discharge", "yes", "no"),
    "discharge_to": _values("end of the relief discharge", "gully", "low_level_outside"),
    "boundary_m": _values("distance to the boundary", 0.5, 5.0),
    "path_m": _values("distance to a path", 0.5, 5.0),
    "faces_highway": _values("facing a highway", "yes", "no"),
    "ground": _values("ground", "sand_or_gravel", "clay"),
    "water_table": _values("water table", "low", "high"),
    "percolation": _values("percolation", "passes", "fails"),
    "frost_depth_mm": _values("depth of frost", 300, 600),
    "condensate_to": _values("where the meltwater goes", "soakaway", "gully"),
    "mount_height_m": _values("height of a wall-mounted unit", 0.3, 2.5),
    "wall": _values("wall behind the unit", "masonry", "timber_frame"),
    "phases": _values("phases", "single", "three"),
    "cutout_a": _values("cut-out", 60.0, 100.0),
    "looped": _values("looped supply", "yes", "no"),
    "earthing": _values("earthing", "tn_c_s", "tt"),
    "bonding_sound": _values("sound bonding", "yes", "no"),
    "spare_ways": _values("spare ways", 0, 4),
    "demand_before_a": _values("demand of today", 20.0, 60.0),
    "rated_kw": _share("power of the loads", 0.2),
    "breaker_a": _share("breakers of the loads", 0.2),
    "cable_method": _values("how the cable is run", "clipped", "in_insulation"),
    "cable_route_m": _share("route of the cable", 0.3),
    "route_outside_m": _share("route outside", 0.3),
    "route_inside_m": _share("route inside", 0.3),
    "route_buried_m": _share("buried route", 0.3),
    "on_gas_grid": _values("on the gas grid", "yes", "no"),
    "listed": _values("listed building", "yes", "no"),
    "conservation_area": _values("conservation area", "yes", "no"),
    "energy_certificate_valid": _values("valid energy certificate", "yes", "no"),
    "often_empty": _values("often empty", "yes", "no"),
    "power_cuts": _values("power cuts", "rare", "frequent"),
    "boiler": _values("kind of boiler", "combi", "system"),
    "circuit": _values("circuit", "open_vented", "sealed"),
    "volume_l": _values("volume of the old cylinder", 110.0, 210.0),
    "pump_head_m": _values("head of the pump", 4.0, 8.0),
    "sludge_mg_per_l": _values("sludge", 100.0, 5000.0),
    "boiler_efficiency_ratio": _values("efficiency of the boiler", 0.7, 0.9),
    "other_heater": _values("other heater", "none", "stove"),
    "fuel_pence_per_kwh": _values("price of fuel", Decimal("5"), Decimal("12")),
}
"""The span of each field, common practice; what moves the heat loss stands first, since at most 40 are varied."""
_RANK = {field: rank for rank, field in enumerate(SPANS)}


class Swing(NamedTuple):
    """What one value at one end of its span does. Changes are against the estimate as it stands.

    `price_change_pence` is of what the customer pays, None where either has no price. `new_stops` are codes of *stop*
    findings that the estimate did not have; then the flow temperature was chosen anew and is the one shown.
    `more_rooms_short` is how many more rooms lack heat: a price that falls with them is no saving.
    """

    to: str
    heat_loss_change_w: float
    capacity_change_w: float | None
    unit_sku: str | None
    unit_count: int
    unit_changes: bool
    flow_temp_c: float
    price_change_pence: int | None
    new_stops: tuple[str, ...]
    more_rooms_short: int = 0


class Mover(NamedTuple):
    """One assumption, all values of a kind together, and what it moves."""

    field: str
    what: str
    places: tuple[str, ...]
    taken: str
    swings: tuple[Swing, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """The assumptions that move unit or price most, the strongest first, and those that were not varied, with why.

    `could_stop` are those that at one end of their span bring a *stop*, whatever they move.
    """

    movers: tuple[Mover, ...]
    could_stop: tuple[Mover, ...]
    varied: int
    variations: int
    without_effect: tuple[str, ...]
    not_varied: tuple[tuple[str, str], ...]
    source: str


class _Group(NamedTuple):
    """All values of one field that nobody saw, with what was taken for each."""

    field: str
    members: tuple[tuple[AssumedValue, Any], ...]


def sensitivity(worked_out: Estimate, *, most_movers: int | None = TOP) -> Sensitivity:
    """Which assumed or unknown values move the unit or the price of an estimate most.

    Common practice, no source. Values of one field vary together, at most 40 variations, what moves the heat loss
    first. A change of unit ranks above any change of figures; otherwise the larger of the changes of heat loss and
    price, each as a share. The flow temperature is held, unless that would bring a *stop*: then it is chosen anew.
    `most_movers` None gives all that move anything. Never raises for a value that cannot be varied: it is listed.
    """
    held = worked_out.choices.model_copy(update={"flow_temp_c": worked_out.design.flow.flow_temp_c})
    movers: list[tuple[tuple[bool, float], Mover]] = []
    could_stop: list[Mover] = []
    without_effect: list[str] = []
    not_varied: list[tuple[str, str]] = []
    variations = varied = 0
    for group in _groups(worked_out):
        span = SPANS.get(group.field)
        if span is None:
            not_varied.append((group.field, "no plausible span is known for it"))
            continue
        steps = list(_steps(span, group))
        if not steps:
            not_varied.append((group.field, "its value is not known, so a share of it is not either"))
            continue
        if variations + len(steps) > MOST_VARIATIONS:
            not_varied.append((group.field, f"beyond the {MOST_VARIATIONS} variations that are worked out"))
            continue
        variations += len(steps)
        tried = [_tried(worked_out, held, group, told, values) for told, values in steps]
        swings = [swing for swing in tried if swing is not None]
        if not swings:
            not_varied.append((group.field, "no value of its span can be worked out here"))
            continue
        varied += 1
        mover = _mover(group, span, swings, worked_out)
        rank = max(_moves(worked_out, swing) for swing in swings)
        stops = any(swing.new_stops for swing in swings)
        if stops:
            could_stop.append(mover)
        if rank > (False, 0.0):
            movers.append((rank, mover))
        elif not stops:
            without_effect.append(group.field)
    movers.sort(key=lambda one: one[0], reverse=True)
    return Sensitivity(
        movers=tuple(mover for _, mover in movers[:most_movers]),
        could_stop=tuple(could_stop),
        varied=varied,
        variations=variations,
        without_effect=tuple(without_effect),
        not_varied=tuple(not_varied),
        source=str(SOURCE),
    )


# --- what is varied --------------------------------------------------------------------------------------------------


def _groups(worked_out: Estimate) -> list[_Group]:
    """The values that nobody saw, by field; those that move the heat loss first."""
    by_field: dict[str, list[tuple[AssumedValue, Any]]] = {}
    for one, taken in _taken(worked_out):
        by_field.setdefault(one.field, []).append((one, taken))
    groups = [_Group(field, tuple(members)) for field, members in by_field.items()]
    return sorted(groups, key=lambda group: _RANK.get(group.field, len(_RANK)))


def _taken(worked_out: Estimate) -> Iterator[tuple[AssumedValue, Any]]:
    """Each value that nobody saw, with the number that the design took in its place where there is one."""
    survey = worked_out.survey
    seen_air: set[int | str] = set()
    rated = None
    for one in assumed_with_paths(survey):
        taken = one.value
        if one.field == "output_50k_w" and one.value == UNKNOWN:
            if rated is None:
                rated = house_part(survey, worked_out.choices, worked_out.rules).emitter_options.rooms
            taken = rated[_place(one.path[1])].as_found[_place(one.path[3])].output_50k_w
        elif one.field == "air_changes_per_h":
            seen_air.add(one.path[1])
        elif one.part == ByTable.__name__:
            taken = worked_out.design.u_values[survey.constructions[_place(one.path[1])].id].u_w_per_m2k
        yield one, taken
    if worked_out.design.heat_loss.method_name == "room_air_changes":
        for index, (room, its) in enumerate(zip(survey.rooms, worked_out.design.heat_loss.rooms, strict=True)):
            if room.air_changes_per_h is None and index not in seen_air:
                path = ("rooms", index, "air_changes_per_h")
                yield AssumedValue(room.name, "air_changes_per_h", "Room", None, path), its.air_changes_per_h
    said = worked_out.choices.party_wall_policy is not None
    if not said and any(element.faces == "neighbour" for room in survey.rooms for element in room.elements):
        policy = worked_out.rules.reference.defaults.party_wall_policy
        yield AssumedValue("house", _PARTY_WALL, "Defaults", policy, ()), policy


def _place(step: str | int) -> int:
    if isinstance(step, str):
        raise TypeError(f"{step} is no place in a list")
    return step


def _steps(span: Span, group: _Group) -> Iterator[tuple[str, tuple[Any, ...]]]:
    """The ends of a span: what to call each, and the value of every member there."""
    taken = [value for _, value in group.members]
    if span.kind == "values":
        for value in span.values:
            if any(value != one for one in taken):
                yield _words(group.field, value), (value,) * len(taken)
        return
    if not all(isinstance(value, (int, float, Decimal)) for value in taken):
        return
    for sign, by in ((-1, span.low), (1, span.high)):
        if span.kind == "share":
            told = f"{by * 100:.0f} % {'less' if sign < 0 else 'more'}"
            yield told, tuple(_like(value, float(value) * (1 + sign * by)) for value in taken)
        else:
            yield f"{by:g} {'less' if sign < 0 else 'more'}", tuple(_like(value, value + sign * by) for value in taken)


def _like(value: Any, number: float) -> Any:
    return round(number) if isinstance(value, int) else number


def _words(field: str, value: Any) -> str:
    if field == _PARTY_WALL:
        return {"neighbour_heated": "heated like the room", "neighbour_at_10": "at 10 °C"}[str(value)]
    if not isinstance(value, (int, float, Decimal)):
        return str(value).replace("_", " ")
    unit = unit_of(field)
    # A share and a rate of air changes are bare numbers to whoever reads them.
    return f"{value:g}" if unit in ("", "1", "1/h") else f"{value:g} {unit}"


def _varied(survey: Survey, rules: Rules, group: _Group, values: tuple[Any, ...]) -> tuple[Survey, Rules]:
    """Survey and rules with every member of a group at its value. Raises ValidationError where one is out of range."""
    if group.field == _PARTY_WALL:
        defaults = replace(rules.reference.defaults, party_wall_policy=values[0])
        return survey, replace(rules, reference=replace(rules.reference, defaults=defaults))
    changes: dict[Path, Any] = {}
    for (one, _), value in zip(group.members, values, strict=True):
        if one.part == ByTable.__name__:
            index = _place(one.path[1])
            there = survey.constructions[index]
            changes["constructions", index] = ByU(by="u_value", id=there.id, name=there.name, u_w_per_m2k=value)
        else:
            changes[one.path] = value
    changed = _with(survey, changes)
    if not isinstance(changed, Survey):
        raise TypeError("a varied survey is a survey")
    return changed, rules


def _with(part: Part, changes: Mapping[Path, Any]) -> Part:
    """A part with some values changed, of which only the part that holds a changed field is validated again."""
    own: dict[str, Any] = {}
    below: dict[str, dict[Path, Any]] = {}
    for path, value in changes.items():
        field = str(path[0])
        if len(path) == 1:
            own[field] = value
        else:
            below.setdefault(field, {})[path[1:]] = value
    for field, inner in below.items():
        there = getattr(part, field)
        if isinstance(there, Part):
            own_or_whole: Any = _with(there, inner)
        else:
            by_index: dict[int, dict[Path, Any]] = {}
            for path, value in inner.items():
                by_index.setdefault(_place(path[0]), {})[path[1:]] = value
            own_or_whole = tuple(
                _item(item, by_index[index]) if index in by_index else item for index, item in enumerate(there)
            )
        part = part.model_copy(update={field: own_or_whole})
    if not own:
        return part
    fields = {name: getattr(part, name) for name in part.model_fields_set} | own
    return type(part).model_validate(fields)


def _item(item: Part, inner: Mapping[Path, Any]) -> Part:
    whole = inner.get(())
    return whole if isinstance(whole, Part) else _with(item, inner)


# --- what it moves ---------------------------------------------------------------------------------------------------


def _stops(worked_out: Estimate) -> frozenset[str]:
    return frozenset(finding.code for finding in worked_out.findings if finding.strength == "stop")


def _rooms_short(worked_out: Estimate) -> int:
    return sum(room.short_w > 0 for room in worked_out.design.emitters.rooms)


def _pays(worked_out: Estimate) -> int | None:
    return None if worked_out.price is None else worked_out.price.customer_pays_pence


def _tried(worked_out: Estimate, held: Choices, group: _Group, told: str, values: tuple[Any, ...]) -> Swing | None:
    """The estimate with a group at one end of its span; None where that cannot be worked out.

    At the flow temperature that is held, unless that brings a *stop*: then at one chosen anew.
    """
    # Pricing on the day of the estimate leads to the same assumed start of works.
    today = worked_out.priced_on
    try:
        survey, rules = _varied(worked_out.survey, worked_out.rules, group, values)
        other = estimate(survey, held, rules, today=today)
        if _stops(other) - _stops(worked_out):
            other = estimate(survey, worked_out.choices, rules, today=today)
    except ValueError:
        return None
    return _swing(worked_out, other, told)


def _swing(base: Estimate, other: Estimate, told: str) -> Swing:
    before, after = base.design.unit, other.design.unit
    pays_before, pays_after = _pays(base), _pays(other)
    sku_before = before.unit.sku if before.unit else None
    sku_after = after.unit.sku if after.unit else None
    return Swing(
        to=told,
        heat_loss_change_w=other.design.heat_loss.heat_loss_w - base.design.heat_loss.heat_loss_w,
        capacity_change_w=None
        if before.capacity_w is None or after.capacity_w is None
        else after.capacity_w - before.capacity_w,
        unit_sku=sku_after,
        unit_count=after.count,
        unit_changes=(sku_before, before.count) != (sku_after, after.count),
        flow_temp_c=other.design.flow.flow_temp_c,
        price_change_pence=None if pays_before is None or pays_after is None else pays_after - pays_before,
        new_stops=tuple(sorted(_stops(other) - _stops(base))),
        more_rooms_short=_rooms_short(other) - _rooms_short(base),
    )


def _moves(base: Estimate, swing: Swing) -> tuple[bool, float]:
    loss_w, pays = base.design.heat_loss.heat_loss_w, _pays(base)
    loss_share = abs(swing.heat_loss_change_w) / abs(loss_w) if loss_w else 0.0
    price_share = abs(swing.price_change_pence) / pays if swing.price_change_pence is not None and pays else 0.0
    return swing.unit_changes, max(loss_share, price_share)


def _mover(group: _Group, span: Span, swings: Iterable[Swing], base: Estimate) -> Mover:
    places = tuple(dict.fromkeys(one.place or "survey" for one, _ in group.members))
    where = places[0] if len(places) == 1 else f"{len(places)} places"
    taken = list(dict.fromkeys(_words(group.field, value) for _, value in group.members))
    told = taken[0] if len(taken) == 1 else f"{len(taken)} different values"
    swings = tuple(swings)
    return Mover(
        group.field,
        span.what,
        places,
        told,
        swings,
        f"{span.what} ({where}, taken as {told}): " + "; ".join(_says(swing, base) for swing in swings),
    )


def _short_words(count: int) -> str:
    return "one room more" if count == 1 else f"{count} rooms more"


def _says(swing: Swing, base: Estimate) -> str:
    said = []
    if abs(swing.heat_loss_change_w) >= 0.5:
        said.append(f"heat loss {swing.heat_loss_change_w:+,.0f} W")
    if swing.unit_changes:
        count = f"{swing.unit_count} x " if swing.unit_count > 1 else ""
        said.append(f"unit {count}{swing.unit_sku}" if swing.unit_sku else "no unit is enough")
    if swing.flow_temp_c != base.design.flow.flow_temp_c:
        said.append(f"flow at {swing.flow_temp_c:g} °C")
    if swing.new_stops:
        said.append(f"it could not be issued ({', '.join(code.replace('_', ' ') for code in swing.new_stops)})")
    elif swing.price_change_pence:
        amount = Decimal(abs(swing.price_change_pence)) / 100
        said.append(f"the customer pays £{amount:,.2f} {'more' if swing.price_change_pence > 0 else 'less'}")
    if swing.more_rooms_short > 0:
        said.append(f"{_short_words(swing.more_rooms_short)} short of heat")
    return f"{swing.to}: {', '.join(said) or 'no change'}"
