"""What an emitter gives off at a water temperature, and which water temperature a load needs.

BS EN 442-2:2014 characteristic equation for radiators and convectors; BS EN 1264-2:2021 basic curve for floors.
"""

from collections.abc import Sequence
from math import exp, log

RATED_EXCESS_K = 50.0
FLOOR_COEFFICIENT = 8.92
FLOOR_EXPONENT = 1.1
FLOOR_TEMP_LIMIT_C = {"occupied": 29.0, "bathroom": 33.0, "perimeter": 35.0}
_CLOSE_ENOUGH = 1e-12
_MOST_STEPS = 50


def excess_temp_k(*, flow_temp_c: float, return_temp_c: float, room_temp_c: float) -> float:
    """Mean water temperature above the room, arithmetic mean.

    BS EN 442-2:2014, definition of the excess temperature. May be negative where the water is colder than the room.
    """
    return (flow_temp_c + return_temp_c) / 2 - room_temp_c


def log_mean_excess_k(*, flow_temp_c: float, return_temp_c: float, room_temp_c: float) -> float:
    """Mean water temperature above the room, logarithmic mean.

    Used by some national rules where (return - room) / (flow - room) is below 0.7; EN 442-2 itself uses the
    arithmetic mean. Raises ValueError unless flow >= return > room.
    """
    if not flow_temp_c >= return_temp_c > room_temp_c:
        raise ValueError(f"needs flow >= return > room, not {flow_temp_c:g}, {return_temp_c:g}, {room_temp_c:g} °C")
    hot, cool = flow_temp_c - room_temp_c, return_temp_c - room_temp_c
    return hot if hot == cool else (hot - cool) / log(hot / cool)


def output_ratio(*, excess_k: float, exponent: float) -> float:
    """Output as a share of the output at 50 K excess temperature.

    BS EN 442-2:2014, characteristic equation (dT/50)^n. Zero where the water is no warmer than the room: it gives
    no heat there.
    """
    return float((excess_k / RATED_EXCESS_K) ** exponent) if excess_k > 0 else 0.0


def output_w(
    *, output_50k_w: float, exponent: float, flow_temp_c: float, return_temp_c: float, room_temp_c: float
) -> float:
    """Heat that an emitter gives at its flow, return and room temperature.

    BS EN 442-2:2014, characteristic equation.
    """
    excess_k = excess_temp_k(flow_temp_c=flow_temp_c, return_temp_c=return_temp_c, room_temp_c=room_temp_c)
    return output_50k_w * output_ratio(excess_k=excess_k, exponent=exponent)


def mean_water_temp_c(*, load_w: float, emitters: Sequence[tuple[float, float]], room_temp_c: float) -> float | None:
    """Mean water temperature at which emitters of a room together give a load, or None without any emitter.

    BS EN 442-2:2014, characteristic equation solved for dT. `emitters` holds (output at 50 K in W, exponent) each;
    solved for ln(dT/50), in which the sum is convex and almost straight, by Newton's method. The room's own temperature
    for no load.
    """
    rated_w = sum(output_50k_w for output_50k_w, _ in emitters)
    if rated_w <= 0:
        return None
    if load_w <= 0:
        return room_temp_c
    wanted = log(load_w / rated_w)
    x = wanted / (sum(rated * exponent for rated, exponent in emitters) / rated_w)
    for _ in range(_MOST_STEPS):
        given_w = slope_w = 0.0
        for output_50k_w, exponent in emitters:
            each_w = output_50k_w * exp(exponent * x)
            given_w += each_w
            slope_w += exponent * each_w
        step = (log(given_w / rated_w) - wanted) * given_w / slope_w
        x -= step
        if abs(step) < _CLOSE_ENOUGH:
            break
    return room_temp_c + RATED_EXCESS_K * exp(x)


def excess_ratio(*, load_ratio: float, exponent: float) -> float:
    """Share of the design excess temperature at which an emitter gives a share of the design load.

    BS EN 442-2:2014, characteristic equation solved for the excess: ratio^(1/n). Raises ValueError below nothing.
    """
    if load_ratio < 0:
        raise ValueError(f"a load ratio is not negative: {load_ratio:g}")
    return float(load_ratio ** (1 / exponent))


def flow_and_return_c(
    *, load_ratio: float, flow_temp_c: float, return_temp_c: float, room_temp_c: float, exponent: float
) -> tuple[float, float]:
    """Flow and return temperature at a share of the design load, at constant flow rate.

    BS EN 442-2:2014, characteristic equation: the mean excess goes with ratio^(1/n), the drop with the ratio.
    `flow_temp_c` and `return_temp_c` are those at design conditions. At no load both are the room's temperature.
    Raises ValueError for a negative ratio.
    """
    excess_k = (flow_temp_c + return_temp_c) / 2 - room_temp_c
    mean_c = room_temp_c + excess_k * excess_ratio(load_ratio=load_ratio, exponent=exponent)
    half_drop_k = (flow_temp_c - return_temp_c) / 2 * load_ratio
    return mean_c + half_drop_k, mean_c - half_drop_k


def floor_output_w_per_m2(*, floor_temp_c: float, room_temp_c: float) -> float:
    """Heat that a warm floor gives to the room above it.

    BS EN 1264-2:2021, basic characteristic curve q = 8.92 (theta_F,m - theta_i)^1.1. Zero for a floor no warmer than
    the room.
    """
    excess_k = floor_temp_c - room_temp_c
    return float(FLOOR_COEFFICIENT * excess_k**FLOOR_EXPONENT) if excess_k > 0 else 0.0


def floor_temp_c(*, output_w_per_m2: float, room_temp_c: float) -> float:
    """Mean surface temperature that a floor needs for an output.

    BS EN 1264-2:2021, basic characteristic curve solved for the floor temperature. Raises ValueError below zero.
    """
    if output_w_per_m2 < 0:
        raise ValueError(f"a floor's output is not negative: {output_w_per_m2:g} W/m2")
    return room_temp_c + float((output_w_per_m2 / FLOOR_COEFFICIENT) ** (1 / FLOOR_EXPONENT))


def floor_limit_w_per_m2(*, zone: str, room_temp_c: float) -> float:
    """Most that a floor may give at its highest permitted surface temperature.

    BS EN 1264-2:2021: 29 °C where people stay, 33 °C in bathrooms, 35 °C at the perimeter. `zone` is one of
    `FLOOR_TEMP_LIMIT_C`.
    """
    return floor_output_w_per_m2(floor_temp_c=FLOOR_TEMP_LIMIT_C[zone], room_temp_c=room_temp_c)
