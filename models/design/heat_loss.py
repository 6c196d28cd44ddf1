"""How much heat each room and the house lose at design conditions: fabric, ground, air, reheat.

BS EN 12831-1:2017, standard method, with ventilation by air change.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import fsum

from models.design.results import Climate, ConstructionU, ElementLoss, HeatLoss, RoomAir, RoomLoss
from models.findings import Finding
from models.physics.conduction import equivalent_ground_u_w_per_m2k
from models.reference import Reference
from models.reference.load import HeatLossTable
from models.sources import Source, Why
from models.survey import ByU, Element, GroundSlab, Room, Survey, SuspendedFloor
from models.units import dyadic

SOURCE = Source("BS EN 12831-1:2017", "functions 3 to 16, 33, 39, 48 and 49")
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

METHODS = {"standard": "BS EN 12831-1:2017, standard method, ventilation by air change"}
PARTY_WALL_POLICIES = ("neighbour_heated", "neighbour_at_10")
_MIRROR_KIND = {"floor": "ceiling", "ceiling": "floor", "roof": "floor"}
_OVERHEAD = frozenset({"roof", "ceiling", "roof_window"})


class UnknownMethod(ValueError):
    """The defaults name a method, a bridge addition or a party-wall policy that does not exist; lists those that do."""


class OutdoorTooWarm(ValueError):
    """A room that is to be no warmer than outdoors at design conditions: the method has no answer."""


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


@dataclass(frozen=True, slots=True)
class _Rules:
    """What holds for every element of the house."""

    table: HeatLossTable
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


def heat_loss(
    *,
    survey: Survey,
    climate: Climate,
    u_values: Mapping[str, ConstructionU],
    air: Mapping[str, RoomAir],
    reference: Reference,
) -> HeatLoss:
    """Design heat loss of every room and of the house.

    BS EN 12831-1:2017, functions 3 to 16, 33, 39, 48, 49. `u_values` holds every construction, ground floors too.

    - Openings come off the element they are cut from. The thermal-bridge addition is for what faces outside only.
    - A suspended floor's U contains its void already: whether it faces ground, an unheated space or outside, its loss
      is to outdoor air, without factor and without bridge addition.
    - Ground: U A (θint - annual mean), times the groundwater factor, times 1.45 where the defaults say so. A U-value
      that was given, and that of a slab, is to the ground; of layers or a table it is made so by Annex E (a floor at
      storey 0 at ground level, below it as deep as the room is high, walls to the same depth).
    - A neighbour is as warm as the room, or at 10 °C, as the defaults say; `neighbour_check_w` is the difference.
    - A flow between two heated rooms is put on the grid of `dyadic`, so that all `to_rooms_w` add up to exactly 0.
    - Rooms of 4 m and more: ventilation and upright elements act at the mean air temperature, what is overhead at
      its surface temperature, floors at room temperature; radiant and surface corrections are nought.

    Raises UnknownMethod for defaults that do not exist, OutdoorTooWarm where a room is no warmer than outdoors.
    """
    rules = _rules(survey, climate, u_values, reference)
    defaults = reference.defaults
    table = reference.heat_loss
    outdoor_temp_c = climate.design_outdoor_temp_c
    temp_c = {
        room.id: reference.rooms[room.use].temp_c if room.wanted_temp_c is None else room.wanted_temp_c
        for room in survey.rooms
    }
    coldest = min(survey.rooms, key=lambda room: temp_c[room.id])
    if temp_c[coldest.id] <= outdoor_temp_c:
        raise OutdoorTooWarm(
            f"room '{coldest.name}' is wanted at {temp_c[coldest.id]:g} °C, which is not above the design outdoor "
            f"temperature of {outdoor_temp_c:.1f} °C"
        )
    losses: dict[str, list[ElementLoss]] = {room.id: [] for room in survey.rooms}
    flows: dict[str, list[float]] = {room.id: [] for room in survey.rooms}
    acting: dict[str, HighRoom] = {}
    for room in survey.rooms:
        if room.height_m >= table.high_room_from_height_m:
            acting[room.id] = high_room(
                room_temp_c=temp_c[room.id],
                height_m=room.height_m,
                overhead_height_m=room.height_m,
                air_gradient_k_per_m=table.air_gradient_k_per_m,
                occupied_height_m=table.occupied_height_m,
                radiant_k=0.0,
                surface_k=0.0,
            )
    neighbour_w: list[float] = []
    equivalent: list[str] = []
    for room in survey.rooms:
        _room_elements(room, rules, temp_c, acting.get(room.id), losses, flows, neighbour_w, equivalent)

    rooms = []
    for room in survey.rooms:
        high = acting.get(room.id)
        room_air = air[room.id]
        air_temp_c = temp_c[room.id] if high is None else high.air_temp_c
        ventilation_w = (
            table.air_heat_capacity_wh_per_m3k
            * room_air.flow_m3_per_h
            * (1 - room_air.heat_recovery_ratio)
            * (air_temp_c - outdoor_temp_c)
        )
        transmission_w = fsum(loss.loss_w for loss in losses[room.id])
        floor_area_m2 = room.length_m * room.width_m
        room_reheat_w = defaults.reheat_w_per_m2 * floor_area_m2
        rooms.append(
            RoomLoss(
                room.id,
                room.name,
                room.use,
                room.storey,
                temp_c[room.id],
                floor_area_m2,
                floor_area_m2 * room.height_m,
                room_air.air_changes_per_h,
                transmission_w,
                ventilation_w,
                room_reheat_w,
                fsum(flows[room.id]),
                transmission_w + ventilation_w + room_reheat_w,
                tuple(losses[room.id]),
            )
        )
    return _house(
        rooms,
        rules,
        defaults.heat_loss_method,
        fsum(neighbour_w),
        [
            *(finding for value in u_values.values() for finding in value.findings),
            *_findings(rooms, rules, air, neighbour_w, equivalent),
        ],
    )


def _rules(survey: Survey, climate: Climate, u_values: Mapping[str, ConstructionU], reference: Reference) -> _Rules:
    defaults = reference.defaults
    table = reference.heat_loss
    _known("method of heat loss", defaults.heat_loss_method, METHODS)
    _known("thermal-bridge addition", defaults.thermal_bridge, table.thermal_bridge_w_per_m2k)
    _known("party-wall policy", defaults.party_wall_policy, PARTY_WALL_POLICIES)
    wet = any(position.water_table == "high" for position in survey.positions)
    groundwater_ratio = table.groundwater_within_1m_ratio if wet else table.groundwater_deeper_than_1m_ratio
    seasonal_ratio = table.annual_variation_factor_ratio if defaults.ground_factor == "annual_variation" else 1.0
    slabs = frozenset(c.id for c in survey.constructions if isinstance(c, GroundSlab))
    return _Rules(
        table=table,
        outdoor_temp_c=climate.design_outdoor_temp_c,
        annual_mean_temp_c=climate.annual_mean_temp_c,
        bridge_w_per_m2k=table.thermal_bridge_w_per_m2k[defaults.thermal_bridge],
        ground_factor_ratio=groundwater_ratio * seasonal_ratio,
        neighbour_counts=defaults.party_wall_policy == "neighbour_at_10",
        characteristic_m=survey.house.slab_area_m2 / (0.5 * survey.house.exposed_perimeter_m),
        u_w_per_m2k={construction_id: value.u_w_per_m2k for construction_id, value in u_values.items()},
        through_void=frozenset(c.id for c in survey.constructions if isinstance(c, SuspendedFloor)),
        on_ground=slabs,
        u_to_ground=slabs | {c.id for c in survey.constructions if isinstance(c, ByU)},
    )


def _known(what: str, name: str, among: Iterable[str]) -> None:
    if name not in among:
        raise UnknownMethod(f"no {what} '{name}'; there are {', '.join(among)}")


def _room_elements(
    room: Room,
    rules: _Rules,
    temp_c: Mapping[str, float],
    high: HighRoom | None,
    losses: dict[str, list[ElementLoss]],
    flows: dict[str, list[float]],
    neighbour_w: list[float],
    equivalent: list[str],
) -> None:
    """Adds the losses of one room's elements to `losses` and its inner flows to `flows`, of both rooms."""
    room_temp_c = temp_c[room.id]
    outdoor_temp_c = rules.outdoor_temp_c
    span_k = room_temp_c - outdoor_temp_c
    own = losses[room.id]
    u_of = rules.u_w_per_m2k
    through_void = rules.through_void
    on_ground = rules.on_ground
    elements = room.elements
    gross_m2 = [element.gross_area_m2 for element in elements]
    cut_m2: dict[str, float] = {}
    for element, area_m2 in zip(elements, gross_m2, strict=True):
        host = element.within
        if host is not None:
            cut_m2[host] = cut_m2.get(host, 0.0) + area_m2
    for element, area_m2 in zip(elements, gross_m2, strict=True):
        element_id = element.id
        construction = element.construction
        faces = element.faces
        kind = element.kind
        u_w_per_m2k = u_of[construction]
        if element_id in cut_m2:
            # The survey allows openings to fill their host to within float dust; dust must not turn into a gain.
            area_m2 = max(area_m2 - cut_m2[element_id], 0.0)
        bridge_w_per_m2k = 0.0
        if faces == "room":
            other_id = element.beside_room
            assert other_id is not None
            other_temp_c = temp_c[other_id]
            difference_k = room_temp_c - other_temp_c
            flow_w = dyadic(u_w_per_m2k * area_m2 * difference_k)
            back_w = 0.0 - flow_w
            back_ratio = (other_temp_c - room_temp_c) / (other_temp_c - outdoor_temp_c)
            back_kind = _MIRROR_KIND.get(kind, kind)
            flows[room.id].append(flow_w)
            flows[other_id].append(back_w)
            own.append(
                ElementLoss(
                    element_id, kind, faces, area_m2, u_w_per_m2k, 0.0, difference_k / span_k, other_temp_c, flow_w
                )
            )
            losses[other_id].append(
                ElementLoss(element_id, back_kind, faces, area_m2, u_w_per_m2k, 0.0, back_ratio, room_temp_c, back_w)
            )
            continue
        # θ* - θint: nothing below 4 m, and nothing for floors.
        lift_k = 0.0
        if high is not None and kind != "floor":
            lift_k = (high.overhead_temp_c if kind in _OVERHEAD else high.air_temp_c) - room_temp_c
        if faces == "neighbour":
            other_side_temp_c = rules.table.neighbour_unheated_temp_c
            difference_k = room_temp_c - other_side_temp_c + lift_k
            neighbour_w.append(u_w_per_m2k * area_m2 * difference_k)
            if not rules.neighbour_counts:
                other_side_temp_c, difference_k = room_temp_c, 0.0
        elif construction in through_void:
            other_side_temp_c = outdoor_temp_c
            difference_k = span_k + lift_k
        elif faces == "ground" or construction in on_ground:
            if construction not in rules.u_to_ground:
                u_w_per_m2k = _against_earth_w_per_m2k(room, element, u_w_per_m2k, rules)
                equivalent.append(f"{room.name}: {element_id}")
            other_side_temp_c = rules.annual_mean_temp_c
            difference_k = (room_temp_c - other_side_temp_c) * rules.ground_factor_ratio
        elif faces == "unheated":
            assert element.space is not None
            difference_k = rules.table.unheated_space_factor_ratio[element.space] * span_k
            other_side_temp_c = room_temp_c - difference_k
            difference_k += lift_k
        else:
            bridge_w_per_m2k = rules.bridge_w_per_m2k
            other_side_temp_c = outdoor_temp_c
            difference_k = span_k + lift_k
        own.append(
            ElementLoss(
                element_id,
                kind,
                faces,
                area_m2,
                u_w_per_m2k,
                bridge_w_per_m2k,
                difference_k / span_k,
                other_side_temp_c,
                (u_w_per_m2k + bridge_w_per_m2k) * area_m2 * difference_k,
            )
        )


def _against_earth_w_per_m2k(room: Room, element: Element, u_w_per_m2k: float, rules: _Rules) -> float:
    return equivalent_ground_u_w_per_m2k(
        constants=rules.table.ground_equivalent["floor" if element.kind == "floor" else "wall"],
        characteristic_m=rules.characteristic_m,
        depth_m=room.height_m if room.storey < 0 else 0.0,
        u_w_per_m2k=u_w_per_m2k,
    )


def _house(rooms: list[RoomLoss], rules: _Rules, method: str, neighbour_w: float, findings: list[Finding]) -> HeatLoss:
    transmission_w = fsum(room.transmission_w - room.to_rooms_w for room in rooms)
    ventilation_w = fsum(room.ventilation_w for room in rooms)
    volume_m3 = fsum(room.volume_m3 for room in rooms)
    floor_area_m2 = fsum(room.floor_area_m2 for room in rooms)
    mean_room_temp_c = fsum(room.room_temp_c * room.volume_m3 for room in rooms) / volume_m3
    heat_loss_w = fsum(room.heat_loss_w - room.to_rooms_w for room in rooms)
    return HeatLoss(
        method=METHODS[method],
        rooms=tuple(rooms),
        transmission_w=transmission_w,
        ventilation_w=ventilation_w,
        reheat_w=fsum(room.reheat_w for room in rooms),
        heat_loss_w=heat_loss_w,
        floor_area_m2=floor_area_m2,
        heat_loss_w_per_m2=heat_loss_w / floor_area_m2,
        loss_coefficient_w_per_k=(transmission_w + ventilation_w) / (mean_room_temp_c - rules.outdoor_temp_c),
        mean_room_temp_c=mean_room_temp_c,
        findings=tuple(findings),
        neighbour_check_w=0.0 if rules.neighbour_counts else neighbour_w,
    )


def _findings(
    rooms: list[RoomLoss],
    rules: _Rules,
    air: Mapping[str, RoomAir],
    neighbour_w: list[float],
    equivalent: list[str],
) -> list[Finding]:
    findings = []
    assumed = [room.name for room in rooms if air[room.room_id].assumed]
    if assumed:
        findings.append(
            Finding(
                "air_changes_assumed",
                "note",
                "house",
                f"air changes of {len(assumed)} of {len(rooms)} rooms are assumed: {', '.join(assumed)}",
                "domestic heating design guide (from memory)",
                "look for chimneys, vents and draughts and give the air changes room by room",
            )
        )
    if neighbour_w:
        added_w = fsum(neighbour_w)
        neighbour_temp_c = rules.table.neighbour_unheated_temp_c
        message = (
            f"next door is taken as unheated, at {neighbour_temp_c:g} °C: {added_w:.0f} W of the loss goes there"
            if rules.neighbour_counts
            else f"next door is taken as heated, no loss through the party walls; at {neighbour_temp_c:g} °C there "
            f"it would be {added_w:.0f} W more"
        )
        findings.append(Finding("party_wall_policy", "note", "house", message, str(SOURCE)))
    if equivalent:
        findings.append(
            Finding(
                "ground_u_by_equivalent",
                "note",
                "house",
                f"the U-values of {len(equivalent)} elements against earth were worked out from those in air: "
                f"{', '.join(equivalent)}",
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
