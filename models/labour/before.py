"""What must be there before the first day: answers, offers, notice, results, goods and qualified people."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from models.frozen import quickly_made
from models.sources import COMMON_PRACTICE, Source

CONSUMER_CONTRACTS = Source(
    "Consumer Contracts (Information, Cancellation and Additional Charges) Regulations 2013", "regs 29 to 36"
)
NETWORK = Source("Energy Networks Association, connection of heat pumps: notify or apply", standing="from memory")
PLANNING = Source("planning law of the nation, permitted development for heat pumps")
GRANT = Source("rules of the grant scheme, no work before the offer")
ASBESTOS = Source("Control of Asbestos Regulations 2012", "reg. 5", "from memory")
GAS = Source("Gas Safety (Installation and Use) Regulations 1998", "reg. 3", "from memory")

_ISOLATED_BY: dict[str, tuple[str, Source]] = {
    "mains_gas": ("a registered gas engineer", GAS),
    "lpg": ("a gas engineer registered for LPG", GAS),
    "oil": ("a registered oil technician", COMMON_PRACTICE),
}


@quickly_made
@dataclass(frozen=True, slots=True)
class Precondition:
    """Something that must be there before work starts. `calendar_days` from the agreement; None is not known."""

    code: str
    what: str
    who: str
    calendar_days: int | None
    reason: str
    source: str


def before_day_one(
    *,
    network: Literal["notify", "apply", "not_known"],
    network_reply_days: int | None,
    planning: Literal["permitted", "application_needed", "not_known"],
    planning_decision_days: int | None,
    grant: str | None,
    grant_offer_days: int | None,
    cancellation_days: int | None,
    early_start_asked_in_writing: bool,
    asbestos_samples: int,
    laboratory_days: int | None,
    lead_times: Sequence[tuple[str, int]],
    fuel: str,
) -> tuple[Precondition, ...]:
    """What must be there before day one, and how many calendar days after the agreement it can be.

    The law and rule of each is its `source`. Days are arguments, None where nobody knows them; `grant` is the name of
    the grant or None; `cancellation_days` is None where the customer has no right to cancel; `lead_times` are items
    and calendar days.
    """
    found: list[Precondition] = []
    if network != "notify":
        what = (
            "reply of the network operator"
            if network == "apply"
            else "whether the network operator must be asked first"
        )
        reason = "the demand needs its consent before the unit is connected"
        if network == "not_known":
            reason = "the supply is not known well enough to say that telling it afterwards will do"
        found.append(Precondition("network_reply", what, "network operator", network_reply_days, reason, str(NETWORK)))
    if planning != "permitted":
        what = "planning decision" if planning == "application_needed" else "whether planning permission is needed"
        reason = (
            "the unit is not permitted development" if planning == "application_needed" else "the rule is not confirmed"
        )
        found.append(
            Precondition("planning_decision", what, "planning authority", planning_decision_days, reason, str(PLANNING))
        )
    if grant is not None:
        reason = "work that starts before the offer loses the grant"
        found.append(
            Precondition(
                "grant_offer", f"offer or voucher of the {grant}", "grant body", grant_offer_days, reason, str(GRANT)
            )
        )
    if cancellation_days is not None:
        found.append(_cancellation(cancellation_days, early_start_asked_in_writing))
    if asbestos_samples:
        what = (
            f"laboratory result of {asbestos_samples} {'sample' if asbestos_samples == 1 else 'samples'} for asbestos"
        )
        reason = "nobody disturbs a suspect material before it; licensed people remove what is found"
        found.append(Precondition("asbestos_result", what, "laboratory", laboratory_days, reason, str(ASBESTOS)))
    if lead_times:
        name, days = max(lead_times, key=lambda item: item[1])
        if days:
            reason = f"the longest lead time of {len(lead_times)} items"
            found.append(
                Precondition("longest_lead_time", f"delivery of {name}", "supplier", days, reason, str(COMMON_PRACTICE))
            )
    if fuel in _ISOLATED_BY:
        who, source = _ISOLATED_BY[fuel]
        what = f"{fuel.replace('_', ' ')} isolated and capped by {who}"
        reason = "booked for day one: nobody else may open or cap the fuel"
        found.append(Precondition("fuel_isolation", what, who, 0, reason, str(source)))
    return tuple(found)


def earliest_start(preconditions: Sequence[Precondition], agreed_on: date) -> date | None:
    """The first date on which all preconditions can be there, or None where the days of one are not known."""
    days = [precondition.calendar_days for precondition in preconditions]
    known = [day for day in days if day is not None]
    if len(known) < len(days):
        return None
    return agreed_on + timedelta(days=max(known, default=0))


def _cancellation(days: int, asked: bool) -> Precondition:
    if asked:
        what, waits = "written request of the customer to start within the time for cancelling", 0
        reason = "asked for: who cancels after that pays for what was done"
    else:
        what, waits = f"end of the {days} days for cancelling, or a written request to start earlier", days
        reason = (
            "without the request, work done within that time need not be paid for; where goods belong to the contract "
            "the days run from the last delivery"
        )
    return Precondition("cancellation_period", what, "customer", waits, reason, str(CONSUMER_CONTRACTS))
