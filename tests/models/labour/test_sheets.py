"""Day sheets, pick lists, delivery checks and the customer's sentence."""

import csv
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from models.labour.plan import LabourPlan
from models.labour.sheets import (
    CAUTIONS,
    cautions_of,
    day_sheets,
    delivery_checks,
    first_used,
    pick_lists,
    services_sentence,
)
from models.labour.tasks import LabourRules, RefusedRow

SEED = Path(__file__).parents[3] / "seed_data"
Planned = Callable[..., LabourPlan]


def _rows() -> list[dict[str, str]]:
    with (SEED / "first_used.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_every_piece_of_work_stands_on_one_sheet(planned: Planned) -> None:
    result = planned("straightforward", starts_on=date(2026, 3, 2))
    sheets = day_sheets(result)
    on_sheets = sorted((sheet.day, line.since, line.until, line.code) for sheet in sheets for line in sheet.lines)
    in_plan = sorted((*piece, task.code) for task in result.tasks for piece in task.pieces)
    assert on_sheets == in_plan
    assert {sheet.trade for sheet in sheets} == {"engineer", "electrician"}
    for sheet in sheets:
        assert sheet.on == result.dates[sheet.day - 1]
        assert [line.since for line in sheet.lines] == sorted(line.since for line in sheet.lines)
        assert sheet.arrives == sheet.lines[0].since
        for line in sheet.lines:
            assert set(line.people) <= set(sheet.people)


@pytest.mark.parametrize(
    ("code", "word"),
    # common practice, no source: what can hurt at each of these tasks
    [
        ("PRIMARY-SET", "propane"),
        ("PRIMARY-SET", "two people"),
        ("CYLINDER-PIPE", "unvented"),
        ("COMMISSION-RELIEF", "scald"),
        ("ELECTRIC-TEST", "electrician"),
        ("STRIP-BOILER", "registered"),
        ("STRIP-TANKS", "asbestos"),
        ("GROUND-DIG", "buried services"),
        ("GROUND-BRACKET", "height"),
        ("PRIMARY-CORE", "dust"),
    ],
)
def test_what_can_hurt_has_its_caution_and_defers(code: str, word: str) -> None:
    said = cautions_of([code])
    assert any(word in caution.lower() for caution in said)
    assert "maker's instructions and local codes come first" in said[-1]


def test_harmless_work_has_no_caution_and_every_caution_names_a_task(rules: LabourRules) -> None:
    assert cautions_of(["CLOSE-PAPERS"]) == ()
    codes = {task.code for task in rules.tasks}
    for what, starts, _ in CAUTIONS:
        for start in starts:
            assert any(code == start or (start.endswith("-") and code.startswith(start)) for code in codes), what


def test_a_part_is_there_on_the_day_of_the_first_task_that_needs_it(planned: Planned, rules: LabourRules) -> None:
    result = planned("straightforward")
    begins = {task.code: task.start.day for task in result.tasks}
    lines = [
        ("UNT", "outdoor unit", Decimal(1), "each", "one supplier", "Outdoor unit"),
        ("CYL", "cylinder", Decimal(1), "each", "another", "Hot water"),
        ("GRV", "gravel", Decimal(4), "each", "another", "Ground and condensate"),
        ("VAN", "from the van", Decimal(0), "each", "another", "Hot water"),
        ("ODD", "no row", Decimal(1), "each", "one supplier", "Something else"),
    ]
    lists = pick_lists(result, lines, first_used(_rows(), rules))
    found = {line.sku: (picked.day, picked.supplier, line.task) for picked in lists for line in picked.lines}
    assert found["UNT"] == (begins["PRIMARY-SET"], "one supplier", "PRIMARY-SET")
    assert found["CYL"] == (begins["CYLINDER-PLACE"], "another", "CYLINDER-PLACE")
    assert found["GRV"] == (1, "another", "GROUND-SETOUT")
    assert found["ODD"] == (1, "one supplier", "")
    assert "VAN" not in found
    assert [(picked.day, picked.supplier) for picked in lists] == sorted({(d, s) for d, s, _ in found.values()})
    checks = delivery_checks(result, lists)
    strip = next(task for task in result.tasks if task.phase == "Strip")
    assert f"day {strip.start.day}, {strip.start.at}" in checks[0] and "leave the old heating on" in checks[2]
    assert any("for day 2" in check and "one supplier (1 line)" in check for check in checks)


def test_every_group_of_the_price_list_has_a_row(rules: LabourRules) -> None:
    with (SEED / "price_list.csv").open(encoding="utf-8", newline="") as file:
        groups = {row["group"] for row in csv.DictReader(file)}
    assert groups <= set(first_used(_rows(), rules))


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ({"group": "Water", "task": "WATER-BOIL"}, "row 2: no task is called 'WATER-BOIL'"),
        ({"group": "", "task": "WATER-FILL"}, "group is empty"),
        ({"group": "Water"}, "its columns are group, task"),
    ],
)
def test_a_broken_row_is_refused(rules: LabourRules, row: dict[str, str], words: str) -> None:
    with pytest.raises(RefusedRow, match=words):
        first_used([row], rules)


def test_the_customer_reads_day_and_hour_and_dates_where_they_are_known(planned: Planned) -> None:
    result = planned("straightforward")
    (heating,) = [window for window in result.services if window.service == "heating"]
    said = services_sentence(result)
    assert (
        f"the heating from day {heating.off.day} at {heating.off.at} to day {heating.on.day} at {heating.on.at}" in said
    )
    assert "the power on day 2 from" in said and "the cold water" not in said
    dated = services_sentence(planned("straightforward", starts_on=date(2026, 3, 2)))
    # the first working day is Monday 2 March 2026, by a calendar
    assert dated.startswith("During the works, Monday 2 March to ") and " March 2026, these are off: " in dated
    assert "night" in dated
    assert "no plan yet" in services_sentence(planned("straightforward", crew=1))
