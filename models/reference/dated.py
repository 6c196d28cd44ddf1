"""Values that hold from a date: tax rates, grants, planning rules. Each value carries its own source.

"none" says that there is no such limit, "not_known" that nobody has confirmed the value; an open end is an absent
`to`.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from models.findings import Finding
from models.reference.load import BrokenTable, read_json
from models.sources import Source

NONE = "none"
NOT_KNOWN = "not_known"


class NotYetInForce(ValueError):
    """Asked for a value before its first date: names the value and that date."""

    def __init__(self, name: str, on: date, first: date) -> None:
        super().__init__(f"{name} has no value on {on:%d %B %Y}; its first is from {first:%d %B %Y}")
        self.name = name
        self.on = on
        self.first = first


@dataclass(frozen=True, slots=True)
class DatedValue:
    """One value from a date to a date, both included. `review_by` is when somebody should read the source again."""

    name: str
    from_: date
    to: date | None
    value: Any
    unit: str
    source: Source
    review_by: date | None

    def review_finding(self, on: date) -> Finding | None:
        """A note where the value is used after its review date; it still works."""
        if self.review_by is None or on <= self.review_by:
            return None
        return Finding(
            "reference_value_due_for_review",
            "note",
            self.name,
            f"the value from {self.from_:%d %B %Y} was to be reviewed by {self.review_by:%d %B %Y}",
            str(self.source),
            "read the source again and set a new review date",
        )


@dataclass(frozen=True, slots=True)
class Dated:
    """A named series of dated values in order of date, without overlaps."""

    name: str
    values: tuple[DatedValue, ...]

    def at(self, on: date) -> DatedValue:
        """The value in force on a date. Raises NotYetInForce before the first date or in a gap."""
        for value in reversed(self.values):
            if value.from_ <= on and (value.to is None or on <= value.to):
                return value
        first = self.values[0].from_
        raise NotYetInForce(self.name, on, first)


def read_dated(file: str) -> Mapping[str, Dated]:
    """The dated series of one data file by name. Raises BrokenTable with file, name and reason."""
    return {name: _series(file, name, series) for name, series in read_json(file).items()}


def _series(file: str, name: str, series: Mapping[str, Any]) -> Dated:
    values: list[DatedValue] = []
    for record in series["values"]:
        try:
            source = record["source"]
            value = DatedValue(
                name=name,
                from_=date.fromisoformat(record["from"]),
                to=date.fromisoformat(record["to"]) if "to" in record else None,
                value=record["value"],
                unit=series["unit"],
                source=Source(
                    source["document"],
                    source.get("clause", ""),
                    source["standing"],
                    date.fromisoformat(record["read_on"]) if "read_on" in record else None,
                ),
                review_by=date.fromisoformat(record["review_by"]) if "review_by" in record else None,
            )
        except (KeyError, TypeError, ValueError) as fault:
            raise BrokenTable(f"{file}: {name}: {fault!r} in {record!r}") from fault
        if values and (values[-1].to is None or values[-1].to >= value.from_):
            raise BrokenTable(f"{file}: {name}: the value from {value.from_} begins before the one before it ends")
        values.append(value)
    if not values:
        raise BrokenTable(f"{file}: {name}: has no values")
    return Dated(name, tuple(values))
