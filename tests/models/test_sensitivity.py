"""What the assumed values move: by hand arithmetic on a small house, and by single estimates."""

import copy
from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from models.document import estimate_document, without_cost
from models.estimate import Choices, Estimate, estimate
from models.sensitivity import MOST_VARIATIONS, SPANS, sensitivity
from models.survey import Survey
from models.survey.known import assumed_values, assumed_with_paths

TODAY = date(2026, 11, 25)


def _worked_out(record: dict[str, Any], rules: Any, **choices: Any) -> Estimate:
    return estimate(Survey.model_validate(record), Choices(**choices), rules, today=TODAY)


def _only(record: dict[str, Any], field: str, rules: Any, **choices: Any) -> Any:
    found = sensitivity(_worked_out(record, rules, **choices), most_movers=None)
    return next(mover for mover in found.movers if mover.field == field)


def test_air_changes_move_the_loss_by_their_share(households: dict[str, Any], rules: Any) -> None:
    # All rooms' air changes are assumed: 30 % more of them is 30 % more of the ventilation loss, whatever the rest.
    for name in ("thornlea", "alder_row", "weir_cottages"):
        base = _worked_out(households[name]["survey"], rules)
        mover = _only(households[name]["survey"], "air_changes_per_h", rules)
        less, more = mover.swings
        assert more.heat_loss_change_w == pytest.approx(0.3 * base.design.heat_loss.ventilation_w)
        assert less.heat_loss_change_w == pytest.approx(-0.3 * base.design.heat_loss.ventilation_w)
        assert len(mover.places) == len(base.survey.rooms)


def test_a_u_value_by_hand(households: dict[str, Any], rules: Any) -> None:
    # The smallest survey: 20 % of U on everything that is built so: 0.2 x sum of area x U x factor x difference.
    base = _worked_out(households["smallest"]["survey"], rules)
    its = base.design.u_values
    assumed = {one for one, value in its.items() if value.assumed}
    rooms = {room.room_id: room for room in base.design.heat_loss.rooms}
    outdoor_c = base.design.climate.design_outdoor_temp_c
    by_hand_w = 0.0
    for room in base.survey.rooms:
        lines = {line.element_id: line for line in rooms[room.id].elements}
        for element in room.elements:
            if element.construction in assumed:
                line = lines[element.id]
                difference_k = (rooms[room.id].room_temp_c - outdoor_c) * line.temperature_factor_ratio
                by_hand_w += 0.2 * line.area_m2 * line.u_w_per_m2k * difference_k
    less, more = _only(households["smallest"]["survey"], "u_w_per_m2k", rules).swings
    assert more.heat_loss_change_w == pytest.approx(by_hand_w)
    assert less.heat_loss_change_w == pytest.approx(-by_hand_w)


def test_next_door_is_what_the_heat_loss_says(households: dict[str, Any], rules: Any) -> None:
    base = _worked_out(households["alder_row"]["survey"], rules)
    loss = base.design.heat_loss
    (swing,) = _only(households["alder_row"]["survey"], "party_wall_policy", rules).swings
    assert swing.to == "at 10 °C"
    assert swing.heat_loss_change_w == pytest.approx(loss.neighbour_at_10_w - loss.neighbour_heated_w)


def test_the_price_is_that_of_the_other_estimate(households: dict[str, Any], rules: Any) -> None:
    base = _worked_out(households["alder_row"]["survey"], rules)
    mover = _only(households["alder_row"]["survey"], "party_wall_policy", rules)
    reference = rules.reference
    at_10 = replace(
        rules, reference=replace(reference, defaults=replace(reference.defaults, party_wall_policy="neighbour_at_10"))
    )
    held = Choices(flow_temp_c=base.design.flow.flow_temp_c)
    other = estimate(base.survey, held, at_10, today=TODAY)
    assert mover.swings[0].price_change_pence == other.price.customer_pays_pence - base.price.customer_pays_pence
    assert mover.swings[0].unit_sku == other.design.unit.unit.sku
    assert "heat loss +" in mover.sentence and "heated like the room" in mover.sentence


def test_a_change_of_unit_comes_first(households: dict[str, Any], rules: Any) -> None:
    # Offered are only two units: one a hair above the heat loss, one far above. 30 % more air then wants the other.
    record = households["thornlea"]["survey"]
    base = _worked_out(record, rules, flow_temp_c=50)
    loss_w = base.design.heat_loss.heat_loss_w
    offers = [offer for offer in rules.offers.outdoor_units if offer.item.sku == base.design.unit.unit.sku]
    offer = offers[0]
    scale = loss_w * 1.01 / base.design.unit.capacity_w

    def sized(by: float, sku: str) -> Any:
        ratings = tuple(point.model_copy(update={"output_w": point.output_w * by}) for point in offer.item.ratings)
        return replace(offer, item=offer.item.model_copy(update={"ratings": ratings, "sku": sku}))

    big = next(one.item.sku for one in rules.offers.outdoor_units if one.item.sku != offer.item.sku)
    two = (sized(scale, offer.item.sku), sized(scale * 1.5, big))
    tight = replace(rules, offers=replace(rules.offers, outdoor_units=two))
    found = sensitivity(_worked_out(record, tight, flow_temp_c=50))
    first = found.movers[0]
    assert any(swing.unit_changes and swing.unit_sku == big for swing in first.swings)
    assert f"unit {big}" in first.sentence


def test_three_movers_at_most_40_variations_and_everything_accounted_for(
    households: dict[str, Any], rules: Any
) -> None:
    for name, record in households.items():
        survey = Survey.model_validate(record["survey"])
        found = sensitivity(_worked_out(record["survey"], rules), most_movers=None)
        assert found.variations <= MOST_VARIATIONS
        told = {mover.field for mover in (*found.movers, *found.could_stop)}
        told |= set(found.without_effect) | {field for field, _ in found.not_varied}
        assert {one.field for one in assumed_with_paths(survey)} <= told, name
        top = sensitivity(_worked_out(record["survey"], rules))
        assert top.movers == found.movers[:3]


def test_a_value_that_could_stop_the_job_is_named(households: dict[str, Any], rules: Any) -> None:
    # A floor under the cylinder that bears 200 kg holds no full cylinder of 200 L and more (1 kg a litre, and its own).
    found = sensitivity(_worked_out(households["thornlea"]["survey"], rules), most_movers=None)
    floor = next(mover for mover in found.could_stop if mover.field == "floor_limit_kg")
    weak = next(swing for swing in floor.swings if swing.to == "200 kg")
    assert weak.new_stops == ("cylinder_does_not_fit",)
    assert weak.price_change_pence is None


def test_nothing_assumed_nothing_moves(households: dict[str, Any], rules: Any) -> None:
    record = copy.deepcopy(households["weir_cottages"]["survey"])
    for room in record["rooms"]:
        room["known"] = {"air_changes_per_h": "measured"}
        room["elements"] = [element for element in room["elements"] if element["faces"] != "neighbour"]
    found = sensitivity(_worked_out(record, rules), most_movers=None)
    assert [mover.field for mover in found.movers if mover.field == "air_changes_per_h"] == []
    assert [mover.field for mover in found.movers if mover.field == "party_wall_policy"] == []


def test_a_table_row_that_was_assumed_is_varied_by_its_u_value(households: dict[str, Any], rules: Any) -> None:
    record = copy.deepcopy(households["thornlea"]["survey"])
    wall = next(one for one in record["constructions"] if one["id"] == "brick-wall")
    wall["known"] = {"row": "assumed"}
    base = _worked_out(record, rules)
    lines = [
        (room, line) for room in base.design.heat_loss.rooms for line in room.elements
        if line.u_w_per_m2k == base.design.u_values["brick-wall"].u_w_per_m2k and line.faces == "outside"
        and line.kind == "wall"
    ]  # fmt: skip
    outdoor_c = base.design.climate.design_outdoor_temp_c
    by_hand_w = sum(0.2 * line.area_m2 * line.u_w_per_m2k * (room.room_temp_c - outdoor_c) for room, line in lines)
    less, more = _only(record, "row", rules).swings
    assert more.heat_loss_change_w == pytest.approx(by_hand_w)
    assert less.heat_loss_change_w == pytest.approx(-by_hand_w)


def test_paths_lead_to_the_values(households: dict[str, Any]) -> None:
    for record in households.values():
        survey = Survey.model_validate(record["survey"])
        named = []
        for one in assumed_with_paths(survey):
            node: Any = survey
            for step in one.path:
                node = getattr(node, step) if isinstance(step, str) else node[step]
            assert node == one.value
            named.append(f"{one.place or 'survey'}: {one.field}")
        assert tuple(named) == assumed_values(survey)


def test_every_span_is_of_a_field_that_the_survey_has() -> None:
    fields: set[str] = set()
    for definition in Survey.model_json_schema()["$defs"].values():
        fields |= set(definition.get("properties", {}))
    assert set(SPANS) - fields == {"party_wall_policy"}


def test_it_stands_in_the_document_where_asked_for(households: dict[str, Any], rules: Any) -> None:
    base = _worked_out(households["weir_cottages"]["survey"], rules)
    assert "sensitivity" not in estimate_document(base)
    shown = without_cost(estimate_document(base, sensitivity=True))["sensitivity"]
    assert shown["source"] == "common practice, no source"
    assert len(shown["movers"]) <= 3
    assert {"field", "what", "places", "taken", "swings", "sentence"} == set(shown["movers"][0])
    assert "price_change_pence" in shown["movers"][0]["swings"][0]
