"""Reads the folder of files that the firm may edit into `Rules`. A broken row is refused with file, row and reason."""

import csv
import hashlib
import json
from collections import defaultdict
from datetime import date
from pathlib import Path
from typing import Any

from pydantic import ValidationError

import seed_data
from models.catalogue import Catalogue, PriceList
from models.catalogue.prices import RefusedRow, price_lines_from_rows
from models.firm import DEMO, FIRM_FILE, firm_from
from models.labour.sheets import FIRST_USED_FILE
from models.labour.tasks import labour_rules
from models.pricing.rates import Rates, rates_from
from models.reference import load
from models.reference.money_rules import load_money_rules
from models.reference.place import load_place
from models.rules import Rules, WaitingTimes, offers_of
from models.takeoff.bill import recipes_from_rows

SEED_FOLDER = Path(seed_data.__file__).parent
HOUSEHOLDS = ("alder_row", "thornlea", "weir_cottages")
_TABLES = ("cylinders", "emitters", "cables", "vessels", "pipe_insulation", "volumisers")


class BrokenSeed(ValueError):
    """A seed file that cannot be used: says which file, which row and why."""


def rows_of(path: Path) -> list[dict[str, str]]:
    """The rows of a CSV file with a heading line, cells stripped. Raises BrokenSeed on ragged rows."""
    with path.open(newline="", encoding="utf-8-sig") as file:
        rows = list(csv.DictReader(file))
    for number, row in enumerate(rows, 2):
        if None in row or None in row.values():
            raise BrokenSeed(f"{path.name}, row {number}: as many cells as headings are needed")
    return [{key: value.strip() for key, value in row.items()} for row in rows]


def catalogue_from_folder(folder: Path) -> Catalogue:
    """The catalogue of a seed folder. Raises BrokenSeed naming file, row and field."""
    record: dict[str, Any] = {"outdoor_units": json.loads((folder / "outdoor_units.json").read_text("utf-8"))}
    record |= {table: rows_of(folder / f"{table}.csv") for table in _TABLES}
    try:
        return Catalogue.model_validate(record)
    except ValidationError as fault:
        first = fault.errors()[0]
        table, row, *field = first["loc"]
        place = f"row {int(row) + 2}" if table in _TABLES else f"unit {int(row) + 1}"
        raise BrokenSeed(f"{table}, {place}, {'.'.join(map(str, field))}: {first['msg']}") from fault


FIRM = "firm"
"""The kind of rules that says who makes the offers: one record, which a folder of files may lack."""
TABLES_OF_KIND: dict[str, dict[str, str]] = {
    "recipes": {"recipes": "recipes.csv"},
    "labour_tasks": {
        "tasks": "labour_tasks.csv",
        "hours": "task_hours.csv",
        "order": "task_order.csv",
        "factors": "task_factors.csv",
        "first_used": FIRST_USED_FILE,
    },
    "rates": {"rates": "rates.json"},
    "stage_plans": {"stages": "rates.json"},
    "crews": {"crews": "labour.json"},
    "calendars": {"bank_holidays": "bank_holidays.csv", "waiting_times": "waiting_times.json"},
    FIRM: {FIRM: FIRM_FILE},
}
"""The kinds of rules that the firm edits, each with its tables and the file that each table is seeded from."""
LATER_TABLES = frozenset({"first_used"})
"""Tables that versions stored by an earlier release do not have; the firm's files stand in for them."""
Content = dict[str, Any]
"""One kind of rules: by table its rows of text, or its document. The stages of payment are a kind of their own."""
NO_FIRM: Content = {FIRM: {}}


def contents_of_folder(folder: Path = SEED_FOLDER) -> dict[str, Content]:
    """The content of each kind of rules as it stands in a folder of seed files."""
    contents: dict[str, Content] = {}
    for kind, tables in TABLES_OF_KIND.items():
        contents[kind] = {
            table: rows_of(folder / file) if file.endswith(".csv") else json.loads((folder / file).read_text("utf-8"))
            for table, file in tables.items()
            if kind != FIRM or (folder / file).exists()
        }
    contents["stage_plans"]["stages"] = contents["rates"]["rates"].pop("stages")
    contents[FIRM] = contents[FIRM] or NO_FIRM
    return contents


def without_demo_firm(contents: dict[str, Content]) -> dict[str, Content]:
    """The contents as a service starts with them: an invented firm makes nobody an offer."""
    return contents | {FIRM: NO_FIRM} if contents[FIRM][FIRM].get(DEMO) else contents


def rules_from_folder(folder: Path = SEED_FOLDER) -> Rules:
    """Everything that an estimate needs besides survey and choices, from a folder of seed files."""
    contents = contents_of_folder(folder)
    rates = _rates(contents)
    version = _version(folder)
    price_list = PriceList.of(version, rates.valid_from, price_lines_from_rows(rows_of(folder / "price_list.csv")))
    return rules_from_contents(
        contents, version=version, catalogue=catalogue_from_folder(folder), price_list=price_list, check_listed=True
    )


def rules_from_contents(
    contents: dict[str, Content],
    *,
    version: str,
    catalogue: Catalogue,
    price_list: PriceList,
    check_listed: bool,
    on: date | None = None,
    versions: dict[str, str] | None = None,
) -> Rules:
    """Everything that an estimate needs, from the content of each kind of rules, a catalogue and a price list.

    With `check_listed`, recipes may name only what the list holds. With `on`, only what is sold then is offered.
    Raises ValueError that names file, row or entry, and the reason.
    """
    rates = _rates(contents)
    recipes = recipes_from_rows(contents["recipes"]["recipes"], price_list if check_listed else None)
    tasks = contents["labour_tasks"]
    labour = labour_rules(
        tasks["tasks"], tasks["hours"], tasks["order"], tasks["factors"], contents["crews"]["crews"]
    )
    return Rules(
        version=version,
        reference=load(),
        place=load_place(),
        money=load_money_rules(),
        catalogue=catalogue,
        price_list=price_list,
        recipes=recipes,
        labour=labour,
        rates=rates,
        bank_holidays=_bank_holidays(contents["calendars"]["bank_holidays"]),
        offers=offers_of(
            catalogue=catalogue, price_list=price_list, recipes=recipes, labour=labour, rates=rates, on=on
        ),
        waiting=_waiting_times(contents["calendars"]["waiting_times"]),
        versions=versions or {},
        firm=firm_from(contents[FIRM][FIRM]),
    )


def _rates(contents: dict[str, Content]) -> Rates:
    return rates_from({**contents["rates"]["rates"], "stages": contents["stage_plans"]["stages"]})


def _bank_holidays(rows: list[dict[str, str]]) -> dict[str, frozenset[date]]:
    days: dict[str, set[date]] = defaultdict(set)
    for number, row in enumerate(rows, 2):
        try:
            days[row["nation"]].add(date.fromisoformat(row["on"]))
        except KeyError as fault:
            raise RefusedRow("bank_holidays.csv", number, f"there is no column {fault.args[0]}") from fault
        except ValueError as fault:
            raise RefusedRow("bank_holidays.csv", number, f"on {row['on']!r} is no date like 2026-05-04") from fault
    return {nation: frozenset(found) for nation, found in days.items()}


def _waiting_times(document: dict[str, Any]) -> WaitingTimes:
    record = {name: value for name, value in document.items() if name != "note"}
    for name, value in record.items():
        if value is not None and (not isinstance(value, int) or isinstance(value, bool) or not 0 <= value <= 730):
            raise BrokenSeed(f"waiting_times.json: {name} is whole days from 0 to 730 or null, not {value!r}")
    try:
        return WaitingTimes(**record)
    except TypeError as fault:
        raise BrokenSeed(f"waiting_times.json: {fault}") from fault


def _version(folder: Path) -> str:
    """The version of the files that figures rest on."""
    digest = hashlib.sha256()
    for path in sorted(folder.glob("*.csv")) + sorted(folder.glob("*.json")):
        if path.name == FIRM_FILE:
            continue
        digest.update(path.name.encode() + b"\0" + path.read_bytes() + b"\0")
    return f"seed-{digest.hexdigest()[:12]}"


def demo_households(folder: Path = SEED_FOLDER) -> list[dict[str, Any]]:
    """The invented households as {survey, choices} records."""
    return [json.loads((folder / "households" / f"{name}.json").read_text("utf-8")) for name in HOUSEHOLDS]
