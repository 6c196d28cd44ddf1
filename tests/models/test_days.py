"""Papers from a document: dates only once the start is known, suppliers only where the document names them."""

from datetime import date
from pathlib import Path
from typing import Any

import pytest

from api.store.seed_files import contents_of_folder, demo_households, rules_from_folder
from models.days import day_papers, papers_document, plan_of, works_of
from models.document import estimate_document, without_cost
from models.estimate import Choices, Estimate, estimate
from models.labour.sheets import FirstUsed, first_used
from models.labour.what_if import planned
from models.survey import Survey

SEED = Path(__file__).parents[2] / "seed_data"
RULES = rules_from_folder(SEED)


@pytest.fixture(scope="module")
def used() -> FirstUsed:
    return first_used(contents_of_folder(SEED)["labour_tasks"]["first_used"], RULES.labour)


def worked_out(**choices: Any) -> Estimate:
    survey = Survey.model_validate(demo_households(SEED)[2]["survey"])
    return estimate(survey, Choices(**choices), RULES, today=date(2026, 11, 25), effort="thorough")


def test_dates_stand_on_papers_once_somebody_chose_the_first_day(used: FirstUsed) -> None:
    assumed = day_papers(estimate_document(worked_out()), used)
    assert assumed is not None and all(sheet.on is None for sheet in assumed.sheets)
    assert "day 1 at" in assumed.services_sentence and "still to be agreed" in assumed.services_sentence
    chosen = day_papers(estimate_document(worked_out(works_start_on=date(2027, 2, 1))), used)
    # 1 February 2027 is a Monday, by a calendar
    assert chosen is not None and chosen.sheets[0].on == date(2027, 2, 1)
    assert chosen.services_sentence.startswith("During the works, Monday 1 February to ")


def test_a_document_holds_the_plan_whole() -> None:
    result = worked_out(works_start_on=date(2027, 2, 1))
    read, plan = plan_of(estimate_document(result)), result.plan
    assert read is not None and plan is not None
    for name in ("days", "crew", "tasks", "visits", "services", "dates", "proven", "person_hours"):
        assert getattr(read, name) == getattr(plan, name), name


def test_the_works_of_an_estimate_plan_as_it_did() -> None:
    result = worked_out()
    works = works_of(result)
    assert works is not None and result.plan is not None
    assert planned(works, effort="thorough").tasks == result.plan.tasks


def test_without_suppliers_there_is_one_pick_list_a_day(used: FirstUsed) -> None:
    document = estimate_document(worked_out())
    seen, blind = day_papers(document, used), day_papers(without_cost(document), used)
    assert seen is not None and blind is not None
    days = [found.day for found in blind.pick_lists]
    assert len(days) == len(set(days)) < len(seen.pick_lists)
    assert sum(len(found.lines) for found in seen.pick_lists) == sum(len(found.lines) for found in blind.pick_lists)
    shown = papers_document(blind)
    assert shown is not None and all("supplier" not in found for found in shown["pick_lists"])


def said(result: Estimate) -> dict[str, str]:
    return {one.code: one.strength for one in result.findings if one.code.startswith("works_")}


def test_works_that_end_before_their_plan_are_asked_about_and_before_their_start_stopped() -> None:
    # Monday 29 March 2027 and more than one day of work: the plan runs over the change of VAT on 1 April or to its eve.
    start = date(2027, 3, 29)
    plan = worked_out(works_start_on=start).plan
    assert plan is not None and len(plan.dates) > 1
    short = worked_out(works_start_on=start, works_end_on=plan.dates[-2])
    assert said(short) == {"works_end_before_plan": "ask"}
    assert said(worked_out(works_start_on=start, works_end_on=plan.dates[-1])) == {}
    backwards = worked_out(works_start_on=start, works_end_on=date(2027, 3, 26))
    assert said(backwards) == {"works_end_before_plan": "stop"}
    assert backwards.price is not None and backwards.price.total_pence is None


def test_works_that_start_before_they_are_priced_are_asked_about() -> None:
    assert said(worked_out(works_start_on=date(2026, 11, 24))) == {"works_start_before_pricing": "ask"}
    assert said(worked_out(works_start_on=date(2026, 11, 25))) == {}
