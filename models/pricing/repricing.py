"""New prices for a draft whose quantities and hours stay: whole-number arithmetic on narrow rows, then the price."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from models.catalogue.prices import PriceLine, PriceList
from models.money import unit_price, with_margin
from models.pricing.price import Price, price
from models.pricing.rates import Rates
from models.reference.money_rules import MoneyRules
from models.sources import Source
from models.takeoff.bill import Bill, BillLine

SOURCE = Source("the firm's price list in force", "", "firm's rule")
_ZERO = Decimal(0)
_TEN_THOUSAND = Decimal(10_000)
_TO_PENCE = 100_000
"""Thousandths of a unit times ten-thousandths of a pound are so many times a penny."""
_TWICE_TO_PENCE = 2 * _TO_PENCE


@dataclass(frozen=True, slots=True)
class UnitPrices:
    """Cost and selling price of a unit of measure in ten-thousandths of a pound, and the class of VAT."""

    cost: int
    sell: int
    vat_class: str


@dataclass(frozen=True, slots=True)
class NarrowDraft:
    """What a draft's money depends on besides prices and rates. `charged` is in thousandths of a unit of measure."""

    charged: Sequence[tuple[str, int]]
    hours_by_trade: Mapping[str, Decimal]
    plan_days: int
    works_start_on: date
    works_end_on: date
    nation: str
    tenure: str
    fuel_now: str
    on_gas_grid: str
    grant_applied_on: date
    discount_ratio: Decimal


class NotListed(ValueError):
    """Parts of a draft that the list does not sell on the day; `skus` names them."""

    def __init__(self, skus: tuple[str, ...]) -> None:
        super().__init__(f"{', '.join(skus)} can no longer be bought under the list")
        self.skus = skus


def unit_prices(price_list: PriceList, rates: Rates, on: date) -> dict[str, UnitPrices]:
    """The prices of everything that is sold on a day. A credit is never marked up. A line of a margin class that
    the rates do not have is left out."""
    found: dict[str, UnitPrices] = {}
    for sku, line in price_list.lines.items():
        margin = _margin(line, rates)
        if line.sold_on(on) and margin is not None:
            cost, sell = unit_price(line.cost_gbp), unit_price(with_margin(line.cost_gbp, margin))
            found[sku] = UnitPrices(int(cost * _TEN_THOUSAND), int(sell * _TEN_THOUSAND), line.vat_class)
    return found


def _margin(line: PriceLine, rates: Rates) -> Decimal | None:
    return _ZERO if line.cost_gbp <= 0 else rates.margin_ratio_by_class.get(line.margin_class)


def line_amount_pence(charged_thousandths: int, unit_ten_thousandths: int) -> int:
    """A line in whole pence, half up (away from nothing), from whole numbers alone."""
    exact = charged_thousandths * unit_ten_thousandths
    rounded = (2 * abs(exact) + _TO_PENCE) // (2 * _TO_PENCE)
    return rounded if exact >= 0 else -rounded


def repriced(
    draft: NarrowDraft,
    prices: Mapping[str, UnitPrices],
    *,
    rates: Rates,
    money_rules: MoneyRules,
    priced_on: date,
    amounts_only: bool = False,
) -> Price:
    """The price of a draft under other prices and rates.

    The firm's price list in force. Quantities, hours and days stay; labour, days, weather, discount, VAT, grant and
    stages follow as in `price`, also what `amounts_only` leaves out. Raises NotListed for parts that cannot be bought.
    """
    cost = 0
    sell_by_class: dict[str, int] = {}
    for sku, charged in draft.charged:
        its = prices.get(sku)
        if its is None:
            raise NotListed(tuple(one for one, _ in draft.charged if one not in prices))
        if not amounts_only:
            cost += line_amount_pence(charged, its.cost)
        # Half up from nothing on, as in `line_amount_pence`, written out: this runs a hundred times a draft.
        exact = charged * its.sell
        sell = (2 * exact + _TO_PENCE) // _TWICE_TO_PENCE if exact >= 0 else line_amount_pence(charged, its.sell)
        sell_by_class[its.vat_class] = sell_by_class.get(its.vat_class, 0) + sell
    return price(
        bill=Bill(_sums(sell_by_class), cost, sum(sell_by_class.values())),
        hours_by_trade=draft.hours_by_trade,
        plan_days=draft.plan_days,
        rates=rates,
        money_rules=money_rules,
        nation=draft.nation,
        tenure=draft.tenure,
        fuel_now=draft.fuel_now,
        on_gas_grid=draft.on_gas_grid,
        grant_applied_on=draft.grant_applied_on,
        priced_on=priced_on,
        works_start_on=draft.works_start_on,
        works_end_on=draft.works_end_on,
        stopped=False,
        discount_ratio=draft.discount_ratio,
        amounts_only=amounts_only,
    )


_SUM = BillLine(
    "", "", "", "", "", Decimal(1), _ZERO, _ZERO, _ZERO, _ZERO, _ZERO, 0, 0, "", "", "", "", "", 0, "", "", ()
)


def _sums(sell_by_class: Mapping[str, int]) -> tuple[BillLine, ...]:
    """One line a class of VAT: all that a price asks of the lines of a bill."""
    return tuple(_SUM._replace(vat_class=name, sell_pence=sell) for name, sell in sell_by_class.items())


@dataclass(frozen=True, slots=True)
class Watched:
    """What the choices of a design depend on: the SKUs that were chosen, whether new emitters are among them, and the
    costs of the flow temperatures that were weighed, (purchase, whole) in pence, the one that was taken first."""

    chosen: tuple[str, ...]
    new_emitters: bool
    weighed: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class OfferChanges:
    """What a new list does to what is offered.

    `overtaken` are the SKUs that something is now as cheap as or cheaper than which was dearer before, or that are no
    longer offered. `least_ratio` and `greatest_ratio` bound how any part of a purchase has changed.
    """

    overtaken: frozenset[str]
    least_ratio: Decimal
    greatest_ratio: Decimal
    emitters_changed: bool
    all_changed: bool


@dataclass(frozen=True, slots=True)
class OfferPrices:
    """What is offered at which cost in pence, by family (the emitters last), and what an emitter costs besides."""

    families: tuple[Mapping[str, int], ...]
    besides_emitters: tuple[float, ...]


def offer_changes(old: OfferPrices, new: OfferPrices) -> OfferChanges:
    """How offers change from one list to another, by price and by order of price.

    The firm's rule. What a changed emitter costs besides itself (hours, valves, pipe) counts as everything changed.
    """
    overtaken: set[str] = set()
    ratios = [Decimal(1)]
    changed = False
    for before, after in zip(old.families, new.families, strict=True):
        changed = before != after
        if changed:
            ratios += [Decimal(after[sku]) / cost for sku, cost in before.items() if cost and sku in after]
            overtaken |= before.keys() - after.keys()
            overtaken.update(_overtaken(before, after))
    rest_is_same = old.besides_emitters == new.besides_emitters
    return OfferChanges(frozenset(overtaken), min(ratios), max(ratios), changed, not rest_is_same)


def _overtaken(before: Mapping[str, int], after: Mapping[str, int]) -> Iterator[str]:
    for sku, cost in after.items():
        was = before.get(sku)
        if was is not None and any(
            other_cost <= cost and (other not in before or before[other] > was or (before[other] == was > other_cost))
            for other, other_cost in after.items()
            if other != sku
        ):
            yield sku


def may_choose_differently(watched: Watched, changes: OfferChanges) -> bool:
    """Whether a fresh estimate could choose otherwise, without working one out.

    The firm's rule. A unit, cylinder, vessel or volumiser is chosen as the cheapest of those that fit, so another one
    can only come first when it overtakes the chosen one. New emitters are weighed as sets with their hours, so any
    change of an emitter's price counts. Kept emitters stay kept. Another flow temperature can only come first when its
    whole cost, its purchase at the least of the changes, falls below the taken one's at the greatest. Whether a fresh
    estimate does choose otherwise, only that estimate can say.
    """
    if changes.all_changed or (watched.new_emitters and changes.emitters_changed):
        return True
    if not changes.overtaken.isdisjoint(watched.chosen):
        return True
    if not watched.weighed or changes.least_ratio == changes.greatest_ratio == 1:
        return False
    purchase, whole = watched.weighed[0]
    highest = whole + purchase * (changes.greatest_ratio - 1)
    return any(rival + bought * (changes.least_ratio - 1) <= highest for bought, rival in watched.weighed[1:])
