"""The sheet for the network operator: reachable, complete, sealed with the quote; and the loads on the supply form."""

import html
import re

import pytest
from fastapi.testclient import TestClient


def csrf_of(client: TestClient) -> str:
    found = re.search(r'name="csrf" value="([^"]+)"', client.get("/jobs/new").text)
    assert found is not None
    return found[1]


def job_called(client: TestClient, name: str) -> str:
    """The address of the demo house of this name."""
    found = re.search(rf'<a href="(/jobs/[0-9a-f-]{{36}})">(?:(?!</a>).)*{name}', client.get("/jobs").text, re.S)
    assert found is not None
    return found[1]


@pytest.fixture(scope="module")
def weir(browser: TestClient) -> str:
    """The demo house whose demand is summed from its loads."""
    return job_called(browser, "Weir Cottages")


def values(text: str) -> dict[str, str]:
    """What stands in the rows of a sheet, by what was asked."""
    cells = re.findall(r'<td class="lead">([^<]+)</td><td class="n[^"]*" data-l="Value">(.*?)</td>', text, re.S)
    return {html.unescape(what): re.sub(r"<[^>]+>", "", value).strip() for what, value in cells}


def test_the_sheet_is_a_page_of_its_own_with_its_cautions(browser: TestClient, weir: str) -> None:
    text = browser.get(f"{weir}/estimate").text
    assert f'href="{weir}/network"' in text and f'href="{weir}/network"' in browser.get(weir).text
    sheet = browser.get(f"{weir}/network")
    assert sheet.status_code == 200
    said = values(sheet.text)
    # 300 W / 230 V x 66 % + 32 A + 1500 W / 230 V = 39.4 A; without the heater that goes, with 9.5 A of the unit and
    # 3000 W / 230 V of the immersion heater 55.4 A, at 230 V 12.7 kVA
    assert said["Greatest demand of today, after diversity"] == "39.4 A"
    assert said["Greatest demand with the heat pumps"] == "55.4 A"
    assert said["The same on one phase"] == "12.7 kVA"
    assert said["Meter point number"] == "to be filled in"
    assert "summed from the loads" in sheet.text and "heater in the bathroom" in sheet.text
    assert "none left" in sheet.text, "the heater goes"
    for caution in ("not the operator&#39;s form", "registered electrician", "Nobody but the operator opens a cut-out"):
        assert caution in sheet.text or html.unescape(caution) in sheet.text
    assert "Tell the operator after commissioning" in sheet.text and "28 days" in sheet.text
    assert "Signature" in sheet.text and "£" not in sheet.text, "no price goes to the operator"


def test_the_choices_of_the_estimate_hold_on_the_sheet(browser: TestClient, weir: str) -> None:
    said = values(browser.get(f"{weir}/network?outdoor_unit_sku=UNT-110").text)
    assert "11" in said["Heat pump"]
    other = values(browser.get(f"{weir}/network").text)
    assert said["Greatest demand with the heat pumps"] != other["Greatest demand with the heat pumps"]
    dated = browser.get(f"{weir}/network?works_start_on=2027-02-01").text
    # a Monday; the works take some days of that week
    assert re.search(r"<dt>Last day of the works</dt><dd>[1-5] February 2027</dd>", dated)
    assert "<dt>Last day of the works</dt><dd></dd>" in browser.get(f"{weir}/network").text, "no day is agreed"


def test_a_quote_has_the_sheet_with_the_address_of_the_customer(browser: TestClient, weir: str) -> None:
    token = csrf_of(browser)
    saved = browser.post(
        f"{weir}/customer",
        data={"csrf": token, "name": "A. Householder", "address": "2 Invented Lane", "contact": "",
              "label": "Weir Cottages: two-bed terrace with a combi"},
    )  # fmt: skip
    assert saved.status_code in (200, 303)
    drafted = browser.post(f"{weir}/quotes", data={"csrf": token})
    at = drafted.headers["location"]
    assert f'href="{at}/network"' in browser.get(at).text
    sheet = browser.get(f"{at}/network")
    assert sheet.status_code == 200 and values(sheet.text)["Address"] == "2 Invented Lane"


def test_an_incomplete_survey_has_no_sheet(browser: TestClient) -> None:
    smallest = browser.post("/jobs/new", data={"csrf": csrf_of(browser), "label": "Nothing known"}).headers["location"]
    assert browser.get(f"{smallest}/network").status_code == 422, "the survey is not complete"
    assert "/network" not in browser.get(smallest).text


def test_loads_are_typed_without_a_script(browser: TestClient, weir: str) -> None:
    at = f"{weir}/sections/supply"
    text = browser.get(at).text
    assert "What draws from the supply today" in text and "ring round the house" in text
    form = dict(re.findall(r'<input[^>]*name="([^"]+)"[^>]*?value="([^"]*)"', text))
    form |= {
        select[0]: chosen[0]
        for select in re.findall(r'<select id="[^"]+" name="([^"]+)">(.*?)</select>', text, re.S)
        if (chosen := re.findall(r'<option value="([^"]*)" selected', select[1]))
    }
    for box in re.findall(r'<input type="checkbox" name="([^"]+)" value="yes"(?! checked)>', text):
        form.pop(box, None)
    form = {name: html.unescape(value) for name, value in form.items()}
    added = browser.post(at, data=form | {"do": "add:loads"})
    while added.status_code == 303:
        added = browser.get(added.headers["location"])
    assert 'name="loads.3.kind"' in added.text and "cooker, hob or oven" in added.text
    version = re.search(r'name="version" value="(\d+)"', added.text)
    assert version is not None
    more = form | {
        "version": version[1], "loads.rows": "4", "loads.3.kind": "shower", "loads.3.rated_kw": "9.2",
        "loads.3.count": "1", "loads.3.goes.shown": "1", "do": "save",
    }  # fmt: skip
    saved = browser.post(at, data=more)
    while saved.status_code == 303:
        saved = browser.get(saved.headers["location"])
    # 9.2 kW / 230 V = 40 A more
    assert values(browser.get(f"{weir}/network").text)["Greatest demand of today, after diversity"] == "79.4 A"
    again = browser.get(at).text
    version = re.search(r'name="version" value="(\d+)"', again)
    assert version is not None
    gone = browser.post(at, data=more | {"version": version[1], "do": "remove:loads.3"})
    while gone.status_code == 303:
        gone = browser.get(gone.headers["location"])
    version = re.search(r'name="version" value="(\d+)"', gone.text)
    assert version is not None
    browser.post(at, data=form | {"version": version[1], "loads.rows": "3", "do": "save"})
    assert values(browser.get(f"{weir}/network").text)["Greatest demand of today, after diversity"] == "39.4 A"
