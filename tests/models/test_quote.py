"""Numbers, the seal, the party apart, and differences in words."""

import copy
import hashlib
import json
from datetime import date
from typing import Any

import pytest

from models.document import COST_KEYS, estimate_document
from models.estimate import Choices, estimate
from models.quote import Sealed, difference, party_hash, revision_number, sealed, verify
from models.survey import Survey

PARTY = {"name": "A. Customer", "address": "1 Any Lane", "contact": "a@example.org"}


@pytest.fixture(scope="module")
def document(rules: Any, households: dict[str, Any]) -> dict[str, Any]:
    record = households["alder_row"]
    survey, choices = Survey.model_validate(record["survey"]), Choices.model_validate(record["choices"])
    return estimate_document(estimate(survey, choices, rules, today=date(2026, 11, 25)), why=True)


def test_revisions_of_a_number() -> None:
    assert [revision_number("2026-0417", place) for place in (1, 2, 3)] == ["2026-0417", "2026-0417-2", "2026-0417-3"]
    with pytest.raises(ValueError, match="from 1"):
        revision_number("2026-0417", 0)


def test_a_quote_charges_the_hours_that_the_estimate_said(rules: Any, households: dict[str, Any]) -> None:
    for name in ("alder_row", "thornlea", "weir_cottages"):
        record = households[name]
        survey, choices = Survey.model_validate(record["survey"]), Choices.model_validate(record["choices"])
        said, quoted = (
            estimate(survey, choices, rules, today=date(2026, 11, 25), effort=effort) for effort in ("live", "thorough")
        )
        assert said.plan is not None and quoted.plan is not None and said.plan.days == quoted.plan.days
        assert said.price is not None and quoted.price is not None
        # the thorough plan puts the same work elsewhere in the same days; a night less without heating needs no heaters
        hours = [
            {part.code: part.quantity for part in price.parts if part.code.startswith("labour_")}
            for price in (said.price, quoted.price)
        ]
        assert hours[0] == hours[1]
        assert quoted.price.total_pence is not None and said.price.total_pence is not None
        assert quoted.price.total_pence <= said.price.total_pence


def keys_of(node: Any) -> set[str]:
    if isinstance(node, dict):
        return set(node) | {key for value in node.values() for key in keys_of(value)}
    return {key for value in node for key in keys_of(value)} if isinstance(node, list) else set()


def head() -> dict[str, str]:
    return {"number": "2026-0417", "party_hash": party_hash(salt="salt", **PARTY)}


def test_sealed_bytes_hold_the_sums_and_neither_cost_nor_label(document: dict[str, Any]) -> None:
    made = sealed(document, head())
    inside = json.loads(made.body)
    assert made.sha256 == hashlib.sha256(made.body).hexdigest()
    assert inside["price"]["total_pence"] == document["price"]["total_pence"]
    assert "label" not in inside and not keys_of(inside) & COST_KEYS
    assert sealed(document, head()) == made, "the same input gives the same bytes"


def test_a_seal_is_verified_before_and_after_the_party_is_erased(document: dict[str, Any]) -> None:
    made = sealed(document, head())
    blank = dict.fromkeys(PARTY, "")
    whole = verify(made.body, made.sha256, salt="salt", party=PARTY, erased=False)
    assert (whole.document_holds, whole.party_holds) == (True, True)
    erased = verify(made.body, made.sha256, salt="salt", party=blank, erased=True)
    assert (erased.document_holds, erased.party_holds) == (True, None)
    other = verify(made.body, made.sha256, salt="salt", party=PARTY | {"name": "B. Other"}, erased=False)
    assert (other.document_holds, other.party_holds) == (True, False)
    changed = Sealed(made.body.replace(b"2026-0417", b"2026-0418"), made.sha256)
    assert not verify(changed.body, changed.sha256, salt="salt", party=PARTY, erased=False).document_holds


def test_a_document_does_not_differ_from_itself(document: dict[str, Any]) -> None:
    assert difference(document, copy.deepcopy(document)) == ()


def test_differences_in_words(document: dict[str, Any]) -> None:
    after = copy.deepcopy(document)
    room, gone = after["design"]["rooms"][0], after["design"]["rooms"].pop()
    was_w = f"{room['heat_loss_w']:,.0f} W"
    room["heat_loss_w"] += 250
    after["design"]["outdoor_unit"] |= {"name": "Another unit"}
    days = after["labour_plan"]["days"]
    after["labour_plan"]["days"] = days + 1
    first, second, third = after["bill"]["lines"][:3]
    first["charged"] = "7.500"
    price_before = second["unit_sell_gbp"]
    second["unit_sell_gbp"] = "99.9000"
    after["bill"]["lines"].remove(third)
    after["price"]["total_pence"] += 12_345
    said = {change.sentence: change.about for change in difference(document, after)}
    unit = document["design"]["outdoor_unit"]["name"]
    total = document["price"]["total_pence"]
    before_words = document["bill"]["lines"][0]["charged"].rstrip("0").rstrip(".")
    expected = {
        f"Outdoor unit: Another unit instead of {unit}": "unit",
        f"{gone['name']}: no longer there (was {gone['heat_loss_w']:,.0f} W)": "rooms",
        f"{room['name']}, heat loss: {room['heat_loss_w']:,.0f} W instead of {was_w}": "rooms",
        f"Days on site: {days + 1} days instead of {days} days": "days",
        f"{first['description']}: 7.5 instead of {before_words}": "quantities",
        f"Full price: £{(total + 12_345) / 100:,.2f} instead of £{total / 100:,.2f}": "total",
    }
    assert expected.items() <= said.items()
    changed = [sentence for sentence, about in said.items() if about == "prices"]
    assert len(changed) == 1 and changed[0].startswith(f"{second['description']}: £99.90 ")
    assert price_before.rstrip("0") in changed[0]
    assert [s for s, about in said.items() if about == "quantities" and s.startswith(third["description"])]


def test_what_a_draft_without_a_price_lacks_is_not_said_to_be_gone(document: dict[str, Any]) -> None:
    after = copy.deepcopy(document) | {"price": None}
    total = f"£{document['price']['total_pence'] / 100:,.2f}"
    assert [change.sentence for change in difference(document, after)] == [
        f"Full price: none, since a stop stands against it (was {total})"
    ]


def test_places_dates_and_units_are_said_as_people_say_them(document: dict[str, Any]) -> None:
    before, after = copy.deepcopy(document), copy.deepcopy(document)
    for one, place, day in ((before, "p1", "2026-03-02"), (after, "p2", "2026-03-09")):
        names = [{"position_id": "p1", "name": "front"}, {"position_id": "p2", "name": "back garden"}]
        one["design"] |= {"position_id": place, "positions": names}
        one["labour_plan"]["dates"] = [day]
    by_unit = {line["unit"]: line for line in after["bill"]["lines"]}
    by_unit["m3"]["charged"], by_unit["bag"]["charged"], by_unit["bag"]["unit_sell_gbp"] = "9.250", "2.000", "1.0000"
    said = [change.sentence for change in difference(before, after)]
    assert "Place of the unit: back garden instead of front" in said
    assert "First day: 9 March 2026 instead of 2 March 2026" in said
    assert any(": 9.25 m³ instead of " in one for one in said) and any(": 2 bags instead of " in one for one in said)
    assert any("£1.00 a bag instead of " in one for one in said)
