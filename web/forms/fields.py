"""Turns a model of the survey into a form and a posted form back into the part. Half-typed values survive both ways."""

import re
import types
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field as dataclass_field
from datetime import date
from decimal import Decimal, InvalidOperation
from functools import cache
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from web.forms.words import HINTS, ONE_OF, THERE_WORDS, choice_words, label_of, unit_of

Kind = Literal["text", "number", "date", "choice", "several", "yes_no", "remark", "one", "many"]
Options = Sequence[tuple[str, str]]
HIDDEN = frozenset({"id", "known", "schema_version", "by", "table"})
EACH_ITS_OWN = ("", "each as marked before")
KNOWN_WORDS = (
    ("measured", "measured"),
    ("plate", "read off the plate"),
    ("told", "told"),
    ("assumed", "assumed"),
)
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)")
_THOUSANDS = re.compile(r"^\d{1,3}(,\d{3})+(\.\d+)?$")


@dataclass(frozen=True, slots=True)
class FieldKind:
    """What a field of a part takes. `blank` is the word that stands for an empty number, None where it is left out."""

    name: str
    kind: Kind
    required: bool
    blank: str | None = None
    whole: bool = False
    optional: bool = False
    values: tuple[str, ...] = ()
    parts: tuple[type[BaseModel], ...] = ()
    default: Any = None


@dataclass(slots=True)
class Input:
    """One input on the page."""

    name: str
    label: str
    kind: Kind
    value: str
    unit: str = ""
    hint: str = ""
    options: Options = ()
    required: bool = False
    blank_words: str = ""
    fault: str = ""
    only: str = ""


@dataclass(slots=True)
class Group:
    """A part on the page: its inputs, its parts and its rows."""

    name: str
    title: str
    key: str = ""
    optional: bool = False
    present: bool = True
    inputs: list[Input] = dataclass_field(default_factory=list)
    groups: list["Group"] = dataclass_field(default_factory=list)
    lists: list["Rows"] = dataclass_field(default_factory=list)
    known: Input | None = None
    by: str = ""
    more: list[Input] = dataclass_field(default_factory=list)
    more_title: str = ""
    there: str = "There is one"

    def faulty(self) -> bool:
        """Whether one of its inputs, or one further in, has a fault to show."""
        return (
            any(one.fault for one in (*self.inputs, *self.more))
            or any(group.faulty() for group in self.groups)
            or any(row.faulty() for rows in self.lists for row in rows.rows)
        )


@dataclass(slots=True)
class Rows:
    """Parts of one kind, one under the other, with what can be added."""

    name: str
    title: str
    one: str
    hint: str
    rows: list[Group]
    add: Options


@cache
def field_kinds(model: type[BaseModel]) -> tuple[FieldKind, ...]:
    """The fields of a part in the order of the model."""
    return tuple(_kind(name, info) for name, info in model.model_fields.items() if name not in HIDDEN)


def _flat(annotation: Any) -> Iterator[Any]:
    """The alternatives of an annotation with `Annotated` and unions opened."""
    origin = get_origin(annotation)
    if origin is Annotated:
        yield from _flat(get_args(annotation)[0])
    elif origin in (Union, types.UnionType):
        for one in get_args(annotation):
            yield from _flat(one)
    else:
        yield annotation


def _kind(name: str, info: FieldInfo) -> FieldKind:
    ways = list(_flat(info.annotation))
    optional = type(None) in ways
    required = info.is_required()
    default = None if required else info.get_default(call_default_factory=True)
    words = tuple(str(value) for way in ways if get_origin(way) is Literal for value in get_args(way))
    parts = tuple(way for way in ways if isinstance(way, type) and issubclass(way, BaseModel))
    rows = [get_args(way)[0] for way in ways if get_origin(way) is tuple]
    if rows:
        if str in _flat(rows[0]):
            return FieldKind(name, "several", required, default=default)
        alternatives = tuple(way for way in _flat(rows[0]) if isinstance(way, type))
        return FieldKind(name, "many", required, parts=alternatives)
    if parts:
        return FieldKind(name, "one", required, optional=optional, parts=parts)
    if bool in ways:
        return FieldKind(name, "yes_no", required, default=default)
    if any(way in ways for way in (float, int, Decimal)):
        blank = words[0] if words else None
        return FieldKind(
            name, "number", required and blank is None, blank=blank, whole=float not in ways and Decimal not in ways,
            optional=optional, default=default,
        )  # fmt: skip
    if words:
        return FieldKind(name, "choice", required, optional=optional, values=words, default=default)
    if date in ways:
        return FieldKind(name, "date", required, optional=optional, default=default)
    long = name in ("notes", "about")
    return FieldKind(name, "remark" if long else "text", required, optional=optional, default=default)


def number_text(value: Any, *, per_cent: bool = False) -> str:
    """A number as it stands in an input: no needless zeros, a ratio as per cent, half-typed text as it was typed."""
    if isinstance(value, bool) or value is None:
        return ""
    try:
        number = Decimal(str(value))
    except InvalidOperation:
        return str(value)
    if not number.is_finite():
        return str(value)
    if isinstance(value, str) and not re.fullmatch(r"-?\d+(\.\d+)?", value):
        return value
    number = number * 100 if per_cent else number
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def number_value(text: str, *, per_cent: bool, whole: bool) -> float | int | str:
    """What was typed as a number; the text itself where it is none, so that nothing typed is lost."""
    typed = text.strip()
    plain = typed.replace(",", "") if _THOUSANDS.match(typed) else typed
    if not _NUMBER.fullmatch(plain):
        return typed
    number = Decimal(plain) / 100 if per_cent else Decimal(plain)
    if number == number.to_integral_value() and (whole or "." not in plain):
        return int(number)
    return float(number)


def form_of(
    model: type[BaseModel],
    part: Mapping[str, Any],
    *,
    title: str = "",
    name: str = "",
    choices: Mapping[str, Options] | None = None,
    faults: Mapping[str, str] | None = None,
) -> Group:
    """The form of a part as it is now, complete or not.

    `choices` gives the options of fields that name something else of the survey ("Element.construction");
    `faults` the words of what is wrong, by input name.
    """
    return _group(model, part, name=name, title=title, choices=choices or {}, faults=faults or {}, top=True)


def _group(
    model: type[BaseModel],
    part: Mapping[str, Any],
    *,
    name: str,
    title: str,
    choices: Mapping[str, Options],
    faults: Mapping[str, str],
    top: bool = False,
) -> Group:
    group = Group(name=name, title=title, key=str(part.get("id") or ""), by=str(part.get("by") or ""))
    owner = model.__name__
    numbers = []
    for kind in field_kinds(model):
        full = f"{name}.{kind.name}" if name else kind.name
        if kind.kind == "many":
            group.lists.append(_rows(owner, kind, part, full, choices, faults))
        elif kind.kind == "one":
            inner = part.get(kind.name)
            child = _group(
                kind.parts[0], inner if isinstance(inner, Mapping) else {}, name=full,
                title=label_of(owner, kind.name), choices=choices, faults=faults,
            )  # fmt: skip
            child.there = THERE_WORDS.get(f"{owner}.{kind.name}", child.there)
            child.optional, child.present = kind.optional, isinstance(inner, Mapping) or not kind.optional
            group.groups.append(child)
        else:
            one = _input(owner, kind, part, full, choices, faults)
            seldom = kind.name in SELDOM.get(owner, ("", ()))[1] and not one.fault and one.value == _blank(kind)
            (group.more if seldom else group.inputs).append(one)
            if kind.kind == "number":
                numbers.append(kind.name)
    group.inputs.sort(key=lambda one: one.kind == "remark")
    group.more_title = SELDOM[owner][0] if group.more else ""
    if numbers:
        group.known = _known_input(part, numbers, name, top=top)
    return group


def _known_input(part: Mapping[str, Any], numbers: Sequence[str], name: str, *, top: bool) -> Input:
    known = part.get("known") or {}
    said = {known.get(number, "measured") for number in numbers if part.get(number) is not None}
    value = said.pop() if len(said) == 1 else "" if said else "measured"
    return Input(
        name=f"{name}.known" if name else "known", label="How the figures are known" if top else "Known by",
        kind="choice", value=value, options=KNOWN_WORDS if value else (EACH_ITS_OWN, *KNOWN_WORDS),
    )  # fmt: skip


def _blank(kind: FieldKind) -> str:
    """What the input of a field shows that nobody touched."""
    if kind.kind == "number":
        return "" if kind.default == kind.blank else number_text(kind.default, per_cent=kind.name.endswith("_ratio"))
    if kind.kind == "yes_no":
        return "yes" if kind.default is True else ""
    return "" if kind.default is None else str(kind.default)


def _input(
    owner: str,
    kind: FieldKind,
    part: Mapping[str, Any],
    full: str,
    choices: Mapping[str, Options],
    faults: Mapping[str, str],
) -> Input:
    key = f"{owner}.{kind.name}"
    per_cent = kind.name.endswith("_ratio")
    held = part.get(kind.name, kind.default)
    shown = kind.kind
    options: Options = ()
    blank_words = ""
    if kind.kind == "number":
        value = "" if held == kind.blank else number_text(held, per_cent=per_cent)
        blank_words = choice_words(owner, kind.name, kind.blank) if kind.blank else ""
    elif kind.kind == "yes_no":
        value = "yes" if held is True else ""
    elif kind.kind == "several":
        value = " ".join(held or ())
    else:
        value = "" if held is None else str(held)
    if key in choices:
        shown, options = "several" if kind.kind == "several" else "choice", choices[key]
    elif kind.kind == "choice":
        options = [(word, choice_words(owner, kind.name, word)) for word in kind.values]
    if shown == "choice":
        if kind.optional or (kind.required and not value):
            options = [("", "by the rules" if owner == "Choices" else "—"), *options]
        if value not in [option for option, _ in options]:
            options = [*options, (value, GONE if key in OF_THE_SURVEY else value or "—")]
    return Input(
        name=full, label=label_of(owner, kind.name), kind=shown, value=value, unit=unit_of(kind.name),
        hint=HINTS.get(key, ""), options=options, required=kind.required, blank_words=blank_words,
        fault=faults.get(full, ""),
        only="" if full in faults or value not in ("", kind.default) else ONLY_FOR.get(key, ""),
    )  # fmt: skip


OPENINGS = ("window", "door", "roof_window")
GONE = "what is no longer in the survey"
OF_THE_SURVEY = frozenset({
    "Element.construction", "Element.beside_room", "Element.within", "WallSpace.emitter", "CylinderPlace.room",
})  # fmt: skip
"""Fields that name another part of the survey, by a mark that means nothing to people once that part is gone."""
BY_KIND = frozenset({"elements", "emitters"})
"""Rows that are added as one of their kinds; an opening faces outdoors unless the surveyor says otherwise."""

SELDOM: Mapping[str, tuple[str, tuple[str, ...]]] = {
    "House": (
        "More: ground, air tightness, how it is lived in",
        ("often_empty", "power_cuts", "slab_wall_thickness_mm", "ground_conductivity_w_per_mk", "air_tightness",
         "air_permeability_m3_per_h_m2", "exposed_facades"),
    ),
    "Room": (
        "More: temperature, air, sloping ceiling, notes",
        ("wanted_temp_c", "air_changes_per_h", "heat_recovery_ratio", "extract_m3_per_h", "supply_m3_per_h",
         "background_vents_m3_per_h", "mean_height_m", "dwelling_part", "fan_accepted", "notes"),
    ),
    "Emitter": (
        "More: exponent, water, one-pipe loop",
        ("exponent", "water_l", "loop_place", "customer_supplies"),
    ),
    "SuspendedFloor": (
        "More: the void under it",
        ("floor_above_ground_m", "vent_area_m2_per_m", "void_wall_u_w_per_m2k", "wind_speed_m_per_s",
         "wind_shielding_ratio"),
    ),
    "ExistingSystem": (
        "More: efficiency, pump, sludge",
        ("boiler_efficiency_ratio", "pump_head_m", "sludge_mg_per_l"),
    ),
    "Position": (
        "More: frost depth, slope, carrying, notes",
        ("frost_depth_mm", "slope_ratio", "carry_m", "notes"),
    ),
    "Choices": (
        "More: dates, method, discount",
        ("priced_on", "works_start_on", "works_end_on", "grant_applied_on", "heat_loss_method", "discount_ratio",
         "fan_assisted", "party_wall_policy", "reheat_w_per_m2", "design_percentile", "altitude_rule"),
    ),
}  # fmt: skip
"""What a surveyor seldom has to say, folded under a line of its own as long as nothing is said, by part."""

ONLY_FOR: Mapping[str, str] = {
    "Element.beside_room": "other_room", "Element.space": "unheated", "Element.within": "opening",
    "Emitter.pipe_spacing_mm": "floor_heating", "Emitter.covering_m2k_per_w": "floor_heating",
    "Emitter.screed_mm": "floor_heating", "Emitter.mixing_valve": "floor_heating",
    "Position.mount_height_m": "wall_mount", "ByTable.thickness_mm": "stone",
    "Load.control_socket": "cooker", "Load.limited": "charge_point",
}  # fmt: skip
"""Fields that one kind alone has, by that kind. The style sheet hides them for others; where it cannot, they show."""


def _rows(
    owner: str,
    kind: FieldKind,
    part: Mapping[str, Any],
    full: str,
    choices: Mapping[str, Options],
    faults: Mapping[str, str],
) -> Rows:
    rows = []
    for index, row in enumerate(part.get(kind.name) or ()):
        model = _row_model(kind, row)
        group = _group(
            model, row, name=f"{full}.{index}", title=_row_title(owner, kind, row, index),
            choices=choices, faults=faults,
        )  # fmt: skip
        rows.append(group)
    one = ONE_OF.get(kind.name, "row")
    add = [(full, f"Add a{'n' if one[0] in 'aeiou' else ''} {one}")]
    if len(kind.parts) > 1:
        add = [(f"{full}:{_by(model)}", choice_words(owner, "by", _by(model))) for model in kind.parts]
    elif kind.name in BY_KIND:
        model = kind.parts[0]
        add = [(f"{full}:{value}", choice_words(model.__name__, "kind", value)) for value in _kinds(model)]
    return Rows(full, label_of(owner, kind.name), one, HINTS.get(f"{owner}.{kind.name}", ""), rows, add)


def _row_title(owner: str, kind: FieldKind, row: Mapping[str, Any], index: int) -> str:
    """What a folded row says: what it is, where it faces, how large it is."""
    model = _row_model(kind, row).__name__
    words = [str(row[key]) for key in ("name", "where") if row.get(key)]
    if not words:
        words = [str(row.get("id") or index + 1)]
    for key in ("by", "what", "kind", "faces", "type", "view"):
        if row.get(key):
            words.append(choice_words(model, key, str(row[key])))
    count = row.get("count")
    if isinstance(count, int) and count > 1:
        words.append(f"{count} off")
    if row.get("rated_kw") is not None:
        words.append(f"{number_text(row['rated_kw'])} kW")
    elif row.get("breaker_a") is not None:
        words.append(f"{number_text(row['breaker_a'])} A")
    if row.get("goes") is True:
        words.append("goes")
    for unit, keys in (("m", ("length_m", "height_m")), ("mm", ("length_mm", "height_mm"))):
        sizes = [number_text(row[key]) for key in keys if row.get(key) is not None]
        if sizes:
            tall = " high" if row.get("distance_m") is not None else ""
            words.append(f"{' × '.join(sizes)} {unit}{tall}")
    if row.get("area_m2") is not None:
        words.append(f"{number_text(row['area_m2'])} m²")
    if row.get("u_w_per_m2k") is not None:
        words.append(f"U {number_text(row['u_w_per_m2k'])}")
    if row.get("distance_m") is not None:
        words.append(f"{number_text(row['distance_m'])} m away")
    return " · ".join(words)


def row_title(model: type[BaseModel], field: str, row: Mapping[str, Any]) -> str:
    """What a row of a part is called where another names it: its mark, what it is, how large."""
    kind = next(one for one in field_kinds(model) if one.name == field)
    return _row_title(model.__name__, kind, row, 0)


def _kinds(model: type[BaseModel]) -> tuple[str, ...]:
    return next((kind.values for kind in field_kinds(model) if kind.name == "kind"), ())


def _by(model: type[BaseModel]) -> str:
    return str(get_args(model.model_fields["by"].annotation)[0])


def _row_model(kind: FieldKind, row: Mapping[str, Any]) -> type[BaseModel]:
    if len(kind.parts) == 1:
        return kind.parts[0]
    return next((model for model in kind.parts if _by(model) == row.get("by")), kind.parts[0])


def part_from_form(
    model: type[BaseModel], form: Mapping[str, str], *, before: Mapping[str, Any], name: str = ""
) -> dict[str, Any]:
    """The part as the posted form has it, laid over what was there before (ids and words the form does not show)."""
    part: dict[str, Any] = dict(before)
    for kind in field_kinds(model):
        full = f"{name}.{kind.name}" if name else kind.name
        if kind.kind == "many":
            if f"{full}.rows" in form:
                rows = _rows_from_form(kind, form, full, before.get(kind.name) or ())
                if rows or kind.name in before:
                    part[kind.name] = rows
        elif kind.kind == "one":
            if kind.optional and f"{full}.shown" in form and f"{full}.there" not in form:
                if kind.name in before:
                    part[kind.name] = None
            elif f"{full}.shown" in form:
                inner = before.get(kind.name)
                old = inner if isinstance(inner, Mapping) else {}
                new = part_from_form(kind.parts[0], form, before=old, name=full)
                if new or kind.optional or kind.name in before:
                    part[kind.name] = new
        elif kind.kind == "yes_no":
            ticked = full in form
            if f"{full}.shown" in form and (kind.name in before or ticked != kind.default):
                part[kind.name] = ticked
        elif kind.kind == "several":
            if f"{full}.shown" in form:
                start = f"{full}."
                part[kind.name] = [
                    key.removeprefix(start) for key in form if key.startswith(start) and form[key] == "yes"
                ]
        elif full in form:
            _put(part, kind, form[full])
            if kind.name not in before and not kind.required and part.get(kind.name) == kind.default:
                part.pop(kind.name, None)
    _put_known(part, model, form, before, f"{name}.known" if name else "known")
    return part


def _put(part: dict[str, Any], kind: FieldKind, text: str) -> None:
    typed = text.strip()
    per_cent = kind.name.endswith("_ratio")
    if typed == "":
        if kind.kind == "number" and kind.blank is not None:
            part[kind.name] = kind.blank
        elif kind.kind in ("remark", "text") and not kind.required and kind.name in part:
            part[kind.name] = ""
        else:
            part.pop(kind.name, None)
    elif kind.kind == "number":
        if typed != number_text(part.get(kind.name), per_cent=per_cent):
            part[kind.name] = number_value(typed, per_cent=per_cent, whole=kind.whole)
    else:
        part[kind.name] = text.replace("\r\n", "\n").strip() if kind.kind == "remark" else typed


def _put_known(
    part: dict[str, Any], model: type[BaseModel], form: Mapping[str, str], before: Mapping[str, Any], key: str
) -> None:
    said = form.get(key, "")
    known = dict(before.get("known") or {})
    numbers = [kind for kind in field_kinds(model) if kind.kind == "number"]
    for kind in numbers:
        if kind.name not in part or part[kind.name] in (kind.blank, None):
            known.pop(kind.name, None)
        elif said and (said != "measured" or kind.name in known):
            known[kind.name] = said
    if known:
        part["known"] = known
    else:
        part.pop("known", None)


def _rows_from_form(
    kind: FieldKind, form: Mapping[str, str], full: str, before: Sequence[Mapping[str, Any]]
) -> list[dict[str, Any]]:
    rows = []
    for index in range(_count(form.get(f"{full}.rows", "0"))):
        old = before[index] if index < len(before) else {}
        posted_id = form.get(f"{full}.{index}.id", "")
        if posted_id and str(old.get("id", "")) != posted_id:
            old = next((row for row in before if str(row.get("id")) == posted_id), {"id": posted_id})
        by = form.get(f"{full}.{index}.by")
        if by:
            old = {**old, "by": by}
        rows.append(part_from_form(_row_model(kind, old), form, before=old, name=f"{full}.{index}"))
    return rows


def _count(text: str) -> int:
    return min(int(text), 400) if text.isdecimal() else 0


def well_typed(model: type[BaseModel], part: Mapping[str, Any]) -> dict[str, Any]:
    """The part without figures that are none ("3,x") or are broken where whole ones are counted: what can be kept."""
    kept: dict[str, Any] = dict(part)
    for kind in field_kinds(model):
        value = part.get(kind.name)
        if kind.kind == "many" and isinstance(value, Sequence):
            kept[kind.name] = [well_typed(_row_model(kind, row), row) for row in value]
        elif kind.kind == "one" and isinstance(value, Mapping):
            kept[kind.name] = well_typed(kind.parts[0], value)
        elif kind.kind == "number" and value is not None:
            a_word = isinstance(value, str) and value != kind.blank and not _NUMBER.fullmatch(value)
            broken = kind.whole and isinstance(value, float) and not value.is_integer()
            if a_word or broken:
                del kept[kind.name]
    return kept


def with_row_added(model: type[BaseModel], part: Mapping[str, Any], where: str) -> tuple[dict[str, Any], str]:
    """The part with one row more at `where` ("layers", "constructions:u_value", "elements:window").

    Returns it and the name of the new row. A name that leads nowhere adds nothing.
    """
    path, _, by = where.partition(":")
    changed: dict[str, Any] = _copy(part)
    steps = path.split(".")
    found = _holder(model, changed, steps)
    if found is None:
        return changed, ""
    holder, kind = found
    rows = holder.setdefault(kind.name, [])
    row: dict[str, Any] = {}
    model_of_row = kind.parts[0]
    if by and by in [_by(one) for one in kind.parts if "by" in one.model_fields]:
        row["by"] = by
        model_of_row = _row_model(kind, row)
    elif kind.name in BY_KIND and by in _kinds(model_of_row):
        row |= {"kind": by, **({"faces": "outside"} if by in OPENINGS else {})}
    if "id" in model_of_row.model_fields:
        row["id"] = fresh_id(kind.name, [str(one.get("id", "")) for one in rows])
    rows.append(row)
    return changed, f"{path}.{len(rows) - 1}"


def with_row_removed(model: type[BaseModel], part: Mapping[str, Any], where: str) -> dict[str, Any]:
    """The part without the row at `where` ("elements.2")."""
    changed: dict[str, Any] = _copy(part)
    path, _, index = where.rpartition(".")
    found = _holder(model, changed, path.split("."))
    if found is not None and index.isdecimal():
        holder, kind = found
        rows = holder.get(kind.name) or []
        if int(index) < len(rows):
            del rows[int(index)]
    return changed


def _holder(
    model: type[BaseModel], part: dict[str, Any], steps: Sequence[str]
) -> tuple[dict[str, Any], FieldKind] | None:
    """The mapping that holds the rows at the end of `steps`, and the kind of those rows."""
    kind = next((one for one in field_kinds(model) if one.name == steps[0] and one.kind in ("many", "one")), None)
    if kind is None:
        return None
    if len(steps) == 1:
        return (part, kind) if kind.kind == "many" else None
    if kind.kind == "one":
        inner = part.get(kind.name)
        return _holder(kind.parts[0], inner, steps[1:]) if isinstance(inner, dict) else None
    rows = part.get(kind.name) or []
    if not steps[1].isdecimal() or int(steps[1]) >= len(rows) or len(steps) < 3:
        return None
    row = rows[int(steps[1])]
    return _holder(_row_model(kind, row), row, steps[2:])


def _copy(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _copy(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_copy(inner) for inner in value]
    return value


_FIRST_LETTERS = {"elements": "e", "emitters": "r", "wall_spaces": "s", "constructions": "c", "positions": "p"}


def fresh_id(kind: str, taken: Sequence[str]) -> str:
    """A short mark for a new row that none of the others has."""
    letter = _FIRST_LETTERS.get(kind, "n")
    number = len(taken) + 1
    while f"{letter}{number}" in taken:
        number += 1
    return f"{letter}{number}"
