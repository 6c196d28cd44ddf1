"""A quote as text for a terminal of any width: the design, the day plan, the bill and the price."""

import textwrap
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from api.render.sentences import (
    before_lines,
    beside_lines,
    difference_words,
    emitter_words,
    equipment_words,
    grouped,
    off_lines,
    price_lines,
    stage_words,
    vat_words,
)
from api.render.wording import (
    STRENGTH_TITLES,
    figure,
    people_words,
    plural,
    pounds,
    quantity,
    sentence,
    unit_mark,
    weekday_words,
    words_of,
)
from web.day_chart import day_strips
from web.sentences import RANKING_RULE, basis_lines, method_lines, proof_words, ranking_rows, what_if_rows

MOST_TERMS = 3
Document = Mapping[str, Any]
Column = tuple[str, int, str]
NARROWEST, WIDEST = 40, 110


def terminal_text(document: Document, width: int, *, off_said: str = "") -> str:
    """The whole document as lines of at most `width` characters (from 40 up), the heaviest news first.

    `off_said` is the customer's sentence about services. Day papers and what-ifs follow the plan where it holds them.
    """
    width = max(NARROWEST, min(width, WIDEST))
    design, plan = document["design"], document["labour_plan"]
    blocks = [
        _title(document, width),
        *_findings(document["findings"], width, ("stop", "ask")),
        _house(design, width),
        _rooms(design, width),
        _equipment(design, width),
        _positions(design, width),
        _noise(design, width),
        _performance(design, width),
        _before(document["before_day_one"], width),
        [*_plan(plan, width), *_wrap(off_said, width)],
        _what_if(document.get("what_if"), width),
        *_papers(document.get("days"), width),
        _bill(document["bill"], document["price"], width),
        *_findings(document["findings"], width, ("note",)),
        _price(document["price"], width),
        _basis(document["basis"], width),
    ]
    lines = [line for block in blocks if block for line in [*block, ""]]
    return "\n".join(_printable(line).rstrip() for line in lines)


def _printable(line: str) -> str:
    """The line without control characters, so that no name in a survey can steer the terminal."""
    return "".join(letter for letter in line if unicodedata.category(letter) not in ("Cc", "Cf"))


def _title(document: Document, width: int) -> list[str]:
    return [*_wrap(document["label"], width), "=" * min(width, max(len(document["label"]), 8))]


def _heading(text: str, width: int) -> list[str]:
    lines = _wrap(text, width)
    return [*lines, "-" * max(len(line) for line in lines)]


def _wrap(text: str, width: int, indent: str = "", first: str | None = None) -> list[str]:
    return textwrap.wrap(
        " ".join(str(text).split()), width, initial_indent=indent if first is None else first,
        subsequent_indent=indent, break_on_hyphens=False,
    )  # fmt: skip


def _facts(pairs: Sequence[tuple[str, str]], width: int) -> list[str]:
    """Names to the left, what is said of them to the right; under each other where it is narrow."""
    pairs = [(name, said) for name, said in pairs if said]
    if not pairs:
        return []
    left = min(22, max(len(name) for name, _ in pairs))
    lines: list[str] = []
    for name, said in pairs:
        if width >= 64:
            lines += _wrap(said, width, " " * (left + 2), f"{name:<{left}}  ")
        else:
            lines += [*_wrap(name, width), *_wrap(said, width, "  ")]
    return lines


def _table(columns: Sequence[Column], rows: Sequence[Sequence[str]], width: int) -> list[str]:
    """A table with one column (width 0) that takes what is left and wraps; figures stand to the right (">")."""
    fixed = sum(size + 2 for _, size, _ in columns if size)
    rest = max(width - fixed, 12)
    sizes = [size or rest for _, size, _ in columns]
    lines = [_row([name for name, _, _ in columns], columns, sizes)]
    lines.append("  ".join("·" * size for size in sizes)[:width])
    for row in rows:
        cells = [
            textwrap.wrap(cell, size, break_on_hyphens=False) or [""] for cell, size in zip(row, sizes, strict=True)
        ]
        for step in range(max(len(cell) for cell in cells)):
            lines.append(_row([cell[step] if step < len(cell) else "" for cell in cells], columns, sizes))
    return lines


def _row(cells: Sequence[str], columns: Sequence[Column], sizes: Sequence[int]) -> str:
    return "  ".join(
        f"{cell:{side or '<'}{size}}" for cell, size, (_, _, side) in zip(cells, sizes, columns, strict=True)
    ).rstrip()


def _findings(findings: Sequence[Document], width: int, strengths: Sequence[str]) -> Iterator[list[str]]:
    for strength in strengths:
        found = [finding for finding in findings if finding["strength"] == strength]
        if not found:
            continue
        lines = _heading(STRENGTH_TITLES[strength], width)
        for finding in found:
            lines += _wrap(f"{finding['where']}: {finding['message']}", width, "  ", "* ")
            if finding.get("remedy"):
                lines += _wrap(finding["remedy"], width, "    ", "  → ")
            if finding.get("source"):
                lines += _wrap(f"({finding['source']})", width, "  ")
        yield lines


def _house(design: Document, width: int) -> list[str]:
    climate = design["climate"]
    station = (
        f"{climate['station']}: {figure(climate['station_design_temp_c'], 1)} °C, "
        f"for the altitude {figure(climate['altitude_correction_k'], 1)} K"
    )
    return [
        *_heading("Heat loss", width),
        *_facts(
            [
                (
                    "House",
                    f"{figure(design['heat_loss_w'])} W, {figure(design['heat_loss_w_per_m2'])} W/m² of "
                    f"{figure(design['floor_area_m2'], 1)} m²",
                ),
                (
                    "of which",
                    f"{figure(design['transmission_w'])} W through walls, windows, floors and roof, "
                    f"{figure(design['ventilation_w'])} W in the air",
                ),
                ("Outdoors, design", f"{figure(design['design_outdoor_temp_c'], 1)} °C ({station})"),
                ("Flow and return", f"{figure(design['flow_temp_c'])} °C / {figure(design['return_temp_c'])} °C"),
                ("Compared", _compared(design)),
                ("Hottest water for", _governing(design)),
            ],
            width,
        ),
    ]


def _governing(design: Document) -> str:
    governing = design.get("governing_room_id")
    return next((room["name"] for room in design["rooms"] if room.get("room_id") == governing), "") if governing else ""


def _compared(design: Document) -> str:
    """The other methods and next door; nothing in documents that do not carry them."""
    if "other_methods" not in design:
        return ""
    return ". ".join(f"{name}: {said}" for name, said, _ in method_lines(design)[1:])


def _rooms(design: Document, width: int) -> list[str]:
    flow = figure(design["flow_temp_c"])
    head = _heading(f"Rooms and emitters at {flow} °C flow", width)
    if width < 72:
        lines = []
        for room in design["rooms"]:
            lines += _wrap(
                f"{room['name']}: {figure(room['room_temp_c'])} °C, loses {figure(room['heat_loss_w'])} W, "
                f"emitters give "
                f"{figure(room['emitter_output_w'])} W; {emitter_words(room)}", width, "  ", "* ",
            )  # fmt: skip
        return [*head, *lines]
    columns: list[Column] = [
        ("Room", 20, ""), ("°C", 4, ">"), ("Loss W", 7, ">"), ("Gives W", 7, ">"), ("What to do", 0, ""),
    ]  # fmt: skip
    rows = [
        [
            room["name"], figure(room["room_temp_c"]), figure(room["heat_loss_w"]), figure(room["emitter_output_w"]),
            emitter_words(room),
        ]
        for room in design["rooms"]
    ]  # fmt: skip
    return [*head, *_table(columns, rows, width)]


def _equipment(design: Document, width: int) -> list[str]:
    return [*_heading("What goes in", width), *_facts(equipment_words(design), width)]


def _positions(design: Document, width: int) -> list[str]:
    ranked = ranking_rows(design)
    if len(ranked) < 2:
        return []
    lines = _heading("Where the outdoor unit could go", width)
    for rank, name, verdict, route, against in ranked:
        said = "; ".join(message for _, message in against) or "nothing speaks against it"
        lines += _wrap(f"{rank}. {name}: {verdict}, {route} m of pipe route; {said}", width, "   ", "")
    return [*lines, *_wrap(f"({RANKING_RULE})", width)]


def _noise(design: Document, width: int) -> list[str]:
    if not design["noise"]:
        return []
    head = _heading("Noise at neighbours' windows", width)
    lines: list[str] = []
    for noise in design["noise"]:
        limit = "no limit" if noise["limit_dba"] is None else f"limit {figure(noise['limit_dba'], 1)} dB(A)"
        verdict = {True: "passes", False: "does not pass", None: "not judged"}[noise["passes"]]
        lines += _wrap(
            f"{noise['where']}, {figure(noise['distance_m'], 1)} m: "
            f"{figure(noise['level_dba'], 1)} dB(A), {limit}: {verdict}",
            width, "  ", "* ",
        )  # fmt: skip
    return [*head, *lines]


def _performance(design: Document, width: int) -> list[str]:
    year = design.get("performance")
    if year is None:
        return []
    pairs = [
        ("Heat", f"{figure(year['space_heat_kwh'])} kWh for rooms, {figure(year['hot_water_kwh'])} kWh for hot water"),
        (
            "Electricity",
            f"{figure(year['electricity_kwh'])} kWh "
            f"(nine in ten between {figure(year['low_kwh'])} and {figure(year['high_kwh'])}), "
            f"{figure(year['seasonal_ratio'], 2)} units of heat from each unit of electricity",
        ),
        (
            "Costs to run",
            f"{pounds(year['running_cost_pence'])} a year (nine in ten between "
            f"{pounds(year['running_cost_low_pence'])} and {pounds(year['running_cost_high_pence'])})",
        ),
        ("Years differ by", _range_words(year["range_terms"])),
    ]
    if year.get("fuel_now_cost_pence") is not None:
        pairs.append(("Fuel today", f"{figure(year['fuel_now_kwh'])} kWh, {pounds(year['fuel_now_cost_pence'])}"))
    if year.get("saving_pence") is not None:
        pairs.append(
            (
                "Difference",
                f"{difference_words(year['saving_pence'])} than today (nine in ten between "
                f"{difference_words(year['saving_low_pence'])} and {difference_words(year['saving_high_pence'])})",
            )
        )
    return [*_heading("A year of running", width), *_facts(pairs, width)]


def _range_words(terms: Sequence[Document]) -> str:
    """The three assumptions that make years and households differ most."""
    most = sorted(terms, key=lambda term: -max(term["less_kwh"], term["more_kwh"]))[:MOST_TERMS]
    return "; ".join(
        f"{term['what']}, {term['span']} ("
        + (f"−{figure(term['less_kwh'])}, " if term["less_kwh"] else "")
        + f"+{figure(term['more_kwh'])} kWh)"
        for term in most
    )


def _before(before: Sequence[Document], width: int) -> list[str]:
    if not before:
        return []
    lines = _heading("Before day 1", width)
    for what, said in before_lines(before):
        lines += _wrap(f"{what}: {said}", width, "  ", "* ")
    return lines


def _plan(plan: Document | None, width: int) -> list[str]:
    if plan is None or plan["days"] is None:
        return [*_heading("Day plan", width), "none: see the stops"]
    lines = _heading(f"Day plan: {plural(plan['days'], 'day')}, {figure(plan['person_hours'], 1)} person-hours", width)
    for strip in day_strips(plan["tasks"], plan["dates"]):
        lines.append(strip.title)
        for _, times, name, who in strip.lines:
            lines += _wrap(f"{times}  {name} · {who}", width, " " * 14, "  ")
    lines += _wrap(proof_words(plan), width)
    lines += _facts(off_lines(plan), width)
    return lines


def _what_if(answers: Sequence[Document] | None, width: int) -> list[str]:
    if answers is None:
        return []
    lines = _heading("What if", width)
    for row in what_if_rows(answers):
        lines += _wrap(f"{row['title']}: {row['said']}", width, "  ", "* ")
    return lines if answers else [*lines, "nothing to ask: there is no plan"]


def _papers(papers: Document | None, width: int) -> Iterator[list[str]]:
    """Delivery checks, then each day's sheets by trade, then what to bring."""
    if papers is None:
        return
    if papers["delivery_checks"]:
        lines = _heading("Delivery checks, before strip-out", width)
        for check in papers["delivery_checks"]:
            lines += _wrap(check, width, "    ", "[ ] ")
        yield lines
    for sheet in papers["sheets"]:
        on = f", {weekday_words(sheet['on'])}" if sheet["on"] else ""
        lines = _heading(f"Sheet of day {sheet['day']}{on}: {words_of(sheet['trade'])}", width)
        lines += _wrap(f"{people_words(sheet['people'])}, {sheet['arrives']} to {sheet['leaves']}", width)
        for line in sheet["lines"]:
            on = " (goes on another day)" if line["goes_on"] else ""
            said = f"{line['since']}–{line['until']}  {line['name']}{on} · {people_words(line['people'])}"
            lines += _wrap(said, width, " " * 14, "  ")
        for caution in sheet["cautions"]:
            lines += _wrap(caution, width, "  ", "! ")
        yield lines
    for found in papers["pick_lists"]:
        supplier = f": {found['supplier']}" if found.get("supplier") else ""
        lines = _heading(f"To bring for day {found['day']}{supplier}", width)
        for line in found["lines"]:
            said = f"{quantity(line['bought'])} {unit_mark(line['unit'])} {line['description']} ({line['sku']})"
            lines += _wrap(said, width, "    ", "[ ] ")
        yield lines


def _bill(bill: Document | None, price: Document | None, width: int) -> list[str]:
    if bill is None:
        return [*_heading("Bill of materials", width), "none: see the stops"]
    lines = _heading(f"Bill of materials: {plural(len(bill['lines']), 'line')}", width)
    for group, members in grouped(bill["lines"]):
        lines += ["", *_wrap(group, width)]
        for line in members:
            amounts = f"{quantity(line['charged'])} {unit_mark(line['unit'])}"
            if line["used"] != line["charged"]:
                amounts = (
                    f"{quantity(line['used'])} used, {quantity(line['charged'])} {unit_mark(line['unit'])} charged"
                )
            lines += _bill_line(line["description"], amounts, pounds(line["sell_pence"]), width)
    if price is not None and price["parts"]:
        lines += ["", "Work and what goes with it"]
        for part in price["parts"]:
            amounts = f"{quantity(part['quantity'])} {part['unit']}"
            lines += _bill_line(part["description"], amounts, pounds(part["sell_pence"]), width)
    return lines


def _bill_line(description: str, amounts: str, price: str, width: int) -> list[str]:
    if width >= 90:
        return _table_line(description, amounts, price, width)
    last = f"    {amounts}"
    return [*_wrap(description, width, "    ", "  "), f"{last:<{max(width - len(price) - 1, 1)}} {price}"]


def _table_line(description: str, amounts: str, price: str, width: int) -> list[str]:
    left = width - 2 - 32 - 13
    parts = textwrap.wrap(description, left, break_on_hyphens=False) or [""]
    sizes = textwrap.wrap(amounts, 31, break_on_hyphens=False) or [""]
    lines = []
    for step in range(max(len(parts), len(sizes))):
        text = parts[step] if step < len(parts) else ""
        size = sizes[step] if step < len(sizes) else ""
        lines.append(f"  {text:<{left}} {size:<31} {price if step == 0 else '':>12}")
    return lines


def _price(price: Document | None, width: int) -> list[str]:
    lines = _heading("Price", width)
    room = min(width, 64)
    for kind, words, amount in price_lines(price):
        if kind in ("full", "pays"):
            lines.append("-" * room)
        wrapped = _wrap(words, room - 14)
        lines += [*wrapped[:-1], f"{wrapped[-1]:<{room - 14}}{amount:>14}"]
    if price is None:
        return lines
    for stage in price["stages"]:
        lines += _wrap(stage_words(stage), width, "  ", "  ")
        lines += _wrap(vat_words(stage), width, "    ", "    ")
    if price.get("if_late"):
        lines += _wrap(f"{sentence(price['if_late']['sentence'])}.", width)
    for title, members in beside_lines(price):
        lines += ["", *_wrap(title, width)]
        for what, said in members:
            lines += _beside(what, said, width)
    if price["cancellation"]:
        lines += ["", *_wrap(price["cancellation"], width)]
    return lines


def _beside(what: str, said: str, width: int) -> list[str]:
    """An amount stands to the right of what it is for, who does it behind a colon."""
    if not said.startswith("£"):
        return _wrap(f"{what}: {said}", width, "    ", "  ")
    wrapped = _wrap(what, width - 14, "    ", "  ")
    return [*wrapped[:-1], f"{wrapped[-1]:<{width - 14}}{said:>14}"]


def _basis(basis: Document, width: int) -> list[str]:
    return [*_heading("Worked out with", width), *_facts(basis_lines(basis), width)]
