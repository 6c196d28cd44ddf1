"""How figures read to people, on a page and in a terminal alike: pounds from pence, thousands, hours, days."""

import re
from datetime import date
from decimal import Decimal
from typing import Any

STRENGTH_WORDS = {"stop": "Stop", "ask": "Ask", "note": "Note"}
STRENGTH_TITLES = {
    "stop": "Stops: this cannot be issued until they are mended",
    "ask": "Asks: somebody must accept these by name",
    "note": "Notes",
}
QUOTE_WORDS = {
    "drafted": "draft, not yet an offer",
    "issued": "with the customer",
    "accepted": "accepted",
    "declined": "declined",
    "withdrawn": "withdrawn",
    "lapsed": "lapsed",
    "superseded": "replaced by a later quote",
}
EVENT_WORDS = {
    "drafted": "drafted", "issued": "issued", "accepted": "accepted", "declined": "declined",
    "withdrawn": "withdrawn", "lapsed": "lapsed", "superseded": "replaced by a later quote",
    "varied": "a variation was decided",
}  # fmt: skip
ACTION_WORDS = {
    "keep": "keep",
    "swap": "swap",
    "add": "add one",
    "swap_and_add": "swap and add one",
    "remove": "take out",
    "short": "too little: see the findings",
    "none_needed": "none needed",
}

CANCELLATION_FORM = {
    "title": "Cancellation form",
    "when": "(Complete and return this form only if you wish to withdraw from the contract.)",
    "to": "To",
    "statement": "I/We* hereby give notice that I/We* cancel my/our* contract of sale of the following goods*/for the "
    "supply of the following service*:",
    "supply": "Goods and service",
    "ordered": "Ordered on*/received on*",
    "name": "Name of consumer(s)",
    "address": "Address of consumer(s)",
    "signature": "Signature of consumer(s)",
    "signature_when": "only if this form is notified on paper",
    "date": "Date",
    "footnote": "* Delete as appropriate.",
}
"""The model form of the Consumer Contracts Regulations 2013, schedule 3 part B: from memory, compared with a copy."""


def pounds(pence: int | None) -> str:
    """Whole pence as pounds: 1234567 is £12,345.67, an amount below zero has a minus sign before the pound sign."""
    if pence is None:
        return "not known"
    whole, rest = divmod(abs(int(pence)), 100)
    return f"{'−' if pence < 0 else ''}£{whole:,}.{rest:02d}"


def figure(value: Any, places: int = 0) -> str:
    """A figure with thousands separators at so many decimal places; a dash where there is none."""
    if value is None:
        return "–"
    number = round(Decimal(str(value)), places)
    text = f"{abs(number) if number == 0 else number:,.{places}f}"
    return text.replace("-", "−")


def quantity(value: Any) -> str:
    """A quantity as it was counted or measured: no needless zeros, thousands separated."""
    if value is None:
        return "–"
    text = f"{float(value):,.3f}".rstrip("0").rstrip(".")
    return (text or "0").replace("-", "−")


def per_cent(ratio: Any, places: int = 0) -> str:
    """A ratio as per cent, to some places."""
    return "–" if ratio is None else f"{figure(float(ratio) * 100, places)} %"


def words_of(name: Any) -> str:
    """A code name as plain words."""
    return str(name).replace("_", " ")


def hours_of(at: Any) -> float:
    """A time of day as hours since midnight, from "13:30" or from a number."""
    if isinstance(at, int | float):
        return float(at)
    hour, _, minute = str(at).partition(":")
    return int(hour) + int(minute[:2] or 0) / 60


def day_words(day: date | str) -> str:
    """A day as it is written: 2 March 2026."""
    day = date.fromisoformat(day[:10]) if isinstance(day, str) else day
    return f"{day.day} {day:%B %Y}"


def weekday_words(day: str) -> str:
    """A day with its day of the week: Monday 2 March 2026."""
    return f"{date.fromisoformat(day[:10]):%A} {day_words(day)}"


def unit_mark(unit: str) -> str:
    """A unit of measure as it is printed."""
    return {"m2": "m²", "m3": "m³"}.get(unit, unit)


def sentence(text: str) -> str:
    """A text that begins with a capital."""
    return text[:1].upper() + text[1:]


def edition(text: Any, *, named: bool = False) -> str:
    """A text in which versions of prices and rules read as people number them: prices-0003 is "no. 3".

    With `named` it says of what: "price list no. 3".
    """

    def said(found: re.Match[str]) -> str:
        kind, delivered, number = found["of"] or found["kind"], found["delivered"], found["number"]
        what = f"{words_of(kind.lower()).replace('prices', 'price list')} " if named and kind else ""
        return f"{what}as delivered ({delivered[:4]})" if delivered else f"{what}no. {int(number)}"

    return _EDITION.sub(said, str(text))


_KINDS = "prices|recipes|labour_tasks|rates|stage_plans|crews|calendars|firm"
_EDITION = re.compile(
    rf"\b(?:(?:(?P<of>{_KINDS})-)?seed-(?P<delivered>[0-9a-f]{{6,}})|(?P<kind>{_KINDS})-(?P<number>\d{{4,}}))\b",
    re.IGNORECASE,
)


def noted(value: Any) -> str:
    """A value of the audit list as it reads: no programmer's marks, amounts in pounds, hashes cut short."""
    if value is None or value == "" or value == {} or value == []:
        return ""
    if isinstance(value, dict):
        said = [_noted(str(name), one) for name, one in value.items()]
        return "; ".join(one for one in said if one)
    if isinstance(value, list):
        return ", ".join(filter(None, (noted(one) for one in value)))
    if isinstance(value, bool):
        return "yes" if value else "no"
    text = str(value)
    if _HASH.fullmatch(text):
        return f"{text[:8]}…"
    return "" if _ID.fullmatch(text) else edition(words_of(text) if _CODE.fullmatch(text) else text, named=True)


def _noted(name: str, value: Any) -> str:
    if name.endswith("_pence"):
        return f"{words_of(name.removesuffix('_pence'))} {pounds(value) if value is not None else 'none'}"
    said = noted(value)
    name = name.removesuffix("_sha256")
    return f"{words_of(name)} {said}" if said else ""


_HASH = re.compile(r"[0-9a-f]{64}")
_ID = re.compile(r"(?:\w+:)?[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_CODE = re.compile(r"[a-z]+(?:_[a-z]+)+")


def plural(count: Any, one: str, many: str = "") -> str:
    """A count with its word: 1 day, 3 days."""
    return f"{quantity(count)} {one if count == 1 else many or one + 's'}"


def people_words(people: Any) -> str:
    """Several people in a row of words: engineer 1 and engineer 2."""
    names = [words_of(name) for name in people]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def vat_number_words(number: str) -> str:
    """A VAT number in the groups in which it is written: GB 123 4567 82."""
    return " ".join(filter(None, (number[:2], number[2:5], number[5:9], number[9:11], number[11:])))


def sort_code_words(figures: str) -> str:
    """A sort code in the groups in which it is written: 12-34-56."""
    return f"{figures[:2]}-{figures[2:4]}-{figures[4:]}"
