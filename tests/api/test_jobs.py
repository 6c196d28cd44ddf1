"""Jobs: numbers without gaps, what may be changed, ids in order of time."""

from concurrent.futures import ThreadPoolExecutor

from starlette.testclient import TestClient

from api.ids import is_id, new_id


def test_numbers_of_jobs_made_at_the_same_time_have_no_gap(client: TestClient) -> None:
    with ThreadPoolExecutor(8) as pool:
        made = list(pool.map(lambda n: client.post("/api/v1/jobs", json={"label": f"N{n}"}).json(), range(24)))
    numbers = sorted(job["number"] for job in made)
    assert numbers == list(range(numbers[0], numbers[0] + 24))


def test_what_may_be_changed(client: TestClient, job_id: str) -> None:
    address = f"/api/v1/jobs/{job_id}"
    before = client.get(address)
    changed = client.patch(address, json={"label": "New"}, headers={"If-Match": before.headers["etag"]})
    assert changed.json()["label"] == "New"
    clash = client.patch(address, json={"label": "Newer"}, headers={"If-Match": before.headers["etag"]})
    assert clash.status_code == 412
    assert client.patch(address, json={"party": {"address": "1 Any Lane\nMade Magna"}}).status_code == 200
    assert client.get(address).json()["party"]["address"] == "1 Any Lane\nMade Magna"
    for body in ({"label": ""}, {"label": "a\0b"}, {"status": "lovely"}, {"number": 7}, {"label": 7}, []):
        assert client.patch(address, json=body).status_code == 422


def test_ids_are_of_version_seven_and_in_order_of_time() -> None:
    ids = [new_id() for _ in range(200)]
    assert all(is_id(one) and one[14] == "7" and one[19] in "89ab" for one in ids)
    assert [one[:13] for one in ids] == sorted(one[:13] for one in ids)
