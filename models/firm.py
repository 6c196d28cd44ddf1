"""Who makes the offer: the firm's name, address and registrations, as they stand on every paper for the customer.

Pure: the record is read from its document, every fault of it is said at once, and nothing is made up.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from models.findings import Finding
from models.sources import Source

FIRM_FILE = "firm.json"
DEMO = "demo"
"""The entry that marks an invented firm: it is shown, and never put in force but by a demo."""
WHERE = "the firm"
SOURCE = Source(
    "Consumer Contracts (Information, Cancellation and Additional Charges) Regulations 2013",
    "regulation 10, schedule 2 (b) and (c)",
    "from memory",
)
VAT_SOURCE = Source("Value Added Tax Regulations 1995", "regulation 14", "from memory")
REGISTERED_IN = ("England and Wales", "Wales", "Scotland", "Northern Ireland")
"""Where a company may be registered: the parts that the trading disclosures name."""
VAT_WEIGHTS = (8, 7, 6, 5, 4, 3, 2)
_MOST_LINES, _MOST_REGISTRATIONS = 6, 20
_POSTCODE = re.compile(r"[A-Z]{1,2}[0-9][A-Z0-9]?[0-9][A-Z]{2}")
_EMAIL = re.compile(r"[^@\s<>\"(),:;\[\]\\]{1,64}@(?:[A-Za-z0-9](?:[A-Za-z0-9-]*[A-Za-z0-9])?\.)+[A-Za-z]{2,}")
_TELEPHONE = re.compile(r"(?:\+44|0)[1-9][0-9]{8,9}")
_COMPANY = re.compile(r"[0-9]{8}|[A-Z][A-Z0-9][0-9]{5}[0-9R]")
_REGISTER_OF = {
    "SC": "Scotland", "SO": "Scotland", "SL": "Scotland", "NI": "Northern Ireland", "NC": "Northern Ireland",
    "NL": "Northern Ireland", "R0": "Northern Ireland",
}  # fmt: skip
"""Which register the letters before a company's number stand for; figures alone are England and Wales."""


@dataclass(frozen=True, slots=True)
class Registration:
    """A scheme or register that the firm belongs to, and its number there."""

    scheme: str
    number: str


@dataclass(frozen=True, slots=True)
class BankAccount:
    """Where payments go. Sort code and account number are figures only."""

    account_name: str
    sort_code: str
    account_number: str


@dataclass(frozen=True, slots=True)
class Firm:
    """The trader of every offer. Of a company, the address is its registered office."""

    name: str
    address: tuple[str, ...]
    postcode: str
    telephone: str
    email: str
    company_number: str | None = None
    registered_in: str | None = None
    vat_number: str | None = None
    registrations: tuple[Registration, ...] = ()
    bank: BankAccount | None = None


ENTRIES = tuple(Firm.__dataclass_fields__)
OF_BANK = tuple(BankAccount.__dataclass_fields__)
_BESIDE = frozenset({"note", DEMO})


class RefusedFirm(ValueError):
    """A record that cannot be right; `faults` says why, by entry: "vat_number", "registrations.0", "bank.sort_code"."""

    def __init__(self, faults: Mapping[str, str]) -> None:
        super().__init__("; ".join(f"{entry}: {reason}" for entry, reason in faults.items()))
        self.file = FIRM_FILE
        self.faults = dict(faults)


def firm_from(document: Mapping[str, Any]) -> Firm | None:
    """The firm of a record, in one way of writing; None for a record without entries. Raises RefusedFirm."""
    if not any(name not in _BESIDE for name in document):
        return None
    read = _Reader(document)
    firm = Firm(
        name=read.text("name", 120, "the firm's name is needed"),
        address=read.lines(),
        postcode=read.formed("postcode", _postcode, needed="the postcode is needed") or "",
        telephone=read.formed("telephone", _telephone, needed="a telephone number is needed") or "",
        email=read.formed("email", _email, needed="an e-mail address is needed") or "",
        company_number=read.formed("company_number", _company_number),
        registered_in=read.formed("registered_in", _registered_in),
        vat_number=read.formed("vat_number", vat_number),
        registrations=read.registrations(),
        bank=read.bank(),
    )
    read.together(firm)
    for name in document:
        if name not in ENTRIES and name not in _BESIDE:
            read.faults[str(name)[:40]] = f"there is no such entry; they are {', '.join(ENTRIES)}"
    if read.faults:
        raise RefusedFirm(read.faults)
    return firm


def firm_document(firm: Firm | None) -> dict[str, Any] | None:
    """The block of an answer, and the record in one way of writing."""
    if firm is None:
        return None
    document: dict[str, Any] = {name: getattr(firm, name) for name in ENTRIES}
    return document | {
        "address": list(firm.address),
        "registrations": [{"scheme": one.scheme, "number": one.number} for one in firm.registrations],
        "bank": None if firm.bank is None else {name: getattr(firm.bank, name) for name in OF_BANK},
    }


def firm_findings(firm: Mapping[str, Any] | None, *, vat_pence: int | None) -> tuple[Finding, ...]:
    """What stands against an offer that does not say who makes it; `firm` is the block of the answer.

    An offer that names no trader binds nobody and cannot be cancelled with anybody, so that is a *stop* of the issue;
    the estimate itself is as good without.
    """
    if firm is None:
        return (
            Finding(
                "firm_missing",
                "stop",
                WHERE,
                "the office has not written down yet who we are: without name, address, telephone and e-mail the "
                "quote says neither who makes the offer nor whom to tell who wants to cancel",
                str(SOURCE),
                "the office fills in and publishes 'Our firm' under prices and rules; the draft stays as it is",
            ),
        )
    if vat_pence and not firm["vat_number"]:
        return (
            Finding(
                "firm_without_vat_number",
                "ask",
                WHERE,
                f"the price holds £{vat_pence // 100:,}.{vat_pence % 100:02d} of VAT and the firm's record has no VAT "
                "number; who is not registered may not charge VAT",
                str(VAT_SOURCE),
                "write the number into 'Our firm', or have the bookkeeper say why VAT is charged without one",
            ),
        )
    return ()


# --- one entry ---


def vat_number(text: str) -> str:
    """A VAT registration number of Great Britain as GB and its figures. Raises ValueError.

    HMRC's modulus 97: the first seven figures times 8 to 2, and the last two, add up to a multiple of 97; since 2010
    also with 55 more. Twelve figures end in a branch of three.
    """
    figures = _without(text, " .-").upper().removeprefix("GB")
    if not re.fullmatch(r"[0-9]{9}(?:[0-9]{3})?", figures):
        raise ValueError("a VAT number is GB and 9 figures, 12 with a branch")
    weighted = sum(weight * int(figure) for weight, figure in zip(VAT_WEIGHTS, figures[:7], strict=True))
    total = weighted + int(figures[7:9])
    if total % 97 and (total + 55) % 97:
        raise ValueError(f"the check figures {figures[7:9]} do not fit {figures[:7]}: a figure is mistyped")
    return f"GB{figures}"


def _company_number(text: str) -> str:
    number = _without(text, " ").upper()
    if not _COMPANY.fullmatch(number):
        raise ValueError(
            "a company number has 8 characters: 8 figures, with noughts in front, or two letters and 6 figures"
        )
    return number


def _registered_in(text: str) -> str:
    if text not in REGISTERED_IN:
        raise ValueError(f"is one of {', '.join(REGISTERED_IN)}")
    return text


def _postcode(text: str) -> str:
    packed = _without(text, " ").upper()
    if not _POSTCODE.fullmatch(packed):
        raise ValueError("is no postcode of the form AB1 2CD")
    return f"{packed[:-3]} {packed[-3:]}"


def _telephone(text: str) -> str:
    if not _TELEPHONE.fullmatch(_without(text, " ()-")):
        raise ValueError("a telephone number has 10 or 11 figures and begins with 0 or +44")
    return text


def _email(text: str) -> str:
    local = text.partition("@")[0]
    if len(text) > 254 or not _EMAIL.fullmatch(text) or ".." in local or local != local.strip("."):
        raise ValueError("is no e-mail address of the form office@firm.example")
    return text


def _sort_code(text: str) -> str:
    figures = _without(text, " -")
    if not re.fullmatch(r"[0-9]{6}", figures):
        raise ValueError("a sort code has 6 figures")
    return figures


def _account_number(text: str) -> str:
    figures = _without(text, " ")
    if not re.fullmatch(r"[0-9]{8}", figures):
        raise ValueError("an account number has 8 figures; a shorter one begins with noughts")
    return figures


def _without(text: str, marks: str) -> str:
    return text.translate({ord(mark): None for mark in marks})


class _Reader:
    """Reads entry by entry and collects what is wrong with each."""

    def __init__(self, document: Mapping[str, Any]) -> None:
        self._document = document
        self.faults: dict[str, str] = {}

    def _cell(self, entry: str, value: Any, most: int) -> str:
        """A text on one line without spaces around; empty where there is none."""
        if value is None:
            return ""
        if not isinstance(value, str):
            self.faults[entry] = "is a text"
            return ""
        text = " ".join(value.split())
        if len(text) > most:
            self.faults[entry] = f"has {len(text)} characters, at most {most} fit"
        elif not text.isprintable():
            self.faults[entry] = "holds signs that cannot be printed"
        return text

    def text(self, entry: str, most: int, needed: str, value: Any = None) -> str:
        """A text that must be there."""
        text = self._cell(entry, self._document.get(entry) if value is None else value, most)
        if not text:
            self.faults.setdefault(entry, needed)
        return text

    def formed(self, entry: str, form: Callable[[str], str], *, needed: str = "", value: Any = None) -> str | None:
        """A text of a form; None where it is left out and may be."""
        text = self._cell(entry, self._document.get(entry) if value is None else value, 254)
        if not text:
            if needed:
                self.faults.setdefault(entry, needed)
            return None
        try:
            return form(text)
        except ValueError as fault:
            self.faults.setdefault(entry, str(fault))
            return None

    def lines(self) -> tuple[str, ...]:
        """The lines of the address."""
        given = self._document.get("address")
        if given is not None and not isinstance(given, list):
            self.faults["address"] = "is a list of lines"
            return ()
        found = tuple(filter(None, (self._cell("address", line, 80) for line in given or ())))
        if not found:
            self.faults.setdefault("address", "at least one line of address is needed")
        elif len(found) > _MOST_LINES:
            self.faults["address"] = f"has {len(found)} lines, at most {_MOST_LINES} fit"
        return found

    def registrations(self) -> tuple[Registration, ...]:
        """What the firm is registered as, each with its number."""
        given = self._document.get("registrations")
        if given is not None and not isinstance(given, list):
            self.faults["registrations"] = "is a list of scheme and number"
            return ()
        found: list[Registration] = []
        for place, one in enumerate(given or ()):
            entry = f"registrations.{place}"
            if not isinstance(one, Mapping) or set(one) != {"scheme", "number"}:
                self.faults[entry] = "is a scheme and a number"
                continue
            registration = Registration(
                self.text(entry, 120, "a registration needs its scheme", one["scheme"] or ""),
                self.text(entry, 60, "a registration needs its number", one["number"] or ""),
            )
            if registration in found:
                self.faults[entry] = "stands there already"
            found.append(registration)
        if len(found) > _MOST_REGISTRATIONS:
            self.faults["registrations"] = f"has {len(found)} rows, at most {_MOST_REGISTRATIONS} fit"
        return tuple(found)

    def bank(self) -> BankAccount | None:
        """The account, whole or not at all."""
        given = self._document.get("bank")
        if given is None:
            return None
        if not isinstance(given, Mapping) or not set(given) <= set(OF_BANK):
            self.faults["bank"] = f"is {', '.join(OF_BANK)}, or nothing"
            return None
        if not any(given.values()):
            return None
        return BankAccount(
            self.text("bank.account_name", 70, "the name on the account is needed", given.get("account_name") or ""),
            self.formed(
                "bank.sort_code", _sort_code, needed="the sort code is needed", value=given.get("sort_code") or ""
            )
            or "",
            self.formed(
                "bank.account_number", _account_number, needed="the account number is needed",
                value=given.get("account_number") or "",
            )
            or "",
        )  # fmt: skip

    def together(self, firm: Firm) -> None:
        """A company has both number and place of registration, and they agree."""
        number, place = firm.company_number, firm.registered_in
        if number and not place and "registered_in" not in self.faults:
            self.faults["registered_in"] = "a company says where it is registered"
        if place and not number and "company_number" not in self.faults:
            self.faults["company_number"] = "a company says its number"
        if number and place:
            register = "England and Wales" if number.isdecimal() else _REGISTER_OF.get(number[:2], "")
            meant = "England and Wales" if place == "Wales" else place
            if register and register != meant:
                self.faults["registered_in"] = f"a number like {number} is of the register of {register}"
