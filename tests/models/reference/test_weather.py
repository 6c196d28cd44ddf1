"""Rain days: what was read stands as read, what was not stands between its neighbours and says so."""

import csv
from pathlib import Path

import pytest

from models.reference import weather
from models.reference.load import BrokenTable
from models.reference.weather import load_rain, rain_of, rain_of_nation

SHIPPED = Path(weather.__file__).parent / "data" / weather.RAIN_FILE


def test_every_cell_that_was_read_stands_as_read() -> None:
    with SHIPPED.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == len(load_rain())
    for row in rows:
        region = load_rain()[row["region"]]
        for month, heading in enumerate(weather._MONTHS, 1):
            if row[heading]:
                assert region.rain_days[month - 1] == float(row[heading])
                assert month not in region.between
            else:
                assert month in region.between


def test_what_was_not_read_stands_between_its_neighbours_round_the_year() -> None:
    england = rain_of_nation("england")
    # read: January 13.4, March 12, November 12.6; (13.4 + 12) / 2 and (12.6 + 13.4) / 2
    assert england.rain_days[1] == pytest.approx(12.7)
    assert england.rain_days[11] == pytest.approx(13.0)
    # Midlands: October 11.6, November and December not read, January 13.1: a third and two thirds of 1.5 up
    midlands = load_rain()["Midlands"]
    assert midlands.rain_days[10:] == pytest.approx((12.1, 12.6))
    assert "not read" in england.said(2) and "not read" not in england.said(1)


def test_the_chance_of_a_day() -> None:
    # 18.7 rain days in the 31 of a Scottish January
    assert rain_of_nation("scotland").chance_ratio(1) == pytest.approx(18.7 / 31)
    for region in load_rain().values():
        assert all(0.2 < region.chance_ratio(month) < 0.7 for month in range(1, 13))


def test_every_nation_has_a_row() -> None:
    for nation in ("england", "wales", "scotland", "northern_ireland"):
        assert rain_of_nation(nation).name.lower().replace(" ", "_") == nation


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([{"region": "A", "Jan": "5", "Mar": "40"}], "it must lie in 0 to 31"),
        ([{"region": "A", "Jan": "wet", "Mar": "4"}], "is not a number"),
        ([{"region": "A", "Jan": "5"}], "fewer than two months"),
        ([{"region": "A", "Jan": "5", "Mar": "4"}, {"region": "A", "Jan": "5", "Mar": "4"}], "named once"),
    ],
)
def test_a_broken_table_is_refused(monkeypatch: pytest.MonkeyPatch, rows: list[dict[str, str]], words: str) -> None:
    full = [dict.fromkeys(weather._MONTHS, "") | row for row in rows]
    monkeypatch.setattr(weather, "read_rows", lambda name: full)
    with pytest.raises(BrokenTable, match=words):
        load_rain.__wrapped__()


def test_a_house_in_england_has_its_region_and_others_their_nation() -> None:
    assert rain_of("england", 12).name == "East Anglia"
    assert rain_of("england", 6).name == "Midlands"
    assert rain_of("england", 0).name == "England"
    # the same climate region lies on both sides of a border
    assert rain_of("wales", 5).name == "Wales" and rain_of("england", 5).name == "England SW and Wales S"
    assert rain_of("scotland", 8).name == "Scotland" and rain_of("england", 8).name == "England N"
