"""The life of a quote on its page: what changed, what was accepted before, who did what, a variation and its value."""

import html
import re
from typing import Any

import pytest
from fastapi.testclient import TestClient

JOB = re.compile(r'href="(/jobs/[0-9a-f-]{36})"')


def csrf_of(client: TestClient) -> str:
    return re.search(r'name="csrf" value="([^"]+)"', client.get("/jobs").text)[1]  # type: ignore[index]


def posted(client: TestClient, address: str, **fields: str) -> Any:
    answer = client.post(address, data={"csrf": csrf_of(client), **fields})
    return client.get(answer.headers["location"]) if answer.status_code == 303 else answer


def reasons_of(text: str) -> dict[str, str]:
    fields = dict(re.findall(r'name="(ask\.\d+\.(?:code|where))" value="([^"]*)"', text))
    fields |= dict(re.findall(r'name="(ask\.\d+\.reason)" maxlength="500" value="([^"]*)"', text))
    return {name: html.unescape(value) for name, value in fields.items()}


def issued(client: TestClient, draft: Any) -> Any:
    fields = reasons_of(draft.text)
    fields = {name: value or "looked at on site" for name, value in fields.items()}
    return posted(client, f"{draft.url.path}/issue", by="Demo Owner", **fields)


@pytest.fixture(scope="module")
def job(browser: TestClient) -> str:
    return list(dict.fromkeys(JOB.findall(browser.get("/jobs").text)))[-3]


def test_a_revision_says_what_changed_and_keeps_the_reasons_given_before(browser: TestClient, job: str) -> None:
    first = issued(browser, posted(browser, f"{job}/quotes", flow_temp_c="45"))
    assert first.status_code == 200 and "With the customer" in first.text
    number = re.search(r"<h1>Quote (2\d{3}-\d{4}[-\d]*)</h1>", first.text)[1]  # type: ignore[index]
    revise = html.unescape(re.search(r'href="([^"]+)">Revise it', first.text)[1])  # type: ignore[index]
    assert revise == f"{job}/estimate?flow_temp_c=45"
    second = posted(browser, f"{job}/quotes", flow_temp_c="50")
    assert f'What changed since <a href="{first.url.path}">{number}</a>' in second.text
    changes = second.text[second.text.index("What changed since") : second.text.index("Issue it")]
    assert changes.count("<li>") > 1 and "£" in changes and "Nothing differs" not in changes
    # A finding that was accepted before brings its reason along; somebody still accepts it again by name.
    assert f"as said in {number}" in second.text
    assert "looked at on site" in reasons_of(second.text).values()
    replaced = issued(browser, second)
    assert "With the customer" in replaced.text
    assert "Replaced by a later quote" in browser.get(first.url.path).text


def test_a_reason_that_is_lacking_is_marked_where_it_is_lacking(browser: TestClient, job: str) -> None:
    draft = posted(browser, f"{job}/quotes", flow_temp_c="45")
    fields = {name: "" if name.endswith("reason") else value for name, value in reasons_of(draft.text).items()}
    refused = posted(browser, f"{draft.url.path}/issue", by="Demo Owner", **fields)
    assert refused.status_code == 422 and "Say for each of them why" in refused.text
    assert refused.text.count('class="f bad"') == sum(name.endswith("reason") for name in fields)


def test_a_discount_of_the_estimate_is_that_of_the_quote_and_of_its_revision(browser: TestClient, job: str) -> None:
    text = browser.get(f"{job}/estimate", params={"discount_ratio": "4"}).text
    form = re.search(r'<form method="post" action="[^"]+/quotes">.*?</form>', text, re.DOTALL)[0]  # type: ignore[index]
    fields = dict(re.findall(r'name="([^"]+)" value="([^"]*)"', form))
    fields.pop("csrf")
    draft = posted(browser, f"{job}/quotes", **fields)
    for page in (text, draft.text):
        assert "<span>Discount</span>" in page and "4 % of £" in page
    quote = issued(browser, draft)
    revise = html.unescape(re.search(r'href="([^"]+)">Revise it', quote.text)[1])  # type: ignore[index]
    assert revise.endswith("discount_ratio=4") and "4 % of £" in browser.get(revise).text


def test_what_happened_and_who_approved_a_variation_is_on_the_page(browser: TestClient, job: str) -> None:
    quote = issued(browser, posted(browser, f"{job}/quotes", flow_temp_c="45"))
    at = quote.url.path
    accepted = posted(browser, f"{at}/answer", by="Mrs Invented", reason="by telephone", do="accept")
    history = accepted.text[accepted.text.index("What happened") :]
    assert "Issued by" in history and "Accepted by Mrs Invented: by telephone" in history
    assert "looked at on site" in history
    fields = {"variation.reason": "seized_valve", "note": "isolating valve seized", "part.0.sku": "emt-p15",
              "part.0.quantity": "4", "hours.engineer": "1.5"}  # fmt: skip
    choices = re.findall(r'<select id="vr".*?</select>', accepted.text, re.DOTALL)[0]
    fields["variation.reason"] = re.search(r'value="([^"]+)"', choices)[1]  # type: ignore[index]
    priced = posted(browser, f"{at}/variations", **fields)
    assert "waits for approval" in priced.text
    before = re.search(r'full"><span>Full price.*?(£[0-9,.]+)<', priced.text, re.DOTALL)[1]  # type: ignore[index]
    together = re.findall(r'Together</td><td class="n" data-l="Price">(£[0-9,.]+)</td>', priced.text)[0]
    decide = re.search(rf'action="({at}/variations/[^"]+)"', priced.text)[1]  # type: ignore[index]
    done = posted(browser, decide, by="Mrs Invented", reason="agreed on site", do="approve")
    pence = [int(amount.strip("£").replace(",", "").replace(".", "")) for amount in (before, together)]
    value = re.search(r"approved variations: £([0-9,.]+)", done.text)[1]  # type: ignore[index]
    assert int(value.replace(",", "").replace(".", "")) == sum(pence)
    assert "Approved by Mrs Invented" in done.text and before in done.text


def test_the_sealed_files_are_on_the_page_of_an_issued_quote_only(browser: TestClient) -> None:
    # Of a job that no other test here accepts a quote of.
    job = list(dict.fromkeys(JOB.findall(browser.get("/jobs").text)))[-1]
    draft = posted(browser, f"{job}/quotes")
    assert ".pdf" not in draft.text
    refused = browser.get(f"{draft.url.path}.pdf")
    assert refused.status_code == 409 and "issue it first" in refused.text and "<html" in refused.text
    quote = issued(browser, draft)
    for suffix, begins in (("pdf", b"%PDF-"), ("ubl.xml", b"<?xml "), ("csv", b"\xef\xbb\xbfquote_number,")):
        assert f'href="{quote.url.path}.{suffix}"' in quote.text
        file = browser.get(f"{quote.url.path}.{suffix}")
        assert file.status_code == 200 and file.content.startswith(begins)
        assert file.headers["content-disposition"].startswith('attachment; filename="quote-2')
        assert file.headers["content-security-policy"].startswith("default-src 'none'")
