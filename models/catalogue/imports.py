"""A supplier's file against the price list that stands: what it would add, change and leave, and what it is refused.

Pure: bytes and the present lines in, a plan out. Nothing is changed until somebody has read the plan.
"""

import csv
import io
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation

from pydantic import ValidationError

from models.catalogue.prices import COLUMNS, MAY_BE_EMPTY, UNITS, PriceLine, attributes_of, attributes_text

TICK_ABOVE_RATIO = Decimal("0.15")
"""A rise above this needs somebody's tick: the firm's rule."""
MOST_ROWS = 200_000
_NUMBERS = frozenset({"pack_size", "cost_gbp", "lead_time_days"})
_PLACES = Decimal("0.0001")
LIVE = ("=", "+", "-", "@", "\t", "\r")
"""First characters that make a spreadsheet take a cell for a formula."""
_PLAIN_NUMBER = re.compile(r"-?\d+(\.\d+)?")
_COMMA_NUMBER = re.compile(r"[-+]?\d[\d ]*(,\d{3})*([.,]\d+)?")
_CURRENCY = re.compile(r"[£€$]|\bGBP\b|\bEUR\b|\bUSD\b", re.IGNORECASE)
_SPACES = " \u00a0\n"
_CONTROL = re.compile(r"[\x00-\x1f\x7f]")
_PARTED = "\x1f"
_SUSPECT = re.compile(r"(?:^|\x1f)[=+\-@\t\r]|[\x00-\x1e\x7f]")
"""In cells joined by a unit separator: one that may be a formula, or a character that cannot be printed."""
_NEEDED = tuple(name for name in COLUMNS if name not in MAY_BE_EMPTY)


class UnreadableFile(ValueError):
    """A file that cannot be read as a table of prices at all: says why."""


@dataclass(frozen=True, slots=True)
class Table:
    """The rows of a file as text, each with its number as a spreadsheet shows it; how it was encoded."""

    headings: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    encoding: str


@dataclass(frozen=True, slots=True)
class Added:
    """A SKU that the list did not have."""

    row: int
    line: PriceLine


@dataclass(frozen=True, slots=True)
class Changed:
    """A SKU that the file changes. `fields` holds name, old and new as text; `change_ratio` is of the cost.

    `change_ratio` is None where the cost was nothing or a credit, so that there is no share of it.
    """

    row: int
    line: PriceLine
    old: PriceLine
    fields: tuple[tuple[str, str, str], ...]
    change_ratio: Decimal | None
    needs_tick: bool


@dataclass(frozen=True, slots=True)
class Rejected:
    """A row that is not taken, and why."""

    row: int
    sku: str
    reason: str


@dataclass(frozen=True, slots=True)
class ImportPlan:
    """What a file would do to a list. A SKU that the file does not name stays untouched."""

    added: tuple[Added, ...]
    changed: tuple[Changed, ...]
    unchanged: tuple[str, ...]
    rejected: tuple[Rejected, ...]
    untouched: int
    encoding: str

    @property
    def needs_tick(self) -> tuple[Changed, ...]:
        """The changes that wait for somebody's tick."""
        return tuple(change for change in self.changed if change.needs_tick)

    @property
    def changes_nothing(self) -> bool:
        """Whether the list would stand as it stands."""
        return not self.added and not self.changed

    def taken(self, ticked: frozenset[str]) -> tuple[PriceLine, ...]:
        """The lines to be written: everything but rises that nobody ticked."""
        kept = (change.line for change in self.changed if not change.needs_tick or change.line.sku in ticked)
        return (*(one.line for one in self.added), *kept)


def read_table(data: bytes) -> Table:
    """The table in the bytes of a CSV file: UTF-8 with or without byte-order mark, UTF-16 with one, or Windows-1252.

    Cells are parted by commas, semicolons or tabs, whichever the heading row has most of. Raises UnreadableFile.
    """
    text, encoding = decoded(data)
    head = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=head.count)
    rows: list[tuple[int, tuple[str, ...]]] = []
    headings: tuple[str, ...] = ()
    try:
        for number, cells in enumerate(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True), 1):
            if number == 1:
                headings = tuple(cell.strip().lower().replace(" ", "_") for cell in cells)
                continue
            if number > MOST_ROWS:
                raise UnreadableFile(f"the file has more than {MOST_ROWS} rows")
            if any(cell.strip() for cell in cells):
                rows.append((number, tuple(cells)))
    except csv.Error as fault:
        raise UnreadableFile(f"after row {len(rows) + 1} the file is not CSV: {fault}") from fault
    if not headings or not any(headings):
        raise UnreadableFile("the file is empty; its first row names the columns")
    _check_headings(headings)
    return Table(headings, tuple(rows), encoding)


def decoded(data: bytes) -> tuple[str, str]:
    """The text of a file and how it was encoded. Raises UnreadableFile that names the row of a faulty byte."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            return data.decode("utf-16"), "UTF-16"
        except UnicodeDecodeError as fault:
            raise UnreadableFile("the file begins like UTF-16 and is not") from fault
    try:
        text = data.decode("utf-8-sig")
        return text, "UTF-8 with a byte-order mark" if data.startswith(b"\xef\xbb\xbf") else "UTF-8"
    except UnicodeDecodeError:
        pass
    try:
        return data.decode("cp1252"), "Windows-1252"
    except UnicodeDecodeError as fault:
        row = data.count(b"\n", 0, fault.start) + 1
        raise UnreadableFile(f"row {row}: a byte is neither UTF-8 nor Windows-1252; save the file as UTF-8") from fault


def _check_headings(headings: tuple[str, ...]) -> None:
    unknown = [name for name in headings if name not in COLUMNS]
    if unknown:
        shown = ", ".join(name or "(no name)" for name in unknown[:5])
        raise UnreadableFile(f"there is no column {shown}; the columns are {', '.join(COLUMNS)}")
    twice = sorted({name for name in headings if headings.count(name) > 1})
    if twice:
        raise UnreadableFile(f"the column {', '.join(twice)} stands twice")
    if "sku" not in headings:
        raise UnreadableFile("the column sku must be there: it says which line a row is")


def plan_import(
    table: Table,
    present: Mapping[str, PriceLine],
    *,
    read_on: date,
    margin_classes: frozenset[str] | None = None,
) -> ImportPlan:
    """What a file would do to the lines that stand.

    A column that the file does not have keeps what stands; a new SKU needs every column that may not be empty. Where
    the cost changes and the file gives no newer date, `read_on` becomes the day on which the price was confirmed.
    Raises nothing about a row: a row that cannot be taken is rejected with its reason.
    """
    named = _rows_by_sku(table)
    known = _Known(
        {sku: rows for sku, rows in named.items() if len(rows) > 1},
        UNITS | {line.unit for line in present.values()},
        margin_classes,
        read_on,
    )
    added: list[Added] = []
    changed: list[Changed] = []
    unchanged: list[str] = []
    rejected: list[Rejected] = []
    for number, cells in table.rows:
        outcome = _outcome(number, cells, table.headings, present, known)
        if isinstance(outcome, Added):
            added.append(outcome)
        elif isinstance(outcome, Changed):
            changed.append(outcome)
        elif isinstance(outcome, Rejected):
            rejected.append(outcome)
        else:
            unchanged.append(outcome.sku)
    untouched = len(present) - len(named.keys() & present.keys())
    return ImportPlan(tuple(added), tuple(changed), tuple(unchanged), tuple(rejected), untouched, table.encoding)


def _rows_by_sku(table: Table) -> dict[str, list[int]]:
    """The numbers of the rows that name each SKU."""
    place = table.headings.index("sku")
    named: dict[str, list[int]] = {}
    for number, cells in table.rows:
        sku = _stripped(cells[place]) if place < len(cells) else ""
        if sku:
            named.setdefault(sku, []).append(number)
    return named


@dataclass(frozen=True, slots=True)
class _Known:
    """What a row is held against besides the line that it may change."""

    named_twice: Mapping[str, list[int]]
    units: frozenset[str]
    margin_classes: frozenset[str] | None
    read_on: date


def _outcome(
    number: int, cells: tuple[str, ...], headings: tuple[str, ...], present: Mapping[str, PriceLine], known: _Known
) -> Added | Changed | Rejected | PriceLine:
    """What one row does: adds, changes, is refused, or leaves the line as it stands."""
    if len(cells) != len(headings):
        if any(cell.strip() for cell in cells[len(headings) :]):
            return Rejected(number, "", "there are more cells than headings")
        cells = (*cells, *[""] * (len(headings) - len(cells)))
    row = {name: cell.strip(_SPACES) for name, cell in zip(headings, cells, strict=False)}
    sku = row["sku"]
    if sku in known.named_twice:
        where = " and ".join(str(one) for one in known.named_twice[sku])
        return Rejected(number, sku, f"SKU {sku} stands in rows {where}; none of them is taken")
    old = present.get(sku)
    old_cells = {} if old is None else cells_of(old)
    if old is not None and all(old_cells[name] == cell or _same_number(name, cell, old) for name, cell in row.items()):
        return old
    reason = _fault_of_cells(row, old) or _fault_of_register(row, known)
    if reason:
        return Rejected(number, sku, reason)
    try:
        line = line_of(_merged(row, old, old_cells, known.read_on))
    except ValueError as fault:
        return Rejected(number, sku, str(fault))
    if old is None:
        return Added(number, line)
    return old if line == old else change_of(number, line, old)


def _merged(
    row: Mapping[str, str], old: PriceLine | None, old_cells: Mapping[str, str], read_on: date
) -> dict[str, str]:
    """The cells of the line: those of the row over those that stand, with the day on which the price was confirmed."""
    merged = {**old_cells, **{name: plain_cell(cell) for name, cell in row.items()}}
    dated = merged.get("priced_on", "")
    new_price = old is None or Decimal(merged["cost_gbp"]) != old.cost_gbp
    if new_price and dated == old_cells.get("priced_on", ""):
        merged["priced_on"] = read_on.isoformat()
    return merged


def _fault_of_register(row: Mapping[str, str], known: _Known) -> str:
    """A unit of measure or margin class that nobody has, or nothing."""
    if row.get("unit", "each") not in known.units:
        return f"unit {row['unit']!r} is not known; known are {', '.join(sorted(known.units))}"
    classes = known.margin_classes
    if classes is not None and row.get("margin_class", "") not in {"", *classes}:
        return f"margin class {row['margin_class']!r} is not known: {', '.join(sorted(classes))}"
    return ""


def _same_number(name: str, cell: str, old: PriceLine) -> bool:
    """Whether a cell writes the number that stands in another way: 1.10 for 1.1000."""
    return name in _NUMBERS and _PLAIN_NUMBER.fullmatch(cell) is not None and Decimal(cell) == getattr(old, name)


def change_of(row: int, line: PriceLine, old: PriceLine) -> Changed:
    """A change with its fields as text and whether it needs a tick."""
    before, after = cells_of(old), cells_of(line)
    fields = tuple((name, before[name], after[name]) for name in COLUMNS if before[name] != after[name])
    ratio = (line.cost_gbp - old.cost_gbp) / old.cost_gbp if old.cost_gbp > 0 else None
    rises = line.cost_gbp > old.cost_gbp
    return Changed(row, line, old, fields, ratio, rises and (ratio is None or ratio > TICK_ABOVE_RATIO))


def _stripped(cell: str) -> str:
    return cell.strip(_SPACES)


def plain_cell(cell: str) -> str:
    """A cell's text: an apostrophe before what a spreadsheet would take for a formula is only its mark."""
    return cell[1:] if len(cell) > 1 and cell[0] == "'" and cell[1] in (*LIVE, "'") else cell


def _fault_of_cells(row: Mapping[str, str], old: PriceLine | None) -> str:
    """What is wrong with the cells as text, or nothing."""
    if not row["sku"]:
        return "sku must be filled in"
    missing = [name for name in _NEEDED if not row.get(name) and (old is None or name in row)]
    if missing and old is None and len(missing) > 1:
        return f"the list has no line {row['sku']}; for a new one {', '.join(missing)} must be filled in"
    if missing:
        return f"{', '.join(missing)} must be filled in"
    # Most rows hold nothing of the kind: one look at all their cells, and at each only where it finds something.
    texts = [cell for name, cell in row.items() if name not in _NUMBERS]
    joined = _PARTED.join(texts)
    suspect = _SUSPECT.search(joined) is not None or joined.count(_PARTED) != len(texts) - 1
    for name, cell in row.items():
        if name in _NUMBERS:
            reason = _fault_of_number(name, cell)
            if reason:
                return reason
        elif suspect and cell.startswith(LIVE):
            return f"{name} {cell[:40]!r} is a formula to a spreadsheet; write plain text"
        elif suspect and _CONTROL.search(cell):
            return f"{name} holds a character that cannot be printed"
    cost = row.get("cost_gbp")
    if cost is not None and Decimal(cost) < 0 and (old is None or old.cost_gbp >= 0) and not _is_credit(row, old):
        return f"cost_gbp {cost} is below nothing, and the line is no credit"
    return ""


def _is_credit(row: Mapping[str, str], old: PriceLine | None) -> bool:
    """A credit says so: a line that is one already, or a new one whose description has the word."""
    return old is None and re.search(r"\bcredit\b", row.get("description", ""), re.IGNORECASE) is not None


def _fault_of_number(name: str, cell: str) -> str:
    if _PLAIN_NUMBER.fullmatch(cell):
        return ""
    if _CURRENCY.search(cell):
        return f"{name} {cell[:40]!r} has a currency sign; write the number alone"
    if "," in cell and _COMMA_NUMBER.fullmatch(cell):
        return f"{name} {cell[:40]!r} has a comma; write a point before the decimals and nothing between thousands"
    if cell.startswith(LIVE) and not re.fullmatch(r"[-+]\d.*", cell):
        return f"{name} {cell[:40]!r} is a formula to a spreadsheet; write the number it comes to"
    return f"{name} {cell[:40]!r} is not a number"


def line_of(cells: Mapping[str, str]) -> PriceLine:
    """A price line from its cells as text. Raises ValueError that names column, cell and reason."""
    values: dict[str, object] = {name: cell for name, cell in cells.items() if cell}
    values["attributes"] = attributes_of(cells.get("attributes", ""))
    try:
        line = PriceLine.model_validate(values)
    except ValidationError as fault:
        first = fault.errors()[0]
        column = ".".join(str(part) for part in first["loc"])
        raise ValueError(f"{column} {str(first['input'])[:60]!r}: {first['msg'].lower()}") from fault
    if line.substitute == line.sku:
        raise ValueError(f"substitute: {line.sku} cannot take its own place")
    return line


def cells_of(line: PriceLine) -> dict[str, str]:
    """The cells of a line as text, as `line_of` reads them."""
    size = f"{line.pack_size:f}"
    return {
        "sku": line.sku,
        "group": line.group,
        "description": line.description,
        "unit": line.unit,
        "pack_size": size.rstrip("0").rstrip(".") if "." in size else size,
        "cost_gbp": f"{line.cost_gbp:.4f}",
        "supplier": line.supplier,
        "supplier_code": line.supplier_code,
        "lead_time_days": str(line.lead_time_days),
        "held": line.held,
        "margin_class": line.margin_class,
        "vat_class": line.vat_class,
        "sales_nominal": line.sales_nominal,
        "charged_by": line.charged_by,
        "role": line.role,
        "attributes": attributes_text(line.attributes) if line.attributes else "",
        "ends_on": "" if line.ends_on is None else line.ends_on.isoformat(),
        "substitute": line.substitute,
        "priced_on": "" if line.priced_on is None else line.priced_on.isoformat(),
    }


def safe_cell(cell: str) -> str:
    """A cell that no spreadsheet takes for a formula; `plan_import` reads it back as it was."""
    if _PLAIN_NUMBER.fullmatch(cell):
        return cell
    return f"'{cell}" if cell.startswith((*LIVE, "'")) else cell


def export_csv(lines: Iterable[PriceLine]) -> bytes:
    """The lines as a CSV file in UTF-8 with a byte-order mark, so that every spreadsheet reads it rightly."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for line in lines:
        cells = cells_of(line)
        writer.writerow([safe_cell(cells[name]) for name in COLUMNS])
    return b"\xef\xbb\xbf" + out.getvalue().encode()


@dataclass(frozen=True, slots=True)
class Uplift:
    """A change of cost by a ratio for one supplier, one class or one group; "" is all of them.

    `round_to_gbp` is the step to which new costs are rounded, half up: 0.0001 keeps every place, 0.05 is five pence.
    """

    change_ratio: Decimal
    round_to_gbp: Decimal
    supplier: str = ""
    margin_class: str = ""
    group: str = ""


def uplifted(lines: Iterable[PriceLine], uplift: Uplift, *, on: date) -> tuple[Changed, ...]:
    """The lines that an uplift changes, with their new cost. Credits stay; a price is never rounded down to nothing.

    Raises ValueError for a change to nothing or below, or a step that is not positive with at most four places.
    """
    step = uplift.round_to_gbp
    if uplift.change_ratio <= -1:
        raise ValueError("a price cannot fall by all of itself")
    if step <= 0 or step != step.quantize(_PLACES):
        raise ValueError("the rounding step is above nothing, with at most four decimal places")
    changes: list[Changed] = []
    for place, line in enumerate(lines, 1):
        wanted = (
            uplift.supplier in ("", line.supplier)
            and uplift.margin_class in ("", line.margin_class)
            and uplift.group in ("", line.group)
        )
        if not wanted or line.cost_gbp <= 0:
            continue
        exact = line.cost_gbp * (1 + uplift.change_ratio)
        cost = (exact / step).to_integral_value(ROUND_HALF_UP) * step
        if cost <= 0:
            cost = exact.quantize(_PLACES, ROUND_HALF_UP)
        cost = cost.quantize(_PLACES)
        if cost == line.cost_gbp or cost <= 0:
            continue
        try:
            new = PriceLine.model_validate(line.model_copy(update={"cost_gbp": cost, "priced_on": on}).model_dump())
        except ValidationError as fault:
            raise ValueError(f"{line.sku}: {cost} is too large a price") from fault
        changes.append(change_of(place, new, line))
    return tuple(changes)


def stale_lines(lines: Iterable[PriceLine], *, on: date, list_from: date, days: int) -> tuple[PriceLine, ...]:
    """The lines whose price nobody has confirmed for more than so many days, the oldest first."""
    aged = [(line.priced_on or list_from, line) for line in lines]
    return tuple(
        line for since, line in sorted(aged, key=lambda pair: (pair[0], pair[1].sku)) if (on - since).days > days
    )


def decimal_of(text: str, what: str) -> Decimal:
    """A decimal as somebody typed it. Raises ValueError that names what it is."""
    try:
        number = Decimal(text.strip())
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite():
        raise ValueError(f"{what} {text[:40]!r} is not a number")
    return number
