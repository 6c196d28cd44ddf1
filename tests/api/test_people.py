"""Users, keys and sessions, as the owner keeps them."""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime

import pytest
from fastapi import FastAPI
from pwdlib import PasswordHash
from pwdlib.hashers.argon2 import Argon2Hasher
from starlette.testclient import TestClient

from api import security
from api.security import SESSION_COOKIE
from models.records import Role

API = "/api/v1"
NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
PASSWORD = "a long enough one"
_names = (f"kim-{number}" for number in range(1000))


@pytest.fixture(autouse=True)
def quick_passwords(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hashes of little work: how much a password takes is the business of test_security."""
    quick = PasswordHash((Argon2Hasher(time_cost=1, memory_cost=8, parallelism=1),))
    monkeypatch.setattr(security, "_hasher", lambda: quick)


@pytest.fixture
def user(client: TestClient) -> dict[str, object]:
    body = {"name": next(_names), "full_name": "Kim Surveyor", "role": "sales", "password": PASSWORD}
    made = client.post(f"{API}/users", json=body)
    assert made.status_code == 201, made.text
    found: dict[str, object] = made.json()
    return found


def signed_in(app: FastAPI, name: object, password: str = PASSWORD) -> security.SignedIn | None:
    return security.sign_in(
        app.state.engine, app.state.settings, name=str(name), password=password, client="192.0.2.7", now=NOW
    )


@pytest.fixture
def browser(app: FastAPI, user: dict[str, object]) -> Iterator[TestClient]:
    """A browser of the user: with the cookie and the token of its session."""
    session = signed_in(app, user["name"])
    assert session is not None
    one = TestClient(app, headers={"x-csrf-token": session.csrf}, cookies={SESSION_COOKIE: session.token})
    yield one


def test_a_user_comes_in_and_what_is_listed_holds_no_hash(
    client: TestClient, app: FastAPI, user: dict[str, object]
) -> None:
    listed = client.get(f"{API}/users")
    assert user in listed.json() and "argon2" not in listed.text
    assert user["has_password"] is True and signed_in(app, user["name"]) is not None


def test_a_name_is_taken_once_and_a_short_password_is_refused(client: TestClient, user: dict[str, object]) -> None:
    again = {"name": str(user["name"]).upper(), "full_name": "K", "role": "sales"}
    assert client.post(f"{API}/users", json=again).status_code == 409
    assert client.post(f"{API}/users", json={**again, "name": "x", "password": "short"}).status_code == 422
    assert client.post(f"{API}/users", json={**again, "name": "x", "role": "king"}).status_code == 422


def test_who_leaves_is_out_at_once(
    client: TestClient, browser: TestClient, app: FastAPI, user: dict[str, object]
) -> None:
    assert browser.get(f"{API}/jobs").status_code == 200
    left = client.patch(f"{API}/users/{user['id']}", json={"active": False, "why": "has left"})
    assert left.status_code == 200 and left.json()["active"] is False
    assert browser.get(f"{API}/jobs").status_code == 401
    assert signed_in(app, user["name"]) is None


def test_a_new_role_holds_for_the_next_request(
    client: TestClient, browser: TestClient, user: dict[str, object]
) -> None:
    assert browser.get(f"{API}/users").status_code == 403
    assert client.patch(f"{API}/users/{user['id']}", json={"role": "accounts"}).status_code == 200
    assert browser.post(f"{API}/jobs", json={"label": "x"}).status_code == 403, "accounts only reads"
    assert client.patch(f"{API}/users/{user['id']}", json={"role": "owner"}).status_code == 200
    assert browser.get(f"{API}/users").status_code == 200


def test_a_new_password_ends_sessions(
    client: TestClient, browser: TestClient, app: FastAPI, user: dict[str, object]
) -> None:
    assert client.patch(f"{API}/users/{user['id']}", json={"password": "quite another one"}).status_code == 200
    assert browser.get(f"{API}/jobs").status_code == 401
    assert signed_in(app, user["name"]) is None
    assert signed_in(app, user["name"], "quite another one") is not None


def test_signing_out_everywhere(app: FastAPI, client: TestClient, browser: TestClient, user: dict[str, object]) -> None:
    assert signed_in(app, user["name"]) is not None
    sessions = browser.get(f"{API}/sessions").json()
    assert len(sessions) == 2 and {one["client"] for one in sessions} == {"192.0.2.7"}
    assert browser.delete(f"{API}/sessions").status_code == 204
    assert browser.get(f"{API}/sessions").status_code == 401
    other = signed_in(app, user["name"])
    assert other is not None
    assert client.delete(f"{API}/users/{user['id']}/sessions").status_code == 204
    assert security.actor_of_session(app.state.engine, app.state.settings, other.token, now=NOW) is None


def test_a_link_lets_somebody_without_a_password_in_once(client: TestClient, app: FastAPI) -> None:
    made = client.post(f"{API}/users", json={"name": next(_names), "full_name": "Lee", "role": "office"}).json()
    assert made["has_password"] is False
    link = client.post(f"{API}/users/{made['id']}/sign-in-link")
    assert link.status_code == 201
    token = link.json()["address"].partition("token=")[2]
    first = security.use_signin_link(app.state.engine, app.state.settings, token, now=NOW)
    assert first is not None and first.actor.role is Role.OFFICE
    assert security.use_signin_link(app.state.engine, app.state.settings, token, now=NOW) is None


def test_the_last_owner_stays(app: FastAPI, client: TestClient) -> None:
    body = {"name": next(_names), "full_name": "Only Owner", "role": "owner", "password": PASSWORD}
    only = client.post(f"{API}/users", json=body).json()
    for other in client.get(f"{API}/users").json():
        if other["role"] == "owner" and other["active"] and other["id"] != only["id"]:
            assert client.patch(f"{API}/users/{other['id']}", json={"active": False}).status_code == 200
    for change in ({"role": "office"}, {"active": False}):
        refused = client.patch(f"{API}/users/{only['id']}", json=change)
        assert refused.status_code == 409 and "last owner" in refused.json()["detail"]
    assert client.patch(f"{API}/users/{only['id']}", json={"full_name": "Still Owner"}).status_code == 200


def test_a_key_is_shown_once_and_revoked_for_good(app: FastAPI, client: TestClient) -> None:
    made = client.post(f"{API}/api-keys", json={"label": "books", "role": "accounts"})
    assert made.status_code == 201
    key = made.json()["key"]
    assert key not in client.get(f"{API}/api-keys").text
    program = TestClient(app, headers={"Authorization": f"Bearer {key}"})
    assert program.get(f"{API}/quotes").status_code == 200
    assert program.post(f"{API}/jobs", json={"label": "x"}).status_code == 403
    assert client.delete(f"{API}/api-keys/{made.json()['id']}").status_code == 204
    assert program.get(f"{API}/quotes").status_code == 401


@pytest.mark.parametrize("role", [Role.SALES, Role.OFFICE, Role.ACCOUNTS])
def test_only_the_owner_keeps_people_and_keys(
    client_of: Callable[[Role | None], TestClient], user: dict[str, object], role: Role
) -> None:
    who = client_of(role)
    one = f"{API}/users/{user['id']}"
    asked = [
        who.get(f"{API}/users"), who.get(one), who.get(f"{API}/api-keys"),
        who.patch(one, json={"role": "owner"}), who.delete(f"{one}/sessions"), who.post(f"{one}/sign-in-link"),
        who.post(f"{API}/users", json={"name": "y", "full_name": "Y", "role": "owner"}),
        who.post(f"{API}/api-keys", json={"label": "y", "role": "owner"}),
    ]  # fmt: skip
    assert [answer.status_code for answer in asked] == [403] * len(asked)


@pytest.mark.parametrize(("role", "status"), [(Role.SALES, 403), (Role.ACCOUNTS, 403), (Role.OFFICE, 200)])
def test_the_office_reads_who_did_what(client_of: Callable[[Role | None], TestClient], role: Role, status: int) -> None:
    assert client_of(role).get(f"{API}/audit").status_code == status
