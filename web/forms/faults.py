"""What is missing or wrong in a part, in the surveyor's words, by the name of the input it belongs to."""

import re
from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import BaseModel, ValidationError

from web.forms.fields import FieldKind, field_kinds, number_text
from web.forms.words import ONE_OF, label_of, unit_of


def faults_of(model: type[BaseModel], part: Mapping[str, Any]) -> dict[str, str]:
    """The faults of a part by input name; those that belong to no single input stand under the empty name.

    A missing value is said as missing, a number out of its range with the range and, where a height looks like
    centimetres or a length like millimetres, with what it probably was.
    """
    try:
        model.model_validate(part)
    except ValidationError as error:
        found: dict[str, str] = {}
        for one in error.errors(include_url=False):
            name, owner, kind = _input_at(model, part, one["loc"])
            words = _words(one, owner, kind)
            if name not in found:
                found[name] = words
            elif name == "" and words not in found[name]:
                found[name] = f"{found[name]}; {words}"
        return found
    return {}


def fault_lines(model: type[BaseModel], part: Mapping[str, Any]) -> list[str]:
    """The faults of a part as lines to read, each naming its place and its value's label."""
    lines = []
    for name, words in faults_of(model, part).items():
        place = place_words(model, part, name)
        lines.append(f"{place}: {words}" if place else words)
    return lines


def place_words(model: type[BaseModel], part: Mapping[str, Any], name: str) -> str:
    """Where an input stands, as the surveyor knows it: "wall e3, Or length (width)"."""
    if not name:
        return ""
    words: list[str] = []
    here, at, steps = model, part, name.split(".")
    while steps:
        kind = next((one for one in field_kinds(here) if one.name == steps[0]), None)
        if kind is None:
            break
        if kind.kind == "many" and len(steps) > 1 and steps[1].isdecimal():
            rows: Any = at.get(kind.name) if isinstance(at, Mapping) else None
            index = int(steps[1])
            row = rows[index] if isinstance(rows, Sequence) and index < len(rows) else {}
            what = str(row.get("kind") or row.get("what") or "").replace("_", " ") if isinstance(row, Mapping) else ""
            what = what or ("" if isinstance(row, Mapping) and row.get("name") else ONE_OF.get(kind.name, ""))
            which = str(row.get("name") or row.get("id") or index + 1) if isinstance(row, Mapping) else str(index + 1)
            words.append(f"{what} {which}".strip())
            here, at, steps = _model_of(kind, row), row, steps[2:]
        elif kind.kind == "one" and len(steps) > 1:
            words.append(label_of(here.__name__, kind.name))
            here, at, steps = kind.parts[0], at.get(kind.name) or {}, steps[1:]
        else:
            words.append(label_of(here.__name__, kind.name))
            break
    return ", ".join(words)


def _model_of(kind: FieldKind, row: Any) -> type[BaseModel]:
    by = row.get("by") if isinstance(row, Mapping) else None
    for part in kind.parts:
        field = part.model_fields.get("by")
        if field is not None and by is not None and by in str(field.annotation):
            return part
    return kind.parts[0]


def _input_at(
    model: type[BaseModel], part: Mapping[str, Any], loc: Sequence[int | str]
) -> tuple[str, str, FieldKind | None]:
    """The input name of an error's place: pydantic's tags of union branches are left out."""
    name: list[str] = []
    here, at = model, part
    owner, found = model.__name__, None
    index = 0
    while index < len(loc):
        kind = next((one for one in field_kinds(here) if one.name == loc[index]), None)
        if kind is None:
            if isinstance(loc[index], str) and loc[index] in (at if isinstance(at, Mapping) else {}):
                return ".".join(name), owner, None
            index += 1
            continue
        name.append(kind.name)
        owner, found = here.__name__, kind
        value = at.get(kind.name) if isinstance(at, Mapping) else None
        index += 1
        if kind.kind == "many" and index < len(loc) and isinstance(loc[index], int):
            row_index = int(loc[index])
            name.append(str(row_index))
            at = value[row_index] if isinstance(value, Sequence) and row_index < len(value) else {}
            here = _model_of(kind, at)
            index += 1
        elif kind.kind == "one":
            here, at = kind.parts[0], value if isinstance(value, Mapping) else {}
        else:
            break
    return ".".join(name), owner, found


def _words(error: Mapping[str, Any], owner: str, kind: FieldKind | None) -> str:
    reason = str(error["type"])
    limits = error.get("ctx", {})
    given = error.get("input")
    unit = unit_of(kind.name) if kind else ""
    per_cent = unit == "%"
    if reason == "missing":
        return "missing"
    if reason in ("greater_than", "greater_than_equal", "less_than", "less_than_equal"):
        limit = number_text(next(iter(limits.values())), per_cent=per_cent)
        side = {"greater_than": "more than", "greater_than_equal": "at least", "less_than": "less than"}.get(
            reason, "at most"
        )
        said = f"{number_text(given, per_cent=per_cent)} cannot be right: it must be {side} {limit}"
        said += "" if unit == "%" or not unit else f" {unit}"
        said += " %" if unit == "%" else ""
        return said + _slip(kind, given, reason)
    if reason in ("float_parsing", "int_parsing", "decimal_parsing", "float_type", "int_type", "finite_number"):
        comma = re.fullmatch(r"[+-]?\d+,\d+", str(given))
        return f"'{given}' is not a number" + (f": write {str(given).replace(',', '.')}" if comma else "")
    if reason in ("int_from_float",):
        return f"{number_text(given)} must be a whole number"
    if reason in ("literal_error", "union_tag_invalid"):
        return f"'{given}' is not one of the choices" if given else "missing"
    if reason == "string_too_short":
        return "missing"
    if reason == "string_too_long":
        return f"longer than {limits.get('max_length')} characters"
    if reason == "too_short":
        return f"none noted; at least {limits.get('min_length', 1)} is needed"
    if reason == "extra_forbidden":
        return f"'{error['loc'][-1]}' is not a value that a survey has"
    if reason == "value_error":
        return str(error["msg"]).removeprefix("Value error, ")
    return str(error["msg"])


def _slip(kind: FieldKind | None, given: Any, reason: str) -> str:
    """The slip of a unit that an oversize figure suggests."""
    if kind is None or not reason.startswith("less") or not isinstance(given, int | float):
        return ""
    if kind.name == "height_m" and 150 <= given <= 600:
        return f". It looks like centimetres: write {number_text(round(given / 100, 3))}"
    if kind.name.endswith("_m") and given >= 1000:
        return f". It looks like millimetres: write {number_text(round(given / 1000, 3))}"
    return ""
