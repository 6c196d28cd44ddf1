"""The contract: OpenAPI that is valid, whose examples work, whose answers are as promised; and fuzzing by it."""

import copy
import json
import re
from collections.abc import Callable
from typing import Any

import jsonschema
import pytest
import schemathesis
from fastapi import FastAPI
from hypothesis import HealthCheck, Phase, given, settings, strategies as st
from openapi_spec_validator import validate
from starlette.testclient import TestClient

from api.schemas.estimates import EstimateRequest
from api.store.seed_files import demo_households
from models.records import Role

FUZZED = settings(
    deadline=None,
    database=None,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.generate],
)
HOUSEHOLDS = demo_households()


def schema_named(app: FastAPI, name: str) -> dict[str, Any]:
    """A component with all others beside it, so that its references resolve."""
    document = app.openapi()
    return {"$ref": f"#/components/schemas/{name}", "components": document["components"]}


def test_the_document_is_valid_openapi(app: FastAPI) -> None:
    validate(app.openapi())
    served = TestClient(app).get("/api/v1/openapi.json")
    assert served.status_code == 200
    assert served.json() == json.loads(json.dumps(app.openapi()))


def test_the_contract_can_be_read_in_a_browser_that_asks_nobody_else(app: FastAPI, client: TestClient) -> None:
    page = client.get("/api/v1/docs")
    assert page.status_code == 200
    assert page.headers["content-type"].startswith("text/html")
    assert all(f"<code>{path}</code>" in page.text for path in app.openapi()["paths"])
    assert not re.search(r"(src|href)=.?(https?:)?//", page.text)


def test_every_reference_leads_somewhere(app: FastAPI) -> None:
    document = app.openapi()
    found = set(re.findall(r'"#/components/schemas/([^"]+)"', json.dumps(document)))
    assert found <= set(document["components"]["schemas"])


def test_every_operation_says_how_it_fails(app: FastAPI) -> None:
    for path, methods in app.openapi()["paths"].items():
        for method, operation in methods.items():
            where = f"{method} {path}"
            assert operation["summary"], where
            if path == "/health/live":
                continue
            assert operation["security"], where
            problems = {status for status in operation["responses"] if status >= "400"}
            assert {"401", "404", "422", "500"} <= problems, where
            for status in problems:
                assert list(operation["responses"][status]["content"]) == ["application/problem+json"], where
            if "requestBody" in operation:
                assert {"409", "412", "413", "415"} <= problems, where
            if any(one["name"] == "If-Match" for one in operation.get("parameters", ())):
                assert "412" in problems, where
            assert method == "get" or "409" in problems, where


def examples_of(app: FastAPI, path: str, method: str = "post") -> dict[str, Any]:
    content = app.openapi()["paths"][path][method]["requestBody"]["content"]["application/json"]
    return {name: one["value"] for name, one in content["examples"].items()}


def test_the_examples_are_the_demo_households_and_answer_as_promised(app: FastAPI, client: TestClient) -> None:
    examples = examples_of(app, "/api/v1/estimates")
    assert [one["survey"]["label"] for one in examples.values()] == [one["survey"]["label"] for one in HOUSEHOLDS]
    asked = jsonschema.Draft202012Validator(schema_named(app, "EstimateRequest"))
    promised = jsonschema.Draft202012Validator(schema_named(app, "Estimate"))
    for name, example in examples.items():
        asked.validate(example)
        EstimateRequest.model_validate_json(json.dumps(example))
        answer = client.post("/api/v1/estimates", json=example)
        assert answer.status_code == 200, name
        promised.validate(answer.json())


def test_every_other_example_is_taken(app: FastAPI, client: TestClient, surveyed_job_id: str) -> None:
    for name, example in examples_of(app, "/api/v1/jobs").items():
        assert client.post("/api/v1/jobs", json=example).status_code == 201, name
    for name, example in examples_of(app, "/api/v1/jobs/{job_id}/quotes").items():
        assert client.post(f"/api/v1/jobs/{surveyed_job_id}/quotes", json=example).status_code == 201, name
    for name, example in examples_of(app, "/api/v1/jobs/{job_id}/estimate").items():
        assert client.post(f"/api/v1/jobs/{surveyed_job_id}/estimate", json=example).status_code == 200, name


def test_the_parts_of_a_survey_have_examples_that_are_saved_without_a_gap(app: FastAPI, client: TestClient) -> None:
    job = f"/api/v1/jobs/{client.post('/api/v1/jobs', json={'label': 'examples'}).json()['id']}/survey"
    saved = {}
    for name, example in examples_of(app, "/api/v1/jobs/{job_id}/survey", "put").items():
        assert client.put(job, json=example).status_code == 200, name
    for part in ("rooms/{room_id}", "positions/{position_id}"):
        for name, example in examples_of(app, f"/api/v1/jobs/{{job_id}}/survey/{part}", "put").items():
            saved[name] = client.put(f"{job}/{part.split('/')[0]}/{name}", json=example)
    for name, example in examples_of(app, "/api/v1/jobs/{job_id}/survey/{section}", "put").items():
        saved[name] = client.put(f"{job}/{name}", json=example)
    assert {"room", "half_typed", "position", "house", "supply", "tariffs"} <= saved.keys()
    for name, answer in saved.items():
        assert answer.status_code in (200, 201), answer.text
        gaps = [one for one in answer.json()["findings"] if one["code"] == "missing_value"]
        assert bool(gaps) is (name == "half_typed"), (name, gaps)


PROMISED = {
    "design": (
        "heat_loss_w", "design_outdoor_temp_c", "flow_temp_c", "rooms", "outdoor_unit", "cylinder", "primary", "noise",
        "performance",
    ),
    "design.rooms.0": (
        "room_id", "heat_loss_w", "transmission_w", "ventilation_w", "to_rooms_w", "emitter_output_w", "emitter_action",
    ),
    "design.outdoor_unit": ("sku", "count", "capacity_w", "cover_ratio"),
    "design.cylinder": ("sku", "volume_l"),
    "design.primary": ("od_mm", "flow_l_per_s", "velocity_m_per_s", "pressure_drop_pa"),
    "design.noise.0": ("where", "level_dba", "limit_dba", "passes"),
    "design.performance": ("space_heat_kwh", "hot_water_kwh", "electricity_kwh", "seasonal_ratio"),
    "labour_plan": ("days", "person_hours", "tasks", "hot_water_off_h", "heating_off_h"),
    "labour_plan.tasks.0": ("code", "trade", "crew", "start", "end"),
    "labour_plan.tasks.0.start": ("day", "at"),
    "bill.lines.0": (
        "line_id", "sku", "description", "unit", "used", "bought", "charged", "why", "cost_pence", "sell_pence",
    ),
    "price": ("net_pence", "vat_pence", "total_pence", "grant_pence", "customer_pays_pence"),
    "findings.0": ("code", "strength", "where", "message"),
    "basis": ("rules_version", "price_list_version", "priced_on", "defaults", "survey_sha256"),
}  # fmt: skip
"""The fields of design.md section 7."""


@pytest.mark.parametrize("number", range(len(HOUSEHOLDS)))
def test_the_promised_fields_are_there_in_answer_and_contract(app: FastAPI, client: TestClient, number: int) -> None:
    document = client.post("/api/v1/estimates", json=HOUSEHOLDS[number]).json()
    schema = app.openapi()["components"]["schemas"]["Estimate"]
    for place, names in PROMISED.items():
        node, described = document, schema
        for step in place.split("."):
            node = node[int(step)] if step.isdigit() else node[step]
            described = described["items"] if step.isdigit() else described["properties"][step]
            described = described.get("anyOf", [described])[0]
        for name in names:
            assert name in node, f"{place}.{name}"
            if place != "basis":
                assert name in described["properties"], f"{place}.{name} in the contract"


def test_a_choice_is_taken(client: TestClient, household: dict[str, Any]) -> None:
    household["choices"] = {"flow_temp_c": 45, "priced_on": "2026-03-02", "works_start_on": "2026-05-04"}
    document = client.post("/api/v1/estimates", json=household).json()
    assert document["design"]["flow_temp_c"] == 45
    assert (document["basis"]["priced_on"], document["basis"]["works_start_on"]) == ("2026-03-02", "2026-05-04")


def test_every_figure_is_opened_only_when_asked_for(client: TestClient, household: dict[str, Any]) -> None:
    assert "why" not in client.post("/api/v1/estimates", json=household).json()
    opened = client.post("/api/v1/estimates?include=why", json=household).json()["why"]
    assert {"design.heat_loss_w", "design.flow_temp_c", "design.outdoor_unit.sku", "price.total_pence"} <= set(opened)
    assert all(one["sentence"] for one in opened.values())


def test_the_same_request_gets_the_same_bytes_whoever_sees_cost(
    client: TestClient, client_of: Callable[[Role | None], TestClient], household: dict[str, Any]
) -> None:
    first, again = (client.post("/api/v1/estimates?include=why", json=household).content for _ in range(2))
    assert first == again
    assert client_of(Role.OFFICE).post("/api/v1/estimates?include=why", json=household).content == first


# --- fuzzing ---


def check(answer: Any, operation: dict[str, Any], sent: object) -> None:
    where = f"{answer.request.method} {answer.request.url}: {answer.status_code} {answer.text[:300]}\n{sent!r:.2000}"
    assert answer.status_code < 500, where
    assert str(answer.status_code) in operation["responses"], where
    if answer.status_code >= 400:
        assert answer.headers["content-type"] == "application/problem+json", where


FUZZED_PATHS = r"^/api/v1/(estimates|options|jobs|jobs/\{job_id\}(/survey.*|/estimate|/quotes)?|quotes)$"


def test_no_request_drawn_from_the_contract_breaks_anything(app: FastAPI, client: TestClient, job_id: str) -> None:
    document = app.openapi()
    paths = {path: one for path, one in document["paths"].items() if re.match(FUZZED_PATHS, path)}
    schema = schemathesis.openapi.from_dict({**document, "paths": paths})
    operations = [found.ok() for found in schema.get_all_operations()]
    assert len(operations) > 20

    for operation in operations:

        @settings(FUZZED, max_examples=4 if operation.path.endswith(("/estimates", "/options")) else 10)
        @given(case=operation.as_strategy())
        def fuzz(case: Any) -> None:
            if "job_id" in case.path_parameters:
                case.path_parameters["job_id"] = job_id
            request = case.as_transport_kwargs(base_url="http://testserver")
            answer = client.request(
                request["method"],
                request["url"],
                params=request.get("params"),
                json=request.get("json"),
                headers={
                    name: value
                    for name, value in request["headers"].items()
                    if name.lower() in ("if-match", "if-none-match", "idempotency-key")
                },
            )
            check(answer, document["paths"][case.operation.path][case.method.lower()], request.get("json"))

        fuzz()
    assert client.get(f"/api/v1/jobs/{job_id}/survey").status_code == 200, "what was kept can be read"


ODD = st.sampled_from([
    None, True, 0, -1, 1e-9, 1e9, 1e308, 10**30, 10**400, float("nan"), float("inf"), "", "x", "\0", "9" * 500,
    "2026-02-30", "9999-12-31", "unknown", [], {}, [[]], [None], {"": 1}, "é🛋", -273.15,
])  # fmt: skip


def places_in(node: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    items = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    return [place for key, value in items for place in ((*path, key), *places_in(value, (*path, key)))]


PLACES = [places_in(one["survey"]) for one in HOUSEHOLDS]


@st.composite
def spoiled_survey(draw: st.DrawFn) -> dict[str, Any]:
    """A demo household with up to three of its values replaced by something odd, or taken out."""
    number = draw(st.integers(0, len(HOUSEHOLDS) - 1))
    survey = copy.deepcopy(HOUSEHOLDS[number]["survey"])
    for place in draw(st.lists(st.sampled_from(PLACES[number]), min_size=1, max_size=3)):
        node = survey
        try:
            for step in place[:-1]:
                node = node[step]
            if draw(st.booleans()):
                node[place[-1]] = draw(ODD)
            else:
                del node[place[-1]]
        except (KeyError, IndexError, TypeError):
            continue
    return survey


@settings(FUZZED, max_examples=60)
@given(survey=spoiled_survey())
def test_no_spoiled_survey_breaks_anything(app: FastAPI, client: TestClient, survey: dict[str, Any]) -> None:
    answer = client.post("/api/v1/estimates", content=json.dumps({"survey": survey}))
    check(answer, app.openapi()["paths"]["/api/v1/estimates"]["post"], survey)
    if answer.status_code == 422:
        assert all(fault["where"] and fault["message"] for fault in answer.json()["errors"])
    else:
        assert "NaN" not in answer.text and "Infinity" not in answer.text


@settings(FUZZED, max_examples=25)
@given(survey=spoiled_survey())
def test_no_spoiled_survey_is_kept_and_then_breaks_what_reads_it(
    app: FastAPI, client: TestClient, new_job: Callable[..., str], survey: dict[str, Any]
) -> None:
    job_id = new_job(client)
    address = f"/api/v1/jobs/{job_id}"
    saved = client.put(f"{address}/survey", content=json.dumps(survey))
    check(saved, app.openapi()["paths"]["/api/v1/jobs/{job_id}/survey"]["put"], survey)
    assert client.get(f"{address}/survey").status_code == 200
    assert client.get(f"{address}/survey/rooms").status_code == 200
    assert client.get(f"{address}/estimate").status_code in (200, 422)


# A key or a link to sign in is shown once and kept nowhere in clear, so its answer cannot be kept either; a photograph
# is known by its bytes, so that the same ones come to the same; the others write nothing.
NO_KEY_NEEDED = {
    ("post", "/api/v1/api-keys"), ("post", "/api/v1/users/{user_id}/sign-in-link"), ("post", "/api/v1/estimates"),
    ("post", "/api/v1/options"), ("post", "/api/v1/jobs/{job_id}/estimate"),
    ("post", "/api/v1/rule-sets/{kind}/drafts/{set_id}/effect"),
    ("put", "/api/v1/jobs/{job_id}/survey/photos/{photo_id}"),
}  # fmt: skip


def test_every_write_that_may_not_happen_twice_takes_a_key(app: FastAPI) -> None:
    for path, methods in app.openapi()["paths"].items():
        for method in {"post", "put", "patch", "delete"} & set(methods):
            headers = {one["name"] for one in methods[method].get("parameters", ()) if one["in"] == "header"}
            assert ("Idempotency-Key" in headers) is ((method, path) not in NO_KEY_NEEDED), (method, path)


def test_a_change_whose_answer_was_lost_is_asked_for_again(client: TestClient, new_job: Callable[..., str]) -> None:
    room = f"/api/v1/jobs/{new_job(client)}/survey/rooms/kitchen"
    first = {"name": "Kitchen", "use": "kitchen"}
    stands = client.put(room, json=first).headers["etag"]
    change = {"headers": {"Idempotency-Key": "room once", "If-Match": stands}, "json": {**first, "length_m": 4.2}}
    answers = [client.put(room, **change) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [200, 200] and answers[0].content == answers[1].content
    assert answers[0].headers["etag"] == answers[1].headers["etag"] != stands
    other = client.put(room, headers={"Idempotency-Key": "room once"}, json={**first, "length_m": 5})
    assert other.status_code == 409 and other.headers["content-type"] == "application/problem+json"
    gone = [client.delete(room, headers={"Idempotency-Key": "away once"}) for _ in range(2)]
    assert [answer.status_code for answer in gone] == [204, 204]
    # A key belongs to one request: the same with another method is another.
    assert client.put(room, headers={"Idempotency-Key": "away once"}, json=first).status_code == 409
    job = room.partition("/survey")[0]
    stands = client.get(job).headers["etag"]
    label = {"json": {"label": "Once Lane"}, "headers": {"Idempotency-Key": "label", "If-Match": stands}}
    named = [client.patch(job, **label) for _ in range(2)]
    assert named[0].status_code == 200 and named[0].content == named[1].content
    # Without the key the second finds another version than it expects.
    assert client.patch(job, json=label["json"], headers={"If-Match": stands}).status_code == 412


def test_an_undo_that_was_asked_for_twice_happened_once(client: TestClient) -> None:
    head = client.post("/api/v1/price-lists", json={}).json()["id"]
    assert client.post(f"/api/v1/price-lists/{head}/publish", json={}).status_code == 200
    undo = f"/api/v1/price-lists/{head}/undo"
    answers = [client.post(undo, headers={"Idempotency-Key": "undo once"}) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [200, 200]
    assert answers[0].content == answers[1].content and answers[0].headers["etag"] == answers[1].headers["etag"]
    other = client.post(undo, json={"x": 1}, headers={"Idempotency-Key": "undo once"})
    assert other.status_code == 409 and "key" in other.json()["type"]
