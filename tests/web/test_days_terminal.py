"""The days in a terminal: the customer's sentence always, papers and what-ifs where they are asked for."""

import json
from pathlib import Path

import pytest

import seed_data
from web.command import main

HOUSEHOLD = str(Path(seed_data.__file__).parent / "households" / "weir_cottages.json")


@pytest.mark.parametrize("columns", ["48", "100"])
def test_sheets_and_what_ifs_fit_the_width(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, columns: str
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    assert main(["quote", "--days", "--what-if", HOUSEHOLD]) == 0
    said = capsys.readouterr().out
    assert max(map(len, said.splitlines())) <= int(columns)
    order = ["Day plan", "What if", "Delivery checks", "Sheet of day 1", "To bring for day 1", "Bill of materials"]
    places = [said.index(f"\n{heading}") for heading in order]
    assert places == sorted(places)
    assert "The electrician comes on day" in said and "Electricity" in said


def test_the_customers_sentence_is_always_there(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    assert main(["quote", HOUSEHOLD]) == 0
    said = capsys.readouterr().out
    assert "During the works these are off: the heating from day 1 at" in " ".join(said.split())
    assert "What if" not in said and "Sheet of day" not in said


def test_json_holds_what_was_asked_for(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["quote", "--json", "--days", HOUSEHOLD]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["days"]["sheets"] and "what_if" not in document
