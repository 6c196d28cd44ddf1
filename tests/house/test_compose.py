"""docker-compose.yml against the compose schema that the package check-jsonschema carries, and against the program."""

import json
import re
import tomllib
from importlib.resources import files
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import jsonschema
import pytest
import yaml
from pydantic import SecretStr

from api.settings import Settings

TOP = Path(__file__).parents[2]
TEXT = (TOP / "docker-compose.yml").read_text("utf-8")
COMPOSE: dict[str, Any] = yaml.safe_load(TEXT)
APP, DATABASE = COMPOSE["services"]["app"], COMPOSE["services"]["database"]


def schema() -> dict[str, Any]:
    found: dict[str, Any] = json.loads(
        (files("check_jsonschema") / "builtin_schemas" / "vendor" / "compose-spec.json").read_text("utf-8")
    )
    return found


def test_it_holds_to_the_compose_schema() -> None:
    assert {"services", "volumes"} <= set(schema()["properties"])
    validator = jsonschema.validators.validator_for(schema())
    assert [error.message for error in validator(schema()).iter_errors(COMPOSE)] == []


@pytest.mark.parametrize("wrong", [{"imgae": "x"}, {"ports": 8700}, {"depends_on": {"database": {"condition": "up"}}}])
def test_the_schema_would_find_a_mistake(wrong: dict[str, Any]) -> None:
    validator = jsonschema.validators.validator_for(schema())(schema())
    assert not validator.is_valid({**COMPOSE, "services": {"app": {**APP, **wrong}}})


def test_nothing_secret_stands_in_it_and_nothing_starts_without() -> None:
    given = dict(re.findall(r"\$\{(\w+)(:[?-])", TEXT))
    assert given == {"FOOTING_DATABASE_PASSWORD": ":?", "FOOTING_SECRET_KEY": ":?", "FOOTING_PORT": ":-"}
    assert DATABASE["environment"]["POSTGRES_PASSWORD"].startswith("${FOOTING_DATABASE_PASSWORD:?")
    assert APP["environment"]["FOOTING_SECRET_KEY"].startswith("${FOOTING_SECRET_KEY:?")


def test_no_image_names_a_host() -> None:
    images = [service["image"] for service in COMPOSE["services"].values()]
    assert images == ["python:3.12-slim", "postgres:16"]
    assert all("/" not in image for image in images)


def test_the_program_takes_the_settings() -> None:
    wanted = {name.removeprefix("FOOTING_").lower() for name in APP["environment"] if name.startswith("FOOTING_")}
    assert wanted <= set(Settings.model_fields)
    address = re.sub(r"\$\{[^}]*\}", "abc123", APP["environment"]["DATABASE_URL"])
    url = urlsplit(Settings(database_url=SecretStr(address)).url())
    assert (url.scheme, url.hostname, url.port, url.path) == ("postgresql+psycopg", "database", 5432, "/footing")
    assert (url.username, url.password) == (DATABASE["environment"]["POSTGRES_USER"], "abc123")
    assert url.path == f"/{DATABASE['environment']['POSTGRES_DB']}"


def test_every_package_is_copied_and_the_command_serves_the_mapped_port() -> None:
    command = APP["command"][-1]
    copied = next(line for line in command.splitlines() if line.startswith("cp -r")).split()[2:-1]
    assert all((TOP / name).exists() for name in copied)
    project = tomllib.loads((TOP / "pyproject.toml").read_text("utf-8"))
    packages = {pattern.rstrip("*") for pattern in project["tool"]["setuptools"]["packages"]["find"]["include"]}
    assert packages <= set(copied)
    assert {"pyproject.toml", project["project"]["readme"]} <= set(copied)
    assert "footing" in project["project"]["scripts"]
    port = APP["ports"][0].rsplit(":", 1)[1]
    assert f"exec footing serve --host 0.0.0.0 --port {port}" in command
    assert f":{port}/health/live" in APP["healthcheck"]["test"][-1]
    compile(APP["healthcheck"]["test"][-1], "healthcheck", "exec")


def test_the_app_waits_for_a_healthy_database_and_both_keep_their_data() -> None:
    assert APP["depends_on"]["database"]["condition"] == "service_healthy"
    assert "pg_isready" in DATABASE["healthcheck"]["test"][-1]
    named = {volume.split(":")[0] for service in (APP, DATABASE) for volume in service["volumes"]} - {"."}
    assert named == set(COMPOSE["volumes"])
    assert "database:/var/lib/postgresql/data" in DATABASE["volumes"]
    assert f"data:{APP['environment']['FOOTING_DATA_DIR']}" in APP["volumes"]
