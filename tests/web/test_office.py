"""The office on a laptop: prices and rules through the pages, without a script."""

import json
import re
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from pydantic import SecretStr

from api import security
from api.render.wording import edition
from api.services.rule_sets import entries_of, headings_of
from api.settings import Settings
from api.startup import load_demo
from api.store.seed_files import TABLES_OF_KIND, contents_of_folder, demo_households, rules_from_folder
from models.records import Role
from web.app import create_app
from web.rule_tables import edited, laid_over, sheets_of, with_sheet

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)


@pytest.fixture(scope="module")
def signed_in(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Callable[[Role], TestClient]]:
    """Browsers signed in by role, in front of a demo of their own."""
    settings = Settings(
        data_dir=Path(tmp_path_factory.mktemp("office")), database_url=None,
        secret_key=SecretStr("only-for-tests-" * 3), demo_key=None, fixed_now=NOW, log_level="CRITICAL",
    )  # fmt: skip
    app = create_app(settings)
    load_demo(app.state.engine, settings, demo_households(), now=NOW)

    def browser(role: Role) -> TestClient:
        user = security.create_user(
            app.state.engine, name=f"somebody {role} {id(object())}", full_name="Some Body", role=role, password=None,
            now=NOW,
        )  # fmt: skip
        token = security.create_signin_link(app.state.engine, settings, user.id, now=NOW)
        client = TestClient(app, follow_redirects=False)
        assert client.get(f"/sign-in/link?token={token}").status_code == 303
        return client

    with TestClient(app):
        yield browser


@pytest.fixture(scope="module")
def office(signed_in: Callable[[Role], TestClient]) -> TestClient:
    """A browser of somebody in the office."""
    return signed_in(Role.OFFICE)


def seen(client: TestClient, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200, answer.text
    return answer.text


def hidden(html: str, name: str) -> str:
    found = re.search(rf'name="{name}" value="([^"]*)"', html)
    assert found, f"no field {name}"
    return unescape(found.group(1))


def send(client: TestClient, html: str, address: str, **fields: Any) -> Any:
    data = {"csrf": hidden(html, "csrf"), **fields}
    if 'name="edition"' in html:
        data.setdefault("edition", hidden(html, "edition"))
    return client.post(address, data=data)


def follow(client: TestClient, answer: Any) -> str:
    assert answer.status_code == 303, answer.text
    return seen(client, answer.headers["location"])


def list_in_force(client: TestClient) -> str:
    html = seen(client, "/office")
    found = re.search(r'/office/lists/([0-9a-f-]{36})"><b>[^<]*</b><span class="tell">in force since', html)
    assert found, html
    return found.group(1)


def new_draft(client: TestClient) -> str:
    list_id = list_in_force(client)
    html = seen(client, f"/office/lists/{list_id}")
    answer = send(client, html, f"/office/lists/{list_id}/draft")
    return str(answer.headers["location"])


def test_only_those_who_edit_prices_get_in(signed_in: Callable[[Role], TestClient]) -> None:
    for role in (Role.SALES, Role.ACCOUNTS):
        client = signed_in(role)
        assert client.get("/office").status_code == 403
        assert "/office" not in seen(client, "/jobs")
    assert 'href="/office"' in seen(signed_in(Role.OWNER), "/jobs")


def test_a_form_without_its_token_is_refused(office: TestClient) -> None:
    list_id = list_in_force(office)
    for address in (
        f"/office/lists/{list_id}/draft", f"/office/lists/{list_id}/undo", f"/office/lists/{list_id}/publish",
        f"/office/lists/{list_id}/uplift", f"/office/lists/{list_id}/stale", "/office/rules/recipes/draft",
    ):  # fmt: skip
        assert office.post(address, data={}).status_code == 403, address
    file = {"file": ("x.csv", b"sku,cost_gbp\nUNT-060,1\n")}
    assert office.post(f"/office/lists/{list_id}/import", files=file).status_code == 403


def test_a_file_is_shown_ticked_taken_published_and_undone(office: TestClient) -> None:
    list_id = list_in_force(office)
    address = f"/office/lists/{list_id}/import"
    form = seen(office, address)
    rows = ("sku,cost_gbp,description", "UNT-060,2980,Unit <six>", "UNT-080,2930.50,", "UNT-040,£2150,Unit four")
    csv = "\n".join(rows).encode("cp1252")
    shown = office.post(address, data={"csrf": hidden(form, "csrf")}, files={"file": ("spring.csv", csv)})
    assert shown.status_code == 200
    # 2480 to 2980 is 500 of 2480, 20.2 %, by hand.
    assert "20.2 %" in shown.text and "Windows-1252" in shown.text
    assert "has a currency sign" in shown.text and "description must be filled in" in shown.text
    assert "Unit &lt;six&gt;" in shown.text and "<six>" not in shown.text
    text = unescape(re.search(r'aria-label="The file">\n(.*?)</textarea>', shown.text, re.DOTALL).group(1))  # type: ignore[union-attr]
    taken = office.post(
        address,
        data={
            "csrf": hidden(shown.text, "csrf"), "apply": "yes", "edition": hidden(shown.text, "edition"),
            "file_name": "spring.csv", "text": text, "ticked": "UNT-060",
        },
        files={"other": b""},
    )  # fmt: skip
    draft = follow(office, taken)
    assert "import of spring.csv" in draft.lower() and "2,980.00" in draft
    draft_address = taken.headers["location"].split("?")[0]
    published = follow(office, send(office, draft, f"{draft_address}/publish", valid_from="2026-03-02", firm="yes"))
    assert "In force since 2 March 2026" in published
    undone = follow(office, send(office, published, f"{draft_address}/undo"))
    assert "former prices hold again" in undone
    found = seen(office, f"/office/lists/{list_in_force(office)}?search=UNT-060")
    assert "2,480.00" in found and "2,980.00" not in found


def test_a_line_is_changed_and_a_bad_one_explained(office: TestClient) -> None:
    address = new_draft(office)
    form = seen(office, f"{address}/lines/UNT-060")
    bad = send(office, form, f"{address}/lines/UNT-060", cost_gbp="12,50")
    assert bad.status_code == 422 and "cost_gbp" in bad.text and 'value="12,50"' in bad.text
    cells = {"cost_gbp": "2481.55", "substitute": "UNT-080", "ends_on": "2026-05-01"}
    good = send(office, form, f"{address}/lines/UNT-060", **cells)
    html = follow(office, good)
    assert "2,481.55" in html and "UNT-080" in html
    # Somebody else's page is older now: a clash, not a lost change.
    assert send(office, form, f"{address}/lines/UNT-060", cost_gbp="1").status_code == 412


def test_uplift_is_shown_before_it_is_written(office: TestClient) -> None:
    address = new_draft(office)
    html = seen(office, address)
    fields = {"per_cent": "4", "supplier": "", "margin_class": "UNIT", "group": "", "step": "0.05"}
    shown = send(office, html, f"{address}/uplift", **fields)
    # 2480 × 1.04 = 2579.20, by hand.
    assert shown.status_code == 200 and "2,579.20" in shown.text
    assert "2,579.20" not in seen(office, address)
    assert "2,579.20" in follow(office, send(office, shown.text, f"{address}/uplift", apply="yes", **fields))
    assert send(office, html, f"{address}/uplift", per_cent="lots").status_code == 422


def test_stale_prices_are_confirmed_into_a_draft(office: TestClient) -> None:
    list_id = list_in_force(office)
    html = seen(office, f"/office/lists/{list_id}/stale?days=0")
    sku = re.search(r'name="(sku\.[^"]+)"', html).group(1)  # type: ignore[union-attr]
    draft = follow(office, send(office, html, f"/office/lists/{list_id}/stale", **{sku: "yes"}))
    assert "A draft" in draft and sku.removeprefix("sku.") in draft


def test_all_prices_of_a_supplier_are_confirmed_with_one_tick(office: TestClient) -> None:
    list_id = list_in_force(office)
    html = seen(office, f"/office/lists/{list_id}/stale?days=0")
    supplier, count = re.search(r'name="of\.([^"]+)".*?, (\d+) prices', html).groups()  # type: ignore[union-attr]
    fields = {f"of.{unescape(supplier)}": "yes", "days": "0"}
    answer = send(office, html, f"/office/lists/{list_id}/stale", **fields)
    assert "Confirmed, in this draft" in follow(office, answer)
    left = seen(office, answer.headers["location"].split("?")[0] + "/stale?days=0")
    assert int(count) > 5 and f"of.{supplier}" not in left and 'name="of.' in left


def test_rises_that_nobody_ticked_are_said_to_stay(office: TestClient) -> None:
    list_id = list_in_force(office)
    address = f"/office/lists/{list_id}/import"
    csv = "sku,cost_gbp\nUNT-060,9999\nUNT-040,2100\nNOPE,1\n"
    shown = office.post(address, data={"csrf": hidden(seen(office, address), "csrf"), "text": csv}, files={"o": b""})
    assert "the list has no line NOPE; for a new one" in shown.text
    data = {"csrf": hidden(shown.text, "csrf"), "apply": "yes", "edition": hidden(shown.text, "edition"), "text": csv}
    draft = follow(office, office.post(address, data=data, files={"o": b""}))
    assert "rises that nobody ticked: they stay at their old price" in draft and "9,999" not in draft


def test_an_uplift_of_a_published_list_goes_into_a_draft_of_it(office: TestClient) -> None:
    address = f"/office/lists/{list_in_force(office)}"
    fields = {"per_cent": "4", "supplier": "", "margin_class": "UNIT", "group": "", "step": "0.05"}
    shown = send(office, seen(office, address), f"{address}/uplift", **fields)
    answer = send(office, shown.text, f"{address}/uplift", apply="yes", **fields)
    draft = follow(office, answer)
    # 2480 × 1.04 = 2579.20, by hand; the list in force stays.
    assert "A draft" in draft and "2,579.20" in draft and "4 % on all suppliers" in draft
    assert "2,579.20" not in seen(office, f"{address}?search=UNT-060")


def test_a_line_of_a_published_list_leads_to_a_draft_of_it(office: TestClient) -> None:
    address = f"/office/lists/{list_in_force(office)}"
    line = seen(office, f"{address}/lines/UNT-060")
    answer = send(office, line, f"{address}/draft", sku="UNT-060")
    assert answer.headers["location"].endswith("/lines/UNT-060") and address not in answer.headers["location"]
    assert "Save the line" in follow(office, answer)


def test_the_export_is_a_file_without_live_formulas(office: TestClient) -> None:
    answer = office.get(f"/office/lists/{list_in_force(office)}/export")
    assert answer.headers["content-disposition"].startswith("attachment")
    assert not re.search(r'(?:^|,)"?[=+@]', answer.text.removeprefix("\ufeff"), re.MULTILINE)


def rows_of(html: str, key: str) -> dict[str, str]:
    """What a browser posts for an untouched table of a draft."""
    forms = re.findall(r'<form method="post".*?</form>', html, re.DOTALL)
    form = next(one for one in forms if f'value="{key}"' in one)
    fields = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', form))
    fields |= dict(re.findall(r'<input name="([^"]+)" value="([^"]*)"', form))
    for name, options in re.findall(r'<select name="([^"]+)".*?>(.*?)</select>', form):
        fields[name] = re.search(r'value="([^"]*)" selected|$', options)[1] or ""  # type: ignore[index]
    return {name: unescape(value) for name, value in fields.items() if name != "csrf"}


def place_of(fields: dict[str, str], value: str) -> str:
    """The place of the row whose first cell holds a value."""
    return next(name.partition(".")[0] for name, cell in fields.items() if cell == value and name.endswith(".0"))


def rules_draft(office: TestClient, kind: str) -> tuple[str, str]:
    answer = send(office, seen(office, f"/office/rules/{kind}"), f"/office/rules/{kind}/draft")
    return answer.headers["location"], follow(office, answer)


def test_rules_are_edited_row_by_row_tried_and_published(office: TestClient) -> None:
    address, html = rules_draft(office, "stage_plans")
    assert "Deposit at signature, %" in html and "entry" not in html
    fields = rows_of(html, "stages:")
    # The deposit of the firm's files is a quarter, shown as 25 per cent.
    cell = next(name for name, value in fields.items() if value == "25")
    assert "“lots” is no number" in send(office, html, f"{address}/rows", **fields | {cell: "lots"}).text
    broken = send(office, html, f"{address}/rows", **fields | {cell: "200"})
    assert broken.status_code == 422 and 'value="200"' in broken.text
    assert "Deposit at signature is 200 %" in broken.text and "deposit_ratio" not in broken.text
    saved = follow(office, send(office, html, f"{address}/rows", **fields | {cell: "20"}))
    # Saving shows before and after at once: totals stay, since only the stages differ.
    assert "Saved." in saved and "Before and after" in saved and "Nothing changes on any of the" in saved
    assert 'value="20"' in saved
    day = date(2026, 3, 2) + timedelta(days=30)
    done = follow(office, send(office, saved, f"{address}/publish", valid_from=day.isoformat()))
    assert "Published" in done
    put_aside = send(office, done, f"{address}/retire")
    assert put_aside.status_code == 303


def test_a_dearer_hour_shows_what_each_house_would_cost(office: TestClient) -> None:
    address, html = rules_draft(office, "rates")
    fields = rows_of(html, "rates:labour")
    place = place_of(fields, "engineer")
    assert fields[f"{place}.1"] == "30.50" and fields[f"{place}.2"] == "38"
    saved = follow(office, send(office, html, f"{address}/rows", **fields | {f"{place}.1": "32.50"}))
    assert "Alder Row" in saved and re.search(r'class="more">\+£[0-9.]+', saved)
    # £30.50 and £32.50 at a margin of 38 % of the selling price: 49.1935 and 52.4194 an hour, by hand.
    hours = re.search(r"Labour, engineer: £([0-9,.]+) becomes £([0-9,.]+)", saved)
    assert hours is not None
    before, after = (float(one.replace(",", "")) for one in hours.groups())
    assert after / before == pytest.approx(52.4194 / 49.1935, rel=1e-4)
    send(office, saved, f"{address}/retire")


def test_lines_are_added_and_deleted_in_a_register(office: TestClient) -> None:
    address, html = rules_draft(office, "rates")
    fields = rows_of(html, "rates:excluded")
    place = place_of(fields, "Carpets and fitted floors taken up and laid again")
    new = {"new0.shown": "1", "new0.0": "Moving furniture", "new0.1": "the customer"}
    saved = follow(office, send(office, html, f"{address}/rows", **fields | new | {f"{place}.away": "yes"}))
    after = rows_of(saved, "rates:excluded")
    assert "Moving furniture" in after.values()
    assert "Carpets and fitted floors taken up and laid again" not in after.values()
    # The same form again is older than what stands now.
    assert send(office, html, f"{address}/rows", **fields).status_code == 412
    send(office, saved, f"{address}/retire")


def test_what_two_people_typed_into_one_table_is_laid_over_and_neither_is_lost(office: TestClient) -> None:
    address, html = rules_draft(office, "rates")
    mine = rows_of(html, "rates:labour")
    engineer, electrician = place_of(mine, "engineer"), place_of(mine, "electrician")
    theirs = mine | {f"{engineer}.1": "31.00"}
    follow(office, send(office, html, f"{address}/rows", **theirs))
    clash = send(office, html, f"{address}/rows", **mine | {f"{engineer}.1": "33.00", f"{electrician}.1": "41.00"})
    assert clash.status_code == 412 and "Somebody else saved this table meanwhile" in clash.text
    # what the other saved stands beside what was typed; a row that only I changed is mine, unsaved
    assert re.search(r"omebody else saved meanwhile: Cost of an hour, £ 31\.00", unescape(clash.text))
    shown = rows_of(clash.text, "rates:labour")
    assert shown[f"{engineer}.1"] == "33.00" and shown[f"{electrician}.1"] == "41.00"
    assert clash.text.count("our change, not saved yet") == 1
    after = rows_of(follow(office, send(office, clash.text, f"{address}/rows", **shown)), "rates:labour")
    assert after[f"{engineer}.1"] == "33.00" and after[f"{electrician}.1"] == "41.00"
    send(office, seen(office, address), f"{address}/retire")


def test_a_row_that_somebody_else_deleted_or_moved_is_found_again_or_put_in_again() -> None:
    content = {"excluded": {"excluded": [{"what": what, "who": "us"} for what in ("one", "two", "three")]}}
    (old,) = sheets_of(content, headings_of)
    form = {
        f"{row.place}.{end}": value
        for row in old.rows
        for end, value in (("shown", "1"), ("was", row.was), ("0", row.cells[0]), ("1", row.cells[1]))
    }
    now = {"excluded": {"excluded": [{"what": what, "who": "us"} for what in ("zero", "two", "three")]}}
    (newer,) = sheets_of(now, headings_of)
    moved = {"excluded": {"excluded": [{"what": what, "who": "us"} for what in ("new", "one", "two", "three")]}}
    (shifted,) = sheets_of(moved, headings_of)
    laid = laid_over(shifted, form | {"1.1": "them"})
    assert [row.cells for row in laid.rows] == [["new", "us"], ["one", "us"], ["two", "them"], ["three", "us"]]
    assert [row.fault for row in laid.rows] == ["", "", "your change, not saved yet", ""]
    gone = {"excluded": {"excluded": [{"what": "two", "who": "us"}]}}
    (fewer,) = sheets_of(gone, headings_of)
    again = laid_over(fewer, form | {"2.1": "them"})
    assert [row.cells for row in again.rows] == [["two", "us"], ["three", "them"]]
    assert "deleted this row" in again.rows[1].fault and again.rows[1].place == "new0"
    assert laid_over(newer, form).rows == newer.rows


def test_which_task_needs_a_group_of_parts_first_is_edited_and_a_wrong_name_refused(office: TestClient) -> None:
    address, _ = rules_draft(office, "labour_tasks")
    html = seen(office, f"{address}?table=first_used")
    assert "Parts needed first" in html and "Group of the price list" in html
    fields = rows_of(html, "first_used")
    place = place_of(fields, "Fees and notices")
    for column, wrong, said in (("1", "DANCE", "o task is called"), ("0", "Unicorns", "is in a group")):
        bad = send(office, html, f"{address}/rows", **fields | {f"{place}.{column}": wrong})
        assert bad.status_code == 422 and said in bad.text and wrong in bad.text
    saved = follow(office, send(office, html, f"{address}/rows", **fields | {f"{place}.1": "CLOSE-PAPERS"}))
    assert rows_of(saved, "first_used")[f"{place}.1"] == "CLOSE-PAPERS"
    send(office, seen(office, address), f"{address}/retire")


def test_a_wrong_name_in_a_recipe_is_said_beside_its_row_and_nothing_typed_is_lost(office: TestClient) -> None:
    address, _ = rules_draft(office, "recipes")
    html = seen(office, f"{address}?table=recipes&find=controller")
    fields = rows_of(html, "recipes")
    # Only rows that hold the word are on the page, and what a part is stands beside its SKU.
    places = {name.partition(".")[0] for name in fields if name.endswith(".shown") and not name.startswith("new")}
    assert 0 < len(places) < 5 and "Controller with outdoor sensor" in html
    assert "What may stand in the cells" in html and "chosen:cylinder is what the design chose" in html
    place = place_of(fields, "sku:UNT-CTL")
    refused = send(office, html, f"{address}/rows", **fields | {f"{place}.2": "unicorns", f"{place}.3": "7"})
    assert refused.status_code == 422
    marked = refused.text[refused.text.index('<tr class="bad">') :]
    assert marked.index("unicorns") < marked.index("There is no quantity &#39;unicorns&#39;")
    assert 'value="7"' in refused.text
    again = rows_of(refused.text, "recipes") | {f"{place}.2": "one", f"{place}.3": "1"}
    saved = send(office, refused.text, f"{address}/rows", **again)
    assert saved.status_code == 303
    whole = rows_of(seen(office, f"{address}?table=recipes"), "recipes")
    rows = sum(name.endswith(".shown") and not name.startswith("new") for name in whole)
    assert rows == len(rules_from_folder().recipes)
    send(office, seen(office, address), f"{address}/retire")


def test_a_new_recipe_shows_on_every_house_is_published_and_undone(office: TestClient) -> None:
    address, html = rules_draft(office, "recipes")
    fields = rows_of(html, "recipes")
    new = dict(enumerate(["sku:UNT-CTL", "", "one", "1", "1", "0", "0", "whole", "", "", "", "", "", "A spare one"]))
    typed = {"new0.shown": "1"} | {f"new0.{place}": cell for place, cell in new.items()}
    saved = follow(office, send(office, html, f"{address}/rows", **fields | typed))
    # One controller is on each bill already; rows that name the same part add up.
    assert saved.count("1 each becomes 2 each") >= 3
    done = follow(office, send(office, saved, f"{address}/publish", valid_from=NOW.date().isoformat()))
    assert "In force from 2 March 2026" in done and "A spare one" in done
    undone = follow(office, send(office, done, f"{address}/undo"))
    assert "The former version holds again" in undone and "A spare one" not in undone


@pytest.mark.parametrize("kind", list(TABLES_OF_KIND))
def test_an_untouched_table_saves_as_it_was(office: TestClient, kind: str) -> None:
    content = contents_of_folder()[kind]
    for sheet in sheets_of(content, headings_of):
        fields = {f"{row.place}.shown": "1" for row in sheet.rows}
        fields |= {f"{row.place}.{number}": cell for row in sheet.rows for number, cell in enumerate(row.cells)}
        assert with_sheet(content, edited(sheet, fields)) == content, sheet.key
        assert all(column.heading and "_" not in column.heading for column in sheet.columns)


def test_names_in_cells_read_as_words_and_are_taken_back_with_and_without_underscores() -> None:
    tasks = contents_of_folder()["labour_tasks"]
    names = {"driver", "when", "flag", "skills", "services_off", "services_restored"}
    for sheet in sheets_of(tasks, headings_of):
        for number, column in enumerate(sheet.columns):
            if column.field in names:
                assert not any("_" in row.cells[number] for row in sheet.rows), column.field
    sheet = next(one for one in sheets_of(tasks, headings_of) if one.key == "tasks")
    places = {column.field: number for number, column in enumerate(sheet.columns)}
    row = sheet.rows[0]
    row.cells[places["when"]] = "open vented and not wall_mount"
    row.cells[places["services_off"]] = "hot water, cold_water"
    row.cells[places["skills"]] = "fuel registered, unvented"
    stored = with_sheet(tasks, sheet)["tasks"][0]
    assert stored["when"] == "open_vented and not wall_mount"
    assert (stored["services_off"], stored["skills"]) == ("hot_water cold_water", "fuel_registered unvented")


def test_every_value_of_a_document_is_on_some_table(office: TestClient) -> None:
    for kind in ("rates", "stage_plans", "crews", "calendars"):
        content = contents_of_folder()[kind]
        for table, document in content.items():
            if isinstance(document, dict):
                cells = [cell for one in sheets_of(content, headings_of) for row in one.rows for cell in row.cells]
                for entry in entries_of(document):
                    if "_ratio" not in entry["entry"] and entry["value"] not in ("[]", "null"):
                        value = entry["value"].replace("_", " ") if ".skills." in entry["entry"] else entry["value"]
                        assert any(value in cell for cell in cells), entry
                changed = json.loads(json.dumps(document))
                changed["brand_new_entry"] = "x"
                fresh = sheets_of(content | {table: changed}, headings_of)
                assert any(row.cells[0] == "Brand new entry" for one in fresh for row in one.rows)


def test_a_row_that_names_something_unknown_is_refused_with_its_row(office: TestClient) -> None:
    answer = send(office, seen(office, "/office/rules/recipes"), "/office/rules/recipes/draft")
    address = answer.headers["location"]
    html = follow(office, answer)
    csv = unescape(re.search(r'name="csv"[^>]*>\n(.*?)</textarea>', html, re.DOTALL).group(1))  # type: ignore[union-attr]
    first, second, *rest = csv.splitlines()
    broken = "\n".join([first, second.replace(",units,", ",unicorns,"), *rest])
    refused = send(office, html, f"{address}/tables/recipes", csv=broken)
    assert refused.status_code == 422
    assert "row 2: there is no quantity &#39;unicorns&#39;" in refused.text


@pytest.mark.parametrize(
    ("stored", "read", "named"),
    [
        ("prices-0012", "no. 12", "price list no. 12"),
        ("labour_tasks-0001", "no. 1", "labour tasks no. 1"),
        ("Seed-793d4da34307 again, in place of prices-0001.", "as delivered (793d) again, in place of no. 1.", None),
        ("rates-seed-92e052b33f4b", "as delivered (92e0)", "rates as delivered (92e0)"),
        ("firm-0002", "no. 2", "firm no. 2"),
        ("Import of spring-2026.csv", "Import of spring-2026.csv", "Import of spring-2026.csv"),
    ],
)
def test_a_version_reads_as_people_number_it(stored: str, read: str, named: str | None) -> None:
    assert edition(stored) == read and (named is None or edition(stored, named=True) == named)


def test_no_page_of_the_office_shows_the_names_that_programs_give_versions(office: TestClient) -> None:
    for address in ("/office", "/office/rules/labour_tasks", new_draft(office), rules_draft(office, "crews")[0]):
        shown = re.sub(r"<[^>]*>", " ", seen(office, address))
        assert not re.search(r"seed-[0-9a-f]{6}|prices-\d{4}|labour_tasks|crews-", shown), address
