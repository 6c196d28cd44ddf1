"""Which outdoor temperatures belong to the place: design temperature at the house's altitude, and the months."""

from collections.abc import Iterable
from decimal import ROUND_FLOOR
from typing import Final

from models.design.results import Climate
from models.reference import Reference
from models.reference.load import AltitudeRule, Station
from models.sources import Source, Why
from models.survey import House
from models.units import DAYS_A_YEAR, DAYS_OF_MONTHS, exact

SOURCE = Source("CIBSE Guide A", "Table 2.5", "from memory")
WHY = Why(
    sentence=(
        "{design_outdoor_temp_c:.1f} °C: {station} at {station_altitude_m:.0f} m has {station_design_temp_c:.1f} °C, "
        "and {altitude_correction_k:+.1f} K brings it to the height of the house"
    ),
    source=SOURCE,
)

_PERCENTILES: Final = {"99": "temp_99_c", "99_6": "temp_99_6_c"}


class UnknownStation(ValueError):
    """The house names a weather station that the table of design temperatures lacks; lists those it has."""

    def __init__(self, station: str, there: Iterable[str]) -> None:
        self.station = station
        self.there = tuple(sorted(there))
        super().__init__(
            f"there is no weather station '{station}' in the table of design temperatures; "
            f"it has {', '.join(self.there)}"
        )


class UnknownRule(ValueError):
    """An altitude rule or a percentile that is not among the known ones; lists those."""


def climate(*, house: House, reference: Reference, altitude_rule: str, percentile: str) -> Climate:
    """Design outdoor temperature, annual and monthly mean temperatures of the house's place.

    CIBSE Guide A Table 2.5 for stations, SAP Appendix U Table U1 for months. `percentile` is "99" or "99_6", the
    share of the hours that are warmer. The annual mean is weighted by days, of a year of 365. Raises UnknownStation
    or UnknownRule.
    """
    station = reference.stations.get(house.weather_station)
    if station is None:
        raise UnknownStation(house.weather_station, reference.stations)
    rule = reference.altitude_rules.get(altitude_rule)
    if rule is None:
        raise UnknownRule(f"no altitude rule '{altitude_rule}'; there are {', '.join(reference.altitude_rules)}")
    if percentile not in _PERCENTILES:
        raise UnknownRule(f"no percentile '{percentile}'; there are {', '.join(_PERCENTILES)}")
    station_temp_c: float = getattr(station, _PERCENTILES[percentile])
    correction_k = altitude_correction_k(rule=rule, station=station, altitude_m=house.altitude_m)
    region = reference.regions[house.climate_region]
    return Climate(
        station=station.name,
        station_altitude_m=station.altitude_m,
        station_design_temp_c=station_temp_c,
        altitude_rule=rule.name,
        altitude_correction_k=correction_k,
        design_outdoor_temp_c=station_temp_c + correction_k,
        annual_mean_temp_c=annual_mean_temp_c(region.monthly_mean_temp_c),
        monthly_mean_temp_c=region.monthly_mean_temp_c,
        region_name=region.name,
        source=station.source,
    )


def altitude_correction_k(*, rule: AltitudeRule, station: Station, altitude_m: float) -> float:
    """What the altitude of the house adds to the station's design temperature.

    The rule's own source. A rule without steps works in proportion, above and below the station; one with steps
    counts complete steps above the station and nothing below it.
    """
    above_m = altitude_m - station.altitude_m
    if rule.step_m == 0:
        return rule.k_per_100m * above_m / 100
    if above_m <= 0:
        return 0.0
    steps = int(exact(above_m / rule.step_m).to_integral_value(ROUND_FLOOR))
    return rule.k_per_100m * steps * rule.step_m / 100


def annual_mean_temp_c(monthly_mean_temp_c: tuple[float, ...]) -> float:
    """Mean of twelve monthly means, weighted by the days of a year of 365.

    SAP Appendix U Table U1 gives the months.
    """
    return sum(temp_c * days for temp_c, days in zip(monthly_mean_temp_c, DAYS_OF_MONTHS, strict=True)) / DAYS_A_YEAR
