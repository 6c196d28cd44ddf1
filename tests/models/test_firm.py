"""The firm's record: what is taken in which form, what cannot be right, and what stands against an offer without it."""

import copy
import json
from pathlib import Path
from typing import Any

import pytest

from models.firm import ENTRIES, Firm, RefusedFirm, firm_document, firm_findings, firm_from, vat_number

DEMO_FILE = Path(__file__).parents[2] / "seed_data" / "firm.json"
RECORD: dict[str, Any] = {
    "name": "Any Heating Ltd",
    "address": ["1 Any Street", "Anytown"],
    "postcode": "zz1 1zz",
    "telephone": "01632 960001",
    "email": "office@any.example",
    "company_number": "sc 123456",
    "registered_in": "Scotland",
    "vat_number": "831 4958 16",
    "registrations": [{"scheme": "Register of gas work", "number": "12"}],
    "bank": {"account_name": "Any Heating Ltd", "sort_code": "00-00-00", "account_number": "1234 5678"},
}


def changed(**more: Any) -> dict[str, Any]:
    return {**copy.deepcopy(RECORD), **more}


def faults(record: dict[str, Any]) -> dict[str, str]:
    with pytest.raises(RefusedFirm) as refused:
        firm_from(record)
    return refused.value.faults


def test_a_record_is_kept_in_one_way_of_writing() -> None:
    assert firm_document(firm_from(RECORD)) == {
        "name": "Any Heating Ltd",
        "address": ["1 Any Street", "Anytown"],
        "postcode": "ZZ1 1ZZ",
        "telephone": "01632 960001",
        "email": "office@any.example",
        "company_number": "SC123456",
        "registered_in": "Scotland",
        "vat_number": "GB831495816",
        "registrations": [{"scheme": "Register of gas work", "number": "12"}],
        "bank": {"account_name": "Any Heating Ltd", "sort_code": "000000", "account_number": "12345678"},
    }
    assert firm_from(firm_document(firm_from(RECORD)) or {}) == firm_from(RECORD)


def test_what_a_sole_trader_does_not_have_is_null() -> None:
    record = {name: RECORD[name] for name in ("name", "address", "postcode", "telephone", "email")}
    block = firm_document(firm_from(record))
    assert block is not None and tuple(block) == ENTRIES
    assert [block[name] for name in ("company_number", "registered_in", "vat_number", "registrations", "bank")] == [
        None, None, None, [], None,
    ]  # fmt: skip
    empty = record | {"company_number": "", "registered_in": " ", "vat_number": "", "bank": dict.fromkeys(
        ("account_name", "sort_code", "account_number"), "")}  # fmt: skip
    assert firm_document(firm_from(empty)) == block


def test_no_record_is_no_firm_and_none_is_made_up() -> None:
    assert firm_from({}) is None and firm_document(None) is None
    assert firm_from({"note": "nothing yet"}) is None
    assert set(faults({"telephone": "01632 960001"})) == {"name", "address", "postcode", "email"}


@pytest.mark.parametrize(
    "text",
    [
        # Published worked example (BBC h2g2, A10287461): 64+21+6+20+36+15+16 = 178; 178 − 2×97 = −16.
        "GB 831 4958 16",
        # Published worked example of a firm of accountants: 56+56+12+10+12+21+10 = 177; 177 + 17 = 194 = 2×97.
        "GB782237517",
        # By hand: 8+14+18+20+20+18+14 = 112; 112 + 82 = 194 = 2×97.
        "123 4567 82",
        # By hand, the numbers since 2010: 112 + 55 + 27 = 194 = 2×97.
        "123456727",
        # A branch: its three figures are no part of the sum.
        "GB123456782001",
    ],
)
def test_a_vat_number_whose_check_figures_fit_is_taken(text: str) -> None:
    assert vat_number(text) == "GB" + text.removeprefix("GB").replace(" ", "")


@pytest.mark.parametrize(
    "text",
    [
        # The source of the first example says of this one that it is not valid: 112 + 89 = 201, 256 with 55.
        "123456789",
        # One figure of the published example mistyped: 170 + 16 = 186, 241 with 55. Two exchanged: 189, 244 with 55.
        "731495816",
        "381495816",
        "GB12345678",
        "GB1234567820",
        "FR123456782",
        "12345678²",
    ],
)
def test_a_vat_number_that_cannot_be_right_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="figures"):
        vat_number(text)


@pytest.mark.parametrize(
    ("entry", "value", "said"),
    [
        ("company_number", "1234567", "8 characters"),
        ("company_number", "123456789", "8 characters"),
        ("company_number", "SCX23456", "8 characters"),
        ("registered_in", "Mars", "is one of"),
        ("registered_in", "England and Wales", "register of Scotland"),
        ("registered_in", None, "where it is registered"),
        ("company_number", None, "says its number"),
        ("email", "office", "e-mail"),
        ("email", "office@any", "e-mail"),
        ("email", "of fice@any.example", "e-mail"),
        ("email", ".office@any.example", "e-mail"),
        ("email", "office@any..example", "e-mail"),
        ("telephone", "960001", "10 or 11 figures"),
        ("telephone", "call us", "10 or 11 figures"),
        ("postcode", "ANYTOWN", "postcode"),
        ("name", "", "name is needed"),
        ("name", "x" * 121, "at most 120"),
        ("name", 7, "is a text"),
        ("address", "1 Any Street", "list of lines"),
        ("address", [" "], "at least one line"),
        ("address", ["x"] * 7, "at most 6"),
        ("registrations", [{"scheme": "gas"}], "scheme and a number"),
        ("registrations", [{"scheme": "gas", "number": ""}], "needs its number"),
        ("registrations", [{"scheme": "gas", "number": "1"}] * 2, "there already"),
        ("bank", {"account_name": "Any", "sort_code": "12345", "account_number": "12345678"}, "6 figures"),
        ("bank", {"account_name": "Any", "sort_code": "123456", "account_number": "1234567"}, "8 figures"),
        ("bank", {"account_name": "", "sort_code": "123456", "account_number": "12345678"}, "name on the account"),
        ("bank", {"iban": "GB00"}, "or nothing"),
        ("colour", "blue", "no such entry"),
    ],
)
def test_what_cannot_be_right_is_refused_by_the_name_of_its_entry(entry: str, value: Any, said: str) -> None:
    found = faults(changed(**{entry: value}))
    assert len(found) == 1
    [(name, reason)] = found.items()
    assert name.partition(".")[0] == entry and said in reason


def test_everything_that_is_wrong_is_said_at_once() -> None:
    assert set(faults(changed(name="", email="x", vat_number="123456789"))) == {"name", "email", "vat_number"}


def test_a_letter_that_no_register_is_known_for_is_left_to_the_office() -> None:
    taken = firm_from(changed(company_number="OC123456", registered_in="Wales"))
    assert isinstance(taken, Firm) and taken.company_number == "OC123456"


def test_an_offer_without_a_trader_is_stopped_and_tax_without_a_number_is_asked_about() -> None:
    [missing] = firm_findings(None, vat_pence=0)
    assert (missing.code, missing.strength, missing.where) == ("firm_missing", "stop", "the firm")
    assert "schedule 2" in missing.source and "Our firm" in missing.remedy
    block = firm_document(firm_from(RECORD))
    assert firm_findings(block, vat_pence=12_345) == ()
    without = firm_document(firm_from(changed(vat_number=None)))
    assert firm_findings(without, vat_pence=0) == () == firm_findings(without, vat_pence=None)
    [asked] = firm_findings(without, vat_pence=1_234_505)
    assert (asked.code, asked.strength) == ("firm_without_vat_number", "ask") and "£12,345.05" in asked.message


def test_the_firm_of_the_demo_is_marked_and_belongs_to_nobody() -> None:
    record = json.loads(DEMO_FILE.read_text("utf-8"))
    firm = firm_from(record)
    assert firm is not None and record["demo"] is True
    # Ofcom keeps 01632 960000 to 960999 for drama (from memory); RFC 2606 keeps .example.
    assert firm.telephone.replace(" ", "")[:8] == "01632960" and firm.email.endswith(".example")
