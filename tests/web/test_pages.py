"""The pages in front of the demo: signing in, forms that keep what was typed, the estimate, a quote to its issue."""

import html
import json
import re
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from api import security
from api.render.wording import figure, pounds
from api.settings import Settings
from api.store.seed_files import demo_households, rules_from_folder
from models.document import estimate_document
from models.estimate import Choices, estimate
from models.records import Role
from models.survey import Survey
from web.command import main
from web.forms.sections import SECTIONS

CSRF = re.compile(r'name="csrf" value="([^"]+)"')


def csrf_of(client: TestClient) -> str:
    """The token that the pages of this session carry in each form."""
    found = CSRF.search(client.get("/jobs").text)
    assert found is not None
    return found[1]


def post(client: TestClient, address: str, /, **fields: str) -> "Page":
    """Post a form of our own and follow to the page that it leads to."""
    response = client.post(address, data={"csrf": csrf_of(client), **fields})
    where = address
    while response.status_code == 303:
        where = response.headers["location"]
        response = client.get(where)
    return Page(where, response.status_code, response.text)


class Page:
    """Where a form led to, and what stands there."""

    def __init__(self, where: str, status: int, text: str) -> None:
        self.where, self.status, self.text = where, status, text


def links(client: TestClient, address: str, pattern: str) -> list[str]:
    """The addresses on a page that match."""
    return list(dict.fromkeys(re.findall(rf'href="({pattern})"', client.get(address).text)))


@pytest.fixture(scope="module")
def demo_job(browser: TestClient) -> str:
    """The address of the first demo house."""
    return links(browser, "/jobs", "/jobs/[0-9a-f-]{36}")[-1]


@pytest.fixture
def new_job(browser: TestClient) -> Iterator[str]:
    """The address of an empty job of its own."""
    yield post(browser, "/jobs/new", label="Empty house").where


# --- signing in ---


def test_whoever_is_not_signed_in_is_led_to_the_sign_in_page(stranger: TestClient) -> None:
    response = stranger.get("/jobs?cursor=x")
    assert response.status_code == 303
    assert response.headers["location"] == "/sign-in?next=%2Fjobs%3Fcursor%3Dx"
    assert stranger.post("/jobs/new", data={"label": "x"}).headers["location"] == "/sign-in"


def test_a_link_signs_in_once(stranger: TestClient, fresh_link: Callable[[], str]) -> None:
    link = fresh_link()
    first, second = TestClient(stranger.app, follow_redirects=False), TestClient(stranger.app, follow_redirects=False)
    assert first.get(link).headers["location"] == "/jobs"
    assert first.get("/jobs").status_code == 200
    again = second.get(link)
    assert again.status_code == 410 and "used already" in again.text
    assert second.get("/jobs").status_code == 303


def test_the_session_cookie_is_out_of_reach_of_scripts(stranger: TestClient, fresh_link: Callable[[], str]) -> None:
    response = TestClient(stranger.app, follow_redirects=False).get(fresh_link())
    cookie = response.headers["set-cookie"].lower()
    assert "httponly" in cookie and "samesite=lax" in cookie


def test_a_wrong_password_does_not_say_which_was_wrong(stranger: TestClient) -> None:
    response = stranger.post("/sign-in", data={"name": "owner", "password": "not the one"})
    assert response.status_code == 401
    assert "Name and password do not go together." in response.text
    assert "set-cookie" not in response.headers


def test_a_sign_in_form_from_another_site_is_refused(stranger: TestClient) -> None:
    response = stranger.post(
        "/sign-in", data={"name": "owner", "password": "x"}, headers={"sec-fetch-site": "cross-site"}
    )
    assert response.status_code == 403


@pytest.mark.parametrize("going_to", ["//elsewhere.example", "https://elsewhere.example", "/\\elsewhere.example", ""])
def test_signing_in_never_leads_to_another_site(browser: TestClient, going_to: str) -> None:
    assert browser.get("/sign-in", params={"next": going_to}).headers["location"] == "/jobs"


def test_signing_out_ends_the_session(stranger: TestClient, fresh_link: Callable[[], str]) -> None:
    client = TestClient(stranger.app, follow_redirects=False)
    client.get(fresh_link())
    kept = dict(client.cookies)
    client.post("/sign-out", data={"csrf": csrf_of(client)})
    client.cookies.update(kept)
    assert client.get("/jobs").status_code == 303


# --- what holds for every page ---


def test_a_form_without_the_token_of_its_session_changes_nothing(browser: TestClient) -> None:
    before = browser.get("/jobs").text.count("/jobs/")
    for data in ({"label": "Forged"}, {"label": "Forged", "csrf": "x" * 43}):
        assert browser.post("/jobs/new", data=data).status_code == 403
    assert browser.get("/jobs").text.count("/jobs/") == before


def test_every_page_has_its_safety_headers_and_is_not_kept(browser: TestClient, demo_job: str) -> None:
    for address in ("/jobs", demo_job, "/nowhere", "/sign-in"):
        headers = browser.get(address).headers
        assert "default-src 'none'" in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
    assert browser.get(demo_job).headers["cache-control"] == "no-store"


def test_no_page_asks_another_site_for_anything(browser: TestClient, demo_job: str) -> None:
    for address in ("/jobs", demo_job, f"{demo_job}/estimate"):
        assert not re.search(r'(?:src|href|action)="(?:https?:)?//', browser.get(address).text)


def test_static_files_are_kept_for_ever_under_their_digest(browser: TestClient) -> None:
    style = re.search(r'href="(/static/footing.css\?v=\w+)"', browser.get("/jobs").text)
    assert style is not None
    assert "immutable" in browser.get(style[1]).headers["cache-control"]
    assert "immutable" not in browser.get("/static/footing.css?v=0").headers["cache-control"]
    assert len(browser.get(style[1]).content) <= 15_000
    assert browser.get("/static/..%2Fapp.py").status_code == 404


@pytest.mark.parametrize("address", ["/jobs/none", "/jobs/none/rooms/x", "/quotes/none", "/nowhere"])
def test_what_is_not_there_is_said_on_a_page(browser: TestClient, address: str) -> None:
    response = browser.get(address)
    assert response.status_code == 404
    assert response.headers["content-type"].startswith("text/html")
    assert "There is nothing at this address" in response.text


# --- the survey ---


def test_every_page_of_every_demo_house_renders(browser: TestClient) -> None:
    jobs = links(browser, "/jobs", "/jobs/[0-9a-f-]{36}")
    seen = 0
    for job in jobs:
        parts = links(browser, job, f"{job}/(?:rooms|positions|sections)/[^\"]+")
        for address in [job, f"{job}/customer", f"{job}/estimate", *parts]:
            assert browser.get(address).status_code == 200, address
            seen += 1
    assert seen > 3 * (len(SECTIONS) + 6)


def test_an_untouched_room_page_changes_nothing_when_it_is_saved(browser: TestClient, demo_job: str) -> None:
    room = links(browser, demo_job, f"{demo_job}/rooms/[^\"]+")[0]
    text = browser.get(room).text
    version = re.search(r'name="version" value="(\d+)"', text)
    assert version is not None
    saved = post(browser, room, **_fields(text), do="save")
    assert saved.status == 200
    assert re.search(r'name="version" value="(\d+)"', saved.text)[1] == version[1]  # type: ignore[index]


def _fields(text: str) -> dict[str, str]:
    """The fields of the main form of a page as a browser would post them."""
    form = max(re.findall(r"<form.*?</form>", text, re.S), key=len)
    fields: dict[str, str] = {}
    for tag in re.findall(r"<input [^>]*>", form):
        name, value = re.search(r'name="([^"]*)"', tag), re.search(r'value="([^"]*)"', tag)
        if name and ("checkbox" not in tag or " checked" in tag):
            fields[html.unescape(name[1])] = html.unescape(value[1]) if value else ""
    for name, inner in re.findall(r'<select id="[^"]*" name="([^"]*)">(.*?)</select>', form, re.S):
        chosen = re.search(r'<option value="([^"]*)" selected>', inner) or re.search(r'<option value="([^"]*)"', inner)
        fields[name] = html.unescape(chosen[1]) if chosen else ""
    for name, inner in re.findall(r'<textarea id="[^"]*" name="([^"]*)"[^>]*>(.*?)</textarea>', form, re.S):
        fields[name] = html.unescape(inner)
    fields.pop("do", None)
    fields.pop("csrf", None)
    return fields


def test_a_half_typed_room_is_kept_and_says_what_is_missing(browser: TestClient, new_job: str) -> None:
    room = post(browser, f"{new_job}/rooms", name="Box room", use="bedroom")
    version = re.search(r'name="version" value="(\d+)"', room.text)[1]  # type: ignore[index]
    saved = post(browser, room.where, version=version, name="Box room", length_m="3.1", width_m="", do="save")
    assert saved.status == 200
    again = browser.get(room.where).text
    assert 'name="length_m" value="3.1"' in again
    assert "Width of the room: missing" in again
    assert "3.1 × ? × ? m" in browser.get(new_job).text


def test_text_in_the_place_of_a_figure_stands_there_with_its_fault_and_the_rest_is_saved(
    browser: TestClient, new_job: str
) -> None:
    room = post(browser, f"{new_job}/rooms", name="Attic", use="study")
    version = re.search(r'name="version" value="(\d+)"', room.text)[1]  # type: ignore[index]
    saved = post(browser, room.where, version=version, name="Attic", length_m="3,x", width_m="2.5", do="save")
    assert saved.status == 200
    assert 'value="3,x"' in saved.text and "&#39;3,x&#39; is not a number" in saved.text
    assert 'name="width_m" value="2.5"' in browser.get(room.where).text


def test_surfaces_are_added_and_taken_out_by_plain_forms(browser: TestClient, new_job: str) -> None:
    room = post(browser, f"{new_job}/rooms", name="Den", use="living").where
    added = post(browser, room, **_fields(browser.get(room).text), do="add:elements")
    assert 'name="elements.0.kind"' in added.text and 'name="elements.rows" value="1"' in added.text
    gone = post(browser, room, **_fields(browser.get(room).text), do="remove:elements.0")
    assert 'name="elements.rows" value="0"' in gone.text


def test_a_room_that_somebody_else_changed_is_not_overwritten_unseen(browser: TestClient, new_job: str) -> None:
    room = post(browser, f"{new_job}/rooms", name="Hall", use="hall").where
    opened = _fields(browser.get(room).text)
    post(browser, room, **{**opened, "length_m": "4"}, do="save")
    clash = post(browser, room, **{**opened, "length_m": "5"}, do="save")
    assert clash.status == 412 and "Somebody else changed this" in clash.text and 'value="5"' in clash.text
    assert 'name="length_m" value="4"' in browser.get(room).text


def test_names_are_escaped_wherever_they_stand(browser: TestClient, new_job: str) -> None:
    name = '<script>alert("1")</script>'
    room = post(browser, f"{new_job}/rooms", name=name, use="hall")
    post(browser, f"{new_job}/customer", label=name, customer=name, address=name)
    for address in (new_job, room.where, f"{new_job}/estimate", "/jobs", f"{new_job}/customer"):
        text = browser.get(address).text
        assert "<script" not in text
        assert "&lt;script&gt;" in text


def test_an_estimate_of_an_incomplete_survey_says_what_is_missing(browser: TestClient, new_job: str) -> None:
    text = browser.get(f"{new_job}/estimate").text
    assert "Not enough is known yet" in text and "No rooms yet" in text
    assert re.search(r'<a href="[^"]*/sections/tariffs">What energy costs</a>: nothing noted yet', text)
    assert "£" not in text


def test_two_rooms_of_one_name_are_said_on_the_job(browser: TestClient, demo_job: str) -> None:
    name = re.search(r'/rooms/[^"]+"><b>([^<]+)</b>', browser.get(demo_job).text)[1]  # type: ignore[index]
    copy = post(browser, f"{demo_job}/rooms", name=html.unescape(name), use="hall").where.partition("?")[0]
    assert "to fill in or check" in browser.get(demo_job).text
    sizes = {"length_m": "3", "width_m": "2", "height_m": "2.4"}
    said = post(browser, copy, **{**_fields(browser.get(copy).text), **sizes}, do="save")
    assert f"another room is called {name} too" in browser.get(copy).text and said.status == 200
    assert f"{name}</a>: another room is called" in browser.get(f"{demo_job}/estimate").text
    version = re.search(r'name="version" value="(\d+)"', browser.get(copy).text)[1]  # type: ignore[index]
    post(browser, f"{copy}/remove", version=version)
    assert "The survey is complete." in browser.get(demo_job).text


def test_a_new_job_needs_a_name_and_a_form_sent_twice_makes_one(browser: TestClient) -> None:
    assert post(browser, "/jobs/new", label=" ").status == 422
    job_id = re.search(r'name="job_id" value="([^"]+)"', browser.get("/jobs/new").text)[1]  # type: ignore[index]
    first = post(browser, "/jobs/new", label="Twice", job_id=job_id)
    second = post(browser, "/jobs/new", label="Twice", job_id=job_id)
    assert first.where == second.where == f"/jobs/{job_id}"


# --- estimate and quote ---


def test_the_sheet_for_the_network_operator_is_on_the_page(browser: TestClient, demo_job: str) -> None:
    household = demo_households()[0]["survey"]
    text = browser.get(f"{demo_job}/estimate").text
    sheet = text.partition("What the form of the network operator asks</summary>")[2].partition("</details>")[0]
    said = dict(re.findall(r'<td class="lead">([^<]+)</td><td class="n" data-l="Value">(.*?)</td>', sheet))
    assert said["Rating of the cut-out"] == f"{household['supply']['cutout_a']:.1f} A"
    assert "not known" in said["Meter point number"] and said["Number of heat pumps"].strip() == "1"
    assert said["Diversity taken for the heat pumps"] == "100 %" and said["Earthing"].startswith("T")


def test_the_bill_is_folded_into_groups_that_add_up_to_the_price(browser: TestClient, demo_job: str) -> None:
    text = browser.get(f"{demo_job}/estimate").text
    group = r'<details class="group"><summary><span>([^<]+)</span><span class="amt">£([0-9,.]+)</span>'
    groups = re.findall(group, text)
    assert "Emitters" in dict(groups) and groups[-1][0] == "Work and what goes with it"
    full_price = re.search(r"Full price.*?£([0-9,.]+)", text, re.S)
    assert full_price is not None
    together = sum(round(float(amount.replace(",", "")) * 100) for _, amount in groups)
    assert together == round(float(full_price[1].replace(",", "")) * 100), "no VAT until 31 March 2027"
    assert "hour by hour</summary>" in text and "<details open>" not in text


def test_the_estimate_page_shows_the_figures_of_the_document(
    browser: TestClient, demo_job: str, settings: Settings
) -> None:
    household = demo_households()[0]["survey"]
    rules = rules_from_folder()
    choices = Choices(priced_on=date(2026, 3, 2))
    document = estimate_document(estimate(Survey.model_validate(household), choices, rules, today=date(2026, 3, 2)))
    text = browser.get(f"{demo_job}/estimate", params={"priced_on": "2026-03-02"}).text
    assert f"<b>{figure(document['design']['heat_loss_w'])} W</b>" in text
    assert text.index(pounds(document["price"]["total_pence"])) < text.index(
        pounds(document["price"]["customer_pays_pence"])
    )
    for line in document["bill"]["lines"]:
        assert html.escape(line["description"]) in text and pounds(line["sell_pence"]) in text
    for room in document["design"]["rooms"]:
        assert f"{figure(room['heat_loss_w'])} W" in text


def test_api_and_command_answer_the_same(
    browser: TestClient, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for household in demo_households():
        body = {"survey": household["survey"], "choices": {"priced_on": "2026-03-02"}}
        (tmp_path / "survey.json").write_text(json.dumps(body), "utf-8")
        assert main(["quote", "--json", str(tmp_path / "survey.json")]) == 0
        said = json.loads(capsys.readouterr().out)
        headers = {"x-csrf-token": csrf_of(browser)}
        answered = browser.post("/api/v1/estimates", json=body, headers=headers).json()
        for document in (said, answered):
            for line in (document["bill"] or {"lines": ()})["lines"]:
                # A pack of 1 is "1" from the file and "1.0000" from the database: the same number.
                line["pack_size"] = float(line["pack_size"])
        assert answered == said


def test_a_flow_temperature_out_of_range_is_refused_in_words(browser: TestClient, demo_job: str) -> None:
    text = browser.get(f"{demo_job}/estimate", params={"flow_temp_c": "90"}).text
    assert "Flow temperature at the coldest: 90 cannot be right: it must be at most 65 °C" in text


def test_who_may_not_see_cost_sees_none(browser: TestClient, demo_job: str, settings: Settings) -> None:
    assert "costs £" in browser.get(f"{demo_job}/estimate").text
    sales = _seller(browser, settings)
    job = post(sales, "/jobs/new", label="Of sales").where
    assert sales.get(demo_job).status_code == 404
    _fill(sales, job, demo_households()[0]["survey"], settings)
    text = sales.get(f"{job}/estimate").text
    assert "Full price" in text and "costs £" not in text and "is margin" not in text


def _seller(like: TestClient, settings: Settings) -> TestClient:
    """A browser of somebody who may not see cost."""
    engine, now = like.app.state.engine, datetime.now(UTC)  # type: ignore[attr-defined]
    user = security.create_user(engine, name="sales", full_name="Sales", role=Role.SALES, password=None, now=now)
    token = security.create_signin_link(engine, settings, user.id, now=now)
    client = TestClient(like.app, follow_redirects=False)
    client.get(f"/sign-in/link?token={token}")
    return client


def _fill(client: TestClient, job: str, survey: dict[str, object], settings: Settings) -> None:
    response = client.put(
        f"/api/v1{job}/survey", content=json.dumps(survey), headers={"content-type": "application/json",
                                                                     "x-csrf-token": csrf_of(client)},
    )  # fmt: skip
    assert response.status_code == 200, response.text


def test_a_quote_is_drafted_accepted_by_name_and_issued_for_good(browser: TestClient, demo_job: str) -> None:
    draft = post(browser, f"{demo_job}/quotes", priced_on="2026-03-02")
    assert re.fullmatch(r"/quotes/[0-9a-f-]{36}", draft.where) and "Draft quote" in draft.text
    codes = re.findall(r'name="(ask\.\d+\.code)" value="([^"]*)"', draft.text)
    wheres = re.findall(r'name="(ask\.\d+\.where)" value="([^"]*)"', draft.text)
    assert codes, "the demo house has something to accept"
    fields = {name: html.unescape(value) for name, value in [*codes, *wheres]}
    silent = post(browser, f"{draft.where}/issue", by="Demo owner", **fields)
    assert silent.status == 422 and "Say for each of them" in silent.text
    reasons = {name.replace("code", "reason"): "seen on site" for name, _ in codes}
    issued = post(browser, f"{draft.where}/issue", by="Demo owner", **fields, **reasons)
    assert issued.status == 200 and "with the customer" in issued.text
    printed = browser.get(f"{draft.where}/print").text
    assert "Quote 20" in printed and "costs £" not in printed
    assert printed.index("Full price") < printed.index("Customer pays")
    assert post(browser, f"{draft.where}/issue", by="Demo owner").status == 409


def test_one_reason_stands_beside_all_that_have_none_and_the_print_says_who_accepted(
    browser: TestClient, demo_job: str
) -> None:
    draft = post(browser, f"{demo_job}/quotes", priced_on="2026-03-02")
    codes = re.findall(r'name="(ask\.\d+\.code)" value="([^"]*)"', draft.text)
    wheres = re.findall(r'name="(ask\.\d+\.where)" value="([^"]*)"', draft.text)
    fields = {name: html.unescape(value) for name, value in [*codes, *wheres]}
    own = {"ask.0.reason": "measured again", "same_reason": "looked at before the works"}
    assert post(browser, f"{draft.where}/issue", by="Demo owner", **fields, **own).status == 200
    printed = browser.get(f"{draft.where}/print").text
    assert printed.count("Accepted by Demo owner: measured again") == 1
    assert printed.count("Accepted by Demo owner: looked at before the works") == len(codes) - 1
    # what the customer reads does not call on somebody of the firm
    assert "What is not settled yet" in printed and "somebody must accept" not in printed
    assert "Together, before VAT" in printed


def test_a_draft_with_a_stop_cannot_be_issued(browser: TestClient, demo_job: str) -> None:
    draft = post(browser, f"{demo_job}/quotes", flow_temp_c="30", emitters="keep")
    assert "This draft cannot be issued" in draft.text and "No price" in draft.text
    assert post(browser, f"{draft.where}/issue", by="Demo owner").status == 409


# --- payments, variations, people ---


def test_an_accepted_quote_takes_a_variation_from_the_page(browser: TestClient, demo_job: str) -> None:
    draft = post(browser, f"{demo_job}/quotes", priced_on="2026-03-02")
    assert "Payments and VAT" in draft.text and "Not included, and who does it" in draft.text
    codes = re.findall(r'name="(ask\.\d+\.code)" value="([^"]*)"', draft.text)
    wheres = re.findall(r'name="(ask\.\d+\.where)" value="([^"]*)"', draft.text)
    fields = {name: html.unescape(value) for name, value in [*codes, *wheres]}
    reasons = {name.replace("code", "reason"): "seen on site" for name, _ in codes}
    assert post(browser, f"{draft.where}/issue", by="Demo owner", **fields, **reasons).status == 200
    accepted = post(browser, f"{draft.where}/answer", do="accept", by="The customer", reason="by telephone")
    assert "Add a variation" in accepted.text
    empty = post(browser, f"{draft.where}/variations", **{"variation.reason": "seized_valves", "note": "two"})
    assert empty.status == 422 and "one at least" in empty.text
    row = {"part.0.sku": "emt-trv", "part.0.quantity": "2", "hours.engineer": "1.5", "note": "two in the hall"}
    varied = post(browser, f"{draft.where}/variations", **{"variation.reason": "seized_valves", **row})
    assert varied.status == 200 and "waits for approval" in varied.text and "Thermostatic valve" in varied.text
    (decide,) = re.findall(rf'action="({draft.where}/variations/[0-9a-f-]+)"', varied.text)
    approved = post(browser, decide, do="approve", by="The customer")
    assert "Order value with the approved variations" in approved.text
    printed = browser.get(f"{draft.where}/print").text
    assert "Your right to change your mind" in printed and "SHA-256" in printed


def test_the_owner_adds_somebody_and_makes_a_key(browser: TestClient) -> None:
    added = post(browser, "/people/users", name="page-kim", full_name="Kim Page", role="sales", password="")
    assert added.status == 200 and "Kim Page" in added.text
    assert post(browser, "/people/users", name="page-kim", full_name="K", role="sales").status == 409
    assert "10 characters" in post(browser, "/people/users", name="z", full_name="Z", role="sales", password="x").text
    key = post(browser, "/people/keys", label="books", role="accounts")
    assert "Shown only now" in key.text and "fk_" in key.text
    (user,) = re.findall(r'action="(/people/users/[0-9a-f-]+)".{0,400}?', added.text.split("Kim Page")[1])[:1]
    linked = post(browser, user, do="link")
    assert "/sign-in/link?token=" in linked.text
    audit = browser.get("/people/audit").text
    assert "Sign in link made" in audit and "Key created" in audit
    assert "{" not in re.sub(r"<[^>]*>", "", audit)


def test_a_customer_is_erased_from_the_page(browser: TestClient) -> None:
    job = post(browser, "/jobs/new", label="9 Erased Lane", customer="Wilma Gone", address="9 Erased Lane").where
    assert "Say why" in post(browser, f"{job}/erase-customer", reason="").text
    gone = post(browser, f"{job}/erase-customer", reason="asked for it")
    assert gone.status == 200 and "Wilma" not in gone.text and "Erased Lane" not in gone.text


def test_the_audit_list_reads_without_programmers_marks() -> None:
    from api.render.wording import noted

    quote_id = "01a21409-60d7-7ff4-bf9e-787773453fb3"
    stood = {"variation": quote_id, "place": 1, "total_pence": 12796, "document_sha256": "ab" * 32, "net_pence": None}
    assert noted(stood) == "place 1; total £127.96; document abababab…; net none"
    assert noted({"fields": ["label", "party"], "firm": True}) == "fields label, party; firm yes"
    assert noted(None) == noted({}) == noted([]) == "" and noted("edit_prices") == "edit prices"
    assert noted(f"user:{quote_id}") == "" and noted("drafted") == "drafted"


def test_jobs_are_found_by_name_customer_and_number(browser: TestClient) -> None:
    job_id = re.search(r'name="job_id" value="([^"]+)"', browser.get("/jobs/new").text)[1]  # type: ignore[index]
    post(browser, "/jobs/new", label="Quince Cottage 100%", customer="Ada Nobody", job_id=job_id)
    number = re.search(r"<h1>(\d+) ·", browser.get(f"/jobs/{job_id}").text)[1]  # type: ignore[index]
    for words in ("quince", "COTTAGE ada", number, "100%", "nobody quince"):
        found = browser.get("/jobs", params={"search": words}).text
        assert f"/jobs/{job_id}" in found, words
    for words in ("quince nobodyelse", "1000%", "_uince"):
        assert "No job holds these words" in browser.get("/jobs", params={"search": words}).text
