"""The reader of the reference tables: all that ships reads, and broken tables are refused in the right words."""

import json
from importlib import import_module

import pytest

from models.reference.load import BrokenTable, load, number, read_json, rows_of

# The package hands out the function of the same name, so the module is fetched by its full name.
module = import_module("models.reference.load")


def test_it_is_read_once():
    assert load() is load()


def test_a_row_with_a_cell_too_few_or_too_many():
    with pytest.raises(BrokenTable, match=r"tubes.csv, row 3: as many cells as headings are needed"):
        rows_of("tubes.csv", "od_mm,wall_mm\n15,0.7\n22\n")
    with pytest.raises(BrokenTable, match=r"tubes.csv, row 2: as many cells as headings are needed"):
        rows_of("tubes.csv", "od_mm,wall_mm\n15,0.7,1\n")


def test_a_table_without_rows():
    with pytest.raises(BrokenTable, match=r"tubes.csv: has no rows"):
        rows_of("tubes.csv", "od_mm,wall_mm\n")


def test_rows_by_heading():
    assert rows_of("tubes.csv", "od_mm,wall_mm\n15,0.7\n") == [{"od_mm": "15", "wall_mm": "0.7"}]


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        ("thick", "tubes.csv, row 2: wall_mm is not a number: 'thick'"),
        ("", "tubes.csv, row 2: wall_mm is not a number: ''"),
        ("7", "tubes.csv, row 2: wall_mm is 7, it must lie in 0.4 to 3"),
        ("nan", "tubes.csv, row 2: wall_mm is nan, it must lie in 0.4 to 3"),
    ],
)
def test_a_number_outside_its_range(cell, words):
    with pytest.raises(BrokenTable, match=words):
        number("tubes.csv", 2, {"wall_mm": cell}, "wall_mm", 0.4, 3)


def test_a_missing_column():
    with pytest.raises(BrokenTable, match=r"tubes.csv, row 2: bore_mm is not a number: None"):
        number("tubes.csv", 2, {"wall_mm": "0.7"}, "bore_mm", 0.4, 3)


@pytest.fixture
def text(monkeypatch):
    """Puts a text in the place of one file of the data folder."""
    shipped = module._text

    def put(file, words):
        monkeypatch.setattr(module, "_text", lambda name: words if name == file else shipped(name))

    return put


def test_json_that_cannot_be_read(text):
    text("heat_loss.json", '{"a": }')
    with pytest.raises(BrokenTable, match=r"heat_loss.json: .*line 1 column 7"):
        read_json("heat_loss.json")


def test_a_broken_tube_table_stops_the_whole_load(text):
    text("copper_tubes.csv", "od_mm,wall_mm\n15,7\n")
    with pytest.raises(BrokenTable, match=r"copper_tubes.csv, row 2: wall_mm is 7"):
        load.__wrapped__()


def test_a_wall_kind_with_a_band_too_few(text):
    table = read_json("wall_u_values.json")
    kind = next(iter(table["wall_u_w_per_m2k"]))
    table["wall_u_w_per_m2k"][kind].pop()
    text("wall_u_values.json", json.dumps(table))
    with pytest.raises(BrokenTable, match=f"wall_u_values.json: {kind} needs .* values"):
        load.__wrapped__()


def test_every_room_default_and_station_has_a_source():
    reference = load()
    assert all(room.source.document for room in reference.rooms.values())
    assert all(station.source.document for station in reference.stations.values())


@pytest.mark.parametrize(
    ("part", "change", "words"),
    [
        ("ventilation", {"facade_factor": {"one_facade": 12}}, "facade_factor: needs just more_facades, one_facade"),
        ("ventilation", {"class_by_age_band": {"A": "V"}}, "class_by_age_band: A has no class 'V'"),
        ("simplified", {"house_air_change_per_h": []}, "the last row, and only it, has no year"),
        ("usual", {"w_per_m2_by_age_band": {"A": [90, 60]}}, "band A: from 90 to 60 W/m2 is no range"),
    ],
)
def test_broken_values_of_the_methods_of_heat_loss(text, part, change, words):
    table = read_json("heat_loss.json")
    table[part] |= change
    text("heat_loss.json", json.dumps(table))
    with pytest.raises(BrokenTable, match=words):
        load.__wrapped__()


def test_a_stone_range_upside_down(text):
    table = read_json("wall_u_values.json")
    table["stone_range"]["from_mm"] = 1200
    text("wall_u_values.json", json.dumps(table))
    with pytest.raises(BrokenTable, match="stone_range needs from_mm below to_mm"):
        load.__wrapped__()
