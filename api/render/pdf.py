"""A sealed quote as PDF, in the order in which a householder reads it.

The words are put together here and handed to the typesetter as one JSON value; `quote.typ` only lays them out. So no
text of a survey is ever markup, and the same document gives the same bytes: fonts are those that the typesetter brings
along, and the moment in the file is that of the issue.
"""

import json
import re
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any

from api.render.addressee import Addressee
from api.render.sentences import (
    before_lines,
    beside_lines,
    difference_words,
    emitter_words,
    equipment_words,
    grouped,
    off_lines,
    price_lines,
)
from api.render.wording import (
    CANCELLATION_FORM,
    day_words,
    figure,
    per_cent,
    plural,
    pounds,
    quantity,
    sentence,
    sort_code_words,
    unit_mark,
    vat_number_words,
    weekday_words,
    words_of,
)

Document = Mapping[str, Any]

PAPERS = ("request_to_start_sooner", "cancellation_form")
"""Notices that are papers to be signed: each stands by itself at the end."""
NO_GLYPH = "□"
NO_BREAK = "\u00a0"
_UNIT = re.compile(
    r"(?<=[\d.]) (?=(?:W|kW|L|kWh|m|mm|m²|m³|kg|kPa|Pa|A|h|min|°C|K|%|L/s|m/s|dB|days?|hours?|years?)(?!\w))"
)
_LONG = re.compile(r"(?<!\S)(?![0-9a-f]{64}(?!\S))\S{60,}")
_LONG_IN_A_COLUMN = re.compile(r"\S{18,}")
_KEPT = "\u200b\u200c\u200d"
_TRIED = '#set document(title: "tried")\n#sys.inputs.sign'


def quote_pdf(document: Document, sha256: str, addressee: Addressee | None) -> bytes:
    """The PDF of a sealed document with this hash; without an addressee it names nobody.

    PDF/UA-1 and PDF/A-2a. Signs that none of the fonts has are printed as an empty box, and the last page says so.
    """
    words = quote_words(document, sha256, addressee)
    cleaned = _cleaned(words)
    cleaned["boxes"] = cleaned != words and NO_GLYPH in json.dumps(cleaned, ensure_ascii=False)
    issued_at = datetime.fromisoformat(document["quote"]["issued_at"])
    return _typeset(_template(), json.dumps(cleaned), name="quote", timestamp=int(issued_at.timestamp()))


def _typeset(template: str, value: str, *, name: str, timestamp: int = 0) -> bytes:
    # Loaded when something is first printed: the start of the service does not wait for it.
    import typst

    compiler = typst.Compiler(font_paths=_fonts(), ignore_system_fonts=True)
    # Tagged for readers of screens (ISO 14289-1), and whole in itself for the archive (ISO 19005-2, level A).
    made = compiler.compile(
        template.encode(), format="pdf", sys_inputs={name: value}, pdf_standards=["ua-1", "a-2a"], timestamp=timestamp
    )
    assert isinstance(made, bytes)
    return made


@cache
def _fonts() -> Any:
    import typst

    return typst.Fonts(include_system_fonts=False)


@cache
def _template() -> str:
    return files("api.render").joinpath("quote.typ").read_text(encoding="utf-8")


# --- what can be printed ---


def _cleaned(value: Any) -> Any:
    """The words with every text as it can be set: no sign without a glyph, no unit parted from its number."""
    if isinstance(value, str):
        text = value if value.isascii() and value.isprintable() else _printable(value)
        return _UNIT.sub(NO_BREAK, _LONG.sub(_with_breaks, text)) if len(text) > 3 else text
    if isinstance(value, Mapping):
        return {key: _cleaned(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_cleaned(one) for one in value]
    return value


def _with_breaks(found: "re.Match[str]") -> str:
    """A word that is wider than its place, with places at which it may be broken."""
    return "\u200b".join(re.findall(r".{1,6}", found[0]))


def _printable(text: str) -> str:
    """A text without signs that steer (they may turn a line round); a run of signs without a glyph is one box."""
    kept: list[str] = []
    for sign in unicodedata.normalize("NFC", text):
        if sign.isspace():
            kept.append(" ")
        elif unicodedata.category(sign) in ("Cc", "Cf", "Cs") and sign not in _KEPT:
            continue
        elif sign.isascii() or _has_glyph(sign):
            kept.append(sign)
        elif kept[-1:] != [NO_GLYPH]:
            kept.append(NO_GLYPH)
    return "".join(kept)


@lru_cache(maxsize=10_000)
def _has_glyph(sign: str) -> bool:
    """Whether one of the fonts has a sign: the typesetter itself is asked, once for each sign."""
    import typst

    try:
        _typeset(_TRIED, sign, name="sign")
    except typst.TypstError:
        return False
    return True


# --- the words ---


def quote_words(document: Document, sha256: str, addressee: Addressee | None) -> dict[str, Any]:
    """Everything that a quote prints, as texts and rows of texts."""
    head, price, design = document["quote"], document["price"], document["design"]
    firm = document.get("firm")
    notices = price.get("notices") or ()
    papers = {one["code"]: _notice(one) for one in notices if one["code"] in PAPERS}
    form = papers.get("cancellation_form")
    return {
        "title": f"Quote {head['number']}",
        "number": head["number"],
        "firm": None if firm is None else _firm(firm),
        "dates": [
            ["Quote", head["number"]],
            ["Date", day_words(head["issued_at"])],
            ["Open until", day_words(head["valid_until"])],
            ["Job", str(head["job_number"])],
        ],
        "party": _party(addressee),
        "house": addressee.label if addressee is not None else "",
        "price": [[kind, _to_you(words), amount] for kind, words, amount in price_lines(price)],
        "stages": [_stage(stage) for stage in price["stages"]],
        "stages_sum": [
            pounds(price[name]) for name in ("net_pence", "vat_pence", "total_pence", "customer_pays_pence")
        ],
        "if_late": "" if not price.get("if_late") else f"{sentence(price['if_late']['sentence'])}.",
        "beside": [[title, [list(line) for line in lines]] for title, lines in beside_lines(price)],
        "facts": _facts(design),
        "equipment": [[name, f"{sentence(said)}."] for name, said in equipment_words(design) if said],
        "rooms": [_room(room) for room in design["rooms"]],
        "year": list(_year(design.get("performance"))),
        "year_differs": _year_differs(design.get("performance")),
        "year_rests_on": [sentence(one) for one in (design.get("performance") or {}).get("assumptions") or ()],
        **_days(document),
        "materials": [
            [group, [_charged(line, line["charged"]) for line in lines]]
            for group, lines in grouped(document["bill"]["lines"])
        ],
        "work": [_charged(part, part["quantity"]) for part in price["parts"]],
        "net": pounds(price["net_pence"]),
        "asks": list(_asks(document)),
        "notes": [_said(one) for one in document["findings"] if one["strength"] == "note"],
        "notices": [_notice(one) for one in notices if one["code"] not in PAPERS],
        "request_to_start_sooner": papers.get("request_to_start_sooner"),
        "cancellation_form": None if form is None else {**form, "words": CANCELLATION_FORM},
        "cancellation": price["cancellation"],
        "sha256": sha256,
        "boxes": False,
    }


def _to_you(words: str) -> str:
    return "You pay" if words == "Customer pays" else words


def _firm(firm: Document) -> dict[str, Any]:
    registered = f"{firm['name']}."
    if firm.get("company_number"):
        where = f"registered in {firm['registered_in']} under number {firm['company_number']}"
        registered = f"{firm['name']}, {where}, registered office as at the head."
    held = "; ".join(f"{one['scheme']}: {one['number']}" for one in firm.get("registrations") or ())
    return {
        "name": firm["name"],
        "address": [*firm["address"], firm["postcode"]],
        "reach": [f"Telephone {firm['telephone']}", f"E-mail {firm['email']}"],
        "registered": [
            registered,
            *([f"VAT number {vat_number_words(firm['vat_number'])}."] if firm.get("vat_number") else []),
            *([f"{held}."] if held else []),
        ],
        "bank": _bank(firm["bank"]) if firm.get("bank") else None,
    }


def _bank(bank: Document) -> list[str]:
    return [bank["account_name"], sort_code_words(bank["sort_code"]), bank["account_number"]]


def _party(addressee: Addressee | None) -> dict[str, Any]:
    if addressee is None:
        return {"named": False, "lines": [], "name": "", "address": []}
    texts = (addressee.name, *addressee.address.splitlines(), *addressee.contact.splitlines())
    return {
        "named": True,
        "lines": [text.strip() for text in texts if text.strip()],
        "name": addressee.name,
        "address": addressee.address.splitlines(),
    }


def _stage(stage: Document) -> dict[str, Any]:
    return {
        "name": sentence(stage["name"]),
        "due": stage["due"],
        "tax_point": day_words(stage["tax_point_on"]),
        "trigger": words_of(stage["trigger"]),
        "net": pounds(stage["net_pence"]),
        "vat": pounds(stage["vat_pence"]),
        "rates": [
            f"{per_cent(line['rate_ratio'])} of {pounds(line['net_pence'])}"
            for line in stage["vat"]
            if line["net_pence"]
        ],
        "total": pounds(stage["total_pence"]),
        "grant": pounds(-stage["grant_pence"]) if stage["grant_pence"] else "",
        "pays": pounds(stage["customer_pays_pence"]),
    }


def _facts(design: Document) -> list[list[str]]:
    climate = design["climate"]
    return [
        [
            "Heat loss of the house",
            f"{figure(design['heat_loss_w'])} W, {figure(design['heat_loss_w_per_m2'])} W/m² of "
            f"{figure(design['floor_area_m2'], 1)} m²",
        ],
        [
            "Coldest day it is designed for",
            f"{figure(design['design_outdoor_temp_c'], 1)} °C outdoors ({climate['station']}, "
            f"{figure(climate['station_design_temp_c'], 1)} °C there)",
        ],
        ["Flow and return", f"{figure(design['flow_temp_c'])} °C / {figure(design['return_temp_c'])} °C on that day"],
    ]


def _room(room: Document) -> list[str]:
    return [
        _LONG_IN_A_COLUMN.sub(_with_breaks, room["name"]),
        figure(room["room_temp_c"]),
        figure(room["heat_loss_w"]),
        figure(room["emitter_output_w"]),
        sentence(emitter_words(room)),
    ]


def _year(year: Document | None) -> Iterator[list[str]]:
    if year is None:
        return
    nine = "nine years in ten between"
    yield ["Heat for rooms", f"{figure(year['space_heat_kwh'])} kWh"]
    yield ["Heat for hot water", f"{figure(year['hot_water_kwh'])} kWh"]
    yield [
        "Electricity",
        f"{figure(year['electricity_kwh'])} kWh; {nine} {figure(year['low_kwh'])} and {figure(year['high_kwh'])} kWh",
    ]
    yield ["Heat for each unit of electricity", f"{figure(year['seasonal_ratio'], 2)} over the year"]
    yield [
        "Costs to run",
        f"{pounds(year['running_cost_pence'])} a year; {nine} {pounds(year['running_cost_low_pence'])} and "
        f"{pounds(year['running_cost_high_pence'])}",
    ]
    if year["fuel_now_cost_pence"] is not None:
        yield ["Fuel today", f"{figure(year['fuel_now_kwh'])} kWh, {pounds(year['fuel_now_cost_pence'])} a year"]
    if year["saving_pence"] is not None:
        low, high = year["saving_low_pence"], year["saving_high_pence"]
        span = "" if low is None or high is None else f"; {nine} {difference_words(low)} and {difference_words(high)}"
        yield ["Difference", f"{difference_words(year['saving_pence'])} than today{span}"]


def _year_differs(year: Document | None) -> list[str]:
    said = []
    for term in (year or {}).get("range_terms") or ():
        less = f"{figure(term['less_kwh'])} kWh less to " if term["less_kwh"] else ""
        said.append(f"{sentence(term['what'])}, {term['span']}: {less}{figure(term['more_kwh'])} kWh more")
    return said


def _days(document: Document) -> dict[str, Any]:
    plan = document["labour_plan"]
    return {
        "before": [list(line) for line in before_lines(document["before_day_one"])],
        "plan": f"{plural(plan['days'], 'day')}, {figure(plan['person_hours'], 1)} hours of work by "
        f"{plural(plan['crew'], 'engineer')} and the trades named below.",
        "off": [list(line) for line in off_lines(plan)],
        "days": [
            {"title": _day_title(day, plan.get("dates") or ()), "tasks": tasks}
            for day, tasks in _tasks_by_day(plan["tasks"])
        ],
    }


def _day_title(day: int, dates: Sequence[str]) -> str:
    return f"Day {day}, {weekday_words(dates[day - 1])}" if 0 < day <= len(dates) else f"Day {day}"


def _tasks_by_day(tasks: Sequence[Document]) -> list[tuple[int, list[list[str]]]]:
    """The tasks of each day as (from, to, what, who), in the order in which they begin; one begun before goes on."""
    days: dict[int, list[tuple[str, str, str, str]]] = {}
    for task in tasks:
        spans: dict[int, list[tuple[str, str]]] = {}
        for day, start, end in task["pieces"]:
            spans.setdefault(day, []).append((start, end))
        who = ", ".join(words_of(one) for one in task["people"]) or words_of(task["trade"])
        for day, pieces in spans.items():
            start, end = min(piece[0] for piece in pieces), max(piece[1] for piece in pieces)
            days.setdefault(day, []).append((start, end, task["name"], who))
    return [
        (day, [[f"{start}–{end}", name, who] for start, end, name, who in sorted(days[day], key=lambda one: one[0])])
        for day in sorted(days)
    ]


def _charged(line: Document, amount: Any) -> list[str]:
    return [line["description"], quantity(amount), unit_mark(line["unit"]), pounds(line["sell_pence"])]


def _said(finding: Document) -> dict[str, str]:
    remedy = f" {sentence(finding['remedy'])}." if finding["remedy"] else ""
    return {"where": sentence(finding["where"]), "said": f"{finding['message']}.{remedy}", "accepted": ""}


def _asks(document: Document) -> Iterator[dict[str, str]]:
    accepted = {(one["code"], one["where"]): one for one in document["quote"]["accepted"]}
    for finding in document["findings"]:
        if finding["strength"] == "ask":
            by = accepted.get((finding["code"], finding["where"]))
            said = "" if by is None else f"Accepted by {by['by']}: {by['reason']}"
            yield {**_said(finding), "accepted": said}


def _notice(notice: Document) -> dict[str, Any]:
    source = notice["source"]
    standing = "" if source["standing"] == "published" else f" ({source['standing']})"
    return {
        "title": notice["title"],
        "text": [part for part in notice["text"].splitlines() if part.strip()],
        "source": f"{source['document']}, {source['clause']}{standing}",
    }
