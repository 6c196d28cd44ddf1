"""The quote as text: nothing too wide, the full price before the grant, stops first, figures as people read them."""

from datetime import date
from typing import Any

import pytest

from api.render.sentences import base_words, emitter_words
from api.render.wording import pounds, quantity
from api.store.seed_files import demo_households, rules_from_folder
from models.document import estimate_document
from models.estimate import Choices, estimate
from models.survey import Survey
from web.terminal import terminal_text


@pytest.mark.parametrize("width", [40, 56, 72, 80, 100])
def test_no_line_is_wider_than_the_terminal(document: dict[str, Any], width: int) -> None:
    text = terminal_text(document, width)
    assert max(len(line) for line in text.splitlines()) <= width


def test_full_price_stands_before_the_price_after_grant(document: dict[str, Any]) -> None:
    text = terminal_text(document, 100)
    assert text.index("£12,345.67") < text.index("£7,500.00") < text.index("£4,845.67")


def test_stops_stand_first_and_notes_after_the_bill(document: dict[str, Any]) -> None:
    text = terminal_text(document, 100)
    assert text.index("no cylinder fits") < text.index("the service is looped") < text.index("Heat loss")
    assert text.index("Copper tube 28 mm") < text.index("it cycles 900 h a year")


def test_used_and_charged_are_both_said_where_they_differ(document: dict[str, Any]) -> None:
    assert "14.4 used, 15 each charged" in terminal_text(document, 100)


def test_no_price_is_said_and_no_figure_invented(document: dict[str, Any]) -> None:
    keys = ("net_pence", "vat_pence", "total_pence", "grant_pence", "customer_pays_pence")
    document["price"] |= dict.fromkeys(keys, None)
    tail = terminal_text(document, 80).split("Price\n")[1]
    assert "No price" in tail and "£" not in tail


def test_money_reads_in_pounds() -> None:
    assert [pounds(value) for value in (0, 5, 1234567, -750000, None)] == [
        "£0.00", "£0.05", "£12,345.67", "−£7,500.00", "not known",
    ]  # fmt: skip


def test_quantities_lose_needless_noughts() -> None:
    assert [quantity(value) for value in ("14.000", "0.250", 1200, None)] == ["14", "0.25", "1,200", "–"]


def test_names_cannot_steer_the_terminal(document: dict[str, Any]) -> None:
    document["label"] = "House\x1b[2J\u202e one"
    assert "\x1b" not in terminal_text(document, 80) and "\u202e" not in terminal_text(document, 80)


def test_what_must_be_there_before_the_first_day_stands_before_the_plan(document: dict[str, Any]) -> None:
    text = terminal_text(document, 100)
    assert text.index("Reply of the network operator: 45 days") < text.index("End of the time for cancelling: 14 days")
    assert text.index("Before day 1") < text.index("Day 1, Monday 13 April 2026") < text.index("Day 2, Tuesday")


def test_services_that_are_off_are_said_with_their_times(document: dict[str, Any]) -> None:
    text = terminal_text(document, 100)
    assert "Without heating      30.0 h: day 1, 10:33 to day 2, 16:30" in text
    assert "Without cold water   never" in text


def test_payments_and_what_stands_beside_the_price_are_printed() -> None:
    survey = Survey.model_validate(demo_households()[0]["survey"])
    day = date(2026, 11, 25)
    document = estimate_document(estimate(survey, Choices(), rules_from_folder(), today=day))
    text = terminal_text(document, 100)
    assert max(len(line) for line in text.splitlines()) <= 100
    price = document["price"]
    tail = text[text.index("\nPrice\n") :]
    for stage in price["stages"]:
        assert f"{stage['name']}, " in tail and pounds(stage["customer_pays_pence"]) in tail
    # VAT Notice 708/6, section 2: 0 % until 31 March 2027, 5 % from 1 April 2027.
    assert tail.count("VAT 0 % of") == len(price["stages"])
    assert "slip past 31 March 2027" in " ".join(tail.split())
    assert pounds(price["if_late"]["total_pence"]) in tail
    beside = " ".join(tail[tail.index("Not in the price: extras") :].split())
    for extra in price["extras"]:
        assert extra["description"].lower() in beside.lower() and pounds(extra["total_pence"]) in beside
    assert "Not in the price: what nobody can know yet" in beside
    assert f"if all of it comes up {pounds(price['total_with_provisional_pence'])}" in beside
    assert "Plaster and brickwork around our holes: we make good" in beside


def test_the_positions_stand_in_their_order_with_what_speaks_against_each() -> None:
    household = next(one for one in demo_households() if len(one["survey"].get("positions", ())) > 1)
    answer = estimate(
        Survey.model_validate(household["survey"]), Choices(), rules_from_folder(), today=date(2026, 11, 25)
    )
    document = estimate_document(answer)
    ranking = document["design"]["position_ranking"]
    text = " ".join(terminal_text(document, 100).split())
    places = [text.index(f"{one['rank']}. {one['name']}:") for one in ranking]
    assert len(places) > 1 and places == sorted(places)
    assert all(" ".join(said.split()) in text for one in ranking for said in (*one["stopped_by"], *one["to_accept"]))


def test_the_heat_loss_stands_beside_what_an_engineer_compares_it_with() -> None:
    (record,) = [one for one in demo_households() if one["survey"]["label"].startswith("Alder Row")]
    survey = Survey.model_validate(record["survey"])
    answer = estimate(survey, Choices(heat_loss_method="standard"), rules_from_folder(), today=date(2026, 11, 25))
    loss = answer.design.heat_loss
    text = " ".join(terminal_text(estimate_document(answer), 100).split())
    for other in loss.other_methods:
        assert f"{other.heat_loss_w:,.0f} W, " in text
    assert f"{loss.neighbour_heated_w:,.0f} W with next door heated, {loss.neighbour_at_10_w:,.0f} W with it" in text
    assert loss.rooms_ventilation_w > loss.ventilation_w
    assert f"{loss.ventilation_w:,.0f} W for the house, {loss.rooms_ventilation_w:,.0f} W by rooms" in text
    governing = next(room.name for room in loss.rooms if room.room_id == answer.design.emitters.governing_room_id)
    assert f"Hottest water for {governing}" in text


def test_what_falls_short_is_said_with_what_is_hung_there() -> None:
    step = {"action": "swap", "description": "Panel radiator T22 600 x 800"}
    room = {"emitter_action": "short", "emitter_steps": [step]}
    assert emitter_words(room) == "too little even with Panel radiator T22 600 x 800: see the findings"
    assert emitter_words({"emitter_action": "short"}) == "too little: see the findings"
    base = {"type": "rapid_slab", "length_m": 1.42, "width_m": 0.72, "thickness_m": 0.15, "reason": "quick"}
    assert base_words({"base": base}) == "slab of rapid-setting concrete, 1.42 × 0.72 m, 150 mm thick. Quick"
