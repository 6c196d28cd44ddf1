"""All that the law, the standards and the firm say, as one immutable value per version."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal

from models.catalogue import Catalogue, Cylinder, OutdoorUnit, PriceList, Vessel, Volumiser
from models.design.results import EmitterPrices, Offer
from models.firm import Firm
from models.labour.tasks import LabourRules
from models.pricing.rates import Rates
from models.reference import Reference
from models.reference.money_rules import MoneyRules
from models.reference.place import PlaceReference
from models.takeoff.bill import Recipe
from models.takeoff.quantities import TAIL_RUNS


@dataclass(frozen=True, slots=True)
class Offers:
    """What the design may choose from at the list's prices: items without a price line are not offered."""

    outdoor_units: tuple[Offer[OutdoorUnit], ...]
    cylinders: tuple[Offer[Cylinder], ...]
    vessels: tuple[Offer[Vessel], ...]
    volumisers: tuple[Offer[Volumiser], ...]
    emitters: EmitterPrices


@dataclass(frozen=True, slots=True)
class WaitingTimes:
    """Calendar days that others take before work may begin, as the firm reckons; None is not known."""

    network_reply_days: int | None
    planning_decision_days: int | None
    grant_offer_days: int | None
    laboratory_days: int | None


@dataclass(frozen=True, slots=True)
class Rules:
    """What an estimate is worked out by, besides the survey and the choices. `version` names it in the basis.

    `versions` names the version of each kind of rules that the firm edits, where they come from a database. No figure
    rests on `firm`, who makes the offer, so that neither does `version`; None where nobody wrote it down.
    """

    version: str
    reference: Reference
    place: PlaceReference
    money: MoneyRules
    catalogue: Catalogue
    price_list: PriceList
    recipes: tuple[Recipe, ...]
    labour: LabourRules
    rates: Rates
    bank_holidays: Mapping[str, frozenset[date]]
    offers: Offers
    waiting: WaitingTimes
    versions: Mapping[str, str] = field(default_factory=dict)
    firm: Firm | None = None


def offers_of(
    *,
    catalogue: Catalogue,
    price_list: PriceList,
    recipes: tuple[Recipe, ...],
    labour: LabourRules,
    rates: Rates,
    on: date | None = None,
) -> Offers:
    """The catalogue at the list's prices. With `on`, only what is still sold on that day is offered.

    The price of a fan-assisted emitter holds its mains supply. What a changed emitter costs besides itself is the sum
    over the recipe and labour rows that it drives, so that the choice of emitters and the bill cannot disagree.
    """
    listed = price_list.lines if on is None else {s: line for s, line in price_list.lines.items() if line.sold_on(on)}
    swap_hours = marginal_hours(labour, "emitters_swapped")
    add_hours = marginal_hours(labour, "emitters_added")
    engineer, electrician = rates.labour["engineer"], rates.labour["electrician"]
    fan_supply_pence = marginal_cost_pence(recipes, price_list, "emitters_fan_assisted") + int(
        marginal_hours(labour, "emitters_fan_assisted") * float(electrician.cost_gbp_per_h) * 100
    )
    return Offers(
        outdoor_units=tuple(
            Offer(item, price_list.cost_pence(item.sku), 0.0) for item in catalogue.outdoor_units if item.sku in listed
        ),
        cylinders=tuple(
            Offer(item, price_list.cost_pence(item.sku), 0.0) for item in catalogue.cylinders if item.sku in listed
        ),
        vessels=tuple(
            Offer(item, price_list.cost_pence(item.sku), 0.0) for item in catalogue.vessels if item.sku in listed
        ),
        volumisers=tuple(
            Offer(item, price_list.cost_pence(item.sku), 0.0) for item in catalogue.volumisers if item.sku in listed
        ),
        emitters=EmitterPrices(
            offers=tuple(
                Offer(
                    item,
                    price_list.cost_pence(item.sku) + (fan_supply_pence if item.kind == "fan_assisted" else 0),
                    swap_hours,
                )
                for item in catalogue.emitters
                if item.sku in listed
            ),
            labour_pence_per_h=int(engineer.cost_gbp_per_h * 100),
            swap_hours=swap_hours,
            add_hours=add_hours,
            valve_hours=marginal_hours(labour, "emitters_valve_only"),
            swap_parts_pence=marginal_cost_pence(recipes, price_list, "emitters_swapped"),
            add_parts_pence_per_m=marginal_cost_pence(recipes, price_list, "emitter_run_m"),
            valve_pair_pence=marginal_cost_pence(recipes, price_list, "valve_pairs_thermostatic"),
            assumed_run_m=float(rates.assumed_run_m),
            add_parts_pence=marginal_cost_pence(recipes, price_list, "emitters_added"),
            tail_hours=marginal_hours(labour, "tails_renewed"),
            tail_parts_pence=marginal_cost_pence(recipes, price_list, "tails_renewed"),
            tail_15_hours_per_m=marginal_hours(labour, TAIL_RUNS[15]),
            tail_22_hours_per_m=marginal_hours(labour, TAIL_RUNS[22]),
            tail_15_parts_pence_per_m=marginal_cost_pence(recipes, price_list, TAIL_RUNS[15]),
            tail_22_parts_pence_per_m=marginal_cost_pence(recipes, price_list, TAIL_RUNS[22]),
        ),
    )


def with_price_list(rules: Rules, price_list: PriceList, *, on: date | None = None) -> Rules:
    """The same rules under another price list, the offers at its prices; with `on`, what is sold on that day."""
    offers = offers_of(
        catalogue=rules.catalogue,
        price_list=price_list,
        recipes=rules.recipes,
        labour=rules.labour,
        rates=rules.rates,
        on=on,
    )
    return replace(rules, price_list=price_list, offers=offers)


def marginal_hours(labour: LabourRules, driver: str) -> float:
    """Person-hours that one more of a quantity brings: the sum over the rows that it drives, whatever their condition.

    The firm's labour rows.
    """
    return float(sum((row.amount / row.per for row in labour.hours if row.driver == driver), Decimal(0)))


def marginal_cost_pence(recipes: tuple[Recipe, ...], price_list: PriceList, driver: str) -> int:
    """Cost of the parts that one more of a quantity brings, in whole pence, before packs; rows with a fixed SKU only.

    The firm's recipes and prices.
    """
    cost_gbp = sum(
        (
            price_list.lines[recipe.part].cost_gbp * recipe.amount / recipe.per * (1 + recipe.waste)
            for recipe in recipes
            if recipe.form == "sku" and recipe.driver == driver and recipe.part in price_list.lines
        ),
        Decimal(0),
    )
    return int((cost_gbp * 100).to_integral_value())
