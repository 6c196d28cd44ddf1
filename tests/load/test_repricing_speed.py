"""How many open drafts a second are re-priced: the arithmetic alone, and with the database. Printed, and held to the
budget by a wide margin only, since the machine may be busy (design: at least 2,000 and 300 a second, goal 1,000)."""

import json
from collections.abc import Callable
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from time import perf_counter, process_time
from typing import Any

import pytest
from pydantic import SecretStr
from pydantic_core import to_json

from api.ids import new_id
from api.services import repricing
from api.services.repricing import Repricer, keep_narrow_rows, narrow_draft, narrow_rows, plan_run, reprice_batch
from api.services.rules import RulesBook
from api.settings import Settings
from api.startup import prepare
from api.store import jobs, prices
from api.store.engine import reading, writing
from api.store.seed_files import demo_households
from models.document import estimate_document
from models.estimate import Choices, estimate
from models.records import Quote, QuoteState
from models.survey import Survey

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)
TODAY = date(2026, 3, 2)
DRAFTS = 600


@pytest.fixture(scope="module")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """A database with many drafts of the larger demo house, each with its document, and a new list in force."""
    settings = Settings(
        data_dir=Path(tmp_path_factory.mktemp("speed")), database_url=None, secret_key=SecretStr("only-for-tests-" * 3),
        fixed_now=NOW, log_level="CRITICAL",
    )  # fmt: skip
    book = RulesBook(None)
    engine = prepare(settings, book)
    household = demo_households()[1]
    with writing(engine) as session:
        rules = book.in_force(session, TODAY)
        choices = Choices.model_validate(household.get("choices", {}) | {"flow_temp_c": 55})
        worked_out = estimate(Survey.model_validate(household["survey"]), choices, rules, today=TODAY)
        workings = to_json(estimate_document(worked_out, why=True))
        party = jobs.new_party(name="", address="", contact="")
        job = jobs.add_job(session, job_id=new_id(), label="speed", party=party, owner="user:x", now=NOW)
        session.flush()
        assert worked_out.price is not None
        amounts = {name: getattr(worked_out.price, name) for name in repricing.AMOUNTS}
        for revision in range(DRAFTS):
            quote = Quote(
                id=new_id(), job_id=job.id, revision=revision + 1, state=QuoteState.DRAFTED, survey_version=1,
                survey=json.dumps(household["survey"]), choices=choices.model_dump_json(exclude_none=True),
                rules_version="", workings=workings, findings="[]", created_at=NOW, **amounts,
            )  # fmt: skip
            session.add(quote)
            keep_narrow_rows(session, quote, worked_out)
    with writing(engine) as session:
        base_id = prices.list_in_force(session, TODAY)
        assert base_id is not None
        base = prices.price_list(session, base_id)
        assert base is not None
        head = prices.new_draft(session, base, valid_from=TODAY, by="speed", now=NOW)
        dearer = [
            line.model_copy(update={"cost_gbp": (line.cost_gbp * Decimal("1.04")).quantize(Decimal("0.0001"))})
            for line in prices.lines_of(session, head.id).values()
        ]
        prices.write_lines(session, head.id, dearer)
        head.state = prices.PUBLISHED
        session.add(head)
        plan_run(session, reason="speed", starts_on=TODAY, now=NOW)
    yield engine, book, worked_out, len(workings)
    engine.dispose()


def test_arithmetic(prepared: Any, say: Callable[[str], None]) -> None:
    engine, book, worked_out, _ = prepared
    with reading(engine) as session:
        repricer = Repricer(session, book.in_force(session, TODAY), TODAY)
    rows = narrow_rows(worked_out)
    assert rows is not None
    draft = narrow_draft(rows.money, tuple((line["sku"], int(line["charged"] * 1000)) for line in rows.lines))
    whole = repricer.price_of(draft)
    count = 1000
    started = process_time()
    for _ in range(count):
        price = repricer.price_of(draft, amounts_only=True)
    rate = count / (process_time() - started)
    say(f"re-pricing, arithmetic of {len(draft.charged)} lines: {rate:,.0f} a second a core (budget 2,000)")
    assert price.total_pence is not None and price.total_pence > worked_out.price.total_pence
    assert all(getattr(price, name) == getattr(whole, name) for name in repricing.AMOUNTS)
    assert rate > 700


def test_with_the_database(prepared: Any, say: Callable[[str], None]) -> None:
    engine, book, _, size = prepared
    started, busy = perf_counter(), process_time()
    gone_through, after = 0, ""
    with reading(engine) as session:
        rules = book.in_force(session, TODAY)
    while True:
        with writing(engine) as session:
            ids, _, _ = reprice_batch(session, Repricer(session, rules, TODAY), after=after, limit=repricing.BATCH)
        if not ids:
            break
        gone_through, after = gone_through + len(ids), ids[-1]
    rate, cpu_rate = gone_through / (perf_counter() - started), gone_through / (process_time() - busy)
    say(
        f"re-pricing with SQLite, documents of {size // 1000} kB beside: {rate:,.0f} a second, "
        f"{cpu_rate:,.0f} a second a core (budget 300, goal 1,000)"
    )
    assert gone_through == DRAFTS
    assert rate > 60
