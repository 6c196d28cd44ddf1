"""Why a year takes what it takes, and why it may take more or less."""

from collections.abc import Iterator

from models.design import hot_water, performance
from models.design.results import Performance
from models.estimate import BASE_TEMP_C, Estimate
from models.physics.seasonal import TM41
from models.sources import Source
from models.why.entry import Entry, entry as _entry, given as _given, of as _of, said as _said, surveyed as _input


def entries(estimate: Estimate) -> Iterator[Entry]:
    """The reasons, in the order of the document."""
    yield from _year(estimate)


def _year(estimate: Estimate) -> Iterator[Entry]:
    design, tariffs, existing = estimate.design, estimate.survey.tariffs, estimate.survey.existing
    energy, store = design.performance, design.hot_water
    if energy is None:
        return
    at, source = "design.performance", performance.SOURCE
    yield _entry(
        f"{at}.space_heat_kwh",
        "loss coefficient x degree days x 24 / 1000",
        [("loss_coefficient_w_per_k", design.heat_loss.loss_coefficient_w_per_k),
         ("degree_days_kd", energy.degree_days_kd), ("base_temp_c", BASE_TEMP_C)],
        TM41,
    )  # fmt: skip
    yield _entry(
        f"{at}.degree_days_kd",
        "over the hours of the year colder than the base: (base - outdoor temperature) x hours / 24",
        [("base_temp_c", BASE_TEMP_C), ("degree_days_kd", energy.degree_days_kd)],
        TM41,
    )
    yield _entry(
        f"{at}.hot_water_kwh",
        "heat in the water drawn + standing loss of the store + hygiene cycles",
        _of(store, "hot_water_kwh_per_year", "standing_loss_kwh_per_year", "hygiene_kwh_per_year"),
        hot_water.ENERGY_SOURCE,
    )
    yield _entry(
        f"{at}.space_electricity_kwh",
        "for each degree of outdoor temperature: load / ratio of the unit there x hours; below the least output the "
        "ratio falls; what the unit cannot give is direct electric heat",
        _of(energy, "space_heat_kwh", "space_seasonal_ratio", "backup_kwh", "pipe_loss_kwh", "hours_below_minimum_h"),
        source,
    )
    yield _entry(
        f"{at}.hot_water_electricity_kwh",
        "heat by the unit / its ratio at the store's flow temperature + heat by the immersion heater",
        [("hot_water_kwh", energy.hot_water_kwh), ("store_temp_c", store.store_temp_c),
         ("annual_mean_temp_c", design.climate.annual_mean_temp_c)],
        source,
    )  # fmt: skip
    yield _entry(
        f"{at}.electricity_kwh",
        "electricity for heating + electricity for hot water",
        _of(energy, "space_electricity_kwh", "hot_water_electricity_kwh", "electricity_kwh"),
        source,
        sentence=_said(performance.WHY, energy),
        inputs=[_given(said, "assumption", True, "assumed") for said in energy.assumptions],
    )
    yield _entry(
        f"{at}.seasonal_ratio",
        "(heating + hot water) / electricity",
        _of(energy, "space_heat_kwh", "hot_water_kwh", "electricity_kwh"),
        source,
    )
    yield _entry(
        f"{at}.space_seasonal_ratio",
        "heating / electricity for heating",
        _of(energy, "space_heat_kwh", "space_electricity_kwh"),
        source,
    )
    price = _input("price of electricity", tariffs, "electricity_pence_per_kwh")
    yield _entry(
        f"{at}.running_cost_pence",
        "electricity x its price",
        [("electricity_kwh", energy.electricity_kwh),
         ("electricity_pence_per_kwh", tariffs.electricity_pence_per_kwh)],
        Source("the survey", "tariffs", "firm's rule"),
        inputs=[price],
    )  # fmt: skip
    fuel = [_input("fuel of a year", existing, "fuel_used"), _input("price of fuel", tariffs, "fuel_pence_per_kwh")]
    yield _entry(
        f"{at}.saving_pence",
        "what the fuel of today costs - running cost",
        _of(energy, "fuel_now_kwh", "fuel_now_cost_pence", "running_cost_pence"),
        performance.FUELS,
        inputs=[*fuel, price],
    )
    yield from _range(energy, price)


def _range(energy: Performance, price: Entry) -> Iterator[Entry]:
    """How far a year may lie, and what each assumption has to do with it."""
    at = "design.performance"
    for figure, side, cost, words in (
        ("low_kwh", "less_kwh", "running_cost_low_pence", "less"),
        ("high_kwh", "more_kwh", "running_cost_high_pence", "more"),
    ):
        yield _entry(
            f"{at}.{figure}",
            f"electricity {'-' if side == 'less_kwh' else '+'} root of the sum of the squares of what each assumption "
            f"may take {words}",
            [("electricity_kwh", energy.electricity_kwh),
             *[(f"range_terms.{term.code}.{side}", getattr(term, side)) for term in energy.range_terms],
             (figure, getattr(energy, figure))],
            performance.UNCERTAINTY,
            sentence="about nine years and households in ten lie between the ends: the assumptions are independent, so "
            "that all of them hardly ever go the same way; an electricity price that changes is not in it",
            inputs=[_given(f"{term.what}: {term.span}", side, getattr(term, side), "assumed")
                    for term in energy.range_terms],
        )  # fmt: skip
        yield _entry(
            f"{at}.{cost}",
            "electricity at this end of the range x its price",
            [(figure, getattr(energy, figure)), (cost, getattr(energy, cost))],
            Source("the survey", "tariffs", "firm's rule"),
            inputs=[price],
        )
    for figure, cost, end in (
        ("saving_low_pence", "running_cost_high_pence", "dear"),
        ("saving_high_pence", "running_cost_low_pence", "cheap"),
    ):
        if getattr(energy, figure) is not None:
            yield _entry(
                f"{at}.{figure}",
                f"what the fuel of today costs - running cost at the {end} end of its range",
                [*_of(energy, "fuel_now_cost_pence", cost), (figure, getattr(energy, figure))],
                Source("the survey", "tariffs", "firm's rule"),
                inputs=[price],
            )
    for term in energy.range_terms:
        for side in ("less_kwh", "more_kwh"):
            yield _entry(
                f"{at}.range_terms.{term.code}.{side}",
                RANGE_FORMULAS[term.code],
                [("space_electricity_kwh", energy.space_electricity_kwh),
                 ("hot_water_electricity_kwh", energy.hot_water_electricity_kwh), (side, getattr(term, side))],
                performance.RANGE_SOURCES[term.code],
                sentence=f"{term.what}: {term.span}",
            )  # fmt: skip


RANGE_FORMULAS = {
    "weather": "electricity for rooms x a tenth: nine years in ten have degree days within a tenth of the mean",
    "rooms": "electricity for rooms x heating hours / 24 / degree days, which is what a kelvin is worth, x 1 K",
    "gains": "electricity for rooms x heating hours / 24 / degree days x kelvins of the base temperature; downwards at "
    "least as far as 5 W for each m2 of floor lift the house",
    "method": "electricity for rooms x (heat loss by the other method / heat loss - 1), reheat left out",
    "hot_water": "electricity for hot water x share of what is drawn in its heat x a third",
    "defrost": "electricity for rooms x share of the heat given between -7 and 5 °C x span",
    "curve": "electricity for rooms x (power for a unit of heat with hotter water / that of the curve - 1), in the "
    "weather in which most heat is given",
    "at_rest": "25 W x 8760 h / 1000",
    "hill": "electricity for rooms x heating hours / 24 / degree days x 0.6 K for each 100 m above the station",
}
