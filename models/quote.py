"""A quote as bytes that stay: its number, its seal, the party apart, and what differs between two revisions.

Pure: what is random (the salt) and when it happened come in as arguments.
"""

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal

from pydantic_core import to_json

from models.document import without_cost

PERSONAL_KEYS = ("label",)
"""Keys of an estimate's document that may name a person or an address: they stay out of the sealed bytes."""

About = Literal["unit", "rooms", "days", "quantities", "prices", "total"]


# --- number and seal ---


def revision_number(first: str, place: int) -> str:
    """The number of the `place`-th issued quote of a job whose first has the number `first`: 2026-0417, 2026-0417-2."""
    if place < 1:
        raise ValueError(f"places count from 1, not {place}")
    return first if place == 1 else f"{first}-{place}"


@dataclass(frozen=True, slots=True)
class Sealed:
    """The exact bytes of an issued quote and their SHA-256."""

    body: bytes
    sha256: str


def sealed(workings: Mapping[str, Any], head: Mapping[str, Any]) -> Sealed:
    """The quote's document for good: `head` says number, dates and the hash of the party; cost and names stay out."""
    kept = {key: value for key, value in workings.items() if key not in PERSONAL_KEYS}
    body = to_json({"quote": dict(head), **without_cost(kept)})
    return Sealed(body, sha256_of(body))


def sha256_of(body: bytes) -> str:
    """SHA-256 of bytes in hexadecimal."""
    return hashlib.sha256(body).hexdigest()


def party_hash(*, salt: str, name: str, address: str, contact: str) -> str:
    """SHA-256 of the salt and the party: it proves who was meant, and says nothing once the party is erased."""
    record = {"name": name, "address": address, "contact": contact}
    text = json.dumps(record, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(f"{salt}\n{text}".encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class Verified:
    """What still holds of a sealed quote. `party_holds` is None where the party was erased and cannot be proved."""

    document_holds: bool
    party_holds: bool | None


def verify(
    body: bytes, sha256: str, *, salt: str, party: Mapping[str, str], erased: bool
) -> Verified:
    """Whether bytes still have their hash, and whether the party is still the one whose hash is sealed in them."""
    if sha256_of(body) != sha256:
        return Verified(False, None if erased else False)
    if erased:
        return Verified(True, None)
    inside = json.loads(body)["quote"]["party_hash"]
    return Verified(
        True,
        inside
        == party_hash(salt=salt, name=party["name"], address=party["address"], contact=party["contact"]),
    )  # fmt: skip


# --- what differs ---


@dataclass(frozen=True, slots=True)
class Change:
    """One difference in words; `before` and `after` are what stood and stands there, None where there was nothing."""

    about: About
    where: str
    sentence: str
    before: str | None
    after: str | None


def difference(before: Mapping[str, Any], after: Mapping[str, Any]) -> tuple[Change, ...]:
    """What differs between two documents of one house: unit, rooms, days, quantities, prices, total."""
    return (
        *_unit(before["design"], after["design"]),
        *_rooms(before["design"]["rooms"], after["design"]["rooms"]),
        *_days(before["labour_plan"], after["labour_plan"]),
        *_lines(before, after),
        *_totals(before.get("price"), after.get("price")),
    )


def _change(about: About, where: str, before: str | None, after: str | None) -> Change:
    if before is None:
        sentence = f"{where}: {after}, new"
    elif after is None:
        sentence = f"{where}: no longer there (was {before})"
    else:
        sentence = f"{where}: {after} instead of {before}"
    return Change(about, where, sentence, before, after)


def _compare(about: About, where: str, before: str | None, after: str | None) -> Iterator[Change]:
    if before != after:
        yield _change(about, where, before, after)


def _unit(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[Change]:
    yield from _compare("unit", "Outdoor unit", _machine(before), _machine(after))
    yield from _compare("unit", "Cylinder", _named(before.get("cylinder")), _named(after.get("cylinder")))
    yield from _compare("unit", "Flow temperature", _degrees(before["flow_temp_c"]), _degrees(after["flow_temp_c"]))
    yield from _compare("unit", "Place of the unit", _position(before), _position(after))


def _position(design: Mapping[str, Any]) -> str | None:
    """The chosen position by its name; its id where a document does not name it."""
    chosen = design.get("position_id")
    names = {one["position_id"]: str(one["name"]) for one in design.get("positions") or ()}
    return None if chosen is None else names.get(chosen, str(chosen))


def _machine(design: Mapping[str, Any]) -> str | None:
    unit = design.get("outdoor_unit")
    if unit is None:
        return None
    return unit["name"] if unit["count"] == 1 else f"{unit['count']} × {unit['name']}"


def _named(thing: Mapping[str, Any] | None) -> str | None:
    return None if thing is None else str(thing["name"])


def _degrees(value: float | None) -> str | None:
    return None if value is None else f"{value:g} °C"


def _rooms(before: Sequence[Mapping[str, Any]], after: Sequence[Mapping[str, Any]]) -> Iterator[Change]:
    were = {room["room_id"]: room for room in before}
    are = {room["room_id"]: room for room in after}
    for room_id, room in were.items():
        if room_id not in are:
            yield _change("rooms", room["name"], f"{room['heat_loss_w']:,.0f} W", None)
    for room_id, room in are.items():
        was = were.get(room_id)
        if was is None:
            yield _change("rooms", room["name"], None, f"{room['heat_loss_w']:,.0f} W")
            continue
        yield from _compare(
            "rooms", f"{room['name']}, heat loss", f"{was['heat_loss_w']:,.0f} W", f"{room['heat_loss_w']:,.0f} W"
        )
        yield from _compare("rooms", f"{room['name']}, emitters", _emitters(was), _emitters(room))


def _emitters(room: Mapping[str, Any]) -> str:
    new = [step["description"] for step in room.get("emitter_steps") or () if step["action"] in ("swap", "add")]
    action = str(room["emitter_action"]).replace("_", " ")
    return f"{action}: {', '.join(new)}" if new else action


def _days(before: Mapping[str, Any] | None, after: Mapping[str, Any] | None) -> Iterator[Change]:
    yield from _compare("days", "Days on site", _days_words(before), _days_words(after))
    yield from _compare("days", "First day", _first_day(before), _first_day(after))


def _days_words(plan: Mapping[str, Any] | None) -> str | None:
    days = None if plan is None else plan["days"]
    return None if days is None else f"{days} day" + ("" if days == 1 else "s")


def _first_day(plan: Mapping[str, Any] | None) -> str | None:
    dates = () if plan is None else plan.get("dates") or ()
    if not dates:
        return None
    first = date.fromisoformat(str(dates[0]))
    return f"{first.day} {first:%B %Y}"


def _lines(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[Change]:
    # Where one of the two has no price, its parts are not gone: they were not worked out.
    both = before.get("price") is not None and after.get("price") is not None
    were, are = _priced(before, parts=both), _priced(after, parts=both)
    for key, (name, quantity, unit, _) in were.items():
        if key not in are:
            yield _change("quantities", name, _counted(quantity, unit), None)
    prices: list[Change] = []
    for key, (name, quantity, unit, price) in are.items():
        if key not in were:
            yield _change("quantities", name, None, _counted(quantity, unit))
            continue
        _, quantity_before, unit_before, price_before = were[key]
        yield from _compare("quantities", name, _counted(quantity_before, unit_before), _counted(quantity, unit))
        prices += _compare("prices", name, _a_unit(price_before, unit_before), _a_unit(price, unit))
    yield from prices


_MEASURES = {"m2": "m²", "m3": "m³"}


def _counted(quantity: str, unit: str) -> str:
    """A quantity with its unit as it is said: 2, 4 days, 1.23 m³."""
    if unit == "each":
        return quantity
    several = quantity != "1" and len(unit) > 2
    return f"{quantity} {_MEASURES.get(unit, unit)}{'s' if several else ''}"


def _a_unit(price: str, unit: str) -> str:
    return f"£{price} each" if unit == "each" else f"£{price} a {_MEASURES.get(unit, unit)}"


def _priced(document: Mapping[str, Any], *, parts: bool) -> dict[tuple[str, str], tuple[str, str, str, str]]:
    """Goods by SKU and parts of the price by code: name, quantity, unit, unit price. A sum for the job has none."""
    bill, price = document.get("bill"), document.get("price")
    found = {}
    for line in () if bill is None else bill["lines"]:
        found["sku", line["sku"]] = (
            line["description"], _number(line["charged"]), line["unit"], _number(line["unit_sell_gbp"], least=2),
        )  # fmt: skip
    for part in () if price is None or not parts else price["parts"]:
        found["part", part["code"]] = (
            part["description"], _number(part["quantity"]), part["unit"], _number(part["unit_sell_gbp"], least=2),
        )  # fmt: skip
    return found


def _number(text: Any, *, least: int = 0) -> str:
    """A decimal without trailing noughts, but with at least so many places."""
    whole, _, places = str(text).partition(".")
    places = places.rstrip("0").ljust(least, "0")
    return f"{whole}.{places}" if places else whole


_TOTALS = (
    ("net_pence", "Work and materials before VAT"),
    ("vat_pence", "VAT"),
    ("total_pence", "Full price"),
    ("grant_pence", "Grant"),
    ("customer_pays_pence", "Customer pays"),
)


def _totals(before: Mapping[str, Any] | None, after: Mapping[str, Any] | None) -> Iterator[Change]:
    was, now = _pounds(before, "total_pence"), _pounds(after, "total_pence")
    if was is not None and now is None:
        yield Change("total", "Full price", f"Full price: none, since a stop stands against it (was {was})", was, None)
        return
    for name, words in _TOTALS:
        yield from _compare("total", words, _pounds(before, name), _pounds(after, name))


def _pounds(price: Mapping[str, Any] | None, name: str) -> str | None:
    amount = None if price is None else price[name]
    if amount is None:
        return None
    pounds, rest = divmod(abs(amount), 100)
    return f"{'-' if amount < 0 else ''}£{pounds:,}.{rest:02d}"
