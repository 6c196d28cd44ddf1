"""Throughput of POST /api/v1/estimates against an endpoint that validates the same body and returns the same bytes.

Prints a ratio of the two in one run (design.md section 9: at least 0.3, goal 0.5); fails only where an answer is wrong.
Both are asked in process, in turns, and timed by what this process works, so that others on the machine count little.
"""

import asyncio
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import httpx
from fastapi import FastAPI, Response
from pydantic import SecretStr

from api.app import create_api
from api.body import RawJson
from api.schemas.estimates import EstimateRequest
from api.security import create_api_key
from api.settings import Settings
from api.store.engine import reading
from models.estimate import estimate
from models.records import Role

ROUNDS = 12
REQUESTS_A_ROUND = 8
NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def validating_app(body: bytes) -> FastAPI:
    """The least that any such endpoint does: read, validate, answer."""
    app = FastAPI(openapi_url=None)

    @app.post("/api/v1/estimates")
    def estimates(raw: RawJson) -> Response:
        EstimateRequest.model_validate_json(raw)
        return Response(body, media_type="application/json")

    return app


async def _seconds(client: httpx.AsyncClient, raw: bytes, expected: bytes) -> float:
    start = time.process_time()
    for _ in range(REQUESTS_A_ROUND):
        answer = await client.post("/api/v1/estimates", content=raw, headers={"Content-Type": "application/json"})
        assert answer.status_code == 200
        assert answer.content == expected
    return time.process_time() - start


async def _compare(app: FastAPI, key: str, raw: bytes) -> tuple[float, float]:
    """The shortest time of one request to the estimate, and to the endpoint that only validates."""
    headers = {"Authorization": f"Bearer {key}"}
    ours = httpx.AsyncClient(transport=httpx.ASGITransport(app), base_url="http://ours", headers=headers)
    async with ours:
        expected = (await ours.post("/api/v1/estimates", content=raw)).content
        plain = httpx.AsyncClient(transport=httpx.ASGITransport(validating_app(expected)), base_url="http://plain")
        async with plain:
            times: tuple[list[float], list[float]] = ([], [])
            for _ in range(ROUNDS):
                times[0].append(await _seconds(ours, raw, expected))
                times[1].append(await _seconds(plain, raw, expected))
    return min(times[0]) / REQUESTS_A_ROUND, min(times[1]) / REQUESTS_A_ROUND


def _once(app: FastAPI, request: EstimateRequest) -> float:
    with reading(app.state.engine) as session:
        rules = app.state.rules_book.in_force(session, NOW.date())
    start = time.process_time()
    estimate(request.survey, request.choices, rules, today=NOW.date())
    return time.process_time() - start


def test_throughput_of_the_estimate(
    households: dict[str, Any], tmp_path: Path, say: Callable[[str], None]
) -> None:
    settings = Settings(
        data_dir=tmp_path, database_url=None, secret_key=SecretStr("only for this test"), fixed_now=NOW,
        log_level="CRITICAL",
    )  # fmt: skip
    app = create_api(settings)
    key = create_api_key(app.state.engine, role=Role.OWNER, label="load", now=NOW)
    body = EstimateRequest.model_validate(households["thornlea"]).model_dump_json(exclude_unset=True).encode()
    ours_s, plain_s = asyncio.run(_compare(app, key, body))
    request = EstimateRequest.model_validate_json(body)
    inside_s = min(_once(app, request) for _ in range(15))
    say(
        f"POST /api/v1/estimates, thornlea: {ours_s * 1000:.2f} ms, {1 / ours_s:.0f} a second a core; "
        f"validating only: {plain_s * 1000:.2f} ms; estimate() alone: {inside_s * 1000:.2f} ms; "
        f"ratio of throughput {plain_s / ours_s:.2f} (goal at least 0.3)"
    )
    app.state.engine.dispose()
