"""What is wrong with a survey, in the surveyor's words: which room, which field, what was given, what would be right.

Turns the errors of a pydantic model into `Fault`s.
"""

import difflib
import json
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from pydantic import TypeAdapter
from pydantic_core import ErrorDetails

GAPS = frozenset({
    "missing", "greater_than", "greater_than_equal", "less_than", "less_than_equal", "string_too_short",
    "string_too_long", "string_pattern_mismatch", "too_short", "too_long", "value_error", "union_tag_not_found",
    "decimal_max_digits", "decimal_max_places", "decimal_whole_digits",
})  # fmt: skip
_OUT_OF_RANGE = {"greater_than", "greater_than_equal", "less_than", "less_than_equal"}
_UNITS = (
    ("_w_per_m2k", "W/m2K"), ("_w_per_mk", "W/mK"), ("_m2k_per_w", "m2K/W"), ("_m2_per_m", "square metres a metre"),
    ("_m_per_s", "metres a second"), ("_l_per_min", "litres a minute"), ("_mg_per_l", "mg a litre"),
    ("_pence_per_kwh", "pence a kWh"), ("changes_per_h", "air changes an hour"), ("_m2", "square metres"),
    ("_m3", "cubic metres"), ("_mm", "millimetres"), ("_m", "metres"), ("_c", "degrees C"), ("_k", "kelvin"),
    ("_kwh", "kWh"), ("_kw", "kW"), ("_w", "watts"), ("_l", "litres"), ("_kg", "kg"), ("_a", "amperes"),
    ("_h", "hours"), ("_bar", "bar"), ("_ratio", "a share"),
)  # fmt: skip
_NOUNS = {
    "rooms": "room", "elements": "element", "emitters": "emitter", "wall_spaces": "wall space",
    "positions": "position", "openings": "opening", "windows": "neighbour's window", "constructions": "construction",
    "layers": "layer", "paths": "path", "hazards": "hazard", "photos": "photo", "loft_tanks": "loft tank",
    "accepted": "acceptance", "loads": "load",
}  # fmt: skip
_THINGS = {
    "house": "the house", "existing": "the existing system", "hot_water": "the hot water",
    "cylinder_place": "the cylinder place", "supply": "the electrical supply", "tariffs": "the tariffs",
    "choices": "the choices", "isolator": "the isolator", "pipework": "the pipework", "cylinder": "the old cylinder",
    "party": "the party",
}  # fmt: skip
_SENTENCE_STARTS = re.compile(r"; (?=(?:room|construction|position|the cylinder place)\b)")
_CROSS_CHECKS = (
    (r"room name '(?P<value>.*)' stands", "name", "a name that no other room has"),
    (r"(?:room id|construction|position) '(?P<value>.*)' stands", "id", "an id that stands once"),
    (r"(?:element|emitter|wall space) '(?P<value>.*)' stands", "id", "an id that stands once in its room"),
    (r"is next to room '(?P<value>.*)', which does not exist", "beside_room", "the id of another room of this survey"),
    (r"next to its own room", "beside_room", "the id of another room of this survey"),
    (r"faces another room of the house but does not say which", "beside_room", "the id of another room of this survey"),
    (r"names a room beside it \('(?P<value>.*)'\) but faces", "beside_room", "no beside_room, or faces: room"),
    (r"is built of '(?P<value>.*)', which is not", "construction", "the id of one of the constructions"),
    (r"the openings in .* take (?P<value>[0-9.]+) m2", "area_m2", "openings smaller than what they are cut from"),
    (r"cut from '(?P<value>.*)', which is not", "within", "the id of a wall, roof or floor of this room"),
    (r"neither an area nor", "area_m2", "area_m2, or length_m and height_m"),
    (r"faces an unheated space", "space", "the kind of the unheated space"),
    (r"holds emitter '(?P<value>.*)', which is not", "emitter", "the id of an emitter of this room"),
    (r"the cylinder place is in room '(?P<value>.*)', which", "room", "the id of a room of this survey"),
)
_DAY = re.compile(r"^\d{4}-\d\d-\d\d$")
_ROOM_AT_START = re.compile(r"^room '(?P<name>.*?)': ")


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong: where it is, which field, the value given, the matter in words, what would be right.

    `code` is missing_value, out_of_range, does_not_fit_together (these are gaps: a half-finished survey may be saved
    with them), wrong_type or unknown_field.
    """

    where: str
    field: str
    value: Any
    message: str
    expected: str
    path: str
    code: str = "wrong_type"

    @property
    def is_gap(self) -> bool:
        """Whether the value is missing, out of range or does not fit, but is of the right type."""
        return self.code in ("missing_value", "out_of_range", "does_not_fit_together")


@dataclass(frozen=True)
class _Place:
    where: str
    noun: str


def faults_in_words(
    errors: Sequence[ErrorDetails], body: Any, *, root: Any, where: str, kind: str = ""
) -> list[Fault]:
    """Each error once. `body` is the parsed input, `root` the model or type it failed.

    `where` says what the body is ("room 'Kitchen'"), `kind` of what it is a list ("constructions").
    """
    grouped: dict[tuple[str | int, ...], list[ErrorDetails]] = {}
    for error in errors:
        grouped.setdefault(_path(error["loc"], body), []).append(error)
    result: list[Fault] = []
    for path, group in grouped.items():
        leading = _leading(group)
        deeper = any(other[: len(path)] == path and len(other) > len(path) for other in grouped)
        if leading["type"] == "too_short" and deeper:
            continue
        code = _code(leading["type"])
        result.extend(replace(fault, code=code) for fault in _in_words(leading, path, body, root, where, kind))
    return result


def _code(error_type: str) -> str:
    if error_type in ("missing", "union_tag_not_found"):
        return "missing_value"
    if error_type in ("value_error", "assertion_error"):
        return "does_not_fit_together"
    if error_type in GAPS:
        return "out_of_range"
    return "unknown_field" if error_type == "extra_forbidden" else "wrong_type"


def _leading(group: list[ErrorDetails]) -> ErrorDetails:
    """The error that says most where a value failed every member of a union."""
    order = sorted(group, key=lambda e: (e["type"] not in GAPS, e["type"] == "literal_error"))
    return order[0]


def _path(location: tuple[str | int, ...], body: Any) -> tuple[str | int, ...]:
    """The place of an error in the body itself, without the names of union members that pydantic adds."""
    node, path, after_index = body, list[str | int](), True
    for number, item in enumerate(location):
        last = number == len(location) - 1
        if isinstance(item, int):
            if isinstance(node, list) and item < len(node):
                node, after_index = node[item], True
                path.append(item)
            continue
        if not isinstance(node, dict):
            if last and node is None and not path:
                path.append(item)
            continue
        is_tag = after_index and node.get("by") == item
        after_index = False
        if is_tag:
            continue
        if item in node:
            node = node[item]
            path.append(item)
        elif last:
            path.append(item)
    return tuple(path)


def _place(path: tuple[str | int, ...], body: Any, where: str, list_of: str) -> _Place:
    node, parts, noun, parent = body, list[str](), where.partition(" '")[0], list_of
    for item in path[:-1] if path and isinstance(path[-1], str) else path:
        try:
            node = node[item]
        except (KeyError, IndexError, TypeError):
            break
        if isinstance(item, int):
            noun = _NOUNS.get(parent, parent or "entry")
            parts.append(_called(noun, node, item))
        elif item in _THINGS:
            noun = _THINGS[item].removeprefix("the ")
            parts.append(_THINGS[item])
        parent = str(item)
    if path[:1] == ("survey",) and len(path) > 1:
        where, noun = "the survey", "survey" if not parts else noun
    if parts and where.startswith(("room '", "position '")):
        parts.insert(0, where)
    return _Place(", ".join(parts) or where, noun)


def _called(noun: str, node: Any, index: int) -> str:
    if not isinstance(node, Mapping):
        return f"{noun} {index + 1}"
    if noun == "element" and isinstance(node.get("kind"), str):
        noun = node["kind"].replace("_", " ")[:40]
    for key in ("name", "id"):
        if isinstance(node.get(key), str) and node[key].strip():
            return f"{noun} '{node[key].strip()[:120]}'"
    return f"{noun} {index + 1}"


def _in_words(
    error: ErrorDetails, path: tuple[str | int, ...], body: Any, root: Any, where: str, list_of: str
) -> Iterator[Fault]:
    kind = error["type"]
    if kind == "value_error" and not _names_a_field(path):
        yield from _cross_checks(str(error.get("ctx", {}).get("error", error["msg"])), path, body, where)
        return
    place = _place(path, body, where, list_of)
    field = next((item for item in reversed(path) if isinstance(item, str)), "the body")
    value = None if kind == "missing" else error.get("input")
    schema = _schema_at(root, path)
    expected = _expected(field, schema)
    if kind == "missing":
        message = f"{field} is missing" + (f"; give {expected}" if expected else "")
    elif kind == "extra_forbidden":
        message, expected = _unknown_key(field, place, root, path)
    elif kind in _OUT_OF_RANGE and (bound := _bound_of_days(error)):
        expected = bound
        message = f"{field} is {_said(value)}; give {expected}"
    elif kind in _OUT_OF_RANGE:
        message = f"{field} is {_said(value)}{_looks_like(field, value, schema)}; give {expected}"
    elif kind == "finite_number":
        message = f"{field} is {_said(value)}, which is not a number that can be measured; give {expected}"
    elif kind in ("string_too_short", "too_short"):
        message, expected = _empty(field, value, expected)
    elif kind in ("union_tag_not_found", "union_tag_invalid"):
        tags = str(error.get("ctx", {}).get("expected_tags", "")).replace("'", "")
        expected = f"one of {tags}" if tags else (
            "u_value, layers, table, ground_slab, suspended_floor, basement_floor or basement_wall"
        )
        field = "by"
        given = value.get("by") if isinstance(value, Mapping) else None
        message = f"by is {_said(given)}; give {expected}" if given is not None else f"by is missing; give {expected}"
        value = given
    elif kind == "value_error":
        message = str(error.get("ctx", {}).get("error", error["msg"]))
    elif kind == "json_invalid":
        message, expected, value = error["msg"], "JSON text in UTF-8", None
    else:
        message = f"{field} is {_said(value)}; give {expected}" if expected else f"{field}: {error['msg'].lower()}"
    yield Fault(place.where, field, value, message, expected, _dotted(path))


def _bound_of_days(error: ErrorDetails) -> str:
    """What a day has to be, where the value is one; a JSON schema says nothing about that."""
    words = {"ge": "a day from {} on", "gt": "a day after {}", "le": "a day up to {}", "lt": "a day before {}"}
    for key, day in error.get("ctx", {}).items():
        if key in words and _DAY.match(str(day)):
            return words[key].format(day)
    return ""


def _names_a_field(path: tuple[str | int, ...]) -> bool:
    return len(path) > 1 or (len(path) == 1 and path[0] != "survey")


def _cross_checks(text: str, path: tuple[str | int, ...], body: Any, where: str) -> Iterator[Fault]:
    """The sentences of a survey that does not hang together, one fault each."""
    if path == ("survey",):
        where = "the survey"
    for sentence in _SENTENCE_STARTS.split(text):
        room = _ROOM_AT_START.match(sentence)
        place = f"room '{room['name']}'" if room else where
        said = sentence.removeprefix(f"{place}: ")
        for pattern, field, expected in _CROSS_CHECKS:
            found = re.search(pattern, sentence)
            if found:
                value: Any = found.groupdict().get("value")
                if field == "area_m2" and value is not None:
                    value = float(value)
                if field == "name" and value is not None:
                    value = _as_typed(value, body)
                    place = f"room '{value}'"
                yield Fault(place, field, value, said, expected, _dotted(path))
                break
        else:
            yield Fault(place, "", None, said, "", _dotted(path))


def _as_typed(folded: str, body: Any) -> str:
    survey = body.get("survey", body) if isinstance(body, Mapping) else {}
    rooms = survey.get("rooms", ()) if isinstance(survey, Mapping) else ()
    for room in rooms if isinstance(rooms, list) else ():
        name = room.get("name") if isinstance(room, Mapping) else None
        if isinstance(name, str) and name.strip().casefold() == folded:
            return name.strip()
    return folded


def _unknown_key(field: str, place: _Place, root: Any, path: tuple[str | int, ...]) -> tuple[str, str]:
    known = sorted({name for schema in _schema_at(root, path[:-1]) for name in schema.get("properties", ())})
    near = difflib.get_close_matches(field, known, n=1)
    article = "an" if place.noun[:1] in "aeiou" else "a"
    subject = place.where if place.noun == place.where or place.where.startswith("the ") else f"{article} {place.noun}"
    message = f"{field[:80]} is not a field of {subject}" + (f"; is {near[0]} meant?" if near else "")
    return message, "one of " + ", ".join(known) if known else ""


def _empty(field: str, value: Any, expected: str) -> tuple[str, str]:
    if field == "rooms":
        return "a survey needs at least one room; rooms is empty", "at least one room"
    if isinstance(value, str):
        return f"{field} is empty; give {expected or 'a text'}", expected or "a text"
    return f"{field} has too few entries; give at least one", "at least one"


def _said(value: Any) -> str:
    if isinstance(value, float) and not math.isfinite(value):
        return {"inf": "Infinity", "-inf": "-Infinity"}.get(repr(value), "NaN")
    if isinstance(value, dict):
        return "an object"
    if isinstance(value, list):
        return "a list"
    try:
        return json.dumps(value, ensure_ascii=False)[:80]
    except (TypeError, ValueError):
        return str(value)[:80]


def _dotted(path: tuple[str | int, ...]) -> str:
    text = ""
    for item in path:
        text += f"[{item}]" if isinstance(item, int) else (f".{item}" if text else str(item))
    return text


# --- what a field would take, from the JSON schema of the model ---


@lru_cache(maxsize=64)
def _schema_of(root: Any) -> dict[str, Any]:
    adapter = root if isinstance(root, TypeAdapter) else TypeAdapter(root)
    return adapter.json_schema(mode="validation")


def _schema_at(root: Any, path: tuple[str | int, ...]) -> list[dict[str, Any]]:
    """Every schema that the place may have; several where it lies in a union."""
    top = _schema_of(root)
    nodes = _spread(top, top)
    for item in path:
        found: list[dict[str, Any]] = []
        for node in nodes:
            if isinstance(item, int):
                inner = node.get("items")
            else:
                inner = node.get("properties", {}).get(item)
                if inner is None and isinstance(node.get("additionalProperties"), dict):
                    inner = node["additionalProperties"]
            if isinstance(inner, dict):
                found.extend(_spread(inner, top))
        nodes = found
    return nodes


def _spread(schema: dict[str, Any], top: dict[str, Any]) -> list[dict[str, Any]]:
    if "$ref" in schema:
        return _spread(top["$defs"][schema["$ref"].rsplit("/", 1)[1]], top)
    for word in ("anyOf", "oneOf"):
        if word in schema:
            return [one for member in schema[word] for one in _spread(member, top)]
    return [schema]


def _expected(field: str, schemas: list[dict[str, Any]]) -> str:
    words: list[str] = []
    numbers = any(schema.get("type") in ("number", "integer") for schema in schemas)
    for schema in schemas:
        kind = schema.get("type")
        if "enum" in schema:
            words.append("one of " + ", ".join(str(one) for one in schema["enum"]))
        elif "const" in schema:
            words.append(f'"{schema["const"]}"')
        elif kind in ("number", "integer"):
            words.append(_number(field, schema))
        elif kind == "string" and not numbers:
            words.append(_text(schema))
        elif kind == "boolean":
            words.append("true or false")
        elif kind == "array":
            words.append("a list")
        elif kind == "object":
            words.append("an object")
    return " or ".join(dict.fromkeys(words))


def _text(schema: dict[str, Any]) -> str:
    if schema.get("format") == "date":
        return "a date such as 2026-03-02"
    least, most = schema.get("minLength"), schema.get("maxLength")
    if least and most:
        return f"a text of {least} to {most} characters"
    return f"a text of at most {most} characters" if most else "a text"


def _number(field: str, schema: dict[str, Any]) -> str:
    unit = next((words for suffix, words in _UNITS if field.endswith(suffix)), "")
    whole = schema.get("type") == "integer"
    noun = (f"whole {unit}" if whole else unit) if unit else ("a whole number" if whole else "a number")
    low, above = schema.get("minimum"), schema.get("exclusiveMinimum")
    high, below = schema.get("maximum"), schema.get("exclusiveMaximum")
    if low is not None and high is not None:
        return f"{noun}, {low:g} to {high:g}"
    if above is not None and high is not None:
        return f"{noun}, more than {above:g} and up to {high:g}"
    if above is not None:
        return f"{noun}, more than {above:g}"
    if low is not None:
        return f"{noun}, at least {low:g}"
    if high is not None:
        return f"{noun}, up to {high:g}"
    return noun if below is None else f"{noun}, less than {below:g}"


def _looks_like(field: str, value: Any, schemas: list[dict[str, Any]]) -> str:
    """A word on a value that would fit in another unit: centimetres for metres, per cent for a share."""
    number = next((one for one in schemas if one.get("type") in ("number", "integer")), None)
    try:
        given = float(value)
    except (TypeError, ValueError, OverflowError):
        return ""
    if number is None or not math.isfinite(given):
        return ""
    if given <= 0:
        return ""
    if field.endswith("_m"):
        candidates = (("millimetres", 1000.0), ("centimetres", 100.0)) if given >= 1000 else (("centimetres", 100.0),)
    elif field.endswith("_ratio"):
        candidates = (("per cent", 100.0),)
    else:
        return ""
    for words, divisor in candidates:
        if _fits(given / divisor, number):
            return f": that looks like {words}"
    return ""


def _fits(value: float, schema: dict[str, Any]) -> bool:
    return bool(
        value >= schema.get("minimum", -math.inf)
        and value > schema.get("exclusiveMinimum", -math.inf)
        and value <= schema.get("maximum", math.inf)
    )
