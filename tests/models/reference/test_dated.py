"""Dated values: which holds when, and broken series refused in words that say where."""

import json
from datetime import date

import pytest

from models.reference import dated
from models.reference.dated import NotYetInForce, read_dated
from models.reference.load import BrokenTable

SOURCE = {"document": "an order", "standing": "published"}


def value(from_, number, **more):
    return {"from": from_, "value": number, "source": SOURCE, **more}


@pytest.fixture
def read(monkeypatch):
    def series(*values, name="rate"):
        monkeypatch.setattr(dated, "read_json", lambda file: {name: {"unit": "ratio", "values": list(values)}})
        return read_dated("rates.json")[name]

    return series


def test_the_value_of_a_day(read):
    rate = read(value("2020-01-01", 0.05, to="2020-12-31"), value("2021-01-01", 0.2))
    assert rate.at(date(2020, 1, 1)).value == rate.at(date(2020, 12, 31)).value == 0.05
    assert rate.at(date(2021, 1, 1)).value == rate.at(date(2099, 1, 1)).value == 0.2


def test_before_the_first_date_it_names_value_and_date(read):
    rate = read(value("2020-01-01", 0.05))
    with pytest.raises(NotYetInForce, match="no value on 31 December 2019; its first is from 01 January 2020"):
        rate.at(date(2019, 12, 31))


def test_a_gap_is_not_filled(read):
    rate = read(value("2020-01-01", 0.05, to="2020-06-30"), value("2021-01-01", 0.2))
    with pytest.raises(NotYetInForce, match="rate has no value on 01 October 2020"):
        rate.at(date(2020, 10, 1))


def test_after_its_review_date_it_works_and_says_so(read):
    of = read(value("2020-01-01", 0.05, review_by="2024-01-01")).at(date(2025, 1, 1))
    assert of.value == 0.05
    assert of.review_finding(date(2024, 1, 1)) is None
    finding = of.review_finding(date(2024, 1, 2))
    assert (finding.code, finding.strength, finding.where) == ("reference_value_due_for_review", "note", "rate")
    assert "01 January 2024" in finding.message


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ([], "rates.json: rate: has no values"),
        ([{"from": "2020-01-01", "value": 1}], "rates.json: rate: KeyError.'source'."),
        ([{"from": "2020-01-01", "source": SOURCE}], "rates.json: rate: KeyError.'value'."),
        ([value("1 May 2020", 1)], "rates.json: rate: ValueError.*1 May 2020"),
        ([value("2020-01-01", 1, to="2020-13-01")], "rates.json: rate: ValueError.*month"),
        ([value("2020-01-01", 1), value("2021-01-01", 2)], "2021-01-01 begins before the one before it ends"),
        (
            [value("2020-01-01", 1, to="2021-01-01"), value("2021-01-01", 2)],
            "2021-01-01 begins before the one before it ends",
        ),
    ],
)
def test_a_broken_series_is_refused(read, values, words):
    with pytest.raises(BrokenTable, match=words):
        read(*values)


def test_every_shipped_series_reads():
    for file in ("planning.json", "noise.json"):
        for name, series in read_dated(file).items():
            for record in series.values:
                assert record.source.document, (file, name)
                json.dumps(record.value)
