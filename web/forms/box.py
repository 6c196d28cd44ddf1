"""The walls, floor and ceiling of a room at one go, and what a surface is usually built of."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from web.forms.fields import OPENINGS, Options, fresh_id

WALL_SIDES: Options = (
    ("", "nothing to note (heated room)"),
    ("wall:outside", "outdoors"),
    ("wall:neighbour", "neighbour's heated house"),
    ("wall:unheated", "unheated space"),
)
BOX: Sequence[tuple[str, str, Options]] = (
    ("box.long_1", "One long wall", WALL_SIDES),
    ("box.long_2", "The other long wall", WALL_SIDES),
    ("box.short_1", "One short wall", WALL_SIDES),
    ("box.short_2", "The other short wall", WALL_SIDES),
    ("box.floor", "Under the floor", (
        ("", "nothing to note (heated room)"), ("floor:ground", "the ground"), ("floor:unheated", "unheated space"),
        ("floor:outside", "outdoors (over a passage)"), ("floor:neighbour", "neighbour's heated home"),
    )),
    ("box.ceiling", "Above the ceiling", (
        ("", "nothing to note (heated room)"), ("roof:outside", "loft or roof"),
        ("ceiling:unheated", "another unheated space"), ("ceiling:neighbour", "neighbour's heated home"),
    )),
)  # fmt: skip
"""Each side of a room that is a box: the input, what it is called, what can be behind it."""

_BY_NATURE: Mapping[tuple[str, str], tuple[str, ...]] = {
    ("floor", "ground"): ("ground_slab", "suspended_floor", "basement_floor"),
    ("wall", "ground"): ("basement_wall",),
}
_BY_ROW: Mapping[tuple[str, str], str] = {
    ("wall", "neighbour"): "party wall:",
    ("roof", "outside"): "roof:",
    ("window", "outside"): "window:",
    ("door", "outside"): "door:",
    ("floor", "outside"): "exposed floor:",
}


def with_box(room: Mapping[str, Any], form: Mapping[str, str]) -> dict[str, Any]:
    """The room with a surface more for each side that the form names, as long and high as the room is."""
    length_m, width_m, height_m = (_number(room.get(key)) for key in ("length_m", "width_m", "height_m"))
    sizes: Mapping[str, dict[str, float | None]] = {
        "long": {"length_m": _longer(length_m, width_m), "height_m": height_m},
        "short": {"length_m": _shorter(length_m, width_m), "height_m": height_m},
        "level": {"area_m2": None if length_m is None or width_m is None else round(length_m * width_m, 2)},
    }
    rows = [dict(one) for one in room.get("elements") or ()]
    for name, _, options in BOX:
        kind, _, faces = form.get(name, "").partition(":")
        if form.get(name) and form[name] in [value for value, _ in options]:
            size = sizes[next((part for part in ("long", "short") if part in name), "level")]
            row: dict[str, Any] = {"id": fresh_id("elements", [str(one.get("id", "")) for one in rows])}
            rows.append(row | {"kind": kind, "faces": faces} | {key: v for key, v in size.items() if v is not None})
    return {**room, "elements": rows}


def filled_in(room: Mapping[str, Any], survey: Mapping[str, Any]) -> dict[str, Any]:
    """The room where a surface that does not say it is built as its like are, an opening cut from the only wall there.

    Only what is certain is filled in: one construction for surfaces of this kind, one wall (or roof) to be cut from.
    """
    rows = [dict(one) for one in room.get("elements") or ()]
    others = [one for one in survey.get("rooms") or () if one.get("id") != room.get("id")]
    likes = [*rows, *(one for other in others for one in other.get("elements") or ())]
    for row in rows:
        if not row.get("construction") and row.get("kind") and row.get("faces"):
            usual = _usual(str(row["kind"]), str(row["faces"]), likes, survey.get("constructions") or ())
            if usual is not None:
                row["construction"] = usual
        if not row.get("within") and row.get("kind") in OPENINGS:
            hosts = [str(one["id"]) for one in rows if _may_be_cut(one, row)]
            if len(hosts) == 1:
                row["within"] = hosts[0]
    return {**room, "elements": rows} if "elements" in room else dict(room)


def uncut(room: Mapping[str, Any]) -> Iterator[str]:
    """Openings that do not say what they are cut from, though there are walls or roofs to choose from."""
    rows = room.get("elements") or ()
    for row in rows:
        if row.get("kind") in OPENINGS and not row.get("within"):
            hosts = [one for one in rows if _may_be_cut(one, row)]
            if hosts:
                yield str(row.get("id"))


def _may_be_cut(host: Mapping[str, Any], opening: Mapping[str, Any]) -> bool:
    kinds = ("roof", "ceiling") if opening.get("kind") == "roof_window" else ("wall",)
    return host.get("kind") in kinds and host.get("faces") == opening.get("faces") and bool(host.get("id"))


def _usual(
    kind: str, faces: str, likes: Sequence[Mapping[str, Any]], constructions: Sequence[Mapping[str, Any]]
) -> str | None:
    there = {str(one["id"]) for one in constructions if one.get("id")}
    used = {
        str(one["construction"])
        for one in likes
        if one.get("kind") == kind and one.get("faces") == faces and one.get("construction") in there
    }
    if used:
        return used.pop() if len(used) == 1 else None
    start = _BY_ROW.get((kind, faces))
    fitting = [
        str(one["id"])
        for one in constructions
        if one.get("id")
        and (
            one.get("by") in _BY_NATURE.get((kind, faces), ())
            or (start is not None and str(one.get("row", "")).startswith(start))
            or (kind == "wall" and faces == "outside" and one.get("table") in ("wall_by_age", "stone_by_thickness"))
        )
    ]
    return fitting[0] if len(fitting) == 1 else None


def _number(value: Any) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def _longer(one_m: float | None, other_m: float | None) -> float | None:
    return None if one_m is None or other_m is None else max(one_m, other_m)


def _shorter(one_m: float | None, other_m: float | None) -> float | None:
    return None if one_m is None or other_m is None else min(one_m, other_m)
