"""Answers as bytes: what a route returns when the bytes are kept, conditional or already made."""

from typing import Any

from fastapi import Response
from pydantic import BaseModel
from pydantic_core import to_json

from api.versions import etag

JSON_TYPE = "application/json"


def answer(
    body: BaseModel | dict[str, Any] | list[Any],
    *,
    status: int = 200,
    version: int | None = None,
    location: str | None = None,
) -> Response:
    """A JSON answer, with its ETag and its place where they are given."""
    headers = {}
    if version is not None:
        headers["ETag"] = etag(version)
    if location is not None:
        headers["Location"] = location
    return Response(to_json(body), status, headers, JSON_TYPE)
