"""Request bodies: read as bytes, of the right kind, validated straight from JSON text, refused in the surveyor's words.

Routes take `RawJson` and call `parse`; `documented` tells OpenAPI what the body is.
"""

from functools import lru_cache
from typing import Annotated, Any, TypeVar

from fastapi import Depends, Request
from pydantic import BaseModel, TypeAdapter, ValidationError
from pydantic_core import from_json

from api.errors import Problem, invalid

ModelT = TypeVar("ModelT", bound=BaseModel)

# Every model that a body is read into, by the name of its schema in OpenAPI.
BODY_SCHEMAS: dict[str, Any] = {}


async def raw_json(request: Request) -> bytes:
    """The bytes of a JSON body. Raises a 415 problem for another media type, 422 for no body at all."""
    media_type = request.headers.get("content-type", "application/json").partition(";")[0].strip().lower()
    body = await request.body()
    family, _, subtype = media_type.partition("/")
    if family != "application" or not (subtype == "json" or subtype.endswith("+json")):
        raise Problem(415, "wrong_media_type", f"send JSON with Content-Type: application/json, not {media_type[:80]}")
    if not body.strip():
        raise Problem(422, "not_json", "the body is empty; send JSON")
    return body


async def optional_json(request: Request) -> bytes:
    """The bytes of a JSON body, {} when there is none."""
    return await raw_json(request) if (await request.body()).strip() else b"{}"


RawJson = Annotated[bytes, Depends(raw_json)]
OptionalJson = Annotated[bytes, Depends(optional_json)]


def not_json(error: ValidationError) -> Problem | None:
    """The problem of a body that is not JSON at all, or None where it is JSON of the wrong content."""
    first = error.errors(include_url=False, include_input=False)[0]
    if first["type"] != "json_invalid":
        return None
    reason = str(first.get("ctx", {}).get("error", first["msg"]))
    return Problem(422, "not_json", f"the body is not JSON text in UTF-8: {reason}")


def loosely(raw: bytes) -> Any:
    """The parsed body, whatever it holds, NaN and the like too. Raises ValueError where it is no JSON, or too deep."""
    return from_json(raw)


def parse(model: type[ModelT], raw: bytes, *, where: str) -> ModelT:
    """The body as `model`. Raises a 422 problem that names room, field, value and what would be right."""
    try:
        return model.model_validate_json(raw)
    except ValidationError as error:
        raise not_json(error) or invalid(error, loosely(raw), root=model, where=where) from error


@lru_cache(maxsize=64)
def adapter(kind: Any) -> TypeAdapter[Any]:
    """The validator of a type, made once."""
    return TypeAdapter(kind)


def documented(
    name: str, kind: Any, examples: dict[str, Any] | None = None, *, required: bool = True
) -> dict[str, Any]:
    """`openapi_extra` of a route whose body is `kind`; its schema goes into the components as `name`."""
    BODY_SCHEMAS[name] = kind
    content: dict[str, Any] = {"schema": {"$ref": f"#/components/schemas/{name}"}}
    if examples:
        content["examples"] = examples
    return {"requestBody": {"required": required, "content": {"application/json": content}}}
