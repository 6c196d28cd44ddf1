"""The one shape of every error."""

from typing import Any

from pydantic import BaseModel


class FaultPublic(BaseModel):
    """One faulty value: where it is as the surveyor knows it, the field, what was given, what would be right."""

    where: str
    field: str
    value: Any
    message: str
    expected: str
    path: str
    code: str


class ProblemPublic(BaseModel):
    """RFC 9457 problem details."""

    type: str
    title: str
    status: int
    detail: str
    instance: str
    request_id: str
    errors: list[FaultPublic]
