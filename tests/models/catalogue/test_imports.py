"""A supplier's file against a list: every case that comes from a real office, read and refused in the right words."""

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from time import process_time

import pytest
from hypothesis import given, settings, strategies as st

from models.catalogue import PriceLine
from models.catalogue.imports import (
    ImportPlan,
    UnreadableFile,
    Uplift,
    export_csv,
    plan_import,
    read_table,
    safe_cell,
    stale_lines,
    uplifted,
)

TODAY = date(2026, 3, 2)
HEAD = (
    "sku,group,description,unit,pack_size,cost_gbp,supplier,supplier_code,lead_time_days,held,margin_class,vat_class,"
    "sales_nominal,charged_by"
)


def line(sku: str = "ELB-28", **changed: object) -> PriceLine:
    values: dict[str, object] = {
        "sku": sku, "group": "Pipe", "description": "Elbow 28 mm", "unit": "each", "pack_size": "25",
        "cost_gbp": "2.4000", "supplier": "Fenwold", "supplier_code": "F1", "lead_time_days": 2, "held": "stock",
        "margin_class": "PIPE", "vat_class": "installed", "sales_nominal": "4001", "charged_by": "measure",
    }  # fmt: skip
    return PriceLine.model_validate(values | changed)


def row(sku: str = "NEW-1", cost: str = "3.10", unit: str = "each", description: str = "Bracket") -> str:
    return f"{sku},Pipe,{description},{unit},1,{cost},Fenwold,F9,2,stock,PIPE,installed,4001,pack"


def planned(text: str | bytes, *present: PriceLine) -> ImportPlan:
    data = text.encode() if isinstance(text, str) else text
    return plan_import(read_table(data), {one.sku: one for one in present}, read_on=TODAY)


def reason(text: str | bytes, *present: PriceLine) -> str:
    plan = planned(text, *present)
    assert not plan.added and not plan.changed, plan
    (only,) = plan.rejected
    return f"{only.row}: {only.reason}"


def test_added_changed_unchanged_and_untouched() -> None:
    plan = planned("sku,cost_gbp\nELB-28,2.52\nTEE-28,4.0000\n", line(), line("TEE-28", cost_gbp="4"), line("CAP-28"))
    (change,) = plan.changed
    # 2.40 to 2.52 is 0.12 of 2.40, 5 %, by hand.
    assert (change.row, change.line.sku, change.change_ratio) == (2, "ELB-28", Decimal("0.05"))
    assert change.fields == (("cost_gbp", "2.4000", "2.5200"), ("priced_on", "", "2026-03-02"))
    assert not change.needs_tick
    assert plan.unchanged == ("TEE-28",)
    assert plan.untouched == 1
    assert [one.line.sku for one in planned(f"{HEAD}\n{row()}\n").added] == ["NEW-1"]


@pytest.mark.parametrize(
    ("cost", "needs"),
    # 15 % on 2.40 is 0.36, so 2.76 is exactly 15 % and 2.7601 is above it, by hand.
    [("2.76", False), ("2.7601", True), ("1.00", False)],
)
def test_a_rise_above_15_per_cent_needs_a_tick(cost: str, needs: bool) -> None:
    plan = planned(f"sku,cost_gbp\nELB-28,{cost}\n", line())
    assert [change.needs_tick for change in plan.changed] == [needs]
    assert bool(plan.taken(frozenset())) is not needs
    assert [one.sku for one in plan.taken(frozenset({"ELB-28"}))] == ["ELB-28"]


def test_a_rise_from_nothing_needs_a_tick() -> None:
    (change,) = planned("sku,cost_gbp\nELB-28,0.01\n", line(cost_gbp="0")).changed
    assert change.needs_tick and change.change_ratio is None


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (f"{HEAD}\n{row(unit='ell')}\n", "2: unit 'ell' is not known"),
        (f"{HEAD}\n{row(cost='-3.10')}\n", "2: cost_gbp -3.10 is below nothing, and the line is no credit"),
        (f'{HEAD}\n{row(cost=chr(34) + "3,10" + chr(34))}\n', "2: cost_gbp '3,10' has a comma"),
        (f'{HEAD}\n{row(cost=chr(34) + "1,234.50" + chr(34))}\n', "2: cost_gbp '1,234.50' has a comma"),
        (f"{HEAD}\n{row(cost='£3.10')}\n", "2: cost_gbp '£3.10' has a currency sign"),
        (f"{HEAD}\n{row(cost='3.10 GBP')}\n", "2: cost_gbp '3.10 GBP' has a currency sign"),
        (f"{HEAD}\n{row(cost='=2+1')}\n", "2: cost_gbp '=2+1' is a formula"),
        (f"{HEAD}\n{row(cost='+3.10')}\n", "2: cost_gbp '+3.10' is not a number"),
        (f"{HEAD}\n{row(cost='3.10001')}\n", "2: cost_gbp '3.10001': decimal input should have no more than 4"),
        (f"{HEAD}\n{row(cost='NaN')}\n", "2: cost_gbp 'NaN' is not a number"),
        (f"{HEAD}\n{row(cost='1e3')}\n", "2: cost_gbp '1e3' is not a number"),
        (f"{HEAD}\n{row(cost='')}\n", "2: cost_gbp must be filled in"),
        (f"{HEAD}\n\n\n{row(description='=HYPERLINK(1)')}\n", "4: description '=HYPERLINK(1)' is a formula"),
        (f"{HEAD}\n{row(description='+cmd')}\n", "2: description '+cmd' is a formula"),
        (f"{HEAD}\n{row(description='-cmd')}\n", "2: description '-cmd' is a formula"),
        (f"{HEAD}\n{row(description='@SUM(A1)')}\n", "2: description '@SUM(A1)' is a formula"),
        (f"{HEAD}\n{row(description=chr(9) + '=1')}\n", "2: description '\\t=1' is a formula"),
        (f"{HEAD}\n{row(sku='new 1')}\n", "2: sku 'new 1': string should match"),
        ("sku,cost_gbp\nNEW-1,3.10\n", "2: the list has no line NEW-1; for a new one group, description, unit"),
        (f"{HEAD}\n{row()},more\n", "2: there are more cells than headings"),
    ],
)
def test_rows_that_are_not_taken_say_why(text: str, said: str) -> None:
    assert reason(text).startswith(said)


def test_a_sku_that_stands_twice_is_taken_from_neither_row() -> None:
    plan = planned("sku,cost_gbp\nELB-28,2.50\nTEE-28,4.10\nELB-28,2.60\n", line(), line("TEE-28"))
    assert [(one.row, one.sku) for one in plan.rejected] == [(2, "ELB-28"), (4, "ELB-28")]
    assert "rows 2 and 4" in plan.rejected[0].reason
    assert [change.line.sku for change in plan.changed] == ["TEE-28"]


def test_a_credit_may_be_negative_and_nothing_else() -> None:
    credit = line("SCRAP", cost_gbp="-35")
    assert len(planned("sku,cost_gbp\nSCRAP,-40\n", credit).changed) == 1
    assert "no credit" in reason("sku,cost_gbp\nELB-28,-2.40\n", line())
    assert len(planned(f"{HEAD}\n{row(cost='-5', description='Credit for returned cable')}\n").added) == 1


@pytest.mark.parametrize(
    ("data", "encoding"),
    [
        ("sku,description\nELB-28,Elbow ½ inch\n".encode(), "UTF-8"),
        ("\ufeffsku,description\nELB-28,Elbow ½ inch\n".encode(), "UTF-8 with a byte-order mark"),
        ("sku,description\nELB-28,Elbow ½ inch\n".encode("cp1252"), "Windows-1252"),
        ("sku,description\nELB-28,Elbow ½ inch\n".encode("utf-16"), "UTF-16"),
        ("sku;description\r\nELB-28;Elbow ½ inch\r\n".encode("cp1252"), "Windows-1252"),
        ("SKU\tDescription\nELB-28\tElbow ½ inch\n".encode(), "UTF-8"),
    ],
)
def test_however_a_spreadsheet_saved_it(data: bytes, encoding: str) -> None:
    plan = planned(data, line())
    assert plan.encoding == encoding
    assert [change.line.description for change in plan.changed] == ["Elbow ½ inch"]


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "empty"),
        (b"sku,price\n", "there is no column price"),
        (b"cost_gbp\n1\n", "the column sku must be there"),
        (b"sku,sku\n", "stands twice"),
        (b"sku,cost_gbp\nELB-28,2\nTEE-28,\x81\n", "row 3: a byte is neither UTF-8 nor Windows-1252"),
        (b'sku,cost_gbp\nELB-28,"2\n', "not CSV"),
    ],
)
def test_files_that_are_no_table_of_prices(data: bytes, said: str) -> None:
    with pytest.raises(UnreadableFile, match=said):
        read_table(data)


def test_the_same_file_twice_changes_nothing() -> None:
    text = f"{HEAD}\n{row()}\n{row('ELB-28', '2.50')}\n"
    first = planned(text, line())
    after = {one.sku: one for one in first.taken(frozenset())}
    again = plan_import(read_table(text.encode()), after, read_on=date(2026, 4, 1))
    assert len(after) == 2
    assert again.changes_nothing and not again.rejected


_LETTERS = st.characters(min_codepoint=32, max_codepoint=0x2FF, exclude_characters="\x7f")
_TEXT = st.text(_LETTERS, min_size=1, max_size=30)


@settings(max_examples=200)
@given(
    description=_TEXT.map(str.strip).filter(lambda text: text.strip(" \u00a0\n")[:1] == text[:1] != ""),
    cost=st.decimals(min_value=-999, max_value=99999, places=4),
    ends_on=st.none() | st.dates(),
)
def test_an_export_reads_back_without_a_change_and_holds_no_live_formula(
    description: str, cost: Decimal, ends_on: date | None
) -> None:
    description = description.strip(" \u00a0\n") or "x"
    there = line(description=description, cost_gbp=cost, ends_on=ends_on, attributes={"od_mm": Decimal(28)})
    data = export_csv([there])
    table = read_table(data)
    for _, cells in table.rows:
        for cell in cells:
            # What starts a formula in a spreadsheet: OWASP, "CSV injection", from memory. A plain number is none.
            assert not cell.startswith(("=", "+", "@", "\t", "\r"))
            assert not cell.startswith("-") or float(cell) < 0
    plan = plan_import(table, {there.sku: there}, read_on=TODAY)
    assert plan.unchanged == (there.sku,), plan


def test_cells_are_guarded() -> None:
    cells = {"=1": "'=1", "-x": "'-x", "-1.5": "-1.5", "a=1": "a=1", "'x": "''x", "": ""}
    assert {cell: safe_cell(cell) for cell in cells} == cells


def test_50_000_rows_take_seconds(say: Callable[[str], None]) -> None:
    """A bound so wide that only a change of order can break it; the figure stands at the end of the run."""
    present = {f"S-{number}": line(f"S-{number}") for number in range(50_000)}
    rows = [row(f"S-{number}", "2.50") if number % 2 else f"S-{number},Pipe,Elbow 28 mm,each,25,2.4000,Fenwold,F1,2,"
            "stock,PIPE,installed,4001,measure" for number in range(50_000)]  # fmt: skip
    data = "\n".join([HEAD, *rows]).encode()
    started = process_time()
    plan = plan_import(read_table(data), present, read_on=TODAY)
    took_s = process_time() - started
    say(f"import of 50,000 rows: {took_s:.2f} s")
    assert (len(plan.changed), len(plan.unchanged)) == (25_000, 25_000)
    assert took_s < 30


# --- uplift ---


@pytest.mark.parametrize(
    ("step", "cost"),
    # 2.40 × 1.043 = 2.5032, by hand: kept, to the penny, to 5p, to 10p.
    [("0.0001", "2.5032"), ("0.01", "2.50"), ("0.05", "2.50"), ("0.10", "2.50"), ("1", "3")],
)
def test_uplift_rounds_to_the_step(step: str, cost: str) -> None:
    (change,) = uplifted([line()], Uplift(Decimal("0.043"), Decimal(step)), on=TODAY)
    assert change.line.cost_gbp == Decimal(cost)
    assert change.line.priced_on == TODAY


def test_uplift_rounds_half_up() -> None:
    # 0.50 × 1.05 = 0.525, half way between 0.52 and 0.53.
    (change,) = uplifted([line(cost_gbp="0.50")], Uplift(Decimal("0.05"), Decimal("0.01")), on=TODAY)
    assert change.line.cost_gbp == Decimal("0.53")


def test_uplift_takes_a_supplier_or_a_class_and_leaves_credits() -> None:
    lines = [line("A-1"), line("B-1", supplier="Oxmere"), line("C-1", margin_class="RADS"), line("D-1", cost_gbp="-5")]

    def skus(**where: str) -> list[str]:
        return [one.line.sku for one in uplifted(lines, Uplift(Decimal("0.1"), Decimal("0.01"), **where), on=TODAY)]

    assert skus(supplier="Oxmere") == ["B-1"]
    assert skus(margin_class="RADS") == ["C-1"]
    assert skus() == ["A-1", "B-1", "C-1"]


def test_uplift_never_rounds_a_price_to_nothing() -> None:
    # 0.0312 × 1.10 = 0.03432, kept at four places: 0.0343.
    (change,) = uplifted([line(cost_gbp="0.0312")], Uplift(Decimal("0.1"), Decimal("0.10")), on=TODAY)
    assert change.line.cost_gbp == Decimal("0.0343")


def test_stale_lines_count_from_the_last_confirmation() -> None:
    lines = [line("OLD-1"), line("NEW-1", priced_on="2026-02-20"), line("MID-1", priced_on="2025-11-01")]
    found = stale_lines(lines, on=TODAY, list_from=date(2026, 1, 1), days=60)
    # 1 January to 2 March 2026 is 31 + 28 + 1 = 60 days, which is not more than 60; from 1 November it is 121.
    assert [one.sku for one in found] == ["MID-1"]
