"""Price lists: what an item costs, from whom, in which pack, and how it is sold on."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Annotated, Literal

from pydantic import Field, ValidationError

from models.catalogue.items import Row, Sku

VatClass = Literal["installed", "goods_only", "outside_scope"]


class RefusedRow(ValueError):
    """A row that cannot be loaded: says which file, which row and why."""

    def __init__(self, file: str, row: int, reason: str) -> None:
        super().__init__(f"{file}, row {row}: {reason}")
        self.file = file
        self.row = row
        self.reason = reason


class PriceLine(Row):
    """One SKU in one price list.

    `cost_gbp` is per `unit` of measure, not per pack, four decimal places. `role` and `attributes` let a recipe
    find the line by what it is ("primary_pipe", od_mm 28) instead of by its SKU. `charged_by` says whether the
    customer is charged whole packs or what is used. A negative cost is a credit. `ends_on` is the last day on which
    the line is sold, `substitute` the SKU that takes its place then. `priced_on` is the day on which the supplier's
    price was last confirmed; None is since the list itself holds.
    """

    sku: Sku
    group: Annotated[str, Field(max_length=80)]
    description: Annotated[str, Field(max_length=400)]
    unit: Annotated[str, Field(max_length=40)]
    pack_size: Annotated[Decimal, Field(gt=0, max_digits=12, decimal_places=4)]
    cost_gbp: Annotated[Decimal, Field(max_digits=12, decimal_places=4)]
    supplier: Annotated[str, Field(max_length=120)]
    supplier_code: Annotated[str, Field(max_length=80)]
    lead_time_days: Annotated[int, Field(ge=0, le=3650)]
    held: Literal["van_stock", "stock", "order"]
    margin_class: Annotated[str, Field(max_length=40)]
    vat_class: VatClass
    sales_nominal: Annotated[str, Field(max_length=20)]
    charged_by: Literal["pack", "measure"]
    role: Annotated[str, Field(max_length=60)] = ""
    attributes: dict[str, Decimal] = Field(default_factory=dict)
    ends_on: date | None = None
    substitute: Annotated[str, Field(max_length=40, pattern=r"^([A-Z0-9][A-Z0-9-]*)?$")] = ""
    priced_on: date | None = None

    def sold_on(self, on: date) -> bool:
        """Whether the line can still be bought on a day."""
        return self.ends_on is None or self.ends_on >= on


@dataclass(frozen=True, slots=True)
class PriceList:
    """The lines in force from a date. `firm` is False while its prices are only indicative."""

    version: str
    valid_from: date
    lines: Mapping[str, PriceLine]
    firm: bool = True
    by_role: Mapping[str, tuple[PriceLine, ...]] = field(default_factory=dict)

    @staticmethod
    def of(version: str, valid_from: date, lines: tuple[PriceLine, ...], *, firm: bool = True) -> "PriceList":
        """A list from its lines. Raises ValueError on a SKU that stands twice."""
        by_sku: dict[str, PriceLine] = {}
        by_role: dict[str, list[PriceLine]] = {}
        for line in lines:
            if line.sku in by_sku:
                raise ValueError(f"SKU {line.sku} stands twice in price list {version}")
            by_sku[line.sku] = line
            if line.role:
                by_role.setdefault(line.role, []).append(line)
        return PriceList(version, valid_from, by_sku, firm, {role: tuple(found) for role, found in by_role.items()})

    def cost_pence(self, sku: str) -> int:
        """Cost of one unit of measure in whole pence, for ranking choices only. Raises KeyError if not listed."""
        return int((self.lines[sku].cost_gbp * 100).to_integral_value())

    def in_place_of(self, sku: str, on: date) -> PriceLine | None:
        """The line that is sold on a day in place of a SKU, along its substitutes; None where there is none."""
        seen = {sku}
        line = self.lines.get(sku)
        while line is not None and not line.sold_on(on):
            if not line.substitute or line.substitute in seen:
                return None
            seen.add(line.substitute)
            line = self.lines.get(line.substitute)
        return line


UNITS = frozenset({
    "each", "m", "m2", "m3", "L", "kg", "h", "set", "pair", "pack", "kit", "bag", "bulk", "box", "roll", "length",
    "job", "room", "day", "night", "week", "visit", "hole",
})  # fmt: skip
"""Units of measure that a new price line may have: the trade's, common practice, no source."""
COLUMNS = (
    "sku", "group", "description", "unit", "pack_size", "cost_gbp", "supplier", "supplier_code", "lead_time_days",
    "held", "margin_class", "vat_class", "sales_nominal", "charged_by", "role", "attributes", "ends_on", "substitute",
    "priced_on",
)  # fmt: skip
MAY_BE_EMPTY = frozenset({"role", "attributes", "ends_on", "substitute", "priced_on"})


def price_lines_from_rows(rows: Iterable[Mapping[str, str]], *, file: str = "price_list.csv") -> tuple[PriceLine, ...]:
    """Price lines from rows of text, one column a field; `attributes` reads "od_mm=28;rating_a=16".

    The first row counts as row 2, after the headings. Raises RefusedRow naming file, row, column and reason.
    """
    lines: list[PriceLine] = []
    seen: dict[str, int] = {}
    for number, row in enumerate(rows, 2):
        unknown = [str(column) for column in row if column not in COLUMNS]
        if unknown:
            raise RefusedRow(file, number, f"there is no column {', '.join(unknown)}")
        missing = [column for column in COLUMNS if column not in MAY_BE_EMPTY and not (row.get(column) or "").strip()]
        if missing:
            raise RefusedRow(file, number, f"{', '.join(missing)} must be filled in")
        cells: dict[str, object] = {column: cell.strip() for column, cell in row.items() if cell and cell.strip()}
        try:
            cells["attributes"] = attributes_of(row.get("attributes") or "")
        except ValueError as fault:
            raise RefusedRow(file, number, str(fault)) from fault
        try:
            line = PriceLine.model_validate(cells)
        except ValidationError as fault:
            first = fault.errors()[0]
            column = ".".join(str(part) for part in first["loc"])
            raise RefusedRow(file, number, f"{column} {first['input']!r}: {first['msg']}") from fault
        if line.sku in seen:
            raise RefusedRow(file, number, f"SKU {line.sku} stands already in row {seen[line.sku]}")
        seen[line.sku] = number
        lines.append(line)
    return tuple(lines)


def attributes_of(cell: str) -> dict[str, Decimal]:
    """Attributes from their text, "od_mm=28;rating_a=16". Raises ValueError that shows the faulty piece."""
    attributes: dict[str, Decimal] = {}
    for pair in filter(None, (part.strip() for part in cell.split(";"))):
        name, equals, value = pair.partition("=")
        try:
            number = Decimal(value.strip())
        except InvalidOperation:
            number = Decimal("NaN")
        if not equals or not name.strip() or not number.is_finite():
            raise ValueError(f"attributes: {pair!r} is not of the form od_mm=28")
        attributes[name.strip()] = number
    return attributes


def attributes_text(attributes: Mapping[str, Decimal]) -> str:
    """The text of attributes, as `attributes_of` reads it."""
    return ";".join(f"{name}={value}" for name, value in attributes.items())
