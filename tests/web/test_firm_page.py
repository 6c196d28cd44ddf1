"""The firm's record on its page, and on every paper that goes to a customer: who makes the offer and whom to tell."""

import json
import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from pydantic import SecretStr

from api import security
from api.settings import Settings
from api.startup import load_demo, put_demo_firm_in_force
from api.store.engine import reading
from api.store.seed_files import demo_households
from models.records import Quote, Role
from web.app import create_app
from web.firm_form import fields_of, firm_laid_over, opened_as, record_of

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)
RECORD: dict[str, Any] = {
    "name": "Any Heating Ltd",
    "address": ["1 Any Street", "Anytown"],
    "postcode": "ZZ1 1ZZ",
    "telephone": "01632 960001",
    "email": "office@any.example",
    "company_number": "SC123456",
    "registered_in": "Scotland",
    "vat_number": "GB831495816",
    "registrations": [{"scheme": "Register of gas work", "number": "12"}, {"scheme": "Code", "number": "C3"}],
    "bank": {"account_name": "Any Heating Ltd", "sort_code": "123456", "account_number": "12345678"},
}
DEMO_NAME = "Hobbleworth Warm Works Ltd"


@pytest.fixture
def nobody(tmp_path: Path) -> Iterator[Callable[[Role], TestClient]]:
    """Browsers signed in by role, in front of a service that nobody told yet whose it is, with a surveyed house."""
    settings = Settings(
        data_dir=tmp_path, database_url=None, secret_key=SecretStr("only-for-tests-" * 3), demo_key=None,
        fixed_now=NOW, log_level="CRITICAL", seed_dir=None,
    )  # fmt: skip
    app = create_app(settings)

    def browser(role: Role) -> TestClient:
        name = f"somebody {role} {id(object())}"
        user = security.create_user(
            app.state.engine, name=name, full_name="Some Body", role=role, password=None, now=NOW
        )
        token = security.create_signin_link(app.state.engine, settings, user.id, now=NOW)
        client = TestClient(app, follow_redirects=True)
        assert client.get(f"/sign-in/link?token={token}").status_code == 200
        return client

    with TestClient(app):
        yield browser


def hidden(html: str, name: str) -> str:
    return unescape(re.search(rf'name="{name}" value="([^"]*)"', html)[1])  # type: ignore[index]


def send(client: TestClient, page: Any, to: str, /, **fields: str) -> Any:
    """Post what a page carries along, and the fields."""
    data = {"csrf": hidden(page.text, "csrf"), **fields}
    for name in ("edition", "opened"):
        if f'name="{name}"' in page.text:
            data.setdefault(name, hidden(page.text, name))
    return client.post(to, data=data)


def draft_of(client: TestClient) -> tuple[str, Any]:
    page = send(client, client.get("/office/rules/firm"), "/office/rules/firm/draft")
    return page.url.path, page


# --- the form ---


def test_a_record_goes_through_its_form_as_it_is() -> None:
    assert record_of(fields_of(RECORD)) == RECORD
    assert record_of(fields_of({}))["registrations"] == [] and record_of({})["bank"] is None
    assert record_of({"registrations.0.scheme": "", "registrations.7.number": "x"})["registrations"] == [
        {"scheme": "", "number": "x"}
    ]


def test_what_two_people_typed_is_laid_over_each_other_field_by_field() -> None:
    opened = fields_of(RECORD)
    mine = opened | {"telephone": "01632 960002"}
    theirs = fields_of(RECORD | {"email": "new@any.example", "registrations": RECORD["registrations"][1:]})
    both = record_of(firm_laid_over(mine, opened, theirs))
    assert both == RECORD | {
        "telephone": "01632 960002", "email": "new@any.example", "registrations": RECORD["registrations"][1:],
    }  # fmt: skip
    assert opened_as(json.dumps(opened)) == opened
    assert opened_as("no form") == opened_as("[1]") == opened_as('{"a": 1}') == {}


def test_the_office_writes_the_firm_down_sees_it_and_publishes_it(nobody: Callable[[Role], TestClient]) -> None:
    office = nobody(Role.OFFICE)
    assert "not written down yet: no quote can be issued" in office.get("/office").text
    assert "Write down who we are" in office.get("/office/rules/firm").text
    address, page = draft_of(office)
    assert "Publish it" not in page.text, "an empty record is not offered for publication"
    wrong = fields_of(
        RECORD | {"vat_number": "GB831495817", "email": "nobody", "company_number": "12", "registered_in": None}
    )
    refused = send(office, page, f"{address}/record", **wrong)
    assert refused.status_code == 422 and "Nothing was saved" in refused.text
    for name, said in (
        ("vat_number", "check figures 17"), ("email", "no e-mail address"), ("company_number", "has 8 characters"),
    ):  # fmt: skip
        assert said in re.search(rf'id="fault-{name}">([^<]*)<', refused.text)[1], name  # type: ignore[index]
        assert f'value="{wrong[name]}"' in refused.text, "what was typed stands there"
    saved = send(office, refused, f"{address}/record", **fields_of(RECORD))
    assert saved.status_code == 200 and "Before and after" in saved.text
    assert "No record of the firm: no quote can be issued." in saved.text and "New: name, Any Heating Ltd" in saved.text
    assert "GB 831 4958 16" in saved.text and "12-34-56" in saved.text
    done = send(office, saved, f"{address}/publish")
    assert "Published. Quotes that are issued from its first day on carry it." in done.text
    assert "Any Heating Ltd" in done.text and "Save our firm" not in done.text
    assert "not written down yet" not in office.get("/office").text


def test_two_editors_lose_nothing(nobody: Callable[[Role], TestClient]) -> None:
    one, two = nobody(Role.OFFICE), nobody(Role.OWNER)
    address, page = draft_of(one)
    page = send(one, page, f"{address}/record", **fields_of(RECORD))
    other = two.get(address)
    first = send(one, one.get(address), f"{address}/record", **fields_of(RECORD | {"email": "new@any.example"}))
    assert first.status_code == 200
    clash = send(two, other, f"{address}/record", **fields_of(RECORD | {"telephone": "01632 960002"}))
    assert clash.status_code == 412 and 'Now stands: <span class="lines">01632 960001' in clash.text
    assert 'value="new@any.example"' in clash.text and 'value="01632 960002"' in clash.text
    assert 'value="01632 960001"' in two.get(address).text, "nothing was saved yet"
    again = send(two, clash, f"{address}/record", **fields_of(
        RECORD | {"telephone": "01632 960002", "email": "new@any.example"}))  # fmt: skip
    assert again.status_code == 200 and 'value="01632 960002"' in again.text


@pytest.mark.parametrize("role", [Role.SALES, Role.ACCOUNTS])
def test_who_may_not_edit_prices_does_not_edit_the_firm(nobody: Callable[[Role], TestClient], role: Role) -> None:
    address, _ = draft_of(nobody(Role.OWNER))
    other = nobody(role)
    assert other.get(address).status_code == 403
    csrf = hidden(other.get("/jobs").text, "csrf")
    for last in ("record", "publish"):
        assert other.post(f"{address}/{last}", data={"csrf": csrf, **fields_of(RECORD)}).status_code == 403


# --- the papers ---


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestClient, str, str]]:
    """An owner in front of a demo, a job, and an issued quote of it with VAT on the last payment."""
    settings = Settings(
        data_dir=Path(tmp_path_factory.mktemp("papers")), database_url=None,
        secret_key=SecretStr("only-for-tests-" * 3), demo_key=None, fixed_now=NOW, log_level="CRITICAL",
    )  # fmt: skip
    app = create_app(settings)
    token = load_demo(app.state.engine, settings, demo_households(), now=NOW).signin_token
    with TestClient(app) as client:
        client.get(f"/sign-in/link?token={token}")
        job = re.findall(r'href="(/jobs/[0-9a-f-]{36})"', client.get("/jobs").text)[-1]
        page = client.get("/jobs")
        draft = send(client, page, f"{job}/quotes", works_start_on="2027-06-07")
        fields = dict(re.findall(r'name="(ask\.\d+\.(?:code|where))" value="([^"]*)"', draft.text))
        fields = {name: unescape(value) for name, value in fields.items()}
        quote = send(client, draft, f"{draft.url.path}/issue", by="Demo Owner", same_reason="seen", **fields)
        assert "With the customer" in quote.text, quote.text[:2000]
        yield client, job, quote.url.path


def words(html: str) -> str:
    """What a paper says, on one line."""
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", html)).split())


INFORMATION = {
    # Consumer Contracts (Information, Cancellation and Additional Charges) Regulations 2013, schedule 2. Items (a) to
    # (i) compared with the stored text of the regulations as made, (j) to (x) from memory. Beside each what must stand
    # on the printed quote; (d), (h), (t), (v), (w) do not arise: no other trader, no subscription, nothing digital.
    "a main characteristics": ["What we fit", "Materials and work", "Outdoor unit"],
    "b identity": [DEMO_NAME],
    "c address, telephone, e-mail": [
        "Unit 3, The Old Tannery Mill Lane Hobbleworth ZZ9 9ZZ",
        "Telephone 01632 960417",
        "E-mail office@hobbleworth-warm-works.example",
    ],
    "e where to complain": ["complaints go to the same place"],
    "f total price with taxes": ["Full price £", "VAT £"],
    "g delivery charges": ["Delivery to your home is in the price"],
    "i cost of distance communication": ["calling us costs you what your own provider charges"],
    "j payment, performance, time": ["Payments and VAT", "sort code 00-00-00", "The days of work"],
    "k complaint handling": ["If something is not right", "answer in writing"],
    "l right to cancel": ["within 14 days without giving a reason", "Cancellation form"],
    "m cost of return": ["We collect goods that were delivered at our own cost"],
    "n pay for what was done": ["I then pay in proportion for the work done until I tell you"],
    "o right lost": ["once the whole service has been performed the right to cancel it is gone", "the right is gone"],
    "p conformity": ["The goods must be in conformity with this contract"],
    "q guarantees": ["What makers promise in their guarantees"],
    "r codes of conduct": ["code of conduct", "Member of a consumer code: DEMO-CC-1175"],
    "s duration": ["The contract ends when the works are complete and paid for"],
    "u deposits": ["No deposit or security is asked but the payments that this quote names"],
    "x out of court": ["the way out of court that this code offers is open to you"],
    # Company, Limited Liability Partnership and Business (Names and Trading Disclosures) Regulations 2015,
    # regulation 25: part of the United Kingdom, number, registered office.
    "trading disclosures": ["registered in England and Wales under number 99999999, registered office as at the head"],
    # Value Added Tax Regulations 1995, regulation 14: only an invoice must, a quote that names VAT should.
    "VAT number": ["VAT number GB 123 4567 82"],
}


@pytest.mark.parametrize("item", INFORMATION)
def test_the_printed_quote_tells_what_a_trader_must_tell(demo: tuple[TestClient, str, str], item: str) -> None:
    client, _, quote = demo
    said = words(client.get(f"{quote}/print").text)
    assert [one for one in INFORMATION[item] if one not in said] == []


MODEL_FORM = (
    # Schedule 3 part B, its words compared with a published copy of the form; what stands in brackets is filled in.
    "(Complete and return this form only if you wish to withdraw from the contract.)",
    f"To {DEMO_NAME} Unit 3, The Old Tannery Mill Lane Hobbleworth ZZ9 9ZZ Telephone 01632 960417 "
    "E-mail office@hobbleworth-warm-works.example",
    "I/We* hereby give notice that I/We* cancel my/our* contract of sale of the following goods*/for the supply of the "
    "following service*:",
    "Ordered on*/received on*",
    "Name of consumer(s)",
    "Address of consumer(s)",
    "Signature of consumer(s) only if this form is notified on paper",
    "Date",
    "* Delete as appropriate.",
)


@pytest.mark.parametrize("paper", ["print", "cancellation"])
def test_the_cancellation_form_names_whom_to_tell(demo: tuple[TestClient, str, str], paper: str) -> None:
    client, _, quote = demo
    html = client.get(f"{quote}/{paper}").text
    form = words(html[html.index('id="cancellation"') :])
    places = [form.find(one) for one in MODEL_FORM]
    assert -1 not in places and places == sorted(places)
    assert "The heating works of quote 2026-0001" in form
    sooner = words(html[html.index('id="start-sooner"') :])
    assert "I ask you to start the works before the 14 days are over" in sooner and "Signature" in sooner


def test_the_right_to_cancel_stands_on_the_cancellation_paper(demo: tuple[TestClient, str, str]) -> None:
    client, _, quote = demo
    said = words(client.get(f"{quote}/cancellation").text)
    for part in (
        "Your right to cancel quote 2026-0001",
        # Regulation 30: goods and service together count from the day after the last goods are received.
        "within 14 days without giving a reason. The days are counted from the day after the last goods are received",
        # Regulation 32: any clear statement; regulation 34: what is paid back, how and when; regulation 31: 12 months.
        "You may use the cancellation form, but you need not",
        "at the latest 14 days after the day on which you tell us",
        "up to 12 months more",
    ):
        assert part in said, part


def test_the_other_papers_have_a_letterhead(demo: tuple[TestClient, str, str]) -> None:
    client, job, quote = demo
    for address in (f"{quote}/network", f"{job}/network", f"{quote}/days/print", f"{job}/days/print"):
        said = words(client.get(address).text)
        assert DEMO_NAME in said and "01632 960417" in said, address
    sheet = words(client.get(f"{quote}/network").text)
    assert f"Firm that installs, and contact {DEMO_NAME}, Unit 3" in sheet
    assert "Its registrations Certified installer of heat pumps: DEMO-HP-0417" in sheet


def test_an_issued_quote_keeps_its_letterhead_and_an_old_one_gets_none(
    demo: tuple[TestClient, str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    client, _, quote = demo
    before = client.get(f"{quote}/print").text
    address, page = draft_of(client)
    page = send(client, page, f"{address}/record", **fields_of(RECORD))
    assert send(client, page, f"{address}/publish").status_code == 200
    for paper in ("print", "cancellation", "network", "days/print"):
        said = words(client.get(f"{quote}/{paper}").text)
        assert DEMO_NAME in said and "Any Heating" not in said, paper
    assert client.get(f"{quote}/print").text.replace("\n", "") == before.replace("\n", "")
    # A document that was sealed before it held the firm: nothing of today's record is put on it.
    engine = client.app.state.engine  # type: ignore[attr-defined]
    with reading(engine) as session:
        kept = session.get_one(Quote, quote.rpartition("/")[2])
        document = json.loads(kept.document or b"")
    del document["firm"]
    monkeypatch.setattr("web.routes.quotes._on_paper", lambda *_: document)
    for paper in ("print", "cancellation"):
        said = words(client.get(f"{quote}/{paper}").text)
        assert "Hobbleworth" not in said and "Any Heating" not in said and "Goods and service" in said


def test_a_draft_without_a_firm_says_so_and_whom_to_ask(nobody: Callable[[Role], TestClient]) -> None:
    owner = nobody(Role.OWNER)
    app = owner.app
    engine, settings = app.state.engine, app.state.settings  # type: ignore[attr-defined]
    load_demo(engine, settings.model_copy(update={"seed_dir": _without_firm(settings.data_dir)}),
              demo_households()[:1], now=NOW)  # fmt: skip
    job = re.findall(r'href="(/jobs/[0-9a-f-]{36})"', owner.get("/jobs").text)[0]
    draft = send(owner, owner.get("/jobs"), f"{job}/quotes")
    said = words(draft.text)
    assert "The office has not written down yet who we are" in said
    assert "This draft can be issued once the office has written down who we are. Our firm" in said
    assert "Issue the quote" not in draft.text
    put_demo_firm_in_force(engine, settings, now=NOW)
    assert "issue the quote" in owner.get(draft.url.path).text


def _without_firm(folder: Path) -> Path:
    """A folder of the firm's files without a record of the firm."""
    import shutil

    from api.store.seed_files import SEED_FOLDER

    copied = folder / "files"
    shutil.copytree(SEED_FOLDER, copied)
    (copied / "firm.json").unlink()
    return copied
