"""A discount: one line of the price, with the most that each role may give and a floor under the margin."""

from collections.abc import Mapping
from decimal import Decimal

from models.money import pence
from models.pricing.rates import Rates


def discount_pence(*, net_pence: int, discount_ratio: Decimal) -> int:
    """What comes off a sum before VAT, rounded once, as a positive number of pence."""
    return pence(net_pence * discount_ratio)


def greatest_discount_ratio(role: str, rates: Rates) -> Decimal:
    """The most that a role may give; nothing for a role that the rates do not name."""
    return rates.greatest_discount_ratio_by_role.get(role, Decimal(0))


def roles_that_may(discount_ratio: Decimal, by_role: Mapping[str, Decimal]) -> tuple[str, ...]:
    """The roles that may give a discount, those with the least right first."""
    return tuple(sorted((role for role, most in by_role.items() if most >= discount_ratio), key=by_role.__getitem__))


def below_floor(*, cost_pence: int, net_pence: int, margin_floor_ratio: Decimal) -> bool:
    """Whether the margin of a price is below the floor. Margin is a share of the price, not of the cost.

    Common practice, no source. A price of nothing or less is below any floor.
    """
    return net_pence <= 0 or Decimal(net_pence - cost_pence) < margin_floor_ratio * net_pence
