"""The bill of a sealed quote as CSV for the books: goods, work, VAT by stage, payments, and a row of sums.

Every amount stands in one column of one row, so that the rows above the last add up, column by column, to the last.
Amounts are pounds with two places; a credit and a discount are below nothing. Costs are not in it, and no customer.
"""

import csv
import io
from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

from models.catalogue.imports import safe_cell

Document = Mapping[str, Any]

COLUMNS = (
    "quote_number", "row", "group", "sku", "description", "unit", "used", "bought", "charged", "unit_sell_gbp",
    "sell_gbp", "vat_class", "vat_rate_ratio", "sales_nominal", "stage", "tax_point_on", "stage_net_gbp", "vat_gbp",
    "stage_total_gbp", "grant_gbp", "customer_pays_gbp",
)  # fmt: skip
ADDED_UP = {
    "sell_gbp": "net_pence",
    "stage_net_gbp": "net_pence",
    "vat_gbp": "vat_pence",
    "stage_total_gbp": "total_pence",
    "grant_gbp": "grant_pence",
    "customer_pays_gbp": "customer_pays_pence",
}
"""Columns of amounts, and the amount of the price that each adds up to."""
ALL_STAGES = "all"
BY_STAGE = "by stage"


def bill_csv(document: Document) -> bytes:
    """The bill and price of a sealed document as a CSV file in UTF-8 with a byte-order mark.

    Raises ValueError where the rows do not add up to the price: such a file would be wrong for good.
    """
    rows = [*_goods(document), *_work(document["price"]), *_stages(document["price"])]
    sums = {name: sum((Decimal(row[name]) for row in rows if name in row), Decimal(0)) for name in ADDED_UP}
    wrong = [name for name, amount in ADDED_UP.items() if sums[name] * 100 != document["price"][amount]]
    if wrong:
        raise ValueError(f"the rows of the bill do not add up to the price in {', '.join(wrong)}")
    rows.append({"row": "sum", "description": "Sum of the rows above", **{k: f"{v:.2f}" for k, v in sums.items()}})
    number = document["quote"]["number"]
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, COLUMNS, restval="", lineterminator="\r\n")
    writer.writeheader()
    for row in rows:
        writer.writerow({name: safe_cell(cell) for name, cell in {"quote_number": number, **row}.items()})
    return b"\xef\xbb\xbf" + out.getvalue().encode()


def _goods(document: Document) -> Iterator[dict[str, str]]:
    rates = _rates(document["price"])
    for line in document["bill"]["lines"]:
        yield {
            "row": "goods",
            **{name: str(line[name]) for name in ("group", "sku", "description", "unit", "used", "bought", "charged")},
            **_charge(line, rates),
        }


def _work(price: Document) -> Iterator[dict[str, str]]:
    rates = _rates(price)
    for part in price["parts"]:
        row = "discount" if part["code"] == "discount" else "work"
        yield {
            "row": row,
            "sku": part["code"],
            "description": part["description"],
            "unit": part["unit"],
            "charged": part["quantity"],
            **_charge(part, rates),
        }


def _charge(line: Document, rates: Mapping[str, str]) -> dict[str, str]:
    """What is charged for a line. It is paid in parts over all stages; its rate stands here where all have the same."""
    return {
        "unit_sell_gbp": str(line["unit_sell_gbp"]),
        "sell_gbp": gbp(line["sell_pence"]),
        "vat_class": line["vat_class"],
        "vat_rate_ratio": rates.get(line["vat_class"], BY_STAGE),
        "sales_nominal": str(line["sales_nominal"]),
        "stage": ALL_STAGES,
    }


def _rates(price: Document) -> dict[str, str]:
    """The rate of each VAT class that has one and the same in every stage."""
    found: dict[str, set[str]] = {}
    for line in price["vat"]:
        found.setdefault(line["vat_class"], set()).add(str(line["rate_ratio"]))
    return {vat_class: next(iter(rates)) for vat_class, rates in found.items() if len(rates) == 1}


def _stages(price: Document) -> Iterator[dict[str, str]]:
    """The net and VAT of each stage by class and rate, then what is paid at each stage and what the grant pays."""
    for stage in price["stages"]:
        for line in stage["vat"]:
            yield {
                "row": "vat",
                "description": f"VAT, {stage['name']}",
                "vat_class": line["vat_class"],
                "vat_rate_ratio": str(line["rate_ratio"]),
                "stage": stage["name"],
                "tax_point_on": stage["tax_point_on"],
                "stage_net_gbp": gbp(line["net_pence"]),
                "vat_gbp": gbp(line["vat_pence"]),
            }
    for stage in price["stages"]:
        yield {
            "row": "payment",
            "description": f"{stage['name']}, {stage['due']}",
            "stage": stage["name"],
            "tax_point_on": stage["tax_point_on"],
            "stage_total_gbp": gbp(stage["total_pence"]),
            "grant_gbp": gbp(stage["grant_pence"]),
            "customer_pays_gbp": gbp(stage["customer_pays_pence"]),
        }


def gbp(pence: int) -> str:
    """Whole pence as pounds with two places and nothing else, for files that machines read."""
    return f"{Decimal(pence).scaleb(-2):.2f}"
