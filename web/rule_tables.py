"""The firm's rules as tables that people edit: one row a line, headings in words, per cent where a share is stored.

A table of rows stays one table. A document of named entries becomes several: one for each list or register in it, and
one of single values. Whatever no words were written for still shows, so that nothing is lost on the way through.
"""

import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal, InvalidOperation
from typing import Any

from api.render.wording import words_of
from models.labour.tasks import DRIVERS
from models.takeoff.quantities import CHOSEN_ROLES, FLAGS, QUANTITY_UNITS

Content = dict[str, Any]
NEW_ROWS = 3
MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip
TITLES: Mapping[str, tuple[str, str]] = {
    "recipes": ("Recipes", "How much of which part a job needs. Amount × what is counted ÷ for each, × (1 + waste) + "
                           "fixed; then rounded up. Rows of the same part add up."),
    "tasks": ("Tasks", "What is done, by whom, with how many people."),
    "hours": ("Hours", "Person-hours of a task besides its fixed ones: amount × what is counted ÷ for each."),
    "order": ("Order", "What must be done before what, and how long to wait in between."),
    "factors": ("Harder or easier", "Under a condition, the hours of these tasks are multiplied."),
    "first_used": ("Parts needed first", "Which task is the first to need the parts of a group of the price list: its "
                                         "day is when they stand on the pick list."),
    "bank_holidays": ("Bank holidays", "Nobody works on these days in this nation."),
    "waiting_times:": ("How long others take", "Calendar days from the agreement on. Empty: not known."),
    "rates:labour": ("An hour of labour", "Margin is a share of the selling price, not a mark-up on cost."),
    "rates:per_job_day": ("A day on site", ""),
    "rates:weather.share_ratio_by_month": ("Allowance for weather", "Share of the price before VAT, by the month in "
                                                                    "which the work starts."),
    "rates:margin_ratio_by_class": ("Margin by class of goods", "A share of the selling price, not a mark-up."),
    "rates:discount.greatest_ratio_by_role": ("Greatest discount that a role may give", ""),
    "rates:extras_only_with_fuel": ("Extras for one fuel only", ""),
    "rates:provisional_sums": ("Provisional sums", "What nobody can know before; printed beside the price, not in it."),
    "rates:excluded": ("Not included, and who does it", ""),
    "rates:": ("Other values", ""),
    "stages:": ("Stages of payment", "The last payment takes the remainder."),
    "crews:": ("The working day", ""),
    "crews:lag_tables.cure": ("Curing", "Hours before anything may stand on it, by base."),
    "crews:people": ("People", ""),
}  # fmt: skip
HEADINGS: Mapping[str, str] = {
    "recipes.part": "Part", "recipes.match": "Matching", "recipes.driver": "Counted by", "recipes.amount": "Amount",
    "recipes.per": "for each", "recipes.fixed": "plus fixed", "recipes.waste": "Waste (0.05 is 5 %)",
    "recipes.rounding": "Rounded to", "recipes.flag_1": "Only if", "recipes.flag_2": "and if",
    "recipes.when_quantity": "Only where", "recipes.at_least": "is at least", "recipes.below": "and below",
    "recipes.reason": "Reason on the bill", "tasks.code": "Code", "tasks.phase": "Phase", "tasks.name": "Task",
    "tasks.trade": "Trade", "tasks.crew": "People at once", "tasks.skills": "Skills", "tasks.fixed_person_h":
    "Person-hours, fixed", "tasks.elapsed_h": "Hours on the clock", "tasks.one_go": "Without a break",
    "tasks.weather_exposed": "Outdoors", "tasks.services_off": "Switches off", "tasks.services_restored": "Restores",
    "tasks.when": "Only if", "hours.task": "Task", "hours.driver": "Counted by", "hours.amount": "Person-hours",
    "hours.per": "for each", "hours.when": "Only if", "order.task": "Task", "order.after": "comes after",
    "order.lag_h": "Wait, hours", "order.lag_table": "or wait by table", "order.when": "Only if",
    "factors.flag": "If", "factors.tasks": "Tasks", "factors.multiplier": "Hours times",
    "first_used.group": "Group of the price list", "first_used.task": "First needed by",
    "bank_holidays.nation": "Nation", "bank_holidays.on": "Day", "bank_holidays.name": "Holiday",
    "rates:labour.": "Trade", "rates:per_job_day.": "What", "rates:weather.share_ratio_by_month.": "Month",
    "rates:weather.share_ratio_by_month.value": "Share of the price", "rates:margin_ratio_by_class.": "Class",
    "rates:margin_ratio_by_class.value": "Margin", "rates:discount.greatest_ratio_by_role.": "Role",
    "rates:discount.greatest_ratio_by_role.value": "Discount up to", "rates:extras_only_with_fuel.": "Extra",
    "rates:extras_only_with_fuel.value": "only where the house burns", "crews:lag_tables.cure.": "Base",
    "crews:lag_tables.cure.value": "Hours", "name": "Name",
    "code": "Code", "what": "What", "who": "Who does it", "trade": "Trade", "skills": "Skills",
    "description": "Description", "where_findings": "When one of these is found", "sell_gbp": "Price, £",
    "cost_gbp_per_h": "Cost of an hour, £", "cost_gbp_per_day": "Cost of a day, £", "margin_ratio": "Margin",
    "vat_class": "VAT class", "sales_nominal": "Sales nominal", "note": "Note",
}  # fmt: skip
SINGLES: Mapping[str, str] = {
    "valid_from": "Rates hold from", "survey_and_design.hours_h": "Survey and design: hours",
    "survey_and_design.cost_gbp_per_h": "Survey and design: cost of an hour, £",
    "survey_and_design.margin_ratio": "Survey and design: margin",
    "survey_and_design.sales_nominal": "Survey and design: sales nominal",
    "weather.sales_nominal": "Allowance for weather: sales nominal",
    "margin_floor_ratio": "Margin below which somebody must approve", "discount.sales_nominal":
    "Discount: sales nominal", "subcontract.margin_class": "Work of other firms: class of goods",
    "subcontract.held_days": "Work of other firms: price held for, days",
    "emitters.assumed_run_m": "Pipe run to an emitter where nobody saw it, m",
    "deposit_ratio": "Deposit at signature", "before_completion_ratio": "Paid before completion, deposit included",
    "signed_after_days": "Signed so many days after pricing",
    "invoice_after_completion_days": "Last invoice so many days after completion", "day.start": "Work starts at",
    "day.end": "Work ends at", "day.break_from": "Break from", "day.break_to": "Break until",
    "electrician_half_day.from": "Electrician's half day from", "electrician_half_day.to":
    "Electrician's half day until", "visit_rounding_h": "A visit is charged in steps of, hours",
    "thin_last_day_h": "A last day shorter than this is pulled in, hours", "usual_crew": "Engineers on a usual job",
    "cold_factors.cure": "In cold weather curing takes so many times as long",
    "network_reply_days": "Reply of the network operator, days", "planning_decision_days": "Planning decision, days",
    "grant_offer_days": "Offer of a grant, days", "laboratory_days": "Result of a laboratory, days", "note": "Note",
}  # fmt: skip
REGISTERS = frozenset({
    "margin_ratio_by_class", "discount.greatest_ratio_by_role", "extras_only_with_fuel", "lag_tables.cure",
})  # fmt: skip
"""Entries that the office may add to or take from: a name and its value each."""
KEYED = frozenset({"labour", "per_job_day"})
"""Entries that hold the same few values each."""
OPTIONS: Mapping[str, tuple[str, ...]] = {
    "recipes.rounding": ("whole", "none"), "tasks.one_go": ("yes", "no"), "tasks.weather_exposed": ("yes", "no"),
    "vat_class": ("installed", "goods_only", "outside_scope"),
    "bank_holidays.nation": ("england", "wales", "scotland", "northern_ireland"),
}  # fmt: skip
KNOWN_NAMES: Mapping[str, str] = {
    "recipes.driver": "quantities", "recipes.when_quantity": "quantities", "hours.driver": "drivers",
    "recipes.flag_1": "flags", "recipes.flag_2": "flags", "tasks.when": "flags", "hours.when": "flags",
    "order.when": "flags", "factors.flag": "flags", "hours.task": "tasks", "order.task": "tasks",
    "order.after": "tasks", "first_used.task": "tasks", "first_used.group": "groups", "recipes.part": "parts",
}  # fmt: skip
"""Columns whose cells name something: which list of known names helps to fill them in."""
SEVERAL = frozenset({"skills", "services_off", "services_restored"})
"""Columns that hold several names: stored with a space between, read and typed with a comma."""
WIDE = frozenset({"reason", "name", "note", "description", "what", "who", "where_findings", "tasks", "skills"})
MIDDLE = frozenset({
    "group", "part", "driver", "task", "after", "code", "when", "when_quantity", "flag", "lag_table", "title",
})  # fmt: skip
NARROW = frozenset({
    "amount", "per", "fixed", "waste", "at_least", "below", "crew", "fixed_person_h", "elapsed_h", "lag_h",
    "multiplier", "value", "margin_ratio", "cost_gbp_per_h", "cost_gbp_per_day", "sales_nominal", "sell_gbp",
})  # fmt: skip
NOT_YET = "your change, not saved yet"
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
_ROW = re.compile(r"\brow (\d+)\b")


_WHEN = ("Only if", "A condition of the list below, or “not” before one; in labour two may be joined by “and”.")
LEGENDS: Mapping[str, tuple[tuple[str, str], ...]] = {
    "recipes": (
        (
            "Part",
            "sku:UNT-CTL is that line of the price list. chosen:cylinder is what the design chose. "
            "match:primary_tube with od_mm=primary_od_mm is the line whose size is that of the design. "
            "each:emitters is every new emitter.",
        ),
        ("Counted by", "a quantity that the design measures; “one” is one for each job."),
        _WHEN,
        ("Reason on the bill", "Words with quantities in braces: “Here {units}”."),
    ),
    "tasks": (
        ("Hours on the clock", "Where it takes longer than anybody attends it, such as a pressure test; else empty."),
        ("Switches off, restores", "heating, hot water, cold water or power; several with a comma between."),
        ("Skills", "Several with a comma between; each needs somebody in the crew who has it."),
        _WHEN,
    ),
    "hours": (("Counted by", "a quantity that the design measures."), _WHEN),
    "order": (("comes after", "The task that must be done first; where it does not apply, what it waits for counts."),
              ("Wait", "Hours on the clock, or the name of a table of curing times."), _WHEN),
    "factors": (("Tasks", "Their codes with a space between."),),
}  # fmt: skip
"""What may stand in the cells of a table, for somebody who sees it for the first time."""


class NotTaken(ValueError):
    """What was typed cannot be kept; `rows` says why, by place in the table."""

    def __init__(self, rows: Mapping[int, str]) -> None:
        super().__init__("; ".join(f"row {place + 1}: {why}" for place, why in rows.items()))
        self.rows = dict(rows)


@dataclass(frozen=True, slots=True)
class Column:
    """A column: the field it holds, its heading, how wide it is, what may stand in it."""

    field: str
    heading: str
    width: str
    options: tuple[str, ...] = ()
    names: str = ""
    fixed: bool = False


@dataclass(slots=True)
class Row:
    """A row with its place in the table, "new0" and so on for those that are not there yet.

    `was` is a mark of its cells as they are stored, so that a form can say what it was opened on.
    """

    place: str
    cells: list[str]
    fault: str = ""
    was: str = ""


@dataclass(slots=True)
class Sheet:
    """One table on the page."""

    key: str
    table: str
    title: str
    hint: str
    columns: list[Column]
    rows: list[Row] = field(default_factory=list)
    may_add: bool = True
    fault: str = ""
    gone: list[str] = field(default_factory=list)

    def new_rows(self) -> list[Row]:
        """Empty rows to write new lines into, besides those that were written into already."""
        taken = {row.place for row in self.rows} | set(self.gone)
        most = NEW_ROWS + sum(place.startswith("new") for place in taken)
        places = [f"new{number}" for number in range(most)] if self.may_add else []
        return [Row(place, [""] * len(self.columns)) for place in places if place not in taken]

    def found(self, words: str, means: Mapping[str, str]) -> list[Row]:
        """The rows that hold all of some words, and those that were written into or have a fault; all without words."""
        wanted = words.lower().split()
        return [
            row for row in self.rows
            if row.fault or row.place.startswith("new") or all(word in self._text(row, means) for word in wanted)
        ]  # fmt: skip

    @staticmethod
    def _text(row: Row, means: Mapping[str, str]) -> str:
        return " ".join([*row.cells, *(means[cell] for cell in row.cells if cell in means)]).lower()


def known_names(content: Content, parts: Mapping[str, str], groups: Iterable[str] = ()) -> dict[str, dict[str, str]]:
    """The names that cells may hold with what they mean, by the list that a column asks for."""
    conditions = [words_of(name) for name in sorted(FLAGS)]
    return {
        "quantities": {words_of(name): "" for name in sorted(QUANTITY_UNITS)},
        "drivers": {words_of(name): "" for name in sorted(QUANTITY_UNITS) if name in DRIVERS},
        "flags": dict.fromkeys(conditions, "") | {f"not {words}": "" for words in conditions},
        "tasks": {row["code"]: row["name"] for row in content.get("tasks") or ()},
        "groups": dict.fromkeys(sorted(groups), ""),
        "parts": {f"chosen:{role}": "what the design chose" for role in sorted(CHOSEN_ROLES)}
        | {"each:emitters": "every new emitter"} | {f"sku:{sku}": words for sku, words in parts.items()},
    }  # fmt: skip


def sheets_of(content: Content, headings_of: Any) -> list[Sheet]:
    """The tables of a content in the order of its entries. `headings_of` gives the columns of a table of rows."""
    sheets: list[Sheet] = []
    for table, value in content.items():
        if isinstance(value, list):
            sheets.append(_rows_sheet(table, value, headings_of(table, value)))
        else:
            found = [_document_sheet(table, path, inner) for path, inner in _registers(value)]
            single = _single_sheet(table, value)
            sheets += [*([single] if single.rows else []), *found]
    for sheet in sheets:
        for row in sheet.rows:
            row.was = _mark(sheet, row.cells)
    # Documents are stored with their entries by alphabet; people read them in the order of the titles.
    places = {key: place for place, key in enumerate(TITLES)}
    return sorted(sheets, key=lambda sheet: places.get(sheet.key, len(places)))


def _titled(key: str, table: str) -> tuple[str, str]:
    return TITLES.get(key) or (words_of(key.rpartition(":")[2] or table).replace(".", ", ").capitalize(), "")


def _column(key: str, name: str, *, fixed: bool = False) -> Column:
    full = f"{key}.{name}"
    heading = HEADINGS.get(full) or HEADINGS.get(name) or words_of(name).capitalize()
    share = name.endswith("_ratio") or (name == "value" and "_ratio" in key)
    return Column(
        name, f"{heading}, %" if share else heading,
        "wide" if name in WIDE else "middle" if name in MIDDLE else "narrow" if name in NARROW or share else "",
        OPTIONS.get(full) or OPTIONS.get(name) or (), KNOWN_NAMES.get(full, ""), fixed,
    )  # fmt: skip


def _rows_sheet(table: str, rows: Sequence[Mapping[str, str]], headings: Sequence[str]) -> Sheet:
    title, hint = _titled(table, table)
    sheet = Sheet(table, table, title, hint, [_column(table, name) for name in headings])
    sheet.rows = [
        Row(str(place), [_spoken(table, name, str(row.get(name, ""))) for name in headings])
        for place, row in enumerate(rows)
    ]  # fmt: skip
    return sheet


def _is_named(table: str, name: str) -> bool:
    return KNOWN_NAMES.get(f"{table}.{name}") in ("quantities", "drivers", "flags")


def _spoken(table: str, name: str, cell: str) -> str:
    """A cell as people read it: names of quantities, conditions, skills and services without underscores."""
    if name in SEVERAL:
        return ", ".join(words_of(one) for one in cell.split())
    return words_of(cell) if _is_named(table, name) else cell


def _written(table: str, name: str, cell: str) -> str:
    """What was typed into a cell as it is stored; names with underscores are taken as well."""
    if name in SEVERAL:
        return " ".join("_".join(one.split()) for one in cell.split(",") if one.strip())
    if not _is_named(table, name):
        return cell
    several = KNOWN_NAMES[f"{table}.{name}"] == "flags"
    parts = [part.strip() for part in re.split(r"\band\b", cell)] if several else [cell]
    stored = []
    for part in parts:
        bare = part.removeprefix("not ").strip()
        stored.append(("not " if part.startswith("not ") else "") + "_".join(bare.split()))
    return " and ".join(stored)


def _registers(document: Mapping[str, Any], path: str = "") -> Iterator[tuple[str, Any]]:
    """The lists and registers of a document by their path."""
    for name, value in document.items():
        full = f"{path}.{name}" if path else name
        is_list = isinstance(value, list) and bool(value)
        if (
            full in REGISTERS
            or full in KEYED
            or (is_list and (isinstance(value[0], dict) or name.endswith("_by_month")))
        ):
            yield full, value
        elif isinstance(value, dict):
            yield from _registers(value, full)


def _singles(document: Mapping[str, Any], path: str = "") -> Iterator[tuple[str, Any]]:
    """The values of a document that are in no list or register, by their path."""
    there = {full for full, _ in _registers(document, path)}
    for name, value in document.items():
        full = f"{path}.{name}" if path else name
        if full in there:
            continue
        if isinstance(value, dict):
            yield from _singles(value, full)
        else:
            yield full, value


def _singles_in_order(document: Mapping[str, Any]) -> list[tuple[str, Any]]:
    places = {path: place for place, path in enumerate(SINGLES)}
    return sorted(_singles(document), key=lambda one: places.get(one[0], len(places)))


def _single_sheet(table: str, document: Mapping[str, Any]) -> Sheet:
    key = f"{table}:"
    title, hint = _titled(key, table)
    sheet = Sheet(key, table, title, hint, [Column("", "What", "wide", fixed=True), Column("value", "Value", "")])
    sheet.may_add = False
    for place, (path, value) in enumerate(_singles_in_order(document)):
        words = SINGLES.get(path) or words_of(path.replace(".", ": ")).capitalize()
        sheet.rows.append(Row(str(place), [f"{words}, %" if path.endswith("_ratio") else words, _shown(path, value)]))
    return sheet


def _document_sheet(table: str, path: str, value: Any) -> Sheet:
    key = f"{table}:{path}"
    title, hint = _titled(key, table)
    names = _fields(path, value)
    by_month = isinstance(value, list) and not isinstance(value[0], dict)
    columns = [_column(key, name, fixed=(by_month or path == "per_job_day") and name == "") for name in names]
    sheet = Sheet(key, table, title, hint, columns, may_add=not by_month and path != "per_job_day")
    for place, (name, inner) in enumerate(_members(value)):
        cells = [
            name if one == "" else _shown(f"{path}.{one}" if one == "value" else one, _inner(inner, one))
            for one in names
        ]
        sheet.rows.append(Row(str(place), cells))
    return sheet


def _in_order(names: Iterable[str]) -> list[str]:
    places = {name: place for place, name in enumerate(HEADINGS)}
    return sorted(dict.fromkeys(names), key=lambda name: places.get(name, len(places)))


def _fields(path: str, value: Any) -> list[str]:
    """The columns of a list or register: its name first where it has one."""
    if isinstance(value, list):
        return _in_order(name for one in value if isinstance(one, dict) for name in one) or ["", "value"]
    if path in KEYED:
        return ["", *_in_order(name for one in value.values() for name in one)]
    return ["", "value"]


def _members(value: Any) -> list[tuple[str, Any]]:
    if isinstance(value, list):
        return [(MONTHS[place] if len(value) == 12 else str(place + 1), one) for place, one in enumerate(value)]
    return list(value.items())


def _inner(value: Any, name: str) -> Any:
    return value.get(name) if isinstance(value, dict) else value


def _is_share(path: str) -> bool:
    return "_ratio" in path


def _shown(path: str, value: Any) -> str:
    """A stored value as it is typed: shares in per cent, lists with commas, nothing for not known."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(words_of(one) if path in SEVERAL else str(one) for one in value)
    if _is_share(path):
        try:
            share = Decimal(str(value)) * 100
        except InvalidOperation:
            return str(value)
        text = f"{share:f}"
        return text.rstrip("0").rstrip(".") if "." in text else text
    return str(value)


def _stored(path: str, text: str, like: Any) -> Any:
    """What was typed as it is stored, of the kind of the value that stood there. Raises ValueError in words."""
    if text == _shown(path, like):
        return like
    if isinstance(like, list):
        return ["_".join(one.split()) if path in SEVERAL else one.strip() for one in text.split(",") if one.strip()]
    if _is_share(path):
        try:
            share = Decimal(text.replace("%", "").strip()) / 100
        except InvalidOperation as fault:
            raise ValueError(f"“{text}” is no number; write per cent like 12.5") from fault
        if not share.is_finite():
            raise ValueError(f"“{text}” is no number; write per cent like 12.5")
        return f"{share:f}" if isinstance(like, str) or like is None else float(share)
    if isinstance(like, bool):
        return text.strip().lower() == "yes"
    if isinstance(like, int) or (like is None and re.fullmatch(r"-?\d{1,9}", text)):
        if text == "":
            return None
        if not re.fullmatch(r"-?\d{1,9}", text):
            raise ValueError(f"“{text}” is no whole number")
        return int(text)
    if isinstance(like, float):
        try:
            return float(text)
        except ValueError as fault:
            raise ValueError(f"“{text}” is no number") from fault
    return None if text == "" and like is None else text


# --- from the page back ----------------------------------------------------------------------------------------------


def edited(sheet: Sheet, form: Mapping[str, str]) -> Sheet:
    """The table as it was typed: rows that the form shows, with those ticked taken out and new ones at the end."""
    rows: list[Row] = []
    gone: list[str] = []
    for row in [*sheet.rows, *sheet.new_rows()]:
        shown = f"{row.place}.shown" in form
        cells = [
            form.get(f"{row.place}.{number}", held).replace("\r\n", "\n").strip()
            if shown and not column.fixed
            else held
            for number, (column, held) in enumerate(zip(sheet.columns, row.cells, strict=True))
        ]
        new = row.place.startswith("new")
        if shown and form.get(f"{row.place}.away") == "yes":
            gone.append(row.place)
            continue
        if new and not any(_typed(sheet, cells)):
            continue
        rows.append(Row(row.place, cells, was=row.was))
    return replace(sheet, rows=rows, gone=gone)


def _mark(sheet: Sheet, cells: Sequence[str]) -> str:
    """A short mark of what may be typed of a row."""
    typed = [cell for column, cell in zip(sheet.columns, cells, strict=True) if not column.fixed]
    return hashlib.sha256("\x1f".join(typed).encode()).hexdigest()[:12]


def _counterpart(sheet: Sheet, changed: Sequence[Row], place: str, form: Mapping[str, str]) -> Row | None:
    """The row, of those that others changed, that is most like one of the form; none where less than half is alike."""

    def alike(row: Row) -> float:
        same = [
            row.place == place if column.fixed else form.get(f"{place}.{number}", "").strip() == cell
            for number, (column, cell) in enumerate(zip(sheet.columns, row.cells, strict=True))
        ]
        return sum(same) / len(same)

    best = max(changed, key=lambda row: (alike(row), row.place == place), default=None)
    return best if best is not None and alike(best) >= 0.5 else None


def laid_over(sheet: Sheet, form: Mapping[str, str]) -> Sheet:
    """The table as it stands now with what was typed into an older form of it, nothing of either lost.

    A row that nobody else touched takes what was typed. Where somebody else changed it too, what was typed stands in
    the cells and the reason beside it names what stands now. Rows that only the others changed are as they left them.
    """
    rows = [replace(row) for row in sheet.rows]
    by_mark = {row.was: row for row in rows}
    known = {value for name, value in form.items() if name.endswith(".was")}
    changed = [row for row in rows if row.was not in known]
    new: list[Row] = []
    for place in dict.fromkeys(name.partition(".")[0] for name in form if name.endswith(".shown")):
        was = form.get(f"{place}.was", "")
        stands = by_mark.get(was) or _counterpart(sheet, changed, place, form) if was else None
        held = stands.cells if stands is not None else [""] * len(sheet.columns)
        typed = [
            cell if column.fixed else form.get(f"{place}.{number}", cell).replace("\r\n", "\n").strip()
            for number, (column, cell) in enumerate(zip(sheet.columns, held, strict=True))
        ]
        away = form.get(f"{place}.away") == "yes"
        if was and _mark(sheet, typed) == was and not away:
            continue
        if stands is None:
            if away or not any(_typed(sheet, typed)):
                continue
            fault = "somebody else deleted this row meanwhile; saving puts it in again" if was else NOT_YET
            new.append(Row(f"new{len(new)}", typed, fault))
            continue
        if away:
            stands.fault = "you had ticked this to be deleted; it is not deleted yet, tick it again"
            continue
        others = [
            f"{column.heading} {now or 'empty'}"
            for column, now, mine in zip(sheet.columns, stands.cells, typed, strict=True)
            if now != mine
        ]
        stands.fault = NOT_YET if stands.was == was else f"somebody else saved meanwhile: {', '.join(others)}"
        stands.cells = typed
    return replace(sheet, rows=[*rows, *new])


def _typed(sheet: Sheet, cells: Sequence[str]) -> Iterator[str]:
    """Cells that somebody wrote into: a choice alone makes no new line."""
    return (cell for column, cell in zip(sheet.columns, cells, strict=True) if not column.options)


def with_sheet(content: Content, sheet: Sheet) -> Content:
    """The content with one table as typed. Raises NotTaken with the reason beside each row."""
    value = content[sheet.table]
    names = [column.field for column in sheet.columns]
    if isinstance(value, list):
        rows = [
            {name: _written(sheet.table, name, cell) for name, cell in zip(names, row.cells, strict=True)}
            for row in sheet.rows
        ]  # fmt: skip
        return content | {sheet.table: rows}
    path = sheet.key.partition(":")[2]
    return content | {sheet.table: _with_singles(value, sheet) if path == "" else _with_register(value, path, sheet)}


def _with_singles(document: Mapping[str, Any], sheet: Sheet) -> dict[str, Any]:
    changed: dict[str, Any] = _copied(document)
    faults: dict[int, str] = {}
    for place, ((path, held), row) in enumerate(zip(_singles_in_order(document), sheet.rows, strict=True)):
        try:
            _put(changed, path, _stored(path, row.cells[1], held))
        except ValueError as fault:
            faults[place] = str(fault)
    if faults:
        raise NotTaken(faults)
    return changed


def _with_register(document: Mapping[str, Any], path: str, sheet: Sheet) -> dict[str, Any]:
    held = next(value for full, value in _registers(document) if full == path)
    names = [column.field for column in sheet.columns]
    members = _members(held)
    first = members[0][1]
    faults: dict[int, str] = {}
    kept: list[tuple[str, Any]] = []
    for place, row in enumerate(sheet.rows):
        old = members[int(row.place)][1] if row.place.isdigit() else None
        try:
            inner = {
                name: _stored(
                    f"{path}.value" if name == "value" else name, cell, _inner(old if old is not None else first, name)
                )
                for name, cell in zip(names, row.cells, strict=True)
                if name != ""
            }
        except ValueError as fault:
            faults[place] = str(fault)
            continue
        key = row.cells[names.index("")] if "" in names else ""
        if "" in names and (not key or key in [name for name, _ in kept]):
            faults[place] = "give it a name of its own" if not key else f"{key} stands twice"
        kept.append((key, inner if isinstance(first, dict) else inner["value"]))
    if faults:
        raise NotTaken(faults)
    changed: dict[str, Any] = _copied(document)
    _put(changed, path, [value for _, value in kept] if isinstance(held, list) else dict(kept))
    return changed


def _copied(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {name: _copied(inner) for name, inner in value.items()}
    return [_copied(one) for one in value] if isinstance(value, list) else value


def _put(document: dict[str, Any], path: str, value: Any) -> None:
    *before, last = path.split(".")
    node = document
    for name in before:
        node = node[name]
    node[last] = value


def with_fault(sheet: Sheet, detail: str) -> Sheet:
    """The table with the reason of a refusal beside the row that it names, or above the table."""
    row = _row_named(sheet, detail)
    if row is None:
        sheet.fault = detail
    else:
        row.fault = _in_words(sheet, detail)
    return sheet


def _in_words(sheet: Sheet, detail: str) -> str:
    """A refusal without the places that stand beside it anyway; shares in per cent, as they are typed."""
    if _ROW.search(detail.partition(":")[0]):
        return detail.partition(": ")[2] or detail
    reason = detail.rpartition(": ")[2]
    name, is_, rest = reason.partition(" is ")
    path = f"{detail.removesuffix(reason).rstrip(': ').rpartition(': ')[2]}.{name}"
    share = _is_share(name) or (sheet.columns[-1].field == "value" and sheet.columns[-1].heading.endswith("%"))
    if share:
        rest = _NUMBER.sub(lambda found: f"{_shown('_ratio', found[0])} %", rest)
    words = SINGLES.get(path) or SINGLES.get(name) or HEADINGS.get(name) or words_of(name)
    return f"{words}{is_}{rest}"


def _row_named(sheet: Sheet, detail: str) -> Row | None:
    number = _ROW.search(detail.partition(":")[0])
    if number is not None and ":" not in sheet.key:
        # A file's first row holds the headings, so its row 2 is the first of the table.
        place = int(number[1]) - 2
        return sheet.rows[place] if 0 <= place < len(sheet.rows) else None
    month = re.search(r"\bmonth (\d+)\b", detail)
    if month is not None and sheet.columns[0].fixed and 0 < int(month[1]) <= len(sheet.rows):
        return sheet.rows[int(month[1]) - 1]
    said = re.split(r"[:.,;\s]+", detail.removeprefix("rates.json").removeprefix("labour.json"))
    for row, path in zip(sheet.rows, _row_paths(sheet), strict=True):
        if all(step in said for step in path):
            return row
    return None


def _row_paths(sheet: Sheet) -> list[list[str]]:
    """By which words a refusal names each row of a document's table."""
    if sheet.key.endswith(":"):
        words = {shown: path for path, shown in SINGLES.items()}
        return [words.get(row.cells[0].removesuffix(", %"), row.cells[0]).split(".") for row in sheet.rows]
    last = sheet.key.rpartition(".")[2].rpartition(":")[2]
    return [[row.cells[0]] if last in KEYED | {"provisional_sums"} else [last, row.cells[0]] for row in sheet.rows]
