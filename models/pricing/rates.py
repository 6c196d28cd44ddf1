"""What the firm charges besides goods: labour, days, survey, weather; its margins and its stages of payment."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from models.pricing.margins import RefusedRates, decimal_of, margins_by_class

_NOUGHT = Decimal(0)
_ONE = Decimal(1)
_MOST = Decimal(100_000)


@dataclass(frozen=True, slots=True)
class LabourRate:
    """What an hour of a trade costs the firm, and the margin of the selling price."""

    cost_gbp_per_h: Decimal
    margin_ratio: Decimal
    sales_nominal: str


@dataclass(frozen=True, slots=True)
class DayRate:
    """What a job day costs; passed on as it is."""

    cost_gbp_per_day: Decimal
    sales_nominal: str


@dataclass(frozen=True, slots=True)
class Rates:
    """All rates in force from a date. `weather_share_ratio_by_month` holds January to December.

    `deposit_ratio` and `before_completion_ratio` are shares of what the customer pays, the second with the first
    in it. `assumed_run_m` is the one-way pipe run to an added emitter where nobody saw the layout.
    """

    valid_from: date
    labour: Mapping[str, LabourRate]
    survey_hours_h: Decimal
    survey: LabourRate
    overhead: DayRate
    travel: DayRate
    weather_share_ratio_by_month: tuple[Decimal, ...]
    weather_sales_nominal: str
    margin_ratio_by_class: Mapping[str, Decimal]
    deposit_ratio: Decimal
    before_completion_ratio: Decimal
    assumed_run_m: Decimal


def rates_from(document: Mapping[str, Any], *, file: str = "rates.json") -> Rates:
    """Rates from their document. Raises RefusedRates naming file, entry and reason."""
    try:
        survey = document["survey_and_design"]
        months = document["weather"]["share_ratio_by_month"]
        if len(months) != 12:
            raise RefusedRates(f"{file}: weather: share_ratio_by_month has {len(months)} values, a year has 12 months")
        stages = document["stages"]
        deposit = decimal_of(file, "stages: deposit_ratio", stages["deposit_ratio"], low=_NOUGHT, below=_ONE)
        before = decimal_of(
            file, "stages: before_completion_ratio", stages["before_completion_ratio"], low=deposit, below=_ONE
        )
        return Rates(
            valid_from=date.fromisoformat(document["valid_from"]),
            labour={trade: _labour(file, f"labour: {trade}", rate) for trade, rate in document["labour"].items()},
            survey_hours_h=decimal_of(
                file, "survey_and_design: hours_h", survey["hours_h"], low=_NOUGHT, below=Decimal(200)
            ),
            survey=_labour(file, "survey_and_design", survey),
            overhead=_day(file, "overhead", document["per_job_day"]["overhead"]),
            travel=_day(file, "travel", document["per_job_day"]["travel"]),
            weather_share_ratio_by_month=tuple(
                decimal_of(file, f"weather: month {month}", share, low=_NOUGHT, below=_ONE)
                for month, share in enumerate(months, 1)
            ),
            weather_sales_nominal=document["weather"]["sales_nominal"],
            margin_ratio_by_class=margins_by_class(file, document["margin_ratio_by_class"]),
            deposit_ratio=deposit,
            before_completion_ratio=before,
            assumed_run_m=decimal_of(
                file, "emitters: assumed_run_m", document["emitters"]["assumed_run_m"], low=_NOUGHT, below=Decimal(100)
            ),
        )
    except KeyError as fault:
        raise RefusedRates(f"{file}: {fault.args[0]} must be there") from fault
    except (TypeError, AttributeError) as fault:
        raise RefusedRates(f"{file}: {fault}") from fault


def _labour(file: str, name: str, rate: Mapping[str, Any]) -> LabourRate:
    return LabourRate(
        decimal_of(file, f"{name}: cost_gbp_per_h", rate["cost_gbp_per_h"], low=_NOUGHT, below=_MOST),
        decimal_of(file, f"{name}: margin_ratio", rate["margin_ratio"], low=_NOUGHT, below=_ONE),
        rate["sales_nominal"],
    )


def _day(file: str, name: str, rate: Mapping[str, Any]) -> DayRate:
    return DayRate(
        decimal_of(file, f"per_job_day: {name}", rate["cost_gbp_per_day"], low=_NOUGHT, below=_MOST),
        rate["sales_nominal"],
    )
