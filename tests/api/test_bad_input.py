"""What bad input gets: refused in the surveyor's words, or worked out with a *stop* and no plausible figure."""

import copy
import json
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from starlette.testclient import TestClient

ESTIMATES = "/api/v1/estimates"
JSON = {"Content-Type": "application/json"}
Change = Callable[[dict[str, Any]], object]


def lounge(body: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = next(room for room in body["survey"]["rooms"] if room["name"] == "Lounge")
    return found


def in_lounge(**values: Any) -> Change:
    return lambda body: lounge(body).update(values)


def of_wall(**values: Any) -> Change:
    return lambda body: lounge(body)["elements"][0].update(values)


def of_window(**values: Any) -> Change:
    def change(body: dict[str, Any]) -> None:
        for element in lounge(body)["elements"]:
            if element["kind"] == "window":
                element.update(values)

    return change


def with_element(**values: Any) -> Change:
    element = {"id": "new", "kind": "wall", "faces": "outside", "construction": "partition", "area_m2": 4.0, **values}
    return lambda body: lounge(body)["elements"].append(element)


def with_construction(**values: Any) -> Change:
    return lambda body: body["survey"]["constructions"].append({"id": "new", "name": "New wall", **values})


def chosen(**values: Any) -> Change:
    return lambda body: body["choices"].update(values)


# What is changed, then what the answer must name: where, field, value, and words on what would be right.
REFUSED: dict[str, tuple[Change, str, str, Any, str]] = {
    "zero length": (in_lounge(length_m=0), "room 'Lounge'", "length_m", 0, "metres, 0.001 to"),
    "negative width": (in_lounge(width_m=-3.2), "room 'Lounge'", "width_m", -3.2, "metres, 0.001 to"),
    "zero wall": (of_wall(length_m=0), "room 'Lounge', wall 'outer-wall'", "length_m", 0, "0.001 to"),
    "a length that is true": (in_lounge(length_m=True), "room 'Lounge'", "length_m", True, "metres, 0.001 to"),
    "a choice that is true": (chosen(flow_temp_c=True), "the choices", "flow_temp_c", True, "degrees C, 30 to 65"),
    "negative wall": (of_wall(height_m=-1), "room 'Lounge', wall 'outer-wall'", "height_m", -1, "0.001 to"),
    "negative area": (with_element(area_m2=-4), "room 'Lounge', wall 'new'", "area_m2", -4, "square metres"),
    "window larger than its wall": (
        of_window(length_m=20), "room 'Lounge'", "area_m2", 26.0, "openings smaller than what they are cut from",
    ),
    "height in centimetres": (in_lounge(height_m=240), "room 'Lounge'", "height_m", 240, "metres, more than 0.3"),
    "NaN": (in_lounge(height_m=float("nan")), "room 'Lounge'", "height_m", "nan", "metres"),
    "infinity": (in_lounge(height_m=float("inf")), "room 'Lounge'", "height_m", "inf", "metres"),
    "text for a number": (in_lounge(height_m="high"), "room 'Lounge'", "height_m", "high", "metres"),
    "unknown key of a room": (in_lounge(ceiling_m=3), "room 'Lounge'", "ceiling_m", 3, "height_m"),
    "unknown key of the house": (
        lambda body: body["survey"]["house"].update(county="X"), "the house", "county", "X", "nation",
    ),
    "unknown key of a survey": (lambda body: body["survey"].update(owner="X"), "the survey", "owner", "X", "label"),
    "unknown key beside the survey": (lambda body: body.update(title="X"), "the request", "title", "X", "survey"),
    "two rooms of one name": (
        in_lounge(name=" HALL "), "room 'Hall'", "name", "Hall", "a name that no other room has",
    ),
    "wall next to a room that does not exist": (
        with_element(faces="room", beside_room="attic"), "room 'Lounge'", "beside_room", "attic", "another room",
    ),
    "wall of a construction that is not listed": (
        with_element(construction="straw"), "room 'Lounge'", "construction", "straw", "one of the constructions",
    ),
    "no rooms": (lambda body: body["survey"].update(rooms=[]), "the survey", "rooms", "[]", "at least one room"),
    "rooms left out": (lambda body: body["survey"].pop("rooms"), "the survey", "rooms", None, "a list"),
    "unknown kind of wall": (
        with_construction(by="table", table="wall_by_age", row="straw"),
        "construction 'New wall'", "row", "straw", "solid_brick",
    ),
    "stone wall without thickness": (
        with_construction(by="table", table="stone_by_thickness", row="granite_or_whinstone"),
        "construction 'New wall'", "thickness_mm", None, "millimetres",
    ),
    "known of a field that is not there": (
        in_lounge(known={"lenght_m": "assumed"}), "room 'Lounge'", "known",
        "{'lenght_m': 'assumed'}", "",
    ),
    "unknown weather station": (
        lambda body: body["survey"]["house"].update(weather_station="Atlantis"),
        "the house", "weather_station", "Atlantis", "Birmingham",
    ),
    "unknown outdoor unit": (
        chosen(outdoor_unit_sku="UNT-999"), "the choices", "outdoor_unit_sku", "UNT-999", "one of UNT-",
    ),
    "unknown position": (chosen(position_id="roof"), "the choices", "position_id", "roof", "patio"),
    "unknown extra": (chosen(extras=["pool"]), "the choices", "extras", "pool", "one of"),
    "flow hotter than any unit": (chosen(flow_temp_c=90), "the choices", "flow_temp_c", 90, "degrees C, 30 to 65"),
    "priced before the first list": (
        chosen(priced_on="2020-01-01"), "the choices", "priced_on", "2020-01-01", "a day from",
    ),
    "priced when calendars end": (
        chosen(priced_on="9999-12-31"), "the choices", "priced_on", "9999-12-31", "a day before 2100-01-01",
    ),
    "works before the tax law that is known": (
        chosen(works_start_on="2001-12-31"), "the choices", "works_start_on", "2001-12-31", "a day from 20",
    ),
    "grant before there was one": (
        chosen(grant_applied_on="2001-12-31"), "the choices", "grant_applied_on", "2001-12-31", "a day from 20",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_refused_with_room_field_value_and_what_would_be_right(
    client: TestClient, household: dict[str, Any], case: str
) -> None:
    change, where, field, value, right = REFUSED[case]
    change(household)
    answer = client.post(ESTIMATES, content=json.dumps(household), headers=JSON)
    assert answer.status_code == 422, answer.text[:500]
    assert answer.headers["content-type"] == "application/problem+json"
    problem = answer.json()
    faults = [one for one in problem["errors"] if (one["where"], one["field"], one["value"]) == (where, field, value)]
    assert faults, problem["errors"]
    assert right in faults[0]["expected"]
    assert field in faults[0]["message"] or str(value).casefold() in faults[0]["message"].casefold()
    first = problem["errors"][0]
    assert problem["detail"].removesuffix(" (and 1 more)") == f"{first['where']}: {first['message']}"
    assert not first["message"].startswith(first["where"]), "the place is said once"


def test_centimetres_are_recognised(client: TestClient, household: dict[str, Any]) -> None:
    in_lounge(height_m=240)(household)
    assert "looks like centimetres" in client.post(ESTIMATES, json=household).json()["detail"]


def test_every_fault_is_listed_not_only_the_first(client: TestClient, household: dict[str, Any]) -> None:
    in_lounge(length_m=0, width_m=-1, height_m=240)(household)
    problem = client.post(ESTIMATES, json=household).json()
    assert {one["field"] for one in problem["errors"]} == {"length_m", "width_m", "height_m"}
    assert problem["detail"].endswith("(and 2 more)")


@pytest.mark.parametrize(
    "raw", [b"", b" ", b"{", b'{"survey": ', b"\xff\xfe", b"[" * 100_000, b'{"survey": NaN', b"{} {}"]
)
def test_what_is_not_json_is_said_to_be_so(client: TestClient, raw: bytes) -> None:
    answer = client.post(ESTIMATES, content=raw, headers=JSON)
    assert answer.status_code == 422
    assert answer.json()["type"] == "/problems/not_json"


@pytest.mark.parametrize("raw", [b"[]", b"null", b'"survey"', b"1", b"{}", b'{"survey": []}', b'{"survey": null}'])
def test_json_of_the_wrong_shape_is_refused(client: TestClient, raw: bytes) -> None:
    answer = client.post(ESTIMATES, content=raw, headers=JSON)
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["expected"] == "an object"


def test_another_media_type_is_refused(client: TestClient) -> None:
    assert client.post(ESTIMATES, content=b"a=1", headers={"Content-Type": "text/plain"}).status_code == 415


# --- what is fine ---


def test_a_thousand_rooms_are_fine(client: TestClient, household: dict[str, Any]) -> None:
    room = {"use": "bedroom", "length_m": 4, "width_m": 3, "height_m": 2.4}
    wall = {"id": "wall", "kind": "wall", "faces": "outside", "construction": "cavity-wall", "area_m2": 9}
    household["survey"]["rooms"] = [
        {**room, "id": f"R{n}", "name": f"Room {n}", "elements": [wall]} for n in range(1000)
    ]
    household["survey"]["cylinder_place"] = None
    answer = client.post(ESTIMATES, json=household)
    assert answer.status_code == 200
    assert len(answer.json()["design"]["rooms"]) == 1000


@pytest.mark.parametrize("name", ["غرفة الجلوس", "🛋️ lounge", "客厅", "Łazienka", "a" * 120, "<b>'\"&\\"])
def test_names_in_any_script_are_fine_and_come_back(client: TestClient, household: dict[str, Any], name: str) -> None:
    in_lounge(name=name)(household)
    answer = client.post(ESTIMATES, json=household)
    assert answer.status_code == 200
    assert name in [room["name"] for room in answer.json()["design"]["rooms"]]


# --- too large ---

TWELVE_MB = 12_000_000


def test_twelve_megabytes_with_their_length_are_too_large(client: TestClient) -> None:
    answer = client.post(ESTIMATES, content=b'{"survey": "' + b"a" * TWELVE_MB + b'"}', headers=JSON)
    assert answer.status_code == 413
    assert answer.json()["type"] == "/problems/too_large"


def test_twelve_megabytes_without_their_length_are_too_large(client: TestClient) -> None:
    def pieces() -> Iterator[bytes]:
        yield b'{"survey": "'
        for _ in range(12):
            yield b"a" * (TWELVE_MB // 12)
        yield b'"}'

    answer = client.post(ESTIMATES, content=pieces(), headers=JSON)
    assert "content-length" not in answer.request.headers
    assert answer.status_code == 413
    assert answer.json()["type"] == "/problems/too_large"


def test_twelve_megabytes_saved_as_a_survey_are_too_large(client: TestClient, job_id: str) -> None:
    answer = client.put(f"/api/v1/jobs/{job_id}/survey", content=b" " * TWELVE_MB + b"{}", headers=JSON)
    assert answer.status_code == 413


# --- a stop, and no plausible figure in its place ---


def stops(document: dict[str, Any]) -> set[str]:
    return {one["code"] for one in document["findings"] if one["strength"] == "stop"}


def worked_out(client: TestClient, body: dict[str, Any]) -> dict[str, Any]:
    answer = client.post(ESTIMATES, json=body)
    assert answer.status_code == 200, answer.text[:500]
    document: dict[str, Any] = answer.json()
    assert stops(document)
    price = document["price"]
    assert price is None or {price[name] for name in ("net_pence", "total_pence", "customer_pays_pence")} == {None}
    return document


def test_a_house_too_big_for_every_unit_has_none(client: TestClient, household: dict[str, Any]) -> None:
    for room in household["survey"]["rooms"]:
        room.update(length_m=40, width_m=40, height_m=6, air_changes_per_h=3)
    document = worked_out(client, household)
    assert document["design"]["outdoor_unit"] is None
    assert document["labour_plan"] is None
    assert document["bill"] is None


def test_a_cylinder_that_fits_nowhere_is_none(client: TestClient, household: dict[str, Any]) -> None:
    household["survey"]["cylinder_place"].update(width_mm=300, depth_mm=300, height_mm=700)
    document = worked_out(client, household)
    assert document["design"]["cylinder"] is None
    assert document["bill"] is None


def test_a_neighbours_window_at_one_metre_stops_the_price(client: TestClient, household: dict[str, Any]) -> None:
    window = {"name": "next door", "distance_m": 1.0, "height_m": 1.0, "view": "in_sight"}
    for position in household["survey"]["positions"]:
        position["windows"] = [copy.deepcopy(window)]
    document = worked_out(client, household)
    assert document["design"]["noise"][0]["passes"] is False
    assert document["price"]["total_pence"] is None
    assert document["bill"]["sell_pence"] is None


def test_what_may_not_be_included_is_refused(client: TestClient, household: dict[str, Any]) -> None:
    # A comma between two words, or a plural: neither may be answered as if nothing had been asked.
    for asked in ("why,days", "whys", ""):
        answer = client.post(f"{ESTIMATES}?include={asked}", json=household)
        assert answer.status_code == 422 and "include" in answer.json()["detail"], asked


def test_the_path_of_a_choice_is_its_place_in_the_body(client: TestClient, household: dict[str, Any]) -> None:
    for choice in ({"outdoor_unit_sku": "UNT-999"}, {"flow_temp_c": 90}, {"priced_on": "2020-01-01"}):
        (field,) = choice
        answer = client.post(ESTIMATES, json={"survey": household["survey"], "choices": choice})
        assert [fault["path"] for fault in answer.json()["errors"]] == [f"choices.{field}"]
