"""Why each figure of an estimate is what it is: formula in words, the numbers used, the source, how inputs are known.

Built on request only. Paths are those of the document, with ids, SKUs and codes in place of places in lists. What shows
cost or margin stands in entries and keys that `models.document.without_cost` takes out.
"""

from collections.abc import Iterator

from models.estimate import Estimate
from models.why import emitters, house, machine, money, place, supply, tables, water, year
from models.why.entry import Entry
from models.why.money import Money


def money_why_document(drafted: Money) -> dict[str, Entry]:
    """The figures of bill and price alone by their paths, as in `why_document`."""
    return {entry["path"]: entry for entry in money.of_bill_and_price(drafted)}


def why_document(estimate: Estimate) -> dict[str, Entry]:
    """Every figure of an estimate by its path: {path, sentence, formula, numbers, source, standing, inputs}.

    `numbers` are {name, value, unit}, `inputs` {what, value, unit, known} with known measured, plate, told or assumed.
    Entries whose path ends in a key of cost, and the key `cost_why` of others, are for those who may see cost.
    """
    made: dict[str, Entry] = {}
    for entry in _entries(estimate):
        # What stands in a table has its own, shorter reason after all others.
        made.setdefault(entry["path"], entry)
    return made


def _entries(estimate: Estimate) -> Iterator[Entry]:
    for part in (house, emitters, machine, water, place, supply, year, tables, money):
        yield from part.entries(estimate)
