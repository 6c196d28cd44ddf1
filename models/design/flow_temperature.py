"""The flow temperature of the whole system: cooler water wants larger emitters and less electricity.

Common practice, no source: the least of purchase and some years' running among a few temperatures tried.
"""

from typing import NamedTuple

from models.design.results import FlowCandidate, FlowChoice
from models.findings import Finding
from models.sources import COMMON_PRACTICE, Why

SOURCE = COMMON_PRACTICE
WHY = Why(sentence="{flow_temp_c:g} °C: {rule}", source=SOURCE)
LEAST_COST = (
    "of the flow temperatures tried, the one whose purchase and {years} years of running cost least together; "
    "at equal cost the cooler water"
)
LEAST_SHORT = (
    "none of the flow temperatures tried heats every room in full: of those at which no room lacks more than a tenth, "
    "the one that leaves the fewest rooms short, and of them the one that costs least over {years} years"
)
WANTED = "the flow temperature that was asked for"
HOTTEST = "none of the flow temperatures tried heats every room, so the hottest is shown"


def choose_flow_temperature(
    *, candidates: tuple[FlowCandidate, ...], delta_t_k: float, years: int, wanted_c: float | None = None
) -> FlowChoice:
    """The candidate with the least whole cost among those that heat the house, or the one that was asked for.

    MIS 3005-D (from memory): emitters meet the load of every room, so that one which leaves fewer rooms short comes
    before any that costs less. Common practice: whole cost = purchase + `years` of running, without interest; a
    candidate whose running cost is not known has none and is taken only where no other has one, cheapest purchase
    first. Raises ValueError without candidates, or where `wanted_c` is not among them.
    """
    if not candidates:
        raise ValueError("at least one flow temperature is needed")
    costed = [_Costed(candidate, _whole_pence(candidate, years)) for candidate in candidates]
    feasible = [each for each in costed if each.candidate.feasible]
    cheapest = min(feasible, key=_rank, default=None)
    findings: list[Finding] = []
    if wanted_c is not None:
        taken = next((each for each in costed if each.candidate.flow_temp_c == wanted_c), None)
        if taken is None:
            raise ValueError(f"the wanted flow temperature {wanted_c:g} °C is not among the candidates")
        rule = WANTED
        if not taken.candidate.feasible:
            findings.append(_wanted_not_feasible(taken.candidate))
        elif cheapest is not None and _rank(cheapest) < _rank(taken):
            findings += _wanted_dearer(taken, cheapest, years)
    elif cheapest is not None:
        taken = cheapest
        rule = (LEAST_SHORT if taken.candidate.rooms_short else LEAST_COST).format(years=years)
    else:
        taken = max(costed, key=lambda each: each.candidate.flow_temp_c)
        rule = HOTTEST
        findings.append(_none_feasible(taken.candidate, len(costed)))
    return FlowChoice(
        taken.candidate.flow_temp_c,
        delta_t_k,
        years,
        rule,
        tuple([_shown(each, taken, rule) for each in costed]),
        tuple(findings),
    )


class _Costed(NamedTuple):
    """A candidate with what it costs to buy and to run, None where its running is not known."""

    candidate: FlowCandidate
    whole_pence: int | None


def _whole_pence(candidate: FlowCandidate, years: int) -> int | None:
    running_pence = candidate.running_pence_per_year
    return None if running_pence is None else candidate.purchase_pence + years * running_pence


def _shown(each: _Costed, taken: _Costed, rule: str) -> FlowCandidate:
    tried = each.candidate
    return FlowCandidate(
        tried.flow_temp_c, tried.unit_sku, tried.unit_count, tried.emitters_changed, tried.emitter_fit_hours,
        tried.purchase_pence, tried.seasonal_ratio, tried.running_pence_per_year, each.whole_pence, tried.feasible,
        each is taken, _reason(each, taken, rule), tried.electricity_kwh_per_year,
        tried.rooms_short,
    )  # fmt: skip


def _rank(each: _Costed) -> tuple[int, bool, int, float]:
    whole_pence = each.whole_pence
    cost_pence = each.candidate.purchase_pence if whole_pence is None else whole_pence
    return each.candidate.rooms_short, whole_pence is None, cost_pence, each.candidate.flow_temp_c


def _reason(each: _Costed, taken: _Costed, rule: str) -> str:
    if each is taken:
        return rule
    if not each.candidate.feasible:
        return each.candidate.reason or "does not heat every room"
    many = each.candidate.rooms_short
    if many > taken.candidate.rooms_short:
        return f"leaves {'a room' if many == 1 else f'{many} rooms'} short of heat"
    if each.whole_pence is None or taken.whole_pence is None:
        return "its running cost is not known" if each.whole_pence is None else "not asked for"
    more_pence = each.whole_pence - taken.whole_pence
    if more_pence == 0:
        return "costs the same in all"
    return f"purchase and running together cost {'more' if more_pence > 0 else 'less'}"


def _wanted_not_feasible(taken: FlowCandidate) -> Finding:
    return Finding(
        "wanted_flow_temperature_not_enough",
        "ask",
        f"flow temperature {taken.flow_temp_c:g} °C",
        "the flow temperature that was asked for does not heat the house: "
        f"{taken.reason or 'a room is short of heat or a floor too hot'}",
        str(SOURCE),
        "choose a warmer flow or change what the findings about rooms and unit name",
    )


def _wanted_dearer(taken: _Costed, cheapest: _Costed, years: int) -> list[Finding]:
    if taken.whole_pence is None or cheapest.whole_pence is None or taken.whole_pence <= cheapest.whole_pence:
        return []
    return [
        Finding(
            "wanted_flow_temperature_dearer",
            "note",
            f"flow temperature {taken.candidate.flow_temp_c:g} °C",
            f"over {years} years purchase and running together cost more than at {cheapest.candidate.flow_temp_c:g} °C",
            str(SOURCE),
            f"take {cheapest.candidate.flow_temp_c:g} °C",
        )
    ]


def _none_feasible(taken: FlowCandidate, tried: int) -> Finding:
    return Finding(
        "no_flow_temperature_enough",
        "ask",
        f"flow temperature {taken.flow_temp_c:g} °C",
        f"none of the {tried} flow temperatures tried heats the house; {taken.flow_temp_c:g} °C, the hottest, is shown",
        str(SOURCE),
        "see the findings about the rooms and the unit",
    )
