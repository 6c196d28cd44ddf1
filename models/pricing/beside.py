"""What stands beside the price: extras, provisional sums, subcontract prices with their last day, what is excluded.

Nothing here is in the total; the total with it is said where the customer can choose it or it may come up.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from typing import NamedTuple

from models.catalogue.prices import PriceList
from models.findings import Finding
from models.frozen import quickly_made
from models.labour.tasks import LabourRules, RowsOfTask
from models.money import line_pence, pence, unit_price, with_margin
from models.pricing.rates import Exclusion as Exclusion, Rates
from models.pricing.vat import vat_lines
from models.reference.dated import Dated
from models.sources import Source
from models.takeoff.bill import Bill, Recipe, bill
from models.takeoff.quantities import EXTRAS, PLAN_QUANTITIES, TakeOff
from models.units import exact

SOURCE = Source("the firm's rates", "", "firm's rule")
_THIRD = Decimal("0.001")


@quickly_made
@dataclass(frozen=True, slots=True)
class Extra:
    """Something that the customer may add to the works, at its own price with VAT at the completion of the works."""

    code: str
    description: str
    net_pence: int
    vat_pence: int
    total_pence: int
    why: str
    cost_pence: int


@quickly_made
@dataclass(frozen=True, slots=True)
class ProvisionalSum:
    """A sum for what nobody can know yet: charged by what it then turns out to take, agreed before it is done."""

    code: str
    description: str
    net_pence: int
    vat_pence: int
    total_pence: int
    why: str


@quickly_made
@dataclass(frozen=True, slots=True)
class SubcontractPrice:
    """A price of another firm that is in the bill, and the last day on which it is held."""

    sku: str
    description: str
    sell_pence: int
    held_until: date
    why: str


@dataclass(frozen=True, slots=True)
class Beside:
    """All that stands beside a price. `total_with_provisional_pence` is the total if every provisional sum comes up."""

    extras: tuple[Extra, ...] = ()
    provisional_sums: tuple[ProvisionalSum, ...] = ()
    subcontract: tuple[SubcontractPrice, ...] = ()
    exclusions: tuple[Exclusion, ...] = ()


@dataclass(frozen=True, slots=True)
class ExtraRules:
    """What the price of an extra is worked out by: the same rows and prices as the rest of the job."""

    take_off: TakeOff
    recipes: tuple[Recipe, ...]
    labour: LabourRules
    price_list: PriceList


class _Switched(NamedTuple):
    """The rows that the flag of an extra switches on: recipes, whole tasks by code, and all tasks that it touches."""

    recipes: tuple[Recipe, ...]
    whole: frozenset[str]
    of_task: tuple[RowsOfTask, ...]


# By identity, with the rows held so that they stay theirs: rows are asked far more often than they change.
_switched: dict[tuple[int, int], tuple[tuple[Recipe, ...], LabourRules, dict[str, _Switched]]] = {}
_MOST_ROWS = 64


def _switched_by(recipes: tuple[Recipe, ...], labour: LabourRules) -> dict[str, _Switched]:
    """What each extra switches on."""
    key = id(recipes), id(labour)
    remembered = _switched.get(key)
    if remembered is not None and remembered[0] is recipes and remembered[1] is labour:
        return remembered[2]
    if len(_switched) >= _MOST_ROWS:
        _switched.clear()
    made = {}
    for code in EXTRAS:
        wanted = (code, True)
        whole = frozenset(task.code for task in labour.tasks if wanted in task.when)
        touched = whole.union(row.task for row in labour.hours if wanted in row.when)
        made[code] = _Switched(
            tuple(recipe for recipe in recipes if wanted in recipe.flags),
            whole,
            tuple(rows for rows in labour.of_task if rows.task.code in touched),
        )
    _switched[key] = (recipes, labour, made)
    return made


def extras_of(
    rules: ExtraRules, *, rates: Rates, fuel_now: str, on: date, series: Mapping[str, Dated]
) -> tuple[Extra, ...]:
    """The extras that are not chosen, each by the recipe and labour rows that its flag switches on.

    `on` is the day of completion, whose VAT holds. The firm's recipes, labour rows and rates. Days on site are not
    counted: an extra that lengthens the job by a day is drafted as a choice of its own. An extra without any row, or
    with a part that the list lacks, is left out.
    """
    switched = _switched_by(rules.recipes, rules.labour)
    found = []
    for code, description in EXTRAS.items():
        if rules.take_off.flags[code] or rates.only_with_fuel.get(code, fuel_now) != fuel_now:
            continue
        extra = _extra(code, description, rules, switched[code], rates, on, series)
        if extra is not None:
            found.append(extra)
    return tuple(found)


def _extra(
    code: str,
    description: str,
    rules: ExtraRules,
    switched: _Switched,
    rates: Rates,
    on: date,
    series: Mapping[str, Dated],
) -> Extra | None:
    flags = {**rules.take_off.flags, code: True}
    goods = bill(
        take_off=replace(rules.take_off, flags=flags),
        plan_quantities=dict.fromkeys(PLAN_QUANTITIES, Decimal(0)),
        recipes=switched.recipes,
        price_list=rules.price_list,
        margins=rates.margin_ratio_by_class,
        priced_on=on,
    )
    hours = _hours(code, rules, switched, flags)
    if goods.findings or not (goods.lines or hours):
        return None
    net_by_class: dict[str, int] = {}
    for line in goods.lines:
        net_by_class[line.vat_class] = net_by_class.get(line.vat_class, 0) + line.sell_pence
    cost, said = goods.cost_pence, [line.description for line in goods.lines]
    for trade, amount in hours.items():
        rate = rates.labour.get(trade)
        if rate is None:
            return None
        quantity = amount.quantize(_THIRD)
        sell = line_pence(quantity, unit_price(with_margin(rate.cost_gbp_per_h, rate.margin_ratio)))
        net_by_class["installed"] = net_by_class.get("installed", 0) + sell
        cost += line_pence(quantity, unit_price(rate.cost_gbp_per_h))
        said.append(f"{amount.normalize():f} h of {trade}")
    vat = vat_lines(net_pence_by_class=net_by_class, on=on, series=series)
    net, tax = sum(line.net_pence for line in vat), sum(line.vat_pence for line in vat)
    return Extra(code, description, net, tax, net + tax, "; ".join(said), cost)


def _hours(code: str, rules: ExtraRules, switched: _Switched, flags: Mapping[str, bool]) -> dict[str, Decimal]:
    """Person-hours by trade of the tasks and rows that the flag alone switches on."""
    wanted, quantities = (code, True), rules.take_off.quantities
    hours: dict[str, Decimal] = {}
    for rows in switched.of_task:
        task = rows.task
        if not all([flags[flag] is value for flag, value in task.when]):
            continue
        whole = task.code in switched.whole
        amount = task.fixed_person_h if whole else Decimal(0)
        for row in rows.hours:
            if (whole or wanted in row.when) and all([flags[flag] is value for flag, value in row.when]):
                amount += quantities[row.driver].value * row.amount / row.per
        for factor in rows.factors:
            if flags[factor.flag]:
                amount *= factor.multiplier
        if amount:
            hours[task.trade] = hours.get(task.trade, Decimal(0)) + exact(amount)
    return hours


def provisional_sums(
    findings: Iterable[Finding],
    *,
    flags: Mapping[str, bool],
    rates: Rates,
    on: date,
    series: Mapping[str, Dated],
) -> tuple[ProvisionalSum, ...]:
    """The provisional sums that findings (or flags of the take-off) call for, with VAT at the completion of the works.

    The firm's rates. Each rule counts once, whatever number of its findings stand.
    """
    codes = frozenset().union(*[rule.where_findings for rule in rates.provisional_sums])
    where: dict[str, list[str]] = {}
    for finding in findings:
        if finding.code in codes:
            where.setdefault(finding.code, []).append(finding.where)
    sums = []
    for rule in rates.provisional_sums:
        places = [place for code in sorted(rule.where_findings) for place in where.get(code, ())]
        if not places and not any(flags.get(code, False) for code in rule.where_findings):
            continue
        net = pence(rule.sell_gbp * 100)
        tax = vat_lines(net_pence_by_class={rule.vat_class: net}, on=on, series=series)[0].vat_pence
        why = f"not known: {', '.join(dict.fromkeys(places))}" if places else "the survey suspects it"
        sums.append(ProvisionalSum(rule.code, rule.description, net, tax, net + tax, why))
    return tuple(sums)


def subcontract_prices(
    materials: Bill, *, rates: Rates, price_list: PriceList | None, priced_on: date
) -> tuple[SubcontractPrice, ...]:
    """The lines of the bill that another firm does, each with the last day on which its price is held.

    The firm's rates: so many days after pricing, or the last day of the price line if that is earlier.
    """
    usual = priced_on + timedelta(days=rates.subcontract_held_days)
    found = []
    for line in materials.lines:
        if line.margin_class != rates.subcontract_margin_class:
            continue
        last = None if price_list is None else price_list.lines[line.sku].ends_on
        held_until = usual if last is None else min(usual, last)
        found.append(
            SubcontractPrice(
                line.sku, line.description, line.sell_pence, held_until,
                f"done by another firm; its price is held until {held_until:%d %B %Y}",
            )
        )  # fmt: skip
    return tuple(found)


def subcontract_findings(prices: Sequence[SubcontractPrice], *, works_start_on: date) -> list[Finding]:
    """A note for each subcontract price that ends before the works begin."""
    return [
        Finding(
            "subcontract_price_ends",
            "note",
            one.description,
            f"the price is held until {one.held_until:%d %B %Y}, the works start on {works_start_on:%d %B %Y}",
            str(SOURCE),
            "ask the firm to hold its price, or order before that day",
        )
        for one in prices
        if one.held_until < works_start_on
    ]
