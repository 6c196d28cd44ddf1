"""A year of weather, the house's load in it, and what a unit takes to meet that load.

CIBSE TM41 degree days; BS EN 14825:2022 part-load degradation; unit ratings to BS EN 14511 between their points.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import ceil, floor
from statistics import NormalDist
from typing import NamedTuple

from models.frozen import quickly_made
from models.physics.emission import excess_ratio
from models.physics.rating import RatingGrid, UnitOutdoors, cell
from models.sources import Source
from models.units import DAYS_OF_MONTHS

TM41 = Source("CIBSE TM41:2006", "degree days: theory and application")

BASE_TEMP_C = 15.5
"""Outdoor temperature at which a house needs no heating: the usual base of UK degree days (CIBSE TM41)."""

SPREAD_K = 4.0
"""Standard deviation of the outdoor temperature about the mean of its month, fitted to the published UK 20-year
standard degree days at three bases: within 4 K day a month (second computation)."""
_TAILS = 4

DEGRADATION_COEFFICIENT = 0.9
"""Cd of an air-to-water unit where it was not tested, BS EN 14825:2022."""

CONVERSION_COEFFICIENT = 2.5
TEMPERATURE_CONTROL_RATIO = 0.03
"""CC and F(1) of Regulation (EU) 811/2013, Annex VII 4(f)."""

DEFROST_LOSS_RATIO = 0.10
DEFROST_FROM_C, DEFROST_TO_C = -7.0, 5.0
"""Output lost to defrosting between these outdoor temperatures, where the maker's ratings leave it out: common
practice, no source."""

LAPSE_K_PER_100M = 0.6
HIGH_ABOVE_STATION_M = 100.0
"""Air on a hill against the mean of its region, and from where it is worth a word: common practice, no source."""


YearBin = tuple[float, float, float, float, float]
"""Outdoor temperature in °C, the hours of the year at it, then the load in W and the flow and return of the curve in
°C: plain, since every flow temperature tried has some thirty of them."""


@quickly_made
@dataclass(frozen=True, slots=True)
class HeatingYear:
    """The heating hours of a year for one house at one design flow temperature."""

    base_temp_c: float
    loss_coefficient_w_per_k: float
    design_outdoor_temp_c: float
    room_temp_c: float
    flow_temp_c: float
    return_temp_c: float
    exponent: float
    degree_days_kd: float
    heating_hours_h: float
    space_heat_kwh: float
    bins: tuple[YearBin, ...]


@quickly_made
@dataclass(frozen=True, slots=True)
class YearOfHeat:
    """What a unit did in a heating year. `electricity_kwh` includes `backup_kwh` of direct electric heat."""

    heat_kwh: float
    electricity_kwh: float
    backup_kwh: float
    pipe_loss_kwh: float
    hours_below_minimum_h: float
    heat_below_minimum_kwh: float

    @property
    def seasonal_ratio(self) -> float | None:
        """Heat to the house per electricity, or None where nothing was used."""
        return self.heat_kwh / self.electricity_kwh if self.electricity_kwh > 0 else None


@lru_cache(maxsize=256)
def temperature_bins(monthly_mean_temp_c: tuple[float, ...]) -> tuple[tuple[float, float], ...]:
    """Hours of the year in each whole degree of outdoor temperature, coldest first; they add up to 8760.

    Each month's hours lie normally about its mean with a standard deviation of `SPREAD_K`, which was fitted to the
    published UK degree days. Twelve monthly means, January to December; raises ValueError otherwise.
    """
    if len(monthly_mean_temp_c) != len(DAYS_OF_MONTHS):
        raise ValueError(f"twelve monthly means are needed, not {len(monthly_mean_temp_c)}")
    coldest = floor(min(monthly_mean_temp_c) - _TAILS * SPREAD_K)
    warmest = ceil(max(monthly_mean_temp_c) + _TAILS * SPREAD_K)
    hours = [0.0] * (warmest - coldest + 1)
    for mean_c, days in zip(monthly_mean_temp_c, DAYS_OF_MONTHS, strict=True):
        spread = NormalDist(mean_c, SPREAD_K)
        edges = [0.0, *(spread.cdf(degree + 0.5) for degree in range(coldest, warmest)), 1.0]
        for index in range(len(hours)):
            hours[index] += 24 * days * (edges[index + 1] - edges[index])
    return tuple((float(coldest + index), hours_h) for index, hours_h in enumerate(hours))


def degree_days_kd(bins: Sequence[tuple[float, float]], *, base_temp_c: float) -> float:
    """Degree days below a base from (outdoor temperature, hours).

    CIBSE TM41:2006: the sum of the positive differences to the base over time.
    """
    return sum((base_temp_c - temp_c) * hours_h for temp_c, hours_h in bins if temp_c < base_temp_c) / 24


def heat_kwh(*, loss_coefficient_w_per_k: float, degree_days_kd: float) -> float:
    """Heat of a year from the loss coefficient and the degree days.

    CIBSE TM41:2006: Q = H x DD x 24 / 1000.
    """
    return loss_coefficient_w_per_k * degree_days_kd * 24 / 1000


def load_ratio(*, outdoor_temp_c: float, base_temp_c: float, design_outdoor_temp_c: float) -> float:
    """Share of the design load at an outdoor temperature: 1 at design, 0 from the base temperature up.

    BS EN 14825:2022, part load ratio, with its base of 16 °C left open. More than 1 where colder than design.
    Raises ValueError unless the base lies above the design temperature.
    """
    if base_temp_c <= design_outdoor_temp_c:
        raise ValueError(f"base {base_temp_c:g} °C must lie above design {design_outdoor_temp_c:g} °C")
    return max(0.0, (base_temp_c - outdoor_temp_c) / (base_temp_c - design_outdoor_temp_c))


def heat_paid_for_w(given_w: float, least_w: float) -> float:
    """What a unit takes power for while it gives `given_w`: more than that where it must switch on and off.

    BS EN 14825:2022, 7.7.2.2, air to water: power is divided by CR / (Cd CR + 1 - Cd), CR being the heat given over the
    least output. Written without that quotient, since the load may be next to nothing; at CR 0 it is (1 - Cd) of the
    least output, and nothing where nothing is given.
    """
    if not 0 < given_w < least_w:
        return given_w
    return DEGRADATION_COEFFICIENT * given_w + (1 - DEGRADATION_COEFFICIENT) * least_w


def defrost_factor(*, outdoor_temp_c: float, defrost_included: bool) -> float:
    """Share of the rated output that is left after defrosting.

    Common practice, no source: a tenth is lost from -7 to 5 °C outside where the ratings leave defrosting out.
    """
    if defrost_included or not DEFROST_FROM_C <= outdoor_temp_c <= DEFROST_TO_C:
        return 1.0
    return 1.0 - DEFROST_LOSS_RATIO


def heating_year(
    *,
    monthly_mean_temp_c: tuple[float, ...],
    loss_coefficient_w_per_k: float,
    base_temp_c: float,
    design_outdoor_temp_c: float,
    room_temp_c: float,
    flow_temp_c: float,
    delta_t_k: float,
    exponent: float,
) -> HeatingYear:
    """The hours of the year below the base temperature, with load and curve temperatures in each.

    CIBSE TM41:2006 load line H (base - outdoor), which counts on sun, people and appliances. The heating curve, by
    `flow_and_return_c`, is set without them: its load is nothing at the room temperature (common practice, no source:
    45 °C at -4 °C is about 35 °C at 7 °C). Colder than design the flow stays at its design temperature.
    """
    line = _load_line(monthly_mean_temp_c, base_temp_c, design_outdoor_temp_c, room_temp_c, exponent)
    return_temp_c = flow_temp_c - delta_t_k
    excess_k, half_drop_k = (flow_temp_c + return_temp_c) / 2 - room_temp_c, (flow_temp_c - return_temp_c) / 2
    return HeatingYear(
        base_temp_c,
        loss_coefficient_w_per_k,
        design_outdoor_temp_c,
        room_temp_c,
        flow_temp_c,
        return_temp_c,
        exponent,
        line.degree_hours_kh / 24,
        line.heating_hours_h,
        loss_coefficient_w_per_k * line.degree_hours_kh / 1000,
        tuple(
            [
                (
                    outdoor_c,
                    hours_h,
                    loss_coefficient_w_per_k * below_k,
                    room_temp_c + excess_k * excess_share + half_drop_k * load_share,
                    room_temp_c + excess_k * excess_share - half_drop_k * load_share,
                )
                for outdoor_c, hours_h, below_k, load_share, excess_share in line.bins
            ]
        ),
    )


class _LoadLine(NamedTuple):
    """Heating hours of a year without a flow temperature: (outdoor °C, h, K below base, share of load, of excess)."""

    bins: tuple[tuple[float, float, float, float, float], ...]
    heating_hours_h: float
    degree_hours_kh: float


@lru_cache(maxsize=256)
def _load_line(
    monthly_mean_temp_c: tuple[float, ...],
    base_temp_c: float,
    design_outdoor_temp_c: float,
    room_temp_c: float,
    exponent: float,
) -> _LoadLine:
    """What candidate flow temperatures of one house share."""
    bins = []
    heating_hours_h = degree_hours_kh = 0.0
    for outdoor_c, hours_h in temperature_bins(monthly_mean_temp_c):
        below_k = base_temp_c - outdoor_c
        if below_k <= 0:
            break
        share = load_ratio(
            outdoor_temp_c=outdoor_c, base_temp_c=room_temp_c, design_outdoor_temp_c=design_outdoor_temp_c
        )
        share = min(1.0, share)
        bins.append((outdoor_c, hours_h, below_k, share, excess_ratio(load_ratio=share, exponent=exponent)))
        heating_hours_h += hours_h
        degree_hours_kh += hours_h * below_k
    return _LoadLine(tuple(bins), heating_hours_h, degree_hours_kh)


def unit_at(
    grid: RatingGrid, *, outdoor_temp_c: float, flow_temp_c: float, defrost_included: bool
) -> tuple[float, float, float] | None:
    """Output, input and least output of a unit in running, W, or None where its maker does not let it run.

    Between the rating points bilinear. Warmer outside than the warmest rating, or cooler water than the coolest:
    that rating, on the safe side. Colder outside or hotter water than rated: None.
    """
    flow = grid.flow_temps_c
    if outdoor_temp_c < grid.outdoor_temps_c[0] or flow_temp_c > flow[-1]:
        return None
    row = _unit_outdoors(grid, outdoor_temp_c, defrost_included)
    water_c = flow_temp_c if flow_temp_c > flow[0] else flow[0]
    from_c, output_w, output_per_k, input_w, input_per_k, least_w, least_per_k = row[cell(flow, water_c)[0]]
    above_k = water_c - from_c
    return output_w + above_k * output_per_k, input_w + above_k * input_per_k, least_w + above_k * least_per_k


def _unit_outdoors(grid: RatingGrid, outdoor_temp_c: float, defrost_included: bool) -> UnitOutdoors:
    """The unit between each two rated flow temperatures, at an outdoor temperature no colder than rated."""
    outdoor, flow = grid.outdoor_temps_c, grid.flow_temps_c
    at_c = outdoor_temp_c if outdoor_temp_c < outdoor[-1] else outdoor[-1]
    i, share = cell(outdoor, at_c)
    left = defrost_factor(outdoor_temp_c=outdoor_temp_c, defrost_included=defrost_included)
    states = [
        (
            (out0 + share * (out1 - out0)) * left,
            in0 + share * (in1 - in0),
            (least0 + share * (least1 - least0)) * left,
        )
        for (out0, in0, least0, _), (out1, in1, least1, _) in zip(grid.states[i], grid.states[i + 1], strict=True)
    ]
    return tuple(
        (
            from_c,
            out0,
            (out1 - out0) / (to_c - from_c),
            in0,
            (in1 - in0) / (to_c - from_c),
            least0,
            (least1 - least0) / (to_c - from_c),
        )
        for (from_c, to_c), ((out0, in0, least0), (out1, in1, least1)) in zip(
            pairwise(flow), pairwise(states), strict=True
        )
    )


def year_of_heat(
    grid: RatingGrid, *, year: HeatingYear, count: int, defrost_included: bool, pipe_loss_outside_w: float
) -> YearOfHeat:
    """What `count` like units take to heat the house through a year.

    Per bin: load and outdoor pipe loss against the unit's ratings; below the least output of one unit the ratio
    falls by BS EN 14825:2022, 7.7.2.2; what the units cannot give comes from direct electric heat.
    `pipe_loss_outside_w` is that at design conditions and goes with water less outdoor temperature while running.
    """
    design_excess_k = (year.flow_temp_c + year.return_temp_c) / 2 - year.design_outdoor_temp_c
    pipe_w_per_k = pipe_loss_outside_w / design_excess_k if design_excess_k > 0 else 0.0
    heat = electricity = backup = pipe = below_h = below_heat = 0.0
    # `unit_at` written out: half the time of ranking flow temperatures goes by here.
    flow, rows = grid.flow_temps_c, grid.between[defrost_included]
    coldest_c, coolest_c, hottest_c = grid.outdoor_temps_c[0], flow[0], flow[-1]
    j, to_c = 0, coolest_c
    from_c = to_c
    for outdoor_c, hours_h, load_w, flow_c, back_c in year.bins:
        load_wh = load_w * hours_h
        heat += load_wh
        if outdoor_c < coldest_c or flow_c > hottest_c:
            backup += load_wh
            continue
        row = rows.get(outdoor_c)
        if row is None:
            row = rows[outdoor_c] = _unit_outdoors(grid, outdoor_c, defrost_included)
        water_c = flow_c if flow_c > coolest_c else coolest_c
        if not from_c <= water_c < to_c:
            j, _ = cell(flow, water_c)
            from_c, to_c = flow[j], flow[j + 1]
        _, output_w, output_per_k, input_w, input_per_k, least_w, least_per_k = row[j]
        above_k = water_c - from_c
        output_w += above_k * output_per_k
        least_w += above_k * least_per_k
        asked_w = load_w
        if pipe_w_per_k:
            lost_w = pipe_w_per_k * ((flow_c + back_c) / 2 - outdoor_c)
            if load_w < least_w:
                lost_w *= load_w / least_w
            asked_w += lost_w
            pipe += lost_w * hours_h
        if load_w < least_w:
            below_h += hours_h
            below_heat += load_wh
        given_w = asked_w
        if asked_w > count * output_w:
            given_w = count * output_w
            backup += (asked_w - given_w) * hours_h
        paid_w = given_w if given_w >= least_w else heat_paid_for_w(given_w, least_w)
        electricity += paid_w * (input_w + above_k * input_per_k) / output_w * hours_h
    electricity += backup
    return YearOfHeat(heat / 1000, electricity / 1000, backup / 1000, pipe / 1000, below_h, below_heat / 1000)


def seasonal_ratio_of_label(*, efficiency_ratio: float) -> float:
    """Seasonal ratio (SCOP) from the seasonal efficiency eta_s of an energy label, to hold a year beside a label.

    Regulation (EU) 811/2013, Annex VII 4(f), and BS EN 14825:2022: SCOP = CC (eta_s + F(1)); F(2) is 0 for air.
    """
    return CONVERSION_COEFFICIENT * (efficiency_ratio + TEMPERATURE_CONTROL_RATIO)
