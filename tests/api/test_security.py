"""Who may come in: keys, one-time links, passwords, sessions with a form token."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from pydantic import SecretStr
from starlette.testclient import TestClient

from api import security
from api.errors import Problem
from api.ids import new_id
from api.settings import Settings
from api.store import people
from api.store.engine import reading, writing
from models.records import ApiKey, Role, SigninLink, UserRecord, UserSession

PASSWORD = "a long enough password"


@contextmanager
def changed_settings(app: FastAPI, **changes: Any) -> Iterator[None]:
    """Other settings for a while."""
    before = app.state.settings
    app.state.settings = before.model_copy(update=changes)
    try:
        yield
    finally:
        app.state.settings = before


def now_of(app: FastAPI) -> datetime:
    now = app.state.settings.fixed_now
    assert isinstance(now, datetime)
    return now


@pytest.fixture
def user(app: FastAPI) -> UserRecord:
    return security.create_user(
        app.state.engine,
        name=f"user-{new_id()}",
        full_name="Invented Person",
        role=Role.OFFICE,
        password=PASSWORD,
        now=now_of(app),
    )


@pytest.fixture
def browser(app: FastAPI) -> Iterator[TestClient]:
    yield TestClient(app, raise_server_exceptions=False)


def sign_in(app: FastAPI, name: str, password: str, client: str = "198.51.100.1") -> security.SignedIn | None:
    return security.sign_in(
        app.state.engine, app.state.settings, name=name, password=password, client=client, now=now_of(app)
    )


def test_a_password_signs_in(app: FastAPI, user: UserRecord) -> None:
    signed_in = sign_in(app, f" {user.name.upper()} ", PASSWORD)
    assert signed_in is not None
    assert signed_in.actor.role is Role.OFFICE
    assert sign_in(app, user.name, PASSWORD + "x") is None
    assert sign_in(app, "nobody", PASSWORD) is None
    with writing(app.state.engine) as session:
        session.merge(UserRecord(**user.model_dump() | {"active": False}))
    assert sign_in(app, user.name, PASSWORD) is None
    found = security.actor_of_session(app.state.engine, app.state.settings, signed_in.token, now=now_of(app))
    assert found is None


def test_passwords_are_kept_as_argon2(app: FastAPI, user: UserRecord) -> None:
    # RFC 9106 section 4, second recommended option: 64 MiB, three passes, four lanes.
    assert user.password_hash is not None and user.password_hash.startswith("$argon2id$v=19$m=65536,t=3,p=4$")
    with pytest.raises(ValueError, match="characters"):
        security.create_user(
            app.state.engine, name="short", full_name="", role=Role.SALES, password="short", now=now_of(app)
        )


def test_too_many_tries(app: FastAPI) -> None:
    name = f"somebody-{new_id()}"
    with changed_settings(app, signin_tries=2):
        for _ in range(2):
            assert sign_in(app, name, "wrong password", "198.51.100.2") is None
        with pytest.raises(Problem) as refused:
            sign_in(app, name.upper(), "wrong password", "198.51.100.3")
        assert refused.value.status == 429
        assert int(refused.value.headers["Retry-After"]) > 0
    with changed_settings(app, signin_tries=2, fixed_now=now_of(app) + timedelta(minutes=16)):
        assert sign_in(app, name, "wrong password", "198.51.100.2") is None


def test_a_link_signs_in_once(app: FastAPI, user: UserRecord) -> None:
    engine, settings, now = app.state.engine, app.state.settings, now_of(app)
    token = security.create_signin_link(engine, settings, user.id, now=now)
    signed_in = security.use_signin_link(engine, settings, token, now=now)
    assert signed_in is not None and signed_in.actor.user_id == user.id
    assert security.use_signin_link(engine, settings, token, now=now) is None
    old = security.create_signin_link(engine, settings, user.id, now=now - timedelta(days=1))
    assert security.use_signin_link(engine, settings, old, now=now) is None
    assert security.use_signin_link(engine, settings, "made up", now=now) is None


def test_a_session_needs_its_form_token_to_change_anything(
    app: FastAPI, browser: TestClient, user: UserRecord
) -> None:
    signed_in = security.start_session(app.state.engine, app.state.settings, user, now=now_of(app))
    browser.cookies.set(security.SESSION_COOKIE, signed_in.token)
    assert browser.get("/api/v1/jobs").status_code == 200
    refused = browser.post("/api/v1/jobs", json={"label": "A"})
    assert refused.status_code == 403
    assert refused.json()["type"] == "/problems/form_expired"
    wrong = browser.post("/api/v1/jobs", json={"label": "A"}, headers={"X-CSRF-Token": "x"})
    assert wrong.status_code == 403
    right = browser.post("/api/v1/jobs", json={"label": "A"}, headers={"X-CSRF-Token": signed_in.csrf})
    assert right.status_code == 201
    security.end_session(app.state.engine, app.state.settings, signed_in.token)
    assert browser.get("/api/v1/jobs").status_code == 401


def test_a_session_ends(app: FastAPI, user: UserRecord) -> None:
    engine, settings, now = app.state.engine, app.state.settings, now_of(app)
    token = security.start_session(engine, settings, user, now=now).token
    assert security.actor_of_session(engine, settings, token, now=now + timedelta(hours=11)) is not None
    assert security.actor_of_session(engine, settings, token, now=now + timedelta(hours=13)) is None
    other = settings.model_copy(update={"secret_key": SecretStr("quite another secret")})
    assert security.actor_of_session(engine, other, token, now=now) is None


def test_a_revoked_key_is_out_at_once(app: FastAPI, browser: TestClient) -> None:
    key = security.create_api_key(app.state.engine, role=Role.OFFICE, label="short-lived", now=now_of(app))
    headers = {"Authorization": f"Bearer {key}"}
    assert browser.get("/api/v1/jobs", headers=headers).status_code == 200
    actor = security.actor_of_key(app.state.engine, key)
    assert actor is not None
    with writing(app.state.engine) as session:
        assert people.revoke_api_key(session, actor.id.removeprefix("key:"), now_of(app))
    assert browser.get("/api/v1/jobs", headers=headers).status_code == 401


def test_no_key_and_no_token_is_kept_in_clear(app: FastAPI, user: UserRecord) -> None:
    engine, settings, now = app.state.engine, app.state.settings, now_of(app)
    key = security.create_api_key(engine, role=Role.SALES, label="clear", now=now)
    token = security.start_session(engine, settings, user, now=now).token
    link = security.create_signin_link(engine, settings, user.id, now=now)
    kept = []
    with reading(engine) as session:
        for table in (ApiKey, UserSession, SigninLink, UserRecord):
            rows = session.connection().exec_driver_sql(f'SELECT * FROM "{table.__tablename__}"')
            kept += [str(value) for row in rows for value in row]
    assert user.id in kept
    for secret in (key, token, link, PASSWORD):
        assert not any(secret in value for value in kept)


def test_serving_wants_a_secret_key(tmp_path: Path) -> None:
    for secret in (None, SecretStr("short")):
        with pytest.raises(ValueError, match="FOOTING_SECRET_KEY"):
            Settings(data_dir=tmp_path, secret_key=secret).required_secret()
