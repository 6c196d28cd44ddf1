"""Why hours, lines and sums are what they are; what shows cost stands in keys of its own."""

from collections.abc import Iterator
from decimal import Decimal
from typing import Any, Protocol

from models.estimate import Estimate
from models.labour import plan as labour_plan
from models.labour.tasks import RowsOfTask
from models.pricing import price as pricing
from models.pricing.price import Price
from models.rules import Rules
from models.sources import Source
from models.survey import Survey
from models.takeoff import bill as take_off_bill
from models.takeoff.bill import Bill
from models.why.entry import Entry, entry as _entry, number as _number, of as _of, said as _said, surveyed as _input

PRICE_LIST = Source("the firm's price list", standing="firm's rule")


class Money(Protocol):
    """What the reasons of bill and price ask of an estimate; a draft under new prices has no more than this."""

    @property
    def survey(self) -> Survey:
        """Whose house it is."""

    @property
    def rules(self) -> Rules:
        """The prices and rates."""

    @property
    def bill(self) -> Bill | None:
        """The lines."""

    @property
    def price(self) -> Price | None:
        """The sums."""


def entries(estimate: Estimate) -> Iterator[Entry]:
    """The reasons, in the order of the document."""
    yield from _labour(estimate)
    yield from of_bill_and_price(estimate)


def of_bill_and_price(drafted: Money) -> Iterator[Entry]:
    """The reasons of bill and price alone."""
    yield from _bill(drafted)
    yield from _price(drafted)


def _labour(estimate: Estimate) -> Iterator[Entry]:
    plan = estimate.plan
    if plan is None:
        return
    source = labour_plan.SOURCE
    yield _entry(
        "labour_plan.person_hours",
        "sum of the tasks",
        [(f"{task.code}_person_hours", task.person_hours) for task in plan.tasks],
        source,
    )
    yield _entry(
        "labour_plan.days",
        "the fewest days in which the order of the tasks, their waiting times and the crew allow it",
        [("person_hours", plan.person_hours), ("crew", plan.crew), ("lower_bound_days", plan.lower_bound_days)],
        source,
        sentence=_said(labour_plan.WHY, plan),
    )
    for service in ("hot_water", "heating", "power", "cold_water"):
        windows = [window for window in plan.services if window.service == service]
        yield _entry(
            f"labour_plan.{service}_off_h",
            "from the task that switches it off to the one that brings it back, on the clock",
            [(f"day {window.off.day} {window.off.at} to day {window.on.day} {window.on.at}_h", window.clock_h)
             for window in windows],
            source,
        )  # fmt: skip
    rows = {row.task.code: row for row in estimate.rules.labour.of_task}
    for task in plan.tasks:
        yield _task(estimate, rows[task.code], task.person_hours)


def _task(estimate: Estimate, rows: RowsOfTask, person_hours: Decimal) -> Entry:
    """Hours of a task: fixed + driver x amount / per, times the factors that hold."""
    measured = estimate.take_off
    task = rows.task
    numbers: list[tuple[str, Any]] = [("fixed_person_h", task.fixed_person_h)]
    told = [f"{task.fixed_person_h:f} h fixed"] if task.fixed_person_h else []
    for hours in rows.hours:
        if not all(measured.flags[flag] is wanted for flag, wanted in hours.when):
            continue
        quantity = measured.quantities[hours.driver]
        each = f"{hours.amount:f}" if hours.per == 1 else f"{hours.amount:f} / {hours.per:f}"
        numbers += [(hours.driver, quantity.value), (f"{hours.driver}: amount_h", hours.amount),
                    (f"{hours.driver}: per", hours.per)]  # fmt: skip
        told.append(f"{take_off_bill.plain(quantity.value)} ({quantity.sentence}) x {each} h")
    factors = [factor for factor in rows.factors if measured.flags[factor.flag]]
    numbers += [(f"{factor.flag}: factor", factor.multiplier) for factor in factors]
    by = "".join(f", x {factor.multiplier:f} ({factor.flag.replace('_', ' ')})" for factor in factors)
    total = take_off_bill.plain(person_hours)
    return _entry(
        f"labour_plan.tasks.{task.code}.person_hours",
        "(fixed + sum of quantity x amount / per) x factors",
        [*numbers, ("person_hours", person_hours)],
        labour_plan.SOURCE,
        sentence=f"{task.name}: {' + '.join(told) or 'no hours'}{by} = {total} person-hours",
    )


def _bill(estimate: Money) -> Iterator[Entry]:
    bill = estimate.bill
    if bill is None:
        return
    margins = estimate.rules.rates.margin_ratio_by_class
    for line in bill.lines:
        at, source = f"bill.lines.{line.line_id}", take_off_bill.SOURCE
        yield _entry(f"{at}.used", "what the recipes that name the part add up to", [("used", line.used)], source,
                     sentence=line.why)  # fmt: skip
        yield _entry(
            f"{at}.bought",
            "nothing from van stock, else whole packs",
            [("used", line.used), ("pack_size", line.pack_size), ("bought", line.bought)],
            source,
            sentence=line.why,
        )
        yield _entry(
            f"{at}.charged",
            "what was used where the part is charged by measure or comes off the van, else what was bought",
            [("used", line.used), ("bought", line.bought), ("charged", line.charged)],
            source,
            sentence=line.why,
        )
        margin = margins[line.margin_class] if line.cost_unit_gbp > 0 else Decimal(0)
        yield _entry(
            f"{at}.sell_pence",
            "charged x selling price of a unit, rounded once to whole pence",
            [("charged", line.charged), ("unit_sell_gbp", line.unit_sell_gbp), ("sell_pence", line.sell_pence)],
            PRICE_LIST,
            cost_why={
                "formula": "selling price of a unit = cost of a unit / (1 - margin), to four places",
                "numbers": [_number("cost_unit_gbp", line.cost_unit_gbp), _number("margin_ratio", margin)],
            },
        )
        yield _entry(
            f"{at}.cost_pence",
            "charged x cost of a unit, rounded once to whole pence",
            [("charged", line.charged), ("cost_unit_gbp", line.cost_unit_gbp), ("cost_pence", line.cost_pence)],
            PRICE_LIST,
        )


def _price(estimate: Money) -> Iterator[Entry]:
    price, bill = estimate.price, estimate.bill
    if price is None or price.partial or bill is None:
        return
    source = pricing.SOURCE
    yield _entry(
        "price.goods_sell_pence",
        "sum of the lines of the bill",
        [("lines", len(bill.lines)), ("goods_sell_pence", price.goods_sell_pence)],
        source,
    )
    for part in price.parts:
        yield _entry(
            f"price.parts.{part.code}.sell_pence",
            "quantity x selling price of a unit, rounded once to whole pence",
            [("quantity", part.quantity), ("unit_sell_gbp", part.unit_sell_gbp), ("sell_pence", part.sell_pence)],
            source,
            sentence=f"{part.description}: {part.why}",
            cost_why={
                "formula": part.cost_why or "passed on as it is",
                "numbers": [_number("cost_unit_gbp", part.cost_unit_gbp), _number("cost_pence", part.cost_pence)],
            },
        )
    parts = [(f"{part.code}: sell_pence", part.sell_pence) for part in price.parts]
    vat = [(f"{stage.name}: vat_pence", stage.vat_pence) for stage in price.stages]
    for line in price.vat:
        alike = sum(other.vat_class == line.vat_class for other in price.vat)
        its_rate = "" if alike == 1 else f"~{take_off_bill.plain(line.rate_ratio)}"
        yield _entry(
            f"price.vat.{line.vat_class}{its_rate}.vat_pence",
            "of each stage of payment, its net of this class x the rate at its tax point, rounded once; summed",
            [("net_pence", line.net_pence), ("rate_ratio", line.rate_ratio), ("vat_pence", line.vat_pence)],
            Source(line.source),
        )
    grant = Source(price.grant.source) if price.grant is not None and price.grant.source else source
    for figure, formula, numbers, its in (
        ("net_pence", "goods + labour and the other parts", [("goods_sell_pence", price.goods_sell_pence), *parts],
         source),
        ("vat_pence", "sum of the VAT of the stages, each at its own tax point", vat, source),
        ("total_pence", "net + VAT", _of(price, "net_pence", "vat_pence"), source),
        ("grant_pence", "the scheme's amount at the date, at most the price; it never lessens VAT",
         [("grant_pence", price.grant_pence)], grant),
        ("customer_pays_pence", "total - grant", _of(price, "total_pence", "grant_pence"), source),
    ):  # fmt: skip
        inputs = []
        if figure == "grant_pence":
            existing, house = estimate.survey.existing, estimate.survey.house
            inputs = [_input("fuel of today", existing, "fuel"), _input("on the gas grid", house, "on_gas_grid"),
                      _input("nation", house, "nation"), _input("tenure", house, "tenure")]  # fmt: skip
        yield _entry(
            f"price.{figure}",
            formula,
            [*numbers, (figure, getattr(price, figure))],
            its,
            sentence=price.why.get(figure, ""),
            inputs=inputs,
        )
    yield _entry(
        "price.margin_pence",
        "net - cost",
        [("net_pence", price.net_pence), ("cost_pence", price.cost_pence)],
        source,
    )
    yield _entry(
        "price.cost_pence",
        "goods at cost + the other parts at cost",
        [("goods_cost_pence", price.goods_cost_pence),
         *[(f"{part.code}: cost_pence", part.cost_pence) for part in price.parts]],
        source,
    )  # fmt: skip
    for stage in price.stages:
        at = f"price.stages.{stage.name}"
        yield _entry(
            f"{at}.total_pence",
            "the firm's share of what the customer pays, within the consumer code, + its VAT; the last takes the rest",
            _of(stage, "net_pence", "vat_pence", "total_pence", "grant_pence", "customer_pays_pence"),
            source,
            sentence=f"{stage.name}: {stage.due}",
        )
        yield _entry(
            f"{at}.vat_pence",
            "net of each class x the rate at the tax point of the stage, each rounded once",
            [
                pair
                for line in stage.vat
                for pair in (
                    (f"{line.vat_class}: net_pence", line.net_pence),
                    (f"{line.vat_class}: rate_ratio", line.rate_ratio),
                    (f"{line.vat_class}: vat_pence", line.vat_pence),
                )
            ],
            Source(stage.vat[0].source) if stage.vat else source,
            sentence=f"tax point {stage.tax_point_on:%d %B %Y}: {stage.trigger}",
        )
