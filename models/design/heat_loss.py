"""How much heat each room and the house lose at design conditions: fabric, ground, air, reheat.

BS EN 12831-1:2017, by three methods on the same survey: standard with air changes room by room, standard with
ventilation through the envelope, simplified.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from math import fsum

from models.design.results import Climate, ConstructionU, ElementLoss, HeatLoss, MethodResult, RoomAir, RoomLoss
from models.findings import Finding
from models.frozen import quickly_made
from models.physics.conduction import equivalent_ground_u_w_per_m2k
from models.reference import Reference
from models.reference.load import HeatLossTable
from models.sources import COMMON_PRACTICE, Source, Why
from models.survey import (
    BasementFloor,
    BasementWall,
    ByTable,
    ByU,
    Element,
    GroundSlab,
    Room,
    Survey,
    SuspendedFloor,
)
from models.units import dyadic, per_cent

SOURCE = Source("BS EN 12831-1:2017", "functions 3 to 31, 33, 39, 48 and 49")
WHY = Why(
    sentence=(
        "{heat_loss_w:.0f} W: fabric and ground {transmission_w:.0f} W, air {ventilation_w:.0f} W, "
        "reheat {reheat_w:.0f} W; flows between the house's own rooms left out"
    ),
    source=SOURCE,
)
WHY_ROOM = Why(
    sentence=(
        "{name} at {room_temp_c:g} °C: {heat_loss_w:.0f} W = fabric and ground {transmission_w:.0f} W (of which "
        "{to_rooms_w:.0f} W to other rooms) + air {ventilation_w:.0f} W + reheat {reheat_w:.0f} W"
    ),
    source=SOURCE,
)

METHODS = {
    "room_air_changes": "BS EN 12831-1:2017, standard method, ventilation by the air changes of each room",
    "standard": "BS EN 12831-1:2017, standard method, ventilation through envelope, fans and ducts",
    "simplified": "BS EN 12831-1:2017, simplified method (from memory)",
}
PARTY_WALL_POLICIES = ("neighbour_heated", "neighbour_at_10")
DIFFER_BEYOND_RATIO = 0.2
"""Methods that differ by more than this share of the chosen one are worth a word: the firm's rule."""
AIR_DIFFERS_RATIO = 0.05
"""A share of the loss from which air that was measured and not used is a question to a person: the firm's rule."""
SEPARATED_RATIO = 1.1
SEPARATION = Source("SAP 2012", "3.3.3, a conservatory that is thermally separated", "from memory")
_MIRROR_KIND = {"floor": "ceiling", "ceiling": "floor", "roof": "floor"}
_OVERHEAD = frozenset({"roof", "ceiling", "roof_window"})


class UnknownMethod(ValueError):
    """The defaults name a method, a bridge addition or a party-wall policy that does not exist; lists those that do."""


class OutdoorTooWarm(ValueError):
    """A room that is to be no warmer than outdoors at design conditions: the method has no answer."""

    def __init__(self, room: str, temp_c: float, outdoor_temp_c: float) -> None:
        super().__init__(
            f"room '{room}' is wanted at {temp_c:g} °C, which is not above the design outdoor temperature "
            f"of {outdoor_temp_c:.1f} °C"
        )
        self.room = room
        self.temp_c = temp_c
        self.outdoor_temp_c = outdoor_temp_c


@dataclass(frozen=True, slots=True)
class HighRoom:
    """Temperatures that act in a room of 4 m and more.

    `air_temp_c` is the mean of the air, for ventilation and upright elements; `overhead_temp_c` the surface of
    what closes the room above.
    """

    air_temp_c: float
    overhead_temp_c: float


def high_room(
    *,
    room_temp_c: float,
    height_m: float,
    overhead_height_m: float,
    air_gradient_k_per_m: float,
    occupied_height_m: float,
    radiant_k: float,
    surface_k: float,
) -> HighRoom:
    """Mean air and overhead surface temperature of a high room.

    BS EN 12831-1:2017, functions 48 and 49: θ*air = θint + G (h/2 - h_occ) - Δθrad and
    θ*surface = θint + G (h_k - h_occ) + Δθsurf. For heights of 4 m and more.
    """
    return HighRoom(
        room_temp_c + air_gradient_k_per_m * (height_m / 2 - occupied_height_m) - radiant_k,
        room_temp_c + air_gradient_k_per_m * (overhead_height_m - occupied_height_m) + surface_k,
    )


@quickly_made
@dataclass(frozen=True, slots=True)
class _Rules:
    """What holds for every element of the house."""

    table: HeatLossTable
    simplified: bool
    outdoor_temp_c: float
    annual_mean_temp_c: float
    bridge_w_per_m2k: float
    ground_factor_ratio: float
    neighbour_counts: bool
    characteristic_m: float
    u_w_per_m2k: Mapping[str, float]
    through_void: frozenset[str]
    on_ground: frozenset[str]
    u_to_ground: frozenset[str]


@dataclass(slots=True)
class _Room:
    """What is found for a room while the elements of all rooms are gone through."""

    room: Room
    temp_c: float
    volume_m3: float
    high: HighRoom | None
    losses: list[ElementLoss] = field(default_factory=list)
    outward_w: list[float] = field(default_factory=list)
    flows_w: list[float] = field(default_factory=list)


@dataclass(slots=True)
class _House:
    """What is found for the house on the way: loss outwards by both ways of transmission, what next door changes."""

    standard_w: list[float] = field(default_factory=list)
    simplified_w: list[float] = field(default_factory=list)
    neighbour_w: list[float] = field(default_factory=list)
    equivalent: list[str] = field(default_factory=list)
    party: set[str] = field(default_factory=set)
    over_unheated: list[tuple[str, float, float]] = field(default_factory=list)
    to_conservatory: list[tuple[str, Element, float, float]] = field(default_factory=list)


def heat_loss(
    *,
    survey: Survey,
    climate: Climate,
    u_values: Mapping[str, ConstructionU],
    air: Mapping[str, RoomAir],
    reference: Reference,
    method: str | None = None,
) -> HeatLoss:
    """Design heat loss of every room and of the house by the method named, else by that of the defaults.

    BS EN 12831-1:2017, functions 3 to 31, 33, 39, 48, 49. `u_values` holds every construction, ground floors too. All
    methods run on the same survey: what the others give for the house stands in `other_methods`.

    - Openings come off the element they are cut from. The thermal-bridge addition is for what faces outside only.
    - A suspended floor's U contains its void already: whether it faces ground, an unheated space or outside, its loss
      is to outdoor air, without factor and without bridge addition.
    - Ground: U A (θint - annual mean), times the groundwater factor, times 1.45 where the defaults say so. A U-value
      that was given, and that of a slab or a basement, is to the ground; of layers or a table it is made so by
      Annex E (a floor at storey 0 at ground level, below it as deep as the room is high, walls to the same depth).
    - A neighbour is as warm as the room, or at 10 °C, as the defaults say; `neighbour_check_w` is the difference.
    - A flow between two heated rooms is put on the grid of `dyadic`, so that all `to_rooms_w` add up to exactly 0.
    - Rooms of 4 m and more: ventilation and upright elements act at the mean air temperature, what is overhead at
      its surface temperature, floors at room temperature; radiant and surface corrections are nought.
    - Method "standard": supply air comes at θe + η (mean temperature of the extracted air - θe); without extract
      nothing is recovered.
    - Method "simplified": one factor of the difference to outdoors for each kind of other side, outside walls by
      their outer area, air changes of the house by its age and of rooms 0.5. Its factor for heated spaces stands for
      next door, of which the temperature is not known; between surveyed rooms both are known and the difference
      counts. A U-value that contains the ground keeps the ground's temperature. Heights are not corrected.

    Raises UnknownMethod for names that do not exist, OutdoorTooWarm where a room is no warmer than outdoors.
    """
    name = reference.defaults.heat_loss_method if method is None else method
    rules = _rules(survey, climate, u_values, reference, name)
    rooms = _rooms(survey, reference, rules.outdoor_temp_c)
    house = _House()
    for room in rooms.values():
        _elements(room, rooms, rules, house)
    return _result(survey, reference, rules, name, list(rooms.values()), house, air, u_values)


def _rules(
    survey: Survey, climate: Climate, u_values: Mapping[str, ConstructionU], reference: Reference, method: str
) -> _Rules:
    defaults = reference.defaults
    table = reference.heat_loss
    _known("method of heat loss", method, METHODS)
    _known("thermal-bridge addition", defaults.thermal_bridge, table.thermal_bridge_w_per_m2k)
    _known("party-wall policy", defaults.party_wall_policy, PARTY_WALL_POLICIES)
    wet = any(position.water_table == "high" for position in survey.positions)
    groundwater_ratio = table.groundwater_within_1m_ratio if wet else table.groundwater_deeper_than_1m_ratio
    seasonal_ratio = table.annual_variation_factor_ratio if defaults.ground_factor == "annual_variation" else 1.0
    constructions = survey.constructions
    on_ground = frozenset(c.id for c in constructions if isinstance(c, (GroundSlab, BasementFloor, BasementWall)))
    return _Rules(
        table=table,
        simplified=method == "simplified",
        outdoor_temp_c=climate.design_outdoor_temp_c,
        annual_mean_temp_c=climate.annual_mean_temp_c,
        bridge_w_per_m2k=table.thermal_bridge_w_per_m2k[defaults.thermal_bridge],
        ground_factor_ratio=groundwater_ratio * seasonal_ratio,
        neighbour_counts=defaults.party_wall_policy == "neighbour_at_10",
        characteristic_m=survey.house.slab_area_m2 / (0.5 * survey.house.exposed_perimeter_m),
        u_w_per_m2k={construction_id: value.u_w_per_m2k for construction_id, value in u_values.items()},
        through_void=frozenset(c.id for c in constructions if isinstance(c, SuspendedFloor)),
        on_ground=on_ground,
        u_to_ground=on_ground.union(c.id for c in constructions if isinstance(c, ByU)),
    )


def _known(what: str, name: str, among: Iterable[str]) -> None:
    if name not in among:
        raise UnknownMethod(f"no {what} '{name}'; there are {', '.join(among)}")


def _rooms(survey: Survey, reference: Reference, outdoor_temp_c: float) -> dict[str, _Room]:
    table = reference.heat_loss
    found = {}
    for room in survey.rooms:
        wanted_temp_c = room.wanted_temp_c
        temp_c = reference.rooms[room.use].temp_c if wanted_temp_c is None else wanted_temp_c
        if temp_c <= outdoor_temp_c:
            raise OutdoorTooWarm(room.name, temp_c, outdoor_temp_c)
        high = None
        if room.height_m >= table.high_room_from_height_m:
            high = high_room(
                room_temp_c=temp_c,
                height_m=room.height_m,
                overhead_height_m=room.height_m,
                air_gradient_k_per_m=table.air_gradient_k_per_m,
                occupied_height_m=table.occupied_height_m,
                radiant_k=0.0,
                surface_k=0.0,
            )
        found[room.id] = _Room(room, temp_c, room.volume_m3, high)
    return found


def _elements(here: _Room, rooms: Mapping[str, _Room], rules: _Rules, house: _House) -> None:
    """Works out the elements of one room; an inner one stands in both its rooms, with opposite sign."""
    room = here.room
    room_temp_c = here.temp_c
    high = here.high
    outdoor_temp_c = rules.outdoor_temp_c
    span_k = room_temp_c - outdoor_temp_c
    losses, outward_w = here.losses, here.outward_w
    standard_w, simplified_w = house.standard_w, house.simplified_w
    u_of, through_void, on_ground = rules.u_w_per_m2k, rules.through_void, rules.on_ground
    factors = rules.table.simplified
    all_gross_m2 = [element.gross_area_m2 for element in room.elements]
    cut_m2 = _cut_m2(room, all_gross_m2)
    for element, gross_m2 in zip(room.elements, all_gross_m2, strict=True):
        element_id = element.id
        construction = element.construction
        faces = element.faces
        kind = element.kind
        u_w_per_m2k = u_of[construction]
        area_m2 = gross_m2
        if element_id in cut_m2:
            # The survey allows openings to fill their host to within float dust; dust must not turn into a gain.
            area_m2 = max(gross_m2 - cut_m2[element_id], 0.0)
        if faces == "room":
            other = rooms[element.beside_room or ""]
            difference_k = room_temp_c - other.temp_c
            flow_w = dyadic(u_w_per_m2k * area_m2 * difference_k)
            back_w = 0.0 - flow_w
            here.flows_w.append(flow_w)
            other.flows_w.append(back_w)
            losses.append(
                ElementLoss(
                    element_id, kind, faces, area_m2, u_w_per_m2k, 0.0, difference_k / span_k, other.temp_c, flow_w
                )
            )
            other.losses.append(
                ElementLoss(
                    element_id,
                    _MIRROR_KIND.get(kind, kind),
                    faces,
                    area_m2,
                    u_w_per_m2k,
                    0.0,
                    -difference_k / (other.temp_c - outdoor_temp_c),
                    room_temp_c,
                    back_w,
                )
            )
            continue
        # θ* - θint: nothing below 4 m, and nothing for floors.
        lift_k = 0.0
        if high is not None and kind != "floor":
            lift_k = (high.overhead_temp_c if kind in _OVERHEAD else high.air_temp_c) - room_temp_c
        bridge_w_per_m2k = 0.0
        simple_u_w_per_m2k = u_w_per_m2k
        simple_area_m2 = area_m2
        if construction in through_void:
            simple_ratio = factors.outside_ratio
            other_side_temp_c = outdoor_temp_c
            difference_k = span_k + lift_k
        elif construction in on_ground or faces == "ground":
            other_side_temp_c = rules.annual_mean_temp_c
            difference_k = (room_temp_c - other_side_temp_c) * rules.ground_factor_ratio
            if construction in rules.u_to_ground:
                simple_ratio = difference_k / span_k
            else:
                simple_ratio = factors.ground_ratio
                u_w_per_m2k = _against_earth_w_per_m2k(room, element, u_w_per_m2k, rules)
                house.equivalent.append(f"{room.name}: {element_id}")
        elif faces == "outside":
            simple_ratio = factors.outside_ratio
            if kind == "wall":
                simple_area_m2 += (factors.outside_wall_area_ratio - 1) * gross_m2
            bridge_w_per_m2k = rules.bridge_w_per_m2k
            other_side_temp_c = outdoor_temp_c
            difference_k = span_k + lift_k
        elif faces == "unheated":
            simple_ratio = factors.unheated_ratio
            difference_k = rules.table.unheated_space_factor_ratio[element.space or ""] * span_k
            other_side_temp_c = room_temp_c - difference_k
            difference_k += lift_k
        else:
            house.party.add(construction)
            simple_ratio = factors.other_entity_ratio if rules.neighbour_counts else factors.heated_ratio
            other_side_temp_c = rules.table.neighbour_unheated_temp_c
            difference_k = room_temp_c - other_side_temp_c + lift_k
            house.neighbour_w.append(
                u_w_per_m2k
                * area_m2
                * ((factors.other_entity_ratio - factors.heated_ratio) * span_k if rules.simplified else difference_k)
            )
            if not rules.neighbour_counts:
                other_side_temp_c, difference_k = room_temp_c, 0.0
        simple_loss_w = (simple_u_w_per_m2k + bridge_w_per_m2k) * simple_area_m2 * (simple_ratio * span_k)
        loss_w = (u_w_per_m2k + bridge_w_per_m2k) * area_m2 * difference_k
        simplified_w.append(simple_loss_w)
        standard_w.append(loss_w)
        if faces == "unheated" and element.space is not None:
            if element.space == "conservatory":
                house.to_conservatory.append((room.name, element, u_w_per_m2k, loss_w))
            elif kind == "floor" and element.space.startswith("room_"):
                house.over_unheated.append((room.name, u_w_per_m2k, loss_w))
        ratio = difference_k / span_k
        if rules.simplified:
            area_m2, u_w_per_m2k, loss_w, ratio = simple_area_m2, simple_u_w_per_m2k, simple_loss_w, simple_ratio
            other_side_temp_c = room_temp_c - simple_ratio * span_k
        outward_w.append(loss_w)
        losses.append(
            ElementLoss(
                element_id, kind, faces, area_m2, u_w_per_m2k, bridge_w_per_m2k, ratio, other_side_temp_c, loss_w
            )
        )


def _cut_m2(room: Room, all_gross_m2: list[float]) -> dict[str, float]:
    """What openings take from the elements that they are cut from, by element id."""
    cut: dict[str, float] = {}
    for element, gross_m2 in zip(room.elements, all_gross_m2, strict=True):
        host = element.within
        if host is not None:
            cut[host] = cut.get(host, 0.0) + gross_m2
    return cut


def _against_earth_w_per_m2k(room: Room, element: Element, u_w_per_m2k: float, rules: _Rules) -> float:
    return equivalent_ground_u_w_per_m2k(
        constants=rules.table.ground_equivalent["floor" if element.kind == "floor" else "wall"],
        characteristic_m=rules.characteristic_m,
        depth_m=room.height_m if room.storey < 0 else 0.0,
        u_w_per_m2k=u_w_per_m2k,
    )


@dataclass(frozen=True, slots=True)
class _Ventilation:
    """Loss by air of each room and of the house by one method."""

    rooms_w: list[float]
    house_w: float


def _ventilation(
    survey: Survey, reference: Reference, rules: _Rules, rooms: list[_Room], air: Mapping[str, RoomAir]
) -> dict[str, _Ventilation]:
    table = reference.heat_loss
    heat_wh_per_m3k = table.air_heat_capacity_wh_per_m3k
    outdoor_temp_c = rules.outdoor_temp_c
    by_changes_w, standard_w, zone_w, simple_w, simple_house_w = [], [], [], [], []
    extracted_k = _extracted_k(rooms, air, outdoor_temp_c)
    simple = table.simplified
    from_year = reference.age_bands[survey.house.age_band].from_year
    house_change_per_h = next(
        change_per_h
        for year, change_per_h in simple.house_air_change_per_h
        if year is None or (from_year is not None and from_year >= year)
    )
    for here in rooms:
        room = here.room
        its = air[room.id]
        air_temp_c = here.temp_c if here.high is None else here.high.air_temp_c
        w_per_flow = heat_wh_per_m3k * (air_temp_c - outdoor_temp_c)
        recovery_ratio = its.heat_recovery_ratio
        by_changes_w.append(w_per_flow * its.flow_m3_per_h * (1 - recovery_ratio))
        supply_w = 0.0
        if its.supply_m3_per_h:
            supply_w = its.supply_m3_per_h * (w_per_flow - heat_wh_per_m3k * recovery_ratio * extracted_k)
        standard_w.append(w_per_flow * its.design_flow_m3_per_h + supply_w)
        zone_w.append(w_per_flow * its.zone_flow_m3_per_h + supply_w)
        volume_w_per_change = heat_wh_per_m3k * here.volume_m3 * (here.temp_c - outdoor_temp_c)
        simple_w.append(simple.room_air_change_per_h * volume_w_per_change)
        simple_house_w.append(house_change_per_h * volume_w_per_change)
    return {
        "room_air_changes": _Ventilation(by_changes_w, fsum(by_changes_w)),
        "standard": _Ventilation(standard_w, fsum(zone_w)),
        "simplified": _Ventilation(simple_w, fsum(simple_house_w)),
    }


def _extracted_k(rooms: list[_Room], air: Mapping[str, RoomAir], outdoor_temp_c: float) -> float:
    """How much warmer than outdoors the extracted air is in the mean; nothing where none is extracted."""
    flow_m3_per_h = weighted = 0.0
    for here in rooms:
        extract_m3_per_h = air[here.room.id].extract_m3_per_h
        if extract_m3_per_h:
            flow_m3_per_h += extract_m3_per_h
            weighted += extract_m3_per_h * (here.temp_c - outdoor_temp_c)
    return weighted / flow_m3_per_h if flow_m3_per_h else 0.0


def _result(
    survey: Survey,
    reference: Reference,
    rules: _Rules,
    name: str,
    found: list[_Room],
    house: _House,
    air: Mapping[str, RoomAir],
    u_values: Mapping[str, ConstructionU],
) -> HeatLoss:
    by_method = _ventilation(survey, reference, rules, found, air)
    ventilation = by_method[name]
    reheat_w_per_m2 = reference.defaults.reheat_w_per_m2
    rooms = []
    floor_area_m2 = volume_m3 = degrees = 0.0
    for here, room_ventilation_w in zip(found, ventilation.rooms_w, strict=True):
        room = here.room
        transmission_w = fsum([*here.outward_w, *here.flows_w])
        area_m2 = room.length_m * room.width_m
        room_volume_m3 = here.volume_m3
        floor_area_m2 += area_m2
        volume_m3 += room_volume_m3
        degrees += here.temp_c * room_volume_m3
        rooms.append(
            RoomLoss(
                room.id,
                room.name,
                room.use,
                room.storey,
                here.temp_c,
                area_m2,
                room_volume_m3,
                air[room.id].air_changes_per_h,
                transmission_w,
                room_ventilation_w,
                reheat_w_per_m2 * area_m2,
                fsum(here.flows_w),
                transmission_w + room_ventilation_w + reheat_w_per_m2 * area_m2,
                tuple(here.losses),
            )
        )
    reheat_w = reheat_w_per_m2 * floor_area_m2
    fabric_w = fsum(house.standard_w)
    simplified_w = fsum(house.simplified_w)
    results = {}
    for method, its in by_method.items():
        transmission_w = simplified_w if method == "simplified" else fabric_w
        outward_w = transmission_w + reheat_w
        results[method] = MethodResult(
            method, outward_w + its.house_w, transmission_w, its.house_w, outward_w + fsum(its.rooms_w)
        )
    own = results.pop(name)
    others = tuple(results.values())
    neighbour_w = fsum(house.neighbour_w)
    mean_room_temp_c = degrees / volume_m3
    findings = [finding for value in u_values.values() for finding in value.findings]
    findings += _findings(rooms, rules, air, house, name, own, others)
    findings += _rooms_out_of_the_ordinary(found, rooms)
    if name == "standard":
        findings += _recovery_without_ducts(rooms, air)
    else:
        findings += _measured_air_not_used(survey, rooms, air, name, own, others)
    if house.party:
        findings += _party_wall_unknown(survey, house, u_values, own)
    if house.over_unheated:
        findings += _over_unheated(house)
    if house.to_conservatory:
        findings += _conservatory(survey, house, u_values)
    return HeatLoss(
        method=METHODS[name],
        rooms=tuple(rooms),
        transmission_w=own.transmission_w,
        ventilation_w=own.ventilation_w,
        reheat_w=reheat_w,
        heat_loss_w=own.heat_loss_w,
        floor_area_m2=floor_area_m2,
        heat_loss_w_per_m2=own.heat_loss_w / floor_area_m2,
        loss_coefficient_w_per_k=(own.transmission_w + own.ventilation_w) / (mean_room_temp_c - rules.outdoor_temp_c),
        mean_room_temp_c=mean_room_temp_c,
        findings=tuple(findings),
        neighbour_check_w=0.0 if rules.neighbour_counts else neighbour_w,
        method_name=name,
        rooms_ventilation_w=fsum(ventilation.rooms_w),
        other_methods=others,
        neighbour_heated_w=own.heat_loss_w - neighbour_w if rules.neighbour_counts else own.heat_loss_w,
        neighbour_at_10_w=own.heat_loss_w if rules.neighbour_counts else own.heat_loss_w + neighbour_w,
        zone_air=air[rooms[0].room_id].zone,
    )


def _findings(
    rooms: list[RoomLoss],
    rules: _Rules,
    air: Mapping[str, RoomAir],
    house: _House,
    name: str,
    own: MethodResult,
    others: tuple[MethodResult, ...],
) -> list[Finding]:
    findings = []
    if name == "room_air_changes":
        findings += _air_changes_assumed(rooms, air)
    if name == "standard":
        findings += _leaks_assumed(rooms, air)
    if any(abs(other.heat_loss_w - own.heat_loss_w) > DIFFER_BEYOND_RATIO * own.heat_loss_w for other in others):
        beside = ", ".join(f"{other.heat_loss_w:,.0f} W by {_words(other.method)}" for other in others)
        findings.append(
            Finding(
                "methods_differ",
                "note",
                "house",
                f"the heat loss is {own.heat_loss_w:,.0f} W by {_words(name)}, and {beside}",
                str(SOURCE),
                "survey what they differ in: air changes, air tightness, fans, and what lies beyond the walls",
            )
        )
    if house.neighbour_w:
        added_w = fsum(house.neighbour_w)
        neighbour_temp_c = rules.table.neighbour_unheated_temp_c
        message = (
            f"next door is taken as unheated, at {neighbour_temp_c:g} °C: {added_w:.0f} W of the loss goes there"
            if rules.neighbour_counts
            else f"next door is taken as heated, no loss through the party walls; at {neighbour_temp_c:g} °C there "
            f"it would be {added_w:.0f} W more"
        )
        leans = not rules.neighbour_counts and added_w > DIFFER_BEYOND_RATIO * own.heat_loss_w
        findings.append(
            Finding(
                "party_wall_policy",
                "ask" if leans else "note",
                "house",
                message + (": the home leans on its neighbours' warmth" if leans else ""),
                str(SOURCE),
                "ask whether next door is heated all winter; where nobody knows, choose next door at "
                f"{neighbour_temp_c:g} °C for unit and emitters"
                if leans
                else "",
            )
        )
    if house.equivalent and not rules.simplified:
        findings.append(
            Finding(
                "ground_u_by_equivalent",
                "note",
                "house",
                f"the U-values of {len(house.equivalent)} elements against earth were worked out from those in air: "
                f"{', '.join(house.equivalent)}",
                str(rules.table.ground_equivalent_source),
                "describe ground floors as a slab or a suspended floor where they are one",
            )
        )
    for room in rooms:
        if not room.elements:
            findings.append(
                Finding(
                    "room_without_elements",
                    "note",
                    room.name,
                    "nothing that bounds this room was surveyed, so its fabric counts as no loss",
                    remedy="add the walls, windows, floor and ceiling of the room",
                )
            )
        if room.heat_loss_w < 0:
            findings.append(
                Finding(
                    "room_gains_heat",
                    "note",
                    room.name,
                    f"at {room.room_temp_c:g} °C the room takes in {-room.heat_loss_w:.0f} W more from its neighbours "
                    "than it loses; it needs no emitter to reach its temperature",
                    str(SOURCE),
                )
            )
    return findings


def _measured_air_not_used(
    survey: Survey,
    rooms: list[RoomLoss],
    air: Mapping[str, RoomAir],
    name: str,
    own: MethodResult,
    others: tuple[MethodResult, ...],
) -> list[Finding]:
    """A pressure test, fans and ducts, of which only the standard's own flows make use."""
    told = []
    tested = survey.house.air_permeability_m3_per_h_m2
    if not isinstance(tested, str):
        told.append(f"the pressure test of {tested:g} m3/h for each m2 of envelope is left out")
    moved = sum(air[room.room_id].technical_m3_per_h > 0 for room in rooms)
    if moved:
        told.append(f"the fans and ducts of {_rooms_said(moved)} are left out")
    recovered = sum(air[room.room_id].heat_recovery_ratio > 0 for room in rooms)
    if recovered:
        told.append(
            f"the heat recovery of {_rooms_said(recovered)} is "
            + ("left out" if name == "simplified" else "taken off all their outdoor air, leaks too")
        )
    if not told:
        return []
    by_flows_w = next(other.heat_loss_w for other in others if other.method == "standard")
    more_w = by_flows_w - own.heat_loss_w
    return [
        Finding(
            "measured_air_not_used",
            "ask" if abs(more_w) > AIR_DIFFERS_RATIO * own.heat_loss_w else "note",
            "house",
            f"by {_words(name)} {'; '.join(told)}. By the standard's own flows the house loses {by_flows_w:,.0f} W, "
            f"{abs(more_w):,.0f} W {'more' if more_w > 0 else 'less'}",
            "BS EN 12831-1:2017, functions 15 to 31",
            "choose the standard method for this house, or accept the other knowing what it leaves out",
        )
    ]


def _rooms_said(count: int) -> str:
    return "1 room" if count == 1 else f"{count} rooms"


def _recovery_without_ducts(rooms: list[RoomLoss], air: Mapping[str, RoomAir]) -> list[Finding]:
    """Heat recovery acts on supplied air by that of the extracted one: without either nothing is recovered."""
    recovering = [room for room in rooms if air[room.room_id].heat_recovery_ratio > 0]
    if not recovering or any(air[room.room_id].extract_m3_per_h > 0 for room in rooms):
        recovering = [room for room in recovering if air[room.room_id].technical_m3_per_h <= 0]
    if not recovering:
        return []
    return [
        Finding(
            "heat_recovery_without_ducts",
            "ask",
            ", ".join(room.name for room in recovering),
            f"heat recovery is recorded for {_rooms_said(len(recovering))} and no air that is supplied or extracted "
            "there: nothing is recovered by this method",
            "BS EN 12831-1:2017, function 33",
            "read supply and extract off the unit's commissioning sheet, or take the heat recovery out of the survey",
        )
    ]


def _rooms_out_of_the_ordinary(found: list[_Room], rooms: list[RoomLoss]) -> list[Finding]:
    """High rooms and rooms under a sloping ceiling."""
    findings = []
    for here, loss in zip(found, rooms, strict=True):
        room = here.room
        if here.high is not None:
            findings.append(
                Finding(
                    "high_room",
                    "note",
                    room.name,
                    f"{room.height_m:g} m high: at {here.temp_c:g} °C below, its air is {here.high.air_temp_c:.1f} °C "
                    f"in the mean and {here.high.overhead_temp_c:.1f} °C under the ceiling; that is in its "
                    f"{loss.heat_loss_w:,.0f} W",
                    f"{SOURCE.document}, functions 48 and 49",
                    "hang its emitters low, and where it is a stairwell heat the rooms that open into it",
                )
            )
        mean_m = room.mean_height_m
        if mean_m is None:
            continue
        if mean_m > room.height_m:
            findings.append(
                Finding(
                    "mean_height_above_height",
                    "ask",
                    room.name,
                    f"the mean height of {mean_m:g} m is more than the height of {room.height_m:g} m at its highest",
                    str(SOURCE),
                    "measure both again",
                )
            )
        findings.append(
            Finding(
                "room_in_roof",
                "note",
                room.name,
                f"under its sloping ceiling it holds {loss.volume_m3:.1f} m3 of air, {mean_m:g} m in the mean; slopes "
                "and low walls count as surveyed",
                str(SOURCE),
                "measure wall spaces under the slope by the height of the low wall",
            )
        )
        if not any(element.kind == "roof" and element.faces == "outside" for element in room.elements):
            findings.append(
                Finding(
                    "slope_not_surveyed",
                    "ask",
                    room.name,
                    f"its ceiling slopes and no roof of it was surveyed: its {loss.heat_loss_w:,.0f} W are without it",
                    str(SOURCE),
                    "add the slope as a roof to outdoors, and low walls as walls to the unheated roof space",
                )
            )
    return findings


def _party_wall_unknown(
    survey: Survey, house: _House, u_values: Mapping[str, ConstructionU], own: MethodResult
) -> list[Finding]:
    unknown = [
        construction
        for construction in survey.constructions
        if construction.id in house.party
        and isinstance(construction, ByTable)
        and (construction.row.endswith("unknown") or u_values[construction.id].assumed)
    ]
    if not unknown:
        return []
    added_w = fsum(house.neighbour_w)
    return [
        Finding(
            "party_wall_unknown",
            "ask",
            ", ".join(construction.name for construction in unknown),
            "nobody knows what the party wall is built of: U "
            + ", ".join(f"{u_values[construction.id].u_w_per_m2k:.2f} W/m2K" for construction in unknown)
            + f" is taken; with next door unheated {added_w:,.0f} W go through the party walls, "
            f"{per_cent(added_w / own.heat_loss_w)} of the heat loss",
            str(u_values[unknown[0].id].source),
            "look in the loft whether the wall has a cavity, and ask whether next door is heated",
        )
    ]


def _over_unheated(house: _House) -> list[Finding]:
    return [
        Finding(
            "room_over_unheated",
            "note",
            name,
            f"{loss_w:,.0f} W go down through its floor, U {u_w_per_m2k:.2f} W/m2K, into the unheated room below",
            str(SOURCE),
            "insulate between the joists, and lag what pipes run through the cold room",
        )
        for name, u_w_per_m2k, loss_w in house.over_unheated
    ]


def _conservatory(survey: Survey, house: _House, u_values: Mapping[str, ConstructionU]) -> list[Finding]:
    """An unheated conservatory, and whether what parts it from the house is as good as the rest of the outside."""
    outside: dict[str, tuple[float, float]] = {}
    for room in survey.rooms:
        for element in room.elements:
            if element.faces == "outside":
                area_m2, loss_w_per_k = outside.get(element.kind, (0.0, 0.0))
                area = element.gross_area_m2
                outside[element.kind] = (
                    area_m2 + area,
                    loss_w_per_k + area * u_values[element.construction].u_w_per_m2k,
                )
    lost_w = fsum(loss_w for *_, loss_w in house.to_conservatory)
    findings = [
        Finding(
            "conservatory_unheated",
            "note",
            ", ".join(dict.fromkeys(name for name, *_ in house.to_conservatory)),
            f"the conservatory is not heated and counts as outdoors: {lost_w:,.0f} W go into it",
            str(COMMON_PRACTICE),
            "take out what heats it today, and keep its door shut in winter",
        )
    ]
    for name, element, u_w_per_m2k, _ in house.to_conservatory:
        area_m2, loss_w_per_k = outside.get(element.kind, (0.0, 0.0))
        if area_m2 and u_w_per_m2k > SEPARATED_RATIO * loss_w_per_k / area_m2:
            findings.append(
                Finding(
                    "conservatory_not_separated",
                    "ask",
                    name,
                    f"the {element.kind.replace('_', ' ')} to the conservatory has U {u_w_per_m2k:.2f} W/m2K, more "
                    f"than a tenth above the {loss_w_per_k / area_m2:.2f} W/m2K of those to outdoors: it does not part "
                    "the conservatory from the house",
                    str(SEPARATION),
                    "a door or window of outside quality",
                )
            )
    return findings


def _words(method: str) -> str:
    return method.replace("_", " ")


def _air_changes_assumed(rooms: list[RoomLoss], air: Mapping[str, RoomAir]) -> list[Finding]:
    assumed = [room.name for room in rooms if air[room.room_id].assumed]
    if not assumed:
        return []
    return [
        Finding(
            "air_changes_assumed",
            "note",
            "house",
            f"air changes of {len(assumed)} of {len(rooms)} rooms are assumed: {', '.join(assumed)}",
            "domestic heating design guide (from memory)",
            "look for chimneys, vents and draughts and give the air changes room by room",
        )
    ]


def _leaks_assumed(rooms: list[RoomLoss], air: Mapping[str, RoomAir]) -> list[Finding]:
    findings = []
    zone = air[rooms[0].room_id].zone
    if zone is not None and zone.assumed:
        findings.append(
            Finding(
                "air_tightness_assumed",
                "note",
                "house",
                f"the envelope is taken to leak {zone.permeability_m3_per_h_m2:g} m3/h for each m2 at 50 Pa: "
                f"{zone.how}",
                "BS EN 12831-1:2017, Annex B (from memory)",
                "have the house pressure tested, or give its class of air tightness",
            )
        )
    unknown = [room.name for room in rooms if air[room.room_id].flows_unknown]
    if unknown:
        findings.append(
            Finding(
                "air_flows_unknown",
                "note",
                "house",
                f"fans, ducts or vents of unknown flow count as none in {len(unknown)} of {len(rooms)} rooms: "
                f"{', '.join(unknown)}",
                "BS EN 12831-1:2017, functions 25 to 29",
                "read the flows off the plates, or measure them",
            )
        )
    return findings
