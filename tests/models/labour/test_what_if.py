"""What if: rain, a damaged part, a late electrician, another concrete. Expected days are worked out by hand."""

import random
from collections.abc import Callable
from typing import Any

import pytest

from models.labour.tasks import LabourRules, labour_rules, needed_tasks
from models.labour.what_if import Works, another_base, part_damaged, planned as plan_of, rain, trade_a_day_late
from models.reference.weather import RainRegion, rain_of_nation
from models.takeoff.quantities import TakeOff

ALWAYS = RainRegion("wet", (31.0,) * 12, ())
NEVER_WET = RainRegion("dry", (0.0,) * 12, ())
HALF = RainRegion("half", (15.5,) * 12, ())
TASK = {
    "code": "", "phase": "Open", "name": "", "trade": "engineer", "crew": "1", "skills": "", "fixed_person_h": "1",
    "elapsed_h": "", "one_go": "no", "weather_exposed": "no", "services_off": "", "services_restored": "", "when": "",
}  # fmt: skip
ORDER = {"task": "", "after": "", "lag_h": "", "lag_table": "", "when": ""}


@pytest.fixture
def works(settings: dict[str, Any], take_off: Callable[..., TakeOff]) -> Callable[..., Works]:
    """The works of a few tasks: code -> changed columns; (task, after)."""

    def make(
        tasks: dict[str, dict[str, str]], *order: tuple[str, str], crew: int = 1, base: str = "preformed"
    ) -> Works:
        rows = [TASK | {"code": code, "name": code} | change for code, change in tasks.items()]
        steps = [ORDER | {"task": task, "after": after} for task, after in order]
        rules = labour_rules(rows, [], steps, [], settings)
        return Works(needed_tasks(rules, take_off("straightforward")), crew, rules.settings, None, base, False)

    return make


@pytest.fixture
def straightforward(rules: LabourRules, take_off: Callable[..., TakeOff]) -> Works:
    tasks = needed_tasks(rules, take_off("straightforward"))
    return Works(tasks, 2, rules.settings, None, "rapid_slab", False)


def test_rain_costs_the_days_that_the_open_task_waits(works: Callable[..., Works]) -> None:
    out = works({"A": {"weather_exposed": "yes", "fixed_person_h": "3"}})
    # uniform numbers in turn: a day is wet where the number is below 0.5; the first dry day is the one that it takes
    numbers = iter([0.1, 0.1, 0.9] + [0.9] * 23 + [0.9] * 26)
    answer = rain(out, region=HALF, month=1, uniform=lambda: next(numbers), runs=2)
    assert answer.days_of_run == (3, 1)
    assert (answer.days_dry, answer.days_half, answer.days_four_of_five) == (1, 1, 3)
    (task,) = answer.plan.tasks
    assert task.start.day == 3


def test_indoor_work_goes_on_in_the_rain(works: Callable[..., Works]) -> None:
    inside = works({"A": {"fixed_person_h": "3"}, "B": {"fixed_person_h": "9"}})
    answer = rain(inside, region=ALWAYS, month=1, uniform=random.Random(1).random, runs=20)
    assert set(answer.days_of_run) == {2}


def test_open_work_is_left_for_better_weather(works: Callable[..., Works]) -> None:
    out = works({"A": {"weather_exposed": "yes", "fixed_person_h": "12"}})
    # dry, wet, dry: 8 h on day 1, the rest on day 3; in one go it would wait for two dry days running
    numbers = iter([0.9, 0.1] + [0.9] * 40)
    assert rain(out, region=HALF, month=1, uniform=lambda: next(numbers), runs=1).days_of_run == (3,)


def test_more_rain_never_means_fewer_days_and_a_seed_always_the_same(straightforward: Works) -> None:
    def days(region: RainRegion, seed: int) -> Any:
        return rain(straightforward, region=region, month=11, uniform=random.Random(seed).random, runs=60)

    dry, england, scotland = days(NEVER_WET, 3), days(rain_of_nation("england"), 3), days(rain_of_nation("scotland"), 3)
    assert set(dry.days_of_run) == {dry.days_dry} == {3}
    assert sum(dry.days_of_run) < sum(england.days_of_run) <= sum(scotland.days_of_run)
    assert days(rain_of_nation("england"), 3) == england
    assert england.days_half <= england.days_four_of_five
    assert "12.6 days" in england.sentence and "in half of 60 runs" in england.sentence


def test_a_damaged_part_holds_up_what_needs_it(works: Callable[..., Works]) -> None:
    out = works({"A": {"fixed_person_h": "2"}, "B": {"fixed_person_h": "5"}}, ("B", "A"))
    # day 1 has 7 h of work; B waits until 10:00 of day 2: a day more, and nothing shortens a delivery
    answer = part_damaged(out, part="cylinder", tasks=["B"], back_on=(2, 600))
    assert answer.days_more == 1 and answer.avoided_by == ""
    assert answer.sentence.startswith("the cylinder is damaged on delivery and replaced on day 2 at 10:00: costs a day")
    starts = {task.code: (task.start.day, task.start.at) for task in answer.plan.tasks}
    assert starts["B"] == (2, "10:00")
    with pytest.raises(ValueError, match="no task of this job needs the bath"):
        part_damaged(out, part="bath", tasks=["C"], back_on=(2, 600))


def test_the_way_that_avoids_a_day_was_tried(works: Callable[..., Works]) -> None:
    # B fills day 1, A and C take 7.4 h of day 2; from 10:00 on it has 6 h, with an hour more 7: a day is lost. Another
    # engineer has 2.5 h from 10:00 to the break, enough for A
    out = works({"A": {"fixed_person_h": "2.4"}, "B": {"fixed_person_h": "8"}, "C": {"fixed_person_h": "5"}})
    assert plan_of(out, effort="thorough").days == 2
    late = part_damaged(out, part="pump", tasks=["A", "C"], back_on=(2, 600))
    assert late.days_more == 1
    assert late.avoided_by == "a second pair of hands for the morning of day 2"
    assert late.sentence.endswith("costs a day: a second pair of hands for the morning of day 2 avoids it")


def test_an_hour_more_is_cheaper_than_more_hands(works: Callable[..., Works]) -> None:
    # the same with 6.8 h from 10:00 of day 2: an hour more is enough
    out = works({"A": {"fixed_person_h": "1.8"}, "B": {"fixed_person_h": "8"}, "C": {"fixed_person_h": "5"}})
    late = part_damaged(out, part="pump", tasks=["A", "C"], back_on=(2, 600))
    assert late.days_more == 1 and late.avoided_by == "working an hour longer each day"


def test_the_electrician_a_day_late(straightforward: Works) -> None:
    before = plan_of(straightforward, effort="thorough")
    (visit,) = [visit for visit in before.visits if visit.trade == "electrician"]
    answer = trade_a_day_late(straightforward, trade="electrician")
    assert min(v.day for v in answer.plan.visits if v.trade == "electrician") == visit.day + 1
    assert answer.days_more is not None and answer.days_more >= 0
    with pytest.raises(ValueError, match="no visit of the trade groundworker"):
        trade_a_day_late(straightforward, trade="groundworker")


def test_standard_concrete_instead_of_rapid(straightforward: Works) -> None:
    answer = another_base(straightforward, base_type="standard_slab")
    # rapid: three days. Standard: cast on day 1 after 12:00, so that the unit is set on day 3 in the afternoon and its
    # pipes (1.9 h) are tested at its end; flush, fill and start-up last to 12:30 of day 4, 1 h until it is warm, 2.2 h
    # of balancing: the handover of 1.2 h no longer fits into day 4
    assert answer.days_more == 2 and answer.plan.days == 5
    assert answer.sentence.startswith("a standard slab instead of a rapid slab: costs two days")


def test_no_plan_names_the_reason(straightforward: Works) -> None:
    alone = Works(straightforward.tasks, 1, straightforward.settings, None, "rapid_slab", False)
    answer = another_base(alone, base_type="standard_slab")
    assert answer.days_more is None and "there is no plan: a crew of 1 cannot do" in answer.sentence
    wet = rain(alone, region=HALF, month=1, uniform=random.Random(1).random, runs=2)
    assert wet.days_half is None and "there is no plan" in wet.sentence


def test_a_base_cast_in_a_visit_before_avoids_its_curing(straightforward: Works) -> None:
    answer = another_base(straightforward, base_type="standard_slab")
    # 48 h by the firm's row: two whole days on the clock
    assert straightforward.settings.lag_tables_h["cure"]["standard_slab"] == 48
    assert answer.avoided_by == "a visit two days or more before the works to cast the base"
    assert answer.sentence.endswith("avoids it")


def test_nothing_is_said_to_avoid_what_nothing_avoids(works: Callable[..., Works]) -> None:
    # the part comes on day 3: neither hours nor hands bring it before
    out = works({"A": {"fixed_person_h": "2"}})
    late = part_damaged(out, part="pump", tasks=["A"], back_on=(3, 600))
    assert late.days_more == 2 and late.avoided_by == ""
    assert late.sentence.endswith("costs two days; neither longer days nor more hands avoid it")


def test_always_rain_says_that_no_day_is_enough(works: Callable[..., Works]) -> None:
    out = works({"A": {"weather_exposed": "yes", "fixed_person_h": "3"}})
    answer = rain(out, region=ALWAYS, month=1, uniform=random.Random(1).random, runs=3)
    assert answer.days_four_of_five is None and "are not enough" in answer.sentence
