"""Why a house loses what it loses: climate, rooms, air and U-values."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from models.design import climate, heat_loss, ventilation
from models.design.results import ElementLoss, RoomAir, RoomLoss
from models.estimate import Estimate
from models.sources import Source
from models.survey import ByLayers, Element, Room
from models.survey.part import Known, Part
from models.units import per_cent
from models.why.entry import Entry, entry as _entry, given as _given, of as _of, said as _said, surveyed as _input

_SAME_AREA_M2 = 1e-9


def entries(estimate: Estimate) -> Iterator[Entry]:
    """The reasons, in the order of the document."""
    yield from _climate(estimate)
    yield from _heat_loss(estimate)
    yield from _u_values(estimate)


def _climate(estimate: Estimate) -> Iterator[Entry]:
    outdoors, house = estimate.design.climate, estimate.survey.house
    yield _entry(
        "design.design_outdoor_temp_c",
        "design temperature of the weather station + what the altitude of the house adds",
        [*_of(outdoors, "station_design_temp_c", "altitude_correction_k", "station_altitude_m"),
         ("altitude_m", house.altitude_m)],
        outdoors.source,
        sentence=_said(climate.WHY, outdoors),
        inputs=[
            _input("weather station", house, "weather_station"),
            _input("altitude of the house", house, "altitude_m"),
            _given("altitude rule of the firm", "rule", outdoors.altitude_rule, "told"),
        ],
    )  # fmt: skip
    yield _entry(
        "design.climate.annual_mean_temp_c",
        "mean of the twelve monthly means of the region, weighted by their days",
        [(f"month_{number}_temp_c", mean_c) for number, mean_c in enumerate(outdoors.monthly_mean_temp_c, 1)],
        Source("SAP Appendix U", "Table U1"),
        inputs=[_input("climate region", house, "climate_region")],
    )


def _heat_loss(estimate: Estimate) -> Iterator[Entry]:
    loss, outdoors, rules = estimate.design.heat_loss, estimate.design.climate, estimate.rules
    source = heat_loss.SOURCE
    yield _entry(
        "design.heat_loss_w",
        "fabric and ground of all rooms + outdoor air of the house + reheat; what rooms pass to each other is left out",
        [*_of(loss, "transmission_w", "ventilation_w", "reheat_w"), ("heat_loss_w", loss.heat_loss_w)],
        source,
        sentence=_said(heat_loss.WHY, loss),
        inputs=[_given("method of heat loss", "method", loss.method, "told")],
    )
    yield _entry(
        "design.transmission_w",
        "sum over the rooms of fabric and ground less what goes to other rooms of the house",
        [(f"{room.room_id}.transmission_w less to_rooms_w", room.transmission_w - room.to_rooms_w)
         for room in loss.rooms],
        source,
    )  # fmt: skip
    yield _entry(
        "design.ventilation_w",
        "sum of the rooms' outdoor air, each at its own air changes"
        if loss.method_name == "room_air_changes"
        else "outdoor air of the house as a whole: the wind is not on every side at once",
        [(f"{room.room_id}.ventilation_w", room.ventilation_w) for room in loss.rooms]
        + [("rooms_ventilation_w", loss.rooms_ventilation_w), ("ventilation_w", loss.ventilation_w)],
        source,
    )
    yield _entry(
        "design.rooms_ventilation_w",
        "sum of what the outdoor air of each room takes",
        [(f"{room.room_id}.ventilation_w", room.ventilation_w) for room in loss.rooms],
        source,
    )
    if loss.zone_air is not None:
        zone = loss.zone_air
        yield _entry(
            "design.zone_air.envelope_flow_m3_per_h",
            "(permeability x envelope + vents at 50 Pa) x volume flow factor x what fans leave of it + what fans draw",
            _of(zone, "permeability_m3_per_h_m2", "envelope_m2", "vents_50pa_m3_per_h", "volume_flow_factor_ratio",
                "extract_factor_ratio", "unbalanced_m3_per_h", "envelope_flow_m3_per_h"),
            ventilation.STANDARD,
            sentence=_said(ventilation.WHY_ZONE, zone),
            inputs=[_given("how leaky the envelope is", "m3_per_h_m2", zone.how,
                           "assumed" if zone.assumed else "measured")],
        )  # fmt: skip
    yield _entry(
        "design.floor_area_m2",
        "sum over the rooms of length x width",
        [(f"{room.room_id}.floor_area_m2", room.floor_area_m2) for room in loss.rooms],
        Source("the survey", standing="firm's rule"),
    )
    yield _entry(
        "design.heat_loss_w_per_m2",
        "heat loss / floor area",
        _of(loss, "heat_loss_w", "floor_area_m2"),
        source,
    )
    yield _entry(
        "design.loss_coefficient_w_per_k",
        "(fabric and ground + air) / (mean room temperature - design outdoor temperature)",
        [*_of(loss, "transmission_w", "ventilation_w", "mean_room_temp_c"),
         ("design_outdoor_temp_c", outdoors.design_outdoor_temp_c)],
        source,
    )  # fmt: skip
    for other in loss.other_methods:
        yield _entry(
            f"design.other_methods.{other.method}.heat_loss_w",
            f"the same survey by: {heat_loss.METHODS[other.method]}",
            _of(other, "transmission_w", "ventilation_w", "sum_of_rooms_w"),
            source,
        )
    yield _entry(
        "design.neighbour_at_10_w",
        "heat loss with next door heated + what goes through party walls where it stands at 10 °C",
        [("neighbour_heated_w", loss.neighbour_heated_w),
         ("through party walls_w", loss.neighbour_at_10_w - loss.neighbour_heated_w)],
        source,
        inputs=[_given("party-wall policy of the firm", "policy", rules.reference.defaults.party_wall_policy, "told")],
    )  # fmt: skip
    air = ventilation.room_air(rooms=estimate.survey.rooms, house=estimate.survey.house, reference=rules.reference)
    surveyed = _Elements(estimate)
    for room, its in zip(estimate.survey.rooms, loss.rooms, strict=True):
        yield from _room(estimate, room, its, air, surveyed)


class _Elements:
    """The surveyed element behind each line of loss; an inner one stands in two rooms and is surveyed in one."""

    def __init__(self, estimate: Estimate) -> None:
        self._own = {(room.id, element.id): element for room in estimate.survey.rooms for element in room.elements}
        self._towards = {
            (element.beside_room, element.id, room.id): element
            for room in estimate.survey.rooms
            for element in room.elements
            if element.faces == "room"
        }
        self._openings_m2: dict[tuple[str, str], float] = {}
        for room in estimate.survey.rooms:
            for element in room.elements:
                if element.within is not None:
                    key = room.id, element.within
                    self._openings_m2[key] = self._openings_m2.get(key, 0.0) + element.gross_area_m2
        self._constructions = {construction.id: construction for construction in estimate.survey.constructions}
        self._u_values = estimate.design.u_values

    def of_room(self, room_id: str, lines: Sequence[ElementLoss]) -> Iterator[tuple[str, ElementLoss, str, Element]]:
        """Each line with a name of its own in the room, the room where it was surveyed, and the element."""
        left = [(room_id, element) for (at, _), element in self._own.items() if at == room_id]
        left += [(at, element) for (towards, _, at), element in self._towards.items() if towards == room_id]
        names: Counter[str] = Counter()
        for line in lines:
            alike = [one for one in left if one[1].id == line.element_id and one[1].faces == line.faces]
            found = next((one for one in alike if self._is_line_of(line, room_id, *one)), alike[0])
            left.remove(found)
            names[line.element_id] += 1
            count = names[line.element_id]
            yield (line.element_id if count == 1 else f"{line.element_id}~{count}"), line, *found

    def _is_line_of(self, line: ElementLoss, room_id: str, at: str, element: Element) -> bool:
        """Whether a line is that of an element; seen from the other room a floor is a ceiling."""
        area_m2 = element.gross_area_m2 - self.openings_m2(at, element.id)
        return (at != room_id or element.kind == line.kind) and abs(area_m2 - line.area_m2) < _SAME_AREA_M2

    def openings_m2(self, room_id: str, element_id: str) -> float:
        """What openings take from an element."""
        return self._openings_m2.get((room_id, element_id), 0.0)

    def inputs(self, element: Element) -> Iterator[Entry]:
        """The sizes and the U-value of an element, each with how it is known."""
        for field in ("area_m2", "length_m", "height_m"):
            if getattr(element, field) is not None:
                yield _input(field.rpartition("_")[0], element, field)
        if element.count != 1:
            yield _input("pieces alike", element, "count")
        if element.space is not None:
            yield _input("unheated space beyond", element, "space")
        u_value = self._u_values[element.construction]
        known: Known = "assumed" if u_value.assumed else self._how_known(element.construction)
        yield _given(f"U-value of {self._constructions[element.construction].name}", "u_w_per_m2k",
                     u_value.u_w_per_m2k, known)  # fmt: skip

    def _how_known(self, construction_id: str) -> Known:
        """The least sure of what a construction is described by."""
        return _least_sure(_construction_inputs(self._constructions[construction_id]))


def _least_sure(inputs: Iterable[Entry]) -> Known:
    order: tuple[Known, ...] = ("assumed", "told", "plate", "measured")
    known = {one["known"] for one in inputs}
    return next((word for word in order if word in known), "measured")


def _room(
    estimate: Estimate, room: Room, its: RoomLoss, air: Mapping[str, RoomAir], surveyed: _Elements
) -> Iterator[Entry]:
    at = f"design.rooms.{room.id}"
    outdoor_temp_c = estimate.design.climate.design_outdoor_temp_c
    reference = estimate.rules.reference
    source = heat_loss.SOURCE
    yield _entry(
        f"{at}.heat_loss_w",
        "fabric and ground + outdoor air + reheat: what the emitters of the room must cover",
        _of(its, "transmission_w", "ventilation_w", "reheat_w", "to_rooms_w", "heat_loss_w"),
        source,
        sentence=_said(heat_loss.WHY_ROOM, its),
    )
    wanted = room.wanted_temp_c
    yield _entry(
        f"{at}.room_temp_c",
        f"the usual temperature of a room used as {room.use.replace('_', ' ')}" if wanted is None else "as wanted",
        [("room_temp_c", its.room_temp_c)],
        Source("the table of rooms by use", standing="from memory") if wanted is None
        else Source("the survey", standing="firm's rule"),
        inputs=[_given("use of the room", "use", room.use, "assumed") if wanted is None
                else _input("wanted temperature", room, "wanted_temp_c")],
    )  # fmt: skip
    yield _entry(
        f"{at}.floor_area_m2",
        "length x width",
        [("length_m", room.length_m), ("width_m", room.width_m)],
        Source("the survey", standing="firm's rule"),
        inputs=[_input("length", room, "length_m"), _input("width", room, "width_m")],
    )
    lines = list(surveyed.of_room(room.id, its.elements))
    yield _entry(
        f"{at}.transmission_w",
        "sum of the elements",
        [(f"{name}.loss_w", line.loss_w) for name, line, _, _ in lines],
        source,
    )
    yield _entry(
        f"{at}.to_rooms_w",
        "sum of the elements towards other rooms of the house",
        [(f"{name}.loss_w", line.loss_w) for name, line, _, _ in lines if line.faces == "room"],
        source,
    )
    for name, line, where, element in lines:
        gross_m2 = element.gross_area_m2
        openings_m2 = surveyed.openings_m2(where, line.element_id)
        numbers: list[tuple[str, Any]] = [
            ("gross_area_m2", gross_m2), ("openings_m2", openings_m2), ("area_m2", line.area_m2),
            ("u_w_per_m2k", line.u_w_per_m2k), ("thermal_bridge_w_per_m2k", line.thermal_bridge_w_per_m2k),
            ("temperature_factor_ratio", line.temperature_factor_ratio), ("room_temp_c", its.room_temp_c),
            ("other_side_temp_c", line.other_side_temp_c), ("design_outdoor_temp_c", outdoor_temp_c),
            ("loss_w", line.loss_w),
        ]  # fmt: skip
        difference_k = its.room_temp_c - outdoor_temp_c
        bridge = f" + {line.thermal_bridge_w_per_m2k:.2f}" if line.thermal_bridge_w_per_m2k else ""
        said = (
            f"{line.kind} towards {_faces(line, element)}: {line.area_m2:.2f} m2 x ({line.u_w_per_m2k:.2f}{bridge}) "
            f"W/m2K x {line.temperature_factor_ratio:.3f} x {difference_k:.1f} K = {line.loss_w:.0f} W"
        )
        yield _entry(
            f"{at}.elements.{name}.loss_w",
            "area x (U + thermal bridges) x temperature factor x (room - design outdoor temperature)",
            numbers,
            source,
            sentence=said,
            inputs=surveyed.inputs(element),
        )
    yield _room_air(estimate, room, its, air)
    yield _entry(
        f"{at}.air_changes_per_h",
        "air changes as surveyed, else by use and age of the house",
        [("air_changes_per_h", its.air_changes_per_h), ("volume_m3", its.volume_m3)],
        ventilation.SOURCE,
        sentence=f"{its.air_changes_per_h:g} air changes an hour: {air[room.id].how}",
        inputs=[_input("air changes", room, "air_changes_per_h")],
    )
    yield _entry(
        f"{at}.reheat_w",
        "reheat of the firm's defaults x floor area",
        [("reheat_w_per_m2", reference.defaults.reheat_w_per_m2), ("floor_area_m2", its.floor_area_m2)],
        source,
    )


def _faces(line: ElementLoss, element: Element) -> str:
    if element.space is not None:
        return element.space.replace("_", " ")
    return "another room" if line.faces == "room" else "a neighbour" if line.faces == "neighbour" else line.faces


def _room_air(estimate: Estimate, room: Room, its: RoomLoss, air: Mapping[str, RoomAir]) -> Entry:
    table = estimate.rules.reference.heat_loss
    outdoor_temp_c = estimate.design.climate.design_outdoor_temp_c
    taken = air[room.id]
    method = estimate.design.heat_loss.method_name
    air_temp_c = its.room_temp_c
    if method != "simplified" and room.height_m >= table.high_room_from_height_m:
        air_temp_c = heat_loss.high_room(
            room_temp_c=its.room_temp_c,
            height_m=room.height_m,
            overhead_height_m=room.height_m,
            air_gradient_k_per_m=table.air_gradient_k_per_m,
            occupied_height_m=table.occupied_height_m,
            radiant_k=0.0,
            surface_k=0.0,
        ).air_temp_c
    shared = [
        ("air_heat_capacity_wh_per_m3k", table.air_heat_capacity_wh_per_m3k), ("air_temp_c", air_temp_c),
        ("design_outdoor_temp_c", outdoor_temp_c),
    ]  # fmt: skip
    fields_used: tuple[str, ...] = ()
    if method == "standard":
        formula = (
            "heat capacity of air x (outdoor air of the room x (air - outdoor) + supply air x (air - supply "
            "temperature after heat recovery)); the outdoor air is what comes through the envelope, or what is needed "
            "beyond fans and ducts"
        )
        numbers = [
            *shared, ("through_envelope_m3_per_h", taken.envelope_flow_m3_per_h),
            ("minimum_m3_per_h", taken.minimum_m3_per_h), ("technical_m3_per_h", taken.technical_m3_per_h),
            ("outdoor_air_m3_per_h", taken.design_flow_m3_per_h), ("supply_m3_per_h", taken.supply_m3_per_h),
            ("heat_recovery_ratio", taken.heat_recovery_ratio),
        ]  # fmt: skip
        fields_used = ("extract_m3_per_h", "supply_m3_per_h", "background_vents_m3_per_h", "heat_recovery_ratio")
        source = ventilation.STANDARD
    elif method == "simplified":
        formula = "heat capacity of air x air changes of the method x volume x (room - outdoor)"
        numbers = [*shared, ("air_changes_per_h", table.simplified.room_air_change_per_h),
                   ("volume_m3", its.volume_m3)]  # fmt: skip
        source = heat_loss.SOURCE
    else:
        formula = "heat capacity of air x air changes x volume x (1 - heat recovery) x (air - outdoor)"
        numbers = [*shared, ("air_changes_per_h", taken.air_changes_per_h), ("volume_m3", its.volume_m3),
                   ("heat_recovery_ratio", taken.heat_recovery_ratio)]  # fmt: skip
        fields_used = ("air_changes_per_h", "heat_recovery_ratio")
        source = heat_loss.SOURCE
    return _entry(
        f"design.rooms.{room.id}.ventilation_w",
        formula,
        [*numbers, ("ventilation_w", its.ventilation_w)],
        source,
        inputs=[
            *[_input(field.replace("_", " "), room, field) for field in fields_used],
            *[_input(field.rpartition("_")[0], room, field) for field in ("length_m", "width_m", "height_m")],
        ],
    )


def _u_values(estimate: Estimate) -> Iterator[Entry]:
    constructions = {construction.id: construction for construction in estimate.survey.constructions}
    formulas = {
        "u_value": "as given",
        "layers": "1 / resistance; the resistance is the mean of its upper and lower limit, surfaces included",
        "table": "looked up by what was seen",
        "ground_slab": "from the size and edge of the floor and the ground's conductivity",
        "suspended_floor": "1 / (surfaces and insulation + 1 / (ground + void))",
        "basement_floor": "from depth, size and edge of the floor and the ground's conductivity",
        "basement_wall": "from depth and resistance of the wall and the ground's conductivity",
    }
    for u_value in estimate.design.u_values.values():
        construction = constructions[u_value.construction_id]
        inputs = list(_construction_inputs(construction))
        if construction.by in ("ground_slab", "suspended_floor", "basement_floor", "basement_wall"):
            house = estimate.survey.house
            inputs += [
                _input("area of the ground floor", house, "slab_area_m2"),
                _input("exposed edge of the ground floor", house, "exposed_perimeter_m"),
                _input("thickness of its walls", house, "slab_wall_thickness_mm"),
                _input("conductivity of the ground", house, "ground_conductivity_w_per_mk"),
            ]
        yield _entry(
            f"design.u_values.{u_value.construction_id}.u_w_per_m2k",
            formulas[construction.by],
            [("u_w_per_m2k", u_value.u_w_per_m2k)],
            u_value.source,
            sentence=f"{u_value.u_w_per_m2k:.2f} W/m2K: {u_value.how}",
            inputs=inputs,
        )


def _construction_inputs(construction: Part) -> Iterator[Entry]:
    """What a construction is described by."""
    if isinstance(construction, ByLayers):
        for layer in construction.layers:
            for path in layer.paths:
                what = layer.name if path.share_ratio == 1 else f"{layer.name}, {per_cent(path.share_ratio)} of it"
                for field in ("thickness_mm", "conductivity_w_per_mk", "resistance_m2k_per_w"):
                    if getattr(path, field) is not None:
                        yield _input(f"{what}: {field.partition('_')[0]}", path, field)
        return
    for field in type(construction).model_fields:
        if field in ("by", "id", "name", "known", "table") or getattr(construction, field) in (None, False):
            continue
        yield _input(field.replace("_", " "), construction, field)
