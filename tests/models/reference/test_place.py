"""The tables about the place of a unit: what ships, and broken files refused in words that say where."""

import copy
from datetime import date

import pytest

from models.reference import dated, place
from models.reference.load import BrokenTable, read_json
from models.reference.place import NATIONS, load_place

FILES = ("planning.json", "noise.json", "network.json", "grounds.json", "refrigerants.json", "diversity.json")


@pytest.fixture
def broken(monkeypatch):
    """Loads the shipped files with one place in one of them changed; a path of keys, or a key to take away."""

    def load_with(file, *path, to=None, without=False):
        tables = {name: copy.deepcopy(read_json(name)) for name in FILES}
        *keys, last = path
        record = tables[file]
        for key in keys:
            record = record[key]
        if without:
            del record[last]
        else:
            record[last] = to
        for module in (dated, place):
            monkeypatch.setattr(module, "read_json", tables.__getitem__)
        return load_place.__wrapped__()

    return load_with


def test_it_is_read_once():
    assert load_place() is load_place()


@pytest.mark.parametrize("nation", NATIONS)
def test_every_nation_has_a_rule_and_a_limit_today(nation):
    on = date(2026, 11, 25)
    rule, record = load_place().planning_at(nation, on)
    limit, _ = load_place().noise_limit_at(nation, on)
    assert record.source.document
    assert (limit.limit_dba is None) == (nation in ("scotland", "northern_ireland"))
    assert rule.confirmed is (nation in ("england", "northern_ireland"))


def test_barrier_steps_are_not_confirmed():
    steps, record = load_place().barrier_at(date(2026, 11, 25))
    assert steps.by_view_db == {"in_sight": 0, "partly_hidden": -5, "hidden": -10}
    assert not steps.confirmed and record.source.standing == "from memory"


PLANNING = ("planning.json", "england", "values", 1, "value")
NOISE = ("noise.json", "limit_england", "values", 0, "value")
BARRIER = ("noise.json", "barrier", "values", 1, "value")


@pytest.mark.parametrize(
    ("path", "to", "words"),
    [
        ((*PLANNING, "boundary_m"), None, "planning.json: england from 2025-05-29: boundary_m is None; say a number"),
        ((*PLANNING, "boundary_m"), "perhaps", "boundary_m is 'perhaps'; say a number, none or not_known"),
        ((*PLANNING, "max_volume_house_m3"), 150, "max_volume_house_m3 is 150, it must lie in 0.1 to 10"),
        ((*PLANNING, "facing_highway"), "maybe", "facing_highway is permitted, ground_storey or not_permitted"),
        ((*PLANNING, "confirmed"), "yes", "confirmed is 'yes', it must be true or false"),
        ((*PLANNING, "colour"), "grey", "england from 2025-05-29: does not know colour"),
        ((*PLANNING[:-1], "value"), 3, "england from 2025-05-29: is 3, it must be a table"),
        ((*PLANNING[:-1], "source", "standing"), "hearsay", "standing is 'hearsay', it must be one of published"),
        ((*NOISE, "limit_dba"), 3, "limit_england from 2015-04-15: limit_dba is 3, it must lie in 20 to 80"),
        ((*NOISE, "background_dba"), 42, "the background of 42 dB.A. leaves nothing below the limit"),
        ((*BARRIER, "hidden"), 10, "barrier from 2025-05-29: hidden is 10, it must lie in -40 to 0"),
        ((*BARRIER, "hidden"), -1, "the more is hidden, the less may be heard"),
        (("network.json", "voltage_drop_limit_ratio"), 5, "voltage_drop_limit_ratio is 5, it must lie in 0.01 to 0.1"),
        (("network.json", "apply_above_a"), "sixty", "apply_above_a is not a number: 'sixty'"),
        (("network.json", "apply_above_a"), True, "apply_above_a is not a number: True"),
        (("network.json", "source", "standing"), "hearsay", "network.json: supply: standing is 'hearsay'"),
        (("network.json", "source"), {}, "network.json: supply: has no source"),
        (("grounds.json", "slab", "thickness_mm", "clay"), 15, "slab: thickness_mm: clay is 15, it must lie in 100 to"),
        (("grounds.json", "soakaway", "side_steps_mm"), [400, 300], "side_steps_mm must rise from 200 mm"),
        (("grounds.json", "soakaway", "void_ratio"), 35, "void_ratio is 35, it must lie in 0.2 to 0.5"),
        (("grounds.json", "handling", "people"), 0, "handling: people is 0, it must lie in 1 to 6"),
        (("grounds.json", "wall_mount", "heaviest_kg"), 5, "wall_mount: heaviest_kg is 5, it must lie in 10 to 500"),
        (("diversity.json", "household", "cooker", "rest_ratio"), 30, "cooker: rest_ratio is 30, it must lie in 0"),
        (("diversity.json", "household", "cooker", "by"), "hearsay", "cooker: by is 'hearsay', it must be one of"),
        (("diversity.json", "household", "sauna"), {}, "diversity.json: household: does not know sauna"),
        (("diversity.json", "in_every_house"), ["hearth"], "in_every_house: does not know hearth"),
        (("diversity.json", "sources", "table"), {}, "diversity.json: sources: has no source"),
        (("refrigerants.json", "classes", "R290"), "B9", "refrigerants.json: R290: 'B9' is not a safety class"),
    ],
)
def test_a_broken_file_is_refused(broken, path, to, words):
    with pytest.raises(BrokenTable, match=words):
        broken(*path, to=to)


@pytest.mark.parametrize(
    ("path", "words"),
    [
        (("planning.json", "wales"), "planning.json: wales is missing"),
        (("noise.json", "limit_scotland"), "noise.json: limit_scotland is missing"),
        (("noise.json", "barrier"), "noise.json: barrier is missing"),
        ((*PLANNING, "max_units_other"), "england from 2025-05-29: lacks max_units_other"),
        (("grounds.json", "soakaway"), "grounds.json: soakaway is missing"),
        (("grounds.json", "slab", "thickness_mm", "unknown"), "slab: thickness_mm: lacks unknown"),
    ],
)
def test_a_missing_part_is_named(broken, path, words):
    with pytest.raises(BrokenTable, match=words):
        broken(*path, without=True)


def test_which_refrigerants_burn():
    # ISO 817 safety classes, from memory: A3 propane, A2L the mildly flammable, A1 the others
    burns = load_place().refrigerants.burns
    assert [burns(name) for name in ("R290", "R32", "R410A", "R9999")] == [True, True, False, None]
