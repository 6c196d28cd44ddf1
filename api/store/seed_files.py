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
from models.catalogue.prices import price_lines_from_rows
from models.labour.tasks import labour_rules
from models.pricing.rates import rates_from
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


def rules_from_folder(folder: Path = SEED_FOLDER) -> Rules:
    """Everything that an estimate needs besides survey and choices, from a folder of seed files."""
    record = json.loads((folder / "rates.json").read_text("utf-8"))
    rates = rates_from(record)
    catalogue = catalogue_from_folder(folder)
    price_list = PriceList.of(
        _version(folder), rates.valid_from, price_lines_from_rows(rows_of(folder / "price_list.csv"))
    )
    recipes = recipes_from_rows(rows_of(folder / "recipes.csv"), price_list)
    labour = labour_rules(
        rows_of(folder / "labour_tasks.csv"),
        rows_of(folder / "task_hours.csv"),
        rows_of(folder / "task_order.csv"),
        rows_of(folder / "task_factors.csv"),
        json.loads((folder / "labour.json").read_text("utf-8")),
    )
    return Rules(
        version=_version(folder),
        reference=load(),
        place=load_place(),
        money=load_money_rules(),
        catalogue=catalogue,
        price_list=price_list,
        recipes=recipes,
        labour=labour,
        rates=rates,
        bank_holidays=_bank_holidays(folder),
        offers=offers_of(catalogue=catalogue, price_list=price_list, recipes=recipes, labour=labour, rates=rates),
        waiting=_waiting_times(folder),
    )


def _bank_holidays(folder: Path) -> dict[str, frozenset[date]]:
    days: dict[str, set[date]] = defaultdict(set)
    for row in rows_of(folder / "bank_holidays.csv"):
        days[row["nation"]].add(date.fromisoformat(row["on"]))
    return {nation: frozenset(found) for nation, found in days.items()}


def _waiting_times(folder: Path) -> WaitingTimes:
    record = json.loads((folder / "waiting_times.json").read_text("utf-8"))
    record.pop("note", None)
    try:
        return WaitingTimes(**record)
    except TypeError as fault:
        raise BrokenSeed(f"waiting_times.json: {fault}") from fault


def _version(folder: Path) -> str:
    digest = hashlib.sha256()
    for path in sorted(folder.glob("*.csv")) + sorted(folder.glob("*.json")):
        digest.update(path.name.encode() + b"\0" + path.read_bytes() + b"\0")
    return f"seed-{digest.hexdigest()[:12]}"


def demo_households(folder: Path = SEED_FOLDER) -> list[dict[str, Any]]:
    """The invented households as {survey, choices} records."""
    return [json.loads((folder / "households" / f"{name}.json").read_text("utf-8")) for name in HOUSEHOLDS]
