"""The firm's record as the fields of a form, and back."""

import json
from collections.abc import Mapping
from typing import Any

from models.firm import ENTRIES, OF_BANK, REGISTERED_IN

SPARE_ROWS = 3
"""Empty rows for further registrations."""
PLAIN = tuple(name for name in ENTRIES if name not in ("address", "registrations", "bank"))
"""The entries that are one text each."""
LABELS: Mapping[str, tuple[str, str]] = {
    "name": ("Name of the firm", "as it is registered; a sole trader's own name with the trading name"),
    "address": ("Address, a line each", "of a company, its registered office"),
    "postcode": ("Postcode", ""),
    "telephone": ("Telephone", ""),
    "email": ("E-mail", "where a customer may cancel"),
    "company_number": ("Company number", "8 characters; empty for a sole trader"),
    "registered_in": ("Registered in", ""),
    "vat_number": ("VAT number", "GB and 9 figures; empty if not registered"),
    "bank.account_name": ("Name on the account", ""),
    "bank.sort_code": ("Sort code", "6 figures"),
    "bank.account_number": ("Account number", "8 figures"),
}
OPTIONS: Mapping[str, tuple[str, ...]] = {"registered_in": ("", *REGISTERED_IN)}
KEYBOARDS: Mapping[str, str] = {
    "telephone": "tel", "email": "email", "bank.sort_code": "numeric", "bank.account_number": "numeric",
}  # fmt: skip


def fields_of(record: Mapping[str, Any]) -> dict[str, str]:
    """The fields of a record; what is not there is empty."""
    fields = {name: record.get(name) or "" for name in PLAIN}
    fields["address"] = "\n".join(record.get("address") or ())
    for place, one in enumerate(record.get("registrations") or ()):
        fields |= {f"registrations.{place}.{name}": one[name] for name in ("scheme", "number")}
    bank = record.get("bank") or {}
    return fields | {f"bank.{name}": bank.get(name) or "" for name in OF_BANK}


def record_of(form: Mapping[str, str]) -> dict[str, Any]:
    """The record that a form holds. Rows of registrations that are wholly empty are left out."""
    record: dict[str, Any] = {name: form.get(name, "").strip() or None for name in PLAIN}
    record["address"] = [line.strip() for line in form.get("address", "").splitlines() if line.strip()]
    rows = [
        {name: form.get(f"registrations.{place}.{name}", "").strip() for name in ("scheme", "number")}
        for place in range(rows_in(form))
    ]
    record["registrations"] = [row for row in rows if any(row.values())]
    bank = {name: form.get(f"bank.{name}", "").strip() for name in OF_BANK}
    record["bank"] = bank if any(bank.values()) else None
    return record


def firm_laid_over(typed: Mapping[str, str], opened: Mapping[str, str], stands: Mapping[str, str]) -> dict[str, str]:
    """What somebody typed over what stands now: their own changes, and else what another saved meanwhile.

    The registrations count as one, since their rows move.
    """

    def rows(fields: Mapping[str, str]) -> dict[str, str]:
        return {name: value for name, value in fields.items() if name.startswith("registrations.")}

    single = {name for name in (*typed, *stands) if not name.startswith("registrations.")}
    fields = {
        name: (typed if typed.get(name, "") != opened.get(name, "") else stands).get(name, "") for name in single
    }  # fmt: skip
    return fields | rows(typed if rows(typed) != rows(opened) else stands)


def opened_as(text: str) -> dict[str, str]:
    """The fields that a form was opened with, from what it carried along; none where that is no such text."""
    try:
        found = json.loads(text)
    except ValueError:
        return {}
    whole = isinstance(found, dict) and all(isinstance(value, str) for value in found.values())
    return found if whole else {}


def rows_in(fields: Mapping[str, str]) -> int:
    """How many rows of registrations a form has."""
    places = [name.split(".")[1] for name in fields if name.startswith("registrations.")]
    return 1 + max((int(place) for place in places if place.isdecimal() and len(place) < 4), default=-1)
