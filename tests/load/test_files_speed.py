"""How long the files of a quote take to render: the time of this process, beside the pages and a yardstick loop.

Prints numbers (design.md section 9: 100 ms for a quote of about four pages); fails only where the same document does
not give the same bytes.
"""

import io
import json
import statistics
import time
from collections.abc import Callable
from datetime import date
from typing import Any

from pypdf import PdfReader

from api.render.addressee import Addressee
from api.render.bill_csv import bill_csv
from api.render.pdf import quote_pdf
from api.render.ubl import quote_ubl
from models.document import estimate_document
from models.estimate import Choices, estimate
from models.quote import sealed
from models.survey import Survey

TODAY = date(2026, 3, 2)
ADDRESSEE = Addressee("A. Customer", "12 Any Lane", "", "12 Any Lane")
HEAD = {
    "quote_id": "01957f5c-0000-7000-8000-000000000000", "number": "2026-0001", "revision": 1, "job_number": 1,
    "issued_at": "2026-03-02T09:00:00+00:00", "valid_until": "2026-04-01", "party_hash": "0" * 64, "accepted": [],
}  # fmt: skip


def _median_ms(work: Callable[[], Any], repeats: int = 5) -> float:
    times = []
    for _ in range(repeats):
        start = time.process_time()
        work()
        times.append((time.process_time() - start) * 1000)
    return statistics.median(times)


def test_files_of_a_quote(rules: Any, households: dict[str, Any], say: Callable[[str], None]) -> None:
    yardstick = _median_ms(lambda: sum(i * i for i in range(20_000)), 15)
    rendered = 0
    for name, record in households.items():
        choices = Choices.model_validate(record["choices"])
        worked_out = estimate(Survey.model_validate(record["survey"]), choices, rules, today=TODAY)
        if worked_out.price is None or worked_out.price.partial:
            continue
        body = sealed(estimate_document(worked_out), HEAD)
        document, sha256 = json.loads(body.body), body.sha256

        # A document that this process never printed; then its copy without a name, as at issue.
        started = time.process_time()
        made = quote_pdf(document, sha256, ADDRESSEE)
        first_ms = (time.process_time() - started) * 1000
        started = time.process_time()
        quote_pdf(document, sha256, None)
        copy_ms = (time.process_time() - started) * 1000
        assert made == quote_pdf(document, sha256, ADDRESSEE)
        pages = len(PdfReader(io.BytesIO(made)).pages)
        ubl_ms = _median_ms(lambda d=document, s=sha256: quote_ubl(d, s, ADDRESSEE))
        csv_ms = _median_ms(lambda d=document: bill_csv(d))
        rendered += 1
        say(
            f"{name:14} PDF of {pages} pages {first_ms:5.0f} ms ({first_ms / pages:4.1f} ms a page, "
            f"{first_ms / yardstick:3.0f} yardstick loops), the copy without a name {copy_ms:4.0f} ms, "
            f"UBL {ubl_ms:4.1f} ms, CSV {csv_ms:4.1f} ms"
        )
    assert rendered >= 3
    say(f"yardstick loop {yardstick:.2f} ms; budget: 100 ms for a PDF of about four pages")
