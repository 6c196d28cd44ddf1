"""Money: whole pence, exact decimals and the rounding that everyone shares. No float comes in."""

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal
from typing import NewType

Pence = NewType("Pence", int)

_FOURTH = Decimal("0.0001")
_ONE = Decimal(1)


def pence(amount: Decimal) -> Pence:
    """An amount in pence as a whole number, half up (away from zero)."""
    return Pence(int(amount.quantize(_ONE, ROUND_HALF_UP)))


def unit_price(amount: Decimal) -> Decimal:
    """A unit price in pounds at four decimal places, half up."""
    return amount.quantize(_FOURTH, ROUND_HALF_UP)


def line_pence(quantity: Decimal, unit_price_gbp: Decimal) -> Pence:
    """Quantity times unit price in pounds, rounded once to whole pence."""
    return pence(quantity * unit_price_gbp * 100)


def with_margin(cost: Decimal, margin_ratio: Decimal) -> Decimal:
    """The selling price that leaves `margin_ratio` of itself above cost: margin, not mark-up.

    Common practice, no source: 25 % margin on 100 is 133.33. Raises ValueError from a margin of 1 upwards.
    """
    if not 0 <= margin_ratio < 1:
        raise ValueError(f"a margin is at least 0 and below 1, not {margin_ratio}")
    return cost / (1 - margin_ratio)


def split(total: Pence, weights: Sequence[Decimal | int]) -> list[Pence]:
    """Shares of `total` in proportion to `weights` that add up to it to the penny, by largest remainder.

    Ties go to the earlier share. Raises ValueError when no weight is positive or one is negative.
    """
    whole = sum(Decimal(w) for w in weights)
    if whole <= 0 or any(w < 0 for w in weights):
        raise ValueError("weights are not negative and at least one is positive")
    sign = -1 if total < 0 else 1
    exact_shares = [abs(total) * Decimal(w) / whole for w in weights]
    shares = [int(share) for share in exact_shares]
    missing = abs(total) - sum(shares)
    by_remainder = sorted(range(len(shares)), key=lambda i: (shares[i] - exact_shares[i], i))
    for index in by_remainder[:missing]:
        shares[index] += 1
    return [Pence(sign * share) for share in shares]
