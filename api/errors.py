"""One family of errors and the one shape in which every one of them is answered (RFC 9457)."""

import logging
import math
from dataclasses import asdict, dataclass, field
from typing import Any

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from pydantic import ValidationError
from pydantic_core import to_json
from sqlalchemy.exc import DBAPIError, OperationalError, TimeoutError
from starlette.exceptions import HTTPException

from api.wording import Fault, faults_in_words

PROBLEM_TYPE = "application/problem+json"
_log = logging.getLogger("footing.problem")

TITLES = {
    "not_json": "The body is not JSON",
    "bad_request": "The request cannot be read",
    "not_signed_in": "Sign in or send a key",
    "not_allowed": "This needs another right",
    "form_expired": "The form is no longer valid",
    "not_found": "There is nothing at this address",
    "method_not_allowed": "This address does not take this method",
    "clash": "Someone else changed this in the meantime",
    "conflict": "This cannot be done as things stand",
    "findings_stand": "Findings forbid the issue",
    "key_used_for_another_request": "The idempotency key was used for another request",
    "too_large": "The body is too large",
    "wrong_media_type": "The body is of a kind that is not taken here",
    "invalid": "The input does not hold together",
    "too_many_tries": "Too many tries",
    "busy": "The service is busy",
    "internal": "Something broke on our side",
}
_CODE_OF_STATUS = {
    400: "bad_request",
    401: "not_signed_in",
    403: "not_allowed",
    404: "not_found",
    405: "method_not_allowed",
    409: "conflict",
    412: "clash",
    413: "too_large",
    415: "wrong_media_type",
    422: "invalid",
    429: "too_many_tries",
    503: "busy",
}

# PostgreSQL: serialisation failure, deadlock, lock not available, too many connections, shutting down, starting up.
_BUSY_STATES = frozenset({"40001", "40P01", "55P03", "53300", "57P01", "57P03"})


@dataclass
class Problem(Exception):
    """Why a request gets no ordinary answer. Raise it anywhere below a route; it is rendered in one place."""

    status: int
    code: str
    detail: str
    errors: list[Fault] = field(default_factory=list)
    headers: dict[str, str] = field(default_factory=dict)
    more: dict[str, Any] = field(default_factory=dict)

    def __str__(self) -> str:
        return self.detail

    def document(self, *, instance: str, request_id: str) -> dict[str, Any]:
        """The problem as it goes over the wire."""
        return {
            "type": f"/problems/{self.code}",
            "title": TITLES.get(self.code, self.code.replace("_", " ")),
            "status": self.status,
            "detail": self.detail,
            "instance": instance,
            "request_id": request_id,
            "errors": [_fault(fault) for fault in self.errors],
            **self.more,
        }


def not_found(what: str) -> Problem:
    """The problem of something that is not there, or not for this actor."""
    return Problem(404, "not_found", f"there is no such {what}")


def conflict(detail: str, code: str = "conflict") -> Problem:
    """The problem of a thing that the present state does not allow."""
    return Problem(409, code, detail)


def invalid(error: ValidationError, body: Any, *, root: Any, where: str) -> Problem:
    """The problem of input that a model refuses, in the surveyor's words."""
    return invalid_faults(faults_in_words(error.errors(include_url=False), body, root=root, where=where))


def invalid_faults(faults: list[Fault]) -> Problem:
    """The problem of input with these faults."""
    return Problem(422, "invalid", _summary(faults), faults)


def one_fault(*, where: str, field: str, value: Any, message: str, expected: str, path: str = "") -> Problem:
    """The problem of a single faulty value; `path` is its place in the body, without it the field's name."""
    fault = Fault(where=where, field=field, value=value, message=message, expected=expected, path=path or field)
    return Problem(422, "invalid", _summary([fault]), [fault])


def _summary(faults: list[Fault]) -> str:
    first = faults[0]
    rest = len(faults) - 1
    return f"{first.where}: {first.message}" + (f" (and {rest} more)" if rest else "")


def _fault(fault: Fault) -> dict[str, Any]:
    return asdict(fault) | {"value": _plain(fault.value)}


def _plain(value: Any) -> Any:
    """A value as it can stand in any JSON text: no NaN, nothing long, nothing that is not text."""
    if isinstance(value, float) and not math.isfinite(value):
        return repr(value)
    if value is None or isinstance(value, bool | int | float):
        return value
    if isinstance(value, bytes):
        value = value.decode("utf-8", "replace")
    text = value if isinstance(value, str) else repr(value)
    return text.encode("utf-8", "replace").decode()[:200]


def problem_response(request: Request, problem: Problem) -> Response:
    """The answer for a problem: a page where the address is a page's and one was installed, otherwise JSON."""
    render = getattr(request.app.state, "problem_page", None)
    if render is not None and not request.url.path.startswith(("/api/", "/health/", "/metrics")):
        page: Response = render(request, problem)
        return page
    document = problem.document(
        instance=request.url.path.encode("utf-8", "replace").decode(),
        request_id=getattr(request.state, "request_id", ""),
    )
    return Response(to_json(document), problem.status, dict(problem.headers), PROBLEM_TYPE)


async def _on_problem(request: Request, error: Exception) -> Response:
    assert isinstance(error, Problem)
    return problem_response(request, error)


async def _on_http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    code = _CODE_OF_STATUS.get(error.status_code, "bad_request")
    detail = str(error.detail)
    if error.status_code == 404 and detail == "Not Found":
        detail = f"there is nothing at {request.url.path}"
    if error.status_code == 405:
        detail = f"{request.url.path} does not take {request.method}"
    return problem_response(request, Problem(error.status_code, code, detail, headers=dict(error.headers or {})))


def _wanted(kind: str, limits: dict[str, Any]) -> str:
    """What a value in an address or header should have been, in words; nothing where there are none."""
    bound = next(iter(limits.values()), None)
    return {
        "int_parsing": "a whole number",
        "int_from_float": "a whole number",
        "float_parsing": "a number",
        "bool_parsing": "true or false",
        "greater_than_equal": f"{bound} or more",
        "less_than_equal": f"{bound} or less",
        "greater_than": f"more than {bound}",
        "less_than": f"less than {bound}",
        "string_too_long": f"at most {bound} characters",
        "string_too_short": "a text that is not empty",
        "literal_error": f"one of {bound}",
        "enum": f"one of {bound}",
        "date_from_datetime_parsing": "a date such as 2026-03-02",
        "date_parsing": "a date such as 2026-03-02",
    }.get(kind, "")


async def _on_request_validation(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    faults = []
    for raw in error.errors():
        place, *path = raw["loc"]
        name = next((item for item in reversed(path) if isinstance(item, str)), str(place))
        wanted = _wanted(raw["type"], raw.get("ctx", {}))
        given = raw.get("input")
        message = f"{name} is {str(given)[:80]}; give {wanted}" if wanted else f"{name}: {raw['msg'].lower()}"
        where = {"query": "the address", "path": "the address", "header": "the headers"}.get(str(place), str(place))
        faults.append(Fault(where=where, field=name, value=given, message=message, expected=wanted, path=name))
    return problem_response(request, Problem(422, "invalid", faults[0].message, faults))


async def _on_database(request: Request, error: Exception) -> Response:
    state = getattr(getattr(error, "orig", None), "sqlstate", None)
    locked = isinstance(error, OperationalError) and "locked" in str(error.orig)
    if locked or state in _BUSY_STATES or isinstance(error, TimeoutError):
        problem = Problem(503, "busy", "the database is busy; try again", headers={"Retry-After": "1"})
        return problem_response(request, problem)
    return await on_anything(request, error)


async def on_anything(request: Request, error: Exception) -> Response:
    """The answer where something broke: logged with its request id, and nothing of it said outside."""
    _log.error("unhandled %s", type(error).__name__, exc_info=error)
    detail = "nothing was changed; the request id helps us to find out"
    return problem_response(request, Problem(500, "internal", detail))


def install_error_handlers(app: FastAPI) -> None:
    """Answer every error of `app` as a problem. A page renderer may be set as `app.state.problem_page`."""
    app.add_exception_handler(Problem, _on_problem)
    app.add_exception_handler(HTTPException, _on_http)
    app.add_exception_handler(RequestValidationError, _on_request_validation)
    app.add_exception_handler(DBAPIError, _on_database)
    app.add_exception_handler(TimeoutError, _on_database)
    app.add_exception_handler(Exception, on_anything)
