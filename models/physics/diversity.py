"""Diversity: how much of many loads of one kind a household draws at once."""

from collections.abc import Sequence

from models.reference.place import Allowance
from models.survey.site import Load
from models.units import per_cent


def load_current_a(*, load: Load, voltage_v: float) -> float | None:
    """The current of one load: the power on its plate over the voltage, else the rating of its breaker.

    Common practice, no source. None where neither was noted. A load on three phases is taken as on one.
    """
    if load.rated_kw is not None:
        return load.rated_kw * 1000 / voltage_v
    return load.breaker_a


def after_diversity_a(*, currents_a: Sequence[float], control_sockets: int, allowance: Allowance) -> float:
    """What loads of one kind count for together.

    IET Guidance Note 1 and On-Site Guide, allowances for individual household installations. The largest ones whole;
    of the rest some amperes whole and a share beyond; so much for each socket outlet in a control unit. Never falls
    when a load is added or grows.
    """
    falling_a = sorted(currents_a, reverse=True)
    rest_a = sum(falling_a[allowance.largest_whole :])
    whole_a = min(rest_a, allowance.whole_a)
    return (
        sum(falling_a[: allowance.largest_whole])
        + whole_a
        + allowance.rest_ratio * (rest_a - whole_a)
        + allowance.socket_a * control_sockets
    )


def allowance_words(allowance: Allowance) -> str:
    """The allowance as a sentence: "10 A whole, 30 % beyond, 5 A for a socket outlet in its control unit"."""
    said = []
    if allowance.largest_whole:
        number = "" if allowance.largest_whole == 1 else f" {allowance.largest_whole}"
        said.append(f"the largest{number} whole")
    if allowance.whole_a:
        said.append(f"{allowance.whole_a:g} A whole")
    share = "whole" if allowance.rest_ratio == 1 else per_cent(allowance.rest_ratio)
    said.append(f"{share} {'beyond' if allowance.whole_a else 'of the rest'}" if said else share)
    if allowance.socket_a:
        said.append(f"{allowance.socket_a:g} A for a socket outlet in its control unit")
    return ", ".join(said)
