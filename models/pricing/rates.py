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
class ProvisionalRule:
    """A sum that is named beside the price where one of the findings says that something is not known."""

    code: str
    where_findings: frozenset[str]
    description: str
    sell_gbp: Decimal
    vat_class: str
    sales_nominal: str


@dataclass(frozen=True, slots=True)
class Exclusion:
    """What the price does not hold, and who does it or makes it good."""

    what: str
    who: str


@dataclass(frozen=True, slots=True)
class Rates:
    """All rates in force from a date. `weather_share_ratio_by_month` holds January to December.

    `deposit_ratio` and `before_completion_ratio` are shares of what the customer pays, the second with the first
    in it. `assumed_run_m` is the one-way pipe run to an added emitter where nobody saw the layout.
    `margin_floor_ratio` is the least margin of a job that is issued without an approval;
    `greatest_discount_ratio_by_role` what each role may give. `signed_after_days` after pricing the contract is
    taken to be signed, `invoice_after_completion_days` after the works the last invoice to be written.
    `only_with_fuel` maps an extra to the only fuel of today with which it is offered.
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
    margin_floor_ratio: Decimal
    greatest_discount_ratio_by_role: Mapping[str, Decimal]
    discount_sales_nominal: str
    signed_after_days: int
    invoice_after_completion_days: int
    provisional_sums: tuple[ProvisionalRule, ...]
    subcontract_margin_class: str
    subcontract_held_days: int
    exclusions: tuple[Exclusion, ...]
    only_with_fuel: Mapping[str, str]


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
            margin_floor_ratio=decimal_of(
                file, "margin_floor_ratio", document["margin_floor_ratio"], low=_NOUGHT, below=_ONE
            ),
            greatest_discount_ratio_by_role={
                role: decimal_of(
                    file, f"discount: greatest_ratio_by_role: {role}", ratio, low=_NOUGHT, below=Decimal("1.0001")
                )
                for role, ratio in document["discount"]["greatest_ratio_by_role"].items()
            },
            discount_sales_nominal=document["discount"]["sales_nominal"],
            signed_after_days=_days(file, "stages: signed_after_days", stages["signed_after_days"]),
            invoice_after_completion_days=_days(
                file, "stages: invoice_after_completion_days", stages["invoice_after_completion_days"]
            ),
            provisional_sums=tuple(_provisional(file, one) for one in document["provisional_sums"]),
            subcontract_margin_class=document["subcontract"]["margin_class"],
            subcontract_held_days=_days(file, "subcontract: held_days", document["subcontract"]["held_days"]),
            exclusions=tuple(Exclusion(one["what"], one["who"]) for one in document["excluded"]),
            only_with_fuel=dict(document["extras_only_with_fuel"]),
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


def _days(file: str, name: str, value: Any) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value <= 365:
        raise RefusedRates(f"{file}: {name} is {value!r}, it must be whole days from 0 to 365")
    return value


def _provisional(file: str, record: Mapping[str, Any]) -> ProvisionalRule:
    code = record["code"]
    if record["vat_class"] not in ("installed", "goods_only", "outside_scope"):
        raise RefusedRates(f"{file}: provisional_sums: {code}: there is no VAT class {record['vat_class']!r}")
    if not record["where_findings"]:
        raise RefusedRates(f"{file}: provisional_sums: {code}: name at least one finding in where_findings")
    return ProvisionalRule(
        code,
        frozenset(record["where_findings"]),
        record["description"],
        decimal_of(file, f"provisional_sums: {code}: sell_gbp", record["sell_gbp"], low=_NOUGHT, below=_MOST),
        record["vat_class"],
        record["sales_nominal"],
    )


def _day(file: str, name: str, rate: Mapping[str, Any]) -> DayRate:
    return DayRate(
        decimal_of(file, f"per_job_day: {name}", rate["cost_gbp_per_day"], low=_NOUGHT, below=_MOST),
        rate["sales_nominal"],
    )
