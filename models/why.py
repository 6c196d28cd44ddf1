"""Why each figure of an estimate is what it is: formula in words, the numbers used, the source, how inputs are known.

Built on request only. Paths are those of the document, with ids, SKUs and codes in place of places in lists. What shows
cost or margin stands in entries and keys that `models.document.without_cost` takes out.
"""

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any, Protocol

from models.design import (
    base,
    climate,
    condensate,
    cylinder_space,
    discharge,
    electrical,
    emitters as emitters_question,
    flow_temperature,
    frost_protection,
    heat_loss,
    heating_curve,
    hot_water,
    noise,
    outdoor_unit,
    performance,
    primary_pipework,
    refrigerant_zone,
    siting,
    system_volume,
    ventilation,
)
from models.design.results import (
    Electrical,
    ElementLoss,
    EmitterStep,
    Performance,
    RoomAir,
    RoomEmitters,
    RoomLoss,
)
from models.estimate import BASE_TEMP_C, YEARS, Estimate, house_part, immersion_w
from models.labour import plan as labour_plan
from models.labour.tasks import RowsOfTask
from models.physics.diversity import allowance_words
from models.physics.emission import RATED_EXCESS_K
from models.physics.friction import COPPER_ROUGHNESS_MM, darcy_factor, reynolds
from models.physics.rating import rating_grid
from models.physics.seasonal import TM41, defrost_factor
from models.pricing import price as pricing
from models.pricing.price import Price
from models.rules import Rules
from models.sources import COMMON_PRACTICE, Source
from models.survey import ByLayers, Element, Emitter, Load, Position, Room, Supply, Survey
from models.survey.part import Known, Part
from models.survey.site import told_apart
from models.takeoff import bill as take_off_bill
from models.takeoff.bill import Bill
from models.units import UNKNOWN, per_cent
from models.why_entry import (
    MAKER,
    Entry,
    Numbers,
    entry as _entry,
    given as _given,
    number as _number,
    of as _of,
    said as _said,
    surveyed as _input,
)
from models.why_tables import tables

PRICE_LIST = Source("the firm's price list", standing="firm's rule")
EMITTERS = Source("BS EN 442-2:2014", "characteristic equation, output = rated output x (excess temperature / 50)^n")

_SAME_AREA_M2 = 1e-9


class Money(Protocol):
    """What the reasons of bill and price ask of an estimate; a draft under new prices has no more than this."""

    @property
    def survey(self) -> Survey:
        """Whose house it is."""

    @property
    def rules(self) -> Rules:
        """The prices and rates."""

    @property
    def bill(self) -> Bill | None:
        """The lines."""

    @property
    def price(self) -> Price | None:
        """The sums."""


def money_why_document(money: Money) -> dict[str, Entry]:
    """The figures of bill and price alone by their paths, as in `why_document`."""
    return {entry["path"]: entry for part in (_bill, _price) for entry in part(money)}


def why_document(estimate: Estimate) -> dict[str, Entry]:
    """Every figure of an estimate by its path: {path, sentence, formula, numbers, source, standing, inputs}.

    `numbers` are {name, value, unit}, `inputs` {what, value, unit, known} with known measured, plate, told or assumed.
    Entries whose path ends in a key of cost, and the key `cost_why` of others, are for those who may see cost.
    """
    made: dict[str, Entry] = {}
    for entry in _entries(estimate):
        # What stands in a table has its own, shorter reason after all others.
        made.setdefault(entry["path"], entry)
    return made


def _entries(estimate: Estimate) -> Iterator[Entry]:
    yield from _climate(estimate)
    yield from _heat_loss(estimate)
    yield from _u_values(estimate)
    yield from _emitters(estimate)
    yield from _flow(estimate)
    yield from _unit(estimate)
    yield from _hot_water(estimate)
    yield from _water_side(estimate)
    yield from _place(estimate)
    yield from _supply(estimate)
    yield from _year(estimate)
    yield from tables(estimate)
    yield from _labour(estimate)
    yield from _bill(estimate)
    yield from _price(estimate)


# --- climate and heat loss -------------------------------------------------------------------------------------------


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


# --- emitters and flow temperature -----------------------------------------------------------------------------------


def _emitters(estimate: Estimate) -> Iterator[Entry]:
    schedule, flow = estimate.design.emitters, estimate.design.flow
    mean_c = (schedule.flow_temp_c + schedule.return_temp_c) / 2
    found = house_part(estimate.survey, estimate.choices, estimate.rules).emitter_options
    products = {offer.item.sku: offer.item for offer in estimate.rules.offers.emitters.offers}
    temps_c = {room.room_id: room.room_temp_c for room in estimate.design.heat_loss.rooms}
    for room, its, options in zip(estimate.survey.rooms, schedule.rooms, found.rooms, strict=True):
        at = f"design.rooms.{room.id}"
        cooler_k = options.cooler_ratio * flow.delta_t_k
        excess_k = mean_c - cooler_k - temps_c[room.id]
        hang = [emitter.id for emitter in room.emitters if not emitter.customer_supplies]
        rated = dict(zip(hang, options.as_found, strict=True))
        supplied = {slot.emitter_id: slot.options[0] for slot in options.slots if slot.emitter_id not in rated}
        surveyed = {emitter.id: emitter for emitter in room.emitters}
        water = [("flow_temp_c", schedule.flow_temp_c), ("return_temp_c", schedule.return_temp_c),
                 ("room_temp_c", temps_c[room.id]),
                 *([("cooler_on_the_loop_k", cooler_k)] if cooler_k else []), ("excess_k", excess_k)]  # fmt: skip

        def share(exponent: float, excess_k: float = excess_k, room_temp_c: float = temps_c[room.id]) -> float:
            return emitters_question.output_share(
                exponent=exponent, mean_water_temp_c=excess_k + room_temp_c, delta_t_k=flow.delta_t_k,
                room_temp_c=room_temp_c,
            )  # fmt: skip

        before = []
        for emitter_id, (rated_w, exponent, limit_w) in rated.items():
            before.append((f"{emitter_id}.output_w", min(rated_w * share(exponent), limit_w)))
        yield _entry(
            f"{at}.emitter_output_before_w",
            "sum of what the emitters that are there give at this flow temperature",
            [*before, *water],
            EMITTERS,
            inputs=[one for emitter in room.emitters for one in _emitter_inputs(emitter)],
        )
        yield _entry(
            f"{at}.emitter_output_w",
            "sum of what the emitters give afterwards",
            [(f"{_step_id(step)}.output_w", step.output_w) for step in its.steps],
            EMITTERS,
            sentence=_said(emitters_question.WHY, its),
        )
        yield _entry(
            f"{at}.emitter_short_w",
            "heat loss of the room - output afterwards, nothing where it is enough",
            [("needed_w", its.needed_w), ("output_w", its.output_w), ("short_w", its.short_w)],
            emitters_question.SOURCE,
        )
        yield _entry(
            f"{at}.emitter_action",
            "the cheapest of what fits and gives enough; where nothing does, what gives most",
            [("needed_w", its.needed_w), ("output_before_w", its.output_before_w), ("output_w", its.output_w)],
            COMMON_PRACTICE,
            sentence=its.why,
            cost_why={
                "formula": "goods, valves, parts and hours at cost, of all steps in the room",
                "numbers": [_number("cost_pence", its.cost_pence), _number("fit_hours", its.fit_hours)],
            },
        )
        for step in its.steps:
            if step.action == "remove":
                continue
            inputs: list[Entry] = []
            if step.sku is not None:
                product = products[step.sku]
                rated_w, exponent, limit_w = product.output_50k_w, product.exponent, float("inf")
                inputs.append(_given(f"rated output of {product.name}", "output_50k_w", rated_w, "plate"))
            elif step.emitter_id in supplied:
                brought = supplied[step.emitter_id]
                rated_w, exponent, limit_w = brought.output_50k_w, brought.exponent, brought.limit_w
                inputs += _emitter_inputs(surveyed[step.emitter_id or ""])
            else:
                rated_w, exponent, limit_w = rated[step.emitter_id or ""]
                inputs += _emitter_inputs(surveyed[step.emitter_id or ""])
            yield _step(f"{at}.emitter_steps.{_step_id(step)}.output_w", step, its, rated_w, exponent, limit_w,
                        share(exponent), water, inputs)  # fmt: skip
            if step.new_tail_od_mm is not None:
                slot = next(slot for slot in options.slots if slot.emitter_id == step.emitter_id)
                yield _new_tails(f"{at}.emitter_steps.{_step_id(step)}.new_tail_od_mm", step, its, slot.tail_mm or 0,
                                 found, flow.delta_t_k)  # fmt: skip


def _new_tails(
    path: str, step: EmitterStep, its: RoomEmitters, old_od_mm: int, options: emitters_question.EmitterOptions,
    delta_t_k: float,
) -> Entry:  # fmt: skip
    new_od_mm = step.new_tail_od_mm or 0
    old_bore_mm = emitters_question.tail_bore_mm(od_mm=old_od_mm, bores_mm=options.tail_bore_mm)
    new_bore_mm = options.new_tail_bore_mm[new_od_mm]
    carried_w = its.needed_w * step.output_w / its.output_w
    return _entry(
        path,
        "area of the bore x 1 m/s x heat of a cubic metre of water x temperature difference; the smallest size that "
        "carries the emitter's share of what the room needs",
        [("carried_w", carried_w), ("delta_t_k", delta_t_k),
         (f"{old_od_mm} mm: bore_mm", old_bore_mm),
         (f"{old_od_mm} mm: carries_w", emitters_question.tail_limit_w(bore_mm=old_bore_mm, delta_t_k=delta_t_k)),
         (f"{new_od_mm} mm: bore_mm", new_bore_mm),
         (f"{new_od_mm} mm: carries_w", emitters_question.tail_limit_w(bore_mm=new_bore_mm, delta_t_k=delta_t_k)),
         ("tail_run_m", step.tail_run_m)],
        COMMON_PRACTICE,
        sentence=f"{its.name}, {step.description}: its tails of {old_od_mm} mm are too narrow for {carried_w:,.0f} W, "
        f"renewed in {new_od_mm} mm over {step.tail_run_m:g} m one way",
    )  # fmt: skip


def _step(
    path: str, step: EmitterStep, its: RoomEmitters, rated_w: float, exponent: float, limit_w: float, factor: float,
    water: Numbers, inputs: list[Entry],
) -> Entry:  # fmt: skip
    log_mean = emitters_question.by_log_mean(exponent)
    law = [("log_mean_excess_k", factor * RATED_EXCESS_K)] if log_mean else [("exponent", exponent)]
    numbers = [("output_50k_w", rated_w), *law, *water, ("output_factor_ratio", factor), ("output_w", step.output_w)]
    formula = "rated output at 50 K x (excess temperature / 50)^exponent"
    if log_mean:
        formula = (
            "output at 50 K, by pipe spacing, screed and covering x logarithmic mean of flow and return above the room "
            "/ 50"
        )
    if limit_w < rated_w * factor:
        numbers.append(("floor_limit_w", limit_w))
        formula += ", held to the highest permitted floor temperature"
    return _entry(
        path,
        formula,
        numbers,
        emitters_question.FLOOR_SOURCE if log_mean else EMITTERS,
        sentence=f"{its.name}, {step.description}: {rated_w:,.0f} W x {factor:.3f} = {step.output_w:,.0f} W",
        inputs=inputs,
    )


def _step_id(step: EmitterStep) -> str:
    return step.emitter_id or step.wall_space_id or step.description


def _emitter_inputs(emitter: Emitter) -> list[Entry]:
    fields_used = ["output_50k_w", "exponent"]
    if emitter.kind == "floor_heating" and emitter.output_50k_w == UNKNOWN:
        fields_used = ["pipe_spacing_mm", "screed_mm", "covering_m2k_per_w", "mixing_valve"]
    elif emitter.output_50k_w == UNKNOWN:
        fields_used += [field for field in ("type", "height_mm", "length_mm") if getattr(emitter, field)]
    return [_input(f"{emitter.id}: {field.rpartition('_')[0] or field}", emitter, field) for field in fields_used]


def _flow(estimate: Estimate) -> Iterator[Entry]:
    flow, schedule = estimate.design.flow, estimate.design.emitters
    numbers: list[tuple[str, Any]] = [("years", flow.years)]
    costs = []
    for candidate in flow.candidates:
        at = f"{candidate.flow_temp_c:g} °C"
        numbers += [(f"{at}: seasonal_ratio", candidate.seasonal_ratio),
                    (f"{at}: running_pence_per_year", candidate.running_pence_per_year)]  # fmt: skip
        costs += [_number(f"{at}: purchase_pence", candidate.purchase_pence),
                  _number(f"{at}: whole_cost_pence", candidate.whole_cost_pence)]  # fmt: skip
    asked = estimate.choices.flow_temp_c
    yield _entry(
        "design.flow_temp_c",
        "as asked for" if asked is not None else f"least of purchase + {YEARS} years of running among those tried",
        numbers,
        flow_temperature.SOURCE,
        sentence=_said(flow_temperature.WHY, flow),
        inputs=[] if asked is None else [_given("flow temperature asked for", "flow_temp_c", asked, "told")],
        cost_why={"formula": f"purchase + {YEARS} x running", "numbers": costs},
    )
    governing = next((room.name for room in schedule.rooms if room.room_id == schedule.governing_room_id), None)
    yield _entry(
        "design.return_temp_c",
        "flow temperature - design difference",
        _of(flow, "flow_temp_c", "delta_t_k"),
        COMMON_PRACTICE,
    )
    yield _entry(
        "design.governing_room_id",
        "the room whose emitters need the hottest water to cover its heat loss",
        [("flow_temp_c", schedule.flow_temp_c)],
        EMITTERS,
        sentence=f"{governing or 'no room'} needs the hottest water",
    )
    points = estimate.design.curve.points
    if points:
        yield _entry(
            "design.heating_curve",
            "mean water above the room goes with load^(1/exponent), the difference of flow and return with the load",
            [("exponent", estimate.design.curve.exponent), *_of(points[0], "outdoor_temp_c", "flow_temp_c")],
            heating_curve.SOURCE,
            sentence=_said(heating_curve.WHY, points[len(points) // 2]),
        )


# --- outdoor unit and hot water --------------------------------------------------------------------------------------


def _unit(estimate: Estimate) -> Iterator[Entry]:
    choice, design = estimate.design.unit, estimate.design
    unit = choice.unit
    if unit is None:
        return
    outdoor_c, flow_c = design.climate.design_outdoor_temp_c, design.flow.flow_temp_c
    grid = rating_grid(unit)
    i, a = _cell(grid.outdoor_temps_c, outdoor_c)
    j, b = _cell(grid.flow_temps_c, flow_c)
    left = defrost_factor(outdoor_temp_c=outdoor_c, defrost_included=unit.defrost_included)
    corners = ((i, j, (1 - a) * (1 - b)), (i, j + 1, (1 - a) * b), (i + 1, j, a * (1 - b)), (i + 1, j + 1, a * b))
    plate = [_given(f"rating points of {unit.name}", "ratings", "maker's record", "plate")]
    for path, column, name, value in (
        ("capacity_w", 0, "output_w", choice.capacity_w),
        ("input_w", 1, "input_w", choice.input_w),
        ("minimum_output_w", 2, "minimum_output_w", choice.minimum_output_w),
        ("sound_power_dba", 3, "sound_power_dba", choice.sound_power_dba),
    ):
        numbers: list[tuple[str, Any]] = []
        for row, cell, weight in corners:
            at = f"{grid.outdoor_temps_c[row]:g}/{grid.flow_temps_c[cell]:g} °C"
            numbers += [(f"{at}: {name}", grid.states[row][cell][column]), (f"{at}: weight_ratio", weight)]
        numbers += [("outdoor_temp_c", outdoor_c), ("flow_temp_c", flow_c)]
        formula = "sum of the four rating points around, each x its weight"
        if path == "capacity_w":
            numbers += [("count", choice.count), ("left_after_defrost_ratio", left)]
            formula += ", x units x what defrosting leaves"
        elif path == "input_w":
            numbers.append(("count", choice.count))
            formula += ", x units"
        elif path == "minimum_output_w":
            numbers.append(("left_after_defrost_ratio", left))
            formula += ", x what defrosting leaves; of one unit"
        else:
            formula += "; of one unit"
        yield _entry(
            f"design.outdoor_unit.{path}",
            formula,
            [*numbers, (path, value)],
            outdoor_unit.RATINGS,
            sentence=_said(outdoor_unit.WHY, choice) if path == "capacity_w" else "",
            inputs=plate,
        )
    yield _entry(
        "design.outdoor_unit.cover_ratio",
        "capacity of all units / heat loss of the house",
        [("capacity_w", choice.capacity_w), ("heat_loss_w", design.heat_loss.heat_loss_w)],
        outdoor_unit.SOURCE,
    )
    taken = next((row for row in choice.considered if row.taken), None)
    yield _entry(
        "design.outdoor_unit.sku",
        "the next size above the heat loss; of one size the cheapest",
        [(f"{row.sku}: capacity_w", row.capacity_w) for row in choice.considered],
        outdoor_unit.SOURCE,
        sentence=f"{unit.name}: {taken.reason}" if taken else unit.name,
        inputs=[] if estimate.choices.outdoor_unit_sku is None
        else [_given("unit asked for", "sku", estimate.choices.outdoor_unit_sku, "told")],
    )  # fmt: skip
    yield _entry(
        "design.outdoor_unit.count",
        "one; two like units where one is not enough and the maker allows it",
        [("count", choice.count)],
        outdoor_unit.SOURCE,
    )
    yield _entry(
        "design.outdoor_unit.hours_below_minimum_h",
        "hours of the year in which the house takes less than the least output of one unit",
        [("hours_below_minimum_h", choice.hours_below_minimum_h), ("minimum_output_w", choice.minimum_output_w)],
        performance.SOURCE,
    )


def _cell(axis: Sequence[float], at: float) -> tuple[int, float]:
    """The point of an axis below a place, and how far on to the next it lies."""
    index = min(bisect_right(axis, at) - 1, len(axis) - 2)
    return index, (at - axis[index]) / (axis[index + 1] - axis[index])


def _hot_water(estimate: Estimate) -> Iterator[Entry]:
    store, survey = estimate.design.hot_water, estimate.survey
    house, water = survey.house, survey.hot_water
    living = [_input("people who live there", house, "occupants"), _input("bedrooms", house, "bedrooms")]
    use = [_input("use of hot water", water, "use"), _input("baths", water, "baths"),
           _input("showers with a pump", water, "power_showers")]  # fmt: skip
    ratio = hot_water.use_ratio(hot_water=water, bedrooms=house.bedrooms)
    source, at = hot_water.SOURCE, "design.hot_water"
    yield _entry(
        f"{at}.people",
        "those who live there, or bedrooms + 1, whichever is more; the rule counts up to "
        f"{hot_water.RULE_PEOPLE_AT_MOST}",
        [("occupants", house.occupants), ("bedrooms", house.bedrooms)],
        source,
        inputs=living,
    )
    yield _entry(
        f"{at}.draw_l_per_day",
        "people x litres a person a day at 60 °C x how much more or less than usual",
        [("people", store.people), ("per_person_l_per_day", hot_water.LITRES_PER_PERSON_DAY), ("use_ratio", ratio)],
        source,
        inputs=[*living, *use],
    )
    yield _entry(
        f"{at}.store_needed_l",
        "draw of a day x (60 °C - cold) / (store - cold) x share of the busiest spell / usable share of the store",
        [("draw_l_per_day", store.draw_l_per_day), ("draw_temp_c", hot_water.DRAW_TEMP_C),
         ("store_temp_c", store.store_temp_c), ("cold_temp_c", hot_water.COLD_TEMP_C),
         ("peak_share_ratio", hot_water.PEAK_SHARE_RATIO), ("usable_ratio", hot_water.USABLE_RATIO)],
        COMMON_PRACTICE,
        sentence=_said(hot_water.WHY, store),
    )  # fmt: skip
    yield _entry(
        f"{at}.hot_water_kwh_per_year",
        "SAP's heat in the water drawn, month by month, for the people who live there",
        [("hot_water_kwh_per_year", store.hot_water_kwh_per_year), ("use_ratio", ratio)],
        hot_water.ENERGY_SOURCE,
        inputs=[*living, *use],
    )
    cylinder = store.cylinder
    if cylinder is None:
        return
    asked = estimate.choices.cylinder_sku
    for path in ("design.cylinder.sku", "design.cylinder.volume_l"):
        yield _entry(
            path,
            "the smallest cylinder that is large enough and goes into its place" if asked is None else "as asked for",
            [("store_needed_l", store.store_needed_l), ("volume_l", cylinder.volume_l)],
            source,
            sentence=f"{cylinder.name}: {store.volume_l:g} L for {store.store_needed_l:.0f} L needed; "
            + "; ".join(store.considered),
            inputs=[] if asked is None else [_given("cylinder asked for", "sku", asked, "told")],
        )
    yield _entry(
        f"{at}.mixed_40c_l",
        "volume x (store - cold) / (40 °C - cold)",
        [("volume_l", cylinder.volume_l), ("store_temp_c", store.store_temp_c),
         ("cold_temp_c", hot_water.COLD_TEMP_C), ("mixed_temp_c", hot_water.MIXED_TEMP_C)],
        Source("heat balance", standing="second computation"),
    )  # fmt: skip
    plate = [_given(f"coil of {cylinder.name}", "coil_area_m2", cylinder.coil_area_m2, "plate")]
    yield _entry(
        f"{at}.reheat_power_w",
        "what the units give at the store's temperature, at most what the coil passes on",
        [("coil_area_m2", cylinder.coil_area_m2), ("coil_w_per_m2k", hot_water.COIL_W_PER_M2K),
         ("coil_delta_t_k", hot_water.COIL_DELTA_T_K), ("reheat_power_w", store.reheat_power_w)],
        COMMON_PRACTICE,
        inputs=plate,
    )  # fmt: skip
    yield _entry(
        f"{at}.reheat_minutes",
        "volume x (store - cold) / (14.3 x power in kW)",
        [("volume_l", cylinder.volume_l), ("store_temp_c", store.store_temp_c),
         ("cold_temp_c", hot_water.COLD_TEMP_C), ("reheat_power_w", store.reheat_power_w),
         ("reheat_minutes", store.reheat_minutes)],
        hot_water.REHEAT_SOURCE,
        inputs=plate,
    )  # fmt: skip
    yield _entry(
        f"{at}.standing_loss_kwh_per_year",
        "standing loss of a day x 365",
        [("standing_loss_kwh_per_day", cylinder.standing_loss_kwh_per_day), ("days", hot_water.DAYS_A_YEAR)],
        MAKER,
    )
    yield _entry(
        f"{at}.hygiene_kwh_per_year",
        "weeks x volume x heat capacity of water x (60 °C - store)",
        [("weeks", hot_water.HYGIENE_WEEKS), ("volume_l", cylinder.volume_l),
         ("heat_capacity_j_per_kgk", hot_water.WATER_HEAT_CAPACITY_J_PER_KGK),
         ("hygiene_temp_c", hot_water.HYGIENE_TEMP_C), ("store_temp_c", store.store_temp_c)],
        COMMON_PRACTICE,
    )  # fmt: skip
    fit = estimate.design.cylinder_space
    place = survey.cylinder_place
    if fit is not None and place is not None:
        numbers = [
            pair
            for what, needed, there, _ in fit.checks
            for pair in ((f"{what}: needed", needed), (f"{what}: there", there))
        ]
        yield _entry(
            "design.cylinder_space.fits",
            "each measure needed against the one there",
            numbers,
            cylinder_space.SOURCE,
            sentence=_said(cylinder_space.WHY, fit),
            inputs=[_input(field.rpartition("_")[0].replace("_", " "), place, field)
                    for field in ("width_mm", "depth_mm", "height_mm", "door_width_mm", "floor_limit_kg")],
        )  # fmt: skip
    pipe = estimate.design.discharge
    if pipe is not None and place is not None:
        numbers = [("run_m", pipe.run_m), ("bends", pipe.bends)]
        for od_mm, resistance_m, limit_m, _ in pipe.tried:
            numbers += [(f"{od_mm} mm: resistance_m", resistance_m), (f"{od_mm} mm: limit_m", limit_m)]
        yield _entry(
            "design.discharge.d2_od_mm",
            "the smallest size whose run and bends, as metres of pipe, stay within the table's limit",
            numbers,
            discharge.SOURCE,
            sentence=_said(discharge.WHY, pipe) if pipe.d2_od_mm is not None else "no size of the table is enough",
            inputs=[_input("run of the discharge", place, "discharge_run_m"),
                    _input("its bends", place, "discharge_bends"),
                    _input("whether it falls", place, "discharge_falls")],
        )  # fmt: skip
        if pipe.resistance_m is not None:
            bend = [("bend_m", (pipe.resistance_m - pipe.run_m) / pipe.bends)] if pipe.bends else []
            yield _entry(
                "design.discharge.resistance_m",
                "run + bends x the metres that one bend of this size counts as; at most the table's limit",
                [("run_m", pipe.run_m), ("bends", pipe.bends), *bend, *_of(pipe, "d2_od_mm", "limit_m")],
                discharge.SOURCE,
                inputs=[_input("run of the discharge", place, "discharge_run_m"),
                        _input("its bends", place, "discharge_bends")],
            )  # fmt: skip


# --- water side ------------------------------------------------------------------------------------------------------


def _water_side(estimate: Estimate) -> Iterator[Entry]:
    design = estimate.design
    frost, pipes, volume = design.frost, design.primary, design.volume
    house = estimate.survey.house
    if frost is not None:
        yield _entry(
            "design.frost_protection.method",
            "glycol where the power fails often or the house stands empty, else antifreeze valves; never both",
            _of(frost, "glycol_ratio", "valves"),
            frost_protection.SOURCE,
            sentence=_said(frost_protection.WHY, frost),
            inputs=[_input("power cuts", house, "power_cuts"), _input("often empty", house, "often_empty")],
        )
    position = next((one for one in estimate.survey.positions if one.id == design.position_id), None)
    if pipes is None or position is None or frost is None:
        return
    flow_c, delta_t_k = design.flow.flow_temp_c, design.flow.delta_t_k
    liquid = primary_pipework.circuit_fluid(flow_temp_c=flow_c, delta_t_k=delta_t_k, glycol_ratio=frost.glycol_ratio)
    carried_w = max(design.heat_loss.heat_loss_w, design.hot_water.reheat_power_w or 0.0)
    route = [
        _input(field.rpartition("_")[0].replace("_", " "), position, field)
        for field in ("route_outside_m", "route_buried_m", "route_inside_m", "changes_outside", "changes_inside")
    ]
    at, source = "design.primary", primary_pipework.SOURCE
    yield _entry(
        f"{at}.flow_l_per_s",
        "heat carried / (density x heat capacity x temperature difference); the larger of heating and hot water",
        [("heat_w", carried_w), ("density_kg_per_m3", liquid.density_kg_per_m3),
         ("heat_capacity_j_per_kgk", liquid.heat_capacity_j_per_kgk), ("delta_t_k", delta_t_k),
         ("flow_l_per_s", pipes.flow_l_per_s)],
        Source("heat balance", standing="second computation"),
    )  # fmt: skip
    numbers = [("fixed_loss_pa", pipes.fixed_loss_pa), ("pump_available_pa", pipes.pump_available_pa)]
    for tried in pipes.tried:
        name = f"{tried.od_mm} mm"
        numbers += [(f"{name}: velocity_m_per_s", tried.velocity_m_per_s),
                    (f"{name}: gradient_pa_per_m", tried.gradient_pa_per_m),
                    (f"{name}: pressure_drop_pa", tried.pressure_drop_pa)]  # fmt: skip
    yield _entry(
        f"{at}.od_mm",
        "the smallest tube that is quiet, loses little and that the unit's own pump can serve",
        numbers,
        source,
        sentence=_said(primary_pipework.WHY, pipes)
        if pipes.od_mm is not None and pipes.pump_available_pa is not None
        else "no tube size is left",
        inputs=route,
    )
    yield _entry(
        f"{at}.pump_available_pa",
        "head of the unit's pump at the flow of one unit - the unit's own loss at that flow",
        [("flow_l_per_s", pipes.flow_l_per_s), ("count", design.unit.count),
         ("pump_available_pa", pipes.pump_available_pa)],
        MAKER,
    )  # fmt: skip
    yield _entry(
        f"{at}.length_m",
        "2 x (outside + buried + inside), out and back",
        [("route_outside_m", position.route_outside_m), ("route_buried_m", position.route_buried_m),
         ("route_inside_m", position.route_inside_m)],
        Source("the survey", standing="firm's rule"),
        inputs=route,
    )  # fmt: skip
    if pipes.od_mm is not None and pipes.velocity_m_per_s is not None and pipes.wall_mm is not None:
        bore_mm = estimate.rules.reference.tubes[pipes.od_mm].bore_mm
        re = reynolds(velocity_m_per_s=pipes.velocity_m_per_s, bore_mm=bore_mm, fluid=liquid)
        roughness_ratio = COPPER_ROUGHNESS_MM / bore_mm
        friction = darcy_factor(reynolds=re, relative_roughness_ratio=roughness_ratio)
        yield _entry(
            f"{at}.velocity_m_per_s",
            "flow / area of the bore",
            [("flow_l_per_s", pipes.flow_l_per_s), ("bore_mm", bore_mm)],
            source,
        )
        yield _entry(
            f"{at}.gradient_pa_per_m",
            "friction factor / bore x density x velocity^2 / 2; the factor by Colebrook and White from Reynolds number "
            "and roughness",
            [("bore_mm", bore_mm), ("velocity_m_per_s", pipes.velocity_m_per_s),
             ("density_kg_per_m3", liquid.density_kg_per_m3), ("viscosity_pa_s", liquid.viscosity_pa_s),
             ("reynolds", re), ("relative_roughness_ratio", roughness_ratio), ("friction_factor", friction),
             ("gradient_pa_per_m", pipes.gradient_pa_per_m)],
            Source("Colebrook and White (1937/1939)", "as CIBSE Guide C (2001) 4.2 uses it"),
        )  # fmt: skip
        straight_pa = (pipes.gradient_pa_per_m or 0.0) * (
            (pipes.equivalent_length_m or 0.0) - 2 * position.route_buried_m
        )
        yield _entry(
            f"{at}.pressure_drop_pa",
            "gradient x length with fittings as metres of tube + buried pipe + fixed losses",
            [("gradient_pa_per_m", pipes.gradient_pa_per_m),
             ("equivalent_length_above_ground_m", (pipes.equivalent_length_m or 0.0) - 2 * position.route_buried_m),
             ("buried_pa", (pipes.pressure_drop_pa or 0.0) - straight_pa - pipes.fixed_loss_pa
              if position.route_buried_m > 0 else 0.0),
             ("fixed_loss_pa", pipes.fixed_loss_pa), ("pressure_drop_pa", pipes.pressure_drop_pa)],
            primary_pipework.FITTINGS_SOURCE,
            sentence=f"index circuit: {pipes.index_circuit}",
            inputs=route,
        )  # fmt: skip
        yield _entry(
            f"{at}.heat_lost_outside_w",
            "2 x (route outside x loss of a metre of insulated pipe + buried route x loss of a metre in the "
            "earth), both at design conditions",
            [("route_outside_m", position.route_outside_m), ("route_buried_m", position.route_buried_m),
             ("heat_lost_outside_w", pipes.heat_lost_outside_w)],
            Source("EN ISO 12241", standing="from memory"),
            inputs=route,
        )
        turns = position.changes_outside + position.changes_inside
        yield _entry(
            f"{at}.equivalent_length_m",
            "tube out and back with the tails of the valve set + metres of tube that elbows and valves count as + "
            "buried pipe",
            [("route_outside_m", position.route_outside_m), ("route_inside_m", position.route_inside_m),
             ("route_buried_m", position.route_buried_m), ("tails_m", primary_pipework.VALVE_SET_TAILS_M),
             ("elbows", 2 * turns + primary_pipework.VALVE_SET_ELBOWS),
             ("elbow_m", primary_pipework.elbow_equivalent_m(od_mm=pipes.od_mm, bore_mm=bore_mm,
                                                             reference=estimate.rules.reference)),
             ("valves", primary_pipework.VALVES_IN_LINE), ("equivalent_length_m", pipes.equivalent_length_m)],
            primary_pipework.FITTINGS_SOURCE,
            inputs=route,
        )  # fmt: skip
    yield _entry(
        f"{at}.fixed_loss_pa",
        "filter, separator, diverting valve and strainer by their Kv"
        + (
            " + the coil of the cylinder, which the larger flow goes through instead of the index circuit"
            if pipes.heating_flow_l_per_s is not None
            else ", the index circuit being served by a second pump"
            if pipes.separation_needed
            else " + the index circuit"
        ),
        [("flow_l_per_s", pipes.flow_l_per_s),
         ("valve_set_pa", primary_pipework.valve_set_loss_pa(
             flow_l_per_s=pipes.flow_l_per_s, unit_flow_l_per_s=pipes.flow_l_per_s / design.unit.count, fluid=liquid)),
         ("fixed_loss_pa", pipes.fixed_loss_pa)],
        Source("BS EN 60534-1, flow coefficient", "Kv of the fittings from memory", "from memory"),
        sentence=f"index circuit: {pipes.index_circuit}",
    )  # fmt: skip
    if pipes.heating_flow_l_per_s is not None:
        yield _entry(
            f"{at}.heating_flow_l_per_s",
            "flow of the larger one, hot water, x heat loss / heat carried then",
            [("heat_loss_w", design.heat_loss.heat_loss_w), ("heat_w", carried_w),
             *_of(pipes, "flow_l_per_s", "heating_flow_l_per_s")],
            Source("heat balance", standing="second computation"),
        )  # fmt: skip
        for figure in ("heating_drop_pa", "heating_available_pa"):
            yield _entry(
                f"{at}.{figure}",
                "at the flow of heating: tube, buried pipe and valve set"
                + (", the index circuit being served by a second pump" if pipes.separation_needed
                   else " + the index circuit")
                + ", against what the pump has left then",
                _of(pipes, "heating_flow_l_per_s", "heating_drop_pa", "heating_available_pa"),
                source,
                sentence=f"index circuit: {pipes.index_circuit}",
            )  # fmt: skip
    if volume is None:
        return
    at, source = "design.system_volume", system_volume.SOURCE
    yield _entry(
        f"{at}.total_l",
        "pipes + emitters + units and coil + volumisers",
        [*_of(volume, "pipes_l", "emitters_l", "unit_and_coil_l"),
         ("volumisers_l", volume.volumiser_count * volume.volumiser.volume_l if volume.volumiser else 0.0),
         ("total_l", volume.total_l)],
        source,
    )  # fmt: skip
    yield _entry(
        f"{at}.expansion_l",
        "content x growth from filling to the hottest flow, by the densities",
        _of(volume, "total_l", "expansion_ratio", "expansion_l"),
        source,
    )
    charge_bar = system_volume.charge_pressure_bar(static_height_m=house.storeys * system_volume.STOREY_M)
    final_bar = system_volume.SAFETY_VALVE_BAR - system_volume.BELOW_SAFETY_VALVE_BAR
    yield _entry(
        f"{at}.vessel_needed_l",
        "(expansion + reserve) x (final pressure + 1) / (final pressure - charge)",
        [*_of(volume, "expansion_l", "reserve_l"), ("charge_bar", charge_bar), ("final_bar", final_bar),
         ("vessel_needed_l", volume.vessel_needed_l)],
        source,
        sentence=_said(system_volume.WHY, volume),
    )  # fmt: skip
    yield _entry(
        f"{at}.reserve_l",
        "0.5 % of the content, at least 3 L",
        _of(volume, "total_l", "reserve_l"),
        source,
    )
    yield _entry(
        f"{at}.minimum_l",
        "units x what the maker asks to stay open",
        [("count", design.unit.count), ("minimum_l", volume.minimum_l)],
        MAKER,
    )
    yield _entry(
        f"{at}.open_l",
        "primary + units + emitters that no thermostat closes + volumisers, against what the maker asks for",
        _of(volume, "open_l", "minimum_l", "volumiser_count"),
        MAKER,
    )


# --- place and supply ------------------------------------------------------------------------------------------------


def _place(estimate: Estimate) -> Iterator[Entry]:
    design = estimate.design
    chosen = next((one for one in design.sitings if one.position_id == design.position_id), None)
    position = next((one for one in estimate.survey.positions if one.id == design.position_id), None)
    if chosen is None or position is None:
        return
    asked = estimate.choices.position_id
    yield _entry(
        "design.position_id",
        "fewest findings that stop, then fewest to be accepted, then the shortest route" if asked is None
        else "as asked for",
        [
            (f"{one.name}: {strength}",
             sum(finding.strength == strength for finding in (*one.findings, *one.ground_findings)))
            for one in design.sitings
            for strength in ("stop", "ask")
        ],
        Source("the firm's ranking of positions", standing="firm's rule"),
        inputs=[] if asked is None else [_given("position asked for", "id", asked, "told")],
    )  # fmt: skip
    yield _entry(
        "design.planning",
        "the rows of the nation's order on the day, each met, broken or open",
        [],
        siting.SOURCE,
        sentence=f"{chosen.name}: {chosen.planning.replace('_', ' ')}: {'; '.join(chosen.planning_reasons)}",
    )
    limit, record = estimate.rules.place.noise_limit_at(estimate.survey.house.nation, estimate.priced_on)
    for window, at in zip(position.windows, chosen.noise, strict=True):
        path = f"design.noise.{at.where}"
        inputs = [
            _input("distance of the window", window, "distance_m"), _input("its height", window, "height_m"),
            _input("what is seen of the unit", window, "view"),
            _input("surfaces that throw sound back", position, "reflecting_surfaces"),
        ]  # fmt: skip
        spread_db = at.units_dba - at.sound_power_dba - at.barrier_db
        spread = "10 lg(directivity / (4 pi distance^2))" if limit.steps is None else "the table's step for distance"
        background = [] if limit.background_dba is None else [("background_dba", limit.background_dba)]
        yield _entry(
            f"{path}.level_dba",
            f"sound power of all units + {spread} + barrier"
            + (", then with the background by energy" if background else ""),
            [*_of(at, "sound_power_dba", "directivity", "distance_m"), ("spread_db", spread_db),
             ("barrier_db", at.barrier_db), *background, ("level_dba", at.level_dba)],
            noise.SOURCE,
            sentence=_said(noise.WHY, at),
            inputs=inputs,
        )  # fmt: skip
        yield _entry(
            f"{path}.limit_dba",
            "the limit of the nation on the day of pricing",
            [("limit_dba", at.limit_dba)],
            record.source,
        )
        for figure in ("passes", "pass_distance_m"):
            yield _entry(
                f"{path}.{figure}",
                "the level is not above the limit; it would just pass at the distance",
                _of(at, "level_dba", "limit_dba", "pass_distance_m"),
                noise.SOURCE,
                inputs=inputs,
            )
    if design.condensate is not None and design.condensate.to != "undecided":
        yield _entry(
            "design.condensate.volume_m3",
            "what melts off the units, held as the ground lets it away, in the voids of the gravel",
            _of(design.condensate, "width_m", "depth_m", "pipe_m", "volume_m3"),
            condensate.SOURCE,
            sentence=_said(condensate.WHY, design.condensate),
            inputs=[_input("where the meltwater goes", position, "condensate_to"), _input("ground", position, "ground"),
                    _input("water table", position, "water_table"), _input("percolation", position, "percolation")],
        )  # fmt: skip
    if design.base is not None:
        yield _entry(
            "design.base.volume_m3",
            "length x width x thickness; the slab overhangs the units on every side",
            _of(design.base, "length_m", "width_m", "thickness_m", "sub_base_m", "dig_m3", "volume_m3"),
            base.SOURCE,
            sentence=_said(base.WHY, design.base).replace("_", " "),
            inputs=[_input("ground", position, "ground"), _input("slope", position, "slope_ratio")],
        )
    yield from _ground(estimate, position)
    yield from _surroundings(estimate)


def _ground(estimate: Estimate, position: Position) -> Iterator[Entry]:
    """Base and pit: why each size is what it is."""
    footing, pit, unit = estimate.design.base, estimate.design.condensate, estimate.design.unit
    tables, machine = estimate.rules.place, unit.unit
    on_ground = [_input("ground", position, "ground"), _input("slope", position, "slope_ratio")]
    if footing is not None and machine is not None:
        at, table = "design.base", tables.slab
        yield _entry(f"{at}.type", footing.reason, [("mass_kg", machine.mass_kg)], table.source, inputs=on_ground)
        if footing.type != "wall_bracket":
            yield _entry(
                f"{at}.thickness_m",
                "by the ground, out of the firm's table" if footing.thickness_m else "nothing is cast under blocks",
                [(f"{ground}: thickness_mm", depth_mm) for ground, depth_mm in table.thickness_mm.items()],
                table.source,
                inputs=on_ground[:1],
            )
            between_mm = max(machine.clear_left_mm, machine.clear_right_mm)
            yield _entry(
                f"{at}.length_m",
                "units x width + the distance between them + 2 x overhang",
                [("count", unit.count), ("width_mm", machine.width_mm), ("between_mm", between_mm),
                 ("overhang_mm", table.overhang_mm), ("length_m", footing.length_m)],
                table.source,
            )  # fmt: skip
            yield _entry(
                f"{at}.width_m",
                "depth of the unit + 2 x overhang",
                [("depth_mm", machine.depth_mm), ("overhang_mm", table.overhang_mm), ("width_m", footing.width_m)],
                table.source,
            )
            yield _entry(
                f"{at}.dig_m3",
                "area x (sub-base + slab below ground), and on a slope half the fall along the longer side",
                [*_of(footing, "area_m2", "sub_base_m", "thickness_m"), ("above_ground_mm", table.above_ground_mm),
                 ("slope_ratio", position.slope_ratio), ("dig_m3", footing.dig_m3)],
                table.source,
                inputs=on_ground,
            )  # fmt: skip
    if pit is None or machine is None or pit.to != "soakaway":
        return
    at, pits = "design.condensate", tables.soakaway
    frost_mm = pits.usual_frost_depth_mm if isinstance(position.frost_depth_mm, str) else position.frost_depth_mm
    yield _entry(
        f"{at}.depth_m",
        "the usual depth, or deeper where the frost and what lies below it go deeper",
        [("usual_depth_mm", pits.depth_mm), ("frost_depth_mm", frost_mm), ("below_frost_mm", pits.below_frost_mm),
         ("depth_m", pit.depth_m)],
        pits.source,
        inputs=[_input("depth of frost", position, "frost_depth_mm")],
    )  # fmt: skip
    daily_l, held_days = machine.condensate_l_per_day * unit.count, pits.held_days[position.ground]
    yield _entry(
        f"{at}.width_m",
        "root of (water a day x days held / (voids x depth)), up to the next practical side",
        [("water_l_per_day", daily_l), ("held_days", held_days), ("void_ratio", pits.void_ratio),
         ("depth_m", pit.depth_m),
         ("side_needed_m", condensate.side_needed_m(daily_l=daily_l, held_days=held_days, void_ratio=pits.void_ratio,
                                                    depth_m=pit.depth_m)),
         ("width_m", pit.width_m)],
        pits.source,
        inputs=[_input("ground", position, "ground"), _input("percolation", position, "percolation")],
    )  # fmt: skip
    yield _entry(
        f"{at}.gravel_10mm_m3",
        "bags on top x what a bag weighs / what a cubic metre weighs",
        [("top_bags", pits.top_bags), ("bag_kg", pits.bag_kg), ("gravel_kg_per_m3", pits.gravel_kg_per_m3),
         ("gravel_10mm_m3", pit.gravel_10mm_m3)],
        pits.source,
    )  # fmt: skip
    yield _entry(
        f"{at}.gravel_20mm_m3",
        "the pit - its standing pipe - the gravel on top",
        [("volume_m3", pit.volume_m3), ("standing_pipe_od_mm", pits.standing_pipe_od_mm),
         *_of(pit, "standing_pipe_m", "gravel_10mm_m3", "gravel_20mm_m3")],
        pits.source,
    )  # fmt: skip


def _surroundings(estimate: Estimate) -> Iterator[Entry]:
    """Clearances and protective zone of every surveyed position."""
    positions = {position.id: position for position in estimate.survey.positions}
    for judged in estimate.design.sitings:
        position, at = positions[judged.position_id], f"design.positions.{judged.position_id}"
        for side, needed_mm, there_mm, _ in judged.clearances:
            yield _entry(
                f"{at}.clearances.{side}",
                "what the maker asks for against what is there",
                [("needed_mm", needed_mm), ("there_mm", there_mm)],
                siting.SOURCE,
                sentence=f"{judged.name}, {side}: {needed_mm} mm needed, {there_mm} mm there",
                inputs=[_input(f"room {side}", position, f"clear_{side}_mm")],
            )
        names = told_apart([opening.name for opening in position.openings])
        openings = dict(zip(names, position.openings, strict=True))
        for near in judged.zone:
            where = openings.get(near.name) if near.what != "isolator" else position.isolator
            yield _entry(
                f"{at}.zone.{near.name}",
                "inside where it is nearer than the maker's zone reaches and lower than its top; what lies at or below "
                "the ground whatever its height, since the gas is heavier than air",
                _of(near, "distance_m", "reach_m", "height_m", "zone_top_m"),
                refrigerant_zone.SOURCE,
                sentence=_said(refrigerant_zone.WHY, near),
                inputs=[] if where is None else [_input("its distance", where, "distance_m"),
                                                 _input("its height", where, "height_m")],
            )  # fmt: skip


def _supply(estimate: Estimate) -> Iterator[Entry]:
    circuit, supply = estimate.design.electrical, estimate.survey.supply
    unit, rule = estimate.design.unit.unit, estimate.rules.place.network
    if circuit is None or unit is None:
        return
    at, source = "design.electrical", electrical.SOURCE
    yield _entry(
        f"{at}.unit_current_a",
        "greatest current of a unit x units x diversity",
        [("maximum_current_a", unit.maximum_current_a), ("count", estimate.design.unit.count),
         ("unit_diversity_ratio", rule.unit_diversity_ratio)],
        rule.diversity_source,
        inputs=[_given(f"greatest current of {unit.name}", "maximum_current_a", unit.maximum_current_a, "plate")],
    )  # fmt: skip
    yield _entry(
        f"{at}.immersion_current_a",
        "power of the immersion heater / voltage x diversity",
        [("immersion_w", immersion_w(estimate.design.hot_water, estimate.rules)),
         ("nominal_voltage_v", rule.nominal_voltage_v),
         ("immersion_diversity_ratio", rule.immersion_diversity_ratio)],
        rule.diversity_source,
    )  # fmt: skip
    yield from _house_demand(estimate, circuit, supply)
    today = [_input("demand of today", supply, "demand_before_a")]
    if circuit.demand_basis == "from_loads":
        stays = [(f"loads.{one.kind}.counted_after_a", one.counted_after_a) for one in circuit.loads]
        today = [_given("demand of today", "demand_before_a", circuit.demand_before_a, _least_known(supply.loads))]
    else:
        stays = _of(circuit, "demand_before_a")
    yield _entry(
        f"{at}.demand_after_a",
        "what stays of the demand of today + outdoor units + immersion heater",
        [*stays, *_of(circuit, "unit_current_a", "immersion_current_a", "demand_after_a")],
        source,
        sentence=_said(electrical.WHY, circuit),
        inputs=[*today, _input("cut-out", supply, "cutout_a")],
    )
    yield _entry(
        f"{at}.breaker_a",
        "as the maker says, not below the greatest current",
        [("maximum_current_a", unit.maximum_current_a), ("breaker_a", circuit.breaker_a)],
        MAKER,
        inputs=[_given(f"breaker of {unit.name}", "breaker_a", unit.breaker_a, "plate")],
    )
    if circuit.cable is not None:
        run = [_input("route of the cable", supply, "cable_route_m"), _input("how it is run", supply, "cable_method")]
        tried = electrical.cables_tried(
            cables=estimate.rules.catalogue.cables, unit=unit, method=supply.cable_method,
            length_m=supply.cable_route_m, network=rule,
        )  # fmt: skip
        yield _entry(
            f"{at}.cable.size_mm2",
            "the smallest that carries the breaker by the way it is run and keeps the voltage drop within the limit",
            [*_of(circuit, "breaker_a"),
             *(number for one in tried for number in (
                 (f"{one.cable.size_mm2:g} mm2: capacity_a", one.capacity_a),
                 (f"{one.cable.size_mm2:g} mm2: voltage_drop_ratio", one.voltage_drop_ratio))),
             ("voltage_drop_limit_ratio", rule.voltage_drop_limit_ratio), ("size_mm2", circuit.cable.size_mm2)],
            source,
            inputs=run,
        )  # fmt: skip
        yield _entry(
            f"{at}.voltage_drop_ratio",
            "drop of the cable in mV/(A m) x greatest current x route / 1000 / voltage",
            [("drop_mv_per_a_m", circuit.cable.drop_mv_per_a_m), ("maximum_current_a", unit.maximum_current_a),
             ("cable_route_m", supply.cable_route_m), ("nominal_voltage_v", rule.nominal_voltage_v),
             ("voltage_drop_limit_ratio", rule.voltage_drop_limit_ratio),
             ("voltage_drop_ratio", circuit.voltage_drop_ratio)],
            source,
            inputs=run,
        )  # fmt: skip
    yield _entry(
        f"{at}.network",
        "apply above the limit or the cut-out, with a looped supply or an unknown cut-out; else notify",
        [*_of(circuit, "demand_after_a", "cutout_a"), ("apply_above_a", rule.apply_above_a)],
        rule.source,
        inputs=[*today, _input("cut-out", supply, "cutout_a"), _input("looped supply", supply, "looped"),
                _input("phases", supply, "phases")],
    )  # fmt: skip
    yield _entry(
        f"{at}.extension_board",
        "where the spare ways are fewer than one for each unit and one for the immersion heater",
        [("ways_for_units", estimate.design.unit.count * electrical.WAYS_PER_UNIT),
         ("ways_for_immersion", electrical.WAYS_FOR_IMMERSION if circuit.immersion_current_a > 0 else 0)],
        COMMON_PRACTICE,
        inputs=[_input("spare ways", supply, "spare_ways")],
    )  # fmt: skip
    yield _entry(
        f"{at}.bonding_needed",
        "unless water and gas were seen to be bonded soundly",
        [],
        source,
        inputs=[_input("sound bonding", supply, "bonding_sound"), _input("earthing", supply, "earthing")],
    )


def _house_demand(estimate: Estimate, circuit: Electrical, supply: Supply) -> Iterator[Entry]:
    """The demand of today: as surveyed, or summed by kind of load, each of which opens further."""
    at, diversity = "design.electrical", estimate.rules.place.diversity
    voltage_v = estimate.rules.place.network.nominal_voltage_v
    for one in circuit.loads:
        allowance = diversity.household[one.kind]
        mine = [load for load in supply.loads if load.kind == one.kind]
        yields = "; what limits itself only as far as the cut-out goes" if any(load.limited for load in mine) else ""
        inputs = [
            _input(
                f"{load.count} x {load.name or electrical.KINDS[load.kind]}"
                + (", goes" if load.goes else "") + (", limits itself" if load.limited else ""),
                load,
                "breaker_a" if load.rated_kw is None else "rated_kw",
            )
            for load in mine
        ]  # fmt: skip
        for moment in ("before", "after"):
            yield _entry(
                f"{at}.loads.{one.kind}.counted_{moment}_a",
                f"of what they draw with all on: {allowance_words(allowance)}{yields}",
                [*_of(one, f"count_{moment}", f"connected_{moment}_a", f"counted_{moment}_a"),
                 ("nominal_voltage_v", voltage_v)],
                allowance.source,
                inputs=inputs,
            )  # fmt: skip
    if circuit.demand_basis == "from_loads":
        yield _entry(
            f"{at}.demand_before_a",
            "sum over the kinds of load of what counts after diversity",
            [*((f"loads.{one.kind}.counted_before_a", one.counted_before_a) for one in circuit.loads),
             *_of(circuit, "demand_before_a")],
            diversity.source,
        )  # fmt: skip
    else:
        yield _entry(
            f"{at}.demand_before_a",
            "as surveyed; it stands before a sum of the loads",
            _of(circuit, "demand_before_a"),
            Source("the survey", standing="firm's rule"),
            inputs=[_input("demand of today", supply, "demand_before_a")],
        )


def _least_known(loads: Iterable[Load]) -> Known:
    """How the least known of the loads is known."""
    known = {load.how_known("breaker_a" if load.rated_kw is None else "rated_kw") for load in loads}
    order: tuple[Known, ...] = ("assumed", "told", "plate", "measured")
    return next((how for how in order if how in known), "assumed")


# --- the year --------------------------------------------------------------------------------------------------------


def _year(estimate: Estimate) -> Iterator[Entry]:
    design, tariffs, existing = estimate.design, estimate.survey.tariffs, estimate.survey.existing
    energy, store = design.performance, design.hot_water
    if energy is None:
        return
    at, source = "design.performance", performance.SOURCE
    yield _entry(
        f"{at}.space_heat_kwh",
        "loss coefficient x degree days x 24 / 1000",
        [("loss_coefficient_w_per_k", design.heat_loss.loss_coefficient_w_per_k),
         ("degree_days_kd", energy.degree_days_kd), ("base_temp_c", BASE_TEMP_C)],
        TM41,
    )  # fmt: skip
    yield _entry(
        f"{at}.degree_days_kd",
        "over the hours of the year colder than the base: (base - outdoor temperature) x hours / 24",
        [("base_temp_c", BASE_TEMP_C), ("degree_days_kd", energy.degree_days_kd)],
        TM41,
    )
    yield _entry(
        f"{at}.hot_water_kwh",
        "heat in the water drawn + standing loss of the store + hygiene cycles",
        _of(store, "hot_water_kwh_per_year", "standing_loss_kwh_per_year", "hygiene_kwh_per_year"),
        hot_water.ENERGY_SOURCE,
    )
    yield _entry(
        f"{at}.space_electricity_kwh",
        "for each degree of outdoor temperature: load / ratio of the unit there x hours; below the least output the "
        "ratio falls; what the unit cannot give is direct electric heat",
        _of(energy, "space_heat_kwh", "space_seasonal_ratio", "backup_kwh", "pipe_loss_kwh", "hours_below_minimum_h"),
        source,
    )
    yield _entry(
        f"{at}.hot_water_electricity_kwh",
        "heat by the unit / its ratio at the store's flow temperature + heat by the immersion heater",
        [("hot_water_kwh", energy.hot_water_kwh), ("store_temp_c", store.store_temp_c),
         ("annual_mean_temp_c", design.climate.annual_mean_temp_c)],
        source,
    )  # fmt: skip
    yield _entry(
        f"{at}.electricity_kwh",
        "electricity for heating + electricity for hot water",
        _of(energy, "space_electricity_kwh", "hot_water_electricity_kwh", "electricity_kwh"),
        source,
        sentence=_said(performance.WHY, energy),
        inputs=[_given(said, "assumption", True, "assumed") for said in energy.assumptions],
    )
    yield _entry(
        f"{at}.seasonal_ratio",
        "(heating + hot water) / electricity",
        _of(energy, "space_heat_kwh", "hot_water_kwh", "electricity_kwh"),
        source,
    )
    yield _entry(
        f"{at}.space_seasonal_ratio",
        "heating / electricity for heating",
        _of(energy, "space_heat_kwh", "space_electricity_kwh"),
        source,
    )
    price = _input("price of electricity", tariffs, "electricity_pence_per_kwh")
    yield _entry(
        f"{at}.running_cost_pence",
        "electricity x its price",
        [("electricity_kwh", energy.electricity_kwh),
         ("electricity_pence_per_kwh", tariffs.electricity_pence_per_kwh)],
        Source("the survey", "tariffs", "firm's rule"),
        inputs=[price],
    )  # fmt: skip
    fuel = [_input("fuel of a year", existing, "fuel_used"), _input("price of fuel", tariffs, "fuel_pence_per_kwh")]
    yield _entry(
        f"{at}.saving_pence",
        "what the fuel of today costs - running cost",
        _of(energy, "fuel_now_kwh", "fuel_now_cost_pence", "running_cost_pence"),
        performance.FUELS,
        inputs=[*fuel, price],
    )
    yield from _range(energy, price)


def _range(energy: Performance, price: Entry) -> Iterator[Entry]:
    """How far a year may lie, and what each assumption has to do with it."""
    at = "design.performance"
    for figure, side, cost, words in (
        ("low_kwh", "less_kwh", "running_cost_low_pence", "less"),
        ("high_kwh", "more_kwh", "running_cost_high_pence", "more"),
    ):
        yield _entry(
            f"{at}.{figure}",
            f"electricity {'-' if side == 'less_kwh' else '+'} root of the sum of the squares of what each assumption "
            f"may take {words}",
            [("electricity_kwh", energy.electricity_kwh),
             *[(f"range_terms.{term.code}.{side}", getattr(term, side)) for term in energy.range_terms],
             (figure, getattr(energy, figure))],
            performance.UNCERTAINTY,
            sentence="about nine years and households in ten lie between the ends: the assumptions are independent, so "
            "that all of them hardly ever go the same way; an electricity price that changes is not in it",
            inputs=[_given(f"{term.what}: {term.span}", side, getattr(term, side), "assumed")
                    for term in energy.range_terms],
        )  # fmt: skip
        yield _entry(
            f"{at}.{cost}",
            "electricity at this end of the range x its price",
            [(figure, getattr(energy, figure)), (cost, getattr(energy, cost))],
            Source("the survey", "tariffs", "firm's rule"),
            inputs=[price],
        )
    for figure, cost, end in (
        ("saving_low_pence", "running_cost_high_pence", "dear"),
        ("saving_high_pence", "running_cost_low_pence", "cheap"),
    ):
        if getattr(energy, figure) is not None:
            yield _entry(
                f"{at}.{figure}",
                f"what the fuel of today costs - running cost at the {end} end of its range",
                [*_of(energy, "fuel_now_cost_pence", cost), (figure, getattr(energy, figure))],
                Source("the survey", "tariffs", "firm's rule"),
                inputs=[price],
            )
    for term in energy.range_terms:
        for side in ("less_kwh", "more_kwh"):
            yield _entry(
                f"{at}.range_terms.{term.code}.{side}",
                RANGE_FORMULAS[term.code],
                [("space_electricity_kwh", energy.space_electricity_kwh),
                 ("hot_water_electricity_kwh", energy.hot_water_electricity_kwh), (side, getattr(term, side))],
                performance.RANGE_SOURCES[term.code],
                sentence=f"{term.what}: {term.span}",
            )  # fmt: skip


RANGE_FORMULAS = {
    "weather": "electricity for rooms x a tenth: nine years in ten have degree days within a tenth of the mean",
    "rooms": "electricity for rooms x heating hours / 24 / degree days, which is what a kelvin is worth, x 1 K",
    "gains": "electricity for rooms x heating hours / 24 / degree days x kelvins of the base temperature; downwards at "
    "least as far as 5 W for each m2 of floor lift the house",
    "method": "electricity for rooms x (heat loss by the other method / heat loss - 1), reheat left out",
    "hot_water": "electricity for hot water x share of what is drawn in its heat x a third",
    "defrost": "electricity for rooms x share of the heat given between -7 and 5 °C x span",
    "curve": "electricity for rooms x (power for a unit of heat with hotter water / that of the curve - 1), in the "
    "weather in which most heat is given",
    "at_rest": "25 W x 8760 h / 1000",
    "hill": "electricity for rooms x heating hours / 24 / degree days x 0.6 K for each 100 m above the station",
}


# --- labour, bill, price ---------------------------------------------------------------------------------------------


def _labour(estimate: Estimate) -> Iterator[Entry]:
    plan = estimate.plan
    if plan is None:
        return
    source = labour_plan.SOURCE
    yield _entry(
        "labour_plan.person_hours",
        "sum of the tasks",
        [(f"{task.code}_person_hours", task.person_hours) for task in plan.tasks],
        source,
    )
    yield _entry(
        "labour_plan.days",
        "the fewest days in which the order of the tasks, their waiting times and the crew allow it",
        [("person_hours", plan.person_hours), ("crew", plan.crew), ("lower_bound_days", plan.lower_bound_days)],
        source,
        sentence=_said(labour_plan.WHY, plan),
    )
    for service in ("hot_water", "heating", "power", "cold_water"):
        windows = [window for window in plan.services if window.service == service]
        yield _entry(
            f"labour_plan.{service}_off_h",
            "from the task that switches it off to the one that brings it back, on the clock",
            [(f"day {window.off.day} {window.off.at} to day {window.on.day} {window.on.at}_h", window.clock_h)
             for window in windows],
            source,
        )  # fmt: skip
    rows = {row.task.code: row for row in estimate.rules.labour.of_task}
    for task in plan.tasks:
        yield _task(estimate, rows[task.code], task.person_hours)


def _task(estimate: Estimate, rows: RowsOfTask, person_hours: Decimal) -> Entry:
    """Hours of a task: fixed + driver x amount / per, times the factors that hold."""
    measured = estimate.take_off
    task = rows.task
    numbers: list[tuple[str, Any]] = [("fixed_person_h", task.fixed_person_h)]
    told = [f"{task.fixed_person_h:f} h fixed"] if task.fixed_person_h else []
    for hours in rows.hours:
        if not all(measured.flags[flag] is wanted for flag, wanted in hours.when):
            continue
        quantity = measured.quantities[hours.driver]
        each = f"{hours.amount:f}" if hours.per == 1 else f"{hours.amount:f} / {hours.per:f}"
        numbers += [(hours.driver, quantity.value), (f"{hours.driver}: amount_h", hours.amount),
                    (f"{hours.driver}: per", hours.per)]  # fmt: skip
        told.append(f"{take_off_bill.plain(quantity.value)} ({quantity.sentence}) x {each} h")
    factors = [factor for factor in rows.factors if measured.flags[factor.flag]]
    numbers += [(f"{factor.flag}: factor", factor.multiplier) for factor in factors]
    by = "".join(f", x {factor.multiplier:f} ({factor.flag.replace('_', ' ')})" for factor in factors)
    total = take_off_bill.plain(person_hours)
    return _entry(
        f"labour_plan.tasks.{task.code}.person_hours",
        "(fixed + sum of quantity x amount / per) x factors",
        [*numbers, ("person_hours", person_hours)],
        labour_plan.SOURCE,
        sentence=f"{task.name}: {' + '.join(told) or 'no hours'}{by} = {total} person-hours",
    )


def _bill(estimate: Money) -> Iterator[Entry]:
    bill = estimate.bill
    if bill is None:
        return
    margins = estimate.rules.rates.margin_ratio_by_class
    for line in bill.lines:
        at, source = f"bill.lines.{line.line_id}", take_off_bill.SOURCE
        yield _entry(f"{at}.used", "what the recipes that name the part add up to", [("used", line.used)], source,
                     sentence=line.why)  # fmt: skip
        yield _entry(
            f"{at}.bought",
            "nothing from van stock, else whole packs",
            [("used", line.used), ("pack_size", line.pack_size), ("bought", line.bought)],
            source,
            sentence=line.why,
        )
        yield _entry(
            f"{at}.charged",
            "what was used where the part is charged by measure or comes off the van, else what was bought",
            [("used", line.used), ("bought", line.bought), ("charged", line.charged)],
            source,
            sentence=line.why,
        )
        margin = margins[line.margin_class] if line.cost_unit_gbp > 0 else Decimal(0)
        yield _entry(
            f"{at}.sell_pence",
            "charged x selling price of a unit, rounded once to whole pence",
            [("charged", line.charged), ("unit_sell_gbp", line.unit_sell_gbp), ("sell_pence", line.sell_pence)],
            PRICE_LIST,
            cost_why={
                "formula": "selling price of a unit = cost of a unit / (1 - margin), to four places",
                "numbers": [_number("cost_unit_gbp", line.cost_unit_gbp), _number("margin_ratio", margin)],
            },
        )
        yield _entry(
            f"{at}.cost_pence",
            "charged x cost of a unit, rounded once to whole pence",
            [("charged", line.charged), ("cost_unit_gbp", line.cost_unit_gbp), ("cost_pence", line.cost_pence)],
            PRICE_LIST,
        )


def _price(estimate: Money) -> Iterator[Entry]:
    price, bill = estimate.price, estimate.bill
    if price is None or price.partial or bill is None:
        return
    source = pricing.SOURCE
    yield _entry(
        "price.goods_sell_pence",
        "sum of the lines of the bill",
        [("lines", len(bill.lines)), ("goods_sell_pence", price.goods_sell_pence)],
        source,
    )
    for part in price.parts:
        yield _entry(
            f"price.parts.{part.code}.sell_pence",
            "quantity x selling price of a unit, rounded once to whole pence",
            [("quantity", part.quantity), ("unit_sell_gbp", part.unit_sell_gbp), ("sell_pence", part.sell_pence)],
            source,
            sentence=f"{part.description}: {part.why}",
            cost_why={
                "formula": part.cost_why or "passed on as it is",
                "numbers": [_number("cost_unit_gbp", part.cost_unit_gbp), _number("cost_pence", part.cost_pence)],
            },
        )
    parts = [(f"{part.code}: sell_pence", part.sell_pence) for part in price.parts]
    vat = [(f"{stage.name}: vat_pence", stage.vat_pence) for stage in price.stages]
    for line in price.vat:
        alike = sum(other.vat_class == line.vat_class for other in price.vat)
        its_rate = "" if alike == 1 else f"~{take_off_bill.plain(line.rate_ratio)}"
        yield _entry(
            f"price.vat.{line.vat_class}{its_rate}.vat_pence",
            "of each stage of payment, its net of this class x the rate at its tax point, rounded once; summed",
            [("net_pence", line.net_pence), ("rate_ratio", line.rate_ratio), ("vat_pence", line.vat_pence)],
            Source(line.source),
        )
    grant = Source(price.grant.source) if price.grant is not None and price.grant.source else source
    for figure, formula, numbers, its in (
        ("net_pence", "goods + labour and the other parts", [("goods_sell_pence", price.goods_sell_pence), *parts],
         source),
        ("vat_pence", "sum of the VAT of the stages, each at its own tax point", vat, source),
        ("total_pence", "net + VAT", _of(price, "net_pence", "vat_pence"), source),
        ("grant_pence", "the scheme's amount at the date, at most the price; it never lessens VAT",
         [("grant_pence", price.grant_pence)], grant),
        ("customer_pays_pence", "total - grant", _of(price, "total_pence", "grant_pence"), source),
    ):  # fmt: skip
        inputs = []
        if figure == "grant_pence":
            existing, house = estimate.survey.existing, estimate.survey.house
            inputs = [_input("fuel of today", existing, "fuel"), _input("on the gas grid", house, "on_gas_grid"),
                      _input("nation", house, "nation"), _input("tenure", house, "tenure")]  # fmt: skip
        yield _entry(
            f"price.{figure}",
            formula,
            [*numbers, (figure, getattr(price, figure))],
            its,
            sentence=price.why.get(figure, ""),
            inputs=inputs,
        )
    yield _entry(
        "price.margin_pence",
        "net - cost",
        [("net_pence", price.net_pence), ("cost_pence", price.cost_pence)],
        source,
    )
    yield _entry(
        "price.cost_pence",
        "goods at cost + the other parts at cost",
        [("goods_cost_pence", price.goods_cost_pence),
         *[(f"{part.code}: cost_pence", part.cost_pence) for part in price.parts]],
        source,
    )  # fmt: skip
    for stage in price.stages:
        at = f"price.stages.{stage.name}"
        yield _entry(
            f"{at}.total_pence",
            "the firm's share of what the customer pays, within the consumer code, + its VAT; the last takes the rest",
            _of(stage, "net_pence", "vat_pence", "total_pence", "grant_pence", "customer_pays_pence"),
            source,
            sentence=f"{stage.name}: {stage.due}",
        )
        yield _entry(
            f"{at}.vat_pence",
            "net of each class x the rate at the tax point of the stage, each rounded once",
            [
                pair
                for line in stage.vat
                for pair in (
                    (f"{line.vat_class}: net_pence", line.net_pence),
                    (f"{line.vat_class}: rate_ratio", line.rate_ratio),
                    (f"{line.vat_class}: vat_pence", line.vat_pence),
                )
            ],
            Source(stage.vat[0].source) if stage.vat else source,
            sentence=f"tax point {stage.tax_point_on:%d %B %Y}: {stage.trigger}",
        )
