"""How long one estimate takes in process. Prints numbers; fails only on a budget missed by a factor that no machine
explains (design.md section 9 gives 5 ms for the 13-room house)."""

import statistics
import time
from collections.abc import Callable
from datetime import date
from typing import Any

from models.document import estimate_document
from models.estimate import Choices, estimate
from models.labour.plan import forget_plans
from models.survey import Survey

TODAY = date(2026, 11, 25)


def _median_ms(work: Any, repeats: int) -> float:
    times = []
    for _ in range(repeats):
        start = time.process_time()
        work()
        times.append((time.process_time() - start) * 1000)
    return statistics.median(times)


def _empty_loop_ms() -> float:
    return _median_ms(lambda: sum(i * i for i in range(20_000)), 15)


def test_one_estimate_in_process(rules: Any, households: dict[str, Any], say: Callable[[str], None]) -> None:
    yardstick = _empty_loop_ms()
    for name, record in households.items():
        survey = Survey.model_validate(record["survey"])
        choices = Choices.model_validate(record["choices"])

        def anew(survey: Survey = survey, choices: Choices = choices) -> None:
            forget_plans()
            estimate(survey, choices, rules, today=TODAY)

        anew_ms = _median_ms(anew, 25)
        again_ms = _median_ms(lambda s=survey, c=choices: estimate(s, c, rules, today=TODAY), 25)
        result = estimate(survey, choices, rules, today=TODAY)
        document_ms = _median_ms(lambda r=result: estimate_document(r), 15)
        say(
            f"{name:14} {len(survey.rooms):3} rooms: estimate {anew_ms:6.2f} ms ({anew_ms / yardstick:5.2f} yardstick "
            f"loops), with its plan remembered {again_ms:6.2f} ms ({again_ms / yardstick:5.2f}), "
            f"document {document_ms:5.2f} ms"
        )
    say(f"yardstick loop {yardstick:.2f} ms; budget: 5 ms for the 13-room house")
