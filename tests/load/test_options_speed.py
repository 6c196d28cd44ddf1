"""How long the curve over 21 flow temperatures and the sensitivity take in process. Prints numbers and their ratio to a
yardstick loop; fails only on a budget missed by a factor that no machine explains (design.md section 9: 40 ms)."""

import statistics
import time
from collections.abc import Callable
from datetime import date
from typing import Any

from models.document import why_document
from models.estimate import Choices, estimate
from models.options import flow_curve, options
from models.sensitivity import sensitivity
from models.survey import Survey

TODAY = date(2026, 11, 25)
UNEXPLAINED = 10


def _median_ms(work: Any, repeats: int) -> float:
    times = []
    for _ in range(repeats):
        start = time.process_time()
        work()
        times.append((time.process_time() - start) * 1000)
    return statistics.median(times)


def test_the_curve_in_process(rules: Any, households: dict[str, Any], say: Callable[[str], None]) -> None:
    yardstick = _median_ms(lambda: sum(i * i for i in range(20_000)), 15)
    curve_ms = 0.0
    for name in ("thornlea", "alder_row", "weir_cottages"):
        survey = Survey.model_validate(households[name]["survey"])
        one_ms = _median_ms(lambda s=survey: estimate(s, Choices(), rules, today=TODAY), 15)
        curve_ms = _median_ms(lambda s=survey: flow_curve(s, Choices(), rules, today=TODAY), 9)
        four = [Choices(), Choices(flow_temp_c=45), Choices(flow_temp_c=52), Choices(emitters="keep")]
        four_ms = _median_ms(lambda s=survey, c=four: options(s, c, rules, today=TODAY), 5)
        result = estimate(survey, Choices(), rules, today=TODAY)
        why_ms = _median_ms(lambda r=result: why_document(r), 5)
        moved_ms = _median_ms(lambda r=result: sensitivity(r), 3)
        say(
            f"{name:14} {len(survey.rooms):3} rooms: curve {curve_ms:6.1f} ms ({curve_ms / yardstick:5.1f} loops, "
            f"{curve_ms / one_ms:4.1f} estimates), 4 options {four_ms:6.1f} ms ({four_ms / one_ms:4.1f} estimates), "
            f"why {why_ms:5.1f} ms, sensitivity {moved_ms:6.1f} ms"
        )
        # 21 temperatures share the house: well under 21 estimates, whatever the machine.
        assert curve_ms < 21 * one_ms / 2
        assert curve_ms < UNEXPLAINED * 40
    say("budget: 40 ms for the curve of the 13-room house, goal 20")
