"""The days of a job as people use them: papers for each day, and what happens if something goes otherwise.

Papers are made from the document of an estimate or a quote, so that those of a sealed quote are of its own plan, and
hold a supplier only where the document does. What-ifs need the estimate itself.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from decimal import Decimal
from typing import Any

from pydantic import TypeAdapter

from models.document import plain
from models.estimate import Estimate, is_cold_month
from models.labour.plan import LabourPlan
from models.labour.search import Effort
from models.labour.sheets import (
    BoughtLine,
    DaySheet,
    FirstUsed,
    PickList,
    day_sheets,
    delivery_checks,
    pick_lists,
    services_sentence,
)
from models.labour.tasks import ELECTRICIAN, GROUNDWORKER, needed_tasks
from models.labour.what_if import (
    Answer,
    RainAnswer,
    Works,
    another_base,
    part_damaged,
    planned,
    rain,
    trade_a_day_late,
)
from models.reference.weather import rain_of

DAMAGED_PARTS = (("outdoor unit", "Outdoor unit"), ("cylinder", "Hot water"))
"""What is asked about if it comes damaged, and the group of the price list whose first tasks need it."""
REPLACED_ON = (2, 10 * 60)
"""A part damaged on day 1 is replaced on day 2 at ten: the firm's rule."""
OTHER_BASE = {"rapid_slab": "standard_slab", "standard_slab": "rapid_slab"}
_PLANS = TypeAdapter(LabourPlan)


@dataclass(frozen=True, slots=True)
class DayPapers:
    """What the people of a job take with them, and what the customer is told."""

    services_sentence: str
    sheets: tuple[DaySheet, ...]
    pick_lists: tuple[PickList, ...]
    delivery_checks: tuple[str, ...]


def day_papers(document: Mapping[str, Any], used: FirstUsed) -> DayPapers | None:
    """The papers of an estimate or quote; None where it has no plan.

    The firm's plan and bill. A document without suppliers, as those have who may not see cost, gives one pick list a
    day.
    """
    plan = plan_of(document)
    if plan is None:
        return None
    lists = pick_lists(plan, _bought(document), used)
    return DayPapers(services_sentence(plan), day_sheets(plan), lists, delivery_checks(plan, lists))


def plan_of(document: Mapping[str, Any]) -> LabourPlan | None:
    """The plan in a document, with dates only where its first day is known; None where it has none."""
    held = document.get("labour_plan")
    if held is None or held["days"] is None:
        return None
    plan: LabourPlan = _PLANS.validate_python(held)
    return replace(plan, dates=()) if start_assumed(document) else plan


def start_assumed(document: Mapping[str, Any]) -> bool:
    """Whether nobody chose the first day of the works yet, so that a date would promise what is not known."""
    return bool(document["basis"]["works_start_assumed"])


def _bought(document: Mapping[str, Any]) -> list[BoughtLine]:
    return [
        (
            line["sku"],
            line["description"],
            Decimal(line["bought"]),
            line["unit"],
            line.get("supplier", ""),
            line["group"],
        )
        for line in (document.get("bill") or {"lines": ()})["lines"]
    ]


def papers_document(papers: DayPapers | None) -> dict[str, Any] | None:
    """The papers as plain values. `supplier` is absent where the document named none."""
    if papers is None:
        return None
    document: dict[str, Any] = plain(papers)
    for found in document["pick_lists"]:
        if not found["supplier"]:
            del found["supplier"]
    return document


def works_of(estimate: Estimate) -> Works | None:
    """What the plan of an estimate is made of; None where a *stop* leaves it without one."""
    if estimate.plan is None or estimate.design.base is None:
        return None
    rules = estimate.rules
    starts_on = estimate.plan.dates[0] if estimate.plan.dates else None
    return Works(
        tasks=needed_tasks(rules.labour, estimate.take_off),
        crew=rules.labour.settings.usual_crew,
        settings=rules.labour.settings,
        starts_on=starts_on,
        base_type=estimate.design.base.type,
        cold=is_cold_month(estimate.design.climate, estimate.works_start_on),
        bank_holidays=rules.bank_holidays.get(estimate.survey.house.nation, frozenset()),
    )


def what_ifs(
    works: Works,
    used: FirstUsed,
    *,
    nation: str,
    climate_region: int,
    month: int,
    uniform: Callable[[], float],
    effort: Effort = "thorough",
) -> tuple[Answer | RainAnswer, ...]:
    """What rain, a damaged part, a late trade and another concrete would do to the days of these works.

    The firm's plan with one thing changed. Asked only where it can happen: no cylinder, no damaged cylinder. `month`
    (1 to 12) counts where the works have no first day; `uniform` gives numbers from 0 up to 1 for 1,000 runs of rain.
    """
    base = planned(works, effort=effort)
    needed = {task.task.code for task in works.tasks}
    answers: list[Answer | RainAnswer] = [
        rain(works, region=rain_of(nation, climate_region), month=month, uniform=uniform, effort=effort)
    ]
    for part, group in DAMAGED_PARTS:
        tasks = [task for task in used.get(group, ()) if task in needed]
        if tasks:
            answers.append(part_damaged(works, part=part, tasks=tasks, back_on=REPLACED_ON, effort=effort, base=base))
    for trade in (ELECTRICIAN, GROUNDWORKER):
        if any(visit.trade == trade for visit in base.visits):
            answers.append(trade_a_day_late(works, trade=trade, effort=effort, base=base))
    if works.base_type in OTHER_BASE and any(table for task in works.tasks for _, _, table in task.after):
        answers.append(another_base(works, base_type=OTHER_BASE[works.base_type], effort=effort, base=base))
    return tuple(answers)


def what_if_document(answers: Sequence[Answer | RainAnswer]) -> list[dict[str, Any]]:
    """The answers as plain values, each with its plan; the days of single runs are left out."""
    return [_answer(answer) for answer in answers]


def _answer(answer: Answer | RainAnswer) -> dict[str, Any]:
    document: dict[str, Any] = {
        field.name: getattr(answer, field.name) for field in fields(answer) if field.name not in ("plan", "days_of_run")
    }
    if isinstance(answer, RainAnswer):
        document["runs"] = len(answer.days_of_run)
    document["plan"] = {field.name: getattr(answer.plan, field.name) for field in fields(answer.plan)}
    result: dict[str, Any] = plain(document)
    return result
