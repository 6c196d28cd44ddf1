"""The grant towards an air-to-water heat pump: which scheme, how much at the date, who claims it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from models.findings import Finding
from models.frozen import quickly_made
from models.reference.dated import NOT_KNOWN, Dated, DatedValue, NotYetInForce
from models.sources import Source

FIRM_CLAIMS = frozenset({"england", "wales"})
"""Nations of the scheme under which the firm claims and takes the grant off its price."""
CATEGORY_OF_FUEL: Mapping[str, str] = {
    "oil": "oil",
    "lpg": "lpg",
    "coal": "coal",
    "electric": "electric",
    "hybrid": "hybrid",
    "mains_gas": "on_gas_grid",
}
TENURE_SOURCE = Source("Boiler Upgrade Scheme (England and Wales) Regulations 2022", "social housing", "from memory")


@quickly_made
@dataclass(frozen=True, slots=True)
class Grant:
    """A grant. `amount_pence` is None where nobody confirmed it; only `deducted_pence` comes off the price."""

    scheme: str
    category: str
    amount_pence: int | None
    deducted_pence: int
    sentence: str
    source: str
    used: DatedValue | None
    findings: tuple[Finding, ...] = ()


def grant_for(
    *,
    nation: str,
    tenure: str,
    fuel_now: str,
    on_gas_grid: str,
    applied_on: date | None,
    total_pence: int,
    series: Mapping[str, Dated],
) -> Grant:
    """The grant for one household and what of it comes off the total with VAT.

    Boiler Upgrade Scheme (England and Wales) Regulations 2022 and its notices; Home Energy Scotland. The grant
    never lessens VAT: it comes off the total. `applied_on` None: none is applied for. Where the amount is not
    known nothing is deducted and a finding says so. Raises NotYetInForce before the first date of the scheme.
    """
    if applied_on is None:
        return Grant("none", "", 0, 0, "no grant is applied for", "", None)
    if nation == "scotland":
        return _scotland(applied_on, series["home_energy_scotland"])
    if nation not in FIRM_CLAIMS:
        return _none_known(nation)
    value = series["boiler_upgrade_scheme"].at(applied_on)
    source = str(value.source)
    if tenure == "social_rented":
        finding = Finding(
            "grant_not_for_tenure",
            "note",
            "grant",
            "the scheme does not pay for social housing; nothing is deducted",
            str(TENURE_SOURCE),
            "ask the scheme before relying on it",
        )
        return Grant("boiler_upgrade_scheme", "social_rented", 0, 0, finding.message, source, value, (finding,))
    category = _category(value, fuel_now, on_gas_grid)
    pounds = value.value.get(category, NOT_KNOWN)
    if pounds == NOT_KNOWN:
        return _not_known(value, category, fuel_now, on_gas_grid, applied_on)
    amount = pounds * 100
    kind = "" if category == "any" else f" ({category.replace('_', ' ')})"
    sentence = f"£{pounds:,} for an air-to-water heat pump applied for on {applied_on:%d %B %Y}{kind}"
    if amount <= total_pence:
        return Grant("boiler_upgrade_scheme", category, amount, amount, sentence, source, value)
    finding = Finding(
        "grant_above_price",
        "ask",
        "grant",
        f"the grant of £{pounds:,} is more than the price of £{Decimal(total_pence) / 100:,.2f}; only the price is "
        "deducted",
        source,
        "ask the scheme what it pays",
    )
    deducted = max(total_pence, 0)
    return Grant("boiler_upgrade_scheme", category, amount, deducted, sentence, source, value, (finding,))


def _category(value: DatedValue, fuel_now: str, on_gas_grid: str) -> str:
    """The category of the scheme, "other" for a fuel that it does not name, "grid_not_known" where that decides.

    A hybrid has a heat pump already: on the gas grid or off it, it is a category of its own.
    """
    if fuel_now not in CATEGORY_OF_FUEL:
        return "other"
    if "any" in value.value:
        return "any"
    if fuel_now == "hybrid":
        return "hybrid"
    if on_gas_grid == "yes" or fuel_now == "mains_gas":
        return "on_gas_grid"
    if on_gas_grid != "no":
        return "grid_not_known"
    return CATEGORY_OF_FUEL[fuel_now]


def _not_known(value: DatedValue, category: str, fuel_now: str, on_gas_grid: str, applied_on: date) -> Grant:
    fuel = {"none": "no heating at all", "electric": "electric heating"}.get(fuel_now, fuel_now.replace("_", " "))
    if category == "grid_not_known":
        message = (
            f"the amount depends on whether the house is on the gas grid, which the survey gives as {on_gas_grid}; "
            "nothing is deducted"
        )
        remedy = "find out whether the house is on the gas grid"
    else:
        message = f"the amount for replacing {fuel} on {applied_on:%d %B %Y} was not confirmed; nothing is deducted"
        remedy = "ask the scheme for the amount and enter it with its source"
    finding = Finding("grant_not_known", "ask", "grant", message, str(value.source), remedy)
    return Grant("boiler_upgrade_scheme", category, None, 0, message, str(value.source), value, (finding,))


def _scotland(applied_on: date, series: Dated) -> Grant:
    try:
        value = series.at(applied_on)
        told = (
            f"when last read: grant £{value.value['grant']:,}, rural uplift £{value.value['rural_uplift']:,}, "
            f"optional interest-free loan £{value.value['interest_free_loan']:,}"
        )
    except NotYetInForce:
        value, told = series.values[0], "its amounts on that day are not known"
    finding = Finding(
        "grant_claimed_by_householder",
        "note",
        "grant",
        f"in Scotland the householder applies for grant and loan ({told}); nothing is deducted here, and the works "
        "must not start before the written offer",
        str(value.source),
        "wait for the written offer before the first day of works",
    )
    return Grant("home_energy_scotland", "householder", None, 0, finding.message, str(value.source), value, (finding,))


def _none_known(nation: str) -> Grant:
    place = nation.replace("_", " ").title()
    finding = Finding(
        "grant_not_known",
        "note",
        "grant",
        f"no grant scheme for {place} is known to this program; nothing is deducted",
        "",
        "ask the nation's energy advice service",
    )
    return Grant("none", "", None, 0, finding.message, "", None, (finding,))
