"""Whether the heat loss is one that a house of this age usually has, and the year one that its place has."""

from models.design.results import Climate, HeatLoss
from models.findings import Finding
from models.physics.seasonal import (
    BASE_TEMP_C,
    HIGH_ABOVE_STATION_M,
    LAPSE_K_PER_100M,
    degree_days_kd,
    temperature_bins,
)
from models.reference import Reference
from models.sources import COMMON_PRACTICE, Source, Why
from models.survey import House
from models.units import per_cent

SOURCE = COMMON_PRACTICE
WHY = Why(
    sentence="{heat_loss_w_per_m2:.0f} W/m2 of floor, against what houses of this age usually have", source=SOURCE
)

REGIONS = Source("SAP Appendix U", "Table U1, regions by their names")
_EVERYWHERE = frozenset({0})
REGIONS_OF_NATION = {
    "england": _EVERYWHERE | frozenset(range(1, 13)),
    "wales": _EVERYWHERE | frozenset({5, 7, 13}),
    "scotland": _EVERYWHERE | frozenset({8, 9, *range(14, 21)}),
    "northern_ireland": _EVERYWHERE | frozenset({21}),
}
"""Region 0 is the mean of the United Kingdom; those of the borders lie in two nations."""


def cross_checks(*, heat_loss: HeatLoss, climate: Climate, house: House, reference: Reference) -> tuple[Finding, ...]:
    """Compares the heat loss over floor area with the range that is usual for the age band.

    Common practice, no source. The range is brought to the house's own difference between mean room and outdoor
    temperature; a loss more than 30 % outside it is *ask*. A check of the survey, not of the method. A house far above
    its weather station is told what the months of its region leave out of the year.
    """
    return (
        *_unusual(heat_loss, climate, house, reference),
        *_colder_year(climate, house),
        *_other_nation(climate, house),
    )


def _other_nation(climate: Climate, house: House) -> tuple[Finding, ...]:
    """A region of another nation: months that are several kelvins off, which nobody would see in the design."""
    if house.climate_region in REGIONS_OF_NATION[house.nation]:
        return ()
    return (
        Finding(
            "climate_region_of_another_nation",
            "ask",
            "house",
            f"the house stands in {house.nation.replace('_', ' ').title()} and its months are those of "
            f"{climate.region_name}: heat, running cost and saving of the year are of another place",
            str(REGIONS),
            "choose the region of the house's postcode",
        ),
    )


def _colder_year(climate: Climate, house: House) -> tuple[Finding, ...]:
    above_m = house.altitude_m - climate.station_altitude_m
    if above_m < HIGH_ABOVE_STATION_M:
        return ()
    colder_k = LAPSE_K_PER_100M * above_m / 100
    months_c = climate.monthly_mean_temp_c
    region_kd = degree_days_kd(temperature_bins(months_c), base_temp_c=BASE_TEMP_C)
    hill_kd = degree_days_kd(temperature_bins(tuple([t - colder_k for t in months_c])), base_temp_c=BASE_TEMP_C)
    return (
        Finding(
            "year_colder_than_region",
            "note",
            "house",
            f"it stands {above_m:.0f} m above {climate.station}; the design temperature allows for that, the months of "
            f"the year are the means of {climate.region_name}: about {colder_k:.1f} K colder, the year would take "
            f"{per_cent(hill_kd / region_kd - 1)} more heat than is shown",
            str(COMMON_PRACTICE),
            "read the running cost with that in mind, or take the region whose months are nearer",
        ),
    )


def _unusual(heat_loss: HeatLoss, climate: Climate, house: House, reference: Reference) -> tuple[Finding, ...]:
    usual = reference.heat_loss.usual
    difference_k = heat_loss.mean_room_temp_c - climate.design_outdoor_temp_c
    low, high = usual.w_per_m2_by_age_band[house.age_band]
    low_w_per_m2 = low * difference_k / usual.difference_k
    high_w_per_m2 = high * difference_k / usual.difference_k
    loss_w_per_m2 = heat_loss.heat_loss_w_per_m2
    if loss_w_per_m2 < low_w_per_m2 * (1 - usual.beyond_ratio):
        side = "less"
        remedy = "look for walls, windows or a floor that were left out, and prove insulation that was only told of"
    elif loss_w_per_m2 > high_w_per_m2 * (1 + usual.beyond_ratio):
        side = "more"
        remedy = "look for areas counted twice, for insulation that was not seen, and at the air changes"
    else:
        return ()
    return (
        Finding(
            "unusual_for_age",
            "ask",
            "house",
            f"{loss_w_per_m2:.0f} W/m2 of floor is much {side} than houses of age band {house.age_band} "
            f"({reference.age_bands[house.age_band].years}) usually lose: {low_w_per_m2:.0f} to "
            f"{high_w_per_m2:.0f} W/m2 at {difference_k:.1f} K above outdoors",
            str(usual.source),
            remedy,
        ),
    )
