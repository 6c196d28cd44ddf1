"""Around every request: its id, a log line, counts and times; and the limit of bodies."""

import logging
import re
import time
import uuid

from prometheus_client import CollectorRegistry, Counter, Histogram
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.errors import on_anything
from api.logs import client_address, request_id

_log = logging.getLogger("footing.request")
_GOOD_ID = re.compile(r"^[A-Za-z0-9._-]{1,64}$")
_BUCKETS_S = (0.002, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5)
# A refused body is still read, so that the client gets to see the answer, but not for ever.
_DRAINED_AT_MOST_BYTES = 50_000_000


class Metrics:
    """Counts and times of requests by method, route and status."""

    def __init__(self) -> None:
        self.registry = CollectorRegistry()
        labels = ("method", "route", "status")
        self.requests = Counter("footing_requests", "Requests answered", labels, registry=self.registry)
        self.seconds = Histogram(
            "footing_request_seconds", "Time to answer", labels, registry=self.registry, buckets=_BUCKETS_S
        )


class RequestFrame:
    """Gives each request an id (or takes a good X-Request-Id), logs it, and counts it; also one that breaks."""

    def __init__(self, app: ASGIApp, metrics: Metrics) -> None:
        self.app = app
        self.metrics = metrics

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Frame one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        given = dict(scope["headers"]).get(b"x-request-id", b"").decode("latin-1")
        this_id = given if _GOOD_ID.match(given) else uuid.uuid4().hex
        token = request_id.set(this_id)
        address_token = client_address.set(str((scope.get("client") or ("",))[0])[:100])
        scope.setdefault("state", {})["request_id"] = this_id
        started = time.perf_counter()
        status = 500
        answering = False

        async def send_with_id(message: Message) -> None:
            nonlocal status, answering
            if message["type"] == "http.response.start":
                status, answering = message["status"], True
                message.setdefault("headers", []).append((b"x-request-id", this_id.encode()))
            await send(message)

        try:
            await self.app(scope, receive, send_with_id)
        except Exception as error:
            if answering:
                raise
            response = await on_anything(Request(scope), error)
            await response(scope, receive, send_with_id)
        finally:
            took_s = time.perf_counter() - started
            route = getattr(scope.get("route"), "path", "unmatched")
            labels = (scope["method"] if scope["method"].isalpha() else "OTHER", route, str(status))
            self.metrics.requests.labels(*labels).inc()
            self.metrics.seconds.labels(*labels).observe(took_s)
            if _log.isEnabledFor(logging.INFO):
                _log.info(
                    "request",
                    extra={
                        "method": scope["method"],
                        "path": scope["path"],
                        "status": status,
                        "duration_ms": round(took_s * 1000, 2),
                        "actor": scope["state"].get("actor_id", ""),
                    },
                )
            request_id.reset(token)
            client_address.reset(address_token)


class BodyLimit:
    """Refuses bodies over a limit with 413, by their declared length and by counting what comes."""

    def __init__(self, app: ASGIApp, limit_bytes: int) -> None:
        self.app = app
        self.limit_bytes = limit_bytes

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Count the body of one request while it is read."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        counted = 0
        declared = dict(scope["headers"]).get(b"content-length", b"")
        too_long = declared.isdigit() and int(declared) > self.limit_bytes

        async def counting() -> Message:
            nonlocal counted
            message = await receive()
            if message["type"] != "http.request":
                return message
            counted += len(message.get("body", b""))
            if too_long or counted > self.limit_bytes:
                while message.get("more_body") and counted <= _DRAINED_AT_MOST_BYTES:
                    message = await receive()
                    if message["type"] != "http.request":
                        break
                    counted += len(message.get("body", b""))
                raise HTTPException(413, f"the body is larger than {self.limit_bytes} bytes")
            return message

        await self.app(scope, counting, send)
