"""The office on a laptop of 1280 × 800, in a real browser without JavaScript: prices, rules and a quote by clicking."""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

CHROMIUM = "/usr/bin/chromium"
FLAGS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def laptop(address: tuple[str, str]) -> Iterator[Any]:
    """A page of a laptop, signed in by the link."""
    if not Path(CHROMIUM).exists() and shutil.which("chromium") is None:
        if os.environ.get("FOOTING_BROWSER_REQUIRED"):
            pytest.fail("a browser is required and chromium is not installed")
        pytest.skip("chromium is not installed")
    from playwright.sync_api import sync_playwright

    root, token = address
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        page = browser.new_context(viewport={"width": 1280, "height": 800}, java_script_enabled=False).new_page()
        page.set_default_timeout(20_000)
        page.goto(f"{root}/sign-in/link?token={token}")
        yield page
        browser.close()


def open_office(page: Any, root: str, words: str) -> None:
    page.goto(f"{root}/office")
    page.click(f"main .list a:has-text('{words}')")


def test_prices_of_a_file_are_looked_at_taken_published_and_undone(
    laptop: Any, address: tuple[str, str], tmp_path: Path
) -> None:
    (tmp_path / "spring.csv").write_text("sku,cost_gbp\nUNT-080,3600.00\nEMT-P15,3.30\nCYL-180,wrong\n", "utf-8")
    laptop.goto(f"{address[0]}/office")
    laptop.click("main .list a >> nth=0")
    laptop.click("text=Import a file")
    laptop.set_input_files("#file", str(tmp_path / "spring.csv"))
    laptop.click("text=Show what it would change")
    # 2920 to 3600 is 680 of 2920, 23.3 %, by hand.
    assert "23.3 %" in laptop.content() and "CYL-180" in laptop.inner_text("table >> nth=0")
    laptop.check("[name=ticked][value=UNT-080]")
    laptop.click("text=Take it into a new draft")
    assert "3,600.00" in laptop.content()
    laptop.click("form#publish button")
    assert "The list is published" in laptop.inner_text("[role=status]")
    laptop.fill("#search", "UNT-080")
    laptop.click("text=Search")
    assert "3,600.00" in laptop.inner_text("table")
    laptop.click("text=Undo")
    laptop.fill("#search", "UNT-080")
    laptop.click("text=Search")
    assert "2,920.00" in laptop.inner_text("table")


def test_a_rate_is_changed_seen_before_and_after_and_published(laptop: Any, address: tuple[str, str]) -> None:
    open_office(laptop, address[0], "Rates and margins")
    laptop.click("text=Make a draft")
    hour = "form:has(input[value='rates:labour'])"
    cost = laptop.locator(f"{hour} tr:has(input[value='engineer']) input[name$='.1']")
    assert cost.input_value() == "30.50"
    cost.fill("31,50")
    laptop.click(f"{hour} .acts button")
    assert "31,50" in laptop.inner_text(f"{hour} tr.why")
    laptop.locator(f"{hour} tr.bad input[name$='.1']").fill("31.50")
    laptop.click(f"{hour} .acts button")
    assert "Before and after" in laptop.inner_text("#effect") and "+£" in laptop.content()
    laptop.click("form[action$='/publish'] button")
    assert "Published" in laptop.inner_text("[role=status]") and "31.50" in laptop.content()


def test_the_firm_is_changed_seen_before_and_after_and_published(laptop: Any, address: tuple[str, str]) -> None:
    open_office(laptop, address[0], "Our firm")
    laptop.click("text=Make a draft")
    laptop.fill("#telephone", "01632 960002")
    laptop.click("text=Save our firm")
    assert "Telephone: 01632 960417 becomes 01632 960002" in laptop.inner_text("main")
    assert laptop.locator(".two .letterhead").count() == 2
    laptop.click("form[action$='/publish'] button")
    assert "Published" in laptop.inner_text("[role=status]") and "01632 960002" in laptop.inner_text(".letterhead")
    assert laptop.evaluate("document.scrollingElement.scrollWidth") <= 1280


def test_a_long_table_is_searched_and_a_row_deleted(laptop: Any, address: tuple[str, str]) -> None:
    open_office(laptop, address[0], "Calendars")
    laptop.click("text=Make a draft")
    if laptop.locator("#find").count() == 0:
        laptop.click("nav.parts a")
    laptop.fill("#find", "scotland 2026")
    laptop.click("text=Find")
    rows = laptop.locator("tbody tr:has(input[name$='.away'])").count()
    assert 0 < rows < 30
    laptop.check("input[name$='.away'] >> nth=0")
    laptop.click("form[action*='/rows'] .acts button")
    assert "Saved." in laptop.inner_text("[role=status]")
    assert laptop.locator("tbody tr:has(input[name$='.away'])").count() == rows - 1


def test_a_quote_is_revised_and_the_difference_is_said(laptop: Any, address: tuple[str, str]) -> None:
    laptop.goto(f"{address[0]}/jobs")
    laptop.click("main .list a >> nth=-1")
    laptop.click("main a:text-is('Estimate')")
    laptop.click("text=Draft a quote from this")
    for reason in laptop.query_selector_all("input[name$='.reason']"):
        reason.fill("seen on site")
    laptop.click("form[action$='/issue'] button")
    first = laptop.inner_text("h1")
    laptop.click("text=Revise it")
    laptop.click("summary:has-text('Choices')")
    laptop.fill("[name=flow_temp_c]", "54")
    laptop.click("text=Work it out >> nth=0")
    laptop.click("text=Draft a quote from this")
    assert first.removeprefix("Quote ") in laptop.inner_text("details:has-text('What changed since') summary >> nth=0")
    assert laptop.locator("details:has-text('What changed since') li").count() > 1
    laptop.click("form[action$='/issue'] button")
    assert laptop.inner_text("h1").startswith(f"{first.rsplit('-', 1)[0]}")


def test_office_pages_need_no_sideways_scroll(laptop: Any, address: tuple[str, str]) -> None:
    for path in ("/office", "/office/rules/recipes", "/people", "/people/audit", "/jobs"):
        laptop.goto(f"{address[0]}{path}")
        assert laptop.evaluate("document.scrollingElement.scrollWidth") <= 1280, path
