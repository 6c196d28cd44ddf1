"""Lays the tasks of a labour plan out as bars: a strip a day, a lane a person."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from api.render.wording import hours_of, people_words, weekday_words, words_of

WIDTH, LANE, TOP = 360, 44, 18
SHORTEST_DAY = (8.0, 17.0)


@dataclass(frozen=True, slots=True)
class Bar:
    """One piece of a task in one person's lane, in the chart's own units."""

    number: int
    trade: str
    name: str
    x: float
    y: float
    width: float


@dataclass(slots=True)
class DayStrip:
    """One day: the hour marks, the lanes by person, the bars, and the same as lines to read."""

    day: int
    title: str
    height: float
    hours: list[tuple[float, str]]
    lanes: list[tuple[float, str]] = field(default_factory=list)
    bars: list[Bar] = field(default_factory=list)
    lines: list[tuple[int, str, str, str]] = field(default_factory=list)


def pieces_of(task: Mapping[str, Any]) -> list[tuple[int, str, str]]:
    """The pieces (day, from, to) of a task, split by breaks and nights."""
    pieces = task.get("pieces") or ()
    if pieces:
        return [(int(day), str(start), str(end)) for day, start, end in pieces]
    return [(task["start"]["day"], task["start"]["at"], task["end"]["at"])]


def people_of(task: Mapping[str, Any]) -> list[str]:
    """Who does a task: the people by name, or its trade where nobody is named."""
    return list(task.get("people") or ()) or [words_of(task["trade"])]


def day_strips(tasks: Sequence[Mapping[str, Any]], dates: Sequence[str] = ()) -> list[DayStrip]:
    """The strips of all days with work, with their dates where there are any.

    A task keeps its number across days; one of two people has two bars.
    """
    pieces = [(number, task, piece) for number, task in enumerate(tasks, 1) for piece in pieces_of(task)]
    if not pieces:
        return []
    moments = [hours_of(at) for _, _, (_, start, end) in pieces for at in (start, end)]
    opens, closes = min(SHORTEST_DAY[0], *moments), max(SHORTEST_DAY[1], *moments)
    scale = WIDTH / (closes - opens)
    everyone = list(dict.fromkeys(who for _, task, _ in pieces for who in people_of(task)))
    strips = []
    for day in sorted({piece[0] for _, _, piece in pieces}):
        today = [(number, task, piece) for number, task, piece in pieces if piece[0] == day]
        here = [who for who in everyone if any(who in people_of(task) for _, task, _ in today)]
        marks = range(int(opens), int(closes) + 1, 2)
        strip = DayStrip(
            day,
            _title(day, dates),
            TOP + len(here) * LANE + 4,
            [((hour - opens) * scale, f"{hour:02d}") for hour in marks],
        )
        strip.lanes = [(TOP + row * LANE + 11, words_of(who)) for row, who in enumerate(here)]
        for number, task, (_, start, end) in sorted(today, key=lambda one: (hours_of(one[2][1]), one[0])):
            for who in people_of(task):
                strip.bars.append(
                    Bar(
                        number,
                        task["trade"],
                        task["name"],
                        (hours_of(start) - opens) * scale,
                        TOP + here.index(who) * LANE + 14,
                        max((hours_of(end) - hours_of(start)) * scale, 3),
                    )
                )
        for number in dict.fromkeys(number for number, _, _ in sorted(today, key=lambda one: hours_of(one[2][1]))):
            mine = [(task, piece) for other, task, piece in today if other == number]
            times = f"{min(piece[1] for _, piece in mine)}–{max(piece[2] for _, piece in mine)}"
            strip.lines.append((number, times, mine[0][0]["name"], people_words(people_of(mine[0][0]))))
        strips.append(strip)
    return strips


def _title(day: int, dates: Sequence[str]) -> str:
    return f"Day {day}, {weekday_words(dates[day - 1])}" if 0 < day <= len(dates) else f"Day {day}"
