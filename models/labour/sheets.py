"""What people take with them: a sheet a day and trade, a pick list a day and supplier, checks, the customer's sentence.

Cautions are the usual ones of the trade, no method statement: the maker's instructions, local codes and licensed or
registered people decide.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from models.labour.plan import LabourPlan, PlannedTask, ServiceWindow
from models.labour.tasks import LabourRules, RefusedRow
from models.sources import Source

SOURCE = Source("the firm's labour rows and plan", standing="firm's rule")
FIRST_USED_FILE = "first_used.csv"
_SERVICES_IN_WORDS = {
    "heating": "the heating",
    "hot_water": "the hot water",
    "cold_water": "the cold water",
    "power": "the power",
}
_DEFER = "the maker's instructions and local codes come first"
CAUTIONS: tuple[tuple[str, tuple[str, ...], str], ...] = (
    (
        "propane",
        ("PRIMARY-SET", "COMMISSION-START"),
        "it burns: no flame or spark near the unit, keep the maker's zone clear of drains and openings; only a "
        "person qualified for flammable refrigerants works on its circuit",
    ),
    (
        "unvented hot water",
        ("CYLINDER-PIPE", "CYLINDER-DISCHARGE", "CYLINDER-FILL", "CYLINDER-CHANGE", "COMMISSION-RELIEF"),
        "under pressure it can burst or scald: only a person qualified for it, no valve in the "
        "discharge, relief valves tried before it is heated",
    ),
    (
        "scalding",
        ("COMMISSION-HEATUP", "COMMISSION-RELIEF", "CYLINDER-CHANGE", "STRIP-CYLINDER", "CLOSE-CYLINDER"),
        "let hot water cool before draining, measure at the taps before anybody uses them",
    ),
    (
        "electricity",
        ("STRIP-ISOLATE", "ELECTRIC-", "COMMISSION-START", "CYLINDER-CHANGE"),
        "it kills: isolate, lock off and prove dead; only a qualified electrician works on the board and certifies",
    ),
    (
        "gas and oil",
        ("STRIP-ISOLATE", "STRIP-BOILER", "STRIP-COMBI"),
        "fuel is opened and capped by a registered person only; smell of gas: out, ventilate, ring the emergency line",
    ),
    (
        "asbestos",
        ("STRIP-BOILER", "STRIP-TANKS", "STRIP-CYLINDER", "PRIMARY-CORE", "EMITTER-FLOOR"),
        "old boards, flues, tanks and tiles may hold asbestos: stop, leave it alone and have it sampled; licensed "
        "people remove it where the law says so",
    ),
    (
        "lifting",
        (
            "PRIMARY-SET",
            "CYLINDER-PLACE",
            "STRIP-BOILER",
            "STRIP-CYLINDER",
            "CLOSE-CYLINDER",
            "EMITTER-",
            "CLOSE-WASTE",
        ),
        "heavy: two people or a lifting aid, the way cleared first",
    ),
    (
        "digging",
        ("GROUND-SETOUT", "GROUND-DIG", "GROUND-TRENCH"),
        "scan for buried services and ask for their plans before digging; dig by hand near them; support or slope "
        "what is deep",
    ),
    (
        "heights",
        ("GROUND-BRACKET", "STRIP-TANKS", "STRIP-BOILER"),
        "work at height from a platform that is made for it; loft boards and flue holes are not",
    ),
    (
        "silica dust",
        ("PRIMARY-CORE", "GROUND-SLAB", "GROUND-BLOCKS", "GROUND-BRACKET"),
        "dust of stone and concrete harms the lungs: water or extraction at the tool, and a mask that fits; wet "
        "cement burns the skin",
    ),
)
"""(what can hurt, codes or beginnings of codes of the tasks, what is usually said). Common practice, no source."""


@dataclass(frozen=True, slots=True)
class SheetLine:
    """One stretch of work of a day: from, to, the task, who does it, whether it goes on on another day."""

    since: str
    until: str
    code: str
    name: str
    people: tuple[str, ...]
    goes_on: bool


@dataclass(frozen=True, slots=True)
class DaySheet:
    """What one trade does on one day, in order, with the cautions of its tasks."""

    day: int
    on: date | None
    trade: str
    people: tuple[str, ...]
    arrives: str
    leaves: str
    lines: tuple[SheetLine, ...]
    cautions: tuple[str, ...]


BoughtLine = tuple[str, str, Decimal, str, str, str]
"""A line of a bill: SKU, description, quantity bought, unit, supplier, group."""


@dataclass(frozen=True, slots=True)
class PickLine:
    """What is to be there on a day, and the task that needs it first ("" where none does)."""

    sku: str
    description: str
    bought: Decimal
    unit: str
    task: str


@dataclass(frozen=True, slots=True)
class PickList:
    """What one supplier brings, or the stores hand out, for one day."""

    day: int
    on: date | None
    supplier: str
    lines: tuple[PickLine, ...]


FirstUsed = Mapping[str, tuple[str, ...]]
"""For each group of the price list the tasks that need its parts first."""


def first_used(rows: Sequence[Mapping[str, str]], rules: LabourRules) -> FirstUsed:
    """The rows group, task (and note) of first_used.csv, checked.

    The firm's rule. Raises RefusedRow with file, row and reason for a task that does not exist or an empty group.
    """
    known = {task.code for task in rules.tasks}
    found: dict[str, list[str]] = {}
    for number, row in enumerate(rows, 2):
        if set(row) - {"note"} != {"group", "task"}:
            raise RefusedRow(FIRST_USED_FILE, number, "its columns are group, task (and note)")
        if not row["group"]:
            raise RefusedRow(FIRST_USED_FILE, number, "group is empty")
        if row["task"] not in known:
            raise RefusedRow(FIRST_USED_FILE, number, f"no task is called {row['task']!r}")
        found.setdefault(row["group"], []).append(row["task"])
    return {group: tuple(tasks) for group, tasks in found.items()}


def day_sheets(plan: LabourPlan) -> tuple[DaySheet, ...]:
    """A sheet for each visit of a trade, in the order of the days; none where there is no plan.

    The firm's plan; cautions are common practice, no source.
    """
    sheets: list[DaySheet] = []
    for visit in plan.visits:
        tasks = [task for task in plan.tasks if task.trade == visit.trade]
        lines = [
            SheetLine(since, until, task.code, task.name, task.people, task.end.day > day)
            for task in tasks
            for day, since, until in task.pieces
            if day == visit.day
        ]
        lines.sort(key=lambda line: (line.since, line.until))
        codes = dict.fromkeys(line.code for line in lines)
        sheets.append(
            DaySheet(
                visit.day,
                _on(plan, visit.day),
                visit.trade,
                visit.people,
                visit.arrives,
                visit.leaves,
                tuple(lines),
                cautions_of(tuple(codes)),
            )
        )
    return tuple(sheets)


def cautions_of(codes: Sequence[str]) -> tuple[str, ...]:
    """What is usually said about these tasks, each once; the last says who decides. Common practice, no source."""
    said = [
        f"{what.capitalize()}: {words}."
        for what, starts, words in CAUTIONS
        if any(code == start or (start.endswith("-") and code.startswith(start)) for code in codes for start in starts)
    ]
    return (*said, f"Wherever this differs, {_DEFER}.") if said else ()


def pick_lists(plan: LabourPlan, lines: Sequence[BoughtLine], used: FirstUsed) -> tuple[PickList, ...]:
    """What must be there by day and supplier: each line on the first day of a task that needs its group.

    The firm's rule. A group without a row, or of which no task is planned, is there on day 1, which is safe. Lines of
    which nothing is bought are left out.
    """
    begins = {task.code: task.start.day for task in plan.tasks}
    lists: dict[tuple[int, str], list[PickLine]] = {}
    for sku, description, bought, unit, supplier, group in lines:
        if not bought:
            continue
        planned = [(begins[task], task) for task in used.get(group, ()) if task in begins]
        day, task = min(planned, key=lambda entry: entry[0], default=(1, ""))
        lists.setdefault((day, supplier), []).append(PickLine(sku, description, bought, unit, task))
    return tuple(
        PickList(day, _on(plan, day), supplier, tuple(found)) for (day, supplier), found in sorted(lists.items())
    )


def delivery_checks(plan: LabourPlan, lists: Sequence[PickList]) -> tuple[str, ...]:
    """What is looked at before anything is taken out of the house, since afterwards it has no heating.

    Common practice, no source.
    """
    strip = _first_strip(plan)
    if strip is None:
        return ()
    start = f"day {strip.start.day}, {strip.start.at}: {strip.name[:1].lower()}{strip.name[1:]}"
    checks = [
        f"Before strip-out starts ({start}), unpack what came and look: dents, leaks, right size and hand, all parts "
        "of the pick list.",
        "Compare the plates of the outdoor unit and the cylinder with the quote.",
        "Anything damaged or missing: photograph it, ring the supplier and the office, and leave the old heating on.",
    ]
    later: dict[int, list[str]] = {}
    for found in lists:
        if found.day > strip.start.day:
            later.setdefault(found.day, []).append(
                f"{found.supplier} ({_lines(len(found.lines))})" if found.supplier else _lines(len(found.lines))
            )
    for day, said in later.items():
        checks.append(f"Confirm the deliveries for day {day} before strip-out too: {', '.join(said)}.")
    return tuple(checks)


def services_sentence(plan: LabourPlan) -> str:
    """For the customer: when heating, hot water, cold water and power are off, by day and hour.

    The firm's plan; with dates where the start is known. Times are those of the plan, to the minute.
    """
    if plan.days is None:
        return "There is no plan yet, so that nobody can say when services are off."
    parts = []
    for service, words in _SERVICES_IN_WORDS.items():
        windows = [window for window in plan.services if window.service == service]
        if windows:
            parts.append(f"{words} {_windows(plan, windows)}")
    if not parts:
        return "No service is off during the works."
    known = "Times are planned and may move a little." if plan.dates else "The date of day 1 is still to be agreed."
    return f"During the works{_span(plan)} these are off: {'; '.join(parts)}. {known}"


def _windows(plan: LabourPlan, windows: Sequence[ServiceWindow]) -> str:
    """The windows in a row, those of one day under one name of the day."""
    said: list[str] = []
    day = 0
    for window in windows:
        if window.off.day == window.on.day and not window.overnight:
            times = f"from {window.off.at} to {window.on.at}"
            said.append(times if window.off.day == day else f"on {_day(plan, window.off.day)} {times}")
            day = window.off.day
        else:
            nights = f" ({window.overnight} {'night' if window.overnight == 1 else 'nights'})"
            said.append(
                f"from {_day(plan, window.off.day)} at {window.off.at} to {_day(plan, window.on.day)} at "
                f"{window.on.at}{nights if window.overnight else ''}"
            )
            day = window.on.day
    return " and ".join(said)


def _span(plan: LabourPlan) -> str:
    """From which day to which the works last, with the year, where the start is known."""
    if not plan.dates:
        return ""
    first, last = plan.dates[0], plan.dates[-1]
    end = f"{last:%A} {last.day} {last:%B %Y}"
    if first == last:
        return f" on {end},"
    year = f" {first:%Y}" if first.year != last.year else ""
    return f", {first:%A} {first.day} {first:%B}{year} to {end},"


def _day(plan: LabourPlan, day: int) -> str:
    on = _on(plan, day)
    return f"day {day}" if on is None else f"{on:%A} {on.day} {on:%B}"


def _on(plan: LabourPlan, day: int) -> date | None:
    return plan.dates[day - 1] if len(plan.dates) >= day else None


def _first_strip(plan: LabourPlan) -> PlannedTask | None:
    """The first task that takes something out of use: the first of the phase Strip, or that switches heating off."""
    return next((task for task in plan.tasks if task.phase == "Strip"), None)


def _lines(count: int) -> str:
    return f"{count} {'line' if count == 1 else 'lines'}"
