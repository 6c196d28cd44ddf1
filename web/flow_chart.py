"""Lays the curve over flow temperatures out as two charts: purchase against the yearly ratio, and years with days."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from math import ceil, floor, log10
from typing import Any

from api.render.wording import figure

WIDTH, HEIGHT = 420, 250
LEFT, RIGHT, TOP, BOTTOM = 52, 12, 30, 40
CLEAR = 16
DAYS_HEIGHT = 64


@dataclass(frozen=True, slots=True)
class Dot:
    """A flow temperature in a chart's own units; `heats` says whether every room is heated there."""

    x: float
    y: float
    flow_temp_c: float
    heats: bool
    best: bool
    label: str
    label_y: float


@dataclass(slots=True)
class Chart:
    """Axes with their marks, dots from cool to hot, and steps of days where there are any."""

    said: str
    x_words: str
    y_words: str
    height: float
    base: float
    x_marks: list[tuple[float, str]] = field(default_factory=list)
    y_marks: list[tuple[float, str]] = field(default_factory=list)
    dots: list[Dot] = field(default_factory=list)
    line: str = ""
    steps: str = ""
    step_labels: list[tuple[float, float, str]] = field(default_factory=list)
    cliffs: list[float] = field(default_factory=list)


def _nice(least: float, most: float, wanted: int) -> list[float]:
    """Round marks that enclose a range."""
    span = max(most - least, abs(most) * 0.02, 1e-6)
    step = 10 ** floor(log10(span / wanted))
    step = next(step * times for times in (1, 2, 5, 10) if span / (step * times) <= wanted)
    first = floor(least / step)
    last = max(ceil(most / step), first + 1)
    return [round(number * step, 6) for number in range(first, last + 1)]


def _scale(value: float, marks: Sequence[float], start: float, end: float) -> float:
    return start + (value - marks[0]) / (marks[-1] - marks[0]) * (end - start)


def purchase_chart(curve: Mapping[str, Any]) -> Chart | None:
    """Purchase at cost against the heat of a year for each unit of electricity; running cost where cost is not shown.

    None where fewer than two points are known.
    """
    field_name = "purchase_pence" if any("purchase_pence" in one for one in curve["points"]) else None
    costs = field_name or "running_pence_per_year"
    points = [one for one in curve["points"] if one["seasonal_ratio"] is not None and one.get(costs) is not None]
    if len(points) < 2:
        return None
    words = "emitters and unit, £ at cost" if field_name else "running, £ a year"
    x_marks = _nice(min(one["seasonal_ratio"] for one in points), max(one["seasonal_ratio"] for one in points), 5)
    y_marks = _nice(min(one[costs] for one in points) / 100, max(one[costs] for one in points) / 100, 5)
    bottom = HEIGHT - BOTTOM
    chart = Chart(
        f"{'Purchase' if field_name else 'Running cost'} against heat for each unit of electricity, by flow °C",
        "heat for each unit of electricity over the year", words, HEIGHT, bottom,
    )  # fmt: skip
    places = 2 if x_marks[1] - x_marks[0] < 0.1 else 1
    chart.x_marks = [(_scale(mark, x_marks, LEFT, WIDTH - RIGHT), figure(mark, places)) for mark in x_marks]
    chart.y_marks = [(_scale(mark, y_marks, bottom, TOP), figure(mark)) for mark in y_marks]
    for one in points:
        x = _scale(one["seasonal_ratio"], x_marks, LEFT, WIDTH - RIGHT)
        y = _scale(one[costs] / 100, y_marks, bottom, TOP)
        temp = one["flow_temp_c"]
        label = f"{temp:g} °C" if temp % 5 == 0 or one["best"] else ""
        chart.dots.append(Dot(x, y, temp, one["feasible"], one["best"], label, y + 24 if one["best"] else y - 11))
    chart.dots = _without_crowding(chart.dots)
    chart.line = _line([dot for dot in chart.dots if dot.heats])
    return chart


def years_chart(curve: Mapping[str, Any]) -> Chart | None:
    """Purchase and the years of running together over flow temperature, with the days of labour as steps below.

    Where cost is not shown the line is running alone. Temperatures that do not heat the house are left out. None
    where fewer than two points are known.
    """
    whole = any("whole_cost_pence" in one for one in curve["points"])
    costs = "whole_cost_pence" if whole else "running_pence_per_year"
    points = [one for one in curve["points"] if one["feasible"] and one.get(costs) is not None]
    if len(points) < 2:
        return None
    first, last = points[0]["flow_temp_c"], points[-1]["flow_temp_c"]
    temps = [first, last]
    y_marks = _nice(min(one[costs] for one in points) / 100, max(one[costs] for one in points) / 100, 4)
    with_days = [one for one in points if one["days"] is not None]
    bottom = HEIGHT - BOTTOM
    chart = Chart(
        f"{'Purchase and running together' if whole else 'Running cost'} over flow temperature, with days of labour",
        "flow temperature at the coldest, °C",
        f"{curve['years']} years together, £ at cost" if whole else "running, £ a year",
        HEIGHT + (DAYS_HEIGHT if with_days else 0), bottom,
    )  # fmt: skip
    chart.x_marks = [
        (_scale(one["flow_temp_c"], temps, LEFT + 8, WIDTH - RIGHT - 8), f"{one['flow_temp_c']:g}")
        for one in points
        if len(points) <= 12 or one["flow_temp_c"] % 2 == 0
    ]
    chart.y_marks = [(_scale(mark, y_marks, bottom, TOP), figure(mark)) for mark in y_marks]
    for one in points:
        temp = one["flow_temp_c"]
        x = _scale(temp, temps, LEFT + 8, WIDTH - RIGHT - 8)
        y = _scale(one[costs] / 100, y_marks, bottom, TOP)
        chart.dots.append(Dot(x, y, temp, True, one["best"], f"{temp:g} °C" if one["best"] else "", y + 22))
    chart.line = _line(chart.dots)
    _add_days(chart, with_days, temps)
    return chart


def _without_crowding(dots: Sequence[Dot]) -> list[Dot]:
    """Labels that would run into that of the best are left out."""
    best = next((dot for dot in dots if dot.best), None)
    return [
        replace(dot, label="")
        if best is not None and dot is not best and abs(dot.x - best.x) < 3 * CLEAR and abs(dot.y - best.y) < 2 * CLEAR
        else dot
        for dot in dots
    ]


def _add_days(chart: Chart, points: Sequence[Mapping[str, Any]], temps: Sequence[float]) -> None:
    """The days as a line of steps: it changes half-way between two temperatures with other days."""
    if not points:
        return
    days = [one["days"] for one in points]
    low, high = min(days), max(days)
    top, foot = HEIGHT + 18, HEIGHT + DAYS_HEIGHT - 14

    def y_of(count: int) -> float:
        return top if high == low else _scale(count, (low, high), foot, top)

    places = [_scale(one["flow_temp_c"], temps, LEFT + 8, WIDTH - RIGHT - 8) for one in points]
    ends = [(left + right) / 2 for left, right in pairwise(places)]
    runs: list[tuple[int, float, float]] = []
    for one, start, end in zip(points, [places[0] - 8, *ends], [*ends, places[-1] + 8], strict=True):
        if runs and runs[-1][0] == one["days"]:
            runs[-1] = (one["days"], runs[-1][1], end)
        else:
            if runs:
                chart.cliffs.append(start)
            runs.append((one["days"], start, end))
    chart.steps = " ".join(f"{x:.1f},{y_of(count):.1f}" for count, start, end in runs for x in (start, end))
    for count, start, end in runs:
        chart.step_labels.append(((start + end) / 2, y_of(count) - 5, f"{count} day{'s' if count != 1 else ''}"))


def _line(dots: Sequence[Dot]) -> str:
    return " ".join(f"{dot.x:.1f},{dot.y:.1f}" for dot in dots)
