"""Quantities, plan and recipes to a bill: what to buy, what is used, what the customer is charged and why."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal, InvalidOperation
from string import Formatter
from typing import Any, Literal, NamedTuple

from models.catalogue.prices import PriceLine, PriceList, RefusedRow as RefusedRow
from models.findings import Finding
from models.frozen import quickly_made
from models.money import line_pence, unit_price, with_margin
from models.sources import Source
from models.takeoff.quantities import (
    CHOSEN_ROLES,
    FLAGS,
    PLAN_QUANTITIES,
    QUANTITY_UNITS,
    SCHEDULES,
    ScheduleLine,
    TakeOff,
)

SOURCE = Source("the firm's recipes", "", "firm's rule")

PartForm = Literal["sku", "chosen", "match", "each"]
Rounding = Literal["whole", "none"]

_ONE = Decimal(1)
_ZERO = Decimal(0)
_UNSAID_UNITS = frozenset({"each", "job", ""})
_THIRD = Decimal("0.001")
_SIXTH = Decimal("0.000001")


@dataclass(frozen=True, slots=True)
class Recipe:
    """One row: which part, driven by which quantity, how much of it, under which condition and why.

    `form` and `part` together name what is bought: a SKU, a role that the design chose, a role whose line must
    match `attributes` (each a number or the name of a quantity), or each piece of a schedule. `flags` pairs a name
    with the value that it must have. `reason` is the sentence cut up: text at even places, names of quantities at
    odd ones.
    """

    row: int
    form: PartForm
    part: str
    attributes: tuple[tuple[str, Decimal | str], ...]
    driver: str
    amount: Decimal
    per: Decimal
    fixed: Decimal
    waste: Decimal
    rounding: Rounding
    flags: tuple[tuple[str, bool], ...]
    when_quantity: str
    at_least: Decimal | None
    below: Decimal | None
    reason: tuple[str, ...]
    shown: str
    as_measured: bool


class BillLine(NamedTuple):
    """One part of the job. Quantities at three decimal places, unit prices in pounds at four, amounts in pence.

    `used` is what goes into the house, `bought` what is ordered for this job in whole packs (0 from van stock),
    `charged` what the customer pays for. `cost_pence` and `sell_pence` both follow `charged`: what is left over of
    a pack that is charged by measure goes back to stock and is no cost of this job.
    """

    line_id: str
    sku: str
    group: str
    description: str
    unit: str
    pack_size: Decimal
    used: Decimal
    bought: Decimal
    charged: Decimal
    cost_unit_gbp: Decimal
    unit_sell_gbp: Decimal
    cost_pence: int
    sell_pence: int
    margin_class: str
    vat_class: str
    sales_nominal: str
    supplier: str
    supplier_code: str
    lead_time_days: int
    held: str
    because: "str | Because"
    where: tuple[str, ...]

    @property
    def why(self) -> str:
        """The sentences of the rows, and what rounding and packs made of their sum."""
        return self.because if isinstance(self.because, str) else _why(self.because)

    def document(self) -> dict[str, Any]:
        """The line by its public names."""
        document: dict[str, Any] = dict(zip(_PUBLIC_NAMES, self, strict=True))
        document["why"] = self.why
        return document


_PUBLIC_NAMES = tuple("why" if name == "because" else name for name in BillLine._fields)


class Because(NamedTuple):
    """What the reason of a line is told from, so that a bill that nobody reads builds no text.

    `values` holds what the sentences of the rows name.
    """

    rows: tuple["_Row", ...]
    values: Mapping[str, Decimal]
    amounts: "_Amounts"


@quickly_made
@dataclass(frozen=True, slots=True)
class Bill:
    """The lines in the order of the recipes, and their sums."""

    lines: tuple[BillLine, ...]
    cost_pence: int
    sell_pence: int
    findings: tuple[Finding, ...] = ()


class UnknownMarginClass(ValueError):
    """A price line of a margin class that the rates do not have."""


_Row = tuple[Recipe, Decimal, Decimal, ScheduleLine | None]
"""A row that holds: its recipe, the driver, what it uses, and the piece where it is of a schedule."""


def bill(
    *,
    take_off: TakeOff,
    plan_quantities: Mapping[str, Decimal],
    recipes: tuple[Recipe, ...],
    price_list: PriceList,
    margins: Mapping[str, Decimal],
    priced_on: date | None = None,
) -> Bill:
    """The bill of materials of a measured house.

    The firm's recipes. Rows of one part add up before rounding: driver × amount / per × (1 + waste) + fixed, at six
    decimal places, then whole units, then packs. A size that no price line has is a stop. `plan_quantities` holds
    PLAN_QUANTITIES; `margins` maps margin classes to margins of the selling price. With `priced_on`, a part whose
    last day is before it gives way to its substitute, unless the design chose it by its size; without one it is a
    stop. Raises UnknownMarginClass, and ValueError for a missing quantity of the plan.
    """
    missing = PLAN_QUANTITIES - plan_quantities.keys()
    if missing:
        raise ValueError(f"the plan must give {', '.join(sorted(missing))}")
    values = {name: quantity.value for name, quantity in take_off.quantities.items()}
    values.update(plan_quantities)
    flags, chosen, listed = take_off.flags, take_off.chosen, price_list.lines
    prices = _prices_of(price_list, margins)
    on = date.min if priced_on is None else priced_on
    ended = {sku for sku, last_day in prices.last_days.items() if last_day < on}
    parts: dict[str, list[_Row]] = {}
    findings: list[Finding] = []
    for recipe in recipes:
        if (recipe.flags or recipe.when_quantity) and not _holds(recipe, flags, values):
            continue
        if recipe.form == "each":
            _add_schedule(recipe, take_off, parts, price_list, findings)
            continue
        driver = values[recipe.driver]
        used = driver if recipe.as_measured else _used(recipe, driver)
        if not used:
            continue
        sku: str | None
        if recipe.form == "match":
            wanted = [(n, values[v] if isinstance(v, str) else v) for n, v in recipe.attributes]
            if not all([value for _, value in wanted]):
                continue
            sku = _match(recipe.part, wanted, price_list)
            if sku is None:
                findings.append(_no_part_for_size(recipe.part, wanted))
                continue
        else:
            sku = chosen.get(recipe.part) if recipe.form == "chosen" else recipe.part
            if sku is None:
                continue
            if sku not in listed:
                findings.append(_no_price(sku, recipe.part, price_list.version))
                continue
        if sku in ended and recipe.form != "chosen":
            other = price_list.in_place_of(sku, on)
            if other is not None:
                findings.append(_substituted(listed[sku], other))
                sku = other.sku
        parts.setdefault(sku, []).append((recipe, driver, used, None))
    lines = tuple([_line(sku, rows, prices, values) for sku, rows in parts.items()])
    findings += [_no_longer_sold(listed[sku], price_list, on) for sku in parts if sku in ended]
    return Bill(
        lines,
        sum([line.cost_pence for line in lines]),
        sum([line.sell_pence for line in lines]),
        tuple(dict.fromkeys(findings)),
    )


def _holds(recipe: Recipe, flags: Mapping[str, bool], values: Mapping[str, Decimal]) -> bool:
    """Whether the row's flags and threshold are met."""
    for flag, wanted in recipe.flags:
        if flags[flag] is not wanted:
            return False
    if not recipe.when_quantity:
        return True
    value = values[recipe.when_quantity]
    return (recipe.at_least is None or value >= recipe.at_least) and (recipe.below is None or value < recipe.below)


def _used(recipe: Recipe, driver: Decimal) -> Decimal:
    amount = driver * recipe.amount / recipe.per
    if recipe.waste:
        amount *= _ONE + recipe.waste
    if recipe.fixed:
        amount += recipe.fixed
    return amount.quantize(_SIXTH, ROUND_HALF_UP)


def _match(role: str, wanted: list[tuple[str, Decimal]], price_list: PriceList) -> str | None:
    """The first SKU of a role that has what is wanted."""
    for line in price_list.by_role.get(role, ()):
        attributes = line.attributes
        for name, value in wanted:
            if attributes.get(name) != value:
                break
        else:
            return line.sku
    return None


def _add_schedule(
    recipe: Recipe, take_off: TakeOff, parts: dict[str, list[_Row]], price_list: PriceList, findings: list[Finding]
) -> None:
    for piece in take_off.schedules[recipe.part]:
        sku, driver = piece.sku, piece.quantity
        if sku not in price_list.lines:
            findings.append(_no_price(sku, recipe.part, price_list.version))
            continue
        used = driver if recipe.as_measured else _used(recipe, driver)
        if used:
            parts.setdefault(sku, []).append((recipe, driver, used, piece))


class _Amounts(NamedTuple):
    """A bill line but for its reason and its place, and what was needed, used and bought to the last place."""

    line: tuple[Any, ...]
    unit: str
    pack_size: Decimal
    needed: Decimal
    used: Decimal
    bought: Decimal


class _Priced(NamedTuple):
    """What a bill line takes from its price line as it stands: made once for a price list and its margins.

    `amounts` remembers those of the last quantities: one cylinder, two valves, three metres come again and again.
    """

    head: tuple[str, str, str, str, str, Decimal]
    cost_gbp: Decimal
    sell_gbp: Decimal
    tail: tuple[str, str, str, str, str, int, str]
    from_van: bool
    by_measure: bool
    amounts: dict[tuple[Decimal, bool], _Amounts]


class _Prices(NamedTuple):
    """A price list at its margins: the last days of what will not be sold for ever, and the lines asked for so far."""

    price_list: PriceList
    margins: Mapping[str, Decimal]
    last_days: dict[str, date]
    lines: dict[str, _Priced]


# By identity, with list and margins held so that they stay theirs: a list is asked far more often than it changes.
_prices: dict[tuple[int, int], _Prices] = {}
_MOST_LISTS = 64
_MOST_QUANTITIES = 64


def _prices_of(price_list: PriceList, margins: Mapping[str, Decimal]) -> _Prices:
    key = id(price_list), id(margins)
    remembered = _prices.get(key)
    if remembered is not None and remembered.price_list is price_list and remembered.margins is margins:
        return remembered
    if len(_prices) >= _MOST_LISTS:
        _prices.clear()
    last_days = {sku: line.ends_on for sku, line in price_list.lines.items() if line.ends_on is not None}
    made = _prices[key] = _Prices(price_list, margins, last_days, {})
    return made


def _priced(line: PriceLine, margins: Mapping[str, Decimal]) -> _Priced:
    cost, sell = _unit_prices(line, margins)
    return _Priced(
        (line.sku, line.sku, line.group, line.description, line.unit, line.pack_size),
        cost,
        sell,
        (
            line.margin_class,
            line.vat_class,
            line.sales_nominal,
            line.supplier,
            line.supplier_code,
            line.lead_time_days,
            line.held,
        ),
        line.held == "van_stock",
        line.charged_by == "measure",
        {},
    )


def _line(sku: str, rows: list[_Row], prices: _Prices, values: Mapping[str, Decimal]) -> BillLine:
    priced = prices.lines.get(sku)
    if priced is None:
        priced = prices.lines[sku] = _priced(prices.price_list.lines[sku], prices.margins)
    needed, whole = _ZERO, False
    where = []
    for recipe, _, used, piece in rows:
        needed += used
        whole = whole or recipe.rounding == "whole"
        if piece is not None:
            where.append(piece.where)
    remembered = priced.amounts
    amounts = remembered.get((needed, whole))
    if amounts is None:
        if len(remembered) >= _MOST_QUANTITIES:
            remembered.clear()
        amounts = remembered[needed, whole] = _amounts(priced, needed, whole)
    return BillLine._make((*amounts.line, Because(tuple(rows), values, amounts), tuple(where)))


def _amounts(priced: _Priced, needed: Decimal, whole: bool) -> _Amounts:
    unit, pack_size = priced.head[4:]
    used = needed.to_integral_value(ROUND_CEILING) if whole else needed
    bought = _ZERO if priced.from_van else _packs(used, pack_size)
    used_shown = used.quantize(_THIRD, ROUND_HALF_UP)
    bought_shown = bought.quantize(_THIRD, ROUND_HALF_UP)
    charged = used_shown if priced.from_van or priced.by_measure else bought_shown
    cost, sell = priced.cost_gbp, priced.sell_gbp
    pence = line_pence(charged, cost), line_pence(charged, sell)
    line = (*priced.head, used_shown, bought_shown, charged, cost, sell, *pence, *priced.tail)
    return _Amounts(line, unit, pack_size, needed, used, bought)


def _packs(used: Decimal, pack_size: Decimal) -> Decimal:
    """What is bought: whole packs, counted after quantising to six places."""
    packs = used if pack_size == 1 else (used / pack_size).quantize(_SIXTH, ROUND_HALF_UP)
    return packs.to_integral_value(ROUND_CEILING) * pack_size


def _unit_prices(line: PriceLine, margins: Mapping[str, Decimal]) -> tuple[Decimal, Decimal]:
    """Cost and selling price of a unit of measure. A credit is never marked up."""
    if line.cost_gbp <= 0:
        return _marked_up(line.cost_gbp, _ZERO)
    margin = margins.get(line.margin_class)
    if margin is None:
        raise UnknownMarginClass(f"{line.sku} is of margin class {line.margin_class}, which the rates do not have")
    return _marked_up(line.cost_gbp, margin)


def _marked_up(cost: Decimal, margin: Decimal) -> tuple[Decimal, Decimal]:
    return unit_price(cost), unit_price(with_margin(cost, margin))


def _why(because: Because) -> str:
    rows, values, (_, unit, pack_size, needed, used, bought) = because
    why = "; ".join(
        [
            _reason(recipe, driver, row_used, values, unit) if piece is None else piece.sentence
            for recipe, driver, row_used, piece in rows
        ]
    )
    if used != needed:
        why += f"; {plain(needed)} rounds up to {plain(used)} {unit}"
    elif len(rows) > 1:
        why += f"; together {plain(used)} {unit}"
    if bought and bought != used:
        packs = "whole units" if pack_size == 1 else f"packs of {plain(pack_size)}"
        why += f"; in {packs}: {plain(bought)} {unit} bought"
    return why


def plain(value: Decimal) -> str:
    """A number without trailing noughts."""
    text = str(value)
    if "E" in text:
        text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _reason(recipe: Recipe, driver: Decimal, used: Decimal, values: Mapping[str, Decimal], unit: str) -> str:
    """The row's sentence with its numbers, and the arithmetic of the row."""
    pieces = recipe.reason
    if len(pieces) == 1:
        text = pieces[0]
    else:
        text = "".join(
            piece if place % 2 == 0 else plain(driver if piece == "driver" else values[piece])
            for place, piece in enumerate(pieces)
        )
    if recipe.as_measured:
        return f"{text}: {plain(used)} {unit}"
    return f"{text}: {recipe.shown.replace('#', plain(driver), 1)} = {plain(used)} {unit}"


def _no_part_for_size(role: str, wanted: list[tuple[str, Decimal]]) -> Finding:
    size = ", ".join(f"{name} {plain(value)}" for name, value in wanted)
    return Finding(
        "no_part_for_size",
        "stop",
        role,
        f"the price list has no {role.replace('_', ' ')} of {size}",
        str(SOURCE),
        f"add a line with role {role} and {size} to the price list",
    )


def _no_price(sku: str, role: str, version: str) -> Finding:
    return Finding(
        "no_price",
        "stop",
        sku,
        f"{sku} ({role.replace('_', ' ')}) is chosen but has no line in price list {version}",
        str(SOURCE),
        f"add {sku} to the price list or choose another part",
    )


def _substituted(line: PriceLine, other: PriceLine) -> Finding:
    return Finding(
        "part_substituted",
        "note",
        line.sku,
        f"{line.description} is no longer sold; {other.sku} ({other.description}) takes its place",
        str(SOURCE),
    )


def _no_longer_sold(line: PriceLine, price_list: PriceList, on: date) -> Finding:
    other = price_list.in_place_of(line.sku, on)
    return Finding(
        "part_no_longer_sold",
        "stop",
        line.sku,
        f"{line.description} is sold until {line.ends_on:%d %B %Y}, the price is of {on:%d %B %Y}",
        str(SOURCE),
        "choose another part or renew the price line"
        if other is None
        else f"choose {other.sku} ({other.description}), its substitute, and check its size again",
    )


_COLUMNS = (
    "part", "match", "driver", "amount", "per", "fixed", "waste", "rounding", "flag_1", "flag_2", "when_quantity",
    "at_least", "below", "reason",
)  # fmt: skip


def recipes_from_rows(
    rows: Iterable[Mapping[str, str]], price_list: PriceList | None = None, *, file: str = "recipes.csv"
) -> tuple[Recipe, ...]:
    """Recipes from rows of text. With a price list, its SKUs and roles are checked as well.

    The first row counts as row 2, after the headings. `part` is sku:X, chosen:ROLE, match:ROLE or each:SCHEDULE;
    `match` reads "od_mm=primary_od_mm;rating_a=16". Raises RefusedRow naming file, row and reason.
    """
    return tuple(_recipe(row, _Refuse(file, number), price_list) for number, row in enumerate(rows, 2))


class _Refuse:
    __slots__ = ("file", "row")

    def __init__(self, file: str, row: int) -> None:
        self.file = file
        self.row = row

    def __call__(self, reason: str) -> RefusedRow:
        return RefusedRow(self.file, self.row, reason)


def _recipe(row: Mapping[str, str], refuse: _Refuse, price_list: PriceList | None) -> Recipe:
    unknown = [str(column) for column in row if column not in _COLUMNS]
    if unknown:
        raise refuse(f"there is no column {', '.join(unknown)}")
    cells = {column: (row.get(column) or "").strip() for column in _COLUMNS}
    form, part = _part_of(cells["part"], refuse)
    attributes = _matches(cells["match"], refuse)
    if (form == "match") != bool(attributes):
        raise refuse("the column match is filled in for match: parts, and only for them")
    if price_list is not None:
        _check_listed(form, part, attributes, price_list, refuse)
    driver = cells["driver"]
    if form == "each":
        if driver:
            raise refuse("a part that is each of a schedule has no driver: the schedule counts")
    elif driver not in QUANTITY_UNITS:
        raise refuse(f"there is no quantity {driver!r}")
    amount = _number(cells, "amount", refuse, Decimal(1))
    per = _number(cells, "per", refuse, Decimal(1))
    fixed = _number(cells, "fixed", refuse, _ZERO)
    waste = _number(cells, "waste", refuse, _ZERO)
    if per <= 0:
        raise refuse(f"per is {per}, it must be above 0")
    if amount < 0 or fixed < 0 or waste < 0 or (not amount and not fixed):
        raise refuse(f"amount {amount}, fixed {fixed} and waste {waste}: none is negative, amount or fixed is above 0")
    rounding = cells["rounding"]
    if rounding not in ("whole", "none"):
        raise refuse(f"rounding is whole or none, not {rounding!r}")
    when = cells["when_quantity"]
    at_least = _number(cells, "at_least", refuse, None) if cells["at_least"] else None
    below = _number(cells, "below", refuse, None) if cells["below"] else None
    if when and when not in QUANTITY_UNITS:
        raise refuse(f"there is no quantity {when!r}")
    if bool(when) != (at_least is not None or below is not None):
        raise refuse("when_quantity needs at_least or below, and they need it")
    if not cells["reason"]:
        raise refuse("reason must be filled in")
    return Recipe(
        row=refuse.row,
        form=form,
        part=part,
        attributes=attributes,
        driver=driver,
        amount=amount,
        per=per,
        fixed=fixed,
        waste=waste,
        rounding="whole" if rounding == "whole" else "none",
        flags=tuple(_flag(cells[column], refuse) for column in ("flag_1", "flag_2") if cells[column]),
        when_quantity=when,
        at_least=at_least,
        below=below,
        reason=_sentence(cells["reason"], refuse),
        shown=_shown(amount, per, fixed, waste, QUANTITY_UNITS.get(driver, "")),
        as_measured=amount == per == 1 and not waste and not fixed,
    )


def _part_of(cell: str, refuse: _Refuse) -> tuple[PartForm, str]:
    form, _, part = cell.partition(":")
    part = part.strip()
    if not part:
        raise refuse(f"part {cell!r} is not of the form sku:X, chosen:ROLE, match:ROLE or each:SCHEDULE")
    if form == "sku":
        return "sku", part
    if form == "match":
        return "match", part
    if form == "chosen":
        if part not in CHOSEN_ROLES:
            raise refuse(f"the design chooses no {part!r}; it chooses {', '.join(sorted(CHOSEN_ROLES))}")
        return "chosen", part
    if form == "each":
        if part not in SCHEDULES:
            raise refuse(f"there is no schedule {part!r}; there are {', '.join(sorted(SCHEDULES))}")
        return "each", part
    raise refuse(f"part {cell!r} is not of the form sku:X, chosen:ROLE, match:ROLE or each:SCHEDULE")


def _matches(cell: str, refuse: _Refuse) -> tuple[tuple[str, Decimal | str], ...]:
    attributes: list[tuple[str, Decimal | str]] = []
    for pair in filter(None, (piece.strip() for piece in cell.split(";"))):
        name, equals, value = (piece.strip() for piece in pair.partition("="))
        if not (name and equals and value):
            raise refuse(f"match: {pair!r} is not of the form od_mm=primary_od_mm or od_mm=28")
        if value in QUANTITY_UNITS:
            attributes.append((name, value))
            continue
        try:
            attributes.append((name, Decimal(value)))
        except InvalidOperation:
            raise refuse(f"match: {value!r} is neither a number nor a quantity") from None
    return tuple(attributes)


def _check_listed(
    form: PartForm,
    part: str,
    attributes: tuple[tuple[str, Decimal | str], ...],
    price_list: PriceList,
    refuse: _Refuse,
) -> None:
    if form == "sku" and part not in price_list.lines:
        raise refuse(f"SKU {part} is not in price list {price_list.version}")
    if form == "match":
        lines = price_list.by_role.get(part)
        if not lines:
            raise refuse(f"no line of price list {price_list.version} has the role {part!r}")
        for name, value in attributes:
            if not any(name in line.attributes for line in lines):
                raise refuse(f"no line with the role {part!r} has an attribute {name!r}")
            if isinstance(value, Decimal) and all(line.attributes.get(name) != value for line in lines):
                raise refuse(f"no line with the role {part!r} has {name} {value}")


def _number(cells: Mapping[str, str], column: str, refuse: _Refuse, empty: Decimal | None) -> Decimal:
    cell = cells[column]
    if not cell and empty is not None:
        return empty
    try:
        value = Decimal(cell)
    except InvalidOperation:
        raise refuse(f"{column} {cell!r} is not a number") from None
    if not value.is_finite():
        raise refuse(f"{column} {cell!r} is not a number")
    return value


def _flag(cell: str, refuse: _Refuse) -> tuple[str, bool]:
    words = cell.split()
    wanted = words[0] != "not"
    name = " ".join(words if wanted else words[1:])
    if name not in FLAGS:
        raise refuse(f"there is no flag {name!r}")
    return name, wanted


def _sentence(template: str, refuse: _Refuse) -> tuple[str, ...]:
    pieces: list[str] = [""]
    try:
        parsed = list(Formatter().parse(template))
    except ValueError as fault:
        raise refuse(f"reason: {fault}") from fault
    for text, name, form, conversion in parsed:
        pieces[-1] += text
        if name is None:
            continue
        if name != "driver" and name not in QUANTITY_UNITS:
            raise refuse(f"reason: there is no quantity {name!r}")
        if form or conversion:
            raise refuse(f"reason: write {{{name}}} without a format")
        pieces += [name, ""]
    return tuple(pieces)


def _shown(amount: Decimal, per: Decimal, fixed: Decimal, waste: Decimal, unit: str) -> str:
    """The arithmetic of a row as text, with # where the driver's number goes."""
    text = "#" if unit in _UNSAID_UNITS else f"# {unit}"
    if amount != 1:
        text += f" × {plain(amount)}"
    if per != 1:
        text += f" / {plain(per)}"
    if waste:
        text += f" + {plain(waste * 100)} %"
    if fixed:
        text += f" + {plain(fixed)}"
    return text
