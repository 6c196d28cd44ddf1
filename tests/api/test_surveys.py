"""The survey by parts: half-typed parts are kept, versions clash instead of overwriting, repeats change nothing."""

import json
import threading
from collections.abc import Callable
from typing import Any

import pytest
from starlette.testclient import TestClient

ROOM = {"id": "R1", "name": "Study", "use": "study", "length_m": 3.2, "width_m": 2.4, "height_m": 2.4}


def room_at(job_id: str, room_id: str = "R1") -> str:
    return f"/api/v1/jobs/{job_id}/survey/rooms/{room_id}"


# --- half-typed is fine, wrongly typed is not ---

HALF_TYPED: dict[str, dict[str, Any]] = {
    "nothing yet": {},
    "only a name": {"name": "Lounge"},
    "no height": {"name": "Lounge", "use": "living", "length_m": 4},
    "nulls where nothing was typed": {"name": "Lounge", "length_m": None, "elements": None},
    "an empty name": {"name": ""},
    "a height in centimetres": {**ROOM, "height_m": 240},
    "a negative length": {**ROOM, "length_m": -3},
    "a wall without a size": {
        **ROOM, "elements": [{"id": "w", "kind": "wall", "faces": "outside", "construction": "unknown"}],
    },
    "a wall without anything": {**ROOM, "elements": [{}]},
    "beside a room that is not there yet": {
        **ROOM,
        "elements": [
            {"id": "w", "kind": "wall", "faces": "room", "beside_room": "R9", "construction": "c", "area_m2": 4}
        ],
    },
    "a window larger than its wall": {
        **ROOM,
        "elements": [
            {"id": "w", "kind": "wall", "faces": "outside", "construction": "c", "area_m2": 4},
            {"id": "x", "kind": "window", "faces": "outside", "construction": "c", "area_m2": 9, "within": "w"},
        ],
    },
}  # fmt: skip


@pytest.mark.parametrize("case", HALF_TYPED)
def test_a_half_typed_room_is_kept_with_findings(client: TestClient, job_id: str, case: str) -> None:
    body = {key: value for key, value in HALF_TYPED[case].items() if key != "id"}
    answer = client.put(room_at(job_id), json=body)
    assert answer.status_code == 201, answer.text
    assert answer.json()["findings"], "what is missing is said"
    assert all(one["strength"] == "ask" and one["message"] for one in answer.json()["findings"])
    kept = client.get(room_at(job_id)).json()
    assert kept == {"id": "R1"} | {
        key: value for key, value in body.items() if value is not None
    }, "what was typed comes back"


def test_a_complete_room_leaves_nothing_to_say(client: TestClient, job_id: str) -> None:
    assert client.put(room_at(job_id), json=ROOM).json()["findings"] == []


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"length_m": "three"}, "length_m"),
        ({"length_m": [3]}, "length_m"),
        ({"length_m": True}, "length_m"),
        ({"name": 7}, "name"),
        ({"use": "ballroom"}, "use"),
        ({"elements": "a wall"}, "elements"),
        ({"elements": [{"kind": "moat"}]}, "kind"),
        ({"ceiling_m": 2.4}, "ceiling_m"),
        ([], "the body"),
        ({"id": "R2"}, "id"),
    ],
)
def test_a_wrongly_typed_room_is_refused(client: TestClient, job_id: str, body: Any, field: str) -> None:
    answer = client.put(room_at(job_id), json=body)
    assert answer.status_code == 422, answer.text
    assert answer.json()["errors"][0]["field"] == field
    assert client.get(room_at(job_id)).status_code == 404, "nothing was kept"


def test_every_section_takes_nothing_yet_and_what_the_household_holds(
    client: TestClient, job_id: str, household: dict[str, Any]
) -> None:
    survey = household["survey"]
    for section in ("house", "existing", "hot_water", "cylinder_place", "supply", "tariffs"):
        address = f"/api/v1/jobs/{job_id}/survey/{section}"
        assert client.put(address, json={}).status_code == 201, section
        full = client.put(address, json=survey[section])
        assert full.status_code == 200, full.text
        assert full.json()["findings"] == [], section
        assert client.get(address).json() == survey[section]
    for section in ("constructions", "hazards", "photos"):
        address = f"/api/v1/jobs/{job_id}/survey/{section}"
        assert client.put(address, json=[]).status_code == 201, section
        assert client.put(address, json=survey.get(section, [])).status_code == 200, section
    assert client.put(f"/api/v1/jobs/{job_id}/survey/notes", json="a steep drive").status_code == 201


def test_a_survey_saved_in_parts_is_the_survey_saved_as_a_whole(
    client: TestClient, new_job: Callable[..., str], household: dict[str, Any]
) -> None:
    survey = household["survey"]
    whole, parts = new_job(client, survey=True), new_job(client)
    for key, value in survey.items():
        if key in ("rooms", "positions"):
            for one in value:
                address = f"/api/v1/jobs/{parts}/survey/{key}/{one['id']}"
                assert client.put(address, json=one).status_code == 201
        elif key not in ("label", "schema_version"):
            assert client.put(f"/api/v1/jobs/{parts}/survey/{key}", json=value).status_code == 201
    a, b = (client.get(f"/api/v1/jobs/{one}/survey").json() for one in (whole, parts))
    assert b["complete"] is True
    assert {**a["survey"], "label": ""} == {**b["survey"], "label": ""}
    one, other = (client.get(f"/api/v1/jobs/{job}/estimate").json() for job in (whole, parts))
    assert one["price"] == other["price"]
    sent = client.post("/api/v1/estimates", json={"survey": survey}).json()
    assert one["price"] == sent["price"], "stored or sent along, the answer is the same"


def test_an_incomplete_survey_has_no_estimate_but_says_what_is_missing(client: TestClient, job_id: str) -> None:
    client.put(room_at(job_id), json={"name": "Lounge"})
    for answer in (
        client.get(f"/api/v1/jobs/{job_id}/estimate"),
        client.post(f"/api/v1/jobs/{job_id}/estimate", json={}),
        client.post(f"/api/v1/jobs/{job_id}/quotes", json={}),
    ):
        assert answer.status_code == 422
        assert {("room 'Lounge'", "height_m"), ("the survey", "house")} <= {
            (one["where"], one["field"]) for one in answer.json()["errors"]
        }


# --- two phones on one survey ---


def test_the_second_save_with_an_old_etag_clashes_and_nothing_is_lost(client: TestClient, job_id: str) -> None:
    first = client.put(room_at(job_id), json=ROOM)
    both_read = first.headers["etag"]
    of_one = client.put(room_at(job_id), json={**ROOM, "length_m": 3.3}, headers={"If-Match": both_read})
    assert of_one.status_code == 200
    of_other = client.put(room_at(job_id), json={**ROOM, "height_m": 2.5}, headers={"If-Match": both_read})
    assert of_other.status_code == 412
    assert of_other.headers["content-type"] == "application/problem+json"
    assert of_other.headers["etag"] == of_one.headers["etag"], "it says which version stands"
    now = client.get(room_at(job_id))
    assert now.json() == {**ROOM, "length_m": 3.3}, "the first save stands untouched"
    assert now.headers["etag"] == of_one.headers["etag"]
    again = client.put(
        room_at(job_id), json={**now.json(), "height_m": 2.5}, headers={"If-Match": now.headers["etag"]}
    )
    assert again.status_code == 200
    assert client.get(room_at(job_id)).json() == {**ROOM, "length_m": 3.3, "height_m": 2.5}, "both changes are there"


def test_two_phones_in_different_rooms_do_not_clash(client: TestClient, job_id: str) -> None:
    tags = {name: client.put(room_at(job_id, name), json={"name": name}).headers["etag"] for name in ("R1", "R2")}
    for name in ("R1", "R2"):
        saved = client.put(room_at(job_id, name), json={"name": f"{name} b"}, headers={"If-Match": tags[name]})
        assert saved.status_code == 200


def test_the_whole_survey_clashes_with_a_room_saved_meanwhile(client: TestClient, surveyed_job_id: str) -> None:
    address = f"/api/v1/jobs/{surveyed_job_id}/survey"
    read = client.get(address)
    assert client.put(room_at(surveyed_job_id), json=ROOM).status_code == 201
    survey = read.json()["survey"]
    survey["house"]["bedrooms"] = 4
    old = client.put(address, json=survey, headers={"If-Match": read.headers["etag"]})
    assert old.status_code == 412
    assert client.get(room_at(surveyed_job_id)).status_code == 200, "the room saved meanwhile is still there"


def test_the_same_save_again_changes_nothing(client: TestClient, job_id: str) -> None:
    first = client.put(room_at(job_id), json=ROOM)
    again = client.put(room_at(job_id), json=ROOM)
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.headers["etag"] == first.headers["etag"]
    late = client.put(room_at(job_id), json=ROOM, headers={"If-Match": '"0"'})
    assert late.status_code == 200, "a save whose answer was lost on the way may be sent again"


def test_creating_only_what_is_not_there(client: TestClient, job_id: str) -> None:
    only_new = {"If-None-Match": "*"}
    assert client.put(room_at(job_id), json=ROOM, headers=only_new).status_code == 201
    clash = client.put(room_at(job_id), json={**ROOM, "name": "Another"}, headers=only_new)
    assert clash.status_code == 412
    assert client.get(room_at(job_id)).json()["name"] == "Study"
    assert client.delete(room_at(job_id)).status_code == 204
    assert client.put(room_at(job_id), json=ROOM, headers=only_new).status_code == 201


def test_changing_only_what_is_there(client: TestClient, job_id: str) -> None:
    assert client.put(room_at(job_id), json=ROOM, headers={"If-Match": "*"}).status_code == 412
    client.put(room_at(job_id), json=ROOM)
    assert client.put(room_at(job_id), json={**ROOM, "name": "B"}, headers={"If-Match": "*"}).status_code == 200


def test_a_room_taken_out_is_gone_and_its_etag_never_comes_back(client: TestClient, job_id: str) -> None:
    old = client.put(room_at(job_id), json=ROOM).headers["etag"]
    client.put(room_at(job_id), json={**ROOM, "name": "B"})
    assert client.delete(room_at(job_id), headers={"If-Match": old}).status_code == 412
    assert client.delete(room_at(job_id)).status_code == 204
    assert client.delete(room_at(job_id)).status_code == 204, "safe to repeat"
    assert client.get(room_at(job_id)).status_code == 404
    back = client.put(room_at(job_id), json=ROOM)
    assert back.status_code == 201
    assert int(back.headers["etag"].strip('"')) > int(old.strip('"'))
    assert client.put(room_at(job_id), json={**ROOM, "name": "C"}, headers={"If-Match": old}).status_code == 412


def test_a_job_changes_under_its_etag(client: TestClient, job_id: str) -> None:
    address = f"/api/v1/jobs/{job_id}"
    tag = client.get(address).headers["etag"]
    changed = client.patch(address, json={"label": "14 Any Lane"}, headers={"If-Match": tag})
    assert changed.status_code == 200
    assert client.patch(address, json={"label": "16 Any Lane"}, headers={"If-Match": tag}).status_code == 412
    assert client.get(address).json()["label"] == "14 Any Lane"


def test_ten_phones_with_one_etag_one_wins(client: TestClient, job_id: str) -> None:
    tag = client.put(room_at(job_id), json=ROOM).headers["etag"]
    statuses: dict[int, int] = {}

    def save(number: int) -> None:
        body = {**ROOM, "length_m": 5 + number / 10}
        statuses[number] = client.put(room_at(job_id), json=body, headers={"If-Match": tag}).status_code

    threads = [threading.Thread(target=save, args=(number,)) for number in range(10)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(statuses.values()) == [200] + [412] * 9
    winner = next(number for number, status in statuses.items() if status == 200)
    assert client.get(room_at(job_id)).json()["length_m"] == 5 + winner / 10


def test_ten_phones_in_ten_rooms_lose_nothing(client: TestClient, job_id: str) -> None:
    def save(number: int) -> None:
        assert client.put(room_at(job_id, f"R{number}"), json={"name": f"Room {number}"}).status_code == 201

    threads = [threading.Thread(target=save, args=(number,)) for number in range(10)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    found = client.get(f"/api/v1/jobs/{job_id}/survey")
    assert {room["name"] for room in found.json()["survey"]["rooms"]} == {f"Room {number}" for number in range(10)}
    assert found.headers["etag"] == '"10"', "each save is a version of its own"


# --- jobs: created once, listed by pages ---


def test_the_same_key_and_body_make_one_job(client: TestClient) -> None:
    headers = {"Idempotency-Key": "made-on-a-train"}
    first = client.post("/api/v1/jobs", json={"label": "1 Key Lane"}, headers=headers)
    again = client.post("/api/v1/jobs", json={"label": "1 Key Lane"}, headers=headers)
    assert (first.status_code, again.status_code) == (201, 201)
    assert again.content == first.content
    assert again.headers["location"] == first.headers["location"]
    assert again.headers["etag"] == first.headers["etag"]
    other = client.post("/api/v1/jobs", json={"label": "2 Key Lane"}, headers=headers)
    assert other.status_code == 409
    assert other.json()["type"] == "/problems/key_used_for_another_request"
    labels = [job["label"] for job in client.get("/api/v1/jobs?limit=200").json()["items"]]
    assert labels.count("1 Key Lane") == 1
    assert "2 Key Lane" not in labels


def test_a_key_is_free_again_after_a_refusal(client: TestClient) -> None:
    headers = {"Idempotency-Key": "refused-first"}
    assert client.post("/api/v1/jobs", json={"label": ""}, headers=headers).status_code == 422
    assert client.post("/api/v1/jobs", json={"label": "3 Key Lane"}, headers=headers).status_code == 201


def test_a_key_of_one_actor_is_not_that_of_another(client: TestClient, sales: TestClient) -> None:
    headers = {"Idempotency-Key": "both-chose-this"}
    one = client.post("/api/v1/jobs", json={"label": "4 Key Lane"}, headers=headers).json()
    other = sales.post("/api/v1/jobs", json={"label": "4 Key Lane"}, headers=headers).json()
    assert one["id"] != other["id"]


def test_the_same_key_at_the_same_moment_makes_one_job(client: TestClient) -> None:
    made: list[str] = []

    def make() -> None:
        answer = client.post("/api/v1/jobs", json={"label": "5 Key Lane"}, headers={"Idempotency-Key": "twice-at-once"})
        made.append(answer.json()["id"])

    threads = [threading.Thread(target=make) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(made) == 8
    assert len(set(made)) == 1


def test_a_job_with_the_id_of_the_client(client: TestClient) -> None:
    wanted = "0190b2c4-7d30-7aaa-8bbb-0123456789ab"
    assert client.post("/api/v1/jobs", json={"id": wanted, "label": "On a phone"}).json()["id"] == wanted
    assert client.post("/api/v1/jobs", json={"id": wanted, "label": "On a phone"}).status_code == 409


def test_pages_hold_every_job_once_in_order(client: TestClient, new_job: Callable[..., str]) -> None:
    made = [new_job(client) for _ in range(7)]
    seen: list[dict[str, Any]] = []
    cursor: str | None = None
    while True:
        page = client.get("/api/v1/jobs", params={"limit": 3, **({"cursor": cursor} if cursor else {})}).json()
        assert len(page["items"]) <= 3
        if cursor is None:
            new_job(client)
        seen += page["items"]
        cursor = page["next_cursor"]
        if cursor is None:
            break
    numbers = [job["number"] for job in seen]
    assert numbers == sorted(set(numbers), reverse=True), "no job twice, although one was added meanwhile"
    assert set(made) <= {job["id"] for job in seen}
    assert numbers[-1] == 1


def test_price_lists_and_their_lines_by_pages(client: TestClient) -> None:
    first = client.get("/api/v1/price-lists?limit=1").json()["items"][0]
    assert client.get(f"/api/v1/price-lists/{first['id']}").json() == first
    skus: list[str] = []
    cursor: str | None = None
    while cursor is not None or not skus:
        params = {"limit": 50, **({"cursor": cursor} if cursor else {})}
        page = client.get(f"/api/v1/price-lists/{first['id']}/lines", params=params).json()
        skus += [line["sku"] for line in page["items"]]
        cursor = page["next_cursor"]
    assert len(skus) > 65
    assert skus == sorted(set(skus))


def test_texts_that_no_database_keeps_are_refused(client: TestClient, job_id: str) -> None:
    assert client.post("/api/v1/jobs", content=json.dumps({"label": "a\0b"})).status_code == 422
    kept = client.put(room_at(job_id), content=json.dumps({"name": "a\0b"}))
    assert kept.status_code in (201, 422)
    assert client.get(f"/api/v1/jobs/{job_id}/survey").status_code == 200
